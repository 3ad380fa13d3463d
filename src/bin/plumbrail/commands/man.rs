//! `plumbrail man`: manual pages from the same definition as the help.

use std::path::Path;

use anyhow::Result;
use clap::CommandFactory;
use clap_mangen::Man;

use super::{count, print};
use crate::args::Args;
use crate::config::Status;
use crate::output::{self, File, There};

/// Prints the program's page, or writes one page a command into a folder.
pub fn run(out: Option<&Path>) -> Result<Status> {
    // `help` has no options and so no page.
    let mut program = Args::command().disable_help_subcommand(true);
    program.build();
    let Some(folder) = out else { return print(&page(program)?) };
    let mut files = Vec::new();
    for command in program.get_subcommands() {
        let name = command.get_display_name().unwrap_or(command.get_name());
        files.push(File::new(format!("{name}.1"), page(command.clone())?.into_bytes()));
    }
    files.push(File::new("plumbrail.1".to_owned(), page(program)?.into_bytes()));
    output::write(folder, &files, &There::nothing())?;
    print(&format!("{} written to {}\n", count(files.len(), "page"), folder.display()))
}

fn page(command: clap::Command) -> Result<String> {
    let mut bytes = Vec::new();
    // The version is that of the program, and no date stands there: the same program gives the same pages.
    Man::new(command)
        .source(concat!("plumbrail ", env!("CARGO_PKG_VERSION")))
        .manual("plumbrail")
        .render(&mut bytes)?;
    Ok(String::from_utf8_lossy(&bytes).into_owned())
}
