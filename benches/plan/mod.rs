//! A large site plan to measure with: the demo plan with its deck, and around it all that surrounds one on such a plan. The
//! same bytes come out for the same size.

use std::fmt::Write;

/// The demo plan, as it lies in `fixtures/`.
const DEMO: &str = include_str!("../../fixtures/lakeside/plan.dxf");

/// Handles of what is added begin here; the demo plan's own are far below.
const FIRST_HANDLE: usize = 0x1000;

/// Layers of the demo plan which mean nothing to a guard.
const LAYERS: [&str; 6] = ["A-DOOR", "A-GLAZ", "A-FURN", "S-JOIST", "S-BEAM", "A-ANNO-TEXT"];

/// A DXF plan (R2010) of about so many bytes: lines, polylines, texts, block references and hatches on layers that no guard
/// asks for, the last three tenths of them before the deck's own entities.
pub fn make(bytes: usize) -> Vec<u8> {
    let (head, rest) = split(DEMO, "  2\nENTITIES\n");
    let (deck, tail) = split(rest, "  0\nENDSEC\n");
    let tail = format!("  0\nENDSEC\n{tail}");
    let room = bytes.saturating_sub(head.len() + deck.len() + tail.len());
    let mut text = String::with_capacity(bytes + 4096);
    text.push_str(head);
    let mut number = 0;
    let mut fill = |text: &mut String, until: usize| {
        while text.len() < until {
            entity(text, number);
            number += 1;
        }
        number
    };
    let before = head.len() + room / 10 * 3;
    fill(&mut text, before);
    text.push_str(deck);
    let number = fill(&mut text, bytes.saturating_sub(tail.len()));
    text.push_str(&tail);
    // The seed must be above all handles.
    let seed = "$HANDSEED\n  5\n";
    let (head, rest) = split(&text, seed);
    let rest = rest.split_once('\n').map_or(rest, |(_, rest)| rest);
    format!("{head}{:X}\n{rest}", FIRST_HANDLE + number).into_bytes()
}

/// The text up to the end of the first `mark`, except that a mark which ends a part belongs to neither.
fn split<'a>(text: &'a str, mark: &str) -> (&'a str, &'a str) {
    let at = text.find(mark).unwrap_or_else(|| panic!("the demo plan has no {mark:?}"));
    let behind = at + mark.len();
    let first = if mark.contains("ENDSEC") { at } else { behind };
    (text.get(..first).unwrap_or_default(), text.get(behind..).unwrap_or_default())
}

/// One entity; kinds, layers and places follow from its number.
fn entity(text: &mut String, number: usize) {
    let layer = LAYERS.get(number / 7 % LAYERS.len()).copied().unwrap_or("0");
    // Thirds have as many digits as CAD programs write.
    let (x, y) = ((number % 1000) as f64 * 7.0 / 3.0 + 400.0, (number / 1000) as f64 * 9.5 + 1000.0);
    let (kind, class, groups) = match number % 20 {
        0..=7 => {
            let (to_x, to_y) = (x + 5.0, y + number as f64 % 3.0);
            let groups = format!(" 10\n{x}\n 20\n{y}\n 30\n0.0\n 11\n{to_x}\n 21\n{to_y}\n 31\n0.0\n");
            ("LINE", "AcDbLine", groups)
        }
        8..=13 => {
            let corners = 4 + number % 7;
            let mut groups = format!(" 90\n{corners:>9}\n 70\n1\n 43\n0.0\n");
            points(&mut groups, x, y, corners);
            ("LWPOLYLINE", "AcDbPolyline", groups)
        }
        14..=16 => {
            let words = format!("LEVEL {y} IN, SEE SHEET A-{}", number % 40);
            let groups = format!(" 10\n{x}\n 20\n{y}\n 30\n0.0\n 40\n2.5\n  1\n{words}\n100\nAcDbText\n");
            ("TEXT", "AcDbText", groups)
        }
        17 | 18 => {
            let turn = number % 360;
            let groups = format!("  2\nNORTH-ARROW\n 10\n{x}\n 20\n{y}\n 30\n0.0\n 50\n{turn}.0\n");
            ("INSERT", "AcDbBlockReference", groups)
        }
        _ => {
            let corners = 4 + number % 5;
            let mut groups = format!(
                " 10\n0.0\n 20\n0.0\n 30\n0.0\n210\n0.0\n220\n0.0\n230\n1.0\n  2\nSOLID\n 70\n1\n 71\n0\n 91\n1\n 92\n3\n \
                 72\n0\n 73\n1\n 93\n{corners}\n"
            );
            points(&mut groups, x, y, corners);
            groups.push_str(" 97\n0\n 75\n0\n 76\n1\n 98\n0\n");
            ("HATCH", "AcDbHatch", groups)
        }
    };
    let handle = FIRST_HANDLE + number;
    // Writing to a string does not fail.
    let _ =
        write!(text, "  0\n{kind}\n  5\n{handle:X}\n330\n17\n100\nAcDbEntity\n  8\n{layer}\n100\n{class}\n{groups}");
}

/// Corners around a centre.
fn points(groups: &mut String, x: f64, y: f64, corners: usize) {
    for corner in 0..corners {
        let angle = corner as f64 / corners as f64 * std::f64::consts::TAU;
        let _ = write!(groups, " 10\n{}\n 20\n{}\n", x + 3.0 * angle.cos(), y + 3.0 * angle.sin());
    }
}
