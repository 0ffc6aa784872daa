"""The causes panel is a thin skin: it shows the state, hides no error and leaves nothing behind."""

from __future__ import annotations

import asyncio
import re
from collections.abc import Iterator
from typing import Any

import pytest

ipywidgets = pytest.importorskip("ipywidgets", reason="ipywidgets is not installed")

from ipywidgets.widgets.widget import _instances

from stoichkit import experiments
from stoichkit.errors import ExperimentError
from stoichkit.widgets.kit.controls import LiveText
from stoichkit.widgets.panels import causes as causes_skin
from stoichkit.widgets.panels.causes import CausesPanel, causes_panel
from stoichkit.widgets.state.causes import CausesState
from stoichkit.widgets.state.readings import ReadingsState
from tests import clocks
from tests.widgets.pages import tree


def shown(panel: Any) -> str:
    return " ".join(
        w.text if isinstance(w, LiveText) else str(w.value)
        for w in tree(panel)
        if isinstance(w, (LiveText, ipywidgets.HTML))
    )


def pictures(panel: Any) -> list[str]:
    return re.findall(r'<svg [^>]*role="img" aria-label="([^"]*)"', shown(panel))


@pytest.fixture
def panel() -> Iterator[CausesPanel]:
    made = causes_panel("copper-silver")
    yield made
    made.close()


def test_sections_stand_in_the_order_in_which_they_are_needed(panel: CausesPanel) -> None:
    text = shown(panel)
    order = [
        "Slips: readings that cannot be right as typed",
        "No slip was found",
        "<h3>Yield</h3>",
        "For copper(II) the percent yield is 103 %",
        "Effects: what each would have to amount to",
        "4 of 9 effects could make it fit alone",
        "Two effects together",
        "Effects on copper(I), one at a time",
        "Drying to constant mass",
        "Is the candidate stable?",
        "independent of the readings",
        "Cu⁺ would turn into a higher and a lower state",
        "Spot tests",
    ]
    places = [text.find(words) for words in order]
    assert -1 not in places
    assert places == sorted(places)
    assert panel.status.text == "Up to date."
    assert panel.message.text == ""
    assert len(pictures(panel)) == 2


def test_each_effect_has_amount_range_reason_direction_and_check(panel: CausesPanel) -> None:
    rows = re.findall(r"<tr><th scope=\"row\">.*?</tr>", shown(panel))
    wet = next(row for row in rows if "Product not dry" in row)
    assert "0.20 g exactly; 0.187 g to 0.221 g fits, 47 % to 56 % of the product measured" in wet
    assert "Yes: the masses allow up to 0.39 g." in wet
    assert "too large" in wet
    assert "To check: dry, cool and weigh again" in wet
    lost = next(row for row in rows if "Product left in the vessel" in row)
    assert "No: it acts in the wrong direction." in lost
    assert "too small" in lost


def test_the_aside_holds_potentials_and_nothing_of_the_verdict(panel: CausesPanel) -> None:
    aside = next(w for w in tree(panel) if "stoichkit-aside" in getattr(w, "_dom_classes", ()))
    text = shown(aside)
    assert "Standard potentials hold at 25 °C" in text
    assert "Cautions:" in text
    assert "safety data sheet" in text
    assert "(read)" in text
    assert "excluded" not in text
    assert panel.verdict.text not in text


def test_another_candidate_and_residue(panel: CausesPanel) -> None:
    panel.candidate.value = "copper(II)"
    assert panel.summary.text.startswith("copper(II) fits as the readings stand")
    panel.residue.input.value = "AgNO3"
    assert panel.state.residue == "AgNO3"
    panel.residue.input.value = "AgNO3^"
    assert panel.residue.input.below.startswith("Not used")
    assert panel.residue.input.value == "AgNO3^"
    assert panel.state.residue == "AgNO3"


def test_two_effects_are_chosen_and_the_same_one_twice_swaps_them(panel: CausesPanel) -> None:
    a, b = panel.effect_a, panel.effect_b
    assert (a.value, b.value) == ("wet product", "product on metal")
    b.value = "damp metal"
    assert panel.state.choices.pair == ("wet product", "damp metal")
    assert any("metal damp when weighed afterwards" in text for text in pictures(panel)[1:])
    a.value = "damp metal"
    assert (a.value, b.value) == ("damp metal", "wet product")
    assert panel.message.text == ""


def test_a_slip_comes_and_goes_with_the_reading_typed_elsewhere() -> None:
    shared = ReadingsState("copper-silver")
    panel = CausesPanel(shared)
    shared.set_reading(2, "wire before", "1.34")
    assert "Trial bench 3, wire before: 1.34 does not agree" in shown(panel)
    assert panel.summary.text.startswith("Look at the slips above first")
    shared.set_reading(0, "paper", "")
    assert panel.status.text.startswith("Not updated: bench 1, paper.")
    assert "stoichkit-stale" in panel.verdict.look
    assert "Trial bench 3, wire before: 1.34" in shown(panel)
    shared.set_reading(0, "paper", "0.75")
    shared.set_reading(2, "wire before", "3.14")
    assert "No slip was found" in shown(panel)
    assert "stoichkit-stale" not in panel.verdict.look
    panel.close()


@pytest.mark.parametrize("name", experiments.names())
def test_every_ready_experiment_refills_the_panel(panel: CausesPanel, name: str) -> None:
    panel.residue.input.value = "AgNO3"
    panel.state.readings.load(name)
    assert panel.message.text == ""
    assert panel.status.text == "Up to date."
    assert panel.residue.input.value == ""
    assert panel.candidate.options == [[n, n] for n in panel.state.candidates]
    title = experiments.load(name).title
    assert title in shown(panel)
    assert "The readings are invented." in shown(panel)
    panel.state.readings.undo()
    assert panel.residue.input.value == "AgNO3"


def test_a_panel_that_rests_shows_what_it_missed(panel: CausesPanel) -> None:
    shared = panel.state.readings
    panel.rest.sleep()
    shared.set_reading(2, "wire before", "1.34")
    panel.state.set_weighings("0 1.5\n5 1.4")
    assert "No slip was found" in shown(panel)
    assert panel.dry.text == ""
    panel.rest.wake()
    assert "Trial bench 3" in shown(panel)
    assert panel.dry.text.startswith("Not yet constant")


def test_drying_is_shown_and_refused_beside_the_field(panel: CausesPanel) -> None:
    field = panel.weighings
    field.input.value = "0 1.842\n10 1.571\n20 1.469\n30 1.433\n45 1.416"
    assert "Weigh next at about" in panel.dry.text
    assert "0.01 g" in shown(panel)  # three decimals on a balance that shows two
    field.input.value = "0 1.84\n10 1.57\n20"
    assert "Line 3: this is not a time and a mass." in field.input.below
    assert field.input.value == "0 1.84\n10 1.57\n20"
    assert panel.dry.text == ""


def test_nothing_to_go_by_is_said() -> None:
    shared = ReadingsState("copper-silver")
    for number in range(4):
        for name in shared.form.trials[number].readings:
            shared.set_reading(number, name, "")
    panel = CausesPanel(shared)
    assert panel.status.text
    assert panel.message.text == ""
    panel.close()


def test_an_error_while_working_is_shown(
    panel: CausesPanel, monkeypatch: pytest.MonkeyPatch
) -> None:
    def broken(*_: Any, **__: Any) -> None:
        raise RuntimeError("no luck")

    monkeypatch.setattr(causes_skin, "find", broken)
    panel.candidate.value = "copper(II)"
    assert "no luck" in panel.status.text
    assert "could not be worked out" in panel.status.text
    assert "copper(I) does not fit" in panel.summary.text


def test_names_typed_by_users_are_shown_not_obeyed() -> None:
    text = experiments.read("copper-silver").replace("Copper wire in", "<b>wire</b> &amp;")
    shared = ReadingsState(text)
    panel = CausesPanel(shared)
    shared.set_candidates("<img src=x onerror=alert(1)> = 1\n<i>two</i> = 2")
    shared.set_reading(2, "wire before", "1.34")
    panel.residue.input.value = "<script>"
    said = " ".join(w.value for w in tree(panel) if isinstance(w, ipywidgets.HTML))
    for tag in ("<b>wire", "<img", "<i>two", "<script"):
        assert tag not in said
    assert "&lt;img src=x" in said
    panel.close()


def test_in_a_kernel_the_work_runs_beside_and_typing_is_waited_for() -> None:
    async def scene() -> tuple[list[str], str]:
        shared = ReadingsState("copper-silver")
        panel = CausesPanel(shared)
        seen = [panel.status.text]
        for text in ("1", "1.3", "1.34"):
            shared.set_reading(2, "wire before", text)
        seen.append(panel.status.text)
        for _ in range(100):
            await asyncio.sleep(0.05)
            if panel.status.text == "Up to date.":
                break
        said = shown(panel)
        panel.close()
        return seen, said

    seen, said = clocks.run(scene)
    assert seen == ["Being worked out …"] * 2
    assert "Trial bench 3, wire before: 1.34" in said
    assert said.count("Trial bench") == 1


def test_closing_leaves_nothing_behind() -> None:
    shared = ReadingsState("copper-silver")
    before = set(_instances)
    panel = CausesPanel(shared)
    panel.candidate.value = "copper(II)"
    panel.close()
    assert set(_instances) == before
    shared.set_coverage("99 %")  # nobody listens any more
    state = CausesState(shared)
    panel = CausesPanel(state)
    panel.close()
    shared.set_coverage("95 %")
    state.set_residue("AgNO3")
    shared.undo()
    assert state.choices.residue == ""  # the state was not the panel's to end


def test_unknown_experiments_are_refused() -> None:
    with pytest.raises(ExperimentError):
        causes_panel("unobtainium")
    assert "run this cell" in repr(causes_panel())
