//! One raked panel. What people see of a stair is level (opening, clearances, the gaps between plumb balusters) or plumb
//! (heights); what is marked on the rail runs along the slope.

use super::balusters::Infill;
use super::build::{self, Longest, PanelSpec, Row};
use super::cables::Zone;
use super::ends::Pattern;
use super::{Opening, Panel, trouble};
use crate::base::{Code, Finding, Length, Mark, Pitch, RuleRef};
use crate::catalog::{BalusterStyle, Raked};
use crate::deck::Steps;
use crate::guard::{Falls, Rake};

/// What the roundings of a gap to whole nanometres can hide: those of width, limit, tolerance and clearance along the slope
/// and of the level lengths that are shown are under 5 nm together. The limit is taken as much smaller, so that a gap of the
/// limit never passes for a smaller one.
pub(super) const HIDDEN: Length = Length::from_nanometres(8);

/// Beyond this nothing is a rail, and sums of lengths leave their range: slopes a hundred times as long as their run.
const STEEPEST_FACTOR: f64 = 100.0;

/// The same of lengths: 1 000 km.
const FARTHEST_NM: f64 = 1e15;

pub(super) fn assemble(
    opening: &Opening,
    rake: Rake,
    spec: &PanelSpec<'_>,
    notes: &mut Vec<Finding>,
) -> Result<Panel, Box<Finding>> {
    let (system, pitch) = (spec.system, rake.pitch);
    let raked = system.raked.as_ref().ok_or_else(|| no_raked(opening))?;
    check_pitch(opening, pitch, raked, spec)?;
    notes.extend(build::check_opening(opening, spec, &longest(raked, spec))?);
    let bottom_gap = bottom_gap(opening, &rake, raked, spec, notes);
    let row = row(opening, pitch, raked, spec)?;
    let members: Length = system.members.iter().map(|m| pitch.along(m.height)).sum();
    let baluster_length = baluster_length(raked.height - bottom_gap - members, spec.mark);
    if baluster_length <= Length::ZERO {
        let message = format!("height {} above the nosing line leaves nothing for the infill", raked.height);
        return Err(trouble::fails(opening, message));
    }
    let low = bottom_gap + build::below(system).map(|height| pitch.along(height)).sum();
    let zone = Zone { low, height: baluster_length, pitch: Some(pitch) };
    let fitted = build::fit(opening, spec, &row, zone, notes)?;

    let length = row.infill.length;
    let (clearance_left, clearance_right) = clearances(opening.clear, length, pitch);
    let level_marks: Vec<Length> = fitted.division.marks.iter().map(|&mark| pitch.level(mark)).collect();
    let level = Infill {
        length: pitch.level(length),
        left: clearance_left,
        right: clearance_right,
        width: system.baluster_width(),
        ..row.infill
    };
    let gaps = level.gaps(&level_marks);
    let mut panel = Panel {
        id: opening.id.clone(),
        span: opening.clear,
        length,
        clearance_left,
        clearance_right,
        brackets: build::brackets(opening, spec, &row),
        balusters: build::balusters(&fitted, &gaps, baluster_length, spec.style),
        infill: fitted.infill,
        block_heights: Vec::new(),
        blocks: fitted.blocks,
        cap_screws: fitted.cap_screws,
        cuts: fitted.cuts,
        height: Length::measured((bottom_gap + members + baluster_length).millimetres()),
        bottom_gap,
        rake: Some(rake),
    };
    panel.block_heights = block_heights(&panel, &rake);
    Ok(panel)
}

fn no_raked(opening: &Opening) -> Box<Finding> {
    let finding = trouble::fails(opening, "the system has no raked panels");
    Box::new(finding.hint("take a system for stairs, or give this one its [raked] table"))
}

/// Cross products keep it exact; a rise within drawing noise of the steepest one is that one.
fn check_pitch(opening: &Opening, pitch: Pitch, raked: &Raked, spec: &PanelSpec<'_>) -> Result<(), Box<Finding>> {
    let wide = |length: Length| i128::from(length.nanometres());
    let steepest = raked.steepest;
    let is_steeper =
        wide(pitch.rise() - Length::NOISE) * wide(steepest.run()) > wide(steepest.rise()) * wide(pitch.run());
    if is_steeper || pitch.factor() > STEEPEST_FACTOR {
        let message = format!(
            "a stair of {} on {} is steeper than the system's raked panels go, {} on {}",
            pitch.rise().told(),
            pitch.run().told(),
            steepest.rise(),
            steepest.run()
        );
        let finding = Finding::incomplete(Code::StairTooSteep, trouble::place(opening), message)
            .hint("lower the risers or deepen the treads, or take a system for steeper stairs")
            .rule(RuleRef {
                set: spec.system.name.clone(),
                section: "raked.steepest".to_owned(),
                limit: steepest.fall(pitch.run()),
                actual: pitch.rise(),
            });
        return Err(Box::new(finding));
    }
    let along_nm = opening.clear.nanometres() as f64 * pitch.factor();
    if along_nm > FARTHEST_NM { Err(trouble::fails(opening, "no rail is that long")) } else { Ok(()) }
}

/// The job's longest panel counts where it is shorter than the system's.
fn longest(raked: &Raked, spec: &PanelSpec<'_>) -> Longest {
    if spec.longest < spec.system.longest_panel && spec.longest < raked.longest_panel {
        Longest { length: spec.longest, section: "longest-panel" }
    } else {
        Longest { length: raked.longest_panel, section: "raked.longest-panel" }
    }
}

/// The widest sphere between riser, tread and a rail whose underside lies `gap` above the nosing line, in millimetres.
///
/// The triangle under the nosing line has legs R and T, and its inscribed circle the diameter R + T - sqrt(R² + T²). A
/// nosing n moves the riser back, a gap b lifts the rail: the triangle grows by 1 + n/T + b/R (closed form).
fn triangle_mm(steps: &Steps, gap: Length) -> f64 {
    let [r, t, n, b] = [steps.riser, steps.tread, steps.nosing, gap].map(Length::millimetres);
    (r + t - r.hypot(t)) * (1.0 + n / t + b / r)
}

/// Whether a sphere of the limit would pass; one that just touches does. A nanometre covers the rounding of the figures.
fn passes(steps: &Steps, gap: Length, limit: Length) -> bool {
    triangle_mm(steps, gap) + 1e-6 >= limit.millimetres()
}

/// The system's gap beneath the lowest member, or the largest one on marks that the triangle allows.
fn bottom_gap(opening: &Opening, rake: &Rake, raked: &Raked, spec: &PanelSpec<'_>, notes: &mut Vec<Finding>) -> Length {
    let (Some(steps), Some(limit)) = (rake.steps.as_ref(), spec.triangle) else { return raked.bottom_gap };
    // A rail set higher by the tolerance must keep under the limit, too.
    let wide = |gap: Length| passes(steps, gap + spec.tolerance, limit);
    if !wide(raked.bottom_gap) {
        return raked.bottom_gap;
    }
    let told = |gap| Length::from_millimetres(triangle_mm(steps, gap)).unwrap_or_default().told();
    if wide(Length::ZERO) {
        let message = format!(
            "a sphere of up to {} passes the triangle of riser {}, tread {} and rail even where the rail lies on the \
             nosing line (nosing {}); with the tolerance of {} it must be under {limit}",
            told(Length::ZERO),
            steps.riser.told(),
            steps.tread.told(),
            steps.nosing.told(),
            spec.tolerance
        );
        let finding = Finding::incomplete(Code::TriangleTooWide, trouble::place(opening), message);
        notes.push(finding.hint("lower the risers or shorten the nosings, or close the triangle beneath the rail"));
        return Length::ZERO;
    }
    let [r, t, n, d] = [steps.riser, steps.tread, steps.nosing, limit].map(Length::millimetres);
    let most = r * (d / (r + t - r.hypot(t)) - 1.0 - n / t);
    let mut gap = spec.mark.floor(Length::from_millimetres(most).unwrap_or_default()).min(raked.bottom_gap);
    while gap > Length::ZERO && wide(gap) {
        gap = (gap - spec.mark.length()).max(Length::ZERO);
    }
    let message = format!(
        "the lowest rail lies {gap} above the nosing line instead of {}, where a sphere of {} would pass the triangle of \
         riser, tread and rail; now it is {}, under {limit}",
        raked.bottom_gap,
        told(raked.bottom_gap),
        told(gap)
    );
    notes.push(Finding::note(Code::BottomGapLowered, trouble::place(opening), message));
    gap
}

/// What is divided, along the slope. The rail is cut to the mark below, never longer than the opening less both clearances.
fn row<'a>(opening: &Opening, pitch: Pitch, raked: &'a Raked, spec: &PanelSpec<'a>) -> Result<Row<'a>, Box<Finding>> {
    let system = spec.system;
    let pattern = Pattern {
        setback: raked.bracket.setback,
        reach: if system.bracket.members.is_empty() { Length::ZERO } else { raked.bracket.reach },
        holes: &raked.bracket.holes,
    };
    let length = spec.mark.floor(pitch.along(opening.clear - system.end_clearance * 2 + Length::NOISE));
    build::check_room(opening, length, pattern.reach)?;
    let (left, right) = clearances(opening.clear, length, pitch);
    let baluster = system.baluster.as_ref();
    let spacing = if spec.style == BalusterStyle::Punched && baluster.is_some() {
        raked.punched_spacing.ok_or_else(|| {
            let finding = trouble::fails(opening, "the system says nothing of punched rails for stairs");
            Box::new(finding.hint("divide the balusters centred or even, or give the system its raked punched-spacing"))
        })?
    } else {
        pitch.along(baluster.map_or(Length::ZERO, |b| b.spacing))
    };
    let infill = Infill {
        length,
        left: pitch.along(left),
        right: pitch.along(right),
        reach: pattern.reach,
        width: pitch.along(system.baluster_width()),
        limit: pitch.along(spec.stair_limit - HIDDEN),
        tolerance: pitch.along(spec.tolerance),
        mark: spec.mark,
    };
    Ok(Row { infill, spacing, limit: spec.stair_limit, pattern })
}

/// Level clearances: what the rail's level length, to the nearest nanometre, leaves of the opening, half at each end. The
/// three add up to the opening exactly.
fn clearances(clear: Length, length: Length, pitch: Pitch) -> (Length, Length) {
    let rest = clear - pitch.level(length);
    (rest.half(), rest - rest.half())
}

/// The next mark above what the stack leaves, so that no guard is lower than its system says. The stack is a sum of
/// rounded figures, so what misses a mark by some nanometres is on it.
fn baluster_length(left: Length, mark: Mark) -> Length {
    mark.ceil(Length::measured(left.millimetres()))
}

/// Plumb from what lies beneath each block's centre to the underside of the lowest member. Downhill of nosing k - 1 and up
/// to nosing k lies tread k, k risers below the top; before the top nosing lies the deck.
fn block_heights(panel: &Panel, rake: &Rake) -> Vec<Length> {
    let (Some(steps), Some(start)) = (rake.steps.as_ref(), rake.start) else { return Vec::new() };
    let height = |&mark: &Length| {
        let from_upper = match rake.falls {
            Falls::Right => panel.clearance_left + rake.pitch.level(mark),
            Falls::Left => panel.clearance_right + rake.pitch.level(panel.length - mark),
        };
        let downhill = start + from_upper;
        let risers = (-(-downhill).whole_steps(steps.tread)).max(0);
        panel.bottom_gap + steps.riser * risers - rake.pitch.fall(downhill)
    };
    panel.blocks.iter().map(height).collect()
}
