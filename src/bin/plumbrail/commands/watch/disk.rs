//! What is watched on the disk: the files themselves are looked at, the system's notices only tell when.

use std::collections::{BTreeMap, BTreeSet};
use std::fs::Metadata;
use std::path::{Path, PathBuf};
use std::sync::mpsc::Sender;
use std::time::{Duration, UNIX_EPOCH};

use notify::{RecommendedWatcher, RecursiveMode, Watcher};

use super::worker::Wake;

/// Listens for notices. Where the system gives none, as on some network drives, the worker looks by itself.
pub struct Eyes {
    watcher: Option<RecommendedWatcher>,
    folders: BTreeSet<PathBuf>,
}

impl Eyes {
    /// Opens them; each notice wakes the worker.
    pub fn open(wake: Sender<Wake>) -> Self {
        // Who watches a folder also hears of its own reading there.
        let is_change = |event: &notify::Event| !matches!(event.kind, notify::EventKind::Access(_));
        let watcher = notify::recommended_watcher(move |event: notify::Result<notify::Event>| {
            if event.is_ok_and(|e| is_change(&e)) {
                // The worker is gone only when the program ends.
                drop(wake.send(Wake::Disk));
            }
        });
        Self { watcher: watcher.ok(), folders: BTreeSet::new() }
    }

    /// Listens in the folders of these files: a file that is replaced by renaming is another one, its folder stays.
    pub fn rest_on(&mut self, files: &[PathBuf]) {
        for folder in files.iter().map(|file| folder_of(file)) {
            if let Some(watcher) = self.watcher.as_mut().filter(|_| !self.folders.contains(folder))
                && watcher.watch(folder, RecursiveMode::NonRecursive).is_ok()
            {
                self.folders.insert(folder.to_path_buf());
            }
        }
    }
}

fn folder_of(file: &Path) -> &Path {
    file.parent().filter(|p| !p.as_os_str().is_empty()).unwrap_or(Path::new("."))
}

/// What tells one state of a file from the next.
#[derive(Debug, Clone, PartialEq, Eq)]
struct Stamp {
    length: u64,
    modified: Option<Duration>,
    number: u64,
}

impl Stamp {
    fn of(about: &Metadata) -> Self {
        #[cfg(unix)]
        let number = std::os::unix::fs::MetadataExt::ino(about);
        #[cfg(not(unix))]
        let number = 0;
        let modified = about.modified().ok().and_then(|time| time.duration_since(UNIX_EPOCH).ok());
        Self { length: about.len(), modified, number }
    }
}

/// Files and the state in which each was seen last.
#[derive(Debug, Default)]
pub struct Seen(BTreeMap<PathBuf, Option<Stamp>>);

impl Seen {
    /// Takes these files instead of those before.
    pub fn follow(&mut self, files: &[PathBuf]) {
        let known = std::mem::take(&mut self.0);
        for file in files {
            let stamp = known.get(file).cloned().unwrap_or_else(|| stamp(file));
            self.0.insert(file.clone(), stamp);
        }
    }

    /// Whether a file has changed since it was looked at last.
    pub fn look(&mut self) -> bool {
        let mut has_changed = false;
        for (file, seen) in &mut self.0 {
            let now = stamp(file);
            has_changed |= now != *seen;
            *seen = now;
        }
        has_changed
    }
}

fn stamp(file: &Path) -> Option<Stamp> {
    file.metadata().ok().map(|about| Stamp::of(&about))
}
