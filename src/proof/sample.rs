//! A small correct layout, worked out by hand for the tests: an end post turned by the angle of 7 to 24, a rail along
//! the x axis to a square corner post, and from there a rail towards a wall at the angle of 3 to 4.
//!
//! With the sides 7, 24, 25 and 3, 4, 5 every number is rational. The deck lies below the first rail.

use super::{Proof, Verdict};
use crate::base::{Angle, Code, Frame, Length, Mark, Measure, Point, Severity, Unit, plane::point};
use crate::catalog::{BalusterStyle, MemberRole, Project, ShopJob};
use crate::guard::{Post, PostKind, PostOrigin, Run, Span, Support};
use crate::panel::{Balusters, BracketAt, BracketKind, Cut, Panel, PanelInfill};
use crate::parts::{Layout, LayoutPanel, PlanFacts, supply};

pub(super) fn inches(value: f64) -> Length {
    Length::from_millimetres(value * 25.4).unwrap()
}

pub(super) fn at(x: f64, y: f64) -> Point {
    point(x * 25.4, y * 25.4)
}

fn post(id: &str, kind: PostKind, at: Point, rotation: f64) -> Post {
    let (side, rotation) = (inches(5.0), Angle::from_radians(rotation));
    Post {
        id: id.to_owned(),
        kind,
        origin: PostOrigin::Planned,
        at,
        side,
        rotation,
        height: inches(37.5),
        handle: None,
    }
}

/// A member of `width`, with the tangents of its skews.
fn cut(member: MemberRole, width: f64, length: f64, left: f64, right: f64) -> Cut {
    // Both skews of this layout are positive or zero: the outer edge is the longer one, and both tips lie on it.
    let over = width / 2.0 * (left + right);
    Cut {
        member,
        length: inches(length),
        long_point: inches(length + over),
        short_point: inches(length - over),
        tip_to_tip: inches(length + over),
        left: Angle::from_radians(left.atan()),
        right: Angle::from_radians(right.atan()),
        left_tip: inches(width / 2.0 * left),
        plumb: Angle::ZERO,
    }
}

fn brackets(length: f64, left: f64, right: f64) -> Vec<BracketAt> {
    let at = |member, is_left: bool, skew: f64, holes: [f64; 2]| BracketAt {
        member,
        left: is_left,
        setback: inches(0.125),
        kind: if skew > 0.0 { BracketKind::Angled } else { BracketKind::Level },
        holes: holes.map(inches).to_vec(),
    };
    [MemberRole::BottomRail, MemberRole::TopRail]
        .into_iter()
        .flat_map(|member| {
            [at(member, true, left, [0.625, 1.375]), at(member, false, right, [length - 0.625, length - 1.375])]
        })
        .collect()
}

/// `count` balusters from `first` at 4-1/2 in; end clearances of 1/8 in.
pub(super) fn panel(id: &str, length: f64, (left, right): (f64, f64), (first, count): (f64, u8)) -> Panel {
    let end_gap = inches(first - 0.375 + 0.125);
    Panel {
        id: id.to_owned(),
        span: inches(length + 0.25),
        length: inches(length),
        clearance_left: inches(0.125),
        clearance_right: inches(0.125),
        cuts: vec![
            cut(MemberRole::SupportRail, 1.5, length, left, right),
            cut(MemberRole::BottomRail, 2.0, length, left, right),
            cut(MemberRole::TopRail, 2.0, length, left, right),
            cut(MemberRole::Cap, 2.5, length, left, right),
        ],
        infill: PanelInfill::Balusters,
        balusters: Balusters {
            style: BalusterStyle::Centred,
            spacing: inches(4.5),
            length: inches(29.0),
            marks: (0..count).map(|k| inches(first + 4.5 * f64::from(k))).collect(),
            end_gap_left: end_gap,
            end_gap_right: end_gap,
            widest_gap: end_gap.max(inches(3.75)),
        },
        blocks: Vec::new(),
        block_heights: Vec::new(),
        cap_screws: Vec::new(),
        brackets: brackets(length, left, right),
        height: inches(36.0),
        bottom_gap: inches(3.0),
        rake: None,
    }
}

fn run(line: Vec<Point>) -> Run {
    Run { number: 1, line, closed: false, flight: None }
}

/// The layout. Post `P1` at the origin, `P2` at (65-17/48, 0), the wall 41-3/4 in below it.
pub(super) fn layout() -> Layout {
    let (skew_left, skew_right) = ((7.0_f64 / 24.0).atan(), 0.75_f64.atan());
    // Centre to face of a 5 in post: 2.5 / cos(skew), the cosine being 24/25.
    let face = 2.5 * 25.0 / 24.0;
    let corner = face + 60.25 + 2.5;
    let span = |id: &str, from, to, (left, right): (Point, Point), clear, (l, r): (f64, f64)| Span {
        id: id.to_owned(),
        run: 0,
        from,
        to,
        left,
        right,
        clear: inches(clear),
        skew_left: Angle::from_radians(l),
        skew_right: Angle::from_radians(r),
        rake: None,
    };
    let of = |span, panel| LayoutPanel { span, panel, measured: None, kit: None, price: None };
    let first = of(
        span("S1", Support::Post(0), Support::Post(1), (at(face, 0.0), at(face + 60.25, 0.0)), 60.25, (skew_left, 0.0)),
        Panel {
            // The middle, 30, is taken by a baluster.
            blocks: vec![inches(27.75)],
            block_heights: vec![inches(3.0)],
            cap_screws: vec![inches(20.0), inches(40.0)],
            ..panel("S1", 60.0, (7.0 / 24.0, 0.0), (3.0, 13))
        },
    );
    let second = of(
        span("S2", Support::Post(1), Support::Wall, (at(corner, -2.5), at(corner, -41.75)), 39.25, (0.0, skew_right)),
        Panel {
            blocks: vec![inches(19.5)],
            block_heights: vec![inches(3.0)],
            cap_screws: vec![inches(19.5)],
            ..panel("S2", 39.0, (0.0, 0.75), (3.75, 8))
        },
    );
    let mut layout = Layout {
        plan: PlanFacts { file: "plan.dxf".to_owned(), sha256: String::new(), frame: Frame::default() },
        measure: Measure { unit: Unit::Inch, mark: Mark::SIXTEENTH },
        system: toml::from_str(include_str!("../../tests/systems/test-rail.toml")).unwrap(),
        rules: toml::from_str(include_str!("../catalog/rules/irc-2021.toml")).unwrap(),
        project: Project::default(),
        inset: inches(3.0),
        site: None,
        sheet: None,
        tolerance: inches(0.0625),
        posts: vec![
            post("P1", PostKind::End, at(0.0, 0.0), skew_left),
            post("P2", PostKind::Corner, at(corner, 0.0), 0.0),
        ],
        runs: vec![run(vec![at(0.0, 0.0), at(corner, 0.0), at(corner, -41.75)])],
        panels: vec![first, second],
        open: Vec::new(),
        erased: Vec::new(),
        flights: Vec::new(),
        handrails: Vec::new(),
        shop: ShopJob::default().into(),
        on_hand: Vec::new(),
        finish: None,
        cut_plan: crate::parts::CutPlan::empty(),
        order: Vec::new(),
    };
    supply(&mut layout);
    layout
}

/// Whether a check is of the kind that fails along with another one when a layout is spoiled: that figures are those of
/// the system, or agree among themselves. They are tested by themselves in `follow_breaks`.
pub(super) fn follows(what: &str) -> bool {
    let follow = [
        "places of blocks and cap screws",
        "stated spacing of the balusters",
        "division of the balusters",
        "height of the panel",
        "gap beneath the panel",
        "panels",
        "the system's",
        "pieces of ",
        "sticks of the cut plan",
        "kits of the panels",
        "cost and waste of the cut plan",
        "level length of",
        "height of the post beyond",
        "posts off the line",
        "line of run",
        "brackets off equal",
    ];
    follow.iter().any(|start| what.starts_with(start)) || what.ends_with(" in the order")
}

/// What fails of the other kind.
pub(super) fn failed(proof: &Proof) -> Vec<(Code, &str)> {
    let failed = proof.checks.iter().filter(|c| c.verdict == Verdict::Fail && !follows(&c.what));
    failed.map(|c| (c.code, c.what.as_str())).collect()
}

/// That what fails is expected, with a finding each.
pub(super) fn expect(proof: &Proof, expected: &[(Code, &str)]) {
    assert_eq!(failed(proof), expected);
    let errors = proof.findings.iter().filter(|f| f.severity == Severity::Error);
    let errors = errors.filter(|f| f.message.split(": ").next().is_none_or(|what| !follows(what)));
    assert!(errors.map(|f| f.code).eq(expected.iter().map(|(code, _)| *code)));
    assert!(expected.is_empty() || !proof.holds());
}
