"""Chance of a right conclusion over reacting masses and balances: as curves and as a map."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from ..design_grid import DesignMap
from ..experiment import Experiment
from ..plan_sentences import chance_text, map_sentence, step_text
from ..shapes import Floats
from .style import number, shown_species

if TYPE_CHECKING:
    from matplotlib.axes import Axes

__all__ = [
    "DesignPicture",
    "curves_alt_text",
    "design_data",
    "draw_curves",
    "draw_map",
    "map_alt_text",
    "row_of",
    "trials_in_words",
]


@dataclass(frozen=True, slots=True, eq=False)
class DesignPicture:
    """What the curves and the map show.

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


def design_data(
    found: DesignMap,
    experiment: Experiment,
    *,
    marked_g: Iterable[float] = (),
    planned: tuple[float, float] | None = None,
) -> DesignPicture:
    """Return what the curves and the map show.

    Parameters
    ----------
    found : DesignMap
    experiment : Experiment
    marked_g : iterable of float
        Display steps of the balances at hand, g.
    planned : (float, float), optional
        Mass to react and display step of the plan, g.

    Examples
    --------
    >>> from stoichkit import experiments
    >>> from stoichkit.design_grid import design_map
    >>> lab = experiments.load("copper-silver")
    >>> found = design_map(lab, masses_g=[0.01, 0.1, 1.0], readabilities_g=[0.01, 0.1])
    >>> design_data(found, lab, marked_g=[0.01]).marked
    ((0.01, 0.1),)
    """
    marked = tuple(sorted(set(marked_g)))
    return DesignPicture(
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


def row_of(data: DesignPicture, step_g: float) -> Floats:
    """Return the chances on the balance of the map nearest to a display step."""
    return np.asarray(data.chance[int(np.argmin(np.abs(np.log(data.readabilities_g / step_g))))])


def trials_in_words(data: DesignPicture) -> str:
    """Write the number of trials."""
    return f"{data.trials} trial{'s' if data.trials > 1 else ''}"


def _mass_range(data: DesignPicture) -> str:
    return f"{number(float(data.masses_g[0]))} to {number(float(data.masses_g[-1]))} g"


def curves_alt_text(data: DesignPicture) -> str:
    """Describe the curves for readers who do not see them."""
    parts = [
        f"Curves: chance of a right conclusion for the hardest candidate against the mass of "
        f"{data.species} to react, {_mass_range(data)}, with {trials_in_words(data)}; one "
        f"curve for each balance; target {number(data.target)} as a dashed line."
    ]
    for step, _ in data.marked:
        chances = row_of(data, step)
        picks = sorted({0, chances.size // 4, chances.size // 2, 3 * chances.size // 4})
        listed = ", ".join(
            f"{chance_text(float(chances[i]))} at {number(float(data.masses_g[i]))} g"
            for i in (*picks, chances.size - 1)
        )
        parts.append(f"Read to {step_text(step)}: {listed}.")
    return " ".join([*parts, data.words])


def map_alt_text(data: DesignPicture) -> str:
    """Describe the map for readers who do not see it."""
    low, high = (step_text(float(data.readabilities_g[i])) for i in (0, -1))
    parts = [
        f"Map: across, mass of {data.species} to react, {_mass_range(data)}; up, readability of "
        f"the balance, {low} to {high}; both logarithmic; {trials_in_words(data)}. Shaded by the "
        "chance of a right conclusion for the hardest candidate: the darker, the smaller; white "
        f"where it reaches the target, {number(data.target)}; a thick line at the target."
    ]
    if data.planned is not None:
        mass, step = data.planned
        parts.append(
            f"The plan, {number(mass)} g on a balance read to {step_text(step)}, is a diamond."
        )
    return " ".join([*parts, data.words])


def draw_curves(ax: Axes, data: DesignPicture) -> None:
    """Draw the curves on matplotlib axes, which they fill with all their words."""
    from .canvas import paint, size_of
    from .design_scenes import curves_scene

    paint(ax, curves_scene(data, *size_of(ax)))


def draw_map(ax: Axes, data: DesignPicture) -> None:
    """Draw the map on matplotlib axes, which it fills with all its words."""
    from .canvas import paint, size_of
    from .design_scenes import map_scene

    paint(ax, map_scene(data, *size_of(ax)))
