"""Write the page without a server as one folder of plain files.

Python for the browser comes from a copy of the public Pyodide distribution that the builder of a
site has; only what the screens need is taken from it. Nothing is downloaded. Packages that are
pure Python are taken from where stoichkit itself is installed. Where Node.js is installed, Python
gives a first answer here once, and its memory goes with the site: see ``memory.js``.
"""

from __future__ import annotations

import hashlib
import io
import json
import os
import re
import shutil
import subprocess
import tempfile
import zipfile
import zlib
from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass
from importlib.metadata import distribution
from importlib.util import find_spec
from pathlib import Path
from typing import Any

from ..._common import write_whole
from ...errors import DataFileError

HERE = Path(__file__).parent
STATIC = HERE.parent / "static"
PAGE = ("index.html", "page.css", "site.css", "site.js", "icon.svg")
"""What is shown before Python is there."""
FIRST = ("numpy",)
LATER = ("scipy",)
"""Packages of the distribution for the first answer, and those that are loaded after it."""
LEAST = {"numpy": (2, 0), "scipy": (1, 13)}
PYTHON = (3, 11)
OWN = ("stoichkit", "uncertainties")
LATER_PURE = {"sympy.zip": ("sympy", "mpmath"), "openpyxl.zip": ("openpyxl", "et_xmlfile")}
"""Archives of packages of pure Python that are loaded after the first answer."""
OPTIONAL = "openpyxl.zip"
WASM = "pyodide.asm.wasm"
DEFLATED = ".deflated"
"""Ending of what is written a third as large; ``worker.js`` undoes it, whatever the server does."""
RUNTIME = ("pyodide.mjs", WASM, "python_stdlib.zip")
GLUE = ("pyodide.asm.mjs", "pyodide.asm.js")
"""One of the two, by the edition of the distribution."""
LOCK = "pyodide-lock.json"
LIST = "self.FILES = "
MEMORY = "memory.deflated"
"""What a Python has in memory that has given a first answer."""
NODE_S = 900
_LEFT_OUT = ("notebooks/", "widgets/page/", "widgets/static/", "cli/", "__main__.py")
_KEPT = (".py", ".csv", ".toml", ".md")
_THEN = (1980, 1, 1, 0, 0, 0)
_LICENCE = re.compile(r"\.dist-info/(.*/)?(LICEN|COPYING)")
NO_WORKBOOKS = "Class files in XLSX cannot be read on this site: openpyxl is not installed here."
NO_MEMORY = (
    "Each visit starts Python from nothing, which takes some three times as long: its memory could "
    "not be written ahead"
)
_FIX = "Give the whole folder of a Pyodide distribution, as it was unpacked."


@dataclass(frozen=True, slots=True)
class Site:
    """A site that was written.

    Attributes
    ----------
    folder : Path
    first_bytes, all_bytes : int
        Bytes that the first answer needs, and those of all files.
    version : str
        Digest of all that is in it.
    notes : tuple of str
        What a reader of the site cannot do, in sentences.
    """

    folder: Path
    first_bytes: int
    all_bytes: int
    version: str
    notes: tuple[str, ...]


def build_site(
    out: str | os.PathLike[str], pyodide: str | os.PathLike[str], *, replace: bool = False
) -> Site:
    """Write the page without a server into a folder.

    Parameters
    ----------
    out : str or path-like
        New or empty folder.
    pyodide : str or path-like
        Folder with a copy of the public Pyodide distribution: the interpreter, NumPy and SciPy
        with what they need.
    replace : bool
        Whether a site that is there already may be replaced. Other files are never touched.

    Returns
    -------
    Site

    Raises
    ------
    DataFileError
        If the folder holds anything else, something is missing in the distribution, or a file
        cannot be written.

    Examples
    --------
    >>> build_site("new", "no such folder")
    Traceback (most recent call last):
    stoichkit.errors.DataFileError: There is no Pyodide distribution here: pyodide-lock.json is
    missing. Given: no such folder. Give the whole folder of a Pyodide distribution, as it was
    unpacked.
    """
    target, source = Path(out), Path(pyodide)
    lock = _read_lock(source)
    first, later = _closure(lock["packages"], FIRST), _closure(lock["packages"], LATER)
    glue = next((name for name in GLUE if (source / name).is_file()), GLUE[0])
    _check_there(source, lock, (*RUNTIME, glue), sorted(first | later))
    old = _old_files(target, replace=replace)

    packages = {name: lock["packages"][name] for name in sorted(first | later)}
    wheel = {name: packages[name]["file_name"] for name in packages}
    start = {
        **{name: (HERE / name).read_bytes() for name in ("worker.js", "memory.js")},
        "stoichkit.zip": zipped(f for name in OWN for f in _package(name)),
        f"pyodide/{LOCK}": json.dumps({**lock, "packages": packages}, sort_keys=True).encode(),
        **{f"pyodide/{name}": (source / name).read_bytes() for name in (glue, *RUNTIME)},
        **{f"pyodide/{wheel[name]}": (source / wheel[name]).read_bytes() for name in sorted(first)},
    }
    start[f"pyodide/{WASM}{DEFLATED}"] = zlib.compress(start.pop(f"pyodide/{WASM}"), 9)
    notes = [] if all(find_spec(name) for name in LATER_PURE[OPTIONAL]) else [NO_WORKBOOKS]
    packed = {f"pyodide/{glue}{DEFLATED}": zlib.compress(start[f"pyodide/{glue}"], 9)}
    second = {}
    try:
        archives = [start["stoichkit.zip"], *((source / wheel[n]).read_bytes() for n in first)]
        start[MEMORY] = _memory(source, archives)
    except _NotWritten as reason:
        notes.append(f"{NO_MEMORY} ({reason}).")
    else:
        wheels = [f"pyodide/{wheel[n]}" for n in sorted(first)]
        needed = ("pyodide/python_stdlib.zip", "stoichkit.zip", *wheels)
        second = {name: start.pop(name) for name in needed}
    first_bytes = sum(map(len, start.values())) - sum(
        len(start[name.removesuffix(DEFLATED)]) - len(data) for name, data in packed.items()
    )
    rest = {
        **second,
        **{f"pyodide/{wheel[n]}": (source / wheel[n]).read_bytes() for n in sorted(later - first)},
        **{
            archive: zipped(f for name in names for f in _package(name, archive == OPTIONAL))
            for archive, names in LATER_PURE.items()
        },
    }
    files = {**_page(first_bytes), **start, **rest}
    digests = {name: hashlib.sha256(data).hexdigest()[:20] for name, data in files.items()}
    script = (HERE / "service-worker.js").read_text("utf-8")
    deflated = [name.removesuffix(DEFLATED) for name in packed]
    listed = f"{LIST}{json.dumps(digests)};\nself.FIRST = {len(PAGE)};\n"
    listed += f"self.DEFLATED = {json.dumps(deflated)};\n"
    files |= packed
    files["service-worker.js"] = f"{listed}{script}".encode()
    _write(target, files, old)
    return Site(
        target,
        sum(len(files[name]) for name in PAGE) + first_bytes,
        sum(map(len, files.values())),
        hashlib.sha256(json.dumps(digests).encode()).hexdigest()[:12],
        tuple(notes),
    )


class _NotWritten(Exception):
    """Why there is no memory."""


def _memory(pyodide: Path, archives: Iterable[bytes]) -> bytes:
    """Have Pyodide give a first answer here, under Node.js, and return its memory then."""
    node = shutil.which("node")
    if node is None:
        raise _NotWritten("Node.js is not installed here")
    with tempfile.TemporaryDirectory() as folder:
        target, names = Path(folder) / MEMORY, []
        for i, data in enumerate(archives):
            names.append(str(Path(folder) / f"{i}.zip"))
            Path(names[-1]).write_bytes(data)
        command = [node, str(HERE / "rehearse.mjs"), str(pyodide.resolve()), str(target), *names]
        try:
            done = subprocess.run(
                command, capture_output=True, text=True, check=False, timeout=NODE_S
            )
        except (OSError, subprocess.TimeoutExpired) as error:
            raise _NotWritten(str(error)) from error
        if done.returncode or not target.is_file():
            raise _NotWritten(_why(done.stderr))
        return zlib.compress(target.read_bytes(), 9)  # smaller than what Node.js makes of it


def _why(said: str) -> str:
    """Return the line of what Node.js says that tells why."""
    lines = [line.strip() for line in said.splitlines() if "Error" in line]
    return lines[-1][:200] if lines else "this edition of Pyodide does not allow it"


def _page(first_bytes: int) -> dict[str, bytes]:
    """Return what is shown before Python is there; the bar knows how many bytes follow."""
    found = {
        name: ((STATIC if (STATIC / name).is_file() else HERE) / name).read_bytes() for name in PAGE
    }
    html = found["index.html"].decode().replace("$bytes", str(first_bytes))
    return {**found, "index.html": html.encode()}


def _write(folder: Path, files: Mapping[str, bytes], old: set[str]) -> None:
    """Write the files, and remove those of an older site that are no longer there."""
    try:
        (folder / "pyodide").mkdir(parents=True, exist_ok=True)
    except OSError as error:
        raise DataFileError(
            f"The folder cannot be made: {error.strerror or error}.",
            given=str(folder),
            fix="Check the name and the permissions.",
        ) from error
    for name, data in files.items():
        write_whole(folder / name, data, replace=name in old)
    for name in old - files.keys():
        (folder / name).unlink(missing_ok=True)


def zipped(files: Iterable[tuple[str, bytes]]) -> bytes:
    """Return an archive that is the same whenever its files are.

    >>> len({zipped([("a.py", b"1")]), zipped([("a.py", b"1")])})
    1
    """
    held = io.BytesIO()
    with zipfile.ZipFile(held, "w") as archive:
        for name, data in sorted(files):
            about = zipfile.ZipInfo(name, _THEN)
            archive.writestr(about, data, zipfile.ZIP_DEFLATED, 9)
    return held.getvalue()


def _read_lock(folder: Path) -> dict[str, Any]:
    path = folder / LOCK
    try:
        lock = json.loads(path.read_text("utf-8"))
        info, packages = lock["info"], lock["packages"]
        python = _version(info["python"])
        versions = {name: _version(packages[name]["version"]) for name in LEAST if name in packages}
    except FileNotFoundError:
        raise DataFileError(
            f"There is no Pyodide distribution here: {LOCK} is missing.",
            given=str(folder),
            fix=_FIX,
        ) from None
    except (OSError, ValueError, KeyError, TypeError, AttributeError) as error:
        raise DataFileError(
            f"{LOCK} cannot be read: {error}.", given=str(path), fix=_FIX
        ) from error
    if python < PYTHON:
        raise _too_old("Python", python, PYTHON)
    for name, version in versions.items():
        if version < LEAST[name]:
            raise _too_old(name, version, LEAST[name])
    return dict(lock)


def _too_old(name: str, found: tuple[int, ...], least: tuple[int, ...]) -> DataFileError:
    return DataFileError(
        f"The {name} of this Pyodide distribution is too old.",
        given=".".join(map(str, found)),
        allowed=f"{'.'.join(map(str, least))} or newer",
        fix="Take a newer edition.",
    )


def _version(text: str) -> tuple[int, ...]:
    return tuple(int(part) for part in re.findall(r"\d+", text)[:2])


def _closure(packages: Mapping[str, Any], wanted: Iterable[str]) -> set[str]:
    """Return the names of packages with all that they depend on, known or not."""
    found: set[str] = set()
    left = list(wanted)
    while left:
        name = left.pop()
        if name not in found:
            found.add(name)
            left += packages.get(name, {}).get("depends", ())
    return found


def _check_there(
    folder: Path, lock: Mapping[str, Any], runtime: Iterable[str], packages: Iterable[str]
) -> None:
    """Refuse a distribution that lacks something, with all that it lacks, or that is damaged."""
    missing = [name for name in runtime if not (folder / name).is_file()]
    damaged = []
    for name in packages:
        entry = lock["packages"].get(name)
        path = folder / ("" if entry is None else entry["file_name"])
        if entry is None or not path.is_file():
            missing.append(name if entry is None else path.name)
        elif hashlib.sha256(path.read_bytes()).hexdigest() != entry["sha256"]:
            damaged.append(path.name)
    if missing:
        raise DataFileError(
            f"The Pyodide distribution lacks {', '.join(missing)}.", given=str(folder), fix=_FIX
        )
    if damaged:
        raise DataFileError(
            f"These files are not those that {LOCK} names: {', '.join(damaged)}.",
            given=str(folder),
            fix="Copy or unpack them again.",
        )


def _old_files(folder: Path, *, replace: bool) -> set[str]:
    """Return the files of a site that may be replaced; refuse a folder that holds anything else."""
    if not folder.exists():
        return set()
    if not folder.is_dir():
        raise DataFileError("This is a file, not a folder.", given=str(folder))
    there = {p.relative_to(folder).as_posix() for p in folder.rglob("*") if not p.is_dir()}
    if not there:
        return set()
    script, listed = folder / "service-worker.js", set()
    if script.is_file():
        line = script.read_text("utf-8", errors="replace").partition("\n")[0]
        if line.startswith(LIST):
            known = json.loads(line.removeprefix(LIST).rstrip(";"))
            listed = {"service-worker.js", *known, *(f"{name}{DEFLATED}" for name in known)}
    if not listed or not replace:
        raise DataFileError(
            "There is a site in this folder already." if listed else "This folder is not empty.",
            given=str(folder),
            allowed="a new or empty folder",
            fix="Replace the site on purpose (replace=True, --force)."
            if listed
            else "Name another one.",
        )
    return there & listed


def _package(name: str, optional: bool = False) -> Iterator[tuple[str, bytes]]:
    """Yield the files of an installed package of pure Python, as they lie in an archive."""
    found = find_spec(name)
    places = None if found is None else found.submodule_search_locations
    if not places:
        if optional:
            return
        raise DataFileError(
            f"The package {name} is not installed here.", fix=f"Install it: pip install {name}"
        )
    root = Path(next(iter(places)))
    for path in sorted(root.rglob("*")):
        inner = path.relative_to(root).as_posix()
        if path.suffix in (".so", ".pyd"):
            raise DataFileError(f"The package {name} is not pure Python here.", given=str(path))
        if path.suffix in _KEPT and not _left_out(name, inner):
            yield f"{name}/{inner}", path.read_bytes()
    if name != "stoichkit":
        for one in distribution(name).files or ():
            if _LICENCE.search(one.as_posix()):
                yield f"{name}/{one.name}", Path(str(one.locate())).read_bytes()


def _left_out(name: str, inner: str) -> bool:
    """Whether a file of a package is of no use in the browser."""
    return "tests/" in inner or (name == "stoichkit" and inner.startswith(_LEFT_OUT))
