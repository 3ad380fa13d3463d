//! What of a shape lies in an upright window: for shapes that are drawn on paper, where no CAD program cuts them off.

use crate::base::plane::{self, point};
use crate::base::{Angle, Point};
use crate::sheet::{Dimension, Item, Shape};

/// An upright window: lower left and upper right corner.
pub(super) type Window = (Point, Point);

/// Chords of a whole circle that is cut off: at 15 mm on paper they stay within 0.03 mm of it (1 - cos(360/72/2)).
const CHORDS: f64 = 72.0;

/// The parts of an item in the window. What is inside as a whole stays as it is; a text stands or falls with its
/// insertion point.
pub(super) fn within(item: &Item, window: Window) -> Vec<Item> {
    shapes(&item.shape, window).into_iter().map(|shape| Item { shape, ..item.clone() }).collect()
}

fn shapes(shape: &Shape, window: Window) -> Vec<Shape> {
    match shape {
        Shape::Line(a, b) => segment(*a, *b, window).map(|(a, b)| Shape::Line(a, b)).into_iter().collect(),
        Shape::Path { points, .. } if points.iter().all(|p| is_inside(*p, window)) => vec![shape.clone()],
        Shape::Path { points, filled: true, .. } => {
            let points = area(points, window);
            if points.len() < 3 { Vec::new() } else { vec![Shape::Path { points, closed: true, filled: true }] }
        }
        Shape::Path { points, closed, .. } => chain(points, *closed, window),
        Shape::Circle { centre, radius } => round(shape, (*centre, *radius), (0.0, 360.0), window),
        Shape::Arc { centre, radius, from, to } => {
            let sweep = (*to - *from).degrees().rem_euclid(360.0);
            round(shape, (*centre, *radius), (from.degrees(), sweep), window)
        }
        Shape::Text(text) => {
            if is_inside(text.at, window) {
                vec![shape.clone()]
            } else {
                Vec::new()
            }
        }
        Shape::Paragraph(lines) if lines.iter().all(|line| is_inside(line.at, window)) => vec![shape.clone()],
        Shape::Paragraph(lines) => {
            let seen = lines.iter().filter(|line| is_inside(line.at, window));
            seen.map(|line| Shape::Text(line.clone())).collect()
        }
        Shape::Dimension(dimension) => measured(dimension, window),
        Shape::Post(post) => block(shape, &post.corners(), window),
        Shape::Tag(tag) => block(shape, &tag.corners(), window),
    }
}

/// A block as such if it is inside, else what of its outline is.
fn block(shape: &Shape, corners: &[Point], window: Window) -> Vec<Shape> {
    let all = corners.iter().all(|p| is_inside(*p, window));
    if all { vec![shape.clone()] } else { chain(corners, true, window) }
}

fn is_inside(p: Point, (low, high): Window) -> bool {
    p.x >= low.x && p.x <= high.x && p.y >= low.y && p.y <= high.y
}

/// What of a straight line is inside (Y.-D. Liang, B. A. Barsky, "A new concept and method for line clipping", 1984).
fn segment(a: Point, b: Point, (low, high): Window) -> Option<(Point, Point)> {
    let d = b - a;
    let (mut from, mut to) = (0.0_f64, 1.0_f64);
    for (towards, room) in [(-d.x, a.x - low.x), (d.x, high.x - a.x), (-d.y, a.y - low.y), (d.y, high.y - a.y)] {
        if towards < 0.0 {
            from = from.max(room / towards);
        } else if towards > 0.0 {
            to = to.min(room / towards);
        } else if room < 0.0 {
            return None;
        }
    }
    let at = |t: f64| {
        if t <= 0.0 {
            a
        } else if t >= 1.0 {
            b
        } else {
            a + d * t
        }
    };
    (from < to).then(|| (at(from), at(to)))
}

/// What of a chain is inside: the pieces between one crossing of the border and the next.
fn chain(points: &[Point], closed: bool, window: Window) -> Vec<Shape> {
    let back = points.last().zip(points.first()).filter(|_| closed).map(|(a, b)| (*a, *b));
    let edges = points.iter().zip(points.iter().skip(1)).map(|(a, b)| (*a, *b)).chain(back);
    let mut pieces: Vec<Vec<Point>> = Vec::new();
    for (a, b) in edges.filter_map(|(a, b)| segment(a, b, window)) {
        match pieces.last_mut() {
            Some(piece) if piece.last() == Some(&a) => piece.push(b),
            _ => pieces.push(vec![a, b]),
        }
    }
    pieces.into_iter().map(|points| Shape::Path { points, closed: false, filled: false }).collect()
}

/// What of an area is inside (I. E. Sutherland, G. W. Hodgman, "Reentrant polygon clipping", 1974).
fn area(points: &[Point], (low, high): Window) -> Vec<Point> {
    // Distance inside each border.
    let borders: [&dyn Fn(Point) -> f64; 4] =
        [&|p| p.x - low.x, &|p| high.x - p.x, &|p| p.y - low.y, &|p| high.y - p.y];
    let mut points = points.to_vec();
    for inside in borders {
        let edges = points.iter().zip(points.iter().cycle().skip(1));
        points = edges
            .flat_map(|(a, b)| {
                let (from, to) = (inside(*a), inside(*b));
                let crossing = ((from < 0.0) != (to < 0.0)).then(|| *a + (*b - *a) * (from / (from - to)));
                [(from >= 0.0).then_some(*a), crossing]
            })
            .flatten()
            .collect();
    }
    points
}

/// A circle or arc (from, sweep in degrees): as it is if its circle is inside, else as chords.
fn round(shape: &Shape, (centre, radius): (Point, f64), (from, sweep): (f64, f64), window: Window) -> Vec<Shape> {
    let reach = point(radius, radius);
    if is_inside(centre - reach, window) && is_inside(centre + reach, window) {
        return vec![shape.clone()];
    }
    let steps = (sweep / 360.0 * CHORDS).ceil().max(1.0);
    let turn = |i: u32| Angle::from_degrees(from + sweep * f64::from(i) / steps);
    let points: Vec<Point> = (0..=steps as u32).map(|i| centre + plane::direction(turn(i)) * radius).collect();
    chain(&points, false, window)
}

/// A dimension as such if all of it is inside, else what is.
fn measured(dimension: &Dimension, window: Window) -> Vec<Shape> {
    let mut ends = dimension.strokes.iter().flat_map(|(a, b)| [*a, *b]);
    let has_text = is_inside(dimension.text_at, window);
    if has_text && ends.all(|p| is_inside(p, window)) {
        return vec![Shape::Dimension(dimension.clone())];
    }
    let strokes = dimension.strokes.iter().filter_map(|(a, b)| segment(*a, *b, window));
    let mut shapes: Vec<Shape> = strokes.map(|(a, b)| Shape::Line(a, b)).collect();
    shapes.extend(has_text.then(|| Shape::Text(dimension.text_spec())));
    shapes
}

#[cfg(test)]
mod tests {
    use super::*;

    const WINDOW: Window = (point(0.0, 0.0), point(10.0, 10.0));

    #[test]
    fn lines_end_at_the_border() {
        let cut = |a: (f64, f64), b: (f64, f64)| segment(a.into(), b.into(), WINDOW);
        assert_eq!(cut((-5.0, 5.0), (15.0, 5.0)), Some((point(0.0, 5.0), point(10.0, 5.0))));
        assert_eq!(cut((1.0, 1.0), (9.0, 2.0)), Some((point(1.0, 1.0), point(9.0, 2.0))));
        assert_eq!(cut((-5.0, 2.0), (2.0, -5.0)), None);
        assert_eq!(cut((-1.0, -5.0), (-1.0, 15.0)), None);
    }

    #[test]
    fn a_chain_that_leaves_and_comes_back_is_two() {
        let points = [(1.0, 1.0), (12.0, 1.0), (12.0, 5.0), (1.0, 5.0)].map(Point::from);
        let pieces = chain(&points, true, WINDOW);
        let of = |points: &[(f64, f64)]| {
            let points = points.iter().copied().map(Point::from).collect();
            Shape::Path { points, closed: false, filled: false }
        };
        assert_eq!(pieces, [of(&[(1.0, 1.0), (10.0, 1.0)]), of(&[(10.0, 5.0), (1.0, 5.0), (1.0, 1.0)])]);
    }

    /// Areas by hand (closed form): a square of 10 about a corner of the window leaves a quarter.
    #[test]
    fn areas_are_cut_to_the_window() {
        let square = [(-5.0, -5.0), (5.0, -5.0), (5.0, 5.0), (-5.0, 5.0)].map(Point::from);
        let inside = area(&square, WINDOW);
        let doubled: f64 = inside.iter().zip(inside.iter().cycle().skip(1)).map(|(a, b)| plane::cross(*a, *b)).sum();
        assert!((doubled / 2.0 - 25.0).abs() < 1e-12, "{inside:?}");
        assert!(area(&square.map(|p| p - point(20.0, 0.0)), WINDOW).is_empty());
    }

    #[test]
    fn a_circle_on_the_border_becomes_chords_within_a_hair() {
        let pieces = shapes(&Shape::Circle { centre: point(10.0, 5.0), radius: 3.0 }, WINDOW);
        let points: Vec<Point> = pieces
            .iter()
            .flat_map(|shape| match shape {
                Shape::Path { points, .. } => points.clone(),
                other => panic!("{other:?}"),
            })
            .collect();
        assert!(points.len() > 30 && points.iter().all(|p| is_inside(*p, WINDOW)));
        assert!(points.iter().all(|p| (plane::distance(*p, point(10.0, 5.0)) - 3.0).abs() < 0.003));
        let whole = Shape::Circle { centre: point(5.0, 5.0), radius: 3.0 };
        assert_eq!(shapes(&whole, WINDOW), [whole]);
    }
}
