"""The ratio set on a line: which mole ratios the readings do not exclude, and the candidates."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import TYPE_CHECKING

from ..decision.evidence import Evidence
from ..uncertainty import entry
from ..uncertainty.ratio_set import Interval, RatioSet
from ..uncertainty.sources import nominal
from .rays import Ray, fewer, rays_in_words, rays_of
from .scene import (
    BAR,
    BODY,
    DASHES,
    EXCLUDED_TEXT,
    GRID,
    INK,
    MEAN,
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
    edge_labels,
    number,
    percent,
    shown_species,
    text_width,
    wrapped,
)

if TYPE_CHECKING:
    from matplotlib.axes import Axes

__all__ = ["RatioPicture", "draw_ratio", "ratio_alt_text", "ratio_data", "ratio_scene"]

_MOST_LABELS = 20
_BAR = 5.0


@dataclass(frozen=True, slots=True)
class RatioPicture:
    """What the picture of the ratio set shows, as plain numbers and words.

    Attributes
    ----------
    consumed, produced : str
        The two substances.
    coverage : float
    kind : str
        That of the ratio set: ``"bounded"``, ``"no upper limit"``, ``"no lower limit"``,
        ``"every ratio"`` or ``"empty"``.
    intervals : tuple of Interval
        Stretches of mole ratios n_produced / n_consumed that are not excluded.
    estimate : float
        Ratio of the mean amounts; nan where the amount consumed is not above zero.
    rays : tuple of Ray
        The candidates in rising order.
    end : float
        Largest ratio on the line.
    words : str
        The set in words.
    """

    consumed: str
    produced: str
    coverage: float
    kind: str
    intervals: tuple[Interval, ...]
    estimate: float
    rays: tuple[Ray, ...]
    end: float
    words: str

    @property
    def estimate_in_words(self) -> str:
        """The estimate, or why there is none that could be marked."""
        if not math.isfinite(self.estimate):
            return "no estimate: the amount consumed is not above zero"
        if self.estimate < 0:
            return f"the estimate, {number(self.estimate)}, is below zero"
        return f"estimate {number(self.estimate, 4)}"


def ratio_data(evidence: Evidence) -> RatioPicture:
    """Return what the picture of the ratio set shows.

    Examples
    --------
    >>> from stoichkit import experiments
    >>> from stoichkit.decision.evidence import assess
    >>> ratio_data(assess(experiments.load("copper-silver"))).words
    '1.92 to 2.24'
    """
    found, rays = entry.record("evidence", evidence, Evidence).ratio_set, rays_of(evidence)
    estimate = evidence.ratio if nominal(evidence.n_consumed) > 0 else math.nan
    last = max(ray.ratio for ray in rays)
    if found.intervals:
        last = max(last, 1.25 * found.low)
    wanted = [last]
    wanted += [min(r, 3 * last) for r in (estimate, found.high) if math.isfinite(r)]
    return RatioPicture(
        consumed=shown_species(evidence.experiment.consumed.species),
        produced=shown_species(evidence.experiment.produced.species),
        coverage=evidence.coverage,
        kind=found.kind,
        intervals=found.intervals,
        estimate=estimate,
        rays=rays,
        end=1.12 * max(wanted),
        words=_in_words(found, rays),
    )


def _in_words(found: RatioSet, rays: tuple[Ray, ...]) -> str:
    """Write the set with as many digits as show the same candidates inside."""
    if found.kind == "empty":
        return "none (this can only be when a mean amount is below zero)"
    if found.kind == "every ratio" and len(found.intervals) == 1:
        return "every ratio: these readings put no limit on it"
    texts = [_interval(interval, rays) for interval in found.intervals]
    return " and ".join(texts)


def _interval(interval: Interval, rays: tuple[Ray, ...]) -> str:
    bounded = [v for v in (interval.low, interval.high) if 0 < v < math.inf]
    if not bounded:
        return "0 or more"
    width = interval.high - interval.low if math.isfinite(interval.high) else interval.low
    start = max(1 - math.floor(math.log10(width)), 0) if width > 0 else 3
    decimals = start
    for decimals in range(start, start + 10):
        low, high = round(interval.low, decimals), round(interval.high, decimals)
        if all((low <= ray.ratio <= high) is (ray.ratio in interval) for ray in rays):
            break
    if math.isinf(interval.high):
        return (
            f"{interval.low:.{decimals}f} or more: these readings put no upper limit on the ratio"
        )
    if interval.low <= 0:
        return f"{interval.high:.{decimals}f} or less: these readings put no lower limit on it"
    return f"{interval.low:.{decimals}f} to {interval.high:.{decimals}f}"


def ratio_alt_text(data: RatioPicture, *, with_candidates: bool = True) -> str:
    """Describe the picture of the ratio set for readers who do not see it.

    Parameters
    ----------
    data : RatioPicture
    with_candidates : bool
        False leaves the candidates out, for use after a text that has them.

    Examples
    --------
    >>> from stoichkit import experiments
    >>> from stoichkit.decision.evidence import assess
    >>> print(ratio_alt_text(ratio_data(assess(experiments.load("copper-silver")))))
    Line of mole ratios n(Ag) / n(Cu) from 0 to 2.69. Not excluded at 95 % coverage: 1.92 to 2.24,
    drawn as a bar; estimate 2.068. Candidates as ticks. Compatible (solid): copper(II) 2.
    Excluded (dashed): copper(I) 1.
    """
    bar = ", drawn as a bar" if data.intervals else ""
    if any(interval.high > data.end for interval in data.intervals):
        bar += " that ends in an arrow"
    words = (
        f"Line of mole ratios n({data.produced}) / n({data.consumed}) from 0 to "
        f"{number(data.end)}. Not excluded at {percent(data.coverage)} coverage: {data.words}"
        f"{bar}; {data.estimate_in_words}. Candidates as ticks."
    )
    return f"{words} {rays_in_words(data.rays)}" if with_candidates else words


def ratio_scene(data: RatioPicture, width: float) -> Scene:
    """Lay out the line of ratios."""
    open_end = max((i.high for i in data.intervals), default=0.0)
    beyond = (
        ""
        if open_end <= data.end
        else ("no upper limit" if math.isinf(open_end) else f"up to {number(open_end)}")
    )
    left = 12.0
    right = width - (12.0 + (text_width(beyond, SMALL, bold=True) + 4.0 if beyond else 0.0))
    scale = (right - left) / data.end
    labelled = fewer(data.rays, _MOST_LABELS, data.estimate if data.estimate >= 0 else 0.0)
    edge = [
        EdgeLabel(left + scale * ray.ratio, ray.label, ray.compatible, ray.text_ink)
        for ray in labelled
    ]
    axis, bar = 33.0, 74.0
    shoulder = bar + 12.0
    names, taken, _ = edge_labels(edge, shoulder, left, width - 4.0, limit=width)
    title = f"Mole ratios not excluded at {percent(data.coverage)} coverage: {data.words}"
    lines = wrapped(title, width - 2 * left, BODY)
    height = shoulder + taken + 8.0 + len(lines) * (BODY + 3.0)
    items: list[Item] = [
        Words(left, height - (i + 1) * (BODY + 3.0), line) for i, line in enumerate(lines)
    ]
    items += _bars(data, left, scale, right, bar)
    if beyond:
        items.append(Words(right + 10.0, bar - 0.36 * SMALL, beyond, SMALL, "start", True, TRIAL))
    for ray in data.rays:
        x = left + scale * ray.ratio
        if ray.compatible:
            items.append(Line(((x, bar - 12.0), (x, shoulder)), ray.ink, 1.8))
        else:
            items.append(Line(((x, bar - 12.0), (x, shoulder)), ray.ink, 1.0, DASHES))
    items += names
    items += _estimate(data, left, scale, right, bar)
    items.append(Line(((left, axis), (right, axis)), INK, 1.0))
    numbers, _ = across_axis((0.0, data.end), (left, right), axis)
    items += numbers
    label = f"mole ratio n({data.produced}) / n({data.consumed})"
    items.append(Words((left + right) / 2, 7.0, label, BODY, "middle"))
    limits = (-left / scale, (width - left) / scale)
    return Scene(width, height, tuple(items), limits, (0.0, height))


def _bars(data: RatioPicture, left: float, scale: float, right: float, bar: float) -> list[Item]:
    items: list[Item] = [Line(((left, bar), (right, bar)), GRID, 0.8)]
    for interval in data.intervals:
        x = left + scale * interval.low
        end = min(left + scale * interval.high, right)
        if end - x < 1.5:  # a bar too narrow to be seen is widened to a hair
            x, end = (x + end) / 2 - 0.75, (x + end) / 2 + 0.75
        low, high = bar - _BAR, bar + _BAR
        items.append(Polygon(((x, low), (end, low), (end, high), (x, high)), BAR))
        sides = [x] if interval.low > 0 else []
        if interval.high <= data.end:
            sides.append(end)
        else:
            tip = ((end, bar - 8.0), (end + 8.0, bar), (end, bar + 8.0))
            items.append(Polygon(tip, TRIAL))
        for y in (low, high):
            items.append(Line(((x, y), (end, y)), TRIAL, 0.9))
        for side in sides:
            items.append(Line(((side, bar - 8.0), (side, bar + 8.0)), TRIAL, 1.6))
    return items


def _estimate(
    data: RatioPicture, left: float, scale: float, right: float, bar: float
) -> list[Item]:
    """Mark the estimate and write it below its mark, or say why there is no mark."""
    words = data.estimate_in_words
    half = text_width(words, SMALL) / 2
    if not 0 <= data.estimate < math.inf:
        return [Words(left, bar - 29.0, words, SMALL, "start", False, EXCLUDED_TEXT)]
    x = left + scale * data.estimate
    inside = x <= right
    if not inside:
        words, x, half = f"{words} →", right, half + 8.0
    at = min(max(x, left + half), right - half)
    items: list[Item] = [Words(at, bar - 29.0, words, SMALL, "middle")]
    if inside:  # below the bar, which may be narrower than the mark
        items.append(Line(((x, bar), (x, bar - 16.0)), MEAN, 1.2))
        items.append(Mark(x, bar - 16.0, "diamond", MEAN, 4.5))
    return items


def draw_ratio(ax: Axes, data: RatioPicture) -> None:
    """Draw the line of ratios on matplotlib axes, in data coordinates of the mole ratio across.

    The axes are filled with the whole picture, numbers and labels included; set their size
    before.

    Parameters
    ----------
    ax : matplotlib Axes
        At least 300 points wide, and as high as ``ratio_scene(data, width).height`` to be used
        to the full.
    data : RatioPicture
    """
    from .render import paint, size_of

    width, _ = size_of(ax)
    paint(ax, ratio_scene(data, width))
