//! Job settings: what one plan wants, from the job file and the command line.

use std::collections::BTreeMap;

use schemars::JsonSchema;
use serde::{Deserialize, Serialize};

use super::{
    CatalogError, Circumstances, Layer, Measurements, OnHand, OutputLayers, OwnLayers, Paper, RailSystem, RuleSet,
    ShopJob, ShopSettings, StairJob, StairsJob, layer_names,
};
use crate::base::{Length, Mark, Measure, Unit};

/// How balusters are divided.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize, JsonSchema)]
#[serde(rename_all = "kebab-case")]
pub enum BalusterStyle {
    /// Fixed on-centre spacing, both end gaps equal.
    Centred,
    /// All gaps equal.
    Even,
    /// The rail comes with holes at a pitch; both ends are cut equally.
    Punched,
}

impl BalusterStyle {
    /// Its word in files and options.
    pub const fn text(self) -> &'static str {
        match self {
            Self::Centred => "centred",
            Self::Even => "even",
            Self::Punched => "punched",
        }
    }
}

/// How a stretch between fixed posts is divided.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize, JsonSchema)]
#[serde(rename_all = "kebab-case")]
pub enum Bays {
    /// Equal spans in a stretch.
    Equal,
    /// Full kits, the remainder last.
    Stock,
    /// The cheapest kits for the stretch; equal spans on a tie.
    Cost,
}

/// How many posts stand at a corner.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize, JsonSchema)]
#[serde(rename_all = "kebab-case")]
pub enum CornerPosts {
    /// One, in the corner of the rail line.
    One,
    /// Two, held back from the corner on both rails.
    Two,
}

/// On which side of an open edge the deck lies, seen along the drawn direction.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize, JsonSchema)]
#[serde(rename_all = "kebab-case")]
pub enum Inside {
    /// To the left.
    Left,
    /// To the right.
    Right,
}

/// What ends of open edges are that end at nothing.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize, JsonSchema)]
#[serde(rename_all = "kebab-case")]
pub enum FreeEnds {
    /// The deck goes on there and needs no guard, or something else closes it.
    Free,
}

/// Layer name patterns by role: `*` and `?`, without regard to case.
#[derive(Debug, Clone, PartialEq, Default, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields, rename_all = "kebab-case", default)]
pub struct LayerPatterns {
    /// Deck edges.
    pub edge: Vec<String>,
    /// House walls.
    pub wall: Vec<String>,
    /// Openings that stay free.
    pub opening: Vec<String>,
    /// Posts that stand or are wanted.
    pub post: Vec<String>,
    /// Stairs.
    pub stair: Vec<String>,
    /// Zones in which no line post may stand.
    pub keep_out: Vec<String>,
    /// Joists, whose centres line posts prefer.
    pub joist: Vec<String>,
    /// Layers that hold things of several roles: which things count, and for what.
    #[serde(rename = "pick", skip_serializing_if = "Vec::is_empty")]
    pub picks: Vec<LayerPick>,
}

/// What counts on a layer that holds things of several roles, each named by a point on it, in drawing units. Nothing else
/// on that layer counts. A post or an opening in a block stands for all of the block.
#[derive(Debug, Clone, PartialEq, Default, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields, rename_all = "kebab-case", default)]
pub struct LayerPick {
    /// The layer's name, no pattern.
    pub layer: String,
    /// Deck edges.
    pub edge: Vec<[f64; 2]>,
    /// House walls.
    pub wall: Vec<[f64; 2]>,
    /// Openings that stay free.
    pub opening: Vec<[f64; 2]>,
    /// Posts that stand or are wanted.
    pub post: Vec<[f64; 2]>,
    /// Stairs.
    pub stair: Vec<[f64; 2]>,
    /// Zones in which no line post may stand.
    pub keep_out: Vec<[f64; 2]>,
    /// Joists, whose centres line posts prefer.
    pub joist: Vec<[f64; 2]>,
}

/// Title block facts; all optional, none is guessed.
#[derive(Debug, Clone, PartialEq, Default, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields, rename_all = "kebab-case", default)]
pub struct Project {
    /// Project name.
    pub name: Option<String>,
    /// Address.
    pub address: Option<String>,
    /// Client.
    pub client: Option<String>,
    /// Who drew it.
    pub drawn_by: Option<String>,
    /// Who checked it.
    pub checked_by: Option<String>,
    /// Date as it shall stand in the title block.
    pub date: Option<String>,
    /// Where north lies on the plan: degrees clockwise from the drawing's y axis. Without it no arrow is drawn.
    pub north: Option<f64>,
    /// Issues and revisions of the sheets, the first one first.
    #[serde(rename = "revision", skip_serializing_if = "Vec::is_empty")]
    pub revisions: Vec<Revision>,
}

/// A line of the revision table.
#[derive(Debug, Clone, PartialEq, Eq, Default, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields, rename_all = "kebab-case")]
pub struct Revision {
    /// Its mark: `A`, `1`.
    pub mark: String,
    /// Date as it shall stand there.
    #[serde(default)]
    pub date: Option<String>,
    /// What changed.
    pub text: String,
}

/// The job file: each key optional, the command line wins over it.
#[derive(Debug, Clone, PartialEq, Default, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields, rename_all = "kebab-case", default)]
pub struct Job {
    /// Rail system: a built-in name or a TOML file beside the job file.
    pub system: Option<String>,
    /// Rule set: a built-in name or a TOML file beside the job file.
    pub rules: Option<String>,
    /// The case that the rule set's limits are taken for.
    pub rule_case: Option<Circumstances>,
    /// Unit of a unitless drawing: in, ft, mm, cm or m.
    pub units: Option<String>,
    /// Distance from the deck edge to the rail line.
    pub inset: Option<Length>,
    /// Bay policy.
    pub bays: Option<Bays>,
    /// With bays by cost: the shortest bay of a stretch in percent of its longest, at least; 50 by default.
    pub least_bay_percent: Option<u32>,
    /// Posts at a corner.
    pub corner_posts: Option<CornerPosts>,
    /// With two posts: from the corner of the rail line to each post's centre.
    pub corner_setback: Option<Length>,
    /// How far the middle of a straight panel may lie from a curved rail line.
    pub max_sagitta: Option<Length>,
    /// Whether a stretch is divided alike from both ends.
    pub symmetric: Option<bool>,
    /// Baluster division; the system's own by default.
    pub balusters: Option<BalusterStyle>,
    /// Shop marks.
    pub mark: Option<Length>,
    /// Longest clear span, if shorter than the system's.
    pub longest_panel: Option<Length>,
    /// Largest gap between edge ends that still are one corner.
    pub join: Option<Length>,
    /// How near a drawn post must stand to take the place of a planned one.
    pub snap: Option<Length>,
    /// How near an edge must run along a wall, an opening or a stair to belong to it.
    pub touch: Option<Length>,
    /// By how much a finished gap may be off its marks.
    pub tolerance: Option<Length>,
    /// Side of the deck along open edges.
    pub inside: Option<Inside>,
    /// What ends of open edges are that end at no other line, wall or post; what is not stated is told as missing.
    pub ends: Option<FreeEnds>,
    /// What holds for all stairs.
    pub stairs: Option<StairsJob>,
    /// Single flights.
    #[serde(rename = "stair", skip_serializing_if = "Vec::is_empty")]
    pub flights: Vec<StairJob>,
    /// How the shop cuts and keeps.
    pub shop: Option<ShopJob>,
    /// Finish, one of the system's.
    pub finish: Option<String>,
    /// Layer patterns by role.
    pub layers: Option<LayerPatterns>,
    /// What stands in place of `RAIL` in the names of the layers that are written.
    pub layer_prefix: Option<String>,
    /// Names of the layers that are written.
    pub output_layers: Option<OutputLayers>,
    /// Paper of the sheets: letter, ansi-b, arch-c, arch-d, a4, a3, a2 or a1.
    pub sheet: Option<Paper>,
    /// Title block.
    pub project: Option<Project>,
}

/// Everything that a layout is computed with, checked and without gaps.
#[derive(Debug, Clone, PartialEq)]
pub struct Settings {
    /// Rail system.
    pub system: RailSystem,
    /// Rule set.
    pub rules: RuleSet,
    /// Unit of a unitless drawing.
    pub units: Option<Unit>,
    /// Distance from the deck edge to the rail line.
    pub inset: Length,
    /// Bay policy.
    pub bays: Bays,
    /// With bays by cost: the shortest bay of a stretch in percent of its longest, at least.
    pub least_bay_percent: u32,
    /// Posts at a corner.
    pub corner_posts: CornerPosts,
    /// With two posts: from the corner of the rail line to each post's centre.
    pub corner_setback: Length,
    /// How far the middle of a straight panel may lie from a curved rail line.
    pub max_sagitta: Length,
    /// Whether a stretch is divided alike from both ends.
    pub symmetric: bool,
    /// Baluster division.
    pub balusters: BalusterStyle,
    /// Shop marks, if the job sets them; else they follow the drawing's units.
    pub mark: Option<Mark>,
    /// Longest clear span.
    pub longest_panel: Length,
    /// Largest gap between edge ends that still are one corner.
    pub join: Length,
    /// How near a drawn post must stand to take the place of a planned one.
    pub snap: Length,
    /// How near an edge must run along a wall, an opening or a stair to belong to it.
    pub touch: Length,
    /// By how much a finished gap may be off its marks.
    pub tolerance: Length,
    /// Side of the deck along open edges.
    pub inside: Option<Inside>,
    /// What ends of open edges are that end at no other line, wall or post; what is not stated is told as missing.
    pub ends: Option<FreeEnds>,
    /// What holds for all stairs.
    pub stairs: StairsJob,
    /// What the job says of single flights.
    pub flights: Vec<StairJob>,
    /// How the shop cuts and keeps.
    pub shop: ShopSettings,
    /// Pieces that lie in the shop; they are used first.
    pub on_hand: Vec<OnHand>,
    /// Finish, where the system has any: the job's, or the first.
    pub finish: Option<String>,
    /// Layer patterns by role; an empty list means the default patterns.
    pub layers: LayerPatterns,
    /// What stands in place of `RAIL` in the names of the layers that are written.
    pub layer_prefix: Option<String>,
    /// Names of the layers that are written.
    pub output_layers: OutputLayers,
    /// Paper of the sheets, if the job sets it; else it follows the drawing's units.
    pub sheet: Option<Paper>,
    /// Title block.
    pub project: Project,
    /// Openings measured on site, by span id; they replace the plan's.
    pub measured: Measurements,
}

/// Edge ends this near are one corner: 1/16 in.
const JOIN: Length = Length::from_nanometres(1_587_500);
/// A drawn post this near takes a planned post's place: 6 in, somewhat more than a post.
const SNAP: Length = Length::from_nanometres(152_400_000);
/// Walls, openings and stairs are drawn within 2 in of the edge that they belong to.
const TOUCH: Length = Length::from_nanometres(50_800_000);
/// A straight panel may leave a curved rail line by 3 in: the strip of deck outside of the guard then stays narrower than
/// a foot is long, and the line still reads as a curve. On a curve that bends inward the planner takes less where the
/// rail would overhang the deck's edge.
const MAX_SAGITTA: Length = Length::from_nanometres(76_200_000);
/// A careful shop holds a gap within 1/32 in (common practice).
const TOLERANCE: Length = Length::from_nanometres(793_750);

fn unit(sign: Option<&str>) -> Result<Option<Unit>, CatalogError> {
    let Some(sign) = sign else { return Ok(None) };
    Unit::from_sign(sign)
        .map(Some)
        .ok_or_else(|| CatalogError::new(format!("units: there is no unit `{sign}`")).hint("write in, ft, mm, cm or m"))
}

/// The job's finish, which must be one of the system's; the system's first otherwise.
fn finish(wanted: Option<String>, system: &RailSystem) -> Result<Option<String>, CatalogError> {
    match wanted {
        Some(finish) if !system.finishes.contains(&finish) => {
            let all = if system.finishes.is_empty() { "none".to_owned() } else { system.finishes.join(", ") };
            Err(CatalogError::new(format!("finish: {} has no finish `{finish}`", system.name))
                .hint(format!("finishes of the system: {all}")))
        }
        Some(finish) => Ok(Some(finish)),
        None => Ok(system.finishes.first().cloned()),
    }
}

/// How balusters are divided. Another infill has none, so a job may say nothing of them.
fn balusters(wanted: Option<BalusterStyle>, system: &RailSystem) -> Result<BalusterStyle, CatalogError> {
    match (wanted, &system.baluster) {
        (Some(style), None) => {
            Err(CatalogError::new(format!("balusters: {} has no balusters to divide {}", system.name, style.text()))
                .hint("leave the division of the balusters out, or take a system that has some"))
        }
        (Some(style), Some(_)) => Ok(style),
        (None, baluster) => Ok(baluster.as_ref().map_or(BalusterStyle::Even, |b| b.style)),
    }
}

fn mark(wanted: Option<Length>) -> Result<Option<Mark>, CatalogError> {
    let Some(length) = wanted else { return Ok(None) };
    let mark = Mark::new(length).ok_or_else(|| {
        CatalogError::new(format!("mark: {length} is no shop mark")).hint("write for example 1/16in or 1mm")
    });
    mark.map(Some)
}

impl Settings {
    /// Layers on which we write.
    pub fn own_layers(&self) -> OwnLayers {
        OwnLayers::new(&self.layer_names())
    }

    /// Names of the layers that are written and are not called by their own.
    pub fn layer_names(&self) -> BTreeMap<Layer, String> {
        layer_names(&self.output_layers, self.layer_prefix.as_deref())
    }

    /// Fills what the job leaves open from the rail system and the defaults.
    ///
    /// # Errors
    /// When a value makes no sense by itself: a negative length, a mark that is none, a longest panel that the system
    /// does not allow, an unknown unit.
    pub fn new(job: Job, system: RailSystem, rules: RuleSet) -> Result<Self, CatalogError> {
        let lengths = [
            ("inset", job.inset),
            ("join", job.join),
            ("snap", job.snap),
            ("touch", job.touch),
            ("tolerance", job.tolerance),
            ("corner-setback", job.corner_setback),
            ("kerf", job.shop.as_ref().and_then(|s| s.kerf)),
            ("trim", job.shop.as_ref().and_then(|s| s.trim)),
            ("least-offcut", job.shop.as_ref().and_then(|s| s.least_offcut)),
        ];
        if let Some((name, _)) = lengths.iter().find(|(_, l)| l.is_some_and(|l| l < Length::ZERO)) {
            return Err(CatalogError::new(format!("{name} is negative")));
        }
        if job.max_sagitta.is_some_and(|l| l < Length::from_nanometres(1_000_000)) {
            return Err(CatalogError::new("max-sagitta is less than 1mm").hint("write for example 3in"));
        }
        if job.project.as_ref().and_then(|p| p.north).is_some_and(|north| !north.is_finite()) {
            return Err(CatalogError::new("north is not a number of degrees").hint("write for example north = 12.5"));
        }
        let units = unit(job.units.as_deref())?;
        let mark = mark(job.mark)?;
        let longest_panel = job.longest_panel.unwrap_or(system.longest_panel);
        if longest_panel > system.longest_panel || longest_panel < system.shortest_panel {
            return Err(CatalogError::new(format!(
                "longest-panel: {longest_panel} is not between the shortest ({}) and the longest ({}) panel of {}",
                system.shortest_panel, system.longest_panel, system.name
            )));
        }
        let finish = finish(job.finish, &system)?;
        let balusters = balusters(job.balusters, &system)?;
        let output_layers = job.output_layers.unwrap_or_default();
        output_layers.check(job.layer_prefix.as_deref())?;
        Ok(Self {
            units,
            inset: job.inset.unwrap_or(system.post.inset),
            bays: job.bays.unwrap_or(Bays::Equal),
            least_bay_percent: job.least_bay_percent.unwrap_or(50).min(100),
            symmetric: job.symmetric.unwrap_or(false),
            corner_posts: job.corner_posts.unwrap_or(CornerPosts::One),
            // Two posts then stand corner to corner at a right angle.
            corner_setback: job.corner_setback.unwrap_or(system.post.side),
            max_sagitta: job.max_sagitta.unwrap_or(MAX_SAGITTA),
            balusters,
            mark,
            longest_panel,
            join: job.join.unwrap_or(JOIN),
            snap: job.snap.unwrap_or(SNAP),
            touch: job.touch.unwrap_or(TOUCH),
            tolerance: job.tolerance.unwrap_or(TOLERANCE),
            inside: job.inside,
            ends: job.ends,
            stairs: job.stairs.unwrap_or_default(),
            flights: job.flights,
            shop: job.shop.unwrap_or_default().into(),
            on_hand: Vec::new(),
            finish,
            layers: job.layers.unwrap_or_default(),
            layer_prefix: job.layer_prefix,
            output_layers,
            sheet: job.sheet,
            project: job.project.unwrap_or_default(),
            measured: Measurements::new(),
            system,
            rules,
        })
    }

    /// How lengths are shown for a drawing in `unit`: inches and sixteenths, or millimetres.
    pub fn measure(&self, unit: Unit) -> Measure {
        if unit.is_imperial() {
            Measure { unit: Unit::Inch, mark: self.mark.unwrap_or(Mark::SIXTEENTH) }
        } else {
            Measure { unit: Unit::Millimetre, mark: self.mark.unwrap_or(Mark::MILLIMETRE) }
        }
    }

    /// The sphere that must not pass; without a limit in the rule set the usual 4 in.
    pub fn opening(&self) -> Length {
        self.rules.limit(super::LimitKind::Opening).map_or(Length::INCH * 4, |l| l.value)
    }
}
