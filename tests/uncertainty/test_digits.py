"""The worst-position tail never understates, and is not far from the best that is possible."""

from __future__ import annotations

import itertools
import math
import subprocess
import sys
from pathlib import Path

import numpy as np
import pytest

from stoichkit.uncertainty.digits import (
    DIFFERENCE,
    SINGLE,
    TRIPLE,
    DigitBlock,
    axis_table,
    bound_together,
    worst_position_tail,
)
from stoichkit.uncertainty.distribution import SumDistribution
from stoichkit.uncertainty.sources import Shape, Term


def simulated_tail(
    rng: np.random.Generator,
    limit: float,
    steps: tuple[float, float],
    noise: float,
    positions: np.ndarray,
    labs: int = 40_000,
) -> float:
    """Chance of |error| ≥ limit when each amount is fixed; positions[(trial, which)] in steps."""
    total = np.zeros(labs)
    for trial in positions:
        for which, (step, amount) in enumerate(zip(steps, trial, strict=True)):
            vessel = rng.uniform(0, 1, labs)
            light = np.round(vessel + rng.normal(0, noise, labs))
            heavy = np.round(vessel + amount + rng.normal(0, noise, labs))
            total += (1 if which else -1) * step * (heavy - light - amount)
    return float((np.abs(total) >= limit * (1 - 1e-12)).mean())


@pytest.mark.parametrize(
    "count",
    [pytest.param(1, marks=pytest.mark.slow), 2, pytest.param(3, marks=pytest.mark.slow), 5],
)
@pytest.mark.parametrize("noise", [0.0, 0.1, 0.3, 0.7])
def test_no_position_exceeds_the_stated_tail(count: int, noise: float) -> None:
    """Whatever the amounts, equal or not, the simulated tail stays below the stated one."""
    rng = np.random.default_rng([count, int(10 * noise)])
    for second in (1.0, 1.37, 2.0):
        steps = (1.0 / count, second / count)
        blocks = [DigitBlock(DIFFERENCE, (s,), (noise, noise), count) for s in steps]
        spread = SumDistribution(blocks[0].terms() + blocks[1].terms()).standard_deviation
        for k in (1.2, 2.0, 2.6):
            stated = worst_position_tail(k * spread, blocks, [])
            for equal in (True, False, True):
                amounts = rng.uniform(0, 1, (1 if equal else count, 2))
                amounts = np.repeat(amounts, count, axis=0) if equal else amounts
                seen = simulated_tail(rng, k * spread, steps, noise, amounts)
                assert seen <= stated + 4 * math.sqrt(stated * (1 - stated) / 40_000 + 1e-9)


def test_one_pair_against_the_exact_answer() -> None:
    """One difference of noiseless readings: the worst tail beyond t steps is 1 − t (t > ½)."""
    block = DigitBlock(DIFFERENCE, (1.0,), (0.0, 0.0), 1)
    for t in (0.55, 0.7, 0.9):
        exact = 1 - t
        assert exact <= worst_position_tail(t, [block], []) <= exact + 1 / 24 + 1e-9


def test_average_over_positions_is_the_continuous_tail() -> None:
    """Sampling the continuous density on the grid and averaging over positions gives it back."""
    from stoichkit.uncertainty.digits import hump

    for order, noise in ((1, 0.0), (1, 0.4), (2, 0.0), (2, 0.4)):
        where = (np.arange(400) + 0.5) / 400
        j = np.arange(-8, 10)
        p = hump(j[None, :] - where[:, None], order, noise)
        assert np.allclose(p.sum(axis=1), 1.0, atol=1e-12)  # a probability at every position
        tail = (p * (np.abs(j[None, :] - where[:, None]) >= 0.8)).sum(axis=1).mean()
        terms = [Term(Shape.RECTANGULAR, 0.5)] * order + [Term(Shape.NORMAL, noise)]
        assert tail == pytest.approx(SumDistribution(terms).two_sided(0.8), abs=2e-3)


@pytest.mark.parametrize("noise", [0.0, 0.2, 0.6])
@pytest.mark.parametrize("count", [1, 3])
def test_three_readings_of_one_vessel(noise: float, count: int) -> None:
    """Before, after and empty: the shared reading is kept shared."""
    rng = np.random.default_rng(5)
    steps = (1.0 / count, 0.6 / count)
    block = DigitBlock(TRIPLE, steps, (noise, noise, noise), count)
    spread = SumDistribution(block.terms()).standard_deviation
    for k in (1.3, 2.0):
        stated = worst_position_tail(k * spread, [block], [])
        worst = 0.0
        for _ in range(8):
            x, y = rng.uniform(0, 1, 2)
            total = np.zeros(40_000)
            for _ in range(count):
                vessel = rng.uniform(0, 1, 40_000)
                shared, one, two = (
                    np.round(vessel + m + rng.normal(0, noise, 40_000)) for m in (0.0, x, y)
                )
                total += steps[0] * (one - shared - x) + steps[1] * (two - shared - y)
            worst = max(worst, float((np.abs(total) >= k * spread * (1 - 1e-12)).mean()))
        assert worst <= stated + 4 * math.sqrt(stated * (1 - stated) / 40_000 + 1e-9)
    assert stated < 0.8


def test_single_readings_do_not_average_out_digits_alone() -> None:
    """A tared reading without scatter shows the same digits every time."""
    one = worst_position_tail(0.45, [DigitBlock(SINGLE, (1.0,), (0.0,), 1)], [])
    many = worst_position_tail(0.45, [DigitBlock(SINGLE, (0.25,), (0.0,), 4)], [])
    assert one == many == 1.0
    assert worst_position_tail(0.6, [DigitBlock(SINGLE, (1.0,), (0.0,), 1)], []) == 0.0


def test_wide_other_sources_wash_the_digits_out() -> None:
    """With a calibration error of many steps the continuous answer comes back."""
    blocks = [DigitBlock(DIFFERENCE, (1.0,), (0.2, 0.2), 1)]
    rest = [Term(Shape.RECTANGULAR, 8.0), Term(Shape.NORMAL, 3.0)]
    whole = SumDistribution([*blocks[0].terms(), *rest])
    for x in (4.0, 9.0, 12.0):
        stated = worst_position_tail(x, blocks, rest)
        assert whole.two_sided(x) - 1e-3 <= stated <= whole.two_sided(x) + 0.01


def test_many_steps_of_noise_give_the_continuous_tail() -> None:
    blocks = [DigitBlock(DIFFERENCE, (1.0,), (30.0, 30.0), 1)]
    whole = SumDistribution(blocks[0].terms())
    assert worst_position_tail(80.0, blocks, []) == pytest.approx(whole.two_sided(80.0), rel=0.01)


def test_tail_falls_with_the_value() -> None:
    blocks = [DigitBlock(DIFFERENCE, (1.0,), (0.3, 0.3), 2), DigitBlock(SINGLE, (0.4,), (0.3,), 2)]
    rest = [Term(Shape.RECTANGULAR, 0.3)]
    tails = [worst_position_tail(x, blocks, rest) for x in np.linspace(0, 8, 60)]
    assert tails[0] == 1.0
    assert tails[-1] < 1e-6
    assert all(a >= b - 1e-12 for a, b in itertools.pairwise(tails))


@pytest.mark.parametrize("count", [5, 24])
@pytest.mark.parametrize("noise", [0.0, 0.1, 0.3, 1.0])
@pytest.mark.parametrize("steps", [(1.0, 0.37), pytest.param((0.1, 1.0), marks=pytest.mark.slow)])
def test_many_triples_at_no_position_exceed_the_stated_tail(
    count: int, noise: float, steps: tuple[float, float]
) -> None:
    """Two differences that share a reading in many equal trials, drawn reading by reading."""
    rng = np.random.default_rng([count, int(10 * noise)])
    labs = 20_000
    block = DigitBlock(TRIPLE, steps, (noise, noise, noise), count)
    spread = SumDistribution(block.terms()).standard_deviation
    limits = spread * np.array([1.5, 2.0, 2.5])
    worst = np.zeros(3)
    for first, second in ((0.5, 0.5), (0.45, 0.5), (0.3, 0.5), (0.0, 0.5), (0.25, 0.75)):
        vessel = rng.uniform(0, 1, (labs, count))
        shown = [
            np.round(vessel + amount + noise * rng.standard_normal((labs, count)))
            for amount in (first, second, 0.0)
        ]
        each = steps[0] * (shown[0] - shown[2] - first) + steps[1] * (shown[1] - shown[2] - second)
        error = np.abs(each.sum(axis=1))
        worst = np.maximum(worst, [(error >= x * (1 - 1e-12)).mean() for x in limits])
    stated = np.array([worst_position_tail(x, [block], []) for x in limits])
    assert (worst <= stated + 3 * np.sqrt(stated / labs)).all()
    if noise >= 1.0:  # and little is given away once the digits have been smeared out
        assert stated == pytest.approx(worst, rel=0.25, abs=0.004)


@pytest.mark.skipif(not Path("/proc/self/status").exists(), reason="tells memory on Linux only")
def test_many_shared_weighings_take_little_memory() -> None:
    """A hydrate lab of 60 trials: time and memory grow no faster than the trials."""
    code = """
import random
from pathlib import Path
from stoichkit import Trial, assess, experiments
lab, draw = experiments.load("hydrate-heating"), random.Random(1)
trials = []
for i in range(60):
    crucible, salt = 20 + 2 * draw.random(), 2 + draw.random() / 3
    masses = (crucible, crucible + salt, crucible + salt * (1 - 0.5117))
    shown = (f"{m + draw.gauss(0, 0.01):.2f}" for m in masses)
    trials.append(Trial(str(i), dict(zip(lab.reading_names(), shown, strict=True))))
print(assess(lab.with_trials(trials)).verdict.candidates)
status = Path("/proc/self/status").read_text()  # getrusage would tell of the parent too
print(int(status.split("VmHWM:")[1].split()[0]) // 1024)
"""
    done = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True)
    verdict, megabytes = done.stdout.splitlines()
    assert verdict == "('MgSO4·7H2O',)"
    assert int(megabytes) < 500


def one_vessel_tail(
    rng: np.random.Generator, block: DigitBlock, limit: float, places: np.ndarray
) -> float:
    """Chance of |error| ≥ limit with one vessel in all trials; places (difference, trial)."""
    labs, n = 20_000, block.count
    vessel = rng.uniform(0, 1, (labs, 1))

    def shown(true: np.ndarray) -> np.ndarray:
        return np.round(true + block.noise[0] * rng.standard_normal((labs, n)))

    empty = shown(vessel + np.zeros(n))
    total = np.zeros((labs, n))
    for step, place in zip(block.steps, places, strict=True):
        total += step * (shown(vessel + place) - empty - place)
    return float((np.abs(total.sum(axis=1)) >= limit * (1 - 1e-12)).mean())


@pytest.mark.parametrize(
    ("kind", "steps"), [(DIFFERENCE, (1.0,)), (TRIPLE, (1.0, 0.7))], ids=["pair", "triple"]
)
@pytest.mark.parametrize("count", [2, 3, 5])
@pytest.mark.parametrize("noise", [0.0, 0.05, 0.15, 0.3])
def test_one_vessel_in_every_trial(
    kind: str, steps: tuple[float, ...], count: int, noise: float
) -> None:
    """Whatever the amounts, equal or not, the simulated tail stays below the stated one."""
    rng = np.random.default_rng([len(steps), count, int(100 * noise)])
    each = (noise,) * (len(steps) + 1)
    block = DigitBlock(kind, steps, each, count, bound_together(each, [count]))
    assert block.together == (count,)
    for k in (1.2, 1.8, 2.4):
        limit = k * math.sqrt(block.variance)
        stated = worst_position_tail(limit, [block], [])
        for equal in (True, False, True):
            places = rng.uniform(0, 1, (len(steps), 1 if equal else count))
            places = np.broadcast_to(places, (len(steps), count))
            seen = one_vessel_tail(rng, block, limit, places)
            assert seen <= stated + 4 * math.sqrt(stated * (1 - stated) / 20_000 + 1e-9)


def test_one_noiseless_vessel_repeats_one_error() -> None:
    """Three equal trials on one vessel without noise are one trial three times over."""
    three = DigitBlock(DIFFERENCE, (1 / 3,), (0.0, 0.0), 3, (3,))
    alone = DigitBlock(DIFFERENCE, (1.0,), (0.0, 0.0), 1)
    for t in (0.3, 0.55, 0.8, 0.95):
        assert worst_position_tail(t, [three], []) == pytest.approx(
            worst_position_tail(t, [alone], []), abs=1 / 24 + 1e-9
        )
    # 3² / 9 times the variance of one difference, 1/6 of a squared step
    assert three.variance == pytest.approx(1 / 6)


def test_two_vessels_are_independent() -> None:
    """Digits of trials in two vessels add up as independent sums, each of one vessel."""
    pair = axis_table(DIFFERENCE, (0.0, 0.0), 4, (2, 2))
    # without noise and at a difference of half a step each vessel shows 0 or 2 with equal chance
    middle = pair.p[12]
    total = middle / middle.sum()
    assert total == pytest.approx([0.25, 0, 0.5, 0, 0.25], abs=0.05)


def test_noise_of_half_a_step_makes_vessels_independent() -> None:
    """There the position of a vessel no longer shows in what is read on average."""
    assert bound_together((0.5, 0.5), [8]) == ()
    assert bound_together((0.3, 0.3), [8]) == (8,)
