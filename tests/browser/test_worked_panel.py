"""“Worked solution” in JupyterLab, by keyboard and by mouse, in light and dark."""

from __future__ import annotations

from typing import Any

import pytest

from .harness import DARK, counts, expect_text, settles

pytestmark = pytest.mark.browser

NOTEBOOK = "worked-solution.ipynb"
PANEL = ".stoichkit-panel"
SOLUTION = f"{PANEL} .worked-solution"
SOURCE = f"{PANEL} pre.stoichkit-source"
LATEX = ".jp-RenderedLatex mjx-container"
READ = """(box) => [...box.querySelectorAll("mjx-assistive-mml mn, mjx-assistive-mml mi")]
  .map((e) => e.textContent).join("")"""
OVERFLOW = """(panel) => [...panel.querySelectorAll("*")].filter((e) => {
  const box = e.getBoundingClientRect(), whole = panel.getBoundingClientRect();
  return box.width > 2 && (box.right > whole.right + 1 || box.left < whole.left - 1);
}).map((e) => e.outerHTML.slice(0, 120))"""
CUT_OFF = """(panel) => [...panel.querySelectorAll("label, button, input[type=text]")].filter((e) =>
  e.clientWidth > 2 && e.scrollWidth > e.clientWidth + 1).map((e) => e.outerHTML.slice(0, 160))"""


def control(page: Any, role: str, name: str) -> Any:
    return page.locator(PANEL).get_by_role(role, name=name, exact=True)


@pytest.fixture
def worked(open_notebook: Any) -> Any:
    page = open_notebook(NOTEBOOK, height=3000)
    expect_text(page, SOLUTION, "Trial bench 1")
    return page


def test_a_solution_by_keyboard(worked: Any, server: Any, shot: Any, violations: Any) -> None:
    page = worked
    shot(page.locator(PANEL), "worked-html")
    control(page, "combobox", "Trial").focus()
    page.keyboard.press("ArrowDown")
    expect_text(page, SOLUTION, "Trial bench 2")
    page.keyboard.press("Tab")
    assert page.evaluate("() => document.activeElement.labels[0].textContent") == (
        "Percent yield of"
    )
    page.keyboard.type("copper(I)")  # letters are no commands of the notebook here
    expect_text(page, SOLUTION, "For copper(I) the percent yield is 207 %")
    page.keyboard.press("Tab")
    page.keyboard.press("ArrowDown")
    expect_text(page, SOURCE, r"\section*{Worked solution: Copper wire in silver nitrate}")
    shot(page.locator(PANEL), "worked-latex-source")
    page.keyboard.press("ArrowDown")
    expect_text(page, SOURCE, "# Worked solution")
    page.keyboard.press("ArrowDown")
    expect_text(page, SOURCE, "=====")
    page.keyboard.press("Tab")
    assert page.evaluate("() => document.activeElement.getAttribute('aria-label')") == (
        "Worked solution, Plain text"
    )
    page.keyboard.press("Tab")
    page.keyboard.press("Control+A")
    page.keyboard.type("mine.html")
    control(page, "button", "Save the report").press("Enter")
    expect_text(page, PANEL, "Saved: ")
    assert (server.folder / "mine.html").read_text("utf-8").startswith("<!DOCTYPE html>")
    field = control(page, "textbox", "Save the worked solution as")
    field.focus()
    page.keyboard.press("Control+A")
    page.keyboard.type("mine.doc")
    control(page, "button", "Save the worked solution").press("Enter")
    expect_text(page, PANEL, "a name that ends in .html, .md, .txt or .tex")
    field.fill("mine.tex")
    control(page, "button", "Save the worked solution").press("Enter")
    page.get_by_text("mine.tex", exact=False).wait_for()
    page.wait_for_function(
        "(s) => document.querySelector(s).innerText.includes('Saved: ')", arg=PANEL
    )
    assert (server.folder / "mine.tex").read_text("utf-8").startswith(r"\documentclass")
    assert violations(page, PANEL) == []


def test_formulas_ready_experiments_and_half_the_width(
    worked: Any, violations: Any, shot: Any
) -> None:
    """640 pixels are what 200 % zoom leaves of 1280."""
    page = worked
    page.locator(LATEX).first.wait_for()
    assert page.locator(f"{LATEX} mjx-mfrac").count() >= 4
    counts(page.locator(f"{LATEX} mjx-merror"), 0)
    assert "99.608%" in page.locator(LATEX).first.evaluate(READ).replace(" ", "")
    shot(page.locator(".jp-RenderedLatex").first, "worked-math")
    choice = control(page, "combobox", "Ready experiment (invented readings)")
    for name, words in (("magnesium-gas", "dry gas pressure"), ("hydrate-heating", "mass of MgSO")):
        label = [o for o in page.locator(f"{PANEL} option").all_inner_texts() if f"({name})" in o]
        choice.select_option(label=label)
        expect_text(page, SOLUTION, words)
        shot(page.locator(PANEL), f"worked-{name}")
    page.set_viewport_size({"width": 640, "height": 4200})
    page.wait_for_function("(s) => document.querySelector(s).clientWidth < 600", arg=PANEL)
    shot(page.locator(PANEL), "worked-narrow")
    assert settles(page.locator(PANEL), OVERFLOW) == []
    assert settles(page.locator(PANEL), CUT_OFF) == []
    assert violations(page, PANEL) == []


def test_a_dark_theme_does_not_swallow_the_text(
    open_notebook: Any, violations: Any, shot: Any
) -> None:
    page = open_notebook(NOTEBOOK, theme=DARK)
    page.wait_for_selector('body[data-jp-theme-light="false"]', state="attached")
    expect_text(page, SOLUTION, "Trial bench 1")
    shot(page.locator(PANEL), "worked-dark")
    assert violations(page, PANEL) == []


def test_the_notebook_reads_without_a_kernel(open_notebook: Any, shot: Any) -> None:
    page = open_notebook(NOTEBOOK, run=False, height=5200)
    page.locator(LATEX).first.wait_for()
    picture = page.locator(".jp-OutputArea img[alt]").first
    picture.wait_for(state="attached")
    assert len(picture.get_attribute("alt")) > 100
    shot(page.locator(".jp-Notebook"), "worked-static")
