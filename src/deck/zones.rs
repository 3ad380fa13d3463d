//! Openings and keep-out zones: groups of lines become convex areas.

use geo::{ConvexHull, MultiPoint};

use crate::base::plane::distance;
use crate::base::{Length, Piece, Place, Point};
use crate::cad::{Entity, Insert, Shape, Vertex};

use super::plan::Zone;
use super::roles::Role;

/// Steps that a full circle is drawn with when only its outline matters.
const CIRCLE_STEPS: f64 = 48.0;

/// The points of a path, arcs as short chords.
pub fn flattened(vertices: &[Vertex], closed: bool) -> Vec<Point> {
    let next = vertices.iter().skip(1).chain(vertices.first().filter(|_| closed)).map(Some).chain([None]);
    let mut out = Vec::with_capacity(vertices.len());
    for (v, w) in vertices.iter().zip(next) {
        out.push(v.at);
        let Some(w) = w.filter(|_| v.bulge != 0.0) else { continue };
        let piece = Piece { a: v.at, b: w.at, bulge: v.bulge };
        let steps =
            piece.arc().map_or(1.0, |arc| (arc.sweep.abs() / std::f64::consts::TAU * CIRCLE_STEPS).ceil().max(2.0));
        let step = piece.length() / steps;
        out.extend((1..steps as i32).map(|k| piece.at(step * f64::from(k))));
    }
    out
}

/// The points of an entity; a text has none.
pub fn points_of(entity: &Entity) -> Vec<Point> {
    match &entity.shape {
        Shape::Path { vertices, closed } => flattened(vertices, *closed),
        Shape::Curve { points, .. } => points.clone(),
        Shape::Circle { centre, radius } => (0..12)
            .map(|k| {
                let direction = crate::base::plane::direction(crate::base::Angle::from_degrees(f64::from(k) * 30.0));
                *centre + direction * *radius
            })
            .collect(),
        Shape::Point(at) => vec![*at],
        Shape::Text { .. } => Vec::new(),
    }
}

/// Openings: lines and symbols that touch, or that one block holds, are one opening.
pub fn openings(entities: &[&Entity], inserts: &[Insert], touch: Length) -> Vec<Zone> {
    let outermost = |e: &Entity| {
        let mut at = e.insert?;
        while let Some(parent) = inserts.get(at).and_then(|i| i.parent) {
            at = parent;
        }
        Some(at)
    };
    grouped(entities, Role::Opening, touch.millimetres(), outermost)
}

/// Keep-out zones: the hull of each outline.
pub fn keep_out(entities: &[&Entity]) -> Vec<Vec<Point>> {
    grouped(entities, Role::KeepOut, 0.0, |_| None).into_iter().map(|zone| zone.hull).collect()
}

struct Group {
    low: Point,
    high: Point,
    points: Vec<Point>,
    block: Option<usize>,
    place: Place,
}

fn grouped(entities: &[&Entity], role: Role, reach: f64, block: impl Fn(&Entity) -> Option<usize>) -> Vec<Zone> {
    let mut groups: Vec<Group> = Vec::new();
    for entity in entities {
        let points = points_of(entity);
        let Some(first) = points.first().copied() else { continue };
        let fold = |f: fn(f64, f64) -> f64| points.iter().fold(first, |p, q| Point { x: f(p.x, q.x), y: f(p.y, q.y) });
        let mut group = Group {
            low: fold(f64::min),
            high: fold(f64::max),
            block: block(entity),
            place: entity.place(first),
            points,
        };
        // A line may tie two groups together that stood apart before.
        let mut i = 0;
        while let Some(other) = groups.get(i) {
            if near(&group, other, reach) || (group.block.is_some() && group.block == other.block) {
                let other = groups.remove(i);
                group = merged(other, group);
                i = 0;
            } else {
                i += 1;
            }
        }
        groups.push(group);
    }
    groups.into_iter().map(|g| Zone { hull: hull(&g.points), role, place: g.place, flight: None }).collect()
}

fn near(a: &Group, b: &Group, reach: f64) -> bool {
    a.low.x - reach <= b.high.x
        && b.low.x - reach <= a.high.x
        && a.low.y - reach <= b.high.y
        && b.low.y - reach <= a.high.y
}

fn merged(mut a: Group, b: Group) -> Group {
    a.points.extend(b.points);
    a.low = Point { x: a.low.x.min(b.low.x), y: a.low.y.min(b.low.y) };
    a.high = Point { x: a.high.x.max(b.high.x), y: a.high.y.max(b.high.y) };
    a.block = a.block.or(b.block);
    a
}

/// Convex hull, counter-clockwise; two points of a line.
pub fn hull(points: &[Point]) -> Vec<Point> {
    let all = MultiPoint::from(points.iter().map(|p| geo::Point::from(*p)).collect::<Vec<_>>());
    let mut ring: Vec<Point> = all.convex_hull().exterior().coords().copied().collect();
    ring.dedup_by(|a, b| distance(*a, *b) == 0.0);
    if ring.len() > 1 && ring.first() == ring.last() {
        ring.pop();
    }
    ring
}
