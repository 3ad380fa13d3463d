//! `batch.json` in an output folder: what it was made from and what was written, so that `--resume` can tell whether all of
//! it is there.

use std::collections::BTreeMap;
use std::path::Path;

use anyhow::{Context, Result};
use plumbrail::base::{Code, Conclusion};
use plumbrail::catalog::Settings;
use plumbrail::write::json::sha256;
use plumbrail::write::message::ConclusionLine;
use serde::{Deserialize, Serialize};

use super::names::Plan;
use crate::args::Batch;
use crate::commands::layout::{self, Written};
use crate::config;
use crate::output::File;

const NAME: &str = "batch.json";
const FORMAT: &str = "plumbrail-batch 2";

/// The file. All hashes are SHA-256.
#[derive(Debug, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
struct Stamp {
    format: String,
    /// Hash of the plan.
    plan: String,
    /// Hash of all settings, and of the program's version.
    settings: String,
    /// Hash of each external reference, by its path.
    references: BTreeMap<String, String>,
    /// Whether all that was drawn is laid out.
    complete: bool,
    /// Whether every limit holds that was checked.
    limits_hold: bool,
    /// The same as a sentence.
    headline: String,
    /// Hash of each file that was written.
    files: BTreeMap<String, String>,
}

/// Hash of everything but the plan that decides what is written.
pub fn settings_key(args: &Batch, settings: &Settings) -> String {
    // The debug form shows every field in the order of its declaration, and maps are sorted.
    sha256(format!("{} {settings:?} {:?} {:?}", env!("CARGO_PKG_VERSION"), args.outputs, args.source).as_bytes())
}

/// Hash of a plan's bytes as they lie on disk.
pub fn plan_key(plan: &Path) -> Result<String> {
    Ok(sha256(&config::read(plan)?))
}

/// The file for outputs that are about to be written. None where a reference was missing: it may be there the next time.
pub fn file(plan: &Plan, keys: (&str, &str), written: &Written<'_>) -> Result<Vec<File<'static>>> {
    let findings = written.findings;
    if findings.iter().any(|f| matches!(f.code, Code::ExternalMissing | Code::ExternalFails)) {
        return Ok(Vec::new());
    }
    let beside = plan.path.parent().unwrap_or(Path::new(""));
    let reference = |path: std::path::PathBuf| {
        let hash = sha256(&config::read(&path)?);
        Ok((path.strip_prefix(beside).unwrap_or(&path).to_string_lossy().into_owned(), hash))
    };
    let hash = |file: &File<'_>| Ok((file.name.clone(), sha256(&file.content.bytes()?)));
    let ConclusionLine { complete, limits_hold, headline, .. } =
        layout::conclusion(&plan.path, written.outcome, findings);
    let stamp = Stamp {
        format: FORMAT.to_owned(),
        plan: keys.0.to_owned(),
        settings: keys.1.to_owned(),
        references: written.input.references().into_iter().map(reference).collect::<Result<_>>()?,
        complete,
        limits_hold,
        headline,
        files: written.files.iter().map(hash).collect::<Result<_>>()?,
    };
    let mut bytes = serde_json::to_vec_pretty(&stamp).context(NAME)?;
    bytes.push(b'\n');
    Ok(vec![File::new(NAME.to_owned(), bytes)])
}

/// How the plan ended whose outputs are all there, byte for byte, from the same plan and the same settings; `None` when
/// something is missing, was edited, or was made from something else.
pub fn found(plan: &Plan, keys: (&str, &str)) -> Option<(Conclusion, ConclusionLine)> {
    let stamp: Stamp = serde_json::from_slice(&config::read(&plan.folder.join(NAME)).ok()?).ok()?;
    let beside = plan.path.parent().unwrap_or(Path::new(""));
    let is_same = |folder: &Path, (name, hash): (&String, &String)| {
        config::read(&folder.join(name)).is_ok_and(|bytes| sha256(&bytes) == *hash)
    };
    let is_it = stamp.format == FORMAT
        && (stamp.plan.as_str(), stamp.settings.as_str()) == keys
        && stamp.references.iter().all(|entry| is_same(beside, entry))
        && stamp.files.iter().all(|entry| is_same(&plan.folder, entry));
    let state = match (stamp.complete, stamp.limits_hold) {
        (false, _) => Conclusion::Incomplete,
        (true, false) => Conclusion::LimitsBroken,
        (true, true) => Conclusion::Complete,
    };
    let Stamp { complete, limits_hold, headline, .. } = stamp;
    let file = plan.path.display().to_string();
    is_it.then_some((state, ConclusionLine { file, complete, limits_hold, headline }))
}
