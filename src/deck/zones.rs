//! Openings and keep-out zones: groups of lines become convex areas.

use std::collections::BTreeMap;

use geo::{ConvexHull, MultiPoint};
use rstar::{AABB, RTree, RTreeObject};

use crate::base::plane::{bounds, distance};
use crate::base::{Length, Piece, Place, Point, widened};
use crate::cad::{Entity, Insert, Shape, Vertex};

use super::model::Zone;
use super::picks::pieces;
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

/// What belongs together.
struct Group {
    /// Corners of its box.
    bounds: (Point, Point),
    points: Vec<Point>,
    /// Its straight strokes, with the number of the entity of each.
    strokes: Vec<(Point, Point, usize)>,
    has_arc: bool,
    /// Number of its first entity, which it is named after.
    first: usize,
    place: Place,
}

impl RTreeObject for Group {
    type Envelope = AABB<[f64; 2]>;

    fn envelope(&self) -> Self::Envelope {
        widened(self.bounds, 0.0)
    }
}

impl Group {
    fn with(mut self, mut other: Self) -> Self {
        let corners = [self.bounds, other.bounds].into_iter().flat_map(|(low, high)| [low, high]);
        self.bounds = bounds(corners).unwrap_or(self.bounds);
        if other.points.len() > self.points.len() {
            std::mem::swap(&mut self.points, &mut other.points);
        }
        self.points.append(&mut other.points);
        self.strokes.append(&mut other.strokes);
        self.has_arc |= other.has_arc;
        if other.first < self.first {
            (self.first, self.place) = (other.first, other.place);
        }
        self
    }
}

fn grouped(entities: &[&Entity], role: Role, reach: f64, block: impl Fn(&Entity) -> Option<usize>) -> Vec<Zone> {
    let mut alone: Vec<Group> = Vec::new();
    let mut blocks: BTreeMap<usize, Group> = BTreeMap::new();
    for (first, entity) in entities.iter().enumerate() {
        let points = points_of(entity);
        let (Some(at), Some(bounds)) = (points.first(), bounds(points.iter().copied())) else { continue };
        let pieces = pieces(entity);
        let straight = pieces.iter().filter(|p| p.bulge == 0.0 && p.a != p.b);
        let strokes = straight.map(|p| (p.a, p.b, first)).collect();
        let has_arc = pieces.iter().any(|p| p.bulge != 0.0) || matches!(entity.shape, Shape::Curve { .. });
        let mut group = Group { bounds, place: entity.place(*at), points, strokes, has_arc, first };
        match block(entity) {
            None => alone.push(group),
            Some(block) => {
                group = blocks.remove(&block).into_iter().fold(group, Group::with);
                blocks.insert(block, group);
            }
        }
    }
    let mut apart: RTree<Group> = RTree::new();
    for mut group in alone.into_iter().chain(blocks.into_values()) {
        // A line may tie groups together that stood apart before, and all of them then come near to others.
        loop {
            let met: Vec<Group> = apart.drain_in_envelope_intersecting(widened(group.bounds, reach)).collect();
            if met.is_empty() {
                break;
            }
            group = met.into_iter().fold(group, Group::with);
        }
        apart.insert(group);
    }
    let mut groups: Vec<Group> = apart.drain().collect();
    groups.sort_by_key(|g| g.first);
    let zone = |g: Group| Zone {
        hull: hull(&g.points),
        strokes: g.strokes,
        has_arc: g.has_arc,
        role,
        place: g.place,
        flight: None,
    };
    groups.into_iter().map(zone).collect()
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

#[cfg(test)]
mod tests {
    use proptest::prelude::*;

    use super::*;
    use crate::base::plane::point;
    use crate::cad::{Origin, Shape};

    fn line((x, y, dx, dy): (i32, i32, i32, i32), insert: Option<usize>) -> Entity {
        let vertex = |x: i32, y: i32| Vertex { at: point(f64::from(x), f64::from(y)), bulge: 0.0 };
        Entity {
            shape: Shape::Path { vertices: vec![vertex(x, y), vertex(x + dx, y + dy)], closed: false },
            layer: "GATE".to_owned(),
            origin: Origin { handle: Some(1), ..Origin::default() },
            insert,
            heights: None,
            ends: None,
        }
    }

    /// Groups as numbers of entities: any two whose boxes come within reach of each other are one, until none are.
    fn one_by_one(boxes: &[(Point, Point)], blocks: &[Option<usize>], reach: f64) -> Vec<Vec<usize>> {
        let mut groups: Vec<((Point, Point), Vec<usize>)> =
            boxes.iter().enumerate().map(|(i, b)| (*b, vec![i])).collect();
        let near = |a: &(Point, Point), b: &(Point, Point)| {
            let before = |low: Point, high: Point| low.x - reach <= high.x && low.y - reach <= high.y;
            before(a.0, b.1) && before(b.0, a.1)
        };
        let share = |a: &[usize], b: &[usize]| {
            a.iter().any(|i| blocks[*i].is_some() && b.iter().any(|j| blocks[*i] == blocks[*j]))
        };
        let pairs = |count: usize| (0..count).flat_map(move |i| (i + 1..count).map(move |j| (i, j)));
        while let Some((i, j)) =
            pairs(groups.len()).find(|(i, j)| near(&groups[*i].0, &groups[*j].0) || share(&groups[*i].1, &groups[*j].1))
        {
            let ((low, high), numbers) = groups.remove(j);
            let all = groups[i].0;
            groups[i].0 = bounds([low, high, all.0, all.1]).unwrap();
            groups[i].1.extend(numbers);
        }
        groups
            .into_iter()
            .map(|(_, mut numbers)| {
                numbers.sort_unstable();
                numbers
            })
            .collect()
    }

    proptest! {
        /// Against a comparison of each with each.
        #[test]
        fn what_touches_or_stands_in_one_block_is_one_opening(
            lines in proptest::collection::vec(((0..60, 0..60, -9..9, -9..9), proptest::option::weighted(0.3, 0..4_usize)), 0..25),
            reach in 0..3_u8,
        ) {
            let entities: Vec<Entity> = lines.iter().map(|(l, block)| line(*l, *block)).collect();
            let reach = f64::from(reach);
            let zones = grouped(&entities.iter().collect::<Vec<_>>(), Role::Opening, reach, |e| e.insert);
            let boxes: Vec<(Point, Point)> = entities.iter().filter_map(|e| bounds(points_of(e))).collect();
            let blocks: Vec<Option<usize>> = entities.iter().map(|e| e.insert).collect();
            let mut expected = one_by_one(&boxes, &blocks, reach);
            expected.sort();
            prop_assert_eq!(zones.len(), expected.len());
            for (zone, numbers) in zones.iter().zip(expected) {
                let points: Vec<Point> = numbers.iter().flat_map(|i| points_of(&entities[*i])).collect();
                let first = entities[numbers[0]].place(points[0]);
                prop_assert_eq!(bounds(zone.hull.clone()), bounds(points));
                prop_assert_eq!(&zone.place, &first);
            }
        }
    }
}
