"""The colours of the page, read from its style sheet: enough contrast in light and dark.

WCAG 2.2 (W3C Recommendation, 2023): success criteria 1.4.3 (words, 4.5 to 1) and 1.4.11 (graphics
and the edges of controls, 3 to 1); the figures are from memory.
"""

from __future__ import annotations

import re
from importlib.resources import files

import pytest

from tests.plots.test_look import contrast

STYLE = (files("stoichkit.widgets") / "page" / "page.css").read_text("utf-8")
LIGHT, DARK, SYSTEM = (
    dict(re.findall(r"--([\w-]+): (#[0-9a-f]{6})", block))
    for block in re.findall(r"\.stoichkit[^{}]*\{([^{}]*--paper: #[^{}]*)\}", STYLE)
)
THEMES = {"light": {"pic-paper": LIGHT["paper"], **LIGHT}}
THEMES["dark"] = {**THEMES["light"], "pic-paper": DARK["paper"], **DARK}


def test_a_dark_notebook_and_a_dark_system_look_alike() -> None:
    assert DARK == SYSTEM
    assert LIGHT.keys() - DARK.keys() == set()


@pytest.mark.parametrize("theme", THEMES)
@pytest.mark.parametrize(
    ("ink", "paper", "least"),
    [
        *((ink, paper, 4.5) for ink in ("ink", "soft", "accent", "warn")
          for paper in ("paper", "ground")),
        ("good", "paper", 4.5),
        ("accent", "accent-soft", 4.5),
        ("warn", "warn-soft", 4.5),
        ("ink", "accent-soft", 4.5),
        ("ink", "warn-soft", 4.5),
        ("field", "paper", 3.0),
        ("pic-ink", "pic-paper", 4.5),
        ("pic-grey", "pic-paper", 4.5),
        ("pic-grey", "pic-shade", 4.5),
        *((ink, "pic-paper", 3.0) for ink in ("pic-pale", "pic-trial", "pic-mean")),
    ],
)  # fmt: skip
def test_contrast_is_enough(theme: str, ink: str, paper: str, least: float) -> None:
    colours = THEMES[theme]
    assert contrast(colours[ink], colours[paper]) >= least
