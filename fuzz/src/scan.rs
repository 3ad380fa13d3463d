//! The tag scanner and the index of records that it makes.

use plumbrail::base::Refusal;
use plumbrail::cad::scan::{self, DAMAGED_HANDLE, Index, Needs};
use plumbrail::cad::tag::{Form, Lexer, Newline, Source, TagError};
use plumbrail::write::lint;

/// Tags follow each other without a gap, lines are counted right, and the index lies within the bytes.
pub fn check(bytes: &[u8]) {
    tags(bytes);
    let all = scan::index(bytes);
    passed_by(bytes, &all);
    if let Ok(index) = all {
        assert!(index.end <= bytes.len());
        assert!(index.records.windows(2).all(|w| w[0].start < w[1].start && w[0].line <= w[1].line));
        let count = index.records.len();
        let ranges = index.sections.iter().map(|s| &s.records).chain(index.tables.iter().map(|t| &t.entries));
        for range in ranges.chain(index.blocks.iter().map(|b| &b.records)) {
            assert!(range.start <= range.end && range.end <= count, "{range:?} of {count}");
        }
        for (i, record) in index.records.iter().enumerate() {
            let range = index.range(i);
            assert!(range.start < range.end && range.end <= bytes.len());
            assert!(record.layer == scan::NONE || index.layer(record).is_some());
        }
        let spans: usize = index.spans(bytes.len()).map(|span| span.len()).sum();
        assert!(spans <= bytes.len());
    }
    for error in lint::lint(bytes) {
        assert!(!error.message.is_empty() && error.message.len() < 20_000);
    }
}

/// A scan that passes by what is on no wanted layer refuses the same drawings, and says the same of handles.
fn passed_by(bytes: &[u8], all: &Result<Index, Refusal>) {
    let wanted = |layer: &str| layer.len() % 2 == 1;
    for (inside, host) in [(false, false), (true, false), (false, true)] {
        match (all, scan::index_of(bytes, Needs { wanted: &wanted, inside, host })) {
            (Ok(all), Ok(part)) => {
                assert_eq!((part.end, part.blocks.len()), (all.end, all.blocks.len()));
                assert!(!host || (handles(&part), part.subclasses) == (handles(all), all.subclasses));
            }
            (Err(all), Err(part)) => assert_eq!(all, &part),
            (all, part) => panic!("{:?} {:?}", all.as_ref().err(), part.err()),
        }
    }
}

/// Whether there are any, and the highest that is not damaged.
fn handles(index: &Index) -> (bool, Option<u64>) {
    let all = || index.records.iter().map(|record| record.handle);
    (all().any(|handle| handle != 0), all().filter(|handle| *handle < DAMAGED_HANDLE).max())
}

fn tags(bytes: &[u8]) {
    let (form, start) = Form::of(bytes);
    let source = Source { bytes, form };
    let end_byte = if form == Form::Text(Newline::Cr) { b'\r' } else { b'\n' };
    let (mut at, mut line) = (start, 1);
    let mut copy = bytes[..start].to_vec();
    for tag in Lexer::new(bytes, form, start, 1) {
        match tag {
            Ok(tag) => {
                assert_eq!(tag.start, at);
                assert!(tag.start < tag.value && tag.value <= tag.value_end && tag.value_end <= tag.end);
                assert_eq!(tag.line, if form.is_binary() { 0 } else { line });
                copy.extend_from_slice(&bytes[tag.start..tag.end]);
                line += u32::try_from(memchr::memchr_iter(end_byte, &bytes[tag.start..tag.end]).count()).unwrap();
                at = tag.end;
                assert!(source.float(&tag).is_none_or(f64::is_finite));
                assert_ne!(source.handle(&tag), Some(0));
                source.int(&tag);
            }
            Err(TagError::Code { at: place, .. } | TagError::End { at: place, .. }) => {
                assert_eq!(place, at);
                copy.extend_from_slice(&bytes[at..]);
                at = bytes.len();
            }
        }
    }
    assert_eq!(at, bytes.len());
    assert!(copy == bytes, "the tags are not the bytes");
}
