//! The reduced drawing: selected records, only the groups that we read, each value checked, as plain UTF-8 text for the
//! `dxf` crate.
//!
//! The crate takes one bad number for a bad file, swallows errors within entities, overflows the stack on nested
//! control groups and leaves absent groups at zero. So it gets none of that: records are checked here, in batches of
//! bounded size, under handles of ours that tell which record an entity came from.

use std::io::Write;

use dxf::entities::Entity;

use super::index::{Index, Kind, Record};
use super::tag::{Source, Tag, ValueType};
use super::{text, typed};
use crate::base::{Code, Finding, Place};

use super::report::Report;
use typed::{Fault, Heights, Raw};

/// A batch is handed over when it has this many bytes.
const BATCH_BYTES: usize = 1 << 22;

/// Longest text of one group; CAD programs write at most 2049 bytes.
const LONGEST_TEXT: usize = 1 << 16;

/// Most bytes of one record with its vertices or attributes (a polyline of some ten million vertices), since the crate
/// needs several times as much memory.
const LARGEST_RECORD: usize = 1 << 29;

/// What we read of a kind: groups, and those of them that it cannot do without.
struct Groups {
    read: &'static [i16],
    needed: &'static [i16],
}

const NORMAL: [i16; 3] = [210, 220, 230];

/// Groups by kind (DXF reference, ENTITIES section); `None` for kinds that are not read.
const fn groups(kind: Kind) -> Option<Groups> {
    let (read, needed): (&[i16], &[i16]) = match kind {
        Kind::Line => (&[10, 20, 30, 11, 21, 31], &[10, 20, 11, 21]),
        Kind::Point => (&[10, 20, 30], &[10, 20]),
        Kind::Circle => (&[10, 20, 30, 40], &[10, 20, 40]),
        Kind::Arc => (&[10, 20, 30, 40, 50, 51], &[10, 20, 40, 50, 51]),
        Kind::Ellipse => (&[10, 20, 30, 11, 21, 31, 40, 41, 42], &[10, 20, 11, 21, 40]),
        Kind::Spline => (&[70, 71, 40, 41, 10, 20, 11, 21], &[71]),
        Kind::LwPolyline => (&[70, 38, 10, 20, 42], &[10, 20]),
        Kind::Polyline => (&[70, 30], &[]),
        Kind::Vertex => (&[10, 20, 30, 42, 70], &[10, 20]),
        Kind::Text => (&[1, 10, 20, 30, 11, 21, 31, 72, 73], &[10, 20]),
        Kind::MText => (&[1, 3, 10, 20, 30], &[10, 20]),
        Kind::Attrib => (&[1, 2, 10, 20, 30], &[2]),
        Kind::Insert => (&[2, 10, 20, 30, 41, 42, 43, 44, 45, 50, 70, 71], &[2, 10, 20]),
        _ => return None,
    };
    Some(Groups { read, needed })
}

/// Whether records of a kind can be read.
pub const fn is_readable(kind: Kind) -> bool {
    groups(kind).is_some() && !matches!(kind, Kind::Vertex | Kind::Attrib)
}

/// A finding about a record that is left out.
pub fn about(index: &Index, record: &Record, code: Code, message: String) -> Finding {
    let origin = record.origin();
    let layer = index.layer(record).map(|l| l.name.clone());
    Finding::incomplete(code, Place { handle: origin.handle, line: origin.line, layer, ..Place::none() }, message)
}

/// What became of the selected records.
#[derive(Debug, Default)]
pub struct Read {
    /// Geometry and heights by place in the given list; `None` for what could not be read.
    pub found: Vec<Option<(Raw, Option<Heights>)>>,
    /// Records that are set invisible (group 60).
    pub invisible: Vec<usize>,
}

/// Reads the records at the given places of the index, all of readable kinds.
pub fn read(index: &Index, bytes: &[u8], records: &[usize], report: &mut Report) -> Read {
    let mut reducer = Reducer {
        index,
        source: index.source(bytes),
        out: Vec::new(),
        sent: Vec::new(),
        read: Read { found: Vec::new(), invisible: Vec::new() },
    };
    reducer.read.found.resize_with(records.len(), || None);
    for (place, record) in records.iter().enumerate() {
        reducer.add(place, *record, report);
        if reducer.out.len() >= BATCH_BYTES {
            reducer.flush(report);
        }
    }
    reducer.flush(report);
    reducer.read
}

struct Reducer<'a> {
    index: &'a Index,
    source: Source<'a>,
    out: Vec<u8>,
    /// Place in the list and record, in the order of the handles given.
    sent: Vec<(usize, usize)>,
    read: Read,
}

/// What is wrong with a record, and on which line.
struct Bad {
    line: u32,
    what: String,
}

enum Outcome {
    Written,
    Invisible,
}

impl Reducer<'_> {
    fn add(&mut self, place: usize, at: usize, report: &mut Report) {
        let Some(record) = self.index.records.get(at) else { return };
        let length = self.out.len();
        match self.write(at, record, report) {
            Ok(Outcome::Written) => self.sent.push((place, at)),
            Ok(Outcome::Invisible) => {
                self.out.truncate(length);
                self.read.invisible.push(at);
            }
            Err(bad) => {
                self.out.truncate(length);
                report.add(self.damaged(record, &bad));
            }
        }
    }

    fn damaged(&self, record: &Record, bad: &Bad) -> Finding {
        let kind = self.index.kind_text(record.kind);
        let mut finding =
            about(self.index, record, Code::BadRecord, format!("{kind} is damaged: {}; it was left out", bad.what));
        if bad.line != 0 {
            finding.place.line = Some(u64::from(bad.line));
        }
        finding.hint("correct or redraw it; the plan is read without it")
    }

    /// Writes a record with its vertices or attributes.
    fn write(&mut self, at: usize, record: &Record, report: &mut Report) -> Result<Outcome, Bad> {
        let handle = self.sent.len() + 1;
        let start = self.index.range(at).start;
        if let Outcome::Invisible = self.write_one(at, record, handle)? {
            return Ok(Outcome::Invisible);
        }
        if !matches!(record.kind, Kind::Polyline | Kind::Insert) {
            return Ok(Outcome::Written);
        }
        let head = self.out.len();
        let part = if record.kind == Kind::Polyline { Kind::Vertex } else { Kind::Attrib };
        let mut parts = false;
        for (next, piece) in self.index.records.iter().enumerate().skip(at + 1) {
            if piece.kind == Kind::SeqEnd || !piece.is_part() {
                break;
            }
            if self.index.range(next).end - start > LARGEST_RECORD {
                return Err(Bad { line: record.line, what: "it is larger than any drawing needs".to_owned() });
            }
            let before = self.out.len();
            match self.write_one(next, piece, 0) {
                Ok(_) if piece.kind == part => parts = true,
                Ok(_) => self.out.truncate(before),
                Err(bad) if part == Kind::Vertex => return Err(bad),
                Err(bad) => {
                    self.out.truncate(before);
                    report.add(self.damaged(piece, &bad));
                }
            }
        }
        if parts {
            // Group 66 tells that parts follow.
            self.out.splice(head..head, *b"66\n1\n");
            self.out.extend_from_slice(b"0\nSEQEND\n");
        }
        Ok(Outcome::Written)
    }

    fn write_one(&mut self, at: usize, record: &Record, handle: usize) -> Result<Outcome, Bad> {
        let index = self.index;
        let bad = |line: u32, what: String| Bad { line, what };
        let Some(groups) = groups(record.kind) else {
            return Err(bad(record.line, "it is of a kind that is not read".to_owned()));
        };
        let range = index.range(at);
        if range.len() > LARGEST_RECORD {
            return Err(bad(record.line, "it is larger than any drawing needs".to_owned()));
        }
        self.out.extend_from_slice(b"0\n");
        self.out.extend_from_slice(index.kind_text(record.kind).as_bytes());
        self.out.push(b'\n');
        if handle != 0 {
            self.push(format_args!("5\n{handle:X}\n"));
        }
        let (mut seen, mut pair, mut depth) = (Seen::default(), Pairing::default(), 0_u32);
        let with_normal = record.kind != Kind::Line && record.kind != Kind::Point;
        for tag in self.source.tags(range, record.line).skip(1) {
            let Ok(tag) = tag else { return Err(bad(record.line, "its tags cannot be read".to_owned())) };
            match tag.code {
                102 if self.source.raw(&tag).first() == Some(&b'{') => depth += 1,
                102 => depth = depth.saturating_sub(1),
                _ if depth > 0 => {}
                60 if handle != 0 && self.source.int(&tag) == Some(1) => return Ok(Outcome::Invisible),
                // Embedded objects and the application's data repeat group codes in another sense.
                101 | 1000.. => break,
                100 if self.source.trimmed(&tag) == b"AcDbXrecord" => break,
                code if groups.read.contains(&code) || (with_normal && NORMAL.contains(&code)) => {
                    seen.add(code);
                    pair.check(record.kind, code).map_err(|what| bad(tag.line, what))?;
                    self.value(record.kind, &tag).map_err(|what| bad(tag.line, what))?;
                }
                _ => {}
            }
        }
        pair.finish(record.kind).map_err(|what| bad(record.line, what))?;
        match groups.needed.iter().find(|code| !seen.has(**code)) {
            Some(code) => Err(bad(record.line, format!("it has no group {code}"))),
            None => Ok(Outcome::Written),
        }
    }

    fn push(&mut self, text: std::fmt::Arguments<'_>) {
        // Writing to a vector does not fail.
        let _ = self.out.write_fmt(text);
    }

    /// Writes a checked group.
    fn value(&mut self, kind: Kind, tag: &Tag) -> Result<(), String> {
        let code = tag.code;
        match ValueType::of(code) {
            Some(ValueType::Float) => {
                let Some(value) = self.source.float(tag) else { return Err(self.not_a(tag, "a finite number")) };
                let text = self.source.trimmed(tag);
                if self.source.form.is_binary() || text.len() > 40 {
                    self.push(format_args!("{code}\n{value:e}\n"));
                } else {
                    self.push(format_args!("{code}\n"));
                    self.out.extend_from_slice(text);
                    self.out.push(b'\n');
                }
                // The crate drops spline points without a third coordinate.
                if kind == Kind::Spline && matches!(code, 20 | 21) {
                    self.push(format_args!("{}\n0\n", code + 10));
                }
            }
            Some(ValueType::Int(_)) => {
                let value = self.source.int(tag).and_then(|v| i16::try_from(v).ok());
                let Some(value) = value else { return Err(self.not_a(tag, "a whole number in range")) };
                self.push(format_args!("{code}\n{value}\n"));
            }
            _ => {
                let raw = self.source.raw(tag);
                if raw.len() > LONGEST_TEXT {
                    return Err(format!("its text in group {code} is longer than {LONGEST_TEXT} bytes"));
                }
                let text = text::decode(raw, self.index.encoding);
                self.push(format_args!("{code}\n"));
                for c in text.chars() {
                    match c {
                        // The crate reads carets as escapes; they are resolved later.
                        '^' => self.out.extend_from_slice(b"^ "),
                        c if c.is_control() => self.out.push(b' '),
                        c => self.out.extend_from_slice(c.encode_utf8(&mut [0; 4]).as_bytes()),
                    }
                }
                self.out.push(b'\n');
            }
        }
        Ok(())
    }

    fn not_a(&self, tag: &Tag, what: &str) -> String {
        if self.source.form.is_binary() {
            return format!("group {} is not {what}", tag.code);
        }
        let raw = self.source.trimmed(tag);
        let found: String = String::from_utf8_lossy(raw.get(..40).unwrap_or(raw)).escape_debug().collect();
        format!("`{found}` in group {} is not {what}", tag.code)
    }

    /// Hands the batch to the crate and takes the entities.
    fn flush(&mut self, report: &mut Report) {
        if self.sent.is_empty() {
            return;
        }
        let head = b"0\nSECTION\n2\nHEADER\n9\n$ACADVER\n1\nAC1032\n0\nENDSEC\n0\nSECTION\n2\nENTITIES\n";
        let tail: &[u8] = b"0\nENDSEC\n0\nEOF\n";
        let mut reader = std::io::Read::chain(std::io::Read::chain(&head[..], self.out.as_slice()), tail);
        let mut drawing = dxf::Drawing::load_with_encoding(&mut reader, encoding_rs::UTF_8).ok();
        let mut entities = drawing.iter_mut().flat_map(dxf::Drawing::entities_mut).peekable();
        for (n, (place, at)) in self.sent.iter().enumerate() {
            let Some(record) = self.index.records.get(*at) else { continue };
            let handle = n as u64 + 1;
            let entity = entities.next_if(|e: &&mut Entity| e.common.handle.0 == handle);
            let found = entity.map_or_else(
                || Err(Fault::Bad("it could not be read".to_owned())),
                |e| {
                    let heights = typed::heights(e);
                    typed::convert(e).map(|raw| (raw, heights))
                },
            );
            match found {
                Ok(found) => {
                    if let Some(slot) = self.read.found.get_mut(*place) {
                        *slot = Some(found);
                    }
                }
                Err(fault) => report.add(fault_finding(self.index, record, fault)),
            }
        }
        self.out.clear();
        self.sent.clear();
    }
}

fn fault_finding(index: &Index, record: &Record, fault: Fault) -> Finding {
    let kind = index.kind_text(record.kind);
    match fault {
        Fault::Bad(what) => {
            let message = format!("{kind} is damaged: {what}; it was left out");
            about(index, record, Code::BadRecord, message).hint("correct or redraw it; the plan is read without it")
        }
        Fault::NotInPlan => {
            let message = format!("{kind} does not lie in the plan's plane; it was left out");
            about(index, record, Code::NotInPlan, message).hint("draw it flat, in the world coordinate system")
        }
        Fault::NotRead(what) => {
            let message = format!("{kind} {what} is not read; it was left out");
            about(index, record, Code::RecordNotRead, message).hint("draw edges with LINE, LWPOLYLINE or ARC")
        }
    }
}

/// Group codes seen in a record, of those up to 255.
#[derive(Default)]
struct Seen([u64; 4]);

impl Seen {
    fn slot(code: i16) -> (usize, u64) {
        let code = usize::try_from(code).unwrap_or(0);
        (code / 64, 1 << (code % 64))
    }

    fn add(&mut self, code: i16) {
        let (slot, bit) = Self::slot(code);
        if let Some(bits) = self.0.get_mut(slot) {
            *bits |= bit;
        }
    }

    fn has(&self, code: i16) -> bool {
        let (slot, bit) = Self::slot(code);
        self.0.get(slot).is_some_and(|bits| bits & bit != 0)
    }
}

/// In LWPOLYLINE and SPLINE points repeat: each x must have its y, and what belongs to a vertex must follow one.
#[derive(Default)]
struct Pairing {
    open: i16,
    vertices: usize,
}

impl Pairing {
    fn check(&mut self, kind: Kind, code: i16) -> Result<(), String> {
        if !matches!(kind, Kind::LwPolyline | Kind::Spline) {
            return Ok(());
        }
        match code {
            10 | 11 if self.open == 0 => {
                self.open = code + 10;
                self.vertices += 1;
            }
            20 | 21 if self.open == code => self.open = 0,
            10 | 11 | 20 | 21 => return Err(format!("group {code} is out of order")),
            42 if kind == Kind::LwPolyline && self.vertices == 0 => {
                return Err("a bulge stands before the first vertex".to_owned());
            }
            _ => {}
        }
        Ok(())
    }

    fn finish(&self, kind: Kind) -> Result<(), String> {
        match (self.open, kind) {
            (0, _) => Ok(()),
            (code, _) => Err(format!("the last point has no group {code}")),
        }
    }
}
