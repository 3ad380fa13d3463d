//! The rail line: guarded stretches moved inward by the inset, mitred at corners, cut off at wall faces.

use crate::base::plane::{cross, distance, dot, meet, right, unit};
use crate::base::{Code, Finding, Length, Place, Point};
use crate::catalog::Settings;
use crate::deck::{Chain, Plan, first_crossing};

use super::free::{Cause, Stretch};

/// A rail meets a wall's face when the two differ by more than this (15 degrees); flatter ones run alongside it.
const MEETS_WALL: f64 = 0.259;

/// What a run's end is.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum End {
    /// Free: an end post stands here.
    Free,
    /// On the face of a wall with this direction.
    Wall(Point),
}

/// A rail line: corners included, the ends as they are before posts are set.
#[derive(Debug, Clone, PartialEq)]
pub struct RailLine {
    /// Vertices, left to right; a closed one does not repeat its first.
    pub points: Vec<Point>,
    /// Left end.
    pub start: End,
    /// Right end.
    pub end: End,
    /// Whether it closes on itself.
    pub closed: bool,
    /// Where its first edge stands in the drawing.
    pub place: Place,
}

/// One stretch moved inward.
struct Moved {
    a: Point,
    b: Point,
    u: Point,
}

/// Lays the rail line of a run; `None` with a finding when the inset does not leave one.
pub fn rail_line(
    chain: &Chain,
    run: &[Stretch],
    closed: bool,
    plan: &Plan,
    settings: &Settings,
    findings: &mut Vec<Finding>,
) -> Option<RailLine> {
    let inset = settings.inset.millimetres();
    let moved: Vec<Moved> = run
        .iter()
        .filter_map(|s| {
            let edge = chain.edges.get(s.edge)?;
            let u = unit(edge.b - edge.a);
            let n = right(u) * inset;
            Some(Moved { a: edge.a + u * s.from + n, b: edge.a + u * s.to + n, u })
        })
        .collect();
    let place = run.first().and_then(|s| chain.edges.get(s.edge)).map_or_else(Place::none, crate::deck::Edge::place);
    let (first, last) = (moved.first()?, moved.last()?);
    let (start, end) = if closed {
        ((first.a, End::Free), (last.b, End::Free))
    } else {
        let begins = run.first().and_then(|s| s.begins);
        let ends = run.last().and_then(|s| s.ends);
        (run_end(first.b, first.a, begins, plan, settings), run_end(last.a, last.b, ends, plan, settings))
    };
    let mut points = Vec::with_capacity(moved.len() + 1);
    if !closed {
        points.push(start.0);
    }
    let joints = moved.iter().zip(moved.iter().skip(1).chain(moved.first().filter(|_| closed)));
    for (before, after) in joints {
        let Some(corner) = mitre(before, after, inset) else {
            findings.push(fails(&place, before.b, "the deck edge turns back on itself here"));
            return None;
        };
        points.push(corner);
    }
    if closed {
        // Joint k lies at the end of stretch k; the line shall begin where the first stretch does.
        points.rotate_right(1);
    } else {
        points.push(end.0);
    }
    check(&points, &moved, closed, &place, findings)?;
    Some(RailLine { points, start: start.1, end: end.1, closed, place })
}

fn fails(place: &Place, at: Point, why: &str) -> Finding {
    Finding::error(
        Code::RailLineFails,
        place.clone().with_point(at),
        format!("{why}, so no rail line can be laid along this run at the inset"),
    )
    .hint("use a smaller --inset, or leave the place out with an opening")
}

/// Corner of two moved edges: v + d(n1 + n2)/(1 + n1·n2), for the deck edge's corner v and right-hand normals n1, n2.
fn mitre(before: &Moved, after: &Moved, inset: f64) -> Option<Point> {
    let (n1, n2) = (right(before.u), right(after.u));
    let turn = 1.0 + dot(n1, n2);
    let v = before.b - n1 * inset;
    (turn > 1e-9).then(|| v + (n1 + n2) * (inset / turn))
}

/// The moved line must run the way its edge does, and must not cross itself.
fn check(points: &[Point], moved: &[Moved], closed: bool, place: &Place, findings: &mut Vec<Finding>) -> Option<()> {
    let next = points.iter().skip(1).chain(points.first().filter(|_| closed));
    let segments: Vec<(Point, Point)> = points.iter().copied().zip(next.copied()).collect();
    for ((a, b), m) in segments.iter().zip(moved) {
        if dot(*b - *a, m.u) <= Length::NOISE.millimetres() {
            findings.push(fails(place, (*a + *b) / 2.0, "an edge is too short for the inset here"));
            return None;
        }
    }
    match first_crossing(&segments, closed) {
        crate::deck::Crossing::None => Some(()),
        crate::deck::Crossing::At(at) | crate::deck::Crossing::TooMany(at) => {
            findings.push(fails(place, at, "the deck is too narrow here: the moved edges cross"));
            None
        }
    }
}

/// Where a run really ends: on the first wall face that its line meets near its end, else where the stretch ends.
fn run_end(from: Point, to: Point, cause: Option<Cause>, plan: &Plan, settings: &Settings) -> (Point, End) {
    if !matches!(cause, Some(Cause::Wall | Cause::ChainEnd)) {
        return (to, End::Free);
    }
    let u = unit(to - from);
    let middle = (from + to) / 2.0;
    let end = distance(middle, to);
    // A slanted wall meets the rail line up to the inset and more away from where it meets the edge.
    let window = 3.0 * settings.inset.millimetres() + settings.touch.millimetres();
    let hits = plan.walls.iter().filter_map(|w| {
        let d = w.b - w.a;
        let t = meet(middle, u, w.a, d)?;
        let at = middle + u * t;
        let along = dot(at - w.a, d) / dot(d, d);
        // A wall drawn a hair short still stands: half an inch at either end.
        let slack = 12.7 / dot(d, d).sqrt();
        let meets = cross(u, unit(d)).abs() > MEETS_WALL && (-slack..=1.0 + slack).contains(&along);
        (meets && t > 0.0 && (t - end).abs() <= window).then_some((t, at, d))
    });
    match hits.min_by(|a, b| a.0.total_cmp(&b.0)) {
        Some((_, at, d)) => (at, End::Wall(unit(d))),
        None => (to, End::Free),
    }
}
