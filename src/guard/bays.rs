//! Bays: how a stretch between two fixed posts is divided.
//!
//! Posts stand at anchors (places that something asks for: a joist, the border of a keep-out zone, the end of a full
//! kit) or share the way between two anchors equally. So the best division is a cheapest path over the anchors, exact
//! in whole nanometres, with costs compared one after the other: what the policy counts, posts off joists, and the sum
//! of the squared spans, which is least for equal ones.

use std::cmp::Ordering;

use crate::base::Length;
use crate::catalog::Bays;

/// Anchors that one stretch may have: beyond, the ones that come later are left out. A stretch of 100 ft with a joist
/// every foot has 100.
const MOST_ANCHORS: usize = 400;

/// A kit's reach as bays see it.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Stock {
    /// Longest span that its rails fill.
    pub span: Length,
    /// Its price; its length stands in where no kit has one.
    pub cost: i64,
}

/// A stretch to divide. Positions are distances from its left face.
#[derive(Debug, Clone, PartialEq)]
pub struct Stretch<'a> {
    /// Clear length between the two fixed faces.
    pub clear: Length,
    /// Width of the posts between.
    pub post: Length,
    /// Longest span.
    pub longest: Length,
    /// Shortest span.
    pub shortest: Length,
    /// Kits, shortest first.
    pub stock: &'a [Stock],
    /// Where no post may stand.
    pub keep_out: &'a [(Length, Length)],
    /// Where posts stand best.
    pub joists: &'a [Length],
    /// Whether both halves shall be alike.
    pub symmetric: bool,
}

/// Divides a stretch; `None` when the keep-out zones leave no division.
pub fn divide(stretch: &Stretch<'_>, policy: Bays) -> Option<Vec<Length>> {
    if policy == Bays::Stock {
        let by_stock = if stretch.symmetric { stretch.stock_in_the_middle() } else { stretch.by_stock() };
        return by_stock.or_else(|| stretch.best(policy));
    }
    if policy == Bays::Equal && stretch.keep_out.is_empty() && stretch.joists.is_empty() {
        return Some(stretch.equal());
    }
    stretch.best(policy)
}

/// A given number of equal spans; they sum up exactly, and differ by a nanometre where one is left over.
///
/// n bays: span = (clear - (n-1)·post)/n.
pub fn divided(clear: Length, post: Length, bays: i64) -> Vec<Length> {
    let total = clear - post * (bays - 1);
    (0..bays).map(|k| total.fraction(k + 1, bays) - total.fraction(k, bays)).collect()
}

/// Cost of a way along the stretch, compared from the first entry on.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
struct Cost {
    counted: i64,
    off_joist: i64,
    squares: i128,
}

impl Cost {
    const NONE: Self = Self { counted: 0, off_joist: 0, squares: 0 };

    const fn plus(self, other: Self) -> Self {
        Self {
            counted: self.counted + other.counted,
            off_joist: self.off_joist + other.off_joist,
            squares: self.squares + other.squares,
        }
    }
}

/// Best way to an anchor: its cost, the anchor before, and the bays between.
#[derive(Debug, Clone, Copy)]
struct Way {
    cost: Cost,
    from: usize,
    bays: i64,
}

impl Stretch<'_> {
    /// Fewest equal bays that respect the longest panel.
    pub(super) fn fewest(&self, clear: Length) -> i64 {
        let reach = (self.longest + self.post).nanometres().max(1);
        let needed = (clear + self.post - Length::NOISE).nanometres();
        ((needed + reach - 1) / reach).max(1)
    }

    fn equal(&self) -> Vec<Length> {
        divided(self.clear, self.post, self.fewest(self.clear))
    }

    /// Full kits from the left and the remainder, which any longer kit may fill, last; a remainder too short for a panel is shared with the bay before.
    fn by_stock(&self) -> Option<Vec<Length>> {
        let longest = self.longest + Length::NOISE;
        let full = self.stock.iter().map(|s| s.span).filter(|s| *s <= longest).max()?;
        let mut spans = Vec::new();
        let mut rest = self.clear;
        while rest > longest {
            spans.push(full);
            rest -= full + self.post;
        }
        if rest >= self.shortest {
            spans.push(rest);
        } else {
            let last = spans.pop()?;
            let tail = divided(last + self.post + rest, self.post, 2);
            if tail.iter().any(|s| *s < self.shortest) {
                return None;
            }
            spans.extend(tail);
        }
        self.allows(&spans).then_some(spans)
    }

    /// As many full kits as leave a panel at both ends, in the middle.
    fn stock_in_the_middle(&self) -> Option<Vec<Length>> {
        let longest = self.longest + Length::NOISE;
        let full = self.stock.iter().map(|s| s.span).filter(|s| *s <= longest).max()?;
        let kits = (self.clear - self.post - self.shortest * 2).whole_steps(full + self.post);
        let ends = self.clear - self.post - (full + self.post) * kits;
        let mut spans = vec![full; usize::try_from(kits).ok()?];
        spans.insert(0, ends.half());
        spans.push(ends - ends.half());
        (spans.iter().all(|s| *s <= longest) && self.allows(&spans)).then_some(spans)
    }

    /// Whether the posts between some spans keep out of the zones.
    pub fn allows(&self, spans: &[Length]) -> bool {
        self.centres(spans).all(|c| self.may_stand(c))
    }

    /// Centres of the posts between some spans.
    fn centres<'s>(&self, spans: &'s [Length]) -> impl Iterator<Item = Length> + use<'s> {
        let post = self.post;
        let mut at = Length::ZERO;
        spans.iter().take(spans.len().saturating_sub(1)).map(move |span| {
            let centre = at + *span + post.half();
            at += *span + post;
            centre
        })
    }

    fn may_stand(&self, centre: Length) -> bool {
        let half = self.post.half();
        self.keep_out.iter().all(|(from, to)| centre + half <= *from || centre - half >= *to)
    }

    /// Where a post is asked for, by its centre; the two ends stand half a post outside of the clear length.
    fn anchors(&self) -> Vec<Length> {
        let half = self.post.half();
        let (start, end) = (-half, self.clear + (self.post - half));
        let borders = self.keep_out.iter().flat_map(|(from, to)| [*from - half, *to + half]);
        let mut wanted: Vec<Length> = borders.chain(self.joists.iter().copied()).collect();
        // From each of these, and from the ends, the farthest and the nearest place of a next post.
        let reach: Vec<Length> = wanted
            .iter()
            .chain([&start, &end])
            .flat_map(|a| [self.longest + self.post, self.shortest + self.post].map(|d| [*a + d, *a - d]))
            .flatten()
            .collect();
        if !self.keep_out.is_empty() {
            wanted.extend(reach);
        }
        wanted.retain(|a| *a > start && *a < end && self.may_stand(*a));
        wanted.sort();
        wanted.dedup();
        wanted.truncate(MOST_ANCHORS);
        wanted.insert(0, start);
        wanted.push(end);
        wanted
    }

    fn best(&self, policy: Bays) -> Option<Vec<Length>> {
        let anchors = self.anchors();
        let most = self.fewest(self.clear) + 2;
        let mut ways: Vec<Option<Way>> = vec![None; anchors.len()];
        if let Some(first) = ways.first_mut() {
            *first = Some(Way { cost: Cost::NONE, from: 0, bays: 0 });
        }
        for (j, to) in anchors.iter().enumerate().skip(1) {
            let mut best: Option<Way> = None;
            for (i, from) in anchors.iter().enumerate().take(j) {
                let Some(before) = ways.get(i).copied().flatten() else { continue };
                for bays in self.fewest(*to - *from - self.post)..=most {
                    let is_end = j + 1 == anchors.len();
                    let Some(cost) = self.between(*from, *to, bays, policy, is_end) else { break };
                    let cost = before.cost.plus(cost.unwrap_or(Cost { counted: i64::MAX / 4, ..Cost::NONE }));
                    if best.is_none_or(|b| cost.cmp(&b.cost) == Ordering::Less) {
                        best = Some(Way { cost, from: i, bays });
                    }
                }
            }
            if let Some(way) = ways.get_mut(j) {
                *way = best.filter(|b| b.cost.counted < i64::MAX / 8);
            }
        }
        if self.symmetric { self.mirrored(&anchors, &ways, policy) } else { self.spans(&anchors, &ways) }
    }

    /// The best way to some anchor left of the middle, the same from the right, and equal bays between.
    fn mirrored(&self, anchors: &[Length], ways: &[Option<Way>], policy: Bays) -> Option<Vec<Length>> {
        let most = self.fewest(self.clear) + 2;
        let mut best: Option<(Cost, usize, i64)> = None;
        for (i, from) in anchors.iter().enumerate() {
            let to = self.clear - *from;
            let Some(way) = ways.get(i).copied().flatten().filter(|_| *from + self.post < to) else { continue };
            let half = self.spans(anchors.get(..=i)?, ways)?;
            let right: Vec<Length> = half.iter().rev().copied().collect();
            for bays in self.fewest(to - *from - self.post)..=most {
                let Some(cost) = self.between(*from, to, bays, policy, true) else { break };
                let Some(cost) = cost.map(|c| c.plus(way.cost).plus(way.cost)) else { continue };
                let middle = divided(to - *from - self.post, self.post, bays);
                let whole = [&half[..], &middle[..], &right[..]].concat();
                if self.allows(&whole) && best.is_none_or(|(least, ..)| cost < least) {
                    best = Some((cost, i, bays));
                }
            }
        }
        let (_, i, bays) = best?;
        let half = self.spans(anchors.get(..=i)?, ways)?;
        let from = anchors.get(i)?;
        let middle = divided(self.clear - *from * 2 - self.post, self.post, bays);
        let right: Vec<Length> = half.iter().rev().copied().collect();
        Some([half, middle, right].concat())
    }

    /// Cost of `bays` equal bays between the posts at two anchors: `None` when they are too short, `Some(None)` when a
    /// post of them would stand where it may not.
    fn between(&self, from: Length, to: Length, bays: i64, policy: Bays, is_end: bool) -> Option<Option<Cost>> {
        let spans = divided(to - from - self.post, self.post, bays);
        if spans.iter().any(|s| *s < self.shortest) {
            return None;
        }
        let offset = from + self.post.half();
        let centres: Vec<Length> = self.centres(&spans).map(|c| c + offset).collect();
        if !centres.iter().all(|c| self.may_stand(*c)) {
            return Some(None);
        }
        let on_joist = |c: &Length| self.joists.iter().any(|j| (*j - *c).abs() <= Length::NOISE);
        let ends_off = i64::from(!is_end && !on_joist(&to));
        let off = i64::try_from(centres.iter().filter(|c| !on_joist(c)).count()).unwrap_or(i64::MAX / 8);
        let counted = match policy {
            Bays::Equal | Bays::Stock => bays,
            Bays::Cost => spans.iter().map(|s| self.price(*s)).sum(),
        };
        let squares = spans.iter().map(|s| i128::from(s.nanometres()).pow(2)).sum();
        let off_joist = if self.joists.is_empty() { 0 } else { off + ends_off };
        Some(Some(Cost { counted, off_joist, squares }))
    }

    /// Cost of the cheapest kit that fills a span.
    fn price(&self, span: Length) -> i64 {
        let fits = self.stock.iter().filter(|s| s.span + Length::NOISE >= span);
        fits.map(|s| s.cost).min().unwrap_or(i64::MAX / 1024)
    }

    fn spans(&self, anchors: &[Length], ways: &[Option<Way>]) -> Option<Vec<Length>> {
        let mut at = anchors.len().checked_sub(1)?;
        let mut parts = Vec::new();
        while at > 0 {
            let way = ways.get(at).copied().flatten()?;
            let (from, to) = (anchors.get(way.from)?, anchors.get(at)?);
            parts.push(divided(*to - *from - self.post, self.post, way.bays));
            at = way.from;
        }
        parts.reverse();
        Some(parts.concat())
    }
}

#[cfg(test)]
mod tests {
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
}
