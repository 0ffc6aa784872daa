"""What a saved notebook shows of each screen: plain HTML in which nothing typed can act."""

from __future__ import annotations

import re
from dataclasses import replace

import pytest

from stoichkit import assess, experiments
from stoichkit.decision.statement import verdict_sentences
from stoichkit.text.html import escaped
from stoichkit.widgets.state.lab import LabState
from stoichkit.widgets.view.frame import Frame
from stoichkit.widgets.view.readings import ReadingsScreen
from stoichkit.widgets.view.still import still_html

from .protocol import screens

HOSTILE = "<img src=x onerror=alert(1)>"


@pytest.mark.parametrize("name", experiments.names())
def test_verdict_candidates_picture_and_readings_are_in_it(name: str) -> None:
    lab = experiments.load(name)
    page = still_html(Frame([ReadingsScreen(LabState(name, autosave=False))]))
    assert escaped(verdict_sentences(assess(lab))) in page
    for one in (*lab.candidates, *lab.trials):
        assert escaped(one.name) in page
    for texts in lab.trials[0].readings.values():
        assert escaped("; ".join(texts)) in page
    assert len(re.findall(r'<img alt="[^"]{40,}', page)) == 1


@pytest.mark.parametrize("key", sorted(screens()))
def test_nothing_typed_acts_on_any_screen(key: str) -> None:
    lab = experiments.load("copper-silver")
    trials = [replace(one, name=f"{HOSTILE}{i}") for i, one in enumerate(lab.trials)]
    state = LabState(replace(lab, title=HOSTILE, trials=tuple(trials)), autosave=False)
    page = still_html(Frame([screens()[key](state)]))
    assert HOSTILE not in page
    assert "<script" not in page
    assert not re.search(r"<(?!img alt=)[^>]*onerror", page)
    state.close()
