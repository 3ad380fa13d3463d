//! A hash grid: what lies near a place is found without looking at all of it.

use crate::base::Point;
use crate::base::plane::distance;

/// Column and row of a cell.
pub type Cell = (i64, i64);

/// Items by cell. What lies side by side lies side by side in memory, too, so that going along an edge of a million
/// pieces takes no longer by piece than along one that fits into the processor's caches.
#[derive(Default)]
pub struct Grid {
    /// By [`place`]: one more than the last of the items whose cells have that place; 0 where there is none.
    last: Vec<u32>,
    items: Vec<Item>,
}

struct Item {
    cell: Mark,
    item: u32,
    /// The one before it in its place, as in [`Grid::last`].
    before: u32,
}

/// A cell as items carry it, in half the memory: no drawing has cells that are 4 thousand million apart.
type Mark = (u32, u32);

const fn mark((x, y): Cell) -> Mark {
    (x as u32, y as u32)
}

/// Places in the table for each item, at least: with two, most looks meet no item of another cell.
const PLACES_PER_ITEM: usize = 2;

/// How many places a table for so many items has.
fn places(items: usize) -> usize {
    (items * PLACES_PER_ITEM).next_power_of_two().max(64)
}

/// The place of a cell among `count`, a power of two. Blocks of 4 x 4 cells are thrown anywhere, the same on every machine;
/// the cells of one stay together, as many as one line of a cache holds.
const fn place((x, y): Mark, count: usize) -> usize {
    let mut z = ((x >> 2) as u64) << 32 | (y >> 2) as u64;
    // The finishing steps of splitmix64, a generator in the public domain: each bit of the input moves all of the output.
    z = (z ^ (z >> 30)).wrapping_mul(0xbf58_476d_1ce4_e5b9);
    z = (z ^ (z >> 27)).wrapping_mul(0x94d0_49bb_1331_11eb);
    z ^= z >> 31;
    (z ^ ((x & 3) << 2 | y & 3) as u64) as usize & count.wrapping_sub(1)
}

impl Grid {
    /// With room for so many items; more are taken, too.
    pub fn with_room(count: usize) -> Self {
        Self { last: vec![0; places(count)], items: Vec::with_capacity(count) }
    }

    /// Puts an item into a cell.
    pub fn put(&mut self, cell: Cell, item: usize) {
        self.items.push(Item { cell: mark(cell), item: u32::try_from(item).unwrap_or(u32::MAX), before: 0 });
        if self.items.len() * PLACES_PER_ITEM <= self.last.len() {
            self.link(self.items.len() - 1);
            return;
        }
        self.last = vec![0; places(self.items.len())];
        (0..self.items.len()).for_each(|i| self.link(i));
    }

    fn link(&mut self, i: usize) {
        let count = self.last.len();
        if let Some(item) = self.items.get_mut(i)
            && let Some(last) = self.last.get_mut(place(item.cell, count))
        {
            item.before = std::mem::replace(last, u32::try_from(i + 1).unwrap_or(0));
        }
    }

    /// The items of a cell, the last one first.
    pub fn at(&self, cell: Cell) -> impl Iterator<Item = usize> + '_ {
        let cell = mark(cell);
        let mut next = self.last.get(place(cell, self.last.len())).copied().unwrap_or(0);
        let in_place = std::iter::from_fn(move || {
            let item = self.items.get((next as usize).checked_sub(1)?)?;
            next = item.before;
            Some(item)
        });
        in_place.filter(move |i| i.cell == cell).map(|i| i.item as usize)
    }

    /// How many times something was put into a cell.
    pub const fn count(&self) -> usize {
        self.items.len()
    }
}

/// Which cell of a row a coordinate is in.
fn index(x: f64, size: f64) -> i64 {
    // Quicker than rounding down, for which not every processor has an instruction.
    let towards_zero = (x / size) as i64;
    towards_zero.saturating_sub(i64::from(towards_zero as f64 > x / size))
}

/// The cell of a point.
pub fn cell_of(p: Point, size: f64) -> Cell {
    (index(p.x, size), index(p.y, size))
}

/// Grid cells that a segment's box covers along its run: at each step of one cell in its longer direction, the cells
/// between the two heights there.
pub fn cells((a, b): (Point, Point), size: f64) -> impl Iterator<Item = Cell> + Clone {
    let steep = (b.y - a.y).abs() > (b.x - a.x).abs();
    let swap = |p: Point| if steep { (p.y, p.x) } else { (p.x, p.y) };
    let (mut p, mut q) = (swap(a), swap(b));
    if p.0 > q.0 {
        std::mem::swap(&mut p, &mut q);
    }
    let slope = if q.0 > p.0 { (q.1 - p.1) / (q.0 - p.0) } else { 0.0 };
    let rows = move |k: i64| {
        let at = |x: f64| p.1 + slope * (x.clamp(p.0, q.0) - p.0);
        let (y0, y1) = (at(k as f64 * size), at((k + 1) as f64 * size));
        (index(y0.min(y1), size)..=index(y0.max(y1), size)).map(move |m| if steep { (m, k) } else { (k, m) })
    };
    (index(p.0, size)..=index(q.0, size)).flat_map(rows)
}

/// Clusters of points that lie near each other, joined by union-find.
pub struct Nodes {
    parent: Vec<u32>,
}

impl Nodes {
    /// So many points, each by itself.
    pub fn separate(count: usize) -> Self {
        Self { parent: (0..u32::try_from(count).unwrap_or(u32::MAX)).collect() }
    }

    /// Points within `tolerance` of each other are one cluster.
    pub fn cluster(points: &[Point], tolerance: f64) -> Self {
        let mut nodes = Self::separate(points.len());
        // Cells so wide that most points are far from their borders and are looked for in one cell only.
        let size = (8.0 * tolerance).max(0.1);
        let mut grid = Grid::with_room(points.len());
        for (i, p) in points.iter().enumerate() {
            let aside = Point { x: tolerance, y: tolerance };
            let ((low_x, low_y), (high_x, high_y)) = (cell_of(*p - aside, size), cell_of(*p + aside, size));
            let mut heaped = false;
            for cell in (low_x..=high_x).flat_map(|x| (low_y..=high_y).map(move |y| (x, y))) {
                for j in grid.at(cell) {
                    let Some(q) = points.get(j).filter(|q| (q.x - p.x).abs() <= tolerance) else { continue };
                    let apart = distance(*p, *q);
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
        while let Some(p) = self.parent.get(root).map(|p| *p as usize).filter(|p| *p != root) {
            root = p;
        }
        let mut at = i;
        while let Some(p) = self.parent.get_mut(at).filter(|p| **p as usize != root) {
            at = std::mem::replace(p, root as u32) as usize;
        }
        root
    }

    /// Makes the clusters of two points one.
    pub fn union(&mut self, a: usize, b: usize) {
        let (a, b) = (self.find(a), self.find(b));
        if let Some(p) = self.parent.get_mut(a.max(b)) {
            *p = a.min(b) as u32;
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
        assert_eq!(grid.count(), 1000);
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
