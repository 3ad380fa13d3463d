//! The user's bytes around ours, in every version and form.

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
    let text: String = document(&[], &frame(), &options).into_iter().map(char::from).collect();
    text.replace("PLUMBRAIL", "CARPENTER").chars().map(|c| u8::try_from(u32::from(c)).unwrap()).collect()
}

fn grafted(bytes: &[u8], options: &GraftOptions) -> Vec<u8> {
    let (plan, elevation) = (sample::plan(), sample::elevation());
    let graft = graft(bytes, &sample::placed(&plan, &elevation), &frame(), options).unwrap();
    graft.to_bytes(bytes)
}

fn forms() -> [(bool, Newline); 4] {
    [(false, Newline::Lf), (false, Newline::CrLf), (false, Newline::Cr), (true, Newline::Lf)]
}

#[test]
fn every_version_and_form_takes_the_rails_and_gives_them_back() {
    for version in VERSIONS.into_iter().chain([Version::R13, Version::R14]) {
        for (binary, newline) in forms() {
            let case = format!("{} {binary} {newline:?}", version.name());
            let before = users(version, binary, newline);
            for options in [GraftOptions::default(), GraftOptions { with_details: true, ..GraftOptions::default() }] {
                let after = grafted(&before, &options);
                assert_eq!(lint(&after), [], "{case}");
                assert!(strip(&after).unwrap().to_bytes(&after) == before, "{case}");
                assert!(grafted(&after, &options) == after, "{case}");
            }
        }
    }
}

/// Of a drawing by hand; `|` ends a line.
fn by_hand(text: &str) -> Vec<u8> {
    text.replace('|', "\n").into_bytes()
}

const LINE: &str = "0|LINE|8|0|10|0|20|0|11|1|21|1|";

#[test]
fn minimal_drawings_get_what_they_lack() {
    let only = format!("0|SECTION|2|ENTITIES|{LINE}0|ENDSEC|0|EOF|");
    let tables = "0|SECTION|2|TABLES|0|TABLE|2|LAYER|70|     1|0|LAYER|2|0|70|0|62|7|6|CONTINUOUS|0|ENDTAB|0|ENDSEC|";
    let header = "0|SECTION|2|HEADER|9|$ACADVER|1|AC1009|0|ENDSEC|";
    for text in [
        only.clone(),
        format!("999|made by hand|{only}"),
        format!("{header}{only}"),
        format!("{tables}{only}"),
        format!("{header}{tables}0|SECTION|2|BLOCKS|0|ENDSEC|{only}"),
        format!("{header}0|SECTION|2|TABLES|0|ENDSEC|{only}"),
    ] {
        let before = by_hand(&text);
        let after = grafted(&before, &GraftOptions::default());
        let text = String::from_utf8_lossy(&after).into_owned();
        assert_eq!(lint(&after), [], "{text}");
        assert!(!text.contains("HANDSEED"), "a file without handles needs no seed");
        assert_eq!(
            String::from_utf8(strip(&after).unwrap().to_bytes(&after)).unwrap(),
            String::from_utf8(before).unwrap()
        );
        assert!(grafted(&after, &GraftOptions::default()) == after);
    }
}
