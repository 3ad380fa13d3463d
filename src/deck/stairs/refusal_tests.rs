//! Tests: what is no flight, what is told of it, and hostile plans. Inches.

use proptest::prelude::*;

use super::drafts::*;
use crate::base::{Code, Severity};
use crate::cad::Shape;

#[test]
fn useless_words_of_the_job_are_told() {
    let mut draft = deck(AS_IT_IS);
    draft.treads(&ys(0.0, 5, 10.0)).text(160.0, -20.0, "RISER 7");
    for (job, what) in [
        ("[[stair]]\nat = [20, -20]\nriser = \"7in\"", "no stair that can be read is drawn at 20, -20"),
        ("[[stair]]\nriser = \"7in\"", "neither where"),
        ("[[stair]]\ntop = [[1, 1], [1, 1]]", "no line of two points"),
        ("[[stair]]\ntop = [[nan, 1], [inf, 1]]", "no line of two points"),
        ("[[stair]]\nat = [nan, 1e300]", "no stair that can be read"),
        ("[[stair]]\nat = [120, -20]\n[[stair]]\nat = [124, -20]", "another one is given for"),
    ] {
        let (plan, findings) = draft.read_with(job);
        assert_eq!(plan.flights.len(), 1, "{job}");
        let [finding] = findings.as_slice() else { panic!("{findings:?}") };
        assert_eq!((finding.code, finding.severity), (Code::StairNotLaidOut, Severity::Incomplete));
        assert!(finding.message.contains(what), "{}", finding.message);
    }
}

#[test]
fn one_riser_is_no_flight() {
    for text in ["1R 7", "RISER 7"] {
        let mut draft = deck(AS_IT_IS);
        draft.treads(&[0.0]).text(120.0, -8.0, text);
        let (plan, findings) = draft.read();
        assert_eq!((plan.flights.len(), plan.zones.len()), (0, 1), "{text}");
        assert_eq!(codes(&findings), [(Code::StairOneRiser, Severity::Note)], "{text}");
    }
    // A line one tread before the edge is the second nosing.
    let mut draft = deck(AS_IT_IS);
    draft.treads(&[-11.0]).text(120.0, -8.0, "2R 7");
    let (plan, _) = draft.read();
    assert_eq!((only(&plan).risers, only(&plan).steps.tread), (2, inches("11")));
}

#[test]
fn steps_that_are_none_are_errors() {
    for (text, what) in [
        ("11R 25", "a riser of 25in is no step"),
        ("11R 0", "a riser of 0in is no step"),
        ("900R 7 x 10", "900 risers"),
        ("99999999999R 7 x 10", "risers"),
        ("50R 7", "a tread of 2"),
        ("11R 7 x 10 NOSING 12", "a nosing of 12in"),
    ] {
        let mut draft = deck(AS_IT_IS);
        draft.rect("STAIR", (100.0, 0.0), (148.0, -100.0)).text(120.0, -20.0, text);
        let (plan, findings) = draft.read();
        assert_eq!(plan.flights, [], "{text}");
        assert_eq!(codes(&findings), [(Code::StairNotLaidOut, Severity::Incomplete)], "{text}");
        assert!(findings[0].message.contains(what), "{}", findings[0].message);
    }
}

#[test]
fn what_touches_no_edge_needs_a_direction() {
    let mut draft = deck(AS_IT_IS);
    draft.treads(&ys(-60.0, 5, 10.0)).text(120.0, -70.0, "RISER 7");
    let (plan, _) = draft.read();
    assert_eq!((plan.flights.len(), plan.zones.len()), (0, 1));
    let (plan, _) = draft.read_with("[[stair]]\nat = [120, -70]\ndown = -90");
    assert_eq!((only(&plan).risers, only(&plan).down.y.round()), (5, -1.0));
    let (_, findings) = draft.read_with("[[stair]]\nat = [120, -70]\ndown = 0");
    assert_eq!(codes(&findings), [(Code::StairNotLaidOut, Severity::Incomplete)]);
}

#[test]
fn what_is_no_stair_keeps_the_edge_free_and_is_told() {
    let mut unequal = deck(AS_IT_IS);
    unequal.treads(&[0.0, -10.0, -20.0, -36.0, -46.0]).text(120.0, -5.0, "RISER 7");
    let mut round = deck(AS_IT_IS);
    let centre = round.way.of(120.0, -30.0);
    round.add("STAIR", Shape::Circle { centre, radius: 30.0 * IN }, None);
    // The job may draw what cannot be read.
    let job = "[[stair]]\ntop = [[148, 0], [100, 0]]\nrisers = 5\nriser = \"7in\"\ntread = \"10in\"";
    let (plan, findings) = unequal.read_with(job);
    assert_eq!((only(&plan).risers, plan.zones.len(), codes(&findings)), (5, 1, vec![]));
    let mut aslant = Draft::new(AS_IT_IS);
    aslant.path("DECK-EDGE", &[(0.0, -60.0), (240.0, 60.0), (240.0, 144.0), (0.0, 144.0)], true, [0.0; 2]);
    aslant.treads(&ys(0.0, 6, 10.0)).text(120.0, -20.0, "RISER 7");
    let cases = [(unequal, "not equally spaced"), (round, "no tread lines"), (aslant, "does not run along it")];
    for (draft, what) in cases {
        let (plan, findings) = draft.read();
        assert_eq!((plan.flights.len(), plan.zones.len(), plan.zones[0].flight), (0, 1, None));
        assert_eq!(codes(&findings), [(Code::StairNotLaidOut, Severity::Incomplete)]);
        assert!(findings[0].message.contains(what) && findings[0].hint.is_some(), "{}", findings[0].message);
    }
}

#[test]
fn a_deck_edge_along_a_flight_is_not_kept_free_by_it() {
    let mut draft = Draft::new(AS_IT_IS);
    let points = [(0.0, 0.0), (100.0, 0.0), (100.0, -120.0), (240.0, -120.0), (240.0, 144.0), (0.0, 144.0)];
    draft.path("DECK-EDGE", &points, true, [0.0; 2]);
    for y in ys(0.0, 6, 10.0) {
        draft.line((52.0, y), (100.0, y));
    }
    draft.text(80.0, -20.0, "RISER 7");
    let (plan, findings) = draft.read();
    let lowest = plan.zones.iter().flat_map(|z| &z.hull).map(|p| p.y).fold(0.0, f64::min);
    assert!(plan.zones.len() == 1 && lowest > -2.0, "{:?}", plan.zones);
    assert_eq!(codes(&findings), [(Code::StairCompleted, Severity::Note)]);
}

#[test]
fn an_inset_moves_the_zone_with_the_rail() {
    let mut draft = deck(AS_IT_IS);
    draft.treads(&ys(0.0, 6, 10.0)).text(120.0, -20.0, "RISER 7 GUARD left");
    let widths = |job: &str| {
        let (plan, _) = draft.read_with(job);
        let x = || plan.zones[0].hull.iter().map(|p| p.x / IN);
        (x().fold(f64::INFINITY, f64::min), x().fold(0.0, f64::max))
    };
    assert_eq!(widths(""), (100.0, 148.0));
    // Posts of 4-1/2 in: 3 in inward from the side is 5.25 in from where they stand by default.
    let (right, left) = widths("[stairs]\ninset = \"3in\"");
    assert!((right - 100.0).abs() < 1e-9 && (left - 142.75).abs() < 1e-9, "{right} {left}");
}

/// Time is not measured here; with anything quadratic this would take minutes.
#[test]
fn many_lines_are_no_matter() {
    let mut draft = deck(AS_IT_IS);
    for i in 0..20_000 {
        let (x, y) = (f64::from(i % 141) * 3.1, -f64::from(i / 141) * 3.3);
        match i % 3 {
            0 => draft.line((x, y), (x + 48.0, y)),
            1 => draft.line((x, y), (x, y - 300.0)),
            _ => draft.line((x, y), (x + 10.5, y + f64::from(i % 17))),
        };
    }
    let (plan, findings) = draft.read();
    assert!(!plan.zones.is_empty() && findings.len() < 2_000, "{}", findings.len());
    let mut draft = deck(AS_IT_IS);
    for i in 0..20_000 {
        let y = -f64::from(i) * 1000.0;
        draft.line((0.0, y), (48.0, y));
    }
    let (_, findings) = draft.read();
    assert!(findings.len() < 30, "{}", findings.len());
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(48))]
    /// Whatever stands on the stair layer, the flights that come out have steps.
    #[test]
    fn any_drawing_is_read(
        lines in prop::collection::vec((0..30_i32, -12..3_i32, 0..30_i32, -12..3_i32, 0..3_i32), 0..40),
        text in "[0-9RX@/. -]{0,20}",
        down in prop::option::of(-400.0..400.0_f64),
    ) {
        let mut draft = deck(AS_IT_IS);
        for (a, b, c, d, z) in lines {
            let at = |x: i32, y: i32| (f64::from(x) * 8.0, f64::from(y) * 10.0);
            draft.path("STAIR", &[at(a, b), at(c, d)], z == 2, [0.0, f64::from(z % 2) * 30.0]);
        }
        draft.text(120.0, -20.0, &text);
        let down = down.map_or_else(String::new, |d| format!("down = {d:.3}"));
        let (plan, _) = draft.read_with(&format!("[stairs]\nriser = \"7in\"\n[[stair]]\nat = [120, -20]\n{down}"));
        for f in &plan.flights {
            prop_assert!(f.risers >= 2 && f.risers <= 500 && f.steps.pitch() == Some(f.pitch));
            prop_assert!((crate::base::plane::norm(f.down) - 1.0).abs() < 1e-9);
            prop_assert!(f.top.iter().all(|p| p.x.is_finite() && p.y.is_finite()));
        }
    }
}
