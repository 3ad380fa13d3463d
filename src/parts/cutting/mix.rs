//! How many sticks of each kind to buy. The worths that prove a bound say of every mix of sticks more than its cost: its
//! fillings must be worth all pieces. The cheapest mix in whole numbers that meets all such demands is a bound itself,
//! and nearly always a better one than any program in fractions gives (the scheme of Benders 1962, Numerische Mathematik
//! 4). Mixes that are known not to do are left out; so are all that are no larger than one of them.

use super::dual::Dual;
use super::model::{Model, Rest};

/// Steps in the search for a mix.
const STEPS: u32 = 400_000;
/// Work of a step, for each demand and kind of stick.
const PER_STEP: u64 = 10;
/// Demands that are kept, the latest ones.
const DEMANDS: usize = 60;

/// Fillings of the sticks bought must be worth so much.
#[derive(Debug, Clone, PartialEq, Eq)]
struct Demand {
    /// The most one stick of each kind is worth.
    most: Vec<i64>,
    /// Worth of all pieces, less what lies in the shop can hold.
    need: i64,
}

/// What is known of mixes. Kinds are those that can be bought.
#[derive(Debug, Clone)]
pub(super) struct Mixes {
    kinds: Vec<usize>,
    costs: Vec<i64>,
    demands: Vec<Demand>,
    out: Vec<Vec<u32>>,
}

/// The cheapest mix.
#[derive(Debug, Clone, PartialEq, Eq)]
pub(super) enum Cheapest {
    /// A mix by kind of stick that can be bought, and its cost.
    Mix(Vec<u32>, i64),
    /// There is none in the given range.
    None,
    /// Too hard to tell.
    Unknown,
}

impl Mixes {
    /// Nothing is known but what sizes say: pieces must fit in by length.
    pub fn new(model: &Model, rest: &Rest) -> Self {
        let bought = model.bins.iter().zip(&rest.high).enumerate().filter(|(_, (_, high))| **high == u32::MAX);
        // The cheapest by length comes last: its number follows from the others.
        let mut kinds: Vec<usize> = bought.map(|(bin, _)| bin).collect();
        kinds.sort_by_key(|b| {
            std::cmp::Reverse((i128::from(model.cost(*b)) << 40) / i128::from(model.capacity(*b).max(1)))
        });
        let costs = kinds.iter().map(|b| model.cost(*b)).collect();
        let mut mixes = Self { kinds, costs, demands: Vec::new(), out: Vec::new() };
        let volume: i64 = model.items.iter().zip(&rest.demand).map(|(i, d)| i.weight * i64::from(*d)).sum();
        let capacities: Vec<i64> = model.bins.iter().map(|b| b.capacity).collect();
        mixes.demand(model, rest, &capacities, i128::from(volume));
        mixes
    }

    /// Takes a demand from worths that prove a bound.
    pub fn learn(&mut self, model: &Model, rest: &Rest, dual: &Dual) {
        let most: Vec<i64> = (0..model.bins.len()).map(|bin| dual.most(model, bin)).collect();
        self.demand(model, rest, &most, dual.pieces(rest));
    }

    fn demand(&mut self, model: &Model, rest: &Rest, most: &[i64], need: i128) {
        let in_shop = model.bins.iter().zip(&rest.high).zip(most).filter(|((b, _), _)| b.limit.is_some());
        let free: i128 = in_shop.map(|((_, high), most)| i128::from(*high) * i128::from(*most)).sum();
        let need = i64::try_from(need - free).unwrap_or(0);
        let demand = Demand { most: self.kinds.iter().filter_map(|k| most.get(*k)).copied().collect(), need };
        if need > 0 && !self.demands.contains(&demand) {
            self.demands.push(demand);
            if self.demands.len() > DEMANDS {
                // The first one, of sizes, stays.
                self.demands.remove(1);
            }
        }
    }

    /// Leaves out a mix and all that are no larger.
    pub fn leave_out(&mut self, mix: Vec<u32>) {
        self.out.push(mix);
    }

    /// Takes back all that was left out.
    pub fn take_back(&mut self) {
        self.out.clear();
    }

    /// `rest` with no more sticks than a mix has.
    pub fn only(&self, rest: &Rest, mix: &[u32]) -> Rest {
        let mut only = rest.clone();
        for (kind, count) in self.kinds.iter().zip(mix) {
            if let Some(high) = only.high.get_mut(*kind) {
                *high = *count;
            }
        }
        only
    }

    /// The cheapest mix that costs at least `from` and less than `below`, and the work done for it.
    pub fn cheapest(&self, from: i64, below: i64) -> (Cheapest, u64) {
        let mut walk = Walk { mixes: self, from, best: below, mix: None, counts: Vec::new(), steps: 0 };
        let lacks: Vec<i64> = self.demands.iter().map(|d| d.need).collect();
        walk.go(0, &lacks);
        let work = u64::from(walk.steps) * (self.demands.len() * self.costs.len()) as u64 * PER_STEP;
        let cheapest = match walk.mix {
            _ if walk.steps >= STEPS => Cheapest::Unknown,
            Some(mix) => Cheapest::Mix(mix, walk.best),
            None => Cheapest::None,
        };
        (cheapest, work)
    }

    /// What must be paid at least for what each demand lacks, with kinds from `at` on; `None` if they cannot do it.
    fn still(&self, at: usize, lacks: &[i64]) -> Option<i64> {
        let mut most = 0;
        for (demand, lack) in self.demands.iter().zip(lacks).filter(|(_, lack)| **lack > 0) {
            let kinds = self.costs.iter().zip(&demand.most).skip(at).filter(|(_, most)| **most > 0);
            let cost = |(cost, most): (&i64, &i64)| {
                let product = i128::from(*cost) * i128::from(*lack);
                i64::try_from(product / i128::from(*most) + i128::from(product % i128::from(*most) > 0))
                    .unwrap_or(i64::MAX)
            };
            most = most.max(kinds.map(cost).min()?);
        }
        Some(most)
    }
}

struct Walk<'a> {
    mixes: &'a Mixes,
    from: i64,
    best: i64,
    mix: Option<Vec<u32>>,
    counts: Vec<u32>,
    steps: u32,
}

impl Walk<'_> {
    fn go(&mut self, cost: i64, lacks: &[i64]) {
        let at = self.counts.len();
        self.steps += 1;
        let Some(&each) = self.mixes.costs.get(at) else { return };
        if self.steps >= STEPS || self.mixes.still(at, lacks).is_none_or(|more| cost + more >= self.best) {
            return;
        }
        if at + 1 == self.mixes.costs.len() {
            return self.last(cost, each, lacks);
        }
        let mut lacks = lacks.to_vec();
        let mut cost = cost;
        let mut count = 0;
        while cost < self.best && self.steps < STEPS {
            self.counts.push(count);
            self.go(cost, &lacks);
            self.counts.pop();
            count += 1;
            cost += each;
            for (lack, demand) in lacks.iter_mut().zip(&self.mixes.demands) {
                *lack -= demand.most.get(at).copied().unwrap_or(0);
            }
        }
    }

    /// As few of the last kind as will do.
    fn last(&mut self, cost: i64, each: i64, lacks: &[i64]) {
        let at = self.counts.len();
        let up = |a: i64, b: i64| if b > 0 { a.div_euclid(b) + i64::from(a.rem_euclid(b) > 0) } else { i64::MAX };
        let mut count = 0_i64;
        for (lack, demand) in lacks.iter().zip(&self.mixes.demands).filter(|(lack, _)| **lack > 0) {
            count = count.max(up(*lack, demand.most.get(at).copied().unwrap_or(0)));
        }
        for out in &self.mixes.out {
            if self.counts.iter().zip(out).all(|(count, out)| count <= out) {
                count = count.max(out.get(at).map_or(0, |o| i64::from(*o) + 1));
            }
        }
        if cost < self.from {
            count = count.max(up(self.from - cost, each));
        }
        let total = each.saturating_mul(count).saturating_add(cost);
        if let Some(count) = u32::try_from(count).ok().filter(|_| total < self.best) {
            self.best = total;
            let mut mix = self.counts.clone();
            mix.push(count);
            self.mix = Some(mix);
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn mixes(costs: &[i64], demands: &[(&[i64], i64)]) -> Mixes {
        let demands = demands.iter().map(|(most, need)| Demand { most: most.to_vec(), need: *need }).collect();
        Mixes { kinds: (0..costs.len()).collect(), costs: costs.to_vec(), demands, out: Vec::new() }
    }

    /// By hand: 150 units of length from sticks of 72, 96 and 120 at 6, 8 and 11.
    #[test]
    fn the_cheapest_mix_is_found_then_the_next_one() {
        let mut mixes = mixes(&[6, 8, 11], &[(&[72, 96, 120], 150)]);
        assert_eq!(mixes.cheapest(0, 100).0, Cheapest::Mix(vec![1, 1, 0], 14));
        mixes.leave_out(vec![1, 1, 0]);
        assert_eq!(mixes.cheapest(0, 100).0, Cheapest::Mix(vec![0, 2, 0], 16));
        assert_eq!(mixes.cheapest(17, 100).0, Cheapest::Mix(vec![1, 0, 1], 17));
        assert_eq!(mixes.cheapest(0, 16).0, Cheapest::None);
    }

    #[test]
    fn every_demand_must_be_met() {
        // Two pieces that only the longest kind holds.
        let mixes = mixes(&[6, 8, 11], &[(&[72, 96, 120], 150), (&[0, 0, 1], 2)]);
        assert_eq!(mixes.cheapest(0, 100).0, Cheapest::Mix(vec![0, 0, 2], 22));
    }
}
