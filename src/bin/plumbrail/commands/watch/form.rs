//! What the page may change: it goes over the job as options on the command line do, and into the job file on request.

use std::io::Write;
use std::path::{Path, PathBuf};

use anyhow::{Context, Result, bail, ensure};
use plumbrail::base::Length;
use plumbrail::catalog::{self, BalusterStyle, Bays, Settings};
use serde::{Deserialize, Serialize};
use toml_edit::{DocumentMut, Item, Value};

use crate::args::Shared;
use crate::config;

/// What the page has changed; what it has not is as the job says.
#[derive(Debug, Clone, PartialEq, Eq, Default, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Changes {
    /// Rail system, one of [`Choices::systems`].
    #[serde(skip_serializing_if = "Option::is_none")]
    pub system: Option<String>,
    /// Rule set, one of [`Choices::rules`].
    #[serde(skip_serializing_if = "Option::is_none")]
    pub rules: Option<String>,
    /// Bay policy.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub bays: Option<Bays>,
    /// Division of the balusters.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub balusters: Option<BalusterStyle>,
    /// From the deck edge to the rail line.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub inset: Option<Length>,
}

/// What the page may choose from.
#[derive(Debug, Clone, PartialEq, Eq, Serialize)]
pub struct Choices {
    /// Rail systems by name: those built in, and the job's own.
    pub systems: Vec<String>,
    /// Rule sets, likewise.
    pub rules: Vec<String>,
}

/// What holds.
#[derive(Debug, Clone, PartialEq, Eq, Serialize)]
pub struct Values {
    system: String,
    rules: String,
    bays: Bays,
    /// None where the system has no balusters.
    balusters: Option<BalusterStyle>,
    inset: Length,
}

/// The job without the changes of the page.
#[derive(Debug, Clone)]
pub struct Base {
    system: String,
    rules: String,
    /// What can be chosen.
    pub choices: Choices,
}

impl Base {
    /// Of the command line and the job file.
    pub fn of(shared: &Shared) -> Result<Self> {
        let job = config::job(shared)?;
        let own = |given: &Option<String>, job: Option<String>, built_in: &'static [(&'static str, &'static str)]| {
            let mut names: Vec<String> = built_in.iter().map(|(name, _)| (*name).to_owned()).collect();
            let name = given.clone().or(job).or_else(|| names.first().cloned()).context("nothing is built in")?;
            if !names.contains(&name) {
                names.insert(0, name.clone());
            }
            anyhow::Ok((name, names))
        };
        let (system, systems) = own(&shared.system, job.system, catalog::builtin_systems())?;
        let (rules, sets) = own(&shared.rules, job.rules, catalog::builtin_rules())?;
        Ok(Self { system, rules, choices: Choices { systems, rules: sets } })
    }

    /// The changes, if they can be made; what is as it is anyway is none.
    pub fn check(&self, mut changes: Changes) -> Result<Changes> {
        let known = |name: &Option<String>, names: &[String], what: &str| match name {
            Some(name) if !names.contains(name) => bail!("there is no {what} `{name}` to choose"),
            _ => Ok(()),
        };
        known(&changes.system, &self.choices.systems, "rail system")?;
        known(&changes.rules, &self.choices.rules, "rule set")?;
        ensure!(changes.inset.is_none_or(|inset| inset >= Length::ZERO), "the inset is negative");
        changes.system = changes.system.filter(|name| *name != self.system);
        changes.rules = changes.rules.filter(|name| *name != self.rules);
        Ok(changes)
    }

    /// What holds with the changes.
    pub fn values(&self, changes: &Changes, settings: &Settings) -> Values {
        Values {
            system: changes.system.clone().unwrap_or_else(|| self.system.clone()),
            rules: changes.rules.clone().unwrap_or_else(|| self.rules.clone()),
            bays: settings.bays,
            balusters: settings.system.baluster.is_some().then_some(settings.balusters),
            inset: settings.inset,
        }
    }
}

impl Changes {
    /// Whether the page has changed nothing.
    pub fn is_empty(&self) -> bool {
        *self == Self::default()
    }

    /// The options with the changes.
    pub fn over(&self, shared: &Shared) -> Shared {
        let mut shared = shared.clone();
        shared.system = self.system.clone().or(shared.system);
        shared.rules = self.rules.clone().or(shared.rules);
        shared.bays = self.bays.or(shared.bays);
        shared.balusters = self.balusters.or(shared.balusters);
        shared.inset = self.inset.or(shared.inset);
        shared
    }

    /// Takes from the command line what stands in the job file now, and names the options that are passed over.
    fn leave_out(&self, shared: &mut Shared) -> Vec<&'static str> {
        let is_given = [
            ("--system", self.system.is_some() && shared.system.take().is_some()),
            ("--rules", self.rules.is_some() && shared.rules.take().is_some()),
            ("--bays", self.bays.is_some() && shared.bays.take().is_some()),
            ("--balusters", self.balusters.is_some() && shared.balusters.take().is_some()),
            ("--inset", self.inset.is_some() && shared.inset.take().is_some()),
        ];
        is_given.into_iter().filter(|(_, is_given)| *is_given).map(|(name, _)| name).collect()
    }

    /// Keys of a job file and their texts.
    fn keys(&self) -> Result<Vec<(String, String)>> {
        let Some(keys) = serde_json::to_value(self)?.as_object().cloned() else { return Ok(Vec::new()) };
        Ok(keys.into_iter().filter_map(|(key, value)| Some((key, value.as_str()?.to_owned()))).collect())
    }

    /// Writes them into the job file, in which all else stays as it is; where there is none, a new one is made. Gives what
    /// is to be told.
    pub fn write(&self, shared: &mut Shared, plan: &Path) -> Result<String> {
        ensure!(!self.is_empty(), "nothing was changed");
        let path = job_file(shared, plan);
        let is_new = shared.job.is_none();
        let old = match &shared.job {
            Some(path) => config::read_text(path)?,
            None => String::new(),
        };
        let text = self.text_with(&old).with_context(|| format!("{} was not written", path.display()))?;
        // What cannot be read back must not take the place of what could.
        catalog::read_job(&text, &path.display().to_string())?;
        put(&path, &text, is_new)?;
        let mut told = format!("written to {}", path.display());
        if is_new {
            told.push_str("; name it with --job from now on");
        }
        shared.job = Some(path);
        let passed = self.leave_out(shared);
        if !passed.is_empty() {
            told.push_str(&format!("; leave {} out, which would win over it", passed.join(", ")));
        }
        Ok(told)
    }

    /// The text of a job file with the changes in it; its comments and all other keys stay.
    fn text_with(&self, old: &str) -> Result<String> {
        let mut document: DocumentMut = old.parse().map_err(|e| anyhow::anyhow!("{e}"))?;
        for (key, text) in self.keys()? {
            let mut value = Value::from(text);
            if let Some(there) = document.get_mut(&key) {
                // A comment behind the value belongs to it; one before the key stays with the key, which is not replaced.
                if let Some(before) = there.as_value() {
                    *value.decor_mut() = before.decor().clone();
                }
                *there = Item::Value(value);
            } else {
                document.insert(&key, Item::Value(value));
            }
        }
        Ok(document.to_string())
    }
}

/// The job file, or the one that would be made.
pub fn job_file(shared: &Shared, plan: &Path) -> PathBuf {
    shared.job.clone().unwrap_or_else(|| plan.with_file_name(format!("{}.job.toml", crate::files::stem(plan))))
}

/// Writes it beside its place and moves it there; one that nobody named is never overwritten.
fn put(path: &Path, text: &str, is_new: bool) -> Result<()> {
    let folder = path.parent().filter(|p| !p.as_os_str().is_empty()).unwrap_or(Path::new("."));
    let cannot = || format!("cannot write {}", path.display());
    let mut builder = tempfile::Builder::new();
    #[cfg(unix)]
    {
        use std::os::unix::fs::PermissionsExt;
        // Less what the user's mask takes away, as of any file.
        builder.permissions(std::fs::Permissions::from_mode(0o666));
    }
    let mut temp = builder.tempfile_in(folder).with_context(cannot)?;
    temp.write_all(text.as_bytes()).with_context(cannot)?;
    if is_new {
        ensure!(!path.exists(), "{} is there already; start watch with --job to use it", path.display());
        temp.persist_noclobber(path).with_context(cannot)?;
    } else {
        // What a link points to is replaced, not the link.
        let path = path.canonicalize().with_context(cannot)?;
        temp.as_file().set_permissions(path.metadata()?.permissions())?;
        temp.persist(path).with_context(cannot)?;
    }
    Ok(())
}

#[cfg(test)]
mod tests {
    use super::*;

    fn changes() -> Changes {
        serde_json::from_str(r#"{"system": "metal-42", "bays": "cost", "inset": "3-1/2in"}"#).unwrap()
    }

    #[test]
    fn the_rest_of_a_job_file_stays_as_it_is() {
        let old = "# ours\ninset = \"2in\"   # to the middle\n\n[project]\nname = \"Pier\" # kept\n";
        let text = changes().text_with(old).unwrap();
        assert!(text.starts_with("# ours\ninset = \"3-1/2in\"   # to the middle\n"), "{text}");
        assert!(text.ends_with("\n[project]\nname = \"Pier\" # kept\n"), "{text}");
        let job = catalog::read_job(&text, "job.toml").unwrap();
        assert_eq!((job.system.as_deref(), job.bays), (Some("metal-42"), Some(Bays::Cost)));
        assert_eq!(job.project.unwrap().name.as_deref(), Some("Pier"));
        assert!(changes().text_with("a = = 1").is_err());
    }

    #[test]
    fn a_job_file_is_made_once_and_then_changed() {
        let folder = tempfile::tempdir().unwrap();
        let plan = folder.path().join("deck.dxf");
        let args =
            <crate::args::Args as clap::Parser>::parse_from(["plumbrail", "watch", "deck.dxf", "--inset", "1in"]);
        let crate::args::Command::Watch(crate::args::Watch { mut shared, .. }) = args.command else { panic!() };
        let told = changes().write(&mut shared, &plan).unwrap();
        let file = folder.path().join("deck.job.toml");
        assert!(told.contains("name it with --job") && told.contains("leave --inset out"), "{told}");
        assert_eq!((shared.job.as_deref(), shared.inset), (Some(file.as_path()), None));
        let more = Changes { inset: Some(Length::INCH), ..Changes::default() };
        assert_eq!(more.write(&mut shared, &plan).unwrap(), format!("written to {}", file.display()));
        let text = std::fs::read_to_string(&file).unwrap();
        assert_eq!(text, "system = \"metal-42\"\nbays = \"cost\"\ninset = \"1in\"\n");
        // One that lies there and was not named is somebody's.
        shared.job = None;
        let error = more.write(&mut shared, &plan).unwrap_err().to_string();
        assert!(error.contains("is there already"), "{error}");
        assert_eq!(std::fs::read_to_string(&file).unwrap(), text);
        assert!(Changes::default().write(&mut shared, &plan).is_err());
    }

    #[test]
    fn only_what_the_page_was_given_can_be_chosen() {
        let args = <crate::args::Args as clap::Parser>::parse_from(["plumbrail", "watch", "deck.dxf"]);
        let crate::args::Command::Watch(crate::args::Watch { shared, .. }) = args.command else { panic!() };
        let base = Base::of(&shared).unwrap();
        assert_eq!(base.check(changes()).unwrap(), changes());
        for system in ["/etc/passwd", "../mine.toml", "mine.toml", ""] {
            let wanted = Changes { system: Some(system.to_owned()), ..Changes::default() };
            assert!(base.check(wanted).is_err(), "{system}");
        }
        let wanted = Changes { inset: Some(-Length::INCH), ..Changes::default() };
        assert!(base.check(wanted).is_err());
        let same = Changes { system: Some(base.choices.systems[0].clone()), ..Changes::default() };
        assert!(base.check(same).unwrap().is_empty());
        assert!(serde_json::from_str::<Changes>(r#"{"job": "x"}"#).is_err());
    }
}
