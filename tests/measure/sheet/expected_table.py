"""The table that expected_drawing.h writes, and how what was read is compared with it."""
import math
import sys

TOLERANCE_MM = 1e-3


def read_table(path):
    rows = []
    with open(path, encoding="utf-8", newline="\n") as file:
        for line in file:
            kind, name, *numbers = line.rstrip("\n").split("\t")
            rows.append((kind, name, [float(number) for number in numbers]))
    return rows


def ellipse_ends(cx, cy, major, minor, turn_deg):
    """Four places on the ellipse that fix it whatever way its angle is told."""
    a = math.radians(turn_deg)
    along, across = (math.cos(a), math.sin(a)), (-math.sin(a), math.cos(a))
    return [(cx + s * major * along[0], cy + s * major * along[1]) for s in (1, -1)] + \
           [(cx + s * minor * across[0], cy + s * minor * across[1]) for s in (1, -1)]


def set_distance(first, second):
    """The largest distance from a place to the nearest of the other set, both ways."""
    if not first or not second:
        return math.inf

    def one_way(a, b):
        return max(min(math.dist(p, q) for q in b) for p in a)

    return max(one_way(first, second), one_way(second, first))


class Comparison:
    def __init__(self):
        self.faults, self.largest, self.compared = [], 0.0, 0

    def near(self, what, expected, candidates):
        """Of the candidates, sets of places, the nearest one must be within the tolerance."""
        distance = min((set_distance(expected, candidate) for candidate in candidates), default=math.inf)
        self.compared += 1
        self.largest = max(self.largest, distance)
        if not distance <= TOLERANCE_MM:
            self.faults.append(f"{what}: {distance} mm away")

    def same(self, what, expected, found):
        self.compared += 1
        if expected != found:
            self.faults.append(f"{what}: {found!r} in place of {expected!r}")

    def end(self):
        print(f"compared {self.compared}, largest difference {self.largest:.6f} mm")
        if self.compared < 10:
            self.faults.append("hardly anything was compared")
        if self.faults:
            sys.exit("\n".join(self.faults))
