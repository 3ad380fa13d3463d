//! On which side of an open edge the deck lies.

use crate::base::plane::{bounds, cross, distance, right, to_segment};
use crate::base::{Near, Point};
use crate::catalog::{Inside, Settings};

use super::chain::Loose;
use super::cross::{Crossing, first_crossing};
use super::plan::Wall;
use super::rings::Rings;

/// How deep into the deck a sample point is taken beside an edge (1 in).
const SAMPLE_MM: f64 = 25.4;

/// Walls around an edge that are asked where the house is, the nearest first; a house has far fewer faces.
const MOST_WALLS: usize = 1_000;

/// Whether the deck lies on the right of an open chain: on the side of a closed deck outline, else as the job says, else
/// on the side of the house wall (a guess, since walls stand on both sides of decks); `None` when nothing tells.
pub fn deck_is_right(chain: &Loose, rings: &Rings, walls: &Near<Wall>, settings: &Settings) -> Option<bool> {
    by_outline(chain, rings).or_else(|| settings.inside.map(|side| side == Inside::Right)).or_else(|| {
        let segments: Vec<(Point, Point)> = chain.segments().collect();
        by_wall_ends(&segments, walls, settings.touch.millimetres())
            .or_else(|| by_nearest_wall(&segments, walls))
            .or_else(|| by_way_to_wall(&segments, walls))
    })
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

/// A chain's chords.
type Segments = [(Point, Point)];

/// Twice the area that a ring of segments encloses (positive counter-clockwise), unless it is too thin to tell: less
/// than a hundredth of its length squared.
fn twice_area(ring: impl Iterator<Item = (Point, Point)> + Clone) -> Option<f64> {
    let origin = ring.clone().next()?.0;
    let area: f64 = ring.clone().map(|(a, b)| cross(a - origin, b - origin)).sum();
    let length: f64 = ring.map(|(a, b)| distance(a, b)).sum();
    (area.abs() > 0.01 * length * length).then_some(area)
}

/// Both ends on a wall: the wall closes the chain to an outline.
fn by_wall_ends(chain: &Segments, walls: &Near<Wall>, touch: f64) -> Option<bool> {
    let (start, end) = (chain.first()?.0, chain.last()?.1);
    let on_wall = |p: Point| walls.around([p], touch).any(|(_, w)| to_segment(p, w.a, w.b).0 <= touch);
    if !on_wall(start) || !on_wall(end) {
        return None;
    }
    twice_area(chain.iter().copied().chain([(end, start)])).map(|area| area < 0.0)
}

/// Points along the walls around, weighed by nearness: the house is on the deck's side. Other houses of a site have no say,
/// however many they are.
fn by_nearest_wall(chain: &Segments, walls: &Near<Wall>) -> Option<bool> {
    let (low, high) = bounds(chain.iter().flat_map(|s| [s.0, s.1]))?;
    let middle = (low + high) / 2.0;
    let (nearest, ..) = walls.by_distance(middle).next()?;
    let reach = nearest.max(distance(low, middle)) + distance(low, high);
    let segments = Near::from(chain.to_vec());
    let mut right = 0.0;
    for (_, _, wall) in walls.by_distance(middle).take_while(|(d, ..)| *d <= reach).take(MOST_WALLS) {
        for k in 0..=8 {
            let p = wall.a + (wall.b - wall.a) * (f64::from(k) / 8.0);
            if let Some((d, side)) = beside(p, &segments).filter(|(d, _)| *d > SAMPLE_MM) {
                right += side / d;
            }
        }
    }
    (right != 0.0).then_some(right > 0.0)
}

/// Distance of a point from the chain, and on which side it lies: 1 right, -1 left; `None` beyond the chain's ends,
/// where a point tells no side (but for a single edge, which has one everywhere).
fn beside(p: Point, chain: &Near<(Point, Point)>) -> Option<(f64, f64)> {
    let (d, i, &(a, b)) = chain.nearest(p, |(a, b)| to_segment(p, *a, *b).0)?;
    let (_, t) = to_segment(p, a, b);
    if chain.len() == 1 || (0.001..0.999).contains(&t) {
        return Some((d, -cross(b - a, p - a).signum()));
    }
    // Nearest to a corner: the point lies on the corner's outer side.
    let (before, after) = if t < 0.5 { (chain.get(i.checked_sub(1)?)?, (a, b)) } else { (&(a, b), *chain.get(i + 1)?) };
    Some((d, cross(before.1 - before.0, after.1 - after.0).signum()))
}

/// No part of a wall lies beside the chain: the ways from its ends to the nearest place of a wall close it to an
/// outline, as long as they do not cross it.
fn by_way_to_wall(chain: &Segments, walls: &Near<Wall>) -> Option<bool> {
    let (start, end) = (chain.first()?.0, chain.last()?.1);
    let nearest = |p: Point| {
        let (_, _, wall) = walls.nearest(p, |w| to_segment(p, w.a, w.b).0)?;
        Some(wall.a + (wall.b - wall.a) * to_segment(p, wall.a, wall.b).1)
    };
    let (from, to) = (nearest(start)?, nearest(end)?);
    let mut ring = chain.to_vec();
    ring.extend([(end, to), (to, from), (from, start)].into_iter().filter(|(a, b)| a != b));
    let area = twice_area(ring.iter().copied())?;
    (first_crossing(&ring, true) == Crossing::None).then_some(area < 0.0)
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::base::plane::point;

    /// A deck stands free before its house, and behind it a street of other houses.
    #[test]
    fn the_house_beside_the_deck_tells_its_side_however_many_stand_behind() {
        let chain = [(point(0.0, 0.0), point(4000.0, 0.0)), (point(4000.0, 0.0), point(8000.0, 100.0))];
        let wall = |x: f64, y: f64| Wall { a: point(x, y), b: point(x + 6000.0, y) };
        for (house, right) in [(-1000.0, true), (1000.0, false)] {
            let mut walls = vec![wall(1000.0, house)];
            walls.extend((0..2_000).map(|i| wall(f64::from(i % 20 - 10) * 9000.0, house.signum() * -60_000.0)));
            assert_eq!(by_nearest_wall(&chain, &walls.into()), Some(right));
        }
        assert_eq!(by_nearest_wall(&chain, &Near::default()), None);
    }
}
