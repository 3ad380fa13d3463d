//! Records of the symbol tables and blocks (DXF reference, "TABLES section" and "BLOCKS section").

use super::{Handle, Handles, Mark, Tags};
use crate::base::{Point, Unit};
use crate::cad::Version;

/// Kind in the XDATA of table records and blocks.
const RECORD: &str = "record";

/// A table record of ours: its name, to be compared with the file's own ones, and its bytes.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Record {
    /// Name.
    pub name: String,
    /// Bytes.
    pub bytes: Vec<u8>,
}

/// Head and name of a table record.
fn begin(tags: &mut Tags<'_>, kind: &str, own: Handle, table: Handle, subclass: &str, name: &str) {
    // R12 gives handles to entities only.
    if tags.target().has_subclasses() {
        tags.record(kind, own, table);
    } else {
        tags.text(0, kind);
    }
    tags.subclass("AcDbSymbolTableRecord");
    tags.subclass(subclass);
    tags.name(2, name);
}

/// Our XDATA; the records that every drawing has carry none.
fn end(tags: &mut Tags<'_>, name: &str, ours: bool) {
    if ours {
        tags.mark(Mark { kind: RECORD, id: name, facts: &[] });
    }
}

/// APPID.
pub fn app_id(tags: &mut Tags<'_>, handles: &mut Handles, table: Handle, name: &str) {
    begin(tags, "APPID", handles.take(), table, "AcDbRegAppTableRecord", name);
    tags.int(70, 0);
}

/// A line type.
#[derive(Debug, Clone, Copy)]
pub struct LinetypeRecord<'a> {
    /// Name.
    pub name: &'a str,
    /// What it looks like.
    pub description: &'a str,
    /// Dashes (positive) and spaces (negative) in drawing units.
    pub pattern: &'a [f64],
    /// Of our own.
    pub ours: bool,
}

/// LTYPE.
pub fn linetype(tags: &mut Tags<'_>, handles: &mut Handles, table: Handle, record: &LinetypeRecord<'_>) {
    begin(tags, "LTYPE", handles.take(), table, "AcDbLinetypeTableRecord", record.name);
    tags.int(70, 0);
    tags.text(3, record.description);
    // Alignment: always the letter A.
    tags.int(72, i64::from(b'A'));
    tags.int(73, i64::try_from(record.pattern.len()).unwrap_or(0));
    tags.real(40, record.pattern.iter().map(|dash| dash.abs()).sum());
    for dash in record.pattern {
        tags.real(49, *dash);
        if tags.target().has_subclasses() {
            // A plain dash, no shape or text in it.
            tags.int(74, 0);
        }
    }
    end(tags, record.name, record.ours);
}

/// A layer.
#[derive(Debug, Clone, Copy)]
pub struct LayerRecord<'a> {
    /// Name.
    pub name: &'a str,
    /// Colour index.
    pub colour: i16,
    /// Line type.
    pub linetype: &'a str,
    /// Pen in hundredths of a millimetre; -3 is the default.
    pub pen: i16,
    /// Whether it comes onto paper.
    pub is_plotted: bool,
    /// Plot style of the drawing's layers, if it has any.
    pub plot_style: Option<Handle>,
    /// Of our own.
    pub ours: bool,
}

/// LAYER.
pub fn layer(tags: &mut Tags<'_>, handles: &mut Handles, table: Handle, record: &LayerRecord<'_>) {
    begin(tags, "LAYER", handles.take(), table, "AcDbLayerTableRecord", record.name);
    tags.int(70, 0);
    tags.int(62, i64::from(record.colour));
    tags.name(6, record.linetype);
    if tags.target().has_owners() {
        if !record.is_plotted {
            tags.int(290, 0);
        }
        tags.int(370, i64::from(record.pen));
        if let Some(plot_style) = record.plot_style {
            tags.handle(390, plot_style);
        }
    }
    end(tags, record.name, record.ours);
}

/// STYLE: a text style by its font file. Gives its handle.
pub fn style(
    tags: &mut Tags<'_>,
    handles: &mut Handles,
    table: Handle,
    (name, font): (&str, &str),
    ours: bool,
) -> Handle {
    let own = handles.take();
    begin(tags, "STYLE", own, table, "AcDbTextStyleTableRecord", name);
    tags.int(70, 0);
    // No fixed height, natural width, upright, not mirrored; the last height used is only a hint.
    tags.real(40, 0.0);
    tags.real(41, 1.0);
    tags.real(50, 0.0);
    tags.int(71, 0);
    tags.real(42, 1.0);
    tags.text(3, font);
    tags.text(4, "");
    end(tags, name, ours);
    own
}

/// A dimension style.
#[derive(Debug, Clone, Copy)]
pub struct DimensionStyleRecord<'a> {
    /// Name.
    pub name: &'a str,
    /// Text height in drawing units; all else follows it.
    pub height: f64,
    /// Unit of the space, which decides how measured lengths are shown.
    pub unit: Unit,
    /// True lengths of the lengths in that space: 1 in model space, the scale in a drawing on paper.
    pub scale: f64,
    /// Its text style.
    pub text_style: Handle,
    /// Of our own.
    pub ours: bool,
}

/// A dimension variable's value.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Variable {
    /// A real number.
    Real(f64),
    /// A whole number.
    Int(i64),
}

impl Variable {
    /// Writes it with this code.
    pub fn write(self, tags: &mut Tags<'_>, code: u16) {
        match self {
            Self::Real(value) => tags.real(code, value),
            Self::Int(value) => tags.int(code, value),
        }
    }
}

impl DimensionStyleRecord<'_> {
    /// Its variables by their names in the header and their codes in a DIMSTYLE, as far as the version has them: feet
    /// and inches where the trade works in them, else millimetres.
    pub fn variables(&self, version: Version) -> Vec<(&'static str, u16, Variable)> {
        use Variable::{Int, Real};
        let imperial = self.unit.is_imperial();
        let base = if imperial { Unit::Inch } else { Unit::Millimetre };
        let (height, half) = (self.height, self.height / 2.0);
        let mut variables = vec![
            // All sizes are final drawing units: arrow, offset and overshoot of extension lines, distance of rows.
            ("$DIMSCALE", 40, Real(1.0)),
            ("$DIMASZ", 41, Real(height)),
            ("$DIMEXO", 42, Real(half)),
            ("$DIMDLI", 43, Real(height * 2.0)),
            ("$DIMEXE", 44, Real(half)),
            ("$DIMTXT", 140, Real(height)),
            // Oblique ticks instead of arrows.
            ("$DIMTSZ", 142, Real(half)),
            // Drawing units to true inches or millimetres.
            ("$DIMLFAC", 144, Real(self.scale * self.unit.millimetres() / base.millimetres())),
            ("$DIMGAP", 147, Real(half)),
            // Text along the dimension line and above it.
            ("$DIMTIH", 73, Int(0)),
            ("$DIMTOH", 74, Int(0)),
            ("$DIMTAD", 77, Int(1)),
            // The line runs from tick to tick even if the text stands outside; all in the layer's colour.
            ("$DIMTOFL", 172, Int(1)),
            ("$DIMCLRD", 176, Int(0)),
            ("$DIMCLRE", 177, Int(0)),
            ("$DIMCLRT", 178, Int(0)),
            // 3 keeps zero inches and drops zero feet, 8 drops zeros at the end.
            ("$DIMZIN", 78, Int(if imperial { 3 } else { 8 })),
        ];
        if version >= Version::R13 {
            // Sixteenths (2^4), or tenths.
            variables.push(("$DIMDEC", 271, Int(if imperial { 4 } else { 1 })));
        }
        if version >= Version::R2000 {
            // Fractions on one line; architectural or decimal.
            variables.push(("$DIMFRAC", 276, Int(2)));
            variables.push(("$DIMLUNIT", 277, Int(if imperial { 4 } else { 2 })));
            // A point before tenths, as in our texts; pens of the layer.
            variables.push(("$DIMDSEP", 278, Int(i64::from(b'.'))));
            variables.push(("$DIMLWD", 371, Int(-2)));
            variables.push(("$DIMLWE", 372, Int(-2)));
        }
        variables
    }
}

/// DIMSTYLE.
pub fn dimension_style(tags: &mut Tags<'_>, handles: &mut Handles, table: Handle, record: &DimensionStyleRecord<'_>) {
    begin(tags, "DIMSTYLE", handles.take(), table, "AcDbDimStyleTableRecord", record.name);
    tags.int(70, 0);
    let version = tags.target().version;
    for (_, code, value) in record.variables(version) {
        value.write(tags, code);
    }
    if version >= Version::R2000 {
        tags.handle(340, record.text_style);
    }
    end(tags, record.name, record.ours);
}

/// A block record's own handle and name.
#[derive(Debug, Clone, Copy)]
pub struct BlockName<'a> {
    /// Handle of the `BLOCK_RECORD`.
    pub record: Handle,
    /// Name.
    pub name: &'a str,
    /// Of our own.
    pub ours: bool,
}

/// `BLOCK_RECORD`; `layout` is none but for the spaces, `unit` what the block is drawn in.
pub fn block_record(tags: &mut Tags<'_>, table: Handle, block: &BlockName<'_>, layout: Handle, unit: Unit) {
    begin(tags, "BLOCK_RECORD", block.record, table, "AcDbBlockTableRecord", block.name);
    if tags.target().has_owners() {
        tags.handle(340, layout);
    }
    if tags.target().version >= Version::R2007 {
        tags.int(70, i64::from(unit.insunits()));
        // May be exploded; need not be scaled evenly.
        tags.int(280, 1);
        tags.int(281, 0);
    }
    end(tags, block.name, block.ours);
}

/// Bits of group 70 of a BLOCK.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum BlockKind {
    /// Plain.
    Plain,
    /// Made for one dimension, without a name of its own.
    Anonymous,
    /// With attribute definitions.
    WithAttributes,
}

/// BLOCK, contents and ENDBLK.
pub fn block(
    tags: &mut Tags<'_>,
    handles: &mut Handles,
    block: &BlockName<'_>,
    kind: BlockKind,
    contents: impl FnOnce(&mut Tags<'_>, &mut Handles),
) {
    let head = |tags: &mut Tags<'_>, handles: &mut Handles, kind: &str, subclass: &str| {
        let own = handles.take();
        if tags.target().has_subclasses() {
            tags.record(kind, own, block.record);
        } else {
            tags.text(0, kind);
        }
        tags.subclass("AcDbEntity");
        tags.text(8, "0");
        tags.subclass(subclass);
    };
    head(tags, handles, "BLOCK", "AcDbBlockBegin");
    tags.name(2, block.name);
    tags.int(
        70,
        match kind {
            BlockKind::Plain => 0,
            BlockKind::Anonymous => 1,
            BlockKind::WithAttributes => 2,
        },
    );
    tags.point(10, Point::default());
    tags.name(3, block.name);
    tags.text(1, "");
    end(tags, block.name, block.ours);
    contents(tags, handles);
    head(tags, handles, "ENDBLK", "AcDbBlockEnd");
}
