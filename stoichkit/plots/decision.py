"""The amounts plane: candidates as rays through the origin, trials as points with regions."""

from __future__ import annotations

import math
from collections.abc import Iterable
from dataclasses import dataclass
from statistics import NormalDist
from typing import TYPE_CHECKING

from ..evidence import Evidence
from ..uncertain import Number, contributions, nominal
from ..verdict import CaveatKind, VerdictKind
from .rays import Ray, headline, label_of, rays_in_words, rays_of
from .style import clean, joined, number, percent, shown_species, with_uncertainty

if TYPE_CHECKING:
    from matplotlib.axes import Axes

__all__ = ["DecisionPicture", "Spot", "decision_alt_text", "decision_data", "draw_decision"]

_Covariance = tuple[float, float, float]


@dataclass(frozen=True, slots=True)
class Spot:
    """A point of the amounts plane with its region, an ellipse; everything in mmol.

    Attributes
    ----------
    name : str
    consumed_mmol, produced_mmol : float
        The estimate.
    consumed_u_mmol, produced_u_mmol : float
        First-order standard uncertainties.
    u, v : (float, float)
        The region is estimate + u cos t + v sin t.
    """

    name: str
    consumed_mmol: float
    produced_mmol: float
    consumed_u_mmol: float
    produced_u_mmol: float
    u: tuple[float, float]
    v: tuple[float, float]

    @property
    def place(self) -> tuple[float, float]:
        """The two amounts, mmol."""
        return self.consumed_mmol, self.produced_mmol

    @property
    def reach(self) -> tuple[float, float]:
        """Half-width and half-height of the region, mmol."""
        return math.hypot(self.u[0], self.v[0]), math.hypot(self.u[1], self.v[1])

    def crossed_by(self, ratio: float) -> bool:
        """Return whether the line of slope ``ratio`` through the origin crosses the region."""
        half_width = math.hypot(self.u[1] - ratio * self.u[0], self.v[1] - ratio * self.v[0])
        return abs(self.produced_mmol - ratio * self.consumed_mmol) <= half_width


@dataclass(frozen=True, slots=True)
class DecisionPicture:
    """What the picture of the amounts plane shows, as plain numbers and words.

    Attributes
    ----------
    title : str
        Title of the experiment.
    headline : str
        The verdict in a few words.
    kind : VerdictKind
    coverage : float
    consumed, produced : str
        The two substances as written on the axes.
    rays : tuple of Ray
        In rising order of slope.
    trials : tuple of Spot
    mean : Spot or None
        Mean of the trials; None for a single one.
    factor : float
        Size of the region of the mean (of the trial, if there is one): it is the ellipse at
        that many standard uncertainties of the first-order covariance of the two amounts. The
        factor is that of the exact test at the limits of the ratio set, so that a ray which
        crosses the region is compatible, and one that misses it is excluded.
    trial_factor : float
        The same for the trials: equal to ``factor``, but the normal quantile where the mean's
        region is taken from the scatter between the trials.
    exact : bool
        Whether crossing the region and being compatible agree for every candidate.
    nearest : str
        Name of the candidate with the largest p-value.
    resolved : bool
        Whether the amount consumed is told apart from zero.
    """

    title: str
    headline: str
    kind: VerdictKind
    coverage: float
    consumed: str
    produced: str
    rays: tuple[Ray, ...]
    trials: tuple[Spot, ...]
    mean: Spot | None
    factor: float
    trial_factor: float
    exact: bool
    nearest: str
    resolved: bool

    @property
    def spots(self) -> tuple[Spot, ...]:
        """All points, the mean last."""
        return self.trials if self.mean is None else (*self.trials, self.mean)

    @property
    def ratio(self) -> float:
        """Ratio of the (mean) amounts; nan where the amount consumed is zero."""
        spot = self.spots[-1]
        return spot.produced_mmol / spot.consumed_mmol if spot.consumed_mmol else math.nan


def decision_data(evidence: Evidence) -> DecisionPicture:
    """Return what the picture of the amounts plane shows.

    Parameters
    ----------
    evidence : Evidence
        What :func:`stoichkit.assess` returned.

    Returns
    -------
    DecisionPicture

    Examples
    --------
    >>> from stoichkit import experiments
    >>> from stoichkit.evidence import assess
    >>> picture = decision_data(assess(experiments.load("copper-silver")))
    >>> [(ray.name, ray.compatible) for ray in picture.rays]
    [('copper(I)', False), ('copper(II)', True)]
    """
    experiment, verdict = evidence.experiment, evidence.verdict
    rays = rays_of(evidence)
    scatter = evidence.scatter
    excess = scatter is not None and scatter.excess
    inflation = scatter.ratio_of_spread**2 if scatter is not None and excess else 1.0
    mean_a, mean_b = nominal(evidence.n_consumed), nominal(evidence.n_produced)
    mean_covariance = _mean_covariance(evidence.amounts, inflation)
    factor = _factor(evidence, rays, (mean_a, mean_b), mean_covariance)
    quantile = NormalDist().inv_cdf(0.5 + evidence.coverage / 2)
    trial_factor = quantile if excess else factor
    mean = _spot("mean", mean_a, mean_b, mean_covariance, factor)
    single = len(evidence.amounts) == 1
    trials = tuple(
        _spot(clean(t.name), nominal(a), nominal(b), _mean_covariance([(a, b)]), trial_factor)
        for t, (a, b) in zip(experiment.trials, evidence.amounts, strict=True)
    )
    return DecisionPicture(
        title=clean(experiment.title, limit=90),
        headline=headline(verdict.kind, [label_of(clean(n)) for n in verdict.candidates]),
        kind=verdict.kind,
        coverage=evidence.coverage,
        consumed=shown_species(experiment.consumed.species),
        produced=shown_species(experiment.produced.species),
        rays=rays,
        trials=trials,
        mean=None if single else mean,
        factor=factor,
        trial_factor=trial_factor,
        nearest=clean(evidence.nearest.name),
        resolved=all(w.kind is not CaveatKind.NOT_RESOLVED for w in verdict.warnings),
        exact=all(mean.crossed_by(ray.ratio) is ray.compatible for ray in rays),
    )


def _mean_covariance(
    amounts: Iterable[tuple[Number, Number]], inflation: float = 1.0
) -> _Covariance:
    """Return var(n_A), cov(n_A, n_B), var(n_B) of the mean over pairs, mol².

    The variance of sources that belong to one pair only is multiplied by ``inflation``.
    """
    pairs = list(amounts)
    sums: dict[int, list[float]] = {}
    for pair in pairs:
        here: set[int] = set()
        for side, amount in enumerate(pair):
            for source, coefficient in contributions(amount):
                entry = sums.setdefault(id(source), [0.0, 0.0, source.standard_uncertainty, 0.0])
                entry[side] += coefficient
                if id(source) not in here:
                    here.add(id(source))
                    entry[3] += 1.0
    aa = ab = bb = 0.0
    for a, b, standard, uses in sums.values():
        weight = standard * standard / len(pairs) ** 2 * (1.0 if uses > 1 else inflation)
        aa += a * a * weight
        ab += a * b * weight
        bb += b * b * weight
    return aa, ab, bb


def _standard(covariance: _Covariance, ratio: float) -> float:
    """Return the standard uncertainty of n_B − ratio n_A."""
    aa, ab, bb = covariance
    return math.sqrt(max(bb - 2 * ratio * ab + ratio * ratio * aa, 0.0))


def _factor(
    evidence: Evidence,
    rays: tuple[Ray, ...],
    mean: tuple[float, float],
    covariance: _Covariance,
) -> float:
    """Return how many standard uncertainties a ratio at the limit of the ratio set is away."""

    def distance(ratio: float) -> float:
        return abs(mean[1] - ratio * mean[0]) / (_standard(covariance, ratio) or math.nan)

    ends = (r for i in evidence.ratio_set.intervals for r in (i.low, i.high))
    limits = [d for r in ends if 0 < r < math.inf and math.isfinite(d := distance(r)) and d > 0]
    factor = NormalDist().inv_cdf(0.5 + evidence.coverage / 2)
    if limits:
        factor = math.fsum(limits) / len(limits)
    inside = max((distance(ray.ratio) for ray in rays if ray.compatible), default=0.0)
    outside = min((distance(ray.ratio) for ray in rays if not ray.compatible), default=math.inf)
    if inside < outside:  # the candidates decide where the two limits differ a little
        factor = min(max(factor, inside * (1 + 1e-6)), outside * (1 - 1e-6))
    return factor


def _spot(name: str, a: float, b: float, covariance: _Covariance, factor: float) -> Spot:
    aa, ab, bb = covariance
    sa, sb = math.sqrt(aa), math.sqrt(bb)
    along = ab / sa if sa else 0.0
    across = math.sqrt(max(bb - along * along, 0.0))
    size = 1000.0 * factor
    return Spot(
        name,
        1000.0 * a,
        1000.0 * b,
        1000.0 * sa,
        1000.0 * sb,
        (size * sa, size * along),
        (0.0, size * across),
    )


def decision_alt_text(data: DecisionPicture) -> str:
    """Describe the picture of the amounts plane for readers who do not see it.

    Examples
    --------
    >>> from stoichkit import experiments
    >>> from stoichkit.evidence import assess
    >>> picture = decision_data(assess(experiments.load("copper-silver")))
    >>> print(decision_alt_text(picture)[:61])
    Amounts plane. Singled out: copper(II), at 95 % coverage. Acr
    """
    a, b, centre = data.consumed, data.produced, data.spots[-1]
    compatible = [ray.name for ray in data.rays if ray.compatible]
    parts = [
        f"Amounts plane. {headline(data.kind, compatible)}, at {percent(data.coverage)} coverage.",
        f"Across: amount of {a} consumed in mmol; up: amount of {b} produced in mmol.",
        f"Each candidate is a ray through the origin with the slope n({b}) / n({a}).",
        rays_in_words(data.rays),
        _trials_in_words(data.trials),
    ]
    noun = "trial"
    if data.mean is not None:
        noun = "mean"
        parts.append(f"Mean of the trials: {_place(data.mean)}.")
    crossed = [ray.name for ray in data.rays if centre.crossed_by(ray.ratio)]
    parts.append(
        f"The region of the {noun}, the ellipse at {number(data.factor)} standard uncertainties, "
        f"is crossed by {_these_rays(crossed)}."
    )
    nearest = next(ray for ray in data.rays if ray.name == data.nearest)
    off = centre.produced_mmol - nearest.ratio * centre.consumed_mmol
    where = f"{number(abs(off))} mmol {'above' if off > 0 else 'below'}" if off else "on"
    parts.append(f"The {noun} lies {where} the ray of {nearest.name}.")
    if any(v < r for s in data.spots for v, r in zip(s.place, s.reach, strict=True)):
        parts.append("A region reaches below zero; that part is shaded.")
    if not data.resolved:
        parts.append(f"The amount of {a} consumed is not told apart from zero.")
    return " ".join(parts)


def _these_rays(names: list[str]) -> str:
    if not names:
        return "no ray"
    return f"the ray{'s' if len(names) > 1 else ''} of {joined(names)}"


def _place(spot: Spot) -> str:
    across = with_uncertainty(spot.consumed_mmol, spot.consumed_u_mmol)
    up = with_uncertainty(spot.produced_mmol, spot.produced_u_mmol)
    return f"{across} mmol across and {up} mmol up"


def _trials_in_words(trials: tuple[Spot, ...]) -> str:
    if len(trials) <= 6:
        return " ".join(f"Trial {spot.name}: {_place(spot)}." for spot in trials)
    across = [spot.consumed_mmol for spot in trials]
    up = [spot.produced_mmol for spot in trials]
    return (
        f"{len(trials)} trials, from {number(min(across))} to {number(max(across))} mmol across "
        f"and from {number(min(up))} to {number(max(up))} mmol up."
    )


def draw_decision(ax: Axes, data: DecisionPicture) -> None:
    """Draw the amounts plane on matplotlib axes, in data coordinates of mmol.

    The axes are filled with the whole picture, numbers and labels included; set their size
    before.

    Parameters
    ----------
    ax : matplotlib Axes
        At least 300 by 240 points in size.
    data : DecisionPicture
    """
    from .canvas import paint, size_of
    from .plane import decision_scene

    width, height = size_of(ax)
    paint(ax, decision_scene(data, width, height))
