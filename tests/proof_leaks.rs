//! The ways out of a deck: none in good layouts, and one wherever a panel, a post or the end of a wall is taken away,
//! shortened or moved. Found by `proof/leaks` alone, which shares nothing with the checks of runs and spans.

use plumbrail::base::Point;
use plumbrail::base::plane::{left, point, unit};
use plumbrail::catalog::{Inside, Job, Settings, StairJob, rules_named, system_named};
use plumbrail::guard::PostKind;
use plumbrail::parts::Layout;
use plumbrail::proof::{Verdict, prove};
use plumbrail::{Length, lay_out};

use crate::drawn::{Insunits, Path, edge, moved, polylines, turned, wall};

/// What the search for ways out says is wrong: nothing of any other check.
fn leaks(layout: &Layout) -> Vec<String> {
    let own = ["open way out", "wall end", "end of the deck's edge", "place of", "course of", "free width"];
    let checks = prove(layout).checks;
    let failed = checks.iter().filter(|c| c.verdict == Verdict::Fail && own.iter().any(|o| c.what.starts_with(o)));
    failed.map(|c| format!("{} {:?} {:?}", c.what, c.place.at, c.actual)).collect()
}

fn settings(job: Job) -> Settings {
    Settings::new(job, system_named("composite-36").unwrap(), rules_named("irc-2021").unwrap()).unwrap()
}

fn laid_out(paths: &[Path], turn: f64, flights: Vec<StairJob>) -> Layout {
    laid_out_as(paths, turn, Job { flights, ..Job::default() })
}

fn laid_out_as(paths: &[Path], turn: f64, job: Job) -> Layout {
    let placed = moved(paths, |p| turned(p, turn));
    lay_out(polylines(&placed, Insunits::Inch).as_bytes(), "plan.dxf", &settings(job)).unwrap().layout
}

/// Decks of several shapes before a house: a rectangle, an L, one with chamfered corners, an open edge, one with an
/// opening, a recess between two walls, a walkway of two open edges between walls, one with a flight.
fn decks() -> Vec<(String, Layout)> {
    let mut out = Vec::new();
    for (i, turn) in [0.0, 17.0, 90.0, 211.3].into_iter().enumerate() {
        let (w, d) = (170.0 + 41.0 * i as f64, 130.0 + 23.0 * i as f64);
        let house = wall(&[[-60.0, 0.0], [w + 60.0, 0.0]], false);
        let box_ = [[0.0, 0.0], [w, 0.0], [w, d], [0.0, d]];
        let ell = [[0.0, 0.0], [w, 0.0], [w, d * 0.5], [w * 0.5, d * 0.5], [w * 0.5, d], [0.0, d]];
        let cut = [[0.0, 0.0], [w, 0.0], [w, d - 40.0], [w - 40.0, d], [40.0, d], [0.0, d - 40.0]];
        let open = [[0.0, 0.0], [0.0, d], [w, d], [w, 0.0]];
        let returns = [wall(&[[0.0, -10.0], [0.0, -150.0]], false), wall(&[[w, -10.0], [w, -150.0]], false)];
        let recess: Vec<Path> = returns.into_iter().chain([edge(&[[0.0, -20.0], [w, -20.0]], false)]).collect();
        let gate = Path { layer: "OPENING", points: vec![[w * 0.4, d], [w * 0.4 + 40.0, d]], closed: false };
        let mut add = |name: &str, paths: Vec<Path>, flights: Vec<StairJob>| {
            out.push((format!("{name} {i}"), laid_out(&paths, turn, flights)));
        };
        add("rectangle", vec![edge(&box_, true), house.clone()], vec![]);
        add("L", vec![edge(&ell, true), house.clone()], vec![]);
        add("chamfered", vec![edge(&cut, true), house.clone()], vec![]);
        add("open edge", vec![edge(&open, false), house.clone()], vec![]);
        add("opening", vec![edge(&box_, true), house.clone(), gate], vec![]);
        add("recess", recess, vec![]);
        let sides = [wall(&[[0.0, -10.0], [0.0, 70.0]], false), wall(&[[w, -10.0], [w, 70.0]], false)];
        let ways = [edge(&[[0.0, 0.0], [w, 0.0]], false), edge(&[[w, 60.0], [0.0, 60.0]], false)];
        let job = Job { inside: Some(Inside::Left), ..Job::default() };
        let walkway: Vec<Path> = sides.into_iter().chain(ways).collect();
        out.push((format!("walkway {i}"), laid_out_as(&walkway, turn, job)));
        let mut add = |name: &str, paths: Vec<Path>, flights: Vec<StairJob>| {
            out.push((format!("{name} {i}"), laid_out(&paths, turn, flights)));
        };
        let at = |x: f64| turned([x, d], turn);
        let flight = StairJob {
            top: Some([at(w * 0.5 - 22.0), at(w * 0.5 + 22.0)]),
            risers: Some(4),
            riser: Some(Length::INCH * 7),
            tread: Some(Length::INCH * 11),
            ..StairJob::default()
        };
        add("flight", vec![edge(&box_, true), house], vec![flight]);
    }
    out
}

/// Spoils a layout in each way in which one thing is taken away, shortened or moved.
fn spoilings(good: &Layout) -> Vec<(String, Layout)> {
    let mut out = Vec::new();
    let mut add = |name: String, spoil: &dyn Fn(&mut Layout)| {
        let mut layout = good.clone();
        spoil(&mut layout);
        out.push((name, layout));
    };
    let level = |i: usize| good.panels[i].span.rake.is_none();
    for i in (0..good.panels.len()).filter(|i| level(*i)) {
        let id = &good.panels[i].span.id;
        let span = &good.panels[i].span;
        let way = unit(span.right - span.left);
        add(format!("{id} taken away"), &|l| drop(l.panels.remove(i)));
        add(format!("{id} shortened at its left"), &|l| l.panels[i].span.left = span.left + way * 152.4);
        add(format!("{id} shortened at its right"), &|l| l.panels[i].span.right = span.right - way * 152.4);
        // Up to 12 in inside of its line a rail may stand that closes all the same.
        for (name, by) in [("inward", left(way) * -330.2), ("outward", left(way) * 304.8), ("along", way * 152.4)] {
            add(format!("{id} moved {name}"), &|l| {
                l.panels[i].span.left = span.left + by;
                l.panels[i].span.right = span.right + by;
            });
        }
    }
    let on_stair = |at: Point| {
        let raked = good.panels.iter().filter(|p| p.span.rake.is_some());
        raked.flat_map(|p| [p.span.left, p.span.right]).any(|p| plumbrail::base::plane::distance(p, at) < 80.0)
    };
    // Where two rails meet square at a corner post of 4-1/2 in, their ends are 3.18 in apart without it: no sphere passes.
    let is_corner = |kind: PostKind| kind == PostKind::Corner;
    for (i, post) in good.posts.iter().enumerate().filter(|(_, p)| !on_stair(p.at) && !is_corner(p.kind)) {
        add(format!("{} taken away", post.id), &|l| drop(l.posts.remove(i)));
        let neighbour = good.posts.iter().find(|p| p.id != post.id).map_or(point(1.0, 0.0), |p| unit(p.at - post.at));
        for (name, by) in [("aside", left(neighbour) * 304.8), ("far", point(5e4, 0.0))] {
            add(format!("{} moved {name}", post.id), &|l| l.posts[i].at = post.at + by);
        }
    }
    let walls = good.site.as_ref().map_or(0, |s| s.walls.len());
    for i in 0..walls {
        add(format!("wall {i} taken away"), &|l| {
            l.site.as_mut().unwrap().walls.remove(i);
        });
        // Cut off beyond the corner of the deck, 60 in from the wall's end in these plans, or at the recess' edge.
        let (a, b) = good.site.as_ref().unwrap().walls[i];
        let length = plumbrail::base::plane::distance(a, b);
        let cut = if length > 5_000.0 { 60.0 * 25.4 + 304.8 } else { 25.4 * 20.0 };
        let way = unit(b - a);
        add(format!("wall {i} shortened at its start"), &|l| l.site.as_mut().unwrap().walls[i].0 = a + way * cut);
        if length > 5_000.0 {
            add(format!("wall {i} shortened at its end"), &|l| l.site.as_mut().unwrap().walls[i].1 = b - way * cut);
        }
        let aside = left(way) * 304.8;
        add(format!("wall {i} moved"), &|l| {
            l.site.as_mut().unwrap().walls[i] = (a + aside, b + aside);
        });
    }
    out
}

#[test]
fn whatever_is_taken_away_shortened_or_moved_leaves_a_way_out() {
    let (mut tried, mut missed) = (0, Vec::new());
    for (name, good) in decks() {
        assert_eq!(leaks(&good), Vec::<String>::new(), "{name}");
        for (spoiling, layout) in spoilings(&good) {
            tried += 1;
            if leaks(&layout).is_empty() {
                missed.push(format!("{name}: {spoiling}"));
            }
        }
    }
    println!("{tried} spoilings");
    assert!(tried > 1_000, "{tried}");
    assert!(missed.is_empty(), "{} of {tried}: {missed:#?}", missed.len());
}

/// A way out is told where it is, and as wide as it is.
#[test]
fn a_way_out_has_its_place_and_width() {
    let paths = [
        edge(&[[0.0, 0.0], [200.0, 0.0], [200.0, 150.0], [0.0, 150.0]], true),
        wall(&[[-60.0, 0.0], [260.0, 0.0]], false),
    ];
    let mut layout = laid_out(&paths, 0.0, vec![]);
    let gone =
        layout.panels.iter().position(|p| p.span.left.y > 140.0 * 25.4 && p.span.right.y > 140.0 * 25.4).unwrap();
    let span = layout.panels.remove(gone).span;
    let checks = prove(&layout).checks;
    let ways: Vec<_> =
        checks.iter().filter(|c| c.what.starts_with("open way out") && c.verdict == Verdict::Fail).collect();
    let [way] = ways.as_slice() else { panic!("{ways:#?}") };
    let (at, middle) = (way.place.at.unwrap(), (span.left + span.right) / 2.0);
    assert!((way.actual.unwrap().millimetres() - span.clear.millimetres()).abs() < 0.1, "{:?}", way.actual);
    assert!((at.x - middle.x).abs() < 1.0 && (at.y - middle.y).abs() < 80.0, "{at:?} {middle:?}");
}
