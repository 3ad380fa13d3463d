//! One raked panel as seen standing on the stair, looking out: members with plumb cuts on the slope, plumb balusters, the
//! stair beneath. Origin where the nosing line crosses the left face, x level to the right, y up.

use crate::base::{Length, Point, plane};
use crate::catalog::LimitKind;
use crate::guard::{Falls, Rake};
use crate::panel::{BracketAt, BracketKind, Panel};
use crate::parts::{Layout, LayoutPanel};

use super::board::{Board, MIDDLE};
use super::elevation::cross;
use super::infill::Place;
use super::rails::{Course, Rails};
use super::raked_stair::Stair;
use super::scale::Scale;
use super::support::{End, Outside, Standing};
use super::{Drawing, Layer, Linetype, caution, drilling, raked_dims};

/// How far posts go on below the nosing line and above the rail where the stair is not known, paper mm.
const BELOW_MM: f64 = 8.0;
const ABOVE_MM: f64 = 2.2;
/// How far the stair is drawn beyond the posts, paper mm.
const BEYOND_MM: f64 = 5.0;

/// A raked panel on its board.
pub(super) struct View<'a> {
    pub rails: Rails<'a>,
    pub rake: Rake,
    /// Supports.
    pub ends: [Outside; 2],
    pub stair: Option<Stair>,
}

/// A circle that shows a sphere to scale.
#[derive(Debug, Clone, Copy)]
pub(super) struct Sphere {
    pub centre: Point,
    pub diameter: f64,
}

/// The spheres that are shown.
#[derive(Debug, Default)]
pub(super) struct Spheres {
    /// The sphere that must not pass between balusters, in their widest gap.
    pub between: Option<Sphere>,
    /// The largest one in the triangle of riser, tread and bottom rail.
    pub triangle: Option<Sphere>,
}

/// A raked panel's elevation with its drilling views.
pub(super) fn elevation(mut board: Board, layout: &Layout, at: &LayoutPanel, rake: Rake, scale: Scale) -> Drawing {
    let panel = &at.panel;
    let view = View::new(layout, at, rake, &board);
    view.beneath(&mut board);
    for (end, side) in view.ends.iter().zip([End::Left, End::Right]) {
        view.support(&mut board, end, side);
    }
    view.members(&mut board);
    view.infill(&mut board);
    view.place(&mut |place| place.draw(&mut board));
    view.blocks(&mut board);
    view.brackets(&mut board);
    view.screws(&mut board);
    let spheres = view.spheres(&mut board);
    let lowest = raked_dims::draw(&mut board, &view, &spheres);
    let below = lowest - board.mm(10.0);
    drilling::views(&mut board, &view.rails, below);
    view.rails.title(&mut board, &raked_dims::facts(layout, at, &rake, scale.text));
    board.show_nothing();
    caution::below(&mut board);
    board.finish(&panel.id, format!("Panel {}", panel.id), None)
}

impl<'a> View<'a> {
    fn new(layout: &'a Layout, at: &'a LayoutPanel, rake: Rake, board: &Board) -> Self {
        let ends = [End::Left, End::Right].map(|end| Outside::new(layout, at, end, board));
        Self { rails: Rails::new(layout, at), rake, ends, stair: Stair::new(layout, at, &rake) }
    }

    pub(super) fn panel(&self) -> &'a Panel {
        self.rails.panel()
    }

    /// Rise over run from left to right.
    pub(super) fn slope(&self) -> f64 {
        let tan = self.rake.pitch.angle().tan();
        if self.rake.falls == Falls::Right { -tan } else { tan }
    }

    /// Direction of the rails, from left to right.
    pub(super) fn along(&self) -> Point {
        plane::unit(plane::point(1.0, self.slope()))
    }

    /// A point plumb above the nosing line.
    pub(super) fn at(&self, x: f64, above: f64) -> Point {
        plane::point(x, self.slope() * x + above)
    }

    /// x of a running mark.
    pub(super) fn x(&self, mark: Length) -> f64 {
        self.rails.start + mark.millimetres() / self.rake.pitch.factor()
    }

    pub(super) fn clear(&self) -> f64 {
        self.panel().span.millimetres()
    }

    /// Leftmost and rightmost x of the supports.
    pub(super) fn outer(&self) -> (f64, f64) {
        let [left, right] = &self.ends;
        (left.outer, right.outer)
    }

    /// Top of the highest member above the nosing line.
    pub(super) fn top(&self) -> f64 {
        self.panel().height.millimetres()
    }

    /// Height of a support's top: where its post is known to end, else a little above the rail.
    pub(super) fn support_top(&self, board: &Board, side: End) -> (f64, Option<Length>) {
        let layout = self.rails.layout;
        let (end, x) = self.end(side);
        let (low, high) = end.reach();
        let post = super::plan::post_at(layout, self.support_of(side));
        match (&self.stair, post) {
            (Some(stair), Some(post)) => {
                (stair.surface(f64::midpoint(low, high)) + post.height.millimetres(), Some(post.height))
            }
            _ => (self.at(x, self.top()).y + board.mm(ABOVE_MM), None),
        }
    }

    fn support_of(&self, side: End) -> crate::guard::Support {
        let span = &self.rails.at.span;
        if side == End::Left { span.from } else { span.to }
    }

    fn end(&self, side: End) -> (&Outside, f64) {
        let [left, right] = &self.ends;
        if side == End::Left { (left, 0.0) } else { (right, self.clear()) }
    }

    /// The stair and the line through its nosings.
    fn beneath(&self, board: &mut Board) {
        let (low, high) = self.outer();
        let beyond = board.mm(BEYOND_MM);
        if let Some(stair) = &self.stair {
            board.show("stair", &self.panel().id);
            stair.draw(board, low - beyond, high + beyond);
        }
        board.show("nosings", &self.panel().id);
        let line = vec![self.at(0.0, 0.0), self.at(self.clear(), 0.0)];
        board.patterned(Layer::Line, Linetype::Hidden, line, false);
    }

    fn support(&self, board: &mut Board, end: &Outside, side: End) {
        let (_, face) = self.end(side);
        let (top, height) = self.support_top(board, side);
        let (low, high) = end.reach();
        let middle = f64::midpoint(low, high);
        let stub = self.at(face, 0.0).y - board.mm(BELOW_MM);
        // Just inside of its edge: a post whose face is plumb over a nosing stands below it.
        let inside = |x: f64| if middle.is_finite() { x + 0.5 * (middle - x).signum() } else { x };
        let standing = Standing {
            bottom: &|x| self.stair.as_ref().map_or(stub, |s| s.surface(inside(x))),
            top,
            open: (self.stair.is_none(), height.is_none()),
            hides: &|x| self.rails.courses.iter().map(|c| (self.at(x, c.low).y, self.at(x, c.high).y)).collect(),
            label: height.map(|h| format!("{} high", self.rails.layout.measure.mark_text(h))),
            label_at: self.at(face, f64::midpoint(self.rails.infill.0, self.rails.infill.1)).y,
        };
        end.draw(board, &standing);
    }

    /// Where a member is seen to begin and end: its deck-side edge, as far as no post stands before it.
    fn seen(&self, half: f64) -> (f64, f64) {
        let span = &self.rails.at.span;
        let [left, right] = &self.ends;
        let from = self.rails.start + half * span.skew_left.tan();
        let to = self.x(self.panel().length) - half * span.skew_right.tan();
        (left.cover.map_or(from, |c| from.max(c)), right.cover.map_or(to, |c| to.min(c)))
    }

    /// A piece with plumb ends that lies on the slope.
    fn piece(&self, (from, to): (f64, f64), low: f64, high: f64) -> Vec<Point> {
        vec![self.at(from, low), self.at(to, low), self.at(to, high), self.at(from, high)]
    }

    fn members(&self, board: &mut Board) {
        board.show("panel", &self.panel().id);
        for course in &self.rails.courses {
            board.path(Layer::Panel, self.piece(self.seen(course.half), course.low, course.high), true);
        }
    }

    /// Half a baluster's width.
    pub(super) fn half_baluster(&self) -> f64 {
        self.rails.layout.system.baluster_width().millimetres() / 2.0
    }

    fn infill(&self, board: &mut Board) {
        let half = self.half_baluster();
        let (low, high) = self.rails.infill;
        board.show("baluster", &self.panel().id);
        for mark in &self.panel().balusters.marks {
            let x = self.x(*mark);
            board.path(Layer::Baluster, self.piece((x - half, x + half), low, high), true);
        }
    }

    /// Where cables and frames are placed.
    pub(super) fn place<T>(&self, then: &mut dyn FnMut(&Place<'_>) -> T) -> T {
        let place = Place {
            rails: &self.rails,
            x: &|mark| self.x(mark),
            at: &|x, above| self.at(x, above),
            outer: self.outer(),
        };
        then(&place)
    }

    /// Blocks, bevelled under the rail and level on what they stand on; dashed down to the nosing line where that is
    /// not known.
    fn blocks(&self, board: &mut Board) {
        let Some(spec) = &self.rails.layout.system.blocks else { return };
        let half = spec.width.millimetres() / 2.0;
        let panel = self.panel();
        let top = panel.bottom_gap.millimetres();
        board.show("block", &panel.id);
        for (index, mark) in panel.blocks.iter().enumerate() {
            let x = self.x(*mark);
            let Some(height) = panel.block_heights.get(index) else {
                let outline = self.piece((x - half, x + half), 0.0, top);
                board.patterned(Layer::Block, Linetype::Hidden, outline, true);
                continue;
            };
            let bottom = self.at(x, top).y - height.millimetres();
            let (a, b) = (self.at(x - half, top), self.at(x + half, top));
            board.path(Layer::Block, vec![plane::point(a.x, bottom), plane::point(b.x, bottom), b, a], true);
        }
    }

    /// From where to where a bracket reaches along the rail, as x.
    fn bracket_reach(&self, bracket: &BracketAt) -> (f64, f64) {
        let system = &self.rails.layout.system;
        let raked = system.raked.as_ref().filter(|_| bracket.kind == BracketKind::Raked);
        let reach = raked.map_or(system.bracket.reach, |r| r.bracket.reach);
        let length = self.panel().length;
        if bracket.left {
            (self.x(bracket.setback), self.x(reach))
        } else {
            (self.x(length - reach), self.x(length - bracket.setback))
        }
    }

    /// Brackets as the lower half of the member's end, screws as crosses.
    fn brackets(&self, board: &mut Board) {
        let arm = board.mm(0.45);
        for bracket in &self.panel().brackets {
            let Some(course) = self.rails.courses.iter().find(|c| c.role == bracket.member) else { continue };
            let (near, far) = self.bracket_reach(bracket);
            let (from, to) = self.seen(course.half);
            let (near, far) = (near.max(from), far.min(to));
            let top = f64::midpoint(course.low, course.high);
            board.show("bracket", &self.panel().id);
            board.path(Layer::Bracket, self.piece((near, far), course.low, top), true);
            board.show("screw", &self.panel().id);
            for x in bracket.holes.iter().map(|h| self.x(*h)).filter(|x| x - arm > near && x + arm < far) {
                cross(board, Layer::Screw, self.at(x, f64::midpoint(course.low, top)), arm);
            }
        }
    }

    /// Axes of the balusters' and the cap's screws in the members: plumb, since the marks of both faces stand plumb over
    /// each other.
    fn screws(&self, board: &mut Board) {
        for course in &self.rails.courses {
            board.show("screw", &self.panel().id);
            if self.rails.carries_balusters(course.role) {
                for mark in &self.panel().balusters.marks {
                    self.plumb(board, Layer::Hole, *mark, course);
                }
            }
            if self.rails.carries_cap(course.role) {
                for mark in &self.panel().cap_screws {
                    self.plumb(board, Layer::Screw, *mark, course);
                    cross(board, Layer::Screw, self.at(self.x(*mark), course.low), board.mm(0.45));
                }
            }
        }
    }

    fn plumb(&self, board: &mut Board, layer: Layer, mark: Length, course: &Course) {
        let x = self.x(mark);
        let line = vec![self.at(x, course.low), self.at(x, course.high)];
        board.patterned(layer, Linetype::Continuous, line, false);
    }

    /// Draws the spheres with their letters.
    fn spheres(&self, board: &mut Board) -> Spheres {
        let spheres = Spheres { between: self.between(), triangle: self.triangle() };
        board.show("sphere", &self.panel().id);
        for (letter, sphere) in [("A", spheres.between), ("B", spheres.triangle)] {
            let Some(sphere) = sphere else { continue };
            board.circle(Layer::Note, sphere.centre, sphere.diameter / 2.0);
            let text = board.spec(sphere.centre, MIDDLE, letter);
            board.text(Layer::Note, text);
        }
        spheres
    }

    /// The limit's sphere in the widest gap, half way up the balusters.
    fn between(&self) -> Option<Sphere> {
        self.panel().balusters.marks.first()?;
        let rules = &self.rails.layout.rules;
        let limit = rules.limit(LimitKind::StairOpening).or_else(|| rules.limit(LimitKind::Opening))?;
        let half = self.half_baluster();
        let xs: Vec<f64> = self.panel().balusters.marks.iter().map(|mark| self.x(*mark)).collect();
        let starts = std::iter::once(0.0).chain(xs.iter().map(|x| x + half));
        let ends = xs.iter().map(|x| x - half).chain([self.clear()]);
        let gaps: Vec<(f64, f64)> = starts.zip(ends).collect();
        // Of gaps that are equally wide but for noise the middle one: the ends are crowded.
        let widest = gaps.iter().map(|(a, b)| b - a).fold(0.0, f64::max) - 1e-3;
        let middle = self.clear() / 2.0;
        let off = |(a, b): &&(f64, f64)| (f64::midpoint(*a, *b) - middle).abs();
        let (a, b) = gaps.iter().filter(|(a, b)| b - a >= widest).min_by(|p, q| off(p).total_cmp(&off(q)))?;
        let centre = self.at(f64::midpoint(*a, *b), f64::midpoint(self.rails.infill.0, self.rails.infill.1));
        Some(Sphere { centre, diameter: limit.value.millimetres() })
    }

    /// The largest sphere between riser, tread and bottom rail, at the step nearest to the middle that no block crowds.
    fn triangle(&self) -> Option<Sphere> {
        let stair = self.stair.as_ref()?;
        let diameter = stair.largest_sphere(self.panel().bottom_gap.millimetres());
        let block = self.rails.layout.system.blocks.as_ref().map_or(0.0, |b| b.width.millimetres());
        let crowds = |c: &Point, mark: &Length| (self.x(*mark) - c.x).abs() < f64::midpoint(diameter, block);
        let crowded = |c: &Point| self.panel().blocks.iter().any(|mark| crowds(c, mark));
        let middle = self.clear() / 2.0;
        let centres = stair.sphere_centres(diameter, 0.0, self.clear());
        let best = centres.into_iter().min_by(|a, b| {
            let rank = |c: &Point| (crowded(c), (c.x - middle).abs());
            let ((a_crowded, a_off), (b_crowded, b_off)) = (rank(a), rank(b));
            a_crowded.cmp(&b_crowded).then(a_off.total_cmp(&b_off))
        })?;
        Some(Sphere { centre: best, diameter })
    }
}
