"""What physical effects would have to amount to: one effect at a time as bars, two in a plane."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

from ..diagnosis.causes import Cause, Combination
from ..diagnosis.sentences import combination_sentence
from ..text.wording import shown_range, two_digits
from ..uncertainty import entry
from .look import BAR, BODY, GREY, GRID, HEADING, INK, PALE, SHADE, SMALL, TRIAL, WHITE
from .plane import Across, Plane, marks_below, up_marks
from .scene import Item, Line, Mark, Point, Polygon, Scene, Words, lifted
from .shapes import box, framed, hatching, key, tip, widened
from .writing import clean, number, shortened, text_width, wrapped

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
_MEASURED = {"product": "what was measured as product", "consumed": "what was consumed"}
_MARGIN = 10.0
"""Points left free at both sides."""
_ZONE = 24.0
"""Width of the zone of amounts below nothing."""
_BAR, _LINE, _GAP, _TITLE = 9.0, 12.0, 7.0, HEADING + 3.0
_THIN = 2.4
"""Least width of a range that is drawn."""
_FURTHEST = 250.0
"""Per cent: longer bars leave the picture."""
_BARS_KEY = (
    ("fits", "makes it fit, and is possible"),
    ("impossible", "would make it fit, not possible"),
    ("trough", "possible amounts"),
    ("exact", "fits exactly"),
    ("wrong", "wrong direction"),
)
_PLANE_KEY = (
    ("line", "fits exactly"),
    ("band", "fits within the uncertainty"),
    ("shade", "more than the masses allow"),
)


@dataclass(frozen=True, slots=True)
class EffectBar:
    """One effect as one bar.

    Attributes
    ----------
    name : str
        Name of the effect.
    kind : str
        That of the cause: :attr:`stoichkit.Cause.kind`.
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

    @classmethod
    def of(cls, causes: Sequence[Cause]) -> EffectsPicture:
        """Return the bars of some causes.

        Parameters
        ----------
        causes : sequence of Cause
            Of one candidate, such as :func:`stoichkit.diagnosis.causes.causes_for` returns.

        Examples
        --------
        >>> from stoichkit import assess, causes_for, experiments
        >>> lab = assess(experiments.load("copper-silver"))
        >>> picture = EffectsPicture.of(causes_for(lab, "copper(I)"))
        >>> picture.bars[0].kind, picture.bars[0].words
        ('possible', 'possible: 0.187 g to 0.221 g')
        >>> picture.bars[2].words
        'not possible: wrong direction'
        """
        causes = entry.listed("causes", causes, Cause)
        name = clean(causes[0].candidate) if causes else ""
        fits = bool(causes) and causes[0].fits_without
        return cls(name, fits, tuple(_bar(cause) for cause in causes))

    @property
    def title(self) -> str:
        """The question that the bars answer."""
        return _title(self.candidate, self.fits)

    @property
    def alt_text(self) -> str:
        """The picture described for readers who do not see it.

        >>> from stoichkit import assess, causes_for, experiments
        >>> lab = assess(experiments.load("acid-titration"))
        >>> print(EffectsPicture.of(causes_for(lab, "diprotic")).alt_text)
        Bars: the amount of each of 2 effects that would make diprotic fit, in per cent of what was
        measured, beside the amounts that are possible. Possible alone: end point overshot (6.96 mL
        to 7.30 mL). In the wrong direction: inert matter or water in what was weighed in.
        """
        if not self.bars:
            return "No effect is known for this kind of lab."
        parts = [
            f"Bars: the amount of each of {len(self.bars)} effects that would make "
            f"{self.candidate} fit, in per cent of what was measured, beside the amounts that are "
            "possible."
        ]
        if self.fits:
            parts.append(f"{self.candidate} fits without any of them.")
        for kind, said in _SAID.items():
            named = [
                bar.name if kind in ("wrong way", "unmoved") else f"{bar.name} ({_short(bar)})"
                for bar in self.bars
                if bar.kind == kind
            ]
            if named:
                parts.append(f"{said}: {'; '.join(named)}.")
        return " ".join(parts)

    def scene(self, width: float = 480.0, height: float | None = None) -> Scene:
        """Lay out the bars; the height follows from their number."""
        del height  # it follows from what is shown
        across, names, heads = self._rows(width)
        zero, right = across.left, across.right
        label = wrapped(self._axis_label(), width - 2 * _MARGIN, BODY)
        foot, _ = _key(_BARS_KEY, width)
        bottom = self._bottom(width)
        top = bottom + sum(head + _BAR + _GAP for head in heads)
        title = _heading(self.title, width)
        high = top + len(title) * _TITLE + 13.0
        ticks = across.ticks()
        items = [
            *(lifted(line, high) for line in title),
            Polygon(box(_MARGIN, zero, bottom, top), SHADE),
            *(Line(((x, bottom), (x, top)), GRID, 0.7) for x, _ in ticks),
            *marks_below(ticks, bottom),
            Line(((_MARGIN, bottom), (right, bottom)), INK, 1.0),
        ]
        y = top
        for bar, name, head in zip(self.bars, names, heads, strict=True):
            items += _head(bar, name, y, head, width)
            items += _bar_items(bar, y - head - _BAR, across)
            y -= head + _BAR + _GAP
        items.append(Line(((zero, bottom), (zero, top)), INK, 1.2))
        for i, line in enumerate(label):
            y = bottom - SMALL - 9.0 - (i + 1) * (BODY + 3.0) + 3.0
            items.append(Words((_MARGIN + right) / 2, y, line, BODY, "middle"))
        return Scene(width, high, (*items, *foot), (0.0, width), (0.0, high))

    def places(self, width: float) -> list[Point]:
        """Return where in a scene of this width each effect can be pointed at, in points.

        At the exact amount if that is shown, else at the end of the axis nearest to it.

        >>> from stoichkit import assess, causes_for, experiments
        >>> lab = assess(experiments.load("acid-titration"))
        >>> picture = EffectsPicture.of(causes_for(lab, "diprotic"))
        >>> [bar.kind for bar in picture.bars], [round(x) for x, _ in picture.places(480.0)]
        (['wrong way', 'possible'], [34, 414])
        """
        across, _, heads = self._rows(width)
        y = self._bottom(width) + sum(head + _BAR + _GAP for head in heads)
        found = []
        for bar, head in zip(self.bars, heads, strict=True):
            value = 0.0 if math.isnan(bar.needed) else min(max(bar.needed, 0.0), across.high)
            found.append((across.at(value), y - head - _BAR / 2))
            y -= head + _BAR + _GAP
        return found

    def _rows(self, width: float) -> tuple[Across, list[list[str]], list[float]]:
        """Return the axis, and for each effect its name in lines and the height of its words."""
        across = Across(_MARGIN + _ZONE, width - _MARGIN - 8.0, 0.0, self._axis_end())
        names = [wrapped(self._name(bar), 0.92 * _room(width), SMALL) for bar in self.bars]
        heads = [_LINE * _lines(n, bar, width) for n, bar in zip(names, self.bars, strict=True)]
        return across, names, heads

    def _bottom(self, width: float) -> float:
        """Return where the axis stands: above its title and the key."""
        label = wrapped(self._axis_label(), width - 2 * _MARGIN, BODY)
        return _key(_BARS_KEY, width)[1] + len(label) * (BODY + 3.0) + SMALL + 12.0

    def _name(self, bar: EffectBar) -> str:
        """Return the name of an effect, with what its percentages refer to where that differs."""
        mixed = len({one.of for one in self.bars}) > 1
        return f"{bar.name} (% of consumed)" if mixed and bar.of == "consumed" else bar.name

    def _axis_label(self) -> str:
        """Return the title of the axis."""
        kinds = {bar.of for bar in self.bars}
        if len(kinds) == 1:
            return f"amount in each trial, % of {_MEASURED[kinds.pop()]}"
        mixed = f"{_MEASURED['product']} (or of consumed, where it says so)"
        return f"amount in each trial, % of {mixed}"

    def _axis_end(self) -> float:
        """Return the per cent at the right end: all ranges, unless they are very far."""
        highs = [bar.high for bar in self.bars if bar.high > 0 and math.isfinite(bar.high)]
        ends = [min(high, _FURTHEST) for high in highs]
        if not ends:
            ends = [min(bar.most, 100.0) for bar in self.bars if bar.most > 0]
        return 1.1 * max(ends, default=100.0)


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

    @classmethod
    def of(cls, found: Combination) -> CombinationPicture:
        """Return the plane of two effects.

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
        >>> picture = CombinationPicture.of(combine(assess(lab), "copper(I)", *pair))
        >>> [tuple(round(value, 2) for value in end) for end in picture.line]
        [(0.0, 0.12), (0.2, 0.0)]
        """
        a, b = entry.record("found", found, Combination).effects
        fits = found.compatible(0.0, 0.0)
        words = combination_sentence(found)
        if fits and not found.band:
            words = (
                f"{found.candidate} fits without {a.name} and {b.name}; the amounts measured leave "
                "no room for them."
            )
        return cls(
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

    @property
    def title(self) -> str:
        """The question that the plane answers."""
        return _title(self.candidate, self.fits)

    @property
    def alt_text(self) -> str:
        """The picture described for readers who do not see it.

        >>> from stoichkit import assess, experiments
        >>> from stoichkit.diagnosis.causes import combine
        >>> from stoichkit.diagnosis.effects import effect_named
        >>> lab = experiments.load("copper-silver")
        >>> pair = [effect_named(lab, key) for key in ("wet product", "damp metal")]
        >>> print(CombinationPicture.of(combine(assess(lab), "copper(I)", *pair)).alt_text)
        Plane: across, the amount of product not dry, 0 to 0.254 g; up, metal damp when weighed
        afterwards, 0 to 0.15 g. copper(I) would fit exactly with none (product not dry) and 0.12 g
        (metal damp when weighed afterwards), with 0.20 g and none, or with any pair evenly in
        between. The pairs that still fit form a band about it; they reach up to 0.221 g across and
        0.13 g up.
        """
        (a, b), (unit_a, unit_b) = self.names, self.units
        head = (
            f"Plane: across, the amount of {a}, 0 to {number(self.x[1])} {unit_a}; up, {b}, 0 to "
            f"{number(self.y[1])} {unit_b}. {self.words}"
        )
        if not self.band:
            return head
        across, up = (max(corner[i] for corner in self.band) for i in (0, 1))
        return (
            f"{head} The pairs that still fit form a band about it; they reach up to "
            f"{number(across)} {unit_a} across and {number(up)} {unit_b} up."
        )

    def scene(self, width: float = 480.0, height: float | None = None) -> Scene:
        """Lay out the plane: 360 by 300 points or more, 330 high if nothing is said."""
        height = 330.0 if height is None else height
        foot, foot_height = _key(_PLANE_KEY, width)
        marks = up_marks(self.y, height, 50.0)
        names = [f"{n} / {u} in each trial" for n, u in zip(self.names, self.units, strict=True)]
        across = wrapped(names[0], width - 60.0, BODY)
        bottom = foot_height + SMALL + 10.0 + len(across) * (BODY + 3.0)
        title = _heading(self.title, width)
        top = height - len(title) * _TITLE - 11.0
        up = wrapped(names[1], top - bottom, BODY)
        widest = max(text_width(text, SMALL) for _, text in marks)
        left, right = len(up) * (BODY + 3.0) + 16.0 + widest, width - 14.0
        plane = Plane(width, height, left, right, bottom, top, self.x, self.y, marks)
        middle = (left + right) / 2, (bottom + top) / 2
        items = [
            *(lifted(line, height) for line in title),
            Polygon(box(left, right, bottom, top), SHADE),
            *self._areas(plane),
            *plane.edges(),
            *plane.upright(),
        ]
        if self.line:
            items.append(Line([plane.at(*point) for point in self.line], INK, 2.2))
            items += self._ends(plane)
        if not self.band:
            items += self._nothing(*middle, (right - left) / 2)
        for i, line in enumerate(across):
            y = bottom - SMALL - 8.0 - (i + 1) * (BODY + 3.0) + 3.0
            items.append(Words(middle[0], y, line, BODY, "middle"))
        for i, line in enumerate(up):
            x = (i + 1) * (BODY + 3.0)
            items.append(Words(x, middle[1], line, BODY, "middle", angle=90.0))
        return plane.scene(items, foot)

    def _areas(self, plane: Plane) -> list[Item]:
        """Leave white the pairs that are possible, and fill those that fit."""
        items: list[Item] = []
        possible: Sequence[Point] = box(0.0, self.x[1], 0.0, self.y[1])
        for uses, room in self.limits:
            possible = _kept(possible, (uses[0], uses[1]), room)
        for area, fill, edge in ((possible, WHITE, PALE), (self.band, BAR, TRIAL)):
            if area:
                items += framed([plane.at(*point) for point in area], fill, edge, 0.9)
        return items

    def _ends(self, plane: Plane) -> list[Item]:
        """Mark the ends of the line and say the amounts there."""
        items: list[Item] = []
        for a, b in self.line:
            x, y = plane.at(a, b)
            items.append(Mark(x, y, "diamond", INK, 5.0))
            words = f"{two_digits(a)} {self.units[0]}; {two_digits(b)} {self.units[1]}"
            wide = text_width(words, SMALL)
            start = x + 8.0 if x + 12.0 + wide <= plane.right else x - 8.0 - wide
            start = min(max(start, plane.left + 3.0), plane.right - wide - 3.0)
            level = min(max(y + 6.0, plane.bottom + 5.0), plane.top - SMALL - 4.0)
            ground = box(start - 2.0, start + wide + 2.0, level - 2.5, level + SMALL)
            items += [Polygon(ground, WHITE), Words(start, level, words, SMALL)]
        return items

    def _nothing(self, x: float, y: float, room: float) -> list[Item]:
        """Say that no pair is possible that fits."""
        words = "no possible pair of amounts makes it fit"
        words = "no room for these effects" if self.fits else words
        if not self.fits and text_width(words, BODY) / 2 > room - 10.0:
            words = "no possible pair fits"
        half = text_width(words, BODY) / 2 + 5.0
        ground = box(x - half, x + half, y - 5.0, y + BODY + 4.0)
        return [Polygon(ground, WHITE), Words(x, y, words, BODY, "middle")]


def _bar(cause: Cause) -> EffectBar:
    each = _percent_per_unit(cause)
    return EffectBar(
        clean(cause.effect.name),
        cause.kind,
        100 * cause.fraction,
        100 * cause.fraction_low,
        100 * cause.fraction_high,
        each * cause.most if cause.most else 0.0,
        "product" if cause.fraction_of == "produced" else "consumed",
        _words(cause),
    )


def _percent_per_unit(cause: Cause) -> float:
    """Return per cent of what was measured for one gram or millilitre of an effect."""
    ends = ((cause.low, cause.fraction_low), (cause.high, cause.fraction_high))
    each = (100 * share / amount for amount, share in ends if amount and math.isfinite(amount))
    return next(each, math.nan)


def _words(cause: Cause) -> str:
    kind, unit = cause.kind, cause.effect.unit
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


def _short(bar: EffectBar) -> str:
    """Return the amounts without the words that the description has before them."""
    for head in ("not possible: ", "possible: ", "not needed; "):
        if bar.words.startswith(head):
            return bar.words.removeprefix(head)
    return bar.words


def _room(width: float) -> float:
    """Return how wide the name of an effect and its words may be together."""
    return width - 2 * _MARGIN - _ZONE - 4.0


def _lines(name: Sequence[str], bar: EffectBar, width: float) -> int:
    """Return how many lines the name and the words take."""
    both = text_width(name[-1], SMALL, bold=True) + text_width(bar.words, SMALL) + 14.0
    return len(name) + (both > _room(width))


def _head(
    bar: EffectBar, name: Sequence[str], top: float, taken: float, width: float
) -> list[Item]:
    """Write the name of an effect and what it amounts to, above its bar."""
    able = bar.kind in ("possible", "free")
    ink = INK if able else GREY
    x, y = _MARGIN + _ZONE, top - _LINE + 3.2
    words = Words(x + 4.0, y - len(name) * _LINE, bar.words, SMALL, ink=ink)
    if taken == _LINE * len(name):
        words = words._replace(x=width - _MARGIN, y=words.y + _LINE, anchor="end")
    return [
        # the words have a ground of their own, so that the lines of the axis do not cross them
        Polygon(box(x, width - _MARGIN, top - taken, top), WHITE),
        *(
            Words(x + 4.0, y - i * _LINE, line, SMALL, bold=able, ink=ink)
            for i, line in enumerate(name)
        ),
        words,
    ]


def _bar_items(bar: EffectBar, low: float, across: Across) -> list[Item]:
    """Draw the amounts that are possible, and those that would make the candidate fit."""
    high, middle = low + _BAR, low + _BAR / 2
    zero, right, _, end = across
    at = across.at
    items: list[Item] = []
    most = bar.most if not math.isnan(bar.most) else 0.0
    if most > 0:
        items += _trough(zero, at(most), low, high, open_end=most > end)
    if bar.kind == "wrong way":
        items += _left_arrow(zero - 5.0, middle)
    if not (math.isfinite(bar.low) and math.isfinite(bar.high)) or bar.high < 0:
        return items
    inside = (max(bar.low, 0.0), min(bar.high, most))
    beyond = (max(bar.low, most, 0.0), bar.high)
    if inside[0] <= inside[1] and bar.kind in ("possible", "free"):
        ends = widened(at(inside[0]), at(inside[1]), _THIN, right)
        items.append(Polygon(box(*ends, low, high), TRIAL))
    if beyond[0] < beyond[1]:
        items += _hatched(*widened(at(beyond[0]), at(beyond[1]), _THIN, right), low, high)
    if bar.high > end:
        items.append(tip(right + 1.5, middle, 4.5, 6.0, INK))
    if 0 <= bar.needed <= end:
        items.append(Mark(at(bar.needed), middle, "diamond", INK, 4.6))
    return items


def _trough(a: float, b: float, low: float, high: float, *, open_end: bool) -> list[Item]:
    """Return the amounts that are possible: a closed box, or one that goes on to the right."""
    corners = box(a, b, low, high)
    edge = [corners[1], corners[0], corners[3], corners[2]]
    ground = Polygon(corners, SHADE)
    if not open_end:
        return [ground, Line((*edge, edge[0]), PALE, 0.9)]
    return [ground, Line(edge, PALE, 0.9), tip(b + 1.5, (low + high) / 2, 4.5, 6.0, PALE)]


def _hatched(a: float, b: float, low: float, high: float) -> list[Item]:
    """Return amounts that are not possible."""
    lines = hatching(a, b, low, high, INK, 3.5)
    return framed(box(a, b, low, high), WHITE, INK, 0.9, lines)


def _left_arrow(x: float, y: float) -> list[Item]:
    """Return the sign of an effect in the wrong direction."""
    shaft = Line(((x, y), (x + 4.0, y)), GREY, 1.4)
    return [shaft, *framed(tip(x, y, 4.0, -7.0, WHITE).points, WHITE, GREY, 1.1)]


def _title(candidate: str, fits: bool) -> str:
    """Return the title of both pictures."""
    name = shortened(candidate, _LONGEST_NAME)
    return f"{name} fits; how much is allowed" if fits else f"What would make {name} fit"


def _heading(title: str, width: float) -> list[Words]:
    """Write the title in lines below a height of nothing; bold words are a little wider."""
    lines = wrapped(title, 0.9 * (width - 2 * _MARGIN), HEADING)
    return [
        Words(_MARGIN, -(i + 1) * _TITLE, line, HEADING, bold=True) for i, line in enumerate(lines)
    ]


def _key(entries: Sequence[tuple[str, str]], width: float) -> tuple[list[Item], float]:
    """Return the key at the foot of both pictures, and its height."""
    return key(entries, _sample, width - _MARGIN, left=_MARGIN, indent=22.0, pitch=SMALL + 7.0)


def _sample(kind: str, x: float, y: float) -> list[Item]:
    """Draw one kind of mark for the key."""
    low, high, end = y - 1.5, y + SMALL - 1.0, x + 17.0
    middle = (low + high) / 2
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
    looks = {"fits": (TRIAL, TRIAL), "band": (BAR, TRIAL), "shade": (SHADE, PALE)}
    fill, edge = looks[kind]
    return framed(box(x, end, low, high), fill, edge, 0.9)


def _reach(found: Combination, axis: int) -> float:
    """Return the largest amount to be shown of one effect."""
    shown = [corner[axis] for corner in found.band]
    if not shown or max(shown) <= 0:  # as much as is possible of this effect alone
        rooms = [room / uses[axis] for uses, room in found.limits if uses[axis] > 0]
        shown = [room for room in rooms if room > 0]
        return min(shown, default=1.0)
    return max(shown)


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
