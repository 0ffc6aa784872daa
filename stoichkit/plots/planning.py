"""Chances of each verdict as stacked bars, one bar for each candidate taken as true."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from typing import TYPE_CHECKING

from ..outcomes import Chances
from ..plan_sentences import chance_text, chances_sentence
from .rays import label_of
from .scene import Item, Line, Polygon, Scene, Words
from .style import (
    BACKGROUND,
    BODY,
    DASHES,
    EXCLUDED,
    EXCLUDED_TEXT,
    INK,
    MEAN,
    SHADE,
    SMALL,
    TRIAL,
    clean,
    joined,
    number,
    text_width,
)

if TYPE_CHECKING:
    from matplotlib.axes import Axes

__all__ = [
    "ChancesPicture",
    "chances_alt_text",
    "chances_data",
    "chances_scene",
    "draw_chances",
    "sample_of",
]

_PARTS = ("right", "not_told_apart", "none_fits", "wrong")
_KEY = {
    "right": "the true one is singled out",
    "not_told_apart": "not told apart",
    "none_fits": "none fits",
    "wrong": "a wrong one is singled out",
}
_HEAD = "if this is true"
_BAR, _PITCH = 15.0, 22.0
_MOST_SENTENCES = 4


@dataclass(frozen=True, slots=True)
class ChancesPicture:
    """What the bars show.

    Attributes
    ----------
    chances : tuple of (str, str, Chances)
        Name of each candidate taken as true, the name as written in the picture, and the chances.
    target : float
        Chance of a right conclusion asked for.
    """

    chances: tuple[tuple[str, str, Chances], ...]
    target: float


def chances_data(chances: Iterable[tuple[str, Chances]], target: float) -> ChancesPicture:
    """Return what the bars show.

    Parameters
    ----------
    chances : iterable of (str, Chances)
        Such as ``operating_characteristic(plan).chances.items()``.
    target : float
        0 to 1.

    Examples
    --------
    >>> chances_data([("SnO2", Chances(0.93, 0.004, 0.046, 0.02))], 0.9).chances[0][1]
    'SnO₂'
    """
    rows = tuple((clean(name), label_of(clean(name)), found) for name, found in chances)
    return ChancesPicture(rows, target)


def chances_alt_text(data: ChancesPicture) -> str:
    """Describe the bars for readers who do not see them.

    >>> print(chances_alt_text(chances_data([("SnO2", Chances(0.93, 0.004, 0.046, 0.02))], 0.9)))
    Stacked bars: chance of each verdict, one bar for each candidate taken as true; target for
    the right conclusion 0.9. If SnO2 is true, the chance that a lab singles it out is 0.93; that
    it cannot tell, 0.05; that it finds no candidate to fit, 0.02; that it names the wrong one,
    0.004.
    """
    head = (
        "Stacked bars: chance of each verdict, one bar for each candidate taken as true; target "
        f"for the right conclusion {number(data.target)}."
    )
    if len(data.chances) <= _MOST_SENTENCES:
        return " ".join([head, *(chances_sentence(name, found) for name, _, found in data.chances)])
    listed = joined(
        (f"{name} {chance_text(found.right, data.target)}" for name, _, found in data.chances),
        most=20,
    )
    wrong = chance_text(max(found.wrong for _, _, found in data.chances))
    return (
        f"{head} Chance that the true candidate is singled out: {listed}. Chance that a wrong one "
        f"is singled out, at the most: {wrong}. The rest is not told apart, or none fits."
    )


def _hatched(x: float, end: float, low: float, high: float) -> list[Item]:
    """Return slanting lines within a rectangle."""
    items: list[Item] = []
    rise = high - low
    start = x - rise
    while start < end:
        left, right = max(start, x), min(start + rise, end)
        if right - left > 0.3:
            items.append(
                Line(((left, low + left - start), (right, low + right - start)), EXCLUDED, 0.7)
            )
        start += 4.0
    return items


def sample_of(part: str, x: float, end: float, low: float, high: float) -> list[Item]:
    """Fill a rectangle in the way of one verdict, told apart without colour.

    Parameters
    ----------
    part : str
        ``"right"`` (dark), ``"not_told_apart"`` (hatched), ``"none_fits"`` (empty) or ``"wrong"``
        (crossed).
    x, end, low, high : float
        Its edges in points.
    """
    fill = {"right": TRIAL, "not_told_apart": SHADE, "none_fits": BACKGROUND, "wrong": MEAN}[part]
    corners = ((x, low), (end, low), (end, high), (x, high))
    items: list[Item] = [Polygon(corners, fill)]
    if part == "not_told_apart":
        items += _hatched(x, end, low, high)
    if part == "wrong":
        middle = 0.5 * (low + high)
        items.append(Line(((x, middle), (end, middle)), INK, 0.8))
    items.append(Line((*corners, corners[0]), INK, 0.8))
    return items


def chances_scene(data: ChancesPicture, width: float) -> Scene:
    """Lay out the bars.

    Parameters
    ----------
    data : ChancesPicture
    width : float
        Width in points; the height follows from it.
    """
    column = max(text_width(w, BODY) for w in (_HEAD, *(label for _, label, _ in data.chances)))
    left, right = min(column, 0.35 * width) + 20.0, width - 46.0
    bottom = 44.0
    top = bottom + _PITCH * len(data.chances)
    key, taken = _key(width)
    height = top + 16.0 + taken
    items: list[Item] = []
    for i in range(6):
        x = left + (right - left) * i / 5
        items.append(Line(((x, bottom), (x, bottom - 4.0)), INK, 0.8))
        items.append(Words(x, bottom - 5.0 - SMALL, f"{i / 5:.1f}", SMALL, "middle"))
    items.append(Words((left + right) / 2, 8.0, "chance of each verdict", BODY, "middle"))
    items.append(Line(((left, bottom), (right, bottom)), INK, 1.0))
    for i, (_, label, found) in enumerate(data.chances):
        low = top - (i + 1) * _PITCH + 0.5 * (_PITCH - _BAR)
        items += _bar(found, left, right, low, left + (right - left) * data.target)
        baseline = low + 0.5 * _BAR - 0.36 * BODY
        items.append(Words(left - 6.0, baseline, label, BODY, "end"))
        right_chance = chance_text(found.right, data.target)
        shown = right_chance.replace("below ", "< ").replace("above ", "> ")
        bold = found.right >= data.target
        items.append(Words(right + 5.0, baseline, shown, SMALL, "start", bold))
    x = left + (right - left) * data.target
    items.append(Line(((x, bottom), (x, top + 3.0)), BACKGROUND, 3.0))
    items.append(Line(((x, bottom), (x, top + 3.0)), INK, 1.4, DASHES))
    target = f"target {number(data.target)}"
    half = text_width(target, SMALL) / 2
    items.append(Words(min(x, right - half), top + 5.0, target, SMALL, "middle", True))
    items.append(Words(width - 4.0, top + 5.0, "right", SMALL, "end", False, EXCLUDED_TEXT))
    items.append(Words(left - 6.0, top + 5.0, _HEAD, SMALL, "end", False, EXCLUDED_TEXT))
    items += [_lifted(item, height - taken) for item in key]
    return Scene(width, height, tuple(items), (0.0, width), (0.0, height))


def _bar(found: Chances, left: float, right: float, low: float, target: float) -> list[Item]:
    """Return one bar; its numbers keep clear of the line at the target."""
    items: list[Item] = []
    x = left
    for part in _PARTS:
        share = getattr(found, part)
        end = x + share * (right - left)
        if end - x >= 0.4:
            items += sample_of(part, x, end, low, low + _BAR)
        words = chance_text(share)
        wide = text_width(words, SMALL)
        start, stop = x, end
        if abs(0.5 * (x + end) - target) < wide / 2 + 4.0:
            start, stop = (x, target) if target - x > end - target else (target, end)
        if stop - start >= wide + 6.0:
            baseline = low + 0.5 * _BAR - 0.36 * SMALL
            middle = 0.5 * (start + stop)
            if part in ("not_told_apart", "wrong"):
                a, b = middle - wide / 2 - 1.0, middle + wide / 2 + 1.0
                box = ((a, low + 2.5), (b, low + 2.5), (b, low + _BAR - 2.5), (a, low + _BAR - 2.5))
                items.append(Polygon(box, BACKGROUND))
            ink = BACKGROUND if part == "right" else INK
            items.append(Words(middle, baseline, words, SMALL, "middle", False, ink))
        x = end
    return items


def _key(width: float) -> tuple[list[Item], float]:
    """Return the key above its own lower edge, and its height."""
    rows: list[list[str]] = [[]]
    used = 0.0
    for part in _PARTS:
        length = 24.0 + text_width(_KEY[part], SMALL) + 12.0
        if rows[-1] and used + length > width - 12.0:
            rows.append([])
            used = 0.0
        rows[-1].append(part)
        used += length
    height = len(rows) * (SMALL + 6.0) + 6.0
    items: list[Item] = []
    y = height - SMALL - 4.0
    for row in rows:
        x = 12.0
        for part in row:
            items += sample_of(part, x, x + 18.0, y - 1.0, y + SMALL - 1.0)
            items.append(Words(x + 23.0, y, _KEY[part], SMALL))
            x += 24.0 + text_width(_KEY[part], SMALL) + 12.0
        y -= SMALL + 6.0
    return items, height


def _lifted(item: Item, by: float) -> Item:
    if isinstance(item, Words):
        return item._replace(y=item.y + by)
    if isinstance(item, Line | Polygon):
        return item._replace(points=tuple((x, y + by) for x, y in item.points))
    return item


def draw_chances(ax: Axes, data: ChancesPicture) -> None:
    """Draw the bars on matplotlib axes, which they fill with all their words.

    Parameters
    ----------
    ax : matplotlib Axes
        At least 300 points wide, and as high as ``chances_scene(data, width).height`` to be used
        to the full.
    data : ChancesPicture
    """
    from .canvas import paint, size_of

    width, _ = size_of(ax)
    paint(ax, chances_scene(data, width))
