//! `layout.json`: the layout as numbers in the job's unit, both ways.
//!
//! Lengths are numbers in `units` with nine decimals, angles are degrees, `x` and `y` are in drawing units. What is
//! written reads back as the same layout to the nanometre, so that a layout can be proved again from its file.

use schemars::JsonSchema;
use serde::{Deserialize, Serialize};

use crate::catalog::{Circumstances, Paper, Project};

use super::checks::CheckRecord;
use super::infill::{CablesRecord, FramesRecord};
use super::site::SiteRecord;
use super::stairs::{FlightRecord, HandrailRecord, RakeRecord};
use super::supply::{CuttingRecord, OnHandRecord, OrderRecord, ShopRecord, StickRecord};

/// The file's `format` entry.
pub const FORMAT: &str = "plumbrail-layout";

/// The file's `version` entry.
pub const VERSION: u32 = 2;

/// The whole file.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
#[schemars(title = "plumbrail layout")]
pub struct Record {
    /// Always `plumbrail-layout`.
    pub format: String,
    /// Version of this format.
    pub version: u32,
    /// Unit of all lengths: `in` or `mm`.
    pub units: String,
    /// Width of a shop mark.
    pub mark: f64,
    /// By how much a finished gap may be off its marks.
    pub tolerance: f64,
    /// The user's plan.
    pub plan: PlanRecord,
    /// Name of the rail system.
    pub system: String,
    /// Name of the rule set.
    pub rules: String,
    /// What the job states of the case that its limits are taken for; its lengths are texts with their unit, as in the job.
    #[serde(skip_serializing_if = "Option::is_none", default)]
    pub rule_case: Option<Circumstances>,
    /// Whether all that was drawn is laid out; if not, the findings of severity `incomplete` say what is missing and where.
    pub complete: bool,
    /// Whether every limit holds that was checked; if not, the findings of severity `error` say what is wrong.
    pub limits_hold: bool,
    /// The same in a sentence, with how many limits were not checked.
    pub headline: String,
    /// Title block.
    #[serde(skip_serializing_if = "Option::is_none", default)]
    pub project: Option<Project>,
    /// Paper of the sheets, where the job sets it.
    #[serde(skip_serializing_if = "Option::is_none", default)]
    pub sheet: Option<Paper>,
    /// Distance from the deck edge to the rail line.
    pub inset: f64,
    /// What stands around the rails on the plan; none without a plan.
    #[serde(skip_serializing_if = "Option::is_none", default)]
    pub site: Option<SiteRecord>,
    /// Chains of rail lines without an opening.
    pub runs: Vec<RunRecord>,
    /// Posts.
    pub posts: Vec<PostRecord>,
    /// Panels.
    pub panels: Vec<PanelRecord>,
    /// Spans that stay open by the user's wish.
    #[serde(skip_serializing_if = "Vec::is_empty", default)]
    pub open: Vec<OpenRecord>,
    /// Places where the user erased a line post and none was set again.
    #[serde(skip_serializing_if = "Vec::is_empty", default)]
    pub erased: Vec<ErasedRecord>,
    /// Flights of stairs.
    #[serde(skip_serializing_if = "Vec::is_empty", default)]
    pub flights: Vec<FlightRecord>,
    /// Handrails.
    #[serde(skip_serializing_if = "Vec::is_empty", default)]
    pub handrails: Vec<HandrailRecord>,
    /// How the shop cuts and keeps.
    pub shop: ShopRecord,
    /// Pieces that lay in the shop before.
    #[serde(skip_serializing_if = "Vec::is_empty", default)]
    pub on_hand: Vec<OnHandRecord>,
    /// Finish, where the system has any.
    #[serde(skip_serializing_if = "Option::is_none", default)]
    pub finish: Option<String>,
    /// How everything is cut: one entry a stick.
    #[serde(skip_serializing_if = "Vec::is_empty", default)]
    pub cut_plan: Vec<StickRecord>,
    /// What the cut plan costs, and how good it is.
    #[serde(skip_serializing_if = "Option::is_none", default)]
    pub cutting: Option<CuttingRecord>,
    /// What to buy.
    pub order: Vec<OrderRecord>,
    /// Price of the whole order, when every item has one.
    pub order_total: Option<f64>,
    /// No order for these panels costs less.
    #[serde(default)]
    pub order_lower_bound: Option<f64>,
    /// What was found.
    pub findings: Vec<FindingRecord>,
    /// Every check of the re-check, those that could not be made included; passed by when a layout is read back.
    #[serde(skip_serializing_if = "Vec::is_empty", default)]
    pub checks: Vec<CheckRecord>,
}

/// The user's plan.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct PlanRecord {
    /// File name without folders.
    pub file: String,
    /// Unit of its coordinates.
    pub drawing_units: String,
    /// SHA-256 of its bytes.
    pub sha256: String,
    /// Local origin in drawing units.
    pub origin: PointRecord,
}

/// A point in drawing units.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct PointRecord {
    /// x.
    pub x: f64,
    /// y.
    pub y: f64,
}

/// A chain of rail lines without an opening.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct RunRecord {
    /// Number from 1.
    pub number: usize,
    /// Whether it closes on itself.
    pub closed: bool,
    /// The rail line through post centres and wall faces, left to right.
    pub line: Vec<PointRecord>,
    /// Id of the flight of stairs along which it runs.
    #[serde(skip_serializing_if = "Option::is_none", default)]
    pub flight: Option<String>,
}

/// A post.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct PostRecord {
    /// `P1`, `P2` ...
    pub id: String,
    /// Why it stands there.
    pub kind: PostKindRecord,
    /// Whether the user drew it.
    pub origin: PostOriginRecord,
    /// Centre.
    pub x: f64,
    /// Centre.
    pub y: f64,
    /// Side of its square outside.
    pub side: f64,
    /// Turn of its square, degrees.
    pub rotation: f64,
    /// Its top above what it stands on.
    pub height: f64,
    /// Handle of the drawn entity, hexadecimal.
    #[serde(skip_serializing_if = "Option::is_none", default)]
    pub handle: Option<String>,
}

/// Why a post stands there.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize, JsonSchema)]
#[serde(rename_all = "kebab-case")]
pub enum PostKindRecord {
    /// At a free end.
    End,
    /// Where the rail turns.
    Corner,
    /// Between two bays.
    Line,
    /// On a stair.
    Stair,
}

/// Whether the user drew it.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize, JsonSchema)]
#[serde(rename_all = "kebab-case")]
pub enum PostOriginRecord {
    /// On the user's plan.
    Drawn,
    /// Set by the planner in an earlier run and then moved or copied by the user.
    Kept,
    /// Set by the planner.
    Planned,
}

/// Level or raked.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize, JsonSchema)]
#[serde(rename_all = "kebab-case")]
pub enum PanelKindRecord {
    /// On a level deck edge.
    Level,
    /// On a stair: `span`, clearances and gaps are level, heights plumb, all other lengths along the slope.
    Raked,
}

/// A panel.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct PanelRecord {
    /// `S1`, `S2` ...
    pub id: String,
    /// Number of its run.
    pub run: usize,
    /// Level or raked.
    pub kind: PanelKindRecord,
    /// Post id or `wall` at the left end, as seen standing on the deck looking out.
    pub from: String,
    /// Post id or `wall` at the right end.
    pub to: String,
    /// Where the rail line meets the left face.
    pub left: PointRecord,
    /// Where it meets the right face.
    pub right: PointRecord,
    /// Clear distance between the faces; as measured on site where it was.
    pub span: f64,
    /// What was measured on site.
    #[serde(skip_serializing_if = "Option::is_none", default)]
    pub measured: Option<MeasuredRecord>,
    /// Pitch, degrees; 0 is level.
    pub pitch: f64,
    /// The slope of a raked panel.
    #[serde(skip_serializing_if = "Option::is_none", default)]
    pub rake: Option<RakeRecord>,
    /// Skew at the left face, degrees; positive where the outer edge is the longer one.
    pub skew_left: f64,
    /// Skew at the right face.
    pub skew_right: f64,
    /// Rail length on the centre line.
    pub length: f64,
    /// Clearance at the left end.
    pub clearance_left: f64,
    /// Clearance at the right end.
    pub clearance_right: f64,
    /// Top above the deck, or above the nosing line.
    pub height: f64,
    /// Clear space under the lowest member.
    pub bottom_gap: f64,
    /// Members from low to high.
    pub cuts: Vec<CutRecord>,
    /// Balusters; their count is 0 where the infill is another one, and their length the clear height between the rails.
    pub balusters: BalustersRecord,
    /// Horizontal cables, where they are the infill.
    #[serde(skip_serializing_if = "Option::is_none", default)]
    pub cables: Option<CablesRecord>,
    /// Framed panels, where they are the infill.
    #[serde(skip_serializing_if = "Option::is_none", default)]
    pub frames: Option<FramesRecord>,
    /// Support blocks, running marks.
    pub blocks: Vec<f64>,
    /// Height of each, where it is known.
    #[serde(skip_serializing_if = "Vec::is_empty", default)]
    pub block_heights: Vec<f64>,
    /// Cap screws, running marks.
    pub cap_screws: Vec<f64>,
    /// Brackets.
    pub brackets: Vec<BracketRecord>,
    /// Kit that it is cut from.
    pub kit: Option<String>,
    /// Price of that kit, which other panels may share.
    pub price: Option<f64>,
}

/// A span's opening as measured on site.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct MeasuredRecord {
    /// Clear distance on the plan.
    pub planned: f64,
    /// Narrowest clear distance measured.
    pub narrow: f64,
    /// Widest clear distance measured.
    pub wide: f64,
}

/// A span that stays open by the user's wish.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct OpenRecord {
    /// `S1`, `S2` ...
    pub id: String,
    /// Where the rail line meets the left face.
    pub left: PointRecord,
    /// Where it meets the right face.
    pub right: PointRecord,
}

/// A place where the user erased a post.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct ErasedRecord {
    /// Id that the post had.
    pub id: String,
    /// Where it stood.
    pub at: PointRecord,
}

/// A member cut to length.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct CutRecord {
    /// Which member.
    pub member: crate::catalog::MemberRole,
    /// Length on the centre line.
    pub length: f64,
    /// Length of the longer edge.
    pub long_point: f64,
    /// Length of the shorter edge.
    pub short_point: f64,
    /// From tip to tip: what the stock must have.
    pub tip_to_tip: f64,
    /// How far the left tip lies outside the centre line's end.
    pub left_tip: f64,
    /// Saw angle at the left end, degrees.
    pub left: f64,
    /// Saw angle at the right end, degrees.
    pub right: f64,
    /// Angle of the plumb cut at both ends of a raked member, degrees.
    #[serde(skip_serializing_if = "is_zero", default)]
    pub plumb: f64,
}

/// The infill of a panel.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct BalustersRecord {
    /// How they were divided.
    pub style: crate::catalog::BalusterStyle,
    /// How many.
    pub count: usize,
    /// On-centre spacing before rounding to marks.
    pub spacing: f64,
    /// Length of each.
    pub length: f64,
    /// Clear space at the left end.
    pub end_gap_left: f64,
    /// Clear space at the right end.
    pub end_gap_right: f64,
    /// Widest clear space of all.
    pub widest_gap: f64,
    /// Running marks.
    pub marks: Vec<f64>,
    /// The same measured level, on a raked panel: for reading only, the marks along the slope are what counts.
    #[serde(skip_serializing_if = "Vec::is_empty", default)]
    pub level_marks: Vec<f64>,
}

/// Written only where it says something.
#[allow(clippy::trivially_copy_pass_by_ref, reason = "serde asks for a reference")]
fn is_zero(number: &f64) -> bool {
    *number == 0.0
}

/// A bracket.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct BracketRecord {
    /// Which member it holds.
    pub member: crate::catalog::MemberRole,
    /// At which end.
    pub end: EndRecord,
    /// Straight, angled or raked.
    pub kind: BracketKindRecord,
    /// Set back from the rail's end by this.
    pub setback: f64,
    /// Holes, running marks from the rail's left end.
    pub holes: Vec<f64>,
}

/// An end of a panel, as seen standing on the deck looking out.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize, JsonSchema)]
#[serde(rename_all = "kebab-case")]
pub enum EndRecord {
    /// Left.
    Left,
    /// Right.
    Right,
}

/// Kind of bracket.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize, JsonSchema)]
#[serde(rename_all = "kebab-case")]
pub enum BracketKindRecord {
    /// Square joint.
    Level,
    /// Angled joint.
    Angled,
    /// Joint on a stair.
    Raked,
}

/// A finding.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct FindingRecord {
    /// Kind; stable.
    pub code: String,
    /// Weight.
    pub severity: SeverityRecord,
    /// Whether the input was repaired on the way.
    pub repaired: bool,
    /// Where.
    pub place: PlaceRecord,
    /// What is wrong and why.
    pub message: String,
    /// What to do.
    #[serde(skip_serializing_if = "Option::is_none", default)]
    pub hint: Option<String>,
    /// The limit, where one is broken.
    #[serde(skip_serializing_if = "Option::is_none", default)]
    pub rule: Option<RuleRecord>,
    /// How many findings it stands for, where that is not one.
    #[serde(skip_serializing_if = "Option::is_none", default)]
    pub count: Option<usize>,
}

/// Weight of a finding.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize, JsonSchema)]
#[serde(rename_all = "kebab-case")]
pub enum SeverityRecord {
    /// A limit is broken.
    Error,
    /// Something that was drawn is not laid out, or only in part.
    Incomplete,
    /// Something may be wrong.
    Warning,
    /// Something to know.
    Note,
}

/// Where a finding is: whatever of it is known.
#[derive(Debug, Clone, PartialEq, Default, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields, default)]
pub struct PlaceRecord {
    /// Panel or span.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub panel: Option<String>,
    /// Post.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub post: Option<String>,
    /// In drawing units.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub x: Option<f64>,
    /// In drawing units.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub y: Option<f64>,
    /// Handle in the user's drawing, hexadecimal.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub handle: Option<String>,
    /// Line of the user's file.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub line: Option<u64>,
    /// Layer in the user's drawing.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub layer: Option<String>,
}

/// A limit against what was found, in `units`.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct RuleRecord {
    /// Rule set or rail system.
    pub set: String,
    /// Section.
    pub section: String,
    /// What it asks.
    pub limit: f64,
    /// What was found.
    pub actual: f64,
}
