//! The user's file as a place for our records: what it is written in, what it has, and why it cannot take them.

use std::collections::BTreeSet;

use super::journal::Journal;
use super::names::Names;
use super::ours::Ours;
use super::symbols::Symbol;
use crate::base::{Code, Finding, Place, Refusal};
use crate::cad::scan::{DAMAGED_HANDLE, Index, Kind, NONE, Section, SectionKind, Table};
use crate::cad::tag::{Form, Newline as Ends, Source, Tag};
use crate::cad::{Version, folded};
use crate::deck::Lost;
use crate::write::dxf::{APP_ID, Handle, Newline, Taken, Target, Ties};

/// The file without what an earlier run has left in it.
#[derive(Debug)]
pub(super) struct Host<'a> {
    pub(super) bytes: &'a [u8],
    pub(super) index: &'a Index,
    pub(super) ours: Ours,
    pub(super) target: Target,
}

fn refusal(line: u32, message: String, hint: &str) -> Refusal {
    let place = Place { line: (line != 0).then(|| u64::from(line)), ..Place::none() };
    Refusal::new(Finding::error(Code::NotGrafted, place, message).hint(hint))
}

impl<'a> Host<'a> {
    /// # Errors
    /// When the file's structure leaves no safe place for our records.
    pub(super) fn new(bytes: &'a [u8], index: &'a Index, lost: Option<&Lost>) -> Result<Self, Refusal> {
        check_structure(index)?;
        check_version(index)?;
        let ours = Ours::of(bytes, index, lost);
        let mut host = Self { bytes, index, ours, target: Target::new(index.version, false, Newline::Lf) };
        host.target = host.target();
        if index.version >= Version::R2000 && host.model_space() == Handle::default() {
            let message = "the drawing has no *Model_Space record, which every drawing from R2000 on has".to_owned();
            return Err(refusal(0, message, "open it in a CAD program and save it again as DXF"));
        }
        Ok(host)
    }

    fn target(&self) -> Target {
        let index = self.index;
        let newline = match index.form {
            Form::Text(Ends::CrLf) => Newline::CrLf,
            Form::Text(Ends::Cr) => Newline::Cr,
            _ => Newline::Lf,
        };
        // UTF-8 before R2007 is no code page of the format, and an unknown one can hold ASCII only.
        let is_known = !index.findings.iter().any(|finding| finding.code == Code::EncodingUnknown);
        let encoding = Some(index.encoding).filter(|page| is_known && *page != encoding_rs::UTF_8);
        let handling = self.header("$HANDLING").and_then(|tag| self.source().int(&tag)) == Some(1);
        let handles = index.version >= Version::R13 || handling || self.theirs().any(|at| self.handle(at) != 0);
        Target { version: index.version, binary: index.form.is_binary(), newline, encoding, handles }
    }

    pub(super) fn source(&self) -> Source<'a> {
        self.index.source(self.bytes)
    }

    /// Records that are not ours.
    fn theirs(&self) -> impl Iterator<Item = usize> + '_ {
        (0..self.index.records.len()).filter(|at| !self.ours.is_cut(*at))
    }

    pub(super) fn handle(&self, record: usize) -> u64 {
        self.index.records.get(record).map_or(0, |r| r.handle)
    }

    /// First byte of a record.
    pub(super) fn start(&self, record: usize) -> usize {
        self.index.range(record).start
    }

    /// The first section of a kind.
    pub(super) fn section(&self, kind: SectionKind) -> Option<&Section> {
        self.index.sections.iter().find(|s| s.kind == kind && !self.ours.is_cut(s.records.start))
    }

    /// First byte of a section's end record.
    pub(super) fn section_end(&self, section: &Section) -> usize {
        self.start(section.records.end.saturating_sub(1))
    }

    pub(super) fn tables(&self) -> impl Iterator<Item = &Table> {
        self.index.tables.iter().filter(|table| !self.ours.is_cut(table.head))
    }

    /// The first table of a kind.
    pub(super) fn table(&self, symbol: Symbol) -> Option<&Table> {
        self.tables().find(|table| table.name.trim() == symbol.name())
    }

    /// Records of a table that are not ours.
    fn entries(&self, symbol: Symbol) -> impl Iterator<Item = usize> + '_ {
        let tables = self.tables().filter(move |table| table.name.trim() == symbol.name());
        tables.flat_map(|table| table.entries.clone()).filter(|at| !self.ours.is_cut(*at))
    }

    fn folded_name(&self, record: usize) -> String {
        folded(self.index.name(self.index.records.get(record).map_or(NONE, |r| r.name)))
    }

    /// Whether a table has a record of this folded name that is not ours.
    pub(super) fn has(&self, symbol: Symbol, name: &str) -> bool {
        self.entries(symbol).any(|at| self.folded_name(at) == name)
    }

    /// What we are going to change must be such that it can be put back.
    ///
    /// # Errors
    /// When a table's count or the seed is none, so that it cannot be kept in a record of ours.
    pub(super) fn check_changed(&self) -> Result<(), Refusal> {
        let tables = self.tables().filter(|table| Symbol::named(&table.name).is_some());
        let counts = tables.filter_map(|table| Some((table.count?, "the count of a table", self.count(table)?)));
        let seed = self.header("$HANDSEED").zip(self.seed()).map(|(tag, text)| (tag, "$HANDSEED", text));
        let Some((tag, what, text)) = counts.chain(seed).find(|(_, _, text)| !Journal::holds(text)) else {
            return Ok(());
        };
        let found: String = text.trim().chars().take(40).flat_map(char::escape_debug).collect();
        let message =
            format!("{what} is `{found}`, which is no number, and cannot be put back when the rails are taken out");
        Err(refusal(tag.line, message, "save the drawing again as DXF"))
    }

    /// Whether the name of our application is in the file to stay.
    pub(super) fn keep_application(&mut self) {
        if self.ours.stays {
            let ids = self.index.tables.iter().filter(|table| table.name.trim() == Symbol::AppId.name());
            for at in ids.flat_map(|table| table.entries.clone()) {
                if self.folded_name(at) == APP_ID {
                    self.ours.keep(at);
                }
            }
        }
    }

    fn model_space(&self) -> Handle {
        let found = self.entries(Symbol::Block).find(|at| self.folded_name(*at) == "*MODEL_SPACE");
        Handle(found.map_or(0, |at| self.handle(at)))
    }

    /// Value of a header variable.
    pub(super) fn header(&self, name: &str) -> Option<Tag> {
        self.variable(name).map(|(_, value)| value)
    }

    /// A header variable: the tag of its name and the tag of its value.
    pub(super) fn variable(&self, name: &str) -> Option<(Tag, Tag)> {
        let section = self.section(SectionKind::Header)?;
        let source = self.source();
        let mut tags = self.index.tags(self.bytes, section.records.start).flatten();
        let found = tags.find(|tag| tag.code == 9 && source.trimmed(tag) == name.as_bytes())?;
        Some((found, tags.next()?))
    }

    /// What `$HANDSEED` said before any run of ours.
    pub(super) fn seed(&self) -> Option<String> {
        let tag = self.header("$HANDSEED")?;
        let text = String::from_utf8_lossy(self.source().raw(&tag)).into_owned();
        match &self.ours.journal.seed {
            Some((now, before)) if now.as_str() == text.trim() => before.clone(),
            _ => Some(text),
        }
    }

    /// The first handle for us: above all that are in use or pointed to, and above the seed.
    pub(super) fn first_handle(&self) -> u64 {
        let seed = self.seed().and_then(|text| u64::from_str_radix(text.trim(), 16).ok());
        let used = self.theirs().map(|at| self.handle(at)).chain([self.ours.pointed]);
        let above = used.filter(|handle| *handle < DAMAGED_HANDLE).map(|handle| handle + 1);
        above.chain(seed.filter(|seed| *seed < DAMAGED_HANDLE)).max().unwrap_or(1).max(1)
    }

    /// What the head of a table says of its count.
    pub(super) fn count_now(&self, table: &Table) -> Option<String> {
        let tag = table.count?;
        let source = self.source();
        if self.index.form.is_binary() {
            return source.int(&tag).map(|count| count.to_string());
        }
        Some(String::from_utf8_lossy(source.raw(&tag)).into_owned())
    }

    /// What it said before any run of ours.
    pub(super) fn count(&self, table: &Table) -> Option<String> {
        let text = self.count_now(table)?;
        let now = text.trim().parse().ok();
        let all = table.entries.len();
        let cut = table.entries.clone().filter(|at| self.ours.is_cut(*at)).count();
        if cut == 0 {
            return Some(text);
        }
        match self.ours.journal.counts.get(table.name.trim()) {
            Some(before) if now == Some(grown(before, all - cut, cut)) => Some(before.clone()),
            _ => Some(padded(&text, now.unwrap_or(0).saturating_sub(number(cut)))),
        }
    }

    /// How many records of a table are not ours.
    pub(super) fn left(&self, table: &Table) -> usize {
        table.entries.clone().filter(|at| !self.ours.is_cut(*at)).count()
    }

    /// What our records hang on. `head` gives the handle of a table's head.
    pub(super) fn ties(&self, head: impl Fn(Symbol) -> Handle, names: &Names) -> Ties {
        let all = |symbol| self.entries(symbol).map(|at| self.folded_name(at));
        let blocks = self.index.blocks.iter().map(|block| block.head).filter(|head| !self.ours.is_cut(*head));
        let blocks: BTreeSet<String> = blocks.map(|at| self.folded_name(at)).chain(all(Symbol::Block)).collect();
        let scale = self.header("$LTSCALE").and_then(|tag| self.source().float(&tag));
        Ties {
            app_ids: head(Symbol::AppId),
            linetypes: head(Symbol::Linetype),
            layers: head(Symbol::Layer),
            styles: head(Symbol::Style),
            dimension_styles: head(Symbol::DimensionStyle),
            block_records: head(Symbol::Block),
            model_space: self.model_space(),
            plot_style: self.plot_style(),
            layer_names: names.given.clone(),
            layers_there: names.there.clone(),
            first_dimension: first_dimension(&blocks),
            taken: Taken {
                linetypes: all(Symbol::Linetype).collect(),
                styles: all(Symbol::Style).collect(),
                dimension_styles: all(Symbol::DimensionStyle).collect(),
                blocks,
            },
            linetype_scale: scale.filter(|scale| *scale > 0.0).unwrap_or(1.0),
        }
    }

    /// Group 390 of the file's layers.
    fn plot_style(&self) -> Option<Handle> {
        let source = self.source();
        let styles = self.entries(Symbol::Layer).filter_map(|at| {
            let tag = self.index.tags(self.bytes, at).flatten().find(|tag| tag.code == 390)?;
            source.handle(&tag).map(Handle)
        });
        styles.into_iter().next()
    }
}

/// What a head must say when `added` records come to the `there` it has: never less than the truth, and a head that
/// says more than the truth goes on to do so.
pub(super) fn grown(before: &str, there: usize, added: usize) -> i64 {
    before.trim().parse().unwrap_or(0).max(number(there)).saturating_add(number(added))
}

/// A number right-aligned like the one before.
pub(super) fn padded(like: &str, value: i64) -> String {
    let width = if like.starts_with(' ') { like.len() } else { 0 };
    format!("{:>width$}", value.max(0))
}

fn number(count: usize) -> i64 {
    i64::try_from(count).unwrap_or(i64::MAX / 2)
}

/// Behind the highest number of a `*D` block.
fn first_dimension(blocks: &BTreeSet<String>) -> u64 {
    let numbers = blocks.iter().filter_map(|name| name.strip_prefix("*D")?.parse::<u64>().ok());
    numbers.filter(|number| *number < DAMAGED_HANDLE).max().map_or(1, |number| number + 1)
}

fn check_structure(index: &Index) -> Result<(), Refusal> {
    let again = "save the drawing again as DXF";
    for section in &index.sections {
        if matches!(section.kind, SectionKind::Other | SectionKind::Objects) {
            continue;
        }
        let records = index.records.get(section.records.clone()).unwrap_or_default();
        let inner = records.get(1..).unwrap_or_default();
        let broken = inner.iter().find(|r| matches!(r.kind, Kind::Section | Kind::Eof));
        let line = broken.or(records.first()).map_or(0, |r| r.line);
        if broken.is_some() || records.last().is_none_or(|r| r.kind != Kind::EndSec) {
            return Err(refusal(line, format!("section {} has no ENDSEC", section.name), again));
        }
    }
    let line = |at: usize| index.records.get(at).map_or(0, |r| r.line);
    if let Some(table) = index.tables.iter().find(|table| table.end.is_none()) {
        return Err(refusal(line(table.head), format!("table {} has no ENDTAB", table.name), again));
    }
    if let Some(block) = index.blocks.iter().find(|block| block.end.is_none()) {
        let message = format!("block {} has no ENDBLK", index.name(block.name));
        return Err(refusal(line(block.head), message, again));
    }
    Ok(())
}

fn check_version(index: &Index) -> Result<(), Refusal> {
    let has_handles = index.records.iter().any(|r| r.handle != 0);
    if index.header.acadver.is_none() && (index.subclasses || has_handles) {
        let what = if index.subclasses { "subclass markers" } else { "handles" };
        let message = format!(
            "the header gives no version ($ACADVER), but records have {what}: which they need, only the version tells"
        );
        return Err(refusal(0, message, "open the drawing in a CAD program and save it again as DXF"));
    }
    let fits = match index.form {
        Form::Text(_) => true,
        Form::Binary1 => index.version < Version::R13,
        Form::Binary2 => index.version >= Version::R13,
    };
    if !fits {
        let message =
            format!("the drawing is binary, but its group codes are not as wide as in {}", index.version.name());
        return Err(refusal(0, message, "save the drawing again as DXF, best as text"));
    }
    Ok(())
}
