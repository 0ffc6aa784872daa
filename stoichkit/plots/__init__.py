"""Pictures of the evidence: computed as plain numbers, described in words, then drawn.

Every picture is a frozen record made by its ``of``, with a title, a description and a scene (see
:class:`stoichkit.plots.scene.Picture`). :func:`svg` writes any of them as SVG, :func:`draw` draws
any of them on matplotlib axes. Importing this package imports no matplotlib, and SVG never needs
it.
"""

from __future__ import annotations

from .._common import loaded_when_used

__getattr__, __dir__, __all__ = loaded_when_used(
    __name__,
    {
        "budget": "BudgetPicture",
        "causes": "CombinationPicture EffectsPicture",
        "class_groups": "ClassGroupsPicture",
        "class_line": "ClassLinePicture",
        "cells": "CellsPicture",
        "decision": "DecisionPicture Spot",
        "labs": "LabsPicture",
        "planning": "ChancesPicture CurvesPicture DesignPicture MapPicture",
        "ratio": "RatioPicture",
        "rays": "Ray",
        "render": "draw image_html svg",
        "result": "ResultPicture live_svg png_bytes result_figure save_picture",
        "scene": "Picture Scene",
    },
)
