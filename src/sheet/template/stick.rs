//! A stick: a strip of paper at full size that may be longer than a sheet, and the pieces of it that go on sheets.

use std::sync::Arc;

use crate::base::{Length, Measure, Point, plane};

use super::super::board::{self, Board};
use super::super::{Drawing, Item, Layer, Linetype, running, text};
use super::tile::{Cutting, Tile};

/// Height of capitals on templates, mm.
pub(super) const TEXT_MM: f64 = 2.2;
/// What a row of running marks takes besides its longest text, mm: ticks and air, and more where leaders are bent.
const LEADER_MM: (f64, f64) = (2.6, 5.0);
/// Half of the widest pen, and some air, mm.
const PEN_MM: f64 = 0.5;
/// Steps of the distances on tiles without marks, and the length of their ticks, mm.
const STEP_MM: [f64; 2] = [6.0 * 25.4, 100.0];
const TICK_MM: f64 = 2.6;
/// Radius of a register mark's circle, and how far its cross reaches, mm.
const CIRCLE_MM: f64 = 1.6;
const CROSS_MM: f64 = 2.6;

/// A stick in the making. x runs along it, in running marks from its zero.
pub(super) struct Stick {
    /// Short name of the drawing: `S1`.
    pub name: String,
    /// What it is for, on every piece of it.
    pub tag: String,
    /// What must be known to use it, on its first piece.
    pub facts: Vec<String>,
    /// Which way its zero lies.
    pub zero: &'static str,
    /// What is drawn on it.
    pub board: Board,
    /// Its ends.
    pub ends: (f64, f64),
    /// Its lower and its upper edge.
    pub edges: (f64, f64),
    /// Stretches along it with marks or texts, where no joint should be.
    pub busy: Vec<(f64, f64)>,
    /// What stands beside its rows: height of the middle, lines.
    pub side: Vec<(f64, Vec<String>)>,
}

/// A part of a drawing for one sheet, with what stands about it.
#[derive(Debug)]
pub(super) struct Piece {
    pub drawing: Arc<Drawing>,
    /// What is shown of it.
    pub window: (Point, Point),
    /// In bold over it.
    pub heading: String,
    /// Under the heading.
    pub lines: Vec<String>,
    /// At the right end of the heading, behind an arrow to the left.
    pub zero: &'static str,
    /// Beside it on the left.
    pub side: Vec<(f64, Vec<String>)>,
    /// Where it is cut off to be joined with the piece before.
    pub cut: Option<f64>,
    /// Name in titles.
    pub name: String,
}

/// Height that a row of running marks takes over its line.
pub(super) fn band(board: &Board, marks: &[(f64, String)]) -> f64 {
    let longest = marks.iter().map(|(_, content)| text::width(content, board.height(), false)).fold(0.0, f64::max);
    let crowded = |(a, b): (&(f64, String), &(f64, String))| b.0 - a.0 < board.height() * running::GAP + 0.1;
    let bent = marks.iter().zip(marks.iter().skip(1)).any(crowded);
    longest + if bent { LEADER_MM.1 } else { LEADER_MM.0 }
}

impl Stick {
    /// Parts it as the sheet asks.
    pub(super) fn pieces(mut self, cutting: &Cutting, measure: &Measure) -> Vec<Piece> {
        let joints = cutting.joints(self.ends, &self.busy);
        self.frame(&joints);
        let tiles = cutting.tiles(self.ends, &joints);
        for tile in &tiles {
            self.distances(tile, measure);
        }
        let corners = (plane::point(self.ends.0, self.edges.0), plane::point(self.ends.1, self.edges.1));
        let whole = Arc::new(self.board.finish(&self.name, self.tag.clone(), Some(corners)));
        let count = tiles.len();
        let piece = |(index, tile): (usize, &Tile)| {
            let (from, to) = tile.window;
            let heading = format!("{}{}", self.tag, joins(tile, index + 1, count, measure));
            let name = if count > 1 { format!("{} tile {}", self.name, index + 1) } else { self.name.clone() };
            Piece {
                drawing: if count > 1 { Arc::new(seen(&whole, tile.window)) } else { whole.clone() },
                window: (plane::point(from, self.edges.0), plane::point(to, self.edges.1)),
                heading,
                lines: if index == 0 { self.facts.clone() } else { Vec::new() },
                zero: self.zero,
                side: self.side.clone(),
                cut: tile.joints.0.map(Length::millimetres),
                name,
            }
        };
        tiles.iter().enumerate().map(piece).collect()
    }

    /// Distances from its zero along a tile without marks, which would show nothing but a centre line otherwise.
    fn distances(&mut self, tile: &Tile, measure: &Measure) {
        let (first, last) = tile.joints;
        let from = first.map_or(self.ends.0, Length::millimetres);
        let to = last.map_or(self.ends.1, Length::millimetres);
        if self.busy.iter().any(|(a, b)| *b > from && *a < to) {
            return;
        }
        let [feet, metric] = STEP_MM;
        let step = if measure.unit.is_imperial() { feet } else { metric };
        self.board.show("distance", &self.name);
        for n in ((from / step).ceil() as i64)..=((to / step).floor() as i64) {
            let foot = plane::point(n as f64 * step, self.edges.0);
            let tip = foot + plane::point(0.0, TICK_MM);
            self.board.patterned(Layer::Sheet, Linetype::Continuous, vec![foot, tip], false);
            if let Some(distance) = Length::from_millimetres(foot.x) {
                let beside = foot + plane::point(1.0, self.board.height() + 1.0);
                self.board.write(beside, board::MIDDLE_LEFT, &measure.mark_text(distance));
            }
        }
        self.board.show_nothing();
    }

    /// Its outline, and the register marks of its joints.
    fn frame(&mut self, joints: &[Length]) {
        let ((from, to), (low, high)) = (self.ends, self.edges);
        let board = &mut self.board;
        board.show("stick", &self.name);
        board.rectangle(Layer::Sheet, plane::point(from, low), plane::point(to, high));
        board.show("register", &self.name);
        for x in joints.iter().map(|j| j.millimetres()) {
            for y in [low + CROSS_MM + 0.6, high - CROSS_MM - 0.6] {
                let at = plane::point(x, y);
                board.circle(Layer::Sheet, at, CIRCLE_MM);
                for arm in [plane::point(CROSS_MM, 0.0), plane::point(0.0, CROSS_MM)] {
                    board.patterned(Layer::Sheet, Linetype::Continuous, vec![at - arm, at + arm], false);
                }
            }
        }
        board.show_nothing();
    }
}

/// The drawing with no more than what reaches into a window: a tile that held all of its stick would be found by every search
/// for a mark that is on another one.
fn seen(whole: &Drawing, (from, to): (f64, f64)) -> Drawing {
    let is_seen = |item: &&Item| {
        let reach = plane::bounds(board::reach(&item.shape));
        reach.is_some_and(|(low, high)| high.x >= from - PEN_MM && low.x <= to + PEN_MM)
    };
    Drawing { items: whole.items.iter().filter(is_seen).cloned().collect(), ..whole.clone() }
}

/// `, tile 2 of 5, joins tile 1 at 8" and tile 3 at 16"`; nothing of a stick in one piece.
fn joins(tile: &Tile, number: usize, count: usize, measure: &Measure) -> String {
    if count < 2 {
        return String::new();
    }
    let with =
        |joint: Option<Length>, other: usize| joint.map(|at| format!("tile {other} at {}", measure.mark_text(at)));
    let both: Vec<String> =
        [with(tile.joints.0, number - 1), with(tile.joints.1, number + 1)].into_iter().flatten().collect();
    format!(", tile {number} of {count}, joins {}", both.join(" and "))
}
