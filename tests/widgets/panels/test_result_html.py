"""The evidence as HTML: a table that says what it is, and user text that stays text."""

from __future__ import annotations

import html
from collections.abc import Callable
from dataclasses import replace
from html.parser import HTMLParser

import pytest

from stoichkit import experiments
from stoichkit.chemistry.candidates import plain_ratios
from stoichkit.decision.evidence import assess
from stoichkit.decision.sentences import yield_sentence
from stoichkit.errors import ExperimentError
from stoichkit.experiments import Looks
from stoichkit.experiments.record import Experiment
from stoichkit.plots.result import live_svg
from stoichkit.widgets.panels.causes import CausesPanel
from stoichkit.widgets.panels.html import (
    about_html,
    assumptions_html,
    budget_html,
    candidates_html,
    instruments_html,
    picture_html,
    verdict_look,
    warnings_html,
    yields_html,
)
from stoichkit.widgets.panels.readings import ReadingsPanel
from stoichkit.widgets.panels.worked import WorkedPanel
from stoichkit.widgets.state.causes import CausesState
from stoichkit.widgets.state.readings import ReadingsState
from stoichkit.widgets.state.worked import WorkedState
from tests.labs import REVERSED, crucible, lab, two

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


@pytest.mark.parametrize("make", [lambda: lab(REVERSED), lambda: crucible("22.7072", "22.7062")])
def test_what_cannot_be_judged_is_grey_and_in_no_bold(make: Callable[[], Experiment]) -> None:
    evidence = assess(make())
    assert any(c.compatible for c in evidence.candidates.values())

    rows = candidates_html(evidence)
    assert "not judged" in rows
    assert ">fits<" not in rows
    assert rows.count("stoichkit-out") == 7 * len(evidence.candidates)
    yields = yields_html([(n, yield_sentence(evidence, n)) for n in evidence.candidates], evidence)
    assert "<strong>" not in yields
    assert "None of these candidates is judged" in yields
    assert verdict_look(evidence, current=True) == "stoichkit-verdict stoichkit-unjudged"


def test_a_panel_shows_what_cannot_be_judged_and_the_second_opinion() -> None:
    panel = ReadingsPanel(ReadingsState(lab(REVERSED)))
    causes = CausesPanel(CausesState(panel.state))
    worked = WorkedPanel(WorkedState(panel.state))
    try:
        shown = panel._results.verdict
        assert shown.text.startswith("These readings cannot be judged: the amounts of Cu and Ag")
        assert "stoichkit-unjudged" in shown.look
        assert panel._results.second.text == ""
        assert "stoichkit-unjudged" in causes.verdict.look
        assert "stoichkit-unjudged" in worked._conclusion.value
        assert "From 3 trials nothing can be concluded" in worked._conclusion.value
        panel.state.load(two((0.64, 0.34), (0.56, 0.30)))
        assert shown.text.startswith("If the trials differ by nothing but their readings")
        assert "stoichkit-unjudged" not in shown.look
        assert "Nothing was stated about how much the trials" in panel._results.second.text
    finally:
        for one in (worked, causes, panel):
            one.close()


def test_a_panel_says_which_look_it_is_and_what_more_trials_bring() -> None:
    coarse = experiments.load("copper-silver-coarse")
    panel = ReadingsPanel(ReadingsState(replace(coarse, looks=Looks(planned=5))))
    try:
        assert panel._results.second.text.startswith("Look 4 of 5 planned")
        assert panel._following.value == ""
        panel._ask_following()
        assert panel._progress.text == "Done."
        assert "Chance of a right answer after further trials" in panel._following.value
        panel.state.set_reading(0, "paper", "x")
        assert panel._following.value == panel._progress.text == ""
        with pytest.raises(ExperimentError, match="a form that can be used"):
            panel._ask_following()
        panel.state.load(lab(REVERSED))
        panel._ask_following()
        assert panel._progress.text.startswith(
            "There is no answer. These readings cannot be judged"
        )
    finally:
        panel.close()
