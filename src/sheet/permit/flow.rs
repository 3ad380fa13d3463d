//! Puts blocks of given sizes on sheets: row after row from the upper left, sheet after sheet, in their order.

use crate::base::{Point, plane::point};

/// Where a block stands: the sheet's index, and the offset of the block's upper left corner from the room's, x to the right,
/// y down.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct Spot {
    pub sheet: usize,
    pub at: Point,
}

/// Rows of blocks in groups. A group that does not fit on what is left of a sheet, but on a new one, begins there; a block
/// that is larger than the room gets a sheet of its own.
pub(super) fn rows(groups: &[Vec<Point>], room: Point, gap: Point) -> Vec<Spot> {
    let mut pen = Pen { room, gap, sheet: 0, at: point(0.0, 0.0), tall: 0.0 };
    let mut spots = Vec::new();
    for group in groups {
        let (mut here, mut fresh) = (pen.clone(), pen.clone());
        fresh.turn();
        let set = |pen: &mut Pen| group.iter().map(|size| pen.put(*size)).collect::<Vec<Spot>>();
        let (on, anew) = (set(&mut here), set(&mut fresh));
        let parts = |spots: &[Spot]| spots.last().zip(spots.first()).map_or(0, |(b, a)| b.sheet - a.sheet);
        let starts = on.first().is_some_and(|spot| spot.sheet == pen.sheet);
        let turns = starts && pen.is_used() && parts(&anew) < parts(&on);
        pen = if turns { fresh } else { here };
        spots.extend(if turns { anew } else { on });
    }
    spots
}

/// Where the next block goes.
#[derive(Clone)]
struct Pen {
    room: Point,
    gap: Point,
    sheet: usize,
    at: Point,
    /// Height of the row so far.
    tall: f64,
}

impl Pen {
    fn is_used(&self) -> bool {
        self.at.x > 0.0 || self.at.y > 0.0
    }

    fn turn(&mut self) {
        if self.is_used() {
            (self.sheet, self.at, self.tall) = (self.sheet + 1, point(0.0, 0.0), 0.0);
        }
    }

    fn put(&mut self, size: Point) -> Spot {
        if self.at.x > 0.0 && self.at.x + size.x > self.room.x {
            self.at = point(0.0, self.at.y + self.tall + self.gap.y);
            self.tall = 0.0;
        }
        if self.at.y > 0.0 && self.at.y + size.y > self.room.y {
            self.turn();
        }
        let spot = Spot { sheet: self.sheet, at: self.at };
        self.at.x += size.x + self.gap.x;
        self.tall = self.tall.max(size.y);
        spot
    }
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
        let sizes = [(40.0, 20.0), (40.0, 30.0), (40.0, 10.0), (90.0, 50.0), (10.0, 10.0)];
        let spots = rows(&sizes.map(|(x, y)| vec![point(x, y)]), point(100.0, 80.0), point(5.0, 5.0));
        let got: Vec<(usize, f64, f64)> = spots.iter().map(|s| (s.sheet, s.at.x, s.at.y)).collect();
        assert_eq!(got, [(0, 0.0, 0.0), (0, 45.0, 0.0), (0, 0.0, 35.0), (1, 0.0, 0.0), (1, 0.0, 55.0)]);
        assert_eq!(sheets(&spots), 2);
    }

    #[test]
    fn what_is_larger_than_the_paper_stands_alone() {
        let sizes = [(10.0, 10.0), (500.0, 500.0), (10.0, 10.0)].map(|(x, y)| vec![point(x, y)]);
        let spots = rows(&sizes, point(100.0, 100.0), point(5.0, 5.0));
        assert_eq!(spots.iter().map(|s| s.sheet).collect::<Vec<_>>(), [0, 1, 2]);
    }

    #[test]
    fn a_group_stays_together_where_a_new_sheet_holds_it() {
        let groups = [vec![point(60.0, 60.0)], vec![point(60.0, 60.0), point(30.0, 60.0)], vec![point(99.0, 60.0); 2]];
        let spots = rows(&groups, point(100.0, 100.0), point(5.0, 5.0));
        // The last group does not fit one sheet wherever it begins.
        assert_eq!(spots.iter().map(|s| s.sheet).collect::<Vec<_>>(), [0, 1, 1, 2, 3]);
    }
}
