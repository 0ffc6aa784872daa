"""A mass as a signed sum of weighings: from the file to the verdict, and the promise it keeps."""

from __future__ import annotations

import numpy as np
import pytest

from stoichkit import assess
from stoichkit.bench.plan import bench_plan
from stoichkit.chemistry.elements import molar_mass_value
from stoichkit.decision.evidence import linear_amounts
from stoichkit.diagnosis.causes import causes_for
from stoichkit.errors import ExperimentError
from stoichkit.experiments.record import Experiment
from stoichkit.experiments.store import parse_experiment
from stoichkit.measurement.weighing import MassByDifference, SumOfMasses
from stoichkit.planning.plan import Plan
from stoichkit.reports.lab import lab_report
from stoichkit.reports.worked import worked_solution
from stoichkit.uncertainty.digits import split_narrow, worst_position_tails
from stoichkit.uncertainty.readings import ErrorPool
from stoichkit.uncertainty.sources import budget, nominal
from tests.studies.real_labs import limit

LAB = """
title = "Copper in silver nitrate, the silver on two filters"
invented = true

[instruments.balance]
kind = "balance"
readability_g = 0.01
repeatability_g = {noise}

[consumed]
kind = "mass by difference"
species = "Cu"
heavier = "wire before"
lighter = "wire after"

[produced]
kind = "sum of masses"
species = "Ag"
plus = ["filter 1 + silver", "filter 2 + silver"]
minus = ["filter 1", "filter 2"]

[candidates.ratios]
"copper(I)" = 1
"copper(II)" = 2

[[trials]]
name = "1"
"wire before" = "3.12"
"wire after" = "2.65"
"filter 1" = "0.81"
"filter 2" = "0.79"
"filter 1 + silver" = "1.65"
"filter 2 + silver" = "1.54"
"""


def lab(noise: float = 0.005) -> Experiment:
    return parse_experiment(LAB.format(noise=noise))


def test_it_is_the_sum_of_its_pairs() -> None:
    """0.84 g and 0.75 g of silver are 1.59 g, as on one filter; the errors of four weighings."""
    one = lab()
    pool = ErrorPool()
    values = one.quantities(one.trials[0], pool)
    amount = one.produced.amount(values, pool)
    assert nominal(amount) == pytest.approx(1.59 / molar_mass_value("Ag"), rel=1e-9)
    single = MassByDifference(species="Ag", heavier="a", lighter="b")
    assert nominal(single.amount({"a": 2.30, "b": 0.71}, pool)) == pytest.approx(nominal(amount))
    rounding = [line for line in budget(amount) if line.source.kind == "rounding"]
    assert len(rounding) == 4


def test_its_readings_lie_in_pairs_in_their_vessels() -> None:
    groups = {role.name: role.vessel_group for role in lab().roles()}
    assert groups["filter 1 + silver"] == groups["filter 1"] == "filter 1"
    assert groups["filter 2 + silver"] == groups["filter 2"] == "filter 2"
    lid = SumOfMasses(species="Ag", plus=("all",), minus=("crucible", "lid"))
    assert [role.vessel_group for role in lid.roles()] == ["crucible", "crucible", ""]


SAME = 'species = "Ag"\nsame_vessel = ["filter 1"]\n'


def three_trials(text: str) -> Experiment:
    """Return the lab without scatter, its trial made three times."""
    head, trial = text.format(noise=0.0).split("[[trials]]")
    trials = "".join(f"[[trials]]{trial}".replace('"1"', f'"{i}"', 1) for i in (1, 2, 3))
    return parse_experiment(head + trials)


def test_one_of_its_vessels_may_be_the_same_in_every_trial() -> None:
    """Filter 1 serves three trials, filter 2 is a new one each time: 3² of one rounding, and 3."""
    own = three_trials(LAB)
    same = three_trials(LAB.replace('species = "Ag"\n', SAME))
    assert parse_experiment(same.to_toml()) == same
    assert [r.name for r in same.roles() if r.same_vessel] == ["filter 1 + silver", "filter 1"]
    found = sorted(linear_amounts(same).blocks(0.0, 1.0)[0], key=lambda block: len(block.together))
    assert [(block.count, block.together) for block in found] == [(3, ()), (3, (3,))]
    step = 0.01 / molar_mass_value("Ag") / 3
    variances = [block.variance / step**2 for block in found]
    assert variances == pytest.approx([3 * 2 / 12, 9 * 2 / 12], rel=1e-4)
    for name, one in assess(same).candidates.items():
        assert one.p_value >= assess(own).candidates[name].p_value - 1e-9
    text = " ".join(worked_solution(same).text().split())
    assert "The vessel of “filter 1” is the same thing in every trial of a group" in text
    assert not same.questions()
    (asked,) = same.with_reading("2", "filter 1", "0.75").questions()
    assert asked.text.startswith("It weighs 0.75 g to 0.81 g")


@pytest.mark.parametrize("part", [0.25, 0.5, 0.75])
def test_with_one_vessel_in_three_trials_the_truth_is_kept(part: float) -> None:
    """The silver of filter 1 at a fixed part of a display step, on the same filter each time."""
    rng, labs, step = np.random.default_rng(9), 4000, 0.01
    linear = linear_amounts(three_trials(LAB.replace('species = "Ag"\n', SAME)))
    blocks, rest = linear.blocks(2.0, 1.0)
    wide, narrow = split_narrow(rest, blocks)

    def read(mass_steps: float, vessel: np.ndarray) -> np.ndarray:
        return np.round(vessel + mass_steps) - np.round(vessel) - mass_steps

    d, filter_1 = np.zeros(labs), rng.uniform(0, 1, labs)
    for _ in range(3):
        wire, second = (read(30 + part, rng.uniform(0, 1, labs)) for _ in range(2))
        made = (read(30 + part, filter_1) + second) / molar_mass_value("Ag")
        d += step / 3 * (made - 2 * wire / molar_mass_value("Cu"))
    p = worst_position_tails(d, blocks, wide, np.full(labs, narrow))
    assert (p < 0.05).mean() <= limit(labs)


@pytest.mark.parametrize("noise", [0.0, 0.3])
@pytest.mark.parametrize("parts", [(0.5, 0.5, 0.5), (0.3, 0.5, 0.5), (0.2, 0.7, 0.4)])
def test_the_truth_is_excluded_at_most_as_often_as_stated(
    noise: float, parts: tuple[float, float, float]
) -> None:
    """Masses at fixed parts of a display step; vessels that weigh anything."""
    rng, labs, step = np.random.default_rng(8), 8000, 0.01
    linear = linear_amounts(lab(noise * step))
    blocks, rest = linear.blocks(2.0, 1.0)
    wide, narrow = split_narrow(rest, blocks)

    def read(mass_steps: float) -> np.ndarray:
        """Return the error of a difference, in steps."""
        vessel = rng.uniform(0, 1, labs)
        noise_of = [noise * rng.standard_normal(labs) for _ in range(2)]
        heavy = np.round(vessel + mass_steps + noise_of[0])
        return heavy - np.round(vessel + noise_of[1]) - mass_steps

    wire, first, second = (read(30 + p) * step for p in parts)
    d = (first + second) / molar_mass_value("Ag") - 2 * wire / molar_mass_value("Cu")
    p = worst_position_tails(d, blocks, wide, np.full(labs, narrow))
    assert (p < 0.05).mean() <= limit(labs)


def test_the_verdict_and_every_document() -> None:
    one = lab()
    found = assess(one)
    assert found.verdict.candidates == ("copper(II)",)
    solution = " ".join(worked_solution(one).text().split())
    formula = "“filter 1 + silver” + “filter 2 + silver” − filter 1 − filter 2"
    assert f"m(Ag) = {formula} = 1.65 g + 1.54 g − 0.81 g − 0.79 g = 1.59 g" in solution
    assert "filter 2 + silver" in lab_report(found).text()
    assert len(bench_plan(Plan(experiment=one, consumed_mol=0.007)).text()) > 500
    assert causes_for(found, "copper(I)")


def test_the_file_keeps_it() -> None:
    one = lab()
    assert parse_experiment(one.to_toml()) == one == Experiment.from_json(one.to_json())
    assert 'plus = ["filter 1 + silver", "filter 2 + silver"]' in one.to_toml()


@pytest.mark.parametrize(
    ("old", "new", "field", "parts"),
    [
        ('minus = ["filter 1", "filter 2"]', 'minus = "filter 1"', "produced.minus", ['["…"]']),
        ('plus = ["filter 1 + silver", "filter 2 + silver"]', "plus = []", "produced.plus",
         ["do not make a sum", "one of “plus”"]),
        ('minus = ["filter 1", "filter 2"]', 'minus = ["filter 1", "filter 1"]', "produced.minus",
         ["Given: filter 1", "2 to 20 different readings"]),
        ('minus = ["filter 1", "filter 2"]', 'minus = ["filter 1", ""]', "produced.minus", []),
        ('species = "Ag"\n', 'species = "Ag"\nrepeated = ["filter 3"]\n', "produced.repeated",
         ["Given: filter 3", "Did you mean “filter"]),
        ('species = "Ag"\n', 'species = "Ag"\nsame_vessel = ["wire"]\n', "produced.same_vessel",
         ["Given: wire", "filter 1 + silver, filter 2 + silver, filter 1, filter 2"]),
        ('minus = ["filter 1", "filter 2"]', 'minus = ["filter 1"]\nsame_vessel = '
         '["filter 2 + silver"]', "produced.same_vessel",
         ["stands alone", "Allowed: filter 1 + silver, filter 1. Name"]),
        ('species = "Ag"\n', 'species = "Ag"\ndensity_g_per_cm3 = 10490\n',
         "produced.density_g_per_cm3", ["Write it in g/cm³: 10.49"]),
    ],
)  # fmt: skip
def test_a_fault_is_named_with_its_place(old: str, new: str, field: str, parts: list[str]) -> None:
    with pytest.raises(ExperimentError) as caught:
        parse_experiment(LAB.format(noise=0.005).replace(old, new, 1))
    assert caught.value.field == field
    for part in parts:
        assert part in str(caught.value)


def test_a_single_weighing_is_no_sum() -> None:
    with pytest.raises(ExperimentError, match="mass by difference"):
        SumOfMasses(species="Ag", plus=("a",))
