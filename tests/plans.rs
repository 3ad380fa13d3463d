//! Plans as designers draw them, each with what is odd about it: state, first finding and its place. None of them may end
//! with 0 while an edge is open, a rail stands in the air or a mouth is blocked.

#[path = "plans/table.rs"]
mod table;

use std::fs;

use plumbrail::base::{Conclusion, Finding, Severity};
use plumbrail::cad::{Externals, no_externals};
use plumbrail::{PlanFile, lay_out_file, settings};

use crate::program::root;
use table::ROWS;

/// A plan of `tests/plans`, its job, what it comes to, code of the finding that is told first, and its place in drawing
/// units; a note of what was seen in its drawing.
struct Row {
    plan: &'static str,
    job: &'static str,
    state: Conclusion,
    code: &'static str,
    at: Option<[f64; 2]>,
}

const fn row(plan: &'static str, state: Conclusion, code: &'static str, at: Option<[f64; 2]>) -> Row {
    Row { plan, job: "", state, code, at }
}

/// What is told first: of an incomplete layout what is missing, else the first limit that is broken.
fn first(findings: &[Finding]) -> Option<&Finding> {
    let of = |severity| findings.iter().find(|f| f.severity == severity);
    of(Severity::Incomplete).or_else(|| of(Severity::Error))
}

/// Code, place in drawing units and words of the finding that is told first.
type Told = (String, Option<[f64; 2]>, String);

fn outcome(row: &Row) -> (Conclusion, Option<Told>) {
    let bytes = fs::read(root().join("tests/plans").join(row.plan)).unwrap();
    let settings = settings(row.job, "", "").unwrap();
    let externals: &Externals<'_> = &no_externals;
    match lay_out_file(&PlanFile { externals, ..PlanFile::new(&bytes, row.plan) }, &settings) {
        Ok(outcome) => {
            let place = |f: &Finding| f.place.at.map(|p| outcome.plan.frame.to_drawing(p)).map(|p| [p.x, p.y]);
            let first = first(&outcome.findings);
            let told = first.map(|f| (f.code.text().to_owned(), place(f), f.message.clone()));
            (Conclusion::of(&outcome.findings), told)
        }
        Err(refusal) => (
            Conclusion::Incomplete,
            Some((refusal.finding.code.text().to_owned(), None, refusal.finding.message.clone())),
        ),
    }
}

#[test]
fn every_plan_comes_to_what_its_row_says() {
    let mut wrong = Vec::new();
    for row in ROWS {
        let (state, told) = outcome(row);
        let (code, at) = told.as_ref().map_or(("", None), |(code, at, _)| (code.as_str(), *at));
        let near = match (row.at, at) {
            (Some([x, y]), Some([p, q])) => (x - p).hypot(y - q) < 0.5,
            (None, None) => true,
            _ => false,
        };
        if (state, code) != (row.state, row.code) || !near {
            wrong.push(format!(
                "row({:?}, {state:?}, {code:?}, {at:?}), // {:?}",
                row.plan,
                told.as_ref().map(|t| &t.2)
            ));
        }
    }
    assert!(wrong.is_empty(), "{} of {}:\n{}", wrong.len(), ROWS.len(), wrong.join("\n"));
}

#[test]
fn every_plan_has_its_row() {
    let mut missing = Vec::new();
    for folder in ["", "open"] {
        for entry in fs::read_dir(root().join("tests/plans").join(folder)).unwrap() {
            let name = entry.unwrap().file_name().into_string().unwrap();
            let plan = if folder.is_empty() { name.clone() } else { format!("{folder}/{name}") };
            if name.ends_with(".dxf") && ROWS.iter().all(|row| row.plan != plan) {
                missing.push(plan);
            }
        }
    }
    assert_eq!(missing, Vec::<String>::new());
}

/// A stair that is read only in part says what was read and what was not.
#[test]
fn half_read_stairs_say_what_was_read() {
    let (_, told) = outcome(&row("9diag.dxf", Conclusion::Incomplete, "", None));
    let (.., message) = told.unwrap();
    assert!(message.contains("3 parallel treads are read, 3 other lines beside them are not"), "{message}");
}
