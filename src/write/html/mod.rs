//! `report.html`: one page with everything, which opens without a network and without a server.
//!
//! All texts come from the tables and drawings of the sheets, once in the shop's unit and once in the other one; the page
//! shows one of them. The template stands beside this file with its style and its script.

mod both;
mod cards;
mod findings;
mod stock;
mod tables;
#[cfg(test)]
mod tests;

use std::collections::BTreeMap;

use minijinja::syntax::SyntaxConfig;
use minijinja::value::Serde;
use minijinja::{Environment, Error, UndefinedBehavior};
use serde::Serialize;
use sha2::{Digest, Sha256};

use super::json;
use super::svg::inline;
use crate::base::{Conclusion, Finding, Measure, Severity, headline};
use crate::parts::Layout;
use crate::proof::Proof;
use crate::sheet::{self, CAUTIONS, Layer, Set};

use both::Both;

const TEMPLATE: &str = include_str!("report.html.jinja");
const SCRIPT: &str = concat!(include_str!("pan.js"), include_str!("report.js"));
/// How a page of ours looks.
pub const STYLE: &str = include_str!("report.css");
/// Pan and zoom of a drawing on a page: the function `panAndZoom`.
pub const PAN: &str = include_str!("pan.js");

/// Bytes of a page that are looked at together.
const GLANCE: usize = 4096;

/// A layout with its drawings, both in one unit.
#[derive(Debug, Clone, Copy)]
pub struct Side<'a> {
    /// The layout.
    pub layout: &'a Layout,
    /// Its drawings.
    pub set: &'a Set,
}

/// What a page is made of.
#[derive(Debug, Clone, Copy)]
pub struct Report<'a> {
    /// In the shop's unit.
    pub own: Side<'a>,
    /// The same in the other unit ([`Layout::in_other_units`]).
    pub other: Side<'a>,
    /// What was found.
    pub findings: &'a [Finding],
    /// The re-check.
    pub proof: &'a Proof,
    /// Names of the layers, where the job has its own.
    pub names: &'a BTreeMap<Layer, String>,
}

impl Report<'_> {
    /// A text in either unit.
    fn both(&self, text: impl Fn(&Measure) -> String) -> Both {
        Both::new(text(&self.own.layout.measure), text(&self.other.layout.measure))
    }
}

/// The page as UTF-8.
///
/// # Errors
/// When the template cannot be filled, which would be a fault of the template.
pub fn report(report: &Report<'_>) -> Result<Vec<u8>, Error> {
    let mut environment = Environment::new();
    environment.set_undefined_behavior(UndefinedBehavior::Strict);
    environment.set_syntax(SyntaxConfig::builder().trim_blocks(true).lstrip_blocks(true).build()?);
    // The name ends in .html, so every text is escaped unless the template says `safe`.
    environment.add_template("report.html", TEMPLATE)?;
    let page = environment.get_template("report.html")?.render(Serde(Page::of(report)))?;
    // Escaping leaves control characters, which no page may hold (HTML standard, section 13.2.3.5).
    Ok(without_controls(page).into_bytes())
}

/// The page without control characters. Most pages have none, and some are large: so a glance at the bytes comes first.
fn without_controls(mut page: String) -> String {
    let is_odd = |(byte, next): (&u8, &u8)| {
        let is_space = matches!(byte, b'\n' | b'\t');
        // In UTF-8 those from U+0080 to U+009F are the byte C2 and one under A0.
        (*byte < 0x20 && !is_space) || *byte == 0x7f || (*byte == 0xc2 && *next < 0xa0)
    };
    let bytes = page.as_bytes();
    // A last byte that has none behind it is looked at with the next one being itself.
    let last = bytes.last().map(|last| (last, last));
    let pairs = bytes.chunks(GLANCE).zip(bytes.get(1..).unwrap_or_default().chunks(GLANCE));
    // All of a piece, without a way out in its middle, is what a processor does many bytes at a time.
    let in_piece = |(piece, next): (&[u8], &[u8])| piece.iter().zip(next).fold(false, |odd, at| odd | is_odd(at));
    if last.is_some_and(is_odd) || pairs.into_iter().any(in_piece) {
        page.retain(|c| !c.is_control() || matches!(c, '\n' | '\t'));
    }
    page
}

/// All that the template shows.
#[derive(Serialize)]
struct Page<'a> {
    title: String,
    policy: String,
    style: &'static str,
    script: &'static str,
    data: String,
    facts: Vec<(&'static str, String)>,
    cautions: &'a [&'a str],
    proof: String,
    /// What all findings come to, and whether it is a yes.
    headline: String,
    complete: bool,
    errors: usize,
    missing: usize,
    warnings: usize,
    notes: usize,
    imperial: bool,
    mark: Both,
    runs: Vec<usize>,
    plan: [String; 2],
    findings: Vec<findings::Row>,
    cards: Vec<cards::Card>,
    stock: Vec<stock::Bar>,
    lists: Vec<tables::View>,
    limits: Vec<tables::View>,
    details: Vec<Detail>,
}

/// A drawing beside those of plan and panels.
#[derive(Serialize)]
struct Detail {
    title: String,
    svg: [String; 2],
}

impl<'a> Page<'a> {
    fn of(report: &Report<'a>) -> Self {
        let layout = report.own.layout;
        let findings = findings::rows(report);
        let count = |severity| report.findings.iter().filter(|f| f.severity == severity).map(|f| f.count).sum();
        let cards = cards::cards(report, &findings);
        let plan = |side: &Side<'_>| inline(&side.set.plan, &side.set.background, report.names);
        Self {
            title: layout.project.name.clone().unwrap_or_else(|| format!("Guard rail of {}", layout.plan.file)),
            policy: policy(),
            style: STYLE,
            script: SCRIPT,
            data: data(report, &findings),
            facts: facts(layout),
            cautions: &CAUTIONS,
            proof: report.proof.summary(),
            headline: capital(&headline(report.findings, report.proof.unchecked(), Some(&layout.plan.frame))),
            complete: Conclusion::of(report.findings) == Conclusion::Complete,
            errors: count(Severity::Error),
            missing: count(Severity::Incomplete),
            warnings: count(Severity::Warning),
            notes: count(Severity::Note),
            imperial: layout.measure.unit.is_imperial(),
            mark: report.both(|m| sheet::size_text(m, layout.measure.mark.length())),
            runs: layout.runs.iter().map(|r| r.number).collect(),
            plan: [plan(&report.own), plan(&report.other)],
            cards,
            stock: stock::bars(report),
            lists: tables::lists(report),
            limits: tables::limits(report),
            details: details(report),
            findings,
        }
    }
}

/// A sentence as it begins a line.
fn capital(sentence: &str) -> String {
    let mut letters = sentence.chars();
    letters.next().map_or_else(String::new, |first| first.to_uppercase().chain(letters).collect())
}

/// Section and flights.
fn details(report: &Report<'_>) -> Vec<Detail> {
    let all = |side: &Side<'_>| -> Vec<(String, String)> {
        let drawings = std::iter::once(&side.set.section).chain(&side.set.flights);
        drawings.map(|d| (d.title.clone(), inline(d, &[], report.names))).collect()
    };
    let pairs = all(&report.own).into_iter().zip(all(&report.other));
    pairs.map(|((title, own), (_, other))| Detail { title, svg: [own, other] }).collect()
}

/// What the page is of.
fn facts(layout: &Layout) -> Vec<(&'static str, String)> {
    let project = &layout.project;
    let given = |name, value: &Option<String>| value.clone().map(|value| (name, value));
    let mut facts: Vec<(&'static str, String)> = [
        given("Address", &project.address),
        given("Client", &project.client),
        given("Drawn by", &project.drawn_by),
        given("Checked by", &project.checked_by),
        given("Date", &project.date),
    ]
    .into_iter()
    .flatten()
    .collect();
    facts.extend([
        ("Plan", layout.plan.file.clone()),
        ("Rail system", layout.system.title.clone()),
        ("Rules", layout.rules.title.clone()),
    ]);
    facts
}

/// What the script needs to know: which things belong together, and under which name the page remembers its ticks.
fn data(report: &Report<'_>, findings: &[findings::Row]) -> String {
    #[derive(Serialize)]
    struct Panel<'a> {
        id: &'a str,
        run: usize,
        posts: Vec<&'a str>,
    }
    #[derive(Serialize)]
    struct Data<'a> {
        key: String,
        panels: Vec<Panel<'a>>,
        findings: Vec<(usize, Option<&'a str>, Option<&'a str>)>,
    }
    let layout = report.own.layout;
    let post = |support: crate::guard::Support| support.post().and_then(|i| layout.posts.get(i)).map(|p| p.id.as_str());
    // Those that have a card.
    let panels = layout.panels.iter().zip(&report.own.set.elevations).map(|(at, _)| Panel {
        id: &at.span.id,
        run: layout.runs.get(at.span.run).map_or(0, |r| r.number),
        posts: [at.span.from, at.span.to].into_iter().filter_map(post).collect(),
    });
    let whole = json::layout(layout, &[], report.proof);
    let data = Data {
        // The plan's own hash stands in the layout, so a tick belongs to this plan laid out in this way.
        key: format!("plumbrail:{}", json::sha256(&whole)),
        panels: panels.collect(),
        findings: findings.iter().map(|f| (f.number, f.panel.as_deref(), f.post.as_deref())).collect(),
    };
    harmless(&serde_json::to_string(&data).unwrap_or_default())
}

/// JSON that can stand in a script element: nothing in it ends the element or begins a comment.
fn harmless(json: &str) -> String {
    json.replace('<', "\\u003c").replace('>', "\\u003e").replace('&', "\\u0026")
}

/// Nothing is loaded, and nothing runs but our own style and script.
fn policy() -> String {
    let hash = |text: &str| format!("'sha256-{}'", base64(&Sha256::digest(text.as_bytes())));
    format!(
        "default-src 'none'; script-src {}; style-src {}; img-src data:; base-uri 'none'; form-action 'none'",
        hash(SCRIPT),
        hash(STYLE)
    )
}

/// Base 64 with padding (RFC 4648, section 4).
fn base64(bytes: &[u8]) -> String {
    const SIGNS: &[u8; 64] = b"ABCDEFGHIJKLMNOPQRSTUVWXYZabcdefghijklmnopqrstuvwxyz0123456789+/";
    let mut out = String::new();
    for chunk in bytes.chunks(3) {
        let three = chunk.iter().fold(0_u32, |sum, b| sum << 8 | u32::from(*b)) << (8 * (3 - chunk.len()));
        for place in 0..4 {
            let index = usize::try_from(three >> (18 - 6 * place) & 63).unwrap_or_default();
            let sign = SIGNS.get(index).copied().filter(|_| place <= chunk.len());
            out.push(sign.map_or('=', char::from));
        }
    }
    out
}
