//! Where the threads of `watch` meet: the newest layout, its files, and what is told of the newest save.

use std::sync::{Arc, Condvar, Mutex, MutexGuard, PoisonError};
use std::time::Duration;

use plumbrail::Outcome;
use plumbrail::catalog::Settings;
use serde::Serialize;

use crate::read::Bytes;

/// A layout that is shown.
pub struct Shown {
    /// The layout.
    pub outcome: Outcome,
    /// What it was laid out with.
    pub settings: Settings,
    /// The drawing that it came from.
    pub bytes: Bytes,
    /// Whether the form of the page has a part in it: such a layout is not written into the folder.
    pub is_preview: bool,
}

/// What the page is told; each kind has a name of its own among the events.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Topic {
    /// The plan with its findings and settings.
    Plan,
    /// How it stands with the newest save.
    Status,
    /// The files that can be downloaded.
    Files,
}

impl Topic {
    /// Each, in the order in which a new page needs them.
    pub const ALL: [Self; 3] = [Self::Plan, Self::Status, Self::Files];

    /// Its name among the events.
    pub const fn name(self) -> &'static str {
        match self {
            Self::Plan => "plan",
            Self::Status => "status",
            Self::Files => "files",
        }
    }
}

/// How it stands with the newest save.
#[derive(Debug, Clone, PartialEq, Eq, Serialize)]
#[serde(tag = "state", rename_all = "kebab-case")]
pub enum Standing {
    /// It is shown.
    Shown,
    /// It is not usable so far, as a file is that is still being written.
    Waiting { why: String },
    /// It is not usable; what is shown is the layout before it, if there was one.
    Kept { why: String },
    /// It is shown, but its files could not be written.
    Unwritten { why: String },
}

/// The files of a layout by name.
pub type Files = Arc<Vec<(String, Vec<u8>)>>;

/// A file to download: its name, and how large it is.
#[derive(Serialize)]
struct Listed<'a> {
    name: &'a str,
    bytes: usize,
}

/// What stands on the board.
#[derive(Default)]
struct Sheet {
    /// Counts everything that is put here.
    count: u64,
    /// The newest text of each topic, and its number.
    texts: [Option<(u64, Arc<str>)>; 3],
    standing: Option<Standing>,
    /// Number of the layout that is shown.
    layout: u64,
    /// A layout whose files are still to be made.
    to_make: Option<(u64, Arc<Shown>)>,
    files: Option<Files>,
}

impl Sheet {
    fn put(&mut self, topic: Topic, text: String) {
        self.count += 1;
        if let Some(place) = self.texts.get_mut(topic as usize) {
            *place = Some((self.count, text.into()));
        }
    }

    fn stand(&mut self, standing: Standing) {
        if self.standing.as_ref() != Some(&standing) {
            self.put(Topic::Status, json(&standing));
            self.standing = Some(standing);
        }
    }
}

/// The board.
#[derive(Default)]
pub struct Board {
    sheet: Mutex<Sheet>,
    changed: Condvar,
}

impl Board {
    /// Nothing that holds the lock can fail half-way, so what a thread left that ended in it is whole.
    fn sheet(&self) -> MutexGuard<'_, Sheet> {
        self.sheet.lock().unwrap_or_else(PoisonError::into_inner)
    }

    /// A new layout, and the text of its plan.
    pub fn show(&self, shown: Shown, plan: String) {
        let mut sheet = self.sheet();
        sheet.layout += 1;
        sheet.files = None;
        let number = sheet.layout;
        sheet.to_make = Some((number, Arc::new(shown)));
        sheet.put(Topic::Plan, plan);
        sheet.put(Topic::Files, json(&Vec::<Listed<'_>>::new()));
        sheet.stand(Standing::Shown);
        drop(sheet);
        self.changed.notify_all();
    }

    /// How it stands with the newest save.
    pub fn stand(&self, standing: Standing) {
        self.sheet().stand(standing);
        self.changed.notify_all();
    }

    /// Waits for the next layout whose files are to be made.
    pub fn next(&self) -> (u64, Arc<Shown>) {
        let mut sheet = self.sheet();
        loop {
            if let Some(next) = sheet.to_make.take() {
                return next;
            }
            sheet = self.changed.wait(sheet).unwrap_or_else(PoisonError::into_inner);
        }
    }

    /// The files of a layout; those of one that is no longer shown are left out.
    pub fn made(&self, number: u64, files: Files, written: Option<Standing>) {
        let mut sheet = self.sheet();
        if sheet.layout == number {
            let listed: Vec<Listed<'_>> =
                files.iter().map(|(name, bytes)| Listed { name, bytes: bytes.len() }).collect();
            sheet.put(Topic::Files, json(&listed));
            sheet.files = Some(files);
            if let Some(standing) = written.filter(|_| sheet.standing == Some(Standing::Shown)) {
                sheet.stand(standing);
            }
        }
        drop(sheet);
        self.changed.notify_all();
    }

    /// A file of the layout that is shown, by its name.
    pub fn file(&self, name: &str) -> Option<Vec<u8>> {
        let files = self.sheet().files.clone()?;
        files.iter().find(|(n, _)| n == name).map(|(_, bytes)| bytes.clone())
    }

    /// What was put here after `seen`, oldest first; waits for something, but not longer than `most`.
    pub fn since(&self, seen: u64, most: Duration) -> Vec<(u64, Topic, Arc<str>)> {
        let sheet = self.sheet();
        let waited = self.changed.wait_timeout_while(sheet, most, |sheet| sheet.count <= seen);
        let (sheet, _) = waited.unwrap_or_else(PoisonError::into_inner);
        let texts = Topic::ALL.into_iter().zip(&sheet.texts);
        let newer = texts.filter_map(|(topic, text)| text.as_ref().map(|(n, text)| (*n, topic, Arc::clone(text))));
        let mut newer: Vec<_> = newer.filter(|(n, _, _)| *n > seen).collect();
        newer.sort_by_key(|(n, _, _)| *n);
        newer
    }
}

/// JSON of a type of ours, which always has one.
pub fn json(value: &impl Serialize) -> String {
    serde_json::to_string(value).unwrap_or_default()
}
