//! The most that one stick can hold by value: an exact bounded knapsack.
//!
//! A table tells for each item and each free length the most that this and the later items can add. Where all sizes lie
//! on a grid that the table can hold, that is exact. On a finer grid sizes are rounded down, so that the table says too
//! much rather than too little, and a walk over the true sizes with the table as its bound finds the truth.

use super::model::{Model, Rest};

/// Cells of a row and of a table on the sizes' own grid: 1/64 in over 20 ft, and 32 MB.
const WIDTH: i64 = 16_000;
const CELLS: i64 = 8_000_000;
/// Cells of a row on a grid of its own, by the cells of the whole table, at least and at most.
const COARSE_CELLS: i64 = 500_000;
const COARSE_WIDTH: (i64, i64) = (2_500, 8_000);
/// So many of an item are tried one by one.
const FEW: u32 = 8;
/// Steps that a walk takes before it gives up.
const STEPS: u32 = 20_000;

/// One decision on the way through the items.
#[derive(Debug, Clone, Copy)]
enum Step {
    /// How many of an item.
    Item { item: usize, weight: i64, profit: u32, most: u32 },
    /// Whether a row is begun; if not, the walk goes on at `skip`.
    Row { setup: i64, skip: usize },
}

/// See the module.
#[derive(Debug, Default)]
pub(super) struct Table {
    steps: Vec<Step>,
    cells: Vec<Vec<u32>>,
    grid: i64,
    exact: bool,
}

/// The best filling of one kind of stick.
#[derive(Debug)]
pub(super) struct Best {
    /// No filling is worth more.
    pub most: u32,
    /// A filling that is worth more than the goal.
    pub found: Option<Vec<(usize, u32)>>,
    /// Steps taken.
    pub steps: u32,
}

fn gcd(a: i64, b: i64) -> i64 {
    if b == 0 { a } else { gcd(b, a % b) }
}

impl Table {
    /// Fills it for the pieces of `rest`, with what each item is worth. Gives the number of cells written.
    pub fn fill(&mut self, model: &Model, rest: &Rest, profits: &[(usize, u32)]) -> u64 {
        let longest = model.longest();
        self.steps.clear();
        self.steps(model, rest, profits, longest);
        self.set_grid(longest);
        let width = usize::try_from(longest / self.grid).unwrap_or(0) + 1;
        self.cells.resize_with(self.steps.len() + 1, Vec::new);
        for row in &mut self.cells {
            row.resize(width, 0);
        }
        if let Some(last) = self.cells.last_mut() {
            last.fill(0);
        }
        for (at, step) in self.steps.iter().enumerate().rev() {
            let (head, tail) = self.cells.split_at_mut(at + 1);
            let (Some(row), Some(next)) = (head.last_mut(), tail.first()) else { continue };
            match *step {
                Step::Item { weight, profit, most, .. } => item_row(row, next, weight / self.grid, profit, most),
                Step::Row { setup, skip } => {
                    if let Some(closed) = tail.get(skip - at - 1) {
                        row.copy_from_slice(closed);
                        raise(row, next, usize::try_from(setup / self.grid).unwrap_or(usize::MAX), 0);
                    }
                }
            }
        }
        (self.steps.len() as u64) * (width as u64)
    }

    fn steps(&mut self, model: &Model, rest: &Rest, profits: &[(usize, u32)], longest: i64) {
        let mut open: Option<(usize, usize)> = None;
        let close = |steps: &mut Vec<Step>, open: Option<(usize, usize)>| {
            let end = steps.len();
            if let Some(Step::Row { skip, .. }) = open.and_then(|(at, _)| steps.get_mut(at)) {
                *skip = end;
            }
        };
        for &(item, profit) in profits {
            let (row, weight) = (model.row(item), model.weight(item));
            let fits = u32::try_from(longest / weight.max(1)).unwrap_or(u32::MAX);
            let most = rest.left(item).min(fits);
            if most == 0 {
                continue;
            }
            if open.is_some_and(|(_, r)| r != row) || open.is_none() {
                close(&mut self.steps, open.take());
                open = Some((self.steps.len(), row));
                if model.setup(row) > 0 {
                    self.steps.push(Step::Row { setup: model.setup(row), skip: 0 });
                }
            }
            self.steps.push(Step::Item { item, weight, profit, most });
        }
        close(&mut self.steps, open);
    }

    fn set_grid(&mut self, longest: i64) {
        let mut grid = 0;
        for step in &self.steps {
            grid = gcd(
                match step {
                    Step::Item { weight, .. } => *weight,
                    Step::Row { setup, .. } => *setup,
                },
                grid,
            );
        }
        // Capacities may lie off the grid: what is over can hold nothing.
        let rows = self.steps.len() as i64 + 1;
        self.exact = grid > 0 && longest / grid < (CELLS / rows).min(WIDTH);
        let width = (COARSE_CELLS / rows).clamp(COARSE_WIDTH.0, COARSE_WIDTH.1);
        self.grid = if self.exact { grid } else { longest / width + 1 };
    }

    /// What the table promises for a free length from a step on.
    fn promise(&self, step: usize, free: i64) -> u32 {
        let at = usize::try_from(free / self.grid).unwrap_or(0);
        self.cells.get(step).and_then(|row| row.get(at)).copied().unwrap_or(0)
    }

    /// The best filling of `capacity`, if it is worth more than `floor`.
    pub fn best(&self, capacity: i64, floor: u32) -> Best {
        let mut best = Best { most: self.promise(0, capacity), found: None, steps: 0 };
        // From the promise downwards in growing steps: the first filling found is then near the best one.
        let mut below = if self.exact { 1 } else { (best.most.saturating_sub(floor) / 64).max(1) };
        while best.most > floor && best.found.is_none() {
            let aim = best.most.saturating_sub(below).max(floor);
            let mut walk = Walk::new(self, capacity, Some(aim), STEPS);
            best.found = walk.next();
            best.steps += STEPS - walk.steps;
            if best.found.is_none() {
                if !walk.done {
                    break;
                }
                best.most = aim;
                below = below.saturating_mul(2);
            }
        }
        best
    }

    /// All fillings of `capacity` with the first item of the table that are worth more than `floor`; `None` when they are
    /// more than `most` or too hard to find.
    pub fn all(&self, capacity: i64, floor: Option<u32>, most: usize, steps: u32) -> Option<Vec<Vec<(usize, u32)>>> {
        let must = self.steps.iter().position(|s| matches!(s, Step::Item { .. }));
        let mut walk = Walk { must, ..Walk::new(self, capacity, floor, steps) };
        let mut all = Vec::new();
        while let Some(found) = walk.next() {
            all.push(found);
            if all.len() > most {
                return None;
            }
        }
        // A row that is begun and left empty gives a filling twice.
        all.sort_unstable();
        all.dedup();
        walk.done.then_some(all)
    }
}

/// Row of an item: `next` with up to `most` of it.
fn item_row(row: &mut [u32], next: &[u32], weight: i64, profit: u32, most: u32) {
    row.copy_from_slice(next);
    let weight = usize::try_from(weight).unwrap_or(0);
    let Some(fits) = (row.len() - 1).checked_div(weight) else {
        return raise(row, next, 0, profit.saturating_mul(most));
    };
    if most as usize >= fits {
        // As many as fit: each cell may build on one that has some already.
        let mut at = weight;
        while at < row.len() {
            let (done, rest) = row.split_at_mut(at);
            let (_, from) = done.split_at(at - weight);
            for (cell, before) in rest.iter_mut().zip(from) {
                *cell = (*cell).max(before.saturating_add(profit));
            }
            at += weight;
        }
    } else if most <= FEW {
        for count in 1..=most as usize {
            raise(row, next, weight * count, profit.saturating_mul(count as u32));
        }
    } else {
        // In bundles of 1, 2, 4 ... and what is then left over: any number up to `most` is a sum of them.
        let mut left = most as usize;
        let mut bundle = 1;
        while left > 0 {
            let count = bundle.min(left);
            let before = row.to_vec();
            raise(row, &before, weight * count, profit.saturating_mul(count as u32));
            left -= count;
            bundle *= 2;
        }
    }
}

/// Raises each cell to the one `shift` before it in `from`, and `profit`.
fn raise(row: &mut [u32], from: &[u32], shift: usize, profit: u32) {
    if shift < row.len() {
        let (_, upper) = row.split_at_mut(shift);
        for (cell, before) in upper.iter_mut().zip(from) {
            *cell = (*cell).max(before.saturating_add(profit));
        }
    }
}

/// A walk through the fillings, depth first.
struct Walk<'a> {
    table: &'a Table,
    /// Step whose item is in every filling; all before it in the path is taken for granted.
    must: Option<usize>,
    /// Fillings must be worth more.
    floor: Option<u32>,
    /// Steps that may still be taken.
    steps: u32,
    free: i64,
    value: u32,
    at: usize,
    /// Step and what was chosen there.
    path: Vec<(usize, u32)>,
    /// Whether the next move is back.
    back: bool,
    /// Whether every filling was seen.
    done: bool,
}

impl<'a> Walk<'a> {
    const fn new(table: &'a Table, capacity: i64, floor: Option<u32>, steps: u32) -> Self {
        Self {
            table,
            must: None,
            floor,
            steps,
            free: capacity,
            value: 0,
            at: 0,
            path: Vec::new(),
            back: false,
            done: false,
        }
    }

    /// The next filling worth more than the floor; `None` at the end or after too many steps.
    fn next(&mut self) -> Option<Vec<(usize, u32)>> {
        while self.steps > 0 && !self.done {
            self.steps -= 1;
            if self.back {
                self.done = !self.retreat();
                continue;
            }
            let promise = self.value.saturating_add(self.table.promise(self.at, self.free));
            if self.floor.is_some_and(|floor| promise <= floor) {
                self.back = true;
            } else if self.at >= self.table.steps.len() {
                self.back = true;
                return Some(self.filling());
            } else {
                self.advance();
            }
        }
        None
    }

    fn advance(&mut self) {
        let Some(step) = self.table.steps.get(self.at) else { return };
        match *step {
            Step::Item { weight, profit, most, .. } => {
                let count = most.min(u32::try_from(self.free / weight.max(1)).unwrap_or(u32::MAX));
                if count > 0 {
                    self.path.push((self.at, count));
                    self.free -= weight * i64::from(count);
                    self.value += profit * count;
                }
                self.at += 1;
            }
            Step::Row { setup, skip } => {
                if setup <= self.free {
                    self.path.push((self.at, 1));
                    self.free -= setup;
                    self.at += 1;
                } else {
                    self.at = skip;
                }
            }
        }
    }

    /// Takes back one of the last choice; `false` at the beginning.
    fn retreat(&mut self) -> bool {
        let Some((at, count)) = self.path.pop() else { return false };
        if count == 1 && self.must.is_some_and(|must| at <= must) {
            return false;
        }
        match self.table.steps.get(at) {
            Some(&Step::Item { weight, profit, .. }) => {
                self.free += weight;
                self.value -= profit;
                if count > 1 {
                    self.path.push((at, count - 1));
                }
                self.at = at + 1;
            }
            Some(&Step::Row { setup, skip }) => {
                self.free += setup;
                self.at = skip;
            }
            None => return false,
        }
        self.back = false;
        true
    }

    fn filling(&self) -> Vec<(usize, u32)> {
        let item = |&(at, count): &(usize, u32)| match self.table.steps.get(at) {
            Some(Step::Item { item, .. }) => Some((*item, count)),
            _ => None,
        };
        let mut takes: Vec<(usize, u32)> = self.path.iter().filter_map(item).collect();
        takes.sort_unstable();
        takes
    }
}

#[cfg(test)]
mod tests {
    use super::super::model::{Bin, Item};
    use super::*;

    fn model(weights: &[i64], setups: &[(usize, i64)], capacity: i64) -> Model {
        let row = |i: usize| setups.iter().rposition(|(first, _)| *first <= i).unwrap();
        Model {
            items: weights.iter().enumerate().map(|(i, w)| Item { weight: *w, row: row(i) }).collect(),
            setups: setups.iter().map(|s| s.1).collect(),
            bins: vec![Bin { capacity, cost: 1, limit: None }],
            miss: 1,
            unit: 1,
            scarce: false,
        }
    }

    /// The best worth of all fillings, by trying them all.
    fn brute(model: &Model, demand: &[u32], worth: &[u32], at: usize, free: i64, row: usize) -> u32 {
        if at == demand.len() {
            return 0;
        }
        let mut best = brute(model, demand, worth, at + 1, free, row);
        let begin = if model.row(at) == row { 0 } else { model.setup(model.row(at)) };
        for count in 1..=demand[at] {
            let left = free - begin - model.weight(at) * i64::from(count);
            if left >= 0 {
                best = best.max(worth[at] * count + brute(model, demand, worth, at + 1, left, model.row(at)));
            }
        }
        best
    }

    /// On a grid that the table holds, and on one that it does not.
    #[test]
    fn the_best_filling_is_that_of_trying_them_all() {
        for (grid, off) in [(1, 0), (1_000_003, 1)] {
            let mut seed = 1_u64;
            let mut dice = |most: i64| {
                seed = seed.wrapping_mul(6_364_136_223_846_793_005).wrapping_add(1_442_695_040_888_963_407);
                (seed >> 33) as i64 % most
            };
            for job in 0..60 {
                let mut weights: Vec<i64> = (0..6).map(|i| (9 + dice(40)) * grid + off * i).collect();
                weights[..3].sort_by(|a, b| b.cmp(a));
                let model = model(&weights, &[(0, 0), (3, dice(12) * grid), (5, dice(12) * grid)], 120 * grid);
                let demand: Vec<u32> = (0..6).map(|_| dice(if job % 2 == 0 { 3 } else { 14 }) as u32).collect();
                let worth: Vec<u32> = (0..6).map(|_| 1 + dice(50) as u32).collect();
                let profits: Vec<(usize, u32)> = worth.iter().copied().enumerate().collect();
                let rest = model.whole(demand.clone());
                let mut table = Table::default();
                table.fill(&model, &rest, &profits);
                let best = brute(&model, &demand, &worth, 0, 120 * grid, 0);
                let found = table.best(120 * grid, 0);
                assert_eq!(found.most.max(best), found.most, "no filling is worth more");
                let value = |takes: &[(usize, u32)]| takes.iter().map(|t| worth[t.0] * t.1).sum::<u32>();
                let none = table.best(120 * grid, best);
                assert!(none.found.is_none() && none.most == best, "{job}: {none:?}, {best}");
                if best > 0 {
                    let takes = table.best(120 * grid, best - 1).found.unwrap();
                    assert_eq!((value(&takes), model.need(&takes) <= 120 * grid), (best, true), "{job}");
                    assert!(takes.iter().all(|t| t.1 <= demand[t.0]));
                }
                let all = table.all(120 * grid, None, 100_000, 10_000_000).unwrap();
                assert!(all.iter().all(|takes| model.need(takes) <= 120 * grid));
                assert!(all.windows(2).all(|pair| pair[0] < pair[1]), "each filling once");
            }
        }
    }
}
