//! The cases that limits are taken for: what the building is, where the guard stands, how deep one can fall, who may fall.

use schemars::JsonSchema;
use serde::{Deserialize, Serialize};

use super::Assumed;
use crate::base::Length;

/// What the building is used for, as far as codes differ by it.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize, JsonSchema)]
#[serde(rename_all = "kebab-case")]
pub enum Use {
    /// A dwelling and what belongs to it alone.
    Dwelling,
    /// Everything else.
    Other,
}

/// Where the guard stands, as far as codes differ by it.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize, JsonSchema)]
#[serde(rename_all = "kebab-case")]
pub enum GuardPlace {
    /// At the edge of a floor or landing inside.
    Floor,
    /// Outside: a deck, a balcony, a flat roof.
    Balcony,
}

/// `[rule-case]` of the job file: what is known of the case. Of what is not stated the strictest is taken, for each limit by
/// itself, and a note says so: of all the values that a limit can have, the one that asks most; and an exception to a
/// stricter limit only where it holds in every case that is left open.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields, rename_all = "kebab-case", default)]
pub struct Circumstances {
    /// Use of the building: dwelling or other.
    #[serde(rename = "use", skip_serializing_if = "Option::is_none")]
    pub usage: Option<Use>,
    /// Where the guard stands: balcony or floor.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub place: Option<GuardPlace>,
    /// Largest drop beside the deck.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub drop: Option<Length>,
    /// Whether children under five may be there.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub under_fives: Option<bool>,
}

/// A case without gaps.
#[derive(Debug, Clone, Copy)]
pub(super) struct Case {
    usage: Use,
    place: GuardPlace,
    under_fives: bool,
    drop: Length,
}

/// When an entry holds. One without any condition holds always.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub(super) struct Conditions {
    pub usage: Option<Use>,
    pub place: Option<GuardPlace>,
    pub drop_over: Option<Length>,
    pub drop_up_to: Option<Length>,
    pub under_fives: Option<bool>,
}

fn agrees<T: PartialEq>(asked: Option<T>, is: &T) -> bool {
    asked.is_none_or(|asked| asked == *is)
}

impl Conditions {
    /// Whether the entry holds for a case.
    pub fn hold(&self, case: &Case) -> bool {
        agrees(self.usage, &case.usage)
            && agrees(self.place, &case.place)
            && agrees(self.under_fives, &case.under_fives)
            && self.drop_over.is_none_or(|over| case.drop > over)
            && self.drop_up_to.is_none_or(|up_to| case.drop <= up_to)
    }

    /// How many there are; both ends of the drop are one.
    pub fn number(&self) -> usize {
        let drop = self.drop_over.is_some() || self.drop_up_to.is_some();
        let has = [self.usage.is_some(), self.place.is_some(), self.under_fives.is_some(), drop];
        has.into_iter().filter(|has| *has).count()
    }

    /// Whether some case meets these and others.
    pub fn meet(&self, other: &Self) -> bool {
        fn fit<T: Copy + PartialEq>(a: Option<T>, b: Option<T>) -> bool {
            a.is_none() || b.is_none() || a == b
        }
        let over = self.drop_over.max(other.drop_over);
        let up_to = [self.drop_up_to, other.drop_up_to].into_iter().flatten().min();
        fit(self.usage, other.usage)
            && fit(self.place, other.place)
            && fit(self.under_fives, other.under_fives)
            && up_to.is_none_or(|up_to| over.is_none_or(|over| over < up_to))
    }

    /// Drops at which the entry begins or ends to hold, each with the smallest one above it.
    pub fn drops(&self) -> impl Iterator<Item = Length> + use<> {
        let ends = [self.drop_over, self.drop_up_to].into_iter().flatten();
        ends.flat_map(|end| [end, end + Length::from_nanometres(1)])
    }
}

impl Circumstances {
    /// Every case that what is stated leaves open, as far as any of some conditions tells one from another.
    pub(super) fn cases(&self, told: &[Conditions]) -> Vec<Case> {
        fn open<T: Copy>(stated: Option<T>, tells: bool, all: &[T]) -> Vec<T> {
            let all = all.iter().copied().take(if tells { all.len() } else { 1 });
            stated.map_or_else(|| all.collect(), |stated| vec![stated])
        }
        let tells = |asks: fn(&Conditions) -> bool| told.iter().any(asks);
        let uses = open(self.usage, tells(|c| c.usage.is_some()), &[Use::Dwelling, Use::Other]);
        let places = open(self.place, tells(|c| c.place.is_some()), &[GuardPlace::Balcony, GuardPlace::Floor]);
        let fives = open(self.under_fives, tells(|c| c.under_fives.is_some()), &[true, false]);
        let ends = told.iter().flat_map(Conditions::drops);
        let drops = open(self.drop, true, &[Length::ZERO].into_iter().chain(ends).collect::<Vec<_>>());
        let mut cases = Vec::new();
        for &usage in &uses {
            for &place in &places {
                for &under_fives in &fives {
                    cases.extend(drops.iter().map(|&drop| Case { usage, place, under_fives, drop }));
                }
            }
        }
        cases
    }

    /// What is not stated although entries depend on it, given what each entry is about and when it holds.
    pub(super) fn assumed(&self, entries: &[(&'static str, Conditions)]) -> Vec<Assumed> {
        let depend = |on: fn(&Conditions) -> bool| {
            let mut names: Vec<&'static str> = entries.iter().filter(|(_, c)| on(c)).map(|(name, _)| *name).collect();
            names.dedup();
            names
        };
        let all = [
            (
                self.usage.is_none(),
                "use of the building, of which the strictest is taken",
                "use = \"dwelling\" or \"other\"",
                depend(|c| c.usage.is_some()),
            ),
            (
                self.place.is_none(),
                "place of the guard, of which the strictest is taken",
                "place = \"balcony\" or \"floor\"",
                depend(|c| c.place.is_some()),
            ),
            (self.drop.is_none(), "drop, of which the strictest is taken", "drop = \"48in\"", {
                depend(|c| c.drop_over.is_some() || c.drop_up_to.is_some())
            }),
            (
                self.under_fives.is_none(),
                "whether children under five may be there, of which the strictest is taken",
                "under-fives = true or false",
                depend(|c| c.under_fives.is_some()),
            ),
        ];
        let open = all.into_iter().filter(|(is_open, _, _, names)| *is_open && !names.is_empty());
        open.map(|(_, what, key, names)| Assumed { what, key, names }).collect()
    }
}
