//! A list whose things are found by where they lie, without looking at all of them.

use std::ops::Deref;

use rstar::primitives::{GeomWithData, Rectangle};
use rstar::{AABB, RTree};

use super::Point;
use super::plane::bounds;

/// Widens the place of a search, so that rounding hides nothing; whoever asks measures for itself.
const SLACK_MM: f64 = 1e-3;

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

/// A box from its corners, `reach` wider on all sides.
pub fn widened((low, high): (Point, Point), reach: f64) -> AABB<[f64; 2]> {
    AABB::from_corners([low.x - reach, low.y - reach], [high.x + reach, high.y + reach])
}

/// A list in its order, with an R-tree over the boxes of its things.
#[derive(Debug, Clone)]
pub struct Near<T> {
    list: Vec<T>,
    tree: RTree<Boxed>,
}

impl<T: Extent> From<Vec<T>> for Near<T> {
    fn from(list: Vec<T>) -> Self {
        let boxed = |(i, thing): (usize, &T)| {
            bounds(thing.extent()).map(|corners| Boxed::new(Rectangle::from_aabb(widened(corners, 0.0)), i))
        };
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
        let asked = bounds(points).map(|corners| widened(corners, reach + SLACK_MM));
        let found = asked.iter().flat_map(|b| self.tree.locate_in_envelope_intersecting(b));
        let mut numbers: Vec<usize> = found.map(|boxed| boxed.data).collect();
        numbers.sort_unstable();
        numbers.into_iter().filter_map(|i| Some((i, self.list.get(i)?)))
    }

    /// All of it by the distance of its box from a point, nearest first: the distance, the number and the thing.
    pub fn by_distance(&self, from: Point) -> impl Iterator<Item = (f64, usize, &T)> {
        let boxes = self.tree.nearest_neighbor_iter_with_distance_2(&[from.x, from.y]);
        boxes.filter_map(|(boxed, squared)| Some((squared.sqrt(), boxed.data, self.list.get(boxed.data)?)))
    }

    /// The nearest one by a `distance` from a point that is not less than that of its box: that distance, the number and the
    /// thing. Of several equally near, the first in the list.
    pub fn nearest(&self, from: Point, distance: impl Fn(&T) -> f64) -> Option<(f64, usize, &T)> {
        let mut best: Option<(f64, usize, &T)> = None;
        for (least, i, thing) in self.by_distance(from) {
            if best.is_some_and(|(d, ..)| least > d + SLACK_MM) {
                break;
            }
            let d = distance(thing);
            if best.is_none_or(|(least, first, _)| (d, i) < (least, first)) {
                best = Some((d, i, thing));
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
            let nearest = all.map(|(i, s)| (off(s), i, s)).min_by(|a, b| a.0.total_cmp(&b.0));
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
        assert_eq!(near.nearest(point(0.0, 0.0), |c| distance(c[0], point(0.0, 0.0))).map(|n| n.1), Some(1));
    }
}
