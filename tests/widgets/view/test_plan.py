"""“Plan” without a browser: one set of figures, and all that follows from it."""

from __future__ import annotations

import asyncio
import csv
import io
import math
import re
from dataclasses import replace
from pathlib import Path
from types import SimpleNamespace
from typing import Any, cast

import pytest

from stoichkit import experiments
from stoichkit.planning.simulation import simulate_labs
from stoichkit.widgets.state.lab import LabState
from stoichkit.widgets.state.plan import PlanState
from stoichkit.widgets.state.whatif import step_text
from stoichkit.widgets.view.blocks import Builder
from stoichkit.widgets.view.plan import PlanScreen, _inside, _Said
from tests import clocks

from .shown import Shown


def page(name: str = "copper-silver") -> tuple[LabState, Shown]:
    lab = LabState(name, autosave=False)
    return lab, Shown(PlanScreen(lab), left=lab.history.settle)


def headline(shown: Shown) -> str:
    (block,) = shown.blocks("verdict")
    return str(block["headline"])


def test_the_chances_shown_are_those_of_simulated_labs() -> None:
    """Exact chances against 3,000 labs drawn from other seeds, four standard errors apart."""
    lab, shown = page()
    shown.type("plan:amount", "0,03")
    shown.type("plan:trials", "1")
    (table,) = shown.blocks("table", "plan-chances")
    rows = table["rows"]
    assert [row[0] for row in rows] == ["copper(I)", "copper(II)"]
    plan = lab.kit.plan.figures.plan
    assert plan.consumed_mol == pytest.approx(0.03 / 63.546, rel=1e-4)
    for name, right, *_ in rows:
        found = simulate_labs(plan, name, labs=3000, seed=77).counts
        share = found.right / 3000
        off = math.sqrt(share * (1 - share) / 3000)
        assert float(right) == pytest.approx(share, abs=4 * off + 0.006)
    least = min(float(row[1]) for row in rows)
    assert headline(shown).startswith("Not enough: if ")
    assert f"the chance of a right conclusion is {least:.2f}" in headline(shown)


def test_a_refused_figure_keeps_its_text_and_the_answer_waits() -> None:
    lab, shown = page()
    assert headline(shown).startswith("Enough:")
    shown.type("plan:trials", "400")
    assert shown.control("plan:trials")["text"] == "400"
    assert "a whole number, 1 to 64" in shown.control("plan:trials")["refusal"]
    (block,) = shown.blocks("verdict")
    assert block["look"] == "waits"
    assert "Waits for Trials of each group." in shown.text("plan-verdict")
    assert all(one["stale"] for one in shown.blocks("picture", "plan-chances"))
    shown.press("Smallest amount")
    assert "Nothing is worked out while a figure is not used." in shown.said
    shown.press("file.csv")
    assert "cannot be saved yet" in shown.said
    assert not shown.files
    lab.history.undo()
    shown.frame.changed()
    assert shown.control("plan:trials")["text"] == "4"
    (block,) = shown.blocks("verdict")
    assert block["look"] == "current"


def test_questions_are_answered_and_their_answers_used() -> None:
    lab, shown = page()
    shown.type("plan:amount", "0.02")
    assert headline(shown).startswith("Not enough:")
    said = "Each question changes one figure and keeps the others as typed above."
    assert said in shown.text("plan-asked")
    for label in ("Smallest amount", "Fewest trials", "Coarsest balance",
                  "Largest recovery allowance", "What a coarser balance costs"):  # fmt: skip
        shown.press(label)
    said = shown.text("plan-asked")
    for words in ("Smallest mass to react:", "Fewest trials:", "Coarsest balance:",
                  "recovery allowance", "times the sample"):  # fmt: skip
        assert words in said
    strong = [b["text"] for b in shown.blocks("words", "plan-asked") if b["role"] == "strong"]
    assert len(strong) == 5
    assert "times the sample" in strong[0]  # the newest first
    smallest = next(i for i, text in enumerate(strong) if text.startswith("Smallest"))
    shown.press(f"use:{smallest}")
    assert headline(shown).startswith("Enough:")
    assert float(shown.control("plan:amount")["text"]) > 0.02
    assert f"{shown.control('plan:amount')['text']} g of Cu in each trial" in strong[smallest]
    lab.history.undo()
    shown.frame.changed()
    assert shown.control("plan:amount")["text"] == "0.02"
    shown.press("Smallest amount")
    assert len([b for b in shown.blocks("words", "plan-asked") if b["role"] == "strong"]) == 5


def test_the_plan_stands_on_the_map_and_can_be_moved_there() -> None:
    lab, shown = page()
    area, _ = shown.blocks("picture", "plan-map")
    spots = {one["name"]: one for one in area["spots"]}
    assert (spots["plan"]["x"], spots["plan"]["y"]) == pytest.approx(
        (math.log10(0.11), math.log10(0.01)), abs=1e-6
    )
    found = re.fullmatch(r"Read to 0\.1 g: (\S+) g of Cu is enough", spots["balance 2"]["words"])
    assert found
    assert float(found[1]) == pytest.approx(10 ** spots["balance 2"]["x"], rel=0.01)
    x0, x1, y0, y1 = area["limits"]
    mark = next(i for i in area["items"] if i["is"] == "diamond")  # the other is in the key
    across = (spots["plan"]["x"] - x0) / (x1 - x0) * area["width"]
    down = (y1 - spots["plan"]["y"]) / (y1 - y0) * area["height"]
    assert mark["at"] == pytest.approx([across, down], abs=0.1)
    drawn = lab.kit.plan.map_key
    shown.act("move", id="map:move", spot="plan", x=math.log10(0.031), y=math.log10(0.0019))
    texts = lab.kit.plan.texts
    assert (texts["amount"], texts["readability"], texts["repeatability"]) == (
        "0.031", "0.001", "0.0005",
    )  # fmt: skip
    assert lab.kit.plan.map_key == drawn  # the same map serves
    shown.act("move", id="map:move", spot="plan", x=1e9, y=-1e9)  # kept within what can be weighed
    assert float(lab.kit.plan.texts["amount"]) <= 1e4
    shown.act("left", id="map")
    lab.history.undo()
    assert texts is not lab.kit.plan.texts
    assert lab.kit.plan.texts["amount"] == "0.11"


def test_a_plane_stays_within_its_heights_however_wide_the_page_is() -> None:
    _, shown = page()
    heights = {"map": (330, 400), "curves": (290, 340), "labs": (330, 400)}
    for width_px, which in ((320, 0), (1100, 1)):
        for name in heights:
            shown.act("pick", id=f"{name}:width", to=width_px)
        found = {b["id"]: b["height"] for b in shown.blocks("picture") if b["id"] in heights}
        assert found == {name: pair[which] for name, pair in heights.items()}


@pytest.mark.parametrize(
    ("mass_g", "step_g", "inside"),
    [
        (0.02, 0.002, True),
        (0.02, 0.0019, True),  # a tenth beyond the last row is still within its cells
        (0.0199, 0.002, False),
        (0.02, 0.0017, False),
        (0.5, 0.05, True),
        (8.0, 0.3, True),
        (8.0, 0.32, True),
        (8.1, 0.3, False),
        (8.0, 0.34, False),
    ],
)
def test_a_map_is_drawn_anew_for_a_plan_beyond_its_masses_or_balances(
    mass_g: float, step_g: float, inside: bool
) -> None:
    found: Any = SimpleNamespace(masses_g=(0.02, 0.4, 8.0), readabilities_g=(0.002, 0.02, 0.3))
    assert _inside(found, cast(Any, SimpleNamespace(consumed_mass_g=mass_g)), step_g) is inside


def test_the_newest_twelve_answers_are_kept() -> None:
    lab = LabState("copper-silver", autosave=False)
    screen = PlanScreen(lab)
    for number in (*range(1, 14), 13):  # the last is the same once more
        screen._add(_Said(f"answer {number}", lab.kit.plan.figures.plan, None))
    shown = [b["text"] for b in screen.asked(Builder()) if b.get("role") == "strong"]
    assert shown == [f"answer {number}" for number in range(13, 1, -1)]


def test_the_dot_of_a_balance_takes_its_design_into_the_plan() -> None:
    lab, shown = page()
    area, _ = shown.blocks("picture", "plan-map")
    assert area["picks"]
    dot = next(one for one in area["spots"] if one["name"] == "balance 2")
    shown.act("move", id="map:move", spot="balance 2", x=dot["x"], y=dot["y"])
    texts = lab.kit.plan.texts
    assert texts["readability"] == "0.1"
    assert float(texts["amount"]) >= 10 ** dot["x"]  # rounded up, so that it is enough
    assert float(texts["amount"]) == pytest.approx(10 ** dot["x"], rel=0.01)
    assert shown.text("plan-verdict").strip().startswith("Enough")
    lab.history.undo()
    assert lab.kit.plan.texts["readability"] == "0.01"


def test_the_balances_offered_are_those_of_the_room() -> None:
    lab, shown = page()
    shown.act("set", id="plan:balances", to="0.02: 3; 0.1")
    assert lab.kit.plan.marked_g == (0.01, 0.02, 0.1)  # and that of the plan
    area, _ = shown.blocks("picture", "plan-map")
    assert [one["words"].partition(":")[0] for one in area["spots"]] == [
        "Read to 0.01 g", "Read to 0.02 g", "Read to 0.1 g", "This plan",
    ]  # fmt: skip
    shown.act("move", id="map:move", spot="plan", x=math.log10(0.2), y=math.log10(0.018))
    assert lab.kit.plan.texts["readability"] == "0.02"
    (table,) = shown.blocks("table", "plan-rows")
    assert [one[0] for one in table["rows"]] == ["0.1 g", "0.02 g"]
    shown.act("set", id="plan:balances", to="0.02: many")
    assert "how many" in shown.control("plan:balances")["refusal"]
    assert lab.kit.plan.texts["balances"] == "0.02: many"  # what was typed stays
    lab.history.undo()
    assert lab.kit.plan.texts["balances"] == "0.02: 3; 0.1"


def test_set_ups_for_the_room_are_compared_and_one_is_taken() -> None:
    lab, shown = page()
    for name, text in (("balances", "0.01: 2; 0.1"), ("groups", "4"), ("minutes", "60")):
        shown.act("set", id=f"plan:{name}", to=text)
    shown.press("Compare set-ups")
    (best,) = (b["text"] for b in shown.blocks("words", "plan-setups") if b["role"] == "strong"
               and b["text"] != "Drying and time")  # fmt: skip
    assert best.startswith("For the class together to conclude with a chance of 0.9 or more")
    others = next(shown.blocks("list", "plan-setups"))["items"]
    assert others[0].startswith("For a bench by itself to conclude")
    chances, taken = shown.blocks("table", "plan-setups")
    assert len(chances["rows"]) == len(taken["rows"]) == 6
    assert chances["selected"] == 0  # the plan as it stands
    assert [row[1] for row in chances["rows"]].count("the class together") == 3
    said = shown.text("plan-setups")
    assert "of 4 benches conclude on average" in said
    assert "Rinsed with acetone" in said
    assert "no flames" in said
    shown.act("set", id="setups-by", to="mass")
    chances, _ = shown.blocks("table", "plan-setups")
    masses = [float(row[2]) for row in chances["rows"]]
    assert masses == sorted(masses)
    place = next(i for i, row in enumerate(chances["rows"])
                 if row[1] == "each bench" and row[3] == "0.1 g")  # fmt: skip
    shown.act("pick", id="setup", to=place)
    texts = lab.kit.plan.texts
    assert (texts["amount"], texts["readability"]) == (chances["rows"][place][2], "0.1")
    chances, _ = shown.blocks("table", "plan-setups")
    assert set(chances["looks"]) == {"faint"}  # of the figures before
    lab.history.undo()
    assert lab.kit.plan.texts["readability"] == "0.01"
    shown.act("set", id="plan:amount", to="0.345")
    assert next(shown.blocks("table", "plan-setups"))["selected"] == -1  # none is the plan
    for ending in (".csv", ".xlsx", ".html"):
        shown.act("press", id=f"setups{ending}")
    assert [one["name"] for one in shown.files] == [
        f"my-copper-silver-setups{ending}" for ending in (".csv", ".xlsx", ".html")
    ]


def test_the_room_is_kept_for_a_restart(tmp_path: Path) -> None:
    lab = LabState("copper-silver", folder=tmp_path)
    lab.kit.plan.set("balances", "0.01: 2")
    lab.kit.plan.set("minutes", "45")
    lab.close()
    again = LabState("copper-silver", folder=tmp_path)
    texts = again.kit.plan.texts
    assert (texts["balances"], texts["minutes"]) == ("0.01: 2", "45")
    again.close()


def test_comparing_set_ups_can_be_stopped_and_stops_when_the_plan_changes() -> None:
    async def session() -> None:
        _, shown = page()
        shown.press("Compare set-ups")
        assert shown.has("setups:stop")
        shown.press("setups:stop")
        assert not shown.has("setups:stop")
        assert "Stopped." in shown.text("plan-setups")
        shown.press("setups:again")
        assert shown.has("setups:stop")
        shown.act("set", id="plan:amount", to="0.2")
        assert "because the plan has changed" in shown.text("plan-setups")

    asyncio.run(session())


def test_a_map_that_takes_minutes_is_drawn_when_asked_for() -> None:
    lab, shown = page("magnesium-gas")
    assert not list(shown.blocks("picture", "plan-map"))
    assert "takes minutes" in shown.text("plan-map")
    assert shown.has("draw")
    assert not lab.kit.plan.map_is_quick
    _, shown = page("copper-plating")  # charge: there is no mass across
    assert shown.regions["plan-map"] == []


def test_labs_of_the_plan_are_looked_at_on_other_balances() -> None:
    lab, shown = page()
    shown.type("plan:trials", "1")
    step = shown.control("labs-step")
    shown.act("step", id="labs-step", to=0)
    first = shown.control("labs-step")
    assert (first["value"], f"{step_text(lab.labs.step_g)} g") == (0, first["words"][0])
    assert step["words"][step["value"]] == "0.01 g (plan)"
    shown.act("step", id="labs-step", to=step["words"].index("0.1 g"))
    assert "cannot tell" in shown.text("plan-labs")
    assert lab.kit.plan.texts["readability"] == "0.01"  # the plan is as it was
    shown.type("labs-truth", "copper(I)")
    (picture,) = shown.blocks("picture", "plan-labs")
    assert "copper(I) is true" in picture["alt"]
    (table,) = shown.blocks("table", "plan-rows")
    assert [row[0] for row in table["rows"]] == ["0.1 g", "0.01 g", "0.001 g"]
    for row in table["rows"]:
        counts, chances = zip(*(cell.split("; ") for cell in row[1:]), strict=True)
        assert sum(map(int, counts)) == 400
        right = chances[0].replace("above ", "").replace("below ", "")
        assert float(right) == pytest.approx(int(counts[0]) / 400, abs=0.11)
    shown.type("labs-truth", "nothing reacted")
    assert "Nothing reacted in these labs" in shown.text("plan-labs")
    lab.history.undo()
    assert lab.labs.truth == "copper(I)"


def test_a_lab_without_a_balance_has_no_balance_to_change() -> None:
    lab, shown = page("acid-titration")
    has_balance = not math.isnan(lab.kit.plan.balance_g)
    assert shown.has("labs-step") is has_balance
    assert shown.has("ask:balance") is has_balance


def test_further_trials_after_the_readings() -> None:
    """A balance ten times finer settles the coarse lab in one trial, as its plan says as well."""
    lab, shown = page("copper-silver-coarse")
    shown.press("Work it out")
    said = shown.text("plan-next")
    assert "Chance of a right answer after further trials" in said
    assert said.startswith("After these readings: how many more trials?")
    assert "On a balance that reads to 0.01 g, without the trials so far: 1 trial" in said
    plan = PlanState("copper-silver-coarse")
    plan.set("readability", "0.01")
    plan.set("repeatability", "")
    plan.set("trials", "1")
    assert plan.characteristic().right > 0.9
    lab.readings.set_reading(0, "wire before", "2.8")
    shown.frame.changed()
    assert shown.has("Work it out")  # that was of other readings
    said = "More trials alike, with more of the reactant, or on a finer balance."
    assert said in shown.text("plan-next")


def test_the_bench_plan_is_shown_and_saved() -> None:
    lab, shown = page()
    shown.type("plan:groups", "3")
    assert not list(shown.blocks("document", "plan-document"))
    shown.press("Show the bench plan")
    (bench,) = shown.blocks("document", "plan-document")
    assert bench["title"].startswith("Bench plan:")
    assert "3 groups" in shown.text("plan-document")
    shown.press("file.html")
    assert shown.file().name == "my-copper-silver-plan.html"
    assert shown.file().data.startswith(b"<!DOCTYPE html>")
    assert b"Chance of the right verdict" in shown.file().data
    shown.press("file.md")
    assert shown.file().data.startswith(b"# Bench plan:")
    assert shown.regions["plan-cautions"] == []  # the bench plan has them
    assert "silver nitrate" in shown.text("plan-document")
    shown.press("bench")
    assert not list(shown.blocks("document", "plan-document"))
    assert "silver nitrate" in shown.text("plan-cautions")
    assert "safety data sheet" in shown.text("plan-cautions")
    assert lab.kit.plan.figures.groups == 3


def test_the_data_sheet_has_a_row_for_each_trial_of_each_group() -> None:
    _, shown = page()
    shown.type("plan:groups", "3")
    shown.type("plan:trials", "2")
    shown.press("file.csv")
    assert shown.file().name == "my-copper-silver-sheet.csv"
    rows = list(csv.reader(io.StringIO(shown.file().data.decode("utf-8-sig"))))
    assert len(rows) == 2 + 3 * 2
    assert rows[1] == ["group", "trial", "wire before / g", "wire after / g", "paper / g",
                       "paper + silver / g"]  # fmt: skip
    openpyxl = pytest.importorskip("openpyxl", reason="openpyxl is not installed")
    shown.press("file.xlsx")
    book = openpyxl.load_workbook(io.BytesIO(shown.file().data))
    assert [cell.value for cell in book["readings"][2]] == rows[1]
    assert book["readings"].max_row == 8


def test_cards_and_labels_are_saved_for_all_groups() -> None:
    _, shown = page()
    shown.type("plan:groups", "3")
    shown.type("plan:trials", "2")
    shown.press("Bench cards (to print)")
    assert shown.file().name == "my-copper-silver-cards.html"
    assert shown.file().data.count(b'<section class="card"') == 3
    shown.press("Stock card (to print)")
    assert shown.file().name == "my-copper-silver-stock.html"
    assert b"For 3 groups of 2 trials" in shown.file().data
    shown.press("Labels (to print)")
    assert shown.file().name == "my-copper-silver-labels.html"
    assert b"Group 3, trial 2: paper" in shown.file().data
    shown.type("plan:groups", "none")
    shown.press("Labels (to print)")
    assert "cannot be saved yet" in shown.said


def test_the_plan_follows_the_record_of_the_readings() -> None:
    lab, shown = page()
    shown.type("plan:amount", "0.2")
    lab.readings.set_balance("balance", readability_g="0.1")
    shown.frame.changed()
    assert shown.control("plan:readability")["text"] == "0.1"
    assert shown.control("plan:amount")["text"] == "0.2"
    shown.press("Fewest trials")
    lab.readings.load("tin-oxide")
    shown.frame.changed()
    assert "Sn" in shown.control("plan:amount")["label"]
    assert "Asked of" not in shown.text("plan-asked")  # answers of another lab are gone
    assert "Sn" in headline(shown)


def test_what_was_weighed_is_offered_to_the_plan() -> None:
    """A lab of one's own begins with a guess, since there are no readings yet."""
    lab, shown = page()
    assert "Plan what was weighed" not in shown.text(), "it is planned already"
    shown.type("plan:amount", "5")
    label = "Plan what was weighed: 0.11 g, 4 trials"
    assert shown.control("weighed")["label"] == label
    shown.press("weighed")
    assert shown.control("plan:amount")["text"] == "0.11"
    assert "Plan what was weighed" not in shown.text()
    lab.history.undo()
    assert lab.kit.plan.texts["amount"] == "5"


def test_what_was_weighed_is_of_the_readings_as_they_are_now() -> None:
    """Copper, g: 0.30 lost in the one trial that is left."""
    lab, shown = page()
    for _ in range(3):
        lab.readings.remove_trial()
    roles = [role.name for role in lab.experiment.consumed.roles()]
    for role, text in zip(roles, ("3.00", "2.70"), strict=True):
        lab.readings.set_reading(0, role, text)
    shown.act("left", id="")
    assert shown.control("weighed")["label"] == "Plan what was weighed: 0.3 g, one trial"


def test_nothing_is_offered_to_the_plan_where_nothing_reacted() -> None:
    lab, shown = page()
    for trial in range(4):
        for role in lab.experiment.consumed.roles():
            lab.readings.set_reading(trial, role.name, "3.00")
    shown.act("left", id="")
    assert "Plan what was weighed" not in shown.text()


def test_what_was_typed_and_chosen_survives_a_restart(tmp_path: Path) -> None:
    lab = LabState("copper-silver", folder=tmp_path)
    shown = Shown(PlanScreen(lab))
    shown.type("plan:trials", "2x")
    shown.type("labs-truth", "copper(I)")
    shown.act("step", id="labs-step", to=9)
    lab.close()
    again = LabState("copper-silver", folder=tmp_path)
    if again.kit.offered:
        again.kit.restore_offered()
    shown = Shown(PlanScreen(again))
    assert shown.control("plan:trials")["text"] == "2x"
    assert shown.control("plan:trials")["refusal"]
    assert shown.control("labs-truth")["value"] == "copper(I)"
    assert shown.control("labs-step")["value"] == 9
    again.close()


@pytest.mark.parametrize("name", experiments.names())
def test_every_ready_lab_can_be_planned(name: str) -> None:
    lab, shown = page(name)
    assert shown.said == ""
    assert headline(shown).startswith(("Enough:", "Not enough:"))
    assert "refusal" not in {b.get("role") for b in shown.blocks("words")}
    assert sum(map(int, _counts(shown))) == 400
    assert shown.control("labs-truth")["value"] in lab.labs.truths


def test_cautions_are_never_left_out() -> None:
    ready = experiments.load("copper-silver")
    shown = Shown(PlanScreen(LabState(replace(ready, cautions=()), autosave=False)))
    said = shown.text("plan-cautions")
    assert "eye protection" in said
    assert "H314 Causes severe skin burns and eye damage" in said  # silver nitrate
    assert "silver waste" in said
    assert "safety data sheet" in said


def test_a_lab_in_which_nothing_reacted_can_be_planned() -> None:
    ready = experiments.load("copper-silver")
    for trial in ready.trials:
        ready = ready.with_reading(trial.name, "wire after", trial.readings["wire before"][-1])
    lab = LabState(ready, autosave=False)
    shown = Shown(PlanScreen(lab))
    assert shown.control("plan:amount")["text"] == "0.5"  # fifty steps of 0.01 g
    assert headline(shown).startswith("Enough:")


def test_a_lab_without_readings_can_be_planned() -> None:
    ready = experiments.load("copper-silver")
    bare = replace(ready, trials=(), order=ready.reading_names())
    shown = Shown(PlanScreen(LabState(bare, autosave=False)))
    assert headline(shown).startswith("Enough:")
    assert shown.regions["plan-next"] == []  # there is nothing to go on from
    assert sum(map(int, _counts(shown))) == 400


def _counts(shown: Shown) -> list[str]:
    (picture,) = shown.blocks("picture", "plan-labs")
    said = [i["text"] for i in picture["items"] if i["is"] == "words" and " of 400" in i["text"]]
    return [text.rpartition(": ")[2].removesuffix(" of 400") for text in said]


def test_long_work_can_be_stopped_and_typing_goes_on() -> None:
    async def scene() -> list[Any]:
        _, shown = page("hydrate-heating")
        seen: list[Any] = []
        for _ in range(400):
            await asyncio.sleep(0.05)
            if headline(shown).startswith(("Enough", "Not enough")):
                break
        shown.press("Largest recovery allowance")
        for _ in range(100):
            await asyncio.sleep(0.05)
            if "Looking for the largest" in shown.text("plan-asked"):
                break
        seen.append("Looking for the largest recovery allowance" in shown.text("plan-asked"))
        shown.type("plan:groups", "7")  # not a figure of the plan: the work goes on
        seen.append(shown.control("plan:groups")["text"])
        seen.append([b["id"] for b in shown.blocks("progress", "plan-asked")])
        shown.act("press", id="asked:stop")
        seen.append("Stopped." in shown.text("plan-asked"))
        shown.press("Largest recovery allowance")
        shown.type("plan:trials", "1")
        seen.append("Stopped, because the plan has changed." in shown.text("plan-asked"))
        shown.frame.close()
        return seen

    assert clocks.run(scene) == [True, "7", ["asked:stop"], True, True]
