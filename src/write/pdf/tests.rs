//! Sheets as PDF: what stands in the file, to the number.

use super::*;
use crate::base::Angle;
use crate::base::plane::point;
use crate::sheet::{Align, Item, Linetype, Shape, TextSpec};
use crate::write::paper::FACES;
use crate::write::sample_page::{item, page, sheet, text};

fn content(page: &Page) -> Vec<String> {
    let fonts = Fonts::of(std::slice::from_ref(page), &mut Ref::new(1));
    String::from_utf8(content::of(page, &fonts)).unwrap().lines().map(str::to_owned).collect()
}

fn file(pages: &[Page], facts: &PdfFacts) -> String {
    String::from_utf8_lossy(&document(pages, &BTreeMap::new(), facts)).into_owned()
}

fn numbers(line: &str) -> Vec<f64> {
    line.split([' ', '[', ']']).filter_map(|word| word.parse().ok()).collect()
}

/// Numbers behind a key.
fn after<'a>(file: &'a str, key: &str) -> Vec<&'a str> {
    file.split(key).skip(1).map(|rest| rest.split(['\n', '>']).next().unwrap().trim()).collect()
}

fn near(a: f64, b: f64, within: f64) -> bool {
    (a - b).abs() <= within
}

/// 612 x 792 and 595.2756 x 841.8898 points (closed form: 72/25.4).
#[test]
fn a_page_is_as_large_as_its_paper_to_a_thousandth_of_a_point() {
    let sized = |width, height| Page { size: point(width, height), ..sheet(Vec::new()) };
    let file = file(&[sized(215.9, 279.4), sized(210.0, 297.0)], &PdfFacts::default());
    for key in ["/MediaBox", "/TrimBox"] {
        let boxes: Vec<Vec<f64>> = after(&file, key).into_iter().map(numbers).collect();
        assert_eq!(boxes.len(), 2, "{key}");
        for (got, wanted) in boxes.iter().flatten().zip([0.0, 0.0, 612.0, 792.0, 0.0, 0.0, 595.2756, 841.8898]) {
            assert!(near(*got, wanted, 0.0005), "{key} {got} {wanted}");
        }
    }
}

#[test]
fn ten_millimetres_are_28_346_points() {
    let line = Shape::Line(point(10.0, 20.0), point(40.0, 20.0));
    let lines = content(&sheet(vec![item(Layer::Panel, line)]));
    let scale = numbers(&lines[0]);
    assert!(lines[0].ends_with(" cm") && scale[0] == scale[3] && scale[1..3] == [0.0, 0.0], "{}", lines[0]);
    let begin = numbers(lines.iter().find(|l| l.ends_with(" m")).unwrap());
    assert!(near(begin[0] * scale[0], 28.3465, 0.0001) && near(begin[1] * scale[0], 56.6929, 0.0001));
}

#[test]
fn pens_colours_and_dashes_are_those_of_the_layer_and_item() {
    let line = || Shape::Line(point(0.0, 0.0), point(1.0, 0.0));
    let hidden = Item { linetype: Some(Linetype::Hidden), ..item(Layer::Panel, line()) };
    let lines = content(&sheet(vec![item(Layer::Line, line()), hidden, item(Layer::Panel, line())]));
    let wanted = [
        "1 j",
        "/OC /RAIL-LINE BDC",
        "0.702 0.149 0.118 RG 0.702 0.149 0.118 rg 0.25 w",
        "[8 1.5 1.5 1.5] 0 d",
        "0 0 m",
        "1 0 l",
        "S",
        "[] 0 d",
        "EMC",
        "/OC /RAIL-PANEL BDC",
        "0.067 0.067 0.067 RG 0.067 0.067 0.067 rg 0.35 w",
        "[2.5 1.2] 0 d",
        "0 0 m",
        "1 0 l",
        "S",
        "[] 0 d",
        "0 0 m",
        "1 0 l",
        "S",
        "EMC",
    ];
    assert_eq!(lines[1..], wanted);
}

#[test]
fn a_view_that_is_a_part_is_cut_off_and_lies_below_the_ink() {
    let lines = content(&page());
    let text = lines.join("\n");
    assert_eq!(lines.iter().filter(|l| *l == "q 20 10 20 20 re W n").count(), 3, "{text}");
    assert_eq!(lines.iter().filter(|l| *l == "Q").count(), 3);
    // The wall behind, then the frame of the sheet.
    assert!(
        text.contains("q 20 10 20 20 re W n\n20 10 m\n40 30 l\nS\nQ\n5 5 m\n95 5 l\n95 45 l\n5 45 l\ns\nEMC"),
        "{text}"
    );
    assert!(text.contains("10 20 m\n50 20 l\nS"), "the rail runs on under the cut");
    // White inside.
    assert!(text.contains("1 g\n28 18 m\n32 18 l\n32 22 l\n28 22 l\nb\n0.067 0.067 0.067 rg"), "{text}");
    let mut whole = page();
    whole.views[0].window = (point(0.0, 0.0), point(400.0, 200.0));
    assert!(content(&whole).iter().all(|l| !l.contains("re W n")));
}

/// `H` is 1386 of 2048 units wide in the regular face, 1542 in the bold one (their `hmtx` tables).
#[test]
fn texts_are_centred_and_right_aligned_by_the_advance_of_the_font() {
    let place = |align, bold, turn| {
        let spec = text(point(50.0, 30.0), align, "HH");
        let spec = TextSpec { bold, rotation: Angle::from_degrees(turn), ..spec };
        let lines = content(&sheet(vec![item(Layer::Text, Shape::Text(spec))]));
        let line = lines.iter().find(|l| l.starts_with("BT")).unwrap().clone();
        assert!(line.starts_with(if bold { "BT /F1 10 Tf " } else { "BT /F0 10 Tf " }), "{line}");
        let all = numbers(line.split(" Tf ").nth(1).unwrap());
        (all[4], all[5])
    };
    let wide = 2.0 * 1386.0 / 2048.0 * 10.0;
    assert_eq!(place(Align::Left, false, 0.0), (50.0, 30.0));
    assert!(near(place(Align::Centre, false, 0.0).0, 50.0 - wide / 2.0, 0.0006));
    assert!(near(place(Align::Right, false, 0.0).0, 50.0 - wide, 0.0006));
    assert!(near(place(Align::Right, false, 90.0).1, 30.0 - wide, 0.0006));
    assert!(near(place(Align::Right, true, 0.0).0, 50.0 - 2.0 * 1542.0 / 2048.0 * 10.0, 0.0006));
}

#[test]
fn arcs_leave_the_circle_by_less_than_five_micrometres_at_a_metre() {
    let (from, to) = (Angle::from_degrees(-100.0), Angle::from_degrees(80.0));
    let arc = Shape::Arc { centre: point(10.0, 0.0), radius: 1000.0, from, to };
    let lines = content(&sheet(vec![item(Layer::Panel, arc)]));
    let mut at = numbers(lines.iter().find(|l| l.ends_with(" m")).unwrap());
    let (mut curves, mut worst) = (0, 0.0_f64);
    for curve in lines.iter().filter(|l| l.ends_with(" c")) {
        let c = numbers(curve);
        for i in 0..=100 {
            let t = f64::from(i) / 100.0;
            let one = |k: usize| {
                let (a, b) = (3.0 * t * (1.0 - t).powi(2), 3.0 * t * t * (1.0 - t));
                at[k] * (1.0 - t).powi(3) + c[k] * a + c[k + 2] * b + c[k + 4] * t.powi(3)
            };
            worst = worst.max(((one(0) - 10.0).hypot(one(1)) - 1000.0).abs());
        }
        at = c[4..].to_vec();
        curves += 1;
    }
    assert_eq!(curves, 4, "an eighth of a turn each");
    assert!(worst < 0.005, "{worst}");
    let end = to.radians().sin_cos();
    assert!(near(at[0], 10.0 + 1000.0 * end.1, 0.001) && near(at[1], 1000.0 * end.0, 0.001), "{at:?}");
}

#[test]
fn layers_that_are_used_can_be_switched_by_the_names_of_the_job() {
    let names = BTreeMap::from([(Layer::Panel, "A-FLOR-HRAL".to_owned())]);
    let bytes = document(&[page()], &names, &PdfFacts::default());
    let file = String::from_utf8_lossy(&bytes);
    let groups: Vec<&str> = file.split("/Type /OCG").skip(1).map(|g| g.split("/Name (").nth(1).unwrap()).collect();
    let groups: Vec<&str> = groups.into_iter().map(|g| g.split(')').next().unwrap()).collect();
    assert_eq!(groups, ["RAIL-SHEET", "A-FLOR-HRAL", "RAIL-POST", "RAIL-TEXT"]);
}

#[test]
fn characters_that_no_face_holds_are_boxes_that_keep_their_meaning() {
    let page = sheet(vec![item(Layer::Text, Shape::Text(text(point(0.0, 0.0), Align::Left, "A板😀\u{0}\n")))]);
    let fonts = Fonts::of(std::slice::from_ref(&page), &mut Ref::new(1));
    // Space, A, two boxes, in the order of Unicode; the control character is gone.
    let (font, shown, advance) = fonts.set("A板😀\u{0}\n", false);
    assert_eq!((font, shown.as_str()), ("F0", "0002000300040001"));
    let face = ttf_parser::Face::parse(FACES[0], 0).unwrap();
    let units = |c: char| f64::from(face.glyph_hor_advance(face.glyph_index(c).unwrap()).unwrap()) / 2048.0;
    assert!(near(advance, units('A') + 2.0 * units('□') + units(' '), 1e-9));
    assert!(face.glyph_bounding_box(face.glyph_index('□').unwrap()).is_some_and(|b| b.width() > 1000));
    assert!(document(&[page], &BTreeMap::new(), &PdfFacts::default()).len() > 1000);
}

#[test]
fn both_faces_hold_what_sheets_say() {
    let wanted = "AZaz09ÄßéñŁşőΑΩαωАЯая½¼¾⅛⅝′″–—…⌀°±∠×≤≥·²Δµ“”’←→↑↓↔√≈≠−€№□✓✕";
    for bytes in FACES {
        let face = ttf_parser::Face::parse(bytes, 0).unwrap();
        let missing: String = wanted.chars().filter(|c| face.glyph_index(*c).is_none()).collect();
        assert!(missing.is_empty(), "{missing}");
        let capital = face.glyph_bounding_box(face.glyph_index('H').unwrap()).unwrap();
        assert_eq!(f64::from(capital.y_max) / f64::from(face.units_per_em()), paper::CAPITALS);
        assert!(bytes.len() < 100_000);
    }
}

#[test]
fn the_document_says_what_it_is_and_no_date() {
    let facts = PdfFacts {
        title: "Deck <1> & rail".to_owned(),
        author: Some("A. B.".to_owned()),
        subject: Some("Guard".to_owned()),
        keywords: Some("deck, rail".to_owned()),
    };
    let file = file(&[page(), page()], &facts);
    for part in [
        "/Title (Deck <1> & rail)",
        "/Author (A. B.)",
        "/Subject (Guard)",
        "/Keywords (deck, rail)",
        "<rdf:li xml:lang=\"x-default\">Deck &lt;1&gt; &amp; rail</rdf:li>",
        "<dc:creator><rdf:Seq><rdf:li>A. B.</rdf:li></rdf:Seq></dc:creator>",
        "/PrintScaling /None",
        "/Title (R1 Plan <a & b>)",
        "/Count 2",
    ] {
        assert!(file.contains(part), "{part}");
    }
    assert!(!file.contains("Date"), "a date would be one of the clock");
}

#[test]
fn the_same_sheets_are_the_same_bytes_and_no_sheets_are_a_document() {
    let make = || document(&[page(), page()], &BTreeMap::new(), &PdfFacts::default());
    assert_eq!(make(), make());
    assert!(document(&[], &BTreeMap::new(), &PdfFacts::default()).starts_with(b"%PDF-1.7"));
}
