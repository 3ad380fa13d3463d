//! Names that a job gives to the layers that are written.

use schemars::JsonSchema;
use serde::{Deserialize, Serialize};

use super::CatalogError;

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
}
