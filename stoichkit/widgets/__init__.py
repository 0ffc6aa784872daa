"""Notebook panels over plain state objects; ipywidgets is imported when a panel is made.

`ReadingsState` and everything else below it work without Jupyter.
"""

from __future__ import annotations

from importlib import import_module
from typing import Any

from .form import Place
from .state import Change, ReadingsState

_SKINS = {
    "balance_panel": "balance_skin",
    "causes_panel": "causes_skin",
    "class_panel": "class_skin",
    "export_panel": "export",
    "plan_panel": "plan_skin",
    "readings_panel": "verdict_skin",
    "study_panel": "study_skin",
    "toolkit": "toolkit_skin",
    "worked_panel": "worked_skin",
}
"""What makes or exports a panel, and its module; no module has the name of its function."""

__all__ = ["Change", "Place", "ReadingsState", *_SKINS]


def __getattr__(name: str) -> Any:
    if name not in _SKINS:
        raise AttributeError(f"module {__name__!r} has no attribute {name!r}")
    value = getattr(import_module(f".{_SKINS[name]}", __name__), name)
    globals()[name] = value
    return value


def __dir__() -> list[str]:
    return sorted(__all__)
