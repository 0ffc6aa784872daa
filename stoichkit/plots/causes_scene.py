"""Layout in points of the effects as bars, and the keys of both pictures of causes."""

from __future__ import annotations

import math
from collections.abc import Sequence

from .causes import EffectBar, EffectsPicture, title_of
from .scene import Item, Line, Mark, Polygon, Scene, Words, across_axis
from .style import (
    BACKGROUND,
    BAR,
    BODY,
    EXCLUDED,
    EXCLUDED_TEXT,
    GRID,
    HEADING,
    INK,
    SHADE,
    SMALL,
    TRIAL,
    text_width,
    wrapped,
)

__all__ = ["MARGIN", "Point", "box", "effects_scene", "key_of"]

Point = tuple[float, float]
MARGIN = 10.0
"""Points left free at both sides."""
_ZONE = 24.0
"""Width of the zone of amounts below nothing."""
_BAR, _LINE, _GAP = 9.0, 12.0, 7.0
_THIN = 2.4
"""Least width of a range that is drawn."""
_FURTHEST = 250.0
"""Per cent: longer bars leave the picture."""
_EFFECT_KEY = (
    ("fits", "makes it fit, and is possible"),
    ("impossible", "would make it fit, not possible"),
    ("trough", "possible amounts"),
    ("exact", "fits exactly"),
    ("wrong", "wrong direction"),
)


def effects_scene(data: EffectsPicture, width: float) -> Scene:
    """Lay out the bars.

    Parameters
    ----------
    data : EffectsPicture
    width : float
        Width in points, 360 or more; the height follows from it.
    """
    zero, right = MARGIN + _ZONE, width - MARGIN - 8.0
    end = _axis_end(data.bars)
    names = [_named(bar, data) for bar in data.bars]
    heights = [
        _LINE * (1 if _level(name, bar, width) else 2) + _BAR + _GAP
        for name, bar in zip(names, data.bars, strict=True)
    ]
    label = wrapped(_axis_label(data), width - 2 * MARGIN, BODY)
    key, key_height = key_of(_EFFECT_KEY, width)
    bottom = key_height + len(label) * (BODY + 3.0) + SMALL + 12.0
    height = bottom + sum(heights) + HEADING + 16.0
    top = bottom + sum(heights)
    items: list[Item] = [
        Words(
            MARGIN,
            height - HEADING - 3.0,
            title_of(data.candidate, data.fits),
            HEADING,
            "start",
            True,
        ),
        Polygon(((MARGIN, bottom), (zero, bottom), (zero, top), (MARGIN, top)), SHADE),
    ]
    numbers, places = across_axis((0.0, end), (zero, right), bottom)
    items += [Line(((x, bottom), (x, top)), GRID, 0.7) for x in places]
    items += [*numbers, Line(((MARGIN, bottom), (right, bottom)), INK, 1.0)]
    y = top
    for bar, name, taken in zip(data.bars, names, heights, strict=True):
        items += _row(bar, name, y, width, (zero, right, end))
        y -= taken
    items.append(Line(((zero, bottom), (zero, top)), INK, 1.2))
    for i, line in enumerate(label):
        y = bottom - SMALL - 9.0 - (i + 1) * (BODY + 3.0) + 3.0
        items.append(Words((MARGIN + right) / 2, y, line, BODY, "middle"))
    return Scene(width, height, (*items, *key), (0.0, width), (0.0, height))


def _named(bar: EffectBar, data: EffectsPicture) -> str:
    mixed = len({one.of for one in data.bars}) > 1
    return f"{bar.name} (% of consumed)" if mixed and bar.of == "consumed" else bar.name


def _axis_label(data: EffectsPicture) -> str:
    kinds = {bar.of for bar in data.bars}
    what = {
        "product": "what was measured as product",
        "consumed": "what was consumed",
    }
    if len(kinds) == 1:
        return f"amount in each trial, % of {what[kinds.pop()]}"
    return f"amount in each trial, % of {what['product']} (or of consumed, where it says so)"


def _level(name: str, bar: EffectBar, width: float) -> bool:
    """Return whether the name and the words fit side by side."""
    both = text_width(name, SMALL, bold=True) + text_width(bar.words, SMALL) + 14.0
    return both <= width - 2 * MARGIN


def _axis_end(bars: Sequence[EffectBar]) -> float:
    """Return the per cent at the right end: all ranges, unless they are very far."""
    ends = [min(bar.high, _FURTHEST) for bar in bars if bar.high > 0 and math.isfinite(bar.high)]
    if not ends:
        ends = [min(bar.most, 100.0) for bar in bars if bar.most > 0]
    return 1.1 * max(ends, default=100.0)


def _row(
    bar: EffectBar, name: str, top: float, width: float, frame: tuple[float, float, float]
) -> list[Item]:
    """Return one effect: its name, what it amounts to, and its bar below."""
    zero, right, end = frame
    level = _level(name, bar, width)
    able = bar.kind in ("possible", "free")
    ink = INK if able else EXCLUDED_TEXT
    y = top - _LINE + 3.2
    # the words have a ground of their own, so that the lines of the axis do not cross them
    taken = _LINE * (1 if level else 2)
    ground = (
        (zero, top - taken),
        (right + 8.0, top - taken),
        (right + 8.0, top),
        (zero, top),
    )
    items: list[Item] = [Polygon(ground, BACKGROUND)]
    items.append(Words(zero + 4.0, y, name, SMALL, "start", able, ink))
    if level:
        items.append(Words(width - MARGIN, y, bar.words, SMALL, "end", False, ink))
    else:
        items.append(Words(zero + 4.0, y - _LINE, bar.words, SMALL, "start", False, ink))
    low = top - taken - _BAR
    return [*items, *_bar(bar, low, zero, right, end)]


def _bar(bar: EffectBar, low: float, zero: float, right: float, end: float) -> list[Item]:
    high = low + _BAR

    def at(value: float) -> float:
        return zero + (right - zero) * min(max(value, 0.0), end) / end

    items: list[Item] = []
    most = bar.most if not math.isnan(bar.most) else 0.0
    if most > 0:
        items += _trough(zero, at(most), low, high, open_end=most > end)
    if bar.kind == "wrong way":
        items += _left_arrow(zero - 5.0, low + _BAR / 2)
    if not (math.isfinite(bar.low) and math.isfinite(bar.high)) or bar.high < 0:
        return items
    inside = (max(bar.low, 0.0), min(bar.high, most))
    beyond = (max(bar.low, most, 0.0), bar.high)
    if inside[0] <= inside[1] and bar.kind in ("possible", "free"):
        a, b = _wide(at(inside[0]), at(inside[1]), right)
        items.append(Polygon(box(a, b, low, high), TRIAL))
    if beyond[0] < beyond[1]:
        a, b = _wide(at(beyond[0]), at(beyond[1]), right)
        items += _hatched(a, b, low, high)
    if bar.high > end:
        items += _right_arrow(right + 1.5, low + _BAR / 2, INK)
    if 0 <= bar.needed <= end:
        items.append(Mark(at(bar.needed), low + _BAR / 2, "diamond", INK, 4.6))
    return items


def _wide(a: float, b: float, right: float) -> Point:
    """Return the ends of a range, made wide enough to be seen."""
    if b - a >= _THIN:
        return a, b
    middle = min((a + b) / 2, right - _THIN / 2)
    return middle - _THIN / 2, middle + _THIN / 2


def box(a: float, b: float, low: float, high: float) -> tuple[Point, ...]:
    """Return the corners of a rectangle from a to b and from low to high."""
    return ((a, low), (b, low), (b, high), (a, high))


def _trough(a: float, b: float, low: float, high: float, *, open_end: bool) -> list[Item]:
    """Return the amounts that are possible: a closed box, or one that goes on to the right."""
    corners = box(a, b, low, high)
    edge = [corners[1], corners[0], corners[3], corners[2]]
    outline = Line(edge if open_end else [*edge, corners[1]], EXCLUDED, 0.9)
    items: list[Item] = [Polygon(corners, SHADE), outline]
    return [*items, *_right_arrow(b + 1.5, (low + high) / 2, EXCLUDED)] if open_end else items


def _hatched(a: float, b: float, low: float, high: float) -> list[Item]:
    items: list[Item] = [Polygon(box(a, b, low, high), BACKGROUND)]
    rise = high - low
    start = a - rise
    while start < b:
        left, right = max(start, a), min(start + rise, b)
        if right - left > 0.3:
            items.append(Line(((left, low + left - start), (right, low + right - start)), INK, 0.7))
        start += 3.5
    corners = box(a, b, low, high)
    return [*items, Line((*corners, corners[0]), INK, 0.9)]


def _right_arrow(x: float, y: float, ink: str) -> list[Item]:
    return [Polygon(((x, y - 4.5), (x + 6.0, y), (x, y + 4.5)), ink)]


def _left_arrow(x: float, y: float) -> list[Item]:
    tip = ((x, y - 4.0), (x - 7.0, y), (x, y + 4.0))
    return [
        Line(((x, y), (x + 4.0, y)), EXCLUDED_TEXT, 1.4),
        Polygon(tip, BACKGROUND),
        Line((*tip, tip[0]), EXCLUDED_TEXT, 1.1),
    ]


def key_of(entries: Sequence[tuple[str, str]], width: float) -> tuple[list[Item], float]:
    """Return the key at the foot of a picture, and its height."""
    rows: list[list[tuple[str, str]]] = [[]]
    used = 0.0
    for kind, words in entries:
        length = 24.0 + text_width(words, SMALL) + 12.0
        if rows[-1] and used + length > width - MARGIN:
            rows.append([])
            used = 0.0
        rows[-1].append((kind, words))
        used += length
    items: list[Item] = []
    height = len(rows) * (SMALL + 7.0) + 6.0
    y = height - SMALL - 4.0
    for row in rows:
        x = MARGIN
        for kind, words in row:
            items += [*_sample(kind, x, y), Words(x + 22.0, y, words, SMALL)]
            x += 24.0 + text_width(words, SMALL) + 12.0
        y -= SMALL + 7.0
    return items, height


def _sample(kind: str, x: float, y: float) -> list[Item]:
    low, high, end = y - 1.5, y + SMALL - 1.0, x + 17.0
    middle = (low + high) / 2
    corners = box(x, end, low, high)
    if kind == "impossible":
        return _hatched(x, end, low, high)
    if kind == "trough":
        return _trough(x, end, low, high, open_end=False)
    if kind == "exact":
        return [Mark(x + 8.5, middle, "diamond", INK, 4.6)]
    if kind == "wrong":
        return _left_arrow(x + 10.0, middle)
    if kind == "line":
        return [Line(((x, middle), (end, middle)), INK, 2.2)]
    fill = {"fits": TRIAL, "band": BAR, "shade": SHADE}[kind]
    edge = {"fits": TRIAL, "band": TRIAL, "shade": EXCLUDED}[kind]
    return [Polygon(corners, fill), Line((*corners, corners[0]), edge, 0.9)]
