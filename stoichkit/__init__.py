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
    "Ammeter": "instruments",
    "Balance": "instruments",
    "Barometer": "instruments",
    "Burette": "instruments",
    "Candidate": "candidates",
    "Charge": "amounts",
    "Evidence": "evidence",
    "Experiment": "experiment",
    "GasVolume": "amounts",
    "GraduatedCylinder": "instruments",
    "KnownConcentration": "amounts",
    "MassByDifference": "amounts",
    "Pipette": "instruments",
    "Plan": "planning",
    "Precipitate": "amounts",
    "PreparedSolution": "amounts",
    "Reaction": "equation",
    "SolutionVolume": "amounts",
    "StoichkitError": "errors",
    "Thermometer": "instruments",
    "Timer": "instruments",
    "Trial": "experiment",
    "Verdict": "verdict",
    "VolumetricFlask": "instruments",
    "assess": "evidence",
    "assess_class": "classevidence",
    "assess_class_file": "class_result",
    "assess_weighings": "weighings",
    "balance_equation": "equation",
    "bench_plan": "bench",
    "binary_series": "candidates",
    "causes_for": "causes",
    "cautions_for": "cautions",
    "class_verdict": "classverdict",
    "coarsest_balance": "planning_questions",
    "conclusion_paragraph": "worked",
    "copy_notebooks": "shipped_notebooks",
    "design_map": "design_grid",
    "dilute": "dilution",
    "drying": "constant_mass",
    "export_answer_key": "classexport",
    "export_results": "classexport",
    "fewest_trials": "planning_questions",
    "find_slips": "slips",
    "fit_line": "york",
    "from_equations": "candidates",
    "from_formulas": "candidates",
    "good_enough": "solutions",
    "hydrate_series": "candidates",
    "lab_report_html": "lab_report",
    "lab_report_markdown": "lab_report",
    "largest_recovery": "planning_questions",
    "lesson": "study",
    "limiting_reactant": "yields",
    "load_class": "classdata",
    "load_experiment": "experiment_toml",
    "molar_mass": "elements",
    "monte_carlo": "montecarlo",
    "operating_characteristic": "planning",
    "oxidation_states": "candidates",
    "parse_experiment": "experiment_toml",
    "parse_formula": "formula",
    "percent_error": "yields",
    "percent_yield": "yields",
    "plain_ratios": "candidates",
    "pool": "pooling",
    "prepare_solution": "solutions",
    "preview_class": "classdata",
    "redox_findings": "redox",
    "report_markdown": "report",
    "report_text": "report",
    "save_experiment": "experiment_toml",
    "simulate_labs": "simulation",
    "smallest_amount": "planning_questions",
    "student_sets": "student_data",
    "theoretical_yield": "yields",
    "weighed_ratios": "ratio_arrays",
    "worked_solution": "worked",
    "write_class_report": "class_report",
    "write_datasheet": "datasheet",
    "write_group_report": "class_group_report",
    "write_lab_report": "lab_report",
    "write_worked_solution": "worked_document",
    "yield_for": "yields",
}
_MODULES = ("experiments", "guide", "plots", "widgets")

__all__ = [*_HOME, *_MODULES, "__version__"]


def __getattr__(name: str) -> Any:
    if name in _HOME:
        value = getattr(import_module(f".{_HOME[name]}", __name__), name)
    elif name in _MODULES:
        value = import_module(f".{name}", __name__)
    else:
        raise AttributeError(f"module {__name__!r} has no attribute {name!r}")
    globals()[name] = value
    return value


def __dir__() -> list[str]:
    return sorted(__all__)
