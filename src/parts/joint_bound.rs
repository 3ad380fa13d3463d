//! What no choice of bays can cost less than, by worths of rails.
//!
//! Give every rail length a worth such that no stick's pieces are worth more than the stick costs. Then the pieces of any
//! job are worth no more than its sticks cost, so each stretch costs at least its cheapest way at these worths, posts
//! included. The best worths are those of a linear program whose rows, one for each way to fill a stick, are found one
//! after the other by filling sticks at the worths so far. The solver is not relied on: what it gives is rounded down to
//! whole numbers and checked before it counts.

use std::collections::BTreeMap;

use microlp::{ComparisonOp, OptimizationDirection, Problem, Solution, Variable};

use crate::base::Length;

/// Ways to fill sticks that are added at most.
const MOST_ROWS: usize = 400;
/// Work for the program, in cells of sticks looked at and entries of the program: a fraction of a second.
const MOST_WORK: usize = 60_000_000;
/// Worths are in thousandths of the unit of cost, so that rounding them down costs less than one unit a thousand rails.
pub(super) const FINE: i64 = 1_000;

/// A way to divide a stretch: its rails, and what its posts cost.
pub(super) struct Way {
    pub rails: Vec<Length>,
    pub posts: i64,
}

/// A stick: what fits in it, kerf included, and its cost.
pub(super) struct Stick {
    pub room: Length,
    pub cost: i64,
}

/// What there is to choose: one way for each stretch; `fixed` are rails that are cut whatever is chosen.
pub(super) struct Task {
    pub stretches: Vec<Vec<Way>>,
    pub fixed: Vec<Length>,
    pub sticks: Vec<Stick>,
    pub kerf: Length,
}

/// What worths of rails say.
pub(super) struct Bound {
    /// No choice costs less, in thousandths of the unit of cost.
    pub total: i64,
    /// In the same unit; no stick's filling is worth more than the stick.
    pub worths: BTreeMap<Length, i64>,
    /// For each stretch the way that is cheapest at these worths.
    pub picks: Vec<usize>,
}

impl Bound {
    /// What no choice costs less than.
    pub fn least(&self) -> i64 {
        self.total.div_euclid(FINE) + i64::from(self.total.rem_euclid(FINE) > 0)
    }

    /// Worth of a rail.
    pub fn worth(&self, rail: Length) -> i64 {
        self.worths.get(&rail).copied().unwrap_or(0)
    }

    /// Cost of a way at these worths.
    pub fn way(&self, way: &Way) -> i64 {
        way.rails.iter().map(|r| self.worth(*r)).sum::<i64>() + way.posts * FINE
    }
}

/// The bound; `None` where the job is too large for it or the program fails.
pub(super) fn bound(task: &Task) -> Option<Bound> {
    let rails = task.stretches.iter().flatten().flat_map(|w| &w.rails).chain(&task.fixed);
    let mut at: BTreeMap<Length, usize> = rails.map(|r| (*r, 0)).collect();
    for (i, place) in at.values_mut().enumerate() {
        *place = i;
    }
    let grid = Grid::new(at.keys().copied(), task)?;
    let entries: usize = task.stretches.iter().flatten().map(|w| w.rails.len() + 1).sum();
    if grid.work().saturating_mul(40) > MOST_WORK || entries.saturating_mul(at.len()) > MOST_WORK / 8 {
        return None;
    }
    let worths = Job { task, at: &at }.worths(&grid)?;
    // A longer rail is worth at least as much as a shorter one: it could stand in for it in any stick.
    let mut most = 0;
    let mut rising = |(rail, i): (&Length, &usize)| {
        most = most.max(*worths.get(*i)?);
        Some((*rail, most))
    };
    let worths = at.iter().map(&mut rising).collect::<Option<_>>()?;
    let mut bound = Bound { total: 0, worths, picks: Vec::with_capacity(task.stretches.len()) };
    bound.total = task.fixed.iter().map(|r| bound.worth(*r)).sum();
    for ways in &task.stretches {
        let (pick, least) = ways.iter().map(|w| bound.way(w)).enumerate().min_by_key(|(_, cost)| *cost)?;
        bound.picks.push(pick);
        bound.total += least;
    }
    Some(bound)
}

/// Sticks and rails on a grid so coarse that filling is quick: rails are rounded down to it and sticks up, so that every
/// real filling is one on the grid, too.
pub(super) struct Grid<'a> {
    sizes: Vec<usize>,
    rooms: Vec<usize>,
    sticks: &'a [Stick],
}

/// A sixteenth of an inch: rails lie on it or on the millimetre, which loses little.
const CELL: Length = Length::from_nanometres(1_587_500);

impl<'a> Grid<'a> {
    /// For rails of these lengths.
    pub fn new(rails: impl Iterator<Item = Length>, task: &'a Task) -> Option<Self> {
        let sticks = &task.sticks;
        let size = |l: Length| usize::try_from((l + task.kerf).whole_steps(CELL)).ok().filter(|s| *s > 0);
        let sizes = rails.map(size).collect::<Option<Vec<_>>>()?;
        let rooms = sticks.iter().map(|s| Self::cells(s.room)).collect::<Option<Vec<_>>>()?;
        (!rooms.is_empty()).then_some(Self { sizes, rooms, sticks })
    }

    /// Cells of a room.
    pub fn cells(room: Length) -> Option<usize> {
        usize::try_from(-(-room).whole_steps(CELL)).ok()
    }

    fn work(&self) -> usize {
        self.sizes.len().saturating_mul(self.rooms.iter().copied().max().unwrap_or(0))
    }

    /// The most that a filling of each room up to the largest is worth, and the rail that was put in last.
    pub fn filled<T: Copy + PartialOrd + std::ops::Add<Output = T>>(
        &self,
        worths: &[T],
        none: T,
    ) -> Vec<(T, Option<usize>)> {
        let most = self.rooms.iter().copied().max().unwrap_or(0);
        let mut best: Vec<(T, Option<usize>)> = Vec::with_capacity(most + 1);
        for room in 0..=most {
            // What fits a smaller room fits this one.
            let mut found = best.last().map_or((none, None), |(worth, _)| (*worth, None));
            for (rail, (size, worth)) in self.sizes.iter().zip(worths).enumerate() {
                let Some(before) = room.checked_sub(*size).and_then(|r| best.get(r)) else { continue };
                let sum = before.0 + *worth;
                if sum > found.0 {
                    found = (sum, Some(rail));
                }
            }
            best.push(found);
        }
        best
    }

    /// The filling behind an entry of [`Grid::filled`]: how often each rail.
    fn filling<T>(&self, best: &[(T, Option<usize>)], mut room: usize) -> BTreeMap<usize, u32> {
        let mut taken = BTreeMap::new();
        while let Some((_, last)) = best.get(room) {
            match last {
                Some(rail) => {
                    *taken.entry(*rail).or_default() += 1;
                    room = room.saturating_sub(self.sizes.get(*rail).copied().unwrap_or(usize::MAX));
                }
                None if room == 0 => break,
                None => room -= 1,
            }
        }
        taken
    }

    /// Worths in whole numbers that no stick's filling exceeds, from those that the solver gave.
    fn sound(&self, worths: &[f64]) -> Vec<i64> {
        let mut scale = 1.0_f64;
        let best = self.filled(worths, 0.0);
        for (stick, room) in self.sticks.iter().zip(&self.rooms) {
            let worth = best.get(*room).map_or(0.0, |b| b.0);
            if worth > stick.cost as f64 {
                scale = scale.min(stick.cost as f64 / worth);
            }
        }
        let fine = |w: &f64| ((w * scale * FINE as f64) * (1.0 - 1e-12)).floor().max(0.0) as i64;
        let mut whole: Vec<i64> = worths.iter().map(fine).collect();
        // The sums above were rounded; what is left over goes off every worth.
        loop {
            let best = self.filled(&whole, 0);
            let over = self
                .sticks
                .iter()
                .zip(&self.rooms)
                .any(|(stick, room)| best.get(*room).is_some_and(|b| b.0 > stick.cost.saturating_mul(FINE)));
            if !over {
                return whole;
            }
            whole.iter_mut().for_each(|w| *w = (*w - 1).max(0));
        }
    }
}

/// A job with its rails numbered by length.
struct Job<'a> {
    task: &'a Task,
    at: &'a BTreeMap<Length, usize>,
}

impl Job<'_> {
    /// The best worths, in thousandths of the unit of cost.
    fn worths(&self, grid: &Grid<'_>) -> Option<Vec<i64>> {
        let dearest = grid.sticks.iter().map(|s| s.cost).max()?.max(1) as f64;
        let (mut solution, rails) = self.program(grid, dearest)?;
        for _ in 0..MOST_ROWS {
            let worths: Vec<f64> = rails.iter().map(|v| solution.var_value(*v).max(0.0)).collect();
            let best = grid.filled(&worths, 0.0);
            let over = grid.sticks.iter().zip(&grid.rooms).filter_map(|(stick, room)| {
                let excess = best.get(*room)?.0 - stick.cost as f64 / dearest;
                (excess > 1e-7).then_some((excess, *room, stick.cost as f64 / dearest))
            });
            let Some((_, room, cost)) = over.max_by(|a, b| a.0.total_cmp(&b.0)) else { break };
            let row = grid.filling(&best, room);
            let terms: Vec<(Variable, f64)> =
                row.iter().filter_map(|(i, n)| Some((*rails.get(*i)?, f64::from(*n)))).collect();
            solution = solution.add_constraint(terms, ComparisonOp::Le, cost).ok()?.into_solution().ok()?;
        }
        let worths: Vec<f64> = rails.iter().map(|v| solution.var_value(*v).max(0.0) * dearest).collect();
        Some(grid.sound(&worths))
    }

    /// The program with the rows of sticks filled with one kind of rail: what each stretch is worth is at most each of its
    /// ways. Costs are in the dearest stick's, to keep numbers near 1.
    fn program(&self, grid: &Grid<'_>, dearest: f64) -> Option<(Solution, Vec<Variable>)> {
        let mut problem = Problem::new(OptimizationDirection::Maximize);
        let mut weight = vec![0.0; self.at.len()];
        for rail in &self.task.fixed {
            *weight.get_mut(*self.at.get(rail)?)? += 1.0;
        }
        let rails: Vec<Variable> = weight.iter().map(|w| problem.add_var(*w, (0.0, 1.0))).collect();
        for ways in &self.task.stretches {
            let most: f64 = ways.iter().map(|w| w.rails.len() as f64 + w.posts as f64 / dearest).fold(0.0, f64::max);
            let stretch = problem.add_var(1.0, (0.0, most));
            for way in ways {
                let mut count: BTreeMap<usize, f64> = BTreeMap::new();
                for rail in &way.rails {
                    *count.entry(*self.at.get(rail)?).or_default() += 1.0;
                }
                let mut terms = vec![(stretch, 1.0)];
                terms.extend(count.iter().filter_map(|(i, n)| Some((*rails.get(*i)?, -n))));
                problem.add_constraint(terms, ComparisonOp::Le, way.posts as f64 / dearest);
            }
        }
        for (var, size) in rails.iter().zip(&grid.sizes) {
            for (stick, room) in grid.sticks.iter().zip(&grid.rooms) {
                let pieces = room / size;
                if pieces > 0 {
                    let terms = [(*var, pieces as f64)];
                    problem.add_constraint(terms, ComparisonOp::Le, stick.cost as f64 / dearest);
                }
            }
        }
        Some((problem.solve().ok()?.into_solution().ok()?, rails))
    }
}
