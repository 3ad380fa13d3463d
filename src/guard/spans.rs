//! Fixed points -> numbered posts and clear spans, with the skews at both ends.

use geo::{Intersects, LineString, Polygon};

use crate::base::plane::{angle_of, cross, distance, left, norm, unit};
use crate::base::{Angle, Code, Finding, Length, Place, Point, RuleRef};
use crate::catalog::{Bays, Kit, LimitKind, Settings};
use crate::deck::Plan;

use super::crowd::square;
use super::nodes::{self, Course, Fixed, Node, NodePost};
use super::slope::Slope;
use super::types::{Guard, Post, PostKind, PostOrigin, Run, Span, Support};
use super::wishes::Along;
use super::{bays, edits, stairs, sticks};

const QUARTER: Angle = Angle::from_degrees(90.0);
const HALF: Angle = Angle::from_degrees(180.0);
const EIGHTH: Angle = Angle::from_degrees(45.0);

/// A nanoradian: what f64 leaves of an exact angle.
const ROUNDING: f64 = 1e-9;

/// Length of rail that is looked at where two rails come together at a post, in mm.
const REACH_MM: f64 = 300.0;

/// Sets the posts of a run and measures its spans. Posts are numbered along the run.
pub fn lay(run: &Fixed, guard: &mut Guard, settings: &Settings, plan: &Plan, findings: &mut Vec<Finding>) {
    let number = guard.runs.len() + 1;
    guard.runs.push(Run {
        number,
        line: run.nodes.iter().map(Node::at).collect(),
        closed: run.closed,
        flight: run.slope.as_ref().map(|s| s.index),
    });
    let (first_post, first_span) = (guard.posts.len(), guard.spans.len());
    let mut layer = Layer {
        guard,
        settings,
        findings,
        plan,
        stock: stock(settings),
        run: number - 1,
        place: &run.place,
        slope: run.slope.as_ref(),
    };
    let ends = ends(run);
    let Some(first) = ends.first() else { return };
    let first = (first, layer.support(first));
    let mut before = first;
    let mut courses = run.courses.iter();
    for (end, course) in ends.iter().skip(1).zip(courses.by_ref()) {
        before = layer.stretch(before, end, course, None);
    }
    if run.closed
        && ends.len() > 1
        && let Some(course) = courses.next()
    {
        layer.stretch(before, first.0, course, Some(first.1));
    }
    layer.collisions(first_post, first_span);
}

/// What the system's kits fill. Prices count in hundredths; without them a kit counts by its length.
fn stock(settings: &Settings) -> Vec<bays::Stock> {
    let system = &settings.system;
    let kits = || system.kits.iter().filter(|k| k.serves.fits(false));
    let priced = kits().all(|k| k.price.is_some());
    let cost = |k: &Kit| {
        if priced { (k.price.unwrap_or(0.0) * 100.0).round() as i64 } else { k.length.nanometres() / 1_000_000 }
    };
    let clearance = system.end_clearance * 2;
    kits().map(|k| bays::Stock { span: k.length + clearance, cost: cost(k) }).collect()
}

/// The fixed points of a run with the turn of each: of the post, or of a wall's normal.
fn ends(run: &Fixed) -> Vec<(&Node, Angle)> {
    let count = run.nodes.len();
    // Beyond a gap no rail comes to the post.
    let joined = |i: usize| !matches!(run.courses.get(i), None | Some(Course::Gap));
    let at = |i: usize| run.nodes.get(i).map(Node::at);
    let turned = |i: usize, node: &Node| -> Angle {
        let previous = if i > 0 { Some(i - 1) } else { run.closed.then(|| count - 1) };
        let next = if i + 1 < count { Some(i + 1) } else { run.closed.then_some(0) };
        let before = previous.filter(|p| joined(*p)).and_then(at);
        let after = next.filter(|_| joined(i)).and_then(at);
        match node {
            Node::Wall { face, .. } => angle_of(left(*face)),
            Node::Post(post) => nodes::rotation(post, before, after),
        }
    };
    run.nodes.iter().enumerate().map(|(i, node)| (node, turned(i, node))).collect()
}

/// A fixed point with its turn.
type Turned<'a> = &'a (&'a Node, Angle);

struct Layer<'a> {
    guard: &'a mut Guard,
    settings: &'a Settings,
    plan: &'a Plan,
    stock: Vec<bays::Stock>,
    findings: &'a mut Vec<Finding>,
    run: usize,
    place: &'a Place,
    slope: Option<&'a Slope>,
}

/// A supporting face as a rail meets it.
#[derive(Clone, Copy)]
struct Face {
    support: Support,
    /// Signed skew: positive when the rail's outer edge is the longer one there.
    skew: Angle,
}

/// How a rail in direction `u` meets a fixed point: the turn between them, and the distance from the point to the face
/// along the rail in mm, (side/2)/cos(skew) at a post.
fn meeting((node, turn): Turned<'_>, u: Point) -> (Angle, f64) {
    let (period, half_mm) = match node {
        Node::Wall { .. } => (HALF, 0.0),
        Node::Post(post) => (QUARTER, post.side.millimetres() / 2.0),
    };
    let skew = (*turn - angle_of(u)).folded(period);
    // An angle that f64 left over is none: a square cut shall print as square.
    let skew = if skew.radians().abs() < ROUNDING { Angle::ZERO } else { skew };
    (skew, half_mm / skew.cos())
}

impl<'a> Layer<'a> {
    fn support(&mut self, (node, turn): Turned<'_>) -> Support {
        match node {
            Node::Wall { .. } => Support::Wall,
            Node::Post(post) => self.post(post, *turn),
        }
    }

    fn post(&mut self, post: &NodePost, rotation: Angle) -> Support {
        let level = self.settings.system.height + self.settings.system.post.above;
        let on_slope = self.slope.map(|s| s.post_height(post.at, post.side));
        if let Some(known) = post.known {
            if let Some(standing) = self.guard.posts.get_mut(known) {
                standing.height = standing.height.max(on_slope.unwrap_or(level));
            }
            return Support::Post(known);
        }
        let index = self.guard.posts.len();
        self.guard.posts.push(Post {
            id: format!("P{}", index + 1),
            kind: post.kind,
            origin: post.origin,
            at: post.at,
            side: post.side,
            rotation,
            height: on_slope.unwrap_or(level),
            handle: post.handle,
        });
        Support::Post(index)
    }

    /// Divides the stretch between two fixed points into bays, with line posts and spans; gives the right-hand point
    /// with its support, which is set here unless the run closes in `known`.
    fn stretch(
        &mut self,
        a: (Turned<'a>, Support),
        b: Turned<'a>,
        course: &Course,
        known: Option<Support>,
    ) -> (Turned<'a>, Support) {
        let way = b.0.at() - a.0.0.at();
        let u = unit(way);
        let ((skew_a, to_a), (skew_b, to_b)) = (meeting(a.0, u), meeting(b, u));
        let clear = Length::measured(norm(way) - to_a - to_b);
        if *course == Course::Gap {
            let end = known.unwrap_or_else(|| self.support(b));
            self.corner_gap(a.1, end, clear);
            return (b, end);
        }
        let spans = if !self.needs_panels(clear) {
            Vec::new()
        } else if *course == Course::Chord {
            vec![clear]
        } else {
            let left = a.0.0.at() + u * to_a;
            self.bays(Along { left, way: u, clear }, (a.0.0.at(), b.0.at()), [skew_a, skew_b])
        };
        let left = a.0.0.at() + u * to_a;
        let between = self.line_posts(left, u, &spans);
        let end = known.unwrap_or_else(|| self.support(b));
        if spans.is_empty() {
            self.no_panel(a.1, end, a.0.0.at(), clear);
        }
        let pitch = self.settings.system.post.side;
        let (mut at, mut from) = (left, Face { support: a.1, skew: skew_a });
        for (k, span) in spans.iter().enumerate() {
            let right = at + u * span.millimetres();
            let to = between
                .get(k)
                .map_or(Face { support: end, skew: -skew_b }, |post| Face { support: *post, skew: Angle::ZERO });
            self.span(from, to, at, right, *span);
            (at, from) = (right + u * pitch.millimetres(), to);
        }
        (b, end)
    }

    /// Spans of a stretch by the policy, without the posts that the user erased. `ends` are its fixed points, where rails are
    /// sawn at these skews.
    fn bays(&mut self, along: Along, ends: (Point, Point), skews: [Angle; 2]) -> Vec<Length> {
        let system = &self.settings.system;
        let keep_out = along.keep_out(self.plan, system.post.side);
        // Joists carry the deck, not the stair.
        let joists = if self.slope.is_some() { Vec::new() } else { along.joists(self.plan) };
        let longest = self.slope.map_or(self.settings.longest_panel, |s| stairs::longest(&s.raked, self.settings));
        let mut stretch = bays::Stretch {
            clear: along.clear,
            post: system.post.side,
            longest,
            shortest: system.shortest_panel,
            stock: &self.stock,
            keep_out: &keep_out,
            joists: &joists,
            symmetric: self.settings.symmetric,
        };
        // The kits of a policy are level ones.
        let policy = if self.slope.is_some() { Bays::Equal } else { self.settings.bays };
        let first = bays::divide(&stretch, policy);
        // Where the mitres make a rail longer than any stick, a shorter longest bay gives one bay more.
        let [a, b] = skews.map(|skew| skew.tan().abs());
        let tangents = if first.as_ref().is_some_and(|spans| spans.len() == 1) { a + b } else { a.max(b) };
        let reach = sticks::reach(self.settings, self.slope, tangents).filter(|reach| *reach > stretch.shortest);
        let too_long = reach.filter(|r| first.iter().flatten().any(|span| *span > *r + Length::NOISE));
        let shorter = too_long.and_then(|reach| {
            stretch.longest = stretch.longest.min(reach);
            bays::divide(&stretch, policy)
        });
        let spans = shorter.or(first).unwrap_or_else(|| {
            let middle = along.left + along.way * (along.clear.millimetres() / 2.0);
            let message = format!(
                "the keep-out zones leave no division of this stretch of {} into panels of at most {longest}",
                along.clear.told()
            );
            let finding = Finding::incomplete(Code::PostsKeptOut, Place::at(middle), message);
            self.findings.push(finding.hint("make a zone smaller, or draw the posts where they shall stand"));
            vec![along.clear]
        });
        // Posts on joists are a wish that a price does not know.
        let spans = if policy == Bays::Cost && joists.is_empty() {
            self.guard.choices.take(stretch.ways(spans, self.settings.least_bay_percent))
        } else {
            spans
        };
        let (spans, gone) = edits::without_erased(spans, ends, &stretch, &self.plan.edits, self.findings);
        self.guard.erased.extend(gone);
        spans
    }

    fn line_posts(&mut self, left: Point, u: Point, spans: &[Length]) -> Vec<Support> {
        let side = self.settings.system.post.side;
        let mut along = Length::ZERO;
        let mut posts = Vec::new();
        for span in spans.iter().take(spans.len().saturating_sub(1)) {
            along += *span;
            let at = left + u * (along + side.half()).millimetres();
            along += side;
            let kind = if self.slope.is_some() { PostKind::Stair } else { PostKind::Line };
            let origin = PostOrigin::Planned;
            let post = NodePost { at, kind, origin, side, rotation: None, handle: None, known: None };
            posts.push(self.post(&post, angle_of(u).folded(QUARTER)));
        }
        posts
    }

    /// No room, or so little that the sphere does not pass: no panel.
    fn needs_panels(&self, clear: Length) -> bool {
        let opening = self.settings.rules.limit(LimitKind::Opening);
        clear > Length::NOISE && opening.is_none_or(|l| clear + self.settings.tolerance >= l.value)
    }

    fn no_panel(&mut self, a: Support, b: Support, at: Point, clear: Length) {
        let post = a.post().or(b.post()).and_then(|i| self.guard.posts.get(i)).map(|p| p.id.clone());
        let place = Place { post, ..self.place.clone().with_point(at) };
        let finding = if clear <= Length::NOISE {
            Finding::error(
                Code::PostsTooNear,
                place,
                format!(
                    "between {} and {} there is no room: the clear distance is {}",
                    self.name(a),
                    self.name(b),
                    clear.told()
                ),
            )
            .hint("move or erase one of the two, or make the run longer")
        } else {
            Finding::note(
                Code::GapLeftOpen,
                place,
                format!(
                    "the clear distance of {} between {} and {} needs no panel: the sphere does not pass",
                    clear.told(),
                    self.name(a),
                    self.name(b)
                ),
            )
        };
        self.findings.push(finding);
    }

    /// Between the two posts of a corner stands no panel: they must not overlap, and the sphere must not pass.
    fn corner_gap(&mut self, a: Support, b: Support, clear: Length) {
        let post = |s: Support| s.post().and_then(|i| self.guard.posts.get(i));
        let (Some(p), Some(q)) = (post(a), post(b)) else { return };
        let place = Place { post: Some(p.id.clone()), ..self.place.clone().with_point((p.at + q.at) / 2.0) };
        let limit = self.settings.rules.limit(LimitKind::Opening);
        if square(p).intersects(&square(q)) {
            self.findings.push(
                Finding::error(
                    Code::PostsTooNear,
                    place,
                    format!("the two posts of this corner, {} and {}, stand in each other", p.id, q.id),
                )
                .hint("use a larger corner-setback, or one post at each corner"),
            );
        } else if let Some(limit) = limit.filter(|l| clear + self.settings.tolerance >= l.value) {
            let message =
                format!("between the two posts of this corner, {} and {}, {} stay open", p.id, q.id, clear.told());
            self.findings.push(
                Finding::error(Code::GapLeftOpen, place, message)
                    .hint("use a smaller corner-setback, or one post at each corner")
                    .rule(RuleRef {
                        set: self.settings.rules.name.clone(),
                        section: limit.section.clone(),
                        limit: limit.value,
                        actual: clear,
                    }),
            );
        }
    }

    fn name(&self, support: Support) -> String {
        support.post().and_then(|i| self.guard.posts.get(i)).map_or_else(|| "the wall".to_owned(), |p| p.id.clone())
    }

    fn span(&mut self, from: Face, to: Face, left: Point, right: Point, clear: Length) {
        let id = format!("S{}", self.guard.spans.len() + 1);
        for (face, at) in [(from, left), (to, right)] {
            self.check_face(face, at, &id);
        }
        self.guard.spans.push(Span {
            id,
            run: self.run,
            from: from.support,
            to: to.support,
            left,
            right,
            clear,
            skew_left: from.skew,
            skew_right: to.skew,
            rake: self.slope.map(|s| s.rake(left, right)),
        });
    }

    /// The whole rail must land on the face: (side/2)·tan(skew) + (width/2)/cos(skew) <= side/2.
    fn check_face(&mut self, face: Face, at: Point, id: &str) {
        let skew = face.skew.abs();
        let place = Place::panel(id).with_point(at);
        // A steeper joint has no panel at all; the panel stage says so.
        if skew.radians() > EIGHTH.radians() + ROUNDING {
            return;
        }
        let Support::Post(i) = face.support else { return };
        let Some(post) = self.guard.posts.get(i) else { return };
        let half = post.side.millimetres() / 2.0;
        let width = self.settings.system.widest().millimetres();
        let needed = half * skew.tan() + width / 2.0 / skew.cos();
        if needed > half + Length::NOISE.millimetres() {
            let rule = RuleRef {
                set: self.settings.system.name.clone(),
                section: "post side".to_owned(),
                limit: post.side,
                actual: Length::measured(2.0 * needed),
            };
            self.findings.push(
                Finding::error(
                    Code::RailOffFace,
                    Place { post: Some(post.id.clone()), ..place },
                    format!(
                        "at a skew of {} degrees the rail does not land wholly on the post's face: it would need a post of {}",
                        crate::base::decimal(skew.degrees(), 1),
                        rule.actual.told()
                    ),
                )
                .hint("turn the post, or use a system with a wider post or a narrower rail")
                .rule(rule),
            );
        }
    }

    /// Two rails at an acute corner must not meet before they reach the post.
    fn collisions(&mut self, first_post: usize, first_span: usize) {
        let half = self.settings.system.widest().millimetres() / 2.0;
        // Rails that leave a post of this run: the post, from where, which way.
        let mut at_post: Vec<(usize, Point, Point)> = Vec::new();
        // The head of a stair also holds rails of the deck.
        let from = if self.slope.is_some() { 0 } else { first_span };
        let own = |i: usize| {
            let uses = |s: &Span| [s.from, s.to].contains(&Support::Post(i));
            i >= first_post || self.slope.is_some() && self.guard.spans.iter().skip(first_span).any(uses)
        };
        for span in self.guard.spans.iter().skip(from) {
            let u = unit(span.right - span.left);
            for (support, from, way) in [(span.from, span.left, u), (span.to, span.right, -u)] {
                if let Support::Post(i) = support
                    && own(i)
                {
                    at_post.push((i, from, way));
                }
            }
        }
        at_post.sort_by_key(|(i, ..)| *i);
        let quad = |from: Point, way: Point| {
            let (n, far) = (left(way) * half, from + way * REACH_MM);
            let ring: LineString<f64> = [from + n, far + n, far - n, from - n].into_iter().collect();
            Polygon::new(ring, Vec::new())
        };
        let pairs = at_post.chunk_by(|a, b| a.0 == b.0).flat_map(|rails| {
            rails.iter().enumerate().flat_map(|(k, rail)| rails.iter().skip(k + 1).map(move |other| (rail, other)))
        });
        for ((i, p, u), (_, q, v)) in pairs {
            if cross(*u, *v).abs() < ROUNDING && distance(*p, *q) > 0.0 {
                continue;
            }
            if quad(*p, *u).intersects(&quad(*q, *v)) {
                let id = self.guard.posts.get(*i).map_or_else(String::new, |p| p.id.clone());
                self.findings.push(
                    Finding::error(
                        Code::RailsCollide,
                        Place::post(id).with_point(*p),
                        "the corner is so sharp that its two rails meet before they reach the post",
                    )
                    .hint("set two posts beside the corner, or use a wider post"),
                );
            }
        }
    }
}
