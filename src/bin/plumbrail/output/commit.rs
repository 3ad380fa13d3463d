//! Moves staged files into a folder that is there. From its beginning to its end the folder holds `plumbrail-unfinished`, with
//! the files that are yet to be moved in and those that were moved out: enough to finish, and enough to put all back.

use std::fs;
use std::io::ErrorKind;
use std::path::{Path, PathBuf};

use anyhow::{Context, Result, ensure};

use super::stage::{self, Stage, below, is_file};

/// Not hidden: who opens the folder while it is there shall see that not all files in it belong together.
const UNFINISHED: &str = "plumbrail-unfinished";

/// The moving of one run's files.
pub struct Commit {
    stage: Stage,
    folder: PathBuf,
}

impl Commit {
    /// From here on the files are as good as in their places: a run that is stopped later is finished by the next.
    pub fn begin(mut stage: Stage, folder: &Path) -> Result<Self> {
        let context = || format!("cannot write in {}", folder.display());
        stage.rename(&folder.join(UNFINISHED)).with_context(context)?;
        Ok(Self { stage, folder: folder.to_path_buf() })
    }

    /// Moves all files into their places that are not there yet, and the stale ones away.
    pub fn run(&self) -> Result<()> {
        let journal = &self.stage.journal;
        journal.new.iter().try_for_each(|name| self.put(name))?;
        journal.stale.iter().try_for_each(|name| self.take_away(name))
    }

    /// All is done: what was moved out goes.
    pub fn end(mut self) -> Result<()> {
        // Under its first name nothing in it counts, so a run that is stopped while it clears away has done all. Where that
        // name is taken, by a run that will find this one and end, it goes from where it is.
        drop(self.stage.rename(&self.folder.join(stage::NAME)));
        self.stage.remove()
    }

    /// Puts everything back, and says why.
    pub fn undo(mut self, error: anyhow::Error) -> anyhow::Error {
        match self.put_back() {
            Ok(()) => {
                drop(self.stage.rename(&self.folder.join(stage::NAME)));
                error
            }
            Err(second) => {
                let home = self.stage.home().display().to_string();
                self.stage.keep();
                second.context(format!("{error:#}; and not all was put back, see {home}: the next run goes on"))
            }
        }
    }

    fn put(&self, name: &Path) -> Result<()> {
        let (place, ready, old) = (below(&self.folder, name)?, self.stage.ready(name)?, self.stage.old(name)?);
        if ready.symlink_metadata().is_err() && self.stage.home().exists() {
            return Ok(());
        }
        let context = || format!("cannot write {}", place.display());
        stage::make_folders(&self.folder, name).with_context(context)?;
        let is_left = ready.symlink_metadata().map_or(true, |about| about.is_file());
        ensure!(is_left, "{} is no file that a run has left", ready.display());
        if place.symlink_metadata().is_ok() && old.symlink_metadata().is_err() {
            super::may_be_replaced(&place, place.symlink_metadata())?;
            self.stage.make_old(name).with_context(context)?;
            // With a link there is no moment without the file; not every file system has them.
            fs::hard_link(&place, &old).or_else(|_| fs::rename(&place, &old)).with_context(context)?;
        }
        fs::rename(ready, &place).with_context(context)
    }

    fn take_away(&self, name: &Path) -> Result<()> {
        let (place, old) = (below(&self.folder, name)?, self.stage.old(name)?);
        let context = || format!("cannot replace {}", place.display());
        if !is_file(&place) {
            return Ok(());
        }
        self.stage.make_old(name).with_context(context)?;
        match fs::rename(&place, old) {
            Err(error) if error.kind() != ErrorKind::NotFound => Err(error).with_context(context),
            _ => Ok(()),
        }
    }

    /// At each step the files that lie ready are those that would have to be moved in to finish.
    fn put_back(&self) -> Result<()> {
        let journal = &self.stage.journal;
        for name in journal.stale.iter().rev() {
            let old = self.stage.old(name)?;
            if is_file(&old) {
                fs::rename(old, below(&self.folder, name)?)?;
            }
        }
        for name in journal.new.iter().rev() {
            let (place, ready, old) = (below(&self.folder, name)?, self.stage.ready(name)?, self.stage.old(name)?);
            if ready.symlink_metadata().is_err() {
                fs::rename(&place, ready)?;
            }
            if is_file(&old) {
                fs::rename(old, place)?;
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
    if !stage.is_written() {
        return stage.remove();
    }
    let commit = Commit { stage, folder: folder.to_path_buf() };
    match commit.run() {
        Ok(()) => commit.end(),
        Err(error) => {
            commit.stage.keep();
            Err(error.context("an earlier run was stopped while it moved its files in, and they cannot be moved now"))
        }
    }
}

#[cfg(test)]
mod tests {
    use super::super::{File, recover};
    use super::*;
    use anyhow::anyhow;

    const STEPS: usize = 4;

    fn write(folder: &Path, files: &[(&str, &str)]) {
        for (name, text) in files {
            fs::create_dir_all(folder.join(name).parent().unwrap()).unwrap();
            fs::write(folder.join(name), text).unwrap();
        }
    }

    /// Every file below a folder, sorted.
    fn files(folder: &Path) -> Vec<(String, String)> {
        let mut out = Vec::new();
        for path in fs::read_dir(folder).into_iter().flatten().map(|entry| entry.unwrap().path()) {
            let name = path.file_name().unwrap().to_str().unwrap().to_owned();
            if path.is_dir() {
                out.extend(files(&path).into_iter().map(|(below, text)| (format!("{name}/{below}"), text)));
            } else {
                out.push((name, fs::read_to_string(&path).unwrap()));
            }
        }
        out.sort();
        out
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
        let mut stage = Stage::new(&folder.join(stage::NAME)).unwrap();
        stage.fill(&new.iter().collect::<Vec<_>>(), vec!["panels/S2".into()], folder).unwrap();
        let commit = Commit::begin(stage, folder).unwrap();
        let stage::Journal { new, stale, .. } = &commit.stage.journal;
        new.iter().take(steps).for_each(|name| commit.put(name).unwrap());
        stale.iter().take(steps.saturating_sub(new.len())).for_each(|n| commit.take_away(n).unwrap());
        commit
    }

    #[test]
    fn one_that_was_stopped_after_any_step_is_finished() {
        for steps in 0..=STEPS {
            let home = tempfile::tempdir().unwrap();
            let commit = after(steps, home.path());
            // Stopped within a step: the old file has a second name, the new one is not in its place.
            if let Some(name) = commit.stage.journal.new.get(steps).filter(|name| home.path().join(name).exists()) {
                commit.stage.make_old(name).unwrap();
                fs::hard_link(home.path().join(name), commit.stage.old(name).unwrap()).unwrap();
            }
            commit.stage.keep();
            assert!(is_unfinished(home.path()));
            recover(home.path()).unwrap();
            assert!(is(home.path(), &NEW_SET), "after {steps}: {:?}", files(home.path()));
        }
    }

    /// Somebody put a link where a file lies ready, where one is to be, or where a folder is.
    #[cfg(unix)]
    #[test]
    fn what_was_put_in_the_way_is_left_alone() {
        use std::os::unix::fs::symlink;
        for place in ["a", "panels", "plumbrail-unfinished/new/b", "plumbrail-unfinished/new/panels"] {
            let (home, aside) = (tempfile::tempdir().unwrap(), tempfile::tempdir().unwrap());
            write(aside.path(), &[("S1", "of the user"), ("S2", "of the user")]);
            let commit = after(0, home.path());
            commit.stage.keep();
            let place = home.path().join(place);
            fs::rename(&place, home.path().join("moved")).unwrap();
            let to =
                if home.path().join("moved").is_dir() { aside.path().to_path_buf() } else { aside.path().join("S1") };
            symlink(to, &place).unwrap();
            let error = format!("{:#}", recover(home.path()).unwrap_err());
            assert!(error.contains(" is a link") || error.contains(" is no file that a run has left"), "{error}");
            assert!(place.is_symlink());
            assert!(files(aside.path()).iter().all(|(_, text)| text == "of the user"));
            assert_eq!(files(aside.path()).len(), 2);
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
