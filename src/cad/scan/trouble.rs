//! Why a drawing cannot be scanned, with line or byte.

use super::super::tag::{Form, Newline};
use crate::base::{Code, Finding, Place, Refusal};

pub(super) fn refusal(line: u32, message: String, hint: &str) -> Refusal {
    let place = Place { line: (line != 0).then(|| u64::from(line)), ..Place::none() };
    Refusal::new(Finding::error(Code::NotReadable, place, message).hint(hint))
}

/// What stands there is not quoted: it may be no drawing at all, and not be meant for who named the file.
pub(super) fn bad_code(form: Form, line: u32, at: usize) -> Refusal {
    if form.is_binary() {
        let message = format!("there is no group code at byte {at} of the binary drawing");
        return refusal(0, message, "the file is damaged: save the drawing again as DXF");
    }
    let message = format!("line {line} holds no group code where one must stand");
    refusal(line, message, "a line is missing or one too many before it: save the drawing again as DXF")
}

/// How many lines there are.
pub(super) fn lines_of(bytes: &[u8], form: Form) -> u32 {
    let end = if form == Form::Text(Newline::Cr) { b'\r' } else { b'\n' };
    let ends = memchr::memchr_iter(end, bytes).count();
    let open = bytes.last().is_some_and(|b| *b != end);
    u32::try_from(ends + usize::from(open)).unwrap_or(u32::MAX)
}
