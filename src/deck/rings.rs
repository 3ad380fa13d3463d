//! Closed outlines, found by a point: a plan may have a hundred thousand of them.

use geo::{Area, Contains, Distance, Euclidean, LineString, Polygon};

use crate::base::{Extent, Near, Point};

use super::model::{CHORD_MM, Edge};

/// A closed outline.
#[derive(Debug, Clone, PartialEq)]
struct Ring {
    outline: Polygon<f64>,
    /// Positive counter-clockwise.
    area: f64,
}

impl Extent for Ring {
    fn extent(&self) -> impl Iterator<Item = Point> {
        self.outline.exterior().coords().copied()
    }
}

/// Closed outlines.
#[derive(Debug, Clone, Default, PartialEq)]
pub struct Rings(Near<Ring>);

impl Rings {
    /// Those of these edges, by number.
    pub fn new<'a>(rings: impl Iterator<Item = &'a [Edge]>) -> Self {
        let ring = |edges: &[Edge]| {
            let points = edges.iter().take(1).map(|e| e.a).chain(edges.iter().flat_map(|e| e.piece().flat(CHORD_MM)));
            let outline = Polygon::new(points.collect::<LineString<f64>>(), Vec::new());
            Ring { area: outline.signed_area(), outline }
        };
        Self(rings.map(ring).collect::<Vec<_>>().into())
    }

    /// Those of these corners.
    pub fn of_corners(outlines: impl Iterator<Item = Vec<Point>>) -> Self {
        let ring = |corners: Vec<Point>| {
            let outline = Polygon::new(corners.into_iter().collect::<LineString<f64>>(), Vec::new());
            Ring { area: outline.signed_area(), outline }
        };
        Self(outlines.map(ring).collect::<Vec<_>>().into())
    }

    /// The outlines that a point is in.
    fn around(&self, p: Point) -> impl Iterator<Item = &Ring> {
        let near = self.0.around([p], 0.0).map(|(_, ring)| ring);
        near.filter(move |ring| ring.outline.contains(&geo::Point::from(p)))
    }

    /// Area within one of them, in mm².
    pub fn area(&self, number: usize) -> f64 {
        self.0.get(number).map_or(0.0, |ring| ring.area.abs())
    }

    /// Of the outlines larger than one of them, the first that all of these points of it are in or on, within a tolerance.
    pub fn larger_around(&self, number: usize, points: &[Point], tolerance: f64) -> Option<usize> {
        let own = self.0.get(number)?.area.abs();
        let first = points.first()?;
        let holds = |ring: &Ring| {
            points.iter().all(|p| {
                let p = geo::Point::from(*p);
                ring.outline.contains(&p) || Euclidean.distance(ring.outline.exterior(), &p) <= tolerance
            })
        };
        let mut near = self.0.around([*first], tolerance);
        near.find(|(i, ring)| *i != number && ring.area.abs() > own && holds(ring)).map(|(i, _)| i)
    }

    /// Whether a point is in any of them.
    pub fn hold(&self, p: Point) -> bool {
        self.around(p).next().is_some()
    }

    /// Whether one of them, by its number and the middle of an edge of it, has its deck on the right: inside of an odd
    /// number of larger ones it is a hole in the deck, which then lies outside of it.
    pub fn deck_is_right(&self, number: usize, middle: Point) -> bool {
        let area = self.0.get(number).map_or(0.0, |ring| ring.area);
        let larger = self.around(middle).filter(|ring| ring.area.abs() > area.abs()).count();
        (area < 0.0) == larger.is_multiple_of(2)
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::base::plane::point;

    fn square(low: Point, side: f64) -> Vec<Edge> {
        let corners = [(0.0, 0.0), (side, 0.0), (side, side), (0.0, side)].map(|(x, y)| low + point(x, y));
        corners.iter().zip(corners.iter().cycle().skip(1)).map(Edge::straight).collect()
    }

    #[test]
    fn holes_are_told_from_decks_among_many() {
        // A large outline around a field of holes with an island in each; as slow as their square, this would take hours.
        let places = || (0..300_u32).flat_map(|x| (0..300_u32).map(move |y| point(f64::from(x), f64::from(y)) * 20.0));
        let mut outlines = vec![square(point(-10.0, -10.0), 6000.0)];
        outlines.extend(places().flat_map(|low| [square(low, 9.0), square(low + point(2.0, 2.0), 4.0)]));
        let rings = Rings::new(outlines.iter().map(Vec::as_slice));
        assert!(!rings.deck_is_right(0, point(2990.0, -10.0)), "drawn counter-clockwise: its deck is on the left");
        for (n, low) in places().enumerate() {
            assert!(rings.deck_is_right(2 * n + 1, low + point(4.5, 0.0)));
            assert!(!rings.deck_is_right(2 * n + 2, low + point(4.0, 2.0)));
        }
        assert!(rings.hold(point(15.0, 15.0)) && !rings.hold(point(-11.0, 15.0)));
    }
}
