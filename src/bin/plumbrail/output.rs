//! All or none: every file is written beside its place first, then all are moved in; on a failure what stood there
//! before is put back.

use std::borrow::Cow;
use std::fs;
use std::io::{self, BufWriter, Write};
use std::path::{Path, PathBuf};

use anyhow::{Context, Result, bail};
use plumbrail::write::graft::Graft;
use tempfile::NamedTempFile;

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
    /// Files of an earlier run that would contradict this one; they go with it.
    pub stale: Vec<PathBuf>,
    /// The user's plan, which no output overwrites.
    pub plan: &'a Path,
    /// What takes the plan's place, if that was asked for; the plan as it was is kept beside it.
    pub in_place: Option<Content<'a>>,
}

impl There<'_> {
    /// Nothing that concerns the outputs.
    pub fn nothing() -> Self {
        Self { stale: Vec::new(), plan: Path::new(""), in_place: None }
    }
}

/// Writes all files below `folder`, or none.
pub fn write(folder: &Path, files: &[File<'_>], there: &There<'_>) -> Result<()> {
    for file in files {
        let target = folder.join(&file.name);
        if same(&target, there.plan) {
            bail!("{} is the plan itself and is not overwritten; name another folder with --out", target.display());
        }
        if target.is_dir() {
            bail!("{} is a folder; it stands where a file is to be written", target.display());
        }
    }
    let mut made = Vec::new();
    let written = match unfinished(folder).filter(|_| folder.symlink_metadata().is_err() && there.in_place.is_none()) {
        Some(name) => write_new(folder, &name, files, &mut made),
        None => stage_all(folder, files, &mut made).and_then(|staged| move_in(staged, there)),
    };
    if written.is_err() {
        // Deepest first; one that holds something stays.
        made.iter().rev().for_each(|folder| drop(fs::remove_dir(folder)));
    }
    written
}

/// How the name begins under which a new folder is filled.
fn unfinished(folder: &Path) -> Option<String> {
    folder.file_name().map(|name| format!(".{}.part-", name.to_string_lossy()))
}

/// Takes away what a run left that was stopped while it filled this folder.
pub fn clear_unfinished(folder: &Path) {
    let Some(start) = unfinished(folder) else { return };
    let entries = fs::read_dir(parent(folder)).into_iter().flatten().flatten();
    for entry in entries.filter(|e| e.file_name().to_string_lossy().starts_with(&start)) {
        drop(fs::remove_dir_all(entry.path()));
    }
}

/// Folder in which something lies.
fn parent(path: &Path) -> &Path {
    path.parent().filter(|p| !p.as_os_str().is_empty()).unwrap_or(Path::new("."))
}

/// Fills a folder that is not there under another name, and gives it its own last: even a run that is stopped by force
/// leaves all of it or none.
fn write_new(folder: &Path, name: &str, files: &[File<'_>], made: &mut Vec<PathBuf>) -> Result<()> {
    let parent = parent(folder);
    make(parent, made)?;
    let mut builder = tempfile::Builder::new();
    builder.prefix(name);
    #[cfg(unix)]
    {
        use std::os::unix::fs::PermissionsExt;
        // Less what the user's mask takes away, as of any folder.
        builder.permissions(fs::Permissions::from_mode(0o777));
    }
    let temp = builder.tempdir_in(parent).with_context(|| format!("cannot write in {}", parent.display()))?;
    for file in files {
        let path = temp.path().join(&file.name);
        let shown = || format!("cannot write {}", folder.join(&file.name).display());
        fs::create_dir_all(path.parent().unwrap_or(temp.path())).with_context(shown)?;
        let mut out = BufWriter::with_capacity(1 << 16, fs::File::create_new(&path).with_context(shown)?);
        file.content.write_to(&mut out).and_then(|()| out.flush()).with_context(shown)?;
        readable(out.get_ref())?;
    }
    fs::rename(temp.path(), folder).with_context(|| format!("cannot make the folder {}", folder.display()))?;
    drop(temp.keep());
    Ok(())
}

/// Makes a folder; `made` takes those that were not there before.
fn make(folder: &Path, made: &mut Vec<PathBuf>) -> Result<()> {
    let missing: Vec<&Path> = folder.ancestors().take_while(|p| !p.as_os_str().is_empty() && !p.exists()).collect();
    made.extend(missing.into_iter().rev().map(Path::to_path_buf));
    fs::create_dir_all(folder).with_context(|| format!("cannot make the folder {}", folder.display()))
}

/// Writes each file beside its place; `made` takes the folders that were not there before.
fn stage_all(folder: &Path, files: &[File<'_>], made: &mut Vec<PathBuf>) -> Result<Vec<(NamedTempFile, PathBuf)>> {
    let mut staged = Vec::with_capacity(files.len());
    for file in files {
        let target = folder.join(&file.name);
        make(target.parent().unwrap_or(folder), made)?;
        let temp = stage(&file.content, &target)?;
        readable(temp.as_file())?;
        staged.push((temp, target));
    }
    Ok(staged)
}

/// Moves all staged files into their places and the stale ones away, or puts everything back.
fn move_in(staged: Vec<(NamedTempFile, PathBuf)>, there: &There<'_>) -> Result<()> {
    let plan = there.in_place.as_ref().map(|content| stage_plan(content, there.plan)).transpose()?;
    let mut done = Moves(Vec::new());
    let moved = staged.into_iter().try_for_each(|(temp, target)| done.put(temp, &target));
    let moved = moved.and_then(|()| there.stale.iter().try_for_each(|path| done.set_aside(path)));
    let moved = moved.and_then(|()| plan.into_iter().try_for_each(|(temp, plan)| done.replace(temp, &plan)));
    match moved {
        Ok(()) => done.finish(),
        Err(error) => {
            done.undo();
            return Err(error);
        }
    }
    Ok(())
}

/// Writes a content beside the place where it is to be.
fn stage(content: &Content<'_>, target: &Path) -> Result<NamedTempFile> {
    let parent = parent(target);
    let mut temp = NamedTempFile::new_in(parent).with_context(|| format!("cannot write in {}", parent.display()))?;
    let mut out = BufWriter::with_capacity(1 << 16, temp.as_file_mut());
    let written = content.write_to(&mut out).and_then(|()| out.flush());
    drop(out);
    written.with_context(|| format!("cannot write {}", target.display()))?;
    Ok(temp)
}

/// The same for the plan itself, which keeps its permissions. What a link points to is replaced, not the link.
fn stage_plan(content: &Content<'_>, plan: &Path) -> Result<(NamedTempFile, PathBuf)> {
    let plan = plan.canonicalize().with_context(|| format!("cannot find {}", plan.display()))?;
    let temp = stage(content, &plan)?;
    temp.as_file().set_permissions(fs::metadata(&plan)?.permissions())?;
    Ok((temp, plan))
}

/// The first name that is free: `plan.dxf.bak`, `plan.dxf.bak2` ... An older backup is never lost.
fn backup_of(plan: &Path) -> PathBuf {
    let name = plan.file_name().unwrap_or_default().to_string_lossy();
    let numbers = std::iter::once(String::new()).chain((2_u64..).map(|n| n.to_string()));
    let mut names = numbers.map(|number| plan.with_file_name(format!("{name}.bak{number}")));
    names.find(|path| !path.exists()).unwrap_or_default()
}

/// Whether two paths lead to one file.
pub fn same(a: &Path, b: &Path) -> bool {
    match (a.canonicalize(), b.canonicalize()) {
        (Ok(a), Ok(b)) => a == b,
        _ => false,
    }
}

/// Moves that were made.
struct Moves(Vec<Move>);

struct Move {
    place: PathBuf,
    /// Where what stood there before lies now.
    old: Option<PathBuf>,
    /// Whether it shall stay there.
    is_kept: bool,
}

impl Moves {
    fn put(&mut self, temp: NamedTempFile, target: &Path) -> Result<()> {
        self.set_aside(target)?;
        temp.persist(target).with_context(|| format!("cannot write {}", target.display()))?;
        Ok(())
    }

    fn set_aside(&mut self, path: &Path) -> Result<()> {
        let mut old = None;
        if path.exists() {
            let parent = path.parent().unwrap_or(Path::new("."));
            let aside = NamedTempFile::new_in(parent)
                .with_context(|| format!("cannot write in {}", parent.display()))?
                .into_temp_path()
                .keep()?;
            fs::rename(path, &aside).with_context(|| format!("cannot replace {}", path.display()))?;
            old = Some(aside);
        }
        self.0.push(Move { place: path.to_path_buf(), old, is_kept: false });
        Ok(())
    }

    /// Takes the plan's place; the plan stays beside it.
    fn replace(&mut self, temp: NamedTempFile, plan: &Path) -> Result<()> {
        let backup = backup_of(plan);
        fs::rename(plan, &backup).with_context(|| format!("cannot keep {} as a backup", plan.display()))?;
        self.0.push(Move { place: plan.to_path_buf(), old: Some(backup), is_kept: true });
        temp.persist(plan).with_context(|| format!("cannot write {}", plan.display()))?;
        Ok(())
    }

    /// Puts back what was there; what cannot be put back is left beside its place.
    fn undo(self) {
        for Move { place, old, .. } in self.0.into_iter().rev() {
            match old {
                Some(old) => drop(fs::rename(old, place)),
                None => drop(fs::remove_file(place)),
            }
        }
    }

    fn finish(self) {
        for old in self.0.into_iter().filter(|moved| !moved.is_kept).filter_map(|moved| moved.old) {
            drop(fs::remove_file(old));
        }
    }
}

/// Temporary files are made private; what a user keeps is readable like any other file.
pub fn readable(file: &fs::File) -> Result<()> {
    #[cfg(unix)]
    {
        use std::os::unix::fs::PermissionsExt;
        file.set_permissions(fs::Permissions::from_mode(0o644))?;
    }
    #[cfg(not(unix))]
    let _ = file;
    Ok(())
}
