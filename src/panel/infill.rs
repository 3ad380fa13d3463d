//! What fills a panel besides vertical balusters.

use crate::base::Length;

/// What fills a panel.
#[derive(Debug, Clone, PartialEq)]
pub enum PanelInfill {
    /// Vertical balusters: [`Panel::balusters`](super::Panel::balusters) has their marks.
    Balusters,
    /// Horizontal cables.
    Cables(CableRun),
    /// Framed panels.
    Frames(FrameRow),
}

/// The cables of a panel.
#[derive(Debug, Clone, PartialEq)]
pub struct CableRun {
    /// Centres of the holes in the posts, from low to high, as running marks: plumb above the deck, or above the nosing
    /// line where it meets the post's face.
    pub heights: Vec<Length>,
    /// Centres of the slats, as running marks along the rail.
    pub slats: Vec<Length>,
    /// Length of each cable, with what goes through the posts and into the fittings.
    pub length: Length,
    /// Fittings of all cables.
    pub fittings: usize,
    /// Longest free length of a cable between two faces.
    pub longest_run: Length,
    /// Widest clear space between two cables, or a cable and a rail, square to them and not pushed.
    pub widest_gap: Length,
    /// By how much a cable sags in its longest free length, for information.
    pub sag: Length,
}

/// The frames of a panel. On a stair they are parallelograms with plumb sides.
#[derive(Debug, Clone, PartialEq)]
pub struct FrameRow {
    /// Width of each, along the rail.
    pub width: Length,
    /// Height of each, plumb.
    pub height: Length,
    /// Left edges, as running marks along the rail.
    pub edges: Vec<Length>,
    /// Clips on the bottom and on the top rail, as running marks along the rail.
    pub clips: Vec<Length>,
    /// Clear space from the left face to the first, level.
    pub end_gap_left: Length,
    /// Clear space from the last to the right face, level.
    pub end_gap_right: Length,
    /// Widest clear space of all, end gaps included, level.
    pub widest_gap: Length,
}

impl PanelInfill {
    /// The cables, if it has some.
    pub const fn cables(&self) -> Option<&CableRun> {
        if let Self::Cables(cables) = self { Some(cables) } else { None }
    }

    /// The frames, if it has some.
    pub const fn frames(&self) -> Option<&FrameRow> {
        if let Self::Frames(frames) = self { Some(frames) } else { None }
    }

    /// What is screwed to the bottom and to the top rail, one screw at each mark: slats or clips.
    pub fn screwed(&self) -> &[Length] {
        match self {
            Self::Balusters => &[],
            Self::Cables(cables) => &cables.slats,
            Self::Frames(frames) => &frames.clips,
        }
    }
}
