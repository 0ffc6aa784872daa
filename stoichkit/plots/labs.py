"""Many simulated labs as dots on the amounts plane, with the candidates' rays."""

from __future__ import annotations

import math
from collections import Counter
from dataclasses import dataclass

import numpy as np

from ..planning.sentences import meaning_sentence, setting_sentence
from ..planning.simulation import Counts, SimulatedLabs
from ..uncertainty import entry
from ..uncertainty.sources import Floats
from .look import GREY, INK, MEAN, PALE, SMALL, TRIAL
from .plane import Plane, Tag
from .rays import label_of
from .scene import Ellipse, Item, Line, Mark, Scene, Words
from .shapes import box, closed, cross, key
from .writing import clean, listed, number, percent, shown_species, text_width, wrapped

_QUARTERS = 4
_SAME = 400
"""Dots closer than this part of the picture are one."""
_MOST_STRIPS = 4
_LIMIT_DASHES = (1.5, 2.5)
_KEY = (
    ("right", "the true candidate is singled out"),
    ("not_told_apart", "not told apart"),
    ("none_fits", "none fits"),
    ("wrong", "a wrong one is singled out"),
    ("cannot_be_judged", "cannot be judged: below zero"),
)


@dataclass(frozen=True, slots=True)
class Dot:
    """Labs at one place of the amounts plane with one verdict, and their mean amounts.

    ``kind`` is one of :data:`stoichkit.planning.outcomes.PARTS`.
    """

    consumed_mmol: float
    produced_mmol: float
    kind: str
    labs: int


@dataclass(frozen=True, slots=True)
class LabRay:
    """A candidate: its name, its name in the picture, and the slope of its ray.

    Labs between its edges are compatible with it: the least and the largest ratio that it allows,
    each with how far a lab may lie below the first or above the second.
    """

    name: str
    label: str
    ratio: float
    edges_mmol: tuple[tuple[float, float], tuple[float, float]]


@dataclass(frozen=True, slots=True)
class LabsPicture:
    """What the picture of simulated labs shows.

    Attributes
    ----------
    consumed, produced : str
        The two substances as written on the axes.
    truth : str
        Name of the candidate taken as true, or ``"nothing reacted"``.
    rays : tuple of LabRay
        In rising order of slope.
    dots : tuple of Dot
    counts : Counts
        Labs of each verdict.
    expected_mmol : (float, float)
        The true amounts, the spread left out; of the product what is recovered on average.
    x, y : (float, float)
        Amounts at the edges, mmol.
    coverage : float
    words : str
        The plan and what the labs mean.
    """

    consumed: str
    produced: str
    truth: str
    rays: tuple[LabRay, ...]
    dots: tuple[Dot, ...]
    counts: Counts
    expected_mmol: tuple[float, float]
    x: tuple[float, float]
    y: tuple[float, float]
    coverage: float
    words: str

    @classmethod
    def of(cls, labs: SimulatedLabs) -> LabsPicture:
        """Return the picture of simulated labs.

        Notes
        -----
        The edges depend on the true amounts, and grow by doubling only where the labs need it, so
        that the picture stays in place while a balance is changed.

        Examples
        --------
        >>> from stoichkit import experiments
        >>> from stoichkit.planning.plan import Plan
        >>> from stoichkit.planning.simulation import simulate_labs
        >>> plan = Plan(experiment=experiments.load("copper-silver"), consumed_mol=0.002)
        >>> picture = LabsPicture.of(simulate_labs(plan, "copper(I)"))
        >>> sum(dot.labs for dot in picture.dots), [ray.name for ray in picture.rays]
        (400, ['copper(I)', 'copper(II)'])
        """
        experiment = entry.record("labs", labs, SimulatedLabs).plan.experiment
        low, high = experiment.recovery
        rays = [
            LabRay(
                clean(c.name),
                label_of(clean(c.name)),
                float(c.ratio),
                ((low * float(c.ratio), 1000.0 * under), (high * float(c.ratio), 1000.0 * over)),
            )
            for c, (under, over) in zip(experiment.candidates, labs.limits_mol, strict=True)
        ]
        truth = clean(labs.truth)
        ratio = next((ray.ratio for ray in rays if ray.name == truth), 0.0)
        amount = 1000.0 * labs.plan.consumed_mol
        steepest = max(ray.ratio for ray in rays)
        made = ratio * float(labs.recovered.mean())
        across, up = 1000.0 * labs.consumed_mol, 1000.0 * labs.produced_mol
        x = _edges(across, 1.6 * amount)
        y = _edges(up, 1.6 * amount * min(steepest, 2.5 * ratio or steepest))
        return cls(
            consumed=shown_species(experiment.consumed.species),
            produced=shown_species(experiment.produced.species),
            truth=truth,
            rays=tuple(sorted(rays, key=lambda ray: ray.ratio)),
            dots=_dots(across, up, labs.kinds, x, y),
            counts=labs.counts,
            expected_mmol=(amount, made * amount) if ratio else (0.0, 0.0),
            x=x,
            y=y,
            coverage=experiment.coverage_each(),
            words=f"{setting_sentence(labs.plan)} {meaning_sentence(labs)}",
        )

    @property
    def title(self) -> str:
        """How many labs there are, and which candidate is true in them."""
        return f"{self.counts.labs} simulated labs, {self._is_true}"

    @property
    def _is_true(self) -> str:
        """Say which candidate is true, or that nothing reacted."""
        known = {ray.name for ray in self.rays}
        return f"{self.truth} is true" if self.truth in known else self.truth

    @property
    def alt_text(self) -> str:
        """The picture described for readers who do not see it.

        >>> from stoichkit import experiments
        >>> from stoichkit.planning.plan import Plan
        >>> from stoichkit.planning.simulation import simulate_labs
        >>> plan = Plan(experiment=experiments.load("copper-silver"), consumed_mol=0.002)
        >>> print(LabsPicture.of(simulate_labs(plan, "copper(I)")).alt_text[:75])
        Amounts plane with 400 simulated labs as dots; copper(I) is true: 2 mmol of
        """
        counts = self.counts
        inside = sum(dot.labs for dot in self.dots)
        places = zip(*((dot.consumed_mmol, dot.produced_mmol) for dot in self.dots), strict=True)
        widths = [f"{number(min(one))} to {number(max(one))} mmol" for one in places]
        rays = listed((f"{ray.name} {number(ray.ratio)}" for ray in self.rays), most=20)
        a, b = self.expected_mmol
        number_below = counts.cannot_be_judged
        below = f", {number_below} cannot be judged (squares)" if number_below else ""
        return (
            f"Amounts plane with {inside} simulated labs as dots; {self._is_true}: "
            f"{number(a)} mmol of {self.consumed} consumed and {number(b)} mmol of {self.produced} "
            f"produced. The dots lie from {widths[0]} across and from {widths[1]} up, on "
            f"{len(self.dots)} places. Each candidate is a ray through the origin with its mole "
            f"ratio as slope: {rays}. Verdicts at {percent(self.coverage)} coverage: "
            f"{counts.right} single out {self.truth} (filled circles), {counts.not_told_apart} "
            f"cannot tell (open circles), {counts.none_fits} fit no candidate (crosses), "
            f"{counts.wrong} single out a wrong candidate (diamonds){below}. {self.words}"
        )

    def scene(self, width: float = 480.0, height: float | None = None) -> Scene:
        """Lay out the labs: 400 by 320 points or more, 390 high if nothing is said."""
        height = 390.0 if height is None else height
        tags = []
        for ray in self.rays:
            true = ray.name == self.truth
            text = f"{ray.label} (true)" if true else ray.label
            tags.append(Tag(ray.ratio, text, true, INK, PALE))

        def foot(left: float) -> tuple[list[Item], float]:
            return self._key(left, width)

        plane = Plane.fitted(tags, self.x, self.y, (width, height), foot, all_bold=True)
        return plane.scene(
            _below_zero(plane),
            plane.axes(self.consumed, self.produced, source=", from the readings"),
            self._rays(plane),
            plane.labels,
            self._expected(plane),
            *(self._dot(plane, dot) for dot in self.dots),
            plane.foot,
        )

    def _rays(self, plane: Plane) -> list[Item]:
        """Draw the rays, and the dotted lines up to which labs fit if there are few."""
        items: list[Item] = []
        for ray in self.rays if len(self.rays) <= _MOST_STRIPS else ():
            for (slope, limit), sign in zip(ray.edges_mmol, (-1.0, 1.0), strict=True):
                points = plane.segment(slope, sign * limit)
                if points:
                    items.append(Line(points, PALE, 0.9, _LIMIT_DASHES))
        for ray in sorted(self.rays, key=lambda ray: ray.name == self.truth):
            points = plane.segment(ray.ratio)
            if points:
                look = (INK, 2.0) if ray.name == self.truth else (PALE, 1.0)
                items.append(Line(points, *look))
        return items

    def _expected(self, plane: Plane) -> list[Item]:
        """Mark the true amounts by two lines to the axes."""
        x, y = plane.at(*self.expected_mmol)
        return [
            Line(((x, plane.bottom), (x, plane.bottom + 9.0)), INK, 2.4),
            Line(((plane.left, y), (plane.left + 9.0, y)), INK, 2.4),
        ]

    def _dot(self, plane: Plane, dot: Dot) -> list[Item]:
        """Draw labs at one place, larger where there are more."""
        place = plane.at(dot.consumed_mmol, dot.produced_mmol)
        return _mark(dot.kind, *place, min(1.7 * math.sqrt(dot.labs), 9.0))

    def _key(self, left: float, width: float) -> tuple[list[Item], float]:
        """Return the key with the number of labs of each verdict, and its height."""
        left = left if width - left > 210.0 else 10.0
        counts, room = self.counts, width - left
        total = counts.labs
        entries = [
            (kind, f"{said}: {getattr(counts, kind)} of {total}")
            for kind, said in _KEY
            if kind != "cannot_be_judged" or counts.cannot_be_judged
        ]
        two = all(24.0 + text_width(words, SMALL) <= room / 2 for _, words in entries)
        said = ["Larger marks stand for more labs. Thick ticks on the axes: the true amounts."]
        if len(self.rays) <= _MOST_STRIPS:
            said.append(
                f"Between its dotted lines a candidate is compatible at {percent(self.coverage)}."
            )
        return key(
            entries,
            lambda kind, x, y: _mark(kind, x + 6.0, y + 0.36 * SMALL, 3.0),
            room,
            left=left,
            indent=16.0,
            column=room / 2 if two else room,
            pitch=SMALL + 4.5,
            margins=(2.0, 2.0),
            notes=[line for one in said for line in wrapped(one, room - 4.0, SMALL)],
        )


def _edges(values: Floats, wanted: float) -> tuple[float, float]:
    """Return edges from 0, or from quarters below it, to a doubled amount."""
    high = wanted * 2.0 ** max(math.ceil(math.log2(max(float(values.max()), 1e-300) / wanted)), 0)
    least = float(values.min())
    if least >= -0.005 * high:
        return 0.0, high
    while -least > high:
        high *= 2.0
    return -high * math.ceil(-least / high * _QUARTERS) / _QUARTERS, high


def _dots(
    across: Floats, up: Floats, kinds: list[str], x: tuple[float, float], y: tuple[float, float]
) -> tuple[Dot, ...]:
    """Merge labs whose dots would cover one another, the rarest verdicts drawn last."""
    fine = [(high - low) / _SAME for low, high in (x, y)]
    columns = np.round(across / fine[0]).astype(int).tolist()
    rows = np.round(up / fine[1]).astype(int).tolist()
    places: dict[tuple[int, int, str], list[int]] = {}
    for i, place in enumerate(zip(columns, rows, kinds, strict=True)):
        places.setdefault(place, []).append(i)
    number_of = Counter(kinds)
    found = [
        Dot(_middle(across[members], fine[0]), _middle(up[members], fine[1]), kind, len(members))
        for (_, _, kind), members in places.items()
    ]
    return tuple(sorted(found, key=lambda dot: (-number_of[dot.kind], -dot.labs)))


def _middle(values: Floats, fine: float) -> float:
    """Return the mean, without the noise of floating-point numbers about zero."""
    mean = float(values.mean())
    return mean if abs(mean) > 1e-6 * fine else 0.0


def _below_zero(plane: Plane) -> list[Item]:
    """Shade what lies below zero, draw the zero lines there, and say so."""
    shades = [*plane.shade(0), *plane.shade(1)]
    if not shades:
        return []
    at = plane.right - 4, plane.bottom + 3
    words = Words(*at, "shaded: below zero", SMALL, "end", ink=GREY)
    return [*shades, plane.zero_line(0), plane.zero_line(1), words]


def _mark(kind: str, x: float, y: float, size: float) -> list[Item]:
    """Draw labs of one verdict; kinds differ in shape."""
    if kind == "right":
        return [Mark(x, y, "circle", TRIAL, max(size, 2.0))]
    if kind == "wrong":
        return [Mark(x, y, "diamond", MEAN, size + 2.0)]
    if kind == "not_told_apart":
        return [Ellipse((x, y), (size, 0.0), (0.0, size), GREY, 0.9)]
    if kind == "cannot_be_judged":
        return [closed(box(x - size, x + size, y - size, y + size), GREY, 1.1)]
    return cross(x, y, size + 0.8, 1.1)
