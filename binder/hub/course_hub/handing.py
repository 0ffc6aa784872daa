"""Notebooks out to each person's folder, and what they made back into one: a course on a hub.

    python binder/hub/course_hub/handing.py hand-out --people hub/people
    python binder/hub/course_hub/handing.py collect --people hub/people --into collected

Nothing in a person's folder is ever replaced or followed elsewhere: the person may have put
anything there, links to other people's files among it, and the hub may run with more rights.
"""

from __future__ import annotations

import argparse
import csv
import hashlib
import json
import os
import re
import stat
import sys
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from pathlib import Path

from stoichkit.errors import DataFileError, StoichkitError

NOTEBOOKS = Path(__file__).parents[3] / "notebooks"
HAND_IN = "hand-in"
"""Folder of each person in which pages are put to be collected."""
PAGES = (".html", ".htm", ".mhtml", ".mht")
PERSON = re.compile(r"[a-z0-9][a-z0-9._-]{0,39}")
"""What a person may be called: the name is that of the folder too."""
MOST_FILES, MOST_BYTES = 60, 20_000_000
"""Of one person: files that are collected, and bytes of each."""


def check_person(name: str) -> str:
    """Return the name of a person, or say why it can be none.

    >>> check_person("bench-2")
    'bench-2'
    >>> check_person("../other")
    Traceback (most recent call last):
    stoichkit.errors.DataFileError: This cannot be the name of a person...
    """
    if not PERSON.fullmatch(name):
        raise DataFileError(
            "This cannot be the name of a person.",
            given=name,
            allowed="1 to 40 small letters, digits, dots, hyphens and underscores, a letter or "
            "digit first",
        )
    return name


# Out


def hand_out(
    home: Path, *, notebooks: Path = NOTEBOOKS, kept: Path | None = None
) -> tuple[str, ...]:
    """Copy the notebooks into a person's folder; what is there stays as it is.

    A notebook that has been updated since is put beside what was worked on, as ``name (2).ipynb``.
    One that was renamed or deleted comes back as it is now.

    Parameters
    ----------
    home : path
        The person's folder, named as the person is; it is made if it is not there.
    notebooks : path
        Folder of the notebooks.
    kept : path, optional
        Where it is written down what was handed out; ``handed-out`` beside the folder of all
        people if left out. It has to lie where the person may not write.

    Returns
    -------
    tuple of str
        Names of the files that were written.

    Raises
    ------
    DataFileError
        If the name can be none, the folder is no folder, or there are no notebooks.
    """
    check_person(home.name)
    sources = sorted(notebooks.glob("*.ipynb"))
    if not sources:
        raise DataFileError("There are no notebooks to hand out.", given=str(notebooks))
    kept = home.parent.parent / "handed-out" if kept is None else kept
    kept.mkdir(parents=True, exist_ok=True)
    home.mkdir(parents=True, exist_ok=True, mode=0o700)
    record = kept / f"{home.name}.json"
    known: dict[str, list[str]] = json.loads(record.read_text("utf-8")) if record.exists() else {}
    written = []
    with _folder(home) as (folder, owner):
        if HAND_IN not in os.listdir(folder):
            os.mkdir(HAND_IN, 0o700, dir_fd=folder)
            os.chown(HAND_IN, *owner, dir_fd=folder, follow_symlinks=False)
        for source in sources:
            data = source.read_bytes()
            mark = hashlib.sha256(data).hexdigest()
            given = known.setdefault(source.name, [])
            there = os.listdir(folder)
            if source.name in there and mark in given:
                continue
            name, number = source.name, 2
            while name in there:
                name, number = f"{source.stem} ({number}){source.suffix}", number + 1
            _write_new(folder, name, data, owner)
            written.append(name)
            given.append(mark)
    temporary = record.with_suffix(".new")
    temporary.write_text(json.dumps(known, indent=1), "utf-8")
    temporary.replace(record)
    return tuple(written)


@contextmanager
def _folder(path: Path | str, within: int | None = None) -> Iterator[tuple[int, tuple[int, int]]]:
    """Open a folder that is no link; the value is its descriptor, and who owns it."""
    try:
        found = os.open(path, os.O_RDONLY | os.O_DIRECTORY | os.O_NOFOLLOW, dir_fd=within)
    except OSError as error:
        raise DataFileError("This is no folder.", given=str(path)) from error
    try:
        about = os.fstat(found)
        yield found, (about.st_uid, about.st_gid)
    finally:
        os.close(found)


def _write_new(folder: int, name: str, data: bytes, owner: tuple[int, int]) -> None:
    """Write a file that is not there yet; nothing is followed or replaced."""
    flags = os.O_WRONLY | os.O_CREAT | os.O_EXCL | os.O_NOFOLLOW
    with os.fdopen(os.open(name, flags, 0o600, dir_fd=folder), "wb") as file:
        os.fchown(file.fileno(), *owner)
        file.write(data)


# Back


@dataclass(frozen=True)
class Collected:
    """What was collected.

    Attributes
    ----------
    pages, notebooks : int
    people : tuple of str
        Those of whom a page was collected.
    without : tuple of str
        Those of whom none was.
    problems : tuple of str
        What was left where it is, and why.
    """

    pages: int
    notebooks: int
    people: tuple[str, ...]
    without: tuple[str, ...]
    problems: tuple[str, ...]


def collect(people: Path, into: Path) -> Collected:
    """Copy all pages handed in and all notebooks of all people into one new folder.

    ``into/pages`` holds the pages, named after the person, for ``python -m stoichkit mark``;
    ``into/notebooks`` a folder for each person; ``into/list.csv`` what came from whom.

    Raises
    ------
    DataFileError
        If ``people`` is no folder, or ``into`` holds something already.
    """
    if not people.is_dir():
        raise DataFileError("There is no such folder of people.", given=str(people))
    if into.exists() and (not into.is_dir() or any(into.iterdir())):
        raise DataFileError(
            "Something was collected there already.",
            given=str(into),
            fix="Give another folder, so that nothing is mixed or replaced.",
        )
    pages, books = into / "pages", into / "notebooks"
    pages.mkdir(parents=True, exist_ok=True)
    lines: list[tuple[str, str, str, int, str]] = []
    problems: list[str] = []
    names = sorted(one.name for one in people.iterdir() if PERSON.fullmatch(one.name))
    for person in names:
        try:
            with _folder(people / person) as (folder, _):
                taken = list(_taken(folder, (".ipynb",), problems, person))
                for name, data in taken:
                    place = books / person / _plain(name)
                    place.parent.mkdir(parents=True, exist_ok=True)
                    lines.append((person, "notebook", *_put(place, data)))
                if HAND_IN not in os.listdir(folder):
                    continue
                with _folder(HAND_IN, folder) as (handed, _):
                    for name, data in _taken(handed, PAGES, problems, person):
                        place = pages / f"{person}--{_plain(name)}"
                        lines.append((person, "page", *_put(place, data)))
        except DataFileError as error:
            problems.append(f"{person}: {error}")
    with (into / "list.csv").open("x", encoding="utf-8", newline="") as file:
        table = csv.writer(file)
        table.writerow(("person", "kind", "file", "bytes", "sha256"))
        table.writerows(lines)
    with_page = sorted({person for person, kind, *_ in lines if kind == "page"})
    return Collected(
        sum(kind == "page" for _, kind, *_ in lines),
        sum(kind == "notebook" for _, kind, *_ in lines),
        tuple(with_page),
        tuple(name for name in names if name not in with_page),
        tuple(problems),
    )


def _taken(
    folder: int, endings: tuple[str, ...], problems: list[str], person: str
) -> Iterator[tuple[str, bytes]]:
    """Yield the plain files of a folder that end so; say which were left."""
    found = [n for n in sorted(os.listdir(folder)) if n.lower().endswith(endings)]
    if len(found) > MOST_FILES:
        problems.append(f"{person}: {len(found) - MOST_FILES} files beyond {MOST_FILES} were left.")
    for name in found[:MOST_FILES]:
        try:
            # a pipe would wait for somebody to write into it
            descriptor = os.open(name, os.O_RDONLY | os.O_NOFOLLOW | os.O_NONBLOCK, dir_fd=folder)
        except OSError:
            problems.append(f"{person}: {name} is a link or cannot be read; it was left.")
            continue
        about = os.fstat(descriptor)
        if not stat.S_ISREG(about.st_mode) or about.st_nlink != 1:
            problems.append(f"{person}: {name} is no file of its own; it was left.")
        elif about.st_size > MOST_BYTES:
            problems.append(f"{person}: {name} has {about.st_size} bytes; it was left.")
        else:
            with os.fdopen(descriptor, "rb") as file:
                yield name, file.read(MOST_BYTES)
            continue
        os.close(descriptor)


def _plain(name: str) -> str:
    """Return a file name of harmless letters.

    >>> _plain("=cmd; page.HTML"), _plain("Löwe.html")
    ('_cmd_ page.HTML', 'Löwe.html')
    """
    return re.sub(r"^[^\w]|[^\w .()-]", "_", name)[-120:]


def _put(place: Path, data: bytes) -> tuple[str, int, str]:
    """Write a file under a free name; return its name, size and mark."""
    number, free = 2, place
    while free.exists():
        free, number = place.with_stem(f"{place.stem}-{number}"), number + 1
    free.write_bytes(data)
    return free.name, len(data), hashlib.sha256(data).hexdigest()


# By command


def main(arguments: list[str] | None = None) -> int:
    """Hand out or collect, as the command line says."""
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0] if __doc__ else "")
    commands = parser.add_subparsers(dest="what", required=True)
    out = commands.add_parser("hand-out", help="copy the notebooks into each person's folder")
    out.add_argument("--people", type=Path, required=True, help="folder of the people's folders")
    out.add_argument("--notebooks", type=Path, default=NOTEBOOKS, help="folder of the notebooks")
    out.add_argument("person", nargs="*", help="whom; all who have a folder if left out")
    back = commands.add_parser("collect", help="copy what was made into one folder")
    back.add_argument("--people", type=Path, required=True, help="folder of the people's folders")
    back.add_argument("--into", type=Path, required=True, help="new folder")
    given = parser.parse_args(arguments)
    try:
        said = _handed_out(given) if given.what == "hand-out" else _collected(given)
    except StoichkitError as error:
        sys.stderr.write(f"{error}\n")
        return 2
    sys.stdout.write(said)
    return 0


def _handed_out(given: argparse.Namespace) -> str:
    people: Path = given.people
    names = given.person or sorted(
        one.name for one in (people.iterdir() if people.is_dir() else ()) if one.is_dir()
    )
    if not names:
        raise DataFileError("Nobody has a folder there.", given=str(people))
    lines = []
    for name in names:
        written = hand_out(people / check_person(name), notebooks=given.notebooks)
        lines.append(f"{name}: {', '.join(written) or 'nothing new'}\n")
    return "".join(lines)


def _collected(given: argparse.Namespace) -> str:
    found = collect(given.people, given.into)
    lines = [
        f"{found.pages} pages of {len(found.people)} people, {found.notebooks} notebooks.\n",
        *(f"{problem}\n" for problem in found.problems),
    ]
    if found.without:
        lines.append(f"No page of: {', '.join(found.without)}.\n")
    lines.append(f"To mark: python -m stoichkit mark {given.into / 'pages'} --class FILE\n")
    return "".join(lines)


if __name__ == "__main__":
    raise SystemExit(main())
