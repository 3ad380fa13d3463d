//! Filled outlines as triangles and quadrilaterals, which every version can draw.

use crate::base::Point;
use crate::base::plane::cross;

/// Corners of SOLIDs that together fill a simple outline; a triangle repeats its last corner.
pub(super) fn pieces(outline: &[Point]) -> Vec<[Point; 4]> {
    let mut points: Vec<Point> = Vec::with_capacity(outline.len());
    for p in outline {
        if points.last() != Some(p) {
            points.push(*p);
        }
    }
    if points.len() > 1 && points.first() == points.last() {
        points.pop();
    }
    if doubled_area(&points) < 0.0 {
        points.reverse();
    }
    match *points.as_slice() {
        [a, b, c] => vec![[a, b, c, c]],
        [a, b, c, d] if is_convex(&points) => vec![[a, b, c, d]],
        _ => ears(points),
    }
}

fn doubled_area(points: &[Point]) -> f64 {
    sides(points).map(|(a, b)| cross(a, b)).sum()
}

fn sides(points: &[Point]) -> impl Iterator<Item = (Point, Point)> {
    points.iter().copied().zip(points.iter().copied().cycle().skip(1))
}

fn is_convex(points: &[Point]) -> bool {
    sides(points).zip(points.iter().cycle().skip(2)).all(|((a, b), c)| cross(b - a, *c - b) >= 0.0)
}

/// Cuts ears off a counter-clockwise outline until nothing is left (G. H. Meisters, "Polygons have ears", 1975).
fn ears(mut points: Vec<Point>) -> Vec<[Point; 4]> {
    let mut pieces = Vec::new();
    while points.len() >= 3 {
        // A crossed outline has no ear: what is left of it stays empty instead of being filled wrongly.
        let Some((index, corners)) = (0..points.len()).find_map(|i| Some((i, ear(&points, i)?))) else { break };
        let [a, b, c] = corners;
        if cross(b - a, c - b) > 0.0 {
            pieces.push([a, b, c, c]);
        }
        points.remove(index);
    }
    pieces
}

/// The triangle at a corner, if it is an ear: turned left or flat, with no other corner inside.
fn ear(points: &[Point], index: usize) -> Option<[Point; 3]> {
    let n = points.len();
    let [a, b, c] = [points.get((index + n - 1) % n)?, points.get(index)?, points.get((index + 1) % n)?];
    let inside = |p: &Point| [(a, b), (b, c), (c, a)].iter().all(|(from, to)| cross(**to - **from, *p - **from) >= 0.0);
    let is_corner = |p: &Point| p == a || p == b || p == c;
    (cross(*b - *a, *c - *b) >= 0.0 && !points.iter().any(|p| !is_corner(p) && inside(p))).then_some([*a, *b, *c])
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::base::plane::point;

    fn filled_area(outline: &[(f64, f64)]) -> (usize, f64) {
        let points: Vec<Point> = outline.iter().map(|(x, y)| point(*x, *y)).collect();
        let pieces = pieces(&points);
        (pieces.len(), pieces.iter().map(|piece| doubled_area(piece) / 2.0).sum())
    }

    /// Areas by the shoelace formula (common practice).
    #[test]
    fn the_pieces_cover_the_outline() {
        assert_eq!(filled_area(&[(0.0, 0.0), (2.0, 0.0), (0.0, 2.0)]), (1, 2.0));
        assert_eq!(filled_area(&[(0.0, 0.0), (0.0, 2.0), (2.0, 2.0), (2.0, 0.0), (0.0, 0.0)]), (1, 4.0));
        let arrow = [(0.0, 0.0), (4.0, 2.0), (0.0, 4.0), (1.0, 2.0)];
        assert_eq!(filled_area(&arrow), (2, 6.0));
        let angle = [(0.0, 0.0), (3.0, 0.0), (3.0, 1.0), (1.0, 1.0), (1.0, 3.0), (0.0, 3.0)];
        assert_eq!(filled_area(&angle), (4, 5.0));
    }

    #[test]
    fn what_has_no_area_is_not_filled() {
        assert_eq!(filled_area(&[(0.0, 0.0), (1.0, 0.0)]), (0, 0.0));
        assert_eq!(filled_area(&[]).0, 0);
    }
}
