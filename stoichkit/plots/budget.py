"""The uncertainty budget as bars: what makes the discrepancy uncertain."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import TYPE_CHECKING

from ..evidence import Evidence
from .rays import label_of
from .scene import Item, Line, Polygon, Scene, Words
from .style import (
    BODY,
    EXCLUDED_TEXT,
    INK,
    REST,
    SMALL,
    TRIAL,
    clean,
    joined,
    number,
    text_width,
    wrapped,
)

if TYPE_CHECKING:
    from matplotlib.axes import Axes

__all__ = [
    "BudgetLine",
    "BudgetPicture",
    "budget_alt_text",
    "budget_data",
    "budget_scene",
    "draw_budget",
    "grouped_budget",
]


_SHOWN = 0.005
"""Shares below this are merged: they would read 0 %."""


@dataclass(frozen=True, slots=True)
class BudgetLine:
    """One class of error sources, merged over the trials.

    Attributes
    ----------
    label : str
        What the error is, e.g. ``"rounding of wire before"``; ``"others"`` for the rest.
    kind : str
        Class of source, e.g. ``"rounding"``; "" for the rest.
    trials : int
        In how many trials it occurs with an error of its own; 0 if all trials share one error.
    sources : int
        Number of elementary error sources merged.
    uncertainty_mmol : float
        Root sum of squares of their contributions to the discrepancy.
    share : float
        Part of the variance of the discrepancy, 0 to 1.
    """

    label: str
    kind: str
    trials: int
    sources: int
    uncertainty_mmol: float
    share: float

    @property
    def words(self) -> str:
        """The label with the number of trials or sources merged.

        >>> BudgetLine("rounding of paper", "rounding", 5, 5, 0.1, 0.2).words
        'rounding of paper (5 trials)'
        """
        if not self.kind:
            return f"{self.label} ({self.sources} sources)"
        return f"{self.label} ({self.trials} trials)" if self.trials > 1 else self.label


def grouped_budget(
    evidence: Evidence, name: str | None = None, *, most: int = 8
) -> tuple[BudgetLine, ...]:
    """Return the budget of the discrepancy from a candidate, merged over the trials.

    Errors of one kind at one reading count as one line however many trials there are.

    Parameters
    ----------
    evidence : Evidence
    name : str, optional
        A candidate; the nearest one if left out.
    most : int
        Lines before the rest is merged as "others", 1 or more; shares below half a percent are
        always merged.

    Returns
    -------
    tuple of BudgetLine
        Largest first, "others" last; shares add up to 1 unless there is no uncertainty at all.

    Raises
    ------
    ModelError
        If there is no candidate of that name.

    Examples
    --------
    >>> from stoichkit import experiments
    >>> from stoichkit.evidence import assess
    >>> evidence = assess(experiments.load("copper-silver"))
    >>> grouped_budget(evidence)[0].words.split(" of ")[0]
    'repeatability'
    """
    lines = evidence.budget if name is None else evidence.budget_for(name)
    endings = [f", trial {trial.name}" for trial in evidence.experiment.trials]
    # a name may end like another one does: the longest ending is the right one
    endings.sort(key=len, reverse=True)
    groups: dict[tuple[str, str, bool], list[float]] = {}
    for line in lines:
        source = line.source
        ending = next((e for e in endings if source.label.endswith(e)), "")
        label = clean(source.label.removesuffix(ending))
        entry = groups.setdefault((label, source.kind, bool(ending)), [0.0, 0.0, 0.0])
        entry[0] += 1.0
        entry[1] += line.uncertainty**2
        entry[2] += line.share
    merged = [
        BudgetLine(
            label,
            kind or "other",
            int(count) if own else 0,
            int(count),
            1000.0 * math.sqrt(variance),
            share,
        )
        for (label, kind, own), (count, variance, share) in groups.items()
    ]
    merged.sort(key=lambda line: -line.share)
    kept = [line for line in merged[: max(most, 1)] if line.share >= _SHOWN] or merged[:1]
    rest = merged[len(kept) :]
    if len(rest) < 2:  # one line more takes no more room than "others" would
        return tuple(merged)
    others = BudgetLine(
        "others",
        "",
        0,
        sum(line.sources for line in rest),
        math.sqrt(math.fsum(line.uncertainty_mmol**2 for line in rest)),
        math.fsum(line.share for line in rest),
    )
    return (*kept, others)


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
    >>> from stoichkit.evidence import assess
    >>> picture = budget_data(assess(experiments.load("copper-silver")))
    >>> picture.candidate, round(sum(line.share for line in picture.lines), 6)
    ('copper(II)', 1.0)
    """
    lines = grouped_budget(evidence)
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
    from .canvas import paint, size_of

    width, _ = size_of(ax)
    paint(ax, budget_scene(data, width))
