//! Panels that are built exactly the same, so that they share one template, one elevation, one drilling.

use std::collections::BTreeMap;

use crate::base::{Angle, Length};
use crate::panel::{Panel, PanelInfill};
use crate::parts::{Layout, LayoutPanel};

/// Angles that differ by less are one: it is what sums of f64 leave of an angle, far below what a saw can be set to.
const SAME_ANGLE: f64 = 1e-9;

/// Panels that are built the same.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Alike {
    /// Indices into [`Layout::panels`], ascending; never empty.
    pub indices: Vec<usize>,
    /// Their ids, likewise.
    pub ids: Vec<String>,
}

impl Alike {
    /// `S1, S3, S7: 3 alike`; a single one is named alone.
    pub fn text(&self) -> String {
        let ids = self.ids.join(", ");
        if self.ids.len() > 1 { format!("{ids}: {} alike", self.ids.len()) } else { ids }
    }

    /// The panel that stands for all of them.
    pub fn first<'a>(&self, layout: &'a Layout) -> Option<&'a LayoutPanel> {
        self.indices.first().and_then(|index| layout.panels.get(*index))
    }
}

/// The panels of a layout in groups that are built the same, in the order in which the first of each appears. Two belong
/// together when all of them but the id agrees, and the kit as well; lengths that were measured on the plan may differ by
/// the noise of drawings.
pub fn alike(layout: &Layout) -> Vec<Alike> {
    let mut groups: Vec<Alike> = Vec::new();
    // Groups by rail length and count of balusters: both are exact, and tell most panels apart.
    let mut near: BTreeMap<(Length, usize), Vec<usize>> = BTreeMap::new();
    for (index, at) in layout.panels.iter().enumerate() {
        let key = (at.panel.length, at.panel.balusters.marks.len());
        let candidates = near.entry(key).or_default();
        let is_same = |group: &Alike| group.first(layout).is_some_and(|first| same(first, at));
        let found = candidates.iter().copied().find(|g| groups.get(*g).is_some_and(is_same));
        if let Some(group) = found.and_then(|g| groups.get_mut(g)) {
            group.indices.push(index);
            group.ids.push(at.panel.id.clone());
        } else {
            candidates.push(groups.len());
            groups.push(Alike { indices: vec![index], ids: vec![at.panel.id.clone()] });
        }
    }
    groups
}

fn same(a: &LayoutPanel, b: &LayoutPanel) -> bool {
    a.kit == b.kit && a.panel == without_noise(&b.panel, &a.panel)
}

/// The panel with the other's id, and with the other's figures where only noise tells them apart. Marks and cuts lie on the
/// mark grid and are left as they are.
fn without_noise(panel: &Panel, other: &Panel) -> Panel {
    let mut panel = Panel { id: other.id.clone(), ..panel.clone() };
    settle(&mut panel.span, other.span);
    settle(&mut panel.clearance_left, other.clearance_left);
    settle(&mut panel.clearance_right, other.clearance_right);
    settle(&mut panel.balusters.end_gap_left, other.balusters.end_gap_left);
    settle(&mut panel.balusters.end_gap_right, other.balusters.end_gap_right);
    settle(&mut panel.balusters.widest_gap, other.balusters.widest_gap);
    settle(&mut panel.balusters.spacing, other.balusters.spacing);
    for (height, its) in panel.block_heights.iter_mut().zip(&other.block_heights) {
        settle(height, *its);
    }
    for (cut, its) in panel.cuts.iter_mut().zip(&other.cuts) {
        turn(&mut cut.left, its.left);
        turn(&mut cut.right, its.right);
        for (length, wanted) in [
            (&mut cut.long_point, its.long_point),
            (&mut cut.short_point, its.short_point),
            (&mut cut.tip_to_tip, its.tip_to_tip),
            (&mut cut.left_tip, its.left_tip),
        ] {
            settle(length, wanted);
        }
    }
    if let (Some(rake), Some(its)) = (&mut panel.rake, other.rake)
        && let (Some(start), Some(wanted)) = (&mut rake.start, its.start)
    {
        settle(start, wanted);
    }
    match (&mut panel.infill, &other.infill) {
        (PanelInfill::Cables(run), PanelInfill::Cables(its)) => {
            settle(&mut run.longest_run, its.longest_run);
            settle(&mut run.sag, its.sag);
        }
        (PanelInfill::Frames(row), PanelInfill::Frames(its)) => {
            settle(&mut row.end_gap_left, its.end_gap_left);
            settle(&mut row.end_gap_right, its.end_gap_right);
            settle(&mut row.widest_gap, its.widest_gap);
        }
        _ => {}
    }
    panel
}

fn settle(length: &mut Length, wanted: Length) {
    if (*length - wanted).abs() < Length::NOISE {
        *length = wanted;
    }
}

fn turn(angle: &mut Angle, wanted: Angle) {
    if (*angle - wanted).abs().radians() < SAME_ANGLE {
        *angle = wanted;
    }
}

#[cfg(test)]
mod tests {
    use super::super::sample::{INCH, TEST_RAIL, along, l_shape};
    use super::super::sample_stairs;
    use super::*;

    fn texts(layout: &Layout) -> Vec<String> {
        alike(layout).iter().map(Alike::text).collect()
    }

    /// Sides of 144, 72 and 144: bays of 72 between corners of the same kind.
    #[test]
    fn panels_that_are_built_the_same_stand_together_in_order() {
        let mut layout = along(TEST_RAIL, INCH, &[(0.0, 0.0), (0.0, 144.0), (72.0, 144.0), (72.0, 0.0)], false);
        assert_eq!(layout.panels.len(), 5);
        assert_eq!(texts(&layout), ["S1, S2, S3, S4, S5: 5 alike"]);
        layout.panels[1].panel.balusters.marks[3] += Length::INCH.fraction(1, 16);
        layout.panels[3].kit = None;
        assert_eq!(texts(&layout), ["S1, S3, S5: 3 alike", "S2", "S4"]);
        let groups = alike(&layout);
        assert_eq!(groups[0].indices, [0, 2, 4]);
        assert_eq!(groups[1].first(&layout).unwrap().panel.id, "S2");
    }

    #[test]
    fn noise_of_the_drawing_parts_nothing_but_a_real_difference_does() {
        let mut layout = along(TEST_RAIL, INCH, &[(0.0, 0.0), (0.0, 144.0)], false);
        let panel = &mut layout.panels[1].panel;
        panel.span += Length::from_nanometres(25);
        panel.clearance_right += Length::from_nanometres(25);
        panel.cuts[0].left = Angle::from_radians(1e-15);
        assert_eq!(texts(&layout), ["S1, S2: 2 alike"]);
        layout.panels[1].panel.cuts[0].left = Angle::from_degrees(0.1);
        assert_eq!(texts(&layout), ["S1", "S2"]);
    }

    #[test]
    fn every_panel_is_in_one_group() {
        for layout in sample_stairs::all().iter().chain([&l_shape(TEST_RAIL, INCH)]) {
            let mut all: Vec<usize> = alike(layout).into_iter().flat_map(|g| g.indices).collect();
            all.sort_unstable();
            assert_eq!(all, (0..layout.panels.len()).collect::<Vec<_>>());
        }
        let none = Layout { panels: Vec::new(), ..l_shape(TEST_RAIL, INCH) };
        assert!(alike(&none).is_empty());
    }

    /// Left and right sides of a flight are mirrored, so never alike.
    #[test]
    fn sides_of_a_stair_are_not_alike() {
        let layout = &sample_stairs::all()[0];
        let groups = alike(layout);
        let falls = |index: &usize| layout.panels[*index].panel.rake.unwrap().falls;
        assert!(groups.iter().all(|g| g.indices.iter().all(|i| falls(i) == falls(&g.indices[0]))));
    }
}
