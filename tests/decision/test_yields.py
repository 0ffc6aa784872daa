"""Limiting reactant, theoretical yield, percent yield and percent error."""

from __future__ import annotations

import math
from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from stoichkit import experiments
from stoichkit.chemistry.elements import molar_mass
from stoichkit.chemistry.limiting import limiting_reactant, theoretical_yield
from stoichkit.decision.evidence import assess
from stoichkit.decision.yields import (
    PercentYield,
    Quotient,
    linear_parts,
    percent_error,
    percent_yield,
    yield_for,
)
from stoichkit.errors import EquationError, ModelError
from stoichkit.measurement.displays import Balance
from stoichkit.uncertainty.sources import Number, Shape, error_source, nominal, uncertain_value
from tests.labs import lab

FINE = Balance(readability_g=0.01, repeatability_g=0.005)


def known(value: float, scale: float, shape: Shape = Shape.NORMAL) -> Number:
    return uncertain_value(value, "test", kind="other", shape=shape, scale=scale)


# limiting reactant


def test_the_smallest_extent_limits_and_the_rest_is_in_excess() -> None:
    found = limiting_reactant("H2 + O2 -> H2O", {"H2": 5.0, "O2": 2.0})

    assert found.species == "O2"
    assert found.extent_mol == 2.0
    assert dict(found.excess_mol) == {"H2": 1.0}
    assert dict(found.probability) == {"H2": 0.0, "O2": 1.0}


def test_probability_of_two_is_exact() -> None:
    """The difference of two rectangles of half-width 1 is a triangle: P = (2 − d)² / 8."""
    a, b = known(10.0, 1.0, Shape.RECTANGULAR), known(10.5, 1.0, Shape.RECTANGULAR)
    found = limiting_reactant("Fe + S -> FeS", {"Fe": a, "S": b})

    assert found.species == "Fe"
    assert found.probability["S"] == pytest.approx(1.5**2 / 8, abs=1e-12)
    assert sum(found.probability.values()) == pytest.approx(1.0, abs=1e-15)


def test_shared_errors_do_not_count() -> None:
    """One balance error in both amounts cancels in their difference."""
    drift = error_source("drift", kind="calibration", shape=Shape.NORMAL, scale=1.0)
    found = limiting_reactant("Fe + S -> FeS", {"Fe": 10.0 + drift, "S": 10.1 + drift})

    assert found.probability["Fe"] == 1.0


def test_probability_of_three_equal_ones_is_a_third_each() -> None:
    reaction = "Na + Al + F2 -> Na3AlF6"
    amounts = {"Na": known(3.0, 0.3), "Al": known(1.0, 0.1), "F2": known(3.0, 0.3)}
    found = limiting_reactant(reaction, amounts)

    for p in found.probability.values():
        assert p == pytest.approx(1 / 3, abs=0.004)
    assert sum(found.probability.values()) == pytest.approx(1.0, abs=1e-12)


def test_probability_of_three_agrees_with_two_when_the_third_is_plenty() -> None:
    two = {"Na": known(3.0, 0.3), "Al": known(1.05, 0.1)}
    exact = limiting_reactant("Na + Al + F2 -> Na3AlF6", two)
    drawn = limiting_reactant("Na + Al + F2 -> Na3AlF6", {**two, "F2": known(30.0, 0.3)})

    assert drawn.probability["Na"] == pytest.approx(exact.probability["Na"], abs=0.004)
    assert drawn.probability["F2"] == 0.0


def test_shared_errors_do_not_count_among_three_either() -> None:
    drift = error_source("drift", kind="calibration", shape=Shape.NORMAL, scale=0.2)
    amounts = {"Na": 3.03 + 3 * drift, "Al": 1.0 + drift, "F2": 3.03 + 3 * drift}
    found = limiting_reactant("Na + Al + F2 -> Na3AlF6", amounts)

    assert dict(found.probability) == {"Na": 0.0, "Al": 1.0, "F2": 0.0}


def test_exact_ties_are_shared() -> None:
    two = limiting_reactant("Fe + S -> FeS", {"Fe": 1, "S": 1})
    three = limiting_reactant("Na + Al + F2 -> Na3AlF6", {"Na": 3, "Al": 1, "F2": 4})

    assert dict(two.probability) == {"Fe": 0.5, "S": 0.5}
    assert dict(three.probability) == {"Na": 0.5, "Al": 0.5, "F2": 0.0}


def test_one_amount_alone_limits() -> None:
    assert limiting_reactant("Fe + S -> FeS", {"S": 2}).probability["S"] == 1.0


def test_nothing_of_a_reactant_gives_nothing() -> None:
    assert theoretical_yield("Fe + S -> FeS", {"Fe": 0, "S": 1}, "FeS").amount_mol == 0


@pytest.mark.parametrize(
    ("amounts", "words"),
    [
        ({}, "No amount"),
        ({"Fe": -0.1}, "The amount of Fe is out of range"),
        ({"Fe": math.nan}, "The amount of Fe is not a number"),
        ({"Fe": 1, "Fe(s)": 1}, "named twice"),
    ],
)
def test_amounts_that_cannot_be_used(amounts: dict[str, float], words: str) -> None:
    with pytest.raises(ModelError, match=words):
        limiting_reactant("Fe(s) + S(s) -> FeS(s)", amounts)


def test_a_substance_that_is_not_a_reactant_is_refused() -> None:
    with pytest.raises(EquationError, match="Cu"):
        limiting_reactant("Fe + S -> FeS", {"Cu": 1})
    with pytest.raises(EquationError):
        theoretical_yield("Fe + S -> FeS", {"Fe": 1}, "FeS2")


def test_theoretical_yield_keeps_its_sources() -> None:
    """Mass in and mass out share the atomic weight of copper: only oxygen's is left."""
    made = theoretical_yield("Cu + O2 -> CuO", {"Cu": 10.0 / molar_mass("Cu")}, "CuO")
    labels = {source.label for source, *_ in linear_parts(made.mass_g, 1.0)}

    assert nominal(made.mass_g) == pytest.approx(10 * 79.545 / 63.546, rel=1e-5)
    assert labels == {"atomic weight of Cu", "atomic weight of O"}


# percent yield


def fieller(a: float, b: float, u_a: float, u_b: float, z: float) -> tuple[float, float]:
    """Limits of a/b for independent normal errors, from the quadratic equation."""
    g = (z * u_b / b) ** 2
    q = a / b
    root = z / b * math.sqrt(u_a**2 * (1 - g) + q**2 * u_b**2)
    return (q - root) / (1 - g), (q + root) / (1 - g)


@settings(max_examples=25, deadline=None)
@given(
    a=st.floats(0.2, 3.0),
    u_a=st.floats(0.01, 0.3),
    u_b=st.floats(0.01, 0.3),
    coverage=st.sampled_from([0.8, 0.95, 0.99]),
)
def test_inversion_is_fieller_for_normal_errors(
    a: float, u_a: float, u_b: float, coverage: float
) -> None:
    """E. C. Fieller, J. R. Stat. Soc. B 16 (1954) 175-185, formula from memory."""
    from scipy.special import ndtri

    z = float(ndtri((1 + coverage) / 2))
    found = percent_yield(known(a, u_a), known(1.0, u_b), coverage=coverage)
    low, high = fieller(a, 1.0, u_a, u_b, z)

    assert found.by_inversion[0] == pytest.approx(max(100 * low, 0.0), rel=1e-6, abs=1e-5)
    assert found.by_inversion[1] == pytest.approx(100 * high, rel=1e-6)


@pytest.mark.parametrize("shape", [Shape.RECTANGULAR, Shape.TRIANGULAR, Shape.NORMAL])
def test_monte_carlo_agrees_with_inversion(shape: Shape) -> None:
    """Both leave out the same probability on each side of a quotient of linear forms."""
    shared = error_source("shared", kind="other", shape=shape, scale=0.05)
    actual = known(0.8, 0.1, shape) + shared
    theoretical = known(1.0, 0.12, shape) + 2 * shared
    found = percent_yield(actual, theoretical)
    result = found.monte_carlo

    assert result is not None
    assert result.settled
    assert found.method == "Monte Carlo"
    assert found.interval == result.symmetric
    for drawn, exact in zip(result.symmetric, found.by_inversion, strict=True):
        assert drawn == pytest.approx(exact, abs=3 * result.tolerance)


def test_first_order_is_shown_where_it_is_good_enough() -> None:
    found = percent_yield(known(0.392, 0.002), known(0.5072, 0.0005))

    assert found.method == "first order"
    assert found.interval == found.first_order
    assert found.standard_uncertainty == pytest.approx(
        100 * math.hypot(0.002 / 0.5072, 0.392 * 0.0005 / 0.5072**2), rel=1e-9
    )


def test_monte_carlo_repeats_itself() -> None:
    actual, theoretical = known(0.8, 0.1), known(1.0, 0.1)
    one, two = (percent_yield(actual, theoretical).interval for _ in range(2))

    assert one == two


def test_no_upper_limit_where_the_theoretical_yield_is_not_told_apart_from_zero() -> None:
    found = percent_yield(known(1.0, 0.1), known(0.1, 0.1))

    assert not found.resolved
    assert math.isnan(found.estimate)
    assert math.isnan(found.standard_uncertainty)
    assert found.first_order is None
    assert found.monte_carlo is None
    assert found.comparison is None
    assert found.method == "test inversion"
    assert found.interval[0] > 100
    assert found.interval[1] == math.inf


def test_inversion_is_shown_where_monte_carlo_does_not_settle() -> None:
    """A denominator 2.2 standard deviations from zero gives a quotient without moments."""
    found = percent_yield(known(1.0, 0.1), known(1.0, 0.45))

    assert found.resolved
    assert found.monte_carlo is not None
    assert not found.monte_carlo.settled
    assert found.method == "test inversion"
    assert found.interval == found.by_inversion


@pytest.mark.parametrize("actual", [0.7, 0.95, 1.0, 1.05, 1.075, 1.3])
def test_over_100_goes_with_the_interval(actual: float) -> None:
    found = percent_yield(known(actual, 0.03), known(1.0, 0.03))
    beyond = found.by_inversion[0] > 100

    assert found.over_100 is beyond
    assert (found.probability_over_100 > 0.5) == (actual > 1.0)
    gap = (actual - 1.0) / math.hypot(0.03, 0.03)
    expected = 0.5 * (1 + math.erf(gap / math.sqrt(2)))
    assert found.probability_over_100 == pytest.approx(expected, abs=1e-9)


def test_exact_numbers_give_an_exact_percentage() -> None:
    found = percent_yield(3, 4)

    assert (found.estimate, found.standard_uncertainty) == (75.0, 0.0)
    assert found.interval == (75.0, 75.0)
    assert (found.probability_over_100, found.over_100) == (0.0, False)
    assert percent_yield(5, 4).over_100


@pytest.mark.parametrize("theoretical", [0, -1.0, math.nan])
def test_a_theoretical_yield_that_is_not_above_zero_is_refused(theoretical: float) -> None:
    with pytest.raises(ModelError, match="`theoretical` is"):
        percent_yield(1.0, theoretical)


@pytest.mark.parametrize("coverage", [0.0, 1.0, 95, math.nan])
def test_coverage_must_be_a_probability(coverage: float) -> None:
    with pytest.raises(ModelError, match="coverage"):
        percent_yield(1.0, 2.0, coverage=coverage)


def test_a_result_that_is_not_finite_is_refused() -> None:
    with pytest.raises(ModelError, match="finite"):
        percent_yield(math.inf, 2.0)


def test_less_than_nothing_obtained_fits_no_yield() -> None:
    found = percent_yield(known(-1.0, 0.1), known(1.0, 0.1))

    assert found.interval[1] < 0  # shown as it is: the readings are wrong
    with pytest.raises(ModelError, match="No value from 0 up"):
        _ = found.by_inversion


def test_the_interval_covers_the_true_yield() -> None:
    """Over 2000 simulated labs the 95 % interval holds the truth 95 % of the time."""
    rng = np.random.default_rng(5)
    true_actual, true_theoretical, inside = 0.6, 0.8, 0
    for _ in range(2000):
        actual = true_actual + rng.uniform(-0.1, 0.1)
        theoretical = true_theoretical + rng.uniform(-0.2, 0.2)
        shown = Quotient(
            numerator=actual,
            denominator=theoretical,
            parts=linear_parts(
                known(actual, 0.1, Shape.RECTANGULAR), known(theoretical, 0.2, Shape.RECTANGULAR)
            ),
        )
        inside += shown.p_value(true_actual / true_theoretical) >= 0.05
    assert inside / 2000 == pytest.approx(0.95, abs=4 * math.sqrt(0.95 * 0.05 / 2000))


# percent error


def test_percent_error_has_a_sign() -> None:
    found = percent_error(known(6.86, 0.09), 7)

    assert found.estimate == pytest.approx(-2.0)
    assert found.standard_uncertainty == pytest.approx(100 * 0.09 / 7)
    assert not found.differs
    assert percent_error(known(6.0, 0.09), 7).differs


def test_percent_error_by_inversion_may_be_negative() -> None:
    found = percent_error(known(6.0, 0.3), known(7.0, 0.3))
    low, high = found.by_inversion
    expected = fieller(6.0, 7.0, 0.3, 0.3, 1.959963985)

    assert low == pytest.approx(100 * (expected[0] - 1), rel=1e-6)
    assert high == pytest.approx(100 * (expected[1] - 1), rel=1e-6)


def test_p_equal_is_the_tail_of_the_difference() -> None:
    from scipy.special import ndtr

    found = percent_error(known(7.2, 0.1), known(7.0, 0.05))

    assert found.p_equal == pytest.approx(2 * ndtr(-0.2 / math.hypot(0.1, 0.05)), rel=1e-9)


@pytest.mark.parametrize(
    "accepted", [0, -2, uncertain_value(1.0, "x", kind="other", shape=Shape.NORMAL, scale=0.9)]
)
def test_no_percentage_of_an_accepted_value_near_zero(accepted: Number) -> None:
    with pytest.raises(ModelError, match="not told apart from zero"):
        percent_error(1.0, accepted)


# the yield of an experiment


@pytest.mark.parametrize("name", experiments.names())
def test_the_yield_holds_100_exactly_when_the_candidate_fits(name: str) -> None:
    evidence = assess(experiments.load(name))
    for candidate in evidence.candidates.values():
        found = yield_for(evidence, candidate.name)
        low, high = found.interval

        assert (low <= 100 <= high) == candidate.compatible
        assert found.estimate == pytest.approx(100 * evidence.ratio / candidate.ratio)
        assert low == pytest.approx(100 * evidence.ratio_set.low / candidate.ratio)
        assert found.over_100 == (low > 100)


def test_the_three_routes_agree_for_a_well_resolved_lab() -> None:
    evidence = assess(experiments.load("magnesium-gas"))
    found = yield_for(evidence, "magnesium(II)")
    first, result = found.first_order, found.monte_carlo

    assert first is not None
    assert result is not None
    assert found.comparison is not None
    for one, other, tested in zip(first, result.symmetric, found.interval, strict=True):
        assert one == pytest.approx(other, abs=found.standard_uncertainty / 10)
        # the worst position between display steps makes the tested interval a little wider
        assert one == pytest.approx(tested, abs=found.standard_uncertainty / 2)


def test_the_recovery_allowance_is_left_out_of_the_yield() -> None:
    plain = lab([(2.94, 2.84, 0.75, 1.02), (3.19, 3.09, 0.70, 0.96)], FINE)
    allowed = replace(plain, recovery=(0.7, 0.9))
    one = yield_for(assess(plain), "copper(II)")
    other = yield_for(assess(allowed), "copper(II)")

    assert assess(plain).verdict.candidates == ()
    assert assess(allowed).verdict.candidates == ("copper(II)",)
    assert one.interval == pytest.approx(other.interval)
    assert one.estimate == pytest.approx(other.estimate)


def test_excess_scatter_is_in_the_uncertainty_of_the_yield() -> None:
    scattered = lab(
        [(2.94, 2.84, 0.75, 1.02), (3.19, 3.09, 0.70, 1.09), (3.19, 3.09, 0.70, 1.02)], FINE
    )
    evidence = assess(scattered)
    found = yield_for(evidence, "copper(II)")
    instruments = percent_yield(evidence.n_produced, 2 * evidence.n_consumed)

    assert evidence.scatter is not None
    assert evidence.scatter.excess
    assert found.estimate == pytest.approx(instruments.estimate)
    # the scatter is expected from the instruments times the ratio of spreads
    assert found.standard_uncertainty == pytest.approx(
        evidence.scatter.ratio_of_spread * instruments.standard_uncertainty, rel=1e-3
    )
    assert isinstance(found, PercentYield)
    assert found.first_order is not None


def test_probability_over_100_of_a_lab() -> None:
    evidence = assess(experiments.load("copper-silver"))
    found = yield_for(evidence, "copper(II)")
    error = percent_yield(evidence.n_produced, 2 * evidence.n_consumed)

    assert found.probability_over_100 == pytest.approx(error.probability_over_100, abs=1e-9)


def test_an_open_yield_where_nothing_was_told_apart_from_zero() -> None:
    evidence = assess(lab([(2.9, 2.8, 0.7, 0.9)], Balance(readability_g=0.1)))
    found = yield_for(evidence, "copper(II)")

    assert found.interval == (0.0, math.inf)
    assert math.isnan(found.estimate)


def test_less_product_than_nothing_has_no_yield() -> None:
    evidence = assess(lab([(2.94, 2.84, 0.95, 0.75)], FINE))

    with pytest.raises(ModelError, match="No yield"):
        yield_for(evidence, "copper(II)")


def test_an_unknown_candidate_is_named() -> None:
    with pytest.raises(ModelError, match="copper\\(III\\)"):
        yield_for(assess(experiments.load("copper-silver")), "copper(III)")
