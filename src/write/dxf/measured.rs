//! What a CAD program will show for a dimension of ours: our text stands in its place only where the two differ, so
//! that a dimension stretched by the user still tells the truth wherever that is possible.

use crate::base::plane::{direction, dot};
use crate::base::{Angle, Point, Unit, decimal};
use crate::cad::Version;
use crate::sheet::Dimension;

/// The measured distance, full-scale mm.
pub(super) fn distance(dimension: &Dimension) -> f64 {
    dot(dimension.to - dimension.from, direction(dimension.angle)).abs()
}

/// Where the dimension line meets the second extension line.
pub(super) fn foot(dimension: &Dimension) -> Point {
    let along = direction(dimension.angle);
    dimension.line + along * dot(dimension.to - dimension.line, along)
}

/// Direction of the text: along the dimension line, readable from below or from the right.
pub(super) fn text_angle(angle: Angle) -> Angle {
    let folded = angle.folded(Angle::from_degrees(180.0));
    // A hair beyond upright must not turn the text over.
    if folded.degrees() < -90.0 + 1e-6 { folded + Angle::from_degrees(180.0) } else { folded }
}

/// The text to write into the dimension: none where the CAD program shows the same by itself, as with millimetres from
/// R2000 on (before, a dimension style does not say how lengths are shown). Feet and inches are shown differently from
/// program to program, and a sheet must show them in one way.
pub(super) fn text_instead(dimension: &Dimension, unit: Unit, version: Version) -> Option<&str> {
    match dimension.text.as_str() {
        // An empty text would mean the measured one; a blank shows nothing.
        "" => Some(" "),
        text if version >= Version::R2000 && !unit.is_imperial() && text == decimal(distance(dimension), 1) => None,
        text => Some(text),
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::base::plane::point;

    fn dimension(mm: f64, degrees: f64, text: &str) -> Dimension {
        let angle = Angle::from_degrees(degrees);
        Dimension {
            from: point(10.0, 20.0),
            to: point(10.0, 20.0) + direction(angle) * mm + direction(angle + Angle::from_degrees(90.0)) * 7.0,
            line: point(0.0, 500.0),
            angle,
            height: 100.0,
            text: text.to_owned(),
            text_at: point(0.0, 0.0),
            strokes: Vec::new(),
        }
    }

    #[test]
    fn measures_along_its_own_direction() {
        for degrees in [0.0, 30.0, 90.0, 200.0] {
            let d = dimension(1234.5, degrees, "");
            assert!((distance(&d) - 1234.5).abs() < 1e-9);
            let foot = foot(&d);
            assert!(dot(foot - d.to, direction(d.angle)).abs() < 1e-9);
            let along = foot - d.line;
            assert!((along.x * d.angle.radians().sin() - along.y * d.angle.radians().cos()).abs() < 1e-9);
        }
    }

    /// The form of DIMLUNIT 2 with DIMZIN 8 (DXF reference, dimension variables).
    #[test]
    fn our_text_is_written_only_where_the_measured_one_differs() {
        let foot = Unit::Foot.millimetres();
        for (mm, unit, text, instead) in [
            (7.25 * foot, Unit::Inch, "5'-3\"", Some("5'-3\"")),
            (10.0 * foot, Unit::Foot, "10'-0\"", Some("10'-0\"")),
            (3.5 * 25.4, Unit::Inch, "3-1/2\"", Some("3-1/2\"")),
            (7.25 * foot, Unit::Inch, "63\"", Some("63\"")),
            (2210.0, Unit::Millimetre, "2210", None),
            (2210.46, Unit::Metre, "2210.5", None),
            (2210.0, Unit::Millimetre, "2211", Some("2211")),
            (2210.0, Unit::Millimetre, "", Some(" ")),
        ] {
            let dimension = dimension(mm, 0.0, text);
            assert_eq!(text_instead(&dimension, unit, Version::R2000), instead, "{mm} {text}");
            assert!(text_instead(&dimension, unit, Version::R14).is_some(), "{mm} {text}");
        }
    }

    #[test]
    fn text_is_readable_from_below_or_from_the_right() {
        for (given, text) in
            [(0.0, 0.0), (180.0, 0.0), (90.0, 90.0), (270.0, 90.0), (135.0, -45.0), (90.000_000_1, 90.0)]
        {
            let got = text_angle(Angle::from_degrees(given)).degrees();
            assert!((got - text).abs() < 1e-6, "{given}: {got}");
        }
    }
}
