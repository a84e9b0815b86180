#!/usr/bin/env python3
"""Types what the user knows of the demo original into a dossier: bars, check length, shapes, axes, dimensions asked.

Usage: enter_survey.py SCANTLING DIR. Reads survey.json beside it and calls the command once an item, as the user would.
"""
import json
import pathlib
import subprocess
import sys


def shape_options(shape):
    """The options of `scantling shape add` for one entry of survey.json."""
    is_a = shape["is"]
    if is_a in ("edge", "rim", "outline"):
        return [f"--{is_a}", *(["--kind", shape["kind"]] if "kind" in shape else [])]
    if is_a in ("line", "plane", "circle", "cylinder"):
        return [f"--{is_a}", *shape["points"]]
    if is_a == "crossing":
        return ["--crossing", *shape["of"]]
    if is_a == "mid_plane":
        return ["--mid-plane", *shape["of"]]
    if is_a == "parallel_plane":
        return ["--parallel", shape["of"], f"--by={shape['by_mm']}mm"]
    if is_a == "mirror_plane":
        return ["--mirror", *(name for pair in shape["pairs"] for name in pair)]
    raise ValueError(f"survey.json asks for an unknown kind of shape: {is_a}")


def dimension_options(dimension):
    """The options of `scantling dimension add` for one entry of survey.json."""
    kind = dimension["kind"]
    if kind == "along":
        return ["--along", *dimension["points"], "--axis", *dimension["axis"]]
    if kind == "offset_line":
        return ["--offset", dimension["point"], "--line", *dimension["line"]]
    if kind == "offset_plane":
        return ["--offset", dimension["point"], "--plane", *dimension["plane"]]
    if kind in ("radius", "diameter"):
        return [f"--{kind}", dimension["shape"]]
    if kind in ("gap", "angle_between"):
        return ["--" + kind.replace("_", "-"), *dimension["shapes"]]
    if kind == "arc":
        return ["--arc", dimension["circle"], *dimension["points"], *(["--via", dimension["via"]] if "via" in dimension else [])]
    if kind == "ordinate":
        return [f"--{dimension['axis']}", dimension["point"]]
    if kind == "mirror_departure":
        return ["--mirror-departure", dimension["mirror"], *dimension["points"]]
    if kind in ("distance", "angle", "chain", "pitch", "row_departure", "area"):
        return ["--" + kind.replace("_", "-"), *dimension["points"]]
    raise ValueError(f"survey.json asks for an unknown kind of dimension: {kind}")


def main():
    scantling, folder = sys.argv[1:3]
    survey = json.loads((pathlib.Path(__file__).parent / "survey.json").read_text(encoding="utf-8"))

    def call(*arguments):
        subprocess.run([scantling, *arguments], check=True, stdout=subprocess.DEVNULL)

    for bar in [*survey["bars"], survey["check_length"]]:
        call("bar", "add", folder, bar["name"], "--from", bar["ends"][0], "--to", bar["ends"][1],
             "--length", f"{bar['length_mm']}mm", "--u", f"{bar['u_mm']}mm",
             *(["--check"] if bar is survey["check_length"] else []))
    for kind in survey["point_kinds"]:
        call("point", "kind", folder, kind["name"], "--u", f"{kind['u_mm']}mm")
    for shape in survey["shapes"]:
        call("shape", "add", folder, shape["name"], *shape_options(shape))
    axes = survey["axes"]
    call("axes", "set", folder, "--plane", axes["plane"], "--line", axes["line"], "--origin", axes["origin"])
    for dimension in survey["dimensions"]:
        call("dimension", "add", folder, dimension["name"], *dimension_options(dimension))
    print(f"Entered {len(survey['bars'])} scale bars, a check length, {len(survey['shapes'])} shapes and "
          f"{len(survey['dimensions'])} dimensions.")


if __name__ == "__main__":
    main()
