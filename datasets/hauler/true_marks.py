"""Whether the tables of marks are the truth with its noise, but for exactly the marks that truth.json names as altered.

Each table as a whole, and each shape by itself, is tested with chi-square. Geometry from truth.json alone, written apart
from what made the marks.
"""
from __future__ import annotations

import csv
import math
from collections import defaultdict
from pathlib import Path

import numpy as np

from camera import Intrinsics, Pose, project

HERE = Path(__file__).resolve().parent
SIGMA_PX, ROUGH_SIGMA_PX = 0.3, 1.5
# No honest mark of a thousand lies beyond six sigma; every planted mistake does.
WILD = 6.0
# A good table fails once in ten thousand, on either side.
CRITICAL = 3.72
SAMPLES = 4001


def read_pose(entry: dict) -> Pose:
    """Pose from truth.json."""
    return Pose(np.array(entry["rotation"]), np.array(entry["translation_mm"]))


def normal_score(chi_square: float, freedom: int) -> float:
    """How many standard deviations chi-square is from what is expected (Wilson and Hilferty 1931)."""
    spread = 2 / (9 * freedom)
    return ((chi_square / freedom) ** (1 / 3) - (1 - spread)) / math.sqrt(spread)


def judge(what: str, squares: list[float], wild: set, altered: set) -> bool:
    """Prints and judges squared errors over their variance, and which marks were beyond all noise."""
    score = normal_score(sum(squares), len(squares))
    good = abs(score) < CRITICAL and wild == altered
    print(f"{what:34s} n {len(squares):5d}  rms {math.sqrt(sum(squares) / len(squares)):.3f} sigma, {len(wild)} altered  "
          f"{'good' if good else f'BAD (chi-square {score:+.1f} standard deviations off, altered {wild ^ altered})'}")
    return good


def read_table(name: str) -> list[dict]:
    """Rows of a table of marks."""
    with (HERE / name).open(encoding="utf-8") as stream:
        return list(csv.DictReader(stream))


def position(row: dict) -> np.ndarray:
    """Of a mark, px."""
    return np.array([float(row["x"]), float(row["y"])])


def check_points(table: str, places_mm: dict, sigma_px: float, truth: dict, camera: Intrinsics) -> bool:
    """Marks of points: both coordinates have the noise."""
    rows = read_table(table)
    here = {(row["photo"], row["point"]) for row in rows}
    altered = {(a["photo"], p) for a in truth["altered_marks"] if "shape" not in a for p in a.get("points", [a.get("point")])}
    squares, wild = [], set()
    for row in rows:
        error = position(row) - project(camera, read_pose(truth["photos"][row["photo"]]), np.array(places_mm[row["point"]]))[0]
        if np.abs(error).max() > WILD * sigma_px:
            wild.add((row["photo"], row["point"]))
        else:
            squares += list((error / sigma_px) ** 2)
    return judge(table, squares, wild, altered & here)


def touching(shape: dict, eye: np.ndarray) -> list[np.ndarray]:
    """The two lines along which a cylinder is touched by planes through the camera: rows of ends, mm."""
    start, end = np.array(shape["ends_mm"])
    axis = (end - start) / np.linalg.norm(end - start)
    arm = eye - start
    arm -= axis * (axis @ arm)
    # Seen along the axis: the tangent from a point at distance d touches at acos(r / d) from the way there.
    turn = math.acos(shape["radius_mm"] / np.linalg.norm(arm))
    out = arm / np.linalg.norm(arm)
    lines = []
    for way in (turn, -turn):
        to = math.cos(way) * out + math.sin(way) * np.cross(axis, out)
        lines.append(np.array([start, end]) + shape["radius_mm"] * to)
    return lines


def curves(shape: dict, pose: Pose, camera: Intrinsics) -> list[np.ndarray]:
    """How a shape appears in a photo: one polyline, or one for each side of a cylinder; px."""
    steps = np.linspace(0, 1, SAMPLES)[:, None]
    if shape["is"] == "rim":
        axis = np.array(shape["axis"])
        e = np.cross(axis, np.eye(3)[np.argmin(np.abs(axis))])
        e /= np.linalg.norm(e)
        turn = 2 * np.pi * steps
        lines = [np.array(shape["centre_mm"]) + shape["radius_mm"] * (np.cos(turn) * e + np.sin(turn) * np.cross(axis, e))]
    else:
        ends = [np.array(shape["ends_mm"])] if shape["is"] == "edge" else touching(shape, pose.centre)
        lines = [a + steps * (b - a) for a, b in ends]
    return [project(camera, pose, line) for line in lines]


def distance(px: np.ndarray, curve: np.ndarray) -> float:
    """Of a mark from a polyline, px."""
    a, along = curve[:-1], np.diff(curve, axis=0)
    share = np.clip(((px - a) * along).sum(axis=1) / (along ** 2).sum(axis=1), 0, 1)
    return float(np.linalg.norm(px - a - share[:, None] * along, axis=1).min())


def variance(shape: dict, pose: Pose, camera: Intrinsics) -> float:
    """Of a mark across its shape, px^2: its noise, and how far an oval round lies from the round of its mean radius."""
    middle = np.array(shape["centre_mm"]) if "centre_mm" in shape else np.mean(shape["ends_mm"], axis=0)
    oval_px = shape.get("oval_mm", 0) * camera.fx / np.linalg.norm(middle - pose.centre)
    return SIGMA_PX ** 2 + oval_px ** 2 / 2


def check_shape_marks(truth: dict, camera: Intrinsics) -> bool:
    """Marks on shapes: across the shape they have the noise, and the sides of a cylinder are not mixed up."""
    shapes = {shape["name"]: shape for shape in truth["shapes"]}
    mistakes = {(a["photo"], a["shape"], *a["px"]): a for a in truth["altered_marks"] if "shape" in a}
    squares, of_shape, wild, sides, good = [], defaultdict(list), set(), defaultdict(set), True
    for row in read_table("shape_marks.csv"):
        shape, pose, px = shapes[row["shape"]], read_pose(truth["photos"][row["photo"]]), position(row)
        key = (row["photo"], row["shape"], float(row["x"]), float(row["y"]))
        seen = curves(shape, pose, camera)
        apart = [distance(px, curve) for curve in seen]
        square = min(apart) ** 2 / variance(shape, pose, camera)
        if square <= WILD ** 2:
            squares.append(square)
            of_shape[row["shape"]].append(square)
            if shape["is"] == "cylinder":
                sides[row["photo"], row["shape"]].add((row["side"], int(np.argmin(apart))))
            continue
        wild.add(key)
        if key in mistakes:
            # What was done to it, undone, leaves the noise.
            done = mistakes[key]
            if "edge" in done:
                left = distance(px, curves(shapes[done["edge"]], pose, camera)[0])
            else:
                left = distance(px - np.array(done["shift_px"]), seen[0])
            if left > 4 * SIGMA_PX:
                print(f"{key}: the mistake that truth.json tells leaves {left:.1f} px")
                good = False
    for name, part in of_shape.items():
        if abs(normal_score(sum(part), len(part))) > CRITICAL:
            good = judge(name, part, set(), set())
    mixed = {key for key, pairs in sides.items() if len(pairs) != 2 or len({line for _, line in pairs}) != 2}
    if mixed:
        print(f"sides are mixed up or missing: {sorted(mixed)}")
    return judge("shape_marks.csv", squares, wild, set(mistakes)) and good and not mixed


def check_all(truth: dict, camera: Intrinsics) -> bool:
    """All four tables, each with a line."""
    return all([check_points("marks.csv", truth["points_mm"], SIGMA_PX, truth, camera),
                check_points("bolt_marks.csv", truth["small_places_mm"], SIGMA_PX, truth, camera),
                check_points("targets.csv", truth["targets_mm"], ROUGH_SIGMA_PX, truth, camera),
                check_shape_marks(truth, camera)])
