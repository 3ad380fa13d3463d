//! What the records of a drawing refer to: gathered in a first walk, before the checks of the second.

use std::collections::{BTreeMap, BTreeSet};

use super::Errors;
use super::reader::Tag;
use super::walk::{Place, Record};
use crate::cad::Version;

/// A table.
#[derive(Debug, Default)]
pub(super) struct Table {
    pub(super) handle: Option<u64>,
    declared: Option<i64>,
    line: Option<u64>,
    count: i64,
    /// Handles of its records by their names.
    pub(super) records: BTreeMap<String, Option<u64>>,
}

/// A header variable's first value and its line.
#[derive(Debug, Default)]
pub(super) struct HeaderVariable {
    pub(super) text: String,
    number: Option<i64>,
    pub(super) line: Option<u64>,
}

#[derive(Debug, Default)]
pub(super) struct Facts {
    pub(super) header: BTreeMap<String, HeaderVariable>,
    pub(super) tables: BTreeMap<String, Table>,
    pub(super) blocks: BTreeSet<String>,
    /// Handle and line of every record that has one.
    handles: Vec<(u64, Option<u64>)>,
    /// LAYOUT objects by their handles: the block record of the space that each shows.
    pub(super) layouts: BTreeMap<u64, Option<u64>>,
    /// Block names by the handles of their BLOCK_RECORDs.
    block_names: BTreeMap<u64, String>,
}

/// Block record of the space that a LAYOUT shows.
pub(super) fn shown(layout: &Record<'_>) -> Option<u64> {
    layout.data().skip_while(|tag| tag.text() != "AcDbLayout").find(|tag| tag.code == 330).and_then(Tag::handle)
}

/// Tables that a drawing may not lack (DXF reference, "TABLES section").
const TABLES: [&str; 4] = ["LTYPE", "LAYER", "STYLE", "APPID"];

impl Facts {
    /// Takes note of a record of the first walk.
    pub(super) fn add(&mut self, errors: &mut Errors, place: &Place, record: &Record<'_>) {
        if place.section == "HEADER" && record.kind == "SECTION" {
            self.read_header(record);
        }
        if let Some(handle) = record.handle() {
            self.handles.push((handle, record.line));
        }
        if record.kind == "LAYOUT" {
            self.layouts.extend(record.handle().map(|own| (own, shown(record))));
        }
        if record.kind == "BLOCK" && place.section == "BLOCKS" && !self.blocks.insert(record.name()) {
            errors.on(record, format!("block {} is defined twice", record.name()));
        }
        if let (Some(name), true) = (&place.table, record.kind != "ENDTAB") {
            self.add_table_record(errors, name, record);
        }
    }

    fn read_header(&mut self, record: &Record<'_>) {
        for pair in record.tags.windows(2) {
            let [name, value] = pair else { continue };
            if name.code == 9 {
                let value = HeaderVariable { text: value.name(), number: value.int(), line: value.line };
                self.header.insert(name.name(), value);
            }
        }
    }

    fn add_table_record(&mut self, errors: &mut Errors, name: &str, record: &Record<'_>) {
        let is_new = !self.tables.contains_key(name);
        let table = self.tables.entry(name.to_owned()).or_default();
        if record.kind == "TABLE" {
            if !is_new {
                errors.on(record, format!("table {name} comes twice"));
            }
            let (handle, declared) = (record.handle(), record.tag(70).and_then(Tag::int));
            *table = Table { handle, declared, line: record.line, ..Table::default() };
            return;
        }
        table.count += 1;
        let own = record.name();
        // Several view ports share the name of the active one, and shape files have no name.
        if table.records.insert(own.clone(), record.handle()).is_some() && name != "VPORT" && !own.is_empty() {
            errors.on(record, format!("{name} {own} has two records"));
        }
    }

    /// `$ACADVER`; a drawing without it is R12.
    pub(super) fn version(&self) -> Version {
        let number = self.header.get("$ACADVER").and_then(|v| v.text.strip_prefix("AC")?.parse().ok());
        number.map_or(Version::R12, Version)
    }

    /// Whether entities must have handles: from R13, and before it where the header says so or any has one.
    pub(super) fn needs_handles(&self) -> bool {
        let is_on = self.header.get("$HANDLING").is_some_and(|v| v.number == Some(1));
        self.version() >= Version::R13 || is_on || !self.handles.is_empty()
    }

    /// Whether there is a record with this handle.
    pub(super) fn knows(&self, handle: u64) -> bool {
        self.handles.binary_search_by_key(&handle, |(handle, _)| *handle).is_ok()
    }

    /// Whether a table has a record of this name.
    pub(super) fn has(&self, table: &str, name: &str) -> bool {
        self.tables.get(table).is_some_and(|table| table.records.contains_key(name))
    }

    /// Handle of a table's head.
    pub(super) fn table_handle(&self, table: &str) -> Option<u64> {
        self.tables.get(table).and_then(|table| table.handle)
    }

    /// Handle of a block's BLOCK_RECORD.
    pub(super) fn block_record(&self, block: &str) -> Option<u64> {
        self.tables.get("BLOCK_RECORD").and_then(|table| *table.records.get(block)?)
    }

    /// Name of the block whose BLOCK_RECORD has this handle.
    pub(super) fn block_of(&self, record: u64) -> Option<&str> {
        self.block_names.get(&record).map(String::as_str)
    }

    /// Whether a layout shows the space of this block record.
    pub(super) fn is_shown(&self, space: u64) -> bool {
        self.layouts.values().any(|shown| *shown == Some(space))
    }

    /// Ends the gathering and checks what concerns the drawing as a whole.
    pub(super) fn check(&mut self, errors: &mut Errors) {
        self.handles.sort_unstable();
        let records = self.tables.get("BLOCK_RECORD").map(|table| &table.records).into_iter().flatten();
        self.block_names = records.filter_map(|(name, handle)| Some(((*handle)?, name.clone()))).collect();
        let version = self.version();
        match self.header.get("$ACADVER") {
            Some(v) if !Version::KNOWN.iter().any(|(known, _)| known.acadver() == v.text) => {
                errors.add(v.line, None, format!("version {} is not known", v.text));
            }
            None if version >= Version::R13 => errors.add(None, None, "the header gives no $ACADVER".to_owned()),
            _ => {}
        }
        self.check_handles(errors);
        self.check_tables(errors, version);
        self.check_header(errors);
    }

    fn check_handles(&self, errors: &mut Errors) {
        for pair in self.handles.windows(2) {
            if let [(first, _), (second, line)] = pair
                && first == second
            {
                errors.add(
                    *line,
                    Some(*second),
                    format!("handle {second:X} is a duplicate: another record has it too"),
                );
            }
        }
        let Some((highest, _)) = self.handles.last().filter(|_| self.needs_handles()) else { return };
        match self.header.get("$HANDSEED") {
            None if self.version() >= Version::R13 => {
                errors.add(None, None, "the header gives no $HANDSEED".to_owned());
            }
            None => {}
            Some(seed) => match u64::from_str_radix(&seed.text, 16) {
                Ok(value) if value > *highest => {}
                _ => {
                    let text = &seed.text;
                    errors.add(seed.line, None, format!("$HANDSEED {text} is stale: handle {highest:X} is in use"));
                }
            },
        }
    }

    fn check_tables(&self, errors: &mut Errors, version: Version) {
        for (name, table) in &self.tables {
            if table.declared != Some(table.count) {
                let declared = table.declared.map_or("none".to_owned(), |count| count.to_string());
                let message = format!("table {name} says {declared} records, but has {}", table.count);
                errors.add(table.line, table.handle, message);
            }
        }
        if version < Version::R13 {
            return;
        }
        for name in TABLES.into_iter().chain(["BLOCK_RECORD", "DIMSTYLE"]) {
            if !self.tables.contains_key(name) {
                errors.add(None, None, format!("there is no table {name}"));
            }
        }
        let records = self.tables.get("BLOCK_RECORD").map(|table| &table.records);
        for name in records.into_iter().flat_map(BTreeMap::keys).filter(|name| !self.blocks.contains(*name)) {
            errors.add(None, self.block_record(name), format!("BLOCK_RECORD {name} has no block"));
        }
    }

    fn check_header(&self, errors: &mut Errors) {
        for (variable, table) in [("$CLAYER", "LAYER"), ("$TEXTSTYLE", "STYLE"), ("$DIMSTYLE", "DIMSTYLE")] {
            let value =
                self.header.get(variable).filter(|value| self.tables.contains_key(table) && !value.text.is_empty());
            if let Some(value) = value.filter(|value| !self.has(table, &value.text)) {
                let name = &value.text;
                errors.add(value.line, None, format!("{variable} names {table} {name}, which has no record"));
            }
        }
    }
}
