//! `plumbrail adapters`: puts the adapters for CAD programs into the user's folder of each, lists them, takes them away.

mod files;
mod places;

use std::ffi::OsStr;
use std::fs;
use std::path::{Path, PathBuf};

use anyhow::{Context, Result, ensure};

use super::print;
use crate::args::{Adapters, Host};
use crate::config::Status;
use crate::output::{self, File, There};
use crate::read;

/// Our folder within that of the program.
const FOLDER: &str = "plumbrail";

/// Every file of ours has it in one of its first lines, so that no other file is replaced or taken away.
const MARK: &str = "plumbrail adapter file:";

pub fn run(args: &Adapters) -> Result<Status> {
    match args {
        Adapters::Install { hosts, to } => install(&chosen(hosts, to.as_deref())?),
        Adapters::List { hosts, to } => list(&chosen(hosts, to.as_deref())?),
        Adapters::Remove { hosts, to } => remove(&chosen(hosts, to.as_deref())?),
    }
}

impl Host {
    const ALL: [Self; 2] = [Self::Freecad, Self::Inkscape];

    /// Its word on the command line, and its folder in `adapters/`.
    const fn name(self) -> &'static str {
        match self {
            Self::Freecad => "freecad",
            Self::Inkscape => "inkscape",
        }
    }

    const fn title(self) -> &'static str {
        match self {
            Self::Freecad => "FreeCAD",
            Self::Inkscape => "Inkscape",
        }
    }

    /// Where its user finds it.
    const fn next(self) -> &'static str {
        match self {
            Self::Freecad => "restart FreeCAD and choose the workbench Deck rails",
            Self::Inkscape => "restart Inkscape; it opens *.deck.dxf, and has Extensions > Deck rails",
        }
    }
}

/// A program with an adapter, and the folder where our files are or are to be.
struct Adapter {
    host: Host,
    folder: PathBuf,
}

/// Those that were named, or all.
fn chosen(hosts: &[Host], to: Option<&Path>) -> Result<Vec<Adapter>> {
    let mut hosts = if hosts.is_empty() { Host::ALL.to_vec() } else { hosts.to_vec() };
    hosts.sort();
    hosts.dedup();
    ensure!(to.is_none() || hosts.len() == 1, "--to is a folder of one program; name it: freecad or inkscape");
    let folder = |host| to.map_or_else(|| places::user_folder(host), |to| Ok(to.to_path_buf()));
    hosts.into_iter().map(|host| Ok(Adapter { host, folder: folder(host)?.join(FOLDER) })).collect()
}

fn install(adapters: &[Adapter]) -> Result<Status> {
    let program = std::env::current_exe().context("the path of this program is not known")?;
    let mut ready = Vec::new();
    for adapter in adapters {
        let own = files::of(adapter.host, &program)?;
        let paths: Vec<PathBuf> = own.iter().map(|(name, _)| adapter.folder.join(name)).collect();
        let others: Vec<String> = paths.iter().filter(|path| is_not_ours(path)).map(|path| shown(path)).collect();
        ensure!(
            others.is_empty(),
            "not ours, so nothing was installed: {}; move it away, or name another folder with --to",
            others.join(", ")
        );
        let stale = ours_below(&adapter.folder).into_iter().filter(|old| !paths.contains(old)).collect();
        let files = own.into_iter().map(|(name, bytes)| File::new(name.to_owned(), bytes)).collect::<Vec<_>>();
        ready.push((adapter, files, stale));
    }
    for (adapter, files, stale) in ready {
        output::write(&adapter.folder, &files, &There { stale, ..There::nothing() })?;
    }
    let line =
        |a: &Adapter| format!("{} adapter installed in {}; {}\n", a.host.title(), shown(&a.folder), a.host.next());
    print(&adapters.iter().map(line).collect::<String>())
}

fn list(adapters: &[Adapter]) -> Result<Status> {
    let program = std::env::current_exe().context("the path of this program is not known")?;
    let mut out = String::new();
    for adapter in adapters {
        let own = files::of(adapter.host, &program)?;
        let there =
            |(name, bytes): &(&str, Vec<u8>)| read::whole(&adapter.folder.join(name)).is_ok_and(|b| *b == **bytes);
        let state = if own.iter().all(there) {
            "installed"
        } else if ours_below(&adapter.folder).is_empty() {
            "not installed"
        } else {
            "installed, but not as this program installs it; install it again"
        };
        out.push_str(&format!("{}  {state}  {}\n", adapter.host.name(), shown(&adapter.folder)));
    }
    print(&out)
}

fn remove(adapters: &[Adapter]) -> Result<Status> {
    let mut out = String::new();
    for adapter in adapters {
        let ours = ours_below(&adapter.folder);
        if ours.is_empty() {
            out.push_str(&format!("{} has no adapter in {}\n", adapter.host.title(), shown(&adapter.folder)));
            continue;
        }
        output::write(&adapter.folder, &[], &There { stale: ours, ..There::nothing() })?;
        clear_empty(&adapter.folder);
        let left = if adapter.folder.exists() { "; what is not ours stays there" } else { "" };
        out.push_str(&format!("{} adapter taken away from {}{left}\n", adapter.host.title(), shown(&adapter.folder)));
    }
    print(&out)
}

/// Whether something stands there that does not carry our mark.
fn is_not_ours(path: &Path) -> bool {
    path.symlink_metadata().is_ok() && !is_ours(path)
}

fn is_ours(path: &Path) -> bool {
    let is_file = path.symlink_metadata().is_ok_and(|m| m.is_file());
    is_file && fs::read(path).is_ok_and(|b| String::from_utf8_lossy(&b).lines().take(3).any(|l| l.contains(MARK)))
}

/// Our files below a folder, and what Python compiled from them.
fn ours_below(folder: &Path) -> Vec<PathBuf> {
    let mut out = Vec::new();
    for path in entries(folder) {
        // A link may lead anywhere.
        let Ok(about) = path.symlink_metadata() else { continue };
        if about.is_dir() {
            out.extend(ours_below(&path));
        } else if is_ours(&path) {
            out.extend(compiled(folder, path.file_stem().unwrap_or_default()));
            out.push(path);
        }
    }
    out
}

fn compiled(folder: &Path, module: &OsStr) -> Vec<PathBuf> {
    let start = format!("{}.cpython-", module.to_string_lossy());
    let is_it = |path: &PathBuf| path.file_name().is_some_and(|n| n.to_string_lossy().starts_with(&start));
    entries(&folder.join("__pycache__")).into_iter().filter(is_it).collect()
}

fn entries(folder: &Path) -> Vec<PathBuf> {
    let mut paths: Vec<PathBuf> = fs::read_dir(folder).into_iter().flatten().flatten().map(|e| e.path()).collect();
    paths.sort();
    paths
}

/// Takes away a folder and those in it, where nothing is left in them.
fn clear_empty(folder: &Path) {
    let below = entries(folder).into_iter().filter(|p| p.symlink_metadata().is_ok_and(|m| m.is_dir()));
    below.for_each(|below| clear_empty(&below));
    // One that holds something stays.
    drop(fs::remove_dir(folder));
}

fn shown(path: &Path) -> String {
    path.display().to_string()
}
