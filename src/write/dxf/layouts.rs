//! Dictionaries and layouts, without which strict readers take a drawing for damaged.

use super::document::Skeleton;
use super::{Handle, Tags};
use crate::base::{Point, plane::point};
use crate::cad::Version;

/// Sheet of the empty paper space: ISO 216 A3, landscape.
pub(super) const SHEET_MM: Point = point(420.0, 297.0);

/// Kinds of objects that we write and that are not built into every reader.
pub(super) fn classes(tags: &mut Tags<'_>) {
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
            tags.int(91, if record == "LAYOUT" { 2 } else { 1 });
        }
        // Was no proxy; is no entity.
        tags.int(280, 0);
        tags.int(281, 0);
    }
}

/// The root dictionary and what hangs on it.
pub(super) fn objects(tags: &mut Tags<'_>, skeleton: &Skeleton) {
    let mut entries = vec![("ACAD_GROUP", skeleton.groups)];
    if tags.target().has_owners() {
        entries.extend([("ACAD_LAYOUT", skeleton.layouts), ("ACAD_PLOTSTYLENAME", skeleton.plot_styles)]);
    }
    dictionary(tags, "DICTIONARY", (skeleton.root, Handle::default()), &entries);
    dictionary(tags, "DICTIONARY", (skeleton.groups, skeleton.root), &[]);
    if !tags.target().has_owners() {
        return;
    }
    let layouts = [("Layout1", skeleton.paper_layout), ("Model", skeleton.model_layout)];
    dictionary(tags, "DICTIONARY", (skeleton.layouts, skeleton.root), &layouts);
    let normal = [("Normal", skeleton.plot_style)];
    dictionary(tags, "ACDBDICTIONARYWDFLT", (skeleton.plot_styles, skeleton.root), &normal);
    tags.subclass("AcDbDictionaryWithDefault");
    tags.handle(340, skeleton.plot_style);
    tags.record("ACDBPLACEHOLDER", skeleton.plot_style, skeleton.plot_styles);
    layout(tags, skeleton, "Model");
    layout(tags, skeleton, "Layout1");
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

/// LAYOUT: page set-up and the space that it shows. Paper sizes are in mm.
fn layout(tags: &mut Tags<'_>, skeleton: &Skeleton, name: &str) {
    /// Bit of the page set-up's flags: this is the model's.
    const MODEL: i64 = 1024;
    let is_model = name == "Model";
    let (own, space) = if is_model {
        (skeleton.model_layout, skeleton.ties.model_space)
    } else {
        (skeleton.paper_layout, skeleton.paper_space)
    };
    tags.record("LAYOUT", own, skeleton.layouts);
    tags.subclass("AcDbPlotSettings");
    // No page set-up name, no printer; an A3 sheet; no view.
    for (code, value) in [(1, ""), (2, "none_device"), (4, "ISO_A3_(420.00_x_297.00_MM)"), (6, "")] {
        tags.text(code, value);
    }
    // Margins, paper size, plot origin, window.
    let (width, height) = (SHEET_MM.x, SHEET_MM.y);
    for (code, value) in [(40, 5.0), (41, 5.0), (42, 5.0), (43, 5.0), (44, width), (45, height), (46, 0.0), (47, 0.0)] {
        tags.real(code, value);
    }
    // Window's other end, then one unit on paper for one drawn.
    for (code, value) in [(48, 0.0), (49, 0.0), (140, 0.0), (141, 0.0), (142, 1.0), (143, 1.0)] {
        tags.real(code, value);
    }
    // Flags, millimetres, not turned, plot the layout (or the extents), no plot style table, 1:1, as displayed.
    tags.int(70, if is_model { MODEL } else { 0 });
    tags.int(72, 1);
    tags.int(73, 0);
    tags.int(74, if is_model { 1 } else { 5 });
    tags.text(7, "");
    for (code, value) in [(75, 16), (76, 0), (77, 2), (78, 300)] {
        tags.int(code, value);
    }
    for (code, value) in [(147, 1.0), (148, 0.0), (149, 0.0)] {
        tags.real(code, value);
    }
    tags.subclass("AcDbLayout");
    tags.text(1, name);
    tags.int(70, 1);
    tags.int(71, i64::from(!is_model));
    // Limits, insertion base, and extents that say "nothing yet".
    tags.point_2d(10, point(0.0, 0.0));
    tags.point_2d(11, SHEET_MM);
    tags.point(12, point(0.0, 0.0));
    for (code, value) in [(14, 1e20), (24, 1e20), (34, 1e20), (15, -1e20), (25, -1e20), (35, -1e20)] {
        tags.real(code, value);
    }
    // Elevation, coordinate system: origin, x and y axis, not orthographic.
    tags.real(146, 0.0);
    tags.point(13, point(0.0, 0.0));
    tags.point(16, point(1.0, 0.0));
    tags.point(17, point(0.0, 1.0));
    tags.int(76, 0);
    tags.handle(330, space);
}
