//! Which plans, and where the outputs of each go.

use std::collections::BTreeSet;
use std::path::{Path, PathBuf};

use anyhow::{Result, bail, ensure};

use crate::args::Batch;
use crate::config;
use crate::files::stem;

/// A plan with the folder for its outputs.
#[derive(Debug, PartialEq, Eq)]
pub struct Plan {
    pub path: PathBuf,
    pub folder: PathBuf,
}

/// All plans in the order in which they were named; a file that was named twice is one plan.
pub fn plans(args: &Batch) -> Result<Vec<Plan>> {
    let mut paths = args.plans.clone();
    if let Some(list) = &args.from_file {
        let text = config::read(list)?;
        let Ok(text) = std::str::from_utf8(&text) else {
            bail!("{} is not UTF-8 text; it should hold the path of a plan on each line", list.display())
        };
        paths.extend(text.lines().filter(|line| !line.trim().is_empty()).map(PathBuf::from));
    }
    ensure!(!paths.iter().any(|p| p == Path::new("-")), "batch reads plans from files; use layout for standard input");
    let mut seen = BTreeSet::new();
    paths.retain(|path| seen.insert(path.canonicalize().unwrap_or_else(|_| path.clone())));
    ensure!(!paths.is_empty(), "no plan is named");
    Ok(folders(paths, args.out.as_deref()))
}

/// `<stem>-rail` below the folder that is named, or beside the plan. The second plan with the same stem gets
/// `<stem>-2-rail`, and so on in the order in which they were named.
fn folders(paths: Vec<PathBuf>, out: Option<&Path>) -> Vec<Plan> {
    let folder = |path: &Path, number: usize| {
        let number = if number == 1 { String::new() } else { format!("-{number}") };
        let name = format!("{}{number}-rail", stem(path));
        out.map_or_else(|| path.with_file_name(&name), |out| out.join(&name))
    };
    // A number must not give the name that another plan has by itself.
    let plain: BTreeSet<String> = paths.iter().map(|path| key(&folder(path, 1))).collect();
    let mut taken = BTreeSet::new();
    let mut place = |path: &Path| {
        let is_free =
            |n: usize, folder: &Path| !taken.contains(&key(folder)) && (n == 1 || !plain.contains(&key(folder)));
        let free = (1..).map(|n| (n, folder(path, n))).find(|(n, folder)| is_free(*n, folder));
        let free = free.map(|(_, folder)| folder).unwrap_or_default();
        taken.insert(key(&free));
        free
    };
    paths.into_iter().map(|path| Plan { folder: place(&path), path }).collect()
}

/// The same for two paths to one folder, on systems that do not tell capitals apart, too.
fn key(folder: &Path) -> String {
    std::path::absolute(folder).unwrap_or_else(|_| folder.to_path_buf()).to_string_lossy().to_lowercase()
}

#[cfg(test)]
mod tests {
    use super::*;

    fn names(paths: &[&str], out: Option<&str>) -> Vec<String> {
        let plans = folders(paths.iter().map(PathBuf::from).collect(), out.map(Path::new));
        plans.into_iter().map(|p| p.folder.to_string_lossy().into_owned()).collect()
    }

    #[test]
    fn no_two_plans_share_a_folder() {
        assert_eq!(names(&["a/deck.dxf", "b/deck.dxf"], None), ["a/deck-rail", "b/deck-rail"]);
        assert_eq!(
            names(&["a/deck.dxf", "b/Deck.dxf", "deck-2.dxf", "c/deck.dxf", "deck.rail.dxf"], Some("out")),
            ["out/deck-rail", "out/Deck-3-rail", "out/deck-2-rail", "out/deck-4-rail", "out/deck-5-rail"]
        );
        assert_eq!(names(&["deck.dxf", "./deck.DXF"], None), ["deck-rail", "./deck-2-rail"]);
    }
}
