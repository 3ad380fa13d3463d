//! Plans from shares: the columns that the mixture wants most are decided for, and what is left is mixed anew. The last
//! pieces are left to the exact search. Most dives go well until few pieces are left, so those that fail are taken up
//! again from there with other choices.

use super::greedy;
use super::model::{Column, Rest, Sticks};
use super::relax::{Aim, Relaxed, Search};

/// Rounds of column generation between two decisions.
const ROUNDS: usize = 12;
/// A share above this is decided for together with larger ones.
const SURE: f64 = 0.6;
/// Where no share is whole, no more than one in so many sticks is decided for at a time.
const CAREFUL: u32 = 3;
/// So few pieces are left to the exact search.
const TAIL: u64 = 36;
/// A dive that fails is taken up again where no more pieces were left.
const AGAIN: u64 = 72;

/// How to dive.
#[derive(Debug, Clone, Copy)]
pub(super) struct Dive {
    /// No more than one in so many sticks is decided for at a time, at first.
    pub part: u32,
    /// States of the exact search for the last pieces; none when this is 0.
    pub tail: u32,
    /// How often to take it up again.
    pub again: usize,
}

/// What is decided, and what is not.
#[derive(Clone)]
struct Place {
    rest: Rest,
    relaxed: Relaxed,
    chosen: Vec<(Column, u32)>,
}

impl Search<'_> {
    /// A plan from `rest` that costs less than `cutoff`, if one is found.
    pub fn dive(&mut self, rest: &Rest, relaxed: &Relaxed, cutoff: i64, how: Dive) -> Option<Sticks> {
        let start = Place { rest: rest.clone(), relaxed: relaxed.clone(), chosen: Vec::new() };
        let mut again = None;
        if let Some(plan) = self.descend(start, cutoff, how, 0, &mut again) {
            return Some(plan);
        }
        let again = again.filter(|_| how.again > 0)?;
        for choice in 1..=how.again {
            if self.effort <= 0 {
                return None;
            }
            let plan = self.descend(again.clone(), cutoff, how, choice, &mut Some(again.clone()));
            if plan.is_some() {
                return plan;
            }
        }
        None
    }

    /// Goes on from a place. The first decision is for the `choice`-th column, the others for the best. Keeps the first
    /// place with few pieces left.
    fn descend(
        &mut self,
        place: Place,
        cutoff: i64,
        how: Dive,
        choice: usize,
        kept: &mut Option<Place>,
    ) -> Option<Sticks> {
        let Place { mut rest, mut relaxed, mut chosen } = place;
        let mut choice = choice;
        while rest.pieces() > 0 {
            if relaxed.bound >= cutoff {
                return None;
            }
            if kept.is_none() && how.again > 0 && rest.pieces() <= AGAIN {
                *kept = Some(Place { rest: rest.clone(), relaxed: relaxed.clone(), chosen: chosen.clone() });
            }
            if how.tail > 0 && rest.pieces() <= TAIL {
                let last = self.tree(&rest, &relaxed, cutoff, relaxed.bound, how.tail).best?;
                chosen.extend(last.columns);
                return Some(Sticks { columns: chosen, cost: last.cost });
            }
            let decided = self.decide(&mut rest, &relaxed.shares, &mut chosen, how.part, choice);
            if !decided || self.effort <= 0 {
                let last = greedy::plan(self.model, &rest);
                chosen.extend(last.columns);
                return (last.cost < cutoff).then_some(Sticks { columns: chosen, cost: last.cost });
            }
            choice = 0;
            if rest.pieces() > 0 {
                relaxed = self.relax(&rest, Some(&relaxed), Aim { cutoff, enough: 0, rounds: ROUNDS });
            }
        }
        (rest.spent < cutoff).then_some(Sticks { columns: chosen, cost: rest.spent })
    }

    /// Decides for some columns: whole shares, else the largest ones; or for the `choice`-th alone. `false` when there is
    /// nothing to decide for.
    fn decide(
        &self,
        rest: &mut Rest,
        shares: &[(usize, f64)],
        chosen: &mut Vec<(Column, u32)>,
        part: u32,
        choice: usize,
    ) -> bool {
        let mut order = shares.to_vec();
        order.sort_by(|a, b| b.1.total_cmp(&a.1).then(a.0.cmp(&b.0)));
        let total: f64 = order.iter().map(|s| s.1).sum();
        let whole = choice == 0 && order.iter().any(|s| s.1 >= 1.0 - 1e-6);
        let part = if whole { part } else { part.max(CAREFUL) };
        let enough = if choice == 0 { (total / f64::from(part)).max(1.0) as u32 } else { 1 };
        let mut decided = 0;
        for (index, share) in order.into_iter().skip(choice) {
            let wanted = if whole { (share + 1e-6).floor() as u32 } else { u32::from(decided == 0 || share > SURE) };
            let Some(column) = self.pool.get(index).filter(|_| decided < enough) else { continue };
            let times = rest.times(column).min(wanted);
            if times > 0 {
                rest.take(self.model, column, times);
                chosen.push((column.clone(), times));
                decided += times;
            }
        }
        decided > 0
    }
}
