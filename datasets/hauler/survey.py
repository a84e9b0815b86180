"""What the maker knows and asks: scales, bars, edges, rounds and planes, axes, and the dimensions."""
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


# --- edges, rounds and planes ---------------------------------------------------------------------

# Turned and wrapped by hand: oval by some hundredths of a millimetre.
POINT_KINDS = [{"name": "round by hand", "u_mm": 0.02}]


def _seen(is_a, name, kind=None):
    return {"name": name, "is": is_a, **({"kind": kind} if kind else {})}


def _through(is_a, name, points):
    return {"name": name, "is": is_a, "points": points}


def _crossing(name, a, b):
    return {"name": name, "is": "crossing", "of": [a, b]}


def _bolts(disc, side):
    """Those that the upper run of the track does not hide."""
    return [f"{disc} bolt {k}, {side}" for k in (5, 6, 7, 8, 9, 10, 1)]


def _pairs(*names):
    """Right and left, in that order: the mirror plane's normal then points to the left, and its line forwards."""
    return [[name.format("right"), name.format("left")] for name in names]


RIVETS = [f"rim rivet {k}, left" for k in range(2, 12)]
# What bolt_marks.csv holds.
SMALL_PLACES = [*_bolts("idler", "left"), *_bolts("idler", "right"), *_bolts("sprocket", "left"), *_bolts("sprocket", "right"),
                *RIVETS]

SHAPES = [
    *(_seen("edge", name) for name in (
        "hopper rim edge, left", "hopper rim edge, right", "cab roof edge, front", "cab roof edge, rear",
        "cab roof edge, left", "cab roof edge, right", "fender edge, left", "front bumper edge, upper",
        "fuel tank edge, outer")),
    *(_seen("rim", name, "round by hand") for name in (
        "roof hatch rim", "idler disc, left", "road wheel 2 disc, left", "road wheel 5 disc, right", "exhaust mouth, left",
        "exhaust mouth, right")),
    _seen("rim", "tail lamp rim, left"),
    *(_seen("outline", name, "round by hand") for name in ("exhaust, left", "exhaust, right", "muffler, left")),
    *(_seen("outline", name) for name in ("pipe, left fender", "pipe, right fender")),
    _through("plane", "deck", DECK),
    _through("plane", "cab roof", ROOF),
    _through("plane", "bumper face", [f"bumper corner, front {c}" for c in (
        "left, upper", "left, lower", "right, lower", "right, upper")]),
    _through("plane", "target cards", ["T01", "T03", "T13", "T05", "T08", "T11"]),
    # The cards are 0.6 mm thick, glued and printed.
    {"name": "ground", "is": "parallel_plane", "of": "target cards", "by_mm": -0.67},
    _through("line", "road wheel line, left", [f"road wheel hub {k}, left" for k in range(1, 7)]),
    _through("circle", "idler bolt circle, left", _bolts("idler", "left")),
    _through("cylinder", "sprocket bolts", [*_bolts("sprocket", "left"), *_bolts("sprocket", "right")]),
    _through("plane", "discs, left", [*_bolts("idler", "left"), *_bolts("sprocket", "left")]),
    _through("plane", "discs, right", [*_bolts("idler", "right"), *_bolts("sprocket", "right")]),
    {"name": "middle of the crawlers", "is": "mid_plane", "of": ["discs, left", "discs, right"]},
    {"name": "middle of the hull", "is": "mirror_plane", "pairs": _pairs(
        "bumper corner, front {}, upper", "bumper corner, front {}, lower", "bumper corner, rear {}, upper",
        "mudguard tip, front {}", "mudguard tip, rear {}", "headlamp centre, {}", "tail lamp centre, {}", "sprocket hub, {}")},
    _crossing("centre line", "middle of the hull", "deck"),
    _crossing("bow", "centre line", "bumper face"),
    *(_crossing(f"roof corner by its edges, {a} {b}", f"cab roof edge, {a}", f"cab roof edge, {b}")
      for a in ("front", "rear") for b in ("left", "right")),
]
AXES = {"plane": "ground", "line": "centre line", "origin": "bow"}


def _between(name, a, b):
    return {"name": name, "kind": "angle_between", "shapes": [a, b]}


def _gap(name, a, b):
    return {"name": name, "kind": "gap", "shapes": [a, b]}


def _size(kind, name, shape):
    return {"name": name, "kind": kind, "shape": shape}


def _of_points(kind, name, points):
    return {"name": name, "kind": kind, "points": points}


def _arc(name, circle, a, b, via=None):
    return {"name": name, "kind": "arc", "circle": circle, "points": [a, b], **({"via": via} if via else {})}


def _coordinate(axis, point):
    return {"name": f"{axis} of {point}", "kind": "ordinate", "point": point, "axis": axis}


def _symmetry(what, name):
    return {"name": f"symmetry of the {what}", "kind": "mirror_departure", "mirror": "middle of the hull",
            "points": [name.format("right"), name.format("left")]}


_ROWS = {"road wheels, left": [f"road wheel hub {k}, left" for k in range(1, 7)],
         "road wheels, right": [f"road wheel hub {k}, right" for k in range(1, 7)],
         "fender bolts, right": [f"fender bolt {k}, right" for k in range(1, 5)],
         "roof lamps": [f"roof lamp {k} centre" for k in range(1, 5)],
         "rim rivets, left": RIVETS}
_BY_EDGES = [f"roof corner by its edges, {c}" for c in ("front left", "front right", "rear right", "rear left")]

DIMENSIONS += [
    *(_size("diameter", f"Ø {name}", name) for name in (
        "pipe, left fender", "pipe, right fender", "exhaust, left", "exhaust, right", "muffler, left", "exhaust mouth, left",
        "exhaust mouth, right", "road wheel 2 disc, left", "road wheel 5 disc, right", "tail lamp rim, left")),
    *(_size("radius", f"radius of {name}", name) for name in (
        "roof hatch rim", "idler disc, left", "idler bolt circle, left", "sprocket bolts")),
    _gap("hopper rim width between its edges", "hopper rim edge, left", "hopper rim edge, right"),
    _gap("cab roof width between its edges", "cab roof edge, left", "cab roof edge, right"),
    _gap("cab roof length between its edges", "cab roof edge, front", "cab roof edge, rear"),
    _gap("cab roof over deck", "cab roof", "deck"),
    _gap("deck over ground", "deck", "ground"),
    _gap("width over the discs", "discs, left", "discs, right"),
    _gap("pipe, left fender, over deck", "pipe, left fender", "deck"),
    _between("lean of the exhausts", "exhaust, left", "exhaust, right"),
    _between("hopper against hull", "hopper rim edge, left", "fender edge, left"),
    _between("cab roof edges, front left", "cab roof edge, front", "cab roof edge, left"),
    _between("cab roof against deck", "cab roof", "deck"),
    _between("exhaust, left, on deck", "exhaust, left", "deck"),
    _between("sprocket axis against the middle", "sprocket bolts", "middle of the hull"),
    _distance("exhaust mouths", "exhaust mouth, left", "exhaust mouth, right"),
    _distance("cab roof diagonal by its edges", _BY_EDGES[0], _BY_EDGES[2]),
    _distance("wheel 2 disc to sprocket disc axis", "road wheel 2 disc, left", "sprocket bolts"),
    {"name": "overall length along the centre line", "kind": "along", "axis": ["centre line"],
     "points": ["bumper corner, rear left, upper", "bumper corner, front left, upper"]},
    {"name": "rim bolt 2 from the rim edge, left", "kind": "offset_line", "point": "rim bolt 2, left",
     "line": ["hopper rim edge, left"]},
    {"name": "fuel cap from the tank edge", "kind": "offset_line", "point": "fuel cap", "line": ["fuel tank edge, outer"]},
    {"name": "roof hatch rim over cab roof", "kind": "offset_plane", "point": "roof hatch rim", "plane": ["cab roof"]},
    {"name": "tail lamp rim from the middle", "kind": "offset_plane", "point": "tail lamp rim, left",
     "plane": ["middle of the hull"]},
    {"name": "middle of the crawlers from the bow", "kind": "offset_plane", "point": "bow", "plane": ["middle of the crawlers"]},
    _of_points("chain", "hopper rim, three sides", [_rim("rear left"), _rim("front left"), _rim("front right"), _rim("rear right")]),
    _of_points("chain", "cab roof by its edges, three sides", _BY_EDGES),
    _of_points("chain", "along the road wheels, right", _ROWS["road wheels, right"]),
    _arc("roof hatch rim between the hinges", "roof hatch rim", "roof hatch hinge, left", "roof hatch hinge, right"),
    _arc("idler bolts 5 to 9, the shorter way", "idler bolt circle, left", "idler bolt 5, left", "idler bolt 9, left"),
    _arc("idler bolts 5 to 9, over the top", "idler bolt circle, left", "idler bolt 5, left", "idler bolt 9, left",
         "idler bolt 1, left"),
    *(_of_points("pitch", f"pitch of the {what}", names) for what, names in _ROWS.items()),
    *(_of_points("row_departure", f"regularity of the {what}", names) for what, names in _ROWS.items()),
    _of_points("area", "hopper mouth", [_rim("rear left"), _rim("front left"), _rim("front right"), _rim("rear right")]),
    _of_points("area", "cab roof area", ROOF),
    _of_points("area", "bumper face area", SHAPES[[s["name"] for s in SHAPES].index("bumper face")]["points"]),
    *(_coordinate(axis, "cab roof corner, front left") for axis in "xyz"),
    _coordinate("z", "exhaust mouth, left"),
    _coordinate("z", "exhaust mouth, right"),
    _coordinate("x", "roof hatch rim"),
    _coordinate("y", _rim("rear left")),
    _coordinate("y", _rim("rear right")),
    _symmetry("hopper rim, rear", "hopper rim corner, rear {}"),
    _symmetry("hopper rim, front", "hopper rim corner, front {}"),
    _symmetry("exhaust caps", "exhaust cap, {}"),
    _symmetry("idler hubs", "idler hub, {}"),
    _symmetry("headlamps", "headlamp centre, {}"),
]


def survey() -> dict:
    """The content of survey.json."""
    def bar(name):
        length, u = BARS[name]
        return {"name": name, "ends": [f"{name} left", f"{name} right"], "length_mm": length, "u_mm": u}

    return {"title": "The tracked ore hauler of an invented film", "model_scale": MODEL_SCALE, "replica_scale": REPLICA_SCALE,
            "board": {"inner_corners": [11, 8], "square_mm": 20.0}, "mark_sigma_px": 0.3,
            "bars": [bar("bar A"), bar("bar B")], "check_length": bar("bar C"), "point_kinds": POINT_KINDS, "shapes": SHAPES,
            "axes": AXES, "dimensions": DIMENSIONS}
