//! Other ways to divide a stretch, from which the cheapest order over the whole job is put together.

use crate::base::Length;

use super::bays::{MORE_BAYS, Stretch, divided};

/// Ways of one stretch.
const MOST_WAYS: usize = 24;

/// Ways to divide the level stretches of a plan, and which of them is taken.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct Choices {
    /// Index of the way taken for each stretch; the first one where it does not say.
    pub picks: Vec<usize>,
    /// For each stretch in turn, its ways as clear spans from left to right, equal bays first.
    pub ways: Vec<Vec<Vec<Length>>>,
}

impl Choices {
    /// Notes the ways of the next stretch and gives the one that is taken.
    pub(super) fn take(&mut self, ways: Vec<Vec<Length>>) -> Vec<Length> {
        let pick = self.picks.get(self.ways.len()).copied().unwrap_or(0);
        let taken = ways.get(pick).or_else(|| ways.first()).cloned().unwrap_or_default();
        self.ways.push(ways);
        taken
    }
}

impl Stretch<'_> {
    /// The fewest equal bays where they may be, `first`, more equal bays, and full kits with the remainder in equal bays, in which no bay is shorter than
    /// `least_percent` of the longest one.
    pub(super) fn ways(&self, first: Vec<Length>, least_percent: u32) -> Vec<Vec<Length>> {
        let fewest = self.fewest(self.clear);
        let equal = divided(self.clear, self.post, fewest);
        let mut ways = vec![if self.allows(&equal) { equal } else { first.clone() }];
        let mut add = |spans: Vec<Length>| {
            if ways.len() < MOST_WAYS && !ways.contains(&spans) && self.may_be(&spans, least_percent) {
                ways.push(spans);
            }
        };
        add(first);
        for bays in fewest..=fewest + MORE_BAYS {
            add(divided(self.clear, self.post, bays));
        }
        if self.symmetric {
            return ways;
        }
        for bays in fewest..=fewest + MORE_BAYS {
            for kit in self.stock.iter().filter(|k| k.span <= self.longest + Length::NOISE) {
                for full in 1..bays {
                    let rest = self.clear - (kit.span + self.post) * full;
                    let mut spans = vec![kit.span; usize::try_from(full).unwrap_or(0)];
                    spans.extend(divided(rest, self.post, bays - full));
                    add(spans);
                }
            }
        }
        ways
    }

    fn may_be(&self, spans: &[Length], least_percent: u32) -> bool {
        let (Some(least), Some(most)) = (spans.iter().min(), spans.iter().max()) else { return false };
        *least >= self.shortest
            && *most <= self.longest + Length::NOISE
            && *least >= most.fraction(i64::from(least_percent), 100)
            && self.allows(spans)
    }
}
