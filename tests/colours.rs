//! Colours of our layers in the windows of CAD programs, which are black or white.

use plumbrail::sheet::Layer;

/// Colours that an index of the AutoCAD Color Index stands for. From 10 to 249 the tens are hues in steps of 15 degrees, the
/// ones shades, and odd ones have half the saturation (common practice); how dark the shades are, programs do not agree on.
fn shown(index: i16) -> Vec<[f64; 3]> {
    let grey = |level: f64| [level / 255.0; 3];
    match index {
        1 => vec![[1.0, 0.0, 0.0]],
        2 => vec![[1.0, 1.0, 0.0]],
        3 => vec![[0.0, 1.0, 0.0]],
        4 => vec![[0.0, 1.0, 1.0]],
        5 => vec![[0.0, 0.0, 1.0]],
        6 => vec![[1.0, 0.0, 1.0]],
        8 => vec![grey(128.0)],
        9 => vec![grey(192.0)],
        10..=249 => {
            let shades = [[1.0, 0.8, 0.6, 0.5, 0.3], [1.0, 0.65, 0.5, 0.3, 0.15]];
            let hue = f64::from(index / 10 - 1) / 4.0;
            let channel = |turn: f64| (((hue + turn).rem_euclid(6.0) - 3.0).abs() - 1.0).clamp(0.0, 1.0);
            let least = if index % 2 == 1 { 0.5 } else { 0.0 };
            let mixed = |shade: f64, turn| shade * (least + (1.0 - least) * channel(turn));
            let shades = shades.map(|s| s[usize::try_from(index % 10 / 2).unwrap()]);
            shades.map(|shade| [mixed(shade, 0.0), mixed(shade, 4.0), mixed(shade, 2.0)]).to_vec()
        }
        252 => vec![grey(102.0), grey(132.0)],
        _ => panic!("{index} is not known here"),
    }
}

/// Relative luminance (WCAG 2.1, definition).
fn luminance(colour: [f64; 3]) -> f64 {
    let linear = colour.map(|c| if c <= 0.04045 { c / 12.92 } else { ((c + 0.055) / 1.055).powf(2.4) });
    0.2126 * linear[0] + 0.7152 * linear[1] + 0.0722 * linear[2]
}

/// The lower contrast of the two windows: ratio of luminances, each raised by 0.05 (WCAG 2.1, definition).
fn contrast(index: i16) -> f64 {
    let of = |colour| 1.05f64.min((luminance(colour) + 0.05).powi(2) / 0.05) / (luminance(colour) + 0.05);
    shown(index).into_iter().map(of).fold(f64::INFINITY, f64::min)
}

/// What is needed to understand a drawing has 3:1 (WCAG 2.1, 1.4.11). Colour 7 is black or white, as the window needs it.
#[test]
fn every_layer_is_readable_on_black_and_on_white() {
    for layer in Layer::ALL {
        let (index, _) = layer.colour();
        assert!(index == 7 || contrast(index) >= 3.0, "{}: {index} has {}", layer.name(), contrast(index));
    }
    // What the measure is worth: these do not read on white, or on black.
    for index in [2, 3, 4, 5, 9, 30] {
        assert!(contrast(index) < 3.0, "{index}: {}", contrast(index));
    }
    // Red on white, magenta on white, azure on white: 4.00, 3.14, 3.83, computed by hand from sRGB values.
    for (index, known) in [(1, 4.00), (6, 3.1368), (150, 3.83)] {
        assert!((contrast(index) - known).abs() < 0.02, "{index}: {}", contrast(index));
    }
}
