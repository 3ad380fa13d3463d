//! Heights of the deck edges: a plan is laid out in one plane, whatever z its edges have.

use crate::base::plane::point;
use crate::base::{Code, Finding, Length, Point, Unit, decimal};
use crate::cad::{Entity, Shape};

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
        Finding::note(Code::ElevationDiffers, high.place(first_point(high)), message)
            .hint("if these are two decks, lay out each from layers of its own: --layer edge=NAME"),
    );
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
            origin: Origin { handle: Some(handle), line: None },
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
    fn one_level_is_no_matter() {
        assert_eq!(said(&[edge(1, Some([914.4; 2])), edge(2, Some([914.4, 939.8]))]), []);
        assert_eq!(said(&[edge(1, None), edge(2, Some([5000.0; 2]))]), []);
        assert_eq!(said(&[]), []);
    }
}
