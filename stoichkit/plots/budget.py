"""The uncertainty budget as bars: what makes the discrepancy uncertain."""

from __future__ import annotations

import math
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

from ..decision.evidence import Evidence
from ..decision.sentences import BudgetLine, grouped_budget
from .rays import label_of
from .scene import (
    BODY,
    EXCLUDED_TEXT,
    INK,
    REST,
    SMALL,
    TRIAL,
    Item,
    Line,
    Polygon,
    Scene,
    Words,
    clean,
    joined,
    number,
    text_width,
    wrapped,
)

if TYPE_CHECKING:
    from matplotlib.axes import Axes

__all__ = ["BudgetPicture", "budget_alt_text", "budget_data", "budget_scene", "draw_budget"]


@dataclass(frozen=True, slots=True)
class BudgetPicture:
    """What the picture of the budget shows, as plain numbers and words.

    Attributes
    ----------
    candidate, label : str
        Name of the nearest candidate, and how the picture writes it.
    lines : tuple of BudgetLine
        Largest first.
    uncertainty_mmol : float
        Standard uncertainty of the discrepancy that the lines add up to.
    scatter : float
        Scatter between the trials over what the instruments explain, where it exceeds it
        beyond chance; 0 otherwise.
    """

    candidate: str
    label: str
    lines: tuple[BudgetLine, ...]
    uncertainty_mmol: float
    scatter: float

    @property
    def note(self) -> str:
        """What the bars leave out; "" for nothing."""
        if not self.scatter:
            return ""
        return (
            f"Instruments only: the trials scatter {number(self.scatter, 2)} times as much as "
            "these sources explain, and the verdict takes the scatter into account."
        )


def budget_data(evidence: Evidence) -> BudgetPicture:
    """Return what the picture of the budget shows.

    Examples
    --------
    >>> from stoichkit import experiments
    >>> from stoichkit.decision.evidence import assess
    >>> picture = budget_data(assess(experiments.load("copper-silver")))
    >>> picture.candidate, round(sum(line.share for line in picture.lines), 6)
    ('copper(II)', 1.0)
    """
    lines = tuple(replace(o, label=clean(o.label)) for o in grouped_budget(evidence))
    scatter = evidence.scatter
    name = clean(evidence.nearest.name)
    return BudgetPicture(
        candidate=name,
        label=label_of(name),
        lines=lines,
        uncertainty_mmol=math.sqrt(math.fsum(line.uncertainty_mmol**2 for line in lines)),
        scatter=scatter.ratio_of_spread if scatter is not None and scatter.excess else 0.0,
    )


def _percent(share: float) -> str:
    return "below 1 %" if share < 0.005 else f"{100 * share:.0f} %"


def budget_alt_text(data: BudgetPicture) -> str:
    """Describe the picture of the budget for readers who do not see it.

    Examples
    --------
    >>> line = BudgetLine("rounding of paper", "rounding", 5, 5, 0.1, 1.0)
    >>> picture = BudgetPicture("SnO2", "SnO₂", (line,), 0.1, 0.0)
    >>> print(budget_alt_text(picture))
    Bars: what makes the discrepancy from SnO2 uncertain, in percent of its variance
    (standard uncertainty 0.1 mmol): rounding of paper (5 trials) 100 %.
    """
    if not data.lines:
        return f"No source of uncertainty is known for the discrepancy from {data.candidate}."
    listed = joined((f"{line.words} {_percent(line.share)}" for line in data.lines), most=20)
    text = (
        f"Bars: what makes the discrepancy from {data.candidate} uncertain, in percent of its "
        f"variance (standard uncertainty {number(data.uncertainty_mmol, 2)} mmol): {listed}."
    )
    return f"{text} {data.note}".rstrip()


def budget_scene(data: BudgetPicture, width: float) -> Scene:
    """Lay out the bars.

    Parameters
    ----------
    data : BudgetPicture
    width : float
        Width in points; the height follows from it.
    """
    title = f"What makes the discrepancy from {data.label} uncertain, in percent of its variance"
    heads = wrapped(title, width - 24.0, BODY)
    notes = wrapped(data.note or ("" if data.lines else budget_alt_text(data)), width - 24.0, SMALL)
    column = min(max((text_width(e.words, SMALL) for e in data.lines), default=0.0), 0.56 * width)
    texts = [wrapped(line.words, column + 0.5, SMALL) for line in data.lines]
    line_height = SMALL + 2.0
    height = (
        len(heads) * (BODY + 3.0)
        + 8.0
        + sum(max(len(t), 1) * line_height + 5.0 for t in texts)
        + len(notes) * (SMALL + 4.0)
        + 6.0
    )
    items: list[Item] = []
    y = height
    for head in heads:
        y -= BODY + 3.0
        items.append(Words(12.0, y, head))
    y -= 8.0
    left = 12.0 + column + 8.0
    room = width - left - text_width("below 1 %", SMALL) - 16.0
    largest = max((line.share for line in data.lines), default=0.0) or 1.0
    top = y
    for line, words in zip(data.lines, texts, strict=True):
        block = max(len(words), 1) * line_height
        middle = y - block / 2
        for i, text in enumerate(words):
            items.append(Words(left - 6.0, y - (i + 1) * line_height + 2.5, text, SMALL, "end"))
        end = left + max(room * line.share / largest, 0.6)
        fill = TRIAL if line.kind else REST
        corners = (
            (left, middle - 4.5),
            (end, middle - 4.5),
            (end, middle + 4.5),
            (left, middle + 4.5),
        )
        items.append(Polygon(corners, fill))
        items.append(Words(end + 5.0, middle - 0.36 * SMALL, _percent(line.share), SMALL))
        y -= block + 5.0
    if data.lines:
        items.append(Line(((left, top), (left, y + 2.0)), INK, 0.8))
    for note in notes:
        y -= SMALL + 3.0
        items.append(Words(12.0, y, note, SMALL, "start", False, EXCLUDED_TEXT))
    return Scene(width, height, tuple(items), (0.0, width), (0.0, height))


def draw_budget(ax: Axes, data: BudgetPicture) -> None:
    """Draw the bars on matplotlib axes, in coordinates of points.

    The axes are filled with the whole picture, labels included; set their size before.

    Parameters
    ----------
    ax : matplotlib Axes
        At least 300 points wide, and as high as ``budget_scene(data, width).height`` to be used
        to the full.
    data : BudgetPicture
    """
    from .render import paint, size_of

    width, _ = size_of(ax)
    paint(ax, budget_scene(data, width))
