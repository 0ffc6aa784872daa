"""How the size of a fault is searched for, and what each kind of fault is counted in.

Most tests know the size beforehand: a verdict that becomes another at a size of their own, or
normal errors of readings, which make every limit 1.96 standard uncertainties.
"""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import replace
from functools import cache
from typing import Any

import numpy as np
import pytest

from stoichkit import assess
from stoichkit.decision.evidence import Evidence
from stoichkit.decision.overturning import (
    Fault,
    FaultKind,
    _Search,
    changed,
    halved_in,
    overturning,
)
from stoichkit.decision.verdict import Verdict, VerdictKind, verdict_of
from stoichkit.experiments.parts import Variation
from stoichkit.measurement.displays import Balance

from ..labs import lab

M_CU, M_AG = 63.546, 107.8682
SIGMA = 0.03
"""Repeatability of the balance, three display steps: the digits make no difference."""
READING_U = math.sqrt(SIGMA**2 + 0.01**2 / 12)


def weighed(used: float, made: float, **fields: Any) -> Evidence:
    balance = Balance(readability_g=0.01, repeatability_g=SIGMA)
    return assess(lab([(9.0, 9.0 - used, 0.7, 0.7 + made)], balance, **fields))


@cache
def plain() -> Evidence:
    """0.26 g of copper and 0.88 g of silver: a ratio of 1.994, copper(II)."""
    return weighed(0.26, 0.88)


def limit(ratio: float, reading_u: float = READING_U) -> float:
    """The largest discrepancy that fits a ratio, each mass a difference of two readings."""
    return 1.96 * math.sqrt(2) * reading_u * math.hypot(1 / M_AG, ratio / M_CU)


def written(ratio: float) -> str:
    """Write a ratio as a fraction, since a decimal that looks rounded is asked about."""
    return f"{round(ratio * 10000)}/10000"


def of(evidence: Evidence, kind: FaultKind) -> Fault | None:
    found = [fault for fault in evidence.overturned_by if fault.kind is kind]
    return found[0] if found else None


ONE = verdict_of([("a", True), ("b", False)], 0.95)
BOTH = verdict_of([("a", True), ("b", True)], 0.95)
OTHER = verdict_of([("a", False), ("b", True)], 0.95)
NONE = verdict_of([("a", False), ("b", False)], 0.95)


def test_what_counts_as_another_verdict() -> None:
    """A candidate that comes in, or another alone; not that none fits or nothing can be judged."""
    assert changed(BOTH, ONE)
    assert changed(ONE, BOTH)
    assert changed(OTHER, ONE)
    assert changed(ONE, NONE)
    assert not changed(ONE, ONE)
    assert not changed(BOTH, BOTH)
    assert not changed(NONE, ONE)
    assert not changed(replace(BOTH, kind=VerdictKind.CANNOT_BE_JUDGED), ONE)


class Asked:
    """A verdict that becomes another from one size on, and every size it was asked about."""

    def __init__(self, threshold: float, then: Verdict = BOTH) -> None:
        self.threshold, self.then, self.sizes = threshold, then, list[float]()

    def __call__(self, size: float) -> Verdict:
        self.sizes.append(size)
        return self.then if size >= self.threshold else ONE


def test_a_size_is_halved_in_to_three_per_cent() -> None:
    for threshold in (0.1, 0.37, 0.99):
        at = Asked(threshold)
        size, found = halved_in(at, (0.0, 1.0), BOTH, ONE, 0.03)
        assert threshold <= size < threshold * 1.031
        assert found is BOTH
        assert len(at.sizes) <= 10
    # what is found last at the higher end is what it leads to
    later = {0.5: OTHER, 0.25: BOTH}
    size, found = halved_in(lambda s: later.get(s, ONE), (0.0, 1.0), NONE, ONE, 0.3)
    assert (size, found) == (0.25, BOTH)
    assert halved_in(Asked(0.5), (0.98, 1.0), OTHER, ONE, 0.03) == (1.0, OTHER)


def search(evidence: Evidence | None = None) -> _Search:
    found = plain() if evidence is None else evidence
    one = _Search(found, found._test, found._verdict_if)
    one._changed = lambda verdict: changed(verdict, ONE)  # type: ignore[method-assign]
    one._between = lambda at, low, high, found: halved_in(  # type: ignore[method-assign]
        at, (low, high), found, ONE, 0.03
    )
    return one


@pytest.mark.parametrize("guess", [0.2, 0.95, 1.0, 1.04, 1.3, 4.0])
def test_about_a_guess_the_size_is_found_from_either_side(guess: float) -> None:
    """With few questions where the guess is good."""
    at = Asked(1.0)
    found = search()._searched(at, guess, 50.0)
    assert found is not None
    assert 1.0 <= found[0] < 1.031
    assert found[1] is BOTH
    assert len(at.sizes) <= (6 if 0.9 < guess < 1.3 else 12)
    assert at.sizes[0] == guess


def test_a_search_ends_where_it_should() -> None:
    find = search()._searched
    assert find(Asked(3.1), 1.0, 3.0) is None  # not up to the most
    reached = find(Asked(2.98), 1.0, 3.0)
    assert reached is not None
    assert 2.98 <= reached[0] <= 3.0
    never = Asked(1.0)
    assert find(never, 3.0, 3.0) is None  # a guess that is too large already
    assert never.sizes == []
    nothing = Asked(1.5, then=replace(NONE, kind=VerdictKind.CANNOT_BE_JUDGED))
    assert find(nothing, 1.0, 1e6) is None
    assert max(nothing.sizes) < 2.5  # larger ones cannot be judged either


def test_below_the_least_size_nothing_is_asked() -> None:
    """At the least it is known to be the same: the first question lies 20 % above it."""
    at = Asked(1.01)
    found = search()._searched(at, 0.5, 50.0, least=1.0)
    assert found is not None
    assert 1.01 <= found[0] < 1.042
    assert at.sizes[0] == pytest.approx(1.2)
    assert min(at.sizes) > 1.0


def test_a_size_of_next_to_nothing_is_not_searched_on() -> None:
    """Below a two-hundredth of what was guessed any size will do."""
    at = Asked(0.0)
    found = search()._searched(at, 1.0, 50.0)
    assert found is not None
    assert 0 < found[0] <= 0.005
    assert len(at.sizes) < 12


def test_a_size_foretold_rightly_is_tried_once_on_each_side() -> None:
    at = Asked(1.001)
    assert search()._bracketed(at, 1.0, 1.0, 1.005, 50.0) == (1.0, BOTH)
    assert at.sizes == [pytest.approx(1.005), pytest.approx(0.99)]


@pytest.mark.parametrize("threshold", [0.2, 0.8, 0.93, 0.985, 1.2, 3.0])
def test_a_size_foretold_wrongly_is_searched(threshold: float) -> None:
    found = search()._bracketed(Asked(threshold), 1.0, 1.0, 1.005, 50.0)
    assert found is not None
    assert threshold <= found[0] < threshold * 1.031
    assert found[1] is BOTH


def test_between_where_it_may_and_where_it_should_change_it_is_tried_in_steps() -> None:
    """Scatter may change a verdict early: from 0.1 on, where 1 is foretold."""
    for threshold in (0.05, 0.1, 0.31, 0.7):
        at = Asked(threshold)
        found = search()._bracketed(at, 0.1, 1.0, 1.005, 50.0)
        assert found is not None
        assert threshold <= found[0] < threshold * 1.031
        assert at.sizes[0] == pytest.approx(0.1005)
    at = Asked(1.0)
    assert search()._bracketed(at, 0.1, 1.0, 1.005, 50.0) == (1.0, BOTH)
    steps = [b / a for a, b in zip(at.sizes[:-2], at.sizes[1:-2], strict=False)]
    assert steps == pytest.approx([1.3] * 8)  # 0.1005 × 1.3⁸ = 0.82, the next would be 1.07


def test_nothing_beyond_the_most_is_named() -> None:
    at = Asked(1.0)
    assert search()._bracketed(at, 1.0, 1.0, 1.005, 1.0) is None
    assert at.sizes == []
    assert search()._bracketed(Asked(1.0), 1.0, 1.0, 1.005, 1.006) is not None
    early = Asked(0.2)
    found = search()._bracketed(early, 0.1, math.inf, math.inf, 0.3)
    assert found is not None
    assert 0.2 <= found[0] < 0.207
    assert search()._bracketed(Asked(0.35), 0.1, math.inf, math.inf, 0.3) is None


# -- the sizes themselves ---------------------------------------------------------------------


def test_each_shift_is_foretold_and_tried_twice() -> None:
    """What is asked of the lab: 0.5 % beyond the size foretold, and 1 % before it."""
    evidence = plain()
    linear = evidence._test.linear
    tried: list[tuple[float, float]] = []

    def judge(change: Any, recovery: Any, names: Any) -> Verdict:
        moved = change(linear)
        used = (moved.mean_consumed - linear.mean_consumed) * M_CU
        made = (moved.mean_produced - linear.mean_produced) * M_AG
        if used or made:
            tried.append((used, made))
        return evidence._verdict_if(change, recovery, names)

    overturning(evidence, evidence._test, judge)
    d = 0.88 / M_AG - 0.26 / M_CU
    less_silver = (d - limit(1)) * M_AG
    more_copper = (d - limit(1)) * M_CU
    drift = (d - limit(1)) / (1 / M_AG + 1 / M_CU)
    # the product, the metal, one reading (of the metal: a step moves more there), the drift
    want = [(0, -less_silver), (more_copper, 0), (more_copper, 0), (drift, -drift)]
    assert len(tried) == 8
    for i, (used, made) in enumerate(want):
        beyond, before = tried[2 * i], tried[2 * i + 1]
        assert beyond == pytest.approx((1.005 * used, 1.005 * made), rel=0.02, abs=1e-6)
        assert max(map(abs, beyond)) / max(map(abs, before)) == pytest.approx(1.005 / 0.99)


def test_what_faults_are_counted_in() -> None:
    """Steps of 0.01 g, and how many times a size that is met in teaching labs."""
    for kind, steps in ((FaultKind.PRODUCED, 2), (FaultKind.CONSUMED, 2), (FaultKind.DRIFT, 0.5),
                        (FaultKind.ONE_READING, 5)):  # fmt: skip
        fault = of(plain(), kind)
        assert fault is not None
        assert fault.steps == pytest.approx(abs(fault.size) / 0.01)
        assert fault.usual == pytest.approx(fault.steps / steps)
        assert (fault.unit, fault.times) == ("g", pytest.approx(math.nan, nan_ok=True))
    worse = of(plain(), FaultKind.REPEATABILITY)
    assert worse is not None
    assert worse.usual == pytest.approx((worse.size - SIGMA) / SIGMA)
    assert (worse.times, worse.steps) == pytest.approx((worse.size / SIGMA, worse.size / 0.01))
    assert (worse.subject, worse.unit) == ("balance", "g")
    varied = of(plain(), FaultKind.VARIATION)
    assert varied is not None
    assert varied.usual == pytest.approx(varied.size / 0.01)
    assert math.isnan(varied.times)
    assert math.isnan(varied.steps)


def test_a_balance_without_noise_of_its_own_is_counted_in_steps() -> None:
    balance = Balance(readability_g=0.01, repeatability_g=0.0)
    evidence = assess(lab([(9.0, 8.74, 0.7, 1.58)], balance))
    fault = of(evidence, FaultKind.REPEATABILITY)
    assert fault is not None
    assert math.isnan(fault.times)
    assert fault.usual == pytest.approx(fault.size / 0.01) == pytest.approx(fault.steps)


def test_how_much_the_trials_would_have_to_vary_by_hand() -> None:
    """Copper(I) fits from 1.96 standard uncertainties on: √(u² + (v n)²) = D/1.96."""
    made, used = 0.88 / M_AG, 0.26 / M_CU
    u = limit(1) / 1.96
    more = math.sqrt(((made - used) / 1.96) ** 2 - u**2) / made
    fault = of(plain(), FaultKind.VARIATION)
    assert fault is not None
    assert 0.98 * more <= fault.size <= 1.03 * more
    # what is known already counts in the whole, and in how many times it would have to be
    known = weighed(0.26, 0.88, variation=Variation(relative=0.1))
    stated = of(known, FaultKind.VARIATION)
    assert stated is not None
    assert stated.size == pytest.approx(more, rel=0.04)
    assert stated.times == pytest.approx(stated.size / 0.1)
    assert stated.usual == pytest.approx((stated.size - 0.1) / 0.01)
    assert of(weighed(0.26, 0.88, variation=Variation(unknown=True)), FaultKind.VARIATION) is None


@pytest.mark.parametrize(("ratios", "kind"), [
    ({"one": "1", "two": "2"}, FaultKind.VARIATION),
    ({"two": "2", "more": "MORE"}, FaultKind.RECOVERY),
])  # fmt: skip
@pytest.mark.parametrize(("part", "named"), [(0.37, True), (0.43, False)])
def test_no_more_than_four_tenths_may_be_lost_or_vary(
    ratios: dict[str, str], kind: FaultKind, part: float, named: bool
) -> None:
    """Made so much that a variation, or ratios such that a loss, of 37 or 43 % is needed."""
    used = 2.0  # so much that errors of the readings hardly count
    if kind is FaultKind.VARIATION:
        # D = (r − 1) n fits if 1.96 v r ≥ r − 1: v = (1 − 1/r)/1.96; r = 1/(1 − 1.96 v)
        ratio = 1 / (1 - 1.96 * part)
        ratios = {"one": "1", "found": written(ratio)}
    else:
        ratio = 2.0
        # 4 u below 2 n: the loss is 1 − (2 − limit)/r
        ratios = {"two": "2", "more": written(2 / (1 - part))}
    evidence = weighed(used, used / M_CU * ratio * M_AG, ratios=ratios)
    assert (of(evidence, kind) is not None) is named


def test_more_than_all_may_be_recovered_too() -> None:
    """The nearest candidate lies below: 5 % too much silver would make it fit."""
    evidence = weighed(2.0, 2.0 / M_CU * 2.0 * M_AG, ratios={"less": "9/5", "two": "2"})
    fault = of(evidence, FaultKind.RECOVERY)
    assert fault is not None
    used, made = 2.0 / M_CU, 4.0 / M_CU
    part = 1.0
    for _ in range(20):  # 1.8 f n = made − limit(1.8 f)
        part = (made - limit(1.8 * part)) / (1.8 * used)
    assert fault.size == pytest.approx(part - 1, rel=0.05)
    assert fault.size > 0
    assert fault.usual == pytest.approx(fault.size / 0.05)
    assert (fault.subject, fault.unit, fault.reading) == ("Ag", "", "")


@pytest.mark.parametrize(("times", "named"), [(49.0, True), (51.0, False)])
def test_what_is_fifty_times_a_usual_size_is_not_named(times: float, named: bool) -> None:
    """A mass on the product of a hundred display steps, fifty times two, overturns copper(II)."""
    used = 2.0
    # copper(I) fits when the silver made is no more than (n + limit) M; so much more was made
    needed = times * 2 * 0.01
    made = (used / M_CU + limit(1)) * M_AG + needed
    evidence = weighed(used, made, ratios={"one": "1", "found": written(made / M_AG * M_CU / used)})
    fault = of(evidence, FaultKind.PRODUCED)
    assert (fault is not None) is named
    if fault is not None:
        assert -fault.size == pytest.approx(needed, rel=0.03)
        assert fault.usual == pytest.approx(times, rel=0.03)


def test_two_balances_may_disagree() -> None:
    """The silver too heavy by a part: what would make copper(I) of 1.08 by hand."""
    balances = {
        "balance": Balance(readability_g=0.01, repeatability_g=SIGMA),
        "other": Balance(readability_g=0.01, repeatability_g=SIGMA),
    }
    used = 4.0
    made = used / M_CU * 1.08 * M_AG
    plain_lab = lab([(9.0, 9.0 - used, 0.7, 0.7 + made)], ratios={"one": "1", "more": "27/25"})
    on_two = replace(
        plain_lab, instruments=balances, produced=replace(plain_lab.produced, instrument="other")
    )
    fault = of(assess(on_two), FaultKind.CALIBRATION)
    assert fault is not None
    # the least factor f with f made − used ≤ limit: what would have to be added is below zero
    factor = (used / M_CU + limit(1)) / (1.08 * used / M_CU)
    assert fault.size == pytest.approx(factor - 1, rel=0.04)
    assert (fault.subject, fault.unit, fault.reading) == ("other", "", "")
    assert fault.usual == pytest.approx(-fault.size / 0.002)
    assert math.isnan(fault.steps)
    assert of(assess(plain_lab), FaultKind.CALIBRATION) is None


def test_the_first_of_two_sizes_is_named() -> None:
    """More and less silver: of 1.9, 2 and 2.3 what is found at 2 is nearer to 1.9."""
    used = 4.0
    ratios = {"low": "19/10", "two": "2", "high": "23/10"}
    evidence = weighed(used, used / M_CU * 2 * M_AG, ratios=ratios)
    fault = of(evidence, FaultKind.PRODUCED)
    assert evidence.verdict.candidates == ("two",)
    assert fault is not None
    d = 0.1 * used / M_CU
    assert -fault.size == pytest.approx((d - limit(1.9)) * M_AG, rel=0.1)
    # 0.1 × 0.0629 mol less limit(1.9) is more than limit(2): then 2 fits no longer
    assert fault.verdict.candidates == ("low",)


def test_only_the_next_candidates_on_each_side_are_looked_at() -> None:
    """With those up to a twentieth further than the next; the others come in later."""
    used = 4.0
    ratios = {
        "far below": "71/50", "below": "3/2", "next below": "157/100", "two": "2", "next": "12/5",
        "near the next": "5/2", "far": "253/100",
    }  # fmt: skip
    evidence = weighed(used, used / M_CU * 2 * M_AG, ratios=ratios)
    assert evidence.verdict.candidates == ("two",)
    # 2.4 × 1.05 = 2.52 and 1.57 / 1.05 = 1.495
    assert search(evidence).near == ("below", "next below", "two", "next", "near the next")


def test_the_largest_discrepancy_that_fits_by_hand() -> None:
    one = search()
    for ratio in (0.5, 1.0, 2.0, 3.0):
        assert one._limit(ratio) == pytest.approx(limit(ratio), rel=0.015)
    # without display readings it is found from the distribution alone
    smooth = Balance(readability_g=0.01, repeatability_g=0.02)
    evidence = assess(lab([(9.0, 8.74, 0.7, 1.58)], smooth))
    without = search(evidence)
    without.linear = without.linear.repeating(
        dict.fromkeys(("wire before", "wire after", "paper", "paper + silver"), SIGMA)
    )
    assert without.linear.blocks(1.0, 1.0)[0] == []
    assert without._limit(1.0) == pytest.approx(limit(1.0), rel=0.002)


@pytest.mark.parametrize(("trials", "t"), [(2, 12.706), (3, 4.303), (6, 2.571)])
def test_the_largest_value_of_student_t_that_fits(trials: int, t: float) -> None:
    """From tables of Student's t, both tails 5 %; to three per cent, upwards."""
    balance = Balance(readability_g=0.01, repeatability_g=SIGMA)
    evidence = assess(lab([(9.0, 8.74, 0.7, 1.58)] * trials, balance))
    assert t * 0.9999 <= search(evidence)._student <= t * 1.031


STATES: dict[str, Callable[[], Evidence]] = {
    "one trial": plain,
    "recovery": lambda: weighed(0.26, 0.82, recovery=(0.85, 1.0)),
    "variation": lambda: weighed(0.26, 0.88, variation=Variation(relative=0.05)),
    "nothing reacted": lambda: weighed(0.03, 0.11, ratios={"a": "1/2", "b": "2"}),
    "none fits": lambda: weighed(0.26, 0.70, ratios={"a": "1", "b": "11/5"}),
    "two": lambda: assess(
        lab(
            [(9.0, 8.74, 0.7, 1.59), (9.0, 8.71, 0.7, 1.66)],
            Balance(readability_g=0.01, repeatability_g=0.005),
        )
    ),
}


@pytest.mark.parametrize("name", STATES)
def test_every_size_is_where_the_verdict_changes(name: str) -> None:
    """Another at the size itself, to half a per cent, and the same at 0.96 of it."""
    evidence = STATES[name]()
    lines = evidence._test.linear
    low, high = evidence.experiment.recovery
    names = tuple(evidence.candidates)

    def verdict(fault: Fault, part: float) -> Verdict:
        size = part * fault.size
        way = lines.shift_of([fault.reading]) if fault.reading else None
        change: Any = lambda a: a  # noqa: E731
        allowed = (low, high)
        if fault.kind in (FaultKind.PRODUCED, FaultKind.CONSUMED):
            change = lambda a: a.shifted(size * way)  # noqa: E731
        elif fault.kind is FaultKind.ONE_READING:
            places = lines.readings_of(fault.reading)
            change = lambda a: a.shifted(size * a.shift_of_reading(places[0]))  # noqa: E731
        elif fault.kind is FaultKind.DRIFT:
            roles = ("wire before", "wire after", "paper", "paper + silver")
            moved = sum(i * lines.shift_of([role]) for i, role in enumerate(roles))
            change = lambda a: a.shifted(size * moved)  # noqa: E731
        elif fault.kind is FaultKind.REPEATABILITY:
            roles = ("wire before", "wire after", "paper", "paper + silver")
            change = lambda a: a.repeating(dict.fromkeys(roles, size))  # noqa: E731
        elif fault.kind is FaultKind.VARIATION:
            known = evidence.experiment.variation
            before = known.relative if known is not None else 0.0
            more = math.sqrt(max(size**2 - before**2, 0.0))
            change = lambda a: a.varying(more)  # noqa: E731
        elif fault.size < 0:
            allowed = (low + size, high)
        else:
            allowed = (low, high + size)
        return evidence._verdict_if(change, allowed, names)

    assert evidence.overturned_by
    for fault in evidence.overturned_by:
        assert changed(verdict(fault, 1.006), evidence.verdict), fault.kind
        assert not changed(verdict(fault, 0.96), evidence.verdict), fault.kind


def test_a_fault_of_one_of_two_balances_is_counted_in_its_own_steps() -> None:
    """The second trial on a balance of 0.02 g, which needs fewer steps for the same."""
    record = lab([(9.0, 8.74, 0.7, 1.58)] * 2, Balance(readability_g=0.01, repeatability_g=0.02))
    other = Balance(readability_g=0.02, repeatability_g=0.05)
    first, second = record.trials
    on_two = replace(
        record,
        instruments={**record.instruments, "other": other},
        trials=(first, replace(second, instruments={"balance": "other"})),
    )
    evidence = assess(on_two)
    drift, worse = of(evidence, FaultKind.DRIFT), of(evidence, FaultKind.REPEATABILITY)
    assert drift is not None
    assert worse is not None
    assert drift.subject == "other"
    assert drift.steps == pytest.approx(abs(drift.size) / 0.02)
    step_g, stated_g = {"other": (0.02, 0.05), "balance": (0.01, 0.02)}[worse.subject]
    assert (worse.steps, worse.times) == pytest.approx((worse.size / step_g, worse.size / stated_g))
    assert worse.usual == pytest.approx(worse.times - 1)


@pytest.mark.parametrize(("first", "second", "expected"), [
    # copper(II) fits now; where copper(I) comes in beside it, half-way to where the former ends
    ((1.0, 5.0), (-1.0, 1.004), (1.0, 1.0, 1.002)),
    # no nearer edge: half a per cent beyond
    ((1.0, 5.0), (-1.0, 3.0), (1.0, 1.0, 1.005)),
    # none between: no verdict of another candidate until copper(I) fits
    ((2.0, 5.0), (-1.0, 1.0), (2.0, 2.0, 2.01)),
    # both, and then copper(I) alone: the first of them counts
    ((0.5, 5.0), (-1.0, 1.0), (0.5, 0.5, 0.5025)),
    # of the other sign, or never
    ((-5.0, -1.0), (-0.5, math.inf), (math.inf, math.inf, math.inf)),
    ((-5.0, -1.0), (-0.5, 4.0), (math.inf, math.inf, math.inf)),
])  # fmt: skip
def test_from_which_multiple_another_verdict_is_expected(
    first: tuple[float, float], second: tuple[float, float], expected: tuple[float, float, float]
) -> None:
    """From the multiples of a shift between which each candidate fits."""
    one = search()
    fits = {1.0: first, 2.0: second}
    one._fits = lambda ratio, _: fits[ratio]  # type: ignore[method-assign]
    assert one._expected(np.zeros((2, 1))) == pytest.approx(expected)
