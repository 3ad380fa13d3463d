//! Tests: each kind of drawing, landings, directions and sides. Inches.

use super::drafts::*;
use crate::base::plane::point;
use crate::base::{Angle, Code, Finding, Severity};
use crate::cad::{Insert, Origin};
use crate::catalog::Sides;
use crate::deck::Plan;

#[test]
fn tread_lines_with_a_text_are_a_flight() {
    // The first line on the edge, or one tread away from it; the lines upward or downward in the file.
    for lines in [ys(0.0, 11, 10.0), ys(-10.0, 10, 10.0), ys(0.0, 11, 10.0).into_iter().rev().collect()] {
        let mut draft = deck(AS_IT_IS);
        draft.treads(&lines).text(160.0, -40.0, "11R 7-5/8 x 10");
        let (plan, findings) = draft.read();
        is_usual(&plan, AS_IT_IS);
        assert_eq!(codes(&findings), []);
        let [zone] = &*plan.zones else { panic!() };
        assert_eq!(zone.flight, Some(0));
        assert_eq!(only(&plan).guards, Sides::Both);
    }
}

#[test]
fn turned_and_mirrored_plans_give_turned_and_mirrored_flights() {
    for degrees in [0.0, 30.0, 45.0, 90.0, 133.7, 180.0, 271.0] {
        for mirrored in [false, true] {
            let way = Way(degrees, point(37.0, -1234.5), mirrored);
            let mut draft = deck(way);
            draft.treads(&ys(-10.0, 10, 10.0)).text(160.0, -40.0, "11R 7-5/8");
            let (plan, findings) = draft.read();
            is_usual(&plan, way);
            assert_eq!(codes(&findings), []);
        }
    }
}

#[test]
fn stringers_outlines_arrows_and_hatches_do_not_disturb() {
    let mut draft = deck(AS_IT_IS);
    draft.rect("STAIR", (100.0, 0.0), (148.0, -100.0)).treads(&ys(-10.0, 9, 10.0)).text(124.0, -50.0, "7-5/8 RISERS");
    for x in [100.0, 101.5, 112.0, 124.0, 136.0, 146.5, 148.0] {
        draft.line((x, 0.0), (x, -100.0));
    }
    // An arrow down the middle, and short hatch lines on a tread.
    draft.line((124.5, -5.0), (124.5, -90.0)).line((124.5, -90.0), (121.0, -84.0)).line((124.5, -90.0), (128.0, -84.0));
    for k in 0..40 {
        let x = 102.0 + f64::from(k);
        draft.line((x, -32.0), (x + 2.0, -34.0));
    }
    let (plan, findings) = draft.read();
    is_usual(&plan, AS_IT_IS);
    assert_eq!(codes(&findings), []);
}

#[test]
fn lines_win_for_count_and_tread_the_text_for_the_riser() {
    let mut draft = deck(AS_IT_IS);
    draft.treads(&[-10.0, -20.0, -30.5, -40.5]).text(160.0, -20.0, "6R 7 x 11");
    let (plan, findings) = draft.read();
    let f = only(&plan);
    assert_eq!((f.risers, f.steps.riser, f.steps.tread), (5, inches("7"), inches("10-1/8")));
    assert_eq!(f.tread_variation, inches("1/2"));
    let told = [Severity::Incomplete, Severity::Warning].map(|s| (Code::StairStepsDiffer, s));
    assert_eq!(codes(&findings), told);
    let mut draft = deck(AS_IT_IS);
    draft.treads(&ys(0.0, 5, 10.0)).text(160.0, -20.0, "5R 7-1/2").text(90.0, -20.0, "RISER 8");
    let (plan, findings) = draft.read();
    assert_eq!(only(&plan).steps.riser, inches("7-1/2"));
    assert_eq!(codes(&findings), [(Code::StairStepsDiffer, Severity::Warning)]);
}

#[test]
fn a_text_far_from_each_flight_is_told() {
    let mut draft = deck(AS_IT_IS);
    draft.treads(&ys(0.0, 5, 10.0)).text(124.0, -20.0, "RISER 7").text(60.0, -20.0, "5R 7-1/2").text(60.0, -30.0, "DN");
    let (plan, findings) = draft.read();
    assert_eq!(only(&plan).steps.riser, inches("7"));
    assert_eq!(codes(&findings), [(Code::EntityNotUsed, Severity::Warning)]);
}

#[test]
fn a_missing_rise_is_an_error_that_says_how_to_give_it() {
    let mut draft = deck(AS_IT_IS);
    draft.treads(&ys(0.0, 5, 10.0));
    let (plan, findings) = draft.read();
    assert_eq!(plan.flights, []);
    assert_eq!((plan.zones.len(), plan.zones[0].flight), (1, None));
    let [finding] = findings.as_slice() else { panic!("{findings:?}") };
    assert_eq!((finding.code, finding.severity), (Code::StairRiseUnknown, Severity::Incomplete));
    let hint = finding.hint.as_deref().unwrap();
    assert!(hint.contains("`11R 7-5/8 x 10` on layer STAIR"), "{hint}");
    assert!(hint.contains("`at = [124, -20]` and `riser = \"7-5/8in\"`"), "{hint}");
    let as_it_says = "[[stair]]\nat = [124, -20]\nriser = \"7-5/8in\"";
    for job in [as_it_says, "[stairs]\nriser = \"7-5/8in\"", "[[stair]]\nat = [149.5, -20]\ntotal-rise = \"38.125in\""]
    {
        let (plan, findings) = draft.read_with(job);
        assert_eq!((only(&plan).risers, only(&plan).steps.riser), (5, inches("7-5/8")), "{job}");
        assert_eq!(codes(&findings), [], "{job}");
    }
    let (plan, _) = draft.read_with("[stairs]\ntotal-rise = \"37.5in\"\nnosing = \"1in\"");
    assert_eq!((only(&plan).steps.riser, only(&plan).steps.nosing), (inches("7.5"), inches("1")));
}

/// Two flights at right angles with a landing: drawn as a box, as an outline of the deck layer, or not at all.
#[test]
fn an_l_stair_is_two_flights() {
    for landing in ["STAIR", "DECK-EDGE", ""] {
        let mut draft = deck(AS_IT_IS);
        draft.treads(&ys(0.0, 5, 10.0)).text(124.0, -20.0, "7-1/2 risers").text(180.0, -64.0, "RISER 7-1/4");
        if !landing.is_empty() {
            draft.rect(landing, (100.0, -40.0), (148.0, -88.0));
        }
        for k in 0..6 {
            let x = 148.0 + 11.0 * f64::from(k);
            draft.line((x, -40.0), (x, -88.0));
        }
        let (plan, findings) = draft.read();
        let [one, two] = plan.flights.as_slice() else { panic!("{landing} {findings:?}") };
        assert_eq!((one.risers, one.steps.riser, one.steps.tread), (5, inches("7.5"), inches("10")));
        assert_eq!((two.risers, two.steps.riser, two.steps.tread), (6, inches("7.25"), inches("11")));
        assert!(near(one.down, point(0.0, -1.0)) && near(two.down, point(1.0, 0.0)), "{landing}");
        // Both its ends touch outlines of the deck layer: the larger one is taken for the upper level.
        let expected: &[_] = if landing == "DECK-EDGE" { &[(Code::StairDirection, Severity::Incomplete)] } else { &[] };
        assert_eq!(codes(&findings), expected, "{landing}");
        let zones: Vec<_> = plan.zones.iter().map(|z| z.flight).collect();
        assert_eq!(zones, if landing == "DECK-EDGE" { vec![Some(0), Some(1)] } else { vec![Some(0)] }, "{landing}");
    }
}

#[test]
fn a_u_stair_is_two_flights_back_and_forth() {
    for degrees in [0.0, 30.0] {
        let way = Way(degrees, point(0.0, 0.0), false);
        let mut draft = deck(way);
        draft.treads(&ys(-10.0, 5, 10.0)).text(90.0, -20.0, "RISER 7");
        draft.rect("STAIR", (100.0, -50.0), (202.0, -100.0));
        for k in 0..3 {
            let y = -50.0 + 10.0 * f64::from(k);
            draft.line((154.0, y), (202.0, y));
        }
        draft.text(210.0, -40.0, "RISER 7");
        let (plan, findings) = draft.read();
        let [one, two] = plan.flights.as_slice() else { panic!("{findings:?}") };
        assert_eq!((one.risers, two.risers), (6, 3));
        assert!(near(one.down, point(-two.down.x, -two.down.y)));
        // They fall past each other: both well sides stand free.
        assert_eq!((one.guards, two.guards), (Sides::Both, Sides::Both));
    }
}

#[test]
fn flights_side_by_side_have_no_guard_between_them() {
    let mut draft = deck(AS_IT_IS);
    for (left, right) in [(100.0, 148.0), (150.0, 190.0)] {
        for y in ys(0.0, 6, 10.0) {
            draft.line((left, y), (right, y));
        }
        draft.text((left + right) / 2.0, -25.0, "RISER 7");
    }
    let (plan, findings) = draft.read();
    assert_eq!(plan.flights.iter().map(|f| f.guards).collect::<Vec<_>>(), [Sides::Right, Sides::Left]);
    assert_eq!(codes(&findings), [(Code::StairCompleted, Severity::Note); 2]);
}

#[test]
fn a_side_along_a_wall_gets_no_guard() {
    let mut draft = deck(AS_IT_IS);
    draft.treads(&ys(0.0, 6, 10.0)).text(120.0, -20.0, "RISER 7");
    draft.path("WALL", &[(152.0, 0.0), (152.0, -45.0)], false, [0.0; 2]);
    let (plan, _) = draft.read();
    let f = only(&plan);
    // Looking down to -y, x grows to the left.
    assert_eq!((f.walls, f.guards), (Sides::Left, Sides::Right));
    let (plan, _) = draft.read_with("[[stair]]\nat = [120, -20]\nguard = \"both\"\nhandrail = \"left\"");
    assert_eq!((only(&plan).guards, only(&plan).handrails), (Sides::Both, Some(Sides::Left)));
    draft.text(120.0, -30.0, "GUARD NONE");
    assert_eq!(only(&draft.read().0).guards, Sides::None);
}

#[test]
fn an_outline_falls_from_the_side_on_the_deck() {
    let mut draft = deck(AS_IT_IS);
    draft.rect("STAIR", (100.0, 0.0), (148.0, -100.0)).text(120.0, -20.0, "11R 7-5/8");
    let (plan, findings) = draft.read();
    is_usual(&plan, AS_IT_IS);
    assert_eq!(codes(&findings), []);
    // 84 in with risers of at most 7-3/4 are 11 (IRC 2021 R311.7.5.1); the treads follow from the depth.
    let mut draft = deck(AS_IT_IS);
    draft.rect("STAIR", (100.0, 0.0), (148.0, -100.0)).text(120.0, -20.0, "TOTAL RISE 84");
    let (plan, findings) = draft.read();
    let f = only(&plan);
    assert_eq!((f.risers, f.steps.tread, f.steps.riser), (11, inches("10"), inches("84").fraction(1, 11)));
    assert_eq!(codes(&findings), [(Code::StairCompleted, Severity::Note)]);
    // Four loose lines are an outline, too.
    let mut draft = deck(AS_IT_IS);
    let corners = [(100.0, 0.0), (148.0, 0.0), (148.0, -100.0), (100.0, -100.0), (100.0, 0.0)];
    for w in corners.windows(2) {
        draft.line(w[0], w[1]);
    }
    draft.text(120.0, -20.0, "11R 7-5/8");
    is_usual(&draft.read().0, AS_IT_IS);
}

#[test]
fn between_two_outlines_arrow_heights_job_or_size_tell_the_top() {
    let draft = |more: &dyn Fn(&mut Draft)| {
        let mut draft = deck(AS_IT_IS);
        draft.rect("DECK-EDGE", (60.0, -60.0), (180.0, -160.0)).treads(&ys(0.0, 7, 10.0)).text(158.0, -30.0, "RISER 7");
        more(&mut draft);
        draft
    };
    let down_y = |(plan, _): &(Plan, Vec<Finding>)| only(plan).down.y.round();
    let larger = draft(&|_| ()).read();
    assert_eq!(down_y(&larger), -1.0);
    assert_eq!(codes(&larger.1), [(Code::StairDirection, Severity::Incomplete)]);
    let arrow = |draft: &mut Draft, word: &str| {
        draft
            .line((124.5, -5.0), (124.5, -55.0))
            .line((124.5, -55.0), (121.0, -49.0))
            .line((124.5, -55.0), (128.0, -49.0));
        draft.text(130.0, -8.0, word);
    };
    for (word, y) in [("DN", -1.0), ("UP", 1.0)] {
        let read = draft(&|d| arrow(d, word)).read();
        assert_eq!((down_y(&read), codes(&read.1)), (y, vec![]), "{word}");
    }
    let read = draft(&|d| arrow(d, "UP")).read_with("[[stair]]\nat = [124, -30]\ndown = -80");
    assert_eq!((down_y(&read), codes(&read.1)), (-1.0, vec![]));
    let slope = |d: &mut Draft| {
        d.path("STAIR", &[(124.0, 0.0), (124.0, -60.0)], false, [0.0, 42.0]);
    };
    let sloping = draft(&slope).read();
    assert_eq!((down_y(&sloping), codes(&sloping.1)), (1.0, vec![]));
}

#[test]
fn a_contradicting_arrow_is_told_and_the_edge_wins() {
    let mut draft = deck(AS_IT_IS);
    draft.treads(&ys(-10.0, 10, 10.0)).text(130.0, -92.0, "DN 11R 7-5/8");
    draft.line((124.5, -95.0), (124.5, -5.0)).line((124.5, -5.0), (121.0, -11.0)).line((124.5, -5.0), (128.0, -11.0));
    let (plan, findings) = draft.read();
    is_usual(&plan, AS_IT_IS);
    assert_eq!(codes(&findings), [(Code::StairDirection, Severity::Incomplete)]);
}

#[test]
fn heights_give_the_rise() {
    // A line along a side of an outline: 70 in over 100 in, so 10 treads of 10 and risers of 7.
    for foot_first in [false, true] {
        let mut draft = deck(AS_IT_IS);
        draft.rect("STAIR", (100.0, 0.0), (148.0, -100.0)).text(120.0, -50.0, "11R");
        let (points, z) = ([(100.0, 0.0), (100.0, -100.0)], [84.0, 14.0]);
        if foot_first {
            draft.path("STAIR", &[points[1], points[0]], false, [z[1], z[0]]);
        } else {
            draft.path("STAIR", &points, false, z);
        }
        let (plan, findings) = draft.read();
        assert_eq!((only(&plan).risers, only(&plan).steps.riser), (11, inches("7")));
        assert_eq!(codes(&findings), []);
    }
    // Tread lines at their own heights tell each riser.
    let mut draft = deck(AS_IT_IS);
    for (y, z) in [(0.0, 28.0), (-10.0, 21.0), (-20.0, 13.75), (-30.0, 7.0)] {
        draft.path("STAIR", &[(100.0, y), (148.0, y)], false, [z; 2]);
    }
    let (plan, findings) = draft.read();
    let f = only(&plan);
    assert_eq!((f.risers, f.steps.riser, f.riser_variation), (4, inches("7"), inches("1/2")));
    assert_eq!(codes(&findings), []);
    // Two sloping lines are the two sides.
    let mut draft = deck(AS_IT_IS);
    for x in [100.0, 148.0] {
        draft.path("STAIR", &[(x, 0.0), (x, -100.0)], false, [76.25, 0.0]);
    }
    draft.text(120.0, -50.0, "11R");
    is_usual(&draft.read().0, AS_IT_IS);
}

#[test]
fn a_sloping_line_alone_is_one_side() {
    let mut draft = deck(AS_IT_IS);
    draft.path("STAIR", &[(100.0, -100.0), (100.0, 0.0)], false, [7.5, 82.5]);
    let (plan, findings) = draft.read();
    let f = only(&plan);
    assert_eq!((f.risers, f.steps.riser, f.steps.tread, f.guards), (11, inches("7.5"), inches("10"), Sides::Left));
    assert_eq!((f.width_mm(), f.top[0]), (0.0, point(100.0 * IN, 0.0)));
    assert_eq!(codes(&findings), [(Code::StairCompleted, Severity::Note); 2]);
}

#[test]
fn attributes_of_a_block_are_read() {
    let mut draft = deck(AS_IT_IS);
    draft.treads(&ys(0.0, 11, 10.0));
    draft.entities.iter_mut().skip(1).for_each(|e| e.insert = Some(0));
    let attributes = [("RISERS", "11"), ("RISER", "7 5/8\""), ("NOSING", "1"), ("GUARD", "right")];
    draft.inserts.push(Insert {
        block: "STAIR-48".into(),
        layer: "A-FLOR-STRS".into(),
        origin: Origin::default(),
        at: point(-5000.0, 0.0),
        rotation: Angle::ZERO,
        parent: None,
        attributes: attributes.map(|(t, v)| (t.to_owned(), v.to_owned())).to_vec(),
    });
    let (plan, findings) = draft.read();
    is_usual(&plan, AS_IT_IS);
    assert_eq!((only(&plan).steps.nosing, only(&plan).guards), (inches("1"), Sides::Right));
    assert_eq!(codes(&findings), []);
}

#[test]
fn the_job_draws_flights_of_its_own() {
    let job = "[[stair]]\ntop = [[148, 0], [100, 0]]\nrisers = 11\nriser = \"7-5/8in\"\ntread = \"10in\"";
    let (plan, findings) = deck(AS_IT_IS).read_with(job);
    is_usual(&plan, AS_IT_IS);
    assert_eq!(codes(&findings), []);
    // What is drawn comes first, what only the job draws last.
    let mut draft = deck(AS_IT_IS);
    draft.treads(&ys(144.0 + 50.0, 6, 10.0)).text(120.0, 160.0, "RISER 7");
    let (plan, _) = draft.read_with(job);
    let ids: Vec<_> = plan.flights.iter().map(|f| (f.id.as_str(), f.risers)).collect();
    assert_eq!(ids, [("F1", 6), ("F2", 11)]);
    // A top for a drawing that cannot be read as it is.
    let mut draft = deck(AS_IT_IS);
    draft.treads(&ys(0.0, 11, 10.0));
    let (plan, _) = draft.read_with(&format!("{job}\nat = [120, -50]"));
    is_usual(&plan, AS_IT_IS);
}
