//! Sheets of panel elevations with their drilling views, panels that are built alike drawn once; and of the section and the
//! flights of stairs.

use std::sync::Arc;

use super::super::alike::{Alike, alike};
use super::super::elevation::facts;
use super::super::{Drawing, Set, scale};
use super::Draft;
use super::details::{self, Detail};
use super::draft::Caption;
use crate::parts::Layout;

/// Sheets of the panels.
pub(super) fn sheets(layout: &Layout, set: &Set) -> Vec<Draft> {
    let all: Vec<Detail> = alike(layout).iter().filter_map(|group| detail(layout, set, group)).collect();
    details::sheets(layout, &all, &|names| {
        let ids = match names {
            [first, _, .., last] => format!("{first} to {last}"),
            few => few.join(" and "),
        };
        format!("Panel elevations, {ids}")
    })
}

fn detail(layout: &Layout, set: &Set, group: &Alike) -> Option<Detail> {
    let drawing = group.indices.first().and_then(|index| set.elevations.get(*index))?;
    let at = group.first(layout)?;
    let mut lines = facts(layout, at, &scale::detail_text(drawing.paper, &layout.measure));
    if group.ids.len() > 1 {
        lines.insert(0, format!("Drawn: {}.", at.span.id));
    }
    Some(Detail { drawing: drawing.clone(), caption: Some(Caption { title: group.text(), lines }) })
}

/// Sheets of the typical section and the flights.
pub(super) fn sections(layout: &Layout, set: &Set) -> Vec<Draft> {
    let detail = |drawing: &Arc<Drawing>| Detail { drawing: drawing.clone(), caption: None };
    let all: Vec<Detail> = std::iter::once(&set.section).chain(&set.flights).map(detail).collect();
    details::sheets(layout, &all, &|names| {
        let flights: Vec<&str> = names.iter().copied().filter(|name| *name != set.section.name).collect();
        match (flights.as_slice(), flights.len() < names.len()) {
            ([], _) => "Typical section".to_owned(),
            (some, false) => format!("Stair elevations, {}", some.join(", ")),
            (some, true) => format!("Typical section, stair elevations {}", some.join(", ")),
        }
    })
}
