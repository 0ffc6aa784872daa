"""The amounts of all groups of a class, the straight line through them, and its intercept."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import ClassVar

import numpy as np

from ..classroom.result import ClassResult
from ..classroom.sentences import blank_sentences, line_sentence
from ..errors import ModelError
from ..uncertainty import entry
from ..uncertainty.straight_line import Line as FittedLine
from .class_groups import class_rays, group_mark, whole_class
from .look import MEAN, SHADE, SMALL, TRIAL
from .plane import Plane
from .rays import Ray, fewer, ray_lines, rays_in_words
from .scene import Item, Line, Mark, Polygon, Scene, Words
from .shapes import remarks
from .writing import (
    clean,
    listed,
    number,
    percent,
    shortened,
    shown_species,
    text_width,
    with_uncertainty,
    wrapped,
)

_NODES = 41
_MARGIN = 1.08
_MOST_RAYS = 12
_MOST_BARS = 60
"""Classes up to so many groups show the uncertainty of each."""


@dataclass(frozen=True, slots=True)
class GroupSpot:
    """The mean amounts of one group, mmol, with their own standard uncertainties."""

    name: str
    kind: str
    consumed_mmol: float
    produced_mmol: float
    u_consumed_mmol: float
    u_produced_mmol: float
    outlying: bool


@dataclass(frozen=True, slots=True)
class ClassLinePicture:
    """What the picture of the amounts shows.

    Attributes
    ----------
    consumed, produced : str
        The two substances.
    coverage : float
    spots : tuple of GroupSpot
        In the order of the file.
    rays : tuple of Ray
        The candidates in rising order.
    slope, intercept_mmol : float
        Of the line; nan without one.
    u_intercept_mmol : float
    intercept_range_mmol : (float, float)
        Coverage interval of the intercept.
    band : tuple of (float, float, float)
        Amount consumed, and the lower and upper end of the line's coverage band there, mmol.
    blank : bool
        Whether the intercept differs from zero.
    words : str
        What line and intercept say.
    whole : str
        The verdict of the class in a few words.
    x, y : (float, float)
        Amounts at the edges of the frame, mmol.
    """

    title: ClassVar[str] = "Amounts of the groups"
    consumed: str
    produced: str
    coverage: float
    spots: tuple[GroupSpot, ...]
    rays: tuple[Ray, ...]
    slope: float
    intercept_mmol: float
    u_intercept_mmol: float
    intercept_range_mmol: tuple[float, float]
    band: tuple[tuple[float, float, float], ...]
    blank: bool
    words: str
    whole: str
    x: tuple[float, float]
    y: tuple[float, float]

    @classmethod
    def of(cls, result: ClassResult) -> ClassLinePicture:
        """Return the picture of the amounts of a class.

        Raises
        ------
        ModelError
            If the class has no verdict.

        Examples
        --------
        >>> from stoichkit import experiments
        >>> from stoichkit.classroom import assess_class
        >>> result = assess_class(experiments.class_file(), "copper-silver")
        >>> found = ClassLinePicture.of(result)
        >>> len(found.spots), round(found.slope, 2), found.blank
        (9, 1.64, False)
        """
        verdict = entry.record("result", result, ClassResult).verdict
        if verdict is None:
            raise ModelError(
                "There is no picture of the class as a whole, since it has no verdict.",
                given=result.no_verdict,
            )
        amounts, line, blank = verdict.amounts, verdict.line, verdict.blank
        kinds = dict(zip(result.evidence.names, result.evidence.kinds, strict=True))
        u_x, u_y = np.sqrt(amounts.own.consumed), np.sqrt(amounts.own.produced)
        table = np.array([amounts.consumed, amounts.produced, u_x, u_y]).T * 1e3
        spots = tuple(
            GroupSpot(clean(name, limit=80), kinds[name], a, b, u_a, u_b, name in verdict.outlying)
            for name, (a, b, u_a, u_b) in zip(amounts.names, table.tolist(), strict=True)
        )
        x = _ends(
            [s.consumed_mmol + s.u_consumed_mmol for s in spots], [s.consumed_mmol for s in spots]
        )
        ends = [s.produced_mmol + s.u_produced_mmol for s in spots]
        lows = [s.produced_mmol - s.u_produced_mmol for s in spots if s.produced_mmol < 0]
        nan = math.nan
        found = (nan, nan, nan)
        interval = (nan, nan)
        band: tuple[tuple[float, float, float], ...] = ()
        if line is not None and blank is not None:
            found = (line.slope, 1e3 * line.intercept, 1e3 * line.u_intercept_total)
            low, high = blank.interval_mol
            interval = (1e3 * low, 1e3 * high)
            band = _band_of(line, x[1], verdict.coverage)
            lows.append(max(interval[0], -0.4 * max(ends)))
        return cls(
            consumed=shown_species(result.experiment.consumed.species),
            produced=shown_species(result.experiment.produced.species),
            coverage=verdict.coverage,
            spots=spots,
            rays=class_rays(result),
            slope=found[0],
            intercept_mmol=found[1],
            u_intercept_mmol=found[2],
            intercept_range_mmol=interval,
            band=band,
            blank=blank is not None and blank.p_value < 1 - verdict.coverage,
            words=f"{line_sentence(verdict)} {blank_sentences(blank, result.experiment)}",
            whole=whole_class(result),
            x=x,
            y=_ends(ends, lows),
        )

    @property
    def alt_text(self) -> str:
        """The picture described for readers who do not see it.

        >>> from stoichkit import experiments
        >>> from stoichkit.classroom import assess_class
        >>> result = assess_class(experiments.class_file(), "copper-silver")
        >>> print(ClassLinePicture.of(result).alt_text.partition(";")[0])
        Amount of Ag produced against amount of Cu consumed, one point for each of 9 groups, with
        their own standard uncertainties, and the candidates as rays from the origin. Consumed
        0.787 mmol to 2.6 mmol
        """
        consumed = [s.consumed_mmol for s in self.spots]
        produced = [s.produced_mmol for s in self.spots]
        parts = [
            f"Amount of {self.produced} produced against amount of {self.consumed} consumed, one "
            f"point for each of {len(self.spots)} groups, with their own standard uncertainties, "
            "and the candidates as rays from the origin.",
            f"Consumed {number(min(consumed))} mmol to {number(max(consumed))} mmol; produced "
            f"{number(min(produced))} mmol to {number(max(produced))} mmol.",
        ]
        if self.band:
            parts.append(f"A straight line with its {percent(self.coverage)} band.")
        parts += [self.words, f"{self.whole}."]
        out = [s.name for s in self.spots if s.outlying]
        if out:
            parts.append(f"Standing out, as diamonds: {listed(out)}.")
        parts.append(rays_in_words(self.rays))
        return " ".join(parts)

    def scene(self, width: float = 480.0, height: float | None = None) -> Scene:
        """Lay out the groups: 300 by 260 points or more, 330 high if nothing is said."""
        height = 330.0 if height is None else height
        shown = fewer(self.rays, _MOST_RAYS, self.slope if self.slope >= 0 else 0.0)
        notes = [line for one in self._notes() for line in wrapped(one, width - 24.0, SMALL)]
        taken = len(notes) * (SMALL + 4.0) + 2.0
        foot = remarks(notes, 12.0, taken - SMALL), taken
        tags = [ray.tag for ray in shown]
        plane = Plane.fitted(tags, self.x, self.y, (width, height), lambda _: foot)
        zeros = [plane.zero_line(i) for i in (1, 0) if (self.x, self.y)[i][0] < 0]
        return plane.scene(
            self._band(plane),
            plane.axes(self.consumed, self.produced, zeros=zeros),
            ray_lines(self.rays, plane, start=0.0),
            plane.labels,
            self._line(plane),
            *(self._spot(plane, spot) for spot in self.spots),
            self._intercept(plane),
            plane.foot,
        )

    def _notes(self) -> list[str]:
        """Return what the marks and lines mean."""
        text = "Points: groups; full circle: singles out one, open circle: cannot tell, "
        text += "cross: fits none"
        if any(spot.kind == "cannot_be_judged" for spot in self.spots):
            text += ", triangle: cannot be judged"
        if any(spot.outlying for spot in self.spots):
            text += ", in a diamond: stands out"
        text += "."
        if len(self.spots) <= _MOST_BARS:
            text += " Bars: one standard uncertainty."
        if not all(ray.judged for ray in self.rays):
            text += " The class cannot be judged: the lines of the candidates are grey."
        if not self.band:
            return [text, "No straight line was drawn."]
        return [
            text,
            f"Orange: straight line through the groups; shaded: its {percent(self.coverage)} band; "
            "where it meets the upright axis: the blank.",
        ]

    def _inside(self, produced: float) -> float:
        """Return an amount produced, kept between both edges."""
        return min(max(produced, self.y[0]), self.y[1])

    def _band(self, plane: Plane) -> list[Item]:
        """Shade the band of the line."""
        low = [plane.at(a, self._inside(b)) for a, b, _ in self.band]
        high = [plane.at(a, self._inside(c)) for a, _, c in self.band]
        return [Polygon((*low, *high[::-1]), SHADE)] if self.band else []

    def _line(self, plane: Plane) -> list[Item]:
        """Draw the line through the groups."""
        if not self.band:
            return []
        points = plane.segment(self.slope, self.intercept_mmol, start=0.0)
        return [Line(points, MEAN, 2.0)] if points else []

    def _spot(self, plane: Plane, spot: GroupSpot) -> list[Item]:
        """Draw one group with its uncertainties, and its name if it stands out."""
        x, y = plane.at(spot.consumed_mmol, spot.produced_mmol)
        few = len(self.spots) <= _MOST_BARS
        items: list[Item] = []
        if few:
            left = plane.at(spot.consumed_mmol - spot.u_consumed_mmol, 0.0)[0]
            low = plane.at(0.0, spot.produced_mmol - spot.u_produced_mmol)[1]
            items.append(Line(((left, y), (2 * x - left, y)), TRIAL, 0.9))
            items.append(Line(((x, low), (x, 2 * y - low)), TRIAL, 0.9))
        items += group_mark(spot.kind, x, y, 3.4 if few else 2.0, outlying=spot.outlying)
        if spot.outlying:
            name = shortened(spot.name, 18)
            right = x + (text_width(name, SMALL) + 12.0) <= plane.right
            at, anchor = (x + 9.0, "start") if right else (x - 9.0, "end")
            items.append(Words(at, y - 11.0, name, SMALL, anchor, True))
        return items

    def _intercept(self, plane: Plane) -> list[Item]:
        """Mark where the line meets the upright axis, with the interval of the blank."""
        if not self.band or not math.isfinite(self.intercept_mmol):
            return []
        low, high = (self._inside(end) for end in self.intercept_range_mmol)
        x, y = plane.at(0.0, self._inside(self.intercept_mmol))
        words = f"blank {with_uncertainty(self.intercept_mmol, self.u_intercept_mmol)} mmol"
        if not self.blank:
            words += ", not told from 0"
        at = plane.top - 14.0  # above the rays, which rise to the right
        return [
            Line((plane.at(0.0, low), plane.at(0.0, high)), MEAN, 3.0),
            Mark(x, y, "diamond", MEAN, 5.5),
            Line(((x, y), (x + 6.0, min(y + 14.0, at)), (x + 6.0, at)), MEAN, 0.8),
            Words(x + 10.0, at, words, SMALL, bold=self.blank),
        ]


def _ends(high: list[float], low: list[float]) -> tuple[float, float]:
    """Return the edges of an axis from zero, or below it where there is something."""
    top = max(*high, 0.0) or 1.0
    least = min([*low, 0.0])
    return (_MARGIN * least, _MARGIN * top)


def _band_of(
    line: FittedLine, last_mmol: float, coverage: float
) -> tuple[tuple[float, float, float], ...]:
    """Return the band of the line, mmol; errors that are shared are added at their most."""
    from scipy.special import ndtri, stdtrit

    tail = 0.5 + coverage / 2
    factor = float(stdtrit(line.dof, tail) if line.inflated else ndtri(tail))
    found = []
    for x in np.linspace(0.0, last_mmol / 1e3, _NODES).tolist():
        own = line.u_intercept**2 + (x * line.u_slope) ** 2 + 2 * x * line.covariance
        shared = line.u_intercept_shared + x * line.u_slope_shared
        half = factor * math.sqrt(max(own, 0.0) + shared**2)
        y = line.intercept + line.slope * x
        found.append((1e3 * x, 1e3 * (y - half), 1e3 * (y + half)))
    return tuple(found)
