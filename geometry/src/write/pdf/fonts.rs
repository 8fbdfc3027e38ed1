//! The faces of a printed text: which letters it needs of them, and how they stand in the file.

use std::collections::BTreeMap;

use pdf_writer::types::{CidFontType, FontFlags, SystemInfo, UnicodeCmap};
use pdf_writer::{Chunk, Filter, Name, Ref, Str};
use subsetter::GlyphRemapper;
use ttf_parser::Face;

use super::packed;
use crate::paper::Typeface;

/// The faces, in the order in which a page names them.
pub(super) const FACES: [Typeface; 3] = [Typeface::Regular, Typeface::Bold, Typeface::Italic];

/// The registered order of glyphs that is the font's own.
const OWN_ORDER: SystemInfo<'static> = SystemInfo {
    registry: Str(b"Adobe"),
    ordering: Str(b"Identity"),
    supplement: 0,
};

/// What a page calls a face.
pub(super) fn name_of(face: Typeface) -> Name<'static> {
    Name(match face {
        Typeface::Regular => b"Regular",
        Typeface::Bold => b"Bold",
        Typeface::Italic => b"Italic",
    })
}

/// What a face calls itself, and its file.
fn file_of(face: Typeface) -> (&'static str, &'static [u8]) {
    match face {
        Typeface::Regular => ("B612-Regular", include_bytes!("B612-Regular.ttf")),
        Typeface::Bold => ("B612-Bold", include_bytes!("B612-Bold.ttf")),
        Typeface::Italic => ("B612-Italic", include_bytes!("B612-Italic.ttf")),
    }
}

/// A face as far as it is used.
pub(super) struct UsedFace {
    pub(super) face: Typeface,
    /// Glyphs of the font by those of its used part.
    used: GlyphRemapper,
    /// Which letter each used glyph is.
    letters: BTreeMap<u16, char>,
    parsed: Option<Face<'static>>,
}

impl UsedFace {
    pub(super) fn new(face: Typeface) -> Self {
        Self {
            face,
            used: GlyphRemapper::new(),
            letters: BTreeMap::new(),
            parsed: Face::parse(file_of(face).1, 0).ok(),
        }
    }

    /// A letter as two bytes of a shown text; none where the face has no such letter.
    pub(super) fn code(&mut self, letter: char) -> Option<[u8; 2]> {
        let glyph = self.parsed.as_ref()?.glyph_index(letter)?;
        let code = self.used.remap(glyph.0);
        self.letters.entry(code).or_insert(letter);
        Some(code.to_be_bytes())
    }

    pub(super) fn is_used(&self) -> bool {
        !self.letters.is_empty()
    }

    /// Writes the face, its letters' widths and which letter each glyph is; `at` gives five numbers of objects, of which the
    /// first is the font.
    pub(super) fn write(&self, chunk: &mut Chunk, at: [Ref; 5]) -> Option<()> {
        let [font, descendant, descriptor, data, to_unicode] = at;
        let (name, file) = file_of(self.face);
        let parsed = self.parsed.as_ref()?;
        // What has only some of a font's letters is named by six capitals and a plus; the same letters give the same name.
        let tag: String = {
            let mut hash = 5381_u32;
            for letter in self.letters.values() {
                hash = hash.wrapping_mul(33) ^ u32::from(*letter);
            }
            (0..6)
                .map(|i| char::from(b'A' + u8::try_from(hash / 26_u32.pow(i) % 26).unwrap_or(0)))
                .collect()
        };
        let name = format!("{tag}+{name}");
        let base = Name(name.as_bytes());
        let em = f32::from(parsed.units_per_em());
        let scaled = |units: i16| f32::from(units) / em * 1000.0;

        chunk
            .type0_font(font)
            .base_font(base)
            .encoding_predefined(Name(b"Identity-H"))
            .descendant_font(descendant)
            .to_unicode(to_unicode);

        let mut cid = chunk.cid_font(descendant);
        cid.subtype(CidFontType::Type2)
            .base_font(base)
            .system_info(OWN_ORDER)
            .font_descriptor(descriptor)
            .default_width(0.0)
            .cid_to_gid_map_predefined(Name(b"Identity"));
        let widths = self.used.remapped_gids().map(|glyph| {
            let units = parsed.glyph_hor_advance(ttf_parser::GlyphId(glyph));
            f32::from(units.unwrap_or(0)) / em * 1000.0
        });
        cid.widths().consecutive(0, widths);
        drop(cid);

        let bounds = parsed.global_bounding_box();
        let mut described = chunk.font_descriptor(descriptor);
        described
            .name(base)
            .flags(match self.face {
                Typeface::Italic => FontFlags::NON_SYMBOLIC | FontFlags::ITALIC,
                Typeface::Regular | Typeface::Bold => FontFlags::NON_SYMBOLIC,
            })
            .bbox(pdf_writer::Rect::new(
                scaled(bounds.x_min),
                scaled(bounds.y_min),
                scaled(bounds.x_max),
                scaled(bounds.y_max),
            ))
            .italic_angle(parsed.italic_angle())
            .ascent(scaled(parsed.ascender()))
            .descent(scaled(parsed.descender()))
            .cap_height(scaled(
                parsed.capital_height().unwrap_or_else(|| parsed.ascender()),
            ))
            .stem_v(if self.face == Typeface::Bold {
                140.0
            } else {
                80.0
            })
            .font_file2(data);
        drop(described);

        let part = subsetter::subset(file, 0, &self.used).ok()?;
        let size = i32::try_from(part.len()).ok()?;
        let bytes = packed(&part);
        let mut stream = chunk.stream(data, &bytes);
        stream.filter(Filter::FlateDecode);
        stream.pair(Name(b"Length1"), size);
        drop(stream);

        let mut letters = UnicodeCmap::new(Name(b"Letters"), OWN_ORDER);
        for (code, letter) in &self.letters {
            letters.pair(*code, *letter);
        }
        let bytes = packed(&letters.finish());
        chunk.cmap(to_unicode, &bytes).filter(Filter::FlateDecode);
        Some(())
    }
}
