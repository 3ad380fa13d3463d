//! `batch` over files: whole outputs, plans that fail, folders, and runs that are stopped by force.

use std::fs;
use std::path::{Path, PathBuf};
use std::process::{Command, Stdio};
use std::sync::mpsc;
use std::time::Duration;

use tempfile::TempDir;

use crate::program::{arg, files, folder, names, plan, root, run, run_in, same};

/// A folder with plans of these names, all of them the same L.
fn home(plans: &[&str]) -> TempDir {
    let home = folder();
    let bytes = fs::read(root().join(plan("l-shape"))).unwrap();
    for name in plans {
        let path = home.path().join(name);
        fs::create_dir_all(path.parent().unwrap()).unwrap();
        fs::write(path, &bytes).unwrap();
    }
    home
}

const GOOD: &str = "a.dxf: complete, all checked limits met (2 not checked)\n";

const FEW: [&str; 2] = ["--formats", "json,rail"];

#[test]
fn one_bad_plan_does_not_stop_the_rest() {
    let home = home(&["a.dxf", "d.dxf"]);
    fs::write(home.path().join("b.dxf"), "no drawing").unwrap();
    fs::copy(root().join(plan("stair-steep")), home.path().join("c.dxf")).unwrap();
    let args = [&["batch", "a.dxf", "b.dxf", "c.dxf", "none.dxf", "d.dxf", "a.dxf"][..], &FEW].concat();
    let ran = run_in(home.path(), &args, b"");
    same(&ran.out, "5 plans: 2 done, 1 incomplete, 0 with a broken limit, 2 failed\n");
    let heads: Vec<&str> = ran.err.lines().filter(|l| !l.starts_with("  ")).map(|l| l.get(..15).unwrap()).collect();
    assert_eq!(heads.get(..2), Some(&["a.dxf: complete", "b.dxf: error[no"][..]));
    let of_c = heads.get(2..heads.len() - 2).unwrap();
    assert!(of_c.iter().all(|h| h.starts_with("c.dxf: incomple") || h.starts_with("c.dxf: error[")), "{heads:?}");
    assert!(of_c.last().is_some_and(|h| *h == "c.dxf: incomple"), "{heads:?}");
    assert!(
        ran.err.contains(
            "\nnone.dxf: error: cannot read none.dxf: No such file or directory (os error 2)\nd.dxf: complete, "
        ),
        "{}",
        ran.err
    );
    assert_eq!(ran.status, 1);
    let made: Vec<String> = names(home.path()).into_iter().filter(|n| n.contains('/')).collect();
    let of = |name: &str| {
        ["batch.json", "layout.json"]
            .map(|f| format!("{name}-rail/{f}"))
            .into_iter()
            .chain([format!("{name}-rail/{name}.rail.dxf")])
    };
    let mut expected: Vec<String> = ["a", "c", "d"].into_iter().flat_map(of).collect();
    expected.sort();
    let mut sorted = made;
    sorted.sort();
    assert_eq!(sorted, expected);
}

/// The files are those of `layout`, and `batch.json`.
#[test]
fn batch_writes_what_layout_writes() {
    let home = home(&["a.dxf"]);
    let ran = run_in(home.path(), &["batch", "a.dxf", "--inset", "3in"], b"");
    assert_eq!(
        (ran.status, ran.out.as_str(), ran.err.as_str()),
        (0, "1 plan: 1 done, 0 incomplete, 0 with a broken limit, 0 failed\n", GOOD)
    );
    let mut batch = files(&home.path().join("a-rail"));
    batch.retain(|(name, _)| name != "batch.json");
    run_in(home.path(), &["layout", "a.dxf", "--inset", "3in", "--out", "by-layout"], b"");
    assert!(batch == files(&home.path().join("by-layout")));
}

#[test]
fn a_line_a_plan_for_programs() {
    let home = home(&["a.dxf", "deep/a.dxf"]);
    fs::write(home.path().join("b.dxf"), "no drawing").unwrap();
    fs::write(home.path().join("list.txt"), "deep/a.dxf\r\n\nb.dxf\n").unwrap();
    let args =
        ["batch", "a.dxf", "--from-file", "list.txt", "--out", "out", "--message-format", "json", "--formats", "json"];
    let ran = run_in(home.path(), &args, b"");
    same(
        &ran.out,
        "{\"plan\":\"a.dxf\",\"out\":\"out/a-rail\",\"status\":\"done\",\"complete\":true,\"limits_hold\":true,\"was_there\":false}\n\
         {\"plan\":\"deep/a.dxf\",\"out\":\"out/a-2-rail\",\"status\":\"done\",\"complete\":true,\"limits_hold\":true,\"was_there\":false}\n\
         {\"plan\":\"b.dxf\",\"out\":null,\"status\":\"failed\",\"complete\":null,\"limits_hold\":null,\"was_there\":false}\n",
    );
    assert_eq!((ran.status, ran.err.lines().count()), (1, 3));
    let ran = run_in(home.path(), &["batch", "--from-file", "-", "--out", "out"], b"a.dxf\ndeep/a.dxf");
    same(&ran.out, "2 plans: 2 done, 0 incomplete, 0 with a broken limit, 0 failed\n");
}

#[test]
fn wrong_use_lays_out_nothing() {
    let home = home(&["a.dxf"]);
    for args in [
        &["batch"][..],
        &["batch", "a.dxf", "--jsonl"],
        &["batch", "--jsonl", "--resume"],
        &["batch", "a.dxf", "--jobs", "0"],
        &["batch", "a.dxf", "--system", "nope"],
        &["batch", "--jsonl", "--max-record", "5 miles"],
        &["batch", "a.dxf", "-"],
        &["batch", "--from-file", "none.txt"],
        &["batch", "--from-file", "-"],
        &["batch", "--jsonl", "--rules", "nope"],
    ] {
        let ran = run_in(home.path(), args, b"");
        assert_eq!((ran.status, ran.out.as_str()), (2, ""), "{args:?}");
        assert!(ran.err.starts_with("error: "), "{}", ran.err);
    }
    assert_eq!(names(home.path()), ["a.dxf"]);
}

/// A folder that cannot be written to is that plan's trouble alone.
#[test]
fn an_output_that_cannot_be_written_fails_that_plan_alone() {
    let home = home(&["a.dxf", "b.dxf", "c.dxf"]);
    fs::write(home.path().join("b-rail"), "in the way").unwrap();
    let ran = run_in(home.path(), &[&["batch", "a.dxf", "b.dxf", "c.dxf"][..], &FEW].concat(), b"");
    same(&ran.out, "3 plans: 2 done, 0 incomplete, 0 with a broken limit, 1 failed\n");
    assert!(
        ran.err.contains("\nb.dxf: error: ") && ran.err.contains("b-rail") && ran.err.lines().count() == 3,
        "{}",
        ran.err
    );
    assert_eq!(fs::read(home.path().join("b-rail")).unwrap(), b"in the way");
    assert!(home.path().join("c-rail/layout.json").is_file());
}

fn resumed(home: &Path, options: &[&str]) -> String {
    let ran = run_in(home, &[&["batch", "a.dxf", "b.dxf", "--resume"][..], &FEW, options].concat(), b"");
    assert!(ran.err.lines().all(|line| line.contains(": complete, all checked limits met (")), "{}", ran.err);
    ran.out
}

#[test]
fn resume_passes_over_what_is_there_byte_for_byte() {
    let home = home(&["a.dxf", "b.dxf"]);
    let at = |name: &str| home.path().join(name);
    let all = "2 plans: 2 done, 0 incomplete, 0 with a broken limit, 0 failed\n";
    let there = |n: usize| {
        format!("2 plans: 2 done, 0 incomplete, 0 with a broken limit, 0 failed; {n} of them lay there already\n")
    };
    same(&resumed(home.path(), &[]), all);
    let first = files(home.path());
    same(&resumed(home.path(), &[]), &there(2));
    // Other settings, and back.
    same(&resumed(home.path(), &["--inset", "5in"]), all);
    same(&resumed(home.path(), &[]), all);
    assert!(first == files(home.path()));
    // An output that is gone, one that was edited, a plan that changed.
    fs::remove_file(at("a-rail/layout.json")).unwrap();
    same(&resumed(home.path(), &[]), &there(1));
    fs::write(at("b-rail/b.rail.dxf"), "edited").unwrap();
    same(&resumed(home.path(), &[]), &there(1));
    fs::write(at("b-rail/batch.json"), "{}").unwrap();
    same(&resumed(home.path(), &[]), &there(1));
    assert!(first == files(home.path()));
    fs::copy(root().join(plan("z-open")), at("a.dxf")).unwrap();
    same(&resumed(home.path(), &["--inset", "3in"]), all);
    // What the user put there stays.
    fs::write(at("a-rail/notes.txt"), "mine").unwrap();
    same(&resumed(home.path(), &["--inset", "3in"]), &there(2));
    same(&resumed(home.path(), &[]), all);
    assert_eq!(fs::read(at("a-rail/notes.txt")).unwrap(), b"mine");
}

/// A limit that is broken is still told by the exit status when the plan is passed over; a reference that changed is seen.
#[test]
fn resume_tells_what_was_broken_and_sees_references() {
    let home = folder();
    fs::copy(root().join(plan("stair-steep")), home.path().join("a.dxf")).unwrap();
    for end in ["\n", "; 1 of them lay there already\n"] {
        let ran = run_in(home.path(), &["batch", "a.dxf", "--resume", "--formats", "json"], b"");
        same(&ran.out, &format!("1 plan: 0 done, 1 incomplete, 0 with a broken limit, 0 failed{end}"));
        assert_eq!(ran.status, 1);
    }
    let from = root().join("fixtures/xref");
    for (name, bytes) in files(&from).into_iter().filter(|(n, _)| n.ends_with(".dxf") && !n.starts_with("expected")) {
        fs::create_dir_all(home.path().join(&name).parent().unwrap()).unwrap();
        fs::write(home.path().join(&name), bytes).unwrap();
    }
    let again = || run_in(home.path(), &["batch", "plan.dxf", "--resume", "--formats", "json"], b"").out;
    assert!(again().ends_with("failed\n") && again().ends_with("already\n"));
    let stamp = fs::read_to_string(home.path().join("plan-rail/batch.json")).unwrap();
    let stamp: serde_json::Value = serde_json::from_str(&stamp).unwrap();
    let reference = stamp["references"].as_object().unwrap().keys().next().unwrap();
    let path = home.path().join(reference);
    let mut text = fs::read(&path).unwrap();
    text.splice(0..0, *b"999\nnewer\n");
    fs::write(&path, text).unwrap();
    assert!(again().ends_with("failed\n"));
}

fn rail_folders(home: &Path) -> Vec<PathBuf> {
    let entries = fs::read_dir(home).unwrap().map(|e| e.unwrap().path());
    let is_rail = |p: &PathBuf| p.file_name().unwrap().to_str().unwrap().starts_with("plan") && p.is_dir();
    entries.filter(is_rail).collect()
}

/// Until it is worth looking again.
fn pause() {
    let (_keep, nothing) = mpsc::channel::<()>();
    let _ = nothing.recv_timeout(Duration::from_millis(2));
}

/// Stopped by force once so many folders are there: each is complete, the plans are as they were, and `--resume` does what
/// is left, with the same bytes as a run that was never stopped.
#[test]
fn a_run_that_is_killed_is_resumed() {
    let plans: Vec<String> = (10..22).map(|n| format!("plan{n}.dxf")).collect();
    let plans: Vec<&str> = plans.iter().map(String::as_str).collect();
    let args = [&["batch", "--jobs", "2"][..], &plans, &["--formats", "json,rail"]].concat();
    let whole = home(&plans);
    assert_eq!(run_in(whole.path(), &args, b"").status, 0);
    let whole = files(whole.path());
    for moment in [0, 1, 4, 9] {
        let home = home(&plans);
        let mut child = Command::new(env!("CARGO_BIN_EXE_plumbrail"))
            .args(&args)
            .current_dir(home.path())
            .stdin(Stdio::null())
            .stdout(Stdio::null())
            .stderr(Stdio::null())
            .spawn()
            .unwrap();
        while rail_folders(home.path()).len() < moment && child.try_wait().unwrap().is_none() {
            pause();
        }
        child.kill().unwrap();
        child.wait().unwrap();
        let there = rail_folders(home.path()).len();
        let left: Vec<_> = files(home.path()).into_iter().filter(|(name, _)| !name.starts_with('.')).collect();
        assert!(left.iter().all(|file| whole.contains(file)), "killed after {moment}");
        assert_eq!(
            left.len(),
            plans.len() + there * (whole.len() - plans.len()) / plans.len(),
            "killed after {moment}"
        );
        let ran = run_in(home.path(), &[&args[..], &["--resume"]].concat(), b"");
        let already = if there == 0 { String::new() } else { format!("; {there} of them lay there already") };
        same(&ran.out, &format!("12 plans: 12 done, 0 incomplete, 0 with a broken limit, 0 failed{already}\n"));
        assert!(files(home.path()) == whole, "killed after {moment}");
    }
}

#[test]
fn the_help_names_batch() {
    let ran = run(&["batch", "--help"]);
    assert_eq!(ran.status, 0);
    for word in ["--from-file", "--resume", "--jsonl", "--jobs", "--max-record", "--max-work", "--files-under"] {
        assert!(ran.out.contains(word), "{word}");
    }
    assert!(!Path::new(&arg(root())).join("plan-rail").exists());
}
