//! Which edges an opening stands in, and how much of them it keeps free: a leaf that lies open on the next edge, or a stroke
//! that only ends on one, frees nothing there.

use std::collections::BTreeMap;

use crate::base::plane::{cross, distance, dot, to_segment, unit};
use crate::base::{Code, Extent, Finding, Near, Point};
use crate::catalog::Settings;
use crate::deck::{CHORD_MM, Plan, Role, Zone};

/// An edge, by the numbers of its chain and of itself.
pub type EdgeKey = (usize, usize);

/// A stroke this near to an edge (1 in) is drawn on it.
const ON_MM: f64 = 25.4;

/// Sine of the angle between an edge and a stroke along it: 2 degrees, and 10 where the edge is curved.
const ALONG: f64 = 0.035;
const ALONG_CURVE: f64 = 0.174;

/// Edges that turn by less than this (15 degrees) where they meet are one side.
const ONE_SIDE: f64 = 0.259;

/// Two sides of which one has this share of the strokes of the other: it cannot be told which of them is meant.
const ALIKE: f64 = 0.6;

/// A chord of an edge.
struct Chord {
    key: EdgeKey,
    side: usize,
    curved: bool,
    a: Point,
    b: Point,
    /// Where it begins, in mm along the edge.
    from: f64,
}

impl Extent for Chord {
    fn extent(&self) -> impl Iterator<Item = Point> {
        [self.a, self.b].into_iter()
    }
}

/// A stretch of an edge, in mm along it.
pub type Stretch = (EdgeKey, f64, f64);

/// What a zone may keep free.
#[derive(Debug, Clone, PartialEq)]
pub enum Mouth {
    /// Whatever its hull covers: the head or foot of a flight.
    Hull,
    /// What its hull covers of these edges only.
    Edges(Vec<EdgeKey>),
    /// Just these stretches.
    Stretches(Vec<Stretch>),
}

/// What each zone of the plan may keep free; openings that lie alike on two sides are told.
pub fn mouths(plan: &Plan, settings: &Settings, findings: &mut Vec<Finding>) -> Vec<Mouth> {
    if plan.zones.iter().all(|z| z.strokes.is_empty()) {
        return vec![Mouth::Hull; plan.zones.len()];
    }
    let chords: Near<Chord> = chords(plan).into();
    let reach = settings.touch.millimetres();
    plan.zones.iter().map(|zone| mouth(zone, &chords, reach, findings)).collect()
}

/// All edges as chords, those of smoothly joined edges with one number.
fn chords(plan: &Plan) -> Vec<Chord> {
    let mut out: Vec<Chord> = Vec::new();
    let mut side = 0;
    for (c, chain) in plan.chains.iter().enumerate() {
        let (first, begin) = (side + 1, out.len());
        let mut before: Option<Point> = None;
        for (e, edge) in chain.edges.iter().enumerate() {
            let piece = edge.piece();
            let way = piece.way(0.0);
            if before.is_none_or(|b| cross(b, way).abs() > ONE_SIDE || dot(b, way) < 0.0) {
                side += 1;
            }
            before = Some(piece.way(piece.length()));
            let (mut from, mut a) = (0.0, edge.a);
            for (to, b) in piece.steps(CHORD_MM).zip(piece.flat(CHORD_MM)) {
                out.push(Chord { key: (c, e), side, curved: edge.curved, a, b, from });
                (from, a) = (to, b);
            }
        }
        // The last edge of a ring may go on smoothly into the first.
        let joins = chain.edges.first().zip(before).is_some_and(|(edge, b)| {
            let way = edge.piece().way(0.0);
            chain.is_closed() && cross(b, way).abs() <= ONE_SIDE && dot(b, way) > 0.0
        });
        if joins {
            let own = out.get_mut(begin..).unwrap_or_default().iter_mut();
            own.filter(|chord| chord.side == side).for_each(|chord| chord.side = first);
        }
    }
    out
}

/// The part of a chord along which a stroke runs within `reach`, in mm along the chord.
fn along(chord: &Chord, (p, q): (Point, Point), reach: f64) -> Option<(f64, f64)> {
    let (u, length) = (unit(chord.b - chord.a), distance(chord.a, chord.b));
    let most = if chord.curved { ALONG_CURVE } else { ALONG };
    if cross(u, unit(q - p)).abs() > most {
        return None;
    }
    let (s, t) = (dot(u, p - chord.a), dot(u, q - chord.a));
    let (low, high) = (s.min(t).max(0.0), s.max(t).min(length));
    let middle = chord.a + u * f64::midpoint(low, high);
    (high > low && to_segment(middle, p, q).0 <= reach).then_some((low, high))
}

/// Length of the strokes along each side, and the edges and stretches there.
#[derive(Default)]
struct Found {
    length: f64,
    stretches: Vec<Stretch>,
    /// Entities that are drawn along it.
    entities: Vec<usize>,
}

fn found(zone: &Zone, chords: &Near<Chord>, reach: f64) -> BTreeMap<usize, Found> {
    let mut sides: BTreeMap<usize, Found> = BTreeMap::new();
    for (p, q, entity) in &zone.strokes {
        for (_, chord) in chords.around([*p, *q], reach) {
            let Some((low, high)) = along(chord, (*p, *q), reach) else { continue };
            let side = sides.entry(chord.side).or_default();
            side.length += high - low;
            side.stretches.push((chord.key, chord.from + low, chord.from + high));
            side.entities.push(*entity);
        }
    }
    sides
}

fn mouth(zone: &Zone, chords: &Near<Chord>, reach: f64, findings: &mut Vec<Finding>) -> Mouth {
    if zone.strokes.is_empty() {
        return Mouth::Hull;
    }
    let on = found(zone, chords, ON_MM.min(reach));
    let sides = if on.is_empty() { found(zone, chords, reach) } else { on };
    if zone.role == Role::Stair {
        let all: Vec<Stretch> = sides.into_values().flat_map(|f| f.stretches).collect();
        return if all.is_empty() { Mouth::Hull } else { Mouth::Stretches(all) };
    }
    let mut ranked: Vec<(usize, &Found)> = sides.iter().map(|(side, found)| (*side, found)).collect();
    ranked.sort_by(|a, b| b.1.length.total_cmp(&a.1.length).then(a.0.cmp(&b.0)));
    let Some((side, best)) = ranked.first().copied() else { return Mouth::Hull };
    // Only what lies near the opening can be kept free by it.
    let near = |side: usize| {
        let around = chords.around(zone.hull.iter().copied(), reach).map(|(_, c)| c);
        around.filter(move |c| c.side == side).map(|c| c.key)
    };
    let mut own: Vec<EdgeKey> = near(side).collect();
    if let Some((other, second)) = ranked.get(1).filter(|(_, f)| f.length >= ALIKE * best.length) {
        // One line drawn round a corner means both sides of it.
        if best.entities.iter().any(|e| second.entities.contains(e)) && !zone.has_arc {
            own.extend(near(*other));
        } else {
            let message = "this opening lies on two edges of the deck alike, so it cannot be told in which of them it stands; one \
                           of them is kept free";
            findings.push(Finding::incomplete(Code::OpeningAmbiguous, zone.place.clone(), message).hint(
                "leave out the leaf that lies on the other edge, or draw the opening as one line along its edge",
            ));
        }
    }
    own.sort_unstable();
    own.dedup();
    Mouth::Edges(own)
}
