//! A flight as it is drawn, before anything is decided about it.

use crate::base::plane::{dot, left, to_segment};
use crate::base::{Place, Point};

/// What a flight was recognised by.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Kind {
    /// Its tread lines.
    Treads,
    /// An outline without tread lines.
    Outline,
    /// One line with a slope: one of its sides.
    Side,
    /// The job file.
    Job,
}

/// A flight as it is drawn. Its lines lie across `axis`; which of them is the top is not said yet.
#[derive(Debug, Clone, PartialEq)]
pub struct Drawn {
    /// What it was recognised by.
    pub kind: Kind,
    /// Middle of the first line.
    pub start: Point,
    /// Direction from the first line to the last one, of length 1.
    pub axis: Point,
    /// Half of its width in mm; nothing for a side alone.
    pub half: f64,
    /// Where its lines stand along the axis, in mm, rising; of an outline its two ends.
    pub lines: Vec<f64>,
    /// Heights of the lines in mm, where all of them have one.
    pub heights: Vec<f64>,
    /// Fall in mm for each mm along the axis, where heights tell it.
    pub falls: Option<f64>,
    /// First entity of it.
    pub entity: usize,
    /// Where it is.
    pub place: Place,
}

impl Drawn {
    /// Distance from the first line to the last one.
    pub fn depth(&self) -> f64 {
        self.lines.last().copied().unwrap_or(0.0)
    }

    /// Middle distance between two lines; nothing for a single one.
    pub fn spacing(&self) -> f64 {
        let gaps = self.lines.len().saturating_sub(1).max(1);
        self.depth() / gaps as f64
    }

    /// A point so far along the axis and to the left of it.
    pub fn at(&self, along: f64, aside: f64) -> Point {
        self.start + self.axis * along + left(self.axis) * aside
    }

    /// Its middle.
    pub fn centre(&self) -> Point {
        self.at(self.depth() / 2.0, 0.0)
    }

    /// How far along the axis and to its left a point lies.
    pub fn local(&self, p: Point) -> (f64, f64) {
        let v = p - self.start;
        (dot(v, self.axis), dot(v, left(self.axis)))
    }

    /// Distance of a point from its rectangle; nothing within.
    pub fn distance(&self, p: Point) -> f64 {
        let (s, t) = self.local(p);
        let (ds, dt) = ((-s).max(s - self.depth()).max(0.0), (t.abs() - self.half).max(0.0));
        ds.hypot(dt)
    }

    /// Its rectangle, its sides moved inward, counter-clockwise.
    pub fn rectangle(&self, inward: [f64; 2]) -> Vec<Point> {
        let [on_right, on_left] = inward;
        let (right, left) = (-self.half + on_right, self.half - on_left);
        vec![self.at(0.0, right), self.at(self.depth(), right), self.at(self.depth(), left), self.at(0.0, left)]
    }

    /// The same, its last line first.
    pub fn turned(self) -> Self {
        let depth = self.depth();
        let lines = self.lines.iter().rev().map(|l| depth - l).collect();
        let heights = self.heights.iter().rev().copied().collect();
        Self {
            start: self.start + self.axis * depth,
            axis: Point { x: -self.axis.x, y: -self.axis.y },
            lines,
            heights,
            falls: self.falls.map(|f| -f),
            ..self
        }
    }

    /// Whether it lies on another one: their rectangles, each a tenth narrower and shorter, meet.
    pub fn overlaps(&self, other: &Self) -> bool {
        fn apart(a: &Drawn, b: &Drawn) -> bool {
            let (along, aside): (Vec<f64>, Vec<f64>) = corners(b).into_iter().map(|p| a.local(p)).unzip();
            let beyond =
                |all: &[f64], low: f64, high: f64| all.iter().all(|v| *v <= low) || all.iter().all(|v| *v >= high);
            let (depth, half) = (a.depth(), a.half * 0.9);
            beyond(&along, depth * 0.05, depth * 0.95) || beyond(&aside, -half, half)
        }
        fn corners(d: &Drawn) -> Vec<Point> {
            let (depth, half) = (d.depth(), d.half * 0.9);
            let corner = |along: f64| [d.at(along, -half), d.at(along, half)];
            [0.05, 0.95].into_iter().flat_map(|part| corner(depth * part)).collect()
        }
        !apart(self, other) && !apart(other, self)
    }

    /// The least distance between one of its ends (a line of its width, so far along) and a rectangle.
    pub fn end_from(&self, along: f64, area: &[Point]) -> f64 {
        let (a, b) = (self.at(along, -self.half), self.at(along, self.half));
        if [a, b, (a + b) / 2.0].iter().any(|p| super::strokes::holds(area, *p)) {
            return 0.0;
        }
        let next = area.iter().cycle().skip(1);
        let sides = area
            .iter()
            .zip(next)
            .flat_map(|(p, q)| [to_segment(a, *p, *q).0, to_segment(b, *p, *q).0, to_segment(*p, a, b).0]);
        sides.fold(f64::INFINITY, f64::min)
    }
}
