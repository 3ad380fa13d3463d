//! Posts of stairs: where the one at the foot stands, how high each of them is, and the head of a flight, where the guard of
//! the deck and that of the stair meet.

use std::collections::{BTreeMap, BTreeSet};

use super::record::{Question, Record};
use super::runs::inside;
use super::slope::stack;
use super::sphere::Stair;
use super::stairs::{Along, Side};
use super::{PLAN_NOISE_MM, Required, sphere};
use crate::base::plane::{direction, distance, dot, meet, point, to_segment};
use crate::base::{Angle, Code, Extent, Length, Near, Place, Point};
use crate::catalog::LimitKind;
use crate::guard::{Post, Support};
use crate::parts::{Layout, LayoutPanel};

pub(super) fn check(layout: &Layout, record: &mut Record) {
    let mut tops: BTreeMap<usize, f64> = BTreeMap::new();
    for panel in layout.panels.iter().filter(|panel| panel.span.rake.is_none()) {
        let top = stack(layout, panel);
        for post in [panel.span.from, panel.span.to].into_iter().filter_map(|support| support.post()) {
            raise(&mut tops, post, top);
        }
    }
    let along = Along::new(layout);
    let ends: Vec<(Side<'_>, Vec<End<'_>>)> = Side::all(layout).map(|side| (side, ends(&along, &side))).collect();
    let mut on_stairs = BTreeSet::new();
    for (side, ends) in &ends {
        for end in ends {
            if let Some((index, post)) = end.post(layout) {
                on_stairs.insert(index);
                raise(&mut tops, index, end.top(layout, side) - standing(side, post));
            }
        }
    }
    // A stair that gets no panel has its posts all the same.
    let flights = layout.runs.iter().filter(|run| run.flight.is_some()).flat_map(|run| run.line.iter().copied());
    let flights: Near<Point> = flights.collect::<Vec<_>>().into();
    for (index, top) in tops {
        let Some(post) = layout.posts.get(index) else { continue };
        record.at(Place::post(&post.id).with_point(post.at));
        let needed = Length::from_millimetres(top).map(|top| top + layout.system.post.above);
        let question = Question::system("height of the post", &layout.system, "post.above");
        match needed {
            Some(needed) => {
                record.plan(question, Required::AtLeast(needed), post.height.millimetres());
                // On a stair it is cut on the next mark, as are the parts that make up the rail's height.
                let over = Question::own("height of the post beyond what is needed");
                let is_stair = on_stairs.contains(&index);
                if is_stair || flights.around([post.at], PLAN_NOISE_MM).next().is_none() {
                    let marks = layout.measure.mark.length() * if is_stair { 2 } else { 0 };
                    record.plan(over, Required::AtMost(marks), (post.height - needed).millimetres());
                }
            }
            None => record.fact(question, "above the rails that it holds", false),
        }
    }
    let guards = Guards::new(layout);
    for (side, ends) in &ends {
        if let (Some(head), Some(foot)) = (ends.first(), ends.last()) {
            check_foot(side, foot, layout, record);
            check_head(side, head, &guards, record);
        }
    }
    let loose = layout.panels.iter().any(|panel| panel.span.rake.is_some()) && layout.flights.is_empty();
    if loose {
        record.at(Place::none());
        let question = Question::own("height of the posts beside a raked panel");
        record.unknown(question, "without a flight it is not known what they stand on");
    }
}

fn raise(tops: &mut BTreeMap<usize, f64>, post: usize, top: f64) {
    let highest = tops.entry(post).or_insert(top);
    *highest = highest.max(top);
}

/// One end of a raked panel.
struct End<'a> {
    panel: &'a LayoutPanel,
    support: Support,
    at: Point,
    /// Downhill from the top nosing, in millimetres.
    x: f64,
}

impl End<'_> {
    fn post<'l>(&self, layout: &'l Layout) -> Option<(usize, &'l Post)> {
        let index = self.support.post()?;
        layout.posts.get(index).map(|post| (index, post))
    }

    /// Top of the rail here, from the top of the flight.
    fn top(&self, layout: &Layout, side: &Side<'_>) -> f64 {
        stair(side).nosing_line(self.x) + stack(layout, self.panel)
    }
}

fn stair(side: &Side<'_>) -> Stair {
    Stair::below(side.flight.steps, Some(side.flight.risers))
}

/// Ends of the raked panels along a side, downhill.
fn ends<'a>(along: &Along<'a>, side: &Side<'_>) -> Vec<End<'a>> {
    let end = |panel, support, at| End { panel, support, at, x: side.x(at) };
    let panels = side.panels(along).into_iter().filter(|panel| panel.span.rake.is_some());
    let mut ends: Vec<End<'a>> =
        panels.flat_map(|p| [end(p, p.span.from, p.span.left), end(p, p.span.to, p.span.right)]).collect();
    ends.sort_by(|a, b| a.x.total_cmp(&b.x));
    ends
}

/// Height of what a post stands on beside a flight, from its top: the step beneath its centre; the level above where it
/// reaches back to the top nosing, the one below where it reaches the lowest.
fn standing(side: &Side<'_>, post: &Post) -> f64 {
    let (x, half) = (side.x(post.at), post.side.millimetres() / 2.0);
    let beyond_foot = side.length() + side.flight.steps.tread.millimetres();
    match x {
        x if x - half <= PLAN_NOISE_MM => stair(side).surface(-half),
        x if x + half >= side.length() - PLAN_NOISE_MM => stair(side).surface(beyond_foot),
        x => stair(side).surface(x),
    }
}

fn check_foot(side: &Side<'_>, foot: &End<'_>, layout: &Layout, record: &mut Record) {
    record.at(side.place());
    let what = format!("from the lowest nosing to the post at the foot of {}", side.name());
    match foot.post(layout) {
        Some((_, post)) => {
            record.at(Place::post(&post.id).with_point(post.at));
            // The post itself guards up to its far face: at a landing's corner it stands beside the lowest step.
            let far_face = 2.0 * side.x(post.at) - foot.x;
            record.plan(Question::own(&what), Required::AtLeast(Length::ZERO), far_face - side.length());
        }
        None => record.unknown(Question::own(&what), "the guard ends at a wall there, which the layout does not hold"),
    }
}

/// Where the guard of the deck and that of the stair meet.
fn check_head(side: &Side<'_>, head: &End<'_>, guards: &Guards<'_>, record: &mut Record) {
    let layout = guards.layout;
    let what = format!("from the post at the head of {} to the deck's guard", side.name());
    record.at(Place::at(head.at));
    let Some((kind, required)) = sphere(layout, false) else { return };
    let question = Question::rule(&what, &layout.rules, kind).code(Code::GapLeftOpen);
    let Some((index, post)) = head.post(layout) else {
        record.unknown(question, "the guard ends at a wall there, which the layout does not hold");
        return;
    };
    record.at(Place::post(&post.id).with_point(post.at));
    match guards.beside(side, post) {
        Some(gap) => match Length::from_millimetres(gap) {
            Some(gap) => record.space(question, required, gap),
            None => record.fact(question, "a length", false),
        },
        None => record.lacking(question, "the layout has no guard beside the head of the flight"),
    }
    check_over(side, head, post, layout, record);
    for panel in guards.level.get(&index).into_iter().flatten() {
        tell_step(side, head, post, (panel, layout), record);
    }
}

/// What closes the way beside the head of a flight, by where it lies.
struct Guards<'l> {
    layout: &'l Layout,
    /// Each panel with its posts.
    panels: Near<Barrier<'l>>,
    /// The lines of the runs, each with the flight that it goes along.
    lines: Near<Line>,
    open: Near<(Point, Point)>,
    /// Level panels at each post.
    level: BTreeMap<usize, Vec<&'l LayoutPanel>>,
}

/// A panel with its posts, and the flight along which it stands.
struct Barrier<'l> {
    ends: [Point; 2],
    posts: Vec<&'l Post>,
    flight: Option<usize>,
}

impl Extent for Barrier<'_> {
    fn extent(&self) -> impl Iterator<Item = Point> {
        self.ends.into_iter().chain(self.posts.iter().flat_map(|post| corners(post)))
    }
}

impl Barrier<'_> {
    fn apart(&self, post: &Post) -> f64 {
        let to = |other: &Post| if std::ptr::eq(other, post) { 0.0 } else { apart(&corners(post), &corners(other)) };
        self.posts.iter().map(|other| to(other)).fold(apart(&corners(post), &self.ends), f64::min)
    }
}

struct Line {
    ends: (Point, Point),
    flight: Option<usize>,
}

impl Extent for Line {
    fn extent(&self) -> impl Iterator<Item = Point> {
        self.ends.extent()
    }
}

impl<'l> Guards<'l> {
    fn new(layout: &'l Layout) -> Self {
        let mut level: BTreeMap<usize, Vec<&LayoutPanel>> = BTreeMap::new();
        let mut panels = Vec::with_capacity(layout.panels.len());
        for panel in &layout.panels {
            let span = &panel.span;
            let supports: BTreeSet<usize> = [span.from, span.to].into_iter().filter_map(|s| s.post()).collect();
            if span.rake.is_none() {
                supports.iter().for_each(|post| level.entry(*post).or_default().push(panel));
            }
            if let Some(run) = layout.runs.get(span.run) {
                let posts = supports.iter().filter_map(|post| layout.posts.get(*post)).collect();
                panels.push(Barrier { ends: [span.left, span.right], posts, flight: run.flight });
            }
        }
        let lines = layout.runs.iter().flat_map(|run| {
            let pairs = run.line.iter().zip(run.line.iter().skip(1));
            pairs.map(|(a, b)| Line { ends: (*a, *b), flight: run.flight })
        });
        let open = layout.open.iter().map(|open| (open.left, open.right)).collect::<Vec<_>>().into();
        Self { layout, panels: panels.into(), lines: lines.collect::<Vec<_>>().into(), open, level }
    }

    /// Clear distance from a post to the nearest post or panel of a guard that is not its own flight's; nothing where it is
    /// part of it.
    fn beside(&self, side: &Side<'_>, post: &Post) -> Option<f64> {
        let passes = |line: &Line| {
            let (a, b) = line.ends;
            line.flight != Some(side.index)
                && inside(post, a, b).is_some_and(|(enters, leaves)| leaves >= 0.0 && enters <= distance(a, b))
        };
        if self.lines.around(corners(post), 0.0).any(|(_, line)| passes(line)) {
            return Some(0.0);
        }
        let panel = |of: &Barrier<'_>| (of.flight != Some(side.index)).then(|| of.apart(post));
        let open = |of: &(Point, Point)| Some(apart(&corners(post), &[of.0, of.1]));
        let found = [nearest(&self.panels, post, panel).0, nearest(&self.open, post, open).0];
        found.into_iter().flatten().reduce(f64::min)
    }
}

/// The least of the distances from a post, each not less than that of the thing's box, and how many were looked at.
fn nearest<T>(of: &Near<T>, post: &Post, gap: impl Fn(&T) -> Option<f64>) -> (Option<f64>, usize) {
    // A post reaches out from its centre by less than its side.
    let reach = post.side.millimetres() + PLAN_NOISE_MM;
    let (mut least, mut looked): (Option<f64>, usize) = (None, 0);
    for (away, _, thing) in of.by_distance(post.at) {
        if least.is_some_and(|least| away > least + reach) {
            break;
        }
        looked += 1;
        least = gap(thing).map(|gap| least.map_or(gap, |least| least.min(gap))).or(least);
    }
    (least, looked)
}

/// Corners of a post, in their order round it.
fn corners(post: &Post) -> [Point; 4] {
    let half = post.side.millimetres() / 2.0;
    let (u, v) = (direction(post.rotation) * half, direction(post.rotation + Angle::from_degrees(90.0)) * half);
    [post.at + u + v, post.at - u + v, post.at - u - v, post.at + u - v]
}

/// Distance between two closed chains that do not cross: from a corner of one to a side of the other.
fn apart(one: &[Point], other: &[Point]) -> f64 {
    let from = |points: &[Point], chain: &[Point]| {
        let sides = || chain.iter().zip(chain.iter().cycle().skip(1));
        let nearest = |p: &Point| sides().map(|(a, b)| to_segment(*p, *a, *b).0).fold(f64::INFINITY, f64::min);
        points.iter().map(nearest).fold(f64::INFINITY, f64::min)
    };
    from(one, other).min(from(other, one))
}

/// Over the deck the guard keeps the deck's height: the post as far as it goes, and the rail from there to the nosing.
fn check_over(side: &Side<'_>, head: &End<'_>, post: &Post, layout: &Layout, record: &mut Record) {
    let Some(limit) = layout.rules.limit(LimitKind::GuardHeight) else { return };
    let question = |what: &str| Question::rule(what, &layout.rules, LimitKind::GuardHeight);
    let top = standing(side, post) + post.height.millimetres();
    // The post stands over the deck, over steps, or over both: what asks most is the highest of them.
    let required = if side.x(post.at) - post.side.millimetres() / 2.0 < 0.0 { limit.value } else { Length::ZERO };
    record.plan(question("guard over the post at the head"), Required::AtLeast(required), top);
    let (level, raked) = (limit.value.millimetres(), stack(layout, head.panel));
    let above = |x: f64| stair(side).nosing_line(x) + raked;
    if head.x < -PLAN_NOISE_MM && above(0.0) + PLAN_NOISE_MM < level {
        let why = format!(
            "between this post and the top nosing, {} over the deck, the raked top falls to {}; whether the height for \
             stairs holds there the rules do not say",
            record.text(-head.x),
            record.text(above(0.0))
        );
        record.unknown(question("height of the guard before the top nosing"), why);
    }
}

/// Where the top lines of both guards meet, and the step between them at the post.
fn tell_step(
    side: &Side<'_>,
    head: &End<'_>,
    post: &Post,
    (level, layout): (&LayoutPanel, &Layout),
    record: &mut Record,
) {
    let (flat, raked) = (stack(layout, level), stack(layout, head.panel));
    let steps = side.flight.steps;
    let fall = point(steps.tread.millimetres(), -steps.riser.millimetres());
    let Some(t) = meet(point(0.0, flat), point(1.0, 0.0), point(0.0, raked), fall) else { return };
    let half = corners(post).iter().map(|c| dot(*c - post.at, side.flight.down)).fold(0.0, f64::max);
    let (back, front) = (side.x(post.at) - half, side.x(post.at) + half);
    let where_met = match t {
        t if t < back => "behind the post",
        t if t > front => "downhill of the post",
        _ => "over the post",
    };
    let from_nosing = match t {
        t if t.abs() <= PLAN_NOISE_MM => "at the top nosing".to_owned(),
        t if t < 0.0 => format!("{} behind the top nosing", record.text(-t)),
        t => format!("{} beyond the top nosing", record.text(t)),
    };
    let about = format!("told: the top lines meet {from_nosing}, {where_met}");
    let what = format!("step from the top of {} to that of {} at {}", level.span.id, head.panel.span.id, post.id);
    record.told(Question::own(&what), about, head.top(layout, side) - flat);
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Decks of 12 by 8 ft before walls, each with a flight down from its front.
    fn site(decks: u32) -> Layout {
        let path = |layer: &str, closed: u8, points: &[(u32, i32)], corner: (u32, i32)| {
            let points = points.iter().map(|(x, y)| format!("10\n{}\n20\n{}\n", corner.0 + x, corner.1 + y));
            let count = points.len();
            format!("0\nLWPOLYLINE\n8\n{layer}\n90\n{count}\n70\n{closed}\n{}", points.collect::<String>())
        };
        let deck = |number: u32| {
            let corner = (number % 10 * 480, i32::try_from(number / 10 * 420).unwrap());
            let steps = (1..10).map(|step| path("STAIR", 0, &[(48, -10 * step), (96, -10 * step)], corner));
            let text =
                format!("0\nTEXT\n8\nSTAIR\n10\n{}\n20\n{}\n40\n4\n1\nDN 11R @ 7\"\n", corner.0 + 62, corner.1 - 60);
            path("DECK-EDGE", 0, &[(0, 96), (0, 0), (144, 0), (144, 96)], corner)
                + &path("WALL", 1, &[(0, 96), (144, 96), (144, 102), (0, 102)], corner)
                + &path("STAIR", 1, &[(48, -100), (96, -100), (96, 0), (48, 0)], corner)
                + &steps.collect::<String>()
                + &text
        };
        let all: String = (0..decks).map(deck).collect();
        let head = "0\nSECTION\n2\nHEADER\n9\n$ACADVER\n1\nAC1015\n9\n$INSUNITS\n70\n1\n0\nENDSEC\n";
        let plan = format!("{head}0\nSECTION\n2\nENTITIES\n{all}0\nENDSEC\n0\nEOF\n");
        crate::lay_out(plan.as_bytes(), "site.dxf", &crate::settings("", "", "").unwrap()).unwrap().layout
    }

    /// Twice as many decks, twice as many panels looked at; and what is found is what a look at all of them finds.
    #[test]
    fn the_guard_beside_a_head_is_found_near_it() {
        let looked = |decks: u32| {
            let layout = site(decks);
            assert_eq!(layout.flights.len(), usize::try_from(decks).unwrap());
            let (along, guards) = (Along::new(&layout), Guards::new(&layout));
            let mut sum = 0;
            for side in Side::all(&layout) {
                let ends = ends(&along, &side);
                let (_, post) = ends.first().and_then(|head| head.post(&layout)).unwrap();
                let panel = |of: &Barrier<'_>| (of.flight != Some(side.index)).then(|| of.apart(post));
                let (gap, looked) = nearest(&guards.panels, post, panel);
                let all = guards.panels.iter().filter_map(panel).reduce(f64::min);
                assert_eq!(gap, all);
                sum += looked;
            }
            sum
        };
        let (few, many) = (looked(10), looked(20));
        assert!(few > 0 && many * 10 < few * 26, "{few} {many}");
    }
}
