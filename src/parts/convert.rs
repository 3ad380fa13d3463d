//! [`Layout`] -> [`Record`] and back.

use std::fmt;

use crate::base::{
    Angle, Finding, Frame, Length, Mark, Measure, Place, Point, Severity, Unit, is_complete, limits_hold, plane::point,
};
use crate::catalog::{Circumstances, Measured, Project, RailSystem, RuleSet};
use crate::guard::{OpenSpan, Post, PostKind, PostOrigin, Run, Span, Support};
use crate::panel::{Balusters, BracketAt, BracketKind, Cut, Panel};

use super::again;
use super::record::{
    BalustersRecord, BracketKindRecord, BracketRecord, CutRecord, EndRecord, ErasedRecord, FORMAT, FindingRecord,
    MeasuredRecord, OpenRecord, PanelKindRecord, PanelRecord, PlaceRecord, PlanRecord, PointRecord, PostKindRecord,
    PostOriginRecord, PostRecord, Record, RuleRecord, RunRecord, SeverityRecord, VERSION,
};
use super::types::{Layout, LayoutPanel, PlanFacts};

const WALL: &str = "wall";

/// The layout and its findings as numbers.
pub fn record(layout: &Layout, findings: &[Finding]) -> Record {
    let pen = Pen { measure: layout.measure, frame: layout.plan.frame };
    Record {
        format: FORMAT.to_owned(),
        version: VERSION,
        units: pen.measure.unit.sign().to_owned(),
        mark: pen.length(pen.measure.mark.length()),
        tolerance: pen.length(layout.tolerance),
        plan: PlanRecord {
            file: layout.plan.file.clone(),
            drawing_units: layout.plan.frame.unit.sign().to_owned(),
            sha256: layout.plan.sha256.clone(),
            origin: PointRecord { x: layout.plan.frame.origin.x, y: layout.plan.frame.origin.y },
        },
        system: layout.system.name.clone(),
        rules: layout.rules.name.clone(),
        rule_case: Some(layout.rules.case).filter(|case| *case != Circumstances::default()),
        complete: is_complete(findings),
        limits_hold: limits_hold(findings),
        // The count of what was not checked is the proof's; its writer adds the sentence.
        headline: String::new(),
        project: Some(layout.project.clone()).filter(|p| *p != Project::default()),
        sheet: layout.sheet,
        inset: pen.length(layout.inset),
        site: layout.site.as_ref().map(|s| pen.site(s, &layout.flights)),
        runs: layout
            .runs
            .iter()
            .map(|r| RunRecord {
                number: r.number,
                closed: r.closed,
                line: r.line.iter().map(|p| pen.point(*p)).collect(),
                flight: r.flight.and_then(|i| layout.flights.get(i)).map(|f| f.id.clone()),
            })
            .collect(),
        posts: layout.posts.iter().map(|p| pen.post(p)).collect(),
        panels: layout.panels.iter().map(|p| pen.panel(p, layout)).collect(),
        open: layout
            .open
            .iter()
            .map(|o| OpenRecord { id: o.id.clone(), left: pen.point(o.left), right: pen.point(o.right) })
            .collect(),
        erased: layout.erased.iter().map(|(id, at)| ErasedRecord { id: id.clone(), at: pen.point(*at) }).collect(),
        flights: layout.flights.iter().map(|f| pen.flight(f)).collect(),
        handrails: layout.handrails.iter().map(|h| pen.handrail(h, &layout.flights)).collect(),
        shop: pen.shop(&layout.shop),
        on_hand: layout.on_hand.iter().map(|o| pen.on_hand(o)).collect(),
        finish: layout.finish.clone(),
        cut_plan: layout.cut_plan.sticks.iter().map(|s| pen.stick(s)).collect(),
        cutting: pen.cutting(&layout.cut_plan),
        order: layout.order.iter().map(|line| pen.order(line)).collect(),
        order_lower_bound: layout.order_lower_bound(),
        order_total: layout.order_total(),
        findings: finding_records(layout, findings),
        checks: Vec::new(),
    }
}

/// The findings alone.
pub fn finding_records(layout: &Layout, findings: &[Finding]) -> Vec<FindingRecord> {
    let pen = Pen { measure: layout.measure, frame: layout.plan.frame };
    findings.iter().map(|f| pen.finding(f)).collect()
}

/// A place, in drawing units.
pub fn place_record(place: &Place, frame: &Frame) -> PlaceRecord {
    let at = place.at.map(|p| frame.to_drawing(p));
    PlaceRecord {
        panel: place.panel.clone(),
        post: place.post.clone(),
        x: at.map(|p| rounded(p.x)),
        y: at.map(|p| rounded(p.y)),
        handle: place.handle.map(|h| format!("{h:X}")),
        line: place.line,
        layer: place.layer.clone(),
    }
}

pub(super) struct Pen {
    measure: Measure,
    frame: Frame,
}

/// Nine decimals: below a nanometre in all units that drawings have.
pub(super) fn rounded(value: f64) -> f64 {
    let r = (value * 1e9).round() / 1e9;
    if r == 0.0 { 0.0 } else { r }
}

impl Pen {
    pub(super) fn length(&self, length: Length) -> f64 {
        self.measure.number(length)
    }

    pub(super) fn lengths(&self, lengths: &[Length]) -> Vec<f64> {
        lengths.iter().map(|l| self.length(*l)).collect()
    }

    pub(super) fn point(&self, local: Point) -> PointRecord {
        let p = self.frame.to_drawing(local);
        PointRecord { x: rounded(p.x), y: rounded(p.y) }
    }

    pub(super) fn place(&self, place: &Place) -> PlaceRecord {
        place_record(place, &self.frame)
    }

    fn post(&self, post: &Post) -> PostRecord {
        let at = self.point(post.at);
        PostRecord {
            id: post.id.clone(),
            kind: match post.kind {
                PostKind::End => PostKindRecord::End,
                PostKind::Corner => PostKindRecord::Corner,
                PostKind::Line => PostKindRecord::Line,
                PostKind::Stair => PostKindRecord::Stair,
            },
            origin: match post.origin {
                PostOrigin::Drawn => PostOriginRecord::Drawn,
                PostOrigin::Kept => PostOriginRecord::Kept,
                PostOrigin::Planned => PostOriginRecord::Planned,
            },
            x: at.x,
            y: at.y,
            side: self.length(post.side),
            rotation: rounded(post.rotation.degrees()),
            height: self.length(post.height),
            handle: post.handle.map(|h| format!("{h:X}")),
        }
    }

    fn panel(&self, p: &LayoutPanel, layout: &Layout) -> PanelRecord {
        let (panel, span) = (&p.panel, &p.span);
        let support = |s: Support| {
            s.post().and_then(|i| layout.posts.get(i)).map_or_else(|| WALL.to_owned(), |post| post.id.clone())
        };
        PanelRecord {
            id: panel.id.clone(),
            run: layout.runs.get(span.run).map_or(0, |r| r.number),
            kind: if panel.rake.is_some() { PanelKindRecord::Raked } else { PanelKindRecord::Level },
            from: support(span.from),
            to: support(span.to),
            left: self.point(span.left),
            right: self.point(span.right),
            span: self.length(panel.span),
            measured: p.measured.map(|m| MeasuredRecord {
                planned: self.length(span.clear),
                narrow: self.length(m.narrow),
                wide: self.length(m.wide),
            }),
            pitch: panel.rake.map_or(0.0, |r| rounded(r.pitch.angle().degrees())),
            rake: panel.rake.as_ref().map(|r| self.rake(r)),
            skew_left: rounded(span.skew_left.degrees()),
            skew_right: rounded(span.skew_right.degrees()),
            length: self.length(panel.length),
            clearance_left: self.length(panel.clearance_left),
            clearance_right: self.length(panel.clearance_right),
            height: self.length(panel.height),
            bottom_gap: self.length(panel.bottom_gap),
            cuts: panel.cuts.iter().map(|c| self.cut(c)).collect(),
            balusters: self.balusters(panel),
            cables: panel.infill.cables().map(|run| self.cables(run)),
            frames: panel.infill.frames().map(|row| self.frames(row)),
            blocks: self.lengths(&panel.blocks),
            block_heights: panel.rake.map_or_else(Vec::new, |_| self.lengths(&panel.block_heights)),
            cap_screws: self.lengths(&panel.cap_screws),
            brackets: panel.brackets.iter().map(|b| self.bracket(b)).collect(),
            kit: p.kit.clone(),
            price: p.price,
        }
    }

    fn cut(&self, c: &Cut) -> CutRecord {
        CutRecord {
            member: c.member,
            length: self.length(c.length),
            long_point: self.length(c.long_point),
            short_point: self.length(c.short_point),
            tip_to_tip: self.length(c.tip_to_tip),
            left_tip: self.length(c.left_tip),
            left: rounded(c.left.degrees()),
            right: rounded(c.right.degrees()),
            plumb: rounded(c.plumb.degrees()),
        }
    }

    fn balusters(&self, panel: &Panel) -> BalustersRecord {
        let b = &panel.balusters;
        let level = |_| b.marks.iter().map(|m| self.length(panel.level_mark(*m))).collect();
        BalustersRecord {
            style: b.style,
            count: b.marks.len(),
            spacing: self.length(b.spacing),
            length: self.length(b.length),
            end_gap_left: self.length(b.end_gap_left),
            end_gap_right: self.length(b.end_gap_right),
            widest_gap: self.length(b.widest_gap),
            marks: self.lengths(&b.marks),
            level_marks: panel.rake.map_or_else(Vec::new, level),
        }
    }

    fn bracket(&self, b: &BracketAt) -> BracketRecord {
        BracketRecord {
            member: b.member,
            end: if b.left { EndRecord::Left } else { EndRecord::Right },
            kind: match b.kind {
                BracketKind::Level => BracketKindRecord::Level,
                BracketKind::Angled => BracketKindRecord::Angled,
                BracketKind::Raked => BracketKindRecord::Raked,
            },
            setback: self.length(b.setback),
            holes: self.lengths(&b.holes),
        }
    }

    fn finding(&self, f: &Finding) -> FindingRecord {
        FindingRecord {
            code: f.code.text().to_owned(),
            severity: f.severity.into(),
            repaired: f.repaired,
            place: self.place(&f.place),
            message: f.message.clone(),
            hint: f.hint.clone(),
            rule: f.rule.as_ref().map(|r| RuleRecord {
                set: r.set.clone(),
                section: r.section.clone(),
                limit: self.length(r.limit),
                actual: self.length(r.actual),
            }),
            count: Some(f.count).filter(|count| *count != 1),
        }
    }
}

impl From<Severity> for SeverityRecord {
    fn from(severity: Severity) -> Self {
        match severity {
            Severity::Error => Self::Error,
            Severity::Incomplete => Self::Incomplete,
            Severity::Warning => Self::Warning,
            Severity::Note => Self::Note,
        }
    }
}

/// Why a record is no layout.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct RecordError(String);

impl RecordError {
    pub(super) const fn new(message: String) -> Self {
        Self(message)
    }
}

impl fmt::Display for RecordError {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str(&self.0)
    }
}

impl std::error::Error for RecordError {}

/// The layout that a record says, with the system and rule set that it names.
///
/// # Errors
/// When a number is no length, a unit is unknown, or an id names nothing.
pub fn layout(record: &Record, system: RailSystem, rules: RuleSet) -> Result<Layout, RecordError> {
    if record.format != FORMAT || record.version != VERSION {
        return Err(RecordError(format!(
            "this is `{}` version {}; {FORMAT} version {VERSION} is read",
            record.format, record.version
        )));
    }
    let Some(unit @ (Unit::Inch | Unit::Millimetre)) = Unit::from_sign(&record.units) else {
        return Err(RecordError(format!("`units` is `{}`; it must be in or mm", record.units)));
    };
    let drawing = Unit::from_sign(&record.plan.drawing_units)
        .ok_or_else(|| RecordError(format!("`plan.drawing_units` is `{}`", record.plan.drawing_units)))?;
    let mark = Length::from_millimetres(record.mark * unit.millimetres())
        .and_then(Mark::new)
        .ok_or_else(|| RecordError(format!("`mark` is {}, which is no shop mark", record.mark)))?;
    if record.site.is_none() && !record.plan.sha256.is_empty() {
        let why = "`site` is missing: what stands around the rails of a plan belongs to it; lay the plan out again";
        return Err(RecordError(why.to_owned()));
    }
    let frame = Frame { unit: drawing, origin: point(record.plan.origin.x, record.plan.origin.y) };
    let reader = Reader { measure: Measure { unit, mark }, frame, record };
    Ok(Layout {
        plan: PlanFacts { file: record.plan.file.clone(), sha256: record.plan.sha256.clone(), frame },
        measure: reader.measure,
        system,
        rules,
        project: record.project.clone().unwrap_or_default(),
        inset: reader.size("inset", record.inset)?,
        site: record.site.as_ref().map(|s| reader.site(s)).transpose()?,
        sheet: record.sheet,
        tolerance: reader.size("tolerance", record.tolerance)?,
        posts: record.posts.iter().map(|p| reader.post(p)).collect::<Result<_, _>>()?,
        runs: record.runs.iter().map(|r| reader.run(r)).collect::<Result<_, _>>()?,
        panels: record.panels.iter().map(|p| reader.panel(p)).collect::<Result<_, _>>()?,
        open: record
            .open
            .iter()
            .map(|o| OpenSpan { id: o.id.clone(), left: reader.point(o.left), right: reader.point(o.right) })
            .collect(),
        erased: record.erased.iter().map(|e| (e.id.clone(), reader.point(e.at))).collect(),
        flights: record.flights.iter().map(|f| reader.flight(f)).collect::<Result<_, _>>()?,
        handrails: record.handrails.iter().map(|h| reader.handrail(h)).collect::<Result<_, _>>()?,
        shop: reader.shop(&record.shop)?,
        on_hand: record.on_hand.iter().map(|o| reader.on_hand(o)).collect::<Result<_, _>>()?,
        finish: record.finish.clone(),
        cut_plan: reader.cut_plan()?,
        order: record.order.iter().map(|line| reader.order(line)).collect::<Result<_, _>>()?,
    })
}

pub(super) struct Reader<'a> {
    measure: Measure,
    frame: Frame,
    pub(super) record: &'a Record,
}

impl Reader<'_> {
    pub(super) fn length(&self, what: &str, number: f64) -> Result<Length, RecordError> {
        self.measure.length(number).ok_or_else(|| RecordError(format!("{what}: {number} is no length")))
    }

    /// A length that is nothing or more.
    pub(super) fn size(&self, what: &str, number: f64) -> Result<Length, RecordError> {
        let length = self.length(what, number)?;
        if length < Length::ZERO { Err(RecordError(format!("{what}: {number} is negative"))) } else { Ok(length) }
    }

    pub(super) fn lengths(&self, what: &str, numbers: &[f64]) -> Result<Vec<Length>, RecordError> {
        numbers.iter().map(|n| self.length(what, *n)).collect()
    }

    pub(super) fn point(&self, p: PointRecord) -> Point {
        self.frame.to_local(point(p.x, p.y))
    }

    pub(super) fn place(&self, place: &PlaceRecord) -> Place {
        again::place(place, Some(&self.frame))
    }

    fn run(&self, r: &RunRecord) -> Result<Run, RecordError> {
        let flight = r.flight.as_ref().map(|id| self.flight_of(&format!("run {}", r.number), id)).transpose()?;
        let line = r.line.iter().map(|p| self.point(*p)).collect();
        Ok(Run { number: r.number, closed: r.closed, line, flight })
    }

    fn post(&self, p: &PostRecord) -> Result<Post, RecordError> {
        Ok(Post {
            id: p.id.clone(),
            kind: match p.kind {
                PostKindRecord::End => PostKind::End,
                PostKindRecord::Corner => PostKind::Corner,
                PostKindRecord::Line => PostKind::Line,
                PostKindRecord::Stair => PostKind::Stair,
            },
            origin: match p.origin {
                PostOriginRecord::Drawn => PostOrigin::Drawn,
                PostOriginRecord::Kept => PostOrigin::Kept,
                PostOriginRecord::Planned => PostOrigin::Planned,
            },
            at: self.frame.to_local(point(p.x, p.y)),
            side: self.length(&p.id, p.side)?,
            rotation: Angle::from_degrees(p.rotation),
            height: self.length(&p.id, p.height)?,
            handle: p.handle.as_ref().and_then(|h| u64::from_str_radix(h, 16).ok()),
        })
    }

    fn support(&self, panel: &str, id: &str) -> Result<Support, RecordError> {
        if id == WALL {
            return Ok(Support::Wall);
        }
        let index = self.record.posts.iter().position(|p| p.id == id);
        index
            .map(Support::Post)
            .ok_or_else(|| RecordError(format!("panel {panel} names post {id}, which is not there")))
    }

    fn panel(&self, p: &PanelRecord) -> Result<LayoutPanel, RecordError> {
        let run = self.record.runs.iter().position(|r| r.number == p.run);
        let run = run.ok_or_else(|| RecordError(format!("panel {} names run {}, which is not there", p.id, p.run)))?;
        let length = |number| self.length(&p.id, number);
        let rake = p.rake.as_ref().map(|r| self.rake(&p.id, r)).transpose()?;
        let span = Span {
            id: p.id.clone(),
            run,
            from: self.support(&p.id, &p.from)?,
            to: self.support(&p.id, &p.to)?,
            left: self.point(p.left),
            right: self.point(p.right),
            clear: length(p.measured.as_ref().map_or(p.span, |m| m.planned))?,
            skew_left: Angle::from_degrees(p.skew_left),
            skew_right: Angle::from_degrees(p.skew_right),
            rake,
        };
        if p.balusters.count != p.balusters.marks.len() {
            return Err(RecordError(format!(
                "panel {}: {} balusters, but {} marks",
                p.id,
                p.balusters.count,
                p.balusters.marks.len()
            )));
        }
        let panel = Panel {
            id: p.id.clone(),
            span: length(p.span)?,
            length: length(p.length)?,
            clearance_left: length(p.clearance_left)?,
            clearance_right: length(p.clearance_right)?,
            cuts: p.cuts.iter().map(|c| self.cut(&p.id, c)).collect::<Result<_, _>>()?,
            infill: self.infill(p)?,
            balusters: Balusters {
                style: p.balusters.style,
                spacing: length(p.balusters.spacing)?,
                length: length(p.balusters.length)?,
                marks: self.lengths(&p.id, &p.balusters.marks)?,
                end_gap_left: length(p.balusters.end_gap_left)?,
                end_gap_right: length(p.balusters.end_gap_right)?,
                widest_gap: length(p.balusters.widest_gap)?,
            },
            blocks: self.lengths(&p.id, &p.blocks)?,
            // A level panel's blocks fill the gap beneath it.
            block_heights: match rake {
                Some(_) => self.lengths(&p.id, &p.block_heights)?,
                None => vec![length(p.bottom_gap)?; p.blocks.len()],
            },
            cap_screws: self.lengths(&p.id, &p.cap_screws)?,
            brackets: p.brackets.iter().map(|b| self.bracket(&p.id, b)).collect::<Result<_, _>>()?,
            height: length(p.height)?,
            bottom_gap: length(p.bottom_gap)?,
            rake,
        };
        let measured = match &p.measured {
            Some(m) => Some(Measured { narrow: length(m.narrow)?, wide: length(m.wide)? }),
            None => None,
        };
        Ok(LayoutPanel { span, panel, measured, kit: p.kit.clone(), price: p.price })
    }

    fn cut(&self, panel: &str, c: &CutRecord) -> Result<Cut, RecordError> {
        let length = |number| self.length(panel, number);
        Ok(Cut {
            member: c.member,
            length: length(c.length)?,
            long_point: length(c.long_point)?,
            short_point: length(c.short_point)?,
            tip_to_tip: length(c.tip_to_tip)?,
            left_tip: length(c.left_tip)?,
            left: Angle::from_degrees(c.left),
            right: Angle::from_degrees(c.right),
            plumb: Angle::from_degrees(c.plumb),
        })
    }

    fn bracket(&self, panel: &str, b: &BracketRecord) -> Result<BracketAt, RecordError> {
        Ok(BracketAt {
            member: b.member,
            left: b.end == EndRecord::Left,
            setback: self.length(panel, b.setback)?,
            kind: match b.kind {
                BracketKindRecord::Level => BracketKind::Level,
                BracketKindRecord::Angled => BracketKind::Angled,
                BracketKindRecord::Raked => BracketKind::Raked,
            },
            holes: self.lengths(panel, &b.holes)?,
        })
    }
}
