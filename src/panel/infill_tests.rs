//! Cables and framed panels against figures worked out by hand.

use super::{CableRun, FrameRow, Opening, Panel, PanelInfill, PanelSpec, build};
use crate::base::{Angle, Code, Finding, Length, Mark, Pitch, Unit};
use crate::catalog::{BalusterStyle, RailSystem, system_named};
use crate::guard::{Falls, Rake};
use crate::parts::supplies;

fn inches(value: f64) -> Length {
    Length::from_millimetres(value * 25.4).unwrap()
}

fn spec(system: &RailSystem) -> PanelSpec<'_> {
    PanelSpec {
        system,
        style: BalusterStyle::Even,
        mark: Mark::SIXTEENTH,
        limit: inches(4.0),
        stair_limit: inches(4.375),
        triangle: None,
        tolerance: inches(0.0625),
        longest: system.longest_panel,
    }
}

fn opening(clear: f64, slope: Option<&str>) -> Opening {
    let rake = slope.map(|slope| Rake {
        pitch: Pitch::parse(slope, Some(Unit::Inch)).unwrap(),
        falls: Falls::Right,
        steps: None,
        start: None,
    });
    Opening { id: "S1".to_owned(), clear: inches(clear), skew_left: Angle::ZERO, skew_right: Angle::ZERO, rake }
}

fn built(clear: f64, slope: Option<&str>, system: &RailSystem) -> Panel {
    let (panel, findings) = build(&opening(clear, slope), &spec(system));
    assert!(panel.is_some(), "{findings:?}");
    panel.unwrap()
}

fn refused(clear: f64, slope: Option<&str>, system: &RailSystem) -> Finding {
    let (panel, mut findings) = build(&opening(clear, slope), &spec(system));
    assert_eq!(panel, None);
    let last = findings.pop().unwrap();
    assert_eq!(last.code, Code::PanelFails);
    last
}

fn cables(panel: &Panel) -> &CableRun {
    panel.infill.cables().unwrap()
}

fn frames(panel: &Panel) -> &FrameRow {
    panel.infill.frames().unwrap()
}

/// Cables at 3 in, runs = height/3 - 1: 36 -> 11 (common practice). The height is clear between the rails here.
#[test]
fn runs_are_a_third_of_the_height_less_one() {
    let mut system = system_named("cable-36").unwrap();
    system.cable.as_mut().unwrap().spacing = Length::INCH * 3;
    system.bottom_gap = Length::ZERO;
    for member in &mut system.members {
        member.height = Length::ZERO;
    }
    let panel = built(40.0, None, &system);
    let expected: Vec<Length> = (1..=11).map(|k| Length::INCH * 3 * k).collect();
    assert_eq!(cables(&panel).heights, expected);
}

/// Closed form: rails leave 30-1/4 in from 4 in up, which are 11 spaces of 2-3/4, so 10 cables; 60 in clear with a slat of
/// 1 in leave 29-1/2 in twice. The first gap has only one half cable in it: 2-3/4 - 3/32.
#[test]
fn the_built_in_cables_stand_where_worked_out() {
    let system = system_named("cable-36").unwrap();
    let panel = built(60.0, None, &system);
    let run = cables(&panel);
    let expected: Vec<Length> = (0..10).map(|k| inches(6.75 + 2.75 * f64::from(k))).collect();
    assert_eq!(run.heights, expected);
    assert_eq!((run.slats.as_slice(), run.longest_run), (&[inches(29.9375)][..], inches(29.5)));
    assert_eq!((run.length, run.fittings, run.widest_gap), (inches(69.0), 20, inches(2.65625)));
    assert!(panel.balusters.marks.is_empty());
    assert_eq!((panel.balusters.length, panel.balusters.widest_gap), (inches(30.25), Length::ZERO));
    // w·L²/(8·T) with 0.08 lb/ft, 29.5 in and 200 lbf.
    let sag = 0.08 * (29.5_f64 / 12.0).powi(2) / (8.0 * 200.0) * 12.0;
    assert!((run.sag.inches() - sag).abs() < 1e-7);
    let bought: Vec<(String, usize)> = supplies(&panel, &system).iter().map(|(i, n)| (i.text(), *n)).collect();
    let expected = [
        ("Cable 3/16 in, 1x19, 69in long", 10),
        ("Cable fitting", 20),
        ("Slat 1 x 1-1/4 in, 30-1/4in long", 1),
        ("Screw #9 x 2-1/2 in", 2),
    ];
    assert_eq!(bought, expected.map(|(item, count)| (item.to_owned(), count)));
}

/// Closed form: 2-21/32 in, pushed open by 1-9/32 in, with 1/16 in tolerance are 4 in: one cable more. A nanometre less holds.
#[test]
fn a_pushed_gap_of_exactly_the_sphere_takes_one_cable_more() {
    let mut system = system_named("cable-36").unwrap();
    system.cable.as_mut().unwrap().give = inches(1.28125);
    assert_eq!(cables(&built(60.0, None, &system)).heights.len(), 11);
    system.cable.as_mut().unwrap().give = inches(1.28125) - Length::from_nanometres(1);
    assert_eq!(cables(&built(60.0, None, &system)).heights.len(), 10);
    system.cable.as_mut().unwrap().give = Length::INCH * 4;
    assert!(refused(60.0, None, &system).message.contains("no row of cables"));
}

/// A free length of just the longest one is allowed (closed form: 42; 85 less a slat of 1 in are 2 x 42).
#[test]
fn slats_stand_where_cables_would_run_too_far() {
    let mut system = system_named("cable-36").unwrap();
    system.longest_panel = inches(120.0);
    for (clear, slats, free) in [(42.0, 0, 42.0), (42.0625, 1, 20.5625), (85.0, 1, 42.0), (85.0625, 2, 27.6875)] {
        let panel = built(clear, None, &system);
        let run = cables(&panel);
        assert_eq!((run.slats.len(), run.longest_run), (slats, inches(free)), "{clear}");
    }
    system.cable.as_mut().unwrap().slat = None;
    assert!(cables(&built(42.0, None, &system)).slats.is_empty());
    assert!(refused(42.0625, None, &system).message.contains("no slats"));
}

/// 7.5 on 10 stretches by 1.25 (closed form): 48 in level are 60 along the slope, and 9 more for the fittings. Plumb
/// the rails leave 36 - 1 - 3-1/4 · 1.25 = 30-15/16, which is 24-3/4 square to them: 9 spaces of 2-3/4, 3-7/16 plumb.
#[test]
fn raked_cables_are_measured_square_to_the_slope() {
    let system = system_named("cable-36").unwrap();
    let panel = built(48.0, Some("7.5/10"), &system);
    let run = cables(&panel);
    assert_eq!(run.length, inches(69.0));
    let low = 1.0 + 1.5 * 1.25;
    let expected: Vec<Length> = (1..=8).map(|k| inches(low + 3.4375 * f64::from(k))).collect();
    assert_eq!(run.heights, expected);
    assert!((run.widest_gap.inches() - (2.75 - 0.09375)).abs() < 1e-6, "{}", run.widest_gap);
    // One slat of 1 in level, 1-1/4 along the slope: 29-3/8 on each side, half a mark off.
    assert_eq!((run.slats.len(), run.longest_run), (1, inches(29.40625)));
}

/// Closed form: 70 less 3 gaps of 3/8 are 2 x 34-7/16; clips at the quarter points, on marks.
#[test]
fn frames_are_equal_with_equal_gaps() {
    let system = system_named("frame-42").unwrap();
    let panel = built(70.0, None, &system);
    let row = frames(&panel);
    assert_eq!((row.width, row.height), (inches(34.4375), inches(35.0)));
    assert_eq!(row.edges, [inches(0.3125), inches(35.125)]);
    assert_eq!([row.end_gap_left, row.end_gap_right, row.widest_gap], [inches(0.375); 3]);
    assert_eq!(row.clips, [8.9375, 26.125, 43.75, 60.9375].map(inches));
    let bought: Vec<(String, usize)> = supplies(&panel, &system).iter().map(|(i, n)| (i.text(), *n)).collect();
    let expected =
        [("Framed glass, tempered, 1/4 in, 34-7/16in x 35in", 2), ("Frame clip", 8), ("Screw #10 x 3/4 in", 8)];
    assert_eq!(bought, expected.map(|(item, count)| (item.to_owned(), count)));
}

/// A frame of 48 in is the widest: 48-3/4 in take one, 48-13/16 in take it with wider gaps (closed form), 51-1/16 in two.
#[test]
fn the_widest_frame_is_not_passed() {
    let system = system_named("frame-42").unwrap();
    for (clear, count, width) in [(48.75, 1, 48.0), (48.8125, 1, 48.0), (51.0, 1, 48.0), (51.0625, 2, 24.9375)] {
        let panel = built(clear, None, &system);
        let row = frames(&panel);
        assert_eq!((row.edges.len(), row.width), (count, inches(width)), "{clear}");
    }
}

#[test]
fn what_lets_the_sphere_through_or_cannot_be_made_is_refused() {
    let good = system_named("frame-42").unwrap();
    let with = |change: fn(&mut crate::catalog::FrameSpec)| {
        let mut system = good.clone();
        change(system.frame.as_mut().unwrap());
        system
    };
    assert!(refused(70.0, None, &with(|f| f.mesh = Some(inches(4.0)))).message.contains("mesh"));
    assert!(frames(&built(70.0, None, &with(|f| f.mesh = Some(inches(3.9375))))).edges.len() == 2);
    assert!(refused(70.0, None, &with(|f| f.rail_gap = inches(4.0))).message.contains("gap between frame and rail"));
    assert!(refused(70.0, Some("7.5/10"), &with(|f| f.raked = false)).message.contains("not made for stairs"));
    assert!(refused(20.0, None, &with(|f| f.narrowest = inches(30.0))).message.contains("no row of equal frames"));
    let raked = built(60.0, Some("7.5/10"), &good);
    // 60 level are 75 along the slope; gaps of 3/8 level are 15/32 along it.
    let row = frames(&raked);
    assert_eq!(row.edges.len(), 2);
    assert!((row.width.inches() - (75.0 - 3.0 * 0.46875) / 2.0).abs() <= 0.125);
    assert!(row.widest_gap.inches() < 0.5 && row.end_gap_left.inches() >= 0.375);
}

/// A system says just one infill; one that says none, or two, is no system, and nothing is built from it.
#[test]
fn one_infill_and_no_other() {
    let mut system = system_named("cable-36").unwrap();
    system.frame = system_named("frame-42").unwrap().frame;
    assert!(refused(60.0, None, &system).message.contains("one infill"));
    for name in ["cable-36", "frame-42"] {
        let (_, text) = *crate::catalog::builtin_systems().iter().find(|(n, _)| *n == name).unwrap();
        let baluster = "\n[baluster]\nsection = \"round\"\nwidth = \"1in\"\nstyle = \"even\"\nspacing = \"4in\"\n";
        let error = crate::catalog::read_system(&format!("{text}{baluster}"), "my.toml").unwrap_err();
        assert!(error.message.contains("just one infill"), "{error}");
    }
    let plain = built(60.0, None, &system_named("composite-36").unwrap());
    assert_eq!(plain.infill, PanelInfill::Balusters);
    assert!(supplies(&plain, &system_named("composite-36").unwrap()).is_empty());
}
