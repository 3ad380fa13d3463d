//! A strict check of a drawing's structure.
//!
//! The usual readers overlook what a program as strict as the format's owner refuses: a missing APPID, a wrong owner, a
//! stale handle seed. So everything that we write has to pass this check, and users can run it on their own drawings.

mod checks;
mod facts;
mod markers;
mod reader;
#[cfg(test)]
mod tests;
mod walk;

use checks::Checks;
use facts::Facts;
use walk::Record;

/// Most errors that are told: a drawing with one cause of error often has it in every record.
const MOST_ERRORS: usize = 1000;

/// Something wrong with the structure of a drawing.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct LintError {
    /// Line in the file (1 is the first); none in binary files, and where something is missing as a whole.
    pub line: Option<u64>,
    /// Handle of the record.
    pub handle: Option<u64>,
    /// What is wrong.
    pub message: String,
}

/// Checks the structure of an ASCII or binary DXF drawing of R12 or later, and gives all that is wrong with it, at most
/// 1000 errors. Where the order of sections, tables or blocks is broken, that alone is told.
pub fn lint(bytes: &[u8]) -> Vec<LintError> {
    let mut errors = Errors::default();
    let mut facts = Facts::default();
    let is_sound = walk::walk(bytes, &mut errors, &mut |errors, place, record| facts.add(errors, place, record));
    if is_sound {
        facts.check(&mut errors);
        let mut checks = Checks::new(&facts);
        // The first walk has told what the walk itself finds.
        let mut second = Errors::default();
        walk::walk(bytes, &mut second, &mut |_, place, record| checks.check(&mut errors, place, record));
    }
    errors.list
}

#[derive(Debug, Default)]
struct Errors {
    list: Vec<LintError>,
}

impl Errors {
    fn add(&mut self, line: Option<u64>, handle: Option<u64>, message: String) {
        if self.list.len() < MOST_ERRORS {
            self.list.push(LintError { line, handle, message });
        }
    }

    fn on(&mut self, record: &Record<'_>, message: String) {
        self.add(record.line, record.handle(), message);
    }
}
