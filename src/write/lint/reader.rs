//! Group codes and values of a drawing, read as strictly as the DXF reference words them.
//!
//! On purpose not the scanner that reads the user's plan: what both got wrong would be seen by neither.

use std::borrow::Cow;

/// What a binary drawing begins with (DXF reference, "Binary DXF files").
const SENTINEL: &[u8] = b"AutoCAD Binary DXF\r\n\x1a\0";

/// A group.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct Tag<'a> {
    pub(super) code: i32,
    pub(super) value: Value<'a>,
    pub(super) line: Option<u64>,
}

#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) enum Value<'a> {
    Text(&'a [u8]),
    Int(i64),
    Real(f64),
    /// Raw data of a binary file.
    Chunk,
}

impl<'a> Tag<'a> {
    /// A text value; bytes that are no UTF-8 are replaced, which is good enough to compare names and to show them.
    pub(super) fn text(&self) -> Cow<'a, str> {
        match self.value {
            Value::Text(bytes) => String::from_utf8_lossy(bytes),
            _ => Cow::Borrowed(""),
        }
    }

    /// A name, as names are compared: without regard to case.
    pub(super) fn name(&self) -> String {
        self.text().trim().to_uppercase()
    }

    /// A handle.
    pub(super) fn handle(&self) -> Option<u64> {
        u64::from_str_radix(self.text().trim(), 16).ok()
    }

    /// A whole number.
    pub(super) const fn int(&self) -> Option<i64> {
        match self.value {
            Value::Int(value) => Some(value),
            _ => None,
        }
    }
}

/// Something that the reader cannot go beyond, or that it notes once.
#[derive(Debug, Clone, PartialEq, Eq)]
pub(super) struct Fault {
    pub(super) line: Option<u64>,
    pub(super) message: String,
}

/// Type of a value by its group code (DXF reference, "Group code value types").
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
enum Kind {
    Text,
    Int(usize),
    Real,
    Chunk,
}

const fn kind(code: i32) -> Option<Kind> {
    Some(match code {
        0..=9 | 100 | 101 | 102 | 105 | 300..=309 | 320..=369 | 390..=399 | 410..=419 | 430..=439 | 470..=481 => {
            Kind::Text
        }
        999..=1003 | 1005..=1009 => Kind::Text,
        10..=59 | 110..=149 | 210..=239 | 460..=469 | 1010..=1059 => Kind::Real,
        290..=299 => Kind::Int(1),
        60..=79 | 170..=179 | 270..=289 | 370..=389 | 400..=409 | 1060..=1070 => Kind::Int(2),
        90..=99 | 420..=429 | 440..=459 | 1071 => Kind::Int(4),
        160..=169 => Kind::Int(8),
        310..=319 | 1004 => Kind::Chunk,
        _ => return None,
    })
}

/// All groups of a drawing in their order.
pub(super) struct Reader<'a> {
    rest: &'a [u8],
    form: Form,
    /// Line of the next group's code.
    line: u64,
    first_end: Option<LineEnd>,
    /// Where the line ends first changed.
    pub(super) mixed: Option<Fault>,
}

#[derive(Debug, Clone, Copy, PartialEq, Eq)]
enum Form {
    Ascii,
    OneByteCodes,
    TwoByteCodes,
}

#[derive(Debug, Clone, Copy, PartialEq, Eq)]
enum LineEnd {
    Lf,
    CrLf,
    Cr,
}

impl<'a> Reader<'a> {
    pub(super) fn new(bytes: &'a [u8]) -> Self {
        let (form, rest) = match bytes.strip_prefix(SENTINEL) {
            // The first group is `0 SECTION` or `999` text: a second zero byte can only belong to a wider code.
            Some(rest) if rest.get(1) == Some(&0) => (Form::TwoByteCodes, rest),
            Some(rest) => (Form::OneByteCodes, rest),
            // A byte order mark is no part of the first code.
            None => (Form::Ascii, bytes.strip_prefix(b"\xef\xbb\xbf").unwrap_or(bytes)),
        };
        Self { rest, form, line: 1, first_end: None, mixed: None }
    }

    /// The next group; nothing at the end of the bytes.
    pub(super) fn next(&mut self) -> Result<Option<Tag<'a>>, Fault> {
        if self.form == Form::Ascii { self.ascii() } else { self.binary() }
    }

    /// Whether only blanks follow.
    pub(super) fn is_at_end(&self) -> bool {
        self.rest.trim_ascii().is_empty()
    }

    fn fault(&self, message: String) -> Fault {
        Fault { line: (self.form == Form::Ascii).then_some(self.line), message }
    }

    fn ascii(&mut self) -> Result<Option<Tag<'a>>, Fault> {
        if self.is_at_end() {
            return Ok(None);
        }
        let line = self.line;
        let code = self.take_line();
        let code: Option<i32> = std::str::from_utf8(code).ok().and_then(|text| text.trim().parse().ok());
        let Some((code, kind)) = code.and_then(|code| Some((code, kind(code)?))) else {
            return Err(Fault { line: Some(line), message: "this line is no group code".to_owned() });
        };
        if self.rest.is_empty() {
            return Err(self.fault(format!("group {code} has no value")));
        }
        let bytes = self.take_line();
        let number = || std::str::from_utf8(bytes).unwrap_or("").trim();
        let value = match kind {
            Kind::Text | Kind::Chunk => Some(Value::Text(bytes)),
            Kind::Int(_) => number().parse().ok().map(Value::Int),
            Kind::Real => number().parse().ok().filter(|value: &f64| value.is_finite()).map(Value::Real),
        };
        let value = value.ok_or_else(|| Fault {
            line: Some(line + 1),
            message: format!("the value of group {code} is no number"),
        })?;
        Ok(Some(Tag { code, value, line: Some(line) }))
    }

    fn take_line(&mut self) -> &'a [u8] {
        let at = memchr::memchr2(b'\n', b'\r', self.rest);
        let (line, rest) = self.rest.split_at(at.unwrap_or(self.rest.len()));
        let end = if rest.starts_with(b"\r\n") {
            Some(LineEnd::CrLf)
        } else {
            rest.first().map(|byte| if *byte == b'\r' { LineEnd::Cr } else { LineEnd::Lf })
        };
        let width = if end == Some(LineEnd::CrLf) { 2 } else { 1 };
        self.rest = rest.get(width..).unwrap_or(&[]);
        if let Some(end) = end {
            let first = *self.first_end.get_or_insert(end);
            if first != end && self.mixed.is_none() {
                self.mixed =
                    Some(self.fault("this line ends otherwise than the first line: mixed line ends".to_owned()));
            }
        }
        self.line += 1;
        line
    }

    fn binary(&mut self) -> Result<Option<Tag<'a>>, Fault> {
        if self.rest.is_empty() {
            return Ok(None);
        }
        let cut = || Fault { line: None, message: "the file ends within a group".to_owned() };
        let code = self.binary_code().ok_or_else(cut)?;
        let Some(kind) = kind(code) else { return Err(self.fault(format!("{code} is no group code"))) };
        let value = match kind {
            Kind::Text => self.until_zero().map(Value::Text),
            Kind::Int(width) => self.whole_number(width).map(Value::Int),
            Kind::Real => self.array().map(f64::from_le_bytes).map(Value::Real),
            Kind::Chunk => self.array().and_then(|[length]| self.bytes(usize::from(length))).map(|_| Value::Chunk),
        };
        match value.ok_or_else(cut)? {
            Value::Real(value) if !value.is_finite() => {
                Err(self.fault(format!("the value of group {code} is no number")))
            }
            value => Ok(Some(Tag { code, value, line: None })),
        }
    }

    fn binary_code(&mut self) -> Option<i32> {
        let wide = |bytes: [u8; 2]| i32::from(i16::from_le_bytes(bytes));
        if self.form == Form::TwoByteCodes {
            return self.array().map(wide);
        }
        match self.array()? {
            [255] => self.array().map(wide),
            [byte] => Some(i32::from(byte)),
        }
    }

    fn bytes(&mut self, count: usize) -> Option<&'a [u8]> {
        let (taken, rest) = self.rest.split_at_checked(count)?;
        self.rest = rest;
        Some(taken)
    }

    fn array<const N: usize>(&mut self) -> Option<[u8; N]> {
        self.bytes(N)?.try_into().ok()
    }

    fn until_zero(&mut self) -> Option<&'a [u8]> {
        let text = self.bytes(memchr::memchr(0, self.rest)?)?;
        self.bytes(1)?;
        Some(text)
    }

    fn whole_number(&mut self, width: usize) -> Option<i64> {
        match width {
            1 => self.array().map(|bytes| i64::from(i8::from_le_bytes(bytes))),
            2 => self.array().map(|bytes| i64::from(i16::from_le_bytes(bytes))),
            4 => self.array().map(|bytes| i64::from(i32::from_le_bytes(bytes))),
            _ => self.array().map(i64::from_le_bytes),
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn read(bytes: &[u8]) -> (Vec<(i32, String)>, Option<Fault>, Option<Fault>) {
        let mut reader = Reader::new(bytes);
        let mut tags = Vec::new();
        loop {
            match reader.next() {
                Ok(Some(tag)) => tags.push((tag.code, tag.text().into_owned())),
                Ok(None) => return (tags, reader.mixed, None),
                Err(fault) => return (tags, reader.mixed, Some(fault)),
            }
        }
    }

    #[test]
    fn every_line_end_is_read_and_a_mixture_is_told() {
        for end in ["\n", "\r\n", "\r"] {
            let (tags, mixed, fault) = read(format!("  0{end}EOF{end}").as_bytes());
            assert_eq!((tags, mixed, fault), (vec![(0, "EOF".to_owned())], None, None));
        }
        let (_, mixed, _) = read(b"  0\nSECTION\n  2\r\nHEADER\n");
        assert_eq!(mixed.unwrap().line, Some(3));
    }

    #[test]
    fn what_is_no_group_ends_the_reading() {
        for (bytes, line) in [
            (&b"hello\n"[..], Some(1)),
            (b"  0\nLINE\n 10\nabc\n", Some(4)),
            (b" 40\nNaN\n", Some(2)),
            (b" 70\n1.5\n", Some(2)),
            (b"  0\n", Some(2)),
            (b"AutoCAD Binary DXF\r\n\x1a\0\0\0SECTION", None),
            (b"AutoCAD Binary DXF\r\n\x1a\0\0\0S\0\xff\xff", None),
        ] {
            assert_eq!(read(bytes).2.unwrap().line, line, "{}", String::from_utf8_lossy(bytes));
        }
    }
}
