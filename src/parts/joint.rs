//! Bays chosen together with the cut plan: the cheapest way to divide all stretches of a job.

use crate::base::{Length, Mark, Measure};
use crate::catalog::{Kit, Packed, Part, Settings, Stocked};

use super::cutting::{self, Piece, Shop, Stock};
use super::joint_bound::{self, Stick, Task, Way};
use super::joint_exact;

/// A choice for all stretches.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Joint {
    /// Index of the way taken for each stretch.
    pub picks: Vec<usize>,
    /// What its rails, posts and brackets cost, in hundredths of the currency or in nanometres of rail.
    pub cost: i64,
    /// What the same cost with the first way of each stretch.
    pub equal: i64,
    /// No choice among the ways costs less.
    pub bound: i64,
    /// Whether costs are prices.
    pub priced: bool,
    /// Whether something lies in the shop, which the choice leaves out of account.
    pub on_hand: bool,
}

impl Joint {
    /// What was chosen, and how good it is, for people.
    pub fn told(&self, measure: Measure) -> String {
        let amount = |n: i64| {
            if self.priced {
                format!("{:.2}", n as f64 / 100.0)
            } else {
                format!("{} of stock", measure.with_unit(Length::from_nanometres(n)))
            }
        };
        let best = if self.bound == self.cost {
            "proven to be the least".to_owned()
        } else {
            format!("no choice costs less than {}", amount(self.bound))
        };
        let shop = if self.on_hand { ", with nothing from the shop" } else { "" };
        format!(
            "bays were chosen over the whole job: level rails, line posts and their brackets come to {}{shop}, {best}; {} less than \
             with the fewest equal bays",
            amount(self.cost),
            amount(self.equal - self.cost)
        )
    }
}

/// Cut plans that are tried for a job of a thousand panels; smaller jobs get more.
const WORK: usize = 12_000;

/// Chooses among `ways` (clear spans of each stretch, equal bays first); `fixed` are the level spans without a choice.
pub fn choose(ways: &[Vec<Vec<Length>>], fixed: &[Length], settings: &Settings, mark: Mark) -> Joint {
    let prices = Prices::new(settings, mark);
    let mut hunt = Hunt::new(&prices, ways, fixed);
    let equal = hunt.cost;
    // Each stretch by itself: exact where no two panels share a stick.
    hunt.consider(ways.iter().map(|w| prices.cheapest(w)).collect());
    let mut bound = prices.bound(ways, fixed);
    let task = prices.task(ways, fixed);
    if let Some(worths) = task.as_ref().and_then(joint_bound::bound) {
        bound = bound.max(worths.least());
        hunt.consider(worths.picks.clone());
        hunt.step(bound, hunt.tries / 4);
        if let Some(task) = task.as_ref().filter(|_| hunt.cost > bound) {
            let found = joint_exact::cheapest(task, &worths, hunt.cost);
            bound = bound.max(found.bound);
            found.picks.into_iter().for_each(|picks| hunt.consider(picks));
        }
    }
    hunt.step(bound, hunt.tries);
    hunt.settle();
    let (picks, cost) = (hunt.picks, hunt.cost);
    let on_hand = !settings.on_hand.is_empty();
    Joint { picks, cost, equal, bound: bound.min(cost), priced: prices.priced, on_hand }
}

/// The best choice so far, and what may yet be done for a better one.
struct Hunt<'a> {
    prices: &'a Prices<'a>,
    ways: &'a [Vec<Vec<Length>>],
    fixed: &'a [Length],
    picks: Vec<usize>,
    cost: i64,
    tries: usize,
    /// Where the next step begins.
    next: usize,
}

impl<'a> Hunt<'a> {
    /// Begins with the first way of each stretch.
    fn new(prices: &'a Prices<'a>, ways: &'a [Vec<Vec<Length>>], fixed: &'a [Length]) -> Self {
        let picks = vec![0; ways.len()];
        let panels: usize = ways.iter().filter_map(|w| w.first()).map(Vec::len).sum();
        let tries = (WORK / panels.max(1)).clamp(8, 600);
        let cost = prices.cost(ways, &picks, fixed);
        Self { prices, ways, fixed, picks, cost, tries, next: 0 }
    }

    fn consider(&mut self, picks: Vec<usize>) {
        let cost = self.prices.cost(self.ways, &picks, self.fixed);
        if cost < self.cost {
            (self.picks, self.cost) = (picks, cost);
        }
    }

    /// The cost with another way for one stretch.
    fn with(&self, stretch: usize, way: usize) -> (Vec<usize>, i64) {
        let mut other = self.picks.clone();
        if let Some(pick) = other.get_mut(stretch) {
            *pick = way;
        }
        let cost = self.prices.cost(self.ways, &other, self.fixed);
        (other, cost)
    }

    /// Tries other ways for one stretch after the other, from where it left off, until none is better or so many have been
    /// tried.
    fn step(&mut self, bound: i64, most: usize) {
        let each = |(stretch, own): (usize, &Vec<Vec<Length>>)| (0..own.len()).map(move |way| (stretch, way));
        let all: Vec<(usize, usize)> = self.ways.iter().enumerate().flat_map(each).collect();
        let (mut tries, mut vain) = (most, 0);
        while tries > 0 && self.cost > bound && vain < all.len() {
            let Some(&(stretch, way)) = all.get(self.next % all.len()) else { return };
            self.next += 1;
            vain += 1;
            if self.picks.get(stretch) == Some(&way) {
                continue;
            }
            tries -= 1;
            self.tries -= 1;
            let (picks, cost) = self.with(stretch, way);
            if cost < self.cost {
                vain = 0;
                (self.picks, self.cost) = (picks, cost);
            }
        }
    }

    /// On a tie the way that comes first: equal bays.
    fn settle(&mut self) {
        for stretch in 0..self.ways.len() {
            for way in 0..self.picks.get(stretch).copied().unwrap_or(0) {
                if self.tries == 0 {
                    return;
                }
                self.tries -= 1;
                let (picks, cost) = self.with(stretch, way);
                if cost <= self.cost {
                    (self.picks, self.cost) = (picks, cost);
                    break;
                }
            }
        }
    }
}

/// What things cost.
struct Prices<'a> {
    settings: &'a Settings,
    kits: Vec<&'a Kit>,
    mark: Mark,
    priced: bool,
    /// One more post with its brackets.
    post: i64,
}

impl<'a> Prices<'a> {
    fn new(settings: &'a Settings, mark: Mark) -> Self {
        let system = &settings.system;
        let kits: Vec<&Kit> = system.kits.iter().filter(|k| k.serves.fits(false)).collect();
        let all = kits.iter().map(|k| k.price).chain(system.stock.iter().map(|s| s.price));
        let priced = all.clone().all(|p| p.is_some()) && all.count() > 0;
        let each = |part: Part| {
            let pack = system.packs.iter().find(|p| p.of == Packed::Part(part));
            pack.and_then(|p| Some(p.price? * 100.0 / f64::from(p.count.max(1)))).unwrap_or(0.0)
        };
        let brackets = 2.0 * system.bracket.members.len() as f64;
        let trim = if system.post.cap { each(Part::PostCap) } else { 0.0 }
            + if system.post.base { each(Part::PostBase) } else { 0.0 };
        let post = each(Part::PostSleeve) + trim + brackets * each(Part::BracketLevel);
        Self { settings, kits, mark, priced, post: if priced { post.round() as i64 } else { 0 } }
    }

    /// The rail of a span.
    fn rail(&self, span: Length) -> Length {
        self.mark.floor(span - self.settings.system.end_clearance * 2 + Length::NOISE)
    }

    fn posts(&self, way: &[Length]) -> i64 {
        self.post * i64::try_from(way.len().saturating_sub(1)).unwrap_or(0)
    }

    /// Price of the cheapest stick set that one rail alone is cut from; out of reach of all sums where none is.
    fn alone(&self, rail: Length) -> i64 {
        let trim = self.settings.shop.trim * 2;
        let kit = |k: &&&Kit| k.length - trim >= rail;
        if !self.kits.is_empty() {
            return self.kits.iter().filter(kit).map(|k| self.kit_cost(k)).min().unwrap_or(i64::MAX / 1_000_000);
        }
        let member = |role: Stocked| {
            let own = self.settings.system.stock.iter().filter(|s| s.member == role && s.length - trim >= rail);
            own.map(|s| self.stock_cost(s.price, s.length)).min().unwrap_or(i64::MAX / 1_000_000)
        };
        self.settings.system.members.iter().map(|m| member(m.role.into())).sum()
    }

    fn kit_cost(&self, kit: &Kit) -> i64 {
        self.stock_cost(kit.price, kit.length)
    }

    fn stock_cost(&self, price: Option<f64>, length: Length) -> i64 {
        price.filter(|_| self.priced).map_or_else(|| length.nanometres(), |p| (p * 100.0).round() as i64)
    }

    fn cheapest(&self, ways: &[Vec<Length>]) -> usize {
        let cost = |way: &Vec<Length>| way.iter().map(|s| self.alone(self.rail(*s))).sum::<i64>() + self.posts(way);
        // The first of equals: equal bays.
        ways.iter().enumerate().min_by_key(|(_, way)| cost(way)).map_or(0, |(i, _)| i)
    }

    /// Cost of a choice, by a cut plan for all of it.
    fn cost(&self, ways: &[Vec<Vec<Length>>], picks: &[usize], fixed: &[Length]) -> i64 {
        let taken = || ways.iter().zip(picks).filter_map(|(own, pick)| own.get(*pick));
        let spans = taken().flatten().chain(fixed);
        let pieces: Vec<Piece> = spans.map(|s| Piece::square(self.rail(*s))).collect();
        let shop = Shop {
            kerf: self.settings.shop.kerf,
            end_trim: self.settings.shop.trim,
            least_offcut: self.settings.shop.least_offcut,
            nest: false,
        };
        let plan = |stocks: Vec<Stock>| {
            let plan = cutting::plan(&pieces, &stocks, &shop).ok().filter(|p| p.unplaced.is_empty());
            plan.map_or(i64::MAX / 1_000_000, |p| p.cost.number())
        };
        let stock = |price: Option<f64>, length: Length| Stock {
            name: String::new(),
            length,
            price: price.filter(|_| self.priced).map(|p| (p * 100.0).round() as i64),
            on_hand: None,
        };
        let rails = if self.kits.is_empty() {
            let own = |role: Stocked| {
                self.settings.system.stock.iter().filter(move |s| s.member == role).map(|s| stock(s.price, s.length))
            };
            self.settings.system.members.iter().map(|m| plan(own(m.role.into()).collect())).sum()
        } else {
            plan(self.kits.iter().map(|k| stock(k.price, k.length)).collect())
        };
        rails + taken().map(|way| self.posts(way)).sum::<i64>()
    }

    /// The larger of two bounds. No stick holds more than its length, so each rail costs at least its share of the stick
    /// that is cheapest by length; and a rail over half of the longest stick has a stick to itself, so it costs the cheapest
    /// one that it fits. Both hold for every way of a stretch, so its least one bounds it.
    fn bound(&self, ways: &[Vec<Vec<Length>>], fixed: &[Length]) -> i64 {
        let kerf = self.settings.shop.kerf;
        let lengths = if self.kits.is_empty() {
            self.settings.system.stock.iter().map(|s| s.length).max()
        } else {
            self.kits.iter().map(|k| k.length).max()
        };
        let half = (lengths.unwrap_or(Length::ZERO) + kerf).half();
        let whole = |rail: Length| if rail + kerf > half { self.alone(rail) } else { 0 };
        let share = |rail: Length| self.share(rail + kerf, kerf);
        let total = |price: &dyn Fn(Length) -> i64| -> i64 {
            let way = |way: &Vec<Length>| way.iter().map(|s| price(self.rail(*s))).sum::<i64>() + self.posts(way);
            let chosen: i64 = ways.iter().filter_map(|own| own.iter().map(way).min()).sum();
            chosen + fixed.iter().map(|s| price(self.rail(*s))).sum::<i64>()
        };
        total(&whole).max(total(&share))
    }

    /// The choice as a program sees it, where panels are cut from kits.
    fn task(&self, ways: &[Vec<Vec<Length>>], fixed: &[Length]) -> Option<Task> {
        let (kerf, trim) = (self.settings.shop.kerf, self.settings.shop.trim * 2);
        let stick = |k: &&Kit| Stick { room: k.length - trim + kerf, cost: self.kit_cost(k) };
        let way =
            |way: &Vec<Length>| Way { rails: way.iter().map(|s| self.rail(*s)).collect(), posts: self.posts(way) };
        let stretches = ways.iter().map(|own| own.iter().map(way).collect()).collect();
        let fixed = fixed.iter().map(|s| self.rail(*s)).collect();
        (!self.kits.is_empty()).then(|| Task { stretches, fixed, sticks: self.kits.iter().map(stick).collect(), kerf })
    }

    /// A rail's share of the sticks that are cheapest by length, rounded down.
    fn share(&self, rail: Length, kerf: Length) -> i64 {
        let part = |cost: i64, length: Length| {
            let whole = i128::from((length + kerf).nanometres().max(1));
            i64::try_from(i128::from(cost) * i128::from(rail.nanometres()) / whole).unwrap_or(0)
        };
        if !self.kits.is_empty() {
            return self.kits.iter().map(|k| part(self.kit_cost(k), k.length)).min().unwrap_or(0);
        }
        let member = |role: Stocked| {
            let own = self.settings.system.stock.iter().filter(|s| s.member == role);
            own.map(|s| part(self.stock_cost(s.price, s.length), s.length)).min().unwrap_or(0)
        };
        self.settings.system.members.iter().map(|m| member(m.role.into())).sum()
    }
}
