"""Formulas, molar masses, balanced equations, candidate products."""

from __future__ import annotations

from .._common import loaded_when_used

__getattr__, __dir__, __all__ = loaded_when_used(
    __name__,
    {
        "formula": "Formula parse_formula",
        "elements": "atomic_weight element_name molar_mass",
        "equation": "Equation Reaction balance_equation is_balanced parse_equation",
        "candidates": "Candidate binary_series from_equations from_formulas hydrate_series "
        "oxidation_state oxidation_states plain_ratios",
        "ratios": "exact_ratio",
        "spoken": "understood",
        "limiting": "LimitingReactant TheoreticalYield limiting_reactant theoretical_yield",
    },
)
