"""The exact distribution of a sum of error sources: closed forms, quadrature, simulation."""

from __future__ import annotations

import math
from collections.abc import Sequence
from fractions import Fraction
from itertools import pairwise, product
from typing import Any

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy import integrate, stats

from stoichkit.errors import ModelError
from stoichkit.uncertainty.distribution import SumDistribution, distribution_of
from stoichkit.uncertainty.montecarlo import draw
from stoichkit.uncertainty.sources import (
    Shape,
    Source,
    Term,
    characteristic_factor,
    error_source,
    merged,
    terms_of,
    uncertain_value,
)

R, T, A, N, S = (
    Shape.RECTANGULAR,
    Shape.TRIANGULAR,
    Shape.ARCSINE,
    Shape.NORMAL,
    Shape.STUDENT_T,
)


def of(*terms: tuple[Any, ...]) -> SumDistribution:
    return SumDistribution(Term(*term) for term in terms)


def irwin_hall(half_widths: Sequence[float], x: float, *, power: int) -> float:
    """Σ ± (x ± a1 ± … ± an)₊^power / (power! 2ⁿ a1…an), exactly in fractions.

    Power n gives the distribution function of a sum of n rectangular errors, n − 1 its density.
    """
    widths, at = [Fraction(a) for a in half_widths], Fraction(x)
    total = Fraction(0)
    for signs in product((1, -1), repeat=len(widths)):
        corner = at + sum(s * a for s, a in zip(signs, widths, strict=True))
        if corner > 0:
            total += math.prod(signs) * corner**power
    return float(total / (math.factorial(power) * math.prod(2 * a for a in widths)))


def quadrature(function: Any, low: float, high: float, corners: Sequence[float] = ()) -> float:
    inside = sorted({c for c in corners if low < c < high})
    edges = [low, *inside, high]
    return math.fsum(
        integrate.quad(function, one, other, epsabs=1e-14, epsrel=1e-13, limit=400)[0]
        for one, other in pairwise(edges)
    )


# -- against closed forms ---------------------------------------------------------------------

RECTANGLES = [
    [1.0],
    [1.0, 1.0],
    [1.0, 0.25],
    [1.0, 1.0, 1.0],
    [0.5, 0.25, 0.125, 1.0],
    [1.0, 0.9, 0.3, 0.2, 0.1, 0.01],
    [3.0, 1.0, 0.01, 0.01, 0.01],
]


@pytest.mark.parametrize("widths", RECTANGLES, ids=str)
def test_rectangles_against_exact_fractions(widths: list[float]) -> None:
    distribution = SumDistribution(Term(R, a) for a in widths)
    x = np.linspace(-1, 1, 23) * sum(widths) * 0.999

    cdf = [irwin_hall(widths, v, power=len(widths)) for v in x.tolist()]
    pdf = [irwin_hall(widths, v, power=len(widths) - 1) for v in x.tolist()]

    assert distribution.cdf(x) == pytest.approx(cdf, abs=1e-12)
    assert distribution.pdf(x) == pytest.approx(pdf, abs=1e-9 if len(widths) > 2 else 1e-12)


@pytest.mark.parametrize("others", [[], [0.3], [0.3, 0.7]], ids=str)
def test_a_triangle_is_two_rectangles_of_half_its_width(others: list[float]) -> None:
    distribution = of((T, 1.0), *((R, a) for a in others))
    widths = [0.5, 0.5, *others]
    x = np.linspace(-1, 1, 17) * sum(widths)

    expected = [irwin_hall(widths, v, power=len(widths)) for v in x.tolist()]

    assert distribution.cdf(x) == pytest.approx(expected, abs=1e-12)


@settings(max_examples=60, deadline=None)
@given(
    st.lists(st.floats(1e-3, 1.0), min_size=1, max_size=6),
    st.floats(-1.0, 1.0),
)
def test_any_rectangles_against_exact_fractions(widths: list[float], part: float) -> None:
    x = part * sum(widths)

    found = float(SumDistribution(Term(R, a) for a in widths).cdf(x))

    assert found == pytest.approx(irwin_hall(widths, x, power=len(widths)), abs=1e-9)


@pytest.mark.parametrize("width", [1e-3, 0.01, 0.3, 1.0, 10.0])
def test_triangle_and_rectangle_by_quadrature(width: float) -> None:
    distribution = of((T, 1.0), (R, width))

    for x in (-1.0 - width / 2, -0.4, 0.0, 0.7, width, 1.0):

        def triangle(u: float, at: float = x) -> float:
            v = min(max(at - u, -1.0), 1.0)
            return (1 + v) ** 2 / 2 if v < 0 else 1 - (1 - v) ** 2 / 2

        corners = [x - 1, x, x + 1]
        expected = quadrature(triangle, -width, width, corners) / (2 * width)
        assert float(distribution.cdf(x)) == pytest.approx(expected, abs=1e-10)


@pytest.mark.parametrize("sigma", [2e-4, 0.01, 0.3, 1.0, 30.0])
def test_rectangle_and_normal_in_closed_form(sigma: float) -> None:
    """Φ integrated: F(x) = σ/2 [K((x + 1)/σ) − K((x − 1)/σ)] with K(z) = z Φ(z) + φ(z)."""
    distribution = of((R, 1.0), (N, sigma))
    x = np.array([-1 - 2 * sigma, -1.0, -0.3, 0.0, 0.9, 1.0, 1 + sigma])

    def k(z: Any) -> Any:
        return z * stats.norm.cdf(z) + stats.norm.pdf(z)

    cdf = sigma / 2 * (k((x + 1) / sigma) - k((x - 1) / sigma))
    pdf = (stats.norm.cdf((x + 1) / sigma) - stats.norm.cdf((x - 1) / sigma)) / 2
    assert distribution.cdf(x) == pytest.approx(cdf, abs=1e-12)
    assert distribution.pdf(x) == pytest.approx(pdf, abs=1e-9)


def test_normals_add_in_quadrature() -> None:
    x = np.linspace(-15, 15, 31)

    assert of((N, 3.0), (N, 4.0)).cdf(x) == pytest.approx(stats.norm(0, 5).cdf(x), abs=1e-11)
    assert of((N, 3.0), (N, 4.0)).pdf(x) == pytest.approx(stats.norm(0, 5).pdf(x), abs=1e-11)
    assert of((N, 5.0)).cdf(x) == pytest.approx(stats.norm(0, 5).cdf(x), rel=1e-12)


def test_arcsine_alone() -> None:
    x = np.linspace(-0.99, 0.99, 21)

    assert of((A, 1.0)).cdf(x) == pytest.approx(0.5 + np.arcsin(x) / math.pi, abs=1e-14)


@pytest.mark.parametrize("width", [0.03, 0.5, 1.0])
def test_sums_with_an_arcsine_by_quadrature(width: float) -> None:
    """The sine of a uniform angle: E F(x − a sin θ)."""
    with_rectangle, with_arcsine = of((A, 1.0), (R, width)), of((A, 1.0), (A, width))
    for x in (-1.0, -0.99, -0.3, 0.2, 0.95):

        def rectangle(theta: float, at: float = x) -> float:
            return min(max(0.5 + (at - math.sin(theta)) / (2 * width), 0.0), 1.0)

        def arcsine(theta: float, at: float = x) -> float:
            v = min(max((at - math.sin(theta)) / width, -1.0), 1.0)
            return 0.5 + math.asin(v) / math.pi

        corners = [math.asin(c) for c in (x - width, x + width) if abs(c) <= 1]
        for distribution, function in ((with_rectangle, rectangle), (with_arcsine, arcsine)):
            expected = quadrature(function, -math.pi / 2, math.pi / 2, corners) / math.pi
            assert float(distribution.cdf(x)) == pytest.approx(expected, abs=2e-8)


MANY_DOF = [1.0, 2.0, 3.0, 4.5, 18.0, 30.0, 40.0, 59.0, 60.0, 61.0, 80.0, 200.0, 1000.0]


@pytest.mark.parametrize("dof", MANY_DOF)
def test_student_t_alone(dof: float) -> None:
    distribution = of((S, 2.0, dof))
    x = np.linspace(-20, 20, 41)

    assert distribution.cdf(x) == pytest.approx(stats.t(dof, scale=2).cdf(x), abs=1e-12)
    assert distribution.pdf(x) == pytest.approx(stats.t(dof, scale=2).pdf(x), abs=1e-10)
    for coverage in (0.5, 0.95, 0.9973):
        expected = 2 * stats.t.ppf((1 + coverage) / 2, dof)
        assert distribution.half_width(coverage) == pytest.approx(expected, rel=1e-9)


@pytest.mark.parametrize("dof", MANY_DOF)
@pytest.mark.parametrize("scale", [0.03, 0.3, 3.0])
def test_student_t_and_rectangle_by_quadrature(dof: float, scale: float) -> None:
    distribution = of((S, scale, dof), (R, 1.0))
    one = stats.t(dof, scale=scale)
    for x in (0.2, 1.1, 5.0, 40.0):
        corners = [x, *(x + k * scale for k in (-30, -5, -1, 1, 5, 30))]

        def error(u: float, at: float = x) -> float:
            return float(one.sf(at - u)) / 2

        expected = quadrature(error, -1.0, 1.0, corners)
        assert 1 - float(distribution.cdf(x)) == pytest.approx(expected, abs=1e-9)
        assert distribution.two_sided(x) == pytest.approx(2 * expected, abs=2e-9)


def test_student_t_without_degrees_of_freedom_is_normal() -> None:
    x = np.array([-3.0, 0.5, 2.0])

    assert of((S, 1.0), (R, 0.5)).cdf(x) == pytest.approx(of((N, 1.0), (R, 0.5)).cdf(x), abs=1e-14)
    assert of((S, 1.0)).half_width(0.95) == pytest.approx(1.959963984540054, rel=1e-10)


# -- characteristic function ------------------------------------------------------------------


@pytest.mark.parametrize(
    ("shape", "dof", "density", "ends"),
    [
        (R, math.inf, lambda _: 0.5, (-1, 1)),
        (T, math.inf, lambda x: 1 - abs(x), (-1, 1)),
        (N, math.inf, stats.norm.pdf, (-12, 12)),
        (S, 18.0, stats.t(18).pdf, (-200, 200)),
        (S, 75.0, stats.t(75).pdf, (-60, 60)),
        (S, 600.0, stats.t(600).pdf, (-40, 40)),
    ],
)
def test_characteristic_factor_by_quadrature(
    shape: Shape, dof: float, density: Any, ends: tuple[float, float]
) -> None:
    """E cos(t e), by integration of the density."""
    t = np.array([0.0, 1e-6, 0.3, 1.0, 2.5])

    found = characteristic_factor(shape, dof, t)

    for at, value in zip(t.tolist(), found.tolist(), strict=True):
        expected = quadrature(lambda x, at=at: density(x) * math.cos(at * x), *ends, [-1, 0, 1])
        assert value == pytest.approx(expected, abs=1e-10)


def test_characteristic_factor_of_student_t_in_closed_form() -> None:
    """With w = √ν |t|: e^−w for 1, (1 + w) e^−w for 3, (1 + w + w²/3) e^−w for 5."""
    t = np.concatenate([[0.0], np.geomspace(1e-7, 30, 60)])
    for dof, polynomial in ((1.0, [1]), (3.0, [1, 1]), (5.0, [1, 1, 1 / 3])):
        w = math.sqrt(dof) * t
        expected = np.exp(-w) * np.polynomial.Polynomial(polynomial)(w)

        assert characteristic_factor(S, dof, t) == pytest.approx(expected, abs=2e-8)
        assert characteristic_factor(S, dof, t[20:]) == pytest.approx(expected[20:], rel=1e-11)


def test_characteristic_factor_of_the_arcsine() -> None:
    """The mean of cos(t sin θ) over the angle."""
    theta = (np.arange(4096) + 0.5) * 2 * np.pi / 4096
    t = np.array([0.0, 0.5, 2.0, 7.0])

    expected = np.cos(np.outer(t, np.sin(theta))).mean(axis=1)

    assert characteristic_factor(A, math.inf, t) == pytest.approx(expected, abs=1e-13)


@pytest.mark.parametrize("dof", MANY_DOF)
def test_characteristic_factor_of_student_t_is_one_at_zero_and_falls(dof: float) -> None:
    t = np.concatenate([[0.0], np.geomspace(1e-9, 10, 200)])

    found = characteristic_factor(S, dof, t)

    assert found[:2] == pytest.approx([1.0, 1.0], abs=1e-7)
    assert (found >= 0).all()
    assert (np.diff(found) <= 1e-9).all()
    if dof > 10:
        assert float(characteristic_factor(S, dof, np.array([0.003]))[0]) == pytest.approx(
            1 - 0.003**2 / 2 * dof / (dof - 2), abs=2e-11
        )


def test_characteristic_function_is_the_product_of_the_factors() -> None:
    terms = [(R, 1.0), (R, 1.0), (R, 0.5), (T, 0.7), (A, 0.4), (N, 0.3), (N, 0.4), (S, 0.2, 5.0)]
    t = np.array([[0.0, 0.4], [1.3, 6.0]])

    expected = np.prod(
        [characteristic_factor(e[0], e[2] if len(e) > 2 else math.inf, e[1] * t) for e in terms],
        axis=0,
    )

    found = of(*terms).characteristic_function(t)
    assert found.shape == (2, 2)
    assert found == pytest.approx(expected, abs=1e-14)


# -- against simulation -----------------------------------------------------------------------

MIXTURES: list[list[tuple[Any, ...]]] = [
    [(R, 1.0), (T, 0.8), (A, 0.6), (N, 0.4)],
    [(A, 1.0), (A, 0.9), (R, 0.3)],
    [(R, 1.0), (S, 0.5, 3.0), (T, 0.4)],
    [(S, 1.0, 2.0), (S, 0.5, 7.0), (N, 0.3), (A, 1.0)],
]


@pytest.mark.parametrize("mixture", MIXTURES, ids=str)
def test_mixtures_against_simulation(mixture: list[tuple[Any, ...]]) -> None:
    """Half a million draws: every tail within four standard errors."""
    rng, size = np.random.default_rng(11), 500_000
    sources = [Source("e", "other", t[0], t[1], *t[2:]) for t in mixture]
    drawn = np.sort(sum(draw(source, rng, size) for source in sources))
    distribution = of(*mixture)

    for p in (0.001, 0.025, 0.2, 0.5, 0.9, 0.99):
        x = float(np.quantile(drawn, p))
        below = np.searchsorted(drawn, x, side="right") / size
        error = math.sqrt(p * (1 - p) / size)
        assert float(distribution.cdf(x)) == pytest.approx(below, abs=4 * error)
    if distribution.variance < math.inf:
        assert drawn.std() == pytest.approx(distribution.standard_deviation, rel=0.02)


def weighing_sum(digits: float) -> list[Term]:
    """Return the terms of a realistic discrepancy: eight readings, tolerance, atomic weights."""
    terms = [Term(R, digits / 2 * c) for c in (1.0, 1.0, 0.6, 0.6) * 2]
    terms += [Term(N, digits / 2 * c) for c in (1.0, 1.0, 0.6, 0.6) * 2]
    return [*terms, Term(T, digits * 0.4), Term(R, digits * 1e-3), Term(R, digits * 3e-5)]


def test_a_realistic_sum_against_simulation() -> None:
    rng, size = np.random.default_rng(5), 400_000
    terms = weighing_sum(0.01)
    drawn = sum(draw(Source("e", "other", t.shape, t.scale), rng, size) for t in terms)

    distribution = SumDistribution(terms)

    for x in (0.005, 0.01, 0.02, 0.03):
        p = distribution.two_sided(x)
        error = math.sqrt(p * (1 - p) / size)
        assert float((np.abs(drawn) >= x).mean()) == pytest.approx(p, abs=4 * error)


# -- merging ----------------------------------------------------------------------------------


@pytest.mark.parametrize("shape", [R, T, A, N])
def test_merging_negligible_terms_changes_nothing(
    shape: Shape, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Twenty terms below the limit, beside two readings and a normal: 1e-9 at most."""
    large = [Term(R, 1.0), Term(R, 0.8), Term(N, 0.3)]
    small = [Term(shape, 5e-5 * (1 + 0.02 * k)) for k in range(20)]
    x = np.linspace(-2.5, 2.5, 41)
    assert len(merged([*large, *small])) == len(large) + 1
    found = SumDistribution([*large, *small])

    monkeypatch.setattr("stoichkit.uncertainty.sources._NEGLIGIBLE", 0.0)
    kept = SumDistribution([*large, *small])

    assert len(kept.terms) == len(large) + len(small)
    assert found.cdf(x) == pytest.approx(kept.cdf(x), abs=1e-9)
    assert found.variance == pytest.approx(kept.variance, rel=1e-12)
    assert found.spread == pytest.approx(kept.spread, rel=1e-12)


def test_merging_a_tiny_term_into_one_rectangle() -> None:
    """The sharp edge of a lone rectangle feels it most: still within one millionth."""
    width = 9e-5
    found = of((R, 1.0), (R, width))
    x = 1 + width * np.linspace(-1, 1, 9)

    expected = [irwin_hall([1.0, width], v, power=2) for v in x.tolist()]

    assert [t.shape for t in found.terms] == [R, N]
    assert found.cdf(x) == pytest.approx(expected, abs=1e-6)


def test_what_is_merged() -> None:
    large = [Term(R, 1.0), Term(R, 1.0)]

    assert merged([*large, Term(R, 0.01)]) == (*large, Term(R, 0.01))
    assert merged([*large, Term(S, 1e-6, 3.0)])[-1] == Term(S, 1e-6, 3.0)  # its tails show
    assert merged([*large, Term(R, 1e-9)]) == tuple(large)  # too small to show at all
    *_, one = merged([*large, Term(S, 1e-5, 6.0), Term(R, 2e-5)])
    assert one.shape is N
    assert one.variance == pytest.approx(1.5e-10 + 4e-10 / 3)
    assert merged([]) == ()


# -- what a distribution must always satisfy --------------------------------------------------

SCALES = st.floats(0.01, 10.0)
TERM = st.one_of(
    st.builds(Term, st.sampled_from([R, T, N]), SCALES),
    st.builds(Term, st.just(S), SCALES, st.floats(3.0, 100.0)),
)


@settings(max_examples=60, deadline=None)
@given(st.lists(TERM, min_size=1, max_size=5), st.floats(0.1, 3.0))
def test_symmetric_rising_and_two_sided(terms: list[Term], part: float) -> None:
    d = SumDistribution(terms)
    x = part * d.spread
    grid = np.linspace(-4, 4, 41) * d.spread

    cdf = d.cdf(grid)

    assert (np.diff(cdf) >= -1e-9).all()
    assert cdf + cdf[::-1] == pytest.approx(np.ones(41), abs=1e-9)
    assert float(d.cdf(0.0)) == pytest.approx(0.5, abs=1e-12)
    assert d.two_sided(x) == pytest.approx(2 * (1 - float(d.cdf(x))), abs=1e-9)
    assert d.two_sided(-x) == d.two_sided(x)
    assert d.pdf(-x) == pytest.approx(d.pdf(x), abs=1e-9 / d.spread)


@settings(max_examples=25, deadline=None)
@given(st.lists(TERM, min_size=1, max_size=4), st.floats(0.5, 0.999))
def test_half_width_inverts_the_tail(terms: list[Term], coverage: float) -> None:
    d = SumDistribution(terms)

    h = d.half_width(coverage)

    assert d.two_sided(h) == pytest.approx(1 - coverage, abs=1e-9)


@pytest.mark.parametrize("coverage", [0.01, 0.5, 0.95, 0.999])
def test_half_width_of_power_tails(coverage: float) -> None:
    """Student t with one degree of freedom is a Cauchy: widths add up, h = Σ s tan(π c/2)."""
    sum_of_two = SumDistribution([Term(S, 0.3, 1.0), Term(S, 0.1, 1.0)])
    wanted = 0.4 * math.tan(math.pi * coverage / 2)
    assert sum_of_two.half_width(coverage) == pytest.approx(wanted, rel=1e-7)


def test_half_width_is_found_in_few_steps(monkeypatch: pytest.MonkeyPatch) -> None:
    """Halving alone asks for the tail some 45 times, which takes the longest of all in a report."""
    asked: list[float] = []
    tail = SumDistribution.two_sided
    monkeypatch.setattr(
        SumDistribution, "two_sided", lambda self, x: asked.append(x) or tail(self, x)
    )
    for terms in ([Term(S, 0.2, 3.0), Term(N, 0.1)], [Term(R, 1.0), Term(A, 0.4), Term(N, 0.2)]):
        asked.clear()
        SumDistribution(terms).half_width(0.95)
        assert len(asked) < 20


@settings(max_examples=40, deadline=None)
@given(st.lists(TERM, min_size=1, max_size=4), st.floats(1e-6, 1e6))
def test_a_change_of_unit_changes_nothing(terms: list[Term], unit: float) -> None:
    d = SumDistribution(terms)
    other = SumDistribution(Term(t.shape, t.scale * unit, t.dof) for t in terms)
    x = np.array([-1.7, -0.6, 0.2, 1.1]) * d.spread

    assert other.cdf(x * unit) == pytest.approx(d.cdf(x), abs=1e-9)
    assert other.pdf(x * unit) * unit == pytest.approx(d.pdf(x), abs=1e-8 / d.spread)


@pytest.mark.parametrize(
    "terms",
    [
        [(R, 1.0)],
        [(R, 1.0), (R, 0.3)],
        [(R, 1.0), (R, 0.7), (R, 0.2)],
        [(T, 1.0), (N, 0.2)],
        [(N, 1.0)],
        [(S, 1.0, 4.0), (R, 1.0)],
        [(A, 1.0), (N, 0.3)],
    ],
    ids=str,
)
def test_density_integrates_to_the_distribution_function(terms: list[tuple[Any, ...]]) -> None:
    d = of(*terms)
    corners = sorted(
        {sum(s * t[1] for s, t in zip(signs, terms, strict=True))
         for signs in product((-1, 0, 1), repeat=len(terms))}
    )  # fmt: skip

    nodes, weights = np.polynomial.legendre.leggauss(20)
    for low, high in ((-0.9, 0.4), (0.1, 1.2), (-3.0, 3.0)):
        bends = [low, *(c for c in corners if low < c < high), high]
        edges = np.unique(np.concatenate([np.linspace(*pair, 5) for pair in pairwise(bends)]))
        half, middle = np.diff(edges)[:, None] / 2, (edges[1:] + edges[:-1])[:, None] / 2
        area = float(((d.pdf(middle + half * nodes) * half) @ weights).sum())
        cdf = d.cdf([low, high])
        assert area == pytest.approx(cdf[1] - cdf[0], abs=1e-9)


def test_bounds_are_respected() -> None:
    d = of((R, 1.0), (T, 0.5), (A, 0.25))

    assert d.bound == pytest.approx(1.75)
    assert d.cdf([-1.76, 1.76, -100, 100]).tolist() == [0.0, 1.0, 0.0, 1.0]
    assert d.pdf([-1.76, 1.76]).tolist() == [0.0, 0.0]
    assert d.two_sided(1.75) == 0.0
    assert d.two_sided(1.6) > 0.0
    assert d.half_width(0.999999) < 1.75
    for unbounded in (of((R, 1.0), (N, 0.1)), of((R, 1.0), (S, 0.1, 5.0)), of((S, 1.0))):
        assert math.isinf(unbounded.bound)


def test_far_tails_are_not_negative() -> None:
    d = of((R, 1.0), (R, 1.0), (N, 0.5))
    x = np.linspace(3, 20, 60)

    assert (d.cdf(-x) >= 0).all()
    assert (d.pdf(x) >= 0).all()
    assert d.two_sided(30.0) == pytest.approx(0.0, abs=1e-11)


@pytest.mark.parametrize(
    ("terms", "variance"),
    [
        ([(R, 3.0)], 3.0),
        ([(T, 6.0)], 6.0),
        ([(A, 2.0)], 2.0),
        ([(N, 2.0)], 4.0),
        ([(S, 1.0, 4.0)], 2.0),
        ([(R, 3.0), (S, 1.0, 4.0)], 5.0),
        ([(S, 1.0, 2.0)], math.inf),
        ([(S, 1.0)], 1.0),
    ],
    ids=str,
)
def test_variance(terms: list[tuple[Any, ...]], variance: float) -> None:
    assert of(*terms).variance == pytest.approx(variance)
    assert of(*terms).standard_deviation == pytest.approx(math.sqrt(variance))


def test_spread_stays_finite_where_the_variance_does_not() -> None:
    assert of((S, 2.0, 1.0), (R, 3.0)).spread == pytest.approx(math.sqrt(7))


def test_variance_is_that_of_the_density() -> None:
    d = of((R, 1.0), (T, 0.8), (N, 0.3))

    found = quadrature(lambda v: v * v * float(d.pdf(v)), -6, 6, [-1.8, -1, 0, 1, 1.8])

    assert found == pytest.approx(d.variance, abs=1e-8)


# -- edges and refusals -----------------------------------------------------------------------


def test_no_error_at_all() -> None:
    nothing = SumDistribution([Term(R, 0.0)])

    assert nothing.terms == ()
    assert nothing.cdf([-1e-300, 0.0, 1e-300]).tolist() == [0.0, 1.0, 1.0]
    assert nothing.two_sided(0.0) == 1.0
    assert nothing.two_sided(1e-300) == 0.0
    assert nothing.half_width(0.95) == 0.0
    assert nothing.bound == 0.0
    with pytest.raises(ModelError, match="no density"):
        nothing.pdf(0.0)


@pytest.mark.parametrize("scale", [-1.0, math.nan, math.inf])
def test_sizes_that_cannot_be_used(scale: float) -> None:
    with pytest.raises(ModelError, match="size that cannot be used"):
        of((N, 1.0), (R, scale))


@pytest.mark.parametrize("coverage", [0.0, 1.0, -0.1, 1.5, math.nan])
def test_coverages_that_cannot_be_used(coverage: float) -> None:
    with pytest.raises(ModelError, match="between 0 and 1"):
        of((N, 1.0)).half_width(coverage)


@pytest.mark.parametrize(
    "terms", [[(N, 1.0)], [(R, 1.0)], [(R, 1.0), (N, 1.0)], [(R, 1.0), (S, 1.0, 3.0)]], ids=str
)
def test_arrays_of_any_shape(terms: list[tuple[Any, ...]]) -> None:
    d = of(*terms)
    x = np.linspace(-1, 1, 6).reshape(2, 3)

    for function in (d.cdf, d.pdf):
        assert function(x).shape == (2, 3)
        assert function(x)[1, 2] == pytest.approx(float(function(x[1, 2])), abs=1e-12)
        assert function([]).shape == (0,)
        assert function(0.5).shape == ()


def test_distribution_of_an_uncertain_number() -> None:
    """Coefficients scale the terms, a shared source is one term, the estimate plays no part."""
    shared = error_source("shared", kind="calibration", shape=R, scale=0.5)
    own = uncertain_value(4.0, "own", kind="other", shape=S, scale=2.0, dof=7.0)

    d = distribution_of(10.0 + 2 * own - 3 * shared + shared)

    assert sorted(d.terms, key=lambda t: t.scale) == [Term(R, 1.0), Term(S, 4.0, 7.0)]
    assert distribution_of(shared - shared).terms == ()
    assert distribution_of(3.0).terms == ()


def test_terms_of_drops_what_has_no_effect() -> None:
    source = Source("e", "other", S, 2.0, 5.0)

    assert terms_of([(source, -1.5), (source, 0.0)]) == (Term(S, 3.0, 5.0),)


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
