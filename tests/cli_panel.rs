//! `plumbrail panel`: one opening or one flight without a plan, everything that is printed.

use std::fs;

use plumbrail::sheet::CAUTIONS;
use serde_json::Value;

use crate::program::{expect, folder, names, run, run_in, same};

/// Closed form: 63-3/8 in clear leaves a rail of 63 in. 12 balusters at 5 in leave 3 in, so the first stands at
/// (5 + 3)/2 = 4 and the last at 59. Two blocks divide it at 21 and 42; cap screws: ceil(63/18) = 4 gaps of 15-3/4. All
/// of them are 1-3/4 in or more from a baluster.
const RAIL_OF_63: &str = r#"Composite rail, 36 in, square balusters (invented demo system)
Opening 63-3/8", rail 63", clearance 0.1875 in and 0.1875 in at the ends
12 balusters of 29-3/4", centred division at 5 in on centre; end gaps 3.5 in and 3.5 in, widest gap 3.625 in
Cut from: Level set 7 ft

Running marks from the rail's left end, left as seen from the deck looking out
 member       what                         marks
 bottom-rail  balusters, pilot 9/64in      4"  9"  14"  19"  24"  29"  34"  39"
                                           44"  49"  54"  59"
 bottom-rail  brackets, pilot 1/8in        7/16"  1-1/16"  61-15/16"  62-9/16"
 top-rail     balusters, pilot 9/64in      4"  9"  14"  19"  24"  29"  34"  39"
                                           44"  49"  54"  59"
 top-rail     brackets, pilot 1/8in        7/16"  1-1/16"  61-15/16"  62-9/16"
 bottom-rail  support blocks, pilot 1/8in  21"  42"
 top-rail     cap screws, pilot 1/8in      15-3/4"  31-1/2"  47-1/4"

Cuts
 member       length  left end  right end
 bottom-rail     63"        0°         0°
 top-rail        63"        0°         0°
 cap             63"        0°         0°

To buy
 item                        needed    packs   price
 Level set 7 ft                   1        1  166.00
 Post sleeve 4-1/2in              2        2   54.00
 Post cap for 4-1/2in             2        2   17.00
 Post base trim for 4-1/2in       2        2   14.00
 Bracket, level                   4   1 of 4   19.00
 Screw #10 x 7/8 in               8  1 of 75    8.90
 Screw #9 x 2-3/4 in             12  1 of 75   11.50
 Screw #9 x 2-1/4 in             12  1 of 75   10.20
 Support block                    2   1 of 6   11.00
 Screw #9 x 2 in                  2  1 of 75    9.60
 Screw #10 x 1-3/4 in             3  1 of 75   10.80
Total 332.00

Re-check: 75 checks: 0 failed, 2 not checked
"#;

/// Rail 1600: m = floor(1600/127) = 12, first centre (1600 - 11·127)/2 = 101.5, rounded from the running position.
const METRIC: &str = r#"Composite rail, 36 in, square balusters (invented demo system)
Opening 1610, rail 1600, clearance 5 mm and 5 mm at the ends
12 balusters of 755.6, centred division at 127 mm on centre; end gaps 89.5375 mm and 88.5375 mm, widest gap 92.075 mm
Cut from: Level set 7 ft

Running marks from the rail's left end, left as seen from the deck looking out
 member       what                         marks
 bottom-rail  balusters, pilot 9/64in      102  229  356  483  610  737  864  991
                                           1118  1245  1372  1499
 bottom-rail  brackets, pilot 1/8in        11  27  1573  1589
 top-rail     balusters, pilot 9/64in      102  229  356  483  610  737  864  991
                                           1118  1245  1372  1499
 top-rail     brackets, pilot 1/8in        11  27  1573  1589
 bottom-rail  support blocks, pilot 1/8in  533  1067
 top-rail     cap screws, pilot 1/8in      400  800  1200

Cuts
 member       length  left end  right end
 bottom-rail    1600        0°         0°
 top-rail       1600        0°         0°
 cap            1600        0°         0°

To buy
 item                        needed    packs   price
 Level set 7 ft                   1        1  166.00
 Post sleeve 4-1/2in              2        2   54.00
 Post cap for 4-1/2in             2        2   17.00
 Post base trim for 4-1/2in       2        2   14.00
 Bracket, level                   4   1 of 4   19.00
 Screw #10 x 7/8 in               8  1 of 75    8.90
 Screw #9 x 2-3/4 in             12  1 of 75   11.50
 Screw #9 x 2-1/4 in             12  1 of 75   10.20
 Support block                    2   1 of 6   11.00
 Screw #9 x 2 in                  2  1 of 75    9.60
 Screw #10 x 1-3/4 in             3  1 of 75   10.80
Total 332.00

Re-check: 75 checks: 0 failed, 2 not checked
"#;

const GOOD: &str = "panel: complete, all checked limits met (2 not checked)\n";

fn with_cautions(text: &str) -> String {
    let cautions: String = CAUTIONS.iter().map(|c| format!("{c}\n")).collect();
    format!("{text}\n{cautions}")
}

#[test]
fn a_rail_of_63_inches() {
    for opening in ["63-3/8in", "63.375", "5'-3 3/8\"", "5' 3-3/8\"", "63.375in"] {
        expect(&["panel", opening], 0, &with_cautions(RAIL_OF_63), GOOD);
    }
}

/// 1610 mm: rail 1600 after two clearances of 4.7625 down to the millimetre, so 5 stay at each end.
#[test]
fn a_metric_opening() {
    expect(&["panel", "1610mm", "--units", "mm"], 0, &with_cautions(METRIC), GOOD);
}

#[test]
fn a_punched_rail() {
    let ran = run(&["panel", "66in", "--system", "metal-42"]);
    assert_eq!(ran.status, 0);
    // 65-3/4 in the clear of both ends; 15 holes at 4-3/8 reach over 61-1/4, so (65-3/4 - 61-1/4)/2 = 2-1/4 stays at each end.
    assert!(ran.out.contains("2-1/4\"  6-5/8\"  11\"") && ran.out.contains("63-1/2\""), "{}", ran.out);
    assert!(ran.out.contains("Opening 66\", rail 65-3/4\""), "{}", ran.out);
}

/// Closed form: L 63 in, 5 in on centre -> 12 from 4 to 59.
#[test]
fn marks_as_json() {
    let ran = run(&["panel", "63-3/8in", "--json"]);
    assert_eq!(ran.status, 0);
    let layout: Value = serde_json::from_str(&ran.out).unwrap();
    let panel = &layout["panels"][0];
    let marks: Vec<f64> = (0..12).map(|k| 4.0 + 5.0 * f64::from(k)).collect();
    assert_eq!(panel["balusters"]["marks"], serde_json::json!(marks));
    assert_eq!((&panel["span"], &panel["length"]), (&Value::from(63.375), &Value::from(63.0)));
    assert_eq!(panel["blocks"], serde_json::json!([21.0, 42.0]));
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
    assert_eq!(first.matches("/MediaBox [0 0 1224 792]").count(), 1, "{first}");
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
    let ran = run(&["panel", "9ft"]);
    assert_eq!(ran.status, 1);
    same(
        &ran.errors_and_warnings(),
        "panel: error[stock-too-short]: S1 needs a kit of 107-5/8in; the longest that can be cut is 84in (panel S1)\n  \
         hint: set a shorter --longest-panel, or add a longer kit or stock length to the rail system\n\
         panel: error[system-limit]: clear span: 108 in found, at most 84 in required (panel S1)\n  \
         rule: composite-36 longest-panel: limit 84 in, found 108 in\n\
         panel: incomplete[span-too-long]: opening of 108in is longer than the longest panel, 84in; 1 check fails with it (panel S1)\n  \
         rule: composite-36 longest-panel: limit 84 in, found 108 in\n  \
         hint: set a post in between\n\
         panel: warning[not-checked]: not checked: rail from tip to tip; no kit was chosen for the panel (panel S1)\n\
         panel: incomplete: opening of 108in is longer than the longest panel, 84in; 1 check fails with it (panel S1). Limits are broken, too: 2\n",
    );
    assert!(ran.out.contains("21 balusters"), "{}", ran.out);
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
         63in, 5'-3 1/2\", 5.25ft or 1600mm\n\nFor more information, try '--help'.\n",
    );
    for opening in ["", "1e9in", "NaN", "99999999999999999999in", "1/0in", "9000000000m"] {
        let ran = run(&["panel", opening]);
        assert_eq!((ran.status, ran.out.as_str()), (2, ""), "{opening}: {}", ran.err);
    }
    // Far beyond any rail, but a length: too long, and no panel.
    let ran = run(&["panel", "1000000m"]);
    assert_eq!(ran.status, 1, "{}", ran.err);
}

/// Closed form: 7-1/2 on 10 has a slope of 12-1/2. 48 less two clearances of 3/16 are 59-1/2 along; 5 on centre are 6-1/4
/// along, nine of them leave 3-1/4, so the first stands at (6-1/4 + 3-1/4)/2 = 4-3/4; the members take 4-11/16 plumb, the
/// gap 1-1/4, so the balusters are 30-1/16; members of 1-1/2, 1-1/4 and 1 reach 1-1/8, 15/16 and 3/4 further. The cap screw
/// at 29-3/4 would meet a baluster and stands in the middle of the gap before, at (23-1/2 + 29-3/4)/2 = 26-5/8.
const RAKED: &str = r#"Composite rail, 36 in, square balusters (invented demo system)
Slope 7-1/2" on 10", 36.9°; the left end is the upper one
Opening 48" level, rail 59-1/2" along the slope, clearance 0.2 in and 0.2 in level at the ends, plumb cuts of 36.9°
9 balusters of 30-1/16" plumb, both ends bevelled 36.9°, centred division at 6.25 in on centre along the slope; end gaps 3.3125 in and 3.3125 in level, widest gap 3.625 in level
Plumb above the line through the nosings: underside 1-1/4", top 36 in
Cut from: Sloped set 7 ft

Running marks along the slope from the rail's left end, left as seen from the stair looking out
 member       what                                        marks
 bottom-rail  balusters, pilot 9/64in                     4-3/4"  11"  17-1/4"  23-1/2"  29-3/4"  36"  42-1/4"  48-1/2"
                                                          54-3/4"
 bottom-rail  raked brackets, pilot 1/8in                 11/16"  1-9/16"  57-15/16"  58-13/16"
 top-rail     balusters, pilot 9/64in                     4-3/4"  11"  17-1/4"  23-1/2"  29-3/4"  36"  42-1/4"  48-1/2"
                                                          54-3/4"
 top-rail     raked brackets, pilot 1/8in                 11/16"  1-9/16"  57-15/16"  58-13/16"
 bottom-rail  support blocks, pilot 1/8in                 19-13/16"  39-11/16"
 top-rail     cap screws, raked, #10 x 2 in, pilot 1/8in  14-7/8"  26-5/8"  44-5/8"
              balusters, measured level                   3-13/16"  8-13/16"  13-13/16"  18-13/16"  23-13/16"  28-13/16"  33-13/16"  38-13/16"
                                                          43-13/16"

Cuts
 member       length along each face  tip to tip  plumb cut at both ends
 bottom-rail                 59-1/2"     60-5/8"                   36.9°
 top-rail                    59-1/2"    60-7/16"                   36.9°
 cap                         59-1/2"     60-1/4"                   36.9°

To buy
 item                        needed    packs   price
 Sloped set 7 ft                  1        1  178.00
 Post sleeve 4-1/2in              2        2   54.00
 Post cap for 4-1/2in             2        2   17.00
 Post base trim for 4-1/2in       2        2   14.00
 Bracket, raked                   4   1 of 4   26.00
 Screw #10 x 7/8 in               8  1 of 75    8.90
 Screw #9 x 2-3/4 in              9  1 of 75   11.50
 Screw #9 x 2-1/4 in              9  1 of 75   10.20
 Support block                    2   1 of 6   11.00
 Screw #9 x 2 in                  2  1 of 75    9.60
 Screw #10 x 2 in                 3  1 of 75   11.20
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
             10in; no panel is laid out there (panel S1)\n  rule: composite-36 raked.steepest: limit 9 in, found 12 in\n"
        ),
        "{}",
        ran.err
    );
    let ran = run(&["panel", "60in", "--slope", "7/10", "--balusters", "punched"]);
    assert_eq!((ran.status, ran.out.as_str()), (1, ""));
    assert!(ran.err.contains("the system says nothing of punched rails for stairs"), "{}", ran.err);
    let ran = run(&["panel", "79in", "--slope", "7/10"]);
    assert_eq!(ran.status, 1);
    assert!(ran.err.contains("longer than the longest raked panel, 78in"), "{}", ran.err);
    assert!(ran.out.contains("Opening 79\" level"), "{}", ran.out);
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
