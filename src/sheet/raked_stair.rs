//! The stair beneath a raked panel in its elevation: treads and risers, and the largest sphere that finds room between
//! them and the bottom rail. Millimetres throughout, x and y as in the elevation.

use crate::base::{Point, plane};
use crate::deck::Flight;
use crate::guard::{Falls, Rake};
use crate::parts::{Layout, LayoutPanel};

use super::Layer;
use super::board::Board;

/// More steps than a panel passes are no stair: the bound for hostile records.
const MOST_STEPS: f64 = 400.0;
/// Thickness that a tread is drawn with at its nosing, full-scale mm: an inch, at most a quarter of the riser.
const TREAD_MM: f64 = 25.4;
/// Ground strokes beneath the foot, paper mm.
const STROKE_MM: f64 = 1.8;

/// The flight, placed in the elevation.
#[derive(Debug)]
pub(super) struct Stair {
    riser: f64,
    tread: f64,
    nosing: f64,
    /// Number of risers, where the flight is known.
    risers: Option<u32>,
    /// The top nosing.
    top: Point,
    /// 1 where the stair falls to the right, else -1.
    way: f64,
}

impl Stair {
    /// The stair beneath a panel; `None` where it is not known or no stair.
    pub(super) fn new(layout: &Layout, at: &LayoutPanel, rake: &Rake) -> Option<Self> {
        let (steps, start) = (rake.steps?, rake.start?.millimetres());
        let clear = at.panel.span.millimetres();
        let (riser, tread, nosing) = (steps.riser.millimetres(), steps.tread.millimetres(), steps.nosing.millimetres());
        let is_stair = riser > 0.0 && tread > 0.0 && (0.0..tread).contains(&nosing);
        if !is_stair || (clear + start.abs()) / tread > MOST_STEPS {
            return None;
        }
        let slope = rake.pitch.angle().tan();
        let (x, way) = if rake.falls == Falls::Right { (-start, 1.0) } else { (clear + start, -1.0) };
        let run = layout.runs.get(at.span.run);
        let flight = run.and_then(|r| r.flight).and_then(|index| layout.flights.get(index));
        let top = plane::point(x, -way * slope * x);
        Some(Self { riser, tread, nosing, risers: flight.map(|f| f.risers), top, way })
    }

    /// A flight whose top nosing is at a point, falling along the x axis where `way` is 1 and against it where it is -1;
    /// `None` where it is no stair.
    pub(super) fn of_flight(flight: &Flight, top: Point, way: f64) -> Option<Self> {
        let steps = &flight.steps;
        let (riser, tread, nosing) = (steps.riser.millimetres(), steps.tread.millimetres(), steps.nosing.millimetres());
        let is_stair = riser > 0.0 && tread > 0.0 && (0.0..tread).contains(&nosing);
        let few = f64::from(flight.risers) <= MOST_STEPS;
        (is_stair && few).then_some(Self { riser, tread, nosing, risers: Some(flight.risers), top, way })
    }

    /// How far an x lies downhill of the top nosing.
    fn down(&self, x: f64) -> f64 {
        (x - self.top.x) * self.way
    }

    /// A point from its level distance downhill and its depth below the top nosing.
    fn at(&self, down: f64, depth: f64) -> Point {
        self.top + plane::point(down * self.way, -depth)
    }

    /// How many risers lie above what one stands on, from this far downhill on.
    fn passed(&self, down: f64) -> f64 {
        let all = self.risers.map_or(f64::INFINITY, f64::from);
        (down / self.tread).ceil().max(0.0).min(all)
    }

    /// Height of what one stands on.
    pub(super) fn surface(&self, x: f64) -> f64 {
        self.top.y - self.passed(self.down(x)) * self.riser
    }

    /// Treads and risers between two x, and the ground at the foot.
    pub(super) fn draw(&self, board: &mut Board, low: f64, high: f64) {
        let (from, to) = if self.way > 0.0 { (low, high) } else { (high, low) };
        let (from, to) = (self.down(from), self.down(to));
        let thick = TREAD_MM.min(self.riser / 4.0);
        let last = self.passed(to);
        let mut level = self.passed(from);
        let mut points = vec![self.at(from, level * self.riser)];
        while level < last {
            let (edge, depth) = (level * self.tread, level * self.riser);
            points.push(self.at(edge, depth));
            if self.nosing > 0.0 {
                points.extend([self.at(edge, depth + thick), self.at(edge - self.nosing, depth + thick)]);
            }
            level += 1.0;
            points.push(self.at(edge - self.nosing, level * self.riser));
        }
        points.push(self.at(to, level * self.riser));
        board.path(Layer::Panel, points, false);
        if self.risers.is_some_and(|all| level >= f64::from(all)) {
            self.ground(board, (level - 1.0) * self.tread - self.nosing, to, level * self.riser);
        }
    }

    fn ground(&self, board: &mut Board, from: f64, to: f64, depth: f64) {
        let length = board.mm(STROKE_MM);
        let step = board.mm(2.8);
        let mut down = from + step / 2.0;
        while down < to {
            let a = self.at(down, depth);
            board.line(Layer::Sheet, a, a - plane::point(length, length));
            down += step;
        }
    }

    /// Largest circle between riser, tread and a rail `gap` above the nosing line, as its diameter: the circle in the
    /// right triangle whose legs are riser and tread, both made longer as the nosing and the gap open it.
    pub(super) fn largest_sphere(&self, gap: f64) -> f64 {
        let opened = 1.0 + self.nosing / self.tread + gap / self.riser;
        (self.riser + self.tread - self.riser.hypot(self.tread)) * opened
    }

    /// Centres of the circles of that diameter, one a step, between two x.
    pub(super) fn sphere_centres(&self, diameter: f64, low: f64, high: f64) -> Vec<Point> {
        let (a, b) = (self.down(low), self.down(high));
        let (from, to) = (self.passed(a.min(b)), self.passed(a.max(b)));
        let mut centres = Vec::new();
        let mut level = from;
        while level < to {
            let centre =
                self.at(level * self.tread - self.nosing + diameter / 2.0, (level + 1.0) * self.riser - diameter / 2.0);
            if centre.x - diameter / 2.0 >= low && centre.x + diameter / 2.0 <= high {
                centres.push(centre);
            }
            level += 1.0;
        }
        centres
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::base::plane::point;

    fn stair(nosing: f64, way: f64) -> Stair {
        Stair { riser: 7.5, tread: 10.0, nosing, risers: Some(3), top: point(0.0, 0.0), way }
    }

    /// 7.5/10, no nosing: gap 0 -> 5, gap 1.5 -> 6; 7.75/10 with nosing 1, gap 0 -> 5.608 (closed form).
    #[test]
    fn spheres_have_their_known_sizes() {
        assert!((stair(0.0, 1.0).largest_sphere(0.0) - 5.0).abs() < 1e-12);
        assert!((stair(0.0, 1.0).largest_sphere(1.5) - 6.0).abs() < 1e-12);
        let steep = Stair { riser: 7.75, ..stair(1.0, 1.0) };
        assert!((steep.largest_sphere(0.0) - 5.608).abs() < 5e-4);
    }

    /// Each circle touches the riser, the tread and the underside of the rail.
    #[test]
    fn spheres_touch_all_three_sides() {
        for (nosing, gap, way) in [(0.0, 1.0, 1.0), (1.0, 0.5, -1.0)] {
            let stair = stair(nosing, way);
            let d = stair.largest_sphere(gap);
            let centres = stair.sphere_centres(d, -100.0, 100.0);
            assert_eq!(centres.len(), 3);
            for (k, c) in (0..).zip(centres) {
                let (down, k) = (c.x * way, f64::from(k));
                assert!((down - (k * 10.0 - nosing) - d / 2.0).abs() < 1e-9, "riser");
                assert!((c.y + (k + 1.0) * 7.5 - d / 2.0).abs() < 1e-9, "tread");
                let rail = gap - down * 0.75;
                assert!(((rail - c.y) * 0.8 - d / 2.0).abs() < 1e-9, "rail: {}", (rail - c.y) * 0.8);
            }
        }
    }

    #[test]
    fn one_stands_on_deck_tread_and_ground() {
        let stair = stair(1.0, -1.0);
        let heights = [5.0, -5.0, -15.0, -25.0, -500.0].map(|x| stair.surface(x));
        assert_eq!(heights, [0.0, -7.5, -15.0, -22.5, -22.5]);
    }
}
