"""The page to hand in, in Chromium: it runs nothing, can be read, filled in and printed."""

from __future__ import annotations

import re
from collections.abc import Callable
from typing import Any

import pytest

from stoichkit import experiments
from stoichkit.decision.evidence import assess
from stoichkit.reports.hand_in import hand_in_page
from tests.reports.test_lab_report import NASTY, PAPER_MM, hostile

LETTERS = """() => {
  const small = [];
  for (const one of document.querySelectorAll("main *:not(title)")) {
    const own = [...one.childNodes].some((node) => node.nodeType === 3 && node.data.trim());
    if (!own && one.tagName !== "INPUT") continue;
    const svg = one.closest("svg");
    const drawn = svg ? svg.getBoundingClientRect().width / svg.viewBox.baseVal.width : 1;
    const px = drawn * parseFloat(getComputedStyle(one).fontSize);
    if (px < 11.99) small.push(`${one.tagName} ${px} ${one.textContent}`);
  }
  return small;
}"""
NAMES = ("copper-silver", "hydrate-heating", "magnesium-gas")


def made(name: str = "copper-silver") -> str:
    return hand_in_page(assess(experiments.load(name))).html()


def test_nothing_typed_acts(opened: Callable[..., Any]) -> None:
    clean = opened(made()).evaluate("() => Object.getOwnPropertyNames(window).sort()")
    attack = '<img src=x onerror="window.hit=1"><script>window.hit=1</script>'
    for typed in (NASTY, attack, f'" autofocus onfocus="window.hit=1" x="{attack}'):
        page = opened(hand_in_page(assess(hostile()), name=typed, date=typed, title=typed).html())
        field = page.get_by_role("textbox", name="Name")
        field.focus()
        page.wait_for_timeout(50)
        assert page.evaluate("() => Object.getOwnPropertyNames(window).sort()") == clean
        assert field.input_value() == typed.replace("\x1b", "\N{REPLACEMENT CHARACTER}")
        assert [url.rpartition("/")[2] for url in page.asked] == ["page.html"]
        assert page.evaluate("() => document.scripts.length + document.images.length") == 0


def test_it_can_be_read(opened: Callable[..., Any], violations: Any) -> None:
    for name in NAMES:
        page = opened(made(name))
        for width in (1280, 480):
            page.set_viewport_size({"width": width, "height": 800})
            assert page.evaluate(LETTERS) == []
            assert page.evaluate("() => document.documentElement.scrollWidth") <= width
    for scheme, colour in (("light", "rgb(255, 255, 255)"), ("dark", "rgb(22, 22, 22)")):
        page.emulate_media(color_scheme=scheme)
        assert page.evaluate("() => getComputedStyle(document.body).backgroundColor") == colour
        assert violations(page, "html") == [], scheme


def test_forced_colours_leave_the_picture_and_the_lines_to_be_filled_in(
    opened: Callable[..., Any],
) -> None:
    page = opened(made(), forced_colors="active", color_scheme="dark")
    look = page.evaluate("""() => {
      const style = (selector) => getComputedStyle(document.querySelector(selector));
      return [style("body").backgroundColor, style("svg rect").fill,
        style("svg text").fill, style(".field input").borderBottomStyle];
    }""")
    assert look == ["rgb(0, 0, 0)", "rgb(255, 255, 255)", "rgb(26, 26, 26)", "solid"]


@pytest.mark.parametrize("paper", PAPER_MM)
def test_it_is_filled_in_and_printed(opened: Callable[..., Any], paper: str) -> None:
    page = opened(made("hydrate-heating"), color_scheme="dark")
    page.keyboard.press("Tab")
    page.keyboard.type("Bench 2")
    page.keyboard.press("Tab")
    page.keyboard.type("3 March")
    values = [page.get_by_role("textbox", name=one).input_value() for one in ("Name", "Date")]
    assert values == ["Bench 2", "3 March"]
    pdf = page.pdf(format=paper)
    assert 2 <= len(re.findall(rb"/Type\s*/Page\b", pdf)) <= 4
    page.emulate_media(media="print")
    width = round((PAPER_MM[paper][0] - 28) * 96 / 25.4)
    page.set_viewport_size({"width": width, "height": 1000})
    assert page.evaluate("() => document.documentElement.scrollWidth") <= width
    assert page.evaluate(LETTERS) == []
    back = page.evaluate("() => getComputedStyle(document.body).backgroundColor")
    assert back == "rgb(255, 255, 255)"
