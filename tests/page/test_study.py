"""One practice lab worked through by keyboard: predict, look, answer, be told why."""

from __future__ import annotations

import os
import re
from collections.abc import Callable

import pytest

from stoichkit.experiments.practice_labs import practice
from stoichkit.reports.study import lesson
from stoichkit.widgets.state.lab import LabState
from stoichkit.widgets.view.frame import Frame
from stoichkit.widgets.view.study import StudyScreen

from .live import Live

pytestmark = pytest.mark.browser
Opens = Callable[..., Live]
ID = practice(4, level=3).id


def opened(live: Opens, width: int, source: str = "copper-silver") -> Live:
    lab = LabState(source, autosave=False)
    frame = Frame([StudyScreen(lab)])
    frame.screens["study"].frame = frame
    one = live(frame=frame, width=width)
    one.lab = lab
    return one


def picture(one: Live, name: str, width: int) -> None:
    """Write what is seen into the folder that PICTURES names, to be looked at."""
    if folder := os.environ.get("PICTURES"):
        one.page.screenshot(path=f"{folder}/{name}-{width}.png", full_page=True)


def tab_to(one: Live, control: str) -> None:
    """Move with the Tab key until a control has the focus."""
    for _ in range(120):
        if one.focused() == control:
            return
        one.page.keyboard.press("Tab")
    raise AssertionError(f"{control} cannot be reached by keyboard")


def press(one: Live, control: str) -> None:
    tab_to(one, control)
    one.page.keyboard.press("Enter")
    one.settle()


@pytest.mark.parametrize("width", [1440, 480])
def test_a_practice_lab_by_keyboard(live: Opens, width: int) -> None:
    one = opened(live, width)
    keys = one.page.keyboard
    tab_to(one, "study:id")
    keys.type(ID[:-1] + ("2" if ID[-1] != "2" else "3"))
    keys.press("Enter")
    one.settle()
    assert "mistyped" in one.text(".said")
    keys.press("Control+A")
    keys.type(ID.lower())
    keys.press("Enter")
    one.settle()
    assert ID in one.text(".r-practice")

    # predict: the readings are not there yet
    lab = practice(ID)
    assert "The readings are shown after your prediction." in one.text(".r-asked-about")
    reading = next(iter(lab.experiment.trials[0].readings.values()))[-1]
    assert reading not in one.page.locator("#root").inner_text()
    assert one.page.locator(".r-question .block, .r-question h2").count() == 0
    assert one.focused() == "study:guess"
    picture(one, "predict", width)
    keys.press("ArrowDown")
    one.settle()
    assert one.lab is not None
    before = one.lab.study.placed_g
    tab_to(one, "study:place")
    keys.press("ArrowRight")
    one.settle()
    assert one.lab.study.placed_g > before
    press(one, "study:predict")
    assert reading in one.text(".r-asked-about")
    assert one.focused() == "study:0"

    # a wrong answer gets its reason, a right one goes on
    questions = lesson(lab.experiment)
    wrong = f"-{questions[0].value:.6g}"
    keys.type(wrong)
    keys.press("Enter")
    one.settle()
    assert "sign" in one.text(".r-question")
    picture(one, "reason", width)
    keys.press("Control+A")
    for number, question in enumerate(questions):
        if question.several:
            for place, choice in enumerate(question.choices):
                if choice in question.right:
                    tab_to(one, f"study:{number}:{place}")
                    keys.press("Space")
            picture(one, "fan", width)
            press(one, "study:check")
        elif question.choices:
            wrong_choice = next(c for c in question.choices if c not in question.right)
            for choice in (wrong_choice, next(iter(question.right))):
                tab_to(one, f"study:{number}")
                one.page.locator(f'[data-control="study:{number}"]').select_option(choice)
                press(one, "study:check")
        else:
            assert one.focused() == f"study:{number}", question.words
            keys.type(re.split(" [=≈] ", question.answer)[0])
            keys.press("Enter")
            one.settle()
        if number + 1 < len(questions):
            assert one.lab.study.answers[number].solved, question.words
            press(one, "study:next")

    # the explanation
    end = one.text(".r-end")
    assert "The truth: the readings were drawn from" in end
    assert "in 100 single out the truth" in end
    assert "You said" in end
    assert one.page.locator(".r-way svg").count() == 1
    picture(one, "end", width)
    wide = one.page.evaluate("() => document.documentElement.scrollWidth")
    assert wide <= width


def test_the_browser_keeps_the_progress(live: Opens) -> None:
    one = opened(live, 1440)
    one.page.locator('[data-control="study:0"]').fill("-0.12")
    one.page.keyboard.press("Enter")
    one.settle()
    kept = one.page.evaluate("() => window.localStorage.getItem('stoichkit.progress')")
    assert '"subtracted the wrong way round": 1' in kept

    # another kernel, the same browser
    assert one.lab is not None
    lab = LabState("tin-oxide", autosave=False)
    frame = Frame([StudyScreen(lab)])
    two = Live(one.page, lab, frame)
    two.settle()
    assert [done.lab for done in lab.study.progress_record.labs] == [one.lab.experiment.title]
    lab.close()
