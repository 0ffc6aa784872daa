"""A copy of Pyodide for tests without its public distribution.

The npm package carries the interpreter and the list of packages (``pyodide-lock.json``), not the
packages. Those that are pure Python are downloaded by pip at the versions of that list. NumPy,
SciPy and Matplotlib, and what only they need, cannot be had so: in their place go packages of the
same name and version that calculate nothing, so that everything is resolved and imported as on a
published site. Whatever needs them cannot be tested with this copy.
"""

from __future__ import annotations

import hashlib
import json
import shutil
import subprocess
import sys
import zipfile
from pathlib import Path
from typing import Any

__all__ = ["PURE", "STAND_INS", "closure", "locked", "make_copy"]

STAND_INS = ("numpy", "scipy", "matplotlib")
KERNEL = ("micropip", "packaging", "ipython", "jedi")
PURE = (*KERNEL, "typing-extensions", "sympy", "uncertainties", "pyparsing")
PARTS = ("pyodide.mjs", "pyodide.js", "pyodide.asm.mjs", "pyodide.asm.wasm", "python_stdlib.zip")
NOTHING = '''"""A stand-in that calculates nothing."""


class Nothing:
    """Whatever is asked of it, there is nothing, and no number."""

    def __getattr__(self, name):
        if name.startswith("__") and name != "__version__":
            raise AttributeError(name)
        return self

    def __call__(self, *arguments, **named):
        return self

    def __getitem__(self, key):
        return self

    def __or__(self, other):
        return object

    __ror__ = __or__


def __getattr__(name):
    if name.startswith("__"):
        raise AttributeError(name)
    return Nothing()
'''


def locked(folder: Path) -> dict[str, Any]:
    """Return the packages that a copy of Pyodide lists, by name."""
    return dict(json.loads((folder / "pyodide-lock.json").read_text("utf-8"))["packages"])


def closure(packages: dict[str, Any], wanted: tuple[str, ...]) -> list[str]:
    """Return the names of packages with all that they depend on, in order."""
    found: set[str] = set()
    left = list(wanted)
    while left:
        name = left.pop().lower().replace("_", "-")
        if name not in found:
            found.add(name)
            left += packages[name]["depends"]
    return sorted(found)


def make_copy(npm: Path, folder: Path) -> Path:
    """Write the copy into a new folder; pip must reach its index."""
    folder.mkdir(parents=True)
    for name in PARTS:
        shutil.copy(npm / name, folder)
    lock = json.loads((npm / "pyodide-lock.json").read_text("utf-8"))
    packages = lock["packages"]
    names = closure(packages, PURE)
    pins = [f"{name}=={packages[name]['version']}" for name in names]
    pip = [sys.executable, "-m", "pip", "-q", "--disable-pip-version-check", "download"]
    pure = ["--only-binary=:all:", "--platform=any", "--python-version=3.14", "--no-deps"]
    subprocess.run([*pip, *pure, "--dest", str(folder), *pins], check=True, capture_output=True)
    kept = {}
    for name in names:
        entry = packages[name]
        kept[name] = {**entry, "sha256": _digest(folder / entry["file_name"])}
    for name in STAND_INS:
        wheel = _stand_in(folder, name, packages[name]["version"])
        kept[name] = {
            **packages[name],
            "depends": [],
            "file_name": wheel.name,
            "sha256": _digest(wheel),
        }
    text = json.dumps({**lock, "packages": kept})
    (folder / "pyodide-lock.json").write_text(text, "utf-8")
    return folder


def _digest(path: Path) -> str:
    """Return the digest of the file there is: PyPI's wheel is not that of the distribution."""
    return hashlib.sha256(path.read_bytes()).hexdigest()


def _stand_in(folder: Path, name: str, version: str) -> Path:
    path = folder / f"{name}-{version}-py3-none-any.whl"
    about = f"{name}-{version}.dist-info"
    files = {
        f"{name}/__init__.py": NOTHING,
        f"{about}/METADATA": f"Metadata-Version: 2.1\nName: {name}\nVersion: {version}\n",
        f"{about}/WHEEL": "Wheel-Version: 1.0\nRoot-Is-Purelib: true\nTag: py3-none-any\n",
    }
    if name == "numpy":
        files["numpy/typing.py"] = NOTHING
    files[f"{about}/RECORD"] = "".join(f"{n},,\n" for n in [*files, f"{about}/RECORD"])
    with zipfile.ZipFile(path, "w") as archive:
        for one, text in files.items():
            archive.writestr(one, text)
    return path
