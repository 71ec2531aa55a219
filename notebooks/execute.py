#!/usr/bin/python3
"""Executes notebooks and writes them with their outputs.

    notebooks/execute.py                     all of them, in place
    notebooks/execute.py --into DIR [FILE…]  into the folder DIR instead

It needs Jupyter's nbclient and a Python kernel (Debian: python3-nbclient and
python3-ipykernel) and, unless UNSEEN names the program, Go.
"""

import argparse
import os
import pathlib
import subprocess
import sys
import tempfile

import nbclient
import nbformat

here = pathlib.Path(__file__).resolve().parent


def main():
    p = argparse.ArgumentParser(description="executes notebooks and writes them with their outputs")
    p.add_argument("--into", type=pathlib.Path, help="write into this folder (default: in place)")
    p.add_argument("notebooks", nargs="*", type=pathlib.Path, help="default: all of this folder")
    a = p.parse_args()
    notebooks = a.notebooks or sorted(here.glob("*.ipynb"))
    os.environ["PYDEVD_DISABLE_FILE_VALIDATION"] = "1"  # or each kernel warns of a debugger nobody asked for
    # Without this, IPython leaves a folder in the user's home.
    with tempfile.TemporaryDirectory(prefix="unseen-execute-") as t:
        os.environ["IPYTHONDIR"] = t
        if not os.environ.get("UNSEEN"):  # once for all, not once a notebook
            os.environ["UNSEEN"] = str(pathlib.Path(t, "unseen"))
            subprocess.run(["go", "build", "-o", os.environ["UNSEEN"], "./cmd/unseen"], cwd=here.parent, check=True)
        for path in notebooks:
            print(path.name, file=sys.stderr)
            execute(path, (a.into or path.parent) / path.name)


def execute(path, to):
    nb = nbformat.read(path, as_version=4)
    for c in nb.cells:
        c.metadata.clear()
    nbclient.NotebookClient(
        nb, timeout=300, kernel_name="python3", record_timing=False, resources={"metadata": {"path": str(here)}}
    ).execute()
    # The same however fast the outputs came and whichever Python ran it.
    for c in nb.cells:
        if c.cell_type == "code":
            c.outputs = joined(c.outputs)
    nb.metadata.clear()
    nb.metadata.update(kernelspec={"display_name": "Python 3", "language": "python", "name": "python3"},
                       language_info={"name": "python"})
    nb.nbformat, nb.nbformat_minor = 4, 5
    nbformat.validate(nb)
    to.write_text(nbformat.writes(nb) + "\n", encoding="utf-8")


def joined(outputs):
    """Outputs with the parts of one stream put together."""
    out = []
    for o in outputs:
        if out and o.output_type == out[-1].output_type == "stream" and o.name == out[-1].name:
            out[-1].text += o.text
        else:
            out.append(o)
    return out


if __name__ == "__main__":
    main()
