"""Every public name, given what people give it: an answer, or a refusal that says why."""

from __future__ import annotations

import inspect
import math
from collections.abc import Callable
from fractions import Fraction
from typing import Any

import numpy as np
import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

import stoichkit
from stoichkit import experiments
from stoichkit.errors import StoichkitError

LAB = experiments.load("copper-silver")
EVIDENCE = stoichkit.assess(LAB)
PLAN = stoichkit.Plan(experiment=LAB, consumed_mol=0.002)
CLASS = stoichkit.load_class(
    b"group,wire before,wire after,paper,paper + silver\na,2.94,2.82,0.75,1.15\nb,3.1,3.0,0.7,1.0",
    LAB,
)
EXTREME = (
    0.0,
    -0.0,
    1e-300,
    1e300,
    math.nan,
    math.inf,
    -math.inf,
    -1.0,
    1e-5,
    0.01,
    1.0,
    250.0,
    1e9,
)
number = st.one_of(st.sampled_from(EXTREME), st.floats())
whole = st.one_of(st.integers(-3, 40), st.sampled_from((0, 10**6, 2**70)))
text = st.one_of(
    st.sampled_from(
        ("", " ", "H2O", "CuSO4.5H2O", "Cu + Ag^+ -> Cu^2+ + Ag", "<script>", "=1+1", "nan", "\0",
         "../../x", "é" * 300, "H" * 20_000, "１２", "Fe3+", "(" * 500, "1,5", "copper(I)",
         "\ud800")
    ),
    st.text(max_size=30),
)  # fmt: skip
formula = st.one_of(text, st.sampled_from(("Cu", "Ag", "Fe2O3", "MgSO4", "e-", "SO4^2-")))
numbers = st.lists(number, min_size=0, max_size=6)

Property = tuple[st.SearchStrategy[Any], ...]


def _instrument(name: str, *fields: str) -> tuple[Callable[..., object], Property]:
    def make(*values: float) -> object:
        made = getattr(stoichkit.measurement, name)(**dict(zip(fields, values, strict=True)))
        return made.describe()

    return make, (number,) * len(fields)


def _weighings(before: list[float], low: float, high: float, step: float) -> object:
    size = len(before)
    return stoichkit.assess_weighings(
        before, [1.0] * size, [2.0] * size, np.array(before) + 1, consumed="Cu", produced="Ag",
        candidates={"one": 1, "two": 2}, recovery=(low, high),
        balance=stoichkit.Balance(readability_g=step),
    ).p_value  # fmt: skip


def _monte_carlo(value: float, coverage: float) -> object:
    def sample(rng: np.random.Generator, size: int) -> Any:
        return value + rng.normal(size=size)

    return stoichkit.uncertainty.monte_carlo(sample, coverage=coverage, trials=2000)


def _reading(value: str) -> object:
    return stoichkit.assess(LAB.with_reading("bench 1", "wire before", value)).verdict


def _known(mol_per_L: float, half_width: float) -> object:
    return stoichkit.measurement.KnownConcentration(
        mol_per_L=mol_per_L, half_width_mol_per_L=half_width
    )


PROPERTIES: dict[str, tuple[Callable[..., object], Property]] = {
    "Ammeter": _instrument("Ammeter", "readability_A", "tolerance_relative", "repeatability_A"),
    "Balance": _instrument(
        "Balance", "readability_g", "repeatability_g", "linearity_g", "calibration_relative",
        "capacity_g",
    ),
    "Barometer": _instrument("Barometer", "readability_kPa", "tolerance_kPa"),
    "Burette": _instrument("Burette", "capacity_mL", "tolerance_mL", "graduation_mL"),
    "Candidate": (
        lambda name, a, b: stoichkit.Candidate(name, Fraction(a, b)),
        (text, whole, st.integers(1, 50)),
    ),
    "ElectricCharge": (
        lambda species, n: stoichkit.ElectricCharge(
            species=species, current="I", time="t", electrons=n
        ),
        (formula, whole),
    ),
    "GasVolume": (
        lambda s: stoichkit.GasVolume(species=s, final="v", temperature="t", pressure="p"),
        (formula,),
    ),
    "GraduatedCylinder": _instrument("GraduatedCylinder", "capacity_mL", "tolerance_mL"),
    "KnownConcentration": (_known, (number, number)),
    "MassByDifference": (
        lambda s, a, p: stoichkit.MassByDifference(species=s, heavier=a, purity=p),
        (formula, text, number),
    ),
    "Pipette": _instrument("Pipette", "capacity_mL", "tolerance_mL", "repeatability_mL"),
    "Plan": (
        lambda n, trials, spread: stoichkit.Plan(
            experiment=LAB, consumed_mol=n, trials=trials, spread=spread
        ),
        (number, whole, number),
    ),
    "Precipitate": (
        lambda s, p: stoichkit.Precipitate(species=s, precipitate=p, heavier="m"),
        (formula, formula),
    ),
    "PreparedSolution": (
        lambda s, p: stoichkit.measurement.PreparedSolution(solute=s, heavier="m", purity=p),
        (formula, number),
    ),
    "SolutionVolume": (
        lambda s, c: stoichkit.SolutionVolume(
            species=s, concentration=_known(c, 0.0), final="v"  # type: ignore[arg-type]
        ),
        (formula, number),
    ),
    "Thermometer": _instrument("Thermometer", "readability_C", "tolerance_C"),
    "Timer": _instrument("Timer", "readability_s", "reaction_s", "repeatability_s"),
    "VolumetricFlask": _instrument("VolumetricFlask", "capacity_mL", "tolerance_mL"),
    "assess": (lambda c: stoichkit.assess(LAB, coverage=c), (number,)),
    "assess_class": (lambda c: stoichkit.assess_class(CLASS, coverage=c), (number,)),
    "assess_weighings": (_weighings, (numbers, number, number, number)),
    "balance_equation": (stoichkit.balance_equation, (text,)),
    "bench_plan": (
        lambda m, e: stoichkit.bench.bench_plan(LAB, reacting_mass_g=m, excess=e), (number, number),
    ),
    "binary_series": (
        lambda m, p, n: stoichkit.chemistry.binary_series(m, p, max_metal=n),
        (formula, formula, whole),
    ),
    "causes_for": (lambda c, r: stoichkit.causes_for(EVIDENCE, c, residue=r), (text, formula)),
    "cautions_for": (
        lambda r, c: stoichkit.bench.cautions_for(r, concentration_mol_per_L=c), (formula, number),
    ),
    "coarsest_balance": (
        lambda t: stoichkit.planning.coarsest_balance(PLAN, target=t, readabilities_g=(0.1, 0.01)),
        (number,),
    ),
    "dilute": (

               lambda c, t, v: stoichkit.bench.dilute(_known(c, 0.0), t, volume_mL=v),  # type: ignore[arg-type]
        (number, number, number),
    ),
    "fewest_trials": (lambda t: stoichkit.fewest_trials(PLAN, target=t, most=2), (number,)),
    "find_slips": (lambda a: stoichkit.find_slips(LAB, level=a), (number,)),
    "fit_line": (
        lambda x, y, u: stoichkit.uncertainty.fit_line(x, y, u, u), (numbers, numbers, numbers),
    ),
    "from_equations": (
        lambda e, c: stoichkit.chemistry.from_equations([e], consumed=c, produced="Ag"),
        (text, formula),
    ),
    "from_formulas": (
        lambda f, c: stoichkit.chemistry.from_formulas([f], consumed=c, produced="O"),
        (formula, formula),
    ),
    "good_enough": (
        lambda t: stoichkit.bench.good_enough(
            {"a": stoichkit.bench.prepare_solution("NaCl", 0.1, 100.0)}, t
        ),
        (number,),
    ),
    "hydrate_series": (
        lambda s, w: stoichkit.chemistry.hydrate_series(s, waters=[w]),
        (formula, st.one_of(whole, number, text)),
    ),
    "limiting_reactant": (
        lambda a, b: stoichkit.limiting_reactant("Si + N2 -> Si3N4", {"Si": a, "N2": b}),
        (number, number),
    ),
    "load_class": (lambda b: stoichkit.load_class(b, LAB), (st.binary(max_size=200),)),
    "molar_mass": (stoichkit.molar_mass, (formula,)),
    "monte_carlo": (_monte_carlo, (number, number)),
    "oxidation_states": (
        lambda m, n: stoichkit.chemistry.oxidation_states(m, [n]),
        (formula, st.one_of(whole, text)),
    ),
    "parse_experiment": (stoichkit.parse_experiment, (text,)),
    "parse_formula": (stoichkit.parse_formula, (formula,)),
    "percent_error": (stoichkit.decision.percent_error, (number, number)),
    "percent_yield": (stoichkit.percent_yield, (number, number)),
    "plain_ratios": (
        lambda name, r: stoichkit.chemistry.plain_ratios({name: r}),
        (text, st.one_of(text, whole, number)),
    ),
    "pool": (stoichkit.uncertainty.pool, (numbers, numbers)),
    "prepare_solution": (stoichkit.bench.prepare_solution, (formula, number, number)),
    "preview_class": (
        lambda b: stoichkit.classroom.preview_class(b, LAB),
        (st.binary(max_size=200),),
    ),
    "simulate_labs": (
        lambda n, seed: stoichkit.planning.simulate_labs(PLAN, "copper(I)", labs=n, seed=seed),
        (st.integers(-2, 50), st.integers(0, 9)),
    ),
    "theoretical_yield": (
        lambda r, n, p: stoichkit.chemistry.theoretical_yield(r, {"H2": n, "O2": 1.0}, p),
        (st.one_of(text, st.just("H2 + O2 -> H2O")), number, formula),
    ),
    "worked_solution": (
        lambda t, y: stoichkit.worked_solution(EVIDENCE, trial=t, yield_of=y), (text, text),
    ),
    "yield_for": (lambda name: stoichkit.decision.yield_for(EVIDENCE, name), (text,)),
    "Trial": (_reading, (text,)),
}  # fmt: skip
ELSEWHERE = {
    "design_map": "tests/test_planning.py",
    "diagnose": "takes evidence only",
    "drying": "tests/test_drying.py",
    "copy_notebooks": "tests/test_shipped_notebooks.py",
    "Document": "hostile texts in tests/text/test_document.py",
    "class_report": "hostile names in tests/reports/test_class_report.py",
    "group_report": "hostile names in tests/reports/test_class_report.py",
    "lab_report": "hostile names in test_hostile.py",
    "lesson": "takes an experiment only",
    "student_sets": "takes nothing",
    "weighed_ratios": "arrays as assess_weighings",
    "Evidence": "made by assess",
    "Experiment": "every field in tests/test_experiment.py",
    "Reaction": "made by balance_equation",
    "StoichkitError": "the refusal itself",
    "Verdict": "made by assess",
    "class_verdict": "properties in tests/classroom/test_verdict.py",
    "conclusion_paragraph": "takes evidence only",
    "export_answer_key": "tests/classroom/test_export.py",
    "export_results": "tests/classroom/test_export.py",
    "largest_recovery": "the same target as fewest_trials",
    "load_experiment": "files in tests/test_experiment.py; texts as parse_experiment",
    "operating_characteristic": "takes a plan only",
    "redox_findings": "takes an experiment only",
    "save_experiment": "test_saving.py",
    "smallest_amount": "the same target as fewest_trials",
    "weighed": "tests/experiments/test_own.py",
    "write_datasheet": "tests/test_datasheet.py",
}


def test_every_public_name_has_a_property_or_a_reason() -> None:
    names = {n for n in stoichkit.__all__ if not inspect.ismodule(getattr(stoichkit, n))}
    names -= {"__version__"}
    covered = set(PROPERTIES) | set(ELSEWHERE)
    assert names <= covered
    rooms = [getattr(stoichkit, n) for n in stoichkit.__all__ if n not in names | {"__version__"}]
    assert covered <= names.union(*(room.__all__ for room in rooms))
    assert not set(PROPERTIES) & set(ELSEWHERE)


@pytest.mark.parametrize("name", sorted(PROPERTIES))
def test_an_answer_or_a_refusal(name: str) -> None:
    function, strategies = PROPERTIES[name]

    @settings(
        max_examples=100, deadline=None, suppress_health_check=list(HealthCheck), database=None,
        derandomize=True,
    )  # fmt: skip
    @given(st.tuples(*strategies))
    def property_(values: tuple[Any, ...]) -> None:
        said = refusal_of(function, values)
        assert said is None or (20 <= len(said) < 2000 and said.endswith((".", "…", "?")))

    property_()


def refusal_of(function: Callable[..., object], values: tuple[Any, ...]) -> str | None:
    """Return why a call was refused; any other exception passes on."""
    try:
        function(*values)
    except StoichkitError as refusal:
        return str(refusal)
    return None
