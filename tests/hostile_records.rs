//! Records that lie: counts, handles, owners, bulges, scales, code pages and crossings beyond all measure. What bounds the
//! work is counted, so each case ends with a layout or a refusal that says why, and with few findings of bounded length.

use std::f64::consts::TAU;
use std::fs;

use plumbrail::Outcome;
use plumbrail::base::{Code, Refusal};
use plumbrail::write::graft;

use crate::drawn::{Insunits, corners, edge, polylines, wall};
use crate::graft::grafted;
use crate::hostile::{all_of_it, deck_and, has, proved, refused};
use crate::program::{plan, root};

/// Findings of one kind that are told one by one, times the kinds that one drawing can have.
const MOST_FINDINGS: usize = 500;

/// However long what it quotes is.
const LONGEST_MESSAGE: usize = 5_000;

fn bounded(result: &Result<Outcome, Refusal>) {
    let findings = match result {
        Ok(outcome) => outcome.findings.clone(),
        Err(refusal) => refusal.others.iter().cloned().chain([(*refusal.finding).clone()]).collect(),
    };
    let panels = result.as_ref().map_or(0, |outcome| outcome.layout.panels.len());
    assert!(findings.len() <= MOST_FINDINGS + 4 * panels, "{} findings", findings.len());
    for finding in findings {
        assert!(!finding.message.is_empty() && finding.message.len() <= LONGEST_MESSAGE, "{}", finding.message.len());
    }
}

/// The deck of four sides still gets its four panels, with a finding of one of these kinds, if any are named.
#[track_caller]
fn still_four(bytes: &[u8], codes: &[Code]) -> Outcome {
    let result = proved(bytes);
    bounded(&result);
    let outcome = result.unwrap_or_else(|refusal| panic!("{refusal:?}"));
    assert_eq!(outcome.layout.panels.len(), 4, "{:?}", outcome.findings);
    assert!(codes.is_empty() || codes.iter().any(|c| has(&outcome, *c)), "{:?}", outcome.findings);
    outcome
}

#[test]
fn counts_of_a_thousand_million() {
    let many = 1_000_000_000;
    let layer = "8\nDECK-EDGE\n";
    for (entity, codes) in [
        // The vertices that are there count.
        (format!("0\nLWPOLYLINE\n8\nWALL\n90\n{many}\n10\n0\n20\n300\n10\n90\n20\n300\n"), &[][..]),
        (format!("0\nPOLYLINE\n{layer}66\n1\n71\n{many}\n72\n{many}\n70\n16\n0\nSEQEND\n"), &[Code::RecordNotRead]),
        (
            format!("0\nHATCH\n{layer}10\n0\n20\n0\n2\nSOLID\n70\n1\n91\n{many}\n92\n1\n93\n{many}\n98\n{many}\n"),
            &[Code::RecordNotRead],
        ),
        (
            format!("0\nSPLINE\n{layer}70\n8\n71\n3\n72\n{many}\n73\n{many}\n74\n{many}\n40\n0\n10\n0\n20\n0\n"),
            &[Code::BadRecord],
        ),
        (format!("0\nSPLINE\n{layer}70\n8\n71\n{many}\n10\n0\n20\n0\n"), &[Code::BadRecord]),
        (format!("0\nINSERT\n{layer}2\nB\n10\n0\n20\n0\n70\n{many}\n71\n{many}\n44\n1\n45\n1\n"), &[Code::BadRecord]),
        (format!("0\nMLINE\n{layer}72\n{many}\n73\n{many}\n10\n0\n20\n0\n"), &[Code::RecordNotRead]),
        (format!("0\nTEXT\n8\nSTAIRS\n10\n90\n20\n20\n40\n5\n1\n{many}R {many} x {many}\n"), &[]),
        (
            format!(
                "0\nLINE\n8\nWALL\n10\n0\n20\n150\n11\n90\n21\n150\n1001\nX\n1071\n{many}\n1004\n{}\n",
                "F".repeat(2000)
            ),
            &[],
        ),
    ] {
        still_four(deck_and(&entity).as_bytes(), codes);
    }
}

/// Of tables: what a count says is never counted on.
#[test]
fn table_counts_of_a_thousand_million() {
    let text = fs::read_to_string(root().join(plan("corner-135"))).unwrap();
    for count in ["1000000000", "2147483647", "-1", "9223372036854775807", "99999999999999999999", "x", ""] {
        let at = text.find("TABLE\n  2\nLAYER\n").unwrap();
        let (before, rest) = text.split_at(at);
        let (head, entries) = rest.split_once("\n 70\n").unwrap();
        let (_, entries) = entries.split_once('\n').unwrap();
        let changed = format!("{before}{head}\n 70\n{count}\n{entries}");
        let with_rails = grafted(changed.as_bytes(), None).to_bytes(changed.as_bytes());
        let without = graft::strip(&with_rails).unwrap().to_bytes(&with_rails);
        assert!(without == changed.as_bytes(), "count {count}");
    }
}

#[test]
fn a_line_of_fifty_megabytes_without_an_end() {
    let long = 50_000_000;
    for (start, byte, says) in [
        ("0\nSECTION\n2\nENTITIES\n0\nLINE\n8\n", b'x', "cut off"),
        ("0\nSECTION\n2\nENTITIES\n0\n", b'x', "cut off"),
        ("0\nSECTION\n2\nENTITIES\n0\nLINE\n", b' ', "cut off"),
        ("0\nSECTION\n2\nENTITIES\n0\nLINE\n", b'1', "holds no group code where one must stand"),
        ("0\nSECTION\n2\nENTITIES\n0\nLINE\n8\n", 0, "cut off"),
        ("", b'x', "not a DXF"),
        ("", b' ', "empty"),
    ] {
        let mut bytes = start.as_bytes().to_vec();
        bytes.resize(long, byte);
        refused(&bytes, Code::NotReadable, says);
        bounded(&all_of_it(&bytes));
    }
    // Binary: a text that never ends.
    let mut bytes = b"AutoCAD Binary DXF\r\n\x1a\0\0\0SECTION\0\x02\0ENTITIES\0\0\0".to_vec();
    bytes.resize(long, b'x');
    refused(&bytes, Code::NotReadable, "cut off");
}

/// With a header that names a code page, and a wall on a layer of these bytes.
fn paged(version: &str, page: &[u8], layer: &[u8]) -> Vec<u8> {
    let text = deck_and("0\nLINE\n8\n@LAYER\n10\n0\n20\n150\n11\n90\n21\n150\n").replace("AC1015", version);
    let text = text.replacen("9\n$INSUNITS", "9\n$DWGCODEPAGE\n3\n@PAGE\n9\n$INSUNITS", 1).into_bytes();
    let put = |bytes: Vec<u8>, word: &[u8], new: &[u8]| {
        let at = bytes.windows(word.len()).position(|w| w == word).unwrap();
        [&bytes[..at], new, &bytes[at + word.len()..]].concat()
    };
    put(put(text, b"@PAGE", page), b"@LAYER", layer)
}

#[test]
fn code_pages_that_do_not_fit() {
    let layers: [&[u8]; 5] =
        [b"W\xe4nde", b"\x81\x00\xff", b"\x82\xa0\x82", b"\\U+D800\\U+\\U+12", b"\xc3\x28\xf8\xff"];
    for layer in layers {
        for page in ["ANSI_932", "ANSI_936", "ANSI_949", "ANSI_950", "ANSI_874", "ASCII", "UTF-8", "DOS850", "utf-16"] {
            for version in ["AC1009", "AC1015", "AC1021"] {
                still_four(&paged(version, page.as_bytes(), layer), &[]);
            }
        }
        for page in [&b"KLINGON"[..], b"ANSI_99999999999", b"\xff\xfe", "x".repeat(1_000_000).as_bytes()] {
            still_four(&paged("AC1015", page, layer), &[Code::EncodingUnknown]);
        }
    }
}

#[test]
fn zero_bytes() {
    still_four(deck_and("0\nTEXT\n8\nSTAIRS\n10\n0\n20\n0\n40\n5\n1\n\0\0DN\0\n").as_bytes(), &[]);
    still_four(deck_and("0\nLINE\n8\nWA\0LL\n10\n0\n20\n150\n11\n90\n21\n150\n").as_bytes(), &[]);
    still_four(deck_and("0\nLINE\n8\nWALL\n10\n0\0\n20\n150\n11\n90\n21\n150\n").as_bytes(), &[Code::BadRecord]);
    still_four(deck_and("0\n\0\n8\nWALL\n").as_bytes(), &[]);
    refused(deck_and("\0\nLINE\n").as_bytes(), Code::NotReadable, "holds no group code where one must stand");
    refused(deck_and("8\0\nLINE\n").as_bytes(), Code::NotReadable, "holds no group code where one must stand");
    let mut bytes = deck_and("").into_bytes();
    bytes.resize(1_000_000, 0);
    still_four(&bytes, &[]);
}

/// Handles of all records by `handle`, owners by `owner`, of a plan with all tables.
fn renumbered(handle: &dyn Fn(usize, &str) -> String, owner: &dyn Fn(usize, &str) -> String) -> String {
    let text = fs::read_to_string(root().join(plan("corner-135"))).unwrap();
    let lines: Vec<&str> = text.lines().collect();
    let mut out = String::new();
    for (n, pair) in lines.chunks_exact(2).enumerate() {
        let value = match pair[0].trim() {
            "5" => handle(n, pair[1]),
            "330" => owner(n, pair[1]),
            _ => pair[1].to_owned(),
        };
        out.push_str(&format!("{}\n{value}\n", pair[0]));
    }
    out
}

/// The layout needs no handles; the rails are put in only where there is a safe place, and can be taken out again.
fn rails_or_reason(text: &str) {
    let result = proved(text.as_bytes());
    bounded(&result);
    assert!(!result.unwrap().layout.panels.is_empty());
    let frame = plumbrail::base::Frame::default();
    match graft::graft(text.as_bytes(), &[], &frame, &graft::GraftOptions::default()) {
        Ok(graft) => {
            let with_rails = graft.to_bytes(text.as_bytes());
            assert!(graft::strip(&with_rails).unwrap().to_bytes(&with_rails) == text.as_bytes());
        }
        Err(refusal) => assert!(!refusal.finding.message.is_empty() && refusal.finding.message.len() < 500),
    }
}

#[test]
fn handles_that_are_none_or_not_one() {
    let same = |_: usize, value: &str| value.to_owned();
    for handle in ["-1", "0", "1F", "FFFFFFFFFFFFFFFF", "7FFFFFFFFFFFFFFF", "1FFFFFFFFFFFFFFFFFF", "xyz", ""] {
        rails_or_reason(&renumbered(&|_, _| handle.to_owned(), &same));
        rails_or_reason(&renumbered(&|n, value| if n % 2 == 0 { handle.to_owned() } else { value.to_owned() }, &same));
        rails_or_reason(&renumbered(&same, &|_, _| handle.to_owned()));
    }
}

#[test]
fn owners_in_a_ring() {
    let same = |_: usize, value: &str| value.to_owned();
    let own = std::cell::RefCell::new(String::new());
    // Each record owns itself; then the record before it owns each.
    let keep = |_: usize, value: &str| {
        own.replace(value.to_owned());
        value.to_owned()
    };
    rails_or_reason(&renumbered(&keep, &|_, _| own.borrow().clone()));
    let before = std::cell::RefCell::new([String::new(), String::new()]);
    let step = |_: usize, value: &str| {
        let [_, last] = before.take();
        before.replace([last, value.to_owned()]);
        value.to_owned()
    };
    rails_or_reason(&renumbered(&step, &|_, _| before.borrow()[0].clone()));
    rails_or_reason(&renumbered(&same, &|n, _| format!("{n:X}")));
    // Dictionaries within each other, ten thousand deep and back to the first.
    let text = renumbered(&same, &same);
    let ring: String = (0..10_000)
        .map(|n| {
            format!(
                "0\nDICTIONARY\n5\n{:X}\n330\n{:X}\n3\nNEXT\n350\n{:X}\n",
                0x9000 + n,
                0x8fff + n,
                0x9001 + n % 9_999
            )
        })
        .collect();
    let at = text.rfind("  0\nENDSEC").unwrap();
    rails_or_reason(&format!("{}{ring}{}", &text[..at], &text[at..]));
}

#[test]
fn bulges_beyond_all_measure() {
    for bulge in ["1e300", "-1e300", "1e16", "-1e9", "1e5", "200", "-37", "1e-300", "1e-16", "-1e-9", "0.9999999999"] {
        for flags in [0, 1] {
            let bulged = |layer: &str, y: f64| {
                format!(
                    "0\nLWPOLYLINE\n8\n{layer}\n90\n2\n70\n{flags}\n10\n0\n20\n{y}\n42\n{bulge}\n10\n90\n20\n{y}\n42\n{bulge}\n"
                )
            };
            for layer in ["DECK-EDGE", "WALL", "STAIRS", "POST"] {
                bounded(&proved(deck_and(&bulged(layer, 400.0)).as_bytes()));
            }
        }
    }
}

#[test]
fn blocks_scaled_to_nothing_or_beyond_all_measure() {
    let block = "0\nBLOCK\n8\n0\n2\nB\n70\n0\n10\n0\n20\n0\n0\nLINE\n8\n0\n10\n0\n20\n0\n11\n9\n21\n0\n0\nARC\n8\n0\n10\n0\n20\n0\n40\n5\n50\n0\n51\n90\n0\nENDBLK\n8\n0\n";
    let section = format!("0\nSECTION\n2\nBLOCKS\n{block}0\nENDSEC\n0\nSECTION\n2\nENTITIES\n");
    let with = |insert: &str| deck_and(insert).replacen("0\nSECTION\n2\nENTITIES\n", &section, 1);
    for scale in ["0", "-0.0", "0.0", "1e-320", "1e-300", "-1e-12", "1e300", "-1e300", "1e155", "nan", "inf"] {
        for codes in [&[41][..], &[42], &[43], &[41, 42], &[41, 42, 43]] {
            let scales: String = codes.iter().map(|code| format!("{code}\n{scale}\n")).collect();
            for more in ["", "50\n1e300\n", "50\n45\n70\n3\n71\n3\n44\n1e300\n45\n1e-300\n"] {
                let insert = format!("0\nINSERT\n8\nWALL\n2\nB\n10\n0\n20\n300\n{scales}{more}");
                bounded(&proved(with(&insert).as_bytes()));
            }
        }
    }
    still_four(with("0\nINSERT\n8\nWALL\n2\nB\n10\n0\n20\n300\n41\n0\n42\n0\n").as_bytes(), &[Code::BadRecord]);
}

/// A star of so many points, each side as long as it can be.
fn star(points: usize) -> Vec<[f64; 2]> {
    let at = |n: usize| {
        let (sin, cos) = (TAU * (n * (points / 2) % points) as f64 / points as f64).sin_cos();
        [40.0 + 40.0 * cos, 40.0 + 40.0 * sin]
    };
    (0..points).map(at).collect()
}

/// A star of 2,001 points, in which each side crosses some 2,000 others, and a saw that crosses one line 2,000 times.
#[test]
fn outlines_that_cross_themselves_two_thousand_times() {
    let mut saw: Vec<[f64; 2]> = (0..2_000).map(|n| [f64::from(n), if n % 2 == 0 { -50.0 } else { 50.0 }]).collect();
    saw.extend([[2_000.0, 0.0], [0.0, 0.0]]);
    for outline in [star(2_001), saw] {
        let walls = wall(&corners(-100.0, -110.0, 2_100.0, -104.0), true);
        let dxf = polylines(&[edge(&outline, true), walls], Insunits::Inch);
        let settings = crate::hostile::settings(None);
        // Either what it needs is counted and too much, or nothing of it is left to lay out.
        let file = plumbrail::PlanFile { most: 1_000, ..plumbrail::PlanFile::new(dxf.as_bytes(), "plan.dxf") };
        let within = plumbrail::lay_out_file(&file, &settings);
        match within {
            Ok(outcome) => assert!(outcome.layout.panels.len() <= 1_000),
            Err(refusal) => assert_eq!(refusal.finding.code, Code::OverBudget),
        }
        match plumbrail::lay_out(dxf.as_bytes(), "plan.dxf", &settings) {
            Ok(outcome) => {
                assert!(outcome.layout.panels.len() < 20_000);
                let told = outcome.findings.iter().any(|f| f.severity >= plumbrail::base::Severity::Warning);
                assert!(told, "{:?}", outcome.findings);
            }
            Err(refusal) => assert!(!refusal.finding.message.is_empty()),
        }
    }
}

/// What, where, why and what to do; and not that the edge lies on walls, of which there are none. Each side of the star
/// passes its centre at 40 sin(180/4002 degrees) = 0.031 (closed form), so that is where the first two meet.
#[test]
fn it_is_told_why_no_rail_is_laid_along_an_outline() {
    let told_of = |paths: &[crate::drawn::Path], status: i32| {
        let home = crate::program::folder();
        let dxf = polylines(paths, Insunits::Inch).replace("LWPOLYLINE\n", "LWPOLYLINE\n5\n1F\n");
        fs::write(home.path().join("a.dxf"), dxf).unwrap();
        let said = crate::program::run_in(home.path(), &["layout", "a.dxf", "--formats", "json"], b"");
        assert_eq!(said.status, status);
        said.errors_and_warnings()
    };
    crate::program::same(
        &told_of(&[edge(&star(2_001), true)], 1),
        "a.dxf:19: incomplete[edge-crosses]: the deck edge crosses or touches itself here, so no rail is laid along it (handle 1F, \
         layer DECK-EDGE, at 40, 40.031)\n  hint: redraw the outline without the crossing\n\
         a.dxf: incomplete: the deck edge crosses or touches itself here, so no rail is laid along it (handle 1F, layer \
         DECK-EDGE, at 40, 40.031)\n",
    );
    // Strokes a thousandth of an inch apart.
    let hatching: Vec<[f64; 2]> = (0..600_i32).map(|n| [f64::from(n % 2) * 600.0, f64::from(n) / 1_000.0]).collect();
    crate::program::same(
        &told_of(&[edge(&hatching, false)], 1),
        "a.dxf:19: incomplete[edge-crosses]: so many edges lie on each other here that it cannot be told whether the deck edge \
         crosses itself, so no rail is laid along it (handle 1F, layer DECK-EDGE, at 0, 0.51)\n  hint: draw the outline once, and \
         keep hatching off its layer\n\
         a.dxf: incomplete: so many edges lie on each other here that it cannot be told whether the deck edge crosses itself, so \
         no rail is laid along it (handle 1F, layer DECK-EDGE, at 0, 0.51)\n",
    );
    // Where it does lie on walls, that is said.
    let room = corners(0.0, 0.0, 120.0, 90.0);
    crate::program::same(
        &told_of(&[edge(&room, true), wall(&room, true)], 1),
        "a.dxf: incomplete[nothing-to-guard]: no deck edge is left to guard: all of it lies on walls or in openings\n  hint: \
         check the wall and opening layers with `plumbrail inspect`\n\
         a.dxf: incomplete: no deck edge is left to guard: all of it lies on walls or in openings\n",
    );
}
