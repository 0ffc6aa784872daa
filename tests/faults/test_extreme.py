"""Extreme numbers: a finite answer, a stated infinity, or a refusal; never a silent nan."""

from __future__ import annotations

import math

import numpy as np
import pytest

import stoichkit
from stoichkit import experiments
from stoichkit.errors import StoichkitError
from stoichkit.uncertainty.sources import nominal

LAB = experiments.load("copper-silver")
TYPED = ("0", "-0", "0.00", "1e-300", "1e300", "-1e300", "9" * 30, "1e-30", "0." + "0" * 35 + "1")
NOT_NUMBERS = ("nan", "NaN", "inf", "-inf", "Infinity", "1e999", "1_000", "0x1p3", "١٢", "1e")


@pytest.mark.parametrize("reading", ["wire before", "wire after", "paper", "paper + silver"])
@pytest.mark.parametrize("text", TYPED)
def test_extreme_readings(reading: str, text: str) -> None:
    try:
        found = stoichkit.assess(LAB.with_reading("bench 1", reading, text))
    except StoichkitError as refusal:
        assert str(refusal)  # noqa: PT017
        return
    for c in found.candidates.values():
        assert 0 <= c.p_value <= 1
        assert math.isfinite(c.discrepancy_mol)
        assert 0 <= c.relative_likelihood <= 1
    for interval in found.ratio_set.intervals:
        assert interval.low <= interval.high
        assert not math.isnan(interval.low)
    stoichkit.lab_report(found).text()
    stoichkit.find_slips(found.experiment)


@pytest.mark.parametrize("text", NOT_NUMBERS)
def test_what_is_no_finite_number_is_refused_with_its_place(text: str) -> None:
    with pytest.raises(StoichkitError, match="wire before"):
        LAB.with_reading("bench 1", "wire before", text)


@pytest.mark.parametrize("scale", [1e-12, 1e-6, 1.0, 1e6, 1e9])
def test_a_lab_in_other_sizes_has_the_same_verdict(scale: float) -> None:
    """p depends on masses in display steps only, whatever the step."""
    masses = [np.array(m) for m in ([2.94, 3.19], [2.82, 3.09], [0.75, 0.70], [1.15, 1.06])]

    def p_values(factor: float) -> np.ndarray:
        return stoichkit.assess_weighings(
            *(np.round(m * 100) * (0.01 * factor) for m in masses), consumed="Cu", produced="Ag",
            candidates={"copper(I)": 1, "copper(II)": 2},
            balance=stoichkit.Balance(readability_g=0.01 * factor),
        ).p_value  # fmt: skip

    np.testing.assert_allclose(p_values(scale), p_values(1.0), rtol=1e-6, atol=1e-12)


@pytest.mark.parametrize("bad", [math.nan, math.inf, -math.inf])
def test_one_bad_number_in_many_is_found(bad: float) -> None:
    before = np.full((1000, 2), 2.94)
    before[317, 1] = bad
    with pytest.raises(StoichkitError, match=r"317|not a finite"):
        stoichkit.assess_weighings(
            before, before - 0.12, before, before + 0.4, consumed="Cu", produced="Ag",
            candidates={"one": 1}, balance=stoichkit.Balance(),
        )  # fmt: skip


def test_negative_zero_is_zero() -> None:
    a = stoichkit.percent_yield(-0.0, 1.0)
    b = stoichkit.percent_yield(0.0, 1.0)
    assert a.estimate == b.estimate == 0


def test_large_counts_and_masses_of_formulas_are_exact_or_refused() -> None:
    assert nominal(stoichkit.molar_mass("C9999H2")) == pytest.approx(9999 * 12.011 + 2 * 1.008)
    with pytest.raises(StoichkitError):
        stoichkit.molar_mass("C" + "9" * 400)


def test_coverage_near_its_ends() -> None:
    for coverage in (0.5, 0.9999):
        found = stoichkit.assess(LAB, coverage=coverage)
        assert {c.compatible for c in found.candidates.values()} <= {True, False}
    for coverage in (0.0, 1.0, 0.49999, math.nan, 1e300):
        with pytest.raises(StoichkitError):
            stoichkit.assess(LAB, coverage=coverage)
