//! Lines of an input, each no longer than a cap.

use std::io::{self, BufRead};

/// One line, without its line end.
#[derive(Debug, PartialEq, Eq)]
pub enum Line {
    /// Its bytes.
    Text(Vec<u8>),
    /// It was longer than the cap: how long. No more of it than the cap was ever held.
    TooLong(u64),
}

/// The next line, `None` at the end. A last line needs no line end.
pub fn next(input: &mut impl BufRead, most: usize) -> io::Result<Option<Line>> {
    let mut text = Vec::new();
    let mut length = 0_u64;
    loop {
        let (used, is_end) = {
            let buffer = match input.fill_buf() {
                Err(e) if e.kind() == io::ErrorKind::Interrupted => continue,
                other => other?,
            };
            if buffer.is_empty() && length == 0 {
                return Ok(None);
            }
            let end = memchr::memchr(b'\n', buffer);
            let piece = buffer.get(..end.unwrap_or(buffer.len())).unwrap_or_default();
            length += piece.len() as u64;
            if length <= most as u64 {
                text.extend_from_slice(piece);
            } else {
                text = Vec::new();
            }
            (piece.len() + usize::from(end.is_some()), end.is_some() || buffer.is_empty())
        };
        input.consume(used);
        if is_end {
            return Ok(Some(if length <= most as u64 { Line::Text(text) } else { Line::TooLong(length) }));
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use std::io::BufReader;

    fn all(text: &str, most: usize, buffer: usize) -> Vec<Line> {
        let mut input = BufReader::with_capacity(buffer, text.as_bytes());
        std::iter::from_fn(|| next(&mut input, most).unwrap()).collect()
    }

    #[test]
    fn every_line_is_one_however_it_ends() {
        let text = |t: &str| Line::Text(t.as_bytes().to_vec());
        for buffer in [1, 2, 3, 7, 64] {
            assert_eq!(all("", 5, buffer), []);
            assert_eq!(all("\n", 5, buffer), [text("")]);
            assert_eq!(all("a\n\nbc", 5, buffer), [text("a"), text(""), text("bc")]);
            assert_eq!(all("12345\n123456\n12345", 5, buffer), [text("12345"), Line::TooLong(6), text("12345")]);
            assert_eq!(all("1234567890", 5, buffer), [Line::TooLong(10)]);
        }
    }
}
