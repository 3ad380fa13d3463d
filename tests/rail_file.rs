//! What the program does with the plan and beside it: the copy with the rails, the plan itself, or neither.

use std::fs;
use std::path::{Path, PathBuf};
use std::process::{Command, Output};

use plumbrail::write::graft::strip;
use tempfile::TempDir;

use super::interop::root;

/// A folder with a plan in it.
fn with_plan(fixture: &str) -> (TempDir, PathBuf) {
    let folder = TempDir::new().unwrap();
    let plan = folder.path().join("deck.dxf");
    fs::copy(root().join("fixtures").join(fixture).join("plan.dxf"), &plan).unwrap();
    (folder, plan)
}

fn layout(plan: &Path, options: &[&str]) -> (Output, String) {
    let output = Command::new(env!("CARGO_BIN_EXE_plumbrail")).arg("layout").arg(plan).args(options).output().unwrap();
    let said = String::from_utf8_lossy(&output.stderr).into_owned();
    (output, said)
}

fn names(folder: &Path) -> Vec<String> {
    let mut names: Vec<String> =
        fs::read_dir(folder).unwrap().map(|entry| entry.unwrap().file_name().into_string().unwrap()).collect();
    names.retain(|name| name != ".plumbrail.json");
    names.sort();
    names
}

#[test]
fn by_default_a_copy_of_the_plan_has_the_rails() {
    let (folder, plan) = with_plan("l-shape");
    let (output, said) = layout(&plan, &[]);
    assert_eq!(output.status.code(), Some(0), "{said}");
    assert_eq!(names(folder.path()), ["deck-rail", "deck.dxf"]);
    let out = folder.path().join("deck-rail");
    assert!(names(&out).contains(&"deck.rail.dxf".to_owned()), "{:?}", names(&out));
    let written = fs::read(out.join("deck.rail.dxf")).unwrap();
    assert!(strip(&written).unwrap().to_bytes(&written) == fs::read(&plan).unwrap());
    // The name of a second run's output is the same.
    let again = folder.path().join("again");
    layout(&out.join("deck.rail.dxf"), &["--out", &again.to_string_lossy(), "--formats", "rail"]);
    assert_eq!(names(&again), ["deck.rail.dxf"]);
    // An output that is the plan itself is refused.
    let (output, said) = layout(&out.join("deck.rail.dxf"), &["--out", &out.to_string_lossy()]);
    assert_eq!(output.status.code(), Some(2));
    assert!(said.contains("is the plan itself"), "{said}");
}

#[test]
fn in_place_the_plan_gets_the_rails_and_stays_beside() {
    let (folder, plan) = with_plan("l-shape");
    let before = fs::read(&plan).unwrap();
    for backup in ["deck.dxf.bak", "deck.dxf.bak2"] {
        let old = fs::read(&plan).unwrap();
        let (output, said) = layout(&plan, &["--in-place", "--formats", "json"]);
        assert_eq!(output.status.code(), Some(0), "{said}");
        assert!(String::from_utf8_lossy(&output.stdout).contains("rails into the plan itself"));
        assert!(fs::read(folder.path().join(backup)).unwrap() == old, "{backup}");
    }
    assert_eq!(names(folder.path()), ["deck-rail", "deck.dxf", "deck.dxf.bak", "deck.dxf.bak2"]);
    assert_eq!(names(&folder.path().join("deck-rail")), ["layout.json"]);
    let written = fs::read(&plan).unwrap();
    assert!(strip(&written).unwrap().to_bytes(&written) == before);
}

#[test]
fn to_be_attached_only_the_rails_are_written() {
    let (folder, plan) = with_plan("l-shape");
    let (output, said) = layout(&plan, &["--attach", "--formats", "rail,json"]);
    assert_eq!(output.status.code(), Some(0), "{said}");
    assert_eq!(names(&folder.path().join("deck-rail")), ["layout.dxf", "layout.json"]);
    let (output, said) = layout(&plan, &["--attach", "--in-place"]);
    assert_eq!(output.status.code(), Some(2), "{said}");
}

#[test]
fn of_a_plan_that_cannot_take_the_rails_nothing_is_written() {
    let (folder, plan) = with_plan("l-shape");
    let text = fs::read_to_string(&plan).unwrap();
    fs::write(&plan, text.replace("A-DECK-EDGE", "RAIL-POST")).unwrap();
    let out = folder.path().join("out");
    let options = ["--layer", "edge=RAIL-POST", "--layer", "post=NONE", "--out", &out.to_string_lossy()];
    let with = |more: &[&str]| layout(&plan, &[&options, more].concat());
    let (output, said) = with(&["--layer-prefix", "A-FLOR-HRAL"]);
    assert_eq!(output.status.code(), Some(0), "{said}");
    let written = fs::read_to_string(out.join("deck.rail.dxf")).unwrap();
    assert!(written.contains("\nA-FLOR-HRAL-POST\n"));
    assert!(fs::read_to_string(out.join("plan.svg")).unwrap().contains("id=\"A-FLOR-HRAL-POST\""));
    let earlier = contents(&out);
    let named = &options[..4];
    for with in [&options[..], &[&options[..], &["--in-place"]].concat(), &[named, &["--in-place"]].concat(), named] {
        let (output, said) = layout(&plan, with);
        assert_eq!(output.status.code(), Some(3), "{said}");
        let told = "error[layer-taken]: nothing was written: the drawing has a layer RAIL-POST";
        assert!(said.contains(told) && output.stdout.is_empty(), "{said}");
        assert!(said.contains("hint: name the rail layers otherwise with --layer-prefix"), "{said}");
        assert!(said.contains("; or leave the drawing out with --attach"), "{said}");
    }
    assert_eq!(contents(&out), earlier, "what an earlier run wrote stays as it is");
    assert_eq!(names(folder.path()), ["deck.dxf", "out"], "nothing was replaced, and there is no new folder");
    // What does not need the drawing is written on request.
    let (output, said) = with(&["--attach"]);
    assert_eq!(output.status.code(), Some(0), "{said}");
}

/// All files of a folder, but those in folders within it.
fn contents(folder: &Path) -> Vec<(String, Vec<u8>)> {
    let files = names(folder).into_iter().filter(|name| folder.join(name).is_file());
    files.map(|name| (name.clone(), fs::read(folder.join(name)).unwrap())).collect()
}

#[test]
fn in_place_alone_makes_no_folder() {
    let (folder, plan) = with_plan("l-shape");
    let (output, said) = layout(&plan, &["--in-place", "--formats", "rail"]);
    assert_eq!(output.status.code(), Some(0), "{said}");
    let told = String::from_utf8_lossy(&output.stdout).into_owned();
    assert!(told.contains("; rails written into the plan itself; ") && !told.contains("0 files"), "{told}");
    assert_eq!(names(folder.path()), ["deck.dxf", "deck.dxf.bak"]);
}

#[test]
fn a_job_names_the_layers() {
    let (folder, plan) = with_plan("l-shape");
    let job = folder.path().join("job.toml");
    fs::write(&job, "layer-prefix = \"X\"\n[output-layers]\nRAIL-POST = \"A-FLOR-HRAL-POST\"\n").unwrap();
    let (output, said) = layout(&plan, &["--job", &job.to_string_lossy()]);
    assert_eq!(output.status.code(), Some(0), "{said}");
    for file in ["deck.rail.dxf", "layout.dxf"] {
        let written = fs::read_to_string(folder.path().join("deck-rail").join(file)).unwrap();
        assert!(written.contains("\nA-FLOR-HRAL-POST\n") && written.contains("\nX-DIMS\n"), "{file}");
    }
    fs::write(&job, "[output-layers]\nRAIL-POST = \"A/B\"\n").unwrap();
    let (output, said) = layout(&plan, &["--job", &job.to_string_lossy()]);
    assert_eq!(output.status.code(), Some(2));
    assert!(said.contains("output-layers: the name `A/B` has `/`"), "{said}");
}
