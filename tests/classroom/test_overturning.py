"""What would overturn the verdict of a class, on made-up classes whose answers are chosen."""

from __future__ import annotations

import math
from collections.abc import Callable, Mapping
from types import SimpleNamespace
from typing import Any

import numpy as np

from stoichkit.classroom.overturning import (
    MASS,
    SCALE,
    _least,
    _next,
    class_faults,
    fewest_groups,
)
from stoichkit.decision.verdict import Verdict, VerdictKind

ONE = Verdict(VerdictKind.SINGLED_OUT, ("one",), 0.95)
TWO = Verdict(VerdictKind.SINGLED_OUT, ("two",), 0.95)
TORN = Verdict(VerdictKind.NOT_TOLD_APART, ("one", "two"), 0.95)
NOTHING = Verdict(VerdictKind.NONE_FITS, (), 0.95)
UNJUDGED = Verdict(VerdictKind.CANNOT_BE_JUDGED, (), 0.95)


def test_the_next_ratios_stand_on_both_sides() -> None:
    assert _next([1.0, 3.0, 2.5, 0.5], 2.0) == [2.5, 1.0]
    assert _next([1.0, 2.0], 2.0) == [2.0]
    assert _next([3.0, 4.0], 2.0) == [3.0]
    assert _next([], 2.0) == []


def test_the_least_part_is_found_to_two_hundredths() -> None:
    """Halving 0 … 1 towards 0.3 ends within 2 % of itself above it."""
    part, verdict = _least(lambda x: TWO if x >= 0.3 else ONE, ONE)
    assert 0.3 <= part <= 0.3 / 0.98
    assert verdict == TWO
    part, verdict = _least(lambda _: ONE, ONE)
    assert math.isnan(part)
    assert verdict is None
    assert _least(lambda _: NOTHING, ONE)[1] is None


# Groups left out


class Classes:
    """A class whose verdict follows from the groups left."""

    def __init__(self, left: frozenset[str], says: Callable[[frozenset[str]], Verdict]) -> None:
        self.left, self.says = left, says

    def without(self, name: str) -> Classes:
        assert name in self.left
        return Classes(self.left - {name}, self.says)

    def verdict(self, candidates: list[Any], coverage: float) -> Verdict:
        assert {one.ratio for one in candidates} >= {2.0}
        assert coverage == 0.95
        return self.says(self.left)


def ratio_tested(ratio: float, compatible: bool) -> Any:
    return SimpleNamespace(candidate=SimpleNamespace(ratio=ratio), compatible=compatible)


def fewest(
    d: Mapping[float, list[float]], says: Callable[[frozenset[str]], Verdict], **more: Any
) -> tuple[tuple[str, ...], Verdict | None]:
    """Return what is left out of groups a, b, …; their discrepancies are given by ratio."""
    names = "abcdefgh"[: len(next(iter(d.values())))]
    amounts = SimpleNamespace(
        names=tuple(names), discrepancies=lambda r, y: np.array(d[r]) * (y == 1.0)
    )

    found: Any = SimpleNamespace(
        **{
            "verdict": ONE, "without": {}, "ratio": 2.0, "coverage": 0.95, "amounts": amounts,
            "candidates": {n: ratio_tested(float(n), n == 2) for n in (1, 2, 3)}, **more,
        }
    )  # fmt: skip
    test: Any = Classes(frozenset(names), says)
    return fewest_groups(found, test)


def gone(*sets: str) -> Callable[[frozenset[str]], Verdict]:
    """Return a rule by which the verdict is another once these of six groups are left out."""
    return lambda left: TORN if any(not left & {*one} for one in sets) else ONE


RISING = [1.0, 2.0, 3.0, 4.0, 5.0, 6.0]
FALLING = [-1.0, -2.0, -3.0, -4.0, -5.0, -6.0]


def test_those_that_speak_most_against_a_rival_are_left_out_first() -> None:
    """Above 2 stands 3, from which f is furthest; below it 1, from which a is furthest."""
    both = {3.0: RISING, 1.0: RISING[::-1]}
    assert fewest(both, gone("fed")) == (("f", "e", "d"), TORN)
    assert fewest(both, gone("ab")) == (("a", "b"), TORN)
    assert fewest(both, gone("fed", "ab")) == (("a", "b"), TORN)
    assert fewest(both, gone("fe", "ab")) == (("f", "e"), TORN)
    assert fewest(both, gone("fe", "abc")) == (("f", "e"), TORN)
    down = {3.0: FALLING, 1.0: FALLING[::-1]}
    assert fewest(down, gone("fed")) == (("f", "e", "d"), TORN)


def test_of_groups_that_are_even_those_above_are_left_out_first() -> None:
    even = {3.0: [-3.0, 1.0, 2.0, 0.0], 1.0: [-1.0, 1.0, 0.0, 0.0]}
    assert fewest(even, gone("c")) == (("c",), TORN)
    assert fewest(even, gone("b")) == (("b",), TORN)
    assert fewest(even, gone("a")) == ((), None)


def test_two_groups_are_always_left() -> None:
    both = {3.0: RISING, 1.0: RISING[::-1]}
    assert fewest(both, gone("fedc")) == (("f", "e", "d", "c"), TORN)
    assert fewest(both, gone("fedcb")) == ((), None)
    assert fewest(both, lambda _: ONE) == ((), None)
    assert fewest(both, lambda _: NOTHING) == ((), None)


def test_without_a_rival_the_ratio_found_is_asked() -> None:
    found = {2.0: [1.0, 5.0, 1.0, 1.0]}
    assert fewest(found, gone("b"), candidates={2: ratio_tested(2.0, True)}) == (("b",), TORN)


def test_a_single_group_is_named_first() -> None:
    both = {3.0: RISING, 1.0: RISING[::-1]}
    without = {"c": TWO, "b": TORN, "a": ONE, "d": NOTHING}
    assert fewest(both, gone("fe"), without=without) == (("b",), TORN)
    assert fewest(both, gone("fe"), without={"a": ONE}) == (("f", "e"), TORN)
    assert fewest(both, gone("fe"), verdict=UNJUDGED) == ((), None)


# Faults alike in all


class Shifted:
    """A class of one mean amount, whose verdict follows from its ratio alone."""

    def __init__(self, consumed: float, produced: float, width: float) -> None:
        self.consumed, self.produced, self.width = consumed, produced, width

    def shifted(self, add: float, times: float) -> Shifted:
        return Shifted(self.consumed, self.produced * times + add, self.width)

    def verdict(self, candidates: list[Any], coverage: float) -> Verdict:
        assert coverage == 0.95
        ratio = self.produced / self.consumed
        fitting = [c for c in candidates if abs(ratio - c.ratio) <= self.width]
        if not fitting:
            return NOTHING
        names = tuple(c.name for c in fitting)
        kind = VerdictKind.SINGLED_OUT if len(names) == 1 else VerdictKind.NOT_TOLD_APART
        return Verdict(kind, names, 0.95)


def faults(
    produced_mol: float, ratios: Mapping[str, float], *, product: str = "", width: float = 0.1
) -> list[tuple[str, float, str, tuple[str, ...]]]:
    """Return the faults of a class that used up 1 mol and made so much; ± ``width`` fits."""
    test: Any = Shifted(1.0, produced_mol, width)
    candidates = [SimpleNamespace(name=n, ratio=r) for n, r in ratios.items()]
    linear = SimpleNamespace(
        mean=lambda x, y: y * produced_mol - x, mean_produced=produced_mol, mean_consumed=1.0
    )
    found: Any = SimpleNamespace(
        verdict=test.verdict(candidates, 0.95),
        amounts=SimpleNamespace(linear=linear),
        produced=product,
        ratio=produced_mol,
        coverage=0.95,
        candidates={
            c.name: SimpleNamespace(candidate=c, compatible=abs(produced_mol - c.ratio) <= width)
            for c in candidates
        },
    )
    every = class_faults(found, test)
    return [(one.kind, one.size, one.unit, one.verdict.candidates) for one in every]


def test_the_nearest_rival_needs_the_smallest_fault() -> None:
    """2 mol made; 2.5 fits from 2.4 on: 0.4 mol or 20 %; 1.2 up to 1.3: −0.7 mol or −35 %."""
    mass, scale = faults(2.0, {"low": 1.2, "middle": 2.0, "high": 2.5})
    assert (mass[0], mass[2], mass[3]) == (MASS, "mmol", ("high",))
    assert 400 <= mass[1] <= 400 / 0.98
    assert (scale[0], scale[2], scale[3]) == (SCALE, "", ("high",))
    assert 0.2 <= scale[1] <= 0.2 / 0.98
    mass, scale = faults(2.0, {"low": 1.6, "middle": 2.0, "high": 3.2})
    assert -300 / 0.98 <= mass[1] <= -300  # 1.6 fits up to 1.7
    assert -0.15 / 0.98 <= scale[1] <= -0.15
    assert mass[3] == scale[3] == ("low",)


def test_a_mass_is_told_in_grams_of_the_product() -> None:
    """M(Ag) = 107.868 g/mol (IUPAC 2021, from memory): 0.4 mol are 43.15 g."""
    mass, _ = faults(2.0, {"middle": 2.0, "high": 2.5}, product="Ag")
    assert mass[2] == "g"
    assert 43.147 <= mass[1] <= 43.148 / 0.98


def test_a_scale_is_off_by_half_at_most() -> None:
    """From 2 mol half as much again are 3 mol, at which the rival itself stands."""
    assert [one[0] for one in faults(2.0, {"middle": 2.0, "high": 3.0})] == [MASS, SCALE]
    assert [one[0] for one in faults(2.0, {"middle": 2.0, "high": 3.01})] == [MASS]
    assert [one[0] for one in faults(2.0, {"middle": 2.0, "low": 1.0})] == [MASS, SCALE]
    assert [one[0] for one in faults(2.0, {"middle": 2.0, "low": 0.99})] == [MASS]


def test_where_nothing_was_made_no_scale_is_tried() -> None:
    assert [one[0] for one in faults(0.0, {"none": 0.0, "high": 1.0})] == [MASS]
    assert [one[0] for one in faults(-0.05, {"none": 0.0, "high": 1.0})] == [MASS]


def test_nothing_overturns_a_verdict_that_cannot_be_judged() -> None:
    found: Any = SimpleNamespace(verdict=UNJUDGED)
    test: Any = None
    assert list(class_faults(found, test)) == []
    assert fewest_groups(found, test) == ((), None)
