"""Many simulated labs as dots on the amounts plane, with the candidates' rays."""

from __future__ import annotations

import math
from collections import Counter
from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from ..plan_sentences import meaning_sentence, setting_sentence
from ..shapes import Floats
from ..simulation import Counts, SimulatedLabs
from .rays import label_of
from .style import clean, joined, number, percent, shown_species

if TYPE_CHECKING:
    from matplotlib.axes import Axes

__all__ = ["Dot", "LabRay", "LabsPicture", "draw_labs", "labs_alt_text", "labs_data"]

_QUARTERS = 4
_SAME = 400
"""Dots closer than this part of the picture are one."""


@dataclass(frozen=True, slots=True)
class Dot:
    """Labs at one place of the amounts plane with one verdict.

    Attributes
    ----------
    consumed_mmol, produced_mmol : float
        Mean amounts of the labs, as worked out from their readings.
    kind : str
        ``"right"``, ``"wrong"``, ``"not_told_apart"`` or ``"none_fits"``.
    labs : int
    """

    consumed_mmol: float
    produced_mmol: float
    kind: str
    labs: int


@dataclass(frozen=True, slots=True)
class LabRay:
    """A candidate: its name, its name in the picture, its ratio, and how far from it a lab fits.

    Attributes
    ----------
    name, label : str
    ratio : float
        n_produced / n_consumed, the slope of its ray.
    limit_mmol : float
        Labs up to so far above or below the ray are compatible with it.
    """

    name: str
    label: str
    ratio: float
    limit_mmol: float


@dataclass(frozen=True, slots=True)
class LabsPicture:
    """What the picture of simulated labs shows.

    Attributes
    ----------
    consumed, produced : str
        The two substances as written on the axes.
    truth : str
        Name of the candidate taken as true.
    rays : tuple of LabRay
        In rising order of slope.
    dots : tuple of Dot
    counts : Counts
        Labs of each verdict.
    expected_mmol : (float, float)
        The true amounts, the spread left out.
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


def labs_data(labs: SimulatedLabs) -> LabsPicture:
    """Return what the picture of simulated labs shows.

    Notes
    -----
    The edges depend on the true amounts, and grow by doubling only where the labs need it, so that
    the picture stays in place while a balance is changed.

    Examples
    --------
    >>> from stoichkit import experiments
    >>> from stoichkit.planning import Plan
    >>> from stoichkit.simulation import simulate_labs
    >>> plan = Plan(experiment=experiments.load("copper-silver"), consumed_mol=0.002)
    >>> picture = labs_data(simulate_labs(plan, "copper(I)"))
    >>> sum(dot.labs for dot in picture.dots), [ray.name for ray in picture.rays]
    (400, ['copper(I)', 'copper(II)'])
    """
    experiment = labs.plan.experiment
    rays = [
        LabRay(clean(c.name), label_of(clean(c.name)), float(c.ratio), 1000.0 * limit)
        for c, limit in zip(experiment.candidates, labs.limits_mol, strict=True)
    ]
    truth = clean(labs.truth)
    ratio = next(ray.ratio for ray in rays if ray.name == truth)
    amount = 1000.0 * labs.plan.consumed_mol
    across, up = 1000.0 * labs.consumed_mol, 1000.0 * labs.produced_mol
    x = _edges(across, 1.6 * amount)
    y = _edges(up, 1.6 * amount * min(max(ray.ratio for ray in rays), 2.5 * ratio))
    return LabsPicture(
        consumed=shown_species(experiment.consumed.species),
        produced=shown_species(experiment.produced.species),
        truth=truth,
        rays=tuple(sorted(rays, key=lambda ray: ray.ratio)),
        dots=_dots(across, up, labs.kinds, x, y),
        counts=labs.counts,
        expected_mmol=(amount, ratio * amount),
        x=x,
        y=y,
        coverage=experiment.coverage,
        words=f"{setting_sentence(labs.plan)} {meaning_sentence(labs)}",
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
    for i, key in enumerate(zip(columns, rows, kinds, strict=True)):
        places.setdefault(key, []).append(i)
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


def labs_alt_text(data: LabsPicture) -> str:
    """Describe the picture of simulated labs for readers who do not see it.

    Examples
    --------
    >>> from stoichkit import experiments
    >>> from stoichkit.planning import Plan
    >>> from stoichkit.simulation import simulate_labs
    >>> plan = Plan(experiment=experiments.load("copper-silver"), consumed_mol=0.002)
    >>> print(labs_alt_text(labs_data(simulate_labs(plan, "copper(I)")))[:75])
    Amounts plane with 400 simulated labs as dots; copper(I) is true: 2 mmol of
    """
    counts = data.counts
    inside = sum(dot.labs for dot in data.dots)
    widths = []
    for values in ([d.consumed_mmol for d in data.dots], [d.produced_mmol for d in data.dots]):
        widths.append(f"{number(min(values))} to {number(max(values))} mmol")
    listed = joined((f"{ray.name} {number(ray.ratio)}" for ray in data.rays), most=20)
    a, b = data.expected_mmol
    return (
        f"Amounts plane with {inside} simulated labs as dots; {data.truth} is true: "
        f"{number(a)} mmol of {data.consumed} consumed and {number(b)} mmol of {data.produced} "
        f"produced. The dots lie from {widths[0]} across and from {widths[1]} up, on "
        f"{len(data.dots)} places. Each candidate is a ray through the origin with its mole ratio "
        f"as slope: {listed}. Verdicts at {percent(data.coverage)} coverage: {counts.right} single "
        f"out {data.truth} (filled circles), {counts.not_told_apart} cannot tell (open circles), "
        f"{counts.none_fits} fit no candidate (crosses), {counts.wrong} single out a wrong "
        f"candidate (diamonds). {data.words}"
    )


def draw_labs(ax: Axes, data: LabsPicture) -> None:
    """Draw the simulated labs on matplotlib axes, in data coordinates of mmol.

    The axes are filled with the whole picture, numbers and labels included; set their size
    before, at least 400 by 320 points.
    """
    from .canvas import paint, size_of
    from .labs_scene import labs_scene

    paint(ax, labs_scene(data, *size_of(ax)))
