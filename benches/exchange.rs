//! How fast drawings are scanned, read and grafted, beside a count of their lines and the `dxf` crate: `cargo bench`.
//!
//! The drawing is made here, the same at each run; it is also written to `target/bench/plan.dxf`, where
//! `benches/peers.py` finds it.

// A step that fails has no time worth telling.
#![allow(clippy::unwrap_used)]

use std::fmt::Write;
use std::hint::black_box;
use std::io::Cursor;
use std::path::Path;
use std::sync::OnceLock;
use std::time::Duration;

use divan::Bencher;
use divan::counter::BytesCount;
use plumbrail::base::Frame;
use plumbrail::cad::{ReadOptions, read, scan};
use plumbrail::catalog::{Job, Settings, rules_named, system_named};
use plumbrail::sheet;
use plumbrail::write::dxf::{DxfOptions, Placed, document};
use plumbrail::write::graft::{GraftOptions, graft};

/// Size of the drawing, about.
const BYTES: usize = 30_000_000;

/// Runs of each step for the table of ratios, of which the fastest counts.
const RUNS: u32 = 3;

/// A plan of `BYTES`: a deck, and everything that surrounds one on a large site plan.
fn plan() -> &'static [u8] {
    static PLAN: OnceLock<Vec<u8>> = OnceLock::new();
    PLAN.get_or_init(|| {
        let empty =
            String::from_utf8(document(&[], &[], &Frame::default(), &DxfOptions::default())).unwrap_or_default();
        let empty = empty.replace("PLUMBRAIL", "CARPENTER");
        let entities = "  2\nENTITIES\n";
        let at = empty.find(entities).map_or(0, |at| at + entities.len());
        let (head, tail) = empty.split_at(at);
        let mut text = String::with_capacity(BYTES + BYTES / 10);
        text.push_str(head);
        path(&mut text, 1, "A-DECK-EDGE", &[(0.0, 0.0), (240.0, 0.0), (240.0, 144.0), (0.0, 144.0)]);
        path(&mut text, 2, "A-WALL", &[(-24.0, 144.0), (264.0, 144.0), (264.0, 150.0), (-24.0, 150.0)]);
        let mut number = 3_u32;
        while text.len() + tail.len() < BYTES {
            let (x, y) = (f64::from(number % 1000) * 7.125, f64::from(number / 1000) * 9.5 + 1000.0);
            match number % 4 {
                0 => {
                    path(&mut text, number, "C-TOPO", &[(x, y), (x + 3.5, y + 1.25), (x + 6.0, y), (x + 7.0, y + 2.0)]);
                }
                1 => record(
                    &mut text,
                    number,
                    "LINE",
                    "A-FLOR",
                    "AcDbLine",
                    &format!(" 10\n{x}\n 20\n{y}\n 30\n0.0\n 11\n{}\n 21\n{y}\n 31\n0.0\n", x + 5.0),
                ),
                2 => record(
                    &mut text,
                    number,
                    "CIRCLE",
                    "L-PLNT",
                    "AcDbCircle",
                    &format!(" 10\n{x}\n 20\n{y}\n 30\n0.0\n 40\n2.75\n"),
                ),
                _ => record(
                    &mut text,
                    number,
                    "TEXT",
                    "A-ANNO",
                    "AcDbText",
                    &format!(" 10\n{x}\n 20\n{y}\n 30\n0.0\n 40\n2.5\n  1\nelevation {y}\n100\nAcDbText\n"),
                ),
            }
            number += 1;
        }
        text.push_str(tail);
        text.into_bytes()
    })
}

fn record(text: &mut String, number: u32, kind: &str, layer: &str, class: &str, groups: &str) {
    let handle = 0x1000 + number;
    // Writing to a string does not fail.
    let _ = write!(text, "  0\n{kind}\n  5\n{handle:X}\n330\nD\n100\nAcDbEntity\n  8\n{layer}\n100\n{class}\n{groups}");
}

fn path(text: &mut String, number: u32, layer: &str, points: &[(f64, f64)]) {
    let mut groups = format!(" 90\n{}\n 70\n1\n", points.len());
    for (x, y) in points {
        let _ = write!(groups, " 10\n{x}\n 20\n{y}\n");
    }
    record(text, number, "LWPOLYLINE", layer, "AcDbPolyline", &groups);
}

/// The rails of the plan.
fn rails() -> &'static (sheet::Set, Frame) {
    static RAILS: OnceLock<(sheet::Set, Frame)> = OnceLock::new();
    RAILS.get_or_init(|| {
        let (system, rules) = (system_named("composite-36").unwrap(), rules_named("irc-2021").unwrap());
        let settings = Settings::new(Job::default(), system, rules).unwrap();
        let outcome = plumbrail::lay_out(plan(), "plan.dxf", &settings).unwrap();
        (sheet::compose(&outcome.plan, &outcome.layout, &outcome.findings, &outcome.proof), outcome.plan.frame)
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
    read(plan(), &ReadOptions { units: None, wanted: &wanted, externals: &plumbrail::cad::no_externals })
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
    let folder = Path::new(env!("CARGO_MANIFEST_DIR")).join("target/bench");
    std::fs::create_dir_all(&folder).unwrap();
    std::fs::write(folder.join("plan.dxf"), plan()).unwrap();
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
