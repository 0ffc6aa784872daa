"""Bench cards and labels in Chromium, printed: a card a page, nothing cut off, on both papers."""

from __future__ import annotations

import re
from collections.abc import Callable
from typing import Any

import pytest

from stoichkit import experiments
from stoichkit.bench import bench_cards, bench_plan, labels, stock_card
from stoichkit.experiments.record import Experiment
from tests.bench.paper import NAMES, crowded, many_candidates
from tests.reports.test_lab_report import PAPER_MM

pytestmark = pytest.mark.browser
MARGIN_MM = 12
LABS = {
    **{name: lambda name=name: experiments.load(name) for name in experiments.names()},
    "24 candidates": many_candidates,
    "crowded": lambda: crowded(cautions=8, advice=4, notes=4),
    "overcrowded": lambda: crowded(cautions=40, advice=8, notes=40),
}
QUICK = ("24 candidates", "overcrowded", "hydrate-heating")
"""The others follow with the slow tests: each takes seconds, and these have the most to hold."""
OUTSIDE = """(selector) => {
  const found = [];
  for (const frame of document.querySelectorAll(selector)) {
    const edge = frame.getBoundingClientRect();
    for (const one of frame.querySelectorAll("*")) {
      const box = one.getBoundingClientRect();
      const out = Math.max(edge.left - box.left, box.right - edge.right, edge.top - box.top,
        box.bottom - edge.bottom);
      if (box.width && out > 0.6) found.push(`${out} ${one.outerHTML.slice(0, 90)}`);
      if (one.scrollWidth > one.clientWidth + 1 && getComputedStyle(one).display !== "inline"
        && one.clientWidth) found.push(`wide ${one.outerHTML.slice(0, 90)}`);
    }
  }
  return found;
}"""
SMALLEST = """(selector) => Math.min(...[...document.querySelectorAll(selector)]
  .flatMap((one) => [one, ...one.querySelectorAll("*")])
  .filter((one) => [...one.childNodes].some((n) => n.nodeType === 3 && n.data.trim()))
  .map((one) => parseFloat(getComputedStyle(one).fontSize) * 0.75))"""


def pages_of(pdf: bytes) -> int:
    return len(re.findall(rb"/Type\s*/Page\b", pdf))


def lab_of(name: str) -> Experiment:
    return LABS[name]()


def at_print(page: Any, paper: str) -> None:
    """Lay the page out as it is printed."""
    page.emulate_media(media="print")
    width = round((PAPER_MM[paper][0] - 2 * MARGIN_MM) * 96 / 25.4)
    page.set_viewport_size({"width": width, "height": 1000})


@pytest.mark.parametrize(
    "name", [pytest.param(n, marks=[] if n in QUICK else pytest.mark.slow) for n in LABS]
)
def test_each_card_is_one_page(opened: Callable[..., Any], name: str) -> None:
    """Long names, many candidates and long cautions included."""
    for trials in (1, 4, 9):
        plan = bench_plan(lab_of(name), groups=len(NAMES), trials=trials)
        cards = bench_cards(plan, groups=NAMES)
        page = opened(cards.html())
        for paper in PAPER_MM:
            assert pages_of(page.pdf(format=paper)) == len(cards.sections)
            at_print(page, paper)
            assert page.evaluate(OUTSIDE, ".card") == []
            assert page.evaluate("() => document.documentElement.scrollWidth <= innerWidth")
            assert page.evaluate(SMALLEST, ".card") >= 7.1
        assert page.evaluate("() => document.scripts.length + document.images.length") == 0


@pytest.mark.parametrize(
    "name", ["copper-silver", "hydrate-heating", "24 candidates", "overcrowded"]
)
def test_no_label_is_cut_at_its_edges(opened: Callable[..., Any], name: str) -> None:
    page = opened(labels(lab_of(name), groups=NAMES).html())
    sheets = page.locator(".sheet").count()
    for paper in PAPER_MM:
        assert pages_of(page.pdf(format=paper)) == sheets
        at_print(page, paper)
        assert page.evaluate(OUTSIDE, ".label") == []
        assert page.evaluate(OUTSIDE, ".sheet") == []
        assert page.evaluate(SMALLEST, ".label") >= 6.2


def test_boxes_are_drawn_for_each_digit(opened: Callable[..., Any]) -> None:
    page = opened(bench_cards(experiments.load("copper-silver")).html())
    assert page.locator(".digits i").count() == 4 * 4 * 5  # readings, trials, □□□.□□
    box = page.locator(".digits i").first.bounding_box()
    assert box["width"] * 25.4 / 96 == pytest.approx(4.0, abs=0.3)
    assert page.get_by_role("img", name="5 digits to write").count() == 16


@pytest.mark.parametrize("paper", PAPER_MM)
def test_the_stock_card_prints_without_cutting_tables_off(
    opened: Callable[..., Any], paper: str
) -> None:
    for name in ("magnesium-gas", "crowded"):
        page = opened(stock_card(lab_of(name), groups=12).html())
        page.emulate_media(media="print")
        width = round((PAPER_MM[paper][0] - 28) * 96 / 25.4)
        page.set_viewport_size({"width": width, "height": 1000})
        assert page.evaluate("() => document.documentElement.scrollWidth") <= width


@pytest.mark.parametrize("make", [bench_cards, labels])
def test_it_is_accessible(opened: Callable[..., Any], violations: Any, make: Any) -> None:
    page = opened(make(experiments.load("magnesium-gas"), groups=NAMES).html())
    assert violations(page, "html") == []
