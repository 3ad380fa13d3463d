//! Folders that came from elsewhere, with things in them that a stopped run of ours could have left, or that no run leaves:
//! links, pipes, names that lead out. Nothing in them is touched, nothing outside, and nothing is waited for.

use std::fs;
use std::os::unix::fs::symlink;
use std::path::Path;
use std::process::{Command, Stdio};

use crate::faults::home;
use crate::program::{Ran, files, folder, names, plan, root, run_in};

const ARGS: [&str; 6] = ["layout", "a.dxf", "--formats", "json,csv", "--out", "out"];

fn pipe(path: &Path) {
    assert!(Command::new("mkfifo").arg(path).status().unwrap().success());
}

/// Everything below a folder with what it is, links by where they lead; pipes are not read.
fn all(folder: &Path) -> Vec<String> {
    let mut out = Vec::new();
    for entry in fs::read_dir(folder).into_iter().flatten().map(Result::unwrap) {
        let (path, kind) = (entry.path(), entry.file_type().unwrap());
        let what = match kind {
            _ if kind.is_dir() => {
                out.extend(all(&path));
                String::new()
            }
            _ if kind.is_symlink() => fs::read_link(&path).unwrap().display().to_string(),
            _ if kind.is_file() => String::from_utf8_lossy(&fs::read(&path).unwrap()).into_owned(),
            _ => "a pipe".to_owned(),
        };
        out.push(format!("{}: {what}", path.display()));
    }
    out.sort();
    out
}

/// A run that is refused and changes nothing.
#[track_caller]
fn is_refused(home: &Path, args: &[&str], told: &str) {
    let before = all(home);
    let said = run_in(home, args, b"");
    assert_eq!(all(home), before, "{}", said.err);
    assert!(said.status == 2 && said.err.contains(told), "{told}: {}", said.err);
}

/// A lock as a run writes it, but for which file it is.
fn lock(new: &str, stale: &str) -> String {
    format!("{{\"lock\":\"1-2\",\"new\":[\"{new}\"],\"stale\":[\"{stale}\"]}}")
}

#[test]
fn what_no_run_left_there_is_not_touched() {
    for stage in ["out/plumbrail-unfinished", "out/.plumbrail.part", ".out.part"] {
        let prepare = |put: &dyn Fn(&Path, &Path)| {
            let home = home(&["a.dxf"]);
            fs::write(home.path().join("mine.txt"), "of the user").unwrap();
            fs::create_dir(home.path().join("out")).unwrap();
            put(home.path(), &home.path().join(stage));
            is_refused(home.path(), &ARGS, "holds what no run on this disk left there; nothing in it was touched");
        };
        let in_it = |name: &'static str, text: String| {
            move |_: &Path, stage: &Path| {
                fs::create_dir_all(stage.join("new")).unwrap();
                fs::create_dir_all(stage.join("old")).unwrap();
                fs::write(stage.join("new/layout.json"), "theirs").unwrap();
                fs::write(stage.join(name), &text).unwrap();
            }
        };
        prepare(&in_it("stale.json", "[\"../mine.txt\"]".to_owned()));
        for (new, stale) in [("layout.json", "../mine.txt"), ("../mine.txt", "x"), ("/etc/hosts", "/etc/hosts")] {
            prepare(&in_it("lock", lock(new, stale)));
        }
        prepare(&in_it("lock", "no journal".to_owned()));
        prepare(&in_it("lock", String::new()));
        prepare(&|_, stage| fs::write(stage, "a file of the user").unwrap());
        prepare(&|_, stage| pipe(stage));
        prepare(&|home, stage| {
            fs::create_dir(home.join("elsewhere")).unwrap();
            symlink(home.join("elsewhere"), stage).unwrap();
        });
        prepare(&|home, stage| {
            fs::create_dir(stage).unwrap();
            symlink(home.join("elsewhere"), stage.join("lock")).unwrap();
        });
        prepare(&|_, stage| {
            fs::create_dir(stage).unwrap();
            pipe(&stage.join("lock"));
        });
    }
}

/// Stops a run by force when it has begun to move its files in; a later run would finish it.
fn stopped() -> tempfile::TempDir {
    loop {
        let home = home(&["a.dxf"]);
        assert_eq!(run_in(home.path(), &[&ARGS[..], &["--inset", "5in"]].concat(), b"").status, 0);
        let mut child = Command::new(env!("CARGO_BIN_EXE_plumbrail"))
            .args(ARGS)
            .current_dir(home.path())
            .stdin(Stdio::null())
            .stdout(Stdio::null())
            .stderr(Stdio::null())
            .spawn()
            .unwrap();
        let left = home.path().join("out/plumbrail-unfinished");
        while !left.exists() && child.try_wait().unwrap().is_none() {}
        child.kill().unwrap();
        child.wait().unwrap();
        if left.join("lock").exists() {
            return home;
        }
    }
}

/// It was ours where it was made. Copied, it could hold anything.
#[test]
fn an_unfinished_folder_that_was_copied_is_no_longer_ours() {
    let home = stopped();
    let left = home.path().join("out/plumbrail-unfinished");
    let elsewhere = folder();
    fs::copy(home.path().join("a.dxf"), elsewhere.path().join("a.dxf")).unwrap();
    assert!(
        Command::new("cp").arg("-a").arg(home.path().join("out")).arg(elsewhere.path()).status().unwrap().success()
    );
    is_refused(elsewhere.path(), &ARGS, "out/plumbrail-unfinished holds what no run on this disk left there");
    // What somebody put into ours stays there, and is told; all else is done.
    fs::write(left.join("mine.txt"), "of the user").unwrap();
    let said = run_in(home.path(), &ARGS, b"");
    assert!(said.status == 2 && said.err.contains("holds what no run on this disk left there"), "{}", said.err);
    let mine = names(home.path()).into_iter().find(|name| name.ends_with("mine.txt")).unwrap();
    fs::rename(home.path().join(mine), home.path().join("mine.txt")).unwrap();
    assert_eq!(run_in(home.path(), &ARGS, b"").status, 0);
    assert!(names(home.path()).iter().all(|name| !name.contains("part") && !name.contains("unfinished")));
}

/// A link in the way of a file, or of a folder.
#[test]
fn outputs_follow_no_link() {
    let home = home(&["a.dxf"]);
    let aside = folder();
    fs::write(aside.path().join("layout.json"), "of the user").unwrap();
    let made = run_in(home.path(), &["layout", "a.dxf", "--out", "out"], b"");
    assert_eq!(made.status, 0, "{}", made.err);
    let args = ["layout", "a.dxf", "--out", "out"];
    fs::rename(home.path().join("out/panels"), home.path().join("panels")).unwrap();
    symlink(aside.path(), home.path().join("out/panels")).unwrap();
    is_refused(home.path(), &args, "out/panels is a link, and what lies behind it is left alone");
    fs::remove_file(home.path().join("out/panels")).unwrap();
    for name in ["layout.json", "panels/S1.svg", ".plumbrail.json"] {
        let place = home.path().join("out").join(name);
        fs::create_dir_all(place.parent().unwrap()).unwrap();
        drop(fs::remove_file(&place));
        symlink(aside.path().join("layout.json"), &place).unwrap();
        is_refused(
            home.path(),
            &args,
            &format!("{name} is a link, a pipe or a device; it stands where a file is to be"),
        );
        fs::remove_file(&place).unwrap();
        pipe(&place);
        is_refused(
            home.path(),
            &args,
            &format!("{name} is a link, a pipe or a device; it stands where a file is to be"),
        );
        fs::remove_file(&place).unwrap();
    }
    assert_eq!(fs::read(aside.path().join("layout.json")).unwrap(), b"of the user");
    assert_eq!(run_in(home.path(), &args, b"").status, 0);
}

/// Files of an earlier plan go when the new run makes none; what the user put there, or changed of what is his to change, stays.
#[test]
fn what_an_earlier_plan_left_goes() {
    let home = folder();
    for (name, case) in [("a.dxf", "stair-landing"), ("b.dxf", "corner-135")] {
        fs::copy(root().join(plan(case)), home.path().join(name)).unwrap();
    }
    let lay_out = |plan: &str, out: &str, formats: &str| -> Ran {
        run_in(home.path(), &["layout", plan, "--out", out, "--formats", formats], b"")
    };
    let all = "dxf,rail,svg,pdf,csv,xlsx,json,html";
    for (plan, out) in [("b.dxf", "alone"), ("a.dxf", "out"), ("b.dxf", "out")] {
        if (plan, out) == ("b.dxf", "out") {
            let there = |name: &str| home.path().join("out").join(name).exists();
            assert!(["handrails.csv", "a.rail.dxf", "panels/S9.svg", "sheets/R9.svg"].into_iter().all(there));
        }
        assert!(lay_out(plan, out, all).status < 2);
    }
    // The rails in another plan are that plan's.
    let others = |folder: &str| -> Vec<(String, Vec<u8>)> {
        let mut all = files(&home.path().join(folder));
        all.retain(|(name, _)| name != "a.rail.dxf" && name != ".plumbrail.json");
        all
    };
    assert!(home.path().join("out/a.rail.dxf").exists());
    assert!(others("out") == others("alone"));
    // A file of our name that we have not made, and a plan with the rails that was worked on since.
    assert!(lay_out("a.dxf", "out", all).status < 2);
    fs::remove_file(home.path().join("out/.plumbrail.json")).unwrap();
    let mine = ["handrails.csv", "panels/S77.svg", "sheets/R77.svg", "notes.rail.dxf"];
    let put = |home: &Path| mine.iter().for_each(|name| fs::write(home.join("out").join(name), "of the user").unwrap());
    put(home.path());
    assert!(lay_out("b.dxf", "out", all).status < 2);
    assert!(mine.iter().all(|name| fs::read(home.path().join("out").join(name)).unwrap() == b"of the user"));
    mine.iter().for_each(|name| fs::remove_file(home.path().join("out").join(name)).unwrap());
    assert!(lay_out("a.dxf", "out", all).status < 2);
    fs::write(home.path().join("out/a.rail.dxf"), "a post moved").unwrap();
    assert!(lay_out("b.dxf", "out", all).status < 2);
    assert_eq!(fs::read(home.path().join("out/a.rail.dxf")).unwrap(), b"a post moved");
    // A record from elsewhere names what it likes.
    fs::write(home.path().join("mine.txt"), "of the user").unwrap();
    fs::write(home.path().join("out/mine.txt"), "of the user").unwrap();
    let record = "{\"files\":{\"mine.txt\":null,\"../mine.txt\":null,\"panels/../mine.txt\":null,\"/etc/hosts\":null}}";
    fs::write(home.path().join("out/.plumbrail.json"), record).unwrap();
    assert!(lay_out("b.dxf", "out", all).status < 2);
    for name in ["mine.txt", "out/mine.txt"] {
        assert_eq!(fs::read(home.path().join(name)).unwrap(), b"of the user");
    }
    // Formats that were not named stay ours.
    assert!(lay_out("a.dxf", "out", "json").status < 2);
    assert!(home.path().join("out/b.rail.dxf").exists());
    assert!(lay_out("a.dxf", "out", "rail").status < 2);
    assert!(home.path().join("out/b.rail.dxf").exists());
}

/// Settings and plans that have no end, or that nobody writes.
#[test]
fn pipes_devices_and_large_files_are_not_read() {
    let home = home(&["a.dxf"]);
    pipe(&home.path().join("pipe.toml"));
    fs::create_dir(home.path().join("folder.toml")).unwrap();
    fs::File::create(home.path().join("large.toml")).unwrap().set_len(4_194_305).unwrap();
    symlink("/dev/zero", home.path().join("zero.toml")).unwrap();
    for (name, why) in [
        ("pipe.toml", "it is a pipe or a device, and no file; what comes from a pipe is read with `-`"),
        ("zero.toml", "it is a pipe or a device, and no file; what comes from a pipe is read with `-`"),
        ("folder.toml", "it is a folder, and no file"),
        ("large.toml", "it has 4194305 bytes; at most 4194304 are read of such a file"),
    ] {
        for option in ["--job", "--system", "--rules", "--measured", "--stock"] {
            is_refused(home.path(), &["layout", "a.dxf", option, name], &format!("error: cannot read {name}: {why}\n"));
        }
    }
    // An elevation would take the place of what it is written to.
    is_refused(
        home.path(),
        &["panel", "6ft", "--svg", "pipe.toml"],
        "pipe.toml is a link, a pipe or a device; it stands",
    );
    for command in [&["layout", "pipe.toml"][..], &["inspect", "zero.toml"], &["check", "pipe.toml"]] {
        is_refused(
            home.path(),
            command,
            "it is a pipe or a device, and no file; what comes from a pipe is read with `-`",
        );
    }
}
