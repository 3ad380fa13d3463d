//! Curves as points: ellipses and splines are sampled so finely that no chord is off by more than a stated distance.

use std::f64::consts::{FRAC_PI_4, TAU};

use crate::base::Point;
use crate::base::plane::{distance, left, norm, to_segment};

use super::affine::Affine;

/// Largest distance between a sampled curve and the curve itself, in mm: finer than a pencil line, and than any mark.
pub const SAMPLING_MM: f64 = 0.1;

/// Most points of one sampled curve.
const MOST_POINTS: usize = 1 << 17;

/// An elliptic arc `centre + u cos t + v sin t`, with `t` from `from` over `sweep` radians.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Ellipse {
    /// Centre.
    pub centre: Point,
    /// One half diameter.
    pub u: Point,
    /// The half diameter conjugate to it.
    pub v: Point,
    /// Where it begins.
    pub from: f64,
    /// How far it goes.
    pub sweep: f64,
}

impl Ellipse {
    /// The circular arc of a bulged stretch (DXF reference, LWPOLYLINE: the bulge is the tangent of a quarter of the
    /// angle).
    pub fn of_bulge(from: Point, to: Point, bulge: f64) -> Self {
        let chord = to - from;
        let centre = (from + to) / 2.0 + left(chord) * ((1.0 - bulge * bulge) / (4.0 * bulge));
        let u = from - centre;
        Self { centre, u, v: left(u), from: 0.0, sweep: 4.0 * bulge.atan() }
    }

    /// A whole circle.
    pub fn of_circle(centre: Point, radius: f64) -> Self {
        let u = Point { x: radius, y: 0.0 };
        Self { centre, u, v: left(u), from: 0.0, sweep: TAU }
    }

    /// Its image.
    pub fn mapped(&self, map: &Affine) -> Self {
        Self { centre: map.map(self.centre), u: map.turn(self.u), v: map.turn(self.v), ..*self }
    }

    /// Whether it is a whole ellipse.
    pub fn is_closed(&self) -> bool {
        (self.sweep.abs() - TAU).abs() < 1e-9
    }

    fn at(&self, t: f64) -> Point {
        self.centre + self.u * t.cos() + self.v * t.sin()
    }

    /// Points on it, both ends included; a whole ellipse does not repeat its first point.
    ///
    /// Between two points the chord is off by at most the larger half axis times `1 - cos(step / 2)`, since the ellipse
    /// is a linear image of the unit circle; `hypot(|u|, |v|)` is never less than that half axis.
    pub fn points(&self, tolerance: f64) -> Vec<Point> {
        let reach = norm(self.u).hypot(norm(self.v));
        let cosine = (1.0 - tolerance / reach.max(tolerance)).clamp(-1.0, 1.0);
        let step = (2.0 * cosine.acos()).clamp(1e-6, FRAC_PI_4);
        let steps = ((self.sweep.abs() / step).ceil() as usize).clamp(2, MOST_POINTS);
        let last = if self.is_closed() { steps - 1 } else { steps };
        (0..=last).map(|i| self.at(self.from + self.sweep * (i as f64 / steps as f64))).collect()
    }
}

/// A rational B-spline in the plane.
#[derive(Debug, Clone, PartialEq)]
pub struct Spline {
    /// Degree, at least one.
    pub degree: usize,
    /// Knots, never falling; as many as control points plus degree plus one.
    pub knots: Vec<f64>,
    /// Control points with their weights.
    pub control: Vec<(Point, f64)>,
    /// Whether it closes.
    pub closed: bool,
}

impl Spline {
    /// Its image.
    pub fn mapped(&self, map: &Affine) -> Self {
        Self { control: self.control.iter().map(|(p, w)| (map.map(*p), *w)).collect(), ..self.clone() }
    }

    /// The point at `t` in the knot span that begins at `knots[span]` (de Boor's algorithm, on weighted points).
    fn at(&self, span: usize, t: f64) -> Option<Point> {
        let p = self.degree;
        let mut d: Vec<(Point, f64)> =
            self.control.get(span.checked_sub(p)?..=span)?.iter().map(|(c, w)| (*c * *w, *w)).collect();
        for r in 1..=p {
            for j in (r..=p).rev() {
                let low = *self.knots.get(j + span - p)?;
                let high = *self.knots.get(j + 1 + span - r)?;
                let a = if high > low { (t - low) / (high - low) } else { 0.0 };
                let (before, here) = (*d.get(j - 1)?, *d.get(j)?);
                *d.get_mut(j)? = (before.0 * (1.0 - a) + here.0 * a, before.1 * (1.0 - a) + here.1 * a);
            }
        }
        d.get(p).map(|(c, w)| *c / *w)
    }

    /// Points on it, both ends included; `None` when its knots and points do not fit.
    ///
    /// Each knot span is halved until the points at a quarter, half and three quarters of a piece lie within half the
    /// tolerance of its chord.
    pub fn points(&self, tolerance: f64) -> Option<Vec<Point>> {
        let mut points = Vec::new();
        for span in self.degree..self.control.len() {
            let (low, high) = (*self.knots.get(span)?, *self.knots.get(span + 1)?);
            if high <= low {
                continue;
            }
            let start = self.at(span, low)?;
            if points.last().is_none_or(|last| distance(*last, start) > 0.0) {
                points.push(start);
            }
            // Four pieces at first, so that an S that crosses its chord in the middle is not taken for straight.
            for i in 0..4 {
                let at = |n: f64| low + (high - low) * n / 4.0;
                self.halve(span, at(f64::from(i)), at(f64::from(i + 1)), tolerance / 2.0, 14, &mut points)?;
            }
        }
        (points.len() >= 2).then_some(points)
    }

    fn halve(&self, span: usize, a: f64, b: f64, tolerance: f64, depth: u8, points: &mut Vec<Point>) -> Option<()> {
        let (start, end) = (self.at(span, a)?, self.at(span, b)?);
        let within = |n: f64| Some(to_segment(self.at(span, a + (b - a) * n)?, start, end).0 <= tolerance);
        if depth == 0 || points.len() >= MOST_POINTS || (within(0.25)? && within(0.5)? && within(0.75)?) {
            points.push(end);
            return Some(());
        }
        let middle = a.midpoint(b);
        self.halve(span, a, middle, tolerance, depth - 1, points)?;
        self.halve(span, middle, b, tolerance, depth - 1, points)
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::base::plane::point;

    #[test]
    fn a_bulge_of_one_is_a_half_circle() {
        let arc = Ellipse::of_bulge(point(1.0, 0.0), point(-1.0, 0.0), 1.0);
        assert!(distance(arc.centre, point(0.0, 0.0)) < 1e-12);
        let points = arc.points(0.001);
        assert!(points.iter().all(|p| (norm(*p) - 1.0).abs() < 1e-12));
        assert!(points.iter().all(|p| p.y > -1e-12), "counter-clockwise from (1, 0) goes over the top");
        assert!(distance(*points.last().unwrap(), point(-1.0, 0.0)) < 1e-12);
        for pair in points.windows(2) {
            assert!(norm((pair[0] + pair[1]) / 2.0) > 1.0 - 0.001, "sagitta within the tolerance");
        }
    }

    #[test]
    fn a_rational_spline_draws_a_quarter_circle() {
        // Exact quarter circle as a rational quadratic (textbook: weight cos 45 degrees in the middle).
        let spline = Spline {
            degree: 2,
            knots: vec![0.0, 0.0, 0.0, 1.0, 1.0, 1.0],
            control: vec![(point(1.0, 0.0), 1.0), (point(1.0, 1.0), 0.5_f64.sqrt()), (point(0.0, 1.0), 1.0)],
            closed: false,
        };
        let points = spline.points(0.001).unwrap();
        assert!(points.iter().all(|p| (norm(*p) - 1.0).abs() < 1e-12));
        assert!(points.windows(2).all(|w| norm((w[0] + w[1]) / 2.0) > 1.0 - 0.001));
        let short = Spline { knots: vec![0.0, 1.0], ..spline };
        assert_eq!(short.points(0.001), None);
    }
}
