//! Angles, so that no bare number has to be guessed to be degrees or radians.

use std::ops::{Add, Div, Neg, Sub};

/// A plane angle, counter-clockwise positive. Held in radians.
#[derive(Debug, Clone, Copy, PartialEq, PartialOrd)]
pub struct Angle(f64);

impl Angle {
    /// No turn.
    pub const ZERO: Self = Self(0.0);

    /// From degrees.
    pub const fn from_degrees(degrees: f64) -> Self {
        Self(degrees.to_radians())
    }

    /// From radians.
    pub const fn from_radians(radians: f64) -> Self {
        Self(radians)
    }

    /// In degrees.
    pub const fn degrees(self) -> f64 {
        self.0.to_degrees()
    }

    /// In radians.
    pub const fn radians(self) -> f64 {
        self.0
    }

    /// Size without direction.
    pub const fn abs(self) -> Self {
        Self(self.0.abs())
    }

    /// Tangent.
    pub fn tan(self) -> f64 {
        self.0.tan()
    }

    /// Cosine.
    pub fn cos(self) -> f64 {
        self.0.cos()
    }

    /// The same direction modulo `period`, in `(-period/2, period/2]`.
    ///
    /// A square post looks the same every 90 degrees, so its skews are folded by 90.
    pub fn folded(self, period: Self) -> Self {
        let r = self.0.rem_euclid(period.0);
        Self(if r > period.0 / 2.0 { r - period.0 } else { r })
    }
}

impl Add for Angle {
    type Output = Self;
    fn add(self, other: Self) -> Self {
        Self(self.0 + other.0)
    }
}

impl Sub for Angle {
    type Output = Self;
    fn sub(self, other: Self) -> Self {
        Self(self.0 - other.0)
    }
}

impl Neg for Angle {
    type Output = Self;
    fn neg(self) -> Self {
        Self(-self.0)
    }
}

impl Div<f64> for Angle {
    type Output = Self;
    fn div(self, by: f64) -> Self {
        Self(self.0 / by)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn folding_by_ninety_keeps_the_skew_within_half_a_right_angle() {
        let quarter = Angle::from_degrees(90.0);
        for (given, folded) in [(0.0, 0.0), (67.5, -22.5), (135.0, 45.0), (-22.5, -22.5), (361.0, 1.0)] {
            let got = Angle::from_degrees(given).folded(quarter).degrees();
            assert!((got - folded).abs() < 1e-9, "{given}: {got}");
        }
    }
}
