"""Edges of the exact distribution that mutants showed to be untested."""

from __future__ import annotations

import math
from typing import Any

import numpy as np
import pytest
from scipy import stats

from stoichkit.distribution import SumDistribution
from stoichkit.shapes import Term

from .test_distribution import A, N, R, S, T, irwin_hall, of, quadrature

# -- closed forms, far out and in any unit ----------------------------------------------------


@pytest.mark.parametrize("dof", [1.0, 2.0, 3.0, 7.0])
@pytest.mark.parametrize("x", [20.0, 1e3, 1e5])
def test_far_tail_of_a_lone_student_t(dof: float, x: float) -> None:
    """A power of x, to nine digits; no sum of waves resolves it."""
    assert of((S, 2.0, dof)).two_sided(x) == pytest.approx(
        2 * stats.t.sf(x / 2, dof), rel=1e-9, abs=0
    )


@pytest.mark.parametrize("x", [2.0, 6.0, 20.0, 37.0])
def test_far_tail_of_a_lone_normal(x: float) -> None:
    d = of((N, 0.5))

    assert d.two_sided(x / 2) == pytest.approx(2 * stats.norm.sf(x), rel=1e-11, abs=0)
    assert float(d.pdf(x / 2)) == pytest.approx(2 * stats.norm.pdf(x), rel=1e-11, abs=0)


@pytest.mark.parametrize("unit", [1e-9, 1.0, 7.0])
@pytest.mark.parametrize("angle", [-1.5, -0.4, 0.0, 1.0])
def test_density_of_a_lone_arcsine(angle: float, unit: float) -> None:
    """The sine of a uniform angle (JCGM 101:2008, 6.4.6): 1 / (π a cos θ) at a sin θ."""
    density = float(of((A, unit)).pdf(unit * math.sin(angle)))
    assert density == pytest.approx(1 / (math.pi * unit * math.cos(angle)), rel=1e-9, abs=0)


@pytest.mark.parametrize("left", [1e-2, 1e-4, 1e-6])
@pytest.mark.parametrize("unit", [1e-9, 1e-3, 1.0, 1e6])
def test_last_corner_of_a_triangle(left: float, unit: float) -> None:
    """Two-sided tail of a unit triangle: (1 − x)²; density 1 − x."""
    corner = unit * (1 - left)
    for d in (of((T, unit)), of((R, unit / 2), (R, unit / 2))):
        assert d.two_sided(corner) == pytest.approx(left**2, rel=1e-9, abs=0)
        assert float(d.pdf(corner)) * unit == pytest.approx(left, rel=1e-9, abs=0)


@pytest.mark.parametrize("unit", [1e-9, 1e-3, 1.0, 1e6])
@pytest.mark.parametrize("small", [0.002, 0.005, 0.3])
def test_a_small_and_a_large_rectangle_in_any_unit(small: float, unit: float) -> None:
    """A trapezium: two-sided tail s² / (4 s) at the half-width 1, density 1/4 there."""
    d = of((R, unit), (R, small * unit))

    assert d.two_sided(unit) == pytest.approx(small / 4, rel=1e-9, abs=0)
    assert float(d.pdf(unit)) * unit == pytest.approx(0.25, rel=1e-9, abs=0)
    for x in (0.2, 1 - small / 2, 1 + small / 2):
        expected = irwin_hall([1.0, small], x, power=2)
        assert float(d.cdf(x * unit)) == pytest.approx(expected, rel=1e-9, abs=0)


@pytest.mark.parametrize(
    ("terms", "half"),
    [
        ([(R, 1.0)], 0.95),
        ([(T, 1.0)], 1 - math.sqrt(0.05)),
        ([(A, 1.0)], math.sin(0.95 * math.pi / 2)),
        ([(N, 1.0)], float(stats.norm.ppf(0.975))),
        ([(S, 1.0, 4.0)], float(stats.t.ppf(0.975, 4))),
        ([(R, 1.0), (R, 1.0)], 2 - 2 * math.sqrt(0.05)),
        ([(N, 0.6), (N, 0.8)], float(stats.norm.ppf(0.975))),
    ],
    ids=str,
)
@pytest.mark.parametrize("unit", [1e-9, 1e-4, 1.0, 1e5])
def test_half_width_in_closed_form_and_any_unit(
    terms: list[tuple[Any, ...]], half: float, unit: float
) -> None:
    d = SumDistribution(Term(t[0], t[1] * unit, *t[2:]) for t in terms)

    assert d.half_width(0.95) == pytest.approx(half * unit, rel=1e-9, abs=0)


# -- edges ------------------------------------------------------------------------------------

BOUNDED: list[tuple[list[tuple[Any, ...]], float]] = [
    ([(R, 1.0)], 1.0),
    ([(T, 1.0)], 1.0),
    ([(A, 1.0)], 1.0),
    ([(R, 1.0), (R, 0.3)], 1.3),
    ([(R, 1.0), (A, 0.3)], 1.3),
    ([(R, 1.0), (T, 0.5), (A, 0.25)], 1.75),
]


@pytest.mark.parametrize(("terms", "bound"), BOUNDED, ids=str)
def test_inside_and_outside_in_one_array(terms: list[tuple[Any, ...]], bound: float) -> None:
    """Exactly 0 and 1 beyond the bound, whatever else is asked for at once."""
    d = of(*terms)
    x = np.array([-1e9, -bound * 1.001, -0.5, 0.0, 0.5, bound * 1.001, 1e9])
    cdf, pdf = d.cdf(x), d.pdf(x)

    assert d.bound == pytest.approx(bound)
    assert cdf[[0, 1, 5, 6]].tolist() == [0, 0, 1, 1]
    assert pdf[[0, 1, 5, 6]].tolist() == [0, 0, 0, 0]
    assert cdf[3] == pytest.approx(0.5, abs=1e-12)
    assert 0 < cdf[2] < 0.5 < cdf[4] < 1
    assert pdf[2] == pytest.approx(pdf[4], rel=1e-9, abs=0)
    assert pdf[2] > 0.1
    assert [d.two_sided(v) for v in (bound * 1.001, 1e9)] == [0, 0]


def test_a_rectangle_has_its_density_up_to_its_edges() -> None:
    assert of((R, 0.5)).pdf([-0.5, 0.0, 0.5]).tolist() == [1.0, 1.0, 1.0]


def test_with_tails_nothing_is_cut_off() -> None:
    """Student t and a rectangle, far outside the rectangle: the tail of the t decides."""
    d = of((S, 0.1, 3.0), (R, 1.0))
    x = np.array([-50.0, -5.0, 0.0, 5.0, 50.0])
    cdf = d.cdf(x)

    expected = float(stats.t.sf(500, 3))
    assert cdf[0] == pytest.approx(expected, abs=1e-10)
    assert 1e-7 < cdf[1] < 1e-4
    assert cdf + cdf[::-1] == pytest.approx(np.ones(5), abs=1e-10)
    assert d.pdf(x)[1] > 1e-7


@pytest.mark.parametrize(
    "terms", [[(R, 1.0), (N, 0.2)], [(R, 1.0)] * 3, [(S, 0.3, 3.0), (R, 1.0)]], ids=str
)
def test_what_was_asked_before_does_not_matter(terms: list[tuple[Any, ...]]) -> None:
    """Near, far, near: as from a fresh distribution each time."""
    d = of(*terms)
    for x in (0.1, 1.4, 0.1, 0.9, 2.9, 0.0, 0.3):
        assert float(d.cdf(x)) == pytest.approx(float(of(*terms).cdf(x)), abs=1e-11)
        assert float(d.pdf(x)) == pytest.approx(float(of(*terms).pdf(x)), abs=1e-9)


def test_probabilities_are_probabilities_at_the_middle() -> None:
    """Never above 1, however close to zero the value."""
    for terms in ([(R, 1.0), (N, 0.2)], [(R, 1.0)] * 4, [(S, 0.3, 3.0), (R, 1.0)], [(R, 1.0)]):
        d = of(*terms)
        for x in (1e-300, 1e-17, 1e-16, 1e-15, 1e-14):
            assert d.two_sided(x) == pytest.approx(1, abs=1e-10)
            assert d.two_sided(x) <= 1


def test_many_points_are_as_good_as_few() -> None:
    """More points than fit one block of the sum; σ/2 [K((x + 1)/σ) − K((x − 1)/σ)], K = z Φ + φ."""
    sigma = 0.5
    x = np.linspace(-3, 3, 40_001)

    def k(z: Any) -> Any:
        return z * stats.norm.cdf(z) + stats.norm.pdf(z)

    expected = sigma / 2 * (k((x + 1) / sigma) - k((x - 1) / sigma))
    assert of((R, 1.0), (N, sigma)).cdf(x) == pytest.approx(expected, abs=1e-10)


def test_fine_structure_beside_a_wide_term() -> None:
    """A wide rectangle with narrow normal edges, at the edge: mean of Φ over the rectangle."""
    for sigma in (1e-3, 1e-2, 0.1):
        d = of((R, 1.0), (N, sigma))
        z = np.array([-3.0, -1.0, 0.0, 1.0, 3.0])
        tail = sigma / 2 * (stats.norm.pdf(z) - z * stats.norm.sf(z))  # E(e − z)₊ for a normal e
        assert 1 - d.cdf(1 + z * sigma) == pytest.approx(tail, abs=1e-10)


@pytest.mark.parametrize("halvings", [4, 6, 8, 10])
def test_student_t_beside_a_triangle_whose_waves_vanish_at_every_halving(halvings: int) -> None:
    """Half-width π 2ᵏ / 250 beside a t of scale 0.01: E of the t's tail by quadrature."""
    width, scale, dof = math.pi * 2**halvings / 250, 0.02, 36.0
    d = of((T, width), (S, scale, dof))
    for x in (0.1 * width, 0.5 * width, 0.9 * width):

        def tail(u: float, at: float = x) -> float:
            return (1 - abs(u) / width) / width * float(stats.t.sf((at - u) / scale, dof))

        corners = [0.0, *(x + k * scale for k in (-30, -5, 0, 5, 30))]
        expected = quadrature(tail, -width, width, corners)
        assert 1 - float(d.cdf(x)) == pytest.approx(expected, abs=1e-9)


def test_a_sum_with_student_t_is_never_called_impossible() -> None:
    """Beyond 1e4 scales the tail is held, never 0: a Cauchy tail is at least 2 / (π x) there."""
    d = of((S, 1.0, 1.0), (R, 1.0))
    for x in (1.5e4, 1e6):
        assert d.two_sided(x) >= 2 * stats.t.sf(x, 1)


@pytest.mark.parametrize("x", [1.5, 1.6, 40.0])
def test_two_rectangles_have_no_density_outside(x: float) -> None:
    assert of((R, 1.0), (R, 0.5)).pdf([x, -x]).tolist() == [0, 0]
