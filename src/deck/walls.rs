//! Walls' faces, and which of them are houses, lines or columns.

use crate::base::Point;
use crate::base::plane::bounds;
use crate::cad::Entity;

use super::model::{Outline, Wall, WallKind};
use super::plan::outlines;
use super::rings::Rings;
use super::roles::Role;

/// A closed outline on a wall layer up to this size (24 in) is a column, and no house.
const COLUMN_MM: f64 = 609.6;

fn wall_kind(outline: &Outline) -> WallKind {
    let closed = outline.closed || (outline.points.len() > 3 && outline.points.first() == outline.points.last());
    match bounds(outline.points.iter().copied()) {
        Some((low, high)) if closed && (high.x - low.x).max(high.y - low.y) <= COLUMN_MM => WallKind::Column,
        _ if closed => WallKind::House,
        _ => WallKind::Line,
    }
}

/// The faces of all walls.
pub fn walls(entities: &[&Entity]) -> Vec<Wall> {
    outlines(Role::Wall, entities)
        .flat_map(|o| {
            let kind = wall_kind(&o);
            let next: Vec<Point> =
                o.points.iter().skip(1).chain(o.points.first().filter(|_| o.closed)).copied().collect();
            o.points.into_iter().zip(next).map(move |(a, b)| Wall { a, b, kind }).collect::<Vec<_>>()
        })
        .filter(|w| w.a != w.b)
        .collect()
}

/// The closed outlines of houses.
pub fn houses(entities: &[&Entity]) -> Rings {
    Rings::of_corners(outlines(Role::Wall, entities).filter(|o| wall_kind(o) == WallKind::House).map(|o| o.points))
}
