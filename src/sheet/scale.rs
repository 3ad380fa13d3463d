//! Standard scales, and the choice among them.

use crate::base::Measure;

/// A drawing scale.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct Scale {
    /// Full-scale mm per mm on paper.
    pub paper: f64,
    /// As drawings state it.
    pub text: &'static str,
}

const fn scale(paper: f64, text: &'static str) -> Scale {
    Scale { paper, text }
}

const PLAN_INCH: [Scale; 5] = [
    scale(24.0, "1/2 in = 1 ft"),
    scale(32.0, "3/8 in = 1 ft"),
    scale(48.0, "1/4 in = 1 ft"),
    scale(64.0, "3/16 in = 1 ft"),
    scale(96.0, "1/8 in = 1 ft"),
];

const PLAN_METRIC: [Scale; 3] = [scale(20.0, "1:20"), scale(50.0, "1:50"), scale(100.0, "1:100")];

const DETAIL_INCH: [Scale; 3] = [scale(12.0, "1 in = 1 ft"), scale(8.0, "1-1/2 in = 1 ft"), scale(4.0, "3 in = 1 ft")];

const DETAIL_METRIC: [Scale; 3] = [scale(10.0, "1:10"), scale(5.0, "1:5"), scale(2.0, "1:2")];

/// What a plan should fill at most, in mm: a sheet of 11 x 17 in (or A3, which is larger) without margins and the room
/// that dimensions and lists take.
const SHEET_MM: (f64, f64) = (300.0, 190.0);

/// The largest standard scale at which a plan of this width and height fits a small sheet; but never a coarser one than
/// `finest`, at which its texts still fit: a plan that cannot be read is of no use on any sheet.
pub(super) fn of_plan(width: f64, height: f64, finest: f64, measure: &Measure) -> Scale {
    let [largest, ..] = PLAN_INCH;
    let list: &[Scale] = if measure.unit.is_imperial() { &PLAN_INCH } else { &PLAN_METRIC };
    let fits = |s: &&Scale| width <= SHEET_MM.0 * s.paper && height <= SHEET_MM.1 * s.paper;
    let usual = list.iter().find(fits).or(list.last()).copied().unwrap_or(largest);
    let readable = list.iter().rev().find(|s| s.paper <= finest.min(usual.paper));
    readable.or(list.first()).copied().unwrap_or(usual)
}

/// The scale for details: the usual one unless marks `closest` apart at full size need a larger one to stand `room` mm
/// apart on paper.
pub(super) fn of_detail(closest: f64, room: f64, measure: &Measure) -> Scale {
    let list = if measure.unit.is_imperial() { DETAIL_INCH } else { DETAIL_METRIC };
    let [usual, _, largest] = list;
    list.into_iter().find(|s| closest / s.paper >= room).unwrap_or(if closest > 0.0 { largest } else { usual })
}

/// What a section should be high at most on paper, mm.
const SECTION_MM: f64 = 150.0;

/// The scale of a section through something `height` mm high: 1-1/2 in = 1 ft or 1:5, or the next smaller one.
pub(super) fn of_section(height: f64, measure: &Measure) -> Scale {
    let [small, usual, _] = if measure.unit.is_imperial() { DETAIL_INCH } else { DETAIL_METRIC };
    if height <= SECTION_MM * usual.paper { usual } else { small }
}

const FLIGHT_INCH: [Scale; 7] = [
    scale(12.0, "1 in = 1 ft"),
    scale(16.0, "3/4 in = 1 ft"),
    scale(24.0, "1/2 in = 1 ft"),
    scale(32.0, "3/8 in = 1 ft"),
    scale(48.0, "1/4 in = 1 ft"),
    scale(64.0, "3/16 in = 1 ft"),
    scale(96.0, "1/8 in = 1 ft"),
];

const FLIGHT_METRIC: [Scale; 4] =
    [scale(10.0, "1:10"), scale(20.0, "1:20"), scale(50.0, "1:50"), scale(100.0, "1:100")];

/// What of a sheet dimensions, title and notes take from a flight, in mm.
const FLIGHT_ROOM_MM: (f64, f64) = (50.0, 90.0);

/// The largest standard scale at which a flight of this length and height, rails included, fits a small sheet with all
/// that is written about it.
pub(super) fn of_flight(length: f64, height: f64, measure: &Measure) -> Scale {
    let list: &[Scale] = if measure.unit.is_imperial() { &FLIGHT_INCH } else { &FLIGHT_METRIC };
    let (wide, tall) = (SHEET_MM.0 - FLIGHT_ROOM_MM.0, SHEET_MM.1 - FLIGHT_ROOM_MM.1);
    let fits = |s: &&Scale| length <= wide * s.paper && height <= tall * s.paper;
    let [largest, ..] = FLIGHT_INCH;
    list.iter().find(fits).or(list.last()).copied().unwrap_or(largest)
}

/// Height of capitals on paper, mm: 3/32 in, or 2.5 mm (ISO 3098 nominal size) in metric jobs.
pub(super) fn text_height(measure: &Measure) -> f64 {
    if measure.unit.is_imperial() { 2.381_25 } else { 2.5 }
}

/// The smallest text that still reads on a print, mm.
pub(super) const LEAST_TEXT_MM: f64 = 1.8;

#[cfg(test)]
mod tests {
    use super::*;
    use crate::base::{Mark, Unit};

    const INCH: Measure = Measure { unit: Unit::Inch, mark: Mark::SIXTEENTH };
    const METRIC: Measure = Measure { unit: Unit::Millimetre, mark: Mark::MILLIMETRE };

    #[test]
    fn plans_take_the_largest_scale_that_fits() {
        let any = f64::INFINITY;
        assert_eq!(of_plan(5000.0, 4000.0, any, &INCH).text, "1/2 in = 1 ft");
        assert_eq!(of_plan(12_000.0, 4000.0, any, &INCH).text, "1/4 in = 1 ft");
        assert_eq!(of_plan(12_000.0, 4000.0, any, &METRIC).text, "1:50");
        assert_eq!(of_plan(1e9, 1.0, any, &METRIC).text, "1:100");
    }

    #[test]
    fn plans_stay_readable() {
        assert_eq!(of_plan(22_860.0, 14_000.0, f64::INFINITY, &INCH).text, "1/8 in = 1 ft");
        assert_eq!(of_plan(22_860.0, 14_000.0, 70.0, &INCH).text, "3/16 in = 1 ft");
        assert_eq!(of_plan(22_860.0, 14_000.0, 10.0, &INCH).text, "1/2 in = 1 ft");
    }

    #[test]
    fn crowded_marks_ask_for_a_larger_detail() {
        assert_eq!(of_detail(114.3, 3.1, &INCH).paper, 12.0);
        assert_eq!(of_detail(30.0, 3.1, &INCH).paper, 8.0);
        assert_eq!(of_detail(2.0, 3.1, &METRIC).paper, 2.0);
    }
}
