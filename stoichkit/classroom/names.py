"""Names of groups and trials as a class file has them: usable, told apart, all at once."""

from __future__ import annotations

import re
from collections import Counter
from collections.abc import Sequence

from .questions import plain_name

_MAX_NAME = 80


def distinct(names: Sequence[str]) -> list[str]:
    """Return printable names, all different, for names that are all different."""
    taken: set[str] = set()
    repeats: Counter[str] = Counter()
    if all_usable(names):
        return list(names)
    found = []
    for name in names:
        plain = stem = usable_name(name)
        while plain in taken:
            repeats[stem] += 1
            plain = f"{stem[: _MAX_NAME - 12]} ({repeats[stem] + 1})"
        taken.add(plain)
        found.append(plain)
    return found


def all_usable(names: Sequence[str]) -> bool:
    """Return whether all names are such as :func:`usable_name` returns, and none is empty."""
    together = "\n".join(["", *names, ""])
    return (
        "".join(names).isprintable()
        and all(odd not in together for odd in ("  ", "\n ", " \n", "\n\n"))
        and max(map(len, names), default=0) <= _MAX_NAME
    )


def plain_names(names: Sequence[str]) -> list[str]:
    """Return what :func:`plain_name` makes of each name."""
    if not (names and "".join(names).isascii() and "".join(names).isprintable()):
        return list(map(plain_name, names))
    found = "\n".join(names).casefold()
    if " " in found:
        found = re.sub(r"(?<=[0-9]) +(?=[0-9])", "\x00", found)
    return found.replace(" ", "").split("\n")


def is_usable(name: str) -> bool:
    """Return whether a name can stay as it is."""
    return name.isprintable() and len(name) <= _MAX_NAME


def usable_name(text: str) -> str:
    """Return a name on one line, printable and at most 80 characters long."""
    plain = " ".join(text.split())
    if not plain.isprintable():
        plain = "".join(c if c.isprintable() else "\ufffd" for c in plain)
    return plain if len(plain) <= _MAX_NAME else f"{plain[: _MAX_NAME - 1].rstrip()}…"


def codes_of(names: Sequence[str]) -> dict[str, str]:
    """Return a code for each group, in their order; none is the name of a group.

    >>> codes_of(["red", "blue"]), codes_of(["g02", "G01"])
    ({'G01': 'red', 'G02': 'blue'}, {'K01': 'g02', 'K02': 'G01'})
    """
    width, taken = max(2, len(str(len(names)))), {name.casefold() for name in names}
    letters = (letter for letter in "GKQ" if not any(_is_code(name, letter) for name in taken))
    letter = next(letters, "GKQ")
    return {f"{letter}{i:0{width}}": name for i, name in enumerate(names, 1)}


def _is_code(name: str, letter: str) -> bool:
    return name[:1] == letter.casefold() and name[1:].isdecimal()
