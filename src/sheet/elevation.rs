//! One panel as seen from the deck, looking out: members, infill, hardware, dimensions and running marks; its drilling
//! views below. Origin at the left face on the deck's level, x to the right along the rail, y up.

use crate::base::{Length, Point, plane};
use crate::catalog::{BalusterStyle, MemberRole, Section};
use crate::panel::Panel;
use crate::parts::{Layout, LayoutPanel};

use super::board::{BASE_LEFT, Board, MIDDLE, MIDDLE_LEFT};
use super::caution;
use super::dimension::{Linear, TextPlace, spread};
use super::running::{self, Running};
use super::support::{End, Outside, support_name};
use super::text::{self, size_text};
use super::{Drawing, Layer, Linetype, drilling, scale};

/// Rows of dimensions below the deck and beside the posts, paper mm.
const FIRST_ROW_MM: f64 = 8.0;
const ROW_MM: f64 = 7.0;
/// Where extension lines start below the deck, paper mm.
const BELOW_DECK_MM: f64 = 3.6;
/// Running marks above the panel's top, paper mm.
const BAND_MM: f64 = 4.0;

/// A member's place in the height.
#[derive(Debug, Clone, Copy)]
pub(super) struct Course {
    /// Which member.
    pub role: MemberRole,
    /// Underside above the deck, mm.
    pub low: f64,
    /// Top above the deck, mm.
    pub high: f64,
    /// Half its width across the rail line, mm.
    pub half: f64,
}

/// A panel on its board.
pub(super) struct View<'a> {
    /// The whole layout.
    pub layout: &'a Layout,
    /// The panel with its span.
    pub at: &'a LayoutPanel,
    /// Members from low to high.
    pub courses: Vec<Course>,
    /// Where the balusters stand, low and high.
    pub infill: (f64, f64),
    /// x of the rail's left end on the centre line.
    pub start: f64,
    /// Of its right end.
    pub finish: f64,
    /// Supports.
    pub ends: [Outside; 2],
}

/// A panel's elevation with its drilling views.
pub fn elevation(layout: &Layout, at: &LayoutPanel) -> Drawing {
    let panel = &at.panel;
    let marks = &panel.balusters.marks;
    let steps = marks.iter().zip(marks.iter().skip(1)).map(|(a, b)| (*b - *a).millimetres());
    let closest = steps.fold(f64::INFINITY, f64::min);
    let usual = scale::text_height(&layout.measure);
    let scale = scale::of_detail(closest, usual * running::GAP, &layout.measure);
    let text_mm = (closest / scale.paper / running::GAP).clamp(scale::LEAST_TEXT_MM, usual);
    let mut board = Board::new(scale.paper, text_mm);
    let view = View::new(layout, at, &board);
    board.show("panel", &panel.id);
    view.deck(&mut board);
    for end in &view.ends {
        end.draw(&mut board, panel.height.millimetres(), &view.courses);
    }
    view.members(&mut board);
    view.infill(&mut board);
    view.blocks(&mut board);
    view.brackets(&mut board);
    view.screws(&mut board);
    let lowest = view.lengths(&mut board);
    view.heights(&mut board);
    view.running(&mut board);
    view.names(&mut board);
    let below = lowest - board.mm(10.0);
    drilling::views(&mut board, &view, below);
    view.title(&mut board, scale.text);
    board.show_nothing();
    caution::below(&mut board);
    board.finish(&panel.id, format!("Panel {}", panel.id), None)
}

/// A member's name for people.
pub(super) const fn member_name(role: MemberRole) -> &'static str {
    match role {
        MemberRole::SupportRail => "Support rail",
        MemberRole::BottomRail => "Bottom rail",
        MemberRole::TopRail => "Top rail",
        MemberRole::Cap => "Cap",
    }
}

impl<'a> View<'a> {
    fn new(layout: &'a Layout, at: &'a LayoutPanel, board: &Board) -> Self {
        let panel = &at.panel;
        let mut level = panel.bottom_gap;
        let mut infill = None;
        let mut courses = Vec::new();
        for member in &layout.system.members {
            if member.role >= MemberRole::TopRail && infill.is_none() {
                infill = Some((level.millimetres(), (level + panel.balusters.length).millimetres()));
                level += panel.balusters.length;
            }
            let (low, half) = (level.millimetres(), member.width.millimetres() / 2.0);
            level += member.height;
            courses.push(Course { role: member.role, low, high: level.millimetres(), half });
        }
        let above = (level.millimetres(), (level + panel.balusters.length).millimetres());
        let start = panel.clearance_left.millimetres();
        let left = Outside::new(layout, at, End::Left, board);
        let right = Outside::new(layout, at, End::Right, board);
        Self {
            layout,
            at,
            courses,
            infill: infill.unwrap_or(above),
            start,
            finish: start + panel.length.millimetres(),
            ends: [left, right],
        }
    }

    pub(super) fn panel(&self) -> &'a Panel {
        &self.at.panel
    }

    /// x of a running mark.
    pub(super) fn x(&self, mark: Length) -> f64 {
        self.start + mark.millimetres()
    }

    fn clear(&self) -> f64 {
        self.panel().span.millimetres()
    }

    /// Leftmost and rightmost x of the supports.
    fn outer(&self) -> (f64, f64) {
        let [left, right] = &self.ends;
        (left.outer, right.outer)
    }

    /// Deck line with ground strokes in groups.
    fn deck(&self, board: &mut Board) {
        let [left, right] = &self.ends;
        let (from, to) = (left.deck_from(board), right.deck_from(board));
        board.line(Layer::Panel, plane::point(from, 0.0), plane::point(to, 0.0));
        let (step, group) = (board.mm(1.4), board.mm(22.0));
        let length = board.mm(1.8);
        let mut x = from + board.mm(3.0);
        while x + 2.0 * step < to {
            for i in 0..3 {
                let top = plane::point(x + f64::from(i) * step, 0.0);
                board.line(Layer::Sheet, top, top - plane::point(length, length));
            }
            x += group;
        }
    }

    /// Where a member is seen to begin and end: its deck-side edge, as far as no post stands before it.
    fn seen(&self, half: f64) -> (f64, f64) {
        let span = &self.at.span;
        let [left, right] = &self.ends;
        let from = self.start + half * span.skew_left.tan();
        let to = self.finish - half * span.skew_right.tan();
        (left.cover.map_or(from, |c| from.max(c)), right.cover.map_or(to, |c| to.min(c)))
    }

    fn members(&self, board: &mut Board) {
        for course in &self.courses {
            let (from, to) = self.seen(course.half);
            board.rectangle(Layer::Panel, plane::point(from, course.low), plane::point(to, course.high));
        }
    }

    fn infill(&self, board: &mut Board) {
        let half = self.layout.system.baluster.width.millimetres() / 2.0;
        board.show("baluster", &self.panel().id);
        for mark in &self.panel().balusters.marks {
            let x = self.x(*mark);
            let (low, high) = (plane::point(x - half, self.infill.0), plane::point(x + half, self.infill.1));
            board.rectangle(Layer::Baluster, low, high);
        }
    }

    fn blocks(&self, board: &mut Board) {
        let Some(spec) = &self.layout.system.blocks else { return };
        let half = spec.width.millimetres() / 2.0;
        let top = self.panel().bottom_gap.millimetres();
        board.show("block", &self.panel().id);
        for mark in &self.panel().blocks {
            let x = self.x(*mark);
            board.rectangle(Layer::Block, plane::point(x - half, 0.0), plane::point(x + half, top));
        }
    }

    /// Brackets as the lower half of the member's end, screws as crosses.
    fn brackets(&self, board: &mut Board) {
        let spec = &self.layout.system.bracket;
        let arm = board.mm(0.45);
        for bracket in &self.panel().brackets {
            let Some(course) = self.courses.iter().find(|c| c.role == bracket.member) else { continue };
            let (near, far) = (bracket.setback.millimetres(), spec.reach.millimetres());
            let (a, b) = if bracket.left {
                (self.start + near, self.start + far)
            } else {
                (self.finish - far, self.finish - near)
            };
            let (seen_from, seen_to) = self.seen(course.half);
            let (a, b) = (a.max(seen_from), b.min(seen_to));
            let top = f64::midpoint(course.low, course.high);
            board.show("bracket", &self.panel().id);
            board.rectangle(Layer::Bracket, plane::point(a, course.low), plane::point(b, top));
            board.show("screw", &self.panel().id);
            for hole in bracket.holes.iter().filter(|h| self.x(**h) - arm > a && self.x(**h) + arm < b) {
                cross(board, Layer::Screw, plane::point(self.x(*hole), f64::midpoint(course.low, top)), arm);
            }
        }
    }

    /// Screws that stand upright in the members: axes of the balusters' and the cap's.
    fn screws(&self, board: &mut Board) {
        for course in &self.courses {
            let member = self.layout.system.member(course.role);
            let into_balusters = member.and_then(|m| m.baluster_holes.as_ref()).is_some_and(|h| h.screw.is_some());
            let into_cap = self.carries_cap(course.role);
            board.show("screw", &self.panel().id);
            if into_balusters {
                for mark in &self.panel().balusters.marks {
                    self.upright(board, Layer::Hole, *mark, course.low, course.high);
                }
            }
            if into_cap {
                for mark in &self.panel().cap_screws {
                    self.upright(board, Layer::Screw, *mark, course.low, course.high);
                    cross(board, Layer::Screw, plane::point(self.x(*mark), course.low), board.mm(0.45));
                }
            }
        }
    }

    fn upright(&self, board: &mut Board, layer: Layer, mark: Length, low: f64, high: f64) {
        let x = self.x(mark);
        board.patterned(layer, Linetype::Continuous, vec![plane::point(x, low), plane::point(x, high)], false);
    }

    /// Whether the cap is screwed on through this member: the highest one under the cap.
    pub(super) fn carries_cap(&self, role: MemberRole) -> bool {
        let below = self.courses.iter().rev().find(|c| c.role != MemberRole::Cap);
        !self.panel().cap_screws.is_empty() && below.is_some_and(|c| c.role == role)
    }

    /// End gaps, rail length and clear span below the deck. Gives the lowest y used.
    fn lengths(&self, board: &mut Board) -> f64 {
        let panel = self.panel();
        let half = self.layout.system.baluster.width.millimetres() / 2.0;
        let marks = &panel.balusters.marks;
        let line = |board: &Board, row: f64, from: f64, to: f64, length: Length| Linear {
            from: plane::point(from, 0.0),
            to: plane::point(to, 0.0),
            side: plane::point(0.0, -1.0),
            clear: board.mm(BELOW_DECK_MM),
            offset: board.mm(FIRST_ROW_MM + row * ROW_MM),
            text: self.layout.measure.mark_text(length),
        };
        board.show("dimension", &panel.id);
        let (mut between, mut rows) = ((0.0, self.clear()), 0.0);
        if let (Some(first), Some(last)) = (marks.first(), marks.last()) {
            between = (self.x(*first) - half, self.x(*last) + half);
            let left = line(board, 0.0, 0.0, between.0, panel.balusters.end_gap_left);
            let right = line(board, 0.0, between.1, self.clear(), panel.balusters.end_gap_right);
            for built in [left.build(board, TextPlace::Before), right.build(board, TextPlace::After)] {
                board.dimension(built);
            }
            rows = 1.0;
        }
        line(board, rows, 0.0, self.clear(), panel.span).draw(board, TextPlace::After);
        // The rail ends a clearance inside the faces: its extension lines are kept short, or they would run into those
        // of the clear span.
        let rail = line(board, rows + 1.0, self.start, self.finish, panel.length);
        Linear { clear: rail.offset - board.mm(3.0), ..rail }.draw(board, TextPlace::After);
        let note = self.spacing_note();
        let fits = text::width(&note, board.height(), false) + board.mm(4.0) < between.1 - between.0;
        let lowest = -board.mm(FIRST_ROW_MM + (rows + 1.0) * ROW_MM);
        if fits {
            let y = -board.mm(FIRST_ROW_MM) + board.height() * 0.5;
            board.write(plane::point(f64::midpoint(between.0, between.1), y), MIDDLE, &note);
            return lowest;
        }
        let y = lowest - board.mm(3.0) - board.height();
        board.write(plane::point(0.0, y), BASE_LEFT, &note);
        y
    }

    fn spacing_note(&self) -> String {
        let b = &self.panel().balusters;
        let m = &self.layout.measure;
        let count = b.marks.len();
        let plural = if count == 1 { "" } else { "s" };
        let widest = m.mark_text(b.widest_gap);
        match b.style {
            _ if count == 0 => "No balusters".to_owned(),
            BalusterStyle::Centred => {
                format!("{count} baluster{plural} at {} on centre, widest gap {widest}", m.mark_text(b.spacing))
            }
            BalusterStyle::Even => format!("{count} baluster{plural}, equal gaps, widest gap {widest}"),
            BalusterStyle::Punched => {
                format!(
                    "{count} baluster{plural} in punched holes at {} on centre, widest gap {widest}",
                    m.mark_text(b.spacing)
                )
            }
        }
    }

    /// Bottom gap, baluster length and height of the guard, left of the panel.
    fn heights(&self, board: &mut Board) {
        let panel = self.panel();
        let x = self.outer().0;
        // Clear of the end gap's text, which stands left of the left face.
        let push = board.mm(FIRST_ROW_MM) + (x + board.mm(9.0)).max(0.0);
        let line = |board: &Board, row: f64, low: f64, high: f64, length: Length| Linear {
            from: plane::point(x, low),
            to: plane::point(x, high),
            side: plane::point(-1.0, 0.0),
            clear: board.mm(1.2),
            offset: push + board.mm(row * ROW_MM),
            text: self.layout.measure.mark_text(length),
        };
        let gap = line(board, 0.0, 0.0, panel.bottom_gap.millimetres(), panel.bottom_gap);
        gap.draw(board, TextPlace::Before);
        line(board, 0.0, self.infill.0, self.infill.1, panel.balusters.length).draw(board, TextPlace::Beyond(0.0));
        line(board, 1.0, 0.0, panel.height.millimetres(), panel.height).draw(board, TextPlace::Beyond(0.0));
    }

    /// Running marks of the balusters, over the panel.
    fn running(&self, board: &mut Board) {
        let panel = self.panel();
        let m = &self.layout.measure;
        let ends = [Length::ZERO, panel.length];
        let mut marks: Vec<Length> = panel.balusters.marks.iter().copied().chain(ends).collect();
        marks.sort_unstable();
        let base = panel.height.millimetres() + board.mm(BAND_MM);
        board.show("mark", &panel.id);
        let places = marks.iter().map(|mark| (self.x(*mark), m.mark_text(*mark))).collect();
        let top =
            running::draw(board, &Running { base, up: true, marks: places, rule: Some((self.start, self.finish)) });
        let heading = "Baluster centres, from the left rail end";
        board.write(plane::point(self.start, top + board.mm(2.2)), BASE_LEFT, heading);
    }

    /// Names and sections of the members, right of the panel.
    fn names(&self, board: &mut Board) {
        let m = &self.layout.measure;
        let mut labels: Vec<(f64, String)> = Vec::new();
        for course in &self.courses {
            let Some(member) = self.layout.system.member(course.role) else { continue };
            let name = format!(
                "{} {} x {}",
                member_name(course.role),
                size_text(m, member.width),
                size_text(m, member.height)
            );
            labels.push((f64::midpoint(course.low, course.high), name));
        }
        let b = &self.layout.system.baluster;
        let shape = match b.section {
            Section::Round => "round",
            Section::Square => "square",
        };
        labels
            .push((f64::midpoint(self.infill.0, self.infill.1), format!("Baluster {} {shape}", size_text(m, b.width))));
        labels.sort_by(|a, b| a.0.total_cmp(&b.0));
        let wanted: Vec<f64> = labels.iter().map(|l| l.0).collect();
        let x = self.outer().1;
        let knee = |mm: f64, y: f64| plane::point(x + board.mm(mm), y);
        let placed: Vec<(Vec<Point>, Point)> = wanted
            .iter()
            .zip(spread(&wanted, board.height() * 1.6))
            .map(|(y, at)| (vec![knee(1.2, *y), knee(3.5, *y), knee(7.0, at), knee(8.5, at)], knee(9.3, at)))
            .collect();
        board.show("member", &self.panel().id);
        for ((leader, at), (_, name)) in placed.into_iter().zip(&labels) {
            board.path(Layer::Dims, leader, false);
            board.write(at, MIDDLE_LEFT, name);
        }
    }

    /// Lengths on the centre line, members of one length together.
    fn member_lengths(&self) -> String {
        let mut groups: Vec<(Length, Vec<String>)> = Vec::new();
        for cut in &self.panel().cuts {
            let name = member_name(cut.member).to_lowercase();
            match groups.iter_mut().find(|g| g.0 == cut.length) {
                Some((_, names)) => names.push(name),
                None => groups.push((cut.length, vec![name])),
            }
        }
        let m = &self.layout.measure;
        let texts: Vec<String> =
            groups.iter().map(|(l, names)| format!("{} {}", names.join(", "), m.mark_text(*l))).collect();
        format!("Cut on the centre line: {}", texts.join("; "))
    }

    /// Title and facts over everything drawn.
    fn title(&self, board: &mut Board, scale: &str) {
        let panel = self.panel();
        let m = &self.layout.measure;
        let span = &self.at.span;
        let (from, to) = (support_name(self.layout, span.from), support_name(self.layout, span.to));
        let kit = self.at.kit.as_ref().map_or(String::new(), |k| format!(" From: {k}."));
        let facts = [
            format!(
                "From {from} to {to}. Clear span {}. Scale {scale}. Seen from the deck, looking out.",
                m.text(panel.span)
            ),
            format!("{}.{kit}", self.member_lengths()),
        ];
        let Some((low, high)) = board.bounds() else { return };
        let line = board.height() * 1.7;
        let mut at = plane::point(low.x, high.y + board.mm(7.0) + line);
        board.show_nothing();
        for fact in facts.iter().rev() {
            board.write(at, BASE_LEFT, fact);
            at.y += line;
        }
        at.y += board.mm(1.0);
        let wide = facts.iter().map(|f| text::width(f, board.height(), false)).fold(0.0, f64::max);
        board.rule(at, wide.max(high.x - low.x), 0.5);
        at.y += board.mm(1.8);
        board.heading(at, 1.7, &format!("Panel {}", panel.id));
    }
}

/// A small upright-slanted cross.
pub(super) fn cross(board: &mut Board, layer: Layer, at: Point, arm: f64) {
    let (a, b) = (plane::point(arm, arm), plane::point(arm, -arm));
    board.line(layer, at - a, at + a);
    board.line(layer, at - b, at + b);
}
