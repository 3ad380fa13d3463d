//! Sheets of paper, by the names that printers and standards use.

use schemars::JsonSchema;
use serde::{Deserialize, Serialize};

/// A sheet. Sizes: ASME Y14.1 (`letter`, `ansi-b`), the architectural series in multiples of 9 x 12 in, and ISO 216 (`a1` to
/// `a4`).
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize, JsonSchema)]
#[serde(rename_all = "kebab-case")]
pub enum Paper {
    /// 8-1/2 x 11 in.
    Letter,
    /// 11 x 17 in.
    AnsiB,
    /// 18 x 24 in.
    ArchC,
    /// 24 x 36 in.
    ArchD,
    /// 210 x 297 mm.
    A4,
    /// 297 x 420 mm.
    A3,
    /// 420 x 594 mm.
    A2,
    /// 594 x 841 mm.
    A1,
}

impl Paper {
    /// All of them.
    pub const ALL: [Self; 8] =
        [Self::Letter, Self::AnsiB, Self::ArchC, Self::ArchD, Self::A4, Self::A3, Self::A2, Self::A1];

    /// Its word in files and options.
    pub const fn name(self) -> &'static str {
        match self {
            Self::Letter => "letter",
            Self::AnsiB => "ansi-b",
            Self::ArchC => "arch-c",
            Self::ArchD => "arch-d",
            Self::A4 => "a4",
            Self::A3 => "a3",
            Self::A2 => "a2",
            Self::A1 => "a1",
        }
    }

    /// The sheet of that word, without regard to case.
    pub fn from_name(name: &str) -> Option<Self> {
        Self::ALL.into_iter().find(|paper| paper.name().eq_ignore_ascii_case(name))
    }

    /// Short and long side, mm.
    pub const fn sides_mm(self) -> (f64, f64) {
        const INCH: f64 = 25.4;
        match self {
            Self::Letter => (8.5 * INCH, 11.0 * INCH),
            Self::AnsiB => (11.0 * INCH, 17.0 * INCH),
            Self::ArchC => (18.0 * INCH, 24.0 * INCH),
            Self::ArchD => (24.0 * INCH, 36.0 * INCH),
            Self::A4 => (210.0, 297.0),
            Self::A3 => (297.0, 420.0),
            Self::A2 => (420.0, 594.0),
            Self::A1 => (594.0, 841.0),
        }
    }

    /// The sheet that a job gets which asks for none: the largest that an office printer takes.
    pub const fn usual(is_imperial: bool) -> Self {
        if is_imperial { Self::AnsiB } else { Self::A3 }
    }

    /// The sheet of a desk printer, for templates that are put together from several.
    pub const fn desk(is_imperial: bool) -> Self {
        if is_imperial { Self::Letter } else { Self::A4 }
    }
}
