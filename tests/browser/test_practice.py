"""A practice lab in JupyterLab, from the prediction to the explanation, by keyboard alone."""

from __future__ import annotations

import json
import os
from dataclasses import dataclass
from typing import Any

import pytest

from stoichkit.experiments.practice_labs import practice
from stoichkit.reports.study import lesson
from tests.page.practising import shown, work_through

from .harness import STEP_MS, Pages, saved_notebook

pytestmark = pytest.mark.browser

CODE = "from stoichkit.widgets import study_panel\n\nstudy_panel(autosave=False)"
LABS = {1440: practice(3, level=3, kind="titration"), 480: practice(4, level=3)}
FOCUSED = "() => document.activeElement?.dataset?.control || ''"
ROOT = ".stoichkit"


@dataclass
class Shown:
    """The screen in a notebook, or on a page of Voilà, while a kernel is behind it."""

    page: Any

    def settle(self) -> None:
        """Wait until the kernel has answered what was done, and the page shows it."""
        self.page.wait_for_timeout(60)  # until the page has drawn that it waits
        self.page.wait_for_selector(f"{ROOT} .page.settled", timeout=STEP_MS)

    def text(self, selector: str) -> str:
        """Return what an element shows."""
        return str(self.page.locator(f"{ROOT} {selector}").first.inner_text())

    def focused(self) -> str:
        """Return the id of the control that has the focus."""
        return str(self.page.evaluate(FOCUSED))


@pytest.mark.slow  # minutes: each key waits for the kernel; tests/page does the same without one
@pytest.mark.parametrize("width", [1440, 480])
def test_a_practice_lab_by_keyboard(pages: Pages, width: int) -> None:
    lab = LABS[width]
    page = pages.open("practice.ipynb", code=CODE, width=width, height=3400)
    page.wait_for_selector(f"{ROOT} .page.settled")
    page.locator(f"{ROOT} button").first.focus()

    def picture(name: str) -> None:
        if folder := os.environ.get("STOICHKIT_SHOTS"):
            page.locator(ROOT).first.screenshot(path=f"{folder}/lab-{name}-{width}.png")

    work_through(Shown(page), lab, picture)

    # what is saved holds the lab, but neither its answers nor what was said about them
    saved = saved_notebook(page, pages.server.folder)
    outputs = json.dumps(saved, ensure_ascii=False)
    assert lab.id in outputs
    readings = json.dumps(
        [lab.experiment.about, [dict(trial.readings) for trial in lab.experiment.trials]],
        ensure_ascii=False,
    )
    for question in lesson(lab.experiment):
        answer = shown(question)
        for text in (answer, *(question.right if question.choices else (answer.split(" ")[0],))):
            names = {candidate.name for candidate in lab.experiment.candidates}
            if len(text) >= 4 and text not in readings and text not in names:
                assert text not in outputs, (question.words, text)
    for said in ("Right.", "Not yet", "The truth", "drawn from", "single out", "You said"):
        assert said not in outputs, said
