"""The widgets are a thin skin: they show the state, hide no error and leave nothing behind."""

from __future__ import annotations

import logging
from collections.abc import Iterator
from datetime import UTC, datetime
from pathlib import Path
from typing import Any

import pytest

ipywidgets = pytest.importorskip("ipywidgets", reason="ipywidgets is not installed")

from ipywidgets.widgets.widget import _instances

from stoichkit import experiments
from stoichkit.experiments.store import load_experiment
from stoichkit.widgets.kit.controls import LiveText, TextField, guarded
from stoichkit.widgets.panels.readings import (
    ReadingsPanel,
    readings_panel,
)
from stoichkit.widgets.state.readings import ReadingsState
from tests.widgets.pages import tree


@pytest.fixture
def panel() -> Iterator[ReadingsPanel]:
    made = readings_panel("copper-silver")
    yield made
    made.close()


def control(panel: Any, description: str) -> Any:
    found = [w for w in tree(panel) if getattr(w, "description", None) == description]
    assert len(found) == 1, f"{len(found)} controls called {description}"
    return found[0]


def press(panel: Any, description: str) -> None:
    """Press a button as the front end does; errors are shown, not raised."""
    button = control(panel, description)
    button.click()


def shown(panel: Any) -> str:
    return " ".join(
        w.text if isinstance(w, LiveText) else w.below if isinstance(w, TextField) else str(w.value)
        for w in tree(panel)
        if isinstance(w, (LiveText, TextField, ipywidgets.HTML))
    )


def test_typing_changes_the_verdict(panel: ReadingsPanel) -> None:
    assert "single out copper(II)" in shown(panel)
    control(panel, "bench 1: wire before, g").value = "3.94"
    assert "single out copper(II)" not in shown(panel)


def test_a_refusal_stands_beside_its_field_and_keeps_the_text(panel: ReadingsPanel) -> None:
    field = control(panel, "bench 1: wire before, g")
    field.value = "<i>nonsense"
    assert field.value == "<i>nonsense"
    assert "Not used" in field.below
    assert field.refused
    assert "single out copper(II)" in shown(panel)
    assert "Not updated: bench 1, wire before" in shown(panel)
    assert "<i>" not in "".join(w.value for w in tree(panel) if isinstance(w, ipywidgets.HTML))

    field.value = "2,94"
    assert field.below == ""
    assert "Not updated" not in shown(panel)


def test_trials_come_and_go(panel: ReadingsPanel) -> None:
    press(panel, "Add a trial")
    assert "Left out, because nothing is typed there: bench 5." in shown(panel)
    control(panel, "bench 5: paper, g").value = "0.70"
    assert "Not updated" in shown(panel)
    for _ in range(4):
        press(panel, "Remove the last trial")
    assert "single trial" in shown(panel)
    press(panel, "Remove the last trial")
    assert "One trial is needed." in panel.message.text
    press(panel, "Add a trial")
    assert panel.message.text == ""
    assert control(panel, "bench 2: wire before, g").value == "3.19"


def test_every_control_has_a_name(panel: ReadingsPanel) -> None:
    for name in experiments.names():
        panel.state.load(name)
        for widget in tree(panel):
            if hasattr(widget, "description") and not isinstance(widget, ipywidgets.HTML):
                assert widget.description.strip(), widget


@pytest.mark.parametrize("name", experiments.names())
def test_every_ready_experiment_can_be_opened(panel: ReadingsPanel, name: str) -> None:
    control(panel, "Ready experiment (invented readings)").value = name
    press(panel, "Open the ready experiment")
    assert panel.message.text == ""
    assert panel.state.name == name
    assert control(panel, "Title").value == experiments.load(name).title
    assert "Up to date." in shown(panel)


def test_a_file_is_opened_and_a_faulty_one_refused(panel: ReadingsPanel) -> None:
    upload = control(panel, "Open a TOML file")

    def send(content: bytes) -> None:
        file = {"name": "lab.toml", "type": "", "size": len(content), "content": content}
        upload.value = ({**file, "last_modified": datetime.now(UTC)},)

    send(experiments.read("tin-oxide").encode())
    assert control(panel, "Title").value == experiments.load("tin-oxide").title
    assert panel.message.text == ""
    send(b"\xff\xfe")
    assert "not text in UTF-8" in panel.message.text
    send(b"title = 'x'")
    assert "lab.toml" in panel.message.text
    send(b"#" * 2_000_000)
    assert "too large" in panel.message.text
    assert control(panel, "Title").value == experiments.load("tin-oxide").title


def test_a_pasted_text_is_opened(panel: ReadingsPanel) -> None:
    control(panel, "Text of an experiment file").value = experiments.read("acid-titration")
    press(panel, "Open this text")
    assert control(panel, "Title").value == experiments.load("acid-titration").title
    control(panel, "Text of an experiment file").value = ""
    press(panel, "Open this text")
    assert "missing" in panel.message.text


def test_the_file_is_saved_and_said_where(panel: ReadingsPanel, tmp_path: Path) -> None:
    control(panel, "Save as").value = str(tmp_path / "mine.toml")
    control(panel, "The readings are invented").value = False
    press(panel, "Save experiment file")
    assert str(tmp_path / "mine.toml") in shown(panel)
    assert load_experiment(tmp_path / "mine.toml") == panel.state.experiment
    control(panel, "Save as").value = str(tmp_path / "no folder" / "mine.toml")
    press(panel, "Save experiment file")
    assert "cannot be written" in panel.message.text
    for name in ("", "..", "folder/", "a\0b", "~nobody-of-that-name/lab"):
        control(panel, "Save as").value = name
        assert "Not used" in shown(panel)
        press(panel, "Save experiment file")
        assert "name" in panel.message.text
        assert "failed" not in panel.message.text


def test_how_far_to_trust_it_is_worked_out_when_asked_for_only(panel: ReadingsPanel) -> None:
    assert "overturned_by" not in vars(panel.state.evidence)
    press(panel, "How far can it be trusted?")
    assert "It stands unless" in shown(panel)
    assert "none of them" in shown(panel)
    control(panel, "bench 1: paper, g").value = "0.95"
    assert "It stands unless" not in shown(panel)
    assert "overturned_by" not in vars(panel.state.evidence)
    control(panel, "bench 1: paper, g").value = "?"
    press(panel, "How far can it be trusted?")
    assert "There is no verdict on what is typed." in panel.message.text


def test_the_report_is_shown_and_goes_when_it_is_old(panel: ReadingsPanel) -> None:
    press(panel, "Show report")
    assert "# Copper wire in silver nitrate" in shown(panel)
    control(panel, "Coverage probability").value = "99 %"
    assert "# Copper wire in silver nitrate" not in shown(panel)
    control(panel, "Coverage probability").value = "much"
    press(panel, "Show report")
    assert "A report needs a form that can be used." in panel.message.text


def test_no_error_of_a_callback_vanishes(caplog: pytest.LogCaptureFixture) -> None:
    area = LiveText(role="alert")

    def fails(_: object) -> None:
        raise ZeroDivisionError("by nothing")

    with caplog.at_level(logging.ERROR):
        guarded(area, fails)(None)
    assert "ZeroDivisionError: by nothing" in area.text
    assert "Traceback" in caplog.text
    guarded(area, lambda _: None)(None)
    assert area.text == ""
    area.close()


def test_closing_leaves_nothing_behind() -> None:
    before = set(_instances)
    state = ReadingsState("copper-silver")
    panel = ReadingsPanel(state)
    for name in experiments.names():
        state.load(name)
        state.add_trial()
        state.remove_trial()
    state.load("copper-silver")
    full = len(_instances)
    state.load("hydrate-heating")
    state.load("copper-silver")
    assert len(_instances) == full  # nothing piles up while it is used

    panel.close()
    assert set(_instances) == before
    state.set_coverage("0.9")  # the panel does not listen any more


def test_without_a_kernel_the_panel_says_what_it_is(panel: ReadingsPanel) -> None:
    assert "run this cell" in repr(panel)
    assert len(repr(panel)) < 110


def test_the_function_stays_a_function() -> None:
    """A cell that imports and makes the panel can be run again."""
    import stoichkit.widgets

    for _ in range(2):
        from stoichkit.widgets.panels.readings import readings_panel as again

        again("tin-oxide").close()
    assert callable(stoichkit.widgets.readings_panel)
