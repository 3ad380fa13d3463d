//! The README's pictures are what the program draws today.

use std::collections::BTreeMap;
use std::fs;
use std::path::Path;

use plumbrail::catalog::{Job, Project, Revision, Settings, rules_named, system_named};
use plumbrail::{lay_out, sheet, write};

/// Compares with the kept picture; `PLUMBRAIL_BLESS=1` keeps today's.
#[test]
fn pictures_of_the_readme_are_up_to_date() {
    let case = Path::new(env!("CARGO_MANIFEST_DIR")).join("fixtures/lakeside");
    let project = Project {
        name: Some("Lakeside deck, guard rail".to_owned()),
        address: Some("12 Shore Road, Example Bay".to_owned()),
        client: Some("Example Holdings".to_owned()),
        drawn_by: Some("Office 2".to_owned()),
        checked_by: Some("Office 1".to_owned()),
        date: Some("2026-11-26".to_owned()),
        north: Some(20.0),
        revisions: vec![Revision {
            mark: "A".to_owned(),
            date: Some("2026-11-20".to_owned()),
            text: "Issued for review".to_owned(),
        }],
    };
    let settings =
        Settings::new(Job::default(), system_named("composite-36").unwrap(), rules_named("irc-2021").unwrap()).unwrap();
    let outcome = lay_out(&fs::read(case.join("plan.dxf")).unwrap(), "plan.dxf", &settings).unwrap();
    let set = sheet::compose(&outcome.plan, &outcome.layout, &outcome.findings);
    let mut titled = outcome.layout.clone();
    titled.project = project;
    let sheets = sheet::permit_set(&titled, &set, &outcome.findings, &outcome.proof);
    let panel = set.elevations.iter().find(|d| d.name == "S7").unwrap();
    for (name, svg) in [
        ("plan.svg", write::svg::document(&[&set.plan], &set.background)),
        ("S7.svg", write::svg::document(&[panel], &[])),
        ("R1.svg", write::svg::page(&sheets[0], &BTreeMap::new())),
    ] {
        let kept = case.join("expected").join(name);
        if std::env::var_os("PLUMBRAIL_BLESS").is_some() {
            fs::create_dir_all(case.join("expected")).unwrap();
            fs::write(&kept, &svg).unwrap();
        }
        let on_disk = fs::read_to_string(&kept).unwrap_or_default();
        assert!(
            on_disk == svg,
            "expected/{name} is not what is drawn: look at it, then run PLUMBRAIL_BLESS=1 cargo test pictures"
        );
    }
}
