//! What the first page says: how templates are used, what their signs mean, and the cautions.

use std::sync::Arc;

use crate::base::{Point, plane};
use crate::parts::Layout;

use super::super::board::{BASE_LEFT, Board, MIDDLE_LEFT};
use super::super::elevation::cross;
use super::super::{Layer, Linetype, caution, scale, text};
use super::flow::Sheet;
use super::stick::Piece;

/// Breadth of the columns, mm.
const COLUMN_MM: f64 = 108.0;
const GAP_MM: f64 = 12.0;

const USE: [&str; 5] = [
    "Print at 100 %, not fitted to the page. Measure the bar on every page before use.",
    "Tiles: cut the tile along its dashed line, lay it over the tile before so that the circles with crosses meet, and tape \
     both down on something flat.",
    "A stick lies on the rail with its 0 on the rail's left end, left as seen standing on the deck looking out. Measure the \
     joined stick: it must be as long as the rail that its heading names.",
    "Rows are the members from the top down, each the middle of the member's face as seen from above. What is to be drilled \
     is a circle in its row. Lines right across are the centres of balusters or slats, or the edges of frames.",
    "At an angled end the pointers show where the long and the short point come on the member's edges; the upper edge of \
     a row is the one away from the deck. The ends with their brackets are templates of their own, in full width.",
];

/// The first piece.
pub(super) fn piece(layout: &Layout, sheet: &Sheet) -> Piece {
    let mut board = Board::new(1.0, scale::text_height(&layout.measure));
    let wide = 2.0 * COLUMN_MM + GAP_MM;
    board.show("notes", "templates");
    let project = layout.project.name.as_deref().unwrap_or(&layout.plan.file);
    let title = if project.is_empty() {
        "Templates at full size".to_owned()
    } else {
        format!("Templates at full size: {project}")
    };
    let room = wide - 2.0;
    let mut y = -4.5;
    for line in text::wrap(&title, board.height() * 1.9, room) {
        board.heading(plane::point(0.0, y), 1.7, &line);
        y -= board.height() * 2.6;
    }
    board.rule(plane::point(0.0, y + board.height()), wide, 0.5);
    let top = y - 1.5;
    let left = paragraphs(&mut board, plane::point(0.0, top), "How to use them", &USE);
    let right = plane::point(COLUMN_MM + GAP_MM, top);
    let under = signs(&mut board, right, layout);
    board.show("notes", "cautions");
    let from = plane::point(right.x, under - 4.0);
    board.heading(from - plane::point(0.0, board.height() * 1.3), 1.2, "Cautions");
    let first = from - plane::point(0.0, board.height() * 2.4);
    caution::column(&mut board, first, COLUMN_MM);
    let low = board.bounds().map_or(left, |(low, _)| low.y.min(left));
    let window = (plane::point(0.0, low), plane::point(wide.min(sheet.most_window()), 0.0));
    let drawing = board.finish("how-to", title, Some(window));
    Piece {
        window: (drawing.low, drawing.high),
        drawing: Arc::new(drawing),
        heading: String::new(),
        lines: Vec::new(),
        zero: "",
        side: Vec::new(),
        cut: None,
        name: "how to use them".to_owned(),
    }
}

/// A heading with paragraphs under it. Gives the lowest y used.
fn paragraphs(board: &mut Board, at: Point, heading: &str, all: &[&str]) -> f64 {
    let height = board.height();
    let mut y = at.y - height * 1.3;
    board.heading(plane::point(at.x, y), 1.2, heading);
    for paragraph in all {
        y -= 1.6;
        for line in text::wrap(paragraph, height, COLUMN_MM) {
            y -= height * 1.7;
            board.write(plane::point(at.x, y), BASE_LEFT, &line);
        }
    }
    y
}

/// The signs with their meaning. Gives the lowest y used.
fn signs(board: &mut Board, at: Point, layout: &Layout) -> f64 {
    let height = board.height();
    let mut y = at.y - height * 1.3;
    board.heading(plane::point(at.x, y), 1.2, "Signs");
    let system = &layout.system;
    let mut rows = vec![("hole", "hole, its size drawn true, its centre on the cross")];
    rows.extend(system.cap_screws.as_ref().map(|_| ("cap", "hole for a cap screw")));
    rows.extend(system.blocks.as_ref().map(|_| ("block", "support block, with the hole for its screw")));
    rows.extend([("end", "end of the rail"), ("centre", "centre line"), ("cut", "cut here to join a tile")]);
    rows.push(("register", "register mark: lies on both tiles at the same place"));
    rows.push(("distance", "distance from 0, on a tile without holes; drill nothing there"));
    for (sign, meaning) in rows {
        y -= 6.4;
        let middle = plane::point(at.x + 8.0, y);
        draw(board, sign, middle);
        board.write(plane::point(at.x + 19.0, y), MIDDLE_LEFT, meaning);
    }
    y - 2.0
}

fn draw(board: &mut Board, sign: &str, at: Point) {
    let (x, y) = (plane::point(2.6, 0.0), plane::point(0.0, 2.6));
    let plus = |board: &mut Board, layer: Layer| {
        board.patterned(layer, Linetype::Continuous, vec![at - x, at + x], false);
        board.patterned(layer, Linetype::Continuous, vec![at - y, at + y], false);
    };
    let wide = plane::point(7.0, 0.0);
    match sign {
        "cap" => {
            board.circle(Layer::Hole, at, 1.6);
            cross(board, Layer::Screw, at, 2.1);
        }
        "block" => {
            board.circle(Layer::Hole, at, 1.2);
            plus(board, Layer::Hole);
            let corner = plane::point(6.5, 2.6);
            board.patterned(
                Layer::Block,
                Linetype::Hidden,
                super::super::board::rectangle(at - corner, at + corner),
                true,
            );
        }
        "distance" => {
            board.patterned(Layer::Sheet, Linetype::Continuous, vec![at - y, at], false);
        }
        "end" => board.path(Layer::Panel, vec![at - y, at + y], false),
        "centre" => board.line(Layer::Line, at - wide, at + wide),
        "cut" => board.patterned(Layer::Sheet, Linetype::Hidden, vec![at - wide, at + wide], false),
        "register" => {
            board.circle(Layer::Sheet, at, 1.6);
            plus(board, Layer::Sheet);
        }
        _ => {
            board.circle(Layer::Hole, at, 1.6);
            plus(board, Layer::Hole);
        }
    }
}
