"""“Class” in JupyterLab: a class read by keyboard, a file uploaded by mouse, and accessible."""

from __future__ import annotations

from typing import Any

import pytest

from tests.classfiles import ROWS, csv_bytes

from .harness import DARK, counts, expect_text, holds, settles

pytestmark = pytest.mark.browser

NOTEBOOK = "class-results.ipynb"
PANEL = ".stoichkit-panel"
VERDICT = f"{PANEL} .stoichkit-verdict"
OVERFLOW = """(panel) => [...panel.querySelectorAll("*")].filter((e) => {
  const box = e.getBoundingClientRect(), whole = panel.getBoundingClientRect();
  const scrolled = e.closest(".stoichkit-wide, .stoichkit-cell");
  return !scrolled && box.width > 2 && (box.right > whole.right + 1 || box.left < whole.left - 1);
}).map((e) => e.outerHTML.slice(0, 120))"""

LAST_CELL = """async () => {
  const notebook = window.jupyterapp.shell.currentWidget.content;
  await notebook.scrollToItem(notebook.widgets.length - 1, "start");
}"""


def control(page: Any, kind: str, name: str) -> Any:
    return page.locator(PANEL).get_by_role(kind, name=name, exact=True)


def opened(open_notebook: Any, **size: int) -> Any:
    page = open_notebook(NOTEBOOK, **{"height": 5200, **size})
    page.set_default_timeout(60_000)
    page.evaluate(LAST_CELL)
    expect_text(page, VERDICT, "Open the file of a class, or load the invented one.")
    return page


def test_the_invented_class_by_keyboard(open_notebook: Any, shot: Any, violations: Any) -> None:
    page = opened(open_notebook)
    button = control(page, "button", "Load the invented class")
    button.focus()
    page.keyboard.press("Enter")
    expect_text(page, VERDICT, "Together the 9 groups single out copper(II).")
    expect_text(page, PANEL, "Up to date.")
    expect_text(page, PANEL, "The cell is empty.")
    counts(page.locator(f"{PANEL} svg[role=img]"), 3)
    holds(control(page, "combobox", "Group"), "plum")
    control(page, "combobox", "Group").focus()
    page.keyboard.press("ArrowDown")
    expect_text(page, PANEL, "slate: verdict")
    control(page, "button", "Answer key").press("Enter")
    expect_text(page, PANEL, "An answer is accepted within one unit")
    control(page, "combobox", "Order of the groups").focus()
    page.keyboard.press("ArrowDown")
    expect_text(page, PANEL, "9 groups, p of the best candidate")
    shot(page.locator(PANEL), "class")
    assert settles(page.locator(PANEL), OVERFLOW) == []
    assert violations(page, PANEL) == []


def test_a_file_by_mouse_in_the_dark(
    server: Any, open_notebook: Any, shot: Any, violations: Any
) -> None:
    page = opened(open_notebook, width=868, height=6400, theme=DARK)
    page.wait_for_selector('body[data-jp-theme-light="false"]', state="attached")
    header = ("who", "trial", "before", "wire after / g", "paper / g", "paper + silver / g")
    rows = [*ROWS[:-1], ("<b>green</b>", "1", "3.02", "2.9x", "0.71", "1.05")]
    with page.expect_file_chooser() as choosing:
        page.locator(PANEL).get_by_role("button", name="Open a CSV or XLSX file").click()
    choosing.value.set_files(
        {"name": "tuesday.csv", "mimeType": "text/csv", "buffer": csv_bytes(rows, header)}
    )
    expect_text(page, PANEL, "Not worked out: No column was found for “wire before”.")
    shot(page.locator(PANEL), "class-refused")
    control(page, "combobox", "Column of wire before, g").select_option(label="C (before)")
    control(page, "combobox", "Column of the group").select_option(label="A (who)")
    expect_text(page, VERDICT, "Together the 2 groups single out copper(II).")
    expect_text(page, PANEL, "Up to date.")
    expect_text(page, PANEL, "2.9x")
    control(page, "checkbox", "Codes G01, G02, … instead of names").click()
    expect_text(page, PANEL, "G01: verdict")
    expect_text(page, PANEL, "Up to date.")
    assert "green" not in page.locator(PANEL).inner_text()
    control(page, "combobox", "What to save").select_option(label="results of each group")
    control(page, "button", "Save").click()
    expect_text(page, PANEL, "Saved: ")
    assert (server.folder / "class-results.xlsx").stat().st_size > 1000
    control(page, "button", "Save").click()
    expect_text(page, PANEL, "A file of this name exists already; it was not changed.")
    shot(page.locator(PANEL), "class-dark")
    assert settles(page.locator(PANEL), OVERFLOW) == []
    assert violations(page, PANEL) == []
