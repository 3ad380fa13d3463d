//! Pieces and stock lengths with prices -> which stick each piece is cut from, at the least cost.
//!
//! Takes the pieces of one profile, the sticks that they can be cut from and the shop's saw; gives sticks with every cut
//! in place, what they cost, and a bound that no plan can be below, so that a reader sees that the plan is the best or
//! how far it may be from it; refuses sizes that make no sense, and names the pieces that no stick can take.
//!
//! The way: a quick plan by best fit (`greedy`); bounds by column generation (`relax`) with whole-number proofs
//! (`dual`); from these the cheapest numbers of sticks that may do (`mix`); plans from the shares of columns (`dive`);
//! branch and bound (`tree`); for larger jobs parts of the plan cut anew by the same search (`improve`). All effort is
//! counted, none is timed, so that the same job gives the same plan everywhere.

mod dive;
mod dual;
mod greedy;
mod improve;
mod knapsack;
mod lay;
mod mix;
mod model;
mod program;
#[cfg(test)]
mod property_tests;
mod relax;
mod setup;
mod solve;
mod space;
#[cfg(test)]
mod tests;
mod tree;
mod types;

pub use types::{Cost, CuttingError, Piece, Placed, Plan, Shop, Stick, Stock};

use crate::base::Length;
use lay::Cut;
use model::{Model, Sticks};
use relax::Search;
use setup::Setup;
use solve::{Limits, MOST_SIZES};
use space::Space;

/// Work for one job, in about a nanosecond's worth of an ordinary machine, and more for each size of piece.
const EFFORT: i64 = 600_000_000;
const EFFORT_EACH: i64 = 4_000_000;
/// How hard to try at first.
const FIRST: Limits = Limits { mixes: 6, dives: 2, tail: 20, again: 8, states: 4, share: 3 };
/// How hard to try at last.
const LAST: Limits = Limits { mixes: 10_000, dives: 2, tail: 100, again: 20, states: 2_000, share: 10 };
/// Vain tries to better a plan piecemeal.
const TRIES: u32 = 200;

/// Plans the cutting of all pieces.
///
/// # Errors
/// When a length, width, angle, price or setting makes no sense, or there are more than 100,000 pieces or 64 stocks.
pub fn plan(pieces: &[Piece], stocks: &[Stock], shop: &Shop) -> Result<Plan, CuttingError> {
    setup::check(pieces, stocks, shop)?;
    let space = Space::of(pieces, shop);
    let setup = Setup::new(&space, stocks, shop);
    let (sticks, bound) = solve(&setup.model, &setup.demand);
    let (cuts, mut unplaced) = lay::assign(&sticks, setup.members.clone(), &setup.kinds);
    let missing = i64::try_from(unplaced.len()).unwrap_or(i64::MAX);
    unplaced.extend(&setup.unplaceable);
    unplaced.sort_unstable();
    let bound = bound.saturating_sub(setup.model.miss.saturating_mul(missing)).max(0).saturating_mul(setup.model.unit);
    let mut sticks: Vec<Stick> = cuts.iter().map(|cut| lay::stick(cut, pieces, stocks, &space, shop)).collect();
    let length = |s: &Stick| s.pieces.iter().map(|p| pieces.get(p.piece).map_or(Length::ZERO, |p| p.length)).max();
    sticks.sort_by_cached_key(|s| {
        (s.stock, std::cmp::Reverse(length(s)), s.pieces.iter().map(|p| p.piece).collect::<Vec<_>>())
    });
    Ok(finish(sticks, unplaced, bound, &setup, stocks, &space, &cuts))
}

fn finish(
    sticks: Vec<Stick>,
    unplaced: Vec<usize>,
    bound: i64,
    setup: &Setup,
    stocks: &[Stock],
    space: &Space,
    cuts: &[Cut],
) -> Plan {
    let cost: i64 = sticks.iter().filter_map(|s| setup.costs.get(s.stock)).sum();
    let bound = bound.min(cost);
    let used: Length = sticks.iter().filter_map(|s| stocks.get(s.stock)).map(|s| s.length).sum();
    let kept: Length = sticks.iter().filter(|s| s.kept).map(|s| s.offcut).sum();
    let taken = |cut: &Cut| -> Length {
        let gap = |p: &usize| space.needs.get(*p).map_or(Length::ZERO, |n| n.weight - space.row(n).gap);
        cut.pieces.iter().map(gap).sum()
    };
    let net: Length = cuts.iter().map(taken).sum();
    let told = |n: i64| if setup.by_length { Cost::Length(Length::from_nanometres(n)) } else { Cost::Price(n) };
    Plan {
        sticks,
        unplaced,
        cost: told(cost),
        lower_bound: told(bound),
        proven: bound >= cost,
        waste: used - kept - net,
        used,
    }
}

/// The best plan found, and what none can cost less than.
fn solve(model: &Model, demand: &[u32]) -> (Sticks, i64) {
    let rest = model.whole(demand.to_vec());
    let mut best = greedy::plan(model, &rest);
    let sizes = if model.items.len() > MOST_SIZES { 0 } else { model.items.len() as i64 };
    let mut search = Search::new(model, EFFORT + EFFORT_EACH * sizes);
    let (first, known) = search.with_part(8, |s| s.solve(&rest, best.cost, FIRST, None));
    let mut bound = first.bound;
    best = first.best.unwrap_or(best);
    if bound < best.cost {
        best = search.with_part(6, |s| s.improve(&rest, best, bound, TRIES));
    }
    if bound < best.cost {
        let (last, _) = search.solve(&rest, best.cost, LAST, known);
        bound = bound.max(last.bound);
        best = last.best.unwrap_or(best);
    }
    debug_assert!(lay::sound(model, demand, &best));
    (best, bound)
}
