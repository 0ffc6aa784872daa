"""“Causes” in JupyterLab: by keyboard, beside the readings panel, accessible, light and dark."""

from __future__ import annotations

from typing import Any

import pytest

from .harness import DARK, counts, holds, settles

pytestmark = pytest.mark.browser

NOTEBOOK = "why-is-it-off.ipynb"
PANEL = ".stoichkit-panel"
OVERFLOW = """(panel) => [...panel.querySelectorAll("*")].filter((e) => {
  const box = e.getBoundingClientRect(), whole = panel.getBoundingClientRect();
  const scrolled = e.closest("[style*='overflow-x']");
  return !scrolled && box.width > 2 && (box.right > whole.right + 1 || box.left < whole.left - 1);
}).map((e) => e.outerHTML.slice(0, 120))"""


def first_panel(page: Any) -> Any:
    """Return the causes panel of the wet lab, once everything in it was worked out."""
    panel = page.locator(PANEL).first
    panel.get_by_text("Up to date.").wait_for()
    return panel


def pick(panel: Any, name: str) -> Any:
    return panel.get_by_role("combobox", name=name, exact=True)


def test_the_main_task_by_keyboard(open_notebook: Any, shot: Any, violations: Any) -> None:
    page = open_notebook(NOTEBOOK, height=3400)
    panel = first_panel(page)
    panel.get_by_text("copper(II) does not fit as the readings stand").first.wait_for()
    shot(panel, "causes")
    pick(panel, "Candidate").focus()
    page.keyboard.press("ArrowUp")  # from copper(II) to copper(I)
    panel.get_by_text("Effects on copper(I), one at a time").wait_for()
    page.keyboard.press("ArrowDown")
    panel.get_by_text("Effects on copper(II), one at a time").wait_for()
    page.keyboard.press("Tab")
    page.keyboard.type("AgNO3")
    panel.get_by_text("Yes: the masses allow up to").first.wait_for()
    second = pick(panel, "Second effect")
    second.focus()
    page.keyboard.type("metal damp")
    panel.locator("svg[aria-label^='Plane: '][aria-label*='metal damp']").wait_for()
    lines = panel.get_by_role("textbox", name="Weighings while drying: min and g, one a line")
    lines.focus()
    page.keyboard.type("0 1.21\n10 1.18\n20")
    panel.get_by_text("Not used: Line 3").wait_for()
    page.keyboard.type(" 1.16\n40 1.15")
    panel.get_by_text("Weigh next at about").wait_for()
    holds(lines, "0 1.21\n10 1.18\n20 1.16\n40 1.15")
    holds(pick(panel, "Balance they were made on"), "balance")
    counts(panel.locator("svg[role=img]"), 2)
    assert settles(panel, OVERFLOW) == []
    shot(panel, "causes-done")
    assert violations(page, PANEL) == []


def test_a_slip_is_corrected_in_the_readings_panel_in_the_dark(
    open_notebook: Any, shot: Any, violations: Any
) -> None:
    page = open_notebook(NOTEBOOK, width=868, height=4200, theme=DARK)
    page.wait_for_selector('body[data-jp-theme-light="false"]', state="attached")
    first_panel(page)
    readings, causes = page.locator(PANEL).nth(1), page.locator(PANEL).nth(2)
    causes.get_by_text("Trial bench 3, wire before: 1.34 does not agree").wait_for()
    shot(causes, "causes-dark-narrow")
    assert settles(causes, OVERFLOW) == []
    field = readings.get_by_role("textbox", name="bench 3: wire before, g")
    holds(field, "1.34")
    field.focus()
    page.keyboard.press("Control+A")
    page.keyboard.type("3,14")
    causes.get_by_text("No slip was found").wait_for()
    causes.get_by_text("Up to date.").wait_for()
    holds(field, "3,14")
    assert violations(page, PANEL) == []


def test_the_notebook_reads_without_a_kernel(open_notebook: Any, shot: Any) -> None:
    page = open_notebook(NOTEBOOK, run=False, height=6000)
    pictures = page.locator(".jp-OutputArea img[alt]")
    pictures.nth(1).wait_for(state="attached")
    counts(pictures, 2)
    for i in range(2):
        pictures.nth(i).evaluate("(e) => e.decode()")  # fails on a broken picture
        assert len(pictures.nth(i).get_attribute("alt")) > 100
    page.get_by_text("CuSO4·7H2O").first.wait_for(state="attached")
    shot(page.locator(".jp-Notebook"), "causes-static")
