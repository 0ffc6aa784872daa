"""JCGM 101:2008 (GUM Supplement 1): the worked examples of clause 9 and the test of clause 8.

Inputs were read in the manual of the R package propagate, which repeats the examples; so were the
results of 9.2.2 and the standard uncertainties of 9.5. The results of 9.2.3 were read in a file
of reference constants. Those of 9.2.4, 9.3 (Table 6), 9.4 (Table 8) and the intervals of 9.5 are
from memory, recomputed. Where the model is linear the exact distribution is compared, elsewhere
the Monte Carlo method, with a fixed number of trials and with the adaptive procedure of 7.9.
"""

from __future__ import annotations

import math
from collections.abc import Callable
from functools import partial
from typing import Any

import numpy as np
import pytest
from digits import like, matching_digits
from scipy import stats

from stoichkit.uncertainty.distribution import distribution_of
from stoichkit.uncertainty.montecarlo import MonteCarlo, compare_first_order, monte_carlo, propagate
from stoichkit.uncertainty.sources import (
    Number,
    Shape,
    nominal,
    standard_uncertainty,
    uncertain_value,
)

FIXED = 1_000_000


def made(shape: Shape, value: float, scale: float, label: str = "x") -> Number:
    return uncertain_value(value, label, kind="other", shape=shape, scale=scale)


normal = partial(made, Shape.NORMAL)
rectangular = partial(made, Shape.RECTANGULAR)


def length(interval: tuple[float, float]) -> float:
    return interval[1] - interval[0]


# -- 9.2 additive model -----------------------------------------------------------------------


def four_normals() -> Number:
    return sum(normal(0.0, 1.0) for _ in range(4))


def four_rectangles(*deviations: float) -> Number:
    return sum(rectangular(0.0, math.sqrt(3) * s) for s in deviations)


ADDITIVE: list[Any] = [
    pytest.param(four_normals, "2.00", "3.92", id="9.2.2 (Table 2)"),
    pytest.param(partial(four_rectangles, 1, 1, 1, 1), "2.00", "3.88", id="9.2.3 (Table 3)"),
    pytest.param(partial(four_rectangles, 1, 1, 1, 10), "10.1", "17.0", id="9.2.4 (Table 4)"),
]


@pytest.mark.parametrize(("model", "u", "half_width"), ADDITIVE)
def test_additive_model_exactly(model: Callable[[], Number], u: str, half_width: str) -> None:
    """u(y) and the 95 % interval, by the exact distribution: all printed digits."""
    y = model()

    assert nominal(y) == 0
    assert like(u, standard_uncertainty(y)) == u
    assert like(half_width, distribution_of(y).half_width(0.95)) == half_width


def test_four_equal_rectangles_closed_form() -> None:
    """9.2.3.3 gives the ends in closed form, 2√3 (2 − (3/5)^¼): 12 digits agree."""
    expected = 2 * math.sqrt(3) * (2 - 0.6**0.25)

    found = distribution_of(four_rectangles(1, 1, 1, 1)).half_width(0.95)

    assert matching_digits(found, expected) > 11


@pytest.mark.parametrize(("model", "u", "half_width"), ADDITIVE)
def test_additive_model_by_monte_carlo(
    model: Callable[[], Number], u: str, half_width: str
) -> None:
    """Fixed and adaptive: as printed, but for sampling error; clause 8 passes."""
    y = model()
    end = float(half_width)
    density = float(distribution_of(y).pdf(end))
    rounding = {"2.00": 0.005, "10.1": 0.05}[u]
    for result in (propagate(model), propagate(model, trials=FIXED)):
        error = 4 / math.sqrt(result.trials)  # four standard errors

        assert result.settled
        assert result.estimate == pytest.approx(0.0, abs=error * float(u))
        assert result.standard_uncertainty == pytest.approx(
            float(u), abs=rounding + error * float(u)
        )
        assert result.symmetric == pytest.approx(
            (-end, end), abs=rounding + error * 0.156 / density
        )
        assert compare_first_order(y, result).agrees


def test_normal_quantile_with_rectangles_would_have_failed() -> None:
    """9.2.4: the GUM framework's ±19.9 is far from ±17.0; the exact distribution is not it."""
    y = four_rectangles(1, 1, 1, 10)

    assert like("19.9", 1.96 * standard_uncertainty(y)) == "19.9"
    assert distribution_of(y).half_width(0.95) < 17.1


# -- 9.3 mass calibration ---------------------------------------------------------------------


def mass_difference_mg() -> Number:
    """Deviation from 100 g of a weight, in mg, with air buoyancy."""
    reference = normal(100_000.0, 0.050, "m_Rc") + normal(1.234, 0.020, "δm_Rc")
    air = rectangular(1.20, 0.10, "ρ_a")
    weight, standard = rectangular(8000.0, 1000.0, "ρ_W"), rectangular(8000.0, 50.0, "ρ_R")
    return reference * (1 + (air - 1.2) * (1 / weight - 1 / standard)) - 100_000.0


def test_9_3_first_order() -> None:
    """Table 6, GUF1: 1.2340 mg, 0.0539 mg, [1.1285, 1.3395] mg."""
    y = mass_difference_mg()
    half = distribution_of(y).half_width(0.95)

    assert like("1.2340", nominal(y)) == "1.2340"
    assert like("0.0539", standard_uncertainty(y)) == "0.0539"
    # the printed ends follow from the rounded 0.0539
    assert nominal(y) - half == pytest.approx(1.1285, abs=1e-4)
    assert nominal(y) + half == pytest.approx(1.3395, abs=1e-4)


@pytest.mark.parametrize("options", [{"trials": FIXED}, {}], ids=["fixed", "adaptive"])
def test_9_3_monte_carlo(options: dict[str, int]) -> None:
    """Table 6, MCM: 1.2341 mg, 0.0754 mg, shortest interval [1.0834, 1.3825], length 0.299 mg.

    The ends of the shortest interval are ill-determined (the density is nearly flat on top):
    the length is compared.
    """
    result = propagate(mass_difference_mg, **options)

    assert result.estimate == pytest.approx(1.2341, abs=4 * 0.0754 / math.sqrt(result.trials))
    assert result.standard_uncertainty == pytest.approx(0.0754, abs=2.5e-4)
    assert length(result.shortest) == pytest.approx(1.3825 - 1.0834, abs=2e-3)
    assert result.shortest == pytest.approx((1.0834, 1.3825), abs=4e-3)


@pytest.mark.parametrize("digits", [1, 2])
def test_9_3_first_order_fails_clause_8(digits: int) -> None:
    """9.3.2.3: the first-order interval is not validated for one or two significant digits."""
    comparison = compare_first_order(
        mass_difference_mg(), propagate(mass_difference_mg, trials=FIXED), digits=digits
    )

    assert not comparison.agrees
    assert comparison.tolerance == pytest.approx({1: 0.005, 2: 0.0005}[digits])


# -- 9.4 comparison loss, r = 0 ---------------------------------------------------------------

MICRO = 1e6
LOSS: list[tuple[float, str, str, tuple[float, float]]] = [
    # x1, estimate and standard uncertainty by MCM, first-order 95 % interval
    (0.000, "50", "50", (0, 0)),
    (0.010, "150", "112", (-96, 296)),
    (0.050, "2551", "502", (1520, 3480)),
]


def loss(x1: float) -> Number:
    """Return 1 million times X1² + X2²."""
    return MICRO * (normal(x1, 0.005, "X1") ** 2 + normal(0.0, 0.005, "X2") ** 2)


@pytest.mark.parametrize(("x1", "estimate", "u", "interval"), LOSS)
def test_9_4_first_order(x1: float, estimate: str, u: str, interval: tuple[float, float]) -> None:
    """Table 8, GUM framework with r = 0: estimates 0, 100, 2500, u 0, 100, 500; intervals."""
    del estimate, u
    y = loss(x1)
    half = distribution_of(y).half_width(0.95)

    assert nominal(y) == pytest.approx(MICRO * x1 * x1)
    assert standard_uncertainty(y) == pytest.approx(MICRO * 0.01 * x1)
    ends = (nominal(y) - half, nominal(y) + half)
    assert [like("0", end) for end in ends] == [like("0", end) for end in interval]


@pytest.mark.parametrize(("x1", "estimate", "u", "interval"), LOSS)
@pytest.mark.parametrize("options", [{"trials": FIXED}, {}], ids=["fixed", "adaptive"])
def test_9_4_monte_carlo(
    options: dict[str, int], x1: float, estimate: str, u: str, interval: tuple[float, float]
) -> None:
    """Table 8, MCM with r = 0; the exact law is a scaled noncentral chi-squared with 2 degrees."""
    del interval
    result = propagate(partial(loss, x1), **options)

    error = 1 / math.sqrt(result.trials)
    assert result.estimate == pytest.approx(float(estimate), abs=0.5 + 4 * float(u) * error)
    assert result.standard_uncertainty == pytest.approx(float(u), abs=0.5 + 6 * float(u) * error)
    exact = stats.ncx2(2, (x1 / 0.005) ** 2, scale=MICRO * 0.005**2)
    if x1 == 0:
        exact = stats.expon(scale=2 * MICRO * 0.005**2)
    ends = exact.ppf([0.025, 0.975])
    density = exact.pdf(ends)
    assert np.abs(np.asarray(result.symmetric) - ends).max() < 4 * 0.16 * error / density.min()


@pytest.mark.parametrize(
    ("x1", "printed"), [(0.000, (0, 150)), (0.010, (0, 367)), (0.050, (1591, 3543))]
)
def test_9_4_shortest_interval(x1: float, printed: tuple[int, int]) -> None:
    """Table 8, MCM, r = 0: shortest 95 % interval; at x1 = 0 its end is −2 u² ln 0.05."""
    result = propagate(partial(loss, x1), trials=FIXED)

    # one run differs from another by up to 8 units where the density is flat on top
    slack = {0.000: 1.0, 0.010: 2.0, 0.050: 12.0}[x1]
    assert result.shortest == pytest.approx(printed, abs=slack)
    assert length(result.shortest) == pytest.approx(printed[1] - printed[0], abs=min(slack, 8.0))
    if x1 == 0:
        assert result.shortest[1] == pytest.approx(-2 * 25 * math.log(0.05), abs=0.8)


@pytest.mark.parametrize("x1", [0.000, 0.010, 0.050])
def test_9_4_first_order_fails_clause_8(x1: float) -> None:
    """9.4.2: at every x1 the first-order interval is refused for two digits; at 0 it is empty."""
    result = propagate(partial(loss, x1), trials=FIXED)

    comparison = compare_first_order(loss(x1), result)

    assert not comparison.agrees
    if x1 == 0:
        assert comparison.first_order == (0.0, 0.0)
        assert comparison.tolerance == 0


# -- 9.5 gauge block --------------------------------------------------------------------------


def curvilinear_trapezoid(
    rng: np.random.Generator, size: int, limit: float, semi_width: float
) -> Any:
    """Draw from a rectangle about 0 whose limit is itself uncertain by ± semi_width (6.4.3.4)."""
    low = -limit - semi_width + 2 * semi_width * rng.random(size)
    return low + (-2 * low) * rng.random(size)


def gauge_block_nm(rng: np.random.Generator, size: int) -> Any:
    """δL = L_S + D + d1 + d2 − L_S (δα (θ0 + Δ) + α_S δθ) − L_nom, inputs of Table 10."""
    standard = 50_000_623 + 25 * rng.standard_t(18, size)
    comparison = 215 + 6 * rng.standard_t(24, size)
    comparison += 4 * rng.standard_t(5, size) + 7 * rng.standard_t(8, size)
    alpha = rng.uniform(9.5e-6, 13.5e-6, size)
    theta = rng.normal(-0.1, 0.2, size) + 0.5 * np.sin(2 * np.pi * rng.random(size))
    d_alpha = curvilinear_trapezoid(rng, size, 1.0e-6, 0.1e-6)
    d_theta = curvilinear_trapezoid(rng, size, 0.050, 0.025)
    return standard + comparison - standard * (d_alpha * theta + alpha * d_theta) - 50_000_000


def test_9_5_curvilinear_trapezoid_has_the_stated_standard_deviation() -> None:
    """6.4.3.2: variance (b − a)²/12 + d²/9."""
    drawn = curvilinear_trapezoid(np.random.default_rng(1), FIXED, 0.050, 0.025)

    expected = math.sqrt(0.1**2 / 12 + 0.025**2 / 9)
    assert drawn.std() == pytest.approx(expected, rel=4 / math.sqrt(FIXED))


@pytest.mark.parametrize("options", [{"trials": FIXED}, {}], ids=["fixed", "adaptive"])
def test_9_5_monte_carlo(options: dict[str, int]) -> None:
    """9.5.3: 838 nm, 36 nm, shortest 99 % interval [745, 932] nm."""
    result: MonteCarlo = monte_carlo(gauge_block_nm, coverage=0.99, **options)

    assert like("838", result.estimate) == "838"
    assert like("36", result.standard_uncertainty) == "36"
    assert result.shortest == pytest.approx((745, 932), abs=2.0)
    assert length(result.shortest) == pytest.approx(932 - 745, abs=1.5)
    assert result.settled


def test_9_5_first_order() -> None:
    """9.5.3, GUM framework: u = 32 nm (read)."""
    # at the estimates δα = δθ = 0, the inputs θ and α_S have no first-order effect
    trapezoid_alpha = math.sqrt(2e-6**2 / 12 + 0.1e-6**2 / 9)
    trapezoid_theta = math.sqrt(0.1**2 / 12 + 0.025**2 / 9)
    standard = normal(50_000_623.0, 25.0)
    y = (
        standard
        + normal(215.0, 6.0)
        + normal(0.0, 4.0)
        + normal(0.0, 7.0)
        - standard
        * (
            normal(0.0, trapezoid_alpha) * normal(-0.1, 0.4)
            + 11.5e-6 * normal(0.0, trapezoid_theta)
        )
    )

    assert like("838", nominal(y) - 50_000_000) == "838"
    assert like("32", standard_uncertainty(y)) == "32"
