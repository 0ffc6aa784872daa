"""The amounts of all groups of a class, the straight line through them, and its intercept."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from ..class_line_sentences import blank_sentences, line_sentence
from ..class_result import ClassResult
from ..errors import ModelError
from ..york import Line as FittedLine
from .class_groups import class_rays
from .rays import Ray, rays_in_words
from .style import clean, joined, number, percent, shown_species

if TYPE_CHECKING:
    from matplotlib.axes import Axes

__all__ = [
    "ClassLinePicture",
    "GroupSpot",
    "class_line_alt_text",
    "class_line_data",
    "draw_class_line",
]

_NODES = 41
_MARGIN = 1.08


@dataclass(frozen=True, slots=True)
class GroupSpot:
    """The mean amounts of one group, mmol, with their own standard uncertainties."""

    name: str
    kind: str
    consumed_mmol: float
    produced_mmol: float
    u_consumed_mmol: float
    u_produced_mmol: float
    outlying: bool


@dataclass(frozen=True, slots=True)
class ClassLinePicture:
    """What the picture of the amounts shows.

    Attributes
    ----------
    consumed, produced : str
        The two substances.
    coverage : float
    spots : tuple of GroupSpot
        In the order of the file.
    rays : tuple of Ray
        The candidates in rising order.
    slope, intercept_mmol : float
        Of the line; nan without one.
    u_intercept_mmol : float
    intercept_range_mmol : (float, float)
        Coverage interval of the intercept.
    band : tuple of (float, float, float)
        Amount consumed, and the lower and upper end of the line's coverage band there, mmol.
    blank : bool
        Whether the intercept differs from zero.
    words : str
        What line and intercept say.
    x, y : (float, float)
        Amounts at the edges of the frame, mmol.
    """

    consumed: str
    produced: str
    coverage: float
    spots: tuple[GroupSpot, ...]
    rays: tuple[Ray, ...]
    slope: float
    intercept_mmol: float
    u_intercept_mmol: float
    intercept_range_mmol: tuple[float, float]
    band: tuple[tuple[float, float, float], ...]
    blank: bool
    words: str
    x: tuple[float, float]
    y: tuple[float, float]


def class_line_data(result: ClassResult) -> ClassLinePicture:
    """Return what the picture of the amounts of a class shows.

    Raises
    ------
    ModelError
        If the class has no verdict.

    Examples
    --------
    >>> from stoichkit import experiments
    >>> from stoichkit.class_result import assess_class_file
    >>> found = class_line_data(assess_class_file(experiments.class_file(), "copper-silver"))
    >>> len(found.spots), round(found.slope, 2), found.blank
    (9, 1.93, False)
    """
    verdict = result.verdict
    if verdict is None:
        raise ModelError(
            "There is no picture of the class as a whole, since it has no verdict.",
            given=result.no_verdict,
        )
    amounts, line, blank = verdict.amounts, verdict.line, verdict.blank
    kinds = dict(zip(result.evidence.names, result.evidence.kinds, strict=True))
    u_x, u_y = np.sqrt(amounts.own.consumed), np.sqrt(amounts.own.produced)
    table = np.array([amounts.consumed, amounts.produced, u_x, u_y]).T * 1e3
    spots = tuple(
        GroupSpot(clean(name, limit=80), kinds[name], a, b, u_a, u_b, name in verdict.outlying)
        for name, (a, b, u_a, u_b) in zip(amounts.names, table.tolist(), strict=True)
    )
    x = _ends(
        [s.consumed_mmol + s.u_consumed_mmol for s in spots], [s.consumed_mmol for s in spots]
    )
    ends = [s.produced_mmol + s.u_produced_mmol for s in spots]
    lows = [s.produced_mmol - s.u_produced_mmol for s in spots if s.produced_mmol < 0]
    nan = math.nan
    found = (nan, nan, nan)
    interval = (nan, nan)
    band: tuple[tuple[float, float, float], ...] = ()
    if line is not None and blank is not None:
        found = (line.slope, 1e3 * line.intercept, 1e3 * line.u_intercept_total)
        low, high = blank.interval_mol
        interval = (1e3 * low, 1e3 * high)
        band = _band(line, x[1], verdict.coverage)
        lows.append(max(interval[0], -0.4 * max(ends)))
    return ClassLinePicture(
        consumed=shown_species(result.experiment.consumed.species),
        produced=shown_species(result.experiment.produced.species),
        coverage=verdict.coverage,
        spots=spots,
        rays=class_rays(result),
        slope=found[0],
        intercept_mmol=found[1],
        u_intercept_mmol=found[2],
        intercept_range_mmol=interval,
        band=band,
        blank=blank is not None and blank.p_value < 1 - verdict.coverage,
        words=f"{line_sentence(verdict)} {blank_sentences(blank, result.experiment)}",
        x=x,
        y=_ends(ends, lows),
    )


def _ends(high: list[float], low: list[float]) -> tuple[float, float]:
    """Return the edges of an axis from zero, or below it where there is something."""
    top = max(*high, 0.0) or 1.0
    least = min([*low, 0.0])
    return (_MARGIN * least, _MARGIN * top)


def _band(
    line: FittedLine, last_mmol: float, coverage: float
) -> tuple[tuple[float, float, float], ...]:
    """Return the band of the line, mmol; errors that are shared are added at their most."""
    from scipy.special import ndtri, stdtrit

    tail = 0.5 + coverage / 2
    factor = float(stdtrit(line.dof, tail) if line.inflated else ndtri(tail))
    found = []
    for x in np.linspace(0.0, last_mmol / 1e3, _NODES).tolist():
        own = line.u_intercept**2 + (x * line.u_slope) ** 2 + 2 * x * line.covariance
        shared = line.u_intercept_shared + x * line.u_slope_shared
        half = factor * math.sqrt(max(own, 0.0) + shared**2)
        y = line.intercept + line.slope * x
        found.append((1e3 * x, 1e3 * (y - half), 1e3 * (y + half)))
    return tuple(found)


def class_line_alt_text(data: ClassLinePicture) -> str:
    """Describe the picture of the amounts for readers who do not see it.

    >>> from stoichkit import experiments
    >>> from stoichkit.class_result import assess_class_file
    >>> found = class_line_data(assess_class_file(experiments.class_file(), "copper-silver"))
    >>> print(class_line_alt_text(found).partition(";")[0])
    Amount of Ag produced against amount of Cu consumed, one point for each of 9 groups, with their
    own standard uncertainties, and the candidates as rays from the origin. Consumed 0.787 mmol to
    2.6 mmol
    """
    consumed = [s.consumed_mmol for s in data.spots]
    produced = [s.produced_mmol for s in data.spots]
    parts = [
        f"Amount of {data.produced} produced against amount of {data.consumed} consumed, one point "
        f"for each of {len(data.spots)} groups, with their own standard uncertainties, and the "
        "candidates as rays from the origin.",
        f"Consumed {number(min(consumed))} mmol to {number(max(consumed))} mmol; produced "
        f"{number(min(produced))} mmol to {number(max(produced))} mmol.",
    ]
    if data.band:
        parts.append(f"A straight line with its {percent(data.coverage)} band.")
    parts.append(data.words)
    out = [s.name for s in data.spots if s.outlying]
    if out:
        parts.append(f"Standing out, as diamonds: {joined(out)}.")
    parts.append(rays_in_words(data.rays))
    return " ".join(parts)


def draw_class_line(ax: Axes, data: ClassLinePicture) -> None:
    """Draw the amounts on matplotlib axes, in mmol; numbers and words are part of the picture.

    Parameters
    ----------
    ax : matplotlib Axes
        At least 300 by 260 points.
    data : ClassLinePicture
    """
    from .canvas import paint, size_of
    from .class_line_scene import class_line_scene

    width, height = size_of(ax)
    paint(ax, class_line_scene(data, width, height))
