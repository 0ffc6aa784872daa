"""Lines, areas, marks, words in points; axes, colours, number writing.

Look of the pictures: colours, sizes, and how numbers and names are written in them.

Colours are those of M. Okabe and K. Ito, "Color Universal Design" (2008; values from memory),
chosen there to be told apart with any common colour vision. Nothing is told by colour alone:
kinds of marks also differ in shape, lines in dashes and weight, and everything is labelled in
words. The background is opaque white, so that a dark page does not swallow the text.

Scenes: a picture as a list of lines, areas, marks and words in points.

Both renderers, matplotlib and hand-written SVG, draw the same scene, so that their pictures look
alike. The origin is the lower left corner and y points up.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from functools import lru_cache
from itertools import pairwise
from typing import NamedTuple

__all__ = [
    "BACKGROUND",
    "BAR",
    "BODY",
    "DASHES",
    "EXCLUDED",
    "EXCLUDED_TEXT",
    "FONT",
    "GRID",
    "HEADING",
    "INK",
    "MEAN",
    "REST",
    "SHADE",
    "SMALL",
    "TRIAL",
    "EdgeLabel",
    "Ellipse",
    "Item",
    "Line",
    "Mark",
    "Polygon",
    "Scene",
    "Words",
    "across_axis",
    "clean",
    "edge_labels",
    "ellipse_points",
    "joined",
    "number",
    "percent",
    "shortened",
    "shown_species",
    "spread",
    "text_width",
    "tick_labels",
    "ticks",
    "with_uncertainty",
    "wrapped",
]

BACKGROUND = "#ffffff"
INK = "#1a1a1a"
EXCLUDED = "#8c8c8c"
"""Lines of excluded candidates: 3.4 to 1 against white."""
EXCLUDED_TEXT = "#595959"
"""Words of excluded candidates: 7 to 1 against white."""
GRID = "#d9d9d9"
SHADE = "#efefef"
TRIAL = "#0072b2"
MEAN = "#d55e00"
BAR = "#8fc1e3"
"""Fill of the bar of the ratio set: the colour of the trials, made lighter."""
REST = "#9a9a9a"
DASHES = (5.0, 3.0)
"""Points drawn and left out along the ray of an excluded candidate."""
HEADING, BODY, SMALL = 11.0, 9.0, 8.0
"""Text sizes in points; a picture is 480 points or 640 pixels wide."""
FONT = "DejaVu Sans"
_NARROW = frozenset(" .,:;'|!()[]{}iljtfrI·/-")
_WIDE = frozenset("wDGNOQ&ΔΩ–→≥≤±+=<>~")
_WIDEST = frozenset("mMW@%—…")


def clean(text: str, *, limit: int = 100_000) -> str:
    """Return text as one line that XML and every font can take, cut off at a length.

    >>> clean("a\\nb\\x00c")
    'a b�c'
    """
    line = " ".join(text.split())
    if not line.isprintable():
        line = "".join(c if c.isprintable() else "�" for c in line)
    return shortened(line, limit)


def shortened(text: str, limit: int) -> str:
    """Return the text with its end replaced by … where it is longer than ``limit`` characters.

    >>> shortened("a very long name", 8)
    'a very …'
    """
    return text if len(text) <= limit else f"{text[: limit - 1]}…"


@lru_cache(maxsize=2048)
def text_width(text: str, size: float, *, bold: bool = False) -> float:
    """Estimate the width of a line of text in points, on the generous side.

    >>> 40 < text_width("copper(II)", 9.0) < 60
    True
    """
    ems = 0.0
    for c in text:
        if c in _NARROW:
            ems += 0.40
        elif c in _WIDEST or c > "\u2e7f":
            ems += 1.0
        elif c in _WIDE:
            ems += 0.84
        else:
            ems += 0.70 if c.isupper() else 0.63
    return ems * size * (1.1 if bold else 1.0)


def wrapped(text: str, width: float, size: float) -> list[str]:
    """Break text into lines no wider than ``width`` points, between words.

    >>> wrapped("one two three", 40.0, 9.0)
    ['one two', 'three']
    """
    lines: list[str] = []
    for word in text.split():
        longer = f"{lines[-1]} {word}" if lines else word
        if lines and text_width(longer, size) <= width:
            lines[-1] = longer
        else:
            lines.append(word)
    return lines


def number(value: float, digits: int = 3) -> str:
    """Write a number with some significant digits, without an exponent where that can be read.

    >>> number(0.001234), number(-2.0), number(123456.0), number(1.5e-9)
    ('0.00123', '−2', '123456', '1.5e−09')
    """
    if not math.isfinite(value):
        return "infinite" if value > 0 else "−infinite" if value < 0 else "not defined"
    if value == 0:
        return "0"
    size = math.floor(math.log10(abs(value)))
    if -5 <= size < 7:
        decimals = max(digits - 1 - size, 0)
        text = f"{value:.{decimals}f}"
        text = text.rstrip("0").rstrip(".") if decimals else text
    else:
        text = f"{value:.{digits}g}"
    return text.replace("-", "−")


def with_uncertainty(value: float, uncertainty: float) -> str:
    """Write an estimate and its standard uncertainty to two digits of the latter.

    >>> with_uncertainty(1.7702, 0.0613)
    '1.770 ± 0.061'
    """
    if not (uncertainty > 0 and math.isfinite(uncertainty)):
        return number(value, 4)
    decimals = max(1 - math.floor(math.log10(uncertainty)), 0)
    if decimals > 9:
        return f"{number(value, 4)} ± {number(uncertainty, 2)}"
    return f"{value:.{decimals}f} ± {uncertainty:.{decimals}f}".replace("-", "−")


def percent(share: float) -> str:
    """Write a part of one in percent; a coverage probability keeps its digits.

    >>> percent(0.95), percent(0.999), percent(0.004)
    ('95 %', '99.9 %', '0.4 %')
    """
    return f"{100 * share:.4g} %"


def joined(words: Iterable[str], *, most: int = 12) -> str:
    """Join words with commas; more than ``most`` are counted.

    >>> joined(["a", "b", "c"], most=2)
    'a, b and 1 more'
    """
    listed = list(words)
    text = ", ".join(listed[:most])
    return text if len(listed) <= most else f"{text} and {len(listed) - most} more"


def shown_species(species: str) -> str:
    """Write a formula with subscripts; text that is none is left as it is.

    >>> shown_species("SnO2"), shown_species("e-"), shown_species("coin")
    ('SnO₂', 'e⁻', 'coin')
    """
    from ..chemistry.formula import parse_formula
    from ..errors import FormulaError

    try:
        return parse_formula(species).unicode()
    except FormulaError:
        return clean(species, limit=24)


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


class Line(NamedTuple):
    """An open line through points; ``dashes`` are points drawn and left out."""

    points: Sequence[tuple[float, float]]
    ink: str = INK
    width: float = 1.0
    dashes: tuple[float, float] | None = None


class Polygon(NamedTuple):
    """A filled area without an outline."""

    points: Sequence[tuple[float, float]]
    fill: str


class Ellipse(NamedTuple):
    """The points centre + u cos t + v sin t: an outline, and a light fill if ``opacity`` is set."""

    centre: tuple[float, float]
    u: tuple[float, float]
    v: tuple[float, float]
    ink: str
    width: float
    opacity: float = 0.0


class Mark(NamedTuple):
    """A filled ``"circle"`` or ``"diamond"`` with a white edge; ``size`` is its half-width."""

    x: float
    y: float
    shape: str
    ink: str
    size: float


class Words(NamedTuple):
    """A line of text on its baseline; ``angle`` in degrees about the anchor, anticlockwise."""

    x: float
    y: float
    text: str
    size: float = BODY
    anchor: str = "start"
    bold: bool = False
    ink: str = INK
    angle: float = 0.0


_CURVE = 0.5522847498307936
"""Where the control points of a quarter circle as a cubic curve lie (error 0.03 %)."""
Item = Line | Polygon | Ellipse | Mark | Words


@dataclass(frozen=True, slots=True)
class Scene:
    """A picture ready to be rendered.

    Attributes
    ----------
    width, height : float
        Size in points.
    items : tuple of Item
        In drawing order.
    x_limits, y_limits : (float, float)
        Values of the pictured quantities at the left and right, lower and upper edge of the
        scene, so that more can be drawn on top in data coordinates.
    """

    width: float
    height: float
    items: tuple[Item, ...]
    x_limits: tuple[float, float] = (0.0, 1.0)
    y_limits: tuple[float, float] = (0.0, 1.0)


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


class EdgeLabel(NamedTuple):
    """A label above a horizontal edge: what it says and the position it belongs to."""

    at: float
    text: str
    bold: bool
    ink: str


def edge_labels(
    labels: Sequence[EdgeLabel], y: float, low: float, high: float, limit: float = math.inf
) -> tuple[list[Item], float, float]:
    """Place labels above a horizontal edge, level if they fit side by side, else aslant."""
    if not labels:
        return [], 0.0, low
    widths = [text_width(one.text, BODY, bold=one.bold) for one in labels]
    wanted = [one.at for one in labels]
    items: list[Item] = []
    stem = 9.0
    level = spread(wanted, max(widths) + 8.0, low + max(widths) / 2, high - max(widths) / 2)
    fits = all(abs(x - at) <= 36.0 for x, at in zip(level, wanted, strict=True))
    apart = all(b - a >= max(widths) + 7.0 for a, b in pairwise(level))
    if fits and apart:
        for one, x in zip(labels, level, strict=True):
            items.append(Line(((one.at, y), (x, y + stem)), one.ink, 0.6))
            items.append(Words(x, y + stem + 3.0, one.text, BODY, "middle", one.bold, one.ink))
        return items, stem + BODY + 4.0, max(x + w / 2 for x, w in zip(level, widths, strict=True))
    cosine, sine = 0.819, 0.574  # 35 degrees
    high = min(high, limit - cosine * max(widths) - 6.0)
    placed = spread(wanted, 1.3 * BODY / sine, low, high)
    for one, x in zip(labels, placed, strict=True):
        items.append(Line(((one.at, y), (x, y + stem)), one.ink, 0.6))
        items.append(
            Words(x + 2.0, y + stem + 2.0, one.text, BODY, "start", one.bold, one.ink, 35.0)
        )
    taken = stem + max(widths) * sine + BODY
    return items, taken, max(x + w * cosine for x, w in zip(placed, widths, strict=True)) + 6.0


def across_axis(
    values: tuple[float, float], ends: tuple[float, float], y: float
) -> tuple[list[Item], list[float]]:
    """Draw ticks and numbers of a horizontal axis below the height ``y``."""
    low, high = values
    left, right = ends
    marks = ticks(low, high, most=max(int((right - left) / 55.0), 2))
    items: list[Item] = []
    places = []
    for value, text in zip(marks, tick_labels(marks), strict=True):
        x = left + (right - left) * (value - low) / (high - low)
        places.append(x)
        items.append(Line(((x, y), (x, y - 4.0)), INK, 0.8))
        items.append(Words(x, y - 5.0 - SMALL, text, SMALL, "middle"))
    return items, places


def ellipse_points(item: Ellipse) -> list[tuple[float, float]]:
    """Return the start and the twelve control points of four cubic curves round an ellipse."""
    (x, y), (ux, uy), (vx, vy) = item.centre, item.u, item.v

    def at(p: float, q: float) -> tuple[float, float]:
        return x + p * ux + q * vx, y + p * uy + q * vy

    k = _CURVE
    turns = [
        (1, 0), (1, k), (k, 1), (0, 1), (-k, 1), (-1, k), (-1, 0),
        (-1, -k), (-k, -1), (0, -1), (k, -1), (1, -k), (1, 0),
    ]  # fmt: skip
    return [at(p, q) for p, q in turns]
