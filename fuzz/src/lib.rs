//! What must hold of any bytes at all, beside that nothing panics: one function a fuzz target. `tests/regress.rs` of the
//! main crate runs the same functions over the inputs that once broke one of them.

pub mod job;
pub mod jsonl;
pub mod layout_json;
pub mod length;
pub mod read;
pub mod scan;
pub mod settings;
pub mod stairs;
pub mod tables;

use std::sync::OnceLock;

use plumbrail::base;
use plumbrail::catalog::{self, BalusterStyle, Bays, Job, Settings};

/// Entities, and edges and panels, that a plan may have here: what takes long is tested elsewhere.
const MOST_WORK: usize = 300;

/// Settings that lead through different code.
fn all_settings() -> &'static [Settings] {
    static ALL: OnceLock<Vec<Settings>> = OnceLock::new();
    ALL.get_or_init(|| {
        let of = |system: &str, rules: &str, job: Job| {
            let system = catalog::system_named(system).expect("built in");
            Settings::new(job, system, catalog::rules_named(rules).expect("built in")).expect("valid")
        };
        let system = |n: usize| catalog::builtin_systems().get(n).map_or("composite-36", |(name, _)| *name);
        let rules = |n: usize| catalog::builtin_rules().get(n).map_or("irc-2021", |(name, _)| *name);
        vec![
            of(system(0), rules(0), Job { units: Some("in".into()), ..Job::default() }),
            of(system(1), rules(1), Job { bays: Some(Bays::Cost), ..Job::default() }),
            of(system(2), rules(2), Job { units: Some("mm".into()), symmetric: Some(true), ..Job::default() }),
            of(
                system(0),
                rules(3),
                Job { bays: Some(Bays::Stock), balusters: Some(BalusterStyle::Even), ..Job::default() },
            ),
        ]
    })
}
