//! Puts our records at their places, and takes those of an earlier run away.

use super::host::{Host, grown, padded};
use super::journal::Journal;
use super::pieces::Edits;
use super::symbols::Symbol;
use crate::cad::Version;
use crate::cad::scan::{SectionKind, Table};
use crate::write::dxf::document::{section, table};
use crate::write::dxf::tables::{self, LayerRecord, LinetypeRecord, Record};
use crate::write::dxf::{APP_ID, Handle, Handles, Mark, Records, Tags};

/// Our records for one file.
#[derive(Debug, Default)]
pub(super) struct Added {
    pub(super) records: Records,
    /// What `$HANDSEED` must say at least; nothing where the file has no handles.
    pub(super) seed: Option<Handle>,
    /// Handles for the heads of tables that the file lacks.
    pub(super) heads: Vec<(Symbol, Handle)>,
}

impl Added {
    fn of(&self, symbol: Symbol) -> &[Record] {
        match symbol {
            Symbol::Linetype => &self.records.linetypes,
            Symbol::Layer => &self.records.layers,
            Symbol::Style => &self.records.styles,
            Symbol::AppId => &self.records.app_ids,
            Symbol::DimensionStyle => &self.records.dimension_styles,
            Symbol::Block => &self.records.block_records,
        }
    }

    /// What R12 takes for granted and our records refer to, where the file has no record of it.
    pub(super) fn add_standard(&mut self, host: &Host<'_>) {
        if host.target.version >= Version::R13 {
            return;
        }
        let add = |name: &str, write: &dyn Fn(&mut Tags<'_>)| {
            let mut tags = Tags::new(&host.target);
            write(&mut tags);
            tags.mark(Mark { kind: "standard", id: name, facts: &[] });
            Record { name: name.to_owned(), bytes: tags.into_bytes() }
        };
        // R12 gives handles to entities only.
        let none = || (Handles::starting_at(0), Handle::default());
        if !host.has(Symbol::Linetype, "CONTINUOUS") {
            let record = LinetypeRecord { name: "CONTINUOUS", description: "Solid line", pattern: &[], ours: false };
            let write = |tags: &mut Tags<'_>| tables::linetype(tags, &mut none().0, none().1, &record);
            self.records.linetypes.insert(0, add("CONTINUOUS", &write));
        }
        if !host.has(Symbol::Layer, "0") {
            let linetype = "CONTINUOUS";
            let record = LayerRecord {
                name: "0",
                colour: 7,
                linetype,
                pen: -3,
                is_plotted: true,
                plot_style: None,
                ours: false,
            };
            let write = |tags: &mut Tags<'_>| tables::layer(tags, &mut none().0, none().1, &record);
            self.records.layers.insert(0, add("0", &write));
        }
    }

    /// Notes what will be changed, in a table record of ours; a layer by preference, as other programs mark these too.
    fn write_journal(&mut self, host: &Host<'_>, journal: &Journal) {
        let Records { layers, styles, linetypes, app_ids, .. } = &mut self.records;
        let mut tags = Tags::new(&host.target);
        let record = [layers, styles, linetypes].into_iter().find_map(|records| records.last_mut());
        let record = record.or_else(|| {
            tags.mark(Mark { kind: "record", id: APP_ID, facts: &[] });
            app_ids.last_mut()
        });
        journal.write(&mut tags);
        if let Some(record) = record {
            record.bytes.extend(tags.into_bytes());
        }
    }
}

/// All changes of the file: an earlier run's records go, and `added` come.
pub(super) fn edits(host: &Host<'_>, mut added: Added) -> Edits {
    let mut edits = Edits::default();
    cut(host, &mut edits);
    let mut journal = Journal::default();
    seed(host, &mut edits, added.seed, &mut journal);
    for table in host.tables() {
        count(host, &mut edits, table, &added, &mut journal);
    }
    journal.made.extend(missing(host, &added));
    if !added.records.app_ids.is_empty() {
        added.write_journal(host, &journal);
    }
    if journal.made.contains("HEADER") {
        edits.insert(first_section(host), header(host));
    }
    insert_tables(host, &mut edits, &added);
    let blocks: Vec<u8> = added.records.blocks.into_iter().flat_map(|record| record.bytes).collect();
    match host.section(SectionKind::Blocks) {
        Some(section) => edits.insert(host.section_end(section), blocks),
        None if blocks.is_empty() => {}
        None => edits.insert(before_section(host, &[SectionKind::Entities]), new_section(host, "BLOCKS", &blocks)),
    }
    if let Some(section) = host.section(SectionKind::Entities) {
        edits.insert(host.section_end(section), added.records.entities);
    }
    edits
}

/// Takes an earlier run's records away.
fn cut(host: &Host<'_>, edits: &mut Edits) {
    let mut start = None;
    for at in 0..=host.index.records.len() {
        match (host.ours.is_cut(at), start) {
            (true, None) => start = Some(host.start(at)),
            (false, Some(from)) => {
                edits.replace(from..host.start(at), Vec::new());
                start = None;
            }
            _ => {}
        }
    }
}

/// Brings a table's count to what it must be.
fn count(host: &Host<'_>, edits: &mut Edits, table: &Table, added: &Added, journal: &mut Journal) {
    let (Some(tag), Some(before)) = (table.count, host.count(table)) else { return };
    let symbol = Symbol::named(&table.name).filter(|symbol| host.table(*symbol) == Some(table));
    let new = symbol.map_or(0, |symbol| added.of(symbol).len());
    let mut text = before.clone();
    if new > 0 {
        text = padded(&before, grown(&before, host.left(table), new));
        journal.counts.insert(table.name.trim().to_owned(), before);
    }
    if host.count_now(table).as_ref() == Some(&text) {
        return;
    }
    let bytes = if host.target.binary {
        // A whole number of two bytes.
        let value = text.trim().parse::<i64>().unwrap_or(0).clamp(0, i64::from(i16::MAX));
        value.to_le_bytes().into_iter().take(2).collect()
    } else {
        text.into_bytes()
    };
    edits.replace(tag.value_range(), bytes);
}

/// Brings `$HANDSEED` to what it must be.
fn seed(host: &Host<'_>, edits: &mut Edits, least: Option<Handle>, journal: &mut Journal) {
    let before = host.seed();
    let given = before.as_deref().and_then(|text| u64::from_str_radix(text.trim(), 16).ok());
    let wanted = match least {
        Some(least) if given.is_none_or(|given| given < least.0) => {
            journal.seed = Some((least.to_string(), before));
            Some(least.to_string())
        }
        _ => before,
    };
    match (host.variable("$HANDSEED"), &wanted) {
        (Some((_, value)), Some(text)) if host.source().raw(&value) != text.as_bytes() => {
            edits.replace(value.value_range(), text.clone().into_bytes());
        }
        (Some((name, value)), None) => edits.replace(name.start..value.end, Vec::new()),
        (None, Some(text)) => {
            if let Some(section) = host.section(SectionKind::Header) {
                let mut tags = Tags::new(&host.target);
                tags.text(9, "$HANDSEED");
                tags.text(5, text);
                // Behind the variables, also where a damaged drawing has records in its header.
                edits.insert(host.index.range(section.records.start).end, tags.into_bytes());
            }
        }
        _ => {}
    }
}

/// Sections and tables that the file lacks and our records need.
fn missing(host: &Host<'_>, added: &Added) -> Vec<String> {
    let mut missing = Vec::new();
    if added.records.app_ids.is_empty() {
        return missing;
    }
    let mut section = |kind, name: &str, needed: bool| {
        if needed && host.section(kind).is_none() {
            missing.push(name.to_owned());
        }
    };
    section(SectionKind::Header, "HEADER", true);
    section(SectionKind::Tables, "TABLES", true);
    section(SectionKind::Blocks, "BLOCKS", !added.records.blocks.is_empty());
    let tables = Symbol::ALL.into_iter().filter(|s| host.table(*s).is_none() && !added.of(*s).is_empty());
    missing.extend(tables.map(|symbol| symbol.name().to_owned()));
    missing
}

fn insert_tables(host: &Host<'_>, edits: &mut Edits, added: &Added) {
    let mut made = Vec::new();
    for symbol in Symbol::ALL {
        let records = added.of(symbol);
        if records.is_empty() {
            continue;
        }
        let bytes: Vec<u8> = records.iter().flat_map(|record| record.bytes.clone()).collect();
        if let Some(end) = host.table(symbol).and_then(|table| table.end) {
            edits.insert(host.start(end), bytes);
            continue;
        }
        let head = added.heads.iter().find(|(other, _)| *other == symbol).map(|(_, head)| *head).unwrap_or_default();
        let mut tags = Tags::new(&host.target);
        table(&mut tags, symbol.name(), head, records.len(), |tags| tags.raw(&bytes));
        let next = host.tables().find(|table| symbol.is_before(&table.name)).map(|table| host.start(table.head));
        match host.section(SectionKind::Tables).map(|section| host.section_end(section)) {
            Some(end) => edits.insert(next.unwrap_or(end), tags.into_bytes()),
            None => made.extend(tags.into_bytes()),
        }
    }
    if !made.is_empty() {
        let at = before_section(host, &[SectionKind::Blocks, SectionKind::Entities]);
        edits.insert(at, new_section(host, "TABLES", &made));
    }
}

fn new_section(host: &Host<'_>, name: &str, contents: &[u8]) -> Vec<u8> {
    let mut tags = Tags::new(&host.target);
    section(&mut tags, name, |tags| tags.raw(contents));
    tags.into_bytes()
}

/// A header for a drawing that has none, and so no handles.
fn header(host: &Host<'_>) -> Vec<u8> {
    let mut tags = Tags::new(&host.target);
    section(&mut tags, "HEADER", |tags| {
        tags.text(9, "$ACADVER");
        tags.text(1, &host.target.version.acadver());
    });
    tags.into_bytes()
}

/// First byte of the first of these sections.
fn before_section(host: &Host<'_>, kinds: &[SectionKind]) -> usize {
    let starts = kinds.iter().filter_map(|kind| host.section(*kind)).map(|section| host.start(section.records.start));
    starts.min().unwrap_or(host.index.end)
}

/// First byte of the file's first section.
fn first_section(host: &Host<'_>) -> usize {
    let sections = host.index.sections.iter().filter(|section| !host.ours.is_cut(section.records.start));
    sections.map(|section| host.start(section.records.start)).min().unwrap_or(host.index.end)
}
