//! Plane maps: what block references do to the plan's plane.

use crate::base::Point;
use crate::base::plane::{cross, dot, norm, point};

/// An affine map of the plane.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Affine {
    /// Image of the x direction.
    pub x: Point,
    /// Image of the y direction.
    pub y: Point,
    /// Image of the origin.
    pub origin: Point,
}

impl Affine {
    /// No change.
    pub const IDENTITY: Self = Self { x: point(1.0, 0.0), y: point(0.0, 1.0), origin: point(0.0, 0.0) };

    /// Mirrored at the y axis: where a normal of (0, 0, -1) puts the plane (DXF reference, arbitrary axis algorithm:
    /// its x axis is (-1, 0, 0), its y axis (0, 1, 0)).
    pub const MIRRORED: Self = Self { x: point(-1.0, 0.0), y: point(0.0, 1.0), origin: point(0.0, 0.0) };

    /// Image of a direction.
    pub fn turn(&self, v: Point) -> Point {
        self.x * v.x + self.y * v.y
    }

    /// Image of a point.
    pub fn map(&self, p: Point) -> Point {
        self.turn(p) + self.origin
    }

    /// First `inner`, then this.
    pub fn after(&self, inner: &Self) -> Self {
        Self { x: self.turn(inner.x), y: self.turn(inner.y), origin: self.map(inner.origin) }
    }

    /// Whether it turns left into right.
    pub fn mirrors(&self) -> bool {
        cross(self.x, self.y) < 0.0
    }

    /// Its scale, if it is the same in all directions, so that arcs stay arcs.
    pub fn scale(&self) -> Option<f64> {
        let (a, b) = (norm(self.x), norm(self.y));
        let even = (a - b).abs() <= 1e-9 * a && dot(self.x, self.y).abs() <= 1e-9 * a * b;
        even.then_some(a)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn maps_compose_and_know_mirrors() {
        let turn = Affine { x: point(0.0, 2.0), y: point(-2.0, 0.0), origin: point(10.0, 0.0) };
        assert_eq!(turn.map(point(1.0, 1.0)), point(8.0, 2.0));
        assert_eq!(turn.scale(), Some(2.0));
        assert!(!turn.mirrors());
        let both = turn.after(&Affine::MIRRORED);
        assert_eq!(both.map(point(1.0, 1.0)), point(8.0, -2.0));
        assert!(both.mirrors());
        let uneven = Affine { y: point(0.0, 1.0), ..turn };
        assert_eq!(uneven.scale(), None);
    }
}
