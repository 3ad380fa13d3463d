//! What a file is that is no DXF drawing, told by its first bytes.

use super::tag::{BINARY_SENTINEL, BOM};
use crate::base::{Code, Finding, Place, Refusal};

const BINARY_WORDS: &[u8] = b"AutoCAD Binary DXF";

/// First bytes of files that people take for drawings, and what they are.
const SIGNATURES: &[(&[u8], &str)] = &[
    (b"\x89PNG", "a PNG picture"),
    (b"\xff\xd8\xff", "a JPEG picture"),
    (b"GIF8", "a GIF picture"),
    (b"BM", "a BMP picture"),
    (b"II*\0", "a TIFF picture"),
    (b"MM\0*", "a TIFF picture"),
    (b"%PDF", "a PDF document"),
    (b"PK\x03\x04", "a ZIP archive or an office document"),
    (b"\x1f\x8b", "a gzip archive"),
    (b"AutoCAD DXB", "a DXB file"),
    (b"<?xml", "an XML or SVG file"),
    (b"<svg", "an SVG file"),
    (b"<html", "a web page"),
    (b"<!DOCTYPE", "a web page"),
    (b"\xff\xfe", "UTF-16 text"),
    (b"\xfe\xff", "UTF-16 text"),
    (b"(DWF", "a DWF file"),
];

/// Whether the file begins like a DWG: `AC` with four digits, or the older `AC1.50` and `AC2.10`.
pub fn is_dwg(bytes: &[u8]) -> bool {
    let Some([a, c, version @ ..]) = bytes.get(..6) else { return false };
    [*a, *c] == *b"AC" && version.iter().all(|b| b.is_ascii_digit() || *b == b'.')
}

/// Ends the work unless the file begins like a drawing.
///
/// # Errors
/// When it is another kind of file, which the refusal names.
pub fn check(bytes: &[u8]) -> Result<(), Refusal> {
    let text = bytes.strip_prefix(BOM).unwrap_or(bytes);
    if text.trim_ascii().is_empty() {
        return refuse("the file is empty", "give a DXF drawing");
    }
    if text.starts_with(BINARY_SENTINEL) {
        return Ok(());
    }
    if text.starts_with(BINARY_WORDS) {
        return refuse(
            "the file is a binary DXF that was damaged by a conversion of its line ends",
            "take the original, or send the file as a binary file",
        );
    }
    if is_dwg(text) {
        let version = String::from_utf8_lossy(text.get(..6).unwrap_or_default());
        return refuse(
            &format!("the file is a DWG ({version}), not a DXF"),
            "open it in a CAD program and save it as DXF there, or name a program of yours that converts it: \
             --dwg-converter 'CMD {in} {out}'",
        );
    }
    if let Some((_, what)) = SIGNATURES.iter().find(|(first, _)| text.starts_with(first)) {
        return refuse(&format!("the file is {what}, not a DXF drawing"), "save the plan as DXF in the CAD program");
    }
    let mut lines = text.split(|b| matches!(b, b'\n' | b'\r')).filter(|l| !l.is_empty()).map(<[u8]>::trim_ascii);
    if matches!((lines.next(), lines.next()), (Some(b"0"), Some(b"SECTION" | b"EOF")) | (Some(b"999"), _)) {
        return Ok(());
    }
    // Nothing is quoted: who may name a file may not be the one who may read it.
    refuse(
        "the file is not a DXF drawing: a DXF begins with the lines `0` and `SECTION`",
        "save the plan as DXF in the CAD program",
    )
}

fn refuse(message: &str, hint: &str) -> Result<(), Refusal> {
    let place = Place { line: None, ..Place::none() };
    Err(Refusal::new(Finding::error(Code::NotReadable, place, message).hint(hint)))
}

#[cfg(test)]
mod tests {
    use super::*;

    fn message(bytes: &[u8]) -> String {
        check(bytes).unwrap_err().finding.message
    }

    #[test]
    fn says_what_the_file_is() {
        assert!(message(b"").contains("empty"));
        assert!(message(b"\xef\xbb\xbf \n").contains("empty"));
        assert!(message(b"\x89PNG\r\n\x1a\n").contains("PNG"));
        assert!(message(b"%PDF-1.7").contains("PDF"));
        assert!(message(b"AC1032\0\0").contains("DWG (AC1032)"));
        assert!(message(b"AC1.50\0\0").contains("DWG"));
        assert!(!is_dwg(b"ACORNS") && !is_dwg(b"AC10"));
        assert!(message(b"AutoCAD Binary DXF\n\x1a\0").contains("line ends"));
        assert!(message(b"AutoCAD Binary DXF\r\r\n\x1a\0").contains("line ends"));
        assert_eq!(
            message(b"Dear builder,\nplease"),
            "the file is not a DXF drawing: a DXF begins with the lines `0` and `SECTION`"
        );
        assert_eq!(check(b"  0\r\nSECTION\r\n"), Ok(()));
        assert_eq!(check(b"999\nmade by hand\n0\nSECTION\n"), Ok(()));
        assert_eq!(check(BINARY_SENTINEL), Ok(()));
    }
}
