//! Horizontal cables: holes in the posts, slats between them, cable lengths, sag.

use super::balusters::{Infill, on_mark, wide};
use super::build::{PanelSpec, Row};
use super::infill::CableRun;
use super::raked::HIDDEN;
use super::{Opening, trouble};
use crate::base::{Finding, Length, Pitch};
use crate::catalog::CableSpec;

/// More cables than any rail has: the bound for hostile system files.
const MOST: i64 = 1_000;

/// The clear height between bottom and top rail, plumb.
#[derive(Debug, Clone, Copy)]
pub(super) struct Zone {
    /// Top of the bottom rail above the deck or the nosing line.
    pub low: Length,
    /// From there to the top rail.
    pub height: Length,
    /// The slope, on a stair.
    pub pitch: Option<Pitch>,
}

impl Zone {
    /// A plumb distance between two lines along the rail, measured square to them.
    pub(super) fn square(&self, plumb: Length) -> Length {
        self.pitch.map_or(plumb, |pitch| pitch.level(plumb))
    }

    /// The plumb distance of two lines along the rail that lie this far apart.
    pub(super) fn plumb(&self, square: Length) -> Length {
        self.pitch.map_or(square, |pitch| pitch.along(square))
    }
}

pub(super) fn run(
    opening: &Opening,
    spec: &PanelSpec<'_>,
    row: &Row<'_>,
    zone: Zone,
    cable: &CableSpec,
) -> Result<CableRun, Box<Finding>> {
    let rows = Rows { zone, cable, spec, limit: row.limit };
    let Some(heights) = rows.heights() else {
        let message = format!(
            "no row of cables of {} closes every gap to under {} with {} tolerance when it is pushed open by {}",
            cable.diameter, row.limit, spec.tolerance, cable.give
        );
        let hint = "a smaller give needs thicker or tighter cables and nearer supports: see the cable's maker";
        return Err(Box::new(trouble::fails(opening, message).hint(hint)));
    };
    let slats = slats(opening, row, zone, cable)?;
    let infill = &row.infill;
    let bays = Infill { width: slats.width, ..*infill }.gaps(&slats.marks);
    let longest_run = bays.into_iter().max().unwrap_or_default();
    let clear = infill.left + infill.length + infill.right;
    Ok(CableRun {
        length: spec.mark.ceil(clear + cable.beyond * 2),
        fittings: heights.len() * 2 * usize::from(cable.fittings),
        longest_run,
        widest_gap: rows.widest(&heights),
        sag: sag(longest_run, cable),
        slats: slats.marks,
        heights,
    })
}

/// What the rows of cables must keep to.
struct Rows<'a> {
    zone: Zone,
    cable: &'a CableSpec,
    spec: &'a PanelSpec<'a>,
    limit: Length,
}

impl Rows<'_> {
    /// As few cables as spacing and sphere allow, at equal steps between the rails: 36 in at 3 in are 12 steps and 11
    /// cables.
    fn heights(&self) -> Option<Vec<Length>> {
        let Zone { low, height, .. } = self.zone;
        let least = -(-self.zone.square(height)).whole_steps(self.cable.spacing) - 1;
        for count in least.max(0)..=MOST {
            let parts = i128::from(count) + 1;
            let mark = |k| on_mark(self.spec.mark, wide(low) * parts + wide(height) * k, parts);
            let marks: Vec<Length> = (1..parts).map(mark).collect();
            let gaps = self.gaps(&marks);
            if gaps.iter().any(|gap| *gap < Length::ZERO) {
                return None;
            }
            if gaps.iter().all(|gap| self.is_under_limit(*gap)) && self.is_near(&marks) {
                return Some(marks);
            }
        }
        None
    }

    fn stations(&self, marks: &[Length]) -> Vec<Length> {
        let Zone { low, height, .. } = self.zone;
        std::iter::once(low).chain(marks.iter().copied()).chain([low + height]).collect()
    }

    /// Steps between neighbours, square to the cables: rail, cables, rail.
    fn steps(&self, marks: &[Length]) -> Vec<Length> {
        let stations = self.stations(marks);
        stations.iter().zip(stations.iter().skip(1)).map(|(a, b)| self.zone.square(*b - *a)).collect()
    }

    fn is_near(&self, marks: &[Length]) -> bool {
        self.steps(marks).into_iter().all(|step| step <= self.cable.spacing)
    }

    /// Clear spaces between neighbours, square to the cables.
    fn gaps(&self, marks: &[Length]) -> Vec<Length> {
        let steps = self.steps(marks);
        let last = steps.len().saturating_sub(1);
        // Half a diameter is taken off for each neighbour that is a cable.
        let halves = |i: usize| i64::from(i > 0) + i64::from(i < last);
        steps.into_iter().enumerate().map(|(i, step)| step - self.cable.diameter.fraction(halves(i), 2)).collect()
    }

    fn widest(&self, marks: &[Length]) -> Length {
        self.gaps(marks).into_iter().max().unwrap_or_default()
    }

    fn is_under_limit(&self, gap: Length) -> bool {
        let hidden = if self.zone.pitch.is_some() { HIDDEN } else { Length::ZERO };
        gap + self.cable.give + self.spec.tolerance + hidden < self.limit
    }
}

/// Slats and their width along the rail.
struct Slats {
    marks: Vec<Length>,
    width: Length,
}

/// As few slats as leave no cable free for longer than the system allows, at equal clear distances.
fn slats(opening: &Opening, row: &Row<'_>, zone: Zone, cable: &CableSpec) -> Result<Slats, Box<Finding>> {
    let infill = &row.infill;
    if infill.left + infill.length + infill.right <= cable.longest_run {
        return Ok(Slats { marks: Vec::new(), width: Length::ZERO });
    }
    let too_long = |why: &str| {
        let message = format!("cables may run free for {}: {why}", cable.longest_run);
        Box::new(trouble::fails(opening, message).hint("set a post in between"))
    };
    let Some(slat) = &cable.slat else { return Err(too_long("the opening is longer, and the system has no slats")) };
    let width = zone.plumb(slat.width);
    // A free length of just the longest one is allowed, unlike a gap of just the sphere.
    let limit = cable.longest_run + Length::from_nanometres(1);
    let rows = Infill { width, limit, tolerance: Length::ZERO, ..*infill };
    let division = rows.even().map_err(|_| too_long("no row of slats between the brackets holds that"))?;
    Ok(Slats { marks: division.marks, width })
}

/// Sag of a cable over a free length, from its weight and tension: w·L²/(8·T), the parabola of a flat catenary.
fn sag(run: Length, cable: &CableSpec) -> Length {
    let feet = run.inches() / 12.0;
    let sag_feet = cable.weight_lb_per_ft * feet * feet / (8.0 * cable.tension_lbf);
    Length::from_millimetres(sag_feet * 304.8).unwrap_or_default()
}
