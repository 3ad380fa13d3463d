//! Dimensions of a flight's elevation: its steps, the heights of guard and handrail, the handrail's extensions.

use crate::base::{Angle, Length, Point, plane};

use super::Layer;
use super::board::{Board, MIDDLE};
use super::dimension::{Linear, TextPlace};
use super::elevation::{FIRST_ROW_MM, ROW_MM};
use super::flight::Side;

/// All of them.
pub(super) fn draw(board: &mut Board, side: &Side<'_>) {
    side.dimensions(board);
}

impl Side<'_> {
    /// A dimension along x under the foot, or along y beside it, `row` rows out.
    fn linear(&self, board: &Board, ends: (Point, Point), side: Point, row: f64, far: f64, length: Length) -> Linear {
        let (from, to) = ends;
        Linear {
            from,
            to,
            side,
            clear: board.mm(1.2),
            offset: far + board.mm(FIRST_ROW_MM + row * ROW_MM),
            text: self.layout.measure.mark_text(length),
        }
    }

    fn dimensions(&self, board: &mut Board) {
        let steps = &self.flight.steps;
        let (tread, riser) = (steps.tread.millimetres(), steps.riser.millimetres());
        let below = plane::point(0.0, -1.0);
        board.show("dimension", &self.flight.id);
        let floor = board.mm(3.0);
        // Under the foot: the lowest tread, and all of them.
        let last = (self.at(self.run() - tread, 0.0), self.at(self.run(), 0.0));
        self.linear(board, last, below, 0.0, floor, steps.tread).draw(board, TextPlace::Beyond(0.0));
        let all = (self.at(0.0, 0.0), self.at(self.run(), 0.0));
        self.linear(board, all, below, 1.0, floor, self.flight.length()).draw(board, TextPlace::After);
        // Beyond the foot: the lowest riser, and all of them.
        let beyond = plane::point(self.way(), 0.0);
        let far = self.extent().1 - self.run();
        let first = (self.at(self.run(), 0.0), self.at(self.run(), riser));
        self.linear(board, first, beyond, 1.0, far, steps.riser).draw(board, TextPlace::After);
        let rise = (self.at(self.run(), 0.0), self.at(self.run(), self.rise()));
        self.linear(board, rise, beyond, 2.4, far, self.flight.total_rise()).draw(board, TextPlace::Beyond(0.0));
        self.plumb_heights(board);
        self.extensions(board);
    }

    /// Height of the guard over a nosing in the first panel, and of the handrail over another one, as far as there is room.
    fn plumb_heights(&self, board: &mut Board) {
        let tread = self.flight.steps.tread.millimetres();
        let over = |board: &mut Board, down: f64, length: Length, what: &str| {
            let height = length.millimetres();
            let line = Linear {
                from: self.above(down, 0.0),
                to: self.above(down, height),
                side: plane::point(-1.0, 0.0),
                clear: 0.0,
                offset: 0.0,
                text: self.layout.measure.mark_text(length),
            };
            line.draw(board, TextPlace::Beyond(0.0));
            let beside = plane::point(board.mm(0.9) + board.height() / 2.0, 0.0);
            let mut spec = board.spec(self.above(down, height / 2.0) + beside, MIDDLE, what);
            spec.rotation = Angle::from_degrees(90.0);
            board.text(Layer::Dims, spec);
        };
        let longest = self.panels.iter().max_by(|a, b| a.panel.span.cmp(&b.panel.span));
        let Some(at) = longest else {
            if let Some(rail) = self.handrails.first() {
                over(board, (self.run() / 2.0 / tread).floor() * tread, rail.height, &self.handrail_name());
            }
            return;
        };
        let (from, to) = self.reach(at);
        let nosing = |share: f64| ((from + (to - from) * share) / tread).round() * tread;
        // Clear of the posts, of the tag in the middle, and of each other.
        let (first, second) = (nosing(0.22), nosing(0.78));
        let apart = board.mm(7.0);
        let middle = f64::midpoint(from, to);
        if first > from && middle - first > apart * 1.6 {
            over(board, first, at.panel.height, "guard");
            if let Some(rail) = self.handrails.first().filter(|_| second < to && second - middle > apart * 1.6) {
                over(board, second, rail.height, &self.handrail_name());
            }
        }
    }

    /// `handrail H1, H2`.
    pub(super) fn handrail_name(&self) -> String {
        let twin = self.twin.as_ref().and_then(|twin| twin.handrails.first());
        let ids: Vec<&str> = self.handrails.first().into_iter().chain(twin).map(|rail| rail.id.as_str()).collect();
        format!("handrail {}", ids.join(", "))
    }

    /// Extensions of the handrail over everything else, and beyond its foot.
    fn extensions(&self, board: &mut Board) {
        let Some(rail) = self.handrails.first() else { return };
        let height = rail.height.millimetres();
        if rail.extension_top > Length::ZERO {
            let y = self.rise() + height;
            let ends = (self.at(-rail.extension_top.millimetres(), y), self.at(0.0, y));
            let far = self.top() - y;
            self.linear(board, ends, plane::point(0.0, 1.0), -0.4, far, rail.extension_top)
                .draw(board, TextPlace::Beyond(0.0));
        }
        if rail.extension_bottom > Length::ZERO {
            let level = self.flight.pitch.level(rail.extension_bottom).millimetres();
            let ends = (self.above(self.run(), height), self.above(self.run() + level, height));
            let along = plane::unit(ends.1 - ends.0);
            let side = plane::left(along) * self.way();
            self.linear(board, ends, side, -0.2, 0.0, rail.extension_bottom).draw(board, TextPlace::Beyond(0.0));
        }
    }
}
