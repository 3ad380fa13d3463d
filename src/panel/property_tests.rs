//! Relations that every level panel keeps, on random openings.

use proptest::prelude::*;

use super::{Opening, Panel, PanelSpec, build};
use crate::base::{Angle, Length, Mark};
use crate::catalog::{BalusterStyle, RailSystem};

const SYSTEMS: [&str; 3] = [
    include_str!("../catalog/systems/composite-36.toml"),
    include_str!("../catalog/systems/metal-42.toml"),
    include_str!("../../tests/systems/test-rail.toml"),
];
const STYLES: [BalusterStyle; 3] = [BalusterStyle::Centred, BalusterStyle::Even, BalusterStyle::Punched];

fn nm(inches: f64) -> i64 {
    (inches * 25_400_000.0).round() as i64
}

/// Sphere of the property tests.
fn limit() -> Length {
    Length::INCH * 4
}

/// Whether balusters at these exact positions (from the rail's left end, in nanometres) close the opening and stand
/// clear of the brackets, once rounded to marks.
fn closes(exact: &[f64], panel: (Length, Length, Length), system: &RailSystem, mark: Mark, tolerance: Length) -> bool {
    let (length, left, right) = panel;
    let step = mark.length().nanometres();
    let half = system.baluster_width().nanometres() / 2;
    let mut free = -left.nanometres();
    for at in exact {
        let at = ((at / step as f64 + 0.5).floor() as i64) * step;
        let inside = at - half >= system.bracket.reach.nanometres()
            && length.nanometres() - at - half >= system.bracket.reach.nanometres();
        if !inside || at - half - free + tolerance.nanometres() >= limit().nanometres() {
            return false;
        }
        free = at + half;
    }
    (length + right).nanometres() - free + tolerance.nanometres() < limit().nanometres()
}

/// Fewest balusters of `even` or `punched` that close the opening, by trying them all.
fn fewest(
    style: BalusterStyle,
    panel: (Length, Length, Length),
    system: &RailSystem,
    mark: Mark,
    tolerance: Length,
) -> Option<usize> {
    let (length, left, right) = panel;
    let (l, clear, b) = (
        length.nanometres() as f64,
        (left + length + right).nanometres() as f64,
        system.baluster_width().nanometres() as f64,
    );
    (0..120).find(|&n| {
        let count = n as f64;
        let exact: Vec<f64> = (0..n)
            .map(|k| match style {
                BalusterStyle::Even => {
                    let gap = (clear - count * b) / (count + 1.0);
                    gap + b / 2.0 + k as f64 * (gap + b) - left.nanometres() as f64
                }
                _ => {
                    let pitch = system.baluster.as_ref().unwrap().spacing.nanometres() as f64;
                    (l - (count - 1.0) * pitch) / 2.0 + k as f64 * pitch
                }
            })
            .collect();
        closes(&exact, panel, system, mark, tolerance)
    })
}

fn check_marks(panel: &Panel, spec: &PanelSpec<'_>) {
    let (system, mark) = (spec.system, spec.mark.length().nanometres());
    let all = panel.balusters.marks.iter().chain(&panel.blocks).chain(&panel.cap_screws);
    for at in all.chain(panel.brackets.iter().flat_map(|b| &b.holes)).chain([&panel.length]) {
        assert_eq!(at.nanometres() % mark, 0);
        assert!(*at >= Length::ZERO && *at <= panel.length);
    }
    for list in [&panel.balusters.marks, &panel.blocks, &panel.cap_screws] {
        assert!(list.windows(2).all(|w| w[0] < w[1]));
    }
    let half = system.baluster_width().half();
    for &at in &panel.balusters.marks {
        assert!(at - half >= system.bracket.reach && panel.length - at - half >= system.bracket.reach);
    }
    let distance = |at: Length| panel.balusters.marks.iter().map(|&b| (b - at).abs()).min();
    if let Some(blocks) = &system.blocks {
        assert!(panel.blocks.iter().all(|&at| distance(at).is_none_or(|d| d >= blocks.screw_clearance)));
        let row = blocks.counts.iter().find(|row| panel.length <= row.up_to).unwrap();
        assert_eq!(panel.blocks.len(), usize::from(row.blocks));
    }
    if let Some(screws) = &system.cap_screws {
        assert!(panel.cap_screws.iter().all(|&at| distance(at).is_none_or(|d| d >= screws.screw_clearance)));
        let mut from = Length::ZERO;
        for &at in panel.cap_screws.iter().chain([&panel.length]) {
            assert!(at - from <= screws.longest_spacing);
            from = at;
        }
    }
}

fn check_gaps(panel: &Panel, spec: &PanelSpec<'_>) {
    let width = spec.system.baluster_width();
    let found = &panel.balusters;
    let inner = found.marks.windows(2).map(|w| w[1] - w[0] - width);
    let widest = inner.chain([found.end_gap_left, found.end_gap_right]).max().unwrap();
    assert_eq!(found.widest_gap, widest);
    assert!(widest + spec.tolerance < spec.limit);
    let gaps: Length = found.marks.windows(2).map(|w| w[1] - w[0] - width).sum();
    let count = i64::try_from(found.marks.len()).unwrap();
    if count > 0 {
        assert_eq!(found.end_gap_left + gaps + found.end_gap_right + width * count, panel.span);
    }
    let uneven = (found.end_gap_left - found.end_gap_right).abs();
    // One nanometre more: an odd rest of the opening cannot be halved exactly.
    assert!(uneven <= spec.mark.length() + Length::from_nanometres(1), "{uneven}");
}

/// The same cases at every run: a check must not fail by the day.
const SAME: proptest::test_runner::RngSeed = proptest::test_runner::RngSeed::Fixed(7);

proptest! {
    #![proptest_config(ProptestConfig { cases: 1500, failure_persistence: None, rng_seed: SAME, ..ProptestConfig::default() })]

    #[test]
    fn panels_hold_or_are_refused_for_good_reason(
        clear in nm(9.0)..=nm(96.0),
        skews in (-30.0..30.0_f64, -30.0..30.0_f64),
        which in 0..3_usize,
        style in 0..3_usize,
        metric in any::<bool>(),
        tolerance in 0..=nm(0.0625),
    ) {
        let system: RailSystem = toml::from_str(SYSTEMS[which]).unwrap();
        let spec = PanelSpec {
            system: &system,
            style: STYLES[style],
            mark: if metric { Mark::MILLIMETRE } else { Mark::SIXTEENTH },
            limit: limit(),
            stair_limit: limit(),
            triangle: None,
            tolerance: Length::from_nanometres(tolerance),
            longest: system.longest_panel,
        };
        let opening = Opening {
            id: "S1".to_owned(),
            clear: Length::from_nanometres(clear),
            skew_left: Angle::from_degrees(skews.0),
            skew_right: Angle::from_degrees(skews.1),
            rake: None,
        };
        let (panel, findings) = build(&opening, &spec);
        let length = spec.mark.floor(opening.clear - system.end_clearance * 2 + Length::NOISE);
        let left = Length::from_nanometres((clear - length.nanometres()) / 2);
        let ends = (length, left, opening.clear - length - left);
        let least = (spec.style != BalusterStyle::Centred)
            .then(|| fewest(spec.style, ends, &system, spec.mark, spec.tolerance));
        let Some(panel) = panel else {
            prop_assert_eq!(least, Some(None), "{:?}", findings);
            return Ok(());
        };
        prop_assert_eq!(panel.length, length);
        prop_assert_eq!(panel.clearance_left + panel.length + panel.clearance_right, opening.clear);
        prop_assert!(panel.clearance_left + panel.clearance_right + Length::NOISE >= system.end_clearance * 2);
        if let Some(least) = least {
            prop_assert_eq!(Some(panel.balusters.marks.len()), least);
        }
        for cut in &panel.cuts {
            prop_assert!(cut.long_point >= cut.length && cut.length >= cut.short_point);
            prop_assert!(cut.tip_to_tip >= cut.long_point);
        }
        check_marks(&panel, &spec);
        check_gaps(&panel, &spec);
    }

    /// Seen from the other side, a panel is the same one mirrored, to the mark.
    #[test]
    fn mirrored_openings_give_mirrored_cuts(clear in nm(9.0)..=nm(96.0), left in -30.0..30.0_f64, right in -30.0..30.0_f64) {
        let system: RailSystem = toml::from_str(SYSTEMS[0]).unwrap();
        let spec = PanelSpec {
            system: &system,
            style: BalusterStyle::Even,
            mark: Mark::SIXTEENTH,
            limit: limit(),
            stair_limit: limit(),
            triangle: None,
            tolerance: Length::ZERO,
            longest: system.longest_panel,
        };
        let opening = |l: f64, r: f64| Opening {
            id: "S1".to_owned(),
            clear: Length::from_nanometres(clear),
            skew_left: Angle::from_degrees(l),
            skew_right: Angle::from_degrees(r),
            rake: None,
        };
        let here = build(&opening(left, right), &spec).0.unwrap();
        let there = build(&opening(right, left), &spec).0.unwrap();
        for (a, b) in here.cuts.iter().zip(&there.cuts) {
            prop_assert_eq!((a.long_point, a.short_point, a.tip_to_tip), (b.long_point, b.short_point, b.tip_to_tip));
            prop_assert_eq!((a.left, a.right), (b.right, b.left));
        }
        prop_assert_eq!(here.balusters.marks, there.balusters.marks);
    }
}
