//! Where things go on a sheet of paper: margins, title strip, and the room that is left for drawings.

use crate::base::{Point, plane::point};
use crate::catalog::Paper;

/// From the paper's edge to the frame, mm: what printers leave white (ISO 5457 asks for 10 beside the filing margin).
pub(super) const MARGIN_MM: f64 = 10.0;
/// Height of the title strip along the frame's lower edge, mm.
pub(super) const STRIP_MM: f64 = 27.0;
/// Height of the cautions above it, mm; narrow sheets need a second line.
const CAUTIONS_MM: (f64, f64) = (9.5, 6.5);
/// A frame narrower than this has its cautions in more lines, mm.
const NARROW_MM: f64 = 350.0;
/// Between the frame and what stands inside, mm.
pub(super) const PAD_MM: f64 = 5.0;
/// Caption of a drawing, beneath it, mm.
pub(super) const CAPTION_MM: f64 = 13.0;
/// Title and facts of a panel above its elevation, in as many lines as they may take, mm.
const DETAIL_CAPTION_MM: f64 = 30.0;
/// Breadth of the column beside the plan with key, notes and findings, mm.
pub(super) const COLUMN_MM: f64 = 76.0;

/// Paper turned one way or the other.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct Blank {
    /// Width and height, mm.
    pub size: Point,
}

impl Blank {
    /// Lying, then standing.
    pub(super) fn both(paper: Paper) -> [Self; 2] {
        let (short, long) = paper.sides_mm();
        [Self { size: point(long, short) }, Self { size: point(short, long) }]
    }

    /// Height of the cautions over the title strip.
    pub(super) fn cautions_mm(self) -> f64 {
        if self.size.x - 2.0 * MARGIN_MM < NARROW_MM { CAUTIONS_MM.0 } else { CAUTIONS_MM.1 }
    }

    /// Lower left and upper right corner of what drawings may fill.
    pub(super) fn inside(self) -> (Point, Point) {
        let edge = MARGIN_MM + PAD_MM;
        let low = point(edge, edge + STRIP_MM + self.cautions_mm());
        (low, point(self.size.x - edge, self.size.y - edge))
    }

    /// Width and height of that.
    pub(super) fn room(self) -> Point {
        let (low, high) = self.inside();
        high - low
    }

    /// Room for the plan, beside its column and over its caption.
    pub(super) fn plan_room(self) -> Point {
        self.room() - point(COLUMN_MM + PAD_MM, CAPTION_MM)
    }

    /// Room for a detail under its caption.
    pub(super) fn detail_room(self) -> Point {
        self.room() - point(0.0, DETAIL_CAPTION_MM)
    }
}
