"""Axes, and planes of two amounts: round numbers, frames, and rays named at the edges."""

from __future__ import annotations

import math
from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass, replace
from itertools import chain, pairwise
from typing import NamedTuple

from .look import BODY, GRID, INK, PALE, SHADE, SMALL
from .scene import Item, Line, Point, Polygon, Scene, Words
from .shapes import box
from .writing import number, text_width

Ends = tuple[float, float]
Marks = Sequence[tuple[float, str]]
"""Places along an axis with what is written there, "" for a short tick without a number."""
_STEM = 12.0


def ticks(low: float, high: float, *, most: int = 7) -> list[float]:
    """Return at most ``most`` round numbers from ``low`` to ``high``, 0 among them if it is inside.

    >>> ticks(0.0, 2.4, most=6)
    [0.0, 0.5, 1.0, 1.5, 2.0]
    """
    span = high - low
    if not (span > 0 and math.isfinite(span)):
        return [low]
    power = math.floor(math.log10(span / most))
    for step in (m * 10.0**p for p in (power, power + 1) for m in (1, 2, 5)):
        first, last = math.ceil(low / step - 1e-9), math.floor(high / step + 1e-9)
        if last - first + 1 <= most:
            return [i * step for i in range(first, last + 1)]
    return [low]


def tick_labels(values: Sequence[float]) -> list[str]:
    """Write the numbers along an axis, all with the same decimals.

    >>> tick_labels([0.0, 0.5, 1.0])
    ['0.0', '0.5', '1.0']
    """
    if len(values) < 2:
        return [number(v) for v in values]
    step = values[1] - values[0]
    decimals = max(-math.floor(math.log10(step) + 1e-9), 0)
    if decimals > 6 or max(map(abs, values)) >= 1e7:
        return [number(v) for v in values]
    return [f"{v:.{decimals}f}".replace("-", "−") for v in values]


def marks_below(marks: Iterable[tuple[float, str]], y: float) -> list[Item]:
    """Draw ticks and numbers below a horizontal axis."""
    items: list[Item] = []
    for x, text in marks:
        items.append(Line(((x, y), (x, y - (4.0 if text else 2.0))), INK, 0.8))
        if text:
            items.append(Words(x, y - 5.0 - SMALL, text, SMALL, "middle"))
    return items


def marks_left(marks: Iterable[tuple[float, str]], x: float) -> list[Item]:
    """Draw ticks and numbers to the left of an upright axis."""
    items: list[Item] = []
    for y, text in marks:
        items.append(Line(((x, y), (x - (4.0 if text else 2.0), y)), INK, 0.8))
        if text:
            items.append(Words(x - 6.0, y - 0.36 * SMALL, text, SMALL, "end"))
    return items


class Across(NamedTuple):
    """An axis across: its ends in points and the values there."""

    left: float
    right: float
    low: float
    high: float

    def at(self, value: float) -> float:
        """Return the place of a value, kept between both ends."""
        value = min(max(value, self.low), self.high)
        return self.left + (self.right - self.left) * (value - self.low) / (self.high - self.low)

    def beyond(self, value: float) -> bool:
        """Say whether a value lies beyond the ends."""
        return not self.low <= value <= self.high

    def ticks(self) -> Marks:
        """Return places and numbers of round values."""
        found = ticks(self.low, self.high, most=max(int((self.right - self.left) / 55.0), 2))
        span = (self.right - self.left, self.high - self.low)
        places = [self.left + span[0] * (value - self.low) / span[1] for value in found]
        return list(zip(places, tick_labels(found), strict=True))


def up_marks(y: Ends, height: float, step: float = 45.0) -> Marks:
    """Return the amounts with their numbers for an upright axis, one for each ``step`` points."""
    found = ticks(*y, most=max(int(height / step), 3))
    return list(zip(found, tick_labels(found), strict=True))


def spread(wanted: Sequence[float], gap: float, low: float, high: float) -> list[float]:
    """Move positions apart to at least ``gap``, as little as possible, within two bounds.

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


class Tag(NamedTuple):
    """The name of a ray as it is written at the edge of a picture.

    ``ink`` is the colour of the name, ``stem`` that of the line from the ray to it at the right.
    """

    ratio: float
    text: str
    bold: bool
    ink: str
    stem: str

    @property
    def width(self) -> float:
        """Width of the name in points."""
        return text_width(self.text, BODY, bold=self.bold)


def tag_labels(
    tags: Sequence[Tag],
    at: Callable[[float], float],
    y: float,
    low: float,
    high: float,
    limit: float = math.inf,
) -> tuple[list[Item], float, float]:
    """Place names above a horizontal edge, level if they fit side by side, else aslant.

    ``at`` gives the place of a ratio along the edge, whose height is ``y``; tags come from left to
    right. Names are spread between ``low`` and ``high``, slanting ones kept left of ``limit``.
    Returned are the names, the height they take, and how far they reach to the right.
    """
    if not tags:
        return [], 0.0, low
    widths = [tag.width for tag in tags]
    wanted = [at(tag.ratio) for tag in tags]
    stem, cosine, sine = 9.0, 0.819, 0.574  # 35 degrees
    placed = spread(wanted, max(widths) + 8.0, low + max(widths) / 2, high - max(widths) / 2)
    near = all(abs(x - place) <= 36.0 for x, place in zip(placed, wanted, strict=True))
    level = near and all(b - a >= max(widths) + 7.0 for a, b in pairwise(placed))
    if level:
        taken = stem + BODY + 4.0
        reach = max(x + w / 2 for x, w in zip(placed, widths, strict=True))
    else:
        high = min(high, limit - cosine * max(widths) - 6.0)
        placed = spread(wanted, 1.3 * BODY / sine, low, high)
        taken = stem + max(widths) * sine + BODY
        reach = max(x + w * cosine for x, w in zip(placed, widths, strict=True)) + 6.0
    items: list[Item] = []
    for tag, place, x in zip(tags, wanted, placed, strict=True):
        items.append(Line(((place, y), (x, y + stem)), tag.ink, 0.6))
        words = Words(x, y + stem + 3.0, tag.text, BODY, "middle", tag.bold, tag.ink)
        if not level:
            words = words._replace(x=x + 2.0, y=y + stem + 2.0, anchor="start", angle=35.0)
        items.append(words)
    return items, taken, reach


@dataclass(frozen=True, slots=True)
class Plane:
    """The plane of two amounts: its frame in points and the amounts at the edges of the frame.

    ``width`` and ``height`` are those of the whole picture; ``marks`` are amounts with their
    numbers along the upright axis; ``labels`` name the rays outside the frame, and ``foot`` is
    what stands below the title of the axis across.
    """

    width: float
    height: float
    left: float
    right: float
    bottom: float
    top: float
    x: Ends
    y: Ends
    marks: Marks
    labels: Sequence[Item] = ()
    foot: Sequence[Item] = ()

    @classmethod
    def fitted(
        cls,
        tags: Sequence[Tag],
        x: Ends,
        y: Ends,
        size: tuple[float, float],
        foot: Callable[[float], tuple[list[Item], float]],
        *,
        spare: float = 14.0,
        all_bold: bool = False,
    ) -> Plane:
        """Return the plane that leaves room for numbers, titles, key and the names of the rays.

        The rays run through the origin and come in rising order. ``foot`` gives, for the left edge
        of the frame, what stands at the foot of the picture and its height. ``spare`` is the room
        to the right of the frame if no ray is named there; with ``all_bold`` the room suits bold
        names, whichever of them is bold.
        """
        width, height = size
        aside = [tag for tag in tags if tag.ratio * x[1] <= y[1]]
        above = [tag for tag in tags if tag.ratio * x[1] > y[1]][::-1]  # from left to right
        marks = up_marks(y, height)
        left = 27.0 + max(text_width(text, SMALL) for _, text in marks)
        widths = [tag._replace(bold=tag.bold or all_bold).width for tag in aside]
        right = width - (max(widths) + _STEM + 4.0 if aside else spare)
        below, taken = foot(left)
        bottom = 40.0 + taken

        limit = math.inf

        def named(y_edge: float, end: float) -> tuple[list[Item], float, float]:
            step = (end - left) / (x[1] - x[0])
            return tag_labels(
                above, lambda ratio: left + (y[1] / ratio - x[0]) * step, y_edge, left, end, limit
            )

        # how far names above the frame reach does not depend on its height
        _, taken, reach = named(0.0, right)
        if reach > width - 2.0:  # slanting names need room on the right
            limit = width - 2.0  # they move less than the edge of the frame does
            right -= reach - limit
            _, taken, _ = named(0.0, right)
        top = height - taken - 6.0
        plane = cls(width, height, left, right, bottom, top, x, y, marks, foot=below)
        return replace(plane, labels=[*named(top, right)[0], *plane._names_aside(aside)])

    def _names_aside(self, tags: Sequence[Tag]) -> list[Item]:
        """Name the rays that leave the frame at its right edge."""
        wanted = [self.at(self.x[1], tag.ratio * self.x[1])[1] for tag in tags]
        placed = spread(wanted, 1.3 * BODY, self.bottom + BODY / 2, self.top)
        items: list[Item] = []
        for tag, place, y in zip(tags, wanted, placed, strict=True):
            x, level = self.right + _STEM, y - 0.36 * BODY
            items.append(Line(((self.right, place), (x - 3, y)), tag.stem, 0.6))
            items.append(Words(x, level, tag.text, BODY, "start", tag.bold, tag.ink))
        return items

    @property
    def scale(self) -> tuple[float, float]:
        """Points per amount across and up."""
        return (
            (self.right - self.left) / (self.x[1] - self.x[0]),
            (self.top - self.bottom) / (self.y[1] - self.y[0]),
        )

    def at(self, a: float, b: float) -> Point:
        """Return the place of two amounts, in points."""
        dx, dy = self.scale
        return self.left + (a - self.x[0]) * dx, self.bottom + (b - self.y[0]) * dy

    def segment(
        self, slope: float, offset: float = 0.0, *, start: float = -math.inf
    ) -> tuple[Point, ...]:
        """Return what of the line b = slope a + offset is within the frame, from a start on."""
        low, high = max(self.x[0], start), self.x[1]
        if slope:
            ends = sorted((edge - offset) / slope for edge in self.y)
            low, high = max(low, ends[0]), min(high, ends[1])
        if low >= high:
            return ()
        return self.at(low, slope * low + offset), self.at(high, slope * high + offset)

    def shade(self, axis: int) -> list[Item]:
        """Shade what lies below zero across (0) or up (1), if anything does."""
        zero_x, zero_y = self.at(0.0, 0.0)
        if (self.x, self.y)[axis][0] >= 0:
            return []
        right, top = (self.right, zero_y) if axis else (zero_x, self.top)
        return [Polygon(box(self.left, right, self.bottom, top), SHADE)]

    def zero_line(self, axis: int, ink: str = PALE) -> Line:
        """Return the line at zero across (0, upright) or up (1, level)."""
        x, y = self.at(0.0, 0.0)
        ends = ((self.left, y), (self.right, y)) if axis else ((x, self.bottom), (x, self.top))
        return Line(ends, ink, 0.8)

    def edges(self) -> list[Item]:
        """Draw the frame with the numbers across."""
        left, right, low, top = self.left, self.right, self.bottom, self.top
        return [
            Line(((left, top), (right, top), (right, low)), GRID, 0.8),
            Line(((left, top), (left, low), (right, low)), INK, 1.0),
            *marks_below(Across(left, right, *self.x).ticks(), low),
        ]

    def upright(self) -> list[Item]:
        """Draw the numbers of the upright axis."""
        return marks_left(((self.at(0.0, b)[1], text) for b, text in self.marks), self.left)

    def axes(
        self, consumed: str, produced: str, *, source: str = "", zeros: Sequence[Item] = ()
    ) -> list[Item]:
        """Draw the frame with numbers, the lines at zero, and the amounts of what are shown."""
        middle = (self.left + self.right) / 2, (self.bottom + self.top) / 2
        across = f"amount of {consumed} consumed{source} / mmol"
        if text_width(across, BODY) > self.width - 4.0:
            across = f"amount of {consumed} consumed / mmol"
        half = text_width(across, BODY) / 2 + 2.0
        x = min(max(middle[0], half), self.width - half)
        up = f"amount of {produced} produced / mmol"
        return [
            *self.edges(),
            *zeros,
            *self.upright(),
            Words(x, self.bottom - 28.0, across, BODY, "middle"),
            Words(BODY + 4.0, middle[1], up, BODY, "middle", angle=90.0),
        ]

    def scene(self, *groups: Iterable[Item]) -> Scene:
        """Return the scene with these items, in drawing order; its limits are amounts."""
        dx, dy = self.scale
        x, y = self.x[0] - self.left / dx, self.y[0] - self.bottom / dy
        limits = (x, x + self.width / dx), (y, y + self.height / dy)
        return Scene(self.width, self.height, tuple(chain(*groups)), *limits)
