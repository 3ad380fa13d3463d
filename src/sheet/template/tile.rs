//! Where a stick that is longer than a sheet is parted.

use crate::base::{Length, Measure};

/// What neighbouring tiles share, mm: wide enough that what a joint cuts through is whole on one of them.
const OVERLAP_MM: f64 = 15.0;
/// How far a joint moves at most so that no mark or text lies on it, mm.
const SEARCH_MM: f64 = 14.0;
/// More clear space than this beside a joint is of no use, mm.
const ENOUGH_MM: f64 = 9.0;
/// A stick is not parted into more tiles than this: more would be no rail.
const MOST_TILES: f64 = 4_000.0;

/// How sticks are parted.
#[derive(Debug, Clone, Copy)]
pub(super) struct Cutting {
    /// Longest piece of a stick on one sheet, mm.
    most: f64,
    measure: Measure,
}

/// A part of a stick on one sheet.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct Tile {
    /// From where to where it shows the stick, mm.
    pub window: (f64, f64),
    /// The joint with the tile before, and that with the next, as marks of the stick.
    pub joints: (Option<Length>, Option<Length>),
}

impl Cutting {
    pub(super) fn new(most: f64, measure: &Measure) -> Self {
        Self { most, measure: *measure }
    }

    /// Joints of a stick between two ends, each on a mark: as few as do, about equally far apart, each moved to where the
    /// `busy` stretches leave the most room.
    pub(super) fn joints(&self, (from, to): (f64, f64), busy: &[(f64, f64)]) -> Vec<Length> {
        let (long, step) = (to - from, self.most - OVERLAP_MM);
        if long <= self.most || step <= 0.0 {
            return Vec::new();
        }
        let count = (long / step).ceil().clamp(2.0, MOST_TILES);
        // Each of two neighbouring joints may move, and rounding to marks moves them, too.
        let mark = self.measure.mark.length();
        let slack = ((step - long / count) / 2.0 - mark.millimetres()).clamp(0.0, SEARCH_MM);
        let steps = (slack / mark.millimetres()).floor() as i64;
        let place = |k: f64| {
            let wanted = Length::from_millimetres(from + long * k / count).unwrap_or_default();
            let wanted = self.measure.mark.round(wanted);
            // The nearest first: of equally free places the first wins.
            let near = std::iter::once(0).chain((1..=steps).flat_map(|s| [s, -s])).map(|s| wanted + mark * s);
            let mut best = (wanted, -1.0);
            for at in near {
                let free = clear(at.millimetres(), busy);
                if free > best.1 + 1e-9 {
                    best = (at, free);
                }
            }
            best.0
        };
        (1..count as u32).map(|k| place(f64::from(k))).collect()
    }

    /// Tiles between those joints.
    pub(super) fn tiles(&self, (from, to): (f64, f64), joints: &[Length]) -> Vec<Tile> {
        let half = OVERLAP_MM / 2.0;
        let before = std::iter::once(None).chain(joints.iter().copied().map(Some));
        let after = joints.iter().copied().map(Some).chain([None]);
        before
            .zip(after)
            .map(|joints| {
                let start = joints.0.map_or(from, |j| j.millimetres() - half);
                let end = joints.1.map_or(to, |j| j.millimetres() + half);
                Tile { window: (start, end), joints }
            })
            .collect()
    }
}

/// Distance to the nearest busy stretch; nothing within one.
fn clear(at: f64, busy: &[(f64, f64)]) -> f64 {
    busy.iter().map(|(a, b)| (a - at).max(at - b).max(0.0)).fold(ENOUGH_MM, f64::min)
}

#[cfg(test)]
mod tests {
    use super::super::super::sample::{INCH, METRIC};
    use super::*;

    #[test]
    fn tiles_cover_the_stick_and_share_their_overlap() {
        for measure in [INCH, METRIC] {
            let cutting = Cutting::new(230.0, &measure);
            for long in [100.0, 230.0, 231.0, 433.0, 2210.0, 5000.0] {
                let ends = (-20.0, long - 20.0);
                let joints = cutting.joints(ends, &[(90.0, 110.0), (300.0, 340.0)]);
                let tiles = cutting.tiles(ends, &joints);
                assert_eq!(tiles.len(), joints.len() + 1);
                assert_eq!((tiles[0].window.0, tiles[tiles.len() - 1].window.1), ends);
                assert!(tiles.iter().all(|t| t.window.1 - t.window.0 <= 230.0 + 1e-9), "{long}: {tiles:?}");
                for pair in tiles.windows(2) {
                    assert!((pair[0].window.1 - pair[1].window.0 - OVERLAP_MM).abs() < 1e-9);
                    assert_eq!(pair[0].joints.1, pair[1].joints.0);
                }
                assert!(joints.iter().all(|j| measure.mark.round(*j) == *j), "joints are on marks");
            }
        }
    }

    /// 433 mm in tiles of 270 with 15 of overlap would be parted at 196.5, on a mark; it is parted beside it.
    #[test]
    fn joints_keep_clear_of_marks() {
        let cutting = Cutting::new(270.0, &INCH);
        let joints = cutting.joints((-20.0, 413.0), &[(194.0, 199.0)]);
        assert_eq!(joints.len(), 1);
        let at = joints[0].millimetres();
        assert!(!(190.0..=203.0).contains(&at), "{at}");
    }
}
