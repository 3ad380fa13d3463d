//! Deck plans in, guard-rail layouts out: the public door, one line a stage.
//!
//! The way of the data is the order of the modules: `base` words everyone uses, `cad` DXF bytes to entities, `catalog`
//! rail systems, rule sets and job settings, `deck` entities to a strict plan, `guard` posts and spans, `panel` panels,
//! `parts` cut list and order, `proof` an independent re-check, `sheet` finished drawings, `write` bytes. Nothing here
//! touches files, the clock, the environment or the terminal: the same input gives the same bytes.

#![forbid(unsafe_code)]

pub mod base;
pub mod cad;
pub mod catalog;
pub mod deck;
pub mod guard;
pub mod panel;
pub mod parts;
pub mod proof;
pub mod sheet;
pub mod write;
