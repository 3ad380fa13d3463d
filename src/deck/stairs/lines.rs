//! Families of tread lines: parallel strokes, one beside the other, a tread apart.

use std::collections::BTreeMap;

use crate::base::Point;
use crate::base::plane::{cross, distance, dot, left, unit};
use crate::cad::Entity;
use crate::deck::grid::{Grid, Nodes, cell_of};

use super::drawn::{Drawn, Kind};
use super::strokes::Stroke;

/// Tread lines are this long: 10 in to 50 ft.
const LENGTH_MM: std::ops::RangeInclusive<f64> = 254.0..=15_240.0;

/// Two lines belong together when no tread could lie between them that is deeper: 22 in.
const REACH_MM: f64 = 558.8;

/// How far the ends of two neighbouring lines may be apart along them: a foot.
const SHIFT_MM: f64 = 304.8;

/// Sine of the angle between two lines that are parallel: 1 degree.
const PARALLEL: f64 = 0.0175;

/// Treads that are read: 3 in to 20 in. What is no tread by then is told later, when a text or the job says it.
pub const TREAD_MM: std::ops::RangeInclusive<f64> = 76.2..=508.0;

/// Neighbouring lines that are looked at in a cell of [`REACH_MM`]: more of them are a hatch.
const CROWD: usize = 48;

/// Lines nearer than this are one line.
const SAME_MM: f64 = 3.0;

/// How far a tread may differ from the first one of its flight, so that the lines still are one flight (three tenths): a
/// blunder of the drawing is to be told, not to be read as two flights.
const UNEQUAL: f64 = 0.3;

/// More lines than this are no stair: 500 risers, and some noise.
const MOST_LINES: usize = 600;

/// A stack of lines of which no flight could be made.
#[derive(Debug, Clone, PartialEq)]
pub struct Odd {
    /// Its first entity.
    pub entity: usize,
    /// Where.
    pub at: Point,
    /// Why.
    pub why: String,
}

/// Finds the families of three lines and more, and pairs; those with the most lines first, and the stacks of lines that
/// are no stair.
pub fn families(strokes: &[Stroke], entities: &[&Entity]) -> (Vec<Drawn>, Vec<Odd>) {
    let long: Vec<&Stroke> = strokes.iter().filter(|s| s.straight && LENGTH_MM.contains(&distance(s.a, s.b))).collect();
    let mut stacks: BTreeMap<usize, Vec<&Stroke>> = BTreeMap::new();
    let mut nodes = linked(&long);
    for (i, s) in long.iter().enumerate() {
        stacks.entry(nodes.find(i)).or_default().push(s);
    }
    let mut found: Vec<Drawn> = Vec::new();
    let mut odd = Vec::new();
    for stack in stacks.into_values().filter(|s| s.len() > 1) {
        match family(&stack, entities) {
            Ok(drawn) => found.extend(drawn),
            Err(why) => odd.push(why),
        }
    }
    found.sort_by_key(|d| (std::cmp::Reverse(d.lines.len()), d.entity));
    (found, odd)
}

/// Strokes that may be neighbours in a flight, as clusters.
fn linked(long: &[&Stroke]) -> Nodes {
    let mut nodes = Nodes::separate(long.len());
    let mut grid = Grid::default();
    for (i, s) in long.iter().enumerate() {
        let middle = (s.a + s.b) / 2.0;
        let (x, y) = cell_of(middle, REACH_MM);
        for cell in (x - 1..=x + 1).flat_map(|x| (y - 1..=y + 1).map(move |y| (x, y))) {
            for j in grid.at(cell).take(CROWD) {
                if long.get(j).is_some_and(|o| neighbours(s, o)) {
                    nodes.union(i, j);
                }
            }
        }
        grid.put((x, y), i);
    }
    nodes
}

fn neighbours(s: &Stroke, o: &Stroke) -> bool {
    let (u, v) = (unit(s.b - s.a), unit(o.b - o.a));
    let way = if dot(u, v) < 0.0 { (o.b, o.a) } else { (o.a, o.b) };
    let beside = cross(u, (o.a + o.b) / 2.0 - s.a).abs();
    cross(u, v).abs() <= PARALLEL
        && beside <= REACH_MM
        && dot(u, way.0 - s.a).abs() <= SHIFT_MM
        && dot(u, way.1 - s.b).abs() <= SHIFT_MM
}

/// A line of a stack: where it stands, its two ends along it, and the stroke.
#[derive(Clone, Copy)]
struct Line<'a> {
    along: f64,
    low: f64,
    high: f64,
    stroke: &'a Stroke,
}

fn family(stack: &[&Stroke], entities: &[&Entity]) -> Result<Option<Drawn>, Odd> {
    let Some(first) = stack.first() else { return Ok(None) };
    let across = unit(first.b - first.a);
    let axis = left(across);
    let line = |s: &&'_ Stroke| {
        let (p, q) = (dot(across, s.a - first.a), dot(across, s.b - first.a));
        let along = dot(axis, (s.a + s.b) / 2.0 - first.a);
        (along, p.min(q), p.max(q))
    };
    let mut lines: Vec<Line<'_>> = stack
        .iter()
        .map(|s| {
            let (along, low, high) = line(s);
            Line { along, low, high, stroke: s }
        })
        .collect();
    lines.sort_by(|a, b| a.along.total_cmp(&b.along).then(a.stroke.entity.cmp(&b.stroke.entity)));
    lines.dedup_by(|b, a| b.along - a.along < SAME_MM);
    let odd = |why: String| Odd { entity: first.entity, at: (first.a + first.b) / 2.0, why };
    if lines.len() > MOST_LINES {
        return Err(odd(format!("{} lines lie beside each other, more than any stair has", lines.len())));
    }
    let chain = longest_chain(&lines);
    let [from, .., to] = chain.as_slice() else { return Ok(None) };
    // A side of an outline that ends elsewhere is no tread line; a line of its own would be one.
    let beyond = |l: &Line<'_>| l.along < from.along - SAME_MM || l.along > to.along + SAME_MM;
    if chain.len() > 2 && lines.iter().any(|l| beyond(l) && !l.stroke.ring) {
        return Err(odd("its tread lines are not equally spaced".to_owned()));
    }
    if chain.len() == 2 && (from.stroke.entity == to.stroke.entity || lines.len() > 2) {
        return Ok(None);
    }
    let (low, high) = (middle(chain.iter().map(|l| l.low)), middle(chain.iter().map(|l| l.high)));
    let heights: Vec<f64> = chain.iter().filter_map(|l| l.stroke.z).collect();
    let start = first.a + axis * from.along + across * f64::midpoint(low, high);
    let entity = chain.iter().map(|l| l.stroke.entity).min().unwrap_or(first.entity);
    let depth = to.along - from.along;
    let place = entities.get(entity).map(|e| e.place(start + axis * (depth / 2.0))).unwrap_or_default();
    let mut drawn = Drawn {
        kind: Kind::Treads,
        start,
        axis,
        half: (high - low) / 2.0,
        lines: chain.iter().map(|l| l.along - from.along).collect(),
        heights: Vec::new(),
        falls: None,
        entity,
        place,
    };
    if let Some(falls) = falls(&heights, chain.len(), depth) {
        (drawn.heights, drawn.falls) = (heights, Some(falls));
    }
    Ok(Some(drawn))
}

/// Fall along the lines, where each has a height and they go down, or up, all the way.
fn falls(heights: &[f64], count: usize, depth: f64) -> Option<f64> {
    let (first, last) = (heights.first()?, heights.last()?);
    let steps = || heights.iter().zip(heights.iter().skip(1)).map(|(a, b)| a - b);
    let one_way = steps().all(|s| s > 1.0) || steps().all(|s| s < -1.0);
    (heights.len() == count && one_way && depth > 0.0).then(|| (first - last) / depth)
}

fn middle(values: impl Iterator<Item = f64>) -> f64 {
    let mut all: Vec<f64> = values.collect();
    all.sort_by(f64::total_cmp);
    let half = all.len() / 2;
    let (low, high) = (all.get(all.len().saturating_sub(1) / 2), all.get(half));
    low.zip(high).map_or(0.0, |(a, b)| f64::midpoint(*a, *b))
}

/// The most lines that follow each other at equal steps; of as many, those whose steps differ least.
fn longest_chain<'a>(lines: &[Line<'a>]) -> Vec<Line<'a>> {
    let mut best: (usize, f64, Vec<Line<'a>>) = (0, f64::INFINITY, Vec::new());
    for (i, first) in lines.iter().enumerate() {
        for (k, second) in lines.iter().enumerate().skip(i + 1) {
            let step = second.along - first.along;
            if step > *TREAD_MM.end() {
                break;
            }
            if step < *TREAD_MM.start() {
                continue;
            }
            let (chain, spread) = followed(lines, *first, k, step);
            if chain.len() > best.0 || (chain.len() == best.0 && spread < best.1 - 0.01) {
                best = (chain.len(), spread, chain);
            }
        }
    }
    best.2
}

/// The chain that begins with these two lines, and by how much its steps differ.
fn followed<'a>(lines: &[Line<'a>], first: Line<'a>, second: usize, step: f64) -> (Vec<Line<'a>>, f64) {
    let mut chain = vec![first];
    let (mut low, mut high) = (step, step);
    let mut next = lines.get(second).copied();
    let mut at = second;
    while let Some(line) = next {
        chain.push(line);
        let wanted = line.along + step;
        let candidates = lines.iter().enumerate().skip(at + 1);
        let candidates = candidates.take_while(|(_, l)| l.along <= wanted + step * UNEQUAL);
        let nearest = candidates
            .filter(|(_, l)| l.along >= wanted - step * UNEQUAL)
            .min_by(|(_, a), (_, b)| (a.along - wanted).abs().total_cmp(&(b.along - wanted).abs()));
        next = nearest.map(|(i, l)| {
            at = i;
            (low, high) = (low.min(l.along - line.along), high.max(l.along - line.along));
            *l
        });
    }
    (chain, high - low)
}
