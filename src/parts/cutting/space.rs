//! What a piece takes from a stick.
//!
//! A square piece takes its length and one kerf, and a stick of length S gives S + kerf, as the last piece needs no cut
//! behind it: floor((S + kerf) / (length + kerf)) pieces. Pieces with slanted ends take their length from tip to tip; the
//! stick is parted square between the tips, then the ends are sawn.
//!
//! With nesting, parallelograms of one lean, angle and width stand edge to edge: one slanted cut makes both ends. It takes
//! kerf / cos(angle) along the rail, and each piece its length less one tip, where tip = width · tan(angle). Such a row of
//! pieces takes one tip more as a whole. Towards other pieces in the stick it is parted square, tip to tip. No piece is
//! turned over, so rows of opposite lean stay apart; all other shapes go from tip to tip.

use std::collections::BTreeMap;

use super::types::{Piece, Shop};
use crate::base::Length;

/// Beyond this no saw goes (common practice: 60 degrees), and tangents lose their meaning near 90.
const STEEPEST_DEGREES: f64 = 80.0;
/// Angles that differ by less are one setting of the saw: a millionth of a degree moves a tip by nanometres.
const PER_DEGREE: f64 = 1e6;

/// Pieces that can stand edge to edge.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) struct Row {
    /// How far a slanted end reaches along the rail; 0 for square rows.
    pub tip: Length,
    /// What a cut between two pieces takes along the rail.
    pub gap: Length,
    /// What the row takes beside its pieces and a gap behind each.
    pub setup: Length,
}

/// What one piece takes.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) struct Need {
    /// Index into [`Space::rows`].
    pub row: usize,
    /// Along its stick, the gap behind it included.
    pub weight: Length,
}

/// The needs of all pieces.
#[derive(Debug, Clone, PartialEq, Eq)]
pub(super) struct Space {
    /// Rows; the first one is that of square cuts and of everything from tip to tip.
    pub rows: Vec<Row>,
    /// By piece.
    pub needs: Vec<Need>,
}

impl Space {
    /// What each piece takes in this shop.
    pub fn of(pieces: &[Piece], shop: &Shop) -> Self {
        let mut rows = vec![Row { tip: Length::ZERO, gap: shop.kerf, setup: Length::ZERO }];
        let mut known: BTreeMap<(i64, Length), usize> = BTreeMap::new();
        let mut needs = Vec::with_capacity(pieces.len());
        for piece in pieces {
            let need = match slant(piece).filter(|_| shop.nest) {
                None => Need { row: 0, weight: piece.length + shop.kerf },
                Some((angle, tip)) => {
                    let row = *known.entry((angle, tip)).or_insert_with(|| {
                        rows.push(slanted(piece, tip, shop));
                        rows.len() - 1
                    });
                    let gap = rows.get(row).map_or(shop.kerf, |r| r.gap);
                    Need { row, weight: piece.length - tip + gap }
                }
            };
            needs.push(need);
        }
        Self { rows, needs }
    }

    /// The row of a need.
    pub fn row(&self, need: &Need) -> Row {
        self.rows.get(need.row).copied().unwrap_or(Row { tip: Length::ZERO, gap: Length::ZERO, setup: Length::ZERO })
    }
}

fn slanted(piece: &Piece, tip: Length, shop: &Shop) -> Row {
    // Rounded up, so that the saw never takes more than was left for it.
    let gap = Length::from_nanometres((shop.kerf.nanometres() as f64 / piece.left.cos()).ceil() as i64);
    Row { tip, gap, setup: (tip - gap + shop.kerf).max(Length::ZERO) }
}

/// Angle in millionths of a degree and tip of a parallelogram; `None` for all other shapes.
fn slant(piece: &Piece) -> Option<(i64, Length)> {
    let parallel = (piece.left.degrees() + piece.right.degrees()).abs() * PER_DEGREE < 1.0;
    let angle = (piece.left.degrees() * PER_DEGREE).round() as i64;
    let tip = piece.width.scaled(piece.left.abs().tan());
    (parallel
        && angle != 0
        && piece.left.abs().degrees() <= STEEPEST_DEGREES
        && tip > Length::ZERO
        && tip < piece.length)
        .then_some((angle, tip))
}
