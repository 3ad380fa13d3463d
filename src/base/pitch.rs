//! The slope of a stair.

use std::fmt;

use serde::{Deserialize, Deserializer, Serialize, Serializer, de};

use super::{Angle, Length, Unit};

/// A slope as carpenters say it: rise over run, both more than nothing. It is kept as the two lengths, so that 7.75 on 10
/// stays exact; angles and lengths along the slope follow from them.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Pitch {
    rise: Length,
    run: Length,
}

impl Pitch {
    /// From rise and run; `None` unless both are more than nothing.
    pub fn new(rise: Length, run: Length) -> Option<Self> {
        (rise > Length::ZERO && run > Length::ZERO).then_some(Self { rise, run })
    }

    /// Reads `7.75/10`, `7-3/4in/10in` or `190mm/250mm`: the last slash that leaves a length on both sides parts rise and
    /// run. `bare` is the unit of a number without one.
    ///
    /// # Errors
    /// When there is no such slash, or rise or run is not more than nothing.
    pub fn parse(text: &str, bare: Option<Unit>) -> Result<Self, String> {
        let parts = text.match_indices('/').map(|(i, _)| (text.get(..i), text.get(i + 1..)));
        let mut read = parts.filter_map(|(rise, run)| {
            let (rise, run) = (Length::parse(rise?, bare).ok()?, Length::parse(run?, bare).ok()?);
            Self::new(rise, run)
        });
        read.next_back().ok_or_else(|| {
            let shown: String = text.chars().take(60).collect();
            format!("`{shown}` is no slope; write riser/tread, for example 7.75/10 or 190mm/250mm")
        })
    }

    /// Rise over [`Pitch::run`].
    pub const fn rise(self) -> Length {
        self.rise
    }

    /// Run that rises by [`Pitch::rise`].
    pub const fn run(self) -> Length {
        self.run
    }

    /// Angle above the level.
    pub fn angle(self) -> Angle {
        Angle::from_radians(self.rise.millimetres().atan2(self.run.millimetres()))
    }

    /// How much longer the slope is than what lies level beneath it: 7.5 on 10 -> 1.25.
    pub fn factor(self) -> f64 {
        self.rise.millimetres().hypot(self.run.millimetres()) / self.run.millimetres()
    }

    /// Length along the slope over a level one. The same turns a thickness square to the rail into the height that it
    /// takes plumb.
    pub fn along(self, level: Length) -> Length {
        level.scaled(self.factor())
    }

    /// Level length beneath one along the slope.
    pub fn level(self, along: Length) -> Length {
        along.scaled(1.0 / self.factor())
    }

    /// Fall over a level length, to the nearest nanometre.
    pub fn fall(self, level: Length) -> Length {
        level.fraction(self.rise.nanometres(), self.run.nanometres())
    }
}

impl fmt::Display for Pitch {
    /// Rise over run with their units, as [`Pitch::parse`] reads them back.
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(f, "{}/{}", self.rise, self.run)
    }
}

impl<'de> Deserialize<'de> for Pitch {
    fn deserialize<D: Deserializer<'de>>(deserializer: D) -> Result<Self, D::Error> {
        Self::parse(&String::deserialize(deserializer)?, None).map_err(de::Error::custom)
    }
}

impl Serialize for Pitch {
    fn serialize<S: Serializer>(&self, serializer: S) -> Result<S::Ok, S::Error> {
        serializer.collect_str(self)
    }
}

impl schemars::JsonSchema for Pitch {
    fn schema_name() -> std::borrow::Cow<'static, str> {
        "Pitch".into()
    }

    fn json_schema(_: &mut schemars::SchemaGenerator) -> schemars::Schema {
        schemars::json_schema!({
            "type": "string",
            "description": "A slope as riser over tread, each with its unit: \"7-3/4in/10in\", \"190mm/250mm\"."
        })
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn pitch(text: &str) -> Pitch {
        Pitch::parse(text, Some(Unit::Inch)).unwrap()
    }

    /// 7-5/8 on 10 is 37.3 degrees, 7.75 on 10 is 37.775684; 7.5 on 10 stretches 5 to 6.25 (closed form).
    #[test]
    fn usual_stairs_have_these_angles_and_lengths() {
        assert!((pitch("7-5/8 / 10").angle().degrees() - 37.325_6).abs() < 1e-3);
        assert!((pitch("7.75/10").angle().degrees() - 37.775_684).abs() < 1e-6);
        assert_eq!(pitch("7.5/10").along(Length::INCH * 5), Length::INCH.fraction(25, 4));
        assert_eq!(pitch("7.5/10").level(Length::INCH.fraction(25, 4)), Length::INCH * 5);
        assert_eq!(pitch("7.5/10").fall(Length::INCH * 60), Length::INCH * 45);
    }

    #[test]
    fn slopes_are_read_with_fractions_and_units() {
        assert_eq!(pitch("7-3/4/10"), pitch("7.75/10"));
        assert_eq!(pitch("7 3/4in / 10in"), pitch("7.75/10"));
        assert_eq!(pitch("190mm/250mm").rise().millimetres(), 190.0);
        for wrong in ["", "7.75", "7.75/0", "-7/10", "/10", "a/b"] {
            assert!(Pitch::parse(wrong, Some(Unit::Inch)).is_err(), "{wrong}");
        }
    }
}
