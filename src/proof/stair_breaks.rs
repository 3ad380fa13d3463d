//! The hand-made stair passes; with one number broken, exactly the checks of that number fail.

use super::sample::{at, expect, failed, inches};
use super::sample_stairs::{layout, lengthen};
use super::{Proof, Required, prove};
use crate::base::plane::point;
use crate::base::{Angle, Code, Length, Pitch, Severity};
use crate::catalog::{BalusterStyle, LimitKind, Sides};
use crate::deck::Steps;
use crate::guard::{Falls, Support};
use crate::panel::{BracketKind, Panel};
use crate::parts::Layout;

/// The left panel of the stair, which falls to its right, and the right one.
const LEFT: usize = 1;
const RIGHT: usize = 2;

/// Breaks the layout and compares what fails.
pub(super) fn broken(change: impl FnOnce(&mut Layout), expected: &[(Code, &str)]) -> Proof {
    let mut layout = layout();
    change(&mut layout);
    let proof = prove(&layout);
    expect(&proof, expected);
    proof
}

/// Breaks the left raked panel.
fn panel(change: impl FnOnce(&mut Panel), expected: &[(Code, &str)]) -> Proof {
    broken(|l| change(&mut l.panels[LEFT].panel), expected)
}

pub(super) fn set(layout: &mut Layout, kind: LimitKind, value: f64) {
    layout.rules.limits.iter_mut().find(|l| l.what == kind).unwrap().value = inches(value);
}

pub(super) fn unset(layout: &mut Layout, kind: LimitKind) {
    layout.rules.limits.retain(|l| l.what != kind);
}

/// Reasons of what could not be checked, with their weight.
fn open(proof: &Proof) -> Vec<(Severity, &str)> {
    let open = proof.findings.iter().filter(|f| f.code == Code::NotChecked);
    open.map(|f| (f.severity, f.message.as_str())).collect()
}

/// Checks of that name, by their actual length in inches.
fn actual(proof: &Proof, what: &str) -> Vec<f64> {
    proof.checks.iter().filter(|c| c.what == what).filter_map(|c| c.actual).map(Length::inches).collect()
}

const GAPS: (Code, &str) = (Code::SumFails, "stated gaps");
const STACK: (Code, &str) = (Code::SumFails, "height of the parts on each other");
const POST: (Code, &str) = (Code::SystemLimit, "height of the post");
const BLOCK: (Code, &str) = (Code::SumFails, "block heights");
const TRIANGLE: (Code, &str) = (Code::TriangleTooWide, "sphere between the steps and the lowest member");
const WIDE: (Code, &str) = (Code::OpeningTooWide, "widest opening between balusters");
const EDGES: (Code, &str) = (Code::SumFails, "difference between the cuts' edges and the faces");

#[test]
fn a_correct_stair_passes_with_notes_on_what_no_layout_tells() {
    let proof = broken(|_| {}, &[]);
    assert!(proof.holds());
    let found: Vec<_> = proof.findings.iter().map(|f| (f.code, f.severity)).collect();
    assert_eq!(found, [(Code::NotChecked, Severity::Note); 2]);
    // 5 (1 + 1/10 + (5/8)/7.5) is 5-11/12, and 1/16 in more under the rail 1/24 more (closed form).
    let check = proof.checks.iter().find(|c| c.code == Code::TriangleTooWide).unwrap();
    assert_eq!(check.required, Required::Under(inches(6.0)));
    assert_eq!(check.actual, Some(inches(71.0 / 12.0)));
    assert_eq!(check.worst, Some(inches(71.5 / 12.0)));
    assert_eq!(check.source.as_ref().unwrap().section, "1.6");
}

#[test]
fn balusters_are_measured_level() {
    let bracket = (Code::BalusterInBracket, "baluster from the left rail end");
    // 1/16 in along the slope: the gap of 4.05 in grows by 0.05 in level.
    panel(|p| p.balusters.marks[4] += inches(0.0625), &[GAPS]);
    panel(|p| p.balusters.marks[4] += inches(0.5), &[WIDE, GAPS]);
    panel(|p| p.balusters.marks.retain(|mark| *mark != inches(29.0)), &[WIDE, GAPS]);
    panel(|p| p.balusters.marks[4] += inches(0.03125), &[GAPS, (Code::MarkOffRail, "marks")]);
    panel(|p| p.balusters.marks.swap(4, 5), &[(Code::MarkOffRail, "balusters")]);
    // Its side is 0.46875 in from its centre along the slope: 2.25 in reach end at 2.71875 in.
    panel(|p| p.balusters.marks.insert(0, inches(2.75)), &[GAPS]);
    panel(|p| p.balusters.marks.insert(0, inches(2.6875)), &[GAPS, bracket]);
    panel(|p| p.balusters.end_gap_left = inches(5.0), &[GAPS]);
    panel(|p| p.balusters.end_gap_right = inches(4.0), &[GAPS]);
    panel(|p| p.balusters.widest_gap = inches(5.0625), &[GAPS]);
}

/// 6.40625 in on centre along the slope are 5.125 in level, which balusters of 3/4 in leave 4-3/8 in of.
#[test]
fn a_gap_of_exactly_the_limit_fails() {
    let widen = |l: &mut Layout| {
        l.tolerance = Length::ZERO;
        l.measure.mark = crate::base::Mark::new(Length::INCH / 32).unwrap();
        for mark in l.panels[LEFT].panel.balusters.marks.iter_mut().skip(5) {
            *mark += inches(0.40625);
        }
        let balusters = &mut l.panels[LEFT].panel.balusters;
        balusters.end_gap_right = inches(3.475);
        balusters.widest_gap = inches(4.375);
    };
    let proof = broken(widen, &[WIDE]);
    assert_eq!(actual(&proof, WIDE.1)[1], 4.375);
    let finding = proof.findings.iter().find(|f| f.code == Code::OpeningTooWide).unwrap();
    assert_eq!(finding.rule.as_ref().unwrap().section, "1.5");
    broken(
        |l| {
            widen(l);
            set(l, LimitKind::StairOpening, 4.37501);
        },
        &[],
    );
    // Without the exception for stairs the usual sphere counts.
    broken(|l| unset(l, LimitKind::StairOpening), &[WIDE, WIDE]);
}

/// 7.5 on 10 without a nosing, 1.5 in under the rail: 6 in (closed form).
#[test]
fn a_triangle_of_exactly_the_limit_fails() {
    let raise = |l: &mut Layout, gap: f64| {
        l.tolerance = Length::ZERO;
        unset(l, LimitKind::NosingMin);
        l.flights[0].steps.nosing = Length::ZERO;
        for at in &mut l.panels[LEFT..=RIGHT] {
            at.span.rake.as_mut().unwrap().steps.as_mut().unwrap().nosing = Length::ZERO;
            at.panel.rake = at.span.rake;
            at.panel.block_heights[0] += inches(gap - 0.625);
            at.panel.balusters.length -= inches(gap - 0.625);
            at.panel.bottom_gap = inches(gap);
        }
    };
    let proof = broken(|l| raise(l, 1.5), &[TRIANGLE, TRIANGLE]);
    assert_eq!(actual(&proof, TRIANGLE.1), [6.0; 2]);
    broken(|l| raise(l, 1.499_999), &[]);
    // With the tolerance it is over.
    broken(
        |l| {
            raise(l, 1.4375);
            l.tolerance = inches(0.0625);
        },
        &[TRIANGLE, TRIANGLE],
    );
}

#[test]
fn the_space_beneath_the_panel() {
    panel(|p| p.bottom_gap = inches(0.75), &[STACK, BLOCK, TRIANGLE, POST, POST]);
    panel(
        |p| p.bottom_gap = inches(-0.0625),
        &[STACK, BLOCK, (Code::SumFails, "lowest member above the line through the nosings")],
    );
    broken(|l| set(l, LimitKind::StairTriangle, 5.95), &[TRIANGLE, TRIANGLE]);
    // Where the rules make no exception, nothing larger passes than between balusters.
    broken(|l| unset(l, LimitKind::StairTriangle), &[TRIANGLE, TRIANGLE]);
    // What a panel does not say its flight does: the triangle is asked all the same.
    let steps = (Code::SumFails, "steps beneath the panel");
    let forgotten = |l: &mut Layout| {
        for at in &mut l.panels[LEFT..=RIGHT] {
            at.span.rake.as_mut().unwrap().steps = None;
            at.panel.rake = at.span.rake;
            at.panel.block_heights.clear();
        }
    };
    broken(forgotten, &[BLOCK, BLOCK, steps, steps]);
    broken(
        |l| {
            forgotten(l);
            set(l, LimitKind::StairTriangle, 5.95);
        },
        &[BLOCK, TRIANGLE, BLOCK, TRIANGLE, steps, steps],
    );
    // Where the beginning is not known, any step is measured.
    let beginning = (Code::SumFails, "beginning of the panel below the top nosing");
    broken(
        |l| {
            for at in &mut l.panels[LEFT..=RIGHT] {
                at.span.rake.as_mut().unwrap().start = None;
                at.panel.rake = at.span.rake;
            }
        },
        &[BLOCK, BLOCK, beginning, beginning],
    );
}

#[test]
fn heights_are_plumb() {
    let low = (Code::GuardTooLow, "height of the guard");
    panel(|p| p.balusters.length = inches(30.3125), &[STACK]);
    panel(|p| p.balusters.length = inches(28.3125), &[STACK, low]);
    panel(|p| p.height = inches(34.0), &[STACK]);
    // The cap takes 15/16 in plumb.
    panel(|p| p.cuts.truncate(3), &[STACK, (Code::SystemLimit, "members")]);
    broken(|l| set(l, LimitKind::StairGuardHeight, 36.0), &[]);
    broken(|l| set(l, LimitKind::StairGuardHeight, 36.01), &[low, low]);
    broken(|l| unset(l, LimitKind::StairGuardHeight), &[]);
    panel(|p| p.block_heights[0] -= inches(0.0625), &[BLOCK]);
    panel(|p| p.block_heights.clear(), &[BLOCK]);
    // At the upper end of its tread the block is 7-1/2 in higher than at the lower end: one on the next tread differs.
    panel(|p| p.blocks[0] = inches(39.5), &[BLOCK]);
}

#[test]
fn rails_are_measured_along_the_slope() {
    let parts = (Code::SumFails, "clearance, rail and clearance together");
    let plumb = (Code::SumFails, "plumb cuts");
    let kinds = (Code::SumFails, "bracket kinds");
    panel(|p| p.clearance_left = inches(0.1875), &[GAPS, parts, EDGES, BLOCK]);
    let centre = (Code::SumFails, "centre line of each cut");
    panel(|p| p.cuts[1].length = inches(51.25), &[(Code::SumFails, "cut lengths"), centre]);
    panel(|p| p.cuts[1].plumb = Angle::from_degrees(36.0), &[plumb]);
    panel(|p| p.cuts[1].plumb = Angle::ZERO, &[plumb]);
    broken(|l| l.panels[0].panel.cuts[1].plumb = Angle::from_degrees(36.87), &[plumb]);
    // Without what the plumb cut adds.
    panel(|p| p.cuts[1].tip_to_tip = p.cuts[1].length, &[EDGES]);
    panel(|p| p.brackets[0].kind = BracketKind::Level, &[kinds]);
    broken(|l| l.panels[0].panel.brackets[0].kind = BracketKind::Raked, &[kinds]);
    panel(|p| p.brackets[0].holes[0] = inches(0.625), &[(Code::MarkOffRail, "bracket holes")]);
    panel(|p| p.brackets[3].setback = inches(0.0625), &[(Code::MarkOffRail, "bracket holes")]);
    panel(|p| p.cap_screws[1] = inches(46.0), &[(Code::SystemLimit, "cap screw spacing")]);
    broken(
        |l| l.system.kits.iter_mut().for_each(|kit| kit.length = inches(64.9375)),
        &[(Code::StockTooShort, "rail from tip to tip"), (Code::StockTooShort, "rail from tip to tip")],
    );
}

#[test]
fn limits_of_the_system_on_stairs() {
    let (span, steep) = ((Code::SystemLimit, "clear span"), (Code::StairTooSteep, "slope"));
    broken(|l| l.system.raked.as_mut().unwrap().longest_panel = inches(51.4375), &[span, span]);
    broken(|l| l.system.longest_panel = inches(60.25), &[]);
    broken(
        |l| l.system.raked.as_mut().unwrap().steepest = Pitch::new(inches(7.4), inches(10.0)).unwrap(),
        &[steep, steep],
    );
    broken(|l| l.system.raked.as_mut().unwrap().steepest = Pitch::new(inches(3.0), inches(4.0)).unwrap(), &[]);
    broken(|l| l.system.raked = None, &[(Code::SystemLimit, "raked panel"), (Code::SystemLimit, "raked panel")]);
    let punched = (Code::SystemLimit, "punched holes off their pitch");
    panel(|p| p.balusters.style = BalusterStyle::Punched, &[punched]);
    let pitch = |l: &mut Layout, pitch: f64| {
        l.system.raked.as_mut().unwrap().punched_spacing = Some(inches(pitch));
        l.panels[LEFT].panel.balusters.style = BalusterStyle::Punched;
    };
    broken(|l| pitch(l, 6.0), &[]);
    broken(|l| pitch(l, 5.625), &[punched]);
}

#[test]
fn panels_follow_their_flight() {
    let slope = (Code::SumFails, "slope of the panel");
    let built = (Code::SumFails, "slope that the panel was built for");
    let wrong = Pitch::new(inches(7.4375), inches(10.0)).unwrap();
    panel(|p| p.rake.as_mut().unwrap().pitch = wrong, &[built]);
    let proof = prove(&{
        let mut layout = layout();
        layout.panels[LEFT].span.rake.as_mut().unwrap().pitch = wrong;
        layout
    });
    for expected in [slope, built, STACK, EDGES, (Code::SumFails, "plumb cuts")] {
        assert!(failed(&proof).contains(&expected), "{expected:?}");
    }
    let both = |l: &mut Layout, change: &dyn Fn(&mut crate::guard::Rake)| {
        change(l.panels[LEFT].span.rake.as_mut().unwrap());
        l.panels[LEFT].panel.rake = l.panels[LEFT].span.rake;
    };
    broken(
        |l| both(l, &|r| r.start = Some(inches(-1.375))),
        &[BLOCK, (Code::SumFails, "beginning of the panel below the top nosing")],
    );
    broken(
        |l| both(l, &|r| r.steps.as_mut().unwrap().nosing = inches(0.75)),
        &[(Code::SumFails, "steps beneath the panel")],
    );
    broken(|l| both(l, &|r| r.falls = Falls::Left), &[BLOCK, (Code::SumFails, "low end of the panel")]);
    // A level panel along the flight, and a raked one along the deck.
    let flight = (Code::SumFails, "flight");
    broken(|l| l.panels[0].span.run = 1, &[(Code::GapLeftOpen, "widest stretch of run 1 without a panel"), flight]);
    broken(
        |l| l.runs[1].flight = None,
        &[(Code::GapLeftOpen, "widest stretch of F1, left side without a panel"), flight],
    );
}

#[test]
fn steps_keep_the_rules() {
    let rule = |kind, value, code, what| {
        broken(|l| set(l, kind, value), &[(code, what)]);
    };
    rule(LimitKind::RiserHeight, 7.4375, Code::RiserTooHigh, "riser height of F1");
    rule(LimitKind::TreadDepth, 10.0625, Code::TreadTooShallow, "tread depth of F1");
    rule(LimitKind::RiserVariation, 0.1875, Code::StepsVary, "difference between the risers of F1");
    rule(LimitKind::NosingMin, 1.0625, Code::NosingWrong, "shortest nosing of F1");
    rule(LimitKind::NosingMax, 0.9375, Code::NosingWrong, "longest nosing of F1");
    let vary = (Code::StepsVary, "difference between the treads of F1");
    broken(|l| l.flights[0].tread_variation = inches(0.4375), &[vary]);
    // From a tread of 10 in on none is needed.
    broken(
        |l| {
            set(l, LimitKind::NosingMin, 1.0625);
            set(l, LimitKind::NosingFreeTread, 10.0);
        },
        &[],
    );
    let proof = broken(
        |l| {
            l.flights[0].steps.nosing = Length::ZERO;
            for at in &mut l.panels[LEFT..=RIGHT] {
                at.span.rake.as_mut().unwrap().steps.as_mut().unwrap().nosing = Length::ZERO;
                at.panel.rake = at.span.rake;
            }
        },
        &[],
    );
    assert!(open(&proof).iter().any(|f| f.0 == Severity::Note && f.1.contains("no nosing is stated")));
    broken(|l| l.flights[0].pitch = Pitch::new(inches(7.0), inches(10.0)).unwrap(), &[(Code::SumFails, "slope of F1")]);
    broken(
        |l| {
            l.flights[0].steps = Steps { riser: inches(7.75), ..l.flights[0].steps };
            l.flights[0].pitch = l.flights[0].steps.pitch().unwrap();
            for at in &mut l.panels[LEFT..=RIGHT] {
                at.span.rake.as_mut().unwrap().steps = Some(l.flights[0].steps);
                at.panel.rake = at.span.rake;
            }
            l.handrails[0].length = inches(10.0_f64.hypot(7.75) * 5.0);
            l.handrails[0].brackets[2] = inches(57.25);
        },
        &[
            BLOCK,
            TRIANGLE,
            BLOCK,
            TRIANGLE,
            (Code::SumFails, "slope of the panel"),
            (Code::SumFails, "slope of the panel"),
            POST,
            POST,
            POST,
            POST,
        ],
    );
}

#[test]
fn what_the_rules_lack_is_said() {
    let proof = broken(
        |l| {
            l.rules.counts.clear();
            l.rules.limits.truncate(6);
        },
        &[],
    );
    let warned: Vec<&str> = open(&proof).into_iter().filter(|f| f.0 == Severity::Warning).map(|f| f.1).collect();
    let lacks = |what: &str| warned.iter().any(|message| message.contains(what));
    assert!(lacks("no limit for: riser height, tread depth, difference between risers, difference between treads"));
    assert!(lacks("from how many risers on they are needed"));
    for what in ["least diameter", "greatest diameter", "least height of H1", "greatest height of H1", "behind H1"] {
        assert!(lacks(what), "{what} in {warned:?}");
    }
}

#[test]
fn posts_of_stairs() {
    let foot = (Code::SumFails, "from the lowest nosing to the post at the foot of F1, left side");
    // The head's post carries the raked rail, which is higher at its face than the level one.
    broken(|l| l.posts[1].height = inches(37.5), &[POST]);
    broken(|l| l.posts[2].height = inches(44.9375), &[POST]);
    broken(|l| l.posts[4].height = inches(38.625), &[POST]);
    // A foot of the flight that lies further down.
    let proof = prove(&{
        let mut layout = layout();
        layout.flights[0].risers = 7;
        layout.handrails.clear();
        layout
    });
    assert!(
        failed(&proof).contains(&foot)
            && failed(&proof).contains(&(Code::GapLeftOpen, "widest stretch of F1, left side without a panel"))
    );
}

/// A post between two raked panels stands on the tread beneath its centre and carries the upper rail's lower end.
#[test]
fn a_post_between_two_raked_panels() {
    broken(lengthen, &[]);
    broken(
        |l| {
            lengthen(l);
            l.posts[3].height -= inches(0.0625);
        },
        &[POST],
    );
    let gap = [
        (Code::GapLeftOpen, "widest stretch of run 2 without a panel"),
        (Code::GapLeftOpen, "widest stretch of F1, left side without a panel"),
    ];
    broken(
        |l| {
            lengthen(l);
            l.panels.remove(2);
        },
        &[gap[0], gap[1], (Code::SumFails, "from the lowest nosing to the post at the foot of F1, left side")],
    );
}

#[test]
fn the_head_of_the_flight_is_closed() {
    let gap = (Code::GapLeftOpen, "from the post at the head of F1, left side to the deck's guard");
    // The deck's guard ends at a post of its own, 4 in from the stair's; what joins its panel to that is 9 in shorter.
    let apart = |by: f64| {
        move |l: &mut Layout| {
            l.posts.push(crate::guard::Post { id: "P6".to_owned(), at: at(-4.0, 43.5 + by), ..l.posts[1].clone() });
            let top = l.posts.len() - 1;
            l.posts[0].at = at(-4.0, 108.75 + by);
            l.runs[0].line = vec![l.posts[0].at, l.posts[top].at];
            let span = &mut l.panels[0].span;
            (span.to, span.left, span.right) = (Support::Post(top), at(-4.0, 106.25 + by), at(-4.0, 46.0 + by));
        }
    };
    broken(apart(3.9), &[]);
    broken(apart(4.0), &[gap]);
    let proof = broken(apart(0.0), &[]);
    // Only posts that hold both guards show a step.
    assert_eq!(actual(&proof, "step from the top of S4 to that of S3 at P4"), [1.125]);
    assert!(actual(&proof, "step from the top of S1 to that of S2 at P2").is_empty());
}

/// 34 in on the stair and 36 in on the deck: the lines meet 2.667 in behind the nosing, over the post (closed form).
#[test]
fn the_step_from_level_to_raked_is_told() {
    let proof = broken(
        |l| {
            for at in &mut l.panels[LEFT..=RIGHT] {
                at.panel.height = inches(34.0);
                at.panel.balusters.length = inches(28.375);
            }
        },
        &[],
    );
    let what = "step from the top of S1 to that of S2 at P2";
    let told = proof.checks.iter().find(|c| c.what == what).unwrap();
    assert_eq!(told.actual, Some(inches(-0.875)));
    let Required::Fact(about) = &told.required else { panic!("{told:?}") };
    assert_eq!(about, "told: the top lines meet 2.6667 in behind the top nosing, over the post");
    let notes = open(&proof);
    assert!(
        notes
            .iter()
            .any(|f| f.0 == Severity::Note && f.1.contains("1.5 in over the deck, the raked top falls to 34 in"))
    );
    broken(|l| l.posts[1].height = inches(35.9375), &[POST, (Code::GuardTooLow, "guard over the post at the head")]);
}

#[test]
fn sides_are_not_left_open() {
    let hole = |run: &'static str, side: &'static str| [(Code::GapLeftOpen, run), (Code::GapLeftOpen, side)];
    broken(
        |l| drop(l.panels.remove(LEFT)),
        &hole("widest stretch of run 2 without a panel", "widest stretch of F1, left side without a panel"),
    );
    // Neither guard nor run: the rise of 45 in is too much for none.
    let bare = |l: &mut Layout, sides| {
        l.panels.remove(RIGHT);
        l.panels.iter_mut().skip(RIGHT).for_each(|p| p.span.run = 2);
        l.runs.remove(2);
        l.flights[0].guards = sides;
    };
    broken(|l| bare(l, Sides::Both), &[(Code::GapLeftOpen, "widest stretch of F1, right side without a panel")]);
    let rise = (Code::GapLeftOpen, "rise of F1, right side, which has neither guard nor wall");
    let proof = broken(|l| bare(l, Sides::Left), &[rise]);
    assert_eq!(proof.findings.iter().find(|f| f.code == rise.0).unwrap().rule.as_ref().unwrap().actual, inches(45.0));
    broken(
        |l| {
            bare(l, Sides::Left);
            set(l, LimitKind::GuardNeededAbove, 45.0);
        },
        &[],
    );
    broken(
        |l| {
            bare(l, Sides::Left);
            l.flights[0].walls = Sides::Right;
        },
        &[],
    );
}

#[test]
fn numbers_that_are_none_do_not_pass() {
    let proof = prove(&{
        let mut layout = layout();
        layout.flights[0].down = point(f64::NAN, 0.0);
        layout
    });
    assert!(!proof.holds());
}
