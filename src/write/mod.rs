//! Finished drawings -> bytes.
//!
//! Takes drawings in which everything is decided; gives the text of files; refuses nothing.

pub mod svg;
