"""Effects and combinations.

What physical effects would have to amount to: one effect at a time, and two together.

Layout in points of the effects as bars, and the keys of both pictures of causes.

Layout in points of two effects in the plane of their amounts.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING

from ..diagnosis.causes import Cause, Combination
from ..diagnosis.sentences import combination_sentence
from ..text.wording import shown_range, two_digits
from ..uncertainty import entry
from .scene import (
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
    Item,
    Line,
    Mark,
    Polygon,
    Scene,
    Words,
    across_axis,
    clean,
    number,
    shortened,
    text_width,
    tick_labels,
    ticks,
    wrapped,
)

if TYPE_CHECKING:
    from matplotlib.axes import Axes

__all__ = [
    "MARGIN",
    "CombinationPicture",
    "EffectBar",
    "EffectsPicture",
    "box",
    "combination_alt_text",
    "combination_data",
    "combination_scene",
    "draw_combination",
    "draw_effects",
    "effects_alt_text",
    "effects_data",
    "effects_scene",
    "key_of",
    "title_of",
]

Point = tuple[float, float]
_LONGEST_NAME = 40
_ROOM = 1.15
"""The axes of two effects reach this many times as far as the pairs that fit."""
_SAID = {
    "possible": "Possible alone",
    "free": "Not needed, but allowed",
    "too much": "More than the masses allow",
    "wrong way": "In the wrong direction",
    "unmoved": "Without influence",
}


@dataclass(frozen=True, slots=True)
class EffectBar:
    """One effect as one bar.

    Attributes
    ----------
    name : str
        Name of the effect.
    kind : str
        ``"possible"``: makes the candidate fit; ``"free"``: the candidate fits without it;
        ``"too much"``: more would be needed than there is; ``"wrong way"``; ``"unmoved"``: it
        does not change how well the candidate fits.
    needed, low, high, most : float
        Exact amount, range that fits and largest possible amount, in per cent of ``of``; nan
        where it cannot be told.
    of : str
        ``"product"`` or ``"consumed"``: what the percentages refer to.
    words : str
        The amounts in grams or millilitres and whether they are possible.
    """

    name: str
    kind: str
    needed: float
    low: float
    high: float
    most: float
    of: str
    words: str


@dataclass(frozen=True, slots=True)
class EffectsPicture:
    """What the bars show, for one candidate.

    Attributes
    ----------
    candidate : str
    fits : bool
        Whether the candidate fits with none of the effects.
    bars : tuple of EffectBar
        In the order of the catalogue.
    """

    candidate: str
    fits: bool
    bars: tuple[EffectBar, ...]


def effects_data(causes: Sequence[Cause]) -> EffectsPicture:
    """Return what the bars show.

    Parameters
    ----------
    causes : sequence of Cause
        Of one candidate, such as :func:`stoichkit.diagnosis.causes.causes_for` returns.

    Examples
    --------
    >>> from stoichkit import assess, causes_for, experiments
    >>> data = effects_data(causes_for(assess(experiments.load("copper-silver")), "copper(I)"))
    >>> data.bars[0].kind, data.bars[0].words
    ('possible', 'possible: 0.187 g to 0.221 g')
    >>> data.bars[2].words
    'not possible: wrong direction'
    """
    causes = entry.listed("causes", causes, Cause)
    name = clean(causes[0].candidate) if causes else ""
    fits = bool(causes) and causes[0].fits_without
    return EffectsPicture(name, fits, tuple(_bar(cause) for cause in causes))


def _bar(cause: Cause) -> EffectBar:
    kind = _kind(cause)
    each = _percent_per_unit(cause)
    return EffectBar(
        clean(cause.effect.name),
        kind,
        100 * cause.fraction,
        100 * cause.fraction_low,
        100 * cause.fraction_high,
        each * cause.most if cause.most else 0.0,
        "product" if cause.fraction_of == "produced" else "consumed",
        _words(cause, kind),
    )


def _kind(cause: Cause) -> str:
    if math.isnan(cause.needed):
        return "unmoved"
    if cause.possible:
        return "free" if cause.fits_without else "possible"
    return "wrong way" if cause.high < 0 else "too much"


def _percent_per_unit(cause: Cause) -> float:
    """Return per cent of what was measured for one gram or millilitre of an effect."""
    ends = ((cause.low, cause.fraction_low), (cause.high, cause.fraction_high))
    amount, share = max(ends, key=lambda pair: abs(pair[0]) if math.isfinite(pair[0]) else 0.0)
    return 100 * share / amount if amount else math.nan


def _words(cause: Cause, kind: str) -> str:
    unit = cause.effect.unit
    if kind == "unmoved":
        return "changes nothing"
    if kind == "wrong way":
        return "not possible: wrong direction"
    if kind == "too much":
        return (
            f"not possible: {two_digits(cause.low)} {unit} needed, "
            f"{two_digits(cause.most)} {unit} at most"
        )
    low, high = cause.possible_range
    if kind == "free":
        return f"not needed; up to {two_digits(high)} {unit} fits"
    ends = shown_range(low, high)
    return f"possible: {ends[0]} {unit} to {ends[1]} {unit}"


def effects_alt_text(data: EffectsPicture) -> str:
    """Describe the bars for readers who do not see them.

    >>> from stoichkit import assess, causes_for, experiments
    >>> lab = assess(experiments.load("acid-titration"))
    >>> print(effects_alt_text(effects_data(causes_for(lab, "diprotic"))))
    Bars: the amount of each of 2 effects that would make diprotic fit, in per cent of what was
    measured, beside the amounts that are possible. Possible alone: end point overshot (6.96 mL to
    7.30 mL). In the wrong direction: inert matter or water in what was weighed in.
    """
    if not data.bars:
        return "No effect is known for this kind of lab."
    parts = [
        f"Bars: the amount of each of {len(data.bars)} effects that would make {data.candidate} "
        "fit, in per cent of what was measured, beside the amounts that are possible."
    ]
    if data.fits:
        parts.append(f"{data.candidate} fits without any of them.")
    for kind, said in _SAID.items():
        named = [
            bar.name if kind in ("wrong way", "unmoved") else f"{bar.name} ({_short(bar)})"
            for bar in data.bars
            if bar.kind == kind
        ]
        if named:
            parts.append(f"{said}: {'; '.join(named)}.")
    return " ".join(parts)


def _short(bar: EffectBar) -> str:
    for head in ("not possible: ", "possible: ", "not needed; "):
        if bar.words.startswith(head):
            return bar.words.removeprefix(head)
    return bar.words


@dataclass(frozen=True, slots=True)
class CombinationPicture:
    """What the plane of two amounts shows.

    Attributes
    ----------
    candidate : str
    fits : bool
        Whether the candidate fits with none of either effect.
    names, units : (str, str)
        Name of each effect, and the unit of its amount.
    x, y : (float, float)
        Amounts at the edges of the frame.
    limits : tuple
        Rows ((use_a, use_b), room): a pair is possible while use_a a + use_b b <= room.
    line, band : tuple of (float, float)
        Ends of the line of pairs that fit exactly; corners of the pairs that fit. Both may be
        empty.
    words : str
        The same in a sentence.
    """

    candidate: str
    fits: bool
    names: tuple[str, str]
    units: tuple[str, str]
    x: Point
    y: Point
    limits: tuple[tuple[tuple[float, ...], float], ...]
    line: tuple[Point, ...]
    band: tuple[Point, ...]
    words: str


def combination_data(found: Combination) -> CombinationPicture:
    """Return what the plane of two amounts shows.

    Parameters
    ----------
    found : Combination
        From :func:`stoichkit.diagnosis.causes.combine`.

    Examples
    --------
    >>> from stoichkit import assess, experiments
    >>> from stoichkit.diagnosis.causes import combine
    >>> from stoichkit.diagnosis.effects import effect_named
    >>> lab = experiments.load("copper-silver")
    >>> pair = [effect_named(lab, key) for key in ("wet product", "damp metal")]
    >>> data = combination_data(combine(assess(lab), "copper(I)", *pair))
    >>> [tuple(round(value, 2) for value in end) for end in data.line]
    [(0.0, 0.12), (0.2, 0.0)]
    """
    a, b = entry.record("found", found, Combination).effects
    fits = found.compatible(0.0, 0.0)
    words = combination_sentence(found)
    if fits and not found.band:
        words = (
            f"{found.candidate} fits without {a.name} and {b.name}; the amounts measured leave no "
            "room for them."
        )
    return CombinationPicture(
        clean(found.candidate),
        fits,
        (clean(a.name), clean(b.name)),
        (a.unit, b.unit),
        (0.0, _ROOM * _reach(found, 0)),
        (0.0, _ROOM * _reach(found, 1)),
        found.limits,
        found.line,
        found.band,
        clean(words),
    )


def _reach(found: Combination, axis: int) -> float:
    """Return the largest amount to be shown of one effect."""
    shown = [corner[axis] for corner in found.band]
    if not shown or max(shown) <= 0:  # as much as is possible of this effect alone
        rooms = [room / uses[axis] for uses, room in found.limits if uses[axis] > 0]
        shown = [room for room in rooms if room > 0]
        return min(shown, default=1.0)
    return max(shown)


def combination_alt_text(data: CombinationPicture) -> str:
    """Describe the plane of two amounts for readers who do not see it.

    >>> from stoichkit import assess, experiments
    >>> from stoichkit.diagnosis.causes import combine
    >>> from stoichkit.diagnosis.effects import effect_named
    >>> lab = experiments.load("copper-silver")
    >>> pair = [effect_named(lab, key) for key in ("wet product", "damp metal")]
    >>> print(combination_alt_text(combination_data(combine(assess(lab), "copper(I)", *pair))))
    Plane: across, the amount of product not dry, 0 to 0.254 g; up, metal damp when weighed
    afterwards, 0 to 0.15 g. copper(I) would fit exactly with pairs of amounts on the line from 0
    g of product not dry and 0.12 g of metal damp when weighed afterwards to 0.20 g and 0 g. The
    pairs that still fit form a band about it; they reach up to 0.221 g across and 0.13 g up.
    """
    (a, b), (unit_a, unit_b) = data.names, data.units
    head = (
        f"Plane: across, the amount of {a}, 0 to {number(data.x[1])} {unit_a}; up, {b}, 0 to "
        f"{number(data.y[1])} {unit_b}. {data.words}"
    )
    if not data.band:
        return head
    across, up = (max(corner[i] for corner in data.band) for i in (0, 1))
    return (
        f"{head} The pairs that still fit form a band about it; they reach up to "
        f"{number(across)} {unit_a} across and {number(up)} {unit_b} up."
    )


def title_of(candidate: str, fits: bool = False) -> str:
    """Return the heading of a picture."""
    name = shortened(candidate, _LONGEST_NAME)
    return f"{name} fits; how much is allowed" if fits else f"What would make {name} fit"


def draw_effects(ax: Axes, data: EffectsPicture) -> None:
    """Draw the bars on matplotlib axes, which they fill with all their words.

    Parameters
    ----------
    ax : matplotlib Axes
        At least 360 points wide, and as high as ``effects_scene(data, width).height`` to be used
        to the full.
    data : EffectsPicture
    """
    from .render import paint, size_of

    width, _ = size_of(ax)
    paint(ax, effects_scene(data, width))


def draw_combination(ax: Axes, data: CombinationPicture) -> None:
    """Draw the plane of two amounts on matplotlib axes, which it fills with all its words.

    Parameters
    ----------
    ax : matplotlib Axes
        At least 360 by 300 points.
    data : CombinationPicture
    """
    from .render import paint, size_of

    paint(ax, combination_scene(data, *size_of(ax)))


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
    return [*items, *_bar_items(bar, low, zero, right, end)]


def _bar_items(bar: EffectBar, low: float, zero: float, right: float, end: float) -> list[Item]:
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
