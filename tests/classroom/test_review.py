"""Review: repairs accepted, decisions kept as a record, trials known by group and trial as a pair.

Two groups typed paper and paper + silver in each other's column: their silver comes out below zero
and the class cannot be judged; with the columns put right it singles out copper(II).
"""

from __future__ import annotations

from typing import Any

import numpy as np
import pytest

from stoichkit import assess_class, experiments, load_class
from stoichkit.classroom import Decision, mark_class, review_class, suggested_repairs
from stoichkit.classroom.choices import Choices, parse_choices
from stoichkit.classroom.data import ClassData
from stoichkit.classroom.review import as_typed, decided
from stoichkit.classroom.sentences import class_verdict_sentences
from stoichkit.errors import DataFileError, ModelError
from stoichkit.reports import class_report
from tests.classfiles import HEADER, csv_bytes

LAB = experiments.load("copper-silver")
GOOD = [
    ["red", "1", "2.94", "2.82", "0.75", "1.15"],
    ["red", "2", "3.19", "3.09", "0.70", "1.06"],
    ["blue", "1", "3.14", "3.03", "0.73", "1.12"],
    ["green", "1", "3.02", "2.92", "0.71", "1.05"],
    ["teal", "1", "2.95", "2.83", "0.70", "1.13"],
]
SWAPPED = [r if r[0] not in ("blue", "teal") else [*r[:4], r[5], r[4]] for r in GOOD]


def the_class(rows: list[list[str]] = SWAPPED, **more: Any) -> ClassData:
    return load_class(csv_bytes(rows), LAB, **more)


def test_two_groups_that_swapped_columns_are_put_right() -> None:
    data = the_class()
    found = review_class(data, "suggested", initials="EK")
    assert found.typed.verdict is not None
    assert not found.typed.verdict.verdict.candidates
    assert found.doubtful == ("blue", "teal")
    assert {(d.group, d.reading, d.typed, d.corrected, d.initials) for d in found.decisions} == {
        ("blue", "paper", "1.12", "0.73", "EK"),
        ("blue", "paper + silver", "0.73", "1.12", "EK"),
        ("teal", "paper", "1.13", "0.70", "EK"),
        ("teal", "paper + silver", "0.70", "1.13", "EK"),
    }
    _, repaired, rest = (side for _, side, _ in found.sides())
    assert repaired is not None
    assert rest is not None
    clean = assess_class(the_class(GOOD))
    assert clean.verdict is not None
    for side in (repaired, rest):
        assert side.verdict is not None
        assert side.verdict.verdict.candidates == ("copper(II)",)
    assert class_verdict_sentences(repaired) == class_verdict_sentences(clean)
    assert np.array_equal(repaired.evidence.p_value, clean.evidence.p_value)
    assert rest.evidence.names == ("red", "green")


def test_repairs_are_accepted_one_by_one() -> None:
    data = the_class()
    repairs = suggested_repairs(assess_class(data))
    blue = next(one for one in repairs if one.group == "blue")
    chosen = blue.decisions(reason="columns swapped", initials="EK")
    found = review_class(data, chosen)
    assert found.decided is not None
    assert found.decided.slips.keys() == {"teal"}
    assert [one.accepted(chosen) for one in repairs if one.group == "teal"] == [False]
    assert data.groups["blue"].trials[0].readings["paper"] == ("1.12",)  # nothing is changed


def test_decisions_of_the_choices_are_applied_by_the_assessment() -> None:
    aside = Decision("teal", "1", "set aside", reason="spilled", initials="EK")
    kept = Decision("red", "1", "used", reason="weighed twice", initials="EK")
    fixed = tuple(
        decision
        for one in suggested_repairs(assess_class(the_class()))
        if one.group == "blue"
        for decision in one.decisions()
    )
    data = the_class(choices=Choices(decisions=(aside, kept, *fixed)))
    result = assess_class(data)
    assert result.data.applied == (aside, kept, *fixed)
    assert result.evidence.names == ("red", "blue", "green")
    row = next(r for r in result.data.rows if r.row == 6)
    assert (str(row.use), row.reason, row.group) == ("set aside", "spilled (EK)", "")
    assert assess_class(result.data).data is not None  # applied once only
    with pytest.raises(ModelError, match="applied to these readings already"):
        as_typed(result.data)
    assert result.verdict is not None
    assert result.verdict.verdict.candidates == ("copper(II)",)


def test_a_decision_that_does_not_fit_is_refused() -> None:
    data = the_class()
    cases = {
        "no such trial": Decision("red", "7", "set aside"),
        "no such reading": Decision("red", "1", "corrected", "cup", typed="1", corrected="2"),
        "another reading": Decision("red", "1", "corrected", "paper", typed="9", corrected="2"),
        "cannot be used": Decision("red", "1", "corrected", "paper", typed="0.75", corrected="x"),
    }
    for said, decision in cases.items():
        with pytest.raises(DataFileError, match=said):
            decided(data, [decision])
    everything = [Decision(r[0], r[1], "set aside") for r in SWAPPED]
    with pytest.raises(DataFileError, match="No trial is left"):
        decided(data, everything)


def test_codes_name_no_group() -> None:
    data = the_class(codes=True)
    found = review_class(data, "suggested", initials="EK")
    assert found.doubtful == ("G02", "G04")
    assert "teal" not in repr(found.decisions)


@pytest.mark.parametrize("name", ["x" * 80, "a: b, trial 1", "red: 1", "é" * 79 + "…"])
def test_a_long_name_takes_no_verdict_away(name: str) -> None:
    rows = [[name if r[0] == "blue" else r[0], *r[1:]] for r in SWAPPED]
    quoted = [[f'"{r[0]}"', *r[1:]] for r in rows]
    file = "\n".join(",".join(row) for row in (list(HEADER), *quoted)).encode()
    data = load_class(file, LAB)
    found = assess_class(data)
    assert found.verdict is not None, found.no_verdict
    assert {*found.slips} == {name, "teal"}
    assert [slip.trial for slip in found.slips[name]] == ["1"]
    again = review_class(data, "suggested")
    assert again.decided is not None
    assert again.decided.verdict is not None
    assert again.decided.verdict.verdict.candidates == ("copper(II)",)


def test_trials_whose_joined_names_are_alike_are_two() -> None:
    """Group "a" has a trial "b: 1", group "a: b" a trial "1"."""
    rows = [["a", "b: 1", *GOOD[0][2:]], ["a: b", "1", *GOOD[1][2:]], ["c", "1", *GOOD[2][2:]]]
    found = assess_class(the_class(rows))
    assert found.verdict is not None, found.no_verdict
    assert found.verdict.groups == ("a", "a: b", "c")


def test_marks_follow_the_decided_readings() -> None:
    """Blue's silver is 1.12 − 0.73 = 0.39 g once its columns are put right."""
    data = the_class()
    found = review_class(data, "suggested")
    marks = mark_class(b"group,m(Ag)\nblue,0.39\n", decided(data, found.decisions))
    assert [m.kind.value for m in marks.groups["blue"].of("m(Ag)")] == ["right"]


# A mistake made alike in all trials

ALIKE = [[*r[:4], r[5], r[4]] for r in GOOD]
"""Everybody typed paper and paper + silver in each other's column."""


def test_a_mistake_alike_in_all_trials_is_one_repair_that_corrects_each() -> None:
    data = the_class(ALIKE)
    typed = assess_class(data)
    assert not typed.slips
    assert typed.shared_slips
    repairs = suggested_repairs(typed)
    one = next(r for r in repairs if set(r.slip.readings) == {"paper", "paper + silver"})
    assert (one.group, one.trial, len(one.each)) == ("", "", 5)
    assert one.where == "all groups, all 5 trials alike"
    assert one.words == "paper + silver 0.75 → 1.15, paper 1.15 → 0.75 in the first"
    decisions = one.decisions("columns swapped", "EK")
    assert {(d.group, d.trial, d.reading, d.corrected) for d in decisions} == {
        (row[0], row[1], name, right)
        for row in GOOD
        for name, right in (("paper", row[4]), ("paper + silver", row[5]))
    }
    assert one.accepted(decisions)
    assert not one.accepted(decisions[:-1])
    found = review_class(data, decisions)
    clean = assess_class(the_class(GOOD))
    assert found.decided is not None
    assert np.array_equal(found.decided.evidence.p_value, clean.evidence.p_value)
    assert found.doubtful == data.names
    assert found.why_none["without_doubtful"] == "Every group is doubtful."
    again = Choices(decisions=decisions)
    assert parse_choices(again.to_toml()) == again
    result = assess_class(the_class(ALIKE, choices=again))
    text = class_report(result, pictures=False, review=found).text()
    assert "columns swapped" in text
    assert "With the decisions" in text


def test_all_repairs_accept_one_of_several_that_are_alike() -> None:
    found = review_class(the_class(ALIKE), "suggested", initials="EK")
    places = [(*d.identity, d.reading) for d in found.decisions]
    assert len(places) == len({*places})
    assert found.decided is not None
    assert found.decided.verdict is not None
    assert found.decided.verdict.verdict.candidates == ("copper(II)",)
