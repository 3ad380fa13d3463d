//! Problems are data: what, where, why, and what to do.

use std::fmt;

use super::{Length, Point};

/// How much a finding matters.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
pub enum Severity {
    /// Something the reader should know; nothing is wrong.
    Note,
    /// Something that may be wrong; the layout stands.
    Warning,
    /// Something that was drawn is not laid out, or only in part, or could not be read: the layout is not complete.
    Incomplete,
    /// A limit is broken.
    Error,
}

impl Severity {
    /// Its word in messages and in `layout.json`.
    pub const fn word(self) -> &'static str {
        match self {
            Self::Note => "note",
            Self::Warning => "warning",
            Self::Incomplete => "incomplete",
            Self::Error => "error",
        }
    }
}

macro_rules! codes {
    ($($(#[$doc:meta])* $name:ident = $text:literal,)*) => {
        /// Name of a kind of finding; the text form is stable, so that scripts can rely on it.
        #[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash)]
        pub enum Code { $($(#[$doc])* $name,)* }
        impl Code {
            /// Every code there is.
            pub const ALL: &[Self] = &[$(Self::$name,)*];
            /// The stable text form.
            pub const fn text(self) -> &'static str {
                match self { $(Self::$name => $text,)* }
            }
        }
    };
}

codes! {
    // catalog: the rules
    /// Limits depend on something that is not stated and was taken the careful way.
    RuleCaseAssumed = "rule-case-assumed",
    // cad: the drawing
    /// The file is not a DXF drawing that can be read.
    NotReadable = "not-readable",
    /// The drawing's version is too old.
    VersionTooOld = "version-too-old",
    /// The drawing's version is newer than what is known.
    VersionUnknown = "version-unknown",
    /// The drawing holds more than may be worked on.
    OverBudget = "over-budget",
    /// The drawing gives no unit, or one no deck is drawn in.
    UnitsMissing = "units-missing",
    /// Two statements of the drawing about its units do not fit.
    UnitsDoubtful = "units-doubtful",
    /// The code page of the drawing's texts is not known.
    EncodingUnknown = "encoding-unknown",
    /// One record is damaged and was left out.
    BadRecord = "bad-record",
    /// Records of a kind that is not read.
    RecordNotRead = "record-not-read",
    /// A coordinate is not finite or too far out.
    CoordinateRefused = "coordinate-refused",
    /// Block nesting or repetition beyond the cap.
    TooManyInserts = "too-many-inserts",
    /// A block is referenced and not there.
    BlockMissing = "block-missing",
    /// An external reference is not there.
    ExternalMissing = "external-missing",
    /// An external reference is there and cannot be used.
    ExternalFails = "external-fails",
    /// An external reference was read.
    ExternalRead = "external-read",
    /// An entity does not lie in the plan's plane.
    NotInPlan = "not-in-plan",
    /// Something stands on a layer that is frozen, off or not plotted.
    LayerHidden = "layer-hidden",
    /// The plan's things are in paper space only.
    PaperSpace = "paper-space",
    /// The plan is a DXF drawing made from a DWG file.
    DwgConverted = "dwg-converted",
    /// A run was stopped while it wrote the folder that the layout lies in.
    OutputUnfinished = "output-unfinished",
    // deck: the plan
    /// No layer for a role holds anything.
    LayerEmpty = "layer-empty",
    /// A layer fits more than one role.
    LayerDoubtful = "layer-doubtful",
    /// What the layers of the drawing are taken for.
    LayersTaken = "layers-taken",
    /// Something on a role's layer has no use there.
    EntityNotUsed = "entity-not-used",
    /// Edge of no length.
    ZeroEdge = "zero-edge",
    /// A line drawn twice.
    DoubleEdge = "double-edge",
    /// Edge ends that did not quite meet were joined.
    GapJoined = "gap-joined",
    /// More than two edges meet in a point.
    EdgeBranches = "edge-branches",
    /// An outline crosses itself.
    EdgeCrosses = "edge-crosses",
    /// An open edge that ends in the air.
    EdgeOpen = "edge-open",
    /// An ellipse or spline edge is laid out by arcs near it.
    EdgeCurved = "edge-curved",
    /// A line within the deck, which is no edge.
    EdgeInner = "edge-inner",
    /// Two outlines share a stretch, which lies inside the deck.
    EdgeShared = "edge-shared",
    /// It cannot be told on which side of an edge the deck is.
    SideUnknown = "side-unknown",
    /// It cannot be told which of two edges an opening stands in.
    OpeningAmbiguous = "opening-ambiguous",
    /// An opening that touches no edge.
    OpeningOffEdge = "opening-off-edge",
    /// Deck edges lie at different heights.
    ElevationDiffers = "elevation-differs",
    /// A post block's attribute says another size than its geometry, or none.
    PostSize = "post-size",
    /// A stair that touches no edge.
    StairOffEdge = "stair-off-edge",
    /// A stair's own rails are not laid out.
    StairNotLaidOut = "stair-not-laid-out",
    /// A ramp is drawn, and not laid out.
    RampNotLaidOut = "ramp-not-laid-out",
    /// A rail is drawn away from the deck's edge, and not laid out.
    RailNotLaidOut = "rail-not-laid-out",
    /// The rise of a stair is not known.
    StairRiseUnknown = "stair-rise-unknown",
    /// Which way a stair falls was guessed, or two statements about it contradict each other.
    StairDirection = "stair-direction",
    /// Two statements about a stair's steps differ.
    StairStepsDiffer = "stair-steps-differ",
    /// A flight of one riser has no slope that a rail could follow.
    StairOneRiser = "stair-one-riser",
    /// Something of a stair was filled in from other figures.
    StairCompleted = "stair-completed",
    /// A gap between two walls in one line, and whether it is taken for a door.
    DoorAssumed = "door-assumed",
    /// All edges lie on walls or in openings.
    NothingToGuard = "nothing-to-guard",
    /// The user edited an earlier layout, and the edit is obeyed.
    EditObeyed = "edit-obeyed",
    /// An edit of an earlier layout that cannot be obeyed.
    EditNotObeyed = "edit-not-obeyed",
    /// The plan shows rails of ours by an external reference.
    RailsAttached = "rails-attached",
    /// Posts or panels have other ids than in the earlier layout.
    IdsChanged = "ids-changed",
    /// The program that saved the drawing dropped the marks of an earlier layout in it.
    MarksLost = "marks-lost",
    // guard: posts and spans
    /// Bays were chosen for the cheapest order over the whole job.
    BaysChosen = "bays-chosen",
    /// Where the top lines of the level and the raked guard meet.
    RakeTransition = "rake-transition",
    /// A handrail is needed, and there is none.
    HandrailMissing = "handrail-missing",
    /// A handrail is not as the rule set asks.
    HandrailWrong = "handrail-wrong",
    /// A stair is steeper than panels are made for.
    StairTooSteep = "stair-too-steep",
    /// The gap beneath a raked panel was made smaller for the triangle of riser, tread and rail.
    BottomGapLowered = "bottom-gap-lowered",
    /// A sphere passes the triangle of riser, tread and bottom rail.
    TriangleTooWide = "triangle-too-wide",
    /// A riser is higher than the rule set allows.
    RiserTooHigh = "riser-too-high",
    /// A riser is lower than the rule set allows.
    RiserTooLow = "riser-too-low",
    /// A tread is shallower than the rule set asks.
    TreadTooShallow = "tread-too-shallow",
    /// Risers or treads of a flight differ too much.
    StepsVary = "steps-vary",
    /// A nosing is shorter or longer than the rule set asks.
    NosingWrong = "nosing-wrong",
    /// The rail line cannot be laid at the inset.
    RailLineFails = "rail-line-fails",
    /// The rail line passes an edge by: it is too short, or the deck too narrow, for the inset.
    EdgePassed = "edge-passed",
    /// A curve is so tight that straight panels leave it by more than the setting.
    CurveTooTight = "curve-too-tight",
    /// Keep-out zones leave no place for posts.
    PostsKeptOut = "posts-kept-out",
    /// A drawn post stands on no rail line.
    PostNotUsed = "post-not-used",
    /// A drawn post stands off the rail line and bends it.
    PostOffLine = "post-off-line",
    /// Two posts overlap or leave no room for a panel.
    PostsTooNear = "posts-too-near",
    /// Two rails meet before they reach their post.
    RailsCollide = "rails-collide",
    /// A rail does not land wholly on the post's face.
    RailOffFace = "rail-off-face",
    /// A rail meets a face at more than 45 degrees.
    SkewTooLarge = "skew-too-large",
    /// A span is shorter than the system's shortest panel.
    SpanTooShort = "span-too-short",
    /// A span is longer than the system's longest panel.
    SpanTooLong = "span-too-long",
    /// Clear space that no panel closes.
    GapLeftOpen = "gap-left-open",
    // panel
    /// A panel could not be built.
    PanelFails = "panel-fails",
    /// A rail is longer than the longest stock.
    StockTooShort = "stock-too-short",
    /// A screw or block was moved off another.
    MarkMoved = "mark-moved",
    /// Spacing was reduced so that a baluster clears the bracket.
    SpacingReduced = "spacing-reduced",
    /// A span was measured on site and its panel follows the measurement.
    SpanMeasured = "span-measured",
    /// A measured span id that is not in the layout.
    MeasuredUnknown = "measured-unknown",
    // proof
    /// An opening lets the sphere through.
    OpeningTooWide = "opening-too-wide",
    /// The guard is too low.
    GuardTooLow = "guard-too-low",
    /// Horizontal infill that can be climbed, where the rule set forbids it.
    Climbable = "climbable",
    /// Something of ours stands in the mouth of an opening or a stair.
    InMouth = "in-mouth",
    /// Something of ours stands off the deck.
    OffDeck = "off-deck",
    /// A rail goes through a wall.
    ThroughWall = "through-wall",
    /// Parts do not sum up to the span.
    SumFails = "sum-fails",
    /// A mark is off the rail or out of order.
    MarkOffRail = "mark-off-rail",
    /// Two fasteners meet in one place.
    ScrewsMeet = "screws-meet",
    /// A baluster stands in a bracket.
    BalusterInBracket = "baluster-in-bracket",
    /// A limit of the rail system is broken.
    SystemLimit = "system-limit",
    /// A limit could not be checked.
    NotChecked = "not-checked",
    // write: the user's drawing with the rails in it
    /// The drawing cannot take the rail layers.
    NotGrafted = "not-grafted",
    /// A layer of the drawing has the name of one of ours.
    LayerTaken = "layer-taken",
    /// A layer of the drawing is used for our records.
    LayerShared = "layer-shared",
    /// Something in the drawing names records of an earlier layout.
    OldLayoutUsed = "old-layout-used",
}

impl fmt::Display for Code {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str(self.text())
    }
}

/// Where something is: whatever of it is known.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct Place {
    /// Position in the plan.
    pub at: Option<Point>,
    /// Handle of the entity in the user's drawing.
    pub handle: Option<u64>,
    /// Line of the user's file (1 is the first); absent in binary files.
    pub line: Option<u64>,
    /// Layer in the user's drawing.
    pub layer: Option<String>,
    /// Panel or span id.
    pub panel: Option<String>,
    /// Post id.
    pub post: Option<String>,
}

impl Place {
    /// Nowhere in particular.
    pub fn none() -> Self {
        Self::default()
    }

    /// A point of the plan.
    pub fn at(at: Point) -> Self {
        Self { at: Some(at), ..Self::default() }
    }

    /// A panel or span.
    pub fn panel(id: impl Into<String>) -> Self {
        Self { panel: Some(id.into()), ..Self::default() }
    }

    /// A post.
    pub fn post(id: impl Into<String>) -> Self {
        Self { post: Some(id.into()), ..Self::default() }
    }

    /// The same place with its position.
    pub fn with_point(mut self, at: Point) -> Self {
        self.at = Some(at);
        self
    }
}

/// The rule that a finding measures against.
#[derive(Debug, Clone, PartialEq)]
pub struct RuleRef {
    /// Name of the rule set, or of the rail system.
    pub set: String,
    /// Section of the code.
    pub section: String,
    /// What it asks.
    pub limit: Length,
    /// What was found.
    pub actual: Length,
}

/// One thing that the user should know, with its place, cause and remedy.
#[derive(Debug, Clone, PartialEq)]
pub struct Finding {
    /// Kind.
    pub code: Code,
    /// Weight.
    pub severity: Severity,
    /// Whether the input was repaired on the way, so that the result stands on the repaired form.
    pub repaired: bool,
    /// Where.
    pub place: Place,
    /// What is wrong and why.
    pub message: String,
    /// What to do.
    pub hint: Option<String>,
    /// The limit, where one is broken.
    pub rule: Option<RuleRef>,
    /// How many it stands for: 1, or those beyond what is told one by one.
    pub count: usize,
}

impl Finding {
    fn new(severity: Severity, code: Code, place: Place, message: impl Into<String>) -> Self {
        Self { code, severity, repaired: false, place, message: message.into(), hint: None, rule: None, count: 1 }
    }

    /// A limit is broken.
    pub fn error(code: Code, place: Place, message: impl Into<String>) -> Self {
        Self::new(Severity::Error, code, place, message)
    }

    /// Something that was drawn is not laid out, or only in part.
    pub fn incomplete(code: Code, place: Place, message: impl Into<String>) -> Self {
        Self::new(Severity::Incomplete, code, place, message)
    }

    /// Something may be wrong.
    pub fn warning(code: Code, place: Place, message: impl Into<String>) -> Self {
        Self::new(Severity::Warning, code, place, message)
    }

    /// Something to know.
    pub fn note(code: Code, place: Place, message: impl Into<String>) -> Self {
        Self::new(Severity::Note, code, place, message)
    }

    /// Something in the input that was put right.
    pub fn repaired(code: Code, place: Place, message: impl Into<String>) -> Self {
        Self { repaired: true, ..Self::new(Severity::Note, code, place, message) }
    }

    /// With what to do about it.
    #[must_use]
    pub fn hint(mut self, hint: impl Into<String>) -> Self {
        self.hint = Some(hint.into());
        self
    }

    /// With the limit that it measures against.
    #[must_use]
    pub fn rule(mut self, rule: RuleRef) -> Self {
        self.rule = Some(rule);
        self
    }
}

/// The drawing is not usable at all: one finding that ends the work, with what was found before it.
#[derive(Debug, Clone, PartialEq)]
pub struct Refusal {
    /// Why.
    pub finding: Box<Finding>,
    /// What else was found on the way.
    pub others: Vec<Finding>,
}

impl Refusal {
    /// Ends the work for one reason.
    pub fn new(finding: Finding) -> Self {
        Self { finding: Box::new(finding), others: Vec::new() }
    }
}

impl fmt::Display for Refusal {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str(&self.finding.message)
    }
}

impl std::error::Error for Refusal {}
