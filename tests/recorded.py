"""What a room answers, kept in a text file: says when an answer changes, not that it is right.

A room's ``test_recorded.py`` names its cases, each a function without arguments, and asks
:class:`Record` to compare what each returns with ``recorded.txt`` beside it. Records are written
field by field with their public properties, numbers to ten digits, texts in full, refusals
(:func:`tried`) with their message. Numbers agree within 2 parts in 10⁹, or 10⁻¹². That an answer is
right is for the other tests of the room. After an intended change write the file anew and read the
difference::

    STOICHKIT_UPDATE_GOLDEN=1 python -m pytest -n 0 tests/decision/test_recorded.py
"""

from __future__ import annotations

import enum
import math
import os
import re
from collections.abc import Callable, Iterable, Iterator, Mapping, Sequence
from dataclasses import fields, is_dataclass
from fractions import Fraction
from functools import cached_property, partial
from pathlib import Path
from typing import Any

import numpy as np
import pytest
from uncertainties import UFloat

from stoichkit.errors import StoichkitError

_DEEPEST = 6
_LONGEST = 40
_WIDEST = 200
_NUMBER = re.compile(r"(?<![\w.])-?\d+(?:\.\d+)?(?:e[+-]?\d+)?(?![\w.])")


class Record:
    """The recorded answers of a room.

    Parameters
    ----------
    file : str or Path
        The test file that asks; ``recorded.txt`` lies beside it.
    brief : tuple of type
        Records written by their title or name only, wherever another holds them.
    leave : tuple of str
        Names of properties and fields that are not written.
    """

    def __init__(
        self, file: str | Path, *, brief: tuple[type, ...] = (), leave: Iterable[str] = ()
    ) -> None:
        self.place = Path(file).with_name("recorded.txt")
        self.brief, self.leave = brief, frozenset(leave)

    def check(self, name: str, answer: Callable[[], object]) -> None:
        """Compare what a case answers with what is recorded."""
        now = "\n".join(self.lines(answer())).rstrip("\n")
        if os.environ.get("STOICHKIT_UPDATE_GOLDEN"):
            self._write(self._read() | {name: now})
            pytest.skip(f"{name} written anew")
        kept = self._kept
        assert name in kept, f"{name} is not recorded in {self.place.name} yet"
        if not same(now, kept[name]):
            assert now == kept[name]

    def holds_only(self, names: Iterable[str]) -> None:
        """Fail where a case is recorded that is asked no more."""
        asked = set(names)
        if os.environ.get("STOICHKIT_UPDATE_GOLDEN"):
            self._write({name: text for name, text in self._read().items() if name in asked})
            pytest.skip("what is asked no more was left out")
        assert set(self._kept) == asked

    def tests(
        self, cases: Mapping[str, Callable[[], object]], *, also: Iterable[str] = ()
    ) -> tuple[Callable[[str], None], Callable[[], None]]:
        """Return the test of each case, and the one that no other case is recorded.

        ``also`` names cases that the room checks in tests of its own.
        """

        @pytest.mark.parametrize("name", sorted(cases))
        def test_answers(name: str) -> None:
            self.check(name, cases[name])

        def test_nothing_else() -> None:
            self.holds_only([*cases, *also])

        return test_answers, test_nothing_else

    def lines(self, value: object) -> list[str]:
        """Return an answer as lines of text."""
        return list(self._lines(value, 0, ()))

    @cached_property
    def _kept(self) -> dict[str, str]:
        return self._read()

    def _read(self) -> dict[str, str]:
        if not self.place.exists():
            return {}
        parts = re.split(r"^=== (.*)\n", self.place.read_text("utf-8"), flags=re.M)
        return {n: text.rstrip("\n") for n, text in zip(parts[1::2], parts[2::2], strict=True)}

    def _write(self, kept: Mapping[str, str]) -> None:
        text = "\n".join(f"=== {name}\n{kept[name]}\n" for name in sorted(kept))
        self.place.write_text(text, encoding="utf-8", newline="\n")
        self.__dict__.pop("_kept", None)

    def _lines(self, value: object, depth: int, above: tuple[object, ...]) -> Iterator[str]:
        plain = _plain(value)
        if plain is not None:
            yield from plain.split("\n")
        elif depth and isinstance(value, self.brief):
            yield f"{type(value).__name__} {getattr(value, 'title', getattr(value, 'name', ''))}"
        elif depth > _DEEPEST or any(value is one for one in above):
            yield f"{type(value).__name__} …"
        elif isinstance(value, set | frozenset):
            yield from self._lines(sorted(value, key=str), depth, above)
        elif isinstance(value, Mapping):
            yield from self._named(value.items(), depth, (*above, value))
        elif isinstance(value, Iterable):
            parts = [list(self._lines(item, depth + 1, (*above, value))) for item in value]
            one = _on_one_line(parts)
            if one is not None:
                yield f"[{one}]"
            else:
                for part in parts:
                    yield from _begun("- ", part)
        else:
            named = list(self._named(self._members(value), depth, (*above, value)))
            one = _on_one_line([[line] for line in named])
            if one is not None and not any(line.startswith(" ") for line in named):
                yield f"{type(value).__name__}({one})"
            else:
                yield type(value).__name__
                yield from (f"  {line}" for line in named)

    def _named(
        self, members: Iterable[tuple[object, object]], depth: int, above: tuple[object, ...]
    ) -> Iterator[str]:
        for name, member in members:
            lines = list(self._lines(member, depth + 1, above))
            shown = _plain(name) or str(name)
            if len(lines) == 1:
                yield f"{shown}: {lines[0]}"
            else:
                yield f"{shown}:"
                yield from (f"  {line}" for line in lines)

    def _members(self, value: object) -> Iterator[tuple[object, object]]:
        of_class = dir(type(value))
        properties = [
            name
            for name in of_class
            if isinstance(getattr(type(value), name, None), property | cached_property)
        ]
        own = [one.name for one in fields(value)] if is_dataclass(value) else [*_attributes(value)]
        for name in dict.fromkeys((*own, *properties)):
            if not name.startswith("_") and name not in self.leave:
                yield name, tried(getattr, value, name)


def tried(function: Callable[..., Any], *args: Any, **kwargs: Any) -> Any:
    """Return what a function answers, or its refusal as a text; a lazy answer is asked for."""
    try:
        answer = function(*args, **kwargs)
        return list(answer) if isinstance(answer, Iterator) else answer
    except StoichkitError as error:
        return f"{type(error).__name__}: {error}"


def same(now: str, before: str) -> bool:
    """Say whether two texts are the same, but for the last digits of their numbers."""
    if now == before:
        return True
    if _NUMBER.sub("#", now) != _NUMBER.sub("#", before):
        return False
    pairs = zip(_NUMBER.findall(now), _NUMBER.findall(before), strict=True)
    return all(
        a == b
        or (_computed(a, b) and math.isclose(float(a), float(b), rel_tol=2e-9, abs_tol=1e-12))
        for a, b in pairs
    )


def _computed(*numbers: str) -> bool:
    """Say whether one of these has so many digits that it was worked out, not written."""
    return any(len(number.strip("-").replace(".", "")) >= 9 for number in numbers)


def _attributes(value: object) -> Iterator[str]:
    yield from sorted(getattr(value, "__dict__", {}))
    for one in type(value).__mro__:
        slots = getattr(one, "__slots__", ())
        yield from (slots,) if isinstance(slots, str) else slots


def _plain(value: object) -> str | None:
    """Return what needs no lines of its own as text."""
    if isinstance(value, enum.Enum):
        return f"{type(value).__name__}.{value.name}"
    if isinstance(value, str):
        return value.replace("\r", "\\r") if value else '""'
    if value is None or isinstance(value, bool | int | bytes | np.bool_ | Fraction):
        return str(value)
    if isinstance(value, float | np.floating | np.integer):
        return number(float(value))
    if isinstance(value, complex | np.complexfloating):
        return f"{number(value.real)} + {number(value.imag)}i"
    if isinstance(value, UFloat):
        return f"{number(value.nominal_value)} ± {number(value.std_dev)}"
    if isinstance(value, np.ndarray):
        return _array(value)
    if isinstance(value, Path):
        return value.name
    if isinstance(value, type):
        return value.__name__
    if callable(value) and not is_dataclass(value):
        return f"function {getattr(value, '__name__', type(value).__name__)}"
    return None


def _array(values: np.ndarray[Any, Any]) -> str:
    if values.dtype == object or values.dtype.kind in "US":
        return f"{values.shape} [{', '.join(str(_plain(v)) for v in values.ravel())}]"
    flat = values.ravel()
    if flat.size <= _LONGEST:
        return f"{values.shape} [{', '.join(str(_plain(v)) for v in flat)}]"
    finite = np.nan_to_num(flat.astype(float), nan=-1.0, posinf=-2.0, neginf=-3.0)
    weighted = float(finite @ np.cos(np.arange(flat.size)))
    several = (flat[0], flat[-1], finite.min(), finite.max(), finite.mean(), weighted)
    return (
        f"{values.shape} first, last, least, most, mean, mixed: "
        f"{', '.join(number(float(v)) for v in several)}"
    )


def number(value: float) -> str:
    """Return a number to ten digits; what differs from none by rounding alone is 0."""
    return "0" if abs(value) < 1e-14 else f"{value:.10g}"


def _on_one_line(parts: Sequence[Sequence[str]]) -> str | None:
    """Return short parts of one line each as one line, else nothing."""
    if any(len(part) != 1 for part in parts):
        return None
    one = ", ".join(part[0] for part in parts)
    return one if len(one) < _WIDEST else None


def _begun(mark: str, lines: Iterable[str]) -> Iterator[str]:
    for i, line in enumerate(lines):
        yield f"{mark if not i else ' ' * len(mark)}{line}"


def cases(**groups: Mapping[str, Callable[[], object]]) -> dict[str, Callable[[], object]]:
    """Return cases of several groups under one name each, as ``"group: case"``."""
    return {f"{group}: {name}": of for group, some in groups.items() for name, of in some.items()}


def by_name(
    function: Callable[[Any], object], names: Iterable[Any]
) -> dict[str, Callable[[], object]]:
    """Return a case for each name that a function is asked about."""
    return {name: partial(function, name) for name in names}


def each(function: Callable[..., Any], arguments: Sequence[Any]) -> dict[str, Any]:
    """Return what a function of one argument answers to each, by the argument as written."""
    return {str(_plain(one) or one): tried(function, one) for one in arguments}
