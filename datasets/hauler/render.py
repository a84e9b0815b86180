"""From a scene and a pose to a photo: POV-Ray, then lens and film, then JPEG with EXIF."""
from __future__ import annotations

import hashlib
import json
import os
import subprocess
from pathlib import Path

import cv2
import numpy as np

from camera import (HEIGHT_PX, WIDTH_PX, Intrinsics, Pose, WidePinhole, photo_from_wide_map, povray_camera, wide_pinhole)
from scene import NamedPoint

# An aperture of 45 mm / 29, focused once and left alone for board and original.
APERTURE_MM, FOCUS_MM = 1.55, 900.0
LENS_BLUR_PX = 0.55
JPEG_QUALITY = 90
DEPTH_SCALE_MM = 2000.0
# A place counts as hidden if something is hit this much before it.
HIDDEN_MM = 0.35
HEADER = "#version 3.7;\nglobal_settings { assumed_gamma 1.0 max_trace_level 3 ambient_light rgb 1 }\n"


def write_by_rename(path: Path, text: str) -> None:
    """Writes at once, because a render may be reading the old file."""
    temporary = path.with_suffix(path.suffix + ".new")
    temporary.write_text(text, encoding="utf-8")
    os.replace(temporary, path)


def run_povray(work: Path, name: str, text: str, options: list[str]) -> None:
    """One run; the picture is made anew only if the text or the options have changed."""
    picture, key_file = work / f"{name}.png", work / f"{name}.key"
    key = hashlib.sha256((text + " ".join(options)).encode()).hexdigest()
    if picture.exists() and key_file.exists() and key_file.read_text() == key:
        return
    write_by_rename(work / f"{name}.pov", text)
    command = ["nice", "-n", "15", "povray", f"+I{name}.pov", f"+O{name}.part.png", "+FN16", "Bits_Per_Color=16",
               "File_Gamma=1.0", "-D", "-GD", "-GR", "-GS", "-GW", "+WT2", "+L/usr/share/povray-3.7/include", *options]
    done = subprocess.run(command, cwd=work, capture_output=True, text=True)
    if done.returncode != 0:
        raise RuntimeError(f"POV-Ray failed on {name}:\n{done.stderr[-3000:]}")
    os.replace(work / f"{name}.part.png", picture)
    key_file.write_text(key)


def render_wide(work: Path, name: str, intrinsics: Intrinsics, pose: Pose, paints: str, lights: str, objects: list[str],
                antialias: list[str], scale: float = 1.0) -> None:
    """Renders NAME.png (linear light, 16 bit) and NAME_depth.png (half as fine) into `work`.

    `scale` below 1 makes a quick, coarse preview.
    """
    wide = wide_pinhole(intrinsics)
    body = paints + "\n".join(objects) + "\n"
    size = [f"+W{int(wide.width * scale)}", f"+H{int(wide.height * scale)}"]
    run_povray(work, name, HEADER + povray_camera(wide, pose) + lights + body, [*size, *antialias])
    if scale == 1.0:
        # White fog over a black scene: value = 1 - exp(-distance / scale).
        fog = f"fog {{ fog_type 1 distance {DEPTH_SCALE_MM:g} rgb 1 }}\nbackground {{ rgb 1 }}\n"
        dark = HEADER.replace("ambient_light rgb 1", "ambient_light rgb 0").replace("max_trace_level 3", "max_trace_level 1")
        run_povray(work, name + "_depth", dark + fog + povray_camera(wide, pose) + body,
                   [f"+W{wide.width // 2}", f"+H{wide.height // 2}", "-A"])


def render_patches(work: Path, name: str, intrinsics: Intrinsics, pose: Pose, scene_text: str,
                   targets: list[tuple[NamedPoint, float]]) -> int:
    """Renders the targets of the wide picture NAME again, with finer antialiasing; returns how many.

    Antialiasing samples a pixel on a grid of 4 x 4. An edge whose slope is near a ratio of small numbers
    (0, 1/3, 1/2, 1) meets that grid in a long staircase, and where a stair ends pulls the centre: by up to
    0.3 px along the rows, by 0.09 px at 45 degrees. So no target keeps it. Each comes with its diameter in mm.
    """
    wide = wide_pinhole(intrinsics)

    def pixel(point_mm):
        x, y, z = pose.into_camera(point_mm)
        return np.array([x / z * wide.fx + wide.cx, y / z * wide.fy + wide.cy])

    patches = []
    for target, diameter in targets:
        centre = pixel(target.position)
        half = 0.55 * diameter * wide.fx / np.linalg.norm(target.position - pose.centre)
        left, top = (max(0, int(v - half)) for v in centre)
        width, height = (min(limit, int(v + half)) - low for v, low, limit in
                         zip(centre, (left, top), (wide.width, wide.height)))
        # The same camera, cut out: its principal point moves by whole pixels.
        window = WidePinhole(width, height, wide.fx, wide.fy, wide.cx - left, wide.cy - top)
        patch = f"{name}_patch_{len(patches)}"
        run_povray(work, patch, HEADER + povray_camera(window, pose) + scene_text,
                   [f"+W{width}", f"+H{height}", "+AM2", "+A0.02", "+R4", "-J"])
        patches.append([patch, left, top])
    write_by_rename(work / f"{name}_patches.json", json.dumps(patches))
    return len(patches)


class Darkroom:
    """Turns wide pinhole renders into photos; keeps the resampling maps."""

    def __init__(self, intrinsics: Intrinsics):
        self.intrinsics = intrinsics
        self.wide: WidePinhole = wide_pinhole(intrinsics)
        self.fine = photo_from_wide_map(intrinsics, self.wide, 2)
        self.coarse = photo_from_wide_map(intrinsics, self.wide, 1)

    def _depth(self, work: Path, name: str) -> np.ndarray:
        """Depth along the axis, mm, for every photo pixel."""
        value = cv2.imread(str(work / f"{name}_depth.png"), cv2.IMREAD_UNCHANGED)[:, :, 1].astype(np.float32) / 65535
        distance = -DEPTH_SCALE_MM * np.log(np.clip(1 - value, 1e-4, 1))
        map_x, map_y = self.coarse
        along_ray = cv2.remap(distance, (map_x + 0.5) / 2 - 0.5, (map_y + 0.5) / 2 - 0.5, cv2.INTER_LINEAR,
                              borderMode=cv2.BORDER_REPLICATE)
        x, y = (map_x - self.wide.cx) / self.wide.fx, (map_y - self.wide.cy) / self.wide.fy
        return along_ray / np.sqrt(1 + x * x + y * y)

    def develop(self, work: Path, name: str, exposure: float, seed: int, photo: Path) -> None:
        """Writes the JPEG. Every step is symmetrical about an edge, so none of them moves it."""
        wide = cv2.imread(str(work / f"{name}.png"), cv2.IMREAD_UNCHANGED)[:, :, :3].astype(np.float32) / 65535
        patches = work / f"{name}_patches.json"
        for patch, left, top in json.loads(patches.read_text()) if patches.exists() else []:
            cut = cv2.imread(str(work / f"{patch}.png"), cv2.IMREAD_UNCHANGED)[:, :, :3].astype(np.float32) / 65535
            wide[top:top + cut.shape[0], left:left + cut.shape[1]] = cut
        fine = cv2.remap(wide, *self.fine, cv2.INTER_LANCZOS4, borderMode=cv2.BORDER_REPLICATE)
        picture = np.clip(cv2.resize(fine, (WIDTH_PX, HEIGHT_PX), interpolation=cv2.INTER_AREA), 0, None)
        del fine, wide
        depth = self._depth(work, name)
        # The Gaussian that stands for a blur circle has a quarter of its diameter as sigma.
        sigma = np.sqrt(LENS_BLUR_PX ** 2 + (APERTURE_MM * self.intrinsics.fx * np.abs(1 / depth - 1 / FOCUS_MM) / 4) ** 2)
        sigma = cv2.GaussianBlur(sigma.astype(np.float32), (0, 0), 2)
        levels = [LENS_BLUR_PX, 0.75, 1.0, 1.4, 2.0]
        blurred = [cv2.GaussianBlur(picture, (0, 0), level) for level in levels]
        index = np.clip(np.interp(sigma, levels, np.arange(len(levels))), 0, len(levels) - 1)
        out = np.zeros_like(picture)
        for i, layer in enumerate(blurred):
            out += layer * np.clip(1 - np.abs(index - i), 0, 1)[:, :, None].astype(np.float32)
        y, x = np.mgrid[0:HEIGHT_PX, 0:WIDTH_PX].astype(np.float32)
        r2 = ((x - self.intrinsics.cx) / self.intrinsics.fx) ** 2 + ((y - self.intrinsics.cy) / self.intrinsics.fy) ** 2
        out *= (exposure / (1 + 0.9 * r2) ** 2)[:, :, None]
        rng = np.random.default_rng(seed)
        noise = cv2.GaussianBlur(rng.standard_normal(out.shape).astype(np.float32), (0, 0), 0.5) * 1.6
        out += noise * np.sqrt(np.clip(out, 0, None) * 2.2e-5 + 1.2e-6)
        # A soft shoulder keeps the paper from burning out; then the usual curve of a JPEG.
        out = np.clip(out, 0, None)
        out = 1.28 * out / (1 + 0.28 * out)
        out = np.where(out <= 0.0031308, 12.92 * out, 1.055 * np.power(np.clip(out, 1e-6, None), 1 / 2.4) - 0.055)
        out += 0.3 * (out - cv2.GaussianBlur(out, (0, 0), 1.0))
        out = np.clip(out * 255 + rng.uniform(-0.5, 0.5, out.shape), 0, 255)
        photo.parent.mkdir(parents=True, exist_ok=True)
        cv2.imwrite(str(photo), np.round(out).astype(np.uint8), [cv2.IMWRITE_JPEG_QUALITY, JPEG_QUALITY])


def write_exif(photo: Path, number: int) -> None:
    """What a camera would have written; all of it invented. Needs the program exiv2."""
    tags = {"Image.Make": "Invented Works", "Image.Model": "Demo Body 1", "Image.Orientation": "1",
            "Photo.LensModel": "Invented 45 mm", "Photo.FocalLength": "45/1", "Photo.FNumber": "29/1",
            "Photo.ISOSpeedRatings": "100", "Photo.ExposureTime": "1/2",
            "Photo.DateTimeOriginal": f"2031:05:06 10:{number:02d}:00",
            "Photo.PixelXDimension": str(WIDTH_PX), "Photo.PixelYDimension": str(HEIGHT_PX)}
    command = ["exiv2"]
    for key, value in tags.items():
        command += ["-M", f"set Exif.{key} {value}"]
    subprocess.run([*command, str(photo)], check=True)


def first_hits(work: Path, name: str, objects: list[str], paints: str, eyes_mm: np.ndarray, places_mm: np.ndarray) -> np.ndarray:
    """How far from its eye (n, 3) the ray towards each place (n, 3) first meets something, mm; POV-Ray traces them."""
    def vectors(rows):
        return f"array[{len(rows)}] {{{','.join('<' + ','.join(f'{c:.9g}' for c in v) + '>' for v in rows)}}}"

    text = "".join([
        HEADER, paints, "#declare All = union {\n", "\n".join(objects), "\n}\n",
        f"#declare Eyes = {vectors(eyes_mm)}\n#declare Places = {vectors(places_mm)}\n",
        f'#fopen Out "{name}.txt" write\n#declare N = <0,0,0>;\n#for (I, 0, {len(places_mm) - 1})\n'
        "#declare Hit = trace(All, Eyes[I], vnormalize(Places[I] - Eyes[I]), N);\n"
        "#if (vlength(N) = 0) #declare L = 1e7; #else #declare L = vlength(Hit - Eyes[I]); #end\n"
        '#write (Out, str(L, 0, 4), "\\n")\n#end\n#fclose Out\ncamera { location <0,0,9000> look_at 0 }\n'])
    run_povray(work, name, text, ["+W16", "+H16", "-A"])
    return np.array([float(v) for v in (work / f"{name}.txt").read_text().split()])


def visibility(work: Path, objects: list[str], paints: str, points_mm: np.ndarray, normals: list, poses: list[Pose]) -> np.ndarray:
    """Which point is seen from which pose, bool (photos, points), by tracing rays in POV-Ray.

    A flat mark counts as hidden also if it is seen at less than 11 degrees to its plane.
    """
    def vector(v):
        return "<" + ",".join(f"{c:.9g}" for c in v) + ">"

    lines = [HEADER, paints, "#declare All = union {\n", "\n".join(objects), "\n}\n"]
    lines.append(f"#declare Points = array[{len(points_mm)}] {{{','.join(vector(p) for p in points_mm)}}}\n")
    lines.append(f"#declare Centres = array[{len(poses)}] {{{','.join(vector(p.centre) for p in poses)}}}\n")
    lines.append('#fopen Out "visible.txt" write\n#declare N = <0,0,0>;\n'
                 f"#for (I, 0, {len(poses) - 1})\n#for (J, 0, {len(points_mm) - 1})\n"
                 "#declare D = vnormalize(Points[J] - Centres[I]);\n#declare Hit = trace(All, Centres[I], D, N);\n"
                 "#if (vlength(N) = 0) #declare L = 1e7; #else #declare L = vlength(Hit - Centres[I]); #end\n"
                 '#write (Out, str(L, 0, 4), "\\n")\n#end\n#end\n#fclose Out\ncamera { location <0,0,9000> look_at 0 }\n')
    text = "".join(lines)
    run_povray(work, "trace", text, ["+W16", "+H16", "-A"])
    hits = np.array([float(v) for v in (work / "visible.txt").read_text().split()]).reshape(len(poses), -1)
    seen = np.zeros_like(hits, dtype=bool)
    for i, pose in enumerate(poses):
        ray = points_mm - pose.centre
        distance = np.linalg.norm(ray, axis=1)
        seen[i] = hits[i] >= distance - HIDDEN_MM
        for j, normal in enumerate(normals):
            if normal is not None and -(ray[j] / distance[j]) @ normal < 0.2:
                seen[i, j] = False
    return seen
