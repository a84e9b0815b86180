"""The dossier that the tests of the sheet share: the demo original as tools/try enters it, and its sheet."""
import pathlib
import subprocess
import sys
import tempfile

SCANTLING, SOURCE = sys.argv[1], pathlib.Path(sys.argv[2])
sys.path.insert(0, str(SOURCE / "tests" / "cli"))
from command import DEMO, done  # noqa: E402  (reads sys.argv, too)


class DemoSheet:
    """A folder with the dossier "hauler" and its sheet in "sheets"; goes with the object."""

    def __init__(self):
        self.folder = tempfile.TemporaryDirectory(prefix="sheet-test-")
        self.base = pathlib.Path(self.folder.name)
        self.dossier = self.base / "hauler"
        camera = self.base / "camera.json"
        done("calibrate", *sorted((DEMO / "board").glob("*.jpg"))[:6], "--inner", "11x8", "--square", "20mm", "--output",
             camera)
        done("dossier", "new", self.dossier, "--name", "Hauler № 1", "--model-scale", "1:48", "--replica-scale", "1:72")
        done("photo", "add", self.dossier, *sorted((DEMO / "photos").glob("*.jpg")), "--camera", camera)
        done("mark", "import", self.dossier, DEMO / "targets.csv", "--pixel-origin", "centre", "--sigma", "1.5")
        done("mark", "refine", self.dossier)
        for table in ("marks.csv", "bolt_marks.csv"):
            done("mark", "import", self.dossier, DEMO / table, "--pixel-origin", "centre")
        subprocess.run([sys.executable, DEMO / "enter_survey.py", SCANTLING, self.dossier], check=True,
                       stdout=subprocess.DEVNULL)
        done("shape", "import", self.dossier, DEMO / "shape_marks.csv", "--pixel-origin", "centre")
        # One that cannot be measured: its point is seen once.
        done("mark", "set", self.dossier, "hauler_01.jpg", "lost rivet", "--at", "1200", "800")
        done("dimension", "add", self.dossier, "to the lost rivet", "--distance", "lost rivet",
             "hopper rim corner, rear left")
        self.sheets = self.base / "sheets"
        self.printed = self.write("sheets")

    def write(self, name, *options):
        return done("sheet", self.dossier, "--output", self.base / name, "--parts", "dimensions", "--date",
                    "2025-05-17", "--by", "M. Keel <bench>", *options)

    def close(self):
        self.folder.cleanup()
