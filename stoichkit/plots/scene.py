"""Scenes: a picture as a list of lines, areas, marks and words, with the origin lower left, y up.

Both renderers, matplotlib and SVG, draw the same scene, so that their pictures look alike. Sizes
are in points.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass
from typing import NamedTuple, Protocol, TypeVar

from .look import BODY, EXCLUDED_TEXT, INK, SMALL
from .writing import text_width

__all__ = [
    "Ellipse",
    "Item",
    "Line",
    "Mark",
    "Picture",
    "Point",
    "Polygon",
    "Scene",
    "Words",
    "box",
    "closed",
    "cross",
    "hatching",
    "in_rows",
    "key",
    "lifted",
    "remarks",
    "stacked",
    "tip",
    "widened",
]

T = TypeVar("T")
Point = tuple[float, float]


class Line(NamedTuple):
    """An open line through points; ``dashes`` are points drawn and left out."""

    points: Sequence[Point]
    ink: str = INK
    width: float = 1.0
    dashes: tuple[float, float] | None = None


class Polygon(NamedTuple):
    """A filled area without an outline."""

    points: Sequence[Point]
    fill: str


class Ellipse(NamedTuple):
    """The points centre + u cos t + v sin t: an outline, and a light fill if ``opacity`` is set."""

    centre: Point
    u: Point
    v: Point
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


class Picture(Protocol):
    """What every picture is: numbers worked out, described in words, and laid out when asked.

    Pictures are frozen records that are made by their ``of`` from what the library found, and
    drawn by :func:`stoichkit.plots.render.svg` or :func:`stoichkit.plots.render.draw`.
    """

    @property
    def title(self) -> str:
        """What the picture is called."""

    @property
    def alt_text(self) -> str:
        """The picture described for readers who do not see it."""

    def scene(self, width: float = 480.0, height: float | None = None) -> Scene:
        """Lay the picture out.

        Parameters
        ----------
        width : float
            Width in points, 360 or more.
        height : float, optional
            Height in points; the usual one if left out. Pictures whose height follows from what
            they show take no notice of it: the height of the scene is what counts.
        """


def stacked(scenes: Iterable[Scene], gap: float = 0.0) -> Scene:
    """Put scenes of one width below one another, with a gap below each."""
    scenes = tuple(scenes)
    width, height = scenes[0].width, sum(scene.height + gap for scene in scenes)
    items: list[Item] = []
    top = 0.0
    for scene in scenes:
        top += scene.height
        items += [lifted(item, height - top) for item in scene.items]
        top += gap
    return Scene(width, height, tuple(items), (0.0, width), (0.0, height))


def lifted(item: Item, by: float) -> Item:
    """Return an item at a greater height."""
    if isinstance(item, Ellipse):
        return item._replace(centre=(item.centre[0], item.centre[1] + by))
    if isinstance(item, Words | Mark):
        return item._replace(y=item.y + by)
    return item._replace(points=tuple((x, y + by) for x, y in item.points))


def box(left: float, right: float, low: float, high: float) -> tuple[Point, ...]:
    """Return the corners of a rectangle."""
    return (left, low), (right, low), (right, high), (left, high)


def closed(corners: Sequence[Point], ink: str, width: float) -> Line:
    """Return the outline of an area."""
    return Line((*corners, corners[0]), ink, width)


def tip(x: float, y: float, half: float, length: float, ink: str) -> Polygon:
    """Return the tip of an arrow that points to the right, or to the left if ``length`` < 0."""
    return Polygon(((x, y - half), (x + length, y), (x, y + half)), ink)


def cross(x: float, y: float, size: float, width: float) -> list[Item]:
    """Return a slanting cross."""
    s = size
    return [
        Line(((x - s, y - s), (x + s, y + s)), INK, width),
        Line(((x - s, y + s), (x + s, y - s)), INK, width),
    ]


def hatching(
    left: float, right: float, low: float, high: float, ink: str, step: float
) -> list[Item]:
    """Return slanting lines within a rectangle."""
    items: list[Item] = []
    rise = high - low
    start = left - rise
    while start < right:
        a, b = max(start, left), min(start + rise, right)
        if b - a > 0.3:
            items.append(Line(((a, low + a - start), (b, low + b - start)), ink, 0.7))
        start += step
    return items


def widened(a: float, b: float, least: float, right: float = math.inf) -> tuple[float, float]:
    """Return the ends of a stretch, made wide enough to be seen and kept within the right edge."""
    if b - a >= least:
        return a, b
    middle = min((a + b) / 2, right - least / 2)
    return middle - least / 2, middle + least / 2


def remarks(lines: Iterable[str], x: float, y: float, pitch: float = SMALL + 4.0) -> list[Item]:
    """Write small grey lines from the baseline ``y`` downwards."""
    items: list[Item] = []
    for line in lines:
        items.append(Words(x, y, line, SMALL, ink=EXCLUDED_TEXT))
        y -= pitch
    return items


def in_rows(widths: Sequence[float], room: float) -> list[list[int]]:
    """Return which things stand side by side if each row is filled up to ``room``.

    >>> in_rows([40.0, 40.0, 40.0], 100.0)
    [[0, 1], [2]]
    """
    rows: list[list[int]] = [[]]
    used = 0.0
    for i, width in enumerate(widths):
        if rows[-1] and used + width > room:
            rows.append([])
            used = 0.0
        rows[-1].append(i)
        used += width
    return rows


def key(
    entries: Sequence[tuple[T, str]],
    sample: Callable[[T, float, float], Iterable[Item]],
    room: float,
    *,
    left: float = 12.0,
    indent: float = 23.0,
    around: tuple[float, float] = (24.0, 12.0),
    pitch: float = SMALL + 6.0,
    margins: tuple[float, float] = (4.0, 2.0),
    notes: Sequence[str] = (),
) -> tuple[list[Item], float]:
    """Lay out the key at the foot of a picture, and say how high it is.

    Each entry is a kind, of which ``sample`` draws one at (x, baseline), and its meaning, which is
    written ``indent`` to the right of it; it takes ``around`` before and after the width of its
    words. Rows are filled up to ``room``; ``margins`` are left free above and below. Grey notes
    follow below the entries.
    """
    before, after = around
    widths = [before + text_width(words, SMALL) + after for _, words in entries]
    rows = in_rows(widths, room)
    height = (len(rows) + len(notes)) * pitch + sum(margins)
    items: list[Item] = []
    y = height - SMALL - margins[0]
    for row in rows:
        x = left
        for i in row:
            kind, words = entries[i]
            items += [*sample(kind, x, y), Words(x + indent, y, words, SMALL)]
            x += widths[i]
        y -= pitch
    return [*items, *remarks(notes, left, y, pitch)], height
