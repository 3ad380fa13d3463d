//! Loose edge lines -> chains, in linear time: end points are clustered on a hash grid with union-find, then walked.

use std::collections::BTreeMap;

use crate::base::plane::{cross, distance, dot, meet, unit};
use crate::base::{Code, Finding, Length, Point};
use crate::cad::{Entity, Shape, Vertex};

use super::fit;
use super::grid::Nodes;
use super::overlap;
use super::plan::{CHORD_MM, Edge};

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
    pub fn segments(&self) -> Vec<(Point, Point)> {
        let mut out = Vec::with_capacity(self.edges.len());
        for edge in &self.edges {
            let mut from = edge.a;
            for to in edge.piece().flat(CHORD_MM) {
                out.push((from, to));
                from = to;
            }
        }
        out
    }
}

/// A ring has three edges, or two when one of them is curved.
fn can_close(edges: &[Edge]) -> bool {
    edges.len() > 2 || (edges.len() == 2 && edges.iter().any(|e| e.curved))
}

/// Chains deck edges: ends within `join` of each other are one corner, and what lies on each other counts once.
pub fn chains(entities: &[&Entity], join: Length, findings: &mut Vec<Finding>) -> Vec<Loose> {
    let paths = overlap::resolved(paths(entities, join, findings), join, findings);
    let chains = chained(paths, join, findings);
    overlap::tees(&chains, join.millimetres(), findings);
    chains
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
    let mut paths = Vec::new();
    for entity in entities {
        let (edges, closed) = edges_of(entity, findings);
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

/// Joins the open ones of the paths.
fn chained(paths: Vec<Loose>, join: Length, findings: &mut Vec<Finding>) -> Vec<Loose> {
    let (mut whole, open): (Vec<Loose>, Vec<Loose>) = paths.into_iter().partition(|p| p.closed);
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

fn edges_of(entity: &Entity, findings: &mut Vec<Finding>) -> (Vec<Edge>, bool) {
    let (vertices, closed): (Vec<Vertex>, bool) = match &entity.shape {
        Shape::Path { vertices, closed } => (vertices.clone(), *closed),
        Shape::Curve { points, closed } => (fit::fitted(points, *closed), *closed),
        Shape::Circle { centre, radius } => (circle(*centre, *radius), true),
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
        layer: entity.layer.clone(),
    });
    let mut edges: Vec<Edge> = Vec::with_capacity(vertices.len());
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

/// Joins open paths whose ends meet. Point `2i` is the start of path `i`, `2i + 1` its end.
fn joined(mut paths: Vec<Vec<Edge>>, tolerance: f64, findings: &mut Vec<Finding>) -> Vec<Loose> {
    let ends = |paths: &[Vec<Edge>]| -> Vec<Point> {
        paths.iter().filter_map(|p| Some([p.first()?.a, p.last()?.b])).flatten().collect()
    };
    let mut points = ends(&paths);
    let mut nodes = Nodes::cluster(&points, tolerance);
    if drop_doubles(&mut paths, &mut nodes, findings) {
        points = ends(&paths);
        nodes = Nodes::cluster(&points, tolerance);
    }
    // Of each node how many ends meet there, the first of them, and all their numbers combined: of two, each then tells
    // the other.
    let mut at_node = vec![(0_usize, 0_usize, 0_usize); points.len()];
    for i in 0..points.len() {
        if let Some((count, first, combined)) = at_node.get_mut(nodes.find(i)) {
            *first = if *count == 0 { i } else { *first };
            *count += 1;
            *combined ^= i;
        }
    }
    for (count, first, _) in at_node.iter().filter(|(count, ..)| *count > 2) {
        if let Some((edge, at)) = paths.get(first / 2).and_then(|p| p.first()).zip(points.get(*first)) {
            findings.push(
                Finding::warning(
                    Code::EdgeBranches,
                    edge.place().with_point(*at),
                    format!("{count} edges meet in one point; the chain is broken there"),
                )
                .hint("let two edges meet in a corner; put inner lines on another layer"),
            );
        }
    }
    let partner = |nodes: &mut Nodes, end: usize| -> Option<usize> {
        let (count, _, combined) = at_node.get(nodes.find(end))?;
        (*count == 2).then_some(combined ^ end)
    };
    let mut used = vec![false; paths.len()];
    let mut chains = Vec::new();
    // First the chains that have an end, each from the end that was drawn first; what then remains are rings.
    let starts: Vec<usize> = (0..points.len()).filter(|i| partner(&mut nodes, *i).is_none()).collect();
    for start in starts.into_iter().chain((0..paths.len()).map(|i| 2 * i)) {
        if used.get(start / 2).copied().unwrap_or(true) {
            continue;
        }
        let mut walk: Vec<Vec<Edge>> = Vec::new();
        let mut enter = start;
        let closed = loop {
            let Some(done) = used.get_mut(enter / 2) else { break false };
            if *done {
                break true;
            }
            *done = true;
            let path = paths.get_mut(enter / 2).map(std::mem::take).unwrap_or_default();
            walk.push(if enter % 2 == 0 { path } else { reversed(path) });
            match partner(&mut nodes, enter ^ 1) {
                Some(next) => enter = next,
                None => break false,
            }
        };
        chains.push(weld(walk, closed, tolerance, findings));
    }
    chains
}

/// Drops single lines and arcs that are drawn twice; tells whether there were any.
fn drop_doubles(paths: &mut Vec<Vec<Edge>>, nodes: &mut Nodes, findings: &mut Vec<Finding>) -> bool {
    // By both ends and the bulge from the first to the second, in millionths.
    let mut seen: BTreeMap<(usize, usize, i64), usize> = BTreeMap::new();
    let mut keep = Vec::with_capacity(paths.len());
    for (i, path) in paths.iter().enumerate() {
        let double = match path.as_slice() {
            [edge] => {
                let (a, b) = (nodes.find(2 * i), nodes.find(2 * i + 1));
                let bulge = if a <= b { edge.bulge } else { -edge.bulge };
                let before = seen.insert((a.min(b), a.max(b), (bulge * 1e6).round() as i64), i);
                if before.is_some() {
                    findings.push(Finding::repaired(
                        Code::DoubleEdge,
                        edge.place(),
                        "this edge is drawn twice; one of the two is used",
                    ));
                }
                before.is_some()
            }
            _ => false,
        };
        keep.push(!double);
    }
    let count = paths.len();
    let mut keep = keep.into_iter();
    paths.retain(|_| keep.next().unwrap_or(true));
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

/// Makes the walked paths meet exactly: straight edges in the corner where their lines cross, others half way.
fn weld(walk: Vec<Vec<Edge>>, closed: bool, tolerance: f64, findings: &mut Vec<Finding>) -> Loose {
    let mut edges: Vec<Edge> = Vec::new();
    for path in walk {
        let joint = edges.len();
        edges.extend(path);
        if joint > 0 {
            weld_at(&mut edges, joint - 1, joint, tolerance, findings);
        }
    }
    let closed = closed && can_close(&edges);
    if closed {
        let last = edges.len() - 1;
        weld_at(&mut edges, last, 0, tolerance, findings);
    }
    Loose { edges, closed }
}

fn weld_at(edges: &mut [Edge], before: usize, after: usize, tolerance: f64, findings: &mut Vec<Finding>) {
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
    let mut edges: Vec<Edge> = Vec::with_capacity(chain.edges.len());
    for edge in chain.edges.drain(..) {
        match edges.last_mut() {
            Some(last) if goes_on(last, &edge) => last.b = edge.b,
            _ => edges.push(edge),
        }
    }
    if chain.closed
        && edges.len() > 2
        && edges.first().zip(edges.last()).is_some_and(|(first, last)| goes_on(last, first))
        && let Some(last) = edges.pop()
        && let Some(first) = edges.first_mut()
    {
        first.a = last.a;
    }
    chain.edges = edges;
}
