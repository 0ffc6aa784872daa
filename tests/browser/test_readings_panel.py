"""The panel “Readings and verdict” in JupyterLab, worked with the keyboard in Chromium."""

from __future__ import annotations

import statistics
from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest

from stoichkit import experiments
from stoichkit.decision.evidence import assess
from stoichkit.decision.statement import verdict_sentences

from .harness import DARK, counts, expect_text, holds, settles

pytestmark = pytest.mark.browser

NOTEBOOK = "readings-and-verdict.ipynb"
PANEL = ".stoichkit-panel"
VERDICT = f"{PANEL} .stoichkit-verdict"
STATUS = f"{PANEL} .stoichkit-status"
ROUNDS = 15

WATCH = """() => {
  const line = document.querySelector(".stoichkit-panel .stoichkit-verdict");
  window.roundTrips = [];
  let pressed = 0;
  document.addEventListener("keydown", () => { pressed = performance.now(); }, true);
  new MutationObserver(() => window.roundTrips.push(performance.now() - pressed))
    .observe(line, { childList: true, characterData: true, subtree: true });
}"""
OVERFLOW = """(panel) => [...panel.querySelectorAll("*")].filter((e) => {
  const box = e.getBoundingClientRect(), whole = panel.getBoundingClientRect();
  return box.width > 2 && (box.right > whole.right + 1 || box.left < whole.left - 1);
}).map((e) => e.outerHTML.slice(0, 120))"""
CUT_OFF = """(panel) => [...panel.querySelectorAll(
  "label, button, input[type=text], textarea")].filter((e) =>
  e.clientWidth > 2 && (e.scrollWidth > e.clientWidth + 1 ||
    e.tagName === "TEXTAREA" && e.scrollHeight > e.clientHeight + 1)
).map((e) => e.outerHTML.slice(0, 160))"""


@pytest.fixture
def page(open_notebook: Any) -> Any:
    opened = open_notebook(NOTEBOOK)
    expect_text(opened, VERDICT, "single out copper(II)")
    return opened


def field(page: Any, name: str) -> Any:
    return page.locator(PANEL).get_by_role("textbox", name=name, exact=True)


def button(page: Any, name: str) -> Any:
    return page.locator(PANEL).get_by_role("button", name=name, exact=True)


def type_over(page: Any, name: str, text: str) -> None:
    field(page, name).focus()
    page.keyboard.press("Control+A")
    page.keyboard.type(text)


def test_typing_a_reading_changes_the_verdict(page: Any, shot: Any) -> None:
    shot(page.locator(PANEL), "wide")
    page.evaluate(f"() => {{ window.line = document.querySelector({VERDICT!r}) }}")
    type_over(page, "bench 1: wire before, g", "12,94")
    expect_text(page, VERDICT, "cannot tell copper(I) from copper(II)")
    assert page.evaluate(f"() => window.line === document.querySelector({VERDICT!r})")
    assert page.locator(VERDICT).get_attribute("aria-live") == "polite"
    # the picture follows the sentence: wait for it as a person would
    page.wait_for_function(
        "([s, t]) => document.querySelector(s)?.getAttribute('aria-label').includes(t)",
        arg=[f"{PANEL} svg", "Not told apart: copper(I), copper(II)"],
    )
    shot(page.locator(PANEL), "not-told-apart")
    type_over(page, "bench 1: wire before, g", "2,94")
    expect_text(page, VERDICT, "single out copper(II)")
    holds(field(page, "bench 1: wire before, g"), "2,94")


def test_nonsense_is_kept_and_refused_beside_the_field(
    page: Any, shot: Any, violations: Any
) -> None:
    type_over(page, "bench 2: paper, g", "0.7o g")
    cell = page.locator(f"{PANEL} .stoichkit-refused")
    cell.get_by_text("Not used:").wait_for()
    holds(field(page, "bench 2: paper, g"), "0.7o g")
    expect_text(page, STATUS, "Not updated: bench 2, paper")
    expect_text(page, VERDICT, "single out copper(II). Copper(I) is excluded (p < 0.0001).")
    type_over(page, "Candidates, one a line", "copper(I) = one")
    expect_text(page, STATUS, "1 more field not used")
    type_over(page, "Coverage probability", "95")
    type_over(page, "balance: readability, g", "0")
    expect_text(page, STATUS, "3 more fields not used")
    shot(page.locator(PANEL), "refused")
    for name, text in (
        ("bench 2: paper, g", "0.70"),
        ("Coverage probability", "95 %"),
        ("balance: readability, g", "0.01"),
        ("Candidates, one a line", "copper(I) = 1\ncopper(II) = 2\ncopper(III) = 3"),
    ):
        type_over(page, name, text)
    expect_text(page, STATUS, "Up to date.")
    expect_text(page, VERDICT, "copper(III)")
    type_over(page, "bench 2: paper, g", "0.7o g")
    type_over(page, "Candidates, one a line", "copper(I) = one")
    expect_text(page, STATUS, "1 more field not used")
    assert violations(page, PANEL) == []


def test_a_single_trial_is_warned_of(page: Any, shot: Any) -> None:
    counts(page.get_by_text("single trial"), 0)
    for _ in range(3):
        button(page, "Remove the last trial").press("Enter")
    expect_text(page, PANEL, "There is a single trial")
    counts(field(page, "bench 2: paper, g"), 0)
    shot(page.locator(PANEL), "single-trial")
    button(page, "Add a trial").press("Enter")
    field(page, "bench 2: paper, g").wait_for()
    page.wait_for_function(
        f"() => !document.querySelector({PANEL!r}).innerText.includes('single trial')"
    )


def test_no_accessibility_rule_is_broken(page: Any, violations: Any, shot: Any) -> None:
    button(page, "Paste a TOML text").press("Enter")
    field(page, "Text of an experiment file").wait_for()
    button(page, "Add a trial").press("Enter")
    field(page, "bench 5: paper, g").wait_for()
    button(page, "Show report").press("Enter")
    page.get_by_role("region", name="Report as Markdown text").wait_for()
    shot(page.locator(PANEL), "report")
    assert violations(page, PANEL) == []


def test_ready_experiments_fit_into_700_pixels(
    open_notebook: Any, shot: Any, violations: Any
) -> None:
    page = open_notebook(NOTEBOOK, width=868)
    expect_text(page, VERDICT, "single out copper(II)")
    assert page.locator(PANEL).bounding_box()["width"] <= 700
    chosen = page.get_by_role("combobox", name="Ready experiment (invented readings)")
    options = page.locator(f"{PANEL} option").all_inner_texts()
    for name in experiments.names():
        chosen.select_option(label=[o for o in options if f"({name})" in o])
        button(page, "Open the ready experiment").press("Enter")
        lab = experiments.load(name)
        expect_text(page, VERDICT, verdict_sentences(assess(lab)))
        page.wait_for_function(
            "(title) => [...document.querySelectorAll('.stoichkit-panel input')]"
            ".some((e) => e.value === title)",
            arg=lab.title,
        )
        page.locator(f"{PANEL} svg").wait_for()
        shot(page.locator(PANEL), f"narrow-{name}")
        assert settles(page.locator(PANEL), OVERFLOW) == [], name
        assert settles(page.locator(PANEL), CUT_OFF) == [], name
        assert violations(page, PANEL) == [], name


def test_the_tab_key_follows_the_work_at_the_bench(page: Any) -> None:
    field(page, "bench 1: wire before, g").focus()
    walked = []
    for _ in range(5):
        walked.append(page.evaluate("() => document.activeElement.labels[0].innerText"))
        page.keyboard.press("Tab")
    assert walked == [
        "bench 1: wire before, g",
        "bench 1: wire after, g",
        "bench 1: paper, g",
        "bench 1: paper + silver, g",
        "bench 2: wire before, g",
    ]


def test_a_file_is_opened_and_saved(page: Any, server: Any, tmp_path: Path) -> None:
    own = tmp_path / "own.toml"
    text = experiments.read("copper-silver").replace("bench ", "row ")
    own.write_text(text.replace("Copper wire in", "A <b>wire</b> in"), "utf-8")
    with page.expect_file_chooser() as chooser:
        page.locator(PANEL).get_by_role("button", name="Open a TOML file").press("Enter")
    chooser.value.set_files(own)
    field(page, "row 4: paper, g").wait_for()
    holds(field(page, "Title"), "A <b>wire</b> in silver nitrate")
    type_over(page, "row 4: paper, g", "0.71")
    expect_text(page, STATUS, "Up to date.")
    type_over(page, "Save as", "saved")
    expect_text(page, PANEL, "saved.toml")
    button(page, "Save experiment file").press("Enter")
    page.get_by_text("Saved: ").wait_for()
    assert "0.71" in (server.folder / "saved.toml").read_text("utf-8")


def test_a_dark_theme_does_not_swallow_the_text(
    open_notebook: Any, violations: Any, shot: Any
) -> None:
    page = open_notebook(NOTEBOOK, theme=DARK)
    expect_text(page, VERDICT, "single out copper(II)")
    page.wait_for_selector('body[data-jp-theme-light="false"]', state="attached")
    type_over(page, "bench 2: paper, g", "x")
    expect_text(page, STATUS, "Not updated")
    shot(page, "dark")
    assert violations(page, PANEL) == []


def test_the_notebook_reads_without_a_kernel(open_notebook: Any, shot: Any) -> None:
    page = open_notebook(NOTEBOOK, run=False)
    picture = page.locator(".jp-OutputArea img[alt]").first
    picture.scroll_into_view_if_needed()
    assert "copper(II)" in picture.get_attribute("alt")
    picture.evaluate("(e) => e.decode()")  # fails on a broken picture
    page.get_by_text("These readings single out copper(II).").first.wait_for(state="attached")
    shot(page, "static")


def test_round_trip_is_measured(page: Any, measured: Callable[[str], None]) -> None:
    page.evaluate(WATCH)
    field(page, "bench 1: wire before, g").focus()
    for count in range(2 * ROUNDS + 2):
        page.keyboard.press("Home" if count % 2 == 0 else "End")
        if count % 2 == 0:
            page.keyboard.type("1")
            expect_text(page, VERDICT, "cannot tell copper(I) from copper(II)")
        else:
            page.keyboard.press("Home")
            page.keyboard.press("Delete")
            expect_text(page, VERDICT, "single out copper(II)")
    times = page.evaluate("() => window.roundTrips")[2:]
    measured(
        f"keystroke to changed verdict: median {statistics.median(times[:ROUNDS]):.0f} ms of "
        f"{ROUNDS}, largest {max(times[:ROUNDS]):.0f} ms"
    )
    assert len(times) >= ROUNDS
