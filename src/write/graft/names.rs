//! What our layers are called in the user's file, and where that name stands for something else.

use std::collections::{BTreeMap, BTreeSet};

use super::GraftOptions;
use super::host::Host;
use crate::base::{Code, Finding, Place, Refusal};
use crate::cad::scan::{Layer as Theirs, NONE, Record};
use crate::cad::{Version, folded};
use crate::sheet::Layer;
use crate::write::dxf::Placed;

/// Names of our layers in the file.
#[derive(Debug, Default)]
pub(super) struct Names {
    /// Names other than our own.
    pub(super) given: BTreeMap<Layer, String>,
    /// Folded names of layers that are there and used as they are.
    pub(super) there: BTreeSet<String>,
    pub(super) findings: Vec<Finding>,
}

/// Longest name before R2000 (DXF reference, symbol names).
const LONGEST_OLD: usize = 31;

/// Names of the layers that `drawings` need; `given` are those that the job says.
pub(super) fn needed(drawings: &[Placed<'_>], given: &BTreeMap<Layer, String>) -> BTreeMap<Layer, String> {
    let layers = drawings.iter().flat_map(|placed| &placed.drawing.items).map(|item| item.layer);
    let name = |layer: Layer| given.get(&layer).map_or(layer.name(), String::as_str).to_owned();
    layers.map(|layer| (layer, name(layer))).collect()
}

/// Chooses them for the layers that are `needed`, by name.
///
/// # Errors
/// When a layer of the user's has the name of one of ours, and nobody said that it is to be used; when the version does
/// not know names such as the job gives.
pub(super) fn choose(
    host: &Host<'_>,
    needed: &BTreeMap<Layer, String>,
    options: &GraftOptions,
) -> Result<Names, Refusal> {
    let given = &options.layer_names;
    // What of the user's stands on a layer of an earlier layout keeps it.
    let is_lost = |name: &str| options.lost.as_ref().is_some_and(|lost| lost.layers.is_ours(name));
    let mut names = Names { given: given.clone(), ..Names::default() };
    let users = users(host);
    let mut clashes = Vec::new();
    for (&layer, name) in needed {
        check_name(host, name)?;
        let key = folded(name);
        let Some(place) = host.index.layers.iter().position(|theirs| folded(&theirs.name) == key) else { continue };
        let Some(theirs) = host.index.layers.get(place) else { continue };
        let record = theirs.record.filter(|at| !host.ours.is_cut(*at)).and_then(|at| host.index.records.get(at));
        let user = users.get(&place).copied();
        if record.is_none() && user.is_none() {
            continue;
        }
        if given.contains_key(&layer) || record.is_some_and(|record| record.ours) || is_lost(&theirs.name) {
            names.use_there(layer, theirs, &key);
        } else {
            clashes.push((theirs, record.or(user)));
        }
    }
    match clashes.first() {
        Some((theirs, record)) => Err(clash(&clashes, theirs, *record)),
        None => Ok(names),
    }
}

/// By layer: a record that stands on it and is not ours.
fn users<'a>(host: &'a Host<'_>) -> BTreeMap<usize, &'a Record> {
    let mut users = BTreeMap::new();
    for (at, record) in host.index.records.iter().enumerate().filter(|(_, record)| record.layer != NONE) {
        if let (false, Ok(layer)) = (host.ours.is_cut(at), usize::try_from(record.layer)) {
            users.entry(layer).or_insert(record);
        }
    }
    users
}

impl Names {
    fn use_there(&mut self, layer: Layer, theirs: &Theirs, key: &str) {
        self.given.insert(layer, theirs.name.clone());
        if !self.there.insert(key.to_owned()) {
            return;
        }
        let state = theirs.state;
        let hidden = [(state.frozen, "frozen"), (state.off, "off"), (state.no_plot, "not plotted")];
        let hidden: Vec<&str> = hidden.into_iter().filter(|(is, _)| *is).map(|(_, word)| word).collect();
        let place = Place { layer: Some(theirs.name.clone()), ..Place::none() };
        let message = "the drawing has this layer already; it is used as it is, with its own colour and line type";
        self.findings.push(if hidden.is_empty() {
            Finding::note(Code::LayerShared, place, message)
        } else {
            let message = format!("{message}; it is {}", hidden.join(" and "));
            Finding::warning(Code::LayerShared, place, message).hint("switch it on to see what was drawn on it")
        });
    }
}

fn clash(clashes: &[(&Theirs, Option<&Record>)], theirs: &Theirs, record: Option<&Record>) -> Refusal {
    let origin = record.map(Record::origin).unwrap_or_default();
    let place = Place { layer: Some(theirs.name.clone()), handle: origin.handle, line: origin.line, ..Place::none() };
    let all: Vec<&str> = clashes.iter().map(|(theirs, _)| theirs.name.as_str()).collect();
    let message = match all.as_slice() {
        [one] => format!("the drawing has a layer {one} of its own; the rails were not added to it"),
        all => format!("the drawing has layers {} of its own; the rails were not added to them", all.join(", ")),
    };
    let hint = "name the rail layers otherwise with --layer-prefix NAME or with [output-layers] in the job file; \
                a layer named there is used even if it is in the drawing already";
    Refusal::new(Finding::error(Code::LayerTaken, place, message).hint(hint))
}

/// Before R2000 a name has letters, digits, `$`, `-` and `_` only (DXF reference, symbol names).
fn check_name(host: &Host<'_>, name: &str) -> Result<(), Refusal> {
    let version = host.target.version;
    let is_plain = |c: char| c.is_ascii_alphanumeric() || "$-_".contains(c);
    if version >= Version::R2000 || name.len() <= LONGEST_OLD && name.chars().all(is_plain) {
        return Ok(());
    }
    let place = Place { layer: Some(name.to_owned()), ..Place::none() };
    let message = format!("a drawing of {} cannot have a layer of this name", version.name());
    let hint = "use at most 31 letters, digits, $, - and _, or save the drawing as R2000 or later";
    Err(Refusal::new(Finding::error(Code::NotGrafted, place, message).hint(hint)))
}
