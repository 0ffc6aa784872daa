"""Layout of the curves and the map of planned chances in points."""

from __future__ import annotations

import math
from collections.abc import Sequence
from itertools import groupby, pairwise

import numpy as np

from ..plan_sentences import step_text
from ..shapes import Floats
from .design import DesignPicture, row_of, trials_in_words
from .scene import Item, Line, Mark, Polygon, Scene, Words
from .style import (
    BACKGROUND,
    BODY,
    DASHES,
    EXCLUDED_TEXT,
    GRID,
    INK,
    MEAN,
    REST,
    SHADE,
    SMALL,
    TRIAL,
    number,
    text_width,
)

__all__ = ["curves_scene", "map_scene"]

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
