//! The files of each adapter, as they lie in `adapters/` of the sources.

use std::path::Path;

use anyhow::{Context, Result};

use crate::args::Host;

/// What stands in the sources for the path of the program, as a text of Python.
const PROGRAM: &str = "\"@PROGRAM@\"";

const SHARED: [(&str, &str); 1] =
    [("plumbrail_call.py", include_str!("../../../../../adapters/shared/plumbrail_call.py"))];

macro_rules! files {
    ($folder:literal: $($name:literal),* $(,)?) => {
        &[$(($name, include_str!(concat!("../../../../../adapters/", $folder, "/", $name)))),*]
    };
}

const FREECAD: &[(&str, &str)] = files!("freecad":
    "Init.py",
    "InitGui.py",
    "package.xml",
    "plumbrail_rails/__init__.py",
    "plumbrail_rails/commands.py",
    "plumbrail_rails/dxf.py",
    "plumbrail_rails/plan.py",
    "plumbrail_rails/result.py",
    "rails.svg",
);

const INKSCAPE: &[(&str, &str)] = files!("inkscape": "plumbrail_insert.inx", "plumbrail_open.inx", "plumbrail_svg.py");

/// Name and bytes of every file of an adapter that calls this program.
pub fn of(host: Host, program: &Path) -> Result<Vec<(&'static str, Vec<u8>)>> {
    let program = program.to_str().context("the path of this program is not Unicode; install it elsewhere")?;
    // A JSON text is one of Python as well.
    let program = serde_json::to_string(program)?;
    let own = match host {
        Host::Freecad => FREECAD,
        Host::Inkscape => INKSCAPE,
    };
    let all = SHARED.iter().chain(own);
    Ok(all.map(|(name, text)| (*name, text.replace(PROGRAM, &program).into_bytes())).collect())
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::commands::adapters::MARK;

    /// Every file below a folder of `adapters/`, by its path there.
    fn lying(folder: &Path, before: &str) -> Vec<String> {
        let mut out = Vec::new();
        for entry in std::fs::read_dir(folder).unwrap().flatten() {
            let name = entry.file_name().into_string().unwrap();
            match entry.path().is_dir() {
                true if name == "__pycache__" => {}
                true => out.extend(lying(&entry.path(), &format!("{before}{name}/"))),
                false => out.push(format!("{before}{name}")),
            }
        }
        out
    }

    #[test]
    fn every_file_is_embedded_and_carries_the_mark() {
        for host in Host::ALL {
            let root = Path::new(env!("CARGO_MANIFEST_DIR")).join("adapters");
            let mut expected = [lying(&root.join("shared"), ""), lying(&root.join(host.name()), "")].concat();
            expected.sort();
            let files = of(host, Path::new("/opt/a \"b\"\\plumbrail")).unwrap();
            let mut names: Vec<String> = files.iter().map(|(name, _)| (*name).to_owned()).collect();
            names.sort();
            assert_eq!(names, expected);
            let text = |bytes: &[u8]| String::from_utf8(bytes.to_vec()).unwrap();
            for (name, bytes) in &files {
                let is_marked = text(bytes).lines().take(3).any(|l| l.contains(MARK));
                assert!(is_marked && !text(bytes).contains("@PROGRAM@"), "{name}");
            }
            let call = files.iter().find(|(name, _)| *name == "plumbrail_call.py").unwrap();
            assert!(text(&call.1).contains("\nPROGRAM = \"/opt/a \\\"b\\\"\\\\plumbrail\"\n"));
        }
    }
}
