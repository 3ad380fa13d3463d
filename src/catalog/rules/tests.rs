//! Cases, files over files, and what is refused.

use super::{Circumstances, CountKind, Exact, LimitKind, LoadKind, RuleFile, RuleKind, RuleSet, Use};
use crate::base::Length;
use crate::catalog::{read_rule_file, rule_file_named, rules_named};

fn entry(what: &str, value: &str, more: &str) -> String {
    format!(
        "[[limit]]\nwhat = \"{what}\"\nvalue = \"{value}\"\n{more}\nsection = \"of {value}\"\nevidence = \"memory\"\n\
         source = \"none\"\n"
    )
}

fn text(head: &str, entries: &[(&str, &str, &str)]) -> String {
    let entries: String = entries.iter().map(|(what, value, more)| entry(what, value, more)).collect();
    format!("name = \"own\"\ntitle = \"Own\"\n{head}\n{entries}")
}

fn file(head: &str, entries: &[(&str, &str, &str)]) -> RuleFile {
    read_rule_file(&text(head, entries), "own.toml").unwrap()
}

fn refused(head: &str, entries: &[(&str, &str, &str)]) -> String {
    let read = read_rule_file(&text(head, entries), "own.toml");
    read.and_then(|file| file.resolve(&Circumstances::default())).unwrap_err().to_string()
}

fn value(rules: &RuleSet, kind: LimitKind) -> Option<Length> {
    rules.limit(kind).map(|l| l.value)
}

fn mm(length: f64) -> Option<Length> {
    Length::from_millimetres(length)
}

/// The names that messages and tests use are those that files use.
#[test]
fn kinds_have_the_names_of_the_files() {
    let name = |kind: RuleKind| serde_json::to_value(kind).unwrap();
    for kind in LimitKind::ALL {
        assert_eq!(name(RuleKind::Limit(*kind)), kind.text());
    }
    for kind in CountKind::ALL {
        assert_eq!(name(RuleKind::Count(*kind)), kind.text());
    }
    for kind in LoadKind::ALL {
        assert_eq!(name(RuleKind::Load(*kind)), kind.text());
    }
}

#[test]
fn the_entry_with_most_conditions_holds() {
    let file = file(
        "",
        &[
            ("guard-height", "900mm", "use = \"dwelling\"\nplace = \"balcony\""),
            ("guard-height", "1000mm", "use = \"dwelling\""),
            ("guard-height", "1100mm", ""),
            ("opening", "100mm", "under-fives = true"),
            ("opening", "120mm", "use = \"other\"\nunder-fives = false"),
        ],
    );
    let of = |text: &str| file.resolve(&toml::from_str(text).unwrap()).unwrap();
    let dwelling = |more: &str| of(&format!("use = \"dwelling\"\n{more}"));
    assert_eq!(value(&dwelling("place = \"balcony\""), LimitKind::GuardHeight), mm(900.0));
    assert_eq!(value(&dwelling("place = \"floor\""), LimitKind::GuardHeight), mm(1000.0));
    assert_eq!(value(&of("use = \"other\""), LimitKind::GuardHeight), mm(1100.0));
    assert_eq!(value(&of("under-fives = true"), LimitKind::Opening), mm(100.0));
    assert_eq!(value(&dwelling("under-fives = false"), LimitKind::Opening), None);
    assert_eq!(value(&of("use = \"other\"\nunder-fives = false"), LimitKind::Opening), mm(120.0));
}

/// Whichever condition is not stated, the strictest of what it could bring about. An exception holds where each case that
/// is left open and has what it is an exception to has the exception as well.
#[test]
fn of_what_is_not_stated_the_strictest_is_taken() {
    let file = file(
        "",
        &[
            ("guard-height", "900mm", "use = \"dwelling\""),
            ("guard-height", "1100mm", "use = \"other\""),
            ("riser-height", "200mm", "place = \"balcony\""),
            ("riser-height", "180mm", "place = \"floor\""),
            ("opening", "100mm", "under-fives = true"),
            ("opening", "120mm", "place = \"floor\"\nunder-fives = false"),
            ("stair-opening", "110mm", "under-fives = true"),
            ("stair-triangle", "150mm", "use = \"dwelling\""),
            ("nosing-min", "20mm", "use = \"dwelling\""),
            ("nosing-free-tread", "280mm", "use = \"dwelling\""),
        ],
    );
    let kinds = [
        LimitKind::GuardHeight,
        LimitKind::RiserHeight,
        LimitKind::Opening,
        LimitKind::StairOpening,
        LimitKind::StairTriangle,
        LimitKind::NosingFreeTread,
    ];
    for (case, values, open) in [
        ("", [1100.0, 180.0, 100.0, 0.0, 0.0, 280.0], 3),
        ("use = \"dwelling\"", [900.0, 180.0, 100.0, 0.0, 150.0, 280.0], 2),
        ("use = \"other\"", [1100.0, 180.0, 100.0, 0.0, 0.0, 0.0], 2),
        ("place = \"balcony\"", [1100.0, 200.0, 100.0, 110.0, 0.0, 280.0], 2),
        ("under-fives = true", [1100.0, 180.0, 100.0, 110.0, 0.0, 280.0], 2),
        ("under-fives = false", [1100.0, 180.0, 120.0, 0.0, 0.0, 280.0], 2),
        ("use = \"dwelling\"\nplace = \"balcony\"\nunder-fives = false", [900.0, 200.0, 0.0, 0.0, 150.0, 280.0], 0),
    ] {
        let rules = file.resolve(&toml::from_str(case).unwrap()).unwrap();
        let found = kinds.map(|kind| value(&rules, kind));
        assert_eq!(found, values.map(|v| mm(v).filter(|v| *v > Length::ZERO)), "{case}");
        assert_eq!(rules.assumed.len(), open, "{case}");
    }
}

/// 40 plf are 584 N/m: less than 0.6 kN/m, although the number is larger.
#[test]
fn the_strictest_load_is_told_whatever_its_unit() {
    let load = |value: &str, usage: &str| {
        format!(
            "[[load]]\nwhat = \"top-line\"\n{value}\nuse = \"{usage}\"\nsection = \"{usage}\"\nevidence = \"memory\"\n\
             source = \"none\"\n"
        )
    };
    let text = text("", &[("guard-height", "36in", "")])
        + &load("value = 40\nunit = \"plf\"", "other")
        + &load("value = 0.6\nunit = \"kN/m\"", "dwelling");
    let rules = read_rule_file(&text, "own.toml").unwrap().resolve(&Circumstances::default()).unwrap();
    assert_eq!(rules.load(LoadKind::TopLine).map(|l| l.section.as_str()), Some("dwelling"));
}

/// Limits that fit together in each case may not do so as the strictest of two: then the case has to be stated.
#[test]
fn what_contradicts_itself_only_where_the_case_is_open_is_told_to_state_it() {
    let entries = [("riser-height-min", "190mm", "use = \"other\""), ("riser-height", "180mm", "use = \"dwelling\"")];
    let file = file("", &entries);
    let error = file.resolve(&Circumstances::default()).unwrap_err();
    assert!(error.to_string().contains("riser-height-min of 190mm"), "{error}");
    let hint = error.hint.unwrap();
    assert!(hint.contains("[rule-case]: use = \"dwelling\" or \"other\""), "{hint}");
    let stated = Circumstances { usage: Some(Use::Other), ..Circumstances::default() };
    assert_eq!(value(&file.resolve(&stated).unwrap(), LimitKind::RiserHeight), None);
}

/// Of what an unknown drop could bring about, the strictest: the higher guard, the smaller sphere, the lower drop; and
/// where an exception could hold or not, none.
#[test]
fn an_unknown_drop_takes_the_strictest_value() {
    let file = file(
        "",
        &[
            ("guard-height", "900mm", ""),
            ("guard-height", "1000mm", "drop-over = \"3m\"\ndrop-up-to = \"12m\""),
            ("guard-height", "950mm", "drop-over = \"12m\""),
            ("opening", "125mm", ""),
            ("opening", "100mm", "drop-over = \"1m\""),
            ("stair-opening", "110mm", "drop-up-to = \"1m\""),
            ("climb-free-from", "150mm", "drop-over = \"4m\""),
            ("riser-height", "180mm", "drop-over = \"4m\""),
        ],
    );
    let of = |drop: Option<f64>| {
        let case = Circumstances { drop: drop.and_then(Length::from_millimetres), ..Circumstances::default() };
        let rules = file.resolve(&case).unwrap();
        let kinds = [LimitKind::GuardHeight, LimitKind::Opening, LimitKind::StairOpening, LimitKind::ClimbFreeFrom];
        (kinds.map(|kind| value(&rules, kind)), rules.assumed.len())
    };
    assert_eq!(of(None), ([mm(1000.0), mm(100.0), None, mm(150.0)], 1));
    assert_eq!(of(Some(1000.0)), ([mm(900.0), mm(125.0), mm(110.0), None], 0));
    assert_eq!(of(Some(12000.0)).0, [mm(1000.0), mm(100.0), None, mm(150.0)]);
    assert_eq!(of(Some(12000.1)).0, [mm(950.0), mm(100.0), None, mm(150.0)]);
}

/// What was taken is said, with what hangs on it; what is stated, or decides nothing, is not.
#[test]
fn what_is_taken_is_told() {
    assert_eq!(rules_named("irc-2021").unwrap().assumption(), None);
    let told = rules_named("canada-nbc").unwrap().assumption().unwrap();
    let taken = "use of the building, of which the strictest is taken (guard-height, riser-height";
    for words in [taken, "place of the guard, of which the strictest", "drop, of which the strictest", "canada-nbc"] {
        assert!(told.message.contains(words), "{}", told.message);
    }
    assert!(told.hint.unwrap().contains("[rule-case]: use = \"dwelling\" or \"other\", place"));
    let stated = Circumstances { usage: Some(Use::Other), ..Circumstances::default() };
    assert_eq!(rule_file_named("ibc-2021").unwrap().resolve(&stated).unwrap().assumption(), None);
}

/// A kind that the file states replaces all of that kind, whatever the conditions were.
#[test]
fn a_file_over_another_changes_only_what_it_states() {
    let own = file(
        "based-on = \"ibc-2021\"\nremove = [\"stair-triangle\", \"handrail-sides\", \"infill\"]",
        &[("guard-height", "48in", "")],
    );
    let base = rule_file_named("ibc-2021").unwrap();
    let before = base.resolve(&Circumstances::default()).unwrap();
    let rules = own.over(base).unwrap().resolve(&Circumstances::default()).unwrap();
    assert_eq!((rules.name.as_str(), rules.title.as_str()), ("own", "Own"));
    assert_eq!(value(&rules, LimitKind::GuardHeight), Some(Length::INCH * 48));
    assert_eq!(value(&rules, LimitKind::StairTriangle), None);
    assert!(rules.count(CountKind::HandrailSides).is_none() && rules.load(LoadKind::Infill).is_none());
    for limit in &before.limits {
        if ![LimitKind::GuardHeight, LimitKind::StairTriangle].contains(&limit.what) {
            assert_eq!(rules.limit(limit.what), Some(limit));
        }
    }
}

#[test]
fn a_chain_of_files_is_laid_over_one_by_one() {
    let first = file("based-on = \"middle.toml\"", &[("opening", "3in", "")]);
    let middle = file("based-on = \"irc-2021\"\nremove = [\"stair-opening\"]", &[("opening", "3-1/2in", "")]);
    let base = middle.over(rule_file_named("irc-2021").unwrap()).unwrap();
    assert_eq!(base.based_on, None);
    let rules = first.over(base).unwrap().resolve(&Circumstances::default()).unwrap();
    assert_eq!(value(&rules, LimitKind::Opening), Some(Length::INCH * 3));
    assert_eq!(value(&rules, LimitKind::StairOpening), None);
    assert_eq!(rules.limit(LimitKind::Opening).unwrap().exact, Exact::Fails);
}

#[test]
fn removing_what_is_not_there_is_refused() {
    let own = file("based-on = \"ada-2010\"\nremove = [\"opening\"]", &[]);
    let error = own.over(rule_file_named("ada-2010").unwrap()).unwrap_err().to_string();
    assert_eq!(error, "it removes opening, which ada-2010 does not have");
}

#[test]
fn a_file_that_makes_no_sense_is_refused_with_its_entry() {
    let height = ("guard-height", "36in", "");
    for (head, entries, words) in [
        ("", vec![], "it states no limit"),
        ("remove = [\"opening\"]", vec![height], "there is none"),
        ("based-on = \"irc-2021\"", vec![height], "own is based on irc-2021, which is missing"),
        ("based-on = \"irc-2021\"\nremove = [\"guard-height\"]", vec![height], "removed and stated as well"),
        ("based-on = \"irc-2021\"\nremove = [\"guard-hight\"]", vec![height], "no limit, count or load of that name"),
        (
            "",
            vec![height, ("guard-height", "42in", "")],
            "guard-height, section of 42in: it limits what section of 36in",
        ),
        (
            "",
            vec![("opening", "4in", "use = \"dwelling\""), ("opening", "3in", "place = \"floor\"")],
            "under as many conditions",
        ),
        ("", vec![("opening", "0in", "")], "own.toml: opening, section of 0in: 0in is no value"),
        ("", vec![("guard-height", "-36in", "")], "-36in is no value"),
        ("", vec![("guard-height", "2000m", "")], "is no value"),
        ("", vec![("guard-height", "36in", "exact = \"fails\"")], "it has no `exact`"),
        ("", vec![("opening-above", "5in", "")], "it needs `from`"),
        ("", vec![("opening", "5in", "from = \"36in\"")], "it has no `from`"),
        ("", vec![("opening", "5in", "drop-over = \"3m\"\ndrop-up-to = \"3m\"")], "no drop is over"),
        ("", vec![("opening", "5in", "drop-over = \"-3m\"")], "negative"),
        ("", vec![("opening", "5in", "drop-above = \"3m\"")], "drop-above"),
        (
            "",
            vec![("handrail-height-min", "40in", ""), ("handrail-height-max", "38in", "")],
            "handrail-height-min of 40in (section of 40in) is more than handrail-height-max of 38in",
        ),
    ] {
        let error = refused(head, &entries);
        assert!(error.contains(words), "{error}\n{words}");
    }
}

#[test]
fn counts_and_loads_that_make_no_sense_are_refused() {
    let own = |entry: &str| {
        let end = "section = \"1\"\nevidence = \"memory\"\nsource = \"none\"\n";
        let text = format!("{}\n{entry}\n{end}", text("", &[("guard-height", "36in", "")]));
        read_rule_file(&text, "own.toml").unwrap_err().to_string()
    };
    for (entry, words) in [
        ("[[count]]\nwhat = \"handrail-sides\"\nvalue = 3", "handrail-sides, section 1: a flight has 1 or 2 sides"),
        ("[[count]]\nwhat = \"handrail-from-risers\"\nvalue = 0", "it counts from 1"),
        ("[[load]]\nwhat = \"top-line\"\nvalue = 50\nunit = \"lbf\"", "lbf is no unit for it: write plf or kN/m"),
        ("[[load]]\nwhat = \"infill\"\nvalue = 50\nunit = \"plf\"", "write lbf or kN"),
        ("[[load]]\nwhat = \"infill\"\nvalue = nan\nunit = \"kN\"", "NaN is no load"),
        ("[[load]]\nwhat = \"infill\"\nvalue = -1.5\nunit = \"kN\"", "-1.5 is no load"),
    ] {
        let error = own(entry);
        assert!(error.contains(words), "{error}\n{words}");
    }
}

#[test]
fn a_negative_drop_is_no_case() {
    let case = Circumstances { drop: mm(-1.0), ..Circumstances::default() };
    assert!(rule_file_named("irc-2021").unwrap().resolve(&case).is_err());
}
