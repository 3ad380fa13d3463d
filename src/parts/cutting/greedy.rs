//! Plans by best fit, longest first: quick, feasible, and something for the search to beat.

use std::collections::BTreeSet;

use super::model::{Column, Model, Rest, Sticks};

/// A stick that is being filled.
struct Open {
    bin: usize,
    takes: Vec<(usize, u32)>,
}

/// Sticks that are being filled, by free length: those in which the row at hand has begun, and all others.
struct Floor<'a> {
    model: &'a Model,
    sticks: Vec<Open>,
    here: BTreeSet<(i64, usize)>,
    others: BTreeSet<(i64, usize)>,
}

/// The cheapest of the plans with each kind of stick as the usual one.
pub(super) fn plan(model: &Model, rest: &Rest) -> Sticks {
    let kinds = model.bins.iter().zip(&rest.high).enumerate().filter(|(_, (_, high))| **high == u32::MAX);
    let plans = kinds.map(|(bin, _)| fill(model, rest, bin)).min_by_key(|p| p.cost);
    plans.unwrap_or_else(|| fill(model, rest, usize::MAX))
}

fn fill(model: &Model, rest: &Rest, usual: usize) -> Sticks {
    let mut floor = Floor { model, sticks: Vec::new(), here: BTreeSet::new(), others: BTreeSet::new() };
    let pieces = u32::try_from(rest.pieces()).unwrap_or(u32::MAX);
    for (bin, high) in rest.high.iter().enumerate().filter(|(_, h)| **h != u32::MAX) {
        for _ in 0..(*high).min(pieces) {
            floor.others.insert((model.capacity(bin), floor.sticks.len()));
            floor.sticks.push(Open { bin, takes: Vec::new() });
        }
    }
    let mut missing = 0_i64;
    let mut row = 0;
    for item in rest.active() {
        if model.row(item) != row {
            row = model.row(item);
            floor.others.append(&mut floor.here);
        }
        for _ in 0..rest.left(item) {
            if !floor.put(item, usual) {
                missing += 1;
            }
        }
    }
    floor.finish(rest.spent.saturating_add(model.miss.saturating_mul(missing)))
}

impl Floor<'_> {
    /// Puts a piece where the least is left over, or into a new stick; `false` when no stick takes it.
    fn put(&mut self, item: usize, usual: usize) -> bool {
        let (weight, setup) = (self.model.weight(item), self.model.setup(self.model.row(item)));
        let first = |set: &BTreeSet<(i64, usize)>, need: i64| set.range((need, 0)..).next().copied();
        let here = first(&self.here, weight);
        let other = first(&self.others, weight + setup);
        let (free, stick) = match (here, other) {
            (Some(h), Some(o)) if o.0 - setup < h.0 => o,
            (Some(h), _) => h,
            (None, Some(o)) => o,
            (None, None) => {
                let need = weight + setup;
                let fits = self.model.bins.get(usual).is_some_and(|b| b.capacity >= need);
                let Some(bin) = fits.then_some(usual).or_else(|| self.model.cheapest(need)) else { return false };
                let stick = self.sticks.len();
                self.sticks.push(Open { bin, takes: Vec::new() });
                let free = self.model.capacity(bin);
                self.others.insert((free, stick));
                (free, stick)
            }
        };
        let left = if self.here.remove(&(free, stick)) {
            free - weight
        } else {
            self.others.remove(&(free, stick));
            free - weight - setup
        };
        self.here.insert((left, stick));
        if let Some(open) = self.sticks.get_mut(stick) {
            match open.takes.last_mut().filter(|t| t.0 == item) {
                Some((_, count)) => *count += 1,
                None => open.takes.push((item, 1)),
            }
        }
        true
    }

    /// Sticks that can be bought become the cheapest that hold their pieces.
    fn finish(self, mut cost: i64) -> Sticks {
        let model = self.model;
        let mut columns: Vec<(Column, u32)> = Vec::new();
        for open in self.sticks.into_iter().filter(|s| !s.takes.is_empty()) {
            let bought = model.bins.get(open.bin).is_some_and(|b| b.limit.is_none());
            let cheapest = bought.then(|| model.cheapest(model.need(&open.takes))).flatten();
            let column = Column { bin: cheapest.unwrap_or(open.bin), takes: open.takes };
            cost = cost.saturating_add(model.cost(column.bin));
            match columns.last_mut().filter(|(last, _)| *last == column) {
                Some((_, count)) => *count += 1,
                None => columns.push((column, 1)),
            }
        }
        Sticks { columns, cost }
    }
}
