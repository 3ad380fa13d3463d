//! One cause, one message: checks that fail because of something that was found before the proof, or because of a post that
//! the user drew, are counted in the finding of their cause. The checks themselves stay in the proof as they are.

use std::collections::{BTreeMap, BTreeSet};

use crate::base::plane::{cross, distance, dot, unit};
use crate::base::{Code, Finding, Length, Place, Severity};
use crate::catalog::LimitKind;
use crate::guard::{Post, PostOrigin, Span};
use crate::parts::Layout;
use crate::proof::{Asks, Check, Proof, Verdict};

/// A stretch that is open because of a post or a panel may begin this far from it, in millimetres.
const BESIDE_MM: f64 = 100.0;

/// So many pairs of a failed check and a possible cause are looked at; the checks after them are told by themselves.
const MOST_RELATED: usize = 5_000_000;

const MOVE: &str = "move the post in the drawing so that it fits, or erase it: one is then set where it belongs";
const FIT: &str = "move or turn the posts in the drawing so that the rail fits between them, or erase one: it is then set \
                   where it belongs";
const CLOSE: &str = "draw the edge on to a wall or a post, or draw what closes the way as an opening or a stair";
const FREE: &str = "move the stair, the opening or the posts beside it so that its width stays free";
const SIDE: &str = "check on which side of the edge the deck lies, and that walls and posts are drawn where they stand";
const CHANGE: &str = "do not build this from these figures; draw a post or an edge a little differently here, or leave the \
                      place out with an opening";

/// A finding of the proof with its check.
type Failed<'a> = (&'a Check, &'a Finding);

/// All findings: those of the stages before the proof, each with the number of checks that fail with it, then what else the
/// proof has found.
pub fn grouped(stages: Vec<Finding>, layout: &Layout, proof: &Proof) -> Vec<Finding> {
    let found = alike(stages).into_iter().map(|finding| Cause { finding, with: 0, reach: 0.0, is_own: false });
    let (found, told) = (found.collect(), BTreeSet::new());
    let mut causes = Causes { layout, by_name: ByName::new(layout), found, told, related: 0 };
    let open = proof.checks.iter().filter(|check| check.verdict != Verdict::Pass);
    let pairs: Vec<Failed<'_>> = open.zip(&proof.findings).collect();
    let failed = |pair: &&Failed<'_>| pair.0.verdict == Verdict::Fail;
    // A stretch without a panel may have a cause that only the layout's own checks show.
    let is_late = |pair: &&Failed<'_>| is_stretch(pair.0);
    let early = pairs.iter().filter(failed).filter(|pair| !is_late(pair));
    let late = pairs.iter().filter(failed).filter(is_late);
    let mut others: Vec<Finding> = early.chain(late).filter_map(|pair| causes.take(*pair)).collect();
    others.extend(pairs.iter().filter(|pair| !failed(pair)).map(|(_, finding)| (*finding).clone()));
    causes.finish().into_iter().chain(others).collect()
}

/// What is wrong, and how many checks fail with it.
struct Cause {
    finding: Finding,
    with: usize,
    /// Half of an open stretch, in millimetres: what lies within it is the same hole.
    reach: f64,
    /// Whether the first failed check is told in the absence of a better cause.
    is_own: bool,
}

struct Causes<'a> {
    layout: &'a Layout,
    by_name: ByName<'a>,
    found: Vec<Cause>,
    /// Handles of drawn posts of which more is told than a note.
    told: BTreeSet<Option<u64>>,
    /// How often a cause was looked for in a finding.
    related: usize,
}

/// What stands where, by its name: a site has thousands of each.
struct ByName<'a> {
    posts: BTreeMap<&'a str, &'a Post>,
    panels: BTreeMap<&'a str, &'a Span>,
    /// The spans that end in a post.
    at_post: BTreeMap<&'a str, Vec<&'a Span>>,
    /// The spans of each side of a flight.
    on_stairs: BTreeMap<usize, Vec<&'a Span>>,
}

impl<'a> ByName<'a> {
    fn new(layout: &'a Layout) -> Self {
        let posts = layout.posts.iter().map(|post| (post.id.as_str(), post)).collect();
        let mut all = Self { posts, panels: BTreeMap::new(), at_post: BTreeMap::new(), on_stairs: BTreeMap::new() };
        for span in layout.panels.iter().map(|at| &at.span) {
            all.panels.insert(&span.id, span);
            for post in [span.from, span.to].into_iter().filter_map(|end| layout.posts.get(end.post()?)) {
                all.at_post.entry(&post.id).or_default().push(span);
            }
            if span.rake.is_some() {
                all.on_stairs.entry(span.run).or_default().push(span);
            }
        }
        all
    }
}

impl Causes<'_> {
    /// Counts a failed check where its cause is known. One of the layout's own consistency is a cause itself where none is
    /// known; a limit that is broken is given back.
    fn take(&mut self, (check, finding): Failed<'_>) -> Option<Finding> {
        if let Some(cause) = self.cause(check).and_then(|i| self.found.get_mut(i)) {
            cause.with += 1;
            return None;
        }
        if is_stretch(check) {
            // An open side of a flight is measured along its run, too.
            self.found.push(Cause { finding: finding.clone(), with: 0, reach: half(check), is_own: false });
            return None;
        }
        if check.source.is_some() {
            return Some(finding.clone());
        }
        let finding = self.drawn(check, finding).unwrap_or_else(|| finding.clone().hint(remedy(check.code)));
        self.told.insert(finding.place.handle);
        self.found.push(Cause { finding, with: 0, reach: 0.0, is_own: true });
        None
    }

    /// The nearest cause of a failed check.
    fn cause(&mut self, check: &Check) -> Option<usize> {
        self.related += self.found.len();
        if self.related > MOST_RELATED {
            return None;
        }
        let related = self.found.iter().enumerate().filter_map(|(i, cause)| {
            let severe = cause.finding.severity == Severity::Error
                // What is missing breaks no limit of its own: the limit is told beside it.
                || cause.finding.severity == Severity::Incomplete
                    && (check.source.is_none() || cause.finding.code == Code::RailLineFails);
            let near = if severe { self.relation(cause, check) } else { None };
            near.map(|near| (near, i))
        });
        related.min_by(|(a, _), (b, _)| a.total_cmp(b)).map(|(_, i)| i)
    }

    /// How far a failed check is from a cause; `None` where one has nothing to do with the other.
    fn relation(&self, Cause { finding: cause, is_own, reach, .. }: &Cause, check: &Check) -> Option<f64> {
        let (of, place) = (&cause.place, &check.place);
        let is_same = |a: &Option<String>, b: &Option<String>| a.is_some() && a == b;
        let is_here = is_same(&of.panel, &place.panel) || is_same(&of.post, &place.post);
        // Where no rail line could be laid, the deck is open all along it.
        if is_stretch(check) && cause.code == Code::RailLineFails {
            return of.at.zip(place.at).map(|(a, b)| distance(a, b));
        }
        if is_stretch(check) {
            let reach = half(check).max(*reach) + BESIDE_MM;
            let at = place.at?;
            let middles = self.spans(of).into_iter().map(|span| (span.left + span.right) / 2.0);
            let off = middles.chain(of.at).map(|own| distance(own, at)).min_by(f64::total_cmp);
            return off.filter(|off| is_placed(cause) && *off <= reach);
        }
        if check.source.is_some() {
            return (is_here && says_the_same(cause, check)).then_some(0.0);
        }
        if !is_placed(cause) {
            return (is_here && (*is_own || cause.code == check.code)).then_some(0.0);
        }
        let post_of = |panel: &Option<String>, post: &Option<String>| {
            post.as_ref().is_some_and(|post| self.ends(panel).iter().any(|end| end.id == *post))
        };
        let is_neighbour = || {
            let ends = self.ends(&place.panel);
            self.ends(&of.panel).iter().any(|post| ends.iter().any(|other| other.id == post.id))
        };
        // The posts of a flight's side stand in one line, so one of them bears on all its panels.
        let is_beside =
            || self.spans(of).iter().any(|a| a.rake.is_some() && self.spans(place).iter().any(|b| a.run == b.run));
        // Two posts that are too near each other are told at one of them, and so between both.
        let is_at_end = || {
            let here = self.by_name.posts.get(place.post.as_deref().unwrap_or_default()).copied();
            let ends = self.ends(&place.panel).into_iter().chain(here);
            of.at.is_some_and(|at| ends.into_iter().any(|post| distance(post.at, at) <= post.side.millimetres()))
        };
        if is_here {
            Some(0.0)
        } else if is_at_end() || post_of(&place.panel, &of.post) || post_of(&of.panel, &place.post) {
            Some(1.0)
        } else if is_neighbour() {
            Some(2.0)
        } else {
            is_beside().then_some(3.0)
        }
    }

    /// The spans that a place is about: a panel's, else those at a post; on a stair all of that side.
    fn spans(&self, place: &Place) -> Vec<&Span> {
        let meant: Vec<&Span> = match (&place.panel, &place.post) {
            (Some(id), _) => self.by_name.panels.get(id.as_str()).copied().into_iter().collect(),
            (None, Some(id)) => self.by_name.at_post.get(id.as_str()).cloned().unwrap_or_default(),
            (None, None) => Vec::new(),
        };
        let raked = meant.iter().find(|span| span.rake.is_some());
        raked.and_then(|span| self.by_name.on_stairs.get(&span.run)).cloned().unwrap_or(meant)
    }

    fn span(&self, panel: &Option<String>) -> Option<&Span> {
        self.by_name.panels.get(panel.as_ref()?.as_str()).copied()
    }

    /// The posts at the ends of a panel.
    fn ends(&self, panel: &Option<String>) -> Vec<&Post> {
        let ends = self.span(panel).into_iter().flat_map(|span| [span.from, span.to]);
        ends.filter_map(|support| support.post()).filter_map(|i| self.layout.posts.get(i)).collect()
    }

    /// The cause where posts that the user drew leave a panel no place in which it fits.
    fn drawn(&self, check: &Check, finding: &Finding) -> Option<Finding> {
        if let Some(id) = &check.place.post {
            let post = self.by_name.posts.get(id.as_str()).filter(|post| is_drawn(post))?;
            let message = format!("the drawn post {id} stands where it does not fit: {}", finding.message);
            return Some(Finding::error(Code::PostOffLine, at_post(post, None), message).hint(MOVE));
        }
        let span = self.span(&check.place.panel)?;
        if let Some(finding) = self.beside_stair(span) {
            return Some(finding);
        }
        let ends = self.ends(&check.place.panel);
        let own: Vec<&Post> = ends.into_iter().filter(|post| is_drawn(post)).collect();
        let names: Vec<&str> = own.iter().map(|post| post.id.as_str()).collect();
        let message = format!("{} does not fit at the drawn {}: {}", span.id, names.join(" and "), finding.message);
        let place = at_post(own.first()?, Some(&span.id));
        Some(Finding::error(Code::PostOffLine, place, message).hint(FIT))
    }

    /// The drawn post that is farthest out of the line of its side of a flight, seen from the post at the head.
    fn beside_stair(&self, span: &Span) -> Option<Finding> {
        let flight = self.flight(span)?;
        let side = self.spans(&Place::panel(&span.id)).into_iter().flat_map(|span| [span.from, span.to]);
        let posts = || side.clone().filter_map(|support| self.layout.posts.get(support.post()?));
        let down = |post: &Post| dot(post.at, flight.down);
        let head = posts().min_by(|a, b| down(a).total_cmp(&down(b)))?;
        let off = |post: &Post| cross(unit(flight.down), post.at - head.at).abs();
        let own =
            posts().filter(|post| post.id != head.id && is_drawn(post)).max_by(|a, b| off(a).total_cmp(&off(b)))?;
        // Less than coordinates lose on their way is no reason.
        let miss = Some(Length::measured(off(own))).filter(|miss| *miss > Length::from_nanometres(1_000))?;
        let message = format!(
            "the drawn post {} stands {} out of line with {}, so that the rail between them does not run along {}",
            own.id,
            self.layout.measure.with_unit(miss),
            head.id,
            flight.id
        );
        Some(Finding::error(Code::PostOffLine, at_post(own, None), message).hint(MOVE))
    }

    fn flight(&self, span: &Span) -> Option<&crate::deck::Flight> {
        self.layout.runs.get(span.run)?.flight.and_then(|i| self.layout.flights.get(i))
    }

    /// All causes, each with the number of checks that fail with it.
    fn finish(self) -> Vec<Finding> {
        // What was a note so far is told by the finding of its post.
        let is_told = |f: &Finding| {
            let (code, handle) = (f.code, f.place.handle);
            code == Code::PostOffLine && f.severity == Severity::Note && handle.is_some() && self.told.contains(&handle)
        };
        let told = |Cause { finding, with, .. }: Cause| match with {
            0 => finding,
            1 => Finding { message: format!("{}; 1 check fails with it", finding.message), ..finding },
            n => Finding { message: format!("{}; {n} checks fail with it", finding.message), ..finding },
        };
        self.found.into_iter().filter(|cause| !is_told(&cause.finding)).map(told).collect()
    }
}

/// What to do in the drawing where nothing before the proof has told of a reason.
const fn remedy(code: Code) -> &'static str {
    match code {
        Code::InMouth => FREE,
        Code::OffDeck | Code::ThroughWall => SIDE,
        Code::EdgeOpen | Code::GapLeftOpen => CLOSE,
        _ => CHANGE,
    }
}

fn is_drawn(post: &Post) -> bool {
    post.origin != PostOrigin::Planned
}

fn at_post(post: &Post, panel: Option<&str>) -> Place {
    let (panel, handle) = (panel.map(str::to_owned), post.handle);
    Place { panel, handle, ..Place::post(&post.id).with_point(post.at) }
}

/// Whether a finding is about where posts and rails stand, from which other things follow.
fn is_placed(cause: &Finding) -> bool {
    matches!(
        cause.code,
        Code::RailOffFace
            | Code::RailsCollide
            | Code::SkewTooLarge
            | Code::SpanTooShort
            | Code::SpanTooLong
            | Code::PostsTooNear
            | Code::PostOffLine
            | Code::PostsKeptOut
            | Code::PanelFails
            | Code::GapLeftOpen
    )
}

/// Half of what a check has measured, in millimetres.
fn half(check: &Check) -> f64 {
    check.actual.unwrap_or_default().millimetres() / 2.0
}

/// Whether a check measures a stretch that nothing covers.
fn is_stretch(check: &Check) -> bool {
    let asks = check.source.as_ref().map(|source| source.asks);
    let is_sphere = matches!(asks, Some(Asks::Limit(LimitKind::Opening | LimitKind::StairOpening)));
    check.code == Code::GapLeftOpen && is_sphere
}

/// Whether a stage has told of the very limit that a check of the same place finds broken.
fn says_the_same(cause: &Finding, check: &Check) -> bool {
    let is_system = check.source.as_ref().is_some_and(|source| source.asks == Asks::System);
    let too_long = || check.source.as_ref().is_some_and(|source| source.section.ends_with("longest-panel"));
    cause.code == check.code && cause.place.panel == check.place.panel
        || cause.code == Code::SpanTooLong && is_system && too_long()
}

/// Rails that do not land on one post are one finding of that post.
fn alike(findings: Vec<Finding>) -> Vec<Finding> {
    let mut out: Vec<(Finding, Vec<String>)> = Vec::with_capacity(findings.len());
    let mut of_post: BTreeMap<String, usize> = BTreeMap::new();
    for finding in findings {
        let post = finding.place.post.clone().filter(|_| finding.code == Code::RailOffFace);
        let known = post.as_ref().and_then(|post| of_post.get(post));
        if let Some((_, panels)) = known.and_then(|i| out.get_mut(*i)) {
            panels.extend(finding.place.panel);
            continue;
        }
        of_post.extend(post.map(|post| (post, out.len())));
        out.push((finding, Vec::new()));
    }
    let told = |(finding, panels): (Finding, Vec<String>)| match panels.as_slice() {
        [] => finding,
        panels => {
            let message = format!("{}; so it is with the rail of {}", finding.message, panels.join(", "));
            Finding { message, ..finding }
        }
    };
    out.into_iter().map(told).collect()
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::base::Conclusion;
    use crate::base::plane::point;
    use crate::{Outcome, Unit, lay_out, lay_out_opening};

    /// The stair of a fixture with a drawn post of 4-1/2 in at the foot of its left side; without it one is set at 146.25, -102.25.
    fn with_foot(at: [f64; 2]) -> Outcome {
        let plan = include_str!("../fixtures/stair-lines/plan.dxf").replace("\r\n", "\n");
        let (x, y) = (at[0], at[1]);
        let corners = [[-2.25, -2.25], [2.25, -2.25], [2.25, 2.25], [-2.25, 2.25]];
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
        assert_eq!(with_foot([146.25, -102.25]).conclusion(), Conclusion::Complete);
    }

    /// Checks of the panel, of the post and of the open side of the flight are all told by the post.
    #[test]
    fn a_drawn_post_out_of_line_beside_a_stair_is_one_message() {
        let outcome = with_foot([146.15, -102.25]);
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
        let outcome = with_foot([146.25, -100.75]);
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
}
