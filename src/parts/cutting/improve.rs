//! A plan bettered piecemeal: some of its sticks are taken apart and cut anew by the exact search.

use std::cmp::Reverse;

use super::model::{Column, Rest, Sticks};
use super::relax::Search;
use super::solve::Limits;

/// Pieces that are cut anew at once.
const PIECES: u32 = 26;
/// How hard to try with one such part.
const LIMITS: Limits = Limits { mixes: 3, dives: 1, tail: 0, again: 0, states: 6, share: 10 };
/// Sticks with the most waste, of which a part begins with one or more.
const WASTEFUL: usize = 12;

/// Numbers that look random and are the same at each run (Knuth's MMIX generator).
struct Dice(u64);

impl Dice {
    fn below(&mut self, n: usize) -> usize {
        self.0 = self.0.wrapping_mul(6_364_136_223_846_793_005).wrapping_add(1_442_695_040_888_963_407);
        ((self.0 >> 33) as usize) % n.max(1)
    }
}

impl Search<'_> {
    /// Betters a plan for `rest` until it costs no more than `goal`, or in vain for so many tries.
    pub fn improve(&mut self, rest: &Rest, plan: Sticks, goal: i64, tries: u32) -> Sticks {
        let mut dice = Dice(1);
        let mut sticks = one_by_one(plan.columns);
        let mut cost = plan.cost;
        let mut vain = 0;
        while cost > goal && vain < tries && self.effort > 0 && sticks.len() > 1 {
            vain += 1;
            let kept = self.part(&mut sticks, &mut dice);
            let (kept_sticks, part) = sticks.split_at(kept);
            let (before, state) = self.state_of(rest, kept_sticks, part);
            if let Some(better) = self.solve(&state, before, LIMITS, None).0.best {
                cost -= before - better.cost;
                sticks.truncate(kept);
                sticks.extend(one_by_one(better.columns));
                vain = 0;
            }
        }
        sticks.sort();
        let mut columns: Vec<(Column, u32)> = Vec::new();
        for column in sticks {
            match columns.last_mut().filter(|(last, _)| *last == column) {
                Some((_, count)) => *count += 1,
                None => columns.push((column, 1)),
            }
        }
        Sticks { columns, cost }
    }

    /// Moves some sticks to the end, to be taken apart: wasteful ones first, then by chance. How many stay.
    fn part(&mut self, sticks: &mut [Column], dice: &mut Dice) -> usize {
        self.charge(sticks.len() as u64 * 200);
        sticks.sort_by_cached_key(|c| Reverse(self.model.capacity(c.bin) - self.model.need(&c.takes)));
        let wasteful = WASTEFUL.min(sticks.len());
        let (mut kept, mut pieces) = (sticks.len(), 0);
        while pieces < PIECES && kept > 0 {
            let among = if pieces < PIECES / 3 { wasteful.min(kept) } else { kept };
            let chosen = dice.below(among);
            kept -= 1;
            sticks.swap(chosen, kept);
            pieces += sticks.get(kept).map_or(0, |c| c.takes.iter().map(|t| t.1).sum());
        }
        kept
    }

    /// What the parts cost, and the state in which they are yet to be cut.
    fn state_of(&self, rest: &Rest, kept: &[Column], part: &[Column]) -> (i64, Rest) {
        let mut state = Rest { demand: vec![0; rest.demand.len()], high: rest.high.clone(), spent: 0 };
        for column in kept {
            if let Some(high) = state.high.get_mut(column.bin).filter(|h| **h != u32::MAX) {
                *high = high.saturating_sub(1);
            }
        }
        let mut before = 0;
        for column in part {
            before += self.model.cost(column.bin);
            for (item, count) in &column.takes {
                if let Some(demand) = state.demand.get_mut(*item) {
                    *demand += count;
                }
            }
        }
        (before, state)
    }
}

fn one_by_one(columns: Vec<(Column, u32)>) -> Vec<Column> {
    columns.into_iter().flat_map(|(column, n)| std::iter::repeat_n(column, n as usize)).collect()
}
