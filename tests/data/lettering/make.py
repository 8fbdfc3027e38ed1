#!/usr/bin/env python3
"""Writes geometry/src/paper/lettering/widths.rs: how wide the letters of the page's own fonts are; and the same fonts
unpacked into geometry/src/write/pdf, for what is printed.

In: the three faces in public/fonts. Needs fonttools and brotli. Run it from anywhere; it ends with a fault where the faces
are not of one build (other letters, another em, other heights). tests/pack.rs checks what it wrote with another reader.
"""
import pathlib

from fontTools.ttLib import TTFont

ROOT = pathlib.Path(__file__).resolve().parents[3]
FACES = {"REGULAR": "400-normal", "BOLD": "700-normal", "ITALIC": "400-italic"}

fonts = {name: TTFont(ROOT / f"public/fonts/b612-latin-{file}.woff2") for name, file in FACES.items()}
letters = {name: sorted(code for code in font.getBestCmap() if code >= 0x20) for name, font in fonts.items()}
(codes,) = {tuple(of) for of in letters.values()}
(em,) = {font["head"].unitsPerEm for font in fonts.values()}
(heights,) = {(f["OS/2"].sCapHeight, f["OS/2"].sxHeight, f["hhea"].ascent, -f["hhea"].descent) for f in fonts.values()}
(missing,) = {font["hmtx"][font.getGlyphOrder()[0]][0] for font in fonts.values()}

runs = []
for code in codes:
    if runs and runs[-1][1] == code - 1:
        runs[-1][1] = code
    else:
        runs.append([code, code])

out = [
    "//! Widths of the letters of B612, as `tests/data/lettering/make.py` read them from `public/fonts`; not to be edited.",
    "",
    "/// What the em is divided into.",
    f"pub(super) const EM: f64 = {em}.0;",
    "",
    "/// Heights of a capital, of a small x, of the tallest letter over the foot line, and depth of the lowest, in parts of the em.",
    f"pub(super) const HEIGHTS: [u16; 4] = {list(heights)};",
    "",
    "/// Width of the mark that stands where there is no such letter.",
    f"pub(super) const MISSING: u16 = {missing};",
    "",
    "/// The letters that there are: first and last of each run.",
    "#[rustfmt::skip]",
    f"pub(super) const RUNS: [[u32; 2]; {len(runs)}] = [",
    *(f"    [0x{a:x}, 0x{b:x}]," for a, b in runs),
    "];",
]
for name, font in fonts.items():
    cmap, widths = font.getBestCmap(), font["hmtx"]
    figures = [str(widths[cmap[code]][0]) for code in codes]
    out += ["", f"/// Widths of the letters of B612 {name.title()}, in the order of the runs.", "#[rustfmt::skip]"]
    out += [f"pub(super) const {name}: [u16; {len(codes)}] = ["]
    out += [f"    {', '.join(figures[i : i + 18])}," for i in range(0, len(figures), 18)]
    out += ["];"]
(ROOT / "geometry/src/paper/lettering/widths.rs").write_text("\n".join(out) + "\n")

for name, file in FACES.items():
    font = TTFont(ROOT / f"public/fonts/b612-latin-{file}.woff2", recalcTimestamp=False)
    font.flavor = None
    for table in ("GPOS", "GSUB", "GDEF", "DSIG", "gasp"):  # nothing is drawn closer or joined
        if table in font:
            del font[table]
    font.save(ROOT / f"geometry/src/write/pdf/B612-{name.title()}.ttf")
