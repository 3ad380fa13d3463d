//! How much room a text takes, before any font is at hand: widths by character, and the box that a text fills.

use crate::base::{Angle, Measure, Point, decimal, feet_inches, plane};
use crate::base::{Length, Unit};

use super::{Align, TextSpec, VAlign};

/// Advance widths of the characters from space to tilde, in hundredths of the capitals' height: those of `DejaVu Sans
/// Condensed` (its `hmtx` table, rounded up), the face that the drawings name first. Most condensed faces run narrower.
const WIDTHS: [u8; 95] = [
    40, 50, 57, 104, 79, 118, 97, 34, 49, 49, 62, 104, 40, 45, 40, 42, 79, 79, 79, 79, 79, 79, 79, 79, 79, 79, 42, 42,
    104, 104, 104, 66, 124, 85, 85, 87, 96, 78, 71, 96, 93, 37, 37, 81, 69, 107, 93, 98, 75, 98, 86, 79, 76, 91, 85,
    123, 85, 76, 85, 49, 42, 49, 104, 62, 62, 76, 79, 68, 79, 76, 44, 79, 79, 35, 35, 72, 35, 121, 79, 76, 79, 79, 51,
    65, 49, 79, 74, 101, 74, 74, 65, 79, 42, 79, 104,
];

/// Room for a character that is not in the table: an em of most faces.
const OTHER: f64 = 1.4;

/// Bold faces run wider by about an eighth on average (same font, its bold face: 1.12).
const BOLD: f64 = 1.15;

/// How far letters reach below the base line and, with their accents, above the capitals, in capital heights.
const DESCENT: f64 = 0.3;

/// Width of a line of text whose capitals are `height` high, in the same unit.
pub(super) fn width(content: &str, height: f64, bold: bool) -> f64 {
    content.chars().map(advance).sum::<f64>() * height * if bold { BOLD } else { 1.0 }
}

/// Width of a character whose capitals are 1 high.
fn advance(c: char) -> f64 {
    let index = u32::from(c).checked_sub(32).and_then(|i| usize::try_from(i).ok());
    index.and_then(|i| WIDTHS.get(i)).map_or(OTHER, |w| f64::from(*w) / 100.0)
}

/// A text that is too wide for `room`, cut short in one pass, with dots for what is gone; at least its first character stays.
/// A text of four characters is as short as one with dots, and stays.
pub(super) fn cut(content: &str, height: f64, bold: bool, room: f64) -> String {
    let count = content.chars().count();
    if count <= 4 {
        return content.to_owned();
    }
    let scale = height * if bold { BOLD } else { 1.0 };
    let mut wide = 0.0;
    let fits = |c: char| {
        wide += advance(c);
        "...".chars().map(advance).fold(wide, |sum, dot| sum + dot) * scale <= room
    };
    let kept = content.chars().map(fits).take_while(|fits| *fits).count().clamp(1, count - 4);
    content.chars().take(kept).chain("...".chars()).collect()
}

/// Breaks a bold text into lines, likewise.
pub(super) fn wrap_bold(content: &str, height: f64, room: f64) -> Vec<String> {
    wrap(content, height, room / BOLD)
}

/// Breaks a text into lines no wider than `room`, at spaces; a single longer word is cut.
pub(super) fn wrap(content: &str, height: f64, room: f64) -> Vec<String> {
    let mut lines = Vec::new();
    let mut line = String::new();
    // Widths of the line's characters, summed up from its first one on as `width` does.
    let mut wide = 0.0;
    for word in content.split_whitespace() {
        let gap = if line.is_empty() { "" } else { " " };
        let longer = gap.chars().chain(word.chars()).map(advance).fold(wide, |sum, c| sum + c);
        if longer * height <= room {
            line.push_str(gap);
            line.push_str(word);
            wide = longer;
            continue;
        }
        if !line.is_empty() {
            lines.push(std::mem::take(&mut line));
        }
        wide = 0.0;
        for c in word.chars() {
            if (wide + advance(c)) * height > room && !line.is_empty() {
                lines.push(std::mem::take(&mut line));
                wide = 0.0;
            }
            line.push(c);
            wide += advance(c);
        }
    }
    if !line.is_empty() || lines.is_empty() {
        lines.push(line);
    }
    lines
}

/// A size that is not on the mark grid (a drill, a section) without rounding it to another one: inches when it is a
/// whole number of 64ths, millimetres otherwise.
pub fn size_text(measure: &Measure, length: Length) -> String {
    let step = Unit::Inch.nanometres() / 64;
    if measure.unit.is_imperial() && length.nanometres() % step == 0 {
        feet_inches(length, 64)
    } else {
        format!("{} mm", decimal(length.millimetres(), 3))
    }
}

/// A rectangle in any direction.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct Area {
    /// Middle.
    pub centre: Point,
    /// Direction of its length.
    pub along: Point,
    /// Half its length.
    pub half_length: f64,
    /// Half its breadth.
    pub half_breadth: f64,
}

impl Area {
    /// An area of a length and breadth about a middle.
    pub(super) fn new(centre: Point, along: Point, length: f64, breadth: f64) -> Self {
        Self { centre, along, half_length: length / 2.0, half_breadth: breadth / 2.0 }
    }

    /// A line with some breadth.
    pub(super) fn of_line(a: Point, b: Point, breadth: f64) -> Self {
        let along = if plane::distance(a, b) > 0.0 { plane::unit(b - a) } else { plane::point(1.0, 0.0) };
        Self::new((a + b) / 2.0, along, plane::distance(a, b), breadth)
    }

    /// What a text fills, from its base line to the top of its capitals.
    pub(super) fn of_text(text: &TextSpec) -> Self {
        let length = width(&text.content, text.height, text.bold);
        let x = match text.anchor.align {
            Align::Left => length / 2.0,
            Align::Centre => 0.0,
            Align::Right => -length / 2.0,
        };
        let y = match text.anchor.valign {
            VAlign::Base => text.height / 2.0,
            VAlign::Middle => 0.0,
            VAlign::Top => -text.height / 2.0,
        };
        let along = plane::direction(text.rotation);
        Self::new(text.at + along * x + plane::left(along) * y, along, length, text.height)
    }

    /// The same with what hangs below the base line, as far as ink can reach.
    pub(super) fn with_descent(self) -> Self {
        self.grown(0.0, 2.0 * self.half_breadth * DESCENT)
    }

    /// Larger all round.
    pub(super) fn grown(self, along: f64, across: f64) -> Self {
        Self { half_length: self.half_length + along, half_breadth: self.half_breadth + across, ..self }
    }

    /// Its four corners.
    pub(super) fn corners(&self) -> [Point; 4] {
        let (u, v) = (self.along * self.half_length, plane::left(self.along) * self.half_breadth);
        [self.centre - u - v, self.centre + u - v, self.centre + u + v, self.centre - u + v]
    }

    /// How far it reaches from its middle in a direction.
    pub(super) fn reach(&self, direction: Point) -> f64 {
        self.half_length * plane::dot(self.along, direction).abs()
            + self.half_breadth * plane::dot(plane::left(self.along), direction).abs()
    }

    /// Whether two share any room (by the separating axis theorem); touching along an edge is not sharing.
    pub(super) fn overlaps(&self, other: &Self) -> bool {
        const TOUCH_MM: f64 = 1e-6;
        let apart = other.centre - self.centre;
        let size = |a: &Self| a.half_length + a.half_breadth;
        if apart.x.abs().max(apart.y.abs()) > size(self) + size(other) {
            return false;
        }
        [self.along, plane::left(self.along), other.along, plane::left(other.along)]
            .into_iter()
            .all(|axis| plane::dot(apart, axis).abs() < self.reach(axis) + other.reach(axis) - TOUCH_MM)
    }
}

/// The direction in which a text along a line is read: from below or from the right.
pub(super) fn readable(angle: Angle) -> Angle {
    // A hair under the right angle still counts as upright, so that rounding cannot turn a vertical text over.
    let turned = angle.folded(Angle::from_degrees(180.0));
    if turned.degrees() < -89.99 { Angle::from_degrees(turned.degrees() + 180.0) } else { turned }
}

#[cfg(test)]
mod tests {
    use super::super::Anchor;
    use super::*;
    use crate::base::{Mark, plane::point};

    #[test]
    fn a_turned_area_meets_only_what_it_covers() {
        let flat = Area::new(point(0.0, 0.0), point(1.0, 0.0), 10.0, 2.0);
        let slanted = Area::new(point(6.0, 3.0), plane::direction(Angle::from_degrees(-45.0)), 8.0, 1.0);
        // Their upright bounding boxes meet, they do not.
        assert!(!flat.overlaps(&slanted));
        assert!(flat.overlaps(&Area { centre: point(4.5, 1.5), ..slanted }));
        assert!(!flat.overlaps(&Area { centre: point(0.0, 2.0), ..flat }), "side by side");
    }

    #[test]
    fn text_boxes_follow_the_anchor() {
        let text = TextSpec {
            at: point(0.0, 0.0),
            height: 2.0,
            rotation: Angle::from_degrees(90.0),
            anchor: Anchor { align: Align::Left, valign: VAlign::Base },
            content: "00".to_owned(),
            bold: false,
        };
        let area = Area::of_text(&text);
        assert!((area.centre.x + 1.0).abs() < 1e-9 && (area.centre.y - 1.58).abs() < 1e-9, "{area:?}");
    }

    #[test]
    fn wrapping_keeps_every_word_and_the_room() {
        let text = "Check every opening on site before cutting, supercalifragilisticexpialidocious too";
        let lines = wrap(text, 2.5, 40.0);
        assert!(lines.iter().all(|l| width(l, 2.5, false) <= 40.0), "{lines:?}");
        let letters = |s: &str| s.chars().filter(|c| !c.is_whitespace()).collect::<String>();
        assert_eq!(letters(&lines.concat()), letters(text));
    }

    /// Against cutting one character after the other.
    #[test]
    fn a_text_is_cut_as_far_as_it_fits() {
        let text = "Lakeside terrace, north stair and upper deck, phase 2";
        for room in (0..120).map(f64::from) {
            let mut slow = text.to_owned();
            while width(&slow, 2.5, true) > room && slow.chars().count() > 4 {
                let kept = slow.chars().count() - 4;
                slow = slow.chars().take(kept).chain("...".chars()).collect();
            }
            if width(text, 2.5, true) > room {
                assert_eq!(cut(text, 2.5, true, room), slow, "{room}");
            }
        }
        assert_eq!(cut("abcd", 2.5, false, 0.0), "abcd");
        assert_eq!(cut(&"a".repeat(10_000_000), 2.5, false, 0.0), "a...");
    }

    #[test]
    fn a_drill_size_is_never_rounded_to_another() {
        let inch = Measure { unit: Unit::Inch, mark: Mark::SIXTEENTH };
        let text = |s: &str| size_text(&inch, Length::parse(s, None).unwrap());
        assert_eq!(text("5/32in"), "5/32\"");
        assert_eq!(text("4mm"), "4 mm");
        let metric = Measure { unit: Unit::Millimetre, mark: Mark::MILLIMETRE };
        assert_eq!(size_text(&metric, Length::parse("5/32in", None).unwrap()), "3.969 mm");
    }

    #[test]
    fn texts_are_read_from_below_or_from_the_right() {
        for (given, read) in [(0.0, 0.0), (180.0, 0.0), (-90.0, 90.0), (90.0, 90.0), (135.0, -45.0), (-135.0, 45.0)] {
            let got = readable(Angle::from_degrees(given)).degrees();
            assert!((got - read).abs() < 1e-9, "{given}: {got}");
        }
    }
}
