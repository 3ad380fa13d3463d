//! Which stretches of the deck edge need a guard: walls, openings and stairs subtract.

use crate::base::plane::{cross, distance, dot, left, meet, unit};
use crate::base::{Code, Finding, Length, Place, Point};
use crate::deck::{CHORD_MM, Chain, Edge, Plan, Role, Wall, WallKind, Zone};

use super::mouths::{EdgeKey, Mouth};

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

/// What keeps edges free, and what was found of it so far.
pub struct Covers<'a> {
    /// The plan.
    pub plan: &'a Plan,
    /// How near what keeps an edge free must lie, in mm.
    pub reach: f64,
    /// What each zone may keep free.
    pub mouths: &'a [Mouth],
    /// Set for each zone that covers some edge.
    pub touched: Vec<bool>,
    /// Openings whose width cannot be told.
    pub aslant: Vec<Finding>,
    /// Stretches that are kept free, by zone; and doors.
    pub kept: Kept,
}

/// Stretches of deck edge that are kept free, as chords of the edge.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct Kept {
    /// By openings and stairs, with the number of the zone.
    pub mouths: Vec<(usize, Vec<Point>)>,
    /// By doors between two walls.
    pub doors: Vec<Vec<Point>>,
}

/// Finds the runs of a chain, by its number.
pub fn free(number: usize, chain: &Chain, known: &mut Covers<'_>, findings: &mut Vec<Finding>) -> Free {
    let covers: Vec<Vec<Cover>> = chain
        .edges
        .iter()
        .enumerate()
        .map(|(e, edge)| {
            let mut covers = wall_covers(edge, known, findings);
            covers.extend(zone_covers((number, e), edge, known));
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

fn wall_covers(edge: &Edge, known: &mut Covers<'_>, findings: &mut Vec<Finding>) -> Vec<Cover> {
    let (plan, reach) = (known.plan, known.reach);
    let chords = if plan.walls.is_empty() { Vec::new() } else { chords(edge) };
    let alongside = if edge.curved { ALONGSIDE_CURVE } else { ALONGSIDE };
    let mut covered = Vec::new();
    for (_, wall) in plan.walls.around(course(&chords), reach) {
        for chord in &chords {
            let part = beside_wall(chord, (wall.a, wall.b), reach, alongside);
            covered.extend(part.map(|(from, to)| (from, to, wall.kind)));
        }
    }
    let cover = |(from, to)| (from, to, Cause::Wall);
    if edge.curved {
        return united(covered.into_iter().map(|(from, to, _)| (from, to)).collect()).into_iter().map(cover).collect();
    }
    let doors = doors(edge, &covered, plan, findings);
    let along = |d: f64| edge.a + unit(edge.b - edge.a) * d;
    known.kept.doors.extend(doors.iter().map(|(from, to)| vec![along(*from), along(*to)]));
    covered.into_iter().map(|(from, to, _)| (from, to)).chain(doors).map(cover).collect()
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

/// How far behind a gap between two walls the house goes on: a recess deeper than 4 in is no door's reveal. How far the
/// house's next wall may be (40 ft).
const BEHIND_MM: f64 = 101.6;
const FAR_MM: f64 = 12_192.0;

/// The gaps that doors leave between the walls along one edge: a rail across a door is never meant. Without a house behind
/// it a gap is none: between a house and a column, or between two houses, one can fall.
fn doors(edge: &Edge, covered: &[(f64, f64, WallKind)], plan: &Plan, findings: &mut Vec<Finding>) -> Vec<(f64, f64)> {
    let mut covers: Vec<(f64, f64, WallKind)> =
        covered.iter().copied().filter(|(.., kind)| *kind != WallKind::Column).collect();
    covers.sort_by(|a, b| a.0.total_cmp(&b.0));
    // Where the walls so far begin and end, and what the last of them is.
    let mut reached: Option<(f64, f64, WallKind)> = None;
    let mut gaps = Vec::new();
    for (from, to, kind) in covers {
        if let Some((start, before, first)) = reached.filter(|(_, r, _)| from - r > SLIVER_MM && from - r <= DOOR_MM) {
            let u = unit(edge.b - edge.a);
            let middle = edge.a + u * f64::midpoint(before, from);
            // Of lines alone a door is no wider than the wall on both its sides.
            let are_long = (before - start) + (to - from) >= from - before;
            let is_door = house_behind(middle, left(u), [first, kind], are_long, plan);
            let width = Length::measured(from - before).told();
            findings.push(told_gap(is_door, edge.place().with_point(middle), &width));
            if is_door {
                gaps.push((before, from));
            }
        }
        reached = match reached {
            Some((start, r, _)) if from - r <= SLIVER_MM && to > r => Some((start, to, kind)),
            Some((_, r, _)) if to > r => Some((from, to, kind)),
            None => Some((from, to, kind)),
            same => same,
        };
    }
    gaps
}

/// Whether a house lies behind a gap between two walls: within the outline of one, or, where the walls are open lines,
/// before another wall.
fn house_behind(gap: Point, out: Point, walls: [WallKind; 2], are_long: bool, plan: &Plan) -> bool {
    if plan.houses.hold(gap + out * BEHIND_MM) {
        return true;
    }
    let (from, to) = (gap + out * BEHIND_MM, gap + out * FAR_MM);
    let hits = |w: &Wall| {
        let way = w.b - w.a;
        let on = meet(w.a, way, from, out).is_some_and(|t| (0.0..=1.0).contains(&t));
        on && meet(from, out, w.a, way).is_some_and(|t| (0.0..=FAR_MM).contains(&t))
    };
    are_long
        && walls == [WallKind::Line; 2]
        && plan.walls.around([from, to], 0.0).any(|(_, w)| w.kind != WallKind::Column && hits(w))
}

fn told_gap(is_door: bool, place: Place, width: &str) -> Finding {
    if is_door {
        let message = format!("the gap of {width} between two walls here is taken for a door and gets no guard");
        return Finding::note(Code::DoorAssumed, place, message)
            .hint("if a guard is wanted here, draw the deck edge away from the wall's line");
    }
    let message = format!(
        "the gap of {width} between two walls here has no house behind it: whether it is a door cannot be told, and it gets a \
         guard"
    );
    Finding::incomplete(Code::DoorAssumed, place, message).hint(
        "if it is a door, draw an opening across it, or the house behind; if not, end the wall's outline at the gap",
    )
}

/// What openings and stairs keep free of an edge.
fn zone_covers(key: EdgeKey, edge: &Edge, known: &mut Covers<'_>) -> Vec<Cover> {
    let (plan, reach) = (known.plan, known.reach);
    let chords = if plan.zones.is_empty() { Vec::new() } else { chords(edge) };
    let mut covers = Vec::new();
    for (i, zone) in plan.zones.around(course(&chords), reach) {
        let beneath = || chords.iter().filter_map(|chord| beneath(chord, &zone.hull, reach)).collect();
        let parts: Vec<(f64, f64)> = match known.mouths.get(i) {
            Some(Mouth::Edges(own)) if own.binary_search(&key).is_err() => continue,
            Some(Mouth::Stretches(all)) => {
                all.iter().filter(|(of, ..)| *of == key).map(|(_, from, to)| (*from, *to)).collect()
            }
            _ => beneath(),
        };
        if zone.role == Role::Opening && known.mouths.get(i) == Some(&Mouth::Hull) {
            known.aslant.extend(aslant(zone, edge, &parts));
        }
        // A stair that only touches with a corner, or passes a corner of the deck, keeps nothing free.
        for (low, high) in united(parts).into_iter().filter(|(low, high)| high - low > SLIVER_MM) {
            if let Some(touched) = known.touched.get_mut(i) {
                *touched = true;
            }
            let part = edge.piece().part(low, high);
            known.kept.mouths.push((i, std::iter::once(part.a).chain(part.flat(CHORD_MM)).collect()));
            covers.push((low, high, Cause::Free));
        }
    }
    covers
}

/// An opening that is drawn aslant to the edge, as an open leaf is: how wide it is there cannot be told.
fn aslant(zone: &Zone, edge: &Edge, parts: &[(f64, f64)]) -> Option<Finding> {
    let (u, length) = (unit(edge.b - edge.a), distance(edge.a, edge.b));
    let on = || zone.hull.iter().map(|p| dot(u, *p - edge.a).clamp(0.0, length));
    let (low, high) = (on().fold(f64::INFINITY, f64::min), on().fold(f64::NEG_INFINITY, f64::max));
    let freed: f64 = parts.iter().map(|(from, to)| to - from).sum();
    (freed > 0.0 && freed < 0.5 * (high - low)).then(|| {
        let message = "this opening is drawn aslant to the edge, as an open leaf is, so that its width cannot be told; the edge \
                       is kept free only where it meets it";
        Finding::incomplete(Code::OpeningAmbiguous, zone.place.clone(), message)
            .hint("draw the opening as a line along its edge, from side to side")
    })
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
            let before = if s.edge > 0 { Some(s.edge - 1) } else { chain.is_closed().then_some(count - 1) };
            s.begins = match before {
                None => Some(Cause::ChainEnd),
                Some(b) if reaches_end.get(b).copied().unwrap_or(false) => None,
                Some(b) => cause_at(b, true).or(Some(Cause::ChainEnd)),
            };
        }
        if s.ends.is_none() {
            let after = if s.edge + 1 < count { Some(s.edge + 1) } else { chain.is_closed().then_some(0) };
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
                Finding::incomplete(
                    Code::StairOffEdge,
                    place,
                    "this stair touches no deck edge, so it keeps nothing free",
                )
                .hint("draw the stair up to the deck edge")
            } else {
                Finding::incomplete(
                    Code::OpeningOffEdge,
                    place,
                    "this opening touches no deck edge, so it keeps nothing free",
                )
                .hint("draw the opening on the deck edge, from side to side")
            }
        })
        .collect()
}
