//! The table of limits that `plumbrail check` prints for people.

use crate::commands::table;
use plumbrail::base::Length;
use plumbrail::parts::Layout;
use plumbrail::proof::{self, LimitRow, NO_DESIGN, Proof, Verdict};
use plumbrail::sheet;

/// Every limit, what was not checked and why, what loads come to, and the cautions.
pub fn limits(layout: &Layout, proof: &Proof) -> String {
    let rows = proof::summary_by_limit(proof);
    let (open, made): (Vec<&LimitRow>, Vec<&LimitRow>) =
        rows.iter().partition(|row| matches!(row.verdict, Verdict::NotChecked(_)));
    let mut limits =
        table(&["limit", "rule", "known", "required", "worst", "margin", "at", "checks", "result"], &[4, 5, 7]);
    let shown = |length: Option<Length>| length.map_or_else(|| "-".to_owned(), |l| layout.measure.with_unit(l));
    for row in &made {
        limits.add_row([
            row.what.clone(),
            row.rule_text(),
            row.known_text(),
            row.required.text(layout.measure),
            shown(row.worst),
            shown(row.margin),
            row.place_text(),
            row.checks.to_string(),
            if row.verdict == Verdict::Fail { row.verdict_text() } else { row.verdict.word().to_owned() },
        ]);
    }
    let mut out = format!("Limits\n{}\n", limits.trim_fmt());
    let mut lines: Vec<(String, &str)> = Vec::new();
    for row in open.iter().chain(&made) {
        lines.extend(row.open.iter().map(|(what, why)| (what.clone(), why.as_str())));
    }
    if !lines.is_empty() {
        out.push_str("\nNot checked\n");
    }
    while let Some((_, why)) = lines.first().cloned() {
        let (alike, others): (Vec<_>, Vec<_>) = lines.into_iter().partition(|(_, reason)| *reason == why);
        let names: Vec<&str> = alike.iter().map(|(name, _)| name.as_str()).collect();
        out.push_str(&format!(" {}: {why}\n", names.join(", ")));
        lines = others;
    }
    let loads = proof::loads(layout);
    if !loads.is_empty() {
        let mut amounts = table(&["what", "amount", "from"], &[1]);
        for load in &loads {
            amounts.add_row([load.what.clone(), load.text(layout.measure), load.basis.to_owned()]);
        }
        out.push_str(&format!("\nLoads\n{}\n{NO_DESIGN}\n", amounts.trim_fmt()));
    }
    out.push('\n');
    sheet::CAUTIONS.iter().for_each(|caution| out.push_str(&format!("{caution}\n")));
    out
}
