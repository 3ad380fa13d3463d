//! Which texts, attributes and arrows belong to which flight.

use std::collections::BTreeMap;

use crate::base::plane::{distance, dot, unit};
use crate::base::{Code, Finding, Length, Place, Point};
use crate::cad::{Entity, Insert, Shape};

use super::Site;
use super::drawn::Drawn;
use super::strokes::Stroke;
use super::text::{self, Said, Way};

/// A text stands within the flight or so near to it: 24 in.
const BESIDE_MM: f64 = 609.6;

/// Strokes of an arrow's head are at most a foot long, and reach the shaft within an inch.
const HEAD_MM: f64 = 304.8;
const MEETS_MM: f64 = 25.4;

/// A text that says something, and where it stands.
#[derive(Debug, Clone, PartialEq)]
pub struct Word {
    /// Its place.
    pub at: Point,
    /// What it says.
    pub said: Said,
    /// The placed block whose attribute it is.
    insert: Option<usize>,
    place: Place,
}

/// All texts and attributes that say something of stairs.
pub fn words(site: &Site<'_>) -> Vec<Word> {
    let bare = site.settings.measure(site.frame.unit).unit;
    let texts = site.entities.iter().filter_map(|e| {
        let Shape::Text { at, content } = &e.shape else { return None };
        Some(Word { at: *at, said: text::said(content, bare), insert: None, place: e.place(*at) })
    });
    let of_insert = |(i, insert): (usize, &Insert)| {
        let mut said = Said::default();
        for (tag, value) in &insert.attributes {
            said.add(&text::attribute(tag, value, bare));
        }
        let place = Place {
            at: Some(insert.at),
            handle: insert.origin.handle,
            line: insert.origin.line,
            layer: Some(insert.layer.clone()),
            ..Place::default()
        };
        Word { at: insert.at, said, insert: Some(i), place }
    };
    let blocks = site.inserts.iter().enumerate().map(of_insert);
    texts.chain(blocks).filter(|w| !w.said.is_empty()).collect()
}

/// What is said of each flight, and where the word on its way stands.
pub fn assigned(
    words: &[Word],
    flights: &[&Drawn],
    site: &Site<'_>,
    findings: &mut Vec<Finding>,
) -> Vec<(Said, Option<Point>)> {
    let mut out = vec![(Said::default(), None); flights.len()];
    let mut by_insert: BTreeMap<usize, Vec<usize>> = BTreeMap::new();
    for (f, flight) in flights.iter().enumerate() {
        for i in holders(site.entities.get(flight.entity).copied(), site.inserts) {
            by_insert.entry(i).or_default().push(f);
        }
    }
    for word in words {
        let held = word.insert.and_then(|i| by_insert.get(&i));
        // A block on another layer that holds nothing of a stair does not speak of one.
        let speaks = word.insert.is_none_or(|i| site.inserts.get(i).is_some_and(|n| (site.is_stair)(&n.layer)));
        let nearest = || {
            let by_distance = flights.iter().enumerate().map(|(f, d)| (f, d.distance(word.at)));
            let near = by_distance.min_by(|(_, a), (_, b)| a.total_cmp(b)).filter(|(_, d)| *d <= BESIDE_MM);
            near.filter(|_| speaks).map(|(f, _)| vec![f]).unwrap_or_default()
        };
        let of = held.cloned().unwrap_or_else(nearest);
        if of.is_empty() && !flights.is_empty() && speaks && (word.said.riser.is_some() || word.said.total.is_some()) {
            findings.push(
                Finding::warning(
                    Code::EntityNotUsed,
                    word.place.clone(),
                    "this text gives the steps of a stair, but begins more than 24 in away from each that could be read",
                )
                .hint("let it begin within the flight or beside it"),
            );
        }
        for f in of {
            let Some((said, way_at)) = out.get_mut(f) else { continue };
            if said.way.is_none() && word.said.way.is_some() {
                *way_at = Some(word.at);
            }
            if said.add(&word.said) {
                let message = "this text says something else of the stair than another one beside it does";
                findings.push(
                    Finding::warning(Code::StairStepsDiffer, word.place.clone(), message)
                        .hint("the first of them in the drawing is used; correct or erase the other one"),
                );
            }
        }
    }
    out
}

/// The block that an entity came from, and those around it.
fn holders(entity: Option<&Entity>, inserts: &[Insert]) -> Vec<usize> {
    let mut out = Vec::new();
    let mut at = entity.and_then(|e| e.insert);
    while let Some(i) = at.filter(|_| out.len() < inserts.len()) {
        out.push(i);
        at = inserts.get(i).and_then(|n| n.parent);
    }
    out
}

/// Which way an arrow says that a flight falls.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Arrow {
    /// Direction in which the flight falls.
    pub down: Point,
    /// Whether a word says what it means.
    pub worded: bool,
}

/// The arrow along a flight: its longest stroke within the flight that runs along it, and a head at one of its ends, or a
/// word at the other one.
pub fn arrow(drawn: &Drawn, strokes: &[&Stroke], way: Option<Way>, way_at: Option<Point>) -> Option<Arrow> {
    let within = |s: &Stroke| {
        let (along, aside) = drawn.local((s.a + s.b) / 2.0);
        let length = distance(s.a, s.b);
        s.straight
            && !s.ring
            && length >= HEAD_MM / 2.0
            && dot(unit(s.b - s.a), drawn.axis).abs() > 0.98
            && aside.abs() <= drawn.half * 0.9
            && (0.0..=drawn.depth()).contains(&along)
    };
    let longest = |a: &&&Stroke, b: &&&Stroke| distance(a.a, a.b).total_cmp(&distance(b.a, b.b));
    let shaft = *strokes.iter().filter(|s| within(s)).max_by(longest)?;
    let length = distance(shaft.a, shaft.b);
    let barbs = |end: Point| {
        let is_barb = |s: &Stroke| {
            let long = distance(s.a, s.b);
            let meets = distance(s.a, end).min(distance(s.b, end)) <= MEETS_MM;
            meets
                && long > 0.0
                && long <= HEAD_MM.min(length / 2.0)
                && dot(unit(s.b - s.a), unit(shaft.b - shaft.a)).abs() < 0.98
        };
        strokes.iter().filter(|s| is_barb(s)).count()
    };
    let (at_a, at_b) = (barbs(shaft.a), barbs(shaft.b));
    let tail = way_at.and_then(|at| {
        let (a, b) = (distance(at, shaft.a), distance(at, shaft.b));
        (a.min(b) <= BESIDE_MM).then(|| if a < b { shaft.b - shaft.a } else { shaft.a - shaft.b })
    });
    let points = match at_a.cmp(&at_b) {
        std::cmp::Ordering::Less => shaft.b - shaft.a,
        std::cmp::Ordering::Greater => shaft.a - shaft.b,
        std::cmp::Ordering::Equal => tail?,
    };
    let up = Point { x: -points.x, y: -points.y };
    let down = if way == Some(Way::Down) { points } else { up };
    Some(Arrow { down: unit(down), worded: way.is_some() })
}

/// Lengths that differ by more than drawings and texts round to: 1/8 in.
pub fn differ(a: Length, b: Length) -> bool {
    (a - b).abs() > Length::from_nanometres(3_175_000)
}
