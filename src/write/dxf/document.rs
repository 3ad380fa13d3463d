//! A complete drawing around our records (DXF reference; each section in its order).

use std::collections::BTreeSet;

use super::layouts::Space;
use super::paper::{self, Sheet};
use super::records::{Records, Taken, Ties, records};
use super::tables::{self, BlockKind, BlockName, DimensionStyleRecord, LayerRecord, LinetypeRecord, Record};
use super::tags::SENTINEL;
use super::{DxfOptions, Handle, Handles, Placed, Tags, Target, layouts};
use crate::base::{Frame, Point, Unit, plane::point};
use crate::cad::Version;
use crate::sheet::{Page, Shape};

/// Handles of everything that a drawing has before anything is drawn.
pub(super) struct Skeleton {
    pub(super) view_ports: Handle,
    pub(super) views: Handle,
    pub(super) coordinate_systems: Handle,
    pub(super) ties: Ties,
    pub(super) root: Handle,
    pub(super) groups: Handle,
    pub(super) layouts: Handle,
    pub(super) model_layout: Handle,
    pub(super) plot_styles: Handle,
    pub(super) plot_style: Handle,
    /// The current paper space, which stays empty; programs expect one.
    current: Space,
    /// Those of the sheets.
    sheets: Vec<Space>,
}

impl Skeleton {
    fn new(handles: &mut Handles, options: &DxfOptions, pages: &[Page], frame: &Frame) -> Self {
        let plot_style = handles.take();
        let (current, sheets) = layouts::spaces(pages, paper::unit(frame), handles);
        Self {
            view_ports: handles.take(),
            views: handles.take(),
            coordinate_systems: handles.take(),
            ties: Ties {
                app_ids: handles.take(),
                linetypes: handles.take(),
                layers: handles.take(),
                styles: handles.take(),
                dimension_styles: handles.take(),
                block_records: handles.take(),
                model_space: handles.take(),
                plot_style: Some(plot_style),
                layer_names: options.layer_names.clone(),
                layers_there: BTreeSet::new(),
                taken: Taken::default(),
                first_dimension: 1,
                linetype_scale: 1.0,
            },
            root: handles.take(),
            groups: handles.take(),
            layouts: handles.take(),
            model_layout: handles.take(),
            plot_styles: handles.take(),
            plot_style,
            current,
            sheets,
        }
    }

    /// All paper spaces in the order of their tabs: each sheet's, then the empty one.
    pub(super) fn papers(&self) -> impl Iterator<Item = &Space> {
        self.sheets.iter().chain([&self.current])
    }

    /// Model and paper spaces, with their layouts.
    fn spaces(&self) -> Vec<(BlockName<'_>, Handle)> {
        let space = |record, name| BlockName { record, name, ours: false };
        let model = (space(self.ties.model_space, "*Model_Space"), self.model_layout);
        let papers = self.papers().map(|paper| (space(paper.record, &paper.block), paper.layout));
        std::iter::once(model).chain(papers).collect()
    }
}

/// Whether drawings of a version have sheets: before R2000 there is one paper space at most, and no page set-up.
pub fn has_sheets(version: Version) -> bool {
    version >= Version::R2000
}

/// A complete drawing, with `pages` as sheets where its version has them.
pub(super) fn document(drawings: &[Placed<'_>], pages: &[Page], frame: &Frame, options: &DxfOptions) -> Vec<u8> {
    let target = Target::new(options.version, options.binary, options.newline);
    let mut handles = Handles::starting_at(1);
    let pages = if has_sheets(options.version) { pages } else { &[] };
    let skeleton = Skeleton::new(&mut handles, options, pages, frame);
    let sheets: Vec<Sheet<'_>> =
        pages.iter().zip(&skeleton.sheets).map(|(page, space)| Sheet { page, space: space.record }).collect();
    let ours = records(drawings, &sheets, frame, &target, &skeleton.ties, &mut handles);
    let facts = Facts { frame, extents: extents(drawings, frame), dimension: dimension_height(drawings, frame) };

    // The header tells the first unused handle, so it is written when all others are.
    let mut body = Tags::new(&target);
    if target.has_owners() {
        section(&mut body, "CLASSES", |tags| layouts::classes(tags, skeleton.spaces().len()));
    }
    section(&mut body, "TABLES", |tags| tables(tags, &mut handles, &skeleton, &ours, &facts));
    section(&mut body, "BLOCKS", |tags| blocks(tags, &mut handles, &skeleton, &ours));
    section(&mut body, "ENTITIES", |tags| tags.raw(&ours.entities));
    if target.has_subclasses() {
        section(&mut body, "OBJECTS", |tags| layouts::objects(tags, &skeleton, &ours));
    }
    body.text(0, "EOF");

    let mut file = Tags::new(&target);
    if target.binary {
        file.raw(SENTINEL);
    }
    section(&mut file, "HEADER", |tags| header(tags, &skeleton, &ours, &facts, handles.seed()));
    file.raw(&body.into_bytes());
    file.into_bytes()
}

/// A section with its head and end.
pub(in crate::write) fn section(tags: &mut Tags<'_>, name: &str, contents: impl FnOnce(&mut Tags<'_>)) {
    tags.text(0, "SECTION");
    tags.text(2, name);
    contents(tags);
    tags.text(0, "ENDSEC");
}

type Extents = (Point, Point);

/// What header and tables say about the whole drawing.
struct Facts<'a> {
    frame: &'a Frame,
    extents: Extents,
    /// Text height of the dimensions, if there are any.
    dimension: Option<f64>,
}

impl Facts<'_> {
    /// Height of dimension texts where there are none: 2.5 mm on paper at full scale.
    const PLAIN_MM: f64 = 2.5;

    fn dimension_style<'n>(&self, name: &'n str, text_style: Handle) -> DimensionStyleRecord<'n> {
        let unit = self.frame.unit;
        let height = self.dimension.unwrap_or(Self::PLAIN_MM / unit.millimetres());
        DimensionStyleRecord { name, height, unit, scale: 1.0, text_style, ours: false }
    }
}

/// Text height of the first dimension, whose style is the current one.
fn dimension_height(drawings: &[Placed<'_>], frame: &Frame) -> Option<f64> {
    drawings.iter().flat_map(|placed| &placed.drawing.items).find_map(|item| match &item.shape {
        Shape::Dimension(dimension) => Some(dimension.height / frame.unit.millimetres()),
        _ => None,
    })
}

/// Corners of everything drawn, in drawing units; a unit square where nothing is.
fn extents(drawings: &[Placed<'_>], frame: &Frame) -> Extents {
    let corners = drawings.iter().flat_map(|p| [p.drawing.low + p.at, p.drawing.high + p.at]);
    let corners = corners.map(|corner| frame.to_drawing(corner));
    let both = corners.fold(None, |both: Option<Extents>, c| {
        let (low, high) = both.unwrap_or((c, c));
        Some((point(low.x.min(c.x), low.y.min(c.y)), point(high.x.max(c.x), high.y.max(c.y))))
    });
    both.unwrap_or((point(0.0, 0.0), point(1.0, 1.0)))
}

fn header(tags: &mut Tags<'_>, skeleton: &Skeleton, ours: &Records, facts: &Facts<'_>, seed: Handle) {
    let Facts { frame, extents: (low, high), .. } = *facts;
    let variable = |tags: &mut Tags<'_>, name: &str| tags.text(9, name);
    let version = tags.target().version;
    variable(tags, "$ACADVER");
    tags.text(1, &version.acadver());
    variable(tags, "$DWGCODEPAGE");
    tags.text(3, "ANSI_1252");
    variable(tags, "$INSBASE");
    tags.point(10, Point::default());
    variable(tags, "$EXTMIN");
    tags.point(10, low);
    variable(tags, "$EXTMAX");
    tags.point(10, high);
    variable(tags, "$LIMMIN");
    tags.point_2d(10, low);
    variable(tags, "$LIMMAX");
    tags.point_2d(10, high);
    variable(tags, "$LTSCALE");
    tags.real(40, 1.0);
    variable(tags, "$TEXTSTYLE");
    tags.name(7, "Standard");
    // What is drawn next: texts as high as those of the dimensions, colour and line type by layer.
    variable(tags, "$TEXTSIZE");
    tags.real(40, facts.dimension_style("", Handle::default()).height);
    variable(tags, "$CLAYER");
    tags.text(8, "0");
    variable(tags, "$CELTYPE");
    tags.name(6, "ByLayer");
    variable(tags, "$CECOLOR");
    tags.int(62, 256);
    variable(tags, "$DIMSTYLE");
    let style = ours.dimension_styles.first().map_or("Standard", |style| &style.name);
    tags.name(2, style);
    // A current value that differs from its style's would count as the user's override.
    for (name, _, value) in facts.dimension_style(style, Handle::default()).variables(version) {
        variable(tags, name);
        value.write(tags, if matches!(value, tables::Variable::Real(_)) { 40 } else { 70 });
    }
    variable(tags, "$LUNITS");
    // Architectural display takes a drawing unit for an inch.
    tags.int(70, if frame.unit == Unit::Inch { 4 } else { 2 });
    variable(tags, "$LUPREC");
    tags.int(70, 4);
    if version < Version::R13 {
        variable(tags, "$HANDLING");
        tags.int(70, 1);
    }
    variable(tags, "$HANDSEED");
    tags.handle(5, seed);
    // R12 has no variables for units: its programs refuse what they do not know. So it can tell no paper size either.
    if tags.target().has_owners() {
        later_header(tags, skeleton, frame.unit);
    }
}

/// What the header says from R2000 on.
fn later_header(tags: &mut Tags<'_>, skeleton: &Skeleton, unit: Unit) {
    let size = skeleton.current.size;
    for (name, corner) in [("$PLIMMIN", Point::default()), ("$PLIMMAX", size)] {
        tags.text(9, name);
        tags.point_2d(10, corner);
    }
    for (name, corner) in [("$PEXTMIN", Point::default()), ("$PEXTMAX", size)] {
        tags.text(9, name);
        tags.point(10, corner);
    }
    let numbers = [
        ("$INSUNITS", 70, i64::from(unit.insunits())),
        ("$MEASUREMENT", 70, i64::from(!unit.is_imperial())),
        // The model space is in front.
        ("$TILEMODE", 70, 1),
        // Dashes keep their true length in each space: a window then shows them as long as the paper has them.
        ("$PSLTSCALE", 70, 0),
        // Pens are shown; they are chosen by colour or by layer, not by named style.
        ("$LWDISPLAY", 290, 1),
        ("$PSTYLEMODE", 290, 1),
    ];
    for (name, code, value) in numbers {
        tags.text(9, name);
        tags.int(code, value);
    }
}

/// A table with its head and end.
pub(in crate::write) fn table(
    tags: &mut Tags<'_>,
    kind: &str,
    own: Handle,
    count: usize,
    contents: impl FnOnce(&mut Tags<'_>),
) {
    tags.text(0, "TABLE");
    tags.text(2, kind);
    if tags.target().has_subclasses() {
        tags.handle(5, own);
    }
    if tags.target().has_owners() {
        tags.handle(330, Handle::default());
    }
    tags.subclass("AcDbSymbolTable");
    tags.int(70, i64::try_from(count).unwrap_or(i64::MAX));
    if kind == "DIMSTYLE" {
        tags.subclass("AcDbDimStyleTable");
    }
    contents(tags);
    tags.text(0, "ENDTAB");
}

fn raw(tags: &mut Tags<'_>, records: &[Record]) {
    for record in records {
        tags.raw(&record.bytes);
    }
}

fn tables(tags: &mut Tags<'_>, handles: &mut Handles, skeleton: &Skeleton, ours: &Records, facts: &Facts<'_>) {
    let ties = &skeleton.ties;
    table(tags, "VPORT", skeleton.view_ports, 1, |tags| view_port(tags, handles, skeleton.view_ports, facts.extents));
    let linetypes = [("ByBlock", ""), ("ByLayer", ""), ("Continuous", "Solid line")];
    // In R12 the first two are words, not records.
    let linetypes = linetypes.iter().skip(if tags.target().has_subclasses() { 0 } else { 2 });
    table(tags, "LTYPE", ties.linetypes, linetypes.len() + ours.linetypes.len(), |tags| {
        for (name, description) in linetypes.clone() {
            let record = LinetypeRecord { name, description, pattern: &[], ours: false };
            tables::linetype(tags, handles, ties.linetypes, &record);
        }
        raw(tags, &ours.linetypes);
    });
    table(tags, "LAYER", ties.layers, 1 + ours.layers.len(), |tags| {
        let (plot_style, linetype) = (ties.plot_style, "Continuous");
        let record = LayerRecord { name: "0", colour: 7, linetype, pen: -3, is_plotted: true, plot_style, ours: false };
        tables::layer(tags, handles, ties.layers, &record);
        raw(tags, &ours.layers);
    });
    let mut text_style = Handle::default();
    table(tags, "STYLE", ties.styles, 1 + ours.styles.len(), |tags| {
        text_style = tables::style(tags, handles, ties.styles, ("Standard", "txt"), false);
        raw(tags, &ours.styles);
    });
    table(tags, "VIEW", skeleton.views, 0, |_| {});
    table(tags, "UCS", skeleton.coordinate_systems, 0, |_| {});
    table(tags, "APPID", ties.app_ids, 1 + ours.app_ids.len(), |tags| {
        tables::app_id(tags, handles, ties.app_ids, "ACAD");
        raw(tags, &ours.app_ids);
    });
    table(tags, "DIMSTYLE", ties.dimension_styles, 1 + ours.dimension_styles.len(), |tags| {
        let record = facts.dimension_style("Standard", text_style);
        tables::dimension_style(tags, handles, ties.dimension_styles, &record);
        raw(tags, &ours.dimension_styles);
    });
    if tags.target().has_subclasses() {
        let spaces = skeleton.spaces();
        table(tags, "BLOCK_RECORD", ties.block_records, spaces.len() + ours.block_records.len(), |tags| {
            for (space, layout) in spaces {
                tables::block_record(tags, ties.block_records, &space, layout, facts.frame.unit);
            }
            raw(tags, &ours.block_records);
        });
    }
}

/// VPORT of the screen: everything drawn, seen from above.
fn view_port(tags: &mut Tags<'_>, handles: &mut Handles, own_table: Handle, (low, high): Extents) {
    /// Width over height of a usual screen.
    const ASPECT: f64 = 1.6;
    let size = high - low;
    let height = size.y.max(size.x / ASPECT).max(f64::MIN_POSITIVE) * 1.05;
    if tags.target().has_subclasses() {
        tags.record("VPORT", handles.take(), own_table);
    } else {
        tags.text(0, "VPORT");
    }
    tags.subclass("AcDbSymbolTableRecord");
    tags.subclass("AcDbViewportTableRecord");
    tags.name(2, "*Active");
    tags.int(70, 0);
    // Lower left and upper right corner on the screen, centre of the view, snap base, snap and grid spacing.
    tags.point_2d(10, point(0.0, 0.0));
    tags.point_2d(11, point(1.0, 1.0));
    tags.point_2d(12, (low + high) / 2.0);
    tags.point_2d(13, point(0.0, 0.0));
    tags.point_2d(14, point(1.0, 1.0));
    tags.point_2d(15, point(1.0, 1.0));
    // Direction towards the eye, and target.
    tags.point_2d(16, point(0.0, 0.0));
    tags.real(36, 1.0);
    tags.point(17, point(0.0, 0.0));
    // Height and aspect of the view, lens, clipping planes, snap and twist angle.
    for (code, value) in [(40, height), (41, ASPECT), (42, 50.0), (43, 0.0), (44, 0.0), (50, 0.0), (51, 0.0)] {
        tags.real(code, value);
    }
    // View mode, circle sides, fast zoom, icon at the origin; snap, grid, snap style and pair all off.
    for (code, value) in [(71, 0), (72, 1000), (73, 1), (74, 3), (75, 0), (76, 0), (77, 0), (78, 0)] {
        tags.int(code, value);
    }
}

fn blocks(tags: &mut Tags<'_>, handles: &mut Handles, skeleton: &Skeleton, ours: &Records) {
    if tags.target().has_subclasses() {
        // The model space has its entities in a section of their own, and the current paper space has none.
        for (place, (space, _)) in skeleton.spaces().iter().enumerate() {
            let paper = place.checked_sub(1).and_then(|paper| ours.papers.get(paper));
            let entities = paper.map_or(&[][..], |paper| &paper.entities);
            tables::block(tags, handles, space, BlockKind::Plain, |tags, _| tags.raw(entities));
        }
    }
    raw(tags, &ours.blocks);
}
