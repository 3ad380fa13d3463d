//! Records of the entities that we write, in drawing units (DXF reference, "ENTITIES section").

use super::{Handle, Handles, Mark, Tags, text};
use crate::base::{Angle, Point};
use crate::cad::Version;
use crate::sheet::{Align, Anchor, VAlign};

/// What every entity has.
#[derive(Debug, Clone, Copy)]
pub struct Common<'a> {
    /// Block record of the space or block that it stands in.
    pub owner: Handle,
    /// Whether that is a paper space.
    pub in_paper: bool,
    /// Layer.
    pub layer: &'a str,
    /// Line type, where it differs from the layer's.
    pub linetype: Option<&'a str>,
    /// Its pattern's scale beside the drawing's.
    pub linetype_scale: f64,
    /// Our XDATA; entities inside our blocks have none, since their block has.
    pub mark: Option<Mark<'a>>,
}

impl<'a> Common<'a> {
    /// An entity in a block; on layer 0 it looks like the reference to the block.
    pub const fn inside(block: Handle, layer: &'a str) -> Self {
        Self { owner: block, in_paper: false, layer, linetype: None, linetype_scale: 1.0, mark: None }
    }

    /// What belongs to the entity with this handle: its vertices, attributes and end.
    const fn part_of(&self, head: Handle) -> Self {
        Common { owner: head, mark: None, linetype: None, linetype_scale: 1.0, ..*self }
    }

    pub(super) fn head(&self, tags: &mut Tags<'_>, kind: &str, own: Handle) {
        tags.record(kind, own, self.owner);
        tags.subclass("AcDbEntity");
        if self.in_paper {
            tags.int(67, 1);
        }
        tags.name(8, self.layer);
        if let Some(linetype) = self.linetype {
            tags.name(6, linetype);
        }
        if (self.linetype_scale - 1.0).abs() > 1e-9 && tags.target().version >= Version::R13 {
            tags.real(48, self.linetype_scale);
        }
    }

    pub(super) fn tail(&self, tags: &mut Tags<'_>) {
        if let Some(mark) = self.mark {
            tags.mark(mark);
        }
    }
}

/// Degrees in `[0, 360)`, as arcs and rotations want them.
pub(super) fn degrees(angle: Angle) -> f64 {
    let turned = angle.degrees().rem_euclid(360.0);
    if turned >= 360.0 - 1e-10 { 0.0 } else { turned }
}

/// LINE.
pub fn line(tags: &mut Tags<'_>, handles: &mut Handles, common: &Common<'_>, from: Point, to: Point) {
    common.head(tags, "LINE", handles.take());
    tags.subclass("AcDbLine");
    tags.point(10, from);
    tags.point(11, to);
    common.tail(tags);
}

/// CIRCLE.
pub fn circle(tags: &mut Tags<'_>, handles: &mut Handles, common: &Common<'_>, centre: Point, radius: f64) {
    common.head(tags, "CIRCLE", handles.take());
    tags.subclass("AcDbCircle");
    tags.point(10, centre);
    tags.real(40, radius);
    common.tail(tags);
}

/// A circular arc, counter-clockwise.
#[derive(Debug, Clone, Copy)]
pub struct Arc {
    /// Centre.
    pub centre: Point,
    /// Radius.
    pub radius: f64,
    /// Start direction.
    pub from: Angle,
    /// End direction.
    pub to: Angle,
}

/// ARC.
pub fn arc(tags: &mut Tags<'_>, handles: &mut Handles, common: &Common<'_>, arc: &Arc) {
    common.head(tags, "ARC", handles.take());
    tags.subclass("AcDbCircle");
    tags.point(10, arc.centre);
    tags.real(40, arc.radius);
    tags.subclass("AcDbArc");
    tags.real(50, degrees(arc.from));
    tags.real(51, degrees(arc.to));
    common.tail(tags);
}

/// LWPOLYLINE, or POLYLINE before R14.
pub fn path(tags: &mut Tags<'_>, handles: &mut Handles, common: &Common<'_>, points: &[Point], closed: bool) {
    let own = handles.take();
    if tags.target().version >= Version::R14 {
        common.head(tags, "LWPOLYLINE", own);
        tags.subclass("AcDbPolyline");
        tags.int(90, i64::try_from(points.len()).unwrap_or(i64::MAX));
        tags.int(70, i64::from(closed));
        for p in points {
            tags.point_2d(10, *p);
        }
        return common.tail(tags);
    }
    common.head(tags, "POLYLINE", own);
    tags.subclass("AcDb2dPolyline");
    tags.int(66, 1);
    tags.point(10, Point::default());
    tags.int(70, i64::from(closed));
    common.tail(tags);
    let part = common.part_of(own);
    for p in points {
        part.head(tags, "VERTEX", handles.take());
        tags.subclass("AcDbVertex");
        tags.subclass("AcDb2dVertex");
        tags.point(10, *p);
    }
    part.head(tags, "SEQEND", handles.take());
}

/// SOLID: a filled triangle, or a convex quadrilateral in the order of its outline.
pub fn solid(tags: &mut Tags<'_>, handles: &mut Handles, common: &Common<'_>, [a, b, c, d]: [Point; 4]) {
    common.head(tags, "SOLID", handles.take());
    tags.subclass("AcDbTrace");
    // A SOLID is filled in Z order: third and fourth corner change places.
    for (p, code) in [a, b, d, c].into_iter().zip(10..) {
        tags.point(code, p);
    }
    common.tail(tags);
}

/// One line of text.
#[derive(Debug, Clone, Copy)]
pub struct Lettering<'a> {
    /// Insertion point.
    pub at: Point,
    /// Height of capitals.
    pub height: f64,
    /// Direction of the base line.
    pub rotation: Angle,
    /// How it hangs on the insertion point.
    pub anchor: Anchor,
    /// The text.
    pub content: &'a str,
    /// Text style.
    pub style: &'a str,
}

impl Lettering<'_> {
    fn body(&self, tags: &mut Tags<'_>) {
        tags.subclass("AcDbText");
        tags.point(10, self.at);
        tags.real(40, self.height);
        tags.text(1, &text::content(self.content));
        if degrees(self.rotation) > 0.0 {
            tags.real(50, degrees(self.rotation));
        }
        tags.name(7, self.style);
        tags.int(
            72,
            match self.anchor.align {
                Align::Left => 0,
                Align::Centre => 1,
                Align::Right => 2,
            },
        );
        // Where 72 and 73 are not 0, the text hangs on this point and CAD programs compute the first one anew.
        if self.anchor.align != Align::Left || self.anchor.valign != VAlign::Base {
            tags.point(11, self.at);
        }
    }

    fn vertical(&self, tags: &mut Tags<'_>, code: u16) {
        tags.int(
            code,
            match self.anchor.valign {
                VAlign::Base => 0,
                VAlign::Middle => 2,
                VAlign::Top => 3,
            },
        );
    }
}

/// TEXT.
pub fn lettering(tags: &mut Tags<'_>, handles: &mut Handles, common: &Common<'_>, spec: &Lettering<'_>) {
    common.head(tags, "TEXT", handles.take());
    spec.body(tags);
    tags.subclass("AcDbText");
    spec.vertical(tags, 73);
    common.tail(tags);
}

/// Bit of group 70 that hides an attribute.
const INVISIBLE: i64 = 1;

/// ATTDEF: a hidden attribute of a block. Without a prompt a CAD program asks by its name, and Inkscape, which draws the
/// prompts of hidden ones too, draws nothing.
pub fn attribute_definition(
    tags: &mut Tags<'_>,
    handles: &mut Handles,
    common: &Common<'_>,
    tag: &str,
    spec: &Lettering<'_>,
) {
    common.head(tags, "ATTDEF", handles.take());
    spec.body(tags);
    attribute_subclass(tags, "AcDbAttributeDefinition");
    tags.text(3, "");
    tags.text(2, tag);
    tags.int(70, INVISIBLE);
    spec.vertical(tags, 74);
    common.tail(tags);
}

fn attribute_subclass(tags: &mut Tags<'_>, name: &str) {
    tags.subclass(name);
    if tags.target().version >= Version::R2010 {
        // Version of the attribute record.
        tags.int(280, 0);
    }
}

/// A placed block.
#[derive(Debug, Clone, Copy)]
pub struct Reference<'a> {
    /// Block name.
    pub block: &'a str,
    /// Where.
    pub at: Point,
    /// Turn.
    pub rotation: Angle,
    /// Hidden attributes: tag and value, lettered alike.
    pub attributes: &'a [(&'a str, Lettering<'a>)],
}

/// INSERT with its ATTRIBs and SEQEND, which it owns.
pub fn insert(tags: &mut Tags<'_>, handles: &mut Handles, common: &Common<'_>, reference: &Reference<'_>) {
    let own = handles.take();
    common.head(tags, "INSERT", own);
    tags.subclass("AcDbBlockReference");
    if !reference.attributes.is_empty() {
        tags.int(66, 1);
    }
    tags.name(2, reference.block);
    tags.point(10, reference.at);
    if degrees(reference.rotation) > 0.0 {
        tags.real(50, degrees(reference.rotation));
    }
    common.tail(tags);
    if reference.attributes.is_empty() {
        return;
    }
    let part = common.part_of(own);
    for (tag, spec) in reference.attributes {
        part.head(tags, "ATTRIB", handles.take());
        spec.body(tags);
        attribute_subclass(tags, "AcDbAttribute");
        tags.text(2, tag);
        tags.int(70, INVISIBLE);
        spec.vertical(tags, 74);
    }
    part.head(tags, "SEQEND", handles.take());
}

/// A linear dimension whose strokes stand in a block.
#[derive(Debug, Clone, Copy)]
pub struct Linear<'a> {
    /// Block of its strokes.
    pub block: &'a str,
    /// Dimension style.
    pub style: &'a str,
    /// First measured point.
    pub from: Point,
    /// Second measured point.
    pub to: Point,
    /// Where the dimension line meets the second extension line.
    pub line: Point,
    /// Middle of the text.
    pub text_at: Point,
    /// Direction in which it measures.
    pub angle: Angle,
    /// Measured distance.
    pub measured: f64,
    /// Text in place of the measured one.
    pub instead: Option<&'a str>,
}

/// DIMENSION of the rotated kind.
pub fn dimension(tags: &mut Tags<'_>, handles: &mut Handles, common: &Common<'_>, linear: &Linear<'_>) {
    /// The block belongs to this dimension alone (32), and the text stands where we put it (128).
    const OWN_BLOCK_AND_TEXT_PLACE: i64 = 32 + 128;
    common.head(tags, "DIMENSION", handles.take());
    tags.subclass("AcDbDimension");
    tags.text(2, linear.block);
    tags.point(10, linear.line);
    tags.point(11, linear.text_at);
    tags.int(70, OWN_BLOCK_AND_TEXT_PLACE);
    if let Some(instead) = linear.instead {
        tags.text(1, &text::content(instead));
    }
    if tags.target().has_owners() {
        // The text hangs on its middle.
        tags.int(71, 5);
        tags.real(42, linear.measured);
    }
    tags.name(3, linear.style);
    tags.subclass("AcDbAlignedDimension");
    tags.point(13, linear.from);
    tags.point(14, linear.to);
    tags.real(50, degrees(linear.angle));
    tags.subclass("AcDbRotatedDimension");
    common.tail(tags);
}

#[cfg(test)]
mod tests {
    use super::super::{Newline, Target};
    use super::*;
    use crate::base::plane::point;

    fn kinds(version: Version, write: impl Fn(&mut Tags<'_>, &mut Handles)) -> Vec<String> {
        let target = Target::new(version, false, Newline::Lf);
        let mut tags = Tags::new(&target);
        write(&mut tags, &mut Handles::starting_at(1));
        let text = String::from_utf8(tags.into_bytes()).unwrap();
        let lines: Vec<&str> = text.lines().collect();
        lines.chunks(2).filter(|pair| pair[0] == "  0").map(|pair| pair[1].to_owned()).collect()
    }

    #[test]
    fn paths_are_light_from_r14_on() {
        let square = [point(0.0, 0.0), point(1.0, 0.0), point(1.0, 1.0)];
        let write = |tags: &mut Tags<'_>, handles: &mut Handles| {
            path(tags, handles, &Common::inside(Handle(9), "0"), &square, true);
        };
        assert_eq!(kinds(Version::R14, write), ["LWPOLYLINE"]);
        for old in [Version::R12, Version::R13] {
            assert_eq!(kinds(old, write), ["POLYLINE", "VERTEX", "VERTEX", "VERTEX", "SEQEND"]);
        }
    }

    #[test]
    fn turns_are_written_within_one_circle() {
        for (given, written) in [(0.0, 0.0), (-90.0, 270.0), (360.0, 0.0), (-1e-13, 0.0), (725.0, 5.0)] {
            assert!((degrees(Angle::from_degrees(given)) - written).abs() < 1e-9, "{given}");
        }
    }
}
