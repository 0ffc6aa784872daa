"""Pictures of the evidence: computed as plain numbers, described in words, then drawn.

Importing this package imports no matplotlib; the functions that return or draw on a matplotlib
figure import it when they are called. :func:`live_svg` never needs it.
"""

from __future__ import annotations

from ..budget_groups import BudgetLine, grouped_budget
from .budget import BudgetPicture, budget_alt_text, budget_data, draw_budget
from .decision import DecisionPicture, Spot, decision_alt_text, decision_data, draw_decision
from .figure import png_bytes, result_alt_text, result_figure, save_picture, svg_of
from .ratio import RatioPicture, draw_ratio, ratio_alt_text, ratio_data
from .rays import Ray
from .svg import live_svg, picture_svg

__all__ = [
    "BudgetLine",
    "BudgetPicture",
    "DecisionPicture",
    "RatioPicture",
    "Ray",
    "Spot",
    "budget_alt_text",
    "budget_data",
    "decision_alt_text",
    "decision_data",
    "draw_budget",
    "draw_decision",
    "draw_ratio",
    "grouped_budget",
    "live_svg",
    "picture_svg",
    "png_bytes",
    "ratio_alt_text",
    "ratio_data",
    "result_alt_text",
    "result_figure",
    "save_picture",
    "svg_of",
]
