//! Deck plans in, guard-rail layouts out.
//!
//! Six items are all that most callers need: [`settings`] from the texts of files, [`lay_out`] for a plan and
//! [`lay_out_opening`] for one opening without a plan; both give an [`Outcome`], whose [`layout`](Outcome::layout) holds
//! posts, panels, cut plan and order, whose [`findings`](Outcome::findings) say what is wrong or doubtful, and which makes
//! the drawing with the rails in it, the SVG and the JSON. Lengths are [`Length`]s, exact; a plan that cannot be used at
//! all is a [`Refusal`].
//!
//! ```
//! # fn main() -> Result<(), Box<dyn std::error::Error>> {
//! let bytes = std::fs::read("fixtures/l-shape/plan.dxf")?;
//! let settings = plumbrail::settings("rules = \"irc-2021\"\nbays = \"equal\"", "", "")?;
//! let outcome = plumbrail::lay_out(&bytes, "plan.dxf", &settings)?;
//!
//! for panel in &outcome.layout.panels {
//!     let marks: Vec<String> = panel.panel.balusters.marks.iter().map(|m| m.to_string()).collect();
//!     println!("{}: clear {}, balusters at {}", panel.panel.id, panel.panel.span, marks.join(", "));
//! }
//! for finding in &outcome.findings {
//!     println!("{}: {}", finding.code, finding.message);
//! }
//! assert!(outcome.is_good());
//!
//! let (drawing, _) = outcome.rail_dxf(&bytes, &settings)?;
//! assert!(drawing.len() > bytes.len());
//! assert!(outcome.plan_svg(&settings).starts_with("<svg"));
//! assert!(outcome.json().starts_with(b"{"));
//! # Ok(())
//! # }
//! ```
//!
//! The way of the data is the order of the modules: `base` words everyone uses, `cad` DXF bytes to entities, `catalog`
//! rail systems, rule sets and job settings, `deck` entities to a strict plan, `guard` posts and spans, `panel` panels,
//! `parts` cut list and order, `proof` an independent re-check, `sheet` finished drawings, `write` bytes. Nothing here
//! touches files, the clock, the environment or the terminal: the same input gives the same bytes.

#![forbid(unsafe_code)]

pub mod base;
pub mod cad;
pub mod catalog;
mod causes;
pub mod deck;
mod door;
mod earlier;
pub mod guard;
pub mod panel;
pub mod parts;
pub mod proof;
pub mod sheet;
pub mod write;

pub use base::{Finding, Length, Refusal, Severity, Unit};
pub use catalog::{CatalogError, Settings};
pub use door::settings;

use base::plane::point;
use base::{Code, Frame, Measure, Place, in_one_unit};
use catalog::{CountKind, LimitKind, Sides};
use deck::Before;
use panel::{Opening, PanelSpec};
use parts::{Layout, PlanFacts};
use proof::Proof;

/// From so many bytes on a plan is hashed while it is read: a thread costs less than that.
const LARGE: usize = 1 << 20;

/// A plan laid out and proved.
#[derive(Debug, Clone)]
pub struct Outcome {
    /// The plan as it was understood.
    pub plan: deck::Plan,
    /// The layout.
    pub layout: Layout,
    /// The re-check of every limit.
    pub proof: Proof,
    /// Everything found on the way, the proof's findings included.
    pub findings: Vec<Finding>,
}

impl Outcome {
    /// With what was found before the plan was read, such as a conversion, in front.
    #[must_use]
    pub fn with(mut self, before: &[Finding]) -> Self {
        self.findings.splice(0..0, before.iter().cloned());
        self
    }
}

/// The main job: a DXF deck plan in, a proved rail layout out.
///
/// # Errors
/// When the drawing is not usable: no DXF, no unit, no deck edge. All smaller troubles are findings.
///
/// # Examples
/// ```
/// # fn main() -> Result<(), Box<dyn std::error::Error>> {
/// let bytes = std::fs::read("fixtures/wall-to-wall/plan.dxf")?;
/// let outcome = plumbrail::lay_out(&bytes, "plan.dxf", &plumbrail::settings("", "", "")?)?;
/// assert_eq!((outcome.layout.posts.len(), outcome.layout.panels.len()), (0, 1));
///
/// let refusal = plumbrail::lay_out(b"not a drawing", "plan.dxf", &plumbrail::settings("", "", "")?).unwrap_err();
/// assert_eq!(refusal.finding.code.text(), "not-readable");
/// # Ok(())
/// # }
/// ```
pub fn lay_out(bytes: &[u8], file: &str, settings: &Settings) -> Result<Outcome, Refusal> {
    lay_out_file(&PlanFile::new(bytes, file), settings)
}

/// A plan with what lies beside it.
pub struct PlanFile<'a> {
    /// Its bytes.
    pub bytes: &'a [u8],
    /// Its name without folders.
    pub name: &'a str,
    /// Gives its external references.
    pub externals: &'a cad::Externals<'a>,
    /// An earlier layout of it that the user names, as its `layout.json` says: it counts when the marks of that one are lost
    /// in the drawing.
    pub before: Option<&'a parts::EarlierFile>,
    /// Gives the earlier layout that lies beside it, which counts when the drawing itself tells nothing.
    pub beside: &'a dyn Fn() -> Option<parts::EarlierFile>,
    /// Whether the rails of an earlier layout whose marks are lost are taken out of the drawing. Without it that is a finding
    /// with a hint, since some of them may be the user's.
    pub replace_rails: bool,
    /// How many entities, and how many edges and panels, it may have: for plans of somebody else's. Work is counted, never
    /// timed, so the same plan is refused on every machine.
    pub most: usize,
}

impl<'a> PlanFile<'a> {
    /// A plan alone, of any size.
    pub fn new(bytes: &'a [u8], name: &'a str) -> Self {
        Self {
            bytes,
            name,
            externals: &cad::no_externals,
            before: None,
            beside: &|| None,
            replace_rails: false,
            most: usize::MAX,
        }
    }
}

impl std::fmt::Debug for PlanFile<'_> {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        f.debug_struct("PlanFile").field("name", &self.name).field("most", &self.most).finish_non_exhaustive()
    }
}

/// The main job for a plan with all that lies beside it.
///
/// # Errors
/// As [`lay_out`]; also, with [`Code::OverBudget`], when the plan has more than it may have.
pub fn lay_out_file(file: &PlanFile<'_>, settings: &Settings) -> Result<Outcome, Refusal> {
    let read = || deck::read(file.bytes, file.externals, settings.units, settings);
    let (sha256, drawing) = if file.bytes.len() < LARGE {
        (write::json::sha256(file.bytes), read())
    } else {
        base::both(|| write::json::sha256(file.bytes), read)
    };
    let (drawing, roles) = drawing?;
    within(drawing.entities.len(), file.most, "entities on the layers that are read")?;
    earlier::check_unit(&drawing, settings)?;
    let mut findings = drawing.findings.clone();
    findings.extend(settings.rules.assumption());
    let refused = |refusal: Refusal| Refusal {
        others: base::capped([drawing.findings.clone(), refusal.others].concat()),
        ..refusal
    };
    let (plan, found) = plan_of(file, (&drawing, &roles), settings).map_err(refused)?;
    findings.extend(found);
    within(work(&plan, settings), file.most, "edges and panels")?;
    let measure = settings.measure(plan.frame.unit);
    let (mut guard, found) = guards(&plan, measure, settings);
    findings.extend(found);
    let (panels, found) = panels(&guard, measure, settings);
    findings.extend(found);
    let facts = PlanFacts { file: file.name.to_owned(), sha256, frame: plan.frame };
    let site = parts::Site::of(&plan, std::mem::take(&mut guard.kept), settings.touch);
    let (layout, found) = parts::assemble(guard, panels, (facts, Some(site)), measure, settings);
    findings.extend(found);
    Ok(proved(plan, layout, findings))
}

/// The plan of a drawing, as [`deck::read`] gives it, with what an earlier layout in it tells.
///
/// # Errors
/// As [`deck::plan`]; also when it is not clear whether the program that saved the drawing has changed its unit.
pub fn plan_of(
    file: &PlanFile<'_>,
    (drawing, roles): (&cad::Drawing, &deck::Roles),
    settings: &Settings,
) -> Result<(deck::Plan, Vec<Finding>), Refusal> {
    let left = deck::unmarked(drawing, roles, settings.join);
    let lost = earlier::lost(&left, (drawing, roles), file, settings)?;
    let before = lost.as_ref().map_or(Before::Marks(&left), Before::Lost);
    deck::plan(drawing, roles, before, settings)
}

/// The layout with its proof, and all findings as they are told: one a cause, each sentence in the job's unit.
fn proved(plan: deck::Plan, layout: Layout, stages: Vec<Finding>) -> Outcome {
    let proof = proof::prove(&layout);
    let mut findings = base::capped(causes::grouped(stages, &layout, &proof));
    if layout.posts.is_empty() && layout.panels.is_empty() && layout.open.is_empty() {
        nothing(&mut findings);
    }
    for finding in &mut findings {
        finding.message = in_one_unit(&finding.message, &layout.measure);
        finding.hint = finding.hint.take().map(|hint| in_one_unit(&hint, &layout.measure));
    }
    Outcome { plan, layout, proof, findings }
}

/// Whatever the reason is: a plan of which nothing was laid out is not done.
fn nothing(findings: &mut Vec<Finding>) {
    // What broke no limit is a reason for it.
    let is_reason = |f: &Finding| f.code == Code::NothingToGuard || f.severity == Severity::Error && f.rule.is_none();
    for finding in findings.iter_mut().filter(|f| is_reason(f)) {
        finding.severity = Severity::Incomplete;
    }
    if base::is_complete(findings) {
        let message = "no post and no panel is laid out: there is nothing in the layout";
        findings.push(Finding::incomplete(Code::NothingToGuard, Place::none(), message));
    }
}

fn within(has: usize, most: usize, what: &str) -> Result<(), Refusal> {
    if has <= most {
        return Ok(());
    }
    let message = format!("the plan has {has} {what}; at most {most} are worked on");
    let finding = Finding::error(Code::OverBudget, Place::none(), message);
    Err(Refusal::new(finding.hint("divide the plan, name fewer layers, or allow more")))
}

/// Edges, and the panels that they need at least.
fn work(plan: &deck::Plan, settings: &Settings) -> usize {
    let edges = || plan.chains.iter().flat_map(|chain| &chain.edges);
    let length: f64 = edges().map(|edge| edge.piece().length()).sum();
    edges().count() + (length / settings.longest_panel.millimetres()).ceil() as usize
}

/// Posts and spans; with bays by cost those that make the whole job the cheapest.
fn guards(plan: &deck::Plan, measure: Measure, settings: &Settings) -> (guard::Guard, Vec<Finding>) {
    let (guard, found) = guard::lay_out(plan, settings);
    if guard.choices.ways.is_empty() {
        return (guard, found);
    }
    let mut chosen: Vec<Length> =
        guard.choices.ways.iter().filter_map(|ways| ways.first()).flatten().copied().collect();
    let level = guard.spans.iter().filter(|s| s.rake.is_none()).map(|s| s.clear);
    let fixed: Vec<Length> = level
        .filter(|clear| match chosen.iter().position(|c| c == clear) {
            Some(i) => {
                chosen.swap_remove(i);
                false
            }
            None => true,
        })
        .collect();
    let joint = parts::choose(&guard.choices.ways, &fixed, settings, measure.mark);
    let (guard, mut found) = guard::lay_out_as(plan, settings, joint.picks.clone());
    found.push(Finding::note(Code::BaysChosen, Place::none(), joint.told(measure)));
    (guard, found)
}

/// Builds the panel of each span.
fn panels(
    guard: &guard::Guard,
    measure: Measure,
    settings: &Settings,
) -> (Vec<(guard::Span, panel::Panel)>, Vec<Finding>) {
    let mut panels = Vec::with_capacity(guard.spans.len());
    let mut findings = Vec::new();
    for span in &guard.spans {
        let opening = Opening {
            id: span.id.clone(),
            clear: settings.measured.get(&span.id).map_or(span.clear, |m| m.narrow),
            skew_left: span.skew_left,
            skew_right: span.skew_right,
            rake: span.rake,
        };
        let (panel, found) = panel::build(&opening, &spec(measure, settings));
        let middle = (span.left + span.right) / 2.0;
        if opening.clear != span.clear {
            let message = format!(
                "{} is {} on site and {} on the plan; the panel follows the site",
                span.id,
                opening.clear.told(),
                span.clear.told()
            );
            findings.push(Finding::note(Code::SpanMeasured, Place::panel(&span.id).with_point(middle), message));
        }
        let found = if panel.is_some() { found } else { not_built(found) };
        findings.extend(found.into_iter().map(|f| Finding { place: f.place.clone().with_point(middle), ..f }));
        panels.extend(panel.map(|p| (span.clone(), p)));
    }
    for id in settings.measured.keys().filter(|id| guard.spans.iter().all(|s| s.id != **id)) {
        let message = format!("span {id} was measured, but the layout has none of that id");
        let finding = Finding::error(Code::MeasuredUnknown, Place::panel(id), message);
        findings.push(finding.hint("use the ids of the measure.csv that was written for this plan"));
    }
    (panels, findings)
}

/// What was found where no panel can be built: the stretch stays open.
fn not_built(mut found: Vec<Finding>) -> Vec<Finding> {
    for finding in found.iter_mut().filter(|f| f.severity >= Severity::Incomplete) {
        finding.severity = Severity::Incomplete;
        finding.message.push_str("; no panel is laid out there");
    }
    found
}

fn spec(measure: Measure, settings: &Settings) -> PanelSpec<'_> {
    let limit = |what| settings.rules.limit(what).map(|limit| limit.value);
    PanelSpec {
        system: &settings.system,
        style: settings.balusters,
        mark: measure.mark,
        limit: settings.opening(),
        stair_limit: limit(LimitKind::StairOpening).unwrap_or_else(|| settings.opening()),
        triangle: limit(LimitKind::StairTriangle),
        tolerance: settings.tolerance,
        longest: settings.longest_panel,
    }
}

/// One opening without a plan, between two posts, laid out and proved like any other; on a stair it is measured level.
///
/// # Examples
/// ```
/// use plumbrail::{Length, Unit};
///
/// let settings = plumbrail::settings("", "", "")?;
/// let opening = Length::parse("6ft", None)?;
/// let outcome = plumbrail::lay_out_opening(opening, None, Unit::Inch, &settings);
/// let panel = &outcome.layout.panels.first().ok_or("no panel")?.panel;
/// assert_eq!(panel.span, Length::INCH * 72);
/// assert!(outcome.is_good() && panel.balusters.widest_gap < Length::INCH * 4);
/// # Ok::<(), Box<dyn std::error::Error>>(())
/// ```
pub fn lay_out_opening(opening: Length, rake: Option<guard::Rake>, unit: Unit, settings: &Settings) -> Outcome {
    let mut guard = guard::single(opening, &settings.system);
    for span in &mut guard.spans {
        span.rake = rake;
    }
    without_file(deck::Plan::empty(Frame { unit, ..Frame::default() }), (guard, Vec::new()), settings)
}

/// One flight of stairs without a plan, guarded on its left side as seen from the top looking down, laid out and proved like
/// any other. A flight that has no slope gives a finding and no panels.
pub fn lay_out_flight(risers: u32, steps: deck::Steps, unit: Unit, settings: &Settings) -> Outcome {
    let mut plan = deck::Plan::empty(Frame { unit, ..Frame::default() });
    let Some(pitch) = steps.pitch().filter(|_| risers >= 2) else {
        let message = "a flight needs two risers or more, and riser and tread of more than nothing";
        let found = vec![Finding::error(Code::StairOneRiser, Place::none(), message)];
        return without_file(plan, (guard::Guard::default(), found), settings);
    };
    let handrail = settings.rules.count(CountKind::HandrailFromRisers).is_some_and(|from| risers >= from.value);
    let both = settings.rules.count(CountKind::HandrailSides).is_some_and(|sides| sides.value > 1);
    // Left and right are as seen looking down it, along -y.
    let width = (Length::INCH * 48).millimetres();
    plan.flights.push(deck::Flight {
        id: "F1".to_owned(),
        risers,
        steps,
        pitch,
        top: [point(width, 0.0), point(0.0, 0.0)],
        down: point(0.0, -1.0),
        // One side is laid out; the other one is taken as closed.
        guards: Sides::Left,
        walls: Sides::Right,
        handrails: handrail.then_some(if both { Sides::Both } else { Sides::Left }),
        riser_variation: Length::ZERO,
        tread_variation: Length::ZERO,
        place: Place::none(),
    });
    let guard = guard::lay_out(&plan, settings);
    without_file(plan, guard, settings)
}

/// All that follows the posts and spans of a plan that is in no file.
fn without_file(plan: deck::Plan, (guard, mut findings): (guard::Guard, Vec<Finding>), settings: &Settings) -> Outcome {
    findings.splice(0..0, settings.rules.assumption());
    let measure = settings.measure(plan.frame.unit);
    let (panels, found) = panels(&guard, measure, settings);
    findings.extend(found);
    let facts = PlanFacts { file: String::new(), sha256: String::new(), frame: plan.frame };
    let (layout, found) = parts::assemble(guard, panels, (facts, None), measure, settings);
    findings.extend(found);
    proved(plan, layout, findings)
}
