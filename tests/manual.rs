//! Manual pages, completions and the user pages in docs/: they name the commands and options that there are.

use std::collections::{BTreeMap, BTreeSet};
use std::fs;
use std::path::Path;
use std::process::Command;

use crate::program::{arg, folder, names, root, run, run_in};

const SHELLS: [&str; 5] = ["bash", "elvish", "fish", "powershell", "zsh"];

/// Options in a help text: `--out`, `--job` and so on.
fn options(help: &str) -> BTreeSet<String> {
    let words = help.split(|c: char| !(c.is_ascii_alphanumeric() || c == '-'));
    words.filter(|w| w.starts_with("--") && w.len() > 3).map(|w| w.trim_end_matches('-').to_owned()).collect()
}

/// Options that a command takes: those that begin a line of its help.
fn own_options(command: &str) -> BTreeSet<String> {
    let help = run(&[command, "--help"]).out;
    let starts = help.lines().map(str::trim_start).filter(|l| l.starts_with('-'));
    starts.flat_map(|l| options(l.split_once("  ").map_or(l, |(head, _)| head))).collect()
}

/// The commands by the program's own help.
fn commands() -> Vec<String> {
    let help = run(&["--help"]).out;
    let list = help.split("Commands:\n").nth(1).unwrap().split("\n\n").next().unwrap();
    let starts = |l: &&str| l.starts_with("  ") && !l.starts_with("   ");
    let names = list.lines().filter(starts).map(|l| l.split_whitespace().next().unwrap().to_owned());
    names.filter(|n| n != "help").collect()
}

#[test]
fn each_command_has_a_page_with_each_of_its_options() {
    let out = folder();
    let ran = run(&["man", "--out", &arg(out.path())]);
    assert_eq!(ran.status, 0, "{}", ran.err);
    let commands = commands();
    assert!(commands.len() >= 8, "{commands:?}");
    let mut expected: Vec<String> = commands.iter().map(|c| format!("plumbrail-{c}.1")).collect();
    expected.push("plumbrail.1".to_owned());
    expected.sort();
    assert_eq!(names(out.path()), expected);
    for command in &commands {
        let page = fs::read_to_string(out.path().join(format!("plumbrail-{command}.1"))).unwrap();
        assert!(page.contains(&format!("plumbrail\\-{command}")), "{page}");
        // In a page each hyphen of an option is written `\-`.
        let plain =
            ["\\fB", "\\fI", "\\fR"].iter().fold(page.replace("\\-", "-"), |text, font| text.replace(font, " "));
        assert!(plain.contains(".SH SYNOPSIS") && plain.contains(".SH DESCRIPTION"), "{page}");
        let named = options(&plain);
        for option in own_options(command) {
            assert!(named.contains(&option), "{command}: {option} is not in {named:?}");
        }
    }
    let page = run(&["man"]).out;
    assert!(page == fs::read_to_string(out.path().join("plumbrail.1")).unwrap());
    let named: Vec<&str> = page.lines().filter_map(|l| l.strip_prefix("plumbrail\\-")?.strip_suffix("(1)")).collect();
    assert_eq!(named, commands);
}

#[test]
fn completions_of_each_shell_name_the_commands() {
    for shell in SHELLS {
        let ran = run(&["completions", shell]);
        assert_eq!((ran.status, ran.err.as_str()), (0, ""));
        for command in commands() {
            assert!(ran.out.contains(&command), "{shell}: {command}");
        }
        assert!(ran.out.contains("write-job"), "{shell}");
        if shell == "bash" {
            let home = folder();
            let file = home.path().join("plumbrail.bash");
            fs::write(&file, &ran.out).unwrap();
            let bash = Command::new("bash").arg("-n").arg(&file).output().unwrap();
            assert!(bash.status.success(), "{}", String::from_utf8_lossy(&bash.stderr));
        }
    }
}

/// All pages for users and maintainers, by their path.
fn pages() -> BTreeMap<String, String> {
    let docs = fs::read_dir(root().join("docs")).unwrap().map(|e| e.unwrap().file_name().into_string().unwrap());
    let docs = docs.filter(|n| n.ends_with(".md")).map(|n| format!("docs/{n}"));
    let all = docs.chain(["README.md", "DEVELOPERS.md"].map(str::to_owned));
    all.map(|path| (path.clone(), fs::read_to_string(root().join(path)).unwrap())).collect()
}

/// The bodies of blocks that begin with ```` ```LANGUAGE ````.
fn blocks<'a>(page: &'a str, language: &str) -> Vec<&'a str> {
    let mark = format!("```{language}\n");
    page.split(mark.as_str()).skip(1).filter_map(|rest| rest.split("```").next()).collect()
}

#[test]
fn links_of_the_pages_lead_somewhere() {
    let mut links = 0;
    for (path, text) in pages() {
        let folder = root().join(&path).parent().unwrap().to_path_buf();
        for link in text.split("](").skip(1).filter_map(|rest| rest.split(')').next()) {
            if link.contains("://") || link.contains(char::is_whitespace) {
                continue;
            }
            let (file, anchor) = link.split_once('#').unwrap_or((link, ""));
            let target = if file.is_empty() { root().join(&path) } else { folder.join(file) };
            assert!(target.exists(), "{path}: {link}");
            links += 1;
            if !anchor.is_empty() {
                let slug = |l: &str| l.trim_start_matches(['#', ' ']).to_lowercase().replace(' ', "-");
                let text = fs::read_to_string(&target).unwrap();
                let found = text
                    .lines()
                    .filter(|l| l.starts_with('#'))
                    .any(|l| slug(l).replace(['?', ',', ':', '`', '.'], "") == anchor);
                assert!(found, "{path}: {link}");
            }
        }
    }
    assert!(links >= 18, "{links}");
}

#[test]
fn commands_and_options_of_the_pages_are_there() {
    let commands = commands();
    let own: BTreeMap<&str, BTreeSet<String>> = commands.iter().map(|c| (c.as_str(), own_options(c))).collect();
    let all: BTreeSet<&String> = own.values().flatten().collect();
    for (path, text) in pages().iter().filter(|(path, _)| *path != "DEVELOPERS.md") {
        for line in blocks(text, "sh").iter().flat_map(|b| b.lines()) {
            let line = line.split('#').next().unwrap();
            for call in line.split("plumbrail ").skip(1) {
                let call = call.split(['|', '>', ';', '<']).next().unwrap();
                let Some(command) = call.split_whitespace().next().filter(|c| !c.starts_with('-')) else { continue };
                let known =
                    own.get(command).unwrap_or_else(|| panic!("{path}: there is no command `{command}`: {line}"));
                for option in options(call).iter().filter(|o| *o != "--version") {
                    assert!(known.contains(option), "{path}: {command} has no {option}: {line}");
                }
            }
        }
        // In the running text, between backticks.
        for word in text.split('`').skip(1).step_by(2).filter(|w| w.starts_with("--") && !w.contains('\n')) {
            let option = options(word).into_iter().next().unwrap_or_default();
            let elsewhere = ["--clear", "--release", "--bench", "--features", "--test", "--pipepart"];
            assert!(all.contains(&option) || elsewhere.contains(&option.as_str()), "{path}: `{word}`");
        }
    }
}

/// Blocks of a page that are marked for it are run, each in a folder of its own with the fixtures in it.
#[test]
fn commands_of_the_pages_run() {
    let mut ran = 0;
    for (path, text) in pages().iter().filter(|(path, _)| path.starts_with("docs/")) {
        let home = folder();
        fixtures_into(home.path());
        for (name, body) in named_blocks(text) {
            fs::write(home.path().join(name), body).unwrap();
        }
        for line in blocks(text, "sh").iter().flat_map(|b| b.lines()) {
            let line = line.split(" #").next().unwrap().trim();
            let Some(call) = line.strip_prefix("plumbrail ") else { continue };
            if call.contains(['|', '<', '*', '…']) || call.contains("PLAN") {
                continue;
            }
            let (call, to) = call.split_once(" > ").map_or((call, None), |(call, to)| (call, Some(to.trim())));
            let args: Vec<String> = call.split_whitespace().map(|a| a.trim_matches('\'').to_owned()).collect();
            let done = run_in(home.path(), &args, b"");
            assert!(done.status < 2, "{path}: {line}: exit status {}\n{}", done.status, done.err);
            if let Some(to) = to {
                fs::write(home.path().join(to), done.out).unwrap();
            }
            ran += 1;
        }
    }
    assert!(ran >= 20, "{ran} commands were run");
}

/// Blocks that are files: a line `<!-- file: NAME -->` before them says which.
fn named_blocks(text: &str) -> Vec<(&str, String)> {
    let mut out = Vec::new();
    for (name, rest) in text.split("<!-- file: ").skip(1).filter_map(|part| part.split_once(" -->\n")) {
        let body = rest.trim_start().strip_prefix("```").expect("a block follows").split_once('\n').unwrap().1;
        // In a list a block stands three columns in.
        let body = body.split("```").next().unwrap().lines();
        out.push((name, body.map(|l| format!("{}\n", l.strip_prefix("   ").unwrap_or(l))).collect()));
    }
    out
}

/// Copies the plans that pages name.
fn fixtures_into(home: &Path) {
    for case in ["lakeside", "wrong-layers", "unitless", "stair-lines", "l-shape"] {
        let to = home.join("fixtures").join(case);
        fs::create_dir_all(&to).unwrap();
        fs::copy(root().join(crate::program::plan(case)), to.join("plan.dxf")).unwrap();
    }
}
