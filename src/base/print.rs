//! The one number printer: every writer's numbers and lengths come from here, so that they agree and never
//! show `0.30000000000000004`.

use super::{Length, Mark, Unit};

/// Longest line of a message, in characters: the place, the words and as much of what is quoted as helps.
const LONGEST_LINE: usize = 500;

/// A message with each of its lines cut off where nobody reads on: it may quote a line of ten megabytes.
pub fn brief(message: &str) -> String {
    let cut = |line: &str| match line.char_indices().nth(LONGEST_LINE) {
        Some((end, _)) => format!("{}...", line.get(..end).unwrap_or_default()),
        None => line.to_owned(),
    };
    message.split('\n').map(cut).collect::<Vec<_>>().join("\n")
}

/// A number with at most `places` decimals, trailing zeros dropped, never `-0`.
pub fn decimal(value: f64, places: usize) -> String {
    let mut out = Vec::with_capacity(24);
    push_decimal(&mut out, value, places);
    String::from_utf8(out).unwrap_or_default()
}

/// The same behind other bytes.
pub fn push_decimal(out: &mut Vec<u8>, value: f64, places: usize) {
    if by_digits(out, value, places).is_none() {
        out.extend_from_slice(by_format(value, places).as_bytes());
    }
}

/// Through the standard printing, which is right for every number, and slow.
fn by_format(value: f64, places: usize) -> String {
    let mut s = format!("{value:.places$}");
    if s.contains('.') {
        s.truncate(s.trim_end_matches('0').trim_end_matches('.').len());
    }
    if s == "-0" { "0".to_owned() } else { s }
}

/// The same text, whole and fraction apart, where it is sure which decimal is nearest: the fraction is exact, and its product
/// off by less than 2^-19, which decides nothing but near a half. Else nothing is written.
fn by_digits(out: &mut Vec<u8>, value: f64, places: usize) -> Option<()> {
    const POWERS: [u64; 11] =
        [1, 10, 100, 1_000, 10_000, 100_000, 1_000_000, 10_000_000, 100_000_000, 1_000_000_000, 10_000_000_000];
    let power = *POWERS.get(places)?;
    let size = value.abs();
    let scaled = size.fract() * power as f64;
    if size.is_nan() || size >= (1_u64 << 53) as f64 || (scaled.fract() - 0.5).abs() < 0.001 {
        return None;
    }
    let rounded = scaled.round() as u64;
    let (mut whole, mut rest) = (size as u64 + rounded / power, rounded % power);
    let negative = value < 0.0 && (whole > 0 || rest > 0);
    let begin = out.len();
    if rest > 0 {
        let mut left = places;
        while rest % 10 == 0 {
            (rest, left) = (rest / 10, left - 1);
        }
        for _ in 0..left {
            out.push(b'0' + (rest % 10) as u8);
            rest /= 10;
        }
        out.push(b'.');
    }
    loop {
        out.push(b'0' + (whole % 10) as u8);
        whole /= 10;
        if whole == 0 {
            break;
        }
    }
    if negative {
        out.push(b'-');
    }
    out.get_mut(begin..)?.reverse();
    Some(())
}

/// A number of millionths as a decimal number, exact at any size.
pub(super) fn millionths(value: i64) -> String {
    let (sign, size) = (if value < 0 { "-" } else { "" }, value.unsigned_abs());
    let digits = format!("{sign}{}.{:06}", size / 1_000_000, size % 1_000_000);
    digits.trim_end_matches('0').trim_end_matches('.').to_owned()
}

/// Feet, inches and fraction the way drawings show them: half up on the total of `1/denominator` inches, then carry;
/// a whole foot keeps its zero inches (`10'-0"`), less than a foot shows inches only.
///
/// Common practice in imperial dimensioning: 11.96875 in -> 1'-0".
pub fn feet_inches(length: Length, denominator: i64) -> String {
    let total = parts(length, denominator);
    let sign = if length < Length::ZERO && total > 0 { "-" } else { "" };
    let (feet, rest) = (total / (12 * denominator), total % (12 * denominator));
    match feet {
        0 => format!("{sign}{}\"", mixed(rest, denominator)),
        // Behind feet the inches keep their zero: 1'-0-1/4".
        _ if rest < denominator && rest > 0 => format!("{sign}{feet}'-0-{}\"", mixed(rest, denominator)),
        _ => format!("{sign}{feet}'-{}\"", mixed(rest, denominator)),
    }
}

/// Whole inches and fraction without a sign for the unit: `63-3/8`; half up on the total of `1/denominator` inches.
pub fn inches(length: Length, denominator: i64) -> String {
    let total = parts(length, denominator);
    let sign = if length < Length::ZERO && total > 0 { "-" } else { "" };
    format!("{sign}{}", mixed(total, denominator))
}

/// Size of a length in `1/denominator` inches, half up.
const fn parts(length: Length, denominator: i64) -> i64 {
    let step = Unit::Inch.nanometres() / denominator;
    (2 * length.nanometres().abs() + step) / (2 * step)
}

/// `63-3/8` of 1014/16.
fn mixed(total: i64, denominator: i64) -> String {
    let (whole, part) = (total / denominator, total % denominator);
    let g = gcd(part, denominator);
    match (whole, part) {
        (_, 0) => whole.to_string(),
        (0, _) => format!("{}/{}", part / g, denominator / g),
        _ => format!("{whole}-{}/{}", part / g, denominator / g),
    }
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
    /// As a person reads it: `5'-3-1/2"`, or `1600` (millimetres, unit left to the sheet's note).
    pub fn text(&self, length: Length) -> String {
        if self.unit.is_imperial() { feet_inches(length, self.denominator()) } else { decimal(length.millimetres(), 1) }
    }

    /// As running marks show it on a rail: inches only (`63-3/8"`), or millimetres.
    pub fn mark_text(&self, length: Length) -> String {
        if self.unit.is_imperial() {
            format!("{}\"", inches(length, self.denominator()))
        } else {
            decimal(length.millimetres(), 1)
        }
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

    fn of_inches(value: f64) -> Length {
        Length::from_millimetres(value * 25.4).unwrap()
    }

    /// Common practice in imperial dimensioning.
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
            assert_eq!(feet_inches(of_inches(value), 16), text, "{value}");
        }
    }

    #[test]
    fn running_marks_stay_in_inches() {
        let m = Measure { unit: Unit::Inch, mark: Mark::SIXTEENTH };
        for (value, text) in
            [(63.375, "63-3/8\""), (24.0, "24\""), (0.5, "1/2\""), (12.0625, "12-1/16\""), (35.99, "36\"")]
        {
            assert_eq!(m.mark_text(of_inches(value)), text, "{value}");
        }
    }

    proptest::proptest! {
        /// Halves and their neighbours, where rounding is decided, and any other number.
        #[test]
        fn digits_are_those_of_the_standard_printing(
            halves in -4_000_000_i64..4_000_000, ulps in -3_i64..4, any in -1e13_f64..1e13, small in -2_f64..2.0, places in 0_usize..12,
        ) {
            let half = halves as f64 / 2_000.0;
            let near = f64::from_bits(half.to_bits().wrapping_add_signed(ulps));
            for value in [half, near, any, small, small / 1e4, half * 1e5, any.trunc(), -0.0, f64::NAN, f64::INFINITY] {
                proptest::prop_assert_eq!(decimal(value, places), by_format(value, places), "{} {}", value, places);
            }
        }
    }

    #[test]
    fn messages_are_cut_line_by_line() {
        assert_eq!(brief("a\n  b\n"), "a\n  b\n");
        let long = "é".repeat(501);
        assert_eq!(brief(&format!("{long}\nc")), format!("{}...\nc", "é".repeat(500)));
    }

    /// Closed form; an f64 of so many millimetres has no room for the last digit.
    #[test]
    fn millionths_are_exact_at_any_size() {
        for (value, text) in [
            (0, "0"),
            (1, "0.000001"),
            (-1_500_000, "-1.5"),
            (25_000_000, "25"),
            (8_999_999_999_999_999, "8999999999.999999"),
            (i64::MIN, "-9223372036854.775808"),
        ] {
            assert_eq!(millionths(value), text);
        }
    }

    #[test]
    fn decimals_are_trimmed() {
        assert_eq!(decimal(0.1 + 0.2, 6), "0.3");
        assert_eq!(decimal(-0.000_000_1, 4), "0");
        assert_eq!(decimal(100.0, 3), "100");
    }
}
