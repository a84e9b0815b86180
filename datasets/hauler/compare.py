#!/usr/bin/env python3
"""Compares measured dimensions with the truth of the demo.

    scantling dimensions DOSSIER --json | ./compare.py
    ./compare.py FILE.json

Reads the JSON of `scantling dimensions --json` and truth.json, and prints for every dimension at model scale
its value with U, the truth, the error and error/U (mm, or degrees for angles). Exit code: 0 if every
dimension is there with a value and its U, 1 if one is missing, 2 if the input cannot be read.
"""
from __future__ import annotations

import argparse
import json
import math
import sys
import unicodedata
from pathlib import Path

HERE = Path(__file__).resolve().parent
UNITS = {"mm": "mm", "deg": "°"}


def columns(text: str) -> int:
    """Columns that the text takes in a terminal: combining accents take none, wide letters two."""
    return sum(0 if unicodedata.combining(c) else 2 if unicodedata.east_asian_width(c) in "WF" else 1 for c in text)


def padded(text: str, width: int) -> str:
    """Text filled with spaces to `width` columns."""
    return text + " " * max(0, width - columns(text))


def decimals(expanded: float) -> int:
    """Decimals that show U with two significant digits (JCGM 100:2008, 7.2.6), at most five."""
    if expanded <= 0:
        return 4
    return min(5, max(0, 1 - math.floor(math.log10(expanded))))


def finite(value) -> bool:
    """Whether it is a number that can be compared."""
    return isinstance(value, (int, float)) and not isinstance(value, bool) and math.isfinite(value)


def read_measured(source: str) -> dict[str, dict]:
    """Name to entry, at model scale."""
    text = sys.stdin.read() if source == "-" else Path(source).read_text(encoding="utf-8")
    return {d["name"]: d for d in json.loads(text)["dimensions"] if d.get("scale") == "model"}


def main() -> int:
    """Command line."""
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("measured", nargs="?", default="-", help="JSON file; without it, standard input")
    parser.add_argument("--truth", type=Path, default=HERE / "truth.json")
    options = parser.parse_args()
    try:
        measured = read_measured(options.measured)
        truth = json.loads(options.truth.read_text(encoding="utf-8"))["dimensions"]
    except (OSError, ValueError, KeyError, TypeError, AttributeError) as cause:
        print(f"compare: cannot read the input: {type(cause).__name__}: {cause}", file=sys.stderr)
        return 2

    width = max(columns(d["name"]) for d in truth)
    head = f"{padded('dimension (model scale)', width)}  {'value':>10} {'± U':>9}  {'truth':>10} {'error':>9} {'':2}  {'error/U':>7}"
    print(head)
    print("─" * columns(head))
    missing, within, count, squares = [], 0, 0, 0.0
    for d in truth:
        entry = measured.get(d["name"])
        problem = None
        if entry is not None and entry.get("unit") == "rad" and d["unit"] == "deg":
            # Files hold radians; degrees are for people.
            entry = dict(entry, unit="deg", **{key: math.degrees(entry[key]) for key in ("value", "u", "U")
                                               if finite(entry.get(key))})
        if entry is None:
            problem = "is not in the input"
        elif not (finite(entry.get("value")) and finite(entry.get("U")) and entry["U"] > 0):
            problem = entry.get("problem") or "has no value with an uncertainty"
        elif entry.get("unit") != d["unit"]:
            problem = f"is in {entry.get('unit')!r} where {d['unit']!r} was expected"
        if problem:
            missing.append(d["name"])
            print(f"{padded(d['name'], width)}  {problem}")
            continue
        value, expanded = entry["value"], entry["U"]
        k = entry.get("k") if finite(entry.get("k")) and entry["k"] > 0 else 2.0
        u = entry["u"] if finite(entry.get("u")) and entry["u"] > 0 else expanded / k
        error = value - d["value"]
        count += 1
        within += abs(error) <= expanded
        squares += (error / u) ** 2
        places = decimals(expanded)
        outside = "  ◂ outside U" if abs(error) > expanded else ""
        print(f"{padded(d['name'], width)}  {value:10.{places}f} {expanded:9.{places}f}  {d['value']:10.{places}f} "
              f"{error:+9.{places}f} {padded(UNITS.get(d['unit'], d['unit']), 2)}  {error / expanded:+7.2f}{outside}")
    print("─" * columns(head))
    if count:
        print(f"{within} of {count} errors are within U ({100 * within / count:.0f} %; 95 % are expected for k = 2).")
        print(f"rms of error/u: {math.sqrt(squares / count):.2f} (1 is expected; the errors share photos and bars, "
              "so it scatters more than independent ones).")
    if missing:
        print(f"{len(missing)} of {len(truth)} dimensions are missing: see the table.")
        return 1
    return 0


if __name__ == "__main__":
    sys.exit(main())
