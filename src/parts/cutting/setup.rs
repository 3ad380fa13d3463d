//! Lengths and prices -> the job in whole numbers.

use std::collections::BTreeMap;

use super::model::{Bin, Item, Model};
use super::space::Space;
use super::types::{CuttingError, DEAREST, LONGEST, MOST_PIECES, MOST_STOCKS, Piece, Shop, Stock};
use crate::base::Length;

/// Refuses what makes no sense.
pub(super) fn check(pieces: &[Piece], stocks: &[Stock], shop: &Shop) -> Result<(), CuttingError> {
    if pieces.len() > MOST_PIECES || stocks.len() > MOST_STOCKS {
        return Err(CuttingError::TooMany);
    }
    let size = |l: Length| l > Length::ZERO && l <= LONGEST;
    let extra = |l: Length| l >= Length::ZERO && l <= LONGEST;
    if ![shop.kerf, shop.end_trim, shop.least_offcut].into_iter().all(extra) {
        return Err(CuttingError::Shop);
    }
    let angle = |degrees: f64| degrees.abs() < 90.0;
    let sane = |p: &Piece| size(p.length) && extra(p.width) && angle(p.left.degrees()) && angle(p.right.degrees());
    if let Some(wrong) = pieces.iter().position(|p| !sane(p)) {
        return Err(CuttingError::Piece(wrong));
    }
    let priced = |s: &Stock| s.on_hand.is_some() || s.price.is_none_or(|p| (1..=DEAREST).contains(&p));
    stocks.iter().position(|s| !size(s.length) || !priced(s)).map_or(Ok(()), |wrong| Err(CuttingError::Stock(wrong)))
}

/// The job in whole numbers, and the way back.
pub(super) struct Setup {
    /// The job.
    pub model: Model,
    /// Pieces of each item.
    pub demand: Vec<u32>,
    /// Which pieces they are.
    pub members: Vec<Vec<usize>>,
    /// Which stock each kind of stick is.
    pub kinds: Vec<usize>,
    /// Cost of a stick by stock.
    pub costs: Vec<i64>,
    /// Whether costs are lengths.
    pub by_length: bool,
    /// Pieces longer than every stick.
    pub unplaceable: Vec<usize>,
}

impl Setup {
    /// From what all pieces take.
    pub fn new(space: &Space, stocks: &[Stock], shop: &Shop) -> Self {
        let by_length = stocks.iter().any(|s| s.on_hand.is_none() && s.price.is_none());
        let cost = |s: &Stock| match s.price {
            _ if s.on_hand.is_some() => 0,
            Some(price) if !by_length => price,
            _ => s.length.nanometres(),
        };
        let costs: Vec<i64> = stocks.iter().map(cost).collect();
        let (bins, kinds) = bins(stocks, &costs, shop);
        let longest = bins.iter().map(|b| b.capacity).max().unwrap_or(0);
        let mut sizes: BTreeMap<(usize, std::cmp::Reverse<i64>), Vec<usize>> = BTreeMap::new();
        let mut unplaceable = Vec::new();
        for (piece, need) in space.needs.iter().enumerate() {
            if (need.weight + space.row(need).setup).nanometres() > longest {
                unplaceable.push(piece);
            } else {
                sizes.entry((need.row, std::cmp::Reverse(need.weight.nanometres()))).or_default().push(piece);
            }
        }
        let items: Vec<Item> = sizes.keys().map(|(row, weight)| Item { weight: weight.0, row: *row }).collect();
        let members: Vec<Vec<usize>> = sizes.into_values().collect();
        let demand: Vec<u32> = members.iter().map(|m| u32::try_from(m.len()).unwrap_or(u32::MAX)).collect();
        let setups = space.rows.iter().map(|r| r.setup.nanometres()).collect();
        let model = model(items, setups, bins, &demand);
        Self { model, demand, members, kinds, costs, by_length, unplaceable }
    }
}

/// Kinds of stick that are of any use: one that can be bought is of none when another is no shorter and no dearer.
fn bins(stocks: &[Stock], costs: &[i64], shop: &Shop) -> (Vec<Bin>, Vec<usize>) {
    let bin = |(s, cost): (&Stock, &i64)| Bin {
        capacity: (s.length - shop.end_trim * 2 + shop.kerf).nanometres(),
        cost: *cost,
        limit: s.on_hand,
    };
    let all: Vec<Bin> = stocks.iter().zip(costs).map(bin).collect();
    let better = |i: usize, a: &Bin, j: usize, b: &Bin| {
        let as_good = a.capacity >= b.capacity && a.cost <= b.cost && a.limit.is_none() && b.limit.is_none();
        as_good && ((a.capacity, a.cost) != (b.capacity, b.cost) || i < j)
    };
    let useful = |(j, b): &(usize, &Bin)| {
        b.capacity > shop.kerf.nanometres()
            && b.limit != Some(0)
            && !all.iter().enumerate().any(|(i, a)| better(i, a, *j, b))
    };
    let kinds: Vec<usize> = all.iter().enumerate().filter(useful).map(|(i, _)| i).collect();
    (kinds.iter().filter_map(|i| all.get(*i)).copied().collect(), kinds)
}

fn gcd(a: i64, b: i64) -> i64 {
    if b == 0 { a } else { gcd(b, a % b) }
}

fn model(items: Vec<Item>, setups: Vec<i64>, mut bins: Vec<Bin>, demand: &[u32]) -> Model {
    let unit = bins.iter().fold(0, |g, b| gcd(b.cost, g)).max(1);
    for bin in &mut bins {
        bin.cost /= unit;
    }
    let mut model = Model { items, setups, bins, miss: 0, unit, scarce: false };
    model.scarce = (0..model.items.len()).any(|item| model.cheapest(model.alone(item)).is_none());
    // Each piece from a stick of its own: no plan needs to cost more.
    let alone = |(item, count): (usize, &u32)| {
        model.cheapest(model.alone(item)).map_or(0, |bin| model.cost(bin).saturating_mul(i64::from(*count)))
    };
    model.miss = demand.iter().enumerate().map(alone).fold(1, i64::saturating_add);
    model
}
