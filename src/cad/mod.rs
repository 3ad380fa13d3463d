//! DXF bytes -> own entities.
//!
//! Takes the bytes of an ASCII or binary DXF drawing (R12 to 2018) and the layers that matter; gives typed entities in
//! local millimetres, blocks resolved, each with its handle and line; refuses what is no drawing, and drops single
//! damaged records with a finding.

mod affine;
mod curve;
mod entity;
mod index;
mod read;
mod reduce;
mod report;
mod resolve;
pub mod scan;
mod select;
mod sniff;
pub mod tag;
mod text;
mod typed;
mod units;

pub use curve::SAMPLING_MM;
pub use entity::{Drawing, Entity, Insert, LayerInfo, LayerState, Origin, Shape, Version, Vertex};
pub use read::{ReadOptions, read};
pub use text::{decode, folded};
