//! A folder in which files are written before they are moved in, with a lock that ends with its run: so a later run can tell
//! what was left behind from what another is writing.
//!
//! The lock holds a journal of all names in the folder, and says of itself which file on this disk it is. So a stage that came
//! here with a folder from elsewhere is known as such, and nothing in it is touched; nor is what no journal names.

use std::fs::{self, Metadata, TryLockError};
use std::io::{self, BufWriter, ErrorKind, Read, Seek, Write};
use std::path::{Component, Path, PathBuf};
use std::time::UNIX_EPOCH;

use anyhow::{Context, Result, bail, ensure};
use serde::{Deserialize, Serialize};

use super::{File, parent};
use crate::read;

/// Name of the stage in a folder that is there.
pub const NAME: &str = ".plumbrail.part";

const LOCK: &str = "lock";
const FILES: &str = "new";
const OLD: &str = "old";

/// No journal is larger, in bytes: a name has some 20, and a deck not a million panels.
const LARGEST: u64 = 64 << 20;

/// Other runs may come and go so often while one looks.
const TRIES: usize = 1000;

/// What the lock holds.
#[derive(Debug, Default, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Journal {
    /// Which file the lock is.
    lock: String,
    /// What is to be moved in, and what is to go, by their paths in the folder.
    pub new: Vec<PathBuf>,
    pub stale: Vec<PathBuf>,
}

/// The folder. It goes with the value, unless it was kept.
pub struct Stage {
    home: PathBuf,
    lock: fs::File,
    pub journal: Journal,
}

impl Stage {
    /// An empty one, in the place of what a run left that was stopped.
    pub fn new(home: &Path) -> Result<Self> {
        let context = || format!("cannot write in {}", parent(home).display());
        for _ in 0..TRIES {
            match fs::create_dir(home) {
                Err(error) if error.kind() != ErrorKind::AlreadyExists => return Err(error).with_context(context),
                _ => {}
            }
            if let Some(stage) = Self::left(home)? {
                stage.clear()?;
                return Ok(stage);
            }
        }
        bail!(not_ours(home))
    }

    /// A stage that a run left, locked anew; none where there is no such folder.
    pub fn left(home: &Path) -> Result<Option<Self>> {
        for _ in 0..TRIES {
            match home.symlink_metadata() {
                Err(error) if matches!(error.kind(), ErrorKind::NotFound | ErrorKind::NotADirectory) => {
                    return Ok(None);
                }
                about => ensure!(about.with_context(|| cannot_open(home))?.is_dir(), not_ours(home)),
            }
            let path = home.join(LOCK);
            match path.symlink_metadata() {
                // A lock is made first and goes last: where it is not there, nothing is.
                Err(_) if fs::read_dir(home).is_ok_and(|mut all| all.next().is_some()) => continue,
                Ok(about) => ensure!(about.is_file(), not_ours(home)),
                Err(_) => {}
            }
            let lock = match read::options(false).write(true).create(true).open(&path) {
                Err(error) if error.kind() == ErrorKind::NotFound => continue,
                lock => lock.with_context(|| cannot_open(&path))?,
            };
            take(&lock, home)?;
            // What was locked may have been taken away, or replaced, before.
            let is_it = |there: Metadata| lock.metadata().is_ok_and(|own| identity(&own) == identity(&there));
            if path.symlink_metadata().is_ok_and(is_it) {
                let Some(journal) = Journal::of(&lock) else { bail!(not_ours(home)) };
                return Ok(Some(Self { home: home.to_path_buf(), lock, journal }));
            }
        }
        bail!(not_ours(home))
    }

    /// Where the files lie that are to be moved in.
    pub fn files(&self) -> PathBuf {
        self.home.join(FILES)
    }

    /// Whether the journal was written; a run may have been stopped before.
    pub const fn is_written(&self) -> bool {
        !self.journal.lock.is_empty()
    }

    /// The folder itself.
    pub fn home(&self) -> &Path {
        &self.home
    }

    /// A file that is to be moved in, and one that was moved out.
    pub fn ready(&self, name: &Path) -> Result<PathBuf> {
        below(&self.home, &Path::new(FILES).join(name))
    }

    pub fn old(&self, name: &Path) -> Result<PathBuf> {
        below(&self.home, &Path::new(OLD).join(name))
    }

    /// Makes the folders for a file that is moved out.
    pub fn make_old(&self, name: &Path) -> io::Result<()> {
        make_folders(&self.home, &Path::new(OLD).join(name))
    }

    /// Gives the folder another name, which must be free.
    pub fn rename(&mut self, home: &Path) -> io::Result<()> {
        fs::rename(&self.home, home)?;
        self.went_to(home);
        Ok(())
    }

    /// The folder has another path, since one above it was renamed.
    pub fn went_to(&mut self, home: &Path) {
        self.home = home.to_path_buf();
    }

    /// Writes down which files there will be, before the first is.
    pub fn begin(&mut self, new: Vec<PathBuf>, stale: Vec<PathBuf>) -> Result<()> {
        let context = || format!("cannot write in {}", parent(&self.home).display());
        let lock = identity(&self.lock.metadata().with_context(context)?);
        self.journal = Journal { lock, new, stale };
        let text = serde_json::to_vec(&self.journal).context("a name is not UTF-8")?;
        let mut file = &self.lock;
        file.rewind().and_then(|()| file.set_len(0)).and_then(|()| file.write_all(&text)).with_context(context)?;
        fs::create_dir(self.files()).with_context(context)
    }

    /// Writes all files; messages name the places below `folder` where they are to be.
    pub fn fill(&mut self, files: &[&File<'_>], stale: Vec<PathBuf>, folder: &Path) -> Result<()> {
        self.begin(files.iter().map(|file| PathBuf::from(&file.name)).collect(), stale)?;
        self.write(files, folder)
    }

    fn write(&self, files: &[&File<'_>], folder: &Path) -> Result<()> {
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

    /// Takes everything away that the journal names; that anything else is there is an error.
    fn clear(&self) -> Result<()> {
        if self.is_written() {
            // The lock of a new folder, which lies in it before the folder has its place.
            clear(&self.ready(Path::new(NAME))?)?;
        }
        let names = || self.journal.new.iter().chain(&self.journal.stale);
        // Where nothing was written down, nothing is ours but the lock.
        for sub in [FILES, OLD].map(Path::new).into_iter().filter(|_| self.is_written()) {
            for path in names().filter_map(|name| below(&self.home, &sub.join(name)).ok()).filter(|path| is_file(path))
            {
                fs::remove_file(&path).with_context(|| format!("cannot take away {}", path.display()))?;
            }
            // Deepest first; one that holds something stays.
            let within = names().flat_map(|name| name.ancestors().skip(1)).chain([Path::new("")]);
            for folder in within.filter_map(|folder| below(&self.home, &sub.join(folder)).ok()) {
                drop(fs::remove_dir(folder));
            }
        }
        let others = |mut all: fs::ReadDir| all.any(|entry| entry.is_ok_and(|entry| entry.file_name() != LOCK));
        ensure!(!fs::read_dir(&self.home).is_ok_and(others), not_ours(&self.home));
        Ok(())
    }

    /// Takes the folder away.
    pub fn remove(mut self) -> Result<()> {
        let cleared = self.clear();
        if cleared.is_ok() {
            self.unlock();
        }
        self.home = PathBuf::new();
        cleared
    }

    /// The lock goes last. Another run may have taken the folder then.
    fn unlock(&self) {
        drop(fs::remove_file(self.home.join(LOCK)));
        drop(fs::remove_dir(&self.home));
    }

    /// Leaves the folder where it is.
    pub fn keep(mut self) {
        self.home = PathBuf::new();
    }
}

impl Drop for Stage {
    fn drop(&mut self) {
        if !self.home.as_os_str().is_empty() && self.clear().is_ok() {
            self.unlock();
        }
    }
}

impl Journal {
    /// What a lock holds: nothing where a run was stopped before it wrote; `None` where it is no lock of a run on this disk.
    fn of(lock: &fs::File) -> Option<Self> {
        let mut text = String::new();
        lock.take(LARGEST).read_to_string(&mut text).ok()?;
        if text.is_empty() {
            return Some(Self::default());
        }
        let journal: Self = serde_json::from_str(&text).ok()?;
        let is_ours = lock.metadata().is_ok_and(|about| identity(&about) == journal.lock)
            && journal.new.iter().chain(&journal.stale).all(|name| stays_below(name));
        is_ours.then_some(journal)
    }
}

/// What no other file has, and nobody can choose: its number on the disk and when it was made.
fn identity(about: &Metadata) -> String {
    let made = about.created().ok().and_then(|time| time.duration_since(UNIX_EPOCH).ok()).unwrap_or_default();
    #[cfg(unix)]
    let number = std::os::unix::fs::MetadataExt::ino(about);
    #[cfg(not(unix))]
    let number = 0;
    format!("{number}-{}", made.as_nanos())
}

fn cannot_open(path: &Path) -> String {
    format!("cannot open {}", path.display())
}

fn not_ours(home: &Path) -> String {
    format!(
        "{} holds what no run on this disk left there; nothing in it was touched and nothing written: see what it is, move \
         it away, and run again",
        home.display()
    )
}

/// Whether a name is nothing but names of folders and a file.
fn stays_below(name: &Path) -> bool {
    name.components().all(|part| matches!(part, Component::Normal(_))) && name.file_name().is_some()
}

/// The path of a name below a folder, where no link on the way leads elsewhere.
pub fn below(folder: &Path, name: &Path) -> Result<PathBuf> {
    ensure!(stays_below(name), "{} is no name of a file", name.display());
    let mut within = name.ancestors().skip(1).map(|part| folder.join(part)).take_while(|path| path != folder);
    if let Some(link) = within.find(|path| path.is_symlink()) {
        bail!("{} is a link, and what lies behind it is left alone", link.display());
    }
    Ok(folder.join(name))
}

/// Whether a file stands there, and not a link to one.
pub fn is_file(path: &Path) -> bool {
    path.symlink_metadata().is_ok_and(|about| about.is_file())
}

/// Makes the folders of a name below a folder, which is not made itself: where somebody took it away, it would lack what was
/// written into it before.
pub fn make_folders(home: &Path, name: &Path) -> io::Result<()> {
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
fn take(file: &fs::File, what: &Path) -> Result<()> {
    match file.try_lock() {
        Err(TryLockError::WouldBlock) => {
            bail!("another run is writing to {}; wait until it is done", parent(what).display())
        }
        // A file system without locks: then two runs at a time are not told apart.
        Ok(()) | Err(TryLockError::Error(_)) => Ok(()),
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    const NAMES: [&str; 4] = ["layout.json", "panels/S1.svg", "panels/S2.svg", "sheets/R1.svg"];

    #[test]
    fn a_folder_that_goes_away_between_two_files_is_never_made_anew() {
        let files = NAMES.map(|name| File::new(name.to_owned(), b"new".to_vec()));
        for lost in [".out.part", ".out.part/new"] {
            for (first, rest) in (0..files.len()).map(|done| files.split_at(done)) {
                let place = tempfile::tempdir().unwrap();
                let mut stage = Stage::new(&place.path().join(".out.part")).unwrap();
                stage.begin(Vec::new(), Vec::new()).unwrap();
                stage.write(&first.iter().collect::<Vec<_>>(), Path::new("out")).unwrap();
                fs::remove_dir_all(place.path().join(lost)).unwrap();
                let error = stage.write(&rest.iter().collect::<Vec<_>>(), Path::new("out")).unwrap_err();
                assert!(error.to_string().starts_with("cannot write out"), "{error}");
                let kind = error.downcast_ref::<io::Error>().map(io::Error::kind);
                assert_eq!(kind, Some(ErrorKind::NotFound), "{lost} after {}", first.len());
                assert!(!stage.files().exists());
            }
        }
    }
}
