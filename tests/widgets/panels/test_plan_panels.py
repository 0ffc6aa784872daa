"""The panels are thin skins: they show the state, hide no error and leave nothing behind."""

from __future__ import annotations

import asyncio
import threading
import time
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest

ipywidgets = pytest.importorskip("ipywidgets", reason="ipywidgets is not installed")

from ipywidgets.widgets.widget import _instances

from stoichkit.errors import ModelError
from stoichkit.widgets.kit.controls import (
    LiveText,
    Slider,
    TextField,
)
from stoichkit.widgets.kit.work import Work
from stoichkit.widgets.panels.balance import BalancePanel, balance_panel
from stoichkit.widgets.panels.plan import PlanPanel, plan_panel
from tests import clocks
from tests.widgets.pages import tree


def control(panel: Any, description: str) -> Any:
    found = [w for w in tree(panel) if getattr(w, "description", None) == description]
    assert len(found) == 1, f"{len(found)} controls called {description}"
    return found[0]


def press(panel: Any, description: str) -> None:
    button = control(panel, description)
    button.click()


def shown(panel: Any) -> str:
    return " ".join(
        w.text if isinstance(w, LiveText) else w.below if isinstance(w, TextField) else str(w.value)
        for w in tree(panel)
        if isinstance(w, (LiveText, TextField, ipywidgets.HTML))
    )


@pytest.fixture
def balance() -> Iterator[BalancePanel]:
    made = balance_panel("copper-silver")
    yield made
    made.close()


@pytest.fixture
def plan() -> Iterator[PlanPanel]:
    made = plan_panel("copper-silver")
    yield made
    made.close()


# Slider


def test_slider_moves_and_takes_numbers() -> None:
    heard: list[float] = []
    slider = Slider("mass", [0.001, 0.01, 0.1, 1.0], 0.01, heard.append, unit="g")
    assert (slider.position, slider.field, slider.spoken) == (1, "0.01", "")
    assert slider.texts == ["0.001 g", "0.01 g", "0.1 g", "1 g"]
    slider.position = 3
    assert (heard, slider.field, slider.spoken) == ([1.0], "1", "")
    slider.type_text("0,0234567")
    assert heard[-1] == 0.0234567
    assert (slider.position, slider.field, slider.spoken) == (1, "0.0234567", "0.0234567 g")
    slider.set_stops([1.0, 2.0], 2.0)
    assert (slider.position, slider.field, len(heard)) == (1, "2", 2)
    slider.close()


@pytest.mark.parametrize("text", ["", "five", "5", "0", "1.2.3", "<b>"])
def test_slider_refuses_and_keeps_what_is_typed(text: str) -> None:
    heard: list[float] = []
    slider = Slider("mass", [0.001, 1.0], 0.001, heard.append, unit="g")
    slider.type_text(text)
    assert slider.field == text
    assert slider.refusal.startswith("Not used: ")
    assert slider.value == 0.001
    assert not heard
    slider.type_text("0.5")
    assert slider.refusal == ""
    slider.close()


def test_slider_shows_a_refusal_of_its_callback() -> None:
    def refuse(_: float) -> None:
        raise ModelError("Too much.")

    slider = Slider("mass", [1.0, 2.0], 1.0, refuse)
    slider.position = 1
    assert "Too much." in slider.refusal
    assert slider.value == 1.0
    slider.close()


def test_slider_of_whole_numbers() -> None:
    heard: list[float] = []
    slider = Slider("trials", range(1, 9), 1, heard.append, whole=True)
    slider.type_text("2.5")
    assert "a whole number" in slider.refusal
    slider.type_text("3")
    assert heard == [3.0]
    slider.close()


# Work


def test_work_runs_in_a_thread_and_is_shown_by_the_loop() -> None:
    threads: dict[str, int] = {}
    said: list[str] = []

    def task(report: Any) -> int:
        threads["task"] = threading.get_ident()
        report("half way")
        return 42

    async def main() -> int:
        done: asyncio.Future[int] = asyncio.get_running_loop().create_future()

        def show(result: int) -> None:
            threads["shown"] = threading.get_ident()
            done.set_result(result)

        Work().start(task, done=show, failed=done.set_exception, progress=said.append)
        return await asyncio.wait_for(done, 10)

    assert clocks.run(main) == 42
    assert threads["shown"] == threading.get_ident() != threads["task"]
    assert said == ["half way"]


def test_only_the_newest_task_is_shown_and_the_one_before_ends() -> None:
    ended = threading.Event()
    shown: list[str] = []

    def endless(report: Any) -> str:
        try:
            while True:
                report("still running")
                time.sleep(0.005)
        finally:
            ended.set()

    async def main() -> None:
        work = Work()
        work.start(endless, done=shown.append, failed=shown.append)
        await asyncio.sleep(0.05)
        assert work.running
        work.start(lambda _: "newest", done=shown.append, failed=shown.append)
        while work.running:
            await asyncio.sleep(0.01)

    clocks.run(main)
    assert ended.wait(5)
    assert shown == ["newest"]


def test_a_task_that_is_soon_replaced_does_not_begin() -> None:
    begun: list[int] = []

    async def main() -> None:
        work = Work()
        for i in range(20):
            work.start(
                lambda _, i=i: begun.append(i),
                done=lambda _: None,
                failed=begun.append,
                delay_s=0.05,
            )
        while work.running:
            await asyncio.sleep(0.01)

    clocks.run(main)
    assert begun == [19]


def test_errors_of_a_task_are_handed_over_and_stopping_is_silent() -> None:
    failed: list[Exception] = []
    work = Work()

    def broken(_: Any) -> None:
        raise ModelError("No.")

    work.start(broken, done=lambda _: None, failed=failed.append)
    assert [str(e) for e in failed] == ["No."]
    assert not work.running

    def stopped(report: Any) -> None:
        work.stop()
        report("too late")

    work.start(stopped, done=failed.append, failed=failed.append)
    assert len(failed) == 1


# What the balance can tell


def test_slider_changes_sentence_picture_and_table(balance: BalancePanel) -> None:
    before = balance.picture.value
    assert "Nearly all labs find the truth" in balance.sentence.text
    balance.readability.type_text("0.1")
    assert "Most labs cannot tell" in balance.sentence.text
    assert balance.picture.value != before
    assert 'role="img"' in balance.picture.value
    assert balance.status.text == "The table is that of the settings above."
    assert balance.table.value.count("<tr>") == 4
    balance.amount.position = len(balance.state.stops) - 1
    assert balance.state.amount == balance.state.stops[-1]
    balance.trials.type_text("4")
    balance.repeatability.type_text("0")
    assert "4 trials" in shown(balance)
    assert balance.state.plan.experiment.instruments["balance"].repeatability_g == 0.0


def test_truth_and_experiment_are_chosen(balance: BalancePanel) -> None:
    control(balance, "The candidate that is true").value = "copper(I)"
    assert "single out copper(I)" in balance.sentence.text
    for name in ("copper-plating", "acid-titration", "copper-silver-coarse"):
        control(balance, "Ready experiment (invented readings)").value = name
        assert balance.state.name == name
        assert balance.message.text == ""
        assert control(balance, "The candidate that is true").value == balance.state.truth
        assert balance.amount.unit == balance.state.amount_unit
        assert balance.amount.value == balance.state.amount


def test_an_error_of_the_explorer_is_shown(
    balance: BalancePanel, monkeypatch: pytest.MonkeyPatch, caplog: pytest.LogCaptureFixture
) -> None:
    def fail(*_: object, **__: object) -> None:
        raise RuntimeError("boom")

    monkeypatch.setattr("stoichkit.widgets.state.balance.chances", fail)
    balance.readability.position = 0
    assert "RuntimeError: boom" in balance.message.text
    assert "could not be worked out" in balance.status.text
    assert caplog.records


# Plan a lab


def test_typing_changes_the_plan(plan: PlanPanel) -> None:
    assert plan.results.verdict.text.startswith("Enough: ")
    control(plan, "Mass of Cu to react in each trial, g").value = "0,01"
    control(plan, "Trials of each group").value = "1"
    assert plan.results.verdict.text.startswith("Not enough: ")
    assert "Up to date: 1 trial with 0.01 g of Cu" in plan.results.status.text
    assert shown(plan).count("<caption>Chance of each verdict") == 1


def test_a_refusal_stands_beside_its_field(plan: PlanPanel) -> None:
    field = control(plan, "Trials of each group")
    field.value = "<i>four"
    assert field.value == "<i>four"
    assert "Not used:" in plan.fields["trials"].input.below
    assert "Not updated: Trials of each group." in plan.results.status.text
    assert "stale" in plan.results.verdict.look
    assert "<i>" not in "".join(w.value for w in tree(plan) if isinstance(w, ipywidgets.HTML))
    press(plan, "Find the fewest trials")
    assert "Nothing is worked out while a figure is not used." in plan.message.text
    field.value = "4"
    assert "Up to date: 4 trials" in plan.results.status.text
    assert "stale" not in plan.results.verdict.look


def test_questions_are_answered_with_what_was_asked(plan: PlanPanel) -> None:
    control(plan, "Mass of Cu to react in each trial, g").value = "0.03"
    control(plan, "Trials of each group").value = "1"
    for words, answer in (
        ("Find the smallest amount", "Smallest mass to react: "),
        ("Find the fewest trials", "Fewest trials: "),
        ("Find the coarsest balance", "Coarsest balance: "),
        ("Find the largest recovery allowance", "No recovery allowance can be afforded"),
        ("What a coarser balance costs", "times the sample"),
    ):
        press(plan, words)
        assert answer in plan.results.answers.value
        assert plan.progress.text == "Done."
    assert plan.results.answers.value.count("Asked of: 1 trial with 0.03 g of Cu") == 5
    press(plan, "Draw the map")
    assert 'aria-label="Map: ' in shown(plan)
    assert 'aria-label="Curves: ' in shown(plan)
    control(plan, "Trials of each group").value = "2"
    assert 'aria-label="Map: ' not in shown(plan)  # it was that of another plan
    press(plan, "Stop")
    assert plan.progress.text == "Nothing is being worked out."


def test_what_cannot_be_mapped_says_why(plan: PlanPanel) -> None:
    control(plan, "Ready experiment (invented readings)").value = "copper-plating"
    assert control(plan, "Amount of electrons to pass in each trial, mmol").value
    press(plan, "Draw the map")
    assert "There is no answer. A map of reacting masses needs" in plan.progress.text


def test_groups_do_not_set_the_chances_to_work_again(
    plan: PlanPanel, monkeypatch: pytest.MonkeyPatch
) -> None:
    def fail(*_: object) -> None:
        raise AssertionError("worked out again")

    monkeypatch.setattr("stoichkit.widgets.state.plan.chances", fail)
    control(plan, "Groups").value = "9"
    assert plan.message.text == ""
    assert plan.state.bench().groups == 9


def test_bench_plan_and_files(
    plan: PlanPanel, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.chdir(tmp_path)
    press(plan, "Show the bench plan")
    assert "Bench plan: " in shown(plan)
    press(plan, "Save the bench plan")
    press(plan, "Save the data sheet")
    assert "Saved: " in shown(plan)
    assert (tmp_path / "my-copper-silver-plan.html").is_file()
    assert (tmp_path / "my-copper-silver-sheet.csv").is_file()
    control(plan, "Save the blank data sheet as").value = "x"
    press(plan, "Save the data sheet")
    assert "ends in .csv or .xlsx" in plan.message.text


def test_every_ready_experiment_can_be_planned(plan: PlanPanel) -> None:
    for name in ("acid-titration", "magnesium-gas", "copper-silver-coarse"):
        control(plan, "Ready experiment (invented readings)").value = name
        assert plan.message.text == ""
        assert "nough: " in plan.results.verdict.text
        assert control(plan, "Save the bench plan as").value == f"my-{name}-plan.html"


# Both


@pytest.mark.parametrize("make", [balance_panel, plan_panel])
def test_every_control_has_a_name(make: Any) -> None:
    panel = make("copper-silver")
    for widget in tree(panel):
        if isinstance(widget, Slider):
            assert widget.label
        elif hasattr(widget, "description") and not isinstance(widget, ipywidgets.HTML):
            assert widget.description.strip(), widget
    panel.close()


@pytest.mark.parametrize("make", [balance_panel, plan_panel])
def test_close_leaves_nothing_behind(make: Any) -> None:
    before = set(_instances)
    panel = make("copper-silver")
    panel.state.load("tin-oxide" if make is plan_panel else "magnesium-gas")
    assert set(_instances) != before
    panel.close()
    assert set(_instances) == before
    panel.state.load("copper-silver")  # nothing listens any more


@pytest.mark.parametrize("make", [balance_panel, plan_panel])
def test_without_a_notebook_it_says_what_it_is(make: Any) -> None:
    panel = make("copper-silver")
    assert "run this cell in a notebook" in repr(panel)
    panel.close()
