//! Cables and frames in `layout.json`, both ways.

use schemars::JsonSchema;
use serde::{Deserialize, Serialize};

use super::convert::{Pen, Reader, RecordError};
use super::record::PanelRecord;
use crate::base::Length;
use crate::panel::{CableRun, FrameRow, PanelInfill};

/// The cables of a panel.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct CablesRecord {
    /// How many.
    pub count: usize,
    /// Holes in the posts: running marks from the deck, plumb; on a stair from the nosing line at the post's face.
    pub heights: Vec<f64>,
    /// Slats, running marks.
    pub slats: Vec<f64>,
    /// Length of each cable, with what goes through the posts and into the fittings.
    pub length: f64,
    /// Fittings of all cables.
    pub fittings: usize,
    /// Longest free length of a cable between two faces.
    pub longest_run: f64,
    /// Widest clear space between two cables, or a cable and a rail, square to them and not pushed.
    pub widest_gap: f64,
    /// Sag of a cable in its longest free length, for information.
    pub sag: f64,
}

/// The frames of a panel.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct FramesRecord {
    /// How many.
    pub count: usize,
    /// Width of each, along the rail.
    pub width: f64,
    /// Height of each, plumb.
    pub height: f64,
    /// Left edges, running marks.
    pub edges: Vec<f64>,
    /// Clips on bottom and top rail, running marks.
    pub clips: Vec<f64>,
    /// Clear space at the left end, level.
    pub end_gap_left: f64,
    /// Clear space at the right end, level.
    pub end_gap_right: f64,
    /// Widest clear space of all, level.
    pub widest_gap: f64,
}

impl Pen {
    pub(super) fn cables(&self, run: &CableRun) -> CablesRecord {
        CablesRecord {
            count: run.heights.len(),
            heights: self.lengths(&run.heights),
            slats: self.lengths(&run.slats),
            length: self.length(run.length),
            fittings: run.fittings,
            longest_run: self.length(run.longest_run),
            widest_gap: self.length(run.widest_gap),
            sag: self.length(run.sag),
        }
    }

    pub(super) fn frames(&self, row: &FrameRow) -> FramesRecord {
        FramesRecord {
            count: row.edges.len(),
            width: self.length(row.width),
            height: self.length(row.height),
            edges: self.lengths(&row.edges),
            clips: self.lengths(&row.clips),
            end_gap_left: self.length(row.end_gap_left),
            end_gap_right: self.length(row.end_gap_right),
            widest_gap: self.length(row.widest_gap),
        }
    }
}

impl Reader<'_> {
    pub(super) fn infill(&self, p: &PanelRecord) -> Result<PanelInfill, RecordError> {
        let wrong = |what: &str| RecordError::new(format!("panel {}: {what}", p.id));
        match (&p.cables, &p.frames) {
            (None, None) => Ok(PanelInfill::Balusters),
            _ if !p.balusters.marks.is_empty() => Err(wrong("balusters and another infill")),
            (Some(_), Some(_)) => Err(wrong("cables and frames")),
            (Some(c), None) if c.count != c.heights.len() => Err(wrong("the count of cables is not that of the marks")),
            (Some(c), None) => Ok(PanelInfill::Cables(self.cables(&p.id, c)?)),
            (None, Some(f)) if f.count != f.edges.len() => Err(wrong("the count of frames is not that of the marks")),
            (None, Some(f)) => Ok(PanelInfill::Frames(self.frames(&p.id, f)?)),
        }
    }

    fn cables(&self, id: &str, c: &CablesRecord) -> Result<CableRun, RecordError> {
        let length = |number: f64| -> Result<Length, RecordError> { self.length(id, number) };
        Ok(CableRun {
            heights: self.lengths(id, &c.heights)?,
            slats: self.lengths(id, &c.slats)?,
            length: length(c.length)?,
            fittings: c.fittings,
            longest_run: length(c.longest_run)?,
            widest_gap: length(c.widest_gap)?,
            sag: length(c.sag)?,
        })
    }

    fn frames(&self, id: &str, f: &FramesRecord) -> Result<FrameRow, RecordError> {
        let length = |number: f64| -> Result<Length, RecordError> { self.length(id, number) };
        Ok(FrameRow {
            width: length(f.width)?,
            height: length(f.height)?,
            edges: self.lengths(id, &f.edges)?,
            clips: self.lengths(id, &f.clips)?,
            end_gap_left: length(f.end_gap_left)?,
            end_gap_right: length(f.end_gap_right)?,
            widest_gap: length(f.widest_gap)?,
        })
    }
}
