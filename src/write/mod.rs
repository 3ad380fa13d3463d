//! Finished drawings and results -> bytes.
//!
//! Takes drawings whose positions and texts are final; gives the bytes of files, the same bytes for the same input;
//! refuses nothing, since whatever could fail was found by earlier stages.

pub mod csv;
pub mod dxf;
pub mod json;
pub mod svg;
