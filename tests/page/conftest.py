"""The page alone in a headless Chromium, see :mod:`.live`."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from typing import Any

import pytest

from stoichkit.widgets.state.lab import LabState
from stoichkit.widgets.view.frame import Frame
from tests.browser.harness import chromium_path, running_browser

from .live import Live


@pytest.fixture(scope="package")
def chromium() -> Iterator[Any]:
    if not chromium_path():
        pytest.skip("no Chromium: install Debian's, or name one in CHROMIUM")
    playwright = pytest.importorskip("playwright.sync_api", reason="Playwright is not installed")
    pytest.importorskip("jsonschema", reason="jsonschema is not installed")
    with running_browser(playwright) as found:
        yield found


@pytest.fixture
def live(chromium: Any) -> Iterator[Callable[..., Live]]:
    """Return a function that opens the page on a lab, or on a frame."""
    closing: list[Callable[[], object]] = []

    def opened(
        source: Any = "copper-silver", *, width: int = 1440, height: int = 900,
        dark: bool = False, frame: Frame | None = None,
    ) -> Live:  # fmt: skip
        page = chromium.new_page(
            viewport={"width": width, "height": height},
            color_scheme="dark" if dark else "light",
        )  # fmt: skip
        page.set_default_timeout(15_000)
        closing.append(page.close)
        lab = None
        if frame is None:
            lab = LabState(source, autosave=False)
            closing.append(lab.close)
        errors: list[str] = []
        page.on("pageerror", lambda error: errors.append(str(error)))
        page.on("console", lambda m: errors.append(m.text) if m.type == "error" else None)
        made = Live(page, lab, frame)
        closing.append(lambda: _none(errors))
        return made

    yield opened
    for close in reversed(closing):
        close()


def _none(errors: list[str]) -> None:
    assert errors == []
