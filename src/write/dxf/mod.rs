//! DXF of our own making, R12 to R2018, ASCII or binary.
//!
//! [`document`] gives a complete drawing. The parts below it serve the user's drawing as well: [`records()`] gives the
//! same records for any [`Target`] (version, form, encoding) and any [`Ties`] (owners and names of the file that they
//! go into).

mod blocks;
mod clip;
pub(in crate::write) mod document;
pub mod entity;
mod fill;
mod layouts;
mod measured;
mod paper;
mod paragraph;
mod records;
#[cfg(test)]
pub(in crate::write) mod sample;
pub mod tables;
mod tags;
#[cfg(test)]
mod tests;
mod text;
mod window;

use std::collections::BTreeMap;

use crate::base::{Frame, Point};
use crate::cad::Version;
use crate::sheet::{Drawing, Layer, Page};

pub use document::has_sheets;
pub use paper::{Paper, Sheet};
pub use records::{Records, Taken, Ties, records};
pub use tags::{APP_ID, Handle, Handles, Mark, Newline, SENTINEL, Tags, Target};

/// Versions that can be written.
pub const VERSIONS: [Version; 7] =
    [Version::R12, Version::R2000, Version::R2004, Version::R2007, Version::R2010, Version::R2013, Version::R2018];

/// A drawing and where it lies in the file.
#[derive(Debug, Clone, Copy)]
pub struct Placed<'a> {
    /// The drawing.
    pub drawing: &'a Drawing,
    /// Where its origin comes to lie, in the plan's local mm; the plan itself lies at zero.
    pub at: Point,
}

/// What a new drawing is to be like.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct DxfOptions {
    /// Version: R12 to R2018.
    pub version: Version,
    /// Binary instead of ASCII.
    pub binary: bool,
    /// Line ends, if ASCII.
    pub newline: Newline,
    /// Names for our layers, where the job has its own.
    pub layer_names: BTreeMap<Layer, String>,
}

impl Default for DxfOptions {
    /// ASCII of R2000, the oldest version with layouts, which every program in use reads.
    fn default() -> Self {
        Self { version: Version::R2000, binary: false, newline: Newline::Lf, layer_names: BTreeMap::new() }
    }
}

/// A complete drawing with `drawings` in its model space, in the units and at the coordinates of `frame`, and from R2000
/// a layout for each of `pages`, whose views are windows on the drawings of the same name. R12 has no layouts.
pub fn document(drawings: &[Placed<'_>], pages: &[Page], frame: &Frame, options: &DxfOptions) -> Vec<u8> {
    document::document(drawings, pages, frame, options)
}
