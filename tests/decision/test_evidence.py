"""From readings to the verdict."""

from __future__ import annotations

import itertools
import math
from dataclasses import replace
from typing import Any

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy import stats

from stoichkit import experiments
from stoichkit.chemistry.candidates import plain_ratios
from stoichkit.decision.evidence import Evidence, assess, linear_amounts
from stoichkit.decision.sentences import assumption_sentences, caveat_sentence, yield_sentence
from stoichkit.decision.statement import below_zero_clause, reason_sentences, verdict_sentences
from stoichkit.decision.verdict import Caveat, CaveatKind, Reason, VerdictKind, verdict_of
from stoichkit.errors import ModelError
from stoichkit.experiments.parts import Trial, Variation
from stoichkit.experiments.record import Experiment
from stoichkit.measurement.displays import Ammeter, Balance, Timer
from stoichkit.measurement.gas_and_charge import ElectricCharge
from stoichkit.measurement.weighing import MassByDifference
from stoichkit.reports.worked import conclusion_paragraph, worked_solution
from tests.labs import RATIOS, crucible, lab, weighed

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
    """A variation known from few trials is one error for all; with digits alone trials help."""
    known = Variation(relative=0.1, from_trials=4)
    one = assess(replace(lab(GOOD[:1]), variation=known)).candidates["copper(II)"]
    many = assess(replace(lab([GOOD[0]] * 16), variation=known)).candidates["copper(II)"]
    # 16 trials average the variation itself, but not how well it is known: still Student t
    quarter = one.standard_uncertainty_mol / 4
    assert many.standard_uncertainty_mol == pytest.approx(quarter, rel=0.02)
    assert many.p_value_average > 0.0
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
    from stoichkit.uncertainty.distribution import distribution_of

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
        assert (c.tested_ratio in found) == c.compatible
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


M_CU, M_AG = 63.546, 107.8682
DIGITS = Balance(readability_g=0.01, repeatability_g=0.0)
COARSE = Balance(readability_g=0.1, repeatability_g=0.0)
ROW = (3.12, 2.65, 0.71, 2.30)  # 0.47 g of copper, 1.59 g of silver: ratio 1.993
N_CU, N_AG = 0.47 / M_CU, 1.59 / M_AG
U_ROUNDING = 0.01 / math.sqrt(12)  # of one reading, g


def experiment_of(readings: Any, ratios: dict[str, str], **fields: Any) -> Experiment:
    """Return an invented experiment with one trial for each mapping of readings."""
    trials: Any = [Trial(str(i), r) for i, r in enumerate(readings, 1)]
    return Experiment(
        title="Invented", invented=True, candidates=plain_ratios(ratios), trials=trials, **fields
    )


def of_kind(evidence: Evidence, kind: CaveatKind) -> list[Caveat]:
    return [w for w in evidence.warnings if w.kind is kind]


# -- amounts and discrepancies ----------------------------------------------------------------


@pytest.mark.parametrize("ratio", [0.0, 0.5, 2.0, 3.0])
def test_discrepancy_from_any_ratio_by_hand(ratio: float) -> None:
    """Four roundings, two for each amount; u² adds up with the squared coefficients."""
    found = assess(lab([ROW], DIGITS)).discrepancy(ratio)

    assert found.nominal_value == pytest.approx(N_AG - ratio * N_CU, abs=1e-12)
    u = math.sqrt(2) * U_ROUNDING * math.hypot(1 / M_AG, ratio / M_CU)
    assert found.std_dev == pytest.approx(u, rel=1e-3)  # atomic weights add a little


def test_recovery_allowance_by_hand() -> None:
    """A bounded unknown: amounts stay as measured, and p is the largest over the range."""
    plain = assess(lab([ROW], DIGITS))
    found = assess(lab([ROW], DIGITS, recovery=(0.8, 1.0)))

    assert found.n_produced.nominal_value == pytest.approx(N_AG, rel=1e-9)
    assert found.n_produced.std_dev == pytest.approx(plain.n_produced.std_dev, rel=1e-9)
    ratio = N_AG / N_CU  # 1.993, within 0.8 to 1 times 2
    assert found.candidates["copper(II)"].tested_ratio == pytest.approx(ratio, rel=1e-9)
    assert found.candidates["copper(II)"].p_value == 1.0
    assert found.candidates["copper(I)"].tested_ratio == 1.0  # the nearest it allows
    assert found.candidates["copper(I)"].p_value == plain.candidates["copper(I)"].p_value
    assert found.ratio_set.low == pytest.approx(plain.ratio_set.low, rel=1e-7)
    assert found.ratio_set.high == pytest.approx(plain.ratio_set.high, rel=1e-7)


def test_a_candidate_fits_exactly_when_its_range_meets_the_ratio_set() -> None:
    plain = assess(lab([ROW], DIGITS))
    low, high = plain.ratio_set.low, plain.ratio_set.high
    # the buoyancy of air may make up for 0.14 %, and is allowed for where it decides
    for least, fits in ((high / 2 * 1.002, False), (high / 2 * 1.001, True), (high / 2, True)):
        found = assess(lab([ROW], DIGITS, recovery=(least, 1.2)))
        assert found.candidates["copper(II)"].compatible is fits
    for largest, fits in ((low * 0.998, False), (low * 1.001, True)):
        found = assess(lab([ROW], DIGITS, recovery=(0.9, largest)))
        assert found.candidates["copper(I)"].compatible is fits


def test_the_likelihood_is_the_mean_over_the_recovery() -> None:
    """By the midpoint rule over ten thousand fractions."""
    plain = assess(lab([ROW], DIGITS))
    found = assess(lab([ROW], DIGITS, recovery=(0.85, 1.0)))
    fractions = 0.85 + 0.15 * (np.arange(10_000) + 0.5) / 10_000
    u = plain.candidates["copper(II)"].standard_uncertainty_mol
    d = N_AG - 2 * fractions * N_CU
    # four roundings are near enough to normal beside a range of many of their widths
    expected = np.mean(np.exp(-0.5 * (d / u) ** 2) / (u * math.sqrt(2 * math.pi)))
    assert found.candidates["copper(II)"].likelihood_per_mol == pytest.approx(expected, rel=0.02)


def test_standard_uncertainty_with_excess_scatter_is_that_of_a_mean() -> None:
    """The standard deviation of the trials' discrepancies over √n (JCGM 100:2008, 4.2.3).

    Equal amounts of copper, silver 10 % above and below a ratio of 2.
    """
    silver = [2 * N_CU * M_AG * f for f in (0.9, 1.1, 1.0)]
    rows = [(3.12, 2.65, 0.71, round(0.71 + g, 2)) for g in silver]
    evidence = assess(lab(rows, DIGITS))
    d = [(r[3] - r[2]) / M_AG - 2 * N_CU for r in rows]
    mean = sum(d) / 3
    expected = math.sqrt(sum((v - mean) ** 2 for v in d) / 2 / 3)

    assert evidence.scatter is not None
    assert evidence.scatter.excess
    found = evidence.candidates["copper(II)"]
    assert found.standard_uncertainty_mol == pytest.approx(expected, rel=0.005)
    assert found.discrepancy_mol == pytest.approx(mean, abs=1e-9)


# -- compatible or not, at the very limit -----------------------------------------------------


@pytest.mark.parametrize("coverage", [0.49999, 0.99991, 0.0, 1.0, math.nan])
def test_coverage_beyond_its_limits(coverage: float) -> None:
    with pytest.raises(ModelError, match=r"0\.5 to 0\.9999") as caught:
        assess(lab([ROW]), coverage=coverage)
    assert str(coverage) in str(caught.value)


@pytest.mark.parametrize("coverage", [0.5, 0.9999])
def test_the_limits_of_the_coverage_are_allowed(coverage: float) -> None:
    assert assess(lab([ROW]), coverage=coverage).coverage == coverage


def limits(consumed: bool) -> list[tuple[float, Evidence, Evidence]]:
    """Coverages with labs judged at them, of a p-value of exactly 1 − coverage, and just below."""
    found = []
    for j, noise in itertools.product(range(20), (0.0, 0.004, 0.006, 0.007, 0.008, 0.009)):
        balance = Balance(readability_g=0.01, repeatability_g=noise)
        experiment = lab([(3.0, 2.99, 0.7, round(0.7 + j / 100, 2))], balance)
        linear = linear_amounts(experiment)
        p = linear.p_value(1.0, 0.0) if consumed else linear.p_value(2.0, 1.0)
        if 0.01 <= p <= 0.5 and 1 - (1 - p) == p:
            found.append((experiment, 1 - p))
    assert found
    return [
        (coverage, assess(one, coverage=coverage), assess(one, coverage=coverage - 1e-9))
        for one, coverage in found[:3]
    ]


def test_a_candidate_is_compatible_where_p_is_exactly_the_level() -> None:
    """Compatible: p is at least 1 − coverage."""
    for coverage, at, below in limits(consumed=False):
        assert at.candidates["copper(II)"].p_value == 1 - coverage
        assert at.candidates["copper(II)"].compatible
        assert not below.candidates["copper(II)"].compatible


def test_the_amount_consumed_is_not_resolved_where_p_is_exactly_the_level() -> None:
    """The warning and a ratio set without an upper limit come together."""
    for _, at, below in limits(consumed=True):
        assert math.isinf(at.ratio_set.high)
        assert [c.subject for c in of_kind(at, CaveatKind.NOT_RESOLVED)] == ["Cu"]
        assert not math.isinf(below.ratio_set.high)
        assert not of_kind(below, CaveatKind.NOT_RESOLVED)


# -- what is not resolved ---------------------------------------------------------------------


def test_a_hundred_times_as_much_product_does_not_hide_the_amount_consumed() -> None:
    """Ten display steps of copper are resolved, however much silver there is."""
    evidence = assess(lab([(3.00, 2.90, 0.70, 17.68)], DIGITS))  # ratio 100

    assert evidence.ratio == pytest.approx(100, rel=0.01)
    assert not of_kind(evidence, CaveatKind.NOT_RESOLVED)


def test_a_wire_that_gained_mass_is_not_an_amount_consumed() -> None:
    evidence = assess(lab([(2.90, 3.00, 0.70, 0.87)], DIGITS))

    assert evidence.verdict.reason is Reason.BELOW_ZERO
    assert evidence.verdict.about == ("Cu",)
    assert not of_kind(evidence, CaveatKind.NOT_RESOLVED)  # the reason says more
    assert not of_kind(evidence, CaveatKind.OVER_100)  # a percentage of nothing is none


def test_a_yield_over_100_percent_by_hand() -> None:
    """2.09 g of silver from 0.47 g of copper(II): n(Ag) over 2 n(Cu)."""
    evidence = assess(lab([(3.12, 2.65, 0.71, 2.80)], DIGITS))

    (found,) = of_kind(evidence, CaveatKind.OVER_100)
    assert found.subject == "copper(II)"
    assert found.value == pytest.approx(100 * (2.09 / M_AG) / (2 * N_CU), rel=1e-9)


def test_too_little_product_is_no_yield_over_100_percent() -> None:
    evidence = assess(lab([(3.12, 2.65, 0.71, 1.10)], DIGITS))

    assert evidence.verdict.kind is VerdictKind.NONE_FITS
    assert not of_kind(evidence, CaveatKind.OVER_100)


def test_nothing_consumed_but_much_produced_has_no_percent_yield() -> None:
    evidence = assess(lab([(3.00, 3.00, 0.70, 1.70)], DIGITS))

    assert evidence.verdict.kind is VerdictKind.NONE_FITS
    assert math.isinf(evidence.ratio)
    assert of_kind(evidence, CaveatKind.NOT_RESOLVED)
    assert not of_kind(evidence, CaveatKind.OVER_100)


def test_nothing_at_all_is_not_told_apart() -> None:
    """No current for no time, twice: to first order nothing is uncertain, and that is said."""
    evidence = assess(
        experiment_of(
            [{"current": "0.00", "time": "0", "second current": "0.00", "second time": "0"}],
            RATIOS,
            consumed=ElectricCharge(species="Cu", current="current", time="time", electrons=2),
            produced=ElectricCharge(species="Ag", current="second current", time="second time"),
            instruments={"ammeter": Ammeter(readability_A=0.01), "timer": Timer(readability_s=1)},
        )
    )

    assert evidence.verdict.kind is VerdictKind.NOT_TOLD_APART
    assert evidence.ratio_set.kind == "every ratio"
    assert evidence.nearest.name == "copper(I)"  # the first of equals
    assert evidence.budget == ()
    assert [c.standard_uncertainty_mol for c in evidence.candidates.values()] == [0, 0]
    assert [c.likelihood_per_mol for c in evidence.candidates.values()] == [0, 0]  # no density
    assert not of_kind(evidence, CaveatKind.DOMINANT_SOURCE)
    assert [c.subject for c in of_kind(evidence, CaveatKind.NOT_LINEAR)] == ["copper(I)"]


# -- the nearest candidate --------------------------------------------------------------------


def test_the_nearest_of_impossible_candidates_has_the_smallest_discrepancy_over_its_u() -> None:
    """All p are 0, ratio 5: |D| is 4 n against 1, 5 n against 10, whose u is far larger."""
    rows = [(4.00, 3.00, 0.70, round(0.70 + 5 / M_CU * M_AG, 2))]
    evidence = assess(lab(rows, DIGITS, {"one": "1", "ten": "10"}))
    one, ten = evidence.candidates["one"], evidence.candidates["ten"]

    assert one.p_value == ten.p_value == 0
    assert one.likelihood_per_mol == ten.likelihood_per_mol == 0
    assert one.relative_likelihood == ten.relative_likelihood == 0  # none is likelier
    assert abs(one.discrepancy_mol) < abs(ten.discrepancy_mol)
    assert evidence.nearest is ten
    assert evidence.budget == evidence.budget_for("ten")


def test_the_likeliest_has_relative_likelihood_one_however_unlikely() -> None:
    """Five and a half u away: a density of φ(5.5)/u, far below one per mol, and still the most."""
    balance = Balance(readability_g=0.001, repeatability_g=0.01)
    sigma = math.sqrt(2) * 0.01 * math.hypot(1 / M_AG, 2 / M_CU)
    silver = (2 * N_CU + 5.5 * sigma) * M_AG
    evidence = assess(lab([(3.12, 2.65, 0.71, round(0.71 + silver, 3))], balance))

    likely = evidence.candidates["copper(II)"]
    expected = math.exp(-(5.5**2) / 2) / (sigma * math.sqrt(2 * math.pi))
    assert likely.likelihood_per_mol == pytest.approx(expected, rel=0.1)  # digits aside
    assert likely.likelihood_per_mol < 0.001
    assert likely.relative_likelihood == 1.0
    assert evidence.candidates["copper(I)"].relative_likelihood < 1e-6


# -- what dominates ---------------------------------------------------------------------------


@pytest.mark.parametrize(("relative", "told"), [(0.0085, False), (0.0095, True), (0.012, True)])
def test_more_than_half_of_the_variance_dominates(relative: float, told: bool) -> None:
    """Share of the variation between trials among it and four roundings, by hand."""
    evidence = assess(replace(lab([ROW], DIGITS), variation=Variation(relative=relative)))
    spread = N_AG * relative
    digits = math.sqrt(2) * U_ROUNDING * math.hypot(1 / M_AG, 2 / M_CU)
    share = spread**2 / (spread**2 + digits**2)

    assert (share > 0.5) == told
    found = of_kind(evidence, CaveatKind.DOMINANT_SOURCE)
    assert [c.subject for c in found] == (["variation between trials"] if told else [])
    assert [c.value for c in found] == pytest.approx([share] if told else [], rel=5e-3)


def test_exactly_half_of_the_variance_does_not_dominate() -> None:
    """Two equal readings of one substance: their roundings are all there is, half each."""
    evidence = assess(
        experiment_of(
            [{"in": "0.50", "out": "0.50"}],
            {"all": "1", "half": "1/2"},
            consumed=MassByDifference(species="Cu", heavier="in"),
            produced=MassByDifference(species="Cu", heavier="out"),
            instruments={"balance": DIGITS},
        )
    )

    assert [line.share for line in evidence.budget] == [0.5, 0.5]
    assert not of_kind(evidence, CaveatKind.DOMINANT_SOURCE)


@pytest.mark.parametrize("trials", [1, 2, 5])
def test_the_share_of_a_reading_is_that_of_all_trials(trials: int) -> None:
    """Copper on a 0.1 g balance, silver by difference on a 0.01 g one."""
    share = 0.1**2 * (2 / M_CU) ** 2
    share /= share + 2 * 0.01**2 * (1 / M_AG) ** 2
    readings = {"copper": "2.0", "paper": "0.70", "paper + silver": "7.49"}
    evidence = assess(
        experiment_of(
            [readings] * trials,
            RATIOS,
            consumed=MassByDifference(species="Cu", heavier="copper", instrument="coarse"),
            produced=MassByDifference(
                species="Ag", heavier="paper + silver", lighter="paper", instrument="fine"
            ),
            instruments={"coarse": COARSE, "fine": DIGITS},
        )
    )

    assert evidence.nearest.name == "copper(II)"
    (found,) = of_kind(evidence, CaveatKind.DOMINANT_SOURCE)
    assert found.subject == "rounding of copper"
    assert found.value == pytest.approx(share, abs=1e-3)


# -- the record -------------------------------------------------------------------------------


def test_evidence_is_known_by_identity_and_shows_what_is_documented() -> None:
    """It can be put in a set, which its uncertain numbers could not."""
    one, other = assess(lab([ROW])), assess(lab([ROW]))

    assert len({one, other, one}) == 2
    assert "candidates=" in repr(one)
    assert "_linear" not in repr(one)


OVER = CaveatKind.OVER_100
IN_AIR = [(4.9412, 3.8212, 0.7512, 4.5561), (5.1912, 4.0912, 0.7012, 4.4381)]
RECOVERED_86 = [(4.94, 3.82, 0.75, 4.02), (5.19, 4.09, 0.70, 3.91), (5.14, 4.03, 0.73, 3.96)]


def test_more_than_the_recovery_stated_is_not_called_over_100_percent() -> None:
    """3.33 g of copper, 9.71 g of silver: 90.020 mmol of 2 × 52.403, which is 85.89 %."""
    evidence = assess(lab(RECOVERED_86, recovery=(0.7, 0.8)))
    assert not of_kind(evidence, CaveatKind.OVER_100)
    (found,) = of_kind(evidence, CaveatKind.OVER_RECOVERY)
    assert (found.subject, found.value) == ("copper(II)", pytest.approx(85.89, abs=0.005))
    text = caveat_sentence(found, evidence)
    assert "more than the recovery stated (at most 80 %)" in text
    assert "100 %" not in text
    # really over 100 %, and over the allowance too
    (over,) = of_kind(assess(lab([(4.94, 3.82, 0.75, 4.78)] * 2, recovery=(0.9, 1.0))), OVER)
    assert over.value == pytest.approx(105.99, abs=0.01)


def test_a_yield_that_the_allowance_explains_is_not_beyond_it() -> None:
    """106 %, within recovery to 110 %; and 100.07 %, within what air may do at 0.1 mg."""
    rows = [(4.94, 3.82, 0.75, 4.78), (5.19, 4.09, 0.75, 4.71)]
    beyond = "That is over 100 % beyond its uncertainty."
    assert beyond in yield_sentence(assess(lab(rows)), "copper(II)")
    for evidence, kept in (
        (assess(lab(rows, recovery=(1.0, 1.1))), "recovery"),
        (assess(lab(IN_AIR, Balance(readability_g=1e-4, repeatability_g=1e-4))), "the buoyancy"),
    ):
        text = yield_sentence(evidence, "copper(II)")
        assert beyond not in text
        assert f"over 100 %, but within the allowance for {kept}" in text
        assert beyond in yield_sentence(evidence, "copper(I)")


@pytest.mark.parametrize(
    ("experiment", "kind", "named"),
    [
        (lab([(3.00, 3.00, 0.70, 0.70)] * 2), VerdictKind.NOT_TOLD_APART, ""),
        (lab([(4.94, 3.82, 0.75, 0.75)] * 3), VerdictKind.NONE_FITS, "n(Ag)"),
        (crucible("22.9310"), VerdictKind.NONE_FITS, "n(H₂O)"),
    ],
)
def test_a_lab_in_which_nothing_was_made_is_said_to_be_one(
    experiment: Experiment, kind: VerdictKind, named: str
) -> None:
    """Nothing lost and nothing made; copper used up but no silver; no water driven off."""
    evidence = assess(experiment)
    assert evidence.verdict.kind is kind
    assert evidence.warnings[0].kind is CaveatKind.NOTHING_SHOWN
    said = "do not show that anything reacted"
    assert said in caveat_sentence(evidence.warnings[0], evidence)
    assert "Nothing shows that anything reacted." in conclusion_paragraph(evidence)
    if named:
        headline = verdict_sentences(evidence)
        assert f"{said}, since {named} is not told apart from zero" in headline
        assert "missing candidate" not in headline + conclusion_paragraph(evidence)


def test_a_lab_that_reacted_is_not_said_to_have_done_nothing() -> None:
    """One that is singled out, one coarse, and one in which none fits; 2 g of wrong product."""
    coarse = lab([(3.1, 3.0, 0.7, 1.0)], Balance(readability_g=0.1))
    for experiment in (lab(GOOD), coarse, lab([(3.12, 2.65, 0.71, 1.10)])):
        assert not of_kind(assess(experiment), CaveatKind.NOTHING_SHOWN)


UNKNOWN = Variation(unknown=True)
DISAGREEING = [(4.94, 3.82, 0.75, 4.56), (5.19, 4.09, 0.70, 3.90), (5.14, 4.03, 0.73, 3.36)]


def test_scatter_that_counts_is_not_assumed_away() -> None:
    """Ratios of 2.004, 1.714 and 1.395: by Student t no p-value is below that of their scatter."""
    evidence = assess(lab(DISAGREEING, Balance(readability_g=0.01, repeatability_g=0.005)))
    assert evidence.scatter is not None
    assert evidence.scatter.excess
    for name, tested in evidence.candidates.items():
        ratios = [b.nominal_value / a.nominal_value for a, b in evidence.amounts]
        own = float(stats.ttest_1samp(ratios, tested.ratio).pvalue)
        assert evidence.scatter_p_value(name) == pytest.approx(own, rel=1e-3)
        assert tested.p_value >= own * (1 - 1e-3)
    assert not evidence.doubted
    said = " ".join([verdict_sentences(evidence), *assumption_sentences(evidence)])
    assert "differ by nothing but" not in said
    assert "The trials differ by more than the errors of their readings" in said
    text = " ".join(worked_solution(evidence).text().split())
    assert "or from Student t by the trials' own scatter, whichever is larger" in text


@pytest.mark.parametrize("rows", [GOOD[:1], [GOOD[0]] * 3])
def test_no_scatter_is_said_not_to_have_decided(rows: list[tuple[float, ...]]) -> None:
    """One trial, and three that read exactly alike, where nothing is known of the variation."""
    evidence = assess(lab(rows, variation=UNKNOWN))
    (caveat,) = of_kind(evidence, CaveatKind.UNKNOWN_VARIATION)
    assert "the readings alone decide here" in caveat_sentence(caveat, evidence)
    said = " ".join(assumption_sentences(evidence))
    assert "the errors of the readings alone decide" in said
    assert "Student t" not in said + worked_solution(evidence).text()


def test_what_p_comes_from_is_named_where_the_variation_is_unknown() -> None:
    evidence = assess(lab(GOOD, variation=UNKNOWN))
    assert not of_kind(evidence, CaveatKind.UNKNOWN_VARIATION)
    text = " ".join(worked_solution(evidence).text().split())
    assert "or from Student t by the trials' own scatter, whichever is larger;" in text
    assert "Student t" not in worked_solution(lab(GOOD)).text()


def test_formulas_below_zero_are_written_as_formulas() -> None:
    """Of a whole lab, and of one trial of it."""
    for about, said in (
        (("OH^-", "H2O"), "the amounts of OH⁻ and H₂O come"),
        (("H2O (trial H2O 2)",), "the amount of H₂O (trial H2O 2) comes"),
    ):
        verdict = verdict_of([], 0.95, reason=Reason.BELOW_ZERO, about=about)
        assert below_zero_clause(verdict).startswith(f"{said} out below zero")
        assert f"{said} out below zero" in reason_sentences(verdict)
