//! Typed entities of the user's drawing, all in the plan's plane and in local millimetres.

use super::{MarksAsText, Ours};
use crate::base::{Angle, Finding, Frame, Place, Point};

/// DXF version by its `$ACADVER` number: `AC1009` is 1009.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
pub struct Version(pub u16);

impl Version {
    /// Releases 11 and 12.
    pub const R12: Self = Self(1009);
    /// Release 13: subclass markers and two-byte binary codes begin.
    pub const R13: Self = Self(1012);
    /// Release 14: LWPOLYLINE begins.
    pub const R14: Self = Self(1014);
    /// Release 2000: owners and layouts begin.
    pub const R2000: Self = Self(1015);
    /// Release 2004.
    pub const R2004: Self = Self(1018);
    /// Release 2007: text is UTF-8 from here on.
    pub const R2007: Self = Self(1021);
    /// Release 2010.
    pub const R2010: Self = Self(1024);
    /// Release 2013.
    pub const R2013: Self = Self(1027);
    /// Release 2018, the newest one known.
    pub const R2018: Self = Self(1032);

    /// Known versions with the names people use, oldest first.
    pub const KNOWN: [(Self, &str); 9] = [
        (Self::R12, "R12"),
        (Self::R13, "R13"),
        (Self::R14, "R14"),
        (Self::R2000, "R2000"),
        (Self::R2004, "R2004"),
        (Self::R2007, "R2007"),
        (Self::R2010, "R2010"),
        (Self::R2013, "R2013"),
        (Self::R2018, "R2018"),
    ];

    /// `AC1015`.
    pub fn acadver(self) -> String {
        format!("AC{:04}", self.0)
    }

    /// `R2000`, or the `$ACADVER` text for one without a name here.
    pub fn name(self) -> String {
        let known = Self::KNOWN.iter().find(|(v, _)| *v == self);
        known.map_or_else(|| self.acadver(), |(_, name)| (*name).to_owned())
    }
}

/// Where an entity stands in the user's file.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Default)]
pub struct Origin {
    /// First byte of its record, which no other one has.
    pub byte: usize,
    /// Its handle, if the file has handles.
    pub handle: Option<u64>,
    /// Line of its `0` group (1 is the first); `None` in binary files.
    pub line: Option<u64>,
}

/// One vertex of a path, with the bulge of the stretch that begins there (tangent of a quarter of the arc's angle,
/// positive counter-clockwise; DXF reference, LWPOLYLINE group 42).
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Vertex {
    /// Position.
    pub at: Point,
    /// Bulge; 0 is straight.
    pub bulge: f64,
}

/// Geometry of an entity.
#[derive(Debug, Clone, PartialEq)]
pub enum Shape {
    /// LINE, LWPOLYLINE, POLYLINE and ARC (an ARC is one bulged stretch).
    Path {
        /// At least two vertices.
        vertices: Vec<Vertex>,
        /// Whether the last vertex joins the first.
        closed: bool,
    },
    /// CIRCLE.
    Circle {
        /// Centre.
        centre: Point,
        /// Radius in mm.
        radius: f64,
    },
    /// POINT.
    Point(Point),
    /// TEXT, MTEXT or ATTRIB.
    Text {
        /// Insertion point.
        at: Point,
        /// Content without formatting codes.
        content: String,
    },
    /// ELLIPSE or SPLINE, or an arc that a block's unequal scale made elliptic: its ends and the points between.
    Curve {
        /// At least two points on it.
        points: Vec<Point>,
        /// Whether it closes.
        closed: bool,
    },
}

/// One entity of the drawing, blocks resolved.
#[derive(Debug, Clone, PartialEq)]
pub struct Entity {
    /// Geometry.
    pub shape: Shape,
    /// Layer, with layer `0` inside blocks replaced by the INSERT's layer; in an external reference
    /// `reference|layer`.
    pub layer: String,
    /// Where it stands (inside a block: the entity in the block definition; in an external reference: the INSERT in the
    /// user's file that places the reference).
    pub origin: Origin,
    /// Index into [`Drawing::inserts`] of the innermost INSERT that it came from.
    pub insert: Option<usize>,
    /// Lowest and highest z in mm above the drawing's zero; `None` for texts and splines.
    pub heights: Option<[f64; 2]>,
    /// z of its first and last vertex in mm; `None` where [`Entity::heights`] is.
    pub ends: Option<[f64; 2]>,
}

impl Entity {
    /// Its place for a finding; `at` is a point of it.
    pub fn place(&self, at: Point) -> Place {
        Place {
            at: Some(at),
            handle: self.origin.handle,
            line: self.origin.line,
            layer: Some(self.layer.clone()),
            ..Place::default()
        }
    }
}

/// One placed block reference (each one of an array is its own).
#[derive(Debug, Clone, PartialEq)]
pub struct Insert {
    /// Block name as written.
    pub block: String,
    /// Its layer, with layer `0` inside blocks replaced by the outer INSERT's.
    pub layer: String,
    /// Where it stands.
    pub origin: Origin,
    /// Insertion point.
    pub at: Point,
    /// Direction of the block's x axis in the plan.
    pub rotation: Angle,
    /// Outer INSERT.
    pub parent: Option<usize>,
    /// Attribute tags and values.
    pub attributes: Vec<(String, String)>,
}

/// State of a layer in the user's drawing.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub struct LayerState {
    /// Frozen.
    pub frozen: bool,
    /// Switched off.
    pub off: bool,
    /// Not plotted.
    pub no_plot: bool,
}

/// A layer of the user's drawing and what stands on it.
#[derive(Debug, Clone, PartialEq)]
pub struct LayerInfo {
    /// Name as written.
    pub name: String,
    /// State.
    pub state: LayerState,
    /// How many records of each kind stand on it (in model space and in blocks), by kind.
    pub counts: Vec<(String, usize)>,
}

/// Records of a kind that is not read, on one layer that is.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Unread {
    /// Kind as written: `HATCH`.
    pub kind: String,
    /// Layer; in an external reference `reference|layer`.
    pub layer: String,
    /// How many there are.
    pub count: usize,
    /// Where the first one stands in its file.
    pub origin: Origin,
}

/// What was read of the user's drawing.
#[derive(Debug, Clone, PartialEq)]
pub struct Drawing {
    /// Its version.
    pub version: Version,
    /// Whether the file is binary.
    pub binary: bool,
    /// Name of the text encoding it was read with.
    pub encoding: &'static str,
    /// Unit and origin.
    pub frame: Frame,
    /// All layers of the file, in the file's order.
    pub layers: Vec<LayerInfo>,
    /// Entities on wanted layers, in the file's order.
    pub entities: Vec<Entity>,
    /// Placed blocks that have wanted entities, or stand on wanted layers.
    pub inserts: Vec<Insert>,
    /// What stands on wanted layers and is of a kind that is not read.
    pub unread: Vec<Unread>,
    /// What an earlier run of ours left in it.
    pub ours: Vec<Ours>,
    /// The marks of that run as texts, which are there when the marks themselves are lost.
    pub marks: MarksAsText,
    /// What was found on the way.
    pub findings: Vec<Finding>,
}
