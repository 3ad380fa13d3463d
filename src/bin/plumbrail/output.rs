//! All or none: every file is written aside first, then all are moved in; on a failure what stood there before is put back.
//!
//! That holds for a run that is stopped by force as well. A new folder is filled under another name and gets its own by one
//! rename. In a folder that is there, the files lie ready in `plumbrail-unfinished` before the first is moved: a run that is
//! stopped leaves that folder, and the next one finishes what it began.

mod beside;
mod commit;
mod record;
mod stage;
mod unwritten;

use std::borrow::Cow;
use std::ffi::OsStr;
use std::fs;
use std::io::{self, Write};
use std::path::{Path, PathBuf};

use anyhow::{Context, Result, bail, ensure};
use plumbrail::write::graft::Graft;
use plumbrail::write::json::sha256;

use beside::Beside;
use commit::Commit;
pub use commit::is_unfinished;
use stage::Stage;
pub use unwritten::Unwritten;

/// What a file is to hold.
pub enum Content<'a> {
    /// These bytes.
    Bytes(Vec<u8>),
    /// The user's drawing with ours in it, put together while it is written.
    Graft(Graft, &'a [u8]),
}

impl Content<'_> {
    /// All of it in memory.
    pub fn bytes(&self) -> io::Result<Cow<'_, [u8]>> {
        match self {
            Content::Bytes(bytes) => Ok(Cow::Borrowed(bytes)),
            Content::Graft(graft, bytes) => Ok(Cow::Owned(graft.to_bytes(bytes))),
        }
    }

    /// Writes all of it.
    pub fn write_to(&self, out: &mut impl Write) -> io::Result<()> {
        match self {
            Content::Bytes(bytes) => out.write_all(bytes),
            Content::Graft(graft, bytes) => graft.write_to(bytes, out),
        }
    }
}

/// A file to be written.
pub struct File<'a> {
    /// Path below the output folder.
    pub name: String,
    /// Content.
    pub content: Content<'a>,
}

impl File<'_> {
    /// A file of these bytes.
    pub const fn new(name: String, bytes: Vec<u8>) -> Self {
        Self { name, content: Content::Bytes(bytes) }
    }
}

/// What becomes of the files that are there.
pub struct There<'a> {
    /// Files that go.
    pub stale: Vec<PathBuf>,
    /// Whether this run makes files of that kind: those that an earlier run made, and this one does not, would contradict it.
    pub makes: Option<&'a dyn Fn(&str) -> bool>,
    /// The user's plan, which no output overwrites.
    pub plan: &'a Path,
    /// What takes the plan's place, with `--in-place`, and the bytes that it was made from; the plan as it was is kept
    /// beside it.
    pub in_place: Option<(Content<'a>, &'a [u8])>,
}

impl There<'_> {
    /// Nothing that concerns the outputs.
    pub fn nothing() -> Self {
        Self { stale: Vec::new(), makes: None, plan: Path::new(""), in_place: None }
    }
}

/// Writes all files below `folder`, or none.
pub fn write(folder: &Path, files: &[File<'_>], there: &There<'_>) -> Result<()> {
    for file in files {
        let place = stage::below(folder, Path::new(&file.name))?;
        may_stand(&place, there.plan)?;
        may_be_replaced(&place, place.symlink_metadata())?;
    }
    let mut made = Vec::new();
    // What a run left beside the plan is nothing to one that writes no plan.
    drop(beside::clear(there.plan));
    let written = recover(folder).and_then(|()| write_in(folder, files, there, &mut made));
    if written.is_err() {
        // Deepest first; one that holds something stays.
        made.iter().rev().for_each(|folder| drop(fs::remove_dir(folder)));
    }
    written.map_err(unwritten::explained)
}

/// Writes files that have no folder in common, each to its own path; none where one of them cannot be written.
pub fn write_apart(files: &[File<'_>], plan: &Path) -> Result<()> {
    let write = || {
        let mut staged = Vec::with_capacity(files.len());
        for file in files {
            let place = Path::new(&file.name);
            may_stand(place, plan)?;
            may_be_replaced(place, place.metadata())?;
            make(parent(place), &mut Vec::new())?;
            staged.push(Beside::new(&file.content, place)?);
        }
        staged.into_iter().try_for_each(Beside::put)
    };
    write().map_err(unwritten::explained)
}

/// Finishes or clears away what an earlier run left that was stopped while it wrote to this folder.
pub fn recover(folder: &Path) -> Result<()> {
    let aside = aside(folder).map_or(Ok(()), |aside| stage::clear(&aside));
    let within = || stage::clear(&folder.join(stage::NAME));
    aside.and_then(|()| within()).and_then(|()| commit::finish_left(folder)).map_err(unwritten::explained)
}

/// Writes into the folder; what lies there is looked at when no other run can change it any more.
fn write_in(folder: &Path, files: &[File<'_>], there: &There<'_>, made: &mut Vec<PathBuf>) -> Result<()> {
    let plan = match &there.in_place {
        None => None,
        Some((content, bytes)) => Some((Beside::new(content, there.plan)?, bytes)),
    };
    let replace = || plan.map_or(Ok(()), |(plan, bytes)| plan.replace(bytes));
    let is_new = || folder.symlink_metadata().is_err();
    if files.is_empty() && is_new() {
        return replace();
    }
    if let Some(aside) = aside(folder).filter(|_| is_new()) {
        make(parent(folder), made)?;
        let mut stage = Stage::new(&aside)?;
        if is_new() {
            let (record, _) = record::next(folder, files, there)?;
            stage.fill(&files.iter().chain(&record).collect::<Vec<_>>(), Vec::new(), folder)?;
            // Until the plan is in its place no other run may write there, as all is taken back where that fails.
            let home = stage.files().join(stage::NAME);
            let mut held = there.in_place.is_some().then(|| Stage::new(&home)).transpose()?;
            fs::rename(stage.files(), folder)
                .with_context(|| format!("cannot make the folder {}", folder.display()))?;
            held.iter_mut().for_each(|held| held.went_to(&folder.join(stage::NAME)));
            return replace().inspect_err(|_| {
                drop(fs::rename(folder, stage.files()));
                held.iter_mut().for_each(|held| held.went_to(&home));
            });
        }
    }
    make(folder, made)?;
    let mut stage = Stage::new(&folder.join(stage::NAME))?;
    commit::finish_left(folder)?;
    let (record, gone) = record::next(folder, files, there)?;
    let given = there.stale.iter().filter_map(|path| path.strip_prefix(folder).ok().map(Path::to_path_buf));
    let stale = given.chain(gone).collect();
    for file in files {
        make(parent(&folder.join(&file.name)), made)?;
    }
    stage.fill(&files.iter().chain(&record).collect::<Vec<_>>(), stale, folder)?;
    let commit = Commit::begin(stage, folder)?;
    match commit.run().and_then(|()| replace()) {
        Ok(()) => commit.end(),
        Err(error) => Err(commit.undo(error)),
    }
}

/// Refuses to write over the plan, or over a folder.
fn may_stand(target: &Path, plan: &Path) -> Result<()> {
    if same(target, plan) {
        bail!("{} is the plan itself and is not overwritten; name another folder with --out", target.display());
    }
    if target.is_dir() {
        bail!("{} is a folder; it stands where a file is to be written", target.display());
    }
    Ok(())
}

/// Refuses to write over a link, a pipe or a device: nobody knows what they stand for.
fn may_be_replaced(target: &Path, about: io::Result<fs::Metadata>) -> Result<()> {
    let is_file = about.map_or(true, |about| about.is_file());
    ensure!(is_file, "{} is a link, a pipe or a device; it stands where a file is to be written", target.display());
    Ok(())
}

/// Where a new folder is filled.
fn aside(folder: &Path) -> Option<PathBuf> {
    folder.file_name().map(|name| parent(folder).join(part(name)))
}

/// Name of what is written before it has its place; always the same, so that what was left there is found.
fn part(name: &OsStr) -> String {
    let part = format!(".{}.part", name.to_string_lossy());
    if part.len() <= LONGEST { part } else { format!(".{}.part", sha256(part.as_bytes())) }
}

/// No disk has longer names, in bytes.
const LONGEST: usize = 255;

/// Folder in which something lies.
fn parent(path: &Path) -> &Path {
    path.parent().filter(|p| !p.as_os_str().is_empty()).unwrap_or(Path::new("."))
}

/// Makes a folder; `made` takes those that were not there before.
fn make(folder: &Path, made: &mut Vec<PathBuf>) -> Result<()> {
    let missing: Vec<&Path> = folder.ancestors().take_while(|p| !p.as_os_str().is_empty() && !p.exists()).collect();
    made.extend(missing.into_iter().rev().map(Path::to_path_buf));
    fs::create_dir_all(folder).with_context(|| format!("cannot make the folder {}", folder.display()))
}

/// Whether two paths lead to one file.
pub fn same(a: &Path, b: &Path) -> bool {
    match (a.canonicalize(), b.canonicalize()) {
        (Ok(a), Ok(b)) => a == b,
        _ => false,
    }
}
