"""The steps through a practice lab by keyboard alone, wherever the screen “Study” is shown."""

from __future__ import annotations

import re
from collections.abc import Callable
from typing import Any, Protocol

from stoichkit.experiments.practice_labs import PracticeLab
from stoichkit.reports.question import Question
from stoichkit.reports.study import lesson

MOST_TABS = 120


class Screen(Protocol):
    """A screen in a browser, and how to wait until what was done is shown."""

    page: Any

    def settle(self) -> None:
        """Wait until everything that was done is shown."""

    def text(self, selector: str) -> str:
        """Return what an element shows."""

    def focused(self) -> str:
        """Return the id of the control that has the focus."""


def tab_to(one: Screen, control: str) -> None:
    """Move with the Tab key until a control has the focus."""
    for _ in range(MOST_TABS):
        if one.focused() == control:
            return
        one.page.keyboard.press("Tab")
    raise AssertionError(f"{control} cannot be reached by keyboard")


def press(one: Screen, control: str) -> None:
    """Press a button by Enter."""
    tab_to(one, control)
    one.page.keyboard.press("Enter")
    one.settle()


def choose(one: Screen, control: str, place: int) -> None:
    """Choose from a list by arrow keys; 0 is “choose”."""
    tab_to(one, control)
    one.page.keyboard.press("Home")
    one.settle()
    for _ in range(place):
        one.page.keyboard.press("ArrowDown")
        one.settle()
    chosen = one.page.evaluate("() => document.activeElement.selectedIndex")
    assert chosen == place, control


def shown(question: Question) -> str:
    """Return the answer as it is shown, as somebody would type it."""
    return re.split(" [=≈] ", question.answer)[0]


def open_lab(one: Screen, lab: PracticeLab) -> None:
    """Type the id, first with a mistake in it."""
    keys, name = one.page.keyboard, lab.id
    tab_to(one, "study:id")
    keys.type(name[:-1] + ("2" if name[-1] != "2" else "3"))
    keys.press("Enter")
    one.settle()
    assert "mistyped" in one.text(".said")
    keys.press("Control+A")
    keys.type(name.lower())
    keys.press("Enter")
    one.settle()
    assert name in one.text(".r-practice")


def predict(one: Screen, lab: PracticeLab, picture: Callable[[str], None]) -> None:
    """Say whether the balance will tell; the readings are not there before."""
    keys = one.page.keyboard
    assert "The readings are shown after your prediction." in one.text(".r-asked-about")
    reading = next(iter(lab.experiment.trials[0].readings.values()))[-1]
    assert reading not in one.text(".page")
    assert one.page.locator(".r-question .block, .r-question h2").count() == 0
    assert one.focused() == "study:guess"
    picture("predict")
    choose(one, "study:guess", 1)
    tab_to(one, "study:place")
    before = placed_g(one)
    keys.press("ArrowRight")
    one.settle()
    assert placed_g(one) > before
    press(one, "study:predict")
    assert reading in one.text(".r-asked-about")
    assert one.focused() == "study:0"


def placed_g(one: Screen) -> float:
    said = one.page.evaluate("() => document.activeElement.getAttribute('aria-valuetext')")
    return float(said.split()[0])


def answer_all(one: Screen, lab: PracticeLab, picture: Callable[[str], None]) -> None:
    """Answer every question, the first and the conclusion wrongly before."""
    keys = one.page.keyboard
    questions = lesson(lab.experiment)
    keys.type(f"-{questions[0].number.value:.6g}")
    keys.press("Enter")
    one.settle()
    assert "Not yet" in one.text(".r-question")
    picture("reason")
    keys.press("Control+A")
    for number, question in enumerate(questions):
        if question.several:
            for place, choice in enumerate(question.choices):
                if choice in question.right:
                    tab_to(one, f"study:{number}:{place}")
                    keys.press("Space")
                    one.settle()
            picture("fan")
            press(one, "study:check")
        elif question.choices:
            right = question.choices.index(next(iter(question.right)))
            wrong = next(i for i in range(len(question.choices)) if i != right)
            choose(one, f"study:{number}", wrong + 1)
            press(one, "study:check")
            assert "Not yet" in one.text(".r-question")
            choose(one, f"study:{number}", right + 1)
            press(one, "study:check")
        else:
            assert one.focused() == f"study:{number}", question.words
            keys.type(shown(question))
            keys.press("Enter")
            one.settle()
        if number + 1 < len(questions):
            assert "Right" in one.text(".r-question"), question.words
            press(one, "study:next")


def explained(one: Screen, lab: PracticeLab) -> None:
    """Read at the end what is true, and whether the prediction held."""
    end = one.text(".r-end")
    assert "The truth: the readings were drawn from" in end
    assert "in 100 single out the truth" in end
    assert "You said" in end
    if lab.fault is not None:
        assert lab.fault.words in end
    assert one.page.locator(".r-way svg").count() == 1


def work_through(one: Screen, lab: PracticeLab, picture: Callable[[str], None]) -> None:
    """Go through a practice lab from its id to the explanation, by keyboard alone."""
    open_lab(one, lab)
    predict(one, lab, picture)
    answer_all(one, lab, picture)
    explained(one, lab)
    picture("end")
