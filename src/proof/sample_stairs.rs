//! A small correct layout with a stair, worked out by hand for the tests. Six risers of 7-1/2 in and five treads of 10 in
//! with nosings of 1 in: by the sides 3, 4, 5 the slope is 1-1/4 times as long as what lies level beneath it.
//!
//! The deck lies at x < 0 with its edge, the top nosing, on the y axis; the flight falls along the x axis, 36 in wide. The
//! posts at its head stand 4 in behind the edge, so their faces are at x = -1-1/2 in; those at the foot begin at the lowest
//! nosing, x = 50 in. Between them 51-1/2 in are clear: a rail of (51-1/2 - 1/4) 1-1/4 = 64-1/16 in.
//!
//! A gap of 5/8 in lets a sphere of 5 (1 + 1/10 + (5/8)/7.5) = 5-11/12 in through. Four members of together 4 in take 5 in
//! plumb, so balusters of 30-3/8 in make up 36 in.

use crate::base::plane::point;
use crate::base::{Angle, Length, Pitch, Place, Point};
use crate::catalog::{MemberRole, RuleSet, Sides};
use crate::deck::{Flight, Steps};
use crate::guard::{Before, Falls, Handrail, Post, PostKind, PostOrigin, Rake, Run, Span, Support};
use crate::panel::{Balusters, BracketAt, BracketKind, Cut, Panel, PanelInfill};
use crate::parts::{Layout, LayoutPanel, supply};

use super::sample::{at, inches, layout as level_layout, panel as level_panel};

/// Values from memory, as of a usual residential code.
const RULES: &str = r#"
name = "usual"
title = "A usual residential code"

[[count]]
what = "handrail-from-risers"
value = 4
section = "8.1"
evidence = "memory"
source = "from memory"
"#;

const LIMITS: [(&str, &str, &str); 21] = [
    ("guard-needed-above", "30in", "1.1"),
    ("guard-height", "36in", "1.2"),
    ("opening", "4in", "1.3"),
    ("stair-guard-height", "34in", "1.4"),
    ("stair-opening", "4-3/8in", "1.5"),
    ("stair-triangle", "6in", "1.6"),
    ("riser-height", "7-3/4in", "7.1"),
    ("tread-depth", "10in", "7.2"),
    ("riser-variation", "3/8in", "7.3"),
    ("tread-variation", "3/8in", "7.4"),
    ("nosing-min", "3/4in", "7.5"),
    ("nosing-max", "1-1/4in", "7.6"),
    ("nosing-free-tread", "11in", "7.7"),
    ("handrail-height-min", "34in", "8.2"),
    ("handrail-height-max", "38in", "8.3"),
    ("handrail-clearance", "1-1/2in", "8.4"),
    ("handrail-diameter-min", "1-1/4in", "8.5"),
    ("handrail-diameter-max", "2in", "8.6"),
    ("handrail-perimeter-min", "4in", "8.7"),
    ("handrail-perimeter-max", "6-1/4in", "8.8"),
    ("handrail-section-max", "2-1/4in", "8.9"),
];

pub(super) fn rules() -> RuleSet {
    let entry = |(what, value, section): &(&str, &str, &str)| {
        format!(
            "[[limit]]\nwhat = \"{what}\"\nvalue = \"{value}\"\nsection = \"{section}\"\nevidence = \"memory\"\n\
             source = \"from memory\"\n"
        )
    };
    let limits: String = LIMITS.iter().map(entry).collect();
    toml::from_str(&format!("{RULES}\n{limits}")).unwrap()
}

pub(super) fn steps() -> Steps {
    Steps { riser: inches(7.5), tread: inches(10.0), nosing: inches(1.0) }
}

pub(super) fn pitch() -> Pitch {
    Pitch::new(inches(7.5), inches(10.0)).unwrap()
}

fn post(id: &str, kind: PostKind, at: Point, height: f64) -> Post {
    Post {
        id: id.to_owned(),
        kind,
        origin: PostOrigin::Planned,
        at,
        side: inches(5.0),
        rotation: Angle::ZERO,
        height: inches(height),
        handle: None,
    }
}

fn flight() -> Flight {
    Flight {
        id: "F1".to_owned(),
        risers: 6,
        steps: steps(),
        pitch: pitch(),
        top: [at(0.0, 36.0), at(0.0, 0.0)],
        down: point(1.0, 0.0),
        guards: Sides::Both,
        walls: Sides::None,
        handrails: None,
        riser_variation: inches(0.25),
        tread_variation: Length::ZERO,
        place: Place::none(),
    }
}

fn cut(member: MemberRole, height: f64, length: f64) -> Cut {
    Cut {
        member,
        length: inches(length),
        long_point: inches(length),
        short_point: inches(length),
        tip_to_tip: inches(length + 0.75 * height),
        left: Angle::ZERO,
        right: Angle::ZERO,
        left_tip: Length::ZERO,
        plumb: Angle::from_radians(0.75_f64.atan()),
    }
}

/// `count` balusters 6 in on centre along the slope, which is 4.8 in level, from 5 in on; the block between two of them.
pub(super) fn raked_panel(id: &str, length: f64, count: u8, block_height: f64, rake: Rake) -> Panel {
    let bracket = |member, left: bool, holes: [f64; 2]| BracketAt {
        member,
        left,
        setback: inches(0.125),
        kind: BracketKind::Raked,
        holes: holes.map(inches).to_vec(),
    };
    let held = [MemberRole::BottomRail, MemberRole::TopRail];
    let last = 5.0 + 6.0 * f64::from(count - 1);
    Panel {
        id: id.to_owned(),
        span: inches(length * 0.8 + 0.25),
        length: inches(length),
        clearance_left: inches(0.125),
        clearance_right: inches(0.125),
        cuts: vec![
            cut(MemberRole::SupportRail, 0.75, length),
            cut(MemberRole::BottomRail, 1.25, length),
            cut(MemberRole::TopRail, 1.25, length),
            cut(MemberRole::Cap, 0.75, length),
        ],
        infill: PanelInfill::Balusters,
        balusters: Balusters {
            style: crate::catalog::BalusterStyle::Centred,
            spacing: inches(6.0),
            length: inches(30.375),
            marks: (0..count).map(|k| inches(5.0 + 6.0 * f64::from(k))).collect(),
            // 5 in along the slope are 4 in level; half a baluster off, the clearance added.
            end_gap_left: inches(3.75),
            end_gap_right: inches((length - last) * 0.8 - 0.25),
            widest_gap: inches(4.05),
        },
        blocks: vec![inches(32.0)],
        block_heights: vec![inches(block_height)],
        cap_screws: vec![inches(21.375), inches(42.6875)],
        brackets: held
            .into_iter()
            .flat_map(|member| {
                [bracket(member, true, [0.875, 1.875]), bracket(member, false, [length - 0.875, length - 1.875])]
            })
            .collect(),
        height: inches(36.0),
        bottom_gap: inches(0.625),
        rake: Some(rake),
    }
}

fn span(id: &str, run: usize, (from, to): (Support, Support), (left, right): (Point, Point), clear: f64) -> Span {
    Span {
        id: id.to_owned(),
        run,
        from,
        to,
        left,
        right,
        clear: inches(clear),
        skew_left: Angle::ZERO,
        skew_right: Angle::ZERO,
        rake: None,
    }
}

fn of_kit(span: Span, panel: Panel) -> LayoutPanel {
    LayoutPanel { span, panel, measured: None, kit: Some("Level box 66 in".to_owned()), price: None }
}

fn panels() -> Vec<LayoutPanel> {
    let rake = |falls| Rake { pitch: pitch(), falls, steps: Some(steps()), start: Some(inches(-1.5)) };
    let raked = |id, run, posts: (usize, usize), ends, block_height, falls| {
        let supports = (Support::Post(posts.0), Support::Post(posts.1));
        let span = Span { rake: Some(rake(falls)), ..span(id, run, supports, ends, 51.5) };
        of_kit(span, raked_panel(id, 64.0625, 10, block_height, rake(falls)))
    };
    let (upper, lower) = (|y| at(-1.5, y), |y| at(50.0, y));
    let deck = (at(-4.0, 101.25), at(-4.0, 41.0));
    let to_wall = (at(-4.0, -5.0), at(-4.0, -44.25));
    vec![
        of_kit(
            span("S1", 0, (Support::Post(0), Support::Post(1)), deck, 60.25),
            Panel {
                blocks: vec![inches(27.75)],
                block_heights: vec![inches(3.0)],
                cap_screws: vec![inches(20.0), inches(40.0)],
                ..level_panel("S1", 60.0, (0.0, 0.0), (3.0, 13))
            },
        ),
        // The block stands 32 in down the slope, 24.225 in from the top nosing on the third tread, 22-1/2 in down; the
        // nosing line there is 18.16875 in down.
        raked("S2", 1, (1, 2), (upper(38.5), lower(38.5)), 22.5 - 18.16875 + 0.625, Falls::Right),
        // From the lower end 32 in up: 24.275 in from the top nosing.
        raked("S3", 2, (4, 3), (lower(-2.5), upper(-2.5)), 22.5 - 18.20625 + 0.625, Falls::Left),
        of_kit(
            span("S4", 3, (Support::Post(3), Support::Wall), to_wall, 39.25),
            Panel {
                blocks: vec![inches(19.5)],
                block_heights: vec![inches(3.0)],
                cap_screws: vec![inches(19.5)],
                ..level_panel("S4", 39.0, (0.0, 0.0), (3.75, 8))
            },
        ),
    ]
}

/// The layout: `P1` to `P2` is the deck's guard, `P2` to `P3` and `P5` to `P4` are the stair's, from `P4` on to a wall the
/// deck's again.
pub(super) fn layout() -> Layout {
    let run = |number, line: [Point; 2], flight| Run { number, line: line.to_vec(), closed: false, flight };
    let mut layout = Layout {
        rules: rules(),
        posts: vec![
            post("P1", PostKind::End, at(-4.0, 103.75), 37.5),
            // The raked top at its face is 1-1/8 in above that over the nosing.
            post("P2", PostKind::End, at(-4.0, 38.5), 36.0 + 1.125 + 1.5),
            // At the lowest nosing, 7-1/2 in above the ground.
            post("P3", PostKind::Stair, at(52.5, 38.5), 7.5 + 36.0 + 1.5),
            post("P4", PostKind::End, at(-4.0, -2.5), 36.0 + 1.125 + 1.5),
            post("P5", PostKind::Stair, at(52.5, -2.5), 7.5 + 36.0 + 1.5),
        ],
        runs: vec![
            run(1, [at(-4.0, 103.75), at(-4.0, 38.5)], None),
            run(2, [at(-4.0, 38.5), at(52.5, 38.5)], Some(0)),
            run(3, [at(52.5, -2.5), at(-4.0, -2.5)], Some(0)),
            run(4, [at(-4.0, -2.5), at(-4.0, -44.25)], None),
        ],
        panels: panels(),
        flights: vec![flight()],
        // 2-1/4 in clear of the posts, whose faces are flush with the side, and 1-1/2 in thick.
        handrails: vec![Handrail {
            id: "H1".to_owned(),
            flight: 0,
            left: true,
            before: Before::Guard,
            line: [at(0.0, 33.0), at(50.0, 33.0)],
            height: inches(36.0),
            length: inches(62.5),
            extension_top: Length::ZERO,
            extension_bottom: Length::ZERO,
            brackets: vec![inches(6.0), inches(31.25), inches(56.5)],
        }],
        ..level_layout()
    };
    supply(&mut layout);
    layout
}

/// Makes the flight ten risers high, with a guard on its left only and a post between two panels there.
///
/// Rails of 58 in take 46.65 in level: from x = -1.5 in to 45.15 in, and from 50.15 in to 96.8 in. The post between them has
/// its centre at 47.65 in, so it stands on the fifth tread, 37-1/2 in down; the upper rail's top at its face is 33.8625 in
/// below the nosing line's top, and 36 in above that.
pub(super) fn lengthen(layout: &mut Layout) {
    let rake = |start| Rake { pitch: pitch(), falls: Falls::Right, steps: Some(steps()), start: Some(inches(start)) };
    let half = |id, (from, to): (usize, usize), start: f64, block_height| {
        let ends = (at(start, 38.5), at(start + 46.65, 38.5));
        let span = span(id, 1, (Support::Post(from), Support::Post(to)), ends, 46.65);
        let panel = raked_panel(id, 58.0, 9, block_height, rake(start));
        of_kit(Span { rake: Some(rake(start)), ..span }, panel)
    };
    layout.flights[0].risers = 10;
    layout.flights[0].guards = Sides::Left;
    layout.flights[0].walls = Sides::Right;
    layout.runs.truncate(2);
    layout.runs[1].line[1] = at(99.3, 38.5);
    layout.posts.truncate(3);
    layout.posts[2].at = at(99.3, 38.5);
    // 2.4 in of the rail's rise over the nosing line are left at the lowest nosing's riser: 75 - 72.6.
    layout.posts[2].height = inches(75.0 - 72.6 + 36.0 + 1.5);
    layout.posts.push(post("P4", PostKind::Stair, at(47.65, 38.5), 37.5 - 33.8625 + 36.0 + 1.5));
    layout.panels.truncate(1);
    layout.panels.push(half("S2", (1, 3), -1.5, 22.5 - 18.16875 + 0.625));
    // Its block is 75.875 in from the top nosing, on the eighth tread.
    layout.panels.push(half("S3", (3, 2), 50.15, 60.0 - 56.90625 + 0.625));
    let rail = &mut layout.handrails[0];
    (rail.line[1], rail.length) = (at(90.0, 33.0), inches(112.5));
    rail.brackets = [6.0, 39.5, 73.0, 106.5].map(inches).to_vec();
    supply(layout);
}
