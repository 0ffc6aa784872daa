"""Layout of the amounts plane in points."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

from .decision import DecisionPicture, Spot
from .rays import Ray, fewer
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
    DASHES,
    EXCLUDED,
    EXCLUDED_TEXT,
    GRID,
    INK,
    MEAN,
    SHADE,
    SMALL,
    TRIAL,
    number,
    percent,
    text_width,
    tick_labels,
    ticks,
    wrapped,
)

__all__ = ["decision_scene"]

_MOST_LABELS = 20
_MOST_REGIONS = 60
_STEM = 12.0


@dataclass(frozen=True, slots=True)
class _Frame:
    """The inner frame: where it is in points and the amounts at its edges."""

    left: float
    right: float
    bottom: float
    top: float
    x: tuple[float, float]
    y: tuple[float, float]

    def at(self, a: float, b: float) -> tuple[float, float]:
        """Return the place of two amounts, in points."""
        dx, dy = self.scale
        return self.left + (a - self.x[0]) * dx, self.bottom + (b - self.y[0]) * dy

    @property
    def scale(self) -> tuple[float, float]:
        """Points per mmol across and up."""
        return (
            (self.right - self.left) / (self.x[1] - self.x[0]),
            (self.top - self.bottom) / (self.y[1] - self.y[0]),
        )


def _limits(spots: Sequence[Spot], axis: int) -> tuple[float, float]:
    """Return the least and largest amount on an axis: from zero, lower only if a region is."""
    values = [s.produced_mmol if axis else s.consumed_mmol for s in spots]
    low = min(v - s.reach[axis] for v, s in zip(values, spots, strict=True))
    high = max(v + s.reach[axis] for v, s in zip(values, spots, strict=True))
    low = min(low, 0.0)
    high = max(high, -0.3 * low)  # room for the rays, wherever the points are
    if high == low:
        return 0.0, 1.0
    return (low - 0.04 * (high - low) if low < 0 else 0.0), high + 0.1 * (high - low)


def decision_scene(data: DecisionPicture, width: float, height: float) -> Scene:
    """Lay out the amounts plane.

    Parameters
    ----------
    data : DecisionPicture
    width, height : float
        Size in points.

    Returns
    -------
    Scene
        With the amounts in mmol at its edges as limits.
    """
    x, y = _limits(data.spots, 0), _limits(data.spots, 1)
    labelled = fewer(data.rays, _MOST_LABELS, data.ratio if math.isfinite(data.ratio) else 0.0)
    aside = [ray for ray in labelled if ray.ratio * x[1] <= y[1]]
    above = [ray for ray in labelled if ray.ratio * x[1] > y[1]][::-1]  # from left to right
    up_ticks = ticks(y[0], y[1], most=max(int(height / 45.0), 3))
    up_texts = tick_labels(up_ticks)
    left = 27.0 + max(text_width(t, SMALL) for t in up_texts)
    room = max((text_width(r.label, BODY, bold=r.compatible) for r in aside), default=0.0)
    right = width - max(room + _STEM + 4.0 if aside else 12.0, 12.0)
    note = _key(data, left, width - left, len(data.rays) - len(labelled), _hidden(data, x, y))
    bottom = 40.0 + note[1]
    # how far labels above the frame reach does not depend on its height
    step = (right - left) / (x[1] - x[0])
    edge = [
        EdgeLabel(left + (y[1] / r.ratio - x[0]) * step, r.label, r.compatible, r.text_ink)
        for r in above
    ]
    _, taken, reach = edge_labels(edge, 0.0, left, right)
    if reach > width - 2.0:  # slanting labels need room on the right
        right -= reach - width + 2.0
        step = (right - left) / (x[1] - x[0])
        edge = [
            e._replace(at=left + (y[1] / r.ratio - x[0]) * step)
            for e, r in zip(edge, above, strict=True)
        ]
        _, taken, _ = edge_labels(edge, 0.0, left, right)
    frame = _Frame(left, right, bottom, height - taken - 6.0, x, y)
    shifted, _, _ = edge_labels(edge, frame.top, left, right)
    parts = [
        *_background(frame),
        *_axes(frame, data, up_ticks, up_texts),
        *_rays(frame, data.rays),
        *shifted,
        *_side_labels(frame, aside),
        *_spots(frame, data),
        *note[0],
    ]
    dx, dy = frame.scale
    x_low, y_low = x[0] - frame.left / dx, y[0] - frame.bottom / dy
    return Scene(
        width,
        height,
        tuple(parts),
        (x_low, x_low + width / dx),
        (y_low, y_low + height / dy),
    )


def _background(frame: _Frame) -> list[Item]:
    """Shade what lies below zero, and draw the zero lines there."""
    items: list[Item] = []
    zero_x, zero_y = frame.at(0.0, 0.0)
    left, right, low, top = frame.left, frame.right, frame.bottom, frame.top
    if frame.x[0] < 0:
        items.append(Polygon(((left, low), (zero_x, low), (zero_x, top), (left, top)), SHADE))
        if zero_x - left > SMALL + 3:
            items.append(
                Words(
                    left + SMALL + 1,
                    top - 4,
                    "below zero",
                    SMALL,
                    "end",
                    False,
                    EXCLUDED_TEXT,
                    90.0,
                )
            )
    if frame.y[0] < 0:
        items.append(Polygon(((left, low), (right, low), (right, zero_y), (left, zero_y)), SHADE))
        if zero_y - low > SMALL + 3:
            items.append(
                Words(right - 4, low + 3, "below zero", SMALL, "end", False, EXCLUDED_TEXT)
            )
    if frame.x[0] < 0 or frame.y[0] < 0:
        items.append(Line(((zero_x, low), (zero_x, top)), INK, 0.8))
        items.append(Line(((left, zero_y), (right, zero_y)), INK, 0.8))
    return items


def _axes(
    frame: _Frame, data: DecisionPicture, up_ticks: list[float], up_texts: list[str]
) -> list[Item]:
    left, right, low, top = frame.left, frame.right, frame.bottom, frame.top
    items: list[Item] = [
        Line(((left, top), (right, top), (right, low)), GRID, 0.8),
        Line(((left, top), (left, low), (right, low)), INK, 1.0),
    ]
    numbers, _ = across_axis(frame.x, (left, right), low)
    items += numbers
    for value, text in zip(up_ticks, up_texts, strict=True):
        y = frame.at(0.0, value)[1]
        items.append(Line(((left, y), (left - 4.0, y)), INK, 0.8))
        items.append(Words(left - 6.0, y - 0.36 * SMALL, text, SMALL, "end"))
    across = f"amount of {data.consumed} consumed / mmol"
    up = f"amount of {data.produced} produced / mmol"
    items.append(Words((left + right) / 2, low - 28.0, across, BODY, "middle"))
    items.append(Words(BODY + 4.0, (low + top) / 2, up, BODY, "middle", False, INK, 90.0))
    return items


def _rays(frame: _Frame, rays: tuple[Ray, ...]) -> list[Item]:
    items: list[Item] = []
    for ray in sorted(rays, key=lambda ray: ray.compatible):
        end = min(frame.x[1], frame.y[1] / ray.ratio)
        start = max(frame.x[0], frame.y[0] / ray.ratio)  # continued below zero, if that is shown
        line = (frame.at(start, ray.ratio * start), frame.at(end, ray.ratio * end))
        if ray.compatible:
            items.append(Line(line, INK, 1.8))
        else:
            items.append(Line(line, EXCLUDED, 1.0, DASHES))
    return items


def _side_labels(frame: _Frame, rays: list[Ray]) -> list[Item]:
    wanted = [frame.at(frame.x[1], ray.ratio * frame.x[1])[1] for ray in rays]
    placed = spread(wanted, 1.3 * BODY, frame.bottom + BODY / 2, frame.top)
    items: list[Item] = []
    for ray, at, y in zip(rays, wanted, placed, strict=True):
        items.append(Line(((frame.right, at), (frame.right + _STEM - 3, y)), ray.ink, 0.6))
        items.append(
            Words(
                frame.right + _STEM,
                y - 0.36 * BODY,
                ray.label,
                BODY,
                "start",
                ray.compatible,
                ray.text_ink,
            )
        )
    return items


def _spots(frame: _Frame, data: DecisionPicture) -> list[Item]:
    dx, dy = frame.scale
    items: list[Item] = []

    def region(spot: Spot, ink: str, width: float, opacity: float) -> None:
        centre = frame.at(spot.consumed_mmol, spot.produced_mmol)
        u, v = (spot.u[0] * dx, spot.u[1] * dy), (spot.v[0] * dx, spot.v[1] * dy)
        items.append(Ellipse(centre, u, v, ink, width, opacity))

    many = len(data.trials) > 12
    if len(data.trials) <= _MOST_REGIONS:
        for spot in data.trials:
            region(spot, TRIAL, 0.5 if many else 0.9, 0.0 if many else 0.10)
    if data.mean is not None:
        region(data.mean, MEAN, 1.8, 0.0)
    if data.mean is not None:
        place = frame.at(data.mean.consumed_mmol, data.mean.produced_mmol)
        items.append(Mark(*place, "diamond", MEAN, 5.0))
    for spot in data.trials:
        place = frame.at(spot.consumed_mmol, spot.produced_mmol)
        items.append(Mark(*place, "circle", TRIAL, 2.0 if many else 3.0))
    return items


def _hidden(data: DecisionPicture, x: tuple[float, float], y: tuple[float, float]) -> bool:
    """Return whether the smallest region is hidden behind its mark in a picture of usual size."""
    across, up = data.spots[-1].reach
    return 400.0 * across < 5.0 * (x[1] - x[0]) and 250.0 * up < 5.0 * (y[1] - y[0])


def _key(
    data: DecisionPicture, left: float, width: float, unlabelled: int, hidden: bool
) -> tuple[list[Item], float]:
    """Return the key, its lines of explanation, and the height of both, from the lower edge."""
    noun = "trial" if data.mean is None else "mean"
    rule = (
        f"A ray that crosses the region of the {noun} is compatible"
        if data.exact
        else f"The region of the {noun} shows roughly which rays are compatible"
    )
    size = f"{number(data.factor)} standard uncertainties"
    if data.trial_factor != data.factor and data.mean is not None:
        size = f"mean: {size}, from the scatter; trials: {number(data.trial_factor)}"
    text = f"{rule} (first-order ellipse; {size})."
    if hidden:
        text += f" The region of the {noun} is smaller than its mark."
    if len(data.trials) > _MOST_REGIONS:
        text += " Regions of the trials are left out."
    if unlabelled:
        text += f" {unlabelled} rays are not labelled."
    lines = wrapped(text, width - 4.0, SMALL)
    entries: list[tuple[str, str]] = []
    if any(ray.compatible for ray in data.rays):
        entries.append(("solid", "compatible"))
    if not all(ray.compatible for ray in data.rays):
        entries.append(("dashed", f"excluded at {percent(data.coverage)} coverage"))
    entries.append(
        ("circle", "trial" if len(data.trials) == 1 else f"trial (of {len(data.trials)})")
    )
    if data.mean is not None:
        entries.append(("diamond", "mean"))
    rows: list[list[tuple[str, str]]] = [[]]
    used = 0.0
    for entry in entries:
        length = 28.0 + text_width(entry[1], SMALL) + 12.0
        if rows[-1] and used + length > width:
            rows.append([])
            used = 0.0
        rows[-1].append(entry)
        used += length
    height = (len(lines) + len(rows)) * (SMALL + 4.0) + 4.0
    items: list[Item] = []
    y = height - SMALL - 2.0
    for row in rows:
        x = left
        for sample, words in row:
            middle = y + 0.36 * SMALL
            if sample in ("solid", "dashed"):
                ends = ((x, middle), (x + 22.0, middle))
                if sample == "solid":
                    items.append(Line(ends, INK, 1.8))
                else:
                    items.append(Line(ends, EXCLUDED, 1.0, DASHES))
            else:
                ink, radius = (TRIAL, 3.0) if sample == "circle" else (MEAN, 5.0)
                items.append(
                    Ellipse(
                        (x + 12.0, middle),
                        (10.0, 0.0),
                        (0.0, 4.5),
                        ink,
                        0.9 if sample == "circle" else 1.8,
                    )
                )
                items.append(Mark(x + 12.0, middle, sample, ink, radius * 0.8))
            items.append(Words(x + 27.0, y, words, SMALL))
            x += 27.0 + text_width(words, SMALL) + 12.0
        y -= SMALL + 4.0
    for line in lines:
        items.append(Words(left, y, line, SMALL, "start", False, EXCLUDED_TEXT))
        y -= SMALL + 4.0
    return items, height
