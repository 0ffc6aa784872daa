"""All screens of a lab by their keys; each is loaded when it is asked for."""

from __future__ import annotations

from collections.abc import Sequence
from functools import cached_property
from importlib import import_module
from typing import Any

from ..state.lab import LabState
from .frame import Frame, Region, Screen

SCREENS = {
    "readings": ("Readings", ".readings", "ReadingsScreen"),
    "why": ("Why", ".why", "WhyScreen"),
    "plan": ("Plan", ".plan", "PlanScreen"),
    "class": ("Class", ".classroom", "ClassScreen"),
    "working": ("Working", ".working", "WorkingScreen"),
    "study": ("Study", ".study", "StudyScreen"),
}
"""Title, module and class of each screen, in the order of their tabs."""


def screens_of(lab: LabState, keys: Sequence[str] = tuple(SCREENS)) -> list[Screen]:
    """Return screens of a lab.

    >>> [one.title for one in screens_of(LabState("tin-oxide", autosave=False), ("plan", "why"))]
    ['Plan', 'Why']
    """
    return [_made(lab, key) for key in keys]


def _made(lab: LabState, key: str) -> Any:
    _, module, name = SCREENS[key]
    return getattr(import_module(module, __package__), name)(lab)


class LateScreen:
    """A screen that is made when it is first shown.

    >>> late = LateScreen(LabState("tin-oxide", autosave=False), "study")
    >>> late.title, "made" in vars(late), late.regions()[0].name, late.made.title
    ('Study', False, 'practice', 'Study')
    """

    frame: Frame | None = None

    def __init__(self, lab: LabState, key: str) -> None:
        self._lab, self.key, self.title = lab, key, SCREENS[key][0]

    @cached_property
    def made(self) -> Any:
        """The screen itself."""
        screen = _made(self._lab, self.key)
        screen.frame = self.frame
        return screen

    def regions(self) -> Sequence[Region]:
        """Return the regions of the screen."""
        found: Sequence[Region] = self.made.regions()
        return found

    def close(self) -> None:
        """Stop what the screen works out, if it was made."""
        if "made" in vars(self):
            getattr(self.made, "close", lambda: None)()
