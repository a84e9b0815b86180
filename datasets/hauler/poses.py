"""Where the camera stood: 16 photos of the original and 12 of the checkerboard."""
from __future__ import annotations

import numpy as np

from camera import HEIGHT_PX, WIDTH_PX, Intrinsics, Pose, look_at, project

# azimuth, elevation, roll in degrees; the distance follows from what must be in the picture
AROUND = [(-96, 24, 2), (-46, 22, -3), (6, 26, 1.5), (52, 23, -2), (98, 25, 3), (140, 22, -1), (186, 27, 2), (-137, 24, -2),
          (-72, 44, 4), (-15, 41, -3), (70, 43, -5), (122, 40, 3), (-168, 42, 2),
          (-84, 64, -4), (32, 79, 93), (170, 82, 4)]


def photo_poses(intrinsics: Intrinsics, must_show_mm: np.ndarray, rng: np.random.Generator) -> list[Pose]:
    """Poses around the original, each as near as lets all of must_show_mm (n, 3) into the frame."""
    poses = []
    for azimuth, elevation, roll in AROUND:
        a, e = np.radians(azimuth + rng.uniform(-2, 2)), np.radians(elevation + rng.uniform(-1, 1))
        direction = np.array([np.cos(a) * np.cos(e), np.sin(a) * np.cos(e), np.sin(e)])
        target = np.array([0, 0, 40.0])
        distance = 1200.0
        for _ in range(60):  # alternate: centre the picture, then come nearer or step back
            pose = look_at(target + direction * distance, target, roll)
            px = project(intrinsics, pose, must_show_mm)
            low, high = px.min(axis=0), px.max(axis=0)
            middle = (low + high) / 2 - [(WIDTH_PX - 1) / 2, (HEIGHT_PX - 1) / 2]
            x, y, _ = pose.rotation
            target = target + 0.7 * (x * middle[0] + y * middle[1]) * distance / intrinsics.fx
            fill = max((high[0] - low[0]) / (WIDTH_PX - 110), (high[1] - low[1]) / (HEIGHT_PX - 110))
            distance *= 1 + 0.5 * (fill - 1)
        # A hand-held picture is never quite centred.
        target = target + pose.rotation.T @ np.array([*rng.uniform(-10, 10, 2), 0])
        poses.append(look_at(target + direction * distance * rng.uniform(1.0, 1.02), target, roll))
    return poses


# tilt and its azimuth, roll (degrees), distance (mm), where the board's middle lies in the frame (-1..1)
BOARD_VIEWS = [(6, 40, 8, 440, 0.0, 0.0), (44, 90, 4, 440, 0.1, 0.0), (44, 268, -7, 440, -0.1, 0.05), (42, 2, 12, 440, 0.3, 0.0),
               (43, 181, -5, 440, -0.3, -0.05), (30, 45, 7, 600, -1.0, -1.0), (27, 135, -8, 600, 1.0, -1.0),
               (28, 225, 6, 605, 1.0, 1.0), (30, 315, -6, 600, -1.0, 1.0), (33, 20, 94, 520, 0.3, 0.0),
               (36, 120, 50, 620, -1.0, 0.1), (24, 250, -172, 900, 1.0, -0.9)]


def board_poses(intrinsics: Intrinsics, outline_mm: np.ndarray) -> list[Pose]:
    """Camera poses in the board's frame; outline_mm (n, 3) is the edge of the outer squares, kept 45 px inside the frame."""
    poses = []
    middle = outline_mm.mean(axis=0)
    for tilt, azimuth, roll, distance, fx, fy in BOARD_VIEWS:
        t, a = np.radians(tilt), np.radians(azimuth)
        direction = np.array([np.sin(t) * np.cos(a), np.sin(t) * np.sin(a), np.cos(t)])
        best = None
        while best is None:
            base = look_at(middle + direction * distance, middle, roll, up=(0, 1, 0))
            shift = np.zeros(3)
            # Move the board towards the wished part of the frame, in one direction and then in the
            # other, as far as the margin allows.
            for axis, wish in ((0, fx * WIDTH_PX / 2 / intrinsics.fx), (1, fy * HEIGHT_PX / 2 / intrinsics.fy)):
                for share in np.linspace(1, 0, 201):
                    shift[axis] = wish * share * distance
                    pose = Pose(base.rotation, base.translation + shift)
                    px = project(intrinsics, pose, outline_mm)
                    if (px.min(axis=0) > 45).all() and (px < [WIDTH_PX - 46, HEIGHT_PX - 46]).all():
                        best = pose
                        break
            distance *= 1.01
        poses.append(best)
    return poses
