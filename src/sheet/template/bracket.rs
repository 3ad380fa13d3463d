//! The ends of the rails at full size and full width, with the bracket's holes: one for each kind of bracket, width of
//! member, angle and side. x is 0 at the rail's end on its centre line, into the rail on the right (left end) or on the
//! left (right end).

use std::collections::BTreeMap;

use crate::base::{Angle, Length, decimal, plane};
use crate::panel::{BracketAt, BracketKind};
use crate::parts::{Layout, LayoutPanel};

use super::super::board::Board;
use super::super::drilling::{Kind, Work};
use super::super::rails::{Course, Rails, member_name};
use super::super::running::{self, Running};
use super::super::text::size_text;
use super::super::{Alike, Layer, Linetype};
use super::stick::{Stick, TEXT_MM, band};

/// How much of the rail is shown beyond its bracket, and of the paper beyond its end, mm.
const BEYOND_MM: f64 = 12.0;
/// How far a hole's cross reaches beyond it, mm.
const CROSS_MM: f64 = 1.2;

/// What tells ends apart: kind, left or right, angle in hundredths of a degree, plumb likewise, half the member's width,
/// holes from the end.
type Key = (BracketKind, bool, i64, i64, i64, Vec<Length>);

/// An end, with the members that have it.
struct End<'a> {
    at: &'a LayoutPanel,
    bracket: &'a BracketAt,
    course: Course,
    angle: Angle,
    members: Vec<&'static str>,
}

/// Templates of all ends, in the order of the kinds.
pub(super) fn sticks(layout: &Layout, groups: &[Alike]) -> Vec<Stick> {
    let mut ends: BTreeMap<Key, End<'_>> = BTreeMap::new();
    for at in groups.iter().filter_map(|group| group.first(layout)) {
        let rails = Rails::new(layout, at);
        for bracket in &at.panel.brackets {
            let Some(course) = rails.courses.iter().find(|c| c.role == bracket.member) else { continue };
            let Some(cut) = at.panel.cuts.iter().find(|c| c.member == bracket.member) else { continue };
            let angle = if bracket.left { cut.left } else { cut.right };
            let hundredths = |angle: Angle| (angle.degrees() * 100.0).round() as i64;
            let holes = from_end(at, bracket);
            let width = (course.half * 1e3).round() as i64;
            let key = (bracket.kind, !bracket.left, hundredths(angle), hundredths(cut.plumb), width, holes);
            let end = ends.entry(key).or_insert(End { at, bracket, course: *course, angle, members: Vec::new() });
            let name = member_name(bracket.member);
            if !end.members.contains(&name) {
                end.members.push(name);
            }
        }
    }
    (1..).zip(ends.values()).map(|(number, end)| end.stick(layout, number)).collect()
}

/// Distances of a bracket's holes from its end of the rail, nearest first.
fn from_end(at: &LayoutPanel, bracket: &BracketAt) -> Vec<Length> {
    let mut holes: Vec<Length> =
        bracket.holes.iter().map(|h| if bracket.left { *h } else { at.panel.length - *h }).collect();
    holes.sort_unstable();
    holes
}

impl End<'_> {
    /// 1 where the rail lies to the right of its end.
    fn way(&self) -> f64 {
        if self.bracket.left { 1.0 } else { -1.0 }
    }

    fn reach(&self, layout: &Layout) -> Length {
        let raked = layout.system.raked.as_ref().filter(|_| self.bracket.kind == BracketKind::Raked);
        raked.map_or(layout.system.bracket.reach, |raked| raked.bracket.reach)
    }

    fn stick(&self, layout: &Layout, number: usize) -> Stick {
        let mut board = Board::new(1.0, TEXT_MM);
        let name = format!("B{number}");
        let way = self.way();
        let plumb = self.at.panel.cuts.first().map_or(1.0, |c| c.plumb.cos());
        let lean = self.course.half * self.angle.tan() / plumb;
        let inner = self.reach(layout).millimetres() + lean.abs() + BEYOND_MM;
        let outer = lean.abs() + BEYOND_MM;
        let ends = if way > 0.0 { (-outer, inner) } else { (-inner, outer) };
        let marks = self.marks(layout);
        let base = -band(&board, &marks);
        board.show("mark", &name);
        let rule = if way > 0.0 { (0.0, inner) } else { (-inner, 0.0) };
        running::draw(&mut board, &Running { rule: Some(rule), ..Running::level(base, true, marks) });
        let axis = base - 2.0 - self.course.half;
        self.face(&mut board, layout, (axis, lean, inner), &name);
        Stick {
            tag: format!("{name} {}", self.title()),
            facts: self.facts(layout),
            zero: "",
            ends,
            edges: (axis - self.course.half - 2.0, 0.0),
            busy: Vec::new(),
            side: Vec::new(),
            name,
            board,
        }
    }

    /// Holes from the rail's end.
    fn marks(&self, layout: &Layout) -> Vec<(f64, String)> {
        let m = &layout.measure;
        let holes = from_end(self.at, self.bracket);
        let mut marks: Vec<(f64, String)> = std::iter::once(Length::ZERO)
            .chain(holes)
            .map(|l| (self.way() * l.millimetres(), m.mark_text(l)))
            .collect();
        marks.sort_by(|a, b| a.0.total_cmp(&b.0));
        marks
    }

    /// The rail's end in its true width, with setback and holes.
    fn face(&self, board: &mut Board, layout: &Layout, (axis, lean, inner): (f64, f64, f64), name: &str) {
        let (way, half) = (self.way(), self.course.half);
        let at = |along: f64, off: f64| plane::point(way * along, axis + off);
        // Positive: the outer edge, away from the deck and above, is the longer one.
        let tips = [at(-lean, half), at(lean, -half)];
        board.show("end", name);
        board.path(Layer::Panel, vec![at(inner, half), tips[0], tips[1], at(inner, -half)], false);
        board.line(Layer::Line, at(0.0, 0.0), at(inner, 0.0));
        let setback = self.bracket.setback.millimetres();
        let width = layout.system.bracket.width.millimetres() / 2.0;
        let reach = self.reach(layout).millimetres();
        let slant = |along: f64, off: f64| at(along - off * lean / half.max(1e-9), off);
        let bracket = [(setback, width), (reach, width), (reach, -width), (setback, -width)];
        board.show("bracket", name);
        board.patterned(
            Layer::Bracket,
            Linetype::Hidden,
            bracket.map(|(along, off)| if along == setback { slant(along, off) } else { at(along, off) }).to_vec(),
            true,
        );
        let rails = Rails::new(layout, self.at);
        let work = Work::of(&rails, &self.course);
        let length = self.at.panel.length;
        board.show("hole", name);
        for hole in work.holes.iter().filter(|h| h.kind == Kind::Bracket && self.bracket.holes.contains(&h.mark)) {
            let from_end = if self.bracket.left { hole.mark } else { length - hole.mark };
            let centre = at(from_end.millimetres(), hole.off);
            let radius = hole.diameter / 2.0;
            board.circle(Layer::Hole, centre, radius);
            for arm in [plane::point(radius + CROSS_MM, 0.0), plane::point(0.0, radius + CROSS_MM)] {
                board.line(Layer::Hole, centre - arm, centre + arm);
            }
        }
    }

    fn title(&self) -> String {
        let side = if self.bracket.left { "left" } else { "right" };
        format!("{} bracket, {side} end", self.bracket.kind.text())
    }

    fn facts(&self, layout: &Layout) -> Vec<String> {
        let m = &layout.measure;
        let spec = &layout.system.bracket;
        let holes: Vec<String> = from_end(self.at, self.bracket).into_iter().map(|l| m.mark_text(l)).collect();
        let width = layout.system.member(self.bracket.member).map_or(Length::ZERO, |member| member.width);
        let mut facts = vec![
            format!("{}, {} wide, the edge at the deck below.", self.members(), size_text(m, width)),
            format!("Set back {}; pilot {}.", size_text(m, self.bracket.setback), size_text(m, spec.fastener.pilot)),
            format!("Holes {} from the rail's end.", holes.join(", ")),
        ];
        if self.angle != Angle::ZERO {
            facts.push(format!("Saw {}\u{b0}.", decimal(self.angle.abs().degrees(), 1)));
        }
        if self.bracket.kind == BracketKind::Raked {
            facts.push("Along the slope; holes square to the face.".to_owned());
        }
        vec![facts.join(" ")]
    }

    /// `Bottom rail and top rail`.
    fn members(&self) -> String {
        let lower = self.members.iter().skip(1).map(|name| name.to_lowercase());
        let all: Vec<String> = self.members.first().map(|name| (*name).to_owned()).into_iter().chain(lower).collect();
        all.join(" and ")
    }
}
