#!/usr/bin/env python3
"""Types what the user knows of the demo original into a dossier: bars, check length and the dimensions asked.

Usage: enter_survey.py SCANTLING DIR. Reads survey.json beside it and calls the command once an item, as the user would.
"""
import json
import pathlib
import subprocess
import sys


def dimension_options(dimension):
    """The options of `scantling dimension add` for one entry of survey.json."""
    kind = dimension["kind"]
    if kind == "distance":
        return ["--distance", *dimension["points"]]
    if kind == "along":
        return ["--along", *dimension["points"], "--axis", *dimension["axis"]]
    if kind == "angle":
        return ["--angle", *dimension["points"]]
    if kind == "offset_line":
        return ["--offset", dimension["point"], "--line", *dimension["line"]]
    if kind == "offset_plane":
        return ["--offset", dimension["point"], "--plane", *dimension["plane"]]
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
    for dimension in survey["dimensions"]:
        call("dimension", "add", folder, dimension["name"], *dimension_options(dimension))
    print(f"Entered {len(survey['bars'])} scale bars, a check length and {len(survey['dimensions'])} dimensions.")


if __name__ == "__main__":
    main()
