//! Findings on a drawing: a numbered triangle at the place, and the list beside it.

use std::collections::BTreeMap;

use crate::base::{Code, Finding, Point, Severity, plane};
use crate::parts::Layout;

use super::Layer;
use super::board::{BASE_LEFT, Board, MIDDLE};
use super::label::{Ink, Placer};
use super::text::{self, Area};

/// Height of the triangle, paper mm.
const HEIGHT_MM: f64 = 5.6;
/// Size of its number against the drawing's text.
const NUMBER: f64 = 0.8;
/// Width of the list's lines, paper mm.
const LIST_MM: f64 = 74.0;
/// Indent of the list's lines past the triangle, paper mm.
const INDENT_MM: f64 = 9.0;

/// So many findings of a kind and weight are on a drawing: nobody reads further there, and one of another kind would be lost
/// between them.
const MOST_ALIKE: usize = 24;

/// No drawing has more signs: whoever looks at so many looks at the list.
const MOST_SIGNS: usize = 200;

/// Where all findings are that are told one by one.
const ELSEWHERE: &str = "see report.html or layout.json";

/// A finding with its number, which is the same in all lists.
type Numbered<'a> = (usize, &'a Finding);

/// The first of each kind, and how many others there are.
fn shown(findings: &[Finding]) -> (Vec<Numbered<'_>>, usize) {
    let mut told: BTreeMap<(Severity, Code), usize> = BTreeMap::new();
    let is_shown = |(_, finding): &Numbered<'_>| {
        let alike = told.entry((finding.severity, finding.code)).or_default();
        *alike += 1;
        *alike <= MOST_ALIKE
    };
    let (shown, others): (Vec<Numbered<'_>>, Vec<Numbered<'_>>) = (1..).zip(findings).partition(is_shown);
    (shown, others.iter().map(|(_, finding)| finding.count).sum())
}

/// A sign on the plan.
struct Sign {
    place: Point,
    /// The number of its first finding.
    number: usize,
    /// How many findings have their place within it.
    findings: usize,
}

impl Sign {
    /// `3`, or `3+2` with two more.
    fn text(&self) -> String {
        match self.findings {
            1 => self.number.to_string(),
            n => format!("{}+{}", self.number, n - 1),
        }
    }
}

/// The signs of the findings that are shown, those within the room of one together, and how many findings have none for their
/// number; a finding without a place on the plan stands in the list alone.
fn signs(layout: &Layout, findings: &[Finding], paper: f64) -> (Vec<Sign>, usize) {
    let room = HEIGHT_MM / 2.0 * paper;
    let spots = Spots::new(layout);
    let (mut signs, mut left): (Vec<Sign>, usize) = (Vec::new(), 0);
    let mut cells: BTreeMap<(i64, i64), Vec<usize>> = BTreeMap::new();
    let mut listed = shown(findings).0.into_iter().map(|(number, _)| number).peekable();
    for (number, finding) in (1..).zip(findings) {
        let is_listed = listed.next_if_eq(&number).is_some();
        let Some(place) = spots.of(finding) else { continue };
        let (x, y) = ((place.x / room).floor() as i64, (place.y / room).floor() as i64);
        let around = (x - 1..=x + 1).flat_map(|x| (y - 1..=y + 1).map(move |y| (x, y)));
        let is_here = |i: &usize| signs.get(*i).is_some_and(|s: &Sign| plane::distance(s.place, place) < room);
        let known = around.filter_map(|cell| cells.get(&cell)).flatten().copied().find(is_here);
        if let Some(sign) = known.and_then(|i| signs.get_mut(i)) {
            sign.findings += 1;
        } else if is_listed && signs.len() < MOST_SIGNS {
            cells.entry((x, y)).or_default().push(signs.len());
            signs.push(Sign { place, number, findings: 1 });
        } else {
            left += 1;
        }
    }
    (signs, left)
}

/// What a reader of the signs must know.
pub(super) fn notes(layout: &Layout, findings: &[Finding], paper: f64) -> Vec<String> {
    let (signs, left) = signs(layout, findings, paper);
    let grouped = signs.iter().find(|sign| sign.findings > 1);
    let told = grouped.map(|sign| format!("Sign {}: finding {} and others at one place.", sign.text(), sign.number));
    let left = (left > 0).then(|| format!("{left} more findings have a place on the plan and no sign: {ELSEWHERE}."));
    told.into_iter().chain(left).collect()
}

/// Triangles at the findings' places.
pub(super) fn at_places(board: &mut Board, placer: &mut Placer, layout: &Layout, findings: &[Finding]) {
    let near = board.mm(7.0);
    for sign in signs(layout, findings, board.paper).0 {
        let (place, text) = (sign.place, sign.text());
        let candidates = [1.0, 1.6, 2.3, 3.2].into_iter().flat_map(|times| {
            let ways = [-45.0, 45.0, -135.0, 135.0, -112.0, 112.0, -68.0, 68.0, 0.0, 180.0, -90.0, 90.0];
            ways.map(|w| place + plane::direction(crate::base::Angle::from_degrees(w)) * (near * times))
        });
        // The leader starts on the rail or post that it points at, so it always meets that; the least clash wins.
        let leader = |p| Area::of_line(place, p, board.mm(0.5));
        let cover = |p| {
            let triangle = (room(board, &text, p), Ink::Solid);
            // Twice: a leader over a line is better than a triangle on one.
            vec![triangle, triangle, (leader(p), Ink::Stroke)]
        };
        let candidates = candidates.map(|p| (p, cover(p)));
        let Some(centre) = placer.best(candidates) else { continue };
        placer.take(room(board, &text, centre), Ink::Solid);
        placer.take(leader(centre), Ink::Stroke);
        board.show("finding", &sign.number.to_string());
        let towards = plane::unit(place - centre);
        let edge = to_edge(half_base(board, &text), board.mm(HEIGHT_MM) / 2.0, towards);
        board.line(Layer::Note, place, centre + towards * edge);
        board.circle(Layer::Note, place, board.mm(0.5));
        triangle(board, &text, centre);
    }
    board.show_nothing();
}

fn room(board: &Board, text: &str, centre: Point) -> Area {
    let width = half_base(board, text) * 2.0;
    Area::new(centre, plane::point(1.0, 0.0), width + board.mm(0.8), board.mm(HEIGHT_MM + 0.8))
}

/// Where posts and panels are on the plan, by their names; of two with one name, the first.
struct Spots<'a> {
    posts: BTreeMap<&'a str, Point>,
    panels: BTreeMap<&'a str, Point>,
}

impl<'a> Spots<'a> {
    fn new(layout: &'a Layout) -> Self {
        let posts = layout.posts.iter().rev().map(|p| (p.id.as_str(), p.at));
        let panels = layout.panels.iter().rev().map(|p| (p.span.id.as_str(), (p.span.left + p.span.right) / 2.0));
        Self { posts: posts.collect(), panels: panels.collect() }
    }

    fn of(&self, finding: &Finding) -> Option<Point> {
        let place = &finding.place;
        let post = || self.posts.get(place.post.as_deref()?);
        let panel = || self.panels.get(place.panel.as_deref()?);
        place.at.or_else(|| post().or_else(panel).copied())
    }
}

fn half_base(board: &Board, number: &str) -> f64 {
    let digits = text::width(number, board.height() * NUMBER, false);
    // The sides of the triangle leave the middle of its breadth for the number.
    (digits * 0.95 + board.mm(1.6)).max(board.mm(HEIGHT_MM * 0.58))
}

/// From the middle of a triangle to its edge in a direction.
fn to_edge(half: f64, tall: f64, direction: Point) -> f64 {
    let slope = plane::unit(plane::point(2.0 * tall, half));
    let side = slope.y * tall;
    let edges = [(plane::point(0.0, -1.0), tall), (slope, side), (plane::point(-slope.x, slope.y), side)];
    let ahead =
        edges.iter().map(|(normal, off)| (plane::dot(*normal, direction), off)).filter(|(towards, _)| *towards > 0.0);
    ahead.map(|(towards, off)| off / towards).fold(f64::INFINITY, f64::min).min(2.0 * tall)
}

/// A triangle with its number, about `centre`.
fn triangle(board: &mut Board, number: &str, centre: Point) {
    let (half, tall) = (half_base(board, number), board.mm(HEIGHT_MM) / 2.0);
    let points = [(-half, -tall), (half, -tall), (0.0, tall)];
    let points = points.map(|(x, y)| centre + plane::point(x, y));
    board.path(Layer::Note, points.to_vec(), true);
    let low = centre - plane::point(0.0, board.mm(HEIGHT_MM * 0.17));
    let mut spec = board.spec(low, MIDDLE, number);
    spec.height *= NUMBER;
    board.text(Layer::Note, spec);
}

/// The list, from its upper left corner, in columns no taller than `tall`; the last line says how many are not in it.
pub(super) fn list(board: &mut Board, corner: Point, tall: f64, findings: &[Finding]) {
    let (shown, left) = shown(findings);
    let more = (left > 0).then(|| format!("and {left} more like these: {ELSEWHERE}"));
    list_of(board, corner, tall, &shown, more.as_deref());
}

fn list_of(board: &mut Board, corner: Point, tall: f64, shown: &[Numbered<'_>], more: Option<&str>) {
    if shown.is_empty() {
        return;
    }
    let line = board.height() * 1.6;
    let width = board.mm(LIST_MM);
    let mut at = corner - plane::point(0.0, board.height() * 1.3);
    board.heading(at, 1.3, "Findings");
    at.y -= board.mm(1.8);
    board.rule(at, width, 0.35);
    let top = at.y - board.mm(2.0);
    at.y = top;
    let entries = shown.iter().map(|(number, finding)| (Some(number.to_string()), entry(board, finding)));
    let last = more.map(|more| (None, text::wrap(more, board.height(), board.mm(LIST_MM - INDENT_MM))));
    for (number, lines) in entries.chain(last).collect::<Vec<_>>() {
        let deep = deep(board, &lines);
        if at.y - deep < corner.y - tall && at.y < top {
            at = plane::point(at.x + width + board.mm(10.0), top);
        }
        if let Some(number) = number {
            let middle = plane::point(at.x + board.mm(INDENT_MM * 0.42), at.y - board.mm(HEIGHT_MM / 2.0));
            triangle(board, &number, middle);
        }
        let mut base = plane::point(at.x + board.mm(INDENT_MM), at.y - board.height() * 1.2);
        for content in &lines {
            board.write(base, BASE_LEFT, content);
            base.y -= line;
        }
        at.y -= deep + board.mm(2.2);
    }
    board.show_nothing();
}

/// How tall an entry of the list is.
fn deep(board: &Board, lines: &[String]) -> f64 {
    (lines.len() as f64 * board.height() * 1.6).max(board.mm(HEIGHT_MM + 1.0))
}

/// The list in one column of the usual width, as far down as `bottom`. Gives how many had no room, or were too many of a kind.
pub(super) fn list_within(board: &mut Board, top: Point, bottom: f64, findings: &[Finding]) -> usize {
    // The heading, and two lines that tell of the rest.
    let line = board.height() * 1.6;
    let mut room = top.y - bottom - board.height() * 1.3 - board.mm(3.8) - 2.0 * line;
    let shown = shown(findings).0;
    let fitting = shown.iter().take_while(|(_, f)| {
        room -= deep(board, &entry(board, f)) + board.mm(2.2);
        room >= 0.0
    });
    let fitting = fitting.count();
    list_of(board, top, top.y - bottom, shown.get(..fitting).unwrap_or_default(), None);
    findings.len() - fitting
}

fn entry(board: &Board, finding: &Finding) -> Vec<String> {
    let room = board.mm(LIST_MM - INDENT_MM);
    let mut lines = text::wrap(&format!("{}: {}", finding.severity.word(), finding.message), board.height(), room);
    if let Some(hint) = &finding.hint {
        lines.extend(text::wrap(&format!("hint: {hint}"), board.height(), room));
    }
    lines
}

#[cfg(test)]
mod tests {
    use super::super::sample::{INCH, METAL, l_shape};
    use super::super::{Shape, TextSpec};
    use super::*;
    use crate::base::Place;

    fn at(x: f64, y: f64) -> Finding {
        Finding::error(Code::OpeningTooWide, Place::at(plane::point(x, y)), "5 in found")
    }

    /// All findings are told of by a sign or the note, and there are never more signs than the cap.
    #[test]
    fn findings_at_one_place_are_one_sign_and_signs_end() {
        let layout = l_shape(METAL, INCH);
        let paper = 48.0;
        let told = |findings: &[Finding]| {
            let (signs, left) = signs(&layout, findings, paper);
            assert_eq!(signs.iter().map(|s| s.findings).sum::<usize>() + left, findings.len());
            (signs.iter().map(Sign::text).collect::<Vec<_>>(), left, notes(&layout, findings, paper).len())
        };
        assert_eq!(told(&[at(0.0, 0.0), at(900.0, 0.0)]), (vec!["1".to_owned(), "2".to_owned()], 0, 0));
        let near = [at(0.0, 0.0), at(900.0, 0.0), at(100.0, 0.0), at(0.0, -100.0)];
        assert_eq!(told(&near), (vec!["1+2".to_owned(), "2".to_owned()], 0, 1));
        let many: Vec<Finding> = (0..2 * MOST_SIGNS).map(|i| at(i as f64 * 1000.0, 0.0)).collect();
        let (signs, left, notes) = told(&many);
        assert_eq!((signs.len(), left, notes), (MOST_ALIKE, 2 * MOST_SIGNS - MOST_ALIKE, 1));
        let stacked = vec![at(5.0, 5.0); 100_000];
        assert_eq!(told(&stacked), (vec!["1+99999".to_owned()], 0, 1));
        let kinds = Code::ALL.iter().flat_map(|code| vec![*code; MOST_ALIKE]);
        let kinds = (0..).zip(kinds).map(|(i, code)| Finding { code, ..at(f64::from(i) * 1000.0, 0.0) });
        let (signs, left, _) = told(&kinds.collect::<Vec<_>>());
        assert_eq!((signs.len(), left), (MOST_SIGNS, Code::ALL.len() * MOST_ALIKE - MOST_SIGNS));
    }

    fn texts(board: Board) -> Vec<String> {
        let items = board.finish("list", String::new(), None).items.into_iter();
        let content = |spec: TextSpec| spec.content;
        items.filter_map(|item| if let Shape::Text(spec) = item.shape { Some(content(spec)) } else { None }).collect()
    }

    /// One of another kind is in the list behind any number of others, with its own number; how many are not there is said.
    #[test]
    fn a_list_ends_and_says_how_many_more() {
        let mut findings = vec![at(0.0, 0.0); MOST_ALIKE + 7];
        findings.push(Finding { count: 3800, ..at(0.0, 0.0) });
        findings.push(Finding::warning(Code::GapJoined, Place::none(), "another kind"));
        let mut board = Board::new(1.0, 2.5);
        list(&mut board, plane::point(0.0, 0.0), 200.0, &findings);
        let told = texts(board);
        let said = told.iter().filter(|text| text.contains("5 in found")).count();
        assert_eq!(said, MOST_ALIKE, "{told:?}");
        assert!(told.contains(&(MOST_ALIKE + 9).to_string()) && !told.contains(&(MOST_ALIKE + 1).to_string()));
        assert!(told.iter().any(|text| text == "warning: another kind"));
        let words = told.join(" ");
        assert!(words.ends_with("and 3807 more like these: see report.html or layout.json"), "{words}");

        let mut board = Board::new(1.0, 2.5);
        assert_eq!(list_within(&mut board, plane::point(0.0, 0.0), -10_000.0, &findings), 8);
        assert!(texts(board).iter().all(|text| !text.contains("more like these")));
    }
}
