//! Cables and framed panels in elevation, level or raked, and what is said of the infill.

use crate::base::{Length, Point, decimal, plane};
use crate::catalog::{CableSpec, FrameSpec, InfillSpec, Section};
use crate::panel::{CableRun, FrameRow, PanelInfill};

use super::board::{Board, MIDDLE_RIGHT};
use super::dimension::spread;
use super::rails::Rails;
use super::running::{self, Running};
use super::text::size_text;
use super::{Layer, Linetype};

/// Half the length of a clip as it is drawn, paper mm.
const CLIP_MM: f64 = 0.9;
/// Strokes that tell glass, paper mm: length of the longest, distance.
const GLASS_MM: (f64, f64) = (7.0, 1.6);
/// From the row of the holes' heights to its heading, paper mm.
const HEADING_MM: f64 = 2.2;

/// How an elevation places things.
pub(super) struct Place<'v> {
    pub rails: &'v Rails<'v>,
    /// x of a running mark.
    pub x: &'v dyn Fn(Length) -> f64,
    /// The point at an x and a plumb height above the deck or the nosing line.
    pub at: &'v dyn Fn(f64, f64) -> Point,
    /// Outer sides of the supports.
    pub outer: (f64, f64),
}

/// What stands between the rails, from the first left side to the last right one.
pub(super) struct Uprights {
    /// Those sides, as x.
    pub between: (f64, f64),
    /// Level clear spaces to the left and the right face.
    pub gaps: [Length; 2],
}

impl Place<'_> {
    fn clear(&self) -> f64 {
        self.rails.panel().span.millimetres()
    }

    fn piece(&self, (from, to): (f64, f64), low: f64, high: f64) -> Vec<Point> {
        [(from, low), (to, low), (to, high), (from, high)].map(|(x, above)| (self.at)(x, above)).to_vec()
    }

    /// Cables with their slats, or frames with their clips; balusters are drawn by the elevation itself.
    pub(super) fn draw(&self, board: &mut Board) {
        let system = &self.rails.layout.system;
        match (&self.rails.panel().infill, system.infill()) {
            (PanelInfill::Cables(run), Some(InfillSpec::Cables(spec))) => self.cables(board, run, spec),
            (PanelInfill::Frames(row), Some(InfillSpec::Frames(spec))) => self.frames(board, row, spec),
            _ => {}
        }
    }

    fn cables(&self, board: &mut Board, run: &CableRun, spec: &CableSpec) {
        let id = &self.rails.panel().id;
        let half = half_slat(spec);
        let sides: Vec<(f64, f64)> = run.slats.iter().map(|m| (self.x)(*m)).map(|x| (x - half, x + half)).collect();
        board.show("slat", id);
        for slat in &sides {
            board.path(Layer::Baluster, self.piece(*slat, self.rails.infill.0, self.rails.infill.1), true);
        }
        let starts: Vec<f64> = std::iter::once(0.0).chain(sides.iter().map(|s| s.1)).collect();
        let ends: Vec<f64> = sides.iter().map(|s| s.0).chain([self.clear()]).collect();
        let span = &self.rails.at.span;
        let through =
            [span.from.post().map(|_| (self.outer.0, 0.0)), span.to.post().map(|_| (self.clear(), self.outer.1))];
        for height in run.heights.iter().map(|h| h.millimetres()) {
            board.show("cable", id);
            for (from, to) in starts.iter().zip(&ends) {
                board.line(Layer::Baluster, (self.at)(*from, height), (self.at)(*to, height));
            }
            board.show("hole", id);
            let hidden = through.iter().flatten().copied().chain(sides.iter().copied());
            for (from, to) in hidden {
                let line = vec![(self.at)(from, height), (self.at)(to, height)];
                board.patterned(Layer::Hole, Linetype::Hidden, line, false);
            }
        }
    }

    fn frames(&self, board: &mut Board, row: &FrameRow, spec: &FrameSpec) {
        let id = &self.rails.panel().id;
        let (low, high) = self.rails.infill;
        let gap = (high - low - row.height.millimetres()) / 2.0;
        for edge in &row.edges {
            let (from, to) = ((self.x)(*edge), (self.x)(*edge + row.width));
            board.show("frame", id);
            board.path(Layer::Baluster, self.piece((from, to), low + gap, high - gap), true);
            if spec.mesh.is_none() {
                let middle = (self.at)(f64::midpoint(from, to), f64::midpoint(low, high));
                glass(board, middle);
            }
        }
        let half = board.mm(CLIP_MM);
        board.show("clip", id);
        for x in row.clips.iter().map(|clip| (self.x)(*clip)) {
            for (from, to) in [(low, low + gap), (high - gap, high)] {
                board.path(Layer::Bracket, self.piece((x - half, x + half), from, to), true);
            }
        }
    }

    /// Heights of the cables' holes as running marks beside the left face, `off` from it.
    pub(super) fn holes(&self, board: &mut Board, off: f64) {
        let Some(run) = self.rails.panel().infill.cables() else { return };
        let m = &self.rails.layout.measure;
        let marks = std::iter::once(Length::ZERO).chain(run.heights.iter().copied());
        let marks: Vec<(f64, String)> = marks.map(|mark| (mark.millimetres(), m.mark_text(mark))).collect();
        let top = marks.last().map_or(0.0, |(place, _)| *place);
        let wanted: Vec<f64> = marks.iter().map(|(place, _)| *place).collect();
        let highest = spread(&wanted, board.height() * running::GAP).last().map_or(top, |place| place.max(top));
        let origin = (self.at)(0.0, 0.0);
        let up = plane::point(0.0, 1.0);
        let row = Running { origin, along: up, base: off, up: true, marks, rule: Some((0.0, top)) };
        board.show("mark", &self.rails.panel().id);
        running::draw(board, &row);
        let lines: &[&str] = if self.rails.panel().rake.is_some() {
            &["Cable holes in", "the posts, from", "the nosing line"]
        } else {
            &["Cable holes in", "the posts, from", "the deck"]
        };
        let mut y = origin.y + highest + board.mm(HEADING_MM);
        for line in lines.iter().rev() {
            y += board.height() * 1.6;
            board.write(plane::point(origin.x - off + board.mm(1.0), y), MIDDLE_RIGHT, line);
        }
    }
}

fn half_slat(spec: &CableSpec) -> f64 {
    spec.slat.as_ref().map_or(0.0, |slat| slat.width.millimetres() / 2.0)
}

/// Three slanting strokes.
fn glass(board: &mut Board, middle: Point) {
    let (length, apart) = (board.mm(GLASS_MM.0), board.mm(GLASS_MM.1));
    for (step, share) in [(-1.0, 0.6), (0.0, 1.0), (1.0, 0.6)] {
        let half = plane::point(length * share, length * share) / 2.0;
        let at = middle + plane::point(apart, -apart) * step;
        board.line(Layer::Sheet, at - half, at + half);
    }
}

impl Rails<'_> {
    /// What the row of marks over a panel shows, and its heading without `, from the left rail end`.
    pub(super) fn row_marks(&self) -> (&[Length], &'static str) {
        match &self.panel().infill {
            PanelInfill::Balusters => (&self.panel().balusters.marks, "Baluster centres"),
            PanelInfill::Cables(run) if run.slats.is_empty() => (&[], "Rail"),
            PanelInfill::Cables(run) => (&run.slats, "Slat centres"),
            PanelInfill::Frames(row) => (&row.edges, "Left edges of the frames"),
        }
    }

    /// What stands between the rails; nothing where only cables run.
    pub(super) fn uprights(&self, x: &dyn Fn(Length) -> f64) -> Option<Uprights> {
        let panel = self.panel();
        let (marks, _) = self.row_marks();
        let (first, last) = marks.first().zip(marks.last())?;
        let centred = |width: Length, gaps: [Length; 2]| {
            let half = width.millimetres() / 2.0;
            Uprights { between: (x(*first) - half, x(*last) + half), gaps }
        };
        Some(match &panel.infill {
            PanelInfill::Balusters => {
                let b = &panel.balusters;
                centred(self.layout.system.baluster_width(), [b.end_gap_left, b.end_gap_right])
            }
            PanelInfill::Cables(_) => {
                let cable = self.layout.system.cable.as_ref();
                let width = cable.and_then(|c| c.slat.as_ref()).map_or(Length::ZERO, |s| s.width);
                let left = panel.clearance_left + panel.level_mark(*first) - width.half();
                let right = panel.clearance_right + panel.level_mark(panel.length - *last) - width.half();
                centred(width, [left, right])
            }
            PanelInfill::Frames(row) => {
                Uprights { between: (x(*first), x(*last + row.width)), gaps: [row.end_gap_left, row.end_gap_right] }
            }
        })
    }

    /// A height for a text on the posts near `wanted`, clear of the cables in them.
    pub(super) fn between_cables(&self, wanted: f64) -> f64 {
        let Some(run) = self.panel().infill.cables() else { return wanted };
        let middles = run.heights.iter().zip(run.heights.iter().skip(1));
        let middles = middles.map(|(a, b)| f64::midpoint(a.millimetres(), b.millimetres()));
        middles.min_by(|a, b| (a - wanted).abs().total_cmp(&(b - wanted).abs())).unwrap_or(wanted)
    }

    /// Name and section of the infill.
    pub(super) fn infill_name(&self) -> String {
        let m = &self.layout.measure;
        match self.layout.system.infill() {
            Some(InfillSpec::Balusters(b)) => {
                let shape = match b.section {
                    Section::Round => "round",
                    Section::Square => "square",
                };
                format!("Baluster {} {shape}", size_text(m, b.width))
            }
            Some(InfillSpec::Cables(c)) => c.name.clone(),
            Some(InfillSpec::Frames(f)) => f.name.clone(),
            None => "No infill".to_owned(),
        }
    }

    /// The infill in short.
    pub(super) fn infill_note(&self) -> String {
        let m = &self.layout.measure;
        match &self.panel().infill {
            PanelInfill::Balusters => self.spacing_note(),
            PanelInfill::Cables(run) => {
                let (cables, slats) = (counted(run.heights.len(), "cable"), counted(run.slats.len(), "slat"));
                format!(
                    "{cables}, widest gap {}, {slats}, free for {}",
                    gap(m, run.widest_gap),
                    m.mark_text(run.longest_run)
                )
            }
            PanelInfill::Frames(row) => {
                let (width, widest) = (m.mark_text(row.width), gap(m, row.widest_gap));
                format!("{} {width} wide, widest gap {widest}", counted(row.edges.len(), "frame"))
            }
        }
    }

    /// What the drawing cannot say of cables and frames by itself.
    pub(super) fn infill_lines(&self) -> Vec<String> {
        match (&self.panel().infill, self.layout.system.infill()) {
            (PanelInfill::Cables(run), Some(InfillSpec::Cables(spec))) => self.cable_lines(run, spec),
            (PanelInfill::Frames(row), Some(InfillSpec::Frames(spec))) => self.frame_lines(row, spec),
            _ => Vec::new(),
        }
    }

    fn cable_lines(&self, run: &CableRun, spec: &CableSpec) -> Vec<String> {
        let m = &self.layout.measure;
        let hole = size_text(m, spec.hole);
        let (above, square) = if self.panel().rake.is_some() {
            ("plumb above the nosing line at its face, drilled along the slope", ", square to the cables")
        } else {
            ("above the deck", "")
        };
        let mut lines = vec![
            format!(
                "Cables: {} of {}, {} long each: through the posts and into the fittings; {}.",
                run.heights.len(),
                spec.name,
                m.mark_text(run.length),
                counted(run.fittings, "fitting")
            ),
            format!(
                "Cable holes: {hole} through each post on the rail's centre line, at the heights left of the panel, {above}."
            ),
            format!(
                "Widest gap {}{square}; {} when it is pushed open by {}.",
                gap(m, run.widest_gap),
                gap(m, run.widest_gap + spec.give),
                gap(m, spec.give)
            ),
            format!(
                "For information: at {} lbf a cable sags {} of its own weight where it is free for {}.",
                decimal(spec.tension_lbf, 1),
                sag_text(m, run.sag),
                m.mark_text(run.longest_run)
            ),
        ];
        if !run.slats.is_empty() {
            let length = m.mark_text(self.panel().balusters.length);
            let slat = spec.slat.as_ref().map_or("", |s| s.name.as_str());
            lines.push(format!(
                "Slats: {}, {length} long, plumb, bored {hole} at the cables' heights less {}, which lies beneath them.",
                slat,
                m.with_unit(Length::from_millimetres(self.infill.0).unwrap_or_default())
            ));
        }
        lines
    }

    fn frame_lines(&self, row: &FrameRow, spec: &FrameSpec) -> Vec<String> {
        let m = &self.layout.measure;
        let shape = if self.panel().rake.is_some() {
            ", parallelograms: sides plumb, width along the slope, height plumb"
        } else {
            ""
        };
        let clips = counted(row.clips.len() * 2, "clip");
        let mut lines = vec![format!(
            "Frames: {} of {}, {} wide, {} high{shape}; {clips}.",
            row.edges.len(),
            spec.name,
            m.mark_text(row.width),
            m.mark_text(row.height)
        )];
        if let Some(mesh) = spec.mesh {
            lines.push(format!("The largest sphere that passes the panels themselves: {}.", gap(m, mesh)));
        }
        lines
    }
}

/// `1 slat`, `9 cables`, `no slats`.
fn counted(count: usize, what: &str) -> String {
    match count {
        0 => format!("no {what}s"),
        1 => format!("1 {what}"),
        _ => format!("{count} {what}s"),
    }
}

/// Gaps need not lie on the mark grid: rounded, one under a limit could read as the limit.
fn gap(m: &crate::base::Measure, length: Length) -> String {
    m.with_unit(length)
}

/// Far below a mark: in thousandths of an inch or hundredths of a millimetre.
fn sag_text(m: &crate::base::Measure, sag: Length) -> String {
    if m.unit.is_imperial() {
        format!("{} in", decimal(sag.inches(), 3))
    } else {
        format!("{} mm", decimal(sag.millimetres(), 2))
    }
}
