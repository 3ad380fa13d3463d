//! A hash grid: what lies near a place is found without looking at all of it.

use std::collections::HashMap;
use std::hash::{BuildHasherDefault, Hasher};

use crate::base::Point;
use crate::base::plane::distance;

/// Column and row of a cell.
pub type Cell = (i64, i64);

/// Mixes the two numbers of a cell; the same on every machine, and the order of a map is never iterated.
#[derive(Default)]
struct Mix(u64);

impl Hasher for Mix {
    fn finish(&self) -> u64 {
        // The finishing steps of splitmix64, a generator in the public domain: each bit of the input moves all of the
        // output.
        let mut z = self.0;
        z = (z ^ (z >> 30)).wrapping_mul(0xbf58_476d_1ce4_e5b9);
        z = (z ^ (z >> 27)).wrapping_mul(0x94d0_49bb_1331_11eb);
        z ^ (z >> 31)
    }

    fn write(&mut self, bytes: &[u8]) {
        for byte in bytes {
            self.write_i64(i64::from(*byte));
        }
    }

    fn write_i64(&mut self, n: i64) {
        self.0 = self.0.wrapping_mul(0x9e37_79b9_7f4a_7c15).wrapping_add(n.cast_unsigned()).rotate_left(26);
    }
}

/// Items by cell: of each cell the last item, and of each item the one before it in its cell. Nothing is allocated for a
/// cell alone.
#[derive(Default)]
pub struct Grid {
    last: HashMap<Cell, u32, BuildHasherDefault<Mix>>,
    items: Vec<(u32, Option<u32>)>,
}

impl Grid {
    /// Puts an item into a cell.
    pub fn put(&mut self, cell: Cell, item: usize) {
        let index = u32::try_from(self.items.len()).unwrap_or(u32::MAX);
        let before = self.last.insert(cell, index);
        self.items.push((u32::try_from(item).unwrap_or(u32::MAX), before));
    }

    /// The items of a cell, the last one first.
    pub fn at(&self, cell: Cell) -> impl Iterator<Item = usize> + '_ {
        let mut next = self.last.get(&cell).copied();
        std::iter::from_fn(move || {
            let (item, before) = self.items.get(next? as usize)?;
            next = *before;
            Some(*item as usize)
        })
    }

    /// How many cells hold something.
    pub fn cells(&self) -> usize {
        self.last.len()
    }
}

/// The cell of a point.
pub fn cell_of(p: Point, size: f64) -> Cell {
    ((p.x / size).floor() as i64, (p.y / size).floor() as i64)
}

/// Grid cells that a segment's box covers along its run: at each step of one cell in its longer direction, the cells
/// between the two heights there.
pub fn cells((a, b): (Point, Point), size: f64) -> Vec<Cell> {
    let steep = (b.y - a.y).abs() > (b.x - a.x).abs();
    let swap = |p: Point| if steep { (p.y, p.x) } else { (p.x, p.y) };
    let (mut p, mut q) = (swap(a), swap(b));
    if p.0 > q.0 {
        std::mem::swap(&mut p, &mut q);
    }
    let slope = if q.0 > p.0 { (q.1 - p.1) / (q.0 - p.0) } else { 0.0 };
    let index = |x: f64| (x / size).floor() as i64;
    let mut out = Vec::new();
    for k in index(p.0)..=index(q.0) {
        let at = |x: f64| p.1 + slope * (x.clamp(p.0, q.0) - p.0);
        let (y0, y1) = (at(k as f64 * size), at((k + 1) as f64 * size));
        for m in index(y0.min(y1))..=index(y0.max(y1)) {
            out.push(if steep { (m, k) } else { (k, m) });
        }
    }
    out
}

/// Clusters of points that lie near each other, joined by union-find.
pub struct Nodes {
    parent: Vec<usize>,
}

impl Nodes {
    /// So many points, each by itself.
    pub fn separate(count: usize) -> Self {
        Self { parent: (0..count).collect() }
    }

    /// Points within `tolerance` of each other are one cluster.
    pub fn cluster(points: &[Point], tolerance: f64) -> Self {
        let mut nodes = Self::separate(points.len());
        // Cells so wide that most points are far from their borders and are looked for in one cell only.
        let size = (8.0 * tolerance).max(0.1);
        let mut grid = Grid::default();
        for (i, p) in points.iter().enumerate() {
            let aside = Point { x: tolerance, y: tolerance };
            let ((low_x, low_y), (high_x, high_y)) = (cell_of(*p - aside, size), cell_of(*p + aside, size));
            let mut heaped = false;
            for cell in (low_x..=high_x).flat_map(|x| (low_y..=high_y).map(move |y| (x, y))) {
                for j in grid.at(cell) {
                    let apart = points.get(j).map_or(f64::INFINITY, |q| distance(*p, *q));
                    if apart <= tolerance {
                        nodes.union(i, j);
                        // Points heaped in one place need only one to be found by: all of a heap are one node already.
                        heaped |= apart <= tolerance / 8.0;
                    }
                    if heaped {
                        break;
                    }
                }
            }
            if !heaped {
                grid.put(cell_of(*p, size), i);
            }
        }
        nodes
    }

    /// The cluster that a point is in, by the number of its first point.
    pub fn find(&mut self, i: usize) -> usize {
        let mut root = i;
        while let Some(p) = self.parent.get(root).copied().filter(|p| *p != root) {
            root = p;
        }
        let mut at = i;
        while let Some(p) = self.parent.get_mut(at).filter(|p| **p != root) {
            at = std::mem::replace(p, root);
        }
        root
    }

    /// Makes the clusters of two points one.
    pub fn union(&mut self, a: usize, b: usize) {
        let (a, b) = (self.find(a), self.find(b));
        if let Some(p) = self.parent.get_mut(a.max(b)) {
            *p = a.min(b);
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::base::plane::point;

    #[test]
    fn a_cell_gives_back_what_was_put_there() {
        let mut grid = Grid::default();
        for i in 0..1000_usize {
            grid.put((i as i64 % 10, -(i as i64 % 7)), i);
        }
        assert_eq!(grid.cells(), 70);
        let found: Vec<usize> = grid.at((3, -2)).collect();
        assert_eq!(found.len(), 1000 / 70 + usize::from(1000 % 70 > 23));
        assert!(found.iter().all(|i| i % 10 == 3 && i % 7 == 2) && found.is_sorted_by(|a, b| a > b));
        assert_eq!(grid.at((11, 0)).count(), 0);
    }

    #[test]
    fn points_cluster_across_the_borders_of_cells() {
        let mut points: Vec<_> = (-50..50).map(|i| point(f64::from(i) * 3.7, f64::from(i) * -1.3)).collect();
        let moved: Vec<_> = points.iter().map(|p| *p + point(0.7, -0.7)).collect();
        points.extend(moved);
        let mut nodes = Nodes::cluster(&points, 1.0);
        for i in 0..100 {
            assert_eq!(nodes.find(i), nodes.find(i + 100));
            assert!(i == 0 || nodes.find(i) != nodes.find(i - 1));
        }
        let heap = vec![point(5.0, 5.0); 100_000];
        let mut nodes = Nodes::cluster(&heap, 1.0);
        assert_eq!(nodes.find(99_999), 0);
    }
}
