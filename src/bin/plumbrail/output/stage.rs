//! A folder in which files are written before they are moved in, with a lock that ends with its run: so a later run can tell
//! what was left behind from what another is writing.

use std::fs::{self, TryLockError};
use std::io::{BufWriter, ErrorKind, Write};
use std::path::{Path, PathBuf};

use anyhow::{Context, Result, bail};

use super::File;

/// Name of the stage in a folder that is there.
pub const NAME: &str = ".plumbrail.part";

const LOCK: &str = "lock";
const FILES: &str = "new";

/// The folder. It goes with the value, unless it was renamed.
pub struct Stage {
    home: PathBuf,
    _lock: fs::File,
}

impl Stage {
    /// An empty one, in the place of what a run left that was stopped.
    pub fn new(home: &Path) -> Result<Self> {
        clear(home)?;
        let context = || format!("cannot write in {}", super::parent(home).display());
        fs::create_dir(home).with_context(context)?;
        let lock = fs::File::create_new(home.join(LOCK)).with_context(context)?;
        take(&lock, home)?;
        let stage = Self { home: home.to_path_buf(), _lock: lock };
        fs::create_dir(stage.files()).with_context(context)?;
        Ok(stage)
    }

    /// Where the files lie that are to be moved in.
    pub fn files(&self) -> PathBuf {
        self.home.join(FILES)
    }

    /// The folder itself.
    pub fn home(&self) -> &Path {
        &self.home
    }

    /// Gives the folder another name, which must be free.
    pub fn rename(&mut self, home: &Path) -> std::io::Result<()> {
        fs::rename(&self.home, home)?;
        self.home = home.to_path_buf();
        Ok(())
    }

    /// Writes all files; messages name the places below `folder` where they are to be.
    pub fn fill(&self, files: &[File<'_>], folder: &Path) -> Result<()> {
        let home = self.files();
        let cannot = |name: &str| format!("cannot write {}", folder.join(name).display());
        for file in files {
            make_folders(&home, Path::new(&file.name)).with_context(|| cannot(&file.name))?;
        }
        for file in files {
            let path = home.join(&file.name);
            let shown = || cannot(&file.name);
            let mut out = BufWriter::with_capacity(1 << 16, fs::File::create_new(&path).with_context(shown)?);
            file.content.write_to(&mut out).and_then(|()| out.flush()).with_context(shown)?;
        }
        Ok(())
    }

    /// A stage that a run left, locked anew; none where there is no such folder.
    pub fn left(home: &Path) -> Result<Option<Self>> {
        if home.symlink_metadata().is_err() {
            return Ok(None);
        }
        // A run may have been stopped before the lock was made, or after it was taken away.
        let path = home.join(LOCK);
        let lock = fs::File::options().write(true).create(true).truncate(false).open(&path);
        let lock = lock.with_context(|| format!("cannot open {}", path.display()))?;
        take(&lock, home)?;
        Ok(Some(Self { home: home.to_path_buf(), _lock: lock }))
    }

    /// Takes the folder away.
    pub fn remove(self) -> Result<()> {
        match fs::remove_dir_all(&self.home) {
            Err(error) if error.kind() != ErrorKind::NotFound => {
                Err(error).with_context(|| format!("cannot take away {}", self.home.display()))
            }
            _ => Ok(()),
        }
    }

    /// Leaves the folder where it is.
    pub fn keep(mut self) {
        self.home = PathBuf::new();
    }
}

impl Drop for Stage {
    fn drop(&mut self) {
        if !self.home.as_os_str().is_empty() {
            drop(fs::remove_dir_all(&self.home));
        }
    }
}

/// Makes the folders of a name below a folder, which is not made itself: where somebody took it away, it would lack what was
/// written into it before.
fn make_folders(home: &Path, name: &Path) -> std::io::Result<()> {
    let mut at = home.to_path_buf();
    for part in name.parent().into_iter().flat_map(Path::components) {
        at.push(part);
        match fs::create_dir(&at) {
            Err(error) if error.kind() != ErrorKind::AlreadyExists => return Err(error),
            _ => {}
        }
    }
    Ok(())
}

/// Takes away a stage that was left behind.
pub fn clear(home: &Path) -> Result<()> {
    Stage::left(home)?.map_or(Ok(()), Stage::remove)
}

/// Locks a file until it is closed, at the latest when the program ends.
pub fn take(file: &fs::File, what: &Path) -> Result<()> {
    match file.try_lock() {
        Err(TryLockError::WouldBlock) => {
            bail!("another run is writing to {}; wait until it is done", super::parent(what).display())
        }
        // A file system without locks: then two runs at a time are not told apart.
        Ok(()) | Err(TryLockError::Error(_)) => Ok(()),
    }
}

#[cfg(test)]
mod tests {
    use std::io;

    use super::*;

    const NAMES: [&str; 4] = ["layout.json", "panels/S1.svg", "panels/S2.svg", "sheets/R1.svg"];

    #[test]
    fn a_folder_that_goes_away_between_two_files_is_never_made_anew() {
        let files = NAMES.map(|name| File::new(name.to_owned(), b"new".to_vec()));
        for lost in [".out.part", ".out.part/new"] {
            for (first, rest) in (0..files.len()).map(|done| files.split_at(done)) {
                let place = tempfile::tempdir().unwrap();
                let stage = Stage::new(&place.path().join(".out.part")).unwrap();
                stage.fill(first, Path::new("out")).unwrap();
                fs::remove_dir_all(place.path().join(lost)).unwrap();
                let error = stage.fill(rest, Path::new("out")).unwrap_err();
                assert!(error.to_string().starts_with("cannot write out"), "{error}");
                let kind = error.downcast_ref::<io::Error>().map(io::Error::kind);
                assert_eq!(kind, Some(ErrorKind::NotFound), "{lost} after {}", first.len());
                assert!(!stage.files().exists());
            }
        }
    }
}
