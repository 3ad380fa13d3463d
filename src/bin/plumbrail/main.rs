//! The program: the only place with files, the terminal and arguments.

mod args;
mod commands;
mod config;
mod converter;
mod input;
mod messages;
mod output;
mod read;

use std::process::ExitCode;

use clap::Parser;

fn main() -> ExitCode {
    let args = args::Args::parse();
    let format = args.message_format;
    match commands::run(args) {
        Ok(status) => status.into(),
        Err(error) => {
            messages::failure(&error, format);
            config::Status::of(&error).into()
        }
    }
}
