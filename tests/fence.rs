//! Files that records of `batch --jsonl` name: what an error tells of them, and where they may lie.

use std::fs;
use std::os::unix::fs::symlink;
use std::path::Path;

use plumbrail::catalog;
use serde_json::{Value, json};
use tempfile::TempDir;

use crate::program::{arg, folder, plan, root, run_in};

/// What no answer may hold.
const SECRET: &str = "hunter2";

fn write(home: &Path, name: &str, text: impl AsRef<[u8]>) {
    let path = home.join(name);
    fs::create_dir_all(path.parent().unwrap()).unwrap();
    fs::write(path, text).unwrap();
}

/// Answers to records, with the text of all of them.
fn ask(home: &Path, options: &[&str], records: &[Value]) -> (Vec<Value>, String) {
    let input: String = records.iter().map(|record| format!("{record}\n")).collect();
    let ran = run_in(home, &[&["batch", "--jsonl"][..], options].concat(), input.as_bytes());
    assert_eq!((ran.status, ran.err.as_str()), (0, ""));
    let answers: Vec<Value> = ran.out.lines().map(|line| serde_json::from_str(line).unwrap()).collect();
    assert_eq!(answers.len(), records.len());
    (answers, ran.out)
}

fn builtin(name: &str) -> &'static str {
    let all = [catalog::builtin_systems(), catalog::builtin_rules()].concat();
    all.into_iter().find(|(n, _)| *n == name).unwrap().1
}

/// Name, text, and what is told of it.
fn secret_systems() -> Vec<(&'static str, Vec<u8>, &'static str)> {
    let system = builtin("composite-36");
    let with = |old: &str, new: &str| {
        assert!(system.contains(old), "{old}");
        system.replacen(old, new, 1).into_bytes()
    };
    let flaw = system.replacen("name = \"composite-36\"", &format!("name = \"{SECRET}\""), 1);
    assert!(flaw.contains("bottom-gap = \"2-1/2in\""));
    let flaw = flaw.replacen("bottom-gap = \"2-1/2in\"", "bottom-gap = \"33-1/4in\"", 1);
    vec![
        ("words.toml", format!("root:{SECRET}:19000:0\n").into(), "TOML parse error at line 1, column "),
        ("string.toml", format!("name = \"{SECRET}\n").into(), "TOML parse error at line 1, column "),
        ("key.toml", with("bottom-gap", SECRET), "TOML parse error at line "),
        (
            "value.toml",
            with("height = \"36in\"", &format!("height = \"{SECRET}\"")),
            "TOML parse error at line 6, column 10",
        ),
        (
            "kind.toml",
            with("height = \"36in\"", &format!("height = [\"{SECRET}\"]")),
            "TOML parse error at line 6, column 10",
        ),
        ("choice.toml", with("role = \"top-rail\"", &format!("role = \"{SECRET}\"")), "TOML parse error at line "),
        ("missing.toml", format!("name = \"{SECRET}\"\n").into(), "TOML parse error at line 1, column 1"),
        ("flaw.toml", flaw.into_bytes(), "what stands in it cannot be used"),
        ("latin.toml", [b"# \xff\xfe", SECRET.as_bytes()].concat(), "it is not UTF-8 text"),
    ]
}

/// Rule sets, alone and based on others.
fn secret_rules() -> Vec<(&'static str, String, &'static str)> {
    let own = "name = \"own\"\ntitle = \"own\"\n";
    vec![
        ("r-words.toml", format!("{SECRET} and more\n"), "TOML parse error at line 1, column "),
        ("r-base.toml", format!("{own}based-on = \"{SECRET}\"\n"), "what stands in it cannot be used"),
        ("r-file.toml", format!("{own}based-on = \"{SECRET}.toml\"\n"), "No such file"),
        ("r-chain.toml", format!("{own}based-on = \"r-words.toml\"\n"), "TOML parse error at line 1, column "),
        ("r-loop.toml", format!("# {SECRET}\n{own}based-on = \"r-loop.toml\"\n"), "let one file of the chain name"),
        ("r-none.toml", format!("{own}# {SECRET}\n"), "what stands in it cannot be used"),
    ]
}

fn secret_plans() -> Vec<(&'static str, String)> {
    let version =
        format!("0\nSECTION\n2\nHEADER\n9\n$ACADVER\n1\nAC1.{SECRET}\n0\nENDSEC\n0\nSECTION\n2\nENTITIES\n0\nENDSEC\n");
    vec![
        ("p-words", format!("root:{SECRET}:19000:0:99999:7:::\n")),
        ("p-spaces", format!("\n   {SECRET}\n")),
        ("p-comment", format!("999\nx\n{SECRET}\n")),
        ("p-begun.dxf", format!("0\nSECTION\n{SECRET}\n")),
        ("p-section.dxf", format!("0\nSECTION\n2\n{SECRET}\n")),
        ("p-version.dxf", format!("{version}0\nEOF\n")),
    ]
}

#[test]
fn no_error_quotes_a_file() {
    let home = folder();
    let plan_text = fs::read_to_string(root().join(plan("l-shape"))).unwrap();
    let mut records = Vec::new();
    let mut told = Vec::new();
    for (name, text, why) in secret_systems() {
        write(home.path(), name, text);
        records.push(json!({ "id": name, "dxf": plan_text, "options": { "system": name } }));
        told.push((name, "bad-record", why));
    }
    for (name, text, why) in secret_rules() {
        write(home.path(), name, text);
        records.push(json!({ "id": name, "dxf": plan_text, "options": { "rules": name } }));
        told.push((name, "bad-record", why));
    }
    for (name, text) in secret_plans() {
        write(home.path(), name, text);
        records.push(json!({ "id": name, "path": name }));
        told.push((name, "refused", ""));
    }
    let (answers, all) = ask(home.path(), &[], &records);
    assert!(!all.contains(SECRET), "{all}");
    for (answer, (name, code, why)) in answers.iter().zip(told) {
        assert_eq!(answer["error"]["code"], code, "{answer}");
        let message = answer["error"]["message"].as_str().unwrap();
        assert!(message.contains(why) && (code == "refused" || message.contains(name)), "{name}: {message}");
    }
}

/// A converter's words may quote the file.
#[test]
fn what_a_converter_says_of_a_plan_is_not_told() {
    let home = folder();
    write(home.path(), "a.dwg", format!("AC1032{SECRET}"));
    let says = "sh -c 'cat \"$0\" >&2; exit 1; : \"$1\"' {in} {out}";
    let (answers, all) = ask(home.path(), &["--dwg-converter", says], &[json!({ "id": 1, "path": "a.dwg" })]);
    assert_eq!(answers[0]["error"]["message"], "the DWG could not be converted");
    assert!(!all.contains(SECRET), "{all}");
}

/// A reference of a plan that is no drawing is told, not quoted.
#[test]
fn a_reference_that_is_no_drawing_is_not_quoted() {
    let home = folder();
    fs::copy(root().join("fixtures/xref/plan.dxf"), home.path().join("plan.dxf")).unwrap();
    for text in [format!("{SECRET}\n"), format!("0\nSECTION\n{SECRET}\n"), format!("999\n{SECRET}\n{SECRET}\n")] {
        write(home.path(), "deck.dxf", text);
        let (answers, all) = ask(home.path(), &[], &[json!({ "id": 1, "path": "plan.dxf" })]);
        assert!(answers[0].get("error").is_some() && !all.contains(SECRET), "{all}");
    }
}

/// `ours` with plans and settings, links within it and out of it, and the same beside it.
fn two_folders() -> TempDir {
    let home = folder();
    let at = |name: &str| home.path().join(name);
    let text = fs::read_to_string(root().join(plan("l-shape"))).unwrap();
    for name in ["ours/a.dxf", "ours/in/a.dxf", "other/a.dxf"] {
        write(home.path(), name, &text);
    }
    for folder in ["ours", "other"] {
        write(home.path(), &format!("{folder}/mine.toml"), builtin("metal-42"));
        let rules = "name = \"own\"\ntitle = \"own\"\nbased-on = ";
        write(home.path(), &format!("{folder}/rules.toml"), format!("{rules}\"irc-2021\"\n"));
        write(home.path(), &format!("{folder}/over.toml"), format!("{rules}\"rules.toml\"\n"));
        write(home.path(), &format!("{folder}/climbs.toml"), format!("{rules}\"../other/rules.toml\"\n"));
        write(home.path(), &format!("{folder}/leads.toml"), format!("{rules}\"out.toml\"\n"));
    }
    symlink("in/a.dxf", at("ours/link.dxf")).unwrap();
    symlink("../other/a.dxf", at("ours/out.dxf")).unwrap();
    symlink("../other", at("ours/outside")).unwrap();
    symlink("../other/rules.toml", at("ours/out.toml")).unwrap();
    symlink("ours/a.dxf", at("into.dxf")).unwrap();
    home
}

#[test]
fn files_lie_under_the_folder_or_are_refused_one_by_one() {
    let home = two_folders();
    let absolute = |name: &str| arg(home.path().join(name));
    let path = |path: &str| json!({ "id": path, "path": path });
    let option = |key: &str, name: &str| json!({ "id": name, "path": "ours/a.dxf", "options": { key: name } });
    let good = [
        path("ours/a.dxf"),
        path("./ours/in/a.dxf"),
        path(&absolute("ours/a.dxf")),
        path("ours/link.dxf"),
        path("into.dxf"),
        option("system", "metal-42"),
        option("system", "ours/mine.toml"),
        option("rules", "ibc-2021"),
        option("rules", "ours/rules.toml"),
        option("rules", "ours/over.toml"),
    ];
    let bad = [
        path("other/a.dxf"),
        path(&absolute("other/a.dxf")),
        path("ours/../other/a.dxf"),
        path("ours/../ours/a.dxf"),
        path("ours/out.dxf"),
        path("ours/outside/a.dxf"),
        path("ours/none.dxf"),
        path("none/a.dxf"),
        path("/etc/passwd"),
        path(""),
        option("system", "other/mine.toml"),
        option("system", &absolute("other/mine.toml")),
        option("system", "ours/../other/mine.toml"),
        option("system", "ours/none.toml"),
        option("rules", "other/rules.toml"),
        option("rules", "ours/out.toml"),
        option("rules", "ours/leads.toml"),
        option("rules", "ours/climbs.toml"),
    ];
    // One after the other, so that each refused record has good ones around it.
    let mixed: Vec<Value> = bad.iter().zip(good.iter().cycle()).flat_map(|(b, g)| [b.clone(), g.clone()]).collect();
    let (answers, _) = ask(home.path(), &["--files-under", "ours"], &mixed);
    for (answer, record) in answers.iter().zip(&mixed) {
        assert_eq!(answer["id"], record["id"]);
        let Some(error) = answer.get("error") else {
            assert!(good.contains(record), "{record} is read");
            continue;
        };
        assert!(bad.contains(record), "{record}: {error}");
        let message = error["message"].as_str().unwrap();
        assert!(message.contains("there is no such file under the folder of --files-under"), "{message}");
        let code = if record["options"].is_null() { "unreadable" } else { "bad-record" };
        assert_eq!(error["code"], code);
    }
    // Without the option all that exists is read, as it always was.
    let open: Vec<Value> = good.into_iter().chain(bad).collect();
    let (answers, _) = ask(home.path(), &[], &open);
    let refused: Vec<&Value> = answers.iter().filter(|a| a.get("ok").is_none()).map(|a| &a["id"]).collect();
    assert_eq!(refused, ["ours/none.dxf", "none/a.dxf", "/etc/passwd", "", "ours/none.toml"]);
}

#[test]
fn references_and_the_job_file_stay_in_the_folder() {
    let home = two_folders();
    let xref = root().join("fixtures/xref");
    let at = |name: &str| home.path().join(name);
    fs::copy(xref.join("plan.dxf"), at("ours/plan.dxf")).unwrap();
    fs::copy(xref.join("deck.dxf"), at("other/deck.dxf")).unwrap();
    symlink("../other/deck.dxf", at("ours/deck.dxf")).unwrap();
    symlink("../ours/plan.dxf", at("other/plan.dxf")).unwrap();
    let fence = ["--files-under", "ours"];
    let records = ["ours/plan.dxf", "other/plan.dxf"].map(|path| json!({ "id": path, "path": path }));
    // A link out of the folder, and a file beside a link that leads into it.
    for answer in ask(home.path(), &fence, &records).0 {
        assert_eq!(answer["error"]["finding"], "layer-empty", "{answer}");
    }
    fs::remove_file(at("ours/deck.dxf")).unwrap();
    fs::copy(xref.join("deck.dxf"), at("ours/deck.dxf")).unwrap();
    for answer in ask(home.path(), &fence, &records).0 {
        assert!(answer.get("ok").is_some(), "{answer}");
    }
    for (job, status) in [("system = \"ours/mine.toml\"", 0), ("system = \"other/mine.toml\"", 2)] {
        write(home.path(), "job.toml", job);
        let ran = run_in(home.path(), &["batch", "--jsonl", "--files-under", "ours", "--job", "job.toml"], b"");
        assert_eq!(ran.status, status, "{}", ran.err);
        assert_eq!(ran.err.contains("other/mine.toml: there is no such file under the folder"), status == 2);
    }
    // What the command line names is the caller's own.
    let own =
        ["batch", "--jsonl", "--files-under", "ours", "--system", "other/mine.toml", "--rules", "other/over.toml"];
    assert_eq!(run_in(home.path(), &own, b"").status, 0);
    for wrong in ["none", "ours/a.dxf"] {
        let ran = run_in(home.path(), &["batch", "--jsonl", "--files-under", wrong], b"");
        assert!(ran.status == 2 && ran.err.starts_with(&format!("error: --files-under: {wrong}")), "{}", ran.err);
    }
    assert_eq!(run_in(home.path(), &["batch", "ours/a.dxf", "--files-under", "ours"], b"").status, 2);
}
