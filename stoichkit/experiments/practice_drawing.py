"""How practice labs are drawn: whole numbers by lot, readings as they are shown, planted faults.

Every quantity is a whole number of millionths of the unit in which it is read, so that nothing
depends on how a machine rounds.
"""

from __future__ import annotations

import hashlib
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from enum import StrEnum
from fractions import Fraction
from itertools import pairwise

from ..chemistry.elements import molar_mass_value

MICRO = 1_000_000
_UNITY = 1 << 32
_HEAVIEST_G = 8


LEAST_STEPS = 5
"""A mass of fewer steps of the display than this is not weighed."""


@dataclass(frozen=True, slots=True)
class Level:
    """What a level asks: how near the candidates, how far apart in steps, how often a fault."""

    least_gap: Fraction
    most_gap: Fraction
    apart: tuple[int, ...]  # tenths of a step
    trials: tuple[int, ...]
    faults: int  # in eighths


ASKED = {
    1: Level(Fraction(2, 5), Fraction(9), (60, 100, 200), (3, 4), 0),
    2: Level(Fraction(1, 4), Fraction(9), (3, 3, 60, 100), (3, 4), 0),
    3: Level(Fraction(1, 8), Fraction(9), (3, 8, 15, 40), (2, 3, 4), 2),
    4: Level(Fraction(1, 20), Fraction(1, 2), (4, 7, 10, 15, 30), (2, 3), 3),
    5: Level(Fraction(1, 20), Fraction(2, 5), (4, 6, 8, 12), (2, 3), 4),
}


class FaultKind(StrEnum):
    """What was planted in a practice lab."""

    SWAPPED = "two digits written in each other's place"
    LOST = "product lost"
    WET = "product not dry"
    MORE = "more measured than formed"


@dataclass(frozen=True, slots=True)
class PlantedFault:
    """A fault that was planted in the readings.

    Attributes
    ----------
    kind : FaultKind
    words : str
        What went wrong, as it is told at the end.
    trial : str
        Name of the trial; "" for all of them.
    """

    kind: FaultKind
    words: str
    trial: str = ""


class Lot:
    """Whole numbers drawn by lot from a text, the same everywhere."""

    def __init__(self, text: str) -> None:
        self._text, self._count, self._bytes = text, 0, b""

    def _word(self) -> int:
        if len(self._bytes) < 8:
            self._bytes = hashlib.sha256(f"{self._text} {self._count}".encode()).digest()
            self._count += 1
        word, self._bytes = self._bytes[:8], self._bytes[8:]
        return int.from_bytes(word, "big")

    def below(self, number: int) -> int:
        """Return a whole number from 0, each as likely as the others to a part in 10^12."""
        return self._word() % number

    def between(self, low: int, high: int) -> int:
        """Return a whole number from ``low`` to ``high``."""
        return low + self.below(high - low + 1)

    def normal(self, sigma: int) -> int:
        """Return a normal deviate: the sum of twelve even ones has variance 1."""
        total = sum(self._word() >> 32 for _ in range(12)) - 6 * (_UNITY - 1)
        return nearest(Fraction(total * sigma, _UNITY))

    def even(self, half_width: int) -> int:
        """Return an error within limits, each as likely as the others."""
        return self.between(-half_width, half_width)

    def pointed(self, half_width: int) -> int:
        """Return an error within limits, small ones likelier: the sum of two even ones."""
        return self.even(half_width // 2) + self.even(half_width - half_width // 2)


def nearest(value: Fraction) -> int:
    """Round to a whole number, halves away from zero.

    >>> nearest(Fraction(5, 2)), nearest(Fraction(-5, 2)), nearest(Fraction(7, 3))
    (3, -3, 2)
    """
    whole = int(abs(value) + Fraction(1, 2))
    return whole if value >= 0 else -whole


def shown(value: int, step: int) -> int:
    """Return what a display of such steps shows."""
    return nearest(Fraction(value, step)) * step


def written(value: int, step: int) -> str:
    """Write a value that is shown in steps of a power of ten.

    >>> written(21_140_000, 10_000), written(1_497_000_000, 1_000_000)
    ('21.14', '1497')
    """
    places = 6 - (len(str(step)) - 1)
    if not places:
        return f"{value // step}"
    digits = f"{value // step:0{places + 1}d}"
    return f"{digits[:-places]}.{digits[-places:]}"


def molar(species: str) -> Fraction:
    """Return a molar mass, g/mol, with four decimals."""
    return Fraction(f"{molar_mass_value(species):.4f}")


@dataclass(frozen=True, slots=True)
class Display:
    """What shows a reading: its step in millionths of the unit, what it is, and the unit."""

    step: int
    instrument: str = "balance"
    unit: str = "g"


@dataclass(frozen=True, slots=True)
class Rise:
    """A difference of two readings that everybody expects to be above zero and not huge.

    Attributes
    ----------
    larger, smaller : str
        Names of the readings; ``smaller`` is "" where the first counts alone.
    most : Fraction
        In the unit of the readings.
    """

    larger: str
    smaller: str = ""
    most: Fraction = Fraction(_HEAVIEST_G)

    def of(self, values: Mapping[str, Fraction]) -> Fraction:
        """Return the difference of these values."""
        return values[self.larger] - (values[self.smaller] if self.smaller else 0)


def swap(
    texts: Sequence[dict[str, str]],
    names: Sequence[str],
    displays: Mapping[str, Display],
    rises: Sequence[Rise],
    lot: Lot,
) -> PlantedFault | None:
    """Write two digits of one reading in each other's place; None where that would show at once."""
    found = []
    for at, one in enumerate(texts):
        for name, text in one.items():
            for changed in _turned(text):
                values = {n: Fraction(t) for n, t in {**one, name: changed}.items()}
                if all(
                    Fraction(2 * displays[rise.larger].step, MICRO) <= rise.of(values) <= rise.most
                    for rise in rises
                ):
                    found.append((at, name, text, changed))
    if not found:
        return None
    at, name, text, changed = found[lot.below(len(found))]
    texts[at][name] = changed
    by = displays[name]
    words = (
        f"In trial {names[at]} the {by.instrument} showed {text} {by.unit} for “{name}”; {changed} "
        "was written."
    )
    return PlantedFault(FaultKind.SWAPPED, words, names[at])


def _turned(text: str) -> Iterator[str]:
    places = [i for i, letter in enumerate(text) if letter.isdigit()]
    for i, j in pairwise(places[-3:]):
        if text[i] != text[j]:
            letters = list(text)
            letters[i], letters[j] = letters[j], letters[i]
            yield "".join(letters)
