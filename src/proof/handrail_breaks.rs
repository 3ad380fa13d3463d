//! The handrail of the hand-made stair: with one number broken, exactly the checks of that number fail.

use super::prove;
use super::sample::{at, failed, inches};
use super::sample_stairs::layout;
use super::stair_breaks::broken;
use crate::base::Code;
use crate::catalog::{Count, CountKind, GraspSection, Limit, LimitKind, Sides};
use crate::guard::{Before, Handrail};
use crate::parts::Layout;

#[test]
fn handrails_are_there() {
    let missing = (Code::HandrailMissing, "sides of F1 with a handrail");
    let proof = broken(|l| l.handrails.clear(), &[missing]);
    let check = proof.checks.iter().find(|c| c.code == missing.0).unwrap();
    assert_eq!(check.source.as_ref().unwrap().section, "8.1");
    broken(
        |l| {
            l.handrails.clear();
            l.rules.counts[0].value = 7;
        },
        &[],
    );
    broken(
        |l| {
            let sides = Count { what: CountKind::HandrailSides, value: 2, ..l.rules.counts[0].clone() };
            l.rules.counts.push(sides);
        },
        &[missing],
    );
    let wanted = (Code::HandrailMissing, "handrails that the job wants on F1");
    broken(|l| l.flights[0].handrails = Some(Sides::Both), &[wanted]);
    broken(|l| l.flights[0].handrails = Some(Sides::Left), &[]);
    broken(|l| l.handrails.push(l.handrails[0].clone()), &[(Code::HandrailWrong, "handrails of F1")]);
}

#[test]
fn handrails_can_be_grasped_all_the_way() {
    let wrong = |what| (Code::HandrailWrong, what);
    let rail = |change: fn(&mut Handrail), expected: &[(Code, &str)]| {
        broken(|l| change(&mut l.handrails[0]), expected);
    };
    rail(|h| h.height = inches(33.9375), &[wrong("least height of H1")]);
    rail(|h| h.height = inches(38.0625), &[wrong("greatest height of H1")]);
    // 3/4 in nearer leaves 1-1/2 in, a mark more too little.
    rail(|h| h.line = [at(0.0, 33.75), at(50.0, 33.75)], &[]);
    rail(|h| h.line = [at(0.0, 33.8125), at(50.0, 33.8125)], &[wrong("clear space behind H1")]);
    rail(|h| h.length = inches(50.0), &[wrong("length of H1"), (Code::MarkOffRail, "brackets of H1")]);
    rail(
        |h| {
            h.line[0] = at(1.0, 33.0);
            h.length = inches(61.25);
            h.brackets[2] = inches(55.25);
        },
        &[wrong("beginning of H1")],
    );
    rail(
        |h| {
            h.line[1] = at(40.0, 33.0);
            h.length = inches(50.0);
            h.brackets[2] = inches(44.0);
        },
        &[wrong("from the lowest nosing to the end of H1")],
    );
    rail(|h| h.before = Before::Wall, &[wrong("what holds H1")]);
    rail(|h| h.left = false, &[wrong("side of H1")]);
    rail(|h| h.flight = 3, &[(Code::HandrailMissing, "sides of F1 with a handrail"), wrong("flight of H1")]);
    rail(|h| h.brackets.retain(|mark| *mark != inches(31.25)), &[wrong("distance between brackets of H1")]);
    rail(|h| h.brackets[0] = inches(6.125), &[wrong("from an end to the first bracket of H1")]);
    rail(|h| h.brackets[1] = inches(31.3), &[(Code::MarkOffRail, "brackets of H1")]);
}

#[test]
fn handrails_have_the_section_and_reach_of_the_rules() {
    let section = |section, expected: &[(Code, &str)]| {
        broken(|l| l.system.handrail.as_mut().unwrap().section = section, expected);
    };
    let wrong = |what| (Code::HandrailWrong, what);
    section(GraspSection::Round(inches(1.1875)), &[wrong("least diameter of the handrail")]);
    section(GraspSection::Round(inches(2.0625)), &[wrong("greatest diameter of the handrail")]);
    let other = |perimeter, across| GraspSection::Other { perimeter: inches(perimeter), across: inches(across) };
    section(other(6.25, 2.25), &[]);
    section(other(3.9375, 1.5), &[wrong("least perimeter of the handrail")]);
    section(other(6.3125, 2.0), &[wrong("greatest perimeter of the handrail")]);
    section(other(6.25, 2.3125), &[wrong("greatest dimension across the handrail")]);
    let extension = |l: &mut Layout, kind, value| {
        let limit = Limit { what: kind, value: inches(value), ..l.rules.limits[0].clone() };
        l.rules.limits.push(limit);
    };
    let (top, foot) = ("level extension at the top of H1", "level reach of the extension at the foot of H1");
    broken(|l| extension(l, LimitKind::HandrailExtensionTop, 12.0), &[wrong(top)]);
    broken(|l| extension(l, LimitKind::HandrailExtensionBottom, 10.0), &[wrong(foot)]);
    // 12.5 in down the slope reach 10 in.
    broken(
        |l| {
            extension(l, LimitKind::HandrailExtensionTop, 12.0);
            extension(l, LimitKind::HandrailExtensionBottom, 10.0);
            let rail = &mut l.handrails[0];
            (rail.extension_top, rail.extension_bottom) = (inches(12.0), inches(12.5));
            rail.brackets = [6.0, 43.5, 81.0].map(inches).to_vec();
        },
        &[],
    );
}

#[test]
fn an_end_that_is_no_number_does_not_pass() {
    let mut layout = layout();
    layout.handrails[0].line[0] = at(f64::NAN, 33.0);
    assert!(failed(&prove(&layout)).contains(&(Code::HandrailWrong, "beginning of H1")));
}
