//! Sheets as pictures, in a build that can draw them.

use std::collections::BTreeMap;

use anyhow::Result;
use plumbrail::sheet::{Layer, Page};

use crate::output::File;

/// Dots an inch: the smallest text of a sheet is 11 dots high.
#[cfg(feature = "png")]
const DOTS: f64 = 150.0;

/// `sheets/<number>.png` of each sheet.
#[cfg(feature = "png")]
pub fn files(pages: &[Page], names: &BTreeMap<Layer, String>) -> Result<Vec<File<'static>>> {
    let file = |page: &Page| {
        let bytes = plumbrail::write::png::page(page, names, DOTS)?;
        Ok(File::new(format!("sheets/{}.png", page.number), bytes))
    };
    pages.iter().map(file).collect()
}

/// Says how to get a build that can.
#[cfg(not(feature = "png"))]
pub fn files(_: &[Page], _: &BTreeMap<Layer, String>) -> Result<Vec<File<'static>>> {
    anyhow::bail!(
        "--formats png: this build draws no pictures; build one that does with \
         `cargo build --release --features png`, or leave png out"
    )
}
