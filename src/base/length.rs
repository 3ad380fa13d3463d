//! Exact lengths, as the trade writes them.

use std::fmt;
use std::iter::Sum;
use std::ops::{Add, AddAssign, Div, Mul, Neg, Sub, SubAssign};

use serde::de::{self, Visitor};
use serde::{Deserialize, Deserializer, Serialize, Serializer};

use super::Unit;

/// An exact length in whole nanometres: 1/64 in is 396 875 nm and 0.1 mm is 100 000 nm, so the marks of both trades are
/// exact and sums never drift.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash, Default)]
pub struct Length(i64);

impl Length {
    /// Nothing.
    pub const ZERO: Self = Self(0);
    /// One inch.
    pub const INCH: Self = Self(25_400_000);
    /// Drawing noise, 10 µm: what drawings are off by without anyone meaning it. A distance that misses a limit or a
    /// mark by less is taken to meet it.
    pub const NOISE: Self = Self(10_000);

    /// From whole nanometres.
    pub const fn from_nanometres(nm: i64) -> Self {
        Self(nm)
    }

    /// In whole nanometres.
    pub const fn nanometres(self) -> i64 {
        self.0
    }

    /// From a measured distance in millimetres, rounded to the nanometre; `None` when it is not finite or over 9 000 km.
    pub fn from_millimetres(mm: f64) -> Option<Self> {
        let nm = mm * 1e6;
        (nm.abs() < 9e15).then(|| Self(nm.round() as i64))
    }

    /// From a distance measured between points of the plan, on a grid of 25 nm: all marks (1/64 in, 0.1 mm) lie on it,
    /// so that the last digits of f64 coordinates do not push a length off its mark. The points of a plan are at most
    /// 1e7 in apart, which any `Length` holds.
    pub fn measured(mm: f64) -> Self {
        Self((mm * 4e4).round() as i64 * 25)
    }

    /// In millimetres.
    pub const fn millimetres(self) -> f64 {
        self.0 as f64 / 1e6
    }

    /// In inches.
    pub const fn inches(self) -> f64 {
        self.0 as f64 / 25_400_000.0
    }

    /// Without its sign.
    pub const fn abs(self) -> Self {
        Self(self.0.abs())
    }

    /// Half of it, rounded down to the nanometre.
    pub const fn half(self) -> Self {
        Self(self.0.div_euclid(2))
    }

    /// `self · numerator / denominator`, rounded half up to the nanometre; `denominator` must be positive.
    pub fn fraction(self, numerator: i64, denominator: i64) -> Self {
        let (n, d) = (i128::from(self.0) * i128::from(numerator), i128::from(denominator.max(1)));
        Self(i64::try_from((2 * n + d).div_euclid(2 * d)).unwrap_or(i64::MAX))
    }

    /// Multiplied by a pure number (a slope factor, a tangent), rounded to the nanometre.
    pub fn scaled(self, factor: f64) -> Self {
        Self((self.0 as f64 * factor).round() as i64)
    }

    /// How many whole `step`s fit in it (rounded towards minus infinity); `step` must be positive.
    pub const fn whole_steps(self, step: Self) -> i64 {
        self.0.div_euclid(if step.0 > 0 { step.0 } else { 1 })
    }

    /// For messages: exact on a mark of either trade, else in both units.
    pub fn told(self) -> String {
        let on_mark = [Self::INCH.0 / 64, 100_000].into_iter().any(|mark| self.0 % mark == 0);
        if on_mark {
            return self.to_string();
        }
        format!("{}in ({}mm)", super::decimal(self.inches(), 3), super::decimal(self.millimetres(), 1))
    }

    /// Reads a length as the trade writes it: `63in`, `63"`, `5'-3"`, `5' 3 1/2"`, `3-1/2in`, `5.25ft`, `1600mm`.
    ///
    /// # Errors
    /// When the text is no length, or has no unit and `bare` gives none.
    pub fn parse(text: &str, bare: Option<Unit>) -> Result<Self, LengthError> {
        Reader { rest: text.trim(), text }.length(bare)
    }
}

/// Why a text is not a length.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct LengthError {
    text: String,
    why: &'static str,
}

impl fmt::Display for LengthError {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(f, "`{}` is not a length: {}; write for example 63in, 5'-3 1/2\", 5.25ft or 1600mm", self.text, self.why)
    }
}

impl std::error::Error for LengthError {}

struct Reader<'a> {
    rest: &'a str,
    text: &'a str,
}

impl Reader<'_> {
    fn fail<T>(&self, why: &'static str) -> Result<T, LengthError> {
        Err(LengthError { text: self.text.chars().take(60).collect(), why })
    }

    fn length(mut self, bare: Option<Unit>) -> Result<Length, LengthError> {
        let negative = self.rest.starts_with('-');
        self.rest = self.rest.strip_prefix('-').unwrap_or(self.rest);
        let first = self.mixed()?;
        let nm = match (self.unit(), bare) {
            (Some(Unit::Foot), _) if !self.rest.is_empty() => {
                self.rest = self.rest.trim_start_matches(['-', ' ']);
                let second = self.mixed()?;
                let feet = first.in_unit(Unit::Foot);
                match self.unit() {
                    None | Some(Unit::Inch) => feet.zip(second.in_unit(Unit::Inch)).and_then(|(f, i)| f.checked_add(i)),
                    Some(_) => return self.fail("after feet come inches"),
                }
            }
            (Some(unit), _) | (None, Some(unit)) => first.in_unit(unit),
            (None, None) if self.rest.is_empty() => return self.fail("it has no unit"),
            (None, None) => return self.fail("its unit is not one of in, ft, mm, cm, m"),
        };
        if !self.rest.is_empty() {
            return self.fail("something follows the length");
        }
        match nm.and_then(|nm| i64::try_from(nm).ok()) {
            // 9e15 nm are 9 000 km: room for sums and products of a job's lengths.
            Some(nm) if nm < 9_000_000_000_000_000 => Ok(Length(if negative { -nm } else { nm })),
            _ => self.fail("it is too large"),
        }
    }

    /// `3`, `3.25`, `1/2`, `3-1/2`, `3 1/2`.
    fn mixed(&mut self) -> Result<Ratio, LengthError> {
        let whole = self.number()?;
        if self.rest.starts_with('/') {
            return self.over(whole);
        }
        let gap = self.rest.trim_start_matches(['-', ' ']);
        let is_fraction = gap.len() < self.rest.len()
            && gap.find('/').is_some_and(|i| i > 0 && gap.bytes().take(i).all(|b| b.is_ascii_digit()));
        if !is_fraction {
            self.rest = self.rest.trim_start();
            return Ok(whole);
        }
        if whole.denominator != 1 {
            return self.fail("a decimal number and a fraction do not go together");
        }
        self.rest = gap;
        let top = self.number()?;
        let part = self.over(top)?;
        Ok(Ratio { numerator: whole.numerator * part.denominator + part.numerator, denominator: part.denominator })
    }

    fn over(&mut self, top: Ratio) -> Result<Ratio, LengthError> {
        self.rest = self.rest.strip_prefix('/').unwrap_or(self.rest);
        let bottom = self.number()?;
        self.rest = self.rest.trim_start();
        if top.denominator != 1 || bottom.denominator != 1 || bottom.numerator == 0 {
            return self.fail("a fraction is two whole numbers, like 1/16");
        }
        Ok(Ratio { numerator: top.numerator, denominator: bottom.numerator })
    }

    fn number(&mut self) -> Result<Ratio, LengthError> {
        let end = self.rest.find(|c: char| !c.is_ascii_digit() && c != '.').unwrap_or(self.rest.len());
        let (digits, rest) = self.rest.split_at(end);
        let (int, frac) = digits.split_once('.').unwrap_or((digits, ""));
        if int.len() + frac.len() == 0 || frac.contains('.') {
            return self.fail("a number is missing");
        }
        if int.len() + frac.len() > 17 {
            return self.fail("a number has too many digits");
        }
        let mut ratio = Ratio { numerator: 0, denominator: 1 };
        for digit in int.bytes().chain(frac.bytes()) {
            ratio.numerator = ratio.numerator * 10 + i128::from(digit - b'0');
        }
        for _ in frac.bytes() {
            ratio.denominator *= 10;
        }
        self.rest = rest;
        Ok(ratio)
    }

    fn unit(&mut self) -> Option<Unit> {
        let signs = [
            ("mm", Unit::Millimetre),
            ("cm", Unit::Centimetre),
            ("inches", Unit::Inch),
            ("inch", Unit::Inch),
            ("in", Unit::Inch),
            ("\"", Unit::Inch),
            ("''", Unit::Inch),
            ("″", Unit::Inch),
            ("feet", Unit::Foot),
            ("foot", Unit::Foot),
            ("ft", Unit::Foot),
            ("'", Unit::Foot),
            ("′", Unit::Foot),
            ("m", Unit::Metre),
        ];
        let (sign, unit) = signs.into_iter().find(|(sign, _)| self.rest.starts_with(sign))?;
        self.rest = self.rest.get(sign.len()..)?.trim_start();
        Some(unit)
    }
}

#[derive(Clone, Copy)]
struct Ratio {
    numerator: i128,
    denominator: i128,
}

impl Ratio {
    /// In nanometres, to the nearest one; `None` when that is beyond all numbers.
    fn in_unit(self, unit: Unit) -> Option<i128> {
        let twice = self.numerator.checked_mul(2 * i128::from(unit.nanometres()))?;
        Some(twice.checked_add(self.denominator)? / (2 * self.denominator))
    }
}

impl<'de> Deserialize<'de> for Length {
    fn deserialize<D: Deserializer<'de>>(deserializer: D) -> Result<Self, D::Error> {
        struct Text;
        impl Visitor<'_> for Text {
            type Value = Length;
            fn expecting(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
                f.write_str("a length in quotes with its unit, for example \"3-1/2in\" or \"90mm\"")
            }
            fn visit_str<E: de::Error>(self, text: &str) -> Result<Length, E> {
                Length::parse(text, None).map_err(E::custom)
            }
        }
        deserializer.deserialize_str(Text)
    }
}

impl Serialize for Length {
    /// As text that [`Length::parse`] reads back exactly.
    fn serialize<S: Serializer>(&self, serializer: S) -> Result<S::Ok, S::Error> {
        serializer.collect_str(self)
    }
}

impl schemars::JsonSchema for Length {
    fn schema_name() -> std::borrow::Cow<'static, str> {
        "Length".into()
    }

    fn json_schema(_: &mut schemars::SchemaGenerator) -> schemars::Schema {
        schemars::json_schema!({
            "type": "string",
            "description": "A length with its unit, as the trade writes it: \"3-1/2in\", \"5'-3\\\"\", \"1600mm\"."
        })
    }
}

impl fmt::Display for Length {
    /// Whole 64ths of an inch as inches, all else as millimetres: exact to the nanometre at any size, and readable by [`Length::parse`].
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        let step = Self::INCH.0 / 64;
        if self.0 % step == 0 && self.0 % 1_000_000 != 0 || self.0 % Self::INCH.0 == 0 {
            write!(f, "{}in", super::inches(*self, 64))
        } else {
            write!(f, "{}mm", super::print::millionths(self.0))
        }
    }
}

/// The grid of shop marks: a positive length.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Mark(Length);

impl Mark {
    /// 1/16 in, the default where the trade works in feet and inches.
    pub const SIXTEENTH: Self = Self(Length(1_587_500));
    /// 1 mm, the default where it works in metres.
    pub const MILLIMETRE: Self = Self(Length(1_000_000));

    /// A grid of `length`, which must be between 0.1 mm and 1 in.
    pub fn new(length: Length) -> Option<Self> {
        (length.0 >= 100_000 && length <= Length::INCH).then_some(Self(length))
    }

    /// Width of one mark.
    pub const fn length(self) -> Length {
        self.0
    }

    /// Nearest mark, half up.
    pub const fn round(self, length: Length) -> Length {
        Length((2 * length.0 + self.0.0).div_euclid(2 * self.0.0) * self.0.0)
    }

    /// Next mark at or below.
    pub const fn floor(self, length: Length) -> Length {
        Length(length.0.div_euclid(self.0.0) * self.0.0)
    }

    /// Next mark at or above.
    pub const fn ceil(self, length: Length) -> Length {
        Length(-((-length.0).div_euclid(self.0.0)) * self.0.0)
    }
}

impl Add for Length {
    type Output = Self;
    fn add(self, other: Self) -> Self {
        Self(self.0 + other.0)
    }
}

impl AddAssign for Length {
    fn add_assign(&mut self, other: Self) {
        self.0 += other.0;
    }
}

impl Sub for Length {
    type Output = Self;
    fn sub(self, other: Self) -> Self {
        Self(self.0 - other.0)
    }
}

impl SubAssign for Length {
    fn sub_assign(&mut self, other: Self) {
        self.0 -= other.0;
    }
}

impl Neg for Length {
    type Output = Self;
    fn neg(self) -> Self {
        Self(-self.0)
    }
}

impl Mul<i64> for Length {
    type Output = Self;
    fn mul(self, by: i64) -> Self {
        Self(self.0 * by)
    }
}

impl Div<i64> for Length {
    type Output = Self;
    /// Rounded half up to the nanometre; `by` must be positive.
    fn div(self, by: i64) -> Self {
        self.fraction(1, by)
    }
}

impl Sum for Length {
    fn sum<I: Iterator<Item = Self>>(lengths: I) -> Self {
        lengths.fold(Self::ZERO, Add::add)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn reads_what_the_trade_writes() {
        for (text, inches) in [
            ("63in", 63.0),
            ("63\"", 63.0),
            ("5'-3\"", 63.0),
            ("5' 3 1/2\"", 63.5),
            ("5'-3-1/2\"", 63.5),
            ("5'3", 63.0),
            ("5.25ft", 63.0),
            ("1/16in", 0.0625),
            ("3-1/2in", 3.5),
            ("3 1/2 in", 3.5),
            ("25.4mm", 1.0),
            ("2.54 cm", 1.0),
            ("0.0254m", 1.0),
            ("-3in", -3.0),
            ("10'", 120.0),
        ] {
            assert_eq!(Length::parse(text, None).unwrap().inches(), inches, "{text}");
        }
        assert_eq!(Length::parse("63", Some(Unit::Inch)).unwrap(), Length::INCH * 63);
    }

    #[test]
    fn refuses_what_is_no_length() {
        for text in [
            "",
            "63",
            "in",
            "1/0in",
            "3..4in",
            "3.5 1/2in",
            "5'3m",
            "63in or so",
            "1e3in",
            "NaN",
            "99999999999999999mm",
        ] {
            let error = Length::parse(text, None).unwrap_err().to_string();
            assert!(error.contains("is not a length"), "{text}: {error}");
        }
    }

    #[test]
    fn what_is_printed_reads_back_exactly() {
        for nm in [0, 396_875, 25_400_000, 304_800_000, 1_000_000, 90_000_000, 123_456_789, -88_900_000, 312_737_500] {
            let length = Length::from_nanometres(nm);
            assert_eq!(Length::parse(&length.to_string(), None).unwrap(), length, "{length}");
        }
    }

    #[test]
    fn marks_round_half_up() {
        let mark = Mark::SIXTEENTH;
        let half = mark.length().half();
        assert_eq!(mark.round(half), mark.length());
        assert_eq!(mark.round(half - Length::from_nanometres(1)), Length::ZERO);
        assert_eq!(mark.floor(Length::INCH - Length::from_nanometres(1)), Length::INCH - mark.length());
        assert_eq!(mark.ceil(Length::INCH - Length::from_nanometres(1)), Length::INCH);
    }
}
