//! Layers that hide what stands on them, or are not plotted: told, with the first thing on each.

use std::collections::BTreeMap;

use super::Origin;
use super::load::Files;
use super::report::Report;
use super::resolve::{LayerAt, place};
use crate::base::{Code, Finding, Place};

/// Entities of a layer that are left out or not plotted: how many, and where the first stands.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Hidden {
    /// How many.
    pub count: usize,
    /// Where the first stands.
    pub first: Origin,
}

/// One finding for each layer that hides something, or is not plotted.
pub fn tell_hidden(files: &Files, by_layer: &BTreeMap<LayerAt, Hidden>, report: &mut Report) {
    for (at, Hidden { count, first }) in by_layer {
        let Some(file) = files.get(at.file) else { continue };
        let Some(n) = usize::try_from(at.layer).ok() else { continue };
        let Some(state) = file.states.get(n) else { continue };
        let name = file.layer_name(at.layer);
        let place = Place { layer: Some(name.clone()), ..place(*first) };
        let things = if *count == 1 { "1 entity".to_owned() } else { format!("{count} entities") };
        report.add(if state.frozen || state.off {
            let how = if state.frozen { "frozen" } else { "switched off" };
            Finding::warning(Code::LayerHidden, place, format!("layer {name} is {how}: {things} on it left out"))
                .hint("thaw it and switch it on if they belong to the plan")
        } else {
            Finding::note(
                Code::LayerHidden,
                place,
                format!("layer {name} is not plotted: {things} on it used all the same"),
            )
        });
    }
}
