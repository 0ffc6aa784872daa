"""What is said about an answer as typed, on questions made for the purpose."""

from __future__ import annotations

import pytest

from stoichkit import experiments
from stoichkit.decision.accepted import Accepted, Own
from stoichkit.errors import ModelError
from stoichkit.reports.question import FeedbackKind, Question, check, now_you
from stoichkit.reports.study import lesson

HINT = "A hint may help."


def sure_of(least: float, most: float, unit: str = "") -> Question:
    """Ask for 2.096 to two figures, which is right from 2.046 to 2.146, and how sure it is."""
    return Question(
        key="sure", topic="", words="", answer="", hints=(), unit=unit,
        number=Accepted.of(2.096, 2), uncertainty=(least, most),
    )  # fmt: skip


@pytest.mark.parametrize(
    ("typed", "words"),
    [
        ("2.1 ± 0.1", "Right."), ("2.1 ± 0.0999", "claims more than the display"),
        ("2.1 ± 0.4", "Right."), ("2.1 ± 0.401", "gives away more than needed"),
        ("2.1 ± 0.10", "Right."), ("2.1 ± 0.100", "end at the same decimal"),
        ("2.10 ± 0.1", "Right."), ("2.100 ± 0.1", "end at the same decimal"),
        ("2.10(20)", "Right."), ("2.1 +/- 0.2", "Right."), ("2.1 +- 0.2", "Right."),
        ("2.1", "write it as 2.1 ± 0.2"), ("2.1 0.2", "write it as 2.1 ± 0.2"),
        # off by no more than the least uncertainty, 0.1
        ("2.19 ± 0.20", "Right."), ("2.20 ± 0.20", "larger than what the readings give"),
        ("2.00 ± 0.20", "Right."), ("1.99 ± 0.20", "smaller than what the readings give"),
    ],
)  # fmt: skip
def test_a_value_with_its_uncertainty(typed: str, words: str) -> None:
    found = check(sure_of(0.1, 0.4), typed)
    assert words in found.words
    assert found.accepted == (words in ("Right.", "end at the same decimal"))
    assert (found.kind is FeedbackKind.UNREAD) == ("write it" in words)
    assert (found.kind is FeedbackKind.FIGURES) == ("same decimal" in words)


def test_where_hardly_anything_is_unsure_the_value_may_be_rounded() -> None:
    """The uncertainty is 0.01 at least, but two figures reach from 2.046 to 2.146."""
    assert check(sure_of(0.01, 0.04), "2.14 ± 0.02").words == "Right."
    assert "larger" in check(sure_of(0.01, 0.04), "2.15 ± 0.02").words


def test_value_and_uncertainty_may_stand_in_another_unit() -> None:
    question = sure_of(0.1, 0.4, "g")
    assert check(question, "2096 ± 200 mg").words == "Right."
    assert "claims more" in check(question, "2096 ± 90 mg").words
    assert "gives away" in check(question, "2096 ± 410 mg").words


def asked(figures: int, value: float = 1.234) -> Question:
    return Question(
        key="n", topic="", words="", answer="", hints=(), number=Accepted.of(value, figures)
    )


@pytest.mark.parametrize(
    ("figures", "typed", "words"),
    [
        (1, "1", "Right."), (1, "1.2", "Right. The readings bear one figure of it."),
        (1, "1.23", "Right. The readings bear one figure of it."),
        (1, "1.234", "Right, but 4 figures claim more than the readings give: they support 1."),
        (2, "1.2", "Right."), (2, "1.234", "Right."),
        (2, "1.2340", "Right, but 5 figures claim more than the readings give: they support 2."),
        (3, "1.2", "Right, but the readings support 3 significant figures; you gave 2."),
        (3, "1", "Not yet: 1 figure cannot say this; the readings bear 3. Give that many."),
    ],
)  # fmt: skip
def test_what_is_said_of_figures(figures: int, typed: str, words: str) -> None:
    assert check(asked(figures), typed).words == words


def test_a_number_without_a_reason_is_said_to_be_larger_or_smaller() -> None:
    for typed, way in (("7.7", "larger"), ("0.77", "smaller"), ("-3", "smaller")):
        found = check(asked(3), typed)
        assert found.kind is FeedbackKind.WRONG
        assert f"this is {way} than what the readings give" in found.words
        assert found.own is not None
        assert found.own.value == float(typed)
        assert not found.own.right
    right = check(asked(3), "1.23")
    assert right.own is not None
    assert right.own.right


def choice(*right: str, several: bool = True, replies: bool = False) -> Question:
    return Question(
        key="c", topic="", words="", answer="", hints=(), choices=("tin", "lead", "zinc"),
        right=frozenset(right), several=several,
        replies={"lead": "Lead is heavy.", "zinc": "Zinc is light."} if replies else {},
    )  # fmt: skip


@pytest.mark.parametrize(
    ("right", "typed", "words"),
    [
        (("tin", "lead"), "tin", "Not yet: 1 more belongs to it."),
        (("tin", "lead"), "none", "Not yet: 2 more belong to it."),
        (("tin",), "tin; lead", "Not yet: 1 of these does not belong to it."),
        (("tin",), "tin; lead; zinc", "Not yet: 2 of these do not belong to it."),
        (("tin",), "lead", "Not yet: 1 more belongs to it and 1 of these does not."),
        (("tin", "lead"), "zinc", "Not yet: 2 more belong to it and 1 of these does not."),
        (("tin",), "lead\nZINC", "Not yet: 1 more belongs to it and 2 of these do not."),
    ],
)
def test_how_many_choices_are_missed_or_taken_wrongly(
    right: tuple[str, ...], typed: str, words: str
) -> None:
    found = check(choice(*right), typed)
    assert found.words == f"{words} {HINT}"
    assert found.kind is FeedbackKind.WRONG


def test_choices_are_right_whatever_their_case_and_order() -> None:
    for typed in ("lead; tin", " TIN ;Lead;", "tin\nlead"):
        assert check(choice("tin", "lead"), typed).words == "Right."
    assert check(choice(), "None").words == "Right."


def test_one_reply_is_given_to_choices() -> None:
    """The first in the order of the choices, among those missed or wrongly taken."""
    assert check(choice("tin", replies=True), "tin; lead; zinc").words.endswith("Lead is heavy.")
    assert check(choice("zinc", replies=True), "none").words.endswith("Zinc is light.")
    assert check(choice("lead", replies=True), "lead; tin").words.endswith(HINT)
    one = choice("tin", several=False, replies=True)
    assert check(one, "zinc").words == "Not yet. Zinc is light."
    assert check(choice("tin", several=False), "zinc").words == f"Not yet. {HINT}"
    assert not check(one, "tin; zinc").accepted


def test_what_may_be_chosen_is_said() -> None:
    many = check(choice("tin"), "tin; gold")
    assert many.kind is FeedbackKind.UNREAD
    assert many.words.endswith("Given: gold. Allowed: tin; lead; zinc; none.")
    assert check(choice("tin", several=False), "gold").words.endswith("Allowed: tin; lead; zinc.")
    assert check(choice("tin"), " ").words == "Type an answer first."


def test_what_follows_from_an_earlier_number_is_told_apart() -> None:
    """0.13 g in place of 0.12 g: 0.13 / 63.546 = 0.0020458 mol, two figures (half: 0.00005).

    Of a value alone no figures are known: half a percent more is let pass, 0.0000102. Together
    0.0000602, and half a unit of 0.00211 is 0.000005: it is off by 0.000064 < 0.000065.
    """
    amount = next(
        q for q in lesson(experiments.load("copper-silver")) if q.key.startswith("step n(Cu)")
    )
    carried = check(amount, "0.00205", {"m(Cu)": 0.13})
    assert "follows from an earlier answer of yours" in carried.words
    assert carried.kind is FeedbackKind.MISTAKE
    assert not check(amount, "0.00205").words.startswith("Not yet, but it follows")
    assert "follows from" in check(amount, "0.00211", {"m(Cu)": 0.13}).words
    assert "follows from" not in check(amount, "0.00213", {"m(Cu)": 0.13}).words
    assert check(amount, "0.00205", {"m(Cu)": Own(0.13)}).words == "Right."
    assert check(amount, "0.00189", {"m(Cu)": 0.13}).words == "Right."


def test_a_number_to_work_out_in_a_notebook() -> None:
    """Three figures unless said otherwise; a slipped prefix is known without being named."""
    assert now_you("", 1.234, typed="1.23") == "Right."
    assert now_you("", 1.234, typed="1.234567").startswith("Right, but 7 figures claim more")
    assert "they support 3" in now_you("", 1.234, typed="1.234567")
    assert "factor of 1000" in now_you("", 1.234, "g", typed="1234")
    assert now_you("What?", 1.0, typed="  ").startswith("What? Type your answer")
    assert now_you("", 2.0, typed="4", mistakes={"Halve it.": 4.0}) == "Not yet. Halve it."
    assert now_you("", 1.2345678901234, typed="1.23456789012", figures=12) == "Right."
    assert now_you("", 1.2, typed="1", figures=1) == "Right."
    for figures in (0, 13):
        with pytest.raises(ModelError):
            now_you("", 1.0, figures=figures)
