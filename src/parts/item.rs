//! What can stand on an order: each thing as data, with the words that lists name it by.

use schemars::JsonSchema;
use serde::{Deserialize, Serialize};

use crate::base::Length;
use crate::catalog::{InfillSpec, Packed, Part, RailSystem};
use crate::panel::{BracketKind, Panel, PanelInfill};

/// A thing to buy. Lengths are `L`: exact ones in a layout, numbers in `layout.json`.
#[derive(Debug, Clone, PartialEq, Eq, PartialOrd, Ord, Serialize, Deserialize, JsonSchema)]
#[serde(rename_all = "kebab-case", tag = "kind", deny_unknown_fields)]
pub enum Item<L = Length> {
    /// A kit of the system, by its name.
    Kit {
        /// As ordered.
        name: String,
    },
    /// A member sold by the length, by its name.
    Stock {
        /// As ordered.
        name: String,
    },
    /// A baluster of a level panel, beyond those in the kits.
    Baluster {
        /// Its length.
        length: L,
    },
    /// A baluster that is longer than a level panel's, beyond those in the kits.
    BalusterRaked {
        /// At least so long.
        length: L,
    },
    /// A cable.
    Cable {
        /// As ordered.
        name: String,
        /// With what goes through the posts and into the fittings.
        length: L,
    },
    /// What a cable ends in.
    CableFitting,
    /// An upright that keeps cables apart.
    Slat {
        /// As ordered.
        name: String,
        /// Its length.
        length: L,
    },
    /// A framed panel.
    Frame {
        /// As ordered.
        name: String,
        /// Along the rail.
        width: L,
        /// Plumb.
        height: L,
        /// A parallelogram for a stair.
        raked: bool,
    },
    /// What holds a frame to a rail.
    FrameClip,
    /// Sleeve of a post.
    PostSleeve {
        /// Side of the post.
        side: L,
    },
    /// Cap of a post.
    PostCap {
        /// Side of the post.
        side: L,
    },
    /// Trim round a post's foot.
    PostBase {
        /// Side of the post.
        side: L,
    },
    /// Bracket for square joints.
    BracketLevel,
    /// Bracket for joints that are angled in plan.
    BracketAngled,
    /// Bracket for stairs.
    BracketRaked,
    /// Bracket of a handrail.
    HandrailBracket,
    /// A screw, by its name in the system's file.
    Screw {
        /// For example `#9 x 2-3/4 in`.
        name: String,
    },
    /// Support block.
    SupportBlock,
}

impl From<BracketKind> for Item {
    fn from(kind: BracketKind) -> Self {
        match kind {
            BracketKind::Level => Self::BracketLevel,
            BracketKind::Angled => Self::BracketAngled,
            BracketKind::Raked => Self::BracketRaked,
        }
    }
}

impl<L> Item<L> {
    /// The same with its lengths as `of` tells them.
    ///
    /// # Errors
    /// Where `of` fails.
    pub fn with<M, E>(&self, of: impl Fn(&L) -> Result<M, E>) -> Result<Item<M>, E> {
        let name = String::clone;
        Ok(match self {
            Self::Kit { name: n } => Item::Kit { name: name(n) },
            Self::Stock { name: n } => Item::Stock { name: name(n) },
            Self::Baluster { length } => Item::Baluster { length: of(length)? },
            Self::BalusterRaked { length } => Item::BalusterRaked { length: of(length)? },
            Self::Cable { name: n, length } => Item::Cable { name: name(n), length: of(length)? },
            Self::CableFitting => Item::CableFitting,
            Self::Slat { name: n, length } => Item::Slat { name: name(n), length: of(length)? },
            Self::Frame { name: n, width, height, raked } => {
                Item::Frame { name: name(n), width: of(width)?, height: of(height)?, raked: *raked }
            }
            Self::FrameClip => Item::FrameClip,
            Self::PostSleeve { side } => Item::PostSleeve { side: of(side)? },
            Self::PostCap { side } => Item::PostCap { side: of(side)? },
            Self::PostBase { side } => Item::PostBase { side: of(side)? },
            Self::BracketLevel => Item::BracketLevel,
            Self::BracketAngled => Item::BracketAngled,
            Self::BracketRaked => Item::BracketRaked,
            Self::HandrailBracket => Item::HandrailBracket,
            Self::Screw { name: n } => Item::Screw { name: name(n) },
            Self::SupportBlock => Item::SupportBlock,
        })
    }

    /// The part of the catalog that it is, which packs and spare parts go by.
    pub const fn part(&self) -> Option<Part> {
        Some(match self {
            Self::Baluster { .. } => Part::Baluster,
            Self::BalusterRaked { .. } => Part::BalusterRaked,
            Self::PostSleeve { .. } => Part::PostSleeve,
            Self::PostCap { .. } => Part::PostCap,
            Self::PostBase { .. } => Part::PostBase,
            Self::BracketLevel => Part::BracketLevel,
            Self::BracketAngled => Part::BracketAngled,
            Self::BracketRaked => Part::BracketRaked,
            Self::HandrailBracket => Part::HandrailBracket,
            Self::SupportBlock => Part::SupportBlock,
            Self::Kit { .. }
            | Self::Stock { .. }
            | Self::Cable { .. }
            | Self::CableFitting
            | Self::Slat { .. }
            | Self::Frame { .. }
            | Self::FrameClip
            | Self::Screw { .. } => return None,
        })
    }

    /// What packs of it hold.
    pub fn packed(&self) -> Option<Packed> {
        match self {
            Self::Screw { name } => Some(Packed::Screw(name.clone())),
            other => other.part().map(Packed::Part),
        }
    }

    /// Whether it comes in the job's finish.
    pub const fn is_finished(&self) -> bool {
        !matches!(self, Self::Screw { .. } | Self::SupportBlock)
    }
}

impl Item {
    /// Its name in lists and on orders.
    pub fn text(&self) -> String {
        match self {
            Self::Kit { name } | Self::Stock { name } => name.clone(),
            Self::Baluster { length } => format!("Baluster {length}, beyond the kits"),
            Self::BalusterRaked { length } => format!("Baluster for stairs, at least {length}, beyond the kits"),
            Self::Cable { name, length } | Self::Slat { name, length } => format!("{name}, {length} long"),
            Self::CableFitting => "Cable fitting".to_owned(),
            Self::Frame { name, width, height, raked } => {
                format!("{name}, {width} x {height}{}", if *raked { " plumb, raked" } else { "" })
            }
            Self::FrameClip => "Frame clip".to_owned(),
            Self::PostSleeve { side } => format!("Post sleeve {side}"),
            Self::PostCap { side } => format!("Post cap for {side}"),
            Self::PostBase { side } => format!("Post base trim for {side}"),
            Self::BracketLevel => "Bracket, level".to_owned(),
            Self::BracketAngled => "Bracket, angled".to_owned(),
            Self::BracketRaked => "Bracket, raked".to_owned(),
            Self::HandrailBracket => "Handrail bracket".to_owned(),
            Self::Screw { name } => format!("Screw {name}"),
            Self::SupportBlock => "Support block".to_owned(),
        }
    }
}

/// What must be bought for a panel's cables or frames: item and count, in the order of assembly. Balusters are counted
/// elsewhere, since kits hold some.
pub fn supplies(panel: &Panel, system: &RailSystem) -> Vec<(Item, usize)> {
    let mut out = Vec::new();
    // One end or screw on the bottom rail and one on the top rail.
    let rails = 2;
    let fastener = match (&panel.infill, system.infill()) {
        (PanelInfill::Cables(run), Some(InfillSpec::Cables(cable))) => {
            out.push((Item::Cable { name: cable.name.clone(), length: run.length }, run.heights.len()));
            out.push((Item::CableFitting, run.fittings));
            let slat = cable.slat.as_ref();
            out.extend(
                slat.map(|s| (Item::Slat { name: s.name.clone(), length: panel.balusters.length }, run.slats.len())),
            );
            slat.map(|s| &s.fastener)
        }
        (PanelInfill::Frames(row), Some(InfillSpec::Frames(frame))) => {
            let (name, raked) = (frame.name.clone(), panel.rake.is_some());
            out.push((Item::Frame { name, width: row.width, height: row.height, raked }, row.edges.len()));
            out.push((Item::FrameClip, rails * row.clips.len()));
            Some(&frame.clip_fastener)
        }
        _ => None,
    };
    let screw = fastener.and_then(|f| f.screw.clone());
    out.extend(screw.map(|name| (Item::Screw { name }, rails * panel.infill.screwed().len())));
    out.retain(|(_, count)| *count > 0);
    out
}
