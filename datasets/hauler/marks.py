"""Marks as a patient person would set them, with the mistakes such a person makes."""
from __future__ import annotations

import csv
from pathlib import Path

import numpy as np

from camera import HEIGHT_PX, WIDTH_PX

MARK_SIGMA_PX, ROUGH_SIGMA_PX = 0.3, 1.5
FRAME_MARGIN_PX = 12


def inside(px: np.ndarray) -> np.ndarray:
    """Which positions (n, 2) lie in the frame, away from its edge."""
    return ((px > FRAME_MARGIN_PX) & (px < [WIDTH_PX - 1 - FRAME_MARGIN_PX, HEIGHT_PX - 1 - FRAME_MARGIN_PX])).all(axis=1)


def noisy(rows: list[tuple[str, str, np.ndarray]], sigma_px: float, rng: np.random.Generator) -> list[tuple[str, str, np.ndarray]]:
    """(photo, point, px) with Gaussian noise in each coordinate."""
    return [(photo, point, px + rng.normal(0, sigma_px, 2)) for photo, point, px in rows]


def with_mistakes(rows, rng: np.random.Generator):
    """Three blunders and one swapped pair of labels; returns the rows and what was done to them.

    Only points seen in at least five photos are spoilt, so that the mistake can be found at all.
    """
    rows = list(rows)
    photos_of: dict[str, int] = {}
    for _, point, _ in rows:
        photos_of[point] = photos_of.get(point, 0) + 1
    altered, used_photos, used_points = [], set(), set()
    for size in (6.5, 15.0, 38.0):
        while True:
            i = int(rng.integers(len(rows)))
            photo, point, px = rows[i]
            angle = rng.uniform(0, 2 * np.pi)
            shift = size * np.array([np.cos(angle), np.sin(angle)])
            if photos_of[point] >= 6 and photo not in used_photos and point not in used_points and inside((px + shift)[None])[0]:
                break
        rows[i] = (photo, point, px + shift)
        used_photos.add(photo)
        used_points.add(point)
        altered.append({"kind": "blunder", "photo": photo, "point": point, "shift_px": [round(v, 3) for v in shift.tolist()]})
    while True:  # two neighbours of a kind, such as one confuses
        i, j = (int(v) for v in rng.integers(len(rows), size=2))
        (photo, a, px_a), (photo_b, b, px_b) = rows[i], rows[j]
        apart = np.linalg.norm(px_a - px_b)
        if (photo == photo_b and photo not in used_photos and not {a, b} & used_points and 25 < apart < 160
                and min(photos_of[a], photos_of[b]) >= 5 and a.split()[:2] == b.split()[:2]):
            break
    rows[i], rows[j] = (photo, a, px_b), (photo, b, px_a)
    altered.append({"kind": "swap", "photo": photo, "points": [a, b]})
    return rows, altered


def write_csv(path: Path, rows) -> None:
    """photo,point,x,y with px to 1/100."""
    with path.open("w", newline="", encoding="utf-8") as stream:
        writer = csv.writer(stream, lineterminator="\n")
        writer.writerow(["photo", "point", "x", "y"])
        for photo, point, px in rows:
            writer.writerow([photo, point, f"{px[0]:.2f}", f"{px[1]:.2f}"])
