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

from ._common import loaded_when_used, supply

__version__ = "0.1.0"
_get, _, _NAMES = loaded_when_used(
    __name__,
    {
        "chemistry": "Candidate balance_equation limiting_reactant molar_mass parse_formula",
        "classroom": "assess_class load_class",
        "decision": "Evidence Verdict assess assess_weighings percent_yield",
        "diagnosis": "causes_for find_slips",
        "errors": "StoichkitError",
        "experiments": "Experiment Trial load_experiment parse_experiment save_experiment weighed",
        "measurement": "Balance ElectricCharge GasVolume MassByDifference Precipitate "
        "SolutionVolume",
        "planning": "Plan fewest_trials operating_characteristic smallest_amount",
        "reports": "class_report lab_report worked_solution",
    },
)
supply(
    "diagnose", lambda: import_module(".diagnosis", __name__).diagnose
)  # for Evidence.diagnosis, which lies lower
_ROOMS = (
    "bench", "chemistry", "classroom", "decision", "diagnosis", "experiments", "guide",
    "measurement", "planning", "plots", "reports", "text", "uncertainty", "widgets",
)  # fmt: skip
__all__ = [*_NAMES, *_ROOMS, "__version__"]


def __getattr__(name: str) -> Any:
    return import_module(f".{name}", __name__) if name in _ROOMS else _get(name)


def __dir__() -> list[str]:
    return sorted(__all__)
