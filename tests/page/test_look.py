"""What every screen looks like: nothing acts, is cut off, too small, or hidden from anybody."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

import pytest

from stoichkit import experiments
from stoichkit.widgets.view import blocks as b
from stoichkit.widgets.view.frame import Frame, Region
from stoichkit.widgets.view.task import Task
from tests.browser.harness import axe_path, broken_rules
from tests.widgets.view.protocol import screens
from tests.widgets.view.test_protocol import Every

from .live import Live

pytestmark = pytest.mark.browser
Opens = Callable[..., Live]
PAGE = ".stoichkit"
SMALLEST_PX = 12
SMALL = """([root, least]) => [...document.querySelectorAll(`${root} *`)].filter((e) => {
  const own = [...e.childNodes].some((n) => n.nodeType === 3 && n.data.trim()) || e.value;
  const box = e.getBoundingClientRect();
  if (!own || !box.width || !box.height) return false;
  const svg = e.ownerSVGElement;
  const scale = svg ? svg.getBoundingClientRect().width / svg.viewBox.baseVal.width : 1;
  return parseFloat(getComputedStyle(e).fontSize) * scale < least - 0.05;
}).map((e) => e.outerHTML.slice(0, 120))"""
CUT_OFF = """(root) => {
  const whole = document.querySelector(root).getBoundingClientRect();
  const wide = document.documentElement.scrollWidth > innerWidth ? ["the page scrolls"] : [];
  const found = [...document.querySelectorAll(`${root} *`)].filter((e) => {
    const box = e.getBoundingClientRect();
    if (!box.width || !box.height || e.closest(".scroll > *")) return false;
    return box.right > whole.right + 1 || box.left < whole.left - 1;
  });
  const kinds = ["button", "label", "input[type=text]"].map((kind) => `${root} ${kind}`);
  const short = [...document.querySelectorAll(kinds.join())]
    .filter((e) => e.clientWidth > 2 && e.scrollWidth > e.clientWidth + 1);
  return [...wide, ...[...found, ...short].map((e) => e.outerHTML.slice(0, 140))];
}"""
OPEN_ALL = """(root) => {
  for (const e of document.querySelectorAll(`${root} [aria-expanded=false]`)) e.click();
  for (const e of document.querySelectorAll(`${root} details`)) e.open = true;
}"""
SIZES = [(1440, 900), (900, 800), (480, 800), (720, 450)]
"""The last is what is left of 1440 by 900 at 200 % zoom."""


def show(live: Live, screen: str) -> None:
    live.frame.show(screen)
    live.frame.changed()
    live.settle()
    work = [one for one in vars(live.frame.screens[screen]).values() if isinstance(one, Task)]
    for _ in range(100):  # what is worked out beside the page comes when it is done
        before, busy = len(live.actions), any(one.running for one in work)
        live.sized()
        if not busy and len(live.actions) == before:
            break


def open_all(live: Live) -> None:
    """Open all that opens in place, and what opens within it."""
    for _ in range(2):
        live.page.evaluate(OPEN_ALL, PAGE)
        live.sized()


def found(live: Live) -> list[str]:
    cut = live.page.evaluate(CUT_OFF, PAGE)
    small = live.page.evaluate(SMALL, [PAGE, SMALLEST_PX])
    return [*(f"cut off: {one}" for one in cut), *(f"small: {one}" for one in small)]


def at_every_size(live: Live) -> list[str]:
    wrong = []
    for width, height in SIZES:
        live.page.set_viewport_size({"width": width, "height": height})
        live.sized()
        wrong += [f"{width} by {height}: {one}" for one in found(live)]
    return wrong


@pytest.mark.parametrize("screen", screens())
def test_nothing_is_cut_off_small_or_hidden_from_anybody(live: Opens, screen: str) -> None:
    """At every size, closed and opened; then the rules of accessibility, in light and in dark."""
    one = live()
    show(one, screen)
    assert at_every_size(one) == []
    one.page.set_viewport_size({"width": 1440, "height": 900})
    open_all(one)
    assert at_every_size(one) == []
    one.page.set_viewport_size({"width": 1440, "height": 900})
    one.sized()
    for scheme in ("light", "dark"):
        one.page.emulate_media(color_scheme=scheme)
        assert rules_broken(one) == [], scheme


@pytest.mark.parametrize("scheme", ["light", "dark"])
def test_a_refusal_and_a_what_if_break_no_rule(live: Opens, scheme: str) -> None:
    one = live(dark=scheme == "dark")
    one.cell(0, 0).fill("x")
    one.cell(1, 0).focus()
    one.settle()
    assert rules_broken(one) == []
    one.cell(0, 0).fill("2.49")
    one.page.get_by_role("slider").focus()
    one.page.keyboard.press("ArrowRight")
    one.settle()
    assert one.page.locator(".verdict.what-if").count() == 1
    assert rules_broken(one) == []


def rules_broken(live: Live) -> list[str]:
    if not axe_path().is_file():
        pytest.skip("no axe-core: npm install --no-save axe-core, or name it in AXE_CORE")
    return broken_rules(live.page, "html")


@pytest.mark.parametrize("name", experiments.names())
def test_every_ready_lab_fits_a_narrow_page(live: Opens, name: str) -> None:
    one = live(name, width=480, height=800)
    assert found(one) == []


def test_verdict_and_picture_are_in_the_first_screen(live: Opens) -> None:
    one = live()
    for selector in (".verdict", ".candidates", ".picture svg"):
        box = one.page.locator(selector).bounding_box()
        assert box is not None
        assert box["y"] + box["height"] <= 900, selector


class Kinds(Every):
    """Every kind of control, with text that would act if it could."""

    BAD = '<img src=x onerror="globalThis.hit=1"><script>hit=1</script>javascript:hit=1\'"`${hit=1}'

    def build(self, make: b.Builder) -> list[b.Block]:
        bad = self.BAD
        return [
            *super().build(make),
            make.field("f2", bad, bad, self.take, note=bad, options=[(bad, bad)]),
            make.field("f3", bad, bad, self.take, lines=2),
            make.choice("c2", bad, bad, [(bad, bad)], self.take),
            make.button("b2", bad, self.take, spoken=bad),
            make.chip("chip", bad, bad, [b.words(bad)]),
            make.progress(bad, "stop2", self.take),
            make.step("s2", bad, 0, (bad, bad), self.take),
            make.table(bad, (bad, bad), [(bad, bad)], name="t2", chosen=self.take),
            make.sheet("sheet2", bad, [{"label": bad, "unit": bad}],
                       [{"name": bad, "cells": [b.cell(bad, mark="what if", note=bad)],
                         "result": bad, "refusal": bad}], self.take, renamed=self.take, result=bad),
            b.heading(bad), b.bullets([bad]), b.sentence(bad), b.details(bad, [b.words(bad)]),
            {"kind": "verdict", "headline": bad, "look": "current", "blocks": []},
            {"kind": "candidates", "stale": False, "rows": [{
                "name": bad, "standing": bad, "p": bad, "share": 1.0, "fits": True, "yield": bad}]},
            {"kind": "document", "titled": True, "title": bad, "opening": [bad], "sections": [{
                "title": bad, "parts": [
                    *({"kind": k, "text": bad} for k in ("paragraph", "strong", "subheading")),
                    {"kind": "list", "items": [bad]},
                    {"kind": "table", "caption": bad, "header": [bad], "rows": [[bad]]},
                    {"kind": "equation", "sides": [bad, bad], "latex": bad, "remark": bad},
                    {"kind": "picture", "alt_text": bad, "caption": bad, "file": "",
                     "svg": f'<svg xmlns="http://www.w3.org/2000/svg" onload="hit=1">{bad}</svg>'},
                ]}]},
        ]  # fmt: skip


def new_globals(live: Live) -> list[str]:
    script = "() => Object.keys(window).filter((name) => !window.globals.includes(name))"
    return list(live.page.evaluate(script))


def test_no_text_acts_in_any_block(live: Opens) -> None:
    one = live(frame=Frame([Kinds()]))
    open_all(one)
    one.page.wait_for_timeout(100)
    assert new_globals(one) == []
    assert one.page.locator(f"{PAGE} script, {PAGE} img[src=x]").count() == 0
    shown = one.text(PAGE)
    assert shown.count(Kinds.BAD) > 20


def test_no_text_that_is_typed_acts(live: Opens) -> None:
    one = live()
    bad = Kinds.BAD
    one.cell(0, 0).fill(bad)
    one.page.get_by_role("textbox", name="Name of trial 2").fill(bad)
    one.settle()
    assert "This cannot be the name of a trial." in one.text("td.result.refused")
    one.page.get_by_role("textbox", name="Name of trial 2").fill(bad[:40])
    one.page.get_by_role("button", name="About").click()
    one.page.get_by_role("textbox", name="Title").fill(bad)
    one.settle()
    assert bad in one.text(".r-head h2")
    one.cell(0, 0).fill("2.94")
    one.page.get_by_role("textbox", name="Candidates").fill(f"{bad} = 2\ncopper(I) = 1")
    one.settle()
    one.page.wait_for_timeout(100)
    assert new_globals(one) == []
    assert one.page.locator(f"{PAGE} script, {PAGE} img[src=x]").count() == 0


def test_a_page_that_is_closed_is_empty(live: Opens) -> None:
    one = live()
    one.page.evaluate("() => window.closePage()")
    assert one.page.locator("#root").inner_html() == ""


def test_a_screen_without_head_or_tabs(live: Opens) -> None:
    class Small:
        key, title = "small", "Small"
        frame: Frame | None = None

        def regions(self) -> list[Region]:
            return [Region("all", "wide", lambda _: [b.words("Here.")])]

    one = live(frame=Frame([Small()]))
    assert one.text(PAGE).strip() == "Here."
    assert one.page.locator("nav, .top").count() == 0


def test_a_message_that_is_none_is_left_alone(live: Opens) -> None:
    one = live()
    before: Any = one.text(PAGE)
    for bad in (None, 7, "x", {}, {"layout": None}, []):
        one.deliver(bad)
    assert one.text(PAGE) == before
