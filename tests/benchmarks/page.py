"""The page in Chromium: from a key to the verdict, and the frames of a trial that is dragged.

Peer: a new matplotlib figure of 640 × 420 points with two panels, drawn to PNG, which is how an
answer to a key is usually shown in a notebook. Left out where there is no Chromium or Playwright.
"""

from __future__ import annotations

import io
import math
import time
from contextlib import closing
from statistics import median
from typing import Any

from matplotlib.figure import Figure

from stoichkit.widgets.state.lab import LabState
from tests.browser.harness import chromium_path, running_browser
from tests.page.live import Live
from tests.page.test_whatif import centre

from .measure import Row, peer, show

KEYS, STEPS = 10, 15


def figure() -> None:
    """Draw two panels anew."""
    made = Figure(figsize=(6.4, 4.2), layout="constrained")
    for axes in made.subplots(1, 2):
        axes.plot([0, 1, 2], [0, 1, 4], "o-")
        axes.set_xlabel("n consumed / mol")
        axes.set_ylabel("n produced / mol")
    made.savefig(io.BytesIO(), format="png")


def _timed(call: Any) -> float:
    start = time.perf_counter()
    call()
    return (time.perf_counter() - start) * 1e3


def exchange(live: Live) -> None:
    """Hand over what the page has sent, and show the first answers, which hold the verdict."""
    live.take()
    answers = live.waiting[:]
    live.waiting.clear()
    live.deliver(*answers)


def keys(live: Live) -> tuple[list[float], list[float]]:
    """Type into a reading; return how long each key took, and a figure in turn, ms."""
    cell = live.cell(0, 1)
    found, theirs = [], []
    for place in range(KEYS):
        text = f"2.8{place % 10}"
        found.append(_timed(lambda text=text: (cell.fill(text), exchange(live))))
        live.settle()
        theirs.append(_timed(figure))
    return found, theirs


def drag(live: Live) -> tuple[list[float], list[float]]:
    """Drag a trial; return how long each step took until it was shown, and a figure in turn, ms."""
    x, y = centre(live)
    mouse = live.page.mouse
    mouse.move(x, y)
    mouse.down()
    found, theirs = [], []
    for step in range(1, STEPS + 1):
        found.append(
            _timed(lambda step=step: (mouse.move(x + 3 * step, y + 4 * step), exchange(live)))
        )
        theirs.append(_timed(figure))
    mouse.up()
    live.settle()
    return found, theirs


def rows() -> list[Row]:
    """Measure; the medians count."""
    playwright = peer("playwright.sync_api")
    if not chromium_path() or playwright is None or peer("jsonschema") is None:
        nan = math.nan
        return [Row("the page", "(Chromium or Playwright is not installed)", nan, nan, nan)]
    out = []
    with running_browser(playwright) as chromium:
        page = chromium.new_page(viewport={"width": 1440, "height": 900})
        with closing(page), closing(LabState("copper-silver", autosave=False)) as lab:
            live = Live(page, lab)
            figure()
            for what, way in (("key typed to verdict shown", keys), ("frame of a drag", drag)):
                mine, theirs = map(median, way(live))
                out.append(Row(what, "a new matplotlib figure", mine, theirs, 1, unit="ms"))
    return out


def main() -> str:
    return show("The page", rows())


if __name__ == "__main__":
    print(main())
