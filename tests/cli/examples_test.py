"""Every command explains itself, and its examples do what they say when they are pasted beside the demo original."""
import json
import os
import pathlib
import re
import shutil
import subprocess
import sys
import tempfile
import unittest

from command import DEMO, SCANTLING, done

COORDINATES = [d["name"] for d in json.loads((DEMO / "survey.json").read_text(encoding="utf-8"))["dimensions"]
               if d["kind"] == "ordinate"]
# Where there is no dossier yet: in this order. All others are pasted beside the whole demo, each beside a new copy.
FROM_NOTHING = ["board", "calibrate", "dossier new", "photo add", "mark import"]
OPENS_A_WINDOW = ["desk"]
# What the demo has to be rid of first: coordinates, which need axes.
FIRST = {"axes clear": [f'scantling dimension remove hauler "{name}"' for name in COORDINATES]}


def help_of(*command):
    text = done(*command, "--help")
    listed = re.search(r"\nSubcommands:\n((?:  .*\n)+)", text)
    return text, re.findall(r"^  (\S+)", listed.group(1), re.MULTILINE) if listed else []


def commands(command=()):
    """{"mark import": its help}, of every command that does something."""
    text, inner = help_of(*command)
    found = {} if inner else {" ".join(command): text}
    for name in inner:
        found |= commands((*command, name))
    return found


def examples(text):
    return [line.strip() for line in text.split("\nExample:\n")[1].splitlines() if line.strip()]


class Examples(unittest.TestCase):
    @classmethod
    def setUpClass(cls):
        cls.help = commands()
        cls.folder = tempfile.TemporaryDirectory(prefix="scantling-test-")
        cls.scene = pathlib.Path(cls.folder.name) / "scene"
        cls.scene.mkdir()
        for name in ("board", "photos", "marks.csv", "targets.csv", "bolt_marks.csv", "shape_marks.csv"):
            (cls.scene / name).symlink_to(DEMO / name)
        cls.environment = {**os.environ, "PATH": f"{pathlib.Path(SCANTLING).parent}:{os.environ['PATH']}"}

    @classmethod
    def tearDownClass(cls):
        cls.folder.cleanup()

    def paste(self, line, folder):
        run = subprocess.run(["/bin/bash", "-c", line], cwd=folder, env=self.environment, capture_output=True, text=True, encoding="utf-8",
                             timeout=600)
        self.assertEqual(run.returncode, 0, f"{line}\n{run.stderr}")
        self.assertNotRegex(run.stdout, r"(?i)\bnan\b")
        return run.stdout

    def test_every_command_has_a_help_with_examples_of_itself(self):
        self.assertGreater(len(self.help), 40)
        for name, text in self.help.items():
            self.assertIn("\nExample:\n", text, name)
            for line in examples(text):
                self.assertTrue(line.startswith(f"scantling {name} "), line)
            self.assertTrue(text.splitlines()[0], name)

    def test_the_help_of_all_commands_is_that_of_each(self):
        everything = done("--help-all")
        for name, text in self.help.items():
            self.assertEqual(everything.count(f"\n{name}\n"), 1, name)
            part = everything.split(f"\n{name}\n")[1].split("\n\n")[0]
            options = set(re.findall(r"^  (--[a-z][\w-]*)", text, re.MULTILINE)) - {"--help-all"}
            self.assertEqual(set(re.findall(r"^    (--[a-z][\w-]*)", part, re.MULTILINE)), options, name)

    def test_examples_work_when_pasted(self):
        for name in FROM_NOTHING:
            for line in examples(self.help[name]):
                self.paste(line, self.scene)
        self.assertTrue((self.scene / "board.pdf").read_bytes().startswith(b"%PDF"))
        # The rest of the demo, as tools/try enters it.
        self.paste("scantling mark import hauler targets.csv --pixel-origin centre --sigma 1.5", self.scene)
        self.paste("scantling mark refine hauler", self.scene)
        self.paste("scantling mark import hauler bolt_marks.csv --pixel-origin centre", self.scene)
        subprocess.run([sys.executable, DEMO / "enter_survey.py", SCANTLING, self.scene / "hauler"], check=True,
                       stdout=subprocess.DEVNULL)
        self.paste("scantling shape import hauler shape_marks.csv --pixel-origin centre", self.scene)
        self.paste("scantling dossier new boards && scantling photo add boards board/*.jpg --camera hauler_camera.json", self.scene)
        for name, text in self.help.items():
            if name in FROM_NOTHING or name in OPENS_A_WINDOW:
                continue
            folder = self.scene.parent / "copy"
            shutil.copytree(self.scene, folder, symlinks=True)
            for line in FIRST.get(name, []) + examples(text):
                with self.subTest(line):
                    self.paste(line, folder)
            shutil.rmtree(folder)


if __name__ == "__main__":
    unittest.main(argv=["examples"], verbosity=2)
