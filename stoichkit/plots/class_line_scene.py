"""Layout of the amounts of a class and the line through them in points."""

from __future__ import annotations

import math
from typing import NamedTuple

from .class_groups_scene import group_mark
from .class_line import ClassLinePicture, GroupSpot
from .rays import Ray, fewer
from .scene import (
    EdgeLabel,
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
    DASHES,
    EXCLUDED,
    EXCLUDED_TEXT,
    GRID,
    INK,
    MEAN,
    SHADE,
    SMALL,
    TRIAL,
    percent,
    shortened,
    text_width,
    tick_labels,
    ticks,
    with_uncertainty,
    wrapped,
)

__all__ = ["class_line_scene"]

_STEM = 12.0
_MOST_RAYS = 12
_MOST_BARS = 60
"""Classes up to so many groups show the uncertainty of each."""


class _Frame(NamedTuple):
    """The inner frame in points and the amounts at its edges."""

    left: float
    right: float
    bottom: float
    top: float
    x: tuple[float, float]
    y: tuple[float, float]

    def at(self, a: float, b: float) -> tuple[float, float]:
        """Return the place of two amounts, in points."""
        across = (self.right - self.left) / (self.x[1] - self.x[0])
        up = (self.top - self.bottom) / (self.y[1] - self.y[0])
        return self.left + (a - self.x[0]) * across, self.bottom + (b - self.y[0]) * up

    def inside(self, value: float) -> float:
        """Return an amount produced, kept between both edges."""
        return min(max(value, self.y[0]), self.y[1])

    def segment(self, slope: float, intercept: float) -> tuple[tuple[float, float], ...]:
        """Return what of a line from the axis on is within the frame."""
        low, high = 0.0, self.x[1]
        if slope:
            ends = sorted((edge - intercept) / slope for edge in self.y)
            low, high = max(low, ends[0]), min(high, ends[1])
        if low >= high:
            return ()
        return (
            self.at(low, slope * low + intercept),
            self.at(high, slope * high + intercept),
        )


def class_line_scene(data: ClassLinePicture, width: float, height: float) -> Scene:
    """Lay out the amounts of the groups.

    Parameters
    ----------
    data : ClassLinePicture
    width, height : float
        Size in points, at least 300 by 260.

    Returns
    -------
    Scene
        With the amounts in mmol at its edges as limits.
    """
    x, y = data.x, data.y
    shown = fewer(data.rays, _MOST_RAYS, data.slope if data.slope >= 0 else 0.0)
    aside = [ray for ray in shown if ray.ratio * x[1] <= y[1]]
    above = [ray for ray in shown if ray.ratio * x[1] > y[1]][::-1]  # from left to right
    up_ticks = ticks(y[0], y[1], most=max(int(height / 45.0), 3))
    up_texts = tick_labels(up_ticks)
    left = 27.0 + max(text_width(t, SMALL) for t in up_texts)
    room = max((text_width(ray.label, BODY, bold=ray.compatible) for ray in aside), default=0.0)
    right = width - (room + _STEM + 4.0 if aside else 14.0)
    notes = [line for one in _notes(data) for line in wrapped(one, width - 24.0, SMALL)]
    bottom = 40.0 + len(notes) * (SMALL + 4.0) + 2.0

    def edge(end: float) -> list[EdgeLabel]:
        step = (end - left) / (x[1] - x[0])
        return [
            EdgeLabel(
                left + (y[1] / ray.ratio - x[0]) * step, ray.label, ray.compatible, ray.text_ink
            )
            for ray in above
        ]

    _, taken, reach = edge_labels(edge(right), 0.0, left, right)
    if reach > width - 2.0:
        right -= reach - width + 2.0
        _, taken, _ = edge_labels(edge(right), 0.0, left, right)
    frame = _Frame(left, right, bottom, height - taken - 6.0, x, y)
    labels, _, _ = edge_labels(edge(right), frame.top, left, right)
    items = [
        *_band(frame, data),
        *_axes(frame, data, up_ticks, up_texts),
        *_rays(frame, data),
        *labels,
        *_side(frame, aside),
        *_line(frame, data),
        *(part for spot in data.spots for part in _spot(frame, spot, len(data.spots))),
        *_intercept(frame, data),
    ]
    at = bottom - 40.0 - SMALL
    for note in notes:
        items.append(Words(12.0, at, note, SMALL, "start", False, EXCLUDED_TEXT))
        at -= SMALL + 4.0
    across, up = (x[1] - x[0]) / (right - left), (y[1] - y[0]) / (frame.top - bottom)
    x_low, y_low = x[0] - left * across, y[0] - bottom * up
    return Scene(
        width, height, tuple(items),
        (x_low, x_low + width * across), (y_low, y_low + height * up),
    )  # fmt: skip


def _notes(data: ClassLinePicture) -> list[str]:
    text = (
        "Points: groups; full circle: singles out one, open circle: cannot tell, cross: fits none"
    )
    if any(spot.outlying for spot in data.spots):
        text += ", in a diamond: stands out"
    text += "."
    if len(data.spots) <= _MOST_BARS:
        text += " Bars: one standard uncertainty."
    if data.band:
        return [
            text,
            f"Orange: straight line through the groups; shaded: its {percent(data.coverage)} band; "
            "where it meets the upright axis: the blank.",
        ]
    return [text, "No straight line was drawn."]


def _band(frame: _Frame, data: ClassLinePicture) -> list[Item]:
    if not data.band:
        return []
    low = [frame.at(a, frame.inside(b)) for a, b, _ in data.band]
    high = [frame.at(a, frame.inside(c)) for a, _, c in data.band]
    return [Polygon((*low, *high[::-1]), SHADE)]


def _axes(
    frame: _Frame, data: ClassLinePicture, up_ticks: list[float], up_texts: list[str]
) -> list[Item]:
    left, right, low, top = frame[:4]
    items: list[Item] = [
        Line(((left, top), (right, top), (right, low)), GRID, 0.8),
        Line(((left, top), (left, low), (right, low)), INK, 1.0),
        *across_axis(frame.x, (left, right), low)[0],
    ]
    zero = frame.at(0.0, 0.0)
    if frame.y[0] < 0:
        items.append(Line(((left, zero[1]), (right, zero[1])), EXCLUDED, 0.8))
    if frame.x[0] < 0:
        items.append(Line(((zero[0], low), (zero[0], top)), EXCLUDED, 0.8))
    for value, text in zip(up_ticks, up_texts, strict=True):
        at = frame.at(0.0, value)[1]
        items.append(Line(((left, at), (left - 4.0, at)), INK, 0.8))
        items.append(Words(left - 6.0, at - 0.36 * SMALL, text, SMALL, "end"))
    across = f"amount of {data.consumed} consumed / mmol"
    up = f"amount of {data.produced} produced / mmol"
    items.append(Words((left + right) / 2, low - 28.0, across, BODY, "middle"))
    items.append(Words(BODY + 4.0, (low + top) / 2, up, BODY, "middle", False, INK, 90.0))
    return items


def _rays(frame: _Frame, data: ClassLinePicture) -> list[Item]:
    items: list[Item] = []
    for ray in sorted(data.rays, key=lambda ray: ray.compatible):
        points = frame.segment(ray.ratio, 0.0)
        if points:
            thick = 1.8 if ray.compatible else 1.0
            items.append(Line(points, ray.ink, thick, None if ray.compatible else DASHES))
    return items


def _side(frame: _Frame, rays: list[Ray]) -> list[Item]:
    """Label the rays that leave the frame at its right edge."""
    wanted = [frame.at(frame.x[1], ray.ratio * frame.x[1])[1] for ray in rays]
    placed = spread(wanted, 1.3 * BODY, frame.bottom + BODY / 2, frame.top)
    items: list[Item] = []
    for ray, at, y in zip(rays, wanted, placed, strict=True):
        items.append(Line(((frame.right, at), (frame.right + _STEM - 3, y)), ray.ink, 0.6))
        x = frame.right + _STEM
        words = Words(x, y - 0.36 * BODY, ray.label, BODY, "start", ray.compatible, ray.text_ink)
        items.append(words)
    return items


def _line(frame: _Frame, data: ClassLinePicture) -> list[Item]:
    points = frame.segment(data.slope, data.intercept_mmol) if data.band else ()
    return [Line(points, MEAN, 2.0)] if points else []


def _spot(frame: _Frame, spot: GroupSpot, count: int) -> list[Item]:
    x, y = frame.at(spot.consumed_mmol, spot.produced_mmol)
    items: list[Item] = []
    if count <= _MOST_BARS:
        left, low = frame.at(
            spot.consumed_mmol - spot.u_consumed_mmol, spot.produced_mmol - spot.u_produced_mmol
        )
        items.append(Line(((left, y), (2 * x - left, y)), TRIAL, 0.9))
        items.append(Line(((x, low), (x, 2 * y - low)), TRIAL, 0.9))
    size = 3.4 if count <= _MOST_BARS else 2.0
    items += group_mark(spot.kind, x, y, size, outlying=spot.outlying)
    if spot.outlying:
        name = shortened(spot.name, 18)
        wide = text_width(name, SMALL) + 12.0
        right = x + wide <= frame.right
        at = x + 9.0 if right else x - 9.0
        items.append(Words(at, y - 11.0, name, SMALL, "start" if right else "end", True))
    return items


def _intercept(frame: _Frame, data: ClassLinePicture) -> list[Item]:
    """Mark where the line meets the upright axis, with the interval of the blank."""
    if not data.band or not math.isfinite(data.intercept_mmol):
        return []
    low, high = (frame.inside(end) for end in data.intercept_range_mmol)
    x, y = frame.at(0.0, frame.inside(data.intercept_mmol))
    items: list[Item] = [
        Line((frame.at(0.0, low), frame.at(0.0, high)), MEAN, 3.0),
        Mark(x, y, "diamond", MEAN, 5.5),
    ]
    words = f"blank {with_uncertainty(data.intercept_mmol, data.u_intercept_mmol)} mmol"
    if not data.blank:
        words += ", not told from 0"
    at = frame.top - 14.0  # above the rays, which rise to the right
    items.append(Line(((x, y), (x + 6.0, min(y + 14.0, at)), (x + 6.0, at)), MEAN, 0.8))
    items.append(Words(x + 10.0, at, words, SMALL, "start", data.blank, INK))
    return items
