//! The plan's bytes and those of its external references; DWG files are made DXF first.

use std::cell::RefCell;
use std::collections::BTreeMap;
use std::path::{Path, PathBuf};

use anyhow::{Context, Result};
use plumbrail::base::{Code, Finding, Place, Refusal};
use plumbrail::cad::{self, External, Reference};
use plumbrail::catalog::Settings;
use plumbrail::parts::{EarlierFile, Record};
use plumbrail::{Outcome, PlanFile};

use crate::args::{MessageFormat, Source};
use crate::read::Bytes;
use crate::{config, converter, files, messages};

/// A plan that was opened.
pub struct Input {
    /// A drawing, or what else stands in the file.
    pub bytes: Bytes,
    /// What was done to the file before it is read.
    pub findings: Vec<Finding>,
    /// Folders in which references are looked for.
    folders: Vec<PathBuf>,
    source: Source,
    /// No reference may be larger, in bytes.
    most: u64,
    /// Where the references that were read lie, by the name they were given.
    opened: RefCell<BTreeMap<String, PathBuf>>,
}

impl Input {
    /// Reads the user's file, `-` is standard input. A refusal is printed here.
    pub fn open_or_say(path: &Path, source: &Source, format: MessageFormat) -> Result<Self> {
        Self::open(path, source).inspect_err(|error| {
            if let Some(refusal) = error.downcast_ref::<Refusal>() {
                messages::refusal(path, refusal, format);
            }
        })
    }

    /// Reads the user's file, `-` is standard input.
    pub fn open(path: &Path, source: &Source) -> Result<Self> {
        let beside = (path != Path::new("-")).then(|| path.parent()).flatten();
        Self::of(config::read(path)?, beside, source, u64::MAX)
    }

    /// A plan whose bytes were read already; its references lie beside it, where it has a place, and none may be larger
    /// than `most` bytes.
    pub fn of(bytes: impl Into<Bytes>, beside: Option<&Path>, source: &Source, most: u64) -> Result<Self> {
        let (bytes, mut findings) = (bytes.into(), Vec::new());
        let bytes = match dxf_of(&bytes, source)? {
            None => bytes,
            Some(dxf) => {
                let version = String::from_utf8_lossy(bytes.get(..6).unwrap_or_default()).into_owned();
                let message = format!(
                    "the plan is a DWG file ({version}); what is read, and what rail layers are added to, is the DXF \
                     drawing made from it"
                );
                findings.push(Finding::note(Code::DwgConverted, Place::none(), message));
                dxf.into()
            }
        };
        let folders = source.xref.iter().cloned().chain(beside.map(Path::to_path_buf)).collect();
        Ok(Self { bytes, findings, folders, source: source.clone(), most, opened: RefCell::default() })
    }

    /// Lays the plan out; `name` is its own without folders, and `most` how many entities, edges and panels it may have.
    pub fn lay_out(&self, name: &str, settings: &Settings, most: usize) -> Result<Outcome> {
        let outcome = self.as_plan(name, most, |file| plumbrail::lay_out_file(file, settings))?;
        Ok(outcome?.with(&self.findings))
    }

    /// The plan with what lies beside it.
    pub fn as_plan<T>(&self, name: &str, most: usize, with: impl FnOnce(&PlanFile<'_>) -> T) -> Result<T> {
        // What the user names must be there, whether it is needed or not; of a folder, what is in it of this plan.
        let named = match self.source.before.as_deref() {
            Some(folder) if folder.is_dir() => earlier_in(folder, name),
            Some(file) => Some(earlier_named(file)?),
            None => None,
        };
        let beside = || self.folders.iter().find_map(|folder| earlier_in(folder, name));
        let file = PlanFile {
            bytes: &self.bytes,
            name,
            externals: &|reference| self.external(reference),
            before: named.as_ref(),
            beside: &beside,
            replace_rails: self.source.replace_rails,
            most,
        };
        Ok(with(&file))
    }

    /// Where the references lie that were read.
    pub fn references(&self) -> Vec<PathBuf> {
        self.opened.borrow().values().cloned().collect()
    }

    /// The drawing of an external reference: a file beside or below the plan, or a folder named by `--xref`. Of its path
    /// as much is used as lies there, at least the name; a path that leads elsewhere is never followed.
    pub fn external(&self, reference: &Reference<'_>) -> Result<External, String> {
        let near = self.opened.borrow().get(reference.within).and_then(|p| p.parent().map(Path::to_path_buf));
        let parts = parts(reference.path);
        let found = near.iter().chain(&self.folders).find_map(|folder| find(folder, &parts));
        let Some((file, path)) = found else {
            return Err(match (self.folders.is_empty(), self.source.xref.is_empty()) {
                (true, _) => "a plan from standard input has no folder; name one with --xref".to_owned(),
                (_, true) => "no such file lies beside the plan or in a folder below it".to_owned(),
                _ => "no such file lies beside the plan or in the folders named with --xref".to_owned(),
            });
        };
        let length = path.metadata().map_err(|e| e.to_string())?.len();
        if length > self.most {
            return Err(format!("it has {length} bytes; at most {} are read", self.most));
        }
        let bytes = config::read(&path).map_err(|e| format!("{e:#}"))?;
        let bytes = dxf_of(&bytes, &self.source).map_err(|e| format!("{e:#}"))?.unwrap_or_else(|| bytes.into());
        self.opened.borrow_mut().insert(file.clone(), path);
        Ok(External { file, bytes })
    }
}

/// The earlier layout that the user names.
fn earlier_named(path: &Path) -> Result<EarlierFile> {
    let bytes = config::read(path)?;
    let record: Record = serde_json::from_slice(&bytes).with_context(|| format!("{} is no layout", path.display()))?;
    EarlierFile::of(&record).with_context(|| format!("{} names no unit of its drawing", path.display()))
}

/// That of the plan of this name, or of the drawing that was made from it, which lies in its folder or in that of its
/// outputs.
fn earlier_in(folder: &Path, name: &str) -> Option<EarlierFile> {
    let own = files::stem(Path::new(name));
    let places = [folder.to_owned(), folder.join(format!("{own}-rail")), folder.join(&own)];
    let found = places.iter().filter_map(|place| earlier_named(&place.join("layout.json")).ok());
    found.into_iter().find(|earlier| files::stem(Path::new(&earlier.plan)) == own)
}

/// A DXF drawing made from a DWG file; `None` when it is no DWG, or nothing here can read it.
fn dxf_of(bytes: &[u8], source: &Source) -> Result<Option<Vec<u8>>> {
    if !cad::is_dwg(bytes) {
        return Ok(None);
    }
    if let Some(command) = &source.dwg_converter {
        return converter::run(command, bytes, source.dwg_timeout).map(Some).context("the DWG could not be converted");
    }
    #[cfg(feature = "dwg")]
    return Ok(Some(cad::dwg_to_dxf(bytes)?));
    #[cfg(not(feature = "dwg"))]
    Ok(None)
}

/// Folders and name of a path as either system writes it, without what leads to its root or upwards.
fn parts(path: &str) -> Vec<&str> {
    path.split(['/', '\\']).filter(|p| !matches!(*p, "" | "." | "..") && !p.ends_with(':')).collect()
}

/// The file that the longest end of a path names below a folder, and its name from there. A plan that was saved as DXF
/// often still names its references as DWG, so a DXF of the same name goes first.
fn find(folder: &Path, parts: &[&str]) -> Option<(String, PathBuf)> {
    let (name, above) = parts.split_last()?;
    let stem = name.rsplit_once('.').map_or(*name, |(stem, _)| stem);
    let names = [format!("{stem}.dxf"), (*name).to_owned()];
    (0..=above.len()).find_map(|skipped| {
        names.iter().find_map(|name| {
            let end: Vec<&str> = above.iter().skip(skipped).copied().chain([name.as_str()]).collect();
            let path = locate(folder, &end).filter(|p| p.is_file() && lies_below(p, folder))?;
            Some((end.join("/"), path))
        })
    })
}

/// A path below a folder, without regard to case where there is no exact match: paths come from systems that do not
/// tell `Deck.DXF` from `deck.dxf`.
fn locate(folder: &Path, parts: &[&str]) -> Option<PathBuf> {
    let mut at = folder.to_path_buf();
    for part in parts {
        let exact = at.join(part);
        at = if exact.exists() { exact } else { at.join(alike(&at, part)?) };
    }
    Some(at)
}

fn alike(folder: &Path, name: &str) -> Option<String> {
    let folder = if folder.as_os_str().is_empty() { Path::new(".") } else { folder };
    let names = std::fs::read_dir(folder).ok()?.flatten().filter_map(|e| e.file_name().into_string().ok());
    names.filter(|n| n.to_lowercase() == name.to_lowercase()).min()
}

/// Links may lead out of the folder.
fn lies_below(path: &Path, folder: &Path) -> bool {
    let folder = if folder.as_os_str().is_empty() { Path::new(".") } else { folder };
    match (path.canonicalize(), folder.canonicalize()) {
        (Ok(path), Ok(folder)) => path.starts_with(folder),
        _ => false,
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use std::fs;

    fn found(folder: &Path, path: &str) -> Option<String> {
        find(folder, &parts(path)).map(|(name, _)| name)
    }

    #[test]
    fn the_longest_end_of_a_path_that_lies_below_counts() {
        let folder = tempfile::tempdir().unwrap();
        let root = folder.path().join("plan");
        fs::create_dir_all(root.join("xrefs")).unwrap();
        for name in ["plan/deck.dxf", "plan/xrefs/Deck.DXF", "plan/old.dwg", "outside.dxf"] {
            fs::write(folder.path().join(name), "x").unwrap();
        }
        assert_eq!(found(&root, "C:\\jobs\\xrefs\\deck.dwg"), Some("xrefs/deck.dxf".into()));
        assert_eq!(found(&root, "D:\\else\\DECK.dwg"), Some("DECK.dxf".into()));
        assert_eq!(found(&root, "old.dwg"), Some("old.dwg".into()));
        assert_eq!(found(&root, "deck"), Some("deck.dxf".into()));
        assert_eq!(found(&root, "../outside.dxf"), None);
        assert_eq!(found(&root, ""), None);
        assert_eq!(found(&root, "xrefs"), None);
    }

    #[cfg(unix)]
    #[test]
    fn a_link_out_of_the_folder_is_not_followed() {
        let folder = tempfile::tempdir().unwrap();
        let root = folder.path().join("plan");
        fs::create_dir_all(&root).unwrap();
        fs::write(folder.path().join("outside.dxf"), "x").unwrap();
        std::os::unix::fs::symlink("../outside.dxf", root.join("deck.dxf")).unwrap();
        assert_eq!(found(&root, "deck.dxf"), None);
    }
}
