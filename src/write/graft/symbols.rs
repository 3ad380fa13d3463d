//! The symbol tables that we add to.

/// Tables in the order in which a drawing has them (DXF reference, "TABLES section").
const ORDER: [&str; 9] = ["VPORT", "LTYPE", "LAYER", "STYLE", "VIEW", "UCS", "APPID", "DIMSTYLE", "BLOCK_RECORD"];

/// A table that we add to.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
pub(super) enum Symbol {
    Linetype,
    Layer,
    Style,
    AppId,
    DimensionStyle,
    /// The blocks themselves go by this name, too.
    Block,
}

impl Symbol {
    /// In the order of the tables.
    pub(super) const ALL: [Self; 6] =
        [Self::Linetype, Self::Layer, Self::Style, Self::AppId, Self::DimensionStyle, Self::Block];

    pub(super) const fn name(self) -> &'static str {
        match self {
            Self::Linetype => "LTYPE",
            Self::Layer => "LAYER",
            Self::Style => "STYLE",
            Self::AppId => "APPID",
            Self::DimensionStyle => "DIMSTYLE",
            Self::Block => "BLOCK_RECORD",
        }
    }

    pub(super) fn named(name: &str) -> Option<Self> {
        Self::ALL.into_iter().find(|symbol| symbol.name() == name.trim())
    }

    /// Whether a table of this name comes behind this one.
    pub(super) fn is_before(self, other: &str) -> bool {
        let place = |name: &str| ORDER.iter().position(|known| *known == name.trim());
        place(other) > place(self.name())
    }
}
