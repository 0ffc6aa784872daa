"""Write the in-browser site: ``python binder/lite/build.py OUT``.

The site is a folder of plain files for any static web server: the notebooks, a kernel that runs in
the reader's browser, and the wheel of stoichkit with the pure packages it needs. Compiled packages
(NumPy, SciPy, Matplotlib) come from Pyodide's public distribution when a notebook runs, unless
``--pyodide`` names a folder with a copy of it, which then travels with the site.
"""

from __future__ import annotations

import argparse
import json
import shutil
import subprocess
import sys
import tempfile
import venv
from pathlib import Path
from typing import Any

HERE = Path(__file__).resolve().parent
ROOT = HERE.parents[1]
BROWSER_PYTHON = "3.14"
KERNEL = {"display_name": "Python (Pyodide)", "language": "python", "name": "python"}
SETTINGS = {
    "jupyter-lite-schema-version": 0,
    "jupyter-config-data": {
        "litePluginSettings": {
            "@jupyterlite/pyodide-kernel-extension:kernel": {"disablePyPIFallback": True}
        }
    },
}
"""Packages come from the site and from Pyodide's distribution only, at the versions tested."""
FIRST_WORDS = (
    "*This copy runs in your browser; nothing is sent to a server. Run the next cell first: it "
    "loads Python's packages, which may take a minute the first time. What you change is kept in "
    "this browser only; download it to keep it for good.*"
)
FIRST_CODE = "%pip install -q stoichkit ipywidgets anywidget openpyxl"


def build(
    out: Path,
    *,
    pyodide: Path | None = None,
    tools: Path | None = None,
    notebooks: Path = ROOT / "notebooks",
) -> Path:
    """Write the site.

    Parameters
    ----------
    out : Path
        New or empty folder.
    pyodide : Path, optional
        Folder with a copy of Pyodide's distribution, put into the site.
    tools : Path, optional
        Environment of the tools, made if it is not there and kept; a temporary one if left out.
    notebooks : Path
        Folder of the notebooks.

    Returns
    -------
    Path
        The folder.
    """
    if out.exists() and any(out.iterdir()):
        raise SystemExit(f"{out} is not empty: name a new folder, or empty this one first.")
    out = out.resolve()  # the tools run in another folder
    tools = tools.resolve() if tools is not None else None
    if pyodide is not None and not (pyodide / "pyodide-lock.json").is_file():
        raise SystemExit(f"{pyodide} holds no pyodide-lock.json: name a folder with Pyodide.")
    with tempfile.TemporaryDirectory() as name:
        work = Path(name)
        python = make_tools(tools or work / "tools")
        site = work / "site"
        gather_wheels(python, site / "pypi")
        copy_notebooks(notebooks, site / "files")
        (site / "jupyter-lite.json").write_text(json.dumps(SETTINGS), "utf-8")
        if pyodide is not None:
            shutil.copytree(pyodide, site / "static" / "pyodide")
        command = [python, "-m", "jupyter", "lite", "build", "--no-sourcemaps"]
        folders = [f"--lite-dir={site}", f"--contents={site / 'files'}", f"--output-dir={work}/out"]
        apps = ["--apps=lab", "--apps=notebooks", "--apps=tree"]
        run([*command, *folders, *apps], cwd=site)
        out.parent.mkdir(parents=True, exist_ok=True)
        shutil.copytree(work / "out", out, dirs_exist_ok=True)
    return out


def make_tools(folder: Path) -> str:
    """Return the Python of an environment that holds the tools at their pinned versions."""
    pins = (HERE / "requirements.txt").read_text("utf-8")
    python, stamp = folder / "bin" / "python", folder / "stoichkit-pins.txt"
    if sys.platform == "win32":
        python = folder / "Scripts" / "python.exe"
    if not stamp.is_file() or stamp.read_text("utf-8") != pins:
        venv.create(folder, with_pip=True, clear=folder.exists())
        run([str(python), "-m", "pip", "install", "-q", "-r", str(HERE / "requirements.txt")])
        stamp.write_text(pins, "utf-8")
    return str(python)


def gather_wheels(python: str, folder: Path) -> None:
    """Build the wheel of stoichkit, and download the pure ones it needs beside it."""
    pip = [python, "-m", "pip", "-q", "--disable-pip-version-check"]
    run([*pip, "wheel", "--no-deps", "--wheel-dir", str(folder), str(ROOT)])
    pure = ["--only-binary=:all:", "--platform=any", f"--python-version={BROWSER_PYTHON}"]
    wanted = ["--no-deps", "-r", str(HERE / "wheels.txt"), "--dest", str(folder)]
    run([*pip, "download", *pure, *wanted])


def copy_notebooks(notebooks: Path, folder: Path) -> None:
    """Copy the notebooks, each with a first cell that loads the packages."""
    folder.mkdir(parents=True)
    for path in sorted(notebooks.glob("*.ipynb")):
        notebook = json.loads(path.read_text("utf-8"))
        notebook["metadata"]["kernelspec"] = KERNEL
        notebook["cells"] = with_first_cells(notebook["cells"])
        text = json.dumps(notebook, ensure_ascii=False, indent=1)
        (folder / path.name).write_text(f"{text}\n", "utf-8")


def with_first_cells(cells: list[dict[str, Any]]) -> list[dict[str, Any]]:
    """Put the words and the code that load the packages before the first code cell."""
    at = next(i for i, cell in enumerate(cells) if cell["cell_type"] == "code")
    words = {"cell_type": "markdown", "id": "browser-words", "metadata": {}, "source": FIRST_WORDS}
    code: dict[str, Any] = {
        "cell_type": "code",
        "id": "browser-packages",
        "metadata": {},
        "execution_count": None,
        "outputs": [],
        "source": FIRST_CODE,
    }
    return [*cells[:at], words, code, *cells[at:]]


def run(command: list[str], *, cwd: Path | None = None) -> None:
    """Run a command; if it fails, show what it printed and stop."""
    done = subprocess.run(command, cwd=cwd, text=True, capture_output=True, check=False)
    if done.returncode:
        raise SystemExit(f"{' '.join(command)}\n{done.stdout}\n{done.stderr}")


def main(arguments: list[str] | None = None) -> None:
    """Read the command line and write the site."""
    words = argparse.ArgumentParser(description="Write the in-browser site as plain files.")
    words.add_argument("out", type=Path, help="new or empty folder for the site")
    words.add_argument("--pyodide", type=Path, help="folder with Pyodide, to travel with the site")
    words.add_argument("--tools", type=Path, help="environment of the tools, made once and kept")
    given = words.parse_args(arguments)
    out = build(given.out, pyodide=given.pyodide, tools=given.tools)
    size = sum(path.stat().st_size for path in out.rglob("*") if path.is_file())
    sys.stdout.write(
        f"{out}: {size / 1e6:.0f} MB. To look at it: "
        f"python -m http.server --bind 127.0.0.1 --directory {given.out}\n"
    )


if __name__ == "__main__":
    main()
