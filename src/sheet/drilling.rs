//! Drilling views: each drilled member from above, true width and cuts, with its holes and their running marks. Those of
//! a level panel stand under the elevation on the same x, so that the baluster marks over the panel serve them too; those
//! of a raked one lie flat, true in length along the slope, and have all marks themselves.

use crate::base::{Angle, Length, decimal, plane};
use crate::catalog::{Fastener, Hole, InfillSpec, MemberRole};
use crate::panel::Cut;

use super::board::{BASE_LEFT, Board, MIDDLE_LEFT, MIDDLE_RIGHT};
use super::elevation::cross;
use super::rails::{Course, Rails, member_name};
use super::running::{self, Running};
use super::text::{self, size_text};
use super::{Layer, Linetype};

/// The smallest circle that still shows, and how far its centre mark reaches, paper mm.
const LEAST_RADIUS_MM: f64 = 0.45;
const CENTRE_MARK_MM: f64 = 0.95;
/// Lines of the heading are at least this wide before they wrap, paper mm.
const HEADING_MM: f64 = 175.0;
/// Clear space between two views, paper mm.
const BETWEEN_MM: f64 = 9.0;

/// All drilling views, from the top member down, the first under `top`; each is a part of the drawing.
pub(super) fn views(board: &mut Board, view: &Rails<'_>, top: f64) {
    let mut y = top;
    for course in view.courses.iter().rev() {
        let drawn = board.count();
        y = member(board, view, course, y);
        board.part(drawn, None);
    }
}

/// One member's view under `top`; gives where the next may begin. A member without holes has none.
fn member(board: &mut Board, view: &Rails<'_>, course: &Course, top: f64) -> f64 {
    let work = Work::of(view, course);
    if work.holes.is_empty() {
        return top;
    }
    let id = &view.panel().id;
    let cut = view.panel().cuts.iter().find(|c| c.member == course.role);
    let room = (view.finish() - view.start).max(board.mm(HEADING_MM));
    board.show("member", id);
    let mut y = top - board.height();
    let title = format!("{} from above{}", member_name(course.role), cut.map_or(String::new(), |c| lengths(view, c)));
    let mut spec = board.spec(plane::point(view.start, y), BASE_LEFT, &title);
    spec.bold = true;
    board.text(Layer::Text, spec);
    let height = board.height();
    let ends = cut.into_iter().flat_map(|c| hook(view, c).into_iter().chain(plumb(&work, c)));
    let ends = ends.flat_map(|line| text::wrap(&line, height, room));
    for line in text::wrap(&work.notes.join("; "), height, room).into_iter().chain(ends) {
        y -= board.height() * 1.6;
        board.write(plane::point(view.start, y), BASE_LEFT, &line);
    }
    let axis = y - board.mm(2.5) - course.half;
    outline(board, view, course, cut, axis);
    work.draw(board, view, course, axis);
    let below = axis - course.half - board.mm(1.8);
    let measure = &view.layout.measure;
    let marks: Vec<(f64, String)> =
        work.running(view).into_iter().map(|m| (view.along(m), measure.mark_text(m))).collect();
    if marks.is_empty() {
        return below - board.mm(BETWEEN_MM);
    }
    board.show("mark", id);
    running::draw(board, &Running::level(below, false, marks)) - board.mm(BETWEEN_MM)
}

fn lengths(view: &Rails<'_>, cut: &Cut) -> String {
    let m = &view.layout.measure;
    let length = m.mark_text(cut.length);
    if cut.long_point == cut.short_point {
        return format!(", {length} long");
    }
    let (long, short) = (m.mark_text(cut.long_point), m.mark_text(cut.short_point));
    format!(", {length} long on the centre line, long point {long}, short point {short}")
}

fn hook(view: &Rails<'_>, cut: &Cut) -> Option<String> {
    let tip = view.layout.measure.mark_text(cut.left_tip);
    (cut.left_tip > Length::ZERO)
        .then(|| format!("Measured from the long point of the left end, every mark is {tip} more."))
}

/// What a slope asks of the saw and the drill, and where its marks begin.
pub(super) fn plumb(work: &Work, cut: &Cut) -> Vec<String> {
    if cut.plumb == Angle::ZERO {
        return Vec::new();
    }
    let angle = format!("{}\u{b0}", decimal(cut.plumb.abs().degrees(), 1));
    let mut lines = vec![format!("Plumb cut {angle} at both ends; marks run from this face's own end.")];
    let square = work.holes.iter().any(|h| h.kind == Kind::Bracket);
    if work.plumb {
        let but = if square { "; the holes for brackets are square to it" } else { "" };
        lines.push(format!("Drill plumb, {angle} off square to the face{but}."));
    }
    lines
}

/// Edges and cuts of the member with its axis at `axis`; the edge away from the deck is up.
fn outline(board: &mut Board, view: &Rails<'_>, course: &Course, cut: Option<&Cut>, axis: f64) {
    let (left, right) = cut.map_or((Angle::ZERO, Angle::ZERO), |c| (c.left, c.right));
    let half = course.half;
    let (lean_left, lean_right) = (half * left.tan(), half * right.tan());
    let points = vec![
        plane::point(view.start + lean_left, axis - half),
        plane::point(view.finish() - lean_right, axis - half),
        plane::point(view.finish() + lean_right, axis + half),
        plane::point(view.start - lean_left, axis + half),
    ];
    board.path(Layer::Panel, points, true);
    board.line(Layer::Line, plane::point(view.start, axis), plane::point(view.finish(), axis));
    let off = board.mm(2.0);
    let ends = [
        (view.start - lean_left.abs() - off, left, MIDDLE_RIGHT),
        (view.finish() + lean_right.abs() + off, right, MIDDLE_LEFT),
    ];
    for (x, angle, anchor) in ends {
        if angle != Angle::ZERO {
            board.write(plane::point(x, axis), anchor, &format!("saw {}\u{b0}", decimal(angle.abs().degrees(), 1)));
        }
    }
}

/// What a hole is for.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum Kind {
    /// Screw into a baluster, or the baluster itself where the rail is punched.
    Baluster,
    /// Slat or clip of another infill.
    Infill,
    /// Screw into the cap.
    CapScrew,
    /// Screw of a bracket.
    Bracket,
    /// Screw into a support block.
    Block,
}

/// A hole: what for, its running mark, its distance from the axis away from the deck, its diameter.
#[derive(Debug, Clone, Copy)]
pub(super) struct Drilled {
    pub kind: Kind,
    pub mark: Length,
    pub off: f64,
    pub diameter: f64,
}

/// What is drilled into one member, and in words.
#[derive(Debug, Default)]
pub(super) struct Work {
    pub holes: Vec<Drilled>,
    /// Whether holes are drilled that stand plumb on a slope: all but those that come punched and those for brackets.
    pub plumb: bool,
    notes: Vec<String>,
}

impl Work {
    pub(super) fn of(view: &Rails<'_>, course: &Course) -> Self {
        let mut work = Self::default();
        work.balusters(view, course);
        work.infill(view, course);
        work.cap_screws(view, course);
        work.brackets(view, course);
        work.blocks(view, course);
        work
    }

    fn add(&mut self, kind: Kind, marks: &[Length], pilot: Length) {
        let diameter = pilot.millimetres();
        self.holes.extend(marks.iter().map(|mark| Drilled { kind, mark: *mark, off: 0.0, diameter }));
    }

    fn balusters(&mut self, view: &Rails<'_>, course: &Course) {
        let spec = view.layout.system.member(course.role).and_then(|m| m.baluster_holes.as_ref());
        let marks = &view.panel().balusters.marks;
        let Some(Fastener { pilot, screw }) = spec.filter(|_| !marks.is_empty()) else { return };
        self.add(Kind::Baluster, marks, *pilot);
        let size = size_text(&view.layout.measure, *pilot);
        let what = if screw.is_some() { "pilot" } else { "punched" };
        self.plumb |= screw.is_some();
        let place =
            if view.panel().rake.is_some() { "for the balusters" } else { "on the baluster marks over the panel" };
        self.notes.push(format!("{} {what} {place}", holes(marks.len(), &size)));
    }

    /// Slats of cables, or clips of frames, on the two rails beside them.
    fn infill(&mut self, view: &Rails<'_>, course: &Course) {
        let marks = view.panel().infill.screwed();
        let (fastener, what) = match view.layout.system.infill() {
            Some(InfillSpec::Cables(cable)) => (cable.slat.as_ref().map(|slat| &slat.fastener), "slats"),
            Some(InfillSpec::Frames(frame)) => (Some(&frame.clip_fastener), "clips"),
            _ => return,
        };
        let beside = [MemberRole::BottomRail, MemberRole::TopRail].contains(&course.role);
        let Some(fastener) = fastener.filter(|_| beside && !marks.is_empty()) else { return };
        self.add(Kind::Infill, marks, fastener.pilot);
        self.plumb |= what == "slats";
        let size = size_text(&view.layout.measure, fastener.pilot);
        let what = if marks.len() == 1 { what.trim_end_matches('s') } else { what };
        self.notes.push(format!("{} for the {what}", holes(marks.len(), &size)));
    }

    fn cap_screws(&mut self, view: &Rails<'_>, course: &Course) {
        let Some(spec) = view.layout.system.cap_screws.as_ref().filter(|_| view.carries_cap(course.role)) else {
            return;
        };
        let marks = &view.panel().cap_screws;
        self.add(Kind::CapScrew, marks, spec.pilot);
        self.plumb = true;
        let size = size_text(&view.layout.measure, spec.pilot);
        self.notes.push(format!("{} for cap screws (crossed)", holes(marks.len(), &size)));
    }

    fn brackets(&mut self, view: &Rails<'_>, course: &Course) {
        let spec = &view.layout.system.bracket;
        let diameter = spec.fastener.pilot.millimetres();
        let before = self.holes.len();
        for bracket in view.panel().brackets.iter().filter(|b| b.member == course.role) {
            for mark in &bracket.holes {
                let from_end = if bracket.left { *mark } else { view.panel().length - *mark };
                let off = -across(view.bracket_holes(bracket), from_end - bracket.setback);
                self.holes.push(Drilled { kind: Kind::Bracket, mark: *mark, off, diameter });
            }
        }
        let count = self.holes.len() - before;
        if count > 0 {
            let size = size_text(&view.layout.measure, spec.fastener.pilot);
            self.notes.push(format!("{} for brackets", holes(count, &size)));
        }
    }

    fn blocks(&mut self, view: &Rails<'_>, course: &Course) {
        let lowest = view.courses.first().is_some_and(|c| c.role == course.role);
        let marks = &view.panel().blocks;
        let Some(spec) = view.layout.system.blocks.as_ref().filter(|_| lowest && !marks.is_empty()) else { return };
        self.add(Kind::Block, marks, spec.fastener.pilot);
        self.plumb = true;
        let size = size_text(&view.layout.measure, spec.fastener.pilot);
        let what = if marks.len() == 1 { "the support block" } else { "support blocks" };
        self.notes.push(format!("{} for {what} (dashed)", holes(marks.len(), &size)));
    }

    /// Zero and the marks that the row over the panel does not give, each once, from left to right.
    fn running(&self, view: &Rails<'_>) -> Vec<Length> {
        let raked = view.panel().rake.is_some();
        let own = self.holes.iter().filter(|h| raked || h.kind != Kind::Baluster).map(|h| h.mark);
        let mut marks: Vec<Length> = own.collect();
        if !marks.is_empty() {
            marks.push(Length::ZERO);
        }
        marks.sort_unstable();
        marks.dedup();
        marks
    }

    fn draw(&self, board: &mut Board, view: &Rails<'_>, course: &Course, axis: f64) {
        let id = &view.panel().id;
        for hole in &self.holes {
            let at = plane::point(view.along(hole.mark), axis + hole.off);
            let radius = (hole.diameter / 2.0).max(board.mm(LEAST_RADIUS_MM));
            let reach = radius.max(board.mm(CENTRE_MARK_MM));
            board.show("hole", id);
            board.circle(Layer::Hole, at, radius);
            if hole.kind == Kind::CapScrew {
                cross(board, Layer::Screw, at, reach * 0.85);
                continue;
            }
            board.line(Layer::Hole, at - plane::point(reach, 0.0), at + plane::point(reach, 0.0));
            board.line(Layer::Hole, at - plane::point(0.0, reach), at + plane::point(0.0, reach));
            if hole.kind == Kind::Block {
                let half = view.layout.system.blocks.as_ref().map_or(0.0, |b| b.width.millimetres() / 2.0);
                let corner = plane::point(half, course.half);
                board.show("block", id);
                board.patterned(
                    Layer::Block,
                    Linetype::Hidden,
                    super::board::rectangle(at - corner, at + corner),
                    true,
                );
            }
        }
    }
}

fn holes(count: usize, size: &str) -> String {
    if count == 1 { format!("1 hole {size}") } else { format!("{count} holes {size}") }
}

/// How far towards the deck the pattern's hole lies that is nearest to `along` from the bracket's outer end, mm. Marks
/// are rounded to the grid, so they match the pattern only nearly.
fn across(pattern: &[Hole], along: Length) -> f64 {
    pattern.iter().min_by_key(|h| (h.along - along).abs()).map_or(0.0, |h| h.across.millimetres())
}
