"""What the hosting tests share: a Chromium, the checker of accessibility rules, servers.

The browser and the checker are those of ``tests/browser``, one of each for this package.
``PYODIDE`` may name the folder of the npm package ``pyodide``; otherwise ``node_modules`` beside
the package is searched.
"""

from __future__ import annotations

import os
import shutil
import subprocess
import sys
from collections.abc import Iterator
from importlib.util import find_spec
from pathlib import Path

import pytest

from ..browser.conftest import browser, shot, violations
from .pyodide_full import whole_pyodide
from .servers import VoilaServer, serve_voila

__all__ = ["browser", "shot", "violations"]

ROOT = Path(__file__).parents[2]


@pytest.fixture(scope="package")
def voila(tmp_path_factory: pytest.TempPathFactory) -> Iterator[VoilaServer]:
    """Serve copies of the notebooks by Voilà."""
    if find_spec("voila") is None:
        pytest.skip("Voilà is not installed: pip install voila")
    folder = tmp_path_factory.mktemp("voila")
    for path in (ROOT / "notebooks").glob("*.ipynb"):
        shutil.copy(path, folder)
    with serve_voila(folder, folder.parent / "voila-home") as server:
        yield server


@pytest.fixture(scope="package")
def pyodide() -> Path:
    """Return the folder of the npm package that carries Pyodide without its packages."""
    named = os.environ.get("PYODIDE")
    folder = Path(named) if named else ROOT / "node_modules" / "pyodide"
    if not (folder / "pyodide-lock.json").is_file():
        pytest.skip("no Pyodide: npm install --no-save pyodide@314.0.6, or name it in PYODIDE")
    return folder


@pytest.fixture(scope="package")
def distribution() -> Path:
    """Return the folder of a Pyodide with NumPy and SciPy, see :mod:`.pyodide_full`."""
    folder = whole_pyodide()
    if folder is None:
        pytest.skip("no Pyodide with NumPy: name one in PYODIDE_DISTRIBUTION")
    return folder


@pytest.fixture(scope="package")
def tools(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """Return an environment with the tools that write the site; pip must reach its index."""
    named = os.environ.get("STOICHKIT_LITE_TOOLS")
    folder = Path(named) if named else tmp_path_factory.mktemp("lite") / "tools"
    probe = [sys.executable, "-m", "pip", "-q", "download", "--no-deps", "--dest"]
    found = subprocess.run(
        [*probe, str(tmp_path_factory.mktemp("probe")), "comm==0.2.3"],
        capture_output=True,
        check=False,
    )
    if found.returncode:
        pytest.skip("pip cannot download packages here")
    return folder
