//! Sheets of paper as pictures, in a build with the feature `png`: the sheet's SVG, drawn with the built-in typeface.

use std::collections::BTreeMap;
use std::fmt;

use resvg::tiny_skia::{Pixmap, Transform};
use resvg::usvg::{Options, Tree};

use super::paper::FACES;
use crate::sheet::{Layer, Page};

/// Pixels that a picture may have: four bytes each while it is drawn, 36 x 48 in at 300 dots an inch.
const MOST_PIXELS: f64 = 160e6;
const MM_IN_INCH: f64 = 25.4;

/// Why a sheet is no picture.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum PngError {
    /// At this resolution the picture would have more pixels than a machine can hold, or none.
    Size {
        /// Number of the sheet.
        sheet: String,
        /// Width and height in pixels.
        pixels: (u64, u64),
    },
    /// The drawing failed; the words are those of the library that drew.
    Drawing {
        /// Number of the sheet.
        sheet: String,
        /// What was wrong.
        why: String,
    },
}

impl fmt::Display for PngError {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            Self::Size { sheet, pixels: (wide, high) } => {
                write!(f, "sheet {sheet} cannot be a picture of {wide} x {high} pixels; choose other dots an inch")
            }
            Self::Drawing { sheet, why } => write!(f, "sheet {sheet} cannot be drawn: {why}"),
        }
    }
}

impl std::error::Error for PngError {}

/// One sheet at `dpi` dots an inch. `names` are those of the layers that the job calls by another name than ours.
///
/// # Errors
/// When the picture would be too large or empty.
pub fn page(page: &Page, names: &BTreeMap<Layer, String>, dpi: f64) -> Result<Vec<u8>, PngError> {
    let [wide, high] = [page.size.x, page.size.y].map(|mm| (mm / MM_IN_INCH * dpi).round());
    let sheet = || page.number.clone();
    if !(wide >= 1.0 && high >= 1.0 && wide * high <= MOST_PIXELS) {
        return Err(PngError::Size { sheet: sheet(), pixels: (wide as u64, high as u64) });
    }
    let failed = |why: String| PngError::Drawing { sheet: sheet(), why };
    let mut options = Options::default();
    for face in FACES {
        options.fontdb_mut().load_font_data(face.to_vec());
    }
    let tree = Tree::from_str(&super::svg::page(page, names), &options).map_err(|e| failed(e.to_string()))?;
    let mut picture =
        Pixmap::new(wide as u32, high as u32).ok_or_else(|| failed("no picture of that size".to_owned()))?;
    // The whole sheet fills the picture, which is a whole number of pixels wide and high.
    let (across, down) = (wide as f32 / tree.size().width(), high as f32 / tree.size().height());
    resvg::render(&tree, Transform::from_scale(across, down), &mut picture.as_mut());
    picture.encode_png().map_err(|e| failed(e.to_string()))
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::base::plane::point;
    use crate::sheet::{Align, Layer, Shape};
    use crate::write::sample_page::{self, item, sheet, text};

    fn drawn(page: &Page, dpi: f64) -> Pixmap {
        Pixmap::decode_png(&super::page(page, &BTreeMap::new(), dpi).unwrap()).unwrap()
    }

    fn darkness(picture: &Pixmap, x: u32, y: u32) -> u32 {
        let p = picture.pixel(x, y).unwrap();
        765 - u32::from(p.red()) - u32::from(p.green()) - u32::from(p.blue())
    }

    #[test]
    fn a_picture_has_the_pixels_of_its_paper_and_what_is_drawn() {
        // 100 x 50 mm at 254 dots an inch are 10 dots a millimetre.
        let picture = drawn(&sample_page::page(), 254.0);
        assert_eq!((picture.width(), picture.height()), (1000, 500));
        assert!(darkness(&picture, 290, 300) < 10, "a post is white inside, over the rail");
        assert!(darkness(&picture, 250, 300) > 600, "the rail");
        assert!(darkness(&picture, 450, 300) < 10, "nothing beyond the cut");
        assert!(darkness(&picture, 2, 2) < 10, "white paper");
    }

    #[test]
    fn texts_are_drawn_with_the_built_in_typeface_centred_by_its_advance() {
        let picture =
            drawn(&sheet(vec![item(Layer::Text, Shape::Text(text(point(50.0, 20.0), Align::Centre, "HH")))]), 254.0);
        let inked = (0..1000).filter(|x| darkness(&picture, *x, 280) > 300);
        let (first, last) = inked.fold((1000, 0), |(low, high), x| (low.min(x), high.max(x)));
        // Each 1386 of 2048 units wide, with 180 of them white at either end (`hmtx` and `glyf` tables).
        let em = |units: f64| units / 2048.0 * 100.0;
        assert!((f64::from(first) - (500.0 - em(1386.0) + em(180.0))).abs() < 2.0, "{first}");
        assert!((f64::from(last) - (500.0 + em(1386.0) - em(180.0))).abs() < 2.0, "{last}");
    }

    #[test]
    fn what_would_be_too_large_or_nothing_is_refused() {
        for dpi in [1e6, 0.0, -10.0, f64::NAN, 0.01] {
            let refused = page(&sample_page::page(), &BTreeMap::new(), dpi);
            assert!(matches!(refused, Err(PngError::Size { .. })), "{dpi}");
        }
    }
}
