"""Compares what assimp read of an OBJ, dumped as XML, with a table: read_obj.py DUMP TABLE.

assimp keeps coordinates in single precision: half a unit of its last digit at 1000 mm is 3e-5 mm.
"""
import math
import sys

from lxml import etree

TOLERANCE_MM = 1e-4
scene = etree.parse(sys.argv[1]).getroot()
meshes = []
for mesh in scene.iter("Mesh"):
    numbers = [float(part) for part in mesh.find("Positions").text.split()]
    faces = [[int(part) for part in face.text.split()] for face in mesh.iter("Face")]
    meshes.append(([tuple(numbers[i:i + 3]) for i in range(0, len(numbers), 3)], faces))
by_name = {}
for node in scene.iter("Node"):
    refs = node.find("MeshRefs")
    if refs is not None:
        by_name[node.get("name")] = [meshes[int(part)] for part in refs.text.split()]

compared = 0
with open(sys.argv[2], encoding="utf-8") as file:
    for line in file:
        kind, name, *numbers = line.rstrip("\n").split("\t")
        places = [tuple(float(n) for n in numbers[i:i + 3]) for i in range(0, len(numbers), 3)]
        key = name.replace(" ", "_")
        assert key in by_name, f"{name} is no object: {sorted(by_name)}"
        found = [vertex for vertices, _ in by_name[key] for vertex in vertices]
        faces = [face for _, face_list in by_name[key] for face in face_list]
        if kind in ("point", "edge"):
            assert {len(face) for face in faces} == {len(places)}, (name, faces)
            for place in places:
                assert min(math.dist(place, vertex) for vertex in found) < TOLERANCE_MM, (name, place, found)
        else:
            centre, normal, (radius, _, _) = places
            assert len(faces) == 72 and all(len(face) == 2 for face in faces), (name, len(faces))
            for vertex in found:
                out = [v - c for v, c in zip(vertex, centre)]
                assert abs(math.hypot(*out) - radius) < TOLERANCE_MM, (name, vertex)
                assert abs(sum(o * n for o, n in zip(out, normal))) < TOLERANCE_MM, (name, vertex)
        compared += 1
assert compared >= 20, compared
