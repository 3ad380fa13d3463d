//! What a system closes its panels with: vertical balusters, horizontal cables or framed panels.

use schemars::JsonSchema;
use serde::{Deserialize, Serialize};

use super::{BalusterSpec, Fastener, RailSystem};
use crate::base::Length;

/// Horizontal cables from post to post; on a stair they run parallel to the rails.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields, rename_all = "kebab-case")]
pub struct CableSpec {
    /// As ordered, for example `Cable 1/8 in, 1x19`.
    pub name: String,
    /// Its diameter.
    pub diameter: Length,
    /// Longest distance between the centres of two cables, and between a cable's centre and a rail, square to them. There
    /// are as few cables as it and the rule set's sphere allow.
    pub spacing: Length,
    /// By how much a gap between two cables opens when it is pushed.
    pub give: Length,
    /// Longest free length of a cable between two faces: of posts, walls or slats.
    pub longest_run: Length,
    /// Diameter of the hole through a post.
    pub hole: Length,
    /// Cable beyond each face of the opening: through the post and into its fitting.
    pub beyond: Length,
    /// Fittings at each end of a cable.
    pub fittings: u8,
    /// Tension in pounds of force. It serves the sag that is shown, and checks nothing.
    pub tension_lbf: f64,
    /// Weight in pounds a foot, for the same.
    pub weight_lb_per_ft: f64,
    /// Upright between the rails that holds the cables apart; without it no panel is longer than `longest-run`.
    pub slat: Option<Slat>,
}

/// An upright between bottom and top rail, bored for the cables and screwed to both rails.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields, rename_all = "kebab-case")]
pub struct Slat {
    /// As ordered.
    pub name: String,
    /// Width along the rail.
    pub width: Length,
    /// Hole and screw in each of the two rails.
    pub fastener: Fastener,
}

/// Framed panels, of glass, mesh or boards, held between bottom and top rail by clips.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields, rename_all = "kebab-case")]
pub struct FrameSpec {
    /// As ordered, for example `Framed glass 1/4 in`.
    pub name: String,
    /// Thickness of the frame, across the rail line.
    pub thickness: Length,
    /// Narrowest frame that is made.
    pub narrowest: Length,
    /// Widest frame that is made.
    pub widest: Length,
    /// Least clear space between two frames, and between a frame and a face.
    pub least_gap: Length,
    /// Greatest clear space there.
    pub greatest_gap: Length,
    /// Clear space between a frame and the rail below and above it, square to the rail.
    pub rail_gap: Length,
    /// Clips on the lower and on the upper side of each frame.
    pub clips: u8,
    /// Hole and screw of a clip into its rail.
    pub clip_fastener: Fastener,
    /// Largest sphere that passes the panel itself: of mesh or boards; none for glass.
    pub mesh: Option<Length>,
    /// Whether frames are made as parallelograms for stairs.
    #[serde(default)]
    pub raked: bool,
}

/// The infill of a system.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum InfillSpec<'a> {
    /// Vertical balusters.
    Balusters(&'a BalusterSpec),
    /// Horizontal cables.
    Cables(&'a CableSpec),
    /// Framed panels.
    Frames(&'a FrameSpec),
}

impl RailSystem {
    /// What it closes its panels with. A system that was read has just one infill; one that has none, or two, builds
    /// nothing.
    pub fn infill(&self) -> Option<InfillSpec<'_>> {
        match (&self.baluster, &self.cable, &self.frame) {
            (Some(baluster), None, None) => Some(InfillSpec::Balusters(baluster)),
            (None, Some(cable), None) => Some(InfillSpec::Cables(cable)),
            (None, None, Some(frame)) => Some(InfillSpec::Frames(frame)),
            _ => None,
        }
    }

    /// Width of a baluster along the rail; nothing where the system has none.
    pub fn baluster_width(&self) -> Length {
        self.baluster.as_ref().map_or(Length::ZERO, |baluster| baluster.width)
    }
}

/// Every length that the infill states.
pub(super) fn lengths(s: &RailSystem) -> Vec<Length> {
    let mut all = Vec::new();
    all.extend(s.baluster.iter().flat_map(|b| [b.width, b.spacing]));
    all.extend(s.cable.iter().flat_map(|c| [c.diameter, c.spacing, c.give, c.longest_run, c.hole, c.beyond]));
    all.extend(s.cable.iter().filter_map(|c| c.slat.as_ref()).flat_map(|slat| [slat.width, slat.fastener.pilot]));
    all.extend(s.frame.iter().flat_map(|f| [f.thickness, f.narrowest, f.widest, f.least_gap, f.greatest_gap]));
    all.extend(s.frame.iter().flat_map(|f| [f.rail_gap, f.clip_fastener.pilot]));
    all.extend(s.frame.iter().filter_map(|f| f.mesh));
    all
}

/// The first thing in the infill that would make every panel wrong.
pub(super) fn flaw(s: &RailSystem) -> Option<String> {
    let Some(infill) = s.infill() else {
        return Some("it needs just one infill: [baluster], [cable] or [frame]".to_owned());
    };
    let bored = s.members.iter().find(|m| m.baluster_holes.is_some());
    if let Some(member) = bored.filter(|_| s.baluster.is_none()) {
        return Some(format!("the {} has baluster-holes, but there are no balusters", member.role.text()));
    }
    match infill {
        InfillSpec::Balusters(b) => {
            let wrong = none_positive(&[("baluster width", b.width), ("baluster spacing", b.spacing)]);
            wrong.or_else(|| {
                (b.spacing <= b.width)
                    .then(|| "baluster spacing is on-centre, so it must be more than the baluster's width".to_owned())
            })
        }
        InfillSpec::Cables(c) => cable_flaw(c),
        InfillSpec::Frames(f) => frame_flaw(f),
    }
}

fn none_positive(named: &[(&str, Length)]) -> Option<String> {
    named.iter().find(|(_, l)| *l <= Length::ZERO).map(|(name, _)| format!("{name} must be more than nothing"))
}

fn cable_flaw(c: &CableSpec) -> Option<String> {
    let slat = c.slat.as_ref().map_or(Length::INCH, |slat| slat.width);
    let positive = [
        ("cable diameter", c.diameter),
        ("cable spacing", c.spacing),
        ("cable longest-run", c.longest_run),
        ("cable hole", c.hole),
        ("cable slat width", slat),
    ];
    if let Some(wrong) = none_positive(&positive) {
        return Some(wrong);
    }
    if c.give < Length::ZERO || c.beyond < Length::ZERO {
        return Some("cable give or beyond is negative".to_owned());
    }
    if c.spacing <= c.diameter {
        return Some("cable spacing is on-centre, so it must be more than the cable's diameter".to_owned());
    }
    if c.hole < c.diameter {
        return Some("cable hole is smaller than the cable".to_owned());
    }
    // Far beyond any cable; it keeps the sag a number.
    let sane = |value: f64, least: f64| value.is_finite() && (least..=1e6).contains(&value);
    let holds = sane(c.tension_lbf, 1.0) && sane(c.weight_lb_per_ft, 0.0);
    (!holds).then(|| "cable tension-lbf must be 1 or more, and weight-lb-per-ft not negative".to_owned())
}

fn frame_flaw(f: &FrameSpec) -> Option<String> {
    let mesh = f.mesh.unwrap_or(Length::INCH);
    let positive = [
        ("frame thickness", f.thickness),
        ("frame narrowest", f.narrowest),
        ("frame greatest-gap", f.greatest_gap),
        ("frame mesh", mesh),
    ];
    if let Some(wrong) = none_positive(&positive) {
        return Some(wrong);
    }
    if f.least_gap < Length::ZERO || f.rail_gap < Length::ZERO {
        return Some("frame least-gap or rail-gap is negative".to_owned());
    }
    if f.widest < f.narrowest || f.greatest_gap < f.least_gap {
        return Some("frame widest is under narrowest, or greatest-gap under least-gap".to_owned());
    }
    (f.clips == 0).then(|| "frame clips must be one or more a side".to_owned())
}
