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

/// Runs with files of at most 64 blocks, of 512 or 1024 bytes, by which writing fails as on a disk that is full, and the
/// system sends a signal that ends who does not expect it.
fn without_room(home: &Path, args: &[&str]) -> Ran {
    let script = "ulimit -f 64; exec \"$0\" \"$@\"";
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

/// Runs with standard output led elsewhere, as a shell writes it.
fn with_output(home: &Path, to: &str, args: &[&str]) -> Ran {
    let script = format!("exec \"$0\" \"$@\" >{to}");
    ran(Command::new("sh").args(["-c", &script, env!("CARGO_BIN_EXE_plumbrail")]).args(args).current_dir(home))
}

#[test]
fn a_standard_output_that_takes_nothing() {
    let home = home(&["a.dxf"]);
    let layout = ["layout", "a.dxf", "--formats", "json", "--out"];
    let closed = with_output(home.path(), "&-", &[&layout[..], &["-"]].concat());
    let why = "standard output is closed, so nobody would get the file; name a folder with --out";
    same(&closed.err, &format!("error: {why}\n"));
    let full = with_output(home.path(), "/dev/full", &[&layout[..], &["-"]].concat());
    let no_room = "cannot write to standard output: No space left on device (os error 28)";
    same(&full.errors_and_warnings(), &format!("error: {no_room}\n"));
    assert_eq!((closed.status, full.status, names(home.path())), (2, 2, vec!["a.dxf".to_owned()]));
    // Who throws a file away by name gets no error.
    assert_eq!(with_output(home.path(), "/dev/null", &[&layout[..], &["-"]].concat()).status, 0);
    // Where the files are, it is said; a closed output takes no word, and that is all it takes.
    let told = with_output(home.path(), "/dev/full", &[&layout[..], &["out"]].concat());
    let but = "the files were written to out, but not what they come to";
    same(&told.errors_and_warnings(), &format!("error: {but}: {no_room}\n"));
    assert_eq!((told.status, names(home.path())), (2, vec!["a.dxf".to_owned(), "out/layout.json".to_owned()]));
    assert_eq!(with_output(home.path(), "&-", &[&layout[..], &["out"]].concat()).status, 0);
    let list = with_output(home.path(), "/dev/full", &["list", "systems"]);
    same(&list.err, &format!("error: {no_room}\n"));
    assert_eq!(list.status, 2);
}

/// As long as a name may be; what is made of it may not be longer.
#[test]
fn a_plan_with_a_long_name() {
    let name = format!("{}.dxf", "x".repeat(250));
    let stem = "x".repeat(250);
    let home = home(&[&name]);
    let before = files(home.path());
    let hint = "a name is too long for the disk: give the plan, or the folder with --out, a shorter one";
    for (rest, told) in [
        (&["--formats", "rail", "--out", "out"][..], format!("cannot write out/{stem}.rail.dxf")),
        (&["--formats", "json", "--out", "out", "--in-place"], format!("cannot keep {name} as a backup")),
    ] {
        let ran = run_in(home.path(), &[&["layout", &name], rest].concat(), b"");
        assert!(ran.err.contains(&told) && ran.err.contains(hint), "{}", ran.err);
        assert_eq!(ran.status, 2);
        assert!(files(home.path()) == before, "{:?}", names(home.path()));
    }
    assert_eq!(run_in(home.path(), &["layout", &name, "--formats", "json"], b"").status, 0);
    assert!(home.path().join(format!("{stem}-rail/layout.json")).exists());
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

/// Does something while the program waits between reading the plan and writing: the plan refers to a DWG, and what is to
/// convert that reads a pipe to its end before.
fn before_it_writes(act: impl FnOnce() + Send, within: &Path, args: &[&str]) -> Ran {
    let (folder, deck) = (folder(), root().join("fixtures/xref/deck.dxf"));
    fs::copy(root().join(plan("xref")), within.join("a.dxf")).unwrap();
    fs::write(within.join("deck.dwg"), "AC1032").unwrap();
    let pipe = folder.path().join("pipe");
    assert!(Command::new("mkfifo").arg(&pipe).status().unwrap().success());
    let convert = format!("sh -c 'cat {}; cp {} $1' - {{out}} {{in}}", pipe.display(), deck.display());
    let mut command = Command::new(env!("CARGO_BIN_EXE_plumbrail"));
    std::thread::scope(|scope| {
        let acting = scope.spawn(|| {
            // Opened when the other end is: the program is there.
            let end = fs::File::options().write(true).open(&pipe).unwrap();
            act();
            drop(end);
        });
        let said = ran(command.args(args).args(["--dwg-converter", &convert]).current_dir(within));
        // A program that never came would be waited for without end.
        let _other_end = fs::File::options().read(true).write(true).open(&pipe);
        acting.join().unwrap();
        said
    })
}

#[test]
fn an_output_folder_that_goes_away() {
    let args = ["layout", "a.dxf", "--formats", "json", "--out", "out"];
    let home = folder();
    let [out, moved] = ["out", "moved"].map(|name| home.path().join(name));
    // It is made anew.
    fs::create_dir(&out).unwrap();
    let said = before_it_writes(|| fs::rename(&out, &moved).unwrap(), home.path(), &args);
    assert_eq!(said.status, 0, "{}", said.err);
    assert_eq!(names(&out), ["layout.json"]);
    // The folder in which the program works.
    let within = home.path().join("within");
    fs::create_dir(&within).unwrap();
    let said = before_it_writes(|| fs::remove_dir_all(&within).unwrap(), &within, &args);
    let gone = "error: cannot write in .: No such file or directory (os error 2)\n  hint: the folder was taken away while \
                files were written into it; run again\n";
    same(&said.errors_and_warnings(), gone);
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
    let home = folder();
    let [path, saved] = ["a.dxf", "saved"].map(|name| home.path().join(name));
    let new = b"999\nmoved\n0\nEOF\n";
    let save = || {
        fs::write(&saved, new).unwrap();
        fs::rename(&saved, &path).unwrap();
    };
    let args = ["layout", "a.dxf", "--formats", "csv,json,svg,pdf", "--in-place"];
    let said = before_it_writes(save, home.path(), &args);
    let told = "error: a.dxf was changed while it was laid out, and was left as it is; run again\n";
    same(&said.errors_and_warnings(), told);
    assert_eq!((said.status, names(home.path())), (2, vec!["a.dxf".to_owned(), "deck.dwg".to_owned()]));
    assert!(fs::read(path).unwrap() == new);
}

#[test]
fn two_runs_at_a_time_do_not_mix() {
    let home = home(&["a.dxf"]);
    let stage = home.path().join(".out.part");
    fs::create_dir(&stage).unwrap();
    let lock = fs::File::create(stage.join("lock")).unwrap();
    lock.try_lock().unwrap();
    let args = ["layout", "a.dxf", "--formats", "json", "--out", "out"];
    let said = run_in(home.path(), &args, b"");
    same(&said.errors_and_warnings(), "error: another run is writing to .; wait until it is done\n");
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
