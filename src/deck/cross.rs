//! Does a chain of segments cross itself? Near-linear on ordinary plans, and bounded on all others.

use geo::line_intersection::{LineIntersection, line_intersection};
use geo::{Coord, Line};

use crate::base::Point;

use super::grid::{Grid, cells};

/// Segment pairs that may be compared before the search gives up: 50 a segment and 100 000 at least. Ordinary outlines
/// need fewer than ten a segment.
const PAIRS_PER_SEGMENT: usize = 50;

/// What the search for a crossing found.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Crossing {
    /// The chain is simple.
    None,
    /// It crosses or touches itself here.
    At(Point),
    /// So many segments lie on each other that the search was given up here.
    TooMany(Point),
}

/// Looks for the first place where a chain touches itself other than at the joints of neighbours.
///
/// `closed` makes the last segment a neighbour of the first.
pub fn first_crossing(segments: &[(Point, Point)], closed: bool) -> Crossing {
    let mut found = Crossing::None;
    let given_up = visit(segments, closed, |at| {
        found = Crossing::At(at);
        false
    });
    given_up.map_or(found, Crossing::TooMany)
}

/// Whether a chain touches itself at most so many times, told without looking for more.
pub fn crosses_at_most(segments: &[(Point, Point)], closed: bool, most: usize) -> bool {
    let mut count = 0;
    let given_up = visit(segments, closed, |_| {
        count += 1;
        count <= most
    });
    given_up.is_none() && count <= most
}

/// Visits the places where a chain touches itself until `go_on` says no; gives the place where the search was given up.
fn visit(segments: &[(Point, Point)], closed: bool, mut go_on: impl FnMut(Point) -> bool) -> Option<Point> {
    let (first, _) = segments.first()?;
    let total: f64 = segments.iter().map(|(a, b)| (b.x - a.x).abs() + (b.y - a.y).abs()).sum();
    let cell = (total / segments.len() as f64).max(1.0);
    let mut grid = Grid::with_room(2 * segments.len());
    let budget = 100_000 + PAIRS_PER_SEGMENT * segments.len();
    let mut compared = 0;
    let last = segments.len() - 1;
    for (i, segment) in segments.iter().enumerate() {
        for key in cells(*segment, cell) {
            for j in grid.at(key) {
                let neighbours = i - j == 1 || (closed && j == 0 && i == last);
                compared += 1;
                if compared > budget {
                    return Some(segment.0);
                }
                if let Some(other) = segments.get(j)
                    && let Some(at) = touch(*segment, *other, neighbours)
                    && !go_on(at)
                {
                    return None;
                }
            }
            grid.put(key, i);
            if grid.count() > budget {
                return Some(*first);
            }
        }
    }
    None
}

fn touch(s: (Point, Point), t: (Point, Point), neighbours: bool) -> Option<Point> {
    let line = |(a, b): (Point, Point)| Line::new(Coord { x: a.x, y: a.y }, Coord { x: b.x, y: b.y });
    match line_intersection(line(s), line(t))? {
        // Neighbours share their joint.
        LineIntersection::SinglePoint { intersection, .. } => (!neighbours).then_some(intersection),
        LineIntersection::Collinear { intersection } => {
            let length = (intersection.end.x - intersection.start.x).hypot(intersection.end.y - intersection.start.y);
            (!neighbours || length > 1e-6).then_some(intersection.start)
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::base::plane::point;

    fn ring(points: &[(f64, f64)]) -> Vec<(Point, Point)> {
        let p: Vec<Point> = points.iter().map(|(x, y)| point(*x, *y)).collect();
        p.iter().copied().zip(p.iter().copied().cycle().skip(1)).collect()
    }

    #[test]
    fn a_simple_ring_has_none_and_a_bow_tie_has_one() {
        let l = ring(&[(0., 0.), (240., 0.), (240., 120.), (120., 120.), (120., 240.), (0., 240.)]);
        assert_eq!(first_crossing(&l, true), Crossing::None);
        let bow = ring(&[(0., 0.), (100., 100.), (100., 0.), (0., 100.)]);
        assert_eq!(first_crossing(&bow, true), Crossing::At(point(50., 50.)));
        let spike = ring(&[(0., 0.), (100., 0.), (100., 50.), (100., -50.), (0., -50.)]);
        assert!(matches!(first_crossing(&spike, true), Crossing::At(_)));
    }

    #[test]
    fn a_million_segments_stay_near_linear() {
        let n = 1_000_000;
        let points: Vec<(f64, f64)> = (0..n)
            .map(|i| {
                let a = f64::from(i) / f64::from(n) * std::f64::consts::TAU;
                (1e6 * a.cos(), 1e6 * a.sin())
            })
            .collect();
        assert_eq!(first_crossing(&ring(&points), true), Crossing::None);
    }

    #[test]
    fn segments_heaped_on_each_other_end_the_search() {
        let heap: Vec<_> =
            (0..2000).map(|i| (point(0., f64::from(i) * 1e-3), point(1000., f64::from(i) * 1e-3))).collect();
        assert!(matches!(first_crossing(&heap, false), Crossing::TooMany(_)));
    }
}
