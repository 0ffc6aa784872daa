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
    "Balance": "measurement.displays",
    "Candidate": "chemistry.candidates",
    "ElectricCharge": "measurement.gas_and_charge",
    "Evidence": "decision.evidence",
    "Experiment": "experiments.record",
    "GasVolume": "measurement.gas_and_charge",
    "MassByDifference": "measurement.weighing",
    "Plan": "planning.plan",
    "Precipitate": "measurement.weighing",
    "SolutionVolume": "measurement.concentration",
    "StoichkitError": "errors",
    "Trial": "experiments.parts",
    "Verdict": "decision.verdict",
    "assess": "decision.evidence",
    "assess_class": "classroom.result",
    "assess_weighings": "decision.arrays",
    "balance_equation": "chemistry.equation",
    "causes_for": "diagnosis.causes",
    "class_report": "reports.classroom",
    "design_map": "planning.design",
    "fewest_trials": "planning.questions",
    "find_slips": "diagnosis.slips",
    "lab_report": "reports.lab",
    "limiting_reactant": "chemistry.limiting",
    "load_class": "classroom.data",
    "load_experiment": "experiments.store",
    "molar_mass": "chemistry.elements",
    "operating_characteristic": "planning.plan",
    "parse_experiment": "experiments.store",
    "parse_formula": "chemistry.formula",
    "percent_yield": "decision.yields",
    "save_experiment": "experiments.store",
    "smallest_amount": "planning.questions",
    "worked_solution": "reports.worked",
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
