//! Small drawings cut off at each byte, with each byte changed, and with garbage where group codes stand.

use std::fs;

use plumbrail::base::Code;

use crate::hostile::{all_of_it, deck_and, proved};
use crate::program::{plan, root};

const TEXT: &str = "0\nTEXT\n8\nSTAIRS\n10\n90\n20\n20\n40\n5\n1\nUP 3R 7 x 10\n";

/// The same tags in binary form with two-byte group codes.
fn binary(text: &str) -> Vec<u8> {
    let mut out = b"AutoCAD Binary DXF\r\n\x1a\0".to_vec();
    let lines: Vec<&str> = text.lines().collect();
    for pair in lines.chunks_exact(2) {
        let code: i16 = pair[0].trim().parse().unwrap();
        out.extend(code.to_le_bytes());
        match code {
            10..=59 | 210..=239 => out.extend(pair[1].trim().parse::<f64>().unwrap().to_le_bytes()),
            60..=79 => out.extend(pair[1].trim().parse::<i16>().unwrap().to_le_bytes()),
            90..=99 => out.extend(pair[1].trim().parse::<i32>().unwrap().to_le_bytes()),
            _ => out.extend([pair[1].as_bytes(), &[0]].concat()),
        }
    }
    out
}

fn small() -> [Vec<u8>; 2] {
    let text = deck_and(TEXT);
    let binary = binary(&text);
    [text.into_bytes(), binary]
}

/// A part of a deck's edge may be gone, so no part of a drawing is laid out.
#[test]
fn cut_off_at_each_byte() {
    for bytes in small() {
        assert_eq!(all_of_it(&bytes).unwrap().layout.panels.len(), 4);
        let end = bytes.windows(3).rposition(|w| w == b"EOF").unwrap() + 3;
        for cut in 0..end {
            let refusal = proved(&bytes[..cut]).expect_err("cut off");
            assert_eq!(refusal.finding.code, Code::NotReadable, "at {cut}: {refusal:?}");
            assert!(refusal.finding.message.len() < 500);
        }
    }
}

/// One byte is another: a bit more or less, a line end, a zero, a digit, in turns.
#[test]
fn each_byte_changed() {
    for bytes in small() {
        for at in 0..bytes.len() {
            let mut changed = bytes.clone();
            let old = changed[at];
            changed[at] = match at % 7 {
                0 => b'\n',
                1 => 0,
                2 => b'9',
                3 => old ^ 0x80,
                4 => old ^ 1,
                5 => b'-',
                _ => 0xff,
            };
            match proved(&changed) {
                Ok(outcome) => assert!(outcome.findings.iter().all(|f| f.message.len() < 5_000)),
                Err(refusal) => assert!(!refusal.finding.message.is_empty()),
            }
        }
    }
}

#[test]
fn garbage_where_a_group_code_stands() {
    let text = deck_and("");
    let lines: Vec<&str> = text.lines().collect();
    for garbage in ["x", "", "0x0", "1e1", "٣", "99999", "-6", "1072", "- 1", "+0", "8.0", "\u{feff}0", "0;", "\t"] {
        for at in (2..lines.len()).step_by(10) {
            let mut lines = lines.clone();
            lines[at] = garbage;
            let refusal = all_of_it(format!("{}\n", lines.join("\n")).as_bytes()).expect_err(garbage);
            assert_eq!(refusal.finding.code, Code::NotReadable, "{garbage:?}: {refusal:?}");
            assert_eq!(refusal.finding.place.line, Some(at as u64 + 1), "{garbage:?}: {refusal:?}");
        }
    }
}

/// In a binary drawing a group code that is none says how long nothing is.
#[test]
fn garbage_where_a_binary_group_code_stands() {
    for case in [fs::read(root().join(plan("binary"))).unwrap(), binary(&deck_and(TEXT))] {
        let (form, start) = plumbrail::cad::tag::Form::of(&case);
        let tags: Vec<_> = plumbrail::cad::tag::Lexer::new(&case, form, start, 1).map(Result::unwrap).collect();
        for tag in tags.iter().skip(1).step_by(tags.len() / 40 + 1) {
            for code in [[0xff, 0xff], [0xff, 0x7f], [0, 0x80], [0x30, 0x04], [59, 1], [0xdc, 5]] {
                let mut bytes = case.clone();
                bytes[tag.start..tag.start + 2].copy_from_slice(&code);
                match proved(&bytes) {
                    Ok(outcome) => assert!(!outcome.findings.is_empty() || !outcome.layout.panels.is_empty()),
                    Err(refusal) => assert!(!refusal.finding.message.is_empty()),
                }
            }
        }
    }
}
