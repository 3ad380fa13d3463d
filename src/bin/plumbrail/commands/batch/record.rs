//! One record: the plan that it names or holds, laid out with its options.

use std::collections::BTreeMap;
use std::path::Path;
use std::sync::{Arc, Mutex, PoisonError};

use anyhow::Result;
use plumbrail::base::{Finding, Refusal, headline, is_complete, limits_hold};
use plumbrail::catalog::{CatalogError, Job, Settings};
use plumbrail::write::batch::{Answer, Failure, FailureCode, Request, Want};
use plumbrail::write::{csv, json, svg};
use plumbrail::{parts, sheet};
use serde_json::value::RawValue;

use super::fence::{self, Fence};
use super::lines::Line;
use super::reply::{answered, failure, refused};
use crate::args::{Batch, Shared, Source};
use crate::config;
use crate::input::Input;

/// Options of so many kinds are kept checked. Where there are more, each record is different, and nothing is gained.
const KEPT: usize = 256;

/// What all records are answered with.
pub struct Desk {
    shared: Shared,
    source: Source,
    fence: Fence,
    most_bytes: usize,
    most_work: usize,
    /// For records without options.
    plain: Arc<Settings>,
    /// Settings by the text of the options that gave them: reading systems and rules takes longer than a small plan.
    known: Mutex<BTreeMap<String, Arc<Settings>>>,
}

impl Desk {
    /// Checks what stands on the command line.
    pub fn new(args: &Batch) -> Result<Self> {
        let (shared, fence) = (&args.shared, Fence::new(args)?);
        let read = |path: &Path| fence.text(path);
        let plain = config::settings_of(shared, config::job(shared)?, config::job_folder(shared), &read)?;
        Ok(Self {
            shared: shared.clone(),
            source: args.source.clone(),
            most_bytes: args.max_record,
            most_work: args.max_work,
            plain: Arc::new(plain),
            fence,
            known: Mutex::default(),
        })
    }

    /// How long a line, and how large the file that it names, may be.
    pub const fn most_bytes(&self) -> usize {
        self.most_bytes
    }

    /// The answer to a line, which is the `number`th from 1, with its line end.
    pub fn answer(&self, number: u64, line: Line) -> Vec<u8> {
        answered(number, line, self.most_bytes, &|request| self.lay_out(request))
    }

    fn lay_out(&self, request: &Request) -> Result<Answer, Failure> {
        let settings = self.settings(request.options.as_deref())?;
        let (real, bytes, name) = match (&request.path, &request.dxf) {
            (Some(path), None) => {
                let path = Path::new(path);
                let name = path.file_name().map(|n| n.to_string_lossy().into_owned()).unwrap_or_default();
                let (real, bytes) = self.fence.plan(path)?;
                (Some(real), bytes, name)
            }
            (None, Some(dxf)) => (None, dxf.clone().into_bytes(), "plan.dxf".to_owned()),
            _ => {
                let why = "exactly one of `path` and `dxf` must be given";
                return Err(failure(FailureCode::BadRecord, why));
            }
        };
        let failed = |e: anyhow::Error| match e.downcast::<Refusal>() {
            Ok(refusal) => refused(&refusal),
            // What a converter said of the file is not told.
            Err(e) => failure(FailureCode::Unreadable, e.to_string()),
        };
        let beside = real.as_deref().and_then(Path::parent);
        let input = Input::of(bytes, beside, &self.source, self.most_bytes as u64).map_err(failed)?;
        let outcome = input.lay_out(&name, &settings, self.most_work).map_err(failed)?;
        wanted(request.want.as_deref().unwrap_or(&[Want::Layout]), &input.bytes, &outcome, &settings)
    }

    fn settings(&self, options: Option<&RawValue>) -> Result<Arc<Settings>, Failure> {
        let Some(options) = options.map(RawValue::get) else { return Ok(Arc::clone(&self.plain)) };
        let known = || self.known.lock().unwrap_or_else(PoisonError::into_inner);
        if let Some(settings) = known().get(options) {
            return Ok(Arc::clone(settings));
        }
        let bad = |why: String| failure(FailureCode::BadRecord, format!("options: {why}"));
        if !options.starts_with('{') {
            return Err(bad("they must be an object with the keys of a job file".to_owned()));
        }
        let job: Job = serde_json::from_str(options).map_err(|e| bad(e.to_string()))?;
        let settings = Arc::new(self.settings_of(job)?);
        let mut known = known();
        if known.len() >= KEPT {
            known.clear();
        }
        known.insert(options.to_owned(), Arc::clone(&settings));
        Ok(settings)
    }

    /// What the command line does not name counts from the folder in which the program works.
    fn settings_of(&self, job: Job) -> Result<Settings, Failure> {
        let (shared, here) = (&self.shared, Path::new(""));
        let read = |path: &Path| self.fence.text(path);
        let [system, rules] = [(&shared.system, &job.system), (&shared.rules, &job.rules)]
            .map(|(given, own)| given.as_ref().or(own.as_ref()).cloned());
        let system_of = config::system_of(shared, &job, here, &read);
        let system_of = system_of.map_err(|e| fence::unusable("system", system.as_deref(), &e))?;
        let rules_of = config::rules_of(shared, &job, here, &read);
        let rules_of = rules_of.map_err(|e| fence::unusable("rules", rules.as_deref(), &e))?;
        let settings = config::settings_with(shared, job, system_of, rules_of);
        settings.map_err(|e| {
            // The hint may list what a system's file holds.
            let is_own = system.is_some_and(|name| config::is_file(&name));
            let hint = e.downcast_ref::<CatalogError>().and_then(|c| c.hint.clone()).filter(|_| !is_own);
            Failure { hint, ..failure(FailureCode::BadRecord, format!("options: {e:#}")) }
        })
    }
}

/// What is wanted of a plan that is laid out.
fn wanted(want: &[Want], bytes: &[u8], outcome: &plumbrail::Outcome, settings: &Settings) -> Result<Answer, Failure> {
    let has = |part: Want| want.contains(&part);
    let mut findings: Vec<Finding> = outcome.findings.clone();
    let names = settings.layer_names();
    let mut dxf = None;
    if has(Want::Dxf) {
        match outcome.graft(bytes, &findings, &names) {
            Ok(graft) => {
                findings.extend(graft.findings.iter().cloned());
                let text = String::from_utf8(graft.to_bytes(bytes)).map_err(|_| not_text())?;
                dxf = Some(text);
            }
            Err(refusal) => findings.extend(refusal.others.into_iter().chain([*refusal.finding])),
        }
    }
    let layout = &outcome.layout;
    let text =
        |part: Want, write: &dyn Fn() -> Vec<u8>| has(part).then(|| String::from_utf8_lossy(&write()).into_owned());
    let plan = || {
        let (drawing, background) = sheet::plan_of(&outcome.plan, layout, &findings);
        svg::named(&[&drawing], &background, &names).into_bytes()
    };
    Ok(Answer {
        complete: is_complete(&findings),
        limits_hold: limits_hold(&findings),
        headline: headline(&findings, outcome.proof.unchecked(), Some(&layout.plan.frame)),
        layout: has(Want::Layout).then(|| json::record(layout, &findings, &outcome.proof)),
        svg: text(Want::Svg, &plan),
        dxf,
        marks: text(Want::Marks, &|| csv::marks(layout)),
        cuts: text(Want::Cuts, &|| csv::cuts(layout)),
        order: text(Want::Order, &|| csv::order(layout)),
        findings: parts::finding_records(layout, &findings),
    })
}

fn not_text() -> Failure {
    let hint = Some("leave dxf out of `want`, or use layout, which writes bytes".to_owned());
    let why = "the plan with the rails in it is no UTF-8 text: it is binary, or in an older code page";
    Failure { hint, ..failure(FailureCode::NotText, why) }
}
