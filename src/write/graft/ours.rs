//! Which records of a file are ours from an earlier run: these go before the new ones come.

use std::collections::{BTreeMap, BTreeSet};
use std::ops::Range;

use super::journal::Journal;
use super::lost;
use super::symbols::Symbol;
use crate::cad::scan::{Block, DAMAGED_HANDLE, Index, Kind, Record, SectionKind};
use crate::cad::tag::{Stops, Tag};
use crate::cad::{Version, decode, folded};
use crate::catalog::OwnLayers;
use crate::deck::Lost;
use crate::write::dxf::APP_ID;

/// What an earlier run has left in a file.
#[derive(Debug, Default)]
pub(super) struct Ours {
    /// By record: whether it goes.
    cut: Vec<bool>,
    /// What that run changed.
    pub(super) journal: Journal,
    /// Records of the user's that point to what goes, such as groups.
    pub(super) pointers: usize,
    /// Whether something of ours stays because records of the user's use it.
    pub(super) stays: bool,
    /// Highest handle that a record of the user's points to, of what is not ours. Where no record has it, none of ours may
    /// get it, or it would be taken for one that the user's records use.
    pub(super) pointed: u64,
}

/// Groups whose values are handles of other records (DXF reference, "Group code value types": pointers and owners).
static POINTERS: Stops = Stops::at(&[480, 481, 1005]).and(320, 369).and(390, 399);

/// Records that go or stay together.
#[derive(Debug)]
struct Unit {
    records: Range<usize>,
    /// What others can call it by; nothing for what never stays.
    name: Option<(Symbol, String)>,
    stays: bool,
}

impl Ours {
    /// Finds them. What the user's records use stays: a layer with something of the user's on it, a style, a block.
    pub(super) fn of(bytes: &[u8], index: &Index, lost: Option<&Lost>) -> Self {
        let mut finder =
            Finder { bytes, index, units: Vec::new(), unit_of: BTreeMap::new(), pictures: BTreeSet::new() };
        let default = OwnLayers::default();
        finder.pictures = finder.pictures(lost.map_or(&default, |lost| &lost.layers));
        finder.tables();
        finder.blocks_and_entities();
        if let Some(lost) = lost {
            lost::add(&mut finder, lost);
        }
        let mut ours = Self { cut: vec![false; index.records.len()], ..Self::default() };
        if finder.units.is_empty() {
            ours.pointed = finder.highest_pointer();
            return ours;
        }
        let owned = finder.owned();
        (ours.pointers, ours.pointed) = finder.uses(&owned);
        ours.journal = finder.journal();
        ours.stays = finder.units.iter().any(|unit| unit.stays);
        for unit in finder.units.iter().filter(|unit| !unit.stays) {
            ours.mark(unit.records.clone());
        }
        for (record, unit) in owned {
            if finder.units.get(unit).is_some_and(|unit| !unit.stays) {
                ours.mark(record..record + 1);
            }
        }
        ours.cut_made(bytes, index);
        ours
    }

    /// Whether a record goes.
    pub(super) fn is_cut(&self, record: usize) -> bool {
        self.cut.get(record).copied().unwrap_or(false)
    }

    /// The application's name, which stays where marks of it stay.
    pub(super) fn keep(&mut self, record: usize) {
        if let Some(flag) = self.cut.get_mut(record) {
            *flag = false;
        }
    }

    fn mark(&mut self, records: Range<usize>) {
        for flag in self.cut.get_mut(records).into_iter().flatten() {
            *flag = true;
        }
    }

    /// Tables and sections that we made and that hold nothing but ours.
    fn cut_made(&mut self, bytes: &[u8], index: &Index) {
        let made = std::mem::take(&mut self.journal.made);
        for table in index.tables.iter().filter(|table| made.contains(table.name.trim())) {
            if let (true, Some(end)) = (table.entries.clone().all(|entry| self.is_cut(entry)), table.end) {
                self.mark(table.head..end + 1);
            }
        }
        for section in index.sections.iter().filter(|section| made.contains(section.name.trim())) {
            let all = section.records.clone();
            // Our header tells the version only.
            let variables = index.tags(bytes, all.start).flatten().filter(|tag| tag.code == 9).count();
            if variables < 2 && (all.start + 1..all.end.saturating_sub(1)).all(|inner| self.is_cut(inner)) {
                self.mark(all);
            }
        }
        self.journal.made = made;
    }
}

pub(super) struct Finder<'a> {
    pub(super) bytes: &'a [u8],
    pub(super) index: &'a Index,
    units: Vec<Unit>,
    /// Units by the handles of their records and of what these own.
    unit_of: BTreeMap<u64, usize>,
    /// Blocks of the pictures of our dimensions, which other programs write anew without marks, or leave behind.
    pictures: BTreeSet<String>,
}

impl Finder<'_> {
    fn record(&self, at: usize) -> Option<&Record> {
        self.index.records.get(at)
    }

    fn name(&self, at: usize) -> String {
        self.record(at).map_or_else(String::new, |record| folded(self.index.name(record.name)))
    }

    /// Adds records that go together.
    pub(super) fn add(&mut self, records: Range<usize>, name: Option<(Symbol, String)>) {
        for handle in self.index.records.get(records.clone()).into_iter().flatten().map(|r| r.handle) {
            if handle != 0 {
                self.unit_of.insert(handle, self.units.len());
            }
        }
        self.units.push(Unit { records, name, stays: false });
    }

    fn pictures(&self, layers: &OwnLayers) -> BTreeSet<String> {
        let index = self.index;
        let is_ours = |r: &Record| r.ours && index.kind_text(r.kind) == "DIMENSION";
        let ours = index.records.iter().enumerate().filter(|(_, record)| is_ours(record));
        let left = index.blocks.iter().filter(|block| holds_rails(index, block, layers));
        let left = left.map(|block| folded(index.name(block.name))).filter(|name| name.starts_with("*D"));
        ours.filter_map(|(at, _)| self.picture(at)).chain(left).collect()
    }

    /// Name of the block of a dimension's picture.
    pub(super) fn picture(&self, dimension: usize) -> Option<String> {
        self.named(dimension, 2).filter(|name| name.starts_with('*'))
    }

    /// What a group of a record names, folded.
    pub(super) fn named(&self, record: usize, group: i16) -> Option<String> {
        let source = self.index.source(self.bytes);
        let tag = self.index.tags(self.bytes, record).flatten().find(|tag| tag.code == group)?;
        Some(folded(&decode(source.trimmed(&tag), self.index.encoding)))
    }

    fn tables(&mut self) {
        for table in &self.index.tables {
            let Some(symbol) = Symbol::named(&table.name) else { continue };
            for at in table.entries.clone() {
                let name = self.name(at);
                let is_picture = symbol == Symbol::Block && self.pictures.contains(&name);
                let ours = is_picture || self.record(at).is_some_and(|record| record.ours);
                // What every drawing has, a program that knows more than R12 has made its own.
                let standard = matches!(name.as_str(), "0" | "CONTINUOUS");
                match symbol {
                    Symbol::AppId if name == APP_ID => self.add(at..at + 1, None),
                    _ if !ours => {}
                    _ if !standard => self.add(at..at + 1, Some((symbol, name))),
                    _ if self.index.version < Version::R13 => self.add(at..at + 1, None),
                    _ => {}
                }
            }
        }
    }

    fn blocks_and_entities(&mut self) {
        let mut blocks = BTreeSet::new();
        let mut theirs = Vec::new();
        for block in &self.index.blocks {
            let name = folded(self.index.name(block.name));
            let ours = self.pictures.contains(&name) || self.record(block.head).is_some_and(|head| head.ours);
            match (ours, block.end) {
                (true, Some(end)) => {
                    blocks.insert(name.clone());
                    self.add(block.head..end + 1, Some((Symbol::Block, name)));
                }
                _ => theirs.extend(block.records.clone()),
            }
        }
        theirs.extend(self.index.section_records(SectionKind::Entities));
        let is_post =
            |record: &Record| record.kind == Kind::Insert && blocks.contains(&folded(self.index.name(record.name)));
        let marked = theirs.iter().filter_map(|at| self.record(*at)).filter(|record| record.ours && is_post(record));
        let layers: BTreeSet<u32> = marked.map(|record| record.layer).collect();
        let is_ours = |record: &Record| {
            // A post that was put in by hand is read as one, and drawn anew like all.
            !record.is_part() && (record.ours || is_post(record) && layers.contains(&record.layer))
        };
        let heads: Vec<usize> = theirs.into_iter().filter(|at| self.record(*at).is_some_and(is_ours)).collect();
        heads.into_iter().for_each(|head| self.add_entity(head));
    }

    /// Adds an entity with its parts.
    pub(super) fn add_entity(&mut self, head: usize) {
        let parts = self.index.records.iter().skip(head + 1).take_while(|record| record.is_part()).count();
        self.add(head..head + 1 + parts, None);
    }

    /// Objects that belong to ours, such as extension dictionaries that a CAD program has hung on them.
    fn owned(&mut self) -> BTreeMap<usize, usize> {
        let mut owned = BTreeMap::new();
        loop {
            let before = owned.len();
            for at in self.index.section_records(SectionKind::Objects) {
                let Some(record) = self.index.records.get(at) else { continue };
                if let Some(unit) = self.unit_of.get(&record.owner).copied() {
                    owned.insert(at, unit);
                    self.unit_of.entry(record.handle).or_insert(unit);
                }
            }
            if owned.len() == before {
                return owned;
            }
        }
    }

    /// Highest handle that any record points to.
    fn highest_pointer(&self) -> u64 {
        let source = self.index.source(self.bytes);
        let (start, line) = self.index.records.first().map_or((0, 1), |first| (first.start, first.line));
        let mut tags = source.tags(start..self.index.end, line);
        let found = std::iter::from_fn(|| tags.skip_to(&POINTERS)).flatten();
        found.filter_map(|tag| source.handle(&tag)).filter(|handle| *handle < DAMAGED_HANDLE).max().unwrap_or(0)
    }

    /// Lets stay what the user's records use. Gives how many of them point to what goes, and the highest handle that they
    /// point to otherwise.
    fn uses(&mut self, owned: &BTreeMap<usize, usize>) -> (usize, u64) {
        let mut by_name: BTreeMap<(Symbol, String), Vec<usize>> = BTreeMap::new();
        let mut in_unit = vec![false; self.index.records.len()];
        for (number, unit) in self.units.iter().enumerate() {
            if let Some(name) = &unit.name {
                by_name.entry(name.clone()).or_default().push(number);
            }
            in_unit.get_mut(unit.records.clone()).into_iter().flatten().for_each(|flag| *flag = true);
        }
        let is_theirs = |at: &usize| !in_unit.get(*at).copied().unwrap_or(false) && !owned.contains_key(at);
        let mut todo: Vec<usize> = (0..self.index.records.len()).filter(is_theirs).collect();
        let (mut pointers, mut others) = (BTreeSet::new(), 0);
        while let Some(at) = todo.pop() {
            let mut used = Vec::new();
            // A row of records that the scan passed by has many heads.
            let mut head = 0;
            for tag in self.index.tags(self.bytes, at).flatten() {
                if tag.code == 0 {
                    head = tag.start;
                }
                let handle = self.pointer(&tag).unwrap_or(0);
                if let Some(unit) = self.unit_of.get(&handle).copied() {
                    let has_name = self.units.get(unit).is_some_and(|unit| unit.name.is_some());
                    if has_name {
                        used.push(unit);
                    } else {
                        pointers.insert(head);
                    }
                } else if handle < DAMAGED_HANDLE {
                    others = handle.max(others);
                }
                used.extend(self.called(&tag, &by_name));
            }
            for unit in used {
                let Some(unit) = self.units.get_mut(unit).filter(|unit| !unit.stays) else { continue };
                unit.stays = true;
                todo.extend(unit.records.clone());
                // A block and its record stay together.
                if let Some(name) = &unit.name {
                    let both = by_name.get(name).cloned().unwrap_or_default();
                    for other in both {
                        let Some(other) = self.units.get_mut(other).filter(|other| !other.stays) else { continue };
                        other.stays = true;
                        todo.extend(other.records.clone());
                    }
                }
            }
        }
        (pointers.len(), others)
    }

    /// The handle that a tag points to.
    fn pointer(&self, tag: &Tag) -> Option<u64> {
        POINTERS.has(tag.code).then(|| self.index.source(self.bytes).handle(tag)).flatten()
    }

    /// The units that a name may mean.
    fn called(&self, tag: &Tag, by_name: &BTreeMap<(Symbol, String), Vec<usize>>) -> Vec<usize> {
        let symbols: &[Symbol] = match tag.code {
            8 | 1003 => &[Symbol::Layer],
            6 => &[Symbol::Linetype],
            7 => &[Symbol::Style],
            3 => &[Symbol::DimensionStyle],
            // Of an INSERT or DIMENSION the block, in the header the dimension style.
            2 => &[Symbol::Block, Symbol::DimensionStyle],
            _ => return Vec::new(),
        };
        let raw = self.index.source(self.bytes).trimmed(tag);
        let name = folded(&decode(raw, self.index.encoding));
        let units = symbols.iter().filter_map(|symbol| by_name.get(&(*symbol, name.clone())));
        units.flatten().copied().collect()
    }

    /// The latest journal: a record that stays may carry an older one.
    fn journal(&self) -> Journal {
        let mut units: Vec<&Unit> = self.units.iter().collect();
        units.sort_by_key(|unit| unit.stays);
        let heads = units.iter().map(|unit| unit.records.start);
        heads.filter_map(|head| Journal::read(self.bytes, self.index, head)).next().unwrap_or_default()
    }
}

/// Whether a block holds nothing but rails: a drawing of ours that was attached and then bound, or the picture of a
/// dimension.
pub(super) fn holds_rails(index: &Index, block: &Block, layers: &OwnLayers) -> bool {
    let records = index.records.get(block.records.clone()).unwrap_or_default();
    let layer = |r: &Record| index.layer(r).map_or("", |layer| layer.name.as_str());
    let is_rail = |r: &Record| layers.is_ours(layer(r));
    // Strokes of a dimension are on no layer of their own.
    let may_be = |r: &Record| is_rail(r) || layer(r) == "0" || layer(r).eq_ignore_ascii_case("Defpoints");
    let mut all = records.iter().filter(|r| !r.is_part());
    !block.external && records.iter().any(is_rail) && all.all(|r| r.kind != Kind::Skipped && may_be(r))
}
