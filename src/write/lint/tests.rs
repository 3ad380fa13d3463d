//! Our own drawings pass, and each way to break one is named.

use super::{LintError, lint};
use crate::base::plane::point;
use crate::base::{Frame, Unit};
use crate::cad::Version;
use crate::write::dxf::{DxfOptions, Newline, document, sample};

const ASCII_VERSIONS: [Version; 7] =
    [Version::R12, Version::R2000, Version::R2004, Version::R2007, Version::R2010, Version::R2013, Version::R2018];

fn drawing(version: Version, binary: bool, newline: Newline) -> Vec<u8> {
    let (plan, elevation) = (sample::plan(), sample::elevation());
    let frame = Frame { unit: Unit::Inch, origin: point(1000.25, -500.0) };
    let options = DxfOptions { version, binary, newline, ..DxfOptions::default() };
    document(&sample::placed(&plan, &elevation), &sample::pages(), &frame, &options)
}

/// The groups of an ASCII drawing in our own form.
fn groups(version: Version) -> Vec<(u16, String)> {
    let bytes = drawing(version, false, Newline::Lf);
    let text: String = bytes.iter().map(|b| char::from(*b)).collect();
    let lines: Vec<&str> = text.lines().collect();
    lines.chunks(2).map(|pair| (pair[0].trim().parse().unwrap(), pair[1].to_owned())).collect()
}

fn check(groups: &[(u16, String)]) -> Vec<LintError> {
    let text: String = groups.iter().map(|(code, value)| format!("{code:>3}\n{value}\n")).collect();
    lint(&text.chars().map(|c| u8::try_from(u32::from(c)).unwrap()).collect::<Vec<u8>>())
}

/// Index of the group `code value`, counted from `from`.
fn find(groups: &[(u16, String)], from: usize, code: u16, value: &str) -> usize {
    let at = groups.iter().skip(from).position(|(c, v)| *c == code && v == value);
    from + at.unwrap_or_else(|| panic!("no group {code} {value}"))
}

/// The record of a table with this name: from its group 0 to the next.
fn record(groups: &[(u16, String)], kind: &str, name: &str) -> std::ops::Range<usize> {
    let mut start = 0;
    loop {
        start = find(groups, start, 0, kind);
        let end = start + 1 + groups[start + 1..].iter().position(|(code, _)| *code == 0).unwrap();
        if name.is_empty() || groups[start..end].iter().any(|(code, value)| *code == 2 && value == name) {
            return start..end;
        }
        start = end;
    }
}

/// Removes a table record and corrects the table's count.
fn without(version: Version, kind: &str, name: &str) -> Vec<(u16, String)> {
    let mut groups = groups(version);
    let gone = record(&groups, kind, name);
    groups.drain(gone);
    let head = find(&groups, 0, 2, kind);
    let count = head + groups[head..].iter().position(|(code, _)| *code == 70).unwrap();
    groups[count].1 = (groups[count].1.parse::<i64>().unwrap() - 1).to_string();
    groups
}

/// The broken drawing gives errors, all of which say `message`.
fn assert_named(groups: &[(u16, String)], message: &str) {
    let errors = check(groups);
    assert!(!errors.is_empty(), "not found: {message}");
    for error in &errors {
        assert!(error.message.contains(message), "{error:?} instead of: {message}");
    }
    assert!(errors[0].line.is_some() || message.contains("EOF"), "{:?}", errors[0]);
}

#[test]
fn our_own_drawings_are_clean_in_every_version_and_form() {
    for version in ASCII_VERSIONS.into_iter().chain([Version::R13, Version::R14]) {
        for (binary, newline) in
            [(false, Newline::Lf), (false, Newline::CrLf), (false, Newline::Cr), (true, Newline::Lf)]
        {
            assert_eq!(lint(&drawing(version, binary, newline)), [], "{} {binary} {newline:?}", version.name());
        }
    }
}

#[test]
fn an_empty_drawing_is_clean() {
    for version in ASCII_VERSIONS {
        let options = DxfOptions { version, ..DxfOptions::default() };
        assert_eq!(lint(&document(&[], &[], &Frame::default(), &options)), [], "{}", version.name());
    }
}

#[test]
fn missing_app_id() {
    for version in ASCII_VERSIONS {
        assert_named(&without(version, "APPID", "PLUMBRAIL"), "uses APPID PLUMBRAIL, which has no record");
    }
}

#[test]
fn missing_owner() {
    for kind in ["LINE", "ATTRIB", "SEQEND", "LAYER", "ENDBLK", "LAYOUT"] {
        let mut groups = groups(Version::R2000);
        let line = record(&groups, kind, "");
        let owner = find(&groups, line.start, 330, &groups[line.start + 2].1.clone());
        groups.remove(owner);
        assert_named(&groups, &format!("{kind} has no owner"));
    }
}

#[test]
fn wrong_owner() {
    for kind in ["LINE", "ATTRIB", "SEQEND", "LAYER", "ENDBLK", "LAYOUT", "TABLE"] {
        let mut groups = groups(Version::R2018);
        let own = record(&groups, kind, "");
        let owner = own.start + groups[own].iter().position(|(code, _)| *code == 330).unwrap();
        groups[owner].1 = "FFFF".to_owned();
        assert_named(&groups, &format!("{kind} has the wrong owner FFFF"));
    }
}

/// The record that this name in group 1 stands in.
fn layout_of(groups: &[(u16, String)], name: &str) -> std::ops::Range<usize> {
    let named = find(groups, 0, 1, name);
    let start = groups[..named].iter().rposition(|(code, _)| *code == 0).unwrap();
    let end = named + groups[named..].iter().position(|(code, _)| *code == 0).unwrap();
    start..end
}

#[test]
fn windows_stand_in_paper_spaces_that_a_layout_shows() {
    let whole = groups(Version::R2000);
    let window = record(&whole, "VIEWPORT", "");
    let model = whole[record(&whole, "BLOCK_RECORD", "*Model_Space").start + 1].1.clone();
    let mut groups = whole.clone();
    groups[window.start + 2].1 = model;
    let said = |groups: &[(u16, String)], message: &str| {
        let errors = check(groups);
        assert!(errors.iter().any(|e| e.message.contains(message)), "{message}: {errors:?}");
    };
    said(&groups, "VIEWPORT stands in no paper space that a layout shows");
    said(&groups, "VIEWPORT has the wrong owner");
    // A layout whose block record is none, and two that show one space.
    let first = layout_of(&whole, "R1 Plan é");
    let second = layout_of(&whole, "R2 Panel");
    let space = |range: &std::ops::Range<usize>| range.end - 2;
    assert_eq!((whole[space(&first)].0, whole[space(&second)].0), (330, 330));
    let mut groups = whole.clone();
    groups[space(&first)].1 = "FFFF".to_owned();
    said(&groups, "LAYOUT shows no space");
    said(&groups, "BLOCK_RECORD *PAPER_SPACE0 has a LAYOUT that shows another space");
    let mut groups = whole.clone();
    groups[space(&second)].1 = whole[space(&first)].1.clone();
    said(&groups, "LAYOUT shows the space of LAYOUT");
    said(&groups, "BLOCK_RECORD *PAPER_SPACE1 has a LAYOUT that shows another space");
}

#[test]
fn missing_subclass_marker() {
    for (kind, marker) in [
        ("LINE", "AcDbEntity"),
        ("LINE", "AcDbLine"),
        ("ARC", "AcDbArc"),
        ("ATTRIB", "AcDbAttribute"),
        ("LAYER", "AcDbLayerTableRecord"),
        ("TABLE", "AcDbSymbolTable"),
        ("LAYOUT", "AcDbLayout"),
    ] {
        let mut groups = groups(Version::R2000);
        let at = find(&groups, record(&groups, kind, "").start, 100, marker);
        groups.remove(at);
        let message = format!("{kind} has no subclass marker {marker}");
        assert!(check(&groups).iter().any(|error| error.message.contains(&message)), "{message}");
    }
    let mut groups = groups(Version::R2000);
    let at = find(&groups, 0, 100, "AcDbRotatedDimension");
    groups.remove(at);
    assert_named(&groups, "DIMENSION has too few subclass markers");
}

#[test]
fn subclass_marker_in_r12() {
    let mut groups = groups(Version::R12);
    let at = record(&groups, "LINE", "").start + 2;
    groups.insert(at, (100, "AcDbEntity".to_owned()));
    assert_named(&groups, "which R12 does not know");
}

#[test]
fn wrong_table_count() {
    for wrong in ["1", "99"] {
        let mut groups = groups(Version::R2000);
        let head = find(&groups, 0, 2, "LAYER");
        let count = head + groups[head..].iter().position(|(code, _)| *code == 70).unwrap();
        groups[count].1 = wrong.to_owned();
        assert_named(&groups, &format!("table LAYER says {wrong} records, but has 12"));
    }
}

#[test]
fn utf8_in_an_old_version_and_the_reverse() {
    for version in [Version::R12, Version::R2000, Version::R2004] {
        let mut groups = groups(version);
        let at = groups.iter().position(|(_, value)| value.starts_with("Plan \u{e9}")).unwrap();
        // The two bytes of a UTF-8 é.
        groups[at].1 = "Plan \u{c3}\u{a9}".to_owned();
        assert_named(&groups, "this text is UTF-8");
    }
    let mut groups = groups(Version::R2007);
    let at = groups.iter().position(|(_, value)| value.starts_with("Plan ")).unwrap();
    groups[at].1 = "Plan \u{e9}".to_owned();
    assert_named(&groups, "this text is not UTF-8");
}

#[test]
fn mixed_line_ends() {
    for (newline, other) in [(Newline::Lf, "\r\n"), (Newline::CrLf, "\n"), (Newline::Lf, "\r")] {
        let bytes = drawing(Version::R2000, false, newline);
        let text: String = bytes.iter().map(|b| char::from(*b)).collect();
        let end = if newline == Newline::CrLf { "\r\n" } else { "\n" };
        let text = text.replacen(&format!("AcDbLine{end}"), &format!("AcDbLine{other}"), 1);
        let errors = lint(&text.chars().map(|c| u8::try_from(u32::from(c)).unwrap()).collect::<Vec<u8>>());
        assert_eq!(errors.len(), 1, "{errors:?}");
        assert!(errors[0].message.contains("mixed line ends") && errors[0].line.is_some());
    }
}

#[test]
fn stale_handle_seed() {
    for version in [Version::R12, Version::R2000] {
        for stale in ["0", "1F", "nonsense"] {
            let mut groups = groups(version);
            let at = find(&groups, 0, 9, "$HANDSEED") + 1;
            groups[at].1 = stale.to_owned();
            assert_named(&groups, "is stale");
        }
    }
}

#[test]
fn missing_handles() {
    for version in [Version::R12, Version::R2000] {
        for kind in ["LINE", "INSERT", "SEQEND"] {
            let mut groups = groups(version);
            let own = record(&groups, kind, "").start + 1;
            assert_eq!(groups[own].0, 5);
            groups.remove(own);
            // Parts of a record without a handle have a wrong owner too.
            assert!(check(&groups).iter().any(|e| e.message == format!("{kind} has no handle")), "{kind}");
        }
    }
    let mut groups = groups(Version::R2000);
    let at = record(&groups, "DIMSTYLE", "Standard").start + 1;
    groups.remove(at);
    assert_named(&groups, "DIMSTYLE has no handle");
}

#[test]
fn duplicate_handles() {
    for version in [Version::R12, Version::R2000] {
        let mut groups = groups(version);
        let first = record(&groups, "CIRCLE", "").start + 1;
        let second = record(&groups, "ARC", "").start + 1;
        groups[second].1 = groups[first].1.clone();
        let handle = groups[first].1.clone();
        assert_named(&groups, &format!("handle {handle} is a duplicate"));
    }
}

#[test]
fn missing_block() {
    for version in [Version::R12, Version::R2000] {
        for (kind, name) in [("INSERT", "RAIL-POST-4_5IN"), ("DIMENSION", "*D2")] {
            let mut groups = groups(version);
            let start = record(&groups, "BLOCK", name).start;
            let end = find(&groups, start, 0, "ENDBLK") + 1;
            let end = end + groups[end..].iter().position(|(code, _)| *code == 0).unwrap();
            groups.drain(start..end);
            let errors = check(&groups);
            let message = format!("{kind} uses block {name}, which is not defined");
            assert!(errors.iter().any(|e| e.message == message), "{errors:?}");
        }
    }
    assert!(check(&without(Version::R2000, "BLOCK_RECORD", "*D1"))[0].message.contains("wrong owner"));
}

#[test]
fn missing_table_records() {
    for version in ASCII_VERSIONS {
        let named = |kind: &str, name: &str| {
            let message = format!("uses {kind} {name}, which has no record");
            let errors = check(&without(version, kind, name));
            assert!(errors.iter().any(|e| e.message.contains(&message)), "{message}: {errors:?}");
        };
        named("LAYER", "RAIL-POST");
        named("LAYER", "0");
        named("LTYPE", "RAIL-HIDDEN");
        named("LTYPE", "RAIL-CENTRE");
        named("STYLE", "RAIL-TEXT");
        named("DIMSTYLE", "RAIL-DIM-48-2_381");
    }
}

#[test]
fn broken_order_of_sections() {
    for (kind, message) in [
        ("ENDSEC", "has no ENDSEC"),
        ("ENDTAB", "has no ENDTAB"),
        ("ENDBLK", "has no ENDBLK"),
        ("EOF", "ends without EOF"),
        ("SEQEND", "that no SEQEND has ended"),
        ("BLOCK", "stands in no block"),
        ("TABLE", "stands in no table"),
    ] {
        for version in [Version::R12, Version::R2018] {
            let mut groups = groups(version);
            let start = find(&groups, 0, 0, kind);
            let end = groups[start + 1..].iter().position(|(code, _)| *code == 0);
            let end = end.map_or(groups.len(), |length| start + 1 + length);
            groups.drain(start..end);
            assert_named(&groups, message);
        }
    }
}

#[test]
fn whatever_is_no_drawing_gives_an_error_and_no_panic() {
    for bytes in [&b""[..], b"\n", b"hello", b"\x89PNG\r\n\x1a\n", b"AutoCAD Binary DXF\r\n\x1a\0", b"  0\nEOF\nmore\n"]
    {
        assert!(!lint(bytes).is_empty(), "{bytes:?}");
    }
    for binary in [false, true] {
        let whole = drawing(Version::R2000, binary, Newline::Lf);
        for cut in (0..whole.len() - 8).step_by(97) {
            assert!(!lint(&whole[..cut]).is_empty(), "cut at {cut}");
        }
    }
}

#[test]
fn binary_and_ascii_say_the_same() {
    use super::reader::{Reader, Value};
    let read = |bytes: &[u8]| {
        let mut reader = Reader::new(bytes);
        let mut groups = Vec::new();
        while let Some(tag) = reader.next().unwrap() {
            let text = match tag.value {
                // Ten decimals are written in ASCII.
                Value::Real(value) => ((value * 1e8).round() + 0.0).to_string(),
                Value::Int(value) => value.to_string(),
                _ => tag.text().into_owned(),
            };
            groups.push((tag.code, text));
        }
        groups
    };
    for version in ASCII_VERSIONS {
        let ascii = read(&drawing(version, false, Newline::Lf));
        let binary = read(&drawing(version, true, Newline::Lf));
        assert_eq!(ascii.len(), binary.len());
        let other = ascii.iter().zip(&binary).find(|(a, b)| a != b);
        assert_eq!(other, None, "{}", version.name());
    }
}
