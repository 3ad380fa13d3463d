//! The commands `layout`, `inspect`, `check`, `list` and `completions` as a user calls them: standard output, standard
//! error (notes excepted, which are many), exit status and files.

use std::fs;
use std::path::Path;

use serde_json::Value;

use crate::calling::json_lines;
use crate::golden::options;
use crate::program::{Ran, arg, expect, files, fixtures, folder, names, plan, root, run, run_in, same, same_as_file};

/// What a command said, with the output folder's name left out.
fn command_and_output(args: &[String], out: &str) -> String {
    let ran = run(args);
    let hide = |text: &str| text.replace(out, "OUT");
    let said = ran.errors_and_warnings();
    format!("$ plumbrail {}\n{}{}exit status {}\n", hide(&args.join(" ")), hide(&said), hide(&ran.out), ran.status)
}

/// Each fixture without options and, where it needs some, with them.
#[test]
fn layout_of_every_fixture() {
    for case in fixtures() {
        let out = folder();
        let out = arg(out.path());
        let plain = ["layout".to_owned(), plan(&case), "--out".to_owned(), out.clone()].to_vec();
        let mut text = command_and_output(&plain, &out);
        if !options(&case).is_empty() {
            let more = options(&case).iter().map(|o| (*o).to_owned());
            text.push_str(&command_and_output(&plain.into_iter().chain(more).collect::<Vec<_>>(), &out));
        }
        same_as_file(&text, &case, "run.txt");
    }
}

#[test]
fn layout_writes_the_formats_that_are_named() {
    let all = [
        "cuts.csv",
        "elevations.dxf",
        "hardware.csv",
        "layout.dxf",
        "layout.json",
        "marks.csv",
        "measure.csv",
        "order.csv",
        "panels/S1.svg",
        "panels/S2.svg",
        "plan.svg",
        "sheets.dxf",
    ]
    .map(str::to_owned)
    .into_iter()
    .chain((1..=6).map(|n| format!("sheets/R{n}.svg")))
    .collect::<Vec<String>>();
    let svg: Vec<String> = all.iter().filter(|n| n.ends_with(".svg")).cloned().collect();
    let few = |names: &[&str]| names.iter().map(|n| (*n).to_owned()).collect::<Vec<String>>();
    for (formats, expected) in [
        ("dxf,svg,csv,json", all),
        ("json", few(&["layout.json"])),
        ("csv", few(&["cuts.csv", "hardware.csv", "marks.csv", "measure.csv", "order.csv"])),
        ("svg", svg),
        ("html", few(&["report.html"])),
        ("pdf", few(&["sheets.pdf", "templates.pdf"])),
        ("json,dxf", few(&["elevations.dxf", "layout.dxf", "layout.json", "sheets.dxf"])),
    ] {
        let out = folder();
        let out_arg = arg(out.path());
        let ran = run(&["layout", &plan("corner-135"), "--out", &out_arg, "--formats", formats]);
        assert_eq!(ran.status, 0, "{}", ran.err);
        assert_eq!(names(out.path()), expected, "{formats}");
        let plural = if expected.len() == 1 { "" } else { "s" };
        let said = format!("{} file{plural} written to {out_arg}; complete\n", expected.len());
        assert!(ran.out.ends_with(&said), "{}", ran.out);
    }
}

#[cfg(feature = "png")]
#[test]
fn layout_writes_sheets_as_png() {
    let out = folder();
    let ran = run(&["layout", &plan("corner-135"), "--out", &arg(out.path()), "--formats", "png"]);
    assert_eq!(ran.status, 0, "{}", ran.err);
    let sheets: Vec<String> = (1..=6).map(|n| format!("sheets/R{n}.png")).collect();
    assert_eq!(names(out.path()), sheets);
    assert!(fs::read(out.path().join("sheets/R1.png")).unwrap().starts_with(b"\x89PNG"));
}

#[cfg(not(feature = "png"))]
#[test]
fn a_build_without_pictures_says_how_to_get_one_that_has_them() {
    let out = folder();
    let ran = run(&["layout", &plan("corner-135"), "--out", &arg(out.path()), "--formats", "png,json"]);
    assert_eq!(ran.status, 2);
    same(
        &ran.err,
        "error: --formats png: this build draws no pictures; build one that does with `cargo build --release --features \
         png`, or leave png out\n",
    );
    assert!(names(out.path()).is_empty());
}

#[test]
fn layout_writes_beside_the_plan_by_default() {
    let home = folder();
    fs::copy(root().join(plan("corner-135")), home.path().join("Lake deck.dxf")).unwrap();
    let ran = run_in(home.path(), &["layout", "Lake deck.dxf"], b"");
    assert_eq!(ran.status, 0);
    assert!(ran.out.ends_with("23 files written to Lake deck-rail; complete\n"), "{}", ran.out);
    let found = names(home.path());
    assert_eq!(found.len(), 24);
    assert!(found.iter().all(|n| n == "Lake deck.dxf" || n.starts_with("Lake deck-rail/")), "{found:?}");
}

#[test]
fn layout_reads_standard_input() {
    let home = folder();
    let bytes = fs::read(root().join(plan("corner-135"))).unwrap();
    let ran = run_in(home.path(), &["layout", "-"], &bytes);
    assert!(ran.is_good(), "{}", ran.err);
    assert!(ran.out.ends_with("23 files written to plan-rail; complete\n"), "{}", ran.out);
    fs::write(home.path().join("plan.dxf"), &bytes).unwrap();
    let by_name = folder();
    let ran = run_in(home.path(), &["layout", "plan.dxf", "--out", &arg(by_name.path())], b"");
    assert_eq!(ran.status, 0);
    assert_eq!(files(&home.path().join("plan-rail")), files(by_name.path()));
    let ran = run_in(home.path(), &["layout", "-"], b"");
    assert_eq!(ran.status, 3);
    same(&ran.err, "-: error[not-readable]: the file is empty\n  hint: give a DXF drawing\n");
}

/// The same plan gives the same bytes in every file, from whatever folder, twice into the same folder, too.
#[test]
fn the_same_input_gives_the_same_bytes() {
    for case in ["lakeside", "metric"] {
        let (here, there) = (folder(), folder());
        run(&["layout", &plan(case), "--out", &arg(here.path())]);
        let copy = there.path().join("plan.dxf");
        fs::copy(root().join(plan(case)), &copy).unwrap();
        run_in(there.path(), &["layout", "plan.dxf"], b"");
        let first = files(here.path());
        assert!(first.len() > 10);
        assert_eq!(first, files(&there.path().join("plan-rail")), "{case}");
        run(&["layout", &plan(case), "--out", &arg(here.path())]);
        assert_eq!(first, files(here.path()), "{case}");
    }
}

/// `--message-format json`: nothing on standard output, a JSON object a line on standard error, the summary last.
#[test]
fn messages_as_json() {
    let out = folder();
    // The arms of the L are narrower than twice this inset.
    let wide = ["--inset", "61in", "--message-format", "json"];
    let ran = run(&[&["layout", &plan("l-shape"), "--out", &arg(out.path())][..], &wide].concat());
    assert_eq!((ran.status, ran.out.as_str()), (1, ""));
    let lines = json_lines(&ran);
    assert_eq!(lines[0]["code"], "rail-line-fails");
    assert_eq!(lines[0]["severity"], "incomplete");
    assert_eq!(lines[0]["file"], plan("l-shape"));
    assert_eq!(lines[0]["line"], 1793);
    assert_eq!(lines[0]["layer"], "A-DECK-EDGE");
    assert_eq!(lines[0]["x"], 60.0);
    let written: Value = serde_json::from_slice(&fs::read(out.path().join("layout.json")).unwrap()).unwrap();
    assert_eq!(written["findings"].as_array().unwrap().len() + 1, lines.len());

    let refused = json_lines(&run(&["layout", &plan("unitless"), "--message-format", "json"]));
    assert_eq!(refused.len(), 1);
    assert_eq!(refused[0]["code"], "units-missing");
    let wrong = json_lines(&run(&["layout", "no.dxf", "--message-format", "json"]));
    assert_eq!(wrong.len(), 1);
    assert_eq!(wrong[0]["severity"], "error");
}

#[test]
fn inspect_shows_what_is_taken_for_what() {
    for (case, status) in [("lakeside", 0), ("drawn-posts", 0), ("unitless", 3), ("wrong-layers", 3)] {
        let args = ["inspect".to_owned(), plan(case)];
        let text = command_and_output(&args, "\0");
        assert!(text.ends_with(&format!("exit status {status}\n")), "{text}");
        same_as_file(&text, case, "inspect.txt");
    }
    let ran = run(&["inspect", &plan("corner-135"), "--json"]);
    assert_eq!(ran.status, 0);
    let seen: Value = serde_json::from_str(&ran.out).unwrap();
    assert_eq!((&seen["version"], &seen["units"]), (&Value::from("AC1015"), &Value::from("in")));
    assert_eq!(seen["edges"], serde_json::json!([{ "closed": false, "edges": 2 }]));
    let edge = seen["layers"].as_array().unwrap().iter().find(|l| l["name"] == "A-DECK-EDGE").unwrap();
    assert_eq!((&edge["taken_for"], &edge["why"]), (&Value::from("edge"), &Value::from("the words DECK and EDGE")));
    assert_eq!(edge["records"], serde_json::json!({ "LWPOLYLINE": 1 }));
}

#[test]
fn inspect_follows_the_job_s_layers() {
    let ran = run(&["inspect", &plan("wrong-layers"), "--layer", "edge=out*", "--layer", "wall=BUILD?NG"]);
    assert_eq!(ran.status, 0, "{}", ran.err);
    for line in ["OUTLINE    edge       the job's pattern out*", "BUILDING   wall       the job's pattern BUILD?NG"] {
        assert!(ran.out.lines().any(|l| l.trim_start().starts_with(line)), "{line} in\n{}", ran.out);
    }
}

#[test]
fn check_of_a_plan_writes_nothing() {
    let home = folder();
    fs::copy(root().join(plan("l-shape")), home.path().join("plan.dxf")).unwrap();
    let ran = run_in(home.path(), &["check", "plan.dxf", "--inset", "61in"], b"");
    assert_eq!(ran.status, 1);
    same(
        &ran.errors_and_warnings(),
        "plan.dxf:1793: incomplete[rail-line-fails]: an edge is too short for the inset here, so no rail line can be laid \
         along this run at the inset; 1 check fails with it (handle 30, layer A-DECK-EDGE, at 60, 179)\n  hint: use a smaller --inset, or leave \
         the place out with an opening\n\
         plan.dxf: incomplete: an edge is too short for the inset here, so no rail line can be laid along this run at the \
         inset; 1 check fails with it (handle 30, layer A-DECK-EDGE, at 60, 179)\n",
    );
    assert!(ran.out.starts_with("plan.dxf: ") && ran.out.contains(" 1 failed"), "{}", ran.out);
    assert_eq!(names(home.path()), ["plan.dxf"]);
}

/// Lays the fixture out and gives its `layout.json`, changed by `edit`, to `check`.
fn check_edited(case: &str, edit: impl Fn(&mut Value)) -> Ran {
    let home = folder();
    let ran = run(&["layout", &plan(case), "--out", &arg(home.path()), "--formats", "json"]);
    assert_eq!(ran.status, 0, "{}", ran.err);
    let path = home.path().join("layout.json");
    let mut layout: Value = serde_json::from_slice(&fs::read(&path).unwrap()).unwrap();
    edit(&mut layout);
    fs::write(&path, serde_json::to_string_pretty(&layout).unwrap()).unwrap();
    run_in(home.path(), &["check", "layout.json"], b"")
}

#[test]
fn check_proves_a_layout_again() {
    // Plans that break a limit, or do not say enough, break it again.
    let wrong = ["curved", "drawn-posts", "stair-block", "stair-no-rise", "stair-reversed", "stair-steep"];
    for case in fixtures().iter().filter(|c| options(c).is_empty() && !wrong.contains(&c.as_str())) {
        let ran = check_edited(case, |_| ());
        assert!(ran.is_good(), "{case}: {}", ran.err);
        assert!(ran.out.starts_with("layout.json: ") && ran.out.contains(" 0 failed"), "{}", ran.out);
    }
}

/// One baluster moved by 1/2 in to the right: 5 - 1.375 + 0.5 = 4.125 before it, where less than 4 is required.
#[test]
fn check_finds_a_gap_made_by_hand() {
    let ran = check_edited("wall-to-wall", |layout| {
        let mark = &mut layout["panels"][0]["balusters"]["marks"][1];
        assert_eq!(*mark, 7.3125);
        *mark = Value::from(7.8125);
    });
    assert_eq!(ran.status, 1);
    same(
        &ran.errors_and_warnings(),
        "layout.json: error[opening-too-wide]: widest opening between balusters: 4.125 in found, under 4 in required \
         (4.1562 in with the cutting tolerance) (panel S1, at 40, 4)\n  \
         rule: irc-2021 R312.1.3: limit 4 in, found 4.125 in\n\
         layout.json: error[sum-fails]: stated gaps: not so; required: the gaps that the marks leave (panel S1, at 40, 4)\n  \
         hint: the numbers of the layout contradict each other: lay the plan out again\n\
         layout.json: error[sum-fails]: stated spacing of the balusters: not so; required: that of the marks, to a mark \
         (panel S1, at 40, 4)\n  \
         hint: the numbers of the layout contradict each other: lay the plan out again\n\
         layout.json: limits broken: 3 (first: widest opening between balusters: 4.125 in found, under 4 in required (4.1562 in \
         with the cutting tolerance) (panel S1, at 40, 4))\n",
    );
}

#[test]
fn check_refuses_what_is_no_layout() {
    let ran = check_edited("wall-to-wall", |layout| {
        layout["panels"][0].as_object_mut().unwrap().remove("span");
    });
    assert_eq!((ran.status, ran.out.as_str()), (2, ""));
    assert!(ran.err.starts_with("error: layout.json is no layout: missing field `span` at line "), "{}", ran.err);
    let ran = check_edited("wall-to-wall", |layout| layout["panels"][0]["from"] = Value::from("P7"));
    assert_eq!(ran.status, 2);
    same(&ran.err, "error: layout.json: panel S1 names post P7, which is not there\n");
    let ran = check_edited("wall-to-wall", |layout| layout["system"] = Value::from("mine"));
    assert_eq!(ran.status, 2);
    assert!(ran.err.contains("there is no rail system named `mine`"), "{}", ran.err);
    let ran = check_edited("wall-to-wall", |layout| layout["version"] = Value::from(3));
    assert_eq!(ran.status, 2);
    same(&ran.err, "error: layout.json: this is `plumbrail-layout` version 3; plumbrail-layout version 2 is read\n");
}

/// What `list rules` prints.
const RULES: &str = "\
irc-2021  International Residential Code 2021: guards, stairs and handrails [default]\n\
irc-2018  International Residential Code 2018: guards, stairs and handrails\n\
irc-2024  International Residential Code 2024: guards, stairs and handrails\n\
ibc-2018  International Building Code 2018: guards, stairs and handrails\n\
ibc-2021  International Building Code 2021: guards, stairs and handrails\n\
california-residential  California Residential Code: guards, stairs and handrails\n\
ada-2010  2010 ADA Standards, section 505: handrails of stairs\n\
osha-1910  OSHA 29 CFR 1910 subpart D (workplaces): guardrails, stair rails, handrails\n\
canada-nbc  National Building Code of Canada, section 9.8 (houses and small buildings): guards, stairs and handrails\n\
england-k  England, Approved Document K 2013: guarding, stairs and handrails\n\
australia-ncc  Australia, National Construction Code 2022: barriers, stairs and handrails\n\
newzealand-f4  New Zealand, Acceptable Solution F4/AS1: barriers\n\
france-nf-p01-012  France, NF P01-012 of July 1988: guards and stair guards\n";

#[test]
fn lists_what_is_built_in() {
    expect(
        &["list", "systems"],
        0,
        "composite-36  Composite rail, 36 in, square balusters (invented demo system) [default]\n\
         metal-42  Metal rail, 42 in, punched rails (invented demo system)\n\
         cable-36  Cable rail, 36 in, horizontal cables (invented demo system)\n\
         frame-42  Framed glass rail, 42 in (invented demo system)\n",
        "",
    );
    expect(&["list", "rules"], 0, RULES, "");
    let names: Vec<&str> = RULES.lines().filter_map(|line| line.split("  ").next()).collect();
    let none = format!("error: there is none named `nope`; built in: {}\n", names.join(", "));
    expect(&["list", "rules", "--show", "nope"], 2, "", &none);
    for name in names {
        let text = fs::read_to_string(root().join(format!("src/catalog/rules/{name}.toml"))).unwrap();
        expect(&["list", "rules", "--show", name], 0, &text, "");
    }
}

/// What `list --show` prints is a file that can be given back, and gives the same layout.
#[test]
fn what_is_shown_reads_back() {
    let home = folder();
    let plan = root().join(plan("corner-135"));
    let files_with = |name: &str, options: &[&str]| {
        let out = home.path().join(name);
        let mut args = vec!["layout".to_owned(), arg(&plan), "--out".to_owned(), arg(&out)];
        args.extend(options.iter().map(|o| (*o).to_owned()));
        let ran = run_in(home.path(), &args, b"");
        assert_eq!(ran.status, 0, "{}", ran.err);
        files(&out)
    };
    for system in ["composite-36", "metal-42", "cable-36", "frame-42"] {
        for (what, name, file) in [("rules", "irc-2021", "my-rules.toml"), ("systems", system, "my-system.toml")] {
            let shown = run(&["list", what, "--show", name]);
            assert_eq!((shown.status, shown.err.as_str()), (0, ""));
            fs::write(home.path().join(file), shown.out).unwrap();
        }
        let by_name = files_with("by-name", &["--system", system]);
        let by_file = files_with("by-file", &["--system", "my-system.toml", "--rules", "my-rules.toml"]);
        assert!(by_name == by_file, "{system}");
    }
}

#[test]
fn completions_know_every_command() {
    for shell in ["bash", "elvish", "fish", "powershell", "zsh"] {
        let ran = run(&["completions", shell]);
        assert_eq!((ran.status, ran.err.as_str()), (0, ""));
        for word in ["layout", "panel", "inspect", "check", "list", "completions", "message-format", "inset"] {
            assert!(ran.out.contains(word), "{shell}: {word}");
        }
    }
}

#[test]
fn wrong_use_is_status_2_and_help_is_status_0() {
    for args in [
        &["layout"][..],
        &["lay", "plan.dxf"],
        &["layout", "plan.dxf", "--nope"],
        &["layout", "plan.dxf", "--formats", "dwf"],
        &["layout", "plan.dxf", "--sheet", "foolscap"],
        &["layout", "plan.dxf", "--dxf-version", "R9"],
        &["list", "pets"],
        &["completions", "nosh"],
        &[],
    ] {
        let ran = run(args);
        assert_eq!((ran.status, ran.out.as_str()), (2, ""), "{args:?}");
        assert!(ran.err.contains("--help") || ran.err.contains("Usage:"), "{}", ran.err);
    }
    for args in [&["--help"][..], &["layout", "--help"], &["panel", "-h"], &["help", "check"], &["--version"]] {
        let ran = run(args);
        assert_eq!((ran.status, ran.err.as_str()), (0, ""), "{args:?}");
    }
    let version = format!("plumbrail {}\n", env!("CARGO_PKG_VERSION"));
    same(&run(&["--version"]).out, &version);
    assert!(!Path::new("plan-rail").exists());
}
