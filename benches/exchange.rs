//! How fast drawings are scanned, read and grafted, beside a count of their lines and the `dxf` crate: `cargo bench`.
//!
//! `cargo bench --bench speed` measures the program beside other readers of DXF.

// A step that fails has no time worth telling.
#![allow(clippy::unwrap_used, clippy::panic)]

mod plan;

use std::hint::black_box;
use std::io::Cursor;
use std::sync::OnceLock;
use std::time::Duration;

use divan::Bencher;
use divan::counter::BytesCount;
use plumbrail::base::Frame;
use plumbrail::cad::{ReadOptions, read, scan};
use plumbrail::catalog::{Job, Settings, rules_named, system_named};
use plumbrail::sheet;
use plumbrail::write::dxf::Placed;
use plumbrail::write::graft::{GraftOptions, graft};

/// Size of the drawing, about.
const BYTES: usize = 30_000_000;

/// Runs of each step for the table of ratios, of which the fastest counts.
const RUNS: u32 = 3;

/// The plan of `BYTES`.
fn plan() -> &'static [u8] {
    static PLAN: OnceLock<Vec<u8>> = OnceLock::new();
    PLAN.get_or_init(|| plan::make(BYTES))
}

/// The rails of the plan.
fn rails() -> &'static (sheet::Set, Frame) {
    static RAILS: OnceLock<(sheet::Set, Frame)> = OnceLock::new();
    RAILS.get_or_init(|| {
        let (system, rules) = (system_named("composite-36").unwrap(), rules_named("irc-2021").unwrap());
        let settings = Settings::new(Job::default(), system, rules).unwrap();
        let outcome = plumbrail::lay_out(plan(), "plan.dxf", &settings).unwrap();
        (sheet::compose(&outcome.plan, &outcome.layout, &outcome.findings), outcome.plan.frame)
    })
}

fn lines() -> usize {
    memchr::memchr_iter(b'\n', plan()).count()
}

fn scanned() -> usize {
    scan::index(plan()).unwrap().records.len()
}

fn entities() -> usize {
    let wanted = |layer: &str| layer == "A-DECK-EDGE" || layer == "A-WALL";
    read(
        plan(),
        &ReadOptions { units: None, wanted: &wanted, hidden_too: &|_| false, externals: &plumbrail::cad::no_externals },
    )
    .unwrap()
    .entities
    .len()
}

fn written() -> usize {
    let (set, frame) = rails();
    let placed = [Placed { drawing: &set.plan, at: plumbrail::base::Point::default() }];
    let graft = graft(plan(), &placed, frame, &GraftOptions::default()).unwrap();
    let mut out = Count(0);
    graft.write_to(plan(), &mut out).unwrap();
    out.0
}

/// A sink that counts.
struct Count(usize);

impl std::io::Write for Count {
    fn write(&mut self, bytes: &[u8]) -> std::io::Result<usize> {
        self.0 += black_box(bytes).len();
        Ok(bytes.len())
    }

    fn flush(&mut self) -> std::io::Result<()> {
        Ok(())
    }
}

fn loaded_by_the_crate() -> usize {
    dxf::Drawing::load(&mut Cursor::new(plan())).unwrap().entities().count()
}

/// Does its work and tells how much it found.
type Step = fn() -> usize;

/// What is measured, in the order of the table.
const STEPS: [(&str, Step); 5] = [
    ("count of lines", lines),
    ("scan", scanned),
    ("read", entities),
    ("graft", written),
    ("dxf crate", loaded_by_the_crate),
];

#[divan::bench(args = 0..STEPS.len(), sample_count = 5, sample_size = 1)]
fn step(bencher: Bencher<'_, '_>, number: usize) {
    let Some((_, step)) = STEPS.get(number) else { return };
    bencher.counter(BytesCount::new(plan().len())).bench(step);
}

#[expect(clippy::disallowed_methods, reason = "a benchmark measures time")]
fn fastest(step: Step) -> Duration {
    let mut times = (0..RUNS).map(|_| {
        let start = std::time::Instant::now();
        black_box(step());
        start.elapsed()
    });
    let first = times.next().unwrap_or_default();
    times.fold(first, Duration::min)
}

fn main() {
    for (number, (name, step)) in STEPS.iter().enumerate() {
        println!("step {number} is: {name} ({})", step());
    }
    divan::main();
    println!("{:16} {:>9} {:>9} {:>24}", "step", "seconds", "MB/s", "times as long as a count");
    let mut base = None;
    for (name, step) in STEPS {
        let seconds = fastest(step).as_secs_f64();
        let base = *base.get_or_insert(seconds);
        println!("{name:16} {seconds:>9.3} {:>9.0} {:>24.1}", plan().len() as f64 / 1e6 / seconds, seconds / base);
    }
}
