//! Linear dimensions: extension lines, dimension line, oblique ticks and text, each at its final place.

use crate::base::{Length, Point, plane};

use super::Dimension;
use super::board::Board;
use super::text;

/// How far an extension line runs past the dimension line, paper mm.
const OVERSHOOT_MM: f64 = 1.2;
/// Length of the oblique tick, paper mm.
const TICK_MM: f64 = 2.0;
/// Clear space between a text and the line under it, paper mm.
const TEXT_GAP_MM: f64 = 0.9;
/// Clear space at each end of a text between two ticks, paper mm.
const SIDE_GAP_MM: f64 = 0.8;

/// What is dimensioned, and where its line runs.
#[derive(Debug, Clone)]
pub(super) struct Linear {
    /// First measured point.
    pub from: Point,
    /// Second measured point.
    pub to: Point,
    /// Unit vector, square to the measured direction, on the side of the dimension line.
    pub side: Point,
    /// Where the extension lines begin, as a distance from the points along `side`.
    pub clear: f64,
    /// Where the dimension line runs, likewise.
    pub offset: f64,
    /// Text.
    pub text: String,
}

/// Where the text stands.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) enum TextPlace {
    /// On the reading side of the line, its middle this far from the line's middle (positive along the reading).
    Above(f64),
    /// Beyond the line, clear of the extension lines' ends, likewise.
    Beyond(f64),
    /// Outside the first tick, over a prolonged line.
    Before,
    /// Outside the second tick, over a prolonged line.
    After,
}

impl Linear {
    /// Length of the dimension line.
    pub(super) fn length(&self) -> f64 {
        plane::distance(self.from, self.to)
    }

    /// Whether the text fits between the ticks.
    pub(super) fn fits(&self, board: &Board) -> bool {
        text::width(&self.text, board.height(), false) + 2.0 * board.mm(SIDE_GAP_MM) <= self.length()
    }

    /// How far a text on the reading side can slide from the middle and stay between the ticks.
    pub(super) fn slack(&self, board: &Board) -> f64 {
        let room = self.length() - text::width(&self.text, board.height(), false) - 2.0 * board.mm(SIDE_GAP_MM);
        (room / 2.0).max(0.0)
    }

    /// The finished dimension.
    pub(super) fn build(&self, board: &Board, place: TextPlace) -> Dimension {
        let along = plane::unit(self.to - self.from);
        let angle = text::readable(plane::angle_of(along));
        let read = plane::direction(angle);
        let up = plane::left(read);
        let (a, b) = (self.from + self.side * self.offset, self.to + self.side * self.offset);
        let height = board.height();
        let width = text::width(&self.text, height, false);
        let (gap, past) = (board.mm(TEXT_GAP_MM), board.mm(OVERSHOOT_MM));
        let outside = board.mm(SIDE_GAP_MM + TICK_MM / 2.0);
        let above = up * (gap + height / 2.0);
        let middle = (a + b) / 2.0;
        let (mut first, mut last) = (a, b);
        let text_at = match place {
            TextPlace::Above(slide) => middle + above + read * slide,
            TextPlace::Beyond(slide) => middle + self.side * (past + gap + height / 2.0) + read * slide,
            TextPlace::Before => {
                first = a - along * (outside + width);
                a - along * (outside + width / 2.0) + above
            }
            TextPlace::After => {
                last = b + along * (outside + width);
                b + along * (outside + width / 2.0) + above
            }
        };
        let mut strokes = vec![
            (self.from + self.side * self.clear, a + self.side * past),
            (self.to + self.side * self.clear, b + self.side * past),
            (first, last),
        ];
        let tick = plane::unit(read + up) * (board.mm(TICK_MM) / 2.0);
        strokes.extend([a, b].map(|p| (p - tick, p + tick)));
        Dimension {
            from: self.from,
            to: self.to,
            line: middle,
            angle,
            height,
            text: self.text.clone(),
            text_at,
            strokes,
        }
    }

    /// Puts it on the board: text between the ticks if it fits there, else where `otherwise` says.
    pub(super) fn draw(&self, board: &mut Board, otherwise: TextPlace) {
        let place = if self.fits(board) { TextPlace::Above(0.0) } else { otherwise };
        let finished = self.build(board, place);
        board.dimension(finished);
    }
}

/// A distance measured on the drawing as an exact length; what is not finite measures nothing.
pub(super) fn measured(a: Point, b: Point) -> Length {
    Length::from_millimetres(plane::distance(a, b)).unwrap_or_default()
}

/// Spreads texts that want to stand at `wanted` (ascending) so that neighbours are `gap` apart, moving each as little
/// as it takes: neighbours that would touch form a group that is centred over its wishes.
pub(super) fn spread(wanted: &[f64], gap: f64) -> Vec<f64> {
    // Groups of texts `gap` apart: the first text's place, which is the mean of what its members want, and their count.
    let mut groups: Vec<(f64, u32)> = Vec::new();
    for want in wanted {
        let mut next = (*want, 1);
        while let Some((start, count)) = groups.pop_if(|(start, count)| *start + f64::from(*count) * gap > next.0) {
            let (mine, theirs) = (f64::from(count), f64::from(next.1));
            let wish = next.0 - mine * gap;
            next = ((start * mine + wish * theirs) / (mine + theirs), count + next.1);
        }
        groups.push(next);
    }
    let places = |(start, count): (f64, u32)| (0..count).map(move |i| start + f64::from(i) * gap);
    groups.into_iter().flat_map(places).collect()
}

#[cfg(test)]
mod tests {
    use super::super::text::Area;
    use super::*;
    use crate::base::plane::point;

    fn flat(length: f64, text: &str) -> Linear {
        Linear {
            from: point(0.0, 0.0),
            to: point(length, 0.0),
            side: point(0.0, -1.0),
            clear: 1.0,
            offset: 9.0,
            text: text.to_owned(),
        }
    }

    #[test]
    fn text_stands_over_the_line_and_the_line_where_it_was_wanted() {
        let board = Board::new(1.0, 2.0);
        let d = flat(50.0, "50").build(&board, TextPlace::Above(0.0));
        assert_eq!(d.line, point(25.0, -9.0));
        assert_eq!(d.text_at, point(25.0, -9.0 + 0.9 + 1.0));
        assert_eq!(d.strokes.len(), 5);
        assert_eq!(d.strokes.first(), Some(&(point(0.0, -1.0), point(0.0, -10.2))));
    }

    #[test]
    fn a_short_dimension_has_its_text_outside() {
        let board = Board::new(1.0, 2.0);
        let short = flat(4.0, "4-1/2");
        assert!(!short.fits(&board));
        let d = short.build(&board, TextPlace::After);
        assert!(Area::of_text(&d.text_spec()).corners().iter().all(|p| p.x > 4.0));
    }

    #[test]
    fn spreading_keeps_order_and_distance_and_moves_little() {
        assert_eq!(spread(&[0.0, 10.0], 3.0), [0.0, 10.0]);
        assert_eq!(spread(&[0.0, 1.0], 3.0), [-1.0, 2.0]);
        assert_eq!(spread(&[0.0, 4.0, 5.0, 20.0], 3.0), [0.0, 3.0, 6.0, 20.0]);
        // The pair pushes a third text that was free before.
        let got = spread(&[0.0, 3.0, 3.0, 3.0], 3.0);
        assert!(got.windows(2).all(|w| w[1] - w[0] >= 3.0 - 1e-9), "{got:?}");
        assert!((got.iter().sum::<f64>() - 9.0).abs() < 1e-9, "moved evenly: {got:?}");
    }
}
