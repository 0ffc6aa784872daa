"""From readings to the verdict."""

from __future__ import annotations

import math

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from stoichkit import experiments
from stoichkit.errors import ModelError
from stoichkit.evidence import assess
from stoichkit.instruments import Balance
from stoichkit.verdict import CaveatKind, VerdictKind
from tests.labs import lab, weighed

GOOD = [(3.12, 2.65, 0.71, 2.30), (2.98, 2.61, 0.70, 1.96), (3.40, 2.80, 0.72, 2.76)]


def kinds(evidence) -> set:
    return {w.kind for w in evidence.warnings}


def test_one_candidate_singled_out() -> None:
    evidence = assess(lab(GOOD))
    assert evidence.verdict.kind is VerdictKind.SINGLED_OUT
    assert evidence.verdict.candidates == ("copper(II)",)
    assert evidence.candidates["copper(II)"].relative_likelihood == 1.0
    assert evidence.ratio == pytest.approx(2.0, abs=0.02)
    assert evidence.ratio_set.kind == "bounded"


def test_the_same_lab_on_a_coarse_balance_cannot_tell() -> None:
    coarse = [[round(v, 1) for v in (3.12, 3.03, 0.71, 0.98)]]
    evidence = assess(lab(coarse, Balance(readability_g=0.1)))
    assert evidence.verdict.kind is VerdictKind.NOT_TOLD_APART
    assert evidence.verdict.candidates == ("copper(I)", "copper(II)")
    assert evidence.ratio_set.kind == "no upper limit"
    assert CaveatKind.NOT_RESOLVED in kinds(evidence)
    assert CaveatKind.SINGLE_TRIAL in kinds(evidence)


def test_none_fits_and_a_yield_over_100() -> None:
    wet = [(a, b, c, d + 0.5) for a, b, c, d in GOOD]
    evidence = assess(lab(wet))
    assert evidence.verdict.kind is VerdictKind.NONE_FITS
    assert evidence.verdict.candidates == ()
    over = next(w for w in evidence.warnings if w.kind is CaveatKind.OVER_100)
    assert over.subject == "copper(II)"
    assert over.value > 115


def test_recovery_allowance_widens_and_is_reported() -> None:
    wet = [(a, b, c, d + 0.08) for a, b, c, d in GOOD]
    strict = assess(lab(wet))
    assert strict.verdict.kind is VerdictKind.NONE_FITS
    low, high = strict.recovery_needed("copper(II)")
    assert 1 < low < high < 1.12
    inside = (1.0, round((low + high) / 2, 3))
    assert "copper(II)" in assess(lab(wet, recovery=inside)).verdict.candidates
    below = (1.0, 1 + 0.5 * (low - 1))
    assert "copper(II)" not in assess(lab(wet, recovery=(below[0], below[0]))).verdict.candidates
    # what is needed does not depend on what is allowed
    assert assess(lab(wet, recovery=inside)).recovery_needed("copper(II)") == pytest.approx(
        (low, high)
    )


def test_shared_sources_do_not_average_away() -> None:
    """With a recovery allowance, more trials stop helping; with digits alone they help."""
    one = assess(lab(GOOD[:1], recovery=(0.9, 1.1))).candidates["copper(II)"]
    many = assess(lab(GOOD[:1] * 1 + [GOOD[0]] * 15, recovery=(0.9, 1.1)))
    shared = many.candidates["copper(II)"].standard_uncertainty_mol
    assert shared > 0.8 * one.standard_uncertainty_mol
    plain_one = assess(lab(GOOD[:1])).candidates["copper(II)"].standard_uncertainty_mol
    plain_many = assess(lab([GOOD[0]] * 16)).candidates["copper(II)"].standard_uncertainty_mol
    assert plain_many == pytest.approx(plain_one / 4, rel=0.02)


def test_calibration_of_one_balance_cancels_in_the_ratio() -> None:
    """Both masses are read on the same balance, so its relative error does not move the ratio."""
    with_error = Balance(readability_g=0.01, calibration_relative=0.05)
    plain = assess(lab(GOOD)).ratio_set
    loose = assess(lab(GOOD, with_error)).ratio_set
    assert loose.low == pytest.approx(plain.low, rel=2e-3)
    assert loose.high == pytest.approx(plain.high, rel=2e-3)


def test_excess_scatter_is_seen_and_widens() -> None:
    # trials that disagree: 10 % too much, 10 % too little
    rows = [(3.12, 2.65, 0.71, 2.46), (2.98, 2.51, 0.70, 2.13), (3.40, 2.93, 0.72, 2.31)]
    evidence = assess(lab(rows))
    assert evidence.scatter is not None
    assert evidence.scatter.excess
    assert CaveatKind.EXCESS_SCATTER in kinds(evidence)
    calm = assess(lab(GOOD))
    assert calm.scatter is not None
    assert not calm.scatter.excess
    wide = evidence.candidates["copper(II)"]
    assert (
        wide.standard_uncertainty_mol > 2 * calm.candidates["copper(II)"].standard_uncertainty_mol
    )


def test_varied_amounts_do_not_count_as_scatter() -> None:
    """A wrong candidate's discrepancy grows with the amount; that must not excuse it."""
    rng = np.random.default_rng(2)
    tables = weighed(rng, [0.1, 0.3, 0.6, 1.2], 2.0, 0.01, 0.5, (4,))
    evidence = assess(lab(np.column_stack(tables)))
    assert evidence.scatter is not None
    assert not evidence.scatter.excess
    assert evidence.verdict.candidates == ("copper(II)",)


def test_p_values_at_the_worst_position_are_not_below_the_average_near_the_limit() -> None:
    for name in experiments.names():
        for c in assess(experiments.load(name)).candidates.values():
            assert 0 <= c.p_value <= 1
            assert 0 <= c.p_value_average <= 1
            if 0.001 < c.p_value_average < 0.5 and not c.candidate.name.startswith("x"):
                assert c.p_value >= c.p_value_average * 0.99


def test_likelihood_is_the_marginal_likelihood() -> None:
    """Density of D at the observed value = ∫ of the joint density over the amount reacted."""
    evidence = assess(lab(GOOD[:1]))
    (n_a, n_b) = evidence.amounts[0]
    from stoichkit.distribution import distribution_of

    a_error, b_error = distribution_of(n_a), distribution_of(n_b)
    for c in evidence.candidates.values():
        guess = n_b.nominal_value / c.ratio
        grid = np.linspace(
            n_a.nominal_value - 8 * n_a.std_dev, n_a.nominal_value + 8 * n_a.std_dev, 40_001
        )
        joint = a_error.pdf(n_a.nominal_value - grid) * b_error.pdf(
            n_b.nominal_value - c.ratio * grid
        )
        integral = float(np.trapezoid(joint, grid))
        if integral > 0:
            assert c.likelihood_per_mol == pytest.approx(integral, rel=2e-3), guess


@given(
    mass=st.floats(0.02, 1.5),
    ratio=st.sampled_from([1.0, 1.5, 2.0, 2.4]),
    step=st.sampled_from([0.1, 0.01, 0.001]),
    noise=st.sampled_from([0.0, 0.3, 1.0]),
    trials=st.integers(1, 4),
    seed=st.integers(0, 1000),
)
@settings(max_examples=60, deadline=None)
def test_ratio_set_holds_exactly_the_compatible_candidates(
    mass: float, ratio: float, step: float, noise: float, trials: int, seed: int
) -> None:
    rng = np.random.default_rng(seed)
    tables = weighed(rng, mass, ratio, step, noise, (trials,))
    balance = Balance(readability_g=step, repeatability_g=noise * step)
    names = {f"r {r}": r for r in ("1/2", "1", "3/2", "2", "5/2", "3")}
    evidence = assess(lab(np.column_stack(tables), balance, names))
    found = evidence.ratio_set
    for c in evidence.candidates.values():
        assert (c.ratio in found) == c.compatible
    if evidence.ratio > 0 and math.isfinite(evidence.ratio):
        assert evidence.ratio in found
    for interval in found.intervals:
        inside = interval.low + 0.3 * (min(interval.high, interval.low + 1e3) - interval.low)
        assert evidence.p_value(inside) >= 0.05


def test_coverage_is_checked() -> None:
    with pytest.raises(ModelError, match=r"0\.5 to 0\.9999"):
        assess(lab(GOOD), coverage=1.0)
    assert assess(lab(GOOD), coverage=0.99).coverage == 0.99


def test_unknown_candidate_is_named() -> None:
    with pytest.raises(ModelError, match=r"copper\(III\)"):
        assess(lab(GOOD)).budget_for("copper(III)")


def test_identical_digits_without_any_error_are_handled() -> None:
    """Digits only, nothing consumed and nothing produced: every ratio stays possible."""
    rows = [(3.1, 3.1, 0.7, 0.7)]
    evidence = assess(lab(rows, Balance(readability_g=0.1, repeatability_g=0.0)))
    assert evidence.verdict.kind is VerdictKind.NOT_TOLD_APART
    assert evidence.ratio_set.kind == "every ratio"
    assert math.isnan(evidence.ratio)
