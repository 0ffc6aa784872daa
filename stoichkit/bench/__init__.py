"""The printed plan of a lab: reagents, solutions, expected readings, safety, data sheet."""

from __future__ import annotations

from .._common import loaded_when_used

__getattr__, __dir__, __all__ = loaded_when_used(
    __name__,
    {
        "plan": "BenchPlan bench_plan",
        "cards": "bench_cards labels solution_card stock_card",
        "cautions": "LabSafety lab_safety",
        "room": "Order Setup SetupComparison Times Timing compare_setups queue_minutes setup_of",
        "recipes": "Recipe prepare_solution",
        "dilutions": "Dilution dilute good_enough",
        "reagent_data": "ReagentCautions Solubility cautions_for hazard_statement solubility",
        "datasheet": "read_header sheet_columns write_datasheet",
        "supply": "SharedSupply Supply",
    },
)
