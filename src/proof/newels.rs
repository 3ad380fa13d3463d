//! Posts of stairs: where the one at the foot stands, how high each of them is, and the head of a flight, where the guard of
//! the deck and that of the stair meet.

use std::collections::{BTreeMap, BTreeSet};

use super::record::{Question, Record};
use super::runs::inside;
use super::slope::stack;
use super::sphere::Stair;
use super::stairs::Side;
use super::{PLAN_NOISE_MM, Required, sphere};
use crate::base::plane::{direction, distance, dot, meet, point, to_segment};
use crate::base::{Angle, Code, Length, Place, Point};
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
    let ends: Vec<(Side<'_>, Vec<End<'_>>)> = Side::all(layout).map(|side| (side, ends(layout, &side))).collect();
    let mut on_stairs = BTreeSet::new();
    for (side, ends) in &ends {
        for end in ends {
            if let Some((index, post)) = end.post(layout) {
                on_stairs.insert(index);
                raise(&mut tops, index, end.top(layout, side) - standing(side, post));
            }
        }
    }
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
                let marks = layout.measure.mark.length() * if on_stairs.contains(&index) { 2 } else { 0 };
                record.plan(over, Required::AtMost(marks), (post.height - needed).millimetres());
            }
            None => record.fact(question, "above the rails that it holds", false),
        }
    }
    for (side, ends) in &ends {
        if let (Some(head), Some(foot)) = (ends.first(), ends.last()) {
            check_foot(side, foot, layout, record);
            check_head(side, head, layout, record);
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
fn ends<'a>(layout: &'a Layout, side: &Side<'_>) -> Vec<End<'a>> {
    let end = |panel, support, at| End { panel, support, at, x: side.x(at) };
    let panels = side.panels(layout).into_iter().filter(|panel| panel.span.rake.is_some());
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
fn check_head(side: &Side<'_>, head: &End<'_>, layout: &Layout, record: &mut Record) {
    let what = format!("from the post at the head of {} to the deck's guard", side.name());
    record.at(Place::at(head.at));
    let Some((kind, required)) = sphere(layout, false) else { return };
    let question = Question::rule(&what, &layout.rules, kind).code(Code::GapLeftOpen);
    let Some((index, post)) = head.post(layout) else {
        record.unknown(question, "the guard ends at a wall there, which the layout does not hold");
        return;
    };
    record.at(Place::post(&post.id).with_point(post.at));
    match to_deck_guard(layout, side, post) {
        Some(gap) => match Length::from_millimetres(gap) {
            Some(gap) => record.space(question, required, gap),
            None => record.fact(question, "a length", false),
        },
        None => record.lacking(question, "the layout has no guard beside the head of the flight"),
    }
    check_over(side, head, post, layout, record);
    let level = layout.panels.iter().filter(|panel| {
        panel.span.rake.is_none() && [panel.span.from, panel.span.to].iter().any(|s| s.post() == Some(index))
    });
    for panel in level {
        tell_step(side, head, post, (panel, layout), record);
    }
}

/// Clear distance from a post to the nearest post or panel of a guard that is not its own flight's; nothing where it is
/// part of it.
fn to_deck_guard(layout: &Layout, side: &Side<'_>, post: &Post) -> Option<f64> {
    let deck = layout.runs.iter().enumerate().filter(|(_, run)| run.flight != Some(side.index));
    let mut nearest: Option<f64> = None;
    let mut near = |gap: f64| nearest = Some(nearest.map_or(gap, |least| least.min(gap)));
    for (index, run) in deck {
        let panels = layout.panels.iter().filter(|panel| panel.span.run == index);
        for panel in panels {
            near(apart(&corners(post), &[panel.span.left, panel.span.right]));
            for other in [panel.span.from, panel.span.to].into_iter().filter_map(|support| support.post()) {
                if let Some(other) = layout.posts.get(other) {
                    near(if std::ptr::eq(other, post) { 0.0 } else { apart(&corners(post), &corners(other)) });
                }
            }
        }
        let passes = run.line.iter().zip(run.line.iter().skip(1)).any(|(a, b)| {
            inside(post, *a, *b).is_some_and(|(enters, leaves)| leaves >= 0.0 && enters <= distance(*a, *b))
        });
        if passes {
            near(0.0);
        }
    }
    for open in &layout.open {
        near(apart(&corners(post), &[open.left, open.right]));
    }
    nearest
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
