//! How stretches are divided: by policy, out of keep-out zones, onto joists; and panels for openings measured on site.

use plumbrail::base::Code;
use plumbrail::catalog::{self, Bays, Inside, Job, LayerPatterns, Settings, read_measured};
use plumbrail::guard::PostKind;
use plumbrail::{Outcome, base};

use crate::drawn::{Insunits, Path, corners, edge, polylines};

fn settings(job: Job) -> Settings {
    let system = catalog::system_named("composite-36").unwrap();
    Settings::new(job, system, catalog::rules_named("irc-2021").unwrap()).unwrap()
}

/// An open edge of 240 in with the deck above it: between end posts of 4-1/2 in 231 in are clear.
fn lay_out(others: &[Path], job: Job) -> Outcome {
    let mut all = vec![edge(&[[0.0, 0.0], [240.0, 0.0]], false)];
    all.extend(others.iter().map(|p| Path { layer: p.layer, points: p.points.clone(), closed: p.closed }));
    let job = Job { inside: Some(Inside::Left), ..job };
    plumbrail::lay_out(polylines(&all, Insunits::Inch).as_bytes(), "plan.dxf", &settings(job)).unwrap()
}

/// Spans from the smaller x on.
fn spans(outcome: &Outcome) -> Vec<f64> {
    let mut all: Vec<(f64, f64)> =
        outcome.layout.panels.iter().map(|p| (p.span.left.x.min(p.span.right.x), p.span.clear.inches())).collect();
    all.sort_by(|a, b| a.0.total_cmp(&b.0));
    all.into_iter().map(|(_, s)| (s * 1e4).round() / 1e4).collect()
}

#[test]
fn policies_divide_a_stretch_as_they_say() {
    assert_eq!(spans(&lay_out(&[], Job::default())), [74.0; 3]);
    // 7 ft kits reach 84.375, but the system's longest panel is 84: full 5 ft kits (60.375), the remainder last.
    let stock = spans(&lay_out(&[], Job { bays: Some(Bays::Stock), ..Job::default() }));
    let mut sorted = stock.clone();
    sorted.sort_by(f64::total_cmp);
    assert_eq!(sorted, [36.375, 60.375, 60.375, 60.375], "{stock:?}");
    // Two 7 ft kits and a full 5 ft kit (460.00) cost less than three 7 ft kits (498.00): (222 - 60.375)/2 = 80.8125.
    let cost = spans(&lay_out(&[], Job { bays: Some(Bays::Cost), ..Job::default() }));
    assert_eq!(cost, [80.8125, 80.8125, 60.375]);
}

/// Posts prefer joists at 16 in: the equal places are 80.75 and 159.25, the joists 80 and 160.
#[test]
fn line_posts_stand_on_joists_when_the_job_names_their_layer() {
    let joists: Vec<Path> = (0..=15)
        .map(|i| f64::from(i) * 16.0)
        .map(|x| Path { layer: "S-JOIST", points: vec![[x, 1.5], [x, 120.0]], closed: false })
        .collect();
    assert_eq!(spans(&lay_out(&joists, Job::default())), [74.0; 3]);
    let layers = LayerPatterns { joist: vec!["S-JOIST".into()], ..LayerPatterns::default() };
    let outcome = lay_out(&joists, Job { layers: Some(layers), ..Job::default() });
    assert_eq!(spans(&outcome), [73.25, 75.5, 73.25]);
    assert!(outcome.proof.holds());
}

#[test]
fn line_posts_keep_out_of_zones() {
    let zone = |left: f64, right: f64| Path {
        layer: "DECK-KEEP-OUT",
        points: corners(left, -10.0, right, 12.0).to_vec(),
        closed: true,
    };
    // 81.5² + 70.25² + 70.25² is less than 59² + 81.5² + 81.5².
    assert_eq!(spans(&lay_out(&[zone(68.0, 86.0)], Job::default())), [81.5, 70.25, 70.25]);
    let blocked = lay_out(&[zone(20.0, 220.0)], Job::default());
    assert!(blocked.findings.iter().any(|f| f.code == Code::PostsKeptOut && f.severity == base::Severity::Incomplete));
}

#[test]
fn measured_openings_replace_the_plans() {
    let mut settings = settings(Job { inside: Some(Inside::Left), ..Job::default() });
    let csv = "span,opening,top,bottom\nS1,72-1/2in,,\nS2,,73in,73-3/8in\nS9,60in,,\n";
    settings.measured = read_measured(csv, "m.csv", Some(base::Unit::Inch)).unwrap();
    let dxf = polylines(&[edge(&[[0.0, 0.0], [240.0, 0.0]], false)], Insunits::Inch);
    let outcome = plumbrail::lay_out(dxf.as_bytes(), "plan.dxf", &settings).unwrap();
    let panel = |id: &str| outcome.layout.panels.iter().find(|p| p.panel.id == id).unwrap();
    // 72-1/2 less 3/16 at both ends.
    assert_eq!(panel("S1").panel.length.inches(), 72.125);
    assert_eq!(panel("S2").panel.length.inches(), 72.625);
    assert_eq!(panel("S3").panel.span, panel("S3").span.clear);
    let told = |code| outcome.findings.iter().filter(|f| f.code == code).count();
    assert_eq!((told(Code::SpanMeasured), told(Code::MeasuredUnknown)), (2, 1));
    assert!(outcome.proof.holds(), "{:?}", outcome.proof.findings);
}

/// A wall along the middle of the edge, as where a deck wraps a house corner: the end posts stand 4 in inside the edge, so
/// 4 - 4.5/2 = 1.75 in stay between post and wall; at an inset of 8 in it would be 5.75, and a child passes.
#[test]
fn the_gap_between_an_end_post_and_the_wall_beside_it_is_checked() {
    let deck = edge(&corners(0.0, 0.0, 240.0, 120.0), true);
    let wall = Path { layer: "HOUSE-WALL", points: corners(90.0, -6.0, 150.0, 0.0).to_vec(), closed: true };
    let dxf = polylines(&[deck, wall], Insunits::Inch);
    let lay_out = |job| plumbrail::lay_out(dxf.as_bytes(), "plan.dxf", &settings(job)).unwrap();
    let near = lay_out(Job::default());
    assert_eq!(near.layout.posts.iter().filter(|p| p.kind == PostKind::End).count(), 2);
    assert!(near.findings.iter().all(|f| f.code != Code::GapLeftOpen), "{:?}", near.findings);
    let far = lay_out(Job { inset: Some(base::Length::INCH * 8), ..Job::default() });
    let told: Vec<_> = far.findings.iter().filter(|f| f.code == Code::GapLeftOpen).collect();
    assert_eq!(told.len(), 2);
    assert!(told.iter().all(|f| f.rule.as_ref().unwrap().actual.inches() == 5.75), "{told:?}");
}

/// A wall below the edge says that the deck is below; the job knows better.
#[test]
fn what_the_job_says_of_the_side_wins_over_the_walls() {
    let wall = Path { layer: "HOUSE-WALL", points: corners(90.0, -60.0, 150.0, -50.0).to_vec(), closed: true };
    let said = lay_out(&[wall], Job::default());
    assert!(said.layout.posts.iter().all(|p| p.at.y > 0.0), "{:?}", said.layout.posts);
}
