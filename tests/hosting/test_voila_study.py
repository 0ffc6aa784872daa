"""The screen “Study” as a page of Voilà: predict, look, answer, be told; the browser keeps it."""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest

from stoichkit.experiments.practice_labs import practice

from ..browser.harness import STEP_MS, notebook_of
from ..browser.test_practice import CODE, ROOT, Shown
from ..page.practising import work_through
from .servers import VoilaServer, serve_voila

pytestmark = [pytest.mark.browser, pytest.mark.slow]  # a minute; test_voila.py serves the readings

LAB = practice(2, level=2, kind="charge")


@pytest.fixture(scope="module")
def study(tmp_path_factory: pytest.TempPathFactory) -> Iterator[VoilaServer]:
    pytest.importorskip("voila", reason="Voilà is not installed")
    folder: Path = tmp_path_factory.mktemp("study")
    (folder / "study.ipynb").write_text(notebook_of(CODE), "utf-8")
    with serve_voila(folder, folder.parent / "study-home") as server:
        yield server


def test_a_practice_lab_and_what_is_kept_of_it(
    study: VoilaServer, browser: Any, violations: Any, shot: Any
) -> None:
    context = browser.new_context(viewport={"width": 900, "height": 2600})
    page = context.new_page()
    page.set_default_timeout(STEP_MS)
    page.goto(study.url("study.ipynb"))
    page.wait_for_selector(f"{ROOT} .page.settled")
    page.locator(f"{ROOT} button").first.focus()
    work_through(Shown(page), LAB, lambda name: shot(page, f"voila-study-{name}"))
    wide = page.evaluate("() => document.documentElement.scrollWidth")
    assert wide <= 900

    # the same browser, another kernel: the lab is not there, what became of it is
    page.goto(study.url("study.ipynb"))
    page.wait_for_selector(f"{ROOT} .page.settled")
    opener = page.get_by_text("What was worked through").first
    opener.click()
    page.locator(f"{ROOT} .r-progress").get_by_text(LAB.id).wait_for()
    assert "1 lab worked through to the end" in page.locator(f"{ROOT} .r-progress").inner_text()
    assert violations(page, ROOT) == []
    context.close()
