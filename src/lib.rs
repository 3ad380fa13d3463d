//! Deck plans in, guard-rail layouts out.

pub mod base;
pub mod cad;
pub mod catalog;
pub mod guard;
pub mod panel;
pub mod parts;
pub mod sheet;
pub mod write;
