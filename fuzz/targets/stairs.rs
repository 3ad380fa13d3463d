//! What a text or an attribute says of a stair.

#![no_main]

use plumbrail::base::{Length, Unit};
// The reader of such texts is private to its stage, and finds the stages before it here.
use plumbrail::{base, catalog};

#[allow(dead_code, unused_imports)]
#[path = "../../src/deck/stairs/text.rs"]
mod text;

libfuzzer_sys::fuzz_target!(|bytes: &[u8]| {
    let Ok(text) = std::str::from_utf8(bytes) else { return };
    let (tag, value) = text.split_once('\n').unwrap_or(("RISE", text));
    for unit in [Unit::Inch, Unit::Millimetre] {
        for said in [text::said(text, unit), text::attribute(tag, value, unit)] {
            let lengths = [said.riser, said.total, said.tread, said.nosing];
            assert!(lengths.into_iter().flatten().all(|l| l >= Length::ZERO), "{said:?}");
            let mut twice = said;
            assert!(!twice.add(&said) && twice == said);
        }
    }
});
