//! The cutting planner against a solver that is not ours: random jobs of 20 to 40 parts, planned by both.

use plumbrail::base::{Angle, Length};
use plumbrail::parts::cutting::{self, Piece, Plan, Shop, Stock};
use serde_json::{Value, json};

use crate::interop::{scratch, script};

const JOBS: u64 = 50;
const SIXTEENTH: Length = Length::from_nanometres(1_587_500);

/// Numbers that look random and are the same at each run (Knuth's MMIX generator).
struct Dice(u64);

impl Dice {
    fn from(&mut self, low: i64, high: i64) -> i64 {
        self.0 = self.0.wrapping_mul(6_364_136_223_846_793_005).wrapping_add(1_442_695_040_888_963_407);
        low + (self.0 >> 33) as i64 % (high - low + 1)
    }
}

/// 20 to 40 parts of 6 to 13 sizes, from three or four stocks and at times from what lies in the shop; every third job with
/// slanted parts that may share tips.
fn job(seed: u64) -> (Vec<Piece>, Vec<Stock>, Shop) {
    let mut dice = Dice(seed.wrapping_mul(7_919));
    dice.from(0, 1);
    let slanted = seed.is_multiple_of(3);
    let lean = Angle::from_degrees(37.3);
    let sizes: Vec<Piece> = (0..dice.from(6, 13))
        .map(|_| {
            let square = Piece::square(SIXTEENTH * dice.from(19 * 16, 66 * 16));
            match dice.from(0, 3) {
                0 if slanted => Piece { width: Length::INCH * 2, left: lean, right: -lean, ..square },
                1 if slanted => Piece { width: Length::INCH * 2, left: -lean, right: lean, ..square },
                2 if slanted => Piece { width: Length::INCH * 2, left: lean, right: lean, ..square },
                _ => square,
            }
        })
        .collect();
    let count = dice.from(20, 40);
    let pieces = (0..count).map(|_| sizes[dice.from(0, sizes.len() as i64 - 1) as usize]).collect();
    let mut stocks: Vec<Stock> = [72, 96, 120]
        .map(|inches| Stock {
            name: format!("{inches} in"),
            length: Length::INCH * inches,
            price: (!seed.is_multiple_of(5)).then(|| inches * 20 + 25 * dice.from(-4, 4)),
            on_hand: None,
        })
        .into();
    for _ in 0..dice.from(0, 2) {
        let length = Length::INCH * dice.from(30, 110);
        stocks.push(Stock {
            name: "offcut".to_owned(),
            length,
            price: None,
            on_hand: Some(u32::try_from(dice.from(1, 3)).unwrap()),
        });
    }
    let shop = Shop {
        kerf: SIXTEENTH * dice.from(0, 3),
        end_trim: SIXTEENTH * (dice.from(0, 2) * 4),
        least_offcut: Length::INCH * 12,
        nest: slanted,
    };
    (pieces, stocks, shop)
}

fn told(pieces: &[Piece], stocks: &[Stock], shop: &Shop, plan: &Plan) -> Value {
    json!({
        "kerf": shop.kerf.nanometres(),
        "trim": shop.end_trim.nanometres(),
        "nest": shop.nest,
        "stocks": stocks.iter().map(|s| json!({
            "length": s.length.nanometres(), "price": s.price, "on_hand": s.on_hand,
        })).collect::<Vec<_>>(),
        "pieces": pieces.iter().map(|p| json!({
            "length": p.length.nanometres(), "width": p.width.nanometres(),
            "left": p.left.degrees(), "right": p.right.degrees(),
        })).collect::<Vec<_>>(),
        "cost": plan.cost.number(),
        "lower_bound": plan.lower_bound.number(),
        "unplaced": plan.unplaced,
        "sticks": plan.sticks.iter().map(|s| json!({
            "stock": s.stock,
            "offcut": s.offcut.nanometres(),
            "pieces": s.pieces.iter().map(|p| json!({
                "piece": p.piece, "at": p.at.nanometres(),
            })).collect::<Vec<_>>(),
        })).collect::<Vec<_>>(),
    })
}

#[test]
fn plans_of_random_jobs_cost_what_scipy_finds_the_least() {
    let mut jobs = Vec::new();
    for seed in 0..JOBS {
        let (pieces, stocks, shop) = job(seed);
        let plan = cutting::plan(&pieces, &stocks, &shop).unwrap();
        assert!(plan.proven, "{seed}: {:?} to {:?}", plan.lower_bound, plan.cost);
        jobs.push(told(&pieces, &stocks, &shop, &plan));
    }
    let file = scratch("cutting").join("jobs.json");
    std::fs::write(&file, serde_json::to_vec(&jobs).unwrap()).unwrap();
    let last = script("cutting.py", &[&file]);
    assert!(last.contains("50 jobs"), "{last}");
}
