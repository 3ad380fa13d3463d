//! Finished drawings and results -> bytes.
//!
//! Takes drawings whose positions and texts are final; gives the bytes of files, the same bytes for the same input;
//! refuses nothing, since whatever could fail was found by earlier stages. [`lint`] checks DXF bytes, ours or the
//! user's, more strictly than the usual readers do.

pub mod batch;
pub mod csv;
pub mod dxf;
pub mod graft;
pub mod html;
pub mod json;
pub mod lint;
pub mod message;
mod paper;
pub mod pdf;
#[cfg(feature = "png")]
pub mod png;
#[cfg(test)]
mod sample_page;
mod shop;
pub mod svg;
pub mod xlsx;
