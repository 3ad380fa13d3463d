//! Bays: how a stretch between two fixed posts is divided.
//!
//! Posts stand at anchors (places that something asks for: a joist, the border of a keep-out zone, the end of a full
//! kit) or share the way between two anchors equally. So the best division is a cheapest path over the anchors, exact
//! in whole nanometres, with costs compared one after the other: what the policy counts, posts off joists, and the sum
//! of the squared spans, which is least for equal ones.

#[cfg(test)]
mod tests;

use std::ops::RangeInclusive;

use crate::base::Length;
use crate::catalog::Bays;

/// Pairs of anchors that are compared: all of a thousand anchors, and of more, each with as many before it as that leaves.
/// A stretch of 1,000 ft with a joist every foot has a thousand, and ten for each keep-out zone; on one of 4,000 ft each
/// joist is compared with those of 250 ft before it.
const MOST_PAIRS: usize = 1_000_000;

/// More bays than the fewest that are tried between two posts: shorter kits may cost less, or miss a keep-out zone.
pub(super) const MORE_BAYS: i64 = 2;

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
    let asks_nothing = stretch.keep_out.is_empty() && stretch.joists.is_empty();
    // A single bay has no post between.
    if policy == Bays::Equal && (asks_nothing || stretch.fewest(stretch.clear) == 1) {
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
    /// Centre of a post between, counted from 1.
    fn centre(&self, k: i64, post: Length) -> Length {
        self.from + post.half() + post.half() + self.total.fraction(k, self.bays) + post * (k - 1)
    }

    /// Centres of the posts between.
    fn centres(&self, post: Length) -> impl Iterator<Item = Length> + use<'_> {
        (1..self.bays).map(move |k| self.centre(k, post))
    }

    /// How many of the posts between have their centre up to `place`, or one fewer.
    fn posts_before(&self, place: Length, post: Length) -> i64 {
        let way = i128::from((place - self.from).nanometres() - 1) * i128::from(self.bays);
        let whole = i128::from((self.total + post * self.bays).nanometres().max(1));
        i64::try_from(way.div_euclid(whole)).unwrap_or(i64::MAX - 2)
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

    /// How many equal bays are tried.
    fn tried(&self, clear: Length) -> RangeInclusive<i64> {
        let fewest = self.fewest(clear);
        fewest..=fewest + MORE_BAYS
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

    /// Whether all posts between equal bays keep out of the zones: zone by zone, as they are few and posts may be thousands.
    fn keeps_out(&self, spans: &Equal) -> bool {
        let half = self.post.half();
        let first = self.keep_out.partition_point(|(_, to)| *to <= spans.from - half);
        let zones = self.keep_out.iter().skip(first).take_while(|(from, _)| *from < spans.to + half);
        // The last post that stands before a zone, and the next two for what is rounded.
        zones.map(|(from, _)| spans.posts_before(*from - half, self.post)).all(|before| {
            let near = (before..=before + 2).filter(|k| (1..spans.bays).contains(k));
            near.map(|k| spans.centre(k, self.post)).all(|c| self.may_stand(c))
        })
    }

    /// Whether a post at this centre stands on no joist, though there are some.
    fn is_off_joist(&self, centre: Length) -> bool {
        let behind = self.joists.partition_point(|j| *j < centre - Length::NOISE);
        !self.joists.is_empty() && self.joists.get(behind).is_none_or(|j| *j > centre + Length::NOISE)
    }

    /// Where a post is wanted, by its centre; the two ends stand half a post outside of the clear length.
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
                for bays in self.tried(*to - *from - self.post) {
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
        let mut best: Option<(Cost, usize, i64)> = None;
        for (i, from) in anchors.iter().enumerate() {
            let to = self.clear - *from;
            let Some(way) = ways.get(i).copied().flatten().filter(|_| *from + self.post < to) else { continue };
            let half = self.spans(anchors.get(..=i)?, ways)?;
            let right: Vec<Length> = half.iter().rev().copied().collect();
            for bays in self.tried(to - *from - self.post) {
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
        if !self.keeps_out(spans) {
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
