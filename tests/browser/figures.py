"""Speed, memory and accessibility of the toolkit, measured in JupyterLab and Chromium.

``python -m tests.browser.figures`` prints them as one table.
"""

from __future__ import annotations

import importlib
import statistics
import sys
import tempfile
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from .harness import (
    DARK,
    LIGHT,
    Pages,
    Server,
    axe_path,
    broken_rules,
    chromium_path,
    expect_text,
    running_browser,
    running_server,
)

KIT = ".stoichkit-toolkit"
PID = "kernel.pid"
CODE = f"""import os
from stoichkit.widgets.panels.toolkit import toolkit
open("{PID}", "w").write(str(os.getpid()))
kit = toolkit("copper-silver", folder="{{folder}}")
kit"""
TABS = (
    "Readings and verdict",
    "What the balance can tell",
    "Plan a lab",
    "Causes",
    "Class",
    "Worked solution",
)
FIELD = "bench 1: wire before, g"
VERDICT_MS, PICTURE_MS, SETTLED_MS = 60, 90, 500
MEMORY_MB, GROWTH = 200, 0.03

WATCH = """() => {
  const kit = document.querySelector(".stoichkit-toolkit");
  const line = kit.querySelector(".stoichkit-verdict");
  const pane = kit.querySelector("svg[role=img]").closest(".widget-html");
  window.verdicts = []; window.pictures = [];
  let pressed = 0;
  document.addEventListener("keydown", () => { pressed = performance.now(); }, true);
  const watch = (element, times) => new MutationObserver(() => {
    const since = pressed;
    requestAnimationFrame(() => times.push(performance.now() - since));
  }).observe(element, { childList: true, characterData: true, subtree: true });
  watch(line, window.verdicts);
  watch(pane, window.pictures);
}"""
WATCH_SLIDER = """() => {
  const place = [...document.querySelectorAll(".stoichkit-toolkit svg[role=img]")]
    .find((one) => one.getBoundingClientRect().width > 0).closest(".widget-html");
  window.roundTrips = []; window.changed = 0;
  document.addEventListener("input", () => { window.changed = performance.now(); }, true);
  new MutationObserver(() => {
    const since = window.changed;
    requestAnimationFrame(() => window.roundTrips.push(performance.now() - since));
  }).observe(place, { childList: true, subtree: true });
}"""
DRAG = """async (steps) => {
  const range = document.querySelector(".stoichkit-toolkit input[type=range]");
  const most = Number(range.max);
  window.roundTrips.length = 0;
  for (let i = 0; i < steps; i++) {
    range.value = String(i === steps - 1 ? 2 : i % (most + 1));
    range.dispatchEvent(new Event("input", { bubbles: true }));
    await new Promise((done) => setTimeout(done, 10));
  }
  range.dispatchEvent(new Event("change", { bubbles: true }));
  return performance.now();
}"""
TYPE = """async (changes) => {
  const names = ["bench 1: wire before, g", "bench 1: paper, g", "bench 2: wire before, g",
                 "bench 2: paper, g"];
  const fields = [...document.querySelectorAll(".stoichkit-toolkit input")]
    .filter((one) => names.includes(one.labels?.[0]?.textContent));
  for (let count = 0; count < changes; count++) {
    const field = fields[Math.floor(count / 10) % fields.length];
    if (count % 10 === 0) field.focus();
    field.value = count % 2 === 0 ? `${field.value}1` : field.value.slice(0, -1);
    field.dispatchEvent(new Event("input", { bubbles: true }));
    await new Promise((done) => setTimeout(done, 10));
  }
}"""
SETTLED = """([text]) => {
  const field = document.querySelector(".stoichkit-toolkit .stoichkit-slider-field");
  return field.value === text;
}"""


@dataclass(frozen=True)
class Times:
    """Round trips in ms."""

    values: tuple[float, ...]

    @property
    def median(self) -> float:
        return statistics.median(self.values)

    def __str__(self) -> str:
        return f"median {self.median:.0f} ms of {len(self.values)}, largest {max(self.values):.0f}"


def open_kit(
    pages: Pages, folder: Path, *, width: int = 1400, height: int = 2600, theme: str = LIGHT
) -> Any:
    """Open the toolkit in a notebook of its own, with its first panel shown."""
    code = CODE.format(folder=folder)
    page = pages.open("toolkit.ipynb", code=code, width=width, height=height, theme=theme)
    wait_for_text(page, "single out copper(II)")
    page.locator(f"{KIT} svg[role=img]").first.wait_for()
    return page


def wait_for_text(page: Any, text: str, selector: str = KIT) -> None:
    """Wait until the toolkit, or an element in it, shows a text."""
    expect_text(page, selector, text)


def choose_tab(page: Any, name: str) -> None:
    """Choose a tab by the keyboard, and wait until its panel is there."""
    tab = page.locator(KIT).get_by_role("tab", name=name, exact=True)
    tab.click()
    page.wait_for_function(
        "([s, n]) => [...document.querySelectorAll(`${s} h2`)]"
        ".some((e) => e.innerText === n && e.getBoundingClientRect().width > 0)",
        arg=[KIT, name],
    )


def typing_times(page: Any, rounds: int = 11) -> tuple[Times, Times]:
    """Return the times from a keystroke to the new verdict, and to the new picture."""
    page.evaluate(WATCH)
    page.locator(KIT).get_by_role("textbox", name=FIELD, exact=True).focus()
    for count in range(rounds + 2):
        seen = page.evaluate("() => [window.verdicts.length, window.pictures.length]")
        page.keyboard.press("Home")
        page.keyboard.press("1" if count % 2 == 0 else "Delete")
        page.wait_for_function(
            "([v, p]) => window.verdicts.length > v && window.pictures.length > p", arg=seen
        )
        page.wait_for_timeout(40)
    found = [page.evaluate(f"() => window.{name}")[2:] for name in ("verdicts", "pictures")]
    return Times(tuple(found[0])), Times(tuple(found[1]))


def slider_times(page: Any, rounds: int = 11) -> Times:
    """Return the times from a moved slider to the new picture."""
    page.evaluate(WATCH_SLIDER)
    slider = page.get_by_role("slider", name="Readability of the balance", exact=True)
    slider.focus()
    for count in range(rounds + 2):
        seen = page.evaluate("() => window.roundTrips.length")
        page.keyboard.press("ArrowRight" if count % 4 < 2 else "ArrowLeft")
        page.wait_for_function("(n) => window.roundTrips.length > n", arg=seen)
        page.wait_for_timeout(40)
    return Times(tuple(page.evaluate("() => window.roundTrips")[2:]))


def drag(page: Any, steps: int = 60) -> tuple[float, int]:
    """Drag the slider fast; return how long after the end the last state is shown, and pictures."""
    end = page.evaluate(DRAG, steps)
    page.wait_for_function(SETTLED, arg=["0.0005"])
    settled = page.evaluate("(end) => performance.now() - end", end)
    page.wait_for_timeout(400)
    return settled, page.evaluate("() => window.roundTrips.length")


def resident_mb(server: Server) -> float:
    """Return the memory of the kernel that holds the toolkit, MB."""
    pid = int((server.folder / PID).read_text("utf-8"))
    pages = int(Path(f"/proc/{pid}/statm").read_text("ascii").split()[1])
    return pages * 4096 / 1e6


def type_much(page: Any, changes: int) -> None:
    """Change the texts of four fields by turns, so many times in all."""
    page.evaluate(TYPE, changes)
    page.wait_for_timeout(800)


def memory(page: Any, server: Server, changes: int = 500) -> tuple[float, float]:
    """Return the memory with all panels shown once, MB, and after so many changes."""
    type_much(page, 100)  # caches are warm
    before = resident_mb(server)
    type_much(page, changes)
    return before, resident_mb(server)


def main() -> None:
    """Measure everything once and print the table."""
    playwright = importlib.import_module("playwright.sync_api")
    if not chromium_path():
        sys.exit("no Chromium: install Debian's, or name one in CHROMIUM")
    lines: list[tuple[str, str, str, bool]] = []
    with (
        tempfile.TemporaryDirectory() as home,
        running_server(Path(home)) as server,
        running_browser(playwright) as chromium,
    ):
        pages = Pages(server, chromium)
        page = open_kit(pages, Path(home) / "kept")
        verdict, picture = typing_times(page)
        lines.append(("keystroke to verdict", str(verdict), "60 ms", verdict.median < VERDICT_MS))
        lines.append(("keystroke to picture", str(picture), "90 ms", picture.median < PICTURE_MS))
        choose_tab(page, TABS[1])
        page.wait_for_timeout(3000)
        moved = slider_times(page)
        lines.append(("slider to picture", str(moved), "90 ms", moved.median < PICTURE_MS))
        settled, shown = drag(page)
        words = f"{settled:.0f} ms; 60 events gave {shown} pictures"
        lines.append(("last state after a drag", words, "500 ms", settled < SETTLED_MS))
        for name in TABS[2:]:
            choose_tab(page, name)
            page.wait_for_timeout(2500)
        choose_tab(page, TABS[0])
        before, after = memory(page, server)
        lines.append(("kernel, all panels", f"{before:.0f} MB", "200 MB", before < MEMORY_MB))
        grown = after / before - 1
        lines.append(("after 500 changes", f"{100 * grown:+.1f} %", "< 3 %", grown < GROWTH))
        pages.close()
        for theme in (LIGHT, DARK) if axe_path().is_file() else ():
            page = open_kit(pages, Path(home) / "kept", theme=theme)
            broken = 0
            for name in TABS:
                choose_tab(page, name)
                page.wait_for_timeout(2500)
                broken += len(broken_rules(page, KIT))
            lines.append((f"axe, {theme}, 6 tabs", f"{broken} broken", "none", not broken))
            pages.close()
    for what, found, target, met in lines:
        print(f"{what:<28} {found:<48} target {target:<8} {'met' if met else 'MISSED'}")


if __name__ == "__main__":
    main()
