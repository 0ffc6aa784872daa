"""What physical effects would have to amount to: one effect at a time, and two together."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING

from ..cause_sentences import combination_sentence
from ..causes import Cause, Combination
from ..wording import shown_range, two_digits
from .style import clean, number, shortened

if TYPE_CHECKING:
    from matplotlib.axes import Axes

__all__ = [
    "CombinationPicture",
    "EffectBar",
    "EffectsPicture",
    "combination_alt_text",
    "combination_data",
    "draw_combination",
    "draw_effects",
    "effects_alt_text",
    "effects_data",
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
        Of one candidate, such as :func:`stoichkit.causes.causes_for` returns.

    Examples
    --------
    >>> from stoichkit import assess, causes_for, experiments
    >>> data = effects_data(causes_for(assess(experiments.load("copper-silver")), "copper(I)"))
    >>> data.bars[0].kind, data.bars[0].words
    ('possible', 'possible: 0.187 g to 0.221 g')
    >>> data.bars[2].words
    'not possible: wrong direction'
    """
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
        From :func:`stoichkit.causes.combine`.

    Examples
    --------
    >>> from stoichkit import assess, experiments
    >>> from stoichkit.causes import combine
    >>> from stoichkit.effects import effect_named
    >>> lab = experiments.load("copper-silver")
    >>> pair = [effect_named(lab, key) for key in ("wet product", "damp metal")]
    >>> data = combination_data(combine(assess(lab), "copper(I)", *pair))
    >>> [tuple(round(value, 2) for value in end) for end in data.line]
    [(0.0, 0.12), (0.2, 0.0)]
    """
    a, b = found.effects
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
    >>> from stoichkit.causes import combine
    >>> from stoichkit.effects import effect_named
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
    from .canvas import paint, size_of
    from .causes_scene import effects_scene

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
    from .canvas import paint, size_of
    from .causes_plane import combination_scene

    paint(ax, combination_scene(data, *size_of(ax)))
