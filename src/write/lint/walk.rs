//! Records of a drawing with the place that each stands in; whatever breaks the order of sections, tables and blocks
//! ends the walk.

use super::Errors;
use super::reader::{Reader, Tag};

/// A record: everything from one group 0 to the next.
#[derive(Debug, Clone, Default)]
pub(super) struct Record<'a> {
    pub(super) kind: String,
    /// The groups after its group 0.
    pub(super) tags: Vec<Tag<'a>>,
    pub(super) line: Option<u64>,
}

impl<'a> Record<'a> {
    /// Groups in front of the first subclass marker, without those in braces of group 102, and without XDATA.
    fn head(&self) -> impl Iterator<Item = &Tag<'a>> {
        let mut braces = 0i32;
        self.tags.iter().take_while(|tag| !matches!(tag.code, 100 | 1001)).filter(move |tag| {
            if tag.code == 102 {
                braces += if tag.text().starts_with('{') { 1 } else { -1 };
            }
            braces <= 0
        })
    }

    /// Its own handle. Group 5 of a DIMSTYLE and of the header is something else.
    pub(super) fn own(&self) -> Option<&Tag<'a>> {
        let code = match self.kind.as_str() {
            "SECTION" => return None,
            "DIMSTYLE" => 105,
            _ => 5,
        };
        self.head().find(|tag| tag.code == code)
    }

    /// Its own handle as a number.
    pub(super) fn handle(&self) -> Option<u64> {
        self.own().and_then(Tag::handle)
    }

    /// Its owner.
    pub(super) fn owner(&self) -> Option<u64> {
        self.head().find(|tag| tag.code == 330).and_then(Tag::handle)
    }

    /// Its groups without XDATA.
    pub(super) fn data(&self) -> impl Iterator<Item = &Tag<'a>> {
        self.tags.iter().take_while(|tag| tag.code != 1001)
    }

    /// First group with this code.
    pub(super) fn tag(&self, code: i32) -> Option<&Tag<'a>> {
        self.data().find(|tag| tag.code == code)
    }

    /// Its name, as names are compared.
    pub(super) fn name(&self) -> String {
        self.tag(2).map(Tag::name).unwrap_or_default()
    }

    /// Groups that all entities have: up to the marker after `AcDbEntity`, or all of an R12 record.
    pub(super) fn entity_part(&self) -> impl Iterator<Item = &Tag<'a>> {
        let mut markers = 0;
        self.data().take_while(move |tag| {
            markers += i32::from(tag.code == 100);
            markers < 2
        })
    }
}

/// Where a record stands.
#[derive(Debug, Clone, Default, PartialEq, Eq)]
pub(super) struct Place {
    /// Section.
    pub(super) section: String,
    /// Table, in the TABLES section.
    pub(super) table: Option<String>,
    /// Block, in the BLOCKS section; the BLOCK and ENDBLK records included.
    pub(super) block: Option<String>,
    /// Handle of the POLYLINE or INSERT whose part it is.
    pub(super) part_of: Option<Option<u64>>,
}

/// Visits every record. Gives whether the drawing's order is sound; if not, the error is in `errors`.
pub(super) fn walk(bytes: &[u8], errors: &mut Errors, visit: &mut dyn FnMut(&mut Errors, &Place, &Record<'_>)) -> bool {
    let mut reader = Reader::new(bytes);
    let mut walker = Walker { place: Place::default(), seen: Vec::new(), head: None };
    let mut record = Record::default();
    loop {
        let tag = match reader.next() {
            Ok(tag) => tag,
            Err(fault) => {
                errors.add(fault.line, None, fault.message);
                return false;
            }
        };
        match tag {
            Some(tag) if tag.code != 0 => {
                if record.kind.is_empty() && tag.code != 999 {
                    errors.add(tag.line, None, "the drawing does not begin with a group 0".to_owned());
                    return false;
                }
                if tag.code != 999 {
                    record.tags.push(tag);
                }
                continue;
            }
            _ => {}
        }
        if !record.kind.is_empty() {
            match walker.step(&record) {
                Ok(()) => visit(errors, &walker.place, &record),
                Err(message) => {
                    errors.add(record.line, record.handle(), message);
                    return false;
                }
            }
            walker.leave(&record);
        }
        let Some(tag) = tag else {
            errors.add(None, None, "the drawing ends without EOF".to_owned());
            return false;
        };
        record = Record { kind: tag.text().trim().to_owned(), tags: Vec::new(), line: tag.line };
        if record.kind == "EOF" {
            if let Err(message) = walker.finish() {
                errors.add(record.line, None, message);
                return false;
            }
            if !reader.is_at_end() {
                errors.add(record.line, None, "something follows EOF".to_owned());
            }
            if let Some(fault) = reader.mixed {
                errors.add(fault.line, None, fault.message);
            }
            return true;
        }
    }
}

struct Walker {
    place: Place,
    seen: Vec<String>,
    /// The POLYLINE or INSERT whose parts follow, with the kind that they have.
    head: Option<(Option<u64>, &'static str)>,
}

impl Walker {
    /// Moves to the place of `record`.
    fn step(&mut self, record: &Record<'_>) -> Result<(), String> {
        let kind = record.kind.as_str();
        let place = &mut self.place;
        if place.section.is_empty() {
            return self.enter(record);
        }
        match kind {
            "SECTION" => return self.finish(),
            "ENDSEC" => return self.end_of_contents(),
            _ => {}
        }
        match (place.section.as_str(), &place.table, &place.block) {
            ("TABLES", None, _) if kind == "TABLE" => place.table = Some(record.name()),
            ("TABLES", None, _) => return Err(format!("{kind} stands in no table")),
            ("TABLES", Some(table), _) if kind == "TABLE" => return Err(format!("table {table} has no ENDTAB")),
            ("TABLES", Some(table), _) if kind != "ENDTAB" && kind != table => {
                return Err(format!("{kind} stands in table {table}"));
            }
            ("BLOCKS", _, None) if kind == "BLOCK" => place.block = Some(record.name()),
            ("BLOCKS", _, None) => return Err(format!("{kind} stands in no block")),
            ("BLOCKS", _, Some(block)) if kind == "BLOCK" => return Err(format!("block {block} has no ENDBLK")),
            ("BLOCKS", _, Some(_)) | ("ENTITIES", ..) => return self.part(record),
            _ => {}
        }
        Ok(())
    }

    /// After `record` was visited.
    fn leave(&mut self, record: &Record<'_>) {
        match record.kind.as_str() {
            "ENDSEC" => self.place = Place::default(),
            "ENDTAB" => self.place.table = None,
            "ENDBLK" => self.place.block = None,
            "SEQEND" => self.head = None,
            _ => {}
        }
    }

    fn enter(&mut self, record: &Record<'_>) -> Result<(), String> {
        if record.kind != "SECTION" {
            return Err(format!("{} stands outside all sections", record.kind));
        }
        let name = record.name();
        if name.is_empty() {
            return Err("a section has no name".to_owned());
        }
        if self.seen.contains(&name) {
            return Err(format!("section {name} comes twice"));
        }
        self.seen.push(name.clone());
        self.place.section = name;
        Ok(())
    }

    /// Keeps the parts of a POLYLINE or INSERT with their head.
    fn part(&mut self, record: &Record<'_>) -> Result<(), String> {
        let kind = record.kind.as_str();
        self.place.part_of = None;
        match (self.head, kind) {
            (Some((head, part)), _) if kind == part || kind == "SEQEND" => self.place.part_of = Some(head),
            (Some((_, part)), _) => return Err(format!("{kind} stands among {part} records that no SEQEND has ended")),
            (None, "VERTEX" | "ATTRIB" | "SEQEND") => return Err(format!("{kind} belongs to no record before it")),
            (None, "POLYLINE") => self.head = Some((record.handle(), "VERTEX")),
            (None, "INSERT") if record.tag(66).and_then(Tag::int).is_some_and(|flag| flag != 0) => {
                self.head = Some((record.handle(), "ATTRIB"));
            }
            _ => {}
        }
        Ok(())
    }

    fn end_of_contents(&self) -> Result<(), String> {
        if let Some(table) = &self.place.table {
            return Err(format!("table {table} has no ENDTAB"));
        }
        if let Some(block) = &self.place.block {
            return Err(format!("block {block} has no ENDBLK"));
        }
        match self.head {
            Some((_, part)) => Err(format!("no SEQEND has ended the {part} records")),
            None => Ok(()),
        }
    }

    /// At the end, no section may be open.
    fn finish(&self) -> Result<(), String> {
        if self.place.section.is_empty() {
            return Ok(());
        }
        self.end_of_contents()?;
        Err(format!("section {} has no ENDSEC", self.place.section))
    }
}
