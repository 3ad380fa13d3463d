//! `plumbrail panel`: one opening without a plan, everything that is printed.

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
 item                             quantity
 Composite panel kit 8 ft                1
 Post sleeve 5in                         2
 Bracket, level                          4
 Screw #10 x 1 in                        8
 Screw #8 x 2-1/2 in                    19
 Screw #8 x 1-3/4 in                    19
 Support block                           2
 Screw #8 x 1-1/4 in                     2
 Cap screw, level, #8 x 1-3/4 in         3

Re-check: 39 checks: 0 failed, 1 not checked
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
 item                             quantity
 Composite panel kit 8 ft                1
 Post sleeve 5in                         2
 Bracket, level                          4
 Screw #10 x 1 in                        8
 Screw #8 x 2-1/2 in                    19
 Screw #8 x 1-3/4 in                    19
 Support block                           2
 Screw #8 x 1-1/4 in                     2
 Cap screw, level, #8 x 1-3/4 in         3

Re-check: 39 checks: 0 failed, 1 not checked
"#;

fn with_cautions(text: &str) -> String {
    let cautions: String = CAUTIONS.iter().map(|c| format!("{c}\n")).collect();
    format!("{text}\n{cautions}")
}

#[test]
fn a_rail_of_87_inches() {
    for opening in ["87-1/4in", "87.25", "7'-3 1/4\"", "7' 3-1/4\"", "87.25in"] {
        expect(&["panel", opening], 0, &with_cautions(RAIL_OF_87), "");
    }
}

/// 2210 mm: rail 2203 after two clearances of 3.175 down to the millimetre, so 3.5 stay at each end.
#[test]
fn a_metric_opening() {
    expect(&["panel", "2210mm", "--units", "mm"], 0, &with_cautions(METRIC), "");
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
    same(&ran.err, "error: ./sub is a folder; it stands where a file is to be written\n");
}

#[test]
fn openings_that_no_panel_fits() {
    expect(
        &["panel", "2in"],
        1,
        "",
        "panel: error[span-too-short]: opening of 2in is shorter than the shortest panel, 8in (panel S1)\n  \
         rule: composite-36 shortest-panel: limit 8in, found 2in\n  \
         hint: move a post so that the opening gets longer, or close it without a panel\n",
    );
    let ran = run(&["panel", "10ft"]);
    assert_eq!(ran.status, 1);
    same(
        &ran.errors_and_warnings(),
        "panel: error[span-too-long]: opening of 120in is longer than the longest panel, 96in (panel S1)\n  \
         rule: composite-36 longest-panel: limit 96in, found 120in\n  \
         hint: set a post in between\n\
         panel: error[system-limit]: clear span: 120 in found, at most 96 in required (panel S1)\n  \
         rule: composite-36 longest-panel: limit 96in, found 120in\n",
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
        "error: invalid value 'abc' for '<OPENING>': `abc` is not a length: a number is missing; write for example \
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
