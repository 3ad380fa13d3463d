//! An earlier layout that is in the drawing already: what the plan goes by of it, and what of it is taken out.

use crate::base::{Code, Finding, Place, Severity};
use crate::cad::{Drawing, Origin};
use crate::catalog::OwnLayers;

use super::earlier::Earlier;
use super::edits::{Edits, Stands, edits};
use super::model::DrawnPost;
use super::roles::Roles;
use super::unmarked::Unmarked;

/// What the plan is to go by of a layout that is in the drawing already.
#[derive(Debug, Clone, Copy)]
pub enum Before<'a> {
    /// Its marks; what else stands on our layers is the user's.
    Marks(&'a Unmarked),
    /// Its marks are lost.
    Lost(&'a LostLayout),
    /// Nothing, as if it were not there.
    Ignored,
}

/// What an earlier layout was, when its marks are lost, or some of them.
#[derive(Debug, Clone, PartialEq)]
pub struct LostLayout {
    /// What is left of it.
    pub left: Unmarked,
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
    findings: &mut Vec<Finding>,
) -> (Edits, Option<Lost>, Vec<DrawnPost>) {
    let known = match before {
        Before::Ignored => return (Edits::none(), None, Vec::new()),
        Before::Lost(known) => known,
        Before::Marks(left) => {
            findings.extend(strange(drawing, roles));
            if !drawing.ours.is_empty() {
                findings.extend(left.guests_told().map(|guests| Finding { severity: Severity::Note, ..guests }));
            }
            let (edits, kept) = edits(Earlier::of_marks(&drawing.ours), &Stands::marked(drawing), findings);
            return (edits, None, kept);
        }
    };
    let left = &known.left;
    let (stands, earlier) = left.stands(&known.earlier);
    findings.extend(left.told(&stands, &earlier, known));
    let (edits, kept) = edits(earlier, &stands, findings);
    let lost = Lost {
        layers: roles.own().clone(),
        take: left.take.clone(),
        guests: left.guests.clone(),
        confirmed: known.confirmed,
    };
    (edits, Some(lost), kept)
}

/// What stands on layers of our names in a drawing without any rails of ours: it is the user's, and may be meant as a part
/// of the plan.
fn strange(drawing: &Drawing, roles: &Roles) -> Option<Finding> {
    let is_strange = |layer: &str| roles.own().is_ours(layer) && roles.of(layer).is_none() && !layer.contains('|');
    if !drawing.ours.is_empty() {
        return None;
    }
    let mut all =
        drawing.layers.iter().filter(|l| is_strange(&l.name)).flat_map(|l| l.counts.iter().map(move |c| (l, c.1)));
    let (layer, first) = all.next()?;
    let count: usize = first + all.map(|(_, count)| count).sum::<usize>();
    let place = Place { layer: Some(layer.name.clone()), ..Place::none() };
    let message = format!(
        "the layer has the name of one that rails are written to, but no rails of an earlier run are on it; what stands on \
         such layers is not read ({count} in all)"
    );
    let finding = Finding::incomplete(Code::LayerShared, place, message);
    Some(finding.hint("name the layer for what it is, for example with --layer post=NAME, or give it another name"))
}

/// The external reference by which the plan shows our rails already.
pub fn attached(drawing: &Drawing, roles: &Roles) -> Option<String> {
    let shown = drawing.layers.iter().filter(|layer| !layer.counts.is_empty() && roles.own().is_ours(&layer.name));
    let mut names = shown.filter_map(|layer| layer.name.split_once('|')).map(|(reference, _)| reference);
    let first = names.next()?;
    names.any(|name| name == first).then(|| first.to_owned())
}
