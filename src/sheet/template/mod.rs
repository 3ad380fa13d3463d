//! Templates at full size: a layout stick for each panel that is built differently, the ends of the rails with their
//! brackets, the faces of the posts. On a roll, or in tiles for a desk printer.

mod bar;
mod bracket;
mod first;
mod flow;
mod post;
mod rail;
mod rows;
mod stick;
#[cfg(test)]
mod tests;
mod tile;

use crate::catalog::Paper;
use crate::parts::Layout;

use super::{Page, alike};

/// What templates are printed on.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum TemplatePaper {
    /// A roll. As many sticks as go side by side across a roll of 24 in share one long page, so that a job is a few prints
    /// of which each is rolled up as a whole, and no roll is used up for one stick on each length of it.
    Roll,
    /// Sheets, turned on their side; what is longer than a sheet goes over several with an overlap.
    Tiled(Paper),
}

/// Templates of a layout at full size, in the order: how to use them, sticks of the panels, ends of the rails, posts.
/// A layout without panels has none.
pub fn templates(layout: &Layout, paper: TemplatePaper) -> Vec<Page> {
    if layout.panels.is_empty() {
        return Vec::new();
    }
    let groups = alike(layout);
    let mut sticks: Vec<stick::Stick> = groups.iter().filter_map(|group| rail::stick(layout, group)).collect();
    sticks.extend(bracket::sticks(layout, &groups));
    sticks.extend(post::sticks(layout, &groups));
    let sheet = flow::Sheet::of(paper);
    let cutting = tile::Cutting::new(sheet.most_window(), &layout.measure);
    let mut pieces = vec![first::piece(layout, &sheet)];
    pieces.extend(sticks.into_iter().flat_map(|stick| stick.pieces(&cutting, &layout.measure)));
    flow::pages(layout, &sheet, &pieces)
}
