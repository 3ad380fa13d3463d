//! Raw arguments and files -> checked settings; and the exit status.

use std::io::Read;
use std::path::{Path, PathBuf};
use std::process::ExitCode;

use anyhow::{Context, Result, bail, ensure};
use plumbrail::base::{Conclusion, Finding, Refusal};
use plumbrail::catalog::{self, Circumstances, Job, LayerPatterns, RailSystem, RuleFile, RuleSet, Settings};

use crate::args::Shared;
use crate::read::{self, Bytes};

/// How the program ends.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Status {
    /// Done: all that was drawn is laid out, and all limits hold that were checked.
    Done,
    /// It falls short of that: something is missing, or a limit is broken.
    Short,
    /// Wrong use, or a file cannot be read or written.
    Use,
    /// The drawing is not usable.
    Unusable,
}

impl Status {
    /// By what all findings come to.
    pub fn by(findings: &[Finding]) -> Self {
        match Conclusion::of(findings) {
            Conclusion::Complete => Self::Done,
            Conclusion::LimitsBroken | Conclusion::Incomplete => Self::Short,
        }
    }

    /// By the error that ended the work.
    pub fn of(error: &anyhow::Error) -> Self {
        if error.downcast_ref::<Refusal>().is_some() { Self::Unusable } else { Self::Use }
    }
}

impl From<Status> for ExitCode {
    fn from(status: Status) -> Self {
        Self::from(match status {
            Status::Done => 0,
            Status::Short => 1,
            Status::Use => 2,
            Status::Unusable => 3,
        })
    }
}

/// Bytes of a user's file, or of standard input for `-`.
pub fn read(path: &Path) -> Result<Bytes> {
    if path == Path::new("-") {
        let mut bytes = Vec::new();
        std::io::stdin().lock().read_to_end(&mut bytes).context("cannot read standard input")?;
        return Ok(bytes.into());
    }
    if path.is_dir() {
        bail!("{} is a folder; name the DXF file in it", path.display());
    }
    read::whole(path).with_context(|| format!("cannot read {}", path.display()))
}

/// No file with settings is larger, in bytes.
const LARGEST: u64 = 4 << 20;

/// Reads a text file that a job or a rule set names.
pub type ReadText<'a> = &'a dyn Fn(&Path) -> Result<String>;

/// Text of a file with settings, or of standard input for `-`.
pub fn read_text(path: &Path) -> Result<String> {
    let bytes = if path == Path::new("-") {
        let mut bytes = Vec::new();
        std::io::stdin().lock().take(LARGEST + 1).read_to_end(&mut bytes).context("cannot read standard input")?;
        ensure!(bytes.len() as u64 <= LARGEST, "standard input has more than {LARGEST} bytes, too many for settings");
        bytes
    } else {
        read::within(path, LARGEST).with_context(|| format!("cannot read {}", path.display()))?.into()
    };
    String::from_utf8(bytes).map_err(|_| anyhow::anyhow!("{} is not UTF-8 text", path.display()))
}

/// The job file, or none of its keys where there is no file.
pub fn job(shared: &Shared) -> Result<Job> {
    let Some(path) = &shared.job else { return Ok(Job::default()) };
    Ok(catalog::read_job(&read_text(path)?, &path.display().to_string())?)
}

/// The job's settings: the command line wins over the job file, the job file over the defaults.
pub fn settings(shared: &Shared) -> Result<Settings> {
    settings_of(shared, job(shared)?, job_folder(shared), &read_text)
}

/// Where the files lie that a job file names.
pub fn job_folder(shared: &Shared) -> &Path {
    shared.job.as_deref().and_then(Path::parent).unwrap_or(Path::new(""))
}

/// Files that the settings are read from, as far as they can be followed.
pub fn sources(shared: &Shared) -> Vec<PathBuf> {
    let job = job(shared).unwrap_or_default();
    let named = |given: &Option<String>, job: Option<String>| {
        let given = given.clone().map(|name| (name, Path::new("")));
        given.or_else(|| job.map(|name| (name, job_folder(shared)))).filter(|(name, _)| is_file(name))
    };
    let system = named(&shared.system, job.system).map(|(name, folder)| folder.join(name));
    let mut files: Vec<PathBuf> = shared.job.iter().chain(&shared.measured).chain(&shared.stock).cloned().collect();
    files.extend(system);
    let mut next = named(&shared.rules, job.rules).map(|(name, folder)| folder.join(name));
    while let Some(path) = next.take().filter(|path| !files.contains(path)) {
        let file = read_text(&path).ok().and_then(|text| catalog::read_rule_file(&text, "").ok());
        let base = file.and_then(|file| file.based_on).filter(|base| is_file(base));
        next = base.map(|base| path.with_file_name(base));
        files.push(path);
    }
    files
}

/// The same for a job that was read; files that it names lie in `folder`, and are read with `read`.
pub fn settings_of(shared: &Shared, job: Job, folder: &Path, read: ReadText<'_>) -> Result<Settings> {
    let (system, rules) = (system_of(shared, &job, folder, read)?, rules_of(shared, &job, folder, read)?);
    settings_with(shared, job, system, rules)
}

/// The rail system of a job.
pub fn system_of(shared: &Shared, job: &Job, folder: &Path, read: ReadText<'_>) -> Result<RailSystem> {
    match (&shared.system, &job.system) {
        (Some(name), _) => system(name, Path::new(""), &read_text),
        (None, Some(name)) => system(name, folder, read),
        (None, None) => system(first(catalog::builtin_systems())?, Path::new(""), read),
    }
}

/// The rule set of a job, for its case.
pub fn rules_of(shared: &Shared, job: &Job, folder: &Path, read: ReadText<'_>) -> Result<RuleSet> {
    let case = job.rule_case.unwrap_or_default();
    match (&shared.rules, &job.rules) {
        (Some(name), _) => rules(name, Path::new(""), &case, &read_text),
        (None, Some(name)) => rules(name, folder, &case, read),
        (None, None) => rules(first(catalog::builtin_rules())?, Path::new(""), &case, read),
    }
}

/// The settings of a job with the system and the rule set that it wants.
pub fn settings_with(shared: &Shared, mut job: Job, system: RailSystem, rules: RuleSet) -> Result<Settings> {
    job.units = shared.units.clone().or(job.units);
    job.inset = shared.inset.or(job.inset);
    job.bays = shared.bays.or(job.bays);
    job.corner_posts = shared.corner_posts.or(job.corner_posts);
    job.symmetric = shared.symmetric.then_some(true).or(job.symmetric);
    job.balusters = shared.balusters.or(job.balusters);
    job.mark = shared.mark.or(job.mark);
    job.longest_panel = shared.longest_panel.or(job.longest_panel);
    job.sheet = shared.sheet.or(job.sheet);
    job.finish = shared.finish.clone().or(job.finish);
    job.layer_prefix = shared.layer_prefix.clone().or(job.layer_prefix);
    job.layers = Some(layers(&shared.layers, job.layers.unwrap_or_default())?);
    let mut settings = Settings::new(job, system, rules)?;
    // A bare number is nobody's guess: taken for inches on a site that works in millimetres, it cuts a wrong rail.
    let unit = settings.units;
    if let Some(path) = &shared.measured {
        settings.measured = catalog::read_measured(&read_text(path)?, &path.display().to_string(), unit)?;
    }
    if let Some(path) = &shared.stock {
        settings.on_hand = catalog::read_on_hand(&read_text(path)?, &path.display().to_string(), unit)?;
    }
    Ok(settings)
}

fn first(all: &'static [(&'static str, &'static str)]) -> Result<&'static str> {
    all.first().map(|(name, _)| *name).context("nothing is built in")
}

/// Whether a system or a rule set is named by its file.
pub fn is_file(name: &str) -> bool {
    Path::new(name).extension().is_some_and(|e| e.eq_ignore_ascii_case("toml"))
}

/// A rail system by name or file; a file named in a job file lies beside it.
pub fn system(name: &str, folder: &Path, read: ReadText<'_>) -> Result<RailSystem> {
    if is_file(name) {
        return Ok(catalog::read_system(&read(&folder.join(name))?, name)?);
    }
    Ok(catalog::system_named(name)?)
}

/// A rule set by name or file, with what it is based on, as it holds for a case. A file that is named in a file lies beside
/// it.
pub fn rules(name: &str, folder: &Path, case: &Circumstances, read: ReadText<'_>) -> Result<RuleSet> {
    let (mut name, mut folder) = (name.to_owned(), folder.to_path_buf());
    let mut own: Vec<(PathBuf, RuleFile)> = Vec::new();
    while is_file(&name) {
        let path = folder.join(&name);
        if let Some((again, _)) = own.iter().find(|(old, _)| same_file(old, &path)) {
            let error = format!("{} is based on itself", again.display());
            let error =
                anyhow::anyhow!("let one file of the chain name a built-in rule set, or leave its based-on out")
                    .context(error);
            return Err(error);
        }
        let text = read(&path);
        let text = match own.last() {
            Some((from, _)) => text.with_context(|| format!("{} is based on {name}", from.display()))?,
            None => text?,
        };
        let file = catalog::read_rule_file(&text, &path.display().to_string())?;
        let base = file.based_on.clone();
        folder = path.parent().map(Path::to_path_buf).unwrap_or_default();
        own.push((path, file));
        let Some(base) = base else { break };
        name = base;
    }
    let mut rules = match own.last() {
        None => catalog::rule_file_named(&name)?,
        Some((path, file)) if file.based_on.is_some() => {
            catalog::rule_file_named(&name).with_context(|| format!("{}: based-on", path.display()))?
        }
        Some(_) => own.pop().context("no rule set")?.1,
    };
    while let Some((path, file)) = own.pop() {
        rules = file.over(rules).with_context(|| path.display().to_string())?;
    }
    Ok(rules.resolve(case)?)
}

fn same_file(one: &Path, other: &Path) -> bool {
    one == other || one.canonicalize().ok().zip(other.canonicalize().ok()).is_some_and(|(a, b)| a == b)
}

fn layers(given: &[String], job: LayerPatterns) -> Result<LayerPatterns> {
    let mut out = LayerPatterns::default();
    for entry in given {
        let Some((role, pattern)) = entry.split_once('=').filter(|(_, p)| !p.is_empty()) else {
            bail!("--layer {entry}: write ROLE=PATTERN, for example edge=A-DECK*");
        };
        let list = match role {
            "edge" => &mut out.edge,
            "wall" => &mut out.wall,
            "opening" => &mut out.opening,
            "post" => &mut out.post,
            "stair" => &mut out.stair,
            "keep-out" => &mut out.keep_out,
            "joist" => &mut out.joist,
            _ => bail!(
                "--layer {entry}: there is no role `{role}`; roles are edge, wall, opening, post, stair, keep-out and joist"
            ),
        };
        list.push(pattern.to_owned());
    }
    let or = |own: Vec<String>, job: Vec<String>| if own.is_empty() { job } else { own };
    Ok(LayerPatterns {
        edge: or(out.edge, job.edge),
        wall: or(out.wall, job.wall),
        opening: or(out.opening, job.opening),
        post: or(out.post, job.post),
        stair: or(out.stair, job.stair),
        keep_out: or(out.keep_out, job.keep_out),
        joist: or(out.joist, job.joist),
        picks: job.picks,
    })
}
