//! What the slope of a stair makes of a run: which end of a span is low, where it begins, how high its posts are.

use crate::base::plane::{cross, dot};
use crate::base::{Length, Mark, Point};
use crate::catalog::Raked;
use crate::deck::Flight;

use super::types::{Falls, Rake};

/// The slope that a run follows.
#[derive(Debug, Clone, PartialEq)]
pub struct Slope {
    /// Index into [`Guard::flights`](super::Guard::flights).
    pub index: usize,
    /// The flight.
    pub flight: Flight,
    /// Which end of its spans is low.
    pub falls: Falls,
    /// What the system does on stairs.
    pub raked: Raked,
    /// Height of a post above the highest rail that it holds.
    pub above: Length,
    /// Shop marks, on which posts are cut.
    pub mark: Mark,
}

impl Slope {
    /// Level distance of a point from the top nosing, downhill.
    fn along(&self, p: Point) -> f64 {
        dot(p - self.flight.top[0], self.flight.down)
    }

    /// The slope of a span between two faces.
    pub fn rake(&self, left: Point, right: Point) -> Rake {
        let upper = if self.falls == Falls::Right { left } else { right };
        Rake {
            pitch: self.flight.pitch,
            falls: self.falls,
            steps: Some(self.flight.steps),
            start: Some(Length::measured(self.along(upper))),
        }
    }

    /// Height of a post of the flight above what it stands on, so that it reaches over the highest rail that it holds:
    /// the one downhill of it where it stands at the head, else the one uphill.
    pub fn post_height(&self, at: Point, side: Length) -> Length {
        let centre = self.along(at);
        let half = side.millimetres() / 2.0;
        let slack = Length::NOISE.millimetres();
        let is_head = centre - half <= slack;
        let is_foot = centre + half >= self.flight.length().millimetres() - slack;
        let face = if is_head { centre + half } else { centre - half };
        let (riser, tread) = (self.flight.steps.riser.millimetres(), self.flight.steps.tread.millimetres());
        let risers = f64::from(self.flight.risers);
        // Levels are counted from the flight's foot.
        let foot = match (centre / tread).ceil() {
            _ if is_head => risers * riser,
            _ if is_foot => 0.0,
            step => (risers - step) * riser,
        };
        let top = risers * riser - face * riser / tread + self.raked.height.millimetres();
        // A baluster is cut to the mark above, so the rail may lie one mark higher.
        self.mark.ceil(Length::measured(top - foot) + self.above + self.mark.length())
    }
}

/// How far a point lies inward of a side of a flight, in mm.
pub fn inward(flight: &Flight, p: Point, is_left: bool) -> f64 {
    let off = cross(flight.down, p - flight.at(is_left, 0.0, 0.0));
    if is_left { -off } else { off }
}
