"""Bad input gets a sentence that names the item, exit code 2 (3 where the survey cannot be solved), and nothing
changed on the disk."""
import fcntl
import json
import os
import pathlib
import shutil
import signal
import subprocess
import sys
import tempfile
import time
import unittest

from command import DEMO, SCANTLING, done, make_dossier, scantling, snapshot

JOURNAL_AN_EDIT = sys.argv[4]


class BadInput(unittest.TestCase):
    @classmethod
    def setUpClass(cls):
        cls.folder = tempfile.TemporaryDirectory()
        cls.base = pathlib.Path(cls.folder.name)
        make_dossier(cls.base / "template", photos=4)

    @classmethod
    def tearDownClass(cls):
        cls.folder.cleanup()

    def setUp(self):
        self.dossier = self.base / "dossier"
        shutil.copytree(self.base / "template", self.dossier)

    def tearDown(self):
        shutil.rmtree(self.dossier, ignore_errors=True)

    def refused(self, *arguments, says, code=2):
        """Runs a command that must be refused with a sentence holding all of `says`, changing nothing."""
        before = snapshot(self.dossier)
        got, output, errors = scantling(*arguments)
        self.assertEqual(got, code, errors)
        for words in says:
            self.assertIn(words, errors)
        self.assertNotIn("nan", output.lower())
        self.assertEqual(snapshot(self.dossier), before)

    def file(self, name, data):
        path = self.base / name
        path.write_bytes(data)
        return path

    def test_unreadable_photos(self):
        camera = self.base / "camera.json"
        for name, data in (("empty.jpg", b""), ("text.jpg", b"not a photo"),
                           ("cut.jpg", (DEMO / "photos" / "hauler_05.jpg").read_bytes()[:2000])):
            self.refused("photo", "add", self.dossier, self.file(name, data), "--camera", camera, says=[name])
        self.refused("photo", "add", self.dossier, self.base / "nowhere.jpg", "--camera", camera, says=["nowhere.jpg"])

    def test_photo_of_another_size_than_its_camera(self):
        data = json.loads((self.base / "camera.json").read_text(encoding="utf-8"))
        data["image_size_px"] = {"width": 1200, "height": 800}
        data["name"] = "other"
        other = self.file("other.json", json.dumps(data).encode())
        self.refused("photo", "add", self.dossier, DEMO / "photos" / "hauler_05.jpg", "--camera", other,
                     says=["hauler_05.jpg", "1200"])

    def test_duplicate_photo(self):
        self.refused("photo", "add", self.dossier, DEMO / "photos" / "hauler_01.jpg", "--camera", self.base / "camera.json",
                     says=["hauler_01.jpg"])

    def test_mark_outside_the_photo(self):
        self.refused("mark", "set", self.dossier, "hauler_01.jpg", "new point", "--at", "5000", "10",
                     says=["hauler_01.jpg"])

    def test_refining_as_a_shape(self):
        self.refused("mark", "refine", self.dossier, "--as", "match", says=["--pattern"])
        self.refused("mark", "refine", self.dossier, "--as", "match", "--pattern", "nowhere.jpg", says=["nowhere.jpg"])
        self.refused("mark", "refine", self.dossier, "--as", "corner", "--pattern", "hauler_01.jpg", says=["--pattern"])
        self.refused("mark", "refine", self.dossier, "--radius", "31", says=["--radius"])

    def test_mark_tables(self):
        for name, text, words in (
                ("header.csv", "a,b,c\n", ["header.csv"]),
                ("unknown.csv", "photo,point,x,y\nnone.jpg,P,1,2\n", ["unknown.csv", "none.jpg"]),
                ("number.csv", "photo,point,x,y\nhauler_01.jpg,P,one,2\n", ["number.csv", "one"]),
                ("nan.csv", "photo,point,x,y\nhauler_01.jpg,P,nan,2\n", ["nan.csv"]),
                ("late.csv", "photo,point,x,y\nhauler_01.jpg,P,10,20\nhauler_01.jpg,Q,99999,20\n", ["late.csv", "Q"])):
            table = self.file(name, text.encode())
            self.refused("mark", "import", self.dossier, table, "--pixel-origin", "centre", says=words)

    def test_pixel_origin_must_be_said(self):
        table = self.file("marks2.csv", b"photo,point,x,y\nhauler_01.jpg,P,10,20\n")
        self.refused("mark", "import", self.dossier, table, says=["--pixel-origin"])

    def test_bars_and_dimensions(self):
        self.refused("bar", "add", self.dossier, "A", "--from", "bar A left", "--to", "bar A right", "--length", "500",
                     "--u", "0.02mm", says=["500"])
        self.refused("bar", "add", self.dossier, "A", "--from", "bar A left", "--to", "nowhere", "--length", "500mm",
                     "--u", "0.02mm", says=["nowhere"])
        self.refused("bar", "add", self.dossier, "A", "--from", "bar A left", "--to", "bar A right", "--length", "-5mm",
                     "--u", "0.02mm", says=["A"])
        self.refused("dimension", "add", self.dossier, "d", "--distance", "bar A left", "nowhere", says=["nowhere"])
        done("dimension", "add", self.dossier, "d", "--distance", "bar A left", "bar A right")
        self.refused("dimension", "add", self.dossier, "d", "--distance", "bar A left", "bar A right", says=["d"])

    def add_shapes(self):
        done("shape", "add", self.dossier, "hatch, rim", "--rim")
        done("shape", "add", self.dossier, "roof edge", "--edge")
        done("shape", "add", self.dossier, "stack", "--outline")
        done("shape", "add", self.dossier, "bolts", "--plane", *(f"rim bolt {k}, left" for k in (1, 2, 3)))

    def test_names_of_shapes(self):
        self.add_shapes()
        add = ("shape", "add", self.dossier)
        bolts = ("rim bolt 1, left", "rim bolt 2, left")
        self.refused(*add, "p", "--plane", *bolts, "nowhere", says=["p", "nowhere"])
        self.refused(*add, "p", "--plane", *bolts, says=["p", "three points"])
        self.refused(*add, "p", "--line", bolts[0], bolts[0], says=["p", "twice"])
        self.refused(*add, "p", "--mirror", *bolts, "rim bolt 3, left", says=["rim bolt 3, left", "partner"])
        self.refused(*add, "p", "--crossing", "bolts", "nowhere", says=["p", "nowhere"])
        self.refused(*add, "p", "--crossing", "bolts", "bolts", says=["bolts", "twice"])
        self.refused(*add, "p", "--parallel", "stack", "--by", "3mm", says=["stack", "cylinder", "plane"])
        self.refused(*add, "p", "--parallel", "bolts", says=["offset"])
        self.refused(*add, "p", "--parallel", "bolts", "--by", "3", says=["--by", "3"])
        self.refused(*add, "p", "--edge", "--rim", says=["one of --edge"])
        self.refused(*add, "p", "--edge", "--kind", "moulded", says=["moulded"])
        self.refused(*add, "stack", "--edge", says=["stack"])
        self.refused(*add, "rim bolt 1, left", "--edge", says=["rim bolt 1, left"])
        self.refused("shape", "remove", self.dossier, "nowhere", says=["nowhere"])
        self.refused("axes", "set", self.dossier, "--plane", "bolts", "--line", "bolts", "--origin", bolts[0],
                     says=["bolts", "line"])
        self.refused("axes", "set", self.dossier, "--plane", "nowhere", "--line", "roof edge", "--origin", bolts[0],
                     says=["nowhere"])

    def test_what_a_shape_needs_is_not_removed(self):
        self.add_shapes()
        self.refused("point", "remove", self.dossier, "rim bolt 1, left", says=["rim bolt 1, left", "bolts"])
        done("shape", "add", self.dossier, "over", "--parallel", "bolts", "--by", "3mm")
        self.refused("shape", "remove", self.dossier, "bolts", says=["bolts", "over"])
        done("dimension", "add", self.dossier, "Ø", "--diameter", "stack")
        self.refused("shape", "remove", self.dossier, "stack", says=["stack", "Ø"])

    def test_marks_on_shapes(self):
        self.add_shapes()
        mark = ("shape", "mark", self.dossier)
        at = ("--at", "900", "500")
        self.refused(*mark, "hauler_01.jpg", "hatch, rim", "--at", "9000", "10", says=["hauler_01.jpg", "outside", "2400"])
        self.refused(*mark, "hauler_01.jpg", "stack", *at, says=["stack", "side", "1 or 2"])
        self.refused(*mark, "hauler_01.jpg", "roof edge", *at, "--side", "1", says=["roof edge", "side"])
        self.refused(*mark, "hauler_01.jpg", "nowhere", *at, says=["nowhere", "shape list"])
        self.refused(*mark, "none.jpg", "stack", *at, "--side", "1", says=["none.jpg"])
        self.refused(*mark, "hauler_01.jpg", "bolts", *at, says=["bolts", "no marks of its own"])
        self.refused(*mark, "hauler_01.jpg", "roof edge", *at, "--sigma", "0", says=["sigma"])
        self.refused("shape", "unmark", self.dossier, "hauler_01.jpg", "roof edge", *at, says=["roof edge"])

    def test_tables_of_marks_on_shapes(self):
        self.add_shapes()
        place = 'hauler_01.jpg,"hatch, rim",900,500\n'
        for name, text, words in (
                ("twice.csv", f"photo,shape,x,y\n{place}{place}", ["hatch, rim", "twice", "hauler_01.jpg"]),
                ("outside.csv", f'photo,shape,x,y\n{place}hauler_01.jpg,"hatch, rim",9000,1\n',
                 ["outside.csv", "line 3", "hatch, rim"]),
                ("third side.csv", "photo,shape,x,y,side\nhauler_01.jpg,stack,900,500,3\n", ["line 2", "3", "side"]),
                ("no side.csv", "photo,shape,x,y\nhauler_01.jpg,stack,900,500\n", ["stack", "side"]),
                ("unknown.csv", "photo,shape,x,y\nhauler_01.jpg,nowhere,900,500\n", ["nowhere"]),
                ("points.csv", "photo,point,x,y\nhauler_01.jpg,T03,900,500\n", ["points.csv", "shape"])):
            table = self.file(name, text.encode())
            self.refused("shape", "import", self.dossier, table, "--pixel-origin", "centre", says=words)
        self.refused("shape", "import", self.dossier, self.file("good.csv", f"photo,shape,x,y\n{place}".encode()),
                     says=["--pixel-origin"])

    def test_dimensions_of_shapes(self):
        self.add_shapes()
        ask = ("dimension", "add", self.dossier, "d")
        self.refused(*ask, "--radius", "bolts", says=["bolts", "plane", "circle"])
        self.refused(*ask, "--diameter", "roof edge", says=["roof edge", "line"])
        self.refused(*ask, "--cone-angle", "hatch, rim", says=["hatch, rim", "cone"])
        self.refused(*ask, "--radius", "nowhere", says=["nowhere"])
        self.refused(*ask, "--arc", "bolts", "rim bolt 1, left", "rim bolt 2, left", says=["bolts", "circle"])
        self.refused(*ask, "--pitch", "rim bolt 1, left", "rim bolt 2, left", says=["d", "three"])
        self.refused(*ask, "--area", "rim bolt 1, left", "rim bolt 2, left", says=["d", "three"])
        self.refused(*ask, "--mirror-departure", "roof edge", "rim bolt 1, left", "rim bolt 2, left", says=["roof edge"])
        self.refused(*ask, "--z", "rim bolt 1, left", says=["axes set"])
        self.refused(*ask, "--gap", "roof edge", "rim bolt 1, left", says=["rim bolt 1, left"])
        # One name with a comma is one name, where the dossier has it.
        done(*ask, "--offset", "rim bolt 1, left", "--plane", "hatch, rim")

    def unanswered(self, name, *words):
        """A dimension without a value: a sentence holding all of the words, and no number."""
        code, output, errors = scantling("dimensions", self.dossier)
        self.assertEqual(code, 0, errors)
        line = next(line for line in output.splitlines() if line.startswith(f"{name}: "))
        for word in words:
            self.assertIn(word, line)
        self.assertNotIn("nan", output.lower())
        found = [d for d in json.loads(done("dimensions", self.dossier, "--json"))["dimensions"] if d["name"] == name]
        self.assertTrue(found and all(d["value"] is None and d["problem"] for d in found))
        self.refused("explain", self.dossier, name, says=[name, *words])

    def test_shapes_that_the_geometry_cannot_carry(self):
        self.add_shapes()
        done("dimension", "add", self.dossier, "in line", "--offset", "T03", "--plane", "bolts")
        done("dimension", "add", self.dossier, "beside", "--offset", "T03", "--line", "roof edge")
        self.unanswered("in line", "bolts", "lie in one line")
        self.unanswered("beside", "roof edge", "not marked")
        # Along the line where a plane through both cameras cuts the original: any line in that plane looks like it.
        for photo, places in (("hauler_03.jpg", ((997.58, 512.04), (1231.36, 488.90), (1448.62, 467.82))),
                              ("hauler_04.jpg", ((741.93, 383.50), (977.03, 434.86), (1224.53, 489.46)))):
            for x, y in places:
                done("shape", "mark", self.dossier, photo, "roof edge", "--at", str(x), str(y))
            if photo == "hauler_03.jpg":
                self.unanswered("beside", "roof edge", "one placed photo only")
        self.unanswered("beside", "roof edge", "seen from one side only")
        self.assertIn("seen from one side only", done("adjust", self.dossier))
        self.assertIn("no place", done("shapes", self.dossier))

    def test_two_photos_at_least(self):
        for name in ("hauler_02.jpg", "hauler_03.jpg", "hauler_04.jpg"):
            done("photo", "remove", self.dossier, name)
        self.refused("adjust", self.dossier, says=["photo"], code=3)

    def test_truncated_and_hostile_dossiers(self):
        path = self.dossier / "dossier.json"
        whole = path.read_bytes()
        for data in (whole[: len(whole) // 2], b"", b"[" * 100000, b'{"schema_version": "one"}', b"\xff\xfe\x00",
                     whole.replace(b'"major": 1', b'"major": 2').replace(b'"major":1', b'"major":2')):
            path.write_bytes(data)
            self.refused("adjust", self.dossier, says=["dossier.json"])
            self.refused("mark", "set", self.dossier, "hauler_01.jpg", "P", "--at", "5", "5", says=["dossier.json"])

    def test_unknown_keys_of_a_newer_minor_version_survive(self):
        path = self.dossier / "dossier.json"
        data = json.loads(path.read_text(encoding="utf-8"))
        data["schema_version"]["minor"] = 7
        data["of the future"] = {"kept": [1, 2, 3]}
        path.write_text(json.dumps(data), encoding="utf-8")
        done("mark", "set", self.dossier, "hauler_01.jpg", "P", "--at", "5", "5")
        self.assertEqual(json.loads(path.read_text(encoding="utf-8"))["of the future"], {"kept": [1, 2, 3]})

    def test_a_full_disk_leaves_the_old_file(self):
        before = snapshot(self.dossier)
        # A limit on file sizes stands for the full disk: the write fails in the middle.
        run = subprocess.run(["/bin/bash", "-c", 'trap "" XFSZ; ulimit -f 8; exec "$@"', "limited", SCANTLING, "mark",
                              "set", str(self.dossier), "hauler_01.jpg", "P", "--at", "5", "5"], capture_output=True,
                             text=True)
        self.assertEqual(run.returncode, 2, run.stderr)
        self.assertIn("dossier.json", run.stderr)
        self.assertEqual(snapshot(self.dossier), before)
        # No room for anything at all.
        run = subprocess.run(["/bin/bash", "-c", 'trap "" XFSZ; ulimit -f 0; exec "$@"', "limited", SCANTLING, "mark",
                              "set", str(self.dossier), "hauler_01.jpg", "P", "--at", "5", "5"], capture_output=True,
                             text=True)
        self.assertEqual(run.returncode, 2, run.stderr)
        self.assertIn("disk is full", run.stderr)
        self.assertEqual(snapshot(self.dossier), before)

    def test_a_kill_in_mid_save_leaves_the_old_file_or_the_new(self):
        path = self.dossier / "dossier.json"
        for step in range(40):
            run = subprocess.Popen([SCANTLING, "mark", "set", str(self.dossier), "hauler_01.jpg", "P", "--at", "5",
                                    str(step)], stdout=subprocess.DEVNULL, stderr=subprocess.DEVNULL)
            time.sleep(0.002 * (step % 20))
            run.send_signal(signal.SIGKILL)
            run.wait()
            json.loads(path.read_text(encoding="utf-8"))
        code, _, errors = scantling("mark", "list", self.dossier)
        self.assertEqual(code, 0, errors)

    def test_verify_finds_an_altered_photo(self):
        done("photo", "add", self.dossier, DEMO / "photos" / "hauler_06.jpg", "--camera", self.base / "camera.json",
             "--copy")
        copy = next(path for path in (self.dossier / "photos").iterdir())
        os.chmod(copy, 0o644)
        copy.write_bytes(copy.read_bytes() + b"x")
        code, output, errors = scantling("verify", self.dossier)
        self.assertNotEqual(code, 0)
        self.assertIn("hauler_06.jpg", output + errors)

    def test_another_camera_is_taken_whole_or_not_at_all(self):
        data = json.loads((self.base / "camera.json").read_text(encoding="utf-8"))
        data["intrinsics"]["fx_px"] += 1
        again = self.file("again.json", json.dumps(data).encode())
        self.refused("photo", "add", self.dossier, DEMO / "photos" / "hauler_05.jpg", "--camera", again,
                     says=["camera replace"])
        self.refused("camera", "replace", self.dossier, "none", again, says=["none"])
        self.refused("camera", "replace", self.dossier, "camera", self.file("spoilt.json", b"{"), says=["spoilt.json"])
        done("camera", "replace", self.dossier, "camera", again)
        self.assertNotIn("fault", done("verify", self.dossier))

    def test_a_second_program_is_held_off(self):
        folder = os.open(self.dossier, os.O_RDONLY | os.O_DIRECTORY)
        try:
            fcntl.flock(folder, fcntl.LOCK_EX)
            self.refused("mark", "set", self.dossier, "hauler_01.jpg", "P", "--at", "5", "5", says=["Another program"])
        finally:
            os.close(folder)

    def test_commands_read_what_another_program_has_journalled(self):
        # What an open desk leaves at a crash: an edit in the journal alone.
        journal = self.dossier / "journal.ndjson"
        subprocess.run([JOURNAL_AN_EDIT, self.dossier, "hauler_01.jpg", "journalled"], check=True)
        self.assertTrue(journal.exists())
        self.assertNotIn("journalled", (self.dossier / "dossier.json").read_text(encoding="utf-8"))
        folder = os.open(self.dossier, os.O_RDONLY | os.O_DIRECTORY)
        try:
            fcntl.flock(folder, fcntl.LOCK_EX)
            before = snapshot(self.dossier)
            self.assertIn("journalled", done("mark", "list", self.dossier))
            self.assertIn("journalled", done("point", "list", self.dossier))
            self.assertIn("journal.ndjson holds 1 edit", done("verify", self.dossier))
            done("dossier", "show", self.dossier)
            self.assertEqual(snapshot(self.dossier), before)
            done("adjust", self.dossier)
            self.refused("adjust", self.dossier, "--camera", "fixed", says=["Another program", "close it there"])
            self.refused("mark", "set", self.dossier, "hauler_01.jpg", "P", "--at", "5", "5",
                         says=["Another program", f"process {os.getpid()}"])
        finally:
            os.close(folder)
        code, _, errors = scantling("mark", "set", self.dossier, "hauler_01.jpg", "P", "--at", "5", "5")
        self.assertEqual(code, 0, errors)
        self.assertIn("1 edit was taken from journal.ndjson", errors)
        self.assertFalse(journal.exists())
        self.assertIn("journalled", (self.dossier / "dossier.json").read_text(encoding="utf-8"))

    def test_a_damaged_journal_is_refused(self):
        journal = self.dossier / "journal.ndjson"
        for data in (b"nonsense\n", b"\0" * 4096, b"[" * 100000 + b"\n", b"{}\n{}\n"):
            journal.write_bytes(data)
            self.refused("mark", "list", self.dossier, says=["journal.ndjson, line 1", "move it out of the folder"])
            self.refused("mark", "set", self.dossier, "hauler_01.jpg", "P", "--at", "5", "5", says=["journal.ndjson"])

    def test_names_may_look_like_options_and_lists(self):
        for name in ("[A,B]", "-x"):
            done("mark", "set", self.dossier, "--at", "-0.25", "5", "--", "hauler_01.jpg", name)
            done("dimension", "add", self.dossier, f"to {name}", "--distance", name, "bar A left")
            self.assertIn(name, done("mark", "list", self.dossier))
        done("dimension", "add", self.dossier, "plane", "--offset", "bar A left", "--plane", "[A,B]", "--plane=-x",
             "--plane", "bar A right")

    def test_names_hold_spaces_and_any_script(self):
        done("mark", "set", self.dossier, "hauler_01.jpg", "Luke Ø, λ 部品", "--at", "5", "5")
        self.assertIn("Luke Ø, λ 部品", done("mark", "list", self.dossier))
        self.refused("mark", "set", self.dossier, "hauler_01.jpg", "", "--at", "5", "5", says=["name"])
        self.refused("mark", "set", self.dossier, "hauler_01.jpg", "a\nb", "--at", "5", "5", says=["name"])

    def test_wrong_words_on_the_command_line(self):
        self.refused("adjust", says=["DIR"])
        self.refused("measure", says=["measure"])
        self.refused("dimensions", self.dossier, "--units", "furlong", says=["furlong"])
        self.refused("adjust", self.base / "no dossier", says=["no dossier"])


if __name__ == "__main__":
    unittest.main(argv=["bad_input"], verbosity=2)
