//! A list whose things are found by where they lie, without looking at all of them.

use std::ops::Deref;

use rstar::primitives::{GeomWithData, Rectangle};
use rstar::{AABB, Envelope, RTree};

use super::Point;

/// Widens what is asked for, so that rounding hides nothing; whoever asks measures for itself.
const SLACK_MM: f64 = 1e-3;

/// A box in the plan.
pub type Bounds = AABB<[f64; 2]>;

/// A box with the number of what it holds.
type Boxed = GeomWithData<Rectangle<[f64; 2]>, usize>;

/// What takes up room in the plan.
pub trait Extent {
    /// Points whose box holds all of it.
    fn extent(&self) -> impl Iterator<Item = Point>;
}

impl Extent for Point {
    fn extent(&self) -> impl Iterator<Item = Self> {
        std::iter::once(*self)
    }
}

/// A segment.
impl Extent for (Point, Point) {
    fn extent(&self) -> impl Iterator<Item = Point> {
        [self.0, self.1].into_iter()
    }
}

/// The corners of an area.
impl Extent for Vec<Point> {
    fn extent(&self) -> impl Iterator<Item = Point> {
        self.iter().copied()
    }
}

impl<T: Extent> Extent for &T {
    fn extent(&self) -> impl Iterator<Item = Point> {
        T::extent(self)
    }
}

/// The box of some points, widened by `reach` on all sides; `None` without a point.
pub fn bounds(points: impl IntoIterator<Item = Point>, reach: f64) -> Option<Bounds> {
    let mut points = points.into_iter().peekable();
    points.peek()?;
    let mut bounds = AABB::new_empty();
    for p in points {
        bounds.merge(&AABB::from_point([p.x, p.y]));
    }
    let ([x, y], [u, v]) = (bounds.lower(), bounds.upper());
    Some(AABB::from_corners([x - reach, y - reach], [u + reach, v + reach]))
}

/// A list in its order, with an R-tree over the boxes of its things.
#[derive(Debug, Clone)]
pub struct Near<T> {
    list: Vec<T>,
    tree: RTree<Boxed>,
}

impl<T: Extent> From<Vec<T>> for Near<T> {
    fn from(list: Vec<T>) -> Self {
        let boxed = |(i, thing): (usize, &T)| Some(Boxed::new(Rectangle::from_aabb(bounds(thing.extent(), 0.0)?), i));
        let tree = RTree::bulk_load(list.iter().enumerate().filter_map(boxed).collect());
        Self { list, tree }
    }
}

impl<T> Default for Near<T> {
    fn default() -> Self {
        Self { list: Vec::new(), tree: RTree::new() }
    }
}

impl<T> Deref for Near<T> {
    type Target = [T];

    fn deref(&self) -> &[T] {
        &self.list
    }
}

impl<T: PartialEq> PartialEq for Near<T> {
    fn eq(&self, other: &Self) -> bool {
        self.list == other.list
    }
}

impl<T> Near<T> {
    /// What comes within `reach` of the box around some points, by number, in the list's order. More may come with it.
    pub fn around(&self, points: impl IntoIterator<Item = Point>, reach: f64) -> impl Iterator<Item = (usize, &T)> {
        let bounds = bounds(points, reach + SLACK_MM);
        let found = bounds.iter().flat_map(|b| self.tree.locate_in_envelope_intersecting(b));
        let mut numbers: Vec<usize> = found.map(|boxed| boxed.data).collect();
        numbers.sort_unstable();
        numbers.into_iter().filter_map(|i| Some((i, self.list.get(i)?)))
    }

    /// All of it by the distance of its box from a point, nearest first: the distance, the number and the thing.
    pub fn by_distance(&self, from: Point) -> impl Iterator<Item = (f64, usize, &T)> {
        let boxes = self.tree.nearest_neighbor_iter_with_distance_2(&[from.x, from.y]);
        boxes.filter_map(|(boxed, squared)| Some((squared.sqrt(), boxed.data, self.list.get(boxed.data)?)))
    }

    /// The nearest one by a `distance` from a point that is not less than that of its box: its number, and what that
    /// gave. Of several equally near, the first in the list.
    pub fn nearest(&self, from: Point, distance: impl Fn(&T) -> f64) -> Option<(usize, f64)> {
        let mut best: Option<(usize, f64)> = None;
        for (least, i, thing) in self.by_distance(from) {
            if best.is_some_and(|(_, d)| least > d + SLACK_MM) {
                break;
            }
            let d = distance(thing);
            if best.is_none_or(|(first, least)| (d, i) < (least, first)) {
                best = Some((i, d));
            }
        }
        best
    }
}

#[cfg(test)]
mod tests {
    use proptest::prelude::*;

    use super::*;
    use crate::base::plane::{distance, point, to_segment};

    fn segments() -> impl Strategy<Value = Vec<(Point, Point)>> {
        let place = || (-40..40_i32, -40..40_i32).prop_map(|(x, y)| point(f64::from(x), f64::from(y)));
        proptest::collection::vec((place(), place()), 0..60)
    }

    proptest! {
        /// Against a look at all of them.
        #[test]
        fn nothing_near_is_missed(segments in segments(), x in -50..50_i32, y in -50..50_i32, reach in 0..20_u8) {
            let (p, reach) = (point(f64::from(x), f64::from(y)), f64::from(reach));
            let off = |s: &(Point, Point)| to_segment(p, s.0, s.1).0;
            let near = Near::from(segments.clone());
            let all = segments.iter().enumerate();
            let found: Vec<_> = near.around([p], reach).filter(|(_, s)| off(s) <= reach).collect();
            prop_assert_eq!(found, all.clone().filter(|(_, s)| off(s) <= reach).collect::<Vec<_>>());
            let nearest = all.map(|(i, s)| (i, off(s))).min_by(|a, b| a.1.total_cmp(&b.1));
            prop_assert_eq!(near.nearest(p, off), nearest);
            let order: Vec<f64> = near.by_distance(p).map(|(d, ..)| d).collect();
            prop_assert!(order.is_sorted() && order.len() == segments.len());
        }
    }

    #[test]
    fn what_takes_no_room_is_nowhere() {
        let near = Near::from(vec![Vec::new(), vec![point(1.0, 1.0)]]);
        assert_eq!(near.len(), 2);
        assert_eq!(near.around([point(0.0, 0.0)], 10.0).map(|(i, _)| i).collect::<Vec<_>>(), [1]);
        assert_eq!(near.around([], 1e9).count(), 0);
        assert_eq!(near.nearest(point(0.0, 0.0), |c| distance(c[0], point(0.0, 0.0))).map(|n| n.0), Some(1));
    }
}
