use super::*;
use crate::base::Conclusion;
use crate::base::plane::point;
use crate::{Outcome, Unit, lay_out, lay_out_opening};

/// The stair of a fixture with a drawn post of 5 in at the foot of its left side; without it one is set at 146.5, -102.5.
fn with_foot(at: [f64; 2]) -> Outcome {
    let plan = include_str!("../../fixtures/stair-lines/plan.dxf").replace("\r\n", "\n");
    let (x, y) = (at[0], at[1]);
    let corners = [[-2.5, -2.5], [2.5, -2.5], [2.5, 2.5], [-2.5, 2.5]];
    let corners: String = corners.iter().map(|[dx, dy]| format!("10\n{}\n20\n{}\n", x + dx, y + dy)).collect();
    let post = concat!(
        "  2\nENTITIES\n  0\nLWPOLYLINE\n  5\nFFF0\n100\nAcDbEntity\n  8\nPOST\n",
        "100\nAcDbPolyline\n 90\n4\n 70\n1\n"
    );
    let plan = plan.replacen("  2\nENTITIES\n", &format!("{post}{corners}"), 1);
    lay_out(plan.as_bytes(), "plan.dxf", &crate::settings("", "", "").unwrap()).unwrap()
}

fn errors(outcome: &Outcome) -> Vec<&Finding> {
    outcome.findings.iter().filter(|f| f.severity >= Severity::Incomplete).collect()
}

#[test]
fn a_drawn_post_in_line_is_no_finding() {
    assert_eq!(with_foot([146.5, -102.5]).conclusion(), Conclusion::Complete);
}

/// Checks of the panel, of the post and of the open side of the flight are all told by the post.
#[test]
fn a_drawn_post_out_of_line_beside_a_stair_is_one_message() {
    let outcome = with_foot([146.4, -102.5]);
    let failed = outcome.proof.checks.iter().filter(|c| c.verdict == Verdict::Fail).count();
    let [finding] = errors(&outcome)[..] else { panic!("{:#?}", errors(&outcome)) };
    assert_eq!((finding.code, finding.place.handle), (Code::PostOffLine, Some(0xfff0)));
    assert!(finding.message.contains("stands 0.1 in out of line with"), "{}", finding.message);
    let with = if failed == 2 {
        "; 1 check fails with it".to_owned()
    } else {
        format!("; {} checks fail with it", failed - 1)
    };
    assert!(failed > 1 && finding.message.ends_with(&with), "{failed}: {}", finding.message);
    assert!(outcome.findings.iter().all(|f| f.hint.as_ref().is_none_or(|hint| !hint.contains("fault"))));
}

#[test]
fn a_drawn_post_above_the_lowest_nosing_is_one_message() {
    let outcome = with_foot([146.5, -101.0]);
    let own = outcome.proof.checks.iter().filter(|c| c.verdict == Verdict::Fail && c.source.is_none()).count();
    for finding in errors(&outcome) {
        let is_limit = finding.rule.is_some();
        assert!(is_limit || finding.code == Code::PostOffLine, "{finding:?}");
    }
    let causes = errors(&outcome).into_iter().filter(|f| f.code == Code::PostOffLine).count();
    assert_eq!(causes, usize::from(own > 0), "{:#?}", errors(&outcome));
}

/// A layout whose numbers contradict each other for no known reason.
#[test]
fn what_has_no_cause_is_told_by_itself_and_once_a_panel() {
    let settings = crate::settings("", "", "").unwrap();
    let good = lay_out_opening(Length::INCH * 72, None, Unit::Inch, &settings);
    let mut layout = good.layout;
    layout.panels[0].panel.clearance_left += Length::INCH;
    let proof = crate::proof::prove(&layout);
    let told = grouped(Vec::new(), &layout, &proof);
    let own: Vec<&Finding> = told.iter().filter(|f| f.severity == Severity::Error && f.rule.is_none()).collect();
    assert_eq!(own.len(), 1, "{own:#?}");
    assert_eq!(own[0].hint.as_deref(), Some(CHANGE));
    assert_eq!(
        proof.findings.iter().filter(|f| f.severity != Severity::Error).count(),
        told.iter().filter(|f| f.severity != Severity::Error).count()
    );

    // The same with a stage's finding at one of its posts.
    let cause = Finding::error(Code::RailsCollide, Place::post("P1").with_point(point(0.0, 0.0)), "two rails meet");
    let told = grouped(vec![cause], &layout, &proof);
    let own: Vec<&Finding> = told.iter().filter(|f| f.severity == Severity::Error && f.rule.is_none()).collect();
    assert_eq!(own.len(), 1, "{own:#?}");
    assert!(own[0].message.starts_with("two rails meet; ") && own[0].message.ends_with(" with it"), "{own:?}");
}

#[test]
fn rails_that_miss_one_post_are_one_finding() {
    let off = |panel: &str, post: &str| {
        let place = Place { panel: Some(panel.to_owned()), ..Place::post(post) };
        Finding::error(Code::RailOffFace, place, "off the face")
    };
    let told = alike(vec![off("S1", "P2"), off("S2", "P2"), off("S3", "P3")]);
    let messages: Vec<&str> = told.iter().map(|f| f.message.as_str()).collect();
    assert_eq!(messages, ["off the face; so it is with the rail of S2", "off the face"]);
}

/// A span without a panel is not laid out: the limit that the gap breaks is told beside it.
#[test]
fn an_opening_without_a_panel_is_incomplete() {
    let settings = crate::settings("", "", "").unwrap();
    let outcome = lay_out_opening(Length::INCH * 5, None, Unit::Inch, &settings);
    assert_eq!(outcome.conclusion(), Conclusion::Incomplete);
    let first = errors(&outcome)[0];
    assert_eq!(first.code, Code::SpanTooShort);
    assert!(first.message.ends_with("; no panel is laid out there"), "{}", first.message);
    assert!(outcome.headline().starts_with("incomplete: opening of 5in is shorter"), "{}", outcome.headline());
}
