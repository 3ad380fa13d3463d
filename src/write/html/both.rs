//! A text in the shop's unit, and in the other one where it differs.

use serde::Serialize;

/// Both texts.
#[derive(Debug, Clone, PartialEq, Eq, Serialize)]
pub(super) struct Both {
    /// In the shop's unit.
    pub own: String,
    /// In the other unit, where that makes a difference.
    pub alt: Option<String>,
}

impl Both {
    pub(super) fn new(own: String, alt: String) -> Self {
        let alt = (alt != own).then_some(alt);
        Self { own, alt }
    }
}
