//! A thousand random jobs: every piece once, no stick overfilled, no overlap, the bound below the cost, the same again.

use super::plan as planned;
use super::tests::{Dice, bought, shop};
use super::*;
use crate::base::Angle;

const JOBS: u64 = 1_000;

struct Job {
    pieces: Vec<Piece>,
    stocks: Vec<Stock>,
    shop: Shop,
}

/// A job of up to 18 pieces, with repeated ones, slanted ones, sticks in the shop and ends that are trimmed.
fn job(seed: u64) -> Job {
    let mut dice = Dice(seed.wrapping_mul(7_919));
    dice.from(0, 1);
    // Half of the jobs on marks of 1/16 in, the others on no grid at all.
    let grid = if dice.from(0, 1) == 0 { 1_587_500 } else { 1 };
    let mut length = |low: i64, high: i64| {
        let (low, high) = (low * 25_400_000 / grid, high * 25_400_000 / grid);
        Length::from_nanometres(dice.from(low, high) * grid)
    };
    let sizes: Vec<Length> = (0..8).map(|_| length(6, 80)).collect();
    let kerf = Length::from_nanometres(dice.from(0, 3) * 1_587_500);
    let width = Length::from_nanometres(dice.from(1, 4) * 25_400_000);
    let lean = [0.0, 22.5, 37.3, -37.3].map(Angle::from_degrees);
    let usual = lean[dice.from(1, 3) as usize];
    let pieces = (0..dice.from(1, 18))
        .map(|_| {
            let size = sizes[dice.from(0, 7) as usize];
            let (left, right) = (lean[dice.from(0, 3) as usize], lean[dice.from(0, 3) as usize]);
            match dice.from(0, 3) {
                0 => Piece { length: size + Length::INCH * 4, width, left, right },
                1 => Piece { length: size + Length::INCH * 4, width, left: usual, right: -usual },
                _ => Piece::square(size),
            }
        })
        .collect();
    let mut stocks: Vec<Stock> =
        [(72, 1_450), (96, 1_875), (120, 2_425)].map(|(l, price)| bought(Length::INCH * l, price)).into();
    stocks.truncate(dice.from(0, 3) as usize);
    for _ in 0..dice.from(0, 2) {
        let length = Length::INCH * dice.from(20, 90);
        stocks.push(Stock { on_hand: Some(dice.from(0, 3) as u32), ..bought(length, 1) });
    }
    let end_trim = Length::from_nanometres(dice.from(0, 2) * 6_350_000);
    Job { pieces, stocks, shop: Shop { end_trim, nest: dice.from(0, 2) > 0, ..shop(kerf) } }
}

/// Corners of a piece in its stick, outer edge (y = width) and inner edge (y = 0), in mm.
fn edges(piece: &Piece, at: Length) -> [(f64, f64); 2] {
    let (x, length, width) = (at.millimetres(), piece.length.millimetres(), piece.width.millimetres());
    let ends = |angle: Angle| {
        let reach = width * angle.abs().tan();
        if angle.degrees() > 0.0 { (0.0, reach) } else { (reach, 0.0) }
    };
    let ((outer_left, inner_left), (outer_right, inner_right)) = (ends(piece.left), ends(piece.right));
    [(x + outer_left, x + length - outer_right), (x + inner_left, x + length - inner_right)]
}

/// What the saw has between two pieces: square to the cut where their ends are parallel, else along the rail.
fn room(before: &Piece, after: &Piece, gap: f64, shop: &Shop) -> f64 {
    let parallel = (before.right.degrees() + after.left.degrees()).abs() < 1e-9;
    if shop.nest && parallel { gap * after.left.cos() } else { gap }
}

fn check(job: &Job, plan: &Plan, seed: u64) {
    let mut seen: Vec<usize> = plan.sticks.iter().flat_map(|s| s.pieces.iter().map(|p| p.piece)).collect();
    seen.extend(&plan.unplaced);
    seen.sort_unstable();
    assert!(seen.iter().copied().eq(0..job.pieces.len()), "{seed}: each piece once, {seen:?}");
    for (index, stock) in job.stocks.iter().enumerate() {
        let used = plan.sticks.iter().filter(|s| s.stock == index).count();
        assert!(stock.on_hand.is_none_or(|n| used <= n as usize), "{seed}: {used} of {stock:?}");
    }
    let kerf = job.shop.kerf.millimetres();
    for stick in &plan.sticks {
        let length = job.stocks[stick.stock].length;
        assert!(!stick.pieces.is_empty() && stick.pieces[0].at == job.shop.end_trim, "{seed}");
        for pair in stick.pieces.windows(2) {
            let [a, b] = [&job.pieces[pair[0].piece], &job.pieces[pair[1].piece]];
            let (left, right) = (edges(a, pair[0].at), edges(b, pair[1].at));
            // Both edges are straight between the two, so the least distance is at one of them; a piece without width has
            // only one that counts.
            let nearest = left.iter().zip(&right).map(|(l, r)| r.0 - l.1).fold(f64::INFINITY, f64::min);
            assert!(room(a, b, nearest, &job.shop) >= kerf - 1e-6, "{seed}: {nearest} between {a:?} and {b:?}");
        }
        let last = stick.pieces.last().unwrap();
        let end = last.at + job.pieces[last.piece].length;
        assert!(end + job.shop.end_trim <= length, "{seed}: {end} of {length}");
        assert!(end + stick.offcut <= length && stick.kept == (stick.offcut >= job.shop.least_offcut), "{seed}");
    }
    let bought = plan.sticks.iter().map(|s| &job.stocks[s.stock]).filter(|s| s.on_hand.is_none());
    assert_eq!(plan.cost, Cost::Price(bought.map(|s| s.price.unwrap()).sum()), "{seed}");
    assert!(plan.lower_bound <= plan.cost && plan.proven == (plan.lower_bound == plan.cost), "{seed}");
}

#[test]
fn random_jobs_are_cut_once_within_their_sticks_and_the_same_again() {
    let (mut proven, mut nested) = (0, 0);
    for seed in 0..JOBS {
        let job = job(seed);
        let plan = planned(&job.pieces, &job.stocks, &job.shop).unwrap();
        check(&job, &plan, seed);
        proven += usize::from(plan.proven);
        if seed % 4 == 0 {
            assert_eq!(planned(&job.pieces, &job.stocks, &job.shop).unwrap(), plan, "{seed}");
        }
        if job.shop.nest {
            let apart = Shop { nest: false, ..job.shop };
            let apart = planned(&job.pieces, &job.stocks, &apart).unwrap();
            assert!(apart.unplaced.len() >= plan.unplaced.len(), "{seed}");
            let less = apart.unplaced.len() == plan.unplaced.len() && plan.proven && apart.proven;
            assert!(!less || plan.cost <= apart.cost, "{seed}: sharing tips never costs more");
            nested += usize::from(less && plan.cost < apart.cost);
        }
    }
    assert!(proven >= 990 && nested >= 20, "{proven} proven, {nested} cheaper by sharing tips");
}

/// Closed form: 45 degrees and a width of 4 in make tips of 4 in; a kerf of 1/8 takes 0.17678 along the rail. Pieces of 24 in
/// from tip to tip are 20 along each edge: 4 of them take 4 · 20 + 3 · 0.17678 + 4 = 84.53, the 5th 104.71.
#[test]
fn parallel_ends_share_their_tips() {
    let lean = Angle::from_degrees(45.0);
    let piece = Piece { length: Length::INCH * 24, width: Length::INCH * 4, left: lean, right: -lean };
    let kerf = Length::from_nanometres(3_175_000);
    let nest = Shop { nest: true, ..shop(kerf) };
    let stocks = [bought(Length::INCH * 96, 1_000)];
    let plan = planned(&[piece; 4], &stocks, &nest).unwrap();
    assert_eq!((plan.sticks.len(), plan.proven), (1, true));
    let at: Vec<f64> = plan.sticks[0].pieces.iter().map(|p| p.at.inches()).collect();
    for (at, expected) in at.iter().zip([0.0, 20.17678, 40.35355, 60.53033]) {
        assert!((at - expected).abs() < 1e-5, "{at}");
    }
    assert_eq!(planned(&[piece; 4], &stocks, &shop(kerf)).unwrap().sticks.len(), 2);
    assert_eq!(planned(&[piece; 5], &stocks, &nest).unwrap().sticks.len(), 2);
    // The other lean and a trapezoid do not go with them.
    let other = Piece { left: -lean, right: lean, ..piece };
    let trapezoid = Piece { right: lean, ..piece };
    for odd in [other, trapezoid] {
        let plan = planned(&[piece, piece, piece, odd], &stocks, &nest).unwrap();
        assert_eq!((plan.sticks.len(), plan.proven), (1, true), "3 · 20 + 2 · 0.177 + 4 + 1/8 + 24 = 88.48");
        let plan = planned(&[piece, odd, odd, odd], &stocks, &nest).unwrap();
        assert_eq!(
            plan.sticks.len(),
            if odd == other { 1 } else { 2 },
            "24 + 1/8 + 64.35 = 88.48, 4 · 24 + 3/8 = 96.38"
        );
    }
}
