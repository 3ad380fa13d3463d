//! The scanner: one pass over the tags that notes where everything stands and reads nothing else.

use std::collections::{BTreeMap, HashMap};

pub use super::index::{Block, DAMAGED_HANDLE, Header, Index, Kind, Layer, NONE, Record, Section, SectionKind, Table};
pub use skip::Needs;

use super::tag::{Form, Lexer, Source, Tag, TagError};
use super::{LayerState, Version, sniff, text};
use crate::base::{Code, Finding, Place, Refusal};
use names::{Names, Recent};
use skip::Skip;
use trouble::{bad_code, lines_of, refusal};

mod names;
mod skip;
mod trouble;

/// Application name under which we mark the records that we write.
pub const OUR_APPLICATION: &str = "PLUMBRAIL";

/// Place of layer `0`, which every drawing has, among the layer names while scanning.
const LAYER_ZERO: u32 = 0;

/// Scans a drawing: where everything stands.
///
/// # Errors
/// When the file is no DXF, is cut off, has a line that is no group code, or is older than R11.
pub fn index(bytes: &[u8]) -> Result<Index, Refusal> {
    scan(bytes, None).map(|(index, _)| index)
}

/// Scans a drawing and keeps what is needed of its entities; all else is passed by, see [`Kind::Skipped`]. Handles and
/// subclass markers of what is passed by are told if [`Needs::host`] asks for them.
///
/// # Errors
/// As [`index`], for what is passed by as well.
pub fn index_of(bytes: &[u8], needs: Needs<'_>) -> Result<Index, Refusal> {
    match scan(bytes, Some(needs))? {
        (_, true) => index(bytes),
        (index, false) => Ok(index),
    }
}

/// The index, and whether something was passed by that may be needed.
fn scan(bytes: &[u8], needs: Option<Needs<'_>>) -> Result<(Index, bool), Refusal> {
    sniff::check(bytes)?;
    let (form, start) = Form::of(bytes);
    let mut scanner = Scanner::new(Source { bytes, form }, needs);
    let mut lexer = Lexer::new(bytes, form, start, 1);
    let mut next = lexer.next();
    while let Some(tag) = next {
        match tag {
            Ok(tag) if tag.code == 0 => {
                if let Some(following) = scanner.passed_by(&tag, &mut lexer) {
                    next = following;
                    continue;
                }
                if scanner.record(&tag) {
                    return scanner.finish();
                }
            }
            Ok(tag) => scanner.group(&tag),
            Err(TagError::Code { line, at }) => return Err(bad_code(form, line, at)),
            Err(TagError::End { .. }) => break,
        }
        next = lexer.next();
    }
    Err(scanner.cut_off())
}

/// Groups of a LAYER record.
struct LayerGroups {
    record: usize,
    flags: i64,
    colour: i64,
    plot: bool,
    linetype: u32,
}

struct Scanner<'a, 'w> {
    source: Source<'a>,
    names: Names<'a>,
    kinds: Recent<'a, Kind>,
    layer_names: Names<'a>,
    records: Vec<Record>,
    sections: Vec<Section>,
    tables: Vec<Table>,
    blocks: Vec<Block>,
    layers: Vec<LayerGroups>,
    header: Header,
    /// Kind of the open section.
    section: Option<SectionKind>,
    /// Header variable whose value comes next.
    variable: &'a [u8],
    /// Depth of `102 {` groups in the record.
    depth: u32,
    /// Whether a subclass marker of its own kind was passed: groups after it belong to the kind.
    marked: bool,
    /// Whether any record has a subclass marker.
    subclasses: bool,
    end: usize,
    /// What is passed by, where not all is kept.
    skip: Option<Skip<'w>>,
}

impl<'a, 'w> Scanner<'a, 'w> {
    fn new(source: Source<'a>, needs: Option<Needs<'w>>) -> Self {
        let mut layer_names = Names::new();
        layer_names.of(b"0");
        Self {
            source,
            names: Names::new(),
            kinds: Recent::new(),
            layer_names,
            records: Vec::new(),
            sections: Vec::new(),
            tables: Vec::new(),
            blocks: Vec::new(),
            layers: Vec::new(),
            header: Header::default(),
            section: None,
            variable: b"",
            depth: 0,
            marked: false,
            subclasses: false,
            end: 0,
            skip: needs.map(Skip::new),
        }
    }

    fn kind(&mut self, text: &'a [u8]) -> Kind {
        self.kinds.get(text, || Kind::known(text).unwrap_or_else(|| Kind::Other(self.names.of(text))))
    }

    /// Begins a record; true at the end of the drawing.
    fn record(&mut self, tag: &Tag) -> bool {
        let kind = self.kind(self.source.trimmed(tag));
        let at = self.records.len();
        let in_graphics = matches!(self.section, Some(SectionKind::Blocks | SectionKind::Entities));
        self.records.push(Record::begun(tag, kind, if in_graphics { LAYER_ZERO } else { NONE }));
        self.end = tag.end;
        (self.depth, self.marked, self.variable) = (0, false, b"");
        match (kind, self.section) {
            (Kind::Eof, None) => return true,
            (Kind::Section, None) => {
                self.section = Some(SectionKind::Other);
                self.sections.push(Section { kind: SectionKind::Other, name: String::new(), records: at..at + 1 });
            }
            (Kind::EndSec, Some(_)) => self.end_section(at),
            (Kind::Table, Some(SectionKind::Tables)) => {
                let entries = at + 1..at + 1;
                self.tables.push(Table { name: String::new(), head: at, count: None, entries, end: None });
            }
            (_, Some(SectionKind::Tables)) => self.table_record(at, kind),
            (Kind::Block, Some(SectionKind::Blocks)) => self.blocks.push(Block {
                name: NONE,
                head: at,
                records: at + 1..at + 1,
                end: None,
                base: Some([0.0, 0.0]),
                external: false,
                overlay: false,
                layout: false,
            }),
            (_, Some(SectionKind::Blocks)) => self.block_record(at, kind),
            _ => {}
        }
        false
    }

    fn end_section(&mut self, at: usize) {
        self.section = None;
        if let Some(section) = self.sections.last_mut() {
            section.records.end = at + 1;
        }
    }

    fn table_record(&mut self, at: usize, kind: Kind) {
        let Some(table) = self.tables.last_mut().filter(|t| t.end.is_none()) else { return };
        if kind == Kind::EndTab {
            table.end = Some(at);
            return;
        }
        table.entries.end = at + 1;
        if kind == Kind::Layer {
            self.layers.push(LayerGroups { record: at, flags: 0, colour: 7, plot: true, linetype: NONE });
        }
    }

    fn block_record(&mut self, at: usize, kind: Kind) {
        let Some(block) = self.blocks.last_mut().filter(|b| b.end.is_none()) else { return };
        if kind == Kind::EndBlk {
            block.end = Some(at);
        } else {
            block.records.end = at + 1;
        }
    }

    /// Takes from a group what the index needs.
    fn group(&mut self, tag: &Tag) {
        self.end = tag.end;
        let Some(record) = self.records.last_mut() else { return };
        if tag.code == 102 {
            self.depth = self.source.depth(tag, self.depth);
            return;
        }
        if self.depth > 0 {
            return;
        }
        match self.section {
            Some(SectionKind::Header) => self.header_group(tag),
            Some(SectionKind::Other) if tag.code == 2 => self.name_section(tag),
            None | Some(SectionKind::Other) => {}
            Some(section) => {
                common_group(&self.source, record, tag, &mut self.marked);
                self.subclasses |= tag.code == 100;
                if matches!(section, SectionKind::Blocks | SectionKind::Entities) {
                    graphic_group(&self.source, record, tag, &mut self.layer_names, &mut self.names);
                }
                match section {
                    SectionKind::Tables => self.table_group(tag),
                    SectionKind::Blocks => self.block_group(tag),
                    _ => {}
                }
            }
        }
    }

    /// A group 2 of the SECTION record is the section's name.
    fn name_section(&mut self, tag: &Tag) {
        let head = self.records.len();
        let Some(section) = self.sections.last_mut().filter(|s| s.records.end == head) else { return };
        let name = self.source.trimmed(tag);
        section.kind = match name {
            b"HEADER" => SectionKind::Header,
            b"TABLES" => SectionKind::Tables,
            b"BLOCKS" => SectionKind::Blocks,
            b"ENTITIES" => SectionKind::Entities,
            b"OBJECTS" => SectionKind::Objects,
            _ => SectionKind::Other,
        };
        section.name = text::shown(name);
        self.section = Some(section.kind);
        if let Some(skip) = &mut self.skip {
            skip.section(section.kind);
        }
    }

    fn header_group(&mut self, tag: &Tag) {
        if tag.code == 9 {
            self.variable = self.source.trimmed(tag);
            return;
        }
        let header = &mut self.header;
        let (slot, code) = match self.variable {
            b"$ACADVER" => (&mut header.acadver, 1),
            b"$DWGCODEPAGE" => (&mut header.code_page, 3),
            b"$INSUNITS" => (&mut header.insunits, 70),
            b"$MEASUREMENT" => (&mut header.measurement, 70),
            b"$HANDSEED" => (&mut header.handseed, 5),
            b"$INSBASE" => {
                let [x, y] = &mut header.insbase;
                if tag.code == 20 { (y, 20) } else { (x, 10) }
            }
            _ => return,
        };
        if tag.code == code {
            *slot = Some(*tag);
        }
    }

    fn block_group(&mut self, tag: &Tag) {
        let Some(record) = self.records.last() else { return };
        let Some(block) = self.blocks.last_mut().filter(|b| b.head + 1 == self.records.len()) else { return };
        match tag.code {
            2 => block.name = record.name,
            70 => {
                let flags = self.source.int(tag).unwrap_or(0);
                (block.external, block.overlay) = (flags & (4 | 8) != 0, flags & 8 != 0);
            }
            10 | 20 => {
                let axis = usize::from(tag.code == 20);
                let value = self.source.float(tag);
                block.base = block.base.zip(value).map(|([x, y], v)| if axis == 0 { [v, y] } else { [x, v] });
            }
            _ => {}
        }
    }

    fn table_group(&mut self, tag: &Tag) {
        let at = self.records.len();
        let Some(record) = self.records.last_mut() else { return };
        let Some(table) = self.tables.last_mut() else { return };
        if table.head + 1 == at {
            match tag.code {
                2 if table.name.is_empty() => {
                    table.name = text::shown(self.source.trimmed(tag));
                }
                70 if table.count.is_none() => table.count = Some(*tag),
                _ => {}
            }
            return;
        }
        match tag.code {
            2 if record.name == NONE => record.name = self.names.of(self.source.trimmed(tag)),
            105 if record.kind == Kind::DimStyle && record.handle == 0 => {
                record.handle = self.source.handle(tag).unwrap_or(0);
            }
            1001 if self.source.trimmed(tag) == OUR_APPLICATION.as_bytes() => record.ours = true,
            _ => {}
        }
        let Some(layer) = self.layers.last_mut().filter(|l| l.record + 1 == at) else { return };
        match tag.code {
            70 => layer.flags = self.source.int(tag).unwrap_or(0),
            62 => layer.colour = self.source.int(tag).unwrap_or(7),
            290 => layer.plot = self.source.int(tag) != Some(0),
            6 => layer.linetype = self.names.of(self.source.trimmed(tag)),
            _ => {}
        }
    }

    /// The file ended before the EOF record.
    fn cut_off(self) -> Refusal {
        let (line, place) = if self.source.form.is_binary() {
            (0, format!("byte {}", self.source.bytes.len()))
        } else {
            let lines = lines_of(self.source.bytes, self.source.form);
            (lines, format!("line {lines}"))
        };
        let open = self.section.and_then(|_| self.sections.last());
        let within = match open {
            None => String::new(),
            Some(s) if s.kind == SectionKind::Other => ", in the middle of a section".to_owned(),
            Some(s) => format!(", in the middle of section {}", s.name),
        };
        let message = format!("the drawing is cut off: it ends at {place}{within}, without an EOF record");
        refusal(line, message, "save or send the drawing again; what follows may be missing")
    }

    fn finish(mut self) -> Result<(Index, bool), Refusal> {
        if !self.sections.iter().any(|s| s.kind == SectionKind::Entities) {
            let line = self.records.last().map_or(0, |r| r.line);
            let message = "the drawing has no ENTITIES section".to_owned();
            return Err(refusal(line, message, "save the drawing again as DXF"));
        }
        let mut findings = Vec::new();
        let version = self.version(&mut findings)?;
        let page = self.code_page();
        let (encoding, sure) = text::encoding_of(version, page.as_deref());
        if let (false, Some(page), Some(tag)) = (sure, page, self.header.code_page) {
            let place = Place { line: (tag.line != 0).then(|| u64::from(tag.line)), ..Place::none() };
            let message = format!("code page `{page}` is not known; texts and layer names are read as windows-1252");
            let hint = "name layers with letters of ASCII, or save the drawing as R2007 or later";
            findings.push(Finding::warning(Code::EncodingUnknown, place, message).hint(hint));
        }
        let decode = |bytes: &&[u8]| text::decode(bytes, encoding).into_owned();
        let names: Vec<String> = self.names.all.iter().map(decode).collect();
        let used: Vec<String> = self.layer_names.all.iter().map(decode).collect();
        let skip = self.skip.take();
        let late = skip.as_ref().is_some_and(|skip| skip.late);
        let mut index = Index {
            form: self.source.form,
            version,
            encoding,
            header: self.header,
            end: self.end,
            sections: self.sections,
            tables: self.tables,
            blocks: self.blocks,
            layers: Vec::new(),
            names,
            records: self.records,
            skipped: BTreeMap::new(),
            subclasses: self.subclasses,
            findings,
        };
        collect_layers(&mut index, &self.layers, &used, skip.map(Skip::counts).unwrap_or_default());
        mark_layouts(&mut index);
        Ok((index, late))
    }

    fn code_page(&self) -> Option<String> {
        self.header.code_page.map(|tag| text::shown(self.source.trimmed(&tag)))
    }

    /// `$ACADVER`; a drawing without one is R12, as the programs that write such drawings mean it.
    fn version(&self, findings: &mut Vec<Finding>) -> Result<Version, Refusal> {
        let Some(tag) = self.header.acadver else { return Ok(Version::R12) };
        let text = text::shown(self.source.trimmed(&tag));
        let place = Place { line: (tag.line != 0).then(|| u64::from(tag.line)), ..Place::none() };
        let digits = text.strip_prefix("AC").filter(|d| d.len() == 4).and_then(|d| d.parse().ok()).map(Version);
        let old = ["AC1.", "AC2.", "MC"].iter().any(|p| text.starts_with(p));
        if old || digits.is_some_and(|v| v < Version::R12) {
            let message = "its version is older than R11, the oldest that can be read".to_owned();
            let finding = Finding::error(Code::VersionTooOld, place, message);
            return Err(Refusal::new(finding.hint("save the drawing as R12 or later")));
        }
        let version = digits.unwrap_or(Version::R2018);
        if digits.is_none() || version > Version::R2018 {
            let message = format!("version `{text}` is not known; the drawing is read as R2018");
            let hint = "check the result, or save the drawing as R2018";
            findings.push(Finding::warning(Code::VersionUnknown, place, message).hint(hint));
        }
        Ok(version)
    }
}

/// Groups that all records have in common.
fn common_group(source: &Source<'_>, record: &mut Record, tag: &Tag, marked: &mut bool) {
    match tag.code {
        // In a DIMSTYLE of R12, group 5 is a block name.
        5 if record.handle == 0 && !*marked && record.kind != Kind::DimStyle => {
            record.handle = source.handle(tag).unwrap_or(0);
        }
        330 if record.owner == 0 && !*marked => record.owner = source.handle(tag).unwrap_or(0),
        100 => {
            let plain = matches!(source.trimmed(tag), b"AcDbEntity" | b"AcDbSymbolTableRecord" | b"AcDbSymbolTable");
            *marked |= !plain;
        }
        _ => {}
    }
}

/// Groups of records in BLOCKS and ENTITIES.
fn graphic_group<'a>(
    source: &Source<'a>,
    record: &mut Record,
    tag: &Tag,
    layer_names: &mut Names<'a>,
    names: &mut Names<'a>,
) {
    match tag.code {
        8 => record.layer = layer_names.of(source.trimmed(tag)),
        67 => record.paper = source.int(tag) == Some(1),
        2 if record.name == NONE && matches!(record.kind, Kind::Insert | Kind::Block) => {
            record.name = names.of(source.trimmed(tag));
        }
        1001 if source.trimmed(tag) == OUR_APPLICATION.as_bytes() => record.ours = true,
        _ => {}
    }
}

/// Makes the list of layers and turns the records' layer names into places in it.
fn collect_layers(index: &mut Index, table: &[LayerGroups], used: &[String], skipped: BTreeMap<(u32, Kind), usize>) {
    let mut places: HashMap<String, u32> = HashMap::new();
    for groups in table {
        let name = index.name(index.records.get(groups.record).map_or(NONE, |r| r.name)).to_owned();
        let next = u32::try_from(index.layers.len()).unwrap_or(NONE);
        if *places.entry(text::folded(&name)).or_insert(next) == next {
            let state = LayerState { frozen: groups.flags & 1 != 0, off: groups.colour < 0, no_plot: !groups.plot };
            let linetype = index.name(groups.linetype).to_owned();
            index.layers.push(Layer { name, record: Some(groups.record), state, linetype });
        }
    }
    let mut by_use = Vec::with_capacity(used.len());
    for name in used {
        let next = u32::try_from(index.layers.len()).unwrap_or(NONE);
        let place = *places.entry(text::folded(name)).or_insert(next);
        if place == next {
            let (name, state) = (name.clone(), LayerState::default());
            index.layers.push(Layer { name, record: None, state, linetype: String::new() });
        }
        by_use.push(place);
    }
    let place = |name: u32| usize::try_from(name).ok().and_then(|n| by_use.get(n)).copied().unwrap_or(NONE);
    for record in index.records.iter_mut().filter(|r| r.layer != NONE) {
        record.layer = place(record.layer);
    }
    for ((name, kind), count) in skipped {
        *index.skipped.entry((place(name), kind)).or_insert(0) += count;
    }
}

fn mark_layouts(index: &mut Index) {
    let layouts: Vec<bool> = index.blocks.iter().map(|block| is_layout(index.name(block.name))).collect();
    for (block, layout) in index.blocks.iter_mut().zip(layouts) {
        block.layout = layout;
    }
}

/// Whether a block of this name is the model space or a paper space.
fn is_layout(name: &str) -> bool {
    let name = text::folded(name);
    // R12 writes `$MODEL_SPACE`, later versions `*Model_Space`.
    let name = name.strip_prefix(['*', '$']).unwrap_or_default();
    name.starts_with("MODEL_SPACE") || name.starts_with("PAPER_SPACE")
}

#[cfg(test)]
mod tests;
