//! Geometry of a record -> its shape in the plan, in drawing units.

use super::affine::Affine;
use super::curve::Ellipse;
use super::typed::Raw;
use super::{Shape, Vertex};
use crate::base::Point;
use crate::base::plane::{distance, point};

/// How far a plan reaches, and how exactly its curves are sampled.
#[derive(Debug, Clone, Copy)]
pub struct Space {
    /// Largest coordinate, in drawing units.
    pub limit: f64,
    /// Largest error of sampled curves, in drawing units.
    pub tolerance: f64,
}

impl Space {
    /// Whether a point is no further out than plans are drawn.
    pub fn within(&self, p: Point) -> bool {
        p.x.abs() <= self.limit && p.y.abs() <= self.limit
    }

    /// The shape in model space; `None` when it is not wholly within the limit.
    pub fn shape(&self, raw: &Raw, map: &Affine) -> Option<Shape> {
        match raw {
            Raw::Point(p) => {
                let p = map.map(*p);
                self.within(p).then_some(Shape::Point(p))
            }
            Raw::Text { at, content } => {
                let at = map.map(*at);
                self.within(at).then(|| Shape::Text { at, content: content.clone() })
            }
            Raw::Circle { centre, radius } => match map.scale() {
                Some(scale) => {
                    let (centre, radius) = (map.map(*centre), radius * scale);
                    let reach = point(centre.x.abs() + radius, centre.y.abs() + radius);
                    self.within(reach).then_some(Shape::Circle { centre, radius })
                }
                None => self.ellipse(&Ellipse::of_circle(*centre, *radius).mapped(map)),
            },
            Raw::Ellipse(ellipse) => self.ellipse(&ellipse.mapped(map)),
            Raw::Spline(spline) => {
                let spline = spline.mapped(map);
                let near = spline.control.iter().all(|(p, _)| self.within(*p));
                let mut points = if near { spline.points(self.tolerance)? } else { return None };
                if spline.closed && points.len() > 2 && points.first() == points.last() {
                    points.pop();
                }
                points.iter().all(|p| self.within(*p)).then_some(Shape::Curve { points, closed: spline.closed })
            }
            Raw::Path { vertices, closed } => self.path(vertices, *closed, map),
            Raw::Insert(_) => None,
        }
    }

    fn ellipse(&self, ellipse: &Ellipse) -> Option<Shape> {
        let reach = [ellipse.u, ellipse.v].iter().map(|v| v.x.abs().max(v.y.abs())).sum::<f64>();
        let far = point(ellipse.centre.x.abs() + reach, ellipse.centre.y.abs() + reach);
        let shape = || Shape::Curve { points: ellipse.points(self.tolerance), closed: ellipse.is_closed() };
        self.within(far).then(shape)
    }

    /// A path stays one, with its arcs, unless an unequal scale makes them elliptic.
    fn path(&self, vertices: &[Vertex], closed: bool, map: &Affine) -> Option<Shape> {
        let sign = if map.mirrors() { -1.0 } else { 1.0 };
        let image = |v: &Vertex| Vertex { at: map.map(v.at), bulge: v.bulge * sign };
        let mapped: Vec<Vertex> = vertices.iter().map(image).collect();
        let next = |i: usize, list: &[Vertex]| list.get(i + 1).or(list.first().filter(|_| closed)).map(|v| v.at);
        for (i, v) in mapped.iter().enumerate() {
            // An arc's highest point is half the chord times the bulge away from it.
            let rise = next(i, &mapped).map_or(0.0, |n| distance(v.at, n) * v.bulge.abs() / 2.0);
            if !self.within(v.at) || rise.is_nan() || rise > self.limit {
                return None;
            }
        }
        if map.scale().is_some() || mapped.iter().all(|v| v.bulge == 0.0) {
            return Some(Shape::Path { vertices: mapped, closed });
        }
        let mut points = Vec::with_capacity(mapped.len());
        for (i, v) in vertices.iter().enumerate() {
            let Some(to) = next(i, vertices) else {
                points.push(map.map(v.at));
                break;
            };
            if v.bulge == 0.0 {
                points.push(map.map(v.at));
                continue;
            }
            let mut arc = Ellipse::of_bulge(v.at, to, v.bulge).mapped(map).points(self.tolerance);
            arc.pop();
            points.extend(arc);
        }
        Some(Shape::Curve { points, closed })
    }
}
