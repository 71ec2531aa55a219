"""Runs the program unseen from Python; the standard library only.

The program is the file that the environment variable UNSEEN names; without it,
it is built from this repository with Go. Commands run in a new, empty folder,
so that notebooks leave nothing behind and show no paths of this machine.
"""

import atexit
import json
import os
import pathlib
import shutil
import subprocess
import tempfile

_here = pathlib.Path(__file__).resolve().parent
repository = _here.parent
folder = pathlib.Path(tempfile.mkdtemp(prefix="unseen-notebook-"))
atexit.register(shutil.rmtree, folder, ignore_errors=True)
os.chdir(folder)


def _program():
    named = os.environ.get("UNSEEN")
    if named:
        return str(_here / named)
    built = folder / "bin" / ("unseen.exe" if os.name == "nt" else "unseen")
    subprocess.run(["go", "build", "-o", built, "./cmd/unseen"], cwd=repository, check=True)
    return str(built)


_unseen = _program()


def text(*words):
    """What the program writes for a person: text("fit", "hollin")."""
    done = subprocess.run([_unseen, *words], capture_output=True, encoding="utf-8")
    if done.returncode != 0:
        raise RuntimeError((done.stderr or done.stdout).strip())
    return done.stdout


def ask(*words):
    """What the program writes for a program: its JSON, as dicts and lists."""
    return json.loads(text(*words, "--json"))


class Figure:
    """An SVG drawing; Jupyter shows it where it is the value of a cell."""

    def __init__(self, svg):
        self.svg = svg

    def __repr__(self):
        return "Figure: " + self.svg.partition("</title>")[0].rpartition(">")[2]

    def _repr_svg_(self):
        return self.svg


def figure(name, study, *flags):
    """One of the figures of `unseen figures`: figure("passage", "hollin")."""
    with tempfile.TemporaryDirectory() as into:
        text("figures", study, "-o", into, "--format", "svg", "--only", name, *flags)
        return Figure(pathlib.Path(into, name + ".svg").read_text(encoding="utf-8"))
