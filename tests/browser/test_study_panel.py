"""“Self-study” in JupyterLab: answered by keyboard and by mouse, and accessible."""

from __future__ import annotations

from typing import Any

import pytest

from .harness import DARK, expect_text, holds

pytestmark = pytest.mark.browser

NOTEBOOK = "self-study.ipynb"
PANEL = ".stoichkit-panel"
PROGRESS = f"{PANEL} .stoichkit-verdict"


@pytest.fixture
def study(open_notebook: Any) -> Any:
    page = open_notebook(NOTEBOOK, height=3000)
    expect_text(page, PROGRESS, "0 of 13 answered")
    return page


def test_a_question_by_keyboard(study: Any, shot: Any, violations: Any) -> None:
    page = study
    field = page.locator(PANEL).get_by_role("textbox", name="1. What is the mass of Cu")
    field.focus()
    page.keyboard.type("-0,12")
    page.keyboard.press("Tab")
    page.keyboard.press("Enter")
    expect_text(page, PANEL, "The sign is wrong")
    page.keyboard.press("Tab")
    page.keyboard.press("Enter")
    expect_text(page, PANEL, "It is wire before − wire after.")
    field.focus()
    page.keyboard.press("Control+A")
    page.keyboard.type("0,12 g")
    page.keyboard.press("Tab")
    page.keyboard.press("Enter")
    expect_text(page, PROGRESS, "1 of 13 answered")
    holds(field, "0,12 g")
    shot(page.locator(PANEL), "study")
    assert violations(page, PANEL) == []


def test_the_verdict_by_mouse_in_the_dark(open_notebook: Any, shot: Any, violations: Any) -> None:
    page = open_notebook(NOTEBOOK, height=3000, theme=DARK)
    page.wait_for_selector('body[data-jp-theme-light="false"]', state="attached")
    expect_text(page, PROGRESS, "0 of 13 answered")
    panel = page.locator(PANEL)
    panel.get_by_role("checkbox", name="copper(I)", exact=True).click()
    panel.get_by_role("button", name="Check answer 12", exact=True).click()
    expect_text(page, PROGRESS, "1 of 13 answered")
    panel.get_by_role("combobox", name="Your conclusion").select_option(
        label="the readings single out one candidate"
    )
    panel.get_by_role("button", name="Check answer 13", exact=True).click()
    expect_text(page, PROGRESS, "2 of 13 answered")
    shot(panel, "study-dark")
    assert violations(page, PANEL) == []
