//! The README's pictures are what the program draws today.

use std::fs;
use std::path::Path;

use plumbrail::catalog::{Job, Settings, rules_named, system_named};
use plumbrail::{lay_out, sheet, write};

/// Compares with the kept picture; `PLUMBRAIL_BLESS=1` keeps today's.
#[test]
fn pictures_of_the_readme_are_up_to_date() {
    let case = Path::new(env!("CARGO_MANIFEST_DIR")).join("fixtures/lakeside");
    let settings =
        Settings::new(Job::default(), system_named("composite-36").unwrap(), rules_named("irc-2021").unwrap()).unwrap();
    let outcome = lay_out(&fs::read(case.join("plan.dxf")).unwrap(), "plan.dxf", &settings).unwrap();
    let set = sheet::compose(&outcome.plan, &outcome.layout, &outcome.findings, &outcome.proof);
    let panel = set.elevations.iter().find(|d| d.name == "S7").unwrap();
    for (name, svg) in [
        ("plan.svg", write::svg::document(&[&set.plan], &set.background)),
        ("S7.svg", write::svg::document(&[panel], &[])),
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
