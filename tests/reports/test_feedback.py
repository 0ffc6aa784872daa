"""Half a page of feedback: what was found, what limits it, a slip, a question; two to a sheet."""

from __future__ import annotations

import pytest

from stoichkit import assess, assess_class, experiments, load_class
from stoichkit.classroom import mark_class
from stoichkit.classroom.judging import Judgement, MarkKind
from stoichkit.classroom.marking import GroupMarks, Mark
from stoichkit.diagnosis.slips import Slip, SlipKind
from stoichkit.errors import ModelError
from stoichkit.reports import feedback
from stoichkit.reports.feedback import (
    _cut,
    _limits,
    _number,
    _points,
    _short,
    _slip,
    feedback_pages,
    question_of,
)
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


def test_points_are_written_short() -> None:
    written = [_number(value) for value in (2.0, 1.5, 0.25, 1 / 3, 0.0, 10.0)]
    assert written == ["2", "1.5", "0.25", "0.33", "0", "10"]


def test_long_text_ends_with_a_sentence_if_that_leaves_a_third_of_it() -> None:
    """330 characters at most: after 110 of them a sentence may end it."""
    whole = "x" * 330
    assert _cut(whole) == whole
    assert _cut("x" * 331) == "x" * 330 + "…"
    for mark in (".", "?", ";"):
        late = f"{'a' * 111}{mark} {'b' * 300}"
        assert _cut(late) == f"{'a' * 111}{mark}"
        early = f"{'a' * 110}{mark} {'b' * 300}"
        assert _cut(early) == early[:330] + "…"
    two = f"{'a' * 150}. {'b' * 100}? {'c' * 300}"
    assert _cut(two) == f"{'a' * 150}. {'b' * 100}?"


def test_a_long_answer_is_cut_to_sixty_characters() -> None:
    assert _short("y" * 60) == "y" * 60
    assert _short("y" * 61) == "y" * 59 + "…"


def mark(
    item: str, points: float, kind: MarkKind, *, trial: str = "1", typed: str = "7", words: str = ""
) -> Mark:
    return Mark(Judgement(item, trial, typed, kind, f"right {item}", words), points, 1.0)


def test_where_points_were_lost_is_told_for_four_answers() -> None:
    lost = [mark(item, 0.0, MarkKind.WRONG) for item in ("a", "b", "c", "d", "e", "f")]
    said = _points(GroupMarks("red", tuple(lost[:4])))
    assert said == (
        "What would have been right: a (wrong): right a; b (wrong): right b; c (wrong): right c; "
        "d (wrong): right d."
    )
    assert _points(GroupMarks("red", tuple(lost))).endswith("d (wrong): right d; and 2 more.")
    right = mark("a", 1.0, MarkKind.RIGHT)
    assert _points(GroupMarks("red", (right,))) == "All that could be earned."
    part = mark("b", 0.5, MarkKind.CARRIED, trial="2")
    again = mark("b", 1.0, MarkKind.RIGHT, trial="3")
    assert _points(GroupMarks("red", (right, part, again), ("Look.",))) == (
        "Look. What would have been right: b, trial 2 (right after an earlier error): right b."
    )
    empty = mark("a", 0.0, MarkKind.EMPTY, typed="")
    assert _points(GroupMarks("red", (empty,), ("No answer was handed in.",))) == (
        "No answer was handed in."
    )


def test_the_worst_answer_is_the_slip_to_look_for() -> None:
    """A known mistake before a wrong unit, that before what is wrong without a reason, and so on.

    Too many figures are told last; what was carried on from an earlier error is no slip.
    """
    order = [
        mark("a", 0, MarkKind.MISTAKE, words="Upside down."), mark("b", 0, MarkKind.UNIT),
        mark("c", 0, MarkKind.WRONG), mark("d", 0, MarkKind.UNREAD), mark("e", 1, MarkKind.FIGURES),
    ]  # fmt: skip
    assert _slip(GroupMarks("red", tuple(order[::-1])), ()) == "a: you wrote “7”. Upside down."
    for first in range(1, 5):
        said = _slip(GroupMarks("red", tuple(order[first:][::-1])), ())
        assert said.startswith(f"{'abcde'[first]}: you wrote")
    fine = (mark("a", 1, MarkKind.RIGHT), mark("b", 1, MarkKind.CARRIED))
    assert _slip(GroupMarks("red", fine), ()) == "None was seen in your readings or your answers."
    assert _slip(GroupMarks("red", fine, ("Below zero.", "Look.")), ()) == "Below zero. Look."
    empty = (mark("a", 0, MarkKind.EMPTY, typed=""),)
    assert "No answer was handed in" in _slip(GroupMarks("red", empty, ("Look.",)), ())


def limits_of(shares: dict[str, float], trials: int, monkeypatch: pytest.MonkeyPatch) -> str:
    monkeypatch.setattr(feedback, "reading_shares", lambda _: shares)
    evidence = assess(LAB.with_trials(LAB.trials[:trials]))
    return _limits(evidence, ())


def test_the_reading_that_limits_a_group_is_told_with_its_share(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    """The second is told too if its share is nine tenths of the first or more."""
    end = "more substance, more trials or a finer display there would help most."
    close = limits_of({"paper": 0.45, "wire": 0.5}, 1, monkeypatch)
    assert close == (
        "The reading “wire”, with 50 % of the variance of what decides, closely followed by "
        f"“paper”. You made 1 trial; {end}"
    )
    apart = limits_of({"paper": 0.44, "wire": 0.5}, 2, monkeypatch)
    assert apart == (
        f"The reading “wire”, with 50 % of the variance of what decides. You made 2 trials; {end}"
    )
    assert "closely" not in limits_of({"wire": 0.5}, 1, monkeypatch)
    assert limits_of({}, 1, monkeypatch) == "No source of error is stated."


def test_a_reading_that_looks_mistyped_limits_more_than_any_instrument() -> None:
    evidence = assess(LAB)
    slip = Slip(kind=SlipKind.DECIMAL, trial="1", typed=("75",), corrected=("0.75",))
    assert _limits(evidence, (slip,)).startswith("A reading that looks mistyped")
    unknown = Slip(kind=SlipKind.OUTLYING, trial="1")
    assert _limits(evidence, (unknown,)).startswith("The reading “")
    assert "noticed at the bench" in question_of(evidence, (slip,))
    assert "noticed at the bench" not in question_of(evidence, (unknown,))


def test_titles_and_notes_of_the_pages() -> None:
    marks = mark_class(b"group,ratio\nred,2\n", load_class(csv_bytes(), LAB))
    plain = feedback_pages(marks, groups=["red"])
    assert plain.title == f"{LAB.title}: feedback"
    invented = "The experiment and its readings are invented, for practice."
    assert plain.opening == (invented,)
    named = feedback_pages(marks, groups=["red", "blue"], title="Monday", note="Cut here.")
    assert named.title == "Monday"
    assert named.opening == ("Cut here.", invented)
    assert [s.title.partition(":")[0] for s in named.sections] == ["red", "blue"]
    assert len(feedback_pages(marks, note="  ").sections) == 3
    assert feedback_pages(marks, note="  ").opening == (invented,)
