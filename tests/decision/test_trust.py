"""What is said of faults and chances: each word, sign and limit by hand."""

from __future__ import annotations

import math
from dataclasses import replace
from functools import cache
from types import SimpleNamespace
from typing import Any

import pytest

from stoichkit import assess, experiments
from stoichkit.decision.evidence import Evidence
from stoichkit.decision.overturning import Fault, FaultKind
from stoichkit.decision.statement import Standing, excluded_sentence
from stoichkit.decision.trust import (
    _percent,
    close_sentence,
    fault_table,
    fault_words,
    out_of,
    overturning_sentence,
)
from stoichkit.decision.verdict import verdict_of
from stoichkit.measurement.displays import Balance
from tests.labs import REVERSED, lab

K = FaultKind
BOTH = verdict_of([("copper(I)", True), ("copper(II)", True)], 0.95)


@cache
def evidence() -> Evidence:
    return assess(experiments.load("copper-silver"))


def fault(
    kind: FaultKind, size: float, unit: str = "g", subject: str = "balance",
    times: float = math.nan, steps: float = math.nan, reading: str = "paper + silver",
) -> Fault:  # fmt: skip
    return Fault(kind, subject, size, unit, times, steps, 1.0, BOTH, reading)


@pytest.mark.parametrize(("given", "words"), [
    (fault(K.REPEATABILITY, 0.034), "the balance repeats worse than 0.034 g"),
    (fault(K.PRODUCED, 0.2), "0.20 g of Ag is missing from every trial"),
    (fault(K.PRODUCED, -0.2), "0.20 g of what was weighed as Ag in every trial was something else"),
    (fault(K.CONSUMED, 0.11), "0.11 g more Cu was used up in every trial than the readings show"),
    (fault(K.CONSUMED, -0.11), "0.11 g less Cu was used up in every trial than the readings show"),
    # no mass: a volume, of which it is said which reading is off
    (fault(K.PRODUCED, 1.5, "mL", reading="gas volume"),
     "“gas volume” reads 1.5 mL too low in every trial"),
    (fault(K.CONSUMED, -1.5, "mL", reading="gas volume"),
     "“gas volume” reads 1.5 mL too high in every trial"),
    (fault(K.DRIFT, -0.02), "the balance drifts by 0.020 g from each weighing to the next"),
    (fault(K.CALIBRATION, 0.05), "the balance and the balance disagree by 5.0 %"),
    (fault(K.RECOVERY, -0.25, ""), "only 75 % of the Ag was recovered"),
    (fault(K.RECOVERY, 0.25, ""), "125 % of the Ag there was has been measured"),
    (fault(K.ONE_READING, 0.1, subject="paper"), "one reading of “paper” is 0.10 g too low"),
    (fault(K.ONE_READING, -0.1, subject="paper"), "one reading of “paper” is 0.10 g too high"),
    (fault(K.VARIATION, 0.12, ""), "the trials differ by 12 % in what they recover"),
])  # fmt: skip
def test_what_a_fault_is_called(given: Fault, words: str) -> None:
    assert fault_words(given, evidence()) == words


def test_a_fault_beside_what_is_stated_or_assumed() -> None:
    """The balance of the first lab states its repeatability, that of the second does not."""
    worse = fault(K.REPEATABILITY, 0.034, times=3.4, steps=3.4)
    said = fault_words(worse, evidence())
    assert said == "the balance repeats worse than 0.034 g, 3.4 times the stated"
    other = assess(lab([(9.0, 8.0, 0.7, 4.0)], Balance(readability_g=0.01)))
    assert fault_words(worse, other).endswith("worse than 0.034 g, 3.4 times the assumed")
    assert fault_words(worse, evidence(), times=False).endswith("0.034 g")
    varied = fault(K.VARIATION, 0.12, "", subject="", times=4.0)
    assert fault_words(varied, evidence()).endswith("recover, 4.0 times the stated")


def test_of_one_trial_alone_and_of_a_part_that_may_be_recovered() -> None:
    record = experiments.load("copper-silver")
    one = assess(replace(record, trials=record.trials[:1]))
    given = fault(K.ONE_READING, 0.1, subject="paper")
    assert fault_words(given, one) == "“paper” is 0.10 g too low"
    lossy = assess(replace(record, recovery=(0.9, 0.98)))
    # 25 % less than the least, or more than the most, that is allowed
    assert fault_words(fault(K.RECOVERY, -0.25, ""), lossy).startswith("only 65 % of the Ag")
    assert fault_words(fault(K.RECOVERY, 0.25, ""), lossy).startswith("123 % of the Ag")


def standing_in(*faults: Fault, of: Evidence | None = None) -> Evidence:
    """Return evidence with these faults in the place of its own."""
    found = assess(experiments.load("copper-silver")) if of is None else of
    found.__dict__["overturned_by"] = faults
    return found


def test_the_two_nearest_faults_are_named() -> None:
    first, second, third = (fault(K.ONE_READING, s, subject="paper") for s in (0.1, 0.2, 0.3))
    said = overturning_sentence(standing_in(first, second, third), "copper(II)")
    assert said == (
        "copper(II) stands unless one reading of “paper” is 0.10 g too low or one reading of "
        "“paper” is 0.20 g too low."
    )
    assert overturning_sentence(standing_in()) == (
        "No fault of a size met in such labs would change this."
    )
    assert overturning_sentence(assess(lab(REVERSED))) == ""


@pytest.mark.parametrize(("steps", "close"), [(1.99, True), (2.0, False), (2.01, False)])
def test_a_fault_of_less_than_two_steps_is_close(steps: float, close: bool) -> None:
    for kind in (K.PRODUCED, K.CONSUMED, K.ONE_READING, K.DRIFT):
        assert bool(close_sentence(standing_in(fault(kind, 0.01, steps=steps)))) is close
    for kind in (K.REPEATABILITY, K.CALIBRATION, K.RECOVERY, K.VARIATION):
        assert close_sentence(standing_in(fault(kind, 0.01, steps=steps))) == ""


def test_the_table_says_how_large_a_fault_is() -> None:
    rows = fault_table(standing_in(
        fault(K.DRIFT, 0.01, steps=1.0), fault(K.DRIFT, 0.02, steps=2.0),
        fault(K.REPEATABILITY, 0.034, times=3.4, steps=3.4), fault(K.RECOVERY, -0.25, ""),
    )).rows  # fmt: skip
    assert [row[1] for row in rows] == [
        "1.0 display step", "2.0 display steps", "3.4 times the stated", "–"
    ]  # fmt: skip
    assert rows[0][0] == "The balance drifts by 0.010 g from each weighing to the next"
    assert {row[2] for row in rows} == {"cannot tell copper(I) from copper(II)"}


@pytest.mark.parametrize(("chance", "words"), [
    # so coarse as an eighth of the chance, or of what is left of it, allows
    (0.5, "about 1 in 2"), (0.555, "about 1 in 2"), (0.557, "about 3 in 5"), (0.66, "about 2 in 3"),
    (0.75, "about 3 in 4"), (0.9, "about 9 in 10"), (0.95, "about 19 in 20"),
    (0.25, "about 1 in 4"), (0.1, "about 1 in 10"), (0.05, "about 1 in 20"),
    (0.97, "about 97 in 100"), (0.993, "about 993 in 1,000"), (0.002, "about 2 in 1,000"),
    (0.99949, "about 999 in 1,000"), (0.99951, "more than 999 in 1,000"),
    (0.00051, "about 1 in 1,000"), (0.00049, "fewer than 1 in 1,000"),
    (1.0, "more than 999 in 1,000"), (0.0, "fewer than 1 in 1,000"),
])  # fmt: skip
def test_so_many_in_so_many(chance: float, words: str) -> None:
    assert out_of(chance) == words


@pytest.mark.parametrize(("p", "text"), [
    (0.0, "0 %"), (0.00049, "< 0.05 %"), (0.0005, "0.1 %"), (0.038, "3.8 %"), (0.05, "5 %"),
    (0.9994, "99.9 %"), (0.9996, "> 99.95 %"), (1.0, "100 %"), (5e-324, "< 0.05 %"),
])  # fmt: skip
def test_a_probability_in_a_table(p: float, text: str) -> None:
    assert _percent(p) == text


def out(name: str, p: float, status: str = "excluded") -> Any:
    return Standing(name, status, "–", f"p = {p}", p)


def test_up_to_three_excluded_are_named() -> None:
    """More of them are counted, with the largest p-value of all."""

    def said(*given: Any) -> str:
        return excluded_sentence({one.name: one for one in given}, 0.95)

    one, two = out("tin(II)", 0.01), out("tin(III)", 0.02, "narrowly excluded")
    three, four = out("tin(IV)", 0.03), out("tin(V)", 0.004)
    assert said(one) == "Tin(II) is excluded (p = 0.01)."
    assert said(one, two) == "Tin(II) (p = 0.01) and tin(III) (p = 0.02, narrowly) are excluded."
    assert said(one, two, three).endswith("tin(IV) (p = 0.03) are excluded.")
    more = said(one, two, three, four)
    assert more.startswith("The other 4 candidates are excluded (p at most ")
    assert more.endswith("0.030, tin(III) narrowly).")
    assert said(SimpleNamespace(name="e", excluded=False, status="fits")) == (
        "No candidate is excluded."
    )
