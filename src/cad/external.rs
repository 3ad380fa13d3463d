//! External references: drawings that a plan shows without holding them.
//!
//! A BLOCK with flag 4 or 8 names a file (DXF reference, BLOCK, groups 70 and 1). The library opens no files: it asks the
//! caller for each reference that is placed, and reads what it is given like a block.

use crate::base::Unit;

/// Deepest nesting of references; real ones stay under four.
pub const DEEPEST: usize = 8;

/// Most drawings that are read for one plan, the plan included.
pub const MOST_FILES: usize = 64;

/// A reference that the drawing needs.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Reference<'a> {
    /// Name of its block; its layers are called `name|layer`.
    pub name: &'a str,
    /// Path as written in the drawing, with `/` or `\`.
    pub path: &'a str,
    /// File in which it stands, as [`External::file`] named it; empty for the plan itself.
    pub within: &'a str,
}

/// What a reference shows.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct External {
    /// Name of the file for messages.
    pub file: String,
    /// Its bytes: a DXF drawing.
    pub bytes: Vec<u8>,
}

/// Gives the drawing of a reference, or says why it cannot.
pub type Externals<'a> = dyn Fn(&Reference<'_>) -> Result<External, String> + 'a;

/// For callers who give none.
///
/// # Errors
/// Always.
pub fn no_externals(_: &Reference<'_>) -> Result<External, String> {
    Err("no file was given for it".to_owned())
}

/// Unit of a drawing: as it says itself, and as it is read.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Units {
    /// What `$INSUNITS` says, if that is a unit that a deck is drawn in.
    pub written: Option<Unit>,
    /// What it is read with.
    pub used: Unit,
}

impl Units {
    /// Of a reference within a drawing. One that says the same as its host is read like it, also where `--units` says
    /// better; one that says nothing is taken to be drawn like its host.
    pub fn within(host: Self, written: Option<Unit>) -> Self {
        let used = if written == host.written { host.used } else { written.unwrap_or(host.used) };
        Self { written, used }
    }
}

/// By what the contents of a placed reference are to be multiplied, and whether that is doubtful.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Scale {
    /// As the INSERT says.
    AsPlaced,
    /// The INSERT does not scale, but the units differ: this factor makes the sizes true.
    Converted(f64),
    /// The INSERT scales by something else than the units ask for.
    Doubtful(f64),
}

impl Scale {
    /// CAD programs write the conversion of units into the scale of the INSERT when they place a reference; a scale of 1
    /// between different units comes from programs or hands that did not.
    pub fn of(host: Unit, reference: Unit, placed: Option<f64>) -> Self {
        let factor = reference.nanometres() as f64 / host.nanometres() as f64;
        let near = |a: f64, b: f64| (a - b).abs() <= 1e-4 * b;
        match placed {
            _ if host == reference => Self::AsPlaced,
            Some(scale) if near(scale, factor) => Self::AsPlaced,
            Some(scale) if near(scale, 1.0) => Self::Converted(factor),
            _ => Self::Doubtful(factor),
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn units_are_converted_once() {
        use Unit::{Foot, Inch, Millimetre};
        assert_eq!(Scale::of(Inch, Inch, Some(12.0)), Scale::AsPlaced);
        assert_eq!(Scale::of(Millimetre, Inch, Some(25.4)), Scale::AsPlaced);
        assert_eq!(Scale::of(Millimetre, Inch, Some(1.0)), Scale::Converted(25.4));
        assert_eq!(Scale::of(Inch, Foot, Some(1.0)), Scale::Converted(12.0));
        assert_eq!(Scale::of(Inch, Foot, Some(2.0)), Scale::Doubtful(12.0));
        assert_eq!(Scale::of(Inch, Foot, None), Scale::Doubtful(12.0));
    }

    #[test]
    fn a_reference_without_a_unit_follows_its_host() {
        let host = Units { written: Some(Unit::Inch), used: Unit::Foot };
        assert_eq!(Units::within(host, None).used, Unit::Foot);
        assert_eq!(Units::within(host, Some(Unit::Inch)).used, Unit::Foot);
        assert_eq!(Units::within(host, Some(Unit::Metre)).used, Unit::Metre);
    }
}
