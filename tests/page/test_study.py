"""One practice lab worked through by keyboard: predict, look, answer, be told why."""

from __future__ import annotations

import os
from collections.abc import Callable

import pytest

from stoichkit.experiments.practice_labs import practice
from stoichkit.widgets.state.lab import LabState
from stoichkit.widgets.view.frame import Frame
from stoichkit.widgets.view.study import StudyScreen

from .live import Live
from .practising import work_through

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


@pytest.mark.parametrize("width", [1440, 480])
def test_a_practice_lab_by_keyboard(live: Opens, width: int) -> None:
    one = opened(live, width)
    work_through(one, practice(ID), lambda name: picture(one, name, width))
    assert one.lab is not None
    assert one.lab.study.finished
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
