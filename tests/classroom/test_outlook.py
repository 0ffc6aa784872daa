"""What more groups or other instruments would add to a class, worked out by hand."""

from __future__ import annotations

import math
from types import SimpleNamespace
from typing import Any

import pytest
from scipy.integrate import quad
from scipy.stats import chi2, norm

from stoichkit.classroom.amounts import amounts_from_arrays
from stoichkit.classroom.outlook import (
    ClassOutlook,
    OutlookRow,
    _Chance,
    _fewest,
    class_outlook,
)
from stoichkit.classroom.sentences import outlook_sentences
from stoichkit.classroom.verdict import Basis, ClassVerdict, class_verdict
from stoichkit.errors import ModelError

CANDIDATES = {"copper(I)": 1, "copper(II)": 2}


def chance_of(basis: Basis, coverage: float = 0.95, *, inflated: bool | None = None) -> _Chance:
    line = None if inflated is None else SimpleNamespace(inflated=inflated)
    found: Any = SimpleNamespace(basis=basis, coverage=coverage, line=line)
    return _Chance(found)


@pytest.mark.parametrize(
    ("apart", "chance"), [(0.0, 0.0), (1.0, 0.1437), (1.96, 0.475), (3.0, 0.8258), (5.0, 0.95)]
)
def test_the_chance_where_the_readings_decide(apart: float, chance: float) -> None:
    """Two candidates that lie so many standard uncertainties apart; 1.96 leave 5 % outside.

    The true one is kept and the other excluded where the error lies between 1.96 − apart (but
    not below −1.96) and 1.96. From a table of the normal distribution: Φ(1.96) = 0.9750,
    Φ(0.96) = 0.8315 (0.8313 at 0.9596), Φ(0) = 0.5, Φ(−1.04) = 0.1492, Φ(−1.96) = 0.0250.
    """
    found = chance_of(Basis.COMMON)
    assert found.least == 1
    # four groups of variance 1 each, 0.75 shared: together 1
    assert found(apart, 4, 1.0, 0.75) == pytest.approx(chance, abs=2e-4)
    assert found(2 * apart, 4, 4.0, 3.0) == pytest.approx(chance, abs=2e-4)
    assert found(apart, math.inf, 7.0, 1.0) == pytest.approx(chance, abs=2e-4)


def test_without_any_uncertainty_it_is_certain() -> None:
    assert chance_of(Basis.COMMON)(1.0, 3, 0.0, 0.0) == 1.0
    assert chance_of(Basis.COMMON)(0.0, 3, 0.0, 0.0) == 0.0


@pytest.mark.parametrize(
    ("basis", "groups", "dof", "t"),
    [(Basis.SCATTER, 5, 4, 2.776), (Basis.EITHER, 3, 2, 4.303), (Basis.LINE, 5, 3, 3.182)],
)
def test_the_chance_where_the_scatter_decides(
    basis: Basis, groups: int, dof: int, t: float
) -> None:
    """Student's t from a table (95 %, two-sided); integrated over chi-squared by another library.

    The limit is t times the scatter found, but never below 1.96 of what the readings explain.
    """

    def kept(square: float) -> float:
        limit = max(1.95996, t * math.sqrt(square / dof))
        return float((norm.cdf(limit) - norm.cdf(max(-limit, limit - 4.0))) * chi2.pdf(square, dof))

    found = chance_of(basis, inflated=True if basis is Basis.LINE else None)
    assert found.least == groups - dof + 1
    expected, _ = quad(kept, 0, 60, points=[dof * (1.95996 / t) ** 2], limit=200)
    assert found(4.0, groups, float(groups), 0.0) == pytest.approx(expected, abs=0.004)
    # what is shared is not seen in the scatter: it counts with 1.96
    assert found(4.0, groups, 0.0, 1.0) == pytest.approx(0.95, abs=0.03)
    assert found(4.0, math.inf, 1.0, 1.0) == pytest.approx(chance_of(Basis.COMMON)(4.0, 1, 0, 1.0))


def test_a_line_that_the_readings_explain_needs_no_scatter() -> None:
    assert chance_of(Basis.LINE, inflated=False).least == 1
    assert chance_of(Basis.LINE, inflated=True).least == 3
    assert chance_of(Basis.SCATTER).least == 2


@pytest.mark.parametrize("needed", [1, 2, 3, 4, 7, 8, 9, 1000, 123_457])
def test_the_fewest_that_are_enough(needed: int) -> None:
    assert _fewest(lambda n: n >= needed) == needed
    assert _fewest(lambda n: n >= needed, least=3) == max(needed, 3)


def test_more_than_a_thousand_million_are_not_looked_for() -> None:
    assert math.isnan(_fewest(lambda n: n >= 2e9))
    assert math.isnan(_fewest(math.isinf))
    assert _fewest(lambda n: n >= 5e8) == 5e8


def the_class(produced: tuple[float, float] = (1.8, 1.9), **shared: float) -> ClassVerdict:
    amounts = amounts_from_arrays([1.0, 1.2], produced, 0.2, 0.6, **shared)
    return class_verdict(amounts, candidates=CANDIDATES)


def test_the_rows_of_an_outlook_by_hand() -> None:
    """Consumed 1.1 on average, so that copper(I) and copper(II) lie 1.1 apart.

    One group: 1² · 0.2² + 0.6² = 0.4. Shared: 5 % of 1.85 produced, 0.0925, squared 0.008556.
    """
    found = the_class(shared_produced=0.05)
    outlook = class_outlook(found, groups=5)
    assert (outlook.truth, outlook.rival, outlook.target) == ("copper(II)", "copper(I)", 0.9)
    assert outlook.discrepancy_mol == pytest.approx(1.1)
    assert outlook.own_u_mol == pytest.approx(math.sqrt(0.4))
    assert outlook.shared_u_mol == pytest.approx(0.0925)
    assert [row.groups for row in outlook.rows] == [2, 4, 8, 16, math.inf]
    for row in outlook.rows:
        assert row.u_mol == pytest.approx(math.sqrt(0.4 / row.groups + 0.008556), rel=1e-4)
    assert outlook.later is not None
    assert outlook.later.u_mol == pytest.approx(math.sqrt(0.08 + 0.008556), rel=1e-4)
    assert outlook.largest_shared == "shared calibration of the amounts produced"
    enough = [n for n in range(1, 40) if class_outlook(found, groups=max(n, 2)).later.chance >= 0.9]  # type: ignore[union-attr]
    assert outlook.groups_needed == enough[0]
    assert math.isnan(outlook.copies_needed)  # two groups are too few, whatever they share


def test_another_truth_has_another_rival() -> None:
    """2² · 0.2² + 0.6² = 0.52 for the discrepancy from copper(II)."""
    outlook = class_outlook(the_class(), truth="copper(I)")
    assert outlook.rival == "copper(II)"
    assert outlook.own_u_mol == pytest.approx(math.sqrt(0.52))
    assert (outlook.shared_u_mol, outlook.largest_shared) == (0.0, "")
    assert outlook.later is None


def test_the_hardest_rival_lies_fewest_uncertainties_away() -> None:
    amounts = amounts_from_arrays([1.0, 1.2], [1.8, 1.9], 0.2, 0.6)
    found = class_verdict(amounts, candidates={"one": 1, "two": 2, "two and a half": "5/2"})
    assert class_outlook(found, truth="two").rival == "two and a half"


def test_spread_over_several_copies_a_shared_source_averages_out() -> None:
    """Shared: 30 % of 1.85 is 0.555, squared 0.308; what the two groups have of their own is small.

    For a chance of 0.9 the candidates must lie 1.1 / u ≥ 1.96 + 1.4395 apart, where
    Φ(1.96) − Φ(−1.4395) = 0.975 − 0.075 = 0.9: u² ≤ 0.1047, so 0.308 / n ≤ 0.1047: n ≥ 2.94.
    At 25 % it is 0.4625 squared, 0.2139: n ≥ 2.04; at 24 % 0.1971: n ≥ 1.88.
    """
    for shared, copies in ((0.3, 3), (0.25, 3), (0.24, 2)):
        amounts = amounts_from_arrays(
            [1.1, 1.1], [1.85, 1.85], 0.0002, 0.0006, shared_produced=shared
        )
        outlook = class_outlook(class_verdict(amounts, candidates=CANDIDATES))
        assert outlook.copies_needed == copies
        assert math.isnan(outlook.groups_needed)


@pytest.mark.parametrize("target", [0.049, 0.95])
def test_the_chance_asked_for_has_limits(target: float) -> None:
    found = the_class()
    with pytest.raises(ModelError):
        class_outlook(found, target=target)
    assert class_outlook(found, target=0.05).target == 0.05
    assert class_outlook(found, target=0.9499).target == 0.9499
    with pytest.raises(ModelError):
        class_outlook(found, groups=1)
    with pytest.raises(ModelError):
        class_outlook(found, groups=1001)
    assert class_outlook(found, groups=1000).later is not None
    with pytest.raises(ModelError, match="no such candidate"):
        class_outlook(found, truth="copper")
    alone = amounts_from_arrays([1.0, 1.2], [1.8, 1.9], 0.2, 0.6)
    with pytest.raises(ModelError, match="no rival"):
        class_outlook(class_verdict(alone, candidates={"copper(II)": 2}))


def outlook_of(chance: float = 0.5, **more: Any) -> ClassOutlook:
    """Return an outlook of four groups that asks for a chance of 0.9."""
    rows = tuple(
        OutlookRow(n, u, c)
        for n, u, c in ((4, 2e-5, chance), (8, 1.5e-5, 0.7), (math.inf, 1e-5, 0.8))
    )
    given = {
        "truth": "tin(II)", "rival": "tin(IV)", "target": 0.9, "discrepancy_mol": 1e-4,
        "own_u_mol": 4e-5, "shared_u_mol": 0.0, "rows": rows, "groups_needed": 12.0,
        "finer": OutlookRow(4, 1e-5, 0.6), "largest_shared": "", "copies_needed": 1.0,
    }  # fmt: skip
    return ClassOutlook(**{**given, **more})


def test_what_would_help_a_class_that_is_not_sure() -> None:
    first, groups, finer = outlook_sentences(outlook_of())
    assert first == (
        "If tin(II) is true, the chance that 4 groups like these single it out from tin(IV), its "
        "hardest rival, is 0.50."
    )
    assert groups == "More groups: 12 like these would reach a chance of 0.9."
    assert finer.endswith("ten times finer the same groups would reach 0.60.")
    assert len(list(outlook_sentences(outlook_of(), instruments=False))) == 2
    few = next(outlook_sentences(outlook_of(0.0099)))
    assert few.endswith("is below 0.01.")
    assert next(outlook_sentences(outlook_of(0.01))).endswith("is 0.01.")


def test_where_no_number_of_groups_is_enough() -> None:
    stuck = outlook_of(groups_needed=math.nan, largest_shared="the stock")
    assert list(outlook_sentences(stuck))[1] == (
        "More groups: no number is enough. The chance levels off at 0.80, short of 0.9, because "
        "all groups share the stock."
    )


@pytest.mark.parametrize(
    ("shared", "copies", "words"),
    [
        (0.64e-5, 3.0, "spread over 3 independent copies"),  # (0.32)² > 0.1 of the variance
        (0.62e-5, 3.0, ""),  # (0.31)² < 0.1
        (1e-5, 1.0, ""), (1e-5, math.nan, "sharing it between more copies would not be enough"),
    ],
)  # fmt: skip
def test_another_copy_of_what_is_shared(shared: float, copies: float, words: str) -> None:
    found = outlook_of(shared_u_mol=shared, copies_needed=copies, largest_shared="the stock")
    said = list(outlook_sentences(found))
    assert len(said) == (4 if words else 3)
    assert words in said[-1]
    nameless = outlook_of(shared_u_mol=shared, copies_needed=copies)
    assert len(list(outlook_sentences(nameless))) == 3


def test_a_class_that_is_sure_needs_no_more_groups() -> None:
    """0.02 mmol fall to 0.015 mmol with twice as many, to 0.010 mmol with finer displays."""
    for chance, enough in ((0.9, True), (0.8999, False)):
        said = list(outlook_sentences(outlook_of(chance)))
        assert said[1].startswith("More groups: not needed") is enough
    _, groups, finer = outlook_sentences(outlook_of(0.95))
    assert groups.endswith(
        "With 8 the standard uncertainty of the pooled discrepancy would fall from 0.020 mmol to "
        "0.015 mmol."
    )
    assert finer.endswith("ten times finer it would fall to 0.010 mmol.")
    for u, hardly in ((1.79e-5, False), (1.81e-5, True)):  # nine tenths of 0.02 are 0.018
        said = list(outlook_sentences(outlook_of(0.95, finer=OutlookRow(4, u, 0.96))))
        assert ("hardly help" in said[2]) is hardly
    shared = outlook_of(0.95, shared_u_mol=1e-5, copies_needed=3.0, largest_shared="the stock")
    assert len(list(outlook_sentences(shared))) == 3
