"""The screen “Readings” as a page of Voilà, by keyboard and mouse in Chromium."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from typing import Any

import pytest

from ..browser.harness import expect_text, holds
from .servers import VoilaServer

pytestmark = pytest.mark.browser

NOTEBOOK = "readings-and-verdict.ipynb"
PANEL = ".stoichkit"
VERDICT = f"{PANEL} .headline"
WAITS = f"{PANEL} .verdict .refusal"
STEP_MS = 30_000
FONTS_ELSEWHERE = "net::ERR_"
"""Voilà's page asks for an icon font from elsewhere and goes on without it."""


@dataclass(frozen=True)
class Opened:
    """A page of Voilà with what its console said and what it asked for."""

    page: Any
    errors: list[str]
    elsewhere: list[str]


@pytest.fixture
def opened(voila: VoilaServer, browser: Any) -> Iterator[Opened]:
    context = browser.new_context(viewport={"width": 1400, "height": 3400})
    elsewhere: list[str] = []

    def only_here(route: Any) -> None:
        if route.request.url.startswith((f"http://127.0.0.1:{voila.port}/", "data:", "blob:")):
            route.continue_()
        else:
            elsewhere.append(route.request.url)
            route.abort()

    context.route("**/*", only_here)
    page = context.new_page()
    page.set_default_timeout(STEP_MS)
    errors: list[str] = []
    page.on("pageerror", lambda error: errors.append(str(error)))
    page.on("console", lambda said: errors.append(said.text) if said.type == "error" else None)
    page.goto(voila.url(NOTEBOOK))
    expect_text(page, VERDICT, "single out copper(II)")
    yield Opened(page, errors, elsewhere)
    context.close()


def field(page: Any, name: str) -> Any:
    return page.locator(PANEL).get_by_role("textbox", name=name, exact=True)


def test_the_verdict_follows_what_is_typed_and_clicked(
    opened: Opened, shot: Any, violations: Any
) -> None:
    page = opened.page
    shot(page, "voila")
    field(page, "bench 1, wire before").focus()
    page.keyboard.press("Control+A")
    page.keyboard.type("12,94")
    expect_text(page, VERDICT, "cannot tell copper(I) from copper(II)")
    page.keyboard.press("Tab")
    focused = page.evaluate("() => document.activeElement.getAttribute('aria-label')")
    assert focused == "bench 1, wire after"
    page.keyboard.press("Shift+Tab")
    page.keyboard.type("nonsense")
    expect_text(page, WAITS, "Waits for bench 1, wire before")
    holds(field(page, "bench 1, wire before"), "nonsense")
    page.locator(PANEL).get_by_role("button", name="Open", exact=True).click()
    page.get_by_role("combobox", name="A ready lab", exact=True).select_option("tin-oxide")
    expect_text(page, VERDICT, "single out SnO2")
    assert page.locator(f"{PANEL} .picture svg").first.get_attribute("aria-label")
    assert page.locator("[data-stoichkit-still]").first.is_hidden()
    shot(page, "voila-other")
    assert [e for e in opened.errors if FONTS_ELSEWHERE not in e] == []
    assert all(url.endswith((".css", ".woff2", ".js", ".png")) for url in opened.elsewhere)
    assert violations(page, PANEL) == []


def test_the_page_shows_no_code(opened: Opened) -> None:
    text = opened.page.locator("body").inner_text()
    assert "Readings and verdict" in text
    assert "import" not in text
    assert opened.page.locator(".jp-Editor, .CodeMirror, .cm-editor").count() == 0
