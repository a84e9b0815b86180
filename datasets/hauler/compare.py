#!/usr/bin/env python3
"""Compares measured dimensions with the truth of the demo.

    scantling dimensions DOSSIER --json | ./compare.py
    ./compare.py FILE.json

Reads the JSON of `scantling dimensions --json` and truth.json, and prints for every dimension at model scale
its value with U, the truth, the error and error/U (mm, mm² or degrees), then a summary by kind. Where the
program gives an interval instead of U (near zero, or near a right angle), the truth lies inside or not.
Exit code: 0 if every dimension is there with a value and its U, 1 if one is missing, 2 if the input cannot
be read.
"""
from __future__ import annotations

import argparse
import json
import math
import sys
import unicodedata
from collections import defaultdict
from dataclasses import dataclass
from pathlib import Path

HERE = Path(__file__).resolve().parent
UNITS = {"mm": "mm", "mm2": "mm²", "deg": "°"}


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


@dataclass(frozen=True)
class Judged:
    """One dimension beside its truth, in the truth's unit; with `problem`, the numbers mean nothing."""

    name: str
    kind: str
    unit: str
    truth: float
    problem: str = ""
    value: float = math.nan
    expanded: float = math.nan
    u: float = math.nan
    interval: tuple[float, float] | None = None
    definition_share: float = 0.0  # of the variance: where on the original it is measured

    @property
    def error(self) -> float:
        """Measured less true."""
        return self.value - self.truth

    @property
    def inside(self) -> bool:
        """Whether the truth lies within U of the value, or in the interval that stands instead."""
        # Truth is written with five decimals.
        slack = 5.1e-6
        if self.interval:
            return self.interval[0] - slack <= self.truth <= self.interval[1] + slack
        return abs(self.error) <= self.expanded + slack


def judge(true: dict, entry: dict | None) -> Judged:
    """A dimension of truth.json and what `scantling dimensions --json` says of it."""
    about = {"name": true["name"], "kind": true["kind"], "unit": true["unit"], "truth": true["value"]}
    if entry is None:
        return Judged(**about, problem="is not in the input")
    if not (finite(entry.get("value")) and finite(entry.get("U")) and entry["U"] > 0):
        return Judged(**about, problem=entry.get("problem") or "has no value with an uncertainty")
    # Files hold radians; degrees are for people.
    turn, unit = (180 / math.pi, "deg") if entry.get("unit") == "rad" else (1.0, entry.get("unit"))
    if unit != true["unit"]:
        return Judged(**about, problem=f"is in {entry.get('unit')!r} where {true['unit']!r} was expected")
    k = entry["k"] if finite(entry.get("k")) and entry["k"] > 0 else 2.0
    u = entry["u"] if finite(entry.get("u")) and entry["u"] > 0 else entry["U"] / k
    interval = entry.get("interval")
    share = (entry.get("budget") or {}).get("definition")
    return Judged(**about, value=turn * entry["value"], expanded=turn * entry["U"], u=turn * u,
                  interval=(turn * interval[0], turn * interval[1]) if interval else None,
                  definition_share=share if finite(share) else 0.0)


def judge_all(measured: dict[str, dict], truth: list[dict]) -> list[Judged]:
    """In the order of truth.json."""
    return [judge(true, measured.get(true["name"])) for true in truth]


def rms(values: list[float]) -> float | None:
    """Root mean square; nothing of nothing."""
    return math.sqrt(sum(v * v for v in values) / len(values)) if values else None


def normalised(judged: list[Judged], without_definition: bool = False) -> list[float]:
    """error/u of those that have a U; at an end that it cannot cross an error is not normal."""
    return [d.error / (d.u * (math.sqrt(max(0.0, 1 - d.definition_share)) if without_definition else 1))
            for d in judged if not d.problem and not d.interval and not (without_definition and d.definition_share > 0.999)]


def print_table(judged: list[Judged]) -> None:
    """A line for every dimension."""
    width = max(columns(d.name) for d in judged)
    head = f"{padded('dimension (model scale)', width)}  {'value':>10} {'± U':>9}  {'truth':>10} {'error':>9} {'':3}  {'error/U':>7}"
    print(head)
    print("─" * columns(head))
    for d in judged:
        if d.problem:
            print(f"{padded(d.name, width)}  {d.problem}")
            continue
        places = decimals(d.expanded)
        unit = padded(UNITS.get(d.unit, d.unit), 3)
        line = f"{padded(d.name, width)}  {d.value:10.{places}f} "
        if d.interval:
            low, high = d.interval
            line += (f"{'':9}  {d.truth:10.{places}f} {d.error:+9.{places}f} {unit}  "
                     f"{'inside' if d.inside else 'OUTSIDE'} {low:.{places}f} … {high:.{places}f}")
        else:
            line += (f"{d.expanded:9.{places}f}  {d.truth:10.{places}f} {d.error:+9.{places}f} {unit}  {d.error / d.expanded:+7.2f}"
                     + ("" if d.inside else "  ◂ outside U"))
        print(line)
    print("─" * columns(head))


def print_summary(judged: list[Judged]) -> None:
    """By kind, and of all."""
    kinds: dict[str, list[Judged]] = defaultdict(list)
    for d in judged:
        if not d.problem:
            kinds[d.kind].append(d)

    def text(value: float | None) -> str:
        return "" if value is None else f"{value:.2f}"

    width = max(map(len, [*kinds, "kind"]))
    print(f"{'kind':{width}}  count  inside  rms error/u  without definition")
    for kind, group in sorted(kinds.items()):
        print(f"{kind:{width}}  {len(group):5}  {sum(d.inside for d in group):6}  {text(rms(normalised(group))):>11}  "
              f"{text(rms(normalised(group, True))):>18}".rstrip())
    known = [d for group in kinds.values() for d in group]
    if not known:
        return
    inside = sum(d.inside for d in known)
    print(f"{inside} of {len(known)} truths of {len(kinds)} kinds lie inside ({100 * inside / len(known):.0f} %; about 95 % are "
          "expected).")
    print(f"rms of error/u: {text(rms(normalised(known)))} (1 is expected; the errors share photos and bars, so it scatters more "
          "than independent ones).")
    print("Definition is where on the original a thing is measured: how oval a round is, how far from one plane or one symmetry. "
          "The truth here\nfollows one such choice, so it counts in U, and hardly in the error.")


def main() -> int:
    """Command line."""
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("measured", nargs="?", default="-", help="JSON file; without it, standard input")
    parser.add_argument("--truth", type=Path, default=HERE / "truth.json")
    options = parser.parse_args()
    try:
        measured = read_measured(options.measured)
        truth = json.loads(options.truth.read_text(encoding="utf-8"))["dimensions"]
        judged = judge_all(measured, truth)
    except (OSError, ValueError, KeyError, TypeError, AttributeError) as cause:
        print(f"compare: cannot read the input: {type(cause).__name__}: {cause}", file=sys.stderr)
        return 2
    print_table(judged)
    print_summary(judged)
    missing = [d for d in judged if d.problem]
    if missing:
        print(f"{len(missing)} of {len(judged)} dimensions are missing: see the table.")
        return 1
    return 0


if __name__ == "__main__":
    sys.exit(main())
