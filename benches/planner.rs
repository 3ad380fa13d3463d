//! Cost of the planner with growing plans: chaining, moved lines and bays, each from a thousand edges to a million, and a
//! site of up to 700 decks with all that stands around them. The time for one edge or deck must stay the same
//! (`cargo bench`).

// A bench that cannot set itself up has nothing to measure.
#![allow(clippy::unwrap_used, missing_docs)]

use divan::Bencher;
use divan::counter::ItemsCount;
use plumbrail::base::{Finding, Frame, Point, plane::point};
use plumbrail::cad::{Drawing, Entity, Origin, Shape, Version, Vertex};
use plumbrail::catalog::{Inside, Job, LayerPatterns, Settings, rules_named, system_named};
use plumbrail::deck::{self, Before, Chain, ChainEnd, Edge, Plan, Roles, Unmarked};
use plumbrail::guard;

const SIZES: [i32; 4] = [1_000, 10_000, 100_000, 1_000_000];

fn main() {
    divan::main();
}

fn settings() -> Settings {
    let job = Job { inside: Some(Inside::Right), ..Job::default() };
    Settings::new(job, system_named("composite-36").unwrap(), rules_named("irc-2021").unwrap()).unwrap()
}

/// Corners of a saw-toothed edge with teeth of `size` mm.
fn saw(edges: i32, size: f64) -> Vec<Point> {
    (0..=edges).map(|i| point(f64::from(i) * size, f64::from(i % 2) * 0.45 * size)).collect()
}

fn entity(layer: &str, from: Point, to: Point) -> Entity {
    let vertices = vec![Vertex { at: from, bulge: 0.0 }, Vertex { at: to, bulge: 0.0 }];
    Entity {
        shape: Shape::Path { vertices, closed: false },
        layer: layer.to_owned(),
        origin: Origin::default(),
        insert: None,
        heights: None,
        ends: None,
    }
}

/// The edge as loose lines in no order, every second one drawn backwards. A plan may have 10 km of edge, so a million
/// lines are short ones.
fn drawing(edges: i32) -> Drawing {
    let points = saw(edges, 8.0);
    let mut lines: Vec<Entity> = points
        .windows(2)
        .enumerate()
        .filter_map(|(i, w)| match w {
            [a, b] if i % 2 == 0 => Some(entity("DECK EDGE", *a, *b)),
            [a, b] => Some(entity("DECK EDGE", *b, *a)),
            _ => None,
        })
        .collect();
    // A fixed shuffle: steps of a number without a factor in common with the count.
    let count = lines.len();
    for i in 0..count {
        lines.swap(i, (i * 7_919 + 13) % count);
    }
    drawing_of(lines)
}

fn drawing_of(entities: Vec<Entity>) -> Drawing {
    Drawing {
        unread: Vec::new(),
        version: Version::R2000,
        binary: false,
        encoding: "UTF-8",
        frame: Frame::default(),
        layers: Vec::new(),
        entities,
        inserts: Vec::new(),
        ours: Vec::new(),
        marks: Default::default(),
        findings: Vec::new(),
    }
}

/// So many decks of 20 by 12 ft, each before a house of 100 faces, with its joists, an opening, two posts and a keep-out zone.
fn site(decks: i32) -> Drawing {
    let across = f64::from(decks).sqrt().ceil() as i32;
    let mut all = Vec::new();
    for deck in 0..decks {
        let corner = point(f64::from(deck % across), f64::from(deck / across)) * 40_000.0;
        let mut line = |layer: &str, a: (f64, f64), b: (f64, f64)| {
            all.push(entity(layer, corner + point(a.0, a.1), corner + point(b.0, b.1)));
        };
        for (a, b) in [((6000.0, 3600.0), (6000.0, 0.0)), ((6000.0, 0.0), (0.0, 0.0)), ((0.0, 0.0), (0.0, 3600.0))] {
            line("DECK EDGE", a, b);
        }
        line("WALL", (-2000.0, 3600.0), (9000.0, 3600.0));
        for face in 0..99 {
            let x = f64::from(face) * 100.0;
            line("WALL", (x, 4000.0), (x, 12_000.0));
        }
        for joist in 0..=15 {
            let x = f64::from(joist) * 400.0;
            line("JOIST", (x, 0.0), (x, 3600.0));
        }
        line("OPENING", (2000.0, -50.0), (2000.0, 50.0));
        line("OPENING", (2000.0, -50.0), (3000.0, -50.0));
        line("KEEP-OUT", (-50.0, 1800.0), (50.0, 2000.0));
        for x in [63.5, 5936.5] {
            for (a, b) in
                [((-50, -50), (50, -50)), ((50, -50), (50, 50)), ((50, 50), (-50, 50)), ((-50, 50), (-50, -50))]
            {
                let at = |(dx, dy): (i32, i32)| (x + f64::from(dx), 63.5 + f64::from(dy));
                line("DECK POST", at(a), at(b));
            }
        }
    }
    drawing_of(all)
}

/// A plan of one open edge, the deck on its right.
fn plan(points: &[Point], bulge: f64) -> Plan {
    let edge = |(a, b): (&Point, &Point)| Edge {
        a: *a,
        b: *b,
        bulge,
        curved: bulge != 0.0,
        origin: Origin::default(),
        layer: "".into(),
    };
    let edges = points.iter().zip(points.iter().skip(1)).map(edge).collect();
    Plan { chains: vec![Chain { edges, ends: Some([ChainEnd::Stated; 2]) }], ..Plan::empty(Frame::default()) }
}

fn planned(drawing: &Drawing, settings: &Settings) -> (Plan, Vec<Finding>) {
    let roles = Roles::new(&settings.layers, settings.own_layers());
    deck::plan(drawing, &roles, Before::Marks(&Unmarked::default()), settings).unwrap()
}

#[divan::bench(args = SIZES, sample_count = 3, sample_size = 1)]
fn chaining(bencher: Bencher<'_, '_>, edges: i32) {
    let (drawing, settings) = (drawing(edges), settings());
    bencher
        .counter(ItemsCount::new(edges.unsigned_abs()))
        .bench_local(|| planned(divan::black_box(&drawing), &settings));
}

/// Rail lines, posts and bays of straight edges.
#[divan::bench(args = SIZES, sample_count = 3, sample_size = 1)]
fn straight_edges(bencher: Bencher<'_, '_>, edges: i32) {
    let settings = settings();
    let plan = plan(&saw(edges, 2_000.0), 0.0);
    bencher
        .counter(ItemsCount::new(edges.unsigned_abs()))
        .bench_local(|| guard::lay_out(divan::black_box(&plan), &settings));
}

/// The same with each edge bowed out.
#[divan::bench(args = SIZES, sample_count = 1, sample_size = 1)]
fn arcs(bencher: Bencher<'_, '_>, edges: i32) {
    let settings = settings();
    let plan = plan(&saw(edges, 2_000.0), 0.1);
    bencher
        .counter(ItemsCount::new(edges.unsigned_abs()))
        .bench_local(|| guard::lay_out(divan::black_box(&plan), &settings));
}

/// One long edge, divided into so many bays.
#[divan::bench(args = [1_000, 10_000, 100_000], sample_count = 3, sample_size = 1)]
fn bays(bencher: Bencher<'_, '_>, bays: i32) {
    let settings = settings();
    let plan = plan(&[point(0.0, 0.0), point(f64::from(bays) * 2_500.0, 0.0)], 0.0);
    bencher
        .counter(ItemsCount::new(bays.unsigned_abs()))
        .bench_local(|| guard::lay_out(divan::black_box(&plan), &settings));
}

/// From the drawing to posts and spans.
#[divan::bench(args = [7, 70, 700], sample_count = 3, sample_size = 1)]
fn site_planned(bencher: Bencher<'_, '_>, decks: i32) {
    let drawing = site(decks);
    let layers = LayerPatterns { joist: vec!["JOIST".to_owned()], ..LayerPatterns::default() };
    let job = Job { layers: Some(layers), ..Job::default() };
    let settings = Settings::new(job, system_named("composite-36").unwrap(), rules_named("irc-2021").unwrap()).unwrap();
    bencher.counter(ItemsCount::new(decks.unsigned_abs())).bench_local(|| {
        let (plan, _) = planned(divan::black_box(&drawing), &settings);
        let (guard, findings) = guard::lay_out(&plan, &settings);
        assert_eq!(guard.runs.len(), 2 * decks.unsigned_abs() as usize, "{findings:?}");
        guard
    });
}
