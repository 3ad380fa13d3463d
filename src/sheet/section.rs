//! The typical section: one panel cut across, seen along the rail with the deck on the left, the post beyond it. Origin on
//! the rail's centre line at the deck's level (on a stair at the nosing line), x away from the deck, y up.

use crate::base::{Length, Point, decimal, plane};
use crate::catalog::{InfillSpec, MemberRole};
use crate::guard::Post;
use crate::panel::PanelInfill;
use crate::parts::{Layout, LayoutPanel};

use super::board::{BASE_LEFT, Board, MIDDLE_LEFT};
use super::dimension::{Linear, TextPlace, spread};
use super::elevation::{FIRST_ROW_MM, NOTES_MM, ROW_MM};
use super::plan::post_at;
use super::rails::{Rails, member_name};
use super::running::{self, Running};
use super::text::{self, size_text};
use super::{Alike, Drawing, Layer, Linetype, alike, caution, scale};

/// How far the deck is drawn behind the rail, and its edge down, paper mm.
const DECK_MM: f64 = 16.0;
const EDGE_MM: f64 = 7.0;
/// Strokes of cut members and of the deck: distance, length under the deck, paper mm.
const HATCH_MM: f64 = 1.3;
const STROKE_MM: f64 = 2.2;
/// From the outermost line on the right to the names, paper mm.
const NAMES_MM: f64 = 7.0;

/// A section on its board.
struct Section<'a> {
    rails: Rails<'a>,
    /// What plumb heights are multiplied by: the cosine of the slope where the cut is square to it.
    share: f64,
    /// From the rail's centre line to the deck's edge, where it is known and there is a deck.
    inset: Option<Length>,
    /// Group of the panel.
    group: Alike,
}

/// A section through the first level panel, or where all are raked, square to the slope through the first of them. Where
/// the layout does not know its inset, the deck's edge is not dimensioned. A layout without panels gives a drawing that says so.
pub fn section(layout: &Layout) -> Drawing {
    const NAME: &str = "section";
    const TITLE: &str = "Typical section";
    let groups = alike(layout);
    let level = |group: &&Alike| group.first(layout).is_some_and(|at| at.panel.rake.is_none());
    let chosen = groups.iter().find(level).or(groups.first());
    let found = chosen.and_then(|group| group.first(layout).map(|at| (group, at)));
    let Some((group, at)) = found else {
        let mut board = Board::new(
            scale::of_section(1.0, layout.paper(), &layout.measure).paper,
            scale::text_height(&layout.measure),
        );
        board.write(plane::point(0.0, 0.0), BASE_LEFT, "There is no panel to show.");
        board.part(0, None);
        return board.finish(NAME, TITLE.to_owned(), None);
    };
    let scale = scale::of_section(at.panel.height.millimetres(), layout.paper(), &layout.measure);
    let mut board = Board::new(scale.paper, scale::text_height(&layout.measure));
    let view = Section::new(layout, group, at);
    view.ground(&mut board);
    let beside = view.post(&mut board) + board.mm(NAMES_MM);
    view.members(&mut board);
    view.infill(&mut board);
    view.block(&mut board);
    view.names(&mut board, beside);
    view.heights(&mut board);
    let lowest = view.widths(&mut board);
    view.notes(&mut board, lowest);
    view.title(&mut board, scale.text);
    board.part(0, None);
    caution::below(&mut board);
    board.finish(NAME, TITLE.to_owned(), None)
}

impl<'a> Section<'a> {
    fn new(layout: &'a Layout, group: &Alike, at: &'a LayoutPanel) -> Self {
        let share = at.panel.rake.map_or(1.0, |rake| rake.pitch.angle().cos());
        let inset = Some(layout.inset).filter(|_| at.panel.rake.is_none());
        Self { rails: Rails::new(layout, at), share, inset, group: group.clone() }
    }

    fn layout(&self) -> &'a Layout {
        self.rails.layout
    }

    fn is_raked(&self) -> bool {
        self.rails.panel().rake.is_some()
    }

    /// Height in the section of a plumb one.
    fn y(&self, plumb: f64) -> f64 {
        plumb * self.share
    }

    fn widest(&self) -> f64 {
        self.rails.courses.iter().map(|c| c.half).fold(0.0, f64::max)
    }

    /// The deck with its edge; on a stair the line through the nosings.
    fn ground(&self, board: &mut Board) {
        let half = self.layout().system.post.side.millimetres() / 2.0;
        let left = -half.max(self.widest()) - board.mm(DECK_MM);
        if self.is_raked() {
            let line = vec![plane::point(left, 0.0), plane::point(-left, 0.0)];
            board.show("nosings", "section");
            board.patterned(Layer::Line, Linetype::Hidden, line, false);
            return;
        }
        let edge = self.inset.map_or(-left, Length::millimetres);
        board.show("deck", "section");
        board.line(Layer::Panel, plane::point(left, 0.0), plane::point(edge, 0.0));
        if self.inset.is_some() {
            board.line(Layer::Panel, plane::point(edge, 0.0), plane::point(edge, -board.mm(EDGE_MM)));
        }
        let (length, step) = (board.mm(STROKE_MM), board.mm(HATCH_MM * 1.6));
        let mut x = left + length;
        while x <= edge - step / 4.0 {
            let top = plane::point(x, 0.0);
            board.line(Layer::Sheet, top, top - plane::point(length, length));
            x += step;
        }
    }

    /// The post beyond; a plumb one would be cut at a slant by a section square to a slope, and is left out.
    fn beyond(&self) -> Option<&'a Post> {
        let span = &self.rails.at.span;
        let post = post_at(self.layout(), span.from).or_else(|| post_at(self.layout(), span.to));
        post.filter(|_| !self.is_raked())
    }

    /// The post beyond, in outline. Gives how far things reach to the right.
    fn post(&self, board: &mut Board) -> f64 {
        let Some(post) = self.beyond() else { return self.widest() };
        let (half, top) = (post.side.millimetres() / 2.0, post.height.millimetres());
        board.show("post", &post.id);
        let corners = [(-half, 0.0), (-half, top), (half, top), (half, 0.0)];
        board.path(Layer::Sheet, corners.map(|(x, y)| plane::point(x, y)).to_vec(), false);
        half.max(self.widest())
    }

    fn members(&self, board: &mut Board) {
        for course in &self.rails.courses {
            board.show("member", member_name(course.role));
            let low = plane::point(-course.half, self.y(course.low));
            let high = plane::point(course.half, self.y(course.high));
            hatch(board, low, high);
            board.rectangle(Layer::Panel, low, high);
        }
    }

    /// A baluster, cables with their slat, or a frame.
    fn infill(&self, board: &mut Board) {
        let system = &self.layout().system;
        let (low, high) = (self.y(self.rails.infill.0), self.y(self.rails.infill.1));
        let upright = |board: &mut Board, width: Length, from: f64, to: f64| {
            let half = width.millimetres() / 2.0;
            board.rectangle(Layer::Baluster, plane::point(-half, from), plane::point(half, to));
        };
        match (&self.rails.panel().infill, system.infill()) {
            (PanelInfill::Balusters, Some(InfillSpec::Balusters(spec))) => {
                board.show("baluster", "section");
                upright(board, spec.width, low, high);
            }
            (PanelInfill::Cables(run), Some(InfillSpec::Cables(spec))) => {
                board.show("cable", "section");
                for height in &run.heights {
                    let centre = plane::point(0.0, self.y(height.millimetres()));
                    board.circle(Layer::Baluster, centre, (spec.diameter.millimetres() / 2.0).max(board.mm(0.3)));
                }
            }
            (PanelInfill::Frames(row), Some(InfillSpec::Frames(spec))) => {
                board.show("frame", "section");
                let gap = (high - low - self.y(row.height.millimetres())) / 2.0;
                upright(board, spec.thickness, low + gap, high - gap);
            }
            _ => {}
        }
        board.show("axis", "section");
        let over = board.mm(3.0);
        let top = self.rails.courses.last().map_or(high, |c| self.y(c.high));
        board.line(Layer::Line, plane::point(0.0, -over), plane::point(0.0, top + over));
    }

    /// The support block under the lowest member, as wide as that; its own width across the rail is not known.
    fn block(&self, board: &mut Board) {
        let Some(lowest) = self.rails.courses.first().filter(|_| self.has_block()) else { return };
        board.show("block", "section");
        let half = lowest.half;
        board.rectangle(Layer::Block, plane::point(-half, 0.0), plane::point(half, self.y(lowest.low)));
    }

    fn has_block(&self) -> bool {
        self.layout().system.blocks.is_some() && !self.rails.panel().blocks.is_empty() && !self.is_raked()
    }

    /// What the things are, from low to high: where a leader points, and the words.
    fn named(&self) -> Vec<(Point, String)> {
        let system = &self.layout().system;
        let m = &self.layout().measure;
        let mut names: Vec<(Point, String)> = Vec::new();
        for course in &self.rails.courses {
            let Some(member) = system.member(course.role) else { continue };
            let at = plane::point(course.half, self.y(f64::midpoint(course.low, course.high)));
            let size = format!("{} x {}", size_text(m, member.width), size_text(m, member.height));
            names.push((at, format!("{} {size}", member_name(course.role))));
        }
        let (low, high) = self.rails.infill;
        let half = match system.infill() {
            Some(InfillSpec::Balusters(b)) => b.width.millimetres() / 2.0,
            Some(InfillSpec::Frames(f)) => f.thickness.millimetres() / 2.0,
            _ => 0.0,
        };
        let share = self.rails.between_cables(low + (high - low) * 0.5);
        let middle = match self.rails.panel().infill.cables() {
            // At a cable, not between two.
            Some(run) => run.heights.get(run.heights.len() / 2).map_or(share, |h| h.millimetres()),
            None => share,
        };
        names.push((plane::point(half, self.y(middle)), self.rails.infill_name()));
        if let Some(lowest) = self.rails.courses.first().filter(|_| self.has_block()) {
            names.push((plane::point(lowest.half, self.y(lowest.low) / 2.0), "Support block".to_owned()));
        }
        if let Some(post) = self.beyond() {
            let at = plane::point(post.side.millimetres() / 2.0, self.y(low + (high - low) * 0.75));
            names.push((at, format!("Post {} beyond", size_text(m, post.side))));
        }
        names.sort_by(|a, b| a.0.y.total_cmp(&b.0.y));
        names
    }

    fn names(&self, board: &mut Board, x: f64) {
        let names = self.named();
        let wanted: Vec<f64> = names.iter().map(|n| n.0.y).collect();
        let places = spread(&wanted, board.height() * 1.7);
        board.show("name", "section");
        for ((at, name), y) in names.iter().zip(places) {
            let leader = vec![*at, plane::point(x - board.mm(2.0), y), plane::point(x, y)];
            board.path(Layer::Dims, leader, false);
            board.circle(Layer::Dims, *at, board.mm(0.35));
            board.write(plane::point(x + board.mm(0.9), y), MIDDLE_LEFT, name);
        }
    }

    /// Gap, height between the rails and height of the guard on the deck's side, and all heights as running marks.
    fn heights(&self, board: &mut Board) {
        let panel = self.rails.panel();
        let m = &self.layout().measure;
        let half = self.layout().system.post.side.millimetres() / 2.0;
        let x = -self.widest().max(half);
        let exact = |mm: f64| m.mark_text(Length::from_millimetres(mm).unwrap_or_default());
        let line = |board: &Board, row: f64, low: f64, high: f64| Linear {
            from: plane::point(x, self.y(low)),
            to: plane::point(x, self.y(high)),
            side: plane::point(-1.0, 0.0),
            clear: board.mm(1.2),
            offset: board.mm(FIRST_ROW_MM + row * ROW_MM),
            text: exact(self.y(high) - self.y(low)),
        };
        board.show("dimension", "section");
        let gap = panel.bottom_gap.millimetres();
        if gap > 0.0 {
            line(board, 0.0, 0.0, gap).draw(board, TextPlace::Beyond(0.0));
        }
        line(board, 0.0, self.rails.infill.0, self.rails.infill.1).draw(board, TextPlace::Beyond(0.0));
        line(board, 1.0, 0.0, panel.height.millimetres()).draw(board, TextPlace::Beyond(0.0));
        let courses = self.rails.courses.iter().flat_map(|c| [c.low, c.high]);
        let cables = panel.infill.cables().map_or(Vec::new(), |run| run.heights.clone());
        let mut all: Vec<f64> = courses.chain(cables.iter().map(|h| h.millimetres())).chain([0.0]).collect();
        all.sort_by(f64::total_cmp);
        all.dedup_by(|a, b| (*a - *b).abs() < 1e-4);
        let marks: Vec<(f64, String)> = all.into_iter().map(|h| (self.y(h), exact(self.y(h)))).collect();
        let top = marks.last().map_or(0.0, |mark| mark.0);
        let base = -x + board.mm(FIRST_ROW_MM + ROW_MM) + board.height() + board.mm(4.0);
        let origin = plane::point(0.0, 0.0);
        board.show("mark", "section");
        let row = Running { origin, along: plane::point(0.0, 1.0), base, up: true, marks, rule: Some((0.0, top)) };
        running::draw(board, &row);
    }

    /// The post's side and the way to the deck's edge, under it. Gives the lowest y used.
    fn widths(&self, board: &mut Board) -> f64 {
        let m = &self.layout().measure;
        let line = |board: &Board, row: f64, from: f64, to: f64, length: Length| Linear {
            from: plane::point(from, 0.0),
            to: plane::point(to, 0.0),
            side: plane::point(0.0, -1.0),
            clear: board.mm(EDGE_MM + 1.2),
            offset: board.mm(EDGE_MM + FIRST_ROW_MM + row * ROW_MM),
            text: m.mark_text(length),
        };
        board.show("dimension", "section");
        let mut rows = 0.0;
        if let Some(inset) = self.inset.filter(|inset| *inset > Length::ZERO) {
            line(board, rows, 0.0, inset.millimetres(), inset).draw(board, TextPlace::After);
            rows += 1.0;
        }
        if let Some(post) = self.beyond() {
            let half = post.side.millimetres() / 2.0;
            line(board, rows, -half, half, post.side).draw(board, TextPlace::After);
            rows += 1.0;
        }
        -board.mm(EDGE_MM + FIRST_ROW_MM + rows * ROW_MM)
    }

    fn notes(&self, board: &mut Board, lowest: f64) {
        let (height, room) = (board.height(), board.mm(NOTES_MM));
        let x = board.bounds().map_or(0.0, |(low, _)| low.x);
        let mut y = lowest;
        board.show("notes", "section");
        for line in self.lines().iter().flat_map(|l| text::wrap(l, height, room)) {
            y -= height * 1.7;
            board.write(plane::point(x, y), BASE_LEFT, &line);
        }
    }

    /// Fasteners as far as they are known, and what the section cannot say by itself.
    fn lines(&self) -> Vec<String> {
        let system = &self.layout().system;
        let m = &self.layout().measure;
        let mut lines = vec!["On the left: all heights from the same level.".to_owned()];
        if self.is_raked() {
            lines = vec![format!("All heights here are square to the slope; {}", self.plumb())];
        }
        let with = |what: &str, screw: Option<&String>, pilot: Length| {
            screw.map(|screw| format!("{what} {screw}, pilot {}", size_text(m, pilot)))
        };
        let mut screws = Vec::new();
        for role in [MemberRole::BottomRail, MemberRole::TopRail] {
            let holes = system.member(role).and_then(|member| member.baluster_holes.as_ref());
            let what = format!("{} to balusters", member_name(role).to_lowercase());
            screws.extend(holes.and_then(|f| with(&what, f.screw.as_ref(), f.pilot)));
        }
        if let Some(cap) = &system.cap_screws {
            let screw = if self.is_raked() { &cap.raked_screw } else { &cap.level_screw };
            screws.extend(with("cap", Some(screw), cap.pilot));
        }
        if let Some(blocks) = system.blocks.as_ref().filter(|_| self.has_block()) {
            screws.extend(with("support block", blocks.fastener.screw.as_ref(), blocks.fastener.pilot));
        }
        screws.extend(with("brackets to rail", system.bracket.fastener.screw.as_ref(), system.bracket.fastener.pilot));
        if !screws.is_empty() {
            lines.push(format!("Screws: {}.", screws.join("; ")));
        }
        lines
    }

    fn plumb(&self) -> String {
        let panel = self.rails.panel();
        let m = &self.layout().measure;
        let angle = panel.rake.map_or(0.0, |rake| rake.pitch.angle().degrees());
        format!(
            "the slope is {}\u{b0}, and plumb above the nosing line the rail is {} high with a gap of {} beneath.",
            decimal(angle, 1),
            m.mark_text(panel.height),
            m.mark_text(panel.bottom_gap)
        )
    }

    fn title(&self, board: &mut Board, scale: &str) {
        let Some((low, high)) = board.bounds() else { return };
        let line = board.height() * 1.7;
        let through = if self.is_raked() { "raked panel" } else { "panel" };
        let how = if self.is_raked() { "square to the slope, seen along it" } else { "seen along the rail" };
        let facts = [
            format!("Through {through} {}, {how}, the deck on the left.", self.group.text()),
            format!("{}. Scale {scale}.", self.layout().system.title),
        ];
        let mut at = plane::point(low.x, high.y + board.mm(6.0) + line);
        board.show("title", "section");
        let room = (high.x - low.x).max(board.mm(NOTES_MM));
        let lines: Vec<String> = facts.iter().flat_map(|f| text::wrap(f, board.height(), room)).collect();
        for fact in lines.iter().rev() {
            board.write(at, BASE_LEFT, fact);
            at.y += line;
        }
        at.y += board.mm(1.0);
        board.rule(at, room, 0.5);
        at.y += board.mm(1.8);
        board.heading(at, 1.7, "Typical section");
        board.show_nothing();
    }
}

/// Strokes at 45 degrees over a rectangle: what is cut.
fn hatch(board: &mut Board, low: Point, high: Point) {
    let step = board.mm(HATCH_MM) * std::f64::consts::SQRT_2;
    let size = high - low;
    let mut off = step / 2.0 - size.y;
    while step > 0.0 && off < size.x {
        // The line x - y = off, as far as it lies within.
        let a = plane::point(off.max(0.0), (-off).max(0.0));
        let long = (size.x - a.x).min(size.y - a.y);
        if long > 0.0 {
            board.line(Layer::Sheet, low + a, low + a + plane::point(long, long));
        }
        off += step;
    }
}

#[cfg(test)]
mod tests {
    use super::super::sample::{INCH, METAL, METRIC, TEST_RAIL, l_shape};
    use super::super::{Item, Shape, sample_stairs};
    use super::*;

    fn said(drawing: &Drawing) -> Vec<String> {
        drawing.items.iter().flat_map(Item::texts).map(|text| text.content).collect()
    }

    fn members(drawing: &Drawing) -> Vec<(f64, f64)> {
        let corners = |i: &Item| match &i.shape {
            Shape::Path { points, closed: true, .. } if i.layer == Layer::Panel => Some((points[0].y, points[2].y)),
            _ => None,
        };
        drawing.items.iter().filter_map(corners).collect()
    }

    /// 3 in of gap, 3/4, 1-1/4, 29 in of balusters, 1-1/4 and 3/4 make 36 in (closed).
    #[test]
    fn heights_widths_and_names_are_those_of_the_panel() {
        let layout = l_shape(TEST_RAIL, INCH);
        let drawing = section(&Layout { inset: Length::INCH * 4, ..layout });
        assert_eq!((drawing.paper, drawing.name.as_str()), (8.0, "section"));
        let said = said(&drawing);
        for text in ["3\"", "29\"", "36\"", "35-1/4\"", "4\"", "5\"", "Cap 2-1/2\" x 3/4\"", "Support block"] {
            assert!(said.iter().any(|t| t == text), "{text} in {said:?}");
        }
        let wanted = [(3.0, 3.75), (3.75, 5.0), (34.0, 35.25), (35.25, 36.0)];
        let drawn = members(&drawing);
        assert_eq!(drawn.len(), wanted.len());
        for (a, b) in drawn.iter().zip(wanted) {
            assert!((a.0 / 25.4 - b.0).abs() + (a.1 / 25.4 - b.1).abs() < 1e-9, "{drawn:?}");
        }
        let together = said.join(" ");
        for words in ["#7 x 2-1/2 in, pilot 5/32\"", "cap #7 x 1-3/4 in", "Through panel S1"] {
            assert!(together.contains(words), "{words}");
        }
        assert_eq!(section(&l_shape(METAL, METRIC)).paper, 10.0);
    }

    /// At 7.5 on 10 the cosine is 0.8: 36 in plumb are 28.8 square to the slope (closed), members their own thickness.
    #[test]
    fn where_all_panels_are_raked_the_section_is_square_to_the_slope_and_says_so() {
        let layout = &sample_stairs::all()[0];
        let drawing = section(&Layout { inset: Length::INCH * 4, ..layout.clone() });
        let drawn = members(&drawing);
        assert!((drawn[drawn.len() - 1].1 / 25.4 - 28.8).abs() < 1e-6, "{drawn:?}");
        assert!((drawn[0].1 - drawn[0].0 - 0.75 * 25.4).abs() < 1e-6);
        let together = said(&drawing).join(" ");
        for words in ["square to the slope", "36.9\u{b0}", "36\" high"] {
            assert!(together.contains(words), "{words} in {together}");
        }
        assert!(!together.contains("Post "), "a plumb post is not in it");
    }

    #[test]
    fn without_panels_it_says_so() {
        let layout = Layout { panels: Vec::new(), ..l_shape(TEST_RAIL, INCH) };
        assert!(said(&section(&layout)).join(" ").contains("no panel"));
    }
}
