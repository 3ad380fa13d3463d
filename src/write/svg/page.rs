//! Sheets of paper as SVG: a group for each layer, with the views at their place and the ink of the sheet over them.

use std::collections::BTreeMap;

use super::markup::Markup;
use super::{Sheet, end, layer_head, root};
use crate::base::plane::point;
use crate::sheet::{Layer, Page};
use crate::write::paper::{Part, parts};

/// One sheet at its size. `names` are those of the layers that the job calls by another name than ours.
pub fn page(page: &Page, names: &BTreeMap<Layer, String>) -> String {
    let mut out = root(page.size.x, page.size.y, &format!("{} {}", page.number, page.title));
    let parts = parts(page);
    windows(&mut out, page, &parts);
    for layer in Layer::ALL {
        out.group(
            |out| layer_head(out, layer, names, "id"),
            |out| {
                for (index, part) in parts.iter().enumerate() {
                    let sheet = Sheet {
                        corner: point(part.window.0.x, part.window.1.y),
                        paper: part.paper,
                        left: part.at.x,
                        top: page.size.y - part.at.y - part.size().y,
                    };
                    let items = |out: &mut Markup| part.on(layer).for_each(|item| sheet.item(out, item));
                    if part.is_cut {
                        let clip = format!("url(#{})", clip_name(page, index));
                        out.group(|out| out.attribute("clip-path", &clip), items);
                    } else {
                        items(out);
                    }
                }
            },
        );
    }
    end(out)
}

/// The parts of the sheet on which the views show that are cut off there.
fn windows(out: &mut Markup, page: &Page, parts: &[Part<'_>]) {
    let cut: Vec<(usize, &Part<'_>)> = parts.iter().enumerate().filter(|(_, part)| part.is_cut).collect();
    if cut.is_empty() {
        return;
    }
    out.raw("\n");
    out.open("defs");
    out.inside();
    for (index, part) in cut {
        window(out, &clip_name(page, index), part, page.size.y);
    }
    out.raw("\n");
    out.close("defs");
}

/// The part of the sheet on which a view shows.
fn window(out: &mut Markup, name: &str, part: &Part<'_>, height: f64) {
    let size = part.size();
    out.raw("\n");
    out.open("clipPath");
    out.attribute("id", name);
    out.inside();
    out.raw("\n");
    out.open("rect");
    out.number("height", size.y);
    out.number("width", size.x);
    out.number("x", part.at.x);
    out.number("y", height - part.at.y - size.y);
    out.empty();
    out.raw("\n");
    out.close("clipPath");
}

/// With the number of the sheet, so that several sheets can stand in one document.
fn clip_name(page: &Page, index: usize) -> String {
    let number: String = page.number.chars().filter(char::is_ascii_alphanumeric).collect();
    format!("view-{number}-{index}")
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::write::sample_page;

    #[test]
    fn a_sheet_has_its_size_in_millimetres_and_one_group_a_layer() {
        let names = BTreeMap::from([(Layer::Panel, "A-FLOR-HRAL".to_owned())]);
        let svg = page(&sample_page::page(), &names);
        assert!(svg.contains("width=\"100mm\"") && svg.contains("height=\"50mm\""), "{svg}");
        assert!(svg.contains("viewBox=\"0 0 100 50\"") && svg.contains("<title>R1 Plan &lt;a &amp; b&gt;</title>"));
        let groups: Vec<&str> =
            svg.split(" id=\"").skip(1).map(|g| g.split('"').next().unwrap()).filter(|g| !g.contains("view")).collect();
        assert_eq!(groups, ["RAIL-SHEET", "A-FLOR-HRAL", "RAIL-POST", "RAIL-TEXT"]);
    }

    #[test]
    fn a_view_lies_at_its_place_and_is_cut_off_where_it_is_a_part() {
        let svg = page(&sample_page::page(), &BTreeMap::new());
        // The window's lower left corner is 10 mm over the lower edge of a sheet of 50; the rail runs 10 mm over it.
        assert!(svg.contains("M10 30L50 30") && svg.contains("M20 40L40 20"), "{svg}");
        assert!(svg.contains("M5 45L95 45L95 5L5 5Z"), "the frame is on the sheet itself: {svg}");
        assert_eq!(svg.matches("<rect height=\"20\" width=\"20\" x=\"20\" y=\"20\"/>").count(), 1, "{svg}");
        assert_eq!(svg.matches("clip-path=\"url(#view-R1-0)\"").count(), 3);
        let mut whole = sample_page::page();
        whole.views[0].window = (point(0.0, 0.0), point(400.0, 200.0));
        assert!(!page(&whole, &BTreeMap::new()).contains("clip"));
    }
}
