"""What stands behind the verdict of a class, on classes whose fault is put in by hand.

1 g of copper gives 2 · 107.8682 / 63.546 = 3.3950 g of silver as copper(II), the half as copper(I).
"""

from __future__ import annotations

import re
from collections.abc import Sequence
from dataclasses import replace

import pytest

from stoichkit import assess_class, experiments
from stoichkit.classroom.line import class_diagnosis
from stoichkit.classroom.result import ClassResult
from stoichkit.classroom.verdict import Basis, ClassCaveatKind
from stoichkit.decision.verdict import DiagnosisKind, VerdictKind
from stoichkit.measurement.displays import Balance
from stoichkit.reports import class_report
from tests.classfiles import csv_bytes

FULL = 3.3950
FINE = Balance(readability_g=0.001, repeatability_g=0.001)


def class_of(
    used_and_made: Sequence[tuple[float, float]], recovery: tuple[float, float] = (1.0, 1.0)
) -> ClassResult:
    """Return a class of one trial a group, read to 0.001 g."""
    rows = [
        (f"group {i}", "1", "3.000", f"{3 - used:.3f}", "0.700", f"{0.7 + made:.3f}")
        for i, (used, made) in enumerate(used_and_made, start=1)
    ]
    lab = experiments.load("copper-silver")
    return assess_class(
        csv_bytes(rows), replace(lab, instruments={"balance": FINE}, recovery=recovery)
    )


def kinds(result: ClassResult) -> list[ClassCaveatKind]:
    assert result.verdict is not None
    return [one.kind for one in result.verdict.caveats]


@pytest.mark.parametrize(
    ("made", "said", "end", "shift"),
    [
        (3.3115, "8.4 % more Ag than copper(II)", 90, 0.0838),
        (1.019, "14 % less Ag than copper(I)", 70, -0.1425),
    ],
)
def test_a_shift_is_told_from_the_end_of_the_recovery_that_it_passes(
    made: float, said: str, end: int, shift: float
) -> None:
    """3.3115 g of 3.3950 g are 97.54 %, and 97.54 / 90 = 1.0838; 1.019 g of the half are 60.03 %.

    60.03 / 70 = 0.8576. No reading is accused of more product than any candidate allows.
    """
    found = class_of([(a, made * a) for a in (0.8, 1.0, 1.1, 1.2)], recovery=(0.7, 0.9))
    line = class_diagnosis(found)
    assert line.kind is DiagnosisKind.SHIFTED
    assert line.shift == pytest.approx(shift, abs=5e-4)
    assert line.sentence.startswith(
        f"All groups are shifted alike: {said}, the nearest candidate, would give with {end} % of "
        "it recovered. "
    )


def test_groups_that_agree_far_off_are_shifted_however_much_their_amounts_differ() -> None:
    found = class_of([(a, 0.8 * FULL / 2 * a) for a in (0.5, 1.0, 0.7, 1.6)])
    assert found.verdict is not None
    assert found.verdict.nearest.name == "copper(I)"
    assert class_diagnosis(found).sentence.startswith(
        "All groups are shifted alike: 20 % less Ag than copper(I), the nearest candidate, would"
    )


def test_groups_off_by_more_than_they_differ_are_told_both() -> None:
    """1.10 · (1 ± 0.02): mean 10 % off, s = 1.6 %, t = 10/(1.6/√6) = 16, p = 2 · 10⁻⁵."""
    parts = (0.98, 1.02, 1.0, 0.99, 1.01, 1.0)
    found = class_diagnosis(class_of([(1.0, 1.1 * FULL * part) for part in parts]))
    assert found.kind is DiagnosisKind.SHIFTED
    assert found.shift == pytest.approx(0.10, abs=1e-3)
    assert found.sentence.startswith(
        "The groups are off by more than they differ: 10 % more Ag than copper(II), the nearest "
        "candidate, would give. Look for what they have in common, or for a candidate that is not "
        "listed. The groups differ by more than their readings explain, by a standard deviation "
        "of about 0.03"  # s of the ratio: 0.0141 · 1.1 · 2 = 0.031
    )


def test_groups_that_differ_and_miss_a_candidate_closely_are_said_to_differ() -> None:
    """Mean 3 % off, s = 2.1 %: t = 3/(2.1/√6) = 3.5, p = 0.017, not below 0.002."""
    parts = (0.97, 1.03, 1.0, 0.985, 1.015, 1.0)
    found = class_of([(1.0, 1.03 * FULL * part) for part in parts])
    assert found.verdict is not None
    assert found.verdict.verdict.kind is VerdictKind.NONE_FITS
    line = class_diagnosis(found)
    assert line.kind is DiagnosisKind.SCATTERED
    assert line.sentence.startswith("The groups differ by more than their readings explain")


@pytest.mark.parametrize(("blank_g", "meant"), [(0.2, "a constant gain"), (-0.2, "a constant los")])
def test_a_blank_is_named_and_no_difference_between_groups(blank_g: float, meant: str) -> None:
    """0.2 g more, or less, in every group, whatever it used; the slope is that of copper(II)."""
    amounts = (0.3, 0.5, 0.8, 1.0, 1.3, 1.5)
    found = class_of([(a, FULL * a + blank_g) for a in amounts])
    assert found.verdict is not None
    assert found.verdict.basis is Basis.LINE
    assert found.verdict.verdict.candidates == ("copper(II)",)
    line = class_diagnosis(found)
    assert line.kind is DiagnosisKind.SHIFTED
    said, size, rest = re.split(r", ([+−][0-9.]+) ± 0.00[0-9]+ g", line.sentence, maxsplit=1)
    assert said == "All groups are off by the same amount"
    assert float(size.replace("−", "-")) == pytest.approx(blank_g, abs=1e-3)
    assert rest.startswith(f" of Ag. It means {meant}")
    assert ClassCaveatKind.BLANK in kinds(found)
    assert ClassCaveatKind.HETEROGENEOUS not in kinds(found)


def test_a_class_in_which_nothing_changed_is_not_limited_by_its_balance() -> None:
    line = class_diagnosis(class_of([(0.0, 0.0)] * 5))
    assert line.kind is DiagnosisKind.NOTHING_REACTED
    assert line.sentence == (
        "Nothing shows that anything reacted: see whether it did, and let more react."
    )


def test_an_amount_below_zero_is_no_blank() -> None:
    """One group wrote the wire after before the wire before: its copper is −1.3 g."""
    amounts = (0.3, 0.5, 0.8, 1.0, 1.5)
    found = class_of([*((a, FULL * a) for a in amounts), (-1.3, FULL * 1.3)])
    assert found.verdict is not None
    assert found.verdict.verdict.kind is VerdictKind.CANNOT_BE_JUDGED
    assert not {ClassCaveatKind.BLANK, ClassCaveatKind.POSSIBLE_BLANK} & set(kinds(found))
    (section,) = [one for one in class_report(found).sections if "blank" in one.title]
    assert section.parts == (
        "Not drawn: an amount is below zero, which is no blank. Put its reading right first.",
    )


def test_a_product_of_nothing_sends_to_the_readings_of_what_was_consumed() -> None:
    line = class_diagnosis(class_of([(0.0, made) for made in (0.9, 1.0, 1.1, 1.2)]))
    assert line.sentence == (
        "There is a product, but nothing shows that any Cu was used up: look at the readings of "
        "Cu, and let more react."
    )
