//! Where rails meet posts, measured on the posts as they stand in the plan.
//!
//! A post is a square of four half-planes; a rail's centre line and edges are rays that run into it.

use super::record::{Question, Record};
use super::slope::Slope;
use super::{PLAN_NOISE_MM, Required};
use crate::base::plane::{direction, dot, left, turned, unit};
use crate::base::{Angle, Code, Length, Point};
use crate::guard::{Post, Span, Support};
use crate::panel::BracketKind;
use crate::parts::{Layout, LayoutPanel};

/// Saws are not set finer than this.
const SAW_DEGREES: f64 = 0.01;
/// From this angle on a bracket for square joints no longer fits.
const CLEARLY_ANGLED_DEGREES: f64 = 0.5;

pub(super) const fn meets_wall(span: &Span) -> bool {
    matches!(span.from, Support::Wall) || matches!(span.to, Support::Wall)
}

/// The plane that a rail runs into.
struct Face {
    /// A point of it.
    at: Point,
    /// Towards the rail.
    normal: Point,
    /// Middle and half width of a post's face; a wall goes on.
    extent: Option<(Point, f64)>,
}

/// The rail line of a span, from its middle.
struct Line {
    middle: Point,
    /// Left to right.
    along: Point,
    /// Away from the deck.
    out: Point,
}

impl Line {
    fn place(&self, p: Point) -> f64 {
        dot(p - self.middle, self.along)
    }

    /// Where a line parallel to the rail, `out_mm` further out, meets a face: its place along the rail.
    fn meets(&self, face: &Face, out_mm: f64) -> f64 {
        let from = self.middle + self.out * out_mm;
        dot(face.at - from, face.normal) / dot(self.along, face.normal)
    }

    /// The point at a place along the rail, `out_mm` further out.
    fn point(&self, place: f64, out_mm: f64) -> Point {
        self.middle + self.along * place + self.out * out_mm
    }
}

pub(super) fn check(layout: &Layout, at: &LayoutPanel, record: &mut Record) {
    let span = &at.span;
    let along = unit(span.right - span.left);
    let line = Line { middle: (span.left + span.right) / 2.0, along, out: left(along) };
    let stands = Question::own("faces at the rail's ends").code(Code::RailOffFace);
    let (Some(from), Some(to)) = (
        face(layout, span.from, &line, -along, || turned(along, span.skew_left), span.left),
        face(layout, span.to, &line, along, || turned(-along, -span.skew_right), span.right),
    ) else {
        record.fact(stands, "the rail line runs into its posts", false);
        return;
    };
    record.fact(stands, "the rail line runs into its posts", true);

    let (start, end) = (line.meets(&from, 0.0), line.meets(&to, 0.0));
    let question = Question::own("clear distance between the faces");
    record.plan(question, Required::Exactly(span.clear), end - start);
    let off = (start - line.place(span.left)).abs().max((end - line.place(span.right)).abs());
    let question = Question::own("distance of the span's ends from the faces").code(Code::RailOffFace);
    record.plan(question, Required::Exactly(Length::ZERO), off);

    check_landing(layout, &line, [&from, &to], record);
    check_angles(at, &line, &from, &to, record);
    check_edges(layout, at, &line, &from, &to, record);
}

/// What a rail end runs into: the first face of the post in that direction, or the wall's face as stated.
fn face(
    layout: &Layout,
    support: Support,
    line: &Line,
    towards: Point,
    wall_normal: impl FnOnce() -> Point,
    wall_point: Point,
) -> Option<Face> {
    match support {
        Support::Post(index) => first_face(layout.posts.get(index)?, line.middle, towards),
        Support::Wall => Some(Face { at: wall_point, normal: wall_normal(), extent: None }),
    }
}

/// Clips a ray by the post's four half-planes: the last one entered is the face that the ray meets.
fn first_face(post: &Post, from: Point, towards: Point) -> Option<Face> {
    let half = post.side.millimetres() / 2.0;
    let mut entered: Option<(f64, Point)> = None;
    let mut leaves = f64::INFINITY;
    for quarter in [0.0, 90.0, 180.0, 270.0] {
        let normal = direction(post.rotation + Angle::from_degrees(quarter));
        let (speed, ahead) = (dot(towards, normal), half - dot(from - post.at, normal));
        if speed < -1e-9 {
            let when = ahead / speed;
            if entered.is_none_or(|(latest, _)| when > latest) {
                entered = Some((when, normal));
            }
        } else if speed > 1e-9 {
            leaves = leaves.min(ahead / speed);
        } else if ahead < 0.0 {
            return None;
        }
    }
    let (when, normal) = entered?;
    let middle = post.at + normal * half;
    (when > 0.0 && when <= leaves).then_some(Face { at: middle, normal, extent: Some((middle, half)) })
}

/// The widest member's edges must hit the face, not pass it by.
fn check_landing(layout: &Layout, line: &Line, faces: [&Face; 2], record: &mut Record) {
    let widest = layout.system.members.iter().map(|member| member.width).max().unwrap_or(Length::ZERO);
    let half_rail = widest.millimetres() / 2.0;
    for face in faces {
        let Some((middle, half_face)) = face.extent else { continue };
        let off = [half_rail, -half_rail].map(|out| {
            let hit = line.point(line.meets(face, out), out);
            dot(hit - middle, left(face.normal)).abs()
        });
        let limit = Length::from_millimetres(half_face).unwrap_or(Length::ZERO);
        let question = Question::own("rail's edge from the middle of the post's face").code(Code::RailOffFace);
        record.plan(question, Required::AtMost(limit), off.into_iter().fold(0.0, f64::max));
    }
}

/// Stated skews, saw angles and bracket kinds against the faces.
fn check_angles(at: &LayoutPanel, line: &Line, from: &Face, to: &Face, record: &mut Record) {
    // How much longer the outer edge is at each end of a rail of unit width.
    let longer = |face: &Face| line.meets(face, 0.5) - line.meets(face, -0.5);
    let found = [-longer(from), longer(to)].map(|over| over.atan().to_degrees());
    let same = |stated: Angle, found: f64| (stated.degrees() - found).abs() <= SAW_DEGREES;
    let [at_left, at_right] = found;
    let skews = same(at.span.skew_left, at_left) && same(at.span.skew_right, at_right);
    record.fact(Question::own("stated skews"), "the angles between rail and faces", skews);
    let saw = at.panel.cuts.iter().all(|cut| same(cut.left, at_left) && same(cut.right, at_right));
    record.fact(Question::own("saw angles"), "the angles between rail and faces", saw);
    let is_raked = at.span.rake.is_some();
    if is_raked || at.panel.cuts.iter().any(|cut| cut.plumb != Angle::ZERO) {
        let pitch = Slope::of(at.span.rake).plumb_degrees();
        let plumb = at.panel.cuts.iter().all(|cut| same(cut.plumb, pitch));
        record.fact(Question::own("plumb cuts"), "the angle of the slope", plumb);
    }
    let brackets = at.panel.brackets.iter().all(|bracket| {
        let skew = if bracket.left { at_left } else { at_right }.abs();
        match bracket.kind {
            BracketKind::Level => skew < CLEARLY_ANGLED_DEGREES && !is_raked,
            BracketKind::Angled => skew > SAW_DEGREES && !is_raked,
            BracketKind::Raked => is_raked,
        }
    });
    let asked = "angled where the rail meets its face at an angle, raked on a stair";
    record.fact(Question::own("bracket kinds"), asked, brackets);
}

/// Both edges of every cut, re-measured between the faces; level ones stretched to the slope, with what a plumb cut adds.
fn check_edges(layout: &Layout, at: &LayoutPanel, line: &Line, from: &Face, to: &Face, record: &mut Record) {
    let (panel, slope) = (&at.panel, Slope::of(at.span.rake));
    // A panel for an opening that was measured on site is as much longer as the opening is.
    let on_site = at.measured.map_or(0.0, |_| (at.span.clear - panel.span).millimetres());
    let clearances = (panel.clearance_left + panel.clearance_right).millimetres() + on_site;
    let mut worst: f64 = 0.0;
    for cut in &panel.cuts {
        let Some(member) = layout.system.member(cut.member) else { continue };
        let half = member.width.millimetres() / 2.0;
        let [outer, inner] = [half, -half].map(|out| (line.meets(from, out), line.meets(to, out)));
        let [long, short] = {
            let (a, b) = (outer.1 - outer.0 - clearances, inner.1 - inner.0 - clearances);
            [slope.over(a.max(b)), slope.over(a.min(b))]
        };
        let tips = outer.1.max(inner.1) - outer.0.min(inner.0) - clearances;
        let tips = slope.extent(0.0, tips, member.height.millimetres());
        let left_tip = slope.over(line.meets(from, 0.0) - outer.0.min(inner.0));
        let pairs =
            [(cut.long_point, long), (cut.short_point, short), (cut.tip_to_tip, tips), (cut.left_tip, left_tip)];
        for (stated, found) in pairs {
            let off = (stated.millimetres() - found).abs();
            // `max` would drop what is no number.
            worst = if off > worst || off.is_nan() { off } else { worst };
        }
    }
    let question = Question::own("difference between the cuts' edges and the faces");
    let noise = Length::from_millimetres(PLAN_NOISE_MM).unwrap_or_default();
    record.plan(question, Required::AtMost(noise), worst);
}
