"""The buoyancy of air, from the file to the verdict: corrected if stated, bounded if not."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from stoichkit import assess, experiments
from stoichkit.chemistry.elements import molar_mass_value
from stoichkit.decision.arrays import assess_weighings
from stoichkit.decision.evidence import air_of, linear_amounts
from stoichkit.decision.ratio_test import RatioTest
from stoichkit.experiments.record import Experiment
from stoichkit.experiments.store import parse_experiment
from stoichkit.measurement.buoyancy import air_factor
from stoichkit.measurement.displays import Balance
from stoichkit.reports.lab import lab_report
from stoichkit.reports.worked import worked_solution
from stoichkit.uncertainty.sources import budget, nominal
from tests.labs import lab as metal_lab
from tests.labs import weighed
from tests.studies.real_labs import limit

LAB = """
title = "Water of barium chloride"
invented = true

[instruments.balance]
kind = "balance"
readability_g = {step}
repeatability_g = {step}

[consumed]
kind = "mass by difference"
species = "BaCl2"
heavier = "residue"
lighter = "crucible"
{salt}
[produced]
kind = "mass by difference"
species = "H2O"
heavier = "crystals"
lighter = "residue"
{water}
[candidates.hydrate]
salt = "BaCl2"
waters = [1, 2, 3]
"""
TRIAL = """
[[trials]]
name = "{i}"
crucible = "{crucible}"
crystals = "{crystals}"
residue = "{residue}"
"""
SALT, CRYSTALS = 3.86, 3.10
"""Densities of barium chloride and its dihydrate, g/cm³ (handbook values, from memory)."""


def shown(
    rng: np.random.Generator, step: float, salt_g: float, water_density: float, trials: int
) -> list[dict[str, str]]:
    """Return readings of a true dihydrate on a balance in air, the water of a given density."""
    water_g = 2 * salt_g * molar_mass_value("H2O") / molar_mass_value("BaCl2")
    decimals = round(-np.log10(step))
    found = []
    for _ in range(trials):
        crucible = rng.uniform(20, 21)
        salt, water = salt_g / air_factor(SALT), water_g / air_factor(water_density)
        true = {"crucible": crucible, "residue": crucible + salt}
        true["crystals"] = crucible + salt + water
        found.append({k: f"{v + step * rng.normal():.{decimals}f}" for k, v in true.items()})
    return found


def record(
    readings: list[dict[str, str]], step: float = 0.0001, salt: str = "", water: str = ""
) -> Experiment:
    text = LAB.format(step=step, salt=salt, water=water)
    return parse_experiment(text + "".join(TRIAL.format(i=i, **r) for i, r in enumerate(readings)))


@pytest.mark.parametrize(
    "water_density",
    [0.9, pytest.param(1.8, marks=pytest.mark.slow), pytest.param(22.0, marks=pytest.mark.slow)],
)
def test_the_true_hydrate_is_excluded_at_most_as_often_as_stated(water_density: float) -> None:
    """On a 0.1 mg balance, 3 g, whatever the density: without, it always is."""
    rng, labs = np.random.default_rng(3), 150
    excluded = without = 0
    for _ in range(labs):
        one = record(shown(rng, 0.0001, 3.0, water_density, 2))
        excluded += not assess(one).candidates["BaCl2·2H2O"].compatible
        plain = RatioTest(linear_amounts(one), None, (1.0, 1.0))
        without += plain.candidate(2.0, 0.05)[0] < 0.05
    assert excluded / labs <= limit(labs)
    if water_density == 0.9:
        assert without / labs > 0.9


def test_stated_densities_take_the_error_away() -> None:
    """The ratio comes out as the hydrate's own, and is narrower than with unknown ones."""
    readings = shown(np.random.default_rng(4), 0.0001, 3.0, 0.9, 3)
    stated = assess(
        record(readings, salt=f"density_g_per_cm3 = {SALT}", water="density_g_per_cm3 = 0.9")
    )
    unknown = assess(record(readings))
    assert stated.ratio == pytest.approx(2.0, rel=3e-4)
    # 1/0.9 − 1/3.86 = 0.852 cm³/g, times 1.2 kg/m³: 1.02 parts in a thousand
    assert unknown.ratio == pytest.approx(stated.ratio * (1 - 1.02e-3), rel=1e-5)
    assert not stated.allows_air
    assert unknown.allows_air
    assert stated.candidates["BaCl2·2H2O"].compatible
    assert any(line.source.kind == "buoyancy" for line in budget(stated.n_produced))
    for found in (stated, unknown):
        assert found.verdict.candidates == ("BaCl2·2H2O",)


def test_what_is_stated_of_one_side_leaves_the_other_open() -> None:
    readings = shown(np.random.default_rng(4), 0.0001, 3.0, 1.8, 1)
    half = record(readings, salt="density_g_per_cm3 = 3.86")
    (low, high), fine = air_of(half, half.amounts())
    assert fine
    assert (high - 1, low - 1) == pytest.approx((1.05e-4, -1.302e-3), rel=0.01)


def test_it_costs_nothing_on_a_coarse_balance() -> None:
    """Every ready lab to 0.01 g: the same as without the allowance, to the last digit."""
    coarse = ("copper-silver", "copper-silver-coarse", "copper-plating", "hydrate-heating")
    for name in coarse:
        one = experiments.load(name)
        found = assess(one)
        plain = RatioTest(linear_amounts(one, found.amounts), one.variation, one.recovery)
        assert not found.allows_air, name
        for candidate in found.candidates.values():
            p, tested = plain.candidate(candidate.ratio, 0.0)
            assert (candidate.p_value, candidate.tested_ratio) == (p, tested)


def test_left_out_it_decides_nothing() -> None:
    """A coarse lab whose candidate is excluded by less than the air could explain: it fits."""
    rng = np.random.default_rng(5)
    shape, balance = (400, 1), Balance(readability_g=0.01, repeatability_g=0.005)
    rows = np.stack(weighed(rng, rng.uniform(0.2, 1.0, shape), 2.0, 0.01, 0.5, shape), axis=-1)
    seen = 0
    for row in rows:
        one = metal_lab(row, balance)
        plain = RatioTest(linear_amounts(one), None, (1.0, 1.0))
        widened = RatioTest(
            linear_amounts(one), None, (1.0, 1.0), air=air_of(one, one.amounts())[0], fine=True
        )
        p, wider = (test.candidate(2.0, 0.05)[0] for test in (plain, widened))
        found = assess(one).candidates["copper(II)"]
        assert found.compatible == (wider >= 0.05)
        assert found.p_value == (wider if p < 0.05 <= wider else p)
        seen += p < 0.05 <= wider
    assert seen < 5


@pytest.mark.parametrize("step", [0.01, 0.0001])
def test_arrays_say_the_same(step: float) -> None:
    rng = np.random.default_rng(6)
    balance = Balance(readability_g=step, repeatability_g=step / 2)
    tables = weighed(rng, rng.uniform(0.3, 0.6, (12, 2)), 1.9975, step, 0.5, (12, 2))
    found = assess_weighings(
        *tables, consumed="Cu", produced="Ag",
        candidates={"copper(I)": "1", "copper(II)": "2"}, balance=balance,
    )  # fmt: skip
    for i in range(12):
        one = assess(metal_lab(np.stack([t[i] for t in tables], axis=-1), balance))
        expected = [c.p_value for c in one.candidates.values()]
        assert found.p_value[i] == pytest.approx(expected, abs=1e-9)


def test_the_reports_say_it_and_the_file_keeps_it() -> None:
    readings = shown(np.random.default_rng(4), 0.0001, 3.0, 0.9, 2)
    one = record(readings, salt="density_g_per_cm3 = 3.86", water="density_g_per_cm3 = 0.9")
    assert Experiment.from_json(one.to_json()) == one == parse_experiment(one.to_toml())
    assert "density_g_per_cm3 = 3.86" in one.to_toml()
    for document in (lab_report(assess(one)), worked_solution(one)):
        text = " ".join(document.text().split())
        assert "corrected for the buoyancy of air of 1.2 ± 0.12 kg/m³" in text
        assert "stated density of 3.86 g/cm³" in text
    solution = " ".join(worked_solution(one).text().split())
    assert "m(BaCl₂) = W(BaCl₂) × k(BaCl₂) =" in solution
    for document in (lab_report(assess(record(readings))), worked_solution(record(readings))):
        text = " ".join(document.text().split())
        assert "No density is stated of BaCl₂ and H₂O, so the buoyancy of air may" in text
    coarse = worked_solution(experiments.load("copper-silver")).text()
    assert "buoyancy" not in coarse


def test_the_mass_and_not_the_impure_mass_decides_whether_it_matters() -> None:
    one = experiments.load("copper-silver")
    assert not air_of(one, one.amounts())[1]
    finer = replace(one, instruments={"balance": Balance(readability_g=0.00001)})
    assert air_of(finer, finer.amounts())[1]
    assert nominal(finer.amounts()[0][0]) == nominal(one.amounts()[0][0])
