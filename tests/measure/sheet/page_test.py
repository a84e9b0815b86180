"""The page of the dimension sheet in real Chromium: every interaction, by mouse, by touch and by keyboard alone.

page_test.py SCANTLING SOURCE SAMPLES: screenshots of each state are left in SCREENSHOTS (environment), if it is set.
"""
import json
import os
import re
import sys
import unittest

from demo_sheet import DemoSheet
from webdriver import Browser

SCREENSHOTS = os.environ.get("SCREENSHOTS")
CORNERS = """
  return [...document.querySelectorAll('figure.picture')].map((figure) => {
    const was = figure.hidden; figure.hidden = false;
    const boxes = [...figure.querySelectorAll('g.dim:not(.also) .label')].map((label) => {
      const plate = label.querySelector('.plate'), m = label.getCTM(), root = figure.querySelector('svg').getCTM().inverse().multiply(m);
      const x = plate.x.baseVal.value, y = plate.y.baseVal.value, w = plate.width.baseVal.value, h = plate.height.baseVal.value;
      const at = (px, py) => [root.a * px + root.c * py + root.e, root.b * px + root.d * py + root.f];
      const value = label.querySelector('.of').getBBox();
      return {corners: [at(x, y), at(x + w, y), at(x + w, y + h), at(x, y + h)], over: value.x + value.width - x - w};
    });
    figure.hidden = was;
    return {boxes, size: figure.querySelector('image').getAttribute('width') + ' ' + figure.querySelector('image').getAttribute('height')};
  });
"""


def apart(a, b):
    """Whether a line separates two turned boxes (separating axis theorem)."""
    for box in (a, b):
        for i in range(4):
            (x0, y0), (x1, y1) = box[i], box[(i + 1) % 4]
            axis = (y1 - y0, x0 - x1)
            on_a = [x * axis[0] + y * axis[1] for x, y in a]
            on_b = [x * axis[0] + y * axis[1] for x, y in b]
            if max(on_a) <= min(on_b) or max(on_b) <= min(on_a):
                return True
    return False


def luminance(colour):
    """Relative luminance: WCAG 2.1, the definition of that name."""
    parts = [float(v) / 255 for v in re.findall(r"[\d.]+", colour)[:3]]
    linear = [v / 12.92 if v <= 0.03928 else ((v + 0.055) / 1.055) ** 2.4 for v in parts]
    return 0.2126 * linear[0] + 0.7152 * linear[1] + 0.0722 * linear[2]


def contrast(a, b):
    low, high = sorted((luminance(a), luminance(b)))
    return (high + 0.05) / (low + 0.05)


class PageTest(unittest.TestCase):
    size, touch = (1400, 1000), False

    @classmethod
    def setUpClass(cls):
        cls.sheet = DemoSheet()
        cls.page = cls.sheet.sheets / "dimensions.html"
        cls.browser = Browser(*cls.size, touch=cls.touch)

    @classmethod
    def tearDownClass(cls):
        cls.browser.close()
        cls.sheet.close()

    def setUp(self):
        self.browser.logged("browser")
        self.browser.logged("performance")
        self.browser.open(self.page)
        self.data = json.loads(self.browser.run("return document.getElementById('data').textContent"))
        self.dims = self.data["dimensions"]

    def tearDown(self):
        for entry in self.browser.logged("browser"):
            self.fail(f"on the console: {entry['message']}")
        for url in self.requests():
            self.assertTrue(url.startswith("data:") or url.startswith(self.page.resolve().as_uri()), url[:200])
        if SCREENSHOTS:
            self.browser.picture(f"{SCREENSHOTS}/{type(self).__name__}_{self._testMethodName}.png")

    def events(self):
        return [json.loads(entry["message"])["message"] for entry in self.browser.logged("performance")]

    def requests(self):
        """What this page asked for; Chromium's own pages are not counted."""
        return [event["params"]["request"]["url"] for event in self.events() if event["method"] == "Network.requestWillBeSent"
                and event["params"]["documentURL"].startswith(self.page.resolve().as_uri())]

    def shown(self):
        """Numbers of the rows that are shown, in their order."""
        return self.browser.run("return [...document.querySelectorAll('#rows tr')].filter((row) => row.offsetParent !== null)"
                                ".map((row) => Number(row.cells[0].textContent))")

    def values(self):
        return [text.replace("\u00a0", " ") for text in self.browser.run(
            "return [...document.querySelectorAll('#rows .value span:first-child')].map((cell) => cell.textContent)")]

    def pick(self, selector, text):
        self.browser.run("const s = document.querySelector(arguments[0]);"
                         "s.value = [...s.options].find((o) => o.textContent === arguments[1]).value;"
                         "s.dispatchEvent(new Event('change'));", selector, text)

    def number_of(self, name):
        return next(d["number"] for d in self.dims if d["name"] == name)

    def open_row(self, name):
        row = self.browser.run("return [...document.querySelectorAll('#rows .name')].find((b) => b.textContent === arguments[0])", name)
        element = next(iter(row.values()))
        self.browser.run("arguments[0].scrollIntoView({block: 'center'})", row)
        self.browser.click_element(element)

    def focused(self):
        return self.browser.run("const f = document.activeElement; return f ? f.id || f.className.baseVal || f.className || f.tagName : ''")

    def view_box(self):
        return [float(v) for v in self.browser.run(
            "return document.querySelector('figure.picture:not([hidden]) svg').getAttribute('viewBox')").split()]


class AtADesk(PageTest):
    def test_it_opens_with_the_check_length_and_all_dimensions(self):
        self.assertIn("check length agrees", self.browser.text(".checks"))
        self.assertEqual(self.shown(), list(range(1, len(self.dims) + 1)))
        asked = json.loads((self.sheet.dossier / "dossier.json").read_text(encoding="utf-8"))["dimensions"]
        self.assertCountEqual([d["name"] for d in self.dims], [d["name"] for d in asked])
        self.assertGreater(len({d["kind"] for d in self.dims}), 10)
        self.assertIn("M. Keel <bench>", self.browser.text("header dl"))
        self.assertIn("no value", self.values()[self.number_of("to the lost rivet") - 1])
        self.assertEqual(self.browser.run("return document.documentElement.lang"), "en")

    def test_words_and_kind_filter(self):
        self.browser.type_into("#filter", "hopper length")
        wanted = [d["number"] for d in self.dims
                  if all(w in f"{d['number']} {d['name']} {d['kind']} {d['sentence']}".lower() for w in ("hopper", "length"))]
        self.assertTrue(0 < len(wanted) < len(self.dims))
        self.assertEqual(self.shown(), wanted)
        self.assertIn(f"{len(wanted)} of {len(self.dims)}", self.browser.text("#count"))
        self.browser.type_into("#filter", "")
        self.browser.run("document.getElementById('filter').dispatchEvent(new Event('input'))")
        self.pick("#kind", "angle")
        self.assertEqual(self.shown(), [d["number"] for d in self.dims if d["kind"] == "angle"])

    def resize(self, width):
        self.browser.at("POST", "/window/rect", {"width": width, "height": 1000})

    def test_every_column_sorts_both_ways(self):
        self.addCleanup(lambda: self.resize(self.size[0]))
        self.resize(1900)  # so that all columns are shown
        for key in ("number", "name", "kind", "value", "U", "k", "dof", "from", "picture"):
            self.browser.click(f"thead button[data-sort={key}]")
            first = self.shown()
            sort = self.browser.run("const h = document.querySelector('th[aria-sort]'); return [h.getAttribute('aria-sort'), h.textContent]")
            self.browser.click(f"thead button[data-sort={key}]")
            second = self.shown()
            self.assertCountEqual(first, second)
            self.assertNotEqual(first, second, key)
            self.assertNotEqual(sort[0], self.browser.run("return document.querySelector('th[aria-sort]').getAttribute('aria-sort')"))
        self.pick("#sort", "value")
        has = [d for d in self.dims if not d["problem"]]
        order = {"mm": 0, "mm2": 1, "deg": 2, "ratio": 3}
        wanted = [d["number"] for d in sorted(has, key=lambda d: (order[d["unit"]], d["value"]))]
        self.assertEqual(self.shown()[:len(wanted)], wanted)
        self.browser.click("#direction")
        # What has no value stands last whichever way the rest goes.
        without = [d["number"] for d in self.dims if d["problem"]]
        self.assertIn(self.number_of("to the lost rivet"), without)
        self.assertCountEqual(self.shown()[-len(without):], without)

    def test_units_and_scales_show_the_texts_that_were_made(self):
        units = self.browser.run("return [...document.querySelectorAll('#unit option')].map((o) => o.textContent)")
        self.assertEqual(len(units), 6)
        for s, scale in enumerate(self.data["scales"]):
            self.pick("#scale", scale)
            for u, unit in enumerate(units):
                self.pick("#unit", unit)
                wanted = ["no value: " + d["problem"] if d["problem"] else d["texts"][s][min(u, len(d["texts"][s]) - 1)]
                          for d in self.dims]
                self.assertEqual(self.values(), wanted)
                labels = self.browser.run("return [...document.querySelectorAll('g.dim')].map((g) => "
                                          "[Number(g.dataset.dim), g.querySelector('.of').textContent])")
                for i, text in labels:
                    self.assertEqual(text, self.dims[i]["symbol"] + self.dims[i]["texts"][s][min(u, len(self.dims[i]["texts"][s]) - 1)])
        self.assertTrue(any(re.search(r"\d+ ft \d", value) for value in self.values()))

    def test_no_two_texts_of_a_picture_overlap_in_any_unit(self):
        units = self.browser.run("return [...document.querySelectorAll('#unit option')].map((o) => o.textContent)")
        compared = 0
        for scale in self.data["scales"]:
            self.pick("#scale", scale)
            for unit in units:
                self.pick("#unit", unit)
                for number, picture in enumerate(self.browser.run(CORNERS)):
                    width, height = map(float, picture["size"].split())
                    corners = [box["corners"] for box in picture["boxes"]]
                    for box in picture["boxes"]:
                        self.assertLess(box["over"], 0.5, "a value runs out of its plate")
                        for x, y in box["corners"]:
                            self.assertTrue(-0.1 <= x <= width + 0.1 and -0.1 <= y <= height + 0.1)
                    for i in range(len(corners)):
                        for j in range(i):
                            compared += 1
                            self.assertTrue(apart(corners[i], corners[j]), (scale, unit, number + 1, i, j))
        self.assertGreater(compared, 500)

    def test_weak_ones_follow_the_tolerance(self):
        def limit(d, mm, degrees):
            return {"mm": mm, "deg": degrees}.get(d["unit"], float("inf"))

        self.browser.click("#weak")
        weak = [d["number"] for d in self.dims if d["problem"] or d["U"] > limit(d, 0.1, 0.2)]
        self.assertEqual(self.shown(), weak)
        all_U = sorted(d["U"] for d in self.dims if d["unit"] == "mm" and not d["problem"])
        tolerance = round(all_U[len(all_U) // 2], 4)
        self.browser.type_into("#tolerance-mm", str(tolerance))
        fewer = [d["number"] for d in self.dims if d["problem"] or d["U"] > limit(d, tolerance, 0.2)]
        self.assertLess(len(fewer), len(weak))
        self.assertEqual(self.shown(), fewer)
        self.browser.type_into("#tolerance-deg", "20")
        fewest = [d["number"] for d in self.dims if d["problem"] or (d["unit"] == "mm" and d["U"] > tolerance)]
        self.assertLess(len(fewest), len(fewer))
        self.assertEqual(self.shown(), fewest)

    def test_a_dimension_is_shown_in_its_photographs_with_its_origin(self):
        name = "overall length over bumpers, left"
        dim = self.dims[self.number_of(name) - 1]
        self.open_row(name)
        self.assertIn(f"Picture {dim['pictures'][0] + 1} of", self.browser.text("#where"))
        self.assertEqual(self.browser.run("return [...document.querySelectorAll('figure:not([hidden]) g.dim.chosen')]"
                                          ".map((g) => Number(g.dataset.dim))"), [dim["number"] - 1])
        detail = self.browser.text("#detail")
        for part in (name, dim["sentence"], *[scale[0] for scale in dim["texts"]], dim["photos"][0][0], dim["marks"][0][0],
                     dim["reliability"][0], "U = k·u"):
            self.assertIn(part, detail)
        bars = self.browser.run("return [...document.querySelectorAll('#detail .track > span')].map((b) => b.style.width)")
        self.assertEqual(len(bars), sum(len(dim[k]) for k in ("budget", "photos", "marks", "others")))
        self.assertAlmostEqual(sum(share for _, share, *_ in dim["budget"]), 1, delta=0.01)
        for p in dim["alsoIn"][:1]:
            self.browser.click(f"#detail button[data-picture='{p}']")
            self.assertIn(f"Picture {p + 1} of", self.browser.text("#where"))
            self.assertEqual(self.browser.run("return document.querySelectorAll('figure:not([hidden]) g.dim.chosen').length"), 1)

    def test_a_drawing_leads_to_its_row(self):
        at = self.browser.run("""
          document.querySelector('main').scrollIntoView();
          const group = document.querySelector('figure:not([hidden]) g.dim:not(.also)');
          const box = group.querySelector('.plate').getBoundingClientRect();
          return [box.left + box.width / 2, box.top + box.height / 2, Number(group.dataset.dim)];""")
        self.browser.drag(at[:2], at[:2])
        self.assertEqual(self.browser.run("return [...document.querySelectorAll('#rows tr.chosen .name')].map((b) => b.textContent)"),
                         [self.dims[at[2]]["name"]])
        self.assertTrue(self.browser.run("const r = document.querySelector('tr.chosen').getBoundingClientRect(); return r.top < innerHeight && r.bottom > 0"))
        self.browser.run("document.getElementById('to-row').scrollIntoView()")
        self.browser.click("#to-row")
        self.assertEqual(self.browser.run("return document.activeElement.textContent"), self.dims[at[2]]["name"])

    def test_the_photograph_zooms_and_moves(self):
        self.browser.run("document.querySelector('main').scrollIntoView()")
        whole = self.view_box()
        self.browser.click("#zoom-in")
        self.browser.click("#zoom-in")
        near = self.view_box()
        self.assertAlmostEqual(near[2], whole[2] / 2.25, delta=0.1)
        box = self.browser.run("const r = document.querySelector('figure:not([hidden]) svg').getBoundingClientRect();"
                               "return [r.left + r.width / 2, r.top + r.height / 2]")
        self.browser.drag(box, (box[0] - 80, box[1] - 40))
        moved = self.view_box()
        self.assertGreater(moved[0], near[0])
        self.assertGreater(moved[1], near[1])
        self.browser.click("#zoom-out")
        self.assertGreater(self.view_box()[2], moved[2])
        self.browser.click("#zoom-whole")
        self.browser.wait(f"return document.querySelector('figure:not([hidden]) svg').getAttribute('viewBox').split(' ')[2] == {whole[2]}", "the whole picture")
        self.browser.click("#later")
        self.assertIn("Picture 2 of", self.browser.text("#where"))
        self.browser.click("#earlier")
        self.assertIn("Picture 1 of", self.browser.text("#where"))
        self.assertTrue(self.browser.run("return document.getElementById('earlier').disabled"))

    def test_the_keyboard_alone_does_it_all(self):
        self.browser.press("Tab")
        self.assertEqual(self.focused(), "skip")
        ring = self.browser.run("const s = getComputedStyle(document.activeElement); return [s.outlineStyle, parseFloat(s.outlineWidth)]")
        self.assertNotEqual(ring[0], "none")
        self.assertGreaterEqual(ring[1], 2)
        self.browser.press("Enter")
        self.browser.press("Tab")
        self.assertEqual(self.focused(), "filter")
        self.browser.press(*"hub")
        hubs = self.shown()
        self.assertTrue(0 < len(hubs) < len(self.dims))
        for _ in range(30):
            self.browser.press("Tab")
            if self.focused() == "name":
                break
        self.browser.press("ArrowDown")
        self.assertEqual(self.browser.run("return Number(document.activeElement.closest('tr').cells[0].textContent)"), hubs[1])
        self.browser.press("Enter")
        self.assertEqual(self.browser.run("return Number(document.querySelector('tr.chosen').cells[0].textContent)"), hubs[1])
        seen = set()
        for _ in range(60):  # on to the photograph, and to a drawing in it
            self.browser.press("Tab")
            seen.add(self.focused())
            if self.focused() == "view":
                before = self.view_box()
                self.browser.press("0")
                whole = self.view_box()
                self.browser.press("+", "+")
                self.assertLess(self.view_box()[2], whole[2])
                at = self.view_box()
                self.browser.press("ArrowRight", "ArrowDown")
                self.assertNotEqual(self.view_box()[:2], at[:2])
                self.browser.press("-", "-", "-", "-")
                self.assertEqual(self.view_box(), whole)
                self.assertTrue(before)
            if self.focused().startswith("dim"):
                break
        self.assertTrue({"later", "zoom-in", "view"} <= seen, seen)
        drawn = self.browser.run("return Number(document.activeElement.dataset.dim)")
        self.assertIn(self.dims[drawn]["name"], self.browser.run("return document.activeElement.getAttribute('aria-label')"))
        self.browser.press("Enter")
        self.assertIn(self.dims[drawn]["name"], self.browser.text("#detail"))
        self.browser.press("Escape")
        self.assertEqual(self.browser.run("return document.activeElement.textContent"), self.dims[drawn]["name"])
        self.assertEqual(self.browser.run("return document.querySelectorAll('.chosen').length"), 0)
        # Every control has a name.
        self.assertEqual(self.browser.run(
            "return [...document.querySelectorAll('button, input, select, [role=button]')].filter((e) => !(e.getAttribute('aria-label')"
            " || e.textContent.trim() || (e.labels && e.labels.length))).length"), 0)

    def test_text_has_contrast_in_light_and_dark(self):
        self.open_row("wheelbase, left")
        for scheme in ("light", "dark"):
            self.browser.media(prefers_color_scheme=scheme)
            pairs = self.browser.run("""
              const back = (e) => { for (; e; e = e.parentElement) { const c = getComputedStyle(e).backgroundColor;
                if (!/rgba\\(.*, 0\\)/.test(c)) return c; } return getComputedStyle(document.body).backgroundColor; };
              const found = [];
              for (const e of document.querySelectorAll('body *')) {
                if (e.closest('svg') || e.offsetParent === null || e.disabled) continue;
                if (![...e.childNodes].some((n) => n.nodeType === 3 && n.textContent.trim())) continue;
                found.push([getComputedStyle(e).color, back(e), e.tagName + '.' + e.className + ': ' + e.textContent.slice(0, 30)]);
              }
              return found;""")
            self.assertGreater(len(pairs), 100)
            for ink, paper, what in pairs:
                self.assertGreaterEqual(contrast(ink, paper), 4.5, (scheme, what, ink, paper))
            body = self.browser.run("return getComputedStyle(document.body).backgroundColor")
            self.assertEqual(luminance(body) < 0.5, scheme == "dark")
            if SCREENSHOTS:
                self.browser.picture(f"{SCREENSHOTS}/contrast_{scheme}.png")
        self.browser.media(prefers_color_scheme="light")

    def test_the_table_lies_beside_the_pictures_and_nothing_on_anything_at_any_width(self):
        self.addCleanup(lambda: self.resize(self.size[0]))
        units, scales = (self.browser.run("return [...document.querySelectorAll(arguments[0])].map((o) => o.textContent)", f"#{id} option")
                         for id in ("unit", "scale"))
        self.assertGreater(len(units) * len(scales), 9)
        for width in (900, 1000, 1149, 1150, 1280, 1400, 1500, 1700, 1900):
            self.resize(width)
            for unit in units:
                self.pick("#unit", unit)
                for scale in scales:
                    self.pick("#scale", scale)
                    beyond = self.browser.run("const right = (id) => document.getElementById(id).getBoundingClientRect().right;"
                                              "return [right('table') - right('dimensions'), document.documentElement.scrollWidth -"
                                              " document.documentElement.clientWidth]")
                    self.assertLessEqual(max(beyond), 0.5, (width, unit, scale))

    def test_nothing_from_outside_can_be_loaded(self):
        # The console tells what the policy refused; that is what is looked for, and then taken away.
        self.browser.run("const i = new Image(); i.src = 'https://example.org/a.png'; document.body.append(i);"
                         "const s = document.createElement('script'); s.textContent = 'window.planted = 1'; document.body.append(s);")
        self.assertIsNone(self.browser.run("return window.planted === undefined ? null : 1"))
        refused = [entry["message"] for entry in self.browser.logged("browser")]
        self.assertEqual(len([m for m in refused if "Content Security Policy" in m]), 2, refused)
        events = self.events()
        asked = {event["params"]["requestId"] for event in events if event["method"] == "Network.requestWillBeSent"
                 and "example.org" in event["params"]["request"]["url"]}
        stopped = {event["params"]["requestId"] for event in events if event["method"] == "Network.loadingFailed"
                   and event["params"].get("blockedReason") == "csp"}
        self.assertTrue(asked and asked <= stopped, (asked, stopped))

    def test_names_from_the_dossier_are_text(self):
        text = self.page.read_text(encoding="utf-8")
        self.assertNotIn("<bench>", text)
        self.assertIn("M. Keel &lt;bench&gt;", text)


class OnAPhone(PageTest):
    size, touch = (390, 844), True

    def test_nothing_is_wider_than_the_screen(self):
        self.assertEqual(self.browser.run("return innerWidth"), 390)
        for unit in ("mm", "feet and inches"):
            self.pick("#unit", unit)
            self.pick("#scale", "full size")
            self.assertLessEqual(self.browser.run("return document.documentElement.scrollWidth"), 390, unit)

    def test_a_dimension_fills_the_screen_and_closes_again(self):
        name = "hopper rim diagonal"
        self.open_row(name)
        box = self.browser.run("const r = document.getElementById('panel').getBoundingClientRect(); return [r.left, r.top, r.width, r.height]")
        self.assertEqual([round(v) for v in box], [0, 0, 390, 844])
        self.assertEqual(self.browser.run("return document.getElementById('panel').getAttribute('role')"), "dialog")
        self.assertTrue(self.browser.run("return document.getElementById('dimensions').inert"))
        # The value is readable: its text is some 14 pixels high or the whole dimension would not fit.
        self.assertGreater(self.browser.run(
            "const r = document.querySelector('g.dim.chosen .of'); const m = r.getScreenCTM(); return Math.hypot(m.a, m.b) * 27"), 6)
        if SCREENSHOTS:
            self.browser.picture(f"{SCREENSHOTS}/phone_dimension.png")
        self.browser.click("#close")
        self.assertFalse(self.browser.run("return document.getElementById('dimensions').inert"))
        self.assertEqual(self.browser.run("return document.activeElement.textContent"), name)

    def test_two_fingers_zoom_the_photograph(self):
        self.browser.click("#browse")
        whole = self.view_box()
        box = self.browser.run("const r = document.querySelector('figure:not([hidden]) svg').getBoundingClientRect();"
                               "return [r.left + r.width / 2, r.top + r.height / 2]")
        self.browser.pinch(box, 30, 90)
        self.assertLess(self.view_box()[2], 0.6 * whole[2])

    def test_a_short_dimension_is_readable(self):
        self.open_row("rim bolt 2 from rim edge, right")
        height = self.browser.run("const m = document.querySelector('g.dim.chosen .of').getScreenCTM(); return Math.hypot(m.a, m.b) * 27")
        self.assertGreaterEqual(height, 11)

    def test_targets_are_large_enough_to_touch(self):
        # WCAG 2.2, 2.5.8: 24 by 24 CSS pixels.
        small = self.browser.run("return [...document.querySelectorAll('button, select, input:not([type=checkbox])')].filter((e) => e.offsetParent"
                                 " && (e.getBoundingClientRect().height < 24)).map((e) => e.outerHTML.slice(0, 80))")
        self.assertEqual(small, [])


if __name__ == "__main__":
    unittest.main(argv=sys.argv[:1], verbosity=2)
