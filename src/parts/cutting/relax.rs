//! Bounds and shares by column generation: the program over the columns so far tells what pieces are worth, a knapsack
//! finds the fillings that are worth more than their stick, and they become columns (Gilmore and Gomory 1961, "A linear
//! programming approach to the cutting-stock problem", Operations Research 9).
//!
//! Worths are damped towards those of the best bound so far, which saves rounds (Wentges 1997, International Transactions
//! in Operational Research 4). Effort is counted in work done, never in time, so that the result is the same everywhere.

use std::collections::BTreeMap;

use super::dual::{self, Dual};
use super::knapsack::Table;
use super::model::{Column, Model, Rest};
use super::program::{self, TOLERANCE, Worths};

/// Weight of the best worths so far in the damping.
const DAMPING: f64 = 0.7;
/// Columns of the pool that are added to a program at once.
const AT_ONCE: usize = 40;
/// Columns are taken for the mixture when they are worth their cost within this, in the dearest stick's cost.
const TIGHT: f64 = 1e-4;
/// Columns are kept for the next states when they are worth their cost within this, in the dearest stick's cost.
const NEAR: f64 = 0.02;
/// Work of a step of a walk through the fillings: measured.
pub(super) const PER_STEP: u64 = 4;
/// Fillings from the pieces that the best ones leave, in each round.
const MORE: usize = 8;

/// When to stop.
#[derive(Debug, Clone, Copy)]
pub(super) struct Aim {
    /// A bound of so much is enough.
    pub cutoff: i64,
    /// A mixture that costs no more is good enough.
    pub enough: i64,
    /// Rounds at most.
    pub rounds: usize,
}

/// What is known about a state.
#[derive(Debug, Clone)]
pub(super) struct Relaxed {
    /// Worths that prove the bound.
    pub dual: Dual,
    /// No plan from here costs less.
    pub bound: i64,
    /// Columns of the cheapest mixture, as index into the pool, and how much of each.
    pub shares: Vec<(usize, f64)>,
    /// Columns that are nearly worth their cost: what to begin with in a state that comes of this one.
    pub near: Vec<usize>,
}

/// The tools of a search and what it has learned.
pub(super) struct Search<'a> {
    /// The job.
    pub model: &'a Model,
    /// All columns met so far.
    pub pool: Vec<Column>,
    known: BTreeMap<Column, usize>,
    /// Worths of a filling.
    pub table: Table,
    /// Work that may still be done, in about a nanosecond's worth.
    pub effort: i64,
}

impl<'a> Search<'a> {
    /// With nothing learned.
    pub fn new(model: &'a Model, effort: i64) -> Self {
        Self { model, pool: Vec::new(), known: BTreeMap::new(), table: Table::default(), effort }
    }

    /// Remembers a column; its index.
    pub fn learn(&mut self, column: Column) -> usize {
        let next = self.pool.len();
        *self.known.entry(column).or_insert_with_key(|c| {
            self.pool.push(c.clone());
            next
        })
    }

    /// Does something with a part of the effort that is left, in tenths.
    pub fn with_part<T>(&mut self, tenths: i64, something: impl FnOnce(&mut Self) -> T) -> T {
        let part = self.effort / 10 * tenths;
        let kept = self.effort - part;
        self.effort = part;
        let result = something(self);
        self.effort += kept;
        result
    }

    pub(super) fn charge(&mut self, work: u64) {
        self.effort = self.effort.saturating_sub(i64::try_from(work).unwrap_or(i64::MAX));
    }

    /// Bounds what is left.
    pub fn relax(&mut self, rest: &Rest, start: Option<&Relaxed>, aim: Aim) -> Relaxed {
        let model = self.model;
        let active = rest.active();
        self.charge(rest.demand.len() as u64);
        let centre = start.map_or_else(|| by_size(model, rest, &active), |s| floats(&s.dual, &active));
        let (dual, columns) = self.price(rest, &centre, |bin| model.cost(bin) as f64);
        let mut best = Best { bound: dual.bound(rest), fine: dual.exactly(rest), dual, centre };
        if let Some(dual) = start.map(|s| &s.dual).filter(|d| d.exactly(rest) >= best.fine) {
            best = Best { bound: dual.bound(rest), fine: dual.exactly(rest), dual: dual.clone(), ..best };
        }
        if best.bound >= aim.cutoff {
            return Relaxed { bound: best.bound, dual: best.dual, shares: Vec::new(), near: Vec::new() };
        }
        let mut lp = Worths::new(model, rest, &active);
        let mut inside = Inside { used: vec![false; self.pool.len()], list: Vec::new() };
        for index in self.first(rest, &active, &best.dual, start.map_or(&[], |s| &s.near), columns) {
            let _ = self.enter(&mut lp, &mut inside, index);
        }
        if self.run(&mut lp).is_some() {
            self.generate(rest, &mut lp, &mut inside, &mut best, aim);
        }
        let near = |i: &usize| self.pool.get(*i).is_some_and(|c| lp.excess(c) > -NEAR);
        let near: Vec<usize> = inside.list.into_iter().filter(near).collect();
        let shares = if best.bound < aim.cutoff { self.shares(rest, &active, &near, &lp) } else { Vec::new() };
        Relaxed { bound: best.bound, dual: best.dual, shares, near }
    }

    /// Adds columns while there are any that are worth more than their stick.
    fn generate(&mut self, rest: &Rest, lp: &mut Worths<'_>, inside: &mut Inside, best: &mut Best, aim: Aim) {
        let mut damping = DAMPING;
        for _ in 0..aim.rounds {
            if self.effort <= 0 || self.recall(lp, inside, rest).is_none() {
                return;
            }
            // A little less than the mixture's cost, so that a true bound counts as met in spite of rounding.
            let least = rest.spent.saturating_add((lp.objective() - 1e-6).ceil() as i64);
            if best.bound >= aim.cutoff || best.bound.max(aim.enough) >= least {
                return;
            }
            let worths = blend(&best.centre, &lp.worths(), damping);
            let (dual, columns) = self.price(rest, &worths, |bin| lp.threshold(bin));
            let fine = dual.exactly(rest);
            if fine > best.fine {
                *best = Best { bound: dual.bound(rest), fine, dual, centre: worths };
            }
            let count = inside.list.len();
            for column in columns {
                if lp.excess(&column) > TOLERANCE {
                    let index = self.learn(column);
                    if self.enter(lp, inside, index).is_none() {
                        return;
                    }
                }
            }
            // Damped worths may find nothing where the program's own do.
            damping = match inside.list.len() > count {
                true => DAMPING,
                false if damping > 0.0 => 0.0,
                false => return,
            };
        }
    }

    /// Columns to begin with: those near before, or the best of the pool by the first worths; the new ones; and for each
    /// piece one by itself.
    fn first(&mut self, rest: &Rest, active: &[usize], dual: &Dual, near: &[usize], new: Vec<Column>) -> Vec<usize> {
        let fits = |i: &usize| self.pool.get(*i).is_some_and(|c| rest.times(c) > 0);
        let mut first: Vec<usize> = near.iter().copied().filter(fits).collect();
        if first.is_empty() {
            let dear = |c: &Column| dual::scale(self.model.cost(c.bin), dual.exp) - dual.value(&c.takes);
            let fitting = self.pool.iter().enumerate().filter(|(_, c)| rest.times(c) > 0);
            let mut order: Vec<(i64, usize)> = fitting.map(|(i, c)| (dear(c), i)).collect();
            order.sort_unstable();
            first.extend(order.into_iter().map(|(_, i)| i).take(2 * active.len()));
        }
        let alone: Vec<Column> = active.iter().filter_map(|&i| alone(self.model, rest, i)).collect();
        first.extend(new.into_iter().chain(alone).map(|c| self.learn(c)));
        first
    }

    fn enter(&mut self, lp: &mut Worths<'_>, inside: &mut Inside, index: usize) -> Option<()> {
        if inside.has(index) {
            return Some(());
        }
        let entered = lp.add(self.pool.get(index)?)?;
        if entered {
            inside.put(index);
            self.charge(lp.work());
        }
        Some(())
    }

    fn run(&mut self, lp: &mut Worths<'_>) -> Option<()> {
        lp.solve()?;
        self.charge(lp.work());
        Some(())
    }

    /// Adds the columns of the pool that the program violates, until none is left.
    fn recall(&mut self, lp: &mut Worths<'_>, inside: &mut Inside, rest: &Rest) -> Option<()> {
        loop {
            let mut violated: Vec<(usize, f64)> = self
                .pool
                .iter()
                .enumerate()
                .filter(|(i, c)| !inside.has(*i) && rest.times(c) > 0)
                .map(|(i, c)| (i, lp.excess(c)))
                .filter(|(_, excess)| *excess > TOLERANCE)
                .collect();
            self.charge(self.pool.len() as u64 * 20);
            if violated.is_empty() || self.effort <= 0 {
                return Some(());
            }
            violated.sort_by(|a, b| b.1.total_cmp(&a.1).then(a.0.cmp(&b.0)));
            for (index, _) in violated.into_iter().take(AT_ONCE) {
                self.enter(lp, inside, index)?;
            }
        }
    }

    /// Proves a bound from worths, and finds fillings worth more than `threshold` says a stick must hold.
    fn price(&mut self, rest: &Rest, worths: &[(usize, f64)], threshold: impl Fn(usize) -> f64) -> (Dual, Vec<Column>) {
        let scaled = dual::scaled(self.model, worths);
        let cells = self.table.fill(self.model, rest, &scaled.profits);
        self.charge(cells / 2);
        let factor = f64::from(scaled.exp).exp2();
        let floors: Vec<u32> = (0..self.model.bins.len()).map(|b| (threshold(b).max(0.0) * factor) as u32).collect();
        let mut mosts = Vec::with_capacity(floors.len());
        let mut columns = Vec::new();
        for (bin, (&floor, &high)) in floors.iter().zip(&rest.high).enumerate() {
            let best = self.table.best(self.model.capacity(bin), if high == 0 { u32::MAX } else { floor });
            self.charge(u64::from(best.steps) * PER_STEP);
            mosts.push(best.most);
            columns.extend(best.found.map(|takes| Column { bin, takes }));
        }
        self.more(rest, &scaled.profits, &floors, &mut columns);
        (Dual::new(self.model, rest, &scaled, &mosts), columns)
    }

    /// Fillings from the pieces that the columns leave, so that each round tells something of every piece.
    fn more(&mut self, rest: &Rest, profits: &[(usize, u32)], floors: &[u32], columns: &mut Vec<Column>) {
        let mut left = rest.clone();
        let mut taken = 0;
        for _ in 0..MORE {
            for column in columns.iter().skip(taken) {
                left.take(self.model, column, 1);
            }
            if columns.len() == taken {
                return;
            }
            taken = columns.len();
            let cells = self.table.fill(self.model, &left, profits);
            self.charge(cells / 2);
            let kinds = floors.iter().zip(&rest.high).enumerate().filter(|(_, (_, high))| **high > 0);
            let best = |(bin, (floor, _)): (usize, (&u32, &u32))| {
                let best = self.table.best(self.model.capacity(bin), *floor);
                Some((best.most - floor.min(&best.most), Column { bin, takes: best.found? }))
            };
            // One at a time: the fillings of several kinds would share the best pieces.
            let next = kinds.filter_map(best).max_by(|a, b| a.0.cmp(&b.0).then(b.1.bin.cmp(&a.1.bin)));
            columns.extend(next.map(|(_, column)| column));
        }
    }

    fn shares(&mut self, rest: &Rest, active: &[usize], near: &[usize], lp: &Worths<'_>) -> Vec<(usize, f64)> {
        // Others have no share (complementary slackness).
        let tight = |(i, c): (usize, &Column)| (lp.excess(c) > -TIGHT).then_some(i);
        let list: Vec<usize> = near.iter().filter_map(|i| tight((*i, self.pool.get(*i)?))).collect();
        let columns: Vec<&Column> = list.iter().filter_map(|i| self.pool.get(*i)).collect();
        let (shares, work) = program::shares(self.model, rest, active, &columns);
        self.charge(work);
        list.into_iter().zip(shares).filter(|(_, share)| *share > 1e-6).collect()
    }
}

/// The best bound so far.
struct Best {
    dual: Dual,
    bound: i64,
    fine: f64,
    /// The worths that it came of.
    centre: Vec<(usize, f64)>,
}

/// Which columns of the pool are in a program.
struct Inside {
    used: Vec<bool>,
    list: Vec<usize>,
}

impl Inside {
    fn has(&self, index: usize) -> bool {
        self.used.get(index).copied().unwrap_or(false)
    }

    fn put(&mut self, index: usize) {
        if self.used.len() <= index {
            self.used.resize(index + 1, false);
        }
        if let Some(used) = self.used.get_mut(index) {
            *used = true;
        }
        self.list.push(index);
    }
}

/// As many of one item as a stick takes, from the kind where they cost least; `None` when none takes it.
fn alone(model: &Model, rest: &Rest, item: usize) -> Option<Column> {
    let room = |capacity: i64| {
        let count = (capacity - model.setup(model.row(item))) / model.weight(item).max(1);
        u32::try_from(count).unwrap_or(0).min(rest.left(item))
    };
    let kinds = model.bins.iter().zip(&rest.high).enumerate().filter(|(_, (_, high))| **high > 0);
    let counts = kinds.map(|(bin, (b, _))| (bin, b.cost, room(b.capacity))).filter(|(_, _, count)| *count > 0);
    let each = |&(bin, cost, count): &(usize, i64, u32)| (cost / i64::from(count), bin);
    counts.min_by_key(each).map(|(bin, _, count)| Column { bin, takes: vec![(item, count)] })
}

/// Worths by size alone, as if nothing were wasted.
fn by_size(model: &Model, rest: &Rest, active: &[usize]) -> Vec<(usize, f64)> {
    let kinds = model.bins.iter().zip(&rest.high).filter(|(b, high)| **high == u32::MAX && b.capacity > 0);
    let rate = kinds.map(|(b, _)| b.cost as f64 / b.capacity as f64).fold(f64::INFINITY, f64::min);
    let rate = if rate.is_finite() { rate } else { 0.0 };
    active.iter().map(|&i| (i, model.weight(i) as f64 * rate)).collect()
}

fn floats(dual: &Dual, active: &[usize]) -> Vec<(usize, f64)> {
    let factor = f64::from(-dual.exp).exp2();
    active.iter().map(|&i| (i, dual.worth.get(i).copied().unwrap_or(0) as f64 * factor)).collect()
}

fn blend(a: &[(usize, f64)], b: &[(usize, f64)], part: f64) -> Vec<(usize, f64)> {
    a.iter().zip(b).map(|((i, x), (_, y))| (*i, part * x + (1.0 - part) * y)).collect()
}
