//! Settings, tables and layouts as text that goes on without end: a message that fits on a screen, and nothing written.

use std::fs;

use plumbrail::base::{Length, Pitch, Unit};
use plumbrail::catalog;
use plumbrail::parts::record::Record;

use crate::program::{files, folder, plan, root, run_in};

/// Longest message in bytes: a few lines of what is quoted.
const LONGEST: usize = 10_000;

const DEEP: usize = 100_000;
const LONG: usize = 10_000_000;

fn hostile_toml() -> Vec<String> {
    let long = "x".repeat(LONG);
    vec![
        format!("a = {}", "[".repeat(DEEP)),
        format!("a = {}{}", "[".repeat(DEEP), "]".repeat(DEEP)),
        format!("a = {}", "{b = ".repeat(DEEP)),
        format!("{}c = 1", "a.".repeat(DEEP)),
        format!("[{}c]", "a.".repeat(DEEP)),
        "[[layers]]\n".repeat(DEEP),
        format!("inset = \"{long}\""),
        format!("inset = \"{}in\"", "9".repeat(LONG)),
        format!("{long} = 1"),
        format!("name = \"{long}"),
        format!("# {long}\nnope = 1"),
        format!("inset = {}", "9".repeat(LONG)),
        format!("north = 1e{}", "9".repeat(1000)),
        "inset = \"3in\"\n".repeat(DEEP),
        "inset = \"3in\0\"".to_owned(),
        "\0".repeat(LONG),
        "\u{feff}\u{feff}inset = 1".to_owned(),
    ]
}

#[test]
fn settings_without_end() {
    for text in hostile_toml() {
        let errors = [
            catalog::read_job(&text, "job.toml").err(),
            catalog::read_system(&text, "system.toml").err(),
            catalog::read_rule_file(&text, "rules.toml").err(),
        ];
        for (error, file) in errors.into_iter().zip(["job.toml", "system.toml", "rules.toml"]) {
            let start: String = text.chars().take(40).collect();
            let error = error.unwrap_or_else(|| panic!("{start} is taken for {file}"));
            assert!(error.message.starts_with(file), "{start}");
            assert!(error.message.len() < LONGEST, "{start}: {} bytes", error.message.len());
        }
    }
}

#[test]
fn tables_without_end() {
    let long = "x".repeat(LONG);
    for (text, is_read) in [
        (format!("span,opening\n{long},60\n"), true),
        (format!("span,opening\nS1,{long}\n"), false),
        (format!("span,opening\nS1,\"60\n{long}"), false),
        (format!("member,length\n{long},60\n"), false),
        (format!("member,length,count\ntop-rail,60,{long}\n"), false),
        ("member,length,count\ntop-rail,60,99999999999\n".to_owned(), false),
        ("member,length,count\ntop-rail,60,-1\n".to_owned(), false),
        (format!("span,opening,{}\nS1,60\n", ",".repeat(DEEP)), true),
        (format!("span,opening\n{}", ",".repeat(LONG)), false),
        ("span,opening\nS1,60\0\n".to_owned(), false),
        (long, false),
        ("\"".repeat(LONG), false),
        (String::new(), false),
    ] {
        let start: String = text.chars().take(40).collect();
        let measured =
            catalog::read_measured(&text, "t.csv", Some(Unit::Inch)).map(|all| all.len()).map_err(|e| e.message);
        let stock = catalog::read_on_hand(&text, "t.csv", Some(Unit::Inch)).map(|all| all.len()).map_err(|e| e.message);
        for read in [&measured, &stock] {
            let told = read.as_ref().err().map_or(0, String::len);
            assert!(told < LONGEST, "{start}: {told} bytes");
        }
        let rows = [measured, stock].into_iter().flatten().max().unwrap_or(0);
        assert_eq!(rows > 0, is_read, "{start}");
    }
}

/// A thousand million pieces on hand are a number, not a list.
#[test]
fn stock_of_a_thousand_million_pieces() {
    let home = folder();
    fs::copy(root().join(plan("corner-135")), home.path().join("plan.dxf")).unwrap();
    let rows = "top-rail,60in,1000000000\nbottom-rail,60in,4294967295\n".repeat(50);
    fs::write(home.path().join("stock.csv"), format!("member,length,count\n{rows}")).unwrap();
    let args = ["layout", "plan.dxf", "--stock", "stock.csv", "--formats", "json", "--out", "out"];
    let ran = run_in(home.path(), &args, b"");
    assert!(ran.status <= 1, "{}", ran.err);
    serde_json::from_slice::<Record>(&fs::read(home.path().join("out/layout.json")).unwrap()).unwrap();
}

#[test]
fn lengths_without_end() {
    for text in
        ["9".repeat(LONG), "1/".repeat(DEEP), "-".repeat(LONG), " ".repeat(LONG), "'".repeat(DEEP), "é".repeat(DEEP)]
    {
        for bare in [None, Some(Unit::Inch)] {
            assert!(Length::parse(&text, bare).unwrap_err().to_string().len() < 500);
        }
    }
    let slope = format!("{}/10", "7".repeat(LONG));
    assert!(Pitch::parse(&slope, Some(Unit::Inch)).unwrap_err().len() < 500);
    assert!(Pitch::parse(&"/".repeat(DEEP), Some(Unit::Inch)).unwrap_err().len() < 500);
}

/// Through the program: status 2, a short message, and no file beside those that were there.
#[test]
fn layouts_and_jobs_without_end() {
    let home = folder();
    let path = |name: &str| home.path().join(name);
    fs::copy(root().join(plan("corner-135")), path("plan.dxf")).unwrap();
    let long = "x".repeat(LONG);
    let layouts = [
        "{\"panels\":".repeat(DEEP),
        format!("{{\"panels\": {}", "[".repeat(DEEP)),
        format!("{{\"{long}\": 1}}"),
        format!("{{\"format\": \"{long}\"}}"),
        format!("{{\"format\": {}", "9".repeat(LONG)),
        "{".to_owned(),
        "{}".to_owned(),
        "{\"format\": null}\0".to_owned(),
    ];
    let reads = layouts.into_iter().map(|text| (text, "layout.json", &["check", "layout.json"][..]));
    let job = &["layout", "plan.dxf", "--job", "job.toml", "--out", "out"][..];
    let system = &["layout", "plan.dxf", "--system", "job.toml", "--out", "out"][..];
    let jobs = hostile_toml().into_iter().enumerate();
    let jobs = jobs.map(|(n, text)| (text, "job.toml", if n % 2 == 0 { job } else { system }));
    for (text, name, args) in reads.chain(jobs) {
        fs::write(path(name), &text).unwrap();
        let before = files(home.path());
        let ran = run_in(home.path(), args, b"");
        let start: String = text.chars().take(40).collect();
        assert_eq!((ran.status, ran.out.as_str()), (2, ""), "{start}: {:.500}", ran.err);
        assert!(ran.err.starts_with("error: ") && ran.err.len() < LONGEST, "{start}: {} bytes", ran.err.len());
        assert!(files(home.path()) == before, "{start} left something");
    }
}
