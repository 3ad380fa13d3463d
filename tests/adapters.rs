//! `plumbrail adapters`: installs, lists and removes its own files and no others. What they do in FreeCAD and Inkscape is
//! tested by tests/adapters/*.py, with these programs.

use std::fs;
use std::path::Path;
use std::process::Command;

use crate::program::{Ran, arg, files, folder, names};

/// Runs the command for a user whose home is this folder.
fn adapters(home: &Path, args: &[&str]) -> Ran {
    let mut command = Command::new(env!("CARGO_BIN_EXE_plumbrail"));
    command.arg("adapters").args(args).current_dir(home).env("HOME", home).env("APPDATA", home);
    for moved in ["XDG_DATA_HOME", "XDG_CONFIG_HOME", "FREECAD_USER_DATA", "INKSCAPE_PROFILE_DIR"] {
        command.env_remove(moved);
    }
    let output = command.output().unwrap();
    Ran {
        status: output.status.code().unwrap(),
        out: String::from_utf8(output.stdout).unwrap(),
        err: String::from_utf8(output.stderr).unwrap(),
    }
}

#[cfg(target_os = "linux")]
#[test]
fn installs_lists_and_removes() {
    let home = folder();
    let home = home.path();
    let (mods, extensions) = (home.join(".local/share/FreeCAD/Mod"), home.join(".config/inkscape/extensions"));
    fs::create_dir_all(&mods).unwrap();
    let ran = adapters(home, &["install"]);
    assert_eq!((ran.status, ran.err.as_str()), (0, ""));
    for place in [&mods, &extensions] {
        assert!(
            ran.out.contains(&format!("adapter installed in {}/plumbrail; restart", place.display())),
            "{}",
            ran.out
        );
        let call = fs::read_to_string(place.join("plumbrail/plumbrail_call.py")).unwrap();
        assert!(call.contains(&format!("\nPROGRAM = \"{}\"\n", env!("CARGO_BIN_EXE_plumbrail"))), "{call}");
    }
    let first = files(home);
    assert_eq!(adapters(home, &["install", "freecad"]).status, 0);
    assert_eq!(files(home), first);
    let listed = |freecad: &str, inkscape: &str| {
        let (m, e) = (mods.display(), extensions.display());
        assert_eq!(
            adapters(home, &["list"]).out,
            format!("freecad  {freecad}  {m}/plumbrail\ninkscape  {inkscape}  {e}/plumbrail\n")
        );
    };
    listed("installed", "installed");
    // What Python compiled goes with its source; what the user put there stays.
    let compiled = mods.join("plumbrail/plumbrail_rails/__pycache__");
    fs::create_dir_all(&compiled).unwrap();
    fs::write(compiled.join("plan.cpython-311.pyc"), "x").unwrap();
    fs::write(extensions.join("plumbrail/mine.py"), "x").unwrap();
    let ran = adapters(home, &["remove", "freecad"]);
    assert_eq!(ran.out, format!("FreeCAD adapter taken away from {}/plumbrail\n", mods.display()));
    assert!(mods.is_dir() && !mods.join("plumbrail").exists());
    listed("not installed", "installed");
    fs::write(extensions.join("plumbrail/plumbrail_old.py"), "# plumbrail adapter file: of an older version\n")
        .unwrap();
    listed("not installed", "installed");
    adapters(home, &["install", "inkscape"]);
    assert!(!extensions.join("plumbrail/plumbrail_old.py").exists());
    fs::remove_file(extensions.join("plumbrail/plumbrail_open.inx")).unwrap();
    listed("not installed", "installed, but not as this program installs it; install it again");
    let ran = adapters(home, &["remove"]);
    let said = format!(
        "FreeCAD has no adapter in {}/plumbrail\nInkscape adapter taken away from {}/plumbrail; what is not ours stays there\n",
        mods.display(),
        extensions.display()
    );
    assert_eq!((ran.status, ran.out), (0, said));
    assert_eq!(names(home), [".config/inkscape/extensions/plumbrail/mine.py"]);
}

/// A file of the same name without our mark is the user's: nothing at all is installed, for no program.
#[test]
fn nothing_that_is_not_ours_is_replaced() {
    let home = folder();
    let mods = home.path().join("mods");
    let mine = mods.join("plumbrail/package.xml");
    fs::create_dir_all(mine.parent().unwrap()).unwrap();
    fs::write(&mine, "<mine/>\n").unwrap();
    let ran = adapters(home.path(), &["install", "freecad", "--to", &arg(&mods)]);
    assert_eq!((ran.status, ran.out.as_str()), (2, ""));
    let said = format!(
        "error: not ours, so nothing was installed: {}; move it away, or name another folder with --to\n",
        mine.display()
    );
    assert_eq!(ran.err, said);
    assert_eq!(names(home.path()), ["mods/plumbrail/package.xml"]);
    adapters(home.path(), &["remove", "freecad", "--to", &arg(&mods)]);
    assert_eq!(fs::read_to_string(&mine).unwrap(), "<mine/>\n");
    // One of ours that the user edited carries the mark, and is replaced.
    fs::remove_file(&mine).unwrap();
    for _ in 0..2 {
        let ran = adapters(home.path(), &["install", "freecad", "--to", "mods"]);
        assert_eq!((ran.status, ran.err.as_str()), (0, ""));
        assert!(fs::read_to_string(&mine).unwrap().ends_with("</package>\n"));
        fs::write(&mine, fs::read_to_string(&mine).unwrap() + "<!-- edited -->\n").unwrap();
    }
}

#[test]
fn a_folder_is_of_one_program() {
    let home = folder();
    for args in
        [&["install", "--to", "x"][..], &["remove", "freecad", "inkscape", "--to", "x"], &["install", "blender"]]
    {
        let ran = adapters(home.path(), args);
        assert_eq!((ran.status, ran.out.as_str()), (2, ""), "{args:?}");
        assert!(ran.err.contains("freecad"), "{}", ran.err);
    }
    // A file stands where the folder should be.
    fs::write(home.path().join("x"), "").unwrap();
    let ran = adapters(home.path(), &["install", "freecad", "--to", "x"]);
    assert_eq!((ran.status, ran.out.as_str()), (2, ""));
    assert_eq!(names(home.path()), ["x"]);
}
