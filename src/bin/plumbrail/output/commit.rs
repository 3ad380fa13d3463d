//! Moves staged files into a folder that is there. From its beginning to its end the folder holds `plumbrail-unfinished`, with
//! the files that are yet to be moved in and those that were moved out: enough to finish, and enough to put all back.

use std::fs;
use std::io::ErrorKind;
use std::path::{Path, PathBuf};

use anyhow::{Context, Result, anyhow};

use super::stage::{self, Stage};

/// Not hidden: who opens the folder while it is there shall see that not all files in it belong together.
const UNFINISHED: &str = "plumbrail-unfinished";

/// Names of the files that go, as JSON.
const STALE: &str = "stale.json";

/// What was moved out.
const OLD: &str = "old";

/// The moving of one run's files.
pub struct Commit {
    stage: Stage,
    folder: PathBuf,
    /// What is to be moved in, and what is to go, by their paths in the folder.
    new: Vec<PathBuf>,
    stale: Vec<PathBuf>,
}

impl Commit {
    /// From here on the files are as good as in their places: a run that is stopped later is finished by the next.
    pub fn begin(stage: Stage, folder: &Path, stale: &[PathBuf]) -> Result<Self> {
        let stale: Vec<&Path> = stale.iter().filter_map(|path| path.strip_prefix(folder).ok()).collect();
        let list = serde_json::to_vec(&stale).context("a name is not UTF-8")?;
        let context = || format!("cannot write in {}", folder.display());
        fs::write(stage.home().join(STALE), list).with_context(context)?;
        let mut commit = Self::of(stage, folder)?;
        commit.stage.rename(&folder.join(UNFINISHED)).with_context(context)?;
        Ok(commit)
    }

    fn of(stage: Stage, folder: &Path) -> Result<Self> {
        let mut new = Vec::new();
        walk(&stage.files(), Path::new(""), &mut new)
            .with_context(|| format!("cannot read {}", stage.home().display()))?;
        let stale = fs::read(stage.home().join(STALE)).ok().and_then(|list| serde_json::from_slice(&list).ok());
        Ok(Self { stage, folder: folder.to_path_buf(), new, stale: stale.unwrap_or_default() })
    }

    /// Moves all files into their places, and the stale ones away.
    pub fn run(&self) -> Result<()> {
        self.new.iter().try_for_each(|name| self.put(name))?;
        self.stale.iter().try_for_each(|name| self.take_away(name))
    }

    /// All is done: what was moved out goes.
    pub fn end(self) -> Result<()> {
        self.stage.remove()
    }

    /// Puts everything back, and says why.
    pub fn undo(mut self, error: anyhow::Error) -> anyhow::Error {
        // Under its first name nothing in it counts, so a run that is stopped while it clears away has done nothing.
        match self.put_back().and_then(|()| self.stage.rename(&self.folder.join(stage::NAME))) {
            Ok(()) => error,
            Err(second) => {
                let home = self.stage.home().display().to_string();
                self.stage.keep();
                anyhow!(second)
                    .context(format!("{error:#}; and not all was put back, see {home}: the next run goes on"))
            }
        }
    }

    fn old(&self, name: &Path) -> PathBuf {
        self.stage.home().join(OLD).join(name)
    }

    fn put(&self, name: &Path) -> Result<()> {
        let (place, old) = (self.folder.join(name), self.old(name));
        let context = || format!("cannot write {}", place.display());
        fs::create_dir_all(super::parent(&place)).with_context(context)?;
        if place.symlink_metadata().is_ok() && old.symlink_metadata().is_err() {
            fs::create_dir_all(super::parent(&old)).with_context(context)?;
            // With a link there is no moment without the file; not every file system has them.
            fs::hard_link(&place, &old).or_else(|_| fs::rename(&place, &old)).with_context(context)?;
        }
        fs::rename(self.stage.files().join(name), &place).with_context(context)
    }

    fn take_away(&self, name: &Path) -> Result<()> {
        let (place, old) = (self.folder.join(name), self.old(name));
        let context = || format!("cannot replace {}", place.display());
        fs::create_dir_all(super::parent(&old)).with_context(context)?;
        match fs::rename(&place, old) {
            Err(error) if error.kind() != ErrorKind::NotFound => Err(error).with_context(context),
            _ => Ok(()),
        }
    }

    /// At each step the files that lie ready are those that would have to be moved in to finish.
    fn put_back(&self) -> std::io::Result<()> {
        for name in self.stale.iter().rev().filter(|name| self.old(name).symlink_metadata().is_ok()) {
            fs::rename(self.old(name), self.folder.join(name))?;
        }
        for name in self.new.iter().rev() {
            let (place, ready) = (self.folder.join(name), self.stage.files().join(name));
            if ready.symlink_metadata().is_err() {
                fs::rename(&place, ready)?;
            }
            if self.old(name).symlink_metadata().is_ok() {
                fs::rename(self.old(name), place)?;
            }
        }
        Ok(())
    }
}

/// Whether a run was stopped while it moved its files into this folder.
pub fn is_unfinished(folder: &Path) -> bool {
    folder.join(UNFINISHED).is_dir()
}

/// Finishes what a run began that was stopped.
pub fn finish_left(folder: &Path) -> Result<()> {
    let Some(stage) = Stage::left(&folder.join(UNFINISHED))? else { return Ok(()) };
    let commit = Commit::of(stage, folder)?;
    match commit.run() {
        Ok(()) => commit.end(),
        Err(error) => {
            commit.stage.keep();
            Err(error.context("an earlier run was stopped while it moved its files in, and they cannot be moved now"))
        }
    }
}

/// Every file below a folder, sorted; nothing where there is no folder.
fn walk(folder: &Path, before: &Path, out: &mut Vec<PathBuf>) -> std::io::Result<()> {
    let entries = match fs::read_dir(folder) {
        Err(error) if error.kind() == ErrorKind::NotFound => return Ok(()),
        entries => entries?,
    };
    let mut names = entries.map(|entry| entry.map(|e| e.file_name())).collect::<std::io::Result<Vec<_>>>()?;
    names.sort();
    for name in names {
        let (path, shown) = (folder.join(&name), before.join(&name));
        if path.is_dir() { walk(&path, &shown, out)? } else { out.push(shown) }
    }
    Ok(())
}

#[cfg(test)]
mod tests {
    use super::super::{File, recover};
    use super::*;

    const STEPS: usize = 4;

    fn write(folder: &Path, files: &[(&str, &str)]) {
        for (name, text) in files {
            fs::create_dir_all(folder.join(name).parent().unwrap()).unwrap();
            fs::write(folder.join(name), text).unwrap();
        }
    }

    fn files(folder: &Path) -> Vec<(String, String)> {
        let mut names = Vec::new();
        walk(folder, Path::new(""), &mut names).unwrap();
        names.iter().map(|n| (n.display().to_string(), fs::read_to_string(folder.join(n)).unwrap())).collect()
    }

    const OLD_SET: [(&str, &str); 4] =
        [("a", "old"), ("notes", "of the user"), ("panels/S1", "old"), ("panels/S2", "old")];
    const NEW_SET: [(&str, &str); 4] = [("a", "new"), ("b", "new"), ("notes", "of the user"), ("panels/S1", "new")];

    fn is(folder: &Path, set: &[(&str, &str)]) -> bool {
        files(folder).iter().map(|(name, text)| (name.as_str(), text.as_str())).eq(set.iter().copied())
    }

    /// A commit that did so many steps: three files moved in, one away.
    fn after(steps: usize, folder: &Path) -> Commit {
        write(folder, &OLD_SET);
        let new = ["a", "b", "panels/S1"].map(|name| File::new(name.to_owned(), b"new".to_vec()));
        let stage = Stage::new(&folder.join(stage::NAME)).unwrap();
        stage.fill(&new, folder).unwrap();
        let commit = Commit::begin(stage, folder, &[folder.join("panels/S2")]).unwrap();
        commit.new.iter().take(steps).for_each(|name| commit.put(name).unwrap());
        commit.stale.iter().take(steps.saturating_sub(commit.new.len())).for_each(|n| commit.take_away(n).unwrap());
        commit
    }

    #[test]
    fn one_that_was_stopped_after_any_step_is_finished() {
        for steps in 0..=STEPS {
            let home = tempfile::tempdir().unwrap();
            let commit = after(steps, home.path());
            // Stopped within a step: the old file has a second name, the new one is not in its place.
            if let Some(name) = commit.new.get(steps).filter(|name| home.path().join(name).exists()) {
                fs::create_dir_all(commit.old(name).parent().unwrap()).unwrap();
                fs::hard_link(home.path().join(name), commit.old(name)).unwrap();
            }
            commit.stage.keep();
            assert!(is_unfinished(home.path()));
            recover(home.path()).unwrap();
            assert!(is(home.path(), &NEW_SET), "after {steps}: {:?}", files(home.path()));
        }
    }

    #[test]
    fn one_that_fails_after_any_step_is_undone() {
        for steps in 0..=STEPS {
            let home = tempfile::tempdir().unwrap();
            let error = after(steps, home.path()).undo(anyhow!("no more"));
            assert_eq!(format!("{error:#}"), "no more");
            assert!(is(home.path(), &OLD_SET), "after {steps}: {:?}", files(home.path()));
        }
    }

    /// Stopped while it puts back: the same as stopped while it moves in.
    #[test]
    fn one_that_was_half_undone_is_finished() {
        let home = tempfile::tempdir().unwrap();
        let commit = after(STEPS, home.path());
        fs::create_dir(commit.stage.files().join("b")).unwrap();
        fs::write(commit.stage.files().join("b/c"), "in the way").unwrap();
        fs::write(home.path().join("b"), "new").unwrap();
        let home_of = commit.stage.home().to_path_buf();
        fs::remove_file(home.path().join("a")).unwrap();
        let error = commit.undo(anyhow!("no more"));
        assert!(format!("{error:#}").contains("the next run goes on"), "{error:#}");
        fs::remove_dir_all(home_of.join("new/b")).unwrap();
        fs::write(home_of.join("new/a"), "new").unwrap();
        recover(home.path()).unwrap();
        assert!(is(home.path(), &NEW_SET), "{:?}", files(home.path()));
    }

    #[test]
    fn one_whose_folder_goes_away_after_any_step_fails() {
        for steps in 0..=STEPS {
            let home = tempfile::tempdir().unwrap();
            let folder = home.path().join("out");
            let commit = after(steps, &folder);
            fs::remove_dir_all(&folder).unwrap();
            let error = commit.run().unwrap_err();
            assert_eq!(error.to_string(), format!("cannot write {}", folder.join("a").display()), "after {steps}");
            drop(commit.undo(error));
            assert_eq!(files(home.path()), []);
        }
    }

    #[test]
    fn what_a_run_that_lives_is_writing_is_left_alone() {
        let home = tempfile::tempdir().unwrap();
        let commit = after(0, home.path());
        let before = files(home.path());
        let error = recover(home.path()).unwrap_err();
        assert!(error.to_string().starts_with("another run is writing to "), "{error}");
        assert_eq!(files(home.path()), before);
        assert!(Stage::new(&home.path().join(stage::NAME)).is_ok());
        commit.run().unwrap();
        commit.end().unwrap();
        assert!(is(home.path(), &NEW_SET));
    }
}
