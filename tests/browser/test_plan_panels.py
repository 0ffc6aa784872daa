"""“What the balance can tell” and “Plan a lab” in JupyterLab, by keyboard and by mouse."""

from __future__ import annotations

import re
import statistics
from collections.abc import Callable
from typing import Any

import pytest

from .harness import DARK, counts, expect_text, holds, settles

pytestmark = pytest.mark.browser

BALANCE = "can-the-balance-tell.ipynb"
PLAN = "plan-a-lab.ipynb"
CELL = "from stoichkit.widgets import {0}\npanel = {0}('copper-silver')\npanel"
"""The panel alone, without the pages that its notebook works out below it."""
PANEL = ".stoichkit-panel"
VERDICT = f"{PANEL} .stoichkit-verdict"
PICTURE = f"{PANEL} svg[role=img]"
READABILITY = "Readability of the balance"
ROUNDS = 24

WATCH = """() => {
  const pane = document.querySelector(".stoichkit-panel svg[role=img]").closest(".widget-html");
  window.roundTrips = [];
  window.pictures = 0;
  window.changed = 0;
  document.addEventListener("input", () => { window.changed = performance.now(); }, true);
  new MutationObserver(() => {
    const since = window.changed;
    window.pictures += 1;
    requestAnimationFrame(() => window.roundTrips.push(performance.now() - since));
  }).observe(pane, { childList: true, subtree: true });
}"""
DRAG = """async (steps) => {
  const range = document.querySelector(".stoichkit-panel input[type=range]");
  const most = Number(range.max);
  window.pictures = 0;
  for (let i = 0; i < steps; i++) {
    range.value = String(i === steps - 1 ? 2 : i % (most + 1));
    range.dispatchEvent(new Event("input", { bubbles: true }));
    await new Promise((done) => setTimeout(done, 10));
  }
  return performance.now();
}"""
OVERFLOW = """(panel) => [...panel.querySelectorAll("*")].filter((e) => {
  const box = e.getBoundingClientRect(), whole = panel.getBoundingClientRect();
  const scrolled = e.closest("[style*='overflow-x']");
  return !scrolled && box.width > 2 && (box.right > whole.right + 1 || box.left < whole.left - 1);
}).map((e) => e.outerHTML.slice(0, 120))"""
CUT_OFF = """(panel) => [...panel.querySelectorAll("label, button, input[type=text]")].filter((e) =>
  e.clientWidth > 2 && e.scrollWidth > e.clientWidth + 1).map((e) => e.outerHTML.slice(0, 160))"""


def slider(page: Any, name: str) -> Any:
    return page.locator(PANEL).get_by_role("slider", name=name, exact=True)


def box(page: Any, name: str) -> Any:
    return page.locator(PANEL).get_by_role("textbox", name=name, exact=True)


def button(page: Any, name: str) -> Any:
    return page.locator(PANEL).get_by_role("button", name=name, exact=True)


def picture_label(page: Any) -> str:
    return str(page.locator(PICTURE).first.get_attribute("aria-label"))


def wait_for_picture(page: Any, text: str) -> None:
    page.wait_for_function(
        "([s, t]) => document.querySelector(s)?.getAttribute('aria-label').includes(t)",
        arg=[PICTURE, text],
    )


@pytest.fixture
def balance(open_notebook: Any) -> Any:
    page = open_notebook(BALANCE, code=CELL.format("balance_panel"), height=1900)
    expect_text(page, VERDICT, "Nearly all labs find the truth")
    expect_text(page, PANEL, "The table is that of the settings above.")
    return page


@pytest.fixture
def plan(open_notebook: Any) -> Any:
    page = open_notebook(PLAN, code=CELL.format("plan_panel"), height=3800)
    expect_text(page, VERDICT, "nough: if ")
    expect_text(page, PANEL, "Up to date: ")
    return page


def test_a_coarser_balance_by_keyboard(balance: Any, shot: Any, violations: Any) -> None:
    page = balance
    shot(page.locator(PANEL), "balance-fine")
    handle = slider(page, READABILITY)
    holds(handle, "0.01 g")
    handle.focus()
    for _ in range(3):
        page.keyboard.press("ArrowRight")
    expect_text(page, VERDICT, "Most labs cannot tell")
    holds(slider(page, READABILITY), "0.1 g")
    holds(box(page, f"{READABILITY}, as a number"), "0.1")
    wait_for_picture(page, "cannot tell (open circles)")
    expect_text(page, PANEL, "The table is that of the settings above.")
    counts(page.locator(f"{PANEL} tbody tr"), 3)
    shot(page.locator(PANEL), "balance-coarse")
    page.keyboard.press("Tab")
    assert page.evaluate("() => document.activeElement.getAttribute('aria-label')") == (
        f"{READABILITY}, as a number"
    )
    page.keyboard.press("Control+A")
    page.keyboard.type("0,004")
    page.keyboard.press("Enter")
    page.wait_for_selector(f"{PANEL} input[type=range][aria-valuetext='0.004 g']")
    expect_text(page, VERDICT, "Nearly all labs find the truth")
    page.keyboard.press("Control+A")
    page.keyboard.type("five")
    page.keyboard.press("Enter")
    expect_text(page, PANEL, "Not used:")
    holds(box(page, f"{READABILITY}, as a number"), "five")
    shot(page.locator(PANEL), "balance-refused")
    assert violations(page, PANEL) == []


def test_a_slider_and_the_truth_by_mouse_and_keyboard(balance: Any) -> None:
    page = balance
    before = picture_label(page)
    place = slider(page, "Mass of Cu to react in each trial").bounding_box()
    page.mouse.click(place["x"] + 0.15 * place["width"], place["y"] + place["height"] / 2)
    page.wait_for_function(
        "([s, t]) => document.querySelector(s)?.getAttribute('aria-label') !== t",
        arg=[PICTURE, before],
    )
    page.get_by_role("combobox", name="The candidate that is true").select_option("copper(I)")
    wait_for_picture(page, "copper(I) is true")
    expect_text(page, PANEL, "copper(I) singled out")
    truth = page.get_by_role("combobox", name="The candidate that is true")
    truth.focus()
    page.keyboard.press("ArrowDown")  # stays in the list; JupyterLab would go to another cell
    wait_for_picture(page, "copper(II) is true")
    assert truth.evaluate("(e) => e === document.activeElement")


def test_every_ready_experiment_opens_in_the_explorer(balance: Any, shot: Any) -> None:
    page = balance
    choice = page.get_by_role("combobox", name="Ready experiment (invented readings)")
    for name, species in (
        ("hydrate-heating", "MgSO₄"),
        ("copper-plating", "electrons"),
        ("tin-oxide", "Sn"),
    ):
        label = [o for o in page.locator(f"{PANEL} option").all_inner_texts() if f"({name})" in o]
        choice.select_option(label=label)
        expect_text(page, PANEL, f" of {species} to within 10 %")
        expect_text(page, PANEL, "The table is that of the settings above.")
        shot(page.locator(PANEL), f"balance-{name}")


def test_round_trip_is_measured_and_nothing_queues_up(
    balance: Any, measured: Callable[[str], None]
) -> None:
    page = balance
    page.evaluate(WATCH)
    slider(page, READABILITY).focus()
    for count in range(ROUNDS + 2):
        before = page.evaluate("() => window.pictures")
        page.keyboard.press("ArrowRight" if count % 4 < 2 else "ArrowLeft")
        page.wait_for_function("(n) => window.roundTrips.length > n", arg=before)
    times = page.evaluate("() => window.roundTrips")[2:]
    median = statistics.median(times)
    steps = 60
    end = page.evaluate(DRAG, steps)
    wait_for_picture(page, "is true")
    page.wait_for_function(
        "() => document.querySelector('.stoichkit-panel .stoichkit-slider-field').value"
        " === '0.0005'"
    )
    settled = page.evaluate("(end) => performance.now() - end", end)
    page.wait_for_timeout(600)
    pictures = page.evaluate("() => window.pictures")
    measured(
        f"slider to changed picture: median {median:.0f} ms of {len(times)}, largest "
        f"{max(times):.0f} ms; {steps} drag events gave {pictures} pictures, the last "
        f"{settled:.0f} ms after the end"
    )
    assert pictures < steps


def test_the_plan_answers_by_keyboard(plan: Any, shot: Any, violations: Any) -> None:
    page = plan
    shot(page.locator(PANEL), "plan-start")
    expect_text(page, VERDICT, "Enough:")
    for name, text in (
        ("Mass of Cu to react in each trial, g", "0,03"),
        ("Trials of each group", "1"),
    ):
        box(page, name).focus()
        page.keyboard.press("Control+A")
        page.keyboard.type(text)
    expect_text(page, VERDICT, "Not enough:")
    for words, answer in (
        ("Find the smallest amount", "Smallest mass to react:"),
        ("Find the fewest trials", "Fewest trials:"),
        ("Find the coarsest balance", "Coarsest balance:"),
        ("Find the largest recovery allowance", "No recovery allowance can be afforded"),
        ("What a coarser balance costs", "times the sample"),
    ):
        button(page, words).press("Enter")
        expect_text(page, PANEL, answer)
        expect_text(page, PANEL, "Done.")
    button(page, "Draw the map").press("Enter")
    page.locator(f"{PANEL} svg[aria-label^='Map:']").wait_for()
    button(page, "Show the bench plan").press("Enter")
    expect_text(page, f"{PANEL} .stoichkit-bench", "Bench plan:")
    shot(page.locator(PANEL), "plan-answers")
    assert settles(page.locator(PANEL), OVERFLOW) == []
    assert violations(page, PANEL) == []


def test_no_number_of_trials_is_enough(plan: Any) -> None:
    page = plan
    for name, text in (
        ("Least fraction of the product recovered", "0.5"),
        ("Largest fraction (above 1: water or residue)", "1.6"),
    ):
        box(page, name).fill(text)
    expect_text(page, VERDICT, "Not enough:")
    button(page, "Find the fewest trials").click()
    expect_text(page, PANEL, "No number of trials is enough: what may be recovered makes one")
    page.get_by_text(re.compile(r"the chance stays below 0\.\d+")).first.wait_for()


def test_a_refused_figure_says_why_and_keeps_the_text(
    plan: Any, shot: Any, violations: Any
) -> None:
    page = plan
    box(page, "Trials of each group").fill("four")
    expect_text(page, PANEL, "Not updated: Trials of each group.")
    holds(box(page, "Trials of each group"), "four")
    button(page, "Find the smallest amount").click()
    expect_text(page, PANEL, "Nothing is worked out while a figure is not used.")
    shot(page.locator(PANEL), "plan-refused")
    assert violations(page, PANEL) == []
    box(page, "Trials of each group").fill("2")
    expect_text(page, PANEL, "Up to date: 2 trials")


def test_long_work_shows_progress_and_stops(plan: Any, shot: Any) -> None:
    page = plan
    label = [
        o for o in page.locator(f"{PANEL} option").all_inner_texts() if "(hydrate-heating)" in o
    ]
    page.get_by_role("combobox", name="Ready experiment (invented readings)").select_option(
        label=label
    )
    expect_text(page, PANEL, "Chances if ")
    button(page, "Find the largest recovery allowance").click()
    expect_text(page, PANEL, "Looking for the largest recovery allowance")
    box(page, "Groups").fill("7")  # the kernel goes on answering
    button(page, "Find the largest recovery allowance").click()
    expect_text(page, PANEL, "Looking for the largest recovery allowance")
    button(page, "Stop").click()
    expect_text(page, PANEL, "Stopped.")
    shot(page.locator(PANEL), "plan-stopped")


def test_plan_and_sheet_are_saved(plan: Any, server: Any) -> None:
    page = plan
    box(page, "Save the bench plan as").fill("bench.html")
    button(page, "Save the bench plan").click()
    expect_text(page, PANEL, "Saved: ")
    assert (server.folder / "bench.html").read_text("utf-8").startswith("<!DOCTYPE html>")
    for name in ("sheet.csv", "sheet.xlsx"):
        box(page, "Save the blank data sheet as").fill(name)
        button(page, "Save the data sheet").click()
        expect_text(page, PANEL, name)
        page.get_by_text(re.compile(f"Saved: .*{name}")).wait_for()
        assert (server.folder / name).stat().st_size > 50


@pytest.mark.parametrize(("notebook", "word"), [(BALANCE, "labs find"), (PLAN, "nough: if ")])
def test_panels_fit_into_700_pixels(
    open_notebook: Any, notebook: str, word: str, shot: Any, violations: Any
) -> None:
    page = open_notebook(notebook, width=868, height=4600)
    expect_text(page, VERDICT, word)
    page.locator(PICTURE).first.wait_for()
    if notebook == PLAN:
        button(page, "Draw the map").click()
        page.locator(f"{PANEL} svg[aria-label^='Map:']").wait_for()
        button(page, "Show the bench plan").click()
        expect_text(page, f"{PANEL} .stoichkit-bench", "Bench plan:")
    else:
        expect_text(page, PANEL, "The table is that of the settings above.")
    shot(page.locator(PANEL), f"narrow-{notebook.removesuffix('.ipynb')}")
    assert settles(page.locator(PANEL), OVERFLOW) == []
    assert settles(page.locator(PANEL), CUT_OFF) == []
    assert violations(page, PANEL) == []


@pytest.mark.parametrize("notebook", [BALANCE, PLAN])
def test_a_dark_theme_does_not_swallow_the_text(
    open_notebook: Any, notebook: str, violations: Any, shot: Any
) -> None:
    page = open_notebook(notebook, theme=DARK)
    page.wait_for_selector('body[data-jp-theme-light="false"]', state="attached")
    page.locator(PICTURE).first.wait_for()
    shot(page.locator(PANEL), f"dark-{notebook.removesuffix('.ipynb')}")
    assert violations(page, PANEL) == []


@pytest.mark.parametrize("notebook", [BALANCE, PLAN])
def test_notebooks_read_without_a_kernel(open_notebook: Any, notebook: str, shot: Any) -> None:
    page = open_notebook(notebook, run=False, height=5000)
    pictures = page.locator(".jp-OutputArea img[alt]")
    pictures.nth(2).wait_for(state="attached")
    counts(pictures, 3)
    for i in range(3):
        pictures.nth(i).evaluate("(e) => e.decode()")  # fails on a broken picture
        assert len(pictures.nth(i).get_attribute("alt")) > 100
    shot(page.locator(".jp-Notebook"), f"static-{notebook.removesuffix('.ipynb')}")
