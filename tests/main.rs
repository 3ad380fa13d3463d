//! All checks of the whole: each module below is one kind, each function or fixture one case.

// A check that fails by unwrap fails as well as one that asserts.
#![allow(clippy::unwrap_used, clippy::expect_used, clippy::panic, clippy::indexing_slicing)]

mod corpus;
mod graft;
mod interop;
mod rail_file;
mod schema;
mod tidy;
