"""The panel of the worked solution: follows the shared readings, marks what is older, saves."""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest

ipywidgets = pytest.importorskip("ipywidgets", reason="ipywidgets is not installed")

from ipywidgets.widgets.widget import _instances

from stoichkit import experiments
from stoichkit.errors import ExperimentError, ModelError, StoichkitError
from stoichkit.reports.lab import lab_report
from stoichkit.reports.worked import (
    conclusion_paragraph,
    worked_solution,
)
from stoichkit.widgets.kit.controls import (
    Choice,
    LiveText,
)
from stoichkit.widgets.panels.worked import WorkedPanel, worked_panel
from stoichkit.widgets.state.readings import ReadingsState
from stoichkit.widgets.state.worked import ALL, STYLES, WorkedState
from tests.widgets.pages import receive, tree


def control(panel: Any, description: str) -> Any:
    found = [w for w in tree(panel) if getattr(w, "description", None) == description]
    assert len(found) == 1, f"{len(found)} controls called {description}"
    return found[0]


def press(panel: Any, description: str) -> None:
    button = control(panel, description)
    button.click()


def shown(panel: Any) -> str:
    return " ".join(
        w.text if isinstance(w, LiveText) else str(w.value)
        for w in tree(panel)
        if isinstance(w, (LiveText, ipywidgets.HTML))
    )


@pytest.fixture
def panel() -> Iterator[WorkedPanel]:
    made = worked_panel("copper-silver")
    yield made
    made.close()


# State


def test_choices_are_checked() -> None:
    state = WorkedState("copper-silver")
    assert (state.trial, state.yield_of, state.style) == ("bench 1", ALL, "html")
    state.choose_trial(ALL)
    assert state.solution().count("<h2>Trial ") == 4
    state.choose_trial("bench 3")
    state.choose_yield("copper(I)")
    for style in STYLES:
        state.choose_style(style)
        text = state.solution()
        assert "bench 3" in text
        assert "bench 1" in text  # in the table of the lab
        assert "Trial bench 1" not in text
    for choose in (state.choose_trial, state.choose_yield, state.choose_style):
        with pytest.raises(ExperimentError, match="no such"):
            choose("nothing")
    assert (state.trial, state.yield_of, state.style) == ("bench 3", "copper(I)", "text")


def test_choices_that_are_gone_are_given_up() -> None:
    readings = ReadingsState("copper-silver")
    state = WorkedState(readings)
    state.choose_trial("bench 4")
    state.choose_yield("copper(I)")
    readings.remove_trial()
    readings.set_candidates("copper(II) = 2\ncopper(III) = 3")
    state.fit()
    assert (state.trial, state.yield_of) == ("bench 1", ALL)
    assert "copper(III)" in state.solution()


def test_an_older_solution_stays_and_is_not_saved(tmp_path: Path) -> None:
    readings = ReadingsState("copper-silver")
    state = WorkedState(readings)
    before = state.solution()
    readings.set_reading(0, "wire before", "2,94 g")
    assert not state.current
    assert state.solution() == before
    assert state.status().startswith("Not updated: bench 1, wire before. The reading has letters")
    for save in (state.save_report, state.save_solution):
        with pytest.raises(ExperimentError, match="Nothing is saved while"):
            save(str(tmp_path / "x.html"))
    assert list(tmp_path.iterdir()) == []


def test_files_are_those_of_the_library(tmp_path: Path) -> None:
    state = WorkedState("magnesium-gas")
    assert state.evidence is not None
    report = state.save_report(str(tmp_path / "report"))
    assert report == tmp_path / "report.html"
    assert report.read_text("utf-8") == lab_report(state.evidence).html()
    for name, style in (("w.md", "markdown"), ("w.txt", "text"), ("w.tex", "latex"), ("w", "html")):
        file = state.save_solution(str(tmp_path / name))
        solution = worked_solution(state.evidence, trial=state.trial)
        assert file.read_text("utf-8") == solution.written(style)
    state.save_report(str(tmp_path / "report.html"))  # its own file
    (tmp_path / "mine.md").write_text("precious", "utf-8")
    with pytest.raises(ExperimentError, match="exists already; it was not changed"):
        state.save_report(str(tmp_path / "mine.md"))
    assert (tmp_path / "mine.md").read_text("utf-8") == "precious"
    state.save_report(str(tmp_path / "mine.md"), replace=True)
    assert (tmp_path / "mine.md").read_text("utf-8").startswith("# ")
    for save, name in ((state.save_report, "x.pdf"), (state.save_solution, "x.doc")):
        with pytest.raises(StoichkitError, match="a name that ends in"):
            save(str(tmp_path / name))
    for name in ("", "  ", str(tmp_path) + "/"):
        with pytest.raises(ExperimentError, match="does not name a file"):
            state.save_report(name)


# Choice


def test_a_choice_refuses_what_is_not_offered() -> None:
    choice = Choice("Trial", [("All", ""), ("<b>", "b")])
    choice.value = "b"
    with pytest.raises(ModelError, match="cannot be chosen"):
        choice.value = "c"
    assert choice.value == "b"
    choice.offer([("C", "c")], "c")
    assert choice.value == "c"
    choice.close()


def test_a_choice_of_the_page_that_is_no_longer_offered_is_taken_back(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    choice = Choice("Trial", [("All", ""), ("One", "1")])
    receive(choice, {"chosen": "1", "number": 1})
    assert choice.value == "1"
    told: list[dict[str, object]] = []
    monkeypatch.setattr(choice, "_send", lambda message, **_: told.append(message["state"]))
    receive(choice, {"chosen": "7", "number": 2})
    assert (choice.value, told[0]) == ("1", {"value": "1"})
    choice.close()


# Panel


@pytest.mark.parametrize("name", experiments.names())
def test_every_ready_experiment_is_shown(panel: WorkedPanel, name: str) -> None:
    control(panel, "Ready experiment (invented readings)").value = name
    assert panel.state.readings.name == name
    assert panel.message.text == ""
    evidence = panel.state.evidence
    assert evidence is not None
    first = evidence.experiment.trials[0].name
    assert control(panel, "Trial").value == first
    assert conclusion_paragraph(evidence).split(" lies")[0] in shown(panel)
    assert f"<h4>Trial {first}</h4>" in shown(panel)
    assert f"{name}-report.html" in control(panel, "Save the report as").value


def test_choices_change_what_is_shown(panel: WorkedPanel) -> None:
    control(panel, "Trial").value = ALL
    assert shown(panel).count("<h4>Trial ") == 4
    control(panel, "Percent yield of").value = "copper(I)"
    assert "For copper(I) the percent yield is 207 %" in shown(panel)
    control(panel, "Shown as").value = "latex"
    assert r"\section*{Worked solution: Copper wire in silver nitrate}" in shown(panel)
    assert 'aria-label="Worked solution, LaTeX source"' in shown(panel)
    assert "<h4>" not in shown(panel)


def test_what_is_typed_elsewhere_shows_here_and_older_is_marked() -> None:
    readings = ReadingsState("copper-silver")
    panel = WorkedPanel(readings, chooser=False)
    assert [w for w in tree(panel) if getattr(w, "description", "").startswith("Ready")] == []
    readings.set_reading(0, "wire before", "2.95")
    assert "2.95 g − 2.82 g" in shown(panel)
    readings.set_reading(0, "wire before", "<b>")
    assert "This is older" in shown(panel)
    assert "2.94 g − 2.82 g" in shown(panel)  # from before that field was touched
    assert "<b>" not in shown(panel).replace(panel.status.text, "")
    assert panel.status.text.startswith("Not updated: bench 1, wire before.")
    press(panel, "Save the report")
    assert "Nothing is saved while something typed cannot be used." in panel.message.text
    readings.set_reading(0, "wire before", "2.96")
    assert "This is older" not in shown(panel)
    assert panel.status.text == "Up to date."
    readings.set_title("<script>alert(1)</script>")
    assert "<script>" not in shown(panel)
    readings.add_trial()
    assert "Left out, because nothing is typed there: bench 5." in panel.status.text
    panel.close()


def test_a_resting_panel_catches_up() -> None:
    readings = ReadingsState("copper-silver")
    panel = WorkedPanel(readings)
    panel.rest.sleep()
    before = shown(panel)
    readings.load("tin-oxide")
    readings.set_reading(0, "crucible", "20.00")
    assert shown(panel) == before
    panel.rest.wake()
    assert "tin-oxide-report.html" in control(panel, "Save the report as").value
    assert control(panel, "Trial").value == readings.experiment.trials[0].name
    panel.close()


def test_files_are_saved_from_the_panel(
    panel: WorkedPanel, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.chdir(tmp_path)
    press(panel, "Save the report")
    assert f"Saved: {tmp_path / 'copper-silver-report.html'}" in shown(panel)
    control(panel, "Save the worked solution as").value = "w.tex"
    assert "Saved: " not in shown(panel)
    press(panel, "Save the worked solution")
    assert "Saved: " in shown(panel)
    assert {p.name for p in tmp_path.iterdir()} == {"copper-silver-report.html", "w.tex"}
    (tmp_path / "w.md").write_text("precious", "utf-8")
    control(panel, "Save the worked solution as").value = "w.md"
    press(panel, "Save the worked solution")
    assert "tick that the file may be replaced" in panel.message.text
    control(panel, "Files of these names may be replaced").value = True
    press(panel, "Save the worked solution")
    assert panel.message.text == ""
    assert (tmp_path / "w.md").read_text("utf-8").startswith("# ")


def test_an_error_is_shown_and_not_lost(
    panel: WorkedPanel, monkeypatch: pytest.MonkeyPatch, caplog: pytest.LogCaptureFixture
) -> None:
    def fail(*_: object, **__: object) -> str:
        raise RuntimeError("boom")

    monkeypatch.setattr("stoichkit.widgets.state.worked.worked_solution", fail)
    control(panel, "Trial").value = "bench 2"
    assert "RuntimeError: boom" in panel.message.text
    assert caplog.records


def test_closing_leaves_nothing_behind() -> None:
    before = set(_instances)
    readings = ReadingsState("copper-silver")
    panel = WorkedPanel(readings)
    assert "Panel “Worked solution” on “Copper wire" in repr(panel)
    assert len(_instances) > len(before)
    panel.close()
    assert set(_instances) == before
    readings.set_coverage("99 %")  # nobody listens any more
