"""Scenes: a picture as a list of lines, areas, marks and words in points.

Both renderers, matplotlib and hand-written SVG, draw the same scene, so that their pictures look
alike. The origin is the lower left corner and y points up.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from itertools import pairwise
from typing import NamedTuple

from .style import BODY, INK, SMALL, text_width, tick_labels, ticks

__all__ = [
    "EdgeLabel",
    "Ellipse",
    "Item",
    "Line",
    "Mark",
    "Polygon",
    "Scene",
    "Words",
    "across_axis",
    "edge_labels",
    "ellipse_points",
    "spread",
]


class Line(NamedTuple):
    """An open line through points; ``dashes`` are points drawn and left out."""

    points: Sequence[tuple[float, float]]
    ink: str = INK
    width: float = 1.0
    dashes: tuple[float, float] | None = None


class Polygon(NamedTuple):
    """A filled area without an outline."""

    points: Sequence[tuple[float, float]]
    fill: str


class Ellipse(NamedTuple):
    """The points centre + u cos t + v sin t: an outline, and a light fill if ``opacity`` is set."""

    centre: tuple[float, float]
    u: tuple[float, float]
    v: tuple[float, float]
    ink: str
    width: float
    opacity: float = 0.0


class Mark(NamedTuple):
    """A filled ``"circle"`` or ``"diamond"`` with a white edge; ``size`` is its half-width."""

    x: float
    y: float
    shape: str
    ink: str
    size: float


class Words(NamedTuple):
    """A line of text on its baseline; ``angle`` in degrees about the anchor, anticlockwise."""

    x: float
    y: float
    text: str
    size: float = BODY
    anchor: str = "start"
    bold: bool = False
    ink: str = INK
    angle: float = 0.0


_CURVE = 0.5522847498307936
"""Where the control points of a quarter circle as a cubic curve lie (error 0.03 %)."""

Item = Line | Polygon | Ellipse | Mark | Words


@dataclass(frozen=True, slots=True)
class Scene:
    """A picture ready to be rendered.

    Attributes
    ----------
    width, height : float
        Size in points.
    items : tuple of Item
        In drawing order.
    x_limits, y_limits : (float, float)
        Values of the pictured quantities at the left and right, lower and upper edge of the
        scene, so that more can be drawn on top in data coordinates.
    """

    width: float
    height: float
    items: tuple[Item, ...]
    x_limits: tuple[float, float] = (0.0, 1.0)
    y_limits: tuple[float, float] = (0.0, 1.0)


def spread(wanted: Sequence[float], gap: float, low: float, high: float) -> list[float]:
    """Move positions apart to at least ``gap``, as little as possible, within two bounds.

    Parameters
    ----------
    wanted : sequence of float
        In rising order.
    gap : float
        Made smaller when there is no room for all.

    Examples
    --------
    >>> spread([1.0, 1.0, 9.0], 2.0, 0.0, 10.0)
    [0.0, 2.0, 9.0]
    """
    if not wanted:
        return []
    if len(wanted) > 1:
        gap = min(gap, max(high - low, 0.0) / (len(wanted) - 1))
    blocks: list[list[float]] = []  # mean of (wanted − place in the block), members
    for position in wanted:
        blocks.append([position, 1.0])
        while len(blocks) > 1 and blocks[-2][0] + blocks[-2][1] * gap > blocks[-1][0]:
            start, count = blocks.pop()
            before, members = blocks[-1]
            total = before * members + (start - members * gap) * count
            blocks[-1] = [total / (members + count), members + count]
    placed: list[float] = []
    for start, count in blocks:
        placed += [start + i * gap for i in range(int(count))]
    last = len(placed) - 1
    return [min(max(p, low + i * gap), high - (last - i) * gap) for i, p in enumerate(placed)]


class EdgeLabel(NamedTuple):
    """A label above a horizontal edge: what it says and the position it belongs to."""

    at: float
    text: str
    bold: bool
    ink: str


def edge_labels(
    labels: Sequence[EdgeLabel], y: float, low: float, high: float, limit: float = math.inf
) -> tuple[list[Item], float, float]:
    """Place labels above a horizontal edge, level if they fit side by side, else aslant.

    Parameters
    ----------
    labels : sequence of EdgeLabel
        In rising order of position.
    y : float
        Height of the edge.
    low, high : float
        Left and right end of the room for them.
    limit : float
        Where slanting labels must end at the latest.

    Returns
    -------
    (list of Item, float, float)
        What to draw, the height taken above the edge, and how far it reaches to the right.
    """
    if not labels:
        return [], 0.0, low
    widths = [text_width(one.text, BODY, bold=one.bold) for one in labels]
    wanted = [one.at for one in labels]
    items: list[Item] = []
    stem = 9.0
    level = spread(wanted, max(widths) + 8.0, low + max(widths) / 2, high - max(widths) / 2)
    fits = all(abs(x - at) <= 36.0 for x, at in zip(level, wanted, strict=True))
    apart = all(b - a >= max(widths) + 7.0 for a, b in pairwise(level))
    if fits and apart:
        for one, x in zip(labels, level, strict=True):
            items.append(Line(((one.at, y), (x, y + stem)), one.ink, 0.6))
            items.append(Words(x, y + stem + 3.0, one.text, BODY, "middle", one.bold, one.ink))
        return items, stem + BODY + 4.0, max(x + w / 2 for x, w in zip(level, widths, strict=True))
    cosine, sine = 0.819, 0.574  # 35 degrees
    high = min(high, limit - cosine * max(widths) - 6.0)
    placed = spread(wanted, 1.3 * BODY / sine, low, high)
    for one, x in zip(labels, placed, strict=True):
        items.append(Line(((one.at, y), (x, y + stem)), one.ink, 0.6))
        items.append(
            Words(x + 2.0, y + stem + 2.0, one.text, BODY, "start", one.bold, one.ink, 35.0)
        )
    taken = stem + max(widths) * sine + BODY
    return items, taken, max(x + w * cosine for x, w in zip(placed, widths, strict=True)) + 6.0


def across_axis(
    values: tuple[float, float], ends: tuple[float, float], y: float
) -> tuple[list[Item], list[float]]:
    """Draw ticks and numbers of a horizontal axis below the height ``y``.

    Returns
    -------
    (list of Item, list of float)
        What to draw, and where the ticks are.
    """
    low, high = values
    left, right = ends
    marks = ticks(low, high, most=max(int((right - left) / 55.0), 2))
    items: list[Item] = []
    places = []
    for value, text in zip(marks, tick_labels(marks), strict=True):
        x = left + (right - left) * (value - low) / (high - low)
        places.append(x)
        items.append(Line(((x, y), (x, y - 4.0)), INK, 0.8))
        items.append(Words(x, y - 5.0 - SMALL, text, SMALL, "middle"))
    return items, places


def ellipse_points(item: Ellipse) -> list[tuple[float, float]]:
    """Return the start and the twelve control points of four cubic curves round an ellipse."""
    (x, y), (ux, uy), (vx, vy) = item.centre, item.u, item.v

    def at(p: float, q: float) -> tuple[float, float]:
        return x + p * ux + q * vx, y + p * uy + q * vy

    k = _CURVE
    turns = [
        (1, 0), (1, k), (k, 1), (0, 1), (-k, 1), (-1, k), (-1, 0),
        (-1, -k), (-k, -1), (0, -1), (k, -1), (1, -k), (1, 0),
    ]  # fmt: skip
    return [at(p, q) for p, q in turns]
