//! Dictionaries and layouts, without which strict readers take a drawing for damaged.

use std::collections::BTreeSet;

use super::document::Skeleton;
use super::{Handle, Handles, Records, Tags};
use crate::base::{Point, Unit, decimal, plane::point};
use crate::cad::{Version, folded};
use crate::catalog::Paper;
use crate::sheet::Page;

/// Sheet of a paper space without a page: ISO 216 A3, landscape.
const PLAIN_MM: Point = point(420.0, 297.0);

/// Characters that no layout's name may have (DXF reference, symbol names).
const FORBIDDEN: &str = "<>/\\\":;?*|,=`";

/// A paper space, its layout and its sheet.
pub(super) struct Space {
    /// Its `BLOCK_RECORD`.
    pub(super) record: Handle,
    /// Its LAYOUT.
    pub(super) layout: Handle,
    /// Name of its block.
    pub(super) block: String,
    /// Name of its layout, which the program shows.
    name: String,
    /// Unit of the paper: inch or millimetre.
    unit: Unit,
    /// Width and height in that unit.
    pub(super) size: Point,
}

/// An empty one, which is the current one, and one for each page: many programs draw what stands in the current paper space
/// over the plan. LibreCAD 2.2 draws those of the blocks, too, small and at the origin, whatever they are called.
pub(super) fn spaces(pages: &[Page], unit: Unit, handles: &mut Handles) -> (Space, Vec<Space>) {
    const PLAIN: &str = "Layout1";
    let mut names = BTreeSet::from([folded("Model"), folded(PLAIN)]);
    let mut space = |block, name, size| {
        let (record, layout) = (handles.take(), handles.take());
        Space { record, layout, block, name, unit, size: size / unit.millimetres() }
    };
    let current = space("*Paper_Space".to_owned(), PLAIN.to_owned(), PLAIN_MM);
    let numbered = pages.iter().enumerate();
    let sheets = numbered.map(|(n, page)| space(format!("*Paper_Space{n}"), layout_name(page, &mut names), page.size));
    (current, sheets.collect())
}

/// `R1 Plan`, without what a name may not have, and unlike all before without regard to case.
fn layout_name(page: &Page, taken: &mut BTreeSet<String>) -> String {
    /// Room for a number behind it: names have 255 characters.
    const LONGEST: usize = 240;
    let is_good = |c: &char| !c.is_control() && !FORBIDDEN.contains(*c);
    let name: String = format!("{} {}", page.number, page.title).chars().filter(is_good).take(LONGEST).collect();
    let name = name.trim();
    let numbered = (2_u64..).map(|n| format!("{name} ({n})"));
    let mut all = std::iter::once(name.to_owned()).filter(|n| !n.is_empty()).chain(numbered);
    all.find(|name| taken.insert(folded(name))).unwrap_or_default()
}

/// Kinds of objects that we write and that are not built into every reader.
pub(super) fn classes(tags: &mut Tags<'_>, layouts: usize) {
    for (record, class) in [
        ("ACDBDICTIONARYWDFLT", "AcDbDictionaryWithDefault"),
        ("ACDBPLACEHOLDER", "AcDbPlaceHolder"),
        ("LAYOUT", "AcDbLayout"),
    ] {
        tags.text(0, "CLASS");
        tags.text(1, record);
        tags.text(2, class);
        tags.text(3, "ObjectDBX Classes");
        tags.int(90, 0);
        if tags.target().version >= Version::R2004 {
            // How many there are.
            tags.int(91, if record == "LAYOUT" { i64::try_from(layouts).unwrap_or(i64::MAX) } else { 1 });
        }
        // Was no proxy; is no entity.
        tags.int(280, 0);
        tags.int(281, 0);
    }
}

/// The root dictionary and what hangs on it.
pub(super) fn objects(tags: &mut Tags<'_>, skeleton: &Skeleton, ours: &Records) {
    let mut entries = vec![("ACAD_GROUP", skeleton.groups)];
    if tags.target().has_owners() {
        entries.extend([("ACAD_LAYOUT", skeleton.layouts), ("ACAD_PLOTSTYLENAME", skeleton.plot_styles)]);
    }
    dictionary(tags, "DICTIONARY", (skeleton.root, Handle::default()), &entries);
    dictionary(tags, "DICTIONARY", (skeleton.groups, skeleton.root), &[]);
    if !tags.target().has_owners() {
        return;
    }
    let mut layouts: Vec<(&str, Handle)> = skeleton.papers().map(|p| (p.name.as_str(), p.layout)).collect();
    layouts.push(("Model", skeleton.model_layout));
    layouts.sort_by_key(|(name, _)| folded(name));
    dictionary(tags, "DICTIONARY", (skeleton.layouts, skeleton.root), &layouts);
    let normal = [("Normal", skeleton.plot_style)];
    dictionary(tags, "ACDBDICTIONARYWDFLT", (skeleton.plot_styles, skeleton.root), &normal);
    tags.subclass("AcDbDictionaryWithDefault");
    tags.handle(340, skeleton.plot_style);
    tags.record("ACDBPLACEHOLDER", skeleton.plot_style, skeleton.plot_styles);
    model_layout(tags, skeleton);
    for (place, paper) in skeleton.papers().enumerate() {
        let view_port = ours.papers.get(place).map(|p| p.view_port);
        // Pages plot by their set-up (16: 1:1 from a list) with pens (128) and plot styles (32), windows first (512).
        let flags = if view_port.is_some() { 16 + 32 + 128 + 512 } else { 0 };
        tags.record("LAYOUT", paper.layout, skeleton.layouts);
        page_setup(tags, paper.size * paper.unit.millimetres(), paper.unit, flags);
        let limits = (Point::default(), paper.size);
        let extents = view_port.map(|_| limits);
        layout(tags, (&paper.name, place + 1), limits, extents);
        tags.handle(330, paper.record);
        if let Some(view_port) = view_port {
            // The window that was active last: the paper.
            tags.handle(331, view_port);
        }
    }
}

fn dictionary(tags: &mut Tags<'_>, kind: &str, (own, owner): (Handle, Handle), entries: &[(&str, Handle)]) {
    tags.record(kind, own, owner);
    tags.subclass("AcDbDictionary");
    if tags.target().has_owners() {
        // Of two records with one name, keep the drawing's own.
        tags.int(281, 1);
    }
    for (name, entry) in entries {
        tags.text(3, name);
        tags.handle(350, *entry);
    }
}

fn model_layout(tags: &mut Tags<'_>, skeleton: &Skeleton) {
    /// Bit of the page set-up's flags: this is the model's.
    const MODEL: i64 = 1024;
    tags.record("LAYOUT", skeleton.model_layout, skeleton.layouts);
    page_setup(tags, PLAIN_MM, Unit::Millimetre, MODEL);
    layout(tags, ("Model", 0), (Point::default(), PLAIN_MM), None);
    tags.handle(330, skeleton.ties.model_space);
}

/// Name of a sheet as page set-ups have it: `ISO_A3_(420.00_x_297.00_MM)`, width first.
fn paper_name(size_mm: Point) -> String {
    /// Half a millimetre is a rounding, not another sheet.
    const SAME_MM: f64 = 0.5;
    let (short, long) = (size_mm.x.min(size_mm.y), size_mm.x.max(size_mm.y));
    let is_this = |p: &Paper| {
        let (a, b) = p.sides_mm();
        (a - short).abs() < SAME_MM && (b - long).abs() < SAME_MM
    };
    let (series, unit, sign) = match Paper::ALL.into_iter().find(is_this) {
        Some(Paper::Letter) => ("ANSI_A", Unit::Inch, "Inches"),
        Some(Paper::AnsiB) => ("ANSI_B", Unit::Inch, "Inches"),
        Some(Paper::ArchC) => ("ARCH_C", Unit::Inch, "Inches"),
        Some(Paper::ArchD) => ("ARCH_D", Unit::Inch, "Inches"),
        Some(Paper::A4) => ("ISO_A4", Unit::Millimetre, "MM"),
        Some(Paper::A3) => ("ISO_A3", Unit::Millimetre, "MM"),
        Some(Paper::A2) => ("ISO_A2", Unit::Millimetre, "MM"),
        Some(Paper::A1) => ("ISO_A1", Unit::Millimetre, "MM"),
        None => ("User", Unit::Millimetre, "MM"),
    };
    let side = |mm: f64| {
        let text = decimal(mm / unit.millimetres(), 2);
        let (whole, rest) = text.split_once('.').unwrap_or((&text, ""));
        format!("{whole}.{rest:0<2}")
    };
    format!("{series}_({}_x_{}_{sign})", side(size_mm.x), side(size_mm.y))
}

/// Page set-up of a sheet that is as wide and high as it lies, without margins, so that the origin of the paper space is
/// the sheet's corner. Paper sizes are in mm whatever the unit.
fn page_setup(tags: &mut Tags<'_>, size_mm: Point, unit: Unit, flags: i64) {
    tags.subclass("AcDbPlotSettings");
    // No page set-up name, no printer; the sheet; no view.
    for (code, value) in [(1, ""), (2, "none_device"), (4, &paper_name(size_mm)), (6, "")] {
        tags.text(code, value);
    }
    // Margins, paper size, plot origin, window.
    let (width, height) = (size_mm.x, size_mm.y);
    for (code, value) in [(40, 0.0), (41, 0.0), (42, 0.0), (43, 0.0), (44, width), (45, height), (46, 0.0), (47, 0.0)] {
        tags.real(code, value);
    }
    // Window's other end, then one unit on paper for one drawn.
    for (code, value) in [(48, 0.0), (49, 0.0), (140, 0.0), (141, 0.0), (142, 1.0), (143, 1.0)] {
        tags.real(code, value);
    }
    let is_model = flags & 1024 != 0;
    // Flags, inches or millimetres, not turned, plot the layout (or the extents), no plot style table, 1:1, as displayed.
    tags.int(70, flags);
    tags.int(72, i64::from(!unit.is_imperial()));
    tags.int(73, 0);
    tags.int(74, if is_model { 1 } else { 5 });
    tags.text(7, "");
    for (code, value) in [(75, 16), (76, 0), (77, 2), (78, 300)] {
        tags.int(code, value);
    }
    for (code, value) in [(147, 1.0), (148, 0.0), (149, 0.0)] {
        tags.real(code, value);
    }
}

/// The layout's own part, but for what it shows; extents are "nothing yet" if there are none.
fn layout(tags: &mut Tags<'_>, (name, tab): (&str, usize), limits: (Point, Point), extents: Option<(Point, Point)>) {
    tags.subclass("AcDbLayout");
    tags.text(1, name);
    tags.int(70, 1);
    tags.int(71, i64::try_from(tab).unwrap_or(i64::MAX));
    tags.point_2d(10, limits.0);
    tags.point_2d(11, limits.1);
    // Insertion base.
    tags.point(12, point(0.0, 0.0));
    if let Some((low, high)) = extents {
        tags.point(14, low);
        tags.point(15, high);
    } else {
        for (code, value) in [(14, 1e20), (24, 1e20), (34, 1e20), (15, -1e20), (25, -1e20), (35, -1e20)] {
            tags.real(code, value);
        }
    }
    // Elevation, coordinate system: origin, x and y axis, not orthographic.
    tags.real(146, 0.0);
    tags.point(13, point(0.0, 0.0));
    tags.point(16, point(1.0, 0.0));
    tags.point(17, point(0.0, 1.0));
    tags.int(76, 0);
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn sheets_have_the_names_that_page_set_ups_use() {
        assert_eq!(paper_name(point(914.4, 609.6)), "ARCH_D_(36.00_x_24.00_Inches)");
        assert_eq!(paper_name(point(215.9, 279.4)), "ANSI_A_(8.50_x_11.00_Inches)");
        assert_eq!(paper_name(PLAIN_MM), "ISO_A3_(420.00_x_297.00_MM)");
        assert_eq!(paper_name(point(500.0, 300.25)), "User_(500.00_x_300.25_MM)");
    }
}
