//! Texts as the drawing's version and code page can hold them.

use super::Target;
use crate::cad::Version;

/// Bytes of a value: UTF-8 from R2007, else the code page, and `\U+XXXX` for what it lacks. Control characters would
/// break the line structure and become spaces.
pub(super) fn encode(value: &str, target: &Target) -> Vec<u8> {
    let mut bytes = Vec::with_capacity(value.len());
    for c in value.chars() {
        if c.is_control() {
            bytes.push(b' ');
        } else if c.is_ascii() || target.version >= Version::R2007 {
            bytes.extend_from_slice(c.encode_utf8(&mut [0; 4]).as_bytes());
        } else {
            bytes.extend(in_code_page(c, target).unwrap_or_else(|| escaped(c)));
        }
    }
    bytes
}

fn in_code_page(c: char, target: &Target) -> Option<Vec<u8>> {
    let mut buffer = [0; 4];
    let text: &str = c.encode_utf8(&mut buffer);
    let (bytes, _, lost) = target.encoding?.encode(text);
    // Some code pages give a foreign sign the byte of an ASCII one (the yen sign that of the backslash).
    (!lost && !bytes.is_ascii()).then(|| bytes.into_owned())
}

fn escaped(c: char) -> Vec<u8> {
    c.encode_utf16(&mut [0; 2]).iter().flat_map(|unit| format!("\\U+{unit:04X}").into_bytes()).collect()
}

/// Content of a TEXT: signs that every CAD program draws by `%%` codes, and signs that would be read as codes made
/// plain (DXF reference, "Text": `%%c`, `%%d`, `%%p`, `%%%`, and `^` before a blank).
pub(super) fn content(text: &str) -> String {
    let mut out = String::with_capacity(text.len());
    let doubled = text.contains("%%");
    for c in text.chars() {
        match c {
            '⌀' => out.push_str("%%c"),
            '°' => out.push_str("%%d"),
            '±' => out.push_str("%%p"),
            '^' => out.push_str("^ "),
            '%' if doubled => out.push_str("%%%"),
            _ => out.push(c),
        }
    }
    out
}

#[cfg(test)]
mod tests {
    use super::super::Newline;
    use super::*;

    #[test]
    fn the_version_and_its_code_page_decide() {
        let old = Target::new(Version::R2000, false, Newline::Lf);
        assert_eq!(encode("é ≤\n4", &old), b"\xe9 \\U+2264 4");
        assert_eq!(encode("😀", &old), b"\\U+D83D\\U+DE00");
        let new = Target::new(Version::R2007, false, Newline::Lf);
        assert_eq!(encode("é ≤", &new), "é ≤".as_bytes());
        let japanese = Target { encoding: Some(encoding_rs::SHIFT_JIS), ..old };
        assert_eq!(encode("¥手", &japanese), b"\\U+00A5\x8e\xe8");
        let plain = Target { encoding: None, ..old };
        assert_eq!(encode("é", &plain), b"\\U+00E9");
    }

    #[test]
    fn signs_are_written_as_codes() {
        assert_eq!(content("⌀3/16 ±1/16 45°"), "%%c3/16 %%p1/16 45%%d");
        assert_eq!(content("100% a^b"), "100% a^ b");
        assert_eq!(content("%%d"), "%%%%%%d");
    }
}
