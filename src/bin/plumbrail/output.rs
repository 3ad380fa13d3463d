//! All or none: every file is written beside its place first, then all are moved in; on a failure what stood there
//! before is put back.

use std::fs;
use std::io::Write;
use std::path::{Path, PathBuf};

use anyhow::{Context, Result, bail};
use tempfile::NamedTempFile;

/// A file to be written.
pub struct File {
    /// Path below the output folder.
    pub name: String,
    /// Content.
    pub bytes: Vec<u8>,
}

/// Writes all files below `folder`, or none. `keep` is a file that must not be overwritten: the user's plan. `stale`
/// are files of an earlier run that would contradict this one; they go with it.
pub fn write(folder: &Path, files: &[File], stale: &[PathBuf], keep: &Path) -> Result<()> {
    for file in files {
        let target = folder.join(&file.name);
        if same(&target, keep) {
            bail!("{} is the plan itself and is not overwritten; name another folder with --out", target.display());
        }
        if target.is_dir() {
            bail!("{} is a folder; it stands where a file is to be written", target.display());
        }
    }
    let mut made = Vec::new();
    let written = stage(folder, files, &mut made).and_then(|staged| move_in(staged, stale));
    if written.is_err() {
        // Deepest first; one that holds something stays.
        made.iter().rev().for_each(|folder| drop(fs::remove_dir(folder)));
    }
    written
}

/// Writes each file beside its place; `made` takes the folders that were not there before.
fn stage(folder: &Path, files: &[File], made: &mut Vec<PathBuf>) -> Result<Vec<(NamedTempFile, PathBuf)>> {
    let mut staged = Vec::with_capacity(files.len());
    for file in files {
        let target = folder.join(&file.name);
        let parent = target.parent().unwrap_or(folder);
        let missing: Vec<&Path> = parent.ancestors().take_while(|p| !p.as_os_str().is_empty() && !p.exists()).collect();
        made.extend(missing.into_iter().rev().map(Path::to_path_buf));
        fs::create_dir_all(parent).with_context(|| format!("cannot make the folder {}", parent.display()))?;
        let mut temp =
            NamedTempFile::new_in(parent).with_context(|| format!("cannot write in {}", parent.display()))?;
        temp.write_all(&file.bytes).with_context(|| format!("cannot write {}", target.display()))?;
        staged.push((temp, target));
    }
    Ok(staged)
}

/// Moves all staged files into their places and the stale ones away, or puts everything back.
fn move_in(staged: Vec<(NamedTempFile, PathBuf)>, stale: &[PathBuf]) -> Result<()> {
    let mut done = Moves(Vec::new());
    let moved = staged.into_iter().try_for_each(|(temp, target)| done.put(temp, target));
    let moved = moved.and_then(|()| stale.iter().try_for_each(|path| done.set_aside(path)));
    match moved {
        Ok(()) => done.finish(),
        Err(error) => {
            done.undo();
            return Err(error);
        }
    }
    Ok(())
}

fn same(a: &Path, b: &Path) -> bool {
    match (a.canonicalize(), b.canonicalize()) {
        (Ok(a), Ok(b)) => a == b,
        _ => false,
    }
}

/// Moves that were made: the place, and where what stood there before lies now.
struct Moves(Vec<(PathBuf, Option<PathBuf>)>);

impl Moves {
    fn put(&mut self, temp: NamedTempFile, target: PathBuf) -> Result<()> {
        self.set_aside(&target)?;
        readable(temp.as_file())?;
        temp.persist(&target).with_context(|| format!("cannot write {}", target.display()))?;
        if let Some(last) = self.0.last_mut() {
            last.0 = target;
        }
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
        self.0.push((path.to_path_buf(), old));
        Ok(())
    }

    /// Puts back what was there; what cannot be put back is left beside its place.
    fn undo(self) {
        for (target, old) in self.0.into_iter().rev() {
            match old {
                Some(old) => drop(fs::rename(old, target)),
                None => drop(fs::remove_file(target)),
            }
        }
    }

    fn finish(self) {
        for old in self.0.into_iter().filter_map(|(_, old)| old) {
            drop(fs::remove_file(old));
        }
    }
}

/// Temporary files are made private; what a user keeps is readable like any other file.
fn readable(file: &fs::File) -> Result<()> {
    #[cfg(unix)]
    {
        use std::os::unix::fs::PermissionsExt;
        file.set_permissions(fs::Permissions::from_mode(0o644))?;
    }
    #[cfg(not(unix))]
    let _ = file;
    Ok(())
}
