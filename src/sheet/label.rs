//! The label placer: keeps what is taken, and finds the first free place among candidates.

use std::collections::BTreeMap;

use super::text::Area;

/// Cells that one area may cover before it is cut off: more than any text or rail of a sane drawing, few enough that a
/// rail of a kilometre cannot eat the memory.
const MOST_CELLS: f64 = 4_000.0;

/// What takes room.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum Ink {
    /// Posts, rails and texts: nothing may stand on them.
    Solid,
    /// Thin lines: they may cross each other, but no text may stand on them.
    Stroke,
}

/// An area that a candidate would cover, and with what.
pub(super) type Cover = (Area, Ink);

/// What is taken on a drawing, in square cells so that large plans stay quick.
#[derive(Debug)]
pub(super) struct Placer {
    cell: f64,
    taken: Vec<Cover>,
    cells: BTreeMap<(i64, i64), Vec<usize>>,
}

impl Placer {
    /// A placer whose cells are `cell` wide: a few times a usual label.
    pub(super) fn new(cell: f64) -> Self {
        Self { cell, taken: Vec::new(), cells: BTreeMap::new() }
    }

    /// Takes an area.
    pub(super) fn take(&mut self, area: Area, ink: Ink) {
        let index = self.taken.len();
        self.taken.push((area, ink));
        for cell in self.cells_of(&area) {
            self.cells.entry(cell).or_default().push(index);
        }
    }

    /// How badly a cover would clash with what is taken: 0 is free. A text on a text is worse than one on a line.
    fn clashes(&self, (area, ink): &Cover) -> u32 {
        let near = self.cells_of(area).into_iter().filter_map(|c| self.cells.get(&c)).flatten();
        let mut indices: Vec<usize> = near.copied().collect();
        indices.sort_unstable();
        indices.dedup();
        let weight = |taken: &Cover| match (ink, taken.1) {
            (Ink::Solid, Ink::Solid) => 10,
            (Ink::Stroke, Ink::Solid) | (Ink::Solid, Ink::Stroke) => 3,
            (Ink::Stroke, Ink::Stroke) => 0,
        };
        let taken = indices.iter().filter_map(|i| self.taken.get(*i));
        taken.filter(|t| weight(t) > 0 && t.0.overlaps(area)).map(weight).sum()
    }

    /// Whether covers clash with nothing that is taken.
    pub(super) fn is_free(&self, covers: &[Cover]) -> bool {
        covers.iter().all(|cover| self.clashes(cover) == 0)
    }

    /// The first candidate whose covers are all free, else the one that clashes least.
    pub(super) fn best<T>(&self, candidates: impl IntoIterator<Item = (T, Vec<Cover>)>) -> Option<T> {
        let mut best: Option<T> = None;
        let mut least = u32::MAX;
        for (candidate, covers) in candidates {
            let mut clashes = 0;
            for cover in &covers {
                clashes += self.clashes(cover);
                if clashes >= least {
                    break;
                }
            }
            if clashes < least {
                (least, best) = (clashes, Some(candidate));
            }
            if least == 0 {
                break;
            }
        }
        best
    }

    /// Cells under an area, along its length in steps of half a cell, so that a long slanted rail does not take the
    /// whole square around it.
    fn cells_of(&self, area: &Area) -> Vec<(i64, i64)> {
        let margin = area.half_breadth + self.cell / 2.0;
        let steps = (4.0 * area.half_length / self.cell).ceil().clamp(1.0, MOST_CELLS);
        let mut cells = Vec::new();
        for i in 0..=steps as i64 {
            let at = area.centre + area.along * (area.half_length * (2.0 * i as f64 / steps - 1.0));
            let low = ((at.x - margin) / self.cell).floor() as i64..=((at.x + margin) / self.cell).floor() as i64;
            for x in low {
                let ys = ((at.y - margin) / self.cell).floor() as i64..=((at.y + margin) / self.cell).floor() as i64;
                cells.extend(ys.map(|y| (x, y)));
            }
        }
        cells.sort_unstable();
        cells.dedup();
        cells
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::base::plane::{direction, point};
    use crate::base::{Angle, Point};

    fn square(at: Point) -> Area {
        Area::new(at, point(1.0, 0.0), 2.0, 2.0)
    }

    #[test]
    fn takes_the_first_free_place_else_the_least_crowded() {
        let mut placer = Placer::new(5.0);
        placer.take(square(point(0.0, 0.0)), Ink::Solid);
        placer.take(square(point(0.5, 0.0)), Ink::Solid);
        placer.take(square(point(10.0, 0.0)), Ink::Solid);
        let choose = |xs: &[f64]| {
            placer.best(xs.iter().map(|x| (*x, vec![(square(point(*x, 0.0)), Ink::Solid)]))).map(|x| x as i64)
        };
        assert_eq!(choose(&[0.0, 10.0, 20.0, 30.0]), Some(20));
        assert_eq!(choose(&[0.0, 10.0]), Some(10));
        assert_eq!(choose(&[]), None);
    }

    #[test]
    fn lines_may_cross_lines_but_not_texts() {
        let mut placer = Placer::new(5.0);
        placer.take(square(point(0.0, 0.0)), Ink::Stroke);
        assert_eq!(placer.clashes(&(square(point(0.0, 0.0)), Ink::Stroke)), 0);
        assert!(placer.clashes(&(square(point(0.0, 0.0)), Ink::Solid)) > 0);
    }

    #[test]
    fn cells_miss_no_clash_with_a_long_slanted_rail() {
        let mut placer = Placer::new(7.0);
        let along = direction(Angle::from_degrees(31.0));
        placer.take(Area::new(point(0.0, 0.0), along, 1000.0, 3.0), Ink::Solid);
        for i in -20..=20 {
            let on_rail = along * (f64::from(i) * 24.9);
            let clashes = |at| placer.clashes(&(square(at), Ink::Solid));
            assert!(clashes(on_rail) > 0, "{i}");
            assert_eq!(clashes(on_rail + point(0.0, 6.0)), 0, "{i}");
        }
    }
}
