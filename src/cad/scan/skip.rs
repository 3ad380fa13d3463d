//! What the scanner passes by: records on layers that are not wanted, and sections that hold no geometry.
//!
//! Of such a record the group codes alone are looked at, and of its values those that could make it count after all: its
//! layer, our mark, and paper space. Rows of such records become one [`Kind::Skipped`], so that the records still cover the
//! file. Whether a layer is wanted is settled by the header and the layer table; a drawing that has one of them behind its
//! entities is scanned in full.

use std::collections::{BTreeMap, HashMap};

use super::super::select::blocks_with_wanted;
use super::super::tag::{Lexer, Stops, Tag, TagError};
use encoding_rs::Encoding;

use super::super::index::DAMAGED_HANDLE;
use super::super::{Version, ours, text};
use super::{Kind, LAYER_ZERO, NONE, Record, Scanner, SectionKind, common_group, graphic_group, is_layout};

/// Which records matter.
#[derive(Clone, Copy)]
pub struct Needs<'w> {
    /// Which layers, by name as the layer table has it, else as first written.
    pub wanted: &'w dyn Fn(&str) -> bool,
    /// Whether layer `0` matters in model space, too, as in a drawing that is placed like a block.
    pub inside: bool,
    /// Whether records are to be put into the drawing, so that its handles, its subclass markers and all its objects
    /// matter: a row of records that are passed by then has the handle that [`Record::handle`] says.
    pub host: bool,
}

/// What can make a record matter: its layer, paper space, control groups, and XDATA.
static GRAPHIC: Stops = Stops::at(&[0, 8, 67, 102, 1001]);

/// Of a block reference the block, too.
static INSERT: Stops = Stops::at(&[0, 2, 8, 67, 102, 1001]);

/// Handles and subclass markers as well.
static HOST: Stops = Stops::at(&[0, 2, 5, 8, 67, 100, 102, 1001]);

/// The beginning of the next record.
static RECORD: Stops = Stops::at(&[0]);

/// What has been passed by.
pub(super) struct Skip<'w> {
    needs: Needs<'w>,
    /// By layer name used: whether it is wanted, and whether it is layer `0`.
    layers: Vec<(bool, bool)>,
    /// By folded name: whether it is wanted.
    names: Option<HashMap<String, bool>>,
    /// Whether the record before is one of those, and so its parts are.
    passing: bool,
    /// Whether any record with a layer is one of those.
    any: bool,
    /// Whether something came later that tells what is wanted.
    pub(super) late: bool,
    /// By layer name used and kind: how many stand in model space and blocks.
    counts: BTreeMap<(u32, Kind), usize>,
    /// The last of them, which come in rows.
    row: ((u32, Kind), usize),
    /// By folded name of a block: whether something wanted is in it.
    blocks: Option<HashMap<String, bool>>,
    /// By name: whether something wanted is in the block that is called so; found at its first use.
    leading: Vec<Option<bool>>,
    /// The last block that was looked up, by its BLOCK record: whether it is a layout.
    layout: (usize, bool),
}

impl<'w> Skip<'w> {
    pub(super) fn new(needs: Needs<'w>) -> Self {
        Self {
            needs,
            layers: Vec::new(),
            names: None,
            passing: false,
            any: false,
            late: false,
            counts: BTreeMap::new(),
            row: ((NONE, Kind::Skipped), 0),
            blocks: None,
            leading: Vec::new(),
            layout: (usize::MAX, false),
        }
    }

    /// Notes a section that begins.
    pub(super) const fn section(&mut self, kind: SectionKind) {
        self.late |= self.any && matches!(kind, SectionKind::Header | SectionKind::Tables | SectionKind::Blocks);
    }

    fn count(&mut self, layer: u32, kind: Kind) {
        if self.row.0 != (layer, kind) {
            self.end_row();
            self.row = ((layer, kind), 0);
        }
        self.row.1 += 1;
    }

    fn end_row(&mut self) {
        let (of, count) = self.row;
        if count > 0 {
            *self.counts.entry(of).or_insert(0) += count;
        }
    }

    /// All of them by layer name used and kind.
    pub(super) fn counts(mut self) -> BTreeMap<(u32, Kind), usize> {
        self.end_row();
        self.counts
    }

    fn needs(&mut self, layer: u32, in_block: bool) -> bool {
        let settled = usize::try_from(layer).ok().and_then(|n| self.layers.get(n)).copied();
        settled.is_none_or(|(wanted, zero)| wanted || (zero && (in_block || self.needs.inside)))
    }
}

/// The higher one of two handles, of which 0 is none and a damaged one counts only beside none.
fn higher(one: u64, other: u64) -> u64 {
    let rank = |handle: &u64| (*handle != 0, *handle < DAMAGED_HANDLE, *handle);
    [one, other].into_iter().max_by_key(rank).unwrap_or(0)
}

/// Kinds that make up the drawing's structure.
const fn is_structure(kind: Kind) -> bool {
    use Kind::{Block, EndBlk, EndSec, EndTab, Eof, Section, Table};
    matches!(kind, Section | EndSec | Eof | Table | EndTab | Block | EndBlk)
}

/// What follows a record that was passed by.
pub(super) type Following = Option<Result<Tag, TagError>>;

impl<'a> Scanner<'a, '_> {
    /// Passes by the record that `head` begins, if nothing of it is needed, and gives what follows it; `None` leaves the
    /// lexer where it is.
    pub(super) fn passed_by(&mut self, head: &Tag, lexer: &mut Lexer<'a>) -> Option<Following> {
        let parts = std::mem::take(&mut self.skip.as_mut()?.passing);
        let host = self.skip.as_ref()?.needs.host;
        let graphic = match self.section? {
            SectionKind::Blocks | SectionKind::Entities => true,
            SectionKind::Objects | SectionKind::Other if !host => false,
            _ => return None,
        };
        let kind = self.kind(self.source.trimmed(head));
        if is_structure(kind) {
            return None;
        }
        if !graphic {
            self.note(head, 0);
            return Some(lexer.skip_to(&RECORD));
        }
        let part = matches!(kind, Kind::Vertex | Kind::Attrib | Kind::SeqEnd);
        let in_block = self.section == Some(SectionKind::Blocks);
        if (part && !parts) || (in_block && kind == Kind::Insert) {
            return None;
        }
        let back = lexer.clone();
        let (seen, following) = self.walk(kind, head, host, lexer);
        self.settle_layers();
        if !part && (seen.ours || self.skip.as_mut()?.needs(seen.layer, in_block) || self.leads(seen.name)) {
            *lexer = back;
            return None;
        }
        let counts = !seen.paper && !part && (!in_block || self.is_in_block());
        self.note(head, seen.handle);
        let skip = self.skip.as_mut()?;
        skip.any = true;
        if counts {
            skip.count(seen.layer, kind);
        }
        Some(following)
    }

    /// Goes to the next record: what is seen of this one on the way, and what follows.
    fn walk(&mut self, kind: Kind, head: &Tag, host: bool, lexer: &mut Lexer<'a>) -> (Record, Following) {
        let stops = match (host, kind) {
            (true, _) => &HOST,
            (false, Kind::Insert) => &INSERT,
            (false, _) => &GRAPHIC,
        };
        let mut seen = Record::begun(head, kind, LAYER_ZERO);
        let (mut depth, mut marked) = (0_u32, false);
        loop {
            let tag = match lexer.skip_to(stops) {
                Some(Ok(tag)) if tag.code != 0 => tag,
                following => return (seen, following),
            };
            if tag.code == 102 {
                depth = self.source.depth(&tag, depth);
            } else if depth == 0 {
                if host {
                    common_group(&self.source, &mut seen, &tag, &mut marked);
                    self.subclasses |= tag.code == 100;
                }
                graphic_group(&self.source, &mut seen, &tag, &mut self.layer_names, &mut self.names);
            }
        }
    }

    /// Whether the block of this name holds something wanted, or is one of ours.
    fn leads(&mut self, name: u32) -> bool {
        let Some((at, bytes)) = usize::try_from(name).ok().and_then(|n| Some((n, *self.names.all.get(n)?))) else {
            return false;
        };
        if let Some(known) = self.skip.as_ref().and_then(|skip| skip.leading.get(at).copied().flatten()) {
            return known;
        }
        let folded = self.folded(name);
        if self.skip.as_ref().is_some_and(|skip| skip.blocks.is_none()) {
            let blocks = self.blocks_with_wanted();
            if let Some(skip) = &mut self.skip {
                skip.blocks = Some(blocks);
            }
        }
        let Some(skip) = &mut self.skip else { return true };
        let leads =
            ours::is_post_name(bytes) || skip.blocks.as_ref().and_then(|b| b.get(&folded)).copied().unwrap_or(false);
        if skip.leading.len() <= at {
            skip.leading.resize(at + 1, None);
        }
        if let Some(slot) = skip.leading.get_mut(at) {
            *slot = Some(leads);
        }
        leads
    }

    /// By folded name; the first block of a name is the one that counts.
    fn blocks_with_wanted(&self) -> HashMap<String, bool> {
        let mut places = HashMap::new();
        let names: Vec<String> = self.blocks.iter().map(|block| self.folded(block.name)).collect();
        for (b, name) in names.iter().enumerate() {
            places.entry(name.as_str()).or_insert(b);
        }
        let target = |record: &Record| match record.kind {
            Kind::Insert => places.get(self.folded(record.name).as_str()).copied(),
            _ => None,
        };
        let layers = self.skip.as_ref().map(|skip| skip.layers.as_slice()).unwrap_or_default();
        let wanted = |layer: u32| {
            let settled = usize::try_from(layer).ok().and_then(|n| layers.get(n));
            settled.is_some_and(|(wanted, zero)| *wanted && !zero)
        };
        let deep = blocks_with_wanted(&self.blocks, &self.records, &target, &wanted);
        let host = self.skip.as_ref().is_some_and(|skip| skip.needs.host);
        let is_ours = |b: usize| {
            let head = self.blocks.get(b).and_then(|block| self.records.get(block.head));
            host && head.is_some_and(|head| head.ours)
        };
        let leads = |b: usize| is_ours(b) || deep.get(b).copied().unwrap_or(true);
        places.into_iter().map(|(name, b)| (name.to_owned(), leads(b))).collect()
    }

    fn folded(&self, name: u32) -> String {
        let bytes = usize::try_from(name).ok().and_then(|n| self.names.all.get(n));
        bytes.map(|bytes| text::folded(&text::decode(bytes, self.encoding()))).unwrap_or_default()
    }

    /// Adds the record to the row of those that were passed by.
    fn note(&mut self, head: &Tag, handle: u64) {
        if let Some(skip) = &mut self.skip {
            skip.passing = true;
        }
        if let Some(row) = self.records.last_mut().filter(|last| last.kind == Kind::Skipped) {
            row.handle = higher(row.handle, handle);
            return;
        }
        let at = self.records.len();
        self.records.push(Record { handle, ..Record::begun(head, Kind::Skipped, NONE) });
        if self.section == Some(SectionKind::Blocks) {
            self.block_record(at, Kind::Skipped);
        }
    }

    /// Whether a block is open that is no layout.
    fn is_in_block(&mut self) -> bool {
        let encoding = self.encoding();
        let Some((block, skip)) = self.blocks.last().filter(|b| b.end.is_none()).zip(self.skip.as_mut()) else {
            return false;
        };
        if skip.layout.0 != block.head {
            let name = usize::try_from(block.name).ok().and_then(|n| self.names.all.get(n));
            let name = name.map(|name| text::decode(name, encoding)).unwrap_or_default();
            skip.layout = (block.head, is_layout(&name));
        }
        !skip.layout.1
    }

    /// Settles for each layer name used, in the order of their use, whether it is wanted. Names that differ in case are one
    /// layer, called as in the table or as first used.
    fn settle_layers(&mut self) {
        let settled = self.skip.as_ref().map_or(0, |skip| skip.layers.len());
        if settled == self.layer_names.all.len() {
            return;
        }
        let encoding = self.encoding();
        let decoded = |bytes: &[u8]| text::decode(bytes, encoding).into_owned();
        let Some(skip) = &mut self.skip else { return };
        let wanted = skip.needs.wanted;
        let names = skip.names.get_or_insert_with(|| {
            let mut names = HashMap::new();
            for layer in &self.layers {
                let name =
                    self.records.get(layer.record).and_then(|r| self.names.all.get(usize::try_from(r.name).ok()?));
                let name = name.map(|name| decoded(name)).unwrap_or_default();
                names.entry(text::folded(&name)).or_insert_with(|| wanted(&name));
            }
            names
        });
        for used in self.layer_names.all.iter().skip(settled) {
            let name = decoded(used);
            let folded = text::folded(&name);
            let zero = folded == "0";
            skip.layers.push((*names.entry(folded).or_insert_with(|| wanted(&name)), zero));
        }
    }

    /// A version that is refused needs nothing: how its names are read is of no account.
    fn encoding(&self) -> &'static Encoding {
        let version = self.version(&mut Vec::new()).unwrap_or(Version::R12);
        text::encoding_of(version, self.code_page().as_deref()).0
    }
}
