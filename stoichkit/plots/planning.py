"""Chances, curves, map.

Chances of each verdict as stacked bars, one bar for each candidate taken as true.

Chance of a right conclusion over reacting masses and balances: as curves and as a map.

Layout of the curves and the map of planned chances in points.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from itertools import groupby, pairwise
from typing import TYPE_CHECKING

import numpy as np

from ..experiments.record import Experiment
from ..planning.design import DesignMap
from ..planning.outcomes import Chances
from ..planning.sentences import chance_text, chances_sentence, map_sentence, step_text
from ..uncertainty.sources import Floats
from .rays import label_of
from .scene import (
    BACKGROUND,
    BODY,
    DASHES,
    EXCLUDED,
    EXCLUDED_TEXT,
    GRID,
    INK,
    MEAN,
    REST,
    SHADE,
    SMALL,
    TRIAL,
    Item,
    Line,
    Mark,
    Polygon,
    Scene,
    Words,
    clean,
    joined,
    number,
    shown_species,
    text_width,
)

if TYPE_CHECKING:
    from matplotlib.axes import Axes

__all__ = [
    "ChancesPicture",
    "DesignPicture",
    "chances_alt_text",
    "chances_data",
    "chances_scene",
    "curves_alt_text",
    "curves_scene",
    "design_data",
    "draw_chances",
    "draw_curves",
    "draw_map",
    "map_alt_text",
    "map_scene",
    "row_of",
    "sample_of",
    "trials_in_words",
]

_PARTS = ("right", "not_told_apart", "none_fits", "wrong")
_KEY = {
    "right": "the true one is singled out",
    "not_told_apart": "not told apart",
    "none_fits": "none fits",
    "wrong": "a wrong one is singled out",
}
_HEAD = "if this is true"
_BAR, _PITCH = 15.0, 22.0
_MOST_SENTENCES = 4


@dataclass(frozen=True, slots=True)
class ChancesPicture:
    """What the bars show.

    Attributes
    ----------
    chances : tuple of (str, str, Chances)
        Name of each candidate taken as true, the name as written in the picture, and the chances.
    target : float
        Chance of a right conclusion asked for.
    """

    chances: tuple[tuple[str, str, Chances], ...]
    target: float


def chances_data(chances: Iterable[tuple[str, Chances]], target: float) -> ChancesPicture:
    """Return what the bars show.

    Parameters
    ----------
    chances : iterable of (str, Chances)
        Such as ``operating_characteristic(plan).chances.items()``.
    target : float
        0 to 1.

    Examples
    --------
    >>> chances_data([("SnO2", Chances(0.93, 0.004, 0.046, 0.02))], 0.9).chances[0][1]
    'SnO₂'
    """
    rows = tuple((clean(name), label_of(clean(name)), found) for name, found in chances)
    return ChancesPicture(rows, target)


def chances_alt_text(data: ChancesPicture) -> str:
    """Describe the bars for readers who do not see them.

    >>> print(chances_alt_text(chances_data([("SnO2", Chances(0.93, 0.004, 0.046, 0.02))], 0.9)))
    Stacked bars: chance of each verdict, one bar for each candidate taken as true; target for
    the right conclusion 0.9. If SnO2 is true, the chance that a lab singles it out is 0.93; that
    it cannot tell, 0.05; that it finds no candidate to fit, 0.02; that it names the wrong one,
    0.004.
    """
    head = (
        "Stacked bars: chance of each verdict, one bar for each candidate taken as true; target "
        f"for the right conclusion {number(data.target)}."
    )
    if len(data.chances) <= _MOST_SENTENCES:
        return " ".join([head, *(chances_sentence(name, found) for name, _, found in data.chances)])
    listed = joined(
        (f"{name} {chance_text(found.right, data.target)}" for name, _, found in data.chances),
        most=20,
    )
    wrong = chance_text(max(found.wrong for _, _, found in data.chances))
    return (
        f"{head} Chance that the true candidate is singled out: {listed}. Chance that a wrong one "
        f"is singled out, at the most: {wrong}. The rest is not told apart, or none fits."
    )


def _hatched(x: float, end: float, low: float, high: float) -> list[Item]:
    """Return slanting lines within a rectangle."""
    items: list[Item] = []
    rise = high - low
    start = x - rise
    while start < end:
        left, right = max(start, x), min(start + rise, end)
        if right - left > 0.3:
            items.append(
                Line(((left, low + left - start), (right, low + right - start)), EXCLUDED, 0.7)
            )
        start += 4.0
    return items


def sample_of(part: str, x: float, end: float, low: float, high: float) -> list[Item]:
    """Fill a rectangle in the way of one verdict, told apart without colour."""
    fill = {"right": TRIAL, "not_told_apart": SHADE, "none_fits": BACKGROUND, "wrong": MEAN}[part]
    corners = ((x, low), (end, low), (end, high), (x, high))
    items: list[Item] = [Polygon(corners, fill)]
    if part == "not_told_apart":
        items += _hatched(x, end, low, high)
    if part == "wrong":
        middle = 0.5 * (low + high)
        items.append(Line(((x, middle), (end, middle)), INK, 0.8))
    items.append(Line((*corners, corners[0]), INK, 0.8))
    return items


def chances_scene(data: ChancesPicture, width: float) -> Scene:
    """Lay out the bars.

    Parameters
    ----------
    data : ChancesPicture
    width : float
        Width in points; the height follows from it.
    """
    column = max(text_width(w, BODY) for w in (_HEAD, *(label for _, label, _ in data.chances)))
    left, right = min(column, 0.35 * width) + 20.0, width - 46.0
    bottom = 44.0
    top = bottom + _PITCH * len(data.chances)
    key, taken = _key(width)
    height = top + 16.0 + taken
    items: list[Item] = []
    for i in range(6):
        x = left + (right - left) * i / 5
        items.append(Line(((x, bottom), (x, bottom - 4.0)), INK, 0.8))
        items.append(Words(x, bottom - 5.0 - SMALL, f"{i / 5:.1f}", SMALL, "middle"))
    items.append(Words((left + right) / 2, 8.0, "chance of each verdict", BODY, "middle"))
    items.append(Line(((left, bottom), (right, bottom)), INK, 1.0))
    for i, (_, label, found) in enumerate(data.chances):
        low = top - (i + 1) * _PITCH + 0.5 * (_PITCH - _BAR)
        items += _bar(found, left, right, low, left + (right - left) * data.target)
        baseline = low + 0.5 * _BAR - 0.36 * BODY
        items.append(Words(left - 6.0, baseline, label, BODY, "end"))
        right_chance = chance_text(found.right, data.target)
        shown = right_chance.replace("below ", "< ").replace("above ", "> ")
        bold = found.right >= data.target
        items.append(Words(right + 5.0, baseline, shown, SMALL, "start", bold))
    x = left + (right - left) * data.target
    items.append(Line(((x, bottom), (x, top + 3.0)), BACKGROUND, 3.0))
    items.append(Line(((x, bottom), (x, top + 3.0)), INK, 1.4, DASHES))
    target = f"target {number(data.target)}"
    half = text_width(target, SMALL) / 2
    items.append(Words(min(x, right - half), top + 5.0, target, SMALL, "middle", True))
    items.append(Words(width - 4.0, top + 5.0, "right", SMALL, "end", False, EXCLUDED_TEXT))
    items.append(Words(left - 6.0, top + 5.0, _HEAD, SMALL, "end", False, EXCLUDED_TEXT))
    items += [_lifted(item, height - taken) for item in key]
    return Scene(width, height, tuple(items), (0.0, width), (0.0, height))


def _bar(found: Chances, left: float, right: float, low: float, target: float) -> list[Item]:
    """Return one bar; its numbers keep clear of the line at the target."""
    items: list[Item] = []
    x = left
    for part in _PARTS:
        share = getattr(found, part)
        end = x + share * (right - left)
        if end - x >= 0.4:
            items += sample_of(part, x, end, low, low + _BAR)
        words = chance_text(share)
        wide = text_width(words, SMALL)
        start, stop = x, end
        if abs(0.5 * (x + end) - target) < wide / 2 + 4.0:
            start, stop = (x, target) if target - x > end - target else (target, end)
        if stop - start >= wide + 6.0:
            baseline = low + 0.5 * _BAR - 0.36 * SMALL
            middle = 0.5 * (start + stop)
            if part in ("not_told_apart", "wrong"):
                a, b = middle - wide / 2 - 1.0, middle + wide / 2 + 1.0
                box = ((a, low + 2.5), (b, low + 2.5), (b, low + _BAR - 2.5), (a, low + _BAR - 2.5))
                items.append(Polygon(box, BACKGROUND))
            ink = BACKGROUND if part == "right" else INK
            items.append(Words(middle, baseline, words, SMALL, "middle", False, ink))
        x = end
    return items


def _key(width: float) -> tuple[list[Item], float]:
    """Return the key above its own lower edge, and its height."""
    rows: list[list[str]] = [[]]
    used = 0.0
    for part in _PARTS:
        length = 24.0 + text_width(_KEY[part], SMALL) + 12.0
        if rows[-1] and used + length > width - 12.0:
            rows.append([])
            used = 0.0
        rows[-1].append(part)
        used += length
    height = len(rows) * (SMALL + 6.0) + 6.0
    items: list[Item] = []
    y = height - SMALL - 4.0
    for row in rows:
        x = 12.0
        for part in row:
            items += sample_of(part, x, x + 18.0, y - 1.0, y + SMALL - 1.0)
            items.append(Words(x + 23.0, y, _KEY[part], SMALL))
            x += 24.0 + text_width(_KEY[part], SMALL) + 12.0
        y -= SMALL + 6.0
    return items, height


def _lifted(item: Item, by: float) -> Item:
    if isinstance(item, Words):
        return item._replace(y=item.y + by)
    if isinstance(item, Line | Polygon):
        return item._replace(points=tuple((x, y + by) for x, y in item.points))
    return item


def draw_chances(ax: Axes, data: ChancesPicture) -> None:
    """Draw the bars on matplotlib axes, which they fill with all their words."""
    from .render import paint, size_of

    width, _ = size_of(ax)
    paint(ax, chances_scene(data, width))


@dataclass(frozen=True, slots=True, eq=False)
class DesignPicture:
    """What the curves and the map show.

    Attributes
    ----------
    species : str
        The consumed substance as written on the axis.
    masses_g, readabilities_g : ndarray, shapes (m,) and (r,)
    chance : ndarray, shape (r, m)
        Chance of a right conclusion for the hardest candidate.
    target : float
    trials : int
    marked : tuple of (float, float)
        Display step of each balance at hand and the smallest mass of the map that reaches the
        target on it (nan if none does), g.
    planned : (float, float) or None
        Mass and display step of the plan, g.
    words : str
        What it comes to, in a sentence.
    """

    species: str
    masses_g: Floats
    readabilities_g: Floats
    chance: Floats
    target: float
    trials: int
    marked: tuple[tuple[float, float], ...]
    planned: tuple[float, float] | None
    words: str


def design_data(
    found: DesignMap,
    experiment: Experiment,
    *,
    marked_g: Iterable[float] = (),
    planned: tuple[float, float] | None = None,
) -> DesignPicture:
    """Return what the curves and the map show.

    Parameters
    ----------
    found : DesignMap
    experiment : Experiment
    marked_g : iterable of float
        Display steps of the balances at hand, g.
    planned : (float, float), optional
        Mass to react and display step of the plan, g.

    Examples
    --------
    >>> from stoichkit import experiments
    >>> from stoichkit.planning.design import design_map
    >>> lab = experiments.load("copper-silver")
    >>> found = design_map(lab, masses_g=[0.01, 0.1, 1.0], readabilities_g=[0.01, 0.1])
    >>> design_data(found, lab, marked_g=[0.01]).marked
    ((0.01, 0.1),)
    """
    marked = tuple(sorted(set(marked_g)))
    return DesignPicture(
        species=shown_species(experiment.consumed.species),
        masses_g=found.masses_g,
        readabilities_g=found.readabilities_g,
        chance=found.chance,
        target=found.target,
        trials=found.trials,
        marked=tuple((step, found.smallest_mass_g(step)) for step in marked),
        planned=planned,
        words=map_sentence(found, experiment, marked),
    )


def row_of(data: DesignPicture, step_g: float) -> Floats:
    """Return the chances on the balance of the map nearest to a display step."""
    return np.asarray(data.chance[int(np.argmin(np.abs(np.log(data.readabilities_g / step_g))))])


def trials_in_words(data: DesignPicture) -> str:
    """Write the number of trials."""
    return f"{data.trials} trial{'s' if data.trials > 1 else ''}"


def _mass_range(data: DesignPicture) -> str:
    return f"{number(float(data.masses_g[0]))} to {number(float(data.masses_g[-1]))} g"


def curves_alt_text(data: DesignPicture) -> str:
    """Describe the curves for readers who do not see them."""
    parts = [
        f"Curves: chance of a right conclusion for the hardest candidate against the mass of "
        f"{data.species} to react, {_mass_range(data)}, with {trials_in_words(data)}; one "
        f"curve for each balance; target {number(data.target)} as a dashed line."
    ]
    for step, _ in data.marked:
        chances = row_of(data, step)
        picks = sorted({0, chances.size // 4, chances.size // 2, 3 * chances.size // 4})
        listed = ", ".join(
            f"{chance_text(float(chances[i]))} at {number(float(data.masses_g[i]))} g"
            for i in (*picks, chances.size - 1)
        )
        parts.append(f"Read to {step_text(step)}: {listed}.")
    return " ".join([*parts, data.words])


def map_alt_text(data: DesignPicture) -> str:
    """Describe the map for readers who do not see it."""
    low, high = (step_text(float(data.readabilities_g[i])) for i in (0, -1))
    parts = [
        f"Map: across, mass of {data.species} to react, {_mass_range(data)}; up, readability of "
        f"the balance, {low} to {high}; both logarithmic; {trials_in_words(data)}. Shaded by the "
        "chance of a right conclusion for the hardest candidate: the darker, the smaller; white "
        f"where it reaches the target, {number(data.target)}; a thick line at the target."
    ]
    if data.planned is not None:
        mass, step = data.planned
        parts.append(
            f"The plan, {number(mass)} g on a balance read to {step_text(step)}, is a diamond."
        )
    return " ".join([*parts, data.words])


def draw_curves(ax: Axes, data: DesignPicture) -> None:
    """Draw the curves on matplotlib axes, which they fill with all their words."""
    from .render import paint, size_of

    paint(ax, curves_scene(data, *size_of(ax)))


def draw_map(ax: Axes, data: DesignPicture) -> None:
    """Draw the map on matplotlib axes, which it fills with all its words."""
    from .render import paint, size_of

    paint(ax, map_scene(data, *size_of(ax)))


_LOOKS: tuple[tuple[float, tuple[float, float] | None], ...] = (
    (2.0, None),
    (1.6, (7.0, 2.5)),
    (1.6, (2.0, 2.0)),
    (1.0, None),
    (1.0, (5.0, 5.0)),
)


def _log_ticks(low: float, high: float) -> list[tuple[float, str]]:
    """Return the places of ticks with their labels, "" for those without."""
    first, last = math.floor(math.log10(low) + 1e-9), math.ceil(math.log10(high) - 1e-9)
    labelled = (1,) if last - first > 3 else (1, 2, 5)
    found = []
    for power in range(first, last + 1):
        for digit in range(1, 10):
            value = digit * 10.0**power
            if low * (1 - 1e-9) <= value <= high * (1 + 1e-9):
                found.append((value, number(value, 2) if digit in labelled else ""))
    return found


class _Frame:
    """The inner frame with a logarithmic axis across."""

    def __init__(self, data: DesignPicture, box: tuple[float, float, float, float]) -> None:
        self.left, self.right, self.bottom, self.top = box
        self.low, self.high = float(data.masses_g[0]), float(data.masses_g[-1])

    def x(self, mass_g: float) -> float:
        part = math.log(mass_g / self.low) / math.log(self.high / self.low)
        return self.left + part * (self.right - self.left)

    def across(self, data: DesignPicture) -> list[Item]:
        """Return the axis across with its numbers and title, and the frame."""
        items: list[Item] = []
        for value, text in _log_ticks(self.low, self.high):
            at, size = self.x(value), 4.0 if text else 2.0
            items.append(Line(((at, self.bottom), (at, self.bottom - size)), INK, 0.8))
            if text:
                items.append(Words(at, self.bottom - 5.0 - SMALL, text, SMALL, "middle"))
        title = f"mass of {data.species} to react in each trial / g"
        items.append(Words((self.left + self.right) / 2, self.bottom - 28.0, title, BODY, "middle"))
        right, top = self.right, self.top
        corner = ((self.left, top), (right, top), (right, self.bottom))
        items.append(Line(corner, GRID, 0.8))
        ends = ((self.left, top), (self.left, self.bottom), (right, self.bottom))
        return [*items, Line(ends, INK, 1.0)]


def _heading(data: DesignPicture, height: float) -> list[Item]:
    text = f"Chance of a right conclusion for the hardest candidate, {trials_in_words(data)}"
    return [Words(12.0, height - BODY - 4.0, text, BODY, "start", True)]


def curves_scene(data: DesignPicture, width: float, height: float) -> Scene:
    """Lay out the curves of the marked balances (five of them at most).

    Parameters
    ----------
    data : DesignPicture
    width, height : float
        Size in points.
    """
    frame = _Frame(data, (46.0, width - 16.0, 40.0, height - 26.0))

    def y(chance: float) -> float:
        return frame.bottom + chance * (frame.top - frame.bottom - 8.0)

    items = [*_heading(data, height), *frame.across(data)]
    for i in range(6):
        at = y(i / 5)
        items.append(Line(((frame.left, at), (frame.left - 4.0, at)), INK, 0.8))
        items.append(Words(frame.left - 6.0, at - 0.36 * SMALL, f"{i / 5:.1f}", SMALL, "end"))
    middle = 0.5 * (frame.bottom + frame.top)
    items.append(
        Words(BODY + 4.0, middle, "chance of a right conclusion", BODY, "middle", False, INK, 90.0)
    )
    at = y(data.target)
    items.append(Line(((frame.left, at), (frame.right, at)), MEAN, 1.0, DASHES))
    target = f"target {number(data.target)}"
    items.append(Words(frame.left + 4.0, at + 3.0, target, SMALL, "start", True))
    labels: list[Item] = []
    for i, ((step, least), (thick, dashes)) in enumerate(
        zip(data.marked[: len(_LOOKS)], _LOOKS, strict=False)
    ):
        chances = row_of(data, step)
        points = [
            (frame.x(float(m)), y(float(c))) for m, c in zip(data.masses_g, chances, strict=True)
        ]
        items.append(Line(tuple(points), TRIAL, thick, dashes))
        if not math.isnan(least):
            items.append(Mark(frame.x(least), y(float(np.interp(least, data.masses_g, chances))),
                              "diamond", INK, 4.0))  # fmt: skip
        labels += _curve_label(points, y((0.30, 0.52, 0.70)[i % 3]), step_text(step), frame)
    return Scene(width, height, (*items, *labels), (0.0, width), (0.0, height))


def _curve_label(
    points: Sequence[tuple[float, float]], level: float, text: str, frame: _Frame
) -> list[Item]:
    """Write which balance a curve belongs to, on the curve, in a white box."""
    above = next((i for i, p in enumerate(points) if p[1] >= level), len(points) - 1)
    x, y = points[above]
    half = text_width(text, SMALL) / 2 + 2.0
    x = min(max(x, frame.left + half + 1.0), frame.right - half - 1.0)
    box = ((x - half, y - 5.0), (x + half, y - 5.0), (x + half, y + 6.0), (x - half, y + 6.0))
    return [Polygon(box, BACKGROUND), Words(x, y - 0.36 * SMALL, text, SMALL, "middle", True)]


def _levels(target: float) -> list[float]:
    return [*(v for v in (0.25, 0.5, 0.75) if v < target - 0.02), target]


def _shade(band: int, bands: int) -> str:
    """Return the grey of a band: white for the last one, which reaches the target."""
    if band == bands - 1:
        return BACKGROUND
    part = band / max(bands - 2, 1)
    dark, light = (tuple(int(c[i : i + 2], 16) for i in (1, 3, 5)) for c in (REST, SHADE))
    return "#" + "".join(
        f"{round(a + part * (b - a)):02x}" for a, b in zip(dark, light, strict=True)
    )


def map_scene(data: DesignPicture, width: float, height: float) -> Scene:
    """Lay out the map.

    Parameters
    ----------
    data : DesignPicture
    width, height : float
        Size in points.
    """
    levels = _levels(data.target)
    bands = len(levels) + 1
    frame = _Frame(data, (58.0, width - 58.0, 62.0, height - 26.0))
    steps = data.readabilities_g
    log = np.log(steps)
    half = 0.5 * (log[1] - log[0]) if log.size > 1 else 0.5
    low, high = float(log[0]) - half, float(log[-1]) + half

    def y(log_step: float) -> float:
        return frame.bottom + (log_step - low) / (high - low) * (frame.top - frame.bottom)

    edges = np.concatenate(
        [data.masses_g[:1], np.sqrt(data.masses_g[1:] * data.masses_g[:-1]), data.masses_g[-1:]]
    )
    items: list[Item] = []
    band_of = np.searchsorted(levels, data.chance, side="right")
    for i, row in enumerate(band_of.tolist()):
        bottom = y(float(log[i]) - half)
        top = min(y(float(log[i]) + half) + 0.5, frame.top)  # overlapping, so that no seam shows
        start = 0
        for band, cells in groupby(row):
            end = start + len(list(cells))
            if band < bands - 1:
                a, b = frame.x(float(edges[start])), frame.x(float(edges[end]))
                box = ((a, bottom), (b, bottom), (b, top), (a, top))
                items.append(Polygon(box, _shade(band, bands)))
            start = end
    line = [
        (frame.x(mass), y(float(place)))
        for place, row in zip(log, data.chance, strict=True)
        if not math.isnan(mass := _crossing(data.masses_g, row, data.target))
    ]
    if len(line) > 1:
        items.append(Line(tuple(line), INK, 2.2))
    items += [*_heading(data, height), *frame.across(data)]
    for value, text in _log_ticks(float(steps[0]), float(steps[-1])):
        at, size = y(math.log(value)), 4.0 if text else 2.0
        items.append(Line(((frame.left, at), (frame.left - size, at)), INK, 0.8))
        if text:
            items.append(Words(frame.left - 6.0, at - 0.36 * SMALL, text, SMALL, "end"))
    middle = 0.5 * (frame.bottom + frame.top)
    title = "readability of the balance / g"
    items.append(Words(BODY + 4.0, middle, title, BODY, "middle", False, INK, 90.0))
    for step, least in data.marked:
        at = y(math.log(step))
        if not frame.bottom <= at <= frame.top:
            continue
        items.append(Line(((frame.left, at), (frame.right, at)), TRIAL, 1.2, DASHES))
        items.append(Words(frame.right + 5.0, at - 0.36 * SMALL, step_text(step), SMALL))
        if not math.isnan(least):
            items.append(Mark(frame.x(least), at, "circle", TRIAL, 4.0))
    if data.planned is not None:
        mass, step = data.planned
        if frame.low <= mass <= frame.high and low <= math.log(step) <= high:
            items.append(Mark(frame.x(mass), y(math.log(step)), "diamond", MEAN, 6.0))
    items += _map_key(data, levels)
    return Scene(width, height, tuple(items), (0.0, width), (0.0, height))


def _crossing(masses_g: Floats, chances: Floats, target: float) -> float:
    """Return the smallest mass that reaches the target, interpolated; nan if none does."""
    met = np.flatnonzero(chances >= target)
    if not met.size or met[0] == 0:
        return math.nan
    i = int(met[0])
    part = (target - chances[i - 1]) / (chances[i] - chances[i - 1])
    return float(masses_g[i - 1] * (masses_g[i] / masses_g[i - 1]) ** part)


def _map_key(data: DesignPicture, levels: Sequence[float]) -> list[Item]:
    """Return the key, below the axis title."""
    texts = [f"below {levels[0]:g}"]
    texts += [f"{a:g} to {b:g}" for a, b in pairwise(levels)]
    texts.append(f"{levels[-1]:g} or more")
    items: list[Item] = []
    x, y = 12.0, 18.0
    for band, text in enumerate(texts):
        box = ((x, y - 1.0), (x + 14.0, y - 1.0), (x + 14.0, y + 8.0), (x, y + 8.0))
        items += [Polygon(box, _shade(band, len(texts))), Line((*box, box[0]), INK, 0.6)]
        items.append(Words(x + 18.0, y, text, SMALL))
        x += 18.0 + text_width(text, SMALL) + 9.0
    x, y = 12.0, 4.0
    entries = [("circle", TRIAL, "smallest mass of the map that is enough on a balance at hand")]
    if data.planned is not None:
        entries.append(("diamond", MEAN, "this plan"))
    for shape, ink, text in entries:
        items.append(Mark(x + 7.0, y + 3.0, shape, ink, 4.0))
        items.append(Words(x + 18.0, y, text, SMALL, "start", False, EXCLUDED_TEXT))
        x += 18.0 + text_width(text, SMALL) + 9.0
    return items
