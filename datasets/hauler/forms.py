"""Points, lines, planes and rounds, as they truly are: what the survey asks, answered from exact geometry.

Written apart from the measuring program, from the definitions in its documentation; it fits without weights, for
true places have none. Millimetres and radians.
"""
from __future__ import annotations

from dataclasses import dataclass, field

import numpy as np

from scene import SeenShape


@dataclass(frozen=True)
class Form:
    """A point, line, plane, circle or cylinder: where it is, which way it points, how large."""

    kind: str
    position: np.ndarray  # of a line, plane or cylinder: the middle of what it goes through; of a circle the centre
    direction: np.ndarray = field(default_factory=lambda: np.zeros(3))
    radius: float = 0.0


def unit(v: np.ndarray) -> np.ndarray:
    """The vector at length 1."""
    return v / np.linalg.norm(v)


def point(position: np.ndarray) -> Form:
    """A point."""
    return Form("point", np.asarray(position, float))


# --- what is seen ---------------------------------------------------------------------------------

def across(axis: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
    """Two unit vectors at right angles to the axis and to each other."""
    first = unit(np.cross(axis, [0.36, 0.48, 0.80]))
    return first, np.cross(unit(axis), first)


def oval(shape: SeenShape) -> tuple[np.ndarray, np.ndarray]:
    """Two conjugate half axes, mm in the scene, of a rim, or of a cylinder's section at right angles to its axis."""
    turn = shape.frame[:3, :3]
    first, second = (shape.radius * turn @ e for e in across(shape.end - shape.start))
    if shape.kind == "cylinder":
        axis = unit(turn @ (shape.end - shape.start))
        first, second = first - axis * (axis @ first), second - axis * (axis @ second)
    return first, second


def seen(shape: SeenShape) -> Form:
    """The line, circle or cylinder that it is; its radius the mean all around, for its frame made it a little oval."""
    a, b = (shape.frame[:3, :3] @ p + shape.frame[:3, 3] for p in (shape.start, shape.end))
    if shape.kind == "edge":
        return Form("line", (a + b) / 2, unit(b - a))
    first, second = oval(shape)
    turn = np.linspace(0, 2 * np.pi, 720, endpoint=False)
    radius = np.linalg.norm(np.outer(np.cos(turn), first) + np.outer(np.sin(turn), second), axis=1).mean()
    if shape.kind == "rim":
        return Form("circle", a, unit(np.cross(first, second)), float(radius))
    return Form("cylinder", (a + b) / 2, unit(b - a), float(radius))


# --- through points -------------------------------------------------------------------------------

def _side(normal: np.ndarray, points: np.ndarray) -> np.ndarray:
    """The normal, turned to the side to which the order of the first three points tells."""
    return normal if normal @ np.cross(points[1] - points[0], points[2] - points[0]) > 0 else -normal


def line_through(points: np.ndarray) -> Form:
    """From the first towards the last point."""
    centre = points.mean(axis=0)
    direction = np.linalg.svd(points - centre)[2][0]
    return Form("line", centre, direction if direction @ (points[-1] - points[0]) > 0 else -direction)


def plane_through(points: np.ndarray) -> Form:
    """The normal's side is told by the first three points."""
    centre = points.mean(axis=0)
    return Form("plane", centre, _side(np.linalg.svd(points - centre)[2][2], points))


def _least_squares(departures, start: np.ndarray) -> np.ndarray:
    """Levenberg-Marquardt with numeric derivatives, to the last digits."""
    values, damping = start.astype(float), 1e-3
    for _ in range(200):
        found = departures(values)
        slopes = np.empty((len(found), len(values)))
        for k in range(len(values)):
            step = np.zeros(len(values))
            step[k] = 1e-5
            slopes[:, k] = (departures(values + step) - departures(values - step)) / 2e-5
        normal = slopes.T @ slopes
        change = np.linalg.solve(normal + damping * np.diag(np.diag(normal)), slopes.T @ found)
        better = np.linalg.norm(departures(values - change)) < np.linalg.norm(found)
        values, damping = (values - change, damping / 5) if better else (values, damping * 5)
        if damping > 1e9:
            return values
    raise ValueError("the form does not fit")


def circle_through(points: np.ndarray) -> Form:
    """In the plane through the points."""
    plane = plane_through(points)
    e, f = across(plane.direction)
    flat = np.stack([(points - plane.position) @ e, (points - plane.position) @ f], axis=1)
    x, y, radius = _least_squares(lambda v: np.hypot(flat[:, 0] - v[0], flat[:, 1] - v[1]) - v[2],
                                  np.array([0.0, 0.0, np.linalg.norm(flat, axis=1).mean()]))
    return Form("circle", plane.position + x * e + y * f, plane.direction, float(radius))


def cylinder_through(points: np.ndarray, axis: np.ndarray) -> Form:
    """`axis` says roughly which way it runs."""
    centre = points.mean(axis=0)
    e, f = across(axis)

    def departures(v):
        direction = unit(unit(axis) + v[2] * e + v[3] * f)
        arms = points - centre - v[0] * e - v[1] * f
        return np.linalg.norm(arms - np.outer(arms @ direction, direction), axis=1) - v[4]

    arms = points - centre
    radius = np.linalg.norm(arms - np.outer(arms @ unit(axis), unit(axis)), axis=1).mean()
    v = _least_squares(departures, np.array([0, 0, 0, 0, radius]))
    direction = unit(unit(axis) + v[2] * e + v[3] * f)
    place = centre + v[0] * e + v[1] * f
    if direction @ (points[-1] - points[0]) < 0:
        direction = -direction
    return Form("cylinder", place + direction * ((centre - place) @ direction), direction, float(v[4]))


# --- made of others -------------------------------------------------------------------------------

def crossing(a: Form, b: Form) -> Form:
    """Of two lines the point between them, of a line and a plane a point, of two planes a line."""
    flat_a, flat_b = (f.kind in ("plane", "circle") for f in (a, b))
    if flat_a and flat_b:
        direction = unit(np.cross(a.direction, b.direction))
        middle = (a.position + b.position) / 2
        rows = np.array([a.direction, b.direction, direction])
        return Form("line", np.linalg.solve(rows, [a.direction @ a.position, b.direction @ b.position, direction @ middle]),
                    direction)
    if flat_a or flat_b:
        plane, line = (a, b) if flat_a else (b, a)
        return point(line.position + line.direction * (plane.direction @ (plane.position - line.position))
                     / (plane.direction @ line.direction))
    s, t = np.linalg.lstsq(np.stack([a.direction, -b.direction], axis=1), b.position - a.position, rcond=None)[0]
    return point((a.position + s * a.direction + b.position + t * b.direction) / 2)


def mid_plane(a: Form, b: Form) -> Form:
    """Of two planes that are nearly parallel."""
    other = b.direction if a.direction @ b.direction > 0 else -b.direction
    return Form("plane", (a.position + b.position) / 2, unit(a.direction + other))


def parallel_plane(plane: Form, offset: float) -> Form:
    """Moved towards its positive side, mm."""
    return Form("plane", plane.position + offset * plane.direction, plane.direction)


def mirror_plane(pairs: np.ndarray) -> Form:
    """The plane in which pairs (n, 2, 3) mirror each other best; normal from the first to the second of the first pair.

    The square of a pair's departure is its distance squared plus 4 (n.a - d)(n.b - d): the least sum of these products
    belongs to the smallest eigenvalue of their symmetrical part about the centroid.
    """
    centre = pairs.reshape(-1, 3).mean(axis=0)
    a, b = pairs[:, 0] - centre, pairs[:, 1] - centre
    normal = np.linalg.eigh(a.T @ b + b.T @ a)[1][:, 0]
    return Form("plane", centre, normal if normal @ (pairs[0, 1] - pairs[0, 0]) > 0 else -normal)


def mirrored(place: np.ndarray, plane: Form) -> np.ndarray:
    """Where the place is mirrored to."""
    return place - 2 * plane.direction * (plane.direction @ (place - plane.position))


# --- what is asked --------------------------------------------------------------------------------

def _beside(place: np.ndarray, line: Form) -> float:
    """Distance of a place from a line or axis."""
    return float(np.linalg.norm(np.cross(place - line.position, line.direction)))


def _angle(u: np.ndarray, v: np.ndarray) -> float:
    return float(np.degrees(np.arctan2(np.linalg.norm(np.cross(u, v)), u @ v)))


def _turn(circle: Form, place: np.ndarray, start: np.ndarray) -> float:
    """About the circle's axis from `start` to `place`, 0 to 2 pi."""
    arm, zero = place - circle.position, start - circle.position
    angle = np.arctan2(circle.direction @ np.cross(zero, arm), zero @ arm - (circle.direction @ zero) * (circle.direction @ arm))
    return float(angle % (2 * np.pi))


def _arc(circle: Form, start: np.ndarray, end: np.ndarray, via: np.ndarray | None) -> float:
    forwards = _turn(circle, end, start)
    if via is None:
        return circle.radius * min(forwards, 2 * np.pi - forwards)
    return circle.radius * (forwards if _turn(circle, via, start) < forwards else 2 * np.pi - forwards)


def _row(places: np.ndarray) -> tuple[float, float]:
    """Pitch and largest departure from even spacing, along the straight line that fits best."""
    line = line_through(places)
    along = (places - line.position) @ line.direction
    number = np.arange(len(places))
    pitch, first = np.polyfit(number, along, 1)
    return float(pitch), float(np.abs(along - first - pitch * number).max())


def _coordinate(place: np.ndarray, plane: Form, line: Form, origin: np.ndarray, axis: str) -> float:
    x = unit(line.direction - plane.direction * (plane.direction @ line.direction))
    return float({"x": (place - origin) @ x, "y": (place - line.position) @ np.cross(plane.direction, x),
                  "z": (place - plane.position) @ plane.direction}[axis])


def true_value(asked: dict, forms: dict[str, Form], axes: dict[str, str]) -> tuple[float, str]:
    """What a dimension of survey.json is: (value, "mm", "mm2" or "deg").

    `forms` holds every point and shape by its name; `axes` names the plane, line and origin of the model's axes.
    """
    def at(name):
        return forms[name].position

    def line(names):
        return forms[names[0]] if len(names) == 1 else line_through(np.array([at(n) for n in names]))

    kind = asked["kind"]
    names = asked.get("points", asked.get("shapes", []))
    if kind == "distance":
        a, b = (forms[n] for n in names)
        if {"line", "cylinder"} & {a.kind, b.kind}:
            return (_beside(a.position, b) if b.kind in ("line", "cylinder") else _beside(b.position, a)), "mm"
        return float(np.linalg.norm(b.position - a.position)), "mm"
    if kind == "along":
        return float((at(names[1]) - at(names[0])) @ line(asked["axis"]).direction), "mm"
    if kind == "angle":
        return _angle(at(names[0]) - at(names[1]), at(names[2]) - at(names[1])), "deg"
    if kind == "angle_between":
        angle = _angle(forms[names[0]].direction, forms[names[1]].direction)
        angle = min(angle, 180 - angle)
        one_is_flat = len({forms[n].kind in ("plane", "circle") for n in names}) == 2
        return 90 - angle if one_is_flat else angle, "deg"
    if kind == "offset_line":
        return _beside(at(asked["point"]), line(asked["line"])), "mm"
    if kind == "offset_plane":
        of = asked["plane"]
        plane = forms[of[0]] if len(of) == 1 else plane_through(np.array([at(n) for n in of]))
        return float((at(asked["point"]) - plane.position) @ plane.direction), "mm"
    if kind == "gap":  # only asked of what is exactly parallel, so that it does not matter where along it
        a, b = (forms[n] for n in names)
        if a.kind in ("line", "cylinder") and b.kind in ("line", "cylinder"):
            return _beside(b.position, a), "mm"
        normal = (a if a.kind in ("plane", "circle") else b).direction
        return float(abs((b.position - a.position) @ normal)), "mm"
    if kind in ("radius", "diameter"):
        return forms[asked["shape"]].radius * (2 if kind == "diameter" else 1), "mm"
    if kind == "chain":
        return float(sum(np.linalg.norm(at(b) - at(a)) for a, b in zip(names, names[1:]))), "mm"
    if kind == "arc":
        via = at(asked["via"]) if "via" in asked else None
        return _arc(forms[asked["circle"]], at(names[0]), at(names[1]), via), "mm"
    if kind in ("pitch", "row_departure"):
        return _row(np.array([at(n) for n in names]))[kind == "row_departure"], "mm"
    if kind == "area":
        p = np.array([at(n) for n in names])
        return float(np.linalg.norm(sum(np.cross(a, b) for a, b in zip(p, np.roll(p, -1, axis=0)))) / 2), "mm2"
    if kind == "ordinate":
        return _coordinate(at(asked["point"]), forms[axes["plane"]], forms[axes["line"]], at(axes["origin"]), asked["axis"]), "mm"
    if kind == "mirror_departure":
        return float(np.linalg.norm(mirrored(at(names[0]), forms[asked["mirror"]]) - at(names[1]))), "mm"
    raise ValueError(f"an unknown kind of dimension: {kind}")


def true_forms(shapes: list[dict], points: dict[str, np.ndarray], seen_shapes: dict[str, SeenShape]) -> dict[str, Form]:
    """Every point and every shape of survey.json, by its name; each shape only of what stands before it."""
    forms = {name: point(place) for name, place in points.items()}
    for shape in shapes:
        def places(key="points"):
            return np.array([forms[n].position for n in shape[key]])

        is_a = shape["is"]
        if is_a in ("edge", "rim", "outline"):
            made = seen(seen_shapes[shape["name"]])
        elif is_a == "line":
            made = line_through(places())
        elif is_a == "plane":
            made = plane_through(places())
        elif is_a == "circle":
            made = circle_through(places())
        elif is_a == "cylinder":
            made = cylinder_through(places(), places()[-1] - places()[0])
        elif is_a == "crossing":
            made = crossing(*(forms[n] for n in shape["of"]))
        elif is_a == "mid_plane":
            made = mid_plane(*(forms[n] for n in shape["of"]))
        elif is_a == "parallel_plane":
            made = parallel_plane(forms[shape["of"]], shape["by_mm"])
        elif is_a == "mirror_plane":
            made = mirror_plane(np.array([[forms[n].position for n in pair] for pair in shape["pairs"]]))
        else:
            raise ValueError(f"an unknown shape: {is_a}")
        forms[shape["name"]] = made
    return forms
