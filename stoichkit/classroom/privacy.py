"""Where codes stand for names: that no name is left in what is handed out.

A name counts as found where it stands as whole words, capitals or not. A name that is shorter
than three characters, or all of whose words are words of our own texts or of the lab's record
("mean", "silver"), cannot be told from ordinary text there, and is not looked for: that it is
replaced follows from how a file is read, which tests try with such names.
"""

from __future__ import annotations

import io
import re
import sys
import unicodedata
import zipfile
from collections.abc import Callable, Collection, Iterator, Mapping
from functools import lru_cache
from pathlib import Path
from tempfile import TemporaryDirectory
from types import CodeType
from typing import Any

from .._common import write_whole
from ..errors import DataFileError
from ..experiments.record import Experiment
from ..text.html import unescaped

_SHORTEST = 3
_WORD = re.compile(r"\w+")
_TAGS = re.compile(r"<[^<>]*>")
_ROOMS = ("classroom", "reports", "decision", "diagnosis", "text", "plots", "cli")


def without_names(text: str, key: Mapping[str, str]) -> str:
    """Put codes for the names of a key in a text that a person wrote.

    >>> without_names("Zora spilled it", {"G01": "Zora"})
    'G01 spilled it'
    """
    for code, name in sorted(key.items(), key=lambda item: -len(item[1])):
        text = re.sub(rf"(?<!\w){re.escape(name)}(?!\w)", code, text, flags=re.IGNORECASE)
    return text


def check_no_names(
    content: bytes, key: Mapping[str, str], experiment: Experiment, what: str
) -> None:
    """Refuse what is to be written if it holds a name that a code stands for.

    Parameters
    ----------
    content : bytes
        The file as it would be written: text, a page, or a workbook.
    key : mapping of str to str
        Code to name.
    experiment : Experiment
        Its own words are not names.
    what : str
        The file, in words.

    Raises
    ------
    DataFileError
        If a name is in it; the message holds its code.

    Examples
    --------
    >>> from stoichkit import experiments
    >>> lab = experiments.load("copper-silver")
    >>> check_no_names(b"G01 fits copper(II).", {"G01": "Zora"}, lab, "The report")
    >>> check_no_names(b"zora fits copper(II).", {"G01": "Zora"}, lab, "The report")
    Traceback (most recent call last):
    stoichkit.errors.DataFileError: The report would hold a name that a code stands for. Given: the
    name of G01. Allowed: codes only. It was not written. Take the name out of the note and of
    the lab's own texts.
    """
    names = _looked_for(key, experiment)
    if not names:
        return
    text = _plain(content)
    for code, pattern in names.items():
        if pattern in text:
            raise DataFileError(
                f"{what} would hold a name that a code stands for.",
                given=f"the name of {code}",
                allowed="codes only",
                fix="It was not written. Take the name out of the note and of the lab's own texts.",
            )


def _looked_for(key: Mapping[str, str], experiment: Experiment) -> dict[str, str]:
    ordinary = _our_words() | {*_words(experiment.to_toml())} | {code.casefold() for code in key}
    found = {}
    for code, name in key.items():
        words = _words(name)
        if len("".join(words)) >= _SHORTEST and not {*words} <= ordinary:
            found[code] = f" {' '.join(words)} "
    return found


def _words(text: str) -> list[str]:
    plain = unicodedata.normalize("NFC", text).casefold()
    return _WORD.findall(plain)


def _plain(content: bytes) -> str:
    """Return the words of a file with single spaces between and around them."""
    if content.startswith(b"PK\x03\x04"):
        with zipfile.ZipFile(io.BytesIO(content)) as package:
            parts = [package.read(name) for name in package.namelist() if name.endswith(".xml")]
        texts = [part.decode("utf-8", "replace") for part in parts]
    else:
        texts = [content.decode("utf-8-sig", "replace")]
    joined = " ".join(
        unescaped(_TAGS.sub(" ", text)) + " " + " ".join(re.findall(r'"([^"<>]*)"', text))
        for text in texts
    )
    return f" {' '.join(_words(joined))} "


@lru_cache(maxsize=1)
def _our_words() -> frozenset[str]:
    """Return the words of all texts in the rooms that write about a class."""
    found: set[str] = set()
    package = __name__.partition(".")[0]
    for name, module in list(sys.modules.items()):
        top, _, rest = name.partition(".")
        if top == package and rest.partition(".")[0] in _ROOMS:
            for text in _texts_of(vars(module).values(), set()):
                found.update(_words(text))
    return frozenset(found)


def _texts_of(values: Collection[Any] | Any, seen: set[int]) -> Iterator[str]:
    for value in list(values):
        if isinstance(value, str):
            if "\n" not in value:  # docstrings are not shown
                yield value
        elif id(value) in seen:
            continue
        elif isinstance(value, CodeType):
            seen.add(id(value))
            yield from _texts_of(value.co_consts, seen)
        elif isinstance(value, tuple | list | set | frozenset):
            seen.add(id(value))
            yield from _texts_of(value, seen)
        elif isinstance(value, Mapping):
            seen.add(id(value))
            yield from _texts_of([*value.keys(), *value.values()], seen)
        elif hasattr(value, "__code__"):
            seen.add(id(value))
            yield from _texts_of([value.__code__], seen)
        elif isinstance(value, type) and value.__module__.startswith(__name__.partition(".")[0]):
            seen.add(id(value))
            yield from _texts_of(list(vars(value).values()), seen)


def write_checked(
    write: Callable[[Path], Path],
    path: Path,
    key: Mapping[str, str],
    experiment: Experiment,
    what: str,
    *,
    replace: bool,
) -> Path:
    """Have a file written beside, look for names in it, and only then give it its place.

    ``write`` is called with the path to write to. Without a key that is the place itself.
    """
    if not key:
        return write(path)
    with TemporaryDirectory() as folder:
        content = write(Path(folder) / path.name).read_bytes()
    check_no_names(content, key, experiment, what)
    return write_whole(path, content, replace=replace)
