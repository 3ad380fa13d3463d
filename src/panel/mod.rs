//! Spans -> panels, with every hole, block, bracket and cut on the mark grid.
//!
//! Takes the clear opening with its skews, its slope on a stair, and the rail system; gives the finished panel in running
//! marks; refuses nothing: an opening that no panel of the system fills is a finding.

mod balusters;
mod build;
mod cables;
mod ends;
mod frames;
mod infill;
mod raked;
mod screws;
mod trouble;
mod types;

#[cfg(test)]
mod infill_tests;
#[cfg(test)]
mod property_tests;
#[cfg(test)]
mod raked_property_tests;
#[cfg(test)]
mod raked_tests;
#[cfg(test)]
mod tests;

pub use build::{PanelSpec, build};
pub use infill::{CableRun, FrameRow, PanelInfill};
pub use types::{Balusters, BracketAt, BracketKind, Cut, Opening, Panel};
