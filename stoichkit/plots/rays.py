"""The candidates as the pictures know them: name, mole ratio, compatible or excluded."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

from ..chemistry.formula import parse_formula
from ..decision.evidence import Evidence
from ..decision.verdict import VerdictKind
from ..errors import FormulaError
from .look import DASHES, GREY, INK, PALE
from .plane import Plane, Tag
from .scene import Line, Point
from .writing import clean, listed, number, shortened

_SHOWN = 22


@dataclass(frozen=True, slots=True)
class Ray:
    """One candidate.

    Attributes
    ----------
    name : str
        Its name as given, on one line.
    label : str
        The name as written in the picture: formulas with subscripts, long names cut off.
    ratio : float
        Mole ratio n_produced / n_consumed: the slope of its ray.
    compatible : bool
        Whether the readings do not exclude it.
    p_value : float
    """

    name: str
    label: str
    ratio: float
    compatible: bool
    p_value: float

    def line(self, points: Sequence[Point]) -> Line:
        """Return its line: thick and solid if it is compatible, else thin and dashed."""
        return candidate_line(points, compatible=self.compatible)

    @property
    def tag(self) -> Tag:
        """Its name at the edge of a picture."""
        fits = self.compatible
        ink, stem = (INK, INK) if fits else (GREY, PALE)
        return Tag(self.ratio, self.label, fits, ink, stem)


def candidate_line(points: Sequence[Point], *, compatible: bool) -> Line:
    """Return the line of a candidate: thick and solid, or thin and dashed if it is excluded."""
    return Line(points, INK, 1.8) if compatible else Line(points, PALE, 1.0, DASHES)


def ray_lines(rays: Sequence[Ray], plane: Plane, *, start: float = -math.inf) -> list[Line]:
    """Draw rays within a plane, from an amount consumed on, the compatible ones on top."""
    found = sorted(rays, key=lambda ray: ray.compatible)
    segments = [(ray, plane.segment(ray.ratio, start=start)) for ray in found]
    return [ray.line(points) for ray, points in segments if points]


def label_of(name: str) -> str:
    """Write a name for a picture; only compounds count as formulas, not a lone "C1".

    >>> label_of("SnO2"), label_of("C1"), label_of("copper(II)")
    ('SnO₂', 'C1', 'copper(II)')
    """
    try:
        formula = parse_formula(name)
    except FormulaError:
        return shortened(name, _SHOWN)
    return shortened(formula.unicode() if len(formula.counts) > 1 else name, _SHOWN)


def rays_of(evidence: Evidence) -> tuple[Ray, ...]:
    """Return the candidates of an assessment in rising order of their ratios."""
    rays = []
    for c in evidence.candidates.values():
        name = clean(c.name)
        rays.append(Ray(name, label_of(name), c.ratio, c.compatible, c.p_value))
    return tuple(sorted(rays, key=lambda ray: ray.ratio))


def headline(kind: VerdictKind, compatible: Sequence[str]) -> str:
    """Return the verdict in a few words.

    >>> headline(VerdictKind.NOT_TOLD_APART, ("SnO", "SnO2"))
    'Not told apart: SnO, SnO2'
    """
    if kind is VerdictKind.NONE_FITS:
        return "None of the candidates fits"
    words = "Singled out" if kind is VerdictKind.SINGLED_OUT else "Not told apart"
    return f"{words}: {listed(compatible)}"


def rays_in_words(rays: tuple[Ray, ...]) -> str:
    """List the candidates with their ratios, compatible ones first, for alternative text."""
    groups = []
    for compatible, words in ((True, "Compatible (solid)"), (False, "Excluded (dashed)")):
        members = [f"{r.name} {number(r.ratio)}" for r in rays if r.compatible is compatible]
        groups.append(f"{words}: {listed(members, most=20) or 'none'}.")
    return " ".join(groups)


def fewer(rays: tuple[Ray, ...], most: int, estimate: float) -> tuple[Ray, ...]:
    """Return the rays to be labelled: of more than ``most``, those compatible or nearest first."""
    if len(rays) <= most:
        return rays
    ranked = sorted(rays, key=lambda ray: (not ray.compatible, abs(ray.ratio - estimate)))
    return tuple(sorted(ranked[:most], key=lambda ray: ray.ratio))
