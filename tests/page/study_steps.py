"""A practice lab worked through by keyboard, on a page beside a kernel or without a server."""

from __future__ import annotations

import os
import re
from typing import Any, Protocol

from stoichkit.experiments.practice_labs import practice
from stoichkit.reports.study import lesson


class Shown(Protocol):
    """A page that shows the screen Study."""

    page: Any

    def settle(self) -> None:
        """Wait until all that follows is shown."""

    def text(self, selector: str) -> str:
        """Return what an element shows."""

    def focused(self) -> str:
        """Return the id of the control that has the focus."""


def picture(one: Shown, name: str, width: int) -> None:
    """Write what is seen into the folder that PICTURES names, to be looked at."""
    if folder := os.environ.get("PICTURES"):
        one.page.screenshot(path=f"{folder}/{name}-{width}.png", full_page=True)


def tab_to(one: Shown, control: str) -> None:
    """Move with the Tab key until a control has the focus."""
    for _ in range(120):
        if one.focused() == control:
            return
        one.page.keyboard.press("Tab")
    raise AssertionError(f"{control} cannot be reached by keyboard")


def placed_g(one: Shown) -> float:
    """Return the step that the slider shows, g."""
    slider = one.page.locator('[data-control="study:place"]')
    return float(slider.get_attribute("aria-valuetext").split()[0])


def press(one: Shown, control: str) -> None:
    tab_to(one, control)
    one.page.keyboard.press("Enter")
    one.settle()


def open_by_id(one: Shown, name: str) -> None:
    """Open a practice lab by its id, which is mistyped at first."""
    keys = one.page.keyboard
    tab_to(one, "study:id")
    keys.type(name[:-1] + ("2" if name[-1] != "2" else "3"))
    keys.press("Enter")
    one.settle()
    assert "mistyped" in one.text(".said")
    keys.press("Control+A")
    keys.type(name.lower())
    keys.press("Enter")
    one.settle()


def work_through(one: Shown, name: str, width: int) -> None:
    """Predict, look, answer every question, and read the explanation."""
    keys = one.page.keyboard
    assert name in one.text(".r-practice")

    # predict: the readings are not there yet
    lab = practice(name)
    assert "The readings are shown after your prediction." in one.text(".r-asked-about")
    reading = next(iter(lab.experiment.trials[0].readings.values()))[-1]
    assert reading not in one.page.locator("#root").inner_text()
    assert one.page.locator(".r-question .block, .r-question h2").count() == 0
    assert one.focused() == "study:guess"
    picture(one, "predict", width)
    keys.press("ArrowDown")
    one.settle()
    tab_to(one, "study:place")
    before = placed_g(one)
    keys.press("ArrowRight")
    one.settle()
    assert placed_g(one) > before
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
            solved = one.page.locator(".r-course tbody tr").nth(number).inner_text()
            assert solved.strip().endswith("answered"), question.words
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
