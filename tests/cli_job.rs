//! Job files and job options as a user gives them: what each key does, what wins, and what is said of wrong ones.

use std::fs;
use std::path::Path;

use serde_json::Value;

use crate::drawn::{Insunits, edge, polylines};
use crate::program::{Ran, arg, expect, folder, plan, root, run, run_in, same};

/// A job file with every key that there is.
const JOB: &str = r#"
system = "mine.toml"
rules = "house.toml"
units = "in"
inset = "3in"
bays = "equal"
balusters = "even"
mark = "1/8in"
longest-panel = "6ft"
join = "1/4in"
snap = "4in"
touch = "1in"
tolerance = "1/64in"
inside = "left"
ends = "free"

[layers]
edge = ["OUTER*"]
wall = ["HOUSE"]
opening = ["GAP"]
post = ["PO?T"]
stair = ["STEPS"]

[project]
name = "Deck at the pond"
address = "1 Example Lane"
client = "A. Sample"
drawn-by = "B. Sample"
date = "2001-02-03"
"#;

/// A folder with that job, its rail system and rule set, and an open straight edge of 160 in that has no unit.
fn job_folder() -> tempfile::TempDir {
    let home = folder();
    let show = |what: &str, name: &str| run(&["list", what, "--show", name]).out;
    let system = show("systems", "composite-36").replace("name = \"composite-36\"", "name = \"mine\"");
    let rules = show("rules", "irc-2021").replace("name = \"irc-2021\"", "name = \"house\"");
    let mut outer = edge(&[[0.0, 0.0], [160.0, 0.0]], false);
    outer.layer = "OUTER-EDGE";
    for (name, text) in [
        ("job.toml", JOB.to_owned()),
        ("mine.toml", system),
        ("house.toml", rules),
        ("plan.dxf", polylines(&[outer], Insunits::None)),
    ] {
        fs::write(home.path().join(name), text).unwrap();
    }
    home
}

fn layout(home: &Path, options: &[&str]) -> (Ran, Value) {
    let out = home.join("out");
    let mut args = vec!["layout".to_owned(), arg(home.join("plan.dxf")), "--out".to_owned(), arg(&out)];
    args.extend(["--job".to_owned(), arg(home.join("job.toml"))]);
    // The plan is too bare to take rail layers.
    args.extend(["--formats".to_owned(), "dxf,svg,csv,json".to_owned()]);
    args.extend(options.iter().map(|o| (*o).to_owned()));
    // From another folder: files named in a job lie beside it.
    let ran = run(&args);
    let bytes = fs::read(out.join("layout.json")).unwrap_or_else(|_| b"null".to_vec());
    (ran, serde_json::from_slice(&bytes).unwrap())
}

/// 160 in between end posts of 4-1/2 in: 151 clear, 3 bays of (151 - 2·4.5)/3 = 47.333 under the job's 72 in; without the
/// job's limit 2 bays of 73.25. The rail line lies 3 in to the left of an edge drawn to the right.
#[test]
fn every_key_of_a_job_file_counts() {
    let home = job_folder();
    let (ran, layout) = layout(home.path(), &[]);
    assert!(ran.is_good(), "{}", ran.err);
    assert_eq!((&layout["system"], &layout["rules"]), (&Value::from("mine"), &Value::from("house")));
    assert_eq!((&layout["mark"], &layout["tolerance"]), (&Value::from(0.125), &Value::from(0.015_625)));
    assert_eq!(layout["plan"]["drawing_units"], "in");
    let panels = layout["panels"].as_array().unwrap();
    assert_eq!(panels.len(), 3);
    for panel in panels {
        assert!((panel["span"].as_f64().unwrap() - 142.0 / 3.0).abs() < 1e-6, "{panel}");
        assert_eq!(panel["balusters"]["style"], "even");
        assert_eq!(panel["left"]["y"], 3.0);
    }
    assert_eq!(layout["posts"][0]["y"], 3.0);
}

#[test]
fn the_command_line_wins_over_the_job_file() {
    let home = job_folder();
    let options = [
        "--system",
        "metal-42",
        "--rules",
        "irc-2021",
        "--units",
        "ft",
        "--inset",
        "6in",
        "--balusters",
        "punched",
        "--mark",
        "1/32in",
        "--longest-panel",
        "7ft",
        "--layer",
        "edge=*EDGE",
        "--bays",
        "equal",
    ];
    let (ran, layout) = layout(home.path(), &options);
    assert!(ran.is_good(), "{}", ran.err);
    assert_eq!((&layout["system"], &layout["rules"]), (&Value::from("metal-42"), &Value::from("irc-2021")));
    assert_eq!((&layout["mark"], &layout["plan"]["drawing_units"]), (&Value::from(0.031_25), &Value::from("ft")));
    // 160 ft between end posts of 2-1/2 in: 1915 clear; 23 bays of (1915 - 22·2.5)/23 = 80.87, as 22 would be 84.66.
    let panels = layout["panels"].as_array().unwrap();
    assert_eq!(panels.len(), 23);
    let span = |p: &Value| (p["span"].as_f64().unwrap() - 1860.0 / 23.0).abs() < 1e-6;
    assert!(panels.iter().all(|p| span(p) && p["balusters"]["style"] == "punched"));
    assert_eq!(layout["posts"][0]["y"], 0.5);
}

#[test]
fn the_project_stands_in_no_file_unless_it_is_given() {
    let home = job_folder();
    layout(home.path(), &[]);
    let with = fs::read_to_string(home.path().join("out/layout.dxf")).unwrap();
    let job = JOB.split("[project]").next().unwrap();
    fs::write(home.path().join("job.toml"), job).unwrap();
    layout(home.path(), &[]);
    let without = fs::read_to_string(home.path().join("out/layout.dxf")).unwrap();
    for text in ["Deck at the pond", "1 Example Lane", "2001-02-03"] {
        assert!(with.contains(text), "{text}");
        assert!(!without.contains(text), "{text}");
    }
}

/// Wrong job files: file, line, column and the line itself.
#[test]
fn wrong_job_files_are_refused() {
    let home = folder();
    let plan = arg(root().join(plan("corner-135")));
    let said = |text: &str| {
        fs::write(home.path().join("job.toml"), text).unwrap();
        let ran = run_in(home.path(), &["layout", &plan, "--job", "job.toml", "--out", "out"], b"");
        assert_eq!((ran.status, ran.out.as_str()), (2, ""), "{text}");
        assert!(!home.path().join("out").exists());
        ran.err
    };
    let unknown = said("inset = \"3in\"\ninsett = \"4in\"\n");
    assert!(
        unknown.starts_with("error: job.toml: TOML parse error at line 2, column 1\n")
            && unknown.contains("2 | insett = \"4in\"")
            && unknown.contains("unknown field `insett`, expected one of `system`, `rules`"),
        "{unknown}"
    );
    let bare = said("inset = 3\n");
    assert!(bare.contains("line 1, column 9") && bare.contains("a length in quotes with its unit"), "{bare}");
    let no_unit = said("inset = \"3\"\n");
    assert!(no_unit.contains("`3` is not a length: it has no unit"), "{no_unit}");
    same(&said("inset = \"-3in\"\n"), "error: inset is negative\n");
    same(&said("units = \"mi\"\n"), "error: units: there is no unit `mi`\n  hint: write in, ft, mm, cm or m\n");
    assert!(said("[layers]\nroof = [\"A\"]\n").contains("unknown field `roof`"));
    assert!(said("inset = \"3in\n").contains("line 1"));
    fs::write(home.path().join("job.toml"), b"name = \"\xff\"").unwrap();
    let ran = run_in(home.path(), &["layout", &plan, "--job", "job.toml"], b"");
    assert_eq!((ran.status, ran.err.as_str()), (2, "error: job.toml is not UTF-8 text\n"));
    let ran = run_in(home.path(), &["layout", &plan, "--job", "none.toml"], b"");
    assert_eq!(ran.status, 2);
    assert!(ran.err.starts_with("error: cannot read none.toml: "), "{}", ran.err);
}

/// Each wrong option with everything that is said of it. Nothing is written.
#[test]
fn wrong_options_are_refused() {
    for (options, err) in [
        (
            &["--system", "nope"][..],
            "error: there is no rail system named `nope`\n  hint: built in: composite-36, metal-42, cable-36, frame-42; a file's name must end in .toml\n",
        ),
        (
            &["--rules", "nope"],
            "error: there is no rule set named `nope`\n  hint: built in: irc-2021, irc-2018, irc-2024, ibc-2018, ibc-2021, \
             california-residential, ada-2010, osha-1910, canada-nbc, england-k, australia-ncc, newzealand-f4, \
             france-nf-p01-012; a file's name must end in .toml\n",
        ),
        (&["--units", "mi"], "error: units: there is no unit `mi`\n  hint: write in, ft, mm, cm or m\n"),
        (&["--layer", "edge"], "error: --layer edge: write ROLE=PATTERN, for example edge=A-DECK*\n"),
        (&["--layer", "edge="], "error: --layer edge=: write ROLE=PATTERN, for example edge=A-DECK*\n"),
        (
            &["--layer", "roof=A*"],
            "error: --layer roof=A*: there is no role `roof`; roles are edge, wall, opening, post, stair, keep-out and joist\n",
        ),
        (&["--inset", "-1in"], "error: inset is negative\n"),
        (&["--mark", "0in"], "error: mark: 0in is no shop mark\n  hint: write for example 1/16in or 1mm\n"),
        (
            &["--longest-panel", "9ft"],
            "error: longest-panel: 108in is not between the shortest (8in) and the longest (84in) panel of composite-36\n",
        ),
    ] {
        let out = folder();
        let out_arg = arg(out.path().join("out"));
        let plan = plan("corner-135");
        let mut args = vec!["layout", plan.as_str(), "--out", out_arg.as_str()];
        args.extend(options);
        expect(&args, 2, "", err);
        assert!(!out.path().join("out").exists());
    }
}

/// Wrong values that the argument parser refuses: it names option, value and what to write.
#[test]
fn wrong_values_name_what_to_write() {
    for (option, value, says) in [
        ("--inset", "3 miles", "something follows the length"),
        ("--inset", "1e300", "is not a length"),
        ("--mark", "coarse", "a number is missing"),
        ("--bays", "random", "write equal"),
        ("--balusters", "many", "write centred, even or punched"),
        ("--dxf-version", "R9", "write R12, R2000, R2004, R2007, R2010, R2013, R2018"),
    ] {
        let ran = run(&["layout", &plan("corner-135"), option, value]);
        assert_eq!((ran.status, ran.out.as_str()), (2, ""), "{option}");
        let head = format!("error: invalid value '{value}' for '{option} <");
        assert!(ran.err.starts_with(&head) && ran.err.contains(says), "{}", ran.err);
    }
}

/// A rail system file with a figure that makes no panel: said with file, and nothing is written.
#[test]
fn wrong_system_files_are_refused() {
    let home = folder();
    let text = run(&["list", "systems", "--show", "composite-36"]).out;
    for (from, to, says) in [
        ("spacing = \"5in\"", "spacing = \"1/2in\"", "baluster spacing is on-centre"),
        ("height = \"36in\"", "height = \"0in\"", "height must be more than nothing"),
        ("shortest-panel = \"8in\"", "shortest-panel = \"9ft\"", "shortest-panel is longer than longest-panel"),
        ("side = \"4-1/2in\"", "side = \"five\"", "a number is missing"),
        ("price = 128.00", "price = 0.00", "`Level set 5 ft` has the price 0; leave its price out"),
        ("title = ", "titel = ", "titel"),
    ] {
        let changed = text.replacen(from, to, 1);
        assert_ne!(changed, text, "{from}");
        fs::write(home.path().join("mine.toml"), changed).unwrap();
        let ran = run_in(home.path(), &["panel", "80in", "--system", "mine.toml"], b"");
        assert_eq!((ran.status, ran.out.as_str()), (2, ""), "{to}");
        assert!(ran.err.starts_with("error: mine.toml: ") && ran.err.contains(says), "{}", ran.err);
    }
}

/// `--units` on a drawing that says another unit: it is followed, and said.
#[test]
fn units_that_contradict_the_drawing_are_said() {
    let out = folder();
    let ran = run(&["layout", &plan("corner-135"), "--units", "cm", "--out", &arg(out.path())]);
    assert!(ran.err.contains(
        "warning[units-doubtful]: the drawing says that its unit is in, --units says cm; --units is followed"
    ));
    assert_eq!(ran.status, 0);
}
