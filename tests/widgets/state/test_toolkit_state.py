"""One experiment in all panels: what is opened or changed in one is so in all."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace

import pytest

from stoichkit import experiments
from stoichkit.widgets.state.labs import LabsState
from stoichkit.widgets.state.toolkit import ToolkitState


@pytest.fixture
def state() -> Iterator[ToolkitState]:
    made = ToolkitState("copper-silver", autosave=False)
    yield made
    made.close()


def test_the_plan_follows_the_record(state: ToolkitState) -> None:
    state.plan.set("amount", "0.2")
    state.readings.set_balance(readability_g="0.1")
    state.readings.set_recovery(low="0.9")
    state.readings.set_candidates("copper(II) = 2\nodd = 3/2")
    assert state.plan.texts["readability"] == "0.1"
    assert state.plan.texts["recovery_low"] == "0.9"
    assert state.plan.texts["amount"] == "0.2"
    assert [c.name for c in state.plan.figures.plan.experiment.candidates] == ["copper(II)", "odd"]


def test_a_text_that_is_refused_changes_neither(state: ToolkitState) -> None:
    heard: list[bool] = []
    state.plan.subscribe(heard.append)
    state.readings.set_balance(readability_g="x")
    state.readings.set_reading(0, "wire before", "2.95")
    assert heard == []


@pytest.mark.parametrize("part", ["readings", "plan"])
def test_an_experiment_opened_in_one_is_open_in_all(state: ToolkitState, part: str) -> None:
    state.readings.set_reading(0, "wire before", "2,9x")
    state.plan.set("trials", "four")
    getattr(state, part).load("tin-oxide")
    assert (state.readings.name, state.plan.name) == ("tin-oxide",) * 2
    assert state.plan.base == experiments.load("tin-oxide")
    assert state.history.undo() == "opened tin-oxide"
    assert state.readings.form.trials[0].readings["wire before"] == "2,9x"
    assert state.plan.texts["trials"] == "four"
    assert "trials" in state.plan.refusals
    assert state.plan.name == "copper-silver"
    state.history.redo()
    assert (state.readings.name, state.plan.name) == ("tin-oxide",) * 2


def test_changes_in_any_panel_are_steps_of_one_history(state: ToolkitState) -> None:
    state.readings.set_coverage("0.9")
    state.plan.set("groups", "7")
    state.causes.set_residue("AgNO3")
    said = []
    while state.history.can_undo:
        said.append(state.history.undo())
    assert said == [
        "typed the residue",
        "typed Benches, a group at each",
        "typed the coverage probability",
    ]
    assert state.readings.form.coverage == "0.95"
    assert state.plan.texts["groups"] == "6"
    assert state.causes.choices.residue == ""


def test_undo_takes_back_what_followed_as_well(state: ToolkitState) -> None:
    state.readings.set_balance(readability_g="0.1")
    state.history.undo()
    assert state.plan.texts["readability"] == "0.01"


NOTHING_WEIGHED = """
title = "Hydrogen from a measured charge"
[instruments.ammeter]
kind = "ammeter"
readability_A = 0.01
[instruments.timer]
kind = "timer"
readability_s = 1
[instruments.tube]
kind = "cylinder"
capacity_mL = 50
tolerance_mL = 0.2
graduation_mL = 0.2
[instruments.thermometer]
kind = "thermometer"
readability_C = 0.1
[instruments.barometer]
kind = "barometer"
readability_kPa = 0.1
[consumed]
kind = "charge"
species = "e-"
current = "current"
time = "time"
[produced]
kind = "gas over water"
species = "H2"
final = "gas volume"
temperature = "room temperature"
pressure = "room pressure"
instrument = "tube"
[candidates.ratios]
"one electron" = "1"
"two electrons" = "1/2"
[shared]
"room temperature" = "21.4"
"room pressure" = "100.8"
[[trials]]
name = "1"
"current" = "0.40"
"time" = "600"
"gas volume" = "31.0"
"""


def test_an_experiment_in_which_nothing_is_weighed(state: ToolkitState) -> None:
    state.readings.load(NOTHING_WEIGHED)
    assert state.plan.base == state.readings.base
    assert state.readings.evidence is not None
    labs = LabsState(state.plan)
    assert labs.steps_g == labs.compared_g == ()
    assert labs.comparison() == ()
    assert labs.simulate().counts.labs == 400
    state.history.undo()
    assert state.plan.name == "copper-silver"
    assert labs.step_g == 0.01


@pytest.mark.parametrize("name", experiments.names())
def test_every_ready_experiment_opens(name: str) -> None:
    state = ToolkitState(name, autosave=False)
    assert state.readings.name == state.plan.name == name
    assert not state.history.can_undo
    state.close()


def test_a_lab_without_readings_can_be_opened_planned_and_filled_in() -> None:
    lab = experiments.load("copper-silver")
    state = ToolkitState(replace(lab, trials=(), order=lab.reading_names()), autosave=False)
    assert state.readings.evidence is None
    assert state.plan.texts["amount"] == "0.5"  # fifty steps of its balance
    state.close()
