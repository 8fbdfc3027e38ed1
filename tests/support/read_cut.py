"""Reads what is cut and what is packed: DXF files by ezdxf, archives by Python's own zipfile and hashlib.

In: a job as JSON on standard input: {"dxf": [path, ...], "archives": [path, ...]}. Out: on standard output, for each DXF what
its audit finds, what its head says, its layers, and its entities: of a spline samples as parameter, x, y; of an arc, a circle
and a polyline points no further apart than arcs of 1e-3 mm of height; of a text what it says and where. For each archive what
its test says, of each file name, size and SHA-256, and the rows of each list.
"""

import csv
import hashlib
import io
import json
import sys
import zipfile

import ezdxf

HEIGHT = 1e-3


def points_of(entity):
    kind = entity.dxftype()
    if kind == "LINE":
        return [entity.dxf.start, entity.dxf.end]
    return list(entity.flattening(HEIGHT))


def entity_facts(entity):
    kind = entity.dxftype()
    dxf = entity.dxf
    facts = {"kind": kind, "layer": dxf.layer, "weight": dxf.get("lineweight"), "line": dxf.get("linetype")}
    if kind == "SPLINE":
        curve = entity.construction_tool()
        last = curve.max_t
        places = [last * i / 997 for i in range(998)]
        facts["closed"] = entity.closed
        facts["samples"] = [[t, p.x, p.y] for t, p in zip(places, curve.points(places))]
    elif kind == "LWPOLYLINE":
        facts["closed"] = bool(entity.closed)
        facts["count"] = len(entity)
        facts["bulges"] = [bulge for *_, bulge in entity.get_points("xyb")]
        facts["sides"] = [[[p.x, p.y] for p in points_of(side)] for side in entity.virtual_entities()]
    elif kind in ("ARC", "CIRCLE", "LINE"):
        facts["points"] = [[p.x, p.y] for p in points_of(entity)]
    elif kind == "TEXT":
        anchor, place, _ = entity.get_placement()
        facts.update(
            says=ezdxf.decode_dxf_unicode(entity.plain_text()),
            height=dxf.height,
            turned=dxf.rotation,
            style=dxf.style,
            anchor=anchor.name,
            begins=[dxf.insert.x, dxf.insert.y],
            at=[place.x, place.y],
        )
    elif kind == "HATCH":
        facts["solid"] = dxf.solid_fill == 1
        facts["paths"] = [[[x, y] for x, y, *_ in path.vertices] for path in entity.paths]
    return facts


def dxf_facts(path):
    document = ezdxf.readfile(path)
    audit = document.audit()
    head = document.header
    return {
        "version": document.dxfversion,
        "errors": [error.message for error in audit.errors],
        "fixes": [fix.message for fix in audit.fixes],
        "units": document.units,
        "metric": head["$MEASUREMENT"],
        "extents": [*head["$EXTMIN"][:2], *head["$EXTMAX"][:2]],
        "limits": list(head["$LIMMAX"][:2]),
        "layers": [
            {"name": layer.dxf.name, "colour": layer.color, "weight": layer.dxf.lineweight, "line": layer.dxf.linetype}
            for layer in document.layers
        ],
        "lines": {
            line.dxf.name: [tag.value for tag in line.pattern_tags.tags if tag.code == 49]
            for line in document.linetypes
        },
        "entities": [entity_facts(entity) for entity in document.modelspace()],
    }


def archive_facts(path):
    with zipfile.ZipFile(path) as archive:
        return {
            "bad": archive.testzip(),
            "files": [
                {
                    "name": info.filename,
                    "size": info.file_size,
                    "sha256": hashlib.sha256(archive.read(info)).hexdigest(),
                    "date": list(info.date_time),
                    "method": info.compress_type,
                    "utf8": bool(info.flag_bits & 0x800),
                }
                for info in archive.infolist()
            ],
            "lists": {
                info.filename: list(csv.reader(io.StringIO(archive.read(info).decode("utf-8"))))
                for info in archive.infolist()
                if info.filename.endswith(".csv")
            },
        }


job = json.load(sys.stdin)
print(json.dumps({
    "dxf": [dxf_facts(path) for path in job["dxf"]],
    "archives": [archive_facts(path) for path in job["archives"]],
}))
