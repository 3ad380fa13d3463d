//! Runs without holes: walks every rail line and measures what neither a panel nor a post covers.

use super::faces::meets_wall;
use super::record::{Question, Record};
use super::{PLAN_NOISE_MM, Required, sphere};
use crate::base;
use crate::base::plane::{direction, distance, dot, point, to_segment, unit};
use crate::base::{Angle, Code, Length, Place, Point};
use crate::catalog::LimitKind;
use crate::guard::{Post, Run};
use crate::parts::{Layout, LayoutPanel};

/// A panel this near to the rail line covers it, in millimetres.
const ON_LINE_MM: f64 = 1.0;

pub(super) fn check(layout: &Layout, record: &mut Record) {
    let posts = Near::new(layout.posts.iter().map(|post| post.at));
    let panels = Near::new(layout.panels.iter().map(|p| (p.span.left + p.span.right) / 2.0));
    let reach = layout.posts.iter().map(|post| post.side.millimetres()).fold(ON_LINE_MM, f64::max);
    let mut on_line = vec![false; layout.panels.len()];
    for (index, run) in layout.runs.iter().enumerate() {
        let Some((kind, required)) = sphere(layout, run.flight.is_some()) else { continue };
        let mut free = Free::default();
        // Around a closed run twice, so that a stretch over its beginning is measured whole.
        let rounds = if run.closed { 2 } else { 1 };
        for (a, b) in (0..rounds).flat_map(|_| segments(run)) {
            let (low, high) = (point(a.x.min(b.x), a.y.min(b.y)), point(a.x.max(b.x), a.y.max(b.y)));
            let around = |by: f64| (low - point(by, by), high + point(by, by));
            let (low, high) = around(reach);
            let by_post = posts.within(low, high).filter_map(|i| layout.posts.get(i)).filter_map(|p| inside(p, a, b));
            let (low, high) = around(ON_LINE_MM);
            let own = panels.within(low, high).filter_map(|i| layout.panels.get(i).map(|panel| (i, panel)));
            let own = own.filter(|(_, panel)| panel.span.run == index);
            let by_panel: Vec<_> = own.filter_map(|(i, panel)| covered(panel, a, b).map(|cover| (i, cover))).collect();
            for (i, _) in &by_panel {
                on_line.iter_mut().skip(*i).take(1).for_each(|is_on| *is_on = true);
            }
            let by_panel = by_panel.into_iter().map(|(_, cover)| cover);
            let by_wish = layout.open.iter().filter_map(|open| between(open.left, open.right, a, b));
            free.walk(a, b, by_post.chain(by_panel).chain(by_wish).collect());
        }
        record.at(free.at.map_or_else(Place::none, Place::at));
        let what = format!("widest stretch of run {} without a panel", run.number);
        let question = Question::rule(&what, &layout.rules, kind).code(Code::GapLeftOpen);
        match Length::from_millimetres(free.widest) {
            Some(widest) => record.space(question, required, widest),
            None => record.fact(question, "a length", false),
        }
    }
    walls(layout, &posts, reach, record);
    lines(layout, record);
    // What a panel off its run's line covers would count for nothing.
    record.at(Place::none());
    if !on_line.is_empty() && sphere(layout, false).is_some() {
        let question = Question::own("panels").code(Code::RailOffFace);
        record.fact(question, "each on the line of its run", on_line.iter().all(|is_on| *is_on));
    }
}

/// A run's line goes through the centres of its posts, and turns at posts only.
fn lines(layout: &Layout, record: &mut Record) {
    let segments: Vec<Vec<(Point, Point)>> = layout.runs.iter().map(|run| segments(run).collect()).collect();
    let lines: Vec<base::Near<(Point, Point)>> = segments.into_iter().map(Into::into).collect();
    let centres: base::Near<Point> = layout.posts.iter().map(|post| post.at).collect::<Vec<_>>().into();
    let faces = layout.panels.iter().filter(|at| meets_wall(&at.span));
    let faces = faces.flat_map(|at| [(at.span.from, at.span.left), (at.span.to, at.span.right)]);
    let faces: Vec<Point> = faces.filter(|(support, _)| support.post().is_none()).map(|(_, face)| face).collect();
    let faces: base::Near<Point> = faces.into();
    let question = |what: &str| Question::own(what).code(Code::RailOffFace);
    for at in &layout.panels {
        let Some(line) = lines.get(at.span.run) else { continue };
        let posts = [at.span.from, at.span.to].into_iter().filter_map(|support| layout.posts.get(support.post()?));
        let off =
            posts.map(|post| line.nearest(post.at, |(a, b)| to_segment(post.at, *a, *b).0).map_or(f64::NAN, |n| n.0));
        record.at(Place::panel(&at.span.id).with_point((at.span.left + at.span.right) / 2.0));
        let off = off.fold(0.0, |most: f64, off| if off > most || off.is_nan() { off } else { most });
        record.plan(question("posts off the line of the run"), Required::AtMost(Length::ZERO), off);
    }
    for run in &layout.runs {
        let near = |list: &base::Near<Point>, p: Point| {
            list.around([p], PLAN_NOISE_MM).any(|(_, q)| distance(p, *q) <= PLAN_NOISE_MM)
        };
        let held = run.line.iter().all(|p| near(&centres, *p) || near(&faces, *p));
        let closing = run.line.last().zip(run.line.first()).filter(|_| run.closed);
        let apart = run.line.iter().zip(run.line.iter().skip(1)).chain(closing).all(|(a, b)| a != b);
        record.at(run.line.first().map_or_else(Place::none, |p| Place::at(*p)));
        let question = question(&format!("line of run {}", run.number));
        record.fact(question, "from post to post, or to the face of a wall", held && apart);
    }
}

/// Where a rail is said to meet a wall, no post stands.
fn walls(layout: &Layout, posts: &Near, reach: f64, record: &mut Record) {
    for at in layout.panels.iter().filter(|at| meets_wall(&at.span)) {
        let (span, along) = (&at.span, unit(at.span.right - at.span.left));
        let ends = [(span.from, span.left, -along), (span.to, span.right, along)];
        let is_free = ends.into_iter().filter(|(support, ..)| support.post().is_none()).all(|(_, face, way)| {
            let around = point(reach, reach);
            let mut near = posts.within(face - around, face + around).filter_map(|i| layout.posts.get(i));
            // From just before the face to just behind it.
            near.all(|post| {
                inside(post, face - way, face + way).is_none_or(|(enters, leaves)| enters > 2.0 || leaves < 0.0)
            })
        });
        record.at(Place::panel(&span.id).with_point((span.left + span.right) / 2.0));
        let question = Question::own("wall ends").code(Code::RailOffFace);
        record.fact(question, "no post stands where the rail is said to meet a wall", is_free);
    }
}

/// Spans that stay open by the user's wish: what closes them is not part of the layout.
pub(super) fn open(layout: &Layout, record: &mut Record) {
    for open in &layout.open {
        record.at(Place { panel: Some(open.id.clone()), ..Place::at((open.left + open.right) / 2.0) });
        let question = Question::rule(&format!("what closes {}", open.id), &layout.rules, LimitKind::Opening);
        record.lacking(
            question,
            "this span is left open by the user's wish: it needs a stair, a gate or a guard of another make",
        );
    }
}

fn segments(run: &Run) -> impl Iterator<Item = (Point, Point)> + '_ {
    let closing = run.line.last().zip(run.line.first()).filter(|(a, b)| run.closed && a != b);
    run.line.iter().zip(run.line.iter().skip(1)).chain(closing).map(|(&a, &b)| (a, b))
}

/// The widest stretch that nothing covers, carried on around corners.
#[derive(Default)]
pub(super) struct Free {
    open: f64,
    /// Its length in millimetres.
    pub widest: f64,
    /// Its middle.
    pub at: Option<Point>,
}

impl Free {
    /// Goes from `a` to `b` past what covers the way, given as places from `a` in millimetres.
    pub fn walk(&mut self, a: Point, b: Point, mut covers: Vec<(f64, f64)>) {
        let (length, along) = (distance(a, b), unit(b - a));
        covers.sort_by(|one, other| one.0.total_cmp(&other.0));
        let mut reached = 0.0;
        for (start, end) in covers.into_iter().filter(|&(start, end)| end > 0.0 && start < length) {
            if start > reached {
                self.pass(start - reached, a + along * f64::midpoint(start, reached));
            }
            self.open = 0.0;
            reached = end.max(reached);
        }
        if length > reached {
            self.pass(length - reached, a + along * f64::midpoint(length, reached));
        }
    }

    fn pass(&mut self, free: f64, middle: Point) {
        self.open += free;
        if self.open > self.widest {
            (self.widest, self.at) = (self.open, Some(middle));
        }
    }
}

/// The part of the way from `a` to `b` inside a post: clipped by its two pairs of parallel faces.
pub(super) fn inside(post: &Post, a: Point, b: Point) -> Option<(f64, f64)> {
    let (half, along) = (post.side.millimetres() / 2.0, unit(b - a));
    let (mut enters, mut leaves) = (f64::NEG_INFINITY, f64::INFINITY);
    for quarter in [0.0, 90.0] {
        let across = direction(post.rotation + Angle::from_degrees(quarter));
        let (offset, speed) = (dot(a - post.at, across), dot(along, across));
        if speed.abs() > 1e-9 {
            let (one, other) = ((-half - offset) / speed, (half - offset) / speed);
            enters = enters.max(one.min(other));
            leaves = leaves.min(one.max(other));
        } else if offset.abs() > half {
            return None;
        }
    }
    (enters < leaves).then_some((enters, leaves))
}

/// The part of the way from `a` to `b` that a panel on it covers.
fn covered(panel: &LayoutPanel, a: Point, b: Point) -> Option<(f64, f64)> {
    between(panel.span.left, panel.span.right, a, b)
}

/// Where what stands from `left` to `right` covers the way from `a` to `b`.
pub(super) fn between(left: Point, right: Point, a: Point, b: Point) -> Option<(f64, f64)> {
    let along = unit(b - a);
    let ends = [left, right].map(|end| {
        let place = dot(end - a, along);
        (place, distance(end, a + along * place))
    });
    let [(start, off_start), (end, off_end)] = ends;
    (off_start <= ON_LINE_MM && off_end <= ON_LINE_MM && start < end).then_some((start, end))
}

/// Finds points in a box without looking at all of them: sorted by each coordinate.
struct Near {
    by_x: Vec<(f64, usize)>,
    by_y: Vec<(f64, usize)>,
}

impl Near {
    fn new(points: impl Iterator<Item = Point> + Clone) -> Self {
        let sorted = |mut list: Vec<(f64, usize)>| {
            list.sort_by(|one, other| one.0.total_cmp(&other.0));
            list
        };
        Self {
            by_x: sorted(points.clone().map(|p| p.x).zip(0..).collect()),
            by_y: sorted(points.map(|p| p.y).zip(0..).collect()),
        }
    }

    /// At least those inside the box: the shorter of its two strips.
    fn within(&self, low: Point, high: Point) -> impl Iterator<Item = usize> + '_ {
        let strip = |list: &'_ [(f64, usize)], from: f64, to: f64| {
            let start = list.partition_point(|&(value, _)| value < from);
            (start, list.partition_point(|&(value, _)| value <= to).max(start))
        };
        let (x, y) = (strip(&self.by_x, low.x, high.x), strip(&self.by_y, low.y, high.y));
        let (list, (start, end)) = if x.1 - x.0 < y.1 - y.0 { (&self.by_x, x) } else { (&self.by_y, y) };
        list.get(start..end).unwrap_or_default().iter().map(|&(_, index)| index)
    }
}
