//! Points and vectors in the plan: f64 millimetres near a local origin (see [`crate::base::Frame`]).

use crate::base::Angle;

/// A point or vector of the plan, in millimetres from the frame's origin.
pub type Point = geo::Coord<f64>;

/// A point from its two coordinates.
pub const fn point(x: f64, y: f64) -> Point {
    Point { x, y }
}

/// Distance between two points.
pub fn distance(a: Point, b: Point) -> f64 {
    (b.x - a.x).hypot(b.y - a.y)
}

/// Length of a vector.
pub fn norm(v: Point) -> f64 {
    v.x.hypot(v.y)
}

/// The vector of length one in the direction of `v`; the zero vector stays zero.
pub fn unit(v: Point) -> Point {
    let n = norm(v);
    if n > 0.0 { v / n } else { v }
}

/// Unit vector at an angle from the x axis.
pub fn direction(angle: Angle) -> Point {
    point(angle.radians().cos(), angle.radians().sin())
}

/// Angle of a vector from the x axis.
pub fn angle_of(v: Point) -> Angle {
    Angle::from_radians(v.y.atan2(v.x))
}

/// `v` turned by a right angle to the left.
pub const fn left(v: Point) -> Point {
    point(-v.y, v.x)
}

/// `v` turned by a right angle to the right.
pub const fn right(v: Point) -> Point {
    point(v.y, -v.x)
}

/// `v` turned by `angle`.
pub fn turned(v: Point, angle: Angle) -> Point {
    let (sin, cos) = angle.radians().sin_cos();
    point(v.x * cos - v.y * sin, v.x * sin + v.y * cos)
}

/// Scalar product.
pub fn dot(a: Point, b: Point) -> f64 {
    a.x * b.x + a.y * b.y
}

/// Cross product: positive when `b` lies to the left of `a`.
pub fn cross(a: Point, b: Point) -> f64 {
    a.x * b.y - a.y * b.x
}

/// Lower left and upper right corner of the box around some points; `None` without a point.
pub fn bounds(points: impl IntoIterator<Item = Point>) -> Option<(Point, Point)> {
    points.into_iter().fold(None, |so_far, p| {
        let (low, high) = so_far.unwrap_or((p, p));
        Some((point(low.x.min(p.x), low.y.min(p.y)), point(high.x.max(p.x), high.y.max(p.y))))
    })
}

/// Where the endless lines `p + t·u` and `q + s·v` meet, as `t`; `None` when they are parallel.
pub fn meet(p: Point, u: Point, q: Point, v: Point) -> Option<f64> {
    let d = cross(u, v);
    if d.abs() <= 1e-12 * norm(u) * norm(v) {
        return None;
    }
    Some(cross(q - p, v) / d)
}

/// Distance of `p` from the segment `a`-`b`, and the parameter in `0..=1` of the nearest point.
pub fn to_segment(p: Point, a: Point, b: Point) -> (f64, f64) {
    let d = b - a;
    let len2 = dot(d, d);
    let t = if len2 > 0.0 { (dot(p - a, d) / len2).clamp(0.0, 1.0) } else { 0.0 };
    (distance(p, a + d * t), t)
}
