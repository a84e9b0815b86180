"""Reads a DXF with ezdxf and compares it with the table: read_dxf.py DXF TABLE."""
import math
import sys

import ezdxf
from ezdxf.lldxf.encoding import decode_dxf_unicode

from expected_table import Comparison, ellipse_ends, read_table

DXF, TABLE = sys.argv[1:3]
document = ezdxf.readfile(DXF)
comparison = Comparison()
comparison.same("errors that an audit finds", [], [error.message for error in document.audit().errors])
comparison.same("unit ($INSUNITS, 4 is mm)", 4, document.header["$INSUNITS"])
comparison.same("release", "AC1015", document.dxfversion)


def decoded(text):
    # ezdxf leaves the halves of what lies beyond 16 bits apart.
    return decode_dxf_unicode(text).encode("utf-16", "surrogatepass").decode("utf-16")


def name_of(entity):
    if not entity.has_xdata("SCANTLING"):
        return ""
    return decoded("".join(tag.value for tag in entity.get_xdata("SCANTLING") if tag.code == 1000))


def xy(vector):
    return (vector[0], vector[1])


found, texts = {}, {}
for entity in document.modelspace():
    layer, kind = entity.dxf.layer, entity.dxftype()
    comparison.same(f"layer {layer} is in the table", True, layer in document.layers)
    if kind == "TEXT":
        texts.setdefault(layer, []).append(decoded(entity.dxf.text))
        continue
    if kind == "LINE":
        places = [xy(entity.dxf.start), xy(entity.dxf.end)]
    elif kind == "CIRCLE":
        x, y = xy(entity.dxf.center)
        places = ellipse_ends(x, y, entity.dxf.radius, entity.dxf.radius, 0.0)
    elif kind == "ELLIPSE":
        x, y = xy(entity.dxf.center)
        major = xy(entity.dxf.major_axis)
        length = math.hypot(*major)
        places = ellipse_ends(x, y, length, length * entity.dxf.ratio, math.degrees(math.atan2(major[1], major[0])))
    elif kind == "ARC":
        places = [xy(entity.start_point), xy(entity.end_point), xy(entity.dxf.center)]
    elif kind == "POINT":
        places = [xy(entity.dxf.location)]
    elif kind == "LWPOLYLINE":
        places = [xy(point) for point in entity.get_points("xy")]
    elif kind == "POLYLINE":
        places = [xy(vertex.dxf.location) for vertex in entity.vertices]
    elif kind == "SOLID":
        places = [xy(entity.dxf.vtx0), xy(entity.dxf.vtx1), xy(entity.dxf.vtx2)]
    else:
        comparison.faults.append(f"a {kind} in layer {layer}")
        continue
    found.setdefault((layer, name_of(entity)), []).append(places)


def circle_places(numbers):
    cx, cy, major, minor, turn = numbers
    # A circle may be read at any angle: where both axes are equal the turn says nothing.
    return ellipse_ends(cx, cy, major, minor, 0.0 if abs(major - minor) < 1e-9 else turn)


rows = read_table(TABLE)
for kind, name, numbers in rows:
    if kind == "edge":
        comparison.near(f"edge {name}", [tuple(numbers[:2]), tuple(numbers[2:])], found.get(("EDGES", name), []))
    elif kind == "centre line":
        comparison.near("centre line", [tuple(numbers[:2]), tuple(numbers[2:])], found.get(("CENTRE-LINES", ""), []))
    elif kind == "ellipse":
        comparison.near(f"circle {name}", circle_places(numbers), found.get(("CIRCLES", name), []))
    elif kind == "point":
        comparison.near(f"point {name}", [tuple(numbers)], found.get(("POINTS", name), []))
    elif kind == "arc":
        cx, cy, r, first, last = numbers
        places = [(cx + r * math.cos(math.radians(a)), cy + r * math.sin(math.radians(a))) for a in (first, last)]
        comparison.near(f"arc {name}", places + [(cx, cy)], found.get(("CIRCLES", name), []))
    elif kind == "dimension":
        comparison.same(f"text {name}", True, name in texts["DIMENSIONS"])
outline = [row for row in rows if row[0] == "corner"]
comparison.near("outline", [tuple(row[2]) for row in outline], found.get(("EDGES", outline[0][1]), []))
comparison.same("uncertainty has a layer of its own", True, any(layer == "UNCERTAINTY" for layer, _ in found))
comparison.same("the unit is said in a text", True, any("mm" in text for text in texts["LEGEND"]))
comparison.end()
