//! Guards along stairs: each guarded side of a flight becomes a run of raked spans between a post at its head, which is
//! the deck's own where one stands there, and one at its foot.

use crate::base::plane::{distance, dot, meet};
use crate::base::{Code, Finding, Length, Place, Point};
use crate::catalog::{Raked, Settings};
use crate::deck::{DrawnPost, Flight, Plan};

use super::nodes::{self, Course, Fixed, Node, NodePost};
use super::slope::{Slope, inward};
use super::spans;
use super::types::{Falls, Guard, PostKind, PostOrigin, Span};

/// A post of the deck serves as head or foot of a stair's guard when it stands within the inset and this much of where
/// one is wanted: a corner of the deck beside the flight then still holds both rails.
fn reach(settings: &Settings) -> f64 {
    settings.inset.millimetres() + settings.snap.millimetres()
}

/// From a flight's side inward to its rail line: by default posts stand flush beside it, as the deck's end posts do.
fn inset(settings: &Settings) -> f64 {
    settings.stairs.inset.map_or(-settings.system.post.side.millimetres() / 2.0, Length::millimetres)
}

/// Whether a drawn post belongs to a stair: it stands beyond the deck's edge, near a guarded side.
pub fn is_on_stair(post: &DrawnPost, plan: &Plan, settings: &Settings) -> bool {
    let half = settings.system.post.side.millimetres() / 2.0;
    plan.flights.iter().any(|flight| {
        let along = dot(post.at - flight.top[0], flight.down);
        let far = flight.length().millimetres() + foot(settings) + half + settings.snap.millimetres();
        let near_side = |is_left: bool| {
            let line = flight.at(is_left, along, inset(settings));
            distance(line, post.at) <= reach(settings)
        };
        (half..=far).contains(&along)
            && (flight.guards.left() && near_side(true) || flight.guards.right() && near_side(false))
    })
}

fn foot(settings: &Settings) -> f64 {
    settings.stairs.foot.unwrap_or(Length::ZERO).millimetres()
}

/// Lays the guards of all flights. `drawn` are the drawn posts that stand on stairs; `starts` gets the index of each run's
/// first post.
pub fn lay(
    plan: &Plan,
    drawn: &[&DrawnPost],
    settings: &Settings,
    guard: &mut Guard,
    starts: &mut Vec<usize>,
    findings: &mut Vec<Finding>,
) {
    guard.flights.clone_from(&plan.flights);
    let mut taken = vec![false; drawn.len()];
    for (index, flight) in plan.flights.iter().enumerate() {
        if flight.guards == crate::catalog::Sides::None {
            continue;
        }
        let Some(raked) = &settings.system.raked else {
            findings.push(no_raked(flight, settings));
            continue;
        };
        let mut told = false;
        let standing = guard.posts.len();
        for (is_left, falls) in [(true, Falls::Right), (false, Falls::Left)] {
            let guarded = if is_left { flight.guards.left() } else { flight.guards.right() };
            if !guarded {
                continue;
            }
            let (raked, above) = (raked.clone(), settings.system.post.above);
            let mark = settings.measure(plan.frame.unit).mark;
            let slope = Slope { index, flight: flight.clone(), falls, raked, above, mark };
            let side = Side { slope: &slope, is_left, settings, standing };
            let mut nodes = side.ends(guard, &plan.flights);
            side.take_drawn(&mut nodes, drawn, &mut taken, findings);
            if !told {
                told = side.transition(&nodes, findings);
            }
            if falls == Falls::Left {
                nodes.reverse();
            }
            let courses = vec![Course::Straight; nodes.len().saturating_sub(1)];
            let nodes = nodes.into_iter().map(Node::Post).collect();
            let place = flight.place.clone();
            starts.push(guard.posts.len());
            spans::lay(
                &Fixed { nodes, courses, closed: false, place, slope: Some(slope) },
                guard,
                settings,
                plan,
                findings,
            );
        }
    }
    let unused = drawn.iter().zip(&taken).filter(|(_, taken)| !**taken);
    findings.extend(unused.map(|(post, _)| nodes::unused(post, None, settings)));
}

fn no_raked(flight: &Flight, settings: &Settings) -> Finding {
    let message = format!(
        "{}: the rail system {} has no raked panels, so this stair gets no guard",
        flight.id, settings.system.name
    );
    Finding::incomplete(Code::StairNotLaidOut, flight.place.clone(), message)
        .hint("use a system with a [raked] table, or guard the stair by other means")
}

/// One guarded side of a flight.
struct Side<'a> {
    slope: &'a Slope,
    is_left: bool,
    settings: &'a Settings,
    /// Posts before this index are the deck's and those of other flights.
    standing: usize,
}

impl Side<'_> {
    /// Posts at head and foot, from the top down: those of the deck and of landings where they stand near.
    fn ends(&self, guard: &Guard, flights: &[Flight]) -> Vec<NodePost> {
        let (flight, settings) = (&self.slope.flight, self.settings);
        let half = settings.system.post.side.millimetres() / 2.0;
        let head_along = -settings.inset.millimetres();
        let head = self.standing(guard, flight.at(self.is_left, head_along, inset(settings)), true);
        let line = head.as_ref().map_or_else(|| inset(settings), |p| inward(flight, p.at, self.is_left));
        let head = head.unwrap_or_else(|| self.planned(flight.at(self.is_left, head_along, line)));
        let foot_along = flight.length().millimetres() + foot(settings) + half;
        let at = flight.at(self.is_left, foot_along, line);
        let standing = self.standing(guard, at, false);
        // A post of the landing that stands before the newel would stand in the rail.
        let along = |p: Point| dot(p - flight.top[0], flight.down);
        let is_free = |newel: &Point| standing.as_ref().is_none_or(|p| along(p.at) >= along(*newel));
        let newel = self.newel(line, foot_along, flights).filter(is_free).map(|at| self.planned(at));
        vec![head, newel.or(standing).unwrap_or_else(|| self.planned(at))]
    }

    /// Where the foot of this side meets the head of another flight at the inner corner of a landing: one post holds both
    /// rails, in the crossing of their lines.
    fn newel(&self, line_mm: f64, foot_mm: f64, flights: &[Flight]) -> Option<Point> {
        let (own, half) = (&self.slope.flight, self.settings.system.post.side.millimetres() / 2.0);
        let start = own.at(self.is_left, 0.0, line_mm);
        let others = flights.iter().enumerate().filter(|(i, _)| *i != self.slope.index).map(|(_, f)| f);
        let sides = others.flat_map(|f| {
            [(true, f.guards.left()), (false, f.guards.right())].into_iter().filter(|s| s.1).map(move |s| (f, s.0))
        });
        let slack = Length::NOISE.millimetres();
        let crossings = sides.filter_map(|(other, is_left)| {
            let head = other.at(is_left, 0.0, inset(self.settings));
            let along = meet(start, own.down, head, other.down)?;
            let at = start + own.down * along;
            let beyond = dot(at - head, other.down);
            // Its faces must reach the lowest nosing of the one flight and the top nosing of the other.
            let reaches = along + half >= own.length().millimetres() - slack && beyond - half <= slack;
            let near = (along - foot_mm).abs() <= reach(self.settings)
                && (beyond + self.settings.inset.millimetres()).abs() <= reach(self.settings);
            (reaches && near).then_some(((along - foot_mm).abs(), at))
        });
        crossings.min_by(|a, b| a.0.total_cmp(&b.0)).map(|(_, at)| at)
    }

    fn planned(&self, at: Point) -> NodePost {
        let side = self.settings.system.post.side;
        NodePost {
            at,
            kind: PostKind::Stair,
            origin: PostOrigin::Planned,
            side,
            rotation: None,
            handle: None,
            known: None,
        }
    }

    /// The deck's post nearest to where one is wanted, if it is near enough: on the deck's side of the top nosing for the
    /// head, beyond the lowest nosing for the foot.
    fn standing(&self, guard: &Guard, wanted: Point, is_head: bool) -> Option<NodePost> {
        let flight = &self.slope.flight;
        let reach = if is_head { reach(self.settings) } else { self.settings.snap.millimetres() };
        let half = self.settings.system.post.side.millimetres() / 2.0;
        let fits = |at: Point| {
            let along = dot(at - flight.top[0], flight.down);
            let on_level = if is_head {
                along <= half + Length::NOISE.millimetres()
            } else {
                along >= flight.length().millimetres() - Length::NOISE.millimetres()
            };
            on_level && inward(flight, at, self.is_left) <= flight.width_mm() / 2.0
        };
        let near = guard.posts.iter().take(self.standing).enumerate().filter(|(_, p)| fits(p.at));
        let (index, post) = near
            .map(|(i, p)| (distance(p.at, wanted), i, p))
            .filter(|(d, ..)| *d <= reach)
            .min_by(|a, b| a.0.total_cmp(&b.0))
            .map(|(_, i, p)| (i, p))?;
        Some(NodePost {
            at: post.at,
            kind: post.kind,
            origin: post.origin,
            side: post.side,
            rotation: Some(post.rotation),
            handle: post.handle,
            known: Some(index),
        })
    }

    /// Drawn posts near the rail line: one at the foot takes the planned post's place, the others stand between.
    fn take_drawn(
        &self,
        nodes: &mut Vec<NodePost>,
        drawn: &[&DrawnPost],
        taken: &mut [bool],
        findings: &mut Vec<Finding>,
    ) {
        let snap = self.settings.snap.millimetres();
        let along = |p: Point| dot(p - self.slope.flight.top[0], self.slope.flight.down);
        for (post, taken) in drawn.iter().zip(taken) {
            let [head, .., foot] = &nodes[..] else { return };
            let (off, _) = crate::base::plane::to_segment(post.at, head.at, foot.at);
            let at_foot = foot.known.is_none() && distance(post.at, foot.at) <= snap;
            if *taken || off > snap && !at_foot {
                continue;
            }
            *taken = true;
            nodes::off_line(
                post,
                inward(&self.slope.flight, post.at, self.is_left) - inward(&self.slope.flight, head.at, self.is_left),
                findings,
            );
            let new = nodes::drawn(post, PostKind::Stair, self.settings);
            if at_foot {
                nodes.pop();
                nodes.push(new);
            } else {
                let place = nodes.iter().position(|n| along(n.at) > along(new.at)).unwrap_or(nodes.len());
                nodes.insert(place, new);
            }
        }
    }

    /// Says where the top lines of the level and of the raked guard meet, where the head post holds both.
    fn transition(&self, nodes: &[NodePost], findings: &mut Vec<Finding>) -> bool {
        let Some(head) = nodes.first().filter(|p| p.known.is_some()) else { return false };
        let flight = &self.slope.flight;
        let slope = flight.steps.riser.millimetres() / flight.steps.tread.millimetres();
        let over = (self.slope.raked.height - self.settings.system.height).millimetres();
        let meets = over / slope;
        let centre = dot(head.at - flight.top[0], flight.down);
        let half = head.side.millimetres() / 2.0;
        let whereabouts = if (centre - half..=centre + half).contains(&meets) {
            "over the newel"
        } else if meets < centre {
            "behind the newel"
        } else {
            "downhill of the newel"
        };
        let at_face = over - (centre + half) * slope;
        let from = Length::measured(meets.abs()).told();
        let where_met = match meets {
            0.0 => "at".to_owned(),
            m if m < 0.0 => format!("{from} behind"),
            _ => format!("{from} downhill of"),
        };
        let step = Length::measured(at_face.abs()).told();
        let higher = if at_face < 0.0 { "lower" } else { "higher" };
        let message = format!(
            "{}: the top lines of the deck's guard and of the stair's meet {where_met} the top nosing, {whereabouts}; at the \
             newel's face the raked rail is {step} {higher} than the level one",
            flight.id
        );
        findings.push(Finding::note(Code::RakeTransition, Place::at(head.at), message));
        true
    }
}

/// Raked rails that cross another rail in plan, which they may only do at another height.
pub fn crossing(guard: &Guard) -> Vec<Finding> {
    let cross = |a: &Span, b: &Span| {
        let (u, v) = (a.right - a.left, b.right - b.left);
        let inside = |t: Option<f64>| t.is_some_and(|t| t > 0.0 && t < 1.0);
        inside(meet(a.left, u, b.left, v)) && inside(meet(b.left, v, a.left, u))
    };
    let raked = guard.spans.iter().enumerate().filter(|(_, s)| s.rake.is_some());
    let pairs = raked.flat_map(|(i, a)| {
        let others = guard.spans.iter().enumerate().filter(move |(j, b)| *j != i && (b.rake.is_none() || *j > i));
        others.map(move |(_, b)| (a, b)).filter(|(a, b)| cross(a, b))
    });
    let told = pairs.map(|(a, b)| {
        let message = format!("{} and {} cross in plan; they can only if one passes well above the other", a.id, b.id);
        Finding::incomplete(Code::RailsCollide, Place::panel(&a.id).with_point((a.left + a.right) / 2.0), message)
            .hint("leave a side without a guard with `guard` in a [[stair]] of the job file, or move the rail line with [stairs] inset")
    });
    told.collect()
}

/// Longest clear span of a raked panel, measured level.
pub fn longest(raked: &Raked, settings: &Settings) -> Length {
    raked.longest_panel.min(settings.longest_panel)
}
