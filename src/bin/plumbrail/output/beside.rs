//! One file: written beside its place, and put there by one rename; for the plan itself a backup is kept.

use std::fs;
use std::io::{self, BufWriter, Write};
use std::path::{Path, PathBuf};

use anyhow::{Context, Result, ensure};
use plumbrail::cad;

use super::stage::{self, Stage};
use super::{Content, parent, part};
use crate::read;

/// A file beside its place, in a stage of its own. It goes with the value, unless it was put there.
pub struct Beside {
    stage: Stage,
    place: PathBuf,
    file: fs::File,
}

/// What the file is called there.
const NAME: &str = "file";

impl Beside {
    /// Writes a content. What a link points to is replaced, not the link.
    pub fn new(content: &Content<'_>, place: &Path) -> Result<Self> {
        let (home, place) = paths(place)?;
        let mut stage = Stage::new(&home)?;
        let context = || format!("cannot write {}", place.display());
        stage.begin(vec![NAME.into()], Vec::new())?;
        let file = fs::File::create_new(stage.files().join(NAME)).with_context(context)?;
        // Nobody may read it who may not read what stands there.
        if let Ok(about) = fs::metadata(&place) {
            file.set_permissions(about.permissions()).with_context(context)?;
        }
        let mut out = BufWriter::with_capacity(1 << 16, &file);
        content.write_to(&mut out).and_then(|()| out.flush()).with_context(context)?;
        drop(out);
        Ok(Self { stage, place, file })
    }

    /// Puts it into its place.
    pub fn put(self) -> Result<()> {
        let ready = self.stage.files().join(NAME);
        fs::rename(ready, &self.place).with_context(|| format!("cannot write {}", self.place.display()))
    }

    /// Takes the place of the plan, which was read as `bytes` or made DXF from a DWG file. The plan stays beside it, and there
    /// is no moment in which none is in its place.
    pub fn replace(self, bytes: &[u8]) -> Result<()> {
        let plan = &self.place;
        let now = read::whole(plan).with_context(|| format!("cannot read {}", plan.display()))?;
        let is_same = cad::is_dwg(&now) || *now == *bytes;
        ensure!(is_same, "{} was changed while it was laid out, and was left as it is; run again", plan.display());
        // What was the user's must not be lost with the machine's power either.
        self.file.sync_all().with_context(|| format!("cannot write {}", plan.display()))?;
        let backup = backup_of(plan, &now)?;
        if !backup.exists() {
            let keep = || format!("cannot keep {} as a backup", plan.display());
            // Not every file system has links.
            fs::hard_link(plan, &backup).or_else(|_| copy(plan, &backup)).with_context(keep)?;
        }
        let folder = parent(plan).to_path_buf();
        // The backup's name is safe before the plan's goes to another file.
        keep_names(&folder);
        self.put()?;
        keep_names(&folder);
        Ok(())
    }
}

/// Does not come back before the names in a folder are safe. Where a folder cannot be synced, as on other systems and some
/// network drives, their order is left to the file system.
fn keep_names(folder: &Path) {
    if cfg!(unix) {
        drop(fs::File::open(folder).and_then(|folder| folder.sync_all()));
    }
}

/// Copies a file, and does not come back before the copy is safe.
fn copy(from: &Path, to: &Path) -> io::Result<()> {
    fs::copy(from, to)?;
    // What syncs a file must have it open for writing on other systems; on Unix it need not, and may not be allowed to.
    fs::File::options().read(true).write(cfg!(not(unix))).open(to)?.sync_all()
}

/// Takes away what a run left beside a place that was stopped.
pub fn clear(place: &Path) -> Result<()> {
    stage::clear(&paths(place)?.0)
}

/// Where a file is written, and where it is to be. The first is always the same, so that what is left there is found.
fn paths(place: &Path) -> Result<(PathBuf, PathBuf)> {
    let place = if place.is_symlink() {
        place.canonicalize().with_context(|| format!("cannot follow the link {}", place.display()))?
    } else {
        place.to_path_buf()
    };
    Ok((parent(&place).join(part(place.file_name().unwrap_or_default())), place))
}

/// The first name that is free: `plan.dxf.bak`, `plan.dxf.bak2` ... An older backup is never lost. One that holds the plan as
/// it is now, from a run that was stopped, will do.
fn backup_of(plan: &Path, now: &[u8]) -> Result<PathBuf> {
    let name = plan.file_name().unwrap_or_default().to_string_lossy();
    let mut number = 1_u64;
    loop {
        let end = if number == 1 { String::new() } else { number.to_string() };
        let backup = plan.with_file_name(format!("{name}.bak{end}"));
        let is_it = |about: fs::Metadata| {
            about.is_file() && about.len() == now.len() as u64 && fs::read(&backup).is_ok_and(|old| old == now)
        };
        if backup.symlink_metadata().map_or(true, is_it) {
            return Ok(backup);
        }
        number += 1;
    }
}
