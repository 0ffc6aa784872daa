"""What a saved notebook shows of each screen: plain HTML in which nothing typed can act."""

from __future__ import annotations

import re
from dataclasses import replace
from typing import Any

import pytest

from stoichkit import assess, experiments
from stoichkit.decision.statement import verdict_sentences
from stoichkit.text.html import escaped
from stoichkit.widgets.state.lab import LabState
from stoichkit.widgets.view.frame import Frame
from stoichkit.widgets.view.readings import ReadingsScreen
from stoichkit.widgets.view.still import _written, still_html

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


def written(*blocks: dict[str, Any]) -> str:
    """Return blocks as a screen at rest writes them, without tags and on one line."""
    page = "\n".join(_written(blocks, {}))
    return " ".join(re.sub("<[^>]*>", " ", page).split())


@pytest.mark.parametrize(
    ("block", "text"),
    [
        ({"kind": "heading", "text": "Verdict"}, "Verdict"),
        ({"kind": "words", "text": "Two.", "role": "plain"}, "Two."),
        ({"kind": "words", "text": "", "role": "plain"}, ""),
        ({"kind": "list", "items": ["a", "b"]}, "a b"), ({"kind": "list", "items": []}, ""),
        ({"kind": "verdict", "headline": "None fits."}, "None fits."),
        ({"kind": "field", "label": "Mass, g", "text": "2.94"}, "Mass, g: 2.94"),
        ({"kind": "field", "label": "Mass, g", "text": " "}, ""),
        ({"kind": "choice", "label": "Sheet", "value": "2",
          "options": [["1", "Mon"], ["2", "Tue"]]}, "Sheet: Tue"),
        ({"kind": "choice", "label": "Sheet", "value": "9", "options": [["1", "Mon"]]}, "Sheet: 9"),
        ({"kind": "tick", "label": "Codes", "on": True}, "Codes."),
        ({"kind": "tick", "label": "Codes", "on": False}, ""),
        ({"kind": "step", "label": "Balance", "words": ["0.1 g", "0.01 g"], "value": 1},
         "Balance 0.01 g"),
        ({"kind": "press", "label": "Save"}, ""),
        ({"kind": "details", "summary": "More",
          "blocks": [{"kind": "tick", "label": "A", "on": True}]}, "More A."),
        ({"kind": "row", "blocks": [{"kind": "heading", "text": "B"}]}, "B"),
        ({"kind": "verdict", "headline": "H", "blocks": [{"kind": "heading", "text": "C"}]}, "H C"),
        ({"kind": "picture", "id": "none"}, ""),
        ({"kind": "sentence", "parts": [
            {"kind": "words", "text": "Heat "}, {"kind": "field", "text": ""},
            {"kind": "choice", "value": "x", "options": [["x", " to dryness"]]}]},
         "Heat … to dryness"),
    ],
)  # fmt: skip
def test_what_a_block_says_at_rest(block: dict[str, Any], text: str) -> None:
    assert written(block) == text


def test_a_table_at_rest_has_sixty_rows() -> None:
    def table(rows: int) -> str:
        made = [[f"r{n}", "1"] for n in range(1, rows + 1)]
        return written({"kind": "table", "caption": "T", "header": ["Name", "N"], "rows": made})

    assert "r60 1" in table(60)
    assert "left out" not in table(60)
    assert "r61" not in table(62)
    assert table(62).endswith("2 more rows are left out here.")
    assert table(0) == ""


def test_a_sheet_at_rest_has_units_and_results() -> None:
    cells = [{"text": "2.94"}, {"text": "x"}]
    sheet = {
        "kind": "sheet", "label": "Readings", "result": "ratio",
        "columns": [{"label": "before", "unit": "g"}, {"label": "weighed on", "unit": ""}],
        "rows": [{"name": "1", "cells": cells, "result": "1.96"}],
    }  # fmt: skip
    said = written(sheet)
    assert "trial before, g weighed on ratio" in said
    assert "1 2.94 x 1.96" in said
    plain = written({**sheet, "result": ""})
    assert "ratio" not in plain
    assert "1.96" not in plain
    rows = [{"name": f"r{n}", "cells": cells, "result": ""} for n in range(1, 62)]
    many = {**sheet, "rows": rows}
    assert "r60" in written(many)
    assert "r61" not in written(many)


def test_a_document_at_rest() -> None:
    parts = [
        {"kind": "strong", "text": "S"}, {"kind": "subheading", "text": "U"},
        {"kind": "list", "items": ["i"]}, {"kind": "text", "text": "P"},
        {"kind": "table", "header": ["h"], "rows": [["c"]], "caption": ""},
        {"kind": "equation", "sides": ["a", "b"], "remark": "two figures"},
        {"kind": "equation", "sides": ["a", "b"], "remark": ""},
        {"kind": "picture", "svg": "<svg/>", "alt_text": "A ray."},
    ]  # fmt: skip
    block = {
        "kind": "document", "title": "Title", "titled": True, "opening": ["Invented."],
        "sections": [{"title": "First", "parts": parts}, {"title": "", "parts": []}],
    }  # fmt: skip
    said = written(block)
    assert said.startswith("Title Invented. First S U i P h c a = b. two figures a = b")
    assert '<img alt="A ray."' in "\n".join(_written([block], {}))
    assert written({**block, "titled": False}).startswith("Invented.")
