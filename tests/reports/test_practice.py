"""The quick version of tests/studies/practice.py, and the record of what was worked through."""

from __future__ import annotations

import json

import pytest

from stoichkit import experiments
from stoichkit.errors import ModelError
from stoichkit.experiments.practice_labs import KINDS, practice
from stoichkit.reports.progress import CONCLUSION, LabDone, Progress
from stoichkit.reports.question import FeedbackKind, Question, check
from stoichkit.reports.study import lesson
from tests.studies.practice import answers, reasons


def test_no_right_answer_is_refused_and_no_wrong_one_accepted() -> None:
    found = answers(20)
    assert (found.refused, found.accepted) == ((), ())
    assert found.right > 800
    assert found.wrong > 1000


def test_at_least_95_of_100_wrong_answers_get_the_reason_they_came_from() -> None:
    """More than 120 wrong answers of more than 20 kinds on 10 labs."""
    found = reasons(10)
    made, first = sum(found.made.values()), sum(found.first.values())
    assert made >= 120
    assert len(found.made) >= 20
    assert first >= 0.95 * made, found.missed


@pytest.mark.parametrize(
    "kind",
    [pytest.param(k, marks=pytest.mark.slow if k == "titration" else []) for k in KINDS[1:]],
)
def test_gas_titration_and_charge_are_asked_and_explained_as_well(kind: str) -> None:
    found = answers(5, kind)
    assert (found.refused, found.accepted) == ((), ())
    assert found.right > 200
    assert found.wrong > 150
    told = reasons(3, kind=kind)
    made, first = sum(told.made.values()), sum(told.first.values())
    assert made >= 100
    assert len(told.made) >= 13
    assert first >= 0.95 * made, told.missed


def test_a_vapour_pressure_is_right_as_the_table_gives_it() -> None:
    """IAPWS at 22 °C 2.6452, at 23 °C 2.8109 kPa; read at 22.1 °C, the thermometer ±0.5 °C."""
    lab = practice(3, level=2, kind="gas").experiment
    assert lab.shared_readings["room temperature"] == ("22.1",)
    vapour = next(q for q in lesson(lab) if q.key.startswith("step p(H2O)"))
    for typed in ("2.66", "2.662", "2.65", "2.645 kPa", "2662 Pa"):
        assert check(vapour, typed).accepted, typed
    assert not check(vapour, "2.81").accepted
    assert not check(vapour, "19.97").accepted  # millimetres of mercury


def test_substances_are_written_with_their_signs() -> None:
    words = [q.words for q in lesson(practice(3, level=2, kind="charge").experiment)]
    assert "What is the amount of e⁻ in trial 1, in mol?" in words


def asked(name: str, start: str) -> Question:
    return next(q for q in lesson(experiments.load(name)) if q.key.startswith(start))


def test_a_difference_of_readings_is_exact() -> None:
    """2.94 − 2.82 = 0.12: 0.13 was within the range accepted before."""
    mass = asked("copper-silver", "step m(Cu)")
    assert check(mass, "0.12").accepted
    assert check(mass, "0.120").accepted
    wrong = check(mass, "0.13")
    assert not wrong.accepted
    assert "last digit is off by one" in wrong.words


def test_coarse_readings_do_not_ask_for_more_than_they_bear() -> None:
    """Readings with one figure: 118 % is the unrounded percentage, 100 % all that can be said."""
    percent = asked("copper-silver-coarse", "percent")
    assert percent.number.figures == 1
    assert percent.answer == "118 % ≈ 1 × 10² %"
    for typed in ("118", "117.8 %", "120", "100 %", "1·10² %"):
        assert check(percent, typed).accepted, typed
    assert "one figure" in check(percent, "118").words
    assert not check(percent, "130").accepted
    assert not check(percent, "1.18").accepted


def test_a_number_rounded_to_one_figure_is_not_one_of_three() -> None:
    """1.496 with one figure is 1, or 2 after rounding on the way; 2.00 is a candidate's ratio."""
    ratio = next(q for q in lesson(practice("EY9UHNR").experiment) if q.key == "ratio")
    assert ratio.number.figures == 1
    assert ratio.number.value == pytest.approx(1.496, abs=5e-4)
    assert [check(ratio, typed).accepted for typed in ("1.5", "1", "2", "2.00", "1.00")] == [
        True, True, True, False, False,
    ]  # fmt: skip


def test_too_few_figures_for_what_the_readings_bear() -> None:
    ratio = asked("tin-oxide", "ratio")
    assert ratio.number.figures == 3
    assert check(ratio, "2").kind is FeedbackKind.FIGURES
    molar = asked("copper-silver", "step n(Ag)")  # 0.0037
    few = check(molar, "0.004")
    assert not few.accepted
    assert "the readings bear 2" in few.words


def test_how_sure_is_asked_as_value_and_uncertainty() -> None:
    """By hand: half steps and half-step repeatability on four readings of 0.01 g.

    u(m) = √2 · 0.01 · √(1/12 + 1/4) = 0.0082 g on 0.12 g and 0.40 g: 7.1 % of 1.96 is 0.14.
    """
    sure = asked("copper-silver", "how sure")
    balance = experiments.load("copper-silver").instruments["balance"]
    scatter = balance.repeatability_g  # type: ignore[attr-defined]
    u_g = (2 * (0.01**2 / 12 + scatter**2)) ** 0.5
    u = 1.9637 * ((u_g / 0.12) ** 2 + (u_g / 0.40) ** 2) ** 0.5
    assert sure.uncertainty is not None
    assert sure.uncertainty[0] == pytest.approx(0.6 * u, rel=0.01)
    assert check(sure, f"1.96 ± {u:.2f}").accepted
    assert check(sure, f"2.0+-{2 * u:.1f}").accepted
    assert "claims more" in check(sure, "1.964 ± 0.001").words
    assert "gives away" in check(sure, "2 ± 1.5").words
    assert check(sure, "1.96").kind is FeedbackKind.UNREAD
    assert "upside down" in check(sure, f"0.51 ± {u:.2f}").words


def test_every_wrong_conclusion_has_a_reply_of_its_own() -> None:
    seen = set()
    for lab in (*map(experiments.load, experiments.names()),
                *(practice(n, level=5).experiment for n in range(12))):  # fmt: skip
        conclusion = lesson(lab)[-1]
        for choice in conclusion.choices:
            reply = check(conclusion, choice)
            if choice not in conclusion.right:
                assert not reply.accepted
                assert "A hint may help" not in reply.words
                seen.add(reply.words)
    assert any("Nearest is not the same as singled out" in words for words in seen)
    assert any("misses the region" in words for words in seen)
    assert any("A mean beside a ray is no miss" in words for words in seen)


# The record


def done(number: int, **how: object) -> LabDone:
    lab = practice(number, level=3)
    return LabDone(lab.id, 3, **{"questions": 14, "answered": 14, **how})  # type: ignore[arg-type]


def test_the_level_rises_and_falls_with_what_was_missed() -> None:
    assert Progress().level == 1
    assert Progress((done(1),)).level == 4
    assert Progress((done(1, hints=4),)).level == 3
    assert Progress((done(1, missed=(("upside down", 9),)),)).level == 2
    assert Progress((done(1, answered=3),)).level == 1  # not worked through


def test_the_next_lab_is_of_the_kind_in_which_most_was_missed() -> None:
    missed = done(1, missed=(("subscripts", 3), (CONCLUSION, 1)))
    progress = Progress((missed,))
    assert list(progress.topics) == ["molar masses", "what readings can tell"]
    labs = [progress.next_lab(number) for number in range(0, 200, 40)]
    assert {lab.scene for lab in labs} == {"hydrate"}
    assert {lab.level for lab in labs} == {3}
    assert missed.lab not in {lab.id for lab in labs}
    assert "molar masses: 3 times" in progress.summary().text()


def test_the_next_lab_is_of_the_kind_that_is_asked_for() -> None:
    assert [Progress().next_lab(number).scene in KINDS for number in range(4)] == 4 * [False]
    begun = Progress((done(1),))
    assert {begun.next_lab(number).scene for number in range(8)} > {*KINDS[1:]}
    for kind in KINDS[1:]:
        assert {begun.next_lab(number, kind).scene for number in range(3)} == {kind}
    wrong = Progress((done(1, missed=(("°C in place of K", 3),)),))
    assert wrong.next_lab(5).scene == "gas"
    with pytest.raises(ModelError):
        begun.next_lab(5, "smelting")


def test_a_record_comes_back_as_it_was() -> None:
    progress = Progress((done(1, missed=(("upside down", 2),), predicted="right"), done(2)))
    progress = progress.with_lab(LabDone("Copper wire in silver nitrate", 0, 14, 3, 1))
    assert Progress.from_json(progress.to_json()) == progress


@pytest.mark.parametrize(
    "change",
    [
        {"format": "x"}, {"version": 2}, {"version": True}, {"labs": {}}, {"labs": [7]},
        {"more": 1}, {"labs": [{}]}, {"lab": ""}, {"lab": 7}, {"level": 9}, {"level": 2},
        {"lab": "ABCDEFG"}, {"questions": -1}, {"answered": 15}, {"hints": 1.5},
        {"hints": True}, {"missed": {"nonsense": 1}}, {"missed": {"upside down": 0}},
        {"missed": []}, {"predicted": "maybe"}, {"extra": 1},
    ],
)  # fmt: skip
def test_a_record_that_is_not_as_it_was_written_is_refused(change: dict[str, object]) -> None:
    whole = json.loads(Progress((done(1),)).to_json())
    for name, value in change.items():
        place = whole if name in ("format", "version", "labs", "more") else whole["labs"][0]
        place[name] = value
    with pytest.raises(ModelError):
        Progress.from_json(json.dumps(whole))


def test_what_is_no_record_at_all_is_refused() -> None:
    good = Progress((done(1),)).to_json()
    twice = good.replace('"labs": [', '"labs": [], "labs": [')
    for text in ("", "[]", "nan", "{" * 9999, good.replace("14", "NaN", 1), twice, good[:-9]):
        with pytest.raises(ModelError):
            Progress.from_json(text)
    lab = json.loads(good)
    lab["labs"] *= 2
    with pytest.raises(ModelError, match="twice"):
        Progress.from_json(json.dumps(lab))
