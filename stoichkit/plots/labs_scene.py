"""Layout of the simulated labs in points."""

from __future__ import annotations

import math
from typing import NamedTuple

from .labs import Dot, LabRay, LabsPicture
from .scene import (
    EdgeLabel,
    Ellipse,
    Item,
    Line,
    Mark,
    Polygon,
    Scene,
    Words,
    across_axis,
    edge_labels,
    spread,
)
from .style import (
    BODY,
    EXCLUDED,
    EXCLUDED_TEXT,
    GRID,
    INK,
    MEAN,
    SHADE,
    SMALL,
    TRIAL,
    percent,
    text_width,
    tick_labels,
    ticks,
    wrapped,
)

__all__ = ["labs_scene"]

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
