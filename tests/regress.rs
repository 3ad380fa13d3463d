//! What the fuzz targets check, over the fixtures and over inputs that once broke something. The latter lie in
//! `tests/hostile/<target>/`; the name of a file says what was wrong.

use std::collections::BTreeSet;
use std::fs;
use std::path::Path;

use plumbrail::cad::{self, Shape};

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

/// One test a target, with what it is run over beside that which once broke it.
macro_rules! targets {
    ($($target:ident over $others:expr,)*) => {
        const TARGETS: &[&str] = &[$(stringify!($target)),*];
        $(
            #[test]
            fn $target() {
                each(stringify!($target), $others, checks::$target::check);
            }
        )*
    };
}

targets! {
    scan over plans(),
    read over plans(),
    job over plans(),
    length over lengths(),
    settings over settings_files(),
    tables over csv_tables(),
    jsonl over records(),
    layout_json over layouts(),
    stairs over stair_texts(),
}

#[test]
fn every_fuzz_target_is_run_here() {
    let manifest = fs::read_to_string(root().join("fuzz/Cargo.toml")).unwrap();
    let manifest: toml::Value = toml::from_str(&manifest).unwrap();
    let bins = manifest["bin"].as_array().unwrap().iter().map(|bin| bin["name"].as_str().unwrap().to_owned());
    let run: BTreeSet<String> = TARGETS.iter().map(|&target| target.to_owned()).collect();
    assert_eq!(bins.collect::<BTreeSet<_>>(), run);
    // An input in a folder of another name would be run by nobody.
    let folders = fs::read_dir(root().join("tests/hostile")).unwrap();
    let folders: BTreeSet<_> = folders.map(|e| e.unwrap().file_name().into_string().unwrap()).collect();
    assert!(folders.is_subset(&run), "{folders:?}");
}

fn bytes<const N: usize>(texts: [&str; N]) -> Vec<Vec<u8>> {
    texts.map(|text| text.as_bytes().to_vec()).into()
}

fn lengths() -> Vec<Vec<u8>> {
    bytes(["63in", "5'-3 1/2\"", "-3-1/2in", "5.25ft", "1600mm", "7.75/10", "7-3/4in/10in", "190mm/250mm"])
}

fn settings_files() -> Vec<Vec<u8>> {
    ["src/catalog/systems", "src/catalog/rules"].map(|folder| files(&root().join(folder))).concat()
}

fn csv_tables() -> Vec<Vec<u8>> {
    bytes(["span,opening,top\nS1,5'-3\",\nS2,,60 1/4in\n", "member,length,count\ntop-rail,71in,3\n"])
}

fn records() -> Vec<Vec<u8>> {
    let line = |plan: Vec<u8>| {
        let dxf = String::from_utf8_lossy(&plan).into_owned();
        serde_json::json!({"id": [1, "a"], "dxf": dxf, "want": ["layout", "marks"]}).to_string().into_bytes()
    };
    plans().into_iter().map(line).collect()
}

fn layouts() -> Vec<Vec<u8>> {
    let lay_out = |case: &str| {
        let out = crate::program::folder();
        let to = crate::program::arg(out.path());
        crate::program::run(&["layout", &plan(case), "--formats", "json", "--out", &to]);
        fs::read(out.path().join("layout.json")).unwrap()
    };
    ["corner-135", "stair-lines", "cable"].map(lay_out).into()
}

/// Every text and attribute of the fixtures, those of stairs among them.
fn stair_texts() -> Vec<Vec<u8>> {
    let options =
        cad::ReadOptions { units: None, wanted: &|_| true, hidden_too: &|_| false, externals: &cad::no_externals };
    let mut texts = BTreeSet::new();
    for drawing in plans().iter().filter_map(|plan| cad::read(plan, &options).ok()) {
        for entity in drawing.entities {
            if let Shape::Text { content, .. } = entity.shape {
                texts.insert(content);
            }
        }
        let attributes = drawing.inserts.into_iter().flat_map(|insert| insert.attributes);
        texts.extend(attributes.map(|(tag, value)| format!("{tag}\n{value}")));
    }
    for known in ["11R 7-5/8 x 10", "DN", "RISERS\n9", "GUARD\nleft"] {
        assert!(texts.contains(known), "{known} is no longer in a fixture");
    }
    texts.into_iter().map(String::into_bytes).collect()
}
