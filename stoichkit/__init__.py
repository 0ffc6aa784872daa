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
    "assess_weighings": "weighings",
    "balance_equation": "equation",
    "binary_series": "candidates",
    "from_equations": "candidates",
    "from_formulas": "candidates",
    "hydrate_series": "candidates",
    "limiting_reactant": "yields",
    "load_experiment": "experiment_toml",
    "molar_mass": "elements",
    "monte_carlo": "montecarlo",
    "oxidation_states": "candidates",
    "parse_experiment": "experiment_toml",
    "parse_formula": "formula",
    "percent_error": "yields",
    "percent_yield": "yields",
    "plain_ratios": "candidates",
    "report_markdown": "report",
    "report_text": "report",
    "save_experiment": "experiment_toml",
    "theoretical_yield": "yields",
    "yield_for": "yields",
}
_MODULES = ("experiments", "plots", "widgets")

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
