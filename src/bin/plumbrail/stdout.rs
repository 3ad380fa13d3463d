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
    ensure!(!is_closed(), "standard output is closed, so nobody would get the file; name a folder with --out");
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

/// What is closed when the program starts is opened as the empty device for reading and writing, before anything of ours
/// runs; a shell opens that for writing alone.
fn is_closed() -> bool {
    #[cfg(unix)]
    {
        use nix::fcntl::{FcntlArg, OFlag, fcntl};
        use nix::sys::stat::{fstat, stat};
        let out = std::io::stdout();
        let mode = fcntl(&out, FcntlArg::F_GETFL).map(|flags| OFlag::from_bits_retain(flags) & OFlag::O_ACCMODE);
        let is_empty =
            || fstat(&out).ok().zip(stat("/dev/null").ok()).is_some_and(|(out, null)| out.st_rdev == null.st_rdev);
        mode == Ok(OFlag::O_RDWR) && is_empty()
    }
    #[cfg(not(unix))]
    false
}

/// Writes the file that is wanted; nothing where there is none.
pub fn write(files: &[File<'_>]) -> Result<()> {
    let mut out = BufWriter::with_capacity(1 << 16, std::io::stdout().lock());
    for file in files {
        file.content.write_to(&mut out).and_then(|()| out.flush()).context("cannot write to standard output")?;
    }
    Ok(())
}
