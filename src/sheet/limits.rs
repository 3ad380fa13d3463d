//! Tables of the re-check: every limit with what came nearest to it, and what loads come to.

use crate::base::Length;
use crate::parts::Layout;
use crate::proof::{self, LimitRow, NO_DESIGN, Proof, Verdict};

use super::grid::{Column, Table};

/// Every limit of the rule set and of the rail system, and where its value was read.
pub(super) fn limits(layout: &Layout, proof: &Proof) -> [Table; 2] {
    let rows = proof::summary_by_limit(proof);
    let (idle, made): (Vec<&LimitRow>, Vec<&LimitRow>) =
        rows.iter().partition(|row| row.checks == 1 && matches!(row.verdict, Verdict::NotChecked(_)));
    let mut sources = Sources::default();
    let mut cells: Vec<Vec<String>> = made.into_iter().map(|row| of_row(layout, row, &mut sources)).collect();
    cells.extend(idle_cells(layout, &idle, &mut sources));
    let limits = Table {
        title: "Limits",
        columns: vec![
            Column::wrapped("Limit", 44.0),
            Column::text("Rule"),
            Column::text("Known"),
            Column::wrapped("Required", 34.0),
            Column::number("Worst"),
            Column::number("Margin"),
            Column::text("At"),
            Column::number("Checks"),
            Column::wrapped("Result", 70.0),
            Column::number("Source"),
        ],
        rows: cells,
        notes: vec![
            "Worst: of all places, with the cutting tolerance. Margin: by how much it holds there.".to_owned(),
            "Known: seen in the official text, quoted in a secondary text, or from memory and to be confirmed."
                .to_owned(),
            format!("Checked: {}.", proof.summary()),
        ],
    };
    let rows = (1..).zip(sources.0).map(|(number, text): (usize, String)| vec![number.to_string(), text]).collect();
    let sources = Table {
        title: "Sources of the limits",
        columns: vec![Column::number("No."), Column::wrapped("Where the value was read", 150.0)],
        rows,
        notes: Vec::new(),
    };
    [limits, sources]
}

/// Texts that tables refer to by number, each once.
#[derive(Default)]
struct Sources(Vec<String>);

impl Sources {
    fn number(&mut self, text: &str) -> String {
        let found = self.0.iter().position(|t| t == text).unwrap_or_else(|| {
            self.0.push(text.to_owned());
            self.0.len() - 1
        });
        (found + 1).to_string()
    }
}

fn of_row(layout: &Layout, row: &LimitRow, sources: &mut Sources) -> Vec<String> {
    let m = layout.measure;
    let shown = |length: Option<Length>| length.map_or_else(|| "-".to_owned(), |length| m.with_unit(length));
    vec![
        row.what.clone(),
        row.rule_text(),
        row.known_text(),
        row.required.text(m),
        shown(row.worst),
        shown(row.margin),
        row.place_text(),
        row.checks.to_string(),
        row.verdict_text(),
        row.source.as_ref().map_or_else(|| "-".to_owned(), |source| sources.number(&source.read_in)),
    ]
}

/// Limits that nothing was measured for, by the reason.
fn idle_cells(layout: &Layout, idle: &[&LimitRow], sources: &mut Sources) -> Vec<Vec<String>> {
    let mut groups: Vec<(&str, Vec<&LimitRow>)> = Vec::new();
    for row in idle {
        let Verdict::NotChecked(why) = &row.verdict else { continue };
        match groups.iter_mut().find(|(reason, _)| reason == why) {
            Some((_, rows)) => rows.push(row),
            None => groups.push((why, vec![row])),
        }
    }
    let line = |(why, rows): (&str, Vec<&LimitRow>)| {
        if let [alone] = rows.as_slice() {
            return of_row(layout, alone, sources);
        }
        let names: Vec<&str> = rows.iter().map(|row| row.what.as_str()).collect();
        let set = rows.first().and_then(|row| row.source.as_ref()).map_or_else(|| "-".to_owned(), |s| s.set.clone());
        let mut cells = vec![names.join(", "), set];
        cells.extend(["-", "-", "-", "-", "-"].map(str::to_owned));
        cells.extend([rows.len().to_string(), format!("not checked: {why}"), "-".to_owned()]);
        cells
    };
    groups.into_iter().map(line).collect()
}

/// What loads come to: information beside the limits.
pub(super) fn loads(layout: &Layout) -> Table {
    let row = |load: &proof::Load| vec![load.what.clone(), load.text(layout.measure), load.basis.to_owned()];
    Table {
        title: "Loads, for information",
        columns: vec![Column::wrapped("What", 90.0), Column::number("Amount"), Column::wrapped("From", 90.0)],
        rows: proof::loads(layout).iter().map(row).collect(),
        notes: vec![NO_DESIGN.to_owned()],
    }
}
