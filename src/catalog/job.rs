//! Job settings: what one plan wants, from the job file and the command line.

use schemars::JsonSchema;
use serde::{Deserialize, Serialize};

use super::{RailSystem, RuleSet};
use crate::base::{Length, Mark, Unit};

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

/// Layer name patterns by role: `*` and `?`, without regard to case.
#[derive(Debug, Clone, PartialEq, Eq, Default, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields, default)]
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
}

/// Title block facts; all optional, none is guessed.
#[derive(Debug, Clone, PartialEq, Eq, Default, Serialize, Deserialize, JsonSchema)]
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
    /// Date as it shall stand in the title block.
    pub date: Option<String>,
}

/// The job file: each key optional, the command line wins over it.
#[derive(Debug, Clone, PartialEq, Default, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields, rename_all = "kebab-case", default)]
pub struct Job {
    /// Rail system: a built-in name or a TOML file beside the job file.
    pub system: Option<String>,
    /// Rule set: a built-in name or a TOML file beside the job file.
    pub rules: Option<String>,
    /// Unit of a unitless drawing: in, ft, mm, cm or m.
    pub units: Option<String>,
    /// Distance from the deck edge to the rail line.
    pub inset: Option<Length>,
    /// Bay policy.
    pub bays: Option<Bays>,
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
    /// Layer patterns by role.
    pub layers: Option<LayerPatterns>,
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
    /// Layer patterns by role; an empty list means the default patterns.
    pub layers: LayerPatterns,
    /// Title block.
    pub project: Project,
}
