"""Half a page of feedback: what was found, what limits it, a slip, a question; two to a sheet."""

from __future__ import annotations

import pytest

from stoichkit import assess_class, experiments, load_class
from stoichkit.classroom import mark_class
from stoichkit.errors import ModelError
from stoichkit.reports.feedback import feedback_pages
from tests.classfiles import csv_bytes

LAB = experiments.load("copper-silver")


def rows_of(typed: str, readings: list[list[str]], name: str = "red") -> dict[str, str]:
    file = csv_bytes(readings)
    data = load_class(file, LAB)
    page = feedback_pages(mark_class(typed.encode(), data), result=assess_class(data))
    section = next(s for s in page.sections if s.title.startswith(f"{name}:"))
    return dict(section.parts[0].rows)  # type: ignore[union-attr, arg-type]


ONE = ["red", "1", "2.94", "2.82", "0.75", "1.15"]


def test_the_slip_of_the_answers_is_told() -> None:
    said = rows_of("group,m(Cu),ratio,conclusion\nred,0.12,0.51,copper(II)\n", [ONE])
    assert said["What you found"].startswith("These readings single out copper(II).")
    assert "you wrote “0.51”. This is upside down" in said["Slip to look for"]
    assert "ratio (a known mistake): 2.0" in said["Points"]
    assert said["To think about"].endswith("Work it out from your own readings.")


def test_the_slip_of_the_readings_comes_first() -> None:
    """1.34 typed for 3.14: told to its group, and no other group reads of it."""
    rows = [
        ONE,
        ["red", "2", *ONE[2:]],
        ["blue", "1", "1.34", "3.03", "0.73", "1.12"],
        ["green", "1", "3.02", "2.92", "0.71", "1.05"],
    ]
    typed = "group,ratio\nred,0.51\nblue,2\n"
    blue = rows_of(typed, rows, "blue")
    assert "1.34" in blue["Slip to look for"]
    assert "noticed at the bench" in blue["To think about"]
    assert "1.34" not in " ".join(rows_of(typed, rows).values())


@pytest.mark.parametrize(
    ("readings", "asked"),
    [
        (["red", "1", "2.94", "2.91", "0.75", "0.83"], "twice as much Cu"),
        (["red", "1", "2.94", "2.84", "0.75", "1.25"], "You found more Ag than copper(II)"),
        (["red", "1", "2.94", "2.82", "0.75", "0.60"], "Which of the two readings"),
    ],
)
def test_the_question_is_raised_by_the_readings(readings: list[str], asked: str) -> None:
    assert asked in rows_of("group,conclusion\nred,none\n", [readings])["To think about"]


def test_a_group_below_zero_is_said_to_be_so() -> None:
    said = rows_of("group,m(Cu)\nred,0.12\n", [["red", "1", "2.94", "2.82", "0.75", "0.60"]])
    assert "below zero" in said["What you found"]
    assert "below zero in trial 1" in said["Points"]
    assert "−" not in said["Points"]


def test_no_such_group_and_no_points() -> None:
    marks = mark_class(b"group,ratio\nred,2\n", load_class(csv_bytes(), LAB))
    with pytest.raises(ModelError, match="no such group"):
        feedback_pages(marks, groups=["pink"])
    page = feedback_pages(marks, groups=["red"], points=False).text()
    assert "points" not in page.lower().replace("appoints", "")
