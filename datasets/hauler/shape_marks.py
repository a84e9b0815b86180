"""Marks along edges, rims and the outlines of cylinders, as a patient person would set them, with two mistakes.

A mark may lie anywhere along its shape; a place is used only where it is seen.
"""
from __future__ import annotations

import csv
from dataclasses import dataclass
from pathlib import Path

import numpy as np

import forms
from camera import Intrinsics, Pose, project
from marks import MARK_SIGMA_PX, inside
from scene import SeenShape

PLACES = {"edge": 25, "rim": 36, "cylinder": 15}  # tried on each shape in each photo; of a cylinder on each side
MARKS = {"edge": 4, "rim": 6, "cylinder": 3}  # set in a photo at most; of a cylinder on each side
LEAST_MARKS = {"edge": 3, "rim": 4, "cylinder": 2}  # seen less of it, a person leaves the photo out
MOST_PHOTOS = 7
FLATTEST_RIM = 0.25  # cosine between its axis and the view
STEEPEST_OUTLINE = 0.85  # cosine between a cylinder's axis and the view
NEIGHBOUR_OF = {"cab roof edge, front": "cab roof edge, front, lower"}
SLIPPED, SLIP_PX = "roof hatch rim", 6.0


@dataclass(frozen=True)
class Place:
    """A place on a shape that could be marked in a photo: mm in the scene."""

    photo: int
    shape: str
    side: int  # 1 or 2 of a cylinder, else 0
    position: np.ndarray


def _silhouette(shape: SeenShape, eye: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
    """Directions from the axis, in the shape's own frame, to the two lines along which rays from `eye` touch it.

    A frame that stretches and skews keeps tangents tangent, so this is exact for the slightly oval cylinder, too.
    """
    own_eye = np.linalg.solve(shape.frame[:3, :3], eye - shape.frame[:3, 3])
    axis = forms.unit(shape.end - shape.start)
    arm = own_eye - shape.start
    arm = arm - axis * (axis @ arm)
    distance = np.linalg.norm(arm)
    towards, beside = arm / distance, np.cross(axis, arm / distance)
    cosine = shape.radius / distance
    return tuple(cosine * towards + sign * np.sqrt(1 - cosine ** 2) * beside for sign in (1, -1))


def candidates(shapes: dict[str, SeenShape], poses: list[Pose], rng: np.random.Generator) -> list[Place]:
    """Places on every shape for every photo, whether seen or not."""
    places = []
    for name, shape in shapes.items():
        count = PLACES[shape.kind]
        for i, pose in enumerate(poses):
            # Hands are uneven: the places of no two photos are alike.
            steps = (np.arange(count) + rng.uniform(0, 1, count)) / count
            view = forms.unit(pose.centre - forms.seen(shape).position)
            if shape.kind == "rim":
                axis = forms.seen(shape).direction
                if abs(axis @ view) < FLATTEST_RIM:
                    continue
                e, f = forms.across(shape.end - shape.start)
                own = [(0, shape.start + shape.radius * (np.cos(t) * e + np.sin(t) * f)) for t in 2 * np.pi * steps]
            else:
                along = [shape.start + (shape.end - shape.start) * (0.02 + 0.96 * t) for t in steps]
                if shape.kind == "edge":
                    own = [(0, p) for p in along]
                else:
                    if abs(forms.seen(shape).direction @ view) > STEEPEST_OUTLINE:
                        continue
                    own = [(side, p + shape.radius * to)
                           for side, to in enumerate(_silhouette(shape, pose.centre), start=1) for p in along]
            places += [Place(i, name, side, shape.frame[:3, :3] @ p + shape.frame[:3, 3]) for side, p in own]
    return places


def _spread(places: list[Place], count: int, rng: np.random.Generator) -> list[Place]:
    """Some of the places, from one end to the other, each drawn from its own share."""
    return [part[rng.integers(len(part))] for part in np.array_split(np.array(places, dtype=object), min(count, len(places)))]


def chosen(places: list[Place], shapes: dict[str, SeenShape], rng: np.random.Generator) -> list[Place]:
    """Of what is seen, what a person would mark: not in every photo, and several marks in each."""
    marked = []
    for name, shape in shapes.items():
        sides = (1, 2) if shape.kind == "cylinder" else (0,)
        by_photo = []
        for photo in sorted({p.photo for p in places if p.shape == name}):
            groups = [[p for p in places if (p.photo, p.shape, p.side) == (photo, name, side)] for side in sides]
            if all(len(group) >= LEAST_MARKS[shape.kind] for group in groups):
                by_photo.append(groups)
        for number in sorted(rng.permutation(len(by_photo))[:MOST_PHOTOS]):
            for group in by_photo[number]:
                marked += _spread(group, MARKS[shape.kind], rng)
    return marked


def make(shapes: dict[str, SeenShape], seen: list[Place], intrinsics: Intrinsics, poses: list[Pose], photo_names: list[str],
         rng: np.random.Generator):
    """Rows (photo, shape, px, side) with noise and two mistakes, and what was done to them.

    `seen` may hold places of neighbouring edges that nobody asks about: they are for the mistake only.
    """
    asked = {name: shape for name, shape in shapes.items() if name not in NEIGHBOUR_OF.values()}

    def px_of(place: Place) -> np.ndarray:
        return project(intrinsics, poses[place.photo], place.position)[0]

    marks = chosen([p for p in seen if p.shape in asked], asked, rng)
    rows = [[photo_names[p.photo], p.shape, px_of(p) + rng.normal(0, MARK_SIGMA_PX, 2), p.side] for p in marks]
    altered = []
    for name, neighbour in NEIGHBOUR_OF.items():
        other = {photo: [px_of(p) for p in seen if p.shape == neighbour and p.photo == photo] for photo in {p.photo for p in seen}}
        # Where both edges are seen, so that one can take one for the other.
        able = [i for i, p in enumerate(marks) if p.shape == name and len(other.get(p.photo, [])) >= 3]
        i = able[int(rng.integers(len(able)))]
        nearest = min(other[marks[i].photo], key=lambda px: np.linalg.norm(px - rows[i][2]))
        rows[i][2] = nearest + rng.normal(0, MARK_SIGMA_PX, 2)
        altered.append({"kind": "another edge", "photo": rows[i][0], "shape": name, "edge": neighbour,
                        "px": [round(v, 2) for v in rows[i][2].tolist()]})
    able = [i for i, p in enumerate(marks) if p.shape == SLIPPED]
    i = able[int(rng.integers(len(able)))]
    whole = np.array([px_of(p) for p in seen if (p.shape, p.photo) == (SLIPPED, marks[i].photo)])
    outwards = forms.unit(rows[i][2] - whole.mean(axis=0))
    rows[i][2] = rows[i][2] + SLIP_PX * outwards
    altered.append({"kind": "slip", "photo": rows[i][0], "shape": SLIPPED, "shift_px": [round(v, 3) for v in (SLIP_PX * outwards).tolist()],
                    "px": [round(v, 2) for v in rows[i][2].tolist()]})
    return rows, altered


def in_frame(places: list[Place], intrinsics: Intrinsics, poses: list[Pose]) -> list[Place]:
    """Those that lie in their photos, away from the edge."""
    return [p for p in places if inside(project(intrinsics, poses[p.photo], p.position))[0]]


def write_csv(path: Path, rows) -> None:
    """photo,shape,x,y,side with px to 1/100; no side but of cylinders."""
    with path.open("w", newline="", encoding="utf-8") as stream:
        writer = csv.writer(stream, lineterminator="\n")
        writer.writerow(["photo", "shape", "x", "y", "side"])
        for photo, shape, px, side in rows:
            writer.writerow([photo, shape, f"{px[0]:.2f}", f"{px[1]:.2f}", side or ""])
