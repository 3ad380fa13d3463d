//! `plumbrail batch`: many plans, or JSON records in and out; one bad plan never stops the rest.

mod fence;
mod files;
mod jsonl;
mod lines;
mod names;
mod record;
mod reply;
mod stamp;

use anyhow::Result;

use crate::args::{Batch, MessageFormat};
use crate::config::Status;
use crate::guarded;

/// Threads get what the main thread has, so that a plan needs no more room here than in `layout`.
const STACK_BYTES: usize = 8 << 20;

pub fn run(args: &Batch, format: MessageFormat) -> Result<Status> {
    guarded::quiet();
    if args.jsonl { jsonl::run(args) } else { files::run(args, format) }
}

/// How many plans are worked on at a time.
fn jobs(args: &Batch) -> usize {
    args.jobs.unwrap_or_else(|| std::thread::available_parallelism().map_or(1, usize::from))
}
