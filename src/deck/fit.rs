//! Sampled curves -> chains of arcs that touch each other smoothly.
//!
//! Between two samples with known tangents stands a biarc, two arcs with a common tangent where they meet. Each biarc
//! spans as many samples as stay within the tolerance.

use std::f64::consts::FRAC_PI_2;

use crate::base::plane::{angle_of, cross, distance, dot, norm, unit};
use crate::base::{Piece, Point};
use crate::cad::Vertex;

/// How far samples may lie from the arcs, in mm. With the 0.1 mm between samples and curve this stays within the
/// [`STATED_MM`] that the user is told.
const FIT_MM: f64 = 0.4;

/// How far the arcs are from the curve at most, in mm: a third of a shop mark.
pub const STATED_MM: f64 = 0.5;

/// Samples of a smooth curve turn by less at a point (15 degrees); a larger turn is a corner of the curve.
const CORNER_RAD: f64 = 0.26;

/// Samples nearer to each other (0.01 mm) are one.
const SAME_MM: f64 = 0.01;

/// Vertices with bulges for a curve that was sampled at `points`; a closed one does not repeat its first.
pub fn fitted(points: &[Point], closed: bool) -> Vec<Vertex> {
    let mut all: Vec<Point> = Vec::with_capacity(points.len() + 1);
    for p in points {
        if all.last().is_none_or(|q| distance(*p, *q) >= SAME_MM) {
            all.push(*p);
        }
    }
    if closed {
        while all.len() > 1 && all.first().zip(all.last()).is_some_and(|(p, q)| distance(*p, *q) < SAME_MM) {
            all.pop();
        }
        all.extend(all.first().copied());
    }
    let mut vertices = Vec::new();
    for section in sections(&all, closed) {
        section.fit(&mut vertices);
    }
    if let Some(last) = all.last().filter(|_| !closed) {
        vertices.push(Vertex { at: *last, bulge: 0.0 });
    }
    vertices
}

/// Samples without a corner between them, and their tangents.
struct Section {
    points: Vec<Point>,
    tangents: Vec<Point>,
    /// By how much the chords have turned up to each point.
    turned: Vec<f64>,
}

/// Turn between the chords before and after a point.
fn turn(a: Point, b: Point, c: Point) -> f64 {
    let (u, v) = (b - a, c - b);
    cross(u, v).atan2(dot(u, v)).abs()
}

/// Tangent in `b` of the circle through three points: their chords' directions, weighed by the inverse of their lengths.
fn tangent(a: Point, b: Point, c: Point) -> Point {
    unit(unit(b - a) / distance(a, b) + unit(c - b) / distance(b, c))
}

/// Cuts the samples at their corners.
fn sections(points: &[Point], closed: bool) -> Vec<Section> {
    let is_corner = |w: &&[Point]| matches!(w, [a, b, c] if turn(*a, *b, *c) > CORNER_RAD);
    let corners = points.windows(3).enumerate().filter(|(_, w)| is_corner(w)).map(|(i, _)| i + 1);
    let last = points.len().saturating_sub(1);
    // A closed curve that is smooth where it begins has the same tangent at both ends.
    let seam = match (points, points.get(last.wrapping_sub(1))) {
        ([first, second, ..], Some(before)) if closed && turn(*before, *first, *second) <= CORNER_RAD => {
            Some(tangent(*before, *first, *second))
        }
        _ => None,
    };
    let cuts: Vec<usize> = std::iter::once(0).chain(corners).chain([last]).collect();
    let of = |pair: &[usize]| match pair {
        [from, to] => points.get(*from..=*to).filter(|s| s.len() > 1).map(|s| (*from, *to, s)),
        _ => None,
    };
    cuts.windows(2)
        .filter_map(of)
        .map(|(from, to, s)| Section::new(s, seam.filter(|_| from == 0), seam.filter(|_| to == last)))
        .collect()
}

impl Section {
    fn new(points: &[Point], start: Option<Point>, end: Option<Point>) -> Self {
        let mut tangents: Vec<Point> = points
            .windows(3)
            .filter_map(|w| if let [a, b, c] = w { Some(tangent(*a, *b, *c)) } else { None })
            .collect();
        // At an end the circle goes on: its tangent is the neighbour's, mirrored on the chord between them.
        let mirrored = |chord: Point, near: Option<&Point>| {
            let u = unit(chord);
            near.map_or(u, |t| u * (2.0 * dot(u, *t)) - *t)
        };
        let (first, last) = match points {
            [a, b] => (*b - *a, *b - *a),
            [a, b, .., y, z] => (*b - *a, *z - *y),
            [a, b, c] => (*b - *a, *c - *b),
            _ => (Point { x: 1.0, y: 0.0 }, Point { x: 1.0, y: 0.0 }),
        };
        let end = end.unwrap_or_else(|| mirrored(last, tangents.last()));
        let start = start.unwrap_or_else(|| mirrored(first, tangents.first()));
        tangents.insert(0, start);
        tangents.push(end);
        let mut turned = vec![0.0];
        let mut sum = 0.0;
        for w in points.windows(3) {
            if let [a, b, c] = w {
                sum += turn(*a, *b, *c);
            }
            turned.push(sum);
        }
        turned.push(sum);
        Self { points: points.to_vec(), tangents, turned }
    }

    /// Pushes the vertices of the section, all but its last point.
    fn fit(&self, vertices: &mut Vec<Vertex>) {
        let last = self.points.len() - 1;
        let mut from = 0;
        while from < last {
            // As far as it goes in doubled steps, then by halves between the last that held and the first that did not.
            let (mut good, mut step) = (from + 1, 1);
            while good + step <= last && self.holds(from, good + step) {
                good += step;
                step *= 2;
            }
            let mut bad = (good + step).min(last + 1);
            while bad - good > 1 {
                let middle = good.midpoint(bad);
                if self.holds(from, middle) { good = middle } else { bad = middle }
            }
            match self.biarc(from, good).filter(|pieces| self.off(pieces, from, good) <= FIT_MM) {
                Some(pieces) => vertices.extend(pieces.map(|p| Vertex { at: p.a, bulge: p.bulge })),
                None => vertices.extend(self.points.get(from).map(|p| Vertex { at: *p, bulge: 0.0 })),
            }
            from = good;
        }
    }

    fn holds(&self, from: usize, to: usize) -> bool {
        let turned = |i: usize| self.turned.get(i).copied().unwrap_or(0.0);
        turned(to) - turned(from) <= FRAC_PI_2
            && self.biarc(from, to).is_some_and(|pieces| self.off(&pieces, from, to) <= FIT_MM)
    }

    /// Farthest distance of the samples between two from their biarc, and of the biarc's middles from the chord of two
    /// neighbouring samples.
    fn off(&self, pieces: &[Piece; 2], from: usize, to: usize) -> f64 {
        let near = |p: Point| pieces.iter().map(|piece| piece.nearest(p).0).fold(f64::INFINITY, f64::min);
        let samples = self.points.get(from..=to).unwrap_or_default();
        let off = samples.iter().map(|p| near(*p)).fold(0.0, f64::max);
        if let [a, b] = samples {
            let chord = Piece::straight(*a, *b);
            return pieces.iter().map(|p| chord.nearest(p.at(p.length() / 2.0)).0).fold(off, f64::max);
        }
        off
    }

    /// Two arcs from one sample to another that keep both tangents: with `d` the length of both control legs,
    /// |v - d(t0 + t1)| = 2d for the chord v.
    fn biarc(&self, from: usize, to: usize) -> Option<[Piece; 2]> {
        let (p, q) = (*self.points.get(from)?, *self.points.get(to)?);
        let (t0, t1) = (*self.tangents.get(from)?, *self.tangents.get(to)?);
        let v = q - p;
        let (vt, vv, tt) = (dot(v, t0 + t1), dot(v, v), 2.0 * (1.0 - dot(t0, t1)));
        let d = if tt > 1e-12 { ((vt * vt + tt * vv).sqrt() - vt) / tt } else { vv / (2.0 * vt) };
        if !(d.is_finite() && d > 0.0) {
            return None;
        }
        let middle = (p + q + (t0 - t1) * d) / 2.0;
        // An arc turns by twice the angle between its tangent and its chord.
        let half_turn = |t: Point, chord: Point| angle_of(chord) - angle_of(t);
        let folded = |a: crate::base::Angle| a.folded(crate::base::Angle::from_degrees(360.0)).radians();
        let first = (folded(half_turn(t0, middle - p)) / 2.0).tan();
        let second = (-folded(half_turn(t1, q - middle)) / 2.0).tan();
        (norm(middle - p) > SAME_MM / 2.0 && norm(q - middle) > SAME_MM / 2.0)
            .then(|| [Piece { a: p, b: middle, bulge: first }, Piece { a: middle, b: q, bulge: second }])
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::base::plane::point;

    fn pieces(vertices: &[Vertex], closed: bool) -> Vec<Piece> {
        let next = vertices.iter().skip(1).chain(vertices.first().filter(|_| closed));
        vertices.iter().zip(next).map(|(v, w)| Piece { a: v.at, b: w.at, bulge: v.bulge }).collect()
    }

    fn off(points: &[Point], pieces: &[Piece]) -> f64 {
        let near = |p: &Point| pieces.iter().map(|piece| piece.nearest(*p).0).fold(f64::INFINITY, f64::min);
        points.iter().map(near).fold(0.0, f64::max)
    }

    #[test]
    fn an_ellipse_becomes_a_few_smooth_arcs() {
        let points: Vec<Point> = (0..400)
            .map(|i| f64::from(i) / 400.0 * std::f64::consts::TAU)
            .map(|t| point(3000.0 * t.cos(), 1800.0 * t.sin()))
            .collect();
        let arcs = pieces(&fitted(&points, true), true);
        assert!((8..60).contains(&arcs.len()), "{}", arcs.len());
        assert!(off(&points, &arcs) <= FIT_MM);
        for (p, q) in arcs.iter().zip(arcs.iter().cycle().skip(1)) {
            assert!(cross(p.end_way(), q.start_way()).abs() < 0.002, "{p:?} {q:?}");
        }
    }

    #[test]
    fn samples_of_a_circle_give_its_radius_back() {
        let points: Vec<Point> =
            (0..=90).map(|i| f64::from(i).to_radians()).map(|t| point(2000.0 * t.cos(), 2000.0 * t.sin())).collect();
        let arcs = pieces(&fitted(&points, false), false);
        assert!(arcs.len() <= 4, "{arcs:?}");
        assert!(arcs.iter().all(|p| (p.arc().unwrap().radius - 2000.0).abs() < 0.01));
    }

    #[test]
    fn corners_and_straight_stretches_stay() {
        let points = [point(0.0, 0.0), point(1000.0, 0.0), point(1000.0, 500.0), point(0.0, 500.0)];
        let lines = pieces(&fitted(&points, true), true);
        assert!(lines.iter().all(|p| p.arc().is_none()));
        for p in points {
            assert!(lines.iter().any(|l| l.a == p), "{p:?}");
        }
        assert!(fitted(&[point(0.0, 0.0)], true).len() <= 1);
        assert!(fitted(&[], false).is_empty());
    }
}
