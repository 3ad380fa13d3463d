//! Layouts made by hand for this stage's tests. The marks are plausible, not planned: the planner is not used here.

use crate::base::plane::{self, point};
use crate::base::{Angle, Code, Finding, Frame, Length, Mark, Measure, Place, Point, Unit};
use crate::catalog::{BalusterStyle, MemberRole, Project, RailSystem, ShopJob};
use crate::guard::{Post, PostKind, PostOrigin, Run, Span, Support};
use crate::panel::{Balusters, BracketAt, BracketKind, Cut, Panel, PanelInfill};
use crate::parts::{CutPlan, Item, Layout, LayoutPanel, OrderLine, PlanFacts};

pub const TEST_RAIL: &str = include_str!("../../tests/systems/test-rail.toml");
pub const METAL: &str = include_str!("../catalog/systems/metal-42.toml");

/// The measures of an inch job and of a metric one.
pub const INCH: Measure = Measure { unit: Unit::Inch, mark: Mark::SIXTEENTH };
pub const METRIC: Measure = Measure { unit: Unit::Millimetre, mark: Mark::MILLIMETRE };

pub fn inches(value: f64) -> Length {
    Length::from_millimetres(value * 25.4).unwrap()
}

pub(super) struct Maker {
    pub system: RailSystem,
    pub measure: Measure,
    pub posts: Vec<Post>,
    pub panels: Vec<LayoutPanel>,
}

impl Maker {
    pub fn post(&mut self, kind: PostKind, x: f64, y: f64, turn: f64) -> Support {
        self.posts.push(Post {
            id: format!("P{}", self.posts.len() + 1),
            kind,
            origin: PostOrigin::Planned,
            at: point(x, y) * 25.4,
            side: self.system.post.side,
            rotation: Angle::from_degrees(turn),
            height: self.system.height + self.system.post.above,
            handle: None,
        });
        Support::Post(self.posts.len() - 1)
    }

    /// A span between two supports; a wall is given by the point of its face.
    fn span(&mut self, from: (Support, Point), to: (Support, Point), skews: (f64, f64), style: BalusterStyle) {
        let id = format!("S{}", self.panels.len() + 1);
        let along = plane::unit(to.1 - from.1);
        let (skew_left, skew_right) = (Angle::from_degrees(skews.0), Angle::from_degrees(skews.1));
        let face = |s: Support, skew: Angle| match s {
            Support::Post(i) => self.posts[i].side.millimetres() / 2.0 / skew.cos(),
            Support::Wall => 0.0,
        };
        let left = from.1 + along * face(from.0, skew_left);
        let right = to.1 - along * face(to.0, skew_right);
        let clear = Length::from_millimetres(plane::distance(left, right)).unwrap();
        let panel = panel(&id, clear, (skew_left, skew_right), &self.system, &self.measure, style);
        let span = Span { id, run: 0, from: from.0, to: to.0, left, right, clear, skew_left, skew_right, rake: None };
        let kit = self.system.kits.iter().find(|k| k.length >= panel.length).map(|k| k.name.clone());
        self.panels.push(LayoutPanel { span, panel, measured: None, kit, price: None });
    }
}

/// A run down the right side of a deck, along its front and up a 135 degree corner: wall, 96 in, 14 in, two equal
/// spans, and one to the free end.
pub fn l_shape(system: &str, measure: Measure) -> Layout {
    let system: RailSystem = toml::from_str(system).unwrap();
    let style = system.baluster.as_ref().unwrap().style;
    let mut maker = Maker { system, measure, posts: Vec::new(), panels: Vec::new() };
    let half = maker.system.post.side.inches() / 2.0;
    let skewed = half / 22.5f64.to_radians().cos();
    let wall = point(240.0, 0.0);
    let first = point(240.0, -96.0 - half);
    let corner = first - point(0.0, 14.0 + 2.0 * half);
    let middle = corner - point(69.5 + 2.0 * half, 0.0);
    let bend = middle - point(69.5 + half + skewed, 0.0);
    let end = bend + point(-1.0, 1.0) * ((50.25 + half + skewed) * std::f64::consts::FRAC_1_SQRT_2);
    let line = vec![wall * 25.4, corner * 25.4, bend * 25.4, end * 25.4];
    let p1 = maker.post(PostKind::Line, first.x, first.y, 0.0);
    let p2 = maker.post(PostKind::Corner, corner.x, corner.y, 0.0);
    let p3 = maker.post(PostKind::Line, middle.x, middle.y, 0.0);
    let p4 = maker.post(PostKind::Corner, bend.x, bend.y, -22.5);
    let p5 = maker.post(PostKind::End, end.x, end.y, 45.0);
    let at = |p: Point| p * 25.4;
    maker.span((Support::Wall, at(wall)), (p1, at(first)), (0.0, 0.0), style);
    maker.span((p1, at(first)), (p2, at(corner)), (0.0, 0.0), style);
    maker.span((p2, at(corner)), (p3, at(middle)), (0.0, 0.0), style);
    maker.span((p3, at(middle)), (p4, at(bend)), (0.0, 22.5), style);
    maker.span((p4, at(bend)), (p5, at(end)), (22.5, 0.0), BalusterStyle::Even);
    finish(maker, line)
}

/// The usual level layout, for tests of the writers.
pub fn level_sample() -> Layout {
    l_shape(TEST_RAIL, INCH)
}

/// Rail along vertices in inches, left to right, each side in equal spans of at most 72 in.
pub fn along(system: &str, measure: Measure, vertices: &[(f64, f64)], closed: bool) -> Layout {
    let system: RailSystem = toml::from_str(system).unwrap();
    let style = system.baluster.as_ref().unwrap().style;
    let mut maker = Maker { system, measure, posts: Vec::new(), panels: Vec::new() };
    let points: Vec<Point> = vertices.iter().map(|(x, y)| point(*x, *y)).collect();
    let count = points.len();
    let heading = |i: usize| plane::angle_of(points[(i + 1) % count] - points[i % count]);
    let is_end = |i: usize| !closed && (i == 0 || i + 1 == count);
    // How far each corner's faces lean: half of what is left of the turn to the right after whole right angles.
    let lean = |i: usize| {
        let turn = heading((i + count - 1) % count) - heading(i);
        if is_end(i) { 0.0 } else { turn.folded(Angle::from_degrees(90.0)).degrees() / 2.0 }
    };
    let mut corners = Vec::new();
    for (i, p) in points.iter().enumerate() {
        let into = if i == 0 && !closed { heading(0) } else { heading((i + count - 1) % count) };
        let rotation = (into - Angle::from_degrees(lean(i))).folded(Angle::from_degrees(90.0));
        let kind = if is_end(i) { PostKind::End } else { PostKind::Corner };
        corners.push(maker.post(kind, p.x, p.y, rotation.degrees()));
    }
    for i in 0..if closed { count } else { count - 1 } {
        let (a, b) = (points[i], points[(i + 1) % count]);
        let bays = (plane::distance(a, b) / 72.0).ceil() as usize;
        let mut from = (corners[i], a * 25.4, lean(i));
        for bay in 1..=bays {
            let at = a + (b - a) * (bay as f64 / bays as f64);
            let to = if bay == bays {
                (corners[(i + 1) % count], b * 25.4, lean((i + 1) % count))
            } else {
                let turn = heading(i).folded(Angle::from_degrees(90.0)).degrees();
                (maker.post(PostKind::Line, at.x, at.y, turn), at * 25.4, 0.0)
            };
            maker.span((from.0, from.1), (to.0, to.1), (from.2, to.2), style);
            from = to;
        }
    }
    let mut layout = finish(maker, points.iter().map(|p| *p * 25.4).collect());
    layout.runs[0].closed = closed;
    layout
}

/// One panel between two posts that both lean the other way: its outer edge is the shorter one.
pub fn inner_corner(system: &str, measure: Measure, span: f64, skew: f64) -> Layout {
    let system: RailSystem = toml::from_str(system).unwrap();
    let style = system.baluster.as_ref().unwrap().style;
    let mut maker = Maker { system, measure, posts: Vec::new(), panels: Vec::new() };
    let face = maker.system.post.side.inches() / 2.0 / skew.to_radians().cos();
    let end = point(span + 2.0 * face, 0.0);
    let from = maker.post(PostKind::Corner, 0.0, 0.0, skew);
    let to = maker.post(PostKind::Corner, end.x, 0.0, -skew);
    maker.span((from, point(0.0, 0.0)), (to, end * 25.4), (skew, skew), style);
    finish(maker, vec![point(0.0, 0.0), end * 25.4])
}

pub(super) fn finish(maker: Maker, line: Vec<Point>) -> Layout {
    Layout {
        plan: PlanFacts { file: "deck.dxf".to_owned(), sha256: "0".repeat(64), frame: Frame::default() },
        measure: maker.measure,
        rules: toml::from_str(include_str!("../catalog/rules/irc-2021.toml")).unwrap(),
        project: Project { name: Some("Deck & porch <north>".to_owned()), ..Project::default() },
        inset: maker.system.post.inset,
        site: None,
        sheet: None,
        tolerance: inches(1.0 / 32.0),
        system: maker.system,
        posts: maker.posts,
        runs: vec![Run { number: 1, line, closed: false, flight: None }],
        panels: maker.panels,
        open: Vec::new(),
        erased: Vec::new(),
        flights: Vec::new(),
        handrails: Vec::new(),
        shop: ShopJob::default().into(),
        on_hand: Vec::new(),
        finish: None,
        cut_plan: CutPlan::empty(),
        order: vec![
            OrderLine {
                quantity: 5,
                packs: 5,
                price: Some(612.5),
                ..OrderLine::new(Item::Kit { name: "Level box 99 in".to_owned() }, None)
            },
            OrderLine {
                quantity: 73,
                pack: 20,
                packs: 4,
                ..OrderLine::new(Item::Screw { name: "#7 x 2-1/2 in".to_owned() }, None)
            },
        ],
    }
}

fn panel(
    id: &str,
    clear: Length,
    skews: (Angle, Angle),
    system: &RailSystem,
    measure: &Measure,
    style: BalusterStyle,
) -> Panel {
    let clearance = system.end_clearance;
    let length = clear - clearance * 2;
    let cuts = system.members.iter().map(|m| {
        let lean = |a: Angle| m.width.half().scaled(a.tan());
        let (left, right) = (lean(skews.0), lean(skews.1));
        let (outer, inner) = (length + left + right, length - left - right);
        Cut {
            member: m.role,
            length,
            long_point: outer.max(inner),
            short_point: outer.min(inner),
            tip_to_tip: length + left.abs() + right.abs(),
            left: skews.0,
            right: skews.1,
            left_tip: left.abs(),
            plumb: Angle::ZERO,
        }
    });
    let screws = system.cap_screws.as_ref().map_or(Vec::new(), |s| {
        let gaps = -(-length).whole_steps(s.longest_spacing);
        (1..gaps).map(|i| measure.mark.round(length.fraction(i, gaps))).collect()
    });
    let count =
        system.blocks.as_ref().and_then(|b| b.counts.iter().find(|c| c.up_to >= length)).map_or(0, |c| c.blocks);
    let blocks: Vec<Length> =
        (1..=i64::from(count)).map(|i| measure.mark.round(length.fraction(i, i64::from(count) + 1))).collect();
    Panel {
        id: id.to_owned(),
        span: clear,
        length,
        clearance_left: clearance,
        clearance_right: clearance,
        cuts: cuts.collect(),
        infill: PanelInfill::Balusters,
        balusters: balusters(length, system, measure, style),
        block_heights: vec![system.bottom_gap; blocks.len()],
        blocks,
        cap_screws: screws,
        brackets: brackets(length, skews, system),
        height: system.height,
        bottom_gap: system.bottom_gap,
        rake: None,
    }
}

fn balusters(length: Length, system: &RailSystem, measure: &Measure, style: BalusterStyle) -> Balusters {
    let (width, limit) = (system.baluster_width(), inches(3.75));
    let (count, spacing, first) = if style == BalusterStyle::Even {
        let n = (length - limit).whole_steps(width + limit) + 1;
        let gap = (length - width * n) / (n + 1);
        (n, gap + width, gap + width.half())
    } else {
        let s = system.baluster.as_ref().unwrap().spacing;
        let m = length.whole_steps(s);
        (m, s, (length - s * (m - 1)).half())
    };
    let marks: Vec<Length> = (0..count).map(|i| measure.mark.round(first + spacing * i)).collect();
    let end_gap_left = marks[0] - width.half() + system.end_clearance;
    let end_gap_right = length - marks[marks.len() - 1] - width.half() + system.end_clearance;
    let between = marks.windows(2).map(|w| w[1] - w[0] - width);
    let widest_gap = between.chain([end_gap_left, end_gap_right]).max().unwrap();
    Balusters { style, spacing, length: system.baluster_length(), marks, end_gap_left, end_gap_right, widest_gap }
}

fn brackets(length: Length, skews: (Angle, Angle), system: &RailSystem) -> Vec<BracketAt> {
    let bracket = &system.bracket;
    let mut all = Vec::new();
    for role in MemberRole::SupportRail as u8..=MemberRole::Cap as u8 {
        for member in bracket.members.iter().copied().filter(|m| *m as u8 == role) {
            let from_end = || bracket.holes.iter().map(|h| h.along + bracket.setback);
            let at = |left: bool, angle: Angle, holes: Vec<Length>| BracketAt {
                member,
                left,
                setback: bracket.setback,
                kind: if angle == Angle::ZERO { BracketKind::Level } else { BracketKind::Angled },
                holes,
            };
            all.push(at(true, skews.0, from_end().collect()));
            all.push(at(false, skews.1, from_end().map(|h| length - h).collect()));
        }
    }
    all
}

/// Findings with all kinds of places.
pub fn findings(layout: &Layout) -> Vec<Finding> {
    let middle = layout.panels[0].span.left * 0.5 + layout.panels[0].span.right * 0.5;
    vec![
        Finding::warning(Code::EdgeOpen, Place::at(middle), "two edge ends lie 0.4 in apart and were not joined")
            .hint("close the outline, or widen `join`"),
        Finding::error(
            Code::OpeningTooWide,
            Place::panel("S2"),
            "the gap at the right end of S2 is 4-1/16\" and lets a 4\" sphere through (R312.1.3)",
        )
        .hint("choose another baluster division"),
        Finding::note(Code::LayerHidden, Place::none(), "layer DECK-OLD is frozen; nothing on it was used"),
        Finding::warning(Code::RailOffFace, Place::post("P1"), "the rail does not land wholly on the face of P1"),
    ]
}
