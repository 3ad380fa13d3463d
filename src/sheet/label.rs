//! The label placer: keeps what is taken, and finds the first free place among candidates.

use std::collections::HashMap;

use super::text::Area;

/// Steps in which the cells of one area are taken before it is cut off: more than any text or rail of a sane drawing, few
/// enough that a rail of a kilometre cannot eat the memory.
const MOST_STEPS: f64 = 4_000.0;

/// So often two areas are compared on one drawing, some hundred times what a large site asks for: thousands of things that
/// lie on each other have no free place.
const MOST_COMPARED: u64 = 30_000_000;

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

/// What was taken, and the last question for which it was looked at: an area lies in many cells.
#[derive(Debug)]
struct Taken {
    cover: Cover,
    seen: u64,
}

/// What is taken on a drawing, in square cells so that large plans stay quick.
#[derive(Debug)]
pub(super) struct Placer {
    cell: f64,
    taken: Vec<Taken>,
    /// By their cells; no order of theirs comes out.
    cells: HashMap<(i64, i64), Vec<usize>>,
    asked: u64,
    /// How often two areas were compared.
    compared: u64,
    /// How many things got their first place unseen, since that was too often.
    unseen: usize,
}

impl Placer {
    /// A placer whose cells are `cell` wide: a few times a usual label.
    pub(super) fn new(cell: f64) -> Self {
        Self { cell, taken: Vec::new(), cells: HashMap::new(), asked: 0, compared: 0, unseen: 0 }
    }

    /// Takes an area.
    pub(super) fn take(&mut self, area: Area, ink: Ink) {
        let index = self.taken.len();
        self.taken.push(Taken { cover: (area, ink), seen: 0 });
        for cell in cells_of(self.cell, &area) {
            self.cells.entry(cell).or_default().push(index);
        }
    }

    /// How badly a cover would clash with what is taken: 0 is free. A text on a text is worse than one on a line. From
    /// `enough` on it is not counted on.
    fn clashes(&mut self, (area, ink): &Cover, enough: u32) -> u32 {
        self.asked += 1;
        let mut sum = 0;
        for cell in cells_of(self.cell, area) {
            for index in self.cells.get(&cell).into_iter().flatten() {
                self.compared += 1;
                let Some(taken) = self.taken.get_mut(*index).filter(|t| t.seen < self.asked) else { continue };
                taken.seen = self.asked;
                let weight = match (ink, taken.cover.1) {
                    (Ink::Solid, Ink::Solid) => 10,
                    (Ink::Stroke, Ink::Solid) | (Ink::Solid, Ink::Stroke) => 3,
                    (Ink::Stroke, Ink::Stroke) => continue,
                };
                sum += if taken.cover.0.overlaps(area) { weight } else { 0 };
                if sum >= enough {
                    return sum;
                }
            }
        }
        sum
    }

    /// How many things stand where they would without regard to others: more than can be told apart lies here.
    pub(super) fn unseen(&self) -> usize {
        self.unseen
    }

    /// Whether covers clash with nothing that is taken, as far as is known.
    pub(super) fn is_free(&mut self, covers: &[Cover]) -> bool {
        self.compared < MOST_COMPARED && covers.iter().all(|cover| self.clashes(cover, 1) == 0)
    }

    /// The first candidate whose covers are all free, else the one that clashes least.
    pub(super) fn best<T>(&mut self, candidates: impl IntoIterator<Item = (T, Vec<Cover>)>) -> Option<T> {
        let mut best: Option<T> = None;
        let mut least = u32::MAX;
        for (candidate, covers) in candidates {
            if self.compared >= MOST_COMPARED {
                self.unseen += usize::from(best.is_none());
                return best.or(Some(candidate));
            }
            let mut clashes = 0;
            for cover in &covers {
                clashes += self.clashes(cover, least - clashes);
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
}

/// Cells of a size under an area, each once, along its length in steps of half a cell, so that a long slanted rail does not
/// take the whole square around it.
fn cells_of(cell: f64, area: &Area) -> impl Iterator<Item = (i64, i64)> + use<> {
    let Area { centre, along, half_length, half_breadth } = *area;
    let margin = half_breadth + cell / 2.0;
    let steps = (4.0 * half_length / cell).ceil().clamp(1.0, MOST_STEPS);
    let square = move |i: i64| {
        let at = centre + along * (half_length * (2.0 * i as f64 / steps - 1.0));
        let range = |at: f64| ((at - margin) / cell).floor() as i64..=((at + margin) / cell).floor() as i64;
        (range(at.x), range(at.y))
    };
    (0..=steps as i64).flat_map(move |i| {
        let (xs, ys) = square(i);
        // Steps go one way, so a cell of an earlier one lies in the last one, too.
        let before = (i > 0).then(|| square(i - 1));
        xs.flat_map(move |x| ys.clone().map(move |y| (x, y)))
            .filter(move |(x, y)| before.as_ref().is_none_or(|(xs, ys)| !(xs.contains(x) && ys.contains(y))))
    })
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
        let mut choose = |xs: &[f64]| {
            placer.best(xs.iter().map(|x| (*x, vec![(square(point(*x, 0.0)), Ink::Solid)]))).map(|x| x as i64)
        };
        assert_eq!(choose(&[0.0, 10.0, 20.0, 30.0]), Some(20));
        assert_eq!(choose(&[0.0, 10.0]), Some(10));
        assert_eq!(choose(&[]), None);
    }

    /// Twice as many labels beside each other ask for twice as many comparisons; on each other, for no end of them.
    #[test]
    fn comparisons_grow_with_the_labels_and_end() {
        let compared = |count: i32, apart: f64| {
            let mut placer = Placer::new(5.0);
            for i in 0..count {
                let at = |step: i32| point(f64::from(i % 100) * apart, f64::from(i / 100) * apart + f64::from(step));
                let places = (0..9).map(|step| (at(step), vec![(square(at(step)), Ink::Solid)]));
                let at = placer.best(places).unwrap();
                placer.take(square(at), Ink::Solid);
            }
            (placer.compared, placer.unseen())
        };
        let (few, many) = (compared(4_000, 8.0), compared(8_000, 8.0));
        assert!(few.0 > 4_000 && many.0 * 10 < few.0 * 26, "{few:?} {many:?}");
        assert_eq!((few.1, many.1), (0, 0));
        let (stacked, unseen) = compared(20_000, 0.0);
        assert!(stacked < MOST_COMPARED + 200_000 && unseen > 0, "{stacked} {unseen}");
    }

    #[test]
    fn lines_may_cross_lines_but_not_texts() {
        let mut placer = Placer::new(5.0);
        placer.take(square(point(0.0, 0.0)), Ink::Stroke);
        assert_eq!(placer.clashes(&(square(point(0.0, 0.0)), Ink::Stroke), u32::MAX), 0);
        assert!(placer.clashes(&(square(point(0.0, 0.0)), Ink::Solid), u32::MAX) > 0);
    }

    #[test]
    fn cells_miss_no_clash_with_a_long_slanted_rail() {
        let mut placer = Placer::new(7.0);
        let along = direction(Angle::from_degrees(31.0));
        placer.take(Area::new(point(0.0, 0.0), along, 1000.0, 3.0), Ink::Solid);
        for i in -20..=20 {
            let on_rail = along * (f64::from(i) * 24.9);
            let mut clashes = |at| placer.clashes(&(square(at), Ink::Solid), u32::MAX);
            assert!(clashes(on_rail) > 0, "{i}");
            assert_eq!(clashes(on_rail + point(0.0, 6.0)), 0, "{i}");
        }
    }
}
