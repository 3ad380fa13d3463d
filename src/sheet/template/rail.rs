//! The layout stick of a panel: all running marks along its upper edge, a row for each member that is drilled, the rail's
//! ends across it. x is the running mark from the rail's left end; on a stair it lies along the slope.

use crate::base::{Angle, Length, plane};
use crate::catalog::MemberRole;
use crate::guard::{Falls, Rake};
use crate::panel::{Cut, Panel, PanelInfill};
use crate::parts::Layout;

use super::super::board::Board;
use super::super::drilling::{self, Work};
use super::super::rails::{Rails, member_name};
use super::super::running::{self, Running};
use super::super::{Alike, Layer, Linetype};
use super::rows::Row;
use super::stick::{Stick, TEXT_MM, band};

/// Room beyond a rail's end for the name of a square cut, and for those of another one and its points, mm.
const BEYOND_MM: (f64, f64) = (15.0, 26.0);
/// Clear space between two rows, mm.
const BETWEEN_MM: f64 = 0.8;

/// The stick of a group of panels that are built the same.
pub(super) fn stick(layout: &Layout, group: &Alike) -> Option<Stick> {
    let at = group.first(layout)?;
    let panel = &at.panel;
    let rails = Rails::new(layout, at);
    let mut board = Board::new(1.0, TEXT_MM);
    let tip = panel
        .cuts
        .iter()
        .map(|c| lean(layout, c).into_iter().fold(0.0, |a: f64, b| a.max(b.abs())))
        .fold(0.0, f64::max);
    let square = panel.rake.is_none() && tip == 0.0;
    let beyond = tip + if square { BEYOND_MM.0 } else { BEYOND_MM.1 };
    let ends = (-beyond, panel.length.millimetres() + beyond);
    let mut side = Vec::new();
    let (base, heading) = running(&mut board, &rails);
    side.push((base / 2.0, heading));
    let mut y = base - BETWEEN_MM;
    let mut busy: Vec<(f64, f64)> = edges(panel).iter().map(|l| (l.millimetres(), l.millimetres())).collect();
    let mut drawn = Vec::new();
    for course in rails.courses.iter().rev() {
        let work = Work::of(&rails, course);
        let cut = panel.cuts.iter().find(|c| c.member == course.role);
        if let Some(cut) = cut.filter(|_| !work.holes.is_empty()) {
            let row = Row::new(work, cut, course.half, y);
            y = row.low() - BETWEEN_MM;
            side.push((row.axis, names(course.role)));
            drawn.push(row);
        }
    }
    let low = y + BETWEEN_MM - 0.6;
    across(&mut board, panel, base, low);
    let lines: Vec<f64> = busy.iter().map(|(x, _)| *x).collect();
    for row in &drawn {
        board.show("row", &panel.id);
        busy.extend(row.draw(&mut board, &rails, &lines));
    }
    Some(Stick {
        name: panel.id.clone(),
        tag: group.text(),
        facts: facts(&rails, &drawn),
        zero: if panel.rake.is_some() { "left end, seen from the stair" } else { "left end, seen from the deck" },
        board,
        ends,
        edges: (low, 0.0),
        busy,
        side,
    })
}

fn names(role: MemberRole) -> Vec<String> {
    member_name(role).split(' ').map(str::to_owned).collect()
}

/// Half of a cut's lean at its left and right end, mm: how far the outer edge reaches beyond the centre line's end.
fn lean(layout: &Layout, cut: &Cut) -> [f64; 2] {
    let half = layout.system.member(cut.member).map_or(0.0, |m| m.width.millimetres() / 2.0);
    // On a stair what a skew makes level is longer along the slope.
    [cut.left, cut.right].map(|angle| half * angle.tan() / cut.plumb.cos())
}

/// All marks of what stands between the rails, and the rail's ends, along the upper edge. Gives the row's line and what
/// stands beside it.
fn running(board: &mut Board, rails: &Rails<'_>) -> (f64, Vec<String>) {
    let panel = rails.panel();
    let m = &rails.layout.measure;
    let mut marks = edges(panel);
    marks.extend([Length::ZERO, panel.length]);
    marks.sort_unstable();
    marks.dedup();
    let marks: Vec<(f64, String)> = marks.into_iter().map(|l| (l.millimetres(), m.mark_text(l))).collect();
    let base = -band(board, &marks);
    let rule = Some((0.0, panel.length.millimetres()));
    board.show("mark", &panel.id);
    running::draw(board, &Running { rule, ..Running::level(base, true, marks) });
    let heading: &[&str] = match &panel.infill {
        PanelInfill::Balusters => &["Baluster", "centres"],
        PanelInfill::Cables(run) if run.slats.is_empty() => &["Rail"],
        PanelInfill::Cables(_) => &["Slat", "centres"],
        PanelInfill::Frames(_) => &["Edges of", "frames"],
    };
    (base, heading.iter().map(|line| (*line).to_owned()).collect())
}

/// Centres of balusters and slats, both edges of frames.
fn edges(panel: &Panel) -> Vec<Length> {
    match &panel.infill {
        PanelInfill::Balusters => panel.balusters.marks.clone(),
        PanelInfill::Cables(run) => run.slats.clone(),
        PanelInfill::Frames(row) => row.edges.iter().flat_map(|edge| [*edge, *edge + row.width]).collect(),
    }
}

/// Lines right across the stick: centres of balusters and slats, edges of frames, and square ends of the rail.
fn across(board: &mut Board, panel: &Panel, top: f64, low: f64) {
    board.show("mark", &panel.id);
    let frames = panel.infill.frames().is_some();
    for x in edges(panel).into_iter().map(Length::millimetres) {
        let line = vec![plane::point(x, top), plane::point(x, low)];
        let (layer, linetype) =
            if frames { (Layer::Baluster, Linetype::Continuous) } else { (Layer::Line, Linetype::Centre) };
        board.patterned(layer, linetype, line, false);
    }
    board.show("end", &panel.id);
    let angles = panel.cuts.first().map_or([Angle::ZERO; 2], |c| [c.left, c.right]);
    for (x, angle) in [0.0, panel.length.millimetres()].into_iter().zip(angles) {
        let ends = vec![plane::point(x, top), plane::point(x, low)];
        // An end that is cut at an angle has its own slanted line in each row.
        if angle == Angle::ZERO {
            board.path(Layer::Panel, ends, false);
        } else {
            board.patterned(Layer::Panel, Linetype::Hidden, ends, false);
        }
    }
}

/// What must be known besides the marks.
fn facts(rails: &Rails<'_>, rows: &[Row<'_>]) -> Vec<String> {
    let panel = rails.panel();
    let m = &rails.layout.measure;
    let mut first = vec![format!("Rail {} on the centre line", m.mark_text(panel.length)), rails.infill_note()];
    first.extend(points(rails));
    let mut lines = vec![format!("{}.{}", first.join("; "), rails.kit())];
    let height = m.mark_text(panel.balusters.length);
    match &panel.infill {
        PanelInfill::Balusters => {}
        PanelInfill::Cables(_) => lines.push(format!("Cable holes: see the faces of the posts. Slats {height} long.")),
        PanelInfill::Frames(row) => {
            lines.push(format!("Frames {} high, clips on both rails.", m.mark_text(row.height)));
        }
    }
    if let Some(rake) = panel.rake {
        let drilled = rows.iter().find(|row| row.work.plumb).or(rows.first());
        let saw = drilled.map_or(Vec::new(), |row| drilling::plumb(&row.work, row.cut));
        lines.push(format!("{} {}", slope(rake), saw.join(" ")));
    }
    lines
}

/// Long and short points of angled cuts.
fn points(rails: &Rails<'_>) -> Vec<String> {
    let m = &rails.layout.measure;
    let angled = rails.panel().cuts.iter().filter(|c| c.long_point != c.short_point);
    let one = |c: &Cut| {
        let name = member_name(c.member).to_lowercase();
        format!("{name} long point {}, short point {}", m.mark_text(c.long_point), m.mark_text(c.short_point))
    };
    angled.map(one).collect()
}

fn slope(rake: Rake) -> String {
    let falls = if rake.falls == Falls::Right { "right" } else { "left" };
    format!(
        "Falls to the {falls}. Lay the stick along the slope on the face that is marked, upper or lower: marks of both stand \
         plumb over each other."
    )
}
