//! Standard scales, and the choice among them.

use super::room::Blank;
use crate::base::{Measure, plane::point};
use crate::catalog::Paper;

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

const PLAN_INCH: [Scale; 6] = [
    scale(24.0, "1/2 in = 1 ft"),
    scale(32.0, "3/8 in = 1 ft"),
    scale(48.0, "1/4 in = 1 ft"),
    scale(64.0, "3/16 in = 1 ft"),
    scale(96.0, "1/8 in = 1 ft"),
    scale(192.0, "1/16 in = 1 ft"),
];

const PLAN_METRIC: [Scale; 4] =
    [scale(20.0, "1:20"), scale(50.0, "1:50"), scale(100.0, "1:100"), scale(200.0, "1:200")];

/// From the largest to the smallest; [`usual_detail`] is the one that details have when nothing speaks against it.
const DETAIL_INCH: [Scale; 6] = [
    scale(4.0, "3 in = 1 ft"),
    scale(8.0, "1-1/2 in = 1 ft"),
    scale(12.0, "1 in = 1 ft"),
    scale(16.0, "3/4 in = 1 ft"),
    scale(24.0, "1/2 in = 1 ft"),
    scale(48.0, "1/4 in = 1 ft"),
];

const DETAIL_METRIC: [Scale; 5] =
    [scale(2.0, "1:2"), scale(5.0, "1:5"), scale(10.0, "1:10"), scale(20.0, "1:20"), scale(50.0, "1:50")];

fn details(measure: &Measure) -> &'static [Scale] {
    if measure.unit.is_imperial() { &DETAIL_INCH } else { &DETAIL_METRIC }
}

/// The scale of details when nothing speaks against it.
pub(super) fn usual_detail(measure: &Measure) -> Scale {
    if measure.unit.is_imperial() { scale(12.0, "1 in = 1 ft") } else { scale(10.0, "1:10") }
}

/// Standard scales of a plan, from the largest to the smallest.
pub(super) fn plans(measure: &Measure) -> &'static [Scale] {
    if measure.unit.is_imperial() { &PLAN_INCH } else { &PLAN_METRIC }
}

/// How a scale of a plan is stated.
pub(super) fn plan_text(paper: f64, measure: &Measure) -> String {
    text(paper, plans(measure))
}

/// How a scale of a detail is stated.
pub(super) fn detail_text(paper: f64, measure: &Measure) -> String {
    text(paper, details(measure))
}

fn text(paper: f64, list: &[Scale]) -> String {
    let ratio = || format!("1:{}", crate::base::decimal(paper, 2));
    list.iter().find(|s| s.paper == paper).map_or_else(ratio, |s| s.text.to_owned())
}

/// The smallest scale of a plan at which its texts still fit, `finest` being the least one that could be: a plan that
/// cannot be read is of no use on any sheet.
pub(super) fn readable(finest: f64, measure: &Measure) -> Scale {
    let list = plans(measure);
    let [largest, ..] = PLAN_INCH;
    list.iter().rev().find(|s| s.paper <= finest).or(list.first()).copied().unwrap_or(largest)
}

/// Scales for details, from the wanted one to the smallest: the usual one is wanted unless marks `closest` apart at full
/// size need a larger one to stand `room` mm apart on paper.
pub(super) fn of_details(closest: f64, room: f64, measure: &Measure) -> Vec<Scale> {
    let list = details(measure);
    let usual = usual_detail(measure);
    let large_enough = |s: &&Scale| closest / s.paper >= room;
    let larger = list.iter().rev().filter(|s| s.paper <= usual.paper);
    let wanted = if closest > 0.0 { larger.clone().find(large_enough).or(list.first()) } else { larger.clone().next() };
    let wanted = wanted.map_or(usual.paper, |s| s.paper);
    list.iter().filter(|s| s.paper >= wanted).copied().collect()
}

/// What of a sheet the dimensions, title and notes of a section take from its height, and the most that one should be
/// high, mm.
const SECTION_MM: (f64, f64) = (85.0, 190.0);

/// The scale of a section through something `height` mm high: 1-1/2 in = 1 ft or 1:5, or the next smaller one that fits.
pub(super) fn of_section(height: f64, paper: Paper, measure: &Measure) -> Scale {
    let [_, standing] = Blank::both(paper);
    let room = (standing.room().y - SECTION_MM.0).min(SECTION_MM.1);
    let largest = if measure.unit.is_imperial() { 8.0 } else { 5.0 };
    let list = details(measure).iter().filter(|s| s.paper >= largest);
    list.clone()
        .find(|s| height <= room * s.paper)
        .or(details(measure).last())
        .copied()
        .unwrap_or(usual_detail(measure))
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
const FLIGHT_ROOM_MM: (f64, f64) = (55.0, 95.0);

/// The largest standard scale at which a flight of this length and height, rails included, fits the paper, lying, with all
/// that is written about it.
pub(super) fn of_flight(length: f64, height: f64, paper: Paper, measure: &Measure) -> Scale {
    let list: &[Scale] = if measure.unit.is_imperial() { &FLIGHT_INCH } else { &FLIGHT_METRIC };
    let [lying, _] = Blank::both(paper);
    let room = lying.room() - point(FLIGHT_ROOM_MM.0, FLIGHT_ROOM_MM.1);
    let fits = |s: &&Scale| length <= room.x * s.paper && height <= room.y * s.paper;
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
    fn plans_stay_readable() {
        assert_eq!(readable(f64::INFINITY, &INCH).text, "1/16 in = 1 ft");
        assert_eq!(readable(70.0, &INCH).text, "3/16 in = 1 ft");
        assert_eq!(readable(10.0, &INCH).text, "1/2 in = 1 ft");
        assert_eq!(readable(60.0, &METRIC).text, "1:50");
    }

    #[test]
    fn crowded_marks_ask_for_a_larger_detail() {
        let first = |closest, measure| of_details(closest, 3.1, measure).first().map(|s| s.paper);
        assert_eq!(first(114.3, &INCH), Some(12.0));
        assert_eq!(first(f64::INFINITY, &INCH), Some(12.0));
        assert_eq!(first(30.0, &INCH), Some(8.0));
        assert_eq!(first(2.0, &METRIC), Some(2.0));
        assert_eq!(first(0.0, &METRIC), Some(10.0));
        let all: Vec<&str> = of_details(114.3, 3.1, &INCH).iter().map(|s| s.text).collect();
        assert_eq!(all, ["1 in = 1 ft", "3/4 in = 1 ft", "1/2 in = 1 ft", "1/4 in = 1 ft"]);
    }
}
