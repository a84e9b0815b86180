"""What the texts of a drawing lie on, measured in the file that leaves: texts of an SVG with svgelements, of a PDF with
poppler. A text's box reaches from the line it stands on to the top of its capitals."""
import math
import subprocess

import svgelements
from lxml import etree

SVG = "{http://www.w3.org/2000/svg}"
CAPITALS = 0.729  # of the font's size, in DejaVu Sans
STEP_MM = 0.2


class Box:
    """A rectangle at an angle, from its lower left corner; y points down."""

    def __init__(self, words, x, y, width, height, turn):
        self.words, self.half = words, (width / 2, height / 2)
        self.along = (math.cos(turn), math.sin(turn))
        self.centre = (x + width / 2 * self.along[0] + height / 2 * self.along[1],
                       y + width / 2 * self.along[1] - height / 2 * self.along[0])

    def local(self, place):
        dx, dy = place[0] - self.centre[0], place[1] - self.centre[1]
        return dx * self.along[0] + dy * self.along[1], dy * self.along[0] - dx * self.along[1]

    def holds(self, place):
        return all(abs(value) < half - 1e-3 for value, half in zip(self.local(place), self.half))

    def corners(self):
        return [(self.centre[0] + x * self.half[0] * self.along[0] - y * self.half[1] * self.along[1],
                 self.centre[1] + x * self.half[0] * self.along[1] + y * self.half[1] * self.along[0])
                for x, y in ((-1, -1), (1, -1), (1, 1), (-1, 1))]

    def overlaps(self, other):
        """Neither has a side with all of the other beyond it."""
        def apart(one, two):
            places = [one.local(corner) for corner in two.corners()]
            return any(max(p[axis] for p in places) <= -one.half[axis] + 1e-3 or
                       min(p[axis] for p in places) >= one.half[axis] - 1e-3 for axis in (0, 1))
        return not apart(self, other) and not apart(other, self)


def texts_of_svg(file):
    boxes = []
    for element in etree.parse(str(file)).getroot().iter(SVG + "text"):
        turn = 0.0
        if element.get("transform"):
            turn = math.radians(float(element.get("transform").removeprefix("rotate(").split()[0]))
        boxes.append(Box(element.text, float(element.get("x")), float(element.get("y")), float(element.get("textLength")),
                         CAPITALS * float(element.get("font-size")), turn))
    return boxes


def places_of_lines(file):
    """Of everything drawn that is no text, a place every fifth of a millimetre."""
    for shape in svgelements.SVG.parse(str(file), ppi=25.4).select(lambda e: isinstance(e, svgelements.Shape)):
        path = abs(svgelements.Path(shape))
        for segment in path:
            if segment.start is None or isinstance(segment, svgelements.Move):
                continue
            steps = max(1, math.ceil(segment.length(error=1e-3) / STEP_MM))
            for i in range(steps + 1):
                place = segment.point(i / steps)
                yield (place.x, place.y), shape.id or type(shape).__name__


def faults_of_svg(file):
    boxes = texts_of_svg(file)
    faults = [f"{a.words!r} on {b.words!r}" for i, a in enumerate(boxes) for b in boxes[:i] if a.overlaps(b)]
    cell = 5.0
    grid = {}
    for box in boxes:
        xs, ys = zip(*box.corners())
        for x in range(math.floor(min(xs) / cell), math.floor(max(xs) / cell) + 1):
            for y in range(math.floor(min(ys) / cell), math.floor(max(ys) / cell) + 1):
                grid.setdefault((x, y), []).append(box)
    on_lines = set()
    for place, name in places_of_lines(file):
        for box in grid.get((math.floor(place[0] / cell), math.floor(place[1] / cell)), ()):
            if box.holds(place):
                on_lines.add(f"{box.words!r} on a {name}")
    return faults + sorted(on_lines)


def faults_of_pdf(file):
    """Words on words, page by page; those that run upwards have boxes taller than they are wide."""
    html = subprocess.run(["pdftotext", "-bbox", file, "-"], capture_output=True, check=True).stdout
    faults = []
    for page in etree.fromstring(html, etree.XMLParser(recover=True)).iter("{*}page"):
        words = []
        for word in page.iter("{*}word"):
            low_x, low_y, high_x, high_y = (float(word.get(key)) for key in ("xMin", "yMin", "xMax", "yMax"))
            # Poppler's boxes hold the line's full height: more than twice that of capitals.
            shrink = 0.25 * min(high_y - low_y, high_x - low_x)
            words.append((word.text, low_x + shrink, low_y + shrink, high_x - shrink, high_y - shrink))
        for i, (text, x0, y0, x1, y1) in enumerate(words):
            for other, a0, b0, a1, b1 in words[:i]:
                if x0 < a1 and a0 < x1 and y0 < b1 and b0 < y1:
                    faults.append(f"{text!r} on {other!r}")
    return faults
