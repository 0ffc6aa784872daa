"""The tail at the worst position, worked out plainly: cell by cell, pattern by pattern of digits.

An amount of u display steps shows j digits with the chance that its rounding errors and its noise
add up to j − u. Within a cell of positions the larger chance of both edges counts, and the error
further out. Of n equal trials the digits are added one trial after the other.
"""

from __future__ import annotations

import itertools
import math
from collections.abc import Sequence
from functools import cache

import numpy as np
import pytest
from scipy.stats import norm

from stoichkit.uncertainty.digits import (
    DIFFERENCE,
    SINGLE,
    TRIPLE,
    DigitBlock,
    axis_table,
    bias_variance,
    bound_together,
    common_term,
    distinct,
    hopeless,
    hump,
    reach_of,
    rounded_up,
    split_narrow,
    worst_position_tail,
    worst_position_tails,
)
from stoichkit.uncertainty.distribution import SumDistribution
from stoichkit.uncertainty.sources import Shape, Term


def below(z: float) -> float:
    """The normal distribution function."""
    return 0.5 * math.erfc(-z / math.sqrt(2))


@cache
def chance(y: float, order: int, noise: float) -> float:
    """Density at y of one or two roundings of a step and normal noise, by textbook integrals."""
    if order == 1:
        if not noise:
            return float(-0.5 < y <= 0.5)
        return below((y + 0.5) / noise) - below((y - 0.5) / noise)
    if not noise:
        return max(1 - abs(y), 0.0)

    def twice(v: float) -> float:  # the integral of the integral of the normal density
        z = v / noise
        return v * below(z) + noise * math.exp(-z * z / 2) / math.sqrt(2 * math.pi)

    return twice(y + 1) - 2 * twice(y) + twice(y - 1)


J = np.arange(-12, 14)


def at_edge(u: float, order: int, noise: float, count: int) -> tuple[np.ndarray, np.ndarray]:
    """Errors and chances of the total of some trials, each amount u steps between two digits."""
    one = np.array([chance(float(j) - u, order, noise) for j in J])
    total = np.ones(1)
    for _ in range(count):
        total = np.convolve(total, one)
    digits = count * J[0] + np.arange(total.size)
    return digits - count * u, total


Cells = list[tuple[np.ndarray, np.ndarray, np.ndarray]]


def cells_of(edges: Sequence[float], order: int, noise: float, count: int) -> Cells:
    """For each cell the largest and smallest errors, and the larger chances."""
    each = [at_edge(float(u), order, noise, count) for u in edges]
    return [(a[0], b[0], np.maximum(a[1], b[1])) for a, b in itertools.pairwise(each)]


def largest_tail(
    limit: float,
    first: Cells,
    second: Cells,
    steps: tuple[float, float],
    rest: Sequence[tuple[float, float]] = ((0.0, 1.0),),
) -> float:
    """The largest over the cells of both of the chance of an error of the limit or more."""
    tie = 1e-9 * steps[1]
    most = 0.0
    for (high, low, p), (high2, low2, p2) in itertools.product(first, second):
        both = np.multiply.outer(p, p2)
        up, down = (
            np.add.outer(steps[0] * a, steps[1] * b) for a, b in ((high, high2), (low, low2))
        )
        tail = sum(
            w * both[(up + shift >= limit - tie)].sum()
            + w * both[(down + shift <= -limit + tie)].sum()
            for shift, w in rest
        )
        most = max(most, float(tail))
    return min(most, 1.0)


NOTHING: Cells = [(np.zeros(1), np.zeros(1), np.ones(1))]


def searched(kind: str, noise: float, count: int) -> np.ndarray:
    """Positions of one trial between which the search lies.

    24 cells of a step for one trial. For several, twelve of the total of a difference: over every
    position below 0.12 steps of noise (six from five trials on), else over one step about a half.
    Single readings show the same digits each time: 24 of a step each, below 0.2 steps of noise.
    """
    if kind == SINGLE and noise < 0.2:
        return np.arange(25) / 24
    if count == 1:
        return np.arange(25) / 24
    if noise < 0.12:
        grid = 12 if count <= 4 else 6
        return np.arange(count * grid + 1) / grid / count
    return (count / 2 - 0.5 + np.arange(13) / 12) / count


def asked(x: float, steps: Sequence[float], spread: float) -> float:
    """The value as it is looked up: a part of a step, or of the standard uncertainty, smaller."""
    grain = max(min(steps) / 256, spread / 128)
    return math.floor(x / grain) * grain


def spread_of(steps: Sequence[float], noise: float, count: int, order: int) -> float:
    return math.sqrt(sum(order * count * c * c * (1 / 12 + noise**2) for c in steps))


@pytest.mark.parametrize("kind", [SINGLE, DIFFERENCE])
@pytest.mark.parametrize(("noise", "count"), [
    (0.0, 1), (0.1, 1), (0.4, 1), (0.0, 3), (0.1, 4), (0.15, 2), (0.3, 3), (0.05, 5),
])  # fmt: skip
def test_one_block_of_digits(kind: str, noise: float, count: int) -> None:
    order = 1 if kind == SINGLE else 2
    if kind == SINGLE and 0.2 <= noise < 0.5:
        edges = np.arange(count * 12 + 1) / 12 / count  # the bias of single readings is still there
        edges = np.arange(25) / 24 if count == 1 else edges
    else:
        edges = searched(kind, noise, count)
    sd = noise * math.sqrt(order)
    cells = cells_of(edges, order, sd, count)
    block = DigitBlock(kind, (0.5,), (noise,) * order, count)
    spread = spread_of([0.5], noise, count, order)
    assert math.sqrt(block.variance) == pytest.approx(spread)
    for k in (0.4, 1.1, 1.7, 2.3):
        x = k * spread
        want = largest_tail(asked(x, [0.5], spread), cells, NOTHING, (0.5, 1.0))
        assert worst_position_tail(x, [block], []) == pytest.approx(want, abs=2e-9)
        assert worst_position_tail(-x, [block], []) == pytest.approx(want, abs=2e-9)


@pytest.mark.parametrize(("noise", "count"), [(0.0, 1), (0.2, 1), (0.1, 2), (0.3, 3)])
def test_two_blocks_of_digits(noise: float, count: int) -> None:
    """The coarser is taken first; a third would be averaged."""
    steps = (0.7, 0.3)
    cells = cells_of(searched(DIFFERENCE, noise, count), 2, noise * math.sqrt(2), count)
    blocks = [DigitBlock(DIFFERENCE, (s,), (noise, noise), count) for s in steps]
    spread = spread_of(steps, noise, count, 2)
    values = [k * spread for k in (0.5, 1.3, 1.96, 2.6)]
    want = [largest_tail(asked(x, steps, spread), cells, cells, steps) for x in values]
    for given in (blocks, blocks[::-1]):
        for x, p in zip(values, want, strict=True):
            assert worst_position_tail(x, given, []) == pytest.approx(p, abs=2e-9)
    many = np.linspace(0.0, 3 * spread, 150)
    at_once = worst_position_tails(many, blocks, [], np.zeros(150))
    for i in (0, 30, 60, 90, 149):
        alone = worst_position_tail(float(many[i]), blocks, [])
        assert at_once[i] == pytest.approx(alone, abs=1e-9)


@pytest.mark.parametrize("noise", [0.0, 0.2])
@pytest.mark.parametrize("shape", [Shape.RECTANGULAR, Shape.NORMAL])
def test_digits_beside_a_continuous_error(noise: float, shape: Shape) -> None:
    """Cut into cells of an eighth of a step or a fortieth of the whole uncertainty, from 3 to 65.

    Each cell counts at its middle, half a cell of the value is given away. A normal one is cut
    off at five standard deviations.
    """
    # powers of two are among the sizes that are kept; a wider normal would wash the digits out
    steps, scale = (0.7, 0.3), 0.25 if shape is Shape.RECTANGULAR else 2.0**-5
    term = Term(shape, scale)
    cells = cells_of(searched(DIFFERENCE, noise, 1), 2, noise * math.sqrt(2), 1)
    u = scale / math.sqrt(3) if shape is Shape.RECTANGULAR else scale
    spread = math.hypot(spread_of(steps, noise, 1, 2), u)
    reach = scale if shape is Shape.RECTANGULAR else 5 * scale
    count = math.ceil(2 * reach / max(min(steps) / 8, spread / 40))
    edges = np.linspace(-reach, reach, count + 1)
    below = (edges + reach) / (2 * reach) if shape is Shape.RECTANGULAR else norm.cdf(edges / scale)
    below[0], below[-1] = 0.0, 1.0
    rest = list(zip((edges[1:] + edges[:-1]) / 2, np.diff(below), strict=True))
    blocks = [DigitBlock(DIFFERENCE, (s,), (noise, noise), 1) for s in steps]
    for k in (0.8, 1.5, 2.1):
        limit = asked(k * spread, steps, spread) - reach / count
        want = largest_tail(limit, cells, cells, steps, rest)
        assert worst_position_tail(k * spread, blocks, [term]) == pytest.approx(want, abs=2e-6)


def test_a_small_continuous_error_is_cut_into_three_cells_at_least() -> None:
    """A rectangle of an eighth of a step each way: two cells of an eighth would do."""
    cells = cells_of(searched(DIFFERENCE, 0.2, 1), 2, 0.2 * math.sqrt(2), 1)
    block, scale = DigitBlock(DIFFERENCE, (0.5,), (0.2, 0.2), 1), 0.0625
    spread = math.hypot(spread_of([0.5], 0.2, 1, 2), scale / math.sqrt(3))
    rest = [(shift * scale, 1 / 3) for shift in (-2 / 3, 0.0, 2 / 3)]
    for k in (0.8, 1.5, 2.1):
        limit = asked(k * spread, [0.5], spread) - scale / 3
        want = largest_tail(limit, cells, NOTHING, (0.5, 1.0), rest)
        stated = worst_position_tail(k * spread, [block], [Term(Shape.RECTANGULAR, scale)])
        assert stated == pytest.approx(want, abs=2e-6)


def test_what_is_too_small_to_matter_is_taken_off_the_value() -> None:
    """Errors that reach no further than a 32nd of the smallest step together."""
    block = DigitBlock(DIFFERENCE, (1.0,), (0.1, 0.1), 1)
    wide, narrow = split_narrow([Term(Shape.RECTANGULAR, 0.02), Term(Shape.NORMAL, 0.002)], [block])
    assert (wide, narrow) == ([], pytest.approx(0.03))
    wide, narrow = split_narrow(
        [Term(Shape.RECTANGULAR, 0.02), Term(Shape.NORMAL, 0.0023)], [block]
    )
    assert narrow == pytest.approx(0.0115)  # 0.0315 is more than 0.03125
    assert wide == [Term(Shape.RECTANGULAR, rounded_up(0.02))]
    finer = DigitBlock(TRIPLE, (1.0, 0.5), (0.1,) * 3, 1)
    assert split_narrow([Term(Shape.RECTANGULAR, 0.016)], [block, finer])[1] == 0.0
    assert split_narrow([Term(Shape.RECTANGULAR, 0.0156)], [block, finer])[1] == 0.0156
    tails = [Term(Shape.STUDENT_T, 1e-6, 3.0)]
    assert split_narrow(tails, [block])[1] == 0.0
    assert split_narrow(tails, [block])[0][0].dof == 3.0
    for x in (0.5, 1.0, 1.4):
        less = float(worst_position_tails(np.array([x]), [block], [], np.array([0.03]))[0])
        assert less == pytest.approx(worst_position_tail(x - 0.03, [block], []), abs=1e-12)
        small = [Term(Shape.RECTANGULAR, 0.03)]
        assert worst_position_tail(x, [block], small) == pytest.approx(less, abs=1e-12)


def test_how_far_an_error_reaches() -> None:
    assert reach_of(Term(Shape.RECTANGULAR, 0.3)) == 0.3
    assert reach_of(Term(Shape.TRIANGULAR, 0.3)) == 0.3
    assert reach_of(Term(Shape.ARCSINE, 0.3)) == 0.3
    assert reach_of(Term(Shape.NORMAL, 0.3)) == pytest.approx(1.5)
    assert reach_of(Term(Shape.STUDENT_T, 0.3, 9.0)) == math.inf


def test_sizes_are_rounded_up_to_sixteen_within_a_factor_of_two() -> None:
    for k in range(-20, 20):
        size = 2.0 ** (k / 16)
        assert rounded_up(size) == pytest.approx(size)
        assert rounded_up(size * 1.001) == pytest.approx(2.0 ** ((k + 1) / 16))
        assert rounded_up(size / 1.001) == pytest.approx(size)


@pytest.mark.parametrize("order", [1, 2])
@pytest.mark.parametrize("noise", [0.0, 0.03, 0.4, 2.0])
def test_the_density_of_rounding_and_noise(order: int, noise: float) -> None:
    y = np.array([-7.0, -1.5, -1.0, -0.5, -0.2, 0.0, 0.3, 0.5, 0.7, 1.0, 1.2, 2.5])
    want = [chance(float(v), order, noise) for v in y]
    assert hump(y, order, noise) == pytest.approx(want, abs=1e-12)
    assert (hump(np.linspace(-40, 40, 801), order, noise) >= 0).all()


def test_the_density_far_out_is_not_lost_by_cancellation() -> None:
    """Six standard deviations out, against the integral of the tail of the normal density."""
    noise, y = 0.2, -1.0 - 6 * 0.2
    z = np.linspace(6.0, 16.0, 200_001)
    exact = noise * float(np.trapezoid((z - 6.0) * norm.pdf(z), z))
    assert float(hump(np.array([y]), 2, noise)[0]) == pytest.approx(exact, rel=1e-6)


# -- three readings of one vessel -------------------------------------------------------------


def shared_reading(
    u: float, v: float, noise: tuple[float, float, float], count: int
) -> tuple[np.ndarray, np.ndarray]:
    """Digits of two differences that share a reading, and their joint chances over the trials."""
    a, b, shared = noise
    digits = np.arange(-4, 6)
    z = ((np.arange(300) + 0.5) / 300 * 6 - 3).tolist()
    w = np.array([chance(one, 1, shared) for one in z])
    first = np.array([[chance(float(j) + one - u, 1, a) for one in z] for j in digits])
    second = np.array([[chance(float(j) + one - v, 1, b) for one in z] for j in digits])
    p = (first * w) @ second.T
    p /= p.sum()
    total = np.ones((1, 1))
    for _ in range(count):
        size = total.shape[0] + digits.size - 1
        grown = np.zeros((size, size))
        for i, j in itertools.product(range(digits.size), repeat=2):
            grown[i : i + total.shape[0], j : j + total.shape[1]] += p[i, j] * total
        total = grown
    return count * digits[0] + np.arange(total.shape[0]), total


@pytest.mark.parametrize("count", [1, 2])
def test_a_triple_of_readings(count: int) -> None:
    """Positions of both amounts cell by cell, with noise so that a coarse integral will do."""
    noise, steps = (0.3, 0.2, 0.25), (1.0, 0.6)
    edges = searched(DIFFERENCE, 0.2, count)
    table = {
        (i, k): shared_reading(float(u), float(v), noise, count)[1]
        for (i, u), (k, v) in itertools.product(enumerate(edges[:9]), repeat=2)
    }
    digits = shared_reading(0.0, 0.0, noise, count)[0]
    block = DigitBlock(TRIPLE, steps, noise, count)
    spread = math.sqrt(
        count * (0.6**2 * (1 / 12 + 0.04) + 1 / 12 + 0.09 + 1.6**2 * (1 / 12 + 0.0625))
    )
    assert math.sqrt(block.variance) == pytest.approx(spread)
    for k in (0.9, 1.7, 2.4):
        limit = asked(k * spread, steps, spread)
        most = 0.0
        for g, h in itertools.product(range(8), repeat=2):
            p = np.maximum.reduce([table[g + i, h + j] for i in (0, 1) for j in (0, 1)])
            up = np.add.outer(
                steps[0] * (digits - count * edges[g]), steps[1] * (digits - count * edges[h])
            )
            down = np.add.outer(
                steps[0] * (digits - count * edges[g + 1]),
                steps[1] * (digits - count * edges[h + 1]),
            )
            most = max(most, float(p[up >= limit - 1e-9].sum() + p[down <= -limit + 1e-9].sum()))
        stated = worst_position_tail(k * spread, [block], [])
        assert stated >= most - 2e-5  # that of a third of the cells each way
        assert stated <= 1.5 * most + 0.01


def test_many_triples_go_on_where_few_end() -> None:
    """Up to four trials pattern by pattern, beyond along D: about the same in spreads."""
    noise, steps = (0.2, 0.2, 0.2), (1.0, 0.6)

    def tail(count: int, k: float) -> float:
        block = DigitBlock(TRIPLE, steps, noise, count)
        return worst_position_tail(k * math.sqrt(block.variance), [block], [])

    for k in (1.0, 1.6, 2.2, 2.8):
        smooth = 2 * norm.sf(k)
        few, many, more = tail(4, k), tail(5, k), tail(12, k)
        assert smooth <= many <= few * 1.25
        assert smooth <= more <= many * 1.1
        assert more <= smooth * 1.9
    block = DigitBlock(TRIPLE, steps, noise, 12)
    beside = Term(Shape.RECTANGULAR, 2.0)
    u = math.hypot(math.sqrt(block.variance), 2 / math.sqrt(3))
    for k in (1.0, 2.0):
        stated = worst_position_tail(k * u, [block], [beside])
        assert 2 * norm.sf(k) * 0.98 <= stated <= 2 * norm.sf(k) * 1.9
    assert worst_position_tail(0.0, [block], []) == 1.0
    assert worst_position_tail(100.0, [block], []) == 0.0


def test_where_a_sum_of_triples_has_surely_no_tail_left() -> None:
    """Hoeffding: 2 exp(−x²/2s²) below 1e-13, s² = Σ c² (1 + noise²) over trials and readings."""
    block = DigitBlock(TRIPLE, (1.0, 2.0), (0.5, 0.0, 0.2), 5)
    rest = SumDistribution([Term(Shape.RECTANGULAR, 3.0)])
    square = 5 * (1.0 * 1.25 + 4.0 * 1.0 + 9.0 * 1.04) + 9.0
    edge = math.sqrt(2 * square * math.log(2e13))
    assert hopeless(np.array([0.999, 1.001]) * edge, block, rest).tolist() == [False, True]
    same = DigitBlock(TRIPLE, (1.0, 2.0), (0.5, 0.0, 0.2), 5, (2, 3))
    edge = math.sqrt(2 * (13 / 5 * (square - 9.0) + 9.0) * math.log(2e13))
    assert hopeless(np.array([0.999, 1.001]) * edge, same, rest).tolist() == [False, True]
    student = SumDistribution([Term(Shape.STUDENT_T, 1.0, 5.0)])
    assert not hopeless(np.array([1e9]), block, student).any()


# -- one vessel in several trials -------------------------------------------------------------


@pytest.mark.parametrize("noise", [(0.0, 0.0), (0.2, 0.3), (0.05, 0.05)])
@pytest.mark.parametrize("together", [(2,), (3,), (2, 1)])
def test_a_vessel_in_several_trials(noise: tuple[float, float], together: tuple[int, ...]) -> None:
    """At each of 24 places of the vessel (96 of little noise) the trials are independent.

    The sum of its trials is averaged over the places; vessels are independent of each other.
    """
    count = sum(together)
    places = 96 if noise == (0.05, 0.05) else 24
    light, heavy = np.arange(-4, 6), np.arange(-4, 7)
    table = axis_table(DIFFERENCE, noise, count, together)
    edges = np.arange(25) / 24 if min(noise) < 0.2 else np.arange(count * 12 + 1) / 12 / count
    assert table.p.shape[0] == len(edges) - 1

    def total(u: float) -> np.ndarray:
        out = np.ones(1)
        for n in together:
            mean = 0.0
            for place in (np.arange(places) + 0.5) / places:
                less = np.array([chance(float(place - j), 1, noise[0]) for j in light[::-1]])
                more = np.array([chance(float(j - place - u), 1, noise[1]) for j in heavy])
                one, power = np.convolve(less, more), np.ones(1)
                for _ in range(n):
                    power = np.convolve(power, one)
                mean = mean + power / places
            out = np.convolve(out, mean)
        return out

    for g in (0, 5, 12, len(edges) - 2):
        want = np.maximum(total(float(edges[g])), total(float(edges[g + 1])))
        least = count * (heavy[0] - light[-1])
        errors = least + np.arange(want.size) - count * edges[g]
        found = table.high[g] + np.arange(table.p.shape[1])
        by_error = dict(zip(errors.round(6).tolist(), want.tolist(), strict=True))
        for error, p in zip(found.round(6).tolist(), table.p[g].tolist(), strict=True):
            assert p == pytest.approx(by_error[error], abs=1e-7)
        assert table.low[g] == pytest.approx(table.high[g] - count * (edges[g + 1] - edges[g]))


@pytest.mark.parametrize(("noise", "series"), [
    (0.0, 1.64493),  # π²/6: a twelfth of a step squared
    # exp(−4 π² k² s²)/k² for k = 1, 2, …: of 0.1 from exp(−0.39478), of 0.2 from exp(−1.57914)
    (0.1, 0.67383 + 0.20615 / 4 + 0.02864 / 9 + 0.00181 / 16),
    (0.2, 0.20615 + 0.00181 / 4),
])  # fmt: skip
def test_what_roundings_of_one_place_have_in_common(noise: float, series: float) -> None:
    assert bias_variance(noise) == pytest.approx(series / 1.64493 / 12, rel=1e-4)


def test_terms_of_what_is_common() -> None:
    assert common_term(6.0, 0.0).scale == pytest.approx(math.sqrt(3 * 6 / 12))
    assert common_term(6.0, 0.0).shape is Shape.RECTANGULAR
    assert common_term(-1e-9, 0.0).scale == 0.0
    three = DigitBlock(DIFFERENCE, (2.0,), (0.0, 0.0), 3, (3,))
    assert three.variance == pytest.approx(2 * 4 * 9 / 12)  # as one of three times the size
    two_vessels = DigitBlock(DIFFERENCE, (2.0,), (0.0, 0.0), 3, (2, 1))
    assert two_vessels.variance == pytest.approx(2 * 4 * (4 + 1) / 12)
    assert three.weight == pytest.approx(2 * math.sqrt(3))
    assert two_vessels.weight == pytest.approx(2 * math.sqrt(5 / 3))
    assert DigitBlock(DIFFERENCE, (2.0,), (0.0, 0.0), 3).weight == 2.0
    for block in (three, two_vessels, DigitBlock(TRIPLE, (1.0, 2.0), (0.1, 0.2, 0.3), 2)):
        exact = SumDistribution(block.terms()).standard_deviation
        assert exact == pytest.approx(math.sqrt(block.variance))


def test_how_far_a_block_reaches() -> None:
    """One and a half of every step, and nine standard deviations of the noise."""
    block = DigitBlock(DIFFERENCE, (2.0,), (0.3, 0.4), 4)
    assert block.coefficients == (2.0, 2.0)
    assert block.reach == pytest.approx(1.5 * 4 * 4.0 + 9 * 2 * 2 * 0.5)
    triple = DigitBlock(TRIPLE, (1.0, 2.0), (0.0, 0.0, 0.0), 1)
    assert triple.coefficients == (1.0, 2.0, 3.0)
    assert triple.reach == pytest.approx(9.0)


def test_when_a_vessel_in_several_trials_makes_no_difference() -> None:
    """Where what is common is a thousandth of the variance or less.

    Two trials in one vessel: 2 × bias against 2 × (1/12 + s²); at 0.37 steps the bias is
    exp(−5.405)/2π² = 2.28e-4 against 0.2202, at 0.39 exp(−6.005)/2π² = 1.25e-4 against 0.2354.
    """
    assert bound_together((0.37, 0.37), [2]) == (2,)
    assert bound_together((0.39, 0.39), [2]) == ()
    assert bound_together((0.0, 0.0), [3, 1, 2]) == (1, 2, 3)
    assert bound_together((0.0, 0.0), [1]) == ()
    assert bound_together((0.0, 5.0), [2]) == (2,)  # 1/12 against 2/12 + 25
    assert bound_together((0.0, 10.0), [2]) == ()  # against 100: less than a thousandth


# -- which digits count -----------------------------------------------------------------------


def test_digits_that_the_rest_washes_out() -> None:
    """A tolerance of whole steps makes the sum independent of the position; a half does not."""
    block = DigitBlock(DIFFERENCE, (1.0,), (0.0, 0.0), 1)
    for half_width in (0.5, 1.0, 2.0):
        rest = [Term(Shape.RECTANGULAR, half_width)]
        exact = SumDistribution([*block.terms(), *rest])
        for x in (0.8, 1.1):
            spread = math.sqrt(1 / 6 + half_width**2 / 3)
            at = asked(x, [1.0], spread)
            assert worst_position_tail(x, [block], rest) == pytest.approx(
                exact.two_sided(at), abs=1e-9
            )
    between = [Term(Shape.RECTANGULAR, 2.0**-0.5)]
    exact = SumDistribution([*block.terms(), *between])
    assert worst_position_tail(1.1, [block], between) > exact.two_sided(1.1) + 0.02
    # of one vessel in all trials the bias stays, however smooth the rest
    same = DigitBlock(DIFFERENCE, (0.5,), (0.0, 0.0), 2, (2,))
    apart = SumDistribution([*same.terms(), Term(Shape.RECTANGULAR, 0.5)])
    assert worst_position_tail(0.9, [same], [Term(Shape.RECTANGULAR, 0.5)]) > apart.two_sided(0.9)


def test_values_are_told_apart_once() -> None:
    for given in ([3, 0, 3, 7, 0], [5], [0, 0], [10_000, 3, 10_000]):
        levels, where = distinct(np.array(given))
        assert levels.tolist() == sorted(set(given))
        assert levels[where].tolist() == given
