//! Straight and circular pieces of a line in the plan, given as DXF gives them: two ends and a bulge.

use std::f64::consts::{PI, TAU};

use super::plane::{angle_of, cross, distance, dot, left, meet, norm, right, to_segment, turned, unit};
use super::{Angle, Point};

/// An arc that leaves its chord by less than this (1 µm) is straight: its radius would be no number to rely on.
const FLAT_MM: f64 = 1e-3;

/// Smallest radius of an arc that is left after an offset, in mm: below it no rail bends.
const LEAST_RADIUS_MM: f64 = 1.0;

/// Sweeps smaller than this are none, in radians.
const NO_SWEEP: f64 = 1e-9;

/// A straight or circular piece from `a` to `b`.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Piece {
    /// Start.
    pub a: Point,
    /// End.
    pub b: Point,
    /// Tangent of a quarter of the arc's angle, positive counter-clockwise (DXF reference, LWPOLYLINE group 42); 0 is
    /// straight.
    pub bulge: f64,
}

/// The circle of a curved piece.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Arc {
    /// Centre.
    pub centre: Point,
    /// Radius in mm.
    pub radius: f64,
    /// From the centre to the start.
    pub spoke: Point,
    /// Angle from start to end in radians, counter-clockwise positive.
    pub sweep: f64,
}

/// An angle in radians within half a turn of 0.
fn folded(radians: f64) -> f64 {
    Angle::from_radians(radians).folded(Angle::from_radians(TAU)).radians()
}

impl Piece {
    /// From `a` straight to `b`.
    pub const fn straight(a: Point, b: Point) -> Self {
        Self { a, b, bulge: 0.0 }
    }

    /// Its circle; `None` when it is straight.
    pub fn arc(&self) -> Option<Arc> {
        if self.bulge == 0.0 || !self.bulge.is_finite() {
            return None;
        }
        let chord = self.b - self.a;
        let length = norm(chord);
        if (self.bulge * length).abs() / 2.0 < FLAT_MM {
            return None;
        }
        let square = self.bulge * self.bulge;
        let centre = (self.a + self.b) / 2.0 + left(chord) * ((1.0 - square) / (4.0 * self.bulge));
        Some(Arc {
            centre,
            radius: length * (1.0 + square) / (4.0 * self.bulge.abs()),
            spoke: self.a - centre,
            sweep: 4.0 * self.bulge.atan(),
        })
    }

    /// Length along it, in mm.
    pub fn length(&self) -> f64 {
        self.arc().map_or_else(|| distance(self.a, self.b), |arc| arc.radius * arc.sweep.abs())
    }

    /// The point at a distance along it; beyond its ends it goes on along its line or circle.
    pub fn at(&self, along: f64) -> Point {
        match self.arc() {
            None => self.a + unit(self.b - self.a) * along,
            Some(arc) => arc.at(along / arc.radius * arc.sweep.signum()),
        }
    }

    /// Direction at a distance along it.
    pub fn way(&self, along: f64) -> Point {
        match self.arc() {
            None => unit(self.b - self.a),
            Some(arc) => {
                let turn = along / arc.radius * arc.sweep.signum();
                unit(left(turned(arc.spoke, Angle::from_radians(turn)))) * arc.sweep.signum()
            }
        }
    }

    /// Direction at its start.
    pub fn start_way(&self) -> Point {
        self.way(0.0)
    }

    /// Direction at its end.
    pub fn end_way(&self) -> Point {
        self.way(self.length())
    }

    /// The same piece walked the other way.
    pub const fn reversed(&self) -> Self {
        Self { a: self.b, b: self.a, bulge: -self.bulge }
    }

    /// The part between two distances along it.
    pub fn part(&self, from: f64, to: f64) -> Self {
        let bulge = self.arc().map_or(0.0, |arc| ((to - from) / arc.radius * arc.sweep.signum() / 4.0).tan());
        Self { a: self.at(from), b: self.at(to), bulge }
    }

    /// Moved to the right by a distance in mm: a line stays a line, an arc an arc about the same centre. `None` when no
    /// radius is left.
    pub fn moved_right(&self, by: f64) -> Option<Self> {
        let Some(arc) = self.arc() else {
            let n = right(unit(self.b - self.a)) * by;
            return Some(Self::straight(self.a + n, self.b + n));
        };
        let radius = arc.radius + by * arc.sweep.signum();
        let scale = radius / arc.radius;
        let moved = |p: Point| arc.centre + (p - arc.centre) * scale;
        (radius >= LEAST_RADIUS_MM).then(|| Self { a: moved(self.a), b: moved(self.b), bulge: self.bulge })
    }

    /// The same line or circle between other ends; `None` when it would run backwards, or nothing would be left.
    pub fn between(&self, a: Point, b: Point) -> Option<Self> {
        let Some(arc) = self.arc() else {
            return (dot(b - a, self.b - self.a) > 0.0).then(|| Self::straight(a, b));
        };
        let turn = |from: Point, to: Point| {
            folded(angle_of(to - arc.centre).radians() - angle_of(from - arc.centre).radians())
        };
        let sweep = arc.sweep + turn(self.b, b) - turn(self.a, a);
        (sweep * arc.sweep.signum() > NO_SWEEP && sweep.abs() < TAU).then(|| Self { a, b, bulge: (sweep / 4.0).tan() })
    }

    /// Where the endless lines or full circles of two pieces meet.
    pub fn carriers_meet(&self, other: &Self) -> [Option<Point>; 2] {
        match (self.arc(), other.arc()) {
            (None, None) => {
                let u = self.b - self.a;
                [meet(self.a, u, other.a, other.b - other.a).map(|t| self.a + u * t), None]
            }
            (Some(arc), None) => arc.meets_line(other.a, unit(other.b - other.a)),
            (None, Some(arc)) => arc.meets_line(self.a, unit(self.b - self.a)),
            (Some(arc), Some(second)) => arc.meets_circle(&second),
        }
    }

    /// Distance of a point from it, and the distance along it of the nearest place.
    pub fn nearest(&self, p: Point) -> (f64, f64) {
        let Some(arc) = self.arc() else {
            let (d, t) = to_segment(p, self.a, self.b);
            return (d, t * distance(self.a, self.b));
        };
        let turn = arc.turn_to(p);
        if turn <= arc.sweep.abs() {
            return ((distance(p, arc.centre) - arc.radius).abs(), turn * arc.radius);
        }
        let (to_a, to_b) = (distance(p, self.a), distance(p, self.b));
        if to_a <= to_b { (to_a, 0.0) } else { (to_b, self.length()) }
    }

    /// How many equal chords it is cut into, so that none is off by more than `tolerance` mm; a straight one is one chord.
    fn chords(&self, tolerance: f64) -> i32 {
        let Some(arc) = self.arc() else { return 1 };
        let step = 2.0 * (1.0 - tolerance / arc.radius.max(tolerance)).clamp(-1.0, 1.0).acos();
        (arc.sweep.abs() / step.clamp(1e-4, PI / 4.0)).ceil().max(2.0) as i32
    }

    /// Distances along it that cut it into chords none of which is off by more than `tolerance` mm; its start is not
    /// among them, its end is.
    pub fn steps(&self, tolerance: f64) -> impl Iterator<Item = f64> + use<> {
        let (count, length) = (self.chords(tolerance), self.length());
        (1..=count).map(move |k| length * (f64::from(k) / f64::from(count)))
    }

    /// Its chords within `tolerance` mm, as the points after its start.
    pub fn flat(&self, tolerance: f64) -> impl Iterator<Item = Point> + use<> {
        let (piece, count) = (*self, self.chords(tolerance));
        let length = if count > 1 { self.length() } else { 0.0 };
        // The end is kept to the bit, so that neighbours meet.
        (1..count).map(move |k| piece.at(length * (f64::from(k) / f64::from(count)))).chain([self.b])
    }
}

impl Arc {
    /// The point at an angle from the start.
    fn at(&self, turn: f64) -> Point {
        self.centre + turned(self.spoke, Angle::from_radians(turn))
    }

    /// Angle from the start to the direction of `p`, in the arc's own direction: 0 to a full turn.
    fn turn_to(&self, p: Point) -> f64 {
        let v = p - self.centre;
        let turn = cross(self.spoke, v).atan2(dot(self.spoke, v)) * self.sweep.signum();
        turn.rem_euclid(TAU)
    }

    /// Distance along the arc, from its start, to the direction of `p`; nearest to `about` of all whole turns.
    pub fn along_to(&self, p: Point, about: f64) -> f64 {
        let turn = self.turn_to(p);
        let whole = ((about / self.radius - turn) / TAU).round();
        (turn + whole * TAU) * self.radius
    }

    /// Where its circle meets the line through `p` with unit direction `u`.
    pub fn meets_line(&self, p: Point, u: Point) -> [Option<Point>; 2] {
        let foot = p + u * dot(self.centre - p, u);
        let square = self.radius * self.radius - dot(foot - self.centre, foot - self.centre);
        if square < 0.0 {
            return [None, None];
        }
        let half = square.sqrt();
        [Some(foot - u * half), Some(foot + u * half)]
    }

    fn meets_circle(&self, other: &Self) -> [Option<Point>; 2] {
        let way = other.centre - self.centre;
        let apart = norm(way);
        if apart <= NO_SWEEP * self.radius {
            return [None, None];
        }
        let along = (apart * apart + self.radius * self.radius - other.radius * other.radius) / (2.0 * apart);
        let square = self.radius * self.radius - along * along;
        if square < 0.0 {
            return [None, None];
        }
        let (u, half) = (way / apart, square.sqrt());
        let foot = self.centre + u * along;
        [Some(foot - left(u) * half), Some(foot + left(u) * half)]
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::base::plane::point;

    fn near(a: Point, b: Point) -> bool {
        distance(a, b) < 1e-9
    }

    /// Check value (closed form): chord 144 with bulge 1 is r 72; moved 3 inward (141,96) -> (3,96), bulge 1.
    #[test]
    fn a_half_circle_moved_inward() {
        // From the right end over the top to the left: counter-clockwise, so the deck is on the left, -3 to the right.
        let half = Piece { a: point(144.0, 96.0), b: point(0.0, 96.0), bulge: 1.0 };
        let arc = half.arc().unwrap();
        assert!((arc.radius - 72.0).abs() < 1e-12 && near(arc.centre, point(72.0, 96.0)));
        assert!((half.length() - 72.0 * PI).abs() < 1e-9);
        let moved = half.moved_right(-3.0).unwrap();
        assert!(near(moved.a, point(141.0, 96.0)) && near(moved.b, point(3.0, 96.0)) && moved.bulge == 1.0);
        assert!(near(half.at(36.0 * PI), point(72.0, 168.0)));
        assert!(near(half.start_way(), point(0.0, 1.0)) && near(half.end_way(), point(0.0, -1.0)));
        assert_eq!(half.moved_right(-72.0), None);
        assert!(half.reversed().moved_right(3.0).is_some_and(|m| near(m.a, point(3.0, 96.0))));
    }

    #[test]
    fn parts_keep_the_circle() {
        let arc = Piece { a: point(10.0, 0.0), b: point(0.0, 10.0), bulge: (PI / 8.0).tan() };
        let part = arc.part(arc.length() / 3.0, arc.length());
        assert!((part.arc().unwrap().radius - 10.0).abs() < 1e-9);
        assert!((part.length() - arc.length() * 2.0 / 3.0).abs() < 1e-9);
        let longer = arc.between(arc.a, point(-10.0, 0.0)).unwrap();
        assert!((longer.length() - 10.0 * PI).abs() < 1e-9);
        assert_eq!(arc.between(arc.a, point(9.0, -1.0)), None);
        let (d, s) = arc.nearest(point(20.0, 20.0));
        assert!((d - (800.0_f64.sqrt() - 10.0)).abs() < 1e-9 && (s - arc.length() / 2.0).abs() < 1e-9);
        assert!((arc.nearest(point(10.0, -5.0)).0 - 5.0).abs() < 1e-9);
    }

    #[test]
    fn carriers_meet_where_line_and_circle_do() {
        let arc = Piece { a: point(5.0, 0.0), b: point(-5.0, 0.0), bulge: 1.0 };
        let line = Piece::straight(point(3.0, 9.0), point(3.0, 8.0));
        let met: Vec<_> = line.carriers_meet(&arc).into_iter().flatten().collect();
        assert!(met.iter().any(|p| near(*p, point(3.0, 4.0))) && met.iter().any(|p| near(*p, point(3.0, -4.0))));
        let other = Piece { a: point(11.0, 0.0), b: point(1.0, 0.0), bulge: 1.0 };
        let met: Vec<_> = arc.carriers_meet(&other).into_iter().flatten().collect();
        assert!(met.iter().all(|p| (p.x - 3.0).abs() < 1e-9) && met.len() == 2);
    }

    #[test]
    fn chords_stay_within_the_tolerance() {
        let arc = Piece { a: point(1000.0, 0.0), b: point(-1000.0, 0.0), bulge: 1.0 };
        let points: Vec<Point> = arc.flat(0.1).collect();
        assert_eq!(points.last(), Some(&arc.b));
        let mut before = arc.a;
        for p in points {
            assert!(norm((before + p) / 2.0) > 999.9 - 1e-9);
            before = p;
        }
    }
}
