//! The bar by which a print is checked: 6 in or 150 mm, whichever the job's rules show.

use crate::base::{Measure, Point, plane};

use super::super::board::{BASE_LEFT, Board, MIDDLE, rectangle};
use super::super::{Anchor, Layer, VAlign};

/// Height of the bar, mm.
const BAR_MM: f64 = 2.6;

/// Length of the bar, mm, and in words.
pub(super) const fn length(measure: &Measure) -> (f64, &'static str) {
    if measure.unit.is_imperial() { (152.4, "6 inches (152.4 mm)") } else { (150.0, "150 millimetres") }
}

/// Draws it with its lower left corner at `at`: parts of an inch or ten millimetres, every other one filled, their marks
/// numbered over them.
pub(super) fn draw(board: &mut Board, at: Point, measure: &Measure) {
    let (long, words) = length(measure);
    let (step, first) = if measure.unit.is_imperial() { (25.4, 1) } else { (10.0, 10) };
    let count = (long / step).round() as u32;
    board.show("scale-bar", words);
    board.rectangle(Layer::Panel, at, at + plane::point(long, BAR_MM));
    for i in 0..count {
        let low = at + plane::point(f64::from(i) * step, 0.0);
        if i % 2 == 0 {
            board.solid(Layer::Panel, rectangle(low, low + plane::point(step, BAR_MM)));
        }
        let mut number = board.spec(low + plane::point(step, BAR_MM + 1.0), BASE_LEFT, &(first * (i + 1)).to_string());
        number.anchor = Anchor { align: MIDDLE.align, valign: VAlign::Base };
        number.height *= 0.85;
        board.text(Layer::Dims, number);
    }
    board.show_nothing();
}
