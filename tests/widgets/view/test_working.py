"""The screen “Working”: the worked solution in every style, what is older, and what is kept."""

from __future__ import annotations

import base64
from collections.abc import Callable, Iterator
from pathlib import Path

import pytest

from stoichkit import assess, experiments
from stoichkit.reports.hand_in import hand_in_page
from stoichkit.reports.lab import lab_report
from stoichkit.reports.worked import conclusion_paragraph, worked_solution
from stoichkit.widgets.state.lab import LabState
from stoichkit.widgets.state.worked import ALL, STYLES

from .protocol import Seen, opening

Opens = Callable[..., Seen]


@pytest.fixture
def working() -> Iterator[Opens]:
    yield from opening("working")


@pytest.mark.parametrize("name", experiments.names())
def test_every_ready_lab_is_worked_through(working: Opens, name: str) -> None:
    page, evidence = working(name), assess(experiments.load(name))
    first = evidence.experiment.trials[0].name
    (shown,) = page.all("document", "solution")
    assert {k: shown[k] for k in ("title", "sections")} == {
        k: v for k, v in worked_solution(evidence, trial=first).data().items() if k != "opening"
    }
    assert conclusion_paragraph(evidence) in page.text("conclusion")
    assert evidence.diagnosis.sentence in page.text("diagnosis")
    assert page.control("keep:path")["text"] == f"{name}-worked.html"


def test_figures_by_hand(working: Opens) -> None:
    """2.94 g − 2.82 g = 0.12 g of Cu; 0.12 / 63.546 = 0.001888 mol (pocket calculator)."""
    page = working()
    sides = [" = ".join(one["sides"]) for one in page.all("equation", "solution")]
    assert "m(Cu) = wire before − wire after = 2.94 g − 2.82 g = 0.12 g" in sides
    assert any("0.001888 mol" in one for one in sides)
    page.do("set", id="trial", to=ALL)
    sections = [one["title"] for one in page.all("document", "solution")[0]["sections"]]
    assert sections[:4] == [f"Trial bench {i}" for i in (1, 2, 3, 4)]
    page.do("set", id="yield", to="copper(I)")
    assert "For copper(I) the percent yield is 207 %" in page.text("solution")


def test_every_style_can_be_copied(working: Opens) -> None:
    page = working("tin-oxide")
    evidence = page.lab.readings.evidence
    for style in STYLES:
        page.do("set", id="style", to=style)
        expected = worked_solution(evidence, trial="1").written(
            "text" if style == "html" else style
        )
        (copied,) = page.all("copy", "solution")
        assert copied["text"] == expected
        shown = [one["text"] for one in page.all("source", "solution")]
        assert shown == ([] if style == "html" else [expected])
    (conclusion,) = page.all("copy", "conclusion")
    assert conclusion["text"] == conclusion_paragraph(evidence)


def test_an_older_solution_stays_and_is_not_kept(working: Opens, tmp_path: Path) -> None:
    page = working()
    before = page.all("document", "solution")
    page.lab.readings.set_reading(0, "wire before", "2,94 g<b>")
    page.do("left", id="")
    assert page.all("document", "solution") == before
    assert "This is older" in page.text("solution")
    assert page.all("verdict", "conclusion")[0]["look"] == "waits"
    assert "Not updated: bench 1, wire before." in page.text("conclusion")
    assert page.regions["diagnosis"] == []
    page.do("set", id="keep:path", to=str(tmp_path / "x.html"))
    for button in ("keep:download", "keep:write"):
        page.do("press", id=button)
        assert page.said.startswith("Nothing is saved while something typed cannot be used.")
    assert page.files == []
    assert list(tmp_path.iterdir()) == []
    page.lab.readings.set_reading(0, "wire before", "2,95")
    page.do("left", id="")
    assert "2.95 g − 2.82 g" in page.text("solution")
    assert "This is older" not in page.text("solution")


def test_what_is_tried_is_not_worked_through(working: Opens) -> None:
    page = working()
    page.lab.whatif.set_step("0.1")
    page.do("left", id="")
    assert "2.94 g − 2.82 g" in page.text("solution")
    assert "not of what is tried instead" in page.text("conclusion")


def test_files_are_those_of_the_library(working: Opens, tmp_path: Path) -> None:
    page = working("magnesium-gas")
    evidence = page.lab.readings.evidence
    assert evidence is not None
    solution = worked_solution(evidence, trial="1")
    expected = {
        ("worked", "w.html"): solution.html(), ("worked", "w.tex"): solution.latex(),
        ("worked", "w.md"): solution.markdown(), ("worked", "w.txt"): solution.text(),
        ("report", "r.html"): lab_report(evidence).html(),
        ("report", "r.md"): lab_report(evidence).markdown(),
        ("hand-in", "h.html"): hand_in_page(evidence).html(),
    }  # fmt: skip
    for (kind, name), text in expected.items():
        page.do("set", id="kind", to=kind)
        page.do("set", id="keep:path", to=name)
        page.do("press", id="keep:download")
        file = page.files.pop()
        assert (file["name"], base64.b64decode(file["base64"]).decode()) == (name, text)
        page.do("set", id="keep:path", to=str(tmp_path / name))
        page.do("press", id="keep:write")
        assert page.said == f"Saved: {tmp_path / name}"
        assert (tmp_path / name).read_text("utf-8") == text


def test_no_file_is_replaced_unless_it_is_said(working: Opens, tmp_path: Path) -> None:
    page = working()
    mine = tmp_path / "mine.md"
    mine.write_text("precious", "utf-8")
    page.do("set", id="keep:path", to=str(mine))
    page.do("press", id="keep:write")
    assert "exists already; it was not changed" in page.said
    assert mine.read_text("utf-8") == "precious"
    page.do("tick", id="keep:replace", to=True)
    page.do("press", id="keep:write")
    assert mine.read_text("utf-8").startswith("# Worked solution")
    page.do("set", id="kind", to="report")
    for name in ("x.pdf", "x.tex", "/", "  "):
        page.do("set", id="keep:path", to=name)
        for button in ("keep:download", "keep:write"):
            page.do("press", id=button)
            assert page.said, name
            assert not page.said.startswith(("Saved", "Something")) or not name.strip(), name
    assert [path.name for path in tmp_path.iterdir()] == ["mine.md"]


def test_choices_are_undone_and_given_up_with_the_lab(working: Opens) -> None:
    page = working()
    page.do("set", id="trial", to="bench 4")
    page.do("set", id="style", to="latex")
    assert page.control("keep:path")["text"] == "copper-silver-worked.tex"
    page.lab.history.undo()
    page.do("left", id="")
    assert (page.control("style")["value"], page.control("trial")["value"]) == ("html", "bench 4")
    page.lab.history.undo()
    page.do("left", id="")
    assert page.control("trial")["value"] == "bench 1"
    page.lab.history.redo()
    page.lab.readings.remove_trial()
    page.do("left", id="")
    assert page.control("trial")["value"] == "bench 1"  # bench 4 is gone
    page.lab.readings.load("tin-oxide")
    page.do("left", id="")
    assert page.control("trial")["value"] == "1"
    page.lab.history.undo()
    page.do("left", id="")
    assert page.lab.readings.name == "copper-silver"
    page.do("set", id="trial", to="nobody")
    assert page.said.startswith("This is not offered here.")


def test_choices_come_back_after_a_restart(working: Opens, tmp_path: Path) -> None:
    first = working(folder=tmp_path)
    first.do("set", id="trial", to="bench 3")
    first.do("set", id="style", to="markdown")
    first.do("set", id="keep:path", to="mine.md")
    first.lab.close()
    second = working(folder=tmp_path)
    second.do("press", id="restore") if second.lab.kit.offered else None
    assert second.control("trial")["value"] == "bench 3"
    assert second.control("style")["value"] == "markdown"
    assert second.control("keep:path")["text"] == "mine.md"


def test_damaged_choices_are_left_out() -> None:
    lab = LabState("copper-silver", autosave=False)
    for bad in (None, 7, [], {"trial": 7, "style": "pdf", "kind": None}, {"trial": "nobody"}):
        lab.worked.restore_tables(bad)
    assert lab.worked.chosen == ("bench 1", ALL, "html", "worked", "", False)
    lab.close()
