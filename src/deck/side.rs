//! On which side of an open edge the deck lies.

use crate::base::plane::{cross, distance, dot, right, to_segment, unit};
use crate::base::{Near, Point};
use crate::catalog::{Inside, Settings};

use super::chain::Loose;
use super::model::{Edge, Wall, WallKind};
use super::rings::Rings;

/// How deep into the deck a sample point is taken beside an edge (1 in).
const SAMPLE_MM: f64 = 25.4;

/// How deep behind a wall along an edge the house is looked for (12 in).
const BEHIND_MM: f64 = 304.8;

/// A wall goes on beyond an edge's end when it does so by this much (6 in).
const GOES_ON_MM: f64 = 152.4;

/// Whether the deck lies on the right of an open chain: on the side of a closed deck outline, else as the job says, else as
/// the walls tell that the chain touches, with both its ends or along it. `None` is never given in silence: the error says
/// why nothing tells.
///
/// # Errors
/// With the reason, as the rest of a sentence, when no wall is touched or two signs contradict each other.
pub fn deck_is_right(
    chain: &Loose,
    rings: &Rings,
    walls: &Near<Wall>,
    houses: &Rings,
    settings: &Settings,
) -> Result<Option<bool>, &'static str> {
    let known = by_outline(chain, rings).or_else(|| settings.inside.map(|side| side == Inside::Right));
    if known.is_some() {
        return Ok(known);
    }
    let touch = settings.touch.millimetres();
    let signs =
        [by_wall_ends(chain, walls, touch), by_returns(chain, walls, touch), by_house(chain, walls, houses, touch)];
    let votes: Vec<bool> = signs.into_iter().flatten().collect();
    match votes.first() {
        None => Err(", since it does not touch a house wall with both its ends or along it"),
        Some(first) if votes.iter().all(|v| v == first) => Ok(Some(*first)),
        Some(_) => Err(", since the walls that it touches contradict each other"),
    }
}

/// An outline that holds exactly one side of every edge's middle.
fn by_outline(chain: &Loose, rings: &Rings) -> Option<bool> {
    let mut votes = chain.edges.iter().map(|e| {
        let piece = e.piece();
        let half = piece.length() / 2.0;
        let (middle, n) = (piece.at(half), right(piece.way(half)) * SAMPLE_MM);
        match (rings.hold(middle + n), rings.hold(middle - n)) {
            (true, false) => Some(true),
            (false, true) => Some(false),
            _ => None,
        }
    });
    let first = votes.next()??;
    votes.all(|v| v == Some(first)).then_some(first)
}

/// Twice the area that a ring of segments encloses (positive counter-clockwise), unless it is too thin to tell: less
/// than a five-hundredth of its length squared, as of a walkway 60 times as long as it is wide.
fn twice_area(ring: impl Iterator<Item = (Point, Point)> + Clone) -> Option<f64> {
    let origin = ring.clone().next()?.0;
    let area: f64 = ring.clone().map(|(a, b)| cross(a - origin, b - origin)).sum();
    let length: f64 = ring.map(|(a, b)| distance(a, b)).sum();
    (area.abs() > 0.002 * length * length).then_some(area)
}

/// Walls of houses that a point touches; a column is none.
fn touched(p: Point, walls: &Near<Wall>, touch: f64) -> impl Iterator<Item = &Wall> {
    let near = walls.around([p], touch).map(|(_, w)| w);
    near.filter(move |w| w.kind != WallKind::Column && to_segment(p, w.a, w.b).0 <= touch)
}

/// Both ends on a wall: the wall closes the chain to an outline.
fn by_wall_ends(chain: &Loose, walls: &Near<Wall>, touch: f64) -> Option<bool> {
    let (start, end) = (chain.edges.first()?.a, chain.edges.last()?.b);
    touched(start, walls, touch).next()?;
    touched(end, walls, touch).next()?;
    let chords: Vec<(Point, Point)> = chain.segments().chain([(end, start)]).collect();
    twice_area(chords.iter().copied()).map(|area| area < 0.0)
}

/// Both ends on walls that go on to one side of the edge only, as those beside a recessed deck do.
fn by_returns(chain: &Loose, walls: &Near<Wall>, touch: f64) -> Option<bool> {
    let (first, last) = (chain.edges.first()?, chain.edges.last()?);
    let (start, end) = (first.piece(), last.piece());
    let side = |p: Point, way: Point| {
        let beyond = touched(p, walls, touch).flat_map(|w| [w.a, w.b]).map(|q| cross(way, q - p));
        let (mut on_left, mut on_right) = (false, false);
        for off in beyond {
            on_left |= off > GOES_ON_MM;
            on_right |= off < -GOES_ON_MM;
        }
        (on_left != on_right).then_some(on_right)
    };
    let a = side(first.a, start.way(0.0))?;
    let b = side(last.b, end.way(end.length()))?;
    (a == b).then_some(a)
}

/// An edge along the wall of a house, which has the house on its other side.
fn by_house(chain: &Loose, walls: &Near<Wall>, houses: &Rings, touch: f64) -> Option<bool> {
    chain.edges.iter().find_map(|edge: &Edge| {
        let piece = edge.piece();
        let (middle, way) = (edge.middle(), piece.way(piece.length() / 2.0));
        let along = |w: &Wall| cross(way, unit(w.b - w.a)).abs() < 0.02 && dot(w.b - w.a, w.b - w.a) > 0.0;
        touched(middle, walls, touch).find(|w| along(w))?;
        let aside = right(way) * BEHIND_MM;
        match (houses.hold(middle + aside), houses.hold(middle - aside)) {
            (true, false) => Some(false),
            (false, true) => Some(true),
            _ => None,
        }
    })
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::base::plane::point;

    fn line(points: &[(f64, f64)]) -> Loose {
        let p: Vec<Point> = points.iter().map(|(x, y)| point(*x, *y)).collect();
        Loose { edges: p.iter().zip(p.iter().skip(1)).map(Edge::straight).collect(), closed: false }
    }

    fn wall(a: (f64, f64), b: (f64, f64)) -> Wall {
        Wall { a: point(a.0, a.1), b: point(b.0, b.1), kind: WallKind::Line }
    }

    #[test]
    fn walls_at_both_ends_tell_the_side_and_others_have_no_say() {
        let front = line(&[(0.0, 0.0), (0.0, -3000.0), (6000.0, -3000.0), (6000.0, 0.0)]);
        let house = wall((-1000.0, 0.0), (7000.0, 0.0));
        let garage = wall((0.0, -4000.0), (6000.0, -4000.0));
        assert_eq!(by_wall_ends(&front, &vec![house, garage].into(), 50.0), Some(false));
        assert_eq!(by_wall_ends(&front, &vec![garage].into(), 50.0), None);
    }

    #[test]
    fn a_recess_has_its_deck_between_the_returns() {
        let front = line(&[(0.0, 0.0), (4000.0, 0.0)]);
        let returns = vec![wall((0.0, -20.0), (0.0, 2000.0)), wall((4000.0, 2000.0), (4000.0, 0.0))];
        assert_eq!(by_returns(&front, &returns.into(), 50.0), Some(false));
        let beyond = vec![wall((0.0, -900.0), (0.0, 2000.0)), wall((4000.0, 2000.0), (4000.0, 0.0))];
        assert_eq!(by_returns(&front, &beyond.into(), 50.0), None);
    }

    #[test]
    fn a_house_along_an_edge_lies_outside() {
        let house = [(0.0, 0.0), (6000.0, 0.0), (6000.0, 5000.0), (0.0, 5000.0)].map(|(x, y)| point(x, y));
        let houses = Rings::of_corners(std::iter::once(house.to_vec()));
        let walls = vec![Wall { kind: WallKind::House, ..wall((0.0, 0.0), (6000.0, 0.0)) }];
        let edge = line(&[(1000.0, 0.0), (5000.0, 0.0), (5000.0, -3000.0)]);
        assert_eq!(by_house(&edge, &walls.into(), &houses, 50.0), Some(true));
    }
}
