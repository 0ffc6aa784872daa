"""Guided questions: answers by hand, published examples, known mistakes, figures, units."""

from __future__ import annotations

import math
import re

import pytest

from stoichkit import experiments
from stoichkit.errors import ExperimentError, ModelError
from stoichkit.experiments.record import Experiment
from stoichkit.experiments.store import parse_experiment
from stoichkit.measurement.displays import Balance
from stoichkit.reports.question import FeedbackKind, Question, check
from stoichkit.reports.study import lesson
from tests.labs import REVERSED, crucible, lab

NAMES = experiments.names()
GOOD = (3.12, 2.65, 0.71, 2.30)

ZINC = """
title = "Copper from copper sulfate and zinc"
[instruments.balance]
kind = "balance"
readability_g = 0.001
[consumed]
kind = "mass by difference"
species = "CuSO4"
heavier = "salt"
[produced]
kind = "mass by difference"
species = "Cu"
heavier = "copper"
[candidates.ratios]
"one to one" = "1"
"two to one" = "2"
[[trials]]
name = "1"
salt = "1.274"
copper = "0.392"
"""


def asked(source: str, start: str) -> Question:
    lab = parse_experiment(source) if "=" in source else experiments.load(source)
    return next(q for q in lesson(lab) if q.key.startswith(start))


@pytest.mark.parametrize("name", NAMES)
def test_every_lab_leads_from_readings_to_a_verdict(name: str) -> None:
    questions = lesson(experiments.load(name))

    assert len({q.key for q in questions}) == len(questions) >= 10
    assert [q.key for q in questions[-2:]] == ["excluded", "conclusion"]
    for q in questions:
        assert q.hints
        assert q.answer
        if q.choices:
            assert q.right <= set(q.choices)
        else:
            assert q.number.low <= q.number.value <= q.number.high
            if q.uncertainty is None:
                unrounded = check(q, f"{q.number.value:.9g} {q.unit}".strip())
                assert unrounded.accepted, q.words
            for one in q.mistakes:
                assert not q.number.low <= one.value <= q.number.high


@pytest.mark.parametrize("name", NAMES)
def test_the_answer_shown_is_accepted(name: str) -> None:
    for q in lesson(experiments.load(name)):
        shown = ("; ".join(sorted(q.right)) or "none") if q.choices else q.answer
        for text in re.split("[=≈]", shown):
            assert check(q, text).accepted, (q.words, text)


def test_openstax_copper_sulfate_and_zinc() -> None:
    """OpenStax Chemistry 2e, Example 4.13 (read): 0.5072 g expected, 77.3 %."""
    expected, percent = asked(ZINC, "expected"), asked(ZINC, "percent")

    assert check(expected, "0.5072 g").accepted
    assert check(expected, "507.2 mg").accepted
    assert check(percent, "77.3 %").accepted
    assert percent.answer == "77.3 %"
    assert check(percent, "0.773").kind is FeedbackKind.MISTAKE
    assert "fraction" in check(percent, "0.773").words
    assert "upside down" in check(percent, "129.4").words


def test_mistakes_are_named() -> None:
    mass, amount = asked("copper-silver", "step m(Cu)"), asked("copper-silver", "step n(Cu)")
    ratio = asked("copper-silver", "ratio")
    oxide = asked("tin-oxide", "step M(O)")

    assert "before and which after" in check(mass, "-0.12").words
    assert "factor of 1000" in check(mass, "120").words
    assert "multiplied" in check(amount, "7.63").words
    assert "upside down" in check(amount, "529.6").words
    assert "This is the mass" in check(amount, "0.12").words
    assert "ratio of the masses" in check(ratio, "3.33").words
    assert "upside down" in check(ratio, "0.509").words
    assert "two atoms" in check(oxide, "32.00").words
    hydrate = asked("hydrate-heating", "step M(MgSO4)")
    assert "subscripts" in check(hydrate, "72.36").words
    assert "°C" in check(asked("magnesium-gas", "step T"), "21.4").words


def test_figures_are_pointed_out_without_refusing() -> None:
    mass = asked("copper-silver", "step m(Ag)")

    assert check(mass, "0.40").kind is FeedbackKind.RIGHT
    few, many = check(mass, "0.4"), check(mass, "0.400000")
    assert few.kind is many.kind is FeedbackKind.FIGURES
    assert "support 2 significant figures; you gave 1" in few.words
    assert "6 figures claim more" in many.words


@pytest.mark.parametrize(
    ("text", "kind"),
    [
        ("0,12", "right"), (" 0.12 g ", "right"), ("120 mg", "right"), ("0.00012 kg", "right"),
        ("1.2e-1", "right"), ("0.12 mol", "not read"), ("0.12 cats", "not read"),
        ("", "not read"), ("zero", "not read"), ("nan", "not read"), ("1,2.3", "not read"),
        ("<script>", "not read"), ("9" * 500, "not read"), ("0.30", "not accepted"),
    ],
)  # fmt: skip
def test_answers_as_people_type_them(text: str, kind: str) -> None:
    assert check(asked("copper-silver", "step m(Cu)"), text).kind == kind


@pytest.mark.parametrize(
    ("text", "kind"),
    [("1/2", "right"), (" 2 / 4 ", "right"), ("0,5", "right"), ("1/0", "not read"),
     ("1:2", "right"), ("2/1", "a known mistake"), ("-1/2", "not accepted")],
)  # fmt: skip
def test_a_ratio_may_be_a_fraction(text: str, kind: str) -> None:
    assert check(asked("copper-plating", "required ratio"), text).kind == kind


def test_choices() -> None:
    excluded, conclusion = asked("copper-silver", "excl"), asked("copper-silver", "concl")

    assert check(excluded, "Copper(I)").kind is FeedbackKind.RIGHT
    none = check(excluded, "none").words
    assert none.startswith("Not yet: 1 more belongs to it. copper(I) requires 1, which is not")
    both = check(excluded, "copper(I); copper(II)").words
    assert both.startswith("Not yet: 1 of these does not belong to it. copper(II) requires 2")
    assert check(excluded, "copper(III)").kind is FeedbackKind.UNREAD
    assert check(conclusion, next(iter(conclusion.right))).accepted
    assert not check(conclusion, "the readings fit none of the candidates").accepted
    coarse = asked("copper-silver-coarse", "excl")
    assert check(coarse, "none").accepted is (not coarse.right)


@pytest.mark.parametrize(
    ("experiment", "right"),
    [
        (lab([GOOD, GOOD, REVERSED[2]]), "the readings cannot be judged"),
        (crucible("22.7028", "22.7005", "22.6994"), "the readings cannot be judged"),
        (lab([(3.00, 2.98, 0.80, 0.80)]), "nothing shows that anything reacted"),
    ],
)
def test_what_may_be_concluded_where_candidates_do_not_count(
    experiment: Experiment, right: str
) -> None:
    conclusion = lesson(experiment)[-1]

    assert conclusion.right == frozenset({right})
    assert check(conclusion, right).accepted
    assert not check(conclusion, "the readings single out one candidate").accepted
    assert not check(conclusion, "the readings fit none of the candidates").accepted
    assert "did both amounts come out above zero" in conclusion.hints[0]


def test_what_cannot_be_asked_or_read_is_an_error() -> None:
    with pytest.raises(ModelError, match="not text"):
        check(asked("copper-silver", "ratio"), 2.0)  # type: ignore[arg-type]
    swapped = ZINC.replace('salt = "1.274"', 'salt = "0.000"')
    with pytest.raises(ExperimentError, match="No trial has a mole ratio"):
        lesson(parse_experiment(swapped))


def test_one_display_step_by_hand() -> None:
    """0.40 g Ag from 0.12 g Cu; with 0.11 g the ratio is 1.963693 * 12 / 11."""
    step = asked("copper-silver", "display")

    ratio = (0.40 / 107.8682) / (0.12 / 63.546)
    assert "wire after" in step.words
    assert step.number.value == pytest.approx(ratio * 12 / 11 - ratio, rel=1e-6)
    # the other way, with 0.13 g, the ratio falls by less
    assert math.isclose(step.number.low, 0.9 * step.number.value)
    assert step.number.also == pytest.approx((ratio - ratio * 12 / 13,), rel=1e-6)
    assert check(step, "0.15").accepted
    assert check(step, "0.18").accepted


@pytest.mark.parametrize(
    ("typed", "words"),
    [
        ("0.1785", "Right"), ("0.1511", "Right"), ("0.162", "Right"), ("0.195", "Right"),
        ("2.142", "This is the new ratio: subtract the old."), ("1.964", "This is the old ratio."),
        ("1.8126", "This is the new ratio: subtract the old."),  # 1.9637 · 12/13
        ("9.09", "the change in percent"), ("7.69", "the change in percent"),
        ("0.0909", "the change divided by the ratio"), ("0.0769", "the change divided by the"),
        ("0.01", "the change of the reading, in g"), ("1.785", "The decimal mark slipped"),
        ("0.01785", "The decimal mark slipped"), ("1.511", "The decimal mark slipped"),
        ("0.01511", "The decimal mark slipped"), ("0.5", "larger than what the readings give"),
    ],
)  # fmt: skip
def test_what_one_display_step_does_and_what_is_mistaken_for_it(typed: str, words: str) -> None:
    """Ratio 1.9637: with 0.11 g of copper it is 1/11 more, 0.1785; with 0.13 g 1/13 less, 0.1511.

    Right is what lies within a tenth of either.
    """
    found = check(asked("copper-silver", "display"), typed)
    assert words in found.words
    assert found.accepted == (words == "Right")


@pytest.mark.parametrize(
    ("typed", "words"),
    [
        ("2", "Right."),
        ("2.009", "Right."),
        ("1.991", "Right."),
        ("2.02", "larger than"),
        ("0.5", "upside down"),
        ("1.9637", "what the readings give; the question"),
        ("1", "This is what copper(I) requires."),
        ("4", "twice what it should be"),
    ],
)
def test_what_a_candidate_requires(typed: str, words: str) -> None:
    """Copper(II) requires 2, half a percent either way; of copper(I) the half and 1 are one."""
    assert words in check(asked("copper-silver", "required ratio"), typed).words


def test_expected_mass_and_yield_by_hand() -> None:
    """0.12 / 63.546 · 2 · 107.8682 = 0.4074 g; found 0.40 g, 98.2 %."""
    expected, percent = asked("copper-silver", "expected"), asked("copper-silver", "percent")
    assert (expected.answer, expected.unit) == ("0.41 g", "g")
    assert expected.number.value == pytest.approx(0.12 / 63.546 * 2 * 107.8682, rel=1e-6)
    assert expected.hints[1] == "0.0018884 mol × 2 × 107.87 g/mol."
    assert (percent.answer, percent.unit) == ("98 %", "%")
    assert percent.number.value == pytest.approx(98.18, abs=0.01)
    assert "one figure" not in percent.words
    assert percent.hints[1] == "100 % × 0.0037082 mol / (2 × 0.0018884 mol)."


def test_how_sure_a_ratio_is_may_be_said_from_half_to_three_and_a_half() -> None:
    """From 0.6 of the standard uncertainty, one rounded down, to 3.5, all at their ends."""
    sure = asked("copper-silver", "how sure")
    value, u = (float(text) for text in sure.answer.split(" ± "))
    assert sure.uncertainty is not None
    least, most = sure.uncertainty
    assert most / least == pytest.approx(3.5 / 0.6)
    assert least / 0.6 == pytest.approx(u, rel=0.05)
    assert value == pytest.approx(1.964, abs=0.005)
    for size, accepted in ((least * 0.99, False), (least * 1.01, True), (most * 0.99, True),
                           (most * 1.01, False)):  # fmt: skip
        assert check(sure, f"1.964 ± {size:.4f}").kind.value.startswith("right") is accepted


def test_hints_lead_from_the_formula_to_the_numbers() -> None:
    mass, molar = asked("copper-silver", "step m(Cu)"), asked("tin-oxide", "step M(O)")
    assert mass.hints[0] == "It is wire before − wire after."
    assert mass.hints[1] == "wire before = 2.94; wire after = 2.82."
    assert molar.hints[1] == "O: 1 × 15.999 g/mol."
    salt = asked("hydrate-heating", "step M(MgSO4)")
    for part in ("1 × 24.305", "1 × 32.06", "4 × 15.999"):  # IUPAC, abridged (from memory)
        assert part in salt.hints[1]


def test_replies_to_what_is_concluded() -> None:
    conclusion = asked("copper-silver", "concl")
    said = {name: check(conclusion, name).words for name in conclusion.choices}
    (right,) = conclusion.right
    assert said.pop(right) == "Right."
    assert "Count the rays that do" in said["the readings cannot tell some candidates apart"]
    assert "told apart from zero" in said["nothing shows that anything reacted"]
    assert "came out above zero" in said["the readings cannot be judged"]
    assert conclusion.hints[1] == "Not excluded: 1."


@pytest.mark.parametrize(("step", "after", "figures"), [(0.01, 1.88, 3), (0.0001, 1.8823, 4)])
def test_no_more_than_four_figures_are_asked_for(step: float, after: float, figures: int) -> None:
    """3.12 − 1.88 = 1.24 g bears three figures, 3.1234 − 1.8823 = 1.2411 g five."""
    before = 3.12 if step == 0.01 else 3.1234
    asked_ = lesson(lab([(before, after, 0.71, 4.92)], Balance(readability_g=step)))
    expected = next(q for q in asked_ if q.key == "expected")
    assert expected.number.figures == figures
    percent = next(q for q in asked_ if q.key == "percent")
    assert percent.number.figures == 3
