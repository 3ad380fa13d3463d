//! The tag lexer: group code and raw value of one tag after the other, straight from the bytes.
//!
//! Nothing is copied: a tag is a few offsets. Text files are split at their own line ends; in binary files the group
//! code tells how long the value is (DXF reference, "Group Code Value Types" and "Binary DXF Files").

use std::ops::Range;

use memchr::memchr;

pub use super::lines::Stops;
use super::lines::{Lines, common_code};

/// First bytes of a binary drawing.
pub const BINARY_SENTINEL: &[u8] = b"AutoCAD Binary DXF\r\n\x1a\0";

/// Byte order mark that some programs put before a text drawing.
pub const BOM: &[u8] = b"\xef\xbb\xbf";

/// How lines of a text drawing end.
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
    /// Its bytes.
    pub const fn bytes(self) -> &'static [u8] {
        match self {
            Self::Lf => b"\n",
            Self::CrLf => b"\r\n",
            Self::Cr => b"\r",
        }
    }

    /// The byte that ends a line.
    const fn last(self) -> u8 {
        if matches!(self, Self::Cr) { b'\r' } else { b'\n' }
    }

    /// What the first line of a text ends with.
    fn of(bytes: &[u8]) -> Self {
        match memchr::memchr2(b'\r', b'\n', bytes) {
            Some(at) if bytes.get(at) == Some(&b'\n') => Self::Lf,
            // Two carriage returns before a line feed come from a text that was converted twice.
            Some(at) if bytes.get(at + 1..).is_some_and(|b| b.starts_with(b"\n") || b.starts_with(b"\r\n")) => {
                Self::CrLf
            }
            Some(_) => Self::Cr,
            None => Self::Lf,
        }
    }
}

/// How the tags of a drawing are written.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Form {
    /// A line for the group code, a line for the value.
    Text(Newline),
    /// Binary with one-byte group codes, 255 before larger ones (R12).
    Binary1,
    /// Binary with two-byte group codes (from R13).
    Binary2,
}

impl Form {
    /// What the drawing's first bytes say, and where its first tag begins.
    pub fn of(bytes: &[u8]) -> (Self, usize) {
        let Some(tags) = bytes.strip_prefix(BINARY_SENTINEL) else {
            let start = if bytes.starts_with(BOM) { BOM.len() } else { 0 };
            return (Self::Text(Newline::of(bytes)), start);
        };
        // The first tag is `0 SECTION` or a comment (999 = 0x03e7): its second byte tells the width of the codes.
        let two = tags.starts_with(&[0, 0]) || tags.starts_with(&[0xe7, 0x03]);
        (if two { Self::Binary2 } else { Self::Binary1 }, BINARY_SENTINEL.len())
    }

    /// Whether it is one of the binary forms.
    pub const fn is_binary(self) -> bool {
        matches!(self, Self::Binary1 | Self::Binary2)
    }
}

/// One tag: where it stands and what its group code is.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Tag {
    /// Group code.
    pub code: i16,
    /// Line of the group code (1 is the first); 0 in binary files.
    pub line: u32,
    /// First byte of the group code.
    pub start: usize,
    /// First byte of the value.
    pub value: usize,
    /// Byte after the value, without its line end or final zero.
    pub value_end: usize,
    /// Byte after the tag.
    pub end: usize,
}

impl Tag {
    /// Bytes of the value.
    pub const fn value_range(&self) -> Range<usize> {
        self.value..self.value_end
    }
}

/// Why a tag could not be read.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum TagError {
    /// No group code where one must stand.
    Code {
        /// Line, 0 in binary files.
        line: u32,
        /// Byte offset.
        at: usize,
    },
    /// The file ends within a tag.
    End {
        /// Line, 0 in binary files.
        line: u32,
        /// Byte offset of the tag.
        at: usize,
    },
}

/// Type of a group's value.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum ValueType {
    /// Text; handles are hexadecimal text.
    Text,
    /// Floating point number.
    Float,
    /// Whole number of so many bytes in binary files.
    Int(usize),
    /// Bytes: hexadecimal in text files, a length byte before them in binary files.
    Chunk,
}

impl ValueType {
    /// By group code (DXF reference, "Group Code Value Types"); `None` for codes that the reference does not give.
    pub const fn of(code: i16) -> Option<Self> {
        Some(match code {
            10..=59 | 110..=149 | 210..=239 | 460..=469 | 1010..=1059 => Self::Float,
            60..=79 | 170..=179 | 270..=289 | 370..=389 | 400..=409 | 1060..=1070 => Self::Int(2),
            90..=99 | 420..=429 | 440..=459 | 1071 => Self::Int(4),
            160..=169 => Self::Int(8),
            290..=299 => Self::Int(1),
            310..=319 | 1004 => Self::Chunk,
            0..=9 | 100..=109 | 300..=309 | 320..=369 | 390..=399 | 410..=419 | 430..=439 | 470..=481 | 999..=1009 => {
                Self::Text
            }
            _ => return None,
        })
    }
}

/// Goes through the tags of a drawing, or of a part of it.
#[derive(Debug, Clone)]
pub struct Lexer<'a> {
    bytes: &'a [u8],
    form: Form,
    at: usize,
    line: u32,
    /// Line ends from `at` on.
    lines: Lines<'a>,
}

impl<'a> Lexer<'a> {
    /// From byte `at` on, which is the first byte of a tag on line `line`, to the end of `bytes`.
    pub const fn new(bytes: &'a [u8], form: Form, at: usize, line: u32) -> Self {
        let end = if let Form::Text(newline) = form { newline.last() } else { 0 };
        let line = if form.is_binary() { 0 } else { line };
        Self { bytes, form, at, line, lines: Lines::new(bytes, end, at) }
    }

    /// The next tag with one of these group codes. Of those passed by only the group codes are looked at, and whether one
    /// stands where one must.
    pub fn skip_to(&mut self, stops: &Stops) -> Option<Result<Tag, TagError>> {
        loop {
            if let Some(tag) = self.common_tag(stops) {
                return Some(Ok(tag));
            }
            match self.next()? {
                Ok(tag) if !stops.has(tag.code) => {}
                found => return Some(found),
            }
        }
    }

    /// The same up to a tag that is not written as most programs do, or the end.
    fn common_tag(&mut self, stops: &Stops) -> Option<Tag> {
        if self.form.is_binary() {
            return None;
        }
        let (mut lines, mut before) = (self.lines.clone(), self.lines.place());
        let (mut at, mut line, mut found) = (self.at, self.line, None);
        while let (Some(end), Some(value_end)) = (lines.next_end(), lines.next_end())
            && let Some(code) = common_code(self.bytes, at, end)
        {
            let start = at;
            (at, before) = (value_end.wrapping_add(1), lines.place());
            if stops.has(code) {
                found = Some(self.text(code, line, [start, end.wrapping_add(1), value_end, at]));
            }
            line = line.saturating_add(2);
            if found.is_some() {
                break;
            }
        }
        lines.go_back(before);
        (self.lines, self.at, self.line) = (lines, at, line);
        found
    }

    /// The next tag; `None` at the end.
    fn read(&mut self) -> Result<Option<Tag>, TagError> {
        if self.at >= self.bytes.len() {
            return Ok(None);
        }
        let tag = match self.form {
            Form::Text(_) => self.text_tag()?,
            Form::Binary1 => self.binary_tag(1)?,
            Form::Binary2 => self.binary_tag(2)?,
        };
        self.at = tag.end;
        Ok(Some(tag))
    }

    #[inline]
    fn text_tag(&mut self) -> Result<Tag, TagError> {
        let (start, line) = (self.at, self.line);
        let end = self.lines.next_end();
        let common = end.and_then(|end| Some((common_code(self.bytes, start, end)?, end + 1)));
        let (code, value) = match common {
            Some(common) => common,
            None => self.odd_code()?,
        };
        if value >= self.bytes.len() {
            return Err(TagError::End { line, at: start });
        }
        let length = self.bytes.len();
        let (text_end, end) = self.lines.next_end().map_or((length, length), |end| (end, end + 1));
        self.line = line.saturating_add(2);
        Ok(self.text(code, line, [start, value, text_end, end]))
    }

    /// A tag by its first byte, that of its value, that behind the value and that behind all.
    #[inline]
    fn text(&self, code: i16, line: u32, [start, value, text_end, end]: [usize; 4]) -> Tag {
        let text = self.bytes.get(value..text_end).unwrap_or_default();
        let ends = text.iter().rev().take_while(|b| **b == b'\r').count();
        Tag { code, line, start, value, value_end: text_end - ends, end }
    }

    /// A group code that is not written as most programs do, or is none; and the first byte of the value.
    #[cold]
    fn odd_code(&self) -> Result<(i16, usize), TagError> {
        let (at, line) = (self.at, self.line);
        let Form::Text(newline) = self.form else { return Err(TagError::Code { line, at }) };
        match text_code(self.bytes.get(at..).unwrap_or_default(), newline.last()) {
            Code::Is(code, used) => Ok((code, at + used)),
            Code::Bad => Err(TagError::Code { line, at }),
            Code::Cut => Err(TagError::End { line, at }),
        }
    }

    fn binary_tag(&self, width: usize) -> Result<Tag, TagError> {
        let start = self.at;
        let cut = TagError::End { line: 0, at: start };
        let rest = self.bytes.get(start..).unwrap_or_default();
        let (code, used) = match (width, rest) {
            (1, [0xff, low, high, ..]) => (i16::from_le_bytes([*low, *high]), 3),
            (1, [0xff, ..]) => return Err(cut),
            (1, [code, ..]) => (i16::from(*code), 1),
            (_, [low, high, ..]) => (i16::from_le_bytes([*low, *high]), 2),
            _ => return Err(cut),
        };
        let Some(kind) = ValueType::of(code) else { return Err(TagError::Code { line: 0, at: start }) };
        let value = start + used;
        let rest = self.bytes.get(value..).unwrap_or_default();
        let (skip, length, after) = match kind {
            ValueType::Float => (0, 8, 0),
            // R12 knows no one-byte numbers.
            ValueType::Int(1) if width == 1 => (0, 2, 0),
            ValueType::Int(size) => (0, size, 0),
            ValueType::Chunk => (1, usize::from(*rest.first().ok_or(cut)?), 0),
            ValueType::Text => (0, memchr(0, rest).ok_or(cut)?, 1),
        };
        if skip + length + after > rest.len() {
            return Err(cut);
        }
        let value = value + skip;
        Ok(Tag { code, line: 0, start, value, value_end: value + length, end: value + length + after })
    }
}

impl Iterator for Lexer<'_> {
    type Item = Result<Tag, TagError>;

    fn next(&mut self) -> Option<Self::Item> {
        let tag = self.read().transpose();
        if matches!(tag, Some(Err(_))) {
            self.at = self.bytes.len();
        }
        tag
    }
}

enum Code {
    Is(i16, usize),
    Bad,
    Cut,
}

/// The group code on the first line of `rest`, and the length of that line with its end.
fn text_code(rest: &[u8], end_byte: u8) -> Code {
    let (mut code, mut digits, mut negative, mut closed) = (0_i16, 0_u8, false, false);
    for (i, &byte) in rest.iter().enumerate() {
        match byte {
            b'0'..=b'9' if !closed && digits < 4 => {
                code = code * 10 + i16::from(byte - b'0');
                digits += 1;
            }
            _ if byte == end_byte => {
                let code = if negative { -code } else { code };
                // Codes beyond these are in no version of the format: a line is missing, or one too many.
                let known = digits > 0 && (-5..=1071).contains(&code);
                return if known { Code::Is(code, i + 1) } else { Code::Bad };
            }
            b' ' | b'\t' | b'\r' | b'\n' => closed = digits > 0 || negative,
            b'-' if digits == 0 && !negative && !closed => negative = true,
            _ => return Code::Bad,
        }
    }
    Code::Cut
}

/// The bytes of a drawing with all that is needed to read values.
#[derive(Debug, Clone, Copy)]
pub struct Source<'a> {
    /// All bytes of the file.
    pub bytes: &'a [u8],
    /// How tags are written.
    pub form: Form,
}

impl<'a> Source<'a> {
    /// Tags of a part of the file; `range` begins at a tag's first byte, on line `line`.
    pub fn tags(&self, range: Range<usize>, line: u32) -> Lexer<'a> {
        let bytes = self.bytes.get(..range.end).unwrap_or(self.bytes);
        Lexer::new(bytes, self.form, range.start, line)
    }

    /// Raw bytes of a value.
    pub fn raw(&self, tag: &Tag) -> &'a [u8] {
        self.bytes.get(tag.value_range()).unwrap_or_default()
    }

    /// Raw bytes of a name or number, without blanks around it.
    pub fn trimmed(&self, tag: &Tag) -> &'a [u8] {
        self.raw(tag).trim_ascii()
    }

    /// How many control groups are open behind a tag 102, which opens or closes one.
    pub fn depth(&self, tag: &Tag, before: u32) -> u32 {
        if self.raw(tag).first() == Some(&b'{') { before.saturating_add(1) } else { before.saturating_sub(1) }
    }

    /// A whole number; `None` when it is none.
    pub fn int(&self, tag: &Tag) -> Option<i64> {
        if self.form.is_binary() && matches!(ValueType::of(tag.code), Some(ValueType::Int(_))) {
            let raw = self.raw(tag);
            return match raw.len() {
                1 => raw.first().map(|b| i64::from(*b)),
                2 => Some(i64::from(i16::from_le_bytes(raw.try_into().ok()?))),
                4 => Some(i64::from(i32::from_le_bytes(raw.try_into().ok()?))),
                8 => Some(i64::from_le_bytes(raw.try_into().ok()?)),
                _ => None,
            };
        }
        let text = std::str::from_utf8(self.trimmed(tag)).ok()?;
        text.parse().ok().or_else(|| {
            // Some programs write whole numbers with a decimal point.
            let value: f64 = text.parse().ok()?;
            (value.fract() == 0.0 && value.abs() < 9e15).then_some(value as i64)
        })
    }

    /// A finite floating point number; `None` when it is none.
    pub fn float(&self, tag: &Tag) -> Option<f64> {
        let value = if self.form.is_binary() {
            f64::from_le_bytes(self.raw(tag).try_into().ok()?)
        } else {
            std::str::from_utf8(self.trimmed(tag)).ok()?.parse().ok()?
        };
        value.is_finite().then_some(value)
    }

    /// A handle; `None` when it is none, or zero, which means no object.
    pub fn handle(&self, tag: &Tag) -> Option<u64> {
        let text = self.trimmed(tag);
        if text.is_empty() || text.len() > 16 {
            return None;
        }
        let value = text.iter().try_fold(0_u64, |sum, b| Some(sum << 4 | u64::from((*b as char).to_digit(16)?)))?;
        (value != 0).then_some(value)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn all(bytes: &[u8]) -> Vec<(i16, u32, &[u8])> {
        let (form, at) = Form::of(bytes);
        Lexer::new(bytes, form, at, 1).map(|t| t.unwrap()).map(|t| (t.code, t.line, &bytes[t.value_range()])).collect()
    }

    #[test]
    fn line_ends_blanks_and_byte_order_marks() {
        let expected: Vec<(i16, u32, &[u8])> = vec![(0, 1, b"SECTION"), (-1, 3, b" a b "), (1071, 5, b"")];
        for text in [
            "0\nSECTION\n  -1 \n a b \n1071\n\n",
            "  0\r\nSECTION\r\n-1\r\n a b \r\n 1071\t\r\n\r\n",
            "0\rSECTION\r -1\r a b \r1071\r\r",
            "\u{feff}0\nSECTION\n-1\n a b \n1071\n\n",
            "0\r\r\nSECTION\r\r\n-1\r\r\n a b \r\r\n1071\r\r\n\r\r\n",
        ] {
            assert_eq!(all(text.as_bytes()), expected, "{text:?}");
        }
    }

    #[test]
    fn a_line_that_is_no_group_code_is_named() {
        for text in ["0\nSECTION\nx\ny\n", "0\nSECTION\n\n2\n", "0\nSECTION\n1 2\n2\n", "0\nSECTION\n99999\n2\n"] {
            let (form, at) = Form::of(text.as_bytes());
            let last = Lexer::new(text.as_bytes(), form, at, 1).last();
            assert_eq!(last, Some(Err(TagError::Code { line: 3, at: 10 })), "{text:?}");
        }
        let text = b"0\nSECTION\n2";
        let last = Lexer::new(text, Form::Text(Newline::Lf), 0, 1).last();
        assert_eq!(last, Some(Err(TagError::End { line: 3, at: 10 })));
    }

    #[test]
    fn binary_codes_and_value_types() {
        let mut two = BINARY_SENTINEL.to_vec();
        two.extend(b"\0\0SECTION\0");
        two.extend([10, 0]);
        two.extend(1.5_f64.to_le_bytes());
        two.extend([70, 0, 0xff, 0xff]);
        two.extend([0x22, 1, 1]); // 290
        two.extend([160, 0, 1, 0, 0, 0, 0, 0, 0, 1]);
        two.extend([0x36, 1, 2, 7, 8]); // 310
        two.extend([0xec, 3, 1, 9]); // 1004
        let (form, at) = Form::of(&two);
        assert_eq!(form, Form::Binary2);
        let source = Source { bytes: &two, form };
        let tags: Vec<Tag> = Lexer::new(&two, form, at, 1).map(|t| t.unwrap()).collect();
        let codes: Vec<i16> = tags.iter().map(|t| t.code).collect();
        assert_eq!(codes, [0, 10, 70, 290, 160, 310, 1004]);
        assert_eq!(source.float(&tags[1]), Some(1.5));
        assert_eq!(source.int(&tags[2]), Some(-1));
        assert_eq!(source.int(&tags[3]), Some(1));
        assert_eq!(source.int(&tags[4]), Some(0x0100_0000_0000_0001));
        assert_eq!(source.raw(&tags[5]), [7, 8]);
        assert!(tags.windows(2).all(|w| w[0].end == w[1].start));
        assert_eq!(tags[6].end, two.len());

        let mut one = BINARY_SENTINEL.to_vec();
        one.extend(b"\0SECTION\0");
        one.extend([0xff, 0xe9, 3]); // 1001
        one.extend(b"APP\0");
        let (form, at) = Form::of(&one);
        assert_eq!(form, Form::Binary1);
        let tags: Vec<Tag> = Lexer::new(&one, form, at, 1).map(|t| t.unwrap()).collect();
        assert_eq!(tags.iter().map(|t| t.code).collect::<Vec<_>>(), [0, 1001]);
    }

    #[test]
    fn numbers_and_handles() {
        let text = b"10\n 1.5e3 \n10\nnan\n10\n1e999\n70\n 3.0\n70\n3.5\n5\n 2fA \n5\n0\n5\nxyz\n";
        let source = Source { bytes: text, form: Form::Text(Newline::Lf) };
        let tags: Vec<Tag> = source.tags(0..text.len(), 1).map(|t| t.unwrap()).collect();
        assert_eq!(tags[..3].iter().map(|t| source.float(t)).collect::<Vec<_>>(), [Some(1500.0), None, None]);
        assert_eq!(tags[3..5].iter().map(|t| source.int(t)).collect::<Vec<_>>(), [Some(3), None]);
        assert_eq!(tags[5..].iter().map(|t| source.handle(t)).collect::<Vec<_>>(), [Some(0x2fa), None, None]);
    }
}
