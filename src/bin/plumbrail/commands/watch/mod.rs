//! `plumbrail watch`: lays out again at every save of the plan, and shows the result in a browser.
//!
//! One thread lays out (`worker`), one makes and writes the files (`maker`), one a connection answers the browser
//! (`server`). They meet at the `board`, on which the newest layout stands; what wakes the worker comes by a channel.

mod board;
mod clock;
mod disk;
mod form;
mod guard;
mod http;
mod maker;
mod server;
mod waiting;
mod worker;

use std::path::Path;
use std::sync::{Arc, mpsc};

use anyhow::{Context, Result, ensure};

use super::print;
use crate::args::{MessageFormat, Watch};
use crate::config::Status;
use crate::{guarded, stdout};
use board::Board;
use disk::Eyes;
use server::Server;
use worker::Worker;

pub fn run(args: Watch, format: MessageFormat) -> Result<Status> {
    ensure!(args.plan != Path::new("-"), "watch needs a plan that is a file");
    ensure!(!stdout::is(args.out.as_deref()), "watch writes into a folder; name one with --out");
    let about = args.plan.metadata().with_context(|| format!("cannot read {}", args.plan.display()))?;
    ensure!(about.is_file(), "{} is no file; name the DXF file in it", args.plan.display());
    guarded::quiet();
    let board = Arc::new(Board::default());
    let (wake, woken) = mpsc::channel();
    let eyes = Eyes::open(wake.clone());
    if args.serve {
        let server = Server::open(args.port, &args.plan, Arc::clone(&board), wake)?;
        print(&format!("{}\n", server.address()))?;
        server.start()?;
    }
    maker::start(&args, Arc::clone(&board), format)?;
    Worker::new(args, format, board, eyes).run(&woken)
}
