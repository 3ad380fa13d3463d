//! A smooth way made of straight and circular pieces, measured along itself.

use crate::base::plane::{cross, distance, dot, unit};
use crate::base::{Extent, Piece, Point};

/// Pieces that turn by less than this where they meet (half a degree) go on smoothly.
const SMOOTH_RAD: f64 = 8.7e-3;

/// Places at which a track is compared with a chord.
const SAMPLES: i32 = 32;

/// One straight piece, or arcs in a row.
#[derive(Debug, Clone, PartialEq)]
pub struct Track {
    pieces: Vec<Piece>,
    /// Where each piece begins, in mm along it, and where the last one ends.
    starts: Vec<f64>,
}

impl Track {
    /// Cuts a row of pieces where a fixed post must stand: at each end of a straight piece, and where arcs meet in a
    /// corner. A ring without such a place comes back as one track.
    pub fn split(pieces: Vec<Piece>) -> Vec<Self> {
        let mut rows: Vec<Vec<Piece>> = Vec::new();
        for piece in pieces {
            match rows.last_mut() {
                Some(row) if row.last().is_some_and(|end| goes_on(end, &piece)) => row.push(piece),
                _ => rows.push(vec![piece]),
            }
        }
        rows.into_iter().map(Self::of).collect()
    }

    fn of(pieces: Vec<Piece>) -> Self {
        let mut end = 0.0;
        let ends = pieces.iter().map(|p| {
            end += p.length();
            end
        });
        let starts = std::iter::once(0.0).chain(ends).collect();
        Self { pieces, starts }
    }

    /// Like [`Track::split`] for pieces that close on themselves: arcs over the beginning are one track.
    pub fn split_ring(mut pieces: Vec<Piece>) -> Vec<Self> {
        let count = pieces.len();
        let before = |i: usize| pieces.get((i + count - 1) % count.max(1));
        let cut = (0..count).find(|i| pieces.get(*i).zip(before(*i)).is_some_and(|(p, b)| !goes_on(b, p)));
        pieces.rotate_left(cut.unwrap_or(0));
        Self::split(pieces)
    }

    /// Whether it is one straight piece.
    pub fn is_straight(&self) -> bool {
        matches!(self.pieces.as_slice(), [piece] if piece.arc().is_none())
    }

    /// Length along it, in mm.
    pub fn length(&self) -> f64 {
        self.starts.last().copied().unwrap_or(0.0)
    }

    /// The piece at a distance along it, and where that is on the piece; beyond the ends, of the first or last piece.
    fn piece_at(&self, along: f64) -> Option<(&Piece, f64)> {
        let last = self.pieces.len().checked_sub(1)?;
        let index = self.starts.partition_point(|s| *s <= along).saturating_sub(1).min(last);
        Some((self.pieces.get(index)?, along - self.starts.get(index)?))
    }

    /// The point at a distance along it.
    pub fn at(&self, along: f64) -> Point {
        self.piece_at(along).map_or(Point { x: 0.0, y: 0.0 }, |(piece, s)| piece.at(s))
    }

    /// Direction at its start.
    pub fn start_way(&self) -> Point {
        self.pieces.first().map_or(Point { x: 1.0, y: 0.0 }, Piece::start_way)
    }

    /// Direction at its end.
    pub fn end_way(&self) -> Point {
        self.pieces.last().map_or(Point { x: 1.0, y: 0.0 }, Piece::end_way)
    }

    /// The part between two distances along it.
    pub fn part(&self, from: f64, to: f64) -> Self {
        let last = self.pieces.len().saturating_sub(1);
        let parts = self.pieces.iter().zip(&self.starts).enumerate().filter_map(|(i, (piece, start))| {
            // Beyond its ends the first and the last piece go on.
            let low = if i == 0 { from - start } else { (from - start).max(0.0) };
            let high = if i == last { to - start } else { (to - start).min(piece.length()) };
            (high > low).then(|| piece.part(low, high))
        });
        Self::of(parts.collect())
    }

    /// Distance of a point from it, and the distance along it of the nearest place.
    pub fn nearest(&self, p: Point) -> (f64, f64) {
        let mut best = (f64::INFINITY, 0.0);
        for (piece, start) in self.pieces.iter().zip(&self.starts) {
            let (d, s) = piece.nearest(p);
            if d < best.0 {
                best = (d, start + s);
            }
        }
        best
    }

    /// How far it leaves the chord from `a` to `b` between two distances along it: to the left (away from the deck) and
    /// to the right. On an arc of radius R with a chord c: R - sqrt(R² - (c/2)²).
    pub fn sagitta(&self, (from, a): (f64, Point), (to, b): (f64, Point)) -> (f64, f64) {
        let u = unit(b - a);
        let off = |k: i32| cross(u, self.at(from + (to - from) * f64::from(k) / f64::from(SAMPLES)) - a);
        let (low, high) = (1..SAMPLES).map(off).fold((0.0, 0.0), |(l, h): (f64, f64), d| (l.min(d), h.max(d)));
        (high, -low)
    }
}

impl Extent for Track {
    fn extent(&self) -> impl Iterator<Item = Point> {
        self.pieces.iter().flat_map(|piece| {
            // Round an arc, the box of its whole circle.
            let circle = piece.arc().map(|arc| {
                let corner = Point { x: arc.radius, y: arc.radius };
                [arc.centre - corner, arc.centre + corner]
            });
            circle.unwrap_or([piece.a, piece.b])
        })
    }
}

/// Two arcs that meet without a corner.
fn goes_on(before: &Piece, after: &Piece) -> bool {
    before.arc().is_some() && after.arc().is_some() && is_smooth(before.end_way(), after.start_way())
}

/// Whether two directions differ by so little that no one sees a corner.
pub fn is_smooth(u: Point, v: Point) -> bool {
    cross(u, v).abs() < SMOOTH_RAD && dot(u, v) > 0.0
}

/// Whether two points are one, for f64.
pub fn same(a: Point, b: Point) -> bool {
    distance(a, b) < 1e-6
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::base::plane::point;

    fn circle(radius: f64) -> Vec<Piece> {
        let (a, b) = (point(radius, 0.0), point(-radius, 0.0));
        vec![Piece { a, b, bulge: -1.0 }, Piece { a: b, b: a, bulge: -1.0 }]
    }

    /// Check value (closed form): R 120 and chord 72 give a sagitta of 5.527 and 34.915 degrees a bay.
    #[test]
    fn sagitta_of_a_chord() {
        let track = Track::split(circle(120.0)).remove(0);
        let turn = 2.0 * (36.0_f64 / 120.0).asin();
        assert!((turn.to_degrees() - 34.915).abs() < 5e-4);
        let along = 120.0 * turn;
        let (a, b) = (track.at(0.0), track.at(along));
        assert!((distance(a, b) - 72.0).abs() < 1e-9);
        let (outward, inward) = track.sagitta((0.0, a), (along, b));
        assert!((outward - 5.527).abs() < 5e-4 && inward == 0.0, "{outward} {inward}");
    }

    #[test]
    fn a_circle_is_one_track_and_a_slot_four() {
        assert_eq!(Track::split_ring(circle(100.0)).len(), 1);
        let slot = vec![
            Piece::straight(point(0.0, 100.0), point(300.0, 100.0)),
            Piece { a: point(300.0, 100.0), b: point(300.0, -100.0), bulge: -1.0 },
            Piece::straight(point(300.0, -100.0), point(0.0, -100.0)),
            Piece { a: point(0.0, -100.0), b: point(0.0, 100.0), bulge: -1.0 },
        ];
        assert_eq!(Track::split_ring(slot).len(), 4);
    }

    #[test]
    fn parts_and_places_follow_the_pieces() {
        let track = Track::split(circle(100.0)).remove(0);
        let half = track.length() / 2.0;
        let part = track.part(half / 2.0, half * 1.5);
        assert_eq!(part.pieces.len(), 2);
        assert!((part.length() - half).abs() < 1e-9);
        assert!(distance(part.at(0.0), point(0.0, -100.0)) < 1e-9);
        let (d, s) = track.nearest(point(0.0, 150.0));
        assert!((d - 50.0).abs() < 1e-9 && (s - half * 1.5).abs() < 1e-9);
    }
}
