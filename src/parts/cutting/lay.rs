//! Columns -> sticks with every piece at its place.

use super::model::{Model, Sticks};
use super::space::Space;
use super::types::{Piece, Placed, Shop, Stick, Stock};
use crate::base::Length;

/// A stick by its pieces: stock and piece indices.
pub(super) struct Cut {
    /// Index of the stock as it was given.
    pub stock: usize,
    /// Indices of the pieces as they were given.
    pub pieces: Vec<usize>,
}

/// Gives each stick its pieces: of equal ones the first given comes first. What is left is placed nowhere.
pub(super) fn assign(sticks: &Sticks, mut members: Vec<Vec<usize>>, kinds: &[usize]) -> (Vec<Cut>, Vec<usize>) {
    members.iter_mut().for_each(|m| m.reverse());
    let mut cuts = Vec::new();
    for (column, times) in &sticks.columns {
        let Some(&stock) = kinds.get(column.bin) else { continue };
        for _ in 0..*times {
            let mut pieces = Vec::new();
            for &(item, count) in &column.takes {
                if let Some(m) = members.get_mut(item) {
                    pieces.extend((0..count).filter_map(|_| m.pop()));
                }
            }
            if !pieces.is_empty() {
                cuts.push(Cut { stock, pieces });
            }
        }
    }
    (cuts, members.into_iter().flatten().collect())
}

/// Sets a stick's pieces one behind the other: rows by their longest piece, then longest first.
pub(super) fn stick(cut: &Cut, pieces: &[Piece], stocks: &[Stock], space: &Space, shop: &Shop) -> Stick {
    let length = |p: usize| pieces.get(p).map_or(Length::ZERO, |p| p.length);
    let row = |p: usize| space.needs.get(p).map_or(0, |n| n.row);
    let longest = |r: usize| cut.pieces.iter().filter(|p| row(**p) == r).map(|p| length(*p)).max();
    let mut order = cut.pieces.clone();
    order.sort_by_key(|&p| (std::cmp::Reverse(longest(row(p))), row(p), std::cmp::Reverse(length(p)), p));
    let mut at = shop.end_trim;
    let mut placed = Vec::with_capacity(order.len());
    let mut before: Option<usize> = None;
    for piece in order {
        let Some(need) = space.needs.get(piece) else { continue };
        if let Some(of) = before.filter(|r| *r != need.row) {
            at += space.rows.get(of).map_or(Length::ZERO, |r| r.setup);
        }
        before = Some(need.row);
        placed.push(Placed { piece, at });
        at += need.weight;
    }
    at += before.and_then(|r| space.rows.get(r)).map_or(Length::ZERO, |r| r.setup);
    let total = stocks.get(cut.stock).map_or(Length::ZERO, |s| s.length);
    let offcut = (total - at).max(Length::ZERO);
    Stick { stock: cut.stock, pieces: placed, offcut, kept: offcut > Length::ZERO && offcut >= shop.least_offcut }
}

/// Whether the columns cut no more than there is, and nothing is too full.
pub(super) fn sound(model: &Model, demand: &[u32], sticks: &Sticks) -> bool {
    let mut left = model.whole(demand.to_vec());
    sticks.columns.iter().all(|(column, times)| {
        let fits = left.times(column) >= *times && model.need(&column.takes) <= model.capacity(column.bin);
        left.take(model, column, *times);
        fits
    })
}
