//! Ways out of the deck: wherever a sphere that must not pass comes from the deck to the outside.
//!
//! A check of another kind than all others: it knows neither runs nor spans, only what stands on the plan. Panels, posts,
//! walls, doors and the mouths of openings and stairs are barriers. Their points are triangulated (Delaunay), and the
//! sphere's centre goes from triangle to triangle as far as their circles and the gaps between their points let it (the
//! complement of an alpha shape: H. Edelsbrunner and E. P. Mücke, Three-dimensional alpha shapes, ACM Transactions on
//! Graphics 13, 1994). Where it comes from inside of the rails to the outside of the deck's edge, a stretch is open; the
//! narrowest place of the widest way is where, and how wide.

mod ground;

use std::collections::{BTreeMap, BTreeSet, BinaryHeap, VecDeque};

use spade::handles::{FixedFaceHandle, FixedUndirectedEdgeHandle, PossiblyOuterTag};
use spade::{DelaunayTriangulation, HasPosition, Point2, Triangulation};

use super::record::{Question, Record};
use super::{Required, fails_at_limit};
use crate::base::plane::{distance, point, to_segment, unit};
use crate::base::{Code, Length, Near, Place, Point};
use crate::catalog::LimitKind;
use crate::parts::Layout;
use ground::Ground;

/// So many ways out of one layout are told; where there are more, the rest shows when these are closed.
const TOLD: usize = 12;

/// The sphere where the rule set has none: 4 in, the usual one.
const USUAL: Length = Length::from_nanometres(101_600_000);

/// A piece of a barrier.
type Segment = (Point, Point);

/// Looks for ways out, and for what of ours stands where it must not.
pub(super) fn check(layout: &Layout, record: &mut Record) {
    let Some(site) = &layout.site else {
        // One opening by itself has nothing around it.
        if layout.plan.sha256.is_empty() {
            return;
        }
        record.at(Place::none());
        let why = "the layout holds no plan around its rails: what is open beside them is not measured";
        return record.unknown(Question::own("ways out of the deck"), why);
    };
    let limit = layout.rules.limit(LimitKind::Opening);
    let sphere = limit.map_or(USUAL, |l| l.value);
    let ground = Ground::new(layout, site, (sphere - layout.tolerance).millimetres() / 2.0);
    ground.check(layout, site, record);
    let ways = ways_out(&ground);
    let required = match limit {
        Some(limit) if !fails_at_limit(limit) => Required::AtMost(sphere),
        _ => Required::Under(sphere),
    };
    record.at(Place::none());
    if ways.is_empty() {
        let question = Question::own("ways out of the deck").code(Code::GapLeftOpen);
        let fact = format!("none that lets a sphere of {} pass", record.text(sphere.millimetres()));
        return record.fact(question, fact, true);
    }
    for way in ways {
        record.at(Place::at(way.at));
        let question = if limit.is_some() {
            Question::rule("open way out of the deck", &layout.rules, LimitKind::Opening)
        } else {
            Question::own("open way out of the deck")
        };
        let question = question.code(Code::GapLeftOpen);
        match Length::from_millimetres(way.width) {
            Some(width) => record.space(question, required.clone(), width),
            None => record.fact(question, "closed by rails, walls or openings", false),
        }
    }
}

/// A way out.
struct Way {
    at: Point,
    /// At its narrowest place; of no end where nothing stands on one side of it.
    width: f64,
}

/// A corner of the triangulation.
#[derive(Debug, Clone, Copy)]
struct Spot(Point);

impl HasPosition for Spot {
    type Scalar = f64;

    fn position(&self) -> Point2<f64> {
        Point2::new(self.0.x, self.0.y)
    }
}

type Triangles = DelaunayTriangulation<Spot>;
type Face = FixedFaceHandle<PossiblyOuterTag>;

impl Spot {
    /// To the micrometre, so that corners that touch are one.
    fn new(p: Point) -> Self {
        let micrometres = |v: f64| (v * 1e3).round() / 1e3 + 0.0;
        Self(point(micrometres(p.x), micrometres(p.y)))
    }
}

/// The barriers as points: sampled so densely that no sphere passes between two of one piece, and at the feet of each end
/// on the pieces near it, so that each gap is measured where it is narrowest.
fn spots(barriers: &[Segment], radius: f64) -> Vec<Spot> {
    let near = Near::from(barriers.to_vec());
    let mut out: Vec<Spot> = Vec::new();
    for (a, b) in barriers {
        let steps = (distance(*a, *b) / radius).ceil().clamp(1.0, 1e6);
        out.extend((0..=steps as u32).map(|k| Spot::new(*a + (*b - *a) * (f64::from(k) / steps))));
        for end in [a, b] {
            let around = near.around([*end], 2.0 * radius);
            out.extend(around.map(|(_, (p, q))| Spot::new(*p + (*q - *p) * to_segment(*end, *p, *q).1)));
        }
    }
    out.sort_by(|a, b| a.0.x.total_cmp(&b.0.x).then(a.0.y.total_cmp(&b.0.y)));
    out.dedup_by(|a, b| a.0 == b.0);
    out
}

/// Radius of the circle through a face's corners; the outer face has no end.
fn radius(triangles: &Triangles, face: Face) -> f64 {
    triangles.face(face).as_inner().map_or(f64::INFINITY, |inner| inner.circumcircle().1.sqrt())
}

/// Half of the room between the two sides of an edge, on the way from one face beside it to the other.
fn room(triangles: &Triangles, edge: FixedUndirectedEdgeHandle) -> f64 {
    let edge = triangles.undirected_edge(edge).as_directed();
    let [p, q] = edge.positions();
    let half = p.distance_2(q).sqrt() / 2.0;
    let middle = Point2::new(f64::midpoint(p.x, q.x), f64::midpoint(p.y, q.y));
    let sides = [edge, edge.rev()];
    // A third corner within the circle over the edge: the way is narrowest in the middle of a face, not at the edge.
    let within = sides.iter().filter_map(|e| e.opposite_position()).any(|o| o.distance_2(middle).sqrt() < half);
    if !within {
        return half;
    }
    let faces = sides.map(|e| radius(triangles, e.face().fix()));
    faces.into_iter().fold(f64::INFINITY, f64::min)
}

/// The faces beside a face, with the edge to each.
fn beside(triangles: &Triangles, face: Face) -> Vec<(FixedUndirectedEdgeHandle, Face)> {
    match triangles.face(face).as_inner() {
        Some(inner) => inner.adjacent_edges().iter().map(|e| (e.as_undirected().fix(), e.rev().face().fix())).collect(),
        None => triangles.convex_hull().map(|e| (e.as_undirected().fix(), e.rev().face().fix())).collect(),
    }
}

fn ways_out(ground: &Ground) -> Vec<Way> {
    let Ok(triangles) = Triangles::bulk_load(spots(&ground.barriers, ground.radius)) else { return Vec::new() };
    let outer = triangles.outer_face().fix();
    let mut hint = None;
    let mut face_of = |p: Point| {
        let p = Spot::new(p).position();
        let found = match hint {
            Some(hint) => triangles.locate_with_hint(p, hint),
            None => triangles.locate(p),
        };
        use spade::PositionInTriangulation::{NoTriangulation, OnEdge, OnFace, OnVertex, OutsideOfConvexHull};
        match found {
            OnFace(face) => {
                let inner = triangles.face(face);
                hint = inner.vertices().first().map(|v| v.fix());
                inner.adjacent_edge().face().fix()
            }
            OnEdge(edge) => triangles.directed_edge(edge).face().fix(),
            OnVertex(vertex) => triangles.vertex(vertex).out_edge().map_or(outer, |e| e.face().fix()),
            OutsideOfConvexHull(_) | NoTriangulation => outer,
        }
    };
    let inside: BTreeSet<Face> = ground.inside.iter().map(|p| face_of(*p)).collect();
    let outside: BTreeSet<Face> = ground.outside.iter().map(|p| face_of(*p)).collect();
    let open = |face: Face| radius(&triangles, face) >= ground.radius;
    let mut closed: BTreeSet<FixedUndirectedEdgeHandle> = BTreeSet::new();
    let mut ways = Vec::new();
    let starts: Vec<Face> = inside.into_iter().filter(|f| open(*f)).collect();
    while ways.len() < TOLD && reaches(&triangles, &starts, &outside, &closed, ground.radius) {
        let Some((edge, half)) = widest(&triangles, &starts, &outside, &closed) else { break };
        let [p, q] = triangles.undirected_edge(edge).as_directed().positions();
        ways.push(Way { at: point(f64::midpoint(p.x, q.x), f64::midpoint(p.y, q.y)), width: 2.0 * half });
        closed.insert(edge);
    }
    // Where the deck lies in the open altogether there is no edge to pass.
    if ways.is_empty() && starts.iter().any(|f| outside.contains(f)) {
        ways.extend(ground.inside.first().map(|p| Way { at: *p, width: f64::INFINITY }));
    }
    ways
}

/// Whether the sphere's centre comes from one of the starts to one of the ends.
fn reaches(
    triangles: &Triangles,
    starts: &[Face],
    ends: &BTreeSet<Face>,
    closed: &BTreeSet<FixedUndirectedEdgeHandle>,
    least: f64,
) -> bool {
    let mut seen: BTreeSet<Face> = starts.iter().copied().collect();
    let mut next: VecDeque<Face> = starts.iter().copied().collect();
    while let Some(face) = next.pop_front() {
        if ends.contains(&face) {
            return true;
        }
        for (edge, other) in beside(triangles, face) {
            let passes = !closed.contains(&edge) && room(triangles, edge) >= least && radius(triangles, other) >= least;
            if passes && seen.insert(other) {
                next.push_back(other);
            }
        }
    }
    false
}

/// A number that can be ordered.
#[derive(PartialEq)]
struct Width(f64);

impl Eq for Width {}

impl PartialOrd for Width {
    fn partial_cmp(&self, other: &Self) -> Option<std::cmp::Ordering> {
        Some(self.cmp(other))
    }
}

impl Ord for Width {
    fn cmp(&self, other: &Self) -> std::cmp::Ordering {
        self.0.total_cmp(&other.0)
    }
}

/// The narrowest edge of the widest way from a start to an end, with its room.
fn widest(
    triangles: &Triangles,
    starts: &[Face],
    ends: &BTreeSet<Face>,
    closed: &BTreeSet<FixedUndirectedEdgeHandle>,
) -> Option<(FixedUndirectedEdgeHandle, f64)> {
    let mut best: BTreeMap<Face, (f64, Option<FixedUndirectedEdgeHandle>)> = BTreeMap::new();
    let mut heap: BinaryHeap<(Width, Face)> = BinaryHeap::new();
    for start in starts {
        best.insert(*start, (f64::INFINITY, None));
        heap.push((Width(f64::INFINITY), *start));
    }
    let mut done: BTreeSet<Face> = BTreeSet::new();
    while let Some((Width(width), face)) = heap.pop() {
        if !done.insert(face) {
            continue;
        }
        let narrowest = best.get(&face).and_then(|(_, edge)| *edge);
        if ends.contains(&face) {
            return narrowest.map(|edge| (edge, width));
        }
        for (edge, other) in beside(triangles, face).into_iter().filter(|(e, _)| !closed.contains(e)) {
            let here = room(triangles, edge);
            let (through, by) = if here < width { (here, Some(edge)) } else { (width, narrowest) };
            if best.get(&other).is_none_or(|(known, _)| through > *known) {
                best.insert(other, (through, by));
                heap.push((Width(through), other));
            }
        }
    }
    None
}

/// Ends of a segment cut off by `by` at both sides; nothing where it is shorter.
fn shortened((a, b): Segment, by: f64) -> Option<Segment> {
    let way = unit(b - a);
    (distance(a, b) > 2.0 * by).then(|| (a + way * by, b - way * by))
}
