//! Entities of the `dxf` crate -> our geometry, flat in the plan, in drawing units.

use std::f64::consts::TAU;
use std::mem::take;

use dxf::entities::{Entity, EntityType};
use dxf::enums::{HorizontalTextJustification as Across, VerticalTextJustification as Up};

use super::affine::Affine;
use super::curve::{Ellipse, Spline};
use super::{Vertex, text};
use crate::base::{Angle, Point, plane};

/// Highest degree of a spline; CAD programs draw at most 25.
const HIGHEST_DEGREE: usize = 25;

/// Bytes of text that weigh as much as one point.
pub const POINT_BYTES: usize = size_of::<Point>();

/// Geometry of a record in its own space: the model, or its block.
#[derive(Debug, Clone, PartialEq)]
pub enum Raw {
    /// Straight and bulged stretches.
    Path {
        /// Vertices.
        vertices: Vec<Vertex>,
        /// Whether the last joins the first.
        closed: bool,
    },
    /// Circle.
    Circle {
        /// Centre.
        centre: Point,
        /// Radius.
        radius: f64,
    },
    /// Point.
    Point(Point),
    /// Text.
    Text {
        /// Insertion point.
        at: Point,
        /// Content.
        content: String,
    },
    /// Ellipse or a part of one.
    Ellipse(Ellipse),
    /// Spline.
    Spline(Spline),
    /// Block reference.
    Insert(Box<Placement>),
}

impl Raw {
    /// Roughly how many points' worth of memory it takes.
    pub const fn weight(&self) -> usize {
        match self {
            Self::Path { vertices, .. } => vertices.len(),
            Self::Spline(spline) => spline.control.len(),
            Self::Text { content, .. } => 1 + content.len() / POINT_BYTES,
            Self::Circle { .. } | Self::Point(_) | Self::Ellipse(_) | Self::Insert(_) => 1,
        }
    }
}

/// A block reference.
#[derive(Debug, Clone, PartialEq)]
pub struct Placement {
    /// From the block's coordinates, base point already at the origin, to those of the reference, first of an array.
    pub map: Affine,
    /// Columns and rows.
    pub counts: [u32; 2],
    /// From one column and from one row to the next.
    pub steps: [Point; 2],
    /// Scale along z, negative when it is placed upside down.
    pub upward: f64,
    /// Attribute tags and values.
    pub attributes: Vec<(String, String)>,
}

/// Why an entity cannot be taken.
#[derive(Debug, Clone, PartialEq)]
pub enum Fault {
    /// Damaged.
    Bad(String),
    /// Tilted out of the plan.
    NotInPlan,
    /// Of a sort that is not read.
    NotRead(&'static str),
}

fn bad<T>(what: &str) -> Result<T, Fault> {
    Err(Fault::Bad(what.to_owned()))
}

/// The plane of an entity whose normal is along z (DXF reference, object coordinate systems).
fn plane_of(normal: &dxf::Vector) -> Result<Affine, Fault> {
    if normal.x.abs().max(normal.y.abs()) > 1e-9 * normal.z.abs() {
        return Err(Fault::NotInPlan);
    }
    match normal.z {
        z if z > 0.0 => Ok(Affine::IDENTITY),
        z if z < 0.0 => Ok(Affine::MIRRORED),
        _ => bad("its normal has no direction"),
    }
}

const fn flat(p: &dxf::Point) -> Point {
    plane::point(p.x, p.y)
}

/// Heights of an entity in its own space.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Heights {
    /// Lowest and highest z.
    pub range: [f64; 2],
    /// z of the first and the last vertex.
    pub ends: [f64; 2],
}

impl Heights {
    const fn level(z: f64) -> Self {
        Self { range: [z; 2], ends: [z; 2] }
    }

    /// The same, each z moved by `map`; `None` where one of them is no number then.
    pub fn mapped(self, map: impl Fn(f64) -> f64) -> Option<Self> {
        let ([a, b], ends) = (self.range.map(&map), self.ends.map(&map));
        let out = Self { range: [a.min(b), a.max(b)], ends };
        out.range.iter().chain(&out.ends).all(|z| z.is_finite()).then_some(out)
    }
}

/// Heights of an entity whose plane is level, and of one that is spatial; for an INSERT the z of its block's zero; texts
/// and splines are not asked.
pub fn heights(entity: &Entity) -> Option<Heights> {
    // What stands in object coordinates is upside down where the normal points down.
    let level = |z: f64, normal: &dxf::Vector| Some(Heights::level(z * normal.z.signum()));
    match &entity.specific {
        EntityType::Line(e) => {
            Some(Heights { range: [e.p1.z.min(e.p2.z), e.p1.z.max(e.p2.z)], ends: [e.p1.z, e.p2.z] })
        }
        EntityType::ModelPoint(e) => Some(Heights::level(e.location.z)),
        EntityType::Circle(e) => level(e.center.z, &e.normal),
        EntityType::Arc(e) => level(e.center.z, &e.normal),
        EntityType::Ellipse(e) => Some(Heights::level(e.center.z)),
        EntityType::LwPolyline(e) => level(entity.common.elevation, &e.extrusion_direction),
        EntityType::Polyline(e) if e.flags & 8 != 0 => {
            let all = || e.vertices().map(|v| v.location.z);
            Some(Heights {
                range: [all().reduce(f64::min)?, all().reduce(f64::max)?],
                ends: [all().next()?, all().last()?],
            })
        }
        EntityType::Polyline(e) => level(e.location.z, &e.normal),
        EntityType::Insert(e) => level(e.location.z, &e.extrusion_direction),
        _ => None,
    }
}

/// Converts one entity; takes its vertices and texts out of it.
pub fn convert(entity: &mut Entity) -> Result<Raw, Fault> {
    match &mut entity.specific {
        EntityType::Line(e) => Ok(path([flat(&e.p1), flat(&e.p2)], false)),
        EntityType::ModelPoint(e) => Ok(Raw::Point(flat(&e.location))),
        EntityType::Circle(e) if e.radius > 0.0 => {
            let centre = plane_of(&e.normal)?.map(flat(&e.center));
            Ok(Raw::Circle { centre, radius: e.radius })
        }
        EntityType::Arc(e) if e.radius > 0.0 => arc(e),
        EntityType::Circle(_) | EntityType::Arc(_) => bad("its radius is not positive"),
        EntityType::Ellipse(e) => ellipse(e),
        EntityType::Spline(e) => spline(e),
        EntityType::LwPolyline(e) => {
            let map = plane_of(&e.extrusion_direction)?;
            let corners = take(&mut e.vertices);
            let vertices = corners.iter().map(|v| (plane::point(v.x, v.y), v.bulge));
            polyline(vertices, e.flags & 1 != 0, &map)
        }
        EntityType::Polyline(e) => old_polyline(e),
        EntityType::Text(e) => {
            let plain =
                (e.horizontal_text_justification, e.vertical_text_justification) == (Across::Left, Up::Baseline);
            // Texts that are not left on the base line hang on their second point, except when fitted between two.
            let fitted = matches!(e.horizontal_text_justification, Across::Aligned | Across::Fit);
            let at = if plain || fitted { &e.location } else { &e.second_alignment_point };
            let at = plane_of(&e.normal)?.map(flat(at));
            Ok(Raw::Text { at, content: text::plain(&e.value) })
        }
        EntityType::MText(e) => {
            let mut content = e.extended_text.concat();
            content.push_str(&e.text);
            Ok(Raw::Text { at: flat(&e.insertion_point), content: text::mtext_plain(&content) })
        }
        EntityType::Insert(e) => insert(e),
        _ => bad("it is of another kind than its name says"),
    }
}

fn path<const N: usize>(points: [Point; N], closed: bool) -> Raw {
    Raw::Path { vertices: points.map(|at| Vertex { at, bulge: 0.0 }).to_vec(), closed }
}

fn polyline(vertices: impl Iterator<Item = (Point, f64)>, closed: bool, map: &Affine) -> Result<Raw, Fault> {
    let sign = if map.mirrors() { -1.0 } else { 1.0 };
    let vertices: Vec<Vertex> = vertices.map(|(p, b)| Vertex { at: map.map(p), bulge: b * sign }).collect();
    if vertices.len() < 2 {
        return bad("it has fewer than two vertices");
    }
    Ok(Raw::Path { vertices, closed })
}

/// An ARC goes counter-clockwise in its own plane; over 180 degrees it becomes two stretches, a whole turn closes.
fn arc(e: &dxf::entities::Arc) -> Result<Raw, Fault> {
    let map = plane_of(&e.normal)?;
    let turn = (e.end_angle - e.start_angle).rem_euclid(360.0);
    let sweep = if turn == 0.0 { 360.0 } else { turn };
    let stretches = if sweep > 180.0 { 2.0 } else { 1.0 };
    let bulge = Angle::from_degrees(sweep / stretches / 4.0).tan();
    let corner = |part: f64| {
        let angle = Angle::from_degrees(e.start_angle + sweep * part);
        (flat(&e.center) + plane::direction(angle) * e.radius, bulge)
    };
    let mut corners = vec![corner(0.0)];
    if stretches > 1.0 {
        corners.push(corner(0.5));
    }
    if sweep < 360.0 {
        let end = corner(1.0).0;
        corners.push((end, 0.0));
    }
    polyline(corners.into_iter(), sweep >= 360.0, &map)
}

/// An ELLIPSE stands in world coordinates; its minor axis is the normal times the major axis.
fn ellipse(e: &dxf::entities::Ellipse) -> Result<Raw, Fault> {
    let mirrored = plane_of(&e.normal)?.mirrors();
    let u = plane::point(e.major_axis.x, e.major_axis.y);
    if e.major_axis.z.abs() > 1e-9 * plane::norm(u) {
        return Err(Fault::NotInPlan);
    }
    if plane::norm(u) == 0.0 || e.minor_axis_ratio == 0.0 {
        return bad("an axis has no length");
    }
    let v = if mirrored { plane::right(u) } else { plane::left(u) } * e.minor_axis_ratio;
    let turn = (e.end_parameter - e.start_parameter).rem_euclid(TAU);
    // Whole ellipses are written as 0 to 6.28318530718, rounded up or down.
    let sweep = if turn < 1e-9 || TAU - turn < 1e-9 { TAU } else { turn };
    Ok(Raw::Ellipse(Ellipse { centre: flat(&e.center), u, v, from: e.start_parameter, sweep }))
}

fn spline(e: &mut dxf::entities::Spline) -> Result<Raw, Fault> {
    if e.control_points.is_empty() && e.fit_points.len() >= 2 {
        return Err(Fault::NotRead("with fit points only"));
    }
    let degree = usize::try_from(e.degree_of_curve).unwrap_or(0);
    if !(1..=HIGHEST_DEGREE).contains(&degree) {
        return bad("its degree is out of range");
    }
    let count = e.control_points.len();
    let weighted = e.weight_values.len() == count;
    if !weighted && !e.weight_values.is_empty() {
        return bad("its weights and control points differ in number");
    }
    if e.weight_values.iter().any(|w| *w <= 0.0) {
        return bad("a weight is not positive");
    }
    if count <= degree || e.knot_values.len() != count + degree + 1 {
        return bad("its knots, degree and control points do not fit together");
    }
    if e.knot_values.is_sorted() {
        let weights = e.weight_values.iter().copied().chain(std::iter::repeat(1.0));
        let control = e.control_points.iter().map(flat).zip(weights).collect();
        return Ok(Raw::Spline(Spline { degree, knots: take(&mut e.knot_values), control, closed: e.flags & 1 != 0 }));
    }
    bad("its knots fall")
}

/// POLYLINE: flags 8 a 3D polyline, 16 a mesh, 64 a polyface; vertices with flag 16 only frame a fitted spline.
fn old_polyline(e: &mut dxf::entities::Polyline) -> Result<Raw, Fault> {
    if e.flags & (16 | 64) != 0 {
        return Err(Fault::NotRead("that is a mesh"));
    }
    // A 3D polyline stands in world coordinates and has no bulges.
    let spatial = e.flags & 8 != 0;
    let map = if spatial { Affine::IDENTITY } else { plane_of(&e.normal)? };
    let corners = e.vertices().filter(|v| v.flags & 16 == 0);
    polyline(corners.map(|v| (flat(&v.location), if spatial { 0.0 } else { v.bulge })), e.flags & 1 != 0, &map)
}

fn insert(e: &dxf::entities::Insert) -> Result<Raw, Fault> {
    let plane = plane_of(&e.extrusion_direction)?;
    if e.x_scale_factor == 0.0 || e.y_scale_factor == 0.0 {
        return bad("its scale is zero");
    }
    let x = plane::direction(Angle::from_degrees(e.rotation));
    let turn = Affine { x, y: plane::left(x), origin: flat(&e.location) };
    let scale = Affine {
        x: plane::point(e.x_scale_factor, 0.0),
        y: plane::point(0.0, e.y_scale_factor),
        origin: plane::point(0.0, 0.0),
    };
    let map = plane.after(&turn);
    let count = |n: i16| u32::try_from(n).unwrap_or(1).max(1);
    let attributes = e.attributes().map(|a| (text::plain(&a.attribute_tag), text::plain(&a.value))).collect();
    Ok(Raw::Insert(Box::new(Placement {
        map: map.after(&scale),
        counts: [count(e.column_count), count(e.row_count)],
        steps: [map.turn(plane::point(e.column_spacing, 0.0)), map.turn(plane::point(0.0, e.row_spacing))],
        upward: e.z_scale_factor * e.extrusion_direction.z.signum(),
        attributes,
    })))
}
