//! Texts of a document: which characters each face is used for, how wide they run, and the faces in the file.
//!
//! A character is shown by its own number, counted from 1 in the order of Unicode. So each keeps its meaning for searching
//! and copying, also those that the face lacks: they are shown as a box.

use std::collections::{BTreeMap, BTreeSet};
use std::fmt::Write;

use miniz_oxide::deflate::compress_to_vec_zlib;
use pdf_writer::types::{CidFontType, FontFlags, SystemInfo, UnicodeCmap};
use pdf_writer::{Filter, Finish, Name, Pdf, Rect, Ref, Str};
use sha2::{Digest, Sha256};
use subsetter::GlyphRemapper;
use ttf_parser::{Face, GlyphId};

use super::EFFORT;
use crate::sheet::{Item, Page};
use crate::write::paper::{FACES, legal, parts};

/// What stands for a character that the face lacks.
const BOX: char = '□';

/// Registry and ordering of character numbers that are the font's own (ISO 32000-1, 9.7.5.2).
const OWN: SystemInfo<'_> = SystemInfo { registry: Str(b"Adobe"), ordering: Str(b"Identity"), supplement: 0 };

/// Both faces, regular and bold.
pub(super) struct Fonts([Font; 2]);

struct Font {
    id: Ref,
    /// In the resources of pages, and the PostScript name.
    name: [&'static str; 2],
    bytes: &'static [u8],
    face: Option<Face<'static>>,
    glyphs: BTreeMap<char, Glyph>,
    /// Further objects: descendant, descriptor, file, numbers to shapes, numbers to characters.
    parts: [Ref; 5],
}

struct Glyph {
    /// Number in the document.
    number: u16,
    /// Number in the face.
    shape: GlyphId,
    /// Advance, in em.
    advance: f64,
}

impl Fonts {
    /// The faces with the characters of all texts.
    pub(super) fn of(pages: &[Page], last: &mut Ref) -> Self {
        let mut used = [BTreeSet::new(), BTreeSet::new()];
        let [regular, bold] = &mut used;
        for part in pages.iter().flat_map(parts) {
            for text in part.all().flat_map(Item::texts) {
                let face = if text.bold { &mut *bold } else { &mut *regular };
                face.extend(legal(&text.content).chars());
            }
        }
        let [regular, bold] = used;
        let ([regular_face, bold_face], mut font) = (FACES, |name, bytes, used| Font::new(name, bytes, used, last));
        Self([
            font(["F0", "DejaVuSansCondensed"], regular_face, regular),
            font(["F1", "DejaVuSansCondensed-Bold"], bold_face, bold),
        ])
    }

    /// Those that have characters, by the names that contents call them.
    pub(super) fn used(&self) -> impl Iterator<Item = (&[u8], Ref)> {
        self.0.iter().filter(|f| !f.glyphs.is_empty()).map(|f| (f.name_in_pages().as_bytes(), f.id))
    }

    /// Name, characters as a hexadecimal string, and advance in em.
    pub(super) fn set(&self, text: &str, bold: bool) -> (&'static str, String, f64) {
        let [regular, heavy] = &self.0;
        let font = if bold { heavy } else { regular };
        let (mut shown, mut advance) = (String::new(), 0.0);
        for glyph in legal(text).chars().filter_map(|c| font.glyphs.get(&c)) {
            // Writing to a string cannot fail.
            let _ = write!(shown, "{:04X}", glyph.number);
            advance += glyph.advance;
        }
        (font.name_in_pages(), shown, advance)
    }

    /// Puts the faces into the file, cut down to what is used.
    pub(super) fn write(&self, pdf: &mut Pdf) {
        self.0.iter().filter(|f| !f.glyphs.is_empty()).for_each(|f| f.write(pdf));
    }
}

impl Font {
    fn new(name: [&'static str; 2], bytes: &'static [u8], used: BTreeSet<char>, last: &mut Ref) -> Self {
        let id = last.bump();
        let parts = [last.bump(), last.bump(), last.bump(), last.bump(), last.bump()];
        // The faces are built in and whole; a test reads them.
        let face = Face::parse(bytes, 0).ok();
        let mut glyphs = BTreeMap::new();
        if let Some(face) = &face {
            let em = f64::from(face.units_per_em());
            for (character, number) in used.into_iter().zip(1..=u16::MAX) {
                let shape = face.glyph_index(character).or_else(|| face.glyph_index(BOX)).unwrap_or_default();
                let advance = f64::from(face.glyph_hor_advance(shape).unwrap_or(0)) / em;
                glyphs.insert(character, Glyph { number, shape, advance });
            }
        }
        Self { id, name, bytes, face, glyphs, parts }
    }

    const fn name_in_pages(&self) -> &'static str {
        let [name, _] = self.name;
        name
    }

    fn write(&self, pdf: &mut Pdf) {
        let Some(face) = &self.face else { return };
        let [descendant, descriptor, file, to_shapes, to_unicode] = self.parts;
        let mut shapes = GlyphRemapper::new();
        let mut map = vec![0, 0];
        for glyph in self.glyphs.values() {
            map.extend(shapes.remap(glyph.shape.0).to_be_bytes());
        }
        let subset = subsetter::subset(self.bytes, 0, &shapes).unwrap_or_default();
        let name = format!("{}+{}", tag(&subset), self.name[1]);
        let name = Name(name.as_bytes());
        pdf.type0_font(self.id)
            .base_font(name)
            .encoding_predefined(Name(b"Identity-H"))
            .descendant_font(descendant)
            .to_unicode(to_unicode);
        let mut cid = pdf.cid_font(descendant);
        cid.subtype(CidFontType::Type2).base_font(name).system_info(OWN).font_descriptor(descriptor);
        cid.default_width(0.0).cid_to_gid_map_stream(to_shapes);
        cid.widths().consecutive(1, self.glyphs.values().map(|g| (g.advance * 1000.0) as f32));
        cid.finish();
        describe(pdf, descriptor, file, name, face);
        pdf.stream(file, &compress_to_vec_zlib(&subset, EFFORT))
            .filter(Filter::FlateDecode)
            .pair(Name(b"Length1"), super::count(subset.len()));
        pdf.stream(to_shapes, &compress_to_vec_zlib(&map, EFFORT)).filter(Filter::FlateDecode);
        let mut unicode = UnicodeCmap::new(Name(b"Custom"), OWN);
        for (character, glyph) in &self.glyphs {
            unicode.pair(glyph.number, *character);
        }
        pdf.stream(to_unicode, &compress_to_vec_zlib(&unicode.finish(), EFFORT)).filter(Filter::FlateDecode);
    }
}

/// What a viewer without the face would need to choose another.
fn describe(pdf: &mut Pdf, id: Ref, file: Ref, name: Name<'_>, face: &Face<'_>) {
    let thousandths = |units: i16| f32::from(units) * 1000.0 / f32::from(face.units_per_em());
    let all = face.global_bounding_box();
    let all = Rect::new(thousandths(all.x_min), thousandths(all.y_min), thousandths(all.x_max), thousandths(all.y_max));
    let outline = |c: char| face.glyph_bounding_box(face.glyph_index(c)?);
    // `l` is a single stem, `H` as high as all capitals.
    let stem = outline('l').map_or(0, |b| b.x_max - b.x_min);
    let capitals = outline('H').map_or(0, |b| b.y_max);
    pdf.font_descriptor(id)
        .name(name)
        // Has characters that no Latin standard set holds.
        .flags(FontFlags::SYMBOLIC)
        .bbox(all)
        .italic_angle(0.0)
        .ascent(thousandths(face.ascender()))
        .descent(thousandths(face.descender()))
        .cap_height(thousandths(capitals))
        .stem_v(thousandths(stem))
        .font_file2(file);
}

/// Six capitals that tell subsets of a face apart (ISO 32000-1, 9.6.4).
fn tag(subset: &[u8]) -> String {
    Sha256::digest(subset).iter().take(6).map(|byte| char::from(b'A' + byte % 26)).collect()
}
