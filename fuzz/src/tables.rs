//! Site measurements and stock on hand, as CSV.

use plumbrail::base::{Length, Unit};
use plumbrail::catalog;

/// A table is refused with a reason, or all its lengths are more than nothing.
pub fn check(bytes: &[u8]) {
    let Ok(text) = std::str::from_utf8(bytes) else { return };
    for unit in [None, Some(Unit::Inch), Some(Unit::Millimetre)] {
        match catalog::read_measured(text, "measure.csv", unit) {
            Ok(all) => {
                assert!(all.iter().all(|(id, m)| { !id.is_empty() && m.narrow > Length::ZERO && m.narrow <= m.wide }));
            }
            Err(e) => assert!(e.message.starts_with("measure.csv")),
        }
        match catalog::read_on_hand(text, "stock.csv", unit) {
            Ok(all) => assert!(all.iter().all(|piece| piece.length > Length::ZERO)),
            Err(e) => assert!(e.message.starts_with("stock.csv")),
        }
    }
}
