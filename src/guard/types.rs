//! What the planner gives.

use crate::base::{Angle, Length, Pitch, Point};
use crate::deck::{Flight, Steps};

use super::choices::Choices;
use super::free::Kept;

/// Why a post stands where it does.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum PostKind {
    /// At a free end of a run.
    End,
    /// Where the rail line turns.
    Corner,
    /// Between two bays.
    Line,
    /// On a stair: at its foot, between two raked panels, or at its top where no post of the deck holds the rail.
    Stair,
}

impl PostKind {
    /// Its word in files.
    pub const fn text(self) -> &'static str {
        match self {
            Self::End => "end",
            Self::Corner => "corner",
            Self::Line => "line",
            Self::Stair => "stair",
        }
    }
}

/// Whether the user drew it.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum PostOrigin {
    /// On the user's plan; place, size and rotation are kept.
    Drawn,
    /// Set by the planner in an earlier run and then moved or copied by the user, so kept like a drawn one.
    Kept,
    /// Set by the planner.
    Planned,
}

impl PostOrigin {
    /// Its word in files.
    pub const fn text(self) -> &'static str {
        match self {
            Self::Drawn => "drawn",
            Self::Kept => "kept",
            Self::Planned => "planned",
        }
    }
}

/// A post.
#[derive(Debug, Clone, PartialEq)]
pub struct Post {
    /// `P1`, `P2` ...
    pub id: String,
    /// Why it stands there.
    pub kind: PostKind,
    /// Whether the user drew it.
    pub origin: PostOrigin,
    /// Centre.
    pub at: Point,
    /// Side of its square outside.
    pub side: Length,
    /// Direction of a face normal, in `(-45, 45]` degrees.
    pub rotation: Angle,
    /// Its top above what it stands on: the deck, a tread, or the ground at the foot of a stair.
    pub height: Length,
    /// Handle of the drawn entity.
    pub handle: Option<u64>,
}

/// Which end of a raked span is the low one, as seen standing on the stair looking out.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Falls {
    /// The right end: on the left side of a flight, as seen from its top.
    Right,
    /// The left end.
    Left,
}

/// The slope that a span follows.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Rake {
    /// Slope of the line through the nosings.
    pub pitch: Pitch,
    /// Which end is the low one.
    pub falls: Falls,
    /// The stair beneath, where it is known.
    pub steps: Option<Steps>,
    /// Level distance from the top nosing of the flight down to the span's upper face (negative before the nosing), where
    /// it is known.
    pub start: Option<Length>,
}

/// What a rail meets at its end.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Support {
    /// Index into [`Guard::posts`].
    Post(usize),
    /// The face of a wall.
    Wall,
}

impl Support {
    /// The post's index, if it is one.
    pub const fn post(&self) -> Option<usize> {
        match self {
            Self::Post(i) => Some(*i),
            Self::Wall => None,
        }
    }
}

/// The clear distance between two supporting faces, along the rail line.
///
/// Left and right are as seen standing on the deck looking out; the span runs from left to right, so the deck is on the
/// right-hand side of its direction.
#[derive(Debug, Clone, PartialEq)]
pub struct Span {
    /// `S1`, `S2` ...
    pub id: String,
    /// Index into [`Guard::runs`].
    pub run: usize,
    /// What stands at the left end.
    pub from: Support,
    /// What stands at the right end.
    pub to: Support,
    /// Where the rail line meets the left face.
    pub left: Point,
    /// Where it meets the right face.
    pub right: Point,
    /// Clear distance along the rail line.
    pub clear: Length,
    /// Signed angle from the rail to the left face's normal: positive when the outer edge (away from the deck) is the
    /// longer one at that end.
    pub skew_left: Angle,
    /// The same at the right end.
    pub skew_right: Angle,
    /// The slope, on a stair; `clear` is measured level.
    pub rake: Option<Rake>,
}

/// A chain of rail lines without an opening.
#[derive(Debug, Clone, PartialEq)]
pub struct Run {
    /// Number from 1.
    pub number: usize,
    /// The rail line through the post centres and wall faces, left to right.
    pub line: Vec<Point>,
    /// Whether it closes on itself.
    pub closed: bool,
    /// Index into [`Guard::flights`] of the flight along which it runs.
    pub flight: Option<usize>,
}

/// What a handrail stands before.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Before {
    /// The guard of its side.
    Guard,
    /// A wall.
    Wall,
}

impl Before {
    /// Its word in files.
    pub const fn text(self) -> &'static str {
        match self {
            Self::Guard => "guard",
            Self::Wall => "wall",
        }
    }
}

/// A handrail along one side of a flight.
#[derive(Debug, Clone, PartialEq)]
pub struct Handrail {
    /// `H1`, `H2` ...
    pub id: String,
    /// Index into [`Guard::flights`].
    pub flight: usize,
    /// On the left side, as seen from the top looking down.
    pub left: bool,
    /// What it stands before.
    pub before: Before,
    /// Its centre line in plan, from above the top nosing to above the lowest one, without the extensions.
    pub line: [Point; 2],
    /// Its top above the nosing line, plumb.
    pub height: Length,
    /// Length along the slope between the ends of `line`.
    pub length: Length,
    /// Level piece beyond the top nosing.
    pub extension_top: Length,
    /// Sloping piece beyond the lowest nosing, along the slope.
    pub extension_bottom: Length,
    /// Brackets, along the handrail from its upper end (that of the extension).
    pub brackets: Vec<Length>,
}

impl Handrail {
    /// All of it that is bought.
    pub fn total(&self) -> Length {
        self.extension_top + self.length + self.extension_bottom
    }
}

/// A span that stays without a panel because the user wants it so.
#[derive(Debug, Clone, PartialEq)]
pub struct OpenSpan {
    /// Span id.
    pub id: String,
    /// Where the rail line meets the left face.
    pub left: Point,
    /// Where it meets the right face.
    pub right: Point,
}

/// Posts, runs and spans of a plan.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct Guard {
    /// Posts in the order of the runs.
    pub posts: Vec<Post>,
    /// Runs in the order of the plan.
    pub runs: Vec<Run>,
    /// Spans in the order of the runs, left to right. Each gets a panel.
    pub spans: Vec<Span>,
    /// Spans that stay open by the user's wish.
    pub open: Vec<OpenSpan>,
    /// Places where the user erased a line post and none was set again.
    pub erased: Vec<(String, Point)>,
    /// Flights of stairs.
    pub flights: Vec<Flight>,
    /// Handrails, by flight, left before right.
    pub handrails: Vec<Handrail>,
    /// Stretches of deck edge that openings, stairs and doors keep free.
    pub kept: Kept,
    /// Ways to divide the level stretches, where bays are chosen by cost.
    pub choices: Choices,
}
