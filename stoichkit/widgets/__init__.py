"""Notebook panels over plain state objects; ipywidgets is imported when a panel is made.

`ReadingsState` and everything else below it work without Jupyter.
"""

from __future__ import annotations

from .._common import loaded_when_used

__getattr__, __dir__, __all__ = loaded_when_used(
    __name__,
    {
        "state.form": "Place",
        "state.readings": "Change ReadingsState",
        "panels.html": "picture_html picture_img preview_html",
        "panels.balance": "balance_panel",
        "panels.causes": "causes_panel",
        "panels.classroom": "class_panel class_parts group_html",
        "panels.export": "export_panel",
        "panels.plan": "balances_page plan_page plan_panel",
        "panels.study": "study_panel",
        "panels.toolkit": "toolkit",
        "panels.worked": "worked_panel",
        "screen": "amounts_picture balance_step lab_settings readings_panel readings_sheet "
        "trust_lines verdict_card",
    },
)
