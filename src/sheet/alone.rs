//! Drawings each on a sheet of its own, without a title block: for the shop, from any printer that takes the paper.

use std::sync::Arc;

use super::{Drawing, Page, View};
use crate::base::{Point, plane};
use crate::catalog::Paper;

/// Strip along the edges of a sheet that office printers leave white; common practice.
const EDGE_MM: f64 = 6.35;

/// Papers of a series by size, the smallest one first.
const SERIES: [[Paper; 4]; 2] =
    [[Paper::Letter, Paper::AnsiB, Paper::ArchC, Paper::ArchD], [Paper::A4, Paper::A3, Paper::A2, Paper::A1]];

/// Each drawing at its scale in the middle of a sheet: of that paper, or of the next larger one of its series on which the
/// drawing fits; lying, or standing where it fits only so. One that fits on none gets a sheet of its own size.
pub fn alone(drawings: Vec<Drawing>, paper: Paper) -> Vec<Page> {
    drawings.into_iter().enumerate().map(|(index, drawing)| page(index + 1, drawing, paper)).collect()
}

fn page(number: usize, drawing: Drawing, paper: Paper) -> Page {
    let title = drawing.title.clone();
    let number = format!("R{number}");
    let wide = View::whole(Arc::new(drawing), plane::point(0.0, 0.0));
    let size = size(wide.size(), paper);
    let view = View { at: (size - wide.size()) / 2.0, ..wide };
    let ink = Drawing {
        name: number.clone(),
        title: title.clone(),
        paper: 1.0,
        low: plane::point(0.0, 0.0),
        high: size,
        parts: Vec::new(),
        items: Vec::new(),
    };
    Page { number, title, size, ink, views: vec![view] }
}

/// The sheet for a drawing of that size on paper.
fn size(drawing: Point, paper: Paper) -> Point {
    let needed = drawing + plane::point(2.0 * EDGE_MM, 2.0 * EDGE_MM);
    let series = SERIES.into_iter().find(|series| series.contains(&paper));
    let large_enough = series.into_iter().flatten().skip_while(|other| *other != paper);
    let mut both_ways = large_enough.flat_map(|paper| {
        let (short, long) = paper.sides_mm();
        [plane::point(long, short), plane::point(short, long)]
    });
    both_ways.find(|s| needed.x <= s.x && needed.y <= s.y).unwrap_or(needed)
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::base::plane::point;

    fn sheet_of(width: f64, height: f64, paper: Paper) -> (f64, f64) {
        let size = size(point(width, height), paper);
        let rounded = |mm: f64| (mm * 1e6).round() / 1e6;
        (rounded(size.x), rounded(size.y))
    }

    #[test]
    fn a_drawing_lies_on_the_first_paper_of_the_series_that_holds_it() {
        assert_eq!(sheet_of(250.0, 190.0, Paper::Letter), (279.4, 215.9));
        assert_eq!(sheet_of(190.0, 250.0, Paper::Letter), (215.9, 279.4), "standing where it fits only so");
        assert_eq!(sheet_of(300.0, 250.0, Paper::Letter), (431.8, 279.4), "the next larger one");
        assert_eq!(sheet_of(300.0, 250.0, Paper::ArchC), (609.6, 457.2), "never a smaller one than the job says");
        assert_eq!(sheet_of(190.0, 250.0, Paper::A4), (210.0, 297.0));
        assert_eq!(sheet_of(600.0, 410.0, Paper::A4), (841.0, 594.0), "not one of the other series");
        // Its margins are needed: 215.9 - 2 x 6.35 = 203.2.
        assert_eq!(sheet_of(203.2, 100.0, Paper::Letter).0, 279.4);
        assert_eq!(sheet_of(100.0, 203.3, Paper::Letter).0, 215.9);
        assert_eq!(sheet_of(2000.0, 100.0, Paper::A1), (2012.7, 112.7), "one of its own size");
    }

    #[test]
    fn a_drawing_stands_in_the_middle_at_its_scale() {
        let (low, high) = (point(-100.0, 50.0), point(1100.0, 1250.0));
        let name = "S1".to_owned();
        let drawing = Drawing {
            title: "Panel S1".to_owned(),
            name,
            paper: 12.0,
            low,
            high,
            parts: Vec::new(),
            items: Vec::new(),
        };
        let pages = alone(vec![drawing.clone(), drawing], Paper::Letter);
        assert_eq!(pages.iter().map(|p| p.number.as_str()).collect::<Vec<_>>(), ["R1", "R2"]);
        let [page, _] = pages.as_slice() else { panic!("{pages:?}") };
        let view = &page.views[0];
        assert!(!view.is_part() && view.drawing.paper == 12.0);
        let middle = view.on_paper(point(500.0, 650.0));
        assert!((middle.x - 279.4 / 2.0).abs() < 1e-9 && (middle.y - 215.9 / 2.0).abs() < 1e-9, "{middle:?}");
    }
}
