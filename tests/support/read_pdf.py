"""Reads PDF and SVG files by MuPDF and says what is in them; of an SVG there are no fonts, and nothing of scaling.

In: a job as JSON on standard input: [path, ...]. Out: on standard output, for each, its title, whether it says that it is not
to be scaled, and of each page its size in points, its text, the fonts with whether they are embedded, its straight strokes as
from, to, width, its curves as four places and a width, and what a scanner reads of it at 200 dots an inch.
"""

import json
import sys

import numpy
import pymupdf
import zxingcpp

MM = 25.4 / 72


# Points; a page that is no larger fits a scanner.
LARGEST_SCANNED = 3000


def scanned(page):
    pixels = page.get_pixmap(dpi=200, colorspace=pymupdf.csGRAY)
    rows = numpy.frombuffer(pixels.samples, dtype=numpy.uint8).reshape(pixels.height, pixels.stride)
    return [code.text for code in zxingcpp.read_barcodes(rows[:, : pixels.width])]


def page_facts(document, page):
    strokes, curves = [], []
    for drawing in page.get_drawings():
        for item in drawing["items"]:
            if item[0] == "l":
                strokes.append([item[1].x, item[1].y, item[2].x, item[2].y, drawing["width"] or 0])
            if item[0] == "c":
                places = [edge for place in item[1:5] for edge in (place.x, place.y)]
                curves.append([*places, drawing["width"] or 0])
    fonts = [
        {"name": font[3], "kind": font[2], "embedded": len(document.extract_font(font[0])[3]) > 0}
        for font in (page.get_fonts(full=True) if document.is_pdf else [])
    ]
    words = [[word[4], *(edge * MM for edge in word[:4])] for word in page.get_text("words")]
    return {
        "size": [page.rect.width, page.rect.height],
        "text": page.get_text(),
        "words": words,
        "fonts": fonts,
        "strokes": strokes,
        "curves": curves,
        "scanned": scanned(page) if page.rect.width < LARGEST_SCANNED else [],
    }


def facts(path):
    document = pymupdf.open(path)
    scaling = None
    if document.is_pdf:
        scaling = document.xref_get_key(document.pdf_catalog(), "ViewerPreferences/PrintScaling")[1]
    return {
        "title": document.metadata["title"],
        "scaling": scaling,
        "repaired": document.is_pdf and document.is_repaired,
        "pages": [page_facts(document, page) for page in document],
    }


print(json.dumps([facts(path) for path in json.load(sys.stdin)]))
