//! Which stretches of the deck edge need a guard: walls, openings and stairs subtract.

use crate::base::plane::{cross, distance, dot, left, unit};
use crate::base::{Code, Finding, Length, Point};
use crate::catalog::Settings;
use crate::deck::{CHORD_MM, Chain, Edge, Plan, Role};

/// Directions that differ by less than this (1 degree) run alongside each other.
const ALONGSIDE: f64 = 0.017_5;

/// A curved edge runs alongside a wall up to this angle (5 degrees), as curved walls come as chords.
const ALONGSIDE_CURVE: f64 = 0.087;

/// Leftovers shorter than this (1/2 in) between two walls or openings are drawing noise.
const SLIVER_MM: f64 = 12.7;

/// Two walls in one line leave a door between them, not a place for a guard, up to the widest usual patio door (16 ft).
const DOOR_MM: f64 = 4_876.8;

/// Why a guarded stretch ends where it does.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Cause {
    /// The chain ends.
    ChainEnd,
    /// A wall runs along the edge.
    Wall,
    /// An opening or a stair keeps it free.
    Free,
}

/// A guarded stretch of one edge, in mm along it from its start.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Stretch {
    /// Index of the edge in its chain.
    pub edge: usize,
    /// Where it begins.
    pub from: f64,
    /// Where it ends.
    pub to: f64,
    /// Why it begins there; `None` when it goes on from the edge before.
    pub begins: Option<Cause>,
    /// Why it ends there; `None` when it goes on into the next edge.
    pub ends: Option<Cause>,
}

/// Guarded stretches of a chain, grouped into runs; and whether the one run closes on itself.
pub struct Free {
    /// Runs of stretches.
    pub runs: Vec<Vec<Stretch>>,
    /// Whether the whole chain is one closed run.
    pub closed: bool,
}

/// A covered interval of an edge.
type Cover = (f64, f64, Cause);

/// Finds the runs of a chain. `touched` is set for each zone that covers some edge.
pub fn free(
    chain: &Chain,
    plan: &Plan,
    settings: &Settings,
    touched: &mut [bool],
    findings: &mut Vec<Finding>,
) -> Free {
    let reach = settings.touch.millimetres();
    let covers: Vec<Vec<Cover>> = chain
        .edges
        .iter()
        .map(|edge| {
            let mut covers = wall_covers(edge, plan, reach, findings);
            covers.extend(zone_covers(edge, plan, reach, touched));
            covers.sort_by(|a, b| a.0.total_cmp(&b.0));
            covers
        })
        .collect();
    let mut stretches: Vec<Stretch> = Vec::new();
    for (i, (edge, covers)) in chain.edges.iter().zip(&covers).enumerate() {
        stretches.extend(gaps(i, edge.piece().length(), covers));
    }
    connect(&mut stretches, chain, &covers);
    group(stretches)
}

/// A chord of an edge: where it begins, in mm along the edge, and its ends.
struct Chord {
    along: f64,
    a: Point,
    b: Point,
}

/// A straight edge as itself, a curved one as short chords.
fn chords(edge: &Edge) -> Vec<Chord> {
    let piece = edge.piece();
    let (mut along, mut a) = (0.0, edge.a);
    let mut chords = Vec::new();
    for (to, b) in piece.steps(CHORD_MM).zip(piece.flat(CHORD_MM)) {
        chords.push(Chord { along, a, b });
        (along, a) = (to, b);
    }
    chords
}

/// Points between which the chords of an edge lie.
fn course(chords: &[Chord]) -> impl Iterator<Item = Point> + '_ {
    chords.iter().flat_map(|c| [c.a, c.b])
}

/// Makes one of intervals that touch or overlap: those of neighbouring chords.
fn united(mut intervals: Vec<(f64, f64)>) -> Vec<(f64, f64)> {
    intervals.sort_by(|a, b| a.0.total_cmp(&b.0));
    let mut out: Vec<(f64, f64)> = Vec::with_capacity(intervals.len());
    for (from, to) in intervals {
        match out.last_mut() {
            Some(last) if from <= last.1 + CHORD_MM => last.1 = last.1.max(to),
            _ => out.push((from, to)),
        }
    }
    out
}

fn wall_covers(edge: &Edge, plan: &Plan, reach: f64, findings: &mut Vec<Finding>) -> Vec<Cover> {
    let chords = if plan.walls.is_empty() { Vec::new() } else { chords(edge) };
    let alongside = if edge.curved { ALONGSIDE_CURVE } else { ALONGSIDE };
    let mut covered = Vec::new();
    for (_, wall) in plan.walls.around(course(&chords), reach) {
        for chord in &chords {
            covered.extend(beside_wall(chord, (wall.a, wall.b), reach, alongside));
        }
    }
    if edge.curved {
        return united(covered).into_iter().map(|(from, to)| (from, to, Cause::Wall)).collect();
    }
    let mut covers: Vec<Cover> = covered.into_iter().map(|(from, to)| (from, to, Cause::Wall)).collect();
    doors(edge, &mut covers, findings);
    covers
}

/// The part of a chord that runs beside a wall.
fn beside_wall(chord: &Chord, wall: (Point, Point), reach: f64, alongside: f64) -> Option<(f64, f64)> {
    let (u, length) = (unit(chord.b - chord.a), distance(chord.a, chord.b));
    let way = unit(wall.1 - wall.0);
    if cross(u, way).abs() > alongside {
        return None;
    }
    let (pa, pb) = (wall.0 - chord.a, wall.1 - chord.a);
    let (s, t) = (dot(u, pa), dot(u, pb));
    let (from, to) = (s.min(t).max(0.0), s.max(t).min(length));
    // A chord of a curve is short: the wall must lie beside it there, not at the wall's far ends.
    let beside = |along: f64| {
        let slope = dot(u, way);
        cross(u, pa + way * ((along - s) / slope)).abs() <= reach
    };
    let near = if alongside == ALONGSIDE {
        cross(u, pa).abs() <= reach && cross(u, pb).abs() <= reach
    } else {
        to > from && beside(from) && beside(to)
    };
    (near && to > from).then_some((chord.along + from, chord.along + to))
}

/// Closes the gaps that doors leave between the walls along one edge: a rail across a door is never meant.
fn doors(edge: &Edge, covers: &mut Vec<Cover>, findings: &mut Vec<Finding>) {
    covers.sort_by(|a, b| a.0.total_cmp(&b.0));
    let mut reached = f64::INFINITY;
    let mut gaps = Vec::new();
    for (from, to, _) in covers.iter() {
        if *from - reached > SLIVER_MM && *from - reached <= DOOR_MM {
            gaps.push((reached, *from, Cause::Wall));
            let u = unit(edge.b - edge.a);
            findings.push(
                Finding::note(
                    Code::DoorAssumed,
                    edge.place().with_point(edge.a + u * ((reached + from) / 2.0)),
                    format!(
                        "the gap of {} between two walls here is taken for a door and gets no guard",
                        Length::measured(from - reached).told()
                    ),
                )
                .hint("if a guard is wanted here, draw the deck edge away from the wall's line"),
            );
        }
        reached = if reached.is_finite() { reached.max(*to) } else { *to };
    }
    covers.extend(gaps);
}

/// The part of an opening or stair that lies within `reach` of the edge, projected on it.
fn zone_covers(edge: &Edge, plan: &Plan, reach: f64, touched: &mut [bool]) -> Vec<Cover> {
    let chords = if plan.zones.is_empty() { Vec::new() } else { chords(edge) };
    let mut covers = Vec::new();
    for (i, zone) in plan.zones.around(course(&chords), reach) {
        let parts = chords.iter().filter_map(|chord| beneath(chord, &zone.hull, reach)).collect();
        // A stair that only touches with a corner, or passes a corner of the deck, keeps nothing free.
        for (low, high) in united(parts).into_iter().filter(|(low, high)| high - low > SLIVER_MM) {
            if let Some(touched) = touched.get_mut(i) {
                *touched = true;
            }
            covers.push((low, high, Cause::Free));
        }
    }
    covers
}

/// The part of a chord that a zone's hull covers.
fn beneath(chord: &Chord, hull: &[Point], reach: f64) -> Option<(f64, f64)> {
    let (u, length) = (unit(chord.b - chord.a), distance(chord.a, chord.b));
    let local: Vec<Point> =
        hull.iter().map(|p| Point { x: dot(u, *p - chord.a), y: dot(left(u), *p - chord.a) }).collect();
    let strip = clipped(&clipped(&local, |p| p.y + reach), |p| reach - p.y);
    let low = strip.iter().map(|p| p.x).fold(f64::INFINITY, f64::min).max(0.0);
    let high = strip.iter().map(|p| p.x).fold(f64::NEG_INFINITY, f64::max).min(length);
    (high > low).then_some((chord.along + low, chord.along + high))
}

/// The part of a convex polygon (or segment) where `side` is not negative.
pub fn clipped(polygon: &[Point], side: impl Fn(&Point) -> f64) -> Vec<Point> {
    let mut out = Vec::with_capacity(polygon.len() + 2);
    for (p, q) in polygon.iter().zip(polygon.iter().cycle().skip(1)) {
        let (sp, sq) = (side(p), side(q));
        if sp >= 0.0 {
            out.push(*p);
        }
        if (sp < 0.0) != (sq < 0.0) {
            out.push(*p + (*q - *p) * (sp / (sp - sq)));
        }
    }
    out
}

/// What the covers leave of an edge.
fn gaps(edge: usize, length: f64, covers: &[Cover]) -> Vec<Stretch> {
    let mut out = Vec::new();
    let mut from = 0.0;
    let mut begins = None;
    for (start, end, cause) in covers {
        if *start - from > SLIVER_MM {
            out.push(Stretch { edge, from, to: *start, begins, ends: Some(*cause) });
        }
        if *end > from {
            from = *end;
            begins = Some(*cause);
        }
    }
    if length - from > SLIVER_MM || covers.is_empty() {
        out.push(Stretch { edge, from, to: length, begins, ends: None });
    }
    out
}

/// Says for the stretches that reach an edge's end whether they go on around the corner, and else why not.
fn connect(stretches: &mut [Stretch], chain: &Chain, covers: &[Vec<Cover>]) {
    let count = chain.edges.len();
    let mut reaches_start = vec![false; count];
    let mut reaches_end = vec![false; count];
    for s in stretches.iter() {
        if let (Some(start), Some(end)) = (reaches_start.get_mut(s.edge), reaches_end.get_mut(s.edge)) {
            *start |= s.from == 0.0;
            *end |= s.ends.is_none();
        }
    }
    let cause_at = |edge: usize, last: bool| {
        let covers = covers.get(edge)?;
        let by_end = |a: &&Cover, b: &&Cover| a.1.total_cmp(&b.1);
        if last { covers.iter().max_by(by_end).map(|c| c.2) } else { covers.first().map(|c| c.2) }
    };
    for s in stretches {
        if s.from == 0.0 {
            let before = if s.edge > 0 { Some(s.edge - 1) } else { chain.closed.then_some(count - 1) };
            s.begins = match before {
                None => Some(Cause::ChainEnd),
                Some(b) if reaches_end.get(b).copied().unwrap_or(false) => None,
                Some(b) => cause_at(b, true).or(Some(Cause::ChainEnd)),
            };
        }
        if s.ends.is_none() {
            let after = if s.edge + 1 < count { Some(s.edge + 1) } else { chain.closed.then_some(0) };
            s.ends = match after {
                None => Some(Cause::ChainEnd),
                Some(a) if reaches_start.get(a).copied().unwrap_or(false) => None,
                Some(a) => cause_at(a, false).or(Some(Cause::ChainEnd)),
            };
        }
    }
}

fn group(mut stretches: Vec<Stretch>) -> Free {
    let start = stretches.iter().position(|s| s.begins.is_some());
    let closed = start.is_none() && !stretches.is_empty();
    stretches.rotate_left(start.unwrap_or(0));
    let mut runs: Vec<Vec<Stretch>> = Vec::new();
    for s in stretches {
        match runs.last_mut() {
            Some(run) if s.begins.is_none() => run.push(s),
            _ => runs.push(vec![s]),
        }
    }
    Free { runs, closed }
}

/// Openings and stairs that cover no edge.
pub fn untouched(plan: &Plan, touched: &[bool]) -> Vec<Finding> {
    let missed = plan.zones.iter().zip(touched).filter(|(_, t)| !**t);
    missed
        .map(|(zone, _)| {
            let place = zone.place.clone();
            if zone.role == Role::Stair {
                Finding::warning(Code::StairOffEdge, place, "this stair touches no deck edge, so it keeps nothing free")
                    .hint("draw the stair up to the deck edge")
            } else {
                Finding::error(
                    Code::OpeningOffEdge,
                    place,
                    "this opening touches no deck edge, so it keeps nothing free",
                )
                .hint("draw the opening on the deck edge, from side to side")
            }
        })
        .collect()
}
