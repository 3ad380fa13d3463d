//! Findings, errors and what was done on standard error: place, what, and a hint line; or a JSON object a line.

use std::io::Write;
use std::path::Path;

use plumbrail::base::{
    Code, Finding, Frame, Length, Place, Refusal, Severity, brief, counted, spot, visible, visible_line,
};
use plumbrail::catalog::CatalogError;
use plumbrail::parts::record::SeverityRecord;
use plumbrail::write::json;
use plumbrail::write::message::{ConclusionLine, FailureLine, FindingLine, Message, SummaryLine};

use crate::args::MessageFormat;
use crate::output::Unwritten;

/// Prints findings, worst first; JSON lines carry what `layout.json` does, with the file.
pub fn findings(file: &Path, frame: Option<&Frame>, findings: &[Finding], format: MessageFormat) {
    if format == MessageFormat::Json {
        for finding in worst_first(findings) {
            line(&Message::Finding(Box::new(FindingLine::new(file.display().to_string(), frame, finding))));
        }
        return;
    }
    let counted = counted(findings);
    let (notes, weighty): (Vec<&Finding>, Vec<&Finding>) =
        worst_first(&counted).into_iter().partition(|f| f.severity == Severity::Note);
    for finding in weighty {
        say(&text(file, frame, finding));
    }
    for alike in by_code(notes) {
        match alike.as_slice() {
            [first, others @ ..] if alike.len() >= FOLDED => {
                say(&format!("{}  and {} more like it{}\n", text(file, frame, first), others.len(), panels(others)));
            }
            few => few.iter().for_each(|f| say(&text(file, frame, f))),
        }
    }
}

fn worst_first(findings: &[Finding]) -> Vec<&Finding> {
    let mut sorted: Vec<&Finding> = findings.iter().collect();
    sorted.sort_by_key(|f| std::cmp::Reverse(f.severity));
    sorted
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
    let mut at = shown(file);
    if let Some(line) = place.line {
        at.push_str(&format!(":{line}"));
    }
    let parts = spot(place, frame);
    let repaired = if finding.repaired { ", repaired" } else { "" };
    let mut out = format!("{at}: {}[{}{repaired}]: ", finding.severity.word(), finding.code);
    out.push_str(&format!("{}\n", visible_line(&format!("{}{parts}", finding.message))));
    if let Some(rule) = &finding.rule {
        let told = |length: Length| frame.map_or_else(|| length.told(), |frame| frame.with_unit(length));
        let (limit, actual) = (told(rule.limit), told(rule.actual));
        let of = format!("{} {}", rule.set, rule.section);
        out.push_str(&format!("  rule: {}: limit {limit}, found {actual}\n", visible_line(&of)));
    }
    if let Some(hint) = &finding.hint {
        out.push_str(&format!("  hint: {}\n", visible_line(hint)));
    }
    out
}

/// A file's name on one line.
fn shown(file: &Path) -> String {
    visible_line(&file.to_string_lossy()).into_owned()
}

/// An error's words; only those of a file of settings go over several lines, which quote it.
fn words(error: &anyhow::Error) -> String {
    let words = brief(&format!("{error:#}"));
    if error.is::<CatalogError>() { words } else { visible_line(&words).into_owned() }
}

/// On standard error, with nothing in it that a terminal would obey. Where it is closed nobody wants to know, and the work
/// goes on.
fn say(text: &str) {
    drop(std::io::stderr().lock().write_all(visible(text).as_bytes()));
}

fn line(message: &Message) {
    say(&String::from_utf8_lossy(&json::line(message)));
}

/// Prints why the drawing is not usable, and what else was found before.
pub fn refusal(file: &Path, refusal: &Refusal, format: MessageFormat) {
    let all: Vec<Finding> = refusal.others.iter().chain([&*refusal.finding]).cloned().collect();
    findings(file, None, &all, format);
}

/// Prints the error that ended the work on one of many plans.
pub fn failed_plan(file: &Path, error: &anyhow::Error, format: MessageFormat) {
    match format {
        MessageFormat::Text => {
            say(&format!("{}: error: {}\n", shown(file), words(error)));
            hint(error).into_iter().for_each(|hint| say(&format!("  hint: {}\n", visible_line(hint))));
        }
        MessageFormat::Json => {
            let message = brief(&format!("{error:#}"));
            failed(Some(file.display().to_string()), message, hint(error).map(str::to_owned));
        }
    }
}

/// Warns of a layout in a folder whose files may not belong together.
pub fn unfinished(file: &Path, format: MessageFormat) {
    let message = "a run was stopped while it moved its files into this folder, so not all of them belong together";
    let finding = Finding::warning(Code::OutputUnfinished, Place::none(), message);
    findings(file, None, &[finding.hint("lay the plan out again: that finishes it")], format);
}

/// Prints what all findings of a plan come to: the last that is said of it.
pub fn conclusion(conclusion: ConclusionLine, format: MessageFormat) {
    match format {
        MessageFormat::Text => {
            let said = format!("{}: {}", conclusion.file, conclusion.headline);
            say(&format!("{}\n", visible_line(&said)));
        }
        MessageFormat::Json => line(&Message::Conclusion(conclusion)),
    }
}

/// What to do about an error.
fn hint(error: &anyhow::Error) -> Option<&str> {
    let unwritten = || error.downcast_ref::<Unwritten>().map(|u| u.hint);
    error.downcast_ref::<CatalogError>().and_then(|c| c.hint.as_deref()).or_else(unwritten)
}

/// Prints the error that ended the work. A refusal's findings were printed with their file already.
pub fn failure(error: &anyhow::Error, format: MessageFormat) {
    if error.downcast_ref::<Refusal>().is_some() {
        return;
    }
    let hint = hint(error);
    match format {
        MessageFormat::Text => {
            say(&format!("error: {}\n", words(error)));
            if let Some(hint) = hint {
                say(&format!("  hint: {}\n", visible_line(hint)));
            }
        }
        MessageFormat::Json => failed(None, brief(&format!("{error:#}")), hint.map(str::to_owned)),
    }
}

/// Prints what is wrong with the arguments, or the help that they ask for.
pub fn usage(error: &clap::Error) {
    let arguments: Vec<String> = std::env::args_os().map(|a| a.to_string_lossy().into_owned()).collect();
    let is_json = arguments.iter().any(|a| a == "--message-format=json")
        || arguments.windows(2).any(|pair| pair == ["--message-format", "json"]);
    if is_json && error.use_stderr() {
        let text = error.to_string();
        let (what, more) = text.split_once("\n\n").unwrap_or((&text, ""));
        let what = what.strip_prefix("error: ").unwrap_or(what).trim_end();
        failed(None, what.to_owned(), Some(more.trim_end().to_owned()).filter(|m| !m.is_empty()));
    } else if arguments.iter().any(|a| visible_line(a) != *a) {
        // Without colours, which nobody could tell from what stands in the arguments.
        say(&error.to_string());
    } else {
        // Where the terminal is gone nobody reads it.
        drop(error.print());
    }
}

fn failed(file: Option<String>, message: String, hint: Option<String>) {
    line(&Message::Failure(FailureLine { severity: SeverityRecord::Error, file, message, hint }));
}

/// Prints what a plan has become, for programs; or, for people, the same as a sentence.
pub fn summary(summary: SummaryLine, format: MessageFormat) {
    match format {
        MessageFormat::Text => say(&format!("{}\n", visible_line(&summary.message))),
        MessageFormat::Json => line(&Message::Summary(summary)),
    }
}
