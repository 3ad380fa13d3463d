//! Spans -> panels, with every hole, block, bracket and cut on the mark grid.
//!
//! Takes the clear opening with its skews and the rail system; gives the finished panel in running marks; refuses
//! nothing: an opening that no panel of the system fills is a finding.

mod types;

pub use types::{Balusters, BracketAt, Cut, Opening, Panel};
