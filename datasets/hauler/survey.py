"""What the maker knows and asks: scales, bars, and the dimensions, with their true values."""
from __future__ import annotations

import numpy as np

from stage import BARS

MODEL_SCALE, REPLICA_SCALE = "1:48", "1:72"


def true_bar_lengths(seed: int) -> dict[str, float]:
    """What the bars really are, mm: drawn from their certificates."""
    rng = np.random.default_rng(seed)
    return {name: round(length + rng.normal(0, u), 4) for name, (length, u) in BARS.items()}


def _rim(where: str) -> str:
    return f"hopper rim corner, {where}"


DECK = ["fender bolt 1, left", "fender bolt 1, right", "fender bolt 4, right", "fender bolt 4, left", "fender bolt 2, left",
        "fender bolt 3, right"]
ROOF = ["cab roof corner, rear left", "cab roof corner, rear right", "cab roof corner, front right",
        "cab roof corner, front left"]
AXIS = [_rim("rear left"), _rim("front left")]


def _distance(name, a, b):
    return {"name": name, "kind": "distance", "points": [a, b]}


def _along(name, a, b, axis):
    return {"name": name, "kind": "along", "points": [a, b], "axis": axis}


def _angle(name, a, b, c):
    return {"name": name, "kind": "angle", "points": [a, b, c]}


def _line(name, point, a, b):
    return {"name": name, "kind": "offset_line", "point": point, "line": [a, b]}


def _plane(name, point, plane):
    return {"name": name, "kind": "offset_plane", "point": point, "plane": plane}


DIMENSIONS = [
    _distance("hopper rim length, left", _rim("rear left"), _rim("front left")),
    _distance("hopper rim length, right", _rim("rear right"), _rim("front right")),
    _distance("hopper rim width, front", _rim("front left"), _rim("front right")),
    _distance("hopper rim width, rear", _rim("rear left"), _rim("rear right")),
    _distance("hopper rim diagonal", _rim("rear left"), _rim("front right")),
    _distance("rim bolt spacing, left", "rim bolt 1, left", "rim bolt 3, left"),
    _distance("wheelbase, left", "idler hub, left", "sprocket hub, left"),
    _distance("wheelbase, right", "idler hub, right", "sprocket hub, right"),
    _distance("road wheel pitch 2 to 5, left", "road wheel hub 2, left", "road wheel hub 5, left"),
    _distance("road wheel pitch 1 to 6, right", "road wheel hub 1, right", "road wheel hub 6, right"),
    _distance("width over idler hubs", "idler hub, left", "idler hub, right"),
    _distance("cab roof length, left", "cab roof corner, rear left", "cab roof corner, front left"),
    _distance("cab roof width, front", "cab roof corner, front left", "cab roof corner, front right"),
    _distance("windscreen sill length", "windscreen sill end, left", "windscreen sill end, right"),
    _distance("headlamp spacing", "headlamp centre, left", "headlamp centre, right"),
    _distance("roof lamp spacing, 1 to 4", "roof lamp 1 centre", "roof lamp 4 centre"),
    _distance("exhaust spacing at the caps", "exhaust cap, left", "exhaust cap, right"),
    _distance("tail lamp spacing", "tail lamp centre, left", "tail lamp centre, right"),
    _distance("front bumper width", "bumper corner, front left, upper", "bumper corner, front right, upper"),
    _distance("hatch № 2 edge", "hatch № 2 corner, rear outer", "hatch № 2 corner, front outer"),
    _distance("fuel tank length", "fuel tank corner, rear outer", "fuel tank corner, front outer"),
    _along("overall length over bumpers, left", "bumper corner, rear left, upper", "bumper corner, front left, upper", AXIS),
    _along("cab roof edge behind bumper, right", "cab roof corner, front right", "bumper corner, front right, upper", AXIS),
    _along("hatch pitch № 1 to № 3", "hatch № 1 hinge", "hatch № 3 hinge", ["fender bolt 1, right", "fender bolt 4, right"]),
    _along("hopper rim front to cab roof rear", _rim("front left"), "cab roof corner, rear left", AXIS),
    _angle("hopper rim angle, front left", _rim("rear left"), _rim("front left"), _rim("front right")),
    _angle("cab roof angle, front right", "cab roof corner, rear right", "cab roof corner, front right",
           "cab roof corner, front left"),
    _angle("track nose angle, left", "idler hub, left", "road wheel hub 6, left", "road wheel hub 1, left"),
    _line("Luke Ø vorn from roof front edge", "Luke Ø vorn", "cab roof corner, front left", "cab roof corner, front right"),
    _line("hatch № 3 hinge from fender bolts", "hatch № 3 hinge", "fender bolt 1, right", "fender bolt 4, right"),
    _line("rim bolt 2 from rim edge, right", "rim bolt 2, right", _rim("rear right"), _rim("front right")),
    _plane("cab height above deck", "cab roof corner, front left", DECK),
    _plane("hopper rim height above deck, rear left", _rim("rear left"), DECK),
    _plane("exhaust height above deck, left", "exhaust cap, left", DECK),
    _plane("Luke Ø vorn above cab roof", "Luke Ø vorn", ROOF),
    _plane("idler hub against deck, right", "idler hub, right", ["fender bolt 1, left", "fender bolt 1, right", "fender bolt 4, right"]),
]


def true_value(dimension: dict, points: dict[str, np.ndarray]) -> tuple[float, str]:
    """The dimension's value from true points: (value, "mm" or "deg")."""
    def unit(v):
        return v / np.linalg.norm(v)

    kind = dimension["kind"]
    if kind in ("distance", "along", "angle"):
        p = [points[name] for name in dimension["points"]]
    if kind == "distance":
        return float(np.linalg.norm(p[1] - p[0])), "mm"
    if kind == "along":
        c, d = (points[name] for name in dimension["axis"])
        return float((p[1] - p[0]) @ unit(d - c)), "mm"
    if kind == "angle":
        u, v = p[0] - p[1], p[2] - p[1]
        return float(np.degrees(np.arctan2(np.linalg.norm(np.cross(u, v)), u @ v))), "deg"
    point = points[dimension["point"]]
    if kind == "offset_line":
        a, b = (points[name] for name in dimension["line"])
        return float(np.linalg.norm(np.cross(point - a, unit(b - a)))), "mm"
    plane = np.array([points[name] for name in dimension["plane"]])
    centre = plane.mean(axis=0)
    # Least squares: the direction of least spread; its sign from the first three points.
    normal = np.linalg.svd(plane - centre)[2][2]
    if normal @ np.cross(plane[1] - plane[0], plane[2] - plane[0]) < 0:
        normal = -normal
    return float((point - centre) @ normal), "mm"


def survey() -> dict:
    """The content of survey.json."""
    def bar(name):
        length, u = BARS[name]
        return {"name": name, "ends": [f"{name} left", f"{name} right"], "length_mm": length, "u_mm": u}

    return {"title": "The tracked ore hauler of an invented film", "model_scale": MODEL_SCALE, "replica_scale": REPLICA_SCALE,
            "board": {"inner_corners": [11, 8], "square_mm": 20.0}, "mark_sigma_px": 0.3,
            "bars": [bar("bar A"), bar("bar B")], "check_length": bar("bar C"), "dimensions": DIMENSIONS}
