"""A small survey that the tests of stock and sheet share: six photos, three bars, a few shapes and dimensions."""
import csv
import pathlib
import tempfile

from command import DEMO, done, make_dossier

EDGES = ("cab roof edge, left", "cab roof edge, front")
PIPE = "pipe, left fender"
ROOF = ("cab roof corner, rear left", "cab roof corner, front left", "cab roof corner, front right", "cab roof corner, rear right")


class SmallSurvey:
    """A folder with the dossier "hauler"; goes with the object."""

    def __init__(self):
        self.folder = tempfile.TemporaryDirectory(prefix="scantling-test-")
        self.base = pathlib.Path(self.folder.name)
        self.dossier = self.base / "hauler"
        photos = make_dossier(self.dossier, photos=8)
        for bar, length in (("A", "500.013mm"), ("B", "300.021mm")):
            done("bar", "add", self.dossier, bar, "--from", f"bar {bar} left", "--to", f"bar {bar} right", "--length", length,
                 "--u", "0.02mm")
        for edge in EDGES:
            done("shape", "add", self.dossier, edge, "--edge")
        done("shape", "add", self.dossier, PIPE, "--outline")
        done("shape", "add", self.dossier, "roof", "--plane", *ROOF)
        with (DEMO / "shape_marks.csv").open(encoding="utf-8", newline="") as stream:
            head, *rows = list(csv.reader(stream))
        marks = self.base / "shape_marks.csv"
        with marks.open("w", encoding="utf-8", newline="") as stream:
            csv.writer(stream).writerows([head, *(row for row in rows if row[0] in photos and row[1] in (*EDGES, PIPE))])
        done("shape", "import", self.dossier, marks, "--pixel-origin", "centre", "--sigma", "0.3")
        done("adjust", self.dossier, "--set-aside-doubted")
        done("axes", "set", self.dossier, "--plane", "roof", "--line", EDGES[0], "--origin", ROOF[0])
        ask = ("dimension", "add", self.dossier)
        done(*ask, "roof length", "--distance", ROOF[0], ROOF[1])
        done(*ask, "Ø pipe", "--diameter", PIPE)
        done(*ask, "roof angle", "--angle", *ROOF[:3])
        done(*ask, "below the roof", "--offset", "hopper rim corner, front left", "--plane", "roof")

    def close(self):
        self.folder.cleanup()
