//! A rail system: one manufacturer's members, hardware and limits.

use schemars::JsonSchema;
use serde::{Deserialize, Serialize};

use super::{BalusterStyle, CableSpec, FrameSpec, Pack, StockLength};
use crate::base::{Length, Pitch};

/// A rail system as its TOML file says it.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields, rename_all = "kebab-case")]
pub struct RailSystem {
    /// Short name, as `--system` takes it.
    pub name: String,
    /// One line for people.
    pub title: String,
    /// Top of the guard above the deck.
    pub height: Length,
    /// Clear space between the deck and the lowest member.
    pub bottom_gap: Length,
    /// Longest clear span of a level panel.
    pub longest_panel: Length,
    /// Shortest clear span of a panel.
    pub shortest_panel: Length,
    /// Clearance left between each rail end and the face it meets.
    pub end_clearance: Length,
    /// The post's finished outside.
    pub post: PostSpec,
    /// Members from low to high.
    #[serde(rename = "member")]
    pub members: Vec<Member>,
    /// Vertical infill. Each system has one of `baluster`, `cable` and `frame`: see [`RailSystem::infill`].
    pub baluster: Option<BalusterSpec>,
    /// Horizontal cables as infill.
    pub cable: Option<CableSpec>,
    /// Framed panels as infill.
    pub frame: Option<FrameSpec>,
    /// Feet under the lowest rail; a system may have none.
    pub blocks: Option<Blocks>,
    /// Rail-to-post connector.
    pub bracket: Bracket,
    /// Screws that hold the cap; a system without a cap has none.
    pub cap_screws: Option<CapScrews>,
    /// What differs on a stair; a system without it has no raked panels.
    pub raked: Option<Raked>,
    /// Handrail; a system may have none.
    pub handrail: Option<HandrailSpec>,
    /// Panels in a box, shortest first.
    #[serde(rename = "kit", default)]
    pub kits: Vec<Kit>,
    /// Members sold by the length.
    #[serde(rename = "stock", default)]
    pub stock: Vec<StockLength>,
    /// How small parts are sold; a part without a pack is counted one by one.
    #[serde(rename = "pack", default)]
    pub packs: Vec<Pack>,
    /// Finishes that members, balusters, posts and brackets come in.
    #[serde(default)]
    pub finishes: Vec<String>,
}

/// The post's finished outside.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields, rename_all = "kebab-case")]
pub struct PostSpec {
    /// Side of the square sleeve.
    pub side: Length,
    /// Default distance from the deck edge to the post's centre.
    pub inset: Length,
    /// How far a post stands above the highest rail that it holds.
    pub above: Length,
    /// Whether each post gets a cap.
    #[serde(default)]
    pub cap: bool,
    /// Whether each post gets a trim round its foot.
    #[serde(default)]
    pub base: bool,
}

/// What a member is.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize, Deserialize, JsonSchema)]
#[serde(rename_all = "kebab-case")]
pub enum MemberRole {
    /// Lowest member, carries the support blocks.
    SupportRail,
    /// Rail at the balusters' feet.
    BottomRail,
    /// Rail at the balusters' heads.
    TopRail,
    /// Piece on top.
    Cap,
}

impl MemberRole {
    /// Its name in lists and files.
    pub const fn text(self) -> &'static str {
        match self {
            Self::SupportRail => "support-rail",
            Self::BottomRail => "bottom-rail",
            Self::TopRail => "top-rail",
            Self::Cap => "cap",
        }
    }
}

/// One horizontal member.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields, rename_all = "kebab-case")]
pub struct Member {
    /// What it is.
    pub role: MemberRole,
    /// Height it adds to the stack.
    pub height: Length,
    /// Width across the rail line.
    pub width: Length,
    /// Holes for the balusters, if it has them.
    pub baluster_holes: Option<Fastener>,
}

/// A hole and the screw that goes in; a punched hole has no screw.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields, rename_all = "kebab-case")]
pub struct Fastener {
    /// Drill diameter.
    pub pilot: Length,
    /// Screw as ordered, for example `#9 x 2-3/4 in`.
    pub screw: Option<String>,
}

/// Cross section of a baluster.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize, JsonSchema)]
#[serde(rename_all = "kebab-case")]
pub enum Section {
    /// Round.
    Round,
    /// Square.
    Square,
}

/// Vertical infill.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields, rename_all = "kebab-case")]
pub struct BalusterSpec {
    /// Cross section.
    pub section: Section,
    /// Width along the rail.
    pub width: Length,
    /// How they are divided unless the job says otherwise.
    pub style: BalusterStyle,
    /// On-centre spacing (`centred`) or pitch of the punched holes (`punched`).
    pub spacing: Length,
}

/// Support blocks.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields, rename_all = "kebab-case")]
pub struct Blocks {
    /// Width along the rail.
    pub width: Length,
    /// Least distance between a block's screw and a baluster's screw.
    pub screw_clearance: Length,
    /// Hole and screw.
    pub fastener: Fastener,
    /// Count by rail length, shortest first.
    #[serde(rename = "count")]
    pub counts: Vec<BlockStep>,
}

/// One row of the support block table.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields, rename_all = "kebab-case")]
pub struct BlockStep {
    /// Rails up to this length ...
    pub up_to: Length,
    /// ... get this many blocks.
    pub blocks: u8,
}

/// Rail-to-post connector.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields, rename_all = "kebab-case")]
pub struct Bracket {
    /// How far back from the rail's end it is set.
    pub setback: Length,
    /// How far it reaches along the rail from the rail's end.
    pub reach: Length,
    /// Width across the rail line.
    pub width: Length,
    /// Holes into the rail.
    #[serde(rename = "hole")]
    pub holes: Vec<Hole>,
    /// Hole and screw into the rail.
    pub fastener: Fastener,
    /// Members that are held by one at each end.
    pub members: Vec<MemberRole>,
}

/// One hole of the bracket's pattern.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields, rename_all = "kebab-case")]
pub struct Hole {
    /// Along the rail from the bracket's outer end.
    pub along: Length,
    /// Across the rail from its centre line, towards the deck positive.
    pub across: Length,
}

/// Screws that hold the cap.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields, rename_all = "kebab-case")]
pub struct CapScrews {
    /// Longest distance between two, and from a rail end to the first.
    pub longest_spacing: Length,
    /// Least distance to a baluster's screw.
    pub screw_clearance: Length,
    /// Drill diameter.
    pub pilot: Length,
    /// Screw for level panels.
    pub level_screw: String,
    /// Screw for raked panels; its length may differ, since a rail is thicker on a slope, measured plumb.
    pub raked_screw: String,
}

/// What differs on a stair. Heights are plumb, from the line through the nosings.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields, rename_all = "kebab-case")]
pub struct Raked {
    /// Top of the guard above the nosing line.
    pub height: Length,
    /// Clear space between the nosing line and the lowest member, at most: it is made smaller where the rule set's
    /// sphere would pass the triangle of riser, tread and rail.
    pub bottom_gap: Length,
    /// Longest clear span of a raked panel, measured level.
    pub longest_panel: Length,
    /// Steepest slope that panels are made for, as riser over tread, for example `9in/10in`.
    pub steepest: Pitch,
    /// Pitch of the punched holes along the rail, where the rails for stairs come punched.
    pub punched_spacing: Option<Length>,
    /// Rail-to-post connector for the slope; its members are those of the level one.
    pub bracket: RakedBracket,
}

/// Rail-to-post connector for the slope; all of it is measured along the rail.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields, rename_all = "kebab-case")]
pub struct RakedBracket {
    /// How far back from the rail's end it is set.
    pub setback: Length,
    /// How far it reaches along the rail from the rail's end.
    pub reach: Length,
    /// Holes into the rail.
    #[serde(rename = "hole")]
    pub holes: Vec<Hole>,
}

/// A handrail: what a hand grasps, on brackets beside a guard or a wall.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields, rename_all = "kebab-case")]
pub struct HandrailSpec {
    /// As ordered, for example `Handrail, round, 1-1/2 in`.
    pub name: String,
    /// Its section.
    pub section: GraspSection,
    /// Top of the handrail above the nosing line, plumb.
    pub height: Length,
    /// Clear space to the guard or wall that it stands before.
    pub clearance: Length,
    /// Longest distance between two brackets, along the slope.
    pub bracket_spacing: Length,
    /// From each end of the handrail to its first bracket.
    pub bracket_end: Length,
}

/// Section of a handrail.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields, rename_all = "kebab-case")]
pub enum GraspSection {
    /// Round, with this outside diameter.
    Round(Length),
    /// Any other outline.
    Other {
        /// Length round the outline.
        perimeter: Length,
        /// Largest dimension across.
        across: Length,
    },
}

/// A kit: one panel's members and infill in one box.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields, rename_all = "kebab-case")]
pub struct Kit {
    /// Name as ordered.
    pub name: String,
    /// Length of its rails.
    pub length: Length,
    /// Balusters in the box; none where the infill is another one.
    #[serde(default)]
    pub balusters: u32,
    /// Members in the box, one of each; all of the system's if it does not say.
    #[serde(default)]
    pub members: Vec<MemberRole>,
    /// Panels that it serves.
    #[serde(default)]
    pub serves: Serves,
    /// Price, in the job's currency.
    pub price: Option<f64>,
    /// Weight in kilograms.
    pub weight_kg: Option<f64>,
}

/// Which panels a kit serves.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default, Serialize, Deserialize, JsonSchema)]
#[serde(rename_all = "kebab-case")]
pub enum Serves {
    /// Level and raked ones.
    #[default]
    Any,
    /// Level ones only.
    Level,
    /// Raked ones only.
    Raked,
}

impl Serves {
    /// Whether a panel of that kind may be cut from it.
    pub const fn fits(self, is_raked: bool) -> bool {
        match self {
            Self::Any => true,
            Self::Level => !is_raked,
            Self::Raked => is_raked,
        }
    }
}

impl Kit {
    /// Whether a member is in the box.
    pub fn holds(&self, role: MemberRole) -> bool {
        self.members.is_empty() || self.members.contains(&role)
    }
}

impl RailSystem {
    /// The member of a role, if the system has it.
    pub fn member(&self, role: MemberRole) -> Option<&Member> {
        self.members.iter().find(|m| m.role == role)
    }

    /// Length of the balusters, or clear height between the rails for another infill: what is left of the height after
    /// the gap and all members.
    pub fn baluster_length(&self) -> Length {
        self.height - self.bottom_gap - self.members.iter().map(|m| m.height).sum()
    }

    /// Widest member: the one that must land on the post's face.
    pub fn widest(&self) -> Length {
        self.members.iter().map(|m| m.width).max().unwrap_or(Length::ZERO)
    }
}
