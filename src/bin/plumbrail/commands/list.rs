//! `plumbrail list`: what is built in.

use anyhow::{Context, Result};
use plumbrail::catalog;

use super::print;
use crate::args::{List, Listed};
use crate::config::Status;

pub fn run(args: &List) -> Result<Status> {
    let all = match args.what {
        Listed::Systems => catalog::builtin_systems(),
        Listed::Rules => catalog::builtin_rules(),
    };
    if let Some(name) = &args.show {
        let found = all.iter().find(|(n, _)| n == name);
        let names: Vec<&str> = all.iter().map(|(n, _)| *n).collect();
        let (_, text) =
            found.with_context(|| format!("there is none named `{name}`; built in: {}", names.join(", ")))?;
        return print(text);
    }
    let mut out = String::new();
    for (i, (name, _)) in all.iter().enumerate() {
        let title = match args.what {
            Listed::Systems => catalog::system_named(name)?.title,
            Listed::Rules => catalog::rules_named(name)?.title,
        };
        let default = if i == 0 { " [default]" } else { "" };
        out.push_str(&format!("{name}  {title}{default}\n"));
    }
    print(&out)
}
