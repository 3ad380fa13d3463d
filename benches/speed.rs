//! Speed of one plan: `layout` on a large site plan beside what other programs take only to read it, on the clock, in
//! processor time and in memory (`cargo bench --bench speed`, or `-- 100 300` for these sizes in MB); then what an edge costs
//! in plans of up to a million edges.
//!
//! Each program runs as a process of its own, from its start to its end, and `peers.py` tells what it took. Asks for a Unix,
//! `ogrinfo`, and the Python environment that `cargo test` makes.

// A step that fails has nothing worth telling.
#![allow(clippy::unwrap_used, clippy::panic, clippy::indexing_slicing, missing_docs)]

mod plan;

use std::fmt::Write;
use std::fs;
use std::hint::black_box;
use std::path::{Path, PathBuf};
use std::process::{Command, Stdio};

use plumbrail::cad::tag::{Form, Lexer};
use plumbrail::cad::{ReadOptions, no_externals, read};
use plumbrail::catalog::{Inside, Job, Settings, rules_named, system_named};
use plumbrail::deck;

/// Runs of what is quick; the fastest counts.
const RUNS: usize = 5;

/// What was taken.
#[derive(Clone, Copy, serde::Deserialize)]
struct Taken {
    wall: f64,
    cpu: f64,
    #[serde(default)]
    peak: u64,
    #[serde(default)]
    status: i32,
}

impl Taken {
    /// The better of two in each respect but memory, of which the worse counts.
    fn best(self, other: Self) -> Self {
        Self {
            wall: self.wall.min(other.wall),
            cpu: self.cpu.min(other.cpu),
            peak: self.peak.max(other.peak),
            status: self.status.max(other.status),
        }
    }
}

fn root() -> &'static Path {
    Path::new(env!("CARGO_MANIFEST_DIR"))
}

fn python() -> PathBuf {
    let python = root().join("target/venv/bin/python");
    assert!(python.exists(), "target/venv is missing: `cargo test --test all interop` makes it");
    python
}

/// Runs a program `runs` times.
fn process(runs: usize, program: impl AsRef<Path>, args: &[&str]) -> Taken {
    let run = |_| {
        let peers = root().join("benches/peers.py");
        let output = Command::new(python()).arg(peers).arg(program.as_ref()).args(args).stderr(Stdio::null()).output();
        let taken: Taken = serde_json::from_slice(&output.unwrap().stdout).unwrap();
        assert!(taken.status == 0, "{} {args:?} ended with status {}", program.as_ref().display(), taken.status);
        taken
    };
    (0..runs).map(run).reduce(Taken::best).unwrap()
}

/// Processor time of this process so far, in seconds.
fn cpu() -> f64 {
    let told = fs::read_to_string("/proc/self/schedstat").unwrap_or_default();
    told.split(' ').next().and_then(|ns| ns.parse::<f64>().ok()).unwrap_or(f64::NAN) / 1e9
}

#[expect(clippy::disallowed_methods, reason = "a benchmark measures time")]
fn here<T>(runs: usize, step: impl Fn() -> T) -> Taken {
    let run = |_| {
        let (start, before) = (std::time::Instant::now(), cpu());
        black_box(step());
        Taken { wall: start.elapsed().as_secs_f64(), cpu: cpu() - before, peak: 0, status: 0 }
    };
    (0..runs).map(run).reduce(Taken::best).unwrap()
}

/// All tags, one after the other.
fn tags(bytes: &[u8]) -> usize {
    let (form, start) = Form::of(bytes);
    Lexer::new(bytes, form, start, 1).map(|tag| usize::from(tag.unwrap().code == 0)).sum()
}

fn table(megabytes: usize) {
    let path = root().join(format!("target/bench/plan-{megabytes}.dxf"));
    fs::create_dir_all(path.parent().unwrap()).unwrap();
    let bytes = plan::make(megabytes * 1_000_000);
    fs::write(&path, &bytes).unwrap();
    let file = path.to_str().unwrap();
    let out = root().join("target/bench/out");
    let layout = |formats| {
        let args = ["layout", file, "--formats", formats, "--out", out.to_str().unwrap()];
        process(RUNS, env!("CARGO_BIN_EXE_plumbrail"), &args)
    };
    let own = std::env::current_exe().unwrap();
    let peers = root().join("benches/peers.py");
    let ogrinfo = Path::new("/usr/bin/ogrinfo");
    assert!(ogrinfo.exists(), "ogrinfo is missing: install Debian's gdal-bin");
    let json = layout("json");
    let scan = here(RUNS, || tags(&bytes));
    let rows = [
        ("line ends counted", here(RUNS, || memchr::memchr_iter(b'\n', &bytes).count()), ""),
        ("all tags", scan, ""),
        ("layout --formats json", json, ""),
        ("layout --formats json,rail", layout("json,rail"), ""),
        ("dxf crate, load", process(1, own, &["--load", file]), "20"),
        ("ogrinfo -ro -al -so", process(1, ogrinfo, &["-ro", "-al", "-so", file]), "50"),
        ("ezdxf, readfile", process(1, python(), &[peers.to_str().unwrap(), "ezdxf", file]), "150"),
    ];
    let size = bytes.len() as f64;
    println!(
        "\nPlan of {megabytes} MB: seconds; times as long as `layout --formats json`; peak of memory by size of the file"
    );
    println!("| step | wall | processor | MB/s | times, wall | times, processor | target | memory |");
    println!("|---|---|---|---|---|---|---|---|");
    for (name, taken, target) in rows {
        let memory = if taken.peak == 0 { String::new() } else { format!("{:.2}", taken.peak as f64 / size) };
        println!(
            "| {name} | {:.3} | {:.3} | {:.0} | {:.1} | {:.1} | {target} | {memory} |",
            taken.wall,
            taken.cpu,
            size / 1e6 / taken.wall,
            taken.wall / json.wall,
            taken.cpu / json.cpu
        );
    }
    println!(
        "`layout` takes {:.1} times as long as all tags (processor {:.1}); target: 2",
        json.wall / scan.wall,
        json.cpu / scan.cpu
    );
}

/// A drawing of a saw-toothed edge as loose lines. A plan may have 10 km of edge, so a million lines are short ones.
fn edges(count: usize) -> Vec<u8> {
    let mut text = "0\nSECTION\n2\nHEADER\n9\n$INSUNITS\n70\n4\n0\nENDSEC\n0\nSECTION\n2\nENTITIES\n".to_owned();
    let at = |n: usize| (n as f64 * 8.0, (n % 2) as f64 * 3.6);
    for n in 0..count {
        let ((x, y), (to_x, to_y)) = (at(n), at(n + 1));
        let _ = write!(text, "0\nLINE\n8\nDECK-EDGE\n10\n{x}\n20\n{y}\n11\n{to_x}\n21\n{to_y}\n");
    }
    text.push_str("0\nENDSEC\n0\nEOF\n");
    text.into_bytes()
}

fn growth() {
    let job = Job { inside: Some(Inside::Right), ..Job::default() };
    let settings = Settings::new(job, system_named("composite-36").unwrap(), rules_named("irc-2021").unwrap()).unwrap();
    println!("\nProcessor time by edge, in microseconds");
    println!("| edges | reading | deck plan |");
    println!("|---|---|---|");
    for count in [1_000, 10_000, 100_000, 1_000_000] {
        let bytes = edges(count);
        let wanted = |layer: &str| layer == "DECK-EDGE";
        let options = ReadOptions { units: None, wanted: &wanted, hidden_too: &|_| false, externals: &no_externals };
        let drawing = read(&bytes, &options).unwrap();
        let roles = deck::Roles::new(&settings.layers, settings.own_layers());
        assert_eq!(drawing.entities.len(), count);
        // Few edges are read again and again, since the system counts processor time in steps of milliseconds.
        let times = (200_000 / count).max(1);
        let reading = here(1, || (0..times).for_each(|_| drop(black_box(read(&bytes, &options).unwrap()))));
        let left = deck::Unmarked::default();
        let plan = || deck::plan(&drawing, &roles, deck::Before::Marks(&left), &settings).unwrap();
        let planning = here(1, || (0..times).for_each(|_| drop(black_box(plan()))));
        let each = |taken: Taken| taken.cpu * 1e6 / (count * times) as f64;
        println!("| {count} | {:.2} | {:.2} |", each(reading), each(planning));
    }
}

fn main() {
    let args: Vec<String> = std::env::args().skip(1).filter(|arg| arg != "--bench").collect();
    if let [step, file] = &args[..]
        && step == "--load"
    {
        black_box(dxf::Drawing::load_file(file).unwrap());
        return;
    }
    let demo = root().join("fixtures/lakeside/plan.dxf");
    let out = root().join("target/bench/demo");
    let all = process(
        RUNS,
        env!("CARGO_BIN_EXE_plumbrail"),
        &["layout", demo.to_str().unwrap(), "--out", out.to_str().unwrap()],
    );
    println!(
        "The demo plan, all files: {:.3} s on the clock, {:.3} s of processor time; target: 0.3",
        all.wall, all.cpu
    );
    let sizes: Vec<usize> = args.iter().filter_map(|arg| arg.parse().ok()).collect();
    for megabytes in if sizes.is_empty() { vec![100, 300] } else { sizes } {
        table(megabytes);
    }
    growth();
}
