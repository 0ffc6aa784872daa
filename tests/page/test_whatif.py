"""A trial moved by pointer and by keys, the step of the balance: a what-if, undone at once."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

import pytest

from .live import Live

pytestmark = pytest.mark.browser
Opens = Callable[..., Live]
TRIAL = '.spot[aria-label^="bench 1:"]'


def as_typed(live: Live) -> list[dict[str, str]]:
    assert live.lab is not None
    return [dict(trial.readings) for trial in live.lab.readings.form.trials]


def centre(live: Live) -> tuple[float, float]:
    box = live.page.locator(f"{TRIAL} .target").bounding_box()
    assert box is not None
    return box["x"] + box["width"] / 2, box["y"] + box["height"] / 2


def moved(live: Live) -> list[Any]:
    return live.page.locator("td.what-if input").evaluate_all("(all) => all.map((e) => e.value)")


def undo_once(live: Live, words: str, before: list[dict[str, str]]) -> None:
    undo = live.page.locator('[data-control="undo"]')
    assert undo.get_attribute("aria-label") == f"Undo: {words}"
    undo.click()
    live.settle()
    assert moved(live) == []
    assert live.page.locator(".verdict.what-if").count() == 0
    assert as_typed(live) == before
    assert undo.is_disabled()


def test_a_trial_is_dragged_by_pointer(live: Opens) -> None:
    one = live()
    before, headline = as_typed(one), one.text(".headline")
    x, y = centre(one)
    mouse = one.page.mouse
    mouse.move(x, y)
    mouse.down()
    for i in range(1, 9):
        mouse.move(x + 10 * i, y + 15 * i)
        if i % 3 == 0:
            one.settle()
    dot = one.page.locator(".spot.moving .moved").bounding_box()
    assert dot is not None
    assert abs(dot["x"] + dot["width"] / 2 - x - 80) < 2  # it stays under the pointer
    assert abs(dot["y"] + dot["height"] / 2 - y - 120) < 2
    mouse.up()
    one.settle()
    assert one.page.locator(".spot.moving").count() == 0
    assert len(moved(one)) == 2
    assert one.text(".verdict").startswith(headline) is False
    assert "What if bench 1, wire after = " in one.text(".verdict")
    assert "typed: 2.82" in one.text("td.what-if .was")
    assert one.page.locator(".verdict.what-if").count() == 1
    assert as_typed(one) == before
    undo_once(one, "moved bench 1", before)
    assert one.text(".headline") == headline


def test_a_trial_is_moved_by_keys(live: Opens) -> None:
    """A key moves less than the display shows; the wishes add up until it shows another digit."""
    one = live()
    before = as_typed(one)
    one.page.locator(TRIAL).focus()
    assert "bench 1: " in one.text(".pointed")
    for _ in range(8):
        one.page.keyboard.press("ArrowRight")
        one.settle()
    for _ in range(9):
        one.page.keyboard.press("ArrowUp")  # faster than the answers
    one.settle()
    by_name = {
        cell.get_attribute("aria-label"): cell.input_value()
        for cell in one.page.locator("td.what-if input").all()
    }
    assert by_name.keys() == {"bench 1, wire after, what if", "bench 1, paper + silver, what if"}
    assert float(by_name["bench 1, wire after, what if"]) < 2.82  # more was used up
    assert float(by_name["bench 1, paper + silver, what if"]) > 1.15  # and more made
    assert as_typed(one) == before
    undo_once(one, "moved bench 1", before)


def test_back_to_the_readings_as_typed(live: Opens) -> None:
    one = live()
    before = as_typed(one)
    one.page.locator(TRIAL).focus()
    for _ in range(3):
        one.page.keyboard.press("Shift+ArrowUp")
    one.settle()
    assert moved(one)
    one.page.get_by_role("button", name="Back to the readings as typed").click()
    one.settle()
    assert moved(one) == []
    assert as_typed(one) == before


def test_the_step_of_the_balance(live: Opens) -> None:
    one = live()
    before, headline = as_typed(one), one.text(".headline")
    slider = one.page.get_by_role("slider", name="What if the balance read to")
    assert slider.get_attribute("aria-valuetext") == "0.01 g (mine)"
    slider.focus()
    for _ in range(3):
        one.page.keyboard.press("ArrowRight")
    assert slider.get_attribute("aria-valuetext") == "0.1 g"  # before any answer
    one.settle()
    assert slider.get_attribute("aria-valuetext") == "0.1 g"
    assert "What if the balance read to 0.1 g?" in one.text(".verdict")
    assert one.cell(0, 0).input_value() == "2.9"
    assert "typed: 2.94" in one.text("td.what-if .was")
    assert as_typed(one) == before
    one.page.get_by_role("button", name="back to 0.01 g").click()
    one.settle()
    assert one.cell(0, 0).input_value() == "2.94"
    assert one.text(".headline") == headline
    slider.focus()
    one.page.keyboard.press("ArrowLeft")
    one.settle()
    said = one.text(".r-could")
    assert "a balance reading to 0.005 g would have shown are not known" in said
    assert one.text(".headline") == headline


@pytest.mark.parametrize(("kind", "start"), [("SVG", b"<svg"), ("PNG", b"\x89PNG\r\n")])
def test_a_picture_is_saved(live: Opens, kind: str, start: bytes) -> None:
    one = live()
    with one.page.expect_download() as found:
        one.page.get_by_role("button", name=f"Save {kind}").click()
        one.settle()
    path = found.value.path()
    assert found.value.suggested_filename == f"copper-silver-amounts.{kind.lower()}"
    content = path.read_bytes()
    assert start in content[:200]
    assert len(content) > 5000
