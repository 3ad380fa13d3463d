//! Our records in the user's own drawing, whose bytes stay as they are.
//!
//! [`graft`] puts them between the user's bytes, in the version, form, encoding and line ends of the file. It changes
//! nothing else but the counts of the tables that it adds to and `$HANDSEED`; what these said before is kept in the XDATA
//! of a record of ours, so that [`strip`] gives the user's file back byte by byte, and a second run the same file again.

mod host;
mod insert;
mod journal;
mod lost;
mod names;
mod ours;
mod pieces;
mod symbols;
#[cfg(test)]
mod tests;

use std::collections::{BTreeMap, BTreeSet};

use crate::base::{Code, Finding, Frame, Place, Refusal};
use crate::cad::folded;
use crate::cad::scan::{Index, Needs, index_of};
use crate::deck::Lost;
use crate::sheet::Layer;
use crate::write::dxf::{Handle, Handles, Placed, records};

use host::Host;
use insert::Added;
use symbols::Symbol;

pub use pieces::{Graft, Piece};

/// What is put into the user's drawing.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct GraftOptions {
    /// Elevations and tables, too, not the plan alone.
    pub with_details: bool,
    /// Names for our layers, where the job has its own. A layer of such a name that the drawing has already is used as
    /// it is.
    pub layer_names: BTreeMap<Layer, String>,
    /// What goes of an earlier layout whose marks are lost.
    pub lost: Option<Lost>,
}

/// The user's drawing `bytes` with `drawings` in its model space, of which the first is the plan. What an earlier run has
/// left in it goes.
///
/// # Errors
/// When the drawing is not sound enough to take records, has layers of its own by the names of ours, or rails of an earlier
/// layout whose marks are lost and which nobody has said may go.
pub fn graft(bytes: &[u8], drawings: &[Placed<'_>], frame: &Frame, options: &GraftOptions) -> Result<Graft, Refusal> {
    let shown = if options.with_details { drawings.len() } else { drawings.len().min(1) };
    let drawings = drawings.get(..shown).unwrap_or_default();
    let needed = names::needed(drawings, &options.layer_names);
    let keys: BTreeSet<String> = needed.values().map(|name| folded(name)).collect();
    let lost = options.lost.as_ref();
    if lost.is_some_and(|lost| !lost.confirmed) {
        let message = "the rails of an earlier layout stand in the drawing without marks, and would be there twice";
        let finding = Finding::error(Code::MarksLost, Place::none(), message);
        return Err(Refusal::new(
            finding.hint("run again with --replace-rails, if what is told of the old rails is right"),
        ));
    }
    let is_lost = |layer: &str| lost.is_some_and(|lost| lost.layers.of(layer).is_some());
    let index = scan(bytes, &|layer| keys.contains(&folded(layer)) || is_lost(layer))?;
    let host = Host::new(bytes, &index, lost)?;
    host.check_changed()?;
    let names = names::choose(&host, &needed, options)?;
    let mut handles = Handles::starting_at(host.first_handle());
    let lacking = Symbol::ALL.into_iter().filter(|symbol| host.table(*symbol).is_none());
    let heads: Vec<(Symbol, Handle)> = lacking.map(|symbol| (symbol, handles.take())).collect();
    let head = |symbol| {
        let new = heads.iter().find(|(other, _)| *other == symbol).map(|(_, head)| *head);
        let there = || host.table(symbol).map(|table| Handle(host.handle(table.head)));
        new.or_else(there).unwrap_or_default()
    };
    let ties = host.ties(head, &names);
    let records = records(drawings, &[], frame, &host.target, &ties, &mut handles);
    let seed = host.target.handles.then(|| handles.seed());
    let mut added = Added { records, seed, heads };
    added.add_standard(&host);
    let mut findings = names.findings;
    findings.extend(lost_pointers(&host));
    Ok(Graft { pieces: insert::edits(&host, added).pieces(bytes.len()), findings })
}

/// The drawing without what a run of ours has put into it; what the user's records use of it stays.
///
/// # Errors
/// When the drawing is not sound.
pub fn strip(bytes: &[u8]) -> Result<Graft, Refusal> {
    let index = scan(bytes, &|_| false)?;
    let mut host = Host::new(bytes, &index, None)?;
    host.keep_application();
    let findings = lost_pointers(&host).into_iter().collect();
    Ok(Graft { pieces: insert::edits(&host, Added::default()).pieces(bytes.len()), findings })
}

/// Our records are found, and what stands on layers called like ours; of all else there may be more than fits in memory
/// beside the drawing.
fn scan(bytes: &[u8], wanted: &dyn Fn(&str) -> bool) -> Result<Index, Refusal> {
    index_of(bytes, Needs { wanted, inside: false, host: true })
}

/// Groups and the like that name records of an earlier run.
fn lost_pointers(host: &Host<'_>) -> Option<Finding> {
    let count = host.ours.pointers;
    let message =
        format!("{count} objects of the drawing, such as groups, name rails of the earlier layout, which are gone");
    let finding = || Finding::warning(Code::OldLayoutUsed, Place::none(), message);
    (count > 0).then(|| finding().hint("let the CAD program audit the drawing"))
}
