"""The evidence as HTML: a table that says what it is, and user text that stays text."""

from __future__ import annotations

import html
from dataclasses import replace
from html.parser import HTMLParser

import pytest

from stoichkit import experiments
from stoichkit.chemistry.candidates import plain_ratios
from stoichkit.decision.evidence import assess
from stoichkit.plots.result import live_svg
from stoichkit.widgets.panels.html import (
    about_html,
    assumptions_html,
    budget_html,
    candidates_html,
    instruments_html,
    picture_html,
    warnings_html,
)

HOSTILE = '<img src=x onerror="alert(1)">&amp;'
KNOWN = {
    *("p", "strong", "ul", "li", "table", "caption", "thead", "tbody", "tr", "th", "td", "div"),
    *("svg", "title", "rect", "text", "polyline", "polygon", "path", "circle"),
}


class Tags(HTMLParser):
    """Gathers the names of the elements and checks that each is closed in its turn."""

    def __init__(self, text: str) -> None:
        super().__init__()
        self.found: list[str] = []
        self.open: list[str] = []
        self.feed(text)
        self.close()
        assert not self.open

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        assert not any(name.startswith("on") for name, _ in attrs)
        self.found.append(tag)
        self.open.append(tag)

    def handle_startendtag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        assert not any(name.startswith("on") for name, _ in attrs)
        self.found.append(tag)

    def handle_endtag(self, tag: str) -> None:
        assert self.open.pop() == tag


def test_the_tables_have_captions_and_scopes() -> None:
    evidence = assess(experiments.load("copper-silver"))
    for text, rows in ((candidates_html(evidence), 2), (budget_html(evidence), 9)):
        assert text.count("<caption>") == 1
        assert text.count('scope="row"') == rows
        assert text.count('scope="col"') == text.count("<th ") - rows


def test_hostile_names_stay_text() -> None:
    lab = experiments.load("copper-silver")
    lab = replace(
        lab,
        title=HOSTILE,
        about=f"{HOSTILE} {lab.about}",
        candidates=plain_ratios({HOSTILE: "1", "b": "2"}),
        candidate_spec=None,
    )
    lab = lab.with_instrument(HOSTILE, lab.instruments["balance"])
    lab = replace(
        lab,
        consumed=replace(lab.consumed, instrument=HOSTILE),
        trials=tuple(replace(t, name=f"{HOSTILE} {i}") for i, t in enumerate(lab.trials)),
    )
    evidence = assess(lab)
    pieces = [candidates_html, budget_html, warnings_html, assumptions_html, live_svg]
    texts = [piece(evidence) for piece in pieces]
    for text in (*texts, about_html(lab), instruments_html(lab)):
        assert set(Tags(text).found) <= KNOWN
    assert html.escape(HOSTILE) in candidates_html(evidence)


@pytest.mark.parametrize("name", experiments.names())
def test_every_ready_experiment_can_be_shown(name: str) -> None:
    evidence = assess(experiments.load(name))
    for piece in (candidates_html, budget_html, warnings_html, assumptions_html):
        assert set(Tags(piece(evidence)).found) <= KNOWN
    assert 'alt="' in picture_html(evidence)


def test_invented_readings_are_said_to_be() -> None:
    lab = experiments.load("copper-silver")
    assert "invented" in about_html(lab)
    assert about_html(replace(lab, invented=False, about="")) == ""
