//! One member on a layout stick: the middle of its face with its holes at their true places, and its ends.

use crate::base::{Angle, Point, decimal, plane};
use crate::panel::Cut;

use super::super::board::{Board, MIDDLE, MIDDLE_LEFT, MIDDLE_RIGHT, rectangle};
use super::super::drilling::{Drilled, Kind, Work};
use super::super::elevation::cross;
use super::super::label::{Ink, Placer};
use super::super::rails::Rails;
use super::super::text::Area;
use super::super::{Anchor, Layer, Linetype, TextSpec};

/// Half the height of a row at least and at most, mm: a row with bracket holes beside the axis shows them where they are,
/// and two sticks of three such rows still go on a sheet.
const HALF_MM: (f64, f64) = (5.0, 12.0);
/// Clear space from a hole to the row's edge, mm.
const AIR_MM: f64 = 0.6;
/// The smallest circle that still shows, and how far a cross reaches beyond its hole, mm.
const LEAST_RADIUS_MM: f64 = 0.9;
const CROSS_MM: f64 = 0.9;
/// From a rail's tip to the names of its points, mm.
const NAME_MM: f64 = 2.5;
/// Half the breadth and the height of the pointer at a long or short point, mm.
const POINTER_MM: (f64, f64) = (0.8, 2.0);

/// A row in the making.
pub(super) struct Row<'a> {
    pub work: Work,
    pub cut: &'a Cut,
    /// Height of its axis.
    pub axis: f64,
    /// Half its height.
    half: f64,
    /// Half the member's width.
    face: f64,
}

fn radius(hole: &Drilled) -> f64 {
    (hole.diameter / 2.0).max(LEAST_RADIUS_MM)
}

/// What was placed on a row, to keep texts clear of it.
struct Places {
    placer: Placer,
    /// Stretches along the stick.
    busy: Vec<(f64, f64)>,
}

impl Places {
    fn take(&mut self, area: Area, ink: Ink) {
        let reach = area.reach(plane::point(1.0, 0.0));
        self.busy.push((area.centre.x - reach, area.centre.x + reach));
        self.placer.take(area, ink);
    }
}

impl<'a> Row<'a> {
    /// A row under `top`.
    pub(super) fn new(work: Work, cut: &'a Cut, face: f64, top: f64) -> Self {
        let reach = work.holes.iter().map(|h| h.off.abs() + radius(h) + AIR_MM).fold(0.0, f64::max);
        let half = reach.min(face).clamp(HALF_MM.0, HALF_MM.1);
        Self { work, cut, axis: top - half, half, face }
    }

    pub(super) fn low(&self) -> f64 {
        self.axis - self.half
    }

    /// Where a hole is drawn: one that lies outside of the row, on the axis.
    fn at(&self, hole: &Drilled) -> Point {
        let off = if hole.off.abs() + LEAST_RADIUS_MM <= self.half { hole.off } else { 0.0 };
        plane::point(hole.mark.millimetres(), self.axis + off)
    }

    /// Draws it; `lines` are the places of the lines that cross it. Gives the stretches
    /// along the stick that it fills.
    pub(super) fn draw(&self, board: &mut Board, rails: &Rails<'_>, lines: &[f64]) -> Vec<(f64, f64)> {
        let long = rails.panel().length.millimetres();
        let mut places = Places { placer: Placer::new(15.0), busy: Vec::new() };
        let (low, high) = (self.axis - self.half, self.axis + self.half);
        for x in lines {
            let line = Area::of_line(plane::point(*x, low), plane::point(*x, high), 0.4);
            places.placer.take(line, Ink::Stroke);
        }
        let middle = Area::of_line(plane::point(0.0, self.axis), plane::point(long, self.axis), 0.4);
        places.placer.take(middle, Ink::Stroke);
        self.outline(board, long);
        for (x, angle, way) in [(0.0, self.cut.left, -1.0), (long, self.cut.right, 1.0)] {
            self.end(board, &mut places, (x, angle, way));
        }
        for hole in &self.work.holes {
            self.hole(board, rails, hole);
            let size = 2.0 * (radius(hole) + CROSS_MM);
            places.take(Area::new(self.at(hole), plane::point(1.0, 0.0), size, size), Ink::Solid);
        }
        for hole in &self.work.holes {
            if let Some(content) = self.label(rails, hole) {
                self.write(board, &mut places, hole, &content);
            }
        }
        places.busy
    }

    /// How far an end leans over a distance from the axis.
    fn lean(&self, angle: Angle, off: f64) -> f64 {
        off * angle.tan() / self.cut.plumb.cos()
    }

    /// The row's edges, its axis, and the rail's ends at their true angle.
    fn outline(&self, board: &mut Board, long: f64) {
        let corner =
            |off: f64, x: f64, angle: Angle, way: f64| plane::point(x + way * self.lean(angle, off), self.axis + off);
        let left = [self.half, -self.half].map(|off| corner(off, 0.0, self.cut.left, -1.0));
        let right = [self.half, -self.half].map(|off| corner(off, long, self.cut.right, 1.0));
        for (a, b) in left.into_iter().zip(right) {
            board.line(Layer::Sheet, a, b);
        }
        for [a, b] in [left, right] {
            board.line(Layer::Panel, a, b);
        }
        board.line(Layer::Line, plane::point(0.0, self.axis), plane::point(long, self.axis));
    }

    /// Names of an end: its cut, and its long and short point with a pointer where the edge of the member has it.
    fn end(&self, board: &mut Board, places: &mut Places, (x, angle, way): (f64, Angle, f64)) {
        let lean = self.lean(angle, self.face);
        let from = x + way * (lean.abs() + NAME_MM);
        let anchor = if way < 0.0 { MIDDLE_RIGHT } else { MIDDLE_LEFT };
        let mut names = Vec::new();
        let degrees = |angle: Angle| decimal(angle.abs().degrees(), 1);
        names.push((
            0.0,
            match (angle == Angle::ZERO, self.cut.plumb == Angle::ZERO) {
                (true, true) => "square".to_owned(),
                (true, false) => format!("plumb {}\u{b0}", degrees(self.cut.plumb)),
                (false, _) => format!("saw {}\u{b0}", degrees(angle)),
            },
        ));
        if angle != Angle::ZERO {
            let slanted = [1.0, -1.0]
                .map(|edge| plane::point(x + way * edge * self.lean(angle, self.half), self.axis + edge * self.half));
            places.placer.take(Area::of_line(slanted[0], slanted[1], 0.6), Ink::Stroke);
            // The outer edge, away from the deck, lies above.
            for (edge, at) in [(1.0, x + way * lean), (-1.0, x - way * lean)] {
                let is_long = (at - x) * way > 0.0;
                let name = if is_long { "long point" } else { "short point" };
                names.push((edge * (self.half - board.height() / 2.0 - 0.3), name.to_owned()));
                self.pointer(board, places, at, edge);
            }
        }
        for (off, name) in names {
            let spec = board.spec(plane::point(from, self.axis + off), anchor, &name);
            places.take(Area::of_text(&spec), Ink::Solid);
            board.text(Layer::Text, spec);
        }
    }

    fn pointer(&self, board: &mut Board, places: &mut Places, x: f64, edge: f64) {
        let (half, tall) = POINTER_MM;
        let middle = plane::point(x, self.axis + edge * (self.half - tall / 2.0));
        places.take(Area::new(middle, plane::point(1.0, 0.0), 2.0 * half, tall), Ink::Solid);
        let tip = plane::point(x, self.axis + edge * self.half);
        let foot = tip - plane::point(0.0, edge * tall);
        board.solid(Layer::Panel, vec![tip, foot - plane::point(half, 0.0), foot + plane::point(half, 0.0)]);
    }

    fn hole(&self, board: &mut Board, rails: &Rails<'_>, hole: &Drilled) {
        let id = &rails.panel().id;
        let at = self.at(hole);
        let reach = radius(hole) + CROSS_MM;
        board.show("hole", id);
        board.circle(Layer::Hole, at, radius(hole));
        if hole.kind == Kind::CapScrew {
            cross(board, Layer::Screw, at, reach * 0.85);
        } else {
            let arms = [plane::point(reach, 0.0), plane::point(0.0, reach)];
            for arm in arms {
                board.line(Layer::Hole, at - arm, at + arm);
            }
        }
        if hole.kind != Kind::Baluster {
            let (low, high) = (self.axis - self.half, self.axis + self.half);
            board.line(Layer::Line, plane::point(at.x, low), plane::point(at.x, high));
        }
        if hole.kind == Kind::Block {
            let half = rails.layout.system.blocks.as_ref().map_or(0.0, |b| b.width.millimetres() / 2.0);
            let corner = plane::point(half, (self.half - 0.7).min(half));
            board.show("block", id);
            board.patterned(Layer::Block, Linetype::Hidden, rectangle(at - corner, at + corner), true);
        }
    }

    /// What stands beside a hole; the marks along the upper edge of the stick are not repeated.
    fn label(&self, rails: &Rails<'_>, hole: &Drilled) -> Option<String> {
        let mark = rails.layout.measure.mark_text(hole.mark);
        match hole.kind {
            Kind::Baluster => None,
            Kind::Infill => rails.panel().infill.frames().map(|_| mark),
            Kind::CapScrew | Kind::Bracket | Kind::Block => Some(mark),
        }
    }

    fn write(&self, board: &mut Board, places: &mut Places, hole: &Drilled, content: &str) {
        let at = self.at(hole);
        let off = radius(hole) + CROSS_MM + 0.6;
        let (step, most) = (board.height() / 2.0 + 0.7, self.half - board.height() / 2.0 - 0.2);
        let specs = |dx: f64| {
            let board: &Board = board;
            let heights = [at.y - self.axis, step, -step, most, -most].map(|y| self.axis + y.clamp(-most, most));
            heights.into_iter().flat_map(move |y| {
                [(dx, MIDDLE_LEFT), (-dx, MIDDLE_RIGHT)]
                    .map(|(x, anchor): (f64, Anchor)| board.spec(plane::point(at.x + x, y), anchor, content))
            })
        };
        let above = [1.0, -1.0].map(|way| board.spec(at + plane::point(0.0, way * (off + step)), MIDDLE, content));
        let above = above.into_iter().filter(|s| (s.at.y - self.axis).abs() <= most);
        let candidates = specs(off).chain(above).chain(specs(off + 4.0)).chain(specs(off + 9.0));
        let cover = |spec: TextSpec| {
            let area = Area::of_text(&spec).grown(0.5, 0.3);
            (spec, vec![(area, Ink::Solid)])
        };
        let best = places.placer.best(candidates.map(cover));
        if let Some(spec) = best {
            places.take(Area::of_text(&spec), Ink::Solid);
            board.text(Layer::Dims, spec);
        }
    }
}
