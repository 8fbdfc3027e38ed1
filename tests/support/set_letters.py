"""Sets texts in fonts as browsers do, by HarfBuzz, and says how wide they are.

In: a job as JSON on standard input: [{"font": path, "text": text}, ...]. Out: on standard output, for each, the width in
parts of the em: without kerning and ligatures, and with all that the font has; and whether the font has all its letters.
"""

import io
import json
import sys

import uharfbuzz
from fontTools.ttLib import TTFont

fonts = {}


def font(path):
    if path not in fonts:
        unpacked = TTFont(path)
        unpacked.flavor = None
        bytes_ = io.BytesIO()
        unpacked.save(bytes_)
        fonts[path] = uharfbuzz.Font(uharfbuzz.Face(bytes_.getvalue()))
    return fonts[path]


def width(of, text, features):
    buffer = uharfbuzz.Buffer()
    buffer.add_str(text)
    buffer.guess_segment_properties()
    uharfbuzz.shape(of, buffer, features)
    has_all = all(info.codepoint != 0 for info in buffer.glyph_infos or [])
    return sum(place.x_advance for place in buffer.glyph_positions or []) / of.face.upem, has_all


def one(job):
    of = font(job["font"])
    plain, has_all = width(of, job["text"], {"kern": False, "liga": False, "clig": False})
    return {"plain": plain, "kerned": width(of, job["text"], {})[0], "has_all": has_all}


json.dump([one(job) for job in json.load(sys.stdin)], sys.stdout)
