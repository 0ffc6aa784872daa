"""A concentration found by titration: by hand, in a file, and in the documents."""

from __future__ import annotations

import math
from fractions import Fraction

import pytest

from stoichkit import assess
from stoichkit.bench.plan import bench_plan
from stoichkit.errors import ExperimentError, StoichkitError
from stoichkit.experiments.record import Experiment
from stoichkit.experiments.store import parse_experiment
from stoichkit.measurement.concentration import KnownConcentration, TitratedSolution
from stoichkit.planning.plan import Plan
from stoichkit.reports.lab import lab_report
from stoichkit.reports.worked import worked_solution
from stoichkit.uncertainty.readings import ErrorPool
from stoichkit.uncertainty.sources import contributions, nominal, standard_uncertainty

LAB = """
title = "How many acid groups has the solid acid?"
invented = true

[instruments.balance]
kind = "balance"
readability_g = 0.001
repeatability_g = 0.0005

[instruments.burette]
kind = "burette"
capacity_mL = 50
tolerance_mL = 0.05
resolution_mL = 0.01
repeatability_mL = 0.02

[instruments."25 mL pipette"]
kind = "pipette"
capacity_mL = 25
tolerance_mL = 0.03
repeatability_mL = 0.01

[consumed]
kind = "mass by difference"
species = "C6H8O7"
heavier = "crystals"

[produced]
kind = "solution"
species = "OH^-"
final = "after"
initial = "before"

[produced.concentration]
kind = "titrated"
name = "sodium hydroxide solution"
titrant = "hydrochloric acid"
titrant_mol_per_L = 0.1
titrant_standard_mol_per_L = 0.0002
final = "acid after"
initial = "acid before"
aliquot = "25 mL pipette"

[candidates.ratios]
"diprotic" = 2
"triprotic" = 3

[shared]
"acid before" = "0.35"
"acid after" = "24.67"

[[trials]]
name = "1"
crystals = "0.128"
before = "1.20"
after = "21.75"

[[trials]]
name = "2"
crystals = "0.121"
before = "2.10"
after = "21.53"
"""


@pytest.fixture(scope="module")
def lab() -> Experiment:
    return parse_experiment(LAB)


def test_the_concentration_by_hand(lab: Experiment) -> None:
    """24.32 mL of 0.1000 mol/L in 25.00 mL: 0.097280 mol/L.

    Parts of the variance: titrant 0.2 %; burette 0.05 mL (triangular, /√6), two readings of
    0.02 mL and of 0.01 mL wide; pipette 0.03 mL (/√6) and 0.01 mL. Temperature adds a little.
    """
    pool = ErrorPool()
    values = lab.quantities(lab.trials[0], pool)
    solution = lab.produced.solution
    assert solution is not None
    found = solution.steps(values, pool)[-1].value
    assert nominal(found) == pytest.approx(0.097280, abs=5e-7)
    burette = math.sqrt(0.05**2 / 6 + 2 * 0.02**2 + 2 * 0.01**2 / 12) / 24.32
    pipette = math.sqrt(0.03**2 / 6 + 0.01**2) / 25
    least = 0.09728 * math.sqrt(0.002**2 + burette**2 + pipette**2)
    assert least <= standard_uncertainty(found) * 1.0001
    assert standard_uncertainty(found) < 1.25 * least


def test_it_serves_all_trials_with_one_error(lab: Experiment) -> None:
    first, second = (produced for _, produced in lab.amounts(ErrorPool()))
    shared = {s.label for s, _ in contributions(first)} & {
        s.label for s, _ in contributions(second)
    }
    for word in ("acid after", "25 mL pipette", "hydrochloric acid"):
        assert any(word in label for label in shared), word
    assert not any("rounding of after" in label for label in shared)


def test_the_titrant_is_one_solution_wherever_it_is_used() -> None:
    found = TitratedSolution(
        titrant_mol_per_L=0.1, titrant_half_width_mol_per_L=0.001, titrant="alkali",
        final="end", aliquot="pipette", name="acid",
    )  # fmt: skip
    pool = ErrorPool()
    values = {"end": 20.0, "pipette of acid, titrated": 25.0}
    bottle = KnownConcentration(mol_per_L=0.1, half_width_mol_per_L=0.001, name="alkali")
    quotient = found.steps(values, pool)[-1].value / bottle.steps({}, pool)[-1].value
    assert standard_uncertainty(quotient) == pytest.approx(0.0, abs=1e-15)


def test_the_verdict_and_every_document(lab: Experiment) -> None:
    found = assess(lab)
    assert found.verdict.candidates == ("triprotic",)
    solution = " ".join(worked_solution(lab).text().split())
    assert "c(t) = 0.1000 mol/L (concentration of hydrochloric acid, as stated" in solution
    assert "V(t) = acid after − acid before = 24.67 mL − 0.35 mL = 24.32 mL" in solution
    assert "c = c(t) × V(t) / 25 mL pipette of sodium hydroxide solution, titrated" in solution
    assert "0.09728 mol/L; ± 0.00026 mol/L" in solution
    assert lab_report(found).text()
    assert "hydroxide" in bench_plan(Plan(experiment=lab, consumed_mol=6e-4)).text()


def test_the_file_keeps_it(lab: Experiment) -> None:
    assert parse_experiment(lab.to_toml()) == lab == Experiment.from_json(lab.to_json())
    assert 'kind = "titrated"' in lab.to_toml()


@pytest.mark.parametrize(("typed", "factor"), [('"1/2"', Fraction(1, 2)), ("2", 2), ('"3"', 3)])
def test_a_factor_is_read_from_the_file_and_written_back(
    lab: Experiment, typed: str, factor: Fraction | int
) -> None:
    """Sulfuric acid titrated with sodium hydroxide: half an acid for each base."""
    text = lab.to_toml().replace('kind = "titrated"', f'kind = "titrated"\nfactor = {typed}')
    half = parse_experiment(text)
    assert half.produced.concentration.factor == factor
    assert parse_experiment(half.to_toml()) == half
    titrated = [nominal(b) for _, b in half.amounts()]
    assert titrated == pytest.approx([float(factor) * nominal(b) for _, b in lab.amounts()])


@pytest.mark.parametrize(
    ("old", "new", "field", "words"),
    [
        ("titrant_mol_per_L = 0.1", "titrant_mol_per_L = 0", "titrant_mol_per_L", "above 0"),
        ("titrant_mol_per_L = 0.1", "titrant_mol_per_l = 0.1", "titrant_mol_per_l", "Did you mean"),
        ("titrant_mol_per_L = 0.1\n", "", "titrant_mol_per_L", "missing"),
        ("titrant_standard_mol_per_L = 0.0002",
         "titrant_standard_mol_per_L = 0.1\ntitrant_half_width_mol_per_L = 0.1",
         "titrant_standard_mol_per_L", "given twice"),
        ('aliquot = "25 mL pipette"\n', "", "aliquot", "missing"),
        ('initial = "acid before"', 'initial = "acid after"', "initial", "subtracted from itself"),
        ('titrant = "hydrochloric acid"', 'titrant = "sodium hydroxide solution"', "titrant",
         "name of the solution"),
    ],
)  # fmt: skip
def test_a_fault_is_named_with_its_place(old: str, new: str, field: str, words: str) -> None:
    assert old in LAB
    with pytest.raises(ExperimentError) as caught:
        parse_experiment(LAB.replace(old, new, 1))
    assert caught.value.field == f"produced.concentration.{field}"
    assert words in str(caught.value)


def test_the_readings_of_the_titration_are_shared() -> None:
    moved = LAB.replace('"acid after" = "24.67"\n', "")
    with pytest.raises(ExperimentError, match="acid after") as caught:
        parse_experiment(moved)
    assert caught.value.field == 'shared."acid after"'


def test_the_pipette_must_be_one() -> None:
    with pytest.raises(ExperimentError, match="cannot come from a burette"):
        parse_experiment(LAB.replace('aliquot = "25 mL pipette"', 'aliquot = "burette"'))


def test_a_titration_that_used_nothing_is_refused(lab: Experiment) -> None:
    """Both readings the same: the concentration would be zero, and so would every amount."""
    same = lab.with_reading("", "acid after", lab.shared_readings["acid before"])
    words = "sodium hydroxide solution used no titrant.*Check the readings “acid after” and “acid"
    with pytest.raises(StoichkitError, match=words):
        assess(same)
