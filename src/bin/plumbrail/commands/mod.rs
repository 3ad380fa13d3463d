//! One file a command.

mod adapters;
mod batch;
mod check;
mod inspect;
mod layout;
mod lint;
mod list;
mod man;
mod panel;
mod watch;

use std::io::Write;

use anyhow::{Context, Result};
use clap::CommandFactory;
use comfy_table::{CellAlignment, Table, presets};
use plumbrail::base::{visible, visible_line};

use crate::args::{Args, Command};
use crate::config::Status;

/// Runs the command.
pub fn run(args: Args) -> Result<Status> {
    let format = args.message_format;
    match args.command {
        Command::Layout(a) => layout::run(&a, format),
        Command::Watch(a) => watch::run(a, format),
        Command::Batch(a) => batch::run(&a, format),
        Command::Panel(a) => panel::run(&a, format),
        Command::Inspect(a) => inspect::run(&a, format),
        Command::Check(a) => check::run(&a, format),
        Command::List(a) => list::run(&a),
        Command::Adapters(a) => adapters::run(&a),
        Command::Completions { shell } => {
            let mut script = Vec::new();
            clap_complete::generate(shell, &mut Args::command(), "plumbrail", &mut script);
            print(&String::from_utf8_lossy(&script))
        }
        Command::Man { out } => man::run(out.as_deref()),
    }
}

/// A table for the terminal, its columns in line; those of `right` are numbers.
fn table(header: &[&str], right: &[usize]) -> Table {
    let mut table = Table::new();
    table.load_style(presets::NOTHING).set_header(header.to_vec());
    for column in right {
        if let Some(c) = table.column_mut(*column) {
            c.set_cell_alignment(CellAlignment::Right);
        }
    }
    table
}

/// `1 panel`, `2 panels`.
fn count(number: usize, what: &str) -> String {
    let plural = if number == 1 { "" } else { "s" };
    format!("{number} {what}{plural}")
}

/// Prints one line on standard output.
fn print_line(text: &str) -> Result<Status> {
    print(&format!("{}\n", visible_line(text)))
}

/// Prints on standard output, with nothing in it that a terminal would obey; a reader that has gone away (`| head`) is no error.
fn print(text: &str) -> Result<Status> {
    let mut out = std::io::stdout().lock();
    match out.write_all(visible(text).as_bytes()).and_then(|()| out.flush()) {
        Err(e) if e.kind() != std::io::ErrorKind::BrokenPipe => Err(e).context("cannot write to standard output"),
        _ => Ok(Status::Done),
    }
}
