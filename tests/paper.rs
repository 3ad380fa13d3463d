//! Sheets in paper space, read back by ezdxf and GDAL: layouts, sizes, windows at true scale, what is on them.

use std::collections::BTreeMap;
use std::ffi::OsStr;
use std::fs;
use std::path::PathBuf;
use std::sync::Arc;

use plumbrail::base::plane::{bounds, point};
use plumbrail::base::{Angle, Point};
use plumbrail::cad::Version;
use plumbrail::catalog::Paper;
use plumbrail::sheet::{
    self, Align, Anchor, Dimension, Drawing, Item, Layer, Page, PostMark, Shape, TagMark, TextSpec, VAlign, View,
};
use plumbrail::{Outcome, lay_out, write};
use serde_json::json;

use crate::interop::{root, scratch, script, settings};

fn outcome(fixture: &str) -> Outcome {
    let plan = fs::read(root().join("fixtures").join(fixture).join("plan.dxf")).unwrap();
    lay_out(&plan, "plan.dxf", &settings(None)).unwrap()
}

/// Frame and title of a sheet.
fn ink(size: Point, title: &str) -> Drawing {
    let item = |layer, shape| Item { layer, linetype: None, object: None, shape };
    let (low, high) = (point(10.0, 10.0), size - point(10.0, 10.0));
    let points = vec![low, point(high.x, low.y), high, point(low.x, high.y)];
    let text = TextSpec {
        at: point(14.0, 14.0),
        height: 5.0,
        rotation: Angle::ZERO,
        anchor: Anchor { align: Align::Left, valign: VAlign::Base },
        content: title.to_owned(),
        bold: true,
    };
    let items = vec![
        item(Layer::Sheet, Shape::Path { points, closed: true, filled: false }),
        item(Layer::Text, Shape::Text(text)),
    ];
    Drawing {
        name: "ink".to_owned(),
        title: title.to_owned(),
        paper: 1.0,
        low: point(0.0, 0.0),
        high: size,
        parts: Vec::new(),
        items,
    }
}

fn page(number: &str, title: &str, size: Point, views: Vec<View>) -> Page {
    Page { number: number.to_owned(), title: title.to_owned(), size, ink: ink(size, title), views }
}

/// The plan with the user's deck behind it; two panels, one cut off; the section by a name that stands in no model space.
fn pages(set: &sheet::Set, paper: Paper) -> Vec<Page> {
    let (short, long) = paper.sides_mm();
    let (lying, upright) = (point(long, short), point(short, long));
    let margin = point(15.0, 25.0);
    let plan = View { behind: set.background.clone(), ..View::whole(set.plan.clone(), margin) };
    let first = View::whole(set.elevations[0].clone(), margin);
    let second = set.elevations[1].clone();
    let half = (second.low, point((second.low.x + second.high.x) / 2.0, second.high.y));
    let second = View { window: half, ..View::whole(second, margin + point(0.0, long / 2.0)) };
    let tables = View::whole(Arc::new(Drawing { name: "schedule".to_owned(), ..(*set.section).clone() }), margin);
    vec![
        page("R1", "Plan", lying, vec![plan]),
        page("R2", "Panels", upright, vec![first, second]),
        page("R3", "Lists: marks/cuts", lying, vec![tables]),
    ]
}

/// What the check script must find.
fn expected(pages: &[Page], placed: &[write::dxf::Placed<'_>], outcome: &Outcome) -> serde_json::Value {
    let frame = outcome.plan.frame;
    let imperial = frame.unit.is_imperial();
    let paper_mm = if imperial { 25.4 } else { 1.0 };
    let names = ["R1 Plan", "R2 Panels", "R3 Lists markscuts"];
    let mut all = Vec::new();
    for (page, name) in pages.iter().zip(names) {
        let mut windows = Vec::new();
        for view in &page.views {
            let Some(there) = placed.iter().find(|p| p.drawing.name == view.drawing.name) else { continue };
            let corner = |p: Point| {
                let p = frame.to_drawing(p + there.at);
                [p.x, p.y]
            };
            windows.push(json!({
                "paper": view.drawing.paper,
                "low": corner(view.window.0),
                "high": corner(view.window.1),
                "at": [view.at.x / paper_mm, view.at.y / paper_mm],
            }));
        }
        let mut counts: BTreeMap<&str, BTreeMap<&str, usize>> = BTreeMap::new();
        for item in &page.ink.items {
            let kind = if matches!(item.shape, Shape::Text(_)) { "TEXT" } else { "LWPOLYLINE" };
            *counts.entry(item.layer.name()).or_default().entry(kind).or_default() += 1;
        }
        all.push(json!({
            "name": name,
            "size_mm": [page.size.x, page.size.y],
            "windows": windows,
            "at_least": counts,
        }));
    }
    json!({ "imperial": imperial, "unit_mm": frame.unit.millimetres(), "pages": all })
}

#[test]
fn each_page_is_a_layout_with_windows_at_true_scale() {
    let folder = scratch("paper");
    for (fixture, paper, versions) in [
        ("lakeside", Paper::ArchD, write::dxf::VERSIONS.to_vec()),
        ("metric", Paper::A1, vec![Version::R2000, Version::R2018]),
        ("far-away", Paper::ArchC, vec![Version::R2010]),
    ] {
        let outcome = outcome(fixture);
        let set = sheet::compose(&outcome.plan, &outcome.layout, &outcome.findings);
        let placed = placed(&set);
        let pages = pages(&set, paper);
        let expected_file = folder.join(format!("{fixture}.json"));
        fs::write(&expected_file, expected(&pages, &placed, &outcome).to_string()).unwrap();
        let (mut all, mut with_layouts) = (Vec::new(), Vec::new());
        for (version, binary) in versions.iter().flat_map(|version| [(*version, false), (*version, true)]) {
            let options = write::dxf::DxfOptions { version, binary, ..write::dxf::DxfOptions::default() };
            let bytes = write::dxf::document(&placed, &pages, &outcome.layout.plan.frame, &options);
            let case = format!("{fixture}-{}{}", version.name(), if binary { "-binary" } else { "" });
            assert_eq!(write::lint::lint(&bytes), [], "{case}");
            let file = folder.join(format!("{case}.dxf"));
            fs::write(&file, bytes).unwrap();
            if version > Version::R12 {
                with_layouts.push(file.clone());
            }
            all.push(file);
        }
        let files = |files: &[PathBuf], first: &[&dyn AsRef<OsStr>], name: &str| {
            let files = files.iter().map(|file| file as &dyn AsRef<OsStr>);
            script(name, &first.iter().copied().chain(files).collect::<Vec<_>>())
        };
        let last = files(&all, &[], "audit_dxf.py");
        assert!(last.starts_with(&format!("OK {} files", all.len())), "{last}");
        files(&with_layouts, &[&"--expect", &expected_file], "paper_space.py");
    }
}

/// The permit set in layout.dxf, for fixtures of both units.
#[test]
fn the_permit_set_is_sound_in_every_version() {
    let folder = scratch("permit");
    let mut all = Vec::new();
    for (fixture, versions) in [
        ("lakeside", write::dxf::VERSIONS.to_vec()),
        ("metric", vec![Version::R2000, Version::R2018]),
        ("stair-landing", vec![Version::R2007]),
    ] {
        let outcome = outcome(fixture);
        let set = sheet::compose(&outcome.plan, &outcome.layout, &outcome.findings);
        let pages = sheet::permit_set(&outcome.layout, &set, &outcome.findings, &outcome.proof);
        let placed = placed(&set);
        // What a window shows stands in model space. A window on the plan lacks nothing of it but what lies beyond.
        for view in pages.iter().flat_map(|p| &p.views) {
            let whole = placed.iter().find(|p| p.drawing.name == view.drawing.name).unwrap().drawing;
            let (low, high) = view.window;
            let is_seen = |item: &Item| {
                let (a, b) = corners(&item.shape);
                b.x >= low.x && b.y >= low.y && a.x <= high.x && a.y <= high.y
            };
            let mut items = whole.items.clone();
            items.retain(|item| view.drawing.items.contains(item) || view.drawing.name != "plan" || is_seen(item));
            assert!(*view.drawing == Drawing { items, ..whole.clone() }, "{fixture}: {}", whole.name);
        }
        for version in versions {
            let options = write::dxf::DxfOptions { version, ..write::dxf::DxfOptions::default() };
            let bytes = write::dxf::document(&placed, &pages, &outcome.layout.plan.frame, &options);
            let file = folder.join(format!("{fixture}-{}.dxf", version.name()));
            assert_eq!(write::lint::lint(&bytes), [], "{}", file.display());
            fs::write(&file, bytes).unwrap();
            all.push(file);
        }
    }
    let last = script("audit_dxf.py", &all.iter().map(|file| file as &dyn AsRef<OsStr>).collect::<Vec<_>>());
    assert!(last.starts_with(&format!("OK {} files", all.len())), "{last}");
}

/// Corners of the box around a shape, texts by where they are inserted.
fn corners(shape: &Shape) -> (Point, Point) {
    let points = match shape {
        Shape::Line(a, b) => vec![*a, *b],
        Shape::Path { points, .. } => points.clone(),
        Shape::Circle { centre, radius } | Shape::Arc { centre, radius, .. } => {
            vec![*centre - point(*radius, *radius), *centre + point(*radius, *radius)]
        }
        Shape::Text(text) => vec![text.at],
        Shape::Paragraph(lines) => lines.iter().map(|line| line.at).collect(),
        Shape::Dimension(d) => d.strokes.iter().flat_map(|(a, b)| [*a, *b]).chain([d.text_spec().at]).collect(),
        Shape::Post(post) => vec![post.at],
        Shape::Tag(tag) => tag.corners().to_vec(),
    };
    bounds(points).unwrap()
}

/// A shape elsewhere.
fn moved(shape: &Shape, by: Point) -> Shape {
    match shape.clone() {
        Shape::Line(a, b) => Shape::Line(a + by, b + by),
        Shape::Path { points, closed, filled } => {
            Shape::Path { points: points.iter().map(|p| *p + by).collect(), closed, filled }
        }
        Shape::Circle { centre, radius } => Shape::Circle { centre: centre + by, radius },
        Shape::Arc { centre, radius, from, to } => Shape::Arc { centre: centre + by, radius, from, to },
        Shape::Text(text) => Shape::Text(TextSpec { at: text.at + by, ..text }),
        Shape::Paragraph(lines) => {
            Shape::Paragraph(lines.into_iter().map(|line| TextSpec { at: line.at + by, ..line }).collect())
        }
        Shape::Dimension(d) => Shape::Dimension(Dimension {
            from: d.from + by,
            to: d.to + by,
            line: d.line + by,
            text_at: d.text_at + by,
            strokes: d.strokes.iter().map(|(a, b)| (*a + by, *b + by)).collect(),
            ..d
        }),
        Shape::Post(post) => Shape::Post(PostMark { at: post.at + by, ..post }),
        Shape::Tag(tag) => Shape::Tag(TagMark { low: tag.low + by, high: tag.high + by, ..tag }),
    }
}

/// Everything of the model space as one drawing.
fn together(set: &sheet::Set) -> Drawing {
    let mut all = Drawing { items: Vec::new(), ..set.plan.as_ref().clone() };
    for (drawing, at) in set.arrangement() {
        let (low, high) = (drawing.low + at, drawing.high + at);
        all.low = point(all.low.x.min(low.x), all.low.y.min(low.y));
        all.high = point(all.high.x.max(high.x), all.high.y.max(high.y));
        all.items.extend(drawing.items.iter().map(|item| Item { shape: moved(&item.shape, at), ..item.clone() }));
    }
    all
}

/// `layout.dxf`.
pub fn layout_dxf(outcome: &Outcome) -> Vec<u8> {
    let set = sheet::compose(&outcome.plan, &outcome.layout, &outcome.findings);
    write::dxf::document(&placed(&set)[..1], &[], &outcome.layout.plan.frame, &write::dxf::DxfOptions::default())
}

fn placed(set: &sheet::Set) -> Vec<write::dxf::Placed<'_>> {
    set.arrangement().into_iter().map(|(drawing, at)| write::dxf::Placed { drawing, at }).collect()
}

/// Leaves what the continuous check lets LibreCAD draw: all drawings in one, the same as one SVG, and the same with a layer
/// taken away, once for each of the layers that show. What it leaves must be sound.
#[test]
fn drawings_for_librecad_are_sound() {
    let folder = scratch("librecad");
    let outcome = outcome("lakeside");
    let mut set = sheet::compose(&outcome.plan, &outcome.layout, &outcome.findings);
    fs::write(folder.join("whole.svg"), write::svg::document(&[&together(&set)], &[])).unwrap();
    let write = |set: &sheet::Set, name: &str| {
        let options = write::dxf::DxfOptions::default();
        let bytes = write::dxf::document(&placed(set), &[], &outcome.layout.plan.frame, &options);
        assert_eq!(write::lint::lint(&bytes), [], "{name}");
        fs::write(folder.join(name), bytes).unwrap();
    };
    write(&set, "whole.dxf");
    fs::write(folder.join("paper.txt"), set.plan.paper.to_string()).unwrap();
    let whole = set.clone();
    for layer in Layer::ALL {
        set.clone_from(&whole);
        let shared = [&mut set.plan, &mut set.section].into_iter().chain(&mut set.elevations).chain(&mut set.flights);
        let drawings = shared.map(Arc::make_mut);
        let mut gone = 0;
        for drawing in drawings {
            let before = drawing.items.len();
            drawing.items.retain(|item| item.layer != layer);
            gone += before - drawing.items.len();
        }
        if gone > 0 {
            write(&set, &format!("without-{}.dxf", layer.name()));
        }
    }
}
