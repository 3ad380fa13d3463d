//! Flights of stairs, as all later stages see them.

use crate::base::plane::{left, unit};
use crate::base::{Length, Pitch, Place, Point};
use crate::catalog::Sides;

/// Size of the steps of a flight.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Steps {
    /// Height of each riser; more than nothing.
    pub riser: Length,
    /// Depth of each tread, from nosing to nosing; more than nothing.
    pub tread: Length,
    /// How far each nosing stands beyond the riser beneath it.
    pub nosing: Length,
}

impl Steps {
    /// Slope of the line through the nosings; `None` where a riser or a tread is nothing.
    pub fn pitch(&self) -> Option<Pitch> {
        Pitch::new(self.riser, self.tread)
    }
}

/// A straight flight of stairs. Left and right are as seen from its top looking down.
///
/// `risers` risers lie between its two levels, so there are one fewer treads: the uppermost nosing is the edge of the
/// upper level, and the lowest tread ends at the lowest riser.
#[derive(Debug, Clone, PartialEq)]
pub struct Flight {
    /// `F1`, `F2` ...
    pub id: String,
    /// Number of risers, at least two.
    pub risers: u32,
    /// Size of its steps.
    pub steps: Steps,
    /// Slope of the line through its nosings.
    pub pitch: Pitch,
    /// Left and right end of the top nosing.
    pub top: [Point; 2],
    /// Direction in which it falls, of length 1.
    pub down: Point,
    /// Sides that get a guard.
    pub guards: Sides,
    /// Sides that lie along a wall.
    pub walls: Sides,
    /// Sides that the job wants a handrail on; otherwise the rule set decides.
    pub handrails: Option<Sides>,
    /// Largest difference between two of its risers, as far as they are known one by one.
    pub riser_variation: Length,
    /// Largest difference between two of its treads as drawn.
    pub tread_variation: Length,
    /// Where it is drawn.
    pub place: Place,
}

impl Flight {
    /// Level distance from the top nosing to the lowest one.
    pub fn length(&self) -> Length {
        self.steps.tread * i64::from(self.risers.saturating_sub(1))
    }

    /// Height from its foot to its top.
    pub fn total_rise(&self) -> Length {
        self.steps.riser * i64::from(self.risers)
    }

    /// Clear width between its two sides, in mm.
    pub fn width_mm(&self) -> f64 {
        let [a, b] = self.top;
        crate::base::plane::distance(a, b)
    }

    /// Direction from the left side to the right one.
    pub fn across(&self) -> Point {
        unit(crate::base::plane::right(self.down))
    }

    /// The point `along` downhill from the top nosing on the left (or right) side, `inward` from that side.
    pub fn at(&self, is_left: bool, along_mm: f64, inward_mm: f64) -> Point {
        let [l, r] = self.top;
        let (corner, inward) = if is_left { (l, self.across()) } else { (r, left(self.down)) };
        corner + self.down * along_mm + inward * inward_mm
    }
}
