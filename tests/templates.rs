//! Templates in the finished PDF, measured by a reader that is not ours: every mark within 0.1 mm of where the layout has it.

use std::collections::BTreeMap;
use std::fs;

use plumbrail::catalog::{Job, Paper, Settings, rules_named, system_named};
use plumbrail::sheet::{self, TemplatePaper};
use plumbrail::{lay_out, write};

use crate::interop::{root, scratch, script};

/// Level, angled, raked, metric, cables, frames.
const CASES: [(&str, &str); 7] = [
    ("lakeside", "composite-36"),
    ("corner-135", "composite-36"),
    ("stair-lines", "composite-36"),
    ("metric", "composite-36"),
    ("metric", "metal-42"),
    ("cable", "cable-36"),
    ("framed", "frame-42"),
];

#[test]
fn every_mark_is_in_the_pdf_where_the_layout_has_it() {
    let folder = scratch("templates");
    for (fixture, system) in CASES {
        let settings =
            Settings::new(Job::default(), system_named(system).unwrap(), rules_named("irc-2021").unwrap()).unwrap();
        let plan = fs::read(root().join("fixtures").join(fixture).join("plan.dxf")).unwrap();
        let outcome = lay_out(&plan, "plan.dxf", &settings).unwrap();
        let layout = &outcome.layout;
        let record = folder.join(format!("{fixture}-{system}.json"));
        fs::write(&record, write::json::layout(layout, &outcome.findings, &outcome.proof)).unwrap();
        let desk = Paper::desk(layout.measure.unit.is_imperial());
        for (name, paper) in [("roll", TemplatePaper::Roll), ("tiled", TemplatePaper::Tiled(desk))] {
            let pages = sheet::templates(layout, paper);
            let pdf = folder.join(format!("{fixture}-{system}-{name}.pdf"));
            fs::write(&pdf, write::pdf::document(&pages, &BTreeMap::new(), &write::pdf::PdfFacts::default())).unwrap();
            let last = script("templates.py", &[&pdf, &record]);
            assert!(last.contains(&format!("{} panels", layout.panels.len())), "{last}");
        }
    }
}
