"""Display readings of the vessels of a lab, grouped into blocks of digits."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import TypeAlias

import numpy as np
from numpy.typing import NDArray

from .digits import DIFFERENCE, SINGLE, TRIPLE, DigitBlock
from .shapes import Floats
from .uncertain import Shape, Source

__all__ = ["Pairs", "Reading", "display_readings", "grouped", "pairs_of"]

_Indices: TypeAlias = NDArray[np.intp]
_SAME = 1e-6
_MANY = 8


@dataclass(frozen=True, slots=True)
class Reading:
    """Where one display reading stands among the sources."""

    role: str
    vessel: str
    rounding: int
    noise: float
    repeatability: int


def display_readings(sources: Sequence[Source], role_of: Mapping[str, str]) -> tuple[Reading, ...]:
    """Pair the rounding and repeatability sources of each display reading.

    ``role_of`` gives the name of a reading without its trial.
    """
    rounding: dict[str, int] = {}
    noise: dict[str, int] = {}
    for i, s in enumerate(sources):
        if s.reading and s.kind == "rounding" and s.shape is Shape.RECTANGULAR:
            rounding[s.reading] = i
        elif s.reading and s.kind == "repeatability" and s.shape is Shape.NORMAL:
            noise[s.reading] = i
    found = []
    for label, i in rounding.items():
        j = noise.get(label, -1)
        step = 2 * sources[i].scale
        sigma = sources[j].scale / step if j >= 0 else 0.0
        # a shared reading appears in every trial at once: it is one reading, one block
        found.append(Reading(role_of.get(label, label), sources[i].vessel, i, sigma, j))
    return tuple(found)


@dataclass(frozen=True, slots=True)
class Pairs:
    """Many vessels, each read twice: indices of both readings, and which vessels are alike."""

    first: _Indices
    second: _Indices
    alike: _Indices
    noise: tuple[tuple[float, float], ...]

    def blocks(self, steps: Floats) -> list[DigitBlock] | None:
        """Return the differences as blocks, or None if not all vessels hold one."""
        one, two = steps[self.first], steps[self.second]
        if (np.abs(one + two) > _SAME * np.maximum(np.abs(one), np.abs(two))).any():
            return None
        used = one != 0
        counts = np.bincount(self.alike[used], minlength=len(self.noise)).tolist()
        squares = np.bincount(self.alike[used], one[used] ** 2, len(self.noise)).tolist()
        return [
            DigitBlock(DIFFERENCE, (math.sqrt(square / count),), noise, count)
            for square, count, noise in zip(squares, counts, self.noise, strict=True)
            if count
        ]


def pairs_of(display: Sequence[Reading]) -> Pairs | None:
    """Return the vessels of a class as arrays; None for few vessels, or not of two readings."""
    vessels: dict[str, list[tuple[str, float, int]]] = {}
    for i, r in enumerate(display):
        vessels.setdefault(r.vessel, []).append((r.role, r.noise, i))
    if len(vessels) < _MANY or "" in vessels:
        return None
    if any(len(members) != 2 for members in vessels.values()):
        return None
    found: dict[tuple[tuple[str, str], tuple[float, float]], int] = {}
    rows = []
    for members in vessels.values():
        (role, noise, i), (other, other_noise, j) = sorted(members)
        alike = found.setdefault(((role, other), (noise, other_noise)), len(found))
        rows.append((i, j, alike))
    first, second, alike_of = np.array(rows, dtype=np.intp).T
    return Pairs(first, second, alike_of, tuple(noise for _, noise in found))


def grouped(
    members: list[tuple[Reading, float]],
) -> list[tuple[str, tuple[str, ...], tuple[float, ...], tuple[float, ...]]]:
    """Return (kind, roles, steps, noise) of the readings of one vessel."""
    if len(members) == 2:  # nearly every vessel, so the quick way
        (first, step), (second, other) = members
        if abs(step + other) <= _SAME * max(abs(step), abs(other)):
            if second.role < first.role:
                first, second, step = second, first, other
            noise = (first.noise, second.noise)
            return [(DIFFERENCE, (first.role, second.role), (abs(step),), noise)]
    total = sum(step for _, step in members)
    largest = max(abs(step) for _, step in members)
    balanced = abs(total) <= _SAME * largest
    if len(members) == 3 and balanced:
        # coefficients add to zero: the largest belongs to the reading shared by both differences
        ordered = sorted(members, key=lambda m: (abs(m[1]) == largest, m[0].role))
        (one, step_one), (two, step_two), (three, _) = ordered
        return [
            (
                TRIPLE,
                (one.role, two.role, three.role),
                (abs(step_one), abs(step_two)),
                (one.noise, two.noise, three.noise),
            )
        ]
    return [(SINGLE, (r.role,), (abs(step),), (r.noise,)) for r, step in members]
