//! Check values of raked panels. "Closed form" was computed by hand; a stair of 7-1/2 on 10 has a slope of 12-1/2, so all of
//! it is exact there.

use super::{BracketKind, Cut, Opening, Panel, PanelSpec, build};
use crate::base::{Angle, Code, Finding, Length, Mark, Pitch, Severity, Unit};
use crate::catalog::{BalusterStyle, MemberRole, RailSystem};
use crate::deck::Steps;
use crate::guard::{Falls, Rake};

const TEST_RAIL: &str = include_str!("../../tests/systems/test-rail.toml");
const METAL: &str = include_str!("../catalog/systems/metal-42.toml");

fn inches(value: f64) -> Length {
    Length::from_millimetres(value * 25.4).unwrap()
}

fn all_inches(values: &[f64]) -> Vec<Length> {
    values.iter().map(|&v| inches(v)).collect()
}

fn test_rail() -> RailSystem {
    toml::from_str(TEST_RAIL).unwrap()
}

/// Without clearances, brackets, blocks and cap screws.
fn plain(width: f64, spacing: f64) -> RailSystem {
    let mut system = test_rail();
    system.end_clearance = Length::ZERO;
    system.bracket.members.clear();
    system.blocks = None;
    system.cap_screws = None;
    system.baluster.as_mut().unwrap().width = inches(width);
    system.baluster.as_mut().unwrap().spacing = inches(spacing);
    system
}

fn spec(system: &RailSystem, style: BalusterStyle) -> PanelSpec<'_> {
    PanelSpec {
        system,
        style,
        mark: Mark::SIXTEENTH,
        limit: inches(4.0),
        stair_limit: inches(4.375),
        triangle: Some(inches(6.0)),
        tolerance: Length::ZERO,
        longest: system.longest_panel,
    }
}

fn rake(riser: f64, tread: f64, nosing: f64) -> Rake {
    let steps = Steps { riser: inches(riser), tread: inches(tread), nosing: inches(nosing) };
    Rake { pitch: steps.pitch().unwrap(), falls: Falls::Right, steps: Some(steps), start: None }
}

fn opening(clear: f64, rake: Rake) -> Opening {
    Opening {
        id: "S1".to_owned(),
        clear: inches(clear),
        skew_left: Angle::ZERO,
        skew_right: Angle::ZERO,
        rake: Some(rake),
    }
}

fn built(opening: &Opening, spec: &PanelSpec<'_>) -> (Panel, Vec<Finding>) {
    let (panel, findings) = build(opening, spec);
    assert!(panel.is_some(), "{findings:?}");
    (panel.unwrap(), findings)
}

fn refused(opening: &Opening, spec: &PanelSpec<'_>) -> Finding {
    let (panel, mut findings) = build(opening, spec);
    assert_eq!(panel, None);
    let last = findings.pop().unwrap();
    assert_eq!(last.severity, Severity::Incomplete);
    last
}

fn codes(findings: &[Finding]) -> Vec<Code> {
    findings.iter().map(|f| f.code).collect()
}

fn near(length: Length, value: f64, within: f64) -> bool {
    (length.inches() - value).abs() <= within
}

/// Closed form: the rail is span / cos(pitch), 60 level are 75 at 7-1/2 on 10, cut at atan(0.75).
#[test]
fn the_rail_is_as_long_as_the_slope() {
    let system = plain(0.75, 4.5);
    let (panel, _) = built(&opening(60.0, rake(7.5, 10.0, 0.0)), &spec(&system, BalusterStyle::Even));
    assert_eq!((panel.length, panel.span), (inches(75.0), inches(60.0)));
    assert_eq!((panel.clearance_left, panel.clearance_right), (Length::ZERO, Length::ZERO));
    assert!(panel.cuts.iter().all(|cut| (cut.plumb.degrees() - 36.869_898).abs() < 1e-6 && cut.length == panel.length));
    assert_eq!(panel.level_mark(inches(6.25)), inches(5.0));
}

/// Closed form: 7-3/4 on 10 is 37.775684 degrees and 1.265158 along for 1 level; 48 level less two clearances of 1/8 are
/// 60.411 along, so the rail is 60-3/8 and each end keeps half of 48 - 60.375/1.265158.
#[test]
fn what_the_marks_leave_goes_to_both_ends() {
    let system = test_rail();
    let (panel, _) = built(&opening(48.0, rake(7.75, 10.0, 0.0)), &spec(&system, BalusterStyle::Centred));
    assert_eq!(panel.length, inches(60.375));
    assert!((panel.cuts[0].plumb.degrees() - 37.775_684).abs() < 1e-6);
    let pitch = panel.rake.unwrap().pitch;
    assert_eq!(panel.clearance_left + pitch.level(panel.length) + panel.clearance_right, panel.span);
    assert!(near(panel.clearance_left, (48.0 - 60.375 / 1.265_158_1) / 2.0, 1e-5), "{}", panel.clearance_left);
    assert!(panel.clearance_left >= inches(0.125));
}

/// Closed form: gaps of 3.75 between plumb balusters are 4.744343 along a slope of 7-3/4 on 10, and with balusters of 3/4
/// their spacing is 4.5 · 1.265158 = 5.693212.
#[test]
fn gaps_are_level_and_spacing_runs_along_the_slope() {
    let pitch = Pitch::parse("7.75/10", Some(Unit::Inch)).unwrap();
    assert!(near(pitch.along(inches(3.75)), 4.744_343, 1e-6));
    let system = plain(0.75, 4.5);
    let (panel, findings) = built(&opening(60.0, rake(7.75, 10.0, 0.0)), &spec(&system, BalusterStyle::Centred));
    assert_eq!(codes(&findings), [Code::BottomGapLowered; 0]);
    assert!(near(panel.balusters.spacing, 5.693_211_5, 1e-6));
    let steps: Vec<f64> = panel.balusters.marks.windows(2).map(|w| (w[1] - w[0]).inches()).collect();
    assert!(steps.iter().all(|s| (s - 5.693_211_5).abs() <= 0.062_5), "{steps:?}");
    assert!(near(panel.balusters.widest_gap, 3.75, 0.05), "{}", panel.balusters.widest_gap);
    // 5 level are 6.25 along at 7-1/2 on 10: 12 bays of it, the first and last half a bay from the end.
    let system = plain(1.0, 5.0);
    let (panel, _) = built(&opening(60.0, rake(7.5, 10.0, 0.0)), &spec(&system, BalusterStyle::Centred));
    let marks: Vec<f64> = (0..12).map(|k| 3.125 + 6.25 * f64::from(k)).collect();
    assert_eq!(panel.balusters.marks, all_inches(&marks));
    assert_eq!((panel.balusters.widest_gap, panel.balusters.end_gap_left), (inches(4.0), inches(2.0)));
}

/// Closed form: at 7-1/2 on 10 with balusters of 1 in, a gap of exactly 4-3/8 is a spacing of 5-3/8 · 1.25 along.
#[test]
fn a_level_gap_of_exactly_the_limit_fails() {
    let system = plain(1.0, 5.375);
    let (panel, findings) = built(&opening(60.0, rake(7.5, 10.0, 0.0)), &spec(&system, BalusterStyle::Centred));
    assert_eq!(codes(&findings), [Code::SpacingReduced]);
    assert_eq!(panel.balusters.spacing, inches(6.6875));
    assert!(panel.balusters.widest_gap < inches(4.375));
    // 6-23/32 along are 5-3/8 level again; the pitch of punched holes cannot be made smaller.
    let mut system = plain(1.0, 5.0);
    let stair = opening(60.0, rake(7.5, 10.0, 0.0));
    system.raked.as_mut().unwrap().punched_spacing = Some(inches(6.71875));
    let finding = refused(&stair, &spec(&system, BalusterStyle::Punched));
    assert!(finding.message.contains("leaves 4-3/8in between balusters; under 4-3/8in"), "{}", finding.message);
    system.raked.as_mut().unwrap().punched_spacing = Some(inches(6.6875));
    let (panel, _) = built(&stair, &spec(&system, BalusterStyle::Punched));
    assert!(panel.balusters.marks.windows(2).all(|w| w[1] - w[0] == inches(6.6875)));
    // Without a limit of its own, the stair keeps to the common one.
    let mut narrow = spec(&system, BalusterStyle::Punched);
    narrow.stair_limit = inches(4.0);
    assert!(refused(&stair, &narrow).message.contains("under 4in less"));
}

/// Closed form: level gaps of (60 - 11·0.75)/12 = 4.3125 are under 4-3/8, while 10 balusters leave 4.773; 12 leave 3.923.
#[test]
fn even_balusters_are_as_few_as_the_stairs_limit_allows() {
    let system = plain(0.75, 4.5);
    let stair = opening(60.0, rake(7.5, 10.0, 0.0));
    assert_eq!(built(&stair, &spec(&system, BalusterStyle::Even)).0.balusters.marks.len(), 11);
    let mut narrow = spec(&system, BalusterStyle::Even);
    narrow.stair_limit = inches(4.0);
    assert_eq!(built(&stair, &narrow).0.balusters.marks.len(), 12);
    narrow.stair_limit = inches(4.3125);
    assert_eq!(built(&stair, &narrow).0.balusters.marks.len(), 12, "a gap of exactly the limit fails");
}

/// Closed form: members 3/4, 1-1/4, 1-1/4 and 3/4 take 4 · 1.25 = 5 plumb, so 36 less 1 and 5 leaves 30.
#[test]
fn the_stack_is_plumb() {
    let mut system = test_rail();
    let stair = opening(60.0, rake(7.5, 10.0, 0.0));
    let (panel, _) = built(&stair, &spec(&system, BalusterStyle::Centred));
    assert_eq!((panel.bottom_gap, panel.balusters.length, panel.height), (inches(1.0), inches(30.0), inches(36.0)));
    // Off a mark the baluster is cut to the next one up, so that the guard is never lower than its system says.
    let stair = opening(60.0, rake(7.0, 11.0, 0.0));
    let (panel, _) = built(&stair, &spec(&system, BalusterStyle::Centred));
    // 36 - 1 - 4·1.185310 = 30.258761 -> 30-5/16.
    assert_eq!(panel.balusters.length, inches(30.3125));
    assert!(near(panel.height, 36.0 + 30.3125 - 30.258_761, 2e-6) && panel.height >= inches(36.0));
    system.raked.as_mut().unwrap().height = inches(5.5);
    assert!(refused(&stair, &spec(&system, BalusterStyle::Centred)).message.contains("nothing for the infill"));
}

/// The triangle's closed form, d = (R + T - sqrt(R² + T²))·(1 + n/T + b/R): 7-1/2 on 10 without nosing gives 5.000 on the
/// nosing line and exactly 6 at 1-1/2, which fails; 7-3/4 on 10 with a nosing of 1 gives 5.608, and 6 at 0.5956, so 9/16 holds.
#[test]
fn the_bottom_gap_follows_the_triangle() {
    let mut system = test_rail();
    let mut gap = |raked: f64, rake: Rake| {
        system.raked.as_mut().unwrap().bottom_gap = inches(raked);
        let (panel, findings) = built(&opening(60.0, rake), &spec(&system, BalusterStyle::Centred));
        (panel.bottom_gap, findings.into_iter().find(|f| f.code == Code::BottomGapLowered))
    };
    let (lowered, note) = gap(1.5, rake(7.5, 10.0, 0.0));
    assert_eq!(lowered, inches(1.4375));
    assert_eq!(
        note.unwrap().message,
        "the lowest rail lies 1-7/16in above the nosing line instead of 1-1/2in, where a sphere of 6in would pass the \
         triangle of riser, tread and rail; now it is 5.958in (151.3mm), under 6in"
    );
    assert_eq!(gap(1.4375, rake(7.5, 10.0, 0.0)), (inches(1.4375), None));
    let (lowered, note) = gap(1.0, rake(7.75, 10.0, 1.0));
    assert_eq!(lowered, inches(0.5625));
    assert!(note.unwrap().message.contains("a sphere of 6.266in"));
    assert_eq!(gap(0.5, rake(7.75, 10.0, 1.0)), (inches(0.5), None));
    // Steps that are not known, or a rule set without the triangle, leave the system's gap.
    assert_eq!(gap(1.5, Rake { steps: None, ..rake(7.5, 10.0, 0.0) }), (inches(1.5), None));
    let mut without = spec(&system, BalusterStyle::Centred);
    without.triangle = None;
    assert_eq!(built(&opening(60.0, rake(7.5, 10.0, 0.0)), &without).0.bottom_gap, inches(1.5));
}

/// Closed form: 9 on 9 without nosing gives 5.272; a nosing of 1-1/2 makes it 6.151 with the rail on the nosing line.
#[test]
fn a_triangle_that_no_gap_closes_is_an_error_with_a_panel() {
    let system = test_rail();
    let mut spec = spec(&system, BalusterStyle::Centred);
    let stair = opening(60.0, rake(9.0, 9.0, 1.5));
    spec.triangle = Some(inches(6.0));
    let (panel, findings) = built(&stair, &spec);
    assert_eq!(panel.bottom_gap, Length::ZERO);
    let finding = findings.iter().find(|f| f.code == Code::TriangleTooWide).unwrap();
    // (18 - 9·sqrt 2)·(1 + 1.5/9) = 6.1508
    assert!(finding.message.contains("6.151in") && finding.message.contains("under 6in"), "{}", finding.message);
    assert_eq!(finding.severity, Severity::Incomplete);
    assert!(finding.hint.is_some());
}

#[test]
fn slopes_and_openings_that_no_panel_fills() {
    let mut system = test_rail();
    let style = BalusterStyle::Centred;
    assert!(build(&opening(60.0, rake(9.0, 9.0, 0.0)), &spec(&system, style)).0.is_some());
    let finding = refused(&opening(60.0, rake(9.0625, 9.0, 0.0)), &spec(&system, style));
    assert_eq!(finding.code, Code::StairTooSteep);
    let rule = finding.rule.unwrap();
    assert_eq!((rule.section.as_str(), rule.limit, rule.actual), ("raked.steepest", inches(9.0), inches(9.0625)));
    assert!(finding.hint.is_some());

    let stair = |clear: f64| opening(clear, rake(7.5, 10.0, 0.0));
    assert_eq!(refused(&stair(7.9375), &spec(&system, style)).code, Code::SpanTooShort);
    let long = |clear: f64, spec: &PanelSpec<'_>| {
        let (panel, findings) = built(&stair(clear), spec);
        assert_eq!(panel.span, inches(clear));
        findings.into_iter().find(|f| f.code == Code::SpanTooLong).map(|f| f.rule.unwrap())
    };
    assert_eq!(long(90.0, &spec(&system, style)), None);
    let rule = long(90.0625, &spec(&system, style)).unwrap();
    assert_eq!((rule.section.as_str(), rule.limit), ("raked.longest-panel", inches(90.0)));
    let mut shorter = spec(&system, style);
    shorter.longest = inches(72.0);
    let rule = long(80.0, &shorter).unwrap();
    assert_eq!((rule.section.as_str(), rule.limit), ("longest-panel", inches(72.0)));

    let skewed = Opening { skew_right: Angle::from_degrees(-46.0), ..stair(60.0) };
    assert_eq!(refused(&skewed, &spec(&system, style)).code, Code::SkewTooLarge);
    assert!(refused(&stair(60.0), &spec(&system, BalusterStyle::Punched)).hint.unwrap().contains("punched-spacing"));
    system.raked = None;
    let finding = refused(&stair(60.0), &spec(&system, style));
    assert_eq!((finding.code, finding.message.as_str()), (Code::PanelFails, "the system has no raked panels"));
    assert!(finding.hint.is_some());
}

/// Closed form: a member of height h and width w at 7-1/2 on 10 reaches h · 0.75 further in the elevation, and a skew of 22.5
/// degrees w · tan(22.5)/2 · 1.25 further along the slope.
#[test]
fn cuts_are_plumb_and_follow_the_skews() {
    let system = plain(0.75, 4.5);
    let cut_at = |left: f64, right: f64| -> Cut {
        let (skew_left, skew_right) = (Angle::from_degrees(left), Angle::from_degrees(right));
        let opening = Opening { skew_left, skew_right, ..opening(60.0, rake(7.5, 10.0, 0.0)) };
        let (panel, _) = built(&opening, &spec(&system, BalusterStyle::Even));
        panel.cuts.into_iter().find(|c| c.member == MemberRole::BottomRail).unwrap()
    };
    let square = cut_at(0.0, 0.0);
    assert_eq!((square.long_point, square.short_point, square.left_tip), (inches(75.0), inches(75.0), Length::ZERO));
    assert_eq!(square.tip_to_tip, inches(75.0 + 1.25 * 0.75));
    let offset = 0.414_213_562 * 1.25;
    let skewed = cut_at(22.5, 22.5);
    assert!(near(skewed.long_point, 75.0 + 2.0 * offset, 1e-6) && near(skewed.short_point, 75.0 - 2.0 * offset, 1e-6));
    assert!(near(skewed.tip_to_tip, 75.0 + 2.0 * offset + 0.9375, 1e-6) && near(skewed.left_tip, offset, 1e-6));
}

#[test]
fn raked_brackets_stand_at_both_ends() {
    let system = test_rail();
    let (panel, _) = built(&opening(60.0, rake(7.5, 10.0, 0.0)), &spec(&system, BalusterStyle::Centred));
    // 60 less two clearances of 1/8 are 74.6875 along; holes 1/8 + 3/4 and 1/8 + 1-3/4 from the ends.
    assert_eq!(panel.length, inches(74.6875));
    assert!(panel.brackets.iter().all(|b| b.kind == BracketKind::Raked && b.setback == inches(0.125)));
    let holes: Vec<_> = panel.brackets.iter().map(|b| b.holes.clone()).collect();
    let (left, right) = (all_inches(&[0.875, 1.875]), all_inches(&[73.8125, 72.8125]));
    assert_eq!(holes, [left.clone(), right.clone(), left, right]);
    let width = inches(0.75 * 1.25);
    let (first, last) = (panel.balusters.marks[0], *panel.balusters.marks.last().unwrap());
    assert!(first - width / 2 >= inches(2.25) && panel.length - last - width / 2 >= inches(2.25));
}

/// Closed form: two blocks divide 60 at 20 and 40, which are 16 and 32 level. With its upper face 3 downhill of the top nosing
/// the panel has them at 19, over the second tread (15 below the top, the nosing line 14-1/4), and at 35, over the fourth (30
/// and 26-1/4).
#[test]
fn blocks_reach_down_to_the_treads() {
    let mut system = plain(0.75, 4.5);
    system.blocks = test_rail().blocks;
    let blocks = system.blocks.as_mut().unwrap();
    blocks.counts.iter_mut().for_each(|row| row.blocks = 2);
    blocks.screw_clearance = Length::ZERO;
    let known = |start: f64, falls: Falls| Rake { start: Some(inches(start)), falls, ..rake(7.5, 10.0, 0.0) };
    let heights = |start: f64, falls: Falls| {
        let (panel, _) = built(&opening(48.0, known(start, falls)), &spec(&system, BalusterStyle::Even));
        assert_eq!(panel.blocks, all_inches(&[20.0, 40.0]));
        panel.block_heights
    };
    assert_eq!(heights(3.0, Falls::Right), all_inches(&[1.75, 4.75]));
    assert_eq!(heights(3.0, Falls::Left), all_inches(&[4.75, 1.75]));
    // Right above a nosing the block is as high as the gap.
    assert_eq!(heights(4.0, Falls::Right), all_inches(&[1.0, 4.0]));
    // 4 before the top nosing it stands on the deck, and the line lies 3 above it.
    assert_eq!(heights(-20.0, Falls::Right), all_inches(&[4.0, 7.0]));
    let (panel, _) = built(&opening(48.0, rake(7.5, 10.0, 0.0)), &spec(&system, BalusterStyle::Even));
    assert!(panel.block_heights.is_empty() && panel.blocks.len() == 2);
}

#[test]
fn hostile_slopes_end_in_a_finding() {
    let mut system = test_rail();
    let far = Length::from_nanometres(8_999_999_999_999_999);
    let nm = Length::from_nanometres(1);
    for (rise, run) in [(far, nm), (nm, far), (far, far), (nm, nm)] {
        let stair = Opening {
            clear: far,
            ..opening(60.0, Rake { pitch: Pitch::new(rise, run).unwrap(), ..rake(7.5, 10.0, 0.0) })
        };
        assert_eq!(build(&stair, &spec(&system, BalusterStyle::Even)).0, None);
    }
    system.raked.as_mut().unwrap().steepest = Pitch::new(inches(3937.0), nm).unwrap();
    let stair = opening(60.0, Rake { pitch: Pitch::new(inches(3000.0), nm).unwrap(), ..rake(7.5, 10.0, 0.0) });
    assert_eq!(refused(&stair, &spec(&system, BalusterStyle::Even)).code, Code::StairTooSteep);
}

/// The built-in metal rail comes punched for stairs at 5-1/4 in along the slope.
#[test]
fn punched_rails_for_stairs_have_their_own_pitch() {
    let system: RailSystem = toml::from_str(METAL).unwrap();
    let (panel, _) = built(&opening(60.0, rake(7.5, 10.0, 0.0)), &spec(&system, BalusterStyle::Punched));
    assert_eq!(panel.balusters.spacing, inches(5.25));
    assert!(panel.balusters.marks.windows(2).all(|w| w[1] - w[0] == inches(5.25)));
    // 5-1/4 along are 4.2 level, less 5/8.
    assert_eq!(panel.balusters.widest_gap, inches(3.575));
}
