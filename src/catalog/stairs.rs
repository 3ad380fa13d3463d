//! What a job says of its stairs: for all of them, and for single flights.

use schemars::JsonSchema;
use serde::{Deserialize, Serialize};

use crate::base::Length;

/// Sides of a flight, as seen from its top looking down.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize, JsonSchema)]
#[serde(rename_all = "kebab-case")]
pub enum Sides {
    /// None.
    None,
    /// The left one.
    Left,
    /// The right one.
    Right,
    /// Both.
    Both,
}

impl Sides {
    /// Whether the left side is one of them.
    pub const fn left(self) -> bool {
        matches!(self, Self::Left | Self::Both)
    }

    /// Whether the right side is one of them.
    pub const fn right(self) -> bool {
        matches!(self, Self::Right | Self::Both)
    }
}

/// What holds for every flight of the job; a `[[stair]]` wins over it, and what stands on the plan, too.
#[derive(Debug, Clone, PartialEq, Eq, Default, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields, rename_all = "kebab-case", default)]
pub struct StairsJob {
    /// From the side of a flight inward to the rail line; negative stands outside of the flight. By default the posts
    /// stand beside the flight, flush with its side, as the deck's own end posts do.
    pub inset: Option<Length>,
    /// From the lowest nosing down to the face of the post at the foot; nothing by default.
    pub foot: Option<Length>,
    /// Riser height of flights that say nothing of their own.
    pub riser: Option<Length>,
    /// From the ground to the deck, of flights that say nothing of their own.
    pub total_rise: Option<Length>,
    /// Projection of the nosings beyond the riser beneath; nothing by default.
    pub nosing: Option<Length>,
}

/// What the job says of one flight, or a flight that is not on the plan at all.
#[derive(Debug, Clone, PartialEq, Default, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields, rename_all = "kebab-case", default)]
pub struct StairJob {
    /// A point on the drawn flight, in drawing units.
    pub at: Option<[f64; 2]>,
    /// Left and right end of the top nosing as seen from the top looking down, in drawing units: a flight that is not
    /// drawn, or whose drawing cannot be read.
    pub top: Option<[[f64; 2]; 2]>,
    /// Direction in which it falls, degrees from the drawing's x axis, where the drawing leaves it open.
    pub down: Option<f64>,
    /// Number of risers.
    pub risers: Option<u32>,
    /// Height of each riser.
    pub riser: Option<Length>,
    /// Height from the foot to the top.
    pub total_rise: Option<Length>,
    /// Depth of each tread, from nosing to nosing.
    pub tread: Option<Length>,
    /// Projection of the nosings.
    pub nosing: Option<Length>,
    /// Sides with a guard; by default each side that stands free.
    pub guard: Option<Sides>,
    /// Sides with a handrail; by default as the rule set asks.
    pub handrail: Option<Sides>,
}
