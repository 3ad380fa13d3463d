//! The door of the stage: scan, select, read, resolve, and move near the origin.

use std::collections::BTreeMap;
use std::fmt;

use super::curve::SAMPLING_MM;
use super::index::{Index, Kind, Record, SectionKind};
use super::reduce::{self, about};
use super::report::Report;
use super::resolve::{Item, Resolved, Scene, resolve, tell_hidden};
use super::select::Selection;
use super::{Drawing, LayerInfo, Shape, ours, scan, units};
use crate::base::plane::point;
use crate::base::{Code, Finding, Frame, Place, Point, Refusal, Severity, Unit};

/// Largest coordinate in inches: some 250 km, beyond any survey grid and far within the digits of f64.
const LARGEST_INCHES: f64 = 1e7;

/// A plan that lies within so many units of the origin keeps its coordinates.
const NEAR_ORIGIN: f64 = 1e5;

/// What to read.
pub struct ReadOptions<'a> {
    /// Unit that the user says; it wins over the drawing's.
    pub units: Option<Unit>,
    /// Which layers matter, by name as written.
    pub wanted: &'a dyn Fn(&str) -> bool,
}

impl fmt::Debug for ReadOptions<'_> {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.debug_struct("ReadOptions").field("units", &self.units).finish_non_exhaustive()
    }
}

/// Reads a drawing: what stands on wanted layers in model space, blocks resolved, in millimetres from a local origin.
///
/// Damaged or unreadable records are left out, each with a finding. Curves that are no arcs come as points, at most
/// [`SAMPLING_MM`] off.
///
/// # Errors
/// When the bytes are no DXF drawing, are cut off or damaged throughout, are of a version before R11, or when neither
/// the drawing nor the options say the unit.
pub fn read(bytes: &[u8], options: &ReadOptions<'_>) -> Result<Drawing, Refusal> {
    let mut index = scan::index(bytes)?;
    let mut report = Report::default();
    for finding in std::mem::take(&mut index.findings) {
        report.add(finding);
    }
    let selection = Selection::new(&index, options.wanted);
    let unit = units::decide(&index, bytes, options.units, &mut report);
    // Without a unit the plan is expanded all the same, so that its size can be told.
    let mm = unit.unwrap_or(Unit::Inch).millimetres();
    let (model, blocks) = geometry(&index, bytes, &selection, &mut report);
    let limit = LARGEST_INCHES * Unit::Inch.millimetres() / mm;
    let scene = Scene { index: &index, selection: &selection, model, blocks, limit, tolerance: SAMPLING_MM / mm };
    let mut resolved = resolve(&scene, &mut report);
    tell_hidden(&index, &resolved.by_layer, &mut report);
    tell_paper(&index, &selection, &mut report);
    let Some(unit) = unit else {
        let mut refusal = units::missing(&index, bytes, &resolved);
        refusal.others = report.finish();
        return Err(refusal);
    };
    let frame = Frame { unit, origin: origin(&resolved) };
    move_to(&frame, &mut resolved);
    Ok(Drawing {
        version: index.version,
        binary: index.form.is_binary(),
        encoding: index.encoding.name(),
        frame,
        layers: layers(&index),
        entities: resolved.entities,
        inserts: resolved.inserts,
        ours: ours::read(&index, bytes, &frame),
        findings: report.finish(),
    })
}

/// Geometry of the selected records: model space, and each block.
fn geometry(
    index: &Index,
    bytes: &[u8],
    selection: &Selection,
    report: &mut Report,
) -> (Vec<Item>, BTreeMap<usize, Vec<Item>>) {
    let mut unread: BTreeMap<(String, u32), (usize, usize)> = BTreeMap::new();
    let mut readable: Vec<usize> = Vec::new();
    for at in selection.model.iter().chain(selection.blocks.values().flatten()) {
        let Some(record) = index.records.get(*at) else { continue };
        if reduce::is_readable(record.kind) {
            readable.push(*at);
        } else if selection.is_wanted(record.layer) && record.kind != Kind::AttDef {
            let key = (index.kind_text(record.kind).to_owned(), record.layer);
            unread.entry(key).or_insert((*at, 0)).1 += 1;
        }
    }
    tell_unread(index, &unread, report);
    let read = reduce::read(index, bytes, &readable, report);
    if read.invisible > 0 {
        let message = format!("{} entities are set invisible and were left out", read.invisible);
        report.add(Finding::note(Code::LayerHidden, Place::none(), message));
    }
    let mut items = readable.into_iter().zip(read.found).peekable();
    let mut take = |records: &[usize]| -> Vec<Item> {
        let mut list = Vec::with_capacity(records.len());
        for record in records {
            if let Some((record, raw)) = items.next_if(|(r, _)| r == record) {
                list.extend(raw.map(|raw| Item { record, raw }));
            }
        }
        list
    };
    let model = take(&selection.model);
    let blocks = selection.blocks.iter().map(|(block, records)| (*block, take(records))).collect();
    (model, blocks)
}

/// One note for each kind and layer that is not read.
fn tell_unread(index: &Index, unread: &BTreeMap<(String, u32), (usize, usize)>, report: &mut Report) {
    for ((kind, _), (first, count)) in unread {
        let Some(record) = index.records.get(*first) else { continue };
        let layer = index.layer(record).map_or("", |l| l.name.as_str());
        let message = match count {
            1 => format!("1 {kind} on layer {layer} is not read"),
            n => format!("{n} {kind} on layer {layer} are not read; the first stands here"),
        };
        let finding = about(index, record, Code::RecordNotRead, message);
        report.add(Finding { severity: Severity::Note, ..finding });
    }
}

/// Wanted things that stand in paper space while nothing does in model space.
fn tell_paper(index: &Index, selection: &Selection, report: &mut Report) {
    let Some(first) = selection.paper.first().and_then(|r| index.records.get(*r)) else { return };
    if !selection.model.is_empty() {
        return;
    }
    let count = selection.paper.len();
    let message = format!("the plan's layers hold nothing in model space, but {count} entities in paper space");
    let finding = about(index, first, Code::PaperSpace, message);
    report.add(Finding { severity: Severity::Warning, ..finding }.hint("move them to model space at full size"));
}

/// Local origin: zero near the drawing's own, else the plan's lower left corner in whole units, so that millimetres
/// near it keep all digits.
fn origin(resolved: &Resolved) -> Point {
    let Some((low, high)) = units::extents(resolved) else { return point(0.0, 0.0) };
    let far = [low.x, low.y, high.x, high.y].iter().any(|v| v.abs() > NEAR_ORIGIN);
    if far { point(low.x.floor(), low.y.floor()) } else { point(0.0, 0.0) }
}

/// From drawing units to local millimetres.
fn move_to(frame: &Frame, resolved: &mut Resolved) {
    let mm = frame.unit.millimetres();
    for entity in &mut resolved.entities {
        match &mut entity.shape {
            Shape::Path { vertices, .. } => vertices.iter_mut().for_each(|v| v.at = frame.to_local(v.at)),
            Shape::Circle { centre, radius } => {
                *centre = frame.to_local(*centre);
                *radius *= mm;
            }
            Shape::Point(p) | Shape::Text { at: p, .. } => *p = frame.to_local(*p),
            Shape::Curve { points, .. } => points.iter_mut().for_each(|p| *p = frame.to_local(*p)),
        }
    }
    for insert in &mut resolved.inserts {
        insert.at = frame.to_local(insert.at);
    }
}

/// All layers with what stands on them in model space and in blocks.
fn layers(index: &Index) -> Vec<LayerInfo> {
    let mut counts: Vec<BTreeMap<Kind, usize>> = vec![BTreeMap::new(); index.layers.len()];
    let model = index.section_records(SectionKind::Entities);
    let blocks = index.blocks.iter().filter(|b| !b.layout).flat_map(|b| b.records.clone());
    for record in model.chain(blocks).filter_map(|r| index.records.get(r)) {
        if counted(record)
            && let Some(kinds) = usize::try_from(record.layer).ok().and_then(|n| counts.get_mut(n))
        {
            *kinds.entry(record.kind).or_insert(0) += 1;
        }
    }
    let named = |kinds: &BTreeMap<Kind, usize>| {
        let mut list: Vec<_> = kinds.iter().map(|(k, n)| (index.kind_text(*k).to_owned(), *n)).collect();
        list.sort();
        list
    };
    let info = |(layer, kinds): (&scan::Layer, &BTreeMap<Kind, usize>)| LayerInfo {
        name: layer.name.clone(),
        state: layer.state,
        counts: named(kinds),
    };
    index.layers.iter().zip(&counts).map(info).collect()
}

const fn counted(record: &Record) -> bool {
    !record.paper && !record.is_part()
}

#[cfg(test)]
mod tests;
