//! The drawing that all writers share. All coordinates and sizes are millimetres at full scale in the drawing's own
//! space; `paper` says how much smaller they are on paper, so that texts and pens come out right there.

use crate::base::{Angle, Point};
use crate::cad::Fact;

pub use crate::catalog::Layer;

impl Layer {
    /// Colour: index for DXF (the AutoCAD Color Index numbering that DXF group 62 uses), which reads on black and on white
    /// windows, and the ink on paper.
    pub const fn colour(self) -> (i16, &'static str) {
        match self {
            Self::Sheet | Self::View => (8, "#6b6b6b"),
            Self::Line => (1, "#b3261e"),
            Self::Panel | Self::Post | Self::Text => (7, "#111111"),
            Self::Baluster => (252, "#444444"),
            Self::Block => (32, "#a65300"),
            Self::Bracket => (150, "#1b4f9c"),
            Self::Hole => (1, "#b3261e"),
            Self::Screw => (94, "#1a7a3a"),
            Self::Dims => (150, "#1b4f9c"),
            Self::Note => (6, "#a0008a"),
        }
    }

    /// Pen width on paper, in hundredths of a millimetre (values that DXF group 370 knows).
    pub const fn pen(self) -> i16 {
        match self {
            Self::Post => 50,
            Self::Panel => 35,
            Self::Line | Self::Note => 25,
            Self::Baluster | Self::Block | Self::Bracket | Self::Hole | Self::Screw | Self::Text => 18,
            Self::Sheet | Self::Dims | Self::View => 13,
        }
    }

    /// Whether it comes onto paper.
    pub const fn is_plotted(self) -> bool {
        !matches!(self, Self::View)
    }

    /// Line pattern of the layer.
    pub const fn linetype(self) -> Linetype {
        match self {
            Self::Line => Linetype::Centre,
            _ => Linetype::Continuous,
        }
    }
}

/// Line patterns that we define. Names and lengths in [`Linetype::pattern`].
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Linetype {
    /// Unbroken.
    Continuous,
    /// Long and short dashes: centre lines (ISO 128 line type 08 by shape).
    Centre,
    /// Dashes: hidden edges.
    Hidden,
}

impl Linetype {
    /// Name in the drawing.
    pub const fn name(self) -> &'static str {
        match self {
            Self::Continuous => "Continuous",
            Self::Centre => "RAIL-CENTRE",
            Self::Hidden => "RAIL-HIDDEN",
        }
    }

    /// Dash lengths on paper in mm: positive a dash, negative a space.
    pub const fn pattern(self) -> &'static [f64] {
        match self {
            Self::Continuous => &[],
            Self::Centre => &[8.0, -1.5, 1.5, -1.5],
            Self::Hidden => &[2.5, -1.2],
        }
    }
}

/// Which object of the layout a shape shows: kind (`post`, `panel`, `dimension` ...) and id (`P1`, `S3`).
#[derive(Debug, Clone, PartialEq)]
pub struct ObjectId {
    /// Kind of object.
    pub kind: &'static str,
    /// Its id.
    pub id: String,
    /// What a re-run must know of it besides, to tell the user's edits.
    pub facts: Vec<Fact>,
}

/// Horizontal place of a text's insertion point on it.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Align {
    /// At its left end.
    Left,
    /// In its middle.
    Centre,
    /// At its right end.
    Right,
}

/// Vertical place of a text's insertion point on it.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum VAlign {
    /// On the base line.
    Base,
    /// Half way up the capitals.
    Middle,
    /// At the top of the capitals.
    Top,
}

/// Where a text hangs.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Anchor {
    /// Horizontally.
    pub align: Align,
    /// Vertically.
    pub valign: VAlign,
}

/// One line of text.
#[derive(Debug, Clone, PartialEq)]
pub struct TextSpec {
    /// Insertion point.
    pub at: Point,
    /// Height of capitals, full-scale mm.
    pub height: f64,
    /// Direction of the base line.
    pub rotation: Angle,
    /// How it hangs on the insertion point.
    pub anchor: Anchor,
    /// The text.
    pub content: String,
    /// Heavier strokes, for titles.
    pub bold: bool,
}

/// A linear dimension, aligned with `angle`: real DIMENSION in DXF, lines and text elsewhere.
#[derive(Debug, Clone, PartialEq)]
pub struct Dimension {
    /// First measured point.
    pub from: Point,
    /// Second measured point.
    pub to: Point,
    /// A point on the dimension line.
    pub line: Point,
    /// Direction in which it measures, turned so that a text along it reads from below or from the right.
    pub angle: Angle,
    /// Text height, full-scale mm.
    pub height: f64,
    /// Final text.
    pub text: String,
    /// Middle of the text.
    pub text_at: Point,
    /// What it is drawn with (extension lines, dimension line, ticks), computed by the sheet so that all writers draw
    /// the same strokes.
    pub strokes: Vec<(Point, Point)>,
}

impl Dimension {
    /// Its text as a line of text: `text_at` in its middle, along `angle`, which always reads from below or the right.
    pub fn text_spec(&self) -> TextSpec {
        TextSpec {
            at: self.text_at,
            height: self.height,
            rotation: self.angle,
            anchor: Anchor { align: Align::Centre, valign: VAlign::Middle },
            content: self.text.clone(),
            bold: false,
        }
    }
}

/// A post in plan: a block in DXF with its attributes, a square elsewhere.
#[derive(Debug, Clone, PartialEq)]
pub struct PostMark {
    /// Centre.
    pub at: Point,
    /// Side, full-scale mm.
    pub side: f64,
    /// Turn of the square.
    pub rotation: Angle,
    /// Post id, written as attribute `ID`.
    pub id: String,
    /// `end`, `corner`, `line`: attribute `KIND`.
    pub kind: &'static str,
}

impl PostMark {
    /// Its corners, counter-clockwise.
    pub fn corners(&self) -> [Point; 4] {
        super::board::post_corners(self.at, self.side, self.rotation)
    }
}

/// The frame of a panel's tag: a block in DXF with its attributes, a rectangle elsewhere. The tag's text is a text of its
/// own, since not every program draws the attributes of a block.
#[derive(Debug, Clone, PartialEq)]
pub struct TagMark {
    /// Lower left corner.
    pub low: Point,
    /// Upper right corner.
    pub high: Point,
    /// Panel id, written as attribute `ID`.
    pub id: String,
    /// Clear span as a person reads it: attribute `SPAN`.
    pub span: String,
    /// What the panel is built from: attribute `KIT`.
    pub kit: String,
}

impl TagMark {
    /// Its corners, counter-clockwise.
    pub fn corners(&self) -> [Point; 4] {
        let (low, high) = (self.low, self.high);
        [low, Point { x: high.x, ..low }, high, Point { x: low.x, ..high }]
    }
}

/// A shape.
#[derive(Debug, Clone, PartialEq)]
pub enum Shape {
    /// Straight line.
    Line(Point, Point),
    /// Straight-edged path.
    Path {
        /// Vertices.
        points: Vec<Point>,
        /// Joined end to start.
        closed: bool,
        /// Filled with the layer's ink (thin solid parts such as arrow heads and poché).
        filled: bool,
    },
    /// Circle.
    Circle {
        /// Centre.
        centre: Point,
        /// Radius, mm.
        radius: f64,
    },
    /// Circular arc, counter-clockwise.
    Arc {
        /// Centre.
        centre: Point,
        /// Radius, mm.
        radius: f64,
        /// Start direction.
        from: Angle,
        /// End direction.
        to: Angle,
    },
    /// One line of text.
    Text(TextSpec),
    /// Lines of one paragraph or cell, alike but for place and content, evenly one below the other: MTEXT in DXF, so that a
    /// person edits it as a whole; elsewhere as many texts.
    Paragraph(Vec<TextSpec>),
    /// Linear dimension.
    Dimension(Dimension),
    /// Post in plan.
    Post(PostMark),
    /// Frame of a panel's tag.
    Tag(TagMark),
}

/// A shape on a layer.
#[derive(Debug, Clone, PartialEq)]
pub struct Item {
    /// Layer.
    pub layer: Layer,
    /// Pattern, where it differs from the layer's.
    pub linetype: Option<Linetype>,
    /// What it shows, so that a person or a re-run finds it again.
    pub object: Option<ObjectId>,
    /// Shape.
    pub shape: Shape,
}

impl Item {
    /// Every line of text that is seen of it.
    pub fn texts(&self) -> Vec<TextSpec> {
        match &self.shape {
            Shape::Text(text) => vec![text.clone()],
            Shape::Paragraph(lines) => lines.clone(),
            Shape::Dimension(dimension) => vec![dimension.text_spec()],
            _ => Vec::new(),
        }
    }
}

/// A finished drawing.
#[derive(Debug, Clone, PartialEq)]
pub struct Drawing {
    /// Short name: `plan`, `S1`.
    pub name: String,
    /// Title for people.
    pub title: String,
    /// Full-scale mm per mm on paper: 48 for 1/4 in = 1 ft, 12 for 1 in = 1 ft.
    pub paper: f64,
    /// Lower left corner of everything drawn.
    pub low: Point,
    /// Upper right corner of everything drawn.
    pub high: Point,
    /// Upright areas of it, lower left and upper right corner, that a sheet of paper shows each by itself: without the title
    /// and notes that the sheet has of its own. None where only the whole makes sense.
    pub parts: Vec<(Point, Point)>,
    /// Shapes in drawing order.
    pub items: Vec<Item>,
}
