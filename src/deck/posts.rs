//! Drawn posts: small closed squares, circles, points and blocks.

use std::collections::BTreeMap;

use crate::base::plane::{angle_of, distance, dot, norm, point, turned, unit};
use crate::base::{Angle, Code, Finding, Length, Place, Point};
use crate::cad::{Drawing, Entity, Shape};

use super::chain;
use super::model::{DrawnPost, Edge};
use super::size;
use super::zones::flattened;

/// Sides that a post may have (1 in to 24 in): what is smaller is a mark, what is larger no guard post.
pub const SIDE_MM: std::ops::RangeInclusive<f64> = 25.0..=610.0;

/// More posts than are drawn on a site of a thousand decks.
const MOST_POSTS: usize = 20_000;

/// How far a drawn square may be off being square: 2 % of its side.
const SQUARE: f64 = 0.02;

/// Finds the posts among what stands on post layers.
pub fn posts(
    entities: &[&Entity],
    drawing: &Drawing,
    is_post: &dyn Fn(&str) -> bool,
    join: Length,
    findings: &mut Vec<Finding>,
) -> Vec<DrawnPost> {
    let mut in_blocks: BTreeMap<usize, Vec<&Entity>> = BTreeMap::new();
    for (i, insert) in drawing.inserts.iter().enumerate() {
        if is_post(&insert.layer) && outer_post(drawing, i, is_post) == i {
            in_blocks.insert(i, Vec::new());
        }
    }
    let mut alone: Vec<&Entity> = Vec::new();
    for entity in entities {
        let block = entity.insert.map(|i| outer_post(drawing, i, is_post));
        match block.and_then(|i| in_blocks.get_mut(&i)) {
            Some(held) => held.push(entity),
            None => alone.push(entity),
        }
    }
    let mut out: Vec<DrawnPost> =
        in_blocks.into_iter().filter_map(|(i, held)| block_post(drawing, i, &held, findings)).collect();
    let mut lines: Vec<&Entity> = Vec::new();
    for entity in alone {
        match &entity.shape {
            Shape::Point(at) => {
                out.push(DrawnPost { at: *at, side_mm: None, rotation: None, place: entity.place(*at), kept: false });
            }
            Shape::Circle { centre, radius } if SIDE_MM.contains(&(2.0 * radius)) => out.push(DrawnPost {
                at: *centre,
                side_mm: Some(2.0 * radius),
                rotation: None,
                place: entity.place(*centre),
                kept: false,
            }),
            Shape::Circle { centre, .. } => refuse(entity.place(*centre), "a circle of this size is no post", findings),
            Shape::Path { .. } | Shape::Curve { .. } => lines.push(entity),
            Shape::Text { .. } => {}
        }
    }
    // Four loose lines make a square as well as a closed polyline does.
    for loose in chain::separate(&lines, join) {
        match square(&loose.edges, loose.closed) {
            Some((at, side, rotation)) => {
                let place = loose.edges.first().map_or_else(Place::none, Edge::place).with_point(at);
                out.push(DrawnPost { at, side_mm: Some(side), rotation: Some(rotation), place, kept: false });
            }
            None => refuse(
                loose.edges.first().map_or_else(Place::none, Edge::place),
                "these lines are no closed square of a post's size",
                findings,
            ),
        }
    }
    let mut out = twice_drawn(out);
    if let Some(first) = out.get(MOST_POSTS) {
        let message = format!(
            "{} posts are drawn; at most {MOST_POSTS} are worked on, and those from here on are left out",
            out.len()
        );
        let finding = Finding::incomplete(Code::OverBudget, first.place.clone(), message);
        findings.push(finding.hint("divide the plan, or keep what is no post off the post layers"));
        out.truncate(MOST_POSTS);
    }
    out
}

/// A square with a circle or point in its middle is one post: the one with most known of it.
fn twice_drawn(mut posts: Vec<DrawnPost>) -> Vec<DrawnPost> {
    let known = |p: &DrawnPost| (p.side_mm.is_some(), p.rotation.is_some());
    let mut out: Vec<DrawnPost> = Vec::with_capacity(posts.len());
    let mut grid: BTreeMap<(i64, i64), Vec<usize>> = BTreeMap::new();
    for post in posts.drain(..) {
        let (kx, ky) = ((post.at.x / 25.0).floor() as i64, (post.at.y / 25.0).floor() as i64);
        let around = (-1..=1).flat_map(|dx| (-1..=1).map(move |dy| (kx + dx, ky + dy)));
        let same = around
            .filter_map(|k| grid.get(&k))
            .flatten()
            .copied()
            .find(|i| out.get(*i).is_some_and(|o| distance(o.at, post.at) < 12.7));
        match same.and_then(|i| out.get_mut(i)) {
            Some(before) if known(&post) > known(before) => *before = post,
            Some(_) => {}
            None => {
                grid.entry((kx, ky)).or_default().push(out.len());
                out.push(post);
            }
        }
    }
    out
}

fn refuse(place: Place, message: &str, findings: &mut Vec<Finding>) {
    findings.push(
        Finding::incomplete(Code::EntityNotUsed, place, message.to_owned())
            .hint("draw a post as a point, a circle, a closed square of 1 to 24 in or a block"),
    );
}

/// The outermost insert on a post layer that holds insert `i`, or `i` itself.
fn outer_post(drawing: &Drawing, i: usize, is_post: &dyn Fn(&str) -> bool) -> usize {
    let (mut found, mut at) = (i, Some(i));
    while let Some(insert) = at.and_then(|a| drawing.inserts.get(a)) {
        if is_post(&insert.layer) {
            found = at.unwrap_or(found);
        }
        at = insert.parent;
    }
    found
}

/// A post block: the square that its contents fill in the block's own directions, or the size that its attribute says.
fn block_post(drawing: &Drawing, index: usize, held: &[&Entity], findings: &mut Vec<Finding>) -> Option<DrawnPost> {
    let insert = drawing.inserts.get(index)?;
    let place = Place {
        at: Some(insert.at),
        handle: insert.origin.handle,
        line: insert.origin.line,
        layer: Some(insert.layer.clone()),
        ..Place::default()
    };
    let points: Vec<Point> = held
        .iter()
        .flat_map(|e| match &e.shape {
            Shape::Path { vertices, closed } => flattened(vertices, *closed),
            Shape::Curve { points, .. } => points.clone(),
            Shape::Circle { centre, radius } => {
                vec![*centre - point(*radius, *radius), *centre + point(*radius, *radius)]
            }
            _ => Vec::new(),
        })
        .map(|p| turned(p - insert.at, -insert.rotation))
        .collect();
    let first = points.first().copied().unwrap_or(point(0.0, 0.0));
    let low = points.iter().fold(first, |l, p| point(l.x.min(p.x), l.y.min(p.y)));
    let high = points.iter().fold(first, |h, p| point(h.x.max(p.x), h.y.max(p.y)));
    let size = high - low;
    let side = size.x.max(size.y);
    let is_square = (size.x - size.y).abs() <= SQUARE * side && SIDE_MM.contains(&side);
    let at = if is_square { insert.at + turned((low + high) / 2.0, insert.rotation) } else { insert.at };
    let place = place.with_point(at);
    let drawn_mm = is_square.then_some((size.x + size.y) / 2.0);
    let side_mm = size::side(insert, drawn_mm, drawing.frame.unit, &place, findings);
    Some(DrawnPost { at, side_mm, rotation: Some(folded(insert.rotation)), place, kept: false })
}

fn folded(rotation: Angle) -> Angle {
    rotation.folded(Angle::from_degrees(90.0))
}

/// Centre, side and turn of four edges that make a square.
fn square(edges: &[Edge], closed: bool) -> Option<(Point, f64, Angle)> {
    let [a, b, c, d] = edges else { return None };
    if !closed || edges.iter().any(|e| e.curved) {
        return None;
    }
    let lengths = [a, b, c, d].map(|e| distance(e.a, e.b));
    let side = lengths.iter().sum::<f64>() / 4.0;
    let equal = lengths.iter().all(|l| (l - side).abs() <= SQUARE * side);
    let right_angled = dot(unit(a.b - a.a), unit(b.b - b.a)).abs() <= SQUARE;
    let parallel = norm((a.b - a.a) + (c.b - c.a)) <= SQUARE * side;
    let centre = (a.a + b.a + c.a + d.a) / 4.0;
    (equal && right_angled && parallel && SIDE_MM.contains(&side)).then(|| (centre, side, folded(angle_of(a.b - a.a))))
}
