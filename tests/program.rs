//! Runs the program as a user calls it, from the project's folder, and compares what it says.

use std::fs;
use std::io::Write;
use std::path::{Path, PathBuf};
use std::process::{Command, Stdio};

use snapbox::{Assert, IntoData};
use tempfile::TempDir;

/// What a run gave.
#[derive(Debug, PartialEq, Eq)]
pub struct Ran {
    /// Exit status.
    pub status: i32,
    /// Standard output.
    pub out: String,
    /// Standard error.
    pub err: String,
}

impl Ran {
    /// Whether nothing but the last line is said, notes excepted: that all is complete and meets its limits.
    pub fn is_good(&self) -> bool {
        let said = self.errors_and_warnings();
        self.status == 0 && said.lines().count() == 1 && said.contains(": complete, all checked limits met (")
    }

    /// Standard error without notes: of each message that is an error or a warning, all its lines.
    pub fn errors_and_warnings(&self) -> String {
        let mut kept = false;
        let keep = |line: &&str| {
            if !line.starts_with("  ") {
                kept = !line.contains(": note[");
            }
            kept
        };
        self.err.lines().filter(keep).map(|l| format!("{l}\n")).collect()
    }
}

/// The project's folder.
pub fn root() -> PathBuf {
    PathBuf::from(env!("CARGO_MANIFEST_DIR"))
}

/// A new folder that goes with the value.
pub fn folder() -> TempDir {
    TempDir::new().unwrap()
}

/// Path of a folder or file as an argument.
pub fn arg(path: impl AsRef<Path>) -> String {
    path.as_ref().to_str().unwrap().to_owned()
}

/// The plan of a fixture, from the project's folder.
pub fn plan(case: &str) -> String {
    format!("fixtures/{case}/plan.dxf")
}

/// Names of all fixtures, sorted.
pub fn fixtures() -> Vec<String> {
    let entries = fs::read_dir(root().join("fixtures")).unwrap();
    let mut names: Vec<String> = entries.map(|e| e.unwrap().file_name().into_string().unwrap()).collect();
    names.sort();
    assert!(!names.is_empty());
    names
}

/// Runs the program in the project's folder.
pub fn run<A: AsRef<str>>(args: &[A]) -> Ran {
    run_in(&root(), args, b"")
}

/// Runs the program in a folder with something on standard input.
pub fn run_in<A: AsRef<str>>(folder: &Path, args: &[A], input: &[u8]) -> Ran {
    let mut child = Command::new(env!("CARGO_BIN_EXE_plumbrail"))
        .args(args.iter().map(AsRef::as_ref))
        .current_dir(folder)
        // The width of somebody's terminal and its colours must not show.
        .env_remove("COLUMNS")
        .env_remove("CLICOLOR_FORCE")
        .stdin(Stdio::piped())
        .stdout(Stdio::piped())
        .stderr(Stdio::piped())
        .spawn()
        .unwrap();
    let mut pipe = child.stdin.take().unwrap();
    let input = input.to_vec();
    let writer = std::thread::spawn(move || drop(pipe.write_all(&input)));
    let output = child.wait_with_output().unwrap();
    writer.join().unwrap();
    let ran = Ran {
        status: output.status.code().expect("the program was stopped by a signal"),
        out: String::from_utf8(output.stdout).unwrap(),
        err: String::from_utf8(output.stderr).unwrap(),
    };
    assert!(!ran.err.contains("panicked"), "{}", ran.err);
    ran
}

/// Runs and compares everything, notes excepted.
#[track_caller]
pub fn expect<A: AsRef<str>>(args: &[A], status: i32, out: &str, err: &str) {
    let ran = run(args);
    same(&ran.out, out);
    same(&ran.errors_and_warnings(), err);
    assert_eq!(ran.status, status);
}

/// Texts must be the same to the byte.
#[track_caller]
pub fn same(found: &str, expected: &str) {
    Assert::new().eq(found.to_owned(), expected.to_owned().raw());
}

/// Compares with a file of a fixture's `expected` folder; `PLUMBRAIL_BLESS=1` writes it anew.
#[track_caller]
pub fn same_as_file(found: &str, case: &str, name: &str) {
    let path = root().join("fixtures").join(case).join("expected").join(name);
    if std::env::var_os("PLUMBRAIL_BLESS").is_some() {
        fs::create_dir_all(path.parent().unwrap()).unwrap();
        fs::write(&path, found).unwrap();
    }
    let expected = fs::read_to_string(&path).unwrap_or_default();
    same(found, &expected);
}

/// Every file below a folder with its bytes, by its path with `/`, sorted.
pub fn files(folder: &Path) -> Vec<(String, Vec<u8>)> {
    fn walk(folder: &Path, before: &str, out: &mut Vec<(String, Vec<u8>)>) {
        for entry in fs::read_dir(folder).into_iter().flatten() {
            let entry = entry.unwrap();
            let name = format!("{before}{}", entry.file_name().into_string().unwrap());
            if entry.path().is_dir() {
                walk(&entry.path(), &format!("{name}/"), out);
            } else {
                out.push((name, fs::read(entry.path()).unwrap()));
            }
        }
    }
    let mut out = Vec::new();
    walk(folder, "", &mut out);
    out.sort();
    out
}

/// Names of every file below a folder, but for the hidden record of what is ours.
pub fn names(folder: &Path) -> Vec<String> {
    files(folder).into_iter().map(|(name, _)| name).filter(|name| !name.ends_with(".plumbrail.json")).collect()
}
