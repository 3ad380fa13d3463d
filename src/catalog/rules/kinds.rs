//! What rules limit, count and load, by the names that files use.

use schemars::JsonSchema;
use serde::{Deserialize, Serialize};

use super::Exact;

/// An enum with its names in files.
macro_rules! kinds {
    ($(#[$head:meta])* $name:ident { $($(#[$doc:meta])* $kind:ident = $text:literal,)* }) => {
        $(#[$head])*
        #[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Serialize, Deserialize, JsonSchema)]
        #[serde(rename_all = "kebab-case")]
        pub enum $name { $($(#[$doc])* $kind,)* }

        impl $name {
            /// Every kind there is.
            pub const ALL: &[Self] = &[$(Self::$kind,)*];

            /// Its name in files.
            pub const fn text(self) -> &'static str {
                match self { $(Self::$kind => $text,)* }
            }
        }
    };
}

kinds! {
    /// What a limit limits.
    LimitKind {
        /// A guard is needed where the drop is more than this.
        GuardNeededAbove = "guard-needed-above",
        /// How far out from the edge the drop is measured.
        GuardNeededWithin = "guard-needed-within",
        /// Least height of the guard.
        GuardHeight = "guard-height",
        /// A sphere of this diameter must not pass.
        Opening = "opening",
        /// A larger sphere that must not pass high up, from `from` on.
        OpeningAbove = "opening-above",
        /// Widest gap between horizontal rails, from `from` on.
        HorizontalOpening = "horizontal-opening",
        /// Lower end of the zone in which nothing may help climbing.
        ClimbFreeFrom = "climb-free-from",
        /// Upper end of that zone.
        ClimbFreeTo = "climb-free-to",
        /// Least height of a guard on a stair above the nosing line.
        StairGuardHeight = "stair-guard-height",
        /// A sphere of this diameter must not pass between the balusters of a guard on a stair.
        StairOpening = "stair-opening",
        /// A sphere of this diameter must not pass the triangle of riser, tread and bottom rail.
        StairTriangle = "stair-triangle",
        /// Highest riser.
        RiserHeight = "riser-height",
        /// Lowest riser.
        RiserHeightMin = "riser-height-min",
        /// Shallowest tread, from nosing to nosing.
        TreadDepth = "tread-depth",
        /// Largest difference between two risers of a flight.
        RiserVariation = "riser-variation",
        /// Largest difference between two treads of a flight.
        TreadVariation = "tread-variation",
        /// Shortest projection of a nosing.
        NosingMin = "nosing-min",
        /// Longest projection of a nosing.
        NosingMax = "nosing-max",
        /// From this tread depth on no nosing is needed.
        NosingFreeTread = "nosing-free-tread",
        /// Least height of a handrail above the nosing line.
        HandrailHeightMin = "handrail-height-min",
        /// Greatest height of a handrail above the nosing line.
        HandrailHeightMax = "handrail-height-max",
        /// Least clear space between a handrail and what it stands before.
        HandrailClearance = "handrail-clearance",
        /// Least diameter of a round handrail.
        HandrailDiameterMin = "handrail-diameter-min",
        /// Greatest diameter of a round handrail.
        HandrailDiameterMax = "handrail-diameter-max",
        /// Least perimeter of a handrail that is not round.
        HandrailPerimeterMin = "handrail-perimeter-min",
        /// Greatest perimeter of a handrail that is not round.
        HandrailPerimeterMax = "handrail-perimeter-max",
        /// Greatest dimension across a handrail that is not round.
        HandrailSectionMax = "handrail-section-max",
        /// How far a handrail goes on level beyond the top nosing.
        HandrailExtensionTop = "handrail-extension-top",
        /// How far it goes on sloping beyond the lowest nosing.
        HandrailExtensionBottom = "handrail-extension-bottom",
    }
}

kinds! {
    /// What a number of things is required of.
    CountKind {
        /// A handrail is needed on flights with this many risers or more.
        HandrailFromRisers = "handrail-from-risers",
        /// On how many sides of a flight.
        HandrailSides = "handrail-sides",
    }
}

kinds! {
    /// Where a load acts.
    LoadKind {
        /// Along the top, for each unit of length.
        TopLine = "top-line",
        /// At any one point of the top.
        TopConcentrated = "top-concentrated",
        /// On the infill, square to it.
        Infill = "infill",
    }
}

/// Anything that a rule file states.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize, JsonSchema)]
#[serde(untagged, expecting = "there is no limit, count or load of that name; write for example \"stair-triangle\"")]
pub enum RuleKind {
    /// A limit.
    Limit(LimitKind),
    /// A number of things.
    Count(CountKind),
    /// A load.
    Load(LoadKind),
}

impl RuleKind {
    /// Its name in files.
    pub const fn text(self) -> &'static str {
        match self {
            Self::Limit(kind) => kind.text(),
            Self::Count(kind) => kind.text(),
            Self::Load(kind) => kind.text(),
        }
    }
}

/// Which way a limit limits.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum Sense {
    /// This or more: a larger value is stricter.
    Least,
    /// This or less: a smaller value is stricter.
    Most,
    /// Something of this size must not pass: a smaller value is stricter.
    Sphere,
}

impl LimitKind {
    pub(super) const fn sense(self) -> Sense {
        match self {
            Self::Opening | Self::OpeningAbove | Self::HorizontalOpening | Self::StairOpening | Self::StairTriangle => {
                Sense::Sphere
            }
            Self::GuardNeededAbove
            | Self::ClimbFreeFrom
            | Self::RiserHeight
            | Self::RiserVariation
            | Self::TreadVariation
            | Self::NosingMax
            | Self::HandrailHeightMax
            | Self::HandrailDiameterMax
            | Self::HandrailPerimeterMax
            | Self::HandrailSectionMax => Sense::Most,
            Self::GuardNeededWithin
            | Self::GuardHeight
            | Self::ClimbFreeTo
            | Self::StairGuardHeight
            | Self::RiserHeightMin
            | Self::TreadDepth
            | Self::NosingMin
            | Self::NosingFreeTread
            | Self::HandrailHeightMin
            | Self::HandrailClearance
            | Self::HandrailDiameterMin
            | Self::HandrailPerimeterMin
            | Self::HandrailExtensionTop
            | Self::HandrailExtensionBottom => Sense::Least,
        }
    }

    /// What becomes of exactly the limit where its entry does not say: a sphere that must not pass fails at its own size,
    /// all other limits can be met exactly.
    pub(super) fn usual_exact(self) -> Exact {
        if self.sense() == Sense::Sphere { Exact::Fails } else { Exact::Passes }
    }

    /// Whether codes differ in what becomes of exactly the limit, so that an entry may say it.
    pub(super) fn may_say_exact(self) -> bool {
        self.sense() == Sense::Sphere || self == Self::GuardNeededAbove
    }

    /// Whether the limit holds from some height on, which its entry must say.
    pub(super) const fn holds_from(self) -> bool {
        matches!(self, Self::OpeningAbove | Self::HorizontalOpening)
    }

    /// Whether nothing is a value: a zone that begins at the floor, a handrail that ends at the last nosing.
    pub(super) const fn may_be_zero(self) -> bool {
        matches!(self, Self::ClimbFreeFrom | Self::HandrailExtensionTop | Self::HandrailExtensionBottom)
    }

    /// Whether the limit is an exception to a stricter one, so that it is stricter not to have it.
    pub(super) const fn is_exception(self) -> bool {
        matches!(
            self,
            Self::OpeningAbove
                | Self::StairGuardHeight
                | Self::StairOpening
                | Self::StairTriangle
                | Self::NosingFreeTread
        )
    }
}
