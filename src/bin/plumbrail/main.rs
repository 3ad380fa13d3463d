//! The program: the only place with files, the terminal and arguments.

mod args;
mod commands;
mod config;
mod converter;
mod files;
mod guarded;
mod input;
mod messages;
mod output;
mod png;
mod read;
mod stdout;

use std::process::ExitCode;

use clap::Parser;
#[cfg(unix)]
use nix::sys::signal::{SigSet, Signal};

fn main() -> ExitCode {
    // A file larger than the user's limit is then an error of its writing, and not the end of the program.
    #[cfg(unix)]
    let _ = SigSet::from(Signal::SIGXFSZ).thread_block();
    let args = match args::Args::try_parse() {
        Ok(args) => args,
        Err(error) => {
            messages::usage(&error);
            return if error.use_stderr() { config::Status::Use } else { config::Status::Done }.into();
        }
    };
    let format = args.message_format;
    match commands::run(args) {
        Ok(status) => status.into(),
        Err(error) => {
            messages::failure(&error, format);
            config::Status::of(&error).into()
        }
    }
}
