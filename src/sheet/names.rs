//! What our layers are called: by the job where it says so.

use std::collections::BTreeMap;

use super::Layer;
use crate::catalog::{LayerStandard, OutputLayers};

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
const fn by_standard(standard: LayerStandard, layer: Layer) -> &'static str {
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
