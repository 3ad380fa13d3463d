//! Puts blocks of given sizes on sheets: row after row from the upper left, sheet after sheet, in their order.

use crate::base::{Point, plane::point};

/// Where a block stands: the sheet's index, and the offset of the block's upper left corner from the room's, x to the right,
/// y down.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct Spot {
    pub sheet: usize,
    pub at: Point,
}

/// Rows of blocks. A block that is larger than the room gets a sheet of its own.
pub(super) fn rows(sizes: &[Point], room: Point, gap: Point) -> Vec<Spot> {
    let mut spots = Vec::with_capacity(sizes.len());
    let (mut sheet, mut at, mut tall) = (0, point(0.0, 0.0), 0.0_f64);
    for size in sizes {
        if at.x > 0.0 && at.x + size.x > room.x {
            at = point(0.0, at.y + tall + gap.y);
            tall = 0.0;
        }
        if at.y > 0.0 && at.y + size.y > room.y {
            (sheet, at, tall) = (sheet + 1, point(0.0, 0.0), 0.0);
        }
        spots.push(Spot { sheet, at });
        at.x += size.x + gap.x;
        tall = tall.max(size.y);
    }
    spots
}

/// How many sheets the spots take.
pub(super) fn sheets(spots: &[Spot]) -> usize {
    spots.last().map_or(0, |s| s.sheet + 1)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn blocks_fill_rows_then_sheets_and_keep_their_order() {
        let sizes = [(40.0, 20.0), (40.0, 30.0), (40.0, 10.0), (90.0, 50.0), (10.0, 10.0)].map(|(x, y)| point(x, y));
        let spots = rows(&sizes, point(100.0, 80.0), point(5.0, 5.0));
        let got: Vec<(usize, f64, f64)> = spots.iter().map(|s| (s.sheet, s.at.x, s.at.y)).collect();
        assert_eq!(got, [(0, 0.0, 0.0), (0, 45.0, 0.0), (0, 0.0, 35.0), (1, 0.0, 0.0), (1, 0.0, 55.0)]);
        assert_eq!(sheets(&spots), 2);
    }

    #[test]
    fn what_is_larger_than_the_paper_stands_alone() {
        let sizes = [(10.0, 10.0), (500.0, 500.0), (10.0, 10.0)].map(|(x, y)| point(x, y));
        let spots = rows(&sizes, point(100.0, 100.0), point(5.0, 5.0));
        assert_eq!(spots.iter().map(|s| s.sheet).collect::<Vec<_>>(), [0, 1, 2]);
    }
}
