//! Cut plan and order in `layout.json`, both ways.

use std::collections::BTreeMap;
use std::convert::Infallible;

use schemars::JsonSchema;
use serde::{Deserialize, Serialize};

use crate::base::Length;
use crate::catalog::{OnHand, Part, ShopSettings, Stocked};

use super::convert::{Pen, Reader, RecordError, rounded};
use super::cut_plan::{CutPlan, Source, Stick, StickPiece};
use super::cutting::Cost;
use super::item::Item;
use super::types::OrderLine;

/// How the shop cuts and keeps.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct ShopRecord {
    /// What the saw takes, square to its cut.
    pub kerf: f64,
    /// Cut off each end of a stick before it is used.
    pub trim: f64,
    /// The shortest rest that is kept.
    pub least_offcut: f64,
    /// Whether two neighbouring pieces may share one angled saw cut.
    pub nest: bool,
    /// What is bought beyond the need, in percent by part.
    #[serde(skip_serializing_if = "BTreeMap::is_empty", default)]
    pub spare_percent: BTreeMap<Part, u32>,
    /// The same for screws.
    #[serde(skip_serializing_if = "is_zero", default)]
    pub spare_screws_percent: u32,
}

/// Equal pieces that lay in the shop.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct OnHandRecord {
    /// What they are.
    pub member: Stocked,
    /// Length of each.
    pub length: f64,
    /// How many.
    pub count: u32,
}

/// A stick and what is cut from it.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct StickRecord {
    /// As ordered.
    pub stock: String,
    /// Where it comes from.
    pub source: SourceRecord,
    /// Number of its kit in this job; all sticks of a kit have the same.
    #[serde(skip_serializing_if = "Option::is_none", default)]
    pub kit: Option<u32>,
    /// What it is.
    pub member: Stocked,
    /// Its length.
    pub length: f64,
    /// Price of the stick; a kit's stands on its first stick.
    pub price: Option<f64>,
    /// Pieces in sawing order.
    pub pieces: Vec<PieceRecord>,
    /// What is left behind the last cut.
    pub offcut: f64,
    /// Whether the rest is worth keeping.
    pub kept: bool,
}

/// Where a stick comes from.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize, JsonSchema)]
#[serde(rename_all = "kebab-case")]
pub enum SourceRecord {
    /// Out of a kit.
    Kit,
    /// Bought by the length.
    Stock,
    /// From the shop.
    OnHand,
}

/// A piece in its stick.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct PieceRecord {
    /// Panel, or handrail.
    pub panel: String,
    /// What it is.
    pub member: Stocked,
    /// From tip to tip.
    pub length: f64,
    /// Its left tip, from the stick's left end.
    pub at: f64,
}

/// What the cut plan costs, and how good it is.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct CuttingRecord {
    /// What `cost` counts: money, or, where something has no price, the length of what is bought.
    pub basis: BasisRecord,
    /// What is bought to be cut.
    pub cost: f64,
    /// No plan for these panels costs less.
    pub lower_bound: f64,
    /// Whether `cost` is known to be the least.
    pub proven: bool,
    /// Length of all sticks.
    pub used: f64,
    /// What is neither piece nor kept rest.
    pub waste: f64,
    /// The same in percent of `used`.
    pub waste_percent: f64,
}

/// What a cost counts.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize, JsonSchema)]
#[serde(rename_all = "kebab-case")]
pub enum BasisRecord {
    /// Money, in the job's currency.
    Price,
    /// Length, in `units`.
    Length,
}

/// A line of the order.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct OrderRecord {
    /// What it is, as lists name it.
    pub item: String,
    /// The same as data; lengths are numbers in `units`.
    pub what: Item<f64>,
    /// Finish, for what comes in several.
    #[serde(skip_serializing_if = "Option::is_none", default)]
    pub finish: Option<String>,
    /// How many the job needs.
    pub quantity: u32,
    /// How many are bought beyond that on purpose.
    #[serde(skip_serializing_if = "is_zero", default)]
    pub spare: u32,
    /// How many a pack holds.
    pub pack: u32,
    /// Name of the pack as ordered, where it differs from `item`.
    #[serde(skip_serializing_if = "Option::is_none", default)]
    pub pack_name: Option<String>,
    /// Packs to buy.
    pub packs: u32,
    /// What the packs hold beyond need and spare.
    #[serde(skip_serializing_if = "is_zero", default)]
    pub left_over: u32,
    /// Price of all of it.
    pub price: Option<f64>,
    /// Weight of all of it, kilograms.
    #[serde(skip_serializing_if = "Option::is_none", default)]
    pub weight_kg: Option<f64>,
}

#[allow(clippy::trivially_copy_pass_by_ref, reason = "serde asks for a reference")]
const fn is_zero(number: &u32) -> bool {
    *number == 0
}

impl Pen {
    pub(super) fn shop(&self, shop: &ShopSettings) -> ShopRecord {
        let ShopSettings { kerf, trim, least_offcut, nest, spare_percent, spare_screws_percent } = shop;
        ShopRecord {
            kerf: self.length(*kerf),
            trim: self.length(*trim),
            least_offcut: self.length(*least_offcut),
            nest: *nest,
            spare_percent: spare_percent.clone(),
            spare_screws_percent: *spare_screws_percent,
        }
    }

    pub(super) fn on_hand(&self, OnHand { member, length, count }: &OnHand) -> OnHandRecord {
        OnHandRecord { member: *member, length: self.length(*length), count: *count }
    }

    pub(super) fn order(&self, line: &OrderLine) -> OrderRecord {
        let Ok(what) = line.item.with(|length| Ok::<f64, Infallible>(self.length(*length)));
        OrderRecord {
            item: line.item.text(),
            what,
            finish: line.finish.clone(),
            quantity: line.quantity,
            spare: line.spare,
            pack: line.pack,
            pack_name: line.pack_name.clone(),
            packs: line.packs,
            left_over: line.left_over(),
            price: line.price,
            weight_kg: line.weight_kg,
        }
    }

    pub(super) fn stick(&self, stick: &Stick) -> StickRecord {
        let piece = |p: &StickPiece| PieceRecord {
            panel: p.of.clone(),
            member: stick.member,
            length: self.length(p.length),
            at: self.length(p.at),
        };
        let (source, kit) = match stick.source {
            Source::Kit(number) => (SourceRecord::Kit, Some(number)),
            Source::Stock => (SourceRecord::Stock, None),
            Source::OnHand => (SourceRecord::OnHand, None),
        };
        StickRecord {
            stock: stick.stock.clone(),
            source,
            kit,
            member: stick.member,
            length: self.length(stick.length),
            price: stick.price.map(|p| p as f64 / 100.0),
            pieces: stick.pieces.iter().map(piece).collect(),
            offcut: self.length(stick.offcut),
            kept: stick.kept,
        }
    }

    /// What the cut plan costs; nothing where nothing is cut.
    pub(super) fn cutting(&self, plan: &CutPlan) -> Option<CuttingRecord> {
        let number = |cost: Cost| match cost {
            Cost::Price(hundredths) => hundredths as f64 / 100.0,
            Cost::Length(length) => self.length(length),
        };
        (!plan.sticks.is_empty()).then(|| CuttingRecord {
            basis: match plan.cost {
                Cost::Price(_) => BasisRecord::Price,
                Cost::Length(_) => BasisRecord::Length,
            },
            cost: number(plan.cost),
            lower_bound: number(plan.lower_bound),
            proven: plan.is_proven(),
            used: self.length(plan.used),
            waste: self.length(plan.waste),
            waste_percent: rounded((plan.waste_percent() * 100.0).round() / 100.0),
        })
    }
}

impl Reader<'_> {
    pub(super) fn shop(&self, shop: &ShopRecord) -> Result<ShopSettings, RecordError> {
        let length = |what: &str, number| -> Result<Length, RecordError> { self.size(what, number) };
        Ok(ShopSettings {
            kerf: length("shop.kerf", shop.kerf)?,
            trim: length("shop.trim", shop.trim)?,
            least_offcut: length("shop.least_offcut", shop.least_offcut)?,
            nest: shop.nest,
            spare_percent: shop.spare_percent.clone(),
            spare_screws_percent: shop.spare_screws_percent,
        })
    }

    pub(super) fn on_hand(&self, on_hand: &OnHandRecord) -> Result<OnHand, RecordError> {
        let length = self.size("on_hand", on_hand.length)?;
        Ok(OnHand { member: on_hand.member, length, count: on_hand.count })
    }

    pub(super) fn order(&self, line: &OrderRecord) -> Result<OrderLine, RecordError> {
        Ok(OrderLine {
            item: line.what.with(|number| self.length(&line.item, *number))?,
            finish: line.finish.clone(),
            quantity: line.quantity,
            spare: line.spare,
            pack: line.pack,
            pack_name: line.pack_name.clone(),
            packs: line.packs,
            price: line.price,
            weight_kg: line.weight_kg,
        })
    }

    fn stick(&self, s: &StickRecord) -> Result<Stick, RecordError> {
        let piece = |p: &PieceRecord| -> Result<StickPiece, RecordError> {
            Ok(StickPiece {
                of: p.panel.clone(),
                at: self.length(&s.stock, p.at)?,
                length: self.length(&s.stock, p.length)?,
            })
        };
        Ok(Stick {
            stock: s.stock.clone(),
            source: match (s.source, s.kit) {
                (SourceRecord::Kit, Some(number)) => Source::Kit(number),
                (SourceRecord::Kit, None) => {
                    return Err(RecordError::new(format!("a stick of {} is out of a kit without a number", s.stock)));
                }
                (SourceRecord::Stock, _) => Source::Stock,
                (SourceRecord::OnHand, _) => Source::OnHand,
            },
            member: s.member,
            length: self.length(&s.stock, s.length)?,
            price: s.price.map(|p| (p * 100.0).round() as i64),
            pieces: s.pieces.iter().map(piece).collect::<Result<_, _>>()?,
            offcut: self.length(&s.stock, s.offcut)?,
            kept: s.kept,
        })
    }

    pub(super) fn cut_plan(&self) -> Result<CutPlan, RecordError> {
        let Some(found) = &self.record.cutting else { return Ok(CutPlan::empty()) };
        let cost = |number: f64| -> Result<Cost, RecordError> {
            Ok(match found.basis {
                BasisRecord::Price => Cost::Price((number * 100.0).round() as i64),
                BasisRecord::Length => Cost::Length(self.length("cutting", number)?),
            })
        };
        let length = |number: f64| -> Result<Length, RecordError> { self.length("cutting", number) };
        Ok(CutPlan {
            sticks: self.record.cut_plan.iter().map(|s| self.stick(s)).collect::<Result<_, _>>()?,
            cost: cost(found.cost)?,
            lower_bound: cost(found.lower_bound)?,
            used: length(found.used)?,
            waste: length(found.waste)?,
        })
    }
}
