"""Holds the arrows between the rooms: reads our own #include lines and the link lists of our CMakeLists.txt.

arrows_test.py SOURCE: every wrong arrow in the tree is named with its file and line; and wrong arrows that are planted
here must be found, so that the test cannot pass by seeing nothing.
"""
import fnmatch
import functools
import pathlib
import re
import sys
import unittest

# Who may include whom. A room may name only rooms that stand above it, so nothing can go in circles. A row for some
# files of a room adds to the row of the room. tests/ may include everything; nothing else may include tests/.
ARROWS = """
calib/base         : nothing
calib/camera       : calib/base
calib/adjust       : calib/base calib/camera
calib/file         : calib/base calib/camera
calib/board        : calib/base calib/camera calib/file
calib/intrinsics   : calib/base calib/camera calib/adjust calib/board

measure/dossier    : calib/base calib/camera
measure/edit       : calib/base calib/camera measure/dossier
measure/refine     : calib/base calib/camera calib/board measure/dossier
measure/orient     : calib/base calib/camera calib/adjust measure/dossier
measure/shapes     : calib/base calib/adjust measure/dossier measure/orient
measure/bundle     : calib/base calib/camera calib/adjust measure/dossier measure/orient measure/shapes
measure/dimension  : calib/base calib/camera calib/adjust measure/dossier measure/shapes measure/bundle
measure/live       : calib/base calib/camera calib/adjust measure/dossier measure/orient measure/shapes
                     measure/bundle measure/dimension
measure/sheet      : calib/base calib/camera calib/adjust calib/board measure/dossier measure/shapes measure/bundle
                     measure/dimension measure/live

measure/store      : calib/base calib/camera calib/board calib/file measure/dossier measure/edit
measure/store/results_*    : measure/bundle measure/dimension
measure/store/survey_json* : measure/bundle measure/dimension
measure/store/sheet_files* : measure/bundle measure/dimension measure/sheet
measure/store/forms_json* : measure/bundle measure/dimension measure/shapes
measure/store/sheet_json*  : measure/dimension measure/sheet
measure/store/stock_*      : measure/dimension
measure/intake     : calib/base calib/camera calib/board calib/file measure/dossier measure/edit measure/store

tools/cli          : calib/* measure/*
tools/desk         : calib/* measure/*
"""

# Who may see which library, by the start of what is included. JSON counts through other headers too: the numerical
# rooms never see it.
LIBRARIES = """
nlohmann/ : calib/file measure/store
ceres/    : calib/adjust calib/intrinsics
opencv2/  : calib/board calib/intrinsics measure/refine measure/orient measure/sheet tools/desk
exiv2/    : calib/board
openssl/  : calib/board
cairo     : calib/board measure/sheet
pango/    : measure/sheet
dxflib/   : measure/sheet
CLI/      : tools/cli
Q         : tools/desk
"""

INCLUDE = re.compile(r'^[ \t]*#[ \t]*include[ \t]*(["<])([^">]+)[">]', re.MULTILINE)


def read_table(text):
    table, key = {}, None
    for line in text.strip().splitlines():
        if " : " in line:
            key, line = line.split(" : ")
            key = key.strip()
        table.setdefault(key, []).extend(line.split())
    return table


ROWS = read_table(ARROWS)
ROOMS = [key for key in ROWS if key.count("/") == 1]


def room_of(path):
    parts = path.split("/")
    return "tests" if parts[0] == "tests" else "/".join(parts[:2])


def allowed_for(path):
    """The rooms that a file may include; its own is always allowed."""
    room = room_of(path)
    names = [room]
    for key, values in ROWS.items():
        if key == room or fnmatch.fnmatch(path, key + ".*" if key.count("/") > 1 else key):
            names += values
    return names


def may(room, allowed):
    return any(fnmatch.fnmatch(room, pattern) for pattern in allowed)


def table_findings():
    findings, above = [], []
    for key, values in ROWS.items():
        for value in values:
            if value != "nothing" and not any(fnmatch.fnmatch(room, value) for room in above):
                findings.append(f"table: {key} names {value}, which does not stand above it")
        if key in ROOMS:
            above.append(key)
    return findings


@functools.cache
def includes(text):
    """(line, quoted, what) of every #include."""
    return [(text.count("\n", 0, match.start(2)) + 1, match[1] == '"', match[2]) for match in INCLUDE.finditer(text)]


@functools.cache
def read_tree(source):
    texts, lists = {}, {}
    for floor in ("calib", "measure", "tools", "tests"):
        for path in sorted((source / floor).rglob("*")):
            name = path.relative_to(source).as_posix()
            if path.suffix in (".h", ".cpp"):
                texts[name] = path.read_text(encoding="utf-8")
            elif path.name == "CMakeLists.txt":
                lists[name] = path.read_text(encoding="utf-8")
    return texts, lists


class Tree:
    """Our sources and the lists of our modules; `planted` adds or replaces files, path to text."""

    def __init__(self, source, planted=None):
        texts, lists = read_tree(source)
        self.texts, self.lists = dict(texts), dict(lists)
        for name, text in (planted or {}).items():
            (self.lists if name.endswith("CMakeLists.txt") else self.texts)[name] = text
        self.modules = {}  # room: {"HEADERS": […], "PUBLIC": […], "PRIVATE": […]}
        for name, text in self.lists.items():
            text = re.sub(r"#.*", "", text)
            for floor, room, rest in re.findall(r"scantling_module\(\s*(\w+)\s+(\w+)([^)]*)\)", text):
                module, words = {"SOURCES": [], "HEADERS": [], "PUBLIC": [], "PRIVATE": []}, None
                for word in rest.split():
                    words = module[word] if word in module else words.append(word) or words
                self.modules[f"{floor}/{room}"] = module
            if name.count("/") > 1 and name.startswith("tools/"):  # programs: all that is linked anywhere in the room
                program = self.modules.setdefault(room_of(name), {"HEADERS": [], "PUBLIC": [], "PRIVATE": []})
                program["PRIVATE"] += re.findall(r"\b(?:calib|measure)::\w+", text)
        self.public = {f"{room}/{header}" for room, module in self.modules.items() for header in module["HEADERS"]}

    def include_findings(self):
        findings = []
        libraries = read_table(LIBRARIES)
        for path, text in self.texts.items():
            room = room_of(path)
            if room == "tests":
                continue
            if room not in ROOMS:
                findings.append(f"{path}: the room {room} is not in the table of arrows_test.py")
                continue
            for line, quoted, what in includes(text):
                at = f"{path}:{line}"
                if not quoted:
                    for start, rooms in libraries.items():
                        if what.startswith(start) and room not in rooms:
                            findings.append(f"{at}: {room} may not see <{what}>")
                    continue
                if what.endswith(".moc"):
                    continue
                if what not in self.texts:
                    findings.append(f'{at}: "{what}" is no file of ours, spelled from the root')
                    continue
                target = room_of(what)
                if not may(target, allowed_for(path)):
                    findings.append(f"{at}: {room} may not include {target} ({what})")
                elif target != room and what not in self.public:
                    findings.append(f"{at}: {what} is no public header of {target}")
                elif path in self.public and what not in self.public:
                    findings.append(f"{at}: a public header includes {what}, which is not installed")
        return findings

    def json_findings(self):
        """Numerical rooms that reach the JSON library through headers."""
        findings = []
        for path in self.texts:
            if not path.startswith(("calib/", "measure/")) or room_of(path) in ("calib/file", "measure/store"):
                continue
            seen, waiting = {path}, [path]
            while waiting:
                current = waiting.pop()
                for _, quoted, what in includes(self.texts[current]):
                    if not quoted and what.startswith("nlohmann/"):
                        findings.append(f"{path}: sees JSON through {current}")
                    elif quoted and what in self.texts and what not in seen:
                        seen.add(what)
                        waiting.append(what)
        return findings

    def link_findings(self):
        """Where a link list does not say what is included."""
        findings = []

        def rooms(words):
            return {word.replace("::", "/") for word in words if re.match(r"(calib|measure)::", word)}

        def through(direct):
            reached, waiting = set(), list(direct)
            while waiting:
                room = waiting.pop()
                if room not in reached:
                    reached.add(room)
                    waiting += rooms(self.modules.get(room, {"PUBLIC": []})["PUBLIC"])
            return reached

        for room in ROOMS:
            files = {path: {room_of(what) for _, quoted, what in includes(text) if quoted} - {room, "tests"}
                     for path, text in self.texts.items() if room_of(path) == room}
            if not files:
                continue
            if room not in self.modules:
                findings.append(f"{room}: its CMakeLists.txt makes no module")
                continue
            public = rooms(self.modules[room]["PUBLIC"])
            private = rooms(self.modules[room]["PRIVATE"])
            shown = set().union(*(used for path, used in files.items() if path in self.public))
            used = set().union(*files.values())
            findings += [f"{room}: its headers show {name}, which is not linked PUBLIC"
                         for name in sorted(shown - through(public))]
            findings += [f"{room}: includes {name}, which it does not link"
                         for name in sorted(used - shown - through(public | private))]
            findings += [f"{room}: links {name} and includes nothing of it"
                         for name in sorted((public | private) - used)]
            findings += [f"{room}: links {name} PUBLIC, but only its .cpp files include it"
                         for name in sorted((public & used) - shown)]
        return findings

    def findings(self):
        return table_findings() + self.include_findings() + self.json_findings() + self.link_findings()


class Arrows(unittest.TestCase):
    def test_no_arrow_goes_the_wrong_way(self):
        tree = Tree(SOURCE)
        self.assertGreater(sum(len(includes(text)) for text in tree.texts.values()), 500)
        self.assertEqual(tree.findings(), [])

    def test_a_wrong_arrow_is_caught(self):
        json_header = "calib/file/versioned_json.h"
        wrong = {
            "calib/base/planted.h": '#include "calib/camera/camera.h"',
            "calib/camera/planted.cpp": '#include "measure/dossier/dossier.h"',
            "calib/adjust/planted.cpp": '#  include "calib/board/checkerboard.h"',
            "measure/orient/planted.cpp": '// far up\n#include "measure/bundle/survey.h"',
            "measure/shapes/planted.h": "#include <nlohmann/json.hpp>",
            "measure/bundle/planted.cpp": f'#include "{json_header}"',
            "measure/store/dossier_planted.cpp": '#include "measure/bundle/survey.h"',
            "measure/store/results.cpp": '#include "tools/cli/table.h"',
            "measure/dimension/planted.cpp": '#include "measure/bundle/survey_network.h"',  # its inside
            "measure/edit/planted.cpp": '#include "tests/support/photo_ring.h"',
            "tools/cli/planted.cpp": "#include <QWidget>",
            "tools/desk/planted.cpp": '#include "tools/cli/table.h"',
            "measure/leftovers/planted.h": "#include <vector>",
            "measure/dossier/planted.cpp": '#include "dossier.h"',  # not spelled from the root
        }
        for path, text in wrong.items():
            found = [finding for finding in Tree(SOURCE, {path: text + "\n"}).findings() if finding.startswith(path)]
            self.assertNotEqual(found, [], f"{path} with {text}")

    def test_files_with_more_rights_keep_them(self):
        path = "measure/store/results_planted.cpp"
        findings = Tree(SOURCE, {path: '#include "measure/bundle/survey.h"\n'}).findings()
        self.assertEqual([finding for finding in findings if finding.startswith(path)], [])

    def test_json_through_another_header_is_caught(self):
        planted = {"calib/camera/camera.h": '#include "calib/base/planted.h"',
                   "calib/base/planted.h": '#include "calib/file/versioned_json.h"'}
        self.assertTrue(any("measure/bundle" in finding for finding in Tree(SOURCE, planted).json_findings()))

    def test_a_wrong_link_list_is_caught(self):
        name = "measure/shapes/CMakeLists.txt"
        text = Tree(SOURCE).lists[name]
        for changed, part in ((text.replace("measure::dossier", ""), "not linked PUBLIC"),
                              (text.replace("calib::base", "calib::base measure::orient"), "includes nothing of it"),
                              (text.replace(" measurand.h", ""), "no public header")):
            self.assertNotEqual(changed, text)
            findings = Tree(SOURCE, {name: changed}).findings()
            self.assertTrue(any(part in finding for finding in findings), (part, findings))


if __name__ == "__main__":
    SOURCE = pathlib.Path(sys.argv.pop(1))
    unittest.main()
