"""stoichkit: which candidate products do these readings exclude?

Names are loaded when first used, so that ``import stoichkit`` is quick and needs neither
matplotlib, sympy nor ipywidgets.

>>> import stoichkit
>>> evidence = stoichkit.assess(stoichkit.experiments.load("copper-silver"))
>>> evidence.verdict.kind.value, evidence.verdict.candidates
('singled_out', ('copper(II)',))
"""

from __future__ import annotations

from importlib import import_module
from typing import Any

__version__ = "0.1.0"
_HOME = {
    "Ammeter": "measurement.displays",
    "Balance": "measurement.displays",
    "Barometer": "measurement.displays",
    "Burette": "measurement.glassware",
    "Candidate": "chemistry.candidates",
    "Charge": "measurement.gas_and_charge",
    "Document": "text.document",
    "Evidence": "decision.evidence",
    "Experiment": "experiments.record",
    "GasVolume": "measurement.gas_and_charge",
    "GraduatedCylinder": "measurement.glassware",
    "KnownConcentration": "measurement.concentration",
    "MassByDifference": "measurement.weighing",
    "Pipette": "measurement.glassware",
    "Plan": "planning.plan",
    "Precipitate": "measurement.weighing",
    "PreparedSolution": "measurement.concentration",
    "Reaction": "chemistry.equation",
    "SolutionVolume": "measurement.concentration",
    "StoichkitError": "errors",
    "Thermometer": "measurement.displays",
    "Timer": "measurement.displays",
    "Trial": "experiments.parts",
    "Verdict": "decision.verdict",
    "VolumetricFlask": "measurement.glassware",
    "assess": "decision.evidence",
    "assess_class": "classroom.result",
    "assess_weighings": "decision.arrays",
    "balance_equation": "chemistry.equation",
    "bench_plan": "bench.plan",
    "binary_series": "chemistry.candidates",
    "causes_for": "diagnosis.causes",
    "cautions_for": "bench.reagent_data",
    "class_report": "reports.classroom",
    "class_verdict": "classroom.verdict",
    "coarsest_balance": "planning.questions",
    "conclusion_paragraph": "reports.worked",
    "copy_notebooks": "guide.notebooks",
    "design_map": "planning.design",
    "dilute": "bench.dilutions",
    "drying": "diagnosis.constant_mass",
    "export_answer_key": "classroom.export",
    "export_results": "classroom.export",
    "fewest_trials": "planning.questions",
    "find_slips": "diagnosis.slips",
    "fit_line": "uncertainty.straight_line",
    "from_equations": "chemistry.candidates",
    "from_formulas": "chemistry.candidates",
    "good_enough": "bench.dilutions",
    "group_report": "reports.classroom",
    "hydrate_series": "chemistry.candidates",
    "lab_report": "reports.lab",
    "largest_recovery": "planning.questions",
    "lesson": "reports.study",
    "limiting_reactant": "chemistry.limiting",
    "load_class": "classroom.data",
    "load_experiment": "experiments.store",
    "molar_mass": "chemistry.elements",
    "monte_carlo": "uncertainty.montecarlo",
    "operating_characteristic": "planning.plan",
    "oxidation_states": "chemistry.candidates",
    "parse_experiment": "experiments.store",
    "parse_formula": "chemistry.formula",
    "percent_error": "decision.yields",
    "percent_yield": "decision.yields",
    "plain_ratios": "chemistry.candidates",
    "pool": "uncertainty.pooling",
    "prepare_solution": "bench.recipes",
    "preview_class": "classroom.data",
    "redox_findings": "diagnosis.stability",
    "save_experiment": "experiments.store",
    "simulate_labs": "planning.simulation",
    "smallest_amount": "planning.questions",
    "student_sets": "experiments.published",
    "theoretical_yield": "chemistry.limiting",
    "weighed_ratios": "decision.arrays",
    "worked_solution": "reports.worked",
    "write_datasheet": "bench.datasheet",
    "yield_for": "decision.yields",
}
_ROOMS = (
    "bench",
    "chemistry",
    "classroom",
    "decision",
    "diagnosis",
    "experiments",
    "guide",
    "measurement",
    "planning",
    "plots",
    "reports",
    "text",
    "uncertainty",
    "widgets",
)
__all__ = [*_HOME, *_ROOMS, "__version__"]


def __getattr__(name: str) -> Any:
    if name in _HOME:
        value = getattr(import_module(f".{_HOME[name]}", __name__), name)
    elif name in _ROOMS:
        value = import_module(f".{name}", __name__)
    else:
        raise AttributeError(f"module {__name__!r} has no attribute {name!r}")
    globals()[name] = value
    return value


def __dir__() -> list[str]:
    return sorted(__all__)
