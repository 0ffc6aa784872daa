"""Planned chances: of each verdict as bars; of a right conclusion as curves and as a map."""

from __future__ import annotations

import math
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from itertools import groupby, pairwise
from typing import ClassVar, NamedTuple, Self

import numpy as np

from ..errors import ModelError
from ..experiments.record import Experiment
from ..planning.design import DesignMap
from ..planning.outcomes import Chances
from ..planning.sentences import chance_text, chances_sentence, map_sentence, step_text
from ..uncertainty import entry
from ..uncertainty.sources import Floats
from .look import (
    BODY,
    DASHES,
    DIM,
    FAINT,
    GREY,
    GRID,
    INK,
    MEAN,
    PALE,
    REST,
    SHADE,
    SMALL,
    TRIAL,
    WHITE,
)
from .plane import marks_below, marks_left
from .rays import label_of
from .scene import Item, Line, Mark, Point, Polygon, Scene, Words, lifted
from .shapes import box, framed, hatching, key
from .writing import clean, listed, number, shown_species, text_width, wrapped

_KEY = (
    ("right", "the true one is singled out"),
    ("not_told_apart", "not told apart"),
    ("none_fits", "none fits"),
    ("wrong", "a wrong one is singled out"),
    ("cannot_be_judged", "cannot be judged"),
)
_SEEN = 5e-4
"""Chances below this are written as "below 0.001"; such a part has no place in the key."""
_HEAD = "if this is true"
_BAR, _PITCH = 15.0, 22.0
_LINE = BODY + 4.0
_MOST_SENTENCES = 4
_LOOKS: tuple[tuple[float, tuple[float, float] | None], ...] = (
    (2.0, None),
    (1.6, (7.0, 2.5)),
    (1.6, (2.0, 2.0)),
    (1.0, None),
    (1.0, (5.0, 5.0)),
)


@dataclass(frozen=True, slots=True)
class ChancesPicture:
    """The chances of each verdict as stacked bars, one for each candidate taken as true.

    Attributes
    ----------
    chances : tuple of (str, str, Chances)
        Name of each candidate taken as true, the name as written in the picture, and the chances.
    target : float
        Chance of a right conclusion asked for.
    """

    title: ClassVar[str] = "Chance of each verdict"
    chances: tuple[tuple[str, str, Chances], ...]
    target: float

    @classmethod
    def of(cls, chances: Iterable[tuple[str, Chances]], target: float) -> ChancesPicture:
        """Return the picture of some chances.

        Parameters
        ----------
        chances : iterable of (str, Chances)
            Such as ``operating_characteristic(plan).chances.items()``.
        target : float
            0 to 1.

        Examples
        --------
        >>> ChancesPicture.of([("SnO2", Chances(0.93, 0.004, 0.046, 0.02))], 0.9).chances[0][1]
        'SnO₂'
        """
        pairs = entry.listed("chances", chances, tuple)
        target = entry.number("target", target, least=0, most=1)
        return cls(tuple((clean(n), label_of(clean(n)), found) for n, found in pairs), target)

    @property
    def alt_text(self) -> str:
        """The picture described for readers who do not see it.

        >>> chances = [("SnO2", Chances(0.93, 0.004, 0.046, 0.02))]
        >>> print(ChancesPicture.of(chances, 0.9).alt_text)
        Stacked bars: chance of each verdict, one bar for each candidate taken as true; target for
        the right conclusion 0.9. If SnO2 is true, the chance that a lab singles it out is 0.93;
        that it cannot tell, 0.05; that it finds no candidate to fit, 0.02; that it names the wrong
        one, 0.004.
        """
        head = (
            "Stacked bars: chance of each verdict, one bar for each candidate taken as true; "
            f"target for the right conclusion {number(self.target)}."
        )
        if len(self.chances) <= _MOST_SENTENCES:
            said = [chances_sentence(name, found) for name, _, found in self.chances]
            return " ".join([head, *said])
        each = [f"{n} {chance_text(found.right, self.target)}" for n, _, found in self.chances]
        right = listed(each, most=20)
        wrong = chance_text(max(found.wrong for _, _, found in self.chances))
        return (
            f"{head} Chance that the true candidate is singled out: {right}. Chance that a wrong "
            f"one is singled out, at the most: {wrong}. The rest is not told apart, or none fits."
        )

    def scene(self, width: float = 480.0, height: float | None = None) -> Scene:
        """Lay out the bars; the height follows from their number."""
        del height  # it follows from what is shown
        labels = [_HEAD, *(label for _, label, _ in self.chances)]
        column = max(text_width(label, BODY) for label in labels)
        left, right = min(column, 0.35 * width) + 20.0, width - 46.0
        bottom = 44.0
        top = bottom + _PITCH * len(self.chances)

        def sample(part: str, x: float, y: float) -> list[Item]:
            return sample_of(part, x, x + 18.0, y - 1.0, y + SMALL - 1.0)

        judged = all(found.cannot_be_judged < _SEEN for _, _, found in self.chances)
        foot, taken = key(_KEY[: 4 if judged else 5], sample, width - 12.0)
        high = top + 16.0 + taken
        marks = [(left + (right - left) * i / 5, f"{i / 5:.1f}") for i in range(6)]
        items: list[Item] = [
            *marks_below(marks, bottom),
            Words((left + right) / 2, 8.0, "chance of each verdict", BODY, "middle"),
            Line(((left, bottom), (right, bottom)), INK, 1.0),
        ]
        x = left + (right - left) * self.target
        for i, (_, label, found) in enumerate(self.chances):
            low = top - (i + 1) * _PITCH + 0.5 * (_PITCH - _BAR)
            items += _bar(found, left, right, low, x)
            baseline = low + 0.5 * _BAR - 0.36 * BODY
            items.append(Words(left - 6.0, baseline, label, BODY, "end"))
            shown = chance_text(found.right, self.target)
            shown = shown.replace("below ", "< ").replace("above ", "> ")
            bold = found.right >= self.target
            items.append(Words(right + 5.0, baseline, shown, SMALL, bold=bold))
        line = ((x, bottom), (x, top + 3.0))
        target = f"target {number(self.target)}"
        half = text_width(target, SMALL) / 2
        level = top + 5.0
        items += [
            Line(line, WHITE, 3.0),
            Line(line, INK, 1.4, DASHES),
            Words(min(x, right - half), level, target, SMALL, "middle", True),
            Words(width - 4.0, level, "right", SMALL, "end", ink=GREY),
            Words(left - 6.0, level, _HEAD, SMALL, "end", ink=GREY),
            *(lifted(item, high - taken) for item in foot),
        ]
        return Scene(width, high, tuple(items), (0.0, width), (0.0, high))


def sample_of(part: str, x: float, end: float, low: float, high: float) -> list[Item]:
    """Fill a rectangle in the way of one verdict, told apart without colour."""
    fill = {"right": TRIAL, "not_told_apart": SHADE, "none_fits": WHITE, "wrong": MEAN}.get(
        part, PALE
    )
    inner: list[Item] = []
    if part == "not_told_apart":
        inner = hatching(x, end, low, high, PALE, 4.0)
    if part == "wrong":
        middle = 0.5 * (low + high)
        inner = [Line(((x, middle), (end, middle)), INK, 0.8)]
    return framed(box(x, end, low, high), fill, INK, 0.8, inner)


def _bar(found: Chances, left: float, right: float, low: float, target: float) -> list[Item]:
    """Return one bar; its numbers keep clear of the line at the target."""
    items: list[Item] = []
    x = left
    for part, _ in _KEY:
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
            middle = 0.5 * (start + stop)
            if part in ("not_told_apart", "wrong"):
                a, b = middle - wide / 2 - 1.0, middle + wide / 2 + 1.0
                items.append(Polygon(box(a, b, low + 2.5, low + _BAR - 2.5), WHITE))
            ink = WHITE if part == "right" else INK
            level = low + 0.5 * _BAR - 0.36 * SMALL
            items.append(Words(middle, level, words, SMALL, "middle", ink=ink))
        x = end
    return items


@dataclass(frozen=True, slots=True, eq=False)
class DesignPicture:
    """The chance of a right conclusion over masses and balances, as curves and map show it.

    Attributes
    ----------
    species : str
        The consumed substance as written on the axis.
    masses_g, readabilities_g : ndarray, shapes (m,) and (r,)
    chance : ndarray, shape (r, m)
        Chance of a right conclusion for the hardest candidate.
    target : float
    trials : int
    marked : tuple of (float, float)
        Display step of each balance at hand and the smallest mass of the map that reaches the
        target on it (nan if none does), g.
    planned : (float, float) or None
        Mass and display step of the plan, g.
    words : str
        What it comes to, in a sentence.
    """

    species: str
    masses_g: Floats
    readabilities_g: Floats
    chance: Floats
    target: float
    trials: int
    marked: tuple[tuple[float, float], ...]
    planned: tuple[float, float] | None
    words: str

    @classmethod
    def of(
        cls,
        found: DesignMap,
        experiment: Experiment,
        *,
        marked_g: Iterable[float] = (),
        planned: tuple[float, float] | None = None,
    ) -> Self:
        """Return the picture of a map of designs.

        Parameters
        ----------
        found : DesignMap
        experiment : Experiment
        marked_g : iterable of float
            Display steps of the balances at hand, g.
        planned : (float, float), optional
            Mass to react and display step of the plan, g.

        Raises
        ------
        ModelError
            If the map has one mass only, from which no axis can be made.

        Examples
        --------
        >>> from stoichkit import experiments
        >>> from stoichkit.planning.design import design_map
        >>> lab = experiments.load("copper-silver")
        >>> found = design_map(lab, masses_g=[0.01, 0.1, 1.0], readabilities_g=[0.01, 0.1])
        >>> MapPicture.of(found, lab, marked_g=[0.01]).marked
        ((0.01, 0.1),)
        """
        entry.record("found", found, DesignMap)
        if found.masses_g.size < 2:
            allowed, given = "masses from a smallest to a largest", f"{found.masses_g[0]:g} g"
            raise entry.refusal(ModelError, "found", "has one mass only", given, allowed)
        entry.record("experiment", experiment, Experiment)
        steps = entry.array("marked_g", marked_g, ndim=(1,), empty=True, above=0).tolist()
        marked = tuple(sorted({*steps}))
        if planned is not None:
            mass, step = entry.array("planned", planned, size=2, above=0).tolist()
            planned = mass, step
        return cls(
            species=shown_species(experiment.consumed.species),
            masses_g=found.masses_g,
            readabilities_g=found.readabilities_g,
            chance=found.chance,
            target=found.target,
            trials=found.trials,
            marked=tuple((step, found.smallest_mass_g(step)) for step in marked),
            planned=planned,
            words=map_sentence(found, experiment, marked),
        )

    @property
    def title(self) -> str:
        """What is shown."""
        return f"Chance of a right conclusion for the hardest candidate, {self._repeats}"

    @property
    def _repeats(self) -> str:
        """The number of trials in words."""
        return f"{self.trials} trial{'s' if self.trials > 1 else ''}"

    @property
    def _mass_range(self) -> str:
        """The masses in words."""
        return f"{number(float(self.masses_g[0]))} to {number(float(self.masses_g[-1]))} g"

    def _frame(self, width: float, height: float, edges: tuple[float, float, float]) -> _Frame:
        """Return the frame that leaves some room to the left, to the right and below."""
        left, right, bottom = edges
        ends = float(self.masses_g[0]), float(self.masses_g[-1])
        top = height - 13.0 - _LINE * len(self._heading(width))
        return _Frame(left, width - right, bottom, top, *ends)

    def _heading(self, width: float) -> list[str]:
        """Return the title in lines, which are bold and so a little wider than others."""
        return wrapped(self.title, 0.9 * width - 20.0, BODY)

    def _around(self, frame: _Frame, width: float, height: float) -> list[Item]:
        """Draw the heading, the axis of masses with its title, and the frame."""
        left, right, bottom, top = frame[:4]
        marks = [(frame.x(value), text) for value, text in _log_ticks(frame.low, frame.high)]
        axis = f"mass of {self.species} to react in each trial / g"
        return [
            *(
                Words(12.0, height - i * _LINE - _LINE, line, BODY, bold=True)
                for i, line in enumerate(self._heading(width))
            ),
            *marks_below(marks, bottom),
            Words((left + right) / 2, bottom - 28.0, axis, BODY, "middle"),
            Line(((left, top), (right, top), (right, bottom)), GRID, 0.8),
            Line(((left, top), (left, bottom), (right, bottom)), INK, 1.0),
        ]


class CurvesPicture(DesignPicture):
    """Curves of the chance of a right conclusion against the mass, one for each balance at hand.

    The attributes are those of :class:`DesignPicture`; up to five balances are shown.
    """

    __slots__ = ()

    def _row(self, step_g: float) -> Floats:
        """Return the chances on the balance of the map nearest to a display step."""
        nearest = int(np.argmin(np.abs(np.log(self.readabilities_g / step_g))))
        return np.asarray(self.chance[nearest])

    @property
    def alt_text(self) -> str:
        """The picture described for readers who do not see it."""
        parts = [
            f"Curves: chance of a right conclusion for the hardest candidate against the mass of "
            f"{self.species} to react, {self._mass_range}, with {self._repeats}; one "
            f"curve for each balance; target {number(self.target)} as a dashed line."
        ]
        for step, _ in self.marked:
            chances = self._row(step)
            picks = sorted({0, chances.size // 4, chances.size // 2, 3 * chances.size // 4})
            some = ", ".join(
                f"{chance_text(float(chances[i]))} at {number(float(self.masses_g[i]))} g"
                for i in (*picks, chances.size - 1)
            )
            parts.append(f"Read to {step_text(step)}: {some}.")
        return " ".join([*parts, self.words])

    def scene(self, width: float = 480.0, height: float | None = None) -> Scene:
        """Lay out the curves: 290 points high if nothing is said."""
        height = 290.0 if height is None else height
        frame = self._frame(width, height, (46.0, 16.0, 40.0))

        def y(chance: float) -> float:
            return frame.bottom + chance * (frame.top - frame.bottom - 8.0)

        at = y(self.target)
        target = f"target {number(self.target)}"
        items = [
            *self._around(frame, width, height),
            *marks_left(((y(i / 5), f"{i / 5:.1f}") for i in range(6)), frame.left),
            frame.up("chance of a right conclusion"),
            Line(((frame.left, at), (frame.right, at)), MEAN, 1.0, DASHES),
            Words(frame.left + 4.0, at + 3.0, target, SMALL, bold=True),
        ]
        masses = self.masses_g.tolist()
        labels: list[Item] = []
        looks = enumerate(zip(self.marked[: len(_LOOKS)], _LOOKS, strict=False))
        for i, ((step, least), (thick, dashes)) in looks:
            row = self._row(step).tolist()
            points = [(frame.x(mass), y(chance)) for mass, chance in zip(masses, row, strict=True)]
            items.append(Line(tuple(points), TRIAL, thick, dashes))
            if not math.isnan(least):
                level = y(float(np.interp(least, masses, row)))
                items.append(Mark(frame.x(least), level, "diamond", INK, 4.0))
            labels += _curve_label(points, y((0.30, 0.52, 0.70)[i % 3]), step_text(step), frame)
        return Scene(width, height, (*items, *labels), (0.0, width), (0.0, height))


class MapPicture(DesignPicture):
    """The chance of a right conclusion as a map of masses and balances.

    The attributes are those of :class:`DesignPicture`. The limits of its scene are decimal
    logarithms of the mass and of the readability, both in g.
    """

    __slots__ = ()

    @property
    def alt_text(self) -> str:
        """The picture described for readers who do not see it."""
        low, high = (step_text(float(self.readabilities_g[i])) for i in (0, -1))
        parts = [
            f"Map: across, mass of {self.species} to react, {self._mass_range}; up, readability of "
            f"the balance, {low} to {high}; both logarithmic; {self._repeats}. Shaded by the "
            "chance of a right conclusion for the hardest candidate: the darker, the smaller; "
            f"white where it reaches the target, {number(self.target)}; a thick line at the target."
        ]
        if self.planned is not None:
            mass, step = self.planned
            plan = f"{number(mass)} g on a balance read to {step_text(step)}"
            parts.append(f"The plan, {plan}, is a diamond.")
        return " ".join([*parts, self.words])

    def scene(self, width: float = 480.0, height: float | None = None) -> Scene:
        """Lay out the map: 330 points high if nothing is said."""
        height = 330.0 if height is None else height
        foot, taken = self._key(width)
        frame = self._frame(width, height, (58.0, 58.0, 40.0 + taken))
        steps = self.readabilities_g
        log = np.log(steps)
        half = 0.5 * float(log[1] - log[0]) if log.size > 1 else 0.5
        low, high = float(log[0]) - half, float(log[-1]) + half

        def y(log_step: float) -> float:
            return frame.bottom + (log_step - low) / (high - low) * (frame.top - frame.bottom)

        marks = _log_ticks(float(steps[0]), float(steps[-1]))
        items = [
            *self._cells(frame, [(y(one - half), y(one + half)) for one in log.tolist()]),
            *self._contour(frame, [y(one) for one in log.tolist()]),
            *self._around(frame, width, height),
            *marks_left(((y(math.log(value)), text) for value, text in marks), frame.left),
            frame.up("readability of the balance / g"),
        ]
        for step, least in self.marked:
            at = y(math.log(step))
            if not frame.bottom <= at <= frame.top:
                continue
            items.append(Line(((frame.left, at), (frame.right, at)), TRIAL, 1.2, DASHES))
            items.append(Words(frame.right + 5.0, at - 0.36 * SMALL, step_text(step), SMALL))
            if not math.isnan(least):
                items.append(Mark(frame.x(least), at, "circle", TRIAL, 4.0))
        if self.planned is not None:
            mass, step = self.planned
            if frame.low <= mass <= frame.high and low <= math.log(step) <= high:
                items.append(Mark(frame.x(mass), y(math.log(step)), "diamond", MEAN, 6.0))
        across = (math.log10(frame.low), math.log10(frame.high))
        up = (low / math.log(10.0), high / math.log(10.0))
        limits = (
            _out_to(across, (frame.left, frame.right), width),
            _out_to(up, (frame.bottom, frame.top), height),
        )
        return Scene(width, height, (*items, *foot), *limits)

    @property
    def _levels(self) -> list[float]:
        """The chances at which the shade changes, the target last."""
        return [*(v for v in (0.25, 0.5, 0.75) if v < self.target - 0.02), self.target]

    def _cells(self, frame: _Frame, rows: Sequence[tuple[float, float]]) -> list[Item]:
        """Shade what does not reach the target."""
        levels, masses = self._levels, self.masses_g
        middles = np.sqrt(masses[1:] * masses[:-1])
        edges = [frame.x(mass) for mass in [*masses[:1], *middles, *masses[-1:]]]
        bands = np.searchsorted(levels, self.chance, side="right").tolist()
        items: list[Item] = []
        for (low, high), row in zip(rows, bands, strict=True):
            top = min(high + 0.5, frame.top)  # overlapping, so that no seam shows
            start = 0
            for band, cells in groupby(row):
                end = start + len(list(cells))
                if band < len(levels):
                    fill = _shade(band, len(levels) + 1)
                    items.append(Polygon(box(edges[start], edges[end], low, top), fill))
                start = end
        return items

    def _contour(self, frame: _Frame, levels: Sequence[float]) -> list[Item]:
        """Draw the thick line at the target."""
        points = [
            (frame.x(mass), y)
            for y, row in zip(levels, self.chance, strict=True)
            if not math.isnan(mass := _crossing(self.masses_g, row, self.target))
        ]
        return [Line(tuple(points), INK, 2.2)] if len(points) > 1 else []

    def _key(self, width: float) -> tuple[list[Item], float]:
        """Return the key, below the axis title, and its height."""
        levels = self._levels
        between = [f"{a:g} to {b:g}" for a, b in pairwise(levels)]
        texts = [f"below {levels[0]:g}", *between, f"{levels[-1]:g} or more"]
        entries: list[tuple[str, str]] = [
            *((_shade(band, len(texts)), text) for band, text in enumerate(texts)),
            ("circle", "smallest mass enough on a balance at hand"),
        ]
        if self.planned is not None:
            entries.append(("diamond", "this plan"))

        def sample(kind: str, x: float, y: float) -> list[Item]:
            if kind in ("circle", "diamond"):
                ink = TRIAL if kind == "circle" else MEAN
                return [Mark(x + 7.0, y + 3.0, kind, ink, 4.0)]
            return framed(box(x, x + 14.0, y - 1.0, y + 8.0), kind, INK, 0.6)

        return key(
            entries, sample, width - 16.0, indent=18.0, around=(18.0, 9.0), pitch=12.0,
            margins=(2.0, 2.0),
        )  # fmt: skip


class _Frame(NamedTuple):
    """The inner frame in points, with a logarithmic axis across from ``low`` to ``high``."""

    left: float
    right: float
    bottom: float
    top: float
    low: float
    high: float

    def x(self, mass_g: float) -> float:
        """Return the place of a mass."""
        part = math.log(mass_g / self.low) / math.log(self.high / self.low)
        return self.left + part * (self.right - self.left)

    def up(self, title: str) -> Words:
        """Return the title of the upright axis."""
        middle = 0.5 * (self.bottom + self.top)
        return Words(BODY + 4.0, middle, title, BODY, "middle", angle=90.0)


def _log_ticks(low: float, high: float) -> list[tuple[float, str]]:
    """Return the places of ticks with their labels, "" for those without."""
    first, last = math.floor(math.log10(low) + 1e-9), math.ceil(math.log10(high) - 1e-9)
    labelled = (1,) if last - first > 3 else (1, 2, 5)
    found = []
    for power in range(first, last + 1):
        for digit in range(1, 10):
            value = digit * 10.0**power
            if low * (1 - 1e-9) <= value <= high * (1 + 1e-9):
                found.append((value, number(value, 2) if digit in labelled else ""))
    return found


def _curve_label(points: Sequence[Point], level: float, text: str, frame: _Frame) -> list[Item]:
    """Write which balance a curve belongs to, on the curve, in a white box."""
    x, y = next((point for point in points if point[1] >= level), points[-1])
    half = text_width(text, SMALL) / 2 + 2.0
    x = min(max(x, frame.left + half + 1.0), frame.right - half - 1.0)
    ground = Polygon(box(x - half, x + half, y - 5.0, y + 6.0), WHITE)
    return [ground, Words(x, y - 0.36 * SMALL, text, SMALL, "middle", True)]


def _shade(band: int, bands: int) -> str:
    """Return the grey of a band: white for the last one, which reaches the target."""
    if band == bands - 1:
        return WHITE
    greys = (REST, DIM, FAINT, SHADE)
    return greys[round(band / max(bands - 2, 1) * (len(greys) - 1))]


def _out_to(
    values: tuple[float, float], places: tuple[float, float], size: float
) -> tuple[float, float]:
    """Return the values at 0 and at ``size``, given those at two places in between."""
    (a, b), (start, end) = values, places
    each = (b - a) / (end - start)
    return a - start * each, b + (size - end) * each


def _crossing(masses_g: Floats, chances: Floats, target: float) -> float:
    """Return the smallest mass that reaches the target, interpolated; nan if none does."""
    met = np.flatnonzero(chances >= target)
    if not met.size or met[0] == 0:
        return math.nan
    i = int(met[0])
    part = (target - chances[i - 1]) / (chances[i] - chances[i - 1])
    return float(masses_g[i - 1] * (masses_g[i] / masses_g[i - 1]) ** part)
