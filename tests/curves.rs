//! Curved edges, hard outlines and corner posts, from drawing to proof: check values, and the same panels when a plan is
//! turned, mirrored, moved or drawn the other way.

use std::f64::consts::PI;
use std::fmt::Write as _;

use plumbrail::base::{Code, Length, Severity, plane};
use plumbrail::catalog::{CornerPosts, FreeEnds, Inside, Job, Settings, rules_named, system_named};
use plumbrail::guard::{PostKind, Support};
use plumbrail::proof::Verdict;
use plumbrail::{Outcome, lay_out};

const INCH: f64 = 25.4;

/// An edge, wall or opening: vertices with bulges, in inches.
#[derive(Clone)]
struct Line {
    layer: &'static str,
    points: Vec<(f64, f64, f64)>,
    closed: bool,
}

fn line(layer: &'static str, points: &[(f64, f64, f64)], closed: bool) -> Line {
    Line { layer, points: points.to_vec(), closed }
}

fn wall(x0: f64, y0: f64, x1: f64, y1: f64) -> Line {
    line("WALL", &[(x0, y0, 0.), (x1, y0, 0.), (x1, y1, 0.), (x0, y1, 0.)], true)
}

/// A drawing in inches; `more` are further records, `|` stands for the line end.
fn drawing(lines: &[Line], more: &str) -> Vec<u8> {
    let mut out = "0|SECTION|2|HEADER|9|$ACADVER|1|AC1015|9|$INSUNITS|70|1|0|ENDSEC|0|SECTION|2|ENTITIES|".to_owned();
    for l in lines {
        let (count, closed) = (l.points.len(), i32::from(l.closed));
        let _ = write!(out, "0|LWPOLYLINE|8|{}|90|{count}|70|{closed}|", l.layer);
        for (x, y, bulge) in &l.points {
            let _ = write!(out, "10|{x}|20|{y}|42|{bulge}|");
        }
    }
    format!("{out}{more}0|ENDSEC|0|EOF|").replace('|', "\n").into_bytes()
}

fn settings(job: Job) -> Settings {
    Settings::new(job, system_named("composite-36").unwrap(), rules_named("irc-2021").unwrap()).unwrap()
}

fn laid(lines: &[Line], more: &str) -> Outcome {
    laid_with(lines, more, Job::default())
}

fn laid_with(lines: &[Line], more: &str, job: Job) -> Outcome {
    let outcome = lay_out(&drawing(lines, more), "plan.dxf", &settings(job)).unwrap();
    let failed: Vec<_> = outcome.proof.checks.iter().filter(|c| c.verdict == Verdict::Fail).collect();
    assert!(failed.is_empty(), "{failed:#?}");
    outcome
}

fn has(outcome: &Outcome, code: Code) -> bool {
    outcome.findings.iter().any(|f| f.code == code)
}

fn errors(outcome: &Outcome) -> Vec<Code> {
    outcome.findings.iter().filter(|f| f.severity >= Severity::Incomplete).map(|f| f.code).collect()
}

/// Distance of a post from a point, in inches.
fn off(outcome: &Outcome, x: f64, y: f64) -> f64 {
    let at = outcome.plan.frame.to_local(plane::point(x, y));
    outcome.layout.posts.iter().map(|p| plane::distance(p.at, at)).fold(f64::INFINITY, f64::min) / INCH
}

/// What makes two panels the same: span and signed skews, to a millionth of an inch and degree; left and right are
/// swapped in a mirror image.
fn panels(outcome: &Outcome, mirrored: bool) -> Vec<(i64, i64, i64)> {
    let micro = |x: f64| (x * 1e6).round() as i64;
    // On the brink between two figures the same panel must not look like two.
    let length = |l: Length| (l.nanometres() + 13) / 26;
    let mut all: Vec<_> = outcome
        .layout
        .panels
        .iter()
        .map(|p| {
            let (l, r) = (micro(p.span.skew_left.degrees()) / 10, micro(p.span.skew_right.degrees()) / 10);
            if mirrored { (length(p.span.clear), r, l) } else { (length(p.span.clear), l, r) }
        })
        .collect();
    all.sort_unstable();
    all
}

fn alike(a: &[(i64, i64, i64)], b: &[(i64, i64, i64)]) -> bool {
    let near = |x: i64, y: i64| (x - y).abs() <= 2;
    a.len() == b.len() && a.iter().zip(b).all(|(p, q)| near(p.0, q.0) && near(p.1, q.1) && near(p.2, q.2))
}

fn mapped(lines: &[Line], map: impl Fn(f64, f64) -> (f64, f64), flips: bool) -> Vec<Line> {
    let sign = if flips { -1.0 } else { 1.0 };
    let point = |(x, y, b): &(f64, f64, f64)| {
        let (x, y) = map(*x, *y);
        (x, y, b * sign)
    };
    lines.iter().map(|l| Line { points: l.points.iter().map(point).collect(), ..l.clone() }).collect()
}

/// The same lines drawn from the other end: each bulge belongs to the stretch behind its vertex.
fn backwards(lines: &[Line]) -> Vec<Line> {
    let turned = |l: &Line| {
        let n = l.points.len();
        let points = (0..n)
            .rev()
            .map(|i| {
                let before = if i > 0 { l.points[i - 1].2 } else { l.points[n - 1].2 };
                (l.points[i].0, l.points[i].1, -before)
            })
            .collect();
        Line { points, ..l.clone() }
    };
    lines.iter().map(turned).collect()
}

/// A deck at a wall: a straight side, a rounded corner that touches both its edges, an edge bowed in, a bay with corners.
fn bowed_deck() -> Vec<Line> {
    let quarter = (PI / 8.0).tan();
    vec![
        line(
            "DECK EDGE",
            &[
                (0., 0., 0.),
                (0., -72., quarter),
                (72., -144., 0.),
                (150., -144., -0.12),
                (290., -144., 0.),
                (330., -144., 0.4),
                (430., -144., 0.),
                (460., -144., 0.),
                (460., 0., 0.),
            ],
            true,
        ),
        wall(-24., 0., 484., 6.),
        line("GATE", &[(458., -60., 0.), (462., -60., 0.), (462., -30., 0.), (458., -30., 0.)], true),
    ]
}

#[test]
fn a_bowed_deck_gives_the_same_panels_however_it_is_drawn() {
    let deck = bowed_deck();
    let plain = laid(&deck, "");
    assert_eq!(errors(&plain), []);
    let wanted = panels(&plain, false);
    assert!(wanted.len() > 12);
    let (sin, cos) = 37_f64.to_radians().sin_cos();
    let turned = |x: f64, y: f64| (x * cos - y * sin + 500.0, x * sin + y * cos - 900.0);
    for (name, lines, mirrored) in [
        ("turned", mapped(&deck, turned, false), false),
        ("moved", mapped(&deck, |x, y| (x + 12_345.5, y - 777.25), false), false),
        ("backwards", backwards(&deck), false),
        ("mirrored", mapped(&deck, |x, y| (-x, y), true), true),
    ] {
        let found = panels(&laid(&lines, ""), mirrored);
        let mut sorted = found.clone();
        sorted.sort_unstable();
        assert!(alike(&wanted, &sorted), "{name}: {wanted:?}\n{sorted:?}");
    }
}

/// A circle of 124 in radius: rail line 120, equal chords; skews are half the turn of a bay (closed form).
#[test]
fn a_circle_becomes_a_closed_run_of_equal_chords() {
    let outcome = laid(&[], "0|CIRCLE|8|DECK EDGE|10|300|20|200|40|124|");
    let layout = &outcome.layout;
    assert_eq!((errors(&outcome), layout.runs.len(), layout.runs[0].closed), (vec![], 1, true));
    let count = layout.panels.len();
    assert_eq!(layout.posts.len(), count);
    assert!(layout.posts.iter().all(|p| p.kind == PostKind::Line));
    // 3 in of sagitta allow chords of 2·sqrt(2·120·3 - 9) = 53.33: 15 bays of 49.9.
    assert_eq!(count, 15);
    let half = PI / count as f64;
    let clear = 2.0 * 120.0 * half.sin() - 4.5 / half.cos();
    for p in &layout.panels {
        assert!((p.span.clear.inches() - clear).abs() < 1e-6, "{}", p.span.clear.inches());
        for skew in [p.span.skew_left, p.span.skew_right] {
            assert!((skew.radians() - half).abs() < 1e-6, "{skew:?}");
        }
    }
    let limits = Job { max_sagitta: Some(Length::INCH * 6), ..Job::default() };
    let wide = laid_with(&[], "0|CIRCLE|8|DECK EDGE|10|300|20|200|40|124|", limits);
    // Chord 72 has a sagitta of 5.527; 10 bays have chords of 74.16 and 5.87.
    assert_eq!(wide.layout.panels.len(), 10);
}

/// Straight sides with half circles that touch them: a post in each joint, on the tangent (closed form).
#[test]
fn touching_joints_get_a_post_each() {
    let slot = line("DECK EDGE", &[(0., 0., 0.), (200., 0., 1.), (200., 168., 0.), (0., 168., 1.)], true);
    let outcome = laid(&[slot], "");
    assert_eq!(errors(&outcome), []);
    for (x, y) in [(0., 4.), (200., 4.), (200., 164.), (0., 164.)] {
        assert!(off(&outcome, x, y) < 1e-9, "{x} {y}");
    }
    assert!(outcome.layout.posts.iter().all(|p| p.kind == PostKind::Line));
}

/// A half circle on a base: the corners stand where the inner circle meets the inner line, x = sqrt(r² - d²).
#[test]
fn a_corner_between_line_and_arc_stands_where_they_meet() {
    let deck = line("DECK EDGE", &[(-150., 0., 0.), (150., 0., 1.)], true);
    let outcome = laid(&[deck], "");
    assert_eq!(errors(&outcome), []);
    let x = (146.0_f64 * 146.0 - 16.0).sqrt();
    assert!(off(&outcome, x, 4.) < 1e-9 && off(&outcome, -x, 4.) < 1e-9);
    assert_eq!(outcome.layout.posts.iter().filter(|p| p.kind == PostKind::Corner).count(), 2);
}

/// Bends inward: the rail must not overhang the edge, so panels are shorter than where the curve bends outward.
#[test]
fn a_curve_that_bends_inward_keeps_its_rails_over_the_deck() {
    let deck = |bulge: f64| {
        vec![
            line("DECK EDGE", &[(0., 0., 0.), (0., -300., bulge), (240., -300., 0.), (240., 0., 0.)], true),
            wall(-24., 0., 264., 6.),
        ]
    };
    let job = || Job { max_sagitta: Some(Length::INCH * 8), ..Job::default() };
    let inward = laid_with(&deck(-0.5), "", job());
    let outward = laid_with(&deck(0.5), "", job());
    assert_eq!((errors(&inward), errors(&outward)), (vec![], vec![]));
    assert!(inward.layout.panels.len() > outward.layout.panels.len());
    // Edge: r = 120·(1 + 0.25)/(4·0.5)·2 = 150; the inner corner of rail and deck: 4 - 1.125 in.
    let centre = inward.plan.frame.to_local(plane::point(120., -390.));
    for p in &inward.layout.panels {
        let middle = (p.span.left + p.span.right) / 2.0;
        if (plane::distance(p.span.left, centre) / INCH - 154.0).abs() < 3.0 {
            assert!(plane::distance(middle, centre) / INCH > 150.0 + 1.125 - 1e-3);
        }
    }
}

/// A wall and a gate on a curve: both take their part of it, and the rail ends on the wall's face.
#[test]
fn walls_and_openings_subtract_from_arcs() {
    let deck = vec![
        line("DECK EDGE", &[(-144., 0., 0.), (144., 0., 1.)], true),
        wall(-200., -6., 200., 0.),
        // Across the top of the half circle, 36 in wide.
        line("GATE", &[(-18., 136., 0.), (18., 136., 0.), (18., 152., 0.), (-18., 152., 0.)], true),
    ];
    let outcome = laid(&deck, "");
    assert_eq!(errors(&outcome), []);
    let layout = &outcome.layout;
    assert_eq!(layout.runs.len(), 2);
    let at_wall = layout.panels.iter().filter(|p| p.span.from == Support::Wall || p.span.to == Support::Wall).count();
    assert_eq!(at_wall, 2);
    let ends: Vec<_> = layout.posts.iter().filter(|p| p.kind == PostKind::End).collect();
    assert_eq!(ends.len(), 2);
    for post in ends {
        // Half a post behind the gate's side, on the rail line.
        let p = outcome.plan.frame.to_drawing(post.at);
        assert!((p.x.hypot(p.y) - 140.0).abs() < 1e-6, "{p:?}");
        assert!((17.3..21.0).contains(&p.x.abs()), "{p:?}");
    }
}

#[test]
fn ellipses_and_splines_are_laid_out_and_told() {
    let ellipse = "0|ELLIPSE|8|DECK EDGE|10|0|20|0|11|200|21|0|31|0|40|0.6|41|0|42|6.283185307179586|";
    let outcome = laid(&[], ellipse);
    assert_eq!(errors(&outcome), []);
    assert!(has(&outcome, Code::EdgeCurved));
    assert!(outcome.layout.runs[0].closed && outcome.layout.panels.len() > 10);
    for post in &outcome.layout.posts {
        // Inside of the ellipse by the inset, within the stated half millimetre: the distance from it by a fine search.
        let p = outcome.plan.frame.to_drawing(post.at);
        let d = (0..200_000)
            .map(|i| f64::from(i) * PI / 100_000.0)
            .map(|t| (200.0 * t.cos() - p.x).hypot(120.0 * t.sin() - p.y))
            .fold(f64::INFINITY, f64::min);
        assert!((d - 4.0).abs() < 0.5 / INCH, "{d}");
    }
    let knots = "40|0|40|0|40|0|40|0|40|1|40|1|40|1|40|1|";
    let control = "10|0|20|0|10|100|20|-90|10|200|20|-90|10|300|20|0|";
    let spline = format!("0|SPLINE|8|DECK EDGE|70|8|71|3|72|8|73|4|{knots}{control}");
    let free = Job { inside: Some(Inside::Left), ends: Some(FreeEnds::Free), ..Job::default() };
    let outcome = laid_with(&[], &spline, free);
    assert_eq!(errors(&outcome), []);
    assert!(has(&outcome, Code::EdgeCurved) && outcome.layout.panels.len() > 3);
}

/// A rounding tighter than the inset: the rail line has a plain corner there.
#[test]
fn a_rounding_tighter_than_the_inset_becomes_a_corner() {
    let quarter = (PI / 8.0).tan();
    let deck = vec![
        line(
            "DECK EDGE",
            &[(0., 0., 0.), (0., -118., quarter), (2., -120., 0.), (240., -120., 0.), (240., 0., 0.)],
            true,
        ),
        wall(-24., 0., 264., 6.),
    ];
    let outcome = laid(&deck, "");
    assert_eq!(errors(&outcome), []);
    assert!(has(&outcome, Code::EdgePassed));
    assert!(off(&outcome, 4., -116.) < 1e-6);
}

/// Around a hole of 20 in radius the rail line has 24: 11 bays of at least 8 in still leave it by
/// 24·(1 - cos(180/11)) = 0.97 in (closed form); half an inch cannot be kept.
#[test]
fn a_curve_too_tight_for_any_panel_is_told() {
    let hole = "0|CIRCLE|8|DECK EDGE|10|120|20|60|40|20|";
    let job = Job { max_sagitta: Some(Length::INCH.half()), ..Job::default() };
    let outcome = laid_with(&[box_deck()], hole, job);
    let found: Vec<_> = outcome.findings.iter().filter(|f| f.code == Code::CurveTooTight).collect();
    assert_eq!(found.len(), 1);
    let at = outcome.plan.frame.to_drawing(found[0].place.at.unwrap());
    assert!(((at.x - 120.).hypot(at.y - 60.) - 24.0).abs() < 1e-6, "{at:?}");
    assert!(found[0].message.contains("leave it by 0.97"), "{}", found[0].message);
    assert_eq!(outcome.layout.panels.iter().filter(|p| p.span.run == 1).count(), 11);
    assert!(!has(&laid(&[box_deck()], hole), Code::CurveTooTight));
}

/// Two boxes of 120 x 60 that share an edge are one deck of 240 x 60; that touch in a corner, two (closed form).
#[test]
fn touching_boxes() {
    let boxed = |x: f64, y: f64| {
        line("DECK EDGE", &[(x, y, 0.), (x + 120., y, 0.), (x + 120., y + 60., 0.), (x, y + 60., 0.)], true)
    };
    let shared = laid(&[boxed(0., 0.), boxed(120., 0.)], "");
    assert_eq!((errors(&shared), shared.layout.runs.len()), (vec![], 1));
    assert!(has(&shared, Code::EdgeShared));
    let corners = shared.layout.posts.iter().filter(|p| p.kind == PostKind::Corner).count();
    assert_eq!(corners, 4);
    for (x, y) in [(4., 4.), (236., 4.), (236., 56.), (4., 56.)] {
        assert!(off(&shared, x, y) < 1e-9);
    }
    let apart = laid(&[boxed(0., 0.), boxed(120., 60.)], "");
    assert_eq!((errors(&apart), apart.layout.runs.len()), (vec![], 2));
    assert_eq!(apart.layout.posts.iter().filter(|p| p.kind == PostKind::Corner).count(), 8);
}

fn box_deck() -> Line {
    line("DECK EDGE", &[(0., 0., 0.), (240., 0., 0.), (240., 120., 0.), (0., 120., 0.)], true)
}

/// Two posts at a right angle: each stands one post's side from the corner, square to its rail.
#[test]
fn corners_with_two_posts() {
    let job = || Job { corner_posts: Some(CornerPosts::Two), ..Job::default() };
    let outcome = laid_with(&[box_deck()], "", job());
    assert_eq!(errors(&outcome), []);
    assert_eq!(outcome.layout.posts.iter().filter(|p| p.kind == PostKind::Corner).count(), 8);
    assert!(off(&outcome, 4. + 4.5, 4.) < 1e-9 && off(&outcome, 4., 4. + 4.5) < 1e-9);
    assert!(outcome.layout.panels.iter().all(|p| p.span.skew_left.degrees() == 0.0));
    // 7 in from the corner: 2.5·sqrt(2) in between the posts, which the sphere of 4 in does not pass.
    let near = laid_with(&[box_deck()], "", Job { corner_setback: Some(Length::INCH * 7), ..job() });
    assert_eq!(errors(&near), []);
    let bytes = drawing(&[box_deck()], "");
    for (setback, code) in [(8, Code::GapLeftOpen), (4, Code::PostsTooNear)] {
        let job = Job { corner_setback: Some(Length::INCH * setback), ..job() };
        let outcome = lay_out(&bytes, "plan.dxf", &settings(job)).unwrap();
        assert!(errors(&outcome).contains(&code), "{setback}: {:?}", errors(&outcome));
    }
    let job = Job { corner_setback: Some(Length::INCH * 60), ..job() };
    let outcome = laid_with(&[box_deck()], "", job);
    assert!(has(&outcome, Code::PostsTooNear));
    assert_eq!(outcome.layout.posts.iter().filter(|p| p.kind == PostKind::Corner).count(), 4);
}

/// At 20 degrees the two rails meet before they reach the post; the finding names the post.
#[test]
fn rails_collide_at_a_sharp_corner() {
    let deck = line("DECK EDGE", &[(0., 0., 0.), (300., 0., 0.), (0., 110., 0.)], true);
    let outcome = lay_out(&drawing(&[deck], ""), "plan.dxf", &settings(Job::default())).unwrap();
    let found: Vec<_> = outcome.findings.iter().filter(|f| f.code == Code::RailsCollide).collect();
    assert_eq!(found.len(), 1, "{:?}", outcome.findings);
    assert!(found[0].place.post.is_some() && found[0].hint.is_some());
}

/// A jog of 11 in leaves 6-1/2 in between its corner posts: shorter than the shortest panel of 8 in, told at its place.
#[test]
fn a_jog_shorter_than_the_shortest_panel_is_told() {
    let deck = vec![
        line(
            "DECK EDGE",
            &[(0., 0., 0.), (0., -100., 0.), (120., -100., 0.), (120., -111., 0.), (240., -111., 0.), (240., 0., 0.)],
            true,
        ),
        wall(-24., 0., 264., 6.),
    ];
    let bytes = drawing(&deck, "");
    let outcome = lay_out(&bytes, "plan.dxf", &settings(Job::default())).unwrap();
    let found: Vec<_> = outcome.findings.iter().filter(|f| f.code == Code::SpanTooShort).collect();
    assert_eq!(found.len(), 1);
    let at = outcome.plan.frame.to_drawing(found[0].place.at.unwrap());
    assert!((at.x - 124.0).abs() < 1e-6 && (at.y + 101.5).abs() < 6.0, "{at:?}");
    assert!(found[0].hint.is_some());
}

/// Loose lines and arcs, drawn in any order and direction, one arc twice: as the outline in one piece.
#[test]
fn loose_lines_and_arcs_make_the_same_deck() {
    let slot = line("DECK EDGE", &[(0., 0., 0.), (200., 0., 1.), (200., 168., 0.), (0., 168., 1.)], true);
    let whole = laid(&[slot], "");
    let loose = "0|ARC|8|DECK EDGE|10|200|20|84|40|84|50|270|51|90|0|LINE|8|DECK EDGE|10|0|20|168|11|200|21|168|\
                 0|ARC|8|DECK EDGE|10|0|20|84|40|84|50|90|51|270|0|LINE|8|DECK EDGE|10|0|20|0|11|200|21|0|\
                 0|ARC|8|DECK EDGE|10|0|20|84|40|84|50|90|51|270|";
    let outcome = laid(&[], loose);
    assert_eq!(errors(&outcome), []);
    assert!(has(&outcome, Code::DoubleEdge));
    assert!(alike(&panels(&whole, false), &panels(&outcome, false)));
}

/// A drawn post near the curve is taken, and the panels on both sides are divided anew.
#[test]
fn a_drawn_post_splits_a_curve() {
    let deck = vec![line("DECK EDGE", &[(-144., 0., 0.), (144., 0., 1.)], true), wall(-200., -6., 200., 0.)];
    let outcome = laid(&deck, "0|POINT|8|POST|10|31|20|136|");
    assert_eq!(errors(&outcome), []);
    assert!(off(&outcome, 31., 136.) < 1e-9);
}

/// A deck of 11 in width between two free ends: the rails of both sides are 3 in apart, their posts of 4-1/2 in stand in each
/// other, though neither rail line fails.
#[test]
fn posts_of_two_rails_that_stand_in_each_other_are_told() {
    let deck = line("DECK EDGE", &[(0., 0., 0.), (200., 0., 0.), (200., 11., 0.), (0., 11., 0.)], true);
    let outcome = lay_out(&drawing(&[deck], ""), "plan.dxf", &settings(Job::default())).unwrap();
    let found: Vec<_> = outcome.findings.iter().filter(|f| f.code == Code::PostsTooNear).collect();
    assert!(found.iter().any(|f| f.message.contains("stand in each other")), "{:?}", outcome.findings);
}

/// An edge that ends on the middle of another is told; the outline itself is laid out.
#[test]
fn a_t_junction_is_told() {
    let outcome = lay_out(
        &drawing(&[box_deck(), line("DECK EDGE", &[(120., 0., 0.), (120., 60., 0.)], false)], ""),
        "plan.dxf",
        &settings(Job::default()),
    )
    .unwrap();
    let found: Vec<_> = outcome.findings.iter().filter(|f| f.code == Code::EdgeBranches).collect();
    assert_eq!(found.len(), 1);
    assert!(outcome.layout.runs.iter().any(|r| r.closed));
}

/// An open edge far from all walls has no side until the job gives it, and then its free ends are to be stated, too.
#[test]
fn the_side_of_an_open_edge_is_never_guessed() {
    let edge = || line("DECK EDGE", &[(0., 0., 0.), (110., -30., 0.), (150., -60., 0.), (190., -60., 0.)], false);
    let lines = || [edge(), wall(-24., 160., 174., 166.)];
    let stated = Job { ends: Some(FreeEnds::Free), ..Job::default() };
    let outcome = laid_with(&lines(), "", stated.clone());
    assert!(has(&outcome, Code::SideUnknown) && outcome.layout.runs.is_empty());
    let outcome = laid_with(&lines(), "", Job { inside: Some(Inside::Left), ..stated });
    assert!(!has(&outcome, Code::SideUnknown) && errors(&outcome).is_empty(), "{:?}", outcome.findings);
    assert_eq!(outcome.layout.runs.len(), 1);
    let outcome = laid(&lines(), "");
    assert_eq!(errors(&outcome), [Code::EdgeOpen; 2]);
}

/// The chords of this outline do not cross, but its arcs do: told where.
#[test]
fn arcs_that_cross_are_told_at_their_place() {
    let deck = line("DECK EDGE", &[(0., 0., -0.9), (200., 0., 0.), (200., 80., -0.9), (0., 80., 0.)], true);
    let outcome = lay_out(&drawing(&[deck], ""), "plan.dxf", &settings(Job::default())).unwrap();
    let found: Vec<_> = outcome.findings.iter().filter(|f| f.code == Code::EdgeCrosses).collect();
    assert_eq!(found.len(), 1, "{:?}", outcome.findings);
    let at = outcome.plan.frame.to_drawing(found[0].place.at.unwrap());
    // The two arcs of r 100.6 and height 90 cross at half the depth.
    assert!((at.y - 40.0).abs() < 0.1 && (0.0..200.0).contains(&at.x), "{at:?}");
}

/// Two posts drawn side by side as closed squares stay two posts.
#[test]
fn squares_of_posts_that_touch_stay_apart() {
    let square = |x: f64| line("POST", &[(x, 1.5, 0.), (x + 5., 1.5, 0.), (x + 5., 6.5, 0.), (x, 6.5, 0.)], true);
    let outcome =
        lay_out(&drawing(&[box_deck(), square(100.), square(105.)], ""), "plan.dxf", &settings(Job::default()))
            .unwrap();
    assert!(off(&outcome, 102.5, 4.) < 1e-9 && off(&outcome, 107.5, 4.) < 1e-9);
}
