"""The command `scantling sheet` and its PDF, read back by poppler."""
import hashlib
import json
import os
import pathlib
import re
import shutil
import subprocess
import sys
import unittest

from demo_sheet import DemoSheet
from command import scantling, snapshot
from readable import faults_of_pdf, faults_of_svg, texts_of_svg


def pdf_text(file, *options):
    return subprocess.run(["pdftotext", "-layout", *options, file, "-"], capture_output=True, text=True, check=True).stdout


def pdf_info(file):
    lines = subprocess.run(["pdfinfo", file], capture_output=True, text=True, check=True).stdout.splitlines()
    return dict(line.split(":", 1) for line in lines)


class Paper(unittest.TestCase):
    @classmethod
    def setUpClass(cls):
        cls.sheet = DemoSheet()
        cls.pdf = cls.sheet.sheets / "dimensions.pdf"
        cls.text = pdf_text(cls.pdf)
        cls.results = json.loads((cls.sheet.dossier / "dossier.json").read_text(encoding="utf-8"))

    @classmethod
    def tearDownClass(cls):
        cls.sheet.close()

    def test_it_opens_with_the_check_length(self):
        first = pdf_text(self.pdf, "-l", "1")
        self.assertLess(first.index("check length agrees"), first.index("measured by"))
        self.assertRegex(first, r"bar C\s+check\s+199\.986 ± 0\.040 mm")
        for part in ("2025-05-17", "M. Keel <bench>", "1:48", "1:72", "p = 95.45 %", "SHA-256", "px", "Confirm a dimension",
                     "armatures", "keeper"):
            self.assertIn(part, first)

    def test_every_page_is_counted(self):
        pages = int(pdf_info(self.pdf)["Pages"])
        for page in range(1, pages + 1):
            self.assertIn(f"page {page} of {pages}", pdf_text(self.pdf, "-f", str(page), "-l", str(page)))

    def test_every_dimension_is_in_the_table_as_the_command_prints_it(self):
        code, printed, _ = scantling("dimensions", self.sheet.dossier)
        self.assertEqual(code, 0)
        values = re.findall(r"-?\d+(?:\.\d+)? ± \d+(?:\.\d+)? (?:mm²|mm|°)", printed)
        self.assertGreater(len(values), 90)
        joined = " ".join(self.text.split())
        for value in values:
            self.assertIn(value, joined)
        for dimension in self.results["dimensions"]:
            for word in dimension["name"].split():
                self.assertIn(word, joined)
        self.assertIn("no value", joined)

    def test_heads_are_repeated(self):
        pages = int(pdf_info(self.pdf)["Pages"])
        with_head = [page for page in range(1, pages + 1)
                     if re.search(r"no\.\s+dimension\s+original", pdf_text(self.pdf, "-f", str(page), "-l", str(page)))]
        self.assertGreater(len(with_head), 1)

    def test_photographs_keep_their_bytes_small(self):
        images = subprocess.run(["pdfimages", "-list", self.pdf], capture_output=True, text=True, check=True).stdout
        rows = [line.split() for line in images.splitlines()[2:]]
        self.assertGreater(len(rows), 2)
        self.assertTrue(all(row[8] == "jpeg" for row in rows), images)

    def test_the_same_input_gives_the_same_bytes(self):
        self.sheet.write("again")
        for name in ("dimensions.pdf", "dimensions.html"):
            self.assertEqual(*[hashlib.sha256((self.sheet.base / folder / name).read_bytes()).digest()
                               for folder in ("sheets", "again")], name)
        self.assertIn("May 17", pdf_info(self.pdf)["CreationDate"])

    def test_a_sheet_without_a_date_does_not_take_the_clock_s(self):
        code, _, errors = scantling("sheet", self.sheet.dossier, "--output", self.sheet.base / "undated", "--parts", "dimensions")
        self.assertEqual((code, errors.count("Traceback")), (0, 0))
        self.assertNotIn("CreationDate", pdf_info(self.sheet.base / "undated" / "dimensions.pdf"))
        self.assertIn("not told", pdf_text(self.sheet.base / "undated" / "dimensions.pdf", "-l", "1"))

    def test_options_choose_paper_dimensions_units_and_scales(self):
        before = snapshot(self.sheet.dossier)
        code, printed, _ = scantling("sheet", self.sheet.dossier, "--output", self.sheet.base / "some", "--parts", "dimensions",
                                     "--paper", "letter",
                                     "--only", "hopper rim length, left", "hopper rim angle, front left", "--units", "in-fraction",
                                     "--replica-scale", "1:24", "--replica-scale", "1:144", "--json")
        self.assertEqual(code, 0)
        files = json.loads(printed)["files"]
        self.assertEqual([pathlib.Path(file).name for file in files], ["dimensions.pdf", "dimensions.html"])
        self.assertIn("letter", pdf_info(files[0])["Page size"])
        text = " ".join(pdf_text(files[0]).split())
        self.assertRegex(text, r"12 \d+/\d+ ± 0\.\d+ in")
        for part in ("replica 1:24", "replica 1:144"):
            self.assertIn(part, text)
        self.assertNotIn("replica 1:72", text)
        self.assertNotIn("wheelbase", text)
        self.assertEqual(snapshot(self.sheet.dossier), before)

    def test_no_text_of_a_template_lies_on_another_or_on_a_line(self):
        folder = self.sheet.base / "templates of the demo"
        code, _, errors = scantling("sheet", self.sheet.dossier, "--output", folder, "--parts", "templates",
                                    "--replica-scale", "1:72", "--replica-scale", "1:144")
        self.assertEqual(code, 0, errors)
        drawings = sorted(folder.rglob("*.svg"))
        self.assertEqual(len(drawings), 6)
        for file in drawings:
            self.assertGreater(len(texts_of_svg(file)), 100, file.name)
            self.assertEqual(faults_of_svg(file), [], file.name)
            self.assertEqual(faults_of_pdf(file.with_suffix(".pdf")), [], file.name)

    def renamed(self, folder, names):
        """A copy of the dossier in which the first dimensions have other names."""
        copy = self.sheet.base / folder
        shutil.copytree(self.sheet.dossier, copy)
        dossier = json.loads((copy / "dossier.json").read_text(encoding="utf-8"))
        for dimension, name in zip(dossier["dimensions"], names):
            dimension["name"] = name
        (copy / "dossier.json").write_text(json.dumps(dossier), encoding="utf-8")
        return copy

    def test_names_in_other_scripts_are_drawn_and_found_where_the_system_has_a_font(self):
        names = {"船首 の 舵": "8239", "नाव की लंबाई": "0932", "Länge über alles": "00e4", "мост": "043c"}
        drawn = [name for name, letter in names.items()
                 if subprocess.run(["fc-list", f":charset={letter}", "family"], capture_output=True, text=True).stdout.strip()]
        self.assertIn("Länge über alles", drawn)
        copy = self.renamed("scripts", drawn)
        pdfs = []
        for locale, folder in (("C.UTF-8", "scripts one"), ("C", "scripts two")):
            done = subprocess.run([sys.argv[1], "sheet", copy, "--output", self.sheet.base / folder, "--parts", "dimensions"],
                                  capture_output=True, text=True, env={**os.environ, "LC_ALL": locale, "LANG": locale})
            self.assertEqual((done.returncode, done.stderr.count("No font")), (0, 0), done.stderr)
            pdfs.append(self.sheet.base / folder / "dimensions.pdf")
        self.assertEqual(pdfs[0].read_bytes(), pdfs[1].read_bytes())
        text = "".join(pdf_text(pdfs[0]).split())
        for name in drawn:
            self.assertIn("".join(name.split()), text)
        fonts = subprocess.run(["pdffonts", pdfs[0]], capture_output=True, text=True, check=True).stdout.splitlines()[2:]
        self.assertGreaterEqual(len(fonts), 2)
        for font in fonts:
            self.assertEqual(font.split()[-5:-2], ["yes", "yes", "yes"], font)  # embedded, a part of it, with its text

    def test_a_letter_without_a_font_gets_a_warning_that_names_the_item(self):
        # The last code point but two: of private use, which no font can be expected to have.
        copy = self.renamed("no font", ["mark \U0010fffd here"])
        code, _, errors = scantling("sheet", copy, "--output", self.sheet.base / "no font sheets", "--parts", "dimensions")
        self.assertEqual(code, 0, errors)
        self.assertRegex(errors, "No font of this system has the letters \"\U0010fffd\" of dimension \"mark \U0010fffd here\"")
        self.assertEqual(errors.count("No font"), 1)
        self.assertIn("mark\ufffdhere", "".join(pdf_text(self.sheet.base / "no font sheets" / "dimensions.pdf").split()))

    def test_no_text_of_the_dimension_sheet_lies_on_another(self):
        self.assertEqual(faults_of_pdf(self.pdf), [])

    def test_bad_input_gets_a_sentence_and_writes_nothing(self):
        folder = self.sheet.base / "refused"
        for options, part in ((["--only", "no such"], "no such"), (["--date", "17.5.2025"], "no day"),
                              (["--date", "2025-02-30"], "no day"), (["--paper", "napkin"], "napkin"),
                              (["--paper", "60x90mm"], "too small"), (["--replica-scale", "72"], "72"),
                              (["--tolerance", "0mm"], "above zero"), (["--tolerance", "-"], "--tolerance")):
            code, printed, errors = scantling("sheet", self.sheet.dossier, "--output", folder, *options)
            self.assertEqual(code, 2, (options, errors))
            self.assertIn(part, errors)
            self.assertEqual(printed, "")
            self.assertEqual([path for path in folder.rglob("*")] if folder.exists() else [], [])

    def test_another_photo_in_the_place_of_one_is_refused(self):
        copy = self.sheet.base / "copy"
        shutil.copytree(self.sheet.dossier, copy)
        dossier = json.loads((copy / "dossier.json").read_text(encoding="utf-8"))
        other = self.sheet.base / "other"
        other.mkdir()
        for photo in dossier["photos"]:
            source = (copy / photo["file"]).resolve()
            bytes_ = source.read_bytes()
            (other / photo["name"]).write_bytes(bytes_[:-2] + b"\0\xff\xd9")
            photo["file"] = str(other / photo["name"])
        (copy / "dossier.json").write_text(json.dumps(dossier), encoding="utf-8")
        code, _, errors = scantling("sheet", copy, "--output", self.sheet.base / "refused photo")
        self.assertEqual(code, 2, errors)
        self.assertIn("is not the photo that was added", errors)
        for photo in dossier["photos"]:
            (other / photo["name"]).unlink()
        code, _, errors = scantling("sheet", copy, "--output", self.sheet.base / "refused photo")
        self.assertEqual(code, 2, errors)
        self.assertIn("hauler_0", errors)
        self.assertEqual(list((self.sheet.base / "refused photo").rglob("*")), [])


if __name__ == "__main__":
    unittest.main(argv=sys.argv[:1], verbosity=2)
