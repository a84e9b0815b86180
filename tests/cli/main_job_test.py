"""The main job through the command; every file and every --json output against the schema that ships."""
import json
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
