//! Drawings of every version and with every kind of record, made by ezdxf, GDAL and by hand: the program puts rails into
//! all of them; ezdxf and GDAL find as much as before and nothing new that is wrong.

use std::fs;
use std::path::Path;
use std::process::Command;

use plumbrail::write::graft::strip;

use super::graft;
use super::interop::{scratch, script};

/// Fewest drawings that the scripts write.
const DRAWINGS: usize = 60;

/// Most of these drawings name a reference that is not there, so that their layout is incomplete.
fn put_rails(out: &Path, plan: &Path) {
    let mut command = Command::new(env!("CARGO_BIN_EXE_plumbrail"));
    command.args(["layout", "--units", "in", "--formats", "rail", "--out"]).args([out, plan]);
    let ran = command.output().unwrap();
    assert!(ran.status.code().is_some_and(|s| s <= 1), "{command:?}: {}", String::from_utf8_lossy(&ran.stderr));
}

#[test]
fn the_program_puts_rails_into_every_drawing_and_keeps_the_rest() {
    let folder = scratch("corpus");
    let (before, after) = (folder.join("before"), folder.join("after"));
    script("make_corpus.py", &[&before]);
    let mut drawings: Vec<_> = fs::read_dir(&before).unwrap().map(|entry| entry.unwrap().path()).collect();
    drawings.sort();
    assert!(drawings.len() >= DRAWINGS, "only {} drawings", drawings.len());
    for plan in &drawings {
        let name = plan.file_stem().unwrap().to_string_lossy().into_owned();
        put_rails(&after, plan);
        let bytes = fs::read(plan).unwrap();
        let written = fs::read(after.join(format!("{name}.rail.dxf"))).unwrap();
        graft::check(&name, &bytes, Some("in"));
        assert!(strip(&written).unwrap().to_bytes(&written) == bytes, "{name}: strip gives something else");
        // A second run of the program on what it wrote.
        let again = folder.join("again");
        put_rails(&again, &after.join(format!("{name}.rail.dxf")));
        let second = fs::read(again.join(format!("{name}.rail.dxf"))).unwrap();
        assert!(second == written, "{name}: a second run of the program gives something else");
    }
    script("graft_corpus.py", &[&"--before", &before, &"--after", &after]);
}
