"""Reads an SVG with svgelements and lxml and compares it with the table: read_svg.py SVG TABLE.

svgelements works out every transformation and unit; at 25.4 px an inch its pixels are millimetres.
"""
import math
import sys

import svgelements
from lxml import etree

from expected_table import Comparison, ellipse_ends, read_table

SVG, TABLE = sys.argv[1:3]
NAMESPACE = "{http://www.w3.org/2000/svg}"
root = etree.parse(SVG).getroot()  # strict: bad XML stops here
comparison = Comparison()
width, height = (root.get(key) for key in ("width", "height"))
comparison.same("unit of the page", ("mm", "mm"), (width[-2:], height[-2:]))
comparison.same("viewBox", [0.0, 0.0, float(width[:-2]), float(height[:-2])],
                [float(part) for part in root.get("viewBox").split()])

layers = {}  # id of the group: names of its shapes
for group in root.iter(NAMESPACE + "g"):
    titles = [child.text for child in group.findall(NAMESPACE + "title")]
    comparison.same(f"titles of layer {group.get('id')}", 1, len(titles))
    layers[group.get("id")] = [shape.find(NAMESPACE + "title").text for shape in group
                               if shape.find(NAMESPACE + "title") is not None]
ids = [element.get("id") for element in root.iter() if element.get("id")]
comparison.same("ids are unique", len(ids), len(set(ids)))

shapes = {}  # id of the group: sets of places
texts = []
ppi = 25.4
for group in svgelements.SVG.parse(SVG, ppi=ppi).select(lambda e: isinstance(e, svgelements.Group) and e.id):
    found = shapes.setdefault(group.id, [])
    for element in group:
        if isinstance(element, svgelements.Text):
            texts.append(element.text)
            continue
        if not isinstance(element, svgelements.Shape):
            continue
        if isinstance(element, (svgelements.Circle, svgelements.Ellipse)):
            # As a path it is four arcs, from one end of an axis to the next.
            comparison.same("arcs of a circle", 4, sum(isinstance(s, svgelements.Arc) for s in svgelements.Path(element)))
        path = abs(svgelements.Path(element))
        found.append([point for segment in path for point in (segment.start, segment.end) if point is not None])
found_sets = {layer: [[(float(p[0]), float(p[1])) for p in places] for places in all_places]
              for layer, all_places in shapes.items()}

rows = read_table(TABLE)
# The page has its own origin, y down: taken from the longest edge, the rest must follow.
edges = [row for row in rows if row[0] == "edge"]
longest = max(edges, key=lambda row: math.dist(row[2][:2], row[2][2:]))
on_page = next(places for places, name in zip(found_sets["edges"], layers["edges"]) if name == longest[1])
x0, y0 = on_page[0][0] - longest[2][0], on_page[0][1] + longest[2][1]


def page(x, y):
    return (x + x0, y0 - y)


for kind, name, numbers in rows:
    if kind == "edge":
        comparison.near(f"edge {name}", [page(*numbers[:2]), page(*numbers[2:])], found_sets["edges"])
    elif kind == "centre line":
        comparison.near("centre line", [page(*numbers[:2]), page(*numbers[2:])], found_sets["centre-lines"])
    elif kind == "ellipse":
        comparison.near(f"circle {name}", [page(*p) for p in ellipse_ends(*numbers)], found_sets["circles"])
    elif kind == "point":
        x, y = numbers
        cross = [page(x - 1, y), page(x + 1, y), page(x, y - 1), page(x, y + 1)]
        comparison.near(f"point {name}", cross, found_sets["points"])
    elif kind == "arc":
        cx, cy, r, first, last = numbers
        places = [page(cx + r * math.cos(math.radians(a)), cy + r * math.sin(math.radians(a)))
                  for a in (first, 0.5 * (first + last), last)]
        comparison.near(f"arc {name}", places, found_sets["circles"])
    elif kind == "dimension":
        comparison.same(f"text {name}", True, name in texts)
    if name and kind != "dimension":
        layer = {"edge": "edges", "corner": "edges", "ellipse": "circles", "arc": "circles",
                 "point": "points"}.get(kind)
        if layer:
            comparison.same(f"name of {kind}", True, name in layers[layer])
corners = [page(*row[2]) for row in rows if row[0] == "corner"]
comparison.near("outline", corners, found_sets["edges"])
comparison.end()
