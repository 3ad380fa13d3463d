//! The members of a panel, as its elevation and its drilling views share them, and the texts about them.

use crate::base::{Length, Point, plane};
use crate::catalog::{BalusterStyle, Hole, MemberRole};
use crate::panel::{BracketAt, BracketKind, Panel};
use crate::parts::{Layout, LayoutPanel};

use super::Layer;
use super::board::{BASE_LEFT, Board, MIDDLE_LEFT};
use super::dimension::spread;
use super::text::{self, size_text};

/// A member's place in the height: above the deck, or plumb above the nosing line of a stair.
#[derive(Debug, Clone, Copy)]
pub(super) struct Course {
    /// Which member.
    pub role: MemberRole,
    /// Underside, mm.
    pub low: f64,
    /// Top, mm.
    pub high: f64,
    /// Half its width across the rail line, mm.
    pub half: f64,
}

/// A panel's members with its layout.
pub(super) struct Rails<'a> {
    /// The whole layout.
    pub layout: &'a Layout,
    /// The panel with its span.
    pub at: &'a LayoutPanel,
    /// Members from low to high.
    pub courses: Vec<Course>,
    /// Where the balusters stand, low and high.
    pub infill: (f64, f64),
    /// From the left face to the rail's left end on the centre line, level.
    pub start: f64,
}

/// A member's name for people.
pub const fn member_name(role: MemberRole) -> &'static str {
    match role {
        MemberRole::SupportRail => "Support rail",
        MemberRole::BottomRail => "Bottom rail",
        MemberRole::TopRail => "Top rail",
        MemberRole::Cap => "Cap",
    }
}

impl<'a> Rails<'a> {
    pub(super) fn new(layout: &'a Layout, at: &'a LayoutPanel) -> Self {
        let panel = &at.panel;
        // A member that lies on a slope takes more height than it is thick.
        let plumb = |height: Length| panel.rake.map_or(height, |rake| rake.pitch.along(height));
        let mut level = panel.bottom_gap;
        let mut infill = None;
        let mut courses = Vec::new();
        for member in &layout.system.members {
            if member.role >= MemberRole::TopRail && infill.is_none() {
                infill = Some((level.millimetres(), (level + panel.balusters.length).millimetres()));
                level += panel.balusters.length;
            }
            let (low, half) = (level.millimetres(), member.width.millimetres() / 2.0);
            level += plumb(member.height);
            courses.push(Course { role: member.role, low, high: level.millimetres(), half });
        }
        let above = (level.millimetres(), (level + panel.balusters.length).millimetres());
        Self { layout, at, courses, infill: infill.unwrap_or(above), start: panel.clearance_left.millimetres() }
    }

    pub(super) fn panel(&self) -> &'a Panel {
        &self.at.panel
    }

    /// Distance of a running mark along the rail from where the left face crosses it.
    pub(super) fn along(&self, mark: Length) -> f64 {
        self.start + mark.millimetres()
    }

    /// The right end of the rail, likewise.
    pub(super) fn finish(&self) -> f64 {
        self.along(self.panel().length)
    }

    /// Hole pattern of a bracket.
    pub(super) fn bracket_holes(&self, bracket: &BracketAt) -> &'a [Hole] {
        let system = &self.layout.system;
        let raked = system.raked.as_ref().filter(|_| bracket.kind == BracketKind::Raked);
        raked.map_or(&system.bracket.holes, |r| &r.bracket.holes)
    }

    /// Whether the cap is screwed on through this member: the highest one under the cap.
    pub(super) fn carries_cap(&self, role: MemberRole) -> bool {
        let below = self.courses.iter().rev().find(|c| c.role != MemberRole::Cap);
        !self.panel().cap_screws.is_empty() && below.is_some_and(|c| c.role == role)
    }

    /// Whether screws go through this member into the balusters.
    pub(super) fn carries_balusters(&self, role: MemberRole) -> bool {
        let holes = self.layout.system.member(role).and_then(|m| m.baluster_holes.as_ref());
        holes.is_some_and(|h| h.screw.is_some())
    }

    /// How the balusters are divided, in words.
    pub(super) fn spacing_note(&self) -> String {
        let b = &self.panel().balusters;
        let m = &self.layout.measure;
        let count = b.marks.len();
        let plural = if count == 1 { "" } else { "s" };
        let (along, level) = if self.panel().rake.is_some() { (" along the slope", "level ") } else { ("", "") };
        let widest = m.mark_text(b.widest_gap);
        let spacing = m.mark_text(b.spacing);
        match b.style {
            _ if count == 0 => "No balusters".to_owned(),
            BalusterStyle::Centred => {
                format!("{count} baluster{plural} at {spacing} on centre{along}, widest {level}gap {widest}")
            }
            BalusterStyle::Even => format!("{count} baluster{plural}, equal gaps, widest {level}gap {widest}"),
            BalusterStyle::Punched => format!(
                "{count} baluster{plural} in punched holes at {spacing} on centre{along}, widest {level}gap {widest}"
            ),
        }
    }

    /// Names and sections of the members, right of `x`; `rise` is where the heights of the courses count from.
    pub(super) fn names(&self, board: &mut Board, x: f64, rise: f64) {
        let m = &self.layout.measure;
        let mut labels: Vec<(f64, String)> = Vec::new();
        for course in &self.courses {
            let Some(member) = self.layout.system.member(course.role) else { continue };
            let name = format!(
                "{} {} x {}",
                member_name(course.role),
                size_text(m, member.width),
                size_text(m, member.height)
            );
            labels.push((rise + f64::midpoint(course.low, course.high), name));
        }
        let middle = rise + f64::midpoint(self.infill.0, self.infill.1);
        labels.push((middle, self.infill_name()));
        labels.sort_by(|a, b| a.0.total_cmp(&b.0));
        let wanted: Vec<f64> = labels.iter().map(|l| l.0).collect();
        let knee = |mm: f64, y: f64| plane::point(x + board.mm(mm), y);
        let placed: Vec<(Vec<Point>, Point)> = wanted
            .iter()
            .zip(spread(&wanted, board.height() * 1.6))
            .map(|(y, at)| (vec![knee(1.2, *y), knee(3.5, *y), knee(7.0, at), knee(8.5, at)], knee(9.3, at)))
            .collect();
        board.show("member", &self.panel().id);
        for ((leader, at), (_, name)) in placed.into_iter().zip(&labels) {
            board.path(Layer::Dims, leader, false);
            board.write(at, MIDDLE_LEFT, name);
        }
    }

    /// Lengths on the centre line, members of one length together.
    pub(super) fn member_lengths(&self) -> String {
        let mut groups: Vec<(Length, Vec<String>)> = Vec::new();
        for cut in &self.panel().cuts {
            let name = member_name(cut.member).to_lowercase();
            match groups.iter_mut().find(|g| g.0 == cut.length) {
                Some((_, names)) => names.push(name),
                None => groups.push((cut.length, vec![name])),
            }
        }
        let m = &self.layout.measure;
        let texts: Vec<String> =
            groups.iter().map(|(l, names)| format!("{} {}", names.join(", "), m.mark_text(*l))).collect();
        format!("Cut on the centre line: {}", texts.join("; "))
    }

    /// The kit, as a sentence after others.
    pub(super) fn kit(&self) -> String {
        self.at.kit.as_ref().map_or(String::new(), |k| format!(" From: {k}."))
    }

    /// Title and facts over everything drawn.
    pub(super) fn title(&self, board: &mut Board, facts: &[String]) {
        let Some((low, high)) = board.bounds() else { return };
        let line = board.height() * 1.7;
        let mut at = plane::point(low.x, high.y + board.mm(7.0) + line);
        board.show_nothing();
        for fact in facts.iter().rev() {
            board.write(at, BASE_LEFT, fact);
            at.y += line;
        }
        at.y += board.mm(1.0);
        let wide = facts.iter().map(|f| text::width(f, board.height(), false)).fold(0.0, f64::max);
        board.rule(at, wide.max(high.x - low.x), 0.5);
        at.y += board.mm(1.8);
        board.heading(at, 1.7, &format!("Panel {}", self.panel().id));
    }
}
