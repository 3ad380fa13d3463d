//! Plans from shares: the columns that the mixture wants most are decided for, and what is left is mixed anew. The last
//! pieces are left to the exact search.

use super::greedy;
use super::model::{Column, Rest, Sticks};
use super::relax::{Relaxed, Search};

/// Rounds of column generation between two decisions.
const ROUNDS: usize = 12;
/// A share above this is decided for together with larger ones.
const SURE: f64 = 0.6;
/// So few pieces are left to the exact search.
const TAIL: u64 = 36;

/// How to dive.
#[derive(Debug, Clone, Copy)]
pub(super) struct Dive {
    /// No more than one in so many sticks is decided for at a time; whole shares all at once where this is 1.
    pub part: u32,
    /// States of the exact search for the last pieces.
    pub tail: u32,
}

impl Search<'_> {
    /// A plan from `rest` that costs less than `cutoff`, if one is found.
    pub fn dive(&mut self, rest: &Rest, relaxed: &Relaxed, cutoff: i64, how: Dive) -> Option<Sticks> {
        let mut rest = rest.clone();
        let mut chosen: Vec<(Column, u32)> = Vec::new();
        let mut relaxed = relaxed.clone();
        while rest.pieces() > 0 {
            if relaxed.bound >= cutoff {
                return None;
            }
            if how.tail > 0 && rest.pieces() <= TAIL {
                let last = self.tree(&rest, &relaxed, cutoff, relaxed.bound, how.tail).best?;
                chosen.extend(last.columns);
                return Some(Sticks { columns: chosen, cost: last.cost });
            }
            if !self.decide(&mut rest, &relaxed.shares, &mut chosen, how.part) || self.effort <= 0 {
                let last = greedy::plan(self.model, &rest);
                chosen.extend(last.columns);
                return (last.cost < cutoff).then_some(Sticks { columns: chosen, cost: last.cost });
            }
            if rest.pieces() > 0 {
                relaxed = self.relax(&rest, Some(&relaxed), cutoff, ROUNDS);
            }
        }
        (rest.spent < cutoff).then_some(Sticks { columns: chosen, cost: rest.spent })
    }

    /// Decides for some columns: whole shares, else the largest ones. `false` when there is nothing to decide for.
    fn decide(&self, rest: &mut Rest, shares: &[(usize, f64)], chosen: &mut Vec<(Column, u32)>, part: u32) -> bool {
        let mut order = shares.to_vec();
        order.sort_by(|a, b| b.1.total_cmp(&a.1).then(a.0.cmp(&b.0)));
        let total: f64 = order.iter().map(|s| s.1).sum();
        let whole = order.iter().any(|s| s.1 >= 1.0 - 1e-6);
        let enough = if whole { total / f64::from(part) } else { total / f64::from(part.max(10)) }.max(1.0) as u32;
        let mut decided = 0;
        for (index, share) in order {
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
