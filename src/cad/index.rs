//! What the scanner finds in a file: records, sections, tables, blocks and layers, each with its exact bytes.

use std::collections::{BTreeMap, HashMap};
use std::ops::Range;

use encoding_rs::Encoding;

use super::tag::{Form, Lexer, Source, Tag};
use super::{LayerState, Origin, Version, text};
use crate::base::Finding;

macro_rules! kinds {
    ($($name:ident = $text:literal,)*) => {
        /// Kind of a record: the value of its `0` group.
        #[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
        pub enum Kind {
            $(#[doc = concat!("`", $text, "`")] $name,)*
            /// Any other; an index into [`Index::names`].
            Other(u32),
            /// A row of records that are not wanted, in one.
            Skipped,
        }
        impl Kind {
            /// The kinds that have a name of their own here.
            pub fn known(text: &[u8]) -> Option<Self> {
                Some(match text {
                    $(b if b == $text.as_bytes() => Self::$name,)*
                    _ => return None,
                })
            }
            const fn text(self) -> Option<&'static str> {
                match self {
                    $(Self::$name => Some($text),)*
                    Self::Other(_) | Self::Skipped => None,
                }
            }
        }
    };
}

// Most frequent first: they are compared in this order.
kinds! {
    Line = "LINE",
    Vertex = "VERTEX",
    LwPolyline = "LWPOLYLINE",
    Insert = "INSERT",
    Attrib = "ATTRIB",
    SeqEnd = "SEQEND",
    Arc = "ARC",
    Circle = "CIRCLE",
    Text = "TEXT",
    MText = "MTEXT",
    Polyline = "POLYLINE",
    Point = "POINT",
    Ellipse = "ELLIPSE",
    Spline = "SPLINE",
    AttDef = "ATTDEF",
    Block = "BLOCK",
    EndBlk = "ENDBLK",
    Layer = "LAYER",
    DimStyle = "DIMSTYLE",
    Table = "TABLE",
    EndTab = "ENDTAB",
    Section = "SECTION",
    EndSec = "ENDSEC",
    Eof = "EOF",
}

/// Handles from here on are taken for damage: no program counts so far, and some cannot.
pub const DAMAGED_HANDLE: u64 = 1 << 48;

/// No name, or no layer.
pub const NONE: u32 = u32::MAX;

/// A stretch of tags from one `0` group to the next.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Record {
    /// First byte; the record ends where the next one begins.
    pub start: usize,
    /// Its own handle (group 5; 105 for DIMSTYLE); 0 when it has none. A row of them has the highest, below
    /// [`DAMAGED_HANDLE`] if any is.
    pub handle: u64,
    /// Its owner (group 330); 0 when it names none.
    pub owner: u64,
    /// Line of its `0` group; 0 in binary files.
    pub line: u32,
    /// Layer, an index into [`Index::layers`]; [`NONE`] outside BLOCKS and ENTITIES.
    pub layer: u32,
    /// Name of a table entry or block, or of the block that an INSERT places: an index into [`Index::names`] or [`NONE`].
    pub name: u32,
    /// Kind.
    pub kind: Kind,
    /// Whether it stands in paper space (group 67).
    pub paper: bool,
    /// Whether we wrote it (XDATA of our application).
    pub ours: bool,
}

impl Record {
    /// Of which only the `0` group was read.
    pub(super) const fn begun(head: &Tag, kind: Kind, layer: u32) -> Self {
        let (start, line) = (head.start, head.line);
        Self { start, handle: 0, owner: 0, line, layer, name: NONE, kind, paper: false, ours: false }
    }

    /// Handle and line as entities carry them.
    pub fn origin(&self) -> Origin {
        Origin {
            byte: self.start,
            handle: (self.handle != 0).then_some(self.handle),
            line: (self.line != 0).then(|| u64::from(self.line)),
        }
    }

    /// Whether it is a part of the record before it: vertices, attributes and the end of both.
    pub const fn is_part(&self) -> bool {
        matches!(self.kind, Kind::Vertex | Kind::Attrib | Kind::SeqEnd)
    }
}

/// Which section a stretch of records is.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum SectionKind {
    /// HEADER.
    Header,
    /// TABLES.
    Tables,
    /// BLOCKS.
    Blocks,
    /// ENTITIES.
    Entities,
    /// OBJECTS.
    Objects,
    /// Any other.
    Other,
}

/// A section.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Section {
    /// Which one.
    pub kind: SectionKind,
    /// Name as written.
    pub name: String,
    /// Its records, from SECTION to ENDSEC, both included.
    pub records: Range<usize>,
}

/// A symbol table.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Table {
    /// Name as written: `LAYER`, `LTYPE` ...
    pub name: String,
    /// Index of the TABLE record.
    pub head: usize,
    /// Its count (group 70 of the head).
    pub count: Option<Tag>,
    /// Its entries.
    pub entries: Range<usize>,
    /// Index of the ENDTAB record, if it is closed.
    pub end: Option<usize>,
}

/// A block definition.
#[derive(Debug, Clone, PartialEq)]
pub struct Block {
    /// Index into [`Index::names`].
    pub name: u32,
    /// Index of the BLOCK record.
    pub head: usize,
    /// Its entities.
    pub records: Range<usize>,
    /// Index of the ENDBLK record, if it is closed.
    pub end: Option<usize>,
    /// Base point in drawing units; `None` when the file gives no finite one.
    pub base: Option<[f64; 2]>,
    /// Whether it is an external reference.
    pub external: bool,
    /// Whether that reference is an overlay, which is not shown where its drawing is itself a reference.
    pub overlay: bool,
    /// Whether it holds a layout: model space or a paper space.
    pub layout: bool,
}

/// A layer, from the table or from its use alone.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Layer {
    /// Name as first written.
    pub name: String,
    /// Its record in the layer table.
    pub record: Option<usize>,
    /// State.
    pub state: LayerState,
    /// Line type name; empty when the table names none.
    pub linetype: String,
}

/// Header variables that we need, each as the tag of its value.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub struct Header {
    /// `$ACADVER`.
    pub acadver: Option<Tag>,
    /// `$DWGCODEPAGE`.
    pub code_page: Option<Tag>,
    /// `$INSUNITS`.
    pub insunits: Option<Tag>,
    /// `$MEASUREMENT`.
    pub measurement: Option<Tag>,
    /// `$HANDSEED`.
    pub handseed: Option<Tag>,
    /// `$INSBASE`, x and y: the base point of the drawing where another one refers to it.
    pub insbase: [Option<Tag>; 2],
}

/// Where everything stands in a file.
#[derive(Debug, Clone)]
pub struct Index {
    /// How tags are written.
    pub form: Form,
    /// Version.
    pub version: Version,
    /// Encoding of texts.
    pub encoding: &'static Encoding,
    /// Header variables.
    pub header: Header,
    /// All records in the file's order, without gaps.
    pub records: Vec<Record>,
    /// Byte after the last record: what follows the EOF tag is in no record.
    pub end: usize,
    /// Sections.
    pub sections: Vec<Section>,
    /// Symbol tables.
    pub tables: Vec<Table>,
    /// Block definitions.
    pub blocks: Vec<Block>,
    /// Layers: those of the table in its order, then those only used.
    pub layers: Vec<Layer>,
    /// Names as written.
    pub names: Vec<String>,
    /// By layer and kind: how many entities of model space and blocks, parts excepted, are in none of the records by
    /// themselves.
    pub skipped: BTreeMap<(u32, Kind), usize>,
    /// Whether a record has a subclass marker (group 100).
    pub subclasses: bool,
    /// What was odd.
    pub findings: Vec<Finding>,
}

impl Index {
    /// Bytes of a record.
    pub fn range(&self, record: usize) -> Range<usize> {
        let start = self.records.get(record).map_or(self.end, |r| r.start);
        start..self.records.get(record + 1).map_or(self.end, |r| r.start)
    }

    /// Tags of a record.
    pub fn tags<'a>(&self, bytes: &'a [u8], record: usize) -> Lexer<'a> {
        let line = self.records.get(record).map_or(0, |r| r.line);
        self.source(bytes).tags(self.range(record), line)
    }

    /// The bytes with what is needed to read them.
    pub const fn source<'a>(&self, bytes: &'a [u8]) -> Source<'a> {
        Source { bytes, form: self.form }
    }

    /// Bytes that cover the whole file: what stands before the first record, each record, what follows the last.
    pub fn spans(&self, length: usize) -> impl Iterator<Item = Range<usize>> + '_ {
        let first = self.records.first().map_or(self.end, |r| r.start);
        let records = (0..self.records.len()).map(|i| self.range(i));
        std::iter::once(0..first).chain(records).chain(std::iter::once(self.end..length))
    }

    /// A name as written; empty for [`NONE`].
    pub fn name(&self, name: u32) -> &str {
        usize::try_from(name).ok().and_then(|n| self.names.get(n)).map_or("", String::as_str)
    }

    /// A kind as written.
    pub fn kind_text(&self, kind: Kind) -> &str {
        match kind {
            Kind::Other(name) => self.name(name),
            known => known.text().unwrap_or_default(),
        }
    }

    /// The layer of a record.
    pub fn layer(&self, record: &Record) -> Option<&Layer> {
        usize::try_from(record.layer).ok().and_then(|n| self.layers.get(n))
    }

    /// The records of all sections of a kind, without SECTION and ENDSEC.
    pub fn section_records(&self, kind: SectionKind) -> impl Iterator<Item = usize> + '_ {
        let sections = self.sections.iter().filter(move |s| s.kind == kind);
        sections.flat_map(|s| s.records.start + 1..s.records.end.saturating_sub(1))
    }

    /// Indices of blocks by folded name; the first of a name wins.
    pub fn blocks_by_name(&self) -> HashMap<String, usize> {
        let mut found = HashMap::new();
        for (i, block) in self.blocks.iter().enumerate() {
            found.entry(text::folded(self.name(block.name))).or_insert(i);
        }
        found
    }
}
