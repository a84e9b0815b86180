"""What scantling sheet writes for each of its options, and that it writes all of it or nothing."""
import json
import os
import pathlib
import re
import shutil
import signal
import subprocess
import time
import unittest
import unittest.mock

try:
    import jsonschema
except ImportError:
    raise SystemExit("python3-jsonschema is missing: tools/check installs it")

from command import SCANTLING, done, scantling, schema, snapshot
from small_survey import EDGES, PIPE, ROOF, SmallSurvey

DIMENSIONS = {"dimensions.pdf", "dimensions.html"}
VIEWS = ("from above", "from the front", "from the side")


def templates(*names):
    return {f"templates/{name}.{kind}" for name in names for kind in ("pdf", "svg", "dxf")}


def data(*scales):
    return {"data/dimensions.csv", "data/survey.json", *(f"data/points {scale}.{kind}" for scale in scales for kind in ("ply", "obj"))}


def of(scale):
    return [f"{scale} {view}" for view in VIEWS]


class Sheet(unittest.TestCase):
    @classmethod
    def setUpClass(cls):
        cls.survey = SmallSurvey()
        cls.dossier = cls.survey.dossier

    @classmethod
    def tearDownClass(cls):
        cls.survey.close()

    def setUp(self):
        self.output = self.survey.base / "made" / "sheet"  # two folders that are missing
        shutil.rmtree(self.output.parent, ignore_errors=True)

    def command(self, *options):
        return [SCANTLING, "sheet", str(self.dossier), "--output", str(self.output), *map(str, options)]

    def write(self, *options):
        """Runs it, which must succeed; returns the files below the output."""
        before = snapshot(self.dossier)
        done(*self.command(*options)[1:])
        self.assertEqual(snapshot(self.dossier), before)
        return snapshot(self.output)

    def json_of_data(self):
        read = json.loads((self.output / "data" / "survey.json").read_text(encoding="utf-8"))
        jsonschema.validate(read, schema("sheet"), cls=jsonschema.Draft202012Validator)
        return read

    # What is made
    # -----------------------------------------------------------------------------------------------------------------

    def test_parts_are_made_and_nothing_else(self):
        for parts, expected in ((["dimensions"], DIMENSIONS), (["templates"], templates(*of("1-72"))), (["data"], data("original", "1-72")),
                                (["data", "dimensions"], DIMENSIONS | data("original", "1-72")),
                                ([], DIMENSIONS | templates(*of("1-72")) | data("original", "1-72"))):
            shutil.rmtree(self.output, ignore_errors=True)
            self.assertEqual(set(self.write(*(["--parts", *parts] if parts else []))), expected, parts)
            # Nothing unfinished, and no folder that nothing lies in.
            self.assertTrue(all(any(path.iterdir()) for path in self.output.rglob("*") if path.is_dir()))

    def test_json_tells_the_files_after_a_schema(self):
        code, printed, _ = scantling(*self.command("--json")[1:])
        self.assertEqual((code, printed.count("\n")), (0, 1))
        told = json.loads(printed)
        jsonschema.validate(told, schema("files"), cls=jsonschema.Draft202012Validator)
        self.assertEqual({str(pathlib.Path(file).relative_to(self.output)) for file in told["files"]}, set(snapshot(self.output)))
        self.assertIn("No check length", told["check"])
        told = json.loads(done(*self.command("--parts", "data", "--json")[1:]))
        jsonschema.validate(told, schema("files"), cls=jsonschema.Draft202012Validator)
        self.assertIsNone(told["check"])
        # It warns of the same as people are warned of.
        _, _, errors = scantling(*self.command("--parts", "data")[1:])
        self.assertEqual("".join(f"scantling: warning: {sentence}\n" for sentence in told["warnings"]), errors)

    def test_data_for_other_programs_follow_their_schema(self):
        self.write("--parts", "data")
        read = self.json_of_data()
        self.assertEqual((read["scale"], read["unit"]), ("model", "mm"))
        self.assertGreater(len(read["points"]), 20)
        self.assertEqual(len(read["points_covariance"]), 3 * len(read["points"]))
        # The joint matrix holds each point's own, and is symmetric.
        joint = read["points_covariance"]
        for i, point in enumerate(read["points"]):
            for a in range(3):
                for b in range(3):
                    self.assertAlmostEqual(joint[3 * i + a][3 * i + b], point["covariance"][a][b], places=12)
        self.assertTrue(all(abs(joint[i][j] - joint[j][i]) < 1e-12 for i in range(len(joint)) for j in range(i)))
        self.assertEqual({edge["name"] for edge in read["edges"]}, set(EDGES))
        self.assertEqual([cylinder["name"] for cylinder in read["cylinders"]], [PIPE])

    def test_draw_chooses_points_and_shapes(self):
        self.write("--parts", "templates", "data", "--draw", ROOF[0], ROOF[1], EDGES[0])
        read = self.json_of_data()
        self.assertEqual({point["name"] for point in read["points"]}, set(ROOF[:2]))
        self.assertEqual([edge["name"] for edge in read["edges"]], [EDGES[0]])
        self.assertEqual((read["circles"], read["cylinders"]), ([], []))
        for file in (self.output / "data").glob("*.obj"):
            text = file.read_text(encoding="utf-8")
            self.assertIn(ROOF[0].replace(" ", "_"), text.replace(" ", "_"))
            self.assertNotIn("hopper", text)
        drawn = (self.output / "templates" / "1-72 from above.svg").read_text(encoding="utf-8")
        self.assertIn(EDGES[0], drawn)
        self.assertNotIn(PIPE, drawn)
        self.write("--parts", "templates")
        self.assertIn(PIPE, (self.output / "templates" / "1-72 from above.svg").read_text(encoding="utf-8"))

    def test_onto_turns_the_templates(self):
        self.assertEqual(set(self.write("--parts", "templates", "--onto", "roof")), templates("1-72 onto roof"))

    def test_only_chooses_dimensions(self):
        self.write("--parts", "dimensions", "--only", "Ø pipe", "roof angle")
        page = (self.output / "dimensions.html").read_text(encoding="utf-8")
        self.assertIn("roof angle", page)
        self.assertNotIn("roof length", page)
        self.write("--parts", "dimensions")
        self.assertIn("roof length", (self.output / "dimensions.html").read_text(encoding="utf-8"))

    def test_paper(self):
        sizes = {}
        for paper in ("A4", "letter", "A3"):
            self.write("--parts", "dimensions", "templates", "--paper", paper)
            for file in sorted(self.output.rglob("*.pdf")):
                found = subprocess.run(["pdfinfo", file], capture_output=True, text=True, check=True).stdout
                width, height = re.search(r"Page size:\s+([\d.]+) x ([\d.]+) pts", found).groups()
                sizes.setdefault(paper, set()).add(tuple(sorted((round(float(width)), round(float(height))))))
        # ISO 216 in points of 1/72 in, and 8.5 x 11 in.
        self.assertEqual(sizes, {"A4": {(595, 842)}, "letter": {(612, 792)}, "A3": {(842, 1191)}})

    def test_date_and_who_measured(self):
        self.write("--parts", "dimensions", "--date", "2024-02-29", "--by", "M. Keel <bench> & Ø")
        page = (self.output / "dimensions.html").read_text(encoding="utf-8")
        self.assertIn("2024-02-29", page)
        self.assertIn("M. Keel &lt;bench&gt; &amp; Ø", page)
        text = subprocess.run(["pdftotext", self.output / "dimensions.pdf", "-"], capture_output=True, text=True, check=True).stdout
        self.assertIn("2024-02-29", text)
        self.assertIn("M. Keel <bench> & Ø", text)

    def test_units(self):
        for unit, word in (("mm", "mm"), ("cm", "cm"), ("m", "m"), ("in", "in"), ("in-fraction", "in"), ("ft-in", "ft")):
            self.write("--parts", "dimensions", "--units", unit)
            text = subprocess.run(["pdftotext", "-layout", self.output / "dimensions.pdf", "-"], capture_output=True, text=True,
                                  check=True).stdout
            line = next(line for line in text.splitlines() if re.match(r"\d+ +roof length", line))
            self.assertRegex(line, rf"\d {word}\b", unit)
            self.assertIn("±", line)
        self.write("--parts", "dimensions", "--units", "in-fraction", "--fraction", "16")
        text = subprocess.run(["pdftotext", "-layout", self.output / "dimensions.pdf", "-"], capture_output=True, text=True,
                              check=True).stdout
        self.assertNotRegex(text, r"\d/(32|64)\b")

    def test_replica_scales_take_the_place_of_the_dossier_s(self):
        found = set(self.write("--replica-scale", "1:35", "--replica-scale", "1:24", "--replica-scale", "1:35"))
        self.assertEqual(found, DIMENSIONS | templates(*of("1-35"), *of("1-24")) | data("original", "1-35", "1-24"))
        sizes = {}
        for scale in ("original", "1-35", "1-24"):
            places = [list(map(float, line.split()[1:4]))
                      for line in (self.output / "data" / f"points {scale}.obj").read_text(encoding="utf-8").splitlines()
                      if line.startswith("v ")]
            sizes[scale] = sum((a - b) ** 2 for a, b in zip(places[0], places[-1])) ** 0.5
        self.assertAlmostEqual(sizes["1-35"] / sizes["original"], 48 / 35, places=4)
        self.assertAlmostEqual(sizes["1-24"] / sizes["original"], 48 / 24, places=4)

    def test_the_same_twice_gives_the_same_bytes(self):
        options = ("--date", "2025-05-17", "--by", "M. Keel")
        once = self.write(*options)
        self.output = self.output.parent / "again"
        self.assertEqual(self.write(*options), once)
        self.assertGreater(len(once), 15)
        # On any number of cores: the linear algebra library would split its matrices by their number.
        for threads in ("1", "3"):
            self.output = self.output.parent / f"threads {threads}"
            with unittest.mock.patch.dict(os.environ, {"OPENBLAS_NUM_THREADS": threads}):
                self.assertEqual(self.write(*options), once, threads)
        cores = os.sched_getaffinity(0)
        try:
            os.sched_setaffinity(0, {min(cores)})
            self.output = self.output.parent / "one core"
            self.assertEqual(self.write(*options), once)
        finally:
            os.sched_setaffinity(0, cores)

    # What is refused, and what is left
    # -----------------------------------------------------------------------------------------------------------------

    def refused(self, *options, says, output=None):
        arguments = self.command(*options) if output is None else [SCANTLING, "sheet", str(self.dossier), "--output", str(output), *options]
        code, printed, errors = scantling(*arguments[1:])
        self.assertEqual((code, printed), (2, ""), errors)
        self.assertTrue(errors.startswith("scantling: ") and errors.count("\n") == 1, errors)
        for words in says:
            self.assertIn(words, errors)
        self.assertFalse(self.output.parent.exists(), errors)

    def test_wrong_words_get_a_sentence_with_the_remedy(self):
        self.refused("--parts", "dimensions", "drawings", says=["--parts", "drawings", "dimensions, templates and data"])
        self.refused("--only", "roof length", "nowhere", says=["--only", "nowhere", "dimension list"])
        self.refused("--draw", "nowhere", says=["--draw", "nowhere", "shape list"])
        self.refused("--parts", "templates", "--onto", "nowhere", says=["nowhere", "scantling shapes"])
        self.refused("--parts", "templates", "--onto", PIPE, says=[PIPE, "scantling shapes"])
        for scale in ("72", "1:0", "1:-72", "0:1", "1:x", "nan"):
            self.refused("--replica-scale", scale, says=["--replica-scale", scale, "1:48"])
        self.refused("--paper", "napkin", says=["napkin", "A4"])
        for day in ("2025-02-29", "17.5.2025", "2025-13-01", "2025-1-1", "today"):
            self.refused("--date", day, says=["--date", day, "2025-05-17"])
        self.refused("--units", "furlong", says=["--units", "furlong", "--help"])
        self.refused("--fraction", "3", says=["--fraction", "3"])
        for tolerance, words in (("3", "no unit"), ("-1mm", "above zero"), ("0mm", "above zero"), ("nanmm", "nanmm")):
            self.refused("--tolerance", tolerance, says=["--tolerance", words])
        self.refused(says=["--output", "name of a folder"], output="")

    def test_a_dossier_without_a_model_scale_has_no_replica(self):
        copy = self.survey.base / "no scale"
        shutil.copytree(self.dossier, copy)
        path = copy / "dossier.json"
        read = json.loads(path.read_text(encoding="utf-8"))
        del read["model_scale"]
        read["replica_scales"] = []
        path.write_text(json.dumps(read), encoding="utf-8")
        code, _, errors = scantling("sheet", copy, "--output", self.output, "--replica-scale", "1:72")
        shutil.rmtree(copy)
        self.assertEqual(code, 2)
        self.assertIn("--model-scale", errors)
        self.assertFalse(self.output.exists())

    def test_what_lies_in_the_output_already_is_not_harmed(self):
        foreign = {"notes.txt": b"mine", "data/my.csv": b"1,2", "templates/old.pdf": b"%PDF", ".hidden": b"x"}
        for name, contents in foreign.items():
            (self.output / name).parent.mkdir(parents=True, exist_ok=True)
            (self.output / name).write_bytes(contents)
        before = snapshot(self.output)
        after = self.write()
        self.assertEqual({name: after[name] for name in foreign}, before)
        self.assertEqual(set(after) - set(foreign), DIMENSIONS | templates(*of("1-72")) | data("original", "1-72"))
        # A folder may be given as a link, and as a path with a slash at its end.
        link = self.output.parent / "link"
        link.symlink_to(self.output, target_is_directory=True)
        done("sheet", self.dossier, "--output", f"{link}/", "--parts", "data", "--replica-scale", "1:24")
        self.assertTrue(link.is_symlink() and (self.output / "data" / "points 1-24.obj").exists())

    def test_an_output_that_cannot_be_written(self):
        file = self.survey.base / "file"
        file.write_text("a file", encoding="utf-8")
        self.refused(says=["--output", str(file), "no folder", "name another"], output=file)
        self.refused(says=["--output", str(file), "no folder", "name another"], output=file / "below")
        self.refused("--parts", "data", says=["/proc/sheet", "was not written", "nothing was changed"], output="/proc/sheet")
        # The place of one of the files is taken by a folder: none is written.
        (self.output / "templates" / "1-72 from above.svg").mkdir(parents=True)
        code, printed, errors = scantling(*self.command()[1:])
        self.assertEqual((code, printed), (2, ""), errors)
        self.assertIn("1-72 from above.svg was not written: it is a folder", errors)
        self.assertEqual(snapshot(self.output), {})
        self.assertEqual([path.name for path in self.output.iterdir()], ["templates"])
        # A folder that may not be written; root gives up its right to overrule that.
        shutil.rmtree(self.output)
        self.output.mkdir()
        self.output.chmod(0o555)
        drop = ["setpriv", "--bounding-set=-dac_override,-dac_read_search", "--inh-caps=-all"] if os.geteuid() == 0 else []
        run = subprocess.run([*drop, *self.command("--parts", "data")], capture_output=True, text=True, encoding="utf-8")
        self.output.chmod(0o755)
        self.assertEqual((run.returncode, run.stdout), (2, ""), run.stderr)
        self.assertIn("change the permissions", run.stderr)
        self.assertEqual(list(self.output.iterdir()), [])

    def test_a_full_disk_leaves_nothing_or_the_old_sheet(self):
        # A limit on the size of files stands for the full disk: some are written before it is met.
        def limited(blocks):
            run = subprocess.run(["/bin/bash", "-c", f'ulimit -f {blocks}; exec "$@"', "limited", *self.command("--date", "2025-05-18")],
                                 capture_output=True, text=True, encoding="utf-8")
            self.assertEqual((run.returncode, run.stdout), (2, ""), run.stderr)
            self.assertIn("was not written: the disk is full", run.stderr)

        for blocks in (0, 8, 250):
            limited(blocks)
            self.assertFalse(self.output.parent.exists(), blocks)
        before = self.write("--date", "2025-05-17")
        for blocks in (0, 8, 250):
            limited(blocks)
            self.assertEqual(snapshot(self.output), before)

    def test_a_small_disk_is_left_as_it_was(self):
        self.output.mkdir(parents=True)
        for unshare in (["unshare", "--mount"], ["unshare", "--mount", "--map-root-user"]):
            small = [*unshare, "/bin/bash", "-c",
                     'mount -t tmpfs -o size=400k small "$0" || exit 99; "$@"; code=$?; find "$0" -mindepth 1; exit $code',
                     str(self.output), *self.command()]
            run = subprocess.run(small, capture_output=True, text=True, encoding="utf-8")
            if run.returncode not in (1, 99):
                break
        else:
            self.skipTest(f"nobody may mount a small disk here; a limit on file sizes is tested in its place: {run.stderr}")
        self.assertEqual((run.returncode, run.stdout), (2, ""), run.stderr)
        self.assertIn("the disk is full", run.stderr)

    def test_a_full_terminal_is_told(self):
        with open("/dev/full", "w", encoding="utf-8") as full:
            run = subprocess.run(self.command("--parts", "data"), stdout=full, stderr=subprocess.PIPE, text=True, encoding="utf-8")
        self.assertEqual(run.returncode, 2)
        self.assertIn("could not be written to its end", run.stderr)
        # The sheet itself is whole.
        self.assertEqual(set(snapshot(self.output)), data("original", "1-72"))

    def test_ctrl_c_at_any_moment_leaves_the_old_sheet_or_the_new(self):
        parts = ("--parts", "templates", "data")
        new_options = (*parts, "--date", "2025-05-18")
        new = self.write(*new_options)
        shutil.rmtree(self.output.parent)
        old, endings = None, []
        for step in range(20):
            if step == 10:
                old = self.write(*parts, "--date", "2025-05-17")
                self.assertNotEqual(old, new)
            run = subprocess.Popen(self.command(*new_options), stdout=subprocess.DEVNULL, stderr=subprocess.DEVNULL)
            # From the first file that is begun, which is where it could go wrong; some a little later, some long before.
            if step % 5 == 4:
                time.sleep(0.05 * step)
            else:
                while run.poll() is None and not any(".unfinished-" in name for name in snapshot_names(self.output)):
                    pass
                time.sleep(0.004 * (step % 5))
            run.send_signal((signal.SIGINT, signal.SIGTERM, signal.SIGHUP)[step % 3])
            endings.append(run.wait())
            self.assertIn(endings[-1], (0, -signal.SIGINT, -signal.SIGTERM, -signal.SIGHUP))
            found = snapshot(self.output) if self.output.exists() else None
            self.assertIn(found, (old, new), step)
            if endings[-1] == 0:
                self.assertEqual(found, new)
            if found is None:
                self.assertFalse(self.output.parent.exists())
            if found == new:
                if old is None:
                    shutil.rmtree(self.output.parent)
                else:
                    self.write(*parts, "--date", "2025-05-17")
        self.assertTrue(any(ending != 0 for ending in endings), "no signal came in time")


def snapshot_names(folder):
    return [name for _, _, names in os.walk(folder) for name in names]


if __name__ == "__main__":
    unittest.main(argv=["sheet"], verbosity=2)
