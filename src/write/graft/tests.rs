//! The user's bytes around ours, in every version and form, and what an earlier run left.

use std::collections::BTreeMap;

use super::*;
use crate::base::Unit;
use crate::base::plane::point;
use crate::cad::Version;
use crate::write::dxf::{DxfOptions, Newline, VERSIONS, document, sample};
use crate::write::lint::lint;

fn frame() -> Frame {
    Frame { unit: Unit::Inch, origin: point(1000.25, -500.0) }
}

/// A drawing of somebody else's: our records under another application's name.
fn users(version: Version, binary: bool, newline: Newline) -> Vec<u8> {
    let options = DxfOptions { version, binary, newline, layer_names: BTreeMap::new() };
    let text: String = document(&[], &[], &frame(), &options).into_iter().map(char::from).collect();
    text.replace("PLUMBRAIL", "CARPENTER").chars().map(|c| u8::try_from(u32::from(c)).unwrap()).collect()
}

fn try_graft(bytes: &[u8], options: &GraftOptions) -> Result<Graft, Refusal> {
    let (plan, elevation) = (sample::plan(), sample::elevation());
    graft(bytes, &sample::placed(&plan, &elevation), &frame(), options)
}

fn grafted(bytes: &[u8], options: &GraftOptions) -> Vec<u8> {
    try_graft(bytes, options).unwrap().to_bytes(bytes)
}

fn plain(bytes: &[u8]) -> Vec<u8> {
    grafted(bytes, &GraftOptions::default())
}

fn stripped(bytes: &[u8]) -> Vec<u8> {
    strip(bytes).unwrap().to_bytes(bytes)
}

/// ASCII in lines, for comparisons that show something.
fn text(bytes: &[u8]) -> String {
    bytes.iter().map(|b| char::from(*b)).collect()
}

/// A drawing written by hand; `|` ends a line.
fn by_hand(text: &str) -> Vec<u8> {
    text.replace('|', "\n").into_bytes()
}

/// Our R2000 drawing as somebody else's, changed by hand before or after the graft.
fn changed(bytes: &[u8], pairs: &[(&str, &str)]) -> Vec<u8> {
    let mut text = text(bytes);
    for (old, new) in pairs {
        let (old, new) = (old.replace('|', "\n"), new.replace('|', "\n"));
        assert!(text.contains(&old), "no {old:?}");
        text = text.replacen(&old, &new, 1);
    }
    text.chars().map(|c| u8::try_from(u32::from(c)).unwrap()).collect()
}

fn r2000() -> Vec<u8> {
    users(Version::R2000, false, Newline::Lf)
}

/// Into the ENTITIES section, which is followed by OBJECTS in our drawings.
fn with_entity(bytes: &[u8], entity: &str) -> Vec<u8> {
    let end = "  0|ENDSEC|  0|SECTION|  2|OBJECTS|";
    changed(bytes, &[(end, &format!("{entity}{end}"))])
}

#[test]
fn every_version_and_form_takes_the_rails_and_gives_them_back() {
    let forms = [(false, Newline::Lf), (false, Newline::CrLf), (false, Newline::Cr), (true, Newline::Lf)];
    for version in VERSIONS.into_iter().chain([Version::R13, Version::R14]) {
        for (binary, newline) in forms {
            let case = format!("{} {binary} {newline:?}", version.name());
            let before = users(version, binary, newline);
            for options in [GraftOptions::default(), GraftOptions { with_details: true, ..GraftOptions::default() }] {
                let after = grafted(&before, &options);
                assert_eq!(lint(&after), [], "{case}");
                assert!(stripped(&after) == before, "{case}");
                assert!(grafted(&after, &options) == after, "{case}");
            }
        }
    }
}

#[test]
fn what_is_kept_is_the_users_file_but_for_counts_and_seed() {
    let before = r2000();
    let graft = try_graft(&before, &GraftOptions::default()).unwrap();
    let mut at = 0;
    let mut replaced = Vec::new();
    for piece in &graft.pieces {
        if let Piece::Keep(range) = piece {
            replaced.extend((range.start > at).then(|| text(&before[at..range.start])));
            at = range.end;
        }
    }
    assert_eq!(at, before.len());
    // Counts of LTYPE, LAYER, STYLE, APPID, DIMSTYLE and BLOCK_RECORD behind the seed.
    assert_eq!(replaced[1..], ["3", "1", "1", "2", "1", "2"]);
    assert_eq!(replaced.len(), 7);
}

#[test]
fn another_run_replaces_the_old_layout_wholly() {
    let before = r2000();
    let first = grafted(&before, &GraftOptions { with_details: true, ..GraftOptions::default() });
    assert!(plain(&first) == plain(&before));
    let layer_names = [(Layer::Post, "POSTS".to_owned())].into();
    let named = GraftOptions { layer_names, ..GraftOptions::default() };
    let second = grafted(&first, &named);
    assert!(second == grafted(&before, &named));
    assert!(text(&second).contains("\nPOSTS\n") && !text(&second).contains("\nRAIL-POST\n"));
}

const LINE: &str = "0|LINE|8|0|10|0|20|0|11|1|21|1|";

#[test]
fn minimal_drawings_get_what_they_lack() {
    let only = format!("0|SECTION|2|ENTITIES|{LINE}0|ENDSEC|0|EOF|");
    let tables = "0|SECTION|2|TABLES|0|TABLE|2|LAYER|70|     1|0|LAYER|2|0|70|0|62|7|6|CONTINUOUS|0|ENDTAB|0|ENDSEC|";
    let header = "0|SECTION|2|HEADER|9|$ACADVER|1|AC1009|0|ENDSEC|";
    for drawing in [
        only.clone(),
        format!("999|made by hand|{only}"),
        format!("{header}{only}"),
        format!("{tables}{only}"),
        format!("{header}{tables}0|SECTION|2|BLOCKS|0|ENDSEC|{only}"),
        format!("{header}0|SECTION|2|TABLES|0|ENDSEC|{only}"),
    ] {
        let before = by_hand(&drawing);
        let after = plain(&before);
        assert_eq!(lint(&after), [], "{}", text(&after));
        assert!(!text(&after).contains("HANDSEED"), "a file without handles needs no seed");
        assert_eq!(text(&stripped(&after)), text(&before));
        assert!(plain(&after) == after);
    }
}

#[test]
fn counts_are_put_back_with_their_blanks_and_errors() {
    for (count, during) in [("     1", "     6"), ("99", "104"), ("0", "6"), ("many", "6")] {
        let before = r2000();
        let head = text(&before).find("  2\nLAYER\n").unwrap();
        let at = head + text(&before)[head..].find(" 70\n1\n").unwrap() + 4;
        let before = [&before[..at], count.as_bytes(), &before[at + 1..]].concat();
        let after = plain(&before);
        let at = text(&after).find("  2\nLAYER\n").unwrap();
        let written = text(&after)[at..].split(" 70\n").nth(1).unwrap().lines().next().unwrap().to_owned();
        assert_eq!(written, during);
        assert_eq!(text(&stripped(&after)), text(&before));
    }
}

#[test]
fn the_seed_rises_above_every_handle_and_is_put_back() {
    let seed = |bytes: &[u8]| {
        let text = text(bytes);
        let (_, rest) = text.split_once("$HANDSEED\n  5\n").unwrap();
        rest.lines().next().unwrap().to_owned()
    };
    let before = r2000();
    let own = seed(&before);
    let stale = changed(&before, &[(&format!("$HANDSEED|  5|{own}|"), "$HANDSEED|  5|  1|")]);
    let high = changed(&before, &[(&format!("$HANDSEED|  5|{own}|"), "$HANDSEED|  5|00ABC0|")]);
    let none = changed(&before, &[(&format!("  9|$HANDSEED|  5|{own}|"), "")]);
    for before in [&before, &stale, &high, &none] {
        let after = plain(before);
        assert_eq!(lint(&after), []);
        assert_eq!(text(&stripped(&after)), text(before));
        assert!(plain(&after) == after);
    }
    assert!(u64::from_str_radix(&seed(&plain(&high)), 16).unwrap() > 0xABC0);
    // A damaged seed or handle is no reason to count on from there.
    let absurd = changed(&before, &[(&format!("$HANDSEED|  5|{own}|"), "$HANDSEED|  5|FFFFFFFFFFFFFFFF|")]);
    assert_eq!(seed(&plain(&absurd)), "FFFFFFFFFFFFFFFF");
    let line = "  0|LINE|  5|FFFFFFFFFFFFFFF0|330|D|100|AcDbEntity|  8|0|100|AcDbLine| 10|0| 20|0| 11|1| 21|1|";
    let after = plain(&with_entity(&before, line));
    assert!(u64::from_str_radix(&seed(&after), 16).unwrap() < 0x1000);
}

/// Else a damaged pointer would say that a record of the user's uses it, and it would stay.
#[test]
fn no_record_of_ours_has_a_handle_that_something_points_to() {
    let before = r2000();
    let points = |pointer: &str| {
        let line =
            format!("  0|LINE|  5|F01|330|D|{pointer}|100|AcDbEntity|  8|0|100|AcDbLine| 10|0| 20|0| 11|1| 21|1|");
        with_entity(&before, &line)
    };
    for pointer in ["102|{ACAD_REACTORS|330|F20|102|}", "360|F20", "390|F20", "481|F20"] {
        let plan = points(pointer);
        let after = plain(&plan);
        let index = crate::cad::scan::index(&after).unwrap();
        let ours = index.records.iter().filter(|record| record.ours && record.handle != 0);
        assert!(ours.map(|record| record.handle).min() > Some(0xF20), "{pointer}");
        assert!(stripped(&after) == plan && plain(&after) == after, "{pointer}");
    }
    // A damaged one is no reason to count on from there.
    let after = plain(&points("390|FFFFFFFFFFFFFFF0"));
    let highest = crate::cad::scan::index(&after).unwrap().records.iter().map(|record| record.handle).max();
    assert!(highest < Some(0x2000), "{highest:?}");
}

#[test]
fn a_layer_of_the_users_is_refused_until_the_job_names_it() {
    let before = r2000();
    let layer = "  0|LAYER|  5|F00|330|7|100|AcDbSymbolTableRecord|100|AcDbLayerTableRecord|  2|rail-post| 70|1| 62|3|  6|CONTINUOUS|";
    let end = "  0|ENDTAB|  0|TABLE|  2|STYLE|";
    let theirs = changed(&before, &[(end, &format!("{layer}{end}"))]);
    let refusal = try_graft(&theirs, &GraftOptions::default()).unwrap_err();
    assert_eq!((refusal.finding.code, refusal.finding.place.handle), (Code::LayerTaken, Some(0xF00)));
    assert!(refusal.finding.hint.unwrap().contains("--layer-prefix"));
    let layer_names = [(Layer::Post, "RAIL-POST".to_owned()), (Layer::Line, "Rail-Post".to_owned())].into();
    let options = GraftOptions { layer_names, ..GraftOptions::default() };
    let graft = try_graft(&theirs, &options).unwrap();
    let [finding] = graft.findings.as_slice() else { panic!("{:?}", graft.findings) };
    assert_eq!(finding.code, Code::LayerShared);
    assert!(finding.message.ends_with("it is frozen"), "{}", finding.message);
    let after = graft.to_bytes(&theirs);
    assert_eq!(text(&after).matches("  0\nLAYER\n").count(), text(&theirs).matches("  0\nLAYER\n").count() + 3);
    assert!(text(&after).contains("  8\nrail-post\n") && !text(&after).contains("RAIL-POST\n"));
    assert!(stripped(&after) == theirs && grafted(&after, &options) == after);
    // Something that stands on it is enough.
    let user = "  0|LINE|  5|F01|330|D|100|AcDbEntity|  8|RAIL-TEXT|100|AcDbLine| 10|0| 20|0| 11|1| 21|1|";
    let refusal = try_graft(&with_entity(&before, user), &GraftOptions::default()).unwrap_err();
    assert_eq!(refusal.finding.place.handle, Some(0xF01));
}

#[test]
fn what_the_users_records_use_of_ours_stays() {
    let after = plain(&r2000());
    // A note of the user's on our layer in our style, and our block put somewhere else.
    let note = "  0|TEXT|  5|F01|330|D|100|AcDbEntity|  8|RAIL-TEXT|100|AcDbText| 10|0| 20|0| 40|1|  1|mine|  7|RAIL-TEXT|100|AcDbText|";
    let insert =
        "  0|INSERT|  5|F02|330|D|100|AcDbEntity|  8|0|100|AcDbBlockReference|  2|RAIL-POST-4_5IN| 10|0| 20|0|";
    let edited = with_entity(&after, &format!("{note}{insert}"));
    let again = plain(&edited);
    let names = |bytes: &[u8]| {
        let index = crate::cad::scan::index(bytes).unwrap();
        let named = index.tables.iter().flat_map(|table| table.entries.clone());
        named.map(|at| index.name(index.records[at].name).to_owned()).collect::<Vec<_>>()
    };
    let found = names(&again);
    for (name, count) in
        [("RAIL-TEXT", 2), ("RAIL-TEXT-2", 1), ("RAIL-POST-4_5IN", 1), ("RAIL-POST-4_5IN-2", 1), ("RAIL-POST", 1)]
    {
        assert_eq!(found.iter().filter(|other| *other == name).count(), count, "{name} in {found:?}");
    }
    assert!(text(&again).contains("\nmine\n"));
    assert!(plain(&again) == again);
    let errors: Vec<_> =
        lint(&again).into_iter().filter(|error| error.handle.is_none_or(|handle| handle < 0xF00)).collect();
    assert_eq!(errors, []);
    let stripped = stripped(&again);
    assert!(names(&stripped).iter().any(|name| name == "PLUMBRAIL"), "what stays is still marked");
    assert!(!names(&stripped).iter().any(|name| name.ends_with("-2")));
}

#[test]
fn a_post_put_in_by_hand_is_drawn_anew() {
    let after = plain(&r2000());
    let insert =
        "  0|INSERT|  5|F02|330|D|100|AcDbEntity|  8|RAIL-POST|100|AcDbBlockReference|  2|RAIL-POST-4_5IN| 10|0| 20|0|";
    assert!(text(&stripped(&with_entity(&after, insert))) == text(&r2000()));
}

#[test]
fn what_a_cad_program_has_hung_on_ours_goes_with_it() {
    let after = plain(&r2000());
    let (_, rest) = text(&after).split_once("  0\nINSERT\n  5\n").map(|(a, b)| (a.to_owned(), b.to_owned())).unwrap();
    let post = rest.lines().next().unwrap().to_owned();
    let end = "  0|ENDSEC|  0|EOF|";
    let objects = format!("  0|DICTIONARY|  5|F0|330|{post}|  0|XRECORD|  5|F1|330|F0|280|1|");
    let group = format!("  0|GROUP|  5|F2|330|C|100|AcDbGroup|340|{post}|");
    let hung = changed(&after, &[(end, &format!("{objects}{end}"))]);
    assert_eq!(text(&stripped(&hung)), text(&r2000()));
    let grouped = changed(&after, &[(end, &format!("{group}{end}"))]);
    let graft = strip(&grouped).unwrap();
    assert_eq!(graft.findings[0].code, Code::OldLayoutUsed);
    assert!(text(&graft.to_bytes(&grouped)).contains("GROUP"));
}

/// Saved by a program that orders, counts and numbers anew, the file has no bytes of ours to find: marks are enough.
#[test]
fn after_a_cad_program_saved_it_marks_are_enough() {
    let after = plain(&r2000());
    let count = text(&after).find("  2\nLAYER\n").unwrap();
    let at = count + text(&after)[count..].find(" 70\n6\n").unwrap() + 4;
    let recounted = [&after[..at], b"9", &after[at + 1..]].concat();
    let seed = text(&after).split_once("$HANDSEED\n  5\n").unwrap().1.lines().next().unwrap().to_owned();
    let saved = changed(&recounted, &[(&format!("$HANDSEED|  5|{seed}|"), "$HANDSEED|  5|ABCD|")]);
    let back = text(&stripped(&saved));
    let at = back.find("  2\nLAYER\n").unwrap();
    assert!(back[at..].split(" 70\n").nth(1).unwrap().starts_with("4\n"), "9 less our 5");
    assert!(back.contains("$HANDSEED\n  5\nABCD\n"));
    assert_eq!(back.len(), text(&r2000()).len() + "ABCD".len() - 2);
    assert!(!back.contains("PLUMBRAIL"));
}

#[test]
fn texts_are_in_the_encoding_of_the_file() {
    let sign = |version, page: &str| {
        let before = users(version, false, Newline::Lf);
        let before = changed(&before, &[("ANSI_1252", page)]);
        let after = plain(&before);
        assert_eq!(lint(&after), [], "{page}");
        let at = after.windows(5).position(|w| w == b"Plan ").unwrap();
        after[at + 5..].split(|b| *b == b'\n').next().unwrap().to_vec()
    };
    assert_eq!(sign(Version::R2018, "ANSI_1252"), "é ≤ 4\"".as_bytes());
    assert_eq!(sign(Version::R2000, "ANSI_1252"), b"\xe9 \\U+2264 4\"");
    assert_eq!(sign(Version::R2000, "ANSI_1251"), b"\\U+00E9 \\U+2264 4\"");
    assert_eq!(sign(Version::R2000, "ANSI_932"), b"\\U+00E9 \\U+2264 4\"".to_vec());
    assert_eq!(sign(Version::R2000, "dos437"), b"\\U+00E9 \\U+2264 4\"", "an unknown page holds ASCII");
    assert_eq!(sign(Version::R2004, "UTF-8"), b"\\U+00E9 \\U+2264 4\"", "no code page of the format");
}

fn refused(drawing: &[u8], words: &str) {
    let finding = try_graft(drawing, &GraftOptions::default()).unwrap_err().finding;
    assert!(finding.message.contains(words), "{}", finding.message);
    assert!(finding.hint.is_some());
}

#[test]
fn drawings_that_leave_no_safe_place_are_refused() {
    let before = r2000();
    refused(&changed(&before, &[("*Model_Space", "*Model_Spice")]), "no *Model_Space record");
    refused(&changed(&before, &[("AC1015", "AC1006")]), "older than R11");
    refused(&changed(&before, &[("  0|ENDTAB|", "")]), "table VPORT has no ENDTAB");
    refused(
        &changed(&before, &[("  0|ENDSEC|  0|SECTION|  2|OBJECTS|", "  0|SECTION|  2|OBJECTS|")]),
        "section ENTITIES has no ENDSEC",
    );
    refused(&changed(&before, &[("  0|SECTION|  2|HEADER|", "  0|SECTION|  2|HEAD|")]), "subclass markers");
    refused(&by_hand(&format!("0|SECTION|2|ENTITIES|{LINE}5|2F|0|ENDSEC|0|EOF|")), "handles");
    let binary = users(Version::R2000, true, Newline::Lf);
    refused(&changed(&binary, &[("AC1015", "AC1009")]), "not as wide");
    refused(&changed(&binary, &[("DXF\r|", "DXF|")]), "line ends");
    let open = changed(&before, &[("  0|ENDBLK|", "  0|LINE|")]);
    refused(&open, "has no ENDBLK");
    // A count or a seed that no record of ours could keep would be lost at the next run.
    let own = text(&before).split_once("$HANDSEED\n  5\n").unwrap().1.lines().next().unwrap().to_owned();
    refused(&changed(&before, &[(&format!("$HANDSEED|  5|{own}|"), "$HANDSEED|  5|{2F}|")]), "$HANDSEED is `{2F}`");
    refused(&changed(&before, &[("TABLE|  2|LAYER|", "TABLE|  2|LAYER| 70|1\t1|")]), "count of a table is `1\\t1`");
    let old = users(Version::R14, false, Newline::Lf);
    let named = [(Layer::Post, "posts (new)".to_owned())].into();
    let refusal = try_graft(&old, &GraftOptions { layer_names: named, ..GraftOptions::default() }).unwrap_err();
    assert!(refusal.finding.message.contains("R14"));
}

/// A later version follows the newest known one.
#[test]
fn an_unknown_version_is_written_like_the_newest() {
    let before = changed(&users(Version::R2018, false, Newline::Lf), &[("AC1032", "AC1037")]);
    let after = plain(&before);
    assert!(lint(&after).iter().all(|error| error.message.contains("AC1037")));
    assert!(stripped(&after) == before);
}
