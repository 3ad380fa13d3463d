//! What the ends of a flight touch: deck edges and landings.

use std::collections::BTreeMap;
use std::ops::Deref;

use crate::base::plane::{cross, distance, meet, unit};
use crate::base::{Extent, Near, Point};
use crate::deck::model::{CHORD_MM, Chain};

use super::drawn::Drawn;

/// An outline that a flight can lead to.
#[derive(Debug, Clone, PartialEq)]
pub struct Level {
    /// Its chords.
    pub chords: Vec<(Point, Point)>,
    /// Area in mm² within it, of an open one within it and the line between its ends.
    pub area: f64,
    /// Whether it is a deck edge; otherwise a landing drawn with the stair.
    pub deck: bool,
}

impl Level {
    /// A deck edge.
    pub fn of_chain(chain: &Chain) -> Self {
        let mut chords = Vec::new();
        for edge in &chain.edges {
            let mut from = edge.a;
            for to in edge.piece().flat(CHORD_MM) {
                chords.push((from, to));
                from = to;
            }
        }
        Self { area: area(&chords), chords, deck: true }
    }

    /// A landing.
    pub fn of_landing(corners: &[Point]) -> Self {
        let next = corners.iter().cycle().skip(1);
        let chords: Vec<(Point, Point)> = corners.iter().copied().zip(next.copied()).collect();
        Self { area: area(&chords), chords, deck: false }
    }
}

/// A chord of an outline, with the outline's number.
#[derive(Debug, Clone, Copy)]
struct Chord {
    level: usize,
    ends: (Point, Point),
}

impl Extent for Chord {
    fn extent(&self) -> impl Iterator<Item = Point> {
        [self.ends.0, self.ends.1].into_iter()
    }
}

/// All outlines that flights can lead to, their chords found by where they lie.
pub struct Levels {
    list: Vec<Level>,
    chords: Near<Chord>,
}

impl From<Vec<Level>> for Levels {
    fn from(list: Vec<Level>) -> Self {
        let all = list.iter().enumerate();
        let all = all.flat_map(|(level, l)| l.chords.iter().map(move |ends| Chord { level, ends: *ends }));
        Self { chords: all.collect::<Vec<_>>().into(), list }
    }
}

impl Deref for Levels {
    type Target = [Level];

    fn deref(&self) -> &[Level] {
        &self.list
    }
}

fn area(chords: &[(Point, Point)]) -> f64 {
    let Some((origin, _)) = chords.first() else { return 0.0 };
    let ends = chords.last().map(|(_, b)| (*b, *origin));
    let twice: f64 = chords.iter().copied().chain(ends).map(|(a, b)| cross(a - *origin, b - *origin)).sum();
    (twice / 2.0).abs()
}

/// That an end of a flight touches an outline.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Touch {
    /// Index of the outline.
    pub level: usize,
    /// From the end's line outward to the outline, in mm.
    pub gap: f64,
    /// By how much that differs within the middle half of the line, in mm.
    pub spread: f64,
}

/// What an end touches: the outline met on straight ways outward from its line, at most `touch` behind it and `reach`
/// before it. A deck edge comes before a landing, a nearer one before a farther one.
pub fn touched(levels: &Levels, drawn: &Drawn, last: bool, touch: f64, reach: f64) -> Option<Touch> {
    let along = if last { drawn.depth() } else { 0.0 };
    let out = if last { drawn.axis } else { Point { x: -drawn.axis.x, y: -drawn.axis.y } };
    let from = [-0.5, 0.0, 0.5].map(|part| drawn.at(along, drawn.half * part));
    let mut gaps: BTreeMap<usize, Vec<f64>> = BTreeMap::new();
    for p in from {
        let mut nearest: BTreeMap<usize, f64> = BTreeMap::new();
        for (_, chord) in levels.chords.around([p], touch.max(reach)) {
            let Some(gap) = met(chord.ends, p, out, touch, reach) else { continue };
            let least = nearest.entry(chord.level).or_insert(gap);
            if gap.abs() < least.abs() {
                *least = gap;
            }
        }
        nearest.into_iter().for_each(|(level, gap)| gaps.entry(level).or_default().push(gap));
    }
    let all = gaps.into_iter().filter_map(|(i, mut gaps)| {
        gaps.sort_by(f64::total_cmp);
        let spread = gaps.last()? - gaps.first()?;
        let gap = gaps.get(gaps.len() / 2).copied().filter(|_| gaps.len() >= 2)?;
        Some((levels.get(i)?, Touch { level: i, gap, spread }))
    });
    all.min_by(|(a, s), (b, t)| b.deck.cmp(&a.deck).then(s.gap.abs().total_cmp(&t.gap.abs()))).map(|(_, t)| t)
}

/// How far before a point a chord is met on the way outward.
fn met((a, b): (Point, Point), from: Point, out: Point, touch: f64, reach: f64) -> Option<f64> {
    let (way, length) = (unit(b - a), distance(a, b));
    // An edge that runs along the flight is no end of it.
    if cross(way, out).abs() < 0.7 {
        return None;
    }
    let gap = meet(from, out, a, way)?;
    let s = meet(a, way, from, out)?;
    ((-touch..=reach).contains(&gap) && (-1e-6..=length + 1e-6).contains(&s)).then_some(gap)
}
