//! Curved stretches -> posts at equal steps along the curve, with straight panels between them.

use crate::base::plane::{cross, distance, dot, unit};
use crate::base::{Code, Finding, Length, Point};
use crate::catalog::Settings;

use super::nodes::{Course, Fixed, Node, NodePost};
use super::track::{Track, same};
use super::types::{PostKind, PostOrigin};

/// Panels that a ring has at least.
const LEAST_OF_RING: usize = 3;

/// The run with its curves divided: each becomes chords between posts of its line.
pub fn divided(run: Fixed, settings: &Settings, findings: &mut Vec<Finding>) -> Fixed {
    if run.courses.iter().all(|c| !matches!(c, Course::Curve(_))) {
        return run;
    }
    let mut out =
        Fixed { nodes: Vec::new(), courses: Vec::new(), closed: run.closed, place: run.place.clone(), slope: None };
    let next = run.nodes.iter().skip(1).chain(run.nodes.first().filter(|_| run.closed));
    let ends: Vec<Option<&Node>> = next.map(Some).chain([None]).collect();
    let mut courses = run.courses.iter();
    for (node, end) in run.nodes.iter().zip(ends) {
        out.nodes.push(node.clone());
        let Some((course, end)) = courses.next().zip(end) else { continue };
        let Course::Curve(track) = course else {
            out.courses.push(course.clone());
            continue;
        };
        let curve = Curve { track, start: node, end, settings };
        let count = curve.bays(&run, findings);
        let posts = curve.posts(count);
        out.courses.extend(vec![Course::Chord; count]);
        out.nodes.extend(posts.into_iter().map(|at| {
            let side = settings.system.post.side;
            let (kind, origin) = (PostKind::Line, PostOrigin::Planned);
            Node::Post(NodePost { at, kind, origin, side, rotation: None, handle: None, known: None })
        }));
    }
    out
}

/// A curve between two fixed points.
struct Curve<'a> {
    track: &'a Track,
    start: &'a Node,
    end: &'a Node,
    settings: &'a Settings,
}

/// Counts of panels that are tried one by one.
const HALVED_ABOVE: usize = 64;

/// Where a post stands in a division: half the turn of the chords there, and how far its face is along them.
struct Stand {
    at: Point,
    half_turn: f64,
    to_face: f64,
}

/// How a division fails.
#[derive(Debug, Clone, Copy, PartialEq)]
enum Wrong {
    /// A clear span is longer than the longest panel.
    Long,
    /// A panel leaves the curve too far, by this much in mm, at this point.
    Far(f64, Point),
    /// A rail does not land wholly on a post between two panels.
    OffFace,
}

/// Clear distance between two posts beside each other.
fn clear(pair: &[Stand]) -> Option<f64> {
    let [a, b] = pair else { return None };
    Some(distance(a.at, b.at) - a.to_face - b.to_face)
}

impl Curve<'_> {
    /// Places of the posts between the ends when there are `count` panels.
    fn posts(&self, count: usize) -> Vec<Point> {
        let step = self.track.length() / count.max(1) as f64;
        (1..count).map(|k| self.track.at(step * k as f64)).collect()
    }

    /// Fewest panels that are within every limit; when none are, as many as the shortest panel allows.
    fn bays(&self, run: &Fixed, findings: &mut Vec<Finding>) -> usize {
        let system = &self.settings.system;
        let side = system.post.side.millimetres();
        let length = self.track.length();
        let ring = run.closed && run.nodes.len() == 1;
        let least = if ring { LEAST_OF_RING } else { 1 };
        // Chords are shorter than the curve, and faces further from the posts' centres where chords turn.
        let most = ((length / (system.shortest_panel.millimetres() + side)) as usize).max(least);
        let (mut most, mut beyond) = (least, most + 1);
        while beyond - most > 1 {
            let middle = most.midpoint(beyond);
            if self.has_room(middle) { most = middle } else { beyond = middle }
        }
        let first = ((length / (self.settings.longest_panel.millimetres() + 2.0 * side)) as usize).clamp(least, most);
        // More panels are better, so that on long curves the fewest are found by halves.
        let (mut low, mut high) = (first, most);
        while high - low > HALVED_ABOVE {
            let middle = low.midpoint(high);
            if self.wrong(middle).is_some() { low = middle + 1 } else { high = middle }
        }
        let mut wrong = None;
        for count in low..=high {
            match self.wrong(count) {
                None => return count,
                found => wrong = found,
            }
        }
        if let Some(Wrong::Far(off, at)) = wrong {
            findings.push(
                Finding::warning(
                    Code::CurveTooTight,
                    run.place.clone().with_point(at),
                    format!(
                        "the curve is so tight that even the shortest panels of {} leave it by {}; max-sagitta is {}",
                        system.shortest_panel,
                        Length::measured(off).told(),
                        self.settings.max_sagitta
                    ),
                )
                .hint("straighten the edge, or allow more with `max-sagitta` in the job file"),
            );
        }
        most
    }

    /// The posts of a division into `count` panels, those at its ends included.
    fn stands(&self, count: usize) -> Vec<Stand> {
        let mut places = vec![self.start.at()];
        places.extend(self.posts(count));
        places.push(self.end.at());
        let ring = same(self.start.at(), self.end.at());
        // At fixed ends the neighbours are not known: no turn, which asks for the most.
        let way = |k: usize| places.get(k).zip(places.get(k + 1)).map(|(a, b)| unit(*b - *a));
        let half_turn = |k: usize| {
            let before = if k > 0 { way(k - 1) } else { way(count - 1).filter(|_| ring) };
            let after = if k < count { way(k) } else { way(0).filter(|_| ring) };
            before.zip(after).map_or(0.0, |(u, v)| cross(u, v).atan2(dot(u, v)).abs() / 2.0)
        };
        let half = |k: usize| match (k, self.start, self.end) {
            (0, Node::Wall { .. }, _) => 0.0,
            (0, Node::Post(p), _) => p.side.millimetres() / 2.0,
            (k, _, Node::Wall { .. }) if k == count => 0.0,
            (k, _, Node::Post(p)) if k == count => p.side.millimetres() / 2.0,
            _ => self.settings.system.post.side.millimetres() / 2.0,
        };
        let stand = |(k, at): (usize, &Point)| {
            let half_turn = half_turn(k);
            Stand { at: *at, half_turn, to_face: half(k) / half_turn.cos() }
        };
        places.iter().enumerate().map(stand).collect()
    }

    /// Whether no clear span of a division is shorter than the shortest panel.
    fn has_room(&self, count: usize) -> bool {
        let shortest = (self.settings.system.shortest_panel - Length::NOISE).millimetres();
        self.stands(count).windows(2).all(|pair| clear(pair).is_none_or(|clear| clear >= shortest))
    }

    /// What is wrong with a division into `count` panels.
    fn wrong(&self, count: usize) -> Option<Wrong> {
        let step = self.track.length() / count as f64;
        let ring = same(self.start.at(), self.end.at());
        let side = self.settings.system.post.side.millimetres();
        let width = self.settings.system.widest().millimetres();
        let noise = Length::NOISE.millimetres();
        let mut far = None;
        for (k, pair) in self.stands(count).windows(2).enumerate() {
            let [a, b] = pair else { continue };
            if clear(pair).is_some_and(|clear| clear > self.settings.longest_panel.millimetres() + noise) {
                return Some(Wrong::Long);
            }
            let skew = a.half_turn;
            let inner = k > 0 || ring;
            if inner && side / 2.0 * skew.tan() + width / 2.0 / skew.cos() > side / 2.0 + noise {
                return Some(Wrong::OffFace);
            }
            let along = step * k as f64;
            let (outward, inward) = self.track.sagitta((along, a.at), (along + step, b.at));
            let over = outward - self.settings.max_sagitta.millimetres();
            let over = over.max(inward - self.most_inward());
            if over > noise {
                far = far.or(Some(Wrong::Far(outward.max(inward), self.track.at(along + step / 2.0))));
            }
        }
        far
    }

    /// How far a panel may lie outside of a curve that bends inward: never so far that the rail overhangs the edge,
    /// unless the inset alone makes it overhang.
    fn most_inward(&self) -> f64 {
        let limit = self.settings.max_sagitta.millimetres();
        let over_deck = self.settings.inset.millimetres() - self.settings.system.widest().millimetres() / 2.0;
        if over_deck > 0.0 { limit.min(over_deck) } else { limit }
    }
}
