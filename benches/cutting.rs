//! The cutting planner from 20 parts to 1000, and bays chosen together with it from 5 spans to 500: time, and how far the
//! cost may be above the least (`cargo bench --bench cutting`).

// A bench that cannot set itself up has nothing to measure.
#![allow(clippy::unwrap_used, missing_docs)]

use divan::Bencher;
use plumbrail::base::plane::point;
use plumbrail::base::{Frame, Length, Mark};
use plumbrail::cad::Origin;
use plumbrail::catalog::{Bays, Inside, Job, Settings, rules_named, system_named};
use plumbrail::deck::{Chain, ChainEnd, Edge, Plan as DeckPlan};
use plumbrail::guard;
use plumbrail::parts::cutting::{Piece, Plan, Shop, Stock, plan};
use plumbrail::parts::{self, Joint};

const PARTS: [usize; 4] = [20, 60, 200, 1_000];
const SEEDS: u64 = 3;
const SIXTEENTH: Length = Length::from_nanometres(1_587_500);

fn main() {
    gaps();
    joint_gaps();
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

const SPANS: [usize; 4] = [5, 30, 100, 500];

/// Straight deck edges of 5 to 30 ft, each a stretch, until they take about `spans` panels; and the settings.
fn stretches(spans: usize, seed: u64) -> (Vec<Vec<Vec<Length>>>, Settings) {
    let job = Job { bays: Some(Bays::Cost), inside: Some(Inside::Right), ..Job::default() };
    let system = system_named("composite-36").unwrap();
    let settings = Settings::new(job, system, rules_named("irc-2021").unwrap()).unwrap();
    let mut dice = Dice(seed * 1_000 + spans as u64);
    let mut plan = DeckPlan::empty(Frame::default());
    let mut panels = 0.0;
    while panels < spans as f64 {
        let length = dice.from(60 * 16, 360 * 16) as f64 * 1.5875;
        panels += (length / (101.0 * 25.4)).ceil();
        let y = plan.chains.len() as f64 * 10_000.0;
        let edge = Edge {
            a: point(0.0, y),
            b: point(length, y),
            bulge: 0.0,
            curved: false,
            origin: Origin::default(),
            layer: "".into(),
        };
        plan.chains.push(Chain { edges: vec![edge], ends: Some([ChainEnd::Stated; 2]) });
    }
    (guard::lay_out(&plan, &settings).0.choices.ways, settings)
}

fn chosen(job: &(Vec<Vec<Vec<Length>>>, Settings)) -> Joint {
    parts::choose(&job.0, &[], &job.1, Mark::SIXTEENTH)
}

/// A table of cost, bound and what equal bays cost, by number of spans.
fn joint_gaps() {
    println!("{:>6} {:>5} {:>10} {:>10} {:>9} {:>10}", "spans", "seed", "cost", "bound", "gap %", "equal");
    for spans in SPANS {
        for seed in 0..SEEDS {
            let joint = chosen(&stretches(spans, seed));
            let gap = 100.0 * (joint.cost - joint.bound) as f64 / joint.cost as f64;
            println!("{spans:>6} {seed:>5} {:>10} {:>10} {gap:>9.4} {:>10}", joint.cost, joint.bound, joint.equal);
        }
    }
}

/// Bays of a whole job chosen together with their cutting: three jobs.
#[divan::bench(args = SPANS, sample_count = 2, sample_size = 1)]
fn joint(bencher: Bencher<'_, '_>, spans: usize) {
    let jobs: Vec<_> = (0..SEEDS).map(|seed| stretches(spans, seed)).collect();
    bencher.bench_local(|| divan::black_box(&jobs).iter().map(chosen).collect::<Vec<_>>());
}
