//! Dimensions, running marks and notes of a raked panel's elevation.

use crate::base::{Angle, Length, plane};
use crate::catalog::{Limit, LimitKind};
use crate::guard::{Falls, Rake};
use crate::parts::{Layout, LayoutPanel};

use super::board::{BASE_LEFT, Board, MIDDLE, MIDDLE_LEFT, MIDDLE_RIGHT};
use super::dimension::{Linear, TextPlace};
use super::elevation::{BELOW_DECK_MM, FIRST_ROW_MM, NOTES_MM, ROW_MM};
use super::rails::Rails;
use super::raked::{Spheres, View};
use super::running::{self, Running};
use super::stair_tables::degrees;
use super::support::{End, support_name};
use super::{Layer, text};

/// Level leg of the slope's symbol, and the arc of its angle, paper mm.
const SYMBOL_MM: f64 = 24.0;
const ARC_MM: f64 = 9.0;
/// From a dimension line to the row of running marks over its text, paper mm.
const OVER_TEXT_MM: f64 = 5.8;

/// All dimensions and notes. Gives the lowest y used.
pub(super) fn draw(board: &mut Board, view: &View<'_>, spheres: &Spheres) -> f64 {
    let over = rail_length(board, view);
    let over = running_along(board, view, over + board.mm(OVER_TEXT_MM));
    symbol(board, view, over);
    heights(board, view);
    view.rails.names(board, view.outer().1, view.at(view.clear(), 0.0).y);
    let floor = board.bounds().map_or(0.0, |(low, _)| low.y);
    let lowest = lengths(board, view, floor);
    let lowest = running_level(board, view, lowest);
    board.part(0, None);
    let drawn = board.count();
    let lowest = notes(board, view, spheres, lowest);
    board.part(drawn, None);
    lowest
}

fn pitch(rails: &Rails<'_>, rake: &Rake) -> String {
    let (m, pitch) = (&rails.layout.measure, rake.pitch);
    format!("{} on {}", m.mark_text(pitch.rise()), m.mark_text(pitch.run()))
}

/// Rail length over the rail, parallel to it. Gives how far its line runs from the rail's top, square to it.
fn rail_length(board: &mut Board, view: &View<'_>) -> f64 {
    let panel = view.panel();
    let ends = [view.rails.start, view.x(panel.length)].map(|x| view.at(x, view.top()));
    let [from, to] = ends;
    // The extension line at the lower end leaves the rail over the post there: it begins above that post.
    let (side, foot) = if view.rake.falls == Falls::Right { (End::Right, to) } else { (End::Left, from) };
    let (post, _) = view.support_top(board, side);
    let clear = ((post - foot.y) * view.rake.pitch.factor()).max(0.0) + board.mm(1.2);
    let offset = (clear + board.mm(2.5)).max(board.mm(ROW_MM));
    let text = view.rails.layout.measure.mark_text(panel.length);
    board.show("dimension", &panel.id);
    Linear { from, to, side: plane::left(view.along()), clear, offset, text }.draw(board, TextPlace::After);
    offset
}

/// Running marks of the balusters along the slope. Gives how far they reach from the rail's top.
fn running_along(board: &mut Board, view: &View<'_>, base: f64) -> f64 {
    let panel = view.panel();
    let marks = all_marks(view).into_iter().map(|m| (m.millimetres(), view.rails.layout.measure.mark_text(m)));
    let length = panel.length.millimetres();
    let along = view.along();
    let row = Running {
        origin: view.at(view.rails.start, view.top()),
        along,
        base,
        up: true,
        marks: marks.collect(),
        rule: Some((0.0, length)),
    };
    board.show("mark", &panel.id);
    let mut reach = running::draw(board, &row) + board.mm(2.2);
    let heading = format!("{} along the slope, from the left rail end", view.rails.row_marks().1);
    let lines = text::wrap(&heading, board.height(), length.max(board.mm(38.0)));
    for line in lines.iter().rev() {
        let mut spec = board.spec(row.origin + plane::left(along) * reach, BASE_LEFT, line);
        spec.rotation = plane::angle_of(along);
        board.text(Layer::Text, spec);
        reach += board.height() * 1.6;
    }
    reach
}

/// The rail's ends and what stands between the rails, from left to right.
fn all_marks(view: &View<'_>) -> Vec<Length> {
    let panel = view.panel();
    let ends = [Length::ZERO, panel.length];
    let (own, _) = view.rails.row_marks();
    let mut marks: Vec<Length> = own.iter().copied().chain(ends).collect();
    marks.sort_unstable();
    marks
}

/// Riser and tread as a triangle on the slope, with its angle, `over` from the rail's top.
fn symbol(board: &mut Board, view: &View<'_>, over: f64) {
    let m = &view.rails.layout.measure;
    let along = view.along();
    let middle = view.at(view.clear() / 2.0, view.top()) + plane::left(along) * (over + board.mm(3.5));
    let half = plane::point(board.mm(SYMBOL_MM) / 2.0, board.mm(SYMBOL_MM) / 2.0 * view.slope());
    let (a, b) = (middle - half, middle + half);
    // The level leg meets the slope at the upper end, the plumb one at the lower.
    let falls_right = view.rake.falls == Falls::Right;
    let (upper, lower) = if falls_right { (a, b) } else { (b, a) };
    let corner = plane::point(lower.x, upper.y);
    board.show("slope", &view.panel().id);
    board.path(Layer::Dims, vec![upper, lower, corner], true);
    let way = if falls_right { 1.0 } else { -1.0 };
    let sweep = view.rake.pitch.angle();
    let half_turn = Angle::from_degrees(180.0);
    let (from, to) = if falls_right { (-sweep, Angle::ZERO) } else { (half_turn, half_turn + sweep) };
    let arc: Vec<_> = (0..=8)
        .map(|i| {
            let angle = Angle::from_radians(from.radians() + (to - from).radians() * f64::from(i) / 8.0);
            upper + plane::direction(angle) * board.mm(ARC_MM)
        })
        .collect();
    board.path(Layer::Dims, arc, false);
    let gap = board.mm(0.9);
    let run = plane::point(f64::midpoint(a.x, b.x), upper.y + gap + board.height() / 2.0);
    board.write(run, MIDDLE, &m.mark_text(view.rake.pitch.run()));
    let (beside, within) = if falls_right { (MIDDLE_LEFT, MIDDLE_RIGHT) } else { (MIDDLE_RIGHT, MIDDLE_LEFT) };
    let rise = plane::point(corner.x + way * board.mm(1.2), f64::midpoint(upper.y, lower.y));
    board.write(rise, beside, &m.mark_text(view.rake.pitch.rise()));
    let angle = plane::point(corner.x - way * board.mm(1.0), upper.y - gap - board.height() / 2.0);
    board.write(angle, within, &degrees(sweep));
}

/// Bottom gap, baluster length and height above the nosing line, plumb at the left face.
fn heights(board: &mut Board, view: &View<'_>) {
    let panel = view.panel();
    let m = &view.rails.layout.measure;
    let x = view.outer().0;
    // Clear of the end gap's text, which stands left of the left face.
    let push = board.mm(FIRST_ROW_MM) + (x + board.mm(9.0)).max(0.0) - x;
    let line = |board: &Board, row: f64, low: f64, high: f64, length: Length| Linear {
        from: plane::point(0.0, low),
        to: plane::point(0.0, high),
        side: plane::point(-1.0, 0.0),
        clear: board.mm(0.6),
        offset: push + board.mm(row * ROW_MM),
        text: m.mark_text(length),
    };
    board.show("dimension", &panel.id);
    let gap = panel.bottom_gap.millimetres();
    if gap > 0.0 {
        line(board, 0.0, 0.0, gap, panel.bottom_gap).draw(board, TextPlace::Before);
    }
    let (low, high) = view.rails.infill;
    line(board, 0.0, low, high, panel.balusters.length).draw(board, TextPlace::Beyond(0.0));
    line(board, 1.0, 0.0, panel.height.millimetres(), panel.height).draw(board, TextPlace::Beyond(0.0));
    // Beyond the text of the outer dimension.
    let off = push + board.mm(ROW_MM) + board.height() + board.mm(4.0);
    view.place(&mut |place| place.holes(board, off));
}

/// End gaps and clear span, level, below the `floor`. Gives the lowest y used.
fn lengths(board: &mut Board, view: &View<'_>, floor: f64) -> f64 {
    let panel = view.panel();
    let clear = view.clear();
    let line = |board: &Board, row: f64, from: f64, to: f64, length: Length| Linear {
        from: plane::point(from, floor),
        to: plane::point(to, floor),
        side: plane::point(0.0, -1.0),
        clear: board.mm(BELOW_DECK_MM),
        offset: board.mm(FIRST_ROW_MM + row * ROW_MM),
        text: view.rails.layout.measure.mark_text(length),
    };
    board.show("dimension", &panel.id);
    for x in [0.0, clear] {
        let foot = view.stair.as_ref().map_or(view.at(x, 0.0).y, |s| s.surface(x).min(view.at(x, 0.0).y));
        let (from, to) = (foot - board.mm(1.5), floor - board.mm(BELOW_DECK_MM));
        if from > to {
            board.line(Layer::Dims, plane::point(x, from), plane::point(x, to));
        }
    }
    let mut rows = 0.0;
    if let Some(uprights) = view.rails.uprights(&|mark| view.x(mark)) {
        let (from, to) = uprights.between;
        let [at_left, at_right] = uprights.gaps;
        let left = line(board, 0.0, 0.0, from, at_left);
        let right = line(board, 0.0, to, clear, at_right);
        for built in [left.build(board, TextPlace::Before), right.build(board, TextPlace::After)] {
            board.dimension(built);
        }
        rows = 1.0;
        let note = view.rails.infill_note();
        if text::width(&note, board.height(), false) + board.mm(4.0) < to - from {
            let y = floor - board.mm(FIRST_ROW_MM) + board.height() * 0.5;
            board.write(plane::point(f64::midpoint(from, to), y), MIDDLE, &note);
        } else {
            let y = floor - board.mm(FIRST_ROW_MM + 2.0 * ROW_MM);
            board.write(plane::point(0.0, y), BASE_LEFT, &note);
            line(board, rows, 0.0, clear, panel.span).draw(board, TextPlace::After);
            return y;
        }
    }
    line(board, rows, 0.0, clear, panel.span).draw(board, TextPlace::After);
    floor - board.mm(FIRST_ROW_MM + rows * ROW_MM)
}

/// The running marks once more, level. Gives the lowest y used.
fn running_level(board: &mut Board, view: &View<'_>, lowest: f64) -> f64 {
    let panel = view.panel();
    let m = &view.rails.layout.measure;
    let places = all_marks(view).into_iter().map(|mark| (view.x(mark), m.mark_text(panel.level_mark(mark))));
    let rule = Some((view.rails.start, view.x(panel.length)));
    let row = Running { rule, ..Running::level(lowest - board.mm(5.0), false, places.collect()) };
    board.show("mark", &panel.id);
    let y = running::draw(board, &row) - board.mm(2.2) - board.height();
    board.write(plane::point(0.0, y), BASE_LEFT, "The same, level (rounded), from the left rail end");
    y
}

/// What the drawing cannot say by itself. Gives the lowest y used.
fn notes(board: &mut Board, view: &View<'_>, spheres: &Spheres, lowest: f64) -> f64 {
    let room = view.clear().max(board.mm(NOTES_MM));
    let (height, mut y) = (board.height(), lowest - board.mm(2.5));
    board.show("notes", &view.panel().id);
    for line in lines(view, spheres).iter().flat_map(|l| text::wrap(l, height, room)) {
        y -= height * 1.7;
        board.write(plane::point(0.0, y), BASE_LEFT, &line);
    }
    y
}

fn lines(view: &View<'_>, spheres: &Spheres) -> Vec<String> {
    let panel = view.panel();
    let m = &view.rails.layout.measure;
    let angle = degrees(view.rake.pitch.angle());
    let mut lines = vec![
        "Dashed: the line through the nosings; heights are plumb above it.".to_owned(),
        format!(
            "Rails: slope {}. Saw both ends plumb, {angle} off square, parallel to each other.",
            pitch(&view.rails, &view.rake)
        ),
    ];
    if !panel.balusters.marks.is_empty() {
        let length = m.mark_text(panel.balusters.length);
        lines.push(format!("Balusters: {length} long on both sides, plumb, both ends bevelled {angle}."));
    }
    lines.extend(view.rails.infill_lines());
    let heights: Vec<String> = panel.block_heights.iter().map(|h| m.mark_text(*h)).collect();
    if !heights.is_empty() {
        let plural = if heights.len() == 1 { "Support block" } else { "Support blocks from the left" };
        lines.push(format!("{plural}: {} high at the middle, top bevelled {angle}.", heights.join(", ")));
    }
    if heights.is_empty() && !panel.blocks.is_empty() {
        lines.push(format!("Support blocks: cut to height on the stair, top bevelled {angle}."));
    }
    let rules = &view.rails.layout.rules;
    let opening = rules.limit(LimitKind::StairOpening).or_else(|| rules.limit(LimitKind::Opening));
    if let (Some(_), Some(Limit { value, section, .. })) = (&spheres.between, opening) {
        // Level gaps are not on the mark grid: rounded, one under the limit could read as the limit.
        let (limit, widest) = (m.with_unit(*value), m.with_unit(panel.balusters.widest_gap));
        lines.push(format!("A: sphere of {limit} that must not pass ({section}), in the widest level gap, {widest}."));
    }
    if let Some(triangle) = &spheres.triangle {
        let size = m.with_unit(Length::from_millimetres(triangle.diameter).unwrap_or_default());
        let limit = rules.limit(LimitKind::StairTriangle);
        let under =
            limit.map_or(String::new(), |l| format!("; it must be under {} ({})", m.with_unit(l.value), l.section));
        lines.push(format!("B: largest sphere in the triangle of riser, tread and bottom rail, {size}{under}."));
    }
    lines
}

/// What stands under a panel's title.
pub(super) fn facts(layout: &Layout, at: &LayoutPanel, rake: &Rake, scale: &str) -> Vec<String> {
    let span = &at.span;
    let (from, to) = (support_name(layout, span.from), support_name(layout, span.to));
    let flight = layout.runs.get(span.run).and_then(|r| r.flight).and_then(|f| layout.flights.get(f));
    let side = if rake.falls == Falls::Right { "left" } else { "right" };
    let on = flight.map_or(String::new(), |f| format!(", {side} side of flight {}", f.id));
    let clear = layout.measure.text(at.panel.span);
    let rails = Rails::new(layout, at);
    vec![
        format!("From {from} to {to}{on}. Level clear span {clear}. Slope {}.", pitch(&rails, rake)),
        format!("Scale {scale}. Seen standing on the stair, looking out."),
        format!("{}.{}", rails.member_lengths(), rails.kit()),
    ]
}
