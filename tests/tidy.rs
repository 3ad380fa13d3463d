//! The house rules as tests: import order of the stages, a `//!` line in every file, no files, clock, environment or
//! printing in the library, and sizes that a reader can hold.

use std::fs;
use std::path::{Path, PathBuf};

/// Stages in the order of the data; a stage imports only those before it.
const STAGES: [&str; 10] = ["base", "cad", "catalog", "deck", "guard", "panel", "parts", "proof", "sheet", "write"];

/// Lines that a file may have.
const FILE_LINES: usize = 500;

/// Lines that a function may have, its signature and closing brace included.
const FUNCTION_LINES: usize = 70;

/// Folders of Rust that no user gets. `fuzz/` as a whole would hold what fuzzing builds.
const OURS: [&str; 4] = ["tests", "benches", "fuzz/src", "fuzz/targets"];

fn root() -> PathBuf {
    PathBuf::from(env!("CARGO_MANIFEST_DIR"))
}

/// Every Rust file below a folder of the project, with its text.
fn sources(folder: &str) -> Vec<(PathBuf, String)> {
    fn walk(folder: &Path, out: &mut Vec<PathBuf>) {
        for entry in fs::read_dir(folder).unwrap() {
            let path = entry.unwrap().path();
            if path.is_dir() {
                walk(&path, out);
            } else if path.extension().is_some_and(|e| e == "rs") {
                out.push(path);
            }
        }
    }
    let mut paths = Vec::new();
    walk(&root().join(folder), &mut paths);
    paths.sort();
    assert!(!paths.is_empty(), "no Rust file below {folder}");
    paths
        .into_iter()
        .map(|p| (p.strip_prefix(root()).unwrap().to_path_buf(), fs::read_to_string(&p).unwrap()))
        .collect()
}

/// The part of a file before its unit tests.
fn code(text: &str) -> &str {
    text.split("\n#[cfg(test)]\nmod tests {").next().unwrap()
}

/// Code without comments and doc comments.
fn bare(text: &str) -> String {
    code(text).lines().filter(|l| !l.trim_start().starts_with("//")).map(|l| format!("{l}\n")).collect()
}

fn is_test_file(path: &Path) -> bool {
    let name = path.file_stem().unwrap().to_string_lossy().into_owned();
    let folder = path.parent().unwrap();
    [folder.join("mod.rs"), folder.with_extension("rs")].into_iter().any(|parent| {
        let declared = fs::read_to_string(root().join(parent)).unwrap_or_default();
        declared.contains(&format!("#[cfg(test)]\nmod {name};"))
    })
}

#[test]
fn stages_import_only_earlier_stages() {
    let mut wrong = Vec::new();
    for (i, stage) in STAGES.iter().enumerate() {
        for (path, text) in sources(&format!("src/{stage}")) {
            if is_test_file(&path) {
                continue;
            }
            let text = bare(&text);
            for later in STAGES.iter().skip(i + 1) {
                let grouped = text.split("use crate::{").skip(1).any(|g| {
                    let group = g.split("};").next().unwrap();
                    group.split(|c: char| !c.is_alphanumeric() && c != '_').any(|word| word == *later)
                });
                if text.contains(&format!("crate::{later}::")) || text.contains(&format!("crate::{later};")) || grouped
                {
                    wrong.push(format!("{} imports {later}", path.display()));
                }
            }
        }
    }
    assert!(wrong.is_empty(), "{}", wrong.join("\n"));
}

#[test]
fn the_proof_calls_nothing_that_it_checks() {
    for (path, text) in sources("src/proof") {
        if is_test_file(&path) {
            continue;
        }
        let text = bare(&text);
        for function in ["guard::lay_out", "guard::single", "panel::build", "PanelSpec", "parts::assemble"] {
            assert!(!text.contains(function), "{} calls {function}", path.display());
        }
    }
}

#[test]
fn stage_folders_are_those_of_the_house() {
    let mut found: Vec<String> = fs::read_dir(root().join("src"))
        .unwrap()
        .map(|e| e.unwrap())
        .filter(|e| e.path().is_dir() && e.file_name() != "bin")
        .map(|e| e.file_name().into_string().unwrap())
        .collect();
    found.sort();
    assert_eq!(found, STAGES);
    for stage in STAGES {
        let text = fs::read_to_string(root().join(format!("src/{stage}/mod.rs"))).unwrap();
        let head: String = text.lines().take_while(|l| l.starts_with("//!")).collect::<Vec<_>>().join(" ");
        for word in ["akes", "ives", "efuses"] {
            assert!(head.contains(word), "src/{stage}/mod.rs does not say what it t{word}, gives and refuses");
        }
    }
}

#[test]
fn every_file_says_what_it_is() {
    for folder in ["src"].into_iter().chain(OURS) {
        for (path, text) in sources(folder) {
            let first = text.lines().next().unwrap_or("");
            assert!(first.starts_with("//! ") && first.len() > 20, "{} begins without a //! line", path.display());
        }
    }
}

#[test]
fn the_library_does_not_touch_the_world() {
    let banned = [
        "std::fs",
        "std::env",
        "std::time",
        "std::process",
        "std::net",
        "std::io::stdout",
        "std::io::stdin",
        "println!",
        "eprintln!",
        "print!(",
        "eprint!(",
        "dbg!(",
        "SystemTime",
        "Instant::now",
        "rand::",
        "File::",
    ];
    for stage in STAGES {
        for (path, text) in sources(&format!("src/{stage}")) {
            if is_test_file(&path) {
                continue;
            }
            let text = bare(&text);
            for word in banned {
                assert!(!text.contains(word), "{} uses {word}", path.display());
            }
        }
    }
}

#[test]
fn library_code_cannot_panic_on_input_by_unwrap() {
    for (path, text) in sources("src") {
        if is_test_file(&path) {
            continue;
        }
        let text = bare(&text);
        for word in [".unwrap()", ".expect(", "panic!(", "unreachable!(", "todo!(", "unimplemented!("] {
            assert!(!text.contains(word), "{} has {word}", path.display());
        }
    }
}

/// The lint finds it in what is compiled here; this, everywhere.
#[test]
fn nothing_is_unsafe() {
    let manifest = fs::read_to_string(root().join("Cargo.toml")).unwrap();
    assert!(manifest.contains("\nunsafe_code = \"forbid\"\n"));
    for folder in ["src"].into_iter().chain(OURS) {
        for (path, text) in sources(folder) {
            // This file looks for the word.
            if path.ends_with("tests/tidy.rs") {
                continue;
            }
            let text = bare(&text);
            let mut words = text.split(|c: char| !c.is_alphanumeric() && c != '_');
            assert!(!words.any(|word| word == "unsafe"), "{} has unsafe code", path.display());
        }
    }
}

#[test]
fn files_and_functions_stay_short() {
    let mut long = Vec::new();
    for folder in ["src"].into_iter().chain(OURS) {
        for (path, text) in sources(folder) {
            let lines = text.lines().count();
            if lines > FILE_LINES {
                long.push(format!("{}: {lines} lines", path.display()));
            }
            for (name, lines) in functions(&text) {
                if lines > FUNCTION_LINES {
                    long.push(format!("{}: fn {name} has {lines} lines", path.display()));
                }
            }
        }
    }
    assert!(long.is_empty(), "{}", long.join("\n"));
}

/// Name and length of each function: from its `fn` line to the closing brace at the same indent (rustfmt's layout).
fn functions(text: &str) -> Vec<(String, usize)> {
    let lines: Vec<&str> = text.lines().collect();
    let mut out = Vec::new();
    for (i, line) in lines.iter().enumerate() {
        let trimmed = line.trim_start();
        let head = trimmed.split("fn ").next().unwrap_or("");
        let is_fn = trimmed.contains("fn ")
            && head.split_whitespace().all(|w| w.starts_with("pub") || matches!(w, "const" | "async" | "unsafe"));
        if !is_fn {
            continue;
        }
        let indent = &line[..line.len() - trimmed.len()];
        let close = format!("{indent}}}");
        let name = trimmed.split("fn ").nth(1).unwrap_or("").split(['(', '<']).next().unwrap_or("").to_owned();
        if let Some(end) = lines.iter().skip(i).position(|l| *l == close) {
            out.push((name, end + 1));
        }
    }
    out
}
