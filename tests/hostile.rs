//! Drawings that no program should have written, through the library: a refusal, or findings, and never a panic.

use std::fs;

use plumbrail::base::{Code, Refusal};
use plumbrail::catalog::{self, Job, Settings};
use plumbrail::{Outcome, sheet, write};
use proptest::prelude::*;
use proptest::test_runner::{Config, RngAlgorithm, TestRng, TestRunner};

use crate::drawn::{Insunits, Path, corners, document, edge, polylines, wall};
use crate::program::{plan, root};

pub fn settings(units: Option<&str>) -> Settings {
    let job = Job { units: units.map(str::to_owned), ..Job::default() };
    let system = catalog::system_named("composite-36").unwrap();
    Settings::new(job, system, catalog::rules_named("irc-2021").unwrap()).unwrap()
}

fn laid_out(dxf: &str) -> Result<Outcome, Refusal> {
    proved(dxf.as_bytes())
}

/// As far as the proof: what is wrong there shows in all files.
pub fn proved(bytes: &[u8]) -> Result<Outcome, Refusal> {
    plumbrail::lay_out(bytes, "plan.dxf", &settings(None))
}

/// The whole way to the bytes of every file, as far as the drawing lets it.
pub fn all_of_it(bytes: &[u8]) -> Result<Outcome, Refusal> {
    let outcome = plumbrail::lay_out(bytes, "plan.dxf", &settings(None))?;
    let set = sheet::compose(&outcome.plan, &outcome.layout, &outcome.findings);
    let placed: Vec<_> =
        set.arrangement().into_iter().map(|(drawing, at)| write::dxf::Placed { drawing, at }).collect();
    let options = write::dxf::DxfOptions::default();
    assert!(!write::dxf::document(&placed, &[], &outcome.layout.plan.frame, &options).is_empty());
    assert!(!write::svg::document(&[&set.plan], &set.background).is_empty());
    let json = write::json::layout(&outcome.layout, &outcome.findings, &outcome.proof);
    // NaN and infinity would stand as null where a number must be.
    let record: Result<plumbrail::parts::record::Record, _> = serde_json::from_slice(&json);
    assert!(record.is_ok(), "{:?}", record.err());
    Ok(outcome)
}

fn demo() -> Vec<u8> {
    fs::read(root().join(plan("lakeside"))).unwrap()
}

pub fn refused(bytes: &[u8], code: Code, says: &str) {
    let refusal = all_of_it(bytes).expect_err("the drawing should not be usable");
    assert_eq!(refusal.finding.code, code, "{refusal:?}");
    assert!(refusal.finding.message.contains(says), "{}", refusal.finding.message);
}

pub fn has(outcome: &Outcome, code: Code) -> bool {
    outcome.findings.iter().any(|f| f.code == code)
}

/// A good deck with a wall, and more entities.
pub fn deck_and(entities: &str) -> String {
    let good = [edge(&corners(0.0, 0.0, 176.0, 86.0), true), wall(&corners(-10.0, 86.0, 186.0, 92.0), true)];
    polylines(&good, Insunits::Inch).replacen("0\nENDSEC\n0\nEOF", &format!("{entities}0\nENDSEC\n0\nEOF"), 1)
}

#[test]
fn what_is_no_drawing_is_named() {
    for (bytes, says) in [
        (&b""[..], "the file is empty"),
        (b" \r\n\t\n", "the file is empty"),
        (b"Dear builder,\nplease build a deck.\n", "begins with the lines `0` and `SECTION`"),
        (b"\x89PNG\r\n\x1a\n\0\0\0\rIHDR", "a PNG picture"),
        (b"%PDF-1.7\n%\xe2\xe3\xcf\xd3\n", "a PDF document"),
        (b"AC1032\0\0\0\0\0", "a DWG (AC1032), not a DXF"),
        (b"PK\x03\x04", "a ZIP archive"),
        (b"\0\0\0\0\0\0\0\0", "not a DXF"),
        (b"{\"format\": 1}", "not a DXF"),
        (b"0\nEOF\n", "no ENTITIES section"),
        (b"0\nSECTION\n2\nHEADER\n0\nENDSEC\n0\nEOF\n", "no ENTITIES section"),
        (b"0\nSECTION\n", "cut off"),
    ] {
        refused(bytes, Code::NotReadable, says);
    }
    // DXF by its first bytes, and nothing after them.
    refused(b"AutoCAD Binary DXF\r\n\x1a\0", Code::NotReadable, "");
    refused(b"AutoCAD Binary DXF\r\n\x1a\0\xff\xff\xff\xff", Code::NotReadable, "");
}

/// A drawing that was cut off is no smaller drawing: a part of the edge may be gone.
#[test]
fn a_drawing_cut_off_anywhere_is_refused() {
    for case in ["lakeside", "binary", "r12"] {
        let bytes = fs::read(root().join(plan(case))).unwrap();
        for end in (0..bytes.len() - 8).step_by(97) {
            let refusal = all_of_it(&bytes[..end]).expect_err("cut off");
            assert_eq!(refusal.finding.code, Code::NotReadable, "{case} cut off at {end}: {refusal:?}");
        }
    }
}

#[test]
fn a_missing_end_is_said_with_its_line() {
    let text = deck_and("");
    let without = text.strip_suffix("0\nEOF\n").unwrap();
    let refusal = all_of_it(without.as_bytes()).unwrap_err();
    let line = u64::try_from(without.lines().count()).unwrap();
    assert_eq!(refusal.finding.place.line, Some(line));
    refused(without.as_bytes(), Code::NotReadable, "without an EOF record");
}

#[test]
fn coordinates_that_are_none_are_left_out_with_a_finding() {
    for bad in ["nan", "NaN", "inf", "-inf", "1e300", "-1e300", "1e9", "12,5", "", "0x10", "1e", "--1"] {
        let line = |layer: &str| format!("0\nLINE\n8\n{layer}\n10\n{bad}\n20\n0\n11\n50\n21\n0\n");
        for layer in ["DECK-EDGE", "WALL", "STAIRS", "GATE", "POST"] {
            let outcome = all_of_it(deck_and(&line(layer)).as_bytes()).unwrap();
            let told = has(&outcome, Code::CoordinateRefused) || has(&outcome, Code::BadRecord);
            assert!(told, "{bad} on {layer}: {:?}", outcome.findings);
            assert_eq!(outcome.layout.panels.len(), 4, "{bad} on {layer}");
        }
        // The only edge there is: no edge is left.
        let alone = document(&line("DECK-EDGE"), Insunits::Inch);
        let refusal = all_of_it(alone.as_bytes()).unwrap_err();
        assert_eq!(refusal.finding.code, Code::LayerEmpty, "{bad}");
        let told = |f: &plumbrail::base::Finding| matches!(f.code, Code::CoordinateRefused | Code::BadRecord);
        assert!(refusal.others.iter().any(told), "{bad}: {refusal:?}");
    }
}

#[test]
fn numbers_that_are_none_elsewhere() {
    for bad in ["nan", "inf", "1e300", "-1", "99999999999999999999", ""] {
        for entity in [
            format!("0\nCIRCLE\n8\nPOST\n10\n4\n20\n4\n40\n{bad}\n"),
            format!("0\nARC\n8\nDECK-EDGE\n10\n4\n20\n4\n40\n9\n50\n{bad}\n51\n{bad}\n"),
            format!("0\nLWPOLYLINE\n8\nDECK-EDGE\n90\n{bad}\n70\n{bad}\n10\n0\n20\n300\n42\n{bad}\n10\n90\n20\n300\n"),
            format!("0\nLINE\n8\nWALL\n10\n0\n20\n0\n11\n9\n21\n9\n210\n{bad}\n220\n{bad}\n230\n{bad}\n"),
            format!("0\nSPLINE\n8\nDECK-EDGE\n71\n{bad}\n72\n{bad}\n73\n2\n40\n{bad}\n10\n0\n20\n0\n10\n9\n20\n9\n"),
            format!("0\nELLIPSE\n8\nDECK-EDGE\n10\n0\n20\n0\n11\n{bad}\n21\n0\n40\n{bad}\n41\n0\n42\n{bad}\n"),
            format!("0\nTEXT\n8\nSTAIRS\n10\n0\n20\n0\n40\n{bad}\n1\nDN\n50\n{bad}\n"),
            format!(
                "0\nINSERT\n8\nPOST\n2\nNONE\n10\n{bad}\n20\n0\n41\n{bad}\n42\n0\n50\n{bad}\n70\n{bad}\n71\n{bad}\n"
            ),
        ] {
            drop(all_of_it(deck_and(&entity).as_bytes()));
        }
    }
}

#[test]
fn edges_of_no_length_are_left_out() {
    let mut points = corners(0.0, 0.0, 200.0, 100.0).to_vec();
    points.insert(1, points[0]);
    points.insert(3, points[2]);
    let dxf = polylines(&[edge(&points, true)], Insunits::Inch);
    let outcome = all_of_it(dxf.as_bytes()).unwrap();
    assert!(has(&outcome, Code::ZeroEdge));
    let plain = all_of_it(polylines(&[edge(&corners(0.0, 0.0, 200.0, 100.0), true)], Insunits::Inch).as_bytes());
    assert_eq!(outcome.layout.panels.len(), plain.unwrap().layout.panels.len());
    for points in [&[[5.0, 5.0]][..], &[[5.0, 5.0]; 2], &[[5.0, 5.0]; 7], &[]] {
        for closed in [false, true] {
            let dxf = polylines(&[edge(points, closed)], Insunits::Inch);
            refused(dxf.as_bytes(), Code::LayerEmpty, "holds an edge");
        }
    }
}

/// Shapes that have no inside, or fold back onto themselves.
#[test]
fn outlines_that_are_none() {
    for points in [
        &[[0.0, 0.0], [100.0, 0.0]][..],
        &[[0.0, 0.0], [100.0, 0.0], [0.0, 0.0], [100.0, 0.0]],
        &[[0.0, 0.0], [100.0, 100.0], [100.0, 0.0], [0.0, 100.0]],
        &[[0.0, 0.0], [100.0, 0.0], [50.0, 0.0], [50.0, 90.0]],
        &[[0.0, 0.0], [100.0, 0.0], [100.0, 1e-6], [0.0, 1e-6]],
        &[[0.0, 0.0], [1e-3, 0.0], [1e-3, 1e-3]],
        &[[0.0, 0.0], [9e6, 0.0], [9e6, 3.0]],
    ] {
        for closed in [false, true] {
            for more in [&[][..], &[wall(&corners(-50.0, 0.0, 150.0, 6.0), true)], &[wall(&[[3.0, 3.0]; 3], true)]] {
                let paths: Vec<Path> = more.iter().cloned().chain([edge(points, closed)]).collect();
                let outcome = all_of_it(polylines(&paths, Insunits::Inch).as_bytes());
                // Whatever stands there: if no panel was made, somebody must be told.
                if let Ok(outcome) = outcome
                    && outcome.layout.panels.is_empty()
                {
                    assert!(!outcome.findings.is_empty(), "{points:?}");
                }
            }
        }
    }
}

/// A deck in millimetres taken for one in metres: 19 km around, which is refused before thousands of panels are made.
#[test]
fn a_deck_of_many_miles() {
    let deck = polylines(&[edge(&corners(0.0, 0.0, 6000.0, 3600.0), true)], Insunits::None);
    let refusal = plumbrail::lay_out(deck.as_bytes(), "plan.dxf", &settings(Some("m"))).unwrap_err();
    assert_eq!(refusal.finding.code, Code::UnitsDoubtful);
    assert_eq!(
        refusal.finding.message,
        "the deck edges are 19.2 km long in all, with a drawing unit of 1 m; more than 10 km are no deck"
    );
    assert!(plumbrail::lay_out(deck.as_bytes(), "plan.dxf", &settings(Some("mm"))).is_ok());
    // An arc is as long as it is, however near its ends are: 90 in apart, on a circle of 57 km.
    let ring = deck_and("0\nLWPOLYLINE\n8\nDECK-EDGE\n90\n2\n10\n0\n20\n400\n42\n1e5\n10\n90\n20\n400\n");
    refused(ring.as_bytes(), Code::UnitsDoubtful, "the deck edges are 359.1 km long in all");
    let giant = polylines(&[edge(&corners(0.0, 0.0, 9e6, 9e6), true)], Insunits::Inch);
    refused(giant.as_bytes(), Code::UnitsDoubtful, "km long in all");
}

/// A straight edge of a million vertices is one edge; a million edges in a wave are more than a deck has, but end.
#[test]
fn a_million_vertices() {
    let straight: Vec<[f64; 2]> = (0..=1_000_000).map(|i| [f64::from(i) * 8e-5, 0.0]).collect();
    let walls = wall(&[[0.0, 0.0], [0.0, 50.0], [80.0, 50.0], [80.0, 0.0]], false);
    let dxf = polylines(&[edge(&straight, false), walls.clone()], Insunits::Inch);
    // 80 in from wall to wall: one panel.
    let outcome = laid_out(&dxf).unwrap();
    let spans: Vec<f64> = outcome.layout.panels.iter().map(|p| p.panel.span.inches()).collect();
    assert_eq!(spans, [80.0]);
    let wave: Vec<[f64; 2]> = (0..1_000_000).map(|i| [f64::from(i) * 0.1, f64::from(i % 2)]).collect();
    let dxf = polylines(&[edge(&wave, false), walls], Insunits::Inch);
    match laid_out(&dxf) {
        Ok(outcome) => assert!(outcome.findings.iter().any(|f| f.severity >= plumbrail::base::Severity::Incomplete)),
        Err(refusal) => assert!(!refusal.finding.message.is_empty()),
    }
}

#[test]
fn deep_nesting_in_extended_data() {
    let open = "1002\n{\n".repeat(100_000);
    let entity = format!("0\nLINE\n8\nWALL\n10\n0\n20\n150\n11\n90\n21\n150\n1001\nSOME\n{open}");
    assert_eq!(all_of_it(deck_and(&entity).as_bytes()).unwrap().layout.panels.len(), 4);
    let groups = "102\n{A\n".repeat(100_000);
    let entity = format!("0\nLINE\n8\nWALL\n{groups}10\n0\n20\n150\n11\n90\n21\n150\n");
    all_of_it(deck_and(&entity).as_bytes()).unwrap();
}

/// A block section before the deck's entities.
fn with_blocks(blocks: &str, entities: &str) -> String {
    let section = format!("0\nSECTION\n2\nBLOCKS\n{blocks}0\nENDSEC\n0\nSECTION\n2\nENTITIES\n");
    deck_and(entities).replacen("0\nSECTION\n2\nENTITIES\n", &section, 1)
}

fn block(name: &str, entities: &str) -> String {
    format!("0\nBLOCK\n8\n0\n2\n{name}\n70\n0\n10\n0\n20\n0\n3\n{name}\n{entities}0\nENDBLK\n8\n0\n")
}

fn insert(name: &str, more: &str) -> String {
    format!("0\nINSERT\n8\nWALL\n2\n{name}\n10\n0\n20\n300\n{more}")
}

const LINE: &str = "0\nLINE\n8\n0\n10\n0\n20\n0\n11\n9\n21\n0\n";

#[test]
fn blocks_without_an_end() {
    // In itself; in a ring of two; in one that is not there; in a chain of a thousand.
    let mut chain: String = (0..1000).map(|i| block(&format!("C{i}"), &insert(&format!("C{}", i + 1), ""))).collect();
    chain.push_str(&block("C1000", LINE));
    for (blocks, name, code) in [
        (block("SELF", &format!("{LINE}{}", insert("SELF", ""))), "SELF", Code::TooManyInserts),
        (block("ONE", &insert("TWO", "")) + &block("TWO", &insert("ONE", "")), "ONE", Code::TooManyInserts),
        (String::new(), "NONE", Code::BlockMissing),
        (chain, "C0", Code::TooManyInserts),
    ] {
        let outcome = all_of_it(with_blocks(&blocks, &insert(name, "")).as_bytes()).unwrap();
        assert!(has(&outcome, code), "{name}: {:?}", outcome.findings);
        assert_eq!(outcome.layout.panels.len(), 4, "{name}");
    }
}

#[test]
fn blocks_repeated_beyond_measure() {
    // An array of 9·10^8 lines, and ten to the ninth lines in nine levels of ten.
    let array = "70\n30000\n71\n30000\n44\n1\n45\n1\n";
    let level = |i: usize| block(&format!("L{i}"), &insert(&format!("L{}", i + 1), "").repeat(10));
    let blocks: String = (0..9).map(level).collect::<String>() + &block("L9", LINE);
    let outcome = laid_out(&with_blocks(&blocks, &(insert("L9", array) + &insert("L0", "")))).unwrap();
    assert!(has(&outcome, Code::TooManyInserts), "{:?}", outcome.findings);
    assert_eq!(outcome.layout.panels.len(), 4);
}

#[test]
fn lines_and_names_of_ten_megabytes() {
    let long = "x".repeat(10_000_000);
    for entity in [
        format!("0\nTEXT\n8\nSTAIRS\n10\n0\n20\n0\n40\n5\n1\n{long}\n"),
        format!("0\nLINE\n8\n{long}\n10\n0\n20\n150\n11\n90\n21\n150\n"),
        format!("0\nINSERT\n8\nWALL\n2\n{long}\n10\n0\n20\n0\n"),
        format!("0\n{long}\n8\nWALL\n"),
        format!("0\nLINE\n8\nWALL\n10\n{}\n20\n0\n11\n5\n21\n5\n", "9".repeat(10_000_000)),
    ] {
        let outcome = all_of_it(deck_and(&entity).as_bytes()).unwrap();
        assert_eq!(outcome.layout.panels.len(), 4);
        let longest = outcome.findings.iter().map(|f| f.message.len()).max().unwrap();
        assert!(longest < 5000, "a message of {longest} bytes");
    }
    // Where a group code must stand.
    let refusal = all_of_it(deck_and(&format!("{long}\n")).as_bytes()).unwrap_err();
    assert!(refusal.finding.message.len() < 500);
}

/// Bytes of the demo plan changed at random: 200 drawings, the same at every run.
#[test]
fn bytes_changed_at_random() {
    let plain = [demo(), fs::read(root().join(plan("binary"))).unwrap(), fs::read(root().join(plan("r12"))).unwrap()];
    let config = Config { cases: 200, failure_persistence: None, ..Config::default() };
    let seed = TestRng::from_seed(RngAlgorithm::ChaCha, &[7; 32]);
    let mut runner = TestRunner::new_with_rng(config, seed);
    let changes = prop::collection::vec((any::<prop::sample::Index>(), any::<u8>()), 1..30);
    let run = |(which, changes): (usize, Vec<(prop::sample::Index, u8)>)| {
        let mut bytes = plain[which].clone();
        for (at, byte) in changes {
            let at = at.index(bytes.len());
            bytes[at] = byte;
        }
        // A panic is a failure; refusal and findings are both right.
        drop(all_of_it(&bytes));
        Ok(())
    };
    runner.run(&(0..plain.len(), changes), run).unwrap();
}

/// Lines of the demo plan left out, doubled or swapped with others: the groups shift against each other.
#[test]
fn lines_changed_at_random() {
    let text = String::from_utf8(demo()).unwrap();
    let lines: Vec<&str> = text.lines().collect();
    let config = Config { cases: 100, failure_persistence: None, ..Config::default() };
    let seed = TestRng::from_seed(RngAlgorithm::ChaCha, &[11; 32]);
    let mut runner = TestRunner::new_with_rng(config, seed);
    let changes = prop::collection::vec((0..3_u8, any::<prop::sample::Index>(), any::<prop::sample::Index>()), 1..6);
    let run = |changes: Vec<(u8, prop::sample::Index, prop::sample::Index)>| {
        let mut lines = lines.clone();
        for (kind, a, b) in changes {
            let (a, b) = (a.index(lines.len()), b.index(lines.len()));
            match kind {
                0 => drop(lines.remove(a)),
                1 => lines.insert(a, lines[b]),
                _ => lines.swap(a, b),
            }
        }
        drop(all_of_it(lines.join("\n").as_bytes()));
        Ok(())
    };
    runner.run(&changes, run).unwrap();
}
