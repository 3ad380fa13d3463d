//! The user's plan as a quiet background: what a reader needs to find the rail on the deck.

use crate::base::{Point, plane};
use crate::deck::{Outline, Role};

use super::{Item, Layer, Linetype, Shape};

/// Distance of the strokes across a wall, full-scale mm: 4 in, about 4 mm on paper at usual plan scales.
const POCHE_MM: f64 = 101.6;
/// Strokes in one wall at most; a longer one gets them further apart.
const MOST_STROKES: f64 = 2_000.0;
/// Thickness that a wall's outline is drawn with, full-scale mm: the sheet's one thin pen is too light for a wall.
const WALL_LINE_MM: f64 = 12.0;

/// Background shapes of the user's plan.
pub fn context(outlines: &[Outline]) -> Vec<Item> {
    let mut items = Vec::new();
    for Outline { role, points, closed } in outlines {
        let linetype = (*role == Role::Opening).then_some(Linetype::Hidden);
        if *role == Role::Wall {
            items.extend(edges(points, *closed).filter_map(heavy));
            if *closed {
                items.extend(strokes_across(points).into_iter().map(|(a, b)| item(Shape::Line(a, b), None)));
            }
        } else {
            items.push(item(Shape::Path { points: points.clone(), closed: *closed, filled: false }, linetype));
        }
    }
    items
}

fn item(shape: Shape, linetype: Option<Linetype>) -> Item {
    Item { layer: Layer::Sheet, linetype, object: None, shape }
}

/// A wall's line as a thin solid, so that it prints heavier than the deck's edge.
fn heavy((a, b): (Point, Point)) -> Option<Item> {
    let along = plane::unit(b - a) * (WALL_LINE_MM / 2.0);
    let across = plane::left(along);
    let points = vec![a - along - across, b + along - across, b + along + across, a - along + across];
    (a != b).then(|| item(Shape::Path { points, closed: true, filled: true }, None))
}

fn edges(points: &[Point], closed: bool) -> impl Iterator<Item = (Point, Point)> {
    let last = points.last().zip(points.first()).filter(|_| closed).map(|(a, b)| (*a, *b));
    points.iter().zip(points.iter().skip(1)).map(|(a, b)| (*a, *b)).chain(last)
}

/// Strokes at 45 degrees inside a closed outline, by the even-odd rule.
fn strokes_across(points: &[Point]) -> Vec<(Point, Point)> {
    let slant = plane::unit(plane::point(1.0, 1.0));
    let across = plane::left(slant);
    let reach = plane::bounds(points.iter().map(|p| plane::point(plane::dot(*p, slant), plane::dot(*p, across))));
    let Some((low, high)) = reach else { return Vec::new() };
    let step = POCHE_MM.max((high.y - low.y) / MOST_STROKES);
    let mut strokes = Vec::new();
    let mut level = (low.y / step).floor() * step + step / 2.0;
    while level < high.y {
        let mut cuts: Vec<f64> = edges(points, true)
            .filter_map(|(a, b)| {
                let (from, to) = (plane::dot(a, across) - level, plane::dot(b, across) - level);
                let t = from / (from - to);
                ((from < 0.0) != (to < 0.0)).then(|| plane::dot(a + (b - a) * t, slant))
            })
            .collect();
        cuts.sort_by(f64::total_cmp);
        let pairs = cuts.iter().step_by(2).zip(cuts.iter().skip(1).step_by(2));
        strokes.extend(pairs.map(|(a, b)| (slant * *a + across * level, slant * *b + across * level)));
        level += step;
    }
    strokes
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::base::plane::point;

    #[test]
    fn a_closed_wall_is_hatched_inside_only() {
        let wall = vec![point(0.0, 0.0), point(2000.0, 0.0), point(2000.0, 150.0), point(0.0, 150.0)];
        let items = context(&[Outline { role: Role::Wall, points: wall, closed: true }]);
        let lines: Vec<_> = items
            .iter()
            .filter_map(|i| match i.shape {
                Shape::Line(a, b) => Some((a, b)),
                _ => None,
            })
            .collect();
        assert_eq!(items.len() - lines.len(), 4);
        assert!(lines.len() > 10);
        let inside = |p: &Point| p.x > -1e-6 && p.x < 2000.0 + 1e-6 && p.y > -1e-6 && p.y < 150.0 + 1e-6;
        assert!(lines.iter().all(|(a, b)| inside(a) && inside(b)));
    }

    #[test]
    fn openings_are_dashed_and_edges_are_as_drawn() {
        let edge = vec![point(0.0, 0.0), point(5.0, 0.0)];
        let items =
            context(&[Role::Edge, Role::Opening].map(|role| Outline { role, points: edge.clone(), closed: false }));
        let linetypes: Vec<_> = items.iter().map(|i| i.linetype).collect();
        assert_eq!(linetypes, [None, Some(Linetype::Hidden)]);
        assert!(items.iter().all(|i| i.layer == Layer::Sheet));
    }
}
