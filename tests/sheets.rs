//! The permit set of every fixture on every paper: nothing overlaps, nothing leaves its frame, everything is shown.

use std::fs;

use plumbrail::base::Point;
use plumbrail::cad::External;
use plumbrail::catalog::{Job, LayerPatterns, Paper, Settings, rules_named, system_named};
use plumbrail::sheet::{self, CAUTIONS, Page};
use plumbrail::{Outcome, PlanFile, lay_out_file};

use crate::drawn::{Insunits, edge, polylines, wall};
use crate::golden::options;
use crate::program::{fixtures, root};

/// Frame of a sheet: 10 mm inside the paper's edge.
const MARGIN_MM: f64 = 10.0;

fn pages(outcome: &Outcome) -> Vec<Page> {
    let set = sheet::compose(&outcome.plan, &outcome.layout, &outcome.findings);
    sheet::permit_set(&outcome.layout, &set, &outcome.findings, &outcome.proof)
}

/// A fixture laid out with its options.
fn laid_out(case: &str) -> Outcome {
    let mut job = Job::default();
    let mut layers = LayerPatterns::default();
    for pair in options(case).chunks(2) {
        let [name, value] = pair else { panic!("{case}: {pair:?}") };
        match *name {
            "--system" => job.system = Some((*value).to_owned()),
            "--units" => job.units = Some((*value).to_owned()),
            "--inset" => job.inset = Some(plumbrail::base::Length::parse(value, None).unwrap()),
            "--layer" => match value.split_once('=').unwrap() {
                ("edge", pattern) => layers.edge.push(pattern.to_owned()),
                ("wall", pattern) => layers.wall.push(pattern.to_owned()),
                (other, _) => panic!("{case}: layer {other}"),
            },
            other => panic!("{case}: option {other}"),
        }
    }
    job.layers = Some(layers);
    let system = system_named(job.system.as_deref().unwrap_or("composite-36")).unwrap();
    let settings = Settings::new(job, system, rules_named("irc-2021").unwrap()).unwrap();
    let folder = root().join("fixtures").join(case);
    let external = |reference: &plumbrail::cad::Reference<'_>| {
        let name = reference.path.rsplit(['/', '\\']).next().unwrap();
        // What was drawn as DWG lies there as DXF.
        let name = name.to_lowercase().replace(".dwg", ".dxf");
        let bytes = fs::read(folder.join(name)).map_err(|e| e.to_string())?;
        Ok(External { file: reference.path.to_owned(), bytes })
    };
    let plan = fs::read(folder.join("plan.dxf")).unwrap();
    lay_out_file(&PlanFile { externals: &external, ..PlanFile::new(&plan, "plan.dxf") }, &settings)
        .unwrap_or_else(|e| panic!("{case}: {e}"))
}

/// Whether two boxes share room (separating axes of both), but for a hair.
fn overlap(a: &[Point; 4], b: &[Point; 4]) -> bool {
    const HAIR_MM: f64 = 0.01;
    let axes = |c: &[Point; 4]| [c[1] - c[0], c[3] - c[0]];
    axes(a).into_iter().chain(axes(b)).all(|axis| {
        let long = axis.x.hypot(axis.y);
        let reach = |c: &[Point; 4]| {
            let all = c.map(|p| (p.x * axis.x + p.y * axis.y) / long);
            (all.iter().copied().fold(f64::INFINITY, f64::min), all.iter().copied().fold(f64::NEG_INFINITY, f64::max))
        };
        let ((a0, a1), (b0, b1)) = (reach(a), reach(b));
        a0 < b1 - HAIR_MM && b0 < a1 - HAIR_MM
    })
}

fn check(case: &str, paper: Paper, page: &Page) {
    let texts = page.texts();
    let place = format!("{case}, {}, {} {}", paper.name(), page.number, page.title);
    let mut sorted: Vec<_> = texts.iter().filter(|t| !t.content.is_empty()).collect();
    let left = |t: &sheet::PageText| t.corners.iter().map(|c| c.x).fold(f64::INFINITY, f64::min);
    let right = |t: &sheet::PageText| t.corners.iter().map(|c| c.x).fold(f64::NEG_INFINITY, f64::max);
    sorted.sort_by(|a, b| left(a).total_cmp(&left(b)));
    for (i, a) in sorted.iter().enumerate() {
        let near = sorted.iter().skip(i + 1).take_while(|b| left(b) < right(a));
        for b in near {
            // What a window cuts is not seen beyond it.
            let apart = (a.is_cut || b.is_cut) && a.is_ink != b.is_ink;
            assert!(apart || !overlap(&a.corners, &b.corners), "{place}: `{}` on `{}`", a.content, b.content);
        }
        let inside = |p: &Point| {
            let edge = MARGIN_MM;
            p.x > edge && p.y > edge && p.x < page.size.x - edge && p.y < page.size.y - edge
        };
        assert!(
            a.is_cut || a.corners.iter().all(inside),
            "{place}: `{}` leaves the frame at {:?}",
            a.content,
            a.corners
        );
        // A plan in several parts may cut a text that a neighbouring part shows whole.
        assert!(!a.is_cut || page.title.contains(", part "), "{place}: `{}` is cut off", a.content);
    }
    let (short, long) = paper.sides_mm();
    let (small, large) = (page.size.x.min(page.size.y), page.size.x.max(page.size.y));
    assert_eq!((small, large), (short, long), "{place}");
    let said: String = texts.iter().map(|t| t.content.as_str()).collect::<Vec<_>>().join(" ");
    for caution in CAUTIONS {
        assert!(caution.split(' ').all(|word| said.contains(word)), "{place}: {caution}");
    }
}

#[test]
fn sheets_of_every_fixture_fit_every_paper_and_nothing_overlaps() {
    // Each paper meets many plans, and the fullest plans meet each paper.
    let full = ["cable", "lakeside", "stair-landing"];
    for (index, case) in fixtures().into_iter().enumerate() {
        let mut outcome = laid_out(&case);
        let meets =
            |i: &usize| full.contains(&case.as_str()) || [index, index + 3].map(|n| n % Paper::ALL.len()).contains(i);
        for (_, paper) in (0..).zip(Paper::ALL).filter(|(i, _)| meets(i)) {
            outcome.layout.sheet = Some(paper);
            let pages = pages(&outcome);
            for page in &pages {
                check(&case, paper, page);
            }
            let numbers: Vec<String> = (1..=pages.len()).map(|n| format!("R{n}")).collect();
            assert_eq!(pages.iter().map(|p| p.number.clone()).collect::<Vec<_>>(), numbers, "{case}");
        }
    }
}

#[test]
fn every_panel_and_post_is_on_the_sheets() {
    for case in fixtures() {
        let outcome = laid_out(&case);
        let pages = pages(&outcome);
        let said: Vec<String> = pages.iter().flat_map(Page::texts).map(|t| t.content).collect();
        for id in outcome.layout.posts.iter().map(|p| &p.id).chain(outcome.layout.panels.iter().map(|p| &p.span.id)) {
            // On the plan, and in the schedule.
            assert!(said.iter().filter(|t| *t == id).count() >= 2, "{case}: {id}");
        }
        let drawn: Vec<&str> = pages
            .iter()
            .filter(|p| p.title.starts_with("Panel elevations"))
            .flat_map(|p| p.views.iter().map(|v| v.drawing.name.as_str()))
            .collect();
        for group in sheet::alike(&outcome.layout) {
            let first = group.ids.first().expect("no group is empty");
            assert!(drawn.contains(&first.as_str()), "{case}: {first}");
            assert!(said.contains(&group.text()), "{case}: {}", group.text());
        }
    }
}

/// A site of 40 decks, each before a house of many faces: a sheet holds its own part of the plan, not all of it.
#[test]
fn a_sheet_of_a_large_plan_holds_what_shows_on_it() {
    let mut paths = Vec::new();
    for i in 0..40 {
        let (x, y) = (f64::from(i % 8) * 1500.0, f64::from(i / 8) * 1500.0);
        paths.push(edge(&[[x + 240.0, y + 144.0], [x + 240.0, y], [x, y], [x, y + 144.0]], false));
        paths.push(wall(&[[x - 50.0, y + 144.0], [x + 500.0, y + 144.0]], false));
        paths.extend(
            (0..50).map(|k| f64::from(k) * 5.0).map(|k| wall(&[[x + k, y + 200.0], [x + k, y + 600.0]], false)),
        );
    }
    let settings =
        Settings::new(Job::default(), system_named("composite-36").unwrap(), rules_named("irc-2021").unwrap()).unwrap();
    let dxf = polylines(&paths, Insunits::Inch);
    let outcome = plumbrail::lay_out(dxf.as_bytes(), "plan.dxf", &settings).unwrap();
    let set = sheet::compose(&outcome.plan, &outcome.layout, &outcome.findings);
    let pages = sheet::permit_set(&outcome.layout, &set, &outcome.findings, &outcome.proof);
    let views: Vec<_> = pages.iter().flat_map(|p| &p.views).filter(|v| v.drawing.name == "plan").collect();
    assert!(views.len() >= 10, "{}", views.len());
    // Neighbours share a strip, so some stands on two sheets or four.
    let (held, all) = (views.iter().map(|v| v.behind.len()).sum::<usize>(), set.background.len());
    assert!(held >= all && held < 3 * all, "{held} of {all}");
    let (held, all) = (views.iter().map(|v| v.drawing.items.len()).sum::<usize>(), set.plan.items.len());
    assert!(held < 3 * all, "{held} of {all}");
    // No text is lost: each panel's tag shows whole on some sheet.
    let seen: Vec<_> = pages.iter().flat_map(Page::texts).filter(|t| !t.is_ink && !t.is_cut).collect();
    for panel in &outcome.layout.panels {
        assert!(seen.iter().any(|t| t.content == panel.span.id), "{}", panel.span.id);
    }
}
