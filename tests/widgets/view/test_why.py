"""“Why” without a browser: slips first, causes with amounts, nothing that the set-up excludes."""

from __future__ import annotations

import asyncio
from pathlib import Path
from typing import Any

import pytest

from stoichkit import experiments
from stoichkit.widgets.state.lab import LabState
from stoichkit.widgets.view import why
from stoichkit.widgets.view.why import WhyScreen
from tests import clocks

from .shown import Shown

AG, CU = 107.8682, 63.546
"""Standard atomic weights of silver and copper: IUPAC, abridged values (2021), from memory."""


def page(name: str = "copper-silver", **more: Any) -> tuple[LabState, Shown]:
    lab = LabState(name, autosave=False, **more)
    return lab, Shown(WhyScreen(lab), left=lab.history.settle)


def readings_of(lab: LabState) -> list[dict[str, float]]:
    return [{n: float(t) for n, t in one.readings.items()} for one in lab.readings.form.trials]


def test_water_and_lost_metal_are_those_of_a_hand_calculation() -> None:
    lab, shown = page()
    trials = readings_of(lab)
    copper_g = sum(t["wire before"] - t["wire after"] for t in trials) / len(trials)
    silver_g = sum(t["paper + silver"] - t["paper"] for t in trials) / len(trials)
    water_g = silver_g - copper_g / CU * AG  # what copper(I) leaves unexplained is weighed as water
    hidden_g = silver_g / AG * CU - copper_g  # or as much more copper was used up
    (table,) = shown.blocks("table", "why-table")
    rows = {row[0]: row for row in table["rows"]}
    wet, damp = rows["Product not dry"], rows["Metal damp when weighed afterwards"]
    assert wet[1].startswith(f"{water_g:.2f} g exactly;")
    assert damp[1].startswith(f"{hidden_g:.2f} g exactly;")
    most = float(wet[2].removeprefix("Yes: the masses allow up to ").removesuffix(" g."))
    assert most == pytest.approx(silver_g, abs=0.0051)
    assert wet[3] == "too large"
    lost = rows["Product left in the vessel or the filtrate"]
    assert lost[1:] == [
        f"−{water_g:.2f} g, which cannot be",
        "No: it acts in the wrong direction.",
        "too small",
    ]
    looks = dict(zip(rows, table["looks"], strict=True))
    assert (looks["Product not dry"], looks[lost[0]]) == ("", "faint")
    percent = 100 * (silver_g / AG) / (copper_g / CU)
    assert f"For copper(I) the percent yield is {percent:.0f} %" in shown.text("why-yields")


def test_slips_come_first_and_are_shown_corrected_without_changing_what_was_typed() -> None:
    lab, shown = page()
    assert "No slip was found" in shown.text("why-slips")
    lab.readings.set_reading(2, "wire before", "1.34")
    shown.frame.changed()
    names = [one.name for one in WhyScreen(lab).regions()]
    assert names[:2] == ["why-verdict", "why-slips"]
    assert "Trial bench 3, wire before: 1.34 does not agree" in shown.text("why-slips")
    assert "cannot be judged" in shown.text("why-verdict")
    assert not list(shown.blocks("picture"))
    assert "Look at the slips first" in shown.text("why-effects")
    shown.press("Show corrected")
    assert "single out copper(II)" in shown.text("why-verdict")
    assert "What if bench 3, wire before = 3.14?" in shown.text("why-verdict")
    assert lab.readings.form.trials[2].readings["wire before"] == "1.34"
    assert "copper(I) does not fit as the readings stand" in shown.text("why-effects")
    assert len(list(shown.blocks("picture"))) == 2
    shown.press("slip:0")
    assert "cannot be judged" in shown.text("why-verdict")
    lab.history.undo()
    shown.frame.changed()
    assert "single out copper(II)" in shown.text("why-verdict")


def test_slips_of_several_trials_are_shown_corrected_together() -> None:
    lab, shown = page()
    lab.readings.set_reading(2, "wire before", "1.34")
    lab.readings.set_reading(0, "paper", "7.5")
    shown.frame.changed()
    assert len([b for b in shown.blocks("button") if b["label"] == "Show corrected"]) >= 2
    shown.press("Show all of them corrected")
    assert dict(lab.whatif.tried.cells) == {(2, "wire before"): "3.14", (0, "paper"): "0.75"}
    assert lab.verdict is not None
    assert lab.verdict.candidates == ("copper(II)",)
    assert shown.control("slip:all")["label"] == "Back to the readings as typed"


def test_effects_are_folded_away_by_a_slip_but_not_for_ever() -> None:
    lab, shown = page()
    lab.readings.set_reading(2, "wire before", "3.41")
    shown.frame.changed()
    assert not list(shown.blocks("table"))
    shown.press("Show the effects all the same")
    assert len(list(shown.blocks("picture"))) == 2
    assert list(shown.blocks("table"))


def test_nothing_is_listed_that_the_set_up_excludes() -> None:
    _, shown = page("magnesium-gas")
    assert "why-drying" not in shown.regions
    assert not shown.has("why-residue")
    (table,) = shown.blocks("table", "why-table")
    names = " ".join(row[0] for row in table["rows"])
    assert "Air in the tube" in names
    assert "not dry" not in names
    _, shown = page("acid-titration")
    assert "Spot tests" not in shown.text()
    assert "stable" not in shown.text()
    _, shown = page("copper-silver")
    assert "independent of the readings" in shown.text("why-stable")
    assert "safety data sheet" in shown.text("why-stable")


def test_another_candidate_residue_and_pair() -> None:
    lab, shown = page()
    shown.type("why-candidate", "copper(II)")
    assert "copper(II) fits as the readings stand" in shown.text("why-effects")
    shown.type("why-candidate", "copper(I)")
    shown.type("why-residue", "AgNO3")
    assert lab.kit.causes.residue == "AgNO3"
    shown.type("why-residue", "AgNO3^")
    assert "AgNO3^" in shown.control("why-residue")["refusal"]
    assert shown.control("why-residue")["text"] == "AgNO3^"
    first, second = (shown.control(f"why-effect:{i}") for i in (0, 1))
    assert (first["value"], second["value"]) == ("wet product", "product on metal")
    shown.type("why-effect:1", "damp metal")
    assert "metal damp when weighed afterwards" in shown.text("why-pair")
    shown.type("why-effect:0", "damp metal")  # both the same: they change places
    values = [shown.control(f"why-effect:{i}")["value"] for i in (0, 1)]
    assert values == ["damp metal", "wet product"]
    lab.history.undo()
    shown.frame.changed()
    assert shown.control("why-effect:0")["value"] == "wet product"


def test_bars_and_ends_can_be_pointed_at() -> None:
    _, shown = page()
    bars, plane = shown.blocks("picture")
    (table,) = shown.blocks("table", "why-table")
    assert [one["words"].split(":")[0].capitalize() for one in bars["spots"]] == [
        row[0] for row in table["rows"]
    ]
    assert len(plane["spots"]) == 2
    first, second = (one["words"] for one in plane["spots"])
    pair = [shown.control(f"why-effect:{place}") for place in (0, 1)]
    names = [dict(one["options"])[one["value"]] for one in pair]
    for said in (first, second):
        one, other = said.split(" and ")
        assert one.lower().endswith(f" g of {names[0].lower()}")
        assert other.lower().endswith(f" g of {names[1].lower()}")
    lines = [i for i in plane["items"] if i["is"] == "diamond"]
    x0, x1, y0, y1 = plane["limits"]
    for one, mark in zip(plane["spots"], lines, strict=True):
        across = (one["x"] - x0) / (x1 - x0) * plane["width"]
        down = (y1 - one["y"]) / (y1 - y0) * plane["height"]
        assert mark["at"] == pytest.approx([across, down], abs=0.2)
    shown.act("pick", id="effects:width", to=480)
    narrow = next(shown.blocks("picture"))
    assert narrow["width"] == 320.0
    shown.act("set", id="effects:save", to="svg")
    assert shown.file().name == "copper-silver-effects.svg"
    assert shown.file().data.startswith(b"<?xml")


def test_drying_is_judged_and_refused_beside_its_field() -> None:
    lab, shown = page("tin-oxide")
    typed = "0 1.84\n10 1.57\n20 1.47\n30 1.43\n45 1.41"
    shown.type("why-weighings", typed)
    assert "Not yet constant: the last change was −0.02 g" in shown.text("why-drying")
    shown.type("why-weighings", "0 1.84\n10 1.57\n20")
    assert "Line 3: this is not a time and a mass." in shown.control("why-weighings")["refusal"]
    assert shown.control("why-weighings")["text"].endswith("\n20")
    lab.history.undo()
    assert lab.kit.causes.choices.weighings == ""


def test_the_field_of_weighings_has_four_to_ten_lines_and_one_to_spare() -> None:
    _, shown = page("tin-oxide")
    for typed, lines in ((1, 4), (3, 4), (4, 5), (8, 9), (9, 10), (12, 10)):
        shown.type("why-weighings", "\n".join(f"{10 * n} 1.41" for n in range(typed)))
        assert shown.control("why-weighings")["lines"] == lines


def test_without_readings_it_is_said_what_comes_first() -> None:
    lab = LabState(experiments.load("copper-silver").with_trials([]), autosave=False)
    shown = Shown(WhyScreen(lab), left=lab.history.settle)
    assert "Type readings first: what is wrong follows from them." in shown.text("why-slips")
    assert "Type readings first: causes follow from them." in shown.text("why-ask")


def test_what_was_chosen_survives_a_restart(tmp_path: Path) -> None:
    lab = LabState("copper-silver", folder=tmp_path)
    shown = Shown(WhyScreen(lab))
    shown.type("why-candidate", "copper(II)")
    shown.type("why-weighings", "0 1.8")
    lab.close()
    again = LabState("copper-silver", folder=tmp_path)
    if again.kit.offered:
        again.kit.restore_offered()
    shown = Shown(WhyScreen(again))
    assert shown.control("why-candidate")["value"] == "copper(II)"
    assert shown.control("why-weighings")["text"] == "0 1.8"
    again.close()


@pytest.mark.parametrize("name", experiments.names())
def test_every_ready_lab_can_be_asked_why(name: str) -> None:
    lab, shown = page()
    shown.type("why-candidate", "copper(II)")
    lab.readings.load(name)
    shown.frame.changed()
    assert shown.said == ""
    assert shown.control("why-candidate")["value"] == lab.kit.causes.candidate
    (table,) = shown.blocks("table", "why-table")
    assert table["caption"] == f"Effects on {lab.kit.causes.candidate}, one at a time"
    assert not list(shown.blocks("progress"))


def test_an_error_is_shown_and_what_is_typed_stays(monkeypatch: pytest.MonkeyPatch) -> None:
    lab, shown = page()

    def broken(*_: Any, **__: Any) -> None:
        raise RuntimeError("no luck")

    monkeypatch.setattr(why, "find", broken)
    shown.type("why-candidate", "copper(II)")
    assert "no luck" in shown.text("why-ask")
    assert lab.kit.causes.candidate == "copper(II)"


def test_a_refused_reading_leaves_the_old_answer_greyed() -> None:
    lab, shown = page()
    lab.readings.set_reading(0, "paper", "0.7x")
    shown.frame.changed()
    assert "which cannot be used" in shown.text("why-ask")
    assert all(one["stale"] for one in shown.blocks("picture"))
    lab.readings.set_reading(0, "paper", "0.75")
    shown.frame.changed()
    assert not any(one["stale"] for one in shown.blocks("picture"))


def test_in_a_kernel_the_causes_are_found_beside_typing() -> None:
    async def scene() -> tuple[list[str], str]:
        _, shown = page()
        seen = [b["words"] for b in shown.blocks("progress")]
        for _ in range(200):
            await asyncio.sleep(0.05)
            if list(shown.blocks("picture")):
                break
        return seen, shown.text("why-effects")

    seen, said = clocks.run(scene)
    assert seen == ["Being worked out …"]
    assert "copper(I) does not fit as the readings stand" in said
