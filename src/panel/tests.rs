//! Check values of level panels. "Common practice" marks a fact of the trade that no published source was found for.

use super::{BracketKind, Opening, Panel, PanelSpec, build};
use crate::base::{Angle, Code, Finding, Length, Mark, Severity};
use crate::catalog::{BalusterStyle, BlockStep, MemberRole, RailSystem};

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

fn metal() -> RailSystem {
    toml::from_str(METAL).unwrap()
}

/// A system without clearances, brackets, blocks and cap screws, for values that concern balusters alone.
fn plain(width: f64, spacing: f64) -> RailSystem {
    let mut system = test_rail();
    system.end_clearance = Length::ZERO;
    system.bracket.members.clear();
    system.blocks = None;
    system.cap_screws = None;
    system.shortest_panel = Length::ZERO;
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
        longest: inches(200.0),
    }
}

fn opening(clear: f64, skew_left: f64, skew_right: f64) -> Opening {
    Opening {
        id: "S1".to_owned(),
        clear: inches(clear),
        skew_left: Angle::from_degrees(skew_left),
        skew_right: Angle::from_degrees(skew_right),
        rake: None,
    }
}

fn built(clear: f64, spec: &PanelSpec<'_>) -> (Panel, Vec<Finding>) {
    let (panel, findings) = build(&opening(clear, 0.0, 0.0), spec);
    assert!(panel.is_some(), "{findings:?}");
    (panel.unwrap(), findings)
}

fn refused(clear: f64, spec: &PanelSpec<'_>) -> Finding {
    let (panel, mut findings) = build(&opening(clear, 0.0, 0.0), spec);
    assert_eq!(panel, None);
    let last = findings.pop().unwrap();
    assert_eq!(last.severity, Severity::Incomplete);
    last
}

/// Clear spaces in sixteenths of an inch between neighbouring balusters, smallest and largest.
fn inner_sixteenths(panel: &Panel, width: f64) -> (f64, f64) {
    let gaps = panel.balusters.marks.windows(2).map(|w| ((w[1] - w[0]) - inches(width)).inches() * 16.0);
    gaps.fold((f64::MAX, f64::MIN), |(low, high), gap| (low.min(gap), high.max(gap)))
}

/// Common practice: 87 in of rail at 4-1/2 in on centre leaves 1-1/2 in, so the first stands at 3 and the last at 84.
#[test]
fn centred_balusters_leave_equal_ends() {
    let system = plain(0.75, 4.5);
    let (panel, findings) = built(87.0, &spec(&system, BalusterStyle::Centred));
    let marks = &panel.balusters.marks;
    assert_eq!((marks.len(), marks[0], marks[1], marks[18]), (19, inches(3.0), inches(7.5), inches(84.0)));
    assert_eq!(panel.balusters.end_gap_left, inches(2.625));
    assert_eq!(panel.balusters.end_gap_right, inches(2.625));
    assert_eq!(panel.balusters.widest_gap, inches(3.75));
    assert!(findings.is_empty());
}

/// Closed form: with 13 the end gap would be exactly 4.0, which a 4 in sphere touches.
#[test]
fn an_end_gap_of_exactly_the_limit_takes_one_baluster_more() {
    let system = plain(1.25, 5.0);
    let (panel, _) = built(69.25, &spec(&system, BalusterStyle::Centred));
    assert_eq!(panel.balusters.marks.len(), 14);
    assert_eq!(panel.balusters.marks[0], inches(2.125));
    // With 13, 69.1875 leaves 3-31/32 in, which the half mark rounds up to 4.0 again.
    let (panel, _) = built(69.1875, &spec(&system, BalusterStyle::Centred));
    assert_eq!(panel.balusters.marks.len(), 14);
    let (panel, _) = built(69.125, &spec(&system, BalusterStyle::Centred));
    assert_eq!(panel.balusters.marks.len(), 13);
}

/// Closed form.
#[test]
fn centred_balusters_on_other_spacings() {
    let system = plain(1.5, 5.25);
    let (panel, _) = built(72.0, &spec(&system, BalusterStyle::Centred));
    assert_eq!((panel.balusters.marks.len(), panel.balusters.end_gap_left), (13, inches(3.75)));
    let system = plain(1.5, 5.0);
    let (panel, _) = built(70.5, &spec(&system, BalusterStyle::Centred));
    assert_eq!((panel.balusters.marks.len(), panel.balusters.end_gap_right), (14, inches(2.0)));
}

#[test]
fn a_spacing_that_lets_the_sphere_through_is_reduced_to_the_widest_mark_that_does_not() {
    let system = plain(0.75, 5.0);
    let (panel, findings) = built(72.0, &spec(&system, BalusterStyle::Centred));
    // 4.75 in would leave gaps of exactly 4 in.
    assert_eq!(panel.balusters.spacing, inches(4.6875));
    assert!(panel.balusters.widest_gap < inches(4.0));
    assert_eq!(findings.iter().map(|f| f.code).collect::<Vec<_>>(), [Code::SpacingReduced]);
    let mut careful = spec(&system, BalusterStyle::Centred);
    careful.tolerance = inches(0.0625);
    assert_eq!(built(72.0, &careful).0.balusters.spacing, inches(4.625));
}

/// Common practice (the count rule for equal gaps); 52 and 9 by closed form, where rounding up the usual rule gives 10.
#[test]
fn even_balusters_have_equal_gaps_and_are_as_few_as_possible() {
    for (clear, width, count, gap) in [
        (72.0, 1.5, 13, 3.75),
        (52.0, 1.5, 9, 3.85),
        (89.5, 1.25, 17, 3.7917),
        (156.0, 1.5, 28, 3.931),
        (70.5, 1.5, 13, 3.643),
        (92.5, 1.25, 18, 3.6842),
        (9.5, 1.5, 2, 2.1667),
        (4.0, 1.5, 1, 1.25),
        (3.9375, 1.5, 0, 3.9375),
    ] {
        let system = plain(width, 4.5);
        let (panel, _) = built(clear, &spec(&system, BalusterStyle::Even));
        assert_eq!(panel.balusters.marks.len(), count, "{clear}");
        let spacing = panel.balusters.spacing.inches();
        assert!((spacing - width - gap).abs() < 1e-3, "{clear}: {spacing}");
        assert!(panel.balusters.widest_gap < inches(4.0));
        assert!((panel.balusters.widest_gap.inches() - gap).abs() <= 0.0625 + 1e-3, "{clear}");
    }
}

#[test]
fn even_centres_are_rounded_from_the_running_position() {
    let system = plain(1.5, 4.5);
    let (panel, _) = built(72.0, &spec(&system, BalusterStyle::Even));
    let marks = &panel.balusters.marks;
    assert_eq!((marks[0], marks[1], marks[12]), (inches(4.5), inches(9.75), inches(67.5)));
    // Closed form: equal gaps of 3.643 in fall on 58 and 59 sixteenths.
    let (panel, _) = built(70.5, &spec(&system, BalusterStyle::Even));
    assert_eq!(inner_sixteenths(&panel, 1.5), (58.0, 59.0));
    // Chained gaps of 3-13/16 in would drift by 3/8 in here; the running marks stay within half a mark.
    let system = plain(1.25, 4.5);
    let (panel, _) = built(89.5, &spec(&system, BalusterStyle::Even));
    for (k, mark) in (1..).zip(&panel.balusters.marks) {
        let exact = f64::from(k) * (68.25 / 18.0) + (2.0 * f64::from(k) - 1.0) * 0.625;
        assert!((mark.inches() - exact).abs() <= 0.031_250_1, "{k}");
    }
}

/// Closed form: 14 holes at 5 in leave end gaps of 2-1/8 in, 13 would leave 4-5/8 in.
#[test]
fn punched_rails_are_cut_equally_at_both_ends() {
    let system = plain(1.25, 5.0);
    let (panel, _) = built(70.5, &spec(&system, BalusterStyle::Punched));
    assert_eq!(panel.balusters.marks.len(), 14);
    assert_eq!(panel.balusters.end_gap_left, inches(2.125));
    assert_eq!(panel.balusters.end_gap_right, inches(2.125));
    assert!(panel.balusters.marks.windows(2).all(|w| w[1] - w[0] == inches(5.0)));
}

#[test]
fn a_punched_pitch_that_lets_the_sphere_through_gives_no_panel() {
    let system = plain(1.25, 5.25);
    let finding = refused(70.5, &spec(&system, BalusterStyle::Punched));
    assert_eq!(finding.code, Code::PanelFails);
    assert!(finding.message.contains("punched pitch of 5-1/4in leaves 4in"), "{}", finding.message);
}

#[test]
fn end_balusters_move_beyond_the_brackets() {
    let mut system = test_rail();
    system.end_clearance = Length::ZERO;
    system.bracket.reach = inches(2.0);
    // With 18 the end gap would be 4.0; with 19 the first centre would be at 2.125, in a bracket that reaches to 2.
    let (panel, findings) = built(85.25, &spec(&system, BalusterStyle::Centred));
    let marks = &panel.balusters.marks;
    assert_eq!((marks.len(), marks[0], marks[18]), (19, inches(2.375), inches(82.875)));
    assert_eq!(panel.balusters.spacing, inches(80.5).fraction(1, 18));
    assert!(findings.iter().any(|f| f.code == Code::SpacingReduced && f.message.contains("clear the brackets")));
}

#[test]
fn punched_balusters_in_a_bracket_give_no_panel() {
    let mut system = metal();
    system.bracket.reach = inches(3.0);
    let refusal = refused(72.125, &spec(&system, BalusterStyle::Punched));
    assert!(refusal.message.contains("stand in the brackets"), "{}", refusal.message);
}

/// Common practice: two blocks divide 87 in at 29 and 58. Both would meet a baluster at 4-1/2 in on centre, so the
/// values are taken with balusters that stand elsewhere.
#[test]
fn support_blocks_divide_the_rail_equally() {
    let mut system = test_rail();
    system.end_clearance = Length::ZERO;
    system.baluster.as_mut().unwrap().spacing = inches(4.0);
    let (panel, findings) = built(87.0, &spec(&system, BalusterStyle::Centred));
    assert!(findings.iter().all(|f| !f.message.contains("support block")), "{findings:?}");
    assert_eq!(panel.blocks, all_inches(&[29.0, 58.0]));
}

#[test]
fn a_block_that_meets_a_balusters_screw_moves_to_mid_gap() {
    let mut system = test_rail();
    system.end_clearance = Length::ZERO;
    // Balusters at 3, 7.5 ... 84: one stands at 30, one at 57.
    system.blocks.as_mut().unwrap().screw_clearance = inches(1.5);
    let (panel, findings) = built(87.0, &spec(&system, BalusterStyle::Centred));
    assert_eq!(panel.blocks, all_inches(&[27.75, 59.25]));
    let moved: Vec<_> = findings.iter().filter(|f| f.message.starts_with("support block")).collect();
    assert_eq!(moved.len(), 1);
    assert_eq!(moved[0].code, Code::MarkMoved);
    assert!(moved[0].message.ends_with("29in -> 27-3/4in, 58in -> 59-1/4in"), "{}", moved[0].message);
}

#[test]
fn rails_beyond_the_block_table_give_no_panel() {
    let mut system = test_rail();
    system.blocks.as_mut().unwrap().counts = vec![BlockStep { up_to: inches(72.0), blocks: 1 }];
    let finding = refused(80.0, &spec(&system, BalusterStyle::Centred));
    assert!(finding.message.contains("support block table ends"), "{}", finding.message);
}

/// Common practice: 76 in at no more than 24 in is four gaps of 19 in, three screws.
#[test]
fn cap_screws_divide_the_rail_equally() {
    let mut system = test_rail();
    system.end_clearance = Length::ZERO;
    system.cap_screws.as_mut().unwrap().screw_clearance = Length::ZERO;
    let (panel, _) = built(76.0, &spec(&system, BalusterStyle::Centred));
    assert_eq!(panel.cap_screws, all_inches(&[19.0, 38.0, 57.0]));
}

#[test]
fn cap_screws_move_off_balusters_and_keep_their_longest_spacing() {
    let mut system = test_rail();
    system.end_clearance = Length::ZERO;
    let (panel, findings) = built(76.0, &spec(&system, BalusterStyle::Centred));
    // 16 balusters from 4.25: one stands at 17.75, 22.25 ... 38 lies mid-way, 19 and 57 keep 1-1/4 in.
    assert_eq!(panel.cap_screws, all_inches(&[19.0, 38.0, 57.0]), "{:?}", panel.balusters.marks);
    assert!(findings.iter().all(|f| f.code != Code::MarkMoved));
    // Balusters at 2, 6 ... 90: of the screws at 23, 46 and 69 the first would move to 24, more than 23 from the rail's
    // end, so there is one screw more, and each of the four moves to mid gap.
    system.baluster.as_mut().unwrap().spacing = inches(4.0);
    system.bracket.reach = inches(1.5);
    let screws = system.cap_screws.as_mut().unwrap();
    (screws.longest_spacing, screws.screw_clearance) = (inches(23.0), inches(1.25));
    let (panel, findings) = built(92.0, &spec(&system, BalusterStyle::Centred));
    assert_eq!(panel.cap_screws, all_inches(&[20.0, 36.0, 56.0, 72.0]), "{:?}", panel.balusters.marks);
    assert!(findings.iter().any(|f| f.code == Code::MarkMoved && f.message.starts_with("cap screw")));
}

#[test]
fn a_short_cap_still_gets_a_screw() {
    let system = test_rail();
    let (panel, _) = built(12.0, &spec(&system, BalusterStyle::Centred));
    assert_eq!(panel.cap_screws.len(), 1);
}

#[test]
fn the_rail_is_cut_to_the_mark_below_and_the_rest_is_shared() {
    let system = test_rail();
    let opening = Opening { clear: inches(87.30) + Length::from_nanometres(1), ..opening(0.0, 0.0, 0.0) };
    let panel = build(&opening, &spec(&system, BalusterStyle::Centred)).0.unwrap();
    assert_eq!(panel.length, inches(87.0));
    assert!(panel.clearance_left >= inches(0.125) && panel.clearance_right >= panel.clearance_left);
    assert_eq!(panel.clearance_left + panel.length + panel.clearance_right, opening.clear);
}

#[test]
fn cuts_follow_both_skews() {
    let system = test_rail();
    let cut_at = |left: f64, right: f64| {
        let panel = build(&opening(60.25, left, right), &spec(&system, BalusterStyle::Even)).0.unwrap();
        panel.cuts.into_iter().find(|c| c.member == MemberRole::BottomRail).unwrap()
    };
    // Closed form: a 2 in rail at 22.5 degrees gains and loses tan(22.5) = 0.414214 in at each end.
    let (t, near) = (0.414_213_562, |a: Length, b: f64| (a.inches() - b).abs() < 1e-6);
    let square = cut_at(0.0, 0.0);
    assert_eq!((square.long_point, square.short_point, square.left_tip), (inches(60.0), inches(60.0), Length::ZERO));
    let trapezium = cut_at(22.5, 22.5);
    assert!(near(trapezium.long_point, 60.0 + 2.0 * t) && near(trapezium.short_point, 60.0 - 2.0 * t));
    assert!(near(trapezium.tip_to_tip, 60.0 + 2.0 * t) && near(trapezium.left_tip, t));
    let rhomboid = cut_at(22.5, -22.5);
    assert!(near(rhomboid.long_point, 60.0) && near(rhomboid.short_point, 60.0));
    assert!(near(rhomboid.tip_to_tip, 60.0 + 2.0 * t));
    let inward = cut_at(-22.5, 0.0);
    assert!(near(inward.long_point, 60.0 + t) && near(inward.short_point, 60.0 - t));
    assert_eq!(inward.left, Angle::from_degrees(-22.5));
}

#[test]
fn brackets_stand_at_both_ends_of_the_members_that_have_them() {
    let system = test_rail();
    let panel = build(&opening(60.25, 10.0, 0.0), &spec(&system, BalusterStyle::Even)).0.unwrap();
    let found: Vec<_> =
        panel.brackets.iter().map(|b| (b.member, b.left, b.kind == BracketKind::Angled, b.holes.clone())).collect();
    let (left, right) = (all_inches(&[0.625, 1.375]), all_inches(&[59.375, 58.625]));
    assert_eq!(
        found,
        [
            (MemberRole::BottomRail, true, true, left.clone()),
            (MemberRole::BottomRail, false, false, right.clone()),
            (MemberRole::TopRail, true, true, left),
            (MemberRole::TopRail, false, false, right),
        ]
    );
}

/// Common practice: heights stack up to the guard's, the balusters take what is left.
#[test]
fn heights_stack_up() {
    let mut system = test_rail();
    let (panel, _) = built(60.0, &spec(&system, BalusterStyle::Even));
    assert_eq!(panel.balusters.length, inches(29.0));
    assert_eq!((panel.height, panel.bottom_gap), (inches(36.0), inches(3.0)));
    system.height = inches(42.0);
    assert_eq!(built(60.0, &spec(&system, BalusterStyle::Even)).0.balusters.length, inches(35.0));
    system.height = inches(7.0);
    assert!(refused(60.0, &spec(&system, BalusterStyle::Even)).message.contains("nothing for the infill"));
}

#[test]
fn openings_that_no_panel_fills() {
    let system = test_rail();
    let mut spec = spec(&system, BalusterStyle::Centred);
    spec.longest = system.longest_panel;
    let short = refused(7.9375, &spec);
    assert_eq!((short.code, short.rule.unwrap().limit), (Code::SpanTooShort, inches(8.0)));
    let (panel, findings) = built(97.0, &spec);
    assert_eq!(panel.span, inches(97.0));
    assert_eq!((findings[0].code, findings[0].severity), (Code::SpanTooLong, Severity::Incomplete));
    let (panel, findings) = build(&opening(60.0, 0.0, -46.0), &spec);
    assert_eq!((panel, findings[0].code), (None, Code::SkewTooLarge));
    let (panel, findings) = build(&opening(60.0, f64::NAN, 0.0), &spec);
    assert_eq!((panel, findings[0].code), (None, Code::SkewTooLarge));
    let mut long_brackets = system.clone();
    long_brackets.bracket.reach = inches(6.0);
    spec.system = &long_brackets;
    assert!(refused(12.0, &spec).message.contains("no room for the brackets"));
}

#[test]
fn hostile_systems_end_in_a_finding() {
    let mut system = plain(0.75, 4.5);
    system.baluster.as_mut().unwrap().width = Length::from_nanometres(1);
    system.baluster.as_mut().unwrap().spacing = Length::from_nanometres(2);
    for style in [BalusterStyle::Centred, BalusterStyle::Even, BalusterStyle::Punched] {
        let mut spec = spec(&system, style);
        spec.limit = Length::from_nanometres(3);
        assert_eq!(refused(72.0, &spec).code, Code::PanelFails);
        spec.limit = Length::ZERO;
        assert_eq!(refused(72.0, &spec).code, Code::PanelFails);
    }
}

#[test]
fn an_opening_under_the_limit_needs_no_baluster() {
    let system = plain(0.75, 4.5);
    for style in [BalusterStyle::Centred, BalusterStyle::Even, BalusterStyle::Punched] {
        let (panel, _) = built(3.9375, &spec(&system, style));
        assert!(panel.balusters.marks.is_empty());
        assert_eq!(panel.balusters.widest_gap, inches(3.9375));
    }
}
