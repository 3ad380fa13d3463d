//! Sizes of post blocks that stand in their attributes.

use crate::base::{Code, Finding, Length, Place, Unit, decimal};
use crate::cad::Insert;

use super::posts::SIDE_MM;

/// Tags that hold the side of a post, the surest first.
const TAGS: [&str; 3] = ["SIZE", "SIDE", "WIDTH"];

/// What is drawn may be off what is written by so much (0.1 mm) before that is worth a word.
const SAME_MM: f64 = 0.1;

/// Side of a post block in mm, from its attribute, else from its geometry. A bare number is in drawing units. Where both
/// differ, the attribute is what its user wrote and wins.
pub fn side(
    insert: &Insert,
    drawn_mm: Option<f64>,
    unit: Unit,
    place: &Place,
    findings: &mut Vec<Finding>,
) -> Option<f64> {
    let written = TAGS.iter().find_map(|tag| {
        let (_, value) =
            insert.attributes.iter().find(|(t, v)| t.trim().eq_ignore_ascii_case(tag) && !v.trim().is_empty())?;
        Some((*tag, value.trim()))
    });
    let Some((tag, value)) = written else { return drawn_mm };
    let used = if drawn_mm.is_some() { "the drawn size is used" } else { "the system's size is used" };
    let length = match Length::parse(&value.to_lowercase(), Some(unit)) {
        Ok(length) if SIDE_MM.contains(&length.millimetres()) => length,
        Ok(length) => {
            let message = format!("attribute {tag} of the post says {length}, which is no post's size; {used}");
            let hint = format!("write the side of the post, 1 to 24 in; a number without a unit is in {}", unit.sign());
            findings.push(Finding::warning(Code::PostSize, place.clone(), message).hint(hint));
            return drawn_mm;
        }
        Err(error) => {
            let message = format!("attribute {tag} of the post: {error}; {used}");
            // 6x6 is the name of a timber that measures 5-1/2 in.
            let hint = "write the true side of the post; names of timber such as 6x6 are not measures";
            findings.push(Finding::warning(Code::PostSize, place.clone(), message).hint(hint));
            return drawn_mm;
        }
    };
    let mm = length.millimetres();
    if let Some(drawn) = drawn_mm.filter(|drawn| (drawn - mm).abs() > SAME_MM) {
        let drawn = decimal(drawn / unit.millimetres(), 4);
        let message = format!(
            "attribute {tag} says that the post is {length} wide, drawn it is {drawn} {}; the attribute is followed",
            unit.sign()
        );
        findings.push(Finding::note(Code::PostSize, place.clone(), message).hint("correct the one that is wrong"));
    }
    Some(mm)
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::base::plane::point;
    use crate::base::{Angle, Severity};
    use crate::cad::Origin;

    /// Side in mm, and what was said.
    fn of(attributes: &[(&str, &str)], drawn_mm: Option<f64>, unit: Unit) -> (Option<f64>, Vec<(Severity, String)>) {
        let insert = Insert {
            block: "POST".into(),
            layer: "POST".into(),
            origin: Origin::default(),
            at: point(0.0, 0.0),
            rotation: Angle::from_degrees(0.0),
            parent: None,
            attributes: attributes.iter().map(|(t, v)| ((*t).to_owned(), (*v).to_owned())).collect(),
        };
        let mut findings = Vec::new();
        let side = side(&insert, drawn_mm, unit, &Place::none(), &mut findings);
        (side, findings.into_iter().map(|f| (f.severity, f.message)).collect())
    }

    #[test]
    fn lengths_with_a_unit_and_bare_numbers() {
        for (value, unit, mm) in [
            ("5\"", Unit::Millimetre, 127.0),
            ("3.5", Unit::Inch, 88.9),
            ("90mm", Unit::Inch, 90.0),
            (" 90 MM ", Unit::Inch, 90.0),
            ("5-1/2 In", Unit::Metre, 139.7),
            ("0.09", Unit::Metre, 90.0),
            ("90", Unit::Millimetre, 90.0),
        ] {
            assert_eq!(of(&[("Size", value)], None, unit), (Some(mm), vec![]), "{value}");
        }
    }

    #[test]
    fn the_attribute_wins_and_says_so() {
        assert_eq!(of(&[("MARK", "A"), ("SIDE", "5")], Some(127.0), Unit::Inch), (Some(127.0), vec![]));
        let (side, said) = of(&[("WIDTH", "3.5"), ("SIZE", "5")], Some(88.9), Unit::Inch);
        assert_eq!(side, Some(127.0));
        let message = "attribute SIZE says that the post is 5in wide, drawn it is 3.5 in; the attribute is followed";
        assert_eq!(said, [(Severity::Note, message.to_owned())]);
    }

    #[test]
    fn what_is_no_size_is_told_and_not_used() {
        for (value, what) in
            [("6x6", "`6x6` is not a length"), ("60", "says 60in, which is no post's size"), ("-5", "no post's size")]
        {
            let (side, said) = of(&[("SIZE", value)], Some(88.9), Unit::Inch);
            assert_eq!(side, Some(88.9));
            assert!(matches!(&said[..], [(Severity::Warning, m)] if m.contains(what)), "{said:?}");
        }
        assert_eq!(of(&[("SIZE", " ")], None, Unit::Inch), (None, vec![]));
        assert_eq!(of(&[("MARK", "5")], None, Unit::Inch), (None, vec![]));
    }
}
