"""Simulated labs.

Many simulated labs as dots on the amounts plane, with the candidates' rays.

Layout of the simulated labs in points.
"""

from __future__ import annotations

import math
from collections import Counter
from dataclasses import dataclass
from typing import TYPE_CHECKING, NamedTuple

import numpy as np

from ..planning.sentences import meaning_sentence, setting_sentence
from ..planning.simulation import Counts, SimulatedLabs
from ..uncertainty.sources import Floats
from .rays import label_of
from .scene import (
    BODY,
    EXCLUDED,
    EXCLUDED_TEXT,
    GRID,
    INK,
    MEAN,
    SHADE,
    SMALL,
    TRIAL,
    EdgeLabel,
    Ellipse,
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
    shown_species,
    spread,
    text_width,
    tick_labels,
    ticks,
    wrapped,
)

if TYPE_CHECKING:
    from matplotlib.axes import Axes

__all__ = ["Dot", "LabRay", "LabsPicture", "draw_labs", "labs_alt_text", "labs_data", "labs_scene"]

_QUARTERS = 4
_SAME = 400
"""Dots closer than this part of the picture are one."""


@dataclass(frozen=True, slots=True)
class Dot:
    """Labs at one place of the amounts plane with one verdict.

    Attributes
    ----------
    consumed_mmol, produced_mmol : float
        Mean amounts of the labs, as worked out from their readings.
    kind : str
        ``"right"``, ``"wrong"``, ``"not_told_apart"`` or ``"none_fits"``.
    labs : int
    """

    consumed_mmol: float
    produced_mmol: float
    kind: str
    labs: int


@dataclass(frozen=True, slots=True)
class LabRay:
    """A candidate: its name, its name in the picture, its ratio, and how far from it a lab fits.

    Attributes
    ----------
    name, label : str
    ratio : float
        n_produced / n_consumed, the slope of its ray.
    limit_mmol : float
        Labs up to so far above or below the ray are compatible with it.
    """

    name: str
    label: str
    ratio: float
    limit_mmol: float


@dataclass(frozen=True, slots=True)
class LabsPicture:
    """What the picture of simulated labs shows.

    Attributes
    ----------
    consumed, produced : str
        The two substances as written on the axes.
    truth : str
        Name of the candidate taken as true.
    rays : tuple of LabRay
        In rising order of slope.
    dots : tuple of Dot
    counts : Counts
        Labs of each verdict.
    expected_mmol : (float, float)
        The true amounts, the spread left out.
    x, y : (float, float)
        Amounts at the edges, mmol.
    coverage : float
    words : str
        The plan and what the labs mean.
    """

    consumed: str
    produced: str
    truth: str
    rays: tuple[LabRay, ...]
    dots: tuple[Dot, ...]
    counts: Counts
    expected_mmol: tuple[float, float]
    x: tuple[float, float]
    y: tuple[float, float]
    coverage: float
    words: str


def labs_data(labs: SimulatedLabs) -> LabsPicture:
    """Return what the picture of simulated labs shows.

    Notes
    -----
    The edges depend on the true amounts, and grow by doubling only where the labs need it, so that
    the picture stays in place while a balance is changed.

    Examples
    --------
    >>> from stoichkit import experiments
    >>> from stoichkit.planning.plan import Plan
    >>> from stoichkit.planning.simulation import simulate_labs
    >>> plan = Plan(experiment=experiments.load("copper-silver"), consumed_mol=0.002)
    >>> picture = labs_data(simulate_labs(plan, "copper(I)"))
    >>> sum(dot.labs for dot in picture.dots), [ray.name for ray in picture.rays]
    (400, ['copper(I)', 'copper(II)'])
    """
    experiment = labs.plan.experiment
    rays = [
        LabRay(clean(c.name), label_of(clean(c.name)), float(c.ratio), 1000.0 * limit)
        for c, limit in zip(experiment.candidates, labs.limits_mol, strict=True)
    ]
    truth = clean(labs.truth)
    ratio = next(ray.ratio for ray in rays if ray.name == truth)
    amount = 1000.0 * labs.plan.consumed_mol
    across, up = 1000.0 * labs.consumed_mol, 1000.0 * labs.produced_mol
    x = _edges(across, 1.6 * amount)
    y = _edges(up, 1.6 * amount * min(max(ray.ratio for ray in rays), 2.5 * ratio))
    return LabsPicture(
        consumed=shown_species(experiment.consumed.species),
        produced=shown_species(experiment.produced.species),
        truth=truth,
        rays=tuple(sorted(rays, key=lambda ray: ray.ratio)),
        dots=_dots(across, up, labs.kinds, x, y),
        counts=labs.counts,
        expected_mmol=(amount, ratio * amount),
        x=x,
        y=y,
        coverage=experiment.coverage,
        words=f"{setting_sentence(labs.plan)} {meaning_sentence(labs)}",
    )


def _edges(values: Floats, wanted: float) -> tuple[float, float]:
    """Return edges from 0, or from quarters below it, to a doubled amount."""
    high = wanted * 2.0 ** max(math.ceil(math.log2(max(float(values.max()), 1e-300) / wanted)), 0)
    least = float(values.min())
    if least >= -0.005 * high:
        return 0.0, high
    while -least > high:
        high *= 2.0
    return -high * math.ceil(-least / high * _QUARTERS) / _QUARTERS, high


def _dots(
    across: Floats, up: Floats, kinds: list[str], x: tuple[float, float], y: tuple[float, float]
) -> tuple[Dot, ...]:
    """Merge labs whose dots would cover one another, the rarest verdicts drawn last."""
    fine = [(high - low) / _SAME for low, high in (x, y)]
    columns = np.round(across / fine[0]).astype(int).tolist()
    rows = np.round(up / fine[1]).astype(int).tolist()
    places: dict[tuple[int, int, str], list[int]] = {}
    for i, key in enumerate(zip(columns, rows, kinds, strict=True)):
        places.setdefault(key, []).append(i)
    number_of = Counter(kinds)
    found = [
        Dot(_middle(across[members], fine[0]), _middle(up[members], fine[1]), kind, len(members))
        for (_, _, kind), members in places.items()
    ]
    return tuple(sorted(found, key=lambda dot: (-number_of[dot.kind], -dot.labs)))


def _middle(values: Floats, fine: float) -> float:
    """Return the mean, without the noise of floating-point numbers about zero."""
    mean = float(values.mean())
    return mean if abs(mean) > 1e-6 * fine else 0.0


def labs_alt_text(data: LabsPicture) -> str:
    """Describe the picture of simulated labs for readers who do not see it.

    Examples
    --------
    >>> from stoichkit import experiments
    >>> from stoichkit.planning.plan import Plan
    >>> from stoichkit.planning.simulation import simulate_labs
    >>> plan = Plan(experiment=experiments.load("copper-silver"), consumed_mol=0.002)
    >>> print(labs_alt_text(labs_data(simulate_labs(plan, "copper(I)")))[:75])
    Amounts plane with 400 simulated labs as dots; copper(I) is true: 2 mmol of
    """
    counts = data.counts
    inside = sum(dot.labs for dot in data.dots)
    widths = []
    for values in ([d.consumed_mmol for d in data.dots], [d.produced_mmol for d in data.dots]):
        widths.append(f"{number(min(values))} to {number(max(values))} mmol")
    listed = joined((f"{ray.name} {number(ray.ratio)}" for ray in data.rays), most=20)
    a, b = data.expected_mmol
    return (
        f"Amounts plane with {inside} simulated labs as dots; {data.truth} is true: "
        f"{number(a)} mmol of {data.consumed} consumed and {number(b)} mmol of {data.produced} "
        f"produced. The dots lie from {widths[0]} across and from {widths[1]} up, on "
        f"{len(data.dots)} places. Each candidate is a ray through the origin with its mole ratio "
        f"as slope: {listed}. Verdicts at {percent(data.coverage)} coverage: {counts.right} single "
        f"out {data.truth} (filled circles), {counts.not_told_apart} cannot tell (open circles), "
        f"{counts.none_fits} fit no candidate (crosses), {counts.wrong} single out a wrong "
        f"candidate (diamonds). {data.words}"
    )


def draw_labs(ax: Axes, data: LabsPicture) -> None:
    """Draw the simulated labs on matplotlib axes, in data coordinates of mmol.

    The axes are filled with the whole picture, numbers and labels included; set their size
    before, at least 400 by 320 points.
    """
    from .render import paint, size_of

    paint(ax, labs_scene(data, *size_of(ax)))


_STEM = 12.0
_MOST_STRIPS = 4
_LIMIT_DASHES = (1.5, 2.5)
_KEY = (
    ("right", "the true candidate is singled out"),
    ("not_told_apart", "not told apart"),
    ("none_fits", "none fits"),
    ("wrong", "a wrong one is singled out"),
)


class _Frame(NamedTuple):
    """The inner frame in points and the amounts at its edges."""

    left: float
    right: float
    bottom: float
    top: float
    x: tuple[float, float]
    y: tuple[float, float]

    @property
    def scale(self) -> tuple[float, float]:
        """Points per mmol across and up."""
        return (
            (self.right - self.left) / (self.x[1] - self.x[0]),
            (self.top - self.bottom) / (self.y[1] - self.y[0]),
        )

    def at(self, a: float, b: float) -> tuple[float, float]:
        """Return the place of two amounts, in points."""
        dx, dy = self.scale
        return self.left + (a - self.x[0]) * dx, self.bottom + (b - self.y[0]) * dy

    def segment(self, ratio: float, offset: float) -> Line | None:
        """Return what of the line b = ratio a + offset is within the frame."""
        low = max(self.x[0], (self.y[0] - offset) / ratio)
        high = min(self.x[1], (self.y[1] - offset) / ratio)
        if low >= high:
            return None
        return Line((self.at(low, ratio * low + offset), self.at(high, ratio * high + offset)))


def labs_scene(data: LabsPicture, width: float, height: float) -> Scene:
    """Lay out the simulated labs.

    Parameters
    ----------
    data : LabsPicture
    width, height : float
        Size in points, at least 400 by 320.

    Returns
    -------
    Scene
        With the amounts in mmol at its edges as limits.
    """
    x, y = data.x, data.y
    aside = [ray for ray in data.rays if ray.ratio * x[1] <= y[1]]
    above = [ray for ray in data.rays if ray.ratio * x[1] > y[1]][::-1]  # from left to right
    up_ticks = ticks(y[0], y[1], most=max(int(height / 45.0), 3))
    up_texts = tick_labels(up_ticks)
    left = 27.0 + max(text_width(t, SMALL) for t in up_texts)
    room = max((text_width(_label(r, data), BODY, bold=True) for r in aside), default=0.0)
    right = width - (room + _STEM + 4.0 if aside else 14.0)
    key, key_height = _key(data, left, width)
    bottom = 40.0 + key_height

    def edge(end: float) -> list[EdgeLabel]:
        step = (end - left) / (x[1] - x[0])
        return [
            EdgeLabel(left + (y[1] / r.ratio - x[0]) * step, _label(r, data), _true(r, data), INK)
            for r in above
        ]

    _, taken, reach = edge_labels(edge(right), 0.0, left, right)
    if reach > width - 2.0:
        right -= reach - width + 2.0
        _, taken, _ = edge_labels(edge(right), 0.0, left, right)
    frame = _Frame(left, right, bottom, height - taken - 6.0, x, y)
    shifted, _, _ = edge_labels(edge(right), frame.top, left, right)
    items = [
        *_background(frame),
        *_axes(frame, data, up_ticks, up_texts),
        *_rays(frame, data),
        *shifted,
        *_side_labels(frame, data, aside),
        *_expected(frame, data),
        *(part for dot in data.dots for part in _dot(frame, dot)),
        *key,
    ]
    dx, dy = frame.scale
    x_low, y_low = x[0] - frame.left / dx, y[0] - frame.bottom / dy
    return Scene(
        width, height, tuple(items), (x_low, x_low + width / dx), (y_low, y_low + height / dy)
    )


def _true(ray: LabRay, data: LabsPicture) -> bool:
    return ray.name == data.truth


def _label(ray: LabRay, data: LabsPicture) -> str:
    return f"{ray.label} (true)" if _true(ray, data) else ray.label


def _background(frame: _Frame) -> list[Item]:
    items: list[Item] = []
    zero_x, zero_y = frame.at(0.0, 0.0)
    left, right, low, top = frame[:4]
    if frame.x[0] < 0:
        items.append(Polygon(((left, low), (zero_x, low), (zero_x, top), (left, top)), SHADE))
    if frame.y[0] < 0:
        items.append(Polygon(((left, low), (right, low), (right, zero_y), (left, zero_y)), SHADE))
    if frame.x[0] < 0 or frame.y[0] < 0:
        items.append(Line(((zero_x, low), (zero_x, top)), EXCLUDED, 0.8))
        items.append(Line(((left, zero_y), (right, zero_y)), EXCLUDED, 0.8))
        items.append(
            Words(right - 4, low + 3, "shaded: below zero", SMALL, "end", False, EXCLUDED_TEXT)
        )
    return items


def _axes(
    frame: _Frame, data: LabsPicture, up_ticks: list[float], up_texts: list[str]
) -> list[Item]:
    left, right, low, top = frame[:4]
    items: list[Item] = [
        Line(((left, top), (right, top), (right, low)), GRID, 0.8),
        Line(((left, top), (left, low), (right, low)), INK, 1.0),
    ]
    numbers, _ = across_axis(frame.x, (left, right), low)
    items += numbers
    for value, text in zip(up_ticks, up_texts, strict=True):
        at = frame.at(0.0, value)[1]
        items.append(Line(((left, at), (left - 4.0, at)), INK, 0.8))
        items.append(Words(left - 6.0, at - 0.36 * SMALL, text, SMALL, "end"))
    across = f"amount of {data.consumed} consumed, from the readings / mmol"
    up = f"amount of {data.produced} produced / mmol"
    items.append(Words((left + right) / 2, low - 28.0, across, BODY, "middle"))
    items.append(Words(BODY + 4.0, (low + top) / 2, up, BODY, "middle", False, INK, 90.0))
    return items


def _rays(frame: _Frame, data: LabsPicture) -> list[Item]:
    items: list[Item] = []
    if len(data.rays) <= _MOST_STRIPS:
        for ray in data.rays:
            for offset in (-ray.limit_mmol, ray.limit_mmol):
                edge = frame.segment(ray.ratio, offset)
                if edge is not None:
                    items.append(edge._replace(ink=EXCLUDED, width=0.9, dashes=_LIMIT_DASHES))
    for ray in sorted(data.rays, key=lambda ray: _true(ray, data)):
        line = frame.segment(ray.ratio, 0.0)
        if line is not None:
            true = _true(ray, data)
            items.append(line._replace(ink=INK if true else EXCLUDED, width=2.0 if true else 1.0))
    return items


def _side_labels(frame: _Frame, data: LabsPicture, rays: list[LabRay]) -> list[Item]:
    wanted = [frame.at(frame.x[1], ray.ratio * frame.x[1])[1] for ray in rays]
    placed = spread(wanted, 1.3 * BODY, frame.bottom + BODY / 2, frame.top)
    items: list[Item] = []
    for ray, at, y in zip(rays, wanted, placed, strict=True):
        items.append(Line(((frame.right, at), (frame.right + _STEM - 3, y)), EXCLUDED, 0.6))
        items.append(
            Words(
                frame.right + _STEM,
                y - 0.36 * BODY,
                _label(ray, data),
                BODY,
                "start",
                _true(ray, data),
                INK,
            )
        )
    return items


def _expected(frame: _Frame, data: LabsPicture) -> list[Item]:
    """Mark the true amounts by two lines to the axes."""
    x, y = frame.at(*data.expected_mmol)
    return [
        Line(((x, frame.bottom), (x, frame.bottom + 9.0)), INK, 2.4),
        Line(((frame.left, y), (frame.left + 9.0, y)), INK, 2.4),
    ]


def _dot(frame: _Frame, dot: Dot) -> list[Item]:
    x, y = frame.at(dot.consumed_mmol, dot.produced_mmol)
    return _mark(dot.kind, x, y, min(1.7 * math.sqrt(dot.labs), 9.0))


def _mark(kind: str, x: float, y: float, size: float) -> list[Item]:
    if kind == "right":
        return [Mark(x, y, "circle", TRIAL, max(size, 2.0))]
    if kind == "wrong":
        return [Mark(x, y, "diamond", MEAN, size + 2.0)]
    if kind == "not_told_apart":
        return [Ellipse((x, y), (size, 0.0), (0.0, size), EXCLUDED_TEXT, 0.9)]
    s = size + 0.8
    return [
        Line(((x - s, y - s), (x + s, y + s)), INK, 1.1),
        Line(((x - s, y + s), (x + s, y - s)), INK, 1.1),
    ]


def _key(data: LabsPicture, left: float, width: float) -> tuple[list[Item], float]:
    """Return the key with the number of labs of each verdict, and its height."""
    total = data.counts.labs
    entries = [(kind, f"{words}: {getattr(data.counts, kind)} of {total}") for kind, words in _KEY]
    column = (width - left) / 2
    two = all(24.0 + text_width(words, SMALL) <= column for _, words in entries)
    rows = [entries[:2], entries[2:]] if two else [[entry] for entry in entries]
    said = ["Larger marks stand for more labs. Thick ticks on the axes: the true amounts."]
    if len(data.rays) <= _MOST_STRIPS:
        said.append(
            f"Between its dotted lines a candidate is compatible at {percent(data.coverage)}."
        )
    notes = [line for one in said for line in wrapped(one, width - left - 4.0, SMALL)]
    height = (len(rows) + len(notes)) * (SMALL + 4.5) + 4.0
    items: list[Item] = []
    y = height - SMALL - 2.0
    for row in rows:
        for i, (kind, words) in enumerate(row):
            x = left + i * column
            items += _mark(kind, x + 6.0, y + 0.36 * SMALL, 3.0)
            items.append(Words(x + 16.0, y, words, SMALL))
        y -= SMALL + 4.5
    for note in notes:
        items.append(Words(left, y, note, SMALL, "start", False, EXCLUDED_TEXT))
        y -= SMALL + 4.5
    return items, height
