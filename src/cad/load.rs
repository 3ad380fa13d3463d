//! Files on the way: the plan, and the external references that it shows, each scanned, selected and read.

use std::collections::BTreeMap;

use super::external::{DEEPEST, MOST_FILES, Reference, Units};
use super::index::{Index, Kind};
use super::reduce::{self, about};
use super::report::Report;
use super::select::Selection;
use super::typed::{Heights, Raw};
use super::{LayerState, ReadOptions, Unread, scan, text, units};
use crate::base::plane::point;
use crate::base::{Code, Finding, Place, Point, Refusal, Severity};

/// Geometry of one selected record.
#[derive(Debug)]
pub struct Item {
    /// Record.
    pub record: usize,
    /// Geometry.
    pub raw: Raw,
    /// Heights in its own space; `None` where it has none that are read.
    pub heights: Option<Heights>,
}

/// A drawing file.
#[derive(Debug)]
pub struct File {
    /// Name of the reference, empty for the plan.
    pub name: String,
    /// Name of the file for messages, empty for the plan.
    pub file: String,
    /// Where everything stands.
    pub index: Index,
    /// What was selected.
    pub selection: Selection,
    /// Layer states as the plan shows them.
    pub states: Vec<LayerState>,
    /// Model space.
    pub model: Vec<Item>,
    /// Blocks.
    pub blocks: BTreeMap<usize, Vec<Item>>,
    /// What is of a kind that is not read.
    pub unread: Vec<Unread>,
    /// Its unit.
    pub units: Units,
    /// Base point of the whole drawing.
    pub base: Point,
    /// External references by their block.
    pub externals: BTreeMap<usize, Outcome>,
    /// What was found in it, when it is a reference; of the plan itself it is told at once.
    pub findings: Vec<Finding>,
}

impl File {
    /// Whether it is a reference.
    pub const fn is_external(&self) -> bool {
        !self.name.is_empty()
    }

    /// Reads layers as if they were thawed and on.
    pub fn show(&mut self, which: &dyn Fn(&str) -> bool) {
        for (state, layer) in self.states.iter_mut().zip(&self.index.layers) {
            if which(&layer.name) {
                *state = LayerState::default();
            }
        }
    }

    /// Name of a layer as the plan shows it.
    pub fn layer_name(&self, layer: u32) -> String {
        let found = usize::try_from(layer).ok().and_then(|n| self.index.layers.get(n));
        found.map(|l| qualified(&self.name, &l.name)).unwrap_or_default()
    }
}

/// `reference|layer`, as CAD programs show it.
pub fn qualified(reference: &str, layer: &str) -> String {
    if reference.is_empty() { layer.to_owned() } else { format!("{reference}|{layer}") }
}

/// The plan and all that it shows.
#[derive(Debug)]
pub struct Files {
    /// The plan, file 0.
    pub plan: File,
    others: Vec<File>,
}

impl Files {
    /// Records of all files.
    pub fn records(&self) -> usize {
        std::iter::once(&self.plan).chain(&self.others).map(|file| file.index.records.len()).sum()
    }

    /// A file by its number.
    pub fn get(&self, number: usize) -> Option<&File> {
        number.checked_sub(1).map_or(Some(&self.plan), |n| self.others.get(n))
    }

    fn get_mut(&mut self, number: usize) -> Option<&mut File> {
        number.checked_sub(1).map_or(Some(&mut self.plan), |n| self.others.get_mut(n))
    }

    /// All of them, the plan first.
    pub fn iter(&self) -> impl Iterator<Item = &File> {
        std::iter::once(&self.plan).chain(&self.others)
    }
}

/// What became of a reference.
#[derive(Debug)]
pub enum Outcome {
    /// It is the file of this number.
    Read(usize),
    /// It is not read: what to tell where it is placed.
    Unread(Box<Finding>),
    /// An overlay within a reference is not shown.
    NotShown,
}

/// The drawing that is being read, within the one that refers to it.
struct Above<'a> {
    bytes: &'a [u8],
    up: Option<&'a Self>,
}

impl Above<'_> {
    fn depth(&self) -> usize {
        1 + self.up.map_or(0, Above::depth)
    }

    /// A file is known by its bytes: the path says nothing, since the plan's own name is not known here.
    fn holds(&self, bytes: &[u8]) -> bool {
        self.bytes == bytes || self.up.is_some_and(|up| up.holds(bytes))
    }
}

/// Reads the references that the plan places, and those within them.
pub fn externals(plan: File, bytes: &[u8], options: &ReadOptions<'_>) -> Files {
    let mut loader = Loader { files: Files { plan, others: Vec::new() }, options };
    loader.references(0, &Above { bytes, up: None });
    loader.files
}

struct Loader<'a> {
    files: Files,
    options: &'a ReadOptions<'a>,
}

impl Loader<'_> {
    fn references(&mut self, number: usize, above: &Above<'_>) {
        let Some(file) = self.files.get(number) else { return };
        let blocks = file.selection.blocks.keys().filter_map(|b| Some((*b, file.index.blocks.get(*b)?)));
        let (within, units) = (file.file.clone(), file.units);
        let needed: Vec<(usize, String, String, bool)> = blocks
            .filter(|(_, block)| block.external)
            .map(|(b, block)| {
                let path = path_of(&file.index, above.bytes, block.head);
                (b, file.index.name(block.name).to_owned(), path, block.overlay)
            })
            .collect();
        for (block, name, path, overlay) in needed {
            let reference = Reference { name: &name, path: &path, within: &within };
            let outcome = if overlay && number > 0 {
                Outcome::NotShown
            } else {
                let read = self.reference(&reference, units, above);
                read.map_or_else(Outcome::Unread, Outcome::Read)
            };
            if let Some(file) = self.files.get_mut(number) {
                file.externals.insert(block, outcome);
            }
        }
    }

    fn reference(&mut self, reference: &Reference<'_>, host: Units, above: &Above<'_>) -> Result<usize, Box<Finding>> {
        let what = format!("external reference `{}` (`{}`)", reference.name, reference.path);
        let fails = |why: &str| {
            Finding::incomplete(Code::ExternalFails, Place::none(), format!("{what} {why}; what it shows is missing"))
        };
        if above.depth() > DEEPEST || self.files.others.len() + 1 >= MOST_FILES {
            let why = format!("is left out: at most {DEEPEST} levels and {MOST_FILES} drawings are read");
            return Err(fails(&why).hint("bind the references to the drawing").into());
        }
        let found = (self.options.externals)(reference).map_err(|why| {
            let message = format!("{what} is not read: {why}; what it shows is missing");
            let hint = "put the DXF file beside the plan, or bind it to the drawing if the deck is in it";
            Box::new(Finding::incomplete(Code::ExternalMissing, Place::none(), message).hint(hint))
        })?;
        if above.holds(&found.bytes) {
            return Err(fails("shows itself").hint("detach the reference that leads back").into());
        }
        let mut file = plain(&found.bytes, reference.name, host, self.options).map_err(|refusal| {
            let line = refusal.finding.place.line.map_or_else(String::new, |l| format!(":{l}"));
            let why = format!("cannot be read: {}{line}: {}", found.file, refusal.finding.message);
            Box::new(fails(&why).hint(refusal.finding.hint.unwrap_or_default()))
        })?;
        file.file.clone_from(&found.file);
        file.states = states(&file, &self.files.plan.index);
        self.files.others.push(file);
        let number = self.files.others.len();
        self.references(number, &Above { bytes: &found.bytes, up: Some(above) });
        Ok(number)
    }
}

/// A reference by itself, without those within it.
fn plain(bytes: &[u8], name: &str, host: Units, options: &ReadOptions<'_>) -> Result<File, Refusal> {
    let wanted = |layer: &str| (options.wanted)(&qualified(name, layer));
    let index = scan::index_of(bytes, scan::Needs { wanted: &wanted, inside: true, host: false })?;
    let mut report = Report::default();
    let written = units::written(&index, bytes);
    let units = Units::within(host, written);
    if written.is_none() && host.written.is_some() {
        let message = format!("the drawing does not say its unit; it is taken to be drawn in {}", units.used.sign());
        let hint = "check one length, and set the unit of the reference";
        report.add(Finding::warning(Code::UnitsDoubtful, Place::none(), message).hint(hint));
    }
    let mut file = file(index, bytes, name, units, &wanted, &mut report);
    file.findings = report.finish();
    Ok(file)
}

/// Selects and reads what a scanned file holds; the plan's `name` is empty.
pub fn file(
    mut index: Index,
    bytes: &[u8],
    name: &str,
    units: Units,
    wanted: &dyn Fn(&str) -> bool,
    report: &mut Report,
) -> File {
    for finding in std::mem::take(&mut index.findings) {
        report.add(finding);
    }
    let selection = Selection::new(&index, wanted, !name.is_empty());
    let (model, blocks, unread) = geometry(&index, bytes, name, &selection, report);
    let base = base(&index, bytes);
    File {
        name: name.to_owned(),
        file: String::new(),
        states: index.layers.iter().map(|l| l.state).collect(),
        index,
        selection,
        model,
        blocks,
        unread,
        units,
        base,
        externals: BTreeMap::new(),
        findings: Vec::new(),
    }
}

/// What a note says of a reference that was read.
pub fn told(file: &File) -> String {
    format!(
        "external reference `{}` is read from {} ({}, {})",
        file.name,
        file.file,
        file.index.version.name(),
        file.units.used.sign()
    )
}

/// The plan keeps states of its own for the layers of its references.
fn states(file: &File, plan: &Index) -> Vec<LayerState> {
    let own: BTreeMap<String, LayerState> =
        plan.layers.iter().filter(|l| l.record.is_some()).map(|l| (text::folded(&l.name), l.state)).collect();
    let state = |l: &scan::Layer| own.get(&text::folded(&qualified(&file.name, &l.name))).copied().unwrap_or(l.state);
    file.index.layers.iter().map(state).collect()
}

fn path_of(index: &Index, bytes: &[u8], head: usize) -> String {
    let source = index.source(bytes);
    let path = index.tags(bytes, head).map_while(Result::ok).find(|tag| tag.code == 1);
    path.map(|tag| text::decode(source.trimmed(&tag), index.encoding).into_owned()).unwrap_or_default()
}

fn base(index: &Index, bytes: &[u8]) -> Point {
    let source = index.source(bytes);
    let [x, y] = index.header.insbase.map(|tag| tag.and_then(|t| source.float(&t)).unwrap_or(0.0));
    point(x, y)
}

/// Geometry of the selected records: model space, and each block; and what is of a kind that is not read.
fn geometry(
    index: &Index,
    bytes: &[u8],
    name: &str,
    selection: &Selection,
    report: &mut Report,
) -> (Vec<Item>, BTreeMap<usize, Vec<Item>>, Vec<Unread>) {
    let mut kinds: BTreeMap<(String, u32), (usize, usize)> = BTreeMap::new();
    let mut readable: Vec<usize> = Vec::new();
    for at in selection.model.iter().chain(selection.blocks.values().flatten()) {
        let Some(record) = index.records.get(*at) else { continue };
        if reduce::is_readable(record.kind) {
            readable.push(*at);
        } else if selection.is_wanted(record.layer) && record.kind != Kind::AttDef {
            let key = (index.kind_text(record.kind).to_owned(), record.layer);
            kinds.entry(key).or_insert((*at, 0)).1 += 1;
        }
    }
    let unread = kinds.into_iter().filter_map(|((kind, _), (first, count))| {
        let record = index.records.get(first)?;
        let layer = index.layer(record).map_or("", |l| l.name.as_str());
        Some(Unread { kind, layer: qualified(name, layer), count, origin: record.origin() })
    });
    let unread = unread.collect();
    let read = reduce::read(index, bytes, &readable, report);
    for record in read.invisible.iter().filter_map(|at| index.records.get(*at)) {
        let message = format!("this {} is set invisible; it was left out", index.kind_text(record.kind));
        let finding = about(index, record, Code::LayerHidden, message);
        let finding = Finding { severity: Severity::Warning, ..finding };
        report.add(finding.hint("show it if it belongs to the plan, or erase it"));
    }
    let mut items = readable.into_iter().zip(read.found).peekable();
    let mut take = |records: &[usize]| -> Vec<Item> {
        let mut list = Vec::with_capacity(records.len());
        for record in records {
            if let Some((record, found)) = items.next_if(|(r, _)| r == record) {
                list.extend(found.map(|(raw, heights)| Item { record, raw, heights }));
            }
        }
        list
    };
    let model = take(&selection.model);
    let blocks = selection.blocks.iter().map(|(block, records)| (*block, take(records))).collect();
    (model, blocks, unread)
}
