"""Set-ups for a room: orders by hand, queues by another simulation, time, files."""

from __future__ import annotations

import csv
import math
from functools import lru_cache
from pathlib import Path

import numpy as np
import pytest

from stoichkit.bench import (
    SetupComparison,
    Times,
    compare_setups,
    queue_minutes,
    setup_of,
)
from stoichkit.bench.room import ORDERS, _written, at_mass, setup_sentences
from stoichkit.errors import DataFileError, ModelError
from stoichkit.experiments import load, unweighed
from stoichkit.planning import Balances, Plan, Room, groups_in
from stoichkit.text.sheets import workbook_package

CUSO4_5H2O, FE, CU = 249.68, 55.845, 63.546  # g/mol, general knowledge of the trade


@lru_cache(maxsize=1)
def twelve() -> SetupComparison:
    room = Room(12, [0.1, Balances(0.01, 2)], minutes=50, stock_g={"Fe": 10, "CuSO4.5H2O": 500})
    return compare_setups(room, ["Fe"], "CuSO4.5H2O", states=[2, 3])


def stepped(benches: int, balances: int, before: int, between: int, after: int) -> int:
    """Walk through the session minute by minute: who stands at a balance, who waits."""
    here = [("queue", 0)] * benches  # what each bench does, and for how many minutes more
    first = [True] * benches
    waiting = list(range(benches))
    clock = 0
    while any(state != "done" for state, _ in here):
        busy = sum(state == "weighing" for state, _ in here)
        while waiting and busy < balances:
            bench = waiting.pop(0)
            here[bench] = ("weighing", before if first[bench] else after)
            busy += 1
        clock += 1
        back = []
        for bench, (state, left) in enumerate(here):
            if state in ("weighing", "working"):
                here[bench] = (state, left - 1)
                if left == 1 and state == "weighing":
                    here[bench] = ("working", between) if first[bench] else ("done", 0)
                    first[bench] = False
                elif left == 1:
                    here[bench] = ("queue", 0)
                    back.append(bench)
        waiting += back
    return clock


@pytest.mark.parametrize("seed", range(40))
def test_the_queue_is_that_of_a_walk_minute_by_minute(seed: int) -> None:
    rng = np.random.default_rng(seed)
    benches, balances = int(rng.integers(1, 20)), int(rng.integers(1, 6))
    before, between, after = (int(rng.integers(1, 40)) for _ in range(3))
    found = queue_minutes(benches, balances, before, between, after)
    assert found == stepped(benches, balances, before, between, after)


def test_without_a_queue_nobody_waits() -> None:
    assert queue_minutes(12, 12, 2, 30, 3) == 35
    assert queue_minutes(4, 1, 10, 1, 10) == 80  # one balance is never idle


def test_grams_and_millilitres_to_order_are_those_of_a_calculation_by_hand() -> None:
    each = next(s for s in twelve().setups if s.balance == "0.1 g" and s.aim == "each bench")
    mass = each.mass_g
    assert mass == pytest.approx(1.1)
    # iron: 1.2 times over, 12 benches, a tenth in reserve
    assert each.orders[0].mass_g == pytest.approx(1.2 * 1.1 * 12 * 1.1)
    # 1.1 g of iron that goes to iron(III) takes 3/2 mol of copper a mol; 1.2 times over in 0.1 M
    volume = 1000 * 1.2 * 1.5 * (1.1 / FE) / 0.1
    assert 350 < volume < 400  # a cylinder shows 400 mL
    assert each.waste_mL == pytest.approx(12 * 400)
    assert each.orders[1].volume_mL == pytest.approx(5300)  # 12 × 400 × 1.1 = 5280, rounded up
    assert each.orders[1].mass_g == pytest.approx(5.3 * 0.1 * CUSO4_5H2O, rel=1e-4)
    # iron that is left (0.2 of 1.2 parts), and copper at the most
    assert each.waste_g == pytest.approx(12 * (0.2 * 1.1 + 1.5 * 1.1 / FE * CU), rel=1e-4)
    assert [o.in_stock for o in each.orders] == [False, True]


def test_the_class_together_needs_less_and_the_page_says_how_much() -> None:
    found = twelve()
    by = {(s.balance, s.aim): s for s in found.setups}
    each, together = by["0.1 g", "each bench"], by["0.1 g", "the class together"]
    less = 1 - together.waste_mL / each.waste_mL
    said = " ".join(setup_sentences(found))
    assert f"{100 * less:.0f} % less used solution" in said
    assert "11.1 of 12 benches conclude on average" in said
    assert together.found.class_concludes >= 0.9 > together.found.bench_concludes
    mixed = next(s for s in found.setups if "benches to" in s.balance)
    assert mixed.balance == "10 benches to 0.1 g and 2 benches to 0.01 g"


def test_drying_that_does_not_fit_is_said_with_what_does() -> None:
    found = twelve()
    coarse, fine = found.setups[0], found.setups[2]
    assert coarse.timing.drying == "rinsed with acetone"
    # 5 beginning, 2 weighings, 15 + 5 + 10 of work, 2 weighings, 5 ending
    assert coarse.minutes == 5 + 2 + 15 + 5 + 10 + 2 + 5
    assert coarse.timing.minutes["in the oven"] == 5 + 2 + 15 + 5 + 45 + 2 + 5
    assert fine.timing.drying == "weighed the next day"
    assert fine.timing.next_day == 12  # six benches at each of two balances, two weighings
    text = " ".join(found.document().text().split())
    assert "Acetone is highly flammable" in text
    assert "no flames" in text
    assert "ventilation" in text
    assert "weigh it the next day" in text


def test_a_session_too_short_for_anything_says_so() -> None:
    plan = Plan(experiment=unweighed("Fe", "CuSO4.5H2O", states=[2, 3]), consumed_mol=0.01)
    room = Room(2, [0.1], minutes=20)
    one = setup_of(room, groups_in(room, plan))
    assert not one.timing.fits
    found = SetupComparison(room, 0.9, (one,))
    assert "Nothing else fits either" in " ".join(found.document().text().split())
    enough = Room(2, [0.1], minutes=500)
    assert setup_of(enough, groups_in(enough, plan)).timing.drying == "in the oven"
    quick = setup_of(room, groups_in(room, plan), times=Times(reacting=1, acetone=1))
    assert quick.timing.fits


def test_trials_side_by_side_take_turns_at_the_balance() -> None:
    lab = unweighed("Fe", "CuSO4.5H2O", states=[2, 3])
    room = Room(4, [Balances(0.1, 1)])
    for trials in (1, 3):
        plan = Plan(experiment=lab, consumed_mol=0.01, trials=trials)
        minutes = setup_of(room, groups_in(room, plan)).timing.minutes["in the oven"]
        assert minutes == 10 + stepped(4, 1, 2 * trials, 65, 2 * trials)


def test_other_ways_of_measuring_are_compared_too() -> None:
    salt = unweighed("MgSO4", candidates=["1", "7"])
    found = compare_setups(Room(1, [0.01]), [salt, "MgSO4"], candidates=["1", "7"])
    assert [s.reactant for s in found.setups] == ["MgSO4", "MgSO4"]
    assert found.setups[0].mass_g == found.setups[1].mass_g
    assert "rinsed with acetone" not in found.setups[0].timing.minutes  # water is driven off
    with_trials = compare_setups(Room(1, [0.01]), [load("copper-silver")])
    assert with_trials.setups[0].mass_g == pytest.approx(0.07)


@pytest.mark.parametrize("by", ORDERS)
def test_setups_can_be_sorted(by: str) -> None:
    found = twelve()
    again = found.sorted(by)
    assert sorted(map(id, again.setups)) == sorted(map(id, found.setups))
    if by == "mass":
        masses = [s.mass_g for s in again.setups]
        assert masses == sorted(masses)
    if by == "class":
        likely = [s.found.class_concludes for s in again.setups]
        assert likely == sorted(likely, reverse=True)


def test_it_is_saved_as_table_and_page(tmp_path: Path) -> None:
    found = twelve()
    found.save(tmp_path / "a.csv")
    with (tmp_path / "a.csv").open(encoding="utf-8-sig", newline="") as file:
        rows = list(csv.DictReader(file))
    assert len(rows) == len(found.setups)
    assert float(rows[0]["A bench concludes"]) == pytest.approx(
        found.setups[0].found.bench_concludes, rel=1e-5
    )
    found.save(tmp_path / "a.xlsx")
    book = workbook_package().load_workbook(tmp_path / "a.xlsx")
    assert book.sheetnames == ["Set-ups", "Orders"]
    assert book["Set-ups"].max_row == len(found.setups) + 1
    found.save(tmp_path / "a.html")
    assert "<table" in (tmp_path / "a.html").read_text()
    with pytest.raises(DataFileError):
        found.save(tmp_path / "a.html")
    found.save(tmp_path / "a.html", replace=True)


def test_what_cannot_be_compared_is_refused() -> None:
    for labs, more in (
        ([], {}),
        (["Fe"], {"trials": [0]}),
        (["Fe"], {"target": 2}),
        (["Fe"], {"progress": 3}),
    ):
        with pytest.raises(ModelError):
            compare_setups(Room(2, [0.1]), labs, "CuSO4", **more)  # type: ignore[arg-type]


def test_a_plan_in_a_room_keeps_its_mass() -> None:
    room = Room(3, [0.1])
    plan = Plan(experiment=unweighed("Zn", "CuSO4.5H2O"), consumed_mol=0.01)
    groups = at_mass(groups_in(room, plan), 2.5)
    assert groups[0].plan.consumed_mass_g == pytest.approx(2.5)


def test_a_row_of_the_table_is_written_upwards_and_without_gaps() -> None:
    """What is ordered or weighed is never rounded down; what is not known is a dash."""
    unknown = 0
    for one in twelve().setups:
        row = _written(one, 0.9)
        assert not any("nan" in cell for cell in row)
        assert one.order_g <= float(row[11]) <= 1.011 * one.order_g
        assert one.mass_g * (1 - 1e-9) <= float(row[2]) <= 1.011 * one.mass_g
        unknown += row[8] == "–"
        assert (row[8] == "–") == math.isnan(one.found.class_concludes)
    assert unknown < len(twelve().setups)


def test_too_many_set_ups_are_counted() -> None:
    """Three reactants, 16 numbers of trials, each balance alone and both to plan for: too many."""
    room = Room(4, [0.1, 0.01])
    with pytest.raises(ModelError, match="240 set-ups"):
        compare_setups(room, ["Fe", "Zn", "Mg"], "CuSO4.5H2O", trials=range(1, 17))
