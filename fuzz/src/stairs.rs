//! What a text or an attribute says of a stair.

// The reader of such texts is private to its stage; it finds the stages before it at the root of who includes it.
#[allow(dead_code)]
#[path = "../../src/deck/stairs/text.rs"]
mod text;

use super::base::{Length, Unit};

/// No length is less than nothing, and what is said twice contradicts nothing and adds nothing. The first line is the tag of
/// an attribute where there are more lines.
pub fn check(bytes: &[u8]) {
    let Ok(all) = std::str::from_utf8(bytes) else { return };
    let (tag, value) = all.split_once('\n').unwrap_or(("RISE", all));
    for unit in [Unit::Inch, Unit::Millimetre] {
        for said in [text::said(all, unit), text::attribute(tag, value, unit)] {
            let lengths = [said.riser, said.total, said.tread, said.nosing];
            assert!(lengths.into_iter().flatten().all(|l| l >= Length::ZERO), "{said:?}");
            let mut twice = said;
            assert!(!twice.add(&said) && twice == said);
        }
    }
}
