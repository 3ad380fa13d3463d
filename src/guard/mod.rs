//! Plan -> rail lines, posts and clear spans.
//!
//! Takes the strict Plan and the settings; gives posts with balanced rotation and the span of every panel, exact to the
//! nanometre; refuses nothing: what cannot be built is a finding at its place.

mod types;

pub use types::{Guard, Post, PostKind, PostOrigin, Run, Span, Support};
