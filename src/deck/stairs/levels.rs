//! What the ends of a flight touch: deck edges and landings.

use crate::base::Point;
use crate::base::plane::{cross, distance, meet, unit};
use crate::deck::plan::{CHORD_MM, Chain};

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
pub fn touched(levels: &[Level], drawn: &Drawn, last: bool, touch: f64, reach: f64) -> Option<Touch> {
    let along = if last { drawn.depth() } else { 0.0 };
    let out = if last { drawn.axis } else { Point { x: -drawn.axis.x, y: -drawn.axis.y } };
    let from = [-0.5, 0.0, 0.5].map(|part| drawn.at(along, drawn.half * part));
    let on = |level: &Level| {
        let mut gaps: Vec<f64> = from.iter().filter_map(|p| met(level, *p, out, touch, reach)).collect();
        gaps.sort_by(f64::total_cmp);
        let spread = gaps.last()? - gaps.first()?;
        let gap = gaps.get(gaps.len() / 2).copied().filter(|_| gaps.len() >= 2)?;
        Some((gap, spread))
    };
    let all = levels.iter().enumerate().filter_map(|(i, l)| {
        let (gap, spread) = on(l)?;
        Some((l, Touch { level: i, gap, spread }))
    });
    all.min_by(|(a, s), (b, t)| b.deck.cmp(&a.deck).then(s.gap.abs().total_cmp(&t.gap.abs()))).map(|(_, t)| t)
}

fn met(level: &Level, from: Point, out: Point, touch: f64, reach: f64) -> Option<f64> {
    let hits = level.chords.iter().filter_map(|(a, b)| {
        let (way, length) = (unit(*b - *a), distance(*a, *b));
        // An edge that runs along the flight is no end of it.
        if cross(way, out).abs() < 0.7 {
            return None;
        }
        let gap = meet(from, out, *a, way)?;
        let s = meet(*a, way, from, out)?;
        ((-touch..=reach).contains(&gap) && (-1e-6..=length + 1e-6).contains(&s)).then_some(gap)
    });
    hits.min_by(|a, b| a.abs().total_cmp(&b.abs()))
}
