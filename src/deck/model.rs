//! The strict plan as all later stages see it.

use std::sync::Arc;

use crate::base::{Extent, Frame, Near, Piece, Place, Point};
use crate::cad::Origin;

use super::before::Lost;
use super::edits::Edits;
use super::ends::ChainEnd;
use super::flight::Flight;
use super::rings::Rings;
use super::roles::Role;

/// A stretch of deck edge.
#[derive(Debug, Clone, PartialEq)]
pub struct Edge {
    /// Start.
    pub a: Point,
    /// End.
    pub b: Point,
    /// Bulge of an arc edge; 0 is straight.
    pub bulge: f64,
    /// Arc, or part of what an ellipse or spline was fitted with.
    pub curved: bool,
    /// Entity that drew it.
    pub origin: Origin,
    /// Its layer, which many edges share.
    pub layer: Arc<str>,
}

/// How far chords may leave an arc edge where only its course matters, not its length: inside or outside, crossing or
/// not (0.1 mm).
pub const CHORD_MM: f64 = 0.1;

impl Edge {
    /// A straight one that nothing drew.
    #[cfg(test)]
    pub fn straight((a, b): (&Point, &Point)) -> Self {
        Self { a: *a, b: *b, bulge: 0.0, curved: false, origin: Origin::default(), layer: "".into() }
    }

    /// Its course.
    pub const fn piece(&self) -> Piece {
        Piece { a: self.a, b: self.b, bulge: self.bulge }
    }

    /// Half way along it.
    pub fn middle(&self) -> Point {
        let piece = self.piece();
        piece.at(piece.length() / 2.0)
    }

    /// Its place, in its middle.
    pub fn place(&self) -> Place {
        Place {
            at: Some(self.middle()),
            handle: self.origin.handle,
            line: self.origin.line,
            layer: Some(self.layer.to_string()),
            ..Place::default()
        }
    }
}

/// Edges in a row, without a crossing, with the deck on the right-hand side: left to right as seen from the deck
/// looking out.
#[derive(Debug, Clone, PartialEq)]
pub struct Chain {
    /// Edges, each beginning where the one before ends.
    pub edges: Vec<Edge>,
    /// What its two ends end at; `None` for a ring.
    pub ends: Option<[ChainEnd; 2]>,
}

impl Chain {
    /// Whether it is a ring.
    pub const fn is_closed(&self) -> bool {
        self.ends.is_none()
    }
}

/// What a piece of a wall belongs to.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum WallKind {
    /// A closed outline: a house.
    House,
    /// An open line.
    Line,
    /// A closed outline no larger than a column.
    Column,
}

/// A straight piece of a wall's face.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Wall {
    /// Start.
    pub a: Point,
    /// End.
    pub b: Point,
    /// What it belongs to.
    pub kind: WallKind,
}

impl Extent for Wall {
    fn extent(&self) -> impl Iterator<Item = Point> {
        [self.a, self.b].into_iter()
    }
}

/// A convex area that keeps the edge beneath it free of guard: an opening, or the foot of a stair.
#[derive(Debug, Clone, PartialEq)]
pub struct Zone {
    /// Corners of the hull; two for a line.
    pub hull: Vec<Point>,
    /// The straight strokes that it is drawn with, of an opening or a stair that is not read; each with the number of the
    /// entity in its group. Of a flight none: its hull is its mouth.
    pub strokes: Vec<(Point, Point, usize)>,
    /// Whether an arc is drawn with it, as the swing of a gate's leaf is.
    pub has_arc: bool,
    /// Opening or stair.
    pub role: Role,
    /// Where it is.
    pub place: Place,
    /// Index into [`Plan::flights`] of the flight whose head or foot it is; `None` where no rails are laid along the stair.
    pub flight: Option<usize>,
}

impl Extent for Zone {
    fn extent(&self) -> impl Iterator<Item = Point> {
        self.hull.iter().copied()
    }
}

/// A post that the user drew.
#[derive(Debug, Clone, PartialEq)]
pub struct DrawnPost {
    /// Centre.
    pub at: Point,
    /// Side of its square, or diameter, in mm; unknown for a point.
    pub side_mm: Option<f64>,
    /// Its turn; unknown for points and circles.
    pub rotation: Option<crate::base::Angle>,
    /// Where it stands in the drawing.
    pub place: Place,
    /// Whether it is a post of an earlier layout that the user moved or copied.
    pub kept: bool,
}

impl Extent for DrawnPost {
    fn extent(&self) -> impl Iterator<Item = Point> {
        self.at.extent()
    }
}

/// A line of the user's plan, kept as background for drawings.
#[derive(Debug, Clone, PartialEq)]
pub struct Outline {
    /// What it shows.
    pub role: Role,
    /// Its points.
    pub points: Vec<Point>,
    /// Whether it closes.
    pub closed: bool,
}

/// The plan as all later stages see it.
#[derive(Debug, Clone, PartialEq)]
pub struct Plan {
    /// Between its coordinates and the drawing's.
    pub frame: Frame,
    /// Deck edges.
    pub chains: Vec<Chain>,
    /// Walls' faces.
    pub walls: Near<Wall>,
    /// Closed outlines of houses.
    pub houses: Rings,
    /// Openings and stairs.
    pub zones: Near<Zone>,
    /// Flights of stairs whose steps are known.
    pub flights: Vec<Flight>,
    /// Posts.
    pub posts: Vec<DrawnPost>,
    /// Convex zones in which no line post may stand.
    pub keep_out: Near<Vec<Point>>,
    /// Joists, straight.
    pub joists: Near<(Point, Point)>,
    /// What the user changed in an earlier layout.
    pub edits: Edits,
    /// What goes of an earlier layout whose marks are lost.
    pub lost: Option<Lost>,
    /// The external reference that shows our rails, if one does.
    pub attached: Option<String>,
    /// Background.
    pub outlines: Vec<Outline>,
}

impl Plan {
    /// A plan with nothing on it.
    pub fn empty(frame: Frame) -> Self {
        Self {
            frame,
            chains: Vec::new(),
            walls: Near::default(),
            houses: Rings::default(),
            zones: Near::default(),
            flights: Vec::new(),
            posts: Vec::new(),
            keep_out: Near::default(),
            joists: Near::default(),
            edits: Edits::none(),
            lost: None,
            attached: None,
            outlines: Vec::new(),
        }
    }
}
