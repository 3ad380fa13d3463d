//! Whole drawings: where things lie, what marks them, and records for another's file.

use std::collections::{BTreeMap, BTreeSet};

use super::*;
use crate::base::plane::point;
use crate::base::{Angle, Unit};
use crate::sheet::Shape;

type Group = (u16, String);

/// Records of ASCII bytes: each begins with its group 0.
fn split(bytes: &[u8]) -> Vec<Vec<Group>> {
    let text = String::from_utf8_lossy(bytes);
    let lines: Vec<&str> = text.lines().collect();
    let mut records: Vec<Vec<Group>> = Vec::new();
    for pair in lines.chunks(2) {
        let group = (pair[0].trim().parse().unwrap(), pair[1].to_owned());
        match records.last_mut() {
            Some(record) if group.0 != 0 => record.push(group),
            _ => records.push(vec![group]),
        }
    }
    records
}

fn value(record: &[Group], code: u16) -> Option<&str> {
    record.iter().find(|(c, _)| *c == code).map(|(_, value)| value.as_str())
}

fn number(record: &[Group], code: u16) -> f64 {
    value(record, code).unwrap().parse().unwrap()
}

fn of_kind<'r>(records: &'r [Vec<Group>], kind: &str) -> Vec<&'r Vec<Group>> {
    records.iter().filter(|record| record[0].1 == kind).collect()
}

fn whole(frame: &Frame, options: &DxfOptions) -> Vec<u8> {
    let (plan, elevation) = (sample::plan(), sample::elevation());
    document(&sample::placed(&plan, &elevation), &[], frame, options)
}

#[test]
fn the_plan_lies_on_the_users_coordinates() {
    for (unit, origin) in [
        (Unit::Inch, point(0.0, 0.0)),
        (Unit::Foot, point(-1234.5, 99.0)),
        (Unit::Millimetre, point(250_000.25, -90_000.0)),
        (Unit::Metre, point(456_789.125, 5_432_109.75)),
    ] {
        let frame = Frame { unit, origin };
        let records = split(&whole(&frame, &DxfOptions::default()));
        let plan = sample::plan();
        let posts = plan.items.iter().filter_map(|item| match &item.shape {
            Shape::Post(post) => Some(post),
            _ => None,
        });
        let inserts = of_kind(&records, "INSERT");
        assert_eq!(inserts.len(), 4, "three posts and a tag");
        for (post, insert) in posts.zip(inserts) {
            let at = frame.to_drawing(post.at);
            // Ten decimals are written; a metre plan in survey coordinates has only nine that mean anything.
            assert!((number(insert, 10) - at.x).abs() < 1e-9 && (number(insert, 20) - at.y).abs() < 2e-9);
        }
        let hole = of_kind(&records, "CIRCLE")[0];
        assert!((number(hole, 40) - 3.0 / unit.millimetres()).abs() < 1e-9);
    }
}

#[test]
fn everything_in_the_model_space_says_what_it_shows() {
    for version in [Version::R12, Version::R2000, Version::R2018] {
        let records = split(&whole(&Frame::default(), &DxfOptions { version, ..DxfOptions::default() }));
        let start = records.iter().position(|record| value(record, 2) == Some("ENTITIES")).unwrap();
        let parts = ["VERTEX", "ATTRIB", "SEQEND"];
        let heads: Vec<_> = records[start + 1..]
            .iter()
            .take_while(|record| record[0].1 != "ENDSEC")
            .filter(|record| !parts.contains(&record[0].1.as_str()))
            .collect();
        for head in &heads {
            let mark: Vec<_> = head.iter().skip_while(|(code, _)| *code != 1001).collect();
            let codes: Vec<u16> = mark.iter().map(|(code, _)| *code).collect();
            assert_eq!(codes, [1001, 1000, 1000, 1070], "{head:?}");
            assert_eq!((mark[0].1.as_str(), mark[3].1.as_str()), ("PLUMBRAIL", "1"));
        }
        let shown = |kind: &str, id: &str| {
            let pair = [(1000, kind.to_owned()), (1000, id.to_owned())];
            heads.iter().filter(|head| head.windows(2).any(|w| w == pair)).count()
        };
        let others = if version < Version::R13 { 7 } else { 6 };
        assert_eq!((shown("post", "P2"), shown("span", "S2"), shown("drawing", "plan")), (1, 1, others));
    }
}

#[test]
fn a_post_carries_its_id_and_kind_as_hidden_attributes() {
    let records = split(&whole(&Frame::default(), &DxfOptions::default()));
    let at = records.iter().position(|record| record[0].1 == "INSERT").unwrap();
    assert_eq!(value(&records[at], 2), Some("RAIL-POST-4_5IN"));
    let attributes: Vec<_> =
        records[at + 1..at + 3].iter().map(|r| (value(r, 2).unwrap(), value(r, 1).unwrap(), value(r, 70))).collect();
    assert_eq!(attributes, [("ID", "P1", Some("1")), ("KIND", "end", Some("1"))]);
}

#[test]
fn a_tag_is_a_block_with_what_a_list_of_panels_needs_and_a_text_that_all_programs_draw() {
    let frame = Frame { unit: Unit::Foot, origin: point(5.0, 5.0) };
    let records = split(&whole(&frame, &DxfOptions::default()));
    let at = records.iter().position(|r| r[0].1 == "INSERT" && value(r, 2) == Some("RAIL-TAG-1X0_75FT")).unwrap();
    // 12 x 9 in about (46, 12.5) in.
    let tag = [(10, 5.0 + 46.0 / 12.0), (20, 5.0 + 12.5 / 12.0)];
    assert!(tag.iter().all(|(code, wanted)| (number(&records[at], *code) - wanted).abs() < 1e-9), "{:?}", records[at]);
    let attributes: Vec<_> =
        records[at + 1..at + 4].iter().map(|r| (value(r, 2).unwrap(), value(r, 1).unwrap(), value(r, 70))).collect();
    let hidden = Some("1");
    assert_eq!(attributes, [("ID", "S1", hidden), ("SPAN", "5'-3\"", hidden), ("KIT", "Kit 8 ft", hidden)]);
    let text = &records[at + 5];
    assert_eq!((text[0].1.as_str(), value(text, 1)), ("TEXT", Some("S1")));
    assert!(text.windows(2).any(|w| w[0].1 == "tag" && w[1].1 == "S1"), "{text:?}");
}

/// Capitals of 4.5 in, base lines 8 in apart: 8 / (4.5 · 5/3) (closed form of MTEXT group 44).
#[test]
fn a_paragraph_is_one_text_with_the_sheets_own_lines() {
    let records = split(&whole(&Frame::default(), &DxfOptions::default()));
    let [paragraph] = of_kind(&records, "MTEXT")[..] else { panic!() };
    assert_eq!(
        (value(paragraph, 3), value(paragraph, 1)),
        (Some("Two lines \\{of\\} one\\P"), Some("paragraph \\\\P \u{fffd}"))
    );
    assert_eq!((number(paragraph, 20), number(paragraph, 40), number(paragraph, 41)), (-17.5, 4.5, 0.0));
    assert!((number(paragraph, 44) - 8.0 / 7.5).abs() < 1e-9);
}

#[test]
fn a_dimension_measures_what_its_block_shows() {
    let frame = Frame::default();
    let records = split(&whole(&frame, &DxfOptions::default()));
    let dimensions = of_kind(&records, "DIMENSION");
    let blocks: Vec<&str> = dimensions.iter().map(|d| value(d, 2).unwrap()).collect();
    assert_eq!(blocks, ["*D1", "*D2", "*D3"]);
    assert_eq!(number(dimensions[0], 42), 91.5);
    assert_eq!(value(dimensions[0], 1), Some("7'-7-1/2\""));
    assert_eq!(value(dimensions[2], 1), Some("7'-0\""));
    assert_eq!(number(dimensions[1], 50), 45.0);
    // The line's point (10) lies square to the second point (14) across a dimension at 45 degrees.
    let second = dimensions[1];
    let across = (number(second, 10) - number(second, 14), number(second, 20) - number(second, 24));
    assert!((across.0 + across.1).abs() < 1e-9 && across.0.hypot(across.1) > 1.0);
}

fn ties() -> Ties {
    Ties {
        app_ids: Handle(0xA1),
        linetypes: Handle(0xA2),
        layers: Handle(0xA3),
        styles: Handle(0xA4),
        dimension_styles: Handle(0xA5),
        block_records: Handle(0xA6),
        model_space: Handle(0xA7),
        plot_style: None,
        layer_names: BTreeMap::new(),
        layers_there: BTreeSet::new(),
        taken: Taken::default(),
        first_dimension: 7,
        linetype_scale: 2.0,
    }
}

fn for_another(target: &Target, ties: &Ties) -> (Records, Handles) {
    let (plan, elevation) = (sample::plan(), sample::elevation());
    let mut handles = Handles::starting_at(0x1000);
    let records = records(&sample::placed(&plan, &elevation), &[], &Frame::default(), target, ties, &mut handles);
    (records, handles)
}

#[test]
fn records_hang_on_the_owners_of_the_file_they_go_into() {
    let target = Target::new(Version::R2000, false, Newline::CrLf);
    let (records, handles) = for_another(&target, &ties());
    for (table, owner) in [
        (&records.app_ids, "A1"),
        (&records.linetypes, "A2"),
        (&records.layers, "A3"),
        (&records.styles, "A4"),
        (&records.dimension_styles, "A5"),
        (&records.block_records, "A6"),
    ] {
        assert!(!table.is_empty());
        for record in table {
            assert_eq!(value(&split(&record.bytes)[0], 330), Some(owner), "{}", record.name);
        }
    }
    let entities = split(&records.entities);
    assert!(entities.iter().filter(|e| value(e, 330) == Some("A7")).count() > 30);
    let own = entities.iter().filter_map(|e| u64::from_str_radix(value(e, 5)?, 16).ok());
    assert!(own.clone().all(|handle| handle >= 0x1000 && Handle(handle) < handles.seed()));
    let names: Vec<&str> = records.blocks.iter().map(|block| block.name.as_str()).collect();
    assert_eq!(names, ["RAIL-POST-4_5IN", "*D7", "*D8", "RAIL-TAG-12X9IN", "*D9"]);
    // 8 mm on paper at 1:48 in inches, under the file's own scale of 2.
    let centre = split(&records.linetypes[0].bytes).remove(0);
    assert!((number(&centre, 49) - 8.0 * 48.0 / 25.4 / 2.0).abs() < 1e-9);
    let detail = entities.iter().filter_map(|e| value(e, 48)).collect::<Vec<_>>();
    assert_eq!(detail, ["0.25"]);
}

#[test]
fn a_file_without_handles_gets_none_and_no_later_groups() {
    let target = Target { handles: false, ..Target::new(Version::R12, false, Newline::Lf) };
    let (records, _) = for_another(&target, &ties());
    assert!(records.block_records.is_empty());
    let tables = [&records.layers, &records.styles, &records.dimension_styles, &records.blocks];
    let tables = tables.into_iter().flatten().flat_map(|record| split(&record.bytes));
    for record in tables.chain(split(&records.entities)) {
        let later = record.iter().find(|(code, _)| [5, 105, 330, 100, 370, 48].contains(code));
        assert_eq!(later, None, "{record:?}");
    }
}

#[test]
fn other_names_are_used_throughout() {
    let mut ties = ties();
    ties.layer_names = [(Layer::Post, "A-FLOOR-POST".to_owned()), (Layer::Text, "there".to_owned())].into();
    ties.layers_there = ["THERE".to_owned()].into();
    let set = |names: &[&str]| names.iter().map(|name| (*name).to_owned()).collect();
    ties.taken = Taken {
        linetypes: set(&["RAIL-HIDDEN"]),
        styles: set(&["RAIL-TEXT"]),
        dimension_styles: set(&["RAIL-DIM-48-2_381"]),
        blocks: set(&["RAIL-POST-4_5IN", "RAIL-POST-4_5IN-2"]),
    };
    let target = Target::new(Version::R2000, false, Newline::Lf);
    let (records, _) = for_another(&target, &ties);
    let blocks = records.blocks.iter().flat_map(|block| split(&block.bytes));
    let all: Vec<Vec<Group>> = blocks.chain(split(&records.entities)).collect();
    for (code, ours, own) in [
        (8, "RAIL-POST", "A-FLOOR-POST"),
        (8, "RAIL-TEXT", "there"),
        (6, "RAIL-HIDDEN", "RAIL-HIDDEN-2"),
        (7, "RAIL-TEXT", "RAIL-TEXT-2"),
        (3, "RAIL-DIM-48-2_381", "RAIL-DIM-48-2_381-2"),
        (2, "RAIL-POST-4_5IN", "RAIL-POST-4_5IN-3"),
    ] {
        let uses = |name: &str| all.iter().flatten().filter(|(c, value)| *c == code && value == name).count();
        assert_eq!(uses(ours), 0, "{ours}");
        assert!(uses(own) > 0, "{own}");
    }
    let layers: Vec<&str> = records.layers.iter().map(|layer| layer.name.as_str()).collect();
    assert!(layers.contains(&"A-FLOOR-POST") && !layers.contains(&"there"), "{layers:?}");
}

#[test]
fn the_same_input_gives_the_same_bytes() {
    let options = DxfOptions::default();
    assert_eq!(whole(&Frame::default(), &options), whole(&Frame::default(), &options));
}

#[test]
fn shapes_without_extent_are_left_out() {
    let mut plan = sample::plan();
    plan.items.retain(|item| matches!(item.shape, Shape::Line(..)));
    let line = plan.items[0].clone();
    let nothing = [
        Shape::Path { points: vec![Point::default()], closed: true, filled: false },
        Shape::Path { points: Vec::new(), closed: true, filled: true },
        Shape::Circle { centre: Point::default(), radius: 0.0 },
        Shape::Arc { centre: Point::default(), radius: 0.0, from: Angle::ZERO, to: Angle::from_degrees(9.0) },
        Shape::Text(sample::text(Point::default(), 1.0, crate::sheet::Align::Left, crate::sheet::VAlign::Base, " ")),
    ];
    plan.items.extend(nothing.map(|shape| crate::sheet::Item { shape, ..line.clone() }));
    let placed = [Placed { drawing: &plan, at: Point::default() }];
    let records = split(&document(&placed, &[], &Frame::default(), &DxfOptions::default()));
    let start = records.iter().position(|record| value(record, 2) == Some("ENTITIES")).unwrap();
    assert_eq!(records[start + 2][0].1, "ENDSEC");
}

/// An outside reader counts the same entities in every version and form.
#[test]
fn the_dxf_crate_reads_what_we_write() {
    let (plan, elevation) = (sample::plan(), sample::elevation());
    // The L of the elevation is filled by four triangles.
    let expected = plan.items.len() + elevation.items.len() + 3;
    for (version, name) in Version::KNOWN {
        for binary in [false, true] {
            let options = DxfOptions { version, binary, ..DxfOptions::default() };
            let bytes = whole(&Frame::default(), &options);
            let read = dxf::Drawing::load(&mut std::io::Cursor::new(bytes)).unwrap_or_else(|e| panic!("{name}: {e}"));
            // It takes no DIMENSION without subclass markers.
            let dimensions = if version < Version::R13 { 3 } else { 0 };
            // There a paragraph is its two lines.
            let lines = usize::from(version < Version::R13);
            assert_eq!(read.entities().count() + dimensions, expected + lines, "{name} {binary}");
            let post = read.entities().find_map(|entity| match &entity.specific {
                dxf::entities::EntityType::Insert(insert) => Some(insert.clone()),
                _ => None,
            });
            let post = post.unwrap();
            assert_eq!((post.name.as_str(), post.attributes().count()), ("RAIL-POST-4_5IN", 2), "{name} {binary}");
        }
    }
}

#[test]
fn each_page_is_a_layout_and_its_views_are_windows_at_scale() {
    let (plan, elevation) = (sample::plan(), sample::elevation());
    let placed = sample::placed(&plan, &elevation);
    for (unit, paper_mm) in [(Unit::Foot, 25.4), (Unit::Metre, 1.0)] {
        let frame = Frame { unit, origin: point(100.0, -7.0) };
        let records = split(&document(&placed, &sample::pages(), &frame, &DxfOptions::default()));
        let layouts: Vec<_> = of_kind(&records, "LAYOUT").into_iter().filter(|r| r[0].0 == 0).collect();
        let name = |layout: &&&Vec<Group>| {
            let own = layout.iter().skip_while(|(_, value)| value != "AcDbLayout");
            own.clone().find(|(code, _)| *code == 1).unwrap().1.clone()
        };
        let names: Vec<String> = layouts.iter().map(|l| name(&l)).collect();
        // The quotation marks of the title are no part of a name, and case does not tell two apart.
        assert_eq!(names, ["Model", "R1 Plan \u{fffd}", "R2 Panel", "R2 panel (2)", "Layout1"]);
        let windows = of_kind(&records, "VIEWPORT");
        let numbers: Vec<_> = windows.iter().map(|w| value(w, 69).unwrap()).collect();
        // In the blocks of the sheets; a drawing that stands nowhere has none.
        assert_eq!(numbers, ["1", "2", "1", "2", "1"]);
        for (window, drawing, at) in [(windows[3], &elevation, placed[1].at), (windows[1], &plan, placed[0].at)] {
            let scale = number(window, 45) / number(window, 41) * unit.millimetres() / paper_mm;
            assert!((scale - drawing.paper).abs() < 1e-9, "{scale}");
            let wide = number(window, 40) * paper_mm * drawing.paper;
            let left = number(window, 12) - wide / unit.millimetres() / 2.0;
            let low = if drawing.name == "plan" { drawing.low } else { point(-2.0, -9.0) * 25.4 };
            assert!((left - frame.to_drawing(low + at).x).abs() < 1e-9);
        }
        // Everything on the sheets says that it stands on paper, and nothing in the model does.
        let spaces = of_kind(&records, "BLOCK_RECORD");
        let model = value(spaces.iter().find(|r| value(r, 2) == Some("*Model_Space")).unwrap(), 5);
        let mut paper = records.iter().filter(|record| value(record, 67) == Some("1"));
        assert!(paper.clone().count() > 30 && paper.all(|record| value(record, 330) != model));
        // Nothing stands in the current paper space, which many programs draw over the model.
        let start = records.iter().position(|record| value(record, 2) == Some("ENTITIES")).unwrap();
        let mut entities = records[start + 1..].iter().take_while(|record| value(record, 0) != Some("ENDSEC"));
        assert!(entities.clone().count() > 10 && entities.all(|record| value(record, 67).is_none()));
    }
}
