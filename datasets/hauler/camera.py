"""The true camera of the demo: its lens, where it stood, and the way from the scene to a pixel.

Pixels: the centre of the top left pixel is (0, 0), x right, y down. x_camera = R X + t with x right,
y down, z forward; lengths in millimetres. Distortion: Brown-Conrady, order k1 k2 p1 p2 k3 as OpenCV
writes it.
"""
from __future__ import annotations

from dataclasses import dataclass

import numpy as np

WIDTH_PX, HEIGHT_PX = 2400, 1600
# The rendered pinhole is this much finer than the photo, so that the resampling loses no sharpness.
OVERSIZE = 1.25


@dataclass(frozen=True)
class Intrinsics:
    """Focal lengths and principal point in px, distortion without unit."""

    fx: float = 2951.8
    fy: float = 2949.3
    cx: float = 1213.7
    cy: float = 788.4
    k1: float = -0.12
    k2: float = 0.05
    p1: float = 0.0004
    p2: float = -0.0003
    k3: float = 0.0

    @property
    def distortion(self) -> np.ndarray:
        """k1 k2 p1 p2 k3."""
        return np.array([self.k1, self.k2, self.p1, self.p2, self.k3])

    def distort(self, xy: np.ndarray) -> np.ndarray:
        """Ideal directions (n, 2), x/z and y/z, to distorted ones."""
        x, y = xy[..., 0], xy[..., 1]
        r2 = x * x + y * y
        radial = 1 + r2 * (self.k1 + r2 * (self.k2 + r2 * self.k3))
        return np.stack([x * radial + 2 * self.p1 * x * y + self.p2 * (r2 + 2 * x * x),
                         y * radial + self.p1 * (r2 + 2 * y * y) + 2 * self.p2 * x * y], axis=-1)

    def undistort(self, xy: np.ndarray) -> np.ndarray:
        """Inverse of distort, by fixed point iteration (converges to 1e-12 within the frame)."""
        ideal = xy.copy()
        for _ in range(40):
            ideal = ideal + (xy - self.distort(ideal))
        return ideal

    def pixel_from_direction(self, xy: np.ndarray) -> np.ndarray:
        """Distorted directions (n, 2) to px."""
        return xy * [self.fx, self.fy] + [self.cx, self.cy]

    def direction_from_pixel(self, px: np.ndarray) -> np.ndarray:
        """px (n, 2) to distorted directions."""
        return (px - [self.cx, self.cy]) / [self.fx, self.fy]


@dataclass(frozen=True)
class Pose:
    """x_camera = rotation X + translation, millimetres."""

    rotation: np.ndarray
    translation: np.ndarray

    @property
    def centre(self) -> np.ndarray:
        """Where the camera stood, mm in the scene."""
        return -self.rotation.T @ self.translation

    def into_camera(self, points_mm: np.ndarray) -> np.ndarray:
        """Scene points (n, 3) in the camera's axes, mm."""
        return points_mm @ self.rotation.T + self.translation


def look_at(centre_mm, target_mm, roll_deg: float, up=(0.0, 0.0, 1.0)) -> Pose:
    """A camera at centre_mm whose axis meets target_mm, rolled clockwise about its axis."""
    centre = np.asarray(centre_mm, float)
    z = np.asarray(target_mm, float) - centre
    z /= np.linalg.norm(z)
    x = np.cross(z, np.asarray(up, float))
    x /= np.linalg.norm(x)
    y = np.cross(z, x)
    c, s = np.cos(np.radians(roll_deg)), np.sin(np.radians(roll_deg))
    rotation = np.stack([c * x + s * y, -s * x + c * y, z])
    return Pose(rotation, -rotation @ centre)


def project(intrinsics: Intrinsics, pose: Pose, points_mm: np.ndarray) -> np.ndarray:
    """Scene points (n, 3) mm to the photo, (n, 2) px. All must lie in front of the camera."""
    camera = pose.into_camera(np.asarray(points_mm, float).reshape(-1, 3))
    return intrinsics.pixel_from_direction(intrinsics.distort(camera[:, :2] / camera[:, 2:]))


@dataclass(frozen=True)
class WidePinhole:
    """The undistorted picture that POV-Ray renders; it holds the whole distorted photo."""

    width: int
    height: int
    fx: float
    fy: float
    cx: float
    cy: float


def wide_pinhole(intrinsics: Intrinsics, scale: float = OVERSIZE) -> WidePinhole:
    """The smallest symmetrical pinhole picture around the photo, `scale` times as fine."""
    xs, ys = np.linspace(-0.5, WIDTH_PX - 0.5, 200), np.linspace(-0.5, HEIGHT_PX - 0.5, 200)
    border = np.concatenate([np.stack([xs, np.full(200, ys[0])], 1), np.stack([xs, np.full(200, ys[-1])], 1),
                             np.stack([np.full(200, xs[0]), ys], 1), np.stack([np.full(200, xs[-1]), ys], 1)])
    ideal = np.abs(intrinsics.undistort(intrinsics.direction_from_pixel(border))).max(axis=0)
    fx, fy = intrinsics.fx * scale, intrinsics.fy * scale
    # Eight pixels more on each side: Lanczos reaches four beyond.
    width = 2 * int(np.ceil(ideal[0] * fx)) + 16
    height = 2 * int(np.ceil(ideal[1] * fy)) + 16
    return WidePinhole(width, height, fx, fy, (width - 1) / 2, (height - 1) / 2)


def photo_from_wide_map(intrinsics: Intrinsics, wide: WidePinhole, subsamples: int):
    """Where each sub-sample of the photo lies in the wide picture: map_x, map_y for cv2.remap, px."""
    offsets = (np.arange(subsamples) + 0.5) / subsamples - 0.5
    xs = (np.arange(WIDTH_PX)[:, None] + offsets).ravel()
    ys = (np.arange(HEIGHT_PX)[:, None] + offsets).ravel()
    grid = np.stack(np.meshgrid(xs, ys), axis=-1)
    distorted = intrinsics.direction_from_pixel(grid)
    ideal = distorted.copy()
    for _ in range(12):
        ideal += distorted - intrinsics.distort(ideal)
    return ((ideal[..., 0] * wide.fx + wide.cx).astype(np.float32),
            (ideal[..., 1] * wide.fy + wide.cy).astype(np.float32))


def povray_camera(wide: WidePinhole, pose: Pose) -> str:
    """The camera block that makes POV-Ray sample the pixel centres of `wide`.

    All four vectors are given, without `angle` and `look_at`, because those would alter them. The
    half pixel is POV-Ray's: it samples at (i + 0.5) / width of `right`.
    """
    x, y, z = pose.rotation
    right = x * (wide.width / wide.fx)
    up = -y * (wide.height / wide.fy)
    direction = (z + x * ((wide.width / 2 - 0.5 - wide.cx) / wide.fx)
                 + y * ((wide.height / 2 - 0.5 - wide.cy) / wide.fy))

    def vector(v):
        return "<" + ",".join(f"{c:.12g}" for c in v) + ">"

    return (f"camera {{ location {vector(pose.centre)} right {vector(right)} up {vector(up)} "
            f"direction {vector(direction)} }}\n")
