"""The array paths of the decision core give what the paths for one lab, or one value, give."""

from __future__ import annotations

import math
from dataclasses import replace

import numpy as np
import pytest
from scipy.integrate import quad
from scipy.special import stdtr

from stoichkit.classroom.amounts import ClassAmounts, amounts_of
from stoichkit.classroom.verdict import class_verdict
from stoichkit.decision.arrays import weighed_ratios
from stoichkit.decision.evidence import assess
from stoichkit.errors import ReadingError
from stoichkit.experiments.parts import Trial
from stoichkit.measurement.displays import Balance
from stoichkit.uncertainty import digits
from stoichkit.uncertainty.digits import (
    DIFFERENCE,
    SINGLE,
    DigitBlock,
    split_narrow,
    worst_position_tails,
)
from stoichkit.uncertainty.distribution import student_tails
from stoichkit.uncertainty.sources import Shape, Term, contributions, standard_uncertainty
from tests.labs import ROLES, lab, weighed


@pytest.mark.parametrize("noise", [0.0, 0.1, 0.5])
@pytest.mark.parametrize("count", [1, 3])
@pytest.mark.parametrize("kind", [DIFFERENCE, SINGLE])
def test_many_values_at_once_have_the_tails_of_each_alone(
    noise: float, count: int, kind: str
) -> None:
    """Ties included: steps in simple proportion make patterns fall exactly on tested values."""
    n = 2 if kind == DIFFERENCE else 1
    for other in (0.5, 0.75, 1.37):
        blocks = [DigitBlock(kind, (s / count,), (noise,) * n, count) for s in (1.0, other)]
        for rest in ([], [Term(Shape.RECTANGULAR, 0.4), Term(Shape.NORMAL, 0.2)]):
            wide, narrow = split_narrow(rest, blocks)
            x = np.arange(0, 9, 1 / 16)
            together = worst_position_tails(x, blocks, wide, np.full(x.size, narrow))
            alone = [
                worst_position_tails(np.array([v]), blocks, wide, np.array([narrow]))[0] for v in x
            ]
            assert together == pytest.approx(alone, abs=1e-12)
            assert together[0] == 1.0
            assert together[-1] < 0.05


def test_half_the_positions_are_enough(monkeypatch: pytest.MonkeyPatch) -> None:
    """The other half mirrors it: searching all positions changes nothing."""
    blocks = [DigitBlock(DIFFERENCE, (s,), (0.3, 0.3), 2) for s in (1.0, 0.7)]
    x = np.linspace(0, 8, 40)
    half = worst_position_tails(x, blocks, [], np.zeros(40))
    monkeypatch.setattr(digits.Axis, "half", lambda self: self)
    assert worst_position_tails(x, blocks, [], np.zeros(40)) == pytest.approx(half, abs=1e-13)


def _smeared(x: float, wide: float, narrow: float, scale: float, dof: int) -> float:
    """Two-sided tail of t and two rectangles by adaptive quadrature inside Gauss-Legendre."""
    node, weight = np.polynomial.legendre.leggauss(200)
    total = 0.0
    for shift, w in zip(narrow * node - x, weight, strict=True):
        kinks = [-shift] if abs(shift) < wide else None
        total += (
            w
            * quad(
                lambda u, s: stdtr(dof, (u + s) / scale), -wide, wide,
                args=(shift,), points=kinks, epsabs=1e-12, limit=400,
            )[0]
        )  # fmt: skip
    return total / (2 * wide)


@pytest.mark.parametrize("dof", [1, 2, 5, 30])
def test_smeared_student_tails_against_quadrature(dof: int) -> None:
    """Against adaptive quadrature (QUADPACK) of the distribution function of t."""
    for scale in (0.3, 0.02):
        for x in (0.0, 0.5, 0.75, 3.0):
            found = student_tails(np.array([x]), np.array([[0.5], [0.2]]), np.array([scale]), dof)
            assert found[0] == pytest.approx(_smeared(x, 0.5, 0.2, scale, dof), abs=1e-9)


def test_smeared_student_tails_of_many_equal_each_alone() -> None:
    rng = np.random.default_rng(3)
    widths = 10.0 ** rng.uniform(-3, 1, (4, 40))
    scale = 10.0 ** rng.uniform(-1, 0, 40)
    x = rng.uniform(0, 12, 40)
    together = student_tails(x, widths, scale, 3)
    alone = [
        student_tails(x[[j]], widths[:, [j]], scale[[j]], 3)[0] for j in range(40)
    ]  # fmt: skip
    assert together == pytest.approx(alone, abs=1e-10)


def _class(trials: list[int], noise: float) -> tuple[ClassAmounts, dict[str, str]]:
    """Return a class, and the name without its trial of each reading."""
    rng = np.random.default_rng(8)
    tables = weighed(rng, rng.uniform(0.05, 0.4, sum(trials)), 2.0, 0.01, noise, (sum(trials),))
    record = lab(np.column_stack(tables), Balance(readability_g=0.01, calibration_relative=1e-4))
    groups = [f"group {g}" for g, n in enumerate(trials) for _ in range(n)]
    named = [
        Trial(t.name, t.readings, g) for t, g in zip(record.trials, groups, strict=True)
    ]  # fmt: skip
    roles = {f"{n}, trial {t.name}": f"{n} (1)" for t in named for n in ROLES}
    return amounts_of(assess(replace(record, trials=named))), roles


@pytest.mark.parametrize("trials", [[1] * 6, [1, 1, 3, 8]])
@pytest.mark.parametrize("noise", [0.5, 4.0])
def test_the_class_without_a_group_is_that_class_made_anew(trials: list[int], noise: float) -> None:
    amounts, roles = _class(trials, noise)
    whole = class_verdict(amounts, candidates={"one": 1, "two": 2})
    for name in amounts.names:
        fast = amounts.without(name)
        rest = {n: p for n, p in amounts.groups.items() if n != name}
        slow = ClassAmounts(rest, roles)
        assert fast.own.produced == pytest.approx(slow.own.produced, rel=1e-12)
        assert fast.shared_sources == slow.shared_sources
        for ratio in (1.0, 1.9, 2.0, 2.1):
            assert fast.linear.p_value(ratio, 1.0) == pytest.approx(
                slow.linear.p_value(ratio, 1.0), abs=1e-9
            )
        again = class_verdict(slow, candidates={"one": 1, "two": 2})
        assert whole.without[name].candidates == again.verdict.candidates


def test_weighed_ratios_against_uncertainties() -> None:
    """Ratio, uncertainty and budget equal those of n_b / n_a by the ``uncertainties`` package."""
    balance = Balance(
        readability_g=0.01, repeatability_g=0.004, linearity_g=0.01, calibration_relative=1e-3
    )
    rng = np.random.default_rng(2)
    tables = weighed(rng, 0.3, 2.0, 0.01, 0.5, (5, 3))
    many = weighed_ratios(*tables, consumed="Cu", produced="Ag", balance=balance)
    for g in range(5):
        found = assess(lab(np.column_stack([t[g] for t in tables]), balance))
        ratio = found.n_produced / found.n_consumed
        assert many.ratio[g] == pytest.approx(ratio.nominal_value, rel=1e-12)
        assert many.standard_uncertainty[g] == pytest.approx(standard_uncertainty(ratio), rel=1e-12)
        expected = {
            s.label: c * s.standard_uncertainty for s, c in contributions(ratio)
        }  # fmt: skip
        row = many.sources.index("atomic weight of Cu")
        assert many.contributions[row, g] == pytest.approx(
            expected["atomic weight of Cu"], rel=1e-12
        )
    assert many.shares.sum(axis=0) == pytest.approx(1.0)
    assert len(many) == 5


def test_an_element_in_both_formulas_acts_once() -> None:
    """Magnesium in the metal and in the oxide: its weight acts by its share in the oxide."""
    found = weighed_ratios(
        [1.0], [0.76], [10.0], [10.4], consumed="Mg", produced="MgO", balance=Balance()
    )
    assert found.sources[4:] == ("atomic weight of Mg", "atomic weight of O")
    # M(Mg)/M(MgO) changes by (1 - 24.305/40.304)/24.305 relative per unit of Ar(Mg) (CIAAW 2021)
    expected = found.ratio[0] * (1 - 24.305 / 40.304) / 24.305 * 0.002 / math.sqrt(3)
    assert found.contributions[4, 0] == pytest.approx(expected, rel=1e-3)


def test_nothing_consumed_has_no_ratio() -> None:
    found = weighed_ratios(
        [1.0, 2.0], [1.0, 1.5], [1.0, 1.0], [1.2, 1.8], consumed="Cu", produced="Ag",
        balance=Balance(),
    )  # fmt: skip
    assert np.isnan(found.ratio).tolist() == [True, False]
    assert np.isnan(found.shares[:, 0]).all()


def test_what_cannot_be_used_is_refused() -> None:
    given = {"consumed": "Cu", "produced": "Ag", "balance": Balance()}
    with pytest.raises(ReadingError, match="do not match"):
        weighed_ratios([1.0], [1.0], [1.0], [1.0, 2.0], **given)


def test_a_narrow_rectangle_beside_student_t_changes_next_to_nothing() -> None:
    """Nothing cancels where the rectangle is narrow: t alone is the limit."""
    for width in (0.0, 1e-12, 1e-7, 1e-4):
        found = student_tails(np.array([2.0]), np.array([[width]]), np.array([1.0]), 5)
        assert found[0] == pytest.approx(2 * stdtr(5, -2.0), abs=1e-9)
