//! Framed panels: equal frames with equal gaps between the faces, and their clips.

use super::balusters::{on_mark, wide};
use super::build::{PanelSpec, Row};
use super::cables::Zone;
use super::infill::FrameRow;
use super::{Opening, trouble};
use crate::base::{Finding, Length};
use crate::catalog::FrameSpec;

/// More frames than any rail has, and more widths than any is tried in: the bounds for hostile system files.
const MOST: i64 = 100;
const MOST_WIDTHS: usize = 500;

pub(super) fn row(
    opening: &Opening,
    spec: &PanelSpec<'_>,
    row: &Row<'_>,
    zone: Zone,
    frame: &FrameSpec,
) -> Result<FrameRow, Box<Finding>> {
    if zone.pitch.is_some() && !frame.raked {
        let finding = trouble::fails(opening, "the system's frames are not made for stairs");
        return Err(Box::new(finding.hint("take a system with balusters there, or one whose frames are raked")));
    }
    check_sphere(opening, spec, row, frame)?;
    let height = spec.mark.floor(zone.height - zone.plumb(frame.rail_gap) * 2);
    if height <= Length::ZERO {
        return Err(trouble::fails(opening, "the gaps to the rails leave nothing for the frames"));
    }
    let space = Space::new(opening, spec, row, zone, frame);
    let Some((width, edges)) = space.divide() else {
        let message = format!(
            "no row of equal frames from {} to {} wide fills the opening with gaps from {} to {}",
            frame.narrowest, frame.widest, frame.least_gap, frame.greatest_gap
        );
        return Err(Box::new(trouble::fails(opening, message).hint("move a post by some inches")));
    };
    let clips = clips(spec, frame, width, &edges);
    let (first, last) = (clips.first().copied().unwrap_or_default(), clips.last().copied().unwrap_or_default());
    if first < row.infill.reach || row.infill.length - last < row.infill.reach {
        return Err(trouble::fails(opening, "the outer clips of its frames stand in the brackets"));
    }
    let gaps: Vec<Length> = space.gaps(width, &edges).into_iter().map(|gap| zone.square(gap)).collect();
    let gap = |found: Option<&Length>| found.copied().unwrap_or_default();
    let (end_gap_left, end_gap_right) = (gap(gaps.first()), gap(gaps.last()));
    Ok(FrameRow { width, height, edges, clips, end_gap_left, end_gap_right, widest_gap: gap(gaps.iter().max()) })
}

/// What the frames themselves and the gaps beneath and above them let pass.
fn check_sphere(opening: &Opening, spec: &PanelSpec<'_>, row: &Row<'_>, frame: &FrameSpec) -> Result<(), Box<Finding>> {
    let mesh = frame.mesh.unwrap_or_default();
    // What is cut down to marks below adds up to a mark to one of the two gaps.
    let to_rail = frame.rail_gap + spec.mark.length() + spec.tolerance;
    for (what, size) in [("mesh", mesh), ("gap between frame and rail", to_rail)] {
        if size >= row.limit {
            return Err(trouble::fails(opening, format!("the {what} of {size} lets a sphere of {} pass", row.limit)));
        }
    }
    Ok(())
}

/// What the frames have to fill, all along the rail.
struct Space<'a> {
    spec: &'a PanelSpec<'a>,
    left: Length,
    length: Length,
    right: Length,
    least: Length,
    greatest: Length,
    narrowest: Length,
    widest: Length,
}

impl<'a> Space<'a> {
    fn new(opening: &Opening, spec: &'a PanelSpec<'a>, row: &Row<'_>, zone: Zone, frame: &FrameSpec) -> Self {
        let infill = &row.infill;
        // On a slope what is level becomes longer along the rail by what makes a thickness plumb.
        let along = |level: Length| zone.plumb(level);
        let nm = Length::from_nanometres(1);
        // Where a rail meets a face at an angle, one corner of the frame stands nearer to the face than its middle.
        let corner = [opening.skew_left, opening.skew_right].map(|skew| frame.thickness.scaled(skew.abs().tan() / 2.0));
        let sphere = infill.limit - infill.tolerance - nm;
        Self {
            spec,
            left: infill.left,
            length: infill.length,
            right: infill.right,
            // A frame does not overhang the rails' ends.
            least: along(corner.into_iter().fold(frame.least_gap, Length::max)).max(infill.left).max(infill.right),
            greatest: along(frame.greatest_gap).min(sphere),
            narrowest: frame.narrowest,
            widest: frame.widest,
        }
    }

    fn clear(&self) -> Length {
        self.left + self.length + self.right
    }

    /// The fewest frames, and of these the widest, whose gaps hold on the rounded marks.
    fn divide(&self) -> Option<(Length, Vec<Length>)> {
        let mark = self.spec.mark;
        (1..=MOST).find_map(|count| {
            let width_at = |gap: Length| (self.clear() - gap * (count + 1)).fraction(1, count);
            let high = mark.floor(width_at(self.least).min(self.widest));
            let low = width_at(self.greatest).max(self.narrowest);
            let widths = std::iter::successors(Some(high), |w| Some(*w - mark.length())).take(MOST_WIDTHS);
            widths.take_while(|w| *w >= low && *w > Length::ZERO).find_map(|width| {
                let edges = self.edges(count, width);
                let holds = |gap: Length| (self.least..=self.greatest).contains(&gap);
                self.gaps(width, &edges).into_iter().all(holds).then_some((width, edges))
            })
        })
    }

    /// Left edges of equal frames with equal gaps, on the mark grid.
    fn edges(&self, count: i64, width: Length) -> Vec<Length> {
        let n = i128::from(count);
        let (c, w, left) = (wide(self.clear()), wide(width), wide(self.left));
        // Edge k from the left face: (k + 1)·gap + k·width, with gap = (clear - n·width)/(n + 1).
        let edge = |k: i128| (k + 1) * (c - n * w) + (k * w - left) * (n + 1);
        (0..n).map(|k| on_mark(self.spec.mark, edge(k), n + 1)).collect()
    }

    /// Clear spaces from face to face, left to right.
    fn gaps(&self, width: Length, edges: &[Length]) -> Vec<Length> {
        let starts = std::iter::once(-self.left).chain(edges.iter().map(|edge| *edge + width));
        let ends = edges.iter().copied().chain([self.length + self.right]);
        starts.zip(ends).map(|(start, end)| end - start).collect()
    }
}

/// Clips in the middle of equal parts of each frame: two stand at its quarter points.
fn clips(spec: &PanelSpec<'_>, frame: &FrameSpec, width: Length, edges: &[Length]) -> Vec<Length> {
    let count = i128::from(frame.clips);
    let in_frame = |edge: &Length| {
        let edge = *edge;
        (0..count).map(move |k| edge + on_mark(spec.mark, wide(width) * (2 * k + 1), 2 * count))
    };
    edges.iter().flat_map(in_frame).collect()
}
