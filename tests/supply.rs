//! Cut plan and order over whole plans: from kits, from stock lengths, from the shop, by the pack; bays by cost.

use std::collections::BTreeMap;

use plumbrail::base::Length;
use plumbrail::catalog::{self, Job, OnHand, RailSystem, Settings, Stocked};
use plumbrail::parts::{Cost, Item, Layout, Source};

fn system(edit: impl Fn(&str) -> String) -> RailSystem {
    let (name, text) = catalog::builtin_systems()[0];
    catalog::read_system(&edit(text), name).unwrap()
}

fn settings(job: Job, system: RailSystem) -> Settings {
    Settings::new(job, system, catalog::rules_named("irc-2021").unwrap()).unwrap()
}

fn laid(case: &str, settings: &Settings) -> plumbrail::Outcome {
    let path = std::path::Path::new(env!("CARGO_MANIFEST_DIR")).join(format!("fixtures/{case}/plan.dxf"));
    plumbrail::lay_out(&std::fs::read(path).unwrap(), "plan.dxf", settings).unwrap()
}

/// Every member of every panel, and every handrail, is cut once; no stick holds more than its length.
fn check_cut_once(layout: &Layout, kerf: Length) {
    let mut wanted: BTreeMap<(String, Stocked), Length> = BTreeMap::new();
    for p in &layout.panels {
        for cut in &p.panel.cuts {
            wanted.insert((p.panel.id.clone(), cut.member.into()), cut.tip_to_tip);
        }
    }
    wanted.extend(layout.handrails.iter().map(|h| ((h.id.clone(), Stocked::Handrail), h.total())));
    for stick in &layout.cut_plan.sticks {
        let mut reached = Length::ZERO;
        for (i, piece) in stick.pieces.iter().enumerate() {
            assert_eq!(
                wanted.remove(&(piece.of.clone(), stick.member)),
                Some(piece.length),
                "{} twice or none",
                piece.of
            );
            assert!(piece.at >= reached + if i > 0 { kerf } else { Length::ZERO });
            reached = piece.at + piece.length;
        }
        assert!(reached <= stick.length);
        assert!(stick.offcut <= stick.length - reached);
    }
    assert!(wanted.is_empty(), "not cut: {wanted:?}");
}

#[test]
fn every_piece_of_every_fixture_is_cut_once_at_no_less_than_the_bound() {
    let settings = settings(Job::default(), system(str::to_owned));
    for case in ["lakeside", "l-shape", "corner-135", "curved", "stair-lines", "stair-landing"] {
        let layout = laid(case, &settings).layout;
        check_cut_once(&layout, settings.shop.kerf);
        let (Cost::Price(cost), Cost::Price(bound)) = (layout.cut_plan.cost, layout.cut_plan.lower_bound) else {
            panic!("{case}: no price")
        };
        assert!(bound <= cost);
        // What the order says is what the sticks say.
        let sticks: i64 = layout.cut_plan.sticks.iter().filter_map(|s| s.price).sum();
        assert_eq!(sticks, cost, "{case}");
        let sold = layout.order.iter().filter(|l| matches!(l.item, Item::Kit { .. } | Item::Stock { .. }));
        let ordered: f64 = sold.filter_map(|l| l.price).sum();
        assert!((ordered - cost as f64 / 100.0).abs() < 1e-6, "{case}: {ordered}");
        assert!(layout.order_lower_bound().unwrap() <= layout.order_total().unwrap() + 1e-9);
    }
}

/// Three panels of 43-1/8 in, one of 39 in and one of 36-7/8 in are paired out of sets of 7 ft where that saves one, the two of the stair, 51-11/16
/// in along the slope, out of one of 9 ft.
#[test]
fn two_short_panels_share_a_kit() {
    let layout = laid("lakeside", &settings(Job::default(), system(str::to_owned))).layout;
    let shared: Vec<Vec<&str>> = layout
        .cut_plan
        .sticks
        .iter()
        .filter(|s| s.member == Stocked::Cap && s.pieces.len() > 1)
        .map(|s| s.pieces.iter().map(|p| p.of.as_str()).collect())
        .collect();
    for pair in [["S4", "S6"], ["S5", "S7"], ["S11", "S12"]] {
        assert!(shared.iter().any(|ids| ids.len() == 2 && ids.iter().all(|id| pair.contains(id))), "{shared:?}");
    }
    assert!(layout.cut_plan.is_proven());
}

#[test]
fn packs_hold_need_and_spare() {
    let job =
        catalog::read_job("[shop]\nspare-screws-percent = 10\nspare-percent = { support-block = 50 }\n", "j").unwrap();
    let layout = laid("lakeside", &settings(job, system(str::to_owned))).layout;
    for line in &layout.order {
        assert!(line.packs * line.pack >= line.quantity + line.spare, "{:?}", line.item);
        assert!((line.packs - 1) * line.pack < line.quantity + line.spare, "{:?}", line.item);
    }
    let blocks = layout.order.iter().find(|l| l.item == Item::SupportBlock).unwrap();
    assert_eq!(blocks.spare, blocks.quantity.div_ceil(2));
    let screws = layout.order.iter().find(|l| l.item.text() == "Screw #9 x 2-3/4 in").unwrap();
    assert_eq!(screws.spare, screws.quantity.div_ceil(10));
    // Level and raked cap screws are other screws.
    let raked: usize = layout.panels.iter().filter(|p| p.panel.rake.is_some()).map(|p| p.panel.cap_screws.len()).sum();
    let line = layout.order.iter().find(|l| l.item.text() == "Screw #10 x 2 in").unwrap();
    assert_eq!(line.quantity as usize, raked);
}

#[test]
fn what_lies_in_the_shop_is_used_first() {
    let mut settings = settings(Job::default(), system(str::to_owned));
    let bought = laid("l-shape", &settings).layout.cut_plan;
    let members = [Stocked::BottomRail, Stocked::TopRail, Stocked::Cap];
    settings.on_hand = members.map(|member| OnHand { member, length: Length::INCH * 85, count: 1 }).to_vec();
    let layout = laid("l-shape", &settings).layout;
    check_cut_once(&layout, settings.shop.kerf);
    let lying = layout.cut_plan.sticks.iter().filter(|s| s.source == Source::OnHand).count();
    assert_eq!(lying, 3);
    assert!(layout.cut_plan.cost < bought.cost);
}

/// A system that is sold by the length only: members are cut each for itself.
#[test]
fn members_are_cut_from_stock_lengths() {
    let by_length = |text: &str| {
        let start = text.find("# What is sold").unwrap();
        let packs = text.find("[[pack]]").unwrap();
        let mut out = format!("{}{}", &text[..start], &text[packs..]);
        for member in ["bottom-rail", "top-rail", "cap", "handrail"] {
            for (feet, price) in [(8, 30.0), (12, 43.0), (16, 56.0)] {
                out.push_str(&format!(
                    "[[stock]]\nname = \"{member} {feet} ft\"\nmember = \"{member}\"\nlength = \"{}in\"\nprice = {price}\n",
                    feet * 12
                ));
            }
        }
        out
    };
    for nest in [false, true] {
        let job = catalog::read_job(&format!("[shop]\nnest = {nest}\n"), "j").unwrap();
        let settings = settings(job, system(by_length));
        let layout = laid("stair-lines", &settings).layout;
        if !nest {
            check_cut_once(&layout, settings.shop.kerf);
        }
        assert!(layout.cut_plan.sticks.iter().all(|s| s.source == Source::Stock));
        assert!(layout.cut_plan.lower_bound <= layout.cut_plan.cost);
        // Balusters are not in a box then: all are bought.
        let needed: usize = layout.panels.iter().map(|p| p.panel.balusters.marks.len()).sum();
        let bought: u32 = layout
            .order
            .iter()
            .filter(|l| matches!(l.item, Item::Baluster { .. } | Item::BalusterRaked { .. }))
            .map(|l| l.quantity)
            .sum();
        assert_eq!(bought as usize, needed);
    }
}

#[test]
fn a_finish_is_one_of_the_systems() {
    let job = |finish: &str| Job { finish: Some(finish.to_owned()), ..Job::default() };
    let layout = laid("l-shape", &settings(job("black"), system(str::to_owned))).layout;
    assert!(layout.order.iter().any(|l| l.finish.as_deref() == Some("black")));
    assert!(layout.order.iter().filter(|l| matches!(l.item, Item::Screw { .. })).all(|l| l.finish.is_none()));
    let rules = catalog::rules_named("irc-2021").unwrap();
    let error = Settings::new(job("gold"), system(str::to_owned), rules).unwrap_err();
    assert!(error.to_string().contains("no finish `gold`"));
}

/// Bays by cost over the whole job never cost more than equal bays, and say by how much less.
#[test]
fn bays_by_cost_cost_no_more_than_equal_ones() {
    for case in ["lakeside", "l-shape", "z-open", "opening", "touching-boxes"] {
        let of = |policy: &str| {
            let job = catalog::read_job(&format!("bays = \"{policy}\"\n"), "j").unwrap();
            laid(case, &settings(job, system(str::to_owned)))
        };
        let (equal, cost) = (of("equal"), of("cost"));
        let total = |o: &plumbrail::Outcome| o.layout.order_total().unwrap();
        assert!(total(&cost) <= total(&equal) + 1e-9, "{case}: {} {}", total(&cost), total(&equal));
        let told = cost.findings.iter().find(|f| f.code == plumbrail::base::Code::BaysChosen).unwrap();
        assert!(told.message.contains("less than with the fewest equal bays"), "{}", told.message);
        assert!(cost.proof.holds(), "{case}");
        // No bay of a stretch is shorter than half of its longest: those of one run between corners.
        check_cut_once(&cost.layout, Length::INCH.fraction(1, 8));
    }
}

/// Kits for level panels alone leave a stair's members without stock: that is an error of its own, not a handrail's.
#[test]
fn a_member_that_nothing_serves_is_an_error() {
    let level_only = |text: &str| text.replace("serves = \"raked\"", "serves = \"level\"");
    let outcome = laid("stair-lines", &settings(Job::default(), system(level_only)));
    let short = outcome.findings.iter().filter(|f| f.code == plumbrail::base::Code::StockTooShort);
    let told: Vec<&str> = short.map(|f| f.message.as_str()).collect();
    for member in ["bottom-rail", "top-rail", "cap"] {
        assert!(told.iter().any(|m| m.ends_with(&format!("to cut a {member} from"))), "{told:?}");
    }
    assert!(!outcome.proof.holds());
}
