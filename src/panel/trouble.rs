//! What is said when a panel cannot be built as wanted.

use super::Opening;
use super::balusters::Wrong;
use super::build::{PanelSpec, Row};
use super::screws::{NotPlaced, Placed};
use crate::base::{Code, Finding, Length, Place};

pub(super) fn place(opening: &Opening) -> Place {
    Place::panel(&opening.id)
}

pub(super) fn fails(opening: &Opening, message: impl Into<String>) -> Box<Finding> {
    Box::new(Finding::incomplete(Code::PanelFails, place(opening), message))
}

pub(super) fn no_division(opening: &Opening, spec: &PanelSpec<'_>, row: &Row<'_>, wrong: Wrong) -> Box<Finding> {
    let width = spec.system.baluster_width();
    let (message, hint) = match wrong {
        Wrong::TooWide => (
            format!("no row of balusters closes every gap to under {} with {} tolerance", row.limit, spec.tolerance),
            "move a post, or take another division of the balusters",
        ),
        Wrong::InBracket => (
            format!("with gaps under {}, the end balusters stand in the brackets", row.limit),
            "move a post by an inch or two, or take another division of the balusters",
        ),
        Wrong::NoRoom => (
            format!("balusters {width} wide and gaps under {} do not fit in {}", row.limit, opening.clear),
            "check the system's baluster width and spacing and the tolerance",
        ),
        Wrong::Pitch => (pitch_too_wide(opening, spec, row), "take a system with a closer pitch"),
    };
    let mut finding = fails(opening, message);
    finding.hint = Some(hint.to_owned());
    finding
}

fn pitch_too_wide(opening: &Opening, spec: &PanelSpec<'_>, row: &Row<'_>) -> String {
    let between = match opening.rake {
        None => (row.spacing - spec.system.baluster_width()).to_string(),
        Some(rake) => (rake.pitch.level(row.spacing) - spec.system.baluster_width()).told(),
    };
    format!(
        "the punched pitch of {} leaves {between} between balusters; under {} less the tolerance of {} is needed",
        row.spacing, row.limit, spec.tolerance
    )
}

pub(super) fn spacing_reduced(opening: &Opening, row: &Row<'_>, spacing: Length, why: &str) -> Finding {
    let message = match opening.rake {
        None => format!("balusters stand {spacing} on centre instead of {}, {why}", row.spacing),
        Some(_) => format!(
            "balusters stand {} on centre along the slope instead of {}, {why}",
            spacing.told(),
            row.spacing.told()
        ),
    };
    Finding::note(Code::SpacingReduced, place(opening), message)
}

pub(super) fn not_placed(opening: &Opening, what: &str, length: Length, why: NotPlaced) -> Box<Finding> {
    let message = match why {
        NotPlaced::OffTable => format!("the system's {what} table ends before rails of {length}"),
        NotPlaced::NoGap => format!("no {what} keeps its distance from the balusters' screws"),
    };
    fails(opening, message)
}

pub(super) fn moved(opening: &Opening, what: &str, placed: &Placed) -> Option<Finding> {
    let moves: Vec<String> = placed.moved.iter().map(|(from, to)| format!("{from} -> {to}")).collect();
    (!moves.is_empty()).then(|| {
        let message = format!("{what} moved off a baluster's screw to mid gap: {}", moves.join(", "));
        Finding::note(Code::MarkMoved, place(opening), message)
    })
}
