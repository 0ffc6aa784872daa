"""The page in Chromium without JupyterLab, and Python behind it; what travels waits in between.

The installed bundle is opened as a notebook opens it, on a model that keeps what is sent. So a test
decides when an action arrives, and when, and in which order, answers do.
"""

from __future__ import annotations

import time
from typing import Any

from stoichkit.widgets.state.lab import LabState
from stoichkit.widgets.view.frame import Frame
from tests.widgets.view.protocol import opened, wrong

from .bundle import STATIC

ADDRESS = "http://page.test/"
HTML = """<!DOCTYPE html><html lang="en"><head><meta charset="utf-8"><title>Page</title>
<link rel="stylesheet" href="page.css"><style>body{margin:0;background:#fff}
@media (prefers-color-scheme: dark) { body { background: #111 } }</style></head>
<body><main><h1 style="position:absolute;clip-path:circle(0)">Page</h1><div id="root"></div></main>
</body></html>"""
OPEN = """async () => {
  Object.assign(window, { outbox: [], receive: null, closePage: null });
  window.globals = Object.keys(window).sort().concat("globals");
  const model = {
    send: (action) => window.outbox.push(action),
    on: (_, call) => { window.receive = call; },
    off: () => {},
    get: () => "key",
  };
  const { default: widget } = await import("/page.js");
  window.closePage = widget.render({ model, el: document.getElementById("root") });
}"""

SHRUNK = """() => [...document.querySelectorAll(".picture svg")].some((e) =>
  e.getBoundingClientRect().width > 100 &&
  e.getBoundingClientRect().width < e.viewBox.baseVal.width - 1)"""
RECEIVE = """(answers) => {
  for (const answer of answers) window.receive(answer);
  return new Promise((done) => requestAnimationFrame(() => done()));
}"""
QUIET = "() => !window.outbox.length && document.querySelector('.page.settled') !== null"
PATIENCE_S = 60
DRAWN_S = 5
"""So long may a busy machine take until a picture tells its width."""
IDLE_S = 0.01
"""What is worked out when nothing is done comes soon: a test does nothing for long."""


class Live:
    """One page and the frame behind it.

    Attributes
    ----------
    waiting : list of dict
        Answers that were made and not yet delivered.
    actions : list of dict
        All that the page has sent.
    """

    def __init__(self, page: Any, lab: LabState | None = None, frame: Frame | None = None) -> None:
        self.page, self.lab = page, lab
        self.waiting: list[Any] = []
        self.actions: list[Any] = []
        if frame is None:
            assert lab is not None
            frame = opened(lab, self.waiting.append)
        else:
            frame.send = self.waiting.append
        self.frame = frame
        frame._idle.pause_s = IDLE_S
        page.route(f"{ADDRESS}**", self._serve)
        page.goto(ADDRESS)
        page.evaluate(OPEN)
        self.settle()
        self.sized()

    def _serve(self, route: Any) -> None:
        name = route.request.url.removeprefix(ADDRESS)
        if not name:
            route.fulfill(body=HTML, content_type="text/html; charset=utf-8")
        elif name in ("page.js", "page.css"):
            kind = "text/javascript" if name == "page.js" else "text/css"
            text = (STATIC / name).read_text("utf-8")
            route.fulfill(body=text, content_type=f"{kind}; charset=utf-8")
        else:
            route.fulfill(status=404, body="")

    def take(self) -> list[Any]:
        """Hand what the page has sent to Python; the answers wait."""
        found: list[Any] = self.page.evaluate("() => window.outbox.splice(0)")
        for action in found:
            assert wrong("action", action) == []
            self.frame.act(action)
        self.actions += found
        return found

    def deliver(self, *answers: Any) -> None:
        """Give answers to the page, in this order."""
        self.page.evaluate(RECEIVE, list(answers))

    def settle(self) -> None:
        """Exchange all there is, until neither has anything to say and all is worked out."""
        end = time.monotonic() + PATIENCE_S
        while time.monotonic() < end:
            found = self.take()
            answers = self.waiting[:]
            self.waiting.clear()
            self.deliver(*answers)
            if not found and not answers and self.page.evaluate(QUIET):
                return
            self.page.wait_for_timeout(2)
        raise AssertionError("the page and Python do not come to an end")

    def sized(self) -> None:
        """Wait until pictures know their width, and have been drawn for it."""
        end = time.monotonic() + DRAWN_S
        self.page.wait_for_timeout(150)
        self.settle()
        while self.page.evaluate(SHRUNK) and time.monotonic() < end:
            self.page.wait_for_timeout(50)
            self.settle()

    def text(self, selector: str) -> str:
        """Return what an element shows."""
        return str(self.page.locator(selector).first.inner_text())

    def cell(self, row: int, column: int) -> Any:
        """Return a cell of the sheet of readings."""
        return self.page.locator(f'[data-control="sheet {row} {column}"]')

    def focused(self) -> str:
        """Return the id of the control that has the focus."""
        return str(self.page.evaluate("() => document.activeElement.dataset.control || ''"))
