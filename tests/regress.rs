//! What the fuzz targets check, over the fixtures and over inputs that once broke something. The latter lie in
//! `tests/hostile/<target>/`; the name of a file says what was wrong.

use std::fs;
use std::path::Path;

use crate::program::{fixtures, plan, root};

#[path = "../fuzz/src/lib.rs"]
mod checks;

/// Bytes of each file that stands directly in a folder, by name.
fn files(folder: &Path) -> Vec<Vec<u8>> {
    let mut paths: Vec<_> = fs::read_dir(folder).into_iter().flatten().map(|entry| entry.unwrap().path()).collect();
    paths.retain(|path| path.is_file());
    paths.sort();
    // Shown where a test fails.
    paths.iter().inspect(|path| println!("{}", path.display())).map(|path| fs::read(path).unwrap()).collect()
}

fn plans() -> Vec<Vec<u8>> {
    fixtures().iter().map(|case| fs::read(root().join(plan(case))).unwrap()).collect()
}

fn each(target: &str, others: Vec<Vec<u8>>, check: fn(&[u8])) {
    let own = files(&root().join("tests/hostile").join(target));
    assert!(!own.is_empty() || !others.is_empty(), "nothing for {target}");
    own.into_iter().chain(others).for_each(|bytes| check(&bytes));
}

#[test]
fn scanned() {
    each("scan", plans(), checks::scan::check);
}

#[test]
fn read() {
    each("read", plans(), checks::read::check);
}

#[test]
fn laid_out() {
    each("job", plans(), checks::job::check);
}

#[test]
fn lengths() {
    let usual = ["87in", "7'-3 1/2\"", "-3-1/2in", "7.25ft", "2210mm", "7.75/10", "7-3/4in/10in", "190mm/250mm"];
    each("length", usual.map(|text| text.as_bytes().to_vec()).into(), checks::length::check);
}

#[test]
fn settings() {
    let folders = ["src/catalog/systems", "src/catalog/rules"].map(|folder| files(&root().join(folder)));
    each("settings", folders.concat(), checks::settings::check);
}

#[test]
fn tables() {
    let usual = ["span,opening,top\nS1,7'-3\",\nS2,,60 1/4in\n", "member,length,count\ntop-rail,71in,3\n"];
    each("tables", usual.map(|text| text.as_bytes().to_vec()).into(), checks::tables::check);
}

#[test]
fn records() {
    let line = |plan: Vec<u8>| {
        let dxf = String::from_utf8_lossy(&plan).into_owned();
        serde_json::json!({"id": [1, "a"], "dxf": dxf, "want": ["layout", "marks"]}).to_string().into_bytes()
    };
    each("jsonl", plans().into_iter().map(line).collect(), checks::jsonl::check);
}

#[test]
fn layouts() {
    let lay_out = |case: &str| {
        let out = crate::program::folder();
        let to = crate::program::arg(out.path());
        crate::program::run(&["layout", &plan(case), "--formats", "json", "--out", &to]);
        fs::read(out.path().join("layout.json")).unwrap()
    };
    each("layout_json", ["corner-135", "stair-lines", "cable"].map(lay_out).into(), checks::layout_json::check);
}
