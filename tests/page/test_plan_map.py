"""The map of designs: a place is clicked, or a dot pressed by pointer or key: it is the plan."""

from __future__ import annotations

from collections.abc import Callable

import pytest

from .live import Live

pytestmark = pytest.mark.browser
Opens = Callable[..., Live]
MAP = "svg.picks"


def planned(live: Live) -> tuple[float, str]:
    assert live.lab is not None
    texts = live.lab.kit.plan.texts
    return float(texts["amount"]), texts["readability"]


def opened(live: Opens) -> Live:
    one = live()
    one.page.get_by_role("button", name="Plan", exact=True).click()
    one.settle()
    for _ in range(60):  # the map is worked out beside all else
        if one.page.locator(MAP).count():
            break
        one.page.wait_for_timeout(250)
        one.settle()
    one.page.locator(MAP).scroll_into_view_if_needed()
    one.settle()
    return one


def test_a_place_that_is_clicked_becomes_the_plan(live: Opens) -> None:
    one = opened(live)
    spots = one.page.locator(f"{MAP} .spot .target")
    boxes = [spots.nth(i).bounding_box() for i in range(spots.count())]
    fine, _, coarse, here = [
        (b["x"] + b["width"] / 2, b["y"] + b["height"] / 2) for b in boxes if b
    ]
    before = planned(one)
    x, y = here[0] + 40, coarse[1] + 3  # on the coarse balance, with more than now
    one.page.mouse.click(x, y)
    one.settle()
    mass, step = planned(one)
    assert step == "0.1"
    assert mass > before[0]
    moved = one.page.locator(f"{MAP} .spot .target").last.bounding_box()
    assert moved is not None
    assert abs(moved["x"] + moved["width"] / 2 - x) < 6  # two digits of the mass
    assert abs(moved["y"] + moved["height"] / 2 - coarse[1]) < 3
    assert fine[1] > coarse[1]
    one.page.locator('[data-control="undo"]').click()
    one.settle()
    assert planned(one) == before


def test_the_dot_of_a_balance_is_taken_by_pointer_and_by_key(live: Opens) -> None:
    one = opened(live)
    dot = one.page.locator(f'{MAP} .spot[aria-label^="Read to 0.1 g"]')
    assert dot.get_attribute("role") == "button"
    assert "Enter takes it" in (dot.get_attribute("aria-label") or "")
    dot.locator(".target").click()
    one.settle()
    assert planned(one)[1] == "0.1"
    assert 0.3 < planned(one)[0] < 2
    one.page.locator(f'{MAP} .spot[aria-label^="Read to 0.001 g"]').focus()
    one.page.keyboard.press("Enter")
    one.settle()
    assert planned(one)[1] == "0.001"
    assert planned(one)[0] < 0.02


def test_the_table_of_set_ups_is_drawn_and_a_row_taken(live: Opens) -> None:
    one = opened(live)
    assert one.lab is not None
    for name, text in (("trials", "1"), ("balances", "0.01"), ("groups", "1")):
        one.lab.kit.plan.set(name, text)
    one.page.get_by_role("button", name="Compare set-ups").click()
    for _ in range(80):
        one.settle()
        if one.page.get_by_text("Set-ups: chances").count():
            break
        one.page.wait_for_timeout(500)
    row = one.page.locator("tr", has_text="each bench").first
    row.get_by_role("button").first.click()
    one.settle()
    assert planned(one) == (0.07, "0.01")
