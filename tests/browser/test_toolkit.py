"""All panels as tabs in JupyterLab: keyboard, undo, restart, both themes, zoom, speed, memory."""

from __future__ import annotations

import re
import time
from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest

from .figures import (
    FIELD,
    KIT,
    MEMORY_MB,
    TABS,
    choose_tab,
    drag,
    memory,
    open_kit,
    slider_times,
    typing_times,
    wait_for_text,
)
from .harness import DARK, Pages, Server, holds, settles

pytestmark = pytest.mark.browser

PAUSE_MS = 250
VERDICT = f"{KIT} .stoichkit-verdict"
OVERFLOW = """(kit) => [...kit.querySelectorAll("*")].filter((e) => {
  const box = e.getBoundingClientRect(), whole = kit.getBoundingClientRect();
  const scrolled = e.closest(".stoichkit-scroll, pre, [style*='overflow-x'], [tabindex='0']");
  return !scrolled && box.width > 2 && (box.right > whole.right + 1 || box.left < whole.left - 1);
}).map((e) => e.outerHTML.slice(0, 160))"""
CUT_OFF = """(kit) => [...kit.querySelectorAll("label, button, input[type=text], [role=tab]")]
  .filter((e) => e.clientWidth > 2 && !e.closest(".stoichkit-cell")
    && e.scrollWidth > e.clientWidth + 1)
  .map((e) => e.outerHTML.slice(0, 160))"""
SAVE = """([label, text]) => {
  const kit = document.querySelector(".stoichkit-toolkit");
  const field = [...kit.querySelectorAll("input")]
    .find((one) => one.labels?.[0]?.textContent === label);
  const save = [...kit.querySelectorAll("button")]
    .find((one) => one.innerText === "Save experiment file");
  field.focus();
  for (let end = 1; end <= text.length; end++) {
    field.value = text.slice(0, end);
    field.dispatchEvent(new Event("input", { bubbles: true }));
  }
  save.focus();
  save.click();
}"""


def field(page: Any, name: str) -> Any:
    return page.locator(KIT).get_by_role("textbox", name=name, exact=True)


def button(page: Any, name: str | re.Pattern[str]) -> Any:
    exact = isinstance(name, str)
    return page.locator(KIT).get_by_role("button", name=name, exact=exact)


def type_over(page: Any, name: str, text: str) -> None:
    field(page, name).focus()
    page.keyboard.press("Control+A")
    page.keyboard.type(text)


def test_the_work_by_keyboard_with_undo_across_tabs(
    pages: Pages, tmp_path: Path, shot: Any
) -> None:
    page = open_kit(pages, tmp_path)
    tab = page.locator(KIT).get_by_role("tab", name=TABS[0], exact=True)
    tab.focus()
    assert tab.get_attribute("aria-selected") == "true"
    type_over(page, FIELD, "12.94")
    wait_for_text(page, "cannot tell copper(I) from copper(II)", VERDICT)
    type_over(page, "balance: readability, g", "0.1")
    wait_for_text(page, "Undo: typed balance, readability")

    tab.focus()
    page.keyboard.press("ArrowRight")
    page.keyboard.press("Enter")
    slider = page.get_by_role("slider", name="Readability of the balance", exact=True)
    slider.wait_for()
    holds(slider, "0.1 g")  # it follows the record

    button(page, "Undo: typed balance, readability").press("Enter")
    page.wait_for_function(
        "() => document.querySelector('.stoichkit-toolkit input[type=range]')"
        ".getAttribute('aria-valuetext') === '0.01 g'"
    )
    wait_for_text(page, "Undone: typed balance, readability.")
    page.wait_for_function(
        "() => document.activeElement.innerText === 'Undo: typed wire before, bench 1'"
    )
    page.keyboard.press("Enter")
    wait_for_text(page, "Redo: typed wire before, bench 1")
    page.keyboard.press("Enter")
    wait_for_text(page, "There is nothing to undo.")
    choose_tab(page, TABS[0])
    wait_for_text(page, "single out copper(II)", VERDICT)
    holds(field(page, FIELD), "2.94")
    shot(page.locator(KIT), "toolkit-undone")

    # no button overtakes the text typed just before it
    button(page, "Save …").press("Enter")
    field(page, "Save as").wait_for()
    for number in range(3):
        type_over(page, "Save as", f"typed-{number}")
        page.evaluate(SAVE, [FIELD, f"2.9{number}5"])
        page.get_by_text(re.compile(f"Saved: .*typed-{number}")).wait_for()
        saved = (pages.server.folder / f"typed-{number}.toml").read_text("utf-8")
        assert f'"2.9{number}5"' in saved


def test_what_was_typed_is_there_after_a_restart_of_the_kernel(
    pages: Pages, tmp_path: Path, shot: Any
) -> None:
    page = open_kit(pages, tmp_path)
    type_over(page, "bench 2: paper, g", "0.7o g")
    wait_for_text(page, "Not updated: bench 2, paper")
    end = time.monotonic() + 10
    while not list(tmp_path.glob("typed-*.json")) and time.monotonic() < end:
        page.wait_for_timeout(100)
    page.evaluate(
        "() => window.jupyterapp.shell.currentWidget.sessionContext.session.kernel.restart()"
    )
    page.evaluate("() => void window.jupyterapp.commands.execute('notebook:run-all-cells')")
    wait_for_text(page, "Restored what was typed at ")
    holds(field(page, "bench 2: paper, g"), "0.7o g")
    wait_for_text(page, "Not updated: bench 2, paper")
    shot(page.locator(KIT), "toolkit-restored")
    button(page, "Start afresh").press("Enter")
    holds(field(page, "bench 2: paper, g"), "0.70")
    button(page, "Undo: opened copper-silver").press("Enter")
    wait_for_text(page, "Not updated: bench 2, paper")
    holds(field(page, "bench 2: paper, g"), "0.7o g")


def test_a_dark_theme_swallows_nothing(
    pages: Pages, tmp_path: Path, violations: Any, shot: Any
) -> None:
    page = open_kit(pages, tmp_path, theme=DARK)
    page.wait_for_selector('body[data-jp-theme-light="false"]', state="attached")
    for number, name in enumerate(TABS):
        choose_tab(page, name)
        page.wait_for_timeout(PAUSE_MS)
        shot(page.locator(KIT), f"toolkit-dark-{number}")
        assert violations(page, KIT) == [], name


def test_nothing_is_cut_off_at_twice_the_size(
    pages: Pages, tmp_path: Path, violations: Any, shot: Any
) -> None:
    page = open_kit(pages, tmp_path, width=808, height=1800)
    assert page.locator(KIT).bounding_box()["width"] <= 640
    for number, name in enumerate(TABS):
        choose_tab(page, name)
        if name == "Class":
            button(page, "Load the invented class").click()
            wait_for_text(page, "Up to date")
        page.wait_for_timeout(PAUSE_MS)
        shot(page.locator(KIT), f"toolkit-zoom-{number}")
        assert settles(page.locator(KIT), OVERFLOW) == [], name
        assert settles(page.locator(KIT), CUT_OFF) == [], name
        assert violations(page, KIT) == [], name


def test_speed_and_memory(
    pages: Pages, server: Server, tmp_path: Path, measured: Callable[[str], None]
) -> None:
    page = open_kit(pages, tmp_path)
    verdict, picture = typing_times(page)
    choose_tab(page, TABS[1])
    wait_for_text(page, "The table is that of the settings above.")
    moved = slider_times(page)
    settled, shown = drag(page)
    for name in (*TABS[2:], TABS[0]):
        choose_tab(page, name)
    before, after = memory(page, server)
    measured(
        f"keystroke to verdict: {verdict}; to picture: {picture}\n"
        f"slider to picture: {moved}; a fast drag is shown {settled:.0f} ms after its end "
        f"({shown} pictures for 60 events)\n"
        f"kernel with all panels: {before:.0f} MB, after 500 more changes {after:.0f} MB"
    )
    assert shown < 60
    assert before < MEMORY_MB
    assert after / before < 1.05
