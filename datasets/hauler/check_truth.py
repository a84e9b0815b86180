#!/usr/bin/python3
"""Proves the camera convention: finds board corners and targets in the JPEGs and compares them with the truth.
The tables of marks are compared with it, too (true_marks.py).

    ./check_truth.py [--list]

Half a pixel of mistake anywhere would show as a mean of 0.5 px. The limits for all: mean within 0.01 px in x and
in y, two-dimensional rms at most 0.07 px. Exit code 1 if one is broken. Needs python3-opencv.
"""
from __future__ import annotations

import argparse
import csv
import json
import sys
from pathlib import Path

import cv2
import numpy as np

import true_marks
from camera import Intrinsics, project
from true_marks import read_pose

HERE = Path(__file__).resolve().parent
MEAN_LIMIT_PX, RMS_LIMIT_PX = 0.01, 0.07


def refine(gray: np.ndarray, start_px: np.ndarray, room_px: float, share: float) -> np.ndarray:
    """X corner nearest to start_px; the window fills a share of the free room (px) around it."""
    window = int(np.clip(share * room_px, 3, 11))
    corner = start_px.astype(np.float32).reshape(1, 1, 2).copy()
    cv2.cornerSubPix(gray, corner, (window, window), (-1, -1),
                     (cv2.TERM_CRITERIA_EPS + cv2.TERM_CRITERIA_MAX_ITER, 100, 1e-4))
    return corner.reshape(2).astype(float)


def report(what: str, errors: np.ndarray, judge: bool = True) -> bool:
    """Prints figures of errors (n, 2) px; says whether they keep the limits.

    A single photo has too few targets for the limit of the mean, so it is shown but not judged.
    """
    mean = errors.mean(axis=0)
    size = np.linalg.norm(errors, axis=1)
    rms = float(np.sqrt((size ** 2).mean()))
    good = bool((np.abs(mean) <= MEAN_LIMIT_PX).all() and rms <= RMS_LIMIT_PX)
    verdict = ("good" if good else "BAD") if judge else ""
    print(f"{what:34s} n {len(errors):5d}  mean ({mean[0]:+.4f}, {mean[1]:+.4f}) px  rms {rms:.4f} px  "
          f"max {size.max():.3f} px  {verdict}".rstrip())
    return good


def main() -> int:
    """Command line."""
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("--list", action="store_true", help="a line for every photo as well")
    options = parser.parse_args()
    truth = json.loads((HERE / "truth.json").read_text(encoding="utf-8"))
    camera = {k: v for k, v in truth["camera"].items() if k not in ("width_px", "height_px")}
    intrinsics = Intrinsics(**camera)
    rng = np.random.default_rng(1)
    good = true_marks.check_all(truth, intrinsics)

    corners = np.array(truth["board"]["corners_mm"])
    columns = truth["board"]["inner_corners"][0]
    errors, object_points, image_points = [], [], []
    for name, entry in truth["board"]["photos"].items():
        path = HERE / "board" / name
        if not path.exists():
            print(f"{name} is missing")
            good = False
            continue
        gray = cv2.imread(str(path), cv2.IMREAD_GRAYSCALE)
        true_px = project(intrinsics, read_pose(entry), corners)
        grid = true_px.reshape(-1, columns, 2)
        room = min(np.linalg.norm(np.diff(grid, axis=0), axis=2).min(), np.linalg.norm(np.diff(grid, axis=1), axis=2).min())
        # Started a pixel beside the truth, so that the truth is found and not merely returned.
        found = np.array([refine(gray, p + rng.uniform(-1, 1, 2), room, 0.42) for p in true_px])
        errors.append(found - true_px)
        object_points.append(corners.astype(np.float32))
        image_points.append(found.astype(np.float32).reshape(-1, 1, 2))
        detected, _ = cv2.findChessboardCorners(gray, tuple(truth["board"]["inner_corners"]))
        if options.list or not detected:
            report(f"{name}{'' if detected else ' (NOT DETECTED)'}", errors[-1], judge=False)
        good &= bool(detected)
    if errors:
        good &= report("board corners", np.concatenate(errors))
    if len(object_points) >= 8:
        rms, matrix, distortion, *_ = cv2.calibrateCamera(object_points, image_points, (2400, 1600), None, None)
        print(f"  calibration from them: rms {rms:.4f} px, fx {matrix[0, 0]:.2f} fy {matrix[1, 1]:.2f} cx {matrix[0, 2]:.2f} "
              f"cy {matrix[1, 2]:.2f} k1 k2 p1 p2 k3 " + " ".join(f"{v:.5f}" for v in distortion.ravel()))

    with (HERE / "targets.csv").open(encoding="utf-8") as stream:
        rows = list(csv.DictReader(stream))
    errors, smallest = [], np.inf
    for name, entry in truth["photos"].items():
        path = HERE / "photos" / name
        if not path.exists():
            print(f"{name} is missing")
            good = False
            continue
        gray = cv2.imread(str(path), cv2.IMREAD_GRAYSCALE)
        pose = read_pose(entry)
        here = []
        for row in (r for r in rows if r["photo"] == name):
            centre = np.array(truth["targets_mm"][row["point"]])
            true_px = project(intrinsics, pose, centre)[0]
            start = np.array([float(row["x"]), float(row["y"])])
            ray = pose.centre - centre
            distance = np.linalg.norm(ray)
            half_axis = truth["target_diameters_mm"][row["point"]] / 2 * intrinsics.fx / distance
            half_axis *= ray @ np.array(truth["target_normals"][row["point"]]) / distance
            smallest = min(smallest, 2 * half_axis)
            found = refine(gray, start, half_axis, 0.75)
            here.append(found - true_px)
            if options.list and np.linalg.norm(here[-1]) > 0.15:
                print(f"  {name} {row['point']}: {here[-1][0]:+.2f} {here[-1][1]:+.2f} px")
        errors += here
        if options.list and here:
            report(name, np.array(here), judge=False)
    if errors:
        good &= report("cross targets", np.array(errors))
        print(f"  the flattest is {smallest:.0f} px across")
    return 0 if good else 1


if __name__ == "__main__":
    sys.exit(main())
