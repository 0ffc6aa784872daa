"""Chances for a room and for a class together, against other ways of finding them."""

from __future__ import annotations

import math
from dataclasses import replace

import numpy as np
import pytest

from stoichkit.classroom.amounts import amounts_of
from stoichkit.decision.verdict import VerdictKind
from stoichkit.errors import ModelError
from stoichkit.experiments import load
from stoichkit.planning import (
    Balances,
    Groups,
    Plan,
    Room,
    chances,
    class_chances,
    class_characteristic,
    groups_in,
    room_plan,
    smallest_in_room,
)
from stoichkit.planning.classes import _weights, pooled
from stoichkit.planning.design import with_readability
from stoichkit.uncertainty.pooling import pool
from tests.studies.rooms import SETTINGS, Setting, apart, drawn_class, lab_of, planned, simulated

FE = 55.845  # g/mol, abridged standard atomic weight (IUPAC 2021), from memory


def plan_of(mass_g: float, step_g: float = 0.1, **more: object) -> Plan:
    lab = with_readability(lab_of(SETTINGS[0]), step_g)
    return Plan(experiment=lab, consumed_mol=mass_g / FE, **more)  # type: ignore[arg-type]


@pytest.mark.parametrize("place", [pytest.param(0, marks=pytest.mark.slow), 4])
def test_the_chance_of_a_class_is_that_of_classes_drawn_apart(place: int) -> None:
    """One kind of balance and two, judged by the verdict of a class (all eight: the study)."""
    setting = SETTINGS[place]
    assert apart(planned(setting), simulated(setting, 60, 7)) < 3.5


def test_a_class_that_cannot_tell_is_seen_as_such() -> None:
    setting = Setting(((5, 0.1),), 0.1, 1, "iron(II)")
    expected, found = planned(setting), simulated(setting, 40, 3)
    assert expected.right < 0.3
    assert abs(expected.not_told_apart - found.not_told_apart) < 0.25
    assert VerdictKind.NOT_TOLD_APART.value == "not_told_apart"


@pytest.mark.parametrize("variances", [[1.0, 1.0, 0.04, 0.09, 4.0], [0.5] * 5])
def test_many_classes_are_pooled_as_one_is(variances: list[float]) -> None:
    rng = np.random.default_rng(2)
    estimates = rng.normal(1.0, 1.3, (40, 5))
    mean, scale = pooled(estimates, np.array(variances))
    for row, m, s in zip(estimates, mean, scale, strict=True):
        one = pool(row, variances)
        assert (m, s) == pytest.approx((one.mean, one.standard_uncertainty), rel=1e-9)


def test_the_weights_of_two_kinds_of_balance_are_those_of_a_class() -> None:
    setting = SETTINGS[4]
    amounts = amounts_of(*drawn_class(setting, np.random.default_rng(1)))
    variance = amounts.own.along(*amounts.best_direction())
    mine = _weights(variance[[0, -1]], np.array([10, 2]))
    # shares of the class: the mean of its scaled amounts
    whole = amounts.linear.mean_consumed
    by_hand = mine[0] * amounts.consumed[:10].sum() + mine[1] * amounts.consumed[10:].sum()
    assert by_hand == pytest.approx(whole, rel=1e-3)


def test_twelve_benches_of_0_93_all_conclude_with_0_42() -> None:
    """0.93¹² = 0.4186: type identities of a product and a power, by logarithms."""
    assert math.exp(12 * math.log(0.93)) == pytest.approx(0.42, abs=0.005)
    plan = plan_of(1.1)
    found = room_plan([Groups(plan, 12)], classes=200)
    bench = min(chances(plan, c.name).right for c in plan.experiment.candidates)
    assert found.bench_concludes == pytest.approx(bench)
    assert 0.925 < bench < 0.935
    assert found.concluding == pytest.approx(12 * bench)
    assert found.all_conclude == pytest.approx(math.exp(12 * math.log(bench)))


def test_benches_on_two_kinds_of_balance_are_counted_each_by_its_own_chance() -> None:
    coarse, fine = plan_of(0.5), plan_of(0.5, 0.01)
    found = room_plan([Groups(coarse, 3), Groups(fine, 2)], classes=200)
    per_truth = []
    for name in ("iron(II)", "iron(III)"):
        a, b = chances(coarse, name).right, chances(fine, name).right
        per_truth.append((3 * a + 2 * b, a * a * a * b * b))
    assert found.concluding == pytest.approx(min(n for n, _ in per_truth))
    assert found.all_conclude == pytest.approx(min(p for _, p in per_truth))


def test_the_class_needs_less_than_each_bench_and_no_less_is_enough() -> None:
    groups = [Groups(plan_of(1.0), 12)]
    each = smallest_in_room(groups, aim="each bench")
    together = smallest_in_room(groups, aim="the class together", classes=1000)
    assert together < 0.5 * each
    less = [Groups(plan_of(together - 0.01), 12)]
    assert class_characteristic(less, classes=1000).right < 0.9
    enough = [Groups(plan_of(together), 12)]
    assert class_characteristic(enough, classes=1000).right >= 0.9


def test_a_class_whose_groups_truly_differ_concludes_less_often() -> None:
    plan = plan_of(0.4)
    same = class_chances([Groups(plan, 6)], "iron(III)", classes=1000)
    lab = replace(plan.experiment, between_groups="15 %")
    differ = class_chances([Groups(replace(plan, experiment=lab), 6)], "iron(III)", classes=1000)
    assert differ.right < same.right - 0.05


def test_recovery_is_taken_at_its_worst() -> None:
    lab = replace(load("copper-silver-coarse"), recovery=(0.7, 1.0))
    plan = Plan(experiment=lab, consumed_mol=0.01)
    each = [class_chances([Groups(plan, 4)], "copper(II)", recovered=f, classes=500).right
            for f in plan.recoveries]  # fmt: skip
    assert class_chances([Groups(plan, 4)], "copper(II)", classes=500).right == min(each)


def test_benches_are_shared_out_over_the_balances() -> None:
    assert Room(12, [0.1, Balances(0.01, 2)]).shared_out() == (10, 2)
    assert Room(12, [Balances(0.1, 3), Balances(0.01, 1)]).shared_out() == (9, 3)
    assert Room(5, [Balances(0.1, 1), Balances(0.01, 1)]).shared_out() in ((3, 2), (2, 3))
    assert Room(3, [0.1, Balances(0.01, 1), Balances(0.001, 1)]).shared_out() == (1, 1, 1)
    for benches in range(1, 30):
        for two in range(1, 6):
            room = Room(benches, [Balances(0.1, 4), Balances(0.01, two)])
            assert sum(room.shared_out()) == benches
    assert [g.number for g in groups_in(Room(1, [0.1, 0.01]), plan_of(1.0))] == [1]


@pytest.mark.parametrize(
    "make",
    [
        lambda: Room(0, [0.1]),
        lambda: Room(61, [0.1]),
        lambda: Room(3, []),
        lambda: Room(3, [0.1, 0.1]),
        lambda: Room(3, [Balances(0.1, 0)]),
        lambda: Room(3, [-0.1]),
        lambda: Room(3, [0.1], minutes=0),
        lambda: Room(3, [0.1], stock_g={"Fe": -1}),
        lambda: class_chances([Groups(plan_of(1.0), 1)], "iron(II)"),
        lambda: class_chances([Groups(plan_of(1.0), 3)], "rust"),
        lambda: class_chances([Groups(plan_of(1.0), 3)], "iron(II)", recovered=10.5),
        lambda: class_chances([Groups(plan_of(1.0), 3)], "iron(II)", recovered=0),
        lambda: class_chances(
            [Groups(plan_of(1.0), 3),
             Groups(Plan(experiment=load("copper-silver"), consumed_mol=0.1), 2)], "iron(II)",
        ),
    ],
)  # fmt: skip
def test_what_cannot_be_used_is_refused(make: object) -> None:
    with pytest.raises(ModelError):
        make()  # type: ignore[operator]


def test_the_search_for_a_class_can_be_stopped_at_any_mass() -> None:
    seen: list[float] = []

    def stop(mass_g: float) -> None:
        seen.append(mass_g)
        if len(seen) == 3:
            raise KeyboardInterrupt

    groups = [Groups(plan_of(1.0), 12)]
    with pytest.raises(KeyboardInterrupt):
        smallest_in_room(groups, aim="the class together", classes=200, progress=stop)
    assert seen == pytest.approx([0.01, 0.02, 0.04])
