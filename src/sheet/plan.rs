//! The plan: posts, rail lines, panels, their tags and dimensions, and the findings at their place.

use crate::base::{Finding, Length, Point, plane};
use crate::cad::Fact;
use crate::guard::{OpenSpan, Post, PostOrigin, Span, Support};
use crate::parts::{Layout, LayoutPanel};

use super::board::{self, BASE_LEFT, Board, MIDDLE};
use super::label::{Ink, Placer};
use super::room::Blank;
use super::text::Area;
use super::{Drawing, Item, Layer, PostMark, Shape, TextSpec, callout, caution, flights, scale, stretch, tag};

/// An erased post's place is on a span when it lies this near to it: posts stand on the rail line.
const ON_SPAN_MM: f64 = 13.0;
/// Kind of what stands beside the plan: title, notes, list of findings.
pub(super) const NOTES: &str = "notes";

/// Longer notes below the plan are cut short, paper mm: the title strip and the report have them, too.
const LONGEST_NOTE_MM: f64 = 500.0;

/// Room between the plan and what is written beside it, paper mm.
const BESIDE_MM: f64 = 14.0;
/// Clear space round a post that no text enters, paper mm.
const POST_ROOM_MM: f64 = 0.8;
/// Spans below this need not hold their text between the ticks; two feet, full-scale mm.
const SHORT_MM: f64 = 610.0;
/// How much of the user's plan is shown round the rails where a sheet has no room for all of it, paper mm.
const NEAR_MM: f64 = 12.0;
/// Dimensions and tags stand nearer to the rails than this, paper mm: nine rows of dimensions and a text behind them.
const TEXTS_MM: f64 = 150.0;
/// Breadth that a line of the user's plan is taken to have, paper mm.
const LINE_MM: f64 = 0.4;
/// Length of the stroke that marks a wall's face beyond the rail on each side, paper mm.
const WALL_TICK_MM: f64 = 3.0;

/// The plan in the user's own coordinates (local mm), at the largest standard scale that fits the layout's paper.
pub fn plan(layout: &Layout, findings: &[Finding]) -> Drawing {
    plan_beside(layout, findings, &[])
}

/// The plan with titles and lists kept clear of `context`, shapes of the user's drawing that are shown behind it. Where no
/// scale both fits the paper and leaves the texts room, it is larger than a sheet.
pub fn plan_beside(layout: &Layout, findings: &[Finding], context: &[Item]) -> Drawing {
    let rooms = Blank::both(layout.paper()).map(Blank::plan_room);
    let fits = |size: Point, paper: f64| rooms.iter().any(|r| size.x <= r.x * paper && size.y <= r.y * paper);
    let least = scale::readable(finest(layout), &layout.measure);
    let (low, high) = reach(layout);
    for scale in scale::plans(&layout.measure).iter().filter(|s| s.paper < least.paper) {
        // What does not fit without its dimensions need not be tried with them.
        if fits(high - low, scale.paper) {
            let drawing = plan_at(layout, findings, context, *scale);
            if drawing.parts.iter().any(|(low, high)| fits(*high - *low, scale.paper)) {
                return drawing;
            }
        }
    }
    plan_at(layout, findings, context, least)
}

/// The plan at a scale. Its parts: with all that is behind it, and with what of that is near the rails.
fn plan_at(layout: &Layout, findings: &[Finding], context: &[Item], scale: scale::Scale) -> Drawing {
    let mut board = Board::new(scale.paper, scale::text_height(&layout.measure));
    let mut placer = Placer::new(board.mm(5.0));
    for run in &layout.runs {
        board.show("run", &run.number.to_string());
        board.path(Layer::Line, run.line.clone(), run.closed);
    }
    for at in &layout.panels {
        rail(&mut board, &mut placer, layout, at);
    }
    for open in &layout.open {
        open_span(&mut board, &mut placer, open);
    }
    for post in &layout.posts {
        post_square(&mut board, &mut placer, post);
    }
    board.show_nothing();
    behind(&board, &mut placer, context);
    flights::draw(&mut board, &mut placer, layout);
    stretch::dimensions(&mut board, &mut placer, layout);
    tag::posts(&mut board, &mut placer, layout);
    tag::spans(&mut board, &mut placer, layout);
    flights::tags(&mut board, &mut placer, layout);
    callout::at_places(&mut board, &mut placer, layout, findings);
    board.show_nothing();
    let drawn = board.bounds();
    let around = plane::bounds(context.iter().flat_map(|i| board::reach(&i.shape)));
    board.part(0, around);
    board.part(0, around.zip(drawn).and_then(|(all, near)| common(all, grown(near, board.mm(NEAR_MM)))));
    board.show(NOTES, "plan");
    let mut more = callout::notes(layout, findings, board.paper);
    if placer.unseen() > 0 {
        more.push(format!("{} texts and signs may lie on others: too much lies here.", placer.unseen()));
    }
    beside(&mut board, layout, (findings, more), around, scale.text);
    board.finish("plan", "Guard rail plan".to_owned(), around)
}

/// Takes the walls of the user's plan, so that texts keep off them where they can. Other lines of it are thin, and a text
/// over one can be read: on a stair there is no place without. Texts stand near the rails, so walls that do not are passed
/// by: a plan of a whole town costs no more than that of its one deck.
fn behind(board: &Board, placer: &mut Placer, context: &[Item]) {
    let near = board.bounds().map(|rails| grown(rails, board.mm(TEXTS_MM)));
    let mut take = |a: Point, b: Point| {
        if near.is_some_and(|near| meet(near, (a, b))) {
            placer.take(Area::of_line(a, b, board.mm(LINE_MM)), Ink::Stroke);
        }
    };
    for item in context {
        match &item.shape {
            Shape::Line(a, b) => take(*a, *b),
            Shape::Path { points, filled: true, .. } => {
                points.iter().zip(points.iter().skip(1)).for_each(|(a, b)| take(*a, *b));
            }
            _ => {}
        }
    }
}

fn grown((low, high): (Point, Point), by: f64) -> (Point, Point) {
    (low - plane::point(by, by), high + plane::point(by, by))
}

/// Whether an upright area and the one around a line have a point in common.
fn meet((low, high): (Point, Point), (a, b): (Point, Point)) -> bool {
    let apart = |low: f64, high: f64, a: f64, b: f64| a.max(b) < low || a.min(b) > high;
    !apart(low.x, high.x, a.x, b.x) && !apart(low.y, high.y, a.y, b.y)
}

/// What two upright areas share.
fn common((low, high): (Point, Point), (other_low, other_high): (Point, Point)) -> Option<(Point, Point)> {
    let low = plane::point(low.x.max(other_low.x), low.y.max(other_low.y));
    let high = plane::point(high.x.min(other_high.x), high.y.min(other_high.y));
    (low.x < high.x && low.y < high.y).then_some((low, high))
}

/// Lower left and upper right corner of what is laid out, without texts and dimensions.
fn reach(layout: &Layout) -> (Point, Point) {
    let posts = layout.posts.iter().flat_map(|p| board::post_corners(p.at, p.side.millimetres(), p.rotation));
    let lines = layout.runs.iter().flat_map(|r| r.line.iter().copied());
    let origin = plane::point(0.0, 0.0);
    plane::bounds(posts.chain(lines).chain(flights::reach(layout))).unwrap_or((origin, origin))
}

/// Full-scale mm per mm on paper above which the spans' texts no longer fit between their posts.
fn finest(layout: &Layout) -> f64 {
    let text_mm = scale::text_height(&layout.measure);
    // Full-scale mm that each millimetre of a span's text may cover.
    let room = |p: &LayoutPanel| {
        let text = layout.measure.text(p.span.clear);
        p.span.clear.millimetres() / (super::text::width(&text, text_mm, false) + 2.0)
    };
    let usual = layout.panels.iter().filter(|p| p.span.clear.millimetres() >= SHORT_MM);
    usual.map(room).fold(f64::INFINITY, f64::min)
}

/// Direction of a span, left to right, and the direction away from the deck.
pub(super) fn axes(span: &Span) -> (Point, Point) {
    let along = plane::unit(span.right - span.left);
    (along, plane::left(along))
}

/// The post that a span meets, if it is one.
pub(super) fn post_at(layout: &Layout, support: Support) -> Option<&Post> {
    match support {
        Support::Post(index) => layout.posts.get(index),
        Support::Wall => None,
    }
}

/// Half the breadth that posts and rails take across the rail line, mm.
pub(super) fn half_breadth(layout: &Layout) -> f64 {
    let posts = layout.posts.iter().map(|p| p.side).max().unwrap_or(Length::ZERO);
    posts.max(layout.system.widest()).millimetres() / 2.0
}

/// Outline of a panel's widest member, with its mitred ends.
fn rail(board: &mut Board, placer: &mut Placer, layout: &Layout, at: &LayoutPanel) {
    let (span, panel) = (&at.span, &at.panel);
    let (along, out) = axes(span);
    let half = layout.system.widest().millimetres() / 2.0;
    let left = span.left + along * panel.clearance_left.millimetres();
    // In plan a raked rail is as long as what lies level beneath it.
    let right = left + along * panel.level_mark(panel.length).millimetres();
    let (lean_left, lean_right) = (along * (half * span.skew_left.tan()), along * (half * span.skew_right.tan()));
    let (near, far) = (-out * half, out * half);
    board.show("panel", &span.id);
    let outline =
        vec![left + near + lean_left, right + near - lean_right, right + far + lean_right, left + far - lean_left];
    board.show_with("panel", &span.id, panel_facts(layout, span));
    board.path(Layer::Panel, outline, true);
    board.show("panel", &span.id);
    placer.take(Area::of_line(left, right, 2.0 * half).grown(0.0, board.mm(0.4)), Ink::Solid);
    let ends = [(span.left, span.from, -span.skew_left.tan()), (span.right, span.to, span.skew_right.tan())];
    for (face, support, lean) in ends {
        if support == Support::Wall {
            let stroke = (out + along * lean) * (half + board.mm(WALL_TICK_MM));
            board.line(Layer::Panel, face - stroke, face + stroke);
            placer.take(Area::of_line(face - stroke, face + stroke, board.mm(1.0)), Ink::Solid);
        }
    }
}

/// Ends of the span, and the planned posts at them: what is gone of these in a later run, the user erased.
fn panel_facts(layout: &Layout, span: &Span) -> Vec<Fact> {
    let mut facts = vec![Fact::At(span.left), Fact::At(span.right)];
    let posts = [span.from, span.to].into_iter().filter_map(|s| post_at(layout, s));
    for post in posts.filter(|p| p.origin == PostOrigin::Planned) {
        facts.extend([Fact::Text(post.id.clone()), Fact::At(post.at)]);
    }
    let on_span = |p: Point| plane::to_segment(p, span.left, span.right).0 < ON_SPAN_MM;
    for (id, at) in layout.erased.iter().filter(|(_, at)| on_span(*at)) {
        facts.extend([Fact::Text(format!("erased {id}")), Fact::At(*at)]);
    }
    facts
}

/// A span that the user wants open: said in its middle, and kept so by later runs.
fn open_span(board: &mut Board, placer: &mut Placer, open: &OpenSpan) {
    let facts = vec![Fact::At(open.left), Fact::At(open.right)];
    board.show_with("open", &open.id, facts);
    let middle = (open.left + open.right) / 2.0;
    let text = format!("{} open", open.id);
    let along = plane::unit(open.right - open.left);
    let width = super::text::width(&text, board.height(), false);
    placer.take(Area::new(middle, along, width, board.height()), Ink::Solid);
    let tag = TextSpec { rotation: super::text::readable(plane::angle_of(along)), ..board.spec(middle, MIDDLE, &text) };
    board.text(Layer::Text, tag);
}

fn post_square(board: &mut Board, placer: &mut Placer, post: &Post) {
    let side = post.side.millimetres();
    board.show_with("post", &post.id, vec![Fact::Text(post.origin.text().to_owned()), Fact::At(post.at)]);
    board.post(PostMark { at: post.at, side, rotation: post.rotation, id: post.id.clone(), kind: post.kind.text() });
    let room = side + 2.0 * board.mm(POST_ROOM_MM);
    placer.take(Area::new(post.at, plane::direction(post.rotation), room, room), Ink::Solid);
}

/// Title, scale and notes below the plan, findings to its right.
fn beside(
    board: &mut Board,
    layout: &Layout,
    (findings, more): (&[Finding], Vec<String>),
    around: Option<(Point, Point)>,
    scale: &str,
) {
    let drawn = board.bounds();
    let all = [drawn, around].into_iter().flatten().flat_map(|(low, high)| [low, high]);
    let origin = plane::point(0.0, 0.0);
    let (low, high) = plane::bounds(all).unwrap_or((origin, origin));
    let gap = board.mm(BESIDE_MM);
    let mut at = plane::point(low.x, low.y - gap);
    board.heading(at, 1.7, "Guard rail plan");
    at.y -= board.mm(2.0);
    board.rule(at, board.mm(110.0), 0.5);
    at.y -= board.mm(2.5) + board.height();
    let mut right = high.x.max(at.x + board.mm(110.0));
    for note in facts(layout, scale).into_iter().chain(more) {
        let (wide, room) = (super::text::width(&note, board.height(), false), board.mm(LONGEST_NOTE_MM));
        let note = if wide > room { super::text::cut(&note, board.height(), false, room) } else { note };
        board.write(at, BASE_LEFT, &note);
        at.y -= board.height() * 1.7;
        right = right.max(at.x + wide.min(room));
    }
    caution::column(board, plane::point(at.x, at.y + board.height() - board.mm(2.0)), board.mm(110.0));
    let tall = (high.y - low.y).max(board.mm(120.0));
    callout::list(board, plane::point(right + gap, high.y), tall, findings);
}

/// Title block facts and scale over the notes, where no sheet has them.
fn facts(layout: &Layout, scale: &str) -> Vec<String> {
    let facts = &layout.project;
    let client = facts.client.as_ref().map(|c| format!("Client: {c}"));
    let drawn_by = facts.drawn_by.as_ref().map(|d| format!("Drawn by: {d}"));
    let project = [&facts.name, &facts.address, &client, &drawn_by, &facts.date];
    let project: Vec<&str> = project.into_iter().flatten().map(String::as_str).collect();
    let project = (!project.is_empty()).then(|| project.join(", "));
    let mut all: Vec<String> = project.into_iter().collect();
    let mut notes = notes(layout);
    if let Some(first) = notes.first_mut() {
        *first = format!("Scale {scale}. {first}");
    }
    all.extend(notes);
    all
}

/// What a reader of the plan must know.
pub(super) fn notes(layout: &Layout) -> Vec<String> {
    let unit = if layout.measure.unit.is_imperial() { "feet and inches" } else { "millimetres" };
    let mut notes = vec![
        format!("Dimensions in {unit}."),
        "Span dimensions are clear between faces, along the rail line.".to_owned(),
        "Overall dimensions run between post centres, or from a wall's face; so do the running ones, from the left as seen from the deck.".to_owned(),
        format!("Rail system: {}", layout.system.title),
    ];
    if !layout.flights.is_empty() {
        notes.push("On stairs, dimensions are level; DN points to the foot of the flight.".to_owned());
    }
    if !layout.handrails.is_empty() {
        notes.push("H: handrail, dashed with its extensions.".to_owned());
    }
    notes
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::base::plane::point;

    /// A small file can hold walls of a hundred miles; what they would take is memory.
    #[test]
    fn walls_far_from_the_rails_take_no_room() {
        let mut board = Board::new(48.0, 3.0);
        board.path(Layer::Line, vec![point(0.0, 0.0), point(3000.0, 0.0)], false);
        let wall =
            |a: Point, b: Point| Item { layer: Layer::Line, linetype: None, object: None, shape: Shape::Line(a, b) };
        let walls = [
            wall(point(-500.0, 200.0), point(4000.0, 200.0)),
            wall(point(-500.0, 20_000.0), point(4000.0, 20_000.0)),
            wall(point(-1e8, -1e8), point(-1e8, 1e8)),
        ];
        let mut placer = Placer::new(board.mm(5.0));
        behind(&board, &mut placer, &walls);
        let mut is_free = |at: Point| placer.is_free(&[(Area::of_line(at, at + point(10.0, 0.0), 10.0), Ink::Solid)]);
        assert!(!is_free(point(1000.0, 200.0)), "a wall beside the rails");
        assert!(is_free(point(1000.0, 20_000.0)) && is_free(point(-1e8, 0.0)), "walls far away");
    }
}
