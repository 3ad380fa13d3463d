//! The cutting planner from 20 parts to 1000: time, and how far the cost may be above the least (`cargo bench`).

// A bench that cannot set itself up has nothing to measure.
#![allow(clippy::unwrap_used, missing_docs)]

use divan::Bencher;
use plumbrail::base::Length;
use plumbrail::parts::cutting::{Piece, Plan, Shop, Stock, plan};

const PARTS: [usize; 4] = [20, 60, 200, 1_000];
const SEEDS: u64 = 3;
const SIXTEENTH: Length = Length::from_nanometres(1_587_500);

fn main() {
    gaps();
    divan::main();
}

/// Numbers that look random and are the same at each run (Knuth's MMIX generator).
struct Dice(u64);

impl Dice {
    fn from(&mut self, low: i64, high: i64) -> i64 {
        self.0 = self.0.wrapping_mul(6_364_136_223_846_793_005).wrapping_add(1_442_695_040_888_963_407);
        low + (self.0 >> 33) as i64 % (high - low + 1)
    }
}

/// Parts of 12 to 71 in, all lengths alike often, on marks of `grid`, from four stocks.
fn job(parts: usize, grid: Length, seed: u64) -> (Vec<Piece>, Vec<Stock>, Shop) {
    let mut dice = Dice(seed * 1_000 + parts as u64);
    let steps = |inches: i64| (Length::INCH * inches).whole_steps(grid);
    let pieces = (0..parts).map(|_| Piece::square(grid * dice.from(steps(12), steps(71)))).collect();
    let stock = |(inches, price): (i64, i64)| Stock {
        name: format!("{inches} in"),
        length: Length::INCH * inches,
        price: Some(price),
        on_hand: None,
    };
    let stocks = [(72, 1_450), (96, 1_875), (120, 2_425), (192, 3_890)].map(stock).into();
    let shop = Shop { kerf: SIXTEENTH * 2, end_trim: Length::ZERO, least_offcut: Length::INCH * 12, nest: false };
    (pieces, stocks, shop)
}

fn planned(job: &(Vec<Piece>, Vec<Stock>, Shop)) -> Plan {
    plan(&job.0, &job.1, &job.2).unwrap()
}

/// A table of cost, bound and gap by number of parts.
fn gaps() {
    println!(
        "{:>6} {:>8} {:>5} {:>10} {:>10} {:>9} {:>7}",
        "parts", "grid", "seed", "cost", "bound", "gap %", "waste %"
    );
    for parts in PARTS {
        for (name, grid) in [("1/16 in", SIXTEENTH), ("none", Length::from_nanometres(1))] {
            for seed in 0..SEEDS {
                let plan = planned(&job(parts, grid, seed));
                let (cost, bound) = (plan.cost.number(), plan.lower_bound.number());
                let (gap, waste) = (100.0 * plan.gap(), plan.waste_percent());
                println!("{parts:>6} {name:>8} {seed:>5} {cost:>10} {bound:>10} {gap:>9.4} {waste:>7.2}");
            }
        }
    }
}

/// Lengths on marks: three jobs.
#[divan::bench(args = PARTS, sample_count = 2, sample_size = 1)]
fn on_marks(bencher: Bencher<'_, '_>, parts: usize) {
    let jobs: Vec<_> = (0..SEEDS).map(|seed| job(parts, SIXTEENTH, seed)).collect();
    bencher.bench_local(|| divan::black_box(&jobs).iter().map(planned).collect::<Vec<_>>());
}

/// Lengths on no grid at all: three jobs.
#[divan::bench(args = PARTS, sample_count = 2, sample_size = 1)]
fn on_no_grid(bencher: Bencher<'_, '_>, parts: usize) {
    let jobs: Vec<_> = (0..SEEDS).map(|seed| job(parts, Length::from_nanometres(1), seed)).collect();
    bencher.bench_local(|| divan::black_box(&jobs).iter().map(planned).collect::<Vec<_>>());
}
