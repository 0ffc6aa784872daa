"""Where codes stand for names: that no name is left in what is handed out.

A name counts as found where it stands as whole words, capitals or not. A name that is shorter
than three characters, or all of whose words are words of our own texts or of the lab's record
("mean", "silver"), cannot be told from ordinary text there, and is not looked for: that it is
replaced follows from how a file is read, which tests try with such names.
"""

from __future__ import annotations

import io
import pickle
import pickletools
import re
import sys
import unicodedata
import zipfile
from collections.abc import Collection, Iterator, Mapping
from dataclasses import fields
from functools import lru_cache
from types import CodeType
from typing import Any

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


class KeptNames:
    """The names that codes stand for, to be looked for in whatever is written of a class.

    What was read with codes hands it on to all that is made of it, and every writer calls
    :meth:`check`. It shows no name, and a copy of it in a file, such as a pickle, knows none.

    Parameters
    ----------
    key : mapping of str to str, optional
        Code to name.
    experiment : Experiment, optional
        Its own words are not names.

    Examples
    --------
    >>> from stoichkit import experiments
    >>> names = KeptNames({"G01": "Zora"}, experiments.load("copper-silver"))
    >>> names.check(b"G01 fits copper(II).")
    >>> names.check(b"zora fits copper(II).")
    Traceback (most recent call last):
    stoichkit.errors.DataFileError: What is to be written would hold a name that a code stands
    for. Given: the name of G01. Allowed: codes only. It was not written. Take the name out of the
    note and of the lab's own texts.
    >>> names
    <names of 1 code>
    """

    __slots__ = ("_experiment", "_found", "_key")

    def __init__(
        self, key: Mapping[str, str] | None = None, experiment: Experiment | None = None
    ) -> None:
        self._key, self._experiment = dict(key or {}), experiment
        self._found: dict[str, str] | None = None

    def __bool__(self) -> bool:
        return bool(self._key)

    def __repr__(self) -> str:
        return f"<names of {len(self._key)} code{'' if len(self._key) == 1 else 's'}>"

    def __reduce__(self) -> tuple[type[KeptNames], tuple[()]]:
        return KeptNames, ()

    def __copy__(self) -> KeptNames:
        return self

    def __deepcopy__(self, memo: object) -> KeptNames:
        return self

    def check(self, content: bytes | str) -> None:
        """Refuse what is to be written (text, a page, or a workbook) if it holds a name.

        Raises
        ------
        DataFileError
            The message holds the code.
        """
        if not self._key or self._experiment is None:
            return
        if self._found is None:
            self._found = _looked_for(self._key, self._experiment)
        text = _plain(content.encode("utf-8", "replace") if isinstance(content, str) else content)
        for code, pattern in self._found.items():
            if pattern in text:
                raise DataFileError(
                    "What is to be written would hold a name that a code stands for.",
                    given=f"the name of {code}",
                    allowed="codes only",
                    fix="It was not written. Take the name out of the note and of the lab's own "
                    "texts.",
                )

    def state_of(self, record: Any) -> dict[str, Any]:
        """Return the fields of a record for a pickle, after looking for names in them."""
        state = {one.name: getattr(record, one.name) for one in fields(record)}
        if self._key:
            found = (arg for _, arg, _ in pickletools.genops(pickle.dumps(state)))
            self.check("\n".join(arg for arg in found if isinstance(arg, str)))
        return state


NOBODY = KeptNames()
"""Where groups go by their names, there is nothing to look for."""


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
