"""Amounts plane.

The amounts plane: candidates as rays through the origin, trials as points with regions.

Layout of the amounts plane in points.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from statistics import NormalDist
from typing import TYPE_CHECKING

from ..decision.evidence import Evidence
from ..decision.verdict import CaveatKind, VerdictKind
from ..uncertainty.entry import record
from ..uncertainty.sources import Number, contributions, nominal
from .rays import Ray, fewer, headline, label_of, rays_in_words, rays_of
from .scene import (
    BODY,
    DASHES,
    EXCLUDED,
    EXCLUDED_TEXT,
    GRID,
    INK,
    MEAN,
    SHADE,
    SMALL,
    TRIAL,
    EdgeLabel,
    Ellipse,
    Item,
    Line,
    Mark,
    Polygon,
    Scene,
    Words,
    across_axis,
    clean,
    edge_labels,
    joined,
    number,
    percent,
    shown_species,
    spread,
    text_width,
    tick_labels,
    ticks,
    with_uncertainty,
    wrapped,
)

if TYPE_CHECKING:
    from matplotlib.axes import Axes

__all__ = [
    "DecisionPicture",
    "Spot",
    "decision_alt_text",
    "decision_data",
    "decision_scene",
    "draw_decision",
]

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
    >>> from stoichkit.decision.evidence import assess
    >>> picture = decision_data(assess(experiments.load("copper-silver")))
    >>> [(ray.name, ray.compatible) for ray in picture.rays]
    [('copper(I)', False), ('copper(II)', True)]
    """
    record("evidence", evidence, Evidence)
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
    >>> from stoichkit.decision.evidence import assess
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
    from .render import paint, size_of

    width, height = size_of(ax)
    paint(ax, decision_scene(data, width, height))


_MOST_LABELS = 20
_MOST_REGIONS = 60
_STEM = 12.0


@dataclass(frozen=True, slots=True)
class _Frame:
    """The inner frame: where it is in points and the amounts at its edges."""

    left: float
    right: float
    bottom: float
    top: float
    x: tuple[float, float]
    y: tuple[float, float]

    def at(self, a: float, b: float) -> tuple[float, float]:
        """Return the place of two amounts, in points."""
        dx, dy = self.scale
        return self.left + (a - self.x[0]) * dx, self.bottom + (b - self.y[0]) * dy

    @property
    def scale(self) -> tuple[float, float]:
        """Points per mmol across and up."""
        return (
            (self.right - self.left) / (self.x[1] - self.x[0]),
            (self.top - self.bottom) / (self.y[1] - self.y[0]),
        )


def _limits(spots: Sequence[Spot], axis: int) -> tuple[float, float]:
    """Return the least and largest amount on an axis: from zero, lower only if a region is."""
    values = [s.produced_mmol if axis else s.consumed_mmol for s in spots]
    low = min(v - s.reach[axis] for v, s in zip(values, spots, strict=True))
    high = max(v + s.reach[axis] for v, s in zip(values, spots, strict=True))
    low = min(low, 0.0)
    high = max(high, -0.3 * low)  # room for the rays, wherever the points are
    if high == low:
        return 0.0, 1.0
    return (low - 0.04 * (high - low) if low < 0 else 0.0), high + 0.1 * (high - low)


def decision_scene(data: DecisionPicture, width: float, height: float) -> Scene:
    """Lay out the amounts plane."""
    x, y = _limits(data.spots, 0), _limits(data.spots, 1)
    labelled = fewer(data.rays, _MOST_LABELS, data.ratio if math.isfinite(data.ratio) else 0.0)
    aside = [ray for ray in labelled if ray.ratio * x[1] <= y[1]]
    above = [ray for ray in labelled if ray.ratio * x[1] > y[1]][::-1]  # from left to right
    up_ticks = ticks(y[0], y[1], most=max(int(height / 45.0), 3))
    up_texts = tick_labels(up_ticks)
    left = 27.0 + max(text_width(t, SMALL) for t in up_texts)
    room = max((text_width(r.label, BODY, bold=r.compatible) for r in aside), default=0.0)
    right = width - max(room + _STEM + 4.0 if aside else 12.0, 12.0)
    note = _key(data, left, width - left, len(data.rays) - len(labelled), _hidden(data, x, y))
    bottom = 40.0 + note[1]
    # how far labels above the frame reach does not depend on its height
    step = (right - left) / (x[1] - x[0])
    edge = [
        EdgeLabel(left + (y[1] / r.ratio - x[0]) * step, r.label, r.compatible, r.text_ink)
        for r in above
    ]
    _, taken, reach = edge_labels(edge, 0.0, left, right)
    if reach > width - 2.0:  # slanting labels need room on the right
        right -= reach - width + 2.0
        step = (right - left) / (x[1] - x[0])
        edge = [
            e._replace(at=left + (y[1] / r.ratio - x[0]) * step)
            for e, r in zip(edge, above, strict=True)
        ]
        _, taken, _ = edge_labels(edge, 0.0, left, right)
    frame = _Frame(left, right, bottom, height - taken - 6.0, x, y)
    shifted, _, _ = edge_labels(edge, frame.top, left, right)
    parts = [
        *_background(frame),
        *_axes(frame, data, up_ticks, up_texts),
        *_rays(frame, data.rays),
        *shifted,
        *_side_labels(frame, aside),
        *_spots(frame, data),
        *note[0],
    ]
    dx, dy = frame.scale
    x_low, y_low = x[0] - frame.left / dx, y[0] - frame.bottom / dy
    return Scene(
        width,
        height,
        tuple(parts),
        (x_low, x_low + width / dx),
        (y_low, y_low + height / dy),
    )


def _background(frame: _Frame) -> list[Item]:
    """Shade what lies below zero, and draw the zero lines there."""
    items: list[Item] = []
    zero_x, zero_y = frame.at(0.0, 0.0)
    left, right, low, top = frame.left, frame.right, frame.bottom, frame.top
    if frame.x[0] < 0:
        items.append(Polygon(((left, low), (zero_x, low), (zero_x, top), (left, top)), SHADE))
        if zero_x - left > SMALL + 3:
            items.append(
                Words(
                    left + SMALL + 1,
                    top - 4,
                    "below zero",
                    SMALL,
                    "end",
                    False,
                    EXCLUDED_TEXT,
                    90.0,
                )
            )
    if frame.y[0] < 0:
        items.append(Polygon(((left, low), (right, low), (right, zero_y), (left, zero_y)), SHADE))
        if zero_y - low > SMALL + 3:
            items.append(
                Words(right - 4, low + 3, "below zero", SMALL, "end", False, EXCLUDED_TEXT)
            )
    if frame.x[0] < 0 or frame.y[0] < 0:
        items.append(Line(((zero_x, low), (zero_x, top)), INK, 0.8))
        items.append(Line(((left, zero_y), (right, zero_y)), INK, 0.8))
    return items


def _axes(
    frame: _Frame, data: DecisionPicture, up_ticks: list[float], up_texts: list[str]
) -> list[Item]:
    left, right, low, top = frame.left, frame.right, frame.bottom, frame.top
    items: list[Item] = [
        Line(((left, top), (right, top), (right, low)), GRID, 0.8),
        Line(((left, top), (left, low), (right, low)), INK, 1.0),
    ]
    numbers, _ = across_axis(frame.x, (left, right), low)
    items += numbers
    for value, text in zip(up_ticks, up_texts, strict=True):
        y = frame.at(0.0, value)[1]
        items.append(Line(((left, y), (left - 4.0, y)), INK, 0.8))
        items.append(Words(left - 6.0, y - 0.36 * SMALL, text, SMALL, "end"))
    across = f"amount of {data.consumed} consumed / mmol"
    up = f"amount of {data.produced} produced / mmol"
    items.append(Words((left + right) / 2, low - 28.0, across, BODY, "middle"))
    items.append(Words(BODY + 4.0, (low + top) / 2, up, BODY, "middle", False, INK, 90.0))
    return items


def _rays(frame: _Frame, rays: tuple[Ray, ...]) -> list[Item]:
    items: list[Item] = []
    for ray in sorted(rays, key=lambda ray: ray.compatible):
        end = min(frame.x[1], frame.y[1] / ray.ratio)
        start = max(frame.x[0], frame.y[0] / ray.ratio)  # continued below zero, if that is shown
        line = (frame.at(start, ray.ratio * start), frame.at(end, ray.ratio * end))
        if ray.compatible:
            items.append(Line(line, INK, 1.8))
        else:
            items.append(Line(line, EXCLUDED, 1.0, DASHES))
    return items


def _side_labels(frame: _Frame, rays: list[Ray]) -> list[Item]:
    wanted = [frame.at(frame.x[1], ray.ratio * frame.x[1])[1] for ray in rays]
    placed = spread(wanted, 1.3 * BODY, frame.bottom + BODY / 2, frame.top)
    items: list[Item] = []
    for ray, at, y in zip(rays, wanted, placed, strict=True):
        items.append(Line(((frame.right, at), (frame.right + _STEM - 3, y)), ray.ink, 0.6))
        items.append(
            Words(
                frame.right + _STEM,
                y - 0.36 * BODY,
                ray.label,
                BODY,
                "start",
                ray.compatible,
                ray.text_ink,
            )
        )
    return items


def _spots(frame: _Frame, data: DecisionPicture) -> list[Item]:
    dx, dy = frame.scale
    items: list[Item] = []

    def region(spot: Spot, ink: str, width: float, opacity: float) -> None:
        centre = frame.at(spot.consumed_mmol, spot.produced_mmol)
        u, v = (spot.u[0] * dx, spot.u[1] * dy), (spot.v[0] * dx, spot.v[1] * dy)
        items.append(Ellipse(centre, u, v, ink, width, opacity))

    many = len(data.trials) > 12
    if len(data.trials) <= _MOST_REGIONS:
        for spot in data.trials:
            region(spot, TRIAL, 0.5 if many else 0.9, 0.0 if many else 0.10)
    if data.mean is not None:
        region(data.mean, MEAN, 1.8, 0.0)
    if data.mean is not None:
        place = frame.at(data.mean.consumed_mmol, data.mean.produced_mmol)
        items.append(Mark(*place, "diamond", MEAN, 5.0))
    for spot in data.trials:
        place = frame.at(spot.consumed_mmol, spot.produced_mmol)
        items.append(Mark(*place, "circle", TRIAL, 2.0 if many else 3.0))
    return items


def _hidden(data: DecisionPicture, x: tuple[float, float], y: tuple[float, float]) -> bool:
    """Return whether the smallest region is hidden behind its mark in a picture of usual size."""
    across, up = data.spots[-1].reach
    return 400.0 * across < 5.0 * (x[1] - x[0]) and 250.0 * up < 5.0 * (y[1] - y[0])


def _key(
    data: DecisionPicture, left: float, width: float, unlabelled: int, hidden: bool
) -> tuple[list[Item], float]:
    """Return the key, its lines of explanation, and the height of both, from the lower edge."""
    noun = "trial" if data.mean is None else "mean"
    rule = (
        f"A ray that crosses the region of the {noun} is compatible"
        if data.exact
        else f"The region of the {noun} shows roughly which rays are compatible"
    )
    size = f"{number(data.factor)} standard uncertainties"
    if data.trial_factor != data.factor and data.mean is not None:
        size = f"mean: {size}, from the scatter; trials: {number(data.trial_factor)}"
    text = f"{rule} (first-order ellipse; {size})."
    if hidden:
        text += f" The region of the {noun} is smaller than its mark."
    if len(data.trials) > _MOST_REGIONS:
        text += " Regions of the trials are left out."
    if unlabelled:
        text += f" {unlabelled} rays are not labelled."
    lines = wrapped(text, width - 4.0, SMALL)
    entries: list[tuple[str, str]] = []
    if any(ray.compatible for ray in data.rays):
        entries.append(("solid", "compatible"))
    if not all(ray.compatible for ray in data.rays):
        entries.append(("dashed", f"excluded at {percent(data.coverage)} coverage"))
    entries.append(
        ("circle", "trial" if len(data.trials) == 1 else f"trial (of {len(data.trials)})")
    )
    if data.mean is not None:
        entries.append(("diamond", "mean"))
    rows: list[list[tuple[str, str]]] = [[]]
    used = 0.0
    for entry in entries:
        length = 28.0 + text_width(entry[1], SMALL) + 12.0
        if rows[-1] and used + length > width:
            rows.append([])
            used = 0.0
        rows[-1].append(entry)
        used += length
    height = (len(lines) + len(rows)) * (SMALL + 4.0) + 4.0
    items: list[Item] = []
    y = height - SMALL - 2.0
    for row in rows:
        x = left
        for sample, words in row:
            middle = y + 0.36 * SMALL
            if sample in ("solid", "dashed"):
                ends = ((x, middle), (x + 22.0, middle))
                if sample == "solid":
                    items.append(Line(ends, INK, 1.8))
                else:
                    items.append(Line(ends, EXCLUDED, 1.0, DASHES))
            else:
                ink, radius = (TRIAL, 3.0) if sample == "circle" else (MEAN, 5.0)
                items.append(
                    Ellipse(
                        (x + 12.0, middle),
                        (10.0, 0.0),
                        (0.0, 4.5),
                        ink,
                        0.9 if sample == "circle" else 1.8,
                    )
                )
                items.append(Mark(x + 12.0, middle, sample, ink, radius * 0.8))
            items.append(Words(x + 27.0, y, words, SMALL))
            x += 27.0 + text_width(words, SMALL) + 12.0
        y -= SMALL + 4.0
    for line in lines:
        items.append(Words(left, y, line, SMALL, "start", False, EXCLUDED_TEXT))
        y -= SMALL + 4.0
    return items, height
