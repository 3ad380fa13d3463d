//! Bays chosen together with their cutting: against all ways tried, and proven for the job of a usual house.

use plumbrail::base::plane::point;
use plumbrail::base::{Frame, Length, Mark};
use plumbrail::cad::Origin;
use plumbrail::catalog::{Bays, Inside, Job, Kit, RailSystem, Settings, read_system, rules_named};
use plumbrail::deck::{Chain, ChainEnd, Edge, Plan};
use plumbrail::guard;
use plumbrail::parts::cutting::{Piece, Shop, Stock, plan};
use plumbrail::parts::{Joint, choose};

const SIXTEENTH: Length = Length::from_nanometres(1_587_500);

/// Numbers that look random and are the same at each run (Knuth's MMIX generator).
struct Dice(u64);

impl Dice {
    fn from(&mut self, low: i64, high: i64) -> i64 {
        self.0 = self.0.wrapping_mul(6_364_136_223_846_793_005).wrapping_add(1_442_695_040_888_963_407);
        low + (self.0 >> 33) as i64 % (high - low + 1)
    }
}

fn settings(system: RailSystem) -> Settings {
    let job = Job { bays: Some(Bays::Cost), inside: Some(Inside::Right), ..Job::default() };
    Settings::new(job, system, rules_named("irc-2021").unwrap()).unwrap()
}

/// A rail system for tests.
fn test_rail() -> RailSystem {
    read_system(include_str!("systems/test-rail.toml"), "test-rail.toml").unwrap()
}

/// It with other kits: two or three lengths, at times without prices, at times with ends trimmed.
fn shop(dice: &mut Dice) -> Settings {
    let mut system = test_rail();
    let priced = dice.from(0, 3) > 0;
    system.kits.retain(|k| k.serves.fits(false));
    let mut longer = system.kits[1].clone();
    longer.name = "longer".to_owned();
    system.kits.push(longer);
    system.kits.truncate(dice.from(2, 3) as usize);
    for (kit, feet) in system.kits.iter_mut().zip([6, 8, 12]) {
        kit.length = Length::INCH * (12 * feet) + SIXTEENTH * dice.from(0, 16);
        kit.price = Some((feet * 22 + dice.from(-8, 20)) as f64);
    }
    if !priced {
        system.kits.iter_mut().for_each(|k| k.price = None);
    }
    let mut settings = settings(system);
    settings.shop.trim = SIXTEENTH * dice.from(0, 2);
    settings
}

/// Cost of a choice: an extra post (sleeve 24.50, cap 9.75, trim 6.25, four brackets of 5.50) for each bay but the first,
/// and a proven cut plan of all rails.
fn cost(spans: &[&[Length]], fixed: &[Length], settings: &Settings) -> i64 {
    let priced = settings.system.kits.iter().all(|k| k.price.is_some());
    let rail = |s: &Length| Mark::SIXTEENTH.floor(*s - Length::INCH.fraction(1, 4) + Length::NOISE);
    let pieces: Vec<Piece> = spans.iter().copied().flatten().chain(fixed).map(|s| Piece::square(rail(s))).collect();
    let stock = |k: &Kit| Stock {
        name: k.name.clone(),
        length: k.length,
        price: k.price.map(|p| (p * 100.0).round() as i64),
        on_hand: None,
    };
    let stocks: Vec<Stock> = settings.system.kits.iter().map(stock).collect();
    let shop = Shop {
        kerf: settings.shop.kerf,
        end_trim: settings.shop.trim,
        least_offcut: settings.shop.least_offcut,
        nest: false,
    };
    let plan = plan(&pieces, &stocks, &shop).unwrap();
    assert!(plan.proven && plan.unplaced.is_empty());
    let posts: usize = spans.iter().map(|s| s.len() - 1).sum();
    plan.cost.number() + if priced { 6_250 * posts as i64 } else { 0 }
}

/// Posts, and all rails as if no stick wasted anything.
fn at_least(spans: &[&[Length]], fixed: &[Length], settings: &Settings) -> f64 {
    let kits = &settings.system.kits;
    let priced = kits.iter().all(|k| k.price.is_some());
    let price = |k: &Kit| k.price.map_or(k.length.nanometres() as f64, |p| p * 100.0);
    let rate = |k: &Kit| price(k) / (k.length + settings.shop.kerf).nanometres() as f64;
    let least = kits.iter().map(rate).fold(f64::INFINITY, f64::min);
    let posts: usize = spans.iter().map(|s| s.len() - 1).sum();
    let taken = |s: &Length| (*s - Length::INCH.fraction(5, 16) + settings.shop.kerf).nanometres() as f64 * least;
    let rails: f64 = spans.iter().copied().flatten().chain(fixed).map(taken).sum();
    rails + if priced { 6_250.0 * posts as f64 } else { 0.0 }
}

/// All choices.
fn all(ways: &[Vec<Vec<Length>>]) -> Vec<Vec<&[Length]>> {
    let mut all = vec![Vec::new()];
    for own in ways {
        all = all.iter().flat_map(|c: &Vec<_>| own.iter().map(|w| [c, &[w.as_slice()][..]].concat())).collect();
    }
    all
}

/// Equal bays, the fewest and up to two more, and one of 60 in with equal ones; posts of 5 in.
fn ways_of(clear: Length) -> Vec<Vec<Length>> {
    let post = Length::INCH * 5;
    let equal = |clear: Length, n: i64| -> Vec<Length> {
        let span = (clear - post * (n - 1)).nanometres() / n;
        vec![Length::from_nanometres(span); usize::try_from(n).unwrap()]
    };
    let fewest = 1 + (clear + post).nanometres() / (Length::INCH * 101).nanometres();
    let mut ways: Vec<Vec<Length>> = (fewest..=fewest + 2).map(|n| equal(clear, n)).collect();
    let first = Length::INCH * 60;
    ways.push([vec![first], equal(clear - first - post, fewest)].concat());
    ways
}

#[test]
fn the_cheapest_of_all_ways_is_found_and_proven() {
    let (mut dearer, mut planned) = (0, 0);
    for seed in 0..100 {
        let mut dice = Dice(seed * 7_919 + 1);
        dice.from(0, 1);
        let settings = shop(&mut dice);
        let mut span = |low: i64, high: i64| SIXTEENTH * dice.from(low * 16, high * 16);
        let clear: Vec<Length> = (0..3).map(|_| span(90, 270)).collect();
        let fixed: Vec<Length> = (0..2).map(|_| span(20, 70)).collect();
        let ways: Vec<Vec<Vec<Length>>> = clear.into_iter().map(ways_of).collect();
        let joint = choose(&ways, &fixed, &settings, Mark::SIXTEENTH);
        assert_eq!(joint.cost, joint.bound, "{seed}: {joint:?}");
        let taken: Vec<&[Length]> = joint.picks.iter().zip(&ways).map(|(pick, own)| own[*pick].as_slice()).collect();
        assert_eq!(cost(&taken, &fixed, &settings), joint.cost, "{seed}");
        for choice in all(&ways) {
            let near = at_least(&choice, &fixed, &settings) < joint.cost as f64;
            assert!(!near || cost(&choice, &fixed, &settings) >= joint.cost, "{seed}: {choice:?}");
            planned += usize::from(near);
        }
        assert!(joint.cost < joint.equal || joint.picks.iter().all(|p| *p == 0), "{seed}: ties go to equal bays");
        if seed % 10 == 0 {
            assert_eq!(choose(&ways, &fixed, &settings, Mark::SIXTEENTH), joint, "{seed}: the same again");
        }
        dearer += usize::from(joint.cost < joint.equal);
    }
    assert!(dearer > 50 && planned > 200, "equal bays are dearer in {dearer}, {planned} others planned");
}

/// Straight deck edges of 5 to 30 ft, each a stretch, until they take about 30 panels; the least costs are those that the
/// `milp` of scipy 1.17 (HiGHS) finds over all fillings of the kits.
#[test]
fn the_job_of_a_usual_house_is_proven() {
    let mut system = test_rail();
    for (kit, feet) in system.kits.iter_mut().filter(|k| k.serves.fits(false)).zip([6, 8]) {
        kit.length = Length::INCH * (12 * feet);
    }
    let settings = settings(system);
    let least = [
        611_750, 639_250, 655_850, 640_850, 659_600, 575_750, 601_450, 588_050, 678_300, 597_350, 628_550, 510_450,
        605_350, 609_450, 571_850, 604_800, 594_100, 637_100, 666_000, 562_900,
    ];
    for (seed, least) in (0..).zip(least) {
        let mut dice = Dice(seed * 1_000 + 30);
        let mut plan = Plan::empty(Frame::default());
        let mut panels = 0.0;
        while panels < 30.0 {
            let length = dice.from(60 * 16, 360 * 16) as f64 * 1.5875;
            panels += (length / (101.0 * 25.4)).ceil();
            let y = plan.chains.len() as f64 * 10_000.0;
            let edge = Edge {
                a: point(0.0, y),
                b: point(length, y),
                bulge: 0.0,
                curved: false,
                origin: Origin::default(),
                layer: "".into(),
            };
            plan.chains.push(Chain { edges: vec![edge], ends: Some([ChainEnd::Stated; 2]) });
        }
        let ways = guard::lay_out(&plan, &settings).0.choices.ways;
        let Joint { cost, bound, .. } = choose(&ways, &[], &settings, Mark::SIXTEENTH);
        assert_eq!((cost, bound), (least, least), "{seed}");
    }
}
