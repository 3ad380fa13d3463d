//! All checks of the whole: each module below is one kind, each function or fixture one case.

// A check that fails by unwrap fails as well as one that asserts.
#![allow(clippy::unwrap_used, clippy::expect_used, clippy::panic, clippy::indexing_slicing)]

mod adapters;
mod batch;
mod batch_jsonl;
mod bays;
mod calling;
mod cli;
mod cli_check;
mod cli_job;
mod cli_panel;
mod colours;
mod corpus;
mod cost;
mod curves;
mod cutting;
mod drawn;
mod edits;
mod faults;
mod fence;
#[cfg(unix)]
mod foreign;
mod golden;
mod graft;
mod hostile;
mod hostile_bytes;
mod hostile_data;
mod hostile_files;
mod hostile_records;
mod hostile_texts;
mod inks;
mod inputs;
mod interop;
mod joint;
mod kills;
mod manual;
mod outside;
mod paper;
mod pictures;
mod plans;
mod program;
mod proof_file;
mod proof_good;
mod proof_leaks;
mod proof_mutations;
mod rail_file;
mod regress;
mod relations;
mod rules;
mod schema;
mod sheets;
mod skipping;
#[path = "../benches/plan/mod.rs"]
mod speed_plan;
mod supply;
mod supply_chain;
mod templates;
mod tidy;
#[cfg(unix)]
mod together;
mod watch;
mod write_job;

// What `fuzz/` takes from within a stage looks for the stages before it here.
use plumbrail::{base, catalog};
