//! Between the user's drawing coordinates and our millimetres near the origin.

use super::{Length, Mark, Measure, Point, plane::point};

/// A unit that a drawing can be drawn in.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Unit {
    /// Inch, 25.4 mm.
    Inch,
    /// Foot, 304.8 mm.
    Foot,
    /// Yard, 914.4 mm.
    Yard,
    /// Millimetre.
    Millimetre,
    /// Centimetre.
    Centimetre,
    /// Decimetre.
    Decimetre,
    /// Metre.
    Metre,
}

impl Unit {
    /// Units a user may name with `--units`, in the order in which a message lists them.
    pub const CANDIDATES: [Self; 5] = [Self::Inch, Self::Foot, Self::Millimetre, Self::Centimetre, Self::Metre];

    /// Millimetres in one of it.
    pub const fn millimetres(self) -> f64 {
        match self {
            Self::Inch => 25.4,
            Self::Foot => 304.8,
            Self::Yard => 914.4,
            Self::Millimetre => 1.0,
            Self::Centimetre => 10.0,
            Self::Decimetre => 100.0,
            Self::Metre => 1000.0,
        }
    }

    /// Nanometres in one of it: exact.
    pub const fn nanometres(self) -> i64 {
        match self {
            Self::Inch => 25_400_000,
            Self::Foot => 304_800_000,
            Self::Yard => 914_400_000,
            Self::Millimetre => 1_000_000,
            Self::Centimetre => 10_000_000,
            Self::Decimetre => 100_000_000,
            Self::Metre => 1_000_000_000,
        }
    }

    /// Short sign, as in `--units`.
    pub const fn sign(self) -> &'static str {
        match self {
            Self::Inch => "in",
            Self::Foot => "ft",
            Self::Yard => "yd",
            Self::Millimetre => "mm",
            Self::Centimetre => "cm",
            Self::Decimetre => "dm",
            Self::Metre => "m",
        }
    }

    /// From its short sign.
    pub fn from_sign(sign: &str) -> Option<Self> {
        let all =
            [Self::Inch, Self::Foot, Self::Yard, Self::Millimetre, Self::Centimetre, Self::Decimetre, Self::Metre];
        all.into_iter().find(|u| u.sign() == sign)
    }

    /// From the DXF header's `$INSUNITS` (DXF reference, HEADER section); `None` for unitless and for what no deck is drawn in.
    pub const fn from_insunits(code: i64) -> Option<Self> {
        match code {
            1 => Some(Self::Inch),
            2 => Some(Self::Foot),
            4 => Some(Self::Millimetre),
            5 => Some(Self::Centimetre),
            6 => Some(Self::Metre),
            10 => Some(Self::Yard),
            14 => Some(Self::Decimetre),
            _ => None,
        }
    }

    /// `$INSUNITS` code of it.
    pub const fn insunits(self) -> i16 {
        match self {
            Self::Inch => 1,
            Self::Foot => 2,
            Self::Millimetre => 4,
            Self::Centimetre => 5,
            Self::Metre => 6,
            Self::Yard => 10,
            Self::Decimetre => 14,
        }
    }

    /// Whether the trade that draws in it works in feet and inches.
    pub const fn is_imperial(self) -> bool {
        matches!(self, Self::Inch | Self::Foot | Self::Yard)
    }
}

/// How the user's drawing coordinates and our local millimetres belong together.
///
/// The origin is moved near the plan so that f64 keeps its digits on plans drawn in survey coordinates.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Frame {
    /// The drawing's unit.
    pub unit: Unit,
    /// Local origin in drawing units.
    pub origin: Point,
}

impl Frame {
    /// Drawing coordinates to local millimetres.
    pub fn to_local(&self, drawn: Point) -> Point {
        (drawn - self.origin) * self.unit.millimetres()
    }

    /// Local millimetres to drawing coordinates.
    pub fn to_drawing(&self, local: Point) -> Point {
        local / self.unit.millimetres() + self.origin
    }

    /// A length in the trade's unit that goes with the drawing's, with its sign, for messages: `3.9375 in`.
    pub fn with_unit(&self, length: Length) -> String {
        let unit = if self.unit.is_imperial() { Unit::Inch } else { Unit::Millimetre };
        Measure { unit, mark: Mark::SIXTEENTH }.with_unit(length)
    }

    /// A size in drawing units.
    pub fn size(&self, length: Length) -> f64 {
        length.nanometres() as f64 / self.unit.nanometres() as f64
    }
}

impl Default for Frame {
    fn default() -> Self {
        Self { unit: Unit::Inch, origin: point(0.0, 0.0) }
    }
}
