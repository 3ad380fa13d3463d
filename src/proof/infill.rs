//! Cables and framed panels: where a sphere could pass, what may be climbed, and whether all of it stands on its rail.
//!
//! A panel is looked at in elevation. Cables are lines along the rail at heights over its face, measured square to each
//! other; frames are level extents between the faces.

use super::record::{Question, Record};
use super::slope::Slope;
use super::{Required, sphere};
use crate::base::plane::{dot, unit};
use crate::base::{Code, Length, Place, Point};
use crate::catalog::{CableSpec, FrameSpec, InfillSpec, LimitKind, MemberRole, RuleSet};
use crate::guard::Support;
use crate::panel::{CableRun, FrameRow, PanelInfill};
use crate::parts::{Layout, LayoutPanel};

/// By how much a stated figure may be off what the marks give, on a slope and off it.
const FIGURE_MM: f64 = 1e-5;
/// Cosine of the angle up to which two panels at a post are in line: 5 degrees.
const IN_LINE: f64 = 0.996;

pub(super) fn check(layout: &Layout, at: &LayoutPanel, record: &mut Record) {
    let question = Question::system("infill", &layout.system, "baluster, cable or frame");
    let none = &at.panel.balusters;
    let gaps = [none.end_gap_left, none.end_gap_right, none.widest_gap, none.spacing];
    let has_none = none.marks.is_empty() && gaps.iter().all(|gap| *gap == Length::ZERO);
    let same = match (layout.system.infill(), &at.panel.infill) {
        (Some(InfillSpec::Balusters(_)), PanelInfill::Balusters) => true,
        (Some(InfillSpec::Cables(spec)), PanelInfill::Cables(run)) => {
            Cables { layout, at, spec, run, slope: Slope::of(at.span.rake) }.check(record);
            has_none
        }
        (Some(InfillSpec::Frames(spec)), PanelInfill::Frames(row)) => {
            Frames { layout, at, spec, row, slope: Slope::of(at.span.rake) }.check(record);
            has_none
        }
        _ => false,
    };
    record.fact(question, "that of the system and no other", same);
}

/// Posts into which the cables of two panels run: in line their ends share holes, at a corner the holes cross.
pub(super) fn check_posts(layout: &Layout, record: &mut Record) {
    record.at(Place::none());
    let mut ends: Vec<Vec<Point>> = vec![Vec::new(); layout.posts.len()];
    for at in layout.panels.iter().filter(|at| at.panel.infill.cables().is_some()) {
        for support in [at.span.from, at.span.to] {
            if let Support::Post(post) = support
                && let Some(directions) = ends.get_mut(post)
            {
                directions.push(unit(at.span.right - at.span.left));
            }
        }
    }
    let (mut in_line, mut corners) = (Vec::new(), Vec::new());
    for (directions, post) in ends.iter().zip(&layout.posts) {
        let pairs = directions.iter().zip(directions.iter().skip(1));
        match pairs.map(|(a, b)| dot(*a, *b).abs()).reduce(f64::min) {
            Some(turn) if turn < IN_LINE => corners.push(post.id.as_str()),
            Some(_) => in_line.push(post.id.as_str()),
            None => {}
        }
    }
    let question = |what| Question::system(what, &layout.system, "cable.beyond");
    if !corners.is_empty() {
        let why = format!(
            "at {} holes at like heights come from two sides and meet inside the post: take fittings that end in its \
             faces, offset one row with the maker's leave, or set two posts",
            corners.join(", ")
        );
        record.lacking(question("cable holes in corner posts"), why);
    }
    if !in_line.is_empty() {
        let why = format!(
            "at {} the cables of two panels end in the same holes: run one cable through both panels, or take fittings \
             that end in the post's faces",
            in_line.join(", ")
        );
        record.unknown(question("cable ends in posts between two panels"), why);
    }
}

/// Heights above the deck or the nosings between which nothing may serve as a foothold, where the rule set says so.
fn climb_free(rules: &RuleSet) -> Option<(Length, Length)> {
    Some((rules.limit(LimitKind::ClimbFreeFrom)?.value, rules.limit(LimitKind::ClimbFreeTo)?.value))
}

/// A cable between these heights is a foothold, whatever its gap.
pub(super) fn check_climb(layout: &Layout, at: &LayoutPanel, (from, to): (Length, Length), record: &mut Record) {
    let Some(run) = at.panel.infill.cables() else { return };
    let held = run.heights.iter().any(|height| (from..=to).contains(height));
    let [low, high] = [from, to].map(|l| record.text(l.millimetres()));
    let asked = format!("none between {low} and {high}: horizontal cables can be climbed");
    let question = Question::rule("footholds", &layout.rules, LimitKind::ClimbFreeFrom).code(Code::Climbable);
    record.fact(question, asked, !held);
}

/// What a space that is no length counts for: more than what is required.
fn beyond(required: &Required) -> Length {
    required.limit().unwrap_or(Length::ZERO) + Length::NOISE
}

/// The part of the height that is free of members, plumb, in millimetres.
fn zone(layout: &Layout, at: &LayoutPanel) -> (f64, f64) {
    let slope = Slope::of(at.span.rake);
    let beneath = layout.system.members.iter().filter(|m| m.role < MemberRole::TopRail);
    let low = at.panel.bottom_gap.millimetres() + beneath.map(|m| slope.plumb(m.height.millimetres())).sum::<f64>();
    (low, low + at.panel.balusters.length.millimetres())
}

/// Whether marks go up from left to right between two ends.
fn rises(marks: &[Length], from: Length, to: Length) -> bool {
    marks.iter().zip(marks.iter().skip(1)).all(|(a, b)| a < b) && marks.iter().all(|m| (from..=to).contains(m))
}

fn on_grid(layout: &Layout, mut marks: impl Iterator<Item = Length>) -> bool {
    let step = layout.measure.mark.length().nanometres();
    marks.all(|mark| mark.nanometres().rem_euclid(step) == 0)
}

/// Screws of slats or clips against those of blocks and cap, and against the brackets.
fn check_screws(layout: &Layout, at: &LayoutPanel, half_mm: f64, record: &mut Record) {
    let (panel, system, marks) = (&at.panel, &layout.system, at.panel.infill.screwed());
    let blocks = system.blocks.as_ref().map(|b| (&panel.blocks, b.screw_clearance, "blocks.screw-clearance"));
    let caps = system.cap_screws.as_ref().map(|c| (&panel.cap_screws, c.screw_clearance, "cap-screws.screw-clearance"));
    for (others, clearance, field) in blocks.into_iter().chain(caps) {
        let apart = others.iter().flat_map(|a| marks.iter().map(move |b| (*a - *b).abs())).min();
        let Some(apart) = apart else { continue };
        let question = Question::system("screws of the infill from others", system, field).code(Code::ScrewsMeet);
        record.exact(question, Required::AtLeast(clearance), apart);
    }
    let raked = system.raked.as_ref().filter(|_| at.span.rake.is_some());
    let reach = raked.map_or(system.bracket.reach, |raked| raked.bracket.reach);
    let ends = marks.first().zip(marks.last()).filter(|_| !panel.brackets.is_empty());
    if let Some((first, last)) = ends {
        let nearest = (*first).min(panel.length - *last).millimetres() - half_mm;
        let question = Question::system("infill from the rail's ends", system, "bracket.reach");
        record.plan(question.code(Code::BalusterInBracket), Required::AtLeast(reach), nearest);
    }
}

struct Cables<'a> {
    layout: &'a Layout,
    at: &'a LayoutPanel,
    spec: &'a CableSpec,
    run: &'a CableRun,
    slope: Slope,
}

impl Cables<'_> {
    fn check(&self, record: &mut Record) {
        let (layout, run) = (self.layout, self.run);
        self.heights(record);
        self.supports(record);
        let question = |what| Question::own(what).code(Code::MarkOffRail);
        let marks = run.heights.iter().chain(&run.slats).copied();
        record.fact(question("marks of the cables"), "whole marks of the job's grid", on_grid(layout, marks));
        if let Some(free) = climb_free(&layout.rules) {
            check_climb(layout, self.at, free, record);
        }
        let ends = run.heights.len() * 2;
        let all = run.fittings == ends * usize::from(self.spec.fittings);
        record.fact(Question::system("cable fittings", &layout.system, "cable.fittings"), "at both ends of each", all);
    }

    /// Distance of two plumb heights, square to the cables: as often as a unit across the slope is plumb.
    fn square(&self, plumb: f64) -> f64 {
        plumb / self.slope.plumb(1.0)
    }

    /// The sphere between neighbours from the bottom rail up to the top rail.
    fn heights(&self, record: &mut Record) {
        let (layout, spec) = (self.layout, self.spec);
        let (low, high) = zone(layout, self.at);
        let radius = self.spec.diameter.millimetres() / 2.0;
        // What each rail and cable occupies square to it, from low to high.
        let mut occupied: Vec<(f64, f64)> = vec![(0.0, 0.0)];
        let centre = |mark: &Length| self.square(mark.millimetres() - low);
        occupied.extend(self.run.heights.iter().map(centre).map(|c| (c - radius, c + radius)));
        occupied.push((self.square(high - low), self.square(high - low)));
        let between: Vec<f64> = occupied.iter().zip(occupied.iter().skip(1)).map(|(a, b)| b.0 - a.1).collect();
        let in_order = between.iter().all(|gap| *gap >= 0.0);
        let question = Question::own("cables").code(Code::MarkOffRail);
        record.fact(question, "between the rails, from low to high, side by side", in_order);

        let widest = between.iter().copied().fold(0.0, f64::max);
        if let Some((kind, required)) = sphere(layout, self.at.span.rake.is_some()) {
            let question = Question::rule("widest opening between cables", &layout.rules, kind);
            let limit = beyond(&required);
            // A nanometre up, so that a gap of just the limit on a slope is not taken for a smaller one.
            let actual = Length::from_millimetres(widest + FIGURE_MM.min(self.on_slope())).unwrap_or(limit);
            record.worst(question, required, actual, actual + spec.give + layout.tolerance);
        }
        let off = (widest - self.run.widest_gap.millimetres()).abs();
        record.fact(Question::own("stated gap of the cables"), "the gap that the marks leave", off <= FIGURE_MM);

        let centres: Vec<f64> = occupied.iter().map(|(a, b)| f64::midpoint(*a, *b)).collect();
        let apart = centres.iter().zip(centres.iter().skip(1)).map(|(a, b)| b - a).fold(0.0, f64::max);
        let question = Question::system("cables from each other and from the rails", &layout.system, "cable.spacing");
        record.plan(question, Required::AtMost(spec.spacing), apart);
    }

    /// What roundings can hide: nothing on a level panel.
    fn on_slope(&self) -> f64 {
        if self.at.span.rake.is_some() { FIGURE_MM } else { 0.0 }
    }

    /// How far a cable runs free between the faces of posts and slats, and how long it must be.
    fn supports(&self, record: &mut Record) {
        let (layout, panel, run) = (self.layout, &self.at.panel, self.run);
        let question = |what, field| Question::system(what, &layout.system, field);
        let slat = self.spec.slat.as_ref();
        let half = self.slope.over(slat.map_or(0.0, |s| s.width.millimetres()) / 2.0);
        let (start, finish) = {
            let ends = [panel.clearance_left, panel.clearance_right].map(|c| self.slope.over(c.millimetres()));
            (-ends[0], panel.length.millimetres() + ends[1])
        };
        let mut free = Vec::new();
        let mut reached = start;
        for slat in run.slats.iter().map(|mark| mark.millimetres()) {
            free.push(slat - half - reached);
            reached = slat + half;
        }
        free.push(finish - reached);
        let longest = free.iter().copied().fold(0.0, f64::max);
        record.plan(
            question("free length of a cable", "cable.longest-run"),
            Required::AtMost(self.spec.longest_run),
            longest,
        );
        let holds = rises(&run.slats, Length::ZERO, panel.length) && free.iter().all(|gap| *gap >= 0.0);
        let on_rail = Question::own("slats").code(Code::MarkOffRail);
        record.fact(
            on_rail,
            "on the rail, left to right, side by side",
            holds && (slat.is_some() || run.slats.is_empty()),
        );
        check_screws(layout, self.at, half, record);

        let needed = finish - start + 2.0 * self.spec.beyond.millimetres();
        let needed = Length::from_millimetres(needed).unwrap_or(run.length);
        let mark = layout.measure.mark.length();
        record.plan(question("cable length", "cable.beyond"), Required::AtLeast(needed), run.length.millimetres());
        let cut = Question::own("cable length beyond what is needed");
        record.plan(cut, Required::AtMost(mark), (run.length - needed).millimetres());

        let stated = (longest - run.longest_run.millimetres()).abs() <= FIGURE_MM;
        record.fact(Question::own("stated free length"), "the longest that the slats leave", stated);
        // The cable as a beam that carries tension only: moment of its weight in the middle over the tension.
        let kilonewton = 4.448_221_615;
        let weight = self.spec.weight_lb_per_ft * kilonewton / 304.8;
        let sag = weight * (longest / 2.0) * (longest / 4.0) / (self.spec.tension_lbf * kilonewton);
        let about = format!("for information: at {} lbf, of its own weight", self.spec.tension_lbf);
        record.told(Question::own("sag of a cable"), about, sag);
        let stated = (sag - run.sag.millimetres()).abs() <= FIGURE_MM;
        record.fact(Question::own("stated sag"), "that of its weight and tension", stated);
    }
}

struct Frames<'a> {
    layout: &'a Layout,
    at: &'a LayoutPanel,
    spec: &'a FrameSpec,
    row: &'a FrameRow,
    slope: Slope,
}

impl Frames<'_> {
    fn check(&self, record: &mut Record) {
        let (layout, row, panel) = (self.layout, self.row, &self.at.panel);
        let question = |what, field| Question::system(what, &layout.system, field);
        let is_raked = self.at.span.rake.is_some();
        record.fact(question("frames on a stair", "frame.raked"), "made for it", !is_raked || self.spec.raked);
        record.exact(question("width of a frame", "frame.widest"), Required::AtMost(self.spec.widest), row.width);
        record.exact(
            question("width of a frame", "frame.narrowest"),
            Required::AtLeast(self.spec.narrowest),
            row.width,
        );

        let gaps = self.gaps();
        let (least, widest) = gaps.iter().fold((f64::INFINITY, 0.0_f64), |(a, b), gap| (a.min(*gap), b.max(*gap)));
        record.plan(
            question("least gap beside a frame", "frame.least-gap"),
            Required::AtLeast(self.spec.least_gap),
            least,
        );
        let greatest = Required::AtMost(self.spec.greatest_gap);
        record.plan(question("greatest gap beside a frame", "frame.greatest-gap"), greatest, widest);
        self.corners(&gaps, record);
        let (above, beneath) = self.to_rails();
        let least_to_rail = above.min(beneath);
        let asked = Required::AtLeast(self.spec.rail_gap);
        record.plan(question("gap between frame and rails", "frame.rail-gap"), asked, least_to_rail);
        self.openings(&gaps, widest, above.max(beneath), record);
        let stated = [row.end_gap_left, row.end_gap_right, row.widest_gap].map(Length::millimetres);
        let found = [gaps.first().copied(), gaps.last().copied(), Some(widest)].map(|gap| gap.unwrap_or(f64::NAN));
        let agree = stated.iter().zip(found).all(|(a, b)| (a - b).abs() <= FIGURE_MM);
        record.fact(Question::own("stated gaps of the frames"), "the gaps that the marks leave", agree);
        let own = |what| Question::own(what).code(Code::MarkOffRail);
        let marks = row.edges.iter().chain(&row.clips).copied().chain([row.width, row.height]);
        record.fact(own("marks of the frames"), "whole marks of the job's grid", on_grid(layout, marks));
        let inside = rises(&row.edges, Length::ZERO, panel.length - row.width) && least >= 0.0 && !row.edges.is_empty();
        record.fact(own("frames"), "on the rail, left to right, side by side", inside);
        self.clips(record);
        check_screws(layout, self.at, 0.0, record);
    }

    /// Where a sphere could pass: beside the frames, above and beneath them, and through them.
    fn openings(&self, gaps: &[f64], widest: f64, to_rails: f64, record: &mut Record) {
        let layout = self.layout;
        if let Some((kind, required)) = sphere(layout, self.at.span.rake.is_some()) {
            let limit = beyond(&required);
            let rule = |what| Question::rule(what, &layout.rules, kind);
            let space = |mm: f64| Length::from_millimetres(mm).unwrap_or(limit);
            record.space(rule("widest opening beside a frame"), required.clone(), space(widest));
            if let Some(measured) = self.at.measured {
                let ends = [gaps.first(), gaps.last()].into_iter().flatten().copied().fold(0.0, f64::max);
                let question = rule("end gap where the measured opening is widest");
                record.space(question, required.clone(), space(ends) + measured.wide - measured.narrow);
            }
            record.space(rule("opening between frame and rails"), required.clone(), space(to_rails));
            if let Some(mesh) = self.spec.mesh {
                record.exact(rule("opening of the mesh"), required, mesh);
            }
        }
    }

    /// Where a rail meets a face at an angle, one corner of the frame stands nearer to it than its middle.
    fn corners(&self, gaps: &[f64], record: &mut Record) {
        let skews = [self.at.span.skew_left, self.at.span.skew_right];
        let half = self.spec.thickness.millimetres() / 2.0;
        let corners = [gaps.first(), gaps.last()].into_iter().flatten().zip(skews);
        let nearest = corners.map(|(gap, skew)| gap - half * skew.tan().abs()).fold(f64::INFINITY, f64::min);
        let corner = Question::own("corner of a frame from the face").code(Code::MarkOffRail);
        record.plan(corner, Required::AtLeast(Length::ZERO), nearest);
    }

    /// Level clear spaces from face to face.
    fn gaps(&self) -> Vec<f64> {
        let panel = &self.at.panel;
        let mut reached = -panel.clearance_left.millimetres();
        let mut gaps = Vec::new();
        for edge in &self.row.edges {
            gaps.push(self.slope.level(*edge) - reached);
            reached = self.slope.level(*edge + self.row.width);
        }
        gaps.push(self.slope.level(panel.length) + panel.clearance_right.millimetres() - reached);
        gaps
    }

    /// Square distances of a frame that stands midway from the rail above and the one beneath.
    fn to_rails(&self) -> (f64, f64) {
        let (low, high) = zone(self.layout, self.at);
        let rest = (high - low - self.row.height.millimetres()) / self.slope.plumb(1.0);
        (rest / 2.0, rest / 2.0)
    }

    /// Each frame has its clips, at distances from its edges that mirror each other.
    fn clips(&self, record: &mut Record) {
        let (row, each) = (self.row, usize::from(self.spec.clips));
        let mark = self.layout.measure.mark.length();
        let held = row.edges.iter().zip(row.clips.chunks(each.max(1))).all(|(edge, clips)| {
            let mirrored = clips.iter().zip(clips.iter().rev()).all(|(a, b)| {
                let (from_left, from_right) = (*a - *edge, *edge + row.width - *b);
                (from_left - from_right).abs() <= mark
            });
            clips.len() == each && mirrored && rises(clips, *edge, *edge + row.width)
        });
        let question = Question::system("clips", &self.layout.system, "frame.clips");
        let all = held && row.clips.len() == row.edges.len() * each;
        record.fact(question, format!("{each} on each rail for each frame, within it"), all);
    }
}
