//! Panels and handrails -> which stick each member is cut from, at the least cost.
//!
//! A kit holds one stick of each of its members, and a panel takes the same place in all of them: so kits are one cutting
//! problem, of panels that are as long as their longest member. Members sold by the length are a problem each. Where both
//! are sold, the cheaper way is taken.

use crate::base::{Code, Finding, Length, Place};
use crate::catalog::{Kit, MemberRole, OnHand, RailSystem, Serves, Stocked};
use crate::panel::{Cut, Panel};

use super::Layout;
use super::cut_plan::{CutPlan, Source, Stick, StickPiece};
use super::cutting::{self, Cost, Piece, Plan, Shop, Stock};

/// Sets of pieces in the shop that may stand for kits: the planner knows 64 kinds of stock.
const MOST_SETS: u32 = 40;

/// What a panel's members are cut from together.
enum Set<'a> {
    Kit(&'a Kit),
    /// One piece of each member that lies in the shop.
    Shop(&'a [Length]),
}

/// One thing to be cut: a member of a panel, or a handrail.
#[derive(Debug, Clone)]
struct Wanted {
    of: String,
    piece: Piece,
}

/// Plans the cutting of all panels and handrails.
pub fn cut_plan(layout: &Layout) -> (CutPlan, Vec<Finding>) {
    let system = &layout.system;
    let shop = Shop {
        kerf: layout.shop.kerf,
        end_trim: layout.shop.trim,
        least_offcut: layout.shop.least_offcut,
        nest: layout.shop.nest,
    };
    let prices = system.kits.iter().map(|k| k.price).chain(system.stock.iter().map(|s| s.price));
    let priced = prices.clone().all(|p| p.is_some()) && prices.count() > 0;
    let mut planner = Planner {
        system,
        shop,
        priced,
        on_hand: layout.on_hand.clone(),
        out: Totals::default(),
        findings: Vec::new(),
        kits: 0,
    };
    let special = system.kits.iter().any(|k| k.serves != Serves::Any);
    let panels = || layout.panels.iter().map(|at| &at.panel);
    let (raked, level): (Vec<&Panel>, Vec<&Panel>) = panels().partition(|p| p.rake.is_some());
    if special {
        planner.panels(&level, Some(false));
        planner.panels(&raked, Some(true));
        // A kit that serves both kinds could have been shared by them.
        let shared = system.kits.iter().any(|k| k.serves == Serves::Any) && !level.is_empty() && !raked.is_empty();
        if shared {
            planner.out.bound = 0;
        }
    } else {
        planner.panels(&panels().collect::<Vec<_>>(), None);
    }
    let rails: Vec<Wanted> =
        layout.handrails.iter().map(|h| Wanted { of: h.id.clone(), piece: Piece::square(h.total()) }).collect();
    planner.member(Stocked::Handrail, &rails);
    planner.finish()
}

#[derive(Debug, Default)]
struct Totals {
    sticks: Vec<Stick>,
    cost: i64,
    bound: i64,
    used: Length,
    waste: Length,
}

impl Totals {
    fn add(&mut self, other: Self) {
        self.sticks.extend(other.sticks);
        self.cost += other.cost;
        self.bound += other.bound;
        self.used += other.used;
        self.waste += other.waste;
    }
}

struct Planner<'a> {
    system: &'a RailSystem,
    shop: Shop,
    priced: bool,
    on_hand: Vec<OnHand>,
    out: Totals,
    findings: Vec<Finding>,
    kits: u32,
}

/// Price in hundredths.
fn hundredths(price: Option<f64>) -> Option<i64> {
    price.map(|p| (p * 100.0).round() as i64)
}

impl Planner<'_> {
    fn finish(self) -> (CutPlan, Vec<Finding>) {
        let told = |n: i64| if self.priced { Cost::Price(n) } else { Cost::Length(Length::from_nanometres(n)) };
        let out = self.out;
        let plan = CutPlan {
            sticks: out.sticks,
            cost: told(out.cost),
            lower_bound: told(out.bound.min(out.cost)),
            used: out.used,
            waste: out.waste,
        };
        (plan, self.findings)
    }

    /// Cuts panels of a kind (all of them, or those for or not for stairs) from kits and from stock.
    fn panels(&mut self, panels: &[&Panel], raked: Option<bool>) {
        if panels.is_empty() {
            return;
        }
        let system = self.system;
        let kits: Vec<&Kit> = system.kits.iter().filter(|k| raked.is_none_or(|r| k.serves.fits(r))).collect();
        let boxed: Vec<MemberRole> =
            system.members.iter().map(|m| m.role).filter(|r| kits.iter().any(|k| k.holds(*r))).collect();
        let by_length = |role: &MemberRole| system.stock.iter().any(|s| s.member == Stocked::from(*role));
        let both = !boxed.is_empty() && boxed.iter().all(by_length);
        let (alone, from_kits): (Vec<MemberRole>, Vec<MemberRole>) =
            system.members.iter().map(|m| m.role).partition(|r| !boxed.contains(r));
        for role in alone {
            let found = self.role(role, panels);
            self.out.add(found);
        }
        if from_kits.is_empty() {
            return;
        }
        let kept_on_hand = self.on_hand.clone();
        let before = (self.findings.len(), self.kits);
        let mut by_kit = self.boxes(panels, &kits, &from_kits);
        if both {
            let after_kits = (self.on_hand.clone(), self.findings.len());
            self.on_hand = kept_on_hand;
            let mut single = Totals::default();
            for role in &from_kits {
                single.add(self.role(*role, panels));
            }
            // Either way alone is dearer than a mix can be at best: each member pays its share of a kit.
            let bound = self.mixed_bound(panels, &kits, &from_kits);
            let kits_fail = after_kits.1 > before.0;
            let singles_fail = self.findings.len() > after_kits.1;
            let take_single = !singles_fail && (kits_fail || single.cost < by_kit.cost);
            if take_single {
                self.findings.drain(before.0..after_kits.1);
                self.kits = before.1;
                by_kit = single;
            } else {
                self.findings.truncate(after_kits.1);
                self.on_hand = after_kits.0;
            }
            by_kit.bound = bound.min(by_kit.cost);
        }
        self.out.add(by_kit);
    }

    /// One member of all panels, cut from what is sold by the length.
    fn role(&mut self, role: MemberRole, panels: &[&Panel]) -> Totals {
        let wanted: Vec<Wanted> = panels
            .iter()
            .flat_map(|p| {
                p.cuts.iter().filter(|c| c.member == role).map(|c| Wanted { of: p.id.clone(), piece: self.piece(c) })
            })
            .collect();
        self.singles(role.into(), &wanted)
    }

    fn member(&mut self, member: Stocked, wanted: &[Wanted]) {
        let found = self.singles(member, wanted);
        self.out.add(found);
    }

    /// A cut as the planner sees it. A plumb cut is a parallelogram in the side view, a skew a trapezium or parallelogram
    /// from above; where an end has both, tips are not shared.
    fn piece(&self, cut: &Cut) -> Piece {
        let member = self.system.member(cut.member);
        let is_skew = cut.left.radians() != 0.0 || cut.right.radians() != 0.0;
        let (width, left, right) = match (cut.plumb.radians() != 0.0, is_skew) {
            (true, false) => (member.map_or(Length::ZERO, |m| m.height), cut.plumb, -cut.plumb),
            (false, true) => (member.map_or(Length::ZERO, |m| m.width), cut.left, cut.right),
            _ => return Piece::square(cut.tip_to_tip),
        };
        Piece { length: cut.tip_to_tip, width, left, right }
    }

    fn singles(&mut self, member: Stocked, wanted: &[Wanted]) -> Totals {
        if wanted.is_empty() {
            return Totals::default();
        }
        let sold: Vec<Stock> = self
            .system
            .stock
            .iter()
            .filter(|s| s.member == member)
            .map(|s| Stock { name: s.name.clone(), length: s.length, price: self.price(s.price), on_hand: None })
            .collect();
        let mut stocks: Vec<Stock> = self.lying(member);
        let lying = stocks.len();
        stocks.extend(sold);
        let pieces: Vec<Piece> = wanted.iter().map(|w| w.piece).collect();
        let Some(plan) = self.solved(member.text(), &pieces, &stocks, self.shop) else { return Totals::default() };
        self.use_up(member, &plan, &stocks);
        self.unplaced(&plan, wanted, member.text(), &stocks);
        let sticks = plan.sticks.iter().filter_map(|stick| {
            let stock = stocks.get(stick.stock)?;
            let pieces = stick.pieces.iter().filter_map(|p| {
                let w = wanted.get(p.piece)?;
                Some(StickPiece { of: w.of.clone(), at: p.at, length: w.piece.length })
            });
            Some(Stick {
                stock: stock.name.clone(),
                source: if stick.stock < lying { Source::OnHand } else { Source::Stock },
                member,
                length: stock.length,
                price: stock.price.filter(|_| stick.stock >= lying),
                pieces: pieces.collect(),
                offcut: stick.offcut,
                kept: stick.kept,
            })
        });
        let sticks = sticks.collect();
        let (cost, bound) = (plan.cost.number(), plan.lower_bound.number());
        Totals { sticks, cost, bound, used: plan.used, waste: plan.waste }
    }

    fn price(&self, price: Option<f64>) -> Option<i64> {
        hundredths(price).filter(|_| self.priced)
    }

    /// Pieces of a member that lie in the shop.
    fn lying(&self, member: Stocked) -> Vec<Stock> {
        let own = self.on_hand.iter().filter(|o| o.member == member && o.count > 0);
        own.map(|o| Stock { name: "on hand".to_owned(), length: o.length, price: Some(0), on_hand: Some(o.count) })
            .collect()
    }

    fn use_up(&mut self, member: Stocked, plan: &Plan, stocks: &[Stock]) {
        for stick in &plan.sticks {
            let Some(stock) = stocks.get(stick.stock).filter(|s| s.on_hand.is_some()) else { continue };
            self.take(member, stock.length);
        }
    }

    fn solved(&mut self, what: &str, pieces: &[Piece], stocks: &[Stock], shop: Shop) -> Option<Plan> {
        if stocks.is_empty() {
            let message = format!("nothing is sold, and nothing lies in the shop, to cut a {what} from");
            // A system may leave open how its handrail is sold; without a member there is no panel.
            let is_open = what == Stocked::Handrail.text();
            let told = if is_open { Finding::warning } else { Finding::error };
            let finding = told(Code::StockTooShort, Place::none(), message)
                .hint("add [[stock]] entries for it to the rail system, or a [[kit]] that serves these panels");
            self.findings.push(finding);
            return None;
        }
        match cutting::plan(pieces, stocks, &shop) {
            Ok(plan) => Some(plan),
            Err(error) => {
                let message = format!("no cut plan can be made: {error}");
                self.findings.push(Finding::error(Code::StockTooShort, Place::none(), message));
                None
            }
        }
    }

    fn unplaced(&mut self, plan: &Plan, wanted: &[Wanted], what: &str, stocks: &[Stock]) {
        let longest = stocks.iter().map(|s| s.length).max().unwrap_or(Length::ZERO) - self.shop.end_trim * 2;
        let is_rail = what == Stocked::Handrail.text();
        let place = |of: &str| if is_rail { Place::none() } else { Place::panel(of) };
        for w in plan.unplaced.iter().filter_map(|i| wanted.get(*i)) {
            let message = format!(
                "{} needs a {what} of {}; the longest that can be cut is {}",
                w.of,
                w.piece.length.told(),
                longest.told()
            );
            self.findings.push(
                Finding::error(Code::StockTooShort, place(&w.of), message)
                    .hint("set a shorter --longest-panel, or add a longer kit or stock length to the rail system"),
            );
        }
    }

    /// Panels cut from kits: one problem, with each panel as long as its longest member in the kit. What lies in the shop
    /// serves as a kit where a piece of each member lies there.
    fn boxes(&mut self, panels: &[&Panel], kits: &[&Kit], roles: &[MemberRole]) -> Totals {
        let reach = |p: &Panel, pick: fn(Length, Length) -> Length| {
            let own = p.cuts.iter().filter(|c| roles.contains(&c.member)).map(|c| c.tip_to_tip);
            own.reduce(pick).unwrap_or(Length::ZERO)
        };
        let wanted: Vec<Wanted> =
            panels.iter().map(|p| Wanted { of: p.id.clone(), piece: Piece::square(reach(p, Length::max)) }).collect();
        let sets = self.sets(roles);
        let lying = sets.iter().map(|set| Stock {
            name: String::new(),
            length: set.iter().copied().min().unwrap_or(Length::ZERO),
            price: Some(0),
            on_hand: Some(1),
        });
        let sold = kits.iter().map(|k| Stock {
            name: k.name.clone(),
            length: k.length,
            price: self.price(k.price),
            on_hand: None,
        });
        let stocks: Vec<Stock> = lying.chain(sold).collect();
        let shop = Shop { nest: false, ..self.shop };
        let pieces: Vec<Piece> = wanted.iter().map(|w| w.piece).collect();
        let Some(plan) = self.solved("panel", &pieces, &stocks, shop) else { return Totals::default() };
        self.unplaced(&plan, &wanted, "kit", &stocks);
        let mut out = Totals { cost: plan.cost.number(), bound: plan.lower_bound.number(), ..Totals::default() };
        let least: Vec<Piece> = panels.iter().map(|p| Piece::square(reach(p, Length::min))).collect();
        if least != pieces {
            // Members of a panel differ where its ends are skewed: no plan can do with less than the shortest.
            out.bound = self.solved("panel", &least, &stocks, shop).map_or(0, |p| p.lower_bound.number()).min(out.cost);
        }
        if !self.priced {
            // Without prices the length of all that is bought is counted, and a kit has a stick of each member.
            let held = i64::try_from(roles.len()).unwrap_or(1);
            (out.cost, out.bound) = (out.cost * held, out.bound * held);
        }
        for stick in &plan.sticks {
            let held: Vec<&Panel> = stick.pieces.iter().filter_map(|p| panels.get(p.piece).copied()).collect();
            let from = match (sets.get(stick.stock), stick.stock.checked_sub(sets.len()).and_then(|i| kits.get(i))) {
                (Some(set), _) => Set::Shop(set),
                (None, Some(kit)) => Set::Kit(kit),
                (None, None) => continue,
            };
            self.box_of(&from, roles, &held, &mut out);
        }
        out
    }

    /// The sticks of one kit, or of the pieces in the shop that stand for one.
    fn box_of(&mut self, from: &Set<'_>, roles: &[MemberRole], held: &[&Panel], out: &mut Totals) {
        if matches!(from, Set::Kit(_)) {
            self.kits += 1;
        }
        for (i, role) in roles.iter().enumerate() {
            let (stock, source, length, price) = match from {
                Set::Kit(kit) if kit.holds(*role) => {
                    let price = self.price(kit.price).filter(|_| i == 0);
                    (kit.name.clone(), Source::Kit(self.kits), kit.length, price)
                }
                Set::Kit(_) => continue,
                Set::Shop(set) => {
                    let Some(length) = set.get(i).copied() else { continue };
                    self.take((*role).into(), length);
                    ("on hand".to_owned(), Source::OnHand, length, None)
                }
            };
            let stick = self.boxed(
                *role,
                held,
                Stick {
                    stock,
                    source,
                    member: (*role).into(),
                    length,
                    price,
                    pieces: Vec::new(),
                    offcut: Length::ZERO,
                    kept: false,
                },
            );
            out.used += stick.length;
            let pieces: Length = stick.pieces.iter().map(|p| p.length).sum();
            out.waste += stick.length - pieces - if stick.kept { stick.offcut } else { Length::ZERO };
            out.sticks.push(stick);
        }
    }

    /// Sets of pieces in the shop with one of each member: the longest of each together, then the next.
    fn sets(&self, roles: &[MemberRole]) -> Vec<Vec<Length>> {
        let lying = |role: &MemberRole| {
            let own = self.on_hand.iter().filter(|o| o.member == Stocked::from(*role));
            let mut lengths: Vec<Length> =
                own.flat_map(|o| std::iter::repeat_n(o.length, o.count.min(MOST_SETS) as usize)).collect();
            lengths.sort_unstable_by(|a, b| b.cmp(a));
            lengths
        };
        let each: Vec<Vec<Length>> = roles.iter().map(lying).collect();
        let count = each.iter().map(Vec::len).min().unwrap_or(0).min(MOST_SETS as usize);
        (0..count).map(|k| each.iter().filter_map(|lengths| lengths.get(k).copied()).collect()).collect()
    }

    fn take(&mut self, member: Stocked, length: Length) {
        let own = |o: &&mut OnHand| o.member == member && o.length == length && o.count > 0;
        if let Some(lying) = self.on_hand.iter_mut().find(own) {
            lying.count -= 1;
        }
    }

    /// A stick with the panels that its kit was chosen for, longest first.
    fn boxed(&self, role: MemberRole, held: &[&Panel], stick: Stick) -> Stick {
        let mut at = self.shop.end_trim;
        let mut pieces = Vec::new();
        for panel in held {
            for cut in panel.cuts.iter().filter(|c| c.member == role) {
                pieces.push(StickPiece { of: panel.id.clone(), at, length: cut.tip_to_tip });
                at += cut.tip_to_tip + self.shop.kerf;
            }
        }
        let offcut = (stick.length - at).max(Length::ZERO);
        Stick { pieces, offcut, kept: offcut >= self.shop.least_offcut, ..stick }
    }

    /// What a mix of kits and stock lengths costs at least: each member is cut from its own sticks and from those of kits,
    /// at an equal share of the kit's price. Any plan's cost is the sum of such shares.
    fn mixed_bound(&mut self, panels: &[&Panel], kits: &[&Kit], roles: &[MemberRole]) -> i64 {
        let mut bound = 0;
        for role in roles {
            let pieces: Vec<Piece> = panels
                .iter()
                .flat_map(|p| p.cuts.iter().filter(|c| c.member == *role).map(|c| self.piece(c)))
                .collect();
            let share = |k: &&&Kit| {
                let held = roles.iter().filter(|r| k.holds(**r)).count().max(1);
                let price = if self.priced {
                    hundredths(k.price)?
                } else {
                    k.length.nanometres() * i64::try_from(held).ok()?
                };
                Some(price / i64::try_from(held).ok()?)
            };
            let from_kits = kits.iter().filter(|k| k.holds(*role)).map(|k| Stock {
                name: String::new(),
                length: k.length,
                price: share(&k),
                on_hand: None,
            });
            let own = self.system.stock.iter().filter(|s| s.member == Stocked::from(*role)).map(|s| Stock {
                name: String::new(),
                length: s.length,
                price: if self.priced { hundredths(s.price) } else { Some(s.length.nanometres()) },
                on_hand: None,
            });
            let mut stocks: Vec<Stock> = self.lying((*role).into());
            stocks.extend(from_kits.chain(own));
            let told = self.findings.len();
            bound += self.solved(role.text(), &pieces, &stocks, self.shop).map_or(0, |p| p.lower_bound.number());
            self.findings.truncate(told);
        }
        bound
    }
}
