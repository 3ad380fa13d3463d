//! The checks of single records: handle, owner, markers, what they refer to, text encoding.

use encoding_rs::Encoding;

use super::facts::{Facts, shown};
use super::reader::{Tag, Value};
use super::walk::{Place, Record};
use super::{Errors, markers};
use crate::cad::Version;

/// What a record is, as far as the checks differ.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
enum Role {
    TableHead,
    TableRecord,
    Entity,
    Object,
}

fn role(place: &Place, record: &Record<'_>) -> Option<Role> {
    if matches!(record.kind.as_str(), "SECTION" | "ENDSEC" | "ENDTAB") {
        return None;
    }
    match place.section.as_str() {
        "TABLES" if record.kind == "TABLE" => Some(Role::TableHead),
        "TABLES" => Some(Role::TableRecord),
        "BLOCKS" | "ENTITIES" => Some(Role::Entity),
        "OBJECTS" => Some(Role::Object),
        _ => None,
    }
}

/// What the second walk knows.
pub(super) struct Checks<'f> {
    facts: &'f Facts,
    version: Version,
    needs_handles: bool,
    /// Code page of texts before R2007; none for one that the library does not know.
    code_page: Option<&'static Encoding>,
    is_root_seen: bool,
}

impl<'f> Checks<'f> {
    pub(super) fn new(facts: &'f Facts) -> Self {
        let label = facts.header.get("$DWGCODEPAGE").map_or("ANSI_1252", |value| &value.text);
        let digits = label.trim_start_matches(|c: char| !c.is_ascii_digit());
        let label = match digits {
            "932" => "shift_jis".to_owned(),
            "936" => "gbk".to_owned(),
            "949" => "euc-kr".to_owned(),
            "950" => "big5".to_owned(),
            _ => format!("windows-{digits}"),
        };
        Self {
            facts,
            version: facts.version(),
            needs_handles: facts.needs_handles(),
            code_page: Encoding::for_label(label.as_bytes()),
            is_root_seen: false,
        }
    }

    pub(super) fn check(&mut self, errors: &mut Errors, place: &Place, record: &Record<'_>) {
        self.encoding(errors, record);
        let Some(role) = role(place, record) else { return };
        self.handle(errors, role, record);
        self.markers(errors, role, place, record);
        if self.version >= Version::R2000 {
            self.owner(errors, role, place, record);
        }
        self.app_ids(errors, record);
        match role {
            Role::Entity => self.entity(errors, place, record),
            Role::TableRecord => self.table_record(errors, record),
            Role::Object if record.kind == "LAYOUT" => self.layout(errors, record),
            Role::TableHead | Role::Object => {}
        }
    }

    fn encoding(&self, errors: &mut Errors, record: &Record<'_>) {
        for tag in &record.tags {
            let Value::Text(bytes) = tag.value else { continue };
            if bytes.is_ascii() {
                continue;
            }
            let is_utf8 = std::str::from_utf8(bytes).is_ok();
            let message = if self.version >= Version::R2007 {
                (!is_utf8).then(|| "this text is not UTF-8, as texts are from R2007 on".to_owned())
            } else {
                // In a code page of two-byte characters UTF-8 can be true text by chance, but rarely is valid.
                let one_byte = self.code_page.is_none_or(Encoding::is_single_byte);
                let is_damaged = || self.code_page.is_some_and(|page| page.decode_without_bom_handling(bytes).1);
                let name = self.version.name();
                (is_utf8 && (one_byte || is_damaged()))
                    .then(|| format!("this text is UTF-8, which {name} does not know"))
            };
            if let Some(message) = message {
                errors.add(tag.line.map(|line| line + 1), record.handle(), message);
            }
        }
    }

    fn handle(&self, errors: &mut Errors, role: Role, record: &Record<'_>) {
        match record.own() {
            Some(own) if own.handle().is_none_or(|handle| handle == 0) => {
                errors.on(record, format!("{} has the handle `{}`, which is none", record.kind, own.text()));
            }
            Some(_) => {}
            // R12 gives handles to entities only.
            None if self.version < Version::R13
                && (role != Role::Entity || matches!(record.kind.as_str(), "BLOCK" | "ENDBLK")) => {}
            None if self.needs_handles => errors.on(record, format!("{} has no handle", record.kind)),
            None => {}
        }
    }

    fn markers(&self, errors: &mut Errors, role: Role, place: &Place, record: &Record<'_>) {
        let mut given = record.data().filter(|tag| tag.code == 100).map(Tag::text);
        if self.version < Version::R13 {
            if let Some(marker) = given.next() {
                errors.on(record, format!("{} has the subclass marker {marker}, which R12 does not know", record.kind));
            }
            return;
        }
        let mut needed: Vec<&str> = Vec::new();
        match role {
            Role::TableHead => needed.push("AcDbSymbolTable"),
            Role::TableRecord => {
                needed.push("AcDbSymbolTableRecord");
                needed.extend(place.table.as_deref().and_then(markers::of_table));
            }
            Role::Entity => {
                needed.push("AcDbEntity");
                needed.extend(markers::of_entity(&record.kind));
            }
            Role::Object => needed.extend(markers::of_object(&record.kind)),
        }
        let count = record.data().filter(|tag| tag.code == 100).count();
        for marker in needed {
            if !given.any(|other| other == marker) {
                return errors.on(record, format!("{} has no subclass marker {marker}", record.kind));
            }
        }
        let flags = record.tag(70).and_then(Tag::int).unwrap_or(0);
        if role == Role::Entity && count <= markers::least(&record.kind, flags) {
            errors.on(record, format!("{} has too few subclass markers", record.kind));
        }
    }

    fn owner(&mut self, errors: &mut Errors, role: Role, place: &Place, record: &Record<'_>) {
        let kind = &record.kind;
        let Some(owner) = record.owner() else { return errors.on(record, format!("{kind} has no owner (group 330)")) };
        let is_right = match role {
            Role::TableHead => owner == 0,
            Role::TableRecord => Some(owner) == place.table.as_deref().and_then(|t| self.facts.table_handle(t)),
            Role::Entity => match (place.part_of, &place.block) {
                (Some(head), _) => Some(owner) == head,
                (None, Some(block)) => Some(owner) == self.facts.block_record(block),
                (None, None) => self.is_space(owner, record),
            },
            Role::Object => {
                let is_root = !std::mem::replace(&mut self.is_root_seen, true);
                if is_root { owner == 0 } else { self.facts.knows(owner) }
            }
        };
        if !is_right {
            errors.on(record, format!("{kind} has the wrong owner {owner:X}"));
        }
    }

    /// Whether `owner` is the model space or, with group 67, a paper space.
    fn is_space(&self, owner: u64, record: &Record<'_>) -> bool {
        let in_paper = record.entity_part().any(|tag| tag.code == 67 && tag.int() == Some(1));
        let space = if in_paper { "*PAPER_SPACE" } else { "*MODEL_SPACE" };
        self.facts.block_of(owner).is_some_and(|name| name.starts_with(space))
    }

    fn app_ids(&self, errors: &mut Errors, record: &Record<'_>) {
        for tag in record.tags.iter().filter(|tag| tag.code == 1001) {
            self.named(errors, record, "APPID", Some(tag));
        }
    }

    /// `tag`, if there is one, names a record of `table`.
    fn named(&self, errors: &mut Errors, record: &Record<'_>, table: &str, tag: Option<&Tag<'_>>) {
        let Some(tag) = tag else { return };
        let name = tag.name();
        if !self.facts.has(table, &name) {
            let kind = &record.kind;
            errors.on(record, format!("{kind} uses {table} {}, which has no record", tag.text().trim()));
        }
    }

    fn linetype(&self, errors: &mut Errors, record: &Record<'_>, tag: Option<&Tag<'_>>) {
        let tag = tag.filter(|tag| !matches!(tag.name().as_str(), "BYLAYER" | "BYBLOCK" | ""));
        self.named(errors, record, "LTYPE", tag);
    }

    fn entity(&self, errors: &mut Errors, place: &Place, record: &Record<'_>) {
        for tag in record.entity_part() {
            match tag.code {
                8 => self.named(errors, record, "LAYER", Some(tag)),
                6 => self.linetype(errors, record, Some(tag)),
                _ => {}
            }
        }
        if record.entity_part().all(|tag| tag.code != 8) && self.version >= Version::R13 {
            errors.on(record, format!("{} stands on no layer", record.kind));
        }
        match record.kind.as_str() {
            "TEXT" | "MTEXT" | "ATTRIB" | "ATTDEF" => {
                self.named(errors, record, "STYLE", record.tag(7));
            }
            "DIMENSION" | "LEADER" | "TOLERANCE" => {
                self.named(errors, record, "DIMSTYLE", record.tag(3));
            }
            "BLOCK" if self.version >= Version::R13 => {
                self.named(errors, record, "BLOCK_RECORD", record.tag(2));
            }
            _ => {}
        }
        match record.kind.as_str() {
            "INSERT" | "DIMENSION" => self.block(errors, place, record),
            "VIEWPORT" if self.version >= Version::R2000 => self.view_port(errors, record),
            _ => {}
        }
    }

    /// Windows stand in paper spaces that a layout shows, and nowhere else.
    fn view_port(&self, errors: &mut Errors, record: &Record<'_>) {
        let owner = record.owner().filter(|owner| self.facts.is_shown(*owner));
        let space = owner.and_then(|owner| self.facts.block_of(owner));
        if !space.is_some_and(|name| name.starts_with("*PAPER_SPACE")) {
            errors.on(record, "VIEWPORT stands in no paper space that a layout shows".to_owned());
        }
    }

    fn block(&self, errors: &mut Errors, place: &Place, record: &Record<'_>) {
        let kind = &record.kind;
        let name = record.name();
        if name.is_empty() {
            // A dimension without a block is drawn anew by the program that opens it.
            if kind == "INSERT" {
                errors.on(record, "INSERT names no block".to_owned());
            }
        } else if !self.facts.blocks.contains(&name) {
            errors.on(record, format!("{kind} uses block {name}, which is not defined"));
        } else if place.block.as_ref() == Some(&name) {
            errors.on(record, format!("block {name} contains itself"));
        }
    }

    fn table_record(&self, errors: &mut Errors, record: &Record<'_>) {
        match record.kind.as_str() {
            "LAYER" => {
                self.linetype(errors, record, record.tag(6));
            }
            "DIMSTYLE" if self.version >= Version::R2000 => {
                let style = record.tag(340).and_then(Tag::handle).unwrap_or(0);
                if style != 0 && !self.facts.knows(style) {
                    errors.on(record, format!("DIMSTYLE uses STYLE {style:X}, which has no record"));
                }
            }
            "BLOCK_RECORD" if self.version >= Version::R2000 => {
                let layout = record.tag(340).and_then(Tag::handle).unwrap_or(0);
                let name = record.name();
                let is_space = name.starts_with("*MODEL_SPACE") || name.starts_with("*PAPER_SPACE");
                let shows = self.facts.layouts.get(&layout);
                if is_space && shows.is_none() {
                    errors.on(record, format!("BLOCK_RECORD {name} has no LAYOUT"));
                } else if is_space && shows.copied().flatten() != record.handle() {
                    errors.on(record, format!("BLOCK_RECORD {name} has a LAYOUT that shows another space"));
                }
            }
            _ => {}
        }
    }

    fn layout(&self, errors: &mut Errors, record: &Record<'_>) {
        let space = shown(record);
        if space.and_then(|handle| self.facts.block_of(handle)).is_none() {
            return errors.on(record, "LAYOUT shows no space".to_owned());
        }
        let mut others =
            self.facts.layouts.iter().filter(|(own, other)| Some(**own) < record.handle() && **other == space);
        if let Some((other, _)) = others.next() {
            errors.on(record, format!("LAYOUT shows the space of LAYOUT {other:X}"));
        }
    }
}
