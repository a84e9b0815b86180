"""What the tests of the command share: starting it, and knowing what lies on the disk."""
import hashlib
import json
import pathlib
import subprocess
import sys

SCANTLING, SOURCE, SAMPLES = sys.argv[1], pathlib.Path(sys.argv[2]), pathlib.Path(sys.argv[3])
DEMO = SOURCE / "datasets" / "hauler"


def scantling(*arguments, timeout=300):
    """Runs the command; returns (exit code, standard output, standard error)."""
    run = subprocess.run([SCANTLING, *map(str, arguments)], capture_output=True, text=True, timeout=timeout,
                         encoding="utf-8")
    return run.returncode, run.stdout, run.stderr


def done(*arguments):
    """Runs the command, which must succeed; returns what it printed."""
    code, output, errors = scantling(*arguments)
    if code != 0:
        raise AssertionError(f"scantling {' '.join(map(str, arguments))}: exit {code}: {errors}")
    return output


def snapshot(folder):
    """Hashes of all files below a folder."""
    return {str(path.relative_to(folder)): hashlib.sha256(path.read_bytes()).hexdigest()
            for path in sorted(pathlib.Path(folder).rglob("*")) if path.is_file()}


def schema(name):
    for folder in ("calib/file/schema", "measure/store/schema"):
        path = SOURCE / folder / f"{name}.schema.json"
        if path.exists():
            return json.loads(path.read_text(encoding="utf-8"))
    raise AssertionError(f"there is no schema {name}")


def make_dossier(folder, photos=6):
    """A small dossier of the demo original: the hand marks of some photos and two bars."""
    camera = pathlib.Path(folder).parent / "camera.json"
    if not camera.exists():
        done("calibrate", *sorted((DEMO / "board").glob("*.jpg"))[:6], "--inner", "11x8", "--square", "20mm",
             "--output", camera)
    done("dossier", "new", folder, "--name", "Hauler № 1", "--model-scale", "1:48", "--replica-scale", "1:72")
    names = [f"hauler_{n:02d}.jpg" for n in range(1, photos + 1)]
    done("photo", "add", folder, *(DEMO / "photos" / name for name in names), "--camera", camera)
    for table in ("marks.csv", "targets.csv"):
        lines = (DEMO / table).read_text(encoding="utf-8").splitlines()
        part = pathlib.Path(folder).parent / table
        part.write_text("\n".join([lines[0], *(line for line in lines[1:] if line.split(",")[0] in names)]) + "\n",
                        encoding="utf-8")
        done("mark", "import", folder, part, "--pixel-origin", "centre", "--sigma", "0.5")
        if table == "targets.csv":
            done("mark", "refine", folder, "--points", "bar A left", "bar A right", "bar B left", "bar B right")
    return names
