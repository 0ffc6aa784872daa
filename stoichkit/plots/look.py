"""Look of the pictures: colours and sizes.

Colours are those of M. Okabe and K. Ito, "Color Universal Design" (2008; values from memory),
chosen there to be told apart with any common colour vision. Nothing is told by colour alone:
kinds of marks also differ in shape, lines in dashes and weight, and everything is labelled in
words. The background is opaque white, so that a dark page does not swallow the text.
"""

from __future__ import annotations

WHITE = "#ffffff"
INK = "#1a1a1a"
PALE = "#8c8c8c"
"""Lines of what counts less, such as excluded candidates: 3.4 to 1 against white."""
GREY = "#595959"
"""Words of what counts less, such as notes: 7 to 1 against white."""
GRID = "#d9d9d9"
SHADE = "#efefef"
TRIAL = "#0072b2"
MEAN = "#d55e00"
BAR = "#8fc1e3"
"""Fill of the bar of the ratio set: the colour of the trials, made lighter."""
REST = "#9a9a9a"
DIM, FAINT = "#b6b6b6", "#d3d3d3"
"""Two steps from REST to SHADE."""
DASHES = (5.0, 3.0)
"""Points drawn and left out along the ray of an excluded candidate."""
HEADING, BODY, SMALL = 11.0, 9.0, 8.0
"""Text sizes in points; a picture is 480 points or 640 pixels wide."""
FONT = "DejaVu Sans"

_ROLES = {
    WHITE: "paper", INK: "ink", PALE: "pale", GREY: "grey", GRID: "grid", SHADE: "shade",
    TRIAL: "trial", MEAN: "mean", BAR: "bar", REST: "rest", DIM: "dim", FAINT: "faint",
}  # fmt: skip


def roles(colour: str) -> str:
    """Return what a colour stands for, so that a page in another theme can choose its own.

    >>> roles(TRIAL)
    'trial'
    """
    return _ROLES.get(colour, colour)
