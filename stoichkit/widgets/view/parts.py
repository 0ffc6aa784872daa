"""A few parts of a screen alone, to stand among a notebook's own cells."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

from .frame import Frame, Region, Screen


class Parts:
    """Some regions of a screen, one below the other.

    >>> from stoichkit.widgets.state.lab import LabState
    >>> from stoichkit.widgets.view.readings import ReadingsScreen
    >>> lab = LabState("copper-silver", autosave=False)
    >>> [one.name for one in Parts(ReadingsScreen(lab), ("verdict", "step")).regions()]
    ['verdict', 'step']
    """

    key, title = "parts", "Parts"

    def __init__(self, screen: Screen, names: Sequence[str]) -> None:
        self.screen, self.names = screen, tuple(names)

    @property
    def frame(self) -> Frame | None:
        """The frame that shows them."""
        return self.screen.frame

    @frame.setter
    def frame(self, frame: Frame | None) -> None:
        self.screen.frame = frame

    def regions(self) -> Sequence[Region]:
        """Return the regions named, in the order of the screen."""
        found = {one.name: one for one in self.screen.regions()}
        return tuple(replace(found[name], place="wide") for name in self.names)
