"""What scenes are put together from: boxes, arrows, hatching, notes and keys."""

from __future__ import annotations

import math
from collections.abc import Callable, Iterable, Sequence
from typing import TypeVar

from .look import GREY, INK, SMALL
from .scene import Item, Line, Point, Polygon, Words
from .writing import text_width

T = TypeVar("T")


def box(left: float, right: float, low: float, high: float) -> tuple[Point, ...]:
    """Return the corners of a rectangle."""
    return (left, low), (right, low), (right, high), (left, high)


def closed(corners: Sequence[Point], ink: str, width: float) -> Line:
    """Return the outline of an area."""
    return Line((*corners, corners[0]), ink, width)


def framed(
    corners: Sequence[Point], fill: str, ink: str, width: float, inner: Iterable[Item] = ()
) -> list[Item]:
    """Fill an area, draw what is inside, and its outline."""
    return [Polygon(corners, fill), *inner, closed(corners, ink, width)]


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
        items.append(Words(x, y, line, SMALL, ink=GREY))
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
    column: float = 0.0,
    pitch: float = SMALL + 6.0,
    margins: tuple[float, float] = (4.0, 2.0),
    notes: Sequence[str] = (),
) -> tuple[list[Item], float]:
    """Lay out the key at the foot of a picture, and say how high it is.

    Each entry is a kind, of which ``sample`` draws one at (x, baseline), and its meaning, which is
    written ``indent`` to the right of it; it takes ``around`` before and after the width of its
    words, or a ``column`` if that is given. Rows are filled up to ``room``; ``margins`` are left
    free above and below. Grey notes follow below the entries.
    """
    before, after = around
    widths = [column or before + text_width(words, SMALL) + after for _, words in entries]
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
