//! Panels -> kits, cut list and order; and the finished [`Layout`].
//!
//! Takes posts, spans and panels; gives what must be bought and cut and the one record of everything decided; refuses
//! panels longer than any stock with a finding.

mod types;

pub use types::{Layout, LayoutPanel, OrderLine, PlanFacts};
