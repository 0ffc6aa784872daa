"""Sentences about a class on made-up figures: thresholds on both sides, numbers as shown."""

from __future__ import annotations

import math
from types import SimpleNamespace
from typing import Any

import numpy as np
import pytest

from stoichkit import experiments
from stoichkit.classroom.amounts import Blank, BlankKind
from stoichkit.classroom.outlook import ClassOutlook, OutlookRow
from stoichkit.classroom.overturning import MASS, SCALE
from stoichkit.classroom.records import RowUse
from stoichkit.classroom.sentences import (
    _allowances,
    _stretch,
    _variation_sentence,
    _with_p,
    _without_outlying,
    allowance_text,
    balances_sentence,
    basis_sentence,
    blank_sentences,
    by_route_sentence,
    candidate_class_sentence,
    class_assumptions,
    class_caveat_sentence,
    class_ratio_sentence,
    concluded_without,
    differ_sentence,
    file_sentence,
    heterogeneity_sentence,
    leave_one_out_sentence,
    line_sentence,
    not_assessed_sentences,
    outlook_sentences,
    outlying_rule,
    waiting_sentence,
)
from stoichkit.classroom.statement import by_itself, differ_p, groups_text
from stoichkit.classroom.trust import _chances_sentence, _faults_sentence, _groups_sentence
from stoichkit.classroom.verdict import Basis, ClassCaveat, ClassCaveatKind
from stoichkit.decision.verdict import Verdict, VerdictKind
from stoichkit.experiments.parts import Variation
from stoichkit.text.wording import names_text
from stoichkit.uncertainty.ratio_set import Interval, RatioSet

LAB = experiments.load("copper-silver")
NONE = (1.0, 1.0)


def made(**parts: Any) -> Any:
    """Return a record that holds these figures only."""
    return SimpleNamespace(**parts)


def differing(q: float, p: float, *, dof: int = 3, i_squared: float = 0.5, **more: Any) -> Any:
    figures = made(q=q, dof=dof, i_squared=i_squared, p_heterogeneity=p)
    return made(
        **{
            "heterogeneity": figures, "ratio_spread": 0.0, "variation": "none",
            "groups": ("a", "b", "c"), "outlying": {}, **more,
        }
    )  # fmt: skip


# How much groups differ


def test_groups_differ_from_a_tenth_on() -> None:
    """The level of the test of heterogeneity is 0.1, of the package's own choice."""
    assert heterogeneity_sentence(differing(6.0, 0.1)).startswith("The groups agree within")
    assert heterogeneity_sentence(differing(6.3, 0.0999)).startswith("The groups differ by more")
    assert differ_p(differing(6.3, 0.0999)) == "p = 0.0999"  # not 0.10, which would agree


def test_the_figures_of_heterogeneity_are_rounded_and_in_percent() -> None:
    """τ² is the square of the spread: 0.3² = 0.09."""
    assert heterogeneity_sentence(differing(1.2345, 0.5, i_squared=0.95, ratio_spread=0.3)) == (
        "The groups agree within their readings: Q = 1.23 for 3 degrees of freedom (p = 0.50), "
        "I² = 95 %, τ² = 0.090 in the mole ratio."
    )
    said = heterogeneity_sentence(differing(123.4, 1e-9, dof=1, i_squared=0.991))
    assert "Q = 123 for 1 degree of freedom (p < 0.0001), I² = 99 %, τ² = 0 in" in said
    assert "About 99 % of the variance between them is not from reading" in said
    assert "Q = 1234 for" in heterogeneity_sentence(differing(1234.4, 1e-9))
    assert "Q = 100 for" in heterogeneity_sentence(differing(100.4, 1e-9))
    assert "Q = 99.4 for" in heterogeneity_sentence(differing(99.4, 1e-9))


def test_the_spread_is_told_where_there_is_one() -> None:
    assert differ_sentence(differing(9, 0.01, ratio_spread=0.254)) == (
        "The groups differ by more than their readings explain, by a standard deviation of about "
        "0.25 in the mole ratio. Find out what was done differently from group to group."
    )
    assert differ_sentence(differing(9, 0.01)).startswith(
        "The groups differ by more than their readings explain. Find out"
    )
    stated = differing(9, 0.01, variation=Variation(relative=0.025))
    assert "than their readings and the 2.5 % stated explain. Find" in differ_sentence(stated)
    unknown = differing(9, 0.01, variation=Variation(unknown=True))
    assert "than their readings explain. Find" in differ_sentence(unknown)


def apart(d: list[float], outlying: dict[str, float]) -> Any:
    """Return groups a, b, … whose discrepancies have an uncertainty of 1 each."""
    names = "abcdef"[: len(d)]
    amounts = made(
        best_direction=lambda: (2.0, 1.0),
        discrepancies=lambda x, y: np.array(d) * (x == 2 and y == 1),
        own=made(along=lambda x, y: np.full(len(d), float(x == 2 and y == 1))),
    )
    return made(groups=tuple(names), outlying=outlying, amounts=amounts)


def test_those_that_stand_out_are_left_aside_if_two_others_are_left() -> None:
    """0 and 2 with u = 1 each: Q = 2, p = 0.157 (χ², 1); 0 and 3: Q = 4.5, p = 0.034."""
    assert _without_outlying(apart([9.0, 0.0, 2.0], {"a": 7.0})) == (
        " Leaving a aside, the others agree (p = 0.16)."
    )
    assert _without_outlying(apart([9.0, -9.0, 0.0, 3.0], {"a": 7.0, "b": -7.0})) == (
        " Leaving a and b aside, the others still differ (p = 0.034)."
    )
    assert _without_outlying(apart([9.0, -9.0, 0.0], {"a": 7.0, "b": -7.0})) == ""
    assert _without_outlying(apart([9.0, 0.0, 2.0], {})) == ""


def test_the_rule_for_groups_that_stand_out_follows_their_number() -> None:
    rules = {n: outlying_rule(made(groups=("x",) * n)) for n in (2, 3, 7, 8)}
    assert rules[2] == "With two groups neither can be said to stand out."
    assert "has p below 0.05 / 3 (Bonferroni), so that at most 5 % of classes" in rules[3]
    assert rules[7].endswith(
        "With fewer than 8 groups that truly differ, more are marked than that."
    )
    assert rules[8].endswith("two such groups can hide each other.")


# Groups left out


SURE = Verdict(VerdictKind.SINGLED_OUT, ("two",), 0.95)
TORN = Verdict(VerdictKind.NOT_TOLD_APART, ("one", "two"), 0.95)


def of_groups(count: int, deciding: dict[str, Verdict] | None = None) -> Any:
    names = tuple(f"g{n}" for n in range(1, count + 1))
    return made(
        groups=names,
        deciding_groups=deciding or {},
        candidates={"one": None, "two": None},
        verdict=SURE,
        without=dict.fromkeys(names, SURE) | (deciding or {}),
    )


def test_groups_are_left_out_from_three_to_sixty() -> None:
    assert leave_one_out_sentence(of_groups(2)) == "With two groups, none can be left out."
    for count in (3, 60):
        assert leave_one_out_sentence(of_groups(count)).startswith("The verdict hangs on no single")
        found = concluded_without(of_groups(count), "g2")
        assert found == "Without g2 the class would still single out two."
    assert leave_one_out_sentence(of_groups(61)).endswith("was not tried with more than 60.")
    assert concluded_without(of_groups(61), "g2") == ""
    assert concluded_without(of_groups(2), "g2") == ""
    assert concluded_without(of_groups(3), "g9") == ""


def test_each_group_that_decides_is_named_with_what_is_left() -> None:
    two = of_groups(4, {"g1": TORN, "g3": TORN})
    assert leave_one_out_sentence(two) == (
        "The verdict hangs on g1 and g3: without g1 it cannot tell one from two and without g3 it "
        "cannot tell one from two."
    )
    one = of_groups(3, {"g2": Verdict(VerdictKind.SINGLED_OUT, ("one",), 0.95)})
    assert leave_one_out_sentence(one) == "The verdict hangs on g2: without g2 it singles out one."
    assert concluded_without(two, "g1") == "Without g1 the class could not tell one from two."


def hanging(count: int, of: int) -> str:
    names = tuple(f"g{n}" for n in range(1, count + 1))
    return _groups_sentence(
        made(
            hangs_on=names,
            without_those=TORN if names else None,
            candidates={"one": None, "two": None},
            groups=("x",) * of,
        )
    )


def test_a_verdict_hangs_on_few_groups_up_to_half_of_them() -> None:
    assert hanging(0, 4).startswith("It hangs on no few groups: it stays as those")
    assert hanging(1, 2) == "It hangs on one group: without g1 the others cannot tell one from two."
    assert hanging(1, 1).startswith("It hangs on one group: without g1 the others")
    assert hanging(2, 4).startswith("It hangs on 2 of 4 groups: without g1 and g2 the others")
    assert hanging(2, 3) == (
        "It hangs on no few groups: 2 of 3 would have to be left out before the others cannot "
        "tell one from two."
    )


def faults(kind: VerdictKind, *given: tuple[str, float, str]) -> str:
    found = [made(kind=k, size=size, unit=unit) for k, size, unit in given]
    result: Any = made(experiment=LAB)
    verdict = made(kind=kind)
    return _faults_sentence(result, made(overturned_by=found, verdict=verdict))


def test_the_fault_that_would_overturn_is_told_with_its_sign_and_unit() -> None:
    """Below zero something in the product is no silver; above zero silver is missing."""
    assert faults(VerdictKind.SINGLED_OUT, (MASS, -0.143, "g"), (SCALE, -0.44, "")) == (
        "It stands unless 0.14 g of what counts as Ag in every trial is something else or 44 % of "
        "the Ag of every trial is something else."
    )
    assert faults(VerdictKind.NOT_TOLD_APART, (MASS, 0.143, "mmol"), (SCALE, 0.025, "")) == (
        "It would be another if 0.14 mmol of Ag is missing from every trial or 2.5 % of the Ag of "
        "every trial is missing."
    )
    assert faults(VerdictKind.NONE_FITS, (MASS, 0.143, "g")) == (
        "A candidate would fit if 0.14 g of Ag is missing from every trial."
    )
    assert faults(VerdictKind.NONE_FITS) == ""


@pytest.mark.parametrize(
    ("basis", "why"),
    [
        (Basis.LINE, "a line with a blank decides."),
        (Basis.EITHER, "a line with a blank decides."),
        (Basis.SCATTER, "the groups may differ by an unknown amount."),
        (Basis.COMMON, "the groups may differ by an unknown amount."),
    ],
)
def test_no_chance_is_given_with_the_reason(basis: Basis, why: str) -> None:
    assert _chances_sentence(made(chances=None, basis=basis)).endswith(f"not said, because {why}")


# The line and its blank


def line(p: dict[str, float], slope: float = 2.0, *, inflated: bool = False) -> str:
    tested = {
        name: made(name=name, p_slope=value, tested_ratio=float(ratio))
        for ratio, (name, value) in enumerate(p.items(), 1)
    }
    drawn = made(slope=slope, u_slope_total=0.1, inflated=inflated, scatter=2.649)
    return line_sentence(made(line=drawn, coverage=0.95, candidates=tested))


def test_the_slope_fits_from_five_hundredths_on() -> None:
    begun = "The straight line through the amounts of the groups, with the errors of both, has the "
    assert line({"one": 0.0499, "two": 0.0501}) == (
        f"{begun}slope 2.00 ± 0.10, which fits two (p = 0.050) and not one (p = 0.0499)."
    )
    assert line({"one": 0.2, "two": 0.9}) == (
        f"{begun}slope 2.00 ± 0.10, which fits two (p = 0.90) and one (p = 0.20)."
    )
    assert line({"one": 0.01, "two": 0.002}, 1.9) == (
        f"{begun}slope 1.90 ± 0.10, which fits none of the candidates, not even one (p = 0.010)."
    )
    assert line({"one": 0.9}, inflated=True).endswith(
        " The points scatter about it 2.6 times as much as their readings explain, and its "
        "uncertainties are widened by that."
    )
    assert line_sentence(made(line=None, no_line="There are two.")) == (
        "No straight line was drawn, so a constant blank cannot be seen. There are two."
    )


def test_four_candidates_are_named_and_the_others_counted() -> None:
    tested: Any = [made(name=f"c{n}", p_slope=n / 10) for n in range(1, 7)]
    four = "c4 (p = 0.40), c3 (p = 0.30), c2 (p = 0.20) and c1 (p = 0.10)"
    assert _with_p(tested[:4], 0.95) == four
    assert _with_p(tested, 0.95) == (
        "c6 (p = 0.60), c5 (p = 0.50), c4 (p = 0.40) and c3 (p = 0.30) (and 2 more)"
    )
    assert _with_p(tested, 0.95, most=1) == "c6 (p = 0.60)"
    assert _with_p(tested, 0.95, most=2) == "c6 (p = 0.60) and c5 (p = 0.50) (and 4 more)"
    assert _with_p([], 0.95) == ""


def blank(kind: BlankKind, mol: float, u_mol: float, g_per_mol: float, p: float) -> str:
    ends = (mol - 2 * u_mol, mol + 2 * u_mol)
    return blank_sentences(
        Blank(kind, mol, u_mol, ends, mol * g_per_mol, u_mol * g_per_mol, p), LAB
    )


def test_a_blank_is_told_in_millimoles_and_grams_with_its_sign() -> None:
    """With 100 g/mol 5 ± 1 mmol are 0.50 ± 0.10 g, and its ends at ± 2 mmol 0.3 g and 0.7 g."""
    assert blank(BlankKind.NOT_SEEN, 5e-3, 1e-3, 100.0, 0.2) == (
        "Blank: the line meets the axis at +5.0 ± 1.0 mmol of Ag, that is +0.50 ± 0.10 g. That is "
        "not told apart from zero (p = 0.20): no constant blank is seen, but one of 0.30 g to "
        "0.70 g would not show."
    )
    lost = blank(BlankKind.LOSS, -5e-3, 1e-3, 100.0, 1e-6)
    assert lost.startswith(
        "Blank: the line meets the axis at −5.0 ± 1.0 mmol of Ag, that is −0.50 ± 0.10 g. That "
        "differs from zero (p < 0.0001). It means a constant loss"
    )
    assert blank(BlankKind.NOT_SEEN, -1e-3, 1e-3, math.nan, 0.3) == (
        "Blank: the line meets the axis at −1.0 ± 1.0 mmol of Ag. That is not told apart from zero "
        "(p = 0.30): no constant blank is seen, but one of −3.0 mmol to 1.0 mmol would not show."
    )


# Ratios and candidates


def ratios(*pieces: tuple[float, float], air: tuple[float, float] = NONE, **more: Any) -> str:
    candidates = {
        name: made(name=name, candidate=made(ratio=r), tested_ratio=tested)
        for name, r, tested in (("one", 1, 1.0), ("two", 2, 1.98765432))
    }
    fitting = more.pop("fitting", ("two",))
    verdict = made(
        **{
            "coverage": 0.95, "candidates": candidates, "ratio": 1.96789, "basis": Basis.SCATTER,
            "ratio_set": RatioSet(tuple(Interval(*p) for p in pieces), 0.95),
            "verdict": made(candidates=fitting), "recovery": NONE, "air": air, **more,
        }
    )  # fmt: skip
    return class_ratio_sentence(verdict, LAB)


def test_the_ratios_that_fit_are_told_as_far_as_they_go() -> None:
    assert ratios() == "No mole ratio n(Ag)/n(Cu) from 0 up fits the class (95 % coverage)."
    assert ratios((1.7712, 2.2041)) == (
        "Mole ratios n(Ag)/n(Cu) from 1.77 to 2.20 fit the class (95 % coverage); the mean amounts "
        "give 1.97."
    )
    assert ratios((1.7712, 2.2041), basis=Basis.LINE).endswith("; the slope of the line is 1.97.")
    assert ratios((1.5, math.inf)).startswith("Mole ratios n(Ag)/n(Cu) from 1.5 up fit the class")
    assert _stretch(Interval(0.0, 1.5), ()) == "from 0 to 1.5"
    assert _stretch(Interval(0.5, 1.5), ()) == "from 0.5 to 1.5"


def test_a_candidate_that_fits_elsewhere_is_told_where() -> None:
    assert ratios((1.5, 1.99), air=(0.99, 1.0)).endswith(
        " These are ratios as measured: with the buoyancy of air allowed for, two fits at 1.98765."
    )
    assert allowance_text(made(recovery=NONE, air=NONE)) == ""
    assert allowance_text(made(recovery=(0.9, 1.0), air=NONE)) == "the recovery stated allowed for"
    assert allowance_text(made(recovery=(1.0, 1.1), air=(1.0, 1.01))) == (
        "the recovery stated and the buoyancy of air allowed for"
    )


def test_a_test_that_was_not_made_is_not_told() -> None:
    tested = made(name="one", compatible=False, p_common=0.01, p_scatter=0.2, p_slope=0.3)
    verdict = made(coverage=0.95)
    assert candidate_class_sentence(tested, verdict) == (
        "one is excluded: p = 0.010 by the readings, p = 0.20 by the scatter of the groups, "
        "p = 0.30 for the slope of the line."
    )
    tested.p_scatter = tested.p_slope = math.nan
    tested.compatible = True
    assert candidate_class_sentence(tested, verdict) == "one fits: p = 0.010 by the readings."


def test_routes_are_told_where_some_disagree() -> None:
    tested = {
        "one": made(name="one", tested_by=("by mass", "")),
        "two": made(name="two", tested_by=("", "by volume")),
        "three": made(name="three", tested_by=("", "")),
    }
    disagree = [made(agree=True), made(agree=False)]
    assert by_route_sentence(made(agreements=disagree, candidates=tested)) == (
        "Each candidate is tested by what agrees best with it: one with the amount consumed by "
        "route by mass alone, two with the amount produced by route by volume alone and three "
        "with all routes together."
    )
    assert by_route_sentence(made(agreements=disagree[:1], candidates=tested)) == ""


# What is taken for granted


def granted(**more: Any) -> Any:
    return made(
        **{
            "coverage": 0.95, "stated": False, "refuted": False, "variation": "none",
            "recovery": NONE, "air": NONE, "amounts": made(shared_sources=()), **more,
        }
    )  # fmt: skip


def test_the_coverage_is_told_with_what_is_left() -> None:
    said = list(class_assumptions(granted(), LAB))
    assert said[0].startswith(
        "Coverage probability 95 %: a true candidate is excluded at most 5 % of the time, for each"
    )
    assert said[0].endswith("for the class however much its groups truly differ.")
    assert "with p below 0.001; else the mean discrepancy of all groups" in said[-2]
    assert said[-2].endswith("with the scatter of the groups only with p below 0.05.")
    stated = list(class_assumptions(granted(coverage=0.995, stated=True), LAB))
    assert stated[0].startswith(
        "Coverage probability 99.5 %: a true candidate is excluded at most 0.5 %"
    )
    assert stated[0].endswith("for the class if they differ as stated.")
    refuted = granted(stated=True, refuted=True, heterogeneity=made(p_heterogeneity=0.02))
    assert next(class_assumptions(refuted, LAB)).endswith("however much its groups truly differ.")


def test_four_shared_sources_are_named() -> None:
    shared = granted(amounts=made(shared_sources=[made(label=f"s{n}") for n in range(6)]))
    assert any(
        "not averaged away: s0, s1, s2, s3 and 2 more. An" in one
        for one in class_assumptions(shared, LAB)
    )


def test_recovery_and_air_are_told_in_percent_with_signs() -> None:
    (said,) = _allowances(granted(recovery=(0.925, 1.0)), LAB)
    assert said.startswith("Between 92.5 % and 100 % of the product was recovered and weighed:")
    unknown: Any = made(
        consumed=made(substance="Cu", unknown_air=lambda: (0.9, 1.0)),
        produced=made(substance="Ag", unknown_air=lambda: NONE),
    )
    (said,) = _allowances(granted(air=(0.9988, 1.0004)), unknown)
    assert said.startswith("No density is stated of Cu, so the buoyancy of air")
    assert "alike, by −0.12 % to +0.04 %: each" in said
    assert len(list(_allowances(granted(air=(0.9988, 1.0), recovery=(0.9, 1.0)), unknown))) == 2


def test_the_variation_is_told_in_percent_with_where_it_is_from() -> None:
    known = _variation_sentence(granted(variation=Variation(relative=0.025, from_trials=8)))
    assert known == (
        "The groups are taken to differ by a standard deviation of 2.5 % of the product, known "
        "from 8 earlier; their scatter counts only where it shows more than that."
    )
    assert "2.5 % of the product; their" in _variation_sentence(
        granted(variation=Variation(relative=0.025))
    )
    assert _variation_sentence(granted(variation=Variation(unknown=True))).startswith("How much")
    refuted = granted(refuted=True, heterogeneity=made(p_heterogeneity=0.02))
    assert _variation_sentence(refuted).endswith(
        "they differ by more (p = 0.020), so their scatter counts."
    )


# What more groups or finer instruments would do


def outlook(
    now: float,
    *,
    u_now: float = 2e-3,
    u_finer: float = 1e-3,
    finer: float = 0.5,
    shared: float = 0.0,
    label: str = "",
    copies: float = 1.0,
    needed: float = 7.0,
) -> list[str]:
    rows = [OutlookRow(4.0 * m, u_now / math.sqrt(m), now) for m in (1, 4)]
    rows.append(OutlookRow(math.inf, shared, 0.654))
    return list(
        outlook_sentences(
            ClassOutlook(
                truth="two", rival="one", target=0.9, discrepancy_mol=1e-2, own_u_mol=2e-3,
                shared_u_mol=shared, rows=tuple(rows), groups_needed=needed,
                finer=OutlookRow(4.0, u_finer, finer), largest_shared=label, copies_needed=copies,
            )
        )
    )  # fmt: skip


def test_an_outlook_that_is_short_of_its_target() -> None:
    assert outlook(0.899) == [
        "If two is true, the chance that 4 groups like these single it out from one, its hardest "
        "rival, is 0.90.",
        "More groups: 7 like these would reach a chance of 0.9.",
        "Finer instruments: with every display ten times finer the same groups would reach 0.50.",
    ]
    assert outlook(0.0099)[0].endswith("hardest rival, is below 0.01.")
    assert outlook(0.01)[0].endswith("hardest rival, is 0.01.")
    assert outlook(0.5, needed=math.nan, label="the stock")[1] == (
        "More groups: no number is enough. The chance levels off at 0.65, short of 0.9, because "
        "all groups share the stock."
    )


def test_an_outlook_that_is_enough() -> None:
    """Four times as many groups have half the uncertainty: 2.0 mmol falls to 1.0 mmol."""
    assert outlook(0.9)[1:] == [
        "More groups: not needed for this question. With 16 the standard uncertainty of the pooled "
        "discrepancy would fall from 2.0 mmol to 1.0 mmol.",
        "Finer instruments: with every display ten times finer it would fall to 1.0 mmol.",
    ]
    assert outlook(0.9, u_finer=1.79e-3)[2].endswith("would fall to 1.8 mmol.")
    assert "would hardly help" in outlook(0.9, u_finer=1.81e-3)[2]


def test_another_instrument_is_named_where_a_tenth_of_the_variance_is_shared() -> None:
    """0.1 of the variance is √0.1 = 0.3162 of the uncertainty of 2 mmol: 0.632 mmol."""
    few = outlook(0.5, shared=0.64e-3, label="the stock", copies=3.0)
    assert few[3] == (
        "Another instrument or stock: the stock is the largest error that the groups share; "
        "spread over 3 independent copies the same groups would reach 0.9."
    )
    assert len(outlook(0.5, shared=0.62e-3, label="the stock", copies=3.0)) == 3
    assert len(outlook(0.5, shared=0.64e-3, label="", copies=3.0)) == 3
    assert len(outlook(0.9, shared=0.64e-3, label="the stock", copies=3.0)) == 3
    assert len(outlook(0.5, shared=0.64e-3, label="the stock", copies=1.0)) == 3
    assert "over 2 independent" in outlook(0.5, shared=0.64e-3, label="the stock", copies=2.0)[3]
    never = outlook(0.5, shared=0.64e-3, label="the stock", copies=math.nan)
    assert never[3].endswith("sharing it between more copies would not be enough.")


def made_of(unknown: str) -> Any:
    """Return a lab in which the density of one substance is not stated."""
    sides = [
        made(substance=one, unknown_air=lambda one=one: (0.9, 1.0) if one == unknown else NONE)
        for one in ("Cu", "Ag")
    ]
    return made(consumed=sides[0], produced=sides[1])


def test_air_may_change_the_ratio_by_percents() -> None:
    wide = list(_allowances(granted(air=(0.95, 1.05)), made_of("Cu")))
    assert "alike, by −5.00 % to +5.00 %: each" in wide[0]


# What the verdict rests on, and its warnings


def rests_on(basis: Basis, *, stated: bool = False) -> str:
    return basis_sentence(made(basis=basis, stated=stated))


def test_what_the_verdict_rests_on() -> None:
    assert "because its intercept differs from zero (p below 0.001): a con" in rests_on(Basis.LINE)
    assert "by the readings a constant blank is there, by the scatter" in rests_on(Basis.EITHER)
    assert rests_on(Basis.SCATTER).endswith("groups do differ, and by how much is unknown.")
    assert rests_on(Basis.SCATTER, stated=True).endswith("what was stated explain (p below 0.1).")
    assert rests_on(Basis.COMMON).startswith("The verdict rests on the readings alone")
    assert rests_on(Basis.COMMON, stated=True) == rests_on(Basis.COMMON)


def warned(kind: str, subject: str = "", value: float = 3.0, **verdict: bool) -> str:
    found = made(**verdict) if verdict else None
    result: Any = made(experiment=LAB, verdict=found)
    return class_caveat_sentence(ClassCaveat(ClassCaveatKind[kind], subject, value), result)


def test_each_warning_says_what_it_is_about() -> None:
    assert warned("ROUTES_DISAGREE", "consumed", 0.002).startswith(
        "Over all groups: The routes to n(Cu) disagree (p = 0.0020)"
    )
    assert "routes to n(Ag) disagree" in warned("ROUTES_DISAGREE", "produced", 0.002)
    assert "in this class. There are two. Let groups use" in warned("NO_LINE", "There are two.")
    assert warned("POSSIBLE_BLANK").startswith("A constant blank is likely but not certain")
    assert warned("DISAGREE", "two", 0.02).startswith(
        "The slope of the line excludes two, which the pooled amounts single out (p = 0.02"
    )
    assert warned("FEW_GROUPS") == (
        "With 3 groups the variation between groups is poorly known: more groups would make the "
        "verdict safer."
    )
    assert warned("NO_SCATTER").startswith("The groups agree exactly, so their scatter cannot show")
    assert "how much they differ: the readings alone decide" in warned("NO_SCATTER")


def test_the_second_opinion_is_told_by_what_was_stated() -> None:
    refuted = warned("SECOND_OPINION", refuted=True, stated=True)
    assert refuted.startswith("By the readings alone the verdict would be another.")
    stated = warned("SECOND_OPINION", refuted=False, stated=True)
    assert stated.startswith("By the scatter of the groups alone the verdict would be another.")
    neither = warned("SECOND_OPINION", refuted=False, stated=False)
    assert neither.startswith("The readings alone and the scatter of the groups alone lead to")
    assert warned("SECOND_OPINION") == neither


# The file and its groups


def test_rows_that_wait_are_counted_with_the_questions() -> None:
    def said(rows: int, asked: int) -> str:
        return waiting_sentence(made(waiting=rows, open_questions=["?"] * asked))

    assert said(0, 2) == ""
    assert (
        said(1, 1) == "1 row of the file waits for an answer and is not counted here (1 question)."
    )
    assert said(2, 3).startswith(
        "2 rows of the file wait for an answer and are not counted here (3 "
    )


def test_the_file_is_named_unless_codes_stand_for_names() -> None:
    uses = {RowUse.USED: 3, RowUse.HEADER: 1, RowUse.WAITING: 2, RowUse.BLANK: 0}
    data = made(uses=uses, source="a.csv", layout="CSV")
    assert file_sentence(made(data=data, coded=False)) == (
        f"The file a.csv (CSV) has 6 rows: 3 {RowUse.USED}, 2 {RowUse.WAITING}, 1 {RowUse.HEADER}. "
        "It was not changed."
    )
    assert file_sentence(made(data=data, coded=True)).startswith("The file (CSV) has 6 rows")


def test_balances_are_told_by_their_step() -> None:
    steps = {"": 0.01, "b": 0.1, "c": 0.001}

    def said(*on: str | None) -> str:
        names = [f"g{n}" for n in range(1, len(on) + 1)]
        return balances_sentence(
            made(names=names, weighed_on=on, balance=lambda name: made(readability=steps[name]))
        )

    assert said("", "") == ""
    assert said("b", "b") == "Weighed on a balance reading to 0.1 g: g1 and g2."
    assert said("", "b", "c", None) == (
        "Weighed on a balance reading to 0.1 g: g2; on a balance reading to 0.001 g: g3; on "
        "several balances: g4. All others: on that of the lab, to 0.01 g."
    )


def test_groups_without_a_verdict_are_told_by_reason() -> None:
    reasons = {"a": "it has no trial.", "b": "it is far off.", "c": "it has no trial."}
    result: Any = made(evidence=made(not_assessed=reasons))
    assert list(not_assessed_sentences(result)) == [
        "Not assessed: a and c. It has no trial.", "Not assessed: b. It is far off.",
    ]  # fmt: skip


def test_groups_and_names_are_counted() -> None:
    assert (groups_text(0), groups_text(1), groups_text(2)) == ("0 groups", "1 group", "2 groups")
    twelve = [f"n{n}" for n in range(12)]
    assert names_text(twelve).endswith("n10 and n11")
    assert names_text([*twelve, "n12"]).endswith("n11 and 1 more")
    assert by_itself(("a", "b", "c", "d"), None, 5).startswith("cannot tell a, b, c and d")
    assert by_itself(tuple("abcde"), None, 5) == "cannot tell 5 candidates apart"
