//! Runs at one time in one folder: each ends whole or is refused, whatever the moment.

use std::fs;
use std::path::Path;
use std::process::{Child, Command, Stdio};

use crate::faults::home;
use crate::program::{files, run_in};

/// Starts a run; standard error is a pipe.
fn start(home: &Path, args: &[&str]) -> Child {
    let mut command = Command::new(env!("CARGO_BIN_EXE_plumbrail"));
    command.args(args).current_dir(home).stdin(Stdio::null()).stdout(Stdio::null()).stderr(Stdio::piped());
    command.spawn().unwrap()
}

/// Whether it ended whole; if not, it was refused for another run.
fn is_whole(child: Child) -> bool {
    let output = child.wait_with_output().unwrap();
    let said = String::from_utf8_lossy(&output.stderr);
    match output.status.code() {
        Some(0) => true,
        Some(2) => {
            assert!(said.contains("error: another run is writing to "), "{said}");
            false
        }
        other => panic!("{other:?}: {said}"),
    }
}

#[test]
fn two_runs_in_one_folder_leave_all_of_one() {
    let home = home(&["a.dxf", "b.dxf"]);
    let args = |plan: &'static str, out: &'static str| {
        let inset = if plan == "a.dxf" { "3in" } else { "5in" };
        ["layout", plan, "--out", out, "--inset", inset, "--formats", "csv,json,rail"]
    };
    let sets = [("a.dxf", "alone-a"), ("b.dxf", "alone-b")].map(|(plan, out)| {
        assert_eq!(run_in(home.path(), &args(plan, out), b"").status, 0);
        files(&home.path().join(out))
    });
    let out = home.path().join("out");
    let mut wholes = 0;
    for round in 0..60 {
        // Over nothing, over an empty folder, and over what was there.
        if round % 3 < 2 {
            let _ = fs::remove_dir_all(&out);
        }
        if round % 3 == 1 {
            fs::create_dir(&out).unwrap();
        }
        let before = files(&out);
        let runs = ["a.dxf", "b.dxf"].map(|plan| start(home.path(), &args(plan, "out")));
        let ended = runs.map(is_whole);
        let now = files(&out);
        // The rails in the other plan are that plan's, and the record names them.
        let is_rest = |name: &str| name.ends_with(".rail.dxf") || name == ".plumbrail.json";
        let holds = |set: &Vec<(String, Vec<u8>)>| {
            set.iter().filter(|(name, _)| name != ".plumbrail.json").all(|file| now.contains(file))
                && now.iter().all(|(name, _)| is_rest(name) || set.iter().any(|(own, _)| own == name))
        };
        let is_one = ended.iter().zip(&sets).any(|(whole, set)| *whole && holds(set));
        assert!(is_one || ended == [false, false] && now == before, "{round}: {ended:?}");
        let mut left = fs::read_dir(home.path()).unwrap().map(|e| e.unwrap().file_name().into_string().unwrap());
        assert!(left.all(|name| !name.starts_with('.')), "{round}");
        wholes += ended.iter().filter(|whole| **whole).count();
    }
    assert!(wholes >= 60, "{wholes}");
}

/// Jobs for different plans in one folder have nothing in common; of those for one plan each is whole.
#[test]
fn proposed_jobs_in_one_folder() {
    let plans = ["a.dxf", "b.dxf", "c.dxf", "d.dxf", "e.dxf", "f.dxf"];
    let home = home(&plans);
    for _ in 0..5 {
        let jobs = plans.map(|plan| plan.replace(".dxf", ".toml"));
        let runs: Vec<Child> = plans
            .iter()
            .zip(&jobs)
            .map(|(plan, job)| start(home.path(), &["inspect", plan, "--write-job", job, "--force"]))
            .collect();
        assert!(runs.into_iter().all(is_whole));
        for (plan, job) in plans.iter().zip(&jobs) {
            let text = fs::read_to_string(home.path().join(job)).unwrap();
            assert!(text.contains(&format!("plumbrail layout {plan} --job {job}\n")), "{text}");
            fs::remove_file(home.path().join(job)).unwrap();
        }
        let same = ["inspect", "a.dxf", "--write-job", "a.toml", "--force"];
        let ended: Vec<bool> = (0..6).map(|_| start(home.path(), &same)).map(is_whole).collect();
        assert!(ended.contains(&true));
        let text = fs::read(home.path().join("a.toml")).unwrap();
        assert_eq!(run_in(home.path(), &same, b"").status, 0);
        assert!(fs::read(home.path().join("a.toml")).unwrap() == text);
        fs::remove_file(home.path().join("a.toml")).unwrap();
        assert_eq!(files(home.path()).len(), plans.len());
    }
}
