"""JupyterLab on temporary copies of the notebooks and a headless Chromium, see :mod:`.harness`.

``STOICHKIT_SHOTS`` names a folder for screenshots.
"""

from __future__ import annotations

import os
from collections.abc import Callable, Iterator
from pathlib import Path
from typing import Any

import pytest

from .harness import (
    RUN_ALL,
    Pages,
    Server,
    axe_path,
    broken_rules,
    chromium_path,
    free_port,
    running_browser,
    running_server,
)

__all__ = ["RUN_ALL", "browser", "free_port", "server", "shot", "violations"]

OpenNotebook = Callable[..., Any]


@pytest.fixture(scope="package")
def server(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Server]:
    pytest.importorskip("jupyterlab", reason="JupyterLab is not installed")
    with running_server(tmp_path_factory.mktemp("jupyter")) as found:
        yield found


@pytest.fixture(scope="package")
def browser() -> Iterator[Any]:
    if not chromium_path():
        pytest.skip("no Chromium: install Debian's, or name one in CHROMIUM")
    playwright = pytest.importorskip("playwright.sync_api", reason="Playwright is not installed")
    with running_browser(playwright) as chromium:
        yield chromium


@pytest.fixture(scope="package")
def pages(server: Server, browser: Any) -> Pages:
    """Return what opens notebooks one after the other, see :meth:`.Pages.open`."""
    return Pages(server, browser)


@pytest.fixture
def open_notebook(pages: Pages) -> OpenNotebook:
    """Return a function that opens a fresh copy of a notebook, see :meth:`.Pages.open`."""
    return pages.open


@pytest.fixture(scope="package")
def violations() -> Callable[[Any, str], list[str]]:
    """Return a function that lists what axe-core, a checker of accessibility rules, finds.

    Without axe-core it skips the rest of the test, so it is called last.
    """

    def found(page: Any, selector: str) -> list[str]:
        if not axe_path().is_file():
            pytest.skip("no axe-core: npm install --no-save axe-core, or name it in AXE_CORE")
        return broken_rules(page, selector)

    return found


@pytest.fixture
def shot() -> Callable[[Any, str], None]:
    """Return a function that saves a screenshot if ``STOICHKIT_SHOTS`` names a folder."""
    folder = os.environ.get("STOICHKIT_SHOTS")

    def save(locator: Any, name: str) -> None:
        if folder:
            Path(folder).mkdir(parents=True, exist_ok=True)
            locator.screenshot(path=Path(folder) / f"{name}.png")

    return save


@pytest.fixture
def opened(browser: Any, tmp_path: Path) -> Iterator[Callable[..., Any]]:
    """Return a function that opens a page, which may ask for nothing but itself."""
    contexts = []

    def open_page(html: str, **options: Any) -> Any:
        file = tmp_path / "page.html"
        file.write_text(html, "utf-8")
        contexts.append(browser.new_context(**options))
        page = contexts[-1].new_page()
        page.asked = []
        page.on("request", lambda request: page.asked.append(request.url))
        page.on("dialog", lambda dialog: pytest.fail(f"a dialog: {dialog.message}"))
        page.goto(file.as_uri())
        return page

    yield open_page
    for context in contexts:
        context.close()
