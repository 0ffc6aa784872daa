"""The candidates as the pictures know them: name, mole ratio, compatible or excluded."""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence
from dataclasses import dataclass

from ..chemistry.formula import parse_formula
from ..decision.evidence import Evidence
from ..decision.statement import statement_of
from ..decision.verdict import VerdictKind
from ..errors import FormulaError
from .look import DASHES, GREY, GRID, INK, PALE, SHADE
from .plane import Plane, Tag
from .scene import Item, Line, Point, Polygon
from .writing import clean, listed, number, shortened

_SHOWN = 22
_FAN = tuple(i / 24 for i in range(25))


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
    judged : bool
        False where nothing can be judged: it is then neither, and drawn grey.
    recovery : (float, float)
        Least and largest part of the product that may have been recovered: every ratio as
        measured within that part of ``ratio`` is one that the candidate allows.
    tested : float
        The ratio as measured at which it was tested; nan for its own.
    """

    name: str
    label: str
    ratio: float
    compatible: bool
    p_value: float
    judged: bool = True
    recovery: tuple[float, float] = (1.0, 1.0)
    tested: float = math.nan

    @property
    def at(self) -> float:
        """The ratio as measured at which it was tested."""
        return self.ratio if math.isnan(self.tested) else self.tested

    @property
    def allowed(self) -> tuple[float, float] | None:
        """Ratios as measured that it allows, if the recovery leaves more than one."""
        low, high = (self.ratio * part for part in self.recovery)
        return (low, high) if low < high else None

    def line(self, points: Sequence[Point]) -> Line:
        """Return its line: thick and solid if compatible, thin and dashed if excluded, or grey."""
        if not self.judged:
            return Line(points, PALE, 1.0)
        return candidate_line(points, compatible=self.compatible)

    @property
    def tag(self) -> Tag:
        """Its name at the edge of a picture."""
        fits = self.compatible and self.judged
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


def recovery_bands(rays: Sequence[Ray], plane: Plane) -> list[Item]:
    """Shade the ratios as measured that each candidate allows, if the recovery leaves several."""
    items: list[Item] = []
    for ray in sorted(rays, key=lambda ray: ray.compatible):
        if ray.allowed is None:
            continue
        slopes = [w * ray.allowed[1] + (1 - w) * ray.allowed[0] for w in _FAN]
        ends = [plane.segment(slope, start=0.0)[-1:] for slope in slopes]
        corners = [plane.at(0.0, 0.0), *(point for end in ends for point in end)]
        items.append(Polygon(corners, GRID if ray.compatible and ray.judged else SHADE))
    return items


def recovery_in_words(rays: Sequence[Ray], how: str = "shaded") -> str:
    """Say what a recovery allowance means for the rays; "" without one.

    >>> recovery_in_words([Ray("SnO2", "SnO₂", 2.0, True, 0.5, recovery=(0.9, 1.0))])
    'From 90 % to 100 % of the product may have been recovered, so each candidate allows that
    part of its ratio (shaded).'
    """
    if not rays or rays[0].allowed is None:
        return ""
    low, high = (f"{100 * part:.4g} %" for part in rays[0].recovery)
    return (
        f"From {low} to {high} of the product may have been recovered, so each candidate allows "
        f"that part of its ratio ({how})."
    )


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
    judged = evidence.verdict.kind is not VerdictKind.CANNOT_BE_JUDGED
    recovery = evidence.experiment.recovery
    for c in evidence.candidates.values():
        name, found = clean(c.name), (c.ratio, c.compatible, c.p_value)
        rays.append(Ray(name, label_of(name), *found, judged, recovery, c.tested_ratio))
    return tuple(sorted(rays, key=lambda ray: ray.ratio))


def headline(evidence: Evidence, *, written: Callable[[str], str] = label_of) -> str:
    """Return the verdict in a few words; ``written`` says how a name is written.

    >>> from stoichkit import assess, experiments
    >>> headline(assess(experiments.load("tin-oxide")))
    'Singled out: SnO₂'
    """
    said = statement_of(evidence)
    names = listed([written(clean(name)) for name in said.names]) if said.names else ""
    return "".join(piece and f" {piece}" for piece in (clean(said.lead), names)).strip() + said.rest


def rays_in_words(rays: tuple[Ray, ...]) -> str:
    """List the candidates with their ratios, compatible ones first, for alternative text."""
    if not all(ray.judged for ray in rays):
        names = listed([f"{r.name} {number(r.ratio)}" for r in rays], most=20)
        return f"Candidates, none of which is judged (grey): {names}."
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
