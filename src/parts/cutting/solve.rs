//! The best plan for a job or a part of one: the cheapest mix of sticks that may do is tried, then the next.

use super::dive::Dive;
use super::greedy;
use super::mix::{Cheapest, Mixes};
use super::model::{Rest, Sticks};
use super::relax::{Aim, Relaxed, Search};
use super::tree::Found;

/// Rounds of column generation.
const ROUNDS: usize = 400;
/// Sizes of pieces for which programs are solved: beyond, one program takes seconds.
pub(super) const MOST_SIZES: usize = 1_200;
/// A mix does if its sticks hold all pieces in shares and one part in so many of their cost is to spare.
const SPARE: i64 = 2_000;
/// Pieces for which all ways to cut the largest one are looked at: with more there are too many.
const MOST_PIECES: u64 = 80;
/// Ways to dive, the quickest first: see [`Dive::part`].
const PARTS: [u32; 2] = [1, 4];

/// How hard to try.
#[derive(Debug, Clone, Copy)]
pub(super) struct Limits {
    /// Mixes of sticks.
    pub mixes: u32,
    /// Dives with one mix.
    pub dives: usize,
    /// States in the search for the last pieces of a dive.
    pub tail: u32,
    /// How often a dive that fails is taken up again.
    pub again: usize,
    /// States in the search for a plan with one mix.
    pub states: u32,
    /// Part of the effort left that one mix may take, in tenths: a mix with hardly anything to spare may be in vain.
    pub share: i64,
}

/// What is known of a job once it was looked at.
pub(super) struct Known {
    root: Relaxed,
    mixes: Mixes,
}

impl Search<'_> {
    /// A plan for `rest` that costs less than `cutoff`, the best if it can be found; and what is then known of `rest`, to
    /// begin with the next time.
    pub fn solve(&mut self, rest: &Rest, cutoff: i64, limits: Limits, known: Option<Known>) -> (Found, Option<Known>) {
        let mut hunt = Hunt { search: self, best: None, cutoff };
        let Known { root, mut mixes } = match known.map_or_else(|| hunt.begin(rest, limits), Ok) {
            Ok(known) => known,
            Err(bound) => return (Found { bound, best: hunt.best }, None),
        };
        let bound = if hunt.search.model.scarce {
            let found = hunt.search.tree(rest, &root, hunt.cutoff, root.bound, limits.states);
            hunt.improve(found.best);
            found.bound
        } else {
            hunt.mixes(rest, &mut mixes, &root, limits)
        };
        let bound = bound.max(root.bound).min(hunt.cutoff);
        // Mixes that were not good for a plan may be with more effort.
        mixes.take_back();
        (Found { bound, best: hunt.best }, Some(Known { root, mixes }))
    }
}

struct Hunt<'s, 'a> {
    search: &'s mut Search<'a>,
    best: Option<Sticks>,
    cutoff: i64,
}

impl Hunt<'_, '_> {
    fn improve(&mut self, plan: Option<Sticks>) {
        if let Some(plan) = plan.filter(|p| p.cost < self.cutoff) {
            self.cutoff = plan.cost;
            self.best = Some(plan);
        }
    }

    /// A quick plan, a bound, and a plan from its shares; the bound alone where there is no more to find.
    fn begin(&mut self, rest: &Rest, limits: Limits) -> Result<Known, i64> {
        let quick = greedy::plan(self.search.model, rest);
        for (column, _) in &quick.columns {
            self.search.learn(column.clone());
        }
        self.improve(Some(quick));
        let known = self.by_length(rest);
        if rest.active().len() > MOST_SIZES {
            return Err(known);
        }
        let cutoff = self.cutoff;
        let aim = Aim { cutoff, enough: known, rounds: ROUNDS };
        let mut root = self.search.with_part(4, |s| s.relax(rest, None, aim));
        root.bound = root.bound.max(known);
        if root.bound >= self.cutoff {
            return Err(self.cutoff);
        }
        let dive = Dive { part: 1, tail: limits.tail, again: 0 };
        let plan = self.search.with_part(5, |s| s.dive(rest, &root, cutoff, dive));
        self.improve(plan);
        let mut mixes = Mixes::new(self.search.model, rest);
        mixes.learn(self.search.model, rest, &root.dual);
        Ok(Known { root, mixes })
    }

    /// A bound by length alone.
    fn by_length(&mut self, rest: &Rest) -> i64 {
        match Mixes::new(self.search.model, rest).cheapest(rest.spent, self.cutoff).0 {
            _ if self.search.model.scarce => rest.spent,
            Cheapest::Mix(_, cost) => cost,
            Cheapest::None => self.cutoff,
            Cheapest::Unknown => rest.spent,
        }
    }

    /// Tries mixes until the best plan is proven, or so many have been tried; the bound.
    fn mixes(&mut self, rest: &Rest, mixes: &mut Mixes, root: &Relaxed, limits: Limits) -> i64 {
        // Cost of the cheapest mix of which it is not known whether it will do.
        let mut open: Option<i64> = None;
        let (mut from, mut bound) = (root.bound, root.bound);
        let mut tried = 0;
        let mut last: Option<Relaxed> = None;
        while bound < self.cutoff && tried < limits.mixes && self.search.effort > 0 {
            let (cheapest, work) = mixes.cheapest(from, self.cutoff);
            self.search.charge(work);
            let (mix, cost) = match cheapest {
                Cheapest::Mix(mix, cost) => (mix, cost),
                Cheapest::None if from > bound + 1 => {
                    from = bound + (from - bound) / 2;
                    continue;
                }
                Cheapest::None => return open.unwrap_or(self.cutoff),
                Cheapest::Unknown => return bound,
            };
            if open.is_none() {
                bound = cost;
            }
            let only = mixes.only(rest, &mix);
            let aim = Aim { cutoff: cost + 1, enough: cost - cost / SPARE, rounds: ROUNDS };
            let relaxed = self.search.relax(&only, last.as_ref().or(Some(root)), aim);
            mixes.learn(self.search.model, rest, &relaxed.dual);
            if relaxed.bound > cost {
                mixes.leave_out(mix);
                last = Some(relaxed);
                continue;
            }
            tried += 1;
            let kept = self.search.effort / 10 * (10 - limits.share);
            self.search.effort -= kept;
            let found = self.with_mix(&only, &relaxed, cost, limits);
            self.search.effort += kept;
            if found.best.is_none() && found.bound <= cost {
                open = Some(open.unwrap_or(cost).min(cost));
            }
            self.improve(found.best);
            mixes.leave_out(mix);
            // Once one is open, the bound stays, and cheaper plans are sought half way between.
            from = if open.is_some() { cost + (self.cutoff - cost) / 2 } else { bound };
        }
        bound
    }

    /// A plan with the sticks of one mix, which cost `cost`.
    fn with_mix(&mut self, only: &Rest, relaxed: &Relaxed, cost: i64, limits: Limits) -> Found {
        for part in PARTS.into_iter().take(limits.dives) {
            let dive = Dive { part, tail: limits.tail, again: limits.again };
            if let Some(plan) = self.search.dive(only, relaxed, cost + 1, dive) {
                return Found { best: Some(plan), bound: cost };
            }
        }
        let states = if only.pieces() > MOST_PIECES { 0 } else { limits.states };
        self.search.tree(only, relaxed, cost + 1, cost, states)
    }
}
