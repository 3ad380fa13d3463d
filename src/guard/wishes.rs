//! What the plan asks of the posts of a stretch: where none may stand, and where they stand best.

use crate::base::plane::{dot, left, unit};
use crate::base::{Length, Point};
use crate::deck::Plan;

use super::free::clipped;

/// A joist is drawn up to the rim of the deck, or ends up to this far inside of the rail line (12 in).
const JOIST_END_MM: f64 = 304.8;

/// A joist runs across the rail line, not along it: at 15 degrees or more.
const ACROSS: f64 = 0.259;

/// A stretch to measure along: its left face, its direction, its clear length.
#[derive(Debug, Clone, Copy)]
pub struct Along {
    /// Where the rail line meets its left face.
    pub left: Point,
    /// Direction, of length one.
    pub way: Point,
    /// Clear length.
    pub clear: Length,
}

impl Along {
    fn local(&self, p: Point) -> Point {
        Point { x: dot(self.way, p - self.left), y: dot(left(self.way), p - self.left) }
    }

    fn ends(&self) -> [Point; 2] {
        [self.left, self.left + self.way * self.clear.millimetres()]
    }

    /// Where no post of a width may stand: from and to along the stretch, from left to right, apart from each other.
    pub fn keep_out(&self, plan: &Plan, post: Length) -> Vec<(Length, Length)> {
        let half = post.millimetres() / 2.0;
        let zones = plan.keep_out.around(self.ends(), half).filter_map(|(_, hull)| {
            let hull: Vec<Point> = hull.iter().map(|p| self.local(*p)).collect();
            let strip = clipped(&clipped(&hull, |p| p.y + half), |p| half - p.y);
            let low = strip.iter().map(|p| p.x).fold(f64::INFINITY, f64::min);
            let high = strip.iter().map(|p| p.x).fold(f64::NEG_INFINITY, f64::max);
            (low < high && high > 0.0 && low < self.clear.millimetres())
                .then(|| (Length::measured(low), Length::measured(high)))
        });
        let mut zones: Vec<(Length, Length)> = zones.collect();
        zones.sort();
        zones.dedup_by(|next, zone| {
            let meet = next.0 <= zone.1;
            zone.1 = if meet { zone.1.max(next.1) } else { zone.1 };
            meet
        });
        zones
    }

    /// Where joists cross the stretch.
    pub fn joists(&self, plan: &Plan) -> Vec<Length> {
        let crossings = plan.joists.around(self.ends(), JOIST_END_MM / ACROSS).filter_map(|(_, (a, b))| {
            let (a, b) = (self.local(*a), self.local(*b));
            let near = a.y.abs().min(b.y.abs());
            let crosses = (a.y < 0.0) != (b.y < 0.0) || near <= JOIST_END_MM;
            let across = unit(b - a).y.abs() >= ACROSS;
            let x = a.x + (b.x - a.x) * (a.y / (a.y - b.y));
            (crosses && across && x > 0.0 && x < self.clear.millimetres()).then(|| Length::measured(x))
        });
        let mut all: Vec<Length> = crossings.collect();
        all.sort();
        all.dedup();
        all
    }
}
