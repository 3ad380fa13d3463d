//! The rail line: guarded stretches moved inward by the inset, mitred at corners, cut off at wall faces.

use std::f64::consts::SQRT_2;

use crate::base::plane::{cross, dot, meet, to_segment, unit};
use crate::base::{Code, Finding, Length, Piece, Place, Point, RuleRef};
use crate::catalog::{LimitKind, Settings};
use crate::deck::{Chain, Plan, Wall};

use super::free::{Cause, Stretch};
use super::offset::{self, Moved, Source};
use super::track::Track;

/// A rail meets a wall's face when the two differ by more than this (15 degrees); flatter ones run alongside it.
const MEETS_WALL: f64 = 0.259;

/// A wall drawn a hair short still stands: half an inch at either end.
const WALL_SHORT_MM: f64 = 12.7;

/// What a run's end is.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum End {
    /// Free: an end post stands here.
    Free,
    /// On the face of a wall with this direction.
    Wall(Point),
}

/// A rail line, the ends as they are before posts are set.
#[derive(Debug, Clone, PartialEq)]
pub struct RailLine {
    /// Straight and curved tracks, left to right; fixed posts stand where they meet.
    pub tracks: Vec<Track>,
    /// Left end.
    pub start: End,
    /// Right end.
    pub end: End,
    /// Whether it closes on itself.
    pub closed: bool,
    /// Where its first edge stands in the drawing.
    pub place: Place,
}

/// Lays the rail lines of a run: one, unless the inset parts or leaves none, which is a finding.
pub fn rail_lines(
    chain: &Chain,
    run: &[Stretch],
    closed: bool,
    plan: &Plan,
    settings: &Settings,
    findings: &mut Vec<Finding>,
) -> Vec<RailLine> {
    let sources: Vec<Source> = run.iter().filter_map(|s| source(chain, s)).collect();
    let place = sources.first().map_or_else(Place::none, |s| s.place.clone());
    let (lines, passed) = match offset::moved(&sources, closed, settings.inset.millimetres()) {
        Ok(moved) => moved,
        Err(failed) => {
            findings.push(fails(&place, failed.at, failed.why));
            return Vec::new();
        }
    };
    findings.extend(passed.into_iter().map(|at| {
        Finding::warning(
            Code::EdgePassed,
            place.clone().with_point(at),
            "the deck is narrower than twice the inset here, or an edge too short for it; the rail line goes straight past",
        )
        .hint("use a smaller --inset where the rail shall follow the edge")
    }));
    let ends = (run.first().and_then(|s| s.begins), run.last().and_then(|s| s.ends));
    let mut out = Vec::with_capacity(lines.len());
    for line in lines {
        match ended(line, ends, plan, settings) {
            Some((line, start, end)) => {
                findings.extend(beside_wall(&line, (start, end), ends, plan, settings));
                let tracks = if line.closed { Track::split_ring(line.pieces) } else { Track::split(line.pieces) };
                out.push(RailLine { tracks, start, end, closed: line.closed, place: place.clone() });
            }
            None => {
                let at = sources.first().map_or(Point { x: 0.0, y: 0.0 }, |s| s.piece.a);
                findings.push(fails(&place, at, "an edge is too short for the inset beside the wall here"));
            }
        }
    }
    out
}

/// Where a run ends because a wall goes on along the edge, but its line meets no wall: the end post must stand so near to
/// the wall that the sphere does not pass between.
fn beside_wall(
    line: &Moved,
    kinds: (End, End),
    causes: (Option<Cause>, Option<Cause>),
    plan: &Plan,
    settings: &Settings,
) -> Vec<Finding> {
    let half = settings.system.post.side.millimetres() / 2.0;
    let first = line.pieces.first().map(Piece::reversed);
    let ends = [(first.as_ref(), kinds.0, causes.0), (line.pieces.last(), kinds.1, causes.1)];
    let free = ends.into_iter().filter(|(_, kind, cause)| *kind == End::Free && *cause == Some(Cause::Wall));
    let gap = |piece: &Piece| {
        let way = piece.end_way();
        let centre = piece.b - way * half;
        let beyond = |p: Point| {
            let (x, y) = (dot(p - centre, way).abs() - half, cross(way, p - centre).abs() - half);
            x.max(0.0).hypot(y.max(0.0))
        };
        let gap = |w: &Wall| {
            let foot = w.a + (w.b - w.a) * to_segment(centre, w.a, w.b).1;
            [w.a, w.b, foot].into_iter().map(beyond).fold(f64::INFINITY, f64::min)
        };
        // From the centre it is farther to any place than from the square, by half a diagonal at most.
        let nearest = plan.walls.nearest(centre, |w| gap(w) + half * SQRT_2);
        (centre, nearest.map_or(f64::INFINITY, |(_, _, wall)| gap(wall)))
    };
    let limit = settings.rules.limit(LimitKind::Opening);
    let open = free.filter_map(|(piece, ..)| piece.map(gap)).filter_map(|(at, gap)| {
        let limit =
            limit.filter(|l| gap.is_finite() && gap + settings.tolerance.millimetres() >= l.value.millimetres())?;
        let actual = Length::measured(gap);
        let message = format!("between the end post here and the wall a gap of {} stays open", actual.told());
        let rule =
            RuleRef { set: settings.rules.name.clone(), section: limit.section.clone(), limit: limit.value, actual };
        let hint = "use a smaller --inset, draw a post nearer to the wall, or close the gap by other means";
        Some(Finding::error(Code::GapLeftOpen, Place::at(at), message).hint(hint).rule(rule))
    });
    open.collect()
}

/// A stretch's course, its deck on the right.
fn source(chain: &Chain, stretch: &Stretch) -> Option<Source> {
    let edge = chain.edges.get(stretch.edge)?;
    let piece = edge.piece();
    // A whole edge keeps its figures to the bit.
    let whole = stretch.from == 0.0 && stretch.to == piece.length();
    let piece = if whole { piece } else { piece.part(stretch.from, stretch.to) };
    Some(Source { piece, place: edge.place() })
}

fn fails(place: &Place, at: Point, why: &str) -> Finding {
    Finding::incomplete(
        Code::RailLineFails,
        place.clone().with_point(at),
        format!("{why}, so no rail line can be laid along this run at the inset"),
    )
    .hint("use a smaller --inset, or leave the place out with an opening")
}

/// A moved line with its ends on the walls that they meet; `None` when nothing is left of its first or last piece.
fn ended(
    mut line: Moved,
    (begins, ends): (Option<Cause>, Option<Cause>),
    plan: &Plan,
    settings: &Settings,
) -> Option<(Moved, End, End)> {
    if line.closed {
        return Some((line, End::Free, End::Free));
    }
    let wall = |piece: Option<&Piece>, cause: Option<Cause>| {
        let meets_walls = matches!(cause, Some(Cause::Wall | Cause::ChainEnd));
        piece.filter(|_| meets_walls).and_then(|p| wall_at_end(p, plan, settings))
    };
    let first = line.pieces.first().map(Piece::reversed);
    let start = wall(first.as_ref(), begins.filter(|_| line.from_start));
    let end = wall(line.pieces.last(), ends.filter(|_| line.to_end));
    if let Some(piece) = line.pieces.first_mut() {
        *piece = piece.between(start.map_or(piece.a, |(at, _)| at), piece.b)?;
    }
    if let Some(piece) = line.pieces.last_mut() {
        *piece = piece.between(piece.a, end.map_or(piece.b, |(at, _)| at))?;
    }
    let kind = |end: Option<(Point, Point)>| end.map_or(End::Free, |(_, face)| End::Wall(face));
    if (start.is_some() || end.is_some()) && offset::crossing(&line.pieces, false).is_some() {
        return None;
    }
    Some((line, kind(start), kind(end)))
}

/// The first wall face that a piece meets near its end: where, and the face's direction.
fn wall_at_end(piece: &Piece, plan: &Plan, settings: &Settings) -> Option<(Point, Point)> {
    let length = piece.length();
    let middle = length / 2.0;
    // A slanted wall meets the rail line up to the inset and more away from where it meets the edge.
    let window = 3.0 * settings.inset.millimetres() + settings.touch.millimetres();
    let hits = plan.walls.around([piece.b], window + WALL_SHORT_MM).flat_map(|(_, w)| {
        let d = w.b - w.a;
        let on_wall = move |at: Point| {
            let along = dot(at - w.a, d) / dot(d, d);
            let slack = WALL_SHORT_MM / dot(d, d).sqrt();
            (-slack..=1.0 + slack).contains(&along)
        };
        let places: [Option<(f64, Point)>; 2] = match piece.arc() {
            None => {
                let u = piece.end_way();
                [meet(piece.a, u, w.a, d).map(|t| (t, piece.a + u * t)), None]
            }
            Some(arc) => arc.meets_line(w.a, unit(d)).map(|hit| hit.map(|at| (arc.along_to(at, length), at))),
        };
        places
            .into_iter()
            .flatten()
            .filter(move |(along, at)| cross(piece.way(*along), unit(d)).abs() > MEETS_WALL && on_wall(*at))
            .filter(move |(along, _)| *along > middle && (along - length).abs() <= window)
            .map(move |(along, at)| (along, at, unit(d)))
    });
    hits.min_by(|a, b| a.0.total_cmp(&b.0)).map(|(_, at, face)| (at, face))
}
