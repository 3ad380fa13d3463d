//! Text values: encodings, escapes and formatting codes.

use std::borrow::Cow;

use encoding_rs::Encoding;

use super::Version;

/// Bytes of a name or value that a message shows; what means something to us is shorter.
const SHOWN: usize = 60;

/// A name or value as a message shows it, however long it is.
pub fn shown(bytes: &[u8]) -> String {
    match bytes.get(..SHOWN) {
        Some(start) if bytes.len() > SHOWN => format!("{}...", String::from_utf8_lossy(start)),
        _ => String::from_utf8_lossy(bytes).into_owned(),
    }
}

/// The encoding of a drawing's text (DXF reference, `$DWGCODEPAGE`; UTF-8 from AC1021 on), and whether it is sure: a
/// code page that is not known is read as windows-1252.
pub fn encoding_of(version: Version, code_page: Option<&str>) -> (&'static Encoding, bool) {
    if version >= Version::R2007 {
        return (encoding_rs::UTF_8, true);
    }
    let Some(name) = code_page else { return (encoding_rs::WINDOWS_1252, true) };
    let name = name.trim().to_ascii_lowercase();
    let label = match name.as_str() {
        "ascii" | "ansi" | "" => "windows-1252",
        "ansi_932" | "dos932" => "shift_jis",
        "ansi_936" | "gb2312" | "dos936" => "gbk",
        "ansi_949" | "ksc5601" | "dos949" => "euc-kr",
        "ansi_950" | "big5" | "dos950" => "big5",
        "ansi_874" | "dos874" => "windows-874",
        "dos866" | "dos_866" => "ibm866",
        "utf-8" | "utf8" | "ansi_65001" => "utf-8",
        other => {
            let page = other.strip_prefix("ansi_").map(|n| format!("windows-{n}"));
            let page = page.or_else(|| other.strip_prefix("iso8859-").map(|n| format!("iso-8859-{n}")));
            let known = page.and_then(|label| Encoding::for_label(label.as_bytes()));
            return known.map_or((encoding_rs::WINDOWS_1252, false), |e| (e, true));
        }
    };
    Encoding::for_label(label.as_bytes()).map_or((encoding_rs::WINDOWS_1252, false), |e| (e, true))
}

/// Bytes of a value as text. What is no valid UTF-8 in a UTF-8 drawing is read as windows-1252, as programs write that
/// forgot to convert.
pub fn decode<'a>(bytes: &'a [u8], encoding: &'static Encoding) -> Cow<'a, str> {
    let text = if encoding == encoding_rs::UTF_8 && std::str::from_utf8(bytes).is_err() {
        encoding_rs::WINDOWS_1252.decode_without_bom_handling(bytes).0
    } else {
        encoding.decode_without_bom_handling(bytes).0
    };
    if text.contains("\\U+") { Cow::Owned(unicode_escapes(&text)) } else { text }
}

/// `\U+00E9` and the like replaced by their characters.
fn unicode_escapes(text: &str) -> String {
    let mut out = String::with_capacity(text.len());
    let mut rest = text;
    while let Some(at) = rest.find("\\U+") {
        let (before, escape) = rest.split_at(at);
        out.push_str(before);
        let digits = escape.get(3..7).filter(|d| d.bytes().all(|b| b.is_ascii_hexdigit()));
        let found = digits.and_then(|d| u32::from_str_radix(d, 16).ok()).and_then(char::from_u32);
        let (found, used) = found.map_or(('\\', 1), |c| (c, 7));
        out.push(found);
        rest = escape.get(used..).unwrap_or_default();
    }
    out.push_str(rest);
    out
}

/// Key under which a table name is found: names are the same without regard to case.
pub fn folded(name: &str) -> String {
    name.trim().to_uppercase()
}

/// A single-line text as a person sees it: `%%d %%c %%p` and `%%nnn` replaced, underline and overline switches dropped,
/// `^I` and `^J` turned to blanks.
pub fn plain(text: &str) -> String {
    let mut out = String::with_capacity(text.len());
    let mut chars = text.chars().peekable();
    while let Some(c) = chars.next() {
        match c {
            '%' if chars.peek() == Some(&'%') => {
                chars.next();
                percent(&mut chars, &mut out);
            }
            '^' => match chars.next() {
                Some(' ') | None => out.push('^'),
                Some('I' | 'J' | 'M') => out.push(' '),
                Some(other) => out.extend(['^', other]),
            },
            _ => out.push(c),
        }
    }
    out
}

fn percent(chars: &mut std::iter::Peekable<std::str::Chars<'_>>, out: &mut String) {
    let Some(&c) = chars.peek() else { return out.push_str("%%") };
    if c.is_ascii_digit() {
        let mut code = 0;
        for _ in 0..3 {
            let Some(digit) = chars.peek().and_then(|c| c.to_digit(10)) else { break };
            code = code * 10 + digit;
            chars.next();
        }
        out.extend(char::from_u32(code).filter(|c| !c.is_control()));
        return;
    }
    chars.next();
    match c.to_ascii_lowercase() {
        'd' => out.push('°'),
        'c' => out.push('⌀'),
        'p' => out.push('±'),
        '%' => out.push('%'),
        'u' | 'o' | 'k' => {}
        _ => out.extend(['%', '%', c]),
    }
}

/// MTEXT content without its formatting codes; paragraphs and columns become line feeds (DXF reference, MTEXT;
/// formatting codes as CAD programs document them).
pub fn mtext_plain(text: &str) -> String {
    let mut out = String::with_capacity(text.len());
    let mut chars = text.chars();
    while let Some(c) = chars.next() {
        match c {
            '\\' => match chars.next() {
                Some('P' | 'N' | 'X') => out.push('\n'),
                Some('~') => out.push(' '),
                Some(c @ ('\\' | '{' | '}')) => out.push(c),
                Some('S') => stacked(&mut chars, &mut out),
                Some('A' | 'C' | 'c' | 'f' | 'F' | 'H' | 'p' | 'Q' | 'T' | 'W') => {
                    chars.by_ref().find(|c| *c == ';');
                }
                Some('L' | 'l' | 'O' | 'o' | 'K' | 'k') => {}
                Some(other) => out.extend(['\\', other]),
                None => out.push('\\'),
            },
            '{' | '}' => {}
            _ => out.push(c),
        }
    }
    plain(&out)
}

/// `1#2;`, `1^2;` or `1/2;` after `\S`: a fraction.
fn stacked(chars: &mut std::str::Chars<'_>, out: &mut String) {
    for c in chars.by_ref().take_while(|c| *c != ';') {
        match c {
            '#' | '^' | '/' => out.push('/'),
            ' ' if out.ends_with('/') => {}
            c => out.push(c),
        }
    }
}

/// A symbol's name without `reference$number$`, which CAD programs put in front when a reference is bound.
pub fn own_name(name: &str) -> &str {
    let is_bound = |before: &str| {
        let number = before.rsplit_once('$').map_or("", |(_, number)| number);
        !number.is_empty() && number.bytes().all(|b| b.is_ascii_digit())
    };
    name.rsplit_once('$').filter(|(before, own)| is_bound(before) && !own.is_empty()).map_or(name, |(_, own)| own)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn code_pages() {
        for (version, page, name, sure) in [
            (Version::R12, None, "windows-1252", true),
            (Version::R2000, Some("ANSI_1251"), "windows-1251", true),
            (Version::R2004, Some("ansi_936"), "GBK", true),
            (Version::R2004, Some("ANSI_932"), "Shift_JIS", true),
            (Version::R2004, Some("ANSI_949"), "EUC-KR", true),
            (Version::R2004, Some("ANSI_950"), "Big5", true),
            (Version::R2000, Some("ANSI_874"), "windows-874", true),
            (Version::R2000, Some("dos437"), "windows-1252", false),
            (Version::R2007, Some("ANSI_1252"), "UTF-8", true),
        ] {
            let (encoding, known) = encoding_of(version, page);
            assert_eq!((encoding.name(), known), (name, sure), "{page:?}");
        }
    }

    #[test]
    fn decoding() {
        assert_eq!(decode(b"\xcf\xee\xeb", encoding_rs::WINDOWS_1251), "Пол");
        assert_eq!(decode("Пол".as_bytes(), encoding_rs::UTF_8), "Пол");
        assert_eq!(decode(b"T\xfcr", encoding_rs::UTF_8), "Tür");
        assert_eq!(decode(b"T\\U+00FCr \\U+12 \\U+D800 \\U+", encoding_rs::WINDOWS_1252), "Tür \\U+12 \\U+D800 \\U+");
    }

    #[test]
    fn escapes() {
        assert_eq!(plain("45%%d %%C3 %%p1 100%%% %%uA%%u %%065"), "45° ⌀3 ±1 100% A A");
        assert_eq!(plain("a^Ib^ c%"), "a b^c%");
        assert_eq!(plain("%%"), "%%");
        assert_eq!(
            mtext_plain("{\\fSans|b0|i0;\\H2.5x;RAIL}\\P36\\~in \\S1#2; \\S3^ 4; \\\\ \\{x\\} \\A1;5%%d \\Q"),
            "RAIL\n36 in 1/2 3/4 \\ {x} 5° "
        );
    }
}
