"""Small parts as from construction kits, 2 to 20 mm, and a way to cover a face with them.

Each maker builds one part on z = 0, inside 0..w, 0..d, no higher than about h (mm), z outwards.
"""
from __future__ import annotations

import math

from scene import Scene, frame_on, move, rotation

PAINTS = ("PaintBody", "PaintBody", "PaintGrey", "PaintGrey", "PaintDark", "PaintPale")


def _paint(s: Scene) -> str:
    return PAINTS[s.rng.integers(len(PAINTS))]


def rivets(s: Scene, start, end, count: int, radius: float = 0.7, paint: str = "PaintGrey") -> None:
    """A row of round heads from start to end, half sunk, mm."""
    for i in range(count):
        f = i / max(count - 1, 1)
        s.sphere([a + (b - a) * f for a, b in zip(start, end)], radius, paint)


def bolt(s: Scene, name: str, x: float, y: float, paint: str = "PaintSteel", radius: float = 1.5) -> None:
    """Hexagonal head with a bright round middle, which is the named point (no name: none), mm."""
    with s.frame(move(x, y, 0, rotation("z", s.rng.uniform(0, 60)))):
        ring = [(radius * math.cos(math.pi * k / 3), radius * math.sin(math.pi * k / 3)) for k in range(6)]
        s.solid([(a, b, 0) for a, b in ring], [(a, b, 0.8) for a, b in ring], paint)
        s.cylinder((0, 0, 0.7), (0, 0, 1.0), radius * 0.4, "PaintPale")
        if name:
            s.point(name, (0, 0, 1.0), (0, 0, 1))


def crate(s: Scene, w: float, d: float, h: float) -> None:
    """Lidded box with rivets. w, d, h in mm."""
    p = _paint(s)
    s.box((0, 0, 0), (w, d, h * 0.7), p)
    s.box((w * 0.12, d * 0.12, h * 0.65), (w * 0.88, d * 0.88, h * 0.8), p)
    for x in (w * 0.06, w * 0.94):
        rivets(s, (x, d * 0.1, h * 0.7), (x, d * 0.9, h * 0.7), 4, 0.45)


def tank(s: Scene, w: float, d: float, h: float) -> None:
    """Lying tank in two straps. w, d, h in mm."""
    p = _paint(s)
    r = min(d / 2, h / 2)
    y, z = d / 2, r
    s.cylinder((r * 0.7, y, z), (w - r * 0.7, y, z), r, p)
    for x in (r * 0.7, w - r * 0.7):
        s.sphere((x, y, z), r * 0.98, p)
    for f in (0.3, 0.7):
        s.torus((w * f, y, z), "x", r, 0.5, "PaintSteel")
        s.box((w * f - 0.8, y - r * 0.8, 0), (w * f + 0.8, y + r * 0.8, z), "PaintDark")


def grille(s: Scene, w: float, d: float, h: float) -> None:
    """Grille of upright bars in a frame. w, d, h in mm."""
    s.box((0, 0, 0), (w, d, h * 0.25), "PaintDark")
    n = max(4, int(w / 1.6))
    for i in range(n):
        x = (i + 0.5) * w / n
        s.box((x - 0.35, d * 0.08, 0), (x + 0.35, d * 0.92, h * 0.42), "PaintGrey")
    for y in (0, d - 0.9):
        s.box((-0.02, y, 0), (w + 0.02, y + 0.9, h * 0.5), "PaintGrey")


def pump(s: Scene, w: float, d: float, h: float) -> None:
    """Standing pump on a bolted flange. w, d, h in mm."""
    p = _paint(s)
    r = min(w, d) / 2
    x, y = w / 2, d / 2
    s.cylinder((x, y, 0), (x, y, h * 0.25), r, "PaintGrey")
    s.cylinder((x, y, 0), (x, y, h * 0.7), r * 0.72, p)
    s.cone((x, y, h * 0.7), r * 0.72, (x, y, h * 0.9), r * 0.4, p)
    s.cylinder((x, y, 0), (x, y, h), r * 0.22, "PaintSteel")
    for k in range(6):
        a = k * math.pi / 3
        s.sphere((x + r * 0.86 * math.cos(a), y + r * 0.86 * math.sin(a), h * 0.25), 0.5, "PaintSteel")


def vent(s: Scene, w: float, d: float, h: float) -> None:
    """Slanting louvres. w, d, h in mm."""
    p = _paint(s)
    s.box((0, 0, 0), (w, d, h * 0.2), p)
    n = max(3, int(d / 2.2))
    for i in range(n):
        y = (i + 0.15) * d / n
        s.solid([(w * 0.1, y, 0), (w * 0.9, y, 0), (w * 0.9, y + d / n * 0.7, 0), (w * 0.1, y + d / n * 0.7, 0)],
                [(w * 0.1, y, h * 0.55), (w * 0.9, y, h * 0.55), (w * 0.9, y + 0.3, h * 0.55),
                 (w * 0.1, y + 0.3, h * 0.55)], p)


def ribbed(s: Scene, w: float, d: float, h: float) -> None:
    """Lying cylinder with cooling ribs. w, d, h in mm."""
    r = min(d / 2, h / 2)
    y = d / 2
    s.cylinder((0.4, y, r), (w - 0.4, y, r), r * 0.75, "PaintDark")
    n = max(4, int(w / 1.8))
    for i in range(n):
        x = (i + 0.5) * w / n
        s.cylinder((x - 0.35, y, r), (x + 0.35, y, r), r, "PaintGrey")


def wheel(s: Scene, w: float, d: float, h: float) -> None:
    """Valve with a red hand wheel. w, d, h in mm."""
    r = min(w, d) / 2 * 0.85
    x, y = w / 2, d / 2
    s.cylinder((x, y, 0), (x, y, h * 0.8), r * 0.22, "PaintSteel")
    s.torus((x, y, h * 0.8), "z", r, 0.55, "PaintRed")
    for a, b in (((x - r, y, h * 0.8), (x + r, y, h * 0.8)), ((x, y - r, h * 0.8), (x, y + r, h * 0.8))):
        s.cylinder(a, b, 0.4, "PaintRed")
    s.box((x - r * 0.5, y - r * 0.5, 0), (x + r * 0.5, y + r * 0.5, h * 0.3), "PaintGrey")


def junction(s: Scene, w: float, d: float, h: float) -> None:
    """Junction box with three lines through it. w, d, h in mm."""
    p = _paint(s)
    s.box((w * 0.2, d * 0.2, 0), (w * 0.8, d * 0.8, h * 0.6), p)
    s.cylinder((w / 2, d / 2, 0), (w / 2, d / 2, h * 0.75), min(w, d) * 0.2, "PaintSteel")
    for y in (0.32, 0.5, 0.68):
        s.cylinder((0, d * y, h * 0.25), (w, d * y, h * 0.25), 0.5, "PaintDark")


def stepped(s: Scene, w: float, d: float, h: float) -> None:
    """Stepped box beside a short cylinder. w, d, h in mm."""
    p = _paint(s)
    s.box((0, 0, 0), (w, d, h * 0.3), p)
    s.box((w * 0.05, d * 0.1, 0), (w * 0.6, d * 0.9, h * 0.75), p)
    s.cylinder((w * 0.78, d / 2, 0), (w * 0.78, d / 2, h * 0.65), min(w * 0.17, d * 0.35), "PaintSteel")
    s.box((w * 0.15, d * 0.25, h * 0.6), (w * 0.5, d * 0.45, h), "PaintDark")


def twin(s: Scene, w: float, d: float, h: float) -> None:
    """Pair of standing cylinders. w, d, h in mm."""
    r = min(w / 4.4, d / 2.2)
    for x in (w * 0.27, w * 0.73):
        s.cylinder((x, d / 2, 0), (x, d / 2, h * 0.8), r, _paint(s))
        s.torus((x, d / 2, h * 0.8), "z", r * 0.7, 0.5, "PaintSteel")
        s.cylinder((x, d / 2, 0), (x, d / 2, h * 0.15), r * 1.12, "PaintGrey")
    s.box((w * 0.25, d * 0.42, h * 0.3), (w * 0.75, d * 0.58, h * 0.45), "PaintDark")


def plate(s: Scene, w: float, d: float, h: float) -> None:
    """Cover plate with four screws. w, d, h in mm."""
    p = _paint(s)
    s.box((0, 0, 0), (w, d, 1.1), p)
    for x in (1.1, w - 1.1):
        for y in (1.1, d - 1.1):
            s.sphere((x, y, 1.1), 0.55, "PaintSteel")
    s.box((w * 0.3, d * 0.4, 0), (w * 0.7, d * 0.6, 1.9), p)


MAKERS = (crate, tank, grille, pump, vent, ribbed, wheel, junction, stepped, twin, plate)


def cover(s: Scene, origin, normal, along, width: float, depth: float, height: float,
          cell: float = 15.0, gaps: float = 0.15) -> int:
    """Covers a face with parts: the rectangle is split until its cells are about `cell` mm.

    The cells never overlap, so neither do the parts; a share `gaps` of them stays empty. Returns
    how many parts were glued on.
    """
    count = 0

    def split(x, y, w, d):
        nonlocal count
        if max(w, d) > cell * s.rng.uniform(0.9, 1.4) and max(w, d) > 7:
            f = s.rng.uniform(0.38, 0.62)
            if w >= d:
                split(x, y, w * f, d)
                split(x + w * f, y, w * (1 - f), d)
            else:
                split(x, y, w, d * f)
                split(x, y + d * f, w, d * (1 - f))
            return
        if s.rng.random() < gaps:
            return
        maker = MAKERS[s.rng.integers(len(MAKERS))]
        gap = 0.7
        with s.frame(move(x + gap, y + gap, -0.1)):
            w, d = w - 2 * gap, d - 2 * gap
            tall = min(height * s.rng.uniform(0.6, 1.0), 1.1 * max(w, d))
            if d > w:  # makers like the long side along x
                with s.frame(move(w, 0, 0, rotation("z", 90))):
                    maker(s, d, w, tall)
            else:
                maker(s, w, d, tall)
        count += 1

    with s.frame(frame_on(origin, normal, along)):
        split(0, 0, width, depth)
    return count
