//! Lays the plan out again whenever it, or what its settings are read from, has changed, or the page asks for other settings.

use std::path::PathBuf;
use std::sync::Arc;
use std::sync::mpsc::{Receiver, RecvTimeoutError, Sender};
use std::time::Duration;

use anyhow::{Context, Result};
use plumbrail::base::{Finding, Refusal, Severity, counted, is_complete, limits_hold};
use plumbrail::catalog::Settings;
use plumbrail::{Outcome, parts};
use serde::Serialize;

use super::board::{Board, Shown, Standing, json};
use super::clock::{self, Timer};
use super::disk::{Eyes, Seen};
use super::form::{self, Base, Changes, Choices, Values};
use crate::args::{MessageFormat, Shared, Watch};
use crate::config::{self, Status};
use crate::guarded::guarded;
use crate::input::Input;
use crate::{messages, read};

/// What wakes the worker.
pub enum Wake {
    /// Something happened in a folder.
    Disk,
    /// The page asks for these settings.
    Settings(Changes, Sender<Result<String>>),
    /// The page asks to put its settings into the job file.
    WriteJob(Sender<Result<String>>),
}

/// A save comes in several steps; this long after the first notice most are done.
const SAVE: Duration = Duration::from_millis(25);
/// While a save is not usable it is looked at this often ...
const AGAIN: Duration = Duration::from_millis(40);
/// ... and taken for what the user meant when it stays so this long.
const SETTLED: Duration = Duration::from_millis(800);
/// Without a notice from the system the files are looked at this often.
const LOOK: Duration = Duration::from_secs(1);

/// The worker.
pub struct Worker {
    args: Watch,
    /// The options, without what was written into the job file since.
    shared: Shared,
    format: MessageFormat,
    board: Arc<Board>,
    eyes: Eyes,
    seen: Seen,
    /// What the page has changed.
    changes: Changes,
    /// Since when a save that is not usable is waited for.
    waiting: Option<Timer>,
    /// What is shown: hash of the plan, settings, and what the page was told.
    shown: Option<(String, Settings, String)>,
}

/// What the page is told of a layout.
#[derive(Serialize)]
struct Told<'a> {
    svg: String,
    posts: usize,
    panels: usize,
    proof: String,
    complete: bool,
    limits_hold: bool,
    headline: String,
    findings: Vec<parts::record::FindingRecord>,
    values: Values,
    choices: &'a Choices,
    changes: &'a Changes,
    job: String,
}

/// A layout before it is shown.
struct Laid {
    shown: Shown,
    base: Base,
    references: Vec<PathBuf>,
}

impl Worker {
    /// With nothing laid out so far.
    pub fn new(args: Watch, format: MessageFormat, board: Arc<Board>, eyes: Eyes) -> Self {
        let (shared, changes) = (args.shared.clone(), Changes::default());
        Self { args, shared, format, board, eyes, seen: Seen::default(), changes, waiting: None, shown: None }
    }

    /// Works until the program is stopped.
    pub fn run(mut self, woken: &Receiver<Wake>) -> Result<Status> {
        self.follow(&[]);
        self.attempt();
        loop {
            let patience = if self.waiting.is_some() { AGAIN } else { LOOK };
            match woken.recv_timeout(patience) {
                Ok(Wake::Disk) => {
                    clock::pause(SAVE);
                    // A save makes several notices, and our own files in the same folder many more.
                    let asked: Vec<Wake> = woken.try_iter().filter(|wake| !matches!(wake, Wake::Disk)).collect();
                    self.look();
                    asked.into_iter().for_each(|wake| self.answer(wake));
                }
                Ok(asked) => self.answer(asked),
                Err(RecvTimeoutError::Timeout) => self.look(),
                // Without notices, and without a page, there still is the looking.
                Err(RecvTimeoutError::Disconnected) => {
                    clock::pause(LOOK);
                    self.look();
                }
            }
        }
    }

    /// Does what the page asks for. One that has gone needs no answer.
    fn answer(&mut self, asked: Wake) {
        match asked {
            Wake::Disk => self.look(),
            Wake::Settings(changes, reply) => {
                let answer = self.change(changes);
                let is_taken = answer.is_ok();
                drop(reply.send(answer));
                if is_taken {
                    self.attempt();
                }
            }
            Wake::WriteJob(reply) => {
                let answer = self.changes.write(&mut self.shared, &self.args.plan);
                if answer.is_ok() {
                    self.changes = Changes::default();
                    self.attempt();
                }
                drop(reply.send(answer));
            }
        }
    }

    fn change(&mut self, changes: Changes) -> Result<String> {
        let changes = Base::of(&self.shared)?.check(changes)?;
        // What makes no sense is told at once, and what was there stays.
        config::settings(&changes.over(&self.shared))?;
        self.changes = changes;
        Ok(String::new())
    }

    /// Listens for changes of everything that the layout is made from.
    fn follow(&mut self, references: &[PathBuf]) {
        let mut files = vec![self.args.plan.clone()];
        files.extend(config::sources(&self.changes.over(&self.shared)));
        files.extend_from_slice(references);
        self.eyes.rest_on(&files);
        self.seen.follow(&files);
    }

    /// Lays out again when a file has changed, or when one that was being written may be done.
    fn look(&mut self) {
        let has_changed = self.seen.look();
        if has_changed {
            self.waiting = Some(Timer::start());
        }
        if has_changed || self.waiting.is_some_and(|since| since.is_over(SETTLED)) {
            self.attempt();
        }
    }

    /// Shows what can be laid out now; what cannot is waited for, and told when it stays so.
    fn attempt(&mut self) {
        let laid = guarded(|| self.lay_out()).map_err(anyhow::Error::msg).and_then(|laid| laid);
        match laid.and_then(|laid| Ok((self.told(&laid)?, laid))) {
            Ok((text, laid)) => {
                self.waiting = None;
                self.follow(&laid.references);
                let now = Some((laid.shown.outcome.layout.plan.sha256.clone(), laid.shown.settings.clone(), text));
                if now == self.shown {
                    self.board.stand(Standing::Shown);
                } else if let Some((_, _, text)) = &now {
                    self.board.show(laid.shown, text.clone());
                    self.shown = now;
                }
            }
            Err(error) => {
                let why = said(&error);
                if self.waiting.is_some_and(|since| !since.is_over(SETTLED)) {
                    self.board.stand(Standing::Waiting { why });
                    return;
                }
                self.waiting = None;
                match error.downcast_ref::<Refusal>() {
                    Some(refusal) => messages::refusal(&self.args.plan, refusal, self.format),
                    None => messages::failed_plan(&self.args.plan, &error, self.format),
                }
                self.board.stand(Standing::Kept { why });
            }
        }
    }

    fn lay_out(&self) -> Result<Laid> {
        let base = Base::of(&self.shared)?;
        let settings = config::settings(&self.changes.over(&self.shared))?;
        let plan = &self.args.plan;
        let bytes = read::whole(plan).with_context(|| format!("cannot read {}", plan.display()))?;
        let input = Input::of(bytes, plan.parent(), &self.args.source, u64::MAX)?;
        let name = plan.file_name().unwrap_or_default().to_string_lossy();
        let outcome = input.lay_out(&name, &settings, usize::MAX)?;
        let is_preview = !self.changes.is_empty() && config::settings(&self.shared).ok().as_ref() != Some(&settings);
        let references = input.references();
        let shown = Shown { outcome, settings, bytes: input.bytes, is_preview };
        Ok(Laid { shown, base, references })
    }

    /// What the page is told of it.
    fn told(&self, laid: &Laid) -> Result<String> {
        let Shown { outcome, settings, .. } = &laid.shown;
        let findings = sorted(outcome);
        let told = Told {
            svg: guarded(|| outcome.plan_svg(settings)).map_err(anyhow::Error::msg)?,
            posts: outcome.layout.posts.len(),
            panels: outcome.layout.panels.len(),
            proof: outcome.proof.summary(),
            complete: is_complete(&findings),
            limits_hold: limits_hold(&findings),
            headline: outcome.headline(),
            findings: parts::finding_records(&outcome.layout, &findings),
            values: laid.base.values(&self.changes, settings),
            choices: &laid.base.choices,
            changes: &self.changes,
            job: form::job_file(&self.shared, &self.args.plan).display().to_string(),
        };
        Ok(json(&told))
    }
}

/// In the order, and with it the numbers, that the drawings have: what needs a look comes first.
fn sorted(outcome: &Outcome) -> Vec<Finding> {
    let (mut serious, notes): (Vec<Finding>, Vec<Finding>) =
        counted(&outcome.findings).into_iter().partition(|f| f.severity > Severity::Note);
    serious.extend(notes);
    serious
}

/// Why, and what to do.
fn said(error: &anyhow::Error) -> String {
    let Some(refusal) = error.downcast_ref::<Refusal>() else { return format!("{error:#}") };
    let finding = &refusal.finding;
    let hint = finding.hint.as_ref().map(|hint| format!("; {hint}")).unwrap_or_default();
    format!("{}{hint}", finding.message)
}
