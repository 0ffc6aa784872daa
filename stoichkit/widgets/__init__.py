"""Notebook panels over plain state objects; ipywidgets is imported when a panel is made.

`ReadingsState` and everything else below it work without Jupyter.
"""

from __future__ import annotations

from importlib import import_module
from typing import Any

from .form import Place
from .state import Change, ReadingsState

_SKINS = {
    "readings_panel": "verdict_panel",
    "study_panel": "study_skin",
}
"""Functions that make a panel, and the module of each; no module has the name of its function."""

__all__ = ["Change", "Place", "ReadingsState", *_SKINS]


def __getattr__(name: str) -> Any:
    if name not in _SKINS:
        raise AttributeError(f"module {__name__!r} has no attribute {name!r}")
    value = getattr(import_module(f".{_SKINS[name]}", __name__), name)
    globals()[name] = value
    return value


def __dir__() -> list[str]:
    return sorted(__all__)
