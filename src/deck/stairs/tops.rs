//! Which end of a flight is its top.

use std::collections::{BTreeMap, VecDeque};

use crate::base::plane::{direction, distance, dot};
use crate::base::{Angle, Code, Finding, Point};
use crate::catalog::StairJob;

use super::drawn::{Drawn, Kind};
use super::levels::{Levels, Touch, touched};
use super::lines::TREAD_MM;
use super::strokes::GROUP_MM;
use super::words::Arrow;

/// A flight on its way to be understood.
#[derive(Debug, Clone)]
pub struct Case<'a> {
    /// As drawn; of an outline along one of its sides.
    pub drawn: Drawn,
    /// An outline along its other sides.
    pub other: Option<Drawn>,
    /// What the job says of it.
    pub job: Option<&'a StairJob>,
    /// What an arrow along `drawn`, and along `other`, says.
    pub arrows: [Option<Arrow>; 2],
}

/// A flight whose top is known: `drawn` begins there.
#[derive(Debug, Clone, PartialEq)]
pub struct Placed {
    /// As drawn, the top first.
    pub drawn: Drawn,
    /// What the top touches.
    pub top: Option<Touch>,
    /// What the foot touches.
    pub foot: Option<Touch>,
    /// Whether it goes on from a flight above it.
    pub goes_on: bool,
    /// The outline from which its stair falls.
    pub leaves: Option<usize>,
}

/// What became of a case.
#[derive(Debug, Clone, PartialEq)]
pub enum Verdict {
    /// Its top is known.
    Placed(Box<Placed>),
    /// It touches no deck edge.
    OffEdge,
    /// It cannot be told, and why.
    Unclear(&'static str),
}

/// Decides for each flight; those that touch no deck edge may go on from a landing.
pub fn decided(cases: &[Case<'_>], levels: &Levels, touch: f64, findings: &mut Vec<Finding>) -> Vec<Verdict> {
    let mut out: Vec<Verdict> = cases.iter().map(|c| decide(c, levels, touch, findings)).collect();
    returning(cases, levels, &mut out);
    // A flight may go on from one that goes on itself: each that was placed is asked once.
    let mut above: VecDeque<Placed> = out.iter().filter_map(placed).cloned().collect();
    while let Some(upper) = above.pop_front() {
        for (case, verdict) in cases.iter().zip(&mut out).filter(|(_, v)| **v == Verdict::OffEdge) {
            if let Some(placed) = goes_on(case, &upper, levels, touch) {
                above.push_back(placed.clone());
                *verdict = Verdict::Placed(placed.into());
            }
        }
    }
    out
}

fn placed(verdict: &Verdict) -> Option<&Placed> {
    match verdict {
        Verdict::Placed(placed) => Some(placed),
        _ => None,
    }
}

/// Of flights that all lie between the deck's edge and one landing, those leave the deck of which an arrow, heights or the
/// job say so; the others come back from the landing beneath the edge, which they do not open.
fn returning(cases: &[Case<'_>], levels: &Levels, out: &mut [Verdict]) {
    let is_deck = |t: Touch| levels.get(t.level).is_some_and(|l| l.deck);
    let mut by_landing: BTreeMap<usize, Vec<usize>> = BTreeMap::new();
    for (i, verdict) in out.iter().enumerate() {
        let ends = placed(verdict).and_then(|p| Some((p.top?, p.foot?)));
        if let Some((_, foot)) = ends.filter(|(top, foot)| is_deck(*top) && !is_deck(*foot)) {
            by_landing.entry(foot.level).or_default().push(i);
        }
    }
    let is_sure = |i: &usize| {
        cases.get(*i).is_some_and(|c| {
            let said = c.arrows.iter().flatten().any(|a| a.worded);
            said || c.drawn.falls.is_some() || c.job.is_some_and(|j| j.down.is_some())
        })
    };
    for flights in by_landing.into_values().filter(|f| f.len() > 1) {
        let (sure, open): (Vec<usize>, Vec<usize>) = flights.into_iter().partition(is_sure);
        for i in open {
            if let Some(verdict) = out.get_mut(i) {
                *verdict = if sure.is_empty() {
                    Verdict::Unclear(
                        "several flights lie between the deck's edge and one landing, and nothing tells which of \
                                      them leaves the deck",
                    )
                } else {
                    Verdict::OffEdge
                };
            }
        }
    }
}

fn ends(drawn: &Drawn, levels: &Levels, touch: f64) -> [Option<Touch>; 2] {
    let reach = match (drawn.kind, drawn.lines.len()) {
        (Kind::Treads, 1) => *TREAD_MM.end(),
        (Kind::Treads, _) => drawn.spacing() + touch,
        _ => touch,
    };
    [false, true].map(|last| touched(levels, drawn, last, touch, reach))
}

fn decide(case: &Case<'_>, levels: &Levels, touch: f64, findings: &mut Vec<Finding>) -> Verdict {
    if case.drawn.kind == Kind::Job {
        let [top, foot] = ends(&case.drawn, levels, touch);
        let foot = foot.filter(|_| case.drawn.depth() > 0.0);
        return Verdict::Placed(
            Placed { drawn: case.drawn.clone(), top, foot, goes_on: false, leaves: top.map(|t| t.level) }.into(),
        );
    }
    let on_deck = |t: &Option<Touch>| t.is_some_and(|t| levels.get(t.level).is_some_and(|l| l.deck));
    let down = case.job.and_then(|j| j.down).map(|d| direction(Angle::from_degrees(d)));
    let touches = |d: &Drawn| ends(d, levels, touch).iter().filter(|t| on_deck(t)).count();
    let along = |d: &Drawn, way: Point| dot(d.axis, way).abs() > 0.7;
    let (drawn, arrow) = match (&case.other, down) {
        (Some(other), Some(way)) if along(other, way) => (other, case.arrows[1]),
        (None, _) | (Some(_), Some(_)) => (&case.drawn, case.arrows[0]),
        (Some(other), None) => match (touches(&case.drawn), touches(other), case.arrows) {
            (0, 0, _) => return Verdict::OffEdge,
            (_, _, [Some(a), None]) => (&case.drawn, Some(a)),
            (_, _, [None, Some(a)]) => (other, Some(a)),
            (_, 0, _) | (1, 2, _) => (&case.drawn, case.arrows[0]),
            (0, _, _) | (2, 1, _) => (other, case.arrows[1]),
            _ => return Verdict::Unclear("it touches the deck edge with sides that are square to each other"),
        },
    };
    let [first, last] = ends(drawn, levels, touch);
    let decks = [&first, &last].map(on_deck);
    let first_is_top = match down {
        Some(way) if along(drawn, way) => Some(dot(drawn.axis, way) > 0.0),
        Some(_) => return Verdict::Unclear("the direction that the job gives lies across it"),
        None if decks == [false, false] => return Verdict::OffEdge,
        None => drawn.falls.map(|f| f > 0.0).or_else(|| by_touch(drawn, [first, last], decks, arrow, levels, findings)),
    };
    if [&first, &last].iter().any(|t| on_deck(t) && t.is_some_and(|t| t.spread > touch)) {
        return Verdict::Unclear("the end that meets the deck edge does not run along it");
    }
    let Some(first_is_top) = first_is_top else {
        return Verdict::Unclear("both its ends touch deck edges, and nothing tells which of them is the upper one");
    };
    if let Some(arrow) = arrow.filter(|a| a.worded && down.is_none())
        && (dot(arrow.down, drawn.axis) > 0.0) != first_is_top
    {
        let far = if first_is_top { &last } else { &first };
        if far.is_some() && !on_deck(far) {
            // It falls from a landing towards the deck, beneath its edge.
            return Verdict::OffEdge;
        }
        let message = "the arrow on this stair points the other way than the deck edge that it touches, or its heights, tell; \
                       the deck edge and the heights are followed";
        findings.push(
            Finding::incomplete(Code::StairDirection, drawn.place.clone(), message)
                .hint("turn the arrow, or give the direction in which the stair falls with `down` of `[[stair]]`"),
        );
    }
    let (drawn, [top, foot]) =
        if first_is_top { (drawn.clone(), [first, last]) } else { (drawn.clone().turned(), [last, first]) };
    Verdict::Placed(with_edges(drawn, top, foot, touch).into())
}

/// By the one end that touches a deck edge; where both do, by the arrow, or else the larger outline is the upper one.
fn by_touch(
    drawn: &Drawn,
    ends: [Option<Touch>; 2],
    decks: [bool; 2],
    arrow: Option<Arrow>,
    levels: &Levels,
    findings: &mut Vec<Finding>,
) -> Option<bool> {
    match decks {
        [true, false] => return Some(true),
        [false, true] => return Some(false),
        _ => {}
    }
    if drawn.lines.len() == 1 {
        // A line on the edge touches it from both its sides.
        let [a, b] = ends.map(|t| t.map_or(f64::INFINITY, |t| t.gap));
        return Some(a <= b);
    }
    if let Some(arrow) = arrow.filter(|a| a.worded) {
        return Some(dot(arrow.down, drawn.axis) > 0.0);
    }
    let [first, last] = ends.map(|t| t.and_then(|t| levels.get(t.level)).map_or(0.0, |l| l.area));
    let (how, top) = match arrow {
        Some(arrow) => ("the arrow without a word is taken to point up", dot(arrow.down, drawn.axis) > 0.0),
        None if first != last => ("the larger outline is taken for the upper level", first > last),
        None => return None,
    };
    let message = format!("both ends of this stair touch deck edges: {how}");
    findings.push(
        Finding::incomplete(Code::StairDirection, drawn.place.clone(), message)
            .hint("draw an arrow with UP or DN along the stair, or give `down` in a `[[stair]]` of the job file"),
    );
    Some(top)
}

/// Edges a tread away from the first or last line are nosings, too: the edge of the upper level, and that of a landing.
fn with_edges(mut drawn: Drawn, top: Option<Touch>, foot: Option<Touch>, touch: f64) -> Placed {
    let least = if drawn.lines.len() == 1 { touch } else { drawn.spacing() / 2.0 };
    let gap = |t: Option<Touch>| t.map(|t| t.gap).filter(|g| drawn.kind == Kind::Treads && *g > least);
    let (before, after) = (gap(top), gap(foot));
    if let Some(gap) = after.filter(|_| drawn.lines.len() > 1) {
        let end = drawn.depth() + gap;
        drawn.lines.push(end);
    }
    if let Some(gap) = before {
        drawn.start = drawn.at(-gap, 0.0);
        drawn.lines.iter_mut().for_each(|l| *l += gap);
        drawn.lines.insert(0, 0.0);
    }
    if drawn.heights.len() != drawn.lines.len() {
        drawn.heights.clear();
    }
    Placed { drawn, top, foot, goes_on: false, leaves: top.map(|t| t.level) }
}

/// A flight that begins at the landing at the foot of another one: on the same outline, or, where no landing is drawn, on
/// the level ground before that foot, as deep as the flight is wide.
fn goes_on(case: &Case<'_>, above: &Placed, levels: &Levels, touch: f64) -> Option<Placed> {
    let landing = above.foot.map(|t| t.level);
    let (a, depth, half) = (&above.drawn, above.drawn.depth(), above.drawn.half);
    let far = depth + 2.0 * half;
    // Most flights of a site are nowhere near.
    let reach = far + case.drawn.depth() + 2.0 * case.drawn.half + levels_reach(landing, levels, a);
    if distance(a.at(depth, 0.0), case.drawn.centre()) > reach {
        return None;
    }
    let area = [a.at(depth, -half), a.at(far, -half), a.at(far, half), a.at(depth, half)];
    let all = [Some(&case.drawn), case.other.as_ref()];
    for drawn in all.into_iter().flatten() {
        let ends = ends(drawn, levels, touch);
        let on = match landing {
            Some(level) => ends.map(|t| t.is_some_and(|t| t.level == level)),
            None => [0.0, drawn.depth()].map(|along| drawn.end_from(along, &area) <= GROUP_MM),
        };
        let first_is_top = match (on, drawn.falls) {
            ([true, false], _) => true,
            ([false, true], _) => false,
            ([true, true], Some(falls)) => falls > 0.0,
            _ => continue,
        };
        let [first, last] = ends;
        let (drawn, [top, foot]) =
            if first_is_top { (drawn.clone(), [first, last]) } else { (drawn.clone().turned(), [last, first]) };
        // The edge of the deck that the stair left lies above this foot, and is not opened by it.
        let foot = foot.filter(|t| above.leaves != Some(t.level));
        return Some(Placed { goes_on: true, leaves: above.leaves, ..with_edges(drawn, top, foot, touch) });
    }
    None
}

/// How far a landing reaches from the foot of a flight on it.
fn levels_reach(landing: Option<usize>, levels: &Levels, above: &Drawn) -> f64 {
    let foot = above.at(above.depth(), 0.0);
    let chords = landing.and_then(|l| levels.get(l)).map_or(&[][..], |l| &l.chords);
    chords.iter().map(|(a, _)| distance(*a, foot)).fold(GROUP_MM, f64::max)
}
