//! Straight edges that lie on each other: a stretch that two outlines share is inside the deck, any other that is drawn
//! twice counts once. Ends that stop in the middle of another edge are told.

use std::collections::{BTreeMap, BTreeSet};
use std::sync::Arc;

use crate::base::plane::{cross, distance, dot, right, to_segment, unit};
use crate::base::{Code, Finding, Length, Place, Point};

use super::chain::Loose;
use super::grid::{Cell, Grid, cell_of, cells};
use super::model::Edge;

/// Lines whose directions differ by less (0.06 degrees: 1 mm in 1 m) may lie on each other.
const ALONG: f64 = 1e-3;

/// Edge pairs that may be compared, by edge; beyond it the search ends, as the crossing search does.
const PAIRS_PER_EDGE: usize = 50;

/// Where an edge stands: its path and its place in it.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
struct Key {
    path: usize,
    edge: usize,
}

/// A straight edge and its direction.
struct Straight<'a> {
    key: Key,
    edge: &'a Edge,
    way: Point,
}

/// What is to be cut from each edge, in mm along it.
type Cuts = BTreeMap<Key, Vec<(f64, f64)>>;

/// A stretch that two closed outlines share.
#[derive(Debug, Clone, PartialEq)]
pub struct Shared {
    /// Its ends.
    pub ends: (Point, Point),
    /// Where the second outline draws it.
    pub place: Place,
    /// The layers of both outlines.
    pub layers: [Arc<str>; 2],
}

/// Takes out what lies on each other, and gives the stretches that two outlines share. Paths that lose a part come back as
/// single edges, open.
pub fn resolved(mut paths: Vec<Loose>, tolerance: Length, findings: &mut Vec<Finding>) -> (Vec<Loose>, Vec<Shared>) {
    let mut shared = Vec::new();
    if paths.len() < 2 {
        return (paths, shared);
    }
    let tolerance = tolerance.millimetres();
    let cuts = cuts(&paths, tolerance, &mut shared, findings);
    if cuts.is_empty() {
        return (paths, shared);
    }
    let hit: BTreeSet<usize> = cuts.keys().map(|k| k.path).collect();
    let mut pieces = Vec::new();
    for path in &hit {
        let Some(loose) = paths.get_mut(*path) else { continue };
        for (i, edge) in std::mem::take(&mut loose.edges).into_iter().enumerate() {
            let cut = cuts.get(&Key { path: *path, edge: i }).map_or(&[][..], Vec::as_slice);
            pieces.extend(left_over(edge, cut, tolerance).map(|e| Loose { edges: vec![e], closed: false }));
        }
    }
    paths.retain(|p| !p.edges.is_empty());
    paths.extend(pieces);
    (paths, shared)
}

/// What the cuts leave of a straight edge; a whole edge stays as it is, curved or not.
fn left_over(edge: Edge, cuts: &[(f64, f64)], tolerance: f64) -> impl Iterator<Item = Edge> {
    let mut cuts = cuts.to_vec();
    cuts.sort_by(|a, b| a.0.total_cmp(&b.0));
    let (length, u) = (distance(edge.a, edge.b), unit(edge.b - edge.a));
    let mut parts = Vec::new();
    let mut from = 0.0;
    for (start, end) in &cuts {
        parts.push((from, *start));
        from = end.max(from);
    }
    parts.push((from, length));
    let whole = cuts.is_empty();
    parts.into_iter().filter(move |(s, e)| whole || e - s > tolerance).map(move |(s, e)| {
        let at = |d: f64, end: Point| {
            if d == 0.0 {
                edge.a
            } else if d == length {
                end
            } else {
                edge.a + u * d
            }
        };
        Edge { a: at(s, edge.b), b: at(e, edge.b), ..edge.clone() }
    })
}

fn cuts(paths: &[Loose], tolerance: f64, shared_stretches: &mut Vec<Shared>, findings: &mut Vec<Finding>) -> Cuts {
    let all = paths
        .iter()
        .enumerate()
        .flat_map(|(path, p)| p.edges.iter().enumerate().map(move |(edge, e)| (Key { path, edge }, e)))
        .filter(|(_, e)| !e.curved)
        .map(|(key, e)| Straight { key, edge: e, way: unit(e.b - e.a) });
    let mut edges = Vec::with_capacity(paths.iter().map(|p| p.edges.len()).sum());
    edges.extend(all);
    let mut cuts = Cuts::new();
    let mut same_way: BTreeMap<(usize, usize), (bool, bool)> = BTreeMap::new();
    let mut told: BTreeSet<(usize, usize, Code)> = BTreeSet::new();
    let (pairs, ended) = pairs(&edges, tolerance);
    if let Some(edge) = ended {
        let message = "so many edges lie beside each other here that those drawn twice could not all be found";
        findings.push(
            Finding::incomplete(Code::DoubleEdge, edge.place(), message).hint("keep hatching off the edge's layer"),
        );
    }
    for (first, second) in pairs {
        let (Some(first), Some(second)) = (edges.get(first), edges.get(second)) else { continue };
        let Some(Overlap { on_first, on_second, opposite }) = overlap(first, second, tolerance) else { continue };
        let (k, l) = (first.key, second.key);
        let (Some(p), Some(q)) = (paths.get(k.path), paths.get(l.path)) else { continue };
        let shared = p.closed && q.closed && {
            let known = same_way.entry((k.path, l.path));
            let (turn_alike, same) =
                *known.or_insert_with(|| (clockwise(p) == clockwise(q), same_ring(p, q, tolerance)));
            // On both sides of the stretch lies deck; or one outline is a notch in the other: either way no edge is there.
            opposite == turn_alike || !same
        };
        if shared {
            cuts.entry(k).or_default().push(on_first);
        }
        cuts.entry(l).or_default().push(on_second);
        let code = if shared { Code::EdgeShared } else { Code::DoubleEdge };
        if told.insert((k.path, l.path, code)) {
            let at = |along: f64| first.edge.a + first.way * along;
            let place = second.edge.place().with_point(at(f64::midpoint(on_first.0, on_first.1)));
            if shared {
                let layers = [first, second].map(|s| Arc::clone(&s.edge.layer));
                shared_stretches.push(Shared { ends: (at(on_first.0), at(on_first.1)), place, layers });
            } else {
                let message = "this edge is drawn twice, at least in part; one of the two is used";
                findings.push(Finding::repaired(code, place, message));
            }
        }
    }
    cuts
}

/// Whether a ring is drawn clockwise.
fn clockwise(path: &Loose) -> bool {
    let origin = path.edges.first().map_or(Point { x: 0.0, y: 0.0 }, |e| e.a);
    path.segments().map(|(a, b)| cross(a - origin, b - origin)).sum::<f64>() < 0.0
}

/// Whether two rings have the same corners, told by their sorted coordinates.
fn same_ring(p: &Loose, q: &Loose, tolerance: f64) -> bool {
    let sorted = |path: &Loose, of: fn(Point) -> f64| {
        let mut all: Vec<f64> = path.edges.iter().map(|e| of(e.a)).collect();
        all.sort_by(f64::total_cmp);
        all
    };
    let alike =
        |of: fn(Point) -> f64| sorted(p, of).into_iter().zip(sorted(q, of)).all(|(a, b)| (a - b).abs() <= tolerance);
    p.edges.len() == q.edges.len() && alike(|a| a.x) && alike(|a| a.y)
}

/// Tells of chains that end in the middle of another edge.
pub fn tees(chains: &[Loose], tolerance: f64, findings: &mut Vec<Finding>) {
    let ends: Vec<(Point, &Edge)> = chains
        .iter()
        .filter(|c| !c.closed)
        .filter_map(|c| Some([(c.edges.first()?.a, c.edges.first()?), (c.edges.last()?.b, c.edges.last()?)]))
        .flatten()
        .collect();
    if ends.is_empty() {
        return;
    }
    let segments = || chains.iter().flat_map(Loose::segments);
    let (count, total) = segments().fold((0_usize, 0.0), |(n, sum), (a, b)| (n + 1, sum + distance(a, b)));
    let cell = (total / count.max(1) as f64).max(10.0 * tolerance).max(1.0);
    let mut wanted = Grid::default();
    for (i, (p, _)) in ends.iter().enumerate() {
        let aside = Point { x: tolerance, y: tolerance };
        let ((low_x, low_y), (high_x, high_y)) = (cell_of(*p - aside, cell), cell_of(*p + aside, cell));
        for key in (low_x..=high_x).flat_map(|x| (low_y..=high_y).map(move |y| (x, y))) {
            wanted.put(key, i);
        }
    }
    let mut told = BTreeSet::new();
    for (a, b) in segments() {
        for i in cells((a, b), cell).flat_map(|k| wanted.at(k)) {
            let Some((p, edge)) = ends.get(i) else { continue };
            let inside = distance(*p, a).min(distance(*p, b)) > tolerance && to_segment(*p, a, b).0 <= tolerance;
            if inside && told.insert(i) {
                let message = "this edge ends in the middle of another; the two are not joined";
                findings.push(
                    Finding::incomplete(Code::EdgeBranches, edge.place().with_point(*p), message)
                        .hint("let edges meet in corners; put inner lines on another layer"),
                );
            }
        }
    }
}

/// A stretch where two straight edges lie on each other.
struct Overlap {
    /// On the first of them, in mm along it.
    on_first: (f64, f64),
    /// On the second.
    on_second: (f64, f64),
    /// Whether they run against each other.
    opposite: bool,
}

/// The stretch where two straight edges lie on each other.
fn overlap(first: &Straight<'_>, second: &Straight<'_>, tolerance: f64) -> Option<Overlap> {
    let (u, v) = (first.way, second.way);
    if cross(u, v).abs() > ALONG {
        return None;
    }
    let (e, f) = (first.edge, second.edge);
    let (e_length, f_length) = (distance(e.a, e.b), distance(f.a, f.b));
    let (s, t) = (dot(f.a - e.a, u), dot(f.b - e.a, u));
    let (from, to) = (s.min(t).max(0.0), s.max(t).min(e_length));
    if to - from <= 2.0 * tolerance.max(0.01) {
        return None;
    }
    // Both ends of the common stretch must lie on the other line, not only near it somewhere.
    let off = |along: f64| cross(v, e.a + u * along - f.a).abs();
    if off(from).max(off(to)) > tolerance {
        return None;
    }
    let on_f = |along: f64| dot(e.a + u * along - f.a, v).clamp(0.0, f_length);
    let (one, other) = (on_f(from), on_f(to));
    // Ends that nearly fall together are the same end.
    let snap = |x: f64, length: f64| {
        if x <= tolerance {
            0.0
        } else if length - x <= tolerance {
            length
        } else {
            x
        }
    };
    let e_part = (snap(from, e_length), snap(to, e_length));
    let f_part = (snap(one.min(other), f_length), snap(one.max(other), f_length));
    Some(Overlap { on_first: e_part, on_second: f_part, opposite: dot(u, v) < 0.0 })
}

/// Pairs of edges of different paths that lie on each other, each once and in order; and the edge at which so many lay
/// beside each other that the search ended.
fn pairs<'a>(edges: &[Straight<'a>], tolerance: f64) -> (Vec<(usize, usize)>, Option<&'a Edge>) {
    let total: f64 = edges.iter().map(|e| distance(e.edge.a, e.edge.b)).sum();
    let cell = (total / edges.len().max(1) as f64).max(10.0 * tolerance).max(1.0);
    let mut budget = 100_000 + PAIRS_PER_EDGE * edges.len();
    let mut grid = Grid::with_room(2 * edges.len());
    let (mut pairs, mut ended) = (Vec::new(), None);
    let (mut keys, mut near): (Vec<Cell>, Vec<usize>) = (Vec::new(), Vec::new());
    for (i, straight) in edges.iter().enumerate() {
        // A line within the tolerance passes the same cells as this one, or as this one moved aside by it.
        let Edge { a, b, .. } = *straight.edge;
        let aside = right(straight.way) * tolerance;
        let own = cells((a, b), cell);
        keys.clear();
        keys.extend([aside, -aside].into_iter().flat_map(|by| cells((a + by, b + by), cell)).chain(own.clone()));
        keys.sort_unstable();
        keys.dedup();
        near.clear();
        near.extend(keys.iter().flat_map(|key| grid.at(*key)).take(budget));
        budget -= near.len();
        near.sort_unstable();
        near.dedup();
        let lies_on = |j: &usize| {
            let other = edges.get(*j).filter(|other| other.key.path != straight.key.path);
            other.is_some_and(|other| overlap(other, straight, tolerance).is_some())
        };
        pairs.extend(near.iter().copied().filter(lies_on).map(|j| (j, i)));
        if budget == 0 {
            ended = Some(straight.edge);
            break;
        }
        own.for_each(|key| grid.put(key, i));
    }
    pairs.sort_unstable();
    (pairs, ended)
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::base::plane::point;

    fn path(points: &[(f64, f64)], closed: bool) -> Loose {
        let p: Vec<Point> = points.iter().map(|(x, y)| point(*x, *y)).collect();
        let next = p.iter().skip(1).chain(p.first().filter(|_| closed));
        Loose { edges: p.iter().zip(next).map(Edge::straight).collect(), closed }
    }

    fn total(paths: &[Loose]) -> f64 {
        paths.iter().flat_map(|p| &p.edges).map(|e| distance(e.a, e.b)).sum()
    }

    #[test]
    fn touching_boxes_lose_the_edge_that_they_share() {
        let boxes = vec![
            path(&[(0., 0.), (1200., 0.), (1200., 600.), (0., 600.)], true),
            path(&[(1200., 100.), (2400., 100.), (2400., 500.), (1200., 500.)], true),
        ];
        let mut findings = Vec::new();
        let (left, shared) = resolved(boxes, Length::INCH.fraction(1, 16), &mut findings);
        assert!((total(&left) - (3600.0 + 3200.0 - 800.0)).abs() < 1e-9);
        assert!(left.iter().all(|p| !p.closed));
        let [Shared { ends, .. }] = shared.as_slice() else { panic!("one shared stretch") };
        assert_eq!((distance(ends.0, ends.1), findings), (400.0, vec![]));
    }

    #[test]
    fn a_line_that_lies_partly_on_another_counts_once() {
        let lines = vec![path(&[(0., 0.), (1000., 0.)], false), path(&[(1500., 0.4), (600., 0.4)], false)];
        let mut findings = Vec::new();
        let (left, _) = resolved(lines, Length::INCH.fraction(1, 16), &mut findings);
        assert!((total(&left) - 1500.0).abs() < 1e-6, "{left:?}");
        assert!(findings.iter().all(|f| f.code == Code::DoubleEdge && f.repaired) && findings.len() == 1);
        let apart = vec![path(&[(0., 0.), (1000., 0.)], false), path(&[(1500., 4.), (600., 4.)], false)];
        assert_eq!(resolved(apart.clone(), Length::INCH.fraction(1, 16), &mut findings).0, apart);
    }

    #[test]
    fn a_ring_drawn_twice_counts_once() {
        let ring = path(&[(0., 0.), (1200., 0.), (1200., 600.), (0., 600.)], true);
        let mut again = ring.clone();
        again.edges.rotate_left(1);
        let mut findings = Vec::new();
        let (left, _) = resolved(vec![ring.clone(), again], Length::INCH.fraction(1, 16), &mut findings);
        assert_eq!(left, [ring]);
        assert_eq!(findings.iter().map(|f| f.code).collect::<Vec<_>>(), [Code::DoubleEdge]);
    }

    #[test]
    fn an_end_on_the_middle_of_an_edge_is_told() {
        let chains = vec![
            path(&[(0., 0.), (1200., 0.), (1200., 600.), (0., 600.)], true),
            path(&[(600., 300.), (600., 0.5)], false),
        ];
        let mut findings = Vec::new();
        tees(&chains, 1.6, &mut findings);
        assert_eq!(findings.iter().map(|f| f.code).collect::<Vec<_>>(), [Code::EdgeBranches]);
    }
}
