//! Drawings -> records for one file: what a new drawing is made of, and what is added to a user's one.

use std::collections::{BTreeMap, BTreeSet};

use super::entity::{self, Arc, Common, Lettering, Linear};
use super::paper::{Paper, Sheet};
use super::tables::{self, BlockKind, BlockName, DimensionStyleRecord, LayerRecord, LinetypeRecord, Record};
use super::{APP_ID, Handle, Handles, Mark, Placed, Tags, Target, fill, measured};
use crate::base::{Frame, Point, Unit, decimal};
use crate::cad::{Fact, Version, folded};
use crate::sheet::{Align, Anchor, Dimension, Item, Layer, Linetype, Shape, TextSpec, VAlign};

/// What the records hang on in the file that they go into.
#[derive(Debug, Clone, PartialEq)]
pub struct Ties {
    /// Table head of the APPIDs.
    pub app_ids: Handle,
    /// Table head of the LTYPEs.
    pub linetypes: Handle,
    /// Table head of the LAYERs.
    pub layers: Handle,
    /// Table head of the STYLEs.
    pub styles: Handle,
    /// Table head of the DIMSTYLEs.
    pub dimension_styles: Handle,
    /// Table head of the `BLOCK_RECORD`s.
    pub block_records: Handle,
    /// Block record of the model space.
    pub model_space: Handle,
    /// Plot style of the file's layers.
    pub plot_style: Option<Handle>,
    /// Names of our layers, where they have others than their own.
    pub layer_names: BTreeMap<Layer, String>,
    /// Layers that the file has already, by folded name: they are used as they are.
    pub layers_there: BTreeSet<String>,
    /// Names that stand for something else in the file.
    pub taken: Taken,
    /// First unused number of a `*D` block.
    pub first_dimension: u64,
    /// The file's `$LTSCALE`.
    pub linetype_scale: f64,
}

impl Ties {
    pub(super) fn layer(&self, layer: Layer) -> &str {
        self.layer_names.get(&layer).map_or(layer.name(), String::as_str)
    }

    fn linetype(&self, linetype: Linetype) -> String {
        match linetype {
            Linetype::Continuous => linetype.name().to_owned(),
            Linetype::Centre | Linetype::Hidden => free(&self.taken.linetypes, linetype.name()),
        }
    }
}

/// Folded names that records of a file have, other than ours.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct Taken {
    /// LTYPE.
    pub linetypes: BTreeSet<String>,
    /// STYLE.
    pub styles: BTreeSet<String>,
    /// DIMSTYLE.
    pub dimension_styles: BTreeSet<String>,
    /// BLOCK.
    pub blocks: BTreeSet<String>,
}

/// `name`, or with the first number behind it that makes it unused.
pub(super) fn free(taken: &BTreeSet<String>, name: &str) -> String {
    let numbered = (2_u64..).map(|n| format!("{name}-{n}"));
    let mut all = std::iter::once(name.to_owned()).chain(numbered);
    all.find(|n| !taken.contains(&folded(n))).unwrap_or_default()
}

/// Records for one file, each kind for its own place; table records and blocks only as far as the drawings need them.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct Records {
    /// APPID.
    pub app_ids: Vec<Record>,
    /// LTYPE.
    pub linetypes: Vec<Record>,
    /// LAYER.
    pub layers: Vec<Record>,
    /// STYLE.
    pub styles: Vec<Record>,
    /// DIMSTYLE.
    pub dimension_styles: Vec<Record>,
    /// `BLOCK_RECORD`, from R13.
    pub block_records: Vec<Record>,
    /// BLOCK to ENDBLK.
    pub blocks: Vec<Record>,
    /// Entities of the model space.
    pub entities: Vec<u8>,
    /// What stands in the paper space of each sheet.
    pub papers: Vec<Paper>,
}

/// All records that show `drawings` in a file's model space, and `sheets` in paper spaces.
pub fn records(
    drawings: &[Placed<'_>],
    sheets: &[Sheet<'_>],
    frame: &Frame,
    target: &Target,
    ties: &Ties,
    handles: &mut Handles,
) -> Records {
    let first = drawings.first().map_or(1.0, |placed| placed.drawing.paper);
    let mut writer = Writer {
        frame,
        target,
        ties,
        handles,
        pattern_paper: first,
        out: Records::default(),
        styles: BTreeMap::new(),
        blocks: BTreeSet::new(),
        dimensions: ties.first_dimension,
        dimension_styles: BTreeSet::new(),
    };
    writer.app_id();
    let in_model = drawings.iter().flat_map(|placed| &placed.drawing.items);
    let on_paper: Vec<Item> = sheets.iter().flat_map(|sheet| sheet.items(drawings)).collect();
    writer.linetypes_and_layers(&in_model.chain(&on_paper).collect::<Vec<_>>(), sheets);
    writer.marks_as_text(drawings);
    let mut entities = Tags::new(target);
    for placed in drawings {
        let spot = Spot::in_model(placed, *frame, ties.model_space);
        for item in &placed.drawing.items {
            writer.item(&mut entities, &spot, item);
        }
    }
    writer.out.entities = entities.into_bytes();
    for sheet in sheets {
        let paper = writer.paper(sheet, drawings);
        writer.out.papers.push(paper);
    }
    writer.out
}

/// Where the shapes of a drawing come to lie.
#[derive(Debug, Clone, Copy)]
pub(super) struct Spot<'a> {
    /// Name of what they show, if a shape shows no object.
    pub(super) name: &'a str,
    /// Unit and origin of the space.
    pub(super) frame: Frame,
    /// Block record of the space.
    pub(super) owner: Handle,
    /// Whether that is a paper space.
    pub(super) in_paper: bool,
    /// Full-scale mm per mm on paper.
    pub(super) paper: f64,
    /// What lengths are divided by: 1 in model space, else `paper`.
    pub(super) scale: f64,
    /// The drawing's point that comes to lie at `to`, mm.
    pub(super) from: Point,
    /// In mm of the space.
    pub(super) to: Point,
}

impl<'a> Spot<'a> {
    pub(super) fn in_model(placed: &Placed<'a>, frame: Frame, owner: Handle) -> Self {
        let Placed { drawing, at } = *placed;
        let from = Point::default();
        Self { name: &drawing.name, frame, owner, in_paper: false, paper: drawing.paper, scale: 1.0, from, to: at }
    }

    /// A point of the drawing in the units of the space.
    pub(super) fn at(&self, local: Point) -> Point {
        self.frame.to_drawing((local - self.from) / self.scale + self.to)
    }

    /// A size of the drawing in the units of the space.
    pub(super) fn size(&self, mm: f64) -> f64 {
        mm / self.scale / self.frame.unit.millimetres()
    }
}

pub(super) struct Writer<'a> {
    pub(super) frame: &'a Frame,
    pub(super) target: &'a Target,
    pub(super) ties: &'a Ties,
    pub(super) handles: &'a mut Handles,
    /// Paper scale that the line patterns are made for; other drawings scale theirs.
    pattern_paper: f64,
    out: Records,
    styles: BTreeMap<bool, Handle>,
    /// Names of the blocks written so far.
    pub(super) blocks: BTreeSet<String>,
    dimensions: u64,
    dimension_styles: BTreeSet<String>,
}

const REGULAR: &str = "RAIL-TEXT";
const BOLD: &str = "RAIL-TITLE";
pub(super) const CENTRED: Anchor = Anchor { align: Align::Centre, valign: VAlign::Middle };

impl<'a> Writer<'a> {
    fn record(&mut self, name: &str, write: impl FnOnce(&mut Tags<'_>, &mut Handles)) -> Record {
        let mut tags = Tags::new(self.target);
        write(&mut tags, self.handles);
        Record { name: name.to_owned(), bytes: tags.into_bytes() }
    }

    fn app_id(&mut self) {
        let table = self.ties.app_ids;
        let record = self.record(APP_ID, |tags, handles| tables::app_id(tags, handles, table, APP_ID));
        self.out.app_ids.push(record);
    }

    fn linetypes_and_layers(&mut self, items: &[&Item], sheets: &[Sheet<'_>]) {
        let windows = sheets.iter().any(Sheet::has_views).then_some(Layer::View);
        let used: BTreeSet<Layer> = items.iter().map(|item| item.layer).chain(windows).collect();
        let patterns: Vec<Linetype> =
            used.iter().map(|layer| layer.linetype()).chain(items.iter().filter_map(|item| item.linetype)).collect();
        for linetype in [Linetype::Centre, Linetype::Hidden] {
            if patterns.contains(&linetype) {
                self.linetype(linetype);
            }
        }
        for layer in used {
            let ties = self.ties;
            let (table, plot_style, name) = (ties.layers, ties.plot_style, ties.layer(layer));
            if ties.layers_there.contains(&folded(name)) {
                continue;
            }
            let record = self.record(name, |tags, handles| {
                let (colour, _) = layer.colour();
                let (linetype, pen) = (&ties.linetype(layer.linetype()), layer.pen());
                let is_plotted = layer.is_plotted();
                let record = LayerRecord { name, colour, linetype, pen, is_plotted, plot_style, ours: true };
                tables::layer(tags, handles, table, &record);
            });
            // Two of our layers may have been given one name.
            if self.out.layers.iter().all(|other| !other.name.eq_ignore_ascii_case(&record.name)) {
                self.out.layers.push(record);
            }
        }
    }

    fn linetype(&mut self, linetype: Linetype) {
        let scale = self.pattern_paper / self.frame.unit.millimetres() / self.ties.linetype_scale;
        let pattern: Vec<f64> = linetype.pattern().iter().map(|dash| dash * scale).collect();
        let (table, name) = (self.ties.linetypes, &self.ties.linetype(linetype));
        let description = match linetype {
            Linetype::Continuous => "Solid line",
            Linetype::Centre => "Centre ____ _ ____ _ ____",
            Linetype::Hidden => "Hidden __ __ __ __ __",
        };
        let record = self.record(name, |tags, handles| {
            tables::linetype(
                tags,
                handles,
                table,
                &LinetypeRecord { name, description, pattern: &pattern, ours: true },
            );
        });
        self.out.linetypes.push(record);
    }

    /// The text style's name and handle; its record is written at its first use.
    pub(super) fn style(&mut self, bold: bool) -> (String, Handle) {
        let name = free(&self.ties.taken.styles, if bold { BOLD } else { REGULAR });
        if let Some(handle) = self.styles.get(&bold) {
            return (name, *handle);
        }
        // A style must name a font; every CAD program puts its own in place of a missing one. R12 knows stroke fonts alone.
        let font = match (self.target.version >= Version::R2000, bold) {
            (true, false) => "arial.ttf",
            (true, true) => "arialbd.ttf",
            (false, _) => "txt",
        };
        let table = self.ties.styles;
        let mut own = Handle::default();
        let record = self.record(&name, |tags, handles| {
            own = tables::style(tags, handles, table, (&name, font), true);
        });
        self.out.styles.push(record);
        self.styles.insert(bold, own);
        (name, own)
    }

    /// A size in the model space's units.
    pub(super) fn size(&self, mm: f64) -> f64 {
        mm / self.frame.unit.millimetres()
    }

    /// What the pattern's scale must be for its dashes to have their length on paper.
    fn pattern_scale(&self, spot: &Spot<'_>) -> f64 {
        let units = self.frame.unit.millimetres() / spot.frame.unit.millimetres();
        spot.paper / spot.scale * units / self.pattern_paper
    }

    pub(super) fn item(&mut self, tags: &mut Tags<'_>, spot: &Spot<'_>, item: &Item) {
        let ties = self.ties;
        let linetype = item.linetype.filter(|own| *own != item.layer.linetype()).map(|own| ties.linetype(own));
        let is_patterned = item.linetype.unwrap_or(item.layer.linetype()) != Linetype::Continuous;
        // On paper nothing is edited: what is there shows the sheet.
        let object = item.object.as_ref().filter(|_| !spot.in_paper);
        let facts: Vec<Fact> = object.iter().flat_map(|o| &o.facts).map(|f| f.placed(|p| spot.at(p))).collect();
        let mark = object.map_or(Mark { kind: "drawing", id: spot.name, facts: &[] }, |object| Mark {
            kind: object.kind,
            id: &object.id,
            facts: &facts,
        });
        let common = Common {
            owner: spot.owner,
            in_paper: spot.in_paper,
            layer: ties.layer(item.layer),
            linetype: linetype.as_deref(),
            linetype_scale: if is_patterned { self.pattern_scale(spot) } else { 1.0 },
            mark: Some(mark),
        };
        self.shape(tags, &common, spot, &item.shape);
    }

    fn shape(&mut self, tags: &mut Tags<'_>, common: &Common<'_>, spot: &Spot<'_>, shape: &Shape) {
        match shape {
            Shape::Line(from, to) => entity::line(tags, self.handles, common, spot.at(*from), spot.at(*to)),
            // What has no extent, CAD programs refuse or throw away.
            Shape::Circle { radius, .. } | Shape::Arc { radius, .. } if *radius <= 0.0 => {}
            Shape::Circle { centre, radius } => {
                entity::circle(tags, self.handles, common, spot.at(*centre), spot.size(*radius));
            }
            Shape::Arc { centre, radius, from, to } => {
                let arc = Arc { centre: spot.at(*centre), radius: spot.size(*radius), from: *from, to: *to };
                entity::arc(tags, self.handles, common, &arc);
            }
            Shape::Path { points, closed, filled } => {
                let points: Vec<Point> = points.iter().map(|p| spot.at(*p)).collect();
                if *filled {
                    for piece in fill::pieces(&points) {
                        entity::solid(tags, self.handles, common, piece);
                    }
                } else if points.len() > 1 {
                    entity::path(tags, self.handles, common, &points, *closed);
                }
            }
            Shape::Text(text) => self.text(tags, common, spot, text),
            Shape::Paragraph(lines) if self.target.version >= Version::R13 => {
                self.paragraph(tags, common, spot, lines);
            }
            // R12 has single lines only.
            Shape::Paragraph(lines) => lines.iter().for_each(|line| self.text(tags, common, spot, line)),
            Shape::Dimension(dimension) => self.dimension(tags, common, spot, dimension),
            // A block is made for the model space; on paper a post is a picture.
            Shape::Post(post) if spot.in_paper => {
                let corners = post.corners().map(|p| spot.at(p));
                entity::path(tags, self.handles, common, &corners, true);
            }
            Shape::Tag(tag) if spot.in_paper => {
                let corners = tag.corners().map(|p| spot.at(p));
                entity::path(tags, self.handles, common, &corners, true);
            }
            Shape::Post(post) => self.post(tags, common, spot, post),
            Shape::Tag(tag) => self.tag(tags, common, spot, tag),
        }
    }

    pub(super) fn text(&mut self, tags: &mut Tags<'_>, common: &Common<'_>, spot: &Spot<'_>, text: &TextSpec) {
        // CAD programs throw empty texts away.
        if text.content.trim().is_empty() {
            return;
        }
        let (style, _) = self.style(text.bold);
        let spec = Lettering {
            at: spot.at(text.at),
            height: spot.size(text.height),
            rotation: text.rotation,
            anchor: text.anchor,
            content: &text.content,
            style: &style,
        };
        entity::lettering(tags, self.handles, common, &spec);
    }

    fn dimension(&mut self, tags: &mut Tags<'_>, common: &Common<'_>, spot: &Spot<'_>, dimension: &Dimension) {
        let (text_style, text_style_handle) = self.style(false);
        let style = self.dimension_style(spot, dimension.height, text_style_handle);
        let block = format!("*D{}", self.dimensions);
        self.dimensions += 1;
        let lettering = Lettering {
            at: spot.at(dimension.text_at),
            height: spot.size(dimension.height),
            rotation: measured::text_angle(dimension.angle),
            anchor: CENTRED,
            content: &dimension.text,
            style: &text_style,
        };
        // On the dimension's own layer: not every program lets layer 0 look like the dimension, as it does for an INSERT.
        self.block((&block, BlockKind::Anonymous), common.layer, spot.frame.unit, |tags, handles, common| {
            for (from, to) in &dimension.strokes {
                entity::line(tags, handles, common, spot.at(*from), spot.at(*to));
            }
            if !dimension.text.trim().is_empty() {
                entity::lettering(tags, handles, common, &lettering);
            }
        });
        let linear = Linear {
            block: &block,
            style: &style,
            from: spot.at(dimension.from),
            to: spot.at(dimension.to),
            line: spot.at(measured::foot(dimension)),
            text_at: spot.at(dimension.text_at),
            angle: dimension.angle,
            measured: spot.size(measured::distance(dimension)),
            instead: measured::text_instead(dimension, spot.frame.unit, self.target.version),
        };
        entity::dimension(tags, self.handles, common, &linear);
    }

    /// Name of the style for one paper scale and text height; its record is written at its first use.
    fn dimension_style(&mut self, spot: &Spot<'_>, height: f64, text_style: Handle) -> String {
        let space = if spot.in_paper { "RAIL-DIM-SHEET" } else { "RAIL-DIM" };
        let name = symbol(&format!("{space}-{}-{}", decimal(spot.paper, 3), decimal(height / spot.paper, 3)));
        let name = free(&self.ties.taken.dimension_styles, &name);
        if self.dimension_styles.insert(name.clone()) {
            let (table, unit, height) = (self.ties.dimension_styles, spot.frame.unit, spot.size(height));
            let record = self.record(&name, |tags, handles| {
                let scale = spot.scale;
                let record = DimensionStyleRecord { name: &name, height, unit, scale, text_style, ours: true };
                tables::dimension_style(tags, handles, table, &record);
            });
            self.out.dimension_styles.push(record);
        }
        name
    }

    pub(super) fn block(
        &mut self,
        (name, kind): (&str, BlockKind),
        layer: &str,
        unit: Unit,
        contents: impl FnOnce(&mut Tags<'_>, &mut Handles, &Common<'_>),
    ) {
        let block = BlockName { record: self.handles.take(), name, ours: true };
        let table = self.ties.block_records;
        if self.target.has_subclasses() {
            let record = self.record(name, |tags, _| {
                tables::block_record(tags, table, &block, Handle::default(), unit);
            });
            self.out.block_records.push(record);
        }
        let record = self.record(name, |tags, handles| {
            tables::block(tags, handles, &block, kind, |tags, handles| {
                contents(tags, handles, &Common::inside(block.record, layer));
            });
        });
        self.out.blocks.push(record);
    }
}

/// A name that every version takes: R12 knows letters, digits, `$`, `_` and `-` only.
pub(super) fn symbol(name: &str) -> String {
    name.replace('.', "_")
}
