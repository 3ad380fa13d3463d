//! Findings and errors on standard error: place, what, and a hint line.

use std::path::Path;

use plumbrail::base::{Finding, Frame, Refusal, Severity, brief, decimal};
use plumbrail::catalog::CatalogError;
use serde_json::json;

use crate::args::MessageFormat;

/// Prints findings, worst first; JSON lines carry what `layout.json` does, with the file.
pub fn findings(file: &Path, frame: Option<&Frame>, findings: &[Finding], format: MessageFormat) {
    let mut sorted: Vec<&Finding> = findings.iter().collect();
    sorted.sort_by_key(|f| std::cmp::Reverse(f.severity));
    if format == MessageFormat::Json {
        for finding in sorted {
            eprintln!("{}", line(file, frame, finding));
        }
        return;
    }
    let (notes, weighty): (Vec<&Finding>, Vec<&Finding>) =
        sorted.into_iter().partition(|f| f.severity == Severity::Note);
    for finding in weighty {
        eprint!("{}", text(file, frame, finding));
    }
    for alike in by_code(notes) {
        match alike.as_slice() {
            [first, others @ ..] if alike.len() >= FOLDED => {
                eprintln!("{}  and {} more like it{}", text(file, frame, first), others.len(), panels(others));
            }
            few => few.iter().for_each(|f| eprint!("{}", text(file, frame, f))),
        }
    }
}

/// Notes of one kind are told one by one below this many, else the first with the places of the others.
const FOLDED: usize = 3;

/// So many of those places are named: more than a terminal line of them, nobody reads.
const NAMED: usize = 16;

/// Notes of a kind together, in the order of the first of each.
fn by_code(notes: Vec<&Finding>) -> Vec<Vec<&Finding>> {
    let mut groups: Vec<Vec<&Finding>> = Vec::new();
    for note in notes {
        match groups.iter_mut().find(|g| g.first().is_some_and(|f| f.code == note.code)) {
            Some(group) => group.push(note),
            None => groups.push(vec![note]),
        }
    }
    groups
}

fn panels(findings: &[&Finding]) -> String {
    let named: Vec<&str> = findings.iter().filter_map(|f| f.place.panel.as_deref()).collect();
    let more = if named.len() > NAMED { " ..." } else { "" };
    match named.get(..NAMED.min(named.len())) {
        None | Some([]) => String::new(),
        Some(shown) => format!(": {}{more}", shown.join(", ")),
    }
}

fn text(file: &Path, frame: Option<&Frame>, finding: &Finding) -> String {
    let place = &finding.place;
    let mut at = file.display().to_string();
    if let Some(line) = place.line {
        at.push_str(&format!(":{line}"));
    }
    let mut parts = Vec::new();
    parts.extend(place.panel.as_ref().map(|p| format!("panel {p}")));
    parts.extend(place.post.as_ref().map(|p| format!("post {p}")));
    parts.extend(place.handle.map(|h| format!("handle {h:X}")));
    parts.extend(place.layer.as_ref().map(|l| format!("layer {l}")));
    if let Some((p, frame)) = place.at.zip(frame) {
        let p = frame.to_drawing(p);
        parts.push(format!("at {}, {}", decimal(p.x, 3), decimal(p.y, 3)));
    }
    let parts = if parts.is_empty() { String::new() } else { format!(" ({})", parts.join(", ")) };
    let repaired = if finding.repaired { ", repaired" } else { "" };
    let mut out =
        format!("{at}: {}[{}{repaired}]: {}{parts}\n", finding.severity.word(), finding.code, finding.message);
    if let Some(rule) = &finding.rule {
        out.push_str(&format!("  rule: {} {}: limit {}, found {}\n", rule.set, rule.section, rule.limit, rule.actual));
    }
    if let Some(hint) = &finding.hint {
        out.push_str(&format!("  hint: {hint}\n"));
    }
    out
}

fn line(file: &Path, frame: Option<&Frame>, finding: &Finding) -> serde_json::Value {
    let place = &finding.place;
    let at = place.at.zip(frame).map(|(p, f)| f.to_drawing(p));
    json!({
        "file": file.display().to_string(),
        "code": finding.code.text(),
        "severity": finding.severity.word(),
        "repaired": finding.repaired,
        "line": place.line,
        "handle": place.handle.map(|h| format!("{h:X}")),
        "layer": place.layer,
        "panel": place.panel,
        "post": place.post,
        "x": at.map(|p| p.x),
        "y": at.map(|p| p.y),
        "message": finding.message,
        "hint": finding.hint,
        "rule": finding.rule.as_ref().map(|r| json!({
            "set": r.set,
            "section": r.section,
            "limit": r.limit.to_string(),
            "actual": r.actual.to_string(),
        })),
    })
}

/// Prints why the drawing is not usable, and what else was found before.
pub fn refusal(file: &Path, refusal: &Refusal, format: MessageFormat) {
    let all: Vec<Finding> = refusal.others.iter().chain([&*refusal.finding]).cloned().collect();
    findings(file, None, &all, format);
}

/// Prints the error that ended the work on one of many plans.
pub fn failed_plan(file: &Path, error: &anyhow::Error, format: MessageFormat) {
    let file = file.display().to_string();
    match format {
        MessageFormat::Text => eprintln!("{file}: error: {error:#}"),
        MessageFormat::Json => {
            eprintln!("{}", json!({ "file": file, "severity": "error", "message": format!("{error:#}") }));
        }
    }
}

/// Prints the error that ended the work. A refusal's findings were printed with their file already.
pub fn failure(error: &anyhow::Error, format: MessageFormat) {
    if error.downcast_ref::<Refusal>().is_some() {
        return;
    }
    let catalog = error.downcast_ref::<CatalogError>();
    let hint = catalog.and_then(|c| c.hint.clone());
    let message = brief(&format!("{error:#}"));
    match format {
        MessageFormat::Text => {
            eprintln!("error: {message}");
            if let Some(hint) = hint {
                eprintln!("  hint: {hint}");
            }
        }
        MessageFormat::Json => {
            eprintln!("{}", json!({ "severity": "error", "message": message, "hint": hint }));
        }
    }
}
