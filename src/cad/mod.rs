//! DXF bytes -> own entities.
//!
//! Takes the bytes of an ASCII or binary DXF drawing (R12 to 2018) and the layers that matter; gives typed entities in
//! local millimetres, blocks resolved, each with its handle and line; refuses what is no drawing, and drops single
//! damaged records with a finding.

mod entity;

pub use entity::{Drawing, Entity, Insert, LayerInfo, LayerState, Origin, Shape, Version, Vertex};
