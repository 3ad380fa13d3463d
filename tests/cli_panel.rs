//! `plumbrail panel`: one opening or one flight without a plan, everything that is printed.

use std::fs;

use plumbrail::sheet::CAUTIONS;
use serde_json::Value;

use crate::program::{expect, folder, names, run, run_in, same};

/// 87-1/4 in clear leaves a rail of 87 in: 19 balusters at 4-1/2 in, the first at 3, the last at 84; two blocks at 29 and
/// 58 (common practice). Cap screws: ceil(87/24) = 4 gaps of 21-3/4; the one at 43-1/2 would meet the baluster at 43-1/2
/// and stands in the middle of the gap before, at (39 + 43-1/2)/2 = 41-1/4.
const RAIL_OF_87: &str = r#"Composite rail, 36 in, round balusters (invented demo system)
Opening 87-1/4", rail 87", clearance 0.125 in and 0.125 in at the ends
19 balusters of 29", centred division at 4.5 in on centre; end gaps 2.75 in and 2.75 in, widest gap 3.75 in
Cut from: Composite panel kit 8 ft

Running marks from the rail's left end, left as seen from the deck looking out
 member        what                         marks
 bottom-rail   balusters, pilot 5/32in      3"  7-1/2"  12"  16-1/2"  21"  25-1/2"  30"  34-1/2"
                                            39"  43-1/2"  48"  52-1/2"  57"  61-1/2"  66"  70-1/2"
                                            75"  79-1/2"  84"
 bottom-rail   brackets, pilot 7/64in       5/8"  1-3/8"  85-5/8"  86-3/8"
 top-rail      balusters, pilot 1/8in       3"  7-1/2"  12"  16-1/2"  21"  25-1/2"  30"  34-1/2"
                                            39"  43-1/2"  48"  52-1/2"  57"  61-1/2"  66"  70-1/2"
                                            75"  79-1/2"  84"
 top-rail      brackets, pilot 7/64in       5/8"  1-3/8"  85-5/8"  86-3/8"
 support-rail  support blocks, pilot 1/8in  29"  58"
 top-rail      cap screws, pilot 1/8in      21-3/4"  41-1/4"  65-1/4"

Cuts
 member        length  left end  right end
 support-rail     87"        0°         0°
 bottom-rail      87"        0°         0°
 top-rail         87"        0°         0°
 cap              87"        0°         0°

To buy
 item                      needed     packs   price
 Composite panel kit 8 ft       1         1  189.00
 Post sleeve 5in                2         2   49.00
 Post cap for 5in               2         2   19.50
 Post base trim for 5in         2         2   12.50
 Bracket, level                 4    1 of 4   22.00
 Screw #10 x 1 in               8  1 of 100   10.90
 Screw #8 x 2-1/2 in           19  1 of 100   12.80
 Screw #8 x 1-3/4 in           22  1 of 100   11.40
 Support block                  2    1 of 4    9.50
 Screw #8 x 1-1/4 in            2  1 of 100    9.90
Total 346.50

Re-check: 74 checks: 0 failed, 2 not checked
"#;

/// Rail 2203: m = floor(2203/114.3) = 19, first centre (2203 - 18·114.3)/2 = 72.8, rounded from the running position.
const METRIC: &str = r#"Composite rail, 36 in, round balusters (invented demo system)
Opening 2210, rail 2203, clearance 3.5 mm and 3.5 mm at the ends
19 balusters of 736.6, centred division at 114.3 mm on centre; end gaps 66.975 mm and 66.975 mm, widest gap 95.95 mm
Cut from: Composite panel kit 8 ft

Running marks from the rail's left end, left as seen from the deck looking out
 member        what                         marks
 bottom-rail   balusters, pilot 5/32in      73  187  301  416  530  644  759  873
                                            987  1102  1216  1330  1444  1559  1673  1787
                                            1902  2016  2130
 bottom-rail   brackets, pilot 7/64in       16  35  2168  2187
 top-rail      balusters, pilot 1/8in       73  187  301  416  530  644  759  873
                                            987  1102  1216  1330  1444  1559  1673  1787
                                            1902  2016  2130
 top-rail      brackets, pilot 7/64in       16  35  2168  2187
 support-rail  support blocks, pilot 1/8in  734  1469
 top-rail      cap screws, pilot 1/8in      551  1045  1652

Cuts
 member        length  left end  right end
 support-rail    2203        0°         0°
 bottom-rail     2203        0°         0°
 top-rail        2203        0°         0°
 cap             2203        0°         0°

To buy
 item                      needed     packs   price
 Composite panel kit 8 ft       1         1  189.00
 Post sleeve 5in                2         2   49.00
 Post cap for 5in               2         2   19.50
 Post base trim for 5in         2         2   12.50
 Bracket, level                 4    1 of 4   22.00
 Screw #10 x 1 in               8  1 of 100   10.90
 Screw #8 x 2-1/2 in           19  1 of 100   12.80
 Screw #8 x 1-3/4 in           22  1 of 100   11.40
 Support block                  2    1 of 4    9.50
 Screw #8 x 1-1/4 in            2  1 of 100    9.90
Total 346.50

Re-check: 74 checks: 0 failed, 2 not checked
"#;

const GOOD: &str = "panel: complete, all checked limits met (2 not checked)\n";

fn with_cautions(text: &str) -> String {
    let cautions: String = CAUTIONS.iter().map(|c| format!("{c}\n")).collect();
    format!("{text}\n{cautions}")
}

#[test]
fn a_rail_of_87_inches() {
    for opening in ["87-1/4in", "87.25", "7'-3 1/4\"", "7' 3-1/4\"", "87.25in"] {
        expect(&["panel", opening], 0, &with_cautions(RAIL_OF_87), GOOD);
    }
}

/// 2210 mm: rail 2203 after two clearances of 3.175 down to the millimetre, so 3.5 stay at each end.
#[test]
fn a_metric_opening() {
    expect(&["panel", "2210mm", "--units", "mm"], 0, &with_cautions(METRIC), GOOD);
}

#[test]
fn a_punched_rail() {
    let ran = run(&["panel", "87in", "--system", "metal-42"]);
    assert_eq!(ran.status, 0);
    // 86-7/8 in the clear of both ends; 19 holes at 4-1/2 reach over 81, so (86-7/8 - 81)/2 = 2-15/16 stays at each end.
    assert!(ran.out.contains("2-15/16\"  7-7/16\"  11-15/16\"") && ran.out.contains("83-15/16\""), "{}", ran.out);
    assert!(ran.out.contains("Opening 87\", rail 86-7/8\""), "{}", ran.out);
}

/// The check value of the design: L 87 in, 4-1/2 in on centre -> 19 from 3 to 84.
#[test]
fn marks_as_json() {
    let ran = run(&["panel", "87-1/4in", "--json"]);
    assert_eq!(ran.status, 0);
    let layout: Value = serde_json::from_str(&ran.out).unwrap();
    let panel = &layout["panels"][0];
    let marks: Vec<f64> = (0..19).map(|k| 3.0 + 4.5 * f64::from(k)).collect();
    assert_eq!(panel["balusters"]["marks"], serde_json::json!(marks));
    assert_eq!((&panel["span"], &panel["length"]), (&Value::from(87.25), &Value::from(87.0)));
    assert_eq!(panel["blocks"], serde_json::json!([29.0, 58.0]));
}

#[test]
fn the_elevation_as_a_file() {
    let home = folder();
    let ran = run_in(home.path(), &["panel", "60in", "--svg", "sub/one.svg"], b"");
    assert_eq!(ran.status, 0, "{}", ran.err);
    assert_eq!(names(home.path()), ["sub/one.svg"]);
    let svg = fs::read_to_string(home.path().join("sub/one.svg")).unwrap();
    assert!(svg.contains("<svg") && svg.contains("RAIL-BALUSTER"), "{svg}");
    let ran = run_in(home.path(), &["panel", "60in", "--svg", "sub"], b"");
    assert_eq!(ran.status, 2);
    same(&ran.err, "error: sub is a folder; it stands where a file is to be written\n");
}

/// The elevation of a 6 ft panel needs 11 x 17 in; the job's own paper is not made smaller.
#[test]
fn the_elevation_as_sheets_of_paper() {
    let home = folder();
    fs::write(home.path().join("job.toml"), "sheet = \"a2\"\n[project]\ndrawn-by = \"A. B.\"\n").unwrap();
    let pdf = |args: &[&str]| {
        let ran = run_in(home.path(), &[&["panel"], args, &["--pdf", "out/one.pdf", "--svg", "one.svg"]].concat(), b"");
        assert_eq!(ran.status, 0, "{}", ran.err);
        let bytes = fs::read(home.path().join("out/one.pdf")).unwrap();
        String::from_utf8_lossy(&bytes).into_owned()
    };
    let first = pdf(&["6ft"]);
    assert_eq!(names(home.path()), ["job.toml", "one.svg", "out/one.pdf"]);
    assert_eq!(first.matches("/MediaBox [0 0 792 1224]").count(), 1, "{first}");
    assert!(first.contains("(Panel S1)") && !first.contains("/Author"));
    assert_eq!(first, pdf(&["6ft"]), "the same bytes twice");
    let with_job = pdf(&["6ft", "--job", "job.toml"]);
    assert!(with_job.contains("/MediaBox [0 0 1683.7795 1190.5511]") && with_job.contains("/Author (A. B.)"));
    // A sheet for each panel of the flight.
    let flight = pdf(&["--risers", "12", "--rise", "7-5/8in", "--tread", "10in"]);
    assert!(flight.matches("/MediaBox").count() > 1);
}

#[test]
fn openings_that_no_panel_fits() {
    expect(
        &["panel", "2in"],
        1,
        "",
        "panel: incomplete[span-too-short]: opening of 2in is shorter than the shortest panel, 8in; no panel is laid out there \
         (panel S1)\n  \
         rule: composite-36 shortest-panel: limit 8 in, found 2 in\n  \
         hint: move a post so that the opening gets longer, or close it without a panel\n\
         panel: incomplete: opening of 2in is shorter than the shortest panel, 8in; no panel is laid out there (panel S1)\n",
    );
    let ran = run(&["panel", "10ft"]);
    assert_eq!(ran.status, 1);
    same(
        &ran.errors_and_warnings(),
        "panel: error[stock-too-short]: S1 needs a kit of 119-3/4in; the longest that can be cut is 96in (panel S1)\n  \
         hint: set a shorter --longest-panel, or add a longer kit or stock length to the rail system\n\
         panel: error[system-limit]: clear span: 120 in found, at most 96 in required (panel S1)\n  \
         rule: composite-36 longest-panel: limit 96 in, found 120 in\n\
         panel: incomplete[span-too-long]: opening of 120in is longer than the longest panel, 96in; 1 check fails with it (panel S1)\n  \
         rule: composite-36 longest-panel: limit 96 in, found 120 in\n  \
         hint: set a post in between\n\
         panel: warning[not-checked]: not checked: rail from tip to tip; no kit was chosen for the panel (panel S1)\n\
         panel: incomplete: opening of 120in is longer than the longest panel, 96in; 1 check fails with it (panel S1). Limits are broken, too: 2\n",
    );
    assert!(ran.out.contains("26 balusters"), "{}", ran.out);
}

#[test]
fn openings_that_are_none() {
    for opening in ["0in", "-5in", "-3"] {
        expect(&["panel", opening], 2, "", "error: the opening must be more than nothing\n");
    }
    expect(
        &["panel", "abc"],
        2,
        "",
        "error: invalid value 'abc' for '[OPENING]': `abc` is not a length: a number is missing; write for example \
         87in, 7'-3 1/2\", 7.25ft or 2210mm\n\nFor more information, try '--help'.\n",
    );
    for opening in ["", "1e9in", "NaN", "99999999999999999999in", "1/0in", "9000000000m"] {
        let ran = run(&["panel", opening]);
        assert_eq!((ran.status, ran.out.as_str()), (2, ""), "{opening}: {}", ran.err);
    }
    // Far beyond any rail, but a length: too long, and no panel.
    let ran = run(&["panel", "1000000m"]);
    assert_eq!(ran.status, 1, "{}", ran.err);
}

/// Closed form: 7-1/2 on 10 has a slope of 12-1/2. 48 less two clearances of 1/8 are 59-11/16 along; 4-1/2 on centre are
/// 5-5/8 along, ten of them leave 3-7/16, so the first stands at (5-5/8 + 3-7/16)/2 = 4-17/32, marked 4-9/16; the members
/// take 5 plumb, the gap 1, so the balusters are 30; a member of 1-1/4 reaches 15/16 further, one of 3/4 9/16.
const RAKED: &str = r#"Composite rail, 36 in, round balusters (invented demo system)
Slope 7-1/2" on 10", 36.9°; the left end is the upper one
Opening 48" level, rail 59-11/16" along the slope, clearance 0.125 in and 0.125 in level at the ends, plumb cuts of 36.9°
10 balusters of 30" plumb, both ends bevelled 36.9°, centred division at 5.625 in on centre along the slope; end gaps 3.4 in and 3.35 in level, widest gap 3.75 in level
Plumb above the line through the nosings: underside 1", top 36 in
Cut from: Composite stair kit 6 ft

Running marks along the slope from the rail's left end, left as seen from the stair looking out
 member        what                                           marks
 bottom-rail   balusters, pilot 5/32in                        4-9/16"  10-3/16"  15-13/16"  21-7/16"  27-1/16"  32-11/16"  38-5/16"  43-15/16"
                                                              49-9/16"  55-3/16"
 bottom-rail   raked brackets, pilot 7/64in                   7/8"  1-7/8"  57-13/16"  58-13/16"
 top-rail      balusters, pilot 1/8in                         4-9/16"  10-3/16"  15-13/16"  21-7/16"  27-1/16"  32-11/16"  38-5/16"  43-15/16"
                                                              49-9/16"  55-3/16"
 top-rail      raked brackets, pilot 7/64in                   7/8"  1-7/8"  57-13/16"  58-13/16"
 support-rail  support blocks, pilot 1/8in                    29-7/8"
 top-rail      cap screws, raked, #8 x 1-1/2 in, pilot 1/8in  19-7/8"  39-13/16"
               balusters, measured level                      3-5/8"  8-1/8"  12-5/8"  17-1/8"  21-5/8"  26-1/8"  30-5/8"  35-1/8"
                                                              39-5/8"  44-1/8"

Cuts
 member        length along each face  tip to tip  plumb cut at both ends
 support-rail               59-11/16"     60-1/4"                   36.9°
 bottom-rail                59-11/16"     60-5/8"                   36.9°
 top-rail                   59-11/16"     60-5/8"                   36.9°
 cap                        59-11/16"     60-1/4"                   36.9°

To buy
 item                      needed     packs   price
 Composite stair kit 6 ft       1         1  171.00
 Post sleeve 5in                2         2   49.00
 Post cap for 5in               2         2   19.50
 Post base trim for 5in         2         2   12.50
 Bracket, raked                 4    1 of 4   29.00
 Screw #10 x 1 in               8  1 of 100   10.90
 Screw #8 x 2-1/2 in           10  1 of 100   12.80
 Screw #8 x 1-3/4 in           10  1 of 100   11.40
 Support block                  1    1 of 4    9.50
 Screw #8 x 1-1/4 in            1  1 of 100    9.90
 Screw #8 x 1-1/2 in            2  1 of 100   10.60
"#;

#[test]
fn a_raked_panel() {
    let stairs: [&[&str]; 3] = [
        &["--slope", "7.5/10"],
        &["--slope", "7-1/2in/10in", "--nosing", "0"],
        &["--risers", "11", "--rise", "7.5in", "--tread", "10in"],
    ];
    for stair in stairs {
        let ran = run(&[&["panel", "48in"], stair].concat());
        let head = ran.out.get(..RAKED.len()).unwrap_or(&ran.out);
        same(head, RAKED);
    }
}

/// 7.75 on 10 is 37.775684 degrees (closed form), and the marks stand level where they do along the slope.
#[test]
fn a_raked_panel_as_json() {
    let ran = run(&["panel", "60in", "--slope", "7.75/10", "--nosing", "1", "--json"]);
    let layout: Value = serde_json::from_str(&ran.out).unwrap();
    let panel = &layout["panels"][0];
    assert_eq!((&panel["kind"], &panel["span"]), (&Value::from("raked"), &Value::from(60.0)));
    assert!((panel["pitch"].as_f64().unwrap() - 37.775_684).abs() < 1e-6);
    let numbers = |list: &Value| list.as_array().unwrap().iter().map(|n| n.as_f64().unwrap()).collect::<Vec<_>>();
    let (marks, level) = (numbers(&panel["balusters"]["marks"]), numbers(&panel["balusters"]["level_marks"]));
    assert!(!marks.is_empty() && marks.len() == level.len());
    for (mark, level) in marks.iter().zip(level) {
        assert!((mark * 10.0 / 160.0625_f64.sqrt() - level).abs() < 1e-6);
    }
    // A nosing of 1 leaves 0.5956 under the rail before a 6 in sphere passes the triangle.
    assert_eq!(panel["bottom_gap"], 0.5625);
    assert!(ran.err.contains("note[bottom-gap-lowered]"), "{}", ran.err);
}

#[test]
fn stairs_that_no_panel_follows() {
    let ran = run(&["panel", "60in", "--slope", "12/10"]);
    assert_eq!((ran.status, ran.out.as_str()), (1, ""));
    assert!(
        ran.err.contains(
            "panel: incomplete[stair-too-steep]: a stair of 12in on 10in is steeper than the system's raked panels go, 9in on \
             9in; no panel is laid out there (panel S1)\n  rule: composite-36 raked.steepest: limit 10 in, found 12 in\n"
        ),
        "{}",
        ran.err
    );
    let ran = run(&["panel", "60in", "--slope", "7/10", "--balusters", "punched"]);
    assert_eq!((ran.status, ran.out.as_str()), (1, ""));
    assert!(ran.err.contains("the system says nothing of punched rails for stairs"), "{}", ran.err);
    let ran = run(&["panel", "95in", "--slope", "7/10"]);
    assert_eq!(ran.status, 1);
    assert!(ran.err.contains("longer than the longest raked panel, 90in"), "{}", ran.err);
    assert!(ran.out.contains("Opening 95\" level"), "{}", ran.out);
}

/// Wrong use: status 2, nothing on standard output, and a message that says what to write.
#[test]
fn stairs_that_are_none() {
    let cases: [(&[&str], &str); 20] = [
        (&[], "<OPENING>"),
        (&["--slope", "7/10"], "<OPENING>"),
        (&["60in", "--slope", "0/10"], "`0/10` is no slope; write riser/tread"),
        (&["60in", "--slope", "-7/10"], "is no slope"),
        (&["60in", "--slope", "abc"], "is no slope"),
        (&["60in", "--slope", "31/40"], "a riser of 31in is none of a stair; give one step's, from 1in to 24in"),
        (&["60in", "--slope", "7/10", "--risers", "9", "--rise", "7", "--tread", "10"], "cannot be used with"),
        (&["60in", "--slope", "7/10", "--rise", "7"], "cannot be used with"),
        (&["60in", "--risers", "9"], "--rise <LEN>"),
        (&["60in", "--rise", "7"], "--risers <N>"),
        (&["60in", "--tread", "10"], "--risers <N>"),
        (&["60in", "--nosing", "1"], "--slope <RISER/TREAD>|--risers <N>"),
        (&["60in", "--slope", "7/10", "--nosing", "-1"], "a nosing of -1in is none"),
        (&["60in", "--slope", "7/10", "--nosing", "10"], "a nosing of 10in is none"),
        (&["--risers", "1", "--rise", "7", "--tread", "10"], "a single riser has no slope"),
        (&["--risers", "99999999999", "--rise", "7", "--tread", "10"], "write a number from 2 to 200"),
        (&["--risers", "9", "--rise", "0", "--tread", "10"], "a riser of 0in is none"),
        (&["--risers", "9", "--rise", "7", "--tread", "-10"], "a tread of -10in is none"),
        (&["--risers", "9", "--rise", "7", "--tread", "11ft"], "a tread of 132in is none"),
        (&["61in", "--risers", "6", "--rise", "7", "--tread", "10"], "longer than a flight of 6 risers"),
    ];
    for (args, message) in cases {
        let ran = run(&[&["panel"], args].concat());
        assert_eq!((ran.status, ran.out.as_str()), (2, ""), "{args:?}: {}", ran.err);
        assert!(ran.err.contains(message), "{args:?}: {}", ran.err);
    }
    let ran = run(&["panel", "1000000m", "--slope", "7/10"]);
    assert_eq!(ran.status, 1, "{}", ran.err);
}

#[test]
fn a_raked_elevation_as_a_file() {
    let home = folder();
    let ran = run_in(home.path(), &["panel", "60in", "--slope", "7/11", "--svg", "raked.svg"], b"");
    assert_ne!(ran.status, 2, "{}", ran.err);
    assert_eq!(names(home.path()), ["raked.svg"]);
}

/// A single riser, or a step of no size, has no slope: a finding and no panel, for those who call the library.
#[test]
fn a_flight_without_a_slope() {
    use plumbrail::base::{Code, Length, Unit};
    let settings = crate::interop::settings(None);
    let steps = |riser, tread| plumbrail::deck::Steps { riser, tread, nosing: Length::ZERO };
    for (risers, steps) in
        [(1, steps(Length::INCH * 7, Length::INCH * 10)), (9, steps(Length::ZERO, Length::INCH * 10))]
    {
        let outcome = plumbrail::lay_out_flight(risers, steps, Unit::Inch, &settings);
        assert!(outcome.layout.panels.is_empty());
        assert!(outcome.findings.iter().any(|f| f.code == Code::StairOneRiser), "{:?}", outcome.findings);
    }
}
