"""Which stock a dimension is: probabilities against Bayes' rule worked by hand, tables of one's own, and their faults."""
import json
import math
import os
import subprocess
import unittest

try:
    import jsonschema
except ImportError:
    raise SystemExit("python3-jsonschema is missing: tools/check installs it")

from command import SCANTLING, SOURCE, done, scantling, schema, snapshot
from small_survey import SmallSurvey

SHIPPED = SOURCE / "measure" / "store" / "stock" / "common_sizes.json"
MM_PER_INCH = 25.4


def size_mm(size, unit):
    """A size as it stands in a table: 3, "0.030", "1/32", "1 1/4"."""
    value = sum(float(part.split("/")[0]) / float((part.split("/") + ["1"])[1]) for part in str(size).split())
    return value * (MM_PER_INCH if unit == "in" else 1)


def simpson(function, low, high, steps=20000):
    width = (high - low) / steps
    return width / 3 * sum((1 if i in (0, steps) else 4 if i % 2 else 2) * function(low + i * width) for i in range(steps + 1))


def student_whole(dof, share=1.0):
    """The integral of (1 + t^2 / dof)^(-(dof + 1) / 2) with |t| < x, by t = sqrt(dof) tan w; x is where w = share * pi / 2."""
    end = share * math.pi / 2
    return math.sqrt(dof) * simpson(lambda w: max(math.cos(w), 0) ** (dof - 1), -end, end)


def density(x, dof):
    """Student's, its factor found by integrating it; the normal one where dof is infinite."""
    if dof is None:
        return math.exp(-x * x / 2) / math.sqrt(2 * math.pi)
    return (1 + x * x / dof) ** (-(dof + 1) / 2) / student_whole(dof)


def reach_of(probability, dof):
    """What |t| exceeds with 1 - probability, by halving an interval around it."""
    low, high, whole = 0.0, 1.0, student_whole(dof)
    for _ in range(40):
        middle = (low + high) / 2
        low, high = (middle, high) if student_whole(dof, middle) < probability * whole else (low, middle)
    return math.sqrt(dof) * math.tan(low * math.pi / 2)


def by_hand(table, kind, material, value, u, dof):
    """{size in mm: (probability, distance in standard uncertainties)}: likelihoods, meaned over materials, summing to one."""
    found = {}
    for group in table["groups"]:
        if group["kind"] != kind or material not in (None, group["material"]):
            continue
        for size in group["sizes"]:
            u_own = group["u"]
            if isinstance(size, dict):
                size, u_own = size["size"], size.get("u", u_own)
            nominal = size_mm(size, group["unit"])
            u_own *= MM_PER_INCH if group["unit"] == "in" else 1
            both = math.hypot(u, u_own)
            # Welch and Satterthwaite: the material's own part is well known.
            dof_both = None if dof is None else dof * (both / u) ** 4
            if dof_both is not None and dof_both > 1e6:
                dof_both = None
            x = abs(value - nominal) / both
            found.setdefault(round(nominal, 6), []).append((density(x, dof_both) / both, x))
    means = {size: sum(likelihood for likelihood, _ in entries) / len(entries) for size, entries in found.items()}
    whole = sum(means.values())
    return {size: (mean / whole, min(x for _, x in found[size])) for size, mean in means.items()}


def table_text(*groups):
    return json.dumps({"file_kind": "scantling stock table", "schema_version": {"major": 1, "minor": 0}, "name": "my drawer",
                       "groups": list(groups)})


def group(**changed):
    return {"kind": "rod", "material": "brass", "unit": "mm", "u": 0.02, "sizes": [6], **changed}


class Stock(unittest.TestCase):
    @classmethod
    def setUpClass(cls):
        cls.survey = SmallSurvey()
        cls.dossier = cls.survey.dossier

    @classmethod
    def tearDownClass(cls):
        cls.survey.close()

    def own_table(self, text):
        path = self.survey.base / "drawer.json"
        path.write_text(text, encoding="utf-8")
        return path

    def answers(self, *options):
        data = json.loads(done("stock", self.dossier, "Ø pipe", "--as", "rod", "--json", *options))
        jsonschema.validate(data, schema("stock_answer"), cls=jsonschema.Draft202012Validator)
        return data

    def compare(self, data, table):
        """All figures of an answer with those by hand."""
        self.assertGreater(len(data["answers"]), 0)
        for answer in data["answers"]:
            expected = by_hand(table, data["kind"], data["material"], answer["value_mm"], answer["u_mm"], answer["effective_dof"])
            self.assertEqual(sorted(expected), sorted(round(c["size_mm"], 6) for c in answer["candidates"]))
            self.assertAlmostEqual(sum(c["probability"] for c in answer["candidates"]), 1, places=12)
            probabilities = [c["probability"] for c in answer["candidates"]]
            self.assertEqual(probabilities, sorted(probabilities, reverse=True))
            for candidate in answer["candidates"]:
                probability, apart = expected[round(candidate["size_mm"], 6)]
                self.assertAlmostEqual(candidate["probability"], probability, delta=1e-6 * probability + 1e-12)
                self.assertAlmostEqual(candidate["apart"], apart, places=9)

    def test_probabilities_are_those_of_bayes_rule_at_every_scale(self):
        data = self.answers()
        self.assertEqual([a["scale"] for a in data["answers"]], ["model", "replica 1:72"])
        model, replica = data["answers"]
        self.assertAlmostEqual(replica["value_mm"] / model["value_mm"], 48 / 72, places=12)
        self.compare(data, json.loads(SHIPPED.read_text(encoding="utf-8")))
        texts = {c["size"] for c in model["candidates"]}
        self.assertTrue(any(text.endswith(" mm") for text in texts) and any(text.endswith(" in") for text in texts))

    def test_the_integrals_of_this_test_are_true(self):
        # Student's t of 4 degrees of freedom has a closed form; its 99.9 % point, of any printed table, is 8.610.
        self.assertAlmostEqual(density(2.132, 4), 3 / 8 / (1 + 2.132 ** 2 / 4) ** 2.5, places=9)
        self.assertAlmostEqual(reach_of(0.999, 4), 8.610, delta=0.0005)
        self.assertAlmostEqual(density(0.5, 1e6), density(0.5, None), places=6)
        # And they are asked of figures for which Student and the normal error differ.
        self.assertLess(self.answers()["answers"][0]["effective_dof"], 1000)

    def test_a_table_of_ones_own_in_inches_and_millimetres(self):
        value = self.answers()["answers"][0]["value_mm"]
        table = table_text(group(unit="in", u=0.001, sizes=["1/4", "0.240", {"size": "15/64", "u": 0.002}]),
                           group(sizes=[round(value, 2), round(value, 2) + 0.1]),
                           group(material="steel", u=0.05, sizes=[round(value, 2)]), group(kind="sheet", sizes=[1]))
        own = self.own_table(table)
        for material in (None, "brass", "steel"):
            data = self.answers("--table", own, *(["--material", material] if material else []))
            self.assertEqual((data["table"], data["material"]), ("my drawer", material))
            self.compare(data, json.loads(table))
        best = self.answers("--table", own)["answers"][0]["candidates"][0]
        self.assertEqual(best["materials"], ["brass", "steel"])

    def test_people_read_the_same(self):
        printed = done("stock", self.dossier, "Ø pipe", "--as", "rod")
        for answer, name in zip(self.answers()["answers"], ("original", "replica 1:72")):
            line = next(line for line in printed.splitlines() if line.startswith(name))
            self.assertIn(answer["sentence"], line)
            self.assertRegex(line, r"\d\.\d+ ± 0\.\d+ mm")
            self.assertNotIn("full", line)

    def test_none_of_these_sizes(self):
        table = table_text(group(sizes=[60, 70]))
        data = self.answers("--table", self.own_table(table))
        for answer in data["answers"]:
            self.assertTrue(answer["none_of_these"])
            # Then they tell which it would be if it had to be one of these, and still sum to one.
            self.assertAlmostEqual(sum(c["probability"] for c in answer["candidates"]), 1, places=12)
            nearest = min(answer["candidates"], key=lambda c: c["apart"])
            self.assertRegex(answer["sentence"], r"none of these sizes: the nearest, 60 mm rod, is \d+\.\d standard uncertainties")
            expected = abs(answer["value_mm"] - 60) / math.hypot(answer["u_mm"], 0.02)
            self.assertAlmostEqual(nearest["apart"], expected, places=6)
        self.assertIn("none of these sizes", done("stock", self.dossier, "Ø pipe", "--as", "rod", "--table", self.survey.base / "drawer.json"))
        # Just within and just beyond 99.9 % of errors.
        model = data["answers"][0]
        reach = math.hypot(model["u_mm"], 0.02)
        furthest = reach_of(0.999, model["effective_dof"] * (reach / model["u_mm"]) ** 4)
        for factor, none in ((0.9999, False), (1.0001, True)):
            size = model["value_mm"] + factor * furthest * reach
            one = self.answers("--table", self.own_table(table_text(group(sizes=[size]))))["answers"][0]
            self.assertEqual((one["none_of_these"], one["candidates"][0]["probability"]), (none, 1), factor)

    def refused(self, *arguments, says):
        before = snapshot(self.dossier)
        code, output, errors = scantling("stock", self.dossier, *arguments)
        self.assertEqual((code, output), (2, ""), errors)
        self.assertTrue(errors.startswith("scantling: ") and errors.count("\n") == 1, errors)
        for words in says:
            self.assertIn(words, errors)
        self.assertEqual(snapshot(self.dossier), before)

    def test_a_faulty_table_is_refused_by_file_item_and_remedy(self):
        without_unit = group()
        del without_unit["unit"]
        without_u = group()
        del without_u["u"]
        where = "groups[1]"
        for faulty, says in (
                (without_unit, [where, "has no unit", 'write "unit": "mm" or "unit": "in"']),
                (group(unit="cm"), [where + ".unit", '"cm"', '"mm" and "in"']),
                (group(sizes=[1, -3]), [where + ".sizes[1]", "-3", "above 0"]),
                (group(sizes=["-1/4"]), [where + ".sizes[0]", "above 0"]),
                (group(sizes=[0]), [where + ".sizes[0]", "above 0"]),
                (group(sizes=["two"]), [where + ".sizes[0]", "two", "1/32"]),
                (group(sizes=["1/0"]), [where + ".sizes[0]", "1/0"]),
                (group(sizes=["nan"]), [where + ".sizes[0]", "above 0"]),
                (group(sizes=[2, {"size": "2", "u": 0.1}]), [where + ".sizes[1]", "a second time", where + ".sizes[0]", "remove one"]),
                (group(unit="in", sizes=["1/8", 0.125]), [where + ".sizes[1]", "a second time", "remove one"]),
                (group(sizes=3), [where + ".sizes", "list", "correct the table"]),
                (group(u=-0.1), [where + ".u", "below 0", "or 0"]),
                (without_u, [where + ".u", "missing", "correct the table"]),
                (group(material=""), [where + ".material", "name the material"]),
                (group(kind="plank"), [where + ".kind", "plank", "sheet, strip, rod and tube"])):
            table = self.own_table(table_text(group(kind="tube"), faulty))
            self.refused("Ø pipe", "--as", "rod", "--table", table, says=["drawer.json", *says])
        self.refused("Ø pipe", "--as", "rod", "--table", self.own_table(table_text()), says=["drawer.json", "add a group"])

    def test_what_is_no_table_is_refused(self):
        for text, says in (("no JSON", ["line 1", "correct it"]), ("", ["correct it"]),
                           (table_text(group())[:-20], ["cut short", "correct it"]), ("{}", ["no stock table", "right file"]),
                           ("[" * 100000, ["nested"]),
                           (table_text(group()).replace('"major": 1', '"major": 2'), ["newer", "update"])):
            self.refused("Ø pipe", "--as", "rod", "--table", self.own_table(text), says=["drawer.json", *says])
        self.refused("Ø pipe", "--as", "rod", "--table", self.survey.base / "nowhere.json", says=["nowhere.json", "does not exist", "check"])
        self.refused("Ø pipe", "--as", "rod", "--table", self.survey.base, says=[str(self.survey.base), "folder"])

    def test_an_unreadable_table_is_refused(self):
        table = self.own_table(table_text(group()))
        table.chmod(0)
        # Root reads everything, unless it gives up that right.
        drop = ["setpriv", "--bounding-set=-dac_override,-dac_read_search", "--inh-caps=-all"] if os.geteuid() == 0 else []
        run = subprocess.run([*drop, SCANTLING, "stock", self.dossier, "Ø pipe", "--as", "rod", "--table", table], capture_output=True,
                             text=True, encoding="utf-8")
        table.unlink()
        self.assertEqual((run.returncode, run.stdout), (2, ""), run.stderr)
        self.assertIn("drawer.json may not be read: change its permissions", run.stderr)

    def test_questions_that_have_no_answer(self):
        self.refused("no such", "--as", "rod", says=["no such", "dimension list"])
        self.refused("roof angle", "--as", "rod", says=["roof angle", "no length"])
        self.refused("below the roof", "--as", "sheet", says=["below the roof", "-", "no sign"])
        self.refused("Ø pipe", "--as", "plank", says=["plank", "--help"])
        self.refused("Ø pipe", says=["--as"])
        self.refused("Ø pipe", "--as", "rod", "--material", "gold", says=["rod of gold", "add its sizes"])
        self.refused("Ø pipe", "--as", "rod", "--table", self.own_table(table_text(group(kind="sheet"))),
                     says=["drawer.json", "no rod", "add its sizes"])


if __name__ == "__main__":
    unittest.main(argv=["stock"], verbosity=2)
