//! Known optima, brute force, and inputs that make no sense.

use super::plan as planned;
use super::*;
use crate::base::Angle;

/// 1/16 in.
const SIXTEENTH: Length = Length::from_nanometres(1_587_500);
const MILLIMETRE: Length = Length::from_nanometres(1_000_000);

/// Numbers that look random and are the same at each run (Knuth's MMIX generator).
pub(super) struct Dice(pub u64);

impl Dice {
    pub fn from(&mut self, low: i64, high: i64) -> i64 {
        self.0 = self.0.wrapping_mul(6_364_136_223_846_793_005).wrapping_add(1_442_695_040_888_963_407);
        low + (self.0 >> 33) as i64 % (high - low + 1)
    }
}

pub(super) fn shop(kerf: Length) -> Shop {
    Shop { kerf, end_trim: Length::ZERO, least_offcut: Length::INCH * 12, nest: false }
}

pub(super) fn bought(length: Length, price: i64) -> Stock {
    Stock { name: length.to_string(), length, price: Some(price), on_hand: None }
}

fn in_shop(length: Length, count: u32) -> Stock {
    Stock { name: format!("{length} in the shop"), length, price: None, on_hand: Some(count) }
}

fn squares(lengths: impl IntoIterator<Item = Length>) -> Vec<Piece> {
    lengths.into_iter().map(Piece::square).collect()
}

/// 96/8/0.125 -> 11 pieces: floor((S + k) / (l + k)), closed form.
#[test]
fn kerf_counts_between_pieces() {
    let stocks = [bought(Length::INCH * 96, 100)];
    let plan = |n| planned(&squares(vec![Length::INCH * 8; n]), &stocks, &shop(SIXTEENTH * 2)).unwrap();
    let (one, two) = (plan(11), plan(12));
    assert_eq!((one.sticks.len(), one.cost, one.proven), (1, Cost::Price(100), true));
    assert_eq!((two.sticks.len(), two.cost, two.proven), (2, Cost::Price(200), true));
    let at: Vec<f64> = one.sticks[0].pieces.iter().map(|p| p.at.inches()).collect();
    assert_eq!(at[..3], [0.0, 8.125, 16.25]);
    assert_eq!(one.sticks[0].offcut, Length::INCH * 96 - SIXTEENTH * (130 * 11));
    assert_eq!((one.waste, one.used), (Length::INCH * 8, Length::INCH * 96));
}

/// Closed forms, by hand: each is one of two ways at most.
#[test]
fn small_jobs_take_the_cheapest_sticks() {
    let stocks =
        [bought(Length::INCH * 72, 1_450), bought(Length::INCH * 96, 1_875), bought(Length::INCH * 120, 2_425)];
    let length = |whole: i64, part: i64| Length::INCH * whole + SIXTEENTH * part;
    for (length, count, price) in [
        (length(59, 15), 2, 2_425),
        (length(60, 0), 2, 2_900),
        (length(36, 0), 4, 3_750),
        (length(35, 15), 4, 2_900),
        (length(39, 14), 3, 2_425),
        (length(40, 0), 3, 3_325),
    ] {
        let plan = planned(&squares(vec![length; count]), &stocks, &shop(SIXTEENTH * 2)).unwrap();
        assert_eq!((plan.cost, plan.lower_bound, plan.proven), (Cost::Price(price), Cost::Price(price), true));
        assert_eq!(plan.gap(), 0.0);
    }
}

/// Triplets: each bin of 1000 is filled exactly by three pieces, so the optimum is a third of their number (Falkenauer
/// 1996, "A hybrid grouping genetic algorithm for bin packing", Journal of Heuristics 2, pp. 5-30).
#[test]
fn triplets_are_packed_without_waste() {
    let stocks = [bought(MILLIMETRE * 1_000, 1)];
    for (count, seeds) in [(60, 4), (120, 2), (249, 1)] {
        for seed in 0..seeds {
            let mut dice = Dice(seed * 1_000 + count);
            let mut lengths = Vec::new();
            for _ in 0..count / 3 {
                let first = dice.from(380, 490);
                let second = dice.from(250, (1_000 - first) / 2);
                lengths.extend([first, second, 1_000 - first - second].map(|l| MILLIMETRE * l));
            }
            let plan = planned(&squares(lengths), &stocks, &shop(Length::ZERO)).unwrap();
            assert_eq!((plan.cost, plan.proven), (Cost::Price(count as i64 / 3), true), "{count}, {seed}");
            assert_eq!(plan.waste, Length::ZERO);
        }
    }
}

/// Sizes spread evenly from 20 to 100 into bins of 150 (the uniform class of the same paper), here cut from full bins, so
/// the optimum is their number.
#[test]
fn evenly_spread_sizes_are_packed_without_waste() {
    let stocks = [bought(MILLIMETRE * 150, 1)];
    for (bins, seed) in [(25, 1), (25, 2), (50, 3), (50, 4), (100, 5)] {
        let mut dice = Dice(seed);
        let mut lengths = Vec::new();
        for _ in 0..bins {
            let mut left = 150;
            while left > 100 {
                let piece = dice.from(20, 100.min(left - 20));
                lengths.push(MILLIMETRE * piece);
                left -= piece;
            }
            lengths.push(MILLIMETRE * left);
        }
        let plan = planned(&squares(lengths), &stocks, &shop(Length::ZERO)).unwrap();
        assert_eq!((plan.cost, plan.proven), (Cost::Price(bins), true), "{bins}, {seed}");
    }
}

#[test]
fn sticks_in_the_shop_are_used_first() {
    let stocks = [bought(Length::INCH * 96, 1_000), in_shop(Length::INCH * 50, 2)];
    let pieces = squares([24, 24, 24, 24, 80].map(|l| Length::INCH * l));
    let plan = planned(&pieces, &stocks, &shop(Length::ZERO)).unwrap();
    // Two of 24 in each of the two sticks; 80 needs a new one.
    assert_eq!((plan.cost, plan.proven, plan.sticks.len()), (Cost::Price(1_000), true, 3));
    assert_eq!(plan.sticks.iter().filter(|s| s.stock == 1).count(), 2);
    assert_eq!((plan.sticks[0].offcut, plan.sticks[0].kept), (Length::INCH * 16, true));
    assert_eq!(plan.waste, Length::INCH * 4);
}

#[test]
fn without_prices_the_least_length_is_bought() {
    let unpriced = |inches| Stock { price: None, ..bought(Length::INCH * inches, 1) };
    let pieces = squares([50, 45, 70].map(|l| Length::INCH * l));
    let plan = planned(&pieces, &[unpriced(72), unpriced(96), unpriced(120)], &shop(SIXTEENTH * 2)).unwrap();
    assert_eq!((plan.cost, plan.proven), (Cost::Length(Length::INCH * 168), true));
}

#[test]
fn what_fits_no_stick_is_named() {
    let stocks = [bought(Length::INCH * 96, 1_000)];
    let pieces = squares([40, 97, 96].map(|l| Length::INCH * l));
    let plan = planned(&pieces, &stocks, &shop(SIXTEENTH * 2)).unwrap();
    assert_eq!((plan.unplaced.as_slice(), plan.cost, plan.proven), ([1].as_slice(), Cost::Price(2_000), true));
    let trimmed = Shop { end_trim: SIXTEENTH, ..shop(SIXTEENTH * 2) };
    let plan = planned(&pieces, &stocks, &trimmed).unwrap();
    assert_eq!((plan.unplaced.as_slice(), plan.sticks[0].pieces[0].at), ([1, 2].as_slice(), SIXTEENTH));
    let plan = planned(&pieces, &[], &shop(Length::ZERO)).unwrap();
    assert_eq!((plan.unplaced.as_slice(), plan.cost, plan.proven), ([0, 1, 2].as_slice(), Cost::Price(0), true));
    let plan = planned(&[], &stocks, &shop(Length::ZERO)).unwrap();
    assert!(plan.sticks.is_empty() && plan.proven && plan.waste == Length::ZERO);
}

/// The most pieces that fit into the sticks, by trying all ways.
fn most_placed(free: &mut Vec<i64>, lengths: &[i64]) -> usize {
    let Some((first, others)) = lengths.split_first() else { return 0 };
    let mut most = most_placed(free, others);
    for stick in 0..free.len() {
        if free[stick] >= *first {
            free[stick] -= first;
            most = most.max(1 + most_placed(free, others));
            free[stick] += first;
        }
    }
    most
}

#[test]
fn when_sticks_run_out_as_few_as_possible_are_left_over() {
    let mut dice = Dice(5);
    for _ in 0..40 {
        let sticks: Vec<i64> = (0..3).map(|_| dice.from(40, 100)).collect();
        let lengths: Vec<i64> = (0..dice.from(5, 8)).map(|_| dice.from(15, 60)).collect();
        let stocks: Vec<Stock> = sticks.iter().map(|s| in_shop(MILLIMETRE * *s, 1)).collect();
        let pieces = squares(lengths.iter().map(|l| MILLIMETRE * *l));
        let plan = planned(&pieces, &stocks, &shop(Length::ZERO)).unwrap();
        let most = most_placed(&mut sticks.clone(), &lengths);
        assert_eq!(plan.unplaced.len(), lengths.len() - most, "{sticks:?} {lengths:?}");
        assert_eq!(plan.cost, Cost::Price(0));
    }
}

#[test]
fn nonsense_is_refused() {
    let (stocks, pieces) = ([bought(Length::INCH * 96, 1)], squares([Length::INCH * 8]));
    let refused = |pieces: &[Piece], stocks: &[Stock], shop: &Shop| planned(pieces, stocks, shop).unwrap_err();
    let good = shop(SIXTEENTH);
    for piece in [
        Piece::square(Length::ZERO),
        Piece::square(Length::INCH * -8),
        Piece::square(Length::from_nanometres(i64::MAX)),
        Piece { left: Angle::from_degrees(f64::NAN), ..pieces[0] },
        Piece { right: Angle::from_degrees(90.0), ..pieces[0] },
        Piece { width: Length::INCH * -1, ..pieces[0] },
    ] {
        assert_eq!(refused(&[pieces[0], piece], &stocks, &good), CuttingError::Piece(1), "{piece:?}");
    }
    for stock in
        [bought(Length::ZERO, 1), bought(Length::INCH, 0), bought(Length::INCH, -5), bought(Length::INCH, i64::MAX)]
    {
        let stocks = [stocks[0].clone(), stock];
        assert_eq!(refused(&pieces, &stocks, &good), CuttingError::Stock(1), "{stocks:?}");
    }
    assert_eq!(refused(&pieces, &stocks, &shop(SIXTEENTH * -1)), CuttingError::Shop);
    assert_eq!(refused(&pieces, &vec![stocks[0].clone(); 65], &good), CuttingError::TooMany);
    assert_eq!(refused(&vec![pieces[0]; 100_001], &stocks, &good), CuttingError::TooMany);
    assert_eq!(CuttingError::Piece(1).to_string(), "piece 2 has no sensible length, width or angle");
}

/// Bounded in memory and work whatever the job is.
#[test]
fn large_jobs_end() {
    let stocks = [bought(Length::INCH * 96, 1_875), bought(Length::INCH * 192, 3_890)];
    let mut dice = Dice(9);
    let alike = squares((0..20_000).map(|_| SIXTEENTH * (200 + 20 * dice.from(0, 30))));
    let plan = planned(&alike, &stocks, &shop(SIXTEENTH * 2)).unwrap();
    assert!(plan.unplaced.is_empty() && plan.gap() < 0.001, "{}", plan.gap());
    let apart = squares((0..20_000).map(|_| Length::from_nanometres(dice.from(300_000_000, 1_800_000_000))));
    let plan = planned(&apart, &stocks, &shop(SIXTEENTH * 2)).unwrap();
    assert!(plan.unplaced.is_empty() && plan.gap() < 0.02, "{}", plan.gap());
}

/// Bounds hold whatever the sizes are multiples of: nanometres leave no grid for an exact table.
#[test]
fn sizes_on_no_grid_are_planned_as_well() {
    let stocks =
        [bought(Length::INCH * 72, 1_450), bought(Length::INCH * 96, 1_875), bought(Length::INCH * 120, 2_425)];
    let mut dice = Dice(3);
    let pieces = squares((0..24).map(|_| Length::from_nanometres(dice.from(300_000_000, 1_700_000_000))));
    let plan = planned(&pieces, &stocks, &shop(SIXTEENTH * 2)).unwrap();
    assert!(plan.proven && plan.unplaced.is_empty());
    // In whole millimetres, rounded down, the job is no dearer.
    let down = squares(pieces.iter().map(|p| MILLIMETRE * p.length.whole_steps(MILLIMETRE)));
    let less = planned(&down, &stocks, &shop(SIXTEENTH * 2)).unwrap();
    assert!(less.proven && less.cost <= plan.cost);
}
