//! Files that records name: which of them are read, how much of them, and what is told of them.

use std::borrow::Cow;
use std::io::{self, Read};
use std::path::{Component, Path, PathBuf};

use anyhow::{Context, Result, anyhow, ensure};
use plumbrail::catalog::CatalogError;
use plumbrail::write::batch::{Failure, FailureCode};

use super::reply::{failure, too_large};
use crate::args::Batch;
use crate::{config, read};

/// Out of which no file leads.
pub struct Fence {
    /// The folder, links followed; without one every file may be named.
    under: Option<PathBuf>,
    /// No file may have more bytes.
    most: usize,
}

impl Fence {
    pub fn new(args: &Batch) -> Result<Self> {
        let real = |folder: &PathBuf| {
            let real = folder.canonicalize().with_context(|| format!("--files-under: {}", folder.display()))?;
            ensure!(real.is_dir(), "--files-under: {} is no folder", folder.display());
            Ok(real)
        };
        Ok(Self { under: args.files_under.as_ref().map(real).transpose()?, most: args.max_record })
    }

    /// A plan: the file that it is, links followed where there is a fence, and its bytes.
    pub fn plan<'p>(&self, path: &'p Path) -> Result<(Cow<'p, Path>, Vec<u8>), Failure> {
        let read = self.real(path).and_then(|real| Ok((real.clone(), self.read(&real)?)));
        read.map_err(|f| Failure { message: format!("cannot read {}: {}", path.display(), f.message), ..f })
    }

    /// The text of a file that a job or a rule set names. The root of an error does not name the file, which may itself be
    /// named in a file.
    pub fn text(&self, path: &Path) -> Result<String> {
        let read = self.real(path).and_then(|real| self.read(&real)).map_err(|f| anyhow!(f.message));
        let text = read.and_then(|bytes| String::from_utf8(bytes).map_err(|_| anyhow!("it is not UTF-8 text")));
        text.with_context(|| format!("cannot read {}", path.display()))
    }

    /// A file that lies outside and one that does not exist are told alike: nobody finds out what there is.
    fn real<'p>(&self, path: &'p Path) -> Result<Cow<'p, Path>, Failure> {
        let Some(under) = &self.under else { return Ok(Cow::Borrowed(path)) };
        let climbs = path.components().any(|part| part == Component::ParentDir);
        let real = path.canonicalize().ok().filter(|real| !climbs && real.starts_with(under));
        let hint = || Some("name a file in it, without `..` and without links that lead out of it".to_owned());
        let why = "there is no such file under the folder of --files-under";
        real.map(Cow::Owned).ok_or_else(|| Failure { hint: hint(), ..failure(FailureCode::Unreadable, why) })
    }

    /// The bytes of a file: never of a pipe or a device, which may have no end.
    fn read(&self, path: &Path) -> Result<Vec<u8>, Failure> {
        let unreadable = |why: io::Error| failure(FailureCode::Unreadable, why.to_string());
        let file = read::options(true).open(path).map_err(unreadable)?;
        let about = file.metadata().map_err(unreadable)?;
        if !about.is_file() {
            return Err(failure(FailureCode::Unreadable, "it is no file"));
        }
        let most = self.most as u64;
        let mut bytes = Vec::new();
        file.take(most.saturating_add(1)).read_to_end(&mut bytes).map_err(unreadable)?;
        if bytes.len() as u64 > most {
            return Err(too_large(&format!("it has {} bytes", about.len()), self.most));
        }
        Ok(bytes)
    }
}

/// What is wrong with a system or a rule set (`what`) that options name. Of a file nothing is quoted: who names it may not be
/// the one who may read it.
pub fn unusable(what: &str, name: Option<&str>, error: &anyhow::Error) -> Failure {
    let catalog = error.downcast_ref::<CatalogError>();
    let Some(file) = name.filter(|name| config::is_file(name)) else {
        let hint = catalog.and_then(|c| c.hint.clone());
        return Failure { hint, ..failure(FailureCode::BadRecord, format!("options: {error:#}")) };
    };
    let why = match catalog {
        Some(error) => error.place.clone().unwrap_or_else(|| "what stands in it cannot be used".to_owned()),
        None => error.root_cause().to_string(),
    };
    let hint = format!("`plumbrail panel 6ft --{what} {file}` tells more");
    let why = format!("options: {what} {file}: {why}");
    Failure { hint: Some(hint), ..failure(FailureCode::BadRecord, why) }
}
