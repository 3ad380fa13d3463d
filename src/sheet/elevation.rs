//! One panel as seen from the deck, looking out: members, infill, hardware, dimensions and running marks; its drilling
//! views below. Origin at the left face on the deck's level, x to the right along the rail, y up.

use crate::base::{Length, Point, plane};
use crate::panel::Panel;
use crate::parts::{Layout, LayoutPanel};

use super::board::{BASE_LEFT, Board, MIDDLE};
use super::caution;
use super::dimension::{Linear, TextPlace};
use super::infill::Place;
use super::rails::Rails;
use super::room::Blank;
use super::running::{self, Running};
use super::scale::Scale;
use super::support::{End, Outside, Standing, support_name};
use super::{Drawing, Layer, Linetype, drilling, raked, raked_dims, scale, text};

/// Rows of dimensions below the deck and beside the posts, paper mm.
pub(super) const FIRST_ROW_MM: f64 = 8.0;
pub(super) const ROW_MM: f64 = 7.0;
/// Where extension lines start below the deck, paper mm.
pub(super) const BELOW_DECK_MM: f64 = 3.6;
/// How far a post is drawn above the rail, paper mm.
const ABOVE_MM: f64 = 2.2;
/// Running marks above the panel's top, paper mm.
const BAND_MM: f64 = 4.0;
/// Lines of notes are at least this wide before they wrap, paper mm.
pub(super) const NOTES_MM: f64 = 150.0;

/// A panel on its board.
struct View<'a> {
    rails: Rails<'a>,
    /// x of the rail's right end on the centre line.
    finish: f64,
    /// Supports.
    ends: [Outside; 2],
}

/// A panel's elevation with its drilling views; raked where the panel is. At the largest scale at which its parts fit the
/// layout's paper, the usual one to begin with.
pub fn elevation(layout: &Layout, at: &LayoutPanel) -> Drawing {
    let rooms = Blank::both(layout.paper()).map(Blank::detail_room);
    let fits = |drawing: &Drawing| {
        let sizes = || drawing.parts.iter().map(|(low, high)| (*high - *low) / drawing.paper);
        rooms.iter().any(|room| sizes().all(|size| size.x <= room.x && size.y <= room.y))
    };
    let closest = closest_marks(layout, at);
    let usual = scale::text_height(&layout.measure) * running::GAP;
    let mut scales = scale::of_details(closest, usual, &layout.measure).into_iter();
    let draw = |scale: Scale| at_scale(layout, at, closest, scale);
    let mut drawing = scales.next().map(draw);
    while let Some(next) = scales.next().filter(|_| drawing.as_ref().is_some_and(|d| !fits(d))) {
        drawing = Some(draw(next));
    }
    drawing.unwrap_or_else(|| draw(scale::usual_detail(&layout.measure)))
}

fn at_scale(layout: &Layout, at: &LayoutPanel, closest: f64, scale: Scale) -> Drawing {
    let usual = scale::text_height(&layout.measure);
    let text_mm = (closest / scale.paper / running::GAP).clamp(scale::LEAST_TEXT_MM, usual);
    let board = Board::new(scale.paper, text_mm);
    match at.panel.rake {
        Some(rake) => raked::elevation(board, layout, at, rake, scale),
        None => level(board, layout, at, scale),
    }
}

fn level(mut board: Board, layout: &Layout, at: &LayoutPanel, scale: Scale) -> Drawing {
    let panel = &at.panel;
    let view = View::new(layout, at, &board);
    board.show("panel", &panel.id);
    view.deck(&mut board);
    view.supports(&mut board);
    view.members(&mut board);
    view.infill(&mut board);
    view.place(&mut |place| place.draw(&mut board));
    view.blocks(&mut board);
    view.brackets(&mut board);
    view.screws(&mut board);
    let lowest = view.lengths(&mut board);
    view.heights(&mut board);
    view.running(&mut board);
    view.rails.names(&mut board, view.outer().1, 0.0);
    board.part(0, None);
    let drawn = board.count();
    let lowest = view.notes(&mut board, lowest);
    board.part(drawn, None);
    let below = lowest - board.mm(10.0);
    drilling::views(&mut board, &view.rails, below);
    view.rails.title(&mut board, &facts(layout, at, scale.text));
    board.show_nothing();
    caution::below(&mut board);
    board.finish(&panel.id, format!("Panel {}", panel.id), None)
}

/// Level distance of the two running marks that are next to each other, mm; infinite where there are none.
fn closest_marks(layout: &Layout, at: &LayoutPanel) -> f64 {
    let rails = Rails::new(layout, at);
    let (marks, _) = rails.row_marks();
    let marks = marks.iter().map(|mark| at.panel.level_mark(*mark));
    let steps = marks.clone().zip(marks.skip(1)).map(|(a, b)| (b - a).millimetres());
    steps.fold(f64::INFINITY, f64::min)
}

impl<'a> View<'a> {
    fn new(layout: &'a Layout, at: &'a LayoutPanel, board: &Board) -> Self {
        let rails = Rails::new(layout, at);
        let finish = rails.finish();
        Self { rails, finish, ends: [End::Left, End::Right].map(|end| Outside::new(layout, at, end, board)) }
    }

    fn panel(&self) -> &'a Panel {
        self.rails.panel()
    }

    fn x(&self, mark: Length) -> f64 {
        self.rails.along(mark)
    }

    fn supports(&self, board: &mut Board) {
        let height = self.panel().height.millimetres();
        let standing = Standing {
            bottom: &|_| 0.0,
            top: height + board.mm(ABOVE_MM),
            open: (false, true),
            hides: &|_| self.rails.courses.iter().map(|c| (c.low, c.high)).collect(),
            label: None,
            label_at: self.rails.between_cables(height * 0.55),
        };
        for end in &self.ends {
            end.draw(board, &standing);
        }
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
        let span = &self.rails.at.span;
        let [left, right] = &self.ends;
        let from = self.rails.start + half * span.skew_left.tan();
        let to = self.finish - half * span.skew_right.tan();
        (left.cover.map_or(from, |c| from.max(c)), right.cover.map_or(to, |c| to.min(c)))
    }

    fn members(&self, board: &mut Board) {
        for course in &self.rails.courses {
            let (from, to) = self.seen(course.half);
            board.rectangle(Layer::Panel, plane::point(from, course.low), plane::point(to, course.high));
        }
    }

    fn infill(&self, board: &mut Board) {
        let half = self.rails.layout.system.baluster_width().millimetres() / 2.0;
        board.show("baluster", &self.panel().id);
        for mark in &self.panel().balusters.marks {
            let x = self.x(*mark);
            let (low, high) =
                (plane::point(x - half, self.rails.infill.0), plane::point(x + half, self.rails.infill.1));
            board.rectangle(Layer::Baluster, low, high);
        }
    }

    fn blocks(&self, board: &mut Board) {
        let Some(spec) = &self.rails.layout.system.blocks else { return };
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
        let spec = &self.rails.layout.system.bracket;
        let arm = board.mm(0.45);
        for bracket in &self.panel().brackets {
            let Some(course) = self.rails.courses.iter().find(|c| c.role == bracket.member) else { continue };
            let (near, far) = (bracket.setback.millimetres(), spec.reach.millimetres());
            let (a, b) = if bracket.left {
                (self.rails.start + near, self.rails.start + far)
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
        for course in &self.rails.courses {
            board.show("screw", &self.panel().id);
            if self.rails.carries_balusters(course.role) {
                for mark in &self.panel().balusters.marks {
                    self.upright(board, Layer::Hole, *mark, course.low, course.high);
                }
            }
            if self.rails.carries_cap(course.role) {
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

    /// End gaps, rail length and clear span below the deck. Gives the lowest y used.
    fn lengths(&self, board: &mut Board) -> f64 {
        let panel = self.panel();
        let line = |board: &Board, row: f64, from: f64, to: f64, length: Length| Linear {
            from: plane::point(from, 0.0),
            to: plane::point(to, 0.0),
            side: plane::point(0.0, -1.0),
            clear: board.mm(BELOW_DECK_MM),
            offset: board.mm(FIRST_ROW_MM + row * ROW_MM),
            text: self.rails.layout.measure.mark_text(length),
        };
        board.show("dimension", &panel.id);
        let (mut between, mut rows) = ((0.0, self.clear()), 0.0);
        if let Some(uprights) = self.rails.uprights(&|mark| self.x(mark)) {
            between = uprights.between;
            let [at_left, at_right] = uprights.gaps;
            let left = line(board, 0.0, 0.0, between.0, at_left);
            let right = line(board, 0.0, between.1, self.clear(), at_right);
            for built in [left.build(board, TextPlace::Before), right.build(board, TextPlace::After)] {
                board.dimension(built);
            }
            rows = 1.0;
        }
        line(board, rows, 0.0, self.clear(), panel.span).draw(board, TextPlace::After);
        // The rail ends a clearance inside the faces: its extension lines are kept short, or they would run into those
        // of the clear span.
        let rail = line(board, rows + 1.0, self.rails.start, self.finish, panel.length);
        Linear { clear: rail.offset - board.mm(3.0), ..rail }.draw(board, TextPlace::After);
        let note = self.rails.infill_note();
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

    /// What the drawing cannot say of cables and frames. Gives the lowest y used.
    fn notes(&self, board: &mut Board, lowest: f64) -> f64 {
        let lines = self.rails.infill_lines();
        if lines.is_empty() {
            return lowest;
        }
        let (height, room) = (board.height(), self.clear().max(board.mm(NOTES_MM)));
        let mut y = lowest - board.mm(2.5);
        board.show("notes", &self.panel().id);
        for line in lines.iter().flat_map(|l| text::wrap(l, height, room)) {
            y -= height * 1.7;
            board.write(plane::point(0.0, y), BASE_LEFT, &line);
        }
        y
    }

    /// Where cables and frames are placed.
    fn place<T>(&self, then: &mut dyn FnMut(&Place<'_>) -> T) -> T {
        then(&Place { rails: &self.rails, x: &|mark| self.x(mark), at: &plane::point, outer: self.outer() })
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
            text: self.rails.layout.measure.mark_text(length),
        };
        let gap = line(board, 0.0, 0.0, panel.bottom_gap.millimetres(), panel.bottom_gap);
        gap.draw(board, TextPlace::Before);
        line(board, 0.0, self.rails.infill.0, self.rails.infill.1, panel.balusters.length)
            .draw(board, TextPlace::Beyond(0.0));
        line(board, 1.0, 0.0, panel.height.millimetres(), panel.height).draw(board, TextPlace::Beyond(0.0));
        // Beyond the text of the outer dimension.
        let off = push - x + board.mm(ROW_MM) + board.height() + board.mm(4.0);
        self.place(&mut |place| place.holes(board, off));
    }

    /// Running marks of the balusters, over the panel.
    fn running(&self, board: &mut Board) {
        let panel = self.panel();
        let m = &self.rails.layout.measure;
        let ends = [Length::ZERO, panel.length];
        let (own, what) = self.rails.row_marks();
        let mut marks: Vec<Length> = own.iter().copied().chain(ends).collect();
        marks.sort_unstable();
        let base = panel.height.millimetres() + board.mm(BAND_MM);
        board.show("mark", &panel.id);
        let places = marks.iter().map(|mark| (self.x(*mark), m.mark_text(*mark))).collect();
        let row = Running { rule: Some((self.rails.start, self.finish)), ..Running::level(base, true, places) };
        let top = running::draw(board, &row);
        let heading = format!("{what}, from the left rail end");
        board.write(plane::point(self.rails.start, top + board.mm(2.2)), BASE_LEFT, &heading);
    }
}

/// What stands under a panel's title.
pub(super) fn facts(layout: &Layout, at: &LayoutPanel, scale: &str) -> Vec<String> {
    if let Some(rake) = at.panel.rake {
        return raked_dims::facts(layout, at, &rake, scale);
    }
    let span = &at.span;
    let (from, to) = (support_name(layout, span.from), support_name(layout, span.to));
    let clear = layout.measure.text(at.panel.span);
    let rails = Rails::new(layout, at);
    vec![
        format!("From {from} to {to}. Clear span {clear}. Scale {scale}. Seen from the deck, looking out."),
        format!("{}.{}", rails.member_lengths(), rails.kit()),
    ]
}

/// A small upright-slanted cross.
pub(super) fn cross(board: &mut Board, layer: Layer, at: Point, arm: f64) {
    let (a, b) = (plane::point(arm, arm), plane::point(arm, -arm));
    board.line(layer, at - a, at + a);
    board.line(layer, at - b, at + b);
}
