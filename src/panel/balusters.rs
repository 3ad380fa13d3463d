//! Dividing a rail into balusters, so that no gap lets the sphere through.
//!
//! A division counts only when it holds on the rounded marks with the cutting tolerance in every gap: a gap of exactly
//! the limit fails.

use crate::base::{Length, Mark};
use crate::catalog::BalusterStyle;

/// More balusters than any rail has: the bound that keeps a hostile system file from filling the memory.
const MOST: i64 = 10_000;

/// What the balusters have to fill, and what they must keep to.
#[derive(Debug, Clone, Copy)]
pub(super) struct Infill {
    /// Rail length on the centre line, on the mark grid.
    pub length: Length,
    /// From the left face to the rail's left end.
    pub left: Length,
    /// From the rail's right end to the right face.
    pub right: Length,
    /// How far the brackets reach in from each rail end; zero without brackets.
    pub reach: Length,
    /// Baluster width.
    pub width: Length,
    /// Sphere that must not pass.
    pub limit: Length,
    /// What a finished gap may be wider than its marks say.
    pub tolerance: Length,
    /// Mark grid.
    pub mark: Mark,
}

/// Balusters that hold.
#[derive(Debug, Default)]
pub(super) struct Division {
    /// On-centre spacing before rounding.
    pub spacing: Length,
    /// Centres.
    pub marks: Vec<Length>,
    /// Why the spacing is less than the system's.
    pub reduced: Option<&'static str>,
}

/// Why balusters do not hold.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum Wrong {
    /// A gap lets the sphere through.
    TooWide,
    /// An end baluster stands in a bracket.
    InBracket,
    /// They overlap, or there are more than [`MOST`].
    NoRoom,
    /// The punched pitch itself lets the sphere through.
    Pitch,
}

impl Infill {
    /// The division of a style, `spacing` being the system's on-centre spacing or punched pitch.
    pub fn divide(&self, style: BalusterStyle, spacing: Length) -> Result<Division, Wrong> {
        // Every way of dividing divides by one of these.
        if spacing <= Length::ZERO || self.width <= Length::ZERO || self.limit <= self.tolerance {
            return Err(Wrong::NoRoom);
        }
        match style {
            BalusterStyle::Even => self.even(),
            BalusterStyle::Centred => self.centred(spacing),
            BalusterStyle::Punched => self.punched(spacing),
        }
    }

    /// Clear spaces from face to face, left to right; never empty.
    pub fn gaps(&self, marks: &[Length]) -> Vec<Length> {
        let low = self.width.half();
        let mut gaps = Vec::with_capacity(marks.len() + 1);
        let mut free_from = -self.left;
        for &mark in marks {
            gaps.push(mark - low - free_from);
            free_from = mark - low + self.width;
        }
        gaps.push(self.length + self.right - free_from);
        gaps
    }

    fn clear(&self) -> Length {
        self.left + self.length + self.right
    }

    /// Least distance of an end baluster's centre from its rail end.
    fn beyond_bracket(&self) -> Length {
        self.reach + (self.width - self.width.half())
    }

    fn is_under_limit(&self, gap: Length) -> bool {
        gap + self.tolerance < self.limit
    }

    fn check(&self, marks: &[Length]) -> Result<(), Wrong> {
        let near = self.beyond_bracket();
        let in_bracket = |m: Option<&Length>| m.is_some_and(|&m| m < near || self.length - m < near);
        if in_bracket(marks.first()) || in_bracket(marks.last()) {
            return Err(Wrong::InBracket);
        }
        let gaps = self.gaps(marks);
        if gaps.iter().any(|&gap| gap < Length::ZERO) {
            return Err(Wrong::NoRoom);
        }
        if gaps.iter().all(|&gap| self.is_under_limit(gap)) { Ok(()) } else { Err(Wrong::TooWide) }
    }

    /// The first count from `least` up whose gaps all hold. More balusters only come nearer to the brackets, so the
    /// search ends at the first count that fails for another reason than a wide gap.
    fn fewest(&self, least: i64, marks_of: impl Fn(i64) -> Vec<Length>) -> Result<Vec<Length>, Wrong> {
        for count in least.max(0)..=MOST {
            let marks = marks_of(count);
            match self.check(&marks) {
                Ok(()) => return Ok(marks),
                Err(Wrong::TooWide) => {}
                Err(wrong) => return Err(wrong),
            }
        }
        Err(Wrong::NoRoom)
    }

    /// Equal gaps between the two faces.
    pub fn even(&self) -> Result<Division, Wrong> {
        let (clear, gap) = (self.clear(), self.limit - self.tolerance);
        // The rounded gaps add up to the same sum, so the widest of them is at least their mean: fewer than this
        // never hold.
        let least = if clear < gap { 0 } else { (clear - gap).whole_steps(self.width + gap) + 1 };
        let marks = self.fewest(least, |count| {
            let (c, b, left) = (wide(clear), wide(self.width), wide(self.left));
            let n = i128::from(count);
            // Centre k from the left face: k·gap + (2k - 1)·width/2, with gap = (clear - n·width)/(n + 1).
            (1..=n)
                .map(|k| {
                    let from_face = 2 * k * (c - n * b) + (2 * k - 1) * b * (n + 1);
                    on_mark(self.mark, from_face - 2 * (n + 1) * left, 2 * (n + 1))
                })
                .collect()
        })?;
        let spacing = (clear + self.width).fraction(1, count_of(&marks) + 1);
        Ok(Division { spacing, marks, reduced: None })
    }

    /// Fixed on-centre spacing, both end gaps equal.
    fn centred(&self, wanted: Length) -> Result<Division, Wrong> {
        let (spacing, reduced) = if self.is_under_limit(self.mark.ceil(wanted) - self.width) {
            (wanted, None)
        } else {
            let nm = Length::from_nanometres(1);
            let most = self.mark.floor(self.limit - self.tolerance + self.width - nm).min(wanted);
            (most, Some("so that the sphere does not pass between them"))
        };
        if spacing <= Length::ZERO {
            return Err(Wrong::NoRoom);
        }
        let count = self.length.whole_steps(spacing);
        if count > MOST {
            return Err(Wrong::NoRoom);
        }
        let rest = self.length - spacing * count;
        let wide_ends = self.row(count, spacing + rest, spacing);
        let least = match self.check(&wide_ends) {
            Ok(()) => return Ok(Division { spacing, marks: wide_ends, reduced }),
            Err(Wrong::InBracket) => count,
            Err(_) => {
                let narrow_ends = self.row(count + 1, rest, spacing);
                if self.check(&narrow_ends).is_ok() {
                    return Ok(Division { spacing, marks: narrow_ends, reduced });
                }
                count + 1
            }
        };
        self.between_brackets(least, wanted)
    }

    /// `count` centres `pitch` apart, the first at `twice_first / 2`.
    fn row(&self, count: i64, twice_first: Length, pitch: Length) -> Vec<Length> {
        (0..i128::from(count)).map(|k| on_mark(self.mark, wide(twice_first) + 2 * k * wide(pitch), 2)).collect()
    }

    /// End balusters right beyond the brackets, the others at equal spacing between them.
    fn between_brackets(&self, least: i64, wanted: Length) -> Result<Division, Wrong> {
        let first = self.mark.ceil(self.beyond_bracket());
        let between = self.length - first * 2;
        if between < Length::ZERO {
            return Err(Wrong::InBracket);
        }
        let marks = self.fewest(least, |count| match i128::from(count) - 1 {
            0 => vec![on_mark(self.mark, wide(self.length), 2)],
            spaces => {
                (0..=spaces).map(|k| on_mark(self.mark, wide(first) * spaces + k * wide(between), spaces)).collect()
            }
        })?;
        // A single baluster has no spacing that could have been reduced.
        Ok(match count_of(&marks) {
            ..2 => Division { spacing: wanted, marks, reduced: None },
            count => Division {
                spacing: between.fraction(1, count - 1),
                marks,
                reduced: Some("so that the end balusters clear the brackets"),
            },
        })
    }

    /// Fixed pitch, equal cut at both ends. An unequal cut never helps: it brings one end nearer to its bracket or
    /// makes the other end gap wider.
    fn punched(&self, pitch: Length) -> Result<Division, Wrong> {
        if !self.is_under_limit(pitch - self.width) {
            return Err(Wrong::Pitch);
        }
        // Twice the end gap is length - (n - 1)·pitch + 2·clearance - width. Rounding to marks moves it by less than a
        // pitch, so the search starts one baluster below what the exact gap asks for.
        let over = self.length + (self.left.max(self.right) + self.tolerance - self.limit) * 2 - self.width;
        let least = over.whole_steps(pitch) + 1;
        let marks = self.fewest(least, |count| self.row(count, self.length - pitch * (count - 1).max(0), pitch))?;
        Ok(Division { spacing: pitch, marks, reduced: None })
    }
}

/// `numerator / denominator` nanometres at the nearest mark, half up, without rounding to nanometres on the way.
pub(super) fn on_mark(mark: Mark, numerator: i128, denominator: i128) -> Length {
    let step = wide(mark.length());
    let denominator = denominator.max(1);
    let marks = (2 * numerator + step * denominator).div_euclid(2 * step * denominator);
    Length::from_nanometres(i64::try_from(marks * step).unwrap_or(i64::MAX))
}

/// Nanometres with room for products.
pub(super) fn wide(length: Length) -> i128 {
    i128::from(length.nanometres())
}

fn count_of(marks: &[Length]) -> i64 {
    i64::try_from(marks.len()).unwrap_or(i64::MAX)
}
