"""Which way each slip moves a reading, and how rarely a lab without one may be accused.

``tables/slips.csv`` says for each kind of slip what is typed for which readings of a lab whose
right values stand here, and why; argued by hand. The threshold is the one that is promised: at most
1 % of labs without a mistake are accused, half of it shared by their trials (Bonferroni).
"""

from __future__ import annotations

import math
import re

import pytest
from scipy.stats import norm

from stoichkit.diagnosis import line, slips
from stoichkit.diagnosis.sentences import slip_sentence
from stoichkit.diagnosis.slips import SlipKind, find_slips
from stoichkit.measurement.displays import Balance
from tests.labs import lab
from tests.reference.table import rows

RIGHT = [
    (3.12, 2.65, 0.71, 2.30),
    (2.98, 2.61, 0.70, 1.96),
    (3.40, 2.80, 0.72, 2.76),
    (3.21, 2.57, 0.74, 2.91),
]
"""Wire before, wire after, paper, paper + silver in g; invented, for silver from copper(II)."""
TABLE = rows("slips")
FOUND_WITHOUT_CORRECTION = {SlipKind.OFF_GRID, SlipKind.OVERWEIGHT, SlipKind.OUTLYING}
SAID = {
    "SWAPPED": "two readings may be swapped", "TARE": "tared off already",
    "UNIT": "in another unit", "DECIMAL": "decimal mark may be lost",
    "TRANSPOSED": "two digits may be transposed",
}  # fmt: skip


TO_DO = {
    "SWAPPED": "Check in the notebook which was read first",
    "TARE": "Check whether the balance was set to zero with the vessel on it",
    "UNIT": "Check the unit on the display", "DECIMAL": "Check the decimal mark in the notebook",
    "TRANSPOSED": "Check the digits in the notebook",
}  # fmt: skip


def test_every_kind_that_can_be_put_right_has_a_row() -> None:
    assert {SlipKind[row["kind"]] for row in TABLE} == set(SlipKind) - FOUND_WITHOUT_CORRECTION


@pytest.mark.parametrize("row", TABLE, ids=lambda row: f"{row['kind']} {row['changes']}")
def test_the_right_value_is_given_back(row: dict[str, str]) -> None:
    clean = lab(RIGHT)
    changes = dict(re.findall(r"(wire before|wire after|paper \+ silver)=(\S+)", row["changes"]))
    typed = clean
    for name, text in changes.items():
        typed = typed.with_reading("2", name, text)

    right = {name: clean.trials[1].readings[name][-1] for name in changes}
    found = [
        slip
        for slip in find_slips(typed)
        if slip.kind is SlipKind[row["kind"]] and slip.rule == row["rule"]
    ]
    assert [dict(zip(s.readings, s.corrected, strict=True)) for s in found] == [right]
    said = slip_sentence(found[0], trials=4)
    typed_in, put_right = (" and ".join(texts) for texts in (found[0].typed, found[0].corrected))
    verb = "do" if len(changes) > 1 else "does"
    assert said.startswith(
        f"Trial 2, {' and '.join(found[0].readings)}: {typed_in} {verb} not agree"
    )
    assert SAID[row["kind"]] in said
    assert f"With {put_right} the trial fits copper(II)." in said
    assert said.endswith(f"{TO_DO[row['kind']]}; nothing was changed.")
    assert (f"({row['rule']})" in said) == (row["kind"] == "UNIT")
    assert "single trial" not in said
    assert "There is a single trial, so a physical effect" in slip_sentence(found[0], trials=1)


def test_too_much_product_is_not_too_little() -> None:
    """Above every candidate: water or residue is suspected; below all: the trial stands apart."""
    clean = lab(RIGHT)
    more = find_slips(clean.with_reading("2", "paper + silver", "2.27"))
    less = find_slips(clean.with_reading("2", "paper + silver", "1.03"))
    assert SlipKind.OVERWEIGHT in {slip.kind for slip in more}
    assert SlipKind.OVERWEIGHT not in {slip.kind for slip in less}
    assert "more product than any candidate allows" in slip_sentence(more[-1], trials=4)


TRIALS = 12


@pytest.mark.parametrize(("part", "accused"), [(0.6, True), (1.6, False)])
def test_a_trial_is_accused_below_one_hundredth_shared_by_all(part: float, accused: bool) -> None:
    """Worked by hand: 12 equal trials, one of which has too much silver.

    Each weighing repeats to 10 mg on a display fine enough not to matter, so the silver of a trial
    differs from what its copper makes by √2 · 10 mg · √(1 + 3.395²), and from its 11 fellows by
    √(1 + 1/11) times that; 3.395 g of silver for each g of copper. Two sides, 1 % / (2 · 12).
    """
    balance = Balance(readability_g=0.0001, repeatability_g=0.01)
    per_gram = 2 * 107.868 / 63.546
    u = math.sqrt(2) * 0.01 * math.hypot(1, per_gram) * math.sqrt(1 + 1 / (TRIALS - 1))
    off = u * norm.isf(part * 0.01 / (2 * TRIALS) / 2)
    exact = [(3.12, 2.65, 0.71, 0.71 + 0.47 * per_gram)] * TRIALS
    exact[4] = (*exact[4][:3], exact[4][3] + off)
    found = find_slips(lab(exact, balance))
    assert {slip.trial for slip in found} == ({"5"} if accused else set())


def test_levels_are_those_that_are_promised() -> None:
    """1 % for slips and 0.2 % and 0.1 % for what is said of all trials (texts of the rooms)."""
    assert slips.LEVEL == 0.01
    assert (line.SHIFT_LEVEL, line.SCATTER_LEVEL, line.STILL_SCATTERS) == (0.002, 0.001, 0.02)
