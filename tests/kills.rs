//! Runs that are stopped by force at two hundred moments: some spread over the whole run, some from when the first byte is
//! written.

use std::fs;
use std::path::Path;
use std::process::{Command, Stdio};
use std::time::{Duration, Instant};

use crate::faults::{home, pause};
use crate::program::{files, names, run_in};

type Files = Vec<(String, Vec<u8>)>;

/// On a busy machine a run may end before its moment comes: then the moments come again, each after half the time, until they
/// come at once. So all runs are stopped however fast or slow the machine is.
const LAPS: u32 = 16;

/// When a run is stopped.
#[derive(Debug, Clone, Copy)]
struct Moment {
    /// Counted from when the first byte is written, else from the start.
    written: bool,
    after: Duration,
}

/// Moments of a run that takes so long: every other one of the whole run, the others of its writing.
fn moments(count: u32, whole: Duration) -> impl Iterator<Item = Moment> {
    // Writing takes a few milliseconds.
    let writing = Duration::from_millis(4);
    let of = move |lap: u32, n: u32| {
        // In the last laps what was written may be there for a shorter time than it takes to see it.
        let written = n % 2 == 1 && lap < LAPS / 2;
        Moment { written, after: (if written { writing } else { whole }) * n / count / 2_u32.pow(lap) }
    };
    (0..LAPS).flat_map(move |lap| (0..count).map(move |n| of(lap, n)))
}

/// How long a run takes that is not stopped.
fn duration(make: impl Fn() -> tempfile::TempDir, args: &[&str]) -> Duration {
    let once = || {
        let home = make();
        #[expect(clippy::disallowed_methods, reason = "moments are chosen by it, and nothing else")]
        let begin = Instant::now();
        assert_eq!(run_in(home.path(), args, b"").status, 0);
        begin.elapsed()
    };
    (0..3).map(|_| once()).min().unwrap()
}

/// Starts a run, and stops it at the moment. Whether it was still running.
fn kill(home: &Path, args: &[&str], moment: Moment) -> bool {
    let mut child = Command::new(env!("CARGO_BIN_EXE_plumbrail"))
        .args(args)
        .current_dir(home)
        .stdin(Stdio::null())
        .stdout(Stdio::null())
        .stderr(Stdio::null())
        .spawn()
        .unwrap();
    if moment.written {
        let begun = || {
            let has_part = |folder: &Path| {
                let entries = fs::read_dir(folder).into_iter().flatten().flatten();
                let is_ours = |n: &str| n.ends_with(".part") || n == "plumbrail-unfinished";
                entries.filter_map(|e| e.file_name().into_string().ok()).any(|n| is_ours(&n))
            };
            has_part(home) || has_part(&home.join("a-rail"))
        };
        while !begun() && child.try_wait().unwrap().is_none() {}
    }
    pause(moment.after);
    child.kill().unwrap();
    child.wait().unwrap().code().is_none()
}

/// Whether every file of `there` stands so in one of the sets.
fn is_of(there: &Files, sets: [&Files; 2]) -> bool {
    there.iter().all(|file| sets.iter().any(|set| set.contains(file)))
}

fn visible(folder: &Path) -> Files {
    files(folder).into_iter().filter(|(name, _)| !name.split('/').any(|part| part.ends_with(".part"))).collect()
}

const FORMATS: [&str; 2] = ["--formats", "json,csv,rail"];

#[test]
fn a_new_folder_is_there_as_a_whole_or_not_at_all() {
    let args = [&["layout", "a.dxf"][..], &FORMATS].concat();
    let empty = home(&["a.dxf"]);
    let none = files(empty.path());
    assert_eq!(run_in(empty.path(), &args, b"").status, 0);
    let all = files(empty.path());
    let whole = duration(|| home(&["a.dxf"]), &args);
    let mut killed = 0;
    for moment in moments(60, whole) {
        if killed == 60 {
            break;
        }
        let home = home(&["a.dxf"]);
        killed += u32::from(kill(home.path(), &args, moment));
        let there = visible(home.path());
        assert!(there == none || there == all, "{moment:?}: {:?}", names(home.path()));
        assert_eq!(run_in(home.path(), &args, b"").status, 0);
        assert!(files(home.path()) == all, "{moment:?}: {:?}", names(home.path()));
    }
    assert_eq!(killed, 60, "stopped runs");
}

/// Over an earlier set: the old one, the new one, or a folder that says that it is unfinished, and the next run finishes it.
#[test]
fn a_folder_that_is_there_is_the_old_one_or_the_new_one_or_says_so() {
    let args = [&["layout", "a.dxf"][..], &FORMATS].concat();
    let old_home = || {
        let home = home(&["a.dxf"]);
        let before = [&args[..], &["--inset", "5in"]].concat();
        assert_eq!(run_in(home.path(), &before, b"").status, 0);
        fs::write(home.path().join("a-rail/notes.txt"), "of the user").unwrap();
        home
    };
    let first = old_home();
    let old = files(first.path());
    assert_eq!(run_in(first.path(), &args, b"").status, 0);
    let new = files(first.path());
    let whole = duration(old_home, &args);
    let mut killed = 0;
    for moment in moments(50, whole) {
        if killed == 50 {
            break;
        }
        let home = home(&[]);
        for (name, bytes) in &old {
            fs::create_dir_all(home.path().join(name).parent().unwrap()).unwrap();
            fs::write(home.path().join(name), bytes).unwrap();
        }
        killed += u32::from(kill(home.path(), &args, moment));
        let mut there = visible(home.path());
        if home.path().join("a-rail/plumbrail-unfinished").exists() {
            there.retain(|(name, _)| !name.contains("plumbrail-unfinished"));
            assert!(is_of(&there, [&old, &new]), "{moment:?}");
        } else {
            assert!(there == old || there == new, "{moment:?}: {:?}", names(home.path()));
        }
        assert_eq!(run_in(home.path(), &args, b"").status, 0);
        assert!(files(home.path()) == new, "{moment:?}: {:?}", names(home.path()));
    }
    assert_eq!(killed, 50, "stopped runs");
}

#[test]
fn in_place_the_plan_is_the_old_one_or_the_new_one() {
    let args = ["layout", "a.dxf", "--in-place", "--formats", "csv"];
    let first = home(&["a.dxf"]);
    let old = fs::read(first.path().join("a.dxf")).unwrap();
    assert_eq!(run_in(first.path(), &args, b"").status, 0);
    let (new, outputs) = (fs::read(first.path().join("a.dxf")).unwrap(), files(&first.path().join("a-rail")));
    let whole = duration(|| home(&["a.dxf"]), &args);
    let mut killed = 0;
    for moment in moments(50, whole) {
        if killed == 50 {
            break;
        }
        let home = home(&["a.dxf"]);
        let at = |name: &str| fs::read(home.path().join(name)).ok();
        killed += u32::from(kill(home.path(), &args, moment));
        let plan = at("a.dxf").expect("the plan is there at every moment");
        assert!(plan == old || plan == new, "{moment:?}");
        // A backup may be there early, and is there when the plan is the new one.
        assert!(at("a.dxf.bak").map_or(plan == old, |kept| kept == old), "{moment:?}");
        // Until the plan is in its place, a lock is held there.
        assert!(!home.path().join("a-rail").exists() || visible(&home.path().join("a-rail")) == outputs, "{moment:?}");
        assert_eq!(run_in(home.path(), &args, b"").status, 0);
        assert!(at("a.dxf").unwrap() == new && at("a.dxf.bak").unwrap() == old, "{moment:?}");
        assert!(files(&home.path().join("a-rail")) == outputs, "{moment:?}");
        let mut left = names(home.path());
        left.retain(|n| !n.starts_with("a-rail/") && !n.starts_with("a.dxf"));
        assert!(left.is_empty(), "{moment:?}: {left:?}");
    }
    assert_eq!(killed, 50, "stopped runs");
}

/// A batch over two folders that are there and two that are not; `--resume` comes to the same bytes.
#[test]
fn a_batch_is_resumed_to_the_same_bytes() {
    let plans = ["a.dxf", "b.dxf", "c.dxf", "d.dxf"];
    let args = [&["batch", "--resume", "--jobs", "2"][..], &plans, &FORMATS].concat();
    let before = ["batch", "a.dxf", "b.dxf", "--inset", "5in", "--formats", "json,csv,rail"];
    let first = home(&plans);
    assert_eq!(run_in(first.path(), &before, b"").status, 0);
    let old = files(first.path());
    assert_eq!(run_in(first.path(), &args, b"").status, 0);
    let new = files(first.path());
    let start = || {
        let home = home(&[]);
        for (name, bytes) in &old {
            fs::create_dir_all(home.path().join(name).parent().unwrap()).unwrap();
            fs::write(home.path().join(name), bytes).unwrap();
        }
        home
    };
    let whole = duration(start, &args);
    let mut killed = 0;
    for moment in moments(40, whole) {
        if killed == 40 {
            break;
        }
        let home = start();
        killed += u32::from(kill(home.path(), &args, moment));
        let mut there = visible(home.path());
        there.retain(|(name, _)| !name.contains("plumbrail-unfinished"));
        assert!(is_of(&there, [&old, &new]), "{moment:?}");
        for fresh in ["c-rail/", "d-rail/"] {
            let of = |set: &Files| set.iter().filter(|(name, _)| name.starts_with(fresh)).count();
            assert!(of(&there) == 0 || of(&there) == of(&new), "{moment:?}");
        }
        assert_eq!(run_in(home.path(), &args, b"").status, 0);
        assert!(files(home.path()) == new, "{moment:?}: {:?}", names(home.path()));
    }
    assert_eq!(killed, 40, "stopped runs");
}
