//! Closed outlines, found by a point: a plan may have a hundred thousand of them.

use std::collections::BTreeMap;

use geo::{Area, BoundingRect, Contains, LineString, Polygon};

use crate::base::Point;

use super::grid::{Grid, cell_of};
use super::plan::{CHORD_MM, Edge};

/// A closed outline.
struct Ring {
    outline: Polygon<f64>,
    /// Positive counter-clockwise.
    area: f64,
}

/// Closed outlines, each in a grid whose cells are as large as it is, so that it covers four of them at most.
#[derive(Default)]
pub struct Rings {
    all: Vec<Ring>,
    /// By size of the cells, as a power of two in mm.
    grids: BTreeMap<i32, Grid>,
}

fn cell_mm(power: i32) -> f64 {
    f64::from(power).exp2()
}

impl Rings {
    /// Takes up the outline of these edges.
    pub fn add(&mut self, edges: &[Edge]) {
        let points = edges.iter().take(1).map(|e| e.a).chain(edges.iter().flat_map(|e| e.piece().flat(CHORD_MM)));
        let outline = Polygon::new(points.collect::<LineString<f64>>(), Vec::new());
        if let Some(bounds) = outline.bounding_rect() {
            let power = bounds.width().max(bounds.height()).max(1.0).log2().ceil() as i32;
            let grid = self.grids.entry(power).or_default();
            let cell = |p: Point| cell_of(p, cell_mm(power));
            let ((low_x, low_y), (high_x, high_y)) = (cell(bounds.min()), cell(bounds.max()));
            for key in (low_x..=high_x).flat_map(|x| (low_y..=high_y).map(move |y| (x, y))) {
                grid.put(key, self.all.len());
            }
        }
        self.all.push(Ring { area: outline.signed_area(), outline });
    }

    /// The outlines that a point is in.
    fn around(&self, p: Point) -> impl Iterator<Item = &Ring> {
        let near = self.grids.iter().flat_map(move |(power, grid)| grid.at(cell_of(p, cell_mm(*power))));
        near.filter_map(|i| self.all.get(i)).filter(move |ring| ring.outline.contains(&geo::Point::from(p)))
    }

    /// Whether a point is in any of them.
    pub fn hold(&self, p: Point) -> bool {
        self.around(p).next().is_some()
    }

    /// Whether one of them, by its number and the middle of an edge of it, has its deck on the right: inside of an odd
    /// number of larger ones it is a hole in the deck, which then lies outside of it.
    pub fn deck_is_right(&self, number: usize, middle: Point) -> bool {
        let area = self.all.get(number).map_or(0.0, |ring| ring.area);
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
        let mut rings = Rings::default();
        // A large outline around a field of holes with an island in each; as slow as their square, this would take hours.
        rings.add(&square(point(-10.0, -10.0), 6000.0));
        let places = || (0..300_u32).flat_map(|x| (0..300_u32).map(move |y| point(f64::from(x), f64::from(y)) * 20.0));
        for low in places() {
            rings.add(&square(low, 9.0));
            rings.add(&square(low + point(2.0, 2.0), 4.0));
        }
        assert!(!rings.deck_is_right(0, point(2990.0, -10.0)), "drawn counter-clockwise: its deck is on the left");
        for (n, low) in places().enumerate() {
            assert!(rings.deck_is_right(2 * n + 1, low + point(4.5, 0.0)));
            assert!(!rings.deck_is_right(2 * n + 2, low + point(4.0, 2.0)));
        }
        assert!(rings.hold(point(15.0, 15.0)) && !rings.hold(point(-11.0, 15.0)));
    }
}
