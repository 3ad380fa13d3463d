//! Divisions of a stretch against closed forms, brute force and a look at each post.

use proptest::prelude::*;

use super::*;

fn inches(value: f64) -> Length {
    Length::from_millimetres(value * 25.4).unwrap()
}

fn stretch(clear: f64, post: f64, longest: f64) -> Stretch<'static> {
    Stretch {
        clear: inches(clear),
        post: inches(post),
        longest: inches(longest),
        shortest: inches(8.0),
        stock: &[],
        keep_out: &[],
        joists: &[],
        symmetric: false,
    }
}

fn in_inches(spans: &[Length]) -> Vec<f64> {
    spans.iter().map(|s| (s.inches() * 1e4).round() / 1e4).collect()
}

/// Check values: side 17'-3" at most 6 ft -> 3 of 5'-9" (posts of no width); centre to centre 480 with posts of 3.5
/// -> 5 x 92.5 (at most 8 ft) or 6 x 76.5.
#[test]
fn the_fewest_equal_bays_that_the_longest_panel_allows() {
    for (clear, post, longest, bays, span) in [
        (207.0, 0.0, 72.0, 3, 69.0),
        (476.5, 3.5, 96.0, 5, 92.5),
        (476.5, 3.5, 80.0, 6, 76.5),
        (96.0, 5.0, 96.0, 1, 96.0),
        (96.0 + 1e-7, 5.0, 96.0, 1, 96.0),
        (96.1, 5.0, 96.0, 2, 45.55),
        (197.0, 5.0, 96.0, 2, 96.0),
    ] {
        let spans = divide(&stretch(clear, post, longest), Bays::Equal).unwrap();
        assert_eq!(spans.len(), bays, "{clear}");
        assert!(spans.iter().all(|s| (s.inches() - span).abs() < 1e-6), "{clear}: {spans:?}");
    }
}

#[test]
fn spans_and_posts_sum_up_exactly() {
    for nm in [1_234_567_891, 9_999_999_999, 25_400_000 * 207 + 1] {
        let clear = Length::from_nanometres(nm);
        for policy in [Bays::Equal, Bays::Stock, Bays::Cost] {
            let kits = [Stock { span: inches(20.0), cost: 20 }];
            let s = Stretch { clear, stock: &kits, ..stretch(0.0, 5.0, 20.0) };
            let spans = divide(&s, policy).unwrap();
            let posts = s.post * i64::try_from(spans.len() - 1).unwrap();
            assert_eq!(spans.iter().copied().sum::<Length>() + posts, clear, "{policy:?}");
        }
    }
}

#[test]
fn stock_cuts_full_kits_first() {
    let kits = [Stock { span: inches(72.25), cost: 72 }, Stock { span: inches(96.25), cost: 96 }];
    let s = Stretch { stock: &kits, ..stretch(240.0, 5.0, 96.25) };
    assert_eq!(in_inches(&divide(&s, Bays::Stock).unwrap()), [96.25, 96.25, 37.5]);
    // 3 in would remain: too short for a panel, so the last two bays share.
    let s = Stretch { stock: &kits, ..stretch(205.5, 5.0, 96.25) };
    assert_eq!(in_inches(&divide(&s, Bays::Stock).unwrap()), [96.25, 49.625, 49.625]);
}

#[test]
fn cost_takes_the_cheapest_kits_and_equal_bays_on_a_tie() {
    let kits = [Stock { span: inches(72.25), cost: 60 }, Stock { span: inches(96.25), cost: 100 }];
    // Two bays of 84 need two long kits (200); three of 54.3 need three short ones (180).
    let s = Stretch { stock: &kits, ..stretch(173.0, 5.0, 96.25) };
    assert_eq!(in_inches(&divide(&s, Bays::Cost).unwrap()), [54.3333, 54.3333, 54.3333]);
    assert_eq!(divide(&s, Bays::Equal).unwrap().len(), 2);
}

#[test]
fn symmetric_divisions_are_alike_from_both_ends() {
    let kits = [Stock { span: inches(72.25), cost: 72 }];
    let s = Stretch { stock: &kits, symmetric: true, ..stretch(240.0, 5.0, 72.25) };
    // 240 = 2 x 37.25 + 2 x 72.25 + ... : with 2 full kits 240 - 15 - 144.5 = 80.5 are left, 40.25 at each end.
    assert_eq!(in_inches(&divide(&s, Bays::Stock).unwrap()), [40.25, 72.25, 72.25, 40.25]);
    // A zone left of the middle moves the posts on both sides; one in the middle needs an odd number of bays.
    for zones in [[(inches(70.0), inches(90.0))], [(inches(75.0), inches(86.0))]] {
        let s = Stretch { keep_out: &zones, symmetric: true, ..stretch(161.0, 5.0, 96.0) };
        let spans = divide(&s, Bays::Equal).unwrap();
        let reversed: Vec<Length> = spans.iter().rev().copied().collect();
        assert!(s.allows(&spans), "{spans:?}");
        assert_eq!(in_inches(&spans), in_inches(&reversed));
        assert_eq!(spans.len(), 3);
    }
}

#[test]
fn posts_keep_out_of_zones_and_prefer_joists() {
    let zones = [(inches(70.0), inches(90.0))];
    let s = Stretch { keep_out: &zones, ..stretch(161.0, 5.0, 96.0) };
    let spans = divide(&s, Bays::Equal).unwrap();
    assert_eq!(spans.len(), 2);
    assert!(s.allows(&spans), "{spans:?}");
    // The post moves right of the zone: 90² + 66² is less than 65² + 91².
    assert_eq!(in_inches(&spans), [90.0, 66.0]);
    let joists = [inches(64.0), inches(80.0), inches(96.0)];
    let s = Stretch { joists: &joists, ..stretch(161.0, 5.0, 96.0) };
    assert_eq!(in_inches(&divide(&s, Bays::Equal).unwrap()), [77.5, 78.5]);
}

/// A pier of 1,200 ft with a joist every foot: 150 bays of 8 ft between centres, all of them on joists.
#[test]
fn every_post_of_a_long_stretch_finds_its_joist() {
    let joists: Vec<Length> = (0..1_200).map(|i| inches(f64::from(i) * 12.0 - 2.5)).collect();
    let s = Stretch { joists: &joists, ..stretch(14_395.0, 5.0, 91.25) };
    for symmetric in [false, true] {
        let spans = divide(&Stretch { symmetric, ..s.clone() }, Bays::Equal).unwrap();
        assert_eq!(in_inches(&spans), vec![91.0; 150]);
    }
}

#[test]
fn a_single_bay_minds_neither_joists_nor_zones() {
    let (zones, joists) = ([(inches(2.0), inches(4.0))], [inches(1.0)]);
    for clear in [5.0, 90.0] {
        let s = Stretch { keep_out: &zones, joists: &joists, ..stretch(clear, 5.0, 96.0) };
        assert_eq!(in_inches(&divide(&s, Bays::Equal).unwrap()), [clear]);
    }
}

#[test]
fn spans_that_no_kit_fills_cost_much_and_overflow_nothing() {
    let kits = [Stock { span: inches(72.25), cost: 72 }];
    let s = Stretch { stock: &kits, ..stretch(400_000.0, 5.0, 96.25) };
    // (400 000 + 5) / (96.25 + 5) is 3950.7; no kit fills a span, so nothing is gained by more of them.
    assert_eq!(divide(&s, Bays::Cost).unwrap().len(), 3_951);
}

proptest! {
    /// Against a look at each post, with zones that begin or end to the nanometre where a post does.
    #[test]
    fn zones_are_kept_free_of_every_post(
        (post, from, way, bays) in (1..60_i64, -40..40_i64, 100..3_000_i64, 1..30_i64),
        zones in proptest::collection::vec((0..30_i64, -2..3_i64, 0..200_i64), 0..6),
    ) {
        let nm = Length::from_nanometres;
        let s = Stretch { post: nm(post), shortest: nm(-3_000), ..stretch(0.0, 0.0, 96.0) };
        let spans = s.equal_spans(nm(from), nm(from + way), bays).unwrap();
        let mut keep_out: Vec<(Length, Length)> = Vec::new();
        for (k, off, wide) in zones {
            let low = spans.centre(k, s.post) + s.post.half() + nm(off);
            if keep_out.iter().all(|(from, to)| low + nm(wide) < *from || low > *to) {
                keep_out.push((low, low + nm(wide)));
            }
        }
        keep_out.sort();
        let s = Stretch { keep_out: &keep_out, ..s };
        prop_assert_eq!(s.keeps_out(&spans), spans.centres(s.post).all(|c| s.may_stand(c)));
    }
}

/// Against brute force over a half-inch grid: two and three bays with a zone; the exact result is never worse.
#[test]
fn no_division_on_a_grid_is_better() {
    let zones = [(inches(50.0), inches(64.0)), (inches(100.0), inches(131.0))];
    for clear in [120.0, 161.0, 200.0, 233.5, 280.0] {
        let s = Stretch { keep_out: &zones, ..stretch(clear, 5.0, 96.0) };
        let found = divide(&s, Bays::Equal).unwrap();
        assert!(s.allows(&found) && found.iter().all(|l| *l <= s.longest + Length::NOISE && *l >= s.shortest));
        let squares = |spans: &[Length]| spans.iter().map(|l| l.inches().powi(2)).sum::<f64>();
        let mut best: Option<Vec<Length>> = None;
        let steps = (clear * 2.0) as i64;
        for a in 0..steps {
            for b in a..steps {
                let (x, y) = (a as f64 / 2.0, b as f64 / 2.0);
                let spans = if a == b { vec![x, clear - 5.0 - x] } else { vec![x, y - x - 5.0, clear - 5.0 - y] };
                let spans: Vec<Length> = spans.into_iter().map(inches).collect();
                let holds = s.allows(&spans) && spans.iter().all(|l| *l <= s.longest && *l >= s.shortest);
                let better = |b: &Vec<Length>| (spans.len(), squares(&spans)) < (b.len(), squares(b));
                if holds && best.as_ref().is_none_or(better) {
                    best = Some(spans);
                }
            }
        }
        let Some(best) = best else { continue };
        assert!(
            found.len() < best.len() || found.len() == best.len() && squares(&found) <= squares(&best) + 1e-6,
            "{clear}: {found:?} against {best:?}"
        );
    }
}
