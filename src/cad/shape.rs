//! Geometry of a record -> its shape in the plan, in drawing units.

use super::affine::Affine;
use super::curve::Ellipse;
use super::typed::Raw;
use super::{Shape, Vertex};
use crate::base::Point;
use crate::base::plane::{distance, point};

/// Most points of one curve: an unequal scale can turn each vertex of a path into a long arc.
pub const LARGEST: usize = 1_000_000;

/// Why there is no shape.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum NoShape {
    /// A coordinate is beyond the limit or none at all.
    Far,
    /// It would have more than [`LARGEST`] points.
    Large,
}

/// How far a plan reaches, and how exactly its curves are sampled.
#[derive(Debug, Clone, Copy)]
pub struct Space {
    /// Largest coordinate, in drawing units.
    pub limit: f64,
    /// Largest error of sampled curves, in drawing units.
    pub tolerance: f64,
}

impl Space {
    /// Whether a point is finite and no further out than plans are drawn.
    pub fn within(&self, p: Point) -> bool {
        p.x.abs() <= self.limit && p.y.abs() <= self.limit
    }

    fn near(&self, p: Point) -> Result<Point, NoShape> {
        if self.within(p) { Ok(p) } else { Err(NoShape::Far) }
    }

    /// The shape of `raw` under `map`. A block reference has none.
    ///
    /// # Errors
    /// When it is not wholly within the limit, or too large.
    pub fn shape(&self, raw: &Raw, map: &Affine) -> Result<Shape, NoShape> {
        match raw {
            Raw::Point(p) => Ok(Shape::Point(self.near(map.map(*p))?)),
            Raw::Text { at, content } => Ok(Shape::Text { at: self.near(map.map(*at))?, content: content.clone() }),
            Raw::Circle { centre, radius } => match map.scale() {
                Some(scale) => {
                    let (centre, radius) = (map.map(*centre), radius * scale);
                    self.near(point(centre.x.abs() + radius, centre.y.abs() + radius))?;
                    Ok(Shape::Circle { centre, radius })
                }
                None => self.ellipse(&Ellipse::of_circle(*centre, *radius).mapped(map)),
            },
            Raw::Ellipse(ellipse) => self.ellipse(&ellipse.mapped(map)),
            Raw::Spline(spline) => {
                let spline = spline.mapped(map);
                for (p, _) in &spline.control {
                    self.near(*p)?;
                }
                let mut points = spline.points(self.tolerance).ok_or(NoShape::Far)?;
                if spline.closed && points.len() > 2 && points.first() == points.last() {
                    points.pop();
                }
                self.curve(points, spline.closed)
            }
            Raw::Path { vertices, closed } => self.path(vertices, *closed, map),
            Raw::Insert(_) => Err(NoShape::Far),
        }
    }

    fn ellipse(&self, ellipse: &Ellipse) -> Result<Shape, NoShape> {
        let Ellipse { centre, u, v, .. } = ellipse;
        self.near(point(centre.x.abs() + u.x.hypot(v.x), centre.y.abs() + u.y.hypot(v.y)))?;
        Ok(Shape::Curve { points: ellipse.points(self.tolerance), closed: ellipse.is_closed() })
    }

    /// A path stays one, with its arcs, unless an unequal scale makes them elliptic.
    fn path(&self, vertices: &[Vertex], closed: bool, map: &Affine) -> Result<Shape, NoShape> {
        let sign = if map.mirrors() { -1.0 } else { 1.0 };
        let image = |v: &Vertex| Vertex { at: map.map(v.at), bulge: v.bulge * sign };
        let mapped: Vec<Vertex> = vertices.iter().map(image).collect();
        for (i, v) in mapped.iter().enumerate() {
            // An arc's highest point is half the chord times the bulge away from it.
            let rise = follower(&mapped, i, closed).map_or(0.0, |n| distance(v.at, n) * v.bulge / 2.0);
            self.near(v.at)?;
            self.near(point(rise, 0.0))?;
        }
        if map.scale().is_some() || mapped.iter().all(|v| v.bulge == 0.0) {
            return Ok(Shape::Path { vertices: mapped, closed });
        }
        let mut points = Vec::with_capacity(mapped.len());
        for (i, v) in vertices.iter().enumerate() {
            match follower(vertices, i, closed) {
                Some(to) if v.bulge != 0.0 && to != v.at => {
                    points.extend(Ellipse::of_bulge(v.at, to, v.bulge).mapped(map).points(self.tolerance));
                    // The next stretch begins with the last point.
                    points.pop();
                }
                _ => points.push(map.map(v.at)),
            }
            if points.len() > LARGEST {
                return Err(NoShape::Large);
            }
        }
        self.curve(points, closed)
    }

    /// An arc of next to no bulge has its centre so far out that no point of it can be computed.
    fn curve(&self, points: Vec<Point>, closed: bool) -> Result<Shape, NoShape> {
        if points.iter().all(|p| self.within(*p)) { Ok(Shape::Curve { points, closed }) } else { Err(NoShape::Far) }
    }
}

/// Where the stretch from vertex `i` ends.
fn follower(vertices: &[Vertex], i: usize, closed: bool) -> Option<Point> {
    vertices.get(i + 1).or(vertices.first().filter(|_| closed)).map(|v| v.at)
}
