"""The main job through the command; every file and every --json output against the schema that ships."""
import collections
import csv
import json
import math
import pathlib
import shutil
import tempfile
import unittest

try:
    import jsonschema
except ImportError:
    raise SystemExit("python3-jsonschema is missing: tools/check installs it")

from command import DEMO, SAMPLES, done, make_dossier, schema, scantling


def validate(data, name):
    jsonschema.Draft202012Validator.check_schema(schema(name))
    jsonschema.validate(data, schema(name), cls=jsonschema.Draft202012Validator)


class MainJob(unittest.TestCase):
    @classmethod
    def setUpClass(cls):
        cls.folder = tempfile.TemporaryDirectory()
        cls.base = pathlib.Path(cls.folder.name)
        cls.dossier = cls.base / "hauler"
        make_dossier(cls.dossier)
        done("bar", "add", cls.dossier, "A", "--from", "bar A left", "--to", "bar A right", "--length", "500.013mm",
             "--u", "0.02mm")
        done("bar", "add", cls.dossier, "B", "--from", "bar B left", "--to", "bar B right", "--length", "300.021mm",
             "--u", "0.02mm")
        done("dimension", "add", cls.dossier, "rim length", "--distance", "hopper rim corner, rear left",
             "hopper rim corner, front left")
        done("dimension", "add", cls.dossier, "rim angle", "--angle", "hopper rim corner, rear left",
             "hopper rim corner, front left", "hopper rim corner, front right")

    @classmethod
    def tearDownClass(cls):
        cls.folder.cleanup()

    def test_files_follow_their_schemas(self):
        done("adjust", self.dossier)
        for file, name in (("dossier.json", "dossier"), ("results.json", "results")):
            validate(json.loads((self.dossier / file).read_text(encoding="utf-8")), name)
        cameras = list((self.dossier / "cameras").glob("*.json"))
        self.assertTrue(cameras)
        for camera in cameras:
            validate(json.loads(camera.read_text(encoding="utf-8")), "camera")

    def test_a_spoilt_file_does_not_follow_its_schema(self):
        data = json.loads((self.dossier / "dossier.json").read_text(encoding="utf-8"))
        data["marks"][0]["sigma_px"] = 0
        with self.assertRaises(jsonschema.ValidationError):
            validate(data, "dossier")

    def test_adjust_prints_json_with_stable_keys(self):
        data = json.loads(done("adjust", self.dossier, "--json"))
        validate(data, "adjust")
        self.assertTrue(all(photo["placed"] for photo in data["photos"]))

    def test_a_single_bar_is_said_to_be_unchecked(self):
        folder = self.base / "one bar"
        shutil.copytree(self.dossier, folder)
        done("bar", "remove", folder, "A")
        line = next(line for line in done("adjust", folder).splitlines() if line.startswith("B "))
        self.assertIn("unchecked", line)
        self.assertNotIn(" 0.0000", line)
        data = json.loads(done("adjust", folder, "--json"))
        validate(data, "adjust")
        self.assertEqual([(bar["used"], bar["checked"], bar["error_mm"], bar["u_error_mm"]) for bar in data["bars"]],
                         [(True, False, None, None)])
        # A second known length, and each is checked by the other.
        places = json.loads((DEMO / "truth.json").read_text(encoding="utf-8"))["points_mm"]
        ends = ("hopper rim corner, rear left", "hopper rim corner, front left")
        done("bar", "add", folder, "second", "--from", ends[0], "--to", ends[1], "--length",
             f"{math.dist(places[ends[0]], places[ends[1]]):.3f}mm", "--u", "0.05mm")
        both = json.loads(done("adjust", folder, "--json"))
        self.assertEqual([bar["checked"] for bar in both["bars"]], [True, True])
        self.assertTrue(all(bar["u_error_mm"] > 0 for bar in both["bars"]))

    def test_doubted_marks_are_set_aside_until_none_is_left(self):
        folder = self.base / "set aside"
        shutil.copytree(self.dossier, folder)
        marks = json.loads((folder / "dossier.json").read_text(encoding="utf-8"))["marks"]
        seen = collections.Counter(mark["point"] for mark in marks)
        with (DEMO / "marks.csv").open(encoding="utf-8") as stream:
            by_hand = {row["point"] for row in csv.DictReader(stream)}
        often = sorted(point for point in by_hand if seen[point] >= 5)
        spoilt = []
        for k, point in enumerate(often[:3]):  # blunders of 13, 40 and 90 px
            mark = [m for m in marks if m["point"] == point][k]
            name = mark["photo"]
            done("mark", "set", folder, name, mark["point"], "--at", str(mark["x_px"] + (12, 40, 90)[k]),
                 str(mark["y_px"] - 5))
            spoilt.append((name, mark["point"]))
        data = json.loads(done("adjust", folder, "--set-aside-doubted", "--json"))
        validate(data, "adjust")
        self.assertEqual(data["doubted"], [])
        gone = {(m["photo"], m["point"]) for batch in data["set_aside"] for m in batch}
        self.assertTrue(gone >= {pair for pair in spoilt if self.controlled(data, pair)} and gone, gone)
        aside = {(m["photo"], m["point"])
                 for m in json.loads((folder / "dossier.json").read_text(encoding="utf-8"))["marks"]
                 if m.get("set_aside")}
        self.assertEqual(aside, gone)
        # Nothing is left to doubt, so a second run sets nothing aside and says so in the same keys.
        again = json.loads(done("adjust", folder, "--set-aside-doubted", "--json"))
        self.assertNotIn("set_aside", again)
        self.assertNotIn("fault", done("verify", folder))

    @staticmethod
    def controlled(data, pair):
        """Whether the mark is not one of a group of which nobody is blamed."""
        return not any(pair == (m["photo"], m["point"]) for group in data["one_of_these"] for m in group)

    def test_a_dossier_moves_with_the_photos_beside_it(self):
        home = self.base / "visit"
        (home / "pictures").mkdir(parents=True)
        for n in (1, 2, 3, 4):
            shutil.copy(DEMO / "photos" / f"hauler_{n:02d}.jpg", home / "pictures")
        done("dossier", "new", home / "dossiers" / "hauler", "--name", "moves")
        done("photo", "add", home / "dossiers" / "hauler", *sorted((home / "pictures").glob("*.jpg")), "--camera",
             self.base / "camera.json")
        data = json.loads((home / "dossiers" / "hauler" / "dossier.json").read_text(encoding="utf-8"))
        self.assertEqual({photo["file"].rsplit("/", 1)[0] for photo in data["photos"]}, {"../../pictures"})
        moved = self.base / "archive" / "2026"
        moved.parent.mkdir()
        home.rename(moved)
        self.assertNotIn("fault", done("verify", moved / "dossiers" / "hauler"))
        # What reads the photos finds them, too.
        done("mark", "import", moved / "dossiers" / "hauler", self.few_targets(), "--pixel-origin", "centre")
        self.assertIn("Refined", done("mark", "refine", moved / "dossiers" / "hauler"))
        # Without its neighbours it says which file is missing.
        (moved / "dossiers" / "hauler").rename(self.base / "alone")
        code, output, errors = scantling("verify", self.base / "alone")
        self.assertNotEqual(code, 0)
        self.assertIn("pictures/hauler_01.jpg", output + errors)

    def few_targets(self):
        lines = (DEMO / "targets.csv").read_text(encoding="utf-8").splitlines()
        table = self.base / "few targets.csv"
        table.write_text("\n".join([lines[0], *(line for line in lines[1:] if line.startswith("hauler_01"))]) + "\n",
                         encoding="utf-8")
        return table

    def test_dimensions_prints_one_entry_for_each_scale(self):
        data = json.loads(done("dimensions", self.dossier, "--json"))
        validate(data, "dimensions")
        entries = [d for d in data["dimensions"] if d["name"] == "rim length"]
        self.assertEqual([d["scale"] for d in entries], ["model", "full", "replica 1:72"])
        model, full, replica = (d["value"] for d in entries)
        self.assertAlmostEqual(full / model, 48, places=9)
        self.assertAlmostEqual(replica / model, 48 / 72, places=9)
        for entry in data["dimensions"]:
            self.assertAlmostEqual(entry["U"], entry["k"] * entry["u"], places=12)
            self.assertAlmostEqual(sum(entry["budget"].values()), 1, places=6)
        truth = json.loads((DEMO / "truth.json").read_text(encoding="utf-8"))
        true_length = next(d["value"] for d in truth["dimensions"] if d["name"] == "hopper rim length, left")
        self.assertLess(abs(model - true_length), 2 * entries[0]["U"])

    def test_units_are_printed_with_the_values(self):
        for unit, mark in (("mm", " mm"), ("cm", " cm"), ("m", " m"), ("in", " in"), ("in-fraction", " in"),
                           ("ft-in", " ft ")):
            output = done("dimensions", self.dossier, "--units", unit)
            line = next(line for line in output.splitlines() if line.startswith("rim length"))
            self.assertIn(mark, line)
            self.assertIn("±", line)

    def test_calibrate_prints_json_with_stable_keys(self):
        data = json.loads(done("calibrate", *sorted(SAMPLES.glob("left0*.jpg")), "--inner", "9x6", "--square", "30mm",
                               "--output", self.base / "left.json", "--json"))
        validate(data, "calibration")
        self.assertTrue(all(photo["used"] for photo in data["photos"]))

    def test_monte_carlo_agrees_with_first_order(self):
        data = json.loads(done("dimensions", self.dossier, "--monte-carlo", "60", "--seed", "3", "--json"))
        for one in data["monte_carlo"]:
            # A standard deviation of 60 draws is known to 9 %; three of these.
            self.assertLess(abs(one["sd"] / one["first_order_u"] - 1), 0.28)

    def test_refine_says_of_every_mark_how_far_it_moved_or_why_not(self):
        folder = self.base / "refined"
        shutil.copytree(self.dossier, folder)
        # Two corners of the hopper's rim, a painted disc on a bolt, and a target seen in another photo.
        for shape, points, extra in (("corner", ["hopper rim corner, rear left", "hopper rim corner, front left"], []),
                                     ("crossing", ["hopper rim corner, rear left"], []),
                                     ("round", ["road wheel hub 2, right", "road wheel hub 3, right"], []),
                                     ("auto", ["T03", "T04"], []),
                                     ("match", ["T03", "T04"], ["--pattern", "hauler_01.jpg"])):
            code, output, errors = scantling("mark", "refine", folder, "--as", shape, "--points", *points, *extra)
            self.assertEqual(code, 0, errors)
            marks = [line for line in done("mark", "list", folder).splitlines()
                     if any(point in line for point in points)
                     and not (shape == "match" and line.startswith("hauler_01.jpg"))]
            refined = [line for line in output.splitlines() if line.startswith("hauler_")]
            refusals = [line for line in errors.splitlines() if "Mark" in line]
            self.assertEqual(len(refined) + len(refusals), len(marks), output + errors)
            self.assertIn(f"Refined {len(refined)} mark", output)
            self.assertNotIn("nan", output.lower())

    def test_every_command_has_help_with_an_example(self):
        output = done("--help-all")
        self.assertIn("calibrate", output)
        for command in (["board"], ["calibrate"], ["dossier", "new"], ["photo", "add"], ["mark", "import"],
                        ["mark", "set"], ["mark", "list"], ["mark", "remove"], ["bar", "add"], ["dimension", "add"],
                        ["adjust"], ["dimensions"], ["verify"]):
            self.assertIn("Example", done(*command, "--help"), command)


if __name__ == "__main__":
    unittest.main(argv=["main_job"], verbosity=2)
