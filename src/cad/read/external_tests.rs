//! Tests of external references, heights and coordinate systems on small drawings written by hand.

use super::*;
use crate::base::plane::distance;
use crate::cad::{Entity, External, Reference, no_externals};

/// A drawing in a unit (`$INSUNITS`) from its parts; `|` stands for the line end.
fn drawing(units: u8, header: &str, blocks: &str, entities: &str) -> String {
    format!(
        "0|SECTION|2|HEADER|9|$ACADVER|1|AC1015|9|$INSUNITS|70|{units}|{header}0|ENDSEC|0|SECTION|2|BLOCKS|{blocks}\
         0|ENDSEC|0|SECTION|2|ENTITIES|{entities}0|ENDSEC|0|EOF|"
    )
    .replace('|', "\n")
}

const IN: u8 = 1;
const MM: u8 = 4;

fn refers(name: &str, path: &str, flags: u8) -> String {
    format!("0|BLOCK|8|0|2|{name}|70|{flags}|10|0|20|0|1|{path}|0|ENDBLK|")
}

fn placed(name: &str, layer: &str, more: &str) -> String {
    format!("0|INSERT|5|F1|8|{layer}|2|{name}|10|100|20|0|{more}")
}

const LINE: &str = "0|LINE|5|A1|8|EDGE|10|1|20|2|11|3|21|2|";

/// Reads with the given files; layers that begin with `EDGE`, alone or behind a reference's name, are wanted.
fn read_with(plan: &str, files: &[(&str, String)]) -> Drawing {
    let wanted = |layer: &str| layer.rsplit('|').next().unwrap().starts_with("EDGE");
    let externals = |r: &Reference<'_>| match files.iter().find(|(path, _)| *path == r.path) {
        Some((path, text)) => Ok(External { file: (*path).to_owned(), bytes: text.clone().into_bytes() }),
        None => Err("it is not there".to_owned()),
    };
    read(plan.as_bytes(), &ReadOptions { units: None, wanted: &wanted, hidden_too: &|_| false, externals: &externals })
        .unwrap()
}

fn ends(entity: &Entity) -> [Point; 2] {
    match &entity.shape {
        Shape::Path { vertices, .. } => [vertices[0].at, vertices[vertices.len() - 1].at],
        other => panic!("a path, not {other:?}"),
    }
}

fn near(a: Point, x: f64, y: f64) -> bool {
    distance(a, point(x, y)) < 1e-9
}

fn told(drawing: &Drawing) -> Vec<(Code, Severity, &str)> {
    drawing.findings.iter().map(|f| (f.code, f.severity, f.message.as_str())).collect()
}

#[test]
fn a_reference_is_read_where_it_is_placed() {
    let child = drawing(MM, "9|$INSBASE|10|1|20|0|30|0|", "", &format!("{LINE}{}", LINE.replace("EDGE", "OTHER")));
    let plan = drawing(MM, "", &refers("Deck", "..\\x\\deck.dwg", 4), &placed("DECK", "XREF", "50|90|"));
    let read = read_with(&plan, &[("..\\x\\deck.dwg", child)]);
    let [line] = &read.entities[..] else { panic!("one entity, not {:?}", read.entities) };
    // Base point (1, 0), turned by 90 degrees, at (100, 0).
    let [a, b] = ends(line);
    assert!(near(a, 98.0, 0.0) && near(b, 98.0, 2.0), "{a:?} {b:?}");
    // Handle and line are those of the INSERT: the user's file holds no others.
    let insert_line = plan.lines().position(|l| l == "INSERT").unwrap() as u64;
    assert_eq!(
        (line.layer.as_str(), line.origin.handle, line.origin.line),
        ("Deck|EDGE", Some(0xf1), Some(insert_line))
    );
    let message = "external reference `Deck` is read from ..\\x\\deck.dwg (R2000, mm)";
    assert_eq!(told(&read), [(Code::ExternalRead, Severity::Note, message)]);
    let named: Vec<&str> = read.layers.iter().filter(|l| !l.counts.is_empty()).map(|l| l.name.as_str()).collect();
    assert_eq!(named, ["XREF", "Deck|EDGE", "Deck|OTHER"]);
}

#[test]
fn units_of_both_drawings_count() {
    let child = |units| [("d", drawing(units, "", "", LINE))];
    let plan = |units, scale: &str| drawing(units, "", &refers("D", "d", 4), &placed("D", "XREF", scale));
    let x = |read: &Drawing| ends(&read.entities[0])[0].x;

    let read = read_with(&plan(MM, ""), &child(IN));
    assert!((x(&read) - 125.4).abs() < 1e-9);
    assert!(told(&read)[1].2.contains("drawn in in, its host in mm"), "{:?}", told(&read));
    assert_eq!(told(&read)[1].0, Code::UnitsDoubtful);

    // The INSERT scales already.
    let read = read_with(&plan(MM, "41|25.4|42|25.4|43|25.4|"), &child(IN));
    assert!((x(&read) - 125.4).abs() < 1e-9 && told(&read).len() == 1);

    let read = read_with(&plan(IN, "41|12|42|12|43|12|"), &child(MM));
    assert!((x(&read) - 112.0 * 25.4).abs() < 1e-9);
    assert!(told(&read)[1].2.contains("at scale 12, not 0.03937"), "{:?}", told(&read));

    let read = read_with(&plan(IN, ""), &child(0));
    assert!((x(&read) - 101.0 * 25.4).abs() < 1e-9);
    assert!(told(&read)[1].2.contains("does not say its unit; it is taken to be drawn in in"), "{:?}", told(&read));
}

#[test]
fn layer_zero_of_a_reference_takes_the_layer_of_the_insert() {
    let child = drawing(MM, "", "", &LINE.replace("EDGE", "0"));
    let plan = |layer| drawing(MM, "", &refers("D", "d", 4), &placed("D", layer, ""));
    let read = read_with(&plan("EDGE-1"), &[("d", child.clone())]);
    assert_eq!(read.entities.iter().map(|e| e.layer.as_str()).collect::<Vec<_>>(), ["EDGE-1"]);
    assert!(read_with(&plan("XREF"), &[("d", child)]).entities.is_empty());
}

#[test]
fn the_plan_decides_which_layers_of_a_reference_show() {
    let child = drawing(MM, "", "", LINE);
    let table = "0|SECTION|2|TABLES|0|TABLE|2|LAYER|70|1|0|LAYER|2|d|EDGE|70|1|62|7|0|ENDTAB|0|ENDSEC|";
    let table = table.replace("2|d|EDGE", "2|d~EDGE").replace('|', "\n").replace('~', "|");
    let plan = drawing(MM, "", &refers("D", "d", 4), &placed("D", "XREF", ""));
    let plan = plan.replacen("0\nSECTION\n2\nBLOCKS", &(table + "0\nSECTION\n2\nBLOCKS"), 1);
    let read = read_with(&plan, &[("d", child)]);
    assert!(read.entities.is_empty());
    assert_eq!(read.findings[1].message, "layer D|EDGE is frozen: 1 entity on it left out");
}

#[test]
fn missing_and_unusable_references_are_told_with_their_path() {
    let plan = drawing(MM, "", &refers("D", "C:\\jobs\\d.dwg", 4), &format!("{LINE}{}", placed("D", "XREF", "")));
    let read = read_with(&plan, &[]);
    assert_eq!(read.entities.len(), 1);
    let [finding] = &read.findings[..] else { panic!("one finding") };
    assert_eq!(
        (finding.code, finding.severity, finding.place.handle),
        (Code::ExternalMissing, Severity::Incomplete, Some(0xf1))
    );
    assert!(finding.message.contains("`D` (`C:\\jobs\\d.dwg`) is not read: it is not there"), "{}", finding.message);
    assert!(finding.hint.is_some());

    let broken = drawing(MM, "", "", LINE).replace("0\nEOF\n", "");
    let read = read_with(&plan, &[("C:\\jobs\\d.dwg", broken)]);
    let [finding] = &read.findings[..] else { panic!("one finding") };
    assert_eq!((finding.code, finding.severity), (Code::ExternalFails, Severity::Incomplete));
    assert!(finding.message.contains("d.dwg:40: the drawing is cut off"), "{}", finding.message);

    // A reference that is not placed is not read.
    assert_eq!(told(&read_with(&drawing(MM, "", &refers("D", "d", 4), LINE), &[])), []);
}

#[test]
fn what_is_damaged_in_a_reference_is_told_once_with_its_line() {
    let child = drawing(MM, "", "", &format!("{LINE}{}", LINE.replace("11|3", "11|x")));
    let twice = placed("D", "XREF", "") + &placed("D", "XREF", "").replace("F1", "F2");
    let read = read_with(&drawing(MM, "", &refers("D", "d", 4), &twice), &[("d", child)]);
    assert_eq!(read.entities.len(), 2);
    let [_, finding] = &read.findings[..] else { panic!("two findings, not {:?}", read.findings) };
    assert!(
        finding.message.starts_with("in d:49 (handle A1): LINE is damaged: `x` in group 11"),
        "{}",
        finding.message
    );
    assert_eq!((finding.place.handle, finding.place.layer.as_deref()), (Some(0xf1), Some("D|EDGE")));
}

#[test]
fn references_nest_and_circles_end() {
    let leaf = drawing(MM, "", "", LINE);
    let middle = |path: &str, flags| drawing(MM, "", &refers("E", path, flags), &placed("E", "0", ""));
    let plan = drawing(MM, "", &refers("D", "middle", 4), &placed("D", "XREF", ""));
    let read = read_with(&plan, &[("middle", middle("leaf", 4)), ("leaf", leaf.clone())]);
    assert_eq!(read.entities[0].layer, "E|EDGE");
    assert!(near(ends(&read.entities[0])[0], 201.0, 2.0));
    assert_eq!((read.entities[0].origin.handle, read.inserts.len()), (Some(0xf1), 2));

    // An overlay is shown in its own drawing only.
    let read = read_with(&plan, &[("middle", middle("leaf", 12)), ("leaf", leaf.clone())]);
    assert!(read.entities.is_empty() && read.findings.iter().any(|f| f.message.contains("in middle:")));
    let overlay = drawing(MM, "", &refers("D", "leaf", 12), &placed("D", "XREF", ""));
    assert_eq!(read_with(&overlay, &[("leaf", leaf)]).entities.len(), 1);

    let circle = [("middle", middle("back", 4)), ("back", middle("middle", 4).replace("\nE\n", "\nF\n"))];
    let read = read_with(&plan, &circle);
    assert!(read.entities.is_empty());
    assert!(read.findings.iter().any(|f| f.code == Code::ExternalFails && f.message.contains("shows itself")));
    let itself = read_with(&plan, &[("middle", plan.clone())]);
    assert!(itself.findings.iter().any(|f| f.message.contains("shows itself")));

    let tower: Vec<(String, String)> = (0..40).map(|n| (format!("t{n}"), middle(&format!("t{}", n + 1), 4))).collect();
    let tower: Vec<(&str, String)> = tower.iter().map(|(path, text)| (path.as_str(), text.clone())).collect();
    let read = read_with(&plan.replace("middle", "t0"), &tower);
    assert!(read.findings.iter().any(|f| f.message.contains("at most 8 levels")), "{:?}", told(&read));
}

#[test]
fn a_reference_placed_many_times_ends_like_a_block() {
    let child = drawing(MM, "", "", &format!("0|MTEXT|8|EDGE|1|{}|10|0|20|0|", "x".repeat(60_000)));
    let plan = drawing(MM, "", &refers("D", "d", 4), &placed("D", "XREF", "70|1000|71|1000|"));
    let read = read_with(&plan, &[("d", child)]);
    assert!((1000..6000).contains(&read.entities.len()), "{}", read.entities.len());
    let [note, end] = &read.findings[..] else { panic!("two findings, not {:?}", told(&read)) };
    assert_eq!((note.code, end.code, end.place.handle), (Code::ExternalRead, Code::TooManyInserts, Some(0xf1)));
    assert!(end.message.ends_with("the rest was left out from here on"), "{}", end.message);
}

#[test]
fn a_reference_in_a_block_and_without_a_giver() {
    let block = format!("0|BLOCK|8|0|2|B|70|0|10|0|20|0|{}0|ENDBLK|", placed("D", "0", ""));
    let plan = drawing(MM, "", &(refers("D", "d", 4) + &block), &placed("B", "XREF", ""));
    let read_ = read_with(&plan, &[("d", drawing(MM, "", "", LINE))]);
    assert!(near(ends(&read_.entities[0])[0], 201.0, 2.0));
    let options = ReadOptions { units: None, wanted: &|_| true, hidden_too: &|_| false, externals: &no_externals };
    let read_ = read(plan.as_bytes(), &options).unwrap();
    assert!(read_.findings[0].message.contains("no file was given for it"), "{:?}", told(&read_));
}

#[test]
fn a_sheets_own_reference_says_nothing_about_the_plan() {
    let paper = placed("D", "XREF", "67|1|");
    let read = read_with(&drawing(MM, "", &refers("D", "d", 4), &(LINE.to_owned() + &paper)), &[]);
    assert_eq!((read.entities.len(), told(&read)), (1, vec![]));
    let read = read_with(&drawing(MM, "", &refers("D", "d", 4), &paper), &[]);
    assert_eq!(told(&read), []);
}

#[test]
fn heights_are_kept_through_blocks_and_upside_down() {
    let block = format!("0|BLOCK|8|0|2|B|70|0|10|0|20|0|{}0|ENDBLK|", LINE.replace("20|2|", "20|2|30|5|"));
    let entities = [
        LINE.replace("20|2|", "20|2|30|7|"),
        "0|LWPOLYLINE|8|EDGE|38|-4|10|0|20|0|10|1|20|0|".to_owned(),
        "0|LWPOLYLINE|8|EDGE|38|-4|10|0|20|0|10|1|20|0|210|0|220|0|230|-1|".to_owned(),
        "0|POLYLINE|8|EDGE|66|1|10|0|20|0|30|9|70|0|0|VERTEX|8|EDGE|10|0|20|0|0|VERTEX|8|EDGE|10|1|20|0|0|SEQEND|"
            .to_owned(),
        "0|ARC|8|EDGE|10|0|20|0|30|3|40|1|50|0|51|90|".to_owned(),
        "0|INSERT|8|EDGE|2|B|10|0|20|0|30|100|43|2|".to_owned(),
        "0|TEXT|8|EDGE|10|0|20|0|30|8|1|x|".to_owned(),
    ];
    let read = read_with(&drawing(IN, "", &block, &entities.concat()), &[]);
    let inches = |z: f64| (z / 25.4 * 1e9).round() / 1e9;
    let inches: Vec<_> = read.entities.iter().map(|e| e.heights.map(|h| h.map(inches))).collect();
    let expected =
        [Some([0.0, 7.0]), Some([-4.0; 2]), Some([4.0; 2]), Some([9.0; 2]), Some([3.0; 2]), Some([100.0, 110.0]), None];
    assert_eq!(inches, expected);
    let ends: Vec<_> = read.entities.iter().filter_map(|e| e.ends).map(|h| h.map(|z| (z / 25.4).round())).collect();
    assert_eq!(ends[0], [7.0, 0.0]);
    assert_eq!(ends[5], [110.0, 100.0]);
}

/// User coordinate systems say how a program shows and takes points; entities stand in world coordinates (DXF reference,
/// "Object Coordinate Systems").
#[test]
fn user_coordinate_systems_move_nothing() {
    let ucs = "9|$UCSNAME|2|DECK|9|$UCSORG|10|500|20|300|30|10|9|$UCSXDIR|10|0|20|1|30|0|9|$UCSYDIR|10|-1|20|0|30|0|9|$ELEVATION|40|12|9|$PUCSORG|10|7|20|7|30|7|";
    let table = "0|SECTION|2|TABLES|0|TABLE|2|UCS|70|1|0|UCS|2|DECK|70|0|10|500|20|300|30|10|11|0|21|1|31|0|12|-1|22|0|32|0|0|ENDTAB|0|ENDSEC|".replace('|', "\n");
    let text = drawing(MM, ucs, "", LINE);
    let text = text.replacen("0\nSECTION\n2\nBLOCKS", &(table + "0\nSECTION\n2\nBLOCKS"), 1);
    let (with, without) = (read_with(&text, &[]), read_with(&drawing(MM, "", "", LINE), &[]));
    assert_eq!(with.entities[0].shape, without.entities[0].shape);
    assert_eq!(with.entities[0].heights, Some([0.0; 2]));
}
