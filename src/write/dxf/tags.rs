//! The sink that every record goes through: group codes and values, as ASCII or binary DXF of one version.

use std::fmt;
use std::io::Write as _;

use encoding_rs::Encoding;

use super::text;
use crate::base::{Point, push_decimal};
use crate::cad::{Fact, Version};

/// What a binary drawing begins with (DXF reference, "Binary DXF files").
pub const SENTINEL: &[u8] = b"AutoCAD Binary DXF\r\n\x1a\0";

/// Application name in the XDATA of every record of ours.
pub const APP_ID: &str = "PLUMBRAIL";

/// Version of our XDATA: its group 1070.
const MARK_VERSION: i64 = 1;

/// Longest XDATA string in bytes (DXF reference, group 1000).
const MARK_BYTES: usize = 255;

/// A handle; 0 is "none".
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Default)]
pub struct Handle(pub u64);

impl fmt::Display for Handle {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(f, "{:X}", self.0)
    }
}

/// Gives out unused handles in ascending order.
#[derive(Debug, Clone)]
pub struct Handles {
    next: u64,
}

impl Handles {
    /// The first to give out; for a new drawing 1, since 0 is "none".
    pub const fn starting_at(next: u64) -> Self {
        Self { next }
    }

    /// One that nobody has yet.
    pub const fn take(&mut self) -> Handle {
        let handle = Handle(self.next);
        self.next += 1;
        handle
    }

    /// What `$HANDSEED` must say now.
    pub const fn seed(&self) -> Handle {
        Handle(self.next)
    }
}

/// Line ends of an ASCII drawing.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Newline {
    /// Line feed.
    Lf,
    /// Carriage return and line feed.
    CrLf,
    /// Carriage return.
    Cr,
}

impl Newline {
    const fn bytes(self) -> &'static [u8] {
        match self {
            Self::Lf => b"\n",
            Self::CrLf => b"\r\n",
            Self::Cr => b"\r",
        }
    }
}

/// The kind of file that records are written for.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Target {
    /// Its version.
    pub version: Version,
    /// Binary instead of ASCII.
    pub binary: bool,
    /// Line ends, if ASCII.
    pub newline: Newline,
    /// Encoding of texts before R2007; `None` writes ASCII with `\U+XXXX`. Later versions are always UTF-8.
    pub encoding: Option<&'static Encoding>,
    /// Whether its records have handles: always from R13, by choice of the file before.
    pub handles: bool,
}

impl Target {
    /// A new drawing in the code page ANSI 1252.
    pub const fn new(version: Version, binary: bool, newline: Newline) -> Self {
        Self { version, binary, newline, encoding: Some(encoding_rs::WINDOWS_1252), handles: true }
    }

    /// Whether records are divided by subclass markers.
    pub fn has_subclasses(&self) -> bool {
        self.version >= Version::R13
    }

    /// Whether records name their owners, and drawings have layouts, line weights and plot styles.
    pub fn has_owners(&self) -> bool {
        self.version >= Version::R2000
    }
}

/// What a record shows, written as its XDATA, so that a re-run finds its own records and knows edited ones.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Mark<'a> {
    /// Kind of object.
    pub kind: &'a str,
    /// Its id.
    pub id: &'a str,
    /// What else it carries; places in drawing units.
    pub facts: &'a [Fact],
}

/// Records in the making.
#[derive(Debug)]
pub struct Tags<'t> {
    target: &'t Target,
    bytes: Vec<u8>,
}

impl<'t> Tags<'t> {
    /// Nothing yet.
    pub const fn new(target: &'t Target) -> Self {
        Self { target, bytes: Vec::new() }
    }

    /// The file they are for.
    pub const fn target(&self) -> &'t Target {
        self.target
    }

    /// What was written.
    pub fn into_bytes(self) -> Vec<u8> {
        self.bytes
    }

    /// Finished records.
    pub fn raw(&mut self, records: &[u8]) {
        self.bytes.extend_from_slice(records);
    }

    /// A text value.
    pub fn text(&mut self, code: u16, value: &str) {
        self.code(code);
        // Most of them are plain: names, handles, numbers.
        if value.bytes().all(|b| matches!(b, b' '..=b'~')) {
            self.bytes.extend_from_slice(value.as_bytes());
        } else {
            self.bytes.extend_from_slice(&text::encode(value, self.target));
        }
        if self.target.binary {
            self.bytes.push(0);
        } else {
            self.end_line();
        }
    }

    /// Name of a table record or block: R12 knows only upper case.
    pub fn name(&mut self, code: u16, name: &str) {
        if self.target.has_subclasses() {
            self.text(code, name);
        } else {
            self.text(code, &name.to_uppercase());
        }
    }

    /// A whole number.
    pub fn int(&mut self, code: u16, value: i64) {
        self.code(code);
        if !self.target.binary {
            drop(write!(self.bytes, "{value}"));
            return self.end_line();
        }
        let width = match code {
            290..=299 => 1,
            90..=99 | 420..=429 | 440..=459 | 1071 => 4,
            160..=169 => 8,
            _ => 2,
        };
        self.bytes.extend(value.to_le_bytes().into_iter().take(width));
    }

    /// A real number. Ten decimals keep every coordinate within 1e-10 units.
    pub fn real(&mut self, code: u16, value: f64) {
        self.code(code);
        if self.target.binary {
            self.bytes.extend_from_slice(&value.to_le_bytes());
        } else {
            push_decimal(&mut self.bytes, value, 10);
            self.end_line();
        }
    }

    /// A point in space, z = 0.
    pub fn point(&mut self, code: u16, at: Point) {
        self.point_2d(code, at);
        self.real(code + 20, 0.0);
    }

    /// A point in the plane.
    pub fn point_2d(&mut self, code: u16, at: Point) {
        self.real(code, at.x);
        self.real(code + 10, at.y);
    }

    /// A handle as a value.
    pub fn handle(&mut self, code: u16, handle: Handle) {
        self.text(code, &handle.to_string());
    }

    /// Beginning of a record: its kind, its own handle and its owner, as far as the version has them.
    pub fn record(&mut self, kind: &str, own: Handle, owner: Handle) {
        self.text(0, kind);
        if self.target.handles {
            self.handle(if kind == "DIMSTYLE" { 105 } else { 5 }, own);
        }
        if self.target.has_owners() {
            self.handle(330, owner);
        }
    }

    /// A subclass marker, where the version has them.
    pub fn subclass(&mut self, name: &str) {
        if self.target.has_subclasses() {
            self.text(100, name);
        }
    }

    /// Our XDATA: the last groups of a record.
    pub fn mark(&mut self, mark: Mark<'_>) {
        self.text(1001, APP_ID);
        for value in [mark.kind, mark.id] {
            let mut room = MARK_BYTES;
            let fits = |(_, c): &(usize, char)| {
                let left = room.checked_sub(text::encode(c.encode_utf8(&mut [0; 4]), self.target).len());
                room = left.unwrap_or_default();
                left.is_none()
            };
            // An encoded character takes seven bytes at most for each of its own.
            let is_short = value.len() <= MARK_BYTES / 7;
            let end = if is_short { None } else { value.char_indices().find(fits) };
            self.text(1000, value.get(..end.map_or(value.len(), |(i, _)| i)).unwrap_or_default());
        }
        self.int(1070, MARK_VERSION);
        for fact in mark.facts {
            match fact {
                Fact::Text(text) => self.text(1000, text),
                Fact::At(at) => self.point(1010, *at),
            }
        }
    }

    fn code(&mut self, code: u16) {
        if !self.target.binary {
            drop(write!(self.bytes, "{code:>3}"));
            return self.end_line();
        }
        if self.target.version >= Version::R13 {
            return self.bytes.extend_from_slice(&code.to_le_bytes());
        }
        // R12 has one byte for a code, and 255 in front of the two bytes of a larger one.
        match u8::try_from(code) {
            Ok(byte) if byte < 255 => self.bytes.push(byte),
            _ => {
                self.bytes.push(255);
                self.bytes.extend_from_slice(&code.to_le_bytes());
            }
        }
    }

    fn end_line(&mut self) {
        self.bytes.extend_from_slice(self.target.newline.bytes());
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::base::plane::point;

    fn bytes(target: &Target, write: impl Fn(&mut Tags<'_>)) -> Vec<u8> {
        let mut tags = Tags::new(target);
        write(&mut tags);
        tags.into_bytes()
    }

    /// Widths of codes and values as the DXF reference gives them under "Binary DXF files" and "Group code value types".
    #[test]
    fn binary_codes_are_one_byte_in_r12_and_two_later() {
        let write = |tags: &mut Tags<'_>| {
            tags.int(70, 1);
            tags.int(90, 2);
            tags.int(290, 1);
            tags.text(1001, "A");
            tags.real(40, 1.0);
        };
        let one = 1.0f64.to_le_bytes();
        let old = bytes(&Target::new(Version::R12, true, Newline::Lf), write);
        assert_eq!(old, [&[70, 1, 0, 90, 2, 0, 0, 0, 255, 34, 1, 1, 255, 233, 3, b'A', 0, 40][..], &one].concat());
        let new = bytes(&Target::new(Version::R2000, true, Newline::Lf), write);
        assert_eq!(new, [&[70, 0, 1, 0, 90, 0, 2, 0, 0, 0, 34, 1, 1, 233, 3, b'A', 0, 40, 0][..], &one].concat());
    }

    #[test]
    fn ascii_values_stand_on_their_own_lines() {
        let write = |tags: &mut Tags<'_>| tags.point(10, point(1.5, -0.1 - 0.2));
        let lf = bytes(&Target::new(Version::R2000, false, Newline::Lf), write);
        assert_eq!(String::from_utf8_lossy(&lf), " 10\n1.5\n 20\n-0.3\n 30\n0\n");
        let crlf = bytes(&Target::new(Version::R2000, false, Newline::CrLf), write);
        assert_eq!(crlf.iter().filter(|b| **b == b'\r').count(), 6);
    }

    #[test]
    fn coordinates_far_out_read_back_within_a_billionth() {
        let target = Target::new(Version::R2000, false, Newline::Lf);
        for value in [1.0 / 3.0, 123_456.789_012_345, -4_500_000.062_5, 1e-9] {
            let text = String::from_utf8(bytes(&target, |tags| tags.real(40, value))).unwrap();
            let read: f64 = text.lines().nth(1).unwrap().parse().unwrap();
            assert!((read - value).abs() < 1e-9, "{value}: {text}");
        }
    }

    #[test]
    fn a_long_id_is_cut_to_what_xdata_holds() {
        let id = "é".repeat(300);
        for version in [Version::R2000, Version::R2007] {
            let target = Target::new(version, false, Newline::Lf);
            let bytes = bytes(&target, |tags| tags.mark(Mark { kind: "post", id: &id, facts: &[] }));
            let longest = bytes.split(|b| *b == b'\n').map(<[u8]>::len).max().unwrap();
            assert!((250..=MARK_BYTES).contains(&longest), "{longest}");
        }
    }
}
