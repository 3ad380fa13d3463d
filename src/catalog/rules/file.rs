//! A rule file as it is written, with conditions and a file that it is based on; and what holds of it for one case.

use schemars::JsonSchema;
use serde::Deserialize;

use super::case::{Case, Conditions};
use super::kinds::Sense;
use super::{
    Circumstances, Count, CountKind, Evidence, Exact, GuardPlace, Limit, LimitKind, Load, LoadKind, LoadUnit, RuleKind,
    RuleSet, Use,
};
use crate::base::Length;
use crate::catalog::CatalogError;

/// More than this is no dimension of a guard, stair or drop: 1 000 m. It keeps sums in range.
const LARGEST: Length = Length::from_nanometres(1_000_000_000_000);

/// A rule set's file.
#[derive(Debug, Clone, PartialEq, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields, rename_all = "kebab-case")]
#[schemars(title = "plumbrail rule set")]
pub struct RuleFile {
    /// Short name, as `--rules` takes it.
    pub name: String,
    /// One line for people.
    pub title: String,
    /// Rule set that holds where this file says nothing: a built-in name, or a TOML file beside this one.
    pub based_on: Option<String>,
    /// Limits, counts and loads of that rule set that do not hold here.
    #[serde(default)]
    pub remove: Vec<RuleKind>,
    /// Its limits. Those of one kind replace all of that kind in the rule set that this one is based on.
    #[serde(rename = "limit", default)]
    pub limits: Vec<LimitEntry>,
    /// Its limits that are numbers of things.
    #[serde(rename = "count", default)]
    pub counts: Vec<CountEntry>,
    /// Loads, as information.
    #[serde(rename = "load", default)]
    pub loads: Vec<LoadEntry>,
}

/// A limit with the conditions under which it holds. Of those of a kind, the one with the most conditions holds.
#[derive(Debug, Clone, PartialEq, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields, rename_all = "kebab-case")]
pub struct LimitEntry {
    /// What it limits.
    pub what: LimitKind,
    /// Value in the unit that the code prints.
    pub value: Length,
    /// Whether exactly the value still passes; a sphere fails at its own size unless this says otherwise.
    pub exact: Option<Exact>,
    /// Height above the walking surface from which on it holds, for the kinds that have one.
    pub from: Option<Length>,
    /// It holds for this use only.
    #[serde(rename = "use")]
    pub usage: Option<Use>,
    /// It holds at this place only.
    pub place: Option<GuardPlace>,
    /// It holds where the drop is more than this.
    pub drop_over: Option<Length>,
    /// It holds where the drop is this or less.
    pub drop_up_to: Option<Length>,
    /// It holds where children under five may be, or where they may not.
    pub under_fives: Option<bool>,
    /// Section of the code.
    pub section: String,
    /// How surely the value is known.
    pub evidence: Evidence,
    /// Where the value was read.
    pub source: String,
}

/// A number of things with the conditions under which it is required.
#[derive(Debug, Clone, PartialEq, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields, rename_all = "kebab-case")]
pub struct CountEntry {
    /// What is counted.
    pub what: CountKind,
    /// How many.
    pub value: u32,
    /// It holds for this use only.
    #[serde(rename = "use")]
    pub usage: Option<Use>,
    /// It holds at this place only.
    pub place: Option<GuardPlace>,
    /// Section of the code.
    pub section: String,
    /// How surely the value is known.
    pub evidence: Evidence,
    /// Where the value was read.
    pub source: String,
}

/// A load with the conditions under which it acts.
#[derive(Debug, Clone, PartialEq, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields, rename_all = "kebab-case")]
pub struct LoadEntry {
    /// Where it acts.
    pub what: LoadKind,
    /// How much, in `unit`.
    pub value: f64,
    /// Unit as the code prints it.
    pub unit: LoadUnit,
    /// Area on which it acts, as the code prints it.
    pub area: Option<String>,
    /// It holds for this use only.
    #[serde(rename = "use")]
    pub usage: Option<Use>,
    /// It holds at this place only.
    pub place: Option<GuardPlace>,
    /// Section of the code.
    pub section: String,
    /// How surely the value is known.
    pub evidence: Evidence,
    /// Where the value was read.
    pub source: String,
}

/// What limits, counts and loads have in common.
trait Entry {
    type Kind: Copy + PartialEq + 'static;

    /// All kinds, in the order of a rule set.
    const KINDS: &'static [Self::Kind];

    fn kind(&self) -> Self::Kind;

    fn conditions(&self) -> Conditions;

    fn section(&self) -> &str;

    /// What is wrong with its value.
    fn flaw(&self) -> Option<String>;

    /// Whether it asks more than another entry of its kind.
    fn is_stricter(&self, other: &Self) -> bool;

    /// The kind to which another kind is an exception, so that it is stricter not to have it.
    fn exception_to(_kind: Self::Kind) -> Option<Self::Kind> {
        None
    }

    fn named(kind: Self::Kind) -> RuleKind;
}

impl Entry for LimitEntry {
    type Kind = LimitKind;

    const KINDS: &'static [LimitKind] = LimitKind::ALL;

    fn kind(&self) -> LimitKind {
        self.what
    }

    fn conditions(&self) -> Conditions {
        Conditions {
            usage: self.usage,
            place: self.place,
            drop_over: self.drop_over,
            drop_up_to: self.drop_up_to,
            under_fives: self.under_fives,
        }
    }

    fn section(&self) -> &str {
        &self.section
    }

    fn flaw(&self) -> Option<String> {
        let least = if self.what.may_be_zero() { Length::ZERO } else { Length::from_nanometres(1) };
        let drops = [self.drop_over, self.drop_up_to, self.from].into_iter().flatten();
        if !(least..=LARGEST).contains(&self.value) {
            return Some(format!("{} is no value for it", self.value));
        }
        if drops.into_iter().any(|l| !(Length::ZERO..=LARGEST).contains(&l)) {
            return Some("from, drop-over or drop-up-to is negative or absurd".to_owned());
        }
        if self.drop_over.zip(self.drop_up_to).is_some_and(|(over, up_to)| over >= up_to) {
            return Some("no drop is over drop-over and up to drop-up-to".to_owned());
        }
        if self.from.is_some() != self.what.holds_from() {
            let wrong = if self.from.is_some() { "it has no `from`" } else { "it needs `from`, for example \"36in\"" };
            return Some(wrong.to_owned());
        }
        (self.exact.is_some() && !self.what.may_say_exact())
            .then(|| "it has no `exact`: it can always be met exactly".to_owned())
    }

    fn is_stricter(&self, other: &Self) -> bool {
        let own = |entry: &Self| entry.exact.unwrap_or_else(|| entry.what.usual_exact());
        match self.value.cmp(&other.value) {
            std::cmp::Ordering::Equal => own(self) == Exact::Fails && own(other) == Exact::Passes,
            order => order.is_gt() == (self.what.sense() == Sense::Least),
        }
    }

    fn exception_to(kind: LimitKind) -> Option<LimitKind> {
        kind.is_exception().then_some(match kind {
            LimitKind::StairGuardHeight => LimitKind::GuardHeight,
            LimitKind::NosingFreeTread => LimitKind::NosingMin,
            _ => LimitKind::Opening,
        })
    }

    fn named(kind: LimitKind) -> RuleKind {
        RuleKind::Limit(kind)
    }
}

impl Entry for CountEntry {
    type Kind = CountKind;

    const KINDS: &'static [CountKind] = CountKind::ALL;

    fn kind(&self) -> CountKind {
        self.what
    }

    fn conditions(&self) -> Conditions {
        Conditions { usage: self.usage, place: self.place, ..Conditions::default() }
    }

    fn section(&self) -> &str {
        &self.section
    }

    fn flaw(&self) -> Option<String> {
        match self.what {
            CountKind::HandrailSides if !(1..=2).contains(&self.value) => Some("a flight has 1 or 2 sides".to_owned()),
            CountKind::HandrailFromRisers if self.value == 0 => Some("it counts from 1".to_owned()),
            _ => None,
        }
    }

    fn is_stricter(&self, other: &Self) -> bool {
        match self.what {
            CountKind::HandrailFromRisers => self.value < other.value,
            CountKind::HandrailSides => self.value > other.value,
        }
    }

    fn named(kind: CountKind) -> RuleKind {
        RuleKind::Count(kind)
    }
}

impl Entry for LoadEntry {
    type Kind = LoadKind;

    const KINDS: &'static [LoadKind] = LoadKind::ALL;

    fn kind(&self) -> LoadKind {
        self.what
    }

    fn conditions(&self) -> Conditions {
        Conditions { usage: self.usage, place: self.place, ..Conditions::default() }
    }

    fn section(&self) -> &str {
        &self.section
    }

    fn flaw(&self) -> Option<String> {
        if !(self.value > 0.0 && self.value < 1e6) {
            return Some(format!("{} is no load", self.value));
        }
        (self.unit.is_line() != (self.what == LoadKind::TopLine)).then(|| {
            let fit = if self.unit.is_line() { "lbf or kN" } else { "plf or kN/m" };
            format!("{} is no unit for it: write {fit}", self.unit.text())
        })
    }

    fn is_stricter(&self, other: &Self) -> bool {
        let newtons = |load: &Self| match load.unit {
            LoadUnit::Pounds => load.value * 4.44822,
            LoadUnit::PoundsPerFoot => load.value * 14.5939,
            LoadUnit::Kilonewtons | LoadUnit::KilonewtonsPerMetre => load.value * 1000.0,
        };
        newtons(self) > newtons(other)
    }

    fn named(kind: LoadKind) -> RuleKind {
        RuleKind::Load(kind)
    }
}

/// What is wrong with the entries of one sort: a value, or two of which it cannot be told which one holds.
fn flaw<E: Entry>(entries: &[E]) -> Option<String> {
    for (i, entry) in entries.iter().enumerate() {
        let at = format!("{}, section {}", E::named(entry.kind()).text(), entry.section());
        if let Some(flaw) = entry.flaw() {
            return Some(format!("{at}: {flaw}"));
        }
        let own = entry.conditions();
        let rival = entries.iter().take(i).find(|other| {
            let conditions = other.conditions();
            other.kind() == entry.kind() && conditions.number() == own.number() && conditions.meet(&own)
        });
        if let Some(rival) = rival {
            return Some(format!(
                "{at}: it limits what section {} limits, under as many conditions; keep one, or give one of them another \
                 condition (use, place, drop-over, drop-up-to, under-fives)",
                rival.section()
            ));
        }
    }
    None
}

/// The entry of a kind that holds in a case: of those whose conditions are met, the one with the most of them.
fn at<'a, E: Entry>(entries: &[&'a E], kind: E::Kind, case: &Case) -> Option<&'a E> {
    let met = entries.iter().copied().filter(|e| e.kind() == kind && e.conditions().hold(case));
    met.max_by_key(|e| e.conditions().number())
}

/// The entry of a kind that asks most of those that hold in some case that is left open; none where an exception fails to
/// hold in one of them although what it is an exception to does.
fn pick<'a, E: Entry>(entries: &'a [E], kind: E::Kind, known: &Circumstances) -> Option<&'a E> {
    let base = E::exception_to(kind);
    let own: Vec<&E> = entries.iter().filter(|e| e.kind() == kind || Some(e.kind()) == base).collect();
    let cases = known.cases(&own.iter().map(|e| e.conditions()).collect::<Vec<_>>());
    let lacks = |base, case: &Case| at(&own, kind, case).is_none() && at(&own, base, case).is_some();
    let lost = base.is_some_and(|base| cases.iter().any(|case| lacks(base, case)));
    let held = cases.iter().filter(|_| !lost).filter_map(|case| at(&own, kind, case));
    held.reduce(|best, next| if next.is_stricter(best) { next } else { best })
}

/// The entries that hold for what is known of the case, in the order of their kinds.
fn picked<'a, E: Entry>(entries: &'a [E], known: &Circumstances) -> impl Iterator<Item = &'a E> {
    E::KINDS.iter().filter_map(move |kind| pick(entries, *kind, known))
}

/// What a file says lies over what it is based on.
fn overlay<E: Entry>(own: Vec<E>, base: Vec<E>, removed: &[RuleKind]) -> Vec<E> {
    let keeps = |e: &E| !removed.contains(&E::named(e.kind())) && own.iter().all(|o| o.kind() != e.kind());
    let mut all: Vec<E> = base.into_iter().filter(keeps).collect();
    all.extend(own);
    all
}

impl RuleFile {
    /// Whether something is stated of a kind.
    fn states(&self, kind: RuleKind) -> bool {
        self.limits.iter().any(|e| LimitEntry::named(e.what) == kind)
            || self.counts.iter().any(|e| CountEntry::named(e.what) == kind)
            || self.loads.iter().any(|e| LoadEntry::named(e.what) == kind)
    }

    /// Checks the file for itself, whatever it is based on.
    ///
    /// # Errors
    /// When a value is none, two entries of a kind could hold at once, or something is removed from nothing.
    pub(in crate::catalog) fn check(&self) -> Result<(), CatalogError> {
        if let Some(flaw) = flaw(&self.limits).or_else(|| flaw(&self.counts)).or_else(|| flaw(&self.loads)) {
            return Err(CatalogError::new(flaw));
        }
        if let Some(both) = self.remove.iter().find(|kind| self.states(**kind)) {
            return Err(CatalogError::new(format!("{} is removed and stated as well", both.text()))
                .hint("what the file states replaces all of that kind; take it out of `remove`"));
        }
        if self.based_on.is_some() {
            return Ok(());
        }
        if !self.remove.is_empty() {
            return Err(CatalogError::new(
                "`remove` takes from the rule set that the file is based on, and there is none",
            )
            .hint("add for example based-on = \"irc-2021\""));
        }
        if self.limits.is_empty() && self.counts.is_empty() {
            return Err(CatalogError::new("it states no limit").hint("add a [[limit]], or based-on = \"irc-2021\""));
        }
        Ok(())
    }

    /// The file over the one that it is based on: entries of a kind replace all of that kind.
    ///
    /// # Errors
    /// When it removes what the base does not have.
    pub fn over(self, base: Self) -> Result<Self, CatalogError> {
        if let Some(kind) = self.remove.iter().find(|kind| !base.states(**kind)) {
            let message = format!("it removes {}, which {} does not have", kind.text(), base.name);
            return Err(CatalogError::new(message).hint("take it out of `remove`"));
        }
        Ok(Self {
            limits: overlay(self.limits, base.limits, &self.remove),
            counts: overlay(self.counts, base.counts, &self.remove),
            loads: overlay(self.loads, base.loads, &self.remove),
            name: self.name,
            title: self.title,
            based_on: base.based_on,
            remove: base.remove,
        })
    }

    /// What holds for a case. Of the entries of a kind whose conditions are met, the one with the most of them holds;
    /// where none is met there is no limit of that kind. Of the cases that are left open, the strictest is taken.
    ///
    /// # Errors
    /// When the file that it is based on was not laid under it, the drop is negative, or two limits contradict each
    /// other.
    pub fn resolve(&self, known: &Circumstances) -> Result<RuleSet, CatalogError> {
        if let Some(base) = &self.based_on {
            return Err(CatalogError::new(format!("{} is based on {base}, which is missing", self.name)));
        }
        if known.drop.is_some_and(|drop| drop < Length::ZERO) {
            return Err(CatalogError::new("rule-case: drop is negative"));
        }
        let rules = RuleSet {
            name: self.name.clone(),
            title: self.title.clone(),
            case: *known,
            assumed: known.assumed(&self.conditions()),
            limits: picked(&self.limits, known).map(Limit::from).collect(),
            counts: picked(&self.counts, known).map(Count::from).collect(),
            loads: picked(&self.loads, known).map(Load::from).collect(),
        };
        let Some(flaw) = contradiction(&rules) else { return Ok(rules) };
        let error = CatalogError::new(format!("rule set {}: {flaw}", self.name));
        let open = rules.assumption().and_then(|told| told.hint);
        Err(if let Some(open) = open { error.hint(open) } else { error })
    }

    /// What each entry is about and when it holds.
    fn conditions(&self) -> Vec<(&'static str, Conditions)> {
        fn of<E: Entry>(entries: &[E]) -> impl Iterator<Item = (&'static str, Conditions)> + '_ {
            entries.iter().map(|e| (E::named(e.kind()).text(), e.conditions()))
        }
        of(&self.limits).chain(of(&self.counts)).chain(of(&self.loads)).collect()
    }
}

/// A least value above the greatest one of the same thing.
fn contradiction(rules: &RuleSet) -> Option<String> {
    let pairs = [
        (LimitKind::RiserHeightMin, LimitKind::RiserHeight),
        (LimitKind::NosingMin, LimitKind::NosingMax),
        (LimitKind::HandrailHeightMin, LimitKind::HandrailHeightMax),
        (LimitKind::HandrailDiameterMin, LimitKind::HandrailDiameterMax),
        (LimitKind::HandrailPerimeterMin, LimitKind::HandrailPerimeterMax),
        (LimitKind::ClimbFreeFrom, LimitKind::ClimbFreeTo),
    ];
    pairs.into_iter().find_map(|(least, most)| {
        let (least, most) = rules.limit(least).zip(rules.limit(most))?;
        (least.value > most.value).then(|| {
            format!(
                "{} of {} (section {}) is more than {} of {} (section {})",
                least.what.text(),
                least.value,
                least.section,
                most.what.text(),
                most.value,
                most.section
            )
        })
    })
}

impl From<&LimitEntry> for Limit {
    fn from(entry: &LimitEntry) -> Self {
        Self {
            what: entry.what,
            value: entry.value,
            exact: entry.exact.unwrap_or_else(|| entry.what.usual_exact()),
            from: entry.from,
            section: entry.section.clone(),
            evidence: entry.evidence,
            source: entry.source.clone(),
        }
    }
}

impl From<&CountEntry> for Count {
    fn from(entry: &CountEntry) -> Self {
        Self {
            what: entry.what,
            value: entry.value,
            section: entry.section.clone(),
            evidence: entry.evidence,
            source: entry.source.clone(),
        }
    }
}

impl From<&LoadEntry> for Load {
    fn from(entry: &LoadEntry) -> Self {
        Self {
            what: entry.what,
            value: entry.value,
            unit: entry.unit,
            area: entry.area.clone(),
            section: entry.section.clone(),
            evidence: entry.evidence,
            source: entry.source.clone(),
        }
    }
}
