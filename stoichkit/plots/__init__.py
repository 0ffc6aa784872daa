"""Pictures of the evidence: computed as plain numbers, described in words, then drawn.

Importing this package imports no matplotlib; the functions that return or draw on a matplotlib
figure import it when they are called. :func:`live_svg` never needs it.
"""

from __future__ import annotations

from .._common import loaded_when_used

__getattr__, __dir__, __all__ = loaded_when_used(
    __name__,
    {
        "budget": "BudgetPicture budget_alt_text budget_data draw_budget",
        "decision": "DecisionPicture Spot decision_alt_text decision_data draw_decision",
        "ratio": "RatioPicture draw_ratio ratio_alt_text ratio_data",
        "rays": "Ray",
        "result": "live_svg picture_svg png_bytes result_alt_text result_figure save_picture "
        "svg_of",
        "causes": "CombinationPicture EffectsPicture combination_alt_text combination_data "
        "combination_scene draw_combination draw_effects effects_alt_text effects_data "
        "effects_scene",
    },
)
