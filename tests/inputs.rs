//! Plans that come in other ways than as one DXF file: external references, posts whose size is an attribute, DWG files;
//! and the structure check of the user's own file.

use std::fs;
use std::path::{Path, PathBuf};
use std::process::Command;

use serde_json::Value;

fn fixture(name: &str) -> PathBuf {
    Path::new(env!("CARGO_MANIFEST_DIR")).join("fixtures").join(name)
}

struct Ran {
    status: i32,
    out: String,
    err: String,
}

fn run(args: &[&dyn AsRef<std::ffi::OsStr>]) -> Ran {
    let output = Command::new(env!("CARGO_BIN_EXE_plumbrail")).args(args.iter().map(|a| a.as_ref())).output().unwrap();
    Ran {
        status: output.status.code().unwrap(),
        out: String::from_utf8(output.stdout).unwrap(),
        err: String::from_utf8(output.stderr).unwrap(),
    }
}

/// The layout of a plan, and what was said.
fn layout(plan: &Path, options: &[&dyn AsRef<std::ffi::OsStr>]) -> (Value, Ran) {
    let out = tempfile::tempdir().unwrap();
    let folder = out.path();
    let mut args: Vec<&dyn AsRef<std::ffi::OsStr>> = vec![&"layout", &plan, &"--formats", &"json", &"--out", &folder];
    args.extend(options);
    let ran = run(&args);
    let json = fs::read(out.path().join("layout.json")).map(|b| serde_json::from_slice(&b).unwrap());
    (json.unwrap_or(Value::Null), ran)
}

fn codes(layout: &Value) -> Vec<&str> {
    let all = layout["findings"].as_array().unwrap().iter().map(|f| f["code"].as_str().unwrap());
    // What every layout of this deck says is of no interest here.
    all.filter(|c| !matches!(*c, "mark-moved" | "not-checked" | "layers-taken")).collect()
}

#[test]
fn a_deck_in_a_reference_gives_the_panels_of_the_same_deck_in_the_plan() {
    let (referred, ran) = layout(&fixture("xref").join("plan.dxf"), &[]);
    assert_eq!(ran.status, 0, "{}", ran.err);
    let (direct, _) = layout(&fixture("binary").join("plan.dxf"), &[]);
    assert_eq!(referred["panels"], direct["panels"]);
    assert_eq!(referred["posts"], direct["posts"]);
    assert!(referred["panels"].as_array().unwrap().len() > 5);
    assert_eq!(codes(&referred), ["external-read"]);
    let all = referred["findings"].as_array().unwrap();
    let note = all.iter().find(|f| f["code"] == "external-read").unwrap();
    assert_eq!(note["message"], "external reference `deck` is read from deck.dxf (R2000, mm)");
    assert!(note["place"]["handle"].is_string(), "the INSERT: {note}");
}

#[test]
fn a_reference_is_looked_for_beside_the_plan_and_where_the_user_says() {
    let folder = tempfile::tempdir().unwrap();
    let plan = folder.path().join("plan.dxf");
    fs::copy(fixture("xref").join("plan.dxf"), &plan).unwrap();
    let (_, ran) = layout(&plan, &[]);
    assert_eq!(ran.status, 3, "the deck edge is in the reference");
    let told = "incomplete[external-missing]: external reference `deck` (`C:\\jobs\\12\\deck.dwg`) is not read: no such \
                file lies beside the plan or in a folder below it";
    assert!(ran.err.contains(told), "{}", ran.err);
    assert!(ran.err.contains("hint: put the DXF file beside the plan"), "{}", ran.err);

    let (elsewhere, ran) = layout(&plan, &[&"--xref", &fixture("xref")]);
    assert_eq!((ran.status, codes(&elsewhere)), (0, vec!["external-read"]), "{}", ran.err);

    fs::create_dir_all(folder.path().join("12")).unwrap();
    fs::copy(fixture("xref").join("deck.dxf"), folder.path().join("12/DECK.DXF")).unwrap();
    let (below, ran) = layout(&plan, &[]);
    assert_eq!((ran.status, &below["panels"]), (0, &elsewhere["panels"]), "{}", ran.err);
    let seen = run(&[&"inspect", &plan]);
    assert!(seen.out.contains("deck|A-DECK-EDGE") && seen.err.contains("12/deck.dxf"), "{}{}", seen.out, seen.err);
    assert_eq!(run(&[&"check", &plan]).status, 0);
}

#[test]
fn layers_of_a_reference_are_named_with_and_without_it() {
    let plan = fixture("xref").join("plan.dxf");
    for pattern in ["edge=A-DECK-EDGE", "edge=deck|*edge", "edge=DECK|a-deck-edge"] {
        let (layout, ran) = layout(&plan, &[&"--layer", &pattern]);
        assert_eq!((ran.status, layout["panels"].is_array()), (0, true), "{pattern}: {}", ran.err);
    }
    assert_eq!(layout(&plan, &[&"--layer", &"edge=other|*"]).1.status, 3);
}

/// Sides in inches: 90 mm is 3.543307 in.
#[test]
fn the_size_of_a_post_comes_from_its_attribute() {
    let seen = run(&[&"inspect", &fixture("attribute-posts").join("plan.dxf"), &"--json"]);
    let seen: Value = serde_json::from_str(&seen.out).unwrap();
    let sides: Vec<f64> = seen["posts"].as_array().unwrap().iter().map(|p| p["side"].as_f64().unwrap()).collect();
    let expected = [5.0, 90.0 / 25.4, 4.0, 4.0];
    assert!(sides.len() == 4 && sides.iter().zip(expected).all(|(a, b)| (a - b).abs() < 1e-9), "{sides:?}");
    let said: Vec<(&str, &str)> = seen["findings"]
        .as_array()
        .unwrap()
        .iter()
        .filter(|f| f["code"] == "post-size")
        .map(|f| (f["severity"].as_str().unwrap(), f["message"].as_str().unwrap()))
        .collect();
    assert_eq!(said.len(), 2, "{said:?}");
    assert!(said[0].0 == "note" && said[0].1.contains("says that the post is 90mm wide, drawn it is 4 in"), "{said:?}");
    assert!(said[1].0 == "warning" && said[1].1.contains("`4x4` is not a length"), "{said:?}");
}

#[test]
fn the_structure_check_names_lines_and_handles() {
    for entry in fs::read_dir(fixture("")).unwrap() {
        let plan = entry.unwrap().path().join("plan.dxf");
        let ran = run(&[&"inspect", &"--lint", &plan]);
        assert_eq!(ran.err, "");
        // ezdxf, which made the fixtures, names a dimension style and a layer of viewports that it does not define, and
        // lets the layout own what an INSERT must.
        let known = ["$DIMSTYLE names DIMSTYLE ISO-25", "VIEWPORT uses LAYER VIEWPORTS", "ATTRIB has the wrong owner"];
        let others = ran.out.lines().filter(|l| !known.iter().any(|k| l.contains(k)));
        let others: Vec<&str> = others.filter(|l| !l.contains(" in the structure")).collect();
        assert!(others.is_empty(), "{others:?}");
    }
    let folder = tempfile::tempdir().unwrap();
    let broken = folder.path().join("broken.dxf");
    let text = fs::read_to_string(fixture("l-shape").join("plan.dxf")).unwrap();
    let (before, entity) = text.split_once("0\nLWPOLYLINE\n  5\n").unwrap();
    let (handle, rest) = entity.split_once('\n').unwrap();
    fs::write(&broken, format!("{before}0\nLWPOLYLINE\n  5\n1\n{rest}")).unwrap();
    let ran = run(&[&"inspect", &"--lint", &broken]);
    assert_eq!(ran.status, 1, "{handle} -> 1: {}", ran.out);
    let line = before.lines().count();
    let told = format!("broken.dxf:{line}: error: ");
    assert!(ran.out.lines().any(|l| l.contains(&told) && l.ends_with("(handle 1)")), "{told}: {}", ran.out);
    let json: Value = serde_json::from_str(&run(&[&"inspect", &"--lint", &"--json", &broken]).out).unwrap();
    let errors = json["errors"].as_array().unwrap();
    assert!(errors.iter().any(|e| e["line"] == line && e["handle"] == "1"), "{json}");
    assert_eq!(ran.out.lines().count(), errors.len() + 1);

    fs::write(&broken, "%PDF-1.7").unwrap();
    let ran = run(&[&"inspect", &"--lint", &broken]);
    assert!(ran.status == 3 && ran.err.contains("PDF"), "{}", ran.err);
}

#[cfg(not(feature = "dwg"))]
#[test]
fn a_dwg_is_told_apart_with_what_to_do() {
    let folder = tempfile::tempdir().unwrap();
    let plan = folder.path().join("plan.dwg");
    fs::write(&plan, b"AC1032\0\0\0\0\x01").unwrap();
    for command in ["layout", "inspect", "check"] {
        let ran = run(&[&command, &plan]);
        assert_eq!(ran.status, 3, "{}", ran.err);
        assert!(ran.err.contains("the file is a DWG (AC1032), not a DXF"), "{}", ran.err);
        assert!(
            ran.err.contains("save it as DXF") && ran.err.contains("--dwg-converter 'CMD {in} {out}'"),
            "{}",
            ran.err
        );
    }
}

#[cfg(unix)]
mod converter {
    use super::*;
    use std::os::unix::fs::PermissionsExt;

    /// A folder with a DWG (by its first bytes) and a converter that runs `body`, with the files as `$1` and `$2`.
    fn with(body: &str) -> (tempfile::TempDir, PathBuf, String) {
        let folder = tempfile::tempdir().unwrap();
        let tools = folder.path().join("my tools");
        fs::create_dir(&tools).unwrap();
        let (program, plan) = (tools.join("convert"), folder.path().join("plan.dwg"));
        fs::write(&program, format!("#!/bin/sh\n{body}\n")).unwrap();
        fs::set_permissions(&program, fs::Permissions::from_mode(0o755)).unwrap();
        fs::write(&plan, b"AC1032\0\0\0\0\x01").unwrap();
        let command = format!("'{}' {{in}} {{out}}", program.display());
        (folder, plan, command)
    }

    #[test]
    fn what_it_makes_is_read_and_said() {
        let plan_dxf = fixture("l-shape").join("plan.dxf");
        let (_folder, plan, command) =
            with(&format!("head -c 6 \"$1\" | grep -q AC1032 && cp '{}' \"$2\"", plan_dxf.display()));
        let (converted, ran) = layout(&plan, &[&"--dwg-converter", &command]);
        let (direct, _) = layout(&plan_dxf, &[]);
        assert_eq!((ran.status, &converted["panels"]), (0, &direct["panels"]), "{}", ran.err);
        assert_eq!(codes(&converted)[0], "dwg-converted");
        assert!(ran.err.contains("note[dwg-converted]: the plan is a DWG file (AC1032)"), "{}", ran.err);
        for command_ in ["inspect", "check"] {
            let ran = run(&[&command_, &plan, &"--dwg-converter", &command]);
            assert!(ran.status == 0 && ran.err.contains("dwg-converted"), "{}", ran.err);
        }
        // A DXF needs no converter.
        assert_eq!(layout(&plan_dxf, &[&"--dwg-converter", &"no-such-program {in} {out}"]).1.status, 0);
    }

    #[test]
    fn a_reference_is_converted_too() {
        let deck = fixture("xref").join("deck.dxf");
        let (folder, _, command) = with(&format!("cp '{}' \"$2\"", deck.display()));
        fs::rename(folder.path().join("plan.dwg"), folder.path().join("deck.dwg")).unwrap();
        let plan = folder.path().join("plan.dxf");
        fs::copy(fixture("xref").join("plan.dxf"), &plan).unwrap();
        let (layout, ran) = layout(&plan, &[&"--dwg-converter", &command]);
        assert_eq!((ran.status, codes(&layout)), (0, vec!["external-read"]), "{}", ran.err);
    }

    #[test]
    fn its_failures_are_told_with_what_it_says() {
        for (body, options, told) in [
            ("echo 'bad section 7' >&2; exit 4", vec![], "failed (exit status: 4); it says: bad section 7"),
            ("exit 0", vec![], "wrote nothing to {out}"),
            ("exec sleep 60", vec!["--dwg-timeout", "1"], "did not end within 1 seconds and was stopped"),
            // More than a pipe holds: a program that nobody reads would stand still.
            ("yes loud | head -c 300000 >&2; exit 5", vec![], "failed (exit status: 5)"),
        ] {
            let (_folder, plan, command) = with(body);
            let mut args: Vec<&dyn AsRef<std::ffi::OsStr>> = vec![&"--dwg-converter", &command];
            args.extend(options.iter().map(|o| o as &dyn AsRef<std::ffi::OsStr>));
            let (layout, ran) = layout(&plan, &args);
            assert!(ran.status == 2 && layout.is_null(), "{body}: {}", ran.err);
            assert!(ran.err.contains(told), "{body}: {}", ran.err);
        }
    }

    #[test]
    fn wrong_commands_are_told() {
        let (_folder, plan, _) = with("exit 0");
        for (command, told) in [
            ("no-such-program-here {in} {out}", "cannot run no-such-program-here"),
            ("cp {in}", "does not say {out}"),
            ("cp '{in} {out}", "a quote is not closed"),
            ("", "does not say {in}"),
        ] {
            let ran = run(&[&"check", &plan, &"--dwg-converter", &command]);
            assert!(ran.status == 2 && ran.err.contains(told), "{command}: {}", ran.err);
        }
    }
}

#[cfg(feature = "dwg")]
mod dwg {
    use super::*;
    use acadrust::types::DxfVersion;
    use acadrust::{DwgWriter, DxfReader};

    /// Fixtures saved as DWG of each version that has a unit give the layout of the DXF. R14 and R12 have none.
    #[test]
    fn a_dwg_gives_the_layout_of_the_dxf() {
        let folder = tempfile::tempdir().unwrap();
        for name in ["lakeside", "l-shape", "drawn-posts", "nested-blocks", "opening", "metric", "curved"] {
            let dxf = fixture(name).join("plan.dxf");
            let (direct, _) = layout(&dxf, &[]);
            for version in [DxfVersion::AC1015, DxfVersion::AC1018, DxfVersion::AC1024, DxfVersion::AC1032] {
                let mut document = DxfReader::from_file(&dxf).unwrap().read().unwrap();
                document.version = version;
                let dwg = folder.path().join("plan.dwg");
                fs::write(&dwg, DwgWriter::write_to_vec(&document).unwrap()).unwrap();
                let (read, ran) = layout(&dwg, &[]);
                assert_eq!(read["panels"], direct["panels"], "{name} {version:?}: {}", ran.err);
                assert_eq!(read["posts"], direct["posts"], "{name} {version:?}");
                assert_eq!(codes(&read)[0], "dwg-converted");
            }
        }
    }

    #[test]
    fn damaged_files_are_refused() {
        let folder = tempfile::tempdir().unwrap();
        let dwg = folder.path().join("plan.dwg");
        for version in [DxfVersion::AC1015, DxfVersion::AC1018, DxfVersion::AC1032] {
            let mut document = DxfReader::from_file(fixture("l-shape").join("plan.dxf")).unwrap().read().unwrap();
            document.version = version;
            let good = DwgWriter::write_to_vec(&document).unwrap();
            for length in [6, 11, 128, 1000, good.len() / 2, good.len() - 300] {
                fs::write(&dwg, &good[..length]).unwrap();
                let ran = run(&[&"check", &dwg]);
                let told = ran.status == 3 && ran.err.contains("error[not-readable]");
                assert!(told, "{version:?}, {length} bytes: {} {}", ran.status, ran.err);
            }
        }
    }
}
