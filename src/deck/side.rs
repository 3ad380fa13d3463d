//! On which side of an open edge the deck lies.

use geo::{Contains, Polygon};

use crate::base::Point;
use crate::base::plane::{cross, distance, norm, point, to_segment};
use crate::catalog::{Inside, Settings};

use super::chain::Loose;
use super::plan::{Edge, Wall};

/// How deep into the deck a sample point is taken beside an edge (1 in).
const SAMPLE_MM: f64 = 25.4;

/// Whether the deck lies on the right of an open chain: on the side of a closed deck outline, else of the house wall,
/// else as the job says; `None` when nothing tells.
pub fn deck_is_right(chain: &Loose, rings: &[Polygon<f64>], walls: &[Wall], settings: &Settings) -> Option<bool> {
    by_outline(chain, rings)
        .or_else(|| by_wall_ends(chain, walls, settings.touch.millimetres()))
        .or_else(|| by_nearest_wall(chain, walls))
        .or_else(|| settings.inside.map(|side| side == Inside::Right))
}

/// An outline that holds exactly one side of every edge's middle.
fn by_outline(chain: &Loose, rings: &[Polygon<f64>]) -> Option<bool> {
    let mut votes = chain.edges.iter().map(|e| {
        let d = e.b - e.a;
        let n = point(d.y, -d.x) * (SAMPLE_MM / norm(d));
        let middle = (e.a + e.b) / 2.0;
        let inside = |p: Point| rings.iter().any(|r| r.contains(&geo::Point::from(p)));
        match (inside(middle + n), inside(middle - n)) {
            (true, false) => Some(true),
            (false, true) => Some(false),
            _ => None,
        }
    });
    let first = votes.next()??;
    votes.all(|v| v == Some(first)).then_some(first)
}

/// Both ends on a wall: the wall closes the chain to an outline.
fn by_wall_ends(chain: &Loose, walls: &[Wall], touch: f64) -> Option<bool> {
    let (start, end) = (chain.edges.first()?.a, chain.edges.last()?.b);
    let on_wall = |p: Point| walls.iter().any(|w| to_segment(p, w.a, w.b).0 <= touch);
    if !on_wall(start) || !on_wall(end) {
        return None;
    }
    let twice_area: f64 = chain.edges.iter().map(|e| cross(e.a - start, e.b - start)).sum();
    // A chain that runs straight from wall to wall encloses nothing; a tenth of its length squared is a thin deck.
    let length: f64 = chain.edges.iter().map(|e| distance(e.a, e.b)).sum();
    (twice_area.abs() > 0.01 * length * length).then_some(twice_area < 0.0)
}

/// Points along the walls, weighed by nearness: the house is on the deck's side.
fn by_nearest_wall(chain: &Loose, walls: &[Wall]) -> Option<bool> {
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
fn beside(p: Point, chain: &Loose) -> Option<(f64, f64)> {
    let nearest = chain.edges.iter().map(|e| to_segment(p, e.a, e.b)).enumerate();
    let (i, (d, t)) = nearest.min_by(|(_, s), (_, t)| s.0.total_cmp(&t.0))?;
    let edge = chain.edges.get(i)?;
    let of = |e: &Edge| -cross(e.b - e.a, p - e.a).signum();
    if chain.edges.len() == 1 || (0.001..0.999).contains(&t) {
        return Some((d, of(edge)));
    }
    // Nearest to a corner: the point lies on the corner's outer side.
    let (before, after) =
        if t < 0.5 { (chain.edges.get(i.checked_sub(1)?)?, edge) } else { (edge, chain.edges.get(i + 1)?) };
    Some((d, cross(before.b - before.a, after.b - after.a).signum()))
}
