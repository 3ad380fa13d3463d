//! The layers that are written, and the names that a job, a prefix or a standard gives them.

use std::collections::BTreeMap;

use schemars::JsonSchema;
use serde::{Deserialize, Serialize};

use super::CatalogError;

/// Layers that we write, in drawing order.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub enum Layer {
    /// Frames, titles, tables, the user's plan as background.
    Sheet,
    /// Rail line and spans.
    Line,
    /// Members.
    Panel,
    /// Balusters.
    Baluster,
    /// Support blocks.
    Block,
    /// Brackets.
    Bracket,
    /// Posts.
    Post,
    /// Holes.
    Hole,
    /// Screws.
    Screw,
    /// Dimensions.
    Dims,
    /// Tags and texts.
    Text,
    /// Findings at their place.
    Note,
    /// Windows of sheets on the drawings: there for the CAD program, never plotted.
    View,
}

impl Layer {
    /// All of them, in drawing order.
    pub const ALL: [Self; 13] = [
        Self::Sheet,
        Self::Line,
        Self::Panel,
        Self::Baluster,
        Self::Block,
        Self::Bracket,
        Self::Post,
        Self::Hole,
        Self::Screw,
        Self::Dims,
        Self::Text,
        Self::Note,
        Self::View,
    ];

    /// Name in the drawing.
    pub const fn name(self) -> &'static str {
        match self {
            Self::Sheet => "RAIL-SHEET",
            Self::Line => "RAIL-LINE",
            Self::Panel => "RAIL-PANEL",
            Self::Baluster => "RAIL-BALUSTER",
            Self::Block => "RAIL-BLOCK",
            Self::Bracket => "RAIL-BRACKET",
            Self::Post => "RAIL-POST",
            Self::Hole => "RAIL-HOLE",
            Self::Screw => "RAIL-SCREW",
            Self::Dims => "RAIL-DIMS",
            Self::Text => "RAIL-TEXT",
            Self::Note => "RAIL-NOTE",
            Self::View => "RAIL-VIEW",
        }
    }
}

/// A published standard of layer names.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize, JsonSchema)]
#[serde(rename_all = "kebab-case")]
pub enum LayerStandard {
    /// United States National CAD Standard, CAD Layer Guidelines: discipline, major group, minor groups of four letters.
    Ncs,
}

/// Names of the layers that are written, by the names that they have otherwise.
#[derive(Debug, Clone, PartialEq, Eq, Default, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields, rename_all = "SCREAMING-KEBAB-CASE", default)]
pub struct OutputLayers {
    /// Names of a standard, where none is given here.
    #[serde(rename = "standard")]
    pub standard: Option<LayerStandard>,
    /// Frames, titles, tables.
    pub rail_sheet: Option<String>,
    /// Rail line and spans.
    pub rail_line: Option<String>,
    /// Members.
    pub rail_panel: Option<String>,
    /// Balusters.
    pub rail_baluster: Option<String>,
    /// Support blocks.
    pub rail_block: Option<String>,
    /// Brackets.
    pub rail_bracket: Option<String>,
    /// Posts.
    pub rail_post: Option<String>,
    /// Holes.
    pub rail_hole: Option<String>,
    /// Screws.
    pub rail_screw: Option<String>,
    /// Dimensions.
    pub rail_dims: Option<String>,
    /// Tags and texts.
    pub rail_text: Option<String>,
    /// Findings at their place.
    pub rail_note: Option<String>,
    /// Windows of sheets on the drawings, which are not plotted.
    pub rail_view: Option<String>,
}

/// Longest name that CAD programs take.
const LONGEST: usize = 255;

/// Characters that no name may have (DXF reference, symbol names).
const FORBIDDEN: &str = "<>/\\\":;?*|,=`";

impl OutputLayers {
    const fn all(&self) -> [&Option<String>; 13] {
        [
            &self.rail_sheet,
            &self.rail_line,
            &self.rail_panel,
            &self.rail_baluster,
            &self.rail_block,
            &self.rail_bracket,
            &self.rail_post,
            &self.rail_hole,
            &self.rail_screw,
            &self.rail_dims,
            &self.rail_text,
            &self.rail_note,
            &self.rail_view,
        ]
    }

    /// Checks the names, and the prefix that may stand in place of `RAIL`.
    pub(super) fn check(&self, prefix: Option<&str>) -> Result<(), CatalogError> {
        let names = self.all().into_iter().flatten().map(|name| ("output-layers", name.as_str()));
        for (key, name) in names.chain(prefix.map(|prefix| ("layer-prefix", prefix))) {
            let bad = name.chars().find(|c| c.is_control() || FORBIDDEN.contains(*c));
            let what = match bad {
                Some(c) => format!("has `{}`, which no layer's name may have", c.escape_debug()),
                None if name.trim().is_empty() => "is empty".to_owned(),
                None if name.trim() != name => "has a blank at its end or beginning".to_owned(),
                None if name.len() > LONGEST => format!("is longer than {LONGEST} characters"),
                None => continue,
            };
            return Err(CatalogError::new(format!("{key}: the name `{}` {what}", name.escape_debug())));
        }
        Ok(())
    }
}

/// Beginning of the names of our layers, in whose place a prefix stands.
const OWN_PREFIX: &str = "RAIL";

/// Names of the layers that are not called by their own: what the job says for one, else what its standard does, else the
/// prefix in place of `RAIL`.
pub fn layer_names(layers: &OutputLayers, prefix: Option<&str>) -> BTreeMap<Layer, String> {
    let prefixed = |layer: Layer| Some(format!("{}{}", prefix?, layer.name().trim_start_matches(OWN_PREFIX)));
    Layer::ALL
        .into_iter()
        .filter_map(|layer| {
            let standard = || layers.standard.map(|standard| by_standard(standard, layer).to_owned());
            Some((layer, given(layers, layer).or_else(standard).or_else(|| prefixed(layer))?))
        })
        .collect()
}

/// Name by a standard.
///
/// US National CAD Standard: `A-FLOR-HRAL` ("Floor: handrails/guard rails") and the minor group `CNTR` (center) stand in
/// reprints of its architectural layer list; the annotation codes DIMS, NOTE, NPLT, TEXT and TTLB were seen in lists of
/// others that follow it. That a second minor group of four letters may be one's own (BALU, BLOK, BRKT, HOLE, POST, SCRW):
/// from memory.
pub(super) const fn by_standard(standard: LayerStandard, layer: Layer) -> &'static str {
    match (standard, layer) {
        (LayerStandard::Ncs, Layer::Sheet) => "A-ANNO-TTLB",
        (LayerStandard::Ncs, Layer::Line) => "A-FLOR-HRAL-CNTR",
        (LayerStandard::Ncs, Layer::Panel) => "A-FLOR-HRAL",
        (LayerStandard::Ncs, Layer::Baluster) => "A-FLOR-HRAL-BALU",
        (LayerStandard::Ncs, Layer::Block) => "A-FLOR-HRAL-BLOK",
        (LayerStandard::Ncs, Layer::Bracket) => "A-FLOR-HRAL-BRKT",
        (LayerStandard::Ncs, Layer::Post) => "A-FLOR-HRAL-POST",
        (LayerStandard::Ncs, Layer::Hole) => "A-FLOR-HRAL-HOLE",
        (LayerStandard::Ncs, Layer::Screw) => "A-FLOR-HRAL-SCRW",
        (LayerStandard::Ncs, Layer::Dims) => "A-ANNO-DIMS",
        (LayerStandard::Ncs, Layer::Text) => "A-ANNO-TEXT",
        (LayerStandard::Ncs, Layer::Note) => "A-ANNO-NOTE",
        (LayerStandard::Ncs, Layer::View) => "A-ANNO-NPLT",
    }
}

fn given(layers: &OutputLayers, layer: Layer) -> Option<String> {
    let name = match layer {
        Layer::Sheet => &layers.rail_sheet,
        Layer::Line => &layers.rail_line,
        Layer::Panel => &layers.rail_panel,
        Layer::Baluster => &layers.rail_baluster,
        Layer::Block => &layers.rail_block,
        Layer::Bracket => &layers.rail_bracket,
        Layer::Post => &layers.rail_post,
        Layer::Hole => &layers.rail_hole,
        Layer::Screw => &layers.rail_screw,
        Layer::Dims => &layers.rail_dims,
        Layer::Text => &layers.rail_text,
        Layer::Note => &layers.rail_note,
        Layer::View => &layers.rail_view,
    };
    name.clone()
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn names_that_cad_programs_refuse_are_refused() {
        let named = |name: &str| OutputLayers { rail_post: Some(name.to_owned()), ..OutputLayers::default() };
        for name in ["A-FLOR-HRAL", "Geländer 1", "RAIL"] {
            assert_eq!(named(name).check(Some("A-FLOR-HRAL")), Ok(()), "{name}");
        }
        for name in ["", " A", "A*", "A\nB", "A|B", &"A".repeat(256)] {
            assert!(named(name).check(None).is_err(), "{name}");
            assert!(OutputLayers::default().check(Some(name)).is_err(), "{name}");
        }
    }

    #[test]
    fn keys_are_the_names_that_the_layers_have_otherwise() {
        let layers: OutputLayers = toml::from_str("RAIL-POST = \"A-FLOR-HRAL-POST\"").unwrap();
        assert_eq!(layers.rail_post.as_deref(), Some("A-FLOR-HRAL-POST"));
        assert!(toml::from_str::<OutputLayers>("RAIL-POSTS = \"X\"").is_err());
    }

    #[test]
    fn a_name_of_its_own_wins_over_the_prefix() {
        assert!(layer_names(&OutputLayers::default(), None).is_empty());
        let layers = OutputLayers { rail_post: Some("POSTS".to_owned()), ..OutputLayers::default() };
        let names = layer_names(&layers, Some("A-FLOR-HRAL"));
        assert_eq!(names.len(), Layer::ALL.len());
        assert_eq!((names[&Layer::Post].as_str(), names[&Layer::Dims].as_str()), ("POSTS", "A-FLOR-HRAL-DIMS"));
        assert_eq!(layer_names(&layers, None).len(), 1);
    }

    /// A discipline of one or two characters, a major group and up to two minor groups of four each (CAD Layer Guidelines,
    /// "Layer Name Format").
    #[test]
    fn names_of_the_standard_keep_to_its_format() {
        let layers: OutputLayers = toml::from_str("standard = \"ncs\"\nRAIL-NOTE = \"MINE\"").unwrap();
        let names = layer_names(&layers, Some("X"));
        assert_eq!((names.len(), names[&Layer::Note].as_str()), (Layer::ALL.len(), "MINE"));
        let mut all: Vec<&str> = Layer::ALL.map(|layer| by_standard(LayerStandard::Ncs, layer)).to_vec();
        for name in &all {
            let fields: Vec<&str> = name.split('-').collect();
            assert!((3..=4).contains(&fields.len()) && fields[0] == "A", "{name}");
            let is_group = |f: &&str| f.len() == 4 && f.bytes().all(|b| b.is_ascii_uppercase());
            assert!(fields[1..].iter().all(is_group), "{name}");
        }
        all.sort_unstable();
        all.dedup();
        assert_eq!(all.len(), Layer::ALL.len());
    }

    /// Every key of the job file is the name of a layer, and stands for it.
    #[test]
    fn keys_are_names() {
        for layer in Layer::ALL {
            let job = format!("{} = \"X\"", layer.name());
            let layers: OutputLayers = toml::from_str(&job).unwrap();
            assert_eq!(layer_names(&layers, None), [(layer, "X".to_owned())].into());
        }
    }
}
