//! Flights of stairs: their steps, the panels along them, and that no side of them is left open.

use std::collections::BTreeMap;

use super::record::{Question, Record};
use super::runs::{Free, between, inside};
use super::{Required, closed_to, sphere};
use crate::base::plane::{cross, distance, dot, unit};
use crate::base::{Code, Length, Near, Place, Point};
use crate::catalog::{CountKind, LimitKind};
use crate::deck::Flight;
use crate::guard::Falls;
use crate::parts::{Layout, LayoutPanel};

/// Directions this far apart, as the sine between them, are still the same: what a plan's coordinates lose.
const SAME_WAY: f64 = 1e-4;

/// One side of a flight in the plan, with places along it downhill from the top nosing.
#[derive(Clone, Copy)]
pub(super) struct Side<'a> {
    /// Its flight.
    pub flight: &'a Flight,
    /// The flight's place in the layout.
    pub index: usize,
    /// On the left as seen from the top looking down.
    pub is_left: bool,
    corner: Point,
    inward: Point,
}

impl<'a> Side<'a> {
    /// Both sides of every flight, left before right.
    pub fn all(layout: &'a Layout) -> impl Iterator<Item = Self> {
        layout.flights.iter().enumerate().flat_map(|(index, flight)| [true, false].map(|l| Self::of(flight, index, l)))
    }

    /// One side of a flight.
    pub fn of(flight: &'a Flight, index: usize, is_left: bool) -> Self {
        let [left, right] = flight.top;
        let (corner, other) = if is_left { (left, right) } else { (right, left) };
        Self { flight, index, is_left, corner, inward: unit(other - corner) }
    }

    /// Level distance downhill from the top nosing, in millimetres.
    pub fn x(&self, p: Point) -> f64 {
        dot(p - self.corner, self.flight.down)
    }

    /// Distance from the side towards the other one, in millimetres.
    pub fn inward(&self, p: Point) -> f64 {
        dot(p - self.corner, self.inward)
    }

    /// Level distance from the top nosing to the lowest one, in millimetres.
    pub fn length(&self) -> f64 {
        f64::from(self.flight.risers.saturating_sub(1)) * self.flight.steps.tread.millimetres()
    }

    /// `F1, left side`.
    pub fn name(&self) -> String {
        format!("{}, {} side", self.flight.id, if self.is_left { "left" } else { "right" })
    }

    /// Whether a point lies nearer to this side than to the other one.
    pub fn is_nearer(&self, p: Point) -> bool {
        let [left, right] = self.flight.top;
        2.0 * self.inward(p) < distance(left, right)
    }

    /// The runs along it.
    pub fn runs<'l>(&self, along: &'l Along<'_>) -> impl Iterator<Item = usize> + use<'l, '_, 'a> {
        let along = along.runs.get(&self.index).into_iter().flatten();
        along.filter(|(_, first)| self.is_nearer(*first)).map(|(i, _)| *i)
    }

    /// The panels along it, upper ones first.
    pub fn panels<'l>(&self, along: &Along<'l>) -> Vec<&'l LayoutPanel> {
        let mut numbers: Vec<usize> =
            self.runs(along).filter_map(|i| along.panels.get(&i)).flatten().copied().collect();
        numbers.sort_unstable();
        let mut panels: Vec<_> = numbers.into_iter().filter_map(|i| along.layout.panels.get(i)).collect();
        panels.sort_by(|a, b| self.x(a.span.left).total_cmp(&self.x(b.span.left)));
        panels
    }

    /// Where on the side something is said.
    pub fn place(&self) -> Place {
        Place::at(self.corner)
    }
}

/// What goes along the flights, by its place in the layout: a site has hundreds of them.
pub(super) struct Along<'l> {
    /// The layout.
    pub layout: &'l Layout,
    /// Runs of each flight, each with where it begins.
    runs: BTreeMap<usize, Vec<(usize, Point)>>,
    /// Panels of each run on a flight.
    panels: BTreeMap<usize, Vec<usize>>,
    /// Where all posts stand, and how far the largest one reaches from there.
    posts: Near<Point>,
    reach: f64,
    /// Walls of the plan.
    walls: Near<(Point, Point)>,
}

impl<'l> Along<'l> {
    pub fn new(layout: &'l Layout) -> Self {
        let posts = layout.posts.iter().map(|post| post.at).collect::<Vec<_>>().into();
        let reach = layout.posts.iter().map(|post| post.side.millimetres()).fold(0.0, f64::max);
        let walls = layout.site.as_ref().map_or_else(Vec::new, |site| site.walls.clone()).into();
        let mut all = Self { layout, runs: BTreeMap::new(), panels: BTreeMap::new(), posts, reach, walls };
        for (i, run) in layout.runs.iter().enumerate() {
            if let Some((flight, first)) = run.flight.zip(run.line.first()) {
                all.runs.entry(flight).or_default().push((i, *first));
            }
        }
        for (i, panel) in layout.panels.iter().enumerate().filter(|(_, panel)| on_flight(layout, panel).is_some()) {
            all.panels.entry(panel.span.run).or_default().push(i);
        }
        all
    }
}

/// What a rule set says of the steps themselves.
const STEP_LIMITS: [(LimitKind, &str); 6] = [
    (LimitKind::RiserHeight, "riser height"),
    (LimitKind::TreadDepth, "tread depth"),
    (LimitKind::RiserVariation, "difference between risers"),
    (LimitKind::TreadVariation, "difference between treads"),
    (LimitKind::NosingMin, "shortest nosing"),
    (LimitKind::NosingMax, "longest nosing"),
];

/// Says once what the rules lack for stairs.
pub(super) fn announce(layout: &Layout, record: &mut Record) {
    if layout.flights.is_empty() {
        return;
    }
    let lacks = STEP_LIMITS.iter().filter(|(kind, _)| layout.rules.limit(*kind).is_none()).map(|(_, what)| *what);
    let lacks: Vec<&str> = lacks.collect();
    if !lacks.is_empty() {
        let why = format!("the rule set {} has no limit for: {}", layout.rules.name, lacks.join(", "));
        record.lacking(Question::own("steps of stairs"), why);
    }
    if layout.rules.count(CountKind::HandrailFromRisers).is_none() {
        let why = format!("the rule set {} does not say from how many risers on they are needed", layout.rules.name);
        record.lacking(Question::own("whether handrails are needed"), why);
    }
}

pub(super) fn check(layout: &Layout, record: &mut Record) {
    for flight in &layout.flights {
        record.at(Place::at((flight.top[0] + flight.top[1]) / 2.0));
        check_shape(flight, record);
        check_steps(layout, flight, record);
    }
    check_mouths(layout, record);
    let along = Along::new(layout);
    for side in Side::all(layout) {
        record.at(side.place());
        check_cover(&along, &side, record);
    }
    for panel in layout.panels.iter().filter(|panel| panel.span.rake.is_some() || on_flight(layout, panel).is_some()) {
        let middle = (panel.span.left + panel.span.right) / 2.0;
        record.at(Place::panel(&panel.span.id).with_point(middle));
        check_panel(layout, panel, record);
    }
}

/// Where a flight meets an edge, the edge is free over its width, as near as lines were taken to belong together.
fn check_mouths(layout: &Layout, record: &mut Record) {
    let Some(site) = &layout.site else { return };
    for mouth in &site.mouths {
        let Some(flight) = mouth.flight.and_then(|i| layout.flights.get(i)) else { continue };
        let Some((first, last)) = mouth.along.first().zip(mouth.along.last()) else { continue };
        let [left, right] = flight.top;
        record.at(Place::at((*first + *last) / 2.0));
        let question = Question::own(&format!("width of {} and of its mouth", flight.id)).code(Code::InMouth);
        let off = (distance(left, right) - distance(*first, *last)).abs();
        record.plan(question, Required::AtMost(site.touch * 2), off);
    }
}

/// The flight that a panel's run goes along.
fn on_flight(layout: &Layout, panel: &LayoutPanel) -> Option<usize> {
    layout.runs.get(panel.span.run).and_then(|run| run.flight)
}

fn check_shape(flight: &Flight, record: &mut Record) {
    let question = |what: &str| Question::own(&format!("{what} of {}", flight.id));
    let steps = flight.steps;
    let is_stair = flight.risers >= 2 && steps.riser > Length::ZERO && steps.tread > Length::ZERO;
    record.fact(question("steps"), "two risers or more, with a height and a depth", is_stair);
    let same = same_slope((steps.riser, steps.tread), (flight.pitch.rise(), flight.pitch.run()));
    record.fact(question("slope"), "riser over tread", same);
    let [left, right] = flight.top;
    let way = unit(right - left);
    // Left and right as seen looking down: downhill lies to the left of the way from left to right.
    let is_square = dot(way, flight.down).abs() <= SAME_WAY && cross(way, flight.down) > 0.0;
    record.fact(question("top nosing"), "square to the fall, left to right as seen looking down", is_square);
}

/// Two slopes as rise and run, multiplied out.
fn same_slope(one: (Length, Length), other: (Length, Length)) -> bool {
    let product = |a: Length, b: Length| i128::from(a.nanometres()) * i128::from(b.nanometres());
    product(one.0, other.1) == product(other.0, one.1)
}

fn check_steps(layout: &Layout, flight: &Flight, record: &mut Record) {
    let rules = &layout.rules;
    let limit = |kind| rules.limit(kind).map(|limit| limit.value);
    let question = |what: &str, kind| Question::rule(&format!("{what} of {}", flight.id), rules, kind);
    let steps = flight.steps;
    let at_most = [
        ("riser height", LimitKind::RiserHeight, steps.riser),
        ("difference between the risers", LimitKind::RiserVariation, flight.riser_variation),
        ("difference between the treads", LimitKind::TreadVariation, flight.tread_variation),
        ("longest nosing", LimitKind::NosingMax, steps.nosing),
    ];
    for (what, kind, actual) in at_most {
        if let Some(limit) = limit(kind) {
            record.exact(question(what, kind), Required::AtMost(limit), actual);
        }
    }
    let at_least = [
        ("tread depth", LimitKind::TreadDepth, steps.tread),
        ("least riser height", LimitKind::RiserHeightMin, steps.riser),
    ];
    for (what, kind, actual) in at_least {
        if let Some(limit) = limit(kind) {
            record.exact(question(what, kind), Required::AtLeast(limit), actual);
        }
    }
    let is_free = limit(LimitKind::NosingFreeTread).is_some_and(|free| steps.tread >= free);
    if let Some(limit) = limit(LimitKind::NosingMin).filter(|_| !is_free) {
        let question = question("shortest nosing", LimitKind::NosingMin);
        if steps.nosing == Length::ZERO {
            record
                .unknown(question, "no nosing is stated; one is required where risers are closed, which no plan tells");
        } else {
            record.exact(question, Required::AtLeast(limit), steps.nosing);
        }
    }
}

/// A guarded side is covered from head to foot; another one has a wall, or needs no guard.
fn check_cover(along: &Along<'_>, side: &Side<'_>, record: &mut Record) {
    let (layout, flight) = (along.layout, side.flight);
    let (guarded, walled) = if side.is_left {
        (flight.guards.left(), flight.walls.left())
    } else {
        (flight.guards.right(), flight.walls.right())
    };
    if guarded {
        let Some((kind, required)) = sphere(layout, true) else { return };
        let free = uncovered(along, side);
        let what = format!("widest stretch of {} without a panel", side.name());
        let question = Question::rule(&what, &layout.rules, kind).code(Code::GapLeftOpen);
        record.at(free.at.map_or_else(|| side.place(), Place::at));
        match Length::from_millimetres(free.widest) {
            Some(widest) => record.space(question, required.clone(), widest),
            None => record.fact(question, "a length", false),
        }
        // Beside the steps, too, nothing may pass between them and the infill.
        let half = layout.system.baluster_width().millimetres() / 2.0;
        let beside = side.panels(along).into_iter().filter(|panel| panel.span.rake.is_some());
        let beside = beside.flat_map(|panel| [panel.span.left, panel.span.right]);
        let furthest = beside.map(|end| -side.inward(end) - half).fold(0.0, f64::max);
        record.at(side.place());
        let what = format!("from {} out to the balusters", side.name());
        let question = Question::rule(&what, &layout.rules, kind).code(Code::GapLeftOpen);
        match Length::from_millimetres(furthest) {
            Some(gap) => record.space(question, required, gap),
            None => record.fact(question, "a length", false),
        }
    } else if walled {
        check_wall(along, side, record);
    } else {
        let what = format!("rise of {}, which has neither guard nor wall", side.name());
        let question = Question::rule(&what, &layout.rules, LimitKind::GuardNeededAbove).code(Code::GapLeftOpen);
        let rise = flight.steps.riser * i64::from(flight.risers);
        match layout.rules.limit(LimitKind::GuardNeededAbove) {
            Some(limit) => record.exact(question, closed_to(limit), rise),
            None => record.lacking(question, "the rule set does not say from which drop on a guard is needed"),
        }
    }
}

/// A wall so near to a side is beside it, whatever the setting: 6 in.
const BESIDE_MM: f64 = 152.4;

/// The share of a side's length that a wall must stand beside.
const MOST: f64 = 0.6;

/// Sine of the angle between a side and a wall that runs along it: 2 degrees.
const ALONG: f64 = 0.035;

/// A side that is said to lie along a wall has one on the plan.
fn check_wall(along: &Along<'_>, side: &Side<'_>, record: &mut Record) {
    let Some(site) = &along.layout.site else { return };
    let reach = site.touch.millimetres().max(BESIDE_MM);
    let ends = [side.corner, side.corner + side.flight.down * side.length()];
    let beside = along.walls.around(ends, reach).filter_map(|(_, (p, q))| {
        let is_along = cross(unit(*q - *p), side.flight.down).abs() <= ALONG;
        let ends = [side.x(*p), side.x(*q)].map(|x| x.clamp(0.0, side.length()));
        let at = |x: f64| *p + (*q - *p) * ((x - side.x(*p)) / (side.x(*q) - side.x(*p)));
        let is_near = is_along && ends.iter().all(|x| side.inward(at(*x)).abs() <= reach);
        is_near.then(|| (ends[0].min(ends[1]), ends[0].max(ends[1])))
    });
    let mut covered: Vec<(f64, f64)> = beside.collect();
    covered.sort_by(|a, b| a.0.total_cmp(&b.0));
    let (mut length, mut reached) = (0.0, 0.0_f64);
    for (low, high) in &covered {
        length += (high - low.max(reached)).max(0.0);
        reached = reached.max(*high);
    }
    let question = Question::own(&format!("wall along {}", side.name())).code(Code::GapLeftOpen);
    record.fact(question, "beside most of it, as it is said to be", length > MOST * side.length());
}

/// What neither panels nor posts cover between the top nosing and the lowest one, along the rail line.
fn uncovered(along: &Along<'_>, side: &Side<'_>) -> Free {
    let layout = along.layout;
    let line = side.runs(along).filter_map(|i| layout.runs.get(i)).find_map(|run| run.line.first());
    let inward = line.map_or(0.0, |p| side.inward(*p));
    let start = side.corner + side.inward * inward;
    let end = start + side.flight.down * side.length();
    let near = along.posts.around([start, end], along.reach).filter_map(|(i, _)| layout.posts.get(i));
    let by_post = near.filter_map(|post| inside(post, start, end));
    let ends = side.panels(along).into_iter().map(|panel| [panel.span.left, panel.span.right]);
    let by_wish = layout.open.iter().map(|open| [open.left, open.right]);
    let by_panel =
        ends.chain(by_wish).filter_map(|[a, b]| between(a, b, start, end).or_else(|| between(b, a, start, end)));
    let mut free = Free::default();
    free.walk(start, end, by_post.chain(by_panel).collect());
    free
}

/// A panel on a stair follows it: slope, steps, direction, and where it begins.
fn check_panel(layout: &Layout, panel: &LayoutPanel, record: &mut Record) {
    let (span, question) = (&panel.span, Question::own);
    let agree = panel.panel.rake == span.rake;
    record.fact(question("slope that the panel was built for"), "that of its span", agree);
    let Some(index) = on_flight(layout, panel) else {
        // One opening without a plan has no flight.
        if !layout.flights.is_empty() {
            record.fact(question("flight"), "a raked panel stands along a flight", false);
        }
        return;
    };
    let (Some(flight), Some(rake)) = (layout.flights.get(index), span.rake) else {
        record.fact(question("flight"), "a panel along a flight of the layout is raked", false);
        return;
    };
    let slope = same_slope((rake.pitch.rise(), rake.pitch.run()), (flight.steps.riser, flight.steps.tread));
    record.fact(question("slope of the panel"), "that of its flight", slope);
    let known = rake.steps == Some(flight.steps);
    record.fact(question("steps beneath the panel"), "those of its flight", known);
    let way = unit(span.right - span.left);
    let side = Side::of(flight, index, Side::of(flight, index, true).is_nearer(span.left));
    let falls = if dot(way, flight.down) > 0.0 { Falls::Right } else { Falls::Left };
    // The stair lies on the right of the way from left to right.
    let follows = cross(way, flight.down).abs() <= SAME_WAY && cross(way, side.inward) < 0.0;
    record.fact(question("direction of the panel"), "along its side of the flight, the stair on its right", follows);
    record.fact(question("low end of the panel"), "downhill", falls == rake.falls);
    let upper = if falls == Falls::Right { span.left } else { span.right };
    let beginning = question("beginning of the panel below the top nosing");
    match rake.start {
        Some(start) => record.plan(beginning, Required::Exactly(start), side.x(upper)),
        None => record.fact(beginning, "known, as its flight is", false),
    }
}
