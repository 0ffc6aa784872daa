"""The picture of the evidence as inline SVG in a pane whose value is replaced."""

from __future__ import annotations

import ipywidgets

from ..evidence import Evidence
from ..plots import live_svg

__all__ = ["PicturePane"]


class PicturePane:
    """A pane with the amounts plane and the ratio set.

    The SVG has ``role="img"`` and its description as ``aria-label``; it is sharp at any size,
    and drawn without matplotlib in about a millisecond.

    Parameters
    ----------
    width_px : int
        Largest width; it shrinks with the panel.

    Attributes
    ----------
    pane : ipywidgets.HTML
        To be put into a panel.
    """

    def __init__(self, *, width_px: int = 620) -> None:
        self.width_px = width_px
        self.pane = ipywidgets.HTML(layout={"width": "100%"})
        self._shown: Evidence | None = None

    def show(self, evidence: Evidence | None) -> None:
        """Draw the evidence, unless it is the one shown already."""
        if evidence is self._shown:
            return
        self._shown = evidence
        self.pane.value = "" if evidence is None else live_svg(evidence, width_px=self.width_px)
