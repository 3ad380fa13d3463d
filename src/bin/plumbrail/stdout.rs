//! `--out -`: one file goes to standard output, so that another program can read it from a pipe.

use std::io::{BufWriter, Write};
use std::path::Path;

use anyhow::{Context, Result, bail, ensure};

use crate::args::{Format, Layout};
use crate::output::File;

/// Whether a path stands for standard output. A folder of that name is `./-`.
pub fn is(out: Option<&Path>) -> bool {
    out == Some(Path::new("-"))
}

/// The arguments with the one format that goes to standard output: the plan with the rails in it, if nothing is said.
pub fn one_format(args: &Layout) -> Result<Layout> {
    let mut args = args.clone();
    if !is(args.out.as_deref()) {
        return Ok(args);
    }
    ensure!(!args.in_place, "--in-place writes into the plan, and --out - to standard output; leave one of them out");
    let outputs = &mut args.outputs;
    match (outputs.only.as_slice(), outputs.attach) {
        ([], false) => outputs.only = vec![Format::Rail],
        ([], true) => outputs.only = vec![Format::Dxf],
        ([Format::Pdf | Format::Csv | Format::Png], _) => bail!("that format has more than one file; {WRITE_ONE}"),
        ([_], false) | ([Format::Dxf], true) => {}
        _ => bail!("standard output takes one file; {WRITE_ONE}"),
    }
    Ok(args)
}

const WRITE_ONE: &str = "with --out - write --formats rail, dxf, svg (of which it takes plan.svg), json, html or xlsx, or \
                         name a folder with --out";

/// Writes the file that is wanted; nothing where there is none.
pub fn write(files: &[File<'_>]) -> Result<()> {
    let mut out = BufWriter::with_capacity(1 << 16, std::io::stdout().lock());
    for file in files {
        file.content.write_to(&mut out).and_then(|()| out.flush()).context("cannot write to standard output")?;
    }
    Ok(())
}
