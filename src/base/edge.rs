//! Texts of others at the edges of the program: on a terminal, and in a cell of a table that a spreadsheet opens.

use std::borrow::Cow;
use std::fmt::Write;

/// What a terminal would obey or show in another order: control characters, and those that turn the direction of writing
/// (Unicode 16, section 23.2; annex 9, section 2).
fn is_obeyed(c: char) -> bool {
    c.is_control() || matches!(c, '\u{202a}'..='\u{202e}' | '\u{2066}'..='\u{2069}')
}

/// A text as it may stand on a terminal: what that would obey is shown as `\u001b`, the way of JSON, so that JSON stays the
/// same JSON. Line ends stay.
pub fn visible(text: &str) -> Cow<'_, str> {
    shown(text, |c| is_obeyed(c) && c != '\n')
}

/// The same of a text that is to stand on one line.
pub fn visible_line(text: &str) -> Cow<'_, str> {
    shown(text, is_obeyed)
}

fn shown(text: &str, is_shown: impl Fn(char) -> bool) -> Cow<'_, str> {
    if !text.contains(&is_shown) {
        return Cow::Borrowed(text);
    }
    let mut out = String::with_capacity(text.len() + 16);
    for c in text.chars() {
        if is_shown(c) {
            // A string takes every text.
            let _ = write!(out, "\\u{:04x}", u32::from(c));
        } else {
            out.push(c);
        }
    }
    Cow::Owned(out)
}

/// With these, wide forms included, a spreadsheet takes a cell for a formula.
const FORMULA: [char; 8] = ['=', '+', '-', '@', '\u{ff1d}', '\u{ff0b}', '\u{ff0d}', '\u{ff20}'];

/// Where a spreadsheet divides cells at `;`, a part of a text becomes a cell.
const DIVIDER: char = ';';

fn is_formula(part: &str) -> bool {
    part.trim_start_matches(|c: char| c == '\'' || c.is_whitespace() || c.is_control()).starts_with(FORMULA)
}

/// As this program prints numbers.
fn is_number(text: &str) -> bool {
    let digits = text.strip_prefix('-').unwrap_or(text);
    digits.starts_with(|c: char| c.is_ascii_digit()) && digits.bytes().all(|b| b.is_ascii_digit() || b == b'.')
}

/// A text as a cell that no spreadsheet runs: an apostrophe stands before what would be taken for a formula (OWASP, "CSV
/// Injection"). Numbers stay numbers.
pub fn to_cell(text: &str) -> Cow<'_, str> {
    if !text.contains(FORMULA) || is_number(text) {
        return Cow::Borrowed(text);
    }
    let guarded = |part: &str| if is_formula(part) { format!("'{part}") } else { part.to_owned() };
    Cow::Owned(text.split(DIVIDER).map(guarded).collect::<Vec<_>>().join(";"))
}

/// The text that was written as a cell.
pub fn of_cell(cell: &str) -> Cow<'_, str> {
    if !cell.contains('\'') {
        return Cow::Borrowed(cell);
    }
    let plain = |part| str::strip_prefix(part, '\'').filter(|rest| is_formula(rest)).unwrap_or(part);
    Cow::Owned(cell.split(DIVIDER).map(plain).collect::<Vec<_>>().join(";"))
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    #[test]
    fn what_a_terminal_obeys_is_shown() {
        let text = "a\u{1b}[2J\u{7}\t\r\u{7f}\u{80}\u{9b}1m\u{202e}b\u{2066}\u{2069}é\nz";
        let seen = r"a\u001b[2J\u0007\u0009\u000d\u007f\u0080\u009b1m\u202eb\u2066\u2069é";
        assert_eq!(visible(text), format!("{seen}\nz"));
        assert_eq!(visible_line(text), format!(r"{seen}\u000az"));
        assert!(matches!(visible("Größe ⌀3/16 \u{200f}\n"), Cow::Borrowed(_)));
        let json = serde_json::to_string(text).unwrap();
        assert_eq!(serde_json::from_str::<String>(&visible(&json)).unwrap(), text);
    }

    /// The signs are those of OWASP, "CSV Injection".
    #[test]
    fn no_cell_is_a_formula() {
        for (text, cell) in [
            ("=1+1", "'=1+1"),
            ("+1", "'+1"),
            ("@SUM(A1)", "'@SUM(A1)"),
            ("-2+3", "'-2+3"),
            ("\t=1", "'\t=1"),
            ("\r\n-x", "'\r\n-x"),
            ("＝1", "'＝1"),
            ("'=1", "''=1"),
            ("a;=1;b", "a;'=1;b"),
            ("-1.5", "-1.5"),
            ("-0.25", "-0.25"),
            ("--1", "'--1"),
            ("-", "'-"),
            ("5'-3\"", "5'-3\""),
            ("post-cap", "post-cap"),
            ("'tis", "'tis"),
            ("", ""),
        ] {
            assert_eq!(to_cell(text), cell);
            assert_eq!(of_cell(cell), text);
        }
    }

    proptest! {
        #[test]
        fn cells_are_read_as_they_were_written(text in "[-=+@'; \t\ra1.]{0,12}") {
            let cell = to_cell(&text).into_owned();
            prop_assert_eq!(of_cell(&cell), text.as_str());
            prop_assert!(is_number(&cell) || !cell.starts_with(FORMULA));
        }
    }
}
