"""Line through the groups.

The amounts of all groups of a class, the straight line through them, and its intercept.

Layout of the amounts of a class and the line through them in points.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import TYPE_CHECKING, NamedTuple

import numpy as np

from ..classroom.result import ClassResult
from ..classroom.sentences import blank_sentences, line_sentence
from ..errors import ModelError
from ..uncertainty.straight_line import Line as FittedLine
from .class_groups import class_rays, group_mark
from .rays import Ray, fewer, rays_in_words
from .scene import (
    BODY,
    DASHES,
    EXCLUDED,
    EXCLUDED_TEXT,
    GRID,
    INK,
    MEAN,
    SHADE,
    SMALL,
    TRIAL,
    EdgeLabel,
    Item,
    Line,
    Mark,
    Polygon,
    Scene,
    Words,
    across_axis,
    clean,
    edge_labels,
    joined,
    number,
    percent,
    shortened,
    shown_species,
    spread,
    text_width,
    tick_labels,
    ticks,
    with_uncertainty,
    wrapped,
)

if TYPE_CHECKING:
    from matplotlib.axes import Axes

__all__ = [
    "ClassLinePicture",
    "GroupSpot",
    "class_line_alt_text",
    "class_line_data",
    "class_line_scene",
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
    >>> from stoichkit.classroom import assess_class
    >>> found = class_line_data(assess_class(experiments.class_file(), "copper-silver"))
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
    >>> from stoichkit.classroom import assess_class
    >>> found = class_line_data(assess_class(experiments.class_file(), "copper-silver"))
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
    """Draw the amounts on matplotlib axes, in mmol; numbers and words are part of the picture."""
    from .render import paint, size_of

    width, height = size_of(ax)
    paint(ax, class_line_scene(data, width, height))


_STEM = 12.0
_MOST_RAYS = 12
_MOST_BARS = 60
"""Classes up to so many groups show the uncertainty of each."""


class _Frame(NamedTuple):
    """The inner frame in points and the amounts at its edges."""

    left: float
    right: float
    bottom: float
    top: float
    x: tuple[float, float]
    y: tuple[float, float]

    def at(self, a: float, b: float) -> tuple[float, float]:
        """Return the place of two amounts, in points."""
        across = (self.right - self.left) / (self.x[1] - self.x[0])
        up = (self.top - self.bottom) / (self.y[1] - self.y[0])
        return self.left + (a - self.x[0]) * across, self.bottom + (b - self.y[0]) * up

    def inside(self, value: float) -> float:
        """Return an amount produced, kept between both edges."""
        return min(max(value, self.y[0]), self.y[1])

    def segment(self, slope: float, intercept: float) -> tuple[tuple[float, float], ...]:
        """Return what of a line from the axis on is within the frame."""
        low, high = 0.0, self.x[1]
        if slope:
            ends = sorted((edge - intercept) / slope for edge in self.y)
            low, high = max(low, ends[0]), min(high, ends[1])
        if low >= high:
            return ()
        return (
            self.at(low, slope * low + intercept),
            self.at(high, slope * high + intercept),
        )


def class_line_scene(data: ClassLinePicture, width: float, height: float) -> Scene:
    """Lay out the amounts of the groups.

    Parameters
    ----------
    data : ClassLinePicture
    width, height : float
        Size in points, at least 300 by 260.

    Returns
    -------
    Scene
        With the amounts in mmol at its edges as limits.
    """
    x, y = data.x, data.y
    shown = fewer(data.rays, _MOST_RAYS, data.slope if data.slope >= 0 else 0.0)
    aside = [ray for ray in shown if ray.ratio * x[1] <= y[1]]
    above = [ray for ray in shown if ray.ratio * x[1] > y[1]][::-1]  # from left to right
    up_ticks = ticks(y[0], y[1], most=max(int(height / 45.0), 3))
    up_texts = tick_labels(up_ticks)
    left = 27.0 + max(text_width(t, SMALL) for t in up_texts)
    room = max((text_width(ray.label, BODY, bold=ray.compatible) for ray in aside), default=0.0)
    right = width - (room + _STEM + 4.0 if aside else 14.0)
    notes = [line for one in _notes(data) for line in wrapped(one, width - 24.0, SMALL)]
    bottom = 40.0 + len(notes) * (SMALL + 4.0) + 2.0

    def edge(end: float) -> list[EdgeLabel]:
        step = (end - left) / (x[1] - x[0])
        return [
            EdgeLabel(
                left + (y[1] / ray.ratio - x[0]) * step, ray.label, ray.compatible, ray.text_ink
            )
            for ray in above
        ]

    _, taken, reach = edge_labels(edge(right), 0.0, left, right)
    if reach > width - 2.0:
        right -= reach - width + 2.0
        _, taken, _ = edge_labels(edge(right), 0.0, left, right)
    frame = _Frame(left, right, bottom, height - taken - 6.0, x, y)
    labels, _, _ = edge_labels(edge(right), frame.top, left, right)
    items = [
        *_band_items(frame, data),
        *_axes(frame, data, up_ticks, up_texts),
        *_rays(frame, data),
        *labels,
        *_side(frame, aside),
        *_line(frame, data),
        *(part for spot in data.spots for part in _spot(frame, spot, len(data.spots))),
        *_intercept(frame, data),
    ]
    at = bottom - 40.0 - SMALL
    for note in notes:
        items.append(Words(12.0, at, note, SMALL, "start", False, EXCLUDED_TEXT))
        at -= SMALL + 4.0
    across, up = (x[1] - x[0]) / (right - left), (y[1] - y[0]) / (frame.top - bottom)
    x_low, y_low = x[0] - left * across, y[0] - bottom * up
    return Scene(
        width, height, tuple(items),
        (x_low, x_low + width * across), (y_low, y_low + height * up),
    )  # fmt: skip


def _notes(data: ClassLinePicture) -> list[str]:
    text = (
        "Points: groups; full circle: singles out one, open circle: cannot tell, cross: fits none"
    )
    if any(spot.outlying for spot in data.spots):
        text += ", in a diamond: stands out"
    text += "."
    if len(data.spots) <= _MOST_BARS:
        text += " Bars: one standard uncertainty."
    if data.band:
        return [
            text,
            f"Orange: straight line through the groups; shaded: its {percent(data.coverage)} band; "
            "where it meets the upright axis: the blank.",
        ]
    return [text, "No straight line was drawn."]


def _band_items(frame: _Frame, data: ClassLinePicture) -> list[Item]:
    if not data.band:
        return []
    low = [frame.at(a, frame.inside(b)) for a, b, _ in data.band]
    high = [frame.at(a, frame.inside(c)) for a, _, c in data.band]
    return [Polygon((*low, *high[::-1]), SHADE)]


def _axes(
    frame: _Frame, data: ClassLinePicture, up_ticks: list[float], up_texts: list[str]
) -> list[Item]:
    left, right, low, top = frame[:4]
    items: list[Item] = [
        Line(((left, top), (right, top), (right, low)), GRID, 0.8),
        Line(((left, top), (left, low), (right, low)), INK, 1.0),
        *across_axis(frame.x, (left, right), low)[0],
    ]
    zero = frame.at(0.0, 0.0)
    if frame.y[0] < 0:
        items.append(Line(((left, zero[1]), (right, zero[1])), EXCLUDED, 0.8))
    if frame.x[0] < 0:
        items.append(Line(((zero[0], low), (zero[0], top)), EXCLUDED, 0.8))
    for value, text in zip(up_ticks, up_texts, strict=True):
        at = frame.at(0.0, value)[1]
        items.append(Line(((left, at), (left - 4.0, at)), INK, 0.8))
        items.append(Words(left - 6.0, at - 0.36 * SMALL, text, SMALL, "end"))
    across = f"amount of {data.consumed} consumed / mmol"
    up = f"amount of {data.produced} produced / mmol"
    items.append(Words((left + right) / 2, low - 28.0, across, BODY, "middle"))
    items.append(Words(BODY + 4.0, (low + top) / 2, up, BODY, "middle", False, INK, 90.0))
    return items


def _rays(frame: _Frame, data: ClassLinePicture) -> list[Item]:
    items: list[Item] = []
    for ray in sorted(data.rays, key=lambda ray: ray.compatible):
        points = frame.segment(ray.ratio, 0.0)
        if points:
            thick = 1.8 if ray.compatible else 1.0
            items.append(Line(points, ray.ink, thick, None if ray.compatible else DASHES))
    return items


def _side(frame: _Frame, rays: list[Ray]) -> list[Item]:
    """Label the rays that leave the frame at its right edge."""
    wanted = [frame.at(frame.x[1], ray.ratio * frame.x[1])[1] for ray in rays]
    placed = spread(wanted, 1.3 * BODY, frame.bottom + BODY / 2, frame.top)
    items: list[Item] = []
    for ray, at, y in zip(rays, wanted, placed, strict=True):
        items.append(Line(((frame.right, at), (frame.right + _STEM - 3, y)), ray.ink, 0.6))
        x = frame.right + _STEM
        words = Words(x, y - 0.36 * BODY, ray.label, BODY, "start", ray.compatible, ray.text_ink)
        items.append(words)
    return items


def _line(frame: _Frame, data: ClassLinePicture) -> list[Item]:
    points = frame.segment(data.slope, data.intercept_mmol) if data.band else ()
    return [Line(points, MEAN, 2.0)] if points else []


def _spot(frame: _Frame, spot: GroupSpot, count: int) -> list[Item]:
    x, y = frame.at(spot.consumed_mmol, spot.produced_mmol)
    items: list[Item] = []
    if count <= _MOST_BARS:
        left, low = frame.at(
            spot.consumed_mmol - spot.u_consumed_mmol, spot.produced_mmol - spot.u_produced_mmol
        )
        items.append(Line(((left, y), (2 * x - left, y)), TRIAL, 0.9))
        items.append(Line(((x, low), (x, 2 * y - low)), TRIAL, 0.9))
    size = 3.4 if count <= _MOST_BARS else 2.0
    items += group_mark(spot.kind, x, y, size, outlying=spot.outlying)
    if spot.outlying:
        name = shortened(spot.name, 18)
        wide = text_width(name, SMALL) + 12.0
        right = x + wide <= frame.right
        at = x + 9.0 if right else x - 9.0
        items.append(Words(at, y - 11.0, name, SMALL, "start" if right else "end", True))
    return items


def _intercept(frame: _Frame, data: ClassLinePicture) -> list[Item]:
    """Mark where the line meets the upright axis, with the interval of the blank."""
    if not data.band or not math.isfinite(data.intercept_mmol):
        return []
    low, high = (frame.inside(end) for end in data.intercept_range_mmol)
    x, y = frame.at(0.0, frame.inside(data.intercept_mmol))
    items: list[Item] = [
        Line((frame.at(0.0, low), frame.at(0.0, high)), MEAN, 3.0),
        Mark(x, y, "diamond", MEAN, 5.5),
    ]
    words = f"blank {with_uncertainty(data.intercept_mmol, data.u_intercept_mmol)} mmol"
    if not data.blank:
        words += ", not told from 0"
    at = frame.top - 14.0  # above the rays, which rise to the right
    items.append(Line(((x, y), (x + 6.0, min(y + 14.0, at)), (x + 6.0, at)), MEAN, 0.8))
    items.append(Words(x + 10.0, at, words, SMALL, "start", data.blank, INK))
    return items
