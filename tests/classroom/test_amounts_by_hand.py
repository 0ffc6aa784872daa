"""Amounts of groups, what they share, and what more groups would do, worked out by hand."""

from __future__ import annotations

import math
from types import SimpleNamespace
from typing import Any

import numpy as np
import pytest

from stoichkit import experiments
from stoichkit.classroom.amounts import (
    BlankKind,
    ClassAmounts,
    _differ,
    _joined_name,
    amounts_from_arrays,
    amounts_of,
    blank_of,
    class_line,
    outlying_groups,
    scatter_test,
)
from stoichkit.classroom.outlook import _Chance, _fewest, _Parts, class_outlook
from stoichkit.classroom.verdict import Basis, class_verdict
from stoichkit.errors import ModelError


def test_variances_of_each_group_with_their_correlation() -> None:
    """u² of each, and ρ u_consumed u_produced: 0.5 · 0.1 · 0.3 and −0.25 · 0.2 · 0.4."""
    found = amounts_from_arrays([1, 2], [3, 5], [0.1, 0.2], [0.3, 0.4], correlation=[0.5, -0.25])
    own = found.own
    assert own.consumed.tolist() == pytest.approx([0.01, 0.04])
    assert own.produced.tolist() == pytest.approx([0.09, 0.16])
    assert own.both.tolist() == pytest.approx([0.015, -0.02])
    # y b − x a with x = 2, y = 3: 9 · 0.09 + 4 · 0.01 − 2 · 6 · 0.015, 9 · 0.16 + 4 · 0.04 + 0.24
    assert own.along(2.0, 3.0).tolist() == pytest.approx([0.67, 1.84])
    assert found.discrepancies(2.0, 3.0).tolist() == pytest.approx([7.0, 11.0])
    assert found.reading.consumed.tolist() == [0.0, 0.0]  # of no display
    left = own.without(0)
    assert (left.consumed.tolist(), left.both.tolist()) == ([own.consumed[1]], [own.both[1]])


def test_one_direction_has_the_ratio_of_the_amounts() -> None:
    assert ClassAmounts.direction(3.0, 4.0) == pytest.approx((0.8, 0.6))
    assert ClassAmounts.direction(-3.0, 4.0) == pytest.approx((0.8, -0.6))
    assert ClassAmounts.direction(0.0, 0.0) == pytest.approx((0.5**0.5, 0.5**0.5))


def test_trials_of_a_group_are_averaged() -> None:
    """Two trials with u = 0.1 each have a mean with 0.1 / √2; a change shifts each trial."""
    one = amounts_from_arrays([1, 3, 2], [2, 8, 4], 0.1, 0.2)
    (a,), (b,), (c,) = one.groups.values()
    both = ClassAmounts({"ab": [a, b], "c": [c]})
    assert both.consumed.tolist() == [2.0, 2.0]
    assert both.produced.tolist() == [5.0, 4.0]
    assert both.own.consumed.tolist() == pytest.approx([0.005, 0.01])
    assert both.own.produced.tolist() == pytest.approx([0.02, 0.04])
    assert both.changed(0.5, 2.0).produced.tolist() == pytest.approx([10.5, 8.5])


def mean_of(u: float) -> float:
    """Return the mean amount of 1 and 2 mol, with u of the second so many times the first's."""
    return amounts_from_arrays(
        [1, 2], [1, 2], [0.01, 0.01 * u], [0.01, 0.01 * u]
    ).linear.mean_consumed  # fmt: skip


def test_groups_count_equally_unless_one_has_twice_the_variance() -> None:
    """The lighter of two has the share 2 / (1 + u²) of an equal one: 2/3 at u² = 2."""
    assert mean_of(1.41) == pytest.approx(1.5)
    assert mean_of(1.42) == pytest.approx((1.42**2 * 1 + 2) / (1.42**2 + 1))
    assert mean_of(1 / 1.41) == pytest.approx(1.5)
    assert mean_of(0.5) == pytest.approx((0.25 * 1 + 2) / 1.25)


def test_what_is_shared_acts_on_each_group_by_its_amount() -> None:
    shared = amounts_from_arrays(
        [1, 2, 3], [2, 4, 7], 0.1, 0.2, shared_consumed=0.01, shared_produced=0.02
    )
    assert [s.standard_uncertainty for s in shared.shared_sources] == pytest.approx([0.01, 0.02])
    assert [s.label for s in shared.shared_sources] == [
        f"shared calibration of the amounts {side}" for side in ("consumed", "produced")
    ]
    effects = shared.shared_effects(2.0, 3.0)
    assert effects.tolist() == [pytest.approx([-2, -4, -6]), pytest.approx([6, 12, 21])]
    used, made = shared.shared_standard()
    assert used.tolist() == [pytest.approx([0.01, 0.02, 0.03]), [0, 0, 0]]
    assert made.tolist() == [[0, 0, 0], pytest.approx([0.04, 0.08, 0.14])]
    left = shared.without("2")
    assert left.names == ("1", "3")
    assert left.shared_effects(2.0, 3.0).tolist() == [[-2, -6], [6, 21]]
    assert left.linear.mean_produced == pytest.approx(4.5)
    assert left.own.produced.tolist() == pytest.approx([0.04, 0.04])
    with pytest.raises(ModelError, match="too few groups"):
        left.without("1")
    with pytest.raises(ModelError, match="no such group"):
        left.without("2")


def test_what_makes_up_no_class() -> None:
    for wrong in (1.01, -1.01):
        with pytest.raises(ModelError, match="correlation"):
            amounts_from_arrays([1, 2], [1, 2], 0.1, 0.1, correlation=wrong)
    assert amounts_from_arrays([1, 2], [1, 2], 0.1, 0.2, correlation=1.0).names == ("1", "2")
    assert amounts_from_arrays([1, 2], [1, 2], 0.1, 0.1, correlation=-1.0).own.both.tolist() == (
        pytest.approx([-0.01, -0.01])
    )
    with pytest.raises(ModelError, match="two groups or more"):
        amounts_from_arrays([1], [1], 0.1, 0.1)
    with pytest.raises(ModelError, match="1 groups, 1 trials"):
        amounts_from_arrays([1], [1], 0.1, 0.1)
    with pytest.raises(ModelError, match="one name a group"):
        amounts_from_arrays([1, 2], [1, 2], 0.1, 0.1, names=["a", "a"])
    with pytest.raises(ModelError, match=r"no uncertainty of its own.* Given: 2\."):
        amounts_from_arrays([1, 2], [1, 2], [0.1, 0.0], [0.1, 0.0])
    thirteen = amounts_from_arrays(range(1, 14), range(1, 14), 0.1, 0.1)
    with pytest.raises(ModelError, match=r"Given: x\. Allowed: 1, 2, .*, 11, 12 and 1 more\."):
        thirteen.without("x")
    lab = experiments.load("copper-silver")
    with pytest.raises(ModelError, match="of one name"):
        amounts_of(lab, lab)


def test_a_class_has_a_thousand_trials_at_most() -> None:
    (a,), (b,) = amounts_from_arrays([1, 2], [2, 4], 0.1, 0.2).groups.values()
    assert ClassAmounts({"a": [a] * 999, "b": [b]}).consumed.tolist() == pytest.approx([1, 2])
    with pytest.raises(ModelError, match=r"2 groups, 1001 trials.*1000 trials at most"):
        ClassAmounts({"a": [a] * 1000, "b": [b]})


# The line


def test_amounts_differ_by_three_times_their_uncertainty() -> None:
    """1, 2 and 3 have a standard deviation of 1, which is three times 0.3333."""
    x = np.array([1.0, 2.0, 3.0])
    assert _differ(x, np.full(3, 0.333**2))
    assert not _differ(x, np.full(3, 0.334**2))
    assert _differ(x, np.zeros(3))
    assert not _differ(np.ones(3), np.zeros(3))
    # the middle one weighs little: 1 and 3 about 2, sum of squares 2 as before
    assert _differ(x, np.array([1, 1e6, 1]) * 0.333**2)
    assert not _differ(x, np.array([1, 1e6, 1]) * 0.334**2)
    # the last one weighs little: 1 and 2 about 1.5, sum of squares 0.5 for 18 u²
    assert _differ(x, np.array([1, 1, 1e9]) * 0.166**2)
    assert not _differ(x, np.array([1, 1, 1e9]) * 0.167**2)


def test_a_line_needs_three_groups() -> None:
    assert class_line(amounts_from_arrays([1, 2], [2, 4], 0.01, 0.01)) == (
        None, "There are fewer than three groups.",
    )  # fmt: skip
    line, why = class_line(amounts_from_arrays([1, 2, 3], [2.5, 4.5, 6.5], 0.01, 0.01))
    assert why == ""
    assert line is not None
    assert (line.slope, line.intercept) == pytest.approx((2.0, 0.5))


def blank(p: float, intercept: float, produced: str = "") -> Any:
    line: Any = SimpleNamespace(
        intercept=intercept,
        u_intercept_total=0.001,
        intercept_p_value=lambda: p,
        intercept_interval=lambda coverage: (-coverage, coverage),
    )
    return blank_of(line, coverage=0.95, produced=produced)


def test_a_blank_is_seen_below_five_hundredths() -> None:
    """0.002 mol of silver are 0.2157 g (M = 107.868 g/mol, IUPAC 2021, from memory)."""
    assert blank(0.049, 0.002).kind is BlankKind.GAIN
    assert blank(0.049, -0.002).kind is BlankKind.LOSS
    assert blank(0.051, 0.002).kind is BlankKind.NOT_SEEN
    found = blank(0.2, 0.002, "Ag")
    assert (found.amount_mol, found.u_mol, found.p_value) == (0.002, 0.001, 0.2)
    assert (found.mass_g, found.u_g) == pytest.approx((0.215736, 0.107868), rel=1e-4)
    assert found.interval_mol == (-0.95, 0.95)
    assert math.isnan(blank(0.2, 0.002).mass_g)


def test_groups_are_tested_by_their_scatter_with_student_t() -> None:
    """1, 2 and 3: t = 2 / (1 / √3) = √12; for two degrees of freedom p = 1 − t / √(t² + 2)."""
    amounts = amounts_from_arrays([1, 1, 1], [1, 2, 3], 1e-6, 1e-3)
    pooled, p = scatter_test(amounts, 0.0, 1.0)
    assert pooled.mean == pytest.approx(2.0)
    assert p == pytest.approx(1 - 12**0.5 / 14**0.5, rel=1e-3)
    # with x = 2 the discrepancies are −1, 0 and 1
    pooled, p = scatter_test(amounts, 2.0, 1.0)
    assert pooled.mean == pytest.approx(0.0, abs=1e-9)
    assert p == pytest.approx(1.0)


def test_a_group_stands_out_below_its_part_of_five_hundredths() -> None:
    """Of five groups p must be below 0.01, that is 2.576 uncertainties (normal; from memory).

    Five amounts with u = 1 each, four at 0: the fifth is off by x / √(1 + 1/4).
    """

    def found(off: float) -> dict[str, float]:
        made = [100.0, 100.0, 100.0, 100.0, 100.0 + off]
        return dict(outlying_groups(amounts_from_arrays([50] * 5, made, 1e-9, 1.0)))

    assert found(2.55 * 1.25**0.5) == {}
    assert found(2.60 * 1.25**0.5) == {"5": pytest.approx(2.60, abs=0.01)}
    assert found(-2.60 * 1.25**0.5) == {"5": pytest.approx(-2.60, abs=0.01)}
    two = amounts_from_arrays([50] * 2, [100, 200], 1e-9, 1.0)
    assert dict(outlying_groups(two)) == {}


def test_names_of_joined_trials_have_eighty_characters() -> None:
    assert _joined_name("red", "1", set()) == "red: 1"
    assert _joined_name("red", "1", {"red: 1", "red: 1 (2)"}) == "red: 1 (3)"
    assert _joined_name("x" * 70, "y" * 8, set()) == "x" * 70 + ": " + "y" * 8
    assert _joined_name("x" * 70, "y" * 9, set()) == "x" * 41 + "…: " + "y" * 9
    assert _joined_name("x" * 42, "y" * 37, set()) == "x" * 42 + ": " + "y" * 30 + "…"
    plain = "x" * 70 + ": " + "y" * 8
    assert _joined_name("x" * 70, "y" * 8, {plain}) == "x" * 68 + " (2)"


# What more groups would do


def chance_of(basis: Basis, *, inflated: bool | None = None) -> _Chance:
    line = None if inflated is None else SimpleNamespace(inflated=inflated)
    found: Any = SimpleNamespace(coverage=0.95, basis=basis, line=line)
    return _Chance(found)


def test_the_chance_that_the_readings_tell_two_candidates_apart() -> None:
    """With z = 1.960: Φ(1.96) − Φ(1.96 − apart): Φ(−1.28) is 0.1003, Φ(−0.04) 0.4840 (tables)."""
    chance = chance_of(Basis.COMMON)
    assert chance(3.24, 4, 4.0, 0.0) == pytest.approx(0.975 - 0.1003, abs=2e-4)
    assert chance(2.00, 4, 4.0, 0.0) == pytest.approx(0.975 - 0.4840, abs=2e-4)
    assert chance(2.00, 4, 3.0, 0.25) == pytest.approx(0.975 - 0.4840, abs=2e-4)
    assert chance(4.00, 1, 3.0, 1.00) == pytest.approx(0.975 - 0.4840, abs=2e-4)
    assert chance(0.0, 4, 4.0, 0.0) == pytest.approx(0.0, abs=1e-9)
    assert chance(50.0, 4, 4.0, 0.0) == pytest.approx(0.95)
    assert chance(50.0, math.inf, 4.0, 1.0) == pytest.approx(0.95)
    assert (chance(1.0, math.inf, 4.0, 0.0), chance(0.0, math.inf, 4.0, 0.0)) == (1.0, 0.0)


def test_the_scatter_costs_groups() -> None:
    """A mean loses one degree of freedom and a line two; one more must be left."""
    assert [chance_of(b).least for b in (Basis.COMMON, Basis.SCATTER, Basis.EITHER)] == [1, 2, 2]
    assert chance_of(Basis.LINE, inflated=True).least == 3
    assert chance_of(Basis.LINE, inflated=False).least == 1
    assert chance_of(Basis.LINE).least == 1
    assert chance_of(Basis.COMMON, inflated=True).least == 1
    readings, scatter = chance_of(Basis.COMMON), chance_of(Basis.SCATTER)
    few = [scatter(3.24, n, n, 0.0) for n in (2, 3, 6, 1000)]
    assert few == sorted(few)
    assert few[-1] == pytest.approx(readings(3.24, 4, 4.0, 0.0), abs=0.02)
    assert scatter(3.24, math.inf, 4.0, 1.0) == readings(3.24, 4, 4.0, 0.0)
    # all that is shared is not in the scatter
    assert scatter(3.24, 3, 1e-12, 1.0) == pytest.approx(readings(3.24, 3, 1e-12, 1.0), abs=1e-3)


def test_the_scatter_is_averaged_over_its_distribution() -> None:
    """Two groups, apart by a thousand uncertainties: kept if |z| < max(1.96, 12.71 s), averaged.

    Against draws of z and s from NumPy.
    """
    rng = np.random.default_rng(5)
    z, s = rng.normal(size=400_000), np.abs(rng.normal(size=400_000))
    kept = np.abs(z) < np.maximum(1.96, 12.706 * s)
    scatter = chance_of(Basis.SCATTER)
    assert scatter(1e3, 2, 2.0, 0.0) == pytest.approx(kept.mean(), abs=3e-3)
    apart = kept & (np.abs(z + 8.0) >= np.maximum(1.96, 12.706 * s))
    assert scatter(8.0, 2, 2.0, 0.0) == pytest.approx(apart.mean(), abs=1e-2)


def test_the_fewest_that_are_enough() -> None:
    for least in (1, 2, 3, 4, 7, 8, 9, 1000):
        assert _fewest(lambda n, least=least: n >= least) == least
    assert _fewest(lambda n: n > 0, least=3) == 3.0
    assert math.isnan(_fewest(lambda n: n > 1e10))
    assert _fewest(lambda n: n >= 3e8) == 3e8


def parts(basis: Basis, spread: float = 0.0, **shared: float) -> _Parts:
    """Two groups of 2 mol with u = 0.3 and 0.4; the true ratio 2, the rival 3."""
    amounts = amounts_from_arrays([2, 2], [4, 4], 0.3, 0.4, **shared)
    named = {n: SimpleNamespace(candidate=SimpleNamespace(ratio=r)) for n, r in RATIOS.items()}
    found: Any = SimpleNamespace(
        amounts=amounts, candidates=named, basis=basis, ratio_spread=spread
    )
    return _Parts(found, "true", "rival")


RATIOS = {"true": 2, "rival": 3}


def test_what_a_rival_is_apart_by_and_how_surely() -> None:
    """(3 − 2) · 2 mol = 2 mol; variance of b − 3 a: 0.4² + 9 · 0.3² = 0.97 of each group."""
    plain = parts(Basis.COMMON, 0.5)
    assert plain.difference == pytest.approx(2.0)
    assert plain.own == pytest.approx(0.97)
    assert (plain.reading, plain.shared, plain.largest, plain.label) == (0.0, 0.0, 0.0, "")
    assert plain.separation(4) == pytest.approx(2 / (0.97 / 4) ** 0.5)
    # a spread of 0.5 in the ratio is 0.5 · 2 mol = 1 mol
    assert parts(Basis.SCATTER, 0.5).own == pytest.approx(1.97)
    assert parts(Basis.LINE, 0.5).own == pytest.approx(1.97)


def test_what_groups_share_is_told_by_the_largest() -> None:
    """1 % of 2 mol three times over is 0.06 mol; 5 % of 4 mol is 0.2 mol."""
    shared = parts(Basis.COMMON, shared_consumed=0.01, shared_produced=0.05)
    assert shared.shared == pytest.approx(0.06**2 + 0.2**2)
    assert shared.largest == pytest.approx(0.2**2)
    assert shared.label == "shared calibration of the amounts produced"
    assert shared.separation(1) == pytest.approx(2 / (0.97 + 0.0436) ** 0.5)


def test_ten_times_finer_displays_leave_a_hundredth_of_their_variance() -> None:
    """Of the ready record; where no display was read, nothing is finer."""
    found = class_verdict(experiments.load("copper-silver"))
    outlook = class_outlook(found)
    part = _Parts(found, outlook.truth, outlook.rival)
    assert 0 < part.reading <= part.own
    finer = (part.own - 0.99 * part.reading) / len(found.groups) + part.shared
    assert outlook.finer.u_mol == pytest.approx(finer**0.5)
    assert outlook.finer.groups == len(found.groups) == 4
    plain = amounts_from_arrays([1, 2, 3], [2, 4, 6], 0.1, 0.1)
    outlook = class_outlook(class_verdict(plain, candidates={"one": 1, "two": 2}))
    assert outlook.finer == outlook.rows[0]
    assert [row.groups for row in outlook.rows] == [3, 6, 12, 24, math.inf]


def test_copies_of_an_instrument_divide_what_is_shared() -> None:
    """One mole each and nothing but normal errors: four groups with u = 0.1, shared 0.4 mol.

    The rival is 1 mol off, and a chance of 0.9 needs 1.96 + 1.2816 = 3.2416 uncertainties (the
    other side is far): 0.3085 mol. Of 0.0952 mol² the groups take 0.0025 and so leave 0.0927, of
    0.16 over 1.73 copies: two.
    """
    four = amounts_from_arrays([1] * 4, [2] * 4, 1e-9, 0.1, shared_produced=0.2)
    found = class_verdict(four, candidates={"one": 1, "two": 2}, variation="none")
    outlook = class_outlook(found, truth="two")
    assert outlook.discrepancy_mol == pytest.approx(1.0)
    assert outlook.shared_u_mol == pytest.approx(0.4)
    assert outlook.own_u_mol == pytest.approx(0.1)
    assert outlook.copies_needed == 2
    assert math.isnan(outlook.groups_needed)
    assert outlook.rows[0].u_mol == pytest.approx((0.1**2 / 4 + 0.4**2) ** 0.5)
    assert class_outlook(found, truth="two", groups=8).later == outlook.rows[1]
    with pytest.raises(ModelError):
        class_outlook(found, groups=3)
