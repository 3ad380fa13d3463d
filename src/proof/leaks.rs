//! Ways out of the deck: wherever a sphere that must not pass comes from the deck to the outside.
//!
//! A check of another kind than all others: it knows neither runs nor spans, only what stands on the plan. Panels, posts,
//! walls, doors and the mouths of openings and stairs are barriers. Their points are triangulated (Delaunay), and the
//! sphere's centre goes from triangle to triangle as far as their circles and the gaps between their points let it (the
//! complement of an alpha shape: H. Edelsbrunner and E. P. Mücke, Three-dimensional alpha shapes, ACM Transactions on
//! Graphics 13, 1994). Where it comes from inside of the rails to the outside of the deck's edge, a stretch is open; the
//! narrowest place of the widest way is where, and how wide.

mod ground;
mod stands;

use std::collections::{BTreeSet, BinaryHeap};

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
    let radius = (sphere - layout.tolerance).millimetres() / 2.0;
    let ground = Ground::new(layout, site, radius).filter(|g| g.points(DENSE * radius) <= most_points(g));
    let Some(ground) = ground else { return not_measured(record) };
    ground.check(layout, site, record);
    let Some(ways) = ways_out(&ground) else { return not_measured(record) };
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

/// How many points the barriers of a layout may have.
fn most_points(ground: &Ground) -> f64 {
    MOST_POINTS + MOST_FOR_EACH * ground.edge_length / (DENSE * ground.radius)
}

/// What cannot be measured is not closed.
fn not_measured(record: &mut Record) {
    record.at(Place::none());
    let question = Question::own("ways out of the deck").code(Code::GapLeftOpen);
    record.fact(question, "deck edges, rails and walls of a number and size that decks have", false);
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

/// Points of all barriers: so many, and so many for each that the deck's edges alone would have. What has more is no
/// layout of these edges.
const MOST_POINTS: f64 = 20_000.0;
const MOST_FOR_EACH: f64 = 40.0;

/// Feet of ends on pieces near them, for each of those points.
const FEET: f64 = 8.0;

/// Number of the face around all others.
const OUTSIDE: usize = 0;

/// From point to point along a barrier, in radii of the sphere: less than two, so that it passes nowhere between.
const DENSE: f64 = 1.6;

impl Spot {
    /// To the micrometre, so that corners that touch are one.
    fn new(p: Point) -> Self {
        let micrometres = |v: f64| (v * 1e3).round() / 1e3 + 0.0;
        Self(point(micrometres(p.x), micrometres(p.y)))
    }
}

/// The barriers as points: sampled so densely that no sphere passes between two of one piece, and at the feet of each end
/// on the pieces near it, so that each gap is measured where it is narrowest.
/// `None` where they are more than any layout of these edges has.
fn spots(barriers: &[Segment], radius: f64, most: f64) -> Option<Vec<Spot>> {
    let near = Near::from(barriers.to_vec());
    let mut out: Vec<Spot> = Vec::new();
    for (a, b) in barriers {
        let steps = (distance(*a, *b) / (DENSE * radius)).ceil().max(1.0);
        out.extend((0..=steps as u32).map(|k| Spot::new(*a + (*b - *a) * (f64::from(k) / steps))));
        for end in [a, b] {
            let around = near.around([*end], 2.0 * radius);
            out.extend(around.map(|(_, (p, q))| Spot::new(*p + (*q - *p) * to_segment(*end, *p, *q).1)));
        }
        if out.len() as f64 > FEET * most {
            return None;
        }
    }
    out.sort_by(|a, b| a.0.x.total_cmp(&b.0.x).then(a.0.y.total_cmp(&b.0.y)));
    out.dedup_by(|a, b| a.0 == b.0);
    Some(out)
}

/// What the sphere's centre goes through: triangles and the gaps between them, by number; the outside is number 0.
struct Net {
    /// Radius of the circle through each face's corners; that of the outside has no end.
    radius: Vec<f64>,
    /// Half of the room between the two sides of each edge, on the way from one face beside it to the other.
    room: Vec<f64>,
    /// Middle of each edge.
    middle: Vec<Point>,
    /// The edges of each face, with the face beyond.
    beside: Vec<Vec<(usize, usize)>>,
}

impl Net {
    fn new(triangles: &Triangles) -> Self {
        let faces = triangles.num_all_faces();
        let mut radius = vec![f64::INFINITY; faces];
        for face in triangles.inner_faces() {
            if let Some(slot) = radius.get_mut(face.fix().index()) {
                *slot = face.circumcircle().1.sqrt();
            }
        }
        let edges = triangles.num_undirected_edges();
        let mut net = Self {
            radius,
            room: vec![0.0; edges],
            middle: vec![point(0.0, 0.0); edges],
            beside: vec![Vec::new(); faces],
        };
        for edge in triangles.undirected_edges() {
            let number = edge.fix().index();
            let sides = [edge.as_directed(), edge.as_directed().rev()];
            let [p, q] = edge.positions();
            let half = p.distance_2(q).sqrt() / 2.0;
            let middle = Point2::new(f64::midpoint(p.x, q.x), f64::midpoint(p.y, q.y));
            // A third corner within the circle over the edge: the way is narrowest within a face, not at the edge.
            let within = sides.iter().filter_map(|e| e.opposite_position()).any(|o| o.distance_2(middle).sqrt() < half);
            let [one, other] = sides.map(|e| e.face().fix().index());
            let room = if within { net.radius_of(one).min(net.radius_of(other)) } else { half };
            if let (Some(slot), Some(at)) = (net.room.get_mut(number), net.middle.get_mut(number)) {
                (*slot, *at) = (room, point(middle.x, middle.y));
            }
            for (face, beyond) in [(one, other), (other, one)] {
                if let Some(list) = net.beside.get_mut(face) {
                    list.push((number, beyond));
                }
            }
        }
        net
    }

    fn radius_of(&self, face: usize) -> f64 {
        self.radius.get(face).copied().unwrap_or(0.0)
    }

    fn room_of(&self, edge: usize) -> f64 {
        self.room.get(edge).copied().unwrap_or(0.0)
    }

    fn beside(&self, face: usize) -> impl Iterator<Item = (usize, usize)> + '_ {
        self.beside.get(face).into_iter().flatten().copied()
    }

    /// Whether the sphere's centre comes from one of the starts to one of the ends.
    fn reaches(&self, starts: &[usize], ends: &BTreeSet<usize>, closed: &BTreeSet<usize>, least: f64) -> bool {
        let mut seen = vec![false; self.radius.len()];
        let mut next: Vec<usize> = starts.to_vec();
        while let Some(face) = next.pop() {
            match seen.get_mut(face) {
                Some(seen) if !*seen => *seen = true,
                _ => continue,
            }
            if ends.contains(&face) {
                return true;
            }
            let passes = |(edge, beyond): &(usize, usize)| {
                self.room_of(*edge) >= least && self.radius_of(*beyond) >= least && !closed.contains(edge)
            };
            next.extend(self.beside(face).filter(passes).map(|(_, beyond)| beyond));
        }
        false
    }

    /// The narrowest edge of the widest way from a start to an end, with its room.
    fn widest(&self, starts: &[usize], ends: &BTreeSet<usize>, closed: &BTreeSet<usize>) -> Option<(usize, f64)> {
        let mut best: Vec<(f64, Option<usize>)> = vec![(-1.0, None); self.radius.len()];
        let mut done = vec![false; self.radius.len()];
        let mut heap: BinaryHeap<(Width, usize)> = BinaryHeap::new();
        for start in starts {
            if let Some(slot) = best.get_mut(*start) {
                *slot = (f64::INFINITY, None);
                heap.push((Width(f64::INFINITY), *start));
            }
        }
        while let Some((Width(width), face)) = heap.pop() {
            match done.get_mut(face) {
                Some(done) if !*done => *done = true,
                _ => continue,
            }
            let narrowest = best.get(face).and_then(|(_, edge)| *edge);
            if ends.contains(&face) {
                return narrowest.map(|edge| (edge, width));
            }
            for (edge, beyond) in self.beside(face).filter(|(e, _)| !closed.contains(e)) {
                let here = self.room_of(edge);
                let (through, by) = if here < width { (here, Some(edge)) } else { (width, narrowest) };
                if let Some(slot) = best.get_mut(beyond).filter(|(known, _)| through > *known) {
                    *slot = (through, by);
                    heap.push((Width(through), beyond));
                }
            }
        }
        None
    }
}

/// The ways out; `None` where the barriers are none that can be triangulated.
fn ways_out(ground: &Ground) -> Option<Vec<Way>> {
    let spots = spots(&ground.barriers, ground.radius, most_points(ground))?;
    let triangles = Triangles::bulk_load(spots).ok()?;
    let mut hint = None;
    let mut face_of = |p: &Point| {
        use spade::PositionInTriangulation::{NoTriangulation, OnEdge, OnFace, OnVertex, OutsideOfConvexHull};
        let p = Spot::new(*p).position();
        let found = match hint {
            Some(hint) => triangles.locate_with_hint(p, hint),
            None => triangles.locate(p),
        };
        match found {
            OnFace(face) => {
                hint = triangles.face(face).vertices().first().map(|v| v.fix());
                face.index()
            }
            OnEdge(edge) => triangles.directed_edge(edge).face().fix().index(),
            OnVertex(vertex) => triangles.vertex(vertex).out_edge().map_or(OUTSIDE, |e| e.face().fix().index()),
            OutsideOfConvexHull(_) | NoTriangulation => OUTSIDE,
        }
    };
    let inside: BTreeSet<usize> = ground.inside.iter().map(&mut face_of).collect();
    let outside: BTreeSet<usize> = ground.outside.iter().map(&mut face_of).collect();
    let net = Net::new(&triangles);
    let mut closed: BTreeSet<usize> = BTreeSet::new();
    let mut ways = Vec::new();
    let starts: Vec<usize> = inside.into_iter().filter(|f| net.radius_of(*f) >= ground.radius).collect();
    while ways.len() < TOLD && net.reaches(&starts, &outside, &closed, ground.radius) {
        let Some((edge, half)) = net.widest(&starts, &outside, &closed) else { break };
        let at = net.middle.get(edge).copied().unwrap_or(point(0.0, 0.0));
        ways.push(Way { at, width: 2.0 * half });
        closed.insert(edge);
    }
    // Where the deck lies in the open altogether there is no edge to pass.
    if ways.is_empty() && starts.iter().any(|f| outside.contains(f)) {
        ways.extend(ground.inside.first().map(|p| Way { at: *p, width: f64::INFINITY }));
    }
    Some(ways)
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

/// Ends of a segment cut off by `by` at both sides; nothing where it is shorter.
fn shortened((a, b): Segment, by: f64) -> Option<Segment> {
    let way = unit(b - a);
    (distance(a, b) > 2.0 * by).then(|| (a + way * by, b - way * by))
}
