"""Chances of what displays show, and of each verdict, against sums over the digits by hand.

A reading is the true mass in display steps with its normal error, rounded; what lies on the pan
before may weigh anything. By how much two readings differ is then as uncertain as two roundings
(JCGM 100:2008, 4.3.7 and F.2.2.1: rectangular, a variance of a twelfth of a step squared each).
"""

from __future__ import annotations

import math
from dataclasses import replace
from itertools import product
from types import SimpleNamespace
from typing import Any

import numpy as np
import pytest

from stoichkit import assess_weighings, experiments
from stoichkit.measurement.displays import Balance
from stoichkit.planning.design import _Judged
from stoichkit.planning.outcomes import (
    PARTS,
    Displays,
    Lattice,
    Points,
    Rows,
    Stack,
    _added,
    _cells_needed,
    _count,
    _differing,
    chances_of,
    displays_of,
    lattice_of,
    stack_of,
)
from stoichkit.planning.plan import Plan, chances
from stoichkit.planning.strips import Strips
from stoichkit.uncertainty.digits import DIFFERENCE, SINGLE
from stoichkit.uncertainty.distribution import SumDistribution
from stoichkit.uncertainty.sources import Shape, Term

SILVER = experiments.load("copper-silver")
NONE = (0.0, 0.0)


def displays(used: float, made: float, **other: Any) -> Displays:
    """Return displays of two weighings by difference without noise, unless said otherwise."""
    usual: dict[str, Any] = {"trials": 1, "step_mol": (1.0, 1.0), "noise": (NONE, NONE)}
    return Displays(amounts_steps=(used, made), **{**usual, **other})


def table_of(found: Lattice) -> dict[tuple[int, int], float]:
    """Return the probability of each pair of sums of digits."""
    a, b = (np.rint(each).astype(int).tolist() for each in (found.consumed, found.produced))
    return {
        (i, j): float(found.p[k, m]) for k, i in enumerate(a) for m, j in enumerate(b)
        if found.p[k, m] > 1e-6
    }  # fmt: skip


BY_HAND: dict[str, tuple[Displays, float, dict[tuple[int, int], float], float]] = {
    # 3.3 steps show 3 in 70 % and 4 in 30 % of places between two steps, 6.4 show 6 in 60 %
    "apart": (displays(3.3, 6.4), 0.0,
              {(3, 6): 0.42, (3, 7): 0.28, (4, 6): 0.18, (4, 7): 0.12}, 1e-9),
    # both trials add up: 3 + 3, 3 + 4 or 4 + 3, 4 + 4; of exactly 2 steps always 4
    "two trials": (displays(3.3, 2.0, trials=2), 0.0,
                   {(6, 4): 0.49, (7, 4): 0.42, (8, 4): 0.09}, 1e-9),
    "three trials": (displays(0.5, 1.0, trials=3), 0.0,
                     {(n, 3): math.comb(3, n) / 8 for n in range(4)}, 1e-9),
    # one reading of both, the empty crucible at a place u of −½ to ½ (both larger with it): 3.3
    # steps show 4 where u > 0.2, 2.4 show 3 where u > 0.1: the one not without the other
    "empty crucible": (displays(3.3, 2.4, noise=((0.0,), (0.0,)), shared_noise=0.0,
                                shared_sign=1.0), 0.0,
                       {(3, 2): 0.6, (3, 3): 0.1, (4, 3): 0.3}, 0.003),
    # the residue, added in one amount and subtracted in the other: 3.3 show 4 where u > 0.2, 2.4
    # show 3 where u < −0.1
    "residue": (displays(3.3, 2.4, noise=((0.0,), (0.0,)), shared_noise=0.0, shared_sign=-1.0),
                0.0, {(3, 2): 0.3, (3, 3): 0.4, (4, 2): 0.3}, 0.003),
    # 2 steps ± 50 % are 2 + t with t from −1 to 1, of which 2 are shown in 1 − |t|: on average ½;
    # 3 in t of the upper half: ¼. The same of 2 made.
    "spread": (displays(2.0, 0.0, noise=(NONE, NONE)), 0.5,
               {(1, 0): 0.25, (2, 0): 0.5, (3, 0): 0.25}, 1e-9),
    # both amounts move together: ∫ (1 − t)² dt = 1/3 that neither is a step off, 1/6 that one
    # is, and both are by ½ ∫ t² dt = 1/6 to each side
    "together": (displays(2.0, 2.0), 0.5,
                 {(2, 2): 1 / 3, (1, 1): 1 / 6, (3, 3): 1 / 6, (2, 1): 1 / 12, (2, 3): 1 / 12,
                  (1, 2): 1 / 12, (3, 2): 1 / 12}, 0.001),
}  # fmt: skip


@pytest.mark.parametrize("case", BY_HAND)
def test_what_displays_show_by_hand(case: str) -> None:
    made, spread, by_hand, within = BY_HAND[case]
    found = lattice_of(made, spread=spread)
    assert table_of(found) == pytest.approx(by_hand, abs=within)
    assert found.p.sum() == pytest.approx(1.0)
    # the mean amounts: so many mol to a step
    scaled = lattice_of(replace(made, step_mol=(0.25, 0.5)), spread=spread)
    assert scaled.consumed == pytest.approx(found.consumed / 4)
    assert scaled.produced == pytest.approx(found.produced / 2)
    assert scaled.step_mol == 0.5


def normal_between(low: float, high: float, sigma: float) -> float:
    """Return the chance that a normal error lies between two values."""
    return (math.erf(high / sigma / math.sqrt(2)) - math.erf(low / sigma / math.sqrt(2))) / 2


@pytest.mark.parametrize("noise", [0.05, 0.3, 1.2])
def test_a_single_reading_shows_each_digit_as_often_as_a_normal_error_says(noise: float) -> None:
    """7.2 steps are shown as k where the error lies between k − 7.7 and k − 6.7 steps; of a
    difference of two the error of both is normal with √2 of that and any place between steps."""
    one = displays(7.2, 11.6, noise=((noise,), (noise, noise)))
    found = lattice_of(one, spread=0.0)
    used, made = found.p.sum(axis=1), found.p.sum(axis=0)
    for digit, p in zip(found.consumed.tolist(), used.tolist(), strict=True):
        assert p == pytest.approx(normal_between(digit - 7.7, digit - 6.7, noise), abs=1e-4)
    place = np.linspace(-0.5, 0.5, 401)[:-1] + 1 / 800
    for digit, p in zip(found.produced.tolist(), made.tolist(), strict=True):
        # 11.6 + u, u anywhere in one step, shown as digit
        each = [normal_between(digit - 12.1 - u, digit - 11.1 - u, noise * math.sqrt(2))
                for u in place.tolist()]  # fmt: skip
        assert p == pytest.approx(np.mean(each), abs=1e-4)


@pytest.mark.parametrize("sign", [1.0, -1.0])
@pytest.mark.parametrize("trials", [1, 3])
def test_a_shared_reading_moves_both_amounts(sign: float, trials: int) -> None:
    """Of readings with 0.5, 0.6 and 0.7 steps of noise rounding is as good as independent: each
    has its square and a twelfth as variance, the shared one its own as covariance; the amounts,
    even within ±5 %, add 0.05²/3 of theirs. Over n trials all add up n times."""
    made = displays(
        40.0, 60.0, trials=trials, noise=((0.5,), (0.6,)), shared_noise=0.7, shared_sign=sign
    )
    found = stack_of(made, np.array([1.0, 0.5]), spread=0.05)
    for p, (first_a, first_b), scale in zip(found.p, found.first, (1.0, 0.5), strict=True):
        a, b = first_a + np.arange(p.shape[0]), first_b + np.arange(p.shape[1])
        mean_a, mean_b = p.sum(axis=1) @ a, p.sum(axis=0) @ b
        assert (mean_a, mean_b) == pytest.approx(
            (40 * scale * trials, 60 * scale * trials), rel=1e-3
        )
        even, shared = 0.05**2 / 3 * scale**2, 0.49 + 1 / 12
        variances = p.sum(axis=1) @ (a - mean_a) ** 2, p.sum(axis=0) @ (b - mean_b) ** 2
        both = (a - mean_a) @ p @ (b - mean_b)
        assert variances[0] == pytest.approx(
            trials * (0.25 + 1 / 12 + shared + 1600 * even), rel=0.01
        )
        assert variances[1] == pytest.approx(
            trials * (0.36 + 1 / 12 + shared + 3600 * even), rel=0.01
        )
        assert both / trials == pytest.approx(sign * shared + 2400 * even, abs=0.01)


def test_lattices_of_several_amounts_are_those_of_each() -> None:
    """3.3 and 6.6 steps used, 2.4 and 4.8 made."""
    found = stack_of(displays(3.3, 2.4), np.array([1.0, 2.0]), spread=0.0)
    for p, first, (used, made) in zip(found.p, found.first, ((3.3, 2.4), (6.6, 4.8)), strict=True):
        by_hand = {
            (i, j): (1 - abs(i - used)) * (1 - abs(j - made))
            for i, j in product(range(10), range(10)) if abs(i - used) < 1 and abs(j - made) < 1
        }  # fmt: skip
        shown = {
            (int(first[0]) + i, int(first[1]) + j): float(p[i, j])
            for i, j in product(*map(range, p.shape)) if p[i, j] > 1e-9
        }  # fmt: skip
        assert shown == pytest.approx(by_hand)


def cdf_of(shape: Shape, scale: float, x: float) -> float:
    """Return the distribution function of a rectangle of ± scale, or of a normal error."""
    if shape is Shape.NORMAL:
        return (1 + math.erf(x / scale / math.sqrt(2))) / 2
    return min(max((x / scale + 1) / 2, 0.0), 1.0)


ERRORS = [
    (shape, scale)
    for shape in (Shape.RECTANGULAR, Shape.NORMAL)
    for scale in (0.05, 0.2, 0.7, 1.3, 3.7)
]


@pytest.mark.parametrize(("shape", "scale"), ERRORS)
@pytest.mark.parametrize("step", [0.5, 2.0])
def test_the_amount_made_has_the_sum_of_digits_and_error(
    shape: Shape, scale: float, step: float
) -> None:
    """Each digit's probability times the distribution function of the error from there on."""
    p = np.array([[0.1, 0.0, 0.4, 0.0, 0.0], [0.0, 0.2, 0.2, 0.05, 0.05]])
    made = 7.0 + step * np.arange(5)
    rows = Rows(
        Lattice(np.array([1.0, 2.0]), made, p, step),
        SumDistribution([]), SumDistribution([Term(shape, scale * step)]),
    )  # fmt: skip
    y = np.array([-1e3, *np.linspace(3.0, 9.0, 37) * step + 7.0 - 6 * step, 1e3])

    def by_hand(row: int, x: float) -> float:
        return math.fsum(w * cdf_of(shape, scale * step, x - at) for w, at in zip(p[row], made))  # noqa: B905

    expected = np.array([[by_hand(row, x) for x in y.tolist()] for row in (0, 1)])
    found = rows.cdf(np.array([0, 1]), np.array([y, y]))
    assert found == pytest.approx(expected, abs=1e-3)
    assert found[:, 0] == pytest.approx([0.0, 0.0], abs=1e-9)
    assert found[:, -1] == pytest.approx([0.5, 0.5], abs=1e-9)
    # rows in any order, amounts of any shape
    deep = rows.cdf(np.array([1, 0, 1]), np.array([y, y, y]).reshape(3, 3, -1))
    assert deep.reshape(3, -1) == pytest.approx(expected[[1, 0, 1]], abs=1e-3)
    assert rows.cdf(np.array([0, 1]), np.array([9.1, 9.1])) == pytest.approx(
        [by_hand(0, 9.1), by_hand(1, 9.1)], abs=1e-3
    )
    reach = scale * step * (1.0 if shape is Shape.RECTANGULAR else 6.0)
    assert rows.low == pytest.approx([7.0 - reach, 7.0 + step - reach])
    assert rows.high == pytest.approx([7.0 + 2 * step + reach, 7.0 + 4 * step + reach])


def test_digits_alone_and_points_step_up_where_they_lie() -> None:
    p = np.array([[0.25, 0.5, 0.25]])
    rows = Rows(
        Lattice(np.array([1.0]), np.array([4.0, 6.0, 8.0]), p, 2.0),
        SumDistribution([]), SumDistribution([]),
    )  # fmt: skip
    y = np.array([[-9.0, 1.9, 3.9, 4.0, 5.9, 6.1, 7.9, 8.1, 50.0]])
    expected = [[0.0, 0.0, 0.0, 0.25, 0.25, 0.75, 0.75, 1.0, 1.0]]
    assert rows.cdf(np.array([0]), y).tolist() == expected
    points = Points(np.array([1.0, 2.0]), np.array([4.0, 6.0]), np.array([0.4, 0.6]))
    alone = Rows(points, SumDistribution([]), SumDistribution([]))
    assert alone.cdf(np.array([0, 1]), np.array([[3.9, 4.0, 9.0], [3.9, 5.9, 6.0]])).tolist() == [
        [0.0, 0.4, 0.4], [0.0, 0.0, 0.6],
    ]  # fmt: skip
    smooth = Rows(
        points, SumDistribution([Term(Shape.RECTANGULAR, 0.1)]),
        SumDistribution([Term(Shape.RECTANGULAR, 2.0)]),
    )  # fmt: skip
    # 0.4 × (x − 2) / 4 and 0.6 × (x − 4) / 4
    y = np.array([[1.0, 3.0, 5.0, 9.0]] * 2)
    assert smooth.cdf(np.array([0, 1]), y) == pytest.approx(
        np.array([[0.0, 0.1, 0.3, 0.4], [0.0, 0.0, 0.15, 0.6]]), abs=1e-3
    )
    assert (smooth.low.tolist(), smooth.high.tolist()) == ([2.0, 4.0], [6.0, 8.0])
    assert smooth.band.error_mol == pytest.approx(0.1)
    assert alone.band.error_mol == 0.0


STRIPS = Strips(
    ratios=np.array([[[1.0], [1.0]], [[1.9], [2.1]], [[3.0], [3.0]]]),
    limits_mol=np.array([[[[1.1], [1.1]], [[1.4], [1.4]], [[1.2], [1.2]]]]),
    edges_mol=np.array([]),
    floors_mol=(1.5, 2.5),
    shown=np.array([[0.5, 0.5, 1.6], [0.2, 0.4, 1.7], [0.1, 0.3, 0.8]]),
    which=np.array([0, 2, 3]),
)
"""Candidates 0, 2 and 3 of a lab; the second may be recovered to 0.95 to 1.05."""


def judged(strips: Strips, a: float, b: float) -> tuple[list[int], bool]:
    """Return the compatible candidates by the definition, and whether an amount can be judged."""
    fits = []
    for place, number in enumerate(strips.which.tolist()):
        (low,), (high,) = strips.ratios[place]
        (under,), (over,) = strips.limits_mol[0, place]
        if low * a - under <= b <= high * a + over:
            fits.append(number)
    if len(fits) == 1:
        weight_a, weight_b, least = strips.shown[strips.which.tolist().index(fits[0])]
        if weight_a * a + weight_b * b < least:
            fits = [*fits, -1]  # not told from nothing
    return fits, a >= -strips.floors_mol[0] and b >= -strips.floors_mol[1]


def outcomes(strips: Strips, weighed: Any, truth: int) -> dict[str, float]:
    """Return the chance of each verdict over amounts (a, b, probability)."""
    found = dict.fromkeys(PARTS, 0.0)
    for a, b, p in weighed:
        fits, sound = judged(strips, a, b)
        if not sound:
            found["cannot_be_judged"] += p
        elif not fits:
            found["none_fits"] += p
        elif len(fits) > 1:
            found["not_told_apart"] += p
        else:
            found["right" if fits == [truth] else "wrong"] += p
    return found


def coarse_lab() -> Lattice:
    """Return −2 to 4 used and −3 to 9 made in steps of 1, every pair with its own chance."""
    rng = np.random.default_rng(8)
    p = rng.uniform(0.5, 1.0, (7, 13))
    return Lattice(np.arange(-2.0, 5.0), np.arange(-3.0, 10.0), p / p.sum(), 1.0)


def same(found: Any, by_hand: dict[str, float], within: float) -> None:
    assert {part: getattr(found, part) for part in PARTS} == pytest.approx(by_hand, abs=within)


@pytest.mark.parametrize("truth", [0, 1, 2, 3, -1])
@pytest.mark.parametrize("strips", [
    STRIPS, replace(STRIPS, floors_mol=(math.inf, math.inf)),
    replace(STRIPS, floors_mol=(0.5, 9.0)), replace(STRIPS, floors_mol=(9.0, 0.5)),
    replace(STRIPS, shown=np.array([[1.0, 1.0, -math.inf]] * 3)),
])  # fmt: skip
def test_the_chance_of_each_verdict_summed_over_the_digits(strips: Strips, truth: int) -> None:
    lab = coarse_lab()
    every = [
        (a, b, float(lab.p[i, j]))
        for (i, a), (j, b) in product(enumerate(lab.consumed.tolist()),
                                      enumerate(lab.produced.tolist()))
    ]  # fmt: skip
    rows = Rows(lab, SumDistribution([]), SumDistribution([]))
    by_hand = outcomes(strips, every, truth)
    same(chances_of(rows, strips, truth), by_hand, 1e-9)
    if truth < 0:
        assert by_hand["right"] == 0.0
    else:  # the map's own sum, of the labs as many scales of one amount
        stack: Any = SimpleNamespace(
            p=np.stack([lab.p, lab.p]), first=np.array([[-2, -3], [-2, -3]])
        )
        if truth in strips.which and strips.floors_mol[1] > 3:  # that takes no negative product
            place = strips.which.tolist().index(truth)
            one = _Judged(place, (strips,), np.zeros(3), np.ones((2, 1)))
            assert one.right(stack, np.array([1.0, 1.0]), (1.0, 1.0)) == pytest.approx(
                np.full((2, 1), by_hand["right"])
            )


@pytest.mark.parametrize("truth", [0, 2])
def test_errors_that_no_display_rounds_are_integrated(truth: int) -> None:
    """Of the amount made ±0.35, of that used ±0.2: here by 6 × 6 equal parts."""
    lab = coarse_lab()
    parts = ((np.arange(6) + 0.5) / 3 - 1).tolist()
    every = [
        (a + 0.2 * da, b + 0.35 * db, float(lab.p[i, j]) / 36)
        for (i, a), (j, b) in product(enumerate(lab.consumed.tolist()),
                                      enumerate(lab.produced.tolist()))
        for da, db in product(parts, parts)
    ]  # fmt: skip
    rows = Rows(
        lab, SumDistribution([Term(Shape.RECTANGULAR, 0.2)]),
        SumDistribution([Term(Shape.RECTANGULAR, 0.35)]),
    )  # fmt: skip
    same(chances_of(rows, STRIPS, truth), outcomes(STRIPS, every, truth), 0.01)


def shown_as(amount: float, noise: float) -> dict[int, float]:
    """Return how often a difference of two readings shows each number of steps."""
    if not noise:
        below = math.floor(amount)
        return {below: 1 - amount + below, below + 1: amount - below}
    place = (np.arange(200) + 0.5) / 200 - 0.5
    return {
        digit: math.fsum(
            normal_between(digit - 0.5 - amount - u, digit + 0.5 - amount - u, noise * math.sqrt(2))
            for u in place.tolist()
        ) / 200
        for digit in range(math.floor(amount - 1 - 5 * noise), math.ceil(amount + 2 + 5 * noise))
    }  # fmt: skip


@pytest.mark.parametrize(
    ("steps", "noise", "recovery", "recovered", "truth"),
    [
        (3.3, 0.0, (1.0, 1.0), 1.0, 0), (3.3, 0.0, (1.0, 1.0), 1.0, 1),
        (2.6, 0.3, (1.0, 1.0), 1.0, 1), (0.0, 0.5, (1.0, 1.0), 1.0, -1),
        (4.4, 0.5, (0.9, 1.0), 0.92, 0), (4.4, 0.5, (0.9, 1.0), 0.92, 1),
    ],
)  # fmt: skip
def test_a_planned_lab_is_every_pair_of_readings_judged_one_by_one(
    steps: float, noise: float, recovery: tuple[float, float], recovered: float, truth: int
) -> None:
    """One trial of exactly this amount: all that both displays may show, each as often as it is,
    and what the test says of it."""
    balance = Balance(readability_g=0.01, repeatability_g=0.01 * noise)
    lab = replace(SILVER.with_instrument("balance", balance), recovery=recovery)
    names = [c.name for c in lab.candidates]
    ratio = float(lab.candidates[truth].ratio) if steps else 0.0
    used, made = (
        shown_as(steps, noise),
        shown_as(steps * ratio * recovered * 107.868 / 63.546, noise),
    )
    pairs = [(i, j, p * q) for (i, p), (j, q) in product(used.items(), made.items())]
    i, j, p = np.array(pairs).T
    seen = assess_weighings(
        20 + i / 100, np.full(i.size, 20.0), np.full(i.size, 7.0), 7 + j / 100,
        consumed="Cu", produced="Ag", candidates=lab.candidates, balance=balance, recovery=recovery,
    )  # fmt: skip
    fits = seen.compatible.sum(axis=1)
    alone = (fits == 1) & ~seen.nothing_reacted & ~seen.below_zero
    mine = seen.compatible[:, truth] if truth >= 0 else np.zeros(i.size, dtype=bool)
    by_hand = {
        "right": p[alone & mine].sum(), "wrong": p[alone & ~mine].sum(),
        "none_fits": p[(fits == 0) & ~seen.below_zero].sum(),
        "cannot_be_judged": p[seen.below_zero].sum(),
    }  # fmt: skip
    plan = Plan(experiment=lab, consumed_mol=(steps or 3.0) * 0.01 / 63.546, spread=0.0)
    name = names[truth] if truth >= 0 else "nothing reacted"
    found = chances(plan, name, recovered=recovered)
    for part, value in by_hand.items():
        assert getattr(found, part) == pytest.approx(value, abs=2e-4), part


def side(
    roles: str, signs: tuple[float, ...], noise: tuple[float, ...], step: float, **other: Any
) -> Any:
    """Return the display readings of one amount."""
    block = {"kind": DIFFERENCE, "count": 2, "noise": noise, "steps": (step, step), **other}
    return SimpleNamespace(roles=tuple(roles), signs=signs, block=SimpleNamespace(**block))


def test_displays_are_those_of_both_amounts() -> None:
    """3 and 5 mol in steps of 0.5 and 0.25 mol of the mean of two trials: 3 and 10 steps each."""
    linear: Any = SimpleNamespace(mean_consumed=3.0, mean_produced=5.0, sources=[
        SimpleNamespace(kind="rounding", scale=9.0, dof=9.0),
        SimpleNamespace(kind="variation", scale=0.03, dof=4.0),
    ])  # fmt: skip
    one = side("ab", (1.0, -1.0), (0.1, 0.2), 0.5)
    other = side("cd", (1.0, -1.0), (0.3, 0.4), 0.25)
    found = displays_of(linear, (one, other), 2)
    assert found == Displays(
        trials=2, amounts_steps=(3.0, 10.0), step_mol=(0.5, 0.25), noise=((0.1, 0.2), (0.3, 0.4)),
        variation=0.03, variation_dof=4.0,
    )  # fmt: skip
    assert found.shared_noise is None
    linear.sources.pop()
    for signs, sign in (((1.0, -1.0), -1.0), ((-1.0, 1.0), 1.0)):
        residue = side("bd", signs, (0.2, 0.4), 0.25)
        found = displays_of(linear, (one, residue), 2)
        assert found is not None
        assert (found.noise, found.shared_noise) == (((0.1,), (0.4,)), 0.2)
        assert (found.shared_sign, found.variation) == (sign, 0.0)
        assert found.variation_dof == math.inf
    alone = side("a", (1.0,), (0.1,), 0.5, kind=SINGLE)
    assert displays_of(linear, (alone, other), 2) is not None
    for pair in (
        (one, side("ab", (1.0, -1.0), (0.1, 0.2), 0.5)),
        (alone, side("ad", (1.0, -1.0), (0.1, 0.2), 0.5)),
        (side("ab", (1.0, -1.0), (0.1, 0.2), 0.5, count=1), other),
        (one, side("cd", (1.0, -1.0), (0.1, 0.2), 0.5, kind="triple")),
    ):  # fmt: skip
        assert displays_of(linear, pair, 2) is None


def test_sums_over_equal_trials_by_hand() -> None:
    """(0.1 + 0.2 y + 0.3 x + 0.4 x y)³, the powers of x and y being the digits above the first."""
    p = np.array([[[0.1, 0.2], [0.3, 0.4]], [[1.0, 0.0], [0.0, 0.0]]])
    first = np.array([[2, 5], [0, -1]])
    found = _added(Stack(p, first), 3)
    assert found.first.tolist() == [[6, 15], [0, -3]]
    assert found.p.shape == (2, 4, 4)
    assert found.p[0, 0] == pytest.approx([0.001, 0.006, 0.012, 0.008])
    assert found.p[0, 3] == pytest.approx([0.027, 0.108, 0.144, 0.064])
    assert found.p[0, 1, 0] == pytest.approx(3 * 0.1**2 * 0.3)
    assert found.p[0, 1, 1] == pytest.approx(3 * 0.1**2 * 0.4 + 6 * 0.1 * 0.2 * 0.3)
    assert found.p[1, 0, 0] == pytest.approx(1.0)
    assert found.p.sum(axis=(1, 2)) == pytest.approx([1.0, 1.0])


@pytest.mark.parametrize(
    ("lab", "spread", "scale", "most"),
    [
        # 2 × (0.1 + 3.5 × 0.01) × 20 + 2.5 × 4.5 × 0.1 √2 + 2 = 8.991 steps a trial, of 400
        (displays(10.0, 20.0, noise=((0.1, 0.1),) * 2, variation=0.01), 0.1, 1.0, 44),
        # of 10 made 2.7, of 20 used 4: these count, 7.591
        (displays(20.0, 10.0, noise=((0.1, 0.1),) * 2, variation=0.01), 0.1, 1.0, 52),
        (displays(10.0, 20.0, noise=((0.1, 0.1),) * 2), 0.1, 2.0, 34),  # 11.591
        (displays(10.0, 20.0), 0.0, 1.0, 200),  # 2 steps: up to 400 and no more
    ],
)  # fmt: skip
def test_up_to_how_many_trials_digits_matter(
    lab: Displays, spread: float, scale: float, most: int
) -> None:
    assert replace(lab, trials=most).coarse(spread, scale=scale)
    assert not replace(lab, trials=most + 1).coarse(spread, scale=scale)


def test_amounts_are_tried_finely_unless_both_displays_are_noisy() -> None:
    """Of 20 steps ± 10 % in sixteenths 64, in sixths 24; noisy is above 0.4 steps."""
    for noise, count in (
        (((0.4,), (0.4,)), 64), (((0.41,), (0.41,)), 24), (((0.1,), (0.9,)), 64),
        (((0.9,), (0.1,)), 64),
    ):  # fmt: skip
        assert _count(displays(10.0, 20.0, noise=noise), 1.0, 0.1) == count


@pytest.mark.parametrize(("dof", "variance"), [(math.inf, 1.0), (8.0, 8 / 6)])
def test_trials_that_differ_by_an_estimated_variation(dof: float, variance: float) -> None:
    """5 % of 20 steps made, a variance of 1, or dof / (dof − 2) of it for Student t; what is used
    is spread by ± 10 % of 10 steps and two roundings alone."""
    lab = displays(10.0, 20.0, noise=((0.1, 0.1),) * 2, variation=0.05, variation_dof=dof)
    found = lattice_of(lab, spread=0.1)
    used, made = found.p.sum(axis=1), found.p.sum(axis=0)
    assert _differing(lab, 0.1).p.sum() == pytest.approx(1.0)
    for p, at, mean, by_hand in (
        (used, found.consumed, 10.0, 1 / 3 + 1 / 6 + 0.02),
        (made, found.produced, 20.0, variance + 4 / 3 + 1 / 6 + 0.02),
    ):
        assert p @ at == pytest.approx(mean, abs=0.02)
        assert p @ (at - mean) ** 2 == pytest.approx(by_hand, rel=0.02)
    both = (found.consumed - 10) @ found.p @ (found.produced - 20)
    assert both == pytest.approx(2 / 3, rel=0.02)  # 10 × 20 × 0.1²/3


@pytest.mark.parametrize(
    ("error", "limit", "cells"),
    [
        ([], 1.0, 1), ([Term(Shape.RECTANGULAR, 1.0)], 0.0, 33),
        ([Term(Shape.RECTANGULAR, 1.0)], 8.0, 5), ([Term(Shape.RECTANGULAR, 1.0)], 9.9, 5),
        ([Term(Shape.RECTANGULAR, 1.0)], 100.0, 1), ([Term(Shape.RECTANGULAR, 1.0)], 0.1, 33),
        ([Term(Shape.NORMAL, 1.0)], 40.0, 5),
    ],
)  # fmt: skip
def test_errors_are_cut_finely_beside_the_narrowest_strip(
    error: list[Term], limit: float, cells: int
) -> None:
    """Twenty to its half-width of what reaches ±1 (or ±5 deviations), but 33 at most."""
    strips: Any = SimpleNamespace(narrowest_mol=limit)
    assert _cells_needed(SumDistribution(error), strips) == cells


@pytest.mark.parametrize("truth", [0, 2, 3])
def test_a_curve_sums_the_same_digits_with_limits_that_grow(truth: int) -> None:
    """Two amounts, of which the second widens every limit by what it has above the first; judged
    by narrow strips and by wide ones. Digits of 2 and 0.5 mol."""
    narrow = replace(
        STRIPS, floors_mol=(1.5, 99.0), limits_mol=1.01 * STRIPS.limits_mol,
        ratios=STRIPS.ratios / 4,
    )  # fmt: skip
    wide = narrow.at_least(np.full((3, 2, 1), 1.3))
    lab, growth = coarse_lab(), np.array([0.21, 0.0, 0.37])
    first = np.array([[-1, -3], [0, -2]])
    stack: Any = SimpleNamespace(p=np.stack([lab.p, lab.p[::-1]]), first=first)
    place = STRIPS.which.tolist().index(truth)
    one = _Judged(place, (narrow, wide), growth, np.ones((2, 2)))
    found = one.right(stack, np.array([1.0, 1.6]), (2.0, 0.5))
    for lattice, more in ((0, 0.0), (1, 0.6)):
        for way, strips in enumerate((narrow, wide)):
            # what shows a reaction is told beside the widest strips, and stays
            grown = replace(
                strips, limits_mol=strips.limits_mol + more * growth[:, None, None],
                shown=STRIPS.shown,
            )  # fmt: skip
            every = [
                (2.0 * (first[lattice, 0] + i), 0.5 * (first[lattice, 1] + j), float(p))
                for (i, j), p in np.ndenumerate(stack.p[lattice])
            ]
            by_hand = outcomes(grown, every, truth)["right"]
            assert found[lattice, way] == pytest.approx(by_hand, abs=1e-9)
