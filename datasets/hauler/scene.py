"""A list of POV-Ray objects and of named points that always move together.

Everything is placed through a stack of frames; the same matrix that places an object places the
points named on it, so the truth cannot drift away from what is rendered. Millimetres throughout.
"""
from __future__ import annotations

from contextlib import contextmanager
from dataclasses import dataclass

import numpy as np


def rotation(axis: str, deg: float) -> np.ndarray:
    """Right-handed rotation about x, y or z, 3x3."""
    c, s = np.cos(np.radians(deg)), np.sin(np.radians(deg))
    i, j = {"x": (1, 2), "y": (2, 0), "z": (0, 1)}[axis]
    r = np.eye(3)
    r[i, i], r[j, j], r[i, j], r[j, i] = c, c, -s, s
    return r


def frame_on(origin, normal, along) -> np.ndarray:
    """Frame 4x4 with z along `normal` and x as near `along` as it can be; for parts glued to a face."""
    z = np.asarray(normal, float) / np.linalg.norm(normal)
    x = np.asarray(along, float) - z * np.dot(along, z)
    x /= np.linalg.norm(x)
    m = np.eye(4)
    m[:3, 0], m[:3, 1], m[:3, 2], m[:3, 3] = x, np.cross(z, x), z, origin
    return m


def move(x=0.0, y=0.0, z=0.0, turn: np.ndarray | None = None) -> np.ndarray:
    """Frame 4x4: turned, then moved, mm."""
    m = np.eye(4)
    if turn is not None:
        m[:3, :3] = turn
    m[:3, 3] = x, y, z
    return m


def hand_built(rng: np.random.Generator, origin, stretch: float = 0.0015, skew: float = 0.0025) -> np.ndarray:
    """Frame 4x4 about `origin` (mm) that is slightly stretched and out of square, as things made by hand are.

    z is only stretched, so that what stands on the table stays on it.
    """
    m = np.eye(4)
    m[:3, :3] += np.diag(rng.uniform(-stretch, stretch, 3))
    m[:2, :3] += rng.uniform(-skew, skew, (2, 3)) * (1 - np.eye(2, 3))
    m[:3, 3] = np.asarray(origin, float) - m[:3, :3] @ origin
    return m


@dataclass(frozen=True)
class NamedPoint:
    """A place that can be marked: mm in the scene; the normal says from where a flat mark is seen."""

    name: str
    position: np.ndarray
    normal: np.ndarray | None
    along: np.ndarray | None = None  # of a target: one of the two edges that cross in it


@dataclass(frozen=True)
class SeenShape:
    """An edge, a rim or a cylinder that can be marked anywhere along it, in the frame that it was built in.

    The frame may stretch and skew: a rim is then a slightly oval one, as made by hand.
    """

    name: str
    kind: str  # "edge", "rim", "cylinder"
    frame: np.ndarray  # 4x4: from its own frame to the scene, mm
    start: np.ndarray  # one end; of a rim the centre, mm
    end: np.ndarray  # the other end; of a rim a place along its axis
    radius: float = 0.0


def _v(v) -> str:
    return "<" + ",".join(f"{c:.6g}" for c in v) + ">"


class Scene:
    """Collects objects (POV-Ray text) and named points."""

    def __init__(self, seed: int):
        self.objects: list[str] = []
        self.points: dict[str, NamedPoint] = {}
        # Apart from the points: the photos were framed by those, and their marks are drawn in their order.
        self.small_places: dict[str, NamedPoint] = {}
        self.shapes: dict[str, SeenShape] = {}
        self.rng = np.random.default_rng(seed)
        self._frame = np.eye(4)

    @contextmanager
    def frame(self, matrix: np.ndarray):
        """What is added inside stands in this frame (4x4, relative to the present one)."""
        outer = self._frame
        self._frame = outer @ matrix
        try:
            yield self
        finally:
            self._frame = outer

    def add(self, shape: str, paint: str, printed: bool = False) -> None:
        """One object. A printed pattern lies in the object's own axes and moves with it.

        Paint is laid on in the axes of the scene, for dirt runs down and dust lies low; its pattern is
        shifted sideways for every part, so that no two look alike.
        """
        m = self._frame
        numbers = [*m[:3, 0], *m[:3, 1], *m[:3, 2], *m[:3, 3]]
        matrix = "matrix<" + ",".join(f"{c:.9g}" for c in numbers) + ">"
        # A closing brace ends the shape; texture and matrix belong inside of it.
        start = shape.rstrip()[:-1]
        if printed:
            self.objects.append(f"{start} texture{{{paint}}} {matrix}}}")
        else:
            x, y, _ = self.rng.uniform(-400, 400, 3).round(1)
            self.objects.append(f"{start} {matrix} texture{{{paint} translate <{x},{y},0>}}}}")

    def point(self, name: str, position, normal=None, along=None) -> None:
        """Names a point in the present frame, mm."""
        self._name(self.points, name, position, normal, along)

    def small_place(self, name: str, position, normal) -> None:
        """Names a bolt or a rivet of a row or circle in the present frame, mm."""
        self._name(self.small_places, name, position, normal)

    def _name(self, named: dict[str, NamedPoint], name: str, position, normal=None, along=None) -> None:
        if name in self.points or name in self.small_places:
            raise ValueError(f"two points are named {name!r}")
        m = self._frame
        place = m[:3, :3] @ np.asarray(position, float) + m[:3, 3]
        turned = None if normal is None else m[:3, :3] @ np.asarray(normal, float)
        edge = None if along is None else m[:3, :3] @ np.asarray(along, float)
        named[name] = NamedPoint(name, place, turned, edge)

    def _seen(self, name: str, kind: str, start, end, radius: float = 0.0) -> None:
        if name in self.shapes:
            raise ValueError(f"two shapes are named {name!r}")
        self.shapes[name] = SeenShape(name, kind, self._frame.copy(), np.asarray(start, float), np.asarray(end, float), radius)

    def edge(self, name: str, start, end) -> None:
        """Names a straight edge of something in the present frame, mm."""
        self._seen(name, "edge", start, end)

    def rim(self, name: str, centre, axis, radius: float) -> None:
        """Names a circular edge in the present frame, mm."""
        self._seen(name, "rim", centre, np.asarray(centre, float) + np.asarray(axis, float), radius)

    def round_bar(self, name: str, start, end, radius: float) -> None:
        """Names a cylinder that is seen by its outline, in the present frame, mm."""
        self._seen(name, "cylinder", start, end, radius)

    # --- bodies -----------------------------------------------------------------------------
    def box(self, low, high, paint: str) -> None:
        """Box between two corners."""
        self.add(f"box{{{_v(low)},{_v(high)}}}", paint)

    def cylinder(self, start, end, radius: float, paint: str, open_ends: bool = False) -> None:
        """Cylinder between two points on its axis."""
        self.add(f"cylinder{{{_v(start)},{_v(end)},{radius:.6g}{' open' if open_ends else ''}}}", paint)

    def cone(self, start, radius_start: float, end, radius_end: float, paint: str) -> None:
        """Truncated cone."""
        self.add(f"cone{{{_v(start)},{radius_start:.6g},{_v(end)},{radius_end:.6g}}}", paint)

    def sphere(self, centre, radius: float, paint: str) -> None:
        """Sphere."""
        self.add(f"sphere{{{_v(centre)},{radius:.6g}}}", paint)

    def torus(self, centre, axis: str, radius: float, tube: float, paint: str) -> None:
        """Ring about an axis; POV-Ray's own lies about y."""
        turn = {"x": rotation("z", 90), "y": np.eye(3), "z": rotation("x", 90)}[axis]
        with self.frame(move(*centre, turn=turn)):
            self.add(f"torus{{{radius:.6g},{tube:.6g}}}", paint)

    def solid(self, bottom: list, top: list, paint: str) -> None:
        """Closed body between two convex polygons with as many corners each."""
        n = len(bottom)
        faces = [(bottom[i], bottom[(i + 1) % n], top[(i + 1) % n], top[i]) for i in range(n)]
        triangles = []
        for a, b, c, d in faces:
            triangles += [(a, b, c), (a, c, d)]
        for polygon in (bottom, top):
            triangles += [(polygon[0], polygon[i], polygon[i + 1]) for i in range(1, n - 1)]
        self.mesh(triangles, paint)

    def mesh(self, triangles, paint: str) -> None:
        """Triangles, flat."""
        text = "".join(f"triangle{{{_v(a)},{_v(b)},{_v(c)}}}" for a, b, c in triangles)
        self.add(f"mesh{{{text}}}", paint)

    def profile(self, outline_xz, y0: float, y1: float, paint: str) -> None:
        """Convex outline in x and z, swept from y0 to y1."""
        self.solid([(x, y0, z) for x, z in outline_xz], [(x, y1, z) for x, z in outline_xz], paint)

    def pipe(self, corners, radius: float, paint: str, flanges: bool = True) -> None:
        """Pipe along a line of corners, with a ball in each bend and a flange at each end of a run."""
        corners = [np.asarray(c, float) for c in corners]
        for a, b in zip(corners, corners[1:]):
            self.cylinder(a, b, radius, paint)
            along = (b - a) / np.linalg.norm(b - a)
            if flanges and np.linalg.norm(b - a) > 6 * radius:
                for place in (a + along * 2.2 * radius, b - along * 2.2 * radius):
                    self.cylinder(place - along * 0.7, place + along * 0.7, radius * 1.5, paint)
        for corner in corners[1:-1]:
            self.sphere(corner, radius * 1.02, paint)

    def text(self, words: str, height: float, paint: str, thickness: float = 0.1, x=0.0, y=0.0) -> None:
        """Printed words: x right, y up, read from +z; x and y place the left end of the base line."""
        with self.frame(move(x, y, 0)):
            self.add(f'text{{ttf "cyrvetic.ttf" "{words}" {thickness / height:.4g},0 scale {height:.4g}}}',
                     paint)
