//! What our layers are called: by the job where it says so.

use std::collections::BTreeMap;

use super::Layer;
use crate::catalog::OutputLayers;

/// Beginning of the names of our layers, in whose place a prefix stands.
const OWN_PREFIX: &str = "RAIL";

/// Names of the layers that are not called by their own: what the job says for one, else the prefix in place of `RAIL`.
pub fn layer_names(layers: &OutputLayers, prefix: Option<&str>) -> BTreeMap<Layer, String> {
    let prefixed = |layer: Layer| Some(format!("{}{}", prefix?, layer.name().trim_start_matches(OWN_PREFIX)));
    Layer::ALL
        .into_iter()
        .filter_map(|layer| Some((layer, given(layers, layer).or_else(|| prefixed(layer))?)))
        .collect()
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
