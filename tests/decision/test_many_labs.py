"""What many labs at once are judged by, worked out by hand for one: errors, limits, budgets."""

from __future__ import annotations

import math

import numpy as np
import pytest

from stoichkit import assess_weighings, experiments
from stoichkit.chemistry.elements import molar_mass
from stoichkit.decision.arrays import _alike, _Lab, _rising, four_weighings, weighed_ratios
from stoichkit.decision.verdict import Reason, VerdictKind
from stoichkit.errors import ModelError, ReadingError
from stoichkit.experiments.parts import Variation
from stoichkit.measurement.displays import Balance
from tests.labs import lab

CU, AG = 63.546, 107.8682
LABS = ([3.12, 2.87], [2.65, 2.85], [0.71, 0.70], [2.30, 0.75])
GIVEN = {"consumed": "Cu", "produced": "Ag"}
CANDIDATES = {"copper(I)": 1, "copper(II)": 2}


def labs(rows: list[tuple[float, float]], balance: Balance, variation: Variation | None = None,
         recovery: tuple[float, float] = (1.0, 1.0)) -> _Lab:  # fmt: skip
    """Return one lab of trials, each of so many grams of copper and of silver."""
    used, made = np.array(rows).T
    tables = [(9.0 + 0 * used)[None], (9.0 - used)[None], (0 * made)[None], made[None]]
    return _Lab(tables, (molar_mass("Cu"), molar_mass("Ag")), balance, variation, recovery)


@pytest.mark.parametrize("trials", [1, 4])
def test_a_budget_by_hand(trials: int) -> None:
    """0.47 g of Cu and 1.59 g of Ag; each mean reading is unsure by √((d²/12 + s² + k²/3)/n)."""
    balance = Balance(readability_g=0.01, repeatability_g=0.004, linearity_g=0.006)
    tables = [np.full((1, trials), m) for m in (3.12, 2.65, 0.71, 2.30)]
    found = weighed_ratios(*tables, **GIVEN, balance=balance)
    u = math.sqrt((0.01**2 / 12 + 0.004**2 + 0.006**2 / 3) / trials)
    ratio = (1.59 / AG) / (0.47 / CU)
    assert found.ratio[0] == pytest.approx(ratio, rel=1e-6)
    # more copper before makes the ratio smaller, more after larger; so with paper and silver
    want = [-ratio * u / 0.47, ratio * u / 0.47, -CU / AG * u / 0.47, CU / AG * u / 0.47]
    assert found.contributions[:4, 0] == pytest.approx(want, rel=1e-6)
    assert found.sources[:4] == ("consumed, before", "consumed, after", "tare", "gross")
    # 0.003/√3 of 63.546 and 0.0002/√3 of 107.8682 (IUPAC, from memory)
    weights = [ratio * 0.003 / math.sqrt(3) / CU, -ratio * 0.0002 / math.sqrt(3) / AG]
    assert found.contributions[4:, 0] == pytest.approx(weights, rel=1e-3)
    total = math.sqrt(sum(w * w for w in (*want, *weights)))
    assert found.standard_uncertainty[0] == pytest.approx(total, rel=1e-6)
    assert found.shares[0, 0] == pytest.approx((want[0] / total) ** 2, rel=1e-5)


def test_blocks_of_groups_are_alike() -> None:
    """20,000 groups are worked out in two blocks."""
    many = [np.full(20_000, m) for m in (3.12, 2.65, 0.71, 2.30)]
    found = weighed_ratios(*many, **GIVEN, balance=Balance())
    assert np.ptp(found.ratio) == 0
    assert np.ptp(found.contributions, axis=1).max() == 0
    assert found.ratio[-1] == pytest.approx((1.59 / AG) / (0.47 / CU), rel=1e-6)


@pytest.mark.parametrize("count", [1, 2, 3, 5, 6, 7, 9])
def test_few_or_many_columns_are_sorted(count: int) -> None:
    given = np.random.default_rng(count).permutation(count * 40).reshape(count, 40) - 30.0
    assert _rising(given).tolist() == np.sort(given, axis=0).tolist()


def test_groups_with_the_same_widths_are_worked_out_together() -> None:
    """Widths are 0 or powers of the sixteenth root of 2."""
    step = 2 ** (1 / 16)
    columns = np.array([[1, 1, 1, 1, 1, 1], [0, step, 0, step, 2, 2], [4, 4, 4, step, 4, 4]], float)
    found = sorted(sorted(part.tolist()) for part in _alike(columns))
    assert found == [[0, 2], [1], [3], [4, 5]]
    assert [part.tolist() for part in _alike(np.ones((2, 3)))] == [[0, 1, 2]]


def test_the_variance_of_one_trial_by_hand() -> None:
    """Rounding, repeatability and linearity of four readings, and how much trials vary."""
    d, s, k = 0.01, 0.01, 0.006  # noise of a whole step: rounding is a plain rectangle
    balance = Balance(readability_g=d, repeatability_g=s, linearity_g=k)
    rows = [(0.2, 0.68), (0.3, 1.02)]
    one = d * d / 12 + s * s + k * k / 3
    readings = 2 * one * ((1 / AG) ** 2 + (2 / CU) ** 2)
    assert labs(rows, balance)._own_variance(2.0, 1.0) == pytest.approx(readings, rel=1e-6)
    varied = labs(rows, balance, Variation(relative=0.05))
    made = ((0.68 / AG) ** 2 + (1.02 / AG) ** 2) / 2
    assert varied._own_variance(2.0, 1.0)[0] == pytest.approx(readings + 0.05**2 * made, rel=1e-6)
    # of the mean of both trials
    assert varied.between[0] == pytest.approx(0.05 * math.hypot(0.68 / AG, 1.02 / AG) / 2)


@pytest.mark.parametrize(("off_g", "excess"), [(0.093, False), (0.097, True)])
def test_from_which_scatter_on_the_trials_decide(off_g: float, excess: bool) -> None:
    """χ² of one degree of freedom above 6.635, its upper 1 % point (handbook tables).

    Two trials of 1 g and 2 × M(Ag)/M(Cu) g, the silver ± off: D differs by 2 off/M(Ag), so that
    χ² is 2 (off/M(Ag))² over the variance of one D, 2 u² (1/M(Ag)² + 4/M(Cu)²).
    """
    balance = Balance(readability_g=0.01, repeatability_g=0.01)
    made = 2 * AG / CU
    found = labs([(1.0, made + off_g), (1.0, made - off_g)], balance)
    one = 0.01**2 / 12 + 0.01**2
    limit_g = math.sqrt(6.635 * one * (1 + (2 * AG / CU) ** 2))  # 0.0949 g
    assert (off_g > limit_g) is excess
    assert found.excess.tolist() == [excess]
    chi_squared = 6.635 * (off_g / limit_g) ** 2
    assert found.spread[0] == pytest.approx(math.sqrt(chi_squared), rel=1e-3)
    assert labs([(1.0, made)], balance).spread.tolist() == [1.0]


def test_what_was_assessed_is_told() -> None:
    found = assess_weighings(*LABS, **GIVEN, candidates=CANDIDATES, balance=Balance())
    assert found.coverage == 0.95
    assert found.names == ("copper(I)", "copper(II)")
    assert len(found) == 2
    assert found.n_consumed == pytest.approx([0.47 / CU, 0.02 / CU])
    assert found.n_produced == pytest.approx([1.59 / AG, 0.05 / AG])
    assert found.verdict(0).candidates == ("copper(II)",)
    assert found.verdict(1).kind is VerdictKind.NOT_TOLD_APART
    assert (found.compatible == (found.p_value >= 0.05)).all()


def test_the_ratio_found_where_nothing_was_used_up() -> None:
    """Infinite on the side of the product; where less than nothing was used up as well."""
    balance = Balance()
    assert labs([(0.0, 0.5)], balance).found.tolist() == [math.inf]
    assert labs([(0.0, -0.5)], balance).found.tolist() == [-math.inf]
    assert labs([(-0.1, 0.5)], balance).found.tolist() == [math.inf]
    assert labs([(1.0, 2 * AG / CU)], balance).found == pytest.approx([2.0], rel=1e-6)


@pytest.mark.parametrize(("used", "made", "below"), [
    (0.3, 1.0, False), (-0.3, 1.0, True), (0.3, -1.0, True), (0.01, 0.01, False),
    (0.3, 0.0, False), (0.0, 1.0, False),
])  # fmt: skip
@pytest.mark.parametrize("trials", [1, 3])
def test_what_lies_below_zero_is_said(used: float, made: float, below: bool, trials: int) -> None:
    below_zero(used, made, trials, below)


@pytest.mark.parametrize(("used", "made"), [(-0.01, 1.0), (0.3, -0.01)])
def test_a_step_below_zero_is_nothing_once_and_no_chance_three_times(
    used: float, made: float
) -> None:
    """Two readings without noise can be off by 0.01 g together, at the most; the mean of three
    pairs is off by all of that with no chance."""
    below_zero(used, made, 1, below=False)
    below_zero(used, made, 3, below=True)


def below_zero(used: float, made: float, trials: int, below: bool) -> None:
    tables = [np.full((1, trials), m) for m in (3.0, 3.0 - used, 0.7, 0.7 + made)]
    balance = Balance(readability_g=0.01, repeatability_g=0.0)
    found = assess_weighings(*tables, **GIVEN, candidates=CANDIDATES, balance=balance)
    assert found.below_zero.tolist() == [below]
    assert (found.verdict(0).reason is Reason.BELOW_ZERO) is below
    assert (found.kinds[0] == "cannot_be_judged") is below
    assert (found.candidates[0] == ()) or not below


def test_one_trial_below_zero_among_good_ones_is_said() -> None:
    tables = [np.array([row]) for row in (
        [3.0, 3.0, 3.0], [2.7, 2.7, 3.1], [0.7, 0.7, 0.7], [1.7, 1.7, 1.7]
    )]  # fmt: skip
    found = assess_weighings(*tables, **GIVEN, candidates=CANDIDATES, balance=Balance())
    assert found.below_zero.tolist() == [True]


def test_which_labs_weigh_four_times_on_one_balance() -> None:
    found = four_weighings(experiments.load("copper-silver"))
    assert found is not None
    assert found.names == ("wire before", "wire after", "paper", "paper + silver")
    assert four_weighings(experiments.load("magnesium-gas")) is None
    assert four_weighings(experiments.load("tin-oxide")) is None  # three readings


@pytest.mark.parametrize(("tables", "said"), [
    ([[[1.0]]] * 4, ""), ([[1.0], [1.0], [1.0], [[1.0]]], "do not match"),
    ([[], [], [], []], "do not match"), ([[[[1.0]]]] * 4, "do not match"),
    ([1.0] * 4, "do not match"),
])  # fmt: skip
def test_tables_that_do_not_match_are_refused(tables: list[object], said: str) -> None:
    if not said:
        assert len(weighed_ratios(*tables, **GIVEN, balance=Balance())) == 1
        return
    with pytest.raises(ReadingError, match=said):
        weighed_ratios(*tables, **GIVEN, balance=Balance())


def test_no_candidate_is_refused() -> None:
    with pytest.raises(ModelError, match="o candidate"):
        assess_weighings(*LABS, **GIVEN, candidates={}, balance=Balance())


def test_rows_of_a_lab_stand_in_their_order() -> None:
    """The record of one such lab gives the same names."""
    assert four_weighings(lab([(9.0, 8.0, 0.7, 4.0)])) is not None


def test_two_readings_without_noise_are_unsure_by_half_a_step() -> None:
    """Between two digits a difference is a step off as often as not: d/2, not d/√6."""
    found = labs([(0.2, 0.68)], Balance(readability_g=0.01, repeatability_g=0.0))
    made = found._own_variance(0.0, 1.0)
    assert made == pytest.approx((0.005 / AG) ** 2, rel=1e-6)
    assert found._own_variance(2.0, 0.0) == pytest.approx((2 * 0.005 / CU) ** 2, rel=1e-6)
