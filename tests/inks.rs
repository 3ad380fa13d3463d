//! Sheets of paper: the same page as PDF and as SVG shows the same, for readers that are not ours.

use std::collections::BTreeMap;
use std::fs;
use std::path::{Path, PathBuf};

use plumbrail::base::plane::point;
use plumbrail::base::{Angle, Point};
use plumbrail::sheet::{self, Align, Anchor, Drawing, Item, Layer, Linetype, Page, Shape, TextSpec, VAlign, View};
use plumbrail::{lay_out, write};

use crate::interop::{root, scratch, script, settings};

/// Room round a drawing, mm.
const MARGIN: f64 = 12.0;

fn item(layer: Layer, shape: Shape) -> Item {
    Item { layer, linetype: None, object: None, shape }
}

/// A frame, and each way in which a text can hang, with characters from all over.
fn ink(size: Point) -> Vec<Item> {
    let corners = vec![point(5.0, 5.0), point(size.x - 5.0, 5.0), size - point(5.0, 5.0), point(5.0, size.y - 5.0)];
    let mut items = vec![item(Layer::Sheet, Shape::Path { points: corners, closed: true, filled: false })];
    let contents = ["⌀ 5/32\" ½ ±0.5° ≤ 4 × 90", "Žluťoučký Ελλάδα Палуба", "甲板 😀 <&> \\(", "AVATAR Type"];
    let aligns = [Align::Left, Align::Centre, Align::Right, Align::Centre];
    for (i, (content, align)) in contents.into_iter().zip(aligns).enumerate() {
        let (step, bold) = (i as f64, i % 2 == 1);
        for (valign, turn) in [(VAlign::Base, 0.0), (VAlign::Middle, 90.0), (VAlign::Top, -37.5)] {
            let spec = TextSpec {
                at: point(size.x / 2.0, 20.0 + 6.0 * step),
                height: 2.5 + step,
                rotation: Angle::from_degrees(turn),
                anchor: Anchor { align, valign },
                content: content.to_owned(),
                bold,
            };
            items.push(item(Layer::Text, Shape::Text(spec)));
        }
    }
    items
}

/// Arcs of every size, whole and dashed, and a filled path.
fn curves() -> Vec<Item> {
    let mut items = Vec::new();
    for turn in [1.0, 44.0, 46.0, 180.0, 359.0] {
        let (from, to) = (Angle::from_degrees(200.0), Angle::from_degrees(200.0 + turn));
        let arc = Shape::Arc { centre: point(40.0, 40.0), radius: 10.0 + turn / 20.0, from, to };
        items.push(Item { linetype: Some(Linetype::Hidden), ..item(Layer::Panel, arc) });
    }
    items.push(item(Layer::Line, Shape::Circle { centre: point(40.0, 40.0), radius: 5.0 }));
    let points = vec![point(40.0, 40.0), point(43.0, 41.0), point(43.0, 39.0)];
    items.push(item(Layer::Note, Shape::Path { points, closed: true, filled: true }));
    items
}

fn page(number: usize, view: View) -> Page {
    let size = view.size() + point(2.0 * MARGIN, 2.0 * MARGIN);
    let title = format!("Sheet of {} <&>", view.drawing.name);
    let mut items = ink(size);
    items.extend(curves());
    let name = format!("R{number}");
    let ink = Drawing {
        name: name.clone(),
        title: title.clone(),
        paper: 1.0,
        low: point(0.0, 0.0),
        high: size,
        parts: Vec::new(),
        items,
    };
    Page { number: name, title, size, ink, views: vec![view] }
}

/// Plan with the deck behind it, the middle of it, elevations and tables of some fixtures.
fn pages() -> Vec<Page> {
    let at = point(MARGIN, MARGIN);
    let mut views = Vec::new();
    for fixture in ["lakeside", "curved", "stair-lines", "metric"] {
        let plan = fs::read(root().join("fixtures").join(fixture).join("plan.dxf")).unwrap();
        let outcome = lay_out(&plan, "plan.dxf", &settings(None)).unwrap();
        let set = sheet::compose(&outcome.plan, &outcome.layout, &outcome.findings);
        let whole = View { behind: set.background.clone(), ..View::whole(set.plan.clone(), at) };
        let (low, high) = whole.window;
        let middle = (low + (high - low) * 0.3, low + (high - low) * 0.8);
        views.push(View { window: middle, ..whole.clone() });
        views.push(whole);
        let drawings = set.elevations.into_iter().take(3).chain([set.section]);
        views.extend(drawings.map(|drawing| View::whole(drawing, at)));
    }
    views.into_iter().enumerate().map(|(index, view)| page(index + 1, view)).collect()
}

/// Writes sheets as PDF and as SVG, and has them compared. Gives what the check says.
fn compared(folder: &Path, pages: &[Page], names: &BTreeMap<Layer, String>) -> String {
    let facts = write::pdf::PdfFacts {
        title: "Deck <&> rail".to_owned(),
        author: Some("Č. D.".to_owned()),
        subject: None,
        keywords: Some("rail, deck".to_owned()),
    };
    let pdf = folder.join("sheets.pdf");
    fs::write(&pdf, write::pdf::document(pages, names, &facts)).unwrap();
    let svg = |page: &Page| {
        let file = folder.join(format!("{}.svg", page.number));
        fs::write(&file, write::svg::page(page, names)).unwrap();
        file
    };
    let files: Vec<PathBuf> = pages.iter().map(svg).collect();
    let mut args: Vec<&dyn AsRef<std::ffi::OsStr>> = vec![&pdf];
    args.extend(files.iter().map(|f| f as &dyn AsRef<std::ffi::OsStr>));
    script("check_pages.py", &args)
}

#[test]
fn pdf_and_svg_show_the_same_and_qpdf_and_pdfium_read_it() {
    let pages = pages();
    let names = BTreeMap::from([(Layer::Panel, "A-FLOR-HRAL".to_owned())]);
    let last = compared(&scratch("inks"), &pages, &names);
    assert!(last.starts_with(&format!("OK {} sheets, ", pages.len())) && pages.len() >= 20, "{last}");
}

#[test]
fn the_permit_set_is_the_same_as_pdf_and_as_svg() {
    for fixture in ["lakeside", "metric"] {
        let plan = fs::read(root().join("fixtures").join(fixture).join("plan.dxf")).unwrap();
        let outcome = lay_out(&plan, "plan.dxf", &settings(None)).unwrap();
        let set = sheet::compose(&outcome.plan, &outcome.layout, &outcome.findings);
        let pages = sheet::permit_set(&outcome.layout, &set, &outcome.findings, &outcome.proof);
        let last = compared(&scratch(&format!("permit-{fixture}")), &pages, &BTreeMap::new());
        assert!(last.starts_with(&format!("OK {} sheets, ", pages.len())), "{fixture}: {last}");
    }
}
