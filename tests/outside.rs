//! Names and texts from outside that a terminal would obey or a spreadsheet would run: shown, and never obeyed.

use std::fs;
use std::path::Path;

use plumbrail::catalog;
use serde_json::Value;
use tempfile::TempDir;

use crate::interop::{scratch, script};
use crate::program::{Ran, files, folder, plan, root, run, run_in};

/// Clears the screen, rings, takes a line back, turns the direction of writing; of C0, C1 and the signs of direction.
const OBEYED: &str = "\u{1b}[2J\u{7}\r\u{7f}\u{85}\u{9b}31m\u{202e}\u{2066}";

fn is_obeyed(c: char) -> bool {
    (c.is_control() && c != '\n') || matches!(c, '\u{202a}'..='\u{202e}' | '\u{2066}'..='\u{2069}')
}

/// The same in a DXF before R2007, which is read in windows-1252 or, like here, as `\U+XXXX`.
fn escaped(text: &str) -> String {
    text.chars().map(|c| format!("\\U+{:04X}", u32::from(c))).collect()
}

/// In TOML.
fn quoted(text: &str) -> String {
    let escaped: String = text.chars().map(|c| format!("\\u{:04x}", u32::from(c))).collect();
    format!("\"{escaped}\"")
}

/// A plan whose file and layers have such names, a second one that is no drawing, and a job, a system and a rule set of theirs.
fn home() -> (TempDir, String) {
    let home = folder();
    let write = |name: &str, text: &str| fs::write(home.path().join(name), text).unwrap();
    let text = fs::read_to_string(root().join(plan("l-shape"))).unwrap();
    let name = format!("deck{OBEYED}\nerror: all is well.dxf");
    write(&name, &text.replace("A-DECK-EDGE", &format!("A-DECK-EDGE {}", escaped(&format!("{OBEYED}\nerror: fine")))));
    write(&format!("{name}.txt"), "no drawing\n");
    let (system, rules) = (catalog::builtin_systems()[0].1, catalog::builtin_rules()[0].1);
    let named = |text: &str, old: &str| text.replacen(old, &quoted(&format!("x{OBEYED}\nerror: y")), 1);
    write("system.toml", &named(&named(system, "\"composite-36\""), "\"#9 x 2-3/4 in\""));
    write("rules.toml", &named(rules, "\"irc-2021\""));
    write("wrong.toml", &format!("{} = 1\n", quoted(OBEYED)));
    let text = quoted(&format!("client{OBEYED}"));
    write(
        "job.toml",
        &format!("system = \"system.toml\"\nrules = \"rules.toml\"\n[project]\nname = {text}\nclient = {text}\n"),
    );
    (home, name)
}

/// Neither output holds what is obeyed, and no line begins with what a name says.
fn assert_shown(ran: &Ran, args: &[&str]) {
    for text in [&ran.out, &ran.err] {
        assert!(!text.contains(is_obeyed), "{args:?}: {text:?}");
        assert!(!text.contains("\nerror: all is well") && !text.contains("\nerror: fine"), "{args:?}: {text}");
        assert!(!text.contains("\nerror: y"), "{args:?}: {text}");
    }
    assert!(ran.out.contains("\\u009b") || ran.err.contains("\\u009b"), "{args:?}: {ran:?}");
}

#[test]
fn no_name_is_obeyed_by_the_terminal() {
    let (home, name) = home();
    let name = name.as_str();
    let text = &format!("{name}.txt");
    let none = &format!("{name}.none");
    let option = &format!("--{OBEYED}");
    let all: [&[&str]; 17] = [
        &["layout", name, "--job", "job.toml"],
        &["layout", name, "--out", "out"],
        &["layout", name, "--out", OBEYED],
        &["layout", text],
        &["layout", none],
        &["layout", name, "--system", OBEYED],
        &["layout", name, "--system", "wrong.toml"],
        &["layout", name, "--finish", OBEYED],
        &["layout", name, "--layer", OBEYED],
        &["layout", name, option],
        &["inspect", name],
        &["inspect", text],
        &["inspect", name, "--lint"],
        &["inspect", name, "--write-job", "new.toml"],
        &["check", name, "--job", "job.toml"],
        &["batch", name, text, "--out", "many"],
        &["panel", "60in", "--system", "system.toml", "--rules", "rules.toml"],
    ];
    for args in all {
        assert_shown(&run_in(home.path(), args, b""), args);
    }
}

/// A line end in the plan's name does not end the comment in which it stands.
#[test]
fn no_name_sets_anything_in_a_job_file() {
    let (home, name) = home();
    let other = "a\ninset = \"1in\"\n.dxf";
    fs::rename(home.path().join(name), home.path().join(other)).unwrap();
    let ran = run_in(home.path(), &["inspect", other, "--write-job", "new.toml"], b"");
    let job = fs::read_to_string(home.path().join("new.toml")).unwrap_or_else(|_| panic!("{}", ran.err));
    assert_eq!(catalog::read_job(&job, "new.toml").unwrap().inset, None, "{job}");
}

/// In JSON they are escaped, and are read as they are.
#[test]
fn no_name_is_obeyed_in_json() {
    let (home, name) = home();
    let name = name.as_str();
    let text = &format!("{name}.txt");
    let mut named = 0;
    for args in [
        &["layout", name, "--job", "job.toml", "--out", "out"][..],
        &["layout", text],
        &["layout", name, "--system", "wrong.toml"],
        &["layout", name, "--layer", OBEYED],
        &["check", name],
        &["batch", name, text, "--out", "many"],
    ] {
        let ran = run_in(home.path(), &[args, &["--message-format", "json"]].concat(), b"");
        assert_shown(&ran, args);
        for line in ran.out.lines().chain(ran.err.lines()) {
            let message: Value = serde_json::from_str(line).unwrap();
            named += usize::from([name, text].iter().any(|n| message["file"] == **n || message["plan"] == **n));
        }
    }
    assert!(named > 5, "{named} messages with a file's name");
    for args in [&["inspect", name, "--json"][..], &["panel", "60in", "--json", "--system", "system.toml"]] {
        let ran = run_in(home.path(), args, b"");
        assert_shown(&ran, args);
        serde_json::from_str::<Value>(&ran.out).unwrap();
    }
    let layout: Value = serde_json::from_slice(&fs::read(home.path().join("out/layout.json")).unwrap()).unwrap();
    assert_eq!(layout["plan"]["file"], name);
    assert_eq!(layout["system"], format!("x{OBEYED}\nerror: y"));
}

/// Characters that XML 1.0 does not allow (section 2.2), and those that would end a line of a DXF, stand in no file; in
/// JSON and CSV texts are what they are.
#[test]
fn no_drawing_holds_control_characters() {
    let (home, name) = home();
    let formats = "dxf,svg,html,json,pdf,xlsx";
    let args = ["layout", &name, "--job", "job.toml", "--out", "out", "--formats", formats];
    let ran = run_in(home.path(), &args, b"");
    assert!(ran.status <= 1, "{}", ran.err);
    let mut looked = 0;
    for (file, bytes) in files(&home.path().join("out")) {
        let ending = Path::new(&file).extension().unwrap().to_str().unwrap().to_owned();
        let allowed: &[char] = match ending.as_str() {
            "svg" | "json" | "dxf" => &['\n'],
            "html" => &['\n', '\t'],
            _ => continue,
        };
        let text = String::from_utf8_lossy(&bytes).into_owned();
        let text = if ending == "dxf" { text.replace("\r\n", "\n") } else { text };
        let found = text.chars().find(|c| c.is_control() && !allowed.contains(c));
        assert_eq!(found, None, "{file}");
        looked += 1;
    }
    assert!(looked > 10, "{looked} files");
}

/// Names of a rail system that a spreadsheet would run, and where they stand in the lists.
const FORMULAS: [(&str, &str); 6] = [
    ("Level set 5 ft", "=HYPERLINK(\"http://example.org\",\"price\")"),
    ("Level set 7 ft", "@SUM(1,2)"),
    ("Post sleeve 4-1/2 in", "+1+1"),
    ("#9 x 2-3/4 in", "-2+3"),
    ("#10 x 7/8 in", "\t=1+1"),
    ("Post cap 4-1/2 in", "cap;=1+1"),
];

#[test]
fn no_cell_of_a_list_is_a_formula() {
    let folder = scratch("formulas");
    let mut system = catalog::builtin_systems()[0].1.to_owned();
    for (name, formula) in FORMULAS {
        let (old, new) = (format!("\"{name}\""), serde_json::to_string(formula).unwrap());
        assert!(system.contains(&old), "{name}");
        system = system.replace(&old, &new);
    }
    fs::write(folder.join("system.toml"), system).unwrap();
    let out = folder.to_str().unwrap();
    let file = format!("{out}/system.toml");
    let ran = run(&["layout", &plan("lakeside"), "--system", &file, "--formats", "csv,xlsx", "--out", out]);
    assert!(ran.status <= 1, "{}", ran.err);
    let mut guarded = std::collections::BTreeSet::new();
    for (file, bytes) in files(&folder).into_iter().filter(|(file, _)| file.ends_with(".csv")) {
        let mut reader = csv::ReaderBuilder::new().has_headers(false).flexible(true).from_reader(bytes.as_slice());
        for cell in reader.records().flat_map(|row| row.unwrap().iter().map(str::to_owned).collect::<Vec<_>>()) {
            let is_run = |part: &str| part.trim_start().starts_with(['=', '+', '-', '@']);
            assert!(cell.parse::<f64>().is_ok() || !cell.split(';').any(is_run), "{file}: {cell:?}");
            guarded.extend(FORMULAS.iter().map(|(_, f)| *f).filter(|f| cell == format!("'{f}")));
            guarded.extend(FORMULAS.iter().map(|(_, f)| *f).filter(|f| cell == f.replace(";=", ";'=")));
        }
    }
    assert_eq!(guarded.len(), FORMULAS.len(), "{guarded:?}");
    let last = script("check_schedule.py", &[&folder]);
    assert!(!last.contains(" 0 texts like formulas"), "{last}");
}
