//! Bays: how a stretch between two fixed posts is divided.
//!
//! Posts stand at anchors (places that something asks for: a joist, the border of a keep-out zone, the end of a full
//! kit) or share the way between two anchors equally. So the best division is a cheapest path over the anchors, exact
//! in whole nanometres, with costs compared one after the other: what the policy counts, posts off joists, and the sum
//! of the squared spans, which is least for equal ones.

use crate::base::Length;
use crate::catalog::Bays;

/// Pairs of anchors that are compared: all of a thousand anchors, and of more, each with as many before it as that leaves.
/// A stretch of 1,000 ft with a joist every foot has a thousand, and ten for each keep-out zone; on one of 4,000 ft each
/// joist is compared with those of 250 ft before it.
const MOST_PAIRS: usize = 1_000_000;

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
    /// Where no post may stand: from left to right, apart from each other.
    pub keep_out: &'a [(Length, Length)],
    /// Where posts stand best, from left to right.
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
    counted: i128,
    off_joist: usize,
    squares: i128,
}

impl Cost {
    const NONE: Self = Self { counted: 0, off_joist: 0, squares: 0 };

    /// Whether no way can be better that goes on from here, and for which this much is counted in all.
    fn is_passed(&self, counted: i128, best: &Self) -> bool {
        (counted, self.off_joist) > (best.counted, best.off_joist)
    }

    const fn plus(self, other: Self) -> Self {
        Self {
            counted: self.counted + other.counted,
            off_joist: self.off_joist + other.off_joist,
            squares: self.squares + other.squares,
        }
    }
}

/// Equal bays between two anchors: `longer` of them are a nanometre longer than the others.
struct Equal {
    from: Length,
    to: Length,
    bays: i64,
    total: Length,
    shorter: Length,
    longer: i64,
}

impl Equal {
    /// Centres of the posts between.
    fn centres(&self, post: Length) -> impl Iterator<Item = Length> + use<'_> {
        let left = self.from + post.half() + post.half();
        (1..self.bays).map(move |k| left + self.total.fraction(k, self.bays) + post * (k - 1))
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
        let behind = self.keep_out.partition_point(|(_, to)| *to <= centre - half);
        self.keep_out.get(behind).is_none_or(|(from, _)| *from >= centre + half)
    }

    /// Whether a post at this centre stands on no joist, though there are some.
    fn is_off_joist(&self, centre: Length) -> bool {
        let behind = self.joists.partition_point(|j| *j < centre - Length::NOISE);
        !self.joists.is_empty() && self.joists.get(behind).is_none_or(|j| *j > centre + Length::NOISE)
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
        wanted.insert(0, start);
        wanted.push(end);
        wanted
    }

    fn best(&self, policy: Bays) -> Option<Vec<Length>> {
        let anchors = self.anchors();
        let most = self.fewest(self.clear) + 2;
        let least = match policy {
            Bays::Equal | Bays::Stock => 1,
            Bays::Cost => self.stock.iter().map(|s| i128::from(s.cost)).min().unwrap_or(0),
        };
        let back = MOST_PAIRS / anchors.len().max(1);
        let mut ways: Vec<Option<Way>> = vec![None; anchors.len()];
        if let Some(first) = ways.first_mut() {
            *first = Some(Way { cost: Cost::NONE, from: 0, bays: 0 });
        }
        for (j, to) in anchors.iter().enumerate().skip(1) {
            let mut best: Option<Way> = None;
            for i in (0..1).chain(j.saturating_sub(back).max(1)..j) {
                let (Some(from), Some(Some(before))) = (anchors.get(i), ways.get(i).copied()) else { continue };
                for bays in self.fewest(*to - *from - self.post)..=most {
                    let counted = before.cost.counted + least * i128::from(bays);
                    if best.is_some_and(|b| before.cost.is_passed(counted, &b.cost)) {
                        break;
                    }
                    let Some(spans) = self.equal_spans(*from, *to, bays) else { break };
                    let is_end = j + 1 == anchors.len();
                    let Some(cost) = self.between(&spans, before.cost, best.map(|b| b.cost), policy, is_end) else {
                        continue;
                    };
                    if best.is_none_or(|b| cost < b.cost) {
                        best = Some(Way { cost, from: i, bays });
                    }
                }
            }
            if let Some(way) = ways.get_mut(j) {
                *way = best;
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
                let Some(spans) = self.equal_spans(*from, to, bays) else { break };
                let before = way.cost.plus(way.cost);
                let Some(cost) = self.between(&spans, before, best.map(|b| b.0), policy, true) else { continue };
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

    /// Equal bays between the posts at two anchors, unless they are too short.
    fn equal_spans(&self, from: Length, to: Length, bays: i64) -> Option<Equal> {
        let total = to - from - self.post - self.post * (bays - 1);
        let shorter = Length::from_nanometres(total.nanometres().div_euclid(bays));
        let longer = total.nanometres().rem_euclid(bays);
        (shorter >= self.shortest).then_some(Equal { from, to, bays, total, shorter, longer })
    }

    /// Cost of the way over `before` and these bays; `None` when a post would stand where it may not, or when that tells
    /// that the way is no better than the best one so far.
    fn between(&self, spans: &Equal, before: Cost, best: Option<Cost>, policy: Bays, is_end: bool) -> Option<Cost> {
        let (bays, longer) = (i128::from(spans.bays), i128::from(spans.longer));
        let of_all = |of: &dyn Fn(Length) -> i128| {
            let more = if longer > 0 { longer * of(spans.shorter + Length::from_nanometres(1)) } else { 0 };
            (bays - longer) * of(spans.shorter) + more
        };
        let counted = match policy {
            Bays::Equal | Bays::Stock => bays,
            Bays::Cost => of_all(&|span| self.price(span)),
        };
        if best.is_some_and(|b| before.is_passed(before.counted + counted, &b)) {
            return None;
        }
        if !self.keep_out.is_empty() && !spans.centres(self.post).all(|c| self.may_stand(c)) {
            return None;
        }
        // As many as make it worse than the best need not be counted further.
        let enough = best.filter(|b| b.counted == before.counted + counted).map_or(usize::MAX, |b| b.off_joist + 1);
        let off_joist = if self.joists.is_empty() {
            0
        } else {
            let end = Some(spans.to).filter(|_| !is_end);
            end.into_iter().chain(spans.centres(self.post)).filter(|c| self.is_off_joist(*c)).take(enough).count()
        };
        let squares = of_all(&|span| i128::from(span.nanometres()).pow(2));
        Some(before.plus(Cost { counted, off_joist, squares }))
    }

    /// Cost of the cheapest kit that fills a span.
    fn price(&self, span: Length) -> i128 {
        let fits = self.stock.iter().filter(|s| s.span + Length::NOISE >= span);
        fits.map(|s| s.cost).min().unwrap_or(i64::MAX).into()
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
    fn spans_that_no_kit_fills_cost_much_and_overflow_nothing() {
        let kits = [Stock { span: inches(72.25), cost: 72 }];
        let s = Stretch { stock: &kits, ..stretch(400_000.0, 5.0, 96.25) };
        // (400 000 + 5) / (96.25 + 5) is 3950.7; no kit fills a span, so nothing is gained by more of them.
        assert_eq!(divide(&s, Bays::Cost).unwrap().len(), 3_951);
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
