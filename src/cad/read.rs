//! The door of the stage: scan, select, read, resolve, and move near the origin.

use std::collections::BTreeMap;
use std::fmt;

use super::curve::SAMPLING_MM;
use super::external::{Externals, Units};
use super::hidden::tell_hidden;
use super::index::{Kind, Record, SectionKind};
use super::load::{self, File, Files, qualified};
use super::reduce::about;
use super::report::Report;
use super::resolve::{Resolved, Scene, resolve};
use super::shape::Space;
use super::{Drawing, LayerInfo, Shape, marks_as_text, ours, scan, text, units};
use crate::base::plane::point;
use crate::base::{Code, Finding, Frame, Point, Refusal, Severity, Unit};

/// Largest coordinate in inches: some 250 km, beyond any survey grid and far within the digits of f64.
const LARGEST_INCHES: f64 = 1e7;

/// A plan that lies within so many units of the origin keeps its coordinates.
const NEAR_ORIGIN: f64 = 1e5;

/// What to read.
pub struct ReadOptions<'a> {
    /// Unit that the user says; it wins over the drawing's.
    pub units: Option<Unit>,
    /// Which layers matter, by name as written; those of external references are called `reference|layer`.
    pub wanted: &'a dyn Fn(&str) -> bool,
    /// Which of them are read even where the plan does not show them.
    pub hidden_too: &'a dyn Fn(&str) -> bool,
    /// Gives the external references that the drawing needs; [`super::no_externals`] gives none.
    pub externals: &'a Externals<'a>,
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
    let index = scan::index_of(bytes, scan::Needs { wanted: options.wanted, inside: false, host: false })?;
    let mut report = Report::default();
    let unit = units::decide(&index, bytes, options.units, &mut report);
    // Without a unit the plan is expanded all the same, so that its size can be told.
    let units = Units { written: units::written(&index, bytes), used: unit.unwrap_or(Unit::Inch) };
    let mut plan = load::file(index, bytes, "", units, options.wanted, &mut report);
    plan.show(options.hidden_too);
    let files = load::externals(plan, bytes, options);
    let plan = &files.plan;
    let mm = units.used.millimetres();
    let limit = LARGEST_INCHES * Unit::Inch.millimetres() / mm;
    let space = Space { limit, tolerance: SAMPLING_MM / mm };
    let mut resolved = resolve(&Scene { files: &files, space }, &mut report);
    tell_hidden(&files, &resolved.by_layer, &mut report);
    tell_paper(plan, &resolved, &mut report);
    if unit.is_none() {
        let mut refusal = units::missing(&plan.index, bytes, &resolved);
        refusal.others = report.finish();
        return Err(refusal);
    }
    let frame = Frame { unit: units.used, origin: origin(&resolved) };
    move_to(&frame, &mut resolved);
    Ok(Drawing {
        version: plan.index.version,
        binary: plan.index.form.is_binary(),
        encoding: plan.index.encoding.name(),
        frame,
        layers: layers(&files),
        entities: resolved.entities,
        inserts: resolved.inserts,
        unread: files.iter().flat_map(|f| f.unread.iter().cloned()).collect(),
        ours: ours::read(&plan.index, bytes, &frame),
        marks: marks_as_text::read(&plan.index, bytes, &frame),
        findings: report.finish(),
    })
}

/// Wanted things that stand in paper space while nothing does in model space.
fn tell_paper(plan: &File, resolved: &Resolved, report: &mut Report) {
    let Some(first) = plan.selection.paper.first().and_then(|r| plan.index.records.get(*r)) else { return };
    if !(resolved.entities.is_empty() && resolved.inserts.is_empty() && resolved.by_layer.is_empty()) {
        return;
    }
    let count = plan.selection.paper.len();
    let message = format!("the plan's layers hold nothing in model space, but {count} entities in paper space");
    let finding = about(&plan.index, first, Code::PaperSpace, message);
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
        entity.heights = entity.heights.map(|h| h.map(|z| z * mm));
        entity.ends = entity.ends.map(|h| h.map(|z| z * mm));
    }
    for insert in &mut resolved.inserts {
        insert.at = frame.to_local(insert.at);
    }
}

/// All layers with what stands on them in model space and in blocks. A plan lists the layers of its references, too:
/// what stands on them is counted there.
fn layers(files: &Files) -> Vec<LayerInfo> {
    let mut all = layers_of(&files.plan);
    let mut places: BTreeMap<String, usize> = all.iter().enumerate().map(|(i, l)| (text::folded(&l.name), i)).collect();
    for file in files.iter().skip(1) {
        for layer in layers_of(file) {
            match places.get(&text::folded(&layer.name)).and_then(|i| all.get_mut(*i)) {
                Some(known) if known.counts.is_empty() => known.counts = layer.counts,
                Some(_) => {}
                None => {
                    places.insert(text::folded(&layer.name), all.len());
                    all.push(layer);
                }
            }
        }
    }
    all
}

fn layers_of(file: &File) -> Vec<LayerInfo> {
    let index = &file.index;
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
    for ((layer, kind), count) in &index.skipped {
        if let Some(kinds) = usize::try_from(*layer).ok().and_then(|n| counts.get_mut(n)) {
            *kinds.entry(*kind).or_insert(0) += count;
        }
    }
    let named = |kinds: &BTreeMap<Kind, usize>| {
        let mut list: Vec<_> = kinds.iter().map(|(k, n)| (index.kind_text(*k).to_owned(), *n)).collect();
        list.sort();
        list
    };
    let infos = index.layers.iter().zip(&file.states).zip(&counts);
    let infos = infos.map(|((layer, state), kinds)| LayerInfo {
        name: qualified(&file.name, &layer.name),
        // Those of a reference are as the plan shows them.
        state: if file.is_external() { *state } else { layer.state },
        counts: named(kinds),
    });
    infos.filter(|l| !file.is_external() || !l.counts.is_empty()).collect()
}

const fn counted(record: &Record) -> bool {
    !record.paper && !record.is_part()
}

#[cfg(test)]
mod external_tests;
#[cfg(test)]
mod tests;
