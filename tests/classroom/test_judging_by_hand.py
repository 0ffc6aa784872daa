"""What answers of a group are, where the figures and the limits are worked out by hand.

Invented readings of copper wire in silver nitrate and of tin heated in air. M(Cu) = 63.546,
M(Ag) = 107.868, M(Sn) = 118.71, M(O) = 15.999 g/mol (IUPAC, from memory).
"""

from __future__ import annotations

import functools
from dataclasses import replace
from typing import Any

import pytest

from stoichkit import assess, experiments, load_class
from stoichkit.classroom import MarkKind, items_of, mark_class
from stoichkit.classroom.conclusion import read_conclusion
from stoichkit.classroom.handed_in import Answer
from stoichkit.classroom.judging import Judgement, judged
from stoichkit.decision.evidence import Evidence
from stoichkit.decision.verdict import Reason, VerdictKind
from tests.classfiles import csv_bytes

LAB = experiments.load("copper-silver")
TIN = experiments.load("tin-oxide")


@functools.cache
def red(*trials: tuple[str, str], **changes: Any) -> Evidence:
    """Return the evidence of a group from masses of copper and silver in whole hundredths."""
    rows = [
        ["red", str(n), "2.94", f"{2.94 - float(used):.2f}", "0.70", f"{0.70 + float(made):.2f}"]
        for n, (used, made) in enumerate(trials, 1)
    ]
    return assess(load_class(csv_bytes(rows), replace(LAB, **changes)).groups["red"])


def of(evidence: Evidence, item: str, trial: str = "", **typed: str) -> Judgement:
    """Return what the answer to one item is, beside what else was typed (of trial 1, or once)."""
    keys = {"mean": "mean ratio", "percent": "percent yield", "n_Cu": "n(Cu)", "m_Cu": "m(Cu)"}
    once = ("mean ratio", "percent yield", "conclusion")
    answers = {}
    for name, text in typed.items():
        key = keys.get(name, name)
        place = "" if key in once else "1"
        answers[place, key] = Answer("red", place, key, text, "row 2")
    found = judged(evidence, items_of(evidence.experiment), answers)
    return next(one for one in found if (one.item, one.trial) == (item, trial))


# A conclusion


TWO = (("0.12", "0.40"), ("0.10", "0.36"))
"""Ratios 1.9637 and 2.1208; 0.0070456 / 0.0034621 = 2.0351 of both."""


def test_the_ratios_that_the_readings_leave() -> None:
    """The limits in the next tests are worked out from these."""
    (one,) = red(*TWO).ratio_set.intervals
    assert (one.low, one.high) == pytest.approx((1.8229, 2.3022), abs=1e-4)


@pytest.mark.parametrize(
    ("recovery", "ratio", "conclusion", "kind"),
    [
        # a candidate is left from low · r · 2.0351 / 2.3022 to high · r · 2.0351 / 1.8229:
        # with 0.9 and 1.2, copper(I) from 0.7956 to 1.3397 and copper(II) from 1.5912 to 2.6794
        ((0.9, 1.2), "0.79", "fit none", MarkKind.CARRIED),
        ((0.9, 1.2), "0.79", "copper(I)", MarkKind.WRONG),
        ((0.9, 1.2), "0.80", "fit none", MarkKind.WRONG),
        ((0.9, 1.2), "0.80", "copper(I)", MarkKind.CARRIED),
        ((0.9, 1.2), "1.33", "copper(I)", MarkKind.CARRIED),
        ((0.9, 1.2), "1.35", "copper(I)", MarkKind.WRONG),
        ((0.9, 1.2), "1.35", "fit none", MarkKind.CARRIED),
        ((0.9, 1.2), "1.58", "fit none", MarkKind.CARRIED),
        ((0.9, 1.2), "1.60", "fit none", MarkKind.WRONG),
        ((0.9, 1.2), "2.67", "fit none", MarkKind.WRONG),
        ((0.9, 1.2), "2.69", "fit none", MarkKind.CARRIED),
        # with 0.8 and 1.5, copper(I) to 1.6746 and copper(II) from 1.4144
        ((0.8, 1.5), "1.41", "cannot tell copper(I) from copper(II)", MarkKind.WRONG),
        ((0.8, 1.5), "1.42", "cannot tell copper(I) from copper(II)", MarkKind.CARRIED),
        ((0.8, 1.5), "1.67", "cannot tell them apart", MarkKind.CARRIED),
        ((0.8, 1.5), "1.68", "cannot tell them apart", MarkKind.WRONG),
        ((0.8, 1.5), "1.42", "copper(I)", MarkKind.WRONG),
    ],
)
def test_a_conclusion_follows_from_a_wrong_ratio(
    recovery: tuple[float, float], ratio: str, conclusion: str, kind: MarkKind
) -> None:
    evidence = red(*TWO, recovery=recovery)
    assert evidence.verdict.candidates == ("copper(II)",)
    found = of(evidence, "conclusion", mean=ratio, conclusion=conclusion)
    assert found.kind is kind
    said = f"It follows from the ratio of this group, {float(ratio)}."
    assert (found.words == said) is (kind is MarkKind.CARRIED)


def test_one_candidate_alone_may_not_be_told_from_nothing() -> None:
    """0.02 g of copper and no silver: copper(I) fits, and so does that nothing happened."""
    evidence = red(("0.02", "0.00"))
    assert (evidence.verdict.candidates, evidence.verdict.reason) == (
        ("copper(I)",), Reason.NOTHING_REACTED,
    )  # fmt: skip
    said = "do not show that anything reacted"
    claimed = of(evidence, "conclusion", conclusion="copper(I)")
    assert (claimed.kind, claimed.answer) == (MarkKind.MISTAKE, said)
    assert claimed.words == f"The readings do not go so far: they {said}."
    other = of(evidence, "conclusion", conclusion="copper(II)")
    assert (other.kind, other.words) == (MarkKind.WRONG, f"They {said}.")
    assert of(evidence, "conclusion", conclusion="nothing reacted").kind is MarkKind.RIGHT


def test_what_stands_before_not_is_kept() -> None:
    names = ["copper(I)", "copper(II)"]
    for text, left in (
        ("it is copper(II) not copper(I)", "copper(II)"),
        ("copper(I) not copper(II)", "copper(I)"),
        ("copper(I) does not fit", "copper(II)"),
        ("copper(II) is not a fit", "copper(I)"),  # “fit” turns the sense round
        ("copper(II) stays while copper(I) isn't possible", "copper(II)"),
    ):
        found = read_conclusion(text, names)
        assert (found.kind, found.names) == (VerdictKind.SINGLED_OUT, {left}), text


# Numbers


def test_the_mean_of_the_ratios_is_not_the_ratio_of_the_means() -> None:
    """0.12 and 0.40 g, 0.50 and 1.30 g: ratios 1.9637 and 1.5317, on average 1.7477.

    Amounts 0.0037082 + 0.0120518 of 0.0018884 + 0.0078683 mol: 1.6153.
    """
    evidence = red(("0.12", "0.40"), ("0.50", "1.30"))
    assert of(evidence, "mean ratio", mean="1.62").kind is MarkKind.RIGHT
    found = of(evidence, "mean ratio", mean="1.75")
    assert found.kind is MarkKind.MISTAKE
    assert found.words == (
        "This is the mean of the ratios of the trials; divide the mean amounts, in which a trial "
        "with more substance counts for more."
    )


def test_the_mean_of_wrong_ratios_follows_from_them() -> None:
    """1.50 typed for 1.9637 and 1.5317 beside it: 1.516 on average."""
    evidence = red(("0.12", "0.40"), ("0.50", "1.30"))
    typed = {"ratio": "1.50", "mean": "1.516"}
    assert of(evidence, "ratio", "1", **typed).kind is MarkKind.WRONG
    assert of(evidence, "mean ratio", **typed).kind is MarkKind.CARRIED
    assert of(evidence, "mean ratio", **{**typed, "mean": "1.30"}).kind is MarkKind.WRONG


def test_a_mean_of_coarsely_rounded_amounts_is_right() -> None:
    """0.0019 mol may be 2.6 % off: 0.0070456 / (0.0019 + 0.0015737) = 2.028 ± 0.05 ± 2.6 %."""
    fine = red(*TWO)
    for typed, kind in (("2.12", MarkKind.RIGHT), ("2.3", MarkKind.WRONG)):
        assert of(fine, "mean ratio", n_Cu="0.0019", mean=typed).kind is kind, typed


def test_a_number_that_is_wrong_is_said_to_be_larger_or_smaller() -> None:
    evidence = red(*TWO)
    for typed, way in (("0.153", "larger"), ("0.087", "smaller")):
        found = of(evidence, "m(Cu)", "1", m_Cu=typed)
        assert (found.kind, found.words) == (
            MarkKind.WRONG, f"It is {way} than what the readings give.",
        )  # fmt: skip


# The yield


@functools.cache
def tin(used: str, taken_up: str) -> Evidence:
    """Return the evidence of one trial of so many grams of tin and oxygen."""
    crucible = 17.5
    typed = {
        "crucible": f"{crucible:.3f}",
        "crucible + tin": f"{crucible + float(used):.3f}",
        "crucible + oxide": f"{crucible + float(used) + float(taken_up):.3f}",
    }
    return assess(TIN.with_trials([replace(TIN.trials[0], readings=typed)]))


@pytest.mark.parametrize(
    ("typed", "kind"),
    [
        # 0.256 / 15.999 = 0.016001 mol of oxygen by 1.187 / 118.71 = 0.0099992 mol of tin: 1.6002
        # of 2, which is 80.01 %
        ("80.0", MarkKind.RIGHT),
        ("80.4", MarkKind.WRONG),
        ("79.6", MarkKind.WRONG),
        # 1.187 + 0.256 = 1.443 g of oxide of 1.187 · 150.708 / 118.71 = 1.50695 g: 95.76 %
        ("95.8", MarkKind.RIGHT),
        ("95.5", MarkKind.WRONG),
        ("96.1", MarkKind.WRONG),
        ("104.4", MarkKind.MISTAKE),  # 100 · 100 / 95.76
        ("90.0", MarkKind.WRONG),
    ],
)
def test_the_yield_may_be_of_the_oxide_or_of_the_oxygen(typed: str, kind: MarkKind) -> None:
    evidence = tin("1.187", "0.256")
    assert evidence.nearest.name == "SnO2"
    found = of(evidence, "percent yield", percent=typed)
    assert found.kind is kind
    assert found.answer in ("80.0 % (SnO2)", "95.8 % (SnO2)")


def test_the_yield_follows_from_a_wrong_ratio() -> None:
    """1.5 of 2 is 75 %; as oxide (118.71 + 1.5 · 15.999) / 150.708 = 94.69 %.

    Half a unit of 1.50 is 0.33 %, so that 0.4 of a percent are left open.
    """
    evidence = tin("1.187", "0.256")
    for typed, kind in (
        ("75.0", MarkKind.CARRIED), ("94.7", MarkKind.CARRIED), ("94.2", MarkKind.WRONG),
        ("95.2", MarkKind.WRONG), ("80.0", MarkKind.RIGHT),
    ):  # fmt: skip
        found = of(evidence, "percent yield", ratio="1.50", percent=typed)
        assert found.kind is kind, typed


def test_silver_is_no_compound_of_the_copper() -> None:
    """2.85 / 107.868 of 1.20 / 63.546 mol: 1.3991 of 2 are 69.96 %.

    With the copper, as if both were weighed: (63.546 + 1.3991 · 107.868) / 279.282 = 76.79 %.
    """
    evidence = red(("1.20", "2.85"))
    for typed, kind in (("70.0", MarkKind.RIGHT), ("76.8", MarkKind.WRONG)):
        assert of(evidence, "percent yield", percent=typed).kind is kind


# A group that is not of the class


def test_the_name_of_a_strange_group_is_cut_at_eighty_characters() -> None:
    data = load_class(csv_bytes(), LAB)
    text = f"group,m(Cu)\nred,0.12\n{'p' * 79}QR,0.12\n".encode()
    (said,) = (p.given for p in mark_class(text, data).problems if "no such group" in p.text)
    assert said == "p" * 79 + "Q"
