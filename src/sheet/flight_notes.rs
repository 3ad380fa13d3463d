//! Title and notes of a flight's elevation: what its figures are, which limits matter, and the cautions.

use crate::base::{Length, decimal, plane};
use crate::catalog::LimitKind;

use super::board::{BASE_LEFT, Board};
use super::flight::Side;
use super::text::{self, size_text};
use super::{Layer, caution};

/// Breadth of the notes, paper mm.
const COLUMN_MM: f64 = 150.0;

/// Limits that a reader of the flight wants beside its figures, with the words before them.
const LIMITS: [(LimitKind, &str); 9] = [
    (LimitKind::StairGuardHeight, "guard at least"),
    (LimitKind::RiserHeight, "riser at most"),
    (LimitKind::RiserHeightMin, "riser at least"),
    (LimitKind::TreadDepth, "tread at least"),
    (LimitKind::NosingMin, "nosing at least"),
    (LimitKind::NosingMax, "nosing at most"),
    (LimitKind::HandrailHeightMin, "handrail at least"),
    (LimitKind::HandrailHeightMax, "handrail at most"),
    (LimitKind::HandrailExtensionTop, "handrail beyond the top at least"),
];

/// Writes notes below and the title over everything drawn. Gives the title.
pub(super) fn draw(board: &mut Board, side: &Side<'_>, scale: &str) -> String {
    notes(board, side);
    let title = title(board, side, scale);
    board.part(0, None);
    board.show("notes", "cautions");
    caution::below(board);
    board.show_nothing();
    title
}

fn notes(board: &mut Board, side: &Side<'_>) {
    let Some((low, _)) = board.bounds() else { return };
    let (height, room) = (board.height(), board.mm(COLUMN_MM));
    let mut y = low.y - board.mm(4.0);
    board.show("notes", &side.flight.id);
    for line in lines(side).iter().flat_map(|l| text::wrap(l, height, room)) {
        y -= height;
        board.write(plane::point(low.x, y), BASE_LEFT, &line);
        y -= height * 0.7;
    }
    board.show_nothing();
}

fn lines(side: &Side<'_>) -> Vec<String> {
    let m = &side.layout.measure;
    let mut lines = vec!["Dashed: the line through the nosings; heights of rails are plumb above it.".to_owned()];
    if let Some(at) = side.panels.first() {
        lines.push(format!("The guard: {} high.", m.mark_text(at.panel.height)));
    }
    if let Some(rail) = side.handrails.first() {
        lines.push(format!(
            "The {}: {} high, {} along the slope between the nosings, {} in all.",
            side.handrail_name(),
            m.mark_text(rail.height),
            m.mark_text(rail.length),
            m.mark_text(rail.total())
        ));
    }
    if !side.posts.is_empty() {
        lines.push("Posts: height above what they stand on.".to_owned());
    }
    let rules = &side.layout.rules;
    let has_handrail = !side.handrails.is_empty();
    let limit = |(what, words): (LimitKind, &str)| {
        let wanted = has_handrail || !words.starts_with("handrail");
        let found = rules.limit(what).filter(|limit| wanted && limit.value > Length::ZERO)?;
        Some(format!("{words} {} ({})", m.with_unit(found.value), found.section))
    };
    let limits: Vec<String> = LIMITS.into_iter().filter_map(limit).collect();
    if !limits.is_empty() {
        lines.push(format!("{}: {}.", rules.name, limits.join("; ")));
    }
    lines
}

fn title(board: &mut Board, side: &Side<'_>, scale: &str) -> String {
    let (flight, m) = (side.flight, &side.layout.measure);
    let which = match (&side.twin, side.is_left) {
        (Some(_), _) => "both sides",
        (None, true) => "left side",
        (None, false) => "right side",
    };
    let heading = format!("Flight {}, {which}", flight.id);
    let Some((low, high)) = board.bounds() else { return heading };
    let steps = &flight.steps;
    let nosing =
        if steps.nosing > Length::ZERO { format!(", nosing {}", size_text(m, steps.nosing)) } else { String::new() };
    let mirrored =
        if side.twin.is_some() { " The left side is shown; the right one is the same in a mirror." } else { "" };
    let facts = [
        format!(
            "{} risers {}, {} treads {}{nosing}, {}\u{b0}; total rise {}, run {}.",
            flight.risers,
            size_text(m, steps.riser),
            flight.risers.saturating_sub(1),
            size_text(m, steps.tread),
            decimal(flight.pitch.angle().degrees(), 1),
            m.text(flight.total_rise()),
            m.text(flight.length())
        ),
        format!("Scale {scale}. Seen standing on the stair, looking out; sides as seen from the top.{mirrored}"),
    ];
    let line = board.height() * 1.7;
    let mut at = plane::point(low.x, high.y + board.mm(3.0));
    board.show("title", &flight.id);
    for fact in facts.iter().rev() {
        board.write(at, BASE_LEFT, fact);
        at.y += line;
    }
    at.y += board.mm(0.6);
    let wide = facts.iter().map(|f| text::width(f, board.height(), false)).fold(0.0, f64::max);
    board.rule(at, wide.max(high.x - low.x), 0.5);
    at.y += board.mm(1.8);
    let mut spec = board.spec(at, BASE_LEFT, &heading);
    spec.height *= 1.7;
    spec.bold = true;
    board.text(Layer::Text, spec);
    board.show_nothing();
    heading
}
