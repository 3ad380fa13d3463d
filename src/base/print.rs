//! The one number printer: every writer's numbers and lengths come from here, so that they agree and never
//! show `0.30000000000000004`.

use super::{Length, Mark, Unit};

/// A number with at most `places` decimals, trailing zeros dropped, never `-0`.
pub fn decimal(value: f64, places: usize) -> String {
    let mut s = format!("{value:.places$}");
    if s.contains('.') {
        s.truncate(s.trim_end_matches('0').trim_end_matches('.').len());
    }
    if s == "-0" { "0".to_owned() } else { s }
}

/// Feet, inches and fraction the way drawings show them: half up on the total of `1/denominator` inches, then carry;
/// a whole foot keeps its zero inches (`10'-0"`), less than a foot shows inches only.
///
/// Convention from the design notes on lengths in drawings: 11.96875 in -> 1'-0".
pub fn feet_inches(length: Length, denominator: i64) -> String {
    let step = Unit::Inch.nanometres() / denominator;
    let total = (2 * length.nanometres().abs() + step) / (2 * step);
    let sign = if length < Length::ZERO && total > 0 { "-" } else { "" };
    let (feet, rest) = (total / (12 * denominator), total % (12 * denominator));
    let (inches, part) = (rest / denominator, rest % denominator);
    let fraction = if part == 0 {
        String::new()
    } else {
        let g = gcd(part, denominator);
        format!("{}/{}", part / g, denominator / g)
    };
    let inches = match (inches, fraction.as_str()) {
        (_, "") => inches.to_string(),
        (0, _) if feet == 0 => fraction,
        _ => format!("{inches}-{fraction}"),
    };
    if feet > 0 { format!("{sign}{feet}'-{inches}\"") } else { format!("{sign}{inches}\"") }
}

const fn gcd(a: i64, b: i64) -> i64 {
    if b == 0 { a } else { gcd(b, a % b) }
}

/// How lengths are shown in one job: the trade's units and the finest mark.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Measure {
    /// Unit of numbers in tables and in `layout.json`: inch or millimetre.
    pub unit: Unit,
    /// Shop marks.
    pub mark: Mark,
}

impl Measure {
    /// As a person reads it: `7'-3-1/2"`, or `2210` (millimetres, unit left to the sheet's note).
    pub fn text(&self, length: Length) -> String {
        if self.unit.is_imperial() { feet_inches(length, self.denominator()) } else { decimal(length.millimetres(), 1) }
    }

    /// As running marks show it on a rail: inches only (`87-1/4"`), or millimetres.
    pub fn mark_text(&self, length: Length) -> String {
        if !self.unit.is_imperial() {
            return decimal(length.millimetres(), 1);
        }
        let feet = length.nanometres() / Unit::Foot.nanometres();
        let rest = length - Length::from_nanometres(feet * Unit::Foot.nanometres());
        let text = feet_inches(rest, self.denominator());
        if text.ends_with("'-0\"") {
            return format!("{}\"", 12 * (feet + 1));
        }
        let (whole, fraction) = match text.trim_end_matches('"').split_once('-') {
            Some((w, f)) => (w.parse().unwrap_or(0), format!("-{f}")),
            None if text.contains('/') => (0, format!("-{}", text.trim_end_matches('"'))),
            None => (text.trim_end_matches('"').parse().unwrap_or(0), String::new()),
        };
        let whole = 12 * feet + whole;
        if whole == 0 && !fraction.is_empty() {
            return format!("{}\"", fraction.trim_start_matches('-'));
        }
        format!("{whole}{fraction}\"")
    }

    /// As a plain number in the job's unit.
    pub fn number(&self, length: Length) -> f64 {
        let value = length.nanometres() as f64 / self.unit.nanometres() as f64;
        // Nine decimals of an inch are finer than a nanometre: a number read back gives the same length.
        (value * 1e9).round() / 1e9
    }

    /// The length of a plain number in the job's unit; `None` when it is not finite or too large.
    pub fn length(&self, number: f64) -> Option<Length> {
        Length::from_millimetres(number * self.unit.millimetres())
    }

    /// A plain number in the job's unit with its sign, for messages: `3.9375 in`.
    pub fn with_unit(&self, length: Length) -> String {
        format!("{} {}", decimal(self.number(length), 4), self.unit.sign())
    }

    /// Denominator of the inch fractions in which the job's marks are exact, at least sixteenths.
    fn denominator(&self) -> i64 {
        let mark = self.mark.length().nanometres();
        [16, 32, 64].into_iter().find(|d| mark % (Unit::Inch.nanometres() / d) == 0).unwrap_or(64)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn inches(value: f64) -> Length {
        Length::from_millimetres(value * 25.4).unwrap()
    }

    /// Values of the design notes, "Lengths in drawings" (common practice in imperial dimensioning).
    #[test]
    fn feet_and_inches_round_half_up_on_the_total_and_carry() {
        for (value, text) in [
            (11.96875, "1'-0\""),
            (143.99, "12'-0\""),
            (10.6 * 12.0, "10'-7-3/16\""),
            (8.4375 * 12.0, "8'-5-1/4\""),
            (120.0, "10'-0\""),
            (9.5, "9-1/2\""),
            (0.25, "1/4\""),
            (0.0, "0\""),
            (-3.5, "-3-1/2\""),
            (12.25, "1'-0-1/4\""),
        ] {
            assert_eq!(feet_inches(inches(value), 16), text, "{value}");
        }
    }

    #[test]
    fn running_marks_stay_in_inches() {
        let m = Measure { unit: Unit::Inch, mark: Mark::SIXTEENTH };
        for (value, text) in
            [(87.25, "87-1/4\""), (24.0, "24\""), (0.5, "1/2\""), (12.0625, "12-1/16\""), (35.99, "36\"")]
        {
            assert_eq!(m.mark_text(inches(value)), text, "{value}");
        }
    }

    #[test]
    fn decimals_are_trimmed() {
        assert_eq!(decimal(0.1 + 0.2, 6), "0.3");
        assert_eq!(decimal(-0.000_000_1, 4), "0");
        assert_eq!(decimal(100.0, 3), "100");
    }
}
