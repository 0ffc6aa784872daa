"""Many labs at once against the same labs one by one, where each kind of error decides."""

from __future__ import annotations

import math
from dataclasses import replace

import numpy as np
import pytest
from scipy.optimize import brentq

from stoichkit.chemistry.elements import molar_mass
from stoichkit.decision.arrays import _Lab, assess_weighings
from stoichkit.decision.evidence import assess, linear_amounts
from stoichkit.decision.linear import one_sided, towards
from stoichkit.decision.verdict import Reason
from stoichkit.experiments.parts import Variation
from stoichkit.measurement.displays import Balance
from stoichkit.uncertainty.sources import Shape, uncertain_value
from tests.labs import lab

CU, AG = 63.546, 107.8682
ROUNDING = Balance(readability_g=0.01, repeatability_g=0.0)
NOISE = Balance(readability_g=0.001, repeatability_g=0.01)
LINEARITY = Balance(readability_g=0.001, repeatability_g=0.0, linearity_g=0.02)


def many(used_g: list[float], made_g: list[float], balance: Balance, trials: int = 1) -> _Lab:
    """Return labs of trials that are all alike, each of so many grams of copper and silver."""
    used, made = (np.repeat(np.array(m)[:, None], trials, axis=1) for m in (used_g, made_g))
    tables = 9.0 + 0 * used, 9.0 - used, 0 * made, made
    return _Lab(tables, (molar_mass("Cu"), molar_mass("Ag")), balance, None)


@pytest.mark.parametrize("balance", [ROUNDING, NOISE, LINEARITY], ids=["rounding", "noise", "line"])
@pytest.mark.parametrize("trials", [1, 3])
@pytest.mark.parametrize("ratio", [2.0, 0.5])
@pytest.mark.parametrize("alpha", [0.05, 0.001])
def test_from_which_amount_on_something_reacted(
    balance: Balance, trials: int, ratio: float, alpha: float
) -> None:
    """The errors along the ray come from one lab alone, and so does the amount at the limit."""
    alone = linear_amounts(lab([(3.12, 2.65, 0.71, 2.30)] * trials, balance))
    weight, terms = alone.along_ray(ratio)
    limit = brentq(lambda amount: one_sided(amount, terms) - alpha, 1e-9, 1e-2, xtol=1e-12)
    used, made = limit * CU, ratio * limit * AG
    # both as the ratio wants them; only copper; more silver than that and less than no copper
    pairs = [(1.0, 1.0), (1 / weight, 0.0), (-0.5, (1 + 0.5 * weight) / (1 - weight))]
    for a, b in pairs:
        found = many(
            [part * a * used for part in (-1, 0.1, 0.995, 1.005, 5)],
            [part * b * made for part in (-1, 0.1, 0.995, 1.005, 5)],
            balance,
            trials,
        ).nothing_reacted(np.full(5, ratio), alpha)
        assert found.tolist() == [True, True, True, False, False]


def test_the_amount_from_which_on_something_reacted_by_hand() -> None:
    """One weighing each way repeats to 0.01 g: a difference to √2 times that (and 0.001 g/√12).

    Along a ratio of 2 copper says 1/M(Cu) and silver 1/(2 M(Ag)) of that; the mean with the least
    variance is unsure by 1/√(M(Cu)² + (2 M(Ag))²), and 5 % lie above 1.6449 times it.
    """
    u = math.sqrt(2) * math.sqrt(0.01**2 + 0.001**2 / 12) / math.hypot(CU, 2 * AG)
    limit = 1.6449 * u
    assert limit == pytest.approx(1.6449 * 6.30e-5, rel=2e-3)
    found = many(
        [0.998 * limit * CU, 1.002 * limit * CU],
        [0.998 * limit * 2 * AG, 1.002 * limit * 2 * AG],
        NOISE,
    )
    assert found.nothing_reacted(np.full(2, 2.0), 0.05).tolist() == [True, False]


def test_labs_of_several_ratios_are_each_asked_about_their_own() -> None:
    found = many([0.002, 0.002, 0.3, 0.3], [0.002, 0.002, 1.0, 0.3], ROUNDING)
    ratios = np.array([2.0, 0.5, 2.0, 0.5])
    assert found.nothing_reacted(ratios, 0.05).tolist() == [True, True, False, False]


@pytest.mark.parametrize(("balance", "recovery", "trials"), [
    (Balance(readability_g=0.01, repeatability_g=0.0, calibration_relative=0.2), (0.9, 1.05), 1),
    (Balance(readability_g=0.01, repeatability_g=0.001, linearity_g=0.03), (1.0, 1.0), 2),
    (Balance(readability_g=0.01, repeatability_g=0.0, linearity_g=0.001), (0.9, 1.05), 2),
], ids=["calibration", "linearity", "little linearity"])  # fmt: skip
def test_how_far_off_a_candidate_may_be(
    balance: Balance, recovery: tuple[float, float], trials: int
) -> None:
    """From what fits to what no error explains, on both sides of the candidate."""
    used_g = 0.32
    want = used_g / CU * 2 * AG  # 1.086 g
    rows = [[(3.00, 3.00 - used_g, 0.50, round(0.50 + want + off_g, 2))] * trials
            for off_g in (-0.21, -0.15, -0.13, 0.08, 0.10)]  # fmt: skip
    tables = np.array(rows).transpose(2, 0, 1)
    found = assess_weighings(
        *tables, consumed="Cu", produced="Ag", candidates={"two": 2}, balance=balance,
        recovery=recovery,
    )  # fmt: skip
    one = [assess(lab(row, balance, {"two": "2"}, recovery=recovery)) for row in rows]
    p = [each.candidates["two"].p_value for each in one]
    assert found.p_value[:, 0] == pytest.approx(p, abs=1e-9)
    assert sum(0 < each < 1 for each in p) > 0
    assert found.compatible[:, 0].tolist() == [each.candidates["two"].compatible for each in one]


def test_a_lab_in_which_nothing_reacted_is_the_same_one_by_one() -> None:
    rows = [[(3.00, 2.99, 0.50, 0.55)] * 2, [(3.00, 2.95, 0.50, 0.68)] * 2]
    wide = {"low": "1/4", "high": "4"}
    for balance in (ROUNDING, Balance(readability_g=0.01, linearity_g=0.03)):
        found = assess_weighings(
            *np.array(rows).transpose(2, 0, 1), consumed="Cu", produced="Ag", candidates=wide,
            balance=balance,
        )  # fmt: skip
        for g, row in enumerate(rows):
            reason = assess(lab(row, balance, wide)).verdict.reason
            assert found.nothing_reacted[g] == (reason is Reason.NOTHING_REACTED)


@pytest.mark.parametrize(("balance", "variation"), [
    (ROUNDING, None), (LINEARITY, None), (LINEARITY, Variation(unknown=True))
], ids=["rounding", "line", "own scatter"])  # fmt: skip
def test_what_has_no_chance_is_told_from_what_has(
    balance: Balance, variation: Variation | None
) -> None:
    """Molar masses known to 6 % and 0.4 %: each ratio of the allowance worked out in full."""
    masses = tuple(
        uncertain_value(value, name, kind="other", shape=Shape.RECTANGULAR, scale=part * value)
        for name, value, part in (("first", CU, 0.06), ("second", AG, 0.004))
    )
    used = np.array([*[0.4] * 22, -0.01, -0.01, -0.1, 0.0])
    parts = np.array([*np.linspace(0.5, 1.7, 22), 0.01, 0.03, 0.01, 0.3])
    scatter = np.array([-0.002, 0.0, 0.003]) if variation else np.zeros(1)
    made = (parts * 0.4 / CU * 2 * AG)[:, None] + scatter
    used_g = np.repeat(used[:, None], made.shape[1], axis=1)
    groups = _Lab((9.0 + 0 * used_g, 9.0 - used_g, 0 * made, made), masses, balance, variation)
    found = groups.candidate(2.0, (0.9, 1.1))
    inside = (groups.found >= 1.8) & (groups.found <= 2.2)
    assert (found[inside] == 1.0).all()
    assert 2 <= inside.sum() <= 6
    low, high = (1.8, 2.2)
    each = {
        r: groups.p_values(r, 1.0)
        for near, far in ((low, high), (high, low))
        for r in towards(near, far)
    }
    below = np.max([each[r] for r in towards(low, high)], axis=0)
    above = np.max([each[r] for r in towards(high, low)], axis=0)
    full = np.where(groups.found < low, below, above)
    assert found[~inside] == pytest.approx(full[~inside], abs=1e-15)
    if variation is None:
        assert (found == 0.0).sum() >= 4
        assert (found[~inside] > 0).sum() >= 4


def test_an_element_in_both_formulas_changes_both_amounts() -> None:
    """Lead is known to 0.5 %: in lead and in its red oxide, 3 Pb to Pb3O4, much of it cancels."""
    balance = Balance(readability_g=0.01, repeatability_g=0.01)
    rows = [[(30.0, 26.0, 10.0, 14.41 + off_g)] for off_g in (0.0, 0.05, 0.07, 0.10)]
    found = assess_weighings(
        *np.array(rows).transpose(2, 0, 1), consumed="Pb", produced="Pb3O4",
        candidates={"red": "1/3"}, balance=balance,
    )  # fmt: skip
    for p, row in zip(found.p_value[:, 0], rows, strict=True):
        one = lab(row, balance, {"red": "1/3"})
        one = replace(one, consumed=replace(one.consumed, species="Pb"),
                      produced=replace(one.produced, species="Pb3O4"))  # fmt: skip
        assert p == pytest.approx(assess(one).candidates["red"].p_value, abs=1e-9)
    assert 0 < found.p_value[-1, 0] < found.p_value[1, 0] < 1


def test_the_largest_error_that_two_digits_allow_has_a_chance_and_no_more() -> None:
    """Each difference may be off by 0.01 g, and D by 0.01 g/M(Ag) + 2.2 × 0.01 g/M(Cu)."""
    step = np.array([0.01 * 0.9995, 0.01 * 1.01])
    used, made = (0.4 - step)[:, None], (2.2 * 0.4 / CU * AG + step)[:, None]
    found = _Lab((9.0 + 0 * used, 9.0 - used, 0 * made, made), (CU, AG), ROUNDING, None)
    p = found.candidate(2.0, (0.9, 1.1))
    assert p[0] > 0.0
    assert p[1] == 0.0


@pytest.mark.parametrize(("trials", "z"), [(1, 2.8070), (3, 3.2272)])
def test_from_which_amount_on_one_is_below_zero_by_hand(trials: int, z: float) -> None:
    """At a level of 1 % both amounts, or of three trials the eight of trials and mean, share it.

    Beyond 2.8070 standard deviations to either side lie 0.5 % of a normal distribution, beyond
    3.2272 lie 0.125 %; of three trials that are alike the mean is the surest, by √3.
    """
    limit = -z * math.sqrt(2) * math.sqrt(0.01**2 + 0.001**2 / 12) / math.sqrt(trials)
    below = [part * limit for part in (-1, 0.99, 1.01)]
    for used, made in ((below, [1.0] * 3), ([1.0] * 3, below)):
        a, b = (np.repeat(np.array(m)[:, None], trials, axis=1) for m in (used, made))
        found = many(used, made, NOISE, trials).below_zero(0.01, (9.0 + 0 * a, 9.0 - a, 0 * b, b))
        assert found.tolist() == [False, False, True]
