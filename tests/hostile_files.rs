//! Files and folders that stand in the way, through the program: a clear error, the right exit status, and never half of
//! a run on disk.

use std::fs;
use std::path::Path;

use crate::program::{Ran, arg, files, folder, names, plan, root, run_in, same};

/// A folder with the demo plan.
fn home() -> tempfile::TempDir {
    let home = folder();
    fs::copy(root().join(plan("lakeside")), home.path().join("plan.dxf")).unwrap();
    home
}

fn layout(home: &Path, file: &str, out: &str) -> Ran {
    run_in(home, &["layout", file, "--out", out], b"")
}

/// Runs that must fail with this status and leave everything below the folder as it was.
#[track_caller]
fn fails(home: &Path, ran: impl Fn() -> Ran, status: i32, err: &str) {
    let before = files(home);
    let ran = ran();
    same(&ran.errors_and_warnings(), err);
    assert_eq!((ran.status, ran.out.as_str()), (status, ""));
    assert!(files(home) == before, "files have changed: {:?}", names(home));
}

#[test]
fn plans_that_cannot_be_read() {
    let home = home();
    fs::create_dir(home.path().join("plans")).unwrap();
    for command in ["layout", "inspect", "check"] {
        let none = || run_in(home.path(), &[command, "none.dxf"], b"");
        fails(home.path(), none, 2, "error: cannot read none.dxf: No such file or directory (os error 2)\n");
        let dir = || run_in(home.path(), &[command, "plans"], b"");
        fails(home.path(), dir, 2, "error: plans is a folder; name the DXF file in it\n");
    }
    assert!(!home.path().join("plans-rail").exists() && !home.path().join("none-rail").exists());
}

#[test]
fn plans_that_are_no_drawings() {
    let home = home();
    for (name, bytes, says, hint) in [
        ("empty.dxf", &b""[..], "the file is empty", "give a DXF drawing"),
        (
            "letter.dxf",
            b"Dear builder,\nplease\n",
            "the file is not a DXF drawing: a DXF begins with the lines `0` and `SECTION`",
            "save the plan as DXF in the CAD program",
        ),
        (
            "photo.dxf",
            b"\x89PNG\r\n\x1a\n\0\0",
            "the file is a PNG picture, not a DXF drawing",
            "save the plan as DXF in the CAD program",
        ),
        (
            "sheet.dxf",
            b"%PDF-1.4\n",
            "the file is a PDF document, not a DXF drawing",
            "save the plan as DXF in the CAD program",
        ),
        (
            "deck.dwg",
            b"AC1032\0\0\0",
            "the file is a DWG (AC1032), not a DXF",
            "open it in a CAD program and save it as DXF there, or name a program of yours that converts it: \
             --dwg-converter 'CMD {in} {out}'",
        ),
    ] {
        fs::write(home.path().join(name), bytes).unwrap();
        let err = format!("{name}: error[not-readable]: {says}\n  hint: {hint}\n");
        for command in ["layout", "inspect", "check"] {
            fails(home.path(), || run_in(home.path(), &[command, name], b""), 3, &err);
        }
    }
}

#[test]
fn a_plan_that_is_cut_off() {
    let home = home();
    let whole = fs::read(home.path().join("plan.dxf")).unwrap();
    let lines = whole.split_inclusive(|b| *b == b'\n').take(4000);
    fs::write(home.path().join("plan.dxf"), lines.flatten().copied().collect::<Vec<u8>>()).unwrap();
    let err = "plan.dxf:4000: error[not-readable]: the drawing is cut off: it ends at line 4000, in the middle of \
               section BLOCKS, without an EOF record\n  hint: save or send the drawing again; what follows may be missing\n";
    fails(home.path(), || layout(home.path(), "plan.dxf", "out"), 3, err);
}

#[test]
fn a_file_where_the_folder_should_be() {
    let home = home();
    fs::write(home.path().join("out"), b"precious").unwrap();
    let err = "error: cannot make the folder out: File exists (os error 17)\n";
    fails(home.path(), || layout(home.path(), "plan.dxf", "out"), 2, err);
    fs::remove_file(home.path().join("out")).unwrap();
    fs::create_dir(home.path().join("out")).unwrap();
    fs::write(home.path().join("out/panels"), b"precious").unwrap();
    let err = "error: cannot make the folder out/panels: File exists (os error 17)\n";
    fails(home.path(), || layout(home.path(), "plan.dxf", "out"), 2, err);
}

#[test]
fn a_folder_where_a_file_should_be() {
    let home = home();
    for name in ["layout.json", "layout.dxf", "panels/S3.svg"] {
        fs::create_dir_all(home.path().join("out").join(name)).unwrap();
        fs::write(home.path().join("out").join(name).join("mine.txt"), b"precious").unwrap();
        let err = format!("error: out/{name} is a folder; it stands where a file is to be written\n");
        fails(home.path(), || layout(home.path(), "plan.dxf", "out"), 2, &err);
        fs::remove_dir_all(home.path().join("out")).unwrap();
    }
}

/// A failed run makes no folders either.
#[test]
fn a_failed_run_leaves_no_folders() {
    let home = home();
    fs::create_dir_all(home.path().join("a/layout.json")).unwrap();
    assert_eq!(layout(home.path(), "plan.dxf", "a").status, 2);
    let left: Vec<_> = fs::read_dir(home.path().join("a")).unwrap().map(|e| e.unwrap().file_name()).collect();
    assert_eq!(left, ["layout.json"]);
}

#[test]
fn the_plan_is_never_overwritten() {
    let home = home();
    let path = home.path().join("layout.dxf");
    fs::rename(home.path().join("plan.dxf"), &path).unwrap();
    let err = |shown: &str| {
        format!("error: {shown} is the plan itself and is not overwritten; name another folder with --out\n")
    };
    fails(home.path(), || layout(home.path(), "layout.dxf", "."), 2, &err("./layout.dxf"));
    fails(home.path(), || layout(home.path(), &arg(&path), "."), 2, &err("./layout.dxf"));
    fs::create_dir(home.path().join("sub")).unwrap();
    fails(home.path(), || layout(home.path(), "layout.dxf", "sub/.."), 2, &err("sub/../layout.dxf"));
    #[cfg(unix)]
    {
        std::os::unix::fs::symlink(home.path(), home.path().join("sub/link")).unwrap();
        let before = fs::read(&path).unwrap();
        let ran = layout(home.path(), "layout.dxf", "sub/link");
        assert_eq!(ran.status, 2);
        same(&ran.errors_and_warnings(), &err("sub/link/layout.dxf"));
        assert_eq!(fs::read(&path).unwrap(), before);
    }
}

/// The plan may be reached by another name: a link to it in the output folder.
#[cfg(unix)]
#[test]
fn the_plan_is_not_overwritten_through_a_link() {
    let home = home();
    fs::create_dir(home.path().join("out")).unwrap();
    std::os::unix::fs::symlink("../plan.dxf", home.path().join("out/layout.dxf")).unwrap();
    let before = fs::read(home.path().join("plan.dxf")).unwrap();
    assert_eq!(layout(home.path(), "plan.dxf", "out").status, 2);
    assert_eq!(fs::read(home.path().join("plan.dxf")).unwrap(), before);
}

/// Whether the plan is unusable or a file cannot be written: what an earlier run left stays, to the byte.
#[test]
fn a_failed_run_leaves_an_earlier_run_as_it_was() {
    let home = home();
    assert_eq!(layout(home.path(), "plan.dxf", "out").status, 0);
    let whole = fs::read(home.path().join("plan.dxf")).unwrap();
    fs::write(home.path().join("plan.dxf"), &whole[..30_000]).unwrap();
    let before = files(home.path());
    assert_eq!(layout(home.path(), "plan.dxf", "out").status, 3);
    assert!(files(home.path()) == before);
    fs::write(home.path().join("plan.dxf"), &whole).unwrap();
    fs::remove_file(home.path().join("out/panels/S2.svg")).unwrap();
    fs::create_dir(home.path().join("out/panels/S2.svg")).unwrap();
    let before = files(home.path());
    assert_eq!(run_in(home.path(), &["layout", "plan.dxf", "--out", "out", "--inset", "6in"], b"").status, 2);
    assert!(files(home.path()) == before);
}

/// What a run leaves is what it says: drawings of panels that are no more are gone, other files are not touched.
#[test]
fn stale_panel_drawings_are_removed() {
    let home = home();
    assert_eq!(layout(home.path(), "plan.dxf", "out").status, 0);
    assert!(home.path().join("out/panels/S9.svg").exists());
    for name in ["S9a.svg", "notes.txt", "S.svg", "s9.svg"] {
        fs::write(home.path().join("out/panels").join(name), b"mine").unwrap();
    }
    fs::copy(root().join(plan("corner-135")), home.path().join("plan.dxf")).unwrap();
    let no_drawings = run_in(home.path(), &["layout", "plan.dxf", "--out", "out", "--formats", "json"], b"");
    assert_eq!(no_drawings.status, 0);
    assert!(home.path().join("out/panels/S9.svg").exists(), "only a run that writes drawings removes drawings");
    assert_eq!(layout(home.path(), "plan.dxf", "out").status, 0);
    let left = names(&home.path().join("out/panels"));
    assert_eq!(left, ["S.svg", "S1.svg", "S2.svg", "S9a.svg", "notes.txt", "s9.svg"]);
}

/// Nobody else may read or write in it: nothing is written, and it is said.
#[cfg(unix)]
#[test]
fn a_folder_that_is_not_writable() {
    use std::os::unix::fs::PermissionsExt;
    let home = home();
    let out = home.path().join("out");
    fs::create_dir(&out).unwrap();
    fs::set_permissions(&out, fs::Permissions::from_mode(0o555)).unwrap();
    // Who may write everywhere cannot be kept out.
    let kept_out = fs::write(out.join("try"), b"").is_err();
    let ran = layout(home.path(), "plan.dxf", "out");
    fs::set_permissions(&out, fs::Permissions::from_mode(0o755)).unwrap();
    if kept_out {
        assert_eq!(ran.status, 2, "{}", ran.err);
        assert!(ran.err.starts_with("error: cannot "), "{}", ran.err);
        assert!(names(&out).is_empty());
    } else {
        assert_eq!(ran.status, 0);
    }
}

#[test]
fn a_layer_that_is_not_there() {
    let home = home();
    let ran = || run_in(home.path(), &["layout", "plan.dxf", "--layer", "edge=NOPE*"], b"");
    let err = "plan.dxf: error[layer-empty]: no layer that is taken for the deck edge (NOPE*) holds an edge; layers with \
               lines: 0, A-WALL, A-DOOR, A-GLAZ, A-FURN, A-DECK-EDGE, A-DECK-POST, A-FLOR-STRS, S-JOIST, S-BEAM, A-ANNO-SYMB\n  \
               hint: name the layer: --layer edge=NAME, or let `plumbrail inspect PLAN --write-job job.toml` propose it\n";
    fails(home.path(), ran, 3, err);
}
