"""Reads what we wrote with libraries that no one here wrote, and says what they see.

In: a job as JSON on standard input: {"step": [{"path", "samples": [[face, u, v], ...]}], "tables": [{"csv", "xlsx"}]}.
Out: facts as JSON on standard output; the test judges them. Lengths in mm.
"""

import csv
import json
import sys

import numpy
import openpyxl
from OCP.BRep import BRep_Tool
from OCP.BRepCheck import BRepCheck_Analyzer
from OCP.BRepGProp import BRepGProp
from OCP.GProp import GProp_GProps
from OCP.GeomAbs import GeomAbs_BSplineSurface
from OCP.BRepAdaptor import BRepAdaptor_Surface
from OCP.gp import gp_Pnt, gp_Vec
from OCP.IFSelect import IFSelect_RetDone
from OCP.STEPControl import STEPControl_Reader
from OCP.TopAbs import TopAbs_EDGE, TopAbs_FACE, TopAbs_REVERSED, TopAbs_SHELL, TopAbs_VERTEX
from OCP.TopExp import TopExp, TopExp_Explorer
from OCP.TopoDS import TopoDS
from OCP.collections import (
    IndexedDataMap_TopoDS_Shape_List_TopoDS_Shape_TopTools_ShapeMapHasher as ShapesOfShapes,
    IndexedMap_TopoDS_Shape_TopTools_ShapeMapHasher as Shapes,
)


def parts(shape, kind):
    """Every part of a kind once."""
    found = Shapes()
    TopExp.MapShapes_s(shape, kind, found)
    return [found.FindKey(i + 1) for i in range(found.Extent())]


def oriented_faces(shape):
    """The faces as they stand in the shells, in the file's order."""
    walk = TopExp_Explorer(shape, TopAbs_FACE)
    faces = []
    while walk.More():
        faces.append(TopoDS.Face(walk.Current()))
        walk.Next()
    return faces


def jet(face, u, v):
    """Place and outward unit normal as the oriented face has them; no normal where there is none."""
    surface = BRepAdaptor_Surface(face, False)
    place, du, dv = gp_Pnt(), gp_Vec(), gp_Vec()
    surface.D1(u, v, place, du, dv)
    normal = du.Crossed(dv)
    size = normal.Magnitude()
    sign = -1.0 if face.Orientation() == TopAbs_REVERSED else 1.0
    out = [place.X(), place.Y(), place.Z()]
    if size > 1e-12:
        out += [sign * normal.X() / size, sign * normal.Y() / size, sign * normal.Z() / size]
    return out


def poles(curve):
    """Control points of an edge's curve."""
    return [point(curve.ControlPointsListValue(i + 1)) for i in range(curve.NbControlPointsList())]


def point(entity):
    return numpy.array([entity.CoordinatesValue(i + 1) for i in range(3)])


def vector_area(polygon):
    return sum(numpy.cross(a, b) for a, b in zip(polygon, polygon[1:] + polygon[:1])) / 2


def faults_as_written(model):
    """What in the file breaks the rules of ISO 10303-42 for shells, before the reader's library mends anything.

    The edges of a loop join; the loop runs round its whole patch, anticlockwise about the face's normal; an edge ends at
    its vertices and is no point; two faces of a shell use their common edge in opposite directions.
    """
    faults = []
    entities = [model.Value(i + 1) for i in range(model.NbEntities())]
    kinds = {kind: [e for e in entities if type(e).__name__ == f"StepShape_{kind}"] for kind in ("EdgeCurve", "AdvancedFace", "OpenShell", "ClosedShell")}
    for edge in kinds["EdgeCurve"]:
        curve = poles(edge.EdgeGeometry())
        ends = [point(vertex.VertexGeometry()) for vertex in (edge.EdgeStart(), edge.EdgeEnd())]
        if not edge.SameSense() or any(max(abs(a - b)) > 1e-9 for a, b in zip(ends, (curve[0], curve[-1]))):
            faults.append("an edge does not end at its vertices")
        if max(max(abs(pole - curve[0])) for pole in curve) < 1e-3:
            faults.append("an edge is a point")
    for shell in kinds["OpenShell"] + kinds["ClosedShell"]:
        uses = {}
        for number in range(shell.NbCfsFaces()):
            face = shell.CfsFacesValue(number + 1)
            name = face.Name().ToCString()
            bound = face.BoundsValue(1)
            loop = bound.Bound()
            sides = [loop.EdgeListValue(i + 1) for i in range(loop.NbEdgeList())]
            if face.NbBounds() != 1 or not bound.Orientation():
                faults.append(f"{name}: not one bound the right way round")
            round_, ends = [], []
            for side in sides:
                edge = side.EdgeElement()
                uses.setdefault(edge, []).append(side.Orientation())
                way = 1 if side.Orientation() else -1
                round_ += poles(edge.EdgeGeometry())[::way][:-1]
                ends.append([edge.EdgeStart(), edge.EdgeEnd()][::way])
            if any(a[1] is not b[0] for a, b in zip(ends, ends[1:] + ends[:1])):
                faults.append(f"{name}: its edges do not join")
            patch = face.FaceGeometry()
            rows, columns = patch.NbControlPointsListI(), patch.NbControlPointsListJ()
            rim = [(i, 1) for i in range(1, rows)] + [(rows, j) for j in range(1, columns)]
            rim += [(i, columns) for i in range(rows, 1, -1)] + [(1, j) for j in range(columns, 1, -1)]
            whole = vector_area([point(patch.ControlPointsListValue(i, j)) for i, j in rim])
            turned = whole if face.SameSense() else -whole
            if numpy.linalg.norm(vector_area(round_) - turned) > 1e-9 * numpy.linalg.norm(whole):
                faults.append(f"{name}: its loop does not run round it anticlockwise")
        for ways in uses.values():
            if ways not in ([True], [False], [True, False], [False, True]):
                faults.append(f"an edge is used {ways}")
            if len(ways) == 1 and shell in kinds["ClosedShell"]:
                faults.append("a closed shell has a free edge")
    return faults


def step(job):
    reader = STEPControl_Reader()
    if reader.ReadFile(job["path"]) != IFSelect_RetDone:
        return {"read": False}
    faults = faults_as_written(reader.StepModel())
    complaints = reader.WS().ModelCheckList(True)
    roots = reader.TransferRoots()
    shape = reader.OneShape()
    faces = oriented_faces(shape)
    shells = parts(shape, TopAbs_SHELL)
    neighbours = ShapesOfShapes()
    TopExp.MapShapesAndAncestors_s(shape, TopAbs_EDGE, TopAbs_FACE, neighbours)
    edges = [
        (TopoDS.Edge(neighbours.FindKey(i + 1)), neighbours.FindFromIndex(i + 1).Size())
        for i in range(neighbours.Extent())
    ]
    real = [count for edge, count in edges if not BRep_Tool.Degenerated_s(edge)]
    area, volume = GProp_GProps(), GProp_GProps()
    BRepGProp.SurfaceProperties_s(shape, area, 1e-9, False)
    BRepGProp.VolumeProperties_s(shape, volume, 1e-9, True, False)
    return {
        "read": True,
        "faults": faults,
        "complaints": not complaints.IsEmpty(True),
        "roots": roots,
        "valid": BRepCheck_Analyzer(shape, True).IsValid(),
        "shells": len(shells),
        "closed": [bool(BRep_Tool.IsClosed_s(shell)) for shell in shells],
        "faces": len(faces),
        "all_splines": all(BRepAdaptor_Surface(f, False).GetType() == GeomAbs_BSplineSurface for f in faces),
        "free_edges": real.count(1),
        "shared_edges": real.count(2),
        "points": len(edges) - len(real),
        "vertices": len(parts(shape, TopAbs_VERTEX)),
        "largest_tolerance": max(
            [BRep_Tool.Tolerance_s(edge) for edge, _ in edges]
            + [BRep_Tool.Tolerance_s(TopoDS.Vertex(vertex)) for vertex in parts(shape, TopAbs_VERTEX)]
        ),
        "area": area.Mass(),
        "volume": volume.Mass(),
        "samples": [jet(faces[int(face)], u, v) for face, u, v in job["samples"]],
    }


def table(paths):
    with open(paths["csv"], newline="", encoding="utf-8") as file:
        rows = list(csv.reader(file))
    book = openpyxl.load_workbook(paths["xlsx"])
    sheets = {
        sheet.title: [[[cell.value, cell.number_format] for cell in row] for row in sheet.rows]
        for sheet in book.worksheets
    }
    return {"csv": rows, "sheets": sheets, "created": str(book.properties.created)}


job = json.load(sys.stdin)
json.dump({"step": [step(one) for one in job["step"]], "tables": [table(one) for one in job["tables"]]}, sys.stdout)
