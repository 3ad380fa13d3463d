//! Faults of the world: runs that are stopped by force, a disk without room, folders that may not be written or go away, files
//! that change while they are read. The plan is never harmed, and outputs are all there or not at all.

use std::fs;
use std::os::unix::fs::{MetadataExt, PermissionsExt};
use std::path::Path;
use std::process::{Command, Output, Stdio};
use std::sync::atomic::{AtomicBool, Ordering};
use std::sync::mpsc;
use std::time::Duration;

use tempfile::TempDir;

use crate::program::{Ran, files, folder, names, plan, root, run_in, same};

/// A folder with plans of these names, all of them the same L.
pub fn home(plans: &[&str]) -> TempDir {
    let home = folder();
    for name in plans {
        fs::copy(root().join(plan("l-shape")), home.path().join(name)).unwrap();
    }
    home
}

/// What a command said that may be another user's or under a limit.
fn ran(command: &mut Command) -> Ran {
    let Output { status, stdout, stderr } = command.stdin(Stdio::null()).output().unwrap();
    Ran {
        status: status.code().expect("the program was stopped by a signal"),
        out: String::from_utf8(stdout).unwrap(),
        err: String::from_utf8(stderr).unwrap(),
    }
}

/// Runs with files of at most 64 blocks, of 512 or 1024 bytes, by which writing fails as on a disk that is full.
fn without_room(home: &Path, args: &[&str]) -> Ran {
    let script = "trap '' XFSZ; ulimit -f 64; exec \"$0\" \"$@\"";
    ran(Command::new("sh").args(["-c", script, env!("CARGO_BIN_EXE_plumbrail")]).args(args).current_dir(home))
}

const NO_ROOM: &str = "File too large (os error 27)\n  hint: nothing was written, and what lay there is as it was; make \
                       room, or name a folder on another disk with --out\n";

/// Runs as a user who is not root, for whom permissions hold, in a folder within `home`.
fn as_nobody(home: &Path, within: &Path, args: &[&str]) -> Ran {
    let is_root = fs::metadata("/proc/self").unwrap().uid() == 0;
    let program = home.join("plumbrail");
    if !program.exists() {
        fs::copy(env!("CARGO_BIN_EXE_plumbrail"), &program).unwrap();
    }
    fs::set_permissions(home, fs::Permissions::from_mode(0o755)).unwrap();
    let mut command = Command::new(if is_root { "setpriv".as_ref() } else { program.as_os_str() });
    if is_root {
        command.args(["--reuid", "65534", "--regid", "65534", "--clear-groups"]).arg(&program);
    }
    ran(command.args(args).current_dir(within))
}

#[test]
fn a_disk_without_room() {
    let home = home(&["a.dxf", "b.dxf"]);
    let before = files(home.path());
    let new = without_room(home.path(), &["layout", "a.dxf", "--formats", "json"]);
    same(&new.err, &format!("error: cannot write a-rail/layout.json: {NO_ROOM}"));
    assert_eq!((new.status, files(home.path()) == before), (2, true));
    // Where an earlier set lies, it stays.
    assert_eq!(run_in(home.path(), &["layout", "a.dxf", "--formats", "json", "--inset", "5in"], b"").status, 0);
    let before = files(home.path());
    let over = without_room(home.path(), &["layout", "a.dxf", "--formats", "json"]);
    same(&over.err, &format!("error: cannot write a-rail/layout.json: {NO_ROOM}"));
    let in_place = without_room(home.path(), &["layout", "a.dxf", "--formats", "json", "--in-place"]);
    same(&in_place.err, &format!("error: cannot write a.dxf: {NO_ROOM}"));
    let batch = without_room(home.path(), &["batch", "a.dxf", "b.dxf", "--formats", "json"]);
    same(&batch.out, "2 plans: 0 done, 0 incomplete, 0 with a broken limit, 2 failed\n");
    assert!(batch.err.contains(&format!("b.dxf: error: cannot write b-rail/layout.json: {NO_ROOM}")), "{}", batch.err);
    assert_eq!((over.status, in_place.status, batch.status), (2, 2, 1));
    assert!(files(home.path()) == before);
}

#[test]
fn a_folder_that_may_not_be_written() {
    let home = folder();
    let work = home.path().join("work");
    fs::create_dir_all(work.join("out")).unwrap();
    fs::copy(root().join(plan("l-shape")), work.join("a.dxf")).unwrap();
    let allow = |mode| {
        for folder in [work.join("out"), work.clone()] {
            fs::set_permissions(folder, fs::Permissions::from_mode(mode)).unwrap();
        }
    };
    let before = files(&work);
    allow(0o555);
    assert_eq!(as_nobody(home.path(), &work, &["check", "a.dxf"]).status, 0);
    let hint = "Permission denied (os error 13)\n  hint: nothing was written, and what lay there is as it was; name a \
                folder with --out in which you may write\n";
    let layout = ["layout", "a.dxf", "--formats", "json"];
    for (rest, place) in [
        (&["--out", "out"][..], "cannot write in out"),
        (&["--out", "new"], "cannot write in ."),
        (&["--out", "new/deep"], "cannot make the folder new"),
        (&["--out", "out/deep"], "cannot write in out"),
        (&["--in-place"], "cannot write in ."),
    ] {
        let said = as_nobody(home.path(), &work, &[&layout[..], rest].concat());
        same(&said.err, &format!("error: {place}: {hint}"));
        assert_eq!(said.status, 2);
    }
    allow(0o755);
    assert!(files(&work) == before);
}

/// A thread does something again and again while the program runs.
fn while_it(disturb: impl Fn() + Sync, home: &Path, args: &[&str]) -> Ran {
    let is_over = AtomicBool::new(false);
    std::thread::scope(|scope| {
        scope.spawn(|| {
            while !is_over.load(Ordering::Relaxed) {
                disturb();
            }
        });
        let mut command = Command::new(env!("CARGO_BIN_EXE_plumbrail"));
        let output = command.args(args).current_dir(home).stdin(Stdio::null()).output();
        is_over.store(true, Ordering::Relaxed);
        let Output { status, stdout, stderr } = output.unwrap();
        let text = |bytes| String::from_utf8(bytes).unwrap();
        Ran { status: status.code().expect("stopped by a signal"), out: text(stdout), err: text(stderr) }
    })
}

/// Does something while the program waits between laying out and writing. It then looks for what an earlier run left that was
/// stopped, and one was: that one's list of files that are to go is a pipe here, which it reads to its end. `ready` are the
/// files that the earlier run had yet to move into the folder `out`.
fn before_it_writes(act: impl FnOnce() + Send, home: &Path, out: &str, ready: &[&str], args: &[&str]) -> Ran {
    let left = home.join(out).join("plumbrail-unfinished");
    fs::create_dir_all(left.join("new")).unwrap();
    ready.iter().for_each(|name| fs::write(left.join("new").join(name), "old").unwrap());
    let pipe = left.join("stale.json");
    assert!(Command::new("mkfifo").arg(&pipe).status().unwrap().success());
    let mut command = Command::new(env!("CARGO_BIN_EXE_plumbrail"));
    std::thread::scope(|scope| {
        let acting = scope.spawn(|| {
            // Opened when the other end is: the program is there.
            let mut end = fs::File::options().write(true).open(&pipe).unwrap();
            act();
            std::io::Write::write_all(&mut end, b"[]").unwrap();
        });
        let said = ran(command.args(args).current_dir(home));
        // A program that never came would be waited for without end.
        let _other_end = fs::File::options().read(true).write(true).open(&pipe);
        acting.join().unwrap();
        said
    })
}

#[test]
fn an_output_folder_that_goes_away() {
    let args = ["layout", "a.dxf", "--formats", "json", "--out", "out"];
    let gone = "No such file or directory (os error 2)\n  hint: the folder was taken away while files were written into it; \
                run again\n";
    // The folder, with what an earlier run had staged in it.
    let home = home(&["a.dxf"]);
    let [out, moved] = ["out", "moved"].map(|name| home.path().join(name));
    let said = before_it_writes(|| fs::remove_dir_all(&out).unwrap(), home.path(), "out", &["marks.csv"], &args);
    let why = "an earlier run was stopped while it moved its files in, and they cannot be moved now";
    same(&said.err, &format!("error: {why}: cannot write out/marks.csv: {gone}"));
    assert_eq!((said.status, names(home.path())), (2, vec!["a.dxf".to_owned()]));
    // The folder alone, where nothing was left to do in it: it is made anew.
    let said = before_it_writes(|| fs::rename(&out, &moved).unwrap(), home.path(), "out", &[], &args);
    assert_eq!(said.status, 0, "{}", said.err);
    assert_eq!(names(&out), ["layout.json"]);
    // The folder in which the program works.
    let within = home.path().join("within");
    fs::create_dir(&within).unwrap();
    fs::copy(home.path().join("a.dxf"), within.join("a.dxf")).unwrap();
    let said = before_it_writes(|| fs::remove_dir_all(&within).unwrap(), &within, "out", &[], &args);
    same(&said.err, &format!("error: cannot write in .: {gone}"));
    assert_eq!((said.status, within.exists()), (2, false));
}

/// A large plan that is saved in place while it is read: that is told, or what is told is true of a whole state of it; never
/// the end of the program by a signal. Which of both it is depends on the moment: that a change is noticed is shown in
/// `read.rs`, where the moment is chosen.
#[test]
fn a_plan_that_changes_while_it_is_read() {
    let home = folder();
    let path = home.path().join("a.dxf");
    let half = b"999\nlong\n".repeat(3_000_000);
    fs::write(&path, half.repeat(2)).unwrap();
    let open = || fs::File::options().append(true).open(&path).unwrap();
    let grows = || drop(std::io::Write::write_all(&mut open(), b"999\nmore\n"));
    let shrinks = || {
        open().set_len(half.len() as u64).unwrap();
        open().set_len(2 * half.len() as u64).unwrap();
    };
    let changed = "error: cannot read a.dxf: it was changed while it was read; run again when it is saved\n";
    // No state of it is a drawing.
    let is_whole = |said: &Ran| said.status == 3 && said.err.contains(": error[not-readable]: ");
    for disturb in [&grows as &(dyn Fn() + Sync), &shrinks] {
        for command in [&["layout", "a.dxf"][..], &["inspect", "a.dxf"], &["layout", "a.dxf", "--in-place"]] {
            let said = while_it(disturb, home.path(), command);
            assert!((said.status, said.err.as_str()) == (2, changed) || is_whole(&said), "{said:?}");
        }
    }
    let batch = while_it(grows, home.path(), &["batch", "a.dxf"]);
    assert!(batch.err == format!("a.dxf: {changed}") || batch.err.contains(": error[not-readable]: "), "{batch:?}");
    assert_eq!((batch.status, names(home.path())), (1, vec!["a.dxf".to_owned()]));
}

/// The plan is saved anew between its reading and the moment in which the rails would take its place.
#[test]
fn a_plan_that_is_saved_while_it_is_laid_out_in_place() {
    let home = home(&["a.dxf"]);
    let [path, saved] = ["a.dxf", "saved"].map(|name| home.path().join(name));
    let new = [b"999\nmoved\n", &fs::read(&path).unwrap()[..]].concat();
    let save = || {
        fs::write(&saved, &new).unwrap();
        fs::rename(&saved, &path).unwrap();
    };
    let args = ["layout", "a.dxf", "--formats", "csv,json,svg,pdf", "--in-place"];
    let said = before_it_writes(save, home.path(), "a-rail", &[], &args);
    same(&said.err, "error: a.dxf was changed while it was laid out, and was left as it is; run again\n");
    assert_eq!((said.status, names(home.path())), (2, vec!["a.dxf".to_owned()]));
    assert!(fs::read(path).unwrap() == new);
}

#[test]
fn two_runs_at_a_time_do_not_mix() {
    let home = home(&["a.dxf"]);
    let stage = home.path().join(".out.part");
    fs::create_dir_all(stage.join("new")).unwrap();
    let lock = fs::File::create(stage.join("lock")).unwrap();
    lock.try_lock().unwrap();
    let args = ["layout", "a.dxf", "--formats", "json", "--out", "out"];
    let said = run_in(home.path(), &args, b"");
    same(&said.err, "error: another run is writing to .; wait until it is done\n");
    assert_eq!((said.status, names(home.path())), (2, vec![".out.part/lock".to_owned(), "a.dxf".to_owned()]));
    drop(lock);
    assert_eq!(run_in(home.path(), &args, b"").status, 0);
    assert_eq!(names(home.path()), ["a.dxf", "out/layout.json"]);
}

/// Who checks a layout in a folder that is half old and half new is told.
#[test]
fn check_tells_of_a_run_that_was_stopped() {
    let home = home(&["a.dxf"]);
    let args = ["layout", "a.dxf", "--formats", "json", "--out", "out"];
    assert_eq!(run_in(home.path(), &args, b"").status, 0);
    fs::create_dir(home.path().join("out/plumbrail-unfinished")).unwrap();
    let check = || run_in(home.path(), &["check", "out/layout.json"], b"").err;
    assert!(
        check().starts_with("out/layout.json: warning[output-unfinished]: a run was stopped while it moved its files"),
        "{}",
        check()
    );
    assert_eq!(run_in(home.path(), &args, b"").status, 0);
    assert!(!check().contains("stopped"));
    assert_eq!(names(home.path()), ["a.dxf", "out/layout.json"]);
}

/// For so long.
pub fn pause(time: Duration) {
    let (_keep, nothing) = mpsc::channel::<()>();
    let _ = nothing.recv_timeout(time);
}
