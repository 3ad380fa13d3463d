//! One panel from its opening: what holds for level and raked ones alike, and the level one.

use super::balusters::{Division, Infill};
use super::cables::Zone;
use super::ends::{self, Pattern};
use super::screws::{Fitted, Placed};
use super::{Balusters, Cut, Opening, Panel, PanelInfill, cables, frames, raked, trouble};
use crate::base::{Code, Finding, Length, Mark, RuleRef, decimal};
use crate::catalog::{BalusterStyle, InfillSpec, MemberRole, RailSystem};

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
    /// The same between the balusters of a raked panel.
    pub stair_limit: Length,
    /// Diameter of the sphere that must not pass the triangle of riser, tread and lowest rail, where the rules have one.
    pub triangle: Option<Length>,
    /// By how much a finished gap may be wider than its marks say.
    pub tolerance: Length,
    /// Longest clear span.
    pub longest: Length,
}

/// The panel that fills an opening, level or raked, and what was found.
///
/// There is no panel where one would be wrong: opening shorter than the system allows, ends skewed over 45 degrees, no
/// division of balusters that holds, rail longer than the block table, a slope that the system has no panels for. Too long
/// an opening is an error with a panel, so that it can be seen.
pub fn build(opening: &Opening, spec: &PanelSpec<'_>) -> (Option<Panel>, Vec<Finding>) {
    let mut findings = Vec::new();
    let panel = match opening.rake {
        None => level(opening, spec, &mut findings),
        Some(rake) => raked::assemble(opening, rake, spec, &mut findings),
    };
    match panel {
        Ok(panel) => (Some(panel), findings),
        Err(finding) => {
            findings.push(*finding);
            (None, findings)
        }
    }
}

fn level(opening: &Opening, spec: &PanelSpec<'_>, notes: &mut Vec<Finding>) -> Result<Panel, Box<Finding>> {
    let system = spec.system;
    let longest = Longest { length: spec.longest, section: "longest-panel" };
    notes.extend(check_opening(opening, spec, &longest)?);
    let baluster_length = system.baluster_length();
    if baluster_length <= Length::ZERO {
        let message = format!("height {} leaves nothing for the infill", system.height);
        return Err(trouble::fails(opening, message));
    }
    let pattern = Pattern {
        setback: system.bracket.setback,
        reach: if system.bracket.members.is_empty() { Length::ZERO } else { system.bracket.reach },
        holes: &system.bracket.holes,
    };
    // The rail is cut to the mark below, never longer than the opening less both clearances; what the rounding leaves
    // goes to both ends.
    let length = spec.mark.floor(opening.clear - system.end_clearance * 2 + Length::NOISE);
    check_room(opening, length, pattern.reach)?;
    let left = (opening.clear - length).half();
    let infill = Infill {
        length,
        left,
        right: opening.clear - length - left,
        reach: pattern.reach,
        width: system.baluster_width(),
        limit: spec.limit,
        tolerance: spec.tolerance,
        mark: spec.mark,
    };
    let spacing = system.baluster.as_ref().map_or(Length::ZERO, |baluster| baluster.spacing);
    let row = Row { infill, spacing, limit: spec.limit, pattern };
    let low = system.bottom_gap + below(system).sum();
    let zone = Zone { low, height: baluster_length, pitch: None };
    let fitted = fit(opening, spec, &row, zone, notes)?;
    let gaps = infill.gaps(&fitted.division.marks);
    Ok(Panel {
        id: opening.id.clone(),
        span: opening.clear,
        length,
        clearance_left: infill.left,
        clearance_right: infill.right,
        brackets: brackets(opening, spec, &row),
        balusters: balusters(&fitted, &gaps, baluster_length, spec.style),
        infill: fitted.infill,
        block_heights: vec![system.bottom_gap; fitted.blocks.len()],
        blocks: fitted.blocks,
        cap_screws: fitted.cap_screws,
        cuts: fitted.cuts,
        height: system.height,
        bottom_gap: system.bottom_gap,
        rake: None,
    })
}

/// A longest span, and the place of the setting that says so.
pub(super) struct Longest {
    pub length: Length,
    pub section: &'static str,
}

/// Whether any panel may stand in the opening; too long is said, but still built.
pub(super) fn check_opening(
    opening: &Opening,
    spec: &PanelSpec<'_>,
    longest: &Longest,
) -> Result<Option<Finding>, Box<Finding>> {
    let system = spec.system;
    let skews = [opening.skew_left, opening.skew_right].map(|skew| skew.abs().degrees());
    // Written so that an angle that is no number is refused, too.
    if !skews.iter().all(|&skew| skew <= STEEPEST_DEGREES) {
        let steepest = skews.into_iter().fold(0.0, f64::max);
        let message = format!("the rail meets a face at {} degrees; brackets and cuts go to 45", decimal(steepest, 1));
        let hint = "turn the post, or set another one, so that the rail meets its face more squarely";
        return Err(Box::new(Finding::incomplete(Code::SkewTooLarge, trouble::place(opening), message).hint(hint)));
    }
    let rule = |section: &str, limit: Length| RuleRef {
        set: system.name.clone(),
        section: section.to_owned(),
        limit,
        actual: opening.clear,
    };
    if opening.clear < system.shortest_panel - Length::NOISE {
        let message = format!(
            "opening of {} is shorter than the shortest panel, {}",
            opening.clear.told(),
            system.shortest_panel
        );
        let finding = Finding::incomplete(Code::SpanTooShort, trouble::place(opening), message)
            .hint("move a post so that the opening gets longer, or close it without a panel")
            .rule(rule("shortest-panel", system.shortest_panel));
        return Err(Box::new(finding));
    }
    Ok((opening.clear > longest.length + Length::NOISE).then(|| {
        let kind = if opening.rake.is_some() { "raked panel" } else { "panel" };
        let message =
            format!("opening of {} is longer than the longest {kind}, {}", opening.clear.told(), longest.length);
        Finding::incomplete(Code::SpanTooLong, trouble::place(opening), message)
            .hint("set a post in between")
            .rule(rule(longest.section, longest.length))
    }))
}

pub(super) fn check_room(opening: &Opening, length: Length, reach: Length) -> Result<(), Box<Finding>> {
    if length <= Length::ZERO || length < reach * 2 {
        let message = format!("a rail of {length} has no room for the brackets at its ends");
        return Err(trouble::fails(opening, message));
    }
    Ok(())
}

/// A rail to be fitted out; all along the rail.
pub(super) struct Row<'a> {
    /// What the balusters have to fill.
    pub infill: Infill,
    /// On-centre spacing or punched pitch that the system wants.
    pub spacing: Length,
    /// The sphere as the rules say it.
    pub limit: Length,
    /// The brackets.
    pub pattern: Pattern<'a>,
}

/// Heights of the members that lie beneath the infill.
pub(super) fn below(system: &RailSystem) -> impl Iterator<Item = Length> + '_ {
    system.members.iter().filter(|m| m.role < MemberRole::TopRail).map(|m| m.height)
}

/// A rail with everything that is marked on it.
pub(super) struct Fit {
    pub infill: PanelInfill,
    /// Empty unless the infill is balusters.
    pub division: Division,
    pub blocks: Vec<Length>,
    pub cap_screws: Vec<Length>,
    pub cuts: Vec<Cut>,
}

/// The infill, then blocks and cap screws off its screws, then the saw.
pub(super) fn fit(
    opening: &Opening,
    spec: &PanelSpec<'_>,
    row: &Row<'_>,
    zone: Zone,
    notes: &mut Vec<Finding>,
) -> Result<Fit, Box<Finding>> {
    let system = spec.system;
    let length = row.infill.length;
    let (division, infill) = fill(opening, spec, row, zone, notes)?;

    let screwed = if infill == PanelInfill::Balusters { &division.marks } else { infill.screwed() };
    let fitted = Fitted { length, balusters: screwed, width: row.infill.width, mark: spec.mark };
    let blocks = system.blocks.as_ref().map_or_else(|| Ok(Placed::default()), |b| fitted.blocks(b));
    let blocks = blocks.map_err(|why| trouble::not_placed(opening, "support block", length, why))?;
    notes.extend(trouble::moved(opening, "support block", &blocks));
    let screws = system.cap_screws.as_ref().map_or_else(|| Ok(Placed::default()), |c| fitted.cap_screws(c));
    let screws = screws.map_err(|why| trouble::not_placed(opening, "cap screw", length, why))?;
    notes.extend(trouble::moved(opening, "cap screw", &screws));

    let cuts: Vec<_> = system.members.iter().map(|member| ends::cut(member, length, opening)).collect();
    if cuts.iter().any(|cut| cut.short_point <= Length::ZERO) {
        let message = "its angled cuts meet: nothing is left of the rail's shorter edge";
        return Err(trouble::fails(opening, message));
    }
    Ok(Fit { infill, division, blocks: blocks.marks, cap_screws: screws.marks, cuts })
}

/// What the system closes its panels with.
fn fill(
    opening: &Opening,
    spec: &PanelSpec<'_>,
    row: &Row<'_>,
    zone: Zone,
    notes: &mut Vec<Finding>,
) -> Result<(Division, PanelInfill), Box<Finding>> {
    match spec.system.infill() {
        Some(InfillSpec::Balusters(_)) => {
            let division = row.infill.divide(spec.style, row.spacing);
            let division = division.map_err(|wrong| trouble::no_division(opening, spec, row, wrong))?;
            notes.extend(division.reduced.map(|why| trouble::spacing_reduced(opening, row, division.spacing, why)));
            Ok((division, PanelInfill::Balusters))
        }
        Some(InfillSpec::Cables(cable)) => {
            Ok((Division::default(), PanelInfill::Cables(cables::run(opening, spec, row, zone, cable)?)))
        }
        Some(InfillSpec::Frames(frame)) => {
            Ok((Division::default(), PanelInfill::Frames(frames::row(opening, spec, row, zone, frame)?)))
        }
        None => Err(trouble::fails(opening, "the system has not just one infill")),
    }
}

pub(super) fn brackets(opening: &Opening, spec: &PanelSpec<'_>, row: &Row<'_>) -> Vec<super::BracketAt> {
    let held = spec.system.members.iter().filter(|m| spec.system.bracket.members.contains(&m.role));
    held.flat_map(|m| ends::brackets(m, row.pattern, row.infill.length, opening, spec.mark)).collect()
}

/// `gaps` are measured level, from face to face.
pub(super) fn balusters(fitted: &Fit, gaps: &[Length], length: Length, style: BalusterStyle) -> Balusters {
    // Without balusters there are no gaps between them.
    let (gaps, spacing) =
        if fitted.infill == PanelInfill::Balusters { (gaps, fitted.division.spacing) } else { (&[][..], Length::ZERO) };
    let gap = |found: Option<&Length>| found.copied().unwrap_or_default();
    Balusters {
        style,
        spacing,
        length,
        end_gap_left: gap(gaps.first()),
        end_gap_right: gap(gaps.last()),
        widest_gap: gap(gaps.iter().max()),
        marks: fitted.division.marks.clone(),
    }
}
