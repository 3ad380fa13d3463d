//! Which files of a folder are ours that come and go with the deck: a later run that makes none of that name takes them away.
//! What is not written down, and what is not called as we call it, is never taken away.

use std::collections::BTreeMap;
use std::path::{Path, PathBuf};

use anyhow::{Context, Result};
use plumbrail::write::json::sha256;
use serde::{Deserialize, Serialize};
use sha2::{Digest, Sha256};

use super::stage::{below, is_file};
use super::{Content, File, There, same};
use crate::config;

/// Hidden, since it is of no use to a person.
const NAME: &str = ".plumbrail.json";

/// The files, and the SHA-256 of each that a user is asked to change: a plan with the rails in it.
#[derive(Default, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
struct Record {
    files: BTreeMap<String, Option<String>>,
}

/// The record of this run, if there is anything to write down, and what is to go.
pub fn next<'f>(folder: &Path, files: &[File<'_>], there: &There<'_>) -> Result<(Option<File<'f>>, Vec<PathBuf>)> {
    let Some(makes) = there.makes else { return Ok((None, Vec::new())) };
    let (mut record, mut gone) = (Record::default(), Vec::new());
    for file in files.iter().filter(|file| comes_and_goes(&file.name)) {
        let hash = is_plan(&file.name).then(|| hash(&file.content)).transpose();
        let hash = hash.with_context(|| format!("cannot write {}", folder.join(&file.name).display()))?;
        record.files.insert(file.name.clone(), hash);
    }
    let place = folder.join(NAME);
    let old = || serde_json::from_str(&config::read_text(&place).ok()?).ok();
    let old: Record = is_file(&place).then(old).flatten().unwrap_or_default();
    for (name, hash) in old.files {
        let stands = below(folder, Path::new(&name)).is_ok_and(|path| is_file(&path) && !same(&path, there.plan));
        if record.files.contains_key(&name) || !comes_and_goes(&name) || !stands {
            continue;
        }
        if !makes(&name) {
            record.files.insert(name, hash);
        } else if !is_plan(&name) || config::read(&folder.join(&name)).is_ok_and(|now| Some(sha256(&now)) == hash) {
            gone.push(PathBuf::from(name));
        }
    }
    if record.files.is_empty() {
        gone.extend(is_file(&place).then(|| NAME.into()));
        return Ok((None, gone));
    }
    super::may_be_replaced(&place, place.symlink_metadata())?;
    Ok((Some(File::new(NAME.to_owned(), serde_json::to_vec(&record)?)), gone))
}

/// The same as of the bytes, which are many and need not be in memory at once.
fn hash(content: &Content<'_>) -> std::io::Result<String> {
    let mut hash = Sha256::new();
    content.write_to(&mut hash)?;
    Ok(hash.finalize().iter().map(|b| format!("{b:02x}")).collect())
}

fn is_plan(name: &str) -> bool {
    name.ends_with(".rail.dxf") && !name.contains(['/', '\\'])
}

/// Whether we call a file so that not every run makes.
fn comes_and_goes(name: &str) -> bool {
    let numbered = |start: &str, end: &str| {
        let number = name.strip_prefix(start).and_then(|n| n.strip_suffix(end));
        number.is_some_and(|n| !n.is_empty() && n.bytes().all(|b| b.is_ascii_digit()))
    };
    let sheets = [("panels/S", ".svg"), ("sheets/R", ".svg"), ("sheets/R", ".png")];
    name == "handrails.csv" || is_plan(name) || sheets.iter().any(|(start, end)| numbered(start, end))
}
