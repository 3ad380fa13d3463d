//! Against the outside world: ezdxf and GDAL read back what we write, shapely measures the rail lines and spans of 200
//! random decks and the rail lines of 1000 outlines that no sane deck has, numpy computes 250 raked panels anew, an outside
//! validator checks the JSON. Their virtual environment is made under target/, pinned; a check that cannot run fails.

use std::collections::BTreeMap;
use std::fs;
use std::path::{Path, PathBuf};
use std::process::{Command, Output};
use std::sync::OnceLock;

use plumbrail::catalog::{Job, Settings, rules_named, system_named};
use plumbrail::sheet::{self, Layer, Shape};
use plumbrail::{lay_out, write};

pub fn root() -> &'static Path {
    Path::new(env!("CARGO_MANIFEST_DIR"))
}

/// A fresh folder below target/ for one check.
pub fn scratch(name: &str) -> PathBuf {
    let folder = root().join("target/interop").join(name);
    if folder.exists() {
        fs::remove_dir_all(&folder).unwrap();
    }
    fs::create_dir_all(&folder).unwrap();
    folder
}

/// The Python of the pinned environment; made once, and again when the pins change.
fn python() -> &'static Path {
    static PYTHON: OnceLock<PathBuf> = OnceLock::new();
    PYTHON.get_or_init(|| {
        let venv = root().join("target/venv");
        let pins = root().join("tests/interop/requirements.txt");
        let stamp = venv.join("pins.txt");
        let python = venv.join("bin/python");
        let wanted = fs::read(&pins).unwrap();
        if fs::read(&stamp).ok() != Some(wanted.clone()) {
            ok(Command::new("python3").args(["-m", "venv", "--clear"]).arg(&venv));
            ok(Command::new(&python)
                .args(["-m", "pip", "install", "--quiet", "--disable-pip-version-check", "-r"])
                .arg(&pins));
            fs::write(&stamp, wanted).unwrap();
        }
        python
    })
}

pub fn ok(command: &mut Command) -> Output {
    let output = command.output().unwrap_or_else(|e| panic!("{command:?} cannot run: {e}"));
    assert!(
        output.status.success(),
        "{command:?} failed with {}\n{}{}",
        output.status,
        String::from_utf8_lossy(&output.stdout),
        String::from_utf8_lossy(&output.stderr)
    );
    output
}

/// Runs one of the check scripts; its last line must say what it counted.
pub fn script(name: &str, args: &[&dyn AsRef<std::ffi::OsStr>]) -> String {
    let mut command = Command::new(python());
    command.arg(root().join("tests/interop").join(name)).args(args.iter().map(|a| a.as_ref()));
    let text = String::from_utf8(ok(&mut command).stdout).unwrap();
    let last = text.lines().last().unwrap_or_default().to_owned();
    assert!(last.starts_with("OK "), "{name} ended with {last:?}");
    last
}

pub fn settings(units: Option<&str>) -> Settings {
    let job = Job { units: units.map(str::to_owned), ..Job::default() };
    Settings::new(job, system_named("composite-36").unwrap(), rules_named("irc-2021").unwrap()).unwrap()
}

/// Fixtures with a plan that can be laid out, and the unit they need to be told.
pub const USABLE: [(&str, Option<&str>); 23] = [
    ("attribute-posts", None),
    ("binary", None),
    ("circle", None),
    ("corner-135", None),
    ("curved", None),
    ("double-wall", None),
    ("drawn-posts", None),
    ("far-away", None),
    ("hot-tub", None),
    ("l-shape", None),
    ("lakeside", None),
    ("loose-lines", None),
    ("metric", None),
    ("neck", None),
    ("nested-blocks", None),
    ("opening", None),
    ("r12", Some("in")),
    ("rounded", None),
    ("spline", None),
    ("touching-boxes", None),
    ("unitless", Some("in")),
    ("wall-to-wall", None),
    ("z-open", None),
];

/// What each layer of a written drawing must hold, by DXF kind.
type Counts = BTreeMap<&'static str, BTreeMap<&'static str, usize>>;

fn counts(set: &sheet::Set, r12: bool) -> Counts {
    let mut counts = Counts::new();
    for (drawing, _) in set.arrangement() {
        for item in &drawing.items {
            let (kind, number) = match &item.shape {
                Shape::Line(..) => ("LINE", 1),
                // A filled path is written as triangles, a filled triangle or quadrangle as one solid.
                Shape::Path { points, filled: true, .. } => {
                    ("SOLID", points.len().saturating_sub(2).max(1) - usize::from(points.len() == 4))
                }
                Shape::Path { .. } if r12 => ("POLYLINE", 1),
                Shape::Path { .. } => ("LWPOLYLINE", 1),
                Shape::Circle { .. } => ("CIRCLE", 1),
                Shape::Arc { .. } => ("ARC", 1),
                Shape::Text(_) => ("TEXT", 1),
                Shape::Paragraph(lines) if r12 => ("TEXT", lines.len()),
                Shape::Paragraph(_) => ("MTEXT", 1),
                Shape::Dimension(_) => ("DIMENSION", 1),
                Shape::Post(_) | Shape::Tag(_) => ("INSERT", 1),
            };
            *counts.entry(Layer::name(item.layer)).or_default().entry(kind).or_default() += number;
        }
    }
    counts
}

#[test]
fn layout_dxf_passes_audit_and_is_counted_back_by_ezdxf_and_gdal() {
    let folder = scratch("audit");
    let mut versions = vec![("lakeside", None, write::dxf::VERSIONS.to_vec())];
    versions.extend(
        USABLE.iter().filter(|(f, _)| *f != "lakeside").map(|(f, u)| (*f, *u, vec![plumbrail::cad::Version::R2000])),
    );
    for (fixture, units, versions) in versions {
        let plan = fs::read(root().join("fixtures").join(fixture).join("plan.dxf")).unwrap();
        let outcome = lay_out(&plan, "plan.dxf", &settings(units)).unwrap();
        let set = sheet::compose(&outcome.plan, &outcome.layout, &outcome.findings);
        let placed: Vec<_> =
            set.arrangement().into_iter().map(|(drawing, at)| write::dxf::Placed { drawing, at }).collect();
        for version in versions {
            let options = write::dxf::DxfOptions { version, ..write::dxf::DxfOptions::default() };
            let bytes = write::dxf::document(&placed, &[], &outcome.layout.plan.frame, &options);
            let errors = write::lint::lint(&bytes);
            assert!(errors.is_empty(), "{fixture} {}: {errors:?}", version.name());
            let file = folder.join(format!("{fixture}-{}.dxf", version.name()));
            fs::write(&file, bytes).unwrap();
            let expected = file.with_extension("json");
            let r12 = version == plumbrail::cad::Version::R12;
            fs::write(&expected, serde_json::to_vec(&counts(&set, r12)).unwrap()).unwrap();
            script("audit_dxf.py", &[&"--expect", &expected, &file]);
        }
    }
}

#[test]
fn rail_lines_and_spans_of_random_decks_agree_with_shapely() {
    let folder = scratch("decks");
    script("random_decks.py", &[&"--make", &folder, &"--count", &"200", &"--seed", &"7"]);
    let last = script("random_decks.py", &[&"--check", &folder, &"--program", &env!("CARGO_BIN_EXE_plumbrail")]);
    assert!(last.contains("200 decks"), "{last}");
}

/// No exit status 0 with an open edge, a rail in the air or a mouth blocked; and no refusal by fear.
#[test]
fn random_plans_in_sixteen_drawing_styles_earn_their_yes() {
    let folder = scratch("styles");
    script("drawing_styles.py", &[&"--make", &folder]);
    let last = script("drawing_styles.py", &[&"--check", &folder, &"--program", &env!("CARGO_BIN_EXE_plumbrail")]);
    assert!(last.starts_with("OK 500 plans"), "{last}");
}

#[test]
fn rail_lines_of_random_outlines_agree_with_shapely() {
    let folder = scratch("outlines");
    script("random_outlines.py", &[&"--make", &folder, &"--count", &"1000", &"--seed", &"7"]);
    let last = script("random_outlines.py", &[&"--check", &folder, &"--program", &env!("CARGO_BIN_EXE_plumbrail")]);
    assert!(last.contains("1000 outlines"), "{last}");
}

#[test]
fn raked_panels_agree_with_numpy_and_shapely() {
    let last =
        script("raked.py", &[&"--program", &env!("CARGO_BIN_EXE_plumbrail"), &"--count", &"250", &"--seed", &"7"]);
    assert!(last.contains("250 raked panels"), "{last}");
}

/// The example draws on the plan with the rails in it, and leaves the rails as they are.
#[test]
fn the_python_example_draws_on_the_result() {
    let folder = scratch("callouts");
    let example = root().join("examples/python/callouts.py");
    let plan = |case: &str| root().join("fixtures").join(case).join("plan.dxf");
    let plans = ["lakeside", "metric", "corner-135", "wall-to-wall"].map(plan);
    let [a, b, c, d] = &plans;
    let last = script("callouts.py", &[&example, &folder, &"--program", &env!("CARGO_BIN_EXE_plumbrail"), a, b, c, d]);
    assert!(last.ends_with("wide panels of 4 plans"), "{last}");
}

#[test]
fn the_workbook_holds_the_lists() {
    let folder = scratch("schedule");
    let plan = root().join("fixtures/lakeside/plan.dxf");
    ok(Command::new(env!("CARGO_BIN_EXE_plumbrail"))
        .args(["layout".as_ref(), plan.as_os_str(), "--formats=csv,xlsx".as_ref(), "--out".as_ref()])
        .arg(&folder));
    let last = script("check_schedule.py", &[&folder]);
    assert!(last.contains(" numbers"), "{last}");
}

#[test]
fn json_and_toml_files_keep_to_their_schemas() {
    let folder = scratch("schema");
    let mut files = Vec::new();
    for (fixture, units) in USABLE {
        let plan = fs::read(root().join("fixtures").join(fixture).join("plan.dxf")).unwrap();
        let outcome = lay_out(&plan, "plan.dxf", &settings(units)).unwrap();
        let file = folder.join(format!("{fixture}.json"));
        fs::write(&file, write::json::layout(&outcome.layout, &outcome.findings, &outcome.proof)).unwrap();
        files.push(file);
    }
    let check = |schema: &str, files: &[PathBuf]| {
        let schema = root().join("schemas").join(schema);
        let mut args: Vec<&dyn AsRef<std::ffi::OsStr>> = vec![&schema];
        args.extend(files.iter().map(|f| f as &dyn AsRef<std::ffi::OsStr>));
        script("check_schema.py", &args);
    };
    check("layout.schema.json", &files);
    let below = |path: &str| -> Vec<PathBuf> {
        let all = fs::read_dir(root().join(path)).unwrap().map(|e| e.unwrap().path());
        let mut files: Vec<PathBuf> = all.filter(|f| f.extension().is_some_and(|e| e == "toml")).collect();
        files.sort();
        files
    };
    check("message.schema.json", &crate::calling::samples(&folder));
    check("rail-system.schema.json", &below("src/catalog/systems"));
    check("rule-set.schema.json", &below("src/catalog/rules"));
}

#[test]
fn fixtures_are_those_of_their_script() {
    let folder = scratch("fixtures");
    script("make_fixtures.py", &[&folder]);
    let mut compared = 0;
    for entry in fs::read_dir(&folder).unwrap() {
        let name = entry.unwrap().file_name();
        for file in fs::read_dir(folder.join(&name)).unwrap() {
            let made = file.unwrap().path();
            let kept = root().join("fixtures").join(&name).join(made.file_name().unwrap());
            assert!(
                fs::read(&made).unwrap() == fs::read(&kept).unwrap(),
                "{}: run tests/interop/make_fixtures.py fixtures",
                kept.display()
            );
            compared += usize::from(made.ends_with("plan.dxf"));
        }
    }
    assert!(compared >= 25, "only {compared} fixtures");
}
