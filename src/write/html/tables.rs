//! The tables of the sheets in both units, each row with the thing that it is about.

use serde::Serialize;

use super::both::Both;
use super::{Report, Side};
use crate::sheet::{self, Table};

/// A table of the page.
#[derive(Serialize)]
pub(super) struct View {
    pub title: &'static str,
    pub heads: Vec<Head>,
    pub rows: Vec<Row>,
    pub notes: Vec<Both>,
}

/// Head of a column.
#[derive(Serialize)]
pub(super) struct Head {
    pub text: String,
    pub is_number: bool,
}

/// A row.
#[derive(Serialize)]
pub(super) struct Row {
    /// Kind and id of what it is about, as in the drawings.
    pub object: Option<(&'static str, String)>,
    pub cells: Vec<Both>,
}

/// What is built, cut and bought.
pub(super) fn lists(report: &Report<'_>) -> Vec<View> {
    views(report, sheet::schedules(report.own.layout), sheet::schedules(report.other.layout))
}

/// Every limit, and what loads come to. Findings and cautions have their own place on the page.
pub(super) fn limits(report: &Report<'_>) -> Vec<View> {
    let of = |side: &Side<'_>| {
        let all = sheet::limit_tables(side.layout, &[], report.proof);
        all.into_iter().filter(|t| t.title != "Cautions").collect()
    };
    views(report, of(&report.own), of(&report.other))
}

fn views(report: &Report<'_>, own: Vec<Table>, other: Vec<Table>) -> Vec<View> {
    let pairs = own.into_iter().zip(other).filter(|(own, _)| !own.rows.is_empty());
    pairs.map(|(own, other)| view(report, own, other)).collect()
}

fn view(report: &Report<'_>, own: Table, other: Table) -> View {
    let both = |(own, other): (String, String)| Both::new(own, other);
    let heads = own.columns.iter().map(|c| Head { text: c.head().to_owned(), is_number: c.is_number() }).collect();
    let row = |(cells, others): (Vec<String>, Vec<String>)| Row {
        object: object(report, own.title, &cells),
        cells: cells.into_iter().zip(others).map(both).collect(),
    };
    View {
        title: own.title,
        heads,
        rows: own.rows.into_iter().zip(other.rows).map(row).collect(),
        notes: own.notes.into_iter().zip(other.notes).map(both).collect(),
    }
}

/// The panel or post that a row names as its own.
fn object(report: &Report<'_>, title: &str, cells: &[String]) -> Option<(&'static str, String)> {
    let layout = report.own.layout;
    // Limits name the place where they came nearest in their seventh column.
    let name = match title {
        "Posts" | "Panels" => cells.first(),
        "Limits" => cells.get(6),
        _ => None,
    }?;
    let is_panel = layout.panels.iter().any(|p| p.span.id == *name);
    let is_post = layout.posts.iter().any(|p| p.id == *name);
    let kind = if is_panel { "panel" } else { "post" };
    (is_panel || is_post).then(|| (kind, name.clone()))
}
