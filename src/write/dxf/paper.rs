//! Sheets as paper spaces at true size: the page's own ink, and a locked window on the model space at true scale for each
//! drawing that stands there.

use super::clip::{self, within};
use super::entity::Common;
use super::records::{Spot, Writer};
use super::window::{self, Window};
use super::{Handle, Mark, Placed, Tags};
use crate::base::{Frame, Point, Unit};
use crate::sheet::{Item, Layer, Page, View};

/// A page and the space that it is written into.
#[derive(Debug, Clone, Copy)]
pub struct Sheet<'a> {
    /// The page.
    pub page: &'a Page,
    /// Block record of its space.
    pub space: Handle,
}

/// What stands in a paper space.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct Paper {
    /// Its entities.
    pub entities: Vec<u8>,
    /// The VIEWPORT that is the paper itself.
    pub view_port: Handle,
}

/// Unit of paper spaces: inches where the drawing is in feet or inches, else millimetres.
pub(super) const fn unit(frame: &Frame) -> Unit {
    if frame.unit.is_imperial() { Unit::Inch } else { Unit::Millimetre }
}

/// Where a view's drawing stands in the model space, if it does.
fn in_model(view: &View, drawings: &[Placed<'_>]) -> Option<Point> {
    drawings.iter().find(|placed| placed.drawing.name == view.drawing.name).map(|placed| placed.at)
}

/// What of a view is drawn on the paper: what stands behind the drawing, so that the model space stays clean, and the
/// drawing itself where the model space does not have it.
fn drawn(view: &View, drawings: &[Placed<'_>]) -> Vec<Item> {
    let own = in_model(view, drawings).is_none().then_some(&view.drawing.items);
    view.behind.iter().chain(own.into_iter().flatten()).flat_map(|item| within(item, view.window)).collect()
}

impl Sheet<'_> {
    /// All that is drawn on the paper itself.
    pub(super) fn items(&self, drawings: &[Placed<'_>]) -> Vec<Item> {
        let views = self.page.views.iter().flat_map(|view| drawn(view, drawings));
        views.chain(self.page.ink.items.iter().cloned()).collect()
    }

    /// Whether it has a window, even one on nothing.
    pub(super) fn has_views(&self) -> bool {
        !self.page.views.is_empty()
    }
}

impl Writer<'_> {
    /// The page from its lowest ink to its highest.
    pub(super) fn paper(&mut self, sheet: &Sheet<'_>, drawings: &[Placed<'_>]) -> Paper {
        let page = sheet.page;
        let frame = Frame { unit: unit(self.frame), origin: Point::default() };
        let mut tags = Tags::new(self.target);
        let common = Common {
            owner: sheet.space,
            in_paper: true,
            layer: "0",
            linetype: None,
            linetype_scale: 1.0,
            mark: Some(Mark { kind: "drawing", id: &page.number, facts: &[] }),
        };
        let size = frame.to_drawing(page.size);
        let (centre, view_height) = (size / 2.0, size.y);
        let whole = Window { number: 1, centre, size, view_centre: centre, view_height };
        let view_port = window::write(&mut tags, self.handles, &common, &whole);
        let on_paper = |paper: f64, from: Point, to: Point| {
            let (name, owner) = (page.number.as_str(), sheet.space);
            Spot { name, frame, owner, in_paper: true, paper, scale: paper, from, to }
        };
        let mut number = 1;
        for view in &page.views {
            let spot = on_paper(view.drawing.paper, view.window.0, view.at);
            for item in drawn(view, drawings) {
                self.item(&mut tags, &spot, &item);
            }
            let Some(at) = in_model(view, drawings) else { continue };
            number += 1;
            let layer = self.ties.layer(Layer::View);
            let window = self.window(view, at, &frame, number);
            window::write(&mut tags, self.handles, &Common { layer, ..common }, &window);
        }
        let spot = on_paper(1.0, Point::default(), Point::default());
        for item in &page.ink.items {
            self.item(&mut tags, &spot, item);
        }
        Paper { entities: tags.into_bytes(), view_port }
    }

    /// The window of a view whose drawing stands in the model space with its origin at `at`.
    fn window(&self, view: &View, at: Point, paper: &Frame, number: i64) -> Window {
        let (low, high): clip::Window = view.window;
        let size = view.size();
        Window {
            number,
            centre: paper.to_drawing(view.at + size / 2.0),
            size: paper.to_drawing(size),
            view_centre: self.frame.to_drawing((low + high) / 2.0 + at),
            view_height: (high.y - low.y) / self.frame.unit.millimetres(),
        }
    }
}
