//! DXF bytes -> own entities.
//!
//! Takes the bytes of an ASCII or binary DXF drawing (R12 to 2018), those of the external references that it asks for, and
//! the layers that matter; gives typed entities in local millimetres, blocks and references resolved, each with its handle
//! and line; refuses what is no drawing, and drops single damaged records with a finding.

mod affine;
mod curve;
#[cfg(feature = "dwg")]
mod dwg;
mod entity;
mod external;
mod hidden;
mod index;
mod lines;
mod load;
mod marks_as_text;
mod ours;
mod read;
mod reduce;
mod report;
mod resolve;
pub mod scan;
mod select;
mod shape;
mod sniff;
pub mod tag;
mod text;
mod typed;
mod units;

pub use curve::SAMPLING_MM;
#[cfg(feature = "dwg")]
pub use dwg::dwg_to_dxf;
pub use entity::{Drawing, Entity, Insert, LayerInfo, LayerState, Origin, Shape, Unread, Version, Vertex};
pub use external::{External, Externals, Reference, no_externals};
pub use marks_as_text::{MARKS_BLOCK, MarksAsText, is_marks_name, texts as mark_texts, unit_text};
pub use ours::{Fact, Ours, is_post_name, is_tag_name, unit_of_post};
pub use read::{ReadOptions, read};
pub use sniff::{check as is_drawing, is_dwg};
pub use text::{decode, folded, own_name};
