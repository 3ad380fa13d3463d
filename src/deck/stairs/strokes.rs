//! What is drawn on the stair layers as straight strokes, and which of them belong to one stair.

use std::collections::BTreeMap;

use crate::base::plane::{distance, to_segment};
use crate::base::{Near, Point};
use crate::cad::{Entity, Shape};
use crate::deck::grid::{Grid, Nodes, cell_of, cells};
use crate::deck::zones::points_of;

/// Lines of one stair are drawn at most one tread apart; the deepest common tread is 14 in, taken with some room.
pub const GROUP_MM: f64 = 406.4;

/// Longer strokes (50 ft) are no part of a stair's own drawing; only their ends are looked at.
const LONGEST_MM: f64 = 15_240.0;

/// Strokes of a cell that are looked at: more of them in 11 in are a hatch, and belong together anyway.
const CROWD: usize = 64;

/// A straight stroke.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Stroke {
    /// Start.
    pub a: Point,
    /// End.
    pub b: Point,
    /// Index of its entity.
    pub entity: usize,
    /// Its height, where it is level and has one.
    pub z: Option<f64>,
    /// Whether it was drawn straight, and is no chord of a curve.
    pub straight: bool,
    /// Whether it is a side of a closed path.
    pub ring: bool,
}

/// The strokes of all entities, in their order; texts have none.
pub fn strokes(entities: &[&Entity]) -> Vec<Stroke> {
    let mut out = Vec::new();
    for (i, entity) in entities.iter().enumerate() {
        let closed = match &entity.shape {
            Shape::Path { closed, .. } | Shape::Curve { closed, .. } => *closed,
            Shape::Circle { .. } => true,
            Shape::Point(_) => false,
            Shape::Text { .. } => continue,
        };
        let straight = match &entity.shape {
            Shape::Path { vertices, .. } => vertices.iter().all(|v| v.bulge == 0.0),
            _ => false,
        };
        let z = entity.ends.filter(|[a, b]| (a - b).abs() < 0.01).map(|[z, _]| z);
        let points = points_of(entity);
        let next = points.iter().skip(1).chain(points.first().filter(|_| closed || points.len() == 1));
        let whole = straight && (closed || points.first() == points.last());
        out.extend(points.iter().zip(next).map(|(a, b)| Stroke { a: *a, b: *b, entity: i, z, straight, ring: whole }));
    }
    out
}

/// Entities that lie within a tread of each other, each group in the order of the file, the groups by their first one.
pub fn groups(entities: &[&Entity], strokes: &[Stroke]) -> Vec<Vec<usize>> {
    let mut nodes = Nodes::separate(entities.len());
    let size = GROUP_MM / std::f64::consts::SQRT_2;
    let mut grid = Grid::default();
    for (i, s) in strokes.iter().enumerate() {
        let long = distance(s.a, s.b) > LONGEST_MM;
        let run = if long { vec![cell_of(s.a, size), cell_of(s.b, size)] } else { cells((s.a, s.b), size).collect() };
        for cell in run {
            // All that passes one cell is within reach of each other there.
            if let Some(other) = grid.at(cell).next().and_then(|j| strokes.get(j)) {
                nodes.union(s.entity, other.entity);
            }
            grid.put(cell, i);
        }
    }
    // Strokes that do not cross are nearest at an end of one of them.
    for s in strokes {
        for p in [s.a, s.b] {
            near(p, s, strokes, &grid, &mut nodes);
        }
    }
    let mut by_root: BTreeMap<usize, Vec<usize>> = BTreeMap::new();
    let mut seen = vec![false; entities.len()];
    for s in strokes {
        if let Some(flag) = seen.get_mut(s.entity).filter(|f| !**f) {
            *flag = true;
            by_root.entry(nodes.find(s.entity)).or_default().push(s.entity);
        }
    }
    within_another(by_root.into_values().collect(), entities)
}

fn near(p: Point, own: &Stroke, strokes: &[Stroke], grid: &Grid, nodes: &mut Nodes) {
    let (x, y) = cell_of(p, GROUP_MM / std::f64::consts::SQRT_2);
    for cell in (x - 2..=x + 2).flat_map(|x| (y - 2..=y + 2).map(move |y| (x, y))) {
        for other in grid.at(cell).take(CROWD).filter_map(|j| strokes.get(j)) {
            if nodes.find(other.entity) == nodes.find(own.entity) {
                break;
            }
            if to_segment(p, other.a, other.b).0 <= GROUP_MM {
                nodes.union(own.entity, other.entity);
                break;
            }
        }
    }
}

/// An arrow in the middle of a wide stair is far from its sides, but lies within them.
fn within_another(mut groups: Vec<Vec<usize>>, entities: &[&Entity]) -> Vec<Vec<usize>> {
    let hull = |g: &Vec<usize>| {
        let points: Vec<Point> = g.iter().filter_map(|i| entities.get(*i)).flat_map(|e| points_of(e)).collect();
        crate::deck::zones::hull(&points)
    };
    let hulls: Near<Vec<Point>> = groups.iter().map(hull).collect::<Vec<_>>().into();
    let outer = |i: usize| {
        let own = hulls.get(i)?;
        let mut around = hulls.around(own.first().copied(), 0.0);
        around.find(|(j, h)| *j != i && h.len() > 2 && own.iter().all(|p| holds(h, *p))).map(|(j, _)| j)
    };
    let moves: Vec<Option<usize>> = (0..groups.len()).map(outer).collect();
    // From the inside out: a group's host may lie within another one itself, but never in a circle, as hulls that hold
    // each other are the same.
    for (i, to) in moves.iter().enumerate() {
        let Some(to) = to.filter(|to| moves.get(*to) != Some(&Some(i)) || *to < i) else { continue };
        let moved = groups.get_mut(i).map(std::mem::take).unwrap_or_default();
        if let Some(host) = groups.get_mut(to) {
            host.extend(moved);
            host.sort_unstable();
        }
    }
    groups.retain(|g| !g.is_empty());
    groups.sort_by_key(|g| g.first().copied());
    groups
}

/// Whether a convex hull, counter-clockwise, holds a point.
pub fn holds(hull: &[Point], p: Point) -> bool {
    let next = hull.iter().cycle().skip(1);
    hull.iter().zip(next).all(|(a, b)| crate::base::plane::cross(*b - *a, p - *a) >= -1e-6)
}
