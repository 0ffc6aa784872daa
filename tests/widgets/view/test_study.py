"""The screen “Study”: one question after the other, nothing typed lost, answers are the lab's."""

from __future__ import annotations

import base64
import re
from collections.abc import Callable, Iterator
from pathlib import Path

import pytest

from stoichkit import experiments
from stoichkit.reports.question import Question
from stoichkit.reports.study import lesson
from stoichkit.widgets.state.lab import LabState
from stoichkit.widgets.view.study import StudyScreen

from .protocol import Seen, opening

Opens = Callable[..., Seen]


@pytest.fixture
def study() -> Iterator[Opens]:
    yield from opening("study")


def shown(question: Question) -> str:
    """Return the answer as it is shown, as somebody would type it."""
    return re.split(" [=≈] ", question.answer)[0]


def said(page: Seen) -> tuple[str, str]:
    (one,) = [b for b in page.all("words", "question") if b.get("spoken")]
    return one["text"], one["role"]


def answer(page: Seen, number: int, text: str) -> None:
    page.do("set", id=f"study:{number}", to=text)
    page.do("press", id="study:check")


def progress(page: Seen) -> str:
    return str(page.all("table", "course")[0]["caption"])


def test_a_question_is_answered_with_enter(study: Opens) -> None:
    """2.94 g − 2.82 g = 0.12 g, by hand."""
    page = study()
    field = page.control("study:0")
    assert field["label"] == "Your answer, g"
    assert field["enter"] == "study:check"
    assert said(page) == ("", "plain")
    answer(page, 0, "-0,12")
    assert said(page)[0].startswith("Not yet. The sign is wrong")
    assert said(page)[1] == "warning"
    assert page.focus == ""
    answer(page, 0, "much")
    assert said(page)[1] == "plain"
    assert page.control("study:0")["text"] == "much"
    answer(page, 0, "0,12 g")
    assert said(page) == ("Right.", "good")
    assert page.focus == "study:next"
    assert progress(page) == "1 of 14 answered."
    page.do("press", id="study:next")
    assert page.focus == "study:1"
    assert page.all("heading", "question")[0]["text"].startswith("What is the molar mass of Cu")
    page.do("set", id="study:1", to="63.5")
    page.do("press", id="study:back")
    assert page.control("study:0")["text"] == "0,12 g"
    assert said(page) == ("Right.", "good")
    page.do("set", id="study:0", to="0.2")
    assert said(page) == ("", "plain")
    rows = page.all("table", "course")[0]["rows"]
    assert [row[1] for row in rows[:3]] == ["answered", "typed, not checked", "–"]


def test_hints_come_one_by_one_and_end_with_the_answer(study: Opens) -> None:
    page = study()
    shown = []
    while page.control("study:hint")["enabled"]:
        page.do("press", id="study:hint")
        shown = page.all("list", "question")[0]["items"]
    assert shown == [
        "It is wire before − wire after.",
        "wire before = 2.94; wire after = 2.82.",
        "The answer is 0.12 g",
    ]
    answer(page, 0, "0.12")
    assert page.all("table", "course")[0]["rows"][0][1] == "answered, after the answer"


def test_choices_are_ticked_and_chosen(study: Opens) -> None:
    page = study()
    page.do("pick", id="study:course", to=12)
    assert page.focus == "study:12:0"
    assert {t["label"] for t in page.all("tick", "question")} == {"copper(I)", "copper(II)"}
    page.do("press", id="study:check")
    assert "1 more belongs" in said(page)[0]
    label = {t["label"]: t["id"] for t in page.all("tick", "question")}
    page.do("tick", id=label["copper(II)"], to=True)
    page.do("tick", id=label["copper(I)"], to=True)
    page.do("tick", id=label["copper(II)"], to=False)
    page.do("press", id="study:check")
    assert said(page) == ("Right.", "good")
    page.do("press", id="study:next")
    page.do("set", id="study:13", to="the readings single out one candidate")
    page.do("press", id="study:check")
    assert said(page) == ("Right.", "good")
    assert progress(page) == "2 of 14 answered."


@pytest.mark.parametrize("name", experiments.names())
def test_every_ready_lab_can_be_answered_to_its_end(study: Opens, name: str) -> None:
    page = study(name)
    questions = lesson(experiments.load(name))
    for number, one in enumerate(questions):
        assert page.regions["end"] == []
        page.do("pick", id="study:course", to=number)
        if one.several:
            for tick in page.all("tick", "question"):
                page.do("tick", id=tick["id"], to=tick["label"] in one.right)
            page.do("press", id="study:check")
        else:
            answer(page, number, next(iter(one.right)) if one.choices else shown(one))
        assert said(page)[1] == "good", one.words
    evidence = page.lab.readings.evidence
    assert evidence is not None
    assert progress(page) == f"{len(questions)} of {len(questions)} answered."
    assert evidence.diagnosis.sentence in page.text("end")
    assert page.all("words", "end")[0]["role"] == "strong"


def test_the_lab_stands_beside_it(study: Opens) -> None:
    page = study()
    (readings,) = page.all("table", "asked-about")
    assert readings["header"] == ["Reading", "bench 1", "bench 2", "bench 3", "bench 4"]
    assert readings["rows"][0] == ["wire before, g", "2.94", "3.19", "3.14", "2.95"]
    assert "A balance reading to 0.01 g" in page.text("asked-about")
    assert "The readings are invented." in page.text("asked-about")


def test_other_readings_have_other_answers(study: Opens) -> None:
    page = study()
    answer(page, 0, "0.12")
    page.lab.readings.set_reading(0, "wire before", "3.94")  # 3.94 − 2.82 = 1.12
    page.do("left", id="")
    assert progress(page) == "0 of 14 answered."
    assert page.control("study:0")["text"] == "0.12"
    assert said(page)[1] == "warning"
    answer(page, 0, "1.12")
    assert progress(page) == "1 of 14 answered."
    page.do("pick", id="study:course", to=6)
    page.do("set", id="study:6", to="2")
    page.lab.readings.load("tin-oxide")
    page.do("left", id="")
    assert progress(page) == "0 of 14 answered."
    assert page.control("study:0")["text"] == ""
    page.do("pick", id="study:course", to=6)  # it also asks for the mole ratio
    assert page.control("study:6")["text"] == ""


def test_a_lab_that_cannot_be_asked_about_keeps_what_was_typed(study: Opens) -> None:
    page = study()
    answer(page, 0, "0.12")
    for trial in range(4):
        page.lab.readings.set_reading(trial, "wire before", "1.00")  # less before than after
    page.do("left", id="")
    assert page.lab.study.answers == ()
    assert "There is nothing to ask about yet." in page.text("question")
    for trial, text in enumerate(("2.94", "3.19", "3.14", "2.95")):
        page.lab.readings.set_reading(trial, "wire before", text)
    page.do("left", id="")
    assert page.control("study:0")["text"] == "0.12"
    assert progress(page) == "1 of 14 answered."


def test_answers_and_hints_are_undone(study: Opens) -> None:
    page = study()
    page.do("set", id="study:0", to="0.1")
    page.do("set", id="study:0", to="0.12")
    page.do("left", id="study:0")
    page.do("press", id="study:hint")
    page.do("press", id="undo")
    assert page.all("list", "question") == []
    assert page.control("study:0")["text"] == "0.12"
    page.do("press", id="undo")
    assert page.control("study:0")["text"] == ""
    page.do("press", id="redo")
    page.do("press", id="redo")
    assert page.control("study:0")["text"] == "0.12"
    assert len(page.all("list", "question")[0]["items"]) == 1


def test_undo_over_another_lab_brings_its_own_answers(study: Opens) -> None:
    page = study()
    answer(page, 0, "0.12")
    page.lab.readings.load("tin-oxide")
    page.lab.readings.set_title("Mine")
    page.do("left", id="")
    page.do("set", id="study:0", to="0.643")
    page.do("press", id="undo")
    assert page.control("study:0")["text"] == ""
    page.do("press", id="undo")  # the title
    assert page.control("study:0")["text"] == ""
    page.do("press", id="undo")  # the other lab
    assert page.control("study:0")["text"] == "0.12"
    assert progress(page) == "1 of 14 answered."


def test_answers_come_back_after_a_restart(study: Opens, tmp_path: Path) -> None:
    first = study(folder=tmp_path)
    answer(first, 0, "0,12")
    first.do("press", id="study:hint")
    first.do("press", id="study:next")
    first.do("set", id="study:1", to="63,x")
    first.lab.close()
    second = study(folder=tmp_path)
    second.do("press", id="restore") if second.lab.kit.offered else None
    assert second.control("study:1")["text"] == "63,x"
    assert progress(second) == "1 of 14 answered."
    second.do("press", id="study:back")
    assert second.control("study:0")["text"] == "0,12"
    assert len(second.all("list", "question")[0]["items"]) == 1


def test_damaged_notes_are_left_out() -> None:
    lab = LabState("copper-silver", autosave=False)
    key = lab.study.answers[0].question.key
    bad = (None, 7, [], {"questions": 7}, {"at": "x", "questions": {key: [1, 2]}},
           {"at": 10**9, "questions": {"nothing": ["x", 1, True, True]}},
           {"at": -3, "questions": {key: ["x", 10**9, False, False]}})  # fmt: skip
    for one in bad:
        lab.study.restore_tables(one)
    assert lab.study.at == 0
    assert lab.study.answers[0].text == "x"
    assert not lab.study.answers[0].more_hints
    assert lab.study.progress == "0 of 14 answered"
    lab.close()


def test_markup_in_a_lab_stays_text(study: Opens) -> None:
    text = experiments.read("copper-silver").replace("bench 1", "<b>1</b>")
    page = study(text)
    assert "<b>1</b>" in page.all("table", "asked-about")[0]["header"]


def test_a_saved_notebook_holds_no_answer(study: Opens) -> None:
    """Neither the picture that stays nor the line of text says what is asked for."""
    from stoichkit.widgets.view.still import still_html

    page = study()
    page.frame.show("study")
    questions = lesson(experiments.load("copper-silver"))
    for number, one in enumerate(questions):
        page.do("pick", id="study:course", to=number)
        if one.several:
            for tick in page.all("tick", "question"):
                page.do("tick", id=tick["id"], to=tick["label"] in one.right)
            page.do("press", id="study:check")
        else:
            answer(page, number, next(iter(one.right)) if one.choices else shown(one))
        while page.control("study:hint")["enabled"]:
            page.do("press", id="study:hint")
        still = still_html(page.frame)
        for text in (shown(one), *one.right):
            bare = text.split(" ")[0] if not one.choices else text
            if len(bare) < 4:
                continue  # found in any reading
            assert bare not in still, (one.words, bare)
        assert "Right." not in still
    assert "single out" not in still
    assert "14 of 14 answered" in still
    assert "wire before" in still  # the readings stay
    screen = page.frame.screens["study"]
    assert screen.still_words == f"{page.lab.experiment.title}: 14 of 14 answered."


def test_a_practice_lab_shows_its_readings_after_the_prediction(study: Opens) -> None:
    from stoichkit.experiments.practice_labs import practice

    page = study()
    lab = practice(2, level=2)
    page.do("set", id="study:id", to="ABC")
    page.do("press", id="study:open")
    assert page.control("study:id")["text"] == "ABC"  # what was typed is kept
    page.do("set", id="study:id", to=lab.id)
    page.do("press", id="study:open")
    assert page.focus == "study:guess"
    assert page.regions["question"] == []
    assert page.regions["way"] == []
    assert page.all("table", "asked-about") == []
    assert not page.control("study:predict")["enabled"]
    choice = page.control("study:guess")["options"][1][0]
    page.do("set", id="study:guess", to=choice)
    page.do("step", id="study:place", to=0)
    page.do("press", id="study:predict")
    assert page.focus == "study:0"
    assert page.all("table", "asked-about")[0]["rows"]
    assert page.all("picture", "question") == []


def test_the_way_is_drawn_without_telling_the_verdict(study: Opens) -> None:
    page = study()
    questions = lesson(experiments.load("copper-silver"))
    for number, one in enumerate(questions):
        page.do("pick", id="study:course", to=number)
        page.do("left", id="")
        pictures = page.all("picture", "way")
        expected = one.topic not in ("Consumed", "Produced")
        assert bool(pictures) is expected, one.topic
        for picture in pictures:
            said = picture["alt"] + picture["title"]
            assert "ingled" not in said
            fan = one.topic in ("What the instruments can resolve", "The verdict")
            assert ("fan" in said) is fan
            assert ("Rays" in said) is (one.topic == "The verdict")


def test_the_electrons_of_a_plating_lab_are_told_in_millimoles() -> None:
    """Worked out by hand, I·t/F with F = 96485 C/mol (CODATA): the mean of four trials.

    0.38 A · 1497 s = 569 C, 0.41 · 1800 = 738, 0.52 · 1499 = 779, 0.56 · 1798 = 1007; their mean is
    773 C, which is 0.0080 mol.
    """
    said = StudyScreen(LabState("copper-plating", autosave=False))._design()
    assert said == (
        "4 trials with a balance that shows steps of 0.001 g. About 8 mmol of electrons pass in "
        "each."
    )


def test_progress_is_saved_and_gone_on_with(study: Opens) -> None:
    page = study()
    answer(page, 0, "-0.12")
    kept = page.all("kept", "progress")[0]["text"]
    assert '"subtracted the wrong way round": 1' in kept
    page.do("press", id="study:save")
    other = study("tin-oxide")
    data = base64.b64encode(kept.encode()).decode()
    other.do("file", id="study:load", name="progress.json", base64=data)
    assert other.lab.study.progress_record == page.lab.study.progress_record
    other.do("file", id="study:load", name="x.json", base64=base64.b64encode(b"\xff").decode())
    assert other.lab.study.progress_record == page.lab.study.progress_record
