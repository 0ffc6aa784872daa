"""The toolkit is a thin skin: one experiment, one message area, and only one panel at work."""

from __future__ import annotations

import asyncio
import logging
import threading
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest

ipywidgets = pytest.importorskip("ipywidgets", reason="ipywidgets is not installed")

from ipywidgets.widgets.widget import _instances

from stoichkit.widgets.kit import saving
from stoichkit.widgets.kit.controls import LiveText, TextField
from stoichkit.widgets.panels.toolkit import Toolkit, toolkit
from tests import clocks
from tests.widgets.pages import receive, tree

TABS = range(6)


def controls(widget: Any, description: str) -> list[Any]:
    return [w for w in tree(widget) if getattr(w, "description", None) == description]


def control(widget: Any, description: str) -> Any:
    found = controls(widget, description)
    assert len(found) == 1, f"{len(found)} controls called {description}"
    return found[0]


def press(widget: Any, description: str) -> None:
    button = control(widget, description)
    button.click()


@pytest.fixture
def kit(tmp_path: Path) -> Iterator[Toolkit]:
    made = toolkit("copper-silver", folder=tmp_path)
    yield made
    made.close()


def verdict_of(kit: Toolkit) -> str:
    (found,) = (
        w for w in tree(kit.panels[0]) if getattr(w, "look", "").startswith("stoichkit-verdict")
    )
    return str(found.text)


def test_there_is_one_place_to_choose_the_experiment(kit: Toolkit) -> None:
    for index in TABS:
        kit.tabs.selected_index = index
    assert sorted(kit.panels) == list(TABS)
    assert len(controls(kit, "Ready experiment (invented readings)")) == 1
    assert len(controls(kit, "Open a TOML file")) == 1
    assert len(controls(kit, "Save experiment file")) == 1
    control(kit, "Ready experiment (invented readings)").value = "tin-oxide"
    press(kit, "Open the ready experiment")
    assert kit.state.readings.name == kit.state.plan.name == "tin-oxide"
    assert control(kit, "Undo: opened tin-oxide")
    assert controls(kit, "1: crucible + oxide, g") or kit.state.readings.form.rows


def test_every_panel_has_a_control_name_and_tabs_have_titles(kit: Toolkit) -> None:
    for index in TABS:
        kit.tabs.selected_index = index
    assert list(kit.tabs.titles) == [
        "Readings and verdict",
        "What the balance can tell",
        "Plan a lab",
        "Causes",
        "Class",
        "Worked solution",
    ]
    kinds = (ipywidgets.Button, TextField, ipywidgets.Dropdown, ipywidgets.Checkbox)
    for widget in tree(kit):
        if isinstance(widget, kinds):
            assert widget.description.strip()


def test_undo_and_redo_by_button_show_in_the_fields(kit: Toolkit) -> None:
    field = control(kit, "bench 1: wire before, g")
    field.value = "12.94"
    assert "cannot tell" in verdict_of(kit)
    press(kit, "Undo: typed wire before, bench 1")
    assert control(kit, "bench 1: wire before, g") is field  # the same field, not made anew
    assert field.value == "2.94"
    assert "single out copper(II)" in verdict_of(kit)
    assert kit.notice.text == "Undone: typed wire before, bench 1."
    press(kit, "Redo: typed wire before, bench 1")
    assert field.value == "12.94"
    press(kit, "Add a trial")
    assert kit.notice.text == ""
    press(kit, "Undo: added a trial")
    assert controls(kit, "bench 5: paper, g") == []


def test_nothing_to_undo_is_said(kit: Toolkit) -> None:
    press(kit, "Undo: nothing")
    assert kit.message.text == "There is nothing to undo."
    press(kit, "Clear the messages")
    assert kit.message.text == ""


def test_undo_shows_in_plan_and_balances(kit: Toolkit) -> None:
    for index in (1, 2):
        kit.tabs.selected_index = index
    trials = control(kit, "Trials of each group")
    trials.value = "four"
    slider = kit.panels[1].readability
    slider.position = 5
    kit.state.history.undo()
    kit.state.history.undo()
    assert trials.value == "4"
    kit.tabs.selected_index = 1
    assert slider.value == 0.01
    assert slider.field == "0.01"


def test_hidden_panels_rest_and_catch_up(kit: Toolkit) -> None:
    kit.tabs.selected_index = 5
    assert [kit.panels[i].rest.resting for i in (0, 5)] == [True, False]
    before = verdict_of(kit)
    kit.state.readings.set_reading(0, "wire before", "12.94")
    assert verdict_of(kit) == before
    kit.tabs.selected_index = 0
    assert "cannot tell" in verdict_of(kit)
    assert control(kit, "bench 1: wire before, g").value == "12.94"
    assert kit.panels[5].rest.resting


def test_an_error_in_a_hidden_panel_is_seen(
    kit: Toolkit, monkeypatch: pytest.MonkeyPatch, caplog: pytest.LogCaptureFixture
) -> None:
    kit.tabs.selected_index = 2
    kit.tabs.selected_index = 0

    def fail(*_: Any) -> None:
        raise RuntimeError("boom")

    monkeypatch.setattr(kit.state.plan, "bench", fail)
    with caplog.at_level(logging.CRITICAL):
        press(kit.panels[2], "Show the bench plan")
    assert kit.message.text.startswith("Plan a lab: stoichkit failed here (RuntimeError: boom)")
    assert kit.message.role == "alert"
    assert kit.message in kit.children
    monkeypatch.undo()
    press(kit.panels[2], "Show the bench plan")
    assert kit.message.text == ""


def test_an_experiment_without_a_balance_is_said_in_its_tab(kit: Toolkit) -> None:
    from tests.widgets.state.test_toolkit_state import NOTHING_WEIGHED

    kit.state.readings.load(NOTHING_WEIGHED)
    kit.tabs.selected_index = 1
    assert 1 not in kit.panels
    shown = [w.value for w in tree(kit.tabs) if isinstance(w, ipywidgets.HTML)]
    assert any("no balance" in text for text in shown)
    kit.state.readings.load("tin-oxide")
    assert kit.panels[1].state.name == "tin-oxide"
    assert kit.tabs.children[1].children == (kit.panels[1],)


def test_what_was_typed_is_restored_with_a_word_and_a_way_back(tmp_path: Path) -> None:
    first = toolkit("copper-silver", folder=tmp_path)
    control(first, "bench 2: paper, g").value = "0.7o g"
    first.close()
    second = toolkit("copper-silver", folder=tmp_path)
    assert control(second, "bench 2: paper, g").value == "0.7o g"
    assert control(second, "bench 2: paper, g").refused
    assert second.notice.text.startswith("Restored what was typed at ")
    press(second, "Start afresh")
    assert control(second, "bench 2: paper, g").value == "0.70"
    press(second, "Undo: opened copper-silver")
    assert control(second, "bench 2: paper, g").value == "0.7o g"
    second.close()


def test_what_another_session_typed_is_offered(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    for answer, then in (("Leave it", "0.70"), ("Restore it", "0.7o g")):
        monkeypatch.setattr(saving, "_PROCESS", "there")
        first = toolkit("copper-silver", folder=tmp_path)
        control(first, "bench 2: paper, g").value = "0.7o g"
        first.close()
        monkeypatch.setattr(saving, "_PROCESS", f"here, {answer}")
        second = toolkit("copper-silver", folder=tmp_path)
        assert second._offer.text.startswith("There is what was typed at ")
        assert second._offer.text.endswith(" in another session.")
        assert control(second, "bench 2: paper, g").value == "0.70"
        press(second, answer)
        assert control(second, "bench 2: paper, g").value == then
        assert (second._offer.text, second._offer_box.layout.display) == ("", "none")
        second.close()
    assert second.notice.text.startswith("Restored what was typed at ")


def test_a_page_for_many_people_keeps_nothing(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.chdir(tmp_path)
    monkeypatch.setenv("SERVER_SOFTWARE", "voila/0.5")
    kit = toolkit()
    control(kit, "bench 1: paper, g").value = "1"
    kit.close()
    assert list(tmp_path.iterdir()) == []


def test_what_arrives_after_something_newer_is_left_out(kit: Toolkit) -> None:
    field = control(kit, "bench 1: wire before, g")
    texts = kit.state.readings.form.trials[0].readings
    receive(field, {"typed": "2.9", "number": 2, "left": True})
    receive(field, {"typed": "2", "number": 1})  # from another thread, too late
    assert (texts["wire before"], field.taken) == ("2.9", 2)
    receive(field, {"typed": "2.95", "number": 3})  # a step of its own
    kit.state.history.undo()
    assert field.value == "2.9"
    for odd in ("x", {"typed": "9"}, {"typed": 9, "number": 4}, {"number": "5", "typed": "9"}):
        receive(field, odd)
    assert field.value == "2.9"


def test_what_a_message_changes_is_told_with_its_number(
    kit: Toolkit, monkeypatch: pytest.MonkeyPatch
) -> None:
    field = control(kit, "bench 1: wire before, g")
    told: list[dict[str, object]] = []
    monkeypatch.setattr(field, "_send", lambda message, **_: told.append(message["state"]))
    receive(field, {"typed": "2.9o", "number": 1})
    assert [set(state) for state in told] == [{"below", "refused", "taken"}]
    receive(field, {"again": True, "number": 2})
    assert (told[1]["value"], told[1]["taken"]) == ("2.9o", 2)  # the whole state, as it is now


def test_callbacks_in_two_threads_take_turns(kit: Toolkit) -> None:
    """A kernel may handle the messages of widgets in two threads."""
    names = [f"bench {n}: {what}, g" for n in (1, 2) for what in ("wire before", "paper")]
    fields = [control(kit, name) for name in names]

    def type_into(two: list[Any], turn: int) -> None:
        for number in range(1, 20):
            receive(two[number % 2], {"typed": f"{turn}.{number}", "number": number})

    threads = [threading.Thread(target=type_into, args=(fields[i : i + 2], i)) for i in (0, 2)]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join()
    forms = kit.state.readings.form
    assert [forms.trials[i].readings["paper"] for i in (0, 1)] == ["0.19", "2.19"]
    assert kit.message.text == ""
    while kit.state.history.can_undo:
        kit.state.history.undo()
    assert [field.value for field in fields] == ["2.94", "0.75", "3.19", "0.70"]


def test_slow_parts_are_done_once_for_a_burst_of_changes(kit: Toolkit) -> None:
    (pane,) = (w for w in tree(kit.panels[0]) if "<svg" in str(getattr(w, "value", "")))
    drawn: list[Any] = []
    pane.observe(drawn.append, names="value")

    async def burst() -> None:
        for count in range(20):
            kit.state.readings.set_reading(0, "wire before", f"2.9{count % 10}")
        assert drawn == []
        await asyncio.sleep(0.3)

    clocks.run(burst)
    assert len(drawn) == 1


def test_closing_leaves_nothing_behind(tmp_path: Path) -> None:
    toolkit("copper-silver", folder=tmp_path).close()
    before = set(_instances)
    kit = toolkit("copper-silver", folder=tmp_path)
    for index in TABS:
        kit.tabs.selected_index = index
    kit.state.readings.load("tin-oxide")
    kit.close()
    left = [type(_instances[i]).__name__ for i in set(_instances) - before]
    assert left == []


def test_messages_and_fields_are_announced(kit: Toolkit) -> None:
    assert isinstance(kit.notice, LiveText)
    assert kit.notice.role == "status"
