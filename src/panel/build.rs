//! One level panel from its opening.

use super::balusters::{Infill, Wrong};
use super::screws::{Fitted, NotPlaced, Placed};
use super::{Balusters, Opening, Panel, ends};
use crate::base::{Code, Finding, Length, Mark, Place, RuleRef, decimal};
use crate::catalog::{BalusterStyle, RailSystem};

/// Steepest joint that brackets and cuts are made for, with a little for the noise of computed angles.
const STEEPEST_DEGREES: f64 = 45.001;

/// Settings a panel needs.
#[derive(Debug, Clone, Copy)]
pub struct PanelSpec<'a> {
    /// Rail system.
    pub system: &'a RailSystem,
    /// Baluster division.
    pub style: BalusterStyle,
    /// Mark grid.
    pub mark: Mark,
    /// Diameter of the sphere that must not pass.
    pub limit: Length,
    /// By how much a finished gap may be wider than its marks say.
    pub tolerance: Length,
    /// Longest clear span.
    pub longest: Length,
}

/// The level panel that fills an opening, and what was found.
///
/// There is no panel where one would be wrong: opening shorter than the system allows, ends skewed over 45 degrees, no
/// division of balusters that holds, rail longer than the block table. Too long an opening is an error with a panel, so
/// that it can be seen.
pub fn build(opening: &Opening, spec: &PanelSpec<'_>) -> (Option<Panel>, Vec<Finding>) {
    let mut findings = Vec::new();
    match assemble(opening, spec, &mut findings) {
        Ok(panel) => (Some(panel), findings),
        Err(finding) => {
            findings.push(*finding);
            (None, findings)
        }
    }
}

fn assemble(opening: &Opening, spec: &PanelSpec<'_>, notes: &mut Vec<Finding>) -> Result<Panel, Box<Finding>> {
    let system = spec.system;
    notes.extend(check_opening(opening, spec)?);
    let baluster_length = system.baluster_length();
    if baluster_length <= Length::ZERO {
        return Err(fails(opening, format!("height {} leaves nothing for the balusters", system.height)));
    }
    let infill = infill(opening, spec)?;
    let length = infill.length;
    let division =
        infill.divide(spec.style, system.baluster.spacing).map_err(|wrong| no_division(opening, spec, wrong))?;
    notes.extend(division.reduced.map(|why| spacing_reduced(opening, spec, division.spacing, why)));

    let fitted = Fitted { length, balusters: &division.marks, width: system.baluster.width, mark: spec.mark };
    let blocks = system.blocks.as_ref().map_or_else(|| Ok(Placed::default()), |b| fitted.blocks(b));
    let blocks = blocks.map_err(|why| not_placed(opening, "support block", length, why))?;
    notes.extend(moved(opening, "support block", &blocks));
    let screws = system.cap_screws.as_ref().map_or_else(|| Ok(Placed::default()), |c| fitted.cap_screws(c));
    let screws = screws.map_err(|why| not_placed(opening, "cap screw", length, why))?;
    notes.extend(moved(opening, "cap screw", &screws));

    let cuts: Vec<_> = system.members.iter().map(|member| ends::cut(member, length, opening)).collect();
    if cuts.iter().any(|cut| cut.short_point <= Length::ZERO) {
        return Err(fails(opening, "its angled cuts meet: nothing is left of the rail's shorter edge"));
    }
    let held = system.members.iter().filter(|m| system.bracket.members.contains(&m.role));
    let brackets = held.flat_map(|m| ends::brackets(m, &system.bracket, length, opening, spec.mark)).collect();

    let gaps = infill.gaps(&division.marks);
    let gap = |found: Option<&Length>| found.copied().unwrap_or(opening.clear);
    Ok(Panel {
        id: opening.id.clone(),
        span: opening.clear,
        length,
        clearance_left: infill.left,
        clearance_right: infill.right,
        cuts,
        balusters: Balusters {
            style: spec.style,
            spacing: division.spacing,
            length: baluster_length,
            end_gap_left: gap(gaps.first()),
            end_gap_right: gap(gaps.last()),
            widest_gap: gap(gaps.iter().max()),
            marks: division.marks,
        },
        block_heights: vec![system.bottom_gap; blocks.marks.len()],
        blocks: blocks.marks,
        cap_screws: screws.marks,
        brackets,
        height: system.height,
        bottom_gap: system.bottom_gap,
        rake: opening.rake,
    })
}

/// Whether any panel may stand in the opening; too long is said, but still built.
fn check_opening(opening: &Opening, spec: &PanelSpec<'_>) -> Result<Option<Finding>, Box<Finding>> {
    let system = spec.system;
    let skews = [opening.skew_left, opening.skew_right].map(|skew| skew.abs().degrees());
    // Written so that an angle that is no number is refused, too.
    if !skews.iter().all(|&skew| skew <= STEEPEST_DEGREES) {
        let steepest = skews.into_iter().fold(0.0, f64::max);
        let message = format!("the rail meets a face at {} degrees; brackets and cuts go to 45", decimal(steepest, 1));
        let hint = "turn the post, or set another one, so that the rail meets its face more squarely";
        return Err(Box::new(Finding::error(Code::SkewTooLarge, place(opening), message).hint(hint)));
    }
    let rule = |section: &str, limit: Length| RuleRef {
        set: system.name.clone(),
        section: section.to_owned(),
        limit,
        actual: opening.clear,
    };
    if opening.clear + Length::NOISE < system.shortest_panel {
        let message = format!(
            "opening of {} is shorter than the shortest panel, {}",
            opening.clear.told(),
            system.shortest_panel
        );
        let finding = Finding::error(Code::SpanTooShort, place(opening), message)
            .hint("move a post so that the opening gets longer, or close it without a panel")
            .rule(rule("shortest-panel", system.shortest_panel));
        return Err(Box::new(finding));
    }
    Ok((opening.clear > spec.longest + Length::NOISE).then(|| {
        let message = format!("opening of {} is longer than the longest panel, {}", opening.clear.told(), spec.longest);
        Finding::error(Code::SpanTooLong, place(opening), message)
            .hint("set a post in between")
            .rule(rule("longest-panel", spec.longest))
    }))
}

/// Rail length and clearances: the rail is cut to the mark below, never longer than the opening less both clearances;
/// what the rounding leaves goes to both ends.
fn infill(opening: &Opening, spec: &PanelSpec<'_>) -> Result<Infill, Box<Finding>> {
    let system = spec.system;
    let length = spec.mark.floor(opening.clear - system.end_clearance * 2 + Length::NOISE);
    let reach = if system.bracket.members.is_empty() { Length::ZERO } else { system.bracket.reach };
    if length <= Length::ZERO || length < reach * 2 {
        return Err(fails(opening, format!("a rail of {length} has no room for the brackets at its ends")));
    }
    let left = (opening.clear - length).half();
    Ok(Infill {
        length,
        left,
        right: opening.clear - length - left,
        reach,
        width: system.baluster.width,
        limit: spec.limit,
        tolerance: spec.tolerance,
        mark: spec.mark,
    })
}

fn place(opening: &Opening) -> Place {
    Place::panel(&opening.id)
}

fn fails(opening: &Opening, message: impl Into<String>) -> Box<Finding> {
    Box::new(Finding::error(Code::PanelFails, place(opening), message))
}

fn no_division(opening: &Opening, spec: &PanelSpec<'_>, wrong: Wrong) -> Box<Finding> {
    let baluster = &spec.system.baluster;
    let (message, hint) = match wrong {
        Wrong::TooWide => (
            format!("no row of balusters closes every gap to under {} with {} tolerance", spec.limit, spec.tolerance),
            "move a post, or take another division of the balusters",
        ),
        Wrong::InBracket => (
            format!("with gaps under {}, the end balusters stand in the brackets", spec.limit),
            "move a post by an inch or two, or take another division of the balusters",
        ),
        Wrong::NoRoom => (
            format!("balusters {} wide and gaps under {} do not fit in {}", baluster.width, spec.limit, opening.clear),
            "check the system's baluster width and spacing and the tolerance",
        ),
        Wrong::Pitch => (
            format!(
                "the punched pitch of {} leaves {} between balusters; under {} less the tolerance of {} is needed",
                baluster.spacing,
                baluster.spacing - baluster.width,
                spec.limit,
                spec.tolerance
            ),
            "take a system with a closer pitch",
        ),
    };
    let mut finding = fails(opening, message);
    finding.hint = Some(hint.to_owned());
    finding
}

fn spacing_reduced(opening: &Opening, spec: &PanelSpec<'_>, spacing: Length, why: &str) -> Finding {
    let message = format!("balusters stand {spacing} on centre instead of {}, {why}", spec.system.baluster.spacing);
    Finding::note(Code::SpacingReduced, place(opening), message)
}

fn not_placed(opening: &Opening, what: &str, length: Length, why: NotPlaced) -> Box<Finding> {
    let message = match why {
        NotPlaced::OffTable => format!("the system's {what} table ends before rails of {length}"),
        NotPlaced::NoGap => format!("no {what} keeps its distance from the balusters' screws"),
    };
    fails(opening, message)
}

fn moved(opening: &Opening, what: &str, placed: &Placed) -> Option<Finding> {
    let moves: Vec<String> = placed.moved.iter().map(|(from, to)| format!("{from} -> {to}")).collect();
    (!moves.is_empty()).then(|| {
        let message = format!("{what} moved off a baluster's screw to mid gap: {}", moves.join(", "));
        Finding::note(Code::MarkMoved, place(opening), message)
    })
}
