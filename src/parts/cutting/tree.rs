//! Branch and bound over what the largest piece left is cut with. Each state is a job of the same kind, only smaller, so
//! it is bounded in the same way.

use std::cmp::Reverse;
use std::collections::{BTreeMap, BTreeSet};
use std::rc::Rc;

use super::dive::Dive;
use super::dual::{self, Dual};
use super::model::{Column, Model, Rest, Sticks};
use super::relax::{Aim, PER_STEP, Relaxed, Search};

/// Rounds of column generation in a state.
const ROUNDS: usize = 100;
/// States kept at once.
const STATES: usize = 20_000;
/// Steps of the walk through them.
const WALK: u32 = 200_000;
/// Fillings that one piece may be cut with; beyond, a state is left open.
const FILLINGS: usize = 3_000;

/// A state still to be looked at.
struct State {
    rest: Rest,
    bound: i64,
    /// What is known of the state that it comes of.
    from: Rc<Relaxed>,
    /// Columns decided for.
    chosen: Vec<(Column, u32)>,
}

/// What a search ends with.
pub(super) struct Found {
    /// The best plan, if one cheaper than the goal was found.
    pub best: Option<Sticks>,
    /// No plan costs less, or none costs less than the goal.
    pub bound: i64,
}

struct Tree<'s, 'a> {
    search: &'s mut Search<'a>,
    /// States, those with the fewest pieces first: the search goes deep before it goes wide.
    queue: BTreeMap<(u64, i64, u64), State>,
    seen: BTreeSet<Rest>,
    best: Option<Sticks>,
    cutoff: i64,
    /// Least bound of the states that were given up.
    open: i64,
    count: u64,
}

impl Search<'_> {
    /// Looks for a plan for `rest` that costs less than `cutoff`, over at most so many states, until one costs no more
    /// than `goal`. `relaxed` is what is known of `rest`.
    pub fn tree(&mut self, rest: &Rest, relaxed: &Relaxed, cutoff: i64, goal: i64, states: u32) -> Found {
        let mut tree = Tree {
            search: self,
            queue: BTreeMap::new(),
            seen: BTreeSet::new(),
            best: None,
            cutoff,
            open: i64::MAX,
            count: 0,
        };
        let from = Rc::new(relaxed.clone());
        tree.push(State { rest: rest.clone(), bound: relaxed.bound, from, chosen: Vec::new() });
        let mut looked = 0;
        while tree.cutoff > goal
            && let Some((_, state)) = tree.queue.pop_first()
        {
            if looked >= states || tree.search.effort <= 0 {
                tree.open = tree.open.min(state.bound);
                break;
            }
            looked += 1;
            tree.look(state);
        }
        let left = tree.queue.values().map(|s| s.bound).min().unwrap_or(i64::MAX);
        Found { bound: tree.open.min(left).min(tree.cutoff), best: tree.best }
    }
}

impl Tree<'_, '_> {
    fn push(&mut self, state: State) {
        if state.bound >= self.cutoff {
            return;
        }
        if self.queue.len() >= STATES {
            self.open = self.open.min(state.bound);
            return;
        }
        if self.seen.insert(state.rest.clone()) {
            self.count += 1;
            self.queue.insert((state.rest.pieces(), state.bound, self.count), state);
        }
    }

    fn improve(&mut self, chosen: &[(Column, u32)], plan: Sticks) {
        if plan.cost < self.cutoff {
            self.cutoff = plan.cost;
            let mut columns = chosen.to_vec();
            columns.extend(plan.columns);
            self.best = Some(Sticks { columns, cost: plan.cost });
        }
    }

    fn look(&mut self, state: State) {
        let State { rest, bound, from, chosen } = state;
        if rest.pieces() == 0 {
            return self.improve(&chosen, Sticks { columns: Vec::new(), cost: rest.spent });
        }
        if bound >= self.cutoff {
            return;
        }
        let relaxed = self.search.relax(&rest, Some(&from), Aim { cutoff: self.cutoff, enough: bound, rounds: ROUNDS });
        let bound = bound.max(relaxed.bound);
        if bound >= self.cutoff {
            return;
        }
        if let Some(plan) = self.search.dive(&rest, &relaxed, self.cutoff, Dive { part: 1, tail: 0, again: 0 }) {
            self.improve(&chosen, plan);
        }
        if bound < self.cutoff {
            self.branch(bound, &rest, relaxed, &chosen);
        }
    }

    /// One state for each filling with which one of the largest pieces can be cut.
    fn branch(&mut self, bound: i64, rest: &Rest, relaxed: Relaxed, chosen: &[(Column, u32)]) {
        let model = self.search.model;
        let Some(item) = rest.active().into_iter().max_by_key(|i| (model.alone(*i), Reverse(*i))) else { return };
        let from = Rc::new(relaxed);
        let Some(columns) = self.fillings(rest, &from.dual, item) else {
            self.open = self.open.min(bound);
            return;
        };
        let mut next = |rest: Rest, column: Option<Column>| {
            let bound = bound.max(from.dual.bound(&rest));
            let mut chosen = chosen.to_vec();
            chosen.extend(column.map(|c| (c, 1)));
            self.push(State { rest, bound, from: Rc::clone(&from), chosen });
        };
        for column in columns {
            let mut with = rest.clone();
            with.take(model, &column, 1);
            next(with, Some(column));
        }
        let mut without = rest.clone();
        without.spent = without.spent.saturating_add(model.miss);
        if let Some(d) = without.demand.get_mut(item) {
            *d = d.saturating_sub(1);
        }
        next(without, None);
    }

    /// All fillings with the item that a plan below the cutoff can use and to which no piece left can be added.
    fn fillings(&mut self, rest: &Rest, dual: &Dual, item: usize) -> Option<Vec<Column>> {
        let model = self.search.model;
        let worth = |i: usize| u32::try_from(dual.worth.get(i).copied().unwrap_or(0)).unwrap_or(u32::MAX);
        // The item's row first, so that the item is the first one of the table.
        let mut order = rest.active();
        order.sort_by_key(|i| (model.row(*i) != model.row(item), *i));
        let profits: Vec<(usize, u32)> = order.into_iter().map(|i| (i, worth(i))).collect();
        let cells = self.search.table.fill(model, rest, &profits);
        self.search.charge(cells / 2);
        let limit = dual::scale(self.cutoff - 1 - rest.spent, dual.exp);
        let room = i64::try_from(i128::from(limit) - dual.total(rest)).unwrap_or(i64::MAX);
        let mut columns = Vec::new();
        for (bin, kind) in model.bins.iter().enumerate() {
            if rest.high.get(bin) == Some(&0) || kind.capacity < model.alone(item) {
                continue;
            }
            // One stick less of the kind brings back what the bound lost to it.
            let relief = dual.slack.get(bin).map_or(0, |s| (*s).min(0));
            let least = dual::scale(kind.cost, dual.exp).saturating_sub(room.saturating_add(relief));
            let floor = u32::try_from(least.saturating_sub(2)).ok();
            let all = self.search.table.all(kind.capacity, floor, FILLINGS, WALK)?;
            self.search.charge(all.len() as u64 * 500 + u64::from(WALK) * PER_STEP / 10);
            let full = |takes: &Vec<(usize, u32)>| is_full(model, rest, takes, kind.capacity);
            columns.extend(all.into_iter().filter(full).map(|takes| Column { bin, takes }));
        }
        Some(columns)
    }
}

/// Whether no piece that is left fits beside a filling.
fn is_full(model: &Model, rest: &Rest, takes: &[(usize, u32)], capacity: i64) -> bool {
    let free = capacity - model.need(takes);
    let taken = |item: usize| takes.iter().find(|t| t.0 == item).map_or(0, |t| t.1);
    !rest.active().into_iter().any(|item| {
        let begun = takes.iter().any(|t| model.row(t.0) == model.row(item));
        let more = model.weight(item) + if begun { 0 } else { model.setup(model.row(item)) };
        rest.left(item) > taken(item) && more <= free
    })
}
