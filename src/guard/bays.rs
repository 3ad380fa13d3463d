//! Bays: how a stretch between two fixed posts is divided.

use crate::base::Length;

/// Equal clear spans of a stretch of clear length `clear`, with posts of width `post` between them: the fewest that
/// respect `longest`. They sum up exactly; where a nanometre is left over, spans differ by it.
///
/// n bays: span = (clear - (n-1)·post)/n.
pub fn equal(clear: Length, post: Length, longest: Length) -> Vec<Length> {
    let reach = (longest + post).nanometres().max(1);
    let needed = (clear + post - Length::NOISE).nanometres();
    let bays = ((needed + reach - 1) / reach).max(1);
    divided(clear, post, bays)
}

/// A given number of equal spans.
pub fn divided(clear: Length, post: Length, bays: i64) -> Vec<Length> {
    let total = clear - post * (bays - 1);
    (0..bays).map(|k| total.fraction(k + 1, bays) - total.fraction(k, bays)).collect()
}

#[cfg(test)]
mod tests {
    use super::*;

    fn inches(value: f64) -> Length {
        Length::from_millimetres(value * 25.4).unwrap()
    }

    /// Check values: side 17'-3" at most 6 ft -> 3 of 5'-9" (posts of no width); centre to centre 480 with posts
    /// of 3.5 -> 5 x 92.5 (at most 8 ft) or 6 x 76.5.
    #[test]
    fn the_fewest_bays_that_the_longest_panel_allows() {
        for (clear, post, longest, bays, span) in [
            (207.0, 0.0, 72.0, 3, 69.0),
            (476.5, 3.5, 96.0, 5, 92.5),
            (476.5, 3.5, 80.0, 6, 76.5),
            (96.0, 5.0, 96.0, 1, 96.0),
            (96.0 + 1e-7, 5.0, 96.0, 1, 96.0),
            (96.1, 5.0, 96.0, 2, 45.55),
            (197.0, 5.0, 96.0, 2, 96.0),
        ] {
            let spans = equal(inches(clear), inches(post), inches(longest));
            assert_eq!(spans.len(), bays, "{clear}");
            assert!(spans.iter().all(|s| (s.inches() - span).abs() < 1e-6), "{clear}: {spans:?}");
        }
    }

    #[test]
    fn spans_and_posts_sum_up_exactly() {
        for nm in [1_234_567_891, 9_999_999_999, 25_400_000 * 207 + 1] {
            let (clear, post) = (Length::from_nanometres(nm), inches(5.0));
            let spans = equal(clear, post, inches(20.0));
            let posts = post * i64::try_from(spans.len() - 1).unwrap();
            assert_eq!(spans.iter().copied().sum::<Length>() + posts, clear);
        }
    }
}
