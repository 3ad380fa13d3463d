//! No false alarm: on a thousand random good layouts no check fails, and each is read back from its file as it was.

use std::cell::Cell;

use plumbrail::base::{Finding, Length, Severity};
use plumbrail::catalog::{BalusterStyle, Bays, CornerPosts, Job, Settings, StairJob, rules_named, system_named};
use plumbrail::proof::Verdict;
use plumbrail::{Outcome, lay_out};
use proptest::prelude::*;
use proptest::test_runner::{RngSeed, TestRunner};

use crate::drawn::{Insunits, Path, edge, moved, polylines, turned, wall};
use crate::proof_file::is_read_back;

fn runner(cases: u32) -> TestRunner {
    // The same cases at every run: a check must not fail by the day.
    let config =
        ProptestConfig { cases, failure_persistence: None, rng_seed: RngSeed::Fixed(11), ..ProptestConfig::default() };
    TestRunner::new(config)
}

fn tenths(n: i64) -> Length {
    Length::INCH.fraction(n, 10)
}

/// What the stages before the proof call wrong.
fn wrong(outcome: &Outcome) -> Vec<&Finding> {
    let errors = outcome.findings.iter().filter(|f| f.severity >= Severity::Incomplete);
    errors.filter(|f| !outcome.proof.findings.contains(f)).collect()
}

/// Proves it; whether the layout was good, so that it counted.
fn prove(dxf: &str, settings: &Settings) -> Result<bool, TestCaseError> {
    let outcome = lay_out(dxf.as_bytes(), "plan.dxf", settings).map_err(|r| TestCaseError::fail(r.to_string()))?;
    if !wrong(&outcome).is_empty() {
        return Ok(false);
    }
    prop_assert!(!outcome.layout.panels.is_empty());
    let failed: Vec<_> = outcome.proof.checks.iter().filter(|c| c.verdict == Verdict::Fail).collect();
    prop_assert!(failed.is_empty(), "{failed:#?}");
    is_read_back(&outcome);
    Ok(true)
}

/// How a job is done: system, style, bays, corner posts, metric, turn of the plan.
fn ways() -> impl Strategy<Value = (bool, usize, usize, bool, bool, f64)> {
    (any::<bool>(), 0..3_usize, 0..3_usize, any::<bool>(), any::<bool>(), 0.0..360.0_f64)
}

fn settings(
    (is_metal, style, bays, two, ..): (bool, usize, usize, bool, bool, f64),
    flights: Vec<StairJob>,
) -> Settings {
    let job = Job {
        balusters: Some([BalusterStyle::Centred, BalusterStyle::Even, BalusterStyle::Punched][style]),
        bays: Some([Bays::Equal, Bays::Stock, Bays::Cost][bays]),
        corner_posts: Some(if two { CornerPosts::Two } else { CornerPosts::One }),
        flights,
        ..Job::default()
    };
    let system = system_named(if is_metal { "metal-42" } else { "composite-36" }).unwrap();
    Settings::new(job, system, rules_named("irc-2021").unwrap()).unwrap()
}

/// In drawing units, turned.
fn drawn(paths: &[Path], metric: bool, turn: f64) -> String {
    let unit = if metric { 25.4 } else { 1.0 };
    let placed = moved(paths, |p| turned([p[0] * unit, p[1] * unit], turn));
    polylines(&placed, if metric { Insunits::Millimetre } else { Insunits::Inch })
}

/// A rectangle, or an L with its notch in the far corner, the house along the low side.
fn deck(wide: f64, deep: f64, notch: Option<(f64, f64)>) -> Vec<Path> {
    let points = match notch {
        None => vec![[0.0, 0.0], [wide, 0.0], [wide, deep], [0.0, deep]],
        Some((x, y)) => {
            vec![[0.0, 0.0], [wide, 0.0], [wide, deep * y], [wide * x, deep * y], [wide * x, deep], [0.0, deep]]
        }
    };
    vec![edge(&points, true), wall(&[[-60.0, 0.0], [wide + 60.0, 0.0]], false)]
}

#[test]
fn no_check_fails_on_random_level_decks() {
    let (good, all) = (Cell::new(0), Cell::new(0));
    let notch = proptest::option::of((0.35..0.65_f64, 0.35..0.65_f64));
    let cases = (100.0..500.0_f64, 100.0..400.0_f64, notch, ways());
    runner(750)
        .run(&cases, |(wide, deep, notch, ways)| {
            let counted = prove(&drawn(&deck(wide, deep, notch), ways.4, ways.5), &settings(ways, Vec::new()))?;
            good.set(good.get() + u32::from(counted));
            all.set(all.get() + 1);
            Ok(())
        })
        .unwrap();
    println!("{} of {} level decks were good", good.get(), all.get());
    assert!(good.get() >= 700, "{}", good.get());
}

#[test]
fn no_check_fails_on_random_stairs() {
    let (good, all) = (Cell::new(0), Cell::new(0));
    // Risers and treads of which both systems have raked panels, and which the rule set allows.
    let steps = (2..14_u32, 55..=77_i64, 100..=130_i64, 8..=12_i64);
    let cases = (150.0..400.0_f64, 120.0..300.0_f64, 0.35..0.65_f64, 36.0..60.0_f64, steps, ways());
    runner(320)
        .run(&cases, |(wide, deep, middle, width, (risers, riser, tread, nosing), mut ways)| {
            // The metal system has no handrails, which four risers ask for, the composite one no punched rails for stairs.
            ways.0 &= risers < 4;
            ways.1 = if ways.0 { ways.1 } else { ways.1 % 2 };
            let (unit, turn) = (if ways.4 { 25.4 } else { 1.0 }, ways.5);
            let at = |x: f64| turned([x * unit, deep * unit], turn);
            let (left, right) = (wide * middle - width / 2.0, wide * middle + width / 2.0);
            let flight = StairJob {
                // As seen looking down, away from the house, the left end is that with the lower x.
                top: Some([at(left), at(right)]),
                risers: Some(risers),
                riser: Some(tenths(riser)),
                tread: Some(tenths(tread)),
                nosing: Some(tenths(nosing)),
                ..StairJob::default()
            };
            let counted = prove(&drawn(&deck(wide, deep, None), ways.4, turn), &settings(ways, vec![flight]))?;
            good.set(good.get() + u32::from(counted));
            all.set(all.get() + 1);
            Ok(())
        })
        .unwrap();
    println!("{} of {} stairs were good", good.get(), all.get());
    assert!(good.get() >= 300, "{}", good.get());
}
