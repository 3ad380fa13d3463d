//! Drawings of every version and with every kind of record, made by ezdxf, GDAL and by hand: the program puts rails into
//! all of them; ezdxf and GDAL find as much as before and nothing new that is wrong.

use std::fs;
use std::process::Command;

use super::graft;
use super::interop::{ok, scratch, script};

/// Fewest drawings that the scripts write.
const DRAWINGS: usize = 60;

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
        ok(Command::new(env!("CARGO_BIN_EXE_plumbrail"))
            .args(["layout", "--units", "in", "--formats", "rail", "--out"])
            .args([&after, plan]));
        let bytes = fs::read(plan).unwrap();
        let written = fs::read(after.join(format!("{name}.rail.dxf"))).unwrap();
        assert!(graft::check(&name, &bytes, Some("in")) == written, "{name}: the program wrote something else");
    }
    script("graft_corpus.py", &[&"--before", &before, &"--after", &after]);
}
