//! The calling convention of docs/calling.md: a plan on standard input, one file on standard output, messages as JSON.

use std::fs;
use std::io::Write;
use std::path::{Path, PathBuf};
use std::process::{Command, Stdio};

use serde_json::Value;

use crate::program::{Ran, arg, files, folder, names, plan, root, run, run_in};

/// Standard error as JSON, a value a line.
pub fn json_lines(ran: &Ran) -> Vec<Value> {
    ran.err.lines().map(|line| serde_json::from_str(line).unwrap()).collect()
}

/// Lines of each kind that `--message-format json` prints, a file a line, for the validator.
pub fn samples(folder: &Path) -> Vec<PathBuf> {
    let out = folder.join("out");
    let broken = ["layout", &plan("l-shape"), "--inset", "61in", "--formats", "json", "--out", &arg(&out)];
    let mut files = Vec::new();
    for args in [&broken[..], &["layout", "no.dxf"], &["layout", &plan("unitless")], &["layout"], &["layout", "-"]] {
        let ran = run(&[args, &["--message-format", "json"]].concat());
        for line in json_lines(&ran) {
            let file = folder.join(format!("message-{}.json", files.len()));
            fs::write(&file, line.to_string()).unwrap();
            files.push(file);
        }
    }
    assert!(files.len() > 5, "{files:?}");
    files
}

/// What a run on a plan from standard input gave, its output as bytes.
fn piped(bytes: &[u8], args: &[&str]) -> (i32, Vec<u8>, Vec<Value>) {
    let mut child = Command::new(env!("CARGO_BIN_EXE_plumbrail"))
        .args(["layout", "-", "--out", "-", "--message-format", "json"])
        .args(args)
        .current_dir(root())
        .stdin(Stdio::piped())
        .stdout(Stdio::piped())
        .stderr(Stdio::piped())
        .spawn()
        .unwrap();
    let mut pipe = child.stdin.take().unwrap();
    let bytes = bytes.to_vec();
    let writer = std::thread::spawn(move || drop(pipe.write_all(&bytes)));
    let output = child.wait_with_output().unwrap();
    writer.join().unwrap();
    let said = String::from_utf8(output.stderr).unwrap();
    let lines = said.lines().map(|line| serde_json::from_str(line).unwrap()).collect();
    (output.status.code().unwrap(), output.stdout, lines)
}

/// Each format that is one file, of a text plan and of a binary one: the bytes of the file that a folder gets.
#[test]
fn standard_output_gets_the_bytes_of_the_file() {
    for case in ["lakeside", "binary", "metric"] {
        let home = folder();
        let bytes = fs::read(root().join(plan(case))).unwrap();
        let ran = run_in(home.path(), &["layout", "-", "--out", "all"], &bytes);
        assert_eq!(ran.status, 0, "{}", ran.err);
        for (format, file) in [
            (&["--formats", "rail"][..], "plan.rail.dxf"),
            (&[], "plan.rail.dxf"),
            (&["--formats", "dxf"], "layout.dxf"),
            (&["--attach"], "layout.dxf"),
            (&["--formats", "json"], "layout.json"),
            (&["--formats", "html"], "report.html"),
            (&["--formats", "xlsx"], "schedule.xlsx"),
            (&["--formats", "svg"], "plan.svg"),
        ] {
            let (status, out, lines) = piped(&bytes, format);
            assert_eq!(status, 0, "{case} {format:?}: {lines:?}");
            assert!(out == fs::read(home.path().join("all").join(file)).unwrap(), "{case}: {file} differs");
            let last = lines.last().unwrap();
            assert_eq!((&last["kind"], &last["out"], &last["files"]), (&"summary".into(), &"-".into(), &1.into()));
            assert_eq!(
                (&last["file"], &last["complete"], &last["limits_hold"]),
                (&"-".into(), &true.into(), &true.into())
            );
            assert!(lines.iter().rev().skip(1).all(|line| line["kind"] == "finding"), "{lines:?}");
        }
    }
}

/// For people the summary is a sentence on standard error; a plan that is a file is read as such, and nothing is written.
#[test]
fn the_summary_is_not_in_the_output() {
    let home = folder();
    fs::copy(root().join(plan("corner-135")), home.path().join("lake.dxf")).unwrap();
    let ran = run_in(home.path(), &["layout", "lake.dxf", "--out", "-"], b"");
    assert_eq!(ran.status, 0);
    assert!(ran.out.starts_with("  0\n") && ran.out.trim_end().ends_with("EOF"));
    assert!(ran.err.ends_with("; 1 file written to standard output; complete\nlake.dxf: complete, all checked limits met (2 not checked)\n"), "{}", ran.err);
    assert_eq!(names(home.path()), ["lake.dxf"]);
    let ran = run_in(home.path(), &["layout", "lake.dxf", "--out", "./-", "--formats", "json"], b"");
    assert_eq!((ran.status, names(home.path())), (0, vec!["-/layout.json".to_owned(), "lake.dxf".to_owned()]));
}

/// A broken limit leaves a file and status 1; a drawing that is not usable leaves none and status 3.
#[test]
fn all_or_none() {
    let bytes = |case: &str| fs::read(root().join(plan(case))).unwrap();
    let (status, out, lines) = piped(&bytes("l-shape"), &["--inset", "61in"]);
    assert_eq!((status, lines.last().unwrap()["complete"].clone()), (1, false.into()));
    assert!(out.ends_with(b"EOF\n"));
    for (plan, code) in
        [(bytes("unitless"), "units-missing"), (bytes("wrong-layers"), "layer-empty"), (Vec::new(), "not-readable")]
    {
        let (status, out, lines) = piped(&plan, &[]);
        assert_eq!((status, out.as_slice()), (3, &b""[..]));
        let errors: Vec<&Value> = lines.iter().filter(|line| line["severity"] == "error").collect();
        assert!(errors.iter().any(|line| line["code"] == code && line["kind"] == "finding"), "{lines:?}");
    }
}

/// A drawing that can be laid out and cannot take the rails: the plan with the rails is not there, the layout is.
#[test]
fn a_drawing_that_cannot_take_the_rails() {
    let text = fs::read_to_string(root().join(plan("corner-135"))).unwrap();
    let plan = text.replace("*Model_Space", "*Somewhere");
    let (status, out, lines) = piped(plan.as_bytes(), &[]);
    assert_eq!((status, out.as_slice()), (3, &b""[..]), "{lines:?}");
    assert!(lines.iter().any(|line| line["code"] == "not-grafted" && line["severity"] == "error"), "{lines:?}");
    let (status, out, _) = piped(plan.as_bytes(), &["--formats", "json"]);
    assert_eq!(status, 0);
    assert!(serde_json::from_slice::<Value>(&out).is_ok());
}

#[test]
fn more_than_one_file_is_refused_before_anything_is_read() {
    for (args, said) in [
        (&["--formats", "pdf"][..], "that format has more than one file; with --out - write --formats rail, dxf, svg"),
        (&["--formats", "csv"], "that format has more than one file; "),
        (&["--formats", "json,dxf"], "standard output takes one file; "),
        (&["--formats", "rail,dxf,svg,pdf,csv,xlsx,json,html"], "standard output takes one file; "),
        (&["--attach", "--formats", "json"], "standard output takes one file; "),
    ] {
        let (status, out, lines) = piped(b"", args);
        assert_eq!((status, out.as_slice(), lines.len()), (2, &b""[..], 1), "{args:?}");
        assert_eq!(lines[0]["kind"], "failure");
        assert!(lines[0]["message"].as_str().unwrap().starts_with(said), "{}", lines[0]);
    }
    let ran = run(&["layout", &plan("metric"), "--in-place", "--out", "-"]);
    assert_eq!((ran.status, ran.out.as_str()), (2, ""));
    assert!(ran.err.starts_with("error: --in-place writes into the plan"), "{}", ran.err);
    let ran = run(&["batch", &plan("metric"), "--out", "-"]);
    assert_eq!((ran.status, ran.out.as_str()), (2, ""));
    assert!(ran.err.starts_with("error: many plans have many files"), "{}", ran.err);
}

/// Arguments that make no sense are a JSON line, too, where JSON is the format.
#[test]
fn wrong_use_is_a_failure_line() {
    for args in [&["layout", "--message-format", "json"][..], &["lay", "--message-format=json"]] {
        let ran = run(args);
        let lines = json_lines(&ran);
        assert_eq!((ran.status, ran.out.as_str(), lines.len()), (2, "", 1));
        assert_eq!((&lines[0]["kind"], &lines[0]["severity"]), (&"failure".into(), &"error".into()));
        assert!(lines[0]["hint"].as_str().unwrap().contains("Usage:"), "{}", lines[0]);
    }
}

/// A reader that goes away is status 2 with a message; a closed standard error stops nothing.
#[cfg(unix)]
#[test]
fn a_closed_pipe_is_an_error_and_no_panic() {
    let program = env!("CARGO_BIN_EXE_plumbrail");
    let shell = |script: &str| {
        let ran =
            Command::new("sh").args(["-c", script, "sh", program, &plan("lakeside")]).current_dir(root()).output();
        let ran = ran.unwrap();
        (String::from_utf8(ran.stdout).unwrap(), String::from_utf8(ran.stderr).unwrap())
    };
    // The reader ends at once; the plan with the rails is far larger than a pipe holds.
    let script = "{ \"$1\" layout \"$2\" --out - --message-format json; echo $? >&2; } | true";
    let (_, err) = shell(script);
    assert!(err.contains("cannot write to standard output"), "{err}");
    assert!(err.ends_with("\n2\n") && !err.contains("panicked") && !err.contains("summary"), "{err}");
    let (out, err) = shell("\"$1\" layout \"$2\" --out - --formats json 2>&-");
    assert!(out.ends_with("}\n") && err.is_empty(), "{err}");
}

/// The Python lines of docs/calling.md, as they stand there.
#[test]
fn the_example_in_python_runs() {
    let text = fs::read_to_string(root().join("docs/calling.md")).unwrap();
    let script = text.split("```python\n").nth(1).unwrap().split("```").next().unwrap();
    let home = folder();
    fs::write(home.path().join("call.py"), script).unwrap();
    fs::copy(root().join(plan("lakeside")), home.path().join("deck.dxf")).unwrap();
    let program = Path::new(env!("CARGO_BIN_EXE_plumbrail"));
    let path = std::env::var_os("PATH").unwrap();
    let path = format!("{}:{}", program.parent().unwrap().display(), path.display());
    let call = |plan: &str| {
        let ran = Command::new("python3")
            .args(["call.py", plan])
            .env("PATH", &path)
            .current_dir(home.path())
            .output()
            .unwrap();
        (ran.status.code().unwrap(), String::from_utf8(ran.stderr).unwrap())
    };
    let (status, err) = call("deck.dxf");
    assert_eq!(status, 0, "{err}");
    let ran = run_in(home.path(), &["layout", "deck.dxf", "--out", "all"], b"");
    assert_eq!(ran.status, 0);
    let all = files(&home.path().join("all"));
    let expected = &all.iter().find(|(name, _)| name == "deck.rail.dxf").unwrap().1;
    assert!(fs::read(home.path().join("deck.rail.dxf")).unwrap() == *expected);
    fs::write(home.path().join("bad.dxf"), "no drawing").unwrap();
    let (status, err) = call("bad.dxf");
    assert_eq!(status, 3);
    assert!(err.contains("not-readable") && !home.path().join("bad.rail.dxf").exists(), "{err}");
}
