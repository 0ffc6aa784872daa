"""Many groups at once give what one group at a time gives."""

from __future__ import annotations

import numpy as np
import pytest

from stoichkit.decision.arrays import _Lab, assess_weighings
from stoichkit.decision.evidence import assess
from stoichkit.decision.verdict import Reason
from stoichkit.errors import ModelError, ReadingError
from stoichkit.experiments.parts import Variation
from stoichkit.measurement.displays import Balance
from tests.labs import RATIOS, lab, weighed

BALANCES = [
    Balance(readability_g=0.1),
    Balance(readability_g=0.01, repeatability_g=0.0),
    Balance(readability_g=0.01, repeatability_g=0.02, linearity_g=0.02),
    Balance(readability_g=0.001, calibration_relative=0.002),
]


@pytest.mark.parametrize("balance", BALANCES, ids=lambda b: b.describe())
@pytest.mark.parametrize("trials", [1, 4])
@pytest.mark.parametrize("recovery", [(1.0, 1.0), (0.95, 1.02)])
def test_arrays_equal_the_scalar_path(
    balance: Balance, trials: int, recovery: tuple[float, float]
) -> None:
    """Every p-value equal to 1e-9, scatter and recovery included."""
    rng = np.random.default_rng(11)
    noise = 3 * balance.repeatability / balance.readability_g  # more than stated: some excess
    tables = weighed(rng, 0.3, 2.0, balance.readability_g, noise, (12, trials))
    many = assess_weighings(
        *tables, consumed="Cu", produced="Ag", candidates=RATIOS, balance=balance,
        recovery=recovery,
    )  # fmt: skip
    for g in range(12):
        rows = np.column_stack([t[g] for t in tables])
        one = assess(lab(rows, balance, recovery=recovery))
        expected = [c.p_value for c in one.candidates.values()]
        assert many.p_value[g] == pytest.approx(expected, abs=1e-9)
        assert many.verdict(g).candidates == one.verdict.candidates
        assert many.kinds[g] == one.verdict.kind


VARIATIONS = {
    "known": Variation(relative=0.06),
    "from five trials": Variation(relative=0.06, from_trials=5),
    "small": Variation(relative=0.002),
    "beside digits nothing": Variation(relative=6e-6),
    "unknown": Variation(unknown=True),
}


@pytest.mark.parametrize("name", VARIATIONS)
@pytest.mark.parametrize("trials", [1, 3])
def test_arrays_equal_the_scalar_path_where_trials_vary(name: str, trials: int) -> None:
    """Trials of up to 6 % less: excess beside a variation of 0.2 %, none beside 6 %."""
    rng = np.random.default_rng(5)
    balance = Balance(readability_g=0.01, repeatability_g=0.005)
    before, after, tare, gross = weighed(rng, 1.0, 2.0, 0.01, 0.5, (6, trials))
    gross = np.round(gross - 0.06 * rng.random((6, trials)) * (gross - tare), 2)
    gross[0], after[1] = tare[0] - 0.3, before[1] + 0.3
    tables = before, after, tare, gross
    many = assess_weighings(
        *tables, consumed="Cu", produced="Ag", candidates=RATIOS, balance=balance,
        variation=VARIATIONS[name],
    )  # fmt: skip
    for g in range(6):
        rows = np.column_stack([t[g] for t in tables])
        one = assess(lab(rows, balance, variation=VARIATIONS[name]))
        expected = [c.p_value for c in one.candidates.values()]
        assert many.p_value[g] == pytest.approx(expected, abs=1e-7)
        assert many.kinds[g] == one.verdict.kind
        assert many.below_zero[g] == (one.verdict.reason is Reason.BELOW_ZERO) == (g < 2)


@pytest.mark.parametrize(("relative", "excess"), [(0.0198, True), (0.0204, False)])
def test_scatter_that_a_stated_variation_explains_is_no_excess(
    relative: float, excess: bool
) -> None:
    """Made 2 ± δ for 1 used up, of two trials: χ² = 2 δ²/(2 v)², 1 % beyond 2.5758².

    At the ratio found y is 1/√5 of both, x = 2 y, so that what was used up alike does not count;
    v = √2 × 0.0728/2/2.5758 = 0.01998 explains δ = 0.0728 at that level. The mean of the squares
    made is 4 + δ², which takes it to 0.02000.
    """
    delta, v = 0.0728, 0.02
    assert np.sqrt(2) * delta / np.hypot(2.0, delta) / 2.575829 == pytest.approx(v, rel=2e-3)
    copper, silver = 63.546, 107.8682
    made = np.array([[2 - delta, 2 + delta]]) * silver
    one = _Lab(
        [np.full((1, 2), 100 + copper), np.full((1, 2), 100.0), 0 * made, made],
        (copper, silver),
        Balance(readability_g=1e-6, repeatability_g=1e-6),
        Variation(relative=relative),
    )
    assert one.excess.tolist() == [excess]


@pytest.mark.parametrize("recovery", [(1.0, 1.0), (0.8, 1.02)])
def test_nothing_reacted_is_seen_in_the_same_groups(recovery: tuple[float, float]) -> None:
    """Of labs in which next to nothing reacted: those where one candidate is left, one by one."""
    rng = np.random.default_rng(2)
    balance = Balance(readability_g=0.01, repeatability_g=0.02)
    tables = weighed(rng, 0.01, 4.0, 0.01, 2.0, (2000, 2))
    wide = {"low": "1/4", "high": "4"}
    many = assess_weighings(
        *tables, consumed="Cu", produced="Ag", candidates=wide, balance=balance,
        recovery=recovery,
    )  # fmt: skip
    alone = np.flatnonzero((many.compatible.sum(axis=1) == 1) & ~many.below_zero)
    chosen = [*alone[many.nothing_reacted[alone]][:8], *alone[~many.nothing_reacted[alone]][:8]]
    assert many.nothing_reacted[chosen].sum() >= 4
    assert (~many.nothing_reacted[chosen]).sum() >= 4
    for g in chosen:
        one = assess(lab(np.column_stack([t[g] for t in tables]), balance, wide, recovery=recovery))
        assert many.nothing_reacted[g] == (one.verdict.reason is Reason.NOTHING_REACTED)


def test_one_trial_may_be_given_as_a_row() -> None:
    flat = assess_weighings(
        [3.12], [2.65], [0.71], [2.30], consumed="Cu", produced="Ag", candidates=RATIOS,
        balance=Balance(),
    )  # fmt: skip
    assert flat.p_value.shape == (1, 2)
    assert len(flat) == 1
    assert flat.candidates == [("copper(II)",)]


@pytest.mark.parametrize(
    ("tables", "words"),
    [
        (([1.0], [1.0], [1.0], [1.0, 2.0]), "do not match"),
        (([1.0], [float("nan")], [1.0], [1.0]), "`consumed_after_g` is not a number: it is nan"),
        (([], [], [], []), "do not match"),
    ],
)
def test_bad_readings_are_refused(tables: tuple, words: str) -> None:
    with pytest.raises(ReadingError, match=words):
        assess_weighings(
            *tables, consumed="Cu", produced="Ag", candidates=RATIOS, balance=Balance()
        )


@pytest.mark.parametrize(
    "options", [{"coverage": 1.0}, {"recovery": (0.0, 1.0)}, {"candidates": []}]
)
def test_bad_options_are_refused(options: dict) -> None:
    given = {"candidates": RATIOS, "balance": Balance()} | options
    with pytest.raises(ModelError):
        assess_weighings([3.0], [2.0], [1.0], [2.0], consumed="Cu", produced="Ag", **given)


def test_small_calibration_study() -> None:
    """The truth is excluded at most 5 % + 3 sigma of the time at every fixed mass."""
    from tests.studies.calibration import limit, run

    masses = np.array([0.5, 1.6, 2.5, 4.75, 9.3])
    results = run(True, 4000, masses)
    for setting, cells in results:
        for cell in cells:
            assert cell.excluded["stoichkit"] / cell.labs <= limit(4000), (setting, cell.mass)
    worst = {
        m: max(c.excluded[m] / c.labs for _, cs in results for c in cs)
        for m in ("continuous", "nearest")
    }
    assert worst["continuous"] > 0.10  # why the digits must be taken into account
    assert worst["nearest"] > 0.5
