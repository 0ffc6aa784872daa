"""The page without a server, in Chromium, with a whole Pyodide and no network but this machine.

The site lies in a sub-folder, as on a shared server. One visit serves most tests: what it fetched
and when is written down, and Python's library and SciPy are held back until a screen has been seen
to wait for them.
"""

from __future__ import annotations

import json
import math
import re
import threading
from collections.abc import Iterator
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

import pytest

from stoichkit import experiments
from stoichkit.experiments.address import fragment_of
from stoichkit.experiments.practice_labs import practice
from stoichkit.experiments.store import parse_experiment
from stoichkit.widgets.site.build import MEMORY, PAGE, build_site
from stoichkit.widgets.view.frame import IDLE_S
from tests.page.practising import work_through

from ..browser.harness import axe_path, broken_rules
from .browser_labs import CODE
from .servers import serve_files
from .site_speed import largest_mib

pytestmark = pytest.mark.browser
PATIENCE_MS = 120_000
RESIZED_MS = 200
"""A picture asks for its new width a little after the page has it."""
MOST_BYTES = 12_000_000
MOST_MIB = 300
DIGITS = 10
PRACTICE = practice(4, level=3).id
SETTLED = """() => document.querySelector("#root .page.settled")
  && !document.querySelector("#root .progress") && !document.getElementById("notice-waits")"""
FOLLOW = """(to) => {
  history.replaceState(null, "", "#");  // the same link again is followed too
  location.hash = to;
}"""
STOP = """async () => {
  for (let i = 0; i < 10000; i++) {
    const stop = document.querySelector("#root .progress button");
    if (stop) return stop.click(), true;
    await new Promise((done) => requestAnimationFrame(done));
  }
  return false;
}"""
FRAMES = "() => new Promise((done) => requestAnimationFrame(() => requestAnimationFrame(done)))"


@dataclass
class Served:
    """The site as it is served, and what was asked of it."""

    folder: Path
    address: str
    asked: list[str]
    held: dict[str, threading.Event]

    def release(self) -> None:
        """Hold nothing back any more."""
        for here in self.held.values():
            here.set()


@dataclass
class Visit:
    """A page in a browser, with the means that the steps of the study need."""

    page: Any
    site: Served
    errors: list[str] = field(default_factory=list)
    elsewhere: list[str] = field(default_factory=list)
    before_first: list[str] = field(default_factory=list)
    waited: list[str] = field(default_factory=list)
    memory_mib: float = math.nan

    def settle(self) -> None:
        """Wait until all that follows is shown."""
        self.page.evaluate(FRAMES)
        self.page.wait_for_function(SETTLED)

    def text(self, selector: str) -> str:
        return str(self.page.locator(selector).first.inner_text())

    def focused(self) -> str:
        return str(self.page.evaluate("() => document.activeElement.dataset.control || ''"))

    def go(self, fragment: str, title: str) -> None:
        """Follow a link to another lab on the same page."""
        self.page.evaluate(FOLLOW, fragment)
        self.page.locator(".top h2", has_text=title).wait_for()
        self.settle()

    def tab(self, title: str) -> None:
        self.page.get_by_role("button", name=title, exact=True).first.click()
        self.settle()

    def complete(self) -> None:
        """Wait until all files are kept."""
        script = "() => document.getElementById('background').textContent.startsWith('Kept in')"
        self.page.wait_for_function(script)


@pytest.fixture(scope="module")
def served(distribution: Path, tmp_path_factory: pytest.TempPathFactory) -> Iterator[Served]:
    root = tmp_path_factory.mktemp("served")
    folder = build_site(root / "course" / "lab", distribution).folder
    asked: list[str] = []
    held = {part: threading.Event() for part in ("python_stdlib", "scipy")}

    def told(path: str) -> None:
        asked.append(path.removeprefix("/course/lab/"))
        for part, here in held.items():
            if part in path:
                here.wait(PATIENCE_MS / 1000)

    with serve_files(root, told) as address:
        found = Served(folder, f"{address}/course/lab/", asked, held)
        yield found
        found.release()


@pytest.fixture(scope="module")
def visit(served: Served, browser: Any) -> Iterator[Visit]:
    context = browser.new_context(viewport={"width": 1440, "height": 900})
    page = context.new_page()
    page.set_default_timeout(PATIENCE_MS)
    found = Visit(page, served)
    context.on(
        "request",
        lambda request: (
            None
            if request.url.startswith((served.address, "data:", "blob:"))
            else found.elsewhere.append(request.url)
        ),
    )
    page.on("pageerror", lambda error: found.errors.append(str(error)))
    page.on("console", lambda m: found.errors.append(m.text) if m.type == "error" else None)
    page.goto(served.address)
    page.locator(".headline").wait_for()
    found.before_first = list(served.asked)
    found.memory_mib = largest_mib()
    # what needs the rest of Python, then SciPy, waits for it, and goes on by itself
    page.get_by_role("button", name="Plan", exact=True).click()
    page.locator("#notice-waits").wait_for()
    page.wait_for_timeout(2000 * IDLE_S)
    found.waited.append(found.text("#root"))
    served.held["python_stdlib"].set()
    page.get_by_text("SciPy is still being loaded; this follows by itself.").first.wait_for()
    found.waited.append(found.text("#root"))
    served.held["scipy"].set()
    found.complete()
    found.settle()
    found.waited.append(found.text("#root"))
    found.tab("Readings")
    yield found
    context.close()


def test_the_first_answer_needs_little(visit: Visit, measured: Any) -> None:
    asked = [name or "index.html" for name in visit.before_first]
    rest = "stdlib|stoichkit.zip|numpy|scipy|sympy|openblas|openpyxl"
    later = [i for i, name in enumerate(asked) if re.search(rest, name)]
    needed = asked[: later[0]] if later else asked  # what follows is asked for after the verdict
    twice = {name for name in needed if needed.count(name) > 1}
    assert twice <= {*PAGE, "service-worker.js"}, "shown and kept; looked whether it is newer"
    total = sum((visit.site.folder / name).stat().st_size for name in needed)
    measured(f"page without a server: {total / 1e6:.2f} MB to the first verdict")
    assert total <= MOST_BYTES, needed
    assert {"worker.js", "memory.deflated", "pyodide/pyodide.asm.wasm.deflated"} <= {*needed}


def test_the_first_answer_leaves_little_in_memory(visit: Visit, measured: Any) -> None:
    measured(f"page without a server: {visit.memory_mib:.0f} MiB at the first verdict")
    assert visit.memory_mib <= MOST_MIB


def test_nothing_is_asked_elsewhere_and_nothing_fails(visit: Visit) -> None:
    assert visit.elsewhere == []
    assert visit.errors == []


def test_a_screen_waits_for_what_is_on_its_way(visit: Visit) -> None:
    held, before, after = visit.waited
    assert "Copper wire" in held, "the screen before stays"
    assert "SciPy is still being loaded" in before
    assert "still being loaded" not in after
    assert re.search(r"\d+ %|0\.\d+", after), "the chances are worked out by then"


def alike(one: Any, other: Any) -> bool:
    """Compare figures to ten digits and everything else exactly."""
    if isinstance(one, float) and isinstance(other, float):
        return math.isclose(one, other, rel_tol=10.0**-DIGITS, abs_tol=1e-15) or one == other
    if isinstance(one, dict) and isinstance(other, dict):
        return one.keys() == other.keys() and all(alike(one[k], other[k]) for k in one)
    if isinstance(one, list) and isinstance(other, list):
        return len(one) == len(other) and all(map(alike, one, other))
    return bool(one == other)


def test_all_ready_labs_are_the_same_as_on_a_desk(visit: Visit) -> None:
    here: dict[str, Any] = {}
    exec(CODE, here)
    mine = json.loads(here["found"])
    theirs = json.loads(visit.page.workers[0].evaluate("(code) => python.runPython(code)", CODE))
    assert set(mine) == set(theirs) == set(experiments.names())
    for name in mine:
        assert alike(mine[name], theirs[name]), name
    figure = mine["tin-oxide"]["candidates"]
    name = next(iter(figure))
    assert not alike(figure, {**figure, name: [figure[name][0] * (1 + 1e-8), *figure[name][1:]]})


def test_links_open_labs(visit: Visit) -> None:
    visit.go("lab=tin-oxide", "Which oxide does tin form?")
    assert "single out" in visit.text(".headline")
    assert visit.page.title().startswith("Which oxide does tin form?")
    lab = experiments.load("copper-silver")
    own = parse_experiment(lab.to_toml().replace(lab.title, "A lab <b>of our own</b>"))
    visit.go(fragment_of(own), "A lab <b>of our own</b>")
    assert visit.page.locator(".top h2 b").count() == 0
    visit.page.get_by_role("button", name="Save, share").click()
    copy = visit.page.get_by_role("button", name="Copy the link to this lab")
    visit.page.context.grant_permissions(["clipboard-read", "clipboard-write"])
    copy.click()
    visit.page.get_by_text("Copied.").wait_for()
    link = visit.page.evaluate("() => navigator.clipboard.readText()")
    assert link == f"{visit.site.address}#{fragment_of(own)}"
    visit.go(f"practice={PRACTICE}", PRACTICE)
    assert "The readings are shown after your prediction." in visit.text(".r-asked-about")


def test_hostile_addresses_do_nothing(visit: Visit) -> None:
    visit.go("lab=copper-silver", "Copper wire in silver nitrate")
    before = visit.text(".headline")
    for fragment in (
        "lab=<img src=x onerror=document.title='x'>",
        "lab=../../service-worker.js",
        "file=AAAA",
        "javascript:alert(1)",
        "practice=" + "9" * 5000,
    ):
        visit.page.evaluate(FOLLOW, fragment)
        visit.page.locator("#notice-address p").wait_for()
        visit.settle()
        assert visit.page.locator("#notice-address img").count() == 0
        visit.page.locator("#notice-address button").click()
        assert visit.text(".headline") == before
        assert visit.page.title().startswith("Copper wire")


@pytest.mark.slow
def test_a_file_is_dropped_anywhere(visit: Visit) -> None:
    drop = """([name, text]) => {
      const data = new DataTransfer();
      data.items.add(new File([text], name));
      const how = { dataTransfer: data, bubbles: true, cancelable: true };
      document.body.dispatchEvent(new DragEvent("drop", how));
    }"""
    visit.go("lab=copper-silver", "Copper wire in silver nitrate")
    visit.page.evaluate(drop, ["mine.toml", experiments.read("hydrate-heating")])
    title = experiments.load("hydrate-heating").title
    visit.page.locator(".top h2", has_text=title).wait_for()
    visit.settle()
    visit.page.evaluate(drop, ["picture.gif", "x"])
    visit.page.locator("#notice-file", has_text="picture.gif").wait_for()
    visit.page.locator("#notice-file button").click()
    visit.go("lab=copper-silver", "Copper wire in silver nitrate")
    visit.tab("Class")
    file = experiments.class_file("copper-silver").decode("utf-8-sig")
    visit.page.evaluate(drop, ["groups.csv", file])
    visit.page.get_by_text("plum").first.wait_for()
    visit.settle()
    visit.tab("Readings")


@pytest.mark.parametrize("width", [pytest.param(1440, marks=pytest.mark.slow), 480])
def test_a_practice_lab_by_keyboard(visit: Visit, width: int) -> None:
    visit.page.set_viewport_size({"width": width, "height": 900})
    visit.go("lab=copper-silver", "Copper wire in silver nitrate")
    visit.page.get_by_role("button", name="Study", exact=True).focus()
    visit.page.keyboard.press("Enter")
    visit.settle()
    work_through(visit, practice(4 if width > 1000 else 5, level=3), lambda _: None)
    assert visit.page.evaluate("() => document.documentElement.scrollWidth") <= width
    assert visit.page.evaluate("() => localStorage.getItem('stoichkit.progress')")
    visit.page.set_viewport_size({"width": 1440, "height": 900})


def test_what_is_typed_survives_a_reload_without_a_network(visit: Visit) -> None:
    visit.go("lab=copper-silver", "Copper wire in silver nitrate")
    visit.complete()
    cell = visit.page.locator('[data-control="sheet 0 0"]')
    cell.fill("2,95x")
    visit.page.context.set_offline(True)
    visit.site.asked.clear()
    try:
        visit.page.reload()  # at once: nothing waits for Python to have heard of it
        visit.page.locator(".headline").wait_for()
        visit.settle()
        assert cell.input_value() == "2,95x"
        cell.fill("2,95")
        visit.settle()
        assert "single out copper(II)" in visit.text(".headline")
        visit.complete()
        visit.tab("Plan")
        assert "still being loaded" not in visit.text("#root")
    finally:
        visit.page.context.set_offline(False)
    assert set(visit.site.asked) <= {"service-worker.js"}, "the browser alone looks for a newer one"
    visit.tab("Readings")


def test_no_rule_of_accessibility_is_broken(visit: Visit, shot: Any) -> None:
    if not axe_path().is_file():
        pytest.skip("no axe-core: npm install --no-save axe-core, or name it in AXE_CORE")
    visit.go("lab=copper-silver", "Copper wire in silver nitrate")
    visit.page.evaluate("() => { document.getElementById('loading').hidden = false; }")
    for scheme in ("light", "dark"):
        visit.page.emulate_media(color_scheme=scheme)
        for width in (1440, 480):
            visit.page.set_viewport_size({"width": width, "height": 900})
            visit.page.wait_for_timeout(RESIZED_MS)
            visit.settle()
            shot(visit.page.locator("body"), f"site-{scheme}-{width}")
            wide = visit.page.evaluate("() => document.documentElement.scrollWidth")
            assert wide <= width
        assert broken_rules(visit.page, "html", forbids_scripts=True) == []
    visit.page.emulate_media(color_scheme="light")
    visit.page.set_viewport_size({"width": 1440, "height": 900})
    visit.page.evaluate("() => { document.getElementById('loading').hidden = true; }")


@pytest.mark.slow
def test_long_work_is_stopped(visit: Visit) -> None:
    """Where others get their turn the work stops by itself, elsewhere with all of Python."""
    visit.go("lab=copper-silver", "Copper wire in silver nitrate")
    cell = visit.page.locator('[data-control="sheet 0 0"]')
    cell.fill("2,96")
    visit.settle()
    visit.tab("Plan")
    visit.page.locator('[data-control^="ask:"]').first.click()
    assert visit.page.evaluate(STOP), "there was something to stop"
    visit.settle()
    visit.tab("Readings")
    assert cell.input_value() == "2,96"


@pytest.mark.slow
def test_python_starts_as_usual_without_its_memory(served: Served, browser: Any) -> None:
    """Damaged, or of another edition, it is left aside; here nothing keeps files either."""
    served.release()
    path = served.folder / MEMORY
    whole = path.read_bytes()
    path.write_bytes(whole[:1000])
    context = browser.new_context(service_workers="block")
    try:
        page = context.new_page()
        page.set_default_timeout(PATIENCE_MS)
        said: list[str] = []
        page.on("console", lambda message: said.append(message.text))
        page.goto(f"{served.address}#lab=tin-oxide")
        page.locator(".headline").wait_for()
        assert "single out" in page.locator(".headline").first.inner_text()
        assert any("Python starts without its memory" in text for text in said), said
    finally:
        path.write_bytes(whole)
        context.close()


@pytest.mark.slow
def test_a_first_visit_to_any_lab_needs_no_more(served: Served, browser: Any) -> None:
    """What a lab needs beyond the one that was rehearsed comes by itself."""
    served.release()
    for fragment in ("lab=magnesium-gas", "lab=copper-plating", f"practice={PRACTICE}"):
        context = browser.new_context()
        try:
            page = context.new_page()
            page.set_default_timeout(PATIENCE_MS)
            failed: list[str] = []
            page.on("pageerror", lambda error, failed=failed: failed.append(str(error)))
            page.goto(f"{served.address}#{fragment}")
            page.locator("#root .page.settled").wait_for()
            page.wait_for_function(SETTLED)
            assert failed == []
            assert page.locator("#notice-failed").count() == 0
        finally:
            context.close()


@pytest.mark.slow
def test_an_update_takes_the_place_of_what_was_kept(visit: Visit) -> None:
    """Only what has changed is fetched; the page goes on with the old until it is asked."""
    visit.complete()
    icon, script = visit.site.folder / "icon.svg", visit.site.folder / "service-worker.js"
    icon.write_text(f"{icon.read_text('utf-8')}<!-- newer -->", "utf-8")
    text = script.read_text("utf-8")
    digest = re.search('"icon.svg": "([0-9a-f]+)"', text)[1]  # type: ignore[index]
    script.write_text(text.replace(digest, "0" * len(digest)), "utf-8")
    visit.site.asked.clear()
    look = "async () => (await (await navigator.serviceWorker.getRegistration()).update(), 0)"
    visit.page.evaluate(look)
    offer = visit.page.locator("#notice-newer")
    offer.wait_for()
    read = "async () => (await fetch('icon.svg')).text()"
    assert "newer" not in visit.page.evaluate(read)
    with visit.page.expect_navigation():
        offer.get_by_role("button").click()
    visit.page.locator(".headline").wait_for()
    assert "newer" in visit.page.evaluate(read)
    assert set(visit.site.asked) == {"service-worker.js", "icon.svg"}
