//! What a user of the library needs beside [`lay_out`](crate::lay_out): settings from the texts of files, and the bytes of
//! the usual outputs.

use std::collections::BTreeMap;

use crate::base::plane::point;
use crate::base::{Code, Conclusion, Finding, Place, Refusal, headline};
use crate::catalog::{self, CatalogError, Settings};
use crate::sheet::{Drawing, Layer};
use crate::write::dxf::Placed;
use crate::write::graft::{self, Graft, GraftOptions};
use crate::{Outcome, sheet, write};

/// Settings from the texts of a job file, a rail system and a rule set, as the program reads them.
///
/// Each text is TOML and may be empty: an empty job leaves all as it is by default, without a system or a rule set the
/// built-in ones count that the job names, or else the first of `plumbrail list`. The library opens no files, so a job
/// that names a file needs its text here. A rule set may be based on a built-in one.
///
/// # Errors
/// When a text is no TOML, has a key that is unknown or a value that makes no sense, with line and column; when a name is
/// not built in.
///
/// # Examples
/// ```
/// let settings = plumbrail::settings("units = \"in\"\ninset = \"3-1/2in\"", "", "")?;
/// assert_eq!(settings.inset.to_string(), "3-1/2in");
///
/// let wrong = plumbrail::settings("inset = \"3 stones\"", "", "").unwrap_err();
/// assert!(wrong.to_string().contains("is not a length"));
/// # Ok::<(), Box<dyn std::error::Error>>(())
/// ```
pub fn settings(job: &str, system: &str, rules: &str) -> Result<Settings, CatalogError> {
    let job = catalog::read_job(job, "the job")?;
    let first = |all: &[(&'static str, &str)]| all.first().map_or("", |(name, _)| *name);
    let system = if system.trim().is_empty() {
        catalog::system_named(job.system.as_deref().unwrap_or(first(catalog::builtin_systems())))?
    } else {
        catalog::read_system(system, "the rail system")?
    };
    let rules = if rules.trim().is_empty() {
        catalog::rule_file_named(job.rules.as_deref().unwrap_or(first(catalog::builtin_rules())))?
    } else {
        let own = catalog::read_rule_file(rules, "the rule set")?;
        match own.based_on.clone() {
            Some(base) => own.over(catalog::rule_file_named(&base)?)?,
            None => own,
        }
    };
    let rules = rules.resolve(&job.rule_case.unwrap_or_default())?;
    Settings::new(job, system, rules)
}

impl Outcome {
    /// What all findings come to.
    pub fn conclusion(&self) -> Conclusion {
        Conclusion::of(&self.findings)
    }

    /// Whether all that was drawn is laid out and all limits hold that were checked.
    pub fn is_good(&self) -> bool {
        self.conclusion() == Conclusion::Complete
    }

    /// The conclusion as a sentence: what is missing and where, or which limit is broken.
    pub fn headline(&self) -> String {
        headline(&self.findings, self.proof.unchecked(), Some(&self.plan.frame))
    }

    /// The user's drawing with the rails in it, its own bytes as they were: `<plan>.rail.dxf`. `bytes` are those that were
    /// laid out. Also gives what was found on the way.
    ///
    /// # Errors
    /// When the drawing cannot take the rails: see [`write::graft`].
    pub fn rail_dxf(&self, bytes: &[u8], settings: &Settings) -> Result<(Vec<u8>, Vec<Finding>), Refusal> {
        let graft = self.graft(bytes, &self.findings, &settings.layer_names())?;
        Ok((graft.to_bytes(bytes), graft.findings))
    }

    /// The same before it is put together; `findings` are shown in it, and `names` those of its layers.
    ///
    /// # Errors
    /// As [`Outcome::rail_dxf`].
    pub fn graft(&self, bytes: &[u8], findings: &[Finding], names: &BTreeMap<Layer, String>) -> Result<Graft, Refusal> {
        self.graft_of(bytes, &sheet::plan_of(&self.plan, &self.layout, findings).0, names)
    }

    /// The same with the plan as [`sheet::plan_of`] has composed it.
    ///
    /// # Errors
    /// As [`Outcome::rail_dxf`].
    pub fn graft_of(&self, bytes: &[u8], plan: &Drawing, names: &BTreeMap<Layer, String>) -> Result<Graft, Refusal> {
        if let Some(reference) = &self.plan.attached {
            let message = format!(
                "the plan shows rails of ours by the external reference {reference} already; put into it, they would be \
                 there twice"
            );
            let finding = Finding::incomplete(Code::RailsAttached, Place::none(), message);
            return Err(Refusal::new(
                finding.hint("write the drawing for that reference anew with --attach, or detach it"),
            ));
        }
        let rails = sheet::rails_of(plan);
        let placed = [Placed { drawing: &rails, at: point(0.0, 0.0) }];
        let lost = self.plan.lost.clone();
        let options = GraftOptions { with_details: false, layer_names: names.clone(), lost };
        graft::graft(bytes, &placed, &self.plan.frame, &options)
    }

    /// The rail plan: `plan.svg`.
    pub fn plan_svg(&self, settings: &Settings) -> String {
        let (plan, background) = sheet::plan_of(&self.plan, &self.layout, &self.findings);
        write::svg::named(&[&plan], &background, &settings.layer_names())
    }

    /// Everything that was decided, for scripts: `layout.json`, described by `schemas/layout.schema.json`.
    pub fn json(&self) -> Vec<u8> {
        write::json::layout(&self.layout, &self.findings, &self.proof)
    }
}
