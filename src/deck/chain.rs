//! Loose edge lines -> chains, in linear time: end points are clustered on a hash grid with union-find, then walked.

use std::borrow::Cow;
use std::collections::BTreeSet;
use std::sync::Arc;

use crate::base::plane::{cross, distance, dot, meet, unit};
use crate::base::{Code, Finding, Length, Point};
use crate::cad::{Entity, Shape, Vertex};

use super::fit;
use super::grid::Nodes;
use super::inner;
use super::model::{CHORD_MM, Edge};
use super::overlap::{self, Shared};

/// Edges shorter than this are drawing noise (0.01 mm).
const NO_LENGTH_MM: f64 = 0.01;

/// Edges that turn by less than this go on straight (0.02 degrees: 1 mm in 3 m).
const STRAIGHT_RAD: f64 = 3.5e-4;

/// A chain before its inside is known.
#[derive(Debug, Clone, PartialEq)]
pub struct Loose {
    /// Edges, each beginning where the one before ends.
    pub edges: Vec<Edge>,
    /// Whether the last one ends where the first begins.
    pub closed: bool,
}

impl Loose {
    /// Its edges as chords, for questions of inside and crossing.
    pub fn segments(&self) -> impl Iterator<Item = (Point, Point)> {
        self.edges.iter().flat_map(|edge| {
            let mut from = edge.a;
            edge.piece().flat(CHORD_MM).map(move |to| (std::mem::replace(&mut from, to), to))
        })
    }
}

/// A ring has three edges, or two when one of them is curved.
fn can_close(edges: &[Edge]) -> bool {
    edges.len() > 2 || (edges.len() == 2 && edges.iter().any(|e| e.curved))
}

/// Chains deck edges: ends within `join` of each other are one corner, what lies on each other counts once, and what lies
/// within an outline on its edge is no edge. Also gives the stretches that two outlines share.
pub fn chains(entities: &[&Entity], join: Length, findings: &mut Vec<Finding>) -> (Vec<Loose>, Vec<Shared>) {
    let tolerance = join.millimetres();
    let paths = inner::without_fields(paths(entities, join, findings), tolerance, findings);
    let (paths, shared) = overlap::resolved(paths, join, findings);
    let chains = inner::without_fields(chained(paths, join, findings), tolerance, findings);
    overlap::tees(&chains, tolerance, findings);
    (chains, shared)
}

/// Chains lines of separate things, such as posts' squares: two that stand side by side stay two.
pub fn separate(entities: &[&Entity], join: Length) -> Vec<Loose> {
    // What was repaired there is of no interest.
    let mut findings = Vec::new();
    let paths = paths(entities, join, &mut findings);
    chained(paths, join, &mut findings)
}

/// Each entity as a path, rings first: what lies on a ring and on a loose line belongs to the ring.
fn paths(entities: &[&Entity], join: Length, findings: &mut Vec<Finding>) -> Vec<Loose> {
    let mut paths = Vec::with_capacity(entities.len());
    // Neighbours in the file mostly stand on the same layer.
    let mut layer: Arc<str> = "".into();
    for entity in entities {
        if *layer != *entity.layer {
            layer = entity.layer.as_str().into();
        }
        let (edges, closed) = edges_of(entity, &layer, findings);
        let meets = edges
            .first()
            .zip(edges.last())
            .is_some_and(|(f, l)| can_close(&edges) && distance(f.a, l.b) <= join.millimetres());
        if (closed && can_close(&edges)) || meets {
            paths.push(Loose { edges: close(edges), closed: true });
        } else if !edges.is_empty() {
            paths.push(Loose { edges, closed: false });
        }
    }
    paths.sort_by_key(|p| !p.closed);
    paths
}

/// Joins the open ones of the paths, which stand behind the rings.
fn chained(mut whole: Vec<Loose>, join: Length, findings: &mut Vec<Finding>) -> Vec<Loose> {
    let open = whole.split_off(whole.partition_point(|p| p.closed));
    whole.extend(joined(open.into_iter().map(|p| p.edges).collect(), join.millimetres(), findings));
    for chain in &mut whole {
        straighten(chain);
    }
    whole.retain(|c| !c.edges.is_empty());
    whole
}

/// Lets the last edge end exactly where the first begins.
fn close(mut edges: Vec<Edge>) -> Vec<Edge> {
    if let Some(start) = edges.first().map(|e| e.a)
        && let Some(last) = edges.last_mut()
    {
        last.b = start;
    }
    edges
}

/// A circle as two half circles.
pub fn circle(centre: Point, radius: f64) -> Vec<Vertex> {
    [radius, -radius].map(|x| Vertex { at: centre + Point { x, y: 0.0 }, bulge: 1.0 }).to_vec()
}

fn edges_of(entity: &Entity, layer: &Arc<str>, findings: &mut Vec<Finding>) -> (Vec<Edge>, bool) {
    let (vertices, closed): (Cow<'_, [Vertex]>, bool) = match &entity.shape {
        Shape::Path { vertices, closed } => (vertices.into(), *closed),
        Shape::Curve { points, closed } => (fit::fitted(points, *closed).into(), *closed),
        Shape::Circle { centre, radius } => (circle(*centre, *radius).into(), true),
        _ => return (Vec::new(), false),
    };
    let curved = matches!(entity.shape, Shape::Curve { .. });
    if curved && let Some(first) = vertices.first() {
        findings.push(Finding::note(
            Code::EdgeCurved,
            entity.place(first.at),
            format!(
                "this curve (ellipse or spline) is laid out by {} arcs that stay within {} mm of it",
                vertices.len() - usize::from(!closed),
                fit::STATED_MM
            ),
        ));
    }
    let next = vertices.iter().skip(1).chain(vertices.first().filter(|_| closed));
    let all = vertices.iter().zip(next).map(|(v, w)| Edge {
        a: v.at,
        b: w.at,
        bulge: v.bulge,
        curved: v.bulge != 0.0,
        origin: entity.origin,
        layer: Arc::clone(layer),
    });
    let mut edges: Vec<Edge> = Vec::with_capacity(vertices.len().saturating_sub(usize::from(!closed)));
    let mut dropped = 0;
    let mut start: Option<Point> = None;
    for mut edge in all {
        // The next edge takes the place of those left out, so that the chain stays unbroken and a row of tiny edges
        // that lead somewhere is not lost.
        edge.a = start.take().unwrap_or(edge.a);
        if distance(edge.a, edge.b) < NO_LENGTH_MM {
            start = Some(edge.a);
            dropped += 1;
            continue;
        }
        edges.push(edge);
    }
    if dropped > 0 {
        let at = vertices.first().map_or(Point { x: 0.0, y: 0.0 }, |v| v.at);
        findings.push(Finding::repaired(
            Code::ZeroEdge,
            entity.place(at),
            format!("{dropped} edge(s) of no length (under {NO_LENGTH_MM} mm) were left out"),
        ));
    }
    (edges, closed)
}

/// What meets an end of a path.
#[derive(Debug, Clone, Copy, PartialEq)]
enum Meets {
    Nothing,
    End(u32),
    Many,
}

/// The ends of paths and how they meet. End `2i` is the start of path `i`, `2i + 1` its end.
struct Ends {
    points: Vec<Point>,
    nodes: Nodes,
    meets: Vec<Meets>,
    /// Where more than two meet: the first end, and how many they are.
    branches: Vec<(usize, usize)>,
}

impl Ends {
    fn of(paths: &[Vec<Edge>], tolerance: f64) -> Self {
        let points: Vec<Point> = paths.iter().filter_map(|p| Some([p.first()?.a, p.last()?.b])).flatten().collect();
        let mut nodes = Nodes::cluster(&points, tolerance);
        // Of each node, by its first end, how many ends meet there and all their numbers combined: of two, each then tells
        // the other.
        let mut at_node = vec![(0_u32, 0_u32); points.len()];
        for i in 0..points.len() {
            if let Some((count, combined)) = at_node.get_mut(nodes.find(i)) {
                *count += 1;
                *combined ^= i as u32;
            }
        }
        let meets = |i: usize| match at_node.get(nodes.find(i)) {
            Some((2, combined)) => Meets::End(combined ^ i as u32),
            Some((3.., _)) => Meets::Many,
            _ => Meets::Nothing,
        };
        let meets = (0..points.len()).map(meets).collect();
        let crowded = at_node.iter().enumerate().filter(|(_, (count, _))| *count > 2);
        let branches = crowded.map(|(first, (count, _))| (first, *count as usize)).collect();
        Self { points, nodes, meets, branches }
    }

    fn meets(&self, end: usize) -> Meets {
        self.meets.get(end).copied().unwrap_or(Meets::Nothing)
    }

    /// Whether another path may go from one end of a path to the other, too.
    fn may_be_double(&self, path: usize) -> bool {
        match (self.meets(2 * path), self.meets(2 * path + 1)) {
            (Meets::Nothing, _) | (_, Meets::Nothing) => false,
            (Meets::End(a), Meets::End(b)) => a / 2 == b / 2,
            (Meets::Many, _) | (_, Meets::Many) => true,
        }
    }
}

/// Joins open paths whose ends meet.
fn joined(mut paths: Vec<Vec<Edge>>, tolerance: f64, findings: &mut Vec<Finding>) -> Vec<Loose> {
    let mut ends = Ends::of(&paths, tolerance);
    if drop_doubles(&mut paths, &mut ends, findings) {
        ends = Ends::of(&paths, tolerance);
    }
    for (first, count) in &ends.branches {
        if let Some((edge, at)) = paths.get(first / 2).and_then(|p| p.first()).zip(ends.points.get(*first)) {
            findings.push(
                Finding::incomplete(
                    Code::EdgeBranches,
                    edge.place().with_point(*at),
                    format!("{count} edges meet in one point; the chain is broken there"),
                )
                .hint("let two edges meet in a corner; put inner lines on another layer"),
            );
        }
    }
    let mut used = vec![false; paths.len()];
    let mut chains = Vec::new();
    let mut walk: Vec<usize> = Vec::new();
    // First the chains that have an end, each from the end that was drawn first; what then remains are rings.
    let starts = (0..2 * paths.len()).filter(|i| !matches!(ends.meets(*i), Meets::End(_)));
    for start in starts.chain((0..paths.len()).map(|i| 2 * i)) {
        walk.clear();
        let mut enter = start;
        let closed = loop {
            match used.get_mut(enter / 2) {
                Some(done) if !*done => *done = true,
                _ => break true,
            }
            walk.push(enter);
            match ends.meets(enter ^ 1) {
                Meets::End(next) => enter = next as usize,
                _ => break false,
            }
        };
        if !walk.is_empty() {
            chains.push(welded(&mut paths, &walk, closed, tolerance, findings));
        }
    }
    chains
}

/// Takes out the paths that were walked, each from the end where it was entered, and makes them meet.
fn welded(paths: &mut [Vec<Edge>], walk: &[usize], closed: bool, tolerance: f64, findings: &mut Vec<Finding>) -> Loose {
    let mut edges: Vec<Edge> = Vec::with_capacity(walk.iter().filter_map(|end| paths.get(end / 2)).map(Vec::len).sum());
    for end in walk {
        let path = paths.get_mut(end / 2).map(std::mem::take).unwrap_or_default();
        let joint = edges.len();
        edges.extend(if end.is_multiple_of(2) { path } else { reversed(path) });
        if joint > 0 {
            weld(&mut edges, joint - 1, joint, tolerance, findings);
        }
    }
    let closed = closed && can_close(&edges);
    if closed {
        let last = edges.len() - 1;
        weld(&mut edges, last, 0, tolerance, findings);
    }
    Loose { edges, closed }
}

/// Drops single lines and arcs that are drawn twice; tells whether there were any.
fn drop_doubles(paths: &mut Vec<Vec<Edge>>, ends: &mut Ends, findings: &mut Vec<Finding>) -> bool {
    // By both ends and the bulge from the first to the second, in millionths.
    let mut seen: BTreeSet<(usize, usize, i64)> = BTreeSet::new();
    let mut i = 0;
    let count = paths.len();
    paths.retain(|path| {
        let number = i;
        i += 1;
        let [edge] = path.as_slice() else { return true };
        if !ends.may_be_double(number) {
            return true;
        }
        let (a, b) = (ends.nodes.find(2 * number), ends.nodes.find(2 * number + 1));
        let bulge = if a <= b { edge.bulge } else { -edge.bulge };
        let new = seen.insert((a.min(b), a.max(b), (bulge * 1e6).round() as i64));
        if !new {
            findings.push(Finding::repaired(
                Code::DoubleEdge,
                edge.place(),
                "this edge is drawn twice; one of the two is used",
            ));
        }
        new
    });
    paths.len() < count
}

/// The same edges walked the other way.
pub fn reversed(mut edges: Vec<Edge>) -> Vec<Edge> {
    edges.reverse();
    for e in &mut edges {
        std::mem::swap(&mut e.a, &mut e.b);
        e.bulge = -e.bulge;
    }
    edges
}

/// Makes two edges meet exactly: straight ones in the corner where their lines cross, others half way.
fn weld(edges: &mut [Edge], before: usize, after: usize, tolerance: f64, findings: &mut Vec<Finding>) {
    let (Some(e), Some(f)) = (edges.get(before), edges.get(after)) else { return };
    let gap = distance(e.b, f.a);
    if gap == 0.0 {
        return;
    }
    let half_way = (e.b + f.a) / 2.0;
    let (u, v) = (unit(e.b - e.a), unit(f.b - f.a));
    let corner = (!e.curved && !f.curved && cross(u, v).abs() > 0.02)
        .then(|| meet(e.b, u, f.a, v).map(|t| e.b + u * t))
        .flatten()
        .filter(|c| distance(*c, half_way) <= 2.0 * tolerance);
    let at = corner.unwrap_or(half_way);
    // What f64 and drawing precision leave is no gap that a person would know of.
    if gap > NO_LENGTH_MM {
        findings.push(Finding::repaired(
            Code::GapJoined,
            f.place().with_point(at),
            format!("edge ends {} mm apart were joined", crate::base::decimal(gap, 3)),
        ));
    }
    if let Some(e) = edges.get_mut(before) {
        e.b = at;
    }
    if let Some(f) = edges.get_mut(after) {
        f.a = at;
    }
}

/// Merges straight edges that go on in one line, so that no corner is seen where there is none.
fn straighten(chain: &mut Loose) {
    let goes_on = |e: &Edge, f: &Edge| {
        let (u, v) = (unit(e.b - e.a), unit(f.b - f.a));
        !e.curved && !f.curved && dot(u, v) > 0.0 && cross(u, v).abs() < STRAIGHT_RAD
    };
    let edges = &mut chain.edges;
    edges.dedup_by(|edge, last| {
        let same = goes_on(last, edge);
        if same {
            last.b = edge.b;
        }
        same
    });
    if chain.closed
        && edges.len() > 2
        && edges.first().zip(edges.last()).is_some_and(|(first, last)| goes_on(last, first))
        && let Some(last) = edges.pop()
        && let Some(first) = edges.first_mut()
    {
        first.a = last.a;
    }
}
