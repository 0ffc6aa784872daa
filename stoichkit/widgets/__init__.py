"""Screens for notebooks over plain state objects; anywidget is imported when a screen is made.

`ReadingsState` and everything else below it work without Jupyter.
"""

from __future__ import annotations

from .._common import loaded_when_used

__getattr__, __dir__, __all__ = loaded_when_used(
    __name__,
    {
        "screen": "amounts_picture balance_step causes_panel class_panel lab_settings plan_panel "
        "readings_panel readings_sheet study_panel toolkit trust_lines verdict_card worked_panel",
        "state.form": "Place",
        "state.lab": "LabState",
        "state.readings": "Change ReadingsState",
    },
)
