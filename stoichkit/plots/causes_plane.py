"""Layout in points of two effects in the plane of their amounts."""

from __future__ import annotations

from collections.abc import Sequence

from ..wording import two_digits
from .causes import CombinationPicture, title_of
from .causes_scene import MARGIN, Point, box, key_of
from .scene import Item, Line, Mark, Polygon, Scene, Words, across_axis
from .style import (
    BACKGROUND,
    BAR,
    BODY,
    EXCLUDED,
    GRID,
    HEADING,
    INK,
    SHADE,
    SMALL,
    TRIAL,
    text_width,
    tick_labels,
    ticks,
    wrapped,
)

__all__ = ["combination_scene"]

_PLANE_KEY = (
    ("line", "fits exactly"),
    ("band", "fits within the uncertainty"),
    ("shade", "more than the masses allow"),
)
_NO_PAIR = "no possible pair of amounts makes it fit"


def combination_scene(data: CombinationPicture, width: float, height: float) -> Scene:
    """Lay out the plane of two amounts.

    Parameters
    ----------
    data : CombinationPicture
    width, height : float
        Size in points, at least 360 by 300.

    Returns
    -------
    Scene
        With the amounts at its edges as limits.
    """
    key, key_height = key_of(_PLANE_KEY, width)
    up_ticks = ticks(*data.y, most=max(int(height / 50.0), 3))
    up_texts = tick_labels(up_ticks)
    names = [f"{n} / {u} in each trial" for n, u in zip(data.names, data.units, strict=True)]
    across = wrapped(names[0], width - 60.0, BODY)
    bottom = key_height + SMALL + 10.0 + len(across) * (BODY + 3.0)
    top = height - HEADING - 14.0
    up = wrapped(names[1], top - bottom, BODY)
    left = len(up) * (BODY + 3.0) + 16.0 + max(text_width(t, SMALL) for t in up_texts)
    right = width - 14.0
    dx, dy = (right - left) / data.x[1], (top - bottom) / data.y[1]

    def at(point: Point) -> Point:
        return left + point[0] * dx, bottom + point[1] * dy

    items: list[Item] = [
        Words(
            MARGIN,
            height - HEADING - 3.0,
            title_of(data.candidate, data.fits),
            HEADING,
            "start",
            True,
        )
    ]
    frame = box(left, right, bottom, top)
    items.append(Polygon(frame, SHADE))
    possible: list[Point] = [(0.0, 0.0), (data.x[1], 0.0), (data.x[1], data.y[1]), (0.0, data.y[1])]
    for uses, room in data.limits:
        possible = _kept(possible, (uses[0], uses[1]), room)
    if possible:
        items.append(Polygon([at(p) for p in possible], BACKGROUND))
        items.append(Line([at(p) for p in (*possible, possible[0])], EXCLUDED, 0.9))
    if data.band:
        corners = [at(p) for p in data.band]
        items.append(Polygon(corners, BAR))
        items.append(Line((*corners, corners[0]), TRIAL, 0.9))
    items += _edges(data, frame, up_ticks, up_texts, dy)
    if data.line:
        items.append(Line([at(p) for p in data.line], INK, 2.2))
        items += _ends(data, [at(p) for p in data.line], (left, right, bottom, top))
    if not data.band:
        middle = ((left + right) / 2, (bottom + top) / 2)
        said = "no room for these effects" if data.fits else _NO_PAIR
        items += _said_in(said, middle)
    for i, line in enumerate(across):
        y = bottom - SMALL - 8.0 - (i + 1) * (BODY + 3.0) + 3.0
        items.append(Words((left + right) / 2, y, line, BODY, "middle"))
    for i, line in enumerate(up):
        x = (i + 1) * (BODY + 3.0)
        items.append(Words(x, (bottom + top) / 2, line, BODY, "middle", False, INK, 90.0))
    x_low, y_low = -left / dx, -bottom / dy
    return Scene(
        width,
        height,
        (*items, *key),
        (x_low, x_low + width / dx),
        (y_low, y_low + height / dy),
    )


def _edges(
    data: CombinationPicture,
    frame: tuple[Point, ...],
    up_ticks: list[float],
    up_texts: list[str],
    dy: float,
) -> list[Item]:
    (left, bottom), (right, _), (_, top), _ = frame
    numbers, _ = across_axis(data.x, (left, right), bottom)
    items: list[Item] = [
        Line(((left, top), (right, top), (right, bottom)), GRID, 0.8),
        Line(((left, top), (left, bottom), (right, bottom)), INK, 1.0),
        *numbers,
    ]
    for value, text in zip(up_ticks, up_texts, strict=True):
        y = bottom + value * dy
        items.append(Line(((left, y), (left - 4.0, y)), INK, 0.8))
        items.append(Words(left - 6.0, y - 0.36 * SMALL, text, SMALL, "end"))
    return items


def _ends(
    data: CombinationPicture,
    ends: Sequence[Point],
    frame: tuple[float, float, float, float],
) -> list[Item]:
    """Mark the ends of the line and say the amounts there."""
    left, right, bottom, top = frame
    items: list[Item] = []
    for (a, b), (x, y) in zip(data.line, ends, strict=True):
        items.append(Mark(x, y, "diamond", INK, 5.0))
        words = f"{two_digits(a)} {data.units[0]}; {two_digits(b)} {data.units[1]}"
        wide = text_width(words, SMALL)
        start = x + 8.0 if x + 12.0 + wide <= right else x - 8.0 - wide
        start = min(max(start, left + 3.0), right - wide - 3.0)
        level = min(max(y + 6.0, bottom + 5.0), top - SMALL - 4.0)
        items += _said_at(words, start, level, wide)
    return items


def _said_at(words: str, x: float, y: float, wide: float) -> list[Item]:
    ground = box(x - 2.0, x + wide + 2.0, y - 2.5, y + SMALL)
    return [Polygon(ground, BACKGROUND), Words(x, y, words, SMALL)]


def _said_in(words: str, middle: Point) -> list[Item]:
    half = text_width(words, BODY) / 2 + 5.0
    x, y = middle
    return [
        Polygon(box(x - half, x + half, y - 5.0, y + BODY + 4.0), BACKGROUND),
        Words(x, y, words, BODY, "middle"),
    ]


def _kept(corners: Sequence[Point], uses: Point, room: float) -> list[Point]:
    """Return the part of a convex area where uses · point <= room, for drawing."""
    over = [uses[0] * x + uses[1] * y - room for x, y in corners]
    found: list[Point] = []
    for i, (here, excess) in enumerate(zip(corners, over, strict=True)):
        before, earlier = corners[i - 1], over[i - 1]
        if (excess > 0) != (earlier > 0):
            t = earlier / (earlier - excess)
            found.append(
                (before[0] + t * (here[0] - before[0]), before[1] + t * (here[1] - before[1]))
            )
        if excess <= 0:
            found.append(here)
    return found
