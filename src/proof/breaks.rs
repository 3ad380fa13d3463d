//! The hand-made layout passes; with one number broken, exactly the checks of that number fail.

use super::sample::{at, expect, inches, layout};
use super::{Proof, Required, prove};
use crate::base::{Angle, Code, Length, Severity};
use crate::catalog::{BalusterStyle, LimitKind, MemberRole};
use crate::guard::Support;
use crate::panel::BracketKind;
use crate::parts::Layout;

/// Breaks the layout and compares what fails.
fn broken(change: impl FnOnce(&mut Layout), expected: &[(Code, &str)]) -> Proof {
    let mut layout = layout();
    change(&mut layout);
    let proof = prove(&layout);
    expect(&proof, expected);
    proof
}

#[test]
fn a_correct_layout_passes_with_notes_on_what_no_layout_tells() {
    let proof = broken(|_| {}, &[]);
    assert!(proof.holds());
    let found: Vec<_> = proof.findings.iter().map(|f| (f.code, f.severity)).collect();
    assert_eq!(found, [(Code::NotChecked, Severity::Note); 2], "{:?}", proof.findings);
    assert!(proof.findings[0].message.contains("no heights"), "{}", proof.findings[0].message);
    assert!(proof.findings[1].message.contains("the faces at the wall ends of S2"), "{}", proof.findings[1].message);
}

#[test]
fn the_openings_check_carries_section_limit_and_worst_case() {
    let proof = prove(&layout());
    let check = proof.checks.iter().find(|c| c.what == "widest opening between balusters").unwrap();
    assert_eq!(check.required, Required::Under(inches(4.0)));
    assert_eq!((check.actual, check.worst), (Some(inches(3.75)), Some(inches(3.8125))));
    assert_eq!(check.source.as_ref().unwrap().section, "R312.1.3");
}

#[test]
fn an_opening_of_exactly_the_limit_fails() {
    let wide = (Code::OpeningTooWide, "widest opening between balusters");
    let sphere = |layout: &mut Layout, value: f64| {
        layout.rules.limits.iter_mut().find(|l| l.what == LimitKind::Opening).unwrap().value = inches(value);
    };
    // Both panels have gaps of 3-3/4 in, which the tolerance makes 3-13/16 in.
    let proof = broken(|l| sphere(l, 3.8125), &[wide, wide]);
    let finding = proof.findings.iter().find(|f| f.code == Code::OpeningTooWide).unwrap();
    assert_eq!(finding.rule.as_ref().unwrap().section, "R312.1.3");
    assert!(finding.message.contains("3.75 in found, under 3.8125 in required (3.8125 in with"), "{}", finding.message);
    broken(|l| sphere(l, 3.8126), &[]);
}

#[test]
fn a_baluster_out_of_place() {
    // One sixteenth to the right: the gap on its left grows to 3-13/16 in, which still holds, but the figures differ.
    broken(|l| l.panels[0].panel.balusters.marks[5] += inches(0.0625), &[(Code::SumFails, "stated gaps")]);
    broken(
        |l| l.panels[0].panel.balusters.marks[5] += inches(0.25),
        &[(Code::OpeningTooWide, "widest opening between balusters"), (Code::SumFails, "stated gaps")],
    );
    broken(
        |l| {
            l.panels[0].panel.balusters.marks.remove(12);
        },
        &[(Code::OpeningTooWide, "widest opening between balusters"), (Code::SumFails, "stated gaps")],
    );
    // Half a sixteenth off the grid.
    broken(
        |l| l.panels[0].panel.balusters.marks[5] += inches(0.03125),
        &[(Code::SumFails, "stated gaps"), (Code::MarkOffRail, "marks")],
    );
    // Out of order: the sphere measures them where they stand.
    broken(|l| l.panels[0].panel.balusters.marks.swap(3, 4), &[(Code::MarkOffRail, "balusters")]);
}

#[test]
fn stated_gaps_are_compared() {
    let stated = [(Code::SumFails, "stated gaps")];
    broken(|l| l.panels[1].panel.balusters.widest_gap = inches(3.5), &stated);
    broken(|l| l.panels[1].panel.balusters.end_gap_left = inches(3.0), &stated);
    broken(|l| l.panels[1].panel.balusters.end_gap_right = inches(3.0), &stated);
}

#[test]
fn the_opening_under_the_rail() {
    let sum = (Code::SumFails, "height of the parts on each other");
    let under = (Code::OpeningTooWide, "opening under the lowest member");
    // 3-15/16 in and the tolerance are 4 in.
    // Higher than it says, the rail leaves too little of both posts above it, and the block beneath is too short.
    let block = (Code::SumFails, "block heights");
    let post = (Code::SystemLimit, "height of the post");
    broken(|l| l.panels[0].panel.bottom_gap = inches(3.9375), &[under, sum, block, post, post]);
    broken(|l| l.panels[0].panel.bottom_gap = inches(3.5), &[sum, block, post, post]);
    broken(|l| l.panels[0].panel.block_heights[0] = inches(2.9375), &[block]);
    broken(|l| l.posts[1].height = inches(37.4375), &[post]);
}

#[test]
fn the_height_of_the_guard() {
    let sum = (Code::SumFails, "height of the parts on each other");
    let low = (Code::GuardTooLow, "height of the guard");
    broken(|l| l.panels[0].panel.balusters.length = inches(28.9375), &[sum, low]);
    broken(|l| l.panels[0].panel.height = inches(42.0), &[sum]);
    let proof = broken(
        |l| l.rules.limits.iter_mut().find(|l| l.what == LimitKind::GuardHeight).unwrap().value = inches(42.0),
        &[low, low],
    );
    let finding = proof.findings.iter().find(|f| f.code == Code::GuardTooLow).unwrap();
    let rule = finding.rule.as_ref().unwrap();
    assert_eq!((rule.section.as_str(), rule.limit, rule.actual), ("R312.1.2", inches(42.0), inches(36.0)));
    broken(
        |l| {
            l.panels[0].panel.cuts.remove(3);
        },
        &[sum, low, (Code::SystemLimit, "members")],
    );
}

#[test]
fn lengths_that_do_not_add_up() {
    let parts = (Code::SumFails, "clearance, rail and clearance together");
    let edges = (Code::SumFails, "difference between the cuts' edges and the faces");
    let gaps = (Code::SumFails, "stated gaps");
    broken(|l| l.panels[1].panel.clearance_right = inches(0.25), &[gaps, parts, edges]);
    broken(
        |l| l.panels[1].panel.clearance_right = inches(0.0625),
        &[gaps, parts, (Code::SystemLimit, "end clearance"), edges],
    );
    broken(|l| l.panels[1].panel.span = inches(39.5), &[parts, (Code::SumFails, "span that the panel was built for")]);
    broken(|l| l.panels[0].panel.cuts[1].length = inches(60.0625), &[(Code::SumFails, "centre line of each cut")]);
    let order = (Code::SumFails, "cut lengths");
    broken(|l| l.panels[0].panel.cuts[1].short_point = inches(60.0625), &[order, edges]);
    broken(|l| l.panels[0].panel.cuts[1].long_point += inches(0.001), &[order, edges]);
    broken(|l| l.panels[0].panel.cuts[1].tip_to_tip += inches(0.001), &[edges]);
    broken(|l| l.panels[0].panel.cuts[1].left_tip = Length::ZERO, &[edges]);
    broken(|l| l.panels[1].panel.id = "S9".to_owned(), &[(Code::SumFails, "names")]);
    broken(|l| l.posts[1].id = "P1".to_owned(), &[(Code::SumFails, "names")]);
}

#[test]
fn limits_of_the_system() {
    let span = (Code::SystemLimit, "clear span");
    broken(|l| l.system.longest_panel = inches(60.0), &[span]);
    broken(|l| l.system.shortest_panel = inches(40.0), &[span]);
    broken(|l| l.system.end_clearance = inches(0.25), &[(Code::SystemLimit, "end clearance"); 2]);
}

#[test]
fn rails_and_their_stock() {
    let stock = (Code::StockTooShort, "rail from tip to tip");
    // The cap of S1 is 60.36 in from tip to tip.
    broken(|l| l.system.kits[0].length = inches(60.25), &[stock]);
    broken(|l| l.panels[0].kit = Some("another kit".to_owned()), &[stock]);
    let proof = broken(|l| l.panels[0].kit = None, &[]);
    assert_eq!(proof.findings.iter().filter(|f| f.severity == Severity::Warning).count(), 1);
}

#[test]
fn faces_are_measured_where_the_posts_stand() {
    let clear = (Code::SumFails, "clear distance between the faces");
    let ends = (Code::RailOffFace, "distance of the span's ends from the faces");
    let edges = (Code::SumFails, "difference between the cuts' edges and the faces");
    let landing = (Code::RailOffFace, "rail's edge from the middle of the post's face");
    // The corner post an inch further out along the first rail: the second rail still lands on its face.
    broken(|l| l.posts[1].at = at(66.354_166_666, 0.0), &[clear, ends, edges]);
    // Wider than planned: both rails lose a quarter inch.
    broken(|l| l.posts[1].side = inches(5.5), &[clear, ends, edges, clear, ends, edges]);
    // Off to the side by 1-1/2 in: a 2-1/2 in cap no longer lands on a face of 5 in.
    broken(|l| l.posts[0].at = at(-1.5 * 7.0 / 25.0, 1.5 * 24.0 / 25.0), &[landing]);
    broken(|l| l.posts[0].at = at(0.0, 9.0), &[(Code::RailOffFace, "faces at the rail's ends")]);
    broken(|l| l.panels[0].span.from = Support::Post(7), &[(Code::RailOffFace, "faces at the rail's ends")]);
    broken(
        |l| l.panels[0].span.right = at(f64::NAN, 0.0),
        &[
            (Code::SumFails, "distance between the span's ends"),
            (Code::RailOffFace, "faces at the rail's ends"),
            (Code::GapLeftOpen, "widest stretch of run 1 without a panel"),
        ],
    );
}

#[test]
fn angles_are_measured_on_the_faces() {
    let skews = (Code::SumFails, "stated skews");
    let saw = (Code::SumFails, "saw angles");
    let kinds = (Code::SumFails, "bracket kinds");
    broken(|l| l.panels[0].span.skew_left = Angle::from_degrees(-16.260_205), &[skews]);
    broken(|l| l.panels[0].panel.cuts[2].left = Angle::from_degrees(16.3), &[saw]);
    broken(|l| l.panels[0].panel.brackets[0].kind = BracketKind::Level, &[kinds]);
    broken(|l| l.panels[0].panel.brackets[1].kind = BracketKind::Angled, &[kinds]);
}

#[test]
fn balusters_stay_out_of_brackets() {
    let right = (Code::BalusterInBracket, "baluster from the right rail end");
    let left = (Code::BalusterInBracket, "baluster from the left rail end");
    // The first baluster of S1 begins at 2-5/8 in, that of S2 at 3-3/8 in.
    broken(|l| l.system.bracket.reach = inches(2.625), &[]);
    broken(|l| l.system.bracket.reach = inches(2.6875), &[left, right]);
}

#[test]
fn brackets_are_all_there_with_their_holes() {
    let count = (Code::SystemLimit, "brackets");
    broken(
        |l| {
            l.panels[0].panel.brackets.pop();
        },
        &[count],
    );
    broken(|l| l.panels[0].panel.brackets[3].member = MemberRole::Cap, &[count]);
    let holes = (Code::MarkOffRail, "bracket holes");
    broken(|l| l.panels[0].panel.brackets[2].holes[1] += inches(0.0625), &[holes]);
    broken(|l| l.panels[0].panel.brackets[2].setback = inches(0.0625), &[holes]);
    broken(|l| l.panels[0].panel.brackets[2].holes.clear(), &[holes]);
}

#[test]
fn support_blocks_follow_the_table_and_stay_off_screws() {
    let count = (Code::SystemLimit, "support blocks");
    broken(|l| l.panels[0].panel.blocks.clear(), &[count, (Code::SumFails, "block heights")]);
    broken(|l| l.system.blocks.as_mut().unwrap().counts.clear(), &[count, count]);
    broken(
        |l| l.panels[0].panel.blocks[0] = inches(30.5),
        &[(Code::ScrewsMeet, "block screw from a baluster's screw")],
    );
    broken(|l| l.panels[0].panel.blocks[0] = inches(61.0), &[(Code::MarkOffRail, "blocks and cap screws")]);
    broken(|l| l.system.blocks = None, &[count, count]);
}

#[test]
fn cap_screws_keep_their_spacing_and_stay_off_screws() {
    let spacing = (Code::SystemLimit, "cap screw spacing");
    broken(|l| l.panels[0].panel.cap_screws[1] = inches(45.0), &[spacing]);
    broken(
        |l| l.panels[0].panel.cap_screws[1] = inches(38.5),
        &[(Code::ScrewsMeet, "cap screw from a baluster's screw")],
    );
    broken(|l| l.panels[1].panel.cap_screws.clear(), &[(Code::SystemLimit, "cap screws"), spacing]);
}

#[test]
fn punched_balusters_stand_in_their_holes() {
    let pitch = [(Code::SystemLimit, "punched holes off their pitch")];
    broken(|l| l.panels[0].panel.balusters.style = BalusterStyle::Punched, &[]);
    broken(
        |l| {
            l.panels[0].panel.balusters.style = BalusterStyle::Punched;
            l.system.baluster.as_mut().unwrap().spacing = inches(4.375);
        },
        &pitch,
    );
}

#[test]
fn runs_have_no_holes() {
    let hole = (Code::GapLeftOpen, "widest stretch of run 1 without a panel");
    let proof = broken(
        |l| {
            l.panels.remove(0);
        },
        &[hole],
    );
    let finding = proof.findings.iter().find(|f| f.code == Code::GapLeftOpen).unwrap();
    let rule = finding.rule.as_ref().unwrap();
    assert_eq!((rule.limit, rule.actual), (inches(4.0), inches(60.25)));
    assert!(finding.place.at.is_some());
    // The run goes on past the wall face that the last panel ends at.
    broken(|l| l.runs[0].line[2] = at(65.354_166_666, -45.5), &[]);
    broken(|l| l.runs[0].line[2] = at(65.354_166_666, -45.75), &[hole]);
    // Closed, it also goes back to the first post, where nothing stands.
    broken(|l| l.runs[0].closed = true, &[hole]);
}

#[test]
fn missing_limits_are_said() {
    let proof = broken(|l| l.rules.limits.clear(), &[]);
    let warned: Vec<_> =
        proof.findings.iter().filter(|f| f.severity == Severity::Warning).map(|f| f.message.as_str()).collect();
    assert_eq!(
        warned,
        [
            "not checked: openings; the rule set irc-2021 has no limit for it",
            "not checked: height of the guard; the rule set irc-2021 has no limit for it"
        ]
    );
}
