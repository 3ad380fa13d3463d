//! The permit set: the drawings and tables of a layout on numbered sheets of paper with frame and title strip.

mod details;
mod draft;
mod flow;
mod frame;
mod key;
mod panels;
mod plan;
mod schedules;

use crate::base::{Finding, headline};
use crate::parts::Layout;
use crate::proof::Proof;

use super::{Page, Set};
use draft::Draft;

/// All sheets in their order: plan, panel elevations, sections and stairs, schedules, limits with notes.
pub fn permit_set(layout: &Layout, set: &Set, findings: &[Finding], proof: &Proof) -> Vec<Page> {
    let mut drafts =
        plan::sheets(layout, set, findings, &headline(findings, proof.unchecked(), Some(&layout.plan.frame)));
    drafts.extend(panels::sheets(layout, set));
    drafts.extend(panels::sections(layout, set));
    drafts.extend(schedules::sheets(layout, findings, proof));
    let count = drafts.len();
    (1..).zip(drafts).map(|(number, draft)| frame::finish(layout, draft, number, count)).collect()
}
