//! Support blocks and cap screws: equal division, moved off the balusters' screws.

use super::balusters::{on_mark, wide};
use crate::base::{Length, Mark};
use crate::catalog::{Blocks, CapScrews};

/// More fasteners than any rail has: the bound for hostile system files.
const MOST: i64 = 1_000;

/// A rail with its balusters in place.
#[derive(Debug, Clone, Copy)]
pub(super) struct Fitted<'a> {
    /// Rail length.
    pub length: Length,
    /// Baluster centres.
    pub balusters: &'a [Length],
    /// Baluster width.
    pub width: Length,
    /// Mark grid.
    pub mark: Mark,
}

/// Fasteners in place, and which of them were moved.
#[derive(Debug, Default)]
pub(super) struct Placed {
    /// Final marks.
    pub marks: Vec<Length>,
    /// From where to where, for those that were moved.
    pub moved: Vec<(Length, Length)>,
}

/// Why fasteners cannot be placed.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum NotPlaced {
    /// The block table ends before this rail length.
    OffTable,
    /// No gap between the balusters has room.
    NoGap,
}

impl Fitted<'_> {
    /// Support blocks by the system's table.
    pub fn blocks(&self, blocks: &Blocks) -> Result<Placed, NotPlaced> {
        let rows = blocks.counts.iter().filter(|row| self.length <= row.up_to);
        let row = rows.min_by_key(|row| row.up_to).ok_or(NotPlaced::OffTable)?;
        self.divided(i64::from(row.blocks) + 1, blocks.screw_clearance).ok_or(NotPlaced::NoGap)
    }

    /// Cap screws: as few as the longest spacing allows, and never none, since nothing else holds the cap.
    pub fn cap_screws(&self, screws: &CapScrews) -> Result<Placed, NotPlaced> {
        let longest = screws.longest_spacing;
        let least = -(-self.length).whole_steps(longest);
        if least > MOST {
            return Err(NotPlaced::NoGap);
        }
        // Moving a screw can stretch a distance beyond the longest; each further screw gives more room than a move
        // takes, long before the count doubles twice.
        (least.max(2)..=least.max(2) * 4)
            .filter_map(|spaces| self.divided(spaces, screws.screw_clearance))
            .find(|placed| self.widest_space(&placed.marks) <= longest)
            .ok_or(NotPlaced::NoGap)
    }

    /// The rail in `spaces` equal parts, each mark moved where it is too near to a baluster's.
    fn divided(&self, spaces: i64, clearance: Length) -> Option<Placed> {
        let mut placed = Placed::default();
        for k in 1..i128::from(spaces) {
            let wanted = on_mark(self.mark, wide(self.length) * k, i128::from(spaces));
            let mark = self.clear_of_balusters(wanted, clearance)?;
            if placed.marks.last().is_some_and(|&last| mark <= last) {
                return None;
            }
            if mark != wanted {
                placed.moved.push((wanted, mark));
            }
            placed.marks.push(mark);
        }
        Some(placed)
    }

    /// `wanted` where it is clear, else the middle of the nearest gap that has room.
    fn clear_of_balusters(&self, wanted: Length, clearance: Length) -> Option<Length> {
        let is_clear = |at: Length| self.balusters.iter().all(|&b| (b - at).abs() >= clearance);
        if is_clear(wanted) {
            return Some(wanted);
        }
        let low = self.width.half();
        let starts = std::iter::once(Length::ZERO).chain(self.balusters.iter().map(|&b| b - low + self.width));
        let ends = self.balusters.iter().map(|&b| b - low).chain([self.length]);
        starts
            .zip(ends)
            .map(|(start, end)| on_mark(self.mark, wide(start + end), 2))
            .filter(|&middle| is_clear(middle))
            .min_by_key(|&middle| (middle - wanted).abs())
    }

    fn widest_space(&self, marks: &[Length]) -> Length {
        let starts = std::iter::once(Length::ZERO).chain(marks.iter().copied());
        let ends = marks.iter().copied().chain([self.length]);
        starts.zip(ends).map(|(start, end)| end - start).max().unwrap_or(self.length)
    }
}
