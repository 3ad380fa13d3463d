//! On which side of an open edge the deck lies.

use crate::base::Point;
use crate::base::plane::{cross, distance, right, to_segment};
use crate::catalog::{Inside, Settings};

use super::chain::Loose;
use super::cross::{Crossing, first_crossing};
use super::plan::Wall;
use super::rings::Rings;

/// How deep into the deck a sample point is taken beside an edge (1 in).
const SAMPLE_MM: f64 = 25.4;

/// Whether the deck lies on the right of an open chain: on the side of a closed deck outline, else as the job says, else
/// on the side of the house wall (a guess, since walls stand on both sides of decks); `None` when nothing tells.
pub fn deck_is_right(chain: &Loose, rings: &Rings, walls: &[Wall], settings: &Settings) -> Option<bool> {
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
fn by_wall_ends(chain: &Segments, walls: &[Wall], touch: f64) -> Option<bool> {
    let (start, end) = (chain.first()?.0, chain.last()?.1);
    let on_wall = |p: Point| walls.iter().any(|w| to_segment(p, w.a, w.b).0 <= touch);
    if !on_wall(start) || !on_wall(end) {
        return None;
    }
    twice_area(chain.iter().copied().chain([(end, start)])).map(|area| area < 0.0)
}

/// Points along the walls, weighed by nearness: the house is on the deck's side.
fn by_nearest_wall(chain: &Segments, walls: &[Wall]) -> Option<bool> {
    let mut right = 0.0;
    for wall in walls {
        for k in 0..=8 {
            let p = wall.a + (wall.b - wall.a) * (f64::from(k) / 8.0);
            if let Some((d, side)) = beside(p, chain).filter(|(d, _)| *d > SAMPLE_MM) {
                right += side / d;
            }
        }
    }
    (right != 0.0).then_some(right > 0.0)
}

/// Distance of a point from the chain, and on which side it lies: 1 right, -1 left; `None` beyond the chain's ends,
/// where a point tells no side (but for a single edge, which has one everywhere).
fn beside(p: Point, chain: &Segments) -> Option<(f64, f64)> {
    let nearest = chain.iter().map(|(a, b)| to_segment(p, *a, *b)).enumerate();
    let (i, (d, t)) = nearest.min_by(|(_, s), (_, t)| s.0.total_cmp(&t.0))?;
    let (a, b) = *chain.get(i)?;
    if chain.len() == 1 || (0.001..0.999).contains(&t) {
        return Some((d, -cross(b - a, p - a).signum()));
    }
    // Nearest to a corner: the point lies on the corner's outer side.
    let (before, after) = if t < 0.5 { (chain.get(i.checked_sub(1)?)?, (a, b)) } else { (&(a, b), *chain.get(i + 1)?) };
    Some((d, cross(before.1 - before.0, after.1 - after.0).signum()))
}

/// No part of a wall lies beside the chain: the ways from its ends to the nearest place of a wall close it to an
/// outline, as long as they do not cross it.
fn by_way_to_wall(chain: &Segments, walls: &[Wall]) -> Option<bool> {
    let (start, end) = (chain.first()?.0, chain.last()?.1);
    let nearest = |p: Point| {
        let foot = |w: &Wall| {
            let (d, t) = to_segment(p, w.a, w.b);
            (d, w.a + (w.b - w.a) * t)
        };
        walls.iter().map(foot).min_by(|a, b| a.0.total_cmp(&b.0)).map(|(_, at)| at)
    };
    let (from, to) = (nearest(start)?, nearest(end)?);
    let mut ring = chain.to_vec();
    ring.extend([(end, to), (to, from), (from, start)].into_iter().filter(|(a, b)| a != b));
    let area = twice_area(ring.iter().copied())?;
    (first_crossing(&ring, true) == Crossing::None).then_some(area < 0.0)
}
