//! VIEWPORT: a window in paper space on the model space (DXF reference, "VIEWPORT").

use super::entity::Common;
use super::{Handle, Handles, Tags};
use crate::base::{Point, plane::point};
use crate::cad::Version;

/// A window in the units of the paper space, and what it shows in those of the model space.
#[derive(Debug, Clone, Copy)]
pub(super) struct Window {
    /// 1 is the paper itself, which every paper space must have; windows follow.
    pub(super) number: i64,
    /// Middle on the paper.
    pub(super) centre: Point,
    /// Width and height on the paper.
    pub(super) size: Point,
    /// What stands in its middle.
    pub(super) view_centre: Point,
    /// Height of what it shows.
    pub(super) view_height: f64,
}

/// Always on (32768); the icon of the coordinate system shows (32).
const PAPER: i64 = 32_768 + 32;
/// Always on; the scale is locked (16384), so that a turn of the wheel does not spoil it; zooms fast (128).
const LOCKED: i64 = 32_768 + 16_384 + 128;

/// Writes it and gives its handle.
pub(super) fn write(tags: &mut Tags<'_>, handles: &mut Handles, common: &Common<'_>, window: &Window) -> Handle {
    let own = handles.take();
    common.head(tags, "VIEWPORT", own);
    tags.subclass("AcDbViewport");
    tags.point(10, window.centre);
    tags.real(40, window.size.x);
    tags.real(41, window.size.y);
    // Place in the stack of active windows, and number.
    tags.int(68, window.number);
    tags.int(69, window.number);
    tags.point_2d(12, window.view_centre);
    // Snap base, snap and grid spacing.
    tags.point_2d(13, point(0.0, 0.0));
    tags.point_2d(14, point(1.0, 1.0));
    tags.point_2d(15, point(1.0, 1.0));
    // From above, onto the origin.
    tags.point_2d(16, point(0.0, 0.0));
    tags.real(36, 1.0);
    tags.point(17, point(0.0, 0.0));
    // Lens and clipping planes, which only count in perspective; height of the view; snap angle and twist.
    for (code, value) in [(42, 50.0), (43, 0.0), (44, 0.0), (45, window.view_height), (50, 0.0), (51, 0.0)] {
        tags.real(code, value);
    }
    tags.int(72, 1000);
    tags.int(90, if window.number == 1 { PAPER } else { LOCKED });
    // No plot style sheet, plain lines; a coordinate system of its own, its icon at the origin.
    tags.text(1, "");
    tags.int(281, 0);
    tags.int(71, 1);
    tags.int(74, 0);
    tags.point(110, point(0.0, 0.0));
    tags.point(111, point(1.0, 0.0));
    tags.point(112, point(0.0, 1.0));
    // That system is no orthographic one; its elevation.
    tags.int(79, 0);
    tags.real(146, 0.0);
    if tags.target().version >= Version::R2004 {
        // Shaded as displayed.
        tags.int(170, 0);
    }
    common.tail(tags);
    own
}
