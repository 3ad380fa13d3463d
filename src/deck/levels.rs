//! Heights of the deck edges: a plan is laid out in one plane, whatever z its edges have.

use crate::base::plane::{point, to_segment};
use crate::base::{Code, Finding, Length, Point, Unit, decimal};
use crate::cad::{Entity, Shape};

use super::overlap::Shared;
use super::zones::points_of;

/// Edges whose heights differ by more than this belong to two levels, not to one that was drawn carelessly.
const LEVEL: Length = Length::INCH;

/// One note when edges lie at different heights.
pub fn tell(edges: &[&Entity], unit: Unit, findings: &mut Vec<Finding>) {
    let heights = || edges.iter().filter_map(|e| e.heights.map(|h| (*e, h)));
    let low = heights().min_by(|(_, [a, _]), (_, [b, _])| a.total_cmp(b));
    let high = heights().max_by(|(_, [_, a]), (_, [_, b])| a.total_cmp(b));
    let (Some((low, [bottom, _])), Some((high, [_, top]))) = (low, high) else { return };
    if top - bottom <= LEVEL.millimetres() {
        return;
    }
    let height = |z: f64| format!("{} {}", decimal(z / unit.millimetres(), 3), unit.sign());
    let named = |e: &Entity| e.origin.handle.map_or_else(String::new, |h| format!(" (handle {h:X})"));
    let message = format!(
        "deck edges lie at heights from {}{} to {}{}; the plan is laid out flat, as seen from above",
        height(bottom),
        named(low),
        height(top),
        named(high)
    );
    findings.push(
        Finding::incomplete(Code::ElevationDiffers, high.place(first_point(high)), message)
            .hint("if these are two decks, lay out each from layers of its own: --layer edge=NAME"),
    );
}

/// What may tell that two outlines side by side lie at different heights.
pub struct Signs<'a> {
    /// Entities of the stairs.
    pub stairs: &'a [&'a Entity],
    /// Entities of the layers that are read, of which the texts count.
    pub texts: [&'a [&'a Entity]; 3],
}

/// A stair this near to a shared stretch (two treads) may lead over it.
const NEAR_MM: f64 = 609.6;

/// Tells of stretches that two outlines share: they lie within one deck unless something hints at a step there, from which
/// one can fall.
pub fn tell_shared(shared: &[Shared], signs: &Signs<'_>, findings: &mut Vec<Finding>) {
    if shared.is_empty() {
        return;
    }
    let text = signs.texts.iter().flat_map(|list| list.iter()).find_map(|e| match &e.shape {
        Shape::Text { content, .. } if is_level(content) => Some(content.trim()),
        _ => None,
    });
    let is_near = |s: &Shared, e: &Entity| points_of(e).iter().any(|p| to_segment(*p, s.ends.0, s.ends.1).0 <= NEAR_MM);
    for s in shared {
        let [one, other] = &s.layers;
        let hint = if one != other {
            Some(format!("they stand on two layers, {one} and {other}"))
        } else if let Some(text) = text {
            Some(format!("a text says `{}`", shortened(text)))
        } else if signs.stairs.iter().any(|e| is_near(s, e)) {
            Some("a stair stands beside it".to_owned())
        } else {
            None
        };
        findings.push(match hint {
            None => Finding::note(
                Code::EdgeShared,
                s.place.clone(),
                "two deck outlines share this stretch; it lies inside the deck and gets no guard",
            ),
            Some(why) => Finding::incomplete(
                Code::EdgeShared,
                s.place.clone(),
                format!("two deck outlines share this stretch and may lie at different heights, since {why}; it gets no guard"),
            )
            .hint("decks of several levels are not laid out yet: lay out each from layers of its own, --layer edge=NAME"),
        });
    }
}

fn shortened(text: &str) -> String {
    text.chars().take(24).collect()
}

/// Whether a text gives the height of a level: `+28"`, `EL. 102'-4"`, `FFL +0.45`, `LEVEL 2`.
fn is_level(text: &str) -> bool {
    let text = text.trim().to_uppercase();
    let signed =
        text.strip_prefix(['+', '-', '\u{b1}']).is_some_and(|t| t.trim().starts_with(|c: char| c.is_ascii_digit()));
    let words = ["EL", "ELEV", "FFL", "LEVEL", "LVL", "TOD"];
    signed || text.split(|c: char| !c.is_alphabetic()).any(|word| words.contains(&word))
}

fn first_point(entity: &Entity) -> Point {
    match &entity.shape {
        Shape::Path { vertices, .. } => vertices.first().map(|v| v.at),
        Shape::Curve { points, .. } => points.first().copied(),
        Shape::Circle { centre: at, .. } | Shape::Point(at) | Shape::Text { at, .. } => Some(*at),
    }
    .unwrap_or(point(0.0, 0.0))
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::cad::Origin;

    fn edge(handle: u64, heights: Option<[f64; 2]>) -> Entity {
        Entity {
            shape: Shape::Point(point(1.0, 2.0)),
            layer: "EDGE".into(),
            origin: Origin { handle: Some(handle), ..Origin::default() },
            insert: None,
            heights,
            ends: heights,
        }
    }

    fn said(edges: &[Entity]) -> Vec<Finding> {
        let mut findings = Vec::new();
        tell(&edges.iter().collect::<Vec<_>>(), Unit::Inch, &mut findings);
        findings
    }

    #[test]
    fn two_levels_are_named_with_heights_and_handles() {
        let found = said(&[edge(0xa1, Some([0.0; 2])), edge(0xb2, Some([0.0, 711.2])), edge(0xc3, None)]);
        let [note] = &found[..] else { panic!("one note") };
        assert_eq!((note.code, note.place.handle), (Code::ElevationDiffers, Some(0xb2)));
        assert!(note.message.contains("from 0 in (handle A1) to 28 in (handle B2)"), "{}", note.message);
    }

    #[test]
    fn texts_that_give_heights_are_known() {
        for text in ["+28\"", "EL. 102'-4\"", "FFL +0.45", "Level 2", "-0.15"] {
            assert!(is_level(text), "{text}");
        }
        for text in ["DECK", "12R 7 x 10", "ELM ST", "A-5", "WELL"] {
            assert!(!is_level(text), "{text}");
        }
    }

    #[test]
    fn one_level_is_no_matter() {
        assert_eq!(said(&[edge(1, Some([914.4; 2])), edge(2, Some([914.4, 939.8]))]), []);
        assert_eq!(said(&[edge(1, None), edge(2, Some([5000.0; 2]))]), []);
        assert_eq!(said(&[]), []);
    }
}
