#!/usr/bin/python3
"""Makes the whole demo: data files, renders, photos.

    ./make_demo.py --work DIR [--stage data|render|develop|all] [--only NAME ...] [--preview SCALE]

Renders are kept in DIR, outside of the repository, and made again only when their scene has changed.
Needs Debian's povray, python3-opencv and exiv2. All seeds are fixed.
"""
from __future__ import annotations

import argparse
import csv
import json
from pathlib import Path

import numpy as np

import forms
import hauler
import marks
import poses
import render
import shape_marks
import stage
import survey
from camera import Intrinsics, Pose, project
from scene import NamedPoint, Scene, frame_on, hand_built, move, rotation

HERE = Path(__file__).resolve().parent
SEED = 20480
PHOTO_AA = ["+AM2", "+A0.3", "+R2", "-J"]
BOARD_AA = ["+AM2", "+A0.15", "+R3", "-J"]
# The short axis of a target's ellipse; a flatter one cannot be refined well.
SMALLEST_TARGET_PX = 25.0
EXPOSURE_PHOTO, EXPOSURE_BOARD = 1.2, 1.1


class Demo:
    """The scenes, the poses, and what follows from them."""

    def __init__(self):
        self.intrinsics = Intrinsics()
        self.bars = survey.true_bar_lengths(SEED + 1)
        room = Scene(SEED + 2)
        stage.table_and_room(room)
        original = Scene(SEED + 3)
        # It stands a little askew, so that no dimension runs along an axis of the scene.
        with original.frame(move(3.7, -2.1, 0.0, rotation("z", 2.6)) @ hand_built(original.rng, (0, 0, 0))):
            hauler.build(original)
        props = Scene(SEED + 4)
        stage.targets_and_bars(props, self.bars)
        self.objects = room.objects + original.objects + props.objects
        self.original, self.props = original.points, props.points
        self.small_places = {name: original.small_places[name] for name in survey.SMALL_PLACES}
        self.shapes = original.shapes

        on_table = Scene(SEED + 5)
        self.board_frame = move(-80.0, -60.0, 6.1, rotation("z", 14.0))
        with on_table.frame(self.board_frame):
            stage.board(on_table)
        self.board_objects = room.objects + on_table.objects

        rng = np.random.default_rng(SEED + 6)
        must_show = np.array([p.position for p in self.original.values()]
                             + [self.props[f"bar {b} {e}"].position for b in "ABC" for e in ("left", "right")])
        self.photo_poses = poses.photo_poses(self.intrinsics, must_show, rng)
        q, (columns, rows) = stage.BOARD_SQUARE, stage.BOARD_INNER_CORNERS
        low, high = -q, np.array([columns * q, rows * q])
        outline = np.array([(x, y, 0.0) for x in (low, high[0]) for y in (low, high[1])])
        # camera from board, and the same cameras in the scene
        self.board_poses = poses.board_poses(self.intrinsics, outline)
        r, t = self.board_frame[:3, :3], self.board_frame[:3, 3]
        self.board_scene_poses = [Pose(p.rotation @ r.T, p.translation - p.rotation @ r.T @ t) for p in self.board_poses]

    def photo_names(self) -> list[str]:
        """Without the ending."""
        return [f"hauler_{i + 1:02d}" for i in range(len(self.photo_poses))]

    def targets_in(self, photo: str) -> list[tuple[NamedPoint, float]]:
        """The targets that targets.csv, made before, lists for a photo, each with its diameter in mm."""
        with (HERE / "targets.csv").open(encoding="utf-8") as stream:
            names = [row["point"] for row in csv.DictReader(stream) if row["photo"] == photo]
        return [(self.props[n], target_diameter(n)) for n in names]

    def board_names(self) -> list[str]:
        """Without the ending."""
        return [f"board_{i + 1:02d}" for i in range(len(self.board_poses))]


def target_diameter(name: str) -> float:
    """Of the quartered circle, mm."""
    return stage.BAR_TARGET_DIAMETER if name.startswith("bar") else stage.TARGET_DIAMETER


def rim(name: str, centre: np.ndarray, normal: np.ndarray) -> np.ndarray:
    """Eight places just inside a target's edge (8, 3), mm."""
    frame = frame_on((0, 0, 0), normal, (0.36, 0.48, 0.80))
    angles = np.arange(8) * np.pi / 4
    return centre + 0.48 * target_diameter(name) * (np.outer(np.cos(angles), frame[:3, 0]) + np.outer(np.sin(angles), frame[:3, 1]))


def true_marks(demo: Demo, work: Path, points: dict) -> list[tuple[str, str, np.ndarray]]:
    """(photo, point, true px) of every point that is seen; of targets only those seen whole and not too flat."""
    names = list(points)
    places = [points[n].position for n in names]
    normals = [points[n].normal for n in names]
    rims = {n: rim(n, points[n].position, points[n].normal) for n in names if n in demo.props}
    owner = np.array(list(range(len(names))) + [names.index(n) for n in rims for _ in range(8)])
    traced = np.array(places + [p for ring in rims.values() for p in ring])
    seen_all = render.visibility(work, demo.objects, stage.paints(), traced, [normals[k] for k in owner], demo.photo_poses)
    rows = []
    for i, pose in enumerate(demo.photo_poses):
        good_all = seen_all[i] & marks.inside(project(demo.intrinsics, pose, traced))
        px = project(demo.intrinsics, pose, np.array(places))
        for j, name in enumerate(names):
            if not good_all[owner == j].all():
                continue
            if name in demo.props:
                ray = pose.centre - places[j]
                distance = np.linalg.norm(ray)
                across = target_diameter(name) * demo.intrinsics.fx / distance * (ray @ normals[j]) / distance
                if across < SMALLEST_TARGET_PX:
                    continue
            rows.append((demo.photo_names()[i] + ".jpg", name, px[j]))
    return rows


def seen_shapes(demo: Demo) -> dict:
    """The edges, rims and cylinders that survey.json asks for, and the edges that are taken for them by mistake."""
    names = [s["name"] for s in survey.SHAPES if s["is"] in ("edge", "rim", "outline")]
    return {name: demo.shapes[name] for name in [*names, *shape_marks.NEIGHBOUR_OF.values()]}


def true_shape_marks(demo: Demo, work: Path) -> list[shape_marks.Place]:
    """Places along the shapes, in the photos that see them."""
    places = shape_marks.candidates(seen_shapes(demo), demo.photo_poses, np.random.default_rng(SEED + 8))
    places = shape_marks.in_frame(places, demo.intrinsics, demo.photo_poses)
    eyes = np.array([demo.photo_poses[p.photo].centre for p in places])
    positions = np.array([p.position for p in places])
    hits = render.first_hits(work, "trace_shapes", demo.objects, stage.paints(), eyes, positions)
    return [p for p, hit, distance in zip(places, hits, np.linalg.norm(positions - eyes, axis=1))
            if hit >= distance - render.HIDDEN_MM]


def bolt_rows(demo: Demo, work: Path) -> list[tuple[str, str, np.ndarray]]:
    """(photo, point, true px) of the bolts and rivets, where they are seen."""
    points = list(demo.small_places.values())
    places = np.array([p.position for p in points])
    eyes = np.repeat([p.centre for p in demo.photo_poses], len(points), axis=0)
    hits = render.first_hits(work, "trace_bolts", demo.objects, stage.paints(), eyes,
                             np.tile(places, (len(demo.photo_poses), 1))).reshape(-1, len(points))
    rows = []
    for i, pose in enumerate(demo.photo_poses):
        ray = pose.centre - places
        distance = np.linalg.norm(ray, axis=1)
        px = project(demo.intrinsics, pose, places)
        good = (hits[i] >= distance - render.HIDDEN_MM) & marks.inside(px)
        for k, point in enumerate(points):
            if good[k] and ray[k] @ point.normal > 0.3 * distance[k]:
                rows.append((demo.photo_names()[i] + ".jpg", point.name, px[k]))
    return rows


def write_json(path: Path, content) -> None:
    """Readable and with a fixed order of keys, so that a remake can be compared."""
    path.write_text(json.dumps(content, indent=1, ensure_ascii=False) + "\n", encoding="utf-8")


def make_data(demo: Demo, work: Path) -> None:
    """survey.json, marks.csv, targets.csv, bolt_marks.csv, shape_marks.csv, truth.json."""
    everything = {**demo.original, **demo.props}
    rows = true_marks(demo, work, everything)
    rng = np.random.default_rng(SEED + 7)
    by_hand = [r for r in rows if r[1] in demo.original]
    rough = [r for r in rows if r[1] in demo.props]
    spoilt, altered = marks.with_mistakes(marks.noisy(by_hand, marks.MARK_SIGMA_PX, rng), rng)
    marks.write_csv(HERE / "marks.csv", spoilt)
    marks.write_csv(HERE / "targets.csv", marks.noisy(rough, marks.ROUGH_SIGMA_PX, rng))
    bolts = bolt_rows(demo, work)
    marks.write_csv(HERE / "bolt_marks.csv", marks.noisy(bolts, marks.MARK_SIGMA_PX, np.random.default_rng(SEED + 9)))
    along, altered_along = shape_marks.make(seen_shapes(demo), true_shape_marks(demo, work), demo.intrinsics, demo.photo_poses,
                                            [n + ".jpg" for n in demo.photo_names()], np.random.default_rng(SEED + 10))
    shape_marks.write_csv(HERE / "shape_marks.csv", along)
    altered += altered_along
    write_json(HERE / "survey.json", survey.survey())

    places = {name: p.position for name, p in {**everything, **demo.small_places}.items()}
    true_forms = forms.true_forms(survey.SHAPES, places, demo.shapes)
    dimensions = []
    for d in survey.DIMENSIONS:
        value, unit = forms.true_value(d, true_forms, survey.AXES)
        dimensions.append({"name": d["name"], "kind": d["kind"], "value": round(value, 5), "unit": unit})
    camera = {"width_px": 2400, "height_px": 1600, **vars(demo.intrinsics)}

    def pose(p: Pose) -> dict:
        return {"rotation": [[round(float(v), 12) for v in row] for row in p.rotation],
                "translation_mm": [round(float(v), 9) for v in p.translation]}

    def listed(points: dict) -> dict:
        return {name: [round(float(v), 6) for v in p.position] for name, p in points.items()}

    def true_shape(name: str, shape) -> dict:
        form = forms.seen(shape)
        entry = {"name": name, "is": shape.kind}
        if shape.kind != "rim":
            entry["ends_mm"] = [[round(float(v), 6) for v in shape.frame[:3, :3] @ p + shape.frame[:3, 3]]
                                for p in (shape.start, shape.end)]
        else:
            entry["centre_mm"] = [round(float(v), 6) for v in form.position]
            entry["axis"] = [round(float(v), 9) for v in form.direction]
        if shape.kind != "edge":
            longest, shortest = np.linalg.svd(np.stack(forms.oval(shape), axis=1))[1][:2]
            entry["radius_mm"] = round(form.radius, 6)
            entry["oval_mm"] = round(float(longest - shortest) / 2, 6)
        return entry

    write_json(HERE / "truth.json", {
        "about": "True values of the demo. Only tests and compare.py read this file. x_camera = rotation X + translation; "
                 "pixel (0, 0) is the centre of the top left pixel; mm, px, deg; distortion k1 k2 p1 p2 k3 as OpenCV writes it.",
        "camera": camera,
        "photos": {n + ".jpg": pose(p) for n, p in zip(demo.photo_names(), demo.photo_poses)},
        "board": {"inner_corners": list(stage.BOARD_INNER_CORNERS), "square_mm": stage.BOARD_SQUARE,
                  "corners_mm": stage.board_corners().tolist(),
                  "photos": {n + ".jpg": pose(p) for n, p in zip(demo.board_names(), demo.board_poses)}},
        "points_mm": listed(demo.original), "targets_mm": listed(demo.props),
        "target_normals": {n: [round(float(v), 9) for v in p.normal] for n, p in demo.props.items()},
        "target_diameters_mm": {n: target_diameter(n) for n in demo.props},
        "small_places_mm": listed(demo.small_places),
        "shapes": [true_shape(name, demo.shapes[name]) for name in seen_shapes(demo)],
        "bar_lengths_mm": demo.bars, "dimensions": dimensions, "altered_marks": altered})

    counts: dict[str, int] = {name: 0 for name in everything}
    for _, point, _ in rows:
        counts[point] += 1
    print(f"{len(demo.original)} points, {len(demo.props)} targets, {len(by_hand)} marks, {len(rough)} target positions")
    print("seen in fewer than 3 photos:", {n: c for n, c in counts.items() if c < 3})
    print("altered:", altered)
    for _, point, _ in bolts:
        counts[point] = counts.get(point, 0) + 1
    needed = {n for d in survey.DIMENSIONS for key in ("points", "axis", "line", "plane") for n in d.get(key, [])}
    needed |= {d["point"] for d in survey.DIMENSIONS if "point" in d}
    needed |= set(demo.small_places)
    weak = {n: counts.get(n, 0) for n in needed if n in places and counts.get(n, 0) < 4}
    print(f"{len(bolts)} marks of {len(demo.small_places)} bolts and rivets, {len(along)} marks on shapes:")
    for name in seen_shapes(demo):
        photos = [photo for photo, shape, *_ in along if shape == name]
        print(f"  {name}: {len(photos)} in {len(set(photos))} photos")
    kinds = {d["kind"] for d in survey.DIMENSIONS}
    print(f"{len(survey.DIMENSIONS)} dimensions of {len(kinds)} kinds")
    print("needed for a dimension and seen in fewer than 4:", weak)


def main() -> None:
    """Command line."""
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("--work", type=Path, required=True, help="where renders are kept; outside of the repository")
    parser.add_argument("--stage", choices=("data", "render", "develop", "all"), default="all")
    parser.add_argument("--only", nargs="*", help="names such as hauler_03 or board_01")
    parser.add_argument("--preview", type=float, default=1.0, help="render coarsely at this scale, without depth")
    options = parser.parse_args()
    options.work.mkdir(parents=True, exist_ok=True)
    demo = Demo()
    print(f"{len(demo.objects)} objects")
    if options.stage in ("data", "all"):
        make_data(demo, options.work)
    jobs = [(n, p, demo.objects, PHOTO_AA, EXPOSURE_PHOTO, "photos") for n, p in zip(demo.photo_names(), demo.photo_poses)]
    jobs += [(n, p, demo.board_objects, BOARD_AA, EXPOSURE_BOARD, "board")
             for n, p in zip(demo.board_names(), demo.board_scene_poses)]
    darkroom = None
    for number, (name, pose, objects, antialias, exposure, folder) in enumerate(jobs):
        if options.only and name not in options.only:
            continue
        work_name = name if options.preview == 1.0 else name + "_preview"
        if options.stage in ("render", "all"):
            render.render_wide(options.work, work_name, demo.intrinsics, pose, stage.paints(), stage.lights(), objects,
                               antialias if options.preview == 1.0 else ["-A"], options.preview)
            if folder == "photos" and options.preview == 1.0:
                whole = demo.targets_in(name + ".jpg")
                render.render_patches(options.work, name, demo.intrinsics, pose,
                                      stage.lights() + stage.paints() + "\n".join(objects) + "\n", whole)
        if options.stage in ("develop", "all") and options.preview == 1.0:
            darkroom = darkroom or render.Darkroom(demo.intrinsics)
            photo = HERE / folder / f"{name}.jpg"
            darkroom.develop(options.work, name, exposure, SEED + 100 + number, photo)
            render.write_exif(photo, number)
            print(name, photo.stat().st_size // 1024, "kB", flush=True)


if __name__ == "__main__":
    main()
