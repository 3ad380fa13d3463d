//! An earlier layout that is in the drawing already: what the plan goes by of it, and what of it is taken out.

use crate::base::Finding;
use crate::cad::{Drawing, Origin};
use crate::catalog::{OwnLayers, Settings};

use super::earlier::Earlier;
use super::edits::{Edits, Stands, edits};
use super::model::DrawnPost;
use super::roles::Roles;
use super::unmarked::unmarked;

/// What the plan is to go by of a layout that is in the drawing already.
#[derive(Debug, Clone, Copy)]
pub enum Before<'a> {
    /// Its marks.
    Marks,
    /// Its marks are lost.
    Lost(&'a LostLayout),
    /// Nothing, as if it were not there.
    Ignored,
}

/// What an earlier layout was, when its marks are lost.
#[derive(Debug, Clone, PartialEq)]
pub struct LostLayout {
    /// What it was.
    pub earlier: Earlier,
    /// Where that is known from, for messages.
    pub source: String,
    /// Whether the user has confirmed that it is to be replaced.
    pub confirmed: bool,
}

/// What is taken out of the drawing of an earlier layout whose marks are lost.
#[derive(Debug, Clone, PartialEq)]
pub struct Lost {
    /// Layers on which all goes that is of our kinds.
    pub layers: OwnLayers,
    /// What goes on other layers.
    pub take: Vec<Origin>,
    /// What stays on ours, as it is the user's.
    pub guests: Vec<Origin>,
    /// Whether the user has confirmed it.
    pub confirmed: bool,
}

/// The user's edits of an earlier layout, what is left of one whose marks are lost, and the posts that were moved or copied.
pub fn edited(
    drawing: &Drawing,
    roles: &Roles,
    before: Before<'_>,
    settings: &Settings,
    findings: &mut Vec<Finding>,
) -> (Edits, Option<Lost>, Vec<DrawnPost>) {
    let known = match before {
        Before::Ignored => return (Edits::none(), None, Vec::new()),
        Before::Lost(known) => known,
        Before::Marks => {
            let (edits, kept) = edits(Earlier::of_marks(&drawing.ours), &Stands::marked(drawing), findings);
            return (edits, None, kept);
        }
    };
    let Some(left) = unmarked(drawing, roles, settings.join) else { return (Edits::none(), None, Vec::new()) };
    let (stands, earlier) = left.stands(&known.earlier);
    findings.extend(left.told(&stands, &earlier, known));
    let (edits, kept) = edits(earlier, &stands, findings);
    let lost = Lost { layers: roles.own().clone(), take: left.take, guests: left.guests, confirmed: known.confirmed };
    (edits, Some(lost), kept)
}
