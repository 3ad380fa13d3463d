//! The values of the built-in rule sets against the codes, one row a limit. Each row names the section in which the code has
//! the value; how surely that is known is in the set's file.

use super::{Circumstances, CountKind, Exact, GuardPlace, LimitKind, LoadKind, LoadUnit, RuleSet, Use};
use crate::base::Length;
use crate::catalog::{builtin_rules, rule_file_named};

/// A case in words, one for each condition that is stated.
fn case(words: &str) -> Circumstances {
    let mut case = Circumstances::default();
    for word in words.split(", ").filter(|word| !word.is_empty()) {
        match word {
            "dwelling" => case.usage = Some(Use::Dwelling),
            "other" => case.usage = Some(Use::Other),
            "balcony" => case.place = Some(GuardPlace::Balcony),
            "floor" => case.place = Some(GuardPlace::Floor),
            "no fives" => case.under_fives = Some(false),
            drop => case.drop = Some(Length::parse(drop, None).unwrap()),
        }
    }
    case
}

fn rules(set: &str, word: &str) -> RuleSet {
    rule_file_named(set).unwrap().resolve(&case(word)).unwrap()
}

/// Case, kind, value (`-`: no limit) and section.
type Row = (&'static str, &'static str, &'static str, &'static str);

/// Guards and stairs of the IRC 2021; 2018 has the same numbers in the same sections.
const IRC: [Row; 22] = [
    ("", "guard-needed-above", "30in", "R312.1.1"),
    ("", "guard-needed-within", "36in", "R312.1.1"),
    ("", "guard-height", "36in", "R312.1.2"),
    ("", "opening", "4in", "R312.1.3"),
    ("", "stair-guard-height", "34in", "R312.1.2 exception 1"),
    ("", "stair-opening", "4-3/8in", "R312.1.3 exception 2"),
    ("", "stair-triangle", "6in", "R312.1.3 exception 1"),
    ("", "riser-height", "7-3/4in", "R311.7.5.1"),
    ("", "riser-variation", "3/8in", "R311.7.5.1"),
    ("", "tread-depth", "10in", "R311.7.5.2"),
    ("", "tread-variation", "3/8in", "R311.7.5.2"),
    ("", "nosing-min", "3/4in", "R311.7.5.3"),
    ("", "nosing-max", "1-1/4in", "R311.7.5.3"),
    ("", "nosing-free-tread", "11in", "R311.7.5.3 exception"),
    ("", "handrail-height-min", "34in", "R311.7.8.1"),
    ("", "handrail-height-max", "38in", "R311.7.8.1"),
    ("", "handrail-clearance", "1-1/2in", "R311.7.8.3"),
    ("", "handrail-diameter-min", "1-1/4in", "R311.7.8.5"),
    ("", "handrail-diameter-max", "2in", "R311.7.8.5"),
    ("", "handrail-perimeter-min", "4in", "R311.7.8.5"),
    ("", "handrail-perimeter-max", "6-1/4in", "R311.7.8.5"),
    ("", "handrail-section-max", "2-1/4in", "R311.7.8.5"),
];

/// The 2024 edition moved the sections and kept the numbers.
const IRC_2024: [Row; 22] = [
    ("", "guard-needed-above", "30in", "R321.1.1"),
    ("", "guard-height", "36in", "R321.1.2"),
    ("", "opening", "4in", "R321.1.3"),
    ("", "stair-guard-height", "34in", "R321.1.2 exception 1"),
    ("", "stair-opening", "4-3/8in", "R321.1.3 exception 2"),
    ("", "stair-triangle", "6in", "R321.1.3 exception 1"),
    ("", "riser-height", "7-3/4in", "R318.7.5.1"),
    ("", "tread-depth", "10in", "R318.7.5.2"),
    ("", "nosing-min", "3/4in", "R318.7.5.3"),
    ("", "nosing-free-tread", "11in", "R318.7.5.3 exception 1"),
    ("", "handrail-height-min", "34in", "R320.2"),
    ("", "handrail-height-max", "38in", "R320.2"),
    ("", "handrail-clearance", "1-1/2in", "R320.4"),
    ("", "handrail-diameter-min", "1-1/4in", "R320.6"),
    ("", "handrail-diameter-max", "2in", "R320.6"),
    ("", "guard-needed-within", "36in", "R321.1.1"),
    ("", "riser-variation", "3/8in", "R318.7.5.1"),
    ("", "tread-variation", "3/8in", "R318.7.5.2"),
    ("", "nosing-max", "1-1/4in", "R318.7.5.3"),
    ("", "handrail-perimeter-min", "4in", "R320.6"),
    ("", "handrail-perimeter-max", "6-1/4in", "R320.6"),
    ("", "handrail-section-max", "2-1/4in", "R320.6"),
];

/// 2018 and 2021 have the same numbers in the same sections.
const IBC: [Row; 41] = [
    ("", "guard-needed-above", "30in", "1015.2"),
    ("", "guard-height", "42in", "1015.3"),
    ("dwelling", "guard-height", "36in", "1015.3 exception 1"),
    ("other", "guard-height", "42in", "1015.3"),
    ("", "stair-guard-height", "42in", "1015.3"),
    ("dwelling", "stair-guard-height", "34in", "1015.3 exception 2"),
    ("other", "stair-guard-height", "42in", "1015.3"),
    ("other", "opening", "4in", "1015.4"),
    ("", "opening-above", "4-3/8in", "1015.4 exception 1"),
    ("", "stair-opening", "4in", "1015.4"),
    ("dwelling", "stair-opening", "4-3/8in", "1015.4 exception 6"),
    ("other", "stair-opening", "4in", "1015.4"),
    ("", "stair-triangle", "6in", "1015.4 exception 2"),
    ("", "riser-height", "7in", "1011.5.2"),
    ("dwelling", "riser-height", "7-3/4in", "1011.5.2 exception 3"),
    ("other", "riser-height", "7in", "1011.5.2"),
    ("", "riser-height-min", "4in", "1011.5.2"),
    ("dwelling", "riser-height-min", "-", ""),
    ("", "tread-depth", "11in", "1011.5.2"),
    ("dwelling", "tread-depth", "10in", "1011.5.2 exception 3"),
    ("other", "tread-depth", "11in", "1011.5.2"),
    ("", "riser-variation", "3/8in", "1011.5.4"),
    ("", "tread-variation", "3/8in", "1011.5.4"),
    ("", "nosing-max", "1-1/4in", "1011.5.5.1"),
    ("", "nosing-min", "3/4in", "1011.5.2 exception 3"),
    ("other", "nosing-min", "-", ""),
    ("", "nosing-free-tread", "11in", "1011.5.2 exception 3"),
    ("", "handrail-extension-top", "12in", "1014.6"),
    ("other", "handrail-extension-top", "12in", "1014.6"),
    ("dwelling", "handrail-extension-top", "0in", "1014.6 exception 1"),
    ("", "handrail-extension-bottom", "11in", "1014.6"),
    ("dwelling", "handrail-extension-bottom", "0in", "1014.6 exception 1"),
    ("", "handrail-height-min", "34in", "1014.2"),
    ("", "handrail-height-max", "38in", "1014.2"),
    ("", "handrail-clearance", "1-1/2in", "1014.7"),
    ("", "handrail-diameter-min", "1-1/4in", "1014.3.1"),
    ("", "handrail-diameter-max", "2in", "1014.3.1"),
    ("", "handrail-perimeter-min", "4in", "1014.3.1"),
    ("", "handrail-perimeter-max", "6-1/4in", "1014.3.1"),
    ("", "handrail-section-max", "2-1/4in", "1014.3.1"),
    ("", "guard-needed-within", "36in", "1015.2"),
];

const OTHERS: [(&str, &[Row]); 8] = [
    (
        "california-residential",
        &[
            ("", "guard-needed-above", "30in", "R312.1.1"),
            ("", "guard-height", "42in", "R312.1.2"),
            ("", "stair-guard-height", "34in", "R312.1.2 exception 1"),
            ("", "opening", "4in", "R312.1.3"),
            ("", "stair-opening", "4-3/8in", "R312.1.3 exception 2"),
            ("", "stair-triangle", "6in", "R312.1.3 exception 1"),
            ("", "riser-height", "7-3/4in", "R311.7.5.1"),
            ("", "tread-depth", "10in", "R311.7.5.2"),
            ("", "nosing-min", "3/4in", "R311.7.5.3"),
            ("", "nosing-max", "1-1/4in", "R311.7.5.3"),
            ("", "handrail-height-min", "34in", "R311.7.8.1"),
            ("", "handrail-height-max", "38in", "R311.7.8.1"),
            ("", "handrail-clearance", "1-1/2in", "R311.7.8.3"),
            ("", "handrail-diameter-max", "2in", "R311.7.8.5"),
            ("", "handrail-section-max", "2-1/4in", "R311.7.8.5"),
            ("", "guard-needed-within", "36in", "R312.1.1"),
            ("", "riser-variation", "3/8in", "R311.7.5.1"),
            ("", "tread-variation", "3/8in", "R311.7.5.2"),
            ("", "nosing-free-tread", "11in", "R311.7.5.3 exception"),
            ("", "handrail-diameter-min", "1-1/4in", "R311.7.8.5"),
            ("", "handrail-perimeter-min", "4in", "R311.7.8.5"),
            ("", "handrail-perimeter-max", "6-1/4in", "R311.7.8.5"),
        ],
    ),
    (
        "ada-2010",
        &[
            ("", "guard-height", "-", ""),
            ("", "opening", "-", ""),
            ("", "handrail-height-min", "34in", "505.4"),
            ("", "handrail-height-max", "38in", "505.4"),
            ("", "handrail-diameter-min", "1-1/4in", "505.7.1"),
            ("", "handrail-diameter-max", "2in", "505.7.1"),
            ("", "handrail-perimeter-min", "4in", "505.7.2"),
            ("", "handrail-perimeter-max", "6-1/4in", "505.7.2"),
            ("", "handrail-section-max", "2-1/4in", "505.7.2"),
            ("", "handrail-extension-top", "12in", "505.10.2"),
            ("", "handrail-extension-bottom", "11in", "505.10.3"),
            ("", "handrail-clearance", "1-1/2in", "505.5"),
        ],
    ),
    (
        // 42 in, plus or minus 3 in.
        "osha-1910",
        &[
            ("", "guard-needed-above", "4ft", "1910.28(b)(1)(i)"),
            ("", "guard-height", "39in", "1910.29(b)(1)"),
            ("", "stair-guard-height", "42in", "1910.29(f)(1)(ii)(B)"),
            ("", "opening", "19in", "1910.29(b)(2)(iii)-(iv)"),
            ("", "stair-opening", "19in", "1910.29(f)(4)"),
            ("", "riser-height", "9.5in", "1910.25(c)(2)"),
            ("", "tread-depth", "9.5in", "1910.25(c)(3)"),
            ("", "handrail-height-min", "30in", "1910.29(f)(1)(i)"),
            ("", "handrail-height-max", "38in", "1910.29(f)(1)(i)"),
            ("", "handrail-clearance", "2.25in", "1910.29(f)(2)"),
        ],
    ),
    (
        "canada-nbc",
        &[
            ("", "guard-needed-above", "600mm", "9.8.8.1.(1)(a)"),
            ("", "guard-needed-within", "1200mm", "9.8.8.1.(1)(b)"),
            ("", "guard-height", "1070mm", "9.8.8.3.(1)"),
            ("1800mm", "guard-height", "1070mm", "9.8.8.3.(1)"),
            ("floor", "guard-height", "1070mm", "9.8.8.3.(1)"),
            ("dwelling", "guard-height", "1070mm", "9.8.8.3.(1)"),
            ("dwelling, balcony, 1800mm", "guard-height", "900mm", "9.8.8.3.(3)"),
            ("dwelling, balcony, 1801mm", "guard-height", "1070mm", "9.8.8.3.(1)"),
            ("dwelling, floor", "guard-height", "900mm", "9.8.8.3.(2)"),
            ("other", "guard-height", "1070mm", "9.8.8.3.(1)"),
            ("", "stair-guard-height", "900mm", "9.8.8.3.(4)"),
            ("", "opening", "100mm", "9.8.8.5.(1)"),
            ("", "stair-triangle", "150mm", "9.8.8.5.(3)"),
            ("", "climb-free-from", "140mm", "9.8.8.6.(1)"),
            ("", "climb-free-to", "900mm", "9.8.8.6.(1)"),
            ("4.2m", "climb-free-to", "-", ""),
            ("4201mm", "climb-free-to", "900mm", "9.8.8.6.(1)"),
            ("", "riser-height", "180mm", "9.8.4.1"),
            ("dwelling", "riser-height", "200mm", "9.8.4.1"),
            ("", "tread-depth", "280mm", "9.8.4.2"),
            ("dwelling", "tread-depth", "255mm", "9.8.4.2"),
            ("", "riser-variation", "10mm", "9.8.4.4"),
            ("", "tread-variation", "10mm", "9.8.4.4"),
            ("", "nosing-max", "25mm", "9.8.4.2.(2)"),
            ("", "handrail-extension-top", "300mm", "9.8.7.3.(2)"),
            ("other", "handrail-extension-bottom", "300mm", "9.8.7.3.(2)"),
            ("dwelling", "handrail-extension-top", "-", ""),
            ("", "riser-height-min", "125mm", "9.8.4.1"),
            ("", "handrail-height-min", "865mm", "9.8.7.4.(2)"),
            ("", "handrail-height-max", "1070mm", "9.8.7.4.(2)"),
            ("", "handrail-clearance", "50mm", "9.8.7.5.(1)"),
        ],
    ),
    (
        "england-k",
        &[
            ("", "guard-needed-above", "380mm", "3.1"),
            ("dwelling", "guard-needed-above", "600mm", "1.41"),
            ("", "guard-height", "1100mm", "Diagram 3.1"),
            ("floor", "guard-height", "1100mm", "Diagram 3.1"),
            ("dwelling", "guard-height", "1100mm", "Diagram 3.1"),
            ("dwelling, floor", "guard-height", "900mm", "Diagram 3.1"),
            ("other", "guard-height", "1100mm", "Diagram 3.1"),
            ("", "stair-guard-height", "900mm", "Diagram 3.1"),
            ("", "opening", "100mm", "3.3 a"),
            ("", "stair-opening", "100mm", "1.39"),
            ("", "climb-free-to", "1100mm", "3.3 b"),
            ("no fives", "opening", "-", ""),
            ("no fives", "climb-free-to", "-", ""),
            ("", "riser-height", "170mm", "Table 1.1"),
            ("dwelling", "riser-height", "220mm", "Table 1.1"),
            ("", "handrail-extension-top", "300mm", "1.36"),
            ("other", "handrail-extension-bottom", "300mm", "1.36"),
            ("dwelling", "handrail-extension-top", "-", ""),
            ("", "climb-free-from", "0mm", "3.3 b"),
            ("no fives", "climb-free-from", "-", ""),
            ("", "stair-triangle", "100mm", "3.3 a"),
            ("no fives", "stair-triangle", "-", ""),
            ("", "riser-height-min", "150mm", "Table 1.1"),
            ("", "tread-depth", "250mm", "Table 1.1"),
            ("dwelling", "tread-depth", "220mm", "Table 1.1"),
            ("other", "tread-depth", "250mm", "Table 1.1"),
            ("", "handrail-height-min", "900mm", "1.34-1.36"),
            ("", "handrail-height-max", "1000mm", "1.34-1.36"),
        ],
    ),
    (
        "australia-ncc",
        &[
            ("", "guard-needed-above", "1m", "D3D17; 11.3.3"),
            ("", "guard-height", "1m", "D3D18(1); 11.3.4(2)"),
            ("", "stair-guard-height", "865mm", "D3D18(1); 11.3.4(2)"),
            ("", "opening", "125mm", "D3D19; 11.3.4"),
            ("", "climb-free-from", "150mm", "D3D20; 11.3.4"),
            ("", "climb-free-to", "760mm", "D3D20; 11.3.4"),
            ("4m", "climb-free-to", "-", ""),
            ("", "riser-height", "190mm", "D3D14; 11.2.2"),
            ("", "riser-height-min", "115mm", "D3D14; 11.2.2"),
            ("", "tread-depth", "250mm", "D3D14"),
            ("dwelling", "tread-depth", "240mm", "11.2.2"),
            ("", "riser-variation", "10mm", "D3D14(1)(c)"),
            ("", "tread-variation", "10mm", "D3D14(1)(c)"),
            ("", "stair-opening", "125mm", "D3D19; 11.3.4"),
            ("", "handrail-height-min", "865mm", "D3D22(1)(d); 11.3.5"),
        ],
    ),
    (
        "newzealand-f4",
        &[
            ("", "guard-needed-above", "1m", "F4.3.1"),
            ("", "guard-height", "1100mm", "F4/AS1 1.1 Table 1"),
            ("dwelling", "guard-height", "1m", "F4/AS1 1.1 Table 1"),
            ("", "stair-guard-height", "900mm", "F4/AS1 1.1 Table 1"),
            ("", "opening", "100mm", "F4/AS1 1.2 b"),
            ("", "stair-triangle", "150mm", "F4/AS1 1.2 c"),
            ("", "climb-free-from", "150mm", "F4/AS1 1.2 a"),
            ("", "climb-free-to", "760mm", "F4/AS1 1.2 a"),
            ("", "riser-height", "190mm", "D1/AS1 Table 6"),
            ("", "tread-depth", "280mm", "D1/AS1 Table 6"),
            ("", "handrail-height-min", "900mm", "D1/AS1 6.0"),
            ("", "handrail-height-max", "1000mm", "D1/AS1 6.0"),
            ("", "guard-needed-within", "1200mm", "Determination 2008/81"),
            ("", "stair-opening", "100mm", "F4/AS1 1.2 b"),
        ],
    ),
    (
        "france-nf-p01-012",
        &[
            ("", "guard-needed-above", "1m", "domain of use"),
            ("", "guard-height", "1m", "protection height"),
            ("", "stair-guard-height", "900mm", "protection height"),
            ("", "opening", "110mm", "vertical members"),
            ("", "horizontal-opening", "180mm", "horizontal members"),
            ("", "climb-free-from", "0mm", "horizontal members"),
            ("", "climb-free-to", "450mm", "horizontal members"),
            ("", "stair-opening", "110mm", "vertical members"),
        ],
    ),
];

#[test]
fn every_value_is_that_of_its_code() {
    let sets = [
        ("irc-2018", IRC.as_slice()),
        ("irc-2021", IRC.as_slice()),
        ("irc-2024", IRC_2024.as_slice()),
        ("ibc-2018", IBC.as_slice()),
        ("ibc-2021", IBC.as_slice()),
    ];
    let mut seen = 0;
    for (set, rows) in sets.into_iter().chain(OTHERS) {
        seen += 1;
        for (word, kind, value, section) in rows {
            let what = *LimitKind::ALL.iter().find(|k| k.text() == *kind).unwrap();
            let rules = rules(set, word);
            let found = rules.limit(what).map(|l| (l.value, l.section.as_str()));
            let asked = (*value != "-").then(|| (Length::parse(value, None).unwrap(), *section));
            assert_eq!(found, asked, "{set}, case `{word}`: {kind}");
        }
    }
    assert_eq!(seen, builtin_rules().len());
}

/// A sphere "must not pass" at its own size; "not more than" passes at it: 29 CFR 1910.29(b)(2) and NF P01-012. A fall of
/// "1 m or more" needs a guard at 1 m: NCC P2.5.2, NZBC F4.3.1; "more than 30 in" does not: R312.1.1.
#[test]
fn exactly_the_limit_passes_where_the_code_says_not_more_than() {
    for (name, _) in builtin_rules() {
        let rules = rules(name, "");
        let passing = ["osha-1910", "france-nf-p01-012"].contains(name);
        for kind in [LimitKind::Opening, LimitKind::StairOpening] {
            let asked = if passing { Exact::Passes } else { Exact::Fails };
            assert!(rules.limit(kind).is_none_or(|l| l.exact == asked), "{name}: {}", kind.text());
        }
        let from = ["australia-ncc", "newzealand-f4", "france-nf-p01-012", "osha-1910"].contains(name);
        let asked = if from { Exact::Fails } else { Exact::Passes };
        assert!(rules.limit(LimitKind::GuardNeededAbove).is_none_or(|l| l.exact == asked), "{name}");
    }
    let above = rules("ibc-2021", "");
    assert_eq!(above.limit(LimitKind::OpeningAbove).unwrap().from, Some(Length::INCH * 36));
    let zone = rules("france-nf-p01-012", "");
    assert_eq!(zone.limit(LimitKind::HorizontalOpening).unwrap().from, Length::from_millimetres(450.0));
}

/// R311.7.8: from four risers on, one side; IBC 1011.11: each flight, both sides but in dwellings; ADA 504.6 and 505.2:
/// each stair, both sides; OSHA 1910.28 Table D-2: both sides but of narrow flights beside a wall; NBC 9.8.7.1: in dwellings
/// one side, from three risers on inside and from four on outside; Approved Document K 1.34 and 1.36.
#[test]
fn handrails_are_counted_as_the_codes_do() {
    let counts = |set, word| {
        let rules = rules(set, word);
        let of = |kind| rules.count(kind).map(|c| c.value);
        (of(CountKind::HandrailFromRisers), of(CountKind::HandrailSides))
    };
    for irc in ["irc-2018", "irc-2021", "irc-2024"] {
        assert_eq!(counts(irc, ""), (Some(4), Some(1)), "{irc}");
    }
    assert_eq!(counts("california-residential", ""), (Some(4), Some(1)));
    for ibc in ["ibc-2018", "ibc-2021"] {
        assert_eq!(counts(ibc, ""), (Some(1), Some(2)));
        assert_eq!(counts(ibc, "dwelling"), (Some(1), Some(1)));
        assert_eq!(counts(ibc, "other"), (Some(1), Some(2)));
    }
    assert_eq!(counts("ada-2010", ""), (Some(1), Some(2)));
    assert_eq!(counts("osha-1910", ""), (Some(4), Some(2)));
    assert_eq!(counts("canada-nbc", ""), (Some(1), Some(2)));
    assert_eq!(counts("canada-nbc", "dwelling"), (Some(3), Some(1)));
    assert_eq!(counts("canada-nbc", "dwelling, balcony"), (Some(4), Some(1)));
    assert_eq!(counts("england-k", ""), (None, Some(2)));
    assert_eq!(counts("england-k", "dwelling"), (None, Some(1)));
    assert_eq!(counts("australia-ncc", ""), (Some(2), Some(1)));
}

/// Table R301.5 (200 lb, 50 lb); IBC 2021 1607.9.1 and 2018 1607.8.1 (50 plf but in dwellings); 1910.29(b)(3), (5); NBC
/// Table 9.8.8.2; BS 6180 (0.36 inside, 0.74 on balconies).
#[test]
fn loads_are_those_of_the_codes() {
    let load = |set, word, kind| rules(set, word).load(kind).map(|l| (l.value, l.unit, l.section.clone()));
    let pounds = |value: f64, section: &str| Some((value, LoadUnit::Pounds, section.to_owned()));
    assert_eq!(load("irc-2021", "", LoadKind::TopConcentrated), pounds(200.0, "Table R301.5"));
    assert_eq!(load("irc-2021", "", LoadKind::Infill), pounds(50.0, "Table R301.5"));
    assert_eq!(load("ibc-2021", "dwelling", LoadKind::TopLine), None);
    let line = (50.0, LoadUnit::PoundsPerFoot);
    for word in ["", "other"] {
        assert_eq!(load("ibc-2021", word, LoadKind::TopLine), Some((line.0, line.1, "1607.9.1".to_owned())));
    }
    assert_eq!(load("ibc-2018", "other", LoadKind::TopLine), Some((line.0, line.1, "1607.8.1".to_owned())));
    assert_eq!(load("osha-1910", "", LoadKind::TopConcentrated), pounds(200.0, "1910.29(b)(3)"));
    assert_eq!(load("osha-1910", "", LoadKind::Infill), pounds(150.0, "1910.29(b)(5)"));
    let metric = |value, section: &str| Some((value, LoadUnit::KilonewtonsPerMetre, section.to_owned()));
    assert_eq!(load("canada-nbc", "", LoadKind::TopLine), metric(0.75, "Table 9.8.8.2"));
    assert_eq!(load("canada-nbc", "dwelling", LoadKind::TopLine), metric(0.5, "Table 9.8.8.2"));
    assert_eq!(load("england-k", "", LoadKind::TopLine), metric(0.74, "BS 6180"));
    assert_eq!(load("england-k", "dwelling, floor", LoadKind::TopLine), metric(0.36, "BS 6180"));
}

/// Each value says in plain words where it was read.
#[test]
fn every_entry_has_a_section_and_a_source() {
    for (name, _) in builtin_rules() {
        let file = rule_file_named(name).unwrap();
        let limits = file.limits.iter().map(|e| (&e.section, &e.source));
        let counts = file.counts.iter().map(|e| (&e.section, &e.source));
        let loads = file.loads.iter().map(|e| (&e.section, &e.source));
        for (section, source) in limits.chain(counts).chain(loads) {
            assert!(!section.is_empty() && source.len() > 20, "{name}: {section}: {source}");
            assert!(!source.contains("://") && !source.contains("www."), "{name}: {source}");
        }
    }
}
