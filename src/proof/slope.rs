//! A panel in elevation: x level from left to right, y up, in millimetres.
//!
//! A rail is a line in that plane, its thickness lies square to it, and all that is plumb stands upright: lengths along the
//! slope, level and plumb ones are where such lines meet.

use crate::base::plane::{dot, left, meet, point, unit};
use crate::base::{Length, Point};
use crate::guard::{Falls, Rake};
use crate::parts::{Layout, LayoutPanel};

const UPRIGHT: Point = point(0.0, 1.0);

/// The direction of a panel's rails.
#[derive(Debug, Clone, Copy)]
pub(super) struct Slope {
    /// Along the rail from left to right, of length 1.
    along: Point,
}

impl Slope {
    pub fn of(rake: Option<Rake>) -> Self {
        let along = rake.map_or(point(1.0, 0.0), |rake| {
            let (run, rise) = (rake.pitch.run().millimetres(), rake.pitch.rise().millimetres());
            unit(point(run, if rake.falls == Falls::Left { rise } else { -rise }))
        });
        Self { along }
    }

    /// Twice the level length under a length along the rail, in nanometres; exact on a level rail.
    pub fn twice_level(self, length: Length) -> i64 {
        let twice = length.nanometres().saturating_mul(2);
        if self.along.y == 0.0 { twice } else { (twice as f64 * self.along.x).round() as i64 }
    }

    /// Level length under a length along the rail, in millimetres.
    pub fn level(self, length: Length) -> f64 {
        (self.along * length.millimetres()).x
    }

    /// Length along the rail over a level one: where the upright at its end meets the rail.
    pub fn over(self, level: f64) -> f64 {
        meet(point(0.0, 0.0), self.along, point(level, 0.0), UPRIGHT).unwrap_or(f64::NAN)
    }

    /// Plumb height of what is `thick` square to the rail: where an upright meets its two faces.
    pub fn plumb(self, thick: f64) -> f64 {
        meet(point(0.0, 0.0), UPRIGHT, left(self.along) * thick, self.along).unwrap_or(f64::NAN)
    }

    /// Extent along the slope of a piece that reaches from `start` to `end` level, is `thick` and cut plumb.
    pub fn extent(self, start: f64, end: f64, thick: f64) -> f64 {
        let on_rail = |level: f64| self.along * self.over(level);
        let below = UPRIGHT * self.plumb(thick);
        let corners = [start, end].map(on_rail).into_iter().flat_map(|top| [top, top - below]);
        let places = corners.map(|corner| dot(corner, self.along));
        let (low, high) = places.fold((f64::INFINITY, f64::NEG_INFINITY), |(low, high), p| (low.min(p), high.max(p)));
        high - low
    }

    /// Angle of a plumb cut to a square one, in degrees.
    pub fn plumb_degrees(self) -> f64 {
        self.along.y.abs().atan2(self.along.x).to_degrees()
    }
}

/// Height of a panel's parts on each other, plumb, in millimetres.
pub(super) fn stack(layout: &Layout, at: &LayoutPanel) -> f64 {
    let (panel, slope) = (&at.panel, Slope::of(at.span.rake));
    let members = panel.cuts.iter().filter_map(|cut| layout.system.member(cut.member));
    let plumb: f64 = members.map(|member| slope.plumb(member.height.millimetres())).sum();
    panel.bottom_gap.millimetres() + plumb + panel.balusters.length.millimetres()
}
