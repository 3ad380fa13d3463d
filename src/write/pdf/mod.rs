//! Sheets of paper as PDF 1.7 (ISO 32000-1): lines stay lines and texts stay texts, each sheet at its own size.
//!
//! Layers are optional content that a viewer can switch; a bookmark leads to each sheet. No clock is read: there is no
//! creation date, and the file's identifier comes from its content.

mod content;
mod font;
mod meta;
#[cfg(test)]
mod tests;

use std::collections::{BTreeMap, BTreeSet};

use miniz_oxide::deflate::compress_to_vec_zlib;
use pdf_writer::{Filter, Finish, Name, Pdf, Rect, Ref, TextStr};
use sha2::{Digest, Sha256};

use super::paper::{self, Part};
use crate::base::{Point, both};
use crate::sheet::{Layer, Page};
use font::Fonts;

/// Points of a millimetre: 72 in an inch (ISO 32000-1, 8.3.2.3).
const POINTS: f64 = 72.0 / 25.4;
/// As small as a page gets in a time that nobody notices.
const EFFORT: u8 = 6;

/// What the document says of itself.
#[derive(Debug, Clone, Default, PartialEq, Eq)]
pub struct PdfFacts {
    /// Title.
    pub title: String,
    /// Who drew it.
    pub author: Option<String>,
    /// What it is about.
    pub subject: Option<String>,
    /// Words to find it by, with commas between.
    pub keywords: Option<String>,
}

/// Numbers of the objects that others point to.
struct Refs {
    last: Ref,
    tree: Ref,
    outline: Ref,
    /// Of each layer that is used.
    layers: BTreeMap<Layer, Ref>,
    /// Of each sheet: the page, its content, its bookmark.
    pages: Vec<[Ref; 3]>,
}

impl Refs {
    fn new(pages: &[Page]) -> Self {
        let mut last = Ref::new(1);
        let (tree, outline) = (last.bump(), last.bump());
        let parts = || pages.iter().flat_map(paper::parts);
        let used =
            Layer::ALL.into_iter().filter(|layer| parts().any(|part: Part<'_>| part.on(*layer).next().is_some()));
        let layers = used.map(|layer| (layer, last.bump())).collect();
        let pages = pages.iter().map(|_| [last.bump(), last.bump(), last.bump()]).collect();
        Self { last, tree, outline, layers, pages }
    }
}

/// The sheets as one document. `names` are those of the layers that the job calls by another name than ours.
pub fn document(pages: &[Page], names: &BTreeMap<Layer, String>, facts: &PdfFacts) -> Vec<u8> {
    let mut refs = Refs::new(pages);
    let mut pdf = Pdf::new();
    let fonts = Fonts::of(pages, &mut refs.last);
    fonts.write(&mut pdf);
    for (layer, id) in &refs.layers {
        let mut group = pdf.indirect(*id).dict();
        group.pair(Name(b"Type"), Name(b"OCG"));
        group.pair(Name(b"Name"), TextStr(&paper::name_of(names, *layer)));
    }
    let mut digest = Sha256::new();
    let (first, second) = pages.split_at(pages.len() / 2);
    let (first, second) = both(|| Ink::of(first, &fonts), || Ink::of(second, &fonts));
    for ((sheet, ids), ink) in pages.iter().zip(&refs.pages).zip(first.iter().chain(&second)) {
        digest.update(&ink.plain);
        page(&mut pdf, sheet, *ids, &refs, &fonts, &ink.packed);
    }
    let mut tree = pdf.pages(refs.tree);
    tree.kids(refs.pages.iter().map(|[page, ..]| *page)).count(count(pages.len()));
    tree.finish();
    bookmarks(&mut pdf, pages, &refs);
    let info = meta::write(&mut pdf, &mut refs.last, facts);
    digest.update(&info.packet);
    catalog(&mut pdf, &mut refs, info.id);
    let id: Vec<u8> = digest.finalize().iter().take(16).copied().collect();
    pdf.set_file_id((id.clone(), id));
    pdf.finish()
}

/// What is drawn on a sheet.
struct Ink {
    plain: Vec<u8>,
    packed: Vec<u8>,
}

impl Ink {
    fn of(pages: &[Page], fonts: &Fonts) -> Vec<Self> {
        let ink = |page| {
            let plain = content::of(page, fonts);
            Self { packed: compress_to_vec_zlib(&plain, EFFORT), plain }
        };
        pages.iter().map(ink).collect()
    }
}

/// A number of things as PDF counts them.
fn count(number: usize) -> i32 {
    i32::try_from(number).unwrap_or(i32::MAX)
}

/// The root of the document.
fn catalog(pdf: &mut Pdf, refs: &mut Refs, metadata: Ref) {
    let mut catalog = pdf.catalog(refs.last.bump());
    catalog.pages(refs.tree).metadata(metadata).lang(TextStr("en"));
    if !refs.pages.is_empty() {
        catalog.outlines(refs.outline);
    }
    // A template that the print dialog has shrunk to the page's margins is a wrong hole.
    catalog.viewer_preferences().display_doc_title(true).pair(Name(b"PrintScaling"), Name(b"None"));
    if !refs.layers.is_empty() {
        let mut content = catalog.insert(Name(b"OCProperties")).dict();
        content.insert(Name(b"OCGs")).array().items(refs.layers.values());
        let mut usual = content.insert(Name(b"D")).dict();
        usual.pair(Name(b"Name"), TextStr("Layers"));
        usual.insert(Name(b"Order")).array().items(refs.layers.values());
    }
}

fn page(pdf: &mut Pdf, sheet: &Page, ids: [Ref; 3], refs: &Refs, fonts: &Fonts, packed: &[u8]) {
    let [id, stream, _] = ids;
    let mut page = pdf.page(id);
    let size = paper_size(sheet.size);
    page.parent(refs.tree).media_box(size).trim_box(size).contents(stream);
    let mut resources = page.resources();
    let mut dict = resources.fonts();
    for (name, font) in fonts.used() {
        dict.pair(Name(name), font);
    }
    dict.finish();
    let used: BTreeSet<Layer> =
        refs.layers.keys().copied().filter(|l| paper::parts(sheet).iter().any(|p| p.on(*l).next().is_some())).collect();
    let mut properties = resources.insert(Name(b"Properties")).dict();
    for (layer, id) in refs.layers.iter().filter(|(layer, _)| used.contains(layer)) {
        properties.pair(Name(layer.name().as_bytes()), *id);
    }
    properties.finish();
    resources.finish();
    page.finish();
    pdf.stream(stream, packed).filter(Filter::FlateDecode);
}

/// A sheet's size in points.
fn paper_size(size: Point) -> Rect {
    Rect::new(0.0, 0.0, (size.x * POINTS) as f32, (size.y * POINTS) as f32)
}

/// One for each sheet, all in one row.
fn bookmarks(pdf: &mut Pdf, pages: &[Page], refs: &Refs) {
    let marks: Vec<Ref> = refs.pages.iter().map(|[.., mark]| *mark).collect();
    let (Some(first), Some(last)) = (marks.first(), marks.last()) else { return };
    pdf.outline(refs.outline).first(*first).last(*last).count(count(marks.len()));
    let before = std::iter::once(None).chain(marks.iter().map(Some));
    let after = marks.iter().skip(1).map(Some).chain([None]);
    for (((sheet, [page, _, mark]), before), after) in pages.iter().zip(&refs.pages).zip(before).zip(after) {
        let mut item = pdf.outline_item(*mark);
        item.parent(refs.outline).title(TextStr(&paper::legal(&format!("{} {}", sheet.number, sheet.title))));
        if let Some(before) = before {
            item.prev(*before);
        }
        if let Some(after) = after {
            item.next(*after);
        }
        item.dest().page(*page).fit();
    }
}
