//! An earlier layout as its `layout.json` tells it: what the user's edits are known by when the drawing has lost its marks.

use super::record::{PointRecord, PostOriginRecord, Record};
use crate::base::plane::point;
use crate::base::{Frame, Point, Unit};
use crate::deck::{Earlier, EarlierPost, SetBy};

/// An earlier layout from its file, in the units of its drawing.
#[derive(Debug, Clone, PartialEq)]
pub struct EarlierFile {
    /// Name of the plan that it was made from.
    pub plan: String,
    /// Unit of that plan.
    pub unit: Unit,
    drawn: Earlier,
}

impl EarlierFile {
    /// From the record; `None` when it names no unit.
    pub fn of(record: &Record) -> Option<Self> {
        let set_by = |origin| match origin {
            PostOriginRecord::Planned => SetBy::Planner,
            PostOriginRecord::Kept => SetBy::Edit,
            PostOriginRecord::Drawn => SetBy::Drawing,
        };
        let posts = record.posts.iter().map(|post| EarlierPost {
            id: post.id.clone(),
            set_by: set_by(post.origin),
            at: point(post.x, post.y),
        });
        let at = |p: &PointRecord| point(p.x, p.y);
        let drawn = Earlier {
            posts: posts.collect(),
            panels: record.panels.iter().map(|p| (p.id.clone(), at(&p.left), at(&p.right))).collect(),
            erased: record.erased.iter().map(|e| (e.id.clone(), at(&e.at))).collect(),
            open: record.open.iter().map(|o| (o.id.clone(), at(&o.left), at(&o.right))).collect(),
        };
        Some(Self { plan: record.plan.file.clone(), unit: Unit::from_sign(&record.plan.drawing_units)?, drawn })
    }

    /// The layout in a drawing's local mm, if the drawing's coordinates are those that it had then.
    pub fn as_written(&self, frame: &Frame) -> Earlier {
        self.placed(|p| frame.to_local(p))
    }

    /// The same if the drawing was scaled to another unit on the way.
    pub fn scaled(&self, frame: &Frame) -> Earlier {
        let scale = self.unit.millimetres() / frame.unit.millimetres();
        self.placed(|p| frame.to_local(p * scale))
    }

    fn placed(&self, to: impl Fn(Point) -> Point) -> Earlier {
        let mut earlier = self.drawn.clone();
        earlier.posts.iter_mut().for_each(|post| post.at = to(post.at));
        earlier.erased.iter_mut().for_each(|(_, at)| *at = to(*at));
        for (_, left, right) in earlier.panels.iter_mut().chain(&mut earlier.open) {
            (*left, *right) = (to(*left), to(*right));
        }
        earlier
    }
}
